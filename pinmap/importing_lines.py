"""Cells that hold a label and a name: lines of text and lists, taken apart."""

from __future__ import annotations

import re
from collections.abc import Sequence

from .errors import Place
from .importing_cells import TURNED, Reader, Split, label, split, splitter
from .tabular import Cell

Rows = list[list[Cell]]

_INNER = re.compile(r"\s+([A-Za-z]?\d{1,4})[:.)]?\s+")  # a label between two names, parted by single spaces
_LETTER = re.compile(r"(([A-HJ-NPR-Z])\2{0,2})[\s:=.)]+")  # a label of a lettered row, before its name


def lines(rows: Rows, reader: Reader) -> Rows:
    """Take lines apart that begin with a label and its name in one cell, parted by a single space or a mark."""
    firsts = [row[0].text for row in rows if row]
    pattern = splitter(text for text in firsts if label(text) is None)
    begun = sum(1 for text in firsts if label(text) or (pattern and split(text, pattern)))
    if not pattern or begun * 10 < len(firsts) * 6:
        return rows
    lasts = [row[-1].text for row in rows if len(row) > 1]
    letters = sum(bool(_LETTER.match(text)) for text in lasts) * 5 >= max(len(lasts), 1) * 4
    return [
        [part for at, cell in enumerate(row) for part in _parts(cell, pattern, reader, at == 0, letters)]
        for row in rows
    ]


def _parts(cell: Cell, pattern: re.Pattern[str], reader: Reader, first: bool, letters: bool) -> list[Cell]:
    """The label and the name of a cell; behind the first cell, of one that cannot be a name with an aside."""
    lettered = _LETTER.match(cell.text) if letters and not first else None
    if lettered:
        done: Split | None = Split(lettered[1], cell.text[lettered.end() :], lettered.end())
    else:
        done = split(cell.text, pattern) if label(cell.text) is None else None
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
        [part for i, cell in enumerate(row) for part in (_both(cell, patterns[i]) if i in patterns else [cell])]
        for row in rows
    ]


def _turned(text: str, reader: Reader) -> bool:
    """Whether a cell is a name and a label behind it, "GND 1", and not a name such as "IRQ 2"."""
    found = TURNED.match(text)
    return bool(found and reader.name(found["rest"]).known and not reader.name(text).known)


def _both(cell: Cell, pattern: re.Pattern[str]) -> list[Cell]:
    done = split(cell.text, pattern)
    return [Cell(done.label, cell.place), Cell(done.rest, cell.place)] if done else [cell, Cell("", cell.place)]
