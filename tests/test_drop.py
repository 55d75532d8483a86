"""Resistance of a net's tracks: small pieces of copper by hand, and rules that hold for any net."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pinmap.board.drop import ohms
from pinmap.board.layout import LAYERS, Layer, Pad, Track, Via

RHO = 1.7241e-8  # Ω·m, annealed copper at 20 °C: IEC 60028, from memory
A, B, C, D = [("J1", "1")], [("J2", "1")], [("J1", "2")], [("J2", "2")]

steady = settings(deadline=None, derandomize=True)
close = pytest.approx


def by_hand(length_mm: float, width_mm: float = 0.5, copper_um: float = 35) -> float:
    return RHO * (length_mm * 1e-3) / (width_mm * 1e-3 * copper_um * 1e-6)


MM = by_hand(1)  # of 0.5 mm wide tracks


def pad(contact: Sequence[tuple[str, str]], x: float, y: float, drill: float = 0.9, layer: Layer = "front") -> Pad:
    ((ref, number),) = contact
    return Pad(
        ref, number, "+5V", round(x * 1000), round(y * 1000), 1500, 1500, drill_um=int(drill * 1000), layer=layer
    )


def track(x1: float, y1: float, x2: float, y2: float, layer: Layer = "front", width: float = 0.5) -> Track:
    at = [round(mm * 1000) for mm in (x1, y1, x2, y2)]
    return Track("+5V", layer, at[0], at[1], at[2], at[3], int(width * 1000))


def via(x: float, y: float) -> Via:
    return Via("+5V", round(x * 1000), round(y * 1000), 600, 300)


def of(
    tracks: Sequence[Track],
    pads: Sequence[Pad],
    vias: Sequence[Via] = (),
    start: Sequence[tuple[str, str]] = A,
    end: Sequence[tuple[str, str]] = B,
    copper_um: int = 35,
) -> float | None:
    return ohms(tracks, vias, pads, "+5V", start, end, copper_um)


ENDS = (pad(A, 0, 0), pad(B, 10, 0))


# ---------------------------------------------------------------------- by hand


def test_a_straight_track_is_copper_over_its_section() -> None:
    assert of([track(0, 0, 10, 0)], ENDS) == close(9.852e-3, rel=1e-4)  # 17.241 mΩ · 0.01 / (0.5 · 0.035)
    assert of([track(0, 0, 10, 0)], ENDS) == close(by_hand(10))
    assert of([track(10, 0, 0, 0, width=2)], ENDS, copper_um=70) == close(by_hand(10, 2, 70))


def test_a_track_at_45_degrees_is_as_long_as_it_is() -> None:
    assert of([track(0, 0, 3, 3), track(3, 3, 3, 10)], [pad(A, 0, 0), pad(B, 3, 10)]) == close((3 * 2**0.5 + 7) * MM)


def test_two_ways_are_in_parallel() -> None:
    around = [track(0, 0, 0, 10), track(0, 10, 10, 10), track(10, 10, 10, 0)]  # three times as long
    assert of([track(0, 0, 10, 0), *around], ENDS) == close(7.5 * MM)
    both = [track(0, 0, 10, 0), track(0, 0, 10, 0, "back", 0.25)]  # plated pads join the layers: R and 2 R
    assert of(both, ENDS) == close(20 / 3 * MM)
    lane = [track(0, 0, 10, 0), track(2, 0, 6, 0, "back", 0.25)]  # from via to via: 4 mm beside as good as 8 mm
    assert of(lane, ENDS, [via(2, 0), via(6, 0)]) == close((2 + 8 / 3 + 4) * MM)


def test_a_via_puts_two_layers_in_series() -> None:
    tracks = [track(0, 0, 4, 0), track(4, 0, 10, 0, "back", 0.25)]
    assert of(tracks, ENDS, [via(4, 0)]) == close(by_hand(4) + by_hand(6, 0.25))
    assert of(tracks, ENDS) is None
    assert of(tracks, ENDS, [via(4, 0.001)]) is None


def test_a_branch_in_the_middle_of_a_trunk_divides_it() -> None:
    trunk, branch = track(-5, 0, 10, 0), track(6, 0, 6, 8)
    pads = [pad(A, 0, 0), pad(B, 6, 8)]
    assert of([trunk, branch], pads) == close((6 + 8) * MM)
    on_the_back = replace(branch, layer="back")
    assert of([trunk, on_the_back], pads, [via(6, 0)]) == close((6 + 8) * MM)
    assert of([trunk, on_the_back], pads) is None
    crossing = track(6, -3, 6, 8)  # it runs on beyond the trunk, and neither ends there
    assert of([trunk, crossing], pads) == close((6 + 8) * MM)
    diagonal = [track(0, 0, 5, 5), track(0, 5.001, 5, 0.001)]  # they cross between two whole µm
    assert of(diagonal, [pad(A, 0, 0), pad(B, 0, 5.001)]) == close(5.001 * 2**0.5 * MM)


def test_a_pad_in_the_middle_of_a_track_is_joined_on_its_own_layers() -> None:
    trunk = track(0, 0, 10, 0)
    assert of([trunk], [pad(A, 0, 0), pad(B, 7, 0)]) == close(7 * MM)
    assert of([trunk], [pad(A, 0, 0), pad(B, 7, 0, drill=0)]) == close(7 * MM)
    assert of([trunk], [pad(A, 0, 0), pad(B, 7, 0, drill=0, layer="back")]) is None
    assert of([trunk], [pad(A, 0, 0), pad(B, 7, 0, drill=0, layer="back")], [via(7, 0)]) == close(7 * MM)


def test_a_pad_without_a_hole_joins_no_layers() -> None:
    tracks, there = [track(0, 0, 4, 0), track(4, 0, 10, 0, "back")], pad(C, 4, 0)
    assert of(tracks, [*ENDS, there]) == close(10 * MM)
    assert of(tracks, [*ENDS, replace(there, drill_um=0)]) is None


def test_a_dead_end_carries_nothing() -> None:
    dead = [track(5, 0, 5, 9), track(5, 9, 9, 9), track(0, 0, -9, 0), track(2, 0, 2, 0), track(50, 50, 60, 50)]
    assert of([track(0, 0, 10, 0), *dead], [*ENDS, pad(C, 9, 9)], [via(5, 4)]) == close(10 * MM)


def test_tracks_on_top_of_each_other_are_one_piece_of_copper() -> None:
    assert of([track(0, 0, 10, 0), track(10, 0, 0, 0)], ENDS) == close(10 * MM)
    wide = track(2, 0, 6, 0, width=1)
    assert of([track(0, 0, 10, 0), wide], ENDS) == of([wide, track(0, 0, 10, 0)], ENDS) == close((6 + 4 / 2) * MM)


def test_contacts_at_both_ends_are_in_parallel() -> None:
    # A ladder: rails from A and C to B and D, 10 mm each; A and B at 0 mm, C and D at 6 mm, a rung in the middle.
    pads = [pad(A, 0, 0), pad(B, 10, 0), pad(C, 0, 6), pad(D, 10, 6)]
    rails = [track(0, 0, 10, 0), track(0, 6, 10, 6)]
    rung = track(5, 0, 5, 6)
    assert of(rails, pads, start=A + C, end=B + D) == close(5 * MM)
    assert of([*rails, rung], pads, start=A + C, end=B + D) == close(5 * MM)  # no voltage over the rung
    assert of([*rails, rung], pads, start=A, end=D) == close((5 + 6 + 5) * MM)
    # From A to both: 5 mm to the rung, then 5 mm to B beside 6 + 5 mm to D.
    assert of([*rails, rung], pads, start=A, end=B + D) == close((5 + 5 * 11 / 16) * MM)
    # A bridge out of balance: one half of a rail is 1 mm wide, as good as 2.5 mm. The triangle of both left halves
    # (5 mm each) and the rung (6 mm) is a star of 5 · 5 / 16 to the start and 5 · 6 / 16 to either end of the rung.
    bridge = [track(0, 0, 10, 0), track(0, 6, 5, 6), track(5, 6, 10, 6, width=1), rung]
    expected = 25 / 16 + 6.875 * 4.375 / (6.875 + 4.375)
    assert of(bridge, pads, start=A + C, end=B + D) == close(expected * MM)


# ---------------------------------------------------------------------- no way, or none needed


def test_no_way_is_none() -> None:
    assert of([], ENDS) is None
    assert of([track(0, 0, 4, 0), track(5, 0, 10, 0)], ENDS) is None
    assert of([replace(track(0, 0, 10, 0), net="GND")], ENDS) is None
    assert of([track(0, 0, 4, 0), track(4, 0, 10, 0, "back")], ENDS, [replace(via(4, 0), net="GND")]) is None
    foreign = [ENDS[0], replace(ENDS[1], net="GND")]
    assert of([track(0, 0, 10, 0)], foreign) is None


def test_an_empty_set_of_contacts_is_none() -> None:
    whole = [track(0, 0, 10, 0)]
    assert of(whole, ENDS, start=[]) is None
    assert of(whole, ENDS, end=[]) is None
    assert of(whole, ENDS, end=D) is None  # no such pad
    assert of(whole, [*ENDS, pad(D, 50, 0)], end=B + D) == close(10 * MM)  # one that nothing leads to adds nothing


def test_a_contact_on_both_sides_needs_no_copper() -> None:
    assert of([track(0, 0, 10, 0)], ENDS, start=A + B, end=B) == 0
    assert of([], ENDS, start=A, end=A) == 0


def test_a_track_needs_a_width() -> None:
    with pytest.raises(ValueError, match="a width must be"):
        of([track(0, 0, 10, 0, width=0)], ENDS)


# ---------------------------------------------------------------------- any net


@st.composite
def nets(draw: st.DrawFn) -> tuple[list[Track], list[Pad], list[Via]]:
    """A net on a grid of 1 mm: its tracks run level, upright or at 45°; both pads lie on it or not."""
    spot = st.tuples(st.integers(0, 4), st.integers(0, 4))
    tracks = []
    for _ in range(draw(st.integers(1, 10))):
        x, y = draw(spot)
        dx, dy = draw(st.sampled_from([(1, 0), (0, 1), (1, 1), (1, -1)]))
        far = draw(st.integers(1, 4))
        layer = draw(st.sampled_from(LAYERS))
        tracks.append(track(x, y, x + far * dx, y + far * dy, layer, draw(st.sampled_from([0.25, 0.5, 1.0]))))
    first, last = draw(spot), draw(spot)
    return tracks, [pad(A, *first), pad(B, *last)], [via(*at) for at in draw(st.lists(spot, max_size=3))]


@steady
@given(nets(), st.randoms(use_true_random=False))
def test_order_and_direction_change_nothing(net: tuple[list[Track], list[Pad], list[Via]], chance: Random) -> None:
    tracks, pads, vias = net
    value = of(tracks, pads, vias)
    turned = [replace(t, x1_um=t.x2_um, y1_um=t.y2_um, x2_um=t.x1_um, y2_um=t.y1_um) for t in tracks]
    chance.shuffle(turned)
    flipped = of(turned, pads[::-1], vias[::-1], start=B, end=A)
    assert flipped == (value if value is None else close(value, rel=1e-9))


@steady
@given(nets())
def test_less_copper_never_conducts_better(net: tuple[list[Track], list[Pad], list[Via]]) -> None:
    tracks, pads, vias = net
    value = of(tracks, pads, vias)
    less = of(tracks[1:], pads, vias)
    thinner = of(tracks, pads, vias, copper_um=18)
    if value is None:
        assert less is None
        assert thinner is None
    else:
        assert less is None or less >= value * (1 - 1e-9)
        assert thinner == close(value * 35 / 18)
