"""Cells that hold a label and a name: lines of text and lists, taken apart."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence

from .errors import Place
from .importing_cells import TURNED, Reader, Split, label, split, splitter
from .tabular import Cell
from .text import listed, quoted

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


# ------------------------------------------------------------------ rows of contacts side by side

_ROW = re.compile(r"(?:row|side)?\s*([A-Z])|([A-Z])[ \-]+(?:row|side)", re.IGNORECASE)
_SIDES = {"component side": "A", "components side": "A", "solder side": "B"}


def by_rows(rows: Rows) -> tuple[Rows, list[str]]:
    """Give every signal its label where one column has the numbers and the others are headed as rows or sides."""
    for i, row in enumerate(rows[:10]):
        heads = [cell.text for cell in row[1:]]
        letters = [_row_letter(head) for head in heads]
        below = [r for r in rows[i + 1 :] if r[0].text.isdecimal()]
        if len(heads) < 2 or not all(letters) or len(set(letters)) < len(heads) or label(row[0].text):
            continue
        if len(below) < 2 or len(below) < len(rows) - i - 1 or any(len(r) > len(row) for r in below):
            continue
        named = [Cell(f"row {head.text}" if len(head.text) == 1 else head.text, head.place) for head in row[1:]]
        out = [list(r) for r in rows[:i]] + [[part for head in named for part in (Cell("", row[0].place), head)]]
        for each in below:
            pairs = zip(letters, each[1:], strict=False)
            out.append([part for x, cell in pairs for part in (Cell(f"{x}{each[0].text}", each[0].place), cell)])
        said = listed(f"{quoted(head, 30)} is row {letter}" for head, letter in zip(heads, letters, strict=True))
        return out, [f"labels: the numbers are those of each row; {said}"]
    return rows, []


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
