"""Which column of a table is the contact and which the signal, and what each row then claims.

Two columns that fit equally well are not chosen between: `PinmapError` names both and the option that decides.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise

from msgspec import Struct

from . import importing_lines
from .errors import PinmapError, Place
from .importing_cells import MAX_READ, REF, Direction, Label, Reader, dashed, direction, label, labels, split_alone
from .importing_drawing import NOTES, PAIRS, drawing
from .importing_prose import begins_with_label, mentions, sentence
from .tabular import Cell, Grid, Row
from .text import listed, quoted

MAX_HEADING = 70  # letters; what is longer is a text
MAX_CLAIMS = 5000  # a connector has some hundred contacts
_LEAST = 0.7  # of the cells of a column that must read as labels
_NAMED = 0.3  # of the cells of a column that must read as lines: a maker's table can have many names of their own
_ALL = 0.9  # of the cells of a column that are lines, and may be labels too
_SAID = 3  # cells that a remark on a column shows
_FEW = 2  # contacts of what may be no table, but lines beside one
_CLEARLY = 4  # times as many cells that decide between two columns
_DRAWN = ("columns", "boxes", "Markdown")  # of text, in which a header can be drawn
_CLEAR = 0.15  # by which one column must fit better than the next


_NO_SIGNALS = ("note", "direction", "other", "connector")
_OUTSIDE = "text outside a table, or a heading"
_HEADING = "a heading"
_TITLES = (_OUTSIDE, _HEADING)

_HEADS: dict[str, str] = {
    **dict.fromkeys(
        ("contact", "contacts", "pin", "pins", "pin no", "pin number", "terminal", "position", "pos", "label"),
        "contact",
    ),
    **dict.fromkeys(
        ("signal", "signals", "name", "signal name", "line", "function", "mnemonic", "designation", "pin name", "net"),
        "signal",
    ),
    **dict.fromkeys(("i/o", "io", "dir", "direction", "type", "in/out"), "direction"),
    **dict.fromkeys(("note", "notes", "remark", "remarks", "comment", "comments", "description", "meaning"), "note"),
    **dict.fromkeys(("connector", "conn", "connector no", "plug", "socket", "header", "jack"), "connector"),
    **dict.fromkeys(("pad", "pads", "no", "nr", "#", "step", "ref", "row", "item", "index"), "other"),
}


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


class Columns(Struct, frozen=True):
    """Pairs of a contact's and a signal's column, counted from 0, and the others with what they hold."""

    pairs: tuple[tuple[int, int], ...]
    others: tuple[tuple[int, str, str], ...] = ()  # index, kind, heading


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
    tables = [t for t in out.tables if len(t.claims) > _FEW]
    there = {claim.label for table in tables for claim in table.claims}
    for few in [t for t in out.tables if len(t.claims) <= _FEW] if tables else []:
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


class _Column(Struct):
    """What the cells of a column are; shares are of the cells that are not empty."""

    index: int
    filled: int
    labelled: float
    named: float
    distinct: float
    counting: float
    prefix: float
    head: str
    heading: str

    @property
    def lines(self) -> float:
        """How many cells are lines of a bus."""
        return self.named * self.filled

    @property
    def as_contact(self) -> float:
        """How well it fits as the contacts: labels, each once. A1 to A19 are also names of address lines."""
        return self.labelled * self.distinct - self.named / 2

    @property
    def fits(self) -> bool:
        """Whether these can be the contacts at all; a heading that says so outweighs cells that do not."""
        if self.head == "contact":
            return self.labelled >= 0.5
        return self.labelled >= _LEAST and self.as_contact > 0.2 and self.head in ("", "other")

    @property
    def said(self) -> str:
        return f"column {self.index + 1}" + (f" ({quoted(self.heading, 30)})" if self.heading else "")


class _Table:
    """Reads one grid."""

    def __init__(self, grid: Grid, reader: Reader, wanted: tuple[str, str], before: Columns | None, scheme: str = ""):
        self.grid, self.reader, self.wanted, self.before, self.scheme = grid, reader, wanted, before, scheme
        self.notes: tuple[int, ...] = ()
        self.rows: list[list[Cell]] = importing_lines.without_passive(grid.rows)
        self.cells_split = False
        asked = any(wanted)  # whose columns are those of the table as it stands
        sides = importing_lines.SideBySide(self.rows) if asked else importing_lines.by_rows(self.rows)
        if grid.kind == "columns" and not sides.pairs:
            parted = importing_lines.lines(self.rows, reader)
            sides = importing_lines.SideBySide(parted) if asked else importing_lines.by_rows(parted)
        self.rows, self.said, self.headed, self.first = sides.rows, sides.said, sides.pairs, sides.first
        drawn = drawing(grid.rows, reader) if grid.kind in _DRAWN and not asked and not sides.pairs else None
        if drawn:
            self.rows, self.said, self.headed, self.first = drawn.rows, drawn.said, PAIRS, drawn.first
            self.notes = NOTES

    # -------------------------------------------------------------- which column is which

    def columns(self) -> Columns | None:
        """The columns of contacts and signals; None where this is no table of contacts."""
        if not self.rows:
            return None
        if self.headed:
            beside = [c for i in self.notes if (c := self._column(i)).filled]
            return Columns(self.headed, tuple((c.index, self._kind(c), "") for c in beside))
        found_ = self._columns()
        if found_ is None and not self.cells_split:
            self.cells_split = True
            parted = importing_lines.columns(self.rows, self.reader)
            if parted:
                self.rows = parted
                found_ = self._columns()
        return found_

    def _columns(self) -> Columns | None:
        width = max(map(len, self.rows))
        self.first = self._first_row()
        each = [self._column(i) for i in range(width)]
        contacts, signals = self._asked(0, each), self._asked(1, each)
        if contacts is None:
            fit = [c for c in each if c.fits and (c.filled > 1 or len(self.rows) - self.first == 1)]
            fit = self._of_scheme([c for c in fit if not self._connector(c)])
            contacts = self._fewest(self._without_lines(fit, each), sum(c.lines > 0 for c in each if c not in fit))
            if self._rather_signals(contacts, each):
                return None
        if not contacts:
            return None
        if signals is None:
            rest = [c for c in each if c not in contacts and c.filled]
            fit = [c for c in rest if c.named >= _NAMED and c.head not in _NO_SIGNALS]
            fit = fit or [c for c in rest if c.head == "signal"]
            if not fit and len(rest) == len(contacts):
                fit = [c for c in rest if c.head in ("", "signal")]
            signals = self._best_signals(fit, len(contacts))
        if not signals or len(signals) != len(contacts):
            return None
        pairs = tuple((c.index, s.index) for c, s in zip(contacts, signals, strict=True))
        taken = {i for pair in pairs for i in pair}
        others = tuple((c.index, self._kind(c), c.heading) for c in each if c.index not in taken and c.filled)
        return Columns(pairs, others)

    def _first_row(self) -> int:
        """The first row that says something of a contact: what stands above are headings."""
        for i, row in enumerate(self.rows):
            filled = [cell.text for cell in row if cell.text]
            said = [text for text in filled if labels(text) is not None]
            if said and not _is_heading(filled) and (len(filled) > 1 or re.search(r"\d", said[0])):
                return i
        return 0

    def _column(self, index: int) -> _Column:
        texts = [row[index].text for row in self.rows[self.first :] if index < len(row) and row[index].text]
        heads = [row[index].text for row in self.rows[: self.first] if index < len(row) and row[index].text]
        known = next((h for h in reversed(heads) if _head(h)), "")
        heading = known or (heads[-1] if heads and len(self.rows[self.first - 1]) > 1 else "")
        many = max(len(texts), 1)
        read = [each for text in texts if (each := labels(text)) is not None]
        spelled = [each.text for several in read for each in several]
        return _Column(
            index,
            len(texts),
            len(read) / many,
            sum(self.reader.name(t).known for t in texts) / many,
            len(set(spelled)) / max(len(spelled), 1),
            *self._ordered(spelled),
            _head(known),
            heading,
        )

    @staticmethod
    def _ordered(spelled: Sequence[str]) -> tuple[float, float]:
        """Which share of labels follows the one before, and how many letters stand before a number on average."""
        following = sum(_follows(a, b) for a, b in pairwise(spelled)) / max(len(spelled) - 1, 1)
        return following, sum(len(re.sub(r"\d", "", s)) for s in spelled if s[-1].isdigit()) / max(len(spelled), 1)

    def _asked(self, which: int, each: Sequence[_Column]) -> list[_Column] | None:
        """The columns that the user named, by heading or number, several with commas; None where they named none."""
        if not self.wanted[which]:
            return None
        out: list[_Column] = []
        whole = self.wanted[which].strip()
        names = [whole] if any(c.heading.casefold() == whole.casefold() for c in each) else whole.split(",")
        for name in (n.strip() for n in names):
            if name.isascii() and name.isdecimal() and 1 <= int(name[:6]) <= len(each):
                out.append(each[int(name) - 1])
                continue
            headed = [c for c in each if c.heading.casefold() == name.casefold()]
            if headed:
                out += headed
            elif self.before and len(each) > max(i for pair in self.before.pairs for i in pair):
                return [each[pair[which]] for pair in self.before.pairs]
        return out

    def _of_scheme(self, fit: list[_Column]) -> list[_Column]:
        """The columns whose labels the body can have, where there are any."""
        wanted = {"": "", "rows": r"[A-Za-z]+\d+", "lettered": r"\d+|[A-Za-z]+"}.get(self.scheme, r"\d+")
        if not wanted:
            return fit
        able = []
        for column in fit:
            said = self._labels_in(column.index)
            if sum(bool(re.fullmatch(wanted, text)) for text in said) * 2 > len(said):
                able.append(column)
        return able or fit

    def _connector(self, column: _Column) -> bool:
        """Whether a column says to which of several connectors a row belongs: J1, J1 … J2."""
        texts = [self._text(row, column.index) for row in self.rows[self.first :]]
        filled = [text for text in texts if text]
        refs = all(re.fullmatch(REF, text, re.IGNORECASE) for text in filled)
        repeated = len(set(filled)) * 2 <= len(texts) and len(texts) > _FEW and bool(filled)
        return repeated and (column.head == "connector" or (refs and len(filled) >= _ALL * len(texts)))

    def _rather_signals(self, contacts: Sequence[_Column], each: Sequence[_Column]) -> bool:
        """Whether what reads as contacts are names of lines (D7, D6 …), for numbers stand in another column."""
        unsure = [c for c in contacts if c.head != "contact" and c.named >= _LEAST]
        rest = [c for c in each if c not in contacts and not c.head and c.named < _NAMED and c.filled]
        rest = [c for c in rest if not self._connector(c) and not (self.scheme and c.fits)]  # or --body has decided
        return bool(unsure) and any(self._holding(c) >= _LEAST for c in rest)

    def _holding(self, column: _Column) -> float:
        """Which share of the cells of a column has a number of its own in it: "3 o o 4"."""
        texts = [text for row in self.rows[self.first :] if (text := self._text(row, column.index))]
        return sum(bool(re.search(r"(?<!\S)[\[(]?[A-Za-z]?\d{1,3}[\])]?(?!\S)", t)) for t in texts) / max(len(texts), 1)

    @staticmethod
    def _text(row: Sequence[Cell], index: int) -> str:
        return row[index].text if index < len(row) else ""

    @staticmethod
    def _without_lines(fit: list[_Column], each: Sequence[_Column]) -> list[_Column]:
        """Leave out columns that read as lines throughout (A0, A1 …), where there is then a signal to each contact."""
        sure = [c for c in fit if c.named < _ALL]
        signals = [c for c in each if c.named >= _NAMED and c not in sure]
        return sure if sure and len(signals) == len(sure) else fit

    def _fewest(self, fit: list[_Column], signals: int) -> list[_Column]:
        """The columns of contacts: several only where they stand side by side, each with contacts of its own.

        `signals` is the number of columns with names of lines; it takes one for each.
        """
        if len(fit) < 2:
            return fit
        lines = [c for c in fit if c.named >= _ALL and (c.counting < 0.8 or c.head == "signal")]
        if len(lines) < len(fit):
            rest = [c for c in fit if c not in lines]
            for line in (c for c in lines if not c.head):  # A0 … A19 beside A19 … A0: which is which?
                alike = (c for c in rest if not c.head and c.named >= _ALL and not self._beside_of(c, line))
                for contact in alike:
                    self._ask("contact", *sorted((line, contact), key=lambda c: c.index))
            fit = rest
        worded = [c for c in fit if c.prefix > 1.2]  # CS1, CS2 … are more likely lines than contacts
        if len(worded) < len(fit):
            fit = [c for c in fit if c not in worded]
        headed = [c for c in fit if c.head == "contact"]
        plain = [c for c in fit if c.head == "other"]
        if headed and len(headed) < len(fit):
            headed = [c for c in fit if c in headed or (not c.head and all(self._beside_of(c, h) for h in headed))]
            fit = headed if all(c in headed or c in plain or not c.head for c in fit) else fit
        elif plain and len(plain) < len(fit):
            fit = [c for c in fit if c not in plain]
        said = [self._labels_in(c.index) for c in fit]
        for i, one in enumerate(said):
            for other, column in zip(said[i + 1 :], fit[i + 1 :], strict=True):
                few, many = sorted((fit[i], column), key=lambda c: c.filled)
                clear = few.filled * _CLEARLY <= many.filled
                beside = _side_by_side(one, other)
                if clear and not (beside and signals >= len(fit)):
                    return self._fewest([c for c in fit if c is not few], signals)
                if not beside:
                    self._ask("contact", fit[i], column)
        return fit

    def _beside_of(self, one: _Column, other: _Column) -> bool:
        return _side_by_side(self._labels_in(one.index), self._labels_in(other.index))

    def _labels_in(self, index: int) -> set[str]:
        return {
            each.text for row in self.rows[self.first :] if index < len(row) for each in labels(row[index].text) or []
        }

    def _best_signals(self, fit: list[_Column], wanted: int) -> list[_Column]:
        if len(fit) <= wanted:
            return fit
        headed = [c for c in fit if c.head == "signal"]
        if len(headed) == wanted:
            return headed
        most = max(c.lines for c in fit)
        ranked = sorted(fit, key=lambda c: (c.lines * _CLEARLY <= most, -c.named, c.index))
        last, next_ = ranked[wanted - 1], ranked[wanted]
        clear = next_.lines * _CLEARLY <= last.lines or last.named - next_.named >= _CLEAR
        if not clear and not self._same(last, next_):
            self._ask("signal", *sorted((last, next_), key=lambda c: c.index))
        return sorted(ranked[:wanted], key=lambda c: c.index)

    def _same(self, one: _Column, other: _Column) -> bool:
        """Whether two columns name the same line in every row."""
        for row in self.rows[self.first :]:
            a, b = ([s.name for s in self.reader.signals(self._at(row, c.index))][:1] for c in (one, other))
            if a != b:
                return False
        return True

    def _at(self, row: Sequence[Cell], index: int) -> str:
        return self.reader.name(row[index].text).text if index < len(row) else ""

    def _ask(self, what: str, one: _Column, other: _Column) -> None:
        rows = "; if each is a row of contacts, head them Row A and Row B" if what == "signal" else ""
        raise PinmapError(
            f"one column must be the {what}s'; {one.said} and {other.said} read as {what}s equally well",
            f"Name it with --{what}-column, by its heading or number: --{what}-column {one.index + 1}{rows}",
            self.grid.place,
        )

    def _kind(self, column: _Column) -> str:
        if self._connector(column):
            return "connector"
        texts = [
            row[column.index].text
            for row in self.rows[self.first :]
            if column.index < len(row) and row[column.index].text
        ]
        if column.head == "direction" or all(direction(t) is not None for t in texts):
            return "direction"
        if column.head == "other" or all(re.fullmatch(r"[A-Za-z]?\d+", t) for t in texts):
            return "other"
        return "note"

    # -------------------------------------------------------------- rows

    def _unread(self, columns: Columns, out: Found) -> None:
        """Say which columns are neither contacts nor signals, and which of them hold such all the same."""
        beside = {index for pair in self.sides for index in pair}  # rows shifted into these are told one by one
        for index, kind, heading in columns.others:
            if index in beside:
                continue
            column = self._column(index)
            named = f"column {index + 1}" + (f" ({quoted(heading, 30)})" if heading else "")
            if kind == "note" and not heading and self._holding(column) >= _LEAST:  # "o o 3"
                said = (word for row in self.rows[self.first :] for word in self._text(row, index).split())
                out.unread |= {each.text for word in said if (each := label(word.strip("[]()")))}
            if kind == "note" and column.named >= _NAMED and column.lines and column.head != "note":
                cells = [row[index] for row in self.rows[self.first :] if self._text(row, index)]
                why = (
                    f"{named} holds names of lines and was not read as signals; what stands there is a note in the map "
                    "(--signal-column and --contact-column name several columns with commas)"
                )
                more = " …" if len(cells) > _SAID else ""
                said_of = ", ".join(cell.text for cell in cells[:_SAID]) + more
                out.not_understood.append(Remark(cells[0].place, said_of, why))
            elif kind == "other" and column.labelled >= _LEAST and column.head != "other":
                few = [quoted(self._text(row, index), 30) for row in self.rows[self.first :] if self._text(row, index)]
                there = f" ({listed(few)})" if len(few) <= _FEW else ""
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
        heading = next((text for text in alone if not _head(text)), heading)
        self.sides = list(columns.pairs)
        beside = max(max(pair) for pair in columns.pairs) + 1
        wide = beside + 1 < max(map(len, self.rows))
        if self.grid.kind == "columns" and wide and self._column(beside).labelled >= _LEAST:
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
        if _is_heading(filled) or (len(filled) == 1 and not re.search(r"\d", filled[0]) and labels(filled[0]) is None):
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
                notes.append(text if _head(heading) in ("note", "") and _bare(heading) else f"{heading}: {text}")
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
    return not heading or _head(heading) == "note"


def _is_heading(texts: Sequence[str]) -> bool:
    """Whether a row names its columns: there is such a word, and no label with a number."""
    return any(_head(text) not in ("", "other") for text in texts) and not any(
        re.search(r"\d", text) and labels(text) is not None for text in texts
    )


def _side_by_side(one: set[str], other: set[str]) -> bool:
    """Whether two columns of labels have the same numbering and other contacts."""
    return importing_lines.same_scheme(one, other) and len(one & other) * 2 <= min(len(one), len(other))


def _follows(one: str, other: str) -> bool:
    a, b = (re.match(r"([A-Za-z]*)(\d*)$", text) for text in (one, other))
    return bool(a and b and a[1] == b[1] and a[2] and b[2] and int(b[2]) == int(a[2]) + 1)


def _head(text: str) -> str:
    return _HEADS.get(re.sub(r"[\s.:*]+", " ", text).strip().casefold(), "")
