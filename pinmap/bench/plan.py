"""What readings are held against: the contacts that must be joined, and the form of what to measure.

An adapter and a machine's bare slot become the same thing here: nets of contacts, each contact in one net.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property
from itertools import combinations
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from ..adapter import Adapter, Net
from ..body import Body
from ..findings import Finding
from ..meter import JOINED_OHMS
from ..model import Contact, Group, PinMap, Signal
from ..quantity import volts
from ..readings import SLOT, Probe, Row
from ..text import natural
from ..wiring import Wire, wires

Subject = Literal["adapter", "slot"]
Touch = Literal["joined", "apart", "doubtful"]

#: Contacts that read at least this are apart: wood, flux and fingers conduct a little. Common practice, no source.
APART_OHMS = 1e6
#: On a machine's bare slot, with the machine's own circuits behind it, only so little is a short. Common practice, no
#: source.
SLOT_SHORT_OHMS = 2.0
#: Between supplies and returns of a bare slot, what is no short but reads at most this is worth a look before power is
#: applied. Common practice, no source.
SLOT_LOW_OHMS = 30.0
#: A return must read nearer to 0 V than this, in V. Common practice, no source.
RETURN_V = 0.2
#: What a logic line, or a contact with nothing on it, may read, in V. Common practice, no source.
LINE_V = (-0.5, 5.5)
#: The tolerance of a supply whose dictionary gives none. A rule of thumb, no source.
THUMB_PERCENT = 10.0


class PlanNet(Struct, frozen=True):
    """Contacts that must be joined, and to nothing else.

    `wires` are those of the plan, as (number, one end, other end). `known`: the map says what it is. `key`: a place
    without a contact. `brought`: power on, the machine brings this net.
    """

    name: str
    group: Group
    contacts: tuple[Probe, ...]
    wires: tuple[tuple[int, Probe, Probe], ...] = ()
    known: bool = True
    unused: bool = False
    key: bool = False
    brought: bool = True

    @property
    def is_rail(self) -> bool:
        """Whether this is a supply."""
        return self.group == "supply" and not self.key

    @property
    def is_return(self) -> bool:
        """Whether this is a return."""
        return self.group == "return"


class Volts(Struct, frozen=True):
    """What a contact must read with power on: from `low` to `high`, in V, and by what rule. None: nobody knows."""

    low: float
    high: float
    rule: str
    rail: str = ""

    @property
    def span(self) -> str:
        """The limits in words, like "from +4.75 V to +5.25 V"."""
        return f"from {volts(self.low)} to {volts(self.high)}"

    def holds(self, value: float) -> bool:
        """Whether a reading in V lies within."""
        return self.low - 1e-9 <= value <= self.high + 1e-9


class Plan(Struct, frozen=True, dict=True):
    """The nets of an adapter or of a slot.

    `bridges` numbers the nets that need not read as apart; `absent` are the places without a contact.
    `refused` says why nothing must be built by the plan, `cautions` what the check of a slot's map found. `has_parts`:
    parts go in between the readings with power off, which are taken without them, and those with power on.
    """

    title: str
    subject: Subject
    bodies: Mapping[str, Body]
    nets: tuple[PlanNet, ...]
    signals: Mapping[Probe, Signal]
    bridges: Mapping[int, int] = {}
    absent: frozenset[Probe] = frozenset()
    refused: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    has_parts: bool = False

    @cached_property
    def net_of(self) -> dict[Probe, int]:
        """The number of each contact's net."""
        return {contact: index for index, net in enumerate(self.nets) for contact in net.contacts}

    @cached_property
    def labels(self) -> dict[str, tuple[str, ...]]:
        """The labels of each connector: the points that a readings file may name."""
        return {ref: body.labels for ref, body in self.bodies.items()}

    def of(self, contact: Probe) -> PlanNet:
        """The net of a contact."""
        return self.nets[self.net_of[contact]]

    def there(self, ref: str) -> tuple[Probe, ...]:
        """The contacts of one connector, without keys, in the body's order."""
        return self._there[ref]

    @cached_property
    def _there(self) -> dict[str, tuple[Probe, ...]]:
        return {
            ref: tuple(p for p in (Probe(ref, label) for label in body.labels) if p not in self.absent)
            for ref, body in self.bodies.items()
        }

    def bridged(self, one: int, other: int) -> bool:
        """Whether parts of the plan lead from one net to the other, so that they need not read as apart."""
        return one in self.bridges and self.bridges[one] == self.bridges.get(other)

    def powers(self, contact: Probe) -> bool:
        """Whether a contact belongs to a supply or a return."""
        return self.of(contact).group in ("supply", "return")

    def touch(self, one: Probe, other: Probe, ohms: float) -> Touch | None:
        """What a reading in Ω says of two contacts; None where the plan's parts leave it open."""
        a, b = self.net_of[one], self.net_of[other]
        if self.subject == "slot":  # the machine's own circuits lie between its lines
            return "joined" if ohms <= (JOINED_OHMS if a == b else SLOT_SHORT_OHMS) else "apart"
        if a != b and self.bridged(a, b):
            return "joined" if self.powers(one) and self.powers(other) and ohms <= JOINED_OHMS else None
        return "joined" if ohms <= JOINED_OHMS else "apart" if ohms >= APART_OHMS else "doubtful"

    def moved(self, carry: Mapping[Probe, Probe | None]) -> Plan:
        """The plan as it is where each contact carries what belongs to `carry` of it; None: it carries nothing."""
        inside: dict[int, list[Probe]] = {}
        bare: list[Probe] = []
        for contact in self.net_of:
            meant = carry.get(contact, contact)
            if meant is None:
                bare.append(contact)
            else:
                inside.setdefault(self.net_of[meant], []).append(contact)
        back = {meant: contact for contact, meant in carry.items() if meant}
        nets = [
            replace(
                net,
                contacts=tuple(inside.get(index, ())),
                wires=tuple((n, back.get(a, a), back.get(b, b)) for n, a, b in net.wires),
                key=False,
                unused=net.unused or net.key,
            )
            for index, net in enumerate(self.nets)
        ]
        nets += [PlanNet(f"{contact} bare", "own", (contact,), unused=True) for contact in bare]
        return replace(self, nets=tuple(nets))

    def volts(self, contact: Probe) -> Volts | None:
        """What a contact must read with power on; None for a supply whose volts nobody knows."""
        return expected_volts(self.signals.get(contact), brought=self.of(contact).brought)


def expected_volts(signal: Signal | None, *, brought: bool = True) -> Volts | None:
    """What a contact that carries `signal` must read with power on. `brought`: the machine feeds it."""
    if signal is None or not signal.is_power or not brought:
        return Volts(*LINE_V, "a contact that carries no supply; common practice, no source")
    if signal.group == "return":
        return Volts(-RETURN_V, RETURN_V, "a return; common practice, no source")
    if signal.volts is None:
        return None
    percent = signal.tolerance_percent
    # PC/104 Specification v2.6 s.4.8: ±5 % on every rail at the connector; the dictionary carries it with its source.
    rule = f"±{percent:g} %: {signal.source_of('tolerance')}" if percent else f"±{THUMB_PERCENT:g} %: a rule of thumb"
    play = abs(signal.volts) * (percent or THUMB_PERCENT) / 100
    return Volts(signal.volts - play, signal.volts + play, rule, signal.name)


# ------------------------------------------------------------------ from the plan and the map


def of_adapter(adapter: Adapter) -> Plan:
    """Return the nets of an adapter, with its keys as places without a contact, and what speaks against building it."""
    refs = {"host": adapter.host_connector, "card": adapter.card_connector}
    by_net: dict[str, list[Wire]] = {}
    for wire in wires(adapter):
        if wire.kind != "lead":  # parts go in when the wires have been measured
            by_net.setdefault(wire.signal, []).append(wire)
    feeding = {part.ref: part.feeds for part in adapter.parts if part.feeds}
    nets: list[PlanNet] = []
    signals: dict[Probe, Signal] = {}
    for net in adapter.nets:
        ends = [(Probe(refs["host"].ref, c.label), c) for c in net.host]
        ends += [(Probe(refs["card"].ref, c.label), c) for c in net.card]
        signals |= {p: c.signal for p, c in ends if c.signal}
        if ends:
            fed = net.signal is not None and any(feeding.get(ref) == net.signal for ref, _ in net.parts)
            nets.append(_adapter_net(net, tuple(p for p, _ in ends), by_net.get(net.name, ()), fed))
    there = {p for net in nets for p in net.contacts}
    for end in refs.values():
        for label in end.body.labels:
            if (p := Probe(end.ref, label)) not in there:
                nets.append(PlanNet(f"{p} key", "own", (p,), key=True))
    bodies = {end.ref: end.body for end in refs.values()}
    refused = _worst(adapter.findings) if adapter.verdict == "do not build" else ()
    return Plan(
        adapter.title,
        "adapter",
        bodies,
        tuple(nets),
        signals,
        absent=_absent(nets),
        refused=refused,
        has_parts=bool(adapter.parts),
    )


def _worst(findings: Iterable[Finding]) -> tuple[str, ...]:
    """What the dangers say, or the faults where there is no danger."""
    by_grade = {grade: tuple(f.message for f in findings if f.grade == grade) for grade in ("danger", "fault")}
    return by_grade["danger"] or by_grade["fault"]


def _absent(nets: Iterable[PlanNet]) -> frozenset[Probe]:
    return frozenset(p for net in nets if net.key for p in net.contacts)


def _adapter_net(net: Net, contacts: tuple[Probe, ...], of: Iterable[Wire], fed: bool) -> PlanNet:
    return PlanNet(
        net.name,
        net.group,
        tuple(sorted(contacts, key=_order)),
        tuple((w.number, Probe(w.start.ref, w.start.label), Probe(w.stop.ref, w.stop.label)) for w in of),
        known=all(c.role not in ("unknown", "undescribed") for c in (*net.host, *net.card)) and net.state != "conflict",
        unused=len(contacts) == 1 and all(c.role == "open" for c in (*net.host, *net.card)),
        brought=bool(net.host) or fed,
    )


def of_slot(pin_map: PinMap, fitted: Iterable[str] = (), findings: Iterable[Finding] = ()) -> Plan:
    """Return what must be joined on a machine's bare slot: all returns, and all contacts of each supply.

    `findings` are those of the check of the map; its dangers stop no one from measuring, but they are said.
    """
    options = frozenset(fitted)
    disputed = pin_map.disputed(options)
    live = {c.label: c for c in pin_map.fitted(options) if c.label not in disputed}
    signals: dict[Probe, Signal] = {}
    power: dict[str, list[Probe]] = {}
    nets: list[PlanNet] = []
    for label in pin_map.body.labels:
        contact, p = live.get(label), Probe(SLOT, label)
        if contact and contact.signal:
            signals[p] = contact.signal
            if contact.signal.is_power:
                power.setdefault(contact.signal.name, []).append(p)
                continue
        described = contact or pin_map.by_label[label]
        nets.append(_slot_net(p, described, contact is not None, label in disputed, label in pin_map.present))
    rails = [
        PlanNet(name, signals[probes[0]].group, tuple(sorted(probes, key=_order))) for name, probes in power.items()
    ]
    rails.sort(key=lambda net: not net.is_return)
    bodies = {SLOT: pin_map.body}
    cautions = tuple(f"the check of the map says danger: {f.message}" for f in findings if f.grade == "danger")
    return Plan(pin_map.title, "slot", bodies, (*rails, *nets), signals, absent=_absent(nets), cautions=cautions)


def _slot_net(p: Probe, contact: Contact, live: bool, disputed: bool, present: bool) -> PlanNet:
    group: Group = contact.signal.group if contact.signal and not contact.signal.is_power else "own"
    word = {"open": "unused", "undescribed": "undescribed"}.get(contact.role, contact.name)
    known = contact.role in ("signal", "open", "key") and not disputed
    name = word if live else f"{p} {word}"
    return PlanNet(name, group, (p,), known=known, unused=contact.role == "open", key=not present)


def _order(p: Probe) -> tuple[str, tuple[tuple[int, int, str], ...]]:
    return p.ref, natural(p.label)


# ------------------------------------------------------------------ the form

_POWER_OFF: dict[Subject, str] = {
    "adapter": "power off, nothing plugged in, no remedies fitted",
    "slot": "power off, no card in the slot",
}
POWER_ON: dict[Subject, str] = {
    "adapter": "only when all above is right: power on, the adapter in the machine, no card in it",
    "slot": "only when all above is right: power on, no card in the slot",
}
_POWER_ON_WITH_PARTS = (
    "only when all above is right: put the parts in, measure each supply against the return again, then power on, the "
    "adapter in the machine, no card in it"
)
HOW_TO_SWEEP = "one probe stays, draw the other over the whole connector; write down every contact that beeps, or none"


def form_rows(plan: Plan) -> tuple[Row, ...]:
    """Return every reading of the form in the order in which a person takes them.

    An adapter: its rails against return and each other, a sweep from each rail and return over each connector, every
    wire, neighbours that must not touch; then, in the machine, the volts of its rails - unless nothing must be built by
    the plan. A slot: rails against return and each other, a sweep from each; then the volts of every contact.
    """
    swept = _said(HOW_TO_SWEEP, power_sweeps(plan))
    if plan.subject == "slot":
        return in_order(plan, [*_resistance(plan), *swept], _slot_volts(plan))
    off = [*_resistance(plan), *swept, *_continuity(plan), *_isolation(plan)]
    return in_order(plan, off, [] if plan.refused else _volts(plan))


def in_order(plan: Plan, off: Iterable[Row], on: Iterable[Row]) -> tuple[Row, ...]:
    """Put the rows with power on behind those with power off, and say so at the first of each, and only there."""
    power_on = _POWER_ON_WITH_PARTS if plan.has_parts else POWER_ON[plan.subject]
    return (*_said(_POWER_OFF[plan.subject], off), *_said(power_on, on))


def _said(what: str, rows: Iterable[Row]) -> list[Row]:
    """Say at the first of the rows, and only there, how things must stand for all of them."""
    plain = [replace(row, note=row.note.removeprefix(f"{what}; ")) for row in rows]
    return [replace(row, note=f"{what}; {row.note}") if index == 0 else row for index, row in enumerate(plain)]


def power_sweeps(plan: Plan) -> Iterator[Row]:
    """Yield a sweep from one contact of each supply and each return over each connector, supplies first."""
    for group in ("supply", "return"):
        for net in plan.nets:
            if net.group == group and not net.key:
                # From the card's end, where the supplies are measured and a probe finds a contact most easily.
                start = next((p for p in net.contacts if p.ref == "J2"), net.contacts[0])
                yield from (sweep(plan, start, ref) for ref in plan.bodies)


def sweeps(plan: Plan) -> tuple[Row, ...]:
    """Return a sweep from every contact over every connector: with these, readings leave nothing open."""
    return tuple(sweep(plan, p, ref) for one in plan.bodies for p in plan.there(one) for ref in plan.bodies)


def sweep(plan: Plan, start: Probe, ref: str) -> Row:
    """Return the sweep from one contact over one connector."""
    joined = " ".join(p.label for p in plan.of(start).contacts if p.ref == ref and p != start)
    return Row("sweep", start, None, ref, joined or "none", _note(plan, start))


def pair(plan: Plan, one: Probe, other: Probe) -> Row:
    """Return the reading of two contacts that fits what the plan has between them."""
    a, b = plan.of(one), plan.of(other)
    if a is b:
        return Row("continuity", one, other, "", "beeps", _note(plan, one))
    kind: Literal["resistance", "isolation"] = "isolation"
    if {a.group, b.group} <= {"supply", "return"}:
        kind = "resistance"
    expected = "OL" if plan.subject == "adapter" else f"more than {SLOT_SHORT_OHMS:g} ohm"
    return Row(kind, one, other, "", expected, _note(plan, one, other))


def _note(plan: Plan, *probes: Probe) -> str:
    return " and ".join(dict.fromkeys(f"net {plan.of(p).name}" for p in probes))


def _resistance(plan: Plan) -> Iterator[Row]:
    """Every rail against every return, and each pair of rails: at the card's end where both have a contact there."""
    rails = [net for net in plan.nets if net.is_rail]
    returns = [net for net in plan.nets if net.is_return]
    for one, other in [*((rail, back) for rail in rails for back in returns), *combinations(rails, 2)]:
        a, b = plan.net_of[one.contacts[0]], plan.net_of[other.contacts[0]]
        if not plan.bridged(a, b):
            yield pair(plan, *_facing(one, other))


def _facing(one: PlanNet, other: PlanNet) -> tuple[Probe, Probe]:
    for ref in ("J2", "J1", SLOT):
        here = [next((p for p in net.contacts if p.ref == ref), None) for net in (one, other)]
        if here[0] and here[1]:
            return here[0], here[1]
    return one.contacts[-1], other.contacts[-1]


def _continuity(plan: Plan) -> Iterator[Row]:
    numbered = sorted((number, a, b) for net in plan.nets for number, a, b in net.wires)
    for number, a, b in numbered:
        yield Row("continuity", a, b, "", "beeps", f"wire {number}, {_note(plan, a)}")


def _isolation(plan: Plan) -> Iterator[Row]:
    """Each pair of neighbours of different nets once: rails first, then connector by connector."""
    rows = [pair(plan, a, b) for a, b in neighbours(plan) if not plan.bridged(plan.net_of[a], plan.net_of[b])]
    beside_rail = [row for row in rows if row.stop and (plan.of(row.start).is_rail or plan.of(row.stop).is_rail)]
    for row in (*beside_rail, *(row for row in rows if row not in beside_rail)):
        yield replace(row, kind="isolation")


def neighbours(plan: Plan) -> Iterator[tuple[Probe, Probe]]:
    """Yield each pair of physical neighbours that must not touch, once."""
    for ref, body in plan.bodies.items():
        seen = set()
        for p in plan.there(ref):
            seen.add(p.label)
            for label in body.neighbours[p.label]:
                other = Probe(ref, label)
                if label not in seen and other not in plan.absent and plan.of(other) is not plan.of(p):
                    yield p, other


def _volts(plan: Plan) -> list[Row]:
    back = _reference(plan, "J2")
    rails = [net for net in plan.nets if net.is_rail and net.brought]
    return [_volts_row(plan, p, back) for net in rails for p in net.contacts if p.ref == "J2"]


def _volts_row(plan: Plan, p: Probe, back: Probe | None) -> Row:
    span = plan.volts(p)
    return Row("volts", p, back, "", span.span if span else "volts not known", _note(plan, p))


def _reference(plan: Plan, ref: str) -> Probe | None:
    """The return on which the other probe stays."""
    return next((p for net in plan.nets if net.is_return for p in net.contacts if p.ref == ref), None)


def _slot_volts(plan: Plan) -> list[Row]:
    back = _reference(plan, SLOT)
    rows = []
    for wanted in ("supply", "return", ""):
        for p in plan.there(SLOT):
            group = plan.of(p).group if plan.powers(p) else ""
            if group == wanted and p != back:
                rows.append(_volts_row(plan, p, back))
    return rows
