"""Headers as people draw them: contacts in the middle, each signal outside beside its own: "GND  1 o o 2  RESET"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import islice

from msgspec import Struct

from .errors import Place
from .importing_cells import MAX_READ, Reader
from .tabular import Cell
from .text import quoted

_LABEL = r"(?:[A-Za-z]\d{1,3}|\d{1,3}|[A-HJ-NPR-Z]{1,2})"
_WALL = r"\s\[\]()|│┃║"  # what bounds a contact
_HOLES = r"oOx*.:·•○●◯■□+\-–—─=_"  # what stands for the contacts, or joins them
_FIRST = re.compile(rf"(?<![^\s\[(|│┃║])(?P<label>{_LABEL})(?=[{_WALL}])")
_SECOND = re.compile(
    rf"(?P<between>[{_WALL}]+(?:(?<=[{_WALL}])[{_HOLES}]+(?=[{_WALL}])[{_WALL}]+)*)"
    rf"(?P<label>{_LABEL})(?=[\s\])|│┃║]|$)"
)
_BEGINS = re.compile(rf"\s*{_LABEL}[\s:=.)]+")
_DASHES = r"-–—─=_.·"
_STUB_AFTER = re.compile(rf"(?<!<)(?<![<{_DASHES}])[{_DASHES}]+$")
_STUB_BEFORE = re.compile(rf"^[{_DASHES}]+(?![{_DASHES}>])")
_PERHAPS_MINUS = re.compile(r"[-–—](?:\s*\d|[^\s\-–—])")  # "- 5V", "-5V", "-IOR"
_MOST = 10  # words in a line that can be labels: a drawing has two, and names that look like them
_LONGEST = 60  # letters of a name
_FEWEST = 2  # lines that make a drawing
_DRAWN = 0.6  # of the lines that must be drawn so
_NAMED = 0.5  # of the texts outside that must be lines


class Drawing(Struct, frozen=True):
    """The lines of a drawing as rows of contact, signal, note, twice; the first of them; what is to be said."""

    rows: list[list[Cell]]
    first: int
    said: tuple[str, ...]


PAIRS = ((0, 1), (3, 4))  # columns of contacts and signals in a drawing's rows
NOTES = (2, 5)


class _Half(Struct):
    """One contact of a line and the text outside of it, with the letters before each in the line."""

    label: str
    at: int
    text: str
    text_at: int
    note: str = ""


_Pair = tuple[_Half, _Half]


def drawing(rows: Sequence[Sequence[Cell]], reader: Reader) -> Drawing | None:
    """Read lines of text as a drawing; None where most are none, or where two readings are as good."""
    texts = [_line(row) for row in rows]
    pairs = _read(texts, reader)
    named = sum(_named(pair, reader) for pair in pairs.values())
    sides = [[pair[i].label for pair in pairs.values()] for i in (0, 1)]
    if (
        not (len(pairs) >= _FEWEST and len(pairs) >= _DRAWN * len(rows) and named >= _NAMED * 2 * len(pairs))
        or any(len(set(labels)) * 10 < len(labels) * 9 for labels in sides)
        or any(sum(bool(pair[i].text) for pair in pairs.values()) * 2 < len(pairs) for i in (0, 1))
        or named <= sum(_in_front(text, reader) for text in texts)  # "A12 A19   B12 MEMR": contacts before signals
    ):
        return None
    out: list[list[Cell]] = []
    for number, row in enumerate(rows):
        place = row[0].place
        if number in pairs:
            out.append([cell for half in pairs[number] for cell in _cells(half, place)])
        else:
            filled = [cell for cell in row if cell.text] or list(row)
            out.append([Cell("  ".join(cell.text for cell in filled), filled[0].place)])
    first = min(pairs)
    one, other = pairs[first]
    said = f"drawing: {quoted(' '.join(texts[first].split()), 60)} was read as contact {one.label} "
    said += f"with {quoted(one.text, 30)} and contact {other.label} with {quoted(other.text, 30)}"
    return Drawing(out, first, (said,))


def _read(texts: Sequence[str], reader: Reader) -> dict[int, _Pair]:
    """The two contacts of each line: those kinds of labels that leave most names of lines outside."""
    found: dict[tuple[str, str], dict[int, list[_Pair]]] = {}
    for number, text in enumerate(texts):
        for pair in _pairs(text) if len(text) <= MAX_READ else ():
            kind = (_kind(pair[0].label), _kind(pair[1].label))
            if _together(*kind):
                found.setdefault(kind, {}).setdefault(number, []).append(pair)
    left: dict[tuple[str, str], dict[int, _Pair]] = {}
    for kind, several in found.items():
        for side, stub in enumerate((_STUB_AFTER, _STUB_BEFORE)):
            halves = [pair[side] for pairs in several.values() for pair in pairs]
            _without_stubs(halves, stub)
            for half in halves:
                _without_note(half, side, reader)
        left[kind] = {n: max(pairs, key=lambda pair: _named(pair, reader)) for n, pairs in several.items()}
    out: dict[int, _Pair] = {}
    while left:  # rows A and B, then C and D
        named = {kind: sum(_named(p, reader) for n, p in lines.items() if n not in out) for kind, lines in left.items()}
        best = max(named, key=lambda kind: named[kind])
        rivals = [kind for kind in named if kind != best and not set(kind).isdisjoint(best)]
        if not named[best] or any(named[kind] == named[best] for kind in rivals):
            break
        out = left[best] | out
        left = {kind: lines for kind, lines in left.items() if set(kind).isdisjoint(best)}
    return out


def _line(row: Sequence[Cell]) -> str:
    """A row as it stood in its line, so far as spaces go."""
    out = ""
    for cell in row:
        if cell.text:
            gap = cell.place.column - 1 - len(out)
            out += " " * (gap if gap > 0 or not out else 2) + cell.text
    return out


def _in_front(text: str, reader: Reader) -> int:
    """How many names of lines there are if every contact stands before its signal."""
    first = _BEGINS.match(text) if len(text) <= MAX_READ else None
    if not first:
        return 0
    rest = text[first.end() :]
    best = int(_known(rest.strip(), reader))
    for second in islice(_FIRST.finditer(rest), _MOST):
        names = (rest[: second.start()].strip(), rest[second.end() :].strip(" \t:=.)"))
        best = max(best, sum(_known(name, reader) for name in names))
    return best


def _pairs(text: str) -> Iterable[_Pair]:
    """Every two labels of a line between which there is nothing but a drawing."""
    labels = list(islice(_FIRST.finditer(text), _MOST + 1))
    for first in labels if len(labels) <= _MOST else ():
        second = _SECOND.match(text, first.end())
        if second:
            left, right = text[: first.start()].rstrip(" \t[(|│┃║"), text[second.end() :]
            bare = right.lstrip(" \t])|│┃║")
            yield (
                _Half(first["label"], first.start(), left.strip(), len(left) - len(left.lstrip())),
                _Half(second["label"], second.start("label"), bare.strip(), len(text) - len(bare)),
            )


def _kind(label: str) -> str:
    """How a label is built: "9" for numbers, "B9" for those of row B, "A" for letters alone."""
    if label.isdecimal():
        return "9"
    return re.sub(r"\d+", "9", label) if re.search(r"\d", label) else "A"


def _together(one: str, other: str) -> bool:
    """Whether labels of these kinds stand side by side on a connector: numbers, two rows, numbers and letters."""
    if "A" in (one, other):
        return "9" in (one, other)
    return one == other == "9" or (one != other and "9" not in (one, other))


def _named(pair: _Pair, reader: Reader) -> int:
    return sum(_known(half.text, reader) for half in pair)


def _known(text: str, reader: Reader) -> bool:
    return 0 < len(text) <= _LONGEST and reader.name(text).known


def _without_stubs(halves: Sequence[_Half], stub: re.Pattern[str]) -> None:
    """Take off the dashes that lead from every signal to its contact; on some rows alone they may be a polarity.

    A single dash before names stays where it may be a minus or a mark of active low: `importing_dashes` judges it.
    """
    texts = [half for half in halves if half.text]
    runs = [stub.search(half.text) for half in texts]
    lengths = [len(run[0]) for run in runs if run]
    if not texts or len(lengths) < len(texts):
        return
    if stub is _STUB_BEFORE and any(_PERHAPS_MINUS.match(half.text) for half in texts):
        return
    for half, run in zip(texts, runs, strict=True):
        if run is None:
            continue
        if stub is _STUB_AFTER:
            apart = half.text[: run.start()].endswith(" ")
            half.text = half.text[: run.start() if apart else run.end() - min(lengths)].rstrip()
        else:
            apart = half.text[run.end() :].startswith(" ")
            rest = half.text[run.end() if apart else min(lengths) :]
            half.text_at += len(half.text) - len(rest.lstrip())
            half.text = rest.lstrip()


def _without_note(half: _Half, side: int, reader: Reader) -> None:
    """Part a signal from what stands outside of it, beyond a gap."""
    parts = [(m.start(), m[0]) for m in re.finditer(r"\S+(?: \S+)*", half.text)]
    if len(parts) < 2 or _known(half.text, reader):
        return
    at, name = parts.pop(-1 if side == 0 else 0)
    if _known(name, reader):
        half.note = "; ".join(text for _, text in parts)
        half.text, half.text_at = name, half.text_at + at


def _cells(half: _Half, place: Place) -> list[Cell]:
    return [
        Cell(half.label, Place(place.file, place.line, half.at + 1)),
        Cell(half.text, Place(place.file, place.line, half.text_at + 1)),
        Cell(half.note, Place(place.file, place.line, half.text_at + 1)),
    ]
