"""Cells that hold a label and a name: lines of text and lists, taken apart."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence

from msgspec import Struct

from .errors import Place
from .importing_cells import TURNED, Reader, Split, forwards, label, labels, split, split_alone, splitter
from .tabular import Cell
from .text import listed, quoted

Rows = list[list[Cell]]

_INNER = re.compile(r"\s+([A-Za-z]?\d{1,4})[:.)]?\s+")  # a label between two names, parted by single spaces
_FEWEST_ARROWS = 3  # that make a column of directions
_LETTER = re.compile(r"(([A-HJ-NPR-Z])\2{0,2})[\s:=.)]+")  # a label of a lettered row, before its name


_ARROW = re.compile(r"(?:\S+\s+)?(?:<[-=]*>|[-=]+>|<[-=]+|[→←↔⇒⇐⇔])\s*\S")
_PASSIVE = re.compile(r"((?:\S+\s+)?)([-–—=]{2,})\s+\S")


def without_passive(rows: Sequence[Sequence[Cell]]) -> Rows:
    """Take off dashes that stand where other rows have arrows: "-- 4 +5V" below "-> 2 RESET" has no direction.

    Only two dashes and more: a single one may be a minus.
    """
    out = [list(row) for row in rows]
    for index in range(max(map(len, rows), default=0)):
        cells = [row[index] for row in rows if index < len(row) and row[index].text]
        arrows = sum(bool(_ARROW.match(cell.text)) for cell in cells)
        if arrows < _FEWEST_ARROWS or arrows * 5 < len(cells):
            continue
        for row in out:
            passive = _PASSIVE.match(row[index].text) if index < len(row) else None
            if passive and (not passive[1] or label(passive[1])):
                text = passive[1] + " " * len(passive[2]) + row[index].text[passive.end(2) :]
                row[index] = _moved(row[index], text.strip(), len(text) - len(text.lstrip()))
    return out


def lines(rows: Rows, reader: Reader) -> Rows:
    """Take lines apart that begin with a label and its name in one cell, parted by a single space or a mark."""
    firsts = [row[0].text for row in rows if row]
    whole = [label(row[0].text) is not None or _run(row) for row in rows if row]
    pattern = splitter(text for text, alone in zip(firsts, whole, strict=True) if not alone)
    begun = sum(alone or bool(pattern and split(text, pattern)) for text, alone in zip(firsts, whole, strict=True))
    if not pattern or begun * 10 < len(firsts) * 6:
        pattern = None
        begun = sum(alone or bool(split_alone(t, reader)) for t, alone in zip(firsts, whole, strict=True))
        if begun * 10 < len(firsts) * 6 or all(whole):
            return rows
    lasts = [row[-1].text for row in rows if len(row) > 1]
    letters = sum(bool(_LETTER.match(text)) for text in lasts) * 5 >= max(len(lasts), 1) * 4
    return [
        list(row)
        if _run(row)
        else [part for at, cell in enumerate(row) for part in _parts(cell, pattern, reader, at == 0, letters)]
        for row in rows
    ]


def _run(row: Sequence[Cell]) -> bool:
    """Whether a row begins with a run of labels: "A2-A9" before "D7-D0"; "A30-A1" alone is none."""
    return len(row) > 1 and len(labels(row[0].text) or ()) > 1


def _parts(cell: Cell, pattern: re.Pattern[str] | None, reader: Reader, first: bool, letters: bool) -> list[Cell]:
    """The label and the name of a cell; behind the first cell, of one that cannot be a name with an aside."""
    lettered = _LETTER.match(cell.text) if letters and not first else None
    if lettered:
        done: Split | None = Split(lettered[1], cell.text[lettered.end() :], lettered.end())
    else:
        done = _split(cell.text, pattern, reader) if label(cell.text) is None else None
    if done is None:
        return [cell]
    bare = label(done.label)
    numbered = bare and re.fullmatch(r"[A-Za-z]?\d+", bare.text)  # "IRQ2 (in)" begins with no label
    if not (first or lettered or (numbered and not reader.name(cell.text).known)):
        return [cell]
    parts = [Cell(done.label, cell.place), _moved(cell, done.rest, done.at)]
    for inner in _INNER.finditer(done.rest) if first and not reader.name(done.rest).known else ():
        name, rest = done.rest[: inner.start()], done.rest[inner.end() :]
        if reader.name(name).known and reader.name(rest).known:  # "B1 GND A1 IOCHK"
            parts[1:] = [
                _moved(cell, name, done.at),
                _moved(cell, inner[1], done.at + inner.start(1)),
                _moved(cell, rest, done.at + inner.end()),
            ]
            break
    return parts


def _split(text: str, pattern: re.Pattern[str] | None, reader: Reader) -> Split | None:
    """Take a cell apart as its list does, or by itself where it is unlike the list or there is no way of all."""
    done = split(text, pattern) if pattern else None
    forward = not pattern or forwards(pattern)
    return done or (split_alone(text, reader) if forward and not reader.name(text).known else None)


def _moved(cell: Cell, text: str, by: int) -> Cell:
    return Cell(text, Place(cell.place.file, cell.place.line, cell.place.column + by))


def columns(rows: Sequence[Sequence[Cell]], reader: Reader) -> Rows | None:
    """Take columns apart in which most cells hold a label and a name; None where there are none."""
    width = max(map(len, rows))
    patterns: dict[int, re.Pattern[str]] = {}
    for index in range(width):
        cells = [row[index].text for row in rows if index < len(row) and row[index].text]
        pattern = splitter(cells) if len(cells) > 1 or len(rows) == 1 else None
        if pattern:
            patterns[index] = pattern
        elif sum(_turned(text, reader) for text in cells) * 10 >= max(len(cells), 1) * 6:
            patterns[index] = TURNED
    if not patterns:
        return None
    return [
        [part for i, cell in enumerate(row) for part in (_both(cell, patterns[i], reader) if i in patterns else [cell])]
        for row in rows
    ]


def _turned(text: str, reader: Reader) -> bool:
    """Whether a cell is a name and a label behind it, "GND 1", and not a name such as "IRQ 2"."""
    found = TURNED.match(text)
    return bool(found and reader.name(found["rest"]).known and not reader.name(text).known)


def _both(cell: Cell, pattern: re.Pattern[str], reader: Reader) -> list[Cell]:
    done = _split(cell.text, pattern, reader)
    return [Cell(done.label, cell.place), Cell(done.rest, cell.place)] if done else [cell, Cell("", cell.place)]


# ------------------------------------------------------------------ rows of contacts side by side

_ROW = re.compile(r"(?:row|side)?\s*([A-Z])|([A-Z])[ \-]+(?:row|side)", re.IGNORECASE)
_SIDES = {"component side": "A", "components side": "A", "solder side": "B"}


class SideBySide(Struct, frozen=True):
    """Rows in which every signal has its label before it: the columns of both, the first of these rows, what to say."""

    rows: Rows
    pairs: tuple[tuple[int, int], ...] = ()
    first: int = 0
    said: tuple[str, ...] = ()


def by_rows(rows: Rows) -> SideBySide:
    """Give every signal its label where one column has the numbers and the others are headed as rows or sides.

    The numbers may stand before, between or behind the signals. `pairs` is empty where the table is not of that kind.
    """
    for i, row in enumerate(rows[:10]):
        below = rows[i + 1 :]
        at = next((n for n in range(len(row)) if _counts(below, n)), None)
        if at is None or label(row[at].text):
            continue
        heads = {n: cell for n, cell in enumerate(row) if n != at}
        letters = {n: _row_letter(cell.text) for n, cell in heads.items()}
        if len(heads) < 2 or not all(letters.values()) or len(set(letters.values())) < len(heads):
            continue
        if any(len(r) > len(row) for r in below):
            continue
        named = [Cell(f"row {h.text}" if len(h.text) == 1 else h.text, h.place) for h in heads.values()]
        out = [list(r) for r in rows[:i]] + [[part for head in named for part in (Cell("", row[0].place), head)]]
        for each in below:
            if not _counted(each, at):
                out.append(list(each))
                continue
            number = each[at]
            cells = [each[n] if n < len(each) else Cell("", number.place) for n in heads]
            pairs = zip(letters.values(), cells, strict=True)
            out.append([part for x, cell in pairs for part in (Cell(f"{x}{number.text}", number.place), cell)])
        told = listed(f"{quoted(head.text, 30)} is row {letters[n]}" for n, head in heads.items())
        columns_ = tuple((2 * n, 2 * n + 1) for n in range(len(heads)))
        return SideBySide(out, columns_, i + 1, (f"labels: the numbers are those of each row; {told}",))
    return SideBySide(rows)


def _counts(rows: Rows, at: int) -> bool:
    """Whether a column numbers its rows, all but those with one cell, which are notes between or below them."""
    several = [row for row in rows if sum(bool(cell.text) for cell in row) > 1 or _counted(row, at)]
    return len(several) > 1 and all(_counted(row, at) for row in several)


def _counted(row: Sequence[Cell], at: int) -> bool:
    return at < len(row) and row[at].text.isascii() and row[at].text.isdecimal()


def _row_letter(head: str) -> str:
    side = _SIDES.get(head.casefold().strip(), "")
    found = _ROW.fullmatch(head.strip())
    return side or (found[1] or found[2] if found else "")


def kinds(texts: Iterable[str]) -> set[str]:
    """How the labels of a column are built: "A9" for A1 and A31, "9" for numbers, "A" for letters alone."""
    counted = Counter(_kind(text) for text in texts)
    return {kind for kind, n in counted.items() if n * 5 >= counted.total()}


def _kind(text: str) -> str:
    return re.sub(r"\d+", "9", text) if re.search(r"\d", text) else re.sub(r"[A-Za-z]+", "A", text)


def shifted(row: Sequence[Cell], pairs: Sequence[tuple[int, int]], kinds_: Sequence[set[str]]) -> str:
    """Why a row cannot be read: it lacks a cell, and a label of the next pair stands where a signal should; or ""."""
    cells = [[row[i].text if i < len(row) else "" for i in pair] for pair in pairs]
    filled = sum(bool(text) for pair in cells for text in pair)
    for i, (contact, signal) in enumerate(cells[:-1]):
        read = label(signal)
        if contact and read and _kind(read.text) in kinds_[i + 1] and not all(cells[i + 1]):
            return (
                f"the row has {filled} of {2 * len(pairs)} cells, and {quoted(signal, 30)} can be the next contact or "
                f"the signal of contact {contact}; not described"
            )
    return ""


def same_scheme(one: set[str], other: set[str]) -> bool:
    """Whether two columns of labels can be of one connector: both with row letters or both without, or lettered."""
    kinds = [Counter(re.sub(r"\d+", "9", text) for text in side).most_common(1) for side in (one, other)]
    if not all(kinds):
        return False
    a, b = (kind[0][0] for kind in kinds)
    lettered = "9" in (a, b) and not ("9" in a and "9" in b)
    return a == b or lettered or ("9" in a and "9" in b and "9" not in (a, b))
