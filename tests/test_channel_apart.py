"""Clocks and commands are parted by exchanging tracks, and nothing else changes."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap.board.apart import apart, beside, length
from pinmap.board.channel import Branch, Channel, Routed, Trunk, route
from pinmap.board.placing import cycles


def test_a_clock_beside_a_command_changes_places_with_a_quiet_track() -> None:
    trunks = tuple(Trunk(net, track, 10 * track, 9 + 10 * track) for track, net in enumerate((3, 4)))
    crowded = (Trunk(1, 0, 0, 9), Trunk(2, 1, 0, 9), Trunk(3, 2, 0, 9), Trunk(4, 3, 0, 9))
    branches = tuple(Branch(t.net, t.net, -1, t.track) for t in crowded)
    routed = Routed(4, crowded, branches)
    assert beside(routed, {1}, {2}) == 9
    done = apart(routed, {1}, {2})
    assert beside(done, {1}, {2}) == 0
    assert length(done, {1, 2}) == length(routed, {1, 2}) == 18
    assert {t.net for t in done.trunks} == {1, 2, 3, 4}
    assert beside(Routed(2, trunks, ()), {3}, {4}) == 0  # not over the same columns


def test_tracks_stay_where_branches_would_touch() -> None:
    # Column 0 has both nets: net 1 comes from above, net 2 from below; exchanged, their branches would cross.
    routed = Routed(2, (Trunk(1, 0, 0, 5), Trunk(2, 1, 0, 5)), (Branch(1, 0, -1, 0), Branch(2, 0, 1, 2)))
    assert apart(routed, {1}, {2}) == routed


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    st.permutations(list(range(1, 13))), st.permutations(list(range(1, 13))), st.sets(st.integers(1, 12), max_size=4)
)
def test_what_is_joined_stays_joined_and_never_gets_worse(top: list[int], bottom: list[int], some: set[int]) -> None:
    routed = route(Channel(tuple(top), tuple(bottom)), effort=1)
    clocks = {net for net in some if net % 2}
    done = apart(routed, clocks, some - clocks)
    assert beside(done, clocks, some - clocks) <= beside(routed, clocks, some - clocks)
    assert joined(done) == joined(routed)
    for column in {b.column for b in done.branches}:
        spans = sorted((b.upper, b.lower) for b in done.branches if b.column == column)
        assert all(a[1] < b[0] for a, b in pairwise(spans))
    for track in range(done.tracks):
        runs = sorted((t.first, t.last) for t in done.trunks if t.track == track)
        assert all(a[1] < b[0] for a, b in pairwise(runs))


def joined(routed: Routed) -> set[frozenset[tuple[str, int]]]:
    """Which terminals hang together."""
    group: dict[object, object] = {}

    def find(item: object) -> object:
        while group.setdefault(item, item) != item:
            item = group[item]
        return item

    for branch in routed.branches:
        if branch.upper == -1:
            group[find(("top", branch.column))] = find(branch)
        if branch.lower == routed.tracks:
            group[find(("bottom", branch.column))] = find(branch)
        for trunk in routed.trunks:
            on = branch.upper <= trunk.track <= branch.lower and trunk.first <= branch.column <= trunk.last
            if on and trunk.net == branch.net:
                group[find(branch)] = find(trunk)
    out: dict[object, set[tuple[str, int]]] = {}
    for item in list(group):
        if isinstance(item, tuple) and item[0] in ("top", "bottom"):
            out.setdefault(find(item), set()).add(item)
    return {frozenset(each) for each in out.values()}


@pytest.mark.parametrize(
    ("top", "bottom", "knots"),
    [
        ((1, 2), (2, 1), 1),
        ((1, 2, 3, 4), (2, 1, 4, 3), 2),
        ((1, 2, 3), (2, 3, 1), 1),
        ((1, 2, 3), (2, 3, 4), 0),
        ((1, 2, 0), (1, 0, 2), 0),
    ],
)
def test_rings_of_nets_that_must_lie_above_each_other_are_counted(
    top: tuple[int, ...], bottom: tuple[int, ...], knots: int
) -> None:
    assert cycles(Channel(top, bottom)) == knots
