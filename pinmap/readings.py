"""Readings taken with a meter: the CSV file that a person fills in at the bench, read and written.

What stands in a cell of the column `reading` is what the meter showed (see `meter`); in rows of sweep it is the labels
that beep, with spaces between them, or `none`.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
import stat
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Literal, get_args

from msgspec import Struct
from msgspec.structs import replace

from .errors import PinmapError, Place, SeveralErrors, UnreadableError
from .meter import Complaint, ohms, volts
from .text import listed, nearest, quoted, visible

Kind = Literal["continuity", "isolation", "resistance", "volts", "sweep"]
KINDS: tuple[Kind, ...] = get_args(Kind)
COLUMNS = ("step", "kind", "from", "to", "expected", "reading", "note")
_NEEDED = ("kind", "from", "to", "reading")

MAX_BYTES = 2_000_000  # thirty times a file with every sweep of two 98-contact connectors
MAX_ERRORS = 200  # so many are shown one by one; more tell nothing new

#: The reference of a machine's slot that is measured by itself.
SLOT = "slot"


class Probe(Struct, frozen=True, order=True):
    """Where a probe is held: the connector's reference (J1, J2, slot) and the contact's label."""

    ref: str
    label: str

    def __str__(self) -> str:
        return f"{self.ref} {self.label}"


class Row(Struct, frozen=True):
    """A reading to take. `stop` is the other contact (None: any return, or a sweep); `over` the connector swept."""

    kind: Kind
    start: Probe
    stop: Probe | None = None
    over: str = ""
    expected: str = ""
    note: str = ""

    @property
    def to(self) -> str:
        """What stands in the column `to`."""
        return str(self.stop) if self.stop else self.over


class Reading(Struct, frozen=True):
    """A reading taken: `written` as it stands in the file, and what it says.

    `ohms` (Ω; infinite for over range and a silent beeper, 0 for a beep) belongs to continuity, isolation and
    resistance, `volts` (V) to volts, `found` (the contacts that beep) to sweeps.
    """

    kind: Kind
    start: Probe
    stop: Probe | None
    over: str
    written: str
    place: Place
    ohms: float | None = None
    volts: float | None = None
    found: tuple[Probe, ...] = ()


class Readings(Struct, frozen=True):
    """All readings of one file. `unread` counts the rows without a reading; `cautions` say what was passed over."""

    file: str
    taken: tuple[Reading, ...]
    unread: int = 0
    cautions: tuple[str, ...] = ()


class BadReadingsError(SeveralErrors):
    """Rows of a readings file that cannot be understood; `readings` has all the others."""

    def __init__(self, errors: list[PinmapError], readings: Readings):
        super().__init__(errors)
        self.readings = readings


Connectors = Mapping[str, Sequence[str]]  # reference: the labels of its contacts


def read(path: Path, connectors: Connectors, shown: str = "") -> Readings:
    """Read a readings file; `shown` names it in messages. Raises `UnreadableError` and what `parse` raises."""
    shown = shown or visible(str(path))
    place = Place(shown)
    try:
        mode = path.stat().st_mode
        if not stat.S_ISREG(mode):
            what = "a folder" if stat.S_ISDIR(mode) else "a device or pipe"
            raise UnreadableError(f"readings must be a file, not {what}", place=place)
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise UnreadableError("there is no such file", place=place) from None
    except (OSError, ValueError) as error:
        if isinstance(error, PinmapError):
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise UnreadableError(f"the file cannot be read ({reason.lower()})", place=place) from None
    return parse(raw, shown, connectors)


#: How complaints begin where a point lies on no connector of this form.
_OTHER_FORM = ("a point's connector must be", "a sweep must go over one connector")


def parse(raw: bytes, file: str, connectors: Connectors) -> Readings:
    """Read the text of a readings file whose points lie on `connectors`.

    Raises `UnreadableError` where it is no such table, and `BadReadingsError` with every row that cannot be understood
    and the readings of the others: nothing is left out silently. A place counts columns as a spreadsheet does, cell by
    cell.
    """
    text, strange = _decoded(raw, file)
    columns, cautions, rows = _table(text, file)
    cautions = [*strange, *cautions]
    taken: list[Reading] = []
    errors: list[PinmapError] = []
    unread = 0
    for line, cells in rows:
        reader = _RowReader(cells, columns, file, line, connectors)
        reading = reader.reading()
        errors += reader.errors
        if reading:
            taken.append(reading)
        elif not reader.errors:
            unread += 1
    if len(errors) > 1 and not taken and all(e.message.startswith(_OTHER_FORM) for e in errors):
        # Every row, and nothing else: not so many typing errors, but the other form.
        other = "an adapter: name the CARD too" if SLOT in connectors else "a bare slot: leave the CARD out"
        errors = [PinmapError(f"these are not readings of {listed(connectors)}, but of {other}", place=Place(file))]
    if len(errors) > MAX_ERRORS:
        more = PinmapError(f"there are {len(errors) - MAX_ERRORS} more rows or cells like these", place=Place(file))
        errors = [*errors[:MAX_ERRORS], more]
    readings = Readings(file, tuple(taken), unread, tuple(cautions))
    if errors:
        raise BadReadingsError(errors, readings)
    return readings


def form_csv(rows: Iterable[Row]) -> str:
    """Write rows to be filled in, numbered from 1; lines end with CR LF as RFC 4180 has it.

    No cell is one that a spreadsheet takes for a formula or a date; the labels that a sweep expects stand behind their
    connector (`J1 4 60`), so that none is taken for a number either. A reading may be written likewise.
    """
    stream = io.StringIO()
    writer = csv.writer(stream)
    writer.writerow(COLUMNS)
    for step, row in enumerate(rows, 1):
        expected = f"{row.over} {row.expected}" if row.over and row.expected not in ("", "none") else row.expected
        cells = (row.kind, str(row.start), row.to, expected, "", row.note)
        writer.writerow((step, *(_plain(cell) for cell in cells)))
    return stream.getvalue()


def _plain(cell: str) -> str:
    cell = visible(cell)
    return f" {cell}" if cell.startswith(("=", "+", "-", "@")) else cell


# ------------------------------------------------------------------ the table


def _decoded(raw: bytes, file: str) -> tuple[str, list[str]]:
    """The text of a file, and what is to be said about its encoding.

    Spreadsheets write UTF-8, UTF-16 (as "Unicode text") or Windows-1252. What is read in a wrong one can spoil a unit,
    which is then refused, but never a digit or a label.
    """
    if len(raw) > MAX_BYTES:
        raise UnreadableError(f"a readings file must be at most {MAX_BYTES // 1_000_000} MB", place=Place(file))
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return raw.decode("utf-16"), []
        except UnicodeDecodeError:
            raise UnreadableError(
                "a readings file that begins as UTF-16 must be UTF-16 to its end",
                "Save it as CSV in UTF-8",
                Place(file),
            ) from None
    try:
        return raw.decode("utf-8-sig"), []
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        what = f"byte 0x{raw[error.start]:02x} in line {line}"
    try:
        text = raw.decode("cp1252")
    except UnicodeDecodeError:
        raise UnreadableError(
            f"a readings file must be UTF-8 text, not a file with {what}", "Save it as CSV in UTF-8", Place(file)
        ) from None
    return text, [
        f"the file is not UTF-8 ({what}) and was read as Windows-1252, which older spreadsheets write; "
        "if a sign in it looks wrong, save it as CSV in UTF-8"
    ]


def _table(text: str, file: str) -> tuple[dict[str, int], list[str], list[tuple[int, list[str]]]]:
    """The column of each name, what is to be said about the others, and the rows with their line numbers."""
    place = Place(file, 1, 1)
    rows = _rows(text, _separator(text), file)
    head = rows[0][1] if rows else []
    names = [cell.strip().casefold() for cell in head]
    missing = [name for name in _NEEDED if name not in names]
    if missing:
        raise UnreadableError(
            f"a readings file must begin with a line of column names with {listed(_NEEDED)}; "
            f"{listed(missing)} {'is' if len(missing) == 1 else 'are'} not there",
            "`pinmap bench` writes the empty form",
            place,
        )
    twice = next((name for name in names if name and names.count(name) > 1), "")
    if twice:
        raise UnreadableError(f"a column must have a name of its own, not {quoted(twice)} twice", place=place)
    strange = [cell for cell, name in zip(head, names, strict=True) if name and name not in COLUMNS]
    cautions = [f"the column {quoted(cell.strip())} is not known and was not read" for cell in strange]
    return {name: index for index, name in enumerate(names) if name}, cautions, rows[1:]


def _separator(text: str) -> str:
    """The separator with which most of the column names stand in the first line that is not empty."""
    head = next((line for line in text.splitlines() if line.strip()), "")

    def known(mark: str) -> int:
        return sum(cell.strip().strip('"').casefold() in COLUMNS for cell in head.split(mark))

    return max((",", ";", "\t"), key=known)


def _rows(text: str, separator: str, file: str) -> list[tuple[int, list[str]]]:
    """Every row that is not empty, with the line in which it begins."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    out = []
    line = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                out.append((line, cells))
            line = reader.line_num + 1
    except csv.Error as error:
        raise UnreadableError(
            f"the file must be a table of cells ({error})", place=Place(file, max(reader.line_num, 1), 1)
        ) from None
    return out


# ------------------------------------------------------------------ one row


class _RowReader:
    """Reads one row; every complaint goes to `errors`."""

    def __init__(self, cells: list[str], columns: Mapping[str, int], file: str, line: int, connectors: Connectors):
        self.cells, self.columns, self.file, self.line = cells, columns, file, line
        self.connectors = connectors
        self.errors: list[PinmapError] = []

    def reading(self) -> Reading | None:
        """The reading of the row; None where it has none yet or cannot be understood."""
        width = max(self.columns.values()) + 1
        if any(cell.strip() for cell in self.cells[width:]):
            self._complain(
                "reading",
                f"a row must have no more cells than the first line, not {len(self.cells)} for {width}",
                "Put a cell that holds the separator in quotes",
            )
            return None
        kind = self._kind()
        start = self._probe("from", self._cell("from"))
        if kind is None:
            return None
        stop, over = self._target(kind, start)
        written = self._cell("reading")
        if self.errors or start is None or not written:
            return None
        place = self._place("reading")
        made = Reading(kind, start, stop, over, visible(written), place)
        try:
            return _with_value(made, written, self.connectors)
        except Complaint as error:
            self._complain("reading", *error.args)
            return None

    def _cell(self, column: str) -> str:
        index = self.columns[column]
        return self.cells[index].strip() if index < len(self.cells) else ""

    def _place(self, column: str) -> Place:
        return Place(self.file, self.line, self.columns[column] + 1)

    def _complain(self, column: str, message: str, advice: str = "") -> None:
        self.errors.append(PinmapError(message, advice, self._place(column)))

    def _kind(self) -> Kind | None:
        written = self._cell("kind")
        for kind in KINDS:
            if written.casefold() == kind:
                return kind
        near = nearest(written, KINDS)
        self._complain(
            "kind",
            f"a reading's kind must be {listed(KINDS, 'or')}, not {quoted(written)}",
            f"Did you mean {near[0]}?" if near else "",
        )
        return None

    def _target(self, kind: Kind, start: Probe | None) -> tuple[Probe | None, str]:
        written = self._cell("to")
        if kind == "sweep":
            ref = _ref(written, self.connectors) if written else next(iter(self.connectors), "")
            if ref is None or (not written and len(self.connectors) > 1):
                known = listed(self.connectors, "or")
                self._complain("to", f"a sweep must go over one connector, {known}, not {quoted(written)}")
            return None, ref or ""
        if kind == "volts" and not written:
            return None, ""
        stop = self._probe("to", written)
        if stop and stop == start:
            self._complain("to", f"a reading must be taken between two contacts, not at {stop} alone")
        return stop, ""

    def _probe(self, column: str, written: str) -> Probe | None:
        try:
            return probe(written, self.connectors)
        except Complaint as error:
            self._complain(column, *error.args)
            return None


_POINT = re.compile(r"^(?:([^\s\-–.:/]+)(?:\s*[\-–.:/]\s*|\s+))?([^\s\-–.:/]+)$")


def probe(written: str, connectors: Connectors) -> Probe:
    """Read a point: `J1 4`, `J1-4`, `J1.4`, `J1:4`, `J1/4`; with one connector the label alone will do.

    Raises `ValueError` with the rule, the offender and an advice.
    """
    example = f"{next(iter(connectors))} {next(iter(connectors.values()))[0]}"
    match = _POINT.match(written.strip())
    if not match or (match[1] is None and len(connectors) > 1):
        raise Complaint(f"a point must be a connector and a contact, like {example}, not {quoted(written)}", "")
    ref = _ref(match[1], connectors) if match[1] else next(iter(connectors))
    if ref is None:
        raise Complaint(f"a point's connector must be {listed(connectors, 'or')}, not {quoted(match[1])}", "")
    label = _label(match[2], connectors[ref])
    if label is None:
        near = nearest(match[2], connectors[ref])
        advice = f"Did you mean {ref} {near[0]}?" if near else ""
        raise Complaint(f"there is no contact {quoted(match[2])} on {ref}", advice)
    return Probe(ref, label)


def _ref(written: str, connectors: Connectors) -> str | None:
    return next((ref for ref in connectors if ref.casefold() == written.casefold()), None)


def _label(written: str, labels: Sequence[str]) -> str | None:
    if written in labels:
        return written
    alike = [label for label in labels if label.casefold() == written.casefold()]
    return alike[0] if len(alike) == 1 else None


# ------------------------------------------------------------------ what a meter shows


def _with_value(reading: Reading, written: str, connectors: Connectors) -> Reading:
    if reading.kind == "sweep":
        return replace(reading, found=_found(written, reading.over, connectors))
    if reading.kind == "volts":
        return replace(reading, volts=volts(written))
    return replace(reading, ohms=ohms(written))


def _found(written: str, over: str, connectors: Connectors) -> tuple[Probe, ...]:
    """The contacts that a sweep over the connector `over` found."""
    if written.strip().casefold() in ("none", "nothing"):
        return ()
    only = {over: connectors[over]}
    # A label may carry its connector: J2 B3.
    bare = re.sub(rf"(?<!\S){re.escape(over)}(?:\s*[\-–.:/]\s*|\s+)", "", written, flags=re.IGNORECASE)
    out = []
    for word in re.split(r"[\s,;]+", bare):
        if not word:
            continue
        try:
            out.append(probe(word, only))
        except Complaint as error:
            message, advice = error.args
            raise Complaint(
                f"a sweep's reading must be the contacts of {over} that beep, or none: {message}", advice
            ) from None
    if not out:
        raise Complaint(
            f"a sweep's reading must be the contacts of {over} that beep, or none, not {quoted(written)}", ""
        )
    return tuple(dict.fromkeys(out))
