"""Do the labels run the right way round? A connector described from its solder side is the mirror image of itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ..body import MATES, Body, Numbering
from ..findings import Finding, found
from ..model import PinMap
from ..resemblance import same_labels


def handedness(pin_map: PinMap, references: Callable[[], tuple[PinMap, ...]]) -> Iterator[Finding]:
    """The labels lie mirrored to those of a reference with the same labels, or to the pads customary for the form."""
    body = pin_map.body
    hand = _hand(body)
    if not hand:
        return
    for other in references():
        if same_labels(pin_map, other) and other.body.form in (body.form, MATES[body.form]):
            if described_mirrored(body, other.body):
                yield _mirrored(pin_map, f"as on {other.name}")
            return
    if body.form == "din 41612" and body.scheme == "rows" and body.gender:
        male = "row a on top and contact 1 at the left, or turned by 180°"
        female = "row a below and contact 1 at the left, or turned by 180°"
        usual = _DIN_HAND if body.gender == "male" else -_DIN_HAND
        if hand != usual:
            yield _mirrored(pin_map, f"with {male if body.gender == 'male' else female}")
    if body.scheme == "zigzag" and body.pads and body.pads.scheme == "zigzag":
        pads = body.pads
        if _hand(_numbered(body, pads)) == -hand:
            right = "top left or the bottom right" if _left_top(pads) else "bottom left or the top right"
            yield _mirrored(pin_map, f"like the pads of the form: from the {right}")


#: Which way round a male DIN 41612 connector is: row a on top, contact 1 at the left, seen from the mating face. Open
#: KiCad footprint library 6.0.11, DIN41612_C_3x32_Male; the female is its mirror image.
_DIN_HAND = 1


def described_mirrored(body: Body, other: Body) -> bool:
    """Whether a body lies mirrored to `other`, which has the same labels and its form, or is its mate."""
    same = _hand(body) == _hand(other)
    return bool(_hand(body)) and (not same if body.form == other.form else body.form == MATES[other.form] and same)


def _mirrored(pin_map: PinMap, how: str) -> Finding:
    body = pin_map.body
    return found(
        "numbering-mirrored",
        f"seen from its mating face, {body.a_form} should be numbered {how}, "
        f"not the other way round (first: {body.first})",
        "Look whether the connector was drawn from its solder side; if so, correct `first`, or the order of `letters`, "
        "in the body",
        pin_map.place,
    )


def _left_top(numbering: Numbering) -> bool:
    return numbering.first in ("top left", "bottom right")


def _numbered(body: Body, numbering: Numbering) -> Body:
    """The same body, with labels that run as `numbering` does."""
    return Body(body.form, body.sections, numbering.scheme, numbering.first)


def _hand(body: Body) -> int:
    """1 where the second row lies to the right of the numbering's direction, -1 to the left, 0 for a single row.

    In a drawing with y downwards: turning from the direction of the places to the next row goes with the clock or
    against it, and no turning of the drawing changes that.
    """
    at = {cell: body.spots[label] for label, cell in body.cells.items() if cell[0] == 0}
    try:
        first, along, across = at[0, 0, 0], at[0, 0, 1], at[0, 1, 0]
    except KeyError:
        return 0
    turn = (along.x_mm - first.x_mm) * (across.y_mm - first.y_mm) - (along.y_mm - first.y_mm) * (
        across.x_mm - first.x_mm
    )
    return (turn > 0) - (turn < 0)
