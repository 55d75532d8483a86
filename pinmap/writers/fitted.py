"""The parts of an adapter in words: what each is, where its pins go, and which part carries a remedy out."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from ..adapter import Adapter, Net, Unmapped
from ..model import Remedy
from ..parts import Part
from ..text import listed, natural, ranges
from ..wiring import Wire, wires

#: When parts go in; said wherever a person could fit them too early.
WHEN = (
    "Fit parts and solder their leads only when every reading with power off is right: with a part in, a meter "
    "measures through it."
)
#: What is measured once more with the parts in.
AFTER = (
    "When the parts are in, power still off, measure each supply against the return once more: none may stay near "
    "0 Ω; a capacitor may beep for a moment."
)


def ribbon_said(adapter: Adapter) -> str:
    """Say where the ribbon lies, for an adapter that is one; "" for every other."""
    if adapter.design is None or adapter.design.build is None or adapter.design.build.construction != "ribbon":
        return ""
    return (
        f"{adapter.host_connector.ref} is the plug of the ribbon, each contact a conductor. Wires, links, fuses and "
        f"parts are soldered at the ribbon's other end, by {adapter.card_connector.ref}."
    )


class Fitted(Struct, frozen=True):
    """One part in words: `what` it is and does, `joined` says of each pin where it goes, `why` the value, with source.

    `leads` are the wires that end at it.
    """

    part: Part
    what: str
    value: str
    joined: tuple[str, ...]
    why: str
    leads: tuple[Wire, ...] = ()


def fitted(adapter: Adapter) -> tuple[Fitted, ...]:
    """Return every part in words, in the order of the plan."""
    net_of = {pin: net for net in adapter.nets for pin in net.parts}
    leads = [w for w in wires(adapter) if w.kind == "lead"]
    return tuple(
        Fitted(
            part,
            _what(part),
            part.value,
            tuple(_joined(adapter, net_of[part.ref, pad], pad, what) for pad, what in part.pins),
            " ".join(text for text in (part.why, f"({part.source})" if part.source else "") if text),
            tuple(w for w in leads if _of(w) == part.ref),
        )
        for part in adapter.parts
    )


def lead_said(adapter: Adapter, wire: Wire) -> str:
    """Say of a lead whose it is, with the value: "lead of R1 (10 kΩ)"; nothing of another wire."""
    if wire.kind != "lead":
        return ""
    values = {part.ref: part.value for part in adapter.parts}
    refs = dict.fromkeys(p.ref for p in (wire.stop, wire.start) if p.end == "part")
    return f"lead of {listed(f'{ref} ({values[ref]})' if values.get(ref) else ref for ref in refs)}"


def remedy_said(unmapped: Unmapped, remedy: Remedy | None = None) -> str:
    """The remedy of a line that does not map, behind the parts that carry it out, where any do."""
    said = str(remedy or unmapped.remedy)
    return f"carried out by {listed(unmapped.parts)}: {said}" if unmapped.parts else said


def _what(part: Part) -> str:
    """The kind, and the purpose where it does not say the kind itself."""
    named = part.purpose.startswith(part.kind)
    return part.purpose if named else f"{part.kind}: {part.purpose}" if part.purpose else part.kind


def _of(wire: Wire) -> str:
    return wire.stop.ref if wire.stop.end == "part" else wire.start.ref


def _joined(adapter: Adapter, net: Net, pad: str, what: str) -> str:
    """Where one pin goes: `pin 8 (OUT) to OSC (J2 B30)`; a supply is called by its name only."""
    pin = f"pin {pad}" if what in ("", pad, net.name, net.signal) else f"pin {pad} ({what})"
    contacts = _labels(adapter.host_connector.ref, [c.label for c in net.host]) + _labels(
        adapter.card_connector.ref, [c.label for c in net.card]
    )
    if not contacts or net.group in ("supply", "return"):
        return f"{pin} to {net.name}"
    return f"{pin} to {net.signal or net.name} ({', '.join(contacts)})"


def _labels(ref: str, labels: Sequence[str]) -> list[str]:
    return [f"{ref} {ranges(sorted(labels, key=natural))}"] if labels else []
