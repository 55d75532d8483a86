"""What a slot brings of the lines that a card has, as the plan has it."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

from .model import Contact, PinMap
from .naming import Names
from .planner import plan


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
    def rails(self) -> list[str]:
        """The card's rails."""
        return [name for name, line in self.lines.items() if line.group == "supply"]
