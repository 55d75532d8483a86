"""Wires wrong one by one: what the evidence says of each net - passed, open, shorted to what, exchanged with what."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal, get_args

from msgspec import Struct

from ..meter import JOINED_OHMS
from ..model import Group
from ..readings import Probe, Row
from ..text import listed
from .graph import Evidence, shown
from .plan import APART_OHMS, Plan, PlanNet, neighbours, pair, sweep
from .volts import Measured

State = Literal[
    "exchanged",
    "moved",
    "open",
    "shorted",
    "doubtful",
    "out of tolerance",
    "partly measured",
    "not measured",
    "no rail found on it",
    "passed",
]
STATES: tuple[State, ...] = get_args(State)
#: The states of a net that is not as the plan has it.
WRONG: tuple[State, ...] = STATES[:6]


VOLTS_UNKNOWN = "the map does not say its volts"
_MOST_PLACES = 6
_MOST_PARTNERS = 3


class NetVerdict(Struct, frozen=True):
    """What the readings say of one net.

    `contacts` are those concerned, `others` the nets that it is mixed up with, `wires` the numbers of the plan's wires
    to look at, `near` the neighbouring contacts where a bridge would join it to those nets.
    """

    name: str
    group: Group
    states: tuple[State, ...]
    sentence: str
    contacts: tuple[Probe, ...] = ()
    others: tuple[str, ...] = ()
    wires: tuple[int, ...] = ()
    near: tuple[tuple[Probe, Probe], ...] = ()

    @property
    def wrong(self) -> bool:
        """Whether it is not as the plan has it."""
        return any(state in WRONG for state in self.states)


class Faults(Struct, frozen=True):
    """The verdict of every net, in the plan's order, and the `settling` readings that would tell causes apart."""

    nets: tuple[NetVerdict, ...]
    settling: tuple[Row, ...]


def judge_nets(plan: Plan, evidence: Evidence, form: Sequence[Row], volts: Sequence[Measured] = ()) -> Faults:
    """Judge every net of the plan; `form` holds the readings that a net needs to pass, `volts` those taken."""
    return _Judge(plan, evidence, form, volts).faults()


class _Split(Struct, frozen=True):
    """One net's contacts by the component they lie in: the greatest part, what is cut off, what is not yet measured."""

    net: int
    parts: dict[int, tuple[Probe, ...]]
    main: int
    cut: tuple[int, ...]
    loose: tuple[int, ...]


class _Judge:
    def __init__(self, plan: Plan, evidence: Evidence, form: Sequence[Row], volts: Sequence[Measured]):
        self.plan, self.evidence = plan, evidence
        self.volts = {m.contact: m for m in volts}
        self.nets_in: dict[int, list[int]] = {}
        self.splits = [self._split(index, net) for index, net in enumerate(plan.nets)]
        self.near: dict[frozenset[int], list[tuple[Probe, Probe]]] = {}
        for a, b in neighbours(plan):
            self.near.setdefault(frozenset((plan.net_of[a], plan.net_of[b])), []).append((a, b))
        self.doubts: dict[int, list[str]] = {}
        self._collect_doubts()
        self.rows: dict[int, list[Row]] = {}
        for row in form:
            ends = (row.start, row.stop) if row.stop and row.kind != "volts" else (row.start,)
            for index in {plan.net_of[p] for p in ends}:
                self.rows.setdefault(index, []).append(row)
        self.settling: list[Row] = []

    def _split(self, index: int, net: PlanNet) -> _Split:
        parts: dict[int, list[Probe]] = {}
        for contact in net.contacts:
            parts.setdefault(self.evidence.component[contact], []).append(contact)
        for number in parts:
            self.nets_in.setdefault(number, []).append(index)
        main = max(parts, key=lambda number: len(parts[number])) if parts else -1
        others = [number for number in parts if number != main]
        cut = tuple(n for n in others if (main, n) in self.evidence.separate)
        return _Split(
            index, {n: tuple(p) for n, p in parts.items()}, main, cut, tuple(n for n in others if n not in cut)
        )

    def _collect_doubts(self) -> None:
        for edge in self.evidence.edges:
            if edge.touch == "doubtful":
                said = f"{edge.one} to {edge.other} {shown(edge)} ({edge.where})"
                for index in {self.plan.net_of[edge.one], self.plan.net_of[edge.other]}:
                    self.doubts.setdefault(index, []).append(said)

    # ------------------------------------------------------------------ clusters

    def faults(self) -> Faults:
        verdicts: dict[int, NetVerdict] = {}
        clusters = self._clusters()
        for cluster in clusters:
            for verdict, index in self._cluster(cluster, clusters):
                verdicts[index] = verdict
        for split in self.splits:
            if split.parts and split.net not in verdicts:
                verdicts[split.net] = self._unhurt(split)
        nets = (verdicts[split.net] for split in self.splits if split.parts)
        kept = (v for v, s in zip(nets, (s for s in self.splits if s.parts), strict=True) if self._told(v, s))
        return Faults(tuple(kept), tuple(dict.fromkeys(self.settling)))

    def _told(self, verdict: NetVerdict, split: _Split) -> bool:
        """Whether a net is one to speak of: a key is only where something is wrong with it."""
        return verdict.wrong or not self.plan.nets[split.net].key

    def _clusters(self) -> list[list[_Split]]:
        """The nets that are split or mixed, those together that share a component."""
        hurt = [s for s in self.splits if s.cut or any(len(self.nets_in[n]) > 1 for n in s.parts)]
        by_net = {s.net: s for s in hurt}
        seen: set[int] = set()
        out = []
        for split in hurt:
            cluster: list[_Split] = []
            todo = [split.net]
            while todo:
                net = todo.pop()
                if net not in seen:
                    seen.add(net)
                    cluster.append(by_net[net])
                    todo += [other for number in by_net[net].parts for other in self.nets_in[number]]
            if cluster:
                out.append(sorted(cluster, key=lambda s: s.net))
        return out

    def _cluster(self, cluster: list[_Split], clusters: list[list[_Split]]) -> list[tuple[NetVerdict, int]]:
        ring = self._ring(cluster)
        if ring:
            return [(self._exchanged(split, ring), split.net) for split in cluster]
        moved = self._moved(cluster)
        if moved:
            return moved
        if len(cluster) == 1:
            return [(self._open(cluster[0], clusters), cluster[0].net)]
        return [(self._mixed(split), split.net) for split in cluster]

    # ------------------------------------------------------------------ exchanged

    def _ring(self, cluster: list[_Split]) -> list[int]:
        """The nets of a cluster whose parts have changed places in a ring, each after the one whose place it took."""
        numbers = {number for split in cluster for number in split.parts}
        if len(cluster) < 2 or len(numbers) != len(cluster):
            return []
        if any(len(s.parts) != 2 for s in cluster) or any(len(self.nets_in[n]) != 2 for n in numbers):
            return []
        return [split.net for split in cluster]

    def _exchanged(self, split: _Split, ring: list[int]) -> NetVerdict:
        net = self.plan.nets[split.net]
        others = [self.plan.nets[index].name for index in ring if index != split.net]
        reached = []
        for number, contacts in split.parts.items():
            strangers = [p for p in self.evidence.members[number] if self.plan.net_of[p] != split.net]
            reached.append(f"{points(contacts)} reaches {points(strangers)} ({self._names(strangers)})")
        sentence = f"exchanged with {listed(others)}: {listed(reached)}"
        if not split.cut:
            sentence += "; or all of these are shorted: whether its own contacts are joined is not measured"
            self.settling += self._between(split)
        wires = tuple(dict.fromkeys(n for index in ring for n, _, _ in self._crossing(self.splits[index])))
        if wires:
            sentence += f"; look at both ends of wires {listed(map(str, wires))}"
        return NetVerdict(net.name, net.group, ("exchanged",), sentence, net.contacts, tuple(others), wires)

    def _moved(self, cluster: list[_Split]) -> list[tuple[NetVerdict, int]]:
        """A wire that goes to a contact at which the plan has none, where that contact would have been free."""
        if len(cluster) != 2:
            return []
        split, free = sorted(cluster, key=lambda s: -len(s.parts))
        if len(split.parts) != 2 or not split.cut or len(self.plan.nets[free.net].contacts) != 1:
            return []
        away = self.plan.nets[free.net].contacts[0]
        left = next(contacts for number, contacts in split.parts.items() if number != self.evidence.component[away])
        for number, a, b in self._crossing(split):
            lost, kept = (a, b) if a in left else (b, a)
            if lost.ref == away.ref:
                net, other = self.plan.nets[split.net], self.plan.nets[free.net]
                why = f"{kept} reaches {away} ({other.name}) instead of {lost}; look at wire {number}"
                return [
                    (
                        NetVerdict(net.name, net.group, ("moved",), why, (kept, lost, away), (other.name,), (number,)),
                        split.net,
                    ),
                    (
                        NetVerdict(
                            other.name,
                            other.group,
                            ("shorted",),
                            f"taken by {net.name}, whose wire {number} belongs at {lost}",
                            (away,),
                            (net.name,),
                            (number,),
                        ),
                        free.net,
                    ),
                ]
        return []

    # ------------------------------------------------------------------ open and shorted

    def _open(self, split: _Split, clusters: list[list[_Split]]) -> NetVerdict:
        """A net in pieces of which none has met another net, as far as it was measured."""
        net = self.plan.nets[split.net]
        sentence, wires = self._cut_off(split)
        partners = [
            other[0].net
            for other in clusters
            if len(other) == 1 and other[0].net != split.net and self._could_be_exchanged(split, other[0])
        ]
        others: tuple[str, ...] = ()
        if partners:
            names = tuple(self.plan.nets[index].name for index in partners)
            others = names if len(names) <= _MOST_PARTNERS else ()
            who = listed(others, "or") if others else f"one of {len(names)} other open nets"
            sentence += f"; or exchanged with {who}: not yet measured across"
            if len(partners) == 1:
                self.settling += self._across(split, self.splits[partners[0]])
        if len(partners) != 1:
            rows = self._to_sweep(split)
            if rows and not partners:
                sentence += "; or its wire goes to a wrong contact: not yet swept"
            self.settling += rows
        return NetVerdict(net.name, net.group, ("open",), sentence + self._doubt(split), net.contacts, others, wires)

    def _cut_off(self, split: _Split) -> tuple[str, tuple[int, ...]]:
        lost = [p for number in split.cut for p in split.parts[number]]
        wires = tuple(n for n, _, _ in self._crossing(split))
        sentence = f"{points(lost)} cut off from {points(split.parts[split.main])}"
        if wires:
            sentence += f"; look at wire{'s' if len(wires) > 1 else ''} {listed(map(str, wires))}"
        return sentence, wires

    def _could_be_exchanged(self, one: _Split, other: _Split) -> bool:
        """Whether a part of each could still turn out to reach the other, both ways."""
        return any(
            not self._separate(a, c) and not self._separate(b, d)
            for a, b in self._halves(one)
            for c, d in self._halves(other)
        )

    def _halves(self, split: _Split) -> list[tuple[int, int]]:
        return [pair for cut in split.cut for pair in ((split.main, cut), (cut, split.main))]

    def _separate(self, one: int, other: int) -> bool:
        return (one, other) in self.evidence.separate

    def _across(self, one: _Split, other: _Split) -> list[Row]:
        """The two readings that tell whether two nets are exchanged: from each to where the other should go."""
        rows = []
        for (_, a, b), (_, c, d) in zip(self._crossing(one)[:1], self._crossing(other)[:1], strict=False):
            rows = [pair(self.plan, *ends) for ends in ((a, d), (c, b)) if not self.evidence.settled(*ends)]
        return rows

    def _to_sweep(self, split: _Split) -> list[Row]:
        rows = []
        for _, a, b in self._crossing(split):
            for start, ref in ((a, b.ref), (b, a.ref)):
                if not all(self.evidence.settled(start, p) for p in self.plan.there(ref)):
                    rows.append(sweep(self.plan, start, ref))
        return rows

    def _mixed(self, split: _Split) -> NetVerdict:
        net = self.plan.nets[split.net]
        states: list[State] = []
        said: list[str] = []
        wires: tuple[int, ...] = ()
        if split.cut:
            states.append("open")
            sentence, wires = self._cut_off(split)
            said.append(sentence)
        names: list[str] = []
        near: list[tuple[Probe, Probe]] = []
        for number, contacts in split.parts.items():
            for other in self.nets_in[number]:
                if other != split.net:
                    states.append("shorted")
                    names.append(self.plan.nets[other].name)
                    sentence, places = self._short(contacts, self.splits[other].parts[number])
                    said.append(f"shorted to {self.plan.nets[other].name}: {sentence}")
                    near += places
                    said += self._perhaps_exchanged(split, self.splits[other])
        return NetVerdict(
            net.name,
            net.group,
            tuple(dict.fromkeys(states)),
            "; ".join(said) + self._doubt(split),
            net.contacts,
            tuple(dict.fromkeys(names)),
            wires,
            tuple(near),
        )

    def _perhaps_exchanged(self, split: _Split, other: _Split) -> list[str]:
        """Say of two nets of which two pieces have met that the other two may have met as well."""
        if not (split.cut and other.cut):
            return []
        loose = [
            (split.parts[a][0], other.parts[b][0])
            for a in split.parts
            for b in other.parts
            if len(self.nets_in[a]) == len(self.nets_in[b]) == 1 and not self._separate(a, b)
        ]
        if len(loose) != 1:
            return []
        self.settling.append(pair(self.plan, *sorted(loose[0])))
        return [f"or exchanged with {self.plan.nets[other.net].name}: {loose[0][0]} to {loose[0][1]} not yet measured"]

    def _short(self, mine: Sequence[Probe], theirs: Sequence[Probe]) -> tuple[str, list[tuple[Probe, Probe]]]:
        """Say how it was found, and where contacts of the two lie side by side."""
        path = self.evidence.path(mine, theirs)
        found = listed(f"{e.one} to {e.other} {shown(e)} ({e.where})" for e in path)
        ends = set(mine) | set(theirs)
        nets = frozenset(self.plan.net_of[p] for p in ends)
        near = [(a, b) for a, b in self.near.get(nets, []) if a in ends and b in ends]
        if not near:
            return found, near
        where = [f"{a}/{b.label}" for a, b in near]
        if len(where) > _MOST_PLACES:
            where[_MOST_PLACES - 1 :] = [f"{len(where) - _MOST_PLACES + 1} more places"]
        return f"{found}; they lie side by side at {listed(where, 'or')}", near

    # ------------------------------------------------------------------ unhurt

    def _unhurt(self, split: _Split) -> NetVerdict:
        net = self.plan.nets[split.net]
        if split.net in self.doubts:
            return NetVerdict(net.name, net.group, ("doubtful",), self._doubt(split, first=True), net.contacts)
        lacks = self._lacks(split)
        if not any(p in self.evidence.touched or p in self.volts for p in net.contacts):
            return NetVerdict(net.name, net.group, ("not measured",), "no reading yet", net.contacts)
        if not lacks and not split.loose:
            return self._sound(net)
        more = f" and {len(lacks) - 3} more" if len(lacks) > 3 else ""
        sentence = f"still to measure: {listed(lacks[:3]) if not more else ', '.join(lacks[:3])}{more}"
        return NetVerdict(net.name, net.group, ("partly measured",), sentence, net.contacts)

    def _lacks(self, split: _Split) -> list[str]:
        """The readings that a net still needs to pass, as a sentence lists them."""
        net = self.plan.nets[split.net]
        lacks = []
        for row in self.rows.get(split.net, []):
            if row.kind == "volts":
                if row.start not in self.volts:
                    lacks.append(f"the volts at {row.start}")
            elif not self.evidence.knows(self.plan, row):
                lacks.append(f"{row.start} {'over' if row.kind == 'sweep' else 'to'} {row.to}")
        if self.plan.subject == "slot" and net.group not in ("supply", "return"):
            mine = net.contacts[0]
            powers = [other for other in self.plan.nets if other.contacts and self.plan.powers(other.contacts[0])]
            if not all(self.evidence.settled(mine, other.contacts[0]) for other in powers):
                lacks.append("the sweeps of the supplies and returns")
        return lacks

    def _sound(self, net: PlanNet) -> NetVerdict:
        """What there is to say of a net of which no reading is missing, and none is wrong."""
        if self.plan.subject == "slot" and net.group not in ("supply", "return"):
            # No voltage proves which line it is, and a 5 V supply of its own reads like a line at rest.
            sentence = "no supply or return of the map reaches it, and it carries nothing above 5.5 V"
            return NetVerdict(net.name, net.group, ("no rail found on it",), sentence, net.contacts)
        if any(self.volts[p].verdict == "unknown" for p in net.contacts if p in self.volts):
            return NetVerdict(net.name, net.group, ("partly measured",), VOLTS_UNKNOWN, net.contacts)
        what = "joined" if len(net.contacts) > 1 else "left open as planned"
        if self.plan.subject == "slot":
            what = "where the map has it"
        return NetVerdict(net.name, net.group, ("passed",), what)

    def _doubt(self, split: _Split, *, first: bool = False) -> str:
        doubts = self.doubts.get(split.net)
        if not doubts:
            return ""
        limits = f"a joint is at most {JOINED_OHMS:g} Ω, apart is {APART_OHMS / 1e6:g} MΩ or more"
        return f"{'' if first else '; '}neither a joint nor open: {listed(doubts[:3])} ({limits})"

    # ------------------------------------------------------------------ help

    def _crossing(self, split: _Split) -> list[tuple[int, Probe, Probe]]:
        """The plan's wires whose ends lie in different parts of a net."""
        at = self.evidence.component
        return [(n, a, b) for n, a, b in self.plan.nets[split.net].wires if a in at and b in at and at[a] != at[b]]

    def _between(self, split: _Split) -> list[Row]:
        """The readings that tell whether the parts of a net are joined, where that is not known."""
        first = split.parts[split.main][0]
        return [pair(self.plan, first, split.parts[number][0]) for number in split.loose]

    def _names(self, contacts: Iterable[Probe]) -> str:
        return listed(dict.fromkeys(self.plan.of(p).name for p in contacts))


def points(contacts: Iterable[Probe]) -> str:
    """List contacts: all of a few, the first of many."""
    names = [str(p) for p in contacts]
    return listed(names) if len(names) <= 4 else f"{', '.join(names[:3])} and {len(names) - 3} more"
