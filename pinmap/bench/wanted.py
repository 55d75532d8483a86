"""The readings still to take: in the order of the form, but those first that settle most."""

from __future__ import annotations

from collections.abc import Container, Sequence

from ..readings import Probe, Row
from .graph import Evidence
from .plan import Plan, in_order, pair

_ORDER = ("sweeps", "rails", "settling", "power", "timing", "rest", "isolation")


def missing(
    plan: Plan, evidence: Evidence, form: Sequence[Row], volts: Container[Probe], settling: Sequence[Row]
) -> tuple[Row, ...]:
    """The readings of the form that are not known yet, and those that tell causes apart; `volts`: where taken.

    Sweeps of supplies and returns come first, what needs power last.
    """
    again = [pair(plan, *contacts) for c in evidence.contradictions for contacts in c.pairs]
    by_ends = {_key(row): row for row in form}
    choosing = dict.fromkeys(by_ends.get(_key(row), row) for row in (*again, *settling))
    ranked: dict[Row, int] = {row: _ORDER.index("settling") for row in choosing if row.kind != "volts"}
    for row in form:
        if row.kind != "volts" and not evidence.knows(plan, row):
            rank = _ORDER.index(_rank(plan, row))
            ranked[row] = min(rank, ranked.get(row, rank))
    with_power_on = [row for row in choosing if row.kind == "volts"]
    with_power_on += [row for row in form if row.kind == "volts" and row.start not in volts]
    return in_order(plan, sorted(ranked, key=lambda row: ranked[row]), dict.fromkeys(with_power_on))


def _key(row: Row) -> tuple[object, ...]:
    ends = frozenset((row.start, row.stop)) if row.kind != "volts" else row.start
    return row.kind in ("volts", "sweep"), ends, row.over


def _rank(plan: Plan, row: Row) -> str:
    if row.kind != "continuity":
        return {"sweep": "sweeps", "resistance": "rails"}.get(row.kind, "isolation")
    group = plan.of(row.start).group
    if group in ("return", "supply"):
        return "power"
    return "timing" if group in ("command", "timing") else "rest"
