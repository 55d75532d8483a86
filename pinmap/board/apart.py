"""Clocks and commands apart: whole tracks change places where that parts them and costs nothing.

Two lines couple where they run side by side. A clock beside a command is worst: an edge of the one, seen on the other,
is a cycle that nobody began. Common practice, no source. No net is made longer on purpose, none is equalised.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from .channel import Branch, Routed, Trunk

#: So often all tracks with clocks are looked through.
_ROUNDS = 3


def beside(routed: Routed, clocks: Collection[int], commands: Collection[int]) -> int:
    """Over how many columns a clock lies on the next track to another clock or a command."""
    rows = _rows(routed.trunks)
    return sum(_side_by_side(rows[row], rows[row + 1], clocks, commands) for row in range(routed.tracks - 1))


def length(routed: Routed, nets: Collection[int]) -> int:
    """How many columns the trunks of some nets cover together."""
    return sum(trunk.last - trunk.first for trunk in routed.trunks if trunk.net in nets)


def apart(routed: Routed, clocks: Collection[int], commands: Collection[int]) -> Routed:
    """Exchange tracks so that clocks and commands lie beside each other as little as this can do."""
    order = list(range(routed.tracks))  # the old track at each place
    columns: dict[int, list[_Joins]] = defaultdict(list)
    for joins in _joined(routed):
        columns[joins.branch.column].append(joins)
    rows = _rows(routed.trunks)

    def cost(places: Sequence[int]) -> int:
        pairs = pairwise(places)
        return sum(_side_by_side(rows[one], rows[other], clocks, commands) for one, other in pairs)

    now = cost(order)
    for _ in range(_ROUNDS):
        before = now
        for place in range(len(order)):
            if not any(trunk.net in clocks for trunk in rows[order[place]]):
                continue
            for other in range(len(order)):
                tried = order.copy()
                tried[place], tried[other] = tried[other], tried[place]
                then = cost(tried)
                if then < now and _holds(columns, tried):
                    order, now = tried, then
        if now == before:
            break
    if order == list(range(routed.tracks)):
        return routed
    return _exchanged(routed, order)


def _rows(trunks: Sequence[Trunk]) -> dict[int, list[Trunk]]:
    rows: dict[int, list[Trunk]] = defaultdict(list)
    for trunk in trunks:
        rows[trunk.track].append(trunk)
    return rows


def _side_by_side(
    one: Sequence[Trunk], other: Sequence[Trunk], clocks: Collection[int], commands: Collection[int]
) -> int:
    return sum(
        max(0, min(a.last, b.last) - max(a.first, b.first))
        for a in one
        for b in other
        if a.net != b.net
        and ((a.net in clocks and (b.net in clocks or b.net in commands)) or (b.net in clocks and a.net in commands))
    )


class _Joins(Struct, frozen=True):
    """A branch and every row that it joins: its ends, and the tracks of its net that it meets."""

    branch: Branch
    rows: tuple[int, ...]

    def span(self, place: Mapping[int, int]) -> tuple[int, int]:
        there = [place[row] for row in self.rows]
        return min(there), max(there)


def _joined(routed: Routed) -> Iterator[_Joins]:
    at: dict[tuple[int, int], list[int]] = defaultdict(list)
    for via in routed.vias:
        at[via.net, via.column].append(via.track)
    for branch in routed.branches:
        met = (row for row in at[branch.net, branch.column] if branch.upper <= row <= branch.lower)
        yield _Joins(branch, tuple(sorted({branch.upper, branch.lower, *met})))


def _holds(columns: Mapping[int, Sequence[_Joins]], order: Sequence[int]) -> bool:
    """Whether the branches of no column touch each other when the tracks stand in this order."""
    place = _places(order)
    for joins in columns.values():
        spans = sorted(each.span(place) for each in joins)
        if any(a[1] >= b[0] for a, b in pairwise(spans)):
            return False
    return True


def _places(order: Sequence[int]) -> dict[int, int]:
    return {old: new for new, old in enumerate(order)} | {-1: -1, len(order): len(order)}


def _exchanged(routed: Routed, order: Sequence[int]) -> Routed:
    place = _places(order)
    branches = [Branch(each.branch.net, each.branch.column, *each.span(place)) for each in _joined(routed)]
    return replace(
        routed,
        trunks=tuple(sorted(replace(trunk, track=place[trunk.track]) for trunk in routed.trunks)),
        branches=tuple(sorted(branches)),
    )
