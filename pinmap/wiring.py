"""The plan as wires: which contact to join to which, one line a wire, in the order in which a person would solder."""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

from msgspec import Struct

from .adapter import Adapter, Net, State
from .model import Contact, End, Group
from .text import natural

Kind = Literal["wire", "link", "lead"]
PointEnd = Literal["host", "card", "part"]


class Point(Struct, frozen=True):
    """One end of a wire: the connector's reference, the contact's label, the footprint's pad.

    Of a part (`end` "part"): the part's reference; label and pad are both its pad.
    """

    end: PointEnd
    ref: str
    label: str
    pad: str


class Wire(Struct, frozen=True):
    """One wire from one end to the other, one link between contacts of the same connector, or one lead to a part.

    A lead starts at a contact, or at another part where its net has none, and stops at the pin of a part.
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
    Every pin of a part gets a lead of its own, after them: from the card's contacts where there are any, spread evenly.
    """
    out: list[Wire] = []
    joins = [(net, join) for net in adapter.nets for join in _joins(adapter, net)]
    for net, (kind, start, stop) in sorted(joins, key=lambda each: each[1][0] == "lead"):
        out.append(Wire(len(out) + 1, kind, start, stop, net.name, net.group, net.state, net.remark))
    return tuple(out)


def reached(adapter: Adapter, end: End, label: str) -> tuple[Contact, ...]:
    """Return the contacts of the other end that a contact leads to, by wire or through what current passes unhindered.

    That are fuses, and jumpers as they are set (pads 1 and 2).
    """
    far = "card" if end == "host" else "host"
    start = adapter.net_of(end, label)
    passing = {p.ref: tuple(pad for pad, _ in p.pins[:2]) for p in adapter.parts if p.kind in ("fuse", "jumper")}
    net_of = {pin: net for net in adapter.nets for pin in net.parts if pin[0] in passing}
    nets, seen = [start], {start.name}
    for net in nets:
        for ref, pad in net.parts:
            if pad in passing.get(ref, ()):
                others = [net_of[ref, other] for other in passing[ref] if other != pad]
                nets += [other for other in others if other.name not in seen]
                seen |= {other.name for other in others}
    return tuple(c for net in nets for c in getattr(net, far))


def unwired(adapter: Adapter) -> tuple[tuple[Net, Point], ...]:
    """Return the contacts to which nothing is soldered, with their nets: open on purpose, disputed, or for a gate.

    One that holds the lead of a part is none of them.
    """
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
    alike = adapter.host.body.scheme == adapter.card.body.scheme == "rows"
    namesakes = {p.label: p for p in many} if alike else {}  # B1 to B1, where both ends name their rows by letters
    met = {p.label for p in few} & set(namesakes)
    spare = [p for p in many if p.label not in met] or many
    others = [p for p in few if p.label not in met]
    # Spread the other wires evenly over what is left of the longer row of contacts.
    partner = namesakes | {p.label: spare[n * len(spare) // len(others)] for n, p in enumerate(others)}
    for point in few:
        other = partner[point.label]
        across.append(("wire", other, point) if other.end == "host" else ("wire", point, other))
    links: list[tuple[Kind, Point, Point]] = [("link", a, b) for a, b in pairwise(many)]
    return across + links + _leads(net, card or host)


def _leads(net: Net, contacts: list[Point]) -> list[tuple[Kind, Point, Point]]:
    pins = [Point("part", ref, pad, pad) for ref, pad in net.parts]
    if not contacts:  # only parts share this net: from one to the next
        return [("lead", a, b) for a, b in pairwise(pins)]
    return [("lead", contacts[index * len(contacts) // len(pins)], pin) for index, pin in enumerate(pins)]


def _points(adapter: Adapter, end: End, contacts: tuple[Contact, ...]) -> list[Point]:
    connector = adapter.host_connector if end == "host" else adapter.card_connector
    labels = sorted((c.label for c in contacts), key=natural)
    return [Point(end, connector.ref, label, connector.pad(label)) for label in labels]
