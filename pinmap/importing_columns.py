"""Which columns of a table are the contacts' and which the signals', by their headings and by what their cells read as.

Two columns that fit equally well are not chosen between: `PinmapError` names both and the option that decides.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from msgspec import Struct

from . import importing_lines
from .errors import PinmapError
from .importing_cells import REF, Reader, direction, labels
from .importing_drawing import NOTES, PAIRS, drawing
from .tabular import Cell, Grid
from .text import quoted

LEAST = 0.7  # of the cells of a column that must read as labels
NAMED = 0.3  # of the cells of a column that must read as lines: a maker's table can have many names of their own
FEW = 2  # contacts of what may be no table, but lines beside one
_ALL = 0.9  # of the cells of a column that are lines, and may be labels too
_CLEARLY = 4  # times as many cells that decide between two columns
_DRAWN = ("columns", "boxes", "Markdown")  # of text, in which a header can be drawn
_CLEAR = 0.15  # by which one column must fit better than the next
_NO_SIGNALS = ("note", "direction", "other", "connector")

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


class Columns(Struct, frozen=True):
    """Pairs of a contact's and a signal's column, counted from 0, and the others with what they hold."""

    pairs: tuple[tuple[int, int], ...]
    others: tuple[tuple[int, str, str], ...] = ()  # index, kind, heading


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
        return self.labelled >= LEAST and self.as_contact > 0.2 and self.head in ("", "other")

    @property
    def said(self) -> str:
        return f"column {self.index + 1}" + (f" ({quoted(self.heading, 30)})" if self.heading else "")


class Chooser:
    """One grid: its rows, with cells parted where they hold several, and which of its columns are which."""

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
            fit = [c for c in rest if c.named >= NAMED and c.head not in _NO_SIGNALS]
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
            if said and not is_heading(filled) and (len(filled) > 1 or re.search(r"\d", said[0])):
                return i
        return 0

    def _column(self, index: int) -> _Column:
        texts = [row[index].text for row in self.rows[self.first :] if index < len(row) and row[index].text]
        heads = [row[index].text for row in self.rows[: self.first] if index < len(row) and row[index].text]
        known = next((h for h in reversed(heads) if head(h)), "")
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
            head(known),
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
        repeated = len(set(filled)) * 2 <= len(texts) and len(texts) > FEW and bool(filled)
        return repeated and (column.head == "connector" or (refs and len(filled) >= _ALL * len(texts)))

    def _rather_signals(self, contacts: Sequence[_Column], each: Sequence[_Column]) -> bool:
        """Whether what reads as contacts are names of lines (D7, D6 …), for numbers stand in another column."""
        unsure = [c for c in contacts if c.head != "contact" and c.named >= LEAST]
        rest = [c for c in each if c not in contacts and not c.head and c.named < NAMED and c.filled]
        rest = [c for c in rest if not self._connector(c) and not (self.scheme and c.fits)]  # or --body has decided
        return bool(unsure) and any(self._holding(c) >= LEAST for c in rest)

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
        signals = [c for c in each if c.named >= NAMED and c not in sure]
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


def is_heading(texts: Sequence[str]) -> bool:
    """Whether a row names its columns: there is such a word, and no label with a number."""
    return any(head(text) not in ("", "other") for text in texts) and not any(
        re.search(r"\d", text) and labels(text) is not None for text in texts
    )


def _side_by_side(one: set[str], other: set[str]) -> bool:
    """Whether two columns of labels have the same numbering and other contacts."""
    return importing_lines.same_scheme(one, other) and len(one & other) * 2 <= min(len(one), len(other))


def _follows(one: str, other: str) -> bool:
    a, b = (re.match(r"([A-Za-z]*)(\d*)$", text) for text in (one, other))
    return bool(a and b and a[1] == b[1] and a[2] and b[2] and int(b[2]) == int(a[2]) + 1)


def head(text: str) -> str:
    """What a heading says that its column holds: "contact", "signal" …; "" where it is no such word."""
    return _HEADS.get(re.sub(r"[\s.:*]+", " ", text).strip().casefold(), "")
