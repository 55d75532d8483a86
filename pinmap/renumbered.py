"""The same connector under two numberings: which label of the one is at the position of which label of the other."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct

from .body import MATES, Body
from .mistakes import mistakes
from .text import listed


class Numberings(Struct, frozen=True):
    """Two bodies with their contacts in the same places, under different labels.

    `first` and `second` are the two numberings in words, told apart only in what differs. `moves` leads from each
    label of the second body to that of the first at the same position; where `plugged`, at the contact that it touches.
    `amounts_to` names the flip that takes the one's labels to the other's, "" where none does.
    """

    first: str
    second: str
    moves: Mapping[str, str]
    plugged: bool = False
    amounts_to: str = ""


class Renumbered(Struct, frozen=True):
    """The two maps are held against each other by position, for their `numberings` differ.

    Of the `known` contacts that carry a line, `agreeing` carry the same at the same position, and `as_given` under the
    same label (None where the labels are others).
    """

    numberings: Numberings
    agreeing: int
    as_given: int | None
    known: int


def numberings(first: Body, second: Body) -> Numberings | None:
    """Pair the labels of two bodies by position; None where the contacts lie otherwise, or every label is the same.

    Bodies that plug into each other are paired by the contacts that touch.
    """
    plugged = _plugged(first, second)
    if not plugged and MATES[first.form] != MATES[second.form]:
        return None
    face = first.mate() if plugged else first  # both seen from one side
    ours, theirs = _places(face), _places(second)
    if set(ours) != set(theirs):
        return None
    moves = {there: ours[place] for place, there in theirs.items()}
    if all(here == there for there, here in moves.items()):
        return None
    one, other = _words(face, second), _words(second, face)
    seen = ", seen on its own mating face" if plugged and face.first != second.first else ""
    flips = (m for m in mistakes(second, shifts=0, numberings=False) if len(m.kinds) == 1 and "shifted" not in m.kinds)
    flip = next((m.name for m in flips if m.moves == moves), "")
    return Numberings(one + seen, other, moves, plugged, flip)


def _plugged(first: Body, second: Body) -> bool:
    if first.form == second.form == MATES[first.form]:  # a form that is its own mate: only the gender tells
        return {first.gender, second.gender} == {"male", "female"}
    return second.form == MATES[first.form] or first.form == MATES[second.form]


def _places(body: Body) -> dict[tuple[float, float], str]:
    """The label at each position, in mm from the leftmost and topmost contact."""
    left = min(spot.x_mm for spot in body.spots.values())
    top = min(spot.y_mm for spot in body.spots.values())
    return {(round(s.x_mm - left, 2), round(s.y_mm - top, 2)): label for label, s in body.spots.items()}


def _words(body: Body, other: Body) -> str:
    """How a body is numbered: its scheme, and what else of it is otherwise on the other."""
    said: str = body.scheme
    letters = [" ".join(section.letters) for section in body.sections]
    if body.scheme == "rows":
        said += f" {' + '.join(dict.fromkeys(letters))}"
    if [(s.rows, s.places) for s in body.sections] != [(s.rows, s.places) for s in other.sections]:
        said += f" in {listed(f'{s.rows} × {s.places}' for s in body.sections)}"
    starts, others = ({s.start for s in b.sections} for b in (body, other))
    if starts != others:
        said += f" from number {listed(map(str, sorted(starts)))}"
    if body.first != other.first:
        said += f" from the {body.first}"
    return said
