"""Boards, read: the nets that are named and those that are there in copper."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from boards import TRACK, Board, Pad, Track, made, segment, together, two
from built import pair, small
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pinmap import api
from pinmap.audit import board as boards_read
from pinmap.audit import board_reader, copper, source
from pinmap.audit.drawn import Drawn
from pinmap.errors import PinmapError, SeveralErrors, UnreadableError
from pinmap.writers import netlist

DRAWINGS = Path(__file__).parent / "data" / "drawings"
BY_HAND = {
    "by-hand-20221018": (
        "texts and pictures on copper do not count (line 67)",
        "the zone of net '+5V' on F.Cu (line 84) is not filled: its copper does not count",
    ),
    "by-hand-20240108": (),
    "by-hand-20241229": (),
    "by-hand-names-only": (
        "the file is of version 20260101, newer than 20241229, the newest that was known when this was written: what "
        "is new in it may be misread",
        "not known here, and passed over: (holes …) (line 4)",
    ),
}
PAIRS = [
    ("oakmere-88", "isa-8bit"),
    ("brindle-portable", "isa-8bit"),
    ("tarn-rack", "isa-16bit"),
    ("oakmere-88", "pc104-8bit"),
    ("tarn-rack", "pc104-16bit"),
]
Groups = set[frozenset[tuple[str, str]]]


def of(drawn: Drawn) -> tuple[Groups, Groups]:
    """The groups by name and in copper."""
    assert drawn.copper is not None
    return {net.nodes for net in drawn.nets}, {net.nodes for net in drawn.copper}


@pytest.fixture
def read(tmp_path: Path) -> Callable[[str], Drawn]:
    def reading(text: str) -> Drawn:
        file = tmp_path / "b.kicad_pcb"
        file.write_text(text, "utf-8")
        return boards_read.read(file)

    return reading


def wired(groups: Groups) -> Groups:
    return {group for group in groups if len(group) > 1}


# --- what was planned, drawn ------------------------------------------------------------------


@pytest.mark.parametrize("zone", [False, True], ids=["tracks", "zone"])
@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_a_board_of_a_plan_has_the_nets_of_the_plan_by_name_and_in_copper(
    host: str, card: str, zone: bool, read: Callable[[str], Drawn]
) -> None:
    board = made(pair(host, card), zone=zone)
    drawn = read(board.text())
    assert of(drawn) == (board.nets(), wired(board.nets()))
    assert drawn.remarks == ()
    assert drawn.kind == "board"
    assert set(drawn.parts) == {"J1", "J2"}
    planned = {(pad.ref, pad.number): pad.pin for pad in board.pads}
    assert {(ref, pad): pin for ref, part in drawn.parts.items() for pad, pin in part.pads} == planned


@pytest.mark.parametrize("design", ["oakmere-riser", "brindle-riser", "tarn-riser"])
def test_a_board_with_the_parts_of_remedies_has_the_nets_of_the_plan(design: str, read: Callable[[str], Drawn]) -> None:
    adapter = api.adapt(design)
    board = made(adapter)
    drawn = read(board.text())
    assert of(drawn) == (board.nets(), wired(board.nets()))
    assert {ref: part.value for ref, part in drawn.parts.items()} == {p.ref: p.value for p in netlist.parts(adapter)}


@pytest.mark.parametrize("version", [20211014, 20221018, 20230121, 20240108, 20241229, 20260101])
def test_every_version_of_the_format_gives_the_same(version: int, read: Callable[[str], Drawn]) -> None:
    board = made(small())
    drawn = read(board.text(version))
    assert of(drawn) == (board.nets(), wired(board.nets()))
    assert len(drawn.remarks) == (version > board_reader.NEWEST_VERSION)
    assert drawn.parts["J1"].value == board.values["J1"]


@pytest.mark.parametrize("name", BY_HAND)
def test_a_board_made_by_hand_is_read_in_each_version(name: str) -> None:
    drawn = boards_read.read(DRAWINGS / f"{name}.kicad_pcb")
    ground = frozenset({("J1", "1"), ("J2", "1"), ("TP1", "1")})
    rest = {"+5V": frozenset({("J1", "2"), ("J2", "2")}), "/D0": frozenset({("J1", "3"), ("J2", "3")})}
    alone = {"unconnected-(J2-Pad4)": frozenset({("J2", "4")})} if name == "by-hand-20240108" else {}
    assert {net.name: net.nodes for net in drawn.nets} == {"GND": ground, **rest, **alone}
    assert {net.name: net.nodes for net in drawn.copper or ()} == {"GND": ground, **rest}
    assert drawn.remarks == BY_HAND[name]
    assert drawn.parts["J1"].value == "machine"
    assert drawn.parts["J1"].footprint == "Connector:PinHeader_1x03"
    assert drawn.parts["J1"].place.line > 1


# --- faults -----------------------------------------------------------------------------------


@cache
def good(zone: bool = False) -> Board:
    return made(pair("oakmere-88", "isa-8bit"), zone=zone)


def nodes(board: Board, net: str) -> frozenset[tuple[str, str]]:
    return frozenset((pad.ref, pad.number) for pad in board.pads if pad.net == net)


def trunk(board: Board, net: str) -> Track:
    return max((t for t in board.tracks if t.net == net and t.layer == "F.Cu"), key=lambda t: t.end[0] - t.start[0])


Fault = tuple[Board, Groups, Groups]  # the board, and what must be there by name and in copper


def cut(board: Board) -> Fault:
    whole = trunk(board, "SD3")
    (x, y), (end, _) = whole.start, whole.end
    middle, half = (x + end) / 2, TRACK / 2 + 0.05
    board.tracks.remove(whole)
    board.tracks += [replace(whole, end=(middle - half, y)), replace(whole, start=(middle + half, y))]
    return board, board.nets(), wired(board.nets()) - {nodes(board, "SD3")}


def onto_the_neighbour(board: Board) -> Fault:
    """The track of SD3 begins at the pad beside its own."""
    own = next(pad for pad in board.of("J2") if pad.net == "SD3")
    other = next(pad for pad in board.of("J2") if pad.net == "SD2")
    start = next(t for t in board.tracks if t.start == own.at)
    board.tracks[board.tracks.index(start)] = replace(start, start=other.at)
    joined = (nodes(board, "SD3") | nodes(board, "SD2")) - {("J2", own.number)}
    rest = wired(board.nets()) - {nodes(board, "SD3"), nodes(board, "SD2")}
    return board, board.nets(), rest | {joined}


def without_a_via(board: Board) -> Fault:
    board.vias.remove(next(via for via in board.vias if via.net == "SD3"))
    return board, board.nets(), wired(board.nets()) - {nodes(board, "SD3")}


def crossing(board: Board) -> Fault:
    """The level of SD3 runs on the back, through all that comes down there to lower levels."""
    level = trunk(board, "SD3")
    board.tracks[board.tracks.index(level)] = replace(level, layer="B.Cu")
    y, low, high = level.start[1], level.start[0], level.end[0]
    met = {
        t.net
        for t in board.tracks
        if t.layer == "B.Cu" and t.start[0] == t.end[0] and low < t.start[0] < high and t.end[1] > y > t.start[1]
    }
    assert met
    met.add("SD3")
    joined = frozenset().union(*(nodes(board, net) for net in met))
    return board, board.nets(), {g for g in wired(board.nets()) if not g & joined} | {joined}


def unfilled(board: Board) -> Fault:
    board.zones = [replace(zone, filled=False) for zone in board.zones]
    return board, board.nets(), wired(board.nets()) - {nodes(board, board.zones[0].net)}


def moved(board: Board, move: Callable[[float, float], tuple[float, float]]) -> Fault:
    """The pads of J1 lie elsewhere, and the tracks do not."""
    pads = board.of("J1")
    xs, ys = ([pad.at[axis] for pad in pads] for axis in (0, 1))
    mid_x, mid_y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    there = {}
    before = wired(board.nets())
    for pad in pads:
        dx, dy = move(pad.at[0] - mid_x, pad.at[1] - mid_y)
        at = (round(mid_x + dx, 4), round(mid_y + dy, 4))
        there["J1", next(p.number for p in pads if p.at == at)] = ("J1", pad.number)
        board.pads[board.pads.index(pad)] = replace(pad, at=at, shape="circle")
    return board, board.nets(), {frozenset(there.get(node, node) for node in group) for group in before}


def mirrored(board: Board) -> Fault:
    return moved(board, lambda x, y: (-x, y))


def turned_round(board: Board) -> Fault:
    return moved(board, lambda x, y: (-x, -y))


def pad_renamed(board: Board) -> Fault:
    in_copper = wired(board.nets())
    pad = next(pad for pad in board.of("J2") if pad.net == "SD3")
    board.pads[board.pads.index(pad)] = replace(pad, net="SD4")
    return board, board.nets(), in_copper


def nets_renamed(board: Board) -> Fault:
    """All of SD3 and SD4 go by each other's names: that changes nothing."""
    swap = {"SD3": "SD4", "SD4": "SD3"}
    before = board.nets()
    board.pads = [replace(pad, net=swap.get(pad.net, pad.net)) for pad in board.pads]
    board.tracks = [replace(track, net=swap.get(track.net, track.net)) for track in board.tracks]
    board.vias = [replace(via, net=swap.get(via.net, via.net)) for via in board.vias]
    return board, before, wired(before)


#: fault, with a zone, changes the nets by name, changes the nets in copper
FAULTS: list[tuple[Callable[[Board], Fault], bool, bool, bool]] = [
    (cut, False, False, True),
    (onto_the_neighbour, False, False, True),
    (without_a_via, False, False, True),
    (crossing, False, False, True),
    (unfilled, True, False, True),
    (mirrored, False, False, True),
    (turned_round, False, False, True),
    (pad_renamed, False, True, False),
    (nets_renamed, False, False, False),
]


@pytest.mark.parametrize(
    ("fault", "zone", "by_name", "in_copper"), FAULTS, ids=[fault.__name__ for fault, *_ in FAULTS]
)
def test_a_fault_changes_the_view_that_it_must_and_no_other(
    fault: Callable[[Board], Fault], zone: bool, by_name: bool, in_copper: bool, read: Callable[[str], Drawn]
) -> None:
    before = of(read(good(zone).text()))
    board, named, touching = fault(good(zone).copy())
    after = of(read(board.text()))
    assert after == (named, touching)
    assert (after[0] != before[0], after[1] != before[1]) == (by_name, in_copper)


# --- turning ----------------------------------------------------------------------------------

ODD = ["circle", "rect", "oval", "roundrect", "trapezoid"]
MORE = {"roundrect": "(roundrect_rratio 0.2)", "trapezoid": "(rect_delta 0 0.3)"}


@cache
def odd_pads() -> Board:
    """The small board with pads of all shapes, none as high as it is wide."""
    board = made(small()).copy()
    for index, pad in enumerate(board.pads):
        shape = ODD[index % len(ODD)]
        more = f"{pad.more} {MORE.get(shape, '')}"
        board.pads[index] = replace(pad, shape=shape, size=(1.0, 1.8), more=more)
    return board


@given(
    angle=st.floats(-360, 360),
    written=st.floats(-360, 360),
    x=st.integers(-50, 50),
    y=st.integers(-50, 50),
    flip=st.booleans(),
)
@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_board_turned_or_flipped_conducts_the_same(
    angle: float, written: float, x: int, y: int, flip: bool, read: Callable[[str], Drawn]
) -> None:
    board = odd_pads().turned(angle, (x, y))
    if flip:
        board = board.flipped()
    frames = {"J1": (written, (float(x), float(y))), "J2": (-written / 2, (1.5, -2.25))}
    drawn = read(board.text(frames=frames, side="B.Cu" if flip else "F.Cu"))
    assert of(drawn) == (board.nets(), wired(board.nets()))


@given(seed=st.integers(0, 10**6))
@settings(max_examples=20, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_order_in_the_file_changes_nothing(seed: int, read: Callable[[str], Drawn]) -> None:
    board = odd_pads().copy()
    board.tracks.append(Track(board.pads[2].at, board.pads[3].at, "F.Cu", board.pads[2].net))
    straight = read(board.text())
    chance = random.Random(seed)
    for things in (board.pads, board.tracks, board.vias):
        chance.shuffle(things)
    mixed = read(board.text())
    for one, other in ((straight.nets, mixed.nets), (straight.copper or (), mixed.copper or ())):
        assert [(net.name, net.nodes) for net in one] == [(net.name, net.nodes) for net in other]


# --- names ------------------------------------------------------------------------------------


def test_where_nets_meet_is_told_with_both_lines_and_the_place(read: Callable[[str], Drawn]) -> None:
    second = '(pad "2" smd circle (at 10 0) (size 1 1) (layers "F.Cu") (net 2 "B"))'
    drawn = read(two(segment(0, 0, 10, 0), second=second))
    assert drawn.remarks == ("pad P 2 of net 'B' (line 6) touches track of net 'A' (line 8) on F.Cu at 10.00, 0.00 mm",)
    assert [(net.name, net.place.line) for net in drawn.copper or ()] == [("A + B", 8)]
    by_way = read(two('(gr_line (start 0 0) (end 10 0) (width 1) (layer "F.Cu"))', second=second))
    assert by_way.remarks == (
        "pad P 1 of net 'A' (line 5) touches drawing of no net (line 8) on F.Cu at 0.00, 0.00 mm",
        "pad P 2 of net 'B' (line 6) touches drawing of no net (line 8) on F.Cu at 10.00, 0.00 mm",
    )


def test_only_so_many_meetings_are_told(read: Callable[[str], Drawn]) -> None:
    second = '(pad "2" smd circle (at 10 0) (size 1 1) (layers "F.Cu") (net 2 "B"))'
    drawn = read(two(*(segment(0, 0, 5, 0) for _ in range(100)), segment(5, -3, 5, 3, net=2), second=second))
    assert len(drawn.remarks) == 21
    assert drawn.remarks[-1] == "80 more such places"


def test_a_zone_inside_a_footprint_is_told(read: Callable[[str], Drawn]) -> None:
    zone = '(zone (net 1) (layer "F.Cu") (filled_polygon (layer "F.Cu") (pts (xy 0 0) (xy 10 0) (xy 5 5))))'
    drawn = read(two(f'(footprint "t:z" (at 0 0) (property "Reference" "Z") {zone})'))
    assert drawn.remarks == ("a zone in the footprint of 'Z' (line 8) does not count as copper",)
    assert drawn.copper == ()


def test_a_text_on_copper_is_told_unless_it_is_hidden(read: Callable[[str], Drawn]) -> None:
    text = '(gr_text "{0}" (at 0 0) {1} (layer "F.Cu"))'
    hidden = text.format("x", "(hide yes)"), text.format("x", "hide"), '(gr_text "x" (at 0 0) (layer "F.SilkS"))'
    assert read(two(*hidden)).remarks == ()
    shown = read(two(*hidden, *(text.format("x", "(hide no)") for _ in range(4))))
    assert shown.remarks == ("texts and pictures on copper do not count (lines 11, 12, 13 and others)",)


def test_pads_of_one_number_are_one_pin(read: Callable[[str], Drawn]) -> None:
    twins = '(pad "1" smd circle (at {} 0) (size 1 1) (layers "F.Cu") (net {} "{}"))'
    third = '(pad "2" smd circle (at 10 5) (size 1 1) (layers "F.Cu") (net 1 "A"))'
    other = (
        '(footprint "t:o" (at 0 5) (property "Reference" "Q") (pad "1" smd rect (at 0 0) (size 1 1) (layers "F.Cu")))'
    )
    tracks = segment(10, 0, 10, 5), segment(0, 0, 0, 5)
    one = read(two(other, *tracks, first=twins.format(0, 1, "A"), second=twins.format(10, 1, "A") + third))
    named = frozenset({("P", "1"), ("P", "2")})
    assert of(one) == ({named}, {named | {("Q", "1")}})
    split = read(two(first=twins.format(0, 1, "A"), second=twins.format(10, 2, "B") + third))
    assert [(net.name, net.nodes) for net in split.nets] == [("A + B", frozenset({("P", "1"), ("P", "2")}))]
    assert split.remarks == ("the pads '1' of 'P' are one pin, which joins the nets 'A' and 'B' (line 6)",)


def test_a_second_part_of_one_reference_is_called_after_its_line(read: Callable[[str], Drawn]) -> None:
    twin = (
        '(footprint "t:t" (at 5 5) (property "Reference" "{}") (pad "1" smd rect (at 0 0) (size 1 1) (layers "F.Cu")))'
    )
    drawn = read(two(twin.format("P"), twin.format(""), twin.format("") + twin.format("P")))
    assert list(drawn.parts) == ["P", "P (line 8)", "part (line 9)", "part (line 10)", "P (line 10)"]
    assert drawn.remarks == (
        "the reference 'P' stands twice: the part in line 8 is called 'P (line 8)' here",
        "a part has no reference: the part in line 9 is called 'part (line 9)' here",
        "a part has no reference: the part in line 10 is called 'part (line 10)' here",
        "the reference 'P' stands twice: the part in line 10 is called 'P (line 10)' here",
    )


def test_a_pad_that_names_its_net_otherwise_than_the_list_is_believed_and_told(read: Callable[[str], Drawn]) -> None:
    drawn = read(two(second='(pad "2" smd circle (at 10 0) (size 1 1) (layers "F.Cu") (net 1 "C"))'))
    assert {net.name for net in drawn.nets} == {"A", "C"}
    assert drawn.remarks == ("net 1 is called 'A' in the list of nets and 'C' in line 6: the latter is taken",)


def test_hostile_names_are_shown_and_do_nothing(read: Callable[[str], Drawn]) -> None:
    name = "\x1b[31m\u202eGND\\\"(;'"
    board = made(small())
    board.pads = [replace(pad, net=name if pad.net == "GND" else pad.net, pin=name) for pad in board.pads]
    board.tracks = [replace(track, net=name if track.net == "GND" else track.net) for track in board.tracks]
    board.vias = [replace(via, net=name if via.net == "GND" else via.net) for via in board.vias]
    board.values["J1"] = name
    odd = board.pad("J1", "1")
    board.pads[board.pads.index(odd)] = replace(odd, number="\u202e1")
    drawn = read(board.text())
    assert ("\\u202e1", "\\u001b[31m\\u202eGND\\\"(;'") in drawn.parts["J1"].pads
    board.pads[board.pads.index(board.pad("J1", "\u202e1"))] = replace(odd, number="\\u202e1")
    shown = "\\u001b[31m\\u202eGND\\\"(;'"
    assert shown in {net.name for net in drawn.nets}
    assert shown in {net.name for net in drawn.copper or ()}
    assert drawn.parts["J1"].value == shown
    assert of(drawn) == (board.nets(), wired(board.nets()))


# --- bad input --------------------------------------------------------------------------------

LAYERS = '(layers (0 "F.Cu" signal) (2 "B.Cu" signal))'
BAD = [
    ("no version", f"(kicad_pcb {LAYERS})", "b.kicad_pcb:1:1: a board must say its version"),
    (
        "a version in words",
        f"(kicad_pcb (version nine) {LAYERS})",
        "b.kicad_pcb:1:12: a board must say its version as a number, not 'nine'",
    ),
    (
        "too old",
        f"(kicad_pcb\n(version 20171130) {LAYERS})",
        "b.kicad_pcb:2:1: a board must be of version 20211014 or newer, not 20171130. Open it in a present version of "
        "the program that wrote it, and save it",
    ),
    ("no layers", "(kicad_pcb (version 20241229))", "b.kicad_pcb:1:1: a board must list its layers, (layers …)"),
    (
        "no copper",
        '(kicad_pcb (version 20241229)\n(layers (44 "Edge.Cuts" user)))',
        "b.kicad_pcb:2:1: a board must have at least one layer of copper, such as F.Cu",
    ),
    (
        "a layer that is not there",
        two(segment(0, 0, 1, 1, layer="In7.Cu")),
        "b.kicad_pcb:8:44: a track must lie on one of the board's layers of copper (F.Cu, In1.Cu, In2.Cu and B.Cu), "
        "not on 'In7.Cu'",
    ),
    (
        "a track on no copper",
        two(segment(0, 0, 1, 1, layer="F.Mask")),
        "b.kicad_pcb:8:1: a track must lie on a layer of copper",
    ),
    (
        "a net that is not there",
        two(segment(0, 0, 1, 1, net=9)),
        "b.kicad_pcb:8:59: a net must be in the list of nets; '9' is not",
    ),
    (
        "a net twice",
        two('(net 1 "C")'),
        "b.kicad_pcb:8:1: a net must have a number of its own, not '1' again",
    ),
    (
        "a track without width",
        two(segment(0, 0, 1, 1, width=0)),
        "b.kicad_pcb:8:1: a track must have a width of more than 0 mm, not 0",
    ),
    (
        "a track without end",
        two('(segment (start 0 0) (width 1) (layer "F.Cu") (net 1))'),
        "b.kicad_pcb:8:1: a track must have (end …); it is not there",
    ),
    (
        "half a point",
        two('(segment (start 0) (end x 1) (width 1) (layer "F.Cu") (net 1))'),
        "b.kicad_pcb:8:10: (start …) must have 2 numbers, not 1\n"
        "b.kicad_pcb:8:20: (end …) must have 2 numbers, not 'x'",
    ),
    (
        "no number at all",
        two('(segment (start 0 nan) (end inf 1) (width 1e300) (layer "F.Cu") (net 1))'),
        "b.kicad_pcb:8:10: (start …) must lie within ±10000, not be 'nan'\n"
        "b.kicad_pcb:8:24: (end …) must lie within ±10000, not be 'inf'\n"
        "b.kicad_pcb:8:36: (width …) must lie within ±10000, not be '1e300'",
    ),
    (
        "a via to nowhere",
        two('(via (at 0 0) (size 1) (drill 0.5) (layers "F.Cu") (net 1))'),
        "b.kicad_pcb:8:1: a via must name the two layers between which it goes",
    ),
    (
        "a via to a layer that is not there",
        two('(via (at 0 0) (size 1) (drill 0.5) (layers "F.Cu" "In5.Cu") (net 1))'),
        "b.kicad_pcb:8:1: a via must lie on one of the board's layers of copper (F.Cu, In1.Cu, In2.Cu and B.Cu), not "
        "on 'In5.Cu'",
    ),
    (
        "a pad of an unknown shape",
        two(first='(pad "1" smd heart (at 0 0) (size 1 1) (layers "F.Cu"))'),
        "b.kicad_pcb:5:1: a pad's shape must be circle, rect, oval, roundrect, trapezoid or custom, not 'heart'",
    ),
    (
        "a pad of nothing",
        two(first='(pad "1" smd rect (at 0 0) (size 0 1) (layers "F.Cu"))'),
        "b.kicad_pcb:5:1: a pad must be larger than 0 mm, not 0 by 1",
    ),
    (
        "a pad of an unknown kind",
        two(first='(pad "1" hole rect (at 0 0) (size 1 1) (layers "F.Cu"))'),
        "b.kicad_pcb:5:1: a pad must be thru_hole, smd, connect or np_thru_hole, not 'hole'",
    ),
    ("half a pad", two(first='(pad "1")'), "b.kicad_pcb:5:1: a pad must have a number, a kind and a shape"),
    (
        "a footprint nowhere",
        two('(footprint "t:t" (layer "F.Cu"))'),
        "b.kicad_pcb:8:1: a footprint must have its place, (at …)",
    ),
    (
        "a zone without corners",
        two('(zone (net 1) (layer "F.Cu") (filled_polygon (layer "F.Cu")))'),
        "b.kicad_pcb:8:30: an outline must have its points, (pts …)",
    ),
    (
        "half a curve",
        two('(gr_curve (pts (xy 0 0) (xy 1 1)) (layer "F.Cu"))'),
        "b.kicad_pcb:8:1: a curve must have 4 points, not 2",
    ),
    (
        "a net without a name",
        two("(net 7)"),
        "b.kicad_pcb:8:1: a net must have a number and a name",
    ),
]


@pytest.mark.parametrize(("text", "said"), [row[1:] for row in BAD], ids=[row[0] for row in BAD])
def test_a_bad_board_is_refused_with_its_place(
    text: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("b.kicad_pcb").write_text(text, "utf-8")
    with pytest.raises(PinmapError) as caught:
        boards_read.read("b.kicad_pcb")
    assert sorted(str(caught.value).split("\n")) == sorted(said.split("\n"))


@pytest.mark.parametrize("kept", [1, 30, 400, 2000, -3])
def test_a_board_cut_off_is_refused_with_a_line(kept: int, read: Callable[[str], Drawn]) -> None:
    with pytest.raises(UnreadableError) as caught:
        read(made(small()).text()[:kept])
    assert caught.value.place is not None
    assert caught.value.place.line


def test_many_errors_are_told_up_to_a_bound(read: Callable[[str], Drawn]) -> None:
    with pytest.raises(SeveralErrors) as caught:
        read(two(*(segment(0, 0, 1, 1, net=9) for _ in range(90))))
    assert len(caught.value.errors) == source.MAX_ERRORS + 1
    lines = [error.place.line for error in caught.value.errors[:-1] if error.place]
    assert lines == sorted(lines)


@given(data=st.data())
@settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_damage_gives_a_board_or_an_error_of_ours(data: st.DataObject, read: Callable[[str], Drawn]) -> None:
    text = damaged_source()
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text)))
        gone = data.draw(st.integers(0, 40))
        new = data.draw(
            st.sampled_from(
                ["", "(", ")", '"', " 0 ", " -1 ", " 1e308 ", " nan ", "(pts)", "x", "\x00", "(at 1)", "\\"]
            )
        )
        text = text[:at] + new + text[at + gone :]
    said = ""
    try:
        drawn: Drawn | None = read(text)
    except PinmapError as error:
        drawn, said = None, str(error)
    assert drawn.copper is not None if drawn else said
    assert all(line.isprintable() for line in said.split("\n"))


@cache
def damaged_source() -> str:
    return (DRAWINGS / "by-hand-20241229.kicad_pcb").read_text("utf-8")


def test_reading_prints_and_logs_nothing(
    read: Callable[[str], Drawn], capfd: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture
) -> None:
    read(made(small()).text())
    with pytest.raises(UnreadableError):
        read("(kicad_pcb (version 20241229) (segment (")
    assert capfd.readouterr() == ("", "")
    assert caplog.records == []


# --- bounds -----------------------------------------------------------------------------------


def test_fifty_megabytes_are_refused_unread(tmp_path: Path) -> None:
    file = tmp_path / "b.kicad_pcb"
    with file.open("wb") as stream:
        stream.write(b"(kicad_pcb ")
        stream.truncate(50_000_000)
    begun = time.monotonic()
    with pytest.raises(UnreadableError, match=f"must not be larger than {source.MAX_BYTES // 1_000_000} MB"):
        boards_read.read(file)
    assert time.monotonic() - begun < 1


def test_a_board_of_two_thousand_tracks_is_read_within_two_seconds(read: Callable[[str], Drawn]) -> None:
    """About 0.2 s where this was written."""
    tracks = [segment(n % 50 * 3, n // 50, n % 50 * 3 + 2, n // 50 + 0.5) for n in range(2000)]
    corners = " ".join(f"(xy {n * 0.02} {50 + n % 2})" for n in range(10_000))
    zone = f'(zone (net 1) (layer "B.Cu") (filled_polygon (layer "B.Cu") (pts {corners} (xy 100 90))))'
    text = two(*tracks, zone)
    begun = time.monotonic()
    read(text)
    assert time.monotonic() - begun < 2


@pytest.mark.parametrize(
    ("where", "bound", "most", "things", "said"),
    [
        (copper, "MAX_PAIRS", 100, [segment(0, 0, 9, 0, net=1 + n % 2) for n in range(40)], "lie on itself thousands"),
        (
            copper,
            "MAX_CORNERS",
            100_000,
            [
                f'(arc (start 0 0) (mid 5 5) (end 10 {n / 100}) (width 1) (layer "F.Cu") (net {1 + n % 2}))'
                for n in range(40)
            ],
            "lie on itself thousands",
        ),
        (
            board_reader,
            "MAX_POINTS",
            50,
            [segment(0, 0, 9, 0) for n in range(40)],
            "must not have more than 50 corners",
        ),
        (board_reader, "MAX_PARTS", 0, [], "must not have more than 0 parts"),
    ],
    ids=["pairs", "corners of pairs", "corners", "parts"],
)
def test_a_board_beyond_a_bound_is_refused(
    where: object,
    bound: str,
    most: int,
    things: list[str],
    said: str,
    read: Callable[[str], Drawn],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert read(two(*things)).kind == "board"
    monkeypatch.setattr(where, bound, most)
    with pytest.raises(UnreadableError, match=said):
        read(two(*things))


def test_the_maker_of_test_boards_sees_its_own_nets() -> None:
    board = Board([Pad("J1", "1", (0, 0), "A"), Pad("J1", "2", (1, 0), "A"), Pad("J1", "3", (2, 0), "")])
    assert board.nets() == {frozenset({("J1", "1"), ("J1", "2")})} == together([("A", ("J1", "1")), ("A", ("J1", "2"))])
