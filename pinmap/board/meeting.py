"""How the board meets the machine and the card: which side, which form, how thick, what is in the way. In words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import hypot

from ..adapter import Adapter
from ..body import GENDERS
from ..design import BoardDesign
from ..errors import PinmapError
from ..text import natural, ranges
from . import footprints, orientation
from .layout import Layer, Pad, Ring, Rules
from .placing import Stand

#: How thick a card is at its fingers, and by how much it may differ, in µm. From memory.
CARD_UM, CARD_PLAY_UM = 1570, 200


def host_side(adapter: Adapter, spec: BoardDesign) -> Layer:
    """The side of the machine's connector: one that is plugged onto the machine's looks away from the card."""
    if spec.host:
        return spec.host
    return ("back" if spec.card == "front" else "front") if _direct(adapter) else "front"


def _direct(adapter: Adapter) -> bool:
    """Whether the machine's connector is an upright header that is plugged onto it, board parallel to board."""
    return GENDERS.get(adapter.on_board(adapter.host_connector).form) is not None and not _ribbon(adapter)


def _ribbon(adapter: Adapter) -> bool:
    """Whether a ribbon leads from the machine's connector to the board."""
    body = adapter.host_connector.body
    return adapter.on_board(adapter.host_connector).form != body.form


def meets(adapter: Adapter, spec: BoardDesign) -> tuple[str, ...]:
    """How the board meets the machine, in words. Raises `PinmapError` where the form does not fit the connector."""
    ref = adapter.host_connector.ref
    body = adapter.on_board(adapter.host_connector)
    side = host_side(adapter, spec)
    if _ribbon(adapter):
        return (
            f"{ref} is {body.a_form} like the machine's own, on the {side}: a ribbon with a socket at both ends joins "
            "the two, pad 1 with pad 1.",
        )
    if body.form == "edge fingers" or footprints.board_edge_um(body) is not None:
        if spec.form == "flat":
            raise PinmapError(
                f"a board with {body.form} stands in the machine's connector and does not lie flat",
                "Say form: right-angle riser, where the card lies across it, or straight riser",
                spec.place,
            )
        build = adapter.design.build if adapter.design else None
        wires = build and build.construction != "printed board"
        beside = f" The file says {build.construction}, of which this board has nothing." if build and wires else ""
        return (f"{ref}, {body.a_form}, goes into the machine's connector at the lower edge.{beside}",)
    if GENDERS.get(body.form) and spec.form != "flat":
        raise PinmapError(
            f"a board with {body.a_form} is plugged onto the machine's connector and lies parallel to it; it is no "
            f"{spec.form}",
            "Say form: flat",
            spec.place,
        )
    words = f"{ref}, {body.a_form} on the {side}, is plugged onto the machine's connector."
    if side == spec.card:
        card = adapter.card_connector.ref
        words += f" {card} is on the same side: the card points towards the machine, see that there is room."
    return (words,)


def at_the_bracket(adapter: Adapter, faces: orientation.Faces, pads: Sequence[Pad], outline: Ring) -> Iterator[str]:
    """Where the board ends at the card's bracket, and how many cards there are."""
    first = next(pad for pad in pads if pad.ref == adapter.card_connector.ref and pad.function == faces.first)
    xs = [x for x, _ in outline]
    beyond = first.x_um - min(xs) if faces.bracket == "left" else max(xs) - first.x_um
    yield (
        f"At the bracket's end the board goes {beyond / 1000:.1f} mm beyond contact {faces.first}: see that the "
        "bracket, which reaches below the card's fingers, passes it"
    )
    cards = len(adapter.design.cards) if adapter.design else 0
    if cards > 1:
        yield f"The budget is for {cards} cards; this board has one connector for a card"


def thickness(adapter: Adapter, spec: BoardDesign, rules: Rules) -> None:
    """Fingers must have the thickness of a card."""
    fingers = adapter.on_board(adapter.host_connector).form == "edge fingers"
    if fingers and abs(rules.thickness_um - CARD_UM) > CARD_PLAY_UM:
        raise PinmapError(
            f"a board with fingers must be as thick as a card, {CARD_UM / 1000:g} mm within {CARD_PLAY_UM / 1000:g} mm "
            f"(from memory), not {rules.thickness_um / 1000:g} mm",
            "Leave thickness out, or say 1.6 mm",
            spec.place,
        )


def under_the_card(spec: BoardDesign, stands: Sequence[Stand]) -> Iterator[str]:
    """Parts over which the card may pass: they stand in line with its connector."""
    refs = [s.block.ref for s in stands[2:] if s.line == "upper"]
    if refs and spec.form != "straight riser":
        one = len(refs) == 1
        yield (
            f"{ranges(sorted(refs, key=natural))} {'stands' if one else 'stand'} in line with the card's connector: "
            f"see that {'it is' if one else 'they are'} low enough for the card to pass"
        )


def capacitors(adapter: Adapter, pads: Sequence[Pad]) -> Iterator[str]:
    """How far the capacitors of the card's rails are from its contacts, at most."""
    ref = adapter.card_connector.ref
    far: list[float] = []
    for part in adapter.parts:
        if part.kind != "capacitor" or not part.purpose.endswith(" at the card"):
            continue
        own = next(pad for pad in pads if (pad.ref, pad.number) == (part.ref, part.pins[0][0]))
        contacts = [pad for pad in pads if pad.ref == ref and pad.net == own.net]
        far += [min(hypot(own.x_um - pad.x_um, own.y_um - pad.y_um) for pad in contacts)] if contacts else []
    if far:
        yield (
            f"The capacitors of the card's rails stand up to {max(far) / 1000:.0f} mm from its contacts: where a card "
            "draws in bursts, solder one more from each rail to the return at the contacts themselves"
        )
