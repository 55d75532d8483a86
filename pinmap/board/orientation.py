"""Which way the card stands: how its connector may be turned on the board, and that in words."""

from __future__ import annotations

from msgspec import Struct

from ..adapter import AdapterConnector
from ..design import BoardDesign, Bracket, Facing
from ..errors import PinmapError
from ..text import listed
from .layout import Pad

#: The row that lies on the component side of a card, in the buses that have letters for rows (FACTS of the ISA bus:
#: PC/104 Specification 2.6 and the open footprint of the fingers).
_COMPONENT_ROW = "A"


class Faces(Struct, frozen=True):
    """How a card stands: where contact 1 and the bracket lie, seen from the front, and where its component side looks.

    `facing` is None for a connector without a row A.
    """

    bracket: Bracket
    facing: Facing | None
    first: str


def faces(spec: BoardDesign, connector: AdapterConnector, pads: list[Pad]) -> Faces:
    """Read off the pads of the card's connector, as they lie on the board, how the card stands."""
    at = {pad.function: pad for pad in pads if pad.function in connector.body.spots}
    row = [label for label in at if label.startswith(_COMPONENT_ROW) and label[1:].isdigit()]
    other = [label for label in at if label.startswith("B") and label[1:].isdigit()]
    labels = row or list(connector.body.labels)
    labels = sorted((label for label in labels if label in at), key=lambda label: (len(label), label))
    bracket: Bracket = "left" if at[labels[0]].x_um < at[labels[-1]].x_um else "right"
    facing: Facing | None = None
    if row and other:
        above = at[row[0]].y_um < at[other[0]].y_um
        if spec.form == "straight riser":
            # A connector that lies down at the upper edge: of its rows that is further from the board whose holes are
            # further in.
            away, near = ("front", "back") if spec.card == "front" else ("back", "front")
            facing = near if above else away  # type: ignore[assignment]
        else:
            facing = "upper edge" if above else "lower edge"
    return Faces(bracket, facing, labels[0])


def wanted(spec: BoardDesign, found: dict[int, Faces]) -> list[int]:
    """The angles at which the card's connector stands as the file says; `found` has those that can be.

    Raises `PinmapError` where none does: then the two wishes are those of a card that is mirrored.
    """
    out = [
        angle
        for angle, each in found.items()
        if spec.bracket in (None, each.bracket) and (spec.facing is None or spec.facing == each.facing)
    ]
    if out:
        return out
    ways = listed((f"bracket: {each.bracket} with component side: {each.facing}" for each in found.values()), "or")
    raise PinmapError(
        f"a card must not be mirrored: with its bracket at the {spec.bracket} its component side cannot look to the "
        f"{spec.facing}",
        f"What can be, with the card's connector on the {spec.card}: {ways}",
        spec.place,
    )


def words(spec: BoardDesign, each: Faces) -> tuple[str, ...]:
    """Say how the board and the card stand."""
    stands = {
        "flat": f"The board lies flat, and the card stands upright on its {spec.card}.",
        "right-angle riser": f"The board stands upright in the machine; the card lies across it, on its {spec.card}.",
        "straight riser": (
            "The board stands upright in the machine; the card goes on upwards in its plane, in a connector that lies "
            f"on the {spec.card}, its mouth at the upper edge."
        ),
    }[spec.form]
    where = f" The card's component side looks to the {each.facing}." if each.facing else ""
    return (
        f"{stands}{where}",
        f"Contact {each.first} of the card's connector lies at the {each.bracket}, seen from the front: there its "
        "bracket comes to lie.",
    )
