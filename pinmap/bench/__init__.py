"""Holds readings taken with a meter against the plan: what was built against what was meant.

`judge` takes the readings of a built adapter, `judge_slot` those of a machine's bare slot; `form` and `form_slot` give
the readings to take. The work is done step by step:

    readings ─ graph ─▶ what is proven joined, what apart, what contradicts itself
             ─ faults ─▶ each net: passed, open, shorted, exchanged
             ─ causes ─▶ the one mistake behind a whole pattern
             ─ volts ─▶ each voltage: right or a danger
             ─ dangers ─▶ why power must stay off
             ─ wanted ─▶ the readings still to take
             ─ answer ─▶ the whole in two lines
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations
from pathlib import Path

from msgspec.structs import replace

from ..adapter import Adapter
from ..errors import PinmapError
from ..findings import Finding
from ..model import PinMap
from ..readings import BadReadingsError, Readings, Row
from ..readings import read as read_file
from . import plan
from .answer import Judged, Verdict, concluded
from .causes import MOST_SWEEPS, explain
from .dangers import Danger, dangers, low_rails
from .faults import VOLTS_UNKNOWN, NetVerdict, judge_nets
from .graph import Evidence, weigh
from .plan import Plan, form_rows
from .volts import Measured, judge_volts
from .wanted import missing

#: Nothing is said to lead across only when so many wires read open.
LEAST_SEVERED = 4

__all__ = (
    "Danger",
    "Judged",
    "Verdict",
    "form",
    "form_slot",
    "judge",
    "judge_file",
    "judge_plan",
    "judge_slot",
)


def judge(adapter: Adapter, readings: Readings) -> Judged:
    """Hold the readings of a built adapter against its plan.

    Raises `PinmapError` for a voltage that was not taken against a return.
    """
    return judge_plan(plan.of_adapter(adapter), readings)


def judge_slot(
    pin_map: PinMap, readings: Readings, fitted: Iterable[str] = (), findings: Iterable[Finding] = ()
) -> Judged:
    """Hold the readings of a machine's bare slot against its map; `fitted` names the options that are present.

    The dangers among `findings`, those of the check of the map, are said as cautions. Raises `PinmapError` for a
    voltage that was not taken against a return.
    """
    return judge_plan(plan.of_slot(pin_map, fitted, findings), readings)


def form(adapter: Adapter) -> tuple[Row, ...]:
    """Return the readings to take on a built adapter, in the order in which a person takes them."""
    return form_rows(plan.of_adapter(adapter))


def form_slot(pin_map: PinMap, fitted: Iterable[str] = ()) -> tuple[Row, ...]:
    """Return the readings to take on a machine's bare slot, in the order in which a person takes them."""
    return form_rows(plan.of_slot(pin_map, fitted))


def judge_file(path: Path, plan: Plan) -> Judged:
    """Hold a file of readings against a plan. Raises `UnreadableError`, and what `judge_plan` raises."""
    try:
        readings = read_file(path, plan.labels)
    except BadReadingsError as error:
        return judge_plan(plan, error.readings, error.errors)
    return judge_plan(plan, readings)


def judge_plan(plan: Plan, readings: Readings, errors: Sequence[PinmapError] = ()) -> Judged:
    """Hold readings against a plan that is already made of an adapter or a slot.

    `errors` are the complaints about rows that could not be read. Raises `BadReadingsError` with these and every
    voltage that was not taken against a return - behind the danger that the others show, for it must not be hidden.
    """
    measured, against = judge_volts(plan, readings.taken)
    judged = _judged(plan, readings, measured)
    complaints = [*errors, *against]
    if complaints and judged.verdict == "do not apply power":
        why = judged.dangers[0].sentence if judged.dangers else judged.following
        complaints.insert(0, PinmapError(f"do not apply power: even without the rows that cannot be read: {why}"))
    if complaints:
        raise BadReadingsError(complaints, readings)
    return judged


def _judged(plan: Plan, readings: Readings, measured: tuple[Measured, ...]) -> Judged:
    evidence = weigh(plan, readings.taken)
    rows = form_rows(plan)
    faults = judge_nets(plan, evidence, rows, measured)
    nets = _without_rails(plan, [_with_volts(plan, verdict, measured) for verdict in faults.nets])
    explained = explain(plan, evidence, readings.taken)
    named = any(cause.seen for cause in explained.causes)
    besides: tuple[NetVerdict, ...] = ()
    if named and explained.plan:
        besides = tuple(v for v in judge_nets(explained.plan, evidence, ()).nets if v.wrong)
    settling = (*explained.settling, *faults.settling)
    if explained.causes:  # what tells the causes apart tells most
        settling = explained.settling if named or explained.settling else settling[:MOST_SWEEPS]
    severed = _severed(plan, evidence)
    if severed:
        settling = settling[:MOST_SWEEPS]
    left = missing(plan, evidence, rows, {m.contact for m in measured}, settling)
    keys = {_key(row) for row in left}
    found = dangers(plan, evidence, besides if named else nets, explained.causes, measured)
    if found:  # nobody may be led to switch on for a reading
        left = tuple(row for row in left if row.kind != "volts")
    low = low_rails(plan, evidence)
    judged = Judged(
        title=plan.title,
        subject=plan.subject,
        verdict="all readings pass",
        first_line="",
        following="",
        dangers=found,
        causes=explained.causes,
        nets=nets,
        besides=besides,
        volts=measured,
        contradictions=evidence.contradictions,
        missing=left,
        taken=len(readings.taken),
        asked=len(rows),
        settled=sum(_key(row) not in keys for row in rows),
        cautions=(*plan.cautions, *low, *readings.cautions),
        telling=settling if explained.causes else (),
        refused=plan.refused,
        swept=_swept(plan, evidence),
        low=bool(low),
        severed=severed,
    )
    return concluded(judged)


def _key(row: Row) -> tuple[object, ...]:
    return row.kind, row.start, row.to


def _without_rails(plan: Plan, nets: Sequence[NetVerdict]) -> tuple[NetVerdict, ...]:
    """Say that no rail is found on a slot's lines only where the rails that were swept are proven to be those."""
    if plan.subject == "adapter" or all(_proven(v) for v in nets if v.group in ("supply", "return")):
        return tuple(nets)
    said = "the supplies and returns themselves are not yet found where the map has them"
    return tuple(
        replace(v, states=("partly measured",), sentence=said) if v.states == ("no rail found on it",) else v
        for v in nets
    )


def _proven(verdict: NetVerdict) -> bool:
    return verdict.states in (("passed",), ("shorted",)) or verdict.sentence == VOLTS_UNKNOWN


def _severed(plan: Plan, evidence: Evidence) -> bool:
    """Whether of many wires from one connector to the other each reads open, and nothing else leads across."""
    across = [(a, b) for net in plan.nets for _, a, b in net.wires if a.ref != b.ref]
    if any(len({p.ref for p in contacts}) > 1 for contacts in evidence.members.values()):
        return False
    return sum(evidence.apart(a, b) for a, b in across) >= LEAST_SEVERED


def _swept(plan: Plan, evidence: Evidence) -> bool:
    """Whether every two nets are proven apart, over all contacts."""
    if any(not evidence.joined(net.contacts[0], p) for net in plan.nets for p in net.contacts[1:]):
        return False
    there = [(index, net.contacts[0]) for index, net in enumerate(plan.nets) if net.contacts and not net.key]
    return all(evidence.apart(a, b) or plan.bridged(one, other) for (one, a), (other, b) in combinations(there, 2))


def _with_volts(plan: Plan, verdict: NetVerdict, measured: Sequence[Measured]) -> NetVerdict:
    """Add to a net's verdict what is wrong with its volts."""
    wrong = [m for m in measured if m.verdict == "wrong" and plan.of(m.contact).name == verdict.name]
    if not wrong:
        return verdict
    kept = tuple(
        s for s in verdict.states if s not in ("passed", "partly measured", "not measured", "no rail found on it")
    )
    said = [verdict.sentence] if kept else []
    sentence = "; ".join([*said, *(m.sentence for m in wrong)])
    contacts = tuple(dict.fromkeys((*(verdict.contacts if kept else ()), *(m.contact for m in wrong))))
    return replace(verdict, states=(*kept, "out of tolerance"), sentence=sentence, contacts=contacts)
