"""One cause for a whole pattern: a connector wired or mapped mirrored, turned, off by one, numbered another way.

A hypothesis says of each contact to which of the plan's contacts what is really there belongs. It is held against every
reading, those that agree with the plan too.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property

from msgspec import Struct

from ..mistakes import Kind, Mistake, mistakes
from ..readings import Probe, Reading, Row
from .graph import Evidence
from .plan import Plan, Volts, expected_volts, form_rows, power_sweeps, sweep

#: One cause is only looked for when this many readings contradict the plan …
LEAST_READINGS = {"adapter": 4, "slot": 3}
#: … that concern so many nets of an adapter or contacts of a slot …
LEAST_CONCERNED = 3
#: … and named when so many of them show a contact in another's place, not just something missing …
LEAST_SEEN = 2
#: … or one of them does, and it stands for so many.
MANY_READINGS = 10
#: Of 100 pairs of nets whose readings contradict the plan a cause must explain so many, and may leave or make no more
#: than the rest.
LEAST_EXPLAINED = 95
#: So many explanations are weighed against each other when the next reading is chosen; the simplest come first.
MOST_WEIGHED = 200
#: A few sweeps part any explanations that can be parted.
MOST_SWEEPS = 4

Carry = Mapping[Probe, Probe | None]


class Cause(Struct, frozen=True):
    """One cause that explains the pattern.

    `sentence` says what is wrong with the connector `ref`, `name` and `kinds` which mistake it is. It explains
    `explained` of the `against` readings that contradict the plan. `seen`: readings show contacts in each other's
    place; else it is only possible. `alike`: no reading can tell it from the cause named before it. `moves` gives for
    each contact of the connector the one whose place it has taken, where that is on the body.
    """

    ref: str
    kinds: tuple[Kind, ...]
    name: str
    sentence: str
    explained: int
    against: int
    seen: bool
    alike: bool = False
    moves: Mapping[str, str] = {}


class Explained(Struct, frozen=True):
    """The causes that are left, the simplest first, the plan as the first makes it, and what tells them apart."""

    causes: tuple[Cause, ...] = ()
    plan: Plan | None = None
    settling: tuple[Row, ...] = ()


class _Observed(Struct, frozen=True):
    """Something that was seen: two contacts joined or not, or volts at one."""

    one: Probe
    other: Probe | None
    joined: bool = False
    volts: float = 0.0


class _Hypothesis(Struct, frozen=True):
    ref: str
    mistake: Mistake
    sentence: str
    carry: Carry


def explain(plan: Plan, evidence: Evidence, readings: Sequence[Reading]) -> Explained:
    """Find the causes that explain nearly all readings that contradict the plan, and contradict none of the others."""
    seen = list(_observed(plan, evidence, readings))
    as_planned = _Predictor(plan, {})
    against = [o for o in seen if as_planned.agrees(o) is False]
    if len(against) < LEAST_READINGS[plan.subject] or _concerned(plan, against) < LEAST_CONCERNED:
        return Explained()
    agreeing = [o for o in seen if as_planned.agrees(o) is True]
    # Counted in pairs of nets: a long chain of links in two pieces is one fault, however many readings show it.
    faults = {as_planned.pair(o) for o in against}
    allowed = len(faults) * (100 - LEAST_EXPLAINED) // 100
    found: list[tuple[_Hypothesis, int, int]] = []
    for hypothesis in _hypotheses(plan):
        predictor = _Predictor(plan, hypothesis.carry)
        left = set()
        for o in (*against, *agreeing):
            if predictor.agrees(o) is False:
                left.add(predictor.pair(o))
                if len(left) > allowed:
                    break
        else:
            # What lies off the body of a slot a cause neither explains nor contradicts.
            explained = sum(predictor.agrees(o) is True for o in against)
            found.append((hypothesis, explained, len(left)))
    if not found:
        return Explained()
    # What leaves more faults unexplained than another does is not the cause.
    fewest = min(left_over for _, _, left_over in found)
    best = [(hypothesis, explained) for hypothesis, explained, left_over in found if left_over == fewest]
    in_place_of_others = sum(o.joined or o.other is None for o in against)
    shown = in_place_of_others >= (1 if len(against) >= MANY_READINGS else LEAST_SEEN)
    return _weighed(plan, readings, best, len(against), shown)


def _concerned(plan: Plan, observed: Sequence[_Observed]) -> int:
    """How many nets of an adapter, or contacts of a slot with its few supplies, the readings concern."""
    contacts = {p for o in observed for p in (o.one, o.other) if p}
    return len(contacts if plan.subject == "slot" else {plan.net_of[p] for p in contacts})


def _weighed(
    plan: Plan, readings: Sequence[Reading], found: list[tuple[_Hypothesis, int]], against: int, shown: bool
) -> Explained:
    marks: dict[tuple[int, ...], int] = {}
    causes = []
    order = []  # causes that no reading can tell apart stand beside each other
    for index, (hypothesis, explained) in enumerate(found):
        mark = _Predictor(plan, hypothesis.carry).mark()
        causes.append(
            Cause(
                hypothesis.ref,
                hypothesis.mistake.kinds,
                hypothesis.mistake.name,
                hypothesis.sentence,
                explained,
                against,
                shown,
                mark in marks,
                {p.label: meant.label for p, meant in hypothesis.carry.items() if meant},
            )
        )
        order.append(marks.setdefault(mark, index))
    ranked = sorted(range(len(found)), key=lambda i: (order[i], i))
    different = [_Predictor(plan, found[index][0].carry) for index in marks.values()][:MOST_WEIGHED]
    settling = (
        _settling(plan, different, readings) if plan.subject == "adapter" else _slot_settling(plan, different, readings)
    )
    first = found[0][0] if shown and plan.subject == "adapter" else None
    return Explained(tuple(causes[i] for i in ranked), plan.moved(first.carry) if first else None, settling)


# ------------------------------------------------------------------ what was seen


def _observed(plan: Plan, evidence: Evidence, readings: Sequence[Reading]) -> Iterator[_Observed]:
    pairs: dict[frozenset[Probe], _Observed] = {}
    for edge in evidence.edges:
        if edge.touch != "doubtful":
            pairs.setdefault(frozenset((edge.one, edge.other)), _Observed(edge.one, edge.other, edge.touch == "joined"))
    yield from pairs.values()
    if plan.subject == "slot":
        for reading in readings:
            if reading.volts is not None:
                yield _Observed(reading.start, None, volts=reading.volts)


class _Predictor:
    """What the plan predicts where each contact carries what belongs to `carry` of it."""

    def __init__(self, plan: Plan, carry: Carry):
        self.plan, self.carry = plan, carry
        self.slot = plan.subject == "slot"
        self.net_at: dict[Probe, int | None] = dict(plan.net_of)
        for contact, meant in carry.items():
            self.net_at[contact] = None if meant is None else plan.net_of[meant]

    def agrees(self, o: _Observed) -> bool | None:
        """Whether what was seen is as predicted; None where nothing is predicted."""
        if o.other is None:
            return self._volts(o.one, o.volts)
        a, b = self.net_at[o.one], self.net_at[o.other]
        if a is None or b is None:
            # Off the body: on the adapter nothing is wired there; of the slot it is not known what is there.
            return None if self.slot else not o.joined
        if a == b and not o.joined and not self.slot:
            return self._wired[o.one] != self._wired[o.other]
        return (a == b) == o.joined

    @cached_property
    def _wired(self) -> dict[Probe, int]:
        """Number the contacts that wires join where those that would lie off the body are left out."""
        sits = {meant: contact for contact, meant in self.carry.items() if meant}
        group = {contact: index for index, contact in enumerate(self.net_at)}
        inside = {index: [contact] for contact, index in group.items()}
        moved = {contact.ref for contact in self.carry}
        for net in self.plan.nets:
            for _, *ends in net.wires:
                at = [sits.get(p) if p.ref in moved else p for p in ends]
                if at[0] and at[1] and group[at[0]] != group[at[1]]:
                    kept, gone = group[at[0]], group[at[1]]
                    inside[kept] += inside[gone]
                    group |= dict.fromkeys(inside.pop(gone), kept)
        return group

    def pair(self, o: _Observed) -> frozenset[int | Probe]:
        """The nets that were seen, or the contact itself where none is."""
        return frozenset(p if (net := self.net_at[p]) is None else net for p in (o.one, o.other) if p)

    def _volts(self, contact: Probe, value: float) -> bool | None:
        expected = self.expects(contact)
        return None if expected is None else expected.holds(value)

    def expects(self, contact: Probe) -> Volts | None:
        """What a contact of a slot must read with power on; None where nobody knows."""
        meant = self.carry.get(contact, contact)
        return None if meant is None else expected_volts(self.plan.signals.get(meant))

    def sweep(self, start: Probe, ref: str) -> frozenset[Probe]:
        """Which contacts of `ref` a sweep from `start` would find."""
        net = self.net_at[start]
        return frozenset() if net is None else self._on.get((ref, net), frozenset())

    @cached_property
    def _on(self) -> dict[tuple[str, int], frozenset[Probe]]:
        out: dict[tuple[str, int], set[Probe]] = {}
        for contact, net in self.net_at.items():
            if net is not None:
                out.setdefault((contact.ref, net), set()).add(contact)
        return {at: frozenset(contacts) for at, contacts in out.items()}

    def mark(self) -> tuple[int, ...]:
        """A mark that two hypotheses share when no reading can tell them apart."""
        seen: dict[int, int] = {}
        size: dict[int, int] = {}
        for net in self.net_at.values():
            if net is not None:
                size[net] = size.get(net, 0) + 1
        out = []
        for net in self.net_at.values():
            alone = net is None or (size[net] == 1 and not self.slot)
            out.append(-1 if alone or net is None else net if self.slot else seen.setdefault(net, len(seen)))
        return tuple(out)


# ------------------------------------------------------------------ the hypotheses


def _hypotheses(plan: Plan) -> Iterator[_Hypothesis]:
    for ref, body in plan.bodies.items():
        seen: set[frozenset[tuple[str, str]]] = set()
        for mistake in mistakes(body):
            for moves, sentence in _ways(plan, ref, mistake):
                key = frozenset(moves.items())
                if key not in seen:
                    seen.add(key)
                    carry = {
                        Probe(ref, label): Probe(ref, moves[label]) if label in moves else None for label in body.labels
                    }
                    yield _Hypothesis(ref, mistake, sentence, carry)


def _ways(plan: Plan, ref: str, mistake: Mistake) -> Iterator[tuple[Mapping[str, str], str]]:
    """The moves of a mistake as they show, and the sentence that says so.

    A mistake leads from where something was written or wired to where it belongs. On an adapter the contact that was
    wired carries what belongs elsewhere. On a slot the place where it belongs carries what was written elsewhere.
    """
    back = {there: here for here, there in mistake.moves.items()}
    if plan.subject == "slot":
        yield back, f"the map is {mistake.name}: {mistake.why}"
        return
    numbered = _NUMBERED.match(mistake.name)
    if not numbered:
        reason = next((why for kinds, why in _BUILT if kinds == mistake.kinds), mistake.why)
        yield mistake.moves, f"{ref} is wired {mistake.name}: {reason}"
        return
    true, assumed = numbered.groups()
    why = "its contacts were counted in another numbering scheme"
    yield back, f"{ref} is wired as if it were numbered {true}, not {assumed}: {why}"
    yield mistake.moves, f"{ref} is wired as if it were numbered {assumed}, not {true}: {why}"


_NUMBERED = re.compile(r"^numbered (.*?), but read (.*)$")
#: How it comes about on something built.
_BUILT: tuple[tuple[tuple[Kind, ...], str], ...] = (
    (("mirrored",), "the ribbon is crimped the wrong way round, or the connector was read from the solder side"),
    (("rows swapped",), "row was taken for row, or the connector was read from the solder side"),
    (("turned",), "it was fitted, or the wiring begun, at the opposite corner"),
    (("shifted",), "its contacts were counted from the wrong place"),
)


# ------------------------------------------------------------------ the reading that tells them apart


def _settling(plan: Plan, different: Sequence[_Predictor], readings: Sequence[Reading]) -> tuple[Row, ...]:
    """Choose sweeps until every two of the explanations would have shown different results in one of them."""
    refs = list(plan.bodies)
    taken = {(reading.start, reading.over) for reading in readings if reading.kind == "sweep"}
    # Among sweeps that tell as much the first is taken: one of the form's, which is to be taken anyhow.
    asked = [(row.start, row.over) for row in power_sweeps(plan)]
    options = [*asked, *((p, ref) for one in refs for p in plan.there(one) for ref in refs if ref != one)]
    options = [option for option in dict.fromkeys(options) if option not in taken and option[0].ref != option[1]]
    groups = [list(different)]
    out: list[Row] = []
    while options and any(len(group) > 1 for group in groups) and len(out) < MOST_SWEEPS:
        best = min(options, key=lambda option: sum(len(part) ** 2 for part in _parted(groups, *option)))
        parts = _parted(groups, *best)
        if len(parts) == len(groups):
            break
        groups = parts
        out.append(sweep(plan, *best))
    return tuple(out)


def _parted(groups: Sequence[list[_Predictor]], start: Probe, ref: str) -> list[list[_Predictor]]:
    """Part each group of explanations by what a sweep would show."""
    out: list[list[_Predictor]] = []
    for group in groups:
        parts: dict[frozenset[Probe], list[_Predictor]] = {}
        for predictor in group:
            parts.setdefault(predictor.sweep(start, ref), []).append(predictor)
        out += parts.values()
    return out


def _slot_settling(plan: Plan, different: Sequence[_Predictor], readings: Sequence[Reading]) -> tuple[Row, ...]:
    """The readings of the form not yet taken of which the explanations expect different things: sweeps, then volts."""
    volts = {reading.start for reading in readings if reading.volts is not None}
    swept = {reading.start for reading in readings if reading.kind == "sweep"}
    form = form_rows(plan)
    sweeps = [
        row
        for row in form
        if row.kind == "sweep" and row.start not in swept and len({p.sweep(row.start, row.over) for p in different}) > 1
    ]
    by_volts = [
        row
        for row in form
        if row.kind == "volts" and row.start not in volts and len({p.expects(row.start) for p in different}) > 1
    ]
    return (*sweeps, *by_volts)
