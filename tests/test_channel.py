from __future__ import annotations

import random
from statistics import median

import pytest
from channel_checker import faults, loops, loose_ends
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pinmap.board.channel import Branch, Channel, Routed, Trunk, Via, route
from pinmap.board.tidying import Board, Line


def clean(channel: Channel, effort: int = 1, most_added: int | None = None) -> Routed:
    """Route a channel and hold it against the referee."""
    routed = route(channel, effort=effort, most_added=most_added)
    assert faults(channel, routed) == []
    assert loose_ends(channel, routed) == []
    assert loops(routed) == []
    return routed


def adapter(contacts: int, slot: int, seed: int) -> Channel:
    """A connector of `contacts` above the middle of one of `slot`: one net to each contact, supplies, open contacts."""
    chance = random.Random(seed)
    wide = max(contacts, slot)
    top, bottom = [0] * wide, [0] * wide
    above = chance.sample(range((wide - contacts) // 2, (wide + contacts) // 2), contacts)
    below = chance.sample(range((wide - slot) // 2, (wide + slot) // 2), slot)
    for net, number in ((1, chance.randint(3, 9)), (2, chance.randint(2, 4))):
        for k in range(min(number, contacts // 2)):
            row, places = (top, above) if k % 2 == 0 else (bottom, below)
            row[places.pop()] = net
    for net, (one, other) in enumerate(zip(above[chance.randint(0, contacts // 10) :], below, strict=False), 3):
        top[one], bottom[other] = net, net
    return Channel(tuple(top), tuple(bottom))


# ---------------------------------------------------------------------------- channels that can be seen through


def test_a_net_whose_terminals_face_each_other_goes_straight_through() -> None:
    assert clean(Channel((1, 0, 2), (1, 0, 2))) == Routed(0, (), (Branch(1, 0, -1, 0), Branch(2, 2, -1, 0)))


def test_one_net_takes_one_trunk_and_two_branches() -> None:
    routed = clean(Channel((5, 0, 0), (0, 0, 5)))
    assert routed == Routed(1, (Trunk(5, 0, 0, 2),), (Branch(5, 0, -1, 0), Branch(5, 2, 0, 1)))
    assert routed.vias == (Via(5, 0, 0), Via(5, 2, 0))
    assert routed.length == 4


def test_two_nets_that_change_places_take_one_more_track_and_one_added_column() -> None:
    routed = clean(Channel((1, 2), (2, 1)))
    assert (routed.tracks, routed.added_left + routed.added_right) == (3, 1)


def test_three_nets_in_a_ring_are_joined() -> None:
    assert clean(Channel((1, 2, 3, 0), (2, 3, 1, 0))).tracks <= 4


def test_pairs_that_change_places_side_by_side_are_joined_towards_both_ends() -> None:
    pairs = range(1, 17, 2)
    top = tuple(net for one in pairs for net in (one, one + 1))
    bottom = tuple(net for one in pairs for net in (one + 1, one))
    routed = clean(Channel(top, bottom))
    assert routed.tracks <= 9
    assert routed.added_left
    assert routed.added_right


def test_a_net_that_only_passes_lies_along_the_whole_channel() -> None:
    routed = clean(Channel((0, 0, 0), (0, 0, 0), frozenset({4}), frozenset({4})))
    assert routed == Routed(1, (Trunk(4, 0, 0, 2),), ())


def test_nets_with_one_end_get_no_copper() -> None:
    assert clean(Channel((1, 0, 2), (0, 3, 0), frozenset({7}))) == Routed(0, (), ())


def test_added_columns_are_bounded_by_what_is_asked_where_that_can_be() -> None:
    channel = Channel((1, 2, 3, 4, 0, 0), (2, 1, 4, 3, 0, 0))
    routed = clean(channel, most_added=0)
    assert (routed.added_left, routed.added_right) == (0, 0)


def test_more_columns_than_asked_are_added_rather_than_nothing_done() -> None:
    routed = clean(Channel((1, 2), (2, 1)), most_added=0)
    assert routed.added_left + routed.added_right == 1


def test_density_counts_nets_along_the_channel_in_its_fullest_column() -> None:
    assert Channel((1, 2, 0, 1), (2, 3, 0, 3)).density == 3
    assert Channel((1, 0), (1, 0)).density == 0
    assert Channel((0, 1), (0, 0), frozenset({1, 2}), frozenset({2})).density == 2


# ---------------------------------------------------------------------------- any channel

NETS = st.integers(0, 9)


@st.composite
def channels(draw: st.DrawFn) -> Channel:
    columns = draw(st.integers(1, 12))
    rows = st.lists(NETS, min_size=columns, max_size=columns).map(tuple)
    top = draw(rows)
    bottom = draw(st.one_of(rows, st.just(top), st.permutations(top).map(tuple), st.just((0,) * columns)))
    ends = st.one_of(st.just(frozenset[int]()), st.frozensets(st.integers(1, 11), max_size=5))
    return Channel(top, bottom, draw(ends), draw(ends))


@settings(deadline=None, derandomize=True, max_examples=100)
@given(channels())
def test_any_channel_is_joined_and_nothing_touches(channel: Channel) -> None:
    routed = clean(channel)
    assert routed.tracks >= channel.density


@settings(deadline=None, derandomize=True, max_examples=12)
@given(st.permutations(range(1, 15)), st.integers(0, 2))
def test_any_order_is_joined_whatever_columns_may_be_added(order: list[int], most_added: int) -> None:
    clean(Channel(tuple(range(1, 15)), tuple(order)), most_added=most_added)


@pytest.mark.parametrize("seed", range(2))
def test_the_same_channel_gives_the_same_copper(seed: int) -> None:
    channel = adapter(24, 30, seed)
    assert route(channel) == route(replace(channel))


def test_random_adapters_take_few_more_tracks_than_no_router_can_do_without() -> None:
    ratios = []
    for seed, (contacts, slot) in enumerate([(20, 62), (34, 62), (50, 62), (62, 62), (40, 98), (62, 62)]):
        channel = adapter(contacts, slot, seed)
        ratios.append(clean(channel, effort=2).tracks / channel.density)
    assert median(ratios) <= 1.05
    assert max(ratios) <= 1.15


# ---------------------------------------------------------------------------- tidying


def tidied(
    tracks: int, trunks: list[Line], branches: list[Line], leaving: frozenset[int] = frozenset()
) -> tuple[list[Line], list[Line]]:
    """Tidy copper in columns 0 to 9; `leaving` at both ends. Lines are (net, track or column, first, last)."""
    board = Board(tracks, 9, leaving, leaving, (trunks, branches))
    board.tidy(10_000)
    after = board.lines()
    return sorted(after[0]), sorted(after[1])


def test_a_jog_goes_where_the_trunk_can_stay_on_one_track() -> None:
    before = [(1, 0, 0, 3), (1, 1, 3, 6)], [(1, 0, -1, 0), (1, 3, 0, 1), (1, 6, -1, 1)]
    assert tidied(3, *before) == ([(1, 0, 0, 6)], [(1, 0, -1, 0), (1, 6, -1, 0)])


def test_a_jog_stays_where_another_net_is_in_the_way() -> None:
    trunks = [(1, 0, 0, 3), (1, 1, 3, 6), (2, 1, 0, 2), (3, 0, 4, 6)]
    branches = [(1, 0, -1, 0), (1, 3, 0, 1), (1, 6, 1, 2), (2, 0, 1, 2), (2, 2, 1, 2), (3, 4, -1, 0), (3, 6, -1, 0)]
    assert tidied(2, trunks, branches) == (trunks, branches)


def test_what_is_left_over_beside_a_jog_is_cut_off() -> None:
    before = [(1, 0, 2, 5), (1, 1, 2, 8)], [(1, 2, 0, 1), (1, 5, -1, 0), (1, 8, 1, 2)]
    assert tidied(2, *before)[0] in ([(1, 0, 5, 8)], [(1, 1, 5, 8)])


def test_a_trunk_that_leaves_still_reaches_the_end() -> None:
    before = [(1, 0, 0, 5), (1, 1, 5, 8)], [(1, 5, 0, 1), (1, 8, 1, 2)]
    assert tidied(2, *before, frozenset({1})) == ([(1, 1, 0, 8)], [(1, 8, 1, 2)])


def test_a_trunk_comes_to_the_track_where_its_branches_are_shortest() -> None:
    before = [(1, 2, 0, 6)], [(1, 0, -1, 2), (1, 6, -1, 2)]
    assert tidied(4, *before) == ([(1, 0, 0, 6)], [(1, 0, -1, 0), (1, 6, -1, 0)])


def test_a_trunk_does_not_go_where_its_branch_would_meet_another() -> None:
    trunks = [(1, 2, 0, 6), (2, 1, 6, 9)]
    branches = [(1, 0, -1, 2), (1, 6, 2, 3), (2, 6, -1, 1), (2, 9, 1, 3)]
    assert tidied(3, trunks, branches) == (trunks, branches)


def test_a_trunk_does_not_close_a_loop() -> None:
    # On track 0 the trunk of net 1 in columns 3 to 6 would be shorter, but meet its net's branch in column 5.
    trunks = [(1, 1, 5, 9), (1, 2, 3, 6), (2, 1, 0, 4), (3, 2, 7, 8)]
    branches = [(1, 3, -1, 2), (1, 5, -1, 1), (1, 6, 1, 2), (1, 9, 1, 3), (2, 0, 1, 3), (2, 4, -1, 1)]
    branches += [(3, 7, 2, 3), (3, 8, 2, 3)]
    assert tidied(3, trunks, branches) == (trunks, branches)


def test_a_branch_made_longer_does_not_close_a_loop() -> None:
    # On track 0 the trunk in columns 2 to 6 would be shorter, but its branch in column 6 would meet the other trunk.
    trunks = [(1, 1, 5, 8), (1, 2, 2, 6), (2, 1, 0, 3), (3, 2, 7, 8)]
    branches = [(1, 2, -1, 2), (1, 4, -1, 2), (1, 5, 1, 2), (1, 6, 2, 3), (1, 8, -1, 1), (2, 0, 1, 3), (2, 3, 1, 3)]
    branches += [(3, 7, 2, 3), (3, 8, 2, 3)]
    assert tidied(3, trunks, branches) == (trunks, branches)


# ---------------------------------------------------------------------------- bad input


@pytest.mark.parametrize(
    ("top", "bottom", "left", "right", "message"),
    [
        ((), (), (), (), "a channel must have at least one column, not none"),
        ((1, 2), (1,), (), (), "both rows of a channel must have as many columns, not 2 and 1"),
        ((1, -3), (0, 1), (), (), "a net must be 1 or more, 0 where there is none, not -3"),
        ((1, 1), (0, -1), (), (), "a net must be 1 or more, 0 where there is none, not -1"),
        ((1, 1), (0, 0), (0,), (), "a net that leaves the channel must be 1 or more, not 0"),
        ((1, 1), (0, 0), (), (-2,), "a net that leaves the channel must be 1 or more, not -2"),
    ],
)
def test_malformed_channels_are_refused(
    top: tuple[int, ...], bottom: tuple[int, ...], left: tuple[int, ...], right: tuple[int, ...], message: str
) -> None:
    with pytest.raises(ValueError, match="^" + message + "$"):
        Channel(top, bottom, frozenset(left), frozenset(right))


@pytest.mark.parametrize(("effort", "most_added"), [(0, 2), (-1, None), (1, -1)])
def test_effort_and_columns_below_the_least_are_refused(effort: int, most_added: int | None) -> None:
    with pytest.raises(ValueError, match="effort must be 1 or more and most_added 0 or more, not "):
        route(Channel((1,), (1,)), effort=effort, most_added=most_added)


# ---------------------------------------------------------------------------- the referee itself

LANE = Channel((1, 2, 0, 0), (0, 1, 0, 2), frozenset({3}), frozenset({3}))
GOOD = Routed(
    3,
    (Trunk(1, 1, 0, 1), Trunk(2, 0, 1, 3), Trunk(3, 2, 0, 3)),
    (Branch(1, 0, -1, 1), Branch(1, 1, 1, 3), Branch(2, 1, -1, 0), Branch(2, 3, 0, 3)),
)


def test_the_referee_finds_nothing_in_good_copper() -> None:
    assert faults(LANE, GOOD) == []
    assert loose_ends(LANE, GOOD) == []


@pytest.mark.parametrize(
    ("broken", "found"),
    [
        (replace(GOOD, branches=GOOD.branches[1:]), "net 1 does not reach 1 of its ends"),
        (replace(GOOD, trunks=GOOD.trunks[1:]), "net 1 is in pieces"),
        (
            replace(GOOD, trunks=(Trunk(1, 0, 0, 1), *GOOD.trunks[1:])),
            "nets 1 and 2 share column 1, row 0 on the trunk layer",
        ),
        (
            replace(GOOD, branches=(Branch(1, 0, -1, 1), Branch(1, 1, 0, 3), *GOOD.branches[2:])),
            "nets 1 and 2 share column 1, row 0 on the branch layer",
        ),
        (replace(GOOD, trunks=(*GOOD.trunks[:2], Trunk(3, 2, 0, 2))), "net 3 does not reach 1 of its ends"),
        (replace(GOOD, trunks=(*GOOD.trunks[:2], Trunk(3, 2, 1, 3))), "net 3 does not reach 1 of its ends"),
        (
            replace(GOOD, branches=(*GOOD.branches, Branch(3, 0, 2, 3))),
            "net 3 touches the terminal of net 0 at column 0, row 3",
        ),
        (replace(GOOD, trunks=(*GOOD.trunks, Trunk(9, 0, 0, 0))), "net 9 has copper and no end"),
        (replace(GOOD, trunks=(*GOOD.trunks, Trunk(3, 3, 0, 1))), "a trunk of net 3 lies outside the channel"),
        (replace(GOOD, branches=(*GOOD.branches, Branch(3, 4, 1, 2))), "a branch of net 3 lies outside the channel"),
    ],
)
def test_the_referee_finds_each_fault(broken: Routed, found: str) -> None:
    assert found in faults(LANE, broken)


def test_the_referee_finds_loose_ends() -> None:
    long = replace(GOOD, trunks=(Trunk(1, 1, 0, 2), *GOOD.trunks[1:]))
    assert loose_ends(LANE, long) == ["the trunk of net 1 on track 1 ends loose at column 2"]
    deep = replace(GOOD, branches=(Branch(1, 0, -1, 2), *GOOD.branches[1:]))
    assert loose_ends(LANE, deep) == ["the branch of net 1 in column 0 ends loose at row 2"]
