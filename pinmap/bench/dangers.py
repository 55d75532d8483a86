"""Why power must stay off: what meets a supply, a supply that does not go where it must, volts that are wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from msgspec import Struct

from ..errors import Place
from ..readings import Probe
from ..text import listed, quoted
from .causes import Cause
from .faults import NetVerdict, State
from .graph import Edge, Evidence, shown
from .plan import SLOT_LOW_OHMS, SLOT_SHORT_OHMS, Plan
from .volts import Measured

_MOST_NAMED = 3
#: The states in which a supply or return does not go where it must.
_ASTRAY: tuple[State, ...] = ("open", "exchanged", "moved")


class Danger(Struct, frozen=True):
    """Why power must stay off: a sentence with the readings' lines, the contacts, the lines in the file.

    `rule` is what a voltage is held to, with its source. `likely`: one cause may be behind it that is not seen yet.
    """

    sentence: str
    contacts: tuple[Probe, ...]
    places: tuple[Place, ...] = ()
    rule: str = ""
    likely: bool = False


def dangers(
    plan: Plan,
    evidence: Evidence,
    nets: Sequence[NetVerdict],
    causes: Sequence[Cause],
    measured: Iterable[Measured],
) -> tuple[Danger, ...]:
    """Find every danger, the shorts of supplies first, the volts last; `nets` are those that no seen cause explains."""
    met = [*_shorts(plan, evidence), *_doubtful_rails(plan, evidence)]
    told = {plan.of(p).name for danger in met for p in danger.contacts}
    likely = bool(causes) and not causes[0].seen
    astray = list(_astray(plan, evidence, nets, told, likely=likely))
    by_cause = [] if met else list(_by_cause(plan, causes))
    return (*met, *by_cause, *astray, *_wrong_volts(measured))


def _shorts(plan: Plan, evidence: Evidence) -> list[Danger]:
    """Every rail that is joined to a return, another rail, a line, or what nobody knows - once a pair of nets."""
    out = [
        Danger(_joined(plan, path), _ends(path), tuple(dict.fromkeys(e.reading.place for e in path)))
        for path in _rail_paths(plan, evidence)
    ]
    # Where readings contradict each other one of them is wrong; until it is known which, the rail may be shorted.
    doubted: dict[frozenset[int], Danger] = {}
    for contradiction in evidence.contradictions:
        for edge in contradiction.edges:
            if edge.touch == "joined" and _is_danger(plan, edge.one, edge.other):
                said = f"{_named(plan, edge.one)} may be joined to {_named(plan, edge.other)}: {contradiction.sentence}"
                doubted.setdefault(
                    frozenset((plan.net_of[edge.one], plan.net_of[edge.other])),
                    Danger(said, (edge.one, edge.other), contradiction.places),
                )
    return [*out, *doubted.values()]


def _rail_paths(plan: Plan, evidence: Evidence) -> list[tuple[Edge, ...]]:
    seen: set[frozenset[int]] = set()
    out = []
    for index, net in enumerate(plan.nets):
        if not net.is_rail:
            continue
        others: dict[int, list[Probe]] = {}
        for number in dict.fromkeys(evidence.component[p] for p in net.contacts):
            for p in evidence.members[number]:
                if plan.net_of[p] != index and _is_danger(plan, net.contacts[0], p):
                    others.setdefault(plan.net_of[p], []).append(p)
        for other, contacts in sorted(others.items()):
            if frozenset((index, other)) not in seen:
                seen.add(frozenset((index, other)))
                out.append(evidence.path(net.contacts, contacts))
    return out


def _is_danger(plan: Plan, one: Probe, other: Probe) -> bool:
    """Whether two contacts of different nets must not meet because one of them is a rail."""
    a, b = plan.of(one), plan.of(other)
    if a is b or not (a.is_rail or b.is_rail):
        return False
    return not any(net.unused or net.key for net in (a, b))


def _joined(plan: Plan, path: Sequence[Edge]) -> str:
    start, stop = sorted(_ends(path), key=lambda p: not plan.of(p).is_rail)
    found = listed(f"{e.one} to {e.other} {shown(e)} ({e.where})" for e in path)
    sentence = f"{_named(plan, start)} is joined to {_named(plan, stop)}: {found}"
    if plan.subject == "slot" and all(map(plan.powers, (start, stop))) and any(e.reading.kind == "sweep" for e in path):
        sentence += "; a beeper sounds up to some tens of ohms, so measure it in ohms too"
    return sentence


def _ends(path: Sequence[Edge]) -> tuple[Probe, Probe]:
    """The first and the last contact of a chain of joints."""
    times: dict[Probe, int] = {}
    for edge in path:
        for p in (edge.one, edge.other):
            times[p] = times.get(p, 0) + 1
    first = next(p for p in (path[0].one, path[0].other) if times[p] == 1)
    last = next(p for p in (path[-1].other, path[-1].one) if times[p] == 1 and p != first)
    return first, last


def _named(plan: Plan, contact: Probe) -> str:
    return f"{plan.of(contact).name} ({contact})"


def _doubtful_rails(plan: Plan, evidence: Evidence) -> list[Danger]:
    """Readings between a rail and another net that are neither: an adapter of plain wire conducts nowhere else."""
    return [
        Danger(
            f"{_named(plan, edge.one)} is not clear of {_named(plan, edge.other)}: it {shown(edge)} ({edge.where}); "
            "an adapter of plain wire has nothing between them",
            (edge.one, edge.other),
            (edge.reading.place,),
        )
        for edge in evidence.edges
        if edge.touch == "doubtful" and _is_danger(plan, edge.one, edge.other)
    ]


def _astray(
    plan: Plan, evidence: Evidence, nets: Iterable[NetVerdict], told: set[str], *, likely: bool
) -> Iterator[Danger]:
    """Supplies that do not go where they must, and returns of which nothing comes through."""
    for verdict in nets:
        if verdict.group not in ("supply", "return") or verdict.name in told:
            continue
        states = [state for state in _ASTRAY if state in verdict.states]
        if states == ["open"] and verdict.group == "return" and _through(plan, evidence, verdict):
            continue
        if states:
            kind = "a supply" if verdict.group == "supply" else "the return"
            yield Danger(
                f"{verdict.name}, {kind}, is {listed(states)}: {verdict.sentence}", verdict.contacts, likely=likely
            )


def _through(plan: Plan, evidence: Evidence, verdict: NetVerdict) -> bool:
    """Whether a net is proven to lead from each connector to the other."""
    here = [p for p in verdict.contacts if p.ref == verdict.contacts[0].ref]
    there = [p for p in verdict.contacts if p.ref != verdict.contacts[0].ref]
    return plan.subject == "slot" or any(evidence.joined(a, b) for a in here for b in there)


def _by_cause(plan: Plan, causes: Sequence[Cause]) -> Iterator[Danger]:
    """What the one mistake does to the supplies: it need not have been seen yet."""
    for cause in causes:
        meets = list(_meets(plan, cause))
        if meets:
            more = f" and {len(meets) - _MOST_NAMED} more" if len(meets) > _MOST_NAMED else ""
            said = [f"{_named(plan, a)} on {_named(plan, b)}" for a, b in meets[:_MOST_NAMED]]
            together = f"{', '.join(said)}{more}" if more else listed(said)
            what, _, _ = cause.sentence.partition(": ")
            if cause.seen:
                sentence = f"{what}: that puts {together}"
            else:
                sentence = f"no reading shows the opposite yet: if {what}, that puts {together}"
            yield Danger(sentence, tuple(p for ends in meets for p in ends), likely=not cause.seen)
            return


def _meets(plan: Plan, cause: Cause) -> Iterator[tuple[Probe, Probe]]:
    """What a mistake joins of which one is a supply: once a pair of nets, supplies first."""
    seen = set()
    for label, taken in sorted(cause.moves.items(), key=lambda move: not plan.of(Probe(cause.ref, move[0])).is_rail):
        here, there = Probe(cause.ref, label), Probe(cause.ref, taken)
        nets = frozenset((plan.net_of[here], plan.net_of[there]))
        if nets not in seen and _is_danger(plan, here, there):
            seen.add(nets)
            yield here, there


def _wrong_volts(measured: Iterable[Measured]) -> list[Danger]:
    return [Danger(m.sentence, (m.contact,), (m.place,), m.rule) for m in measured if m.verdict == "wrong"]


def low_rails(plan: Plan, evidence: Evidence) -> tuple[str, ...]:
    """Readings between supplies and returns of a slot that are no short, but so little that a person must look."""
    if plan.subject != "slot":
        return ()
    return tuple(
        f"{_named(plan, edge.one)} to {_named(plan, edge.other)} reads {quoted(edge.reading.written)} ({edge.where}): "
        f"no short ({SLOT_SHORT_OHMS:g} Ω), but little. A failing capacitor or chip reads so"
        + (
            ", and so does a machine with much on that supply"
            if any(plan.of(p).is_return for p in (edge.one, edge.other))
            else "; nothing in a sound machine joins two supplies like this"
        )
        + ": take it again with the probes exchanged, compare it with the machine's other slot or another such "
        "machine, and look for what is warm or burnt before power is applied"
        for edge in evidence.edges
        if edge.touch == "apart"
        and edge.reading.ohms is not None
        and edge.reading.ohms <= SLOT_LOW_OHMS
        and plan.powers(edge.one)
        and plan.powers(edge.other)
        and plan.of(edge.one) is not plan.of(edge.other)
    )
