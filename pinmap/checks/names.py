"""Are the names those of this bus and this generation, in its polarity, each on one contact?"""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import Finding, found
from ..model import PinMap
from ..text import listed


def generations(pin_map: PinMap) -> Iterator[Finding]:
    """Names that belong to the other generation of the bus."""
    for contact in pin_map.carrying():
        if contact.renamed and contact.signal:
            yield found(
                "name-other-generation",
                f"a map for {pin_map.bus.name} must say {contact.signal.name}, not "
                f"{contact.written} ({contact.label}): {contact.renamed}",
                f"Taken as {contact.signal.name}; check which of the two the machine has",
                contact.place,
                contacts=[contact.label],
                signals=[contact.signal.name],
            )


def polarities(pin_map: PinMap) -> Iterator[Finding]:
    """Lines that are there with the polarity opposite to the bus's."""
    turned = [c for c in pin_map.carrying() if c.inverted]
    low = [c for c in pin_map.carrying() if c.signal and c.signal.active == "low"]
    if pin_map.marks == "none" and low:
        yield found(
            "polarity-unmarked",
            f"this table marks no line as active low; the polarity of "
            f"{listed(c.name for c in low)} is the bus's, not read from the table",
            "Check one or two of them: an active-low line rests at about 3 to 5 V",
            contacts=[c.label for c in low],
            signals=[c.name for c in low],
            place=low[0].place,
        )
    none_marked = len(low) > 2 and all(c.inverted for c in low)
    for contact in turned:
        assert contact.signal is not None  # noqa: S101 - carrying()
        level = "active low" if contact.signal.active == "low" else "active high"
        advice = "If it is meant, an inverter is needed: wire cannot map it"
        if none_marked and contact.signal.active == "low":
            advice = (
                "If the table marks no line as active low, say so with `marks: none`; if it does, an inverter is needed"
            )
        yield found(
            "polarity-opposite",
            f"{contact.signal.name} must be {level} on this bus, not {contact.written} ({contact.label})",
            advice,
            contact.place,
            contacts=[contact.label],
            signals=[contact.signal.name],
        )


def signals_once(pin_map: PinMap) -> Iterator[Finding]:
    """A signal on two contacts. Both places are named."""
    for name, contacts in pin_map.by_signal.items():
        different = list({c.label: c for c in contacts}.values())
        if len(different) < 2 or not contacts[0].signal or contacts[0].signal.is_power:
            continue
        options = [c.option for c in different]
        either = all(options) and len(set(options)) == len(options)
        where = listed(f"{c.label} ({c.place.file}:{c.place.line})" if c.place.line else c.label for c in different)
        yield found(
            "signal-twice",
            f"{where} {'both' if len(different) == 2 else 'all'} carry {name}",
            "Each comes with an option of its own: fit only one"
            if either
            else "One of them is something else; find out which, it stays unconnected until then",
            different[-1].place,
            contacts=[c.label for c in different],
            signals=[name],
            grade="caution" if either else None,
        )
