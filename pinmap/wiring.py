"""The plan as wires: which contact to join to which, one line a wire, in the order in which a person would solder."""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

from msgspec import Struct

from .adapter import Adapter, Net, State
from .model import Contact, End, Group
from .text import natural

Kind = Literal["wire", "link"]


class Point(Struct, frozen=True):
    """One end of a wire: the connector's reference, the contact's label, the footprint's pad."""

    end: End
    ref: str
    label: str
    pad: str


class Wire(Struct, frozen=True):
    """One wire from one end to the other, or one link between contacts of the same connector.

    `number` counts from 1 in soldering order.
    """

    number: int
    kind: Kind
    start: Point
    stop: Point
    signal: str
    group: Group
    state: State
    remark: str


def wires(adapter: Adapter) -> tuple[Wire, ...]:
    """Return the wires of an adapter: returns and supplies first, then group by group, each in the bus's order.

    A net of n contacts becomes n−1 wires, as many of them as possible from end to end: where a supply has more
    contacts at one end, these are linked to each other, and every contact of the other end gets a wire of its own.
    """
    out: list[Wire] = []
    for net in adapter.nets:
        for kind, start, stop in _joins(adapter, net):
            out.append(Wire(len(out) + 1, kind, start, stop, net.name, net.group, net.state, net.remark))
    return tuple(out)


def unwired(adapter: Adapter) -> tuple[tuple[Net, Point], ...]:
    """Return the contacts to which nothing is soldered, with their nets: open on purpose, disputed, or for a gate."""
    out = []
    for net in adapter.nets:
        if net.size == 1:
            out += [
                (net, point) for point in (*_points(adapter, "host", net.host), *_points(adapter, "card", net.card))
            ]
    return tuple(out)


def _joins(adapter: Adapter, net: Net) -> list[tuple[Kind, Point, Point]]:
    host, card = _points(adapter, "host", net.host), _points(adapter, "card", net.card)
    many, few = (host, card) if len(host) >= len(card) else (card, host)
    across: list[tuple[Kind, Point, Point]] = []
    for index, point in enumerate(few):
        # Spread the wires evenly over the longer row of contacts.
        other = many[index * len(many) // len(few)]
        across.append(("wire", other, point) if other.end == "host" else ("wire", point, other))
    links: list[tuple[Kind, Point, Point]] = [("link", a, b) for a, b in pairwise(many)]
    return across + links


def _points(adapter: Adapter, end: End, contacts: tuple[Contact, ...]) -> list[Point]:
    connector = adapter.host_connector if end == "host" else adapter.card_connector
    labels = sorted((c.label for c in contacts), key=natural)
    return [Point(end, connector.ref, label, connector.pad(label)) for label in labels]
