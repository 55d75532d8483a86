"""The readings as a graph: which contacts are proven joined, which apart, and which readings contradict others."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from functools import cached_property

from msgspec import Struct

from ..errors import Place
from ..readings import Probe, Reading, Row
from ..text import listed, quoted
from .plan import Plan, Touch


class Edge(Struct, frozen=True):
    """What one reading says of two contacts."""

    one: Probe
    other: Probe
    touch: Touch
    reading: Reading

    @property
    def where(self) -> str:
        """The reading's file and line."""
        return line_of(self.reading.place)


def line_of(place: Place) -> str:
    """Name a line of the readings file."""
    return f"{place.file}:{place.line}"


class Contradiction(Struct, frozen=True):
    """Readings that cannot all be true: `sentence` names them, `places` are their lines, `pairs` what to take again."""

    sentence: str
    places: tuple[Place, ...]
    pairs: tuple[tuple[Probe, Probe], ...]
    edges: tuple[Edge, ...]


class Evidence(Struct, frozen=True, dict=True):
    """What the readings prove. `edges` hold no contradiction any more: those are set aside in `contradictions`.

    `component` numbers the contacts proven joined; `members` lists each number's contacts. `separate` are the numbers
    proven apart, `measured` those of which the meter showed it, not just a beeper silent in a sweep. `metered` are the
    pairs of nets between which a reading was taken, not a sweep.
    """

    edges: tuple[Edge, ...]
    contradictions: tuple[Contradiction, ...]
    component: dict[Probe, int]
    members: dict[int, tuple[Probe, ...]]
    separate: frozenset[tuple[int, int]]
    measured: frozenset[tuple[int, int]]
    metered: frozenset[frozenset[int]]
    links: dict[Probe, dict[Probe, Edge]]

    def joined(self, one: Probe, other: Probe) -> bool:
        """Whether two contacts are proven joined."""
        return one == other or self._at(one) == self._at(other)

    def apart(self, one: Probe, other: Probe) -> bool:
        """Whether two contacts are proven apart."""
        return (self._at(one), self._at(other)) in self.separate

    def settled(self, one: Probe, other: Probe) -> bool:
        """Whether it is known of two contacts if they are joined."""
        return self.joined(one, other) or self.apart(one, other)

    @cached_property
    def doubtful(self) -> frozenset[frozenset[Probe]]:
        """The pairs that read neither as a joint nor as open."""
        return frozenset(frozenset((e.one, e.other)) for e in self.edges if e.touch == "doubtful")

    def _at(self, contact: Probe) -> int:
        return self.component[contact]

    def knows(self, plan: Plan, row: Row) -> bool:
        """Whether what a row without power would show is known already.

        A beeper is silent at some hundred ohms: where a supply must be clear of something, silence in a sweep is not
        enough for a row that asks for the two alone.
        """
        if row.kind == "sweep":
            others = (p for p in plan.there(row.over) if not plan.bridged(plan.net_of[row.start], plan.net_of[p]))
            return all(self._seen(row.start, p) for p in others)
        if row.stop is None:
            return False
        if plan.subject == "slot" and row.kind == "resistance":  # a beeper sounds at a full machine's resistance too
            return frozenset((plan.net_of[row.start], plan.net_of[row.stop])) in self.metered
        strict = row.kind != "continuity" and (plan.of(row.start).is_rail or plan.of(row.stop).is_rail)
        return self._seen(row.start, row.stop, self.measured if strict else self.separate)

    def _seen(self, one: Probe, other: Probe, separate: frozenset[tuple[int, int]] | None = None) -> bool:
        apart = self.separate if separate is None else separate
        there = (self._at(one), self._at(other)) in apart
        return there or self.joined(one, other) or frozenset((one, other)) in self.doubtful

    @cached_property
    def touched(self) -> frozenset[Probe]:
        """The contacts of which at least one reading says something."""
        return frozenset(p for edge in self.edges for p in (edge.one, edge.other))

    def path(self, starts: Iterable[Probe], ends: Iterable[Probe]) -> tuple[Edge, ...]:
        """The shortest chain of joints from one of `starts` to one of `ends`; () where there is none."""
        return _path(self.links, starts, ends)


def weigh(plan: Plan, readings: Iterable[Reading]) -> Evidence:
    """Build the evidence: joints are transitive, and readings that contradict each other are set aside."""
    edges = _without_loads(plan, [edge for reading in readings for edge in _edges(plan, reading)])
    links, component = _joints(plan, edges)
    contradictions = _contradictions(edges, links, component)
    if contradictions:
        # A pair read more often than twice is taken again all the same: no count of readings outvotes another.
        aside = {frozenset(pair) for c in contradictions for pair in c.pairs}
        edges = [edge for edge in edges if frozenset((edge.one, edge.other)) not in aside]
        links, component = _joints(plan, edges)
    members: dict[int, list[Probe]] = {}
    for contact, number in component.items():
        members.setdefault(number, []).append(contact)
    separate: set[tuple[int, int]] = set()
    measured: set[tuple[int, int]] = set()
    for edge in edges:
        if edge.touch == "apart":
            a, b = component[edge.one], component[edge.other]
            separate |= {(a, b), (b, a)}
            if edge.reading.kind != "sweep":
                measured |= {(a, b), (b, a)}
    return Evidence(
        tuple(edges),
        tuple(contradictions),
        component,
        {number: tuple(contacts) for number, contacts in members.items()},
        frozenset(separate),
        frozenset(measured),
        frozenset(frozenset((plan.net_of[e.one], plan.net_of[e.other])) for e in edges if e.reading.kind != "sweep"),
        links,
    )


def _edges(plan: Plan, reading: Reading) -> Iterator[Edge]:
    if reading.kind == "sweep":
        found = set(reading.found)
        for other in (*plan.there(reading.over), *(found & plan.absent)):
            if other == reading.start:
                continue
            touch = plan.touch(reading.start, other, 0.0 if other in found else float("inf"))
            if touch:
                yield Edge(reading.start, other, touch, reading)
    elif reading.ohms is not None and reading.stop:
        touch = plan.touch(reading.start, reading.stop, reading.ohms)
        if touch:
            yield Edge(reading.start, reading.stop, touch, reading)


def _without_loads(plan: Plan, edges: list[Edge]) -> list[Edge]:
    """Leave out beeps on a slot between a supply and a return, or another, that the meter shows to be no short.

    Beepers sound below some tens of ohms, and so little a full machine can have from a supply to a return. The meter
    must have been held to the same contacts, or to contacts of the same nets that are proven joined to them.
    """
    if plan.subject != "slot":
        return edges
    _, within = _joints(plan, [edge for edge in edges if plan.of(edge.one) is plan.of(edge.other)])
    shown = {
        frozenset((within[edge.one], within[edge.other]))
        for edge in edges
        if edge.touch == "apart" and edge.reading.kind != "sweep"
    }

    def load(edge: Edge) -> bool:
        swept = edge.touch == "joined" and edge.reading.kind == "sweep"
        both = plan.powers(edge.one) and plan.powers(edge.other) and plan.of(edge.one) is not plan.of(edge.other)
        return swept and both and frozenset((within[edge.one], within[edge.other])) in shown

    return [edge for edge in edges if not load(edge)]


def _joints(plan: Plan, edges: Iterable[Edge]) -> tuple[dict[Probe, dict[Probe, Edge]], dict[Probe, int]]:
    links: dict[Probe, dict[Probe, Edge]] = {contact: {} for contact in plan.net_of}
    for edge in edges:
        if edge.touch == "joined":
            links[edge.one].setdefault(edge.other, edge)
            links[edge.other].setdefault(edge.one, edge)
    component: dict[Probe, int] = {}
    for number, contact in enumerate(links):
        todo = [] if contact in component else [contact]
        while todo:
            here = todo.pop()
            if here not in component:
                component[here] = number
                todo += links[here]
    return links, component


def _path(links: dict[Probe, dict[Probe, Edge]], starts: Iterable[Probe], ends: Iterable[Probe]) -> tuple[Edge, ...]:
    goal = set(ends)
    came: dict[Probe, Edge | None] = dict.fromkeys(starts)
    todo = deque(came)
    while todo:
        here = todo.popleft()
        if here in goal:
            return _back(came, here)
        for there, edge in links[here].items():
            if there not in came:
                came[there] = edge
                todo.append(there)
    return ()


def _back(came: dict[Probe, Edge | None], here: Probe) -> tuple[Edge, ...]:
    out: list[Edge] = []
    while (edge := came[here]) is not None:
        out.append(edge)
        here = edge.other if edge.one == here else edge.one
    return tuple(reversed(out))


def _contradictions(
    edges: Iterable[Edge], links: dict[Probe, dict[Probe, Edge]], component: dict[Probe, int]
) -> list[Contradiction]:
    """Every reading of contacts that others prove joined, with those others. Readings are set aside on both sides."""
    out: dict[tuple[Place, ...], Contradiction] = {}
    for edge in edges:
        if edge.touch == "joined" or component[edge.one] != component[edge.other]:
            continue
        path = _path(links, [edge.one], [edge.other])
        places = tuple(dict.fromkeys((edge.reading.place, *(e.reading.place for e in path))))
        pairs = tuple((e.one, e.other) for e in (edge, *path))
        said = Contradiction(_contradicts(edge, path), places, pairs, (edge, *path))
        if places in out:
            old = out[places]
            out[places] = Contradiction(old.sentence, places, (*old.pairs, *pairs), (*old.edges, *said.edges))
        else:
            out[places] = said
    return list(out.values())


def shown(edge: Edge) -> str:
    """What a reading said of the two contacts of an edge, as it was written."""
    if edge.reading.kind != "sweep":
        return f"reads {quoted(edge.reading.written)}"
    return "beeps in the sweep" if edge.touch == "joined" else "does not beep in the sweep"


def _contradicts(edge: Edge, path: tuple[Edge, ...]) -> str:
    what = f"{edge.one} to {edge.other} {shown(edge)} ({edge.where})"
    if len(path) == 1:
        return f"{what}, but also {shown(path[0])} ({path[0].where})"
    chain = listed(f"{e.one} to {e.other} ({e.where})" for e in path)
    return f"{what}, but the two are joined by {chain}"
