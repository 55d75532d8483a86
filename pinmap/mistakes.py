"""The geometric mistakes that a person can make with a connector, as moves from contact to contact.

All of them are seen in the frame of the labels, not of the drawing: row 0 holds the first contact, places count away
from it. A move takes the label at which something *was written* (or wired) to the label at which it *belongs*.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Literal

from msgspec import Struct

from .body import Body, Cell
from .text import count, natural

Kind = Literal["mirrored", "rows swapped", "turned", "shifted", "part shifted", "numbering"]


class Mistake(Struct, frozen=True):
    """One mistake: `kinds` it is made of, `name` as a sentence says it, `why` it comes about, and its `moves`.

    `moves` holds only the labels that land on the body; it is one to one. Where only a part of the table is wrong,
    `begins` is its first contact, and `perhaps` are those in front of it that tell nothing either way.
    """

    kinds: tuple[Kind, ...]
    name: str
    why: str
    moves: Mapping[str, str]
    begins: str = ""
    perhaps: tuple[str, ...] = ()


def table_order(body: Body) -> list[str]:
    """Return the labels as a table lists them: A1 to A31, then B1; where one row is lettered, Z before AA."""
    return list(body.labels) if body.scheme == "lettered" else sorted(body.labels, key=natural)


def mistakes(body: Body, *, shifts: int = 3, numberings: bool = True) -> tuple[Mistake, ...]:
    """Return every mistake that moves something on `body`, each movement once, under its simplest name.

    `shifts` is the greatest number of places by which a row may be off. `numberings`: with the labels read in another
    numbering scheme.
    """
    cells = body.cells
    at = {cell: label for label, cell in cells.items()}
    seen: set[frozenset[tuple[str, str]]] = set()
    out: list[Mistake] = []
    for kinds, name, why, moved in _all(body, shifts, numberings):
        moves = {label: at[there] for label, cell in cells.items() if (there := moved(cell)) in at}
        key = frozenset(moves.items())
        if key in seen or all(a == b for a, b in key) or len(set(moves.values())) < len(moves):
            continue
        seen.add(key)
        out.append(Mistake(kinds, name, why, moves))
    return tuple(out)


_Move = Callable[[Cell], Cell]
_FLIPS: tuple[tuple[tuple[Kind, ...], str, str, bool, bool], ...] = (
    ((), "", "", False, False),
    (("mirrored",), "mirrored end to end", "read from the solder side, or numbered from the other end", True, False),
    (("rows swapped",), "with its rows swapped", "row taken for row", False, True),
    (("turned",), "turned by 180°", "begun at the opposite corner", True, True),
)


def _all(body: Body, shifts: int, numberings: bool) -> Iterator[tuple[tuple[Kind, ...], str, str, _Move]]:
    """Every mistake with its movement, the simplest first."""
    sizes = [(section.rows, section.places) for section in body.sections]
    for kinds, name, why, along, across in _FLIPS:
        yield kinds, name, why, _flip(sizes, along, across)
    for steps in (s for n in range(1, shifts + 1) for s in (n, -n)):
        # Written too far by `steps`: it belongs that much nearer to the first contact.
        for kinds, name, why, along, across in _FLIPS:
            off = f"off by {count(abs(steps), 'place')} {'away from' if steps > 0 else 'towards'} contact 1's end"
            yield (
                (*kinds, "shifted"),
                f"{name} and {off}" if name else off,
                f"{why}, and counted from the wrong place" if why else "counted from the wrong place",
                _shift(_flip(sizes, along, across), steps),
            )
    if body.scheme == "zigzag":  # where the labels cross the rows, one contact too far is in another row
        for step in (1, -1) if shifts < 2 else (1, -1, 3, -3):
            side = "away from" if step > 0 else "towards"
            name = f"off by {count(abs(step), 'contact')} {side} contact 1"
            yield ("shifted",), name, "counted from the wrong contact", _count_on(sizes, -step)
    if not numberings:
        return
    for true, assumed, flips in _numbering_pairs(body):
        # A table and a connector can each be turned, and that is not the same.
        written, lying = (f", {f[1]}" * bool(f[1]) for f in flips)
        yield (
            ("numbering", *(k for f in flips for k in f[0])),
            f"numbered {_SCHEME_WORDS[true]}{lying}, but read {_SCHEME_WORDS[assumed]}{written}",
            "its numbers were read in another numbering scheme",
            _renumber(sizes, true, assumed, [(f[3], f[4]) for f in flips]),
        )


def _flip(sizes: list[tuple[int, int]], along: bool, across: bool) -> _Move:
    def moved(cell: Cell) -> Cell:
        section, row, place = cell
        rows, places = sizes[section]
        return section, rows - 1 - row if across else row, places - 1 - place if along else place

    return moved


def _shift(first: _Move, steps: int) -> _Move:
    def moved(cell: Cell) -> Cell:
        section, row, place = first((cell[0], cell[1], cell[2] - steps))
        return section, row, place

    return moved


def _count_on(sizes: list[tuple[int, int]], step: int) -> _Move:
    """Go `step` labels further where the labels cross the rows."""

    def moved(cell: Cell) -> Cell:
        section, row, place = cell
        rows, _ = sizes[section]
        there = place * rows + row + step
        return section, there % rows, there // rows

    return moved


_SCHEMES = ("rows", "zigzag", "ring")
_SCHEME_WORDS = {"rows": "row by row", "zigzag": "across the rows", "ring": "round the connector"}
#: What each labelling amounts to when it is counted through with plain numbers.
_COUNTED = {"rows": "rows", "serial": "rows", "lettered": "rows", "zigzag": "zigzag", "ring": "ring"}
_Flip = tuple[tuple[Kind, ...], str, str, bool, bool]


def _numbering_pairs(body: Body) -> Iterator[tuple[str, str, tuple[_Flip, _Flip]]]:
    """The scheme that is true, the one that was assumed, and how each lies on the connector.

    Where the labels are plain numbers, only the true scheme is in doubt; labels with row letters may come from a
    table of plain numbers, counted in any way.
    """
    plain = body.scheme in ("zigzag", "serial", "ring")
    own = _COUNTED[body.scheme]
    for assumed in (own,) if plain else _SCHEMES:
        for before in _FLIPS[:1] if plain else _FLIPS:
            for true in _SCHEMES:
                for after in _FLIPS:
                    if true != assumed and all(s.rows == 2 for s in body.sections):
                        yield true, assumed, (before, after)


def _number(scheme: str, rows: int, places: int, row: int, place: int) -> int:
    if scheme == "rows":
        return row * places + place
    if scheme == "zigzag":
        return place * rows + row
    return place if row == 0 else rows * places - 1 - place


def _renumber(sizes: list[tuple[int, int]], true: str, assumed: str, flips: list[tuple[bool, bool]]) -> _Move:
    tables: list[dict[int, tuple[int, int]]] = [
        {_number(true, r, p, row, place): (row, place) for row in range(r) for place in range(p)} for r, p in sizes
    ]
    before, after = (_flip(sizes, along, across) for along, across in flips)

    def moved(cell: Cell) -> Cell:
        section, row, place = before(cell)
        rows, places = sizes[section]
        return after((section, *tables[section][_number(assumed, rows, places, row, place)]))

    return moved
