"""What a slot brings of the lines that a card has, as the plan has it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property

from .design import Jumper
from .model import Bus, Contact, PinMap
from .naming import Names
from .planner import plan

_CHANNEL = re.compile(r"(DRQ|DACK)(\d+)\*?")


def partner_of(bus: Bus, name: str) -> str:
    """Return the acknowledge of a DMA request, or the request of an acknowledge; "" for what is neither.

    DACK0* of the 8-bit bus has none: there it says that memory is refreshed.
    """
    match = _CHANNEL.fullmatch(name)
    if not match:
        return ""
    partner = f"DACK{match[2]}*" if match[1] == "DRQ" else f"DRQ{match[2]}"
    return partner if partner in bus.signals else ""


def unpaired(bus: Bus, jumpers: Sequence[Jumper], straight: Mapping[str, str]) -> Iterator[tuple[Jumper, str, str]]:
    """Yield each jumper of a DMA line whose partner goes elsewhere, with the partner and the line that it goes to.

    `straight`: the lines of the card that have a wire, each with the line of the slot at its other end. A partner that
    goes nowhere goes to "".
    """
    led = {jumper.signal: jumper.to[0] for jumper in jumpers if jumper.to}
    for jumper in jumpers:
        partner = partner_of(bus, jumper.signal)
        if partner and jumper.to:
            there = led.get(partner) or straight.get(partner, "")
            if _number(there) != _number(jumper.to[0]):
                yield jumper, partner, there


def _number(name: str) -> str:
    match = _CHANNEL.fullmatch(name)
    return match[2] if match else ""


class Slot:
    """Both maps, and what the slot brings of the card's lines: as the plan has it, which is the truth about that."""

    def __init__(self, host: PinMap, card: PinMap, fitted: Iterable[str]):
        self.host, self.card = host, card
        options = frozenset(fitted)
        adapter = plan(host, card, fitted)
        self.lines = {c.signal.name: c.signal for c in card.fitted(options) if c.signal}
        self.names = Names(card.bus, tuple(card.own.values()))
        self.host_names = Names(host.bus, tuple(host.own.values()))
        #: The card's lines that the slot brings, each with the host's contacts.
        self.brought = {n.signal: n.host for n in adapter.nets if n.signal and n.host and n.card}
        #: Those that it brings with the opposite polarity.
        self.opposite = {
            reading.signal.name
            for miss in adapter.unmapped
            if miss.end == "card" and miss.remedy.kind == "inverter" and (reading := self.names.read(miss.signal))
        }
        #: The host's lines: the contact of each that is there and settled, and the card's line that it is wired to.
        doubts = host.disputed(options)
        self.at_host: dict[str, Contact] = {}
        for contact in host.fitted(options):
            if contact.signal and contact.label not in doubts:
                self.at_host.setdefault(contact.signal.name, contact)
        self.wired = {
            name: net.signal
            for name, contact in self.at_host.items()
            if (net := adapter.net_of("host", contact.label)).card and net.signal
        }

    @cached_property
    def straight(self) -> dict[str, str]:
        """The card's lines that a wire, or an inverter, joins to a line of the slot, each with that line."""
        joined = {name: there.name for name, contacts in self.brought.items() if (there := contacts[0].signal)}
        return {name: name for name in self.opposite} | joined

    @cached_property
    def rails(self) -> list[str]:
        """The card's rails."""
        return [name for name, line in self.lines.items() if line.group == "supply"]
