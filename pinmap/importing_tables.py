"""The tables of a file: which of its grids are tables of contacts, and what each of their rows claims.

A row that claims nothing is kept with what is to be said of it: none is dropped.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from msgspec import Struct

from . import importing_lines
from .errors import PinmapError, Place
from .importing_cells import MAX_READ, REF, Direction, Label, Reader, dashed, direction, label, labels, split_alone
from .importing_columns import FEW, LEAST, NAMED, Chooser, Columns, head, is_heading
from .importing_prose import begins_with_label, mentions, sentence
from .tabular import Cell, Grid, Row
from .text import listed, quoted

MAX_HEADING = 70  # letters; what is longer is a text
MAX_CLAIMS = 5000  # a connector has some hundred contacts
_SAID = 3  # cells that a remark on a column shows
_OUTSIDE = "text outside a table, or a heading"
_HEADING = "a heading"
_TITLES = (_OUTSIDE, _HEADING)


class Remark(Struct, frozen=True, order=True):
    """A place in the table, what stands there, and what is to be said of it."""

    place: Place
    text: str
    why: str

    def __str__(self) -> str:
        return f"{self.place}: {quoted(self.text, 80)}: {self.why}"


class Claim(Struct, frozen=True):
    """What a row says: the contact's label, the line's name without marks of direction, and what stands beside them.

    `place` is the label's, `at` the name's.
    """

    label: str
    name: str
    place: Place
    at: Place
    note: str = ""
    direction: Direction = ""


class Table(Struct):
    """What one table claims; `key` is how it is called where there are several, by sheet, reference or heading.

    `heading` is the text above it; `key` is "" where there is no name, and then its number alone tells it.
    """

    key: str
    place: Place
    claims: list[Claim]
    turned: bool = False
    heading: str = ""


class Found(Struct):
    """The tables of a file, and every row that claims nothing."""

    tables: list[Table]
    assumed: list[str]
    not_understood: list[Remark]
    passed_over: list[Remark]
    unread: set[str]  # labels in columns that were not read


def found(
    grids: Sequence[Grid], reader: Reader, contact_column: str = "", signal_column: str = "", scheme: str = ""
) -> Found:
    """Find the columns of every grid and read its rows. Raises `PinmapError` where two columns fit equally well.

    `scheme` is that of the body, if it is known: it tells labels from names of lines that look like them.
    """
    out = Found([], [], [], [], set())
    heading: Remark | None = None  # what stands above the next table
    wanted = (contact_column, signal_column)
    before: dict[str, Columns] = {}  # a table can go on after an empty line, without its headings
    for grid in _joined(grids):
        out.assumed += grid.cautions
        out.passed_over += [Remark(b.place, b.text, "a line that only draws the table") for b in grid.borders]
        grid, prose = _without_prose(grid, reader)
        for row in prose:
            if begins_with_label(row[0].text):
                why = "this reads as a sentence; if it describes a contact, write contact and signal alone"
                out.not_understood.append(_passed(row, why))
            else:
                out.passed_over.append(_passed(row, _OUTSIDE))
        whole = _Table(grid, reader, wanted, before.get(grid.kind), scheme)
        columns = whole.columns()
        if columns is None:
            for row in grid.rows:
                filled = [cell.text for cell in row if cell.text]
                if len(filled) > 1 and any(labels(text) for text in filled):
                    out.not_understood.append(_passed(row, "a row without columns of contacts and signals round it"))
                else:
                    out.passed_over.append(_passed(row, _OUTSIDE))
                    if heading is None or out.passed_over[-1].text[0] == "#" or heading.text[0] != "#":
                        heading = out.passed_over[-1]
            continue
        before[grid.kind] = columns
        whole.read(columns, out, grid.name, heading.text if heading else "")
        heading = None
    if not out.tables:
        _nothing(grids, reader, wanted)
    _set_apart(out, reader)
    _reconsider(out, reader)
    return out


def _reconsider(out: Found, reader: Reader) -> None:
    """Take text that names a contact and a line for what it may be: a row, and no heading."""
    kinds = {re.sub(r"\d+", "", claim.label) for table in out.tables for claim in table.claims}
    why = "it names a contact and a line, but is no row as the others are; if it describes a contact, write it so"
    for remark in [r for r in out.passed_over if r.why in _TITLES and mentions(r.text, kinds, reader)]:
        out.passed_over.remove(remark)
        out.not_understood.append(Remark(remark.place, remark.text, why))


def _set_apart(out: Found, reader: Reader) -> None:
    """Take lines beside the tables for what they are, where they name no line and a contact of a table."""
    tables = [t for t in out.tables if len(t.claims) > FEW]
    there = {claim.label for table in tables for claim in table.claims}
    for few in [t for t in out.tables if len(t.claims) <= FEW] if tables else []:
        claims = few.claims
        if {c.label for c in claims} <= there and not any(reader.name(c.name).known for c in claims):
            out.tables.remove(few)
            why = "the table describes this contact, and what stands here is no line"
            out.not_understood += [Remark(c.place, f"{c.label}  {c.name}", why) for c in claims]


def _passed(row: Sequence[Cell], why: str) -> Remark:
    cells = [cell for cell in row if cell.text]
    return Remark(cells[0].place, "  ".join(cell.text for cell in cells), why)


def _without_prose(grid: Grid, reader: Reader) -> tuple[Grid, list[Row]]:
    """Part the sentences of a text from its rows. A row in which one cell is a label or a line alone is none."""
    prose = [row for row in grid.rows if _is_prose(row, reader)]
    kept = tuple(row for row in grid.rows if row not in prose) if prose else grid.rows
    return Grid(kept, grid.kind, grid.name, grid.borders, grid.cautions), prose


def _is_prose(row: Row, reader: Reader) -> bool:
    texts = [cell.text for cell in row if cell.text]
    alone = any(labels(text) is not None or reader.name(text).known for text in texts)
    return not alone and sentence(", ".join(texts))


def _joined(grids: Sequence[Grid]) -> Iterator[Grid]:
    """Join what empty lines between all rows have parted."""
    filled = [g for g in grids if g.rows]
    small = sum(len(g.rows) for g in filled if len(g.rows) < 3)
    if len(filled) < 3 or small * 2 <= sum(len(g.rows) for g in filled):
        yield from grids
        return
    kinds = list(dict.fromkeys((g.kind, g.name) for g in grids))
    for kind, name in kinds:
        alike = [g for g in grids if (g.kind, g.name) == (kind, name)]
        yield Grid(
            tuple(row for g in alike for row in g.rows),
            kind,
            name,
            tuple(b for g in alike for b in g.borders),
            tuple(c for g in alike for c in g.cautions),
        )


def _nothing(grids: Sequence[Grid], reader: Reader, wanted: tuple[str, str]) -> None:
    """Say why no grid is a table of contacts."""
    place = next((g.place for g in grids if g.rows), None)
    widest = max((len(row) for g in grids for row in g.rows), default=0)
    if any(wanted):
        option, given = ("--contact-column", wanted[0]) if wanted[0] else ("--signal-column", wanted[1])
        heads = dict.fromkeys(quoted(c.text, 30) for g in grids if g.rows for c in g.rows[0] if c.text)
        raise PinmapError(
            f"{option} must be a column's heading or its number from 1 on (1 to {widest}), not {quoted(given)}",
            f"The first row has {listed(list(heads)[:12])}" if heads else "",
            Place(place.file) if place else None,
        )
    cells = [c.text for g in grids for row in g.rows for c in row if c.text]
    have = sum(labels(t) is not None for t in cells)
    named = sum(reader.name(t).known for t in cells)
    what = f"of {len(cells)} cells {have} read as a contact's label and {named} as a line's name"
    if widest == 1:
        what = f"there is one column only, and {what}"
    raise PinmapError(
        f"a table must have a column of contacts (1, 2, 3 … or A1, A2 … B1) and one of signals; {what}",
        "Name them with --contact-column and --signal-column, by heading or number, or copy the table into CSV with "
        "the two columns contact,signal",
        Place(place.file) if place else None,
    )


class _Table(Chooser):
    """Reads one grid, row by row."""

    def _unread(self, columns: Columns, out: Found) -> None:
        """Say which columns are neither contacts nor signals, and which of them hold such all the same."""
        beside = {index for pair in self.sides for index in pair}  # rows shifted into these are told one by one
        for index, kind, heading in columns.others:
            if index in beside:
                continue
            column = self._column(index)
            named = f"column {index + 1}" + (f" ({quoted(heading, 30)})" if heading else "")
            if kind == "note" and not heading and self._holding(column) >= LEAST:  # "o o 3"
                said = (word for row in self.rows[self.first :] for word in self._text(row, index).split())
                out.unread |= {each.text for word in said if (each := label(word.strip("[]()")))}
            if kind == "note" and column.named >= NAMED and column.lines and column.head != "note":
                cells = [row[index] for row in self.rows[self.first :] if self._text(row, index)]
                why = (
                    f"{named} holds names of lines and was not read as signals; what stands there is a note in the map "
                    "(--signal-column and --contact-column name several columns with commas)"
                )
                more = " …" if len(cells) > _SAID else ""
                said_of = ", ".join(cell.text for cell in cells[:_SAID]) + more
                out.not_understood.append(Remark(cells[0].place, said_of, why))
            elif kind == "other" and column.labelled >= LEAST and column.head != "other":
                few = [quoted(self._text(row, index), 30) for row in self.rows[self.first :] if self._text(row, index)]
                there = f" ({listed(few)})" if len(few) <= FEW else ""
                out.assumed.append(f"{self.grid.place.file}: {named} was not read, though it may name contacts{there}")
                out.unread |= self._labels_in(index)
            elif kind == "other":
                out.assumed.append(f"{self.grid.place.file}: {named} was not read: it names neither contact nor signal")

    def read(self, columns: Columns, out: Found, sheet: str, heading: str) -> None:
        """Read every row into claims and remarks; `sheet` and `heading` are what the table may be called by."""
        out.assumed += self.said
        refs = [index for index, kind, _ in columns.others if kind == "connector"]
        last = ""
        tables: dict[str, Table] = {}
        alone = [_passed(row, "").text for row in self.rows[: self.first] if sum(bool(cell.text) for cell in row) == 1]
        heading = next((text for text in alone if not head(text)), heading)
        self.sides = list(columns.pairs)
        beside = max(max(pair) for pair in columns.pairs) + 1
        wide = beside + 1 < max(map(len, self.rows))
        if self.grid.kind == "columns" and wide and self._column(beside).labelled >= LEAST:
            self.sides.append((beside, beside + 1))
        self.kinds = [importing_lines.kinds(self._labels_in(contact)) for contact, _ in self.sides]
        self._unread(columns, out)
        for number, row in enumerate(self.rows):
            before = len(out.not_understood)
            claims = list(self._claims(row, columns, out)) if number >= self.first else []
            last = next((text for i in refs if (text := self._text(row, i))), last)
            for ref, turned, claim in claims:
                of = last or ref
                name = of or sheet or named_by(heading)
                table = tables.setdefault(of, Table(name, claim.place, [], heading=heading))
                table.claims.append(claim)
                table.turned |= turned
            if sum(len(t.claims) for t in tables.values()) > MAX_CLAIMS:
                raise PinmapError(f"a table must describe at most {MAX_CLAIMS} contacts", place=self.grid.place)
            if not claims and len(out.not_understood) == before and any(cell.text for cell in row):
                if self._may_be_row(row, columns):
                    out.not_understood.append(_passed(row, _unlabelled(_passed(row, "").text, "")))
                else:
                    out.passed_over.append(_passed(row, _HEADING))
        out.tables += tables.values()

    def _may_be_row(self, row: Sequence[Cell], columns: Columns) -> bool:
        """Whether a line of one cell begins with a label of this table: "A1 -5V" above the rows is no heading."""
        texts = [cell.text for cell in row if cell.text]
        begun = re.match(r"([A-Za-z]{0,2})\d{1,3}\b", texts[0])
        if len(texts) > 1 or not begun:
            return False
        letters = {re.sub(r"\d", "", each) for contact, _ in columns.pairs for each in self._labels_in(contact)}
        return begun[1] in letters if begun[1] else bool(dashed(texts[0]))

    def _claims(self, row: list[Cell], columns: Columns, out: Found) -> Iterator[tuple[str, bool, Claim]]:
        filled = [cell.text for cell in row if cell.text]
        if is_heading(filled) or (len(filled) == 1 and not re.search(r"\d", filled[0]) and labels(filled[0]) is None):
            return  # a heading between the rows
        shifted = importing_lines.shifted(row, self.sides, self.kinds)
        if shifted:
            out.not_understood.append(_passed(row, shifted))
            return
        for pair, (at_contact, at_signal) in enumerate(columns.pairs):
            contact = row[at_contact] if at_contact < len(row) else Cell("", row[0].place)
            signal = row[at_signal] if at_signal < len(row) else Cell("", contact.place)
            if not contact.text and not signal.text:
                continue
            several = labels(contact.text)
            both = split_alone(contact.text, self.reader) if several is None and not signal.text else None
            if both:  # "A4 = D5" where other rows have a cell for each
                contact, signal = Cell(both.label, contact.place), Cell(both.rest, contact.place)
                several = labels(contact.text)
            if several is None:
                where = contact if contact.text else signal
                out.not_understood.append(Remark(where.place, where.text, _unlabelled(contact.text, signal.text)))
                continue
            if not re.sub(r"[-–—_.\s]", "", signal.text):
                what = quoted(signal.text) if signal.text else "nothing"
                out.not_understood.append(
                    Remark(contact.place, contact.text, f"{what} stands there for a signal; not described")
                )
                continue
            if len(signal.text) > MAX_READ:
                why = f"a text of {len(signal.text)} letters is no signal's name; contact {contact.text} not described"
                out.not_understood.append(Remark(signal.place, signal.text, why))
                continue
            names = self._names(several, contact, signal, out)
            note, pointing = self._beside(row, pair, columns)
            for each, name in zip(several, names, strict=False):
                read = self.reader.name(name)
                noted = "; ".join(part for part in (read.note, note) if part)
                claim = Claim(each.text, read.text, contact.place, signal.place, noted, read.direction or pointing)
                yield each.ref, each.turned, claim

    def _names(self, several: list[Label], contact: Cell, signal: Cell, out: Found) -> list[str]:
        names = self.reader.run(signal.text) if len(several) > 1 else [signal.text]
        if len(names) == 1 and len(several) > 1 and self.reader.power(self.reader.name(names[0]).text):
            return names * len(several)
        if len(names) != len(several):
            out.not_understood.append(
                Remark(
                    contact.place,
                    f"{contact.text}  {signal.text}",
                    f"{len(several)} contacts for {len(names)} signals; only a supply, a return or open may stand "
                    "alone for several",
                )
            )
            return []
        return names

    def _beside(self, row: Sequence[Cell], pair: int, columns: Columns) -> tuple[str, Direction]:
        """What the other columns say of one pair: those that stand after it and before the next."""
        starts = [min(p) for p in columns.pairs]
        notes: list[str] = []
        pointing: Direction = ""
        for index, kind, heading in columns.others:
            owner = max((i for i, start in enumerate(starts) if start < index), default=0)
            text = row[index].text if index < len(row) else ""
            if owner != pair or not text or kind in ("other", "connector"):
                continue
            if kind == "direction":
                pointing = direction(text) or pointing
            else:
                notes.append(text if head(heading) in ("note", "") and _bare(heading) else f"{heading}: {text}")
        return "; ".join(notes), pointing


def _unlabelled(contact: str, signal: str) -> str:
    """Why a row has no contact: what stands where its label should."""
    if not contact:
        return "a signal without a contact beside it"
    rail = "" if signal else dashed(contact)
    if rail:
        volts = rail[1:].strip()
        return (
            f"the dash may part contact and signal, or be a minus (perhaps +{volts}, perhaps -{volts}): not described; "
            "measure it, and write the sign"
        )
    if signal:
        return f"no contact's label ({quoted(signal, 30)} stands beside it)"
    return "no contact's label with a line's name behind it"


def named_by(heading: str) -> str:
    """The name that a heading gives a table: its reference if it has one ("## J1: slot"), or the heading itself."""
    plain = re.sub(r"^#+\s*|^[=*_\s]+|[=*_:\s]+$", "", heading)
    ref = re.search(rf"(?<![^\W_]){REF}(?![^\W_])", plain, re.IGNORECASE)
    return ref[0] if ref else plain if len(plain) <= MAX_HEADING else ""


def _bare(heading: str) -> bool:
    return not heading or head(heading) == "note"
