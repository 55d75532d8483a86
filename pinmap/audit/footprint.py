"""Where a connector's pads lie on a board, held against its body: a mirrored footprint is wired right by every name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot

from msgspec import Struct

from ..body import Body
from ..mistakes import mistakes
from .drawn import Drawn, DrawnPart, PadSpot

#: Pads lie as the contacts do when none is off by more, in mm: a quarter of the closest pitch that is common, 1.27 mm.
MOST_OFF_MM = 0.32
#: The pitch along the rows may differ by so much of it: a metric footprint (2.5 mm) on inches (2.54 mm) does by 0.016.
MOST_PITCH = 0.01
_FEWEST = 3

_Point = tuple[float, float]


class Lie(Struct, frozen=True):
    """How pads lie: `mirrored`, numbered otherwise (`numbered` says how, "" if not known), or with another pitch."""

    mirrored: bool = False
    numbered: str | None = None
    pitch_mm: float | None = None


def lie(body: Body, labels: Mapping[str, str], part: DrawnPart, drawn: Drawn) -> Lie | None:
    """Say how the pads of `part` lie otherwise than the contacts of `body`; None where they lie alike, or cannot tell.

    `labels` gives for a pad the contact that it is. A connector is soldered to the side that its footprint is on, its
    mating face away from the board; fingers lie at the edge away from the other parts. Alike is what turning and
    moving makes equal: the rows may be further apart than the contacts, as the tails of slots are.
    """
    here = _seen(part, drawn)
    at = {label: here[pad] for pad, label in labels.items() if pad in here}
    spots = {label: (spot.x_mm, spot.y_mm) for label, spot in body.spots.items()}
    there = [label for label in at if label in spots]
    if len(there) < _FEWEST:
        return None
    drawn_at = [at[label] for label in there]
    fit = _fit([spots[label] for label in there], drawn_at)
    if fit is None:
        return None
    if fit.off <= MOST_OFF_MM:
        if fit.mirrored:
            return Lie(mirrored=True)
        return Lie(pitch_mm=body.pitch_mm * fit.along) if abs(fit.along - 1) > MOST_PITCH else None
    for mistake in mistakes(body):
        moved = [mistake.moves.get(label, "") for label in there]
        if all(label in spots for label in moved):
            other = _fit([spots[label] for label in moved], drawn_at)
            if other is not None and not other.mirrored and other.off <= MOST_OFF_MM:
                return Lie(numbered=mistake.name)
    return Lie(numbered="")


def _seen(part: DrawnPart, drawn: Drawn) -> dict[str, _Point]:
    """The pads as one sees them looking at the mating face."""
    if not part.spots:
        return {}
    faces = {spot.face for spot in part.spots.values()}
    if faces == {"front", "back"}:
        return _at_the_edge(part, drawn)
    back = part.behind if faces == {"both"} else faces == {"back"}
    return {pad: (-spot.x_mm if back else spot.x_mm, spot.y_mm) for pad, spot in part.spots.items()}


def _at_the_edge(part: DrawnPart, drawn: Drawn) -> dict[str, _Point]:
    """Fingers, looking at the edge with the front of the board on top: it is the edge away from the other parts."""
    others = [spot for other in drawn.parts.values() if other.ref != part.ref for spot in other.spots.values()]
    spots = list(part.spots.values())
    one = spots[0]
    far = max(spots, key=lambda spot: hypot(spot.x_mm - one.x_mm, spot.y_mm - one.y_mm))
    length = hypot(far.x_mm - one.x_mm, far.y_mm - one.y_mm)
    if not others or not length:
        return {}
    right = (far.x_mm - one.x_mm) / length, (far.y_mm - one.y_mm) / length
    (x, y), (u, v) = _middle(spots), _middle(others)
    # Looking inwards from the edge, right is where the x axis points when the edge is at the lower end.
    inside = (u - x) * right[1] - (v - y) * right[0]
    if inside < 0:
        right = -right[0], -right[1]
    height = {"front": -1.0, "back": 1.0, "both": 0.0}
    return {pad: (s.x_mm * right[0] + s.y_mm * right[1], height[s.face]) for pad, s in part.spots.items()}


def _middle(spots: Sequence[PadSpot]) -> _Point:
    return sum(s.x_mm for s in spots) / len(spots), sum(s.y_mm for s in spots) / len(spots)


def _centred(points: Sequence[_Point]) -> list[_Point]:
    x, y = (sum(p[i] for p in points) / len(points) for i in (0, 1))
    return [(p[0] - x, p[1] - y) for p in points]


class _Fit(Struct, frozen=True):
    """How far the worst pad is `off`, in mm; whether the pads are `mirrored`; how long a step `along` the rows is."""

    off: float
    mirrored: bool
    along: float


def _fit(spots: Sequence[_Point], pads: Sequence[_Point]) -> _Fit | None:
    """Lay `spots` over `pads` with the linear map that leaves least; None where the spots are all in one place."""
    a, b = _centred(spots), _centred(pads)
    xx, xy, yy = sum(x * x for x, _ in a), sum(x * y for x, y in a), sum(y * y for _, y in a)
    one_row = yy < 1e-6 * xx
    det = xx * yy - xy * xy
    if xx < 1e-6 or (not one_row and det < 1e-6 * xx * yy):
        return None
    columns = []
    for axis in (0, 1):
        bx, by = (sum(q[axis] * p[i] for p, q in zip(a, b, strict=True)) for i in (0, 1))
        columns.append((bx / xx, 0.0) if one_row else ((bx * yy - by * xy) / det, (by * xx - bx * xy) / det))
    (m00, m01), (m10, m11) = columns
    off = max(hypot(q[0] - m00 * p[0] - m01 * p[1], q[1] - m10 * p[0] - m11 * p[1]) for p, q in zip(a, b, strict=True))
    mirrored = not one_row and m00 * m11 - m01 * m10 < 0
    return _Fit(off, mirrored, hypot(m00, m10))
