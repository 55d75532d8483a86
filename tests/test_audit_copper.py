"""What touches what in copper: one small board for each shape and each way of joining."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from boards import Board, made, segment, turn, two
from built import pair

from pinmap import api
from pinmap.audit import board as boards_read
from pinmap.audit.board_shapes import arc, circle
from pinmap.audit.drawn import Drawn


@pytest.fixture
def read(tmp_path: Path) -> Callable[[str], Drawn]:
    def reading(text: str) -> Drawn:
        file = tmp_path / "b.kicad_pcb"
        file.write_text(text, "utf-8")
        return boards_read.read(file)

    return reading


def joins(drawn: Drawn) -> bool:
    return bool(drawn.copper)


TOUCHING = [
    ("a track", [segment(0, 0, 10, 0)], True),
    ("a track that ends 0.5 µm before a pad", [segment(0, 0, 9.3995, 0)], True),
    ("a track that ends 2 µm before a pad", [segment(0, 0, 9.398, 0)], False),
    ("two tracks side by side, 0.9 µm apart", [segment(0, 0, 6, 0), segment(4, 0.2009, 10, 0.2009)], True),
    ("two tracks side by side, 1.1 µm apart", [segment(0, 0, 6, 0), segment(4, 0.2011, 10, 0.2011)], False),
    ("a track on the back", [segment(0, 0, 10, 0, layer="B.Cu")], False),
    ("a bow through both pads", ['(arc (start 0 0) (mid 5 5) (end 10 0) (width 0.2) (layer "F.Cu") (net 1))'], True),
    (
        "a bow whose two ends lie elsewhere",
        ['(arc (start 0 5) (mid 5 0) (end 0 -5) (width 0.2) (layer "F.Cu") (net 1))', segment(5, 0, 10, 0)],
        False,
    ),
    (
        "a bow met at its height",
        ['(arc (start 0 0) (mid 5 5) (end 10 0.7) (width 0.2) (layer "F.Cu") (net 1))', segment(5, 5, 10, 0)],
        True,
    ),
    ("three points in a line", ['(arc (start 0 0) (mid 5 0) (end 10 0) (width 0.2) (layer "F.Cu") (net 1))'], True),
    ("a line", ['(gr_line (start 0 0) (end 10 0) (stroke (width 0.2) (type solid)) (layer "F.Cu"))'], True),
    (
        "a line on front and back",
        [
            '(gr_line (start 0 0) (end 4 0) (stroke (width 0.2)) (layers "F&B.Cu" "F.Mask"))',
            '(via (at 0 0) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net 1))',
            segment(4, 0, 10, 0, layer="B.Cu"),
            '(via (at 10 0) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net 1))',
        ],
        True,
    ),
    ("a line on a mask", ['(gr_line (start 0 0) (end 10 0) (stroke (width 0.2)) (layer "F.Mask"))'], False),
    ("a line of an older file", ['(gr_line (start 0 0) (end 10 0) (width 0.2) (layer "F.Cu"))'], True),
    ("a bow drawn", ['(gr_arc (start 0 0) (mid 5 5) (end 10 0) (stroke (width 0.2)) (layer "F.Cu"))'], True),
    ("a ring", ['(gr_circle (center 5 0) (end 10 0) (stroke (width 0.2)) (fill none) (layer "F.Cu"))'], True),
    ("a ring around all", ['(gr_circle (center 5 0) (end 15 0) (stroke (width 0.2)) (fill no) (layer "F.Cu"))'], False),
    ("a disk over all", ['(gr_circle (center 5 0) (end 15 0) (stroke (width 0.2)) (fill solid) (layer "F.Cu"))'], True),
    ("a frame", ['(gr_rect (start 0 0) (end 10 5) (stroke (width 0.2)) (fill no) (layer "F.Cu"))'], True),
    ("a frame around all", ['(gr_rect (start -5 -5) (end 15 5) (stroke (width 0.2)) (fill no) (layer "F.Cu"))'], False),
    ("a plate", ['(gr_rect (start -5 -5) (end 15 5) (stroke (width 0)) (fill yes) (layer "F.Cu"))'], True),
    (
        "a polygon",
        ['(gr_poly (pts (xy 0 0) (xy 10 0) (xy 5 5)) (stroke (width 0)) (fill yes) (layer "F.Cu"))'],
        True,
    ),
    (
        "a polygon's outline",
        ['(gr_poly (pts (xy -9 -9) (xy 19 -9) (xy 5 19)) (stroke (width 0.1)) (fill no) (layer "F.Cu"))'],
        False,
    ),
    (
        "an outline with a bow in it",
        ['(gr_poly (pts (arc (start 0 0) (mid 5 5) (end 10 0)) (xy 5 9)) (width 0) (layer "F.Cu"))'],
        True,
    ),
    ("a curve", ['(gr_curve (pts (xy 0 0) (xy 0 9) (xy 10 9) (xy 10 0)) (stroke (width 0.2)) (layer "F.Cu"))'], True),
    (
        "drawings on a part that is turned",
        ['(footprint "t:d" (at 0 0 90) (fp_line (start 0 0) (end 0 10) (stroke (width 0.2)) (layer "F.Cu")))'],
        True,
    ),
    (
        "two layers with a via",
        [
            segment(0, 0, 5, 0),
            '(via (at 5 0) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net 1))',
            segment(5, 0, 9, 0, layer="B.Cu"),
            '(via (at 9 0) (size 0.6) (drill 0.3) (layers "B.Cu" "F.Cu") (net 1))',
            segment(9, 0, 10, 0),
        ],
        True,
    ),
    (
        "an inner layer with blind vias",
        [
            '(via blind (at 0 0) (size 0.6) (drill 0.3) (layers "F.Cu" "In1.Cu") (net 1))',
            segment(0, 0, 10, 0, layer="In1.Cu"),
            '(via blind (at 10 0) (size 0.6) (drill 0.3) (layers "F.Cu" "In1.Cu") (net 1))',
        ],
        True,
    ),
    (
        "a layer that a blind via does not reach",
        [
            '(via blind (at 0 0) (size 0.6) (drill 0.3) (layers "F.Cu" "In1.Cu") (net 1))',
            segment(0, 0, 10, 0, layer="In2.Cu"),
            '(via (at 10 0) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net 1))',
        ],
        False,
    ),
    (
        "a buried via between two blind ones",
        [
            '(via blind (at 0 0) (size 0.6) (drill 0.3) (layers "F.Cu" "In1.Cu") (net 1))',
            segment(0, 0, 5, 0, layer="In1.Cu"),
            '(via blind (at 5 0) (size 0.6) (drill 0.3) (layers "In1.Cu" "In2.Cu") (net 1))',
            segment(5, 0, 10, 0, layer="In2.Cu"),
            '(via (at 10 0) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net 1))',
        ],
        True,
    ),
    (
        "a plated hole without a number",
        [
            '(footprint "t:h" (at 0 0) (pad "" thru_hole circle (at 0 0) (size 2 2) (drill 1) (layers "*.Cu"))',
            '(pad "" thru_hole circle (at 10 0) (size 2 2) (drill 1) (layers "F&B.Cu")))',
            segment(0, 0, 10, 0, layer="B.Cu"),
        ],
        True,
    ),
    (
        "a plated hole whose pads lie on the front alone, met at its wall",
        [
            '(footprint "t:h" (at 0 0) (pad "" thru_hole circle (at 0 0) (size 2 2) (drill 1) (layers "F.Cu"))',
            '(pad "" thru_hole circle (at 10 0) (size 2 2) (drill 1) (layers "F.Cu")))',
            segment(0, 0, 10, 0, layer="In1.Cu"),
        ],
        True,
    ),
    (
        "a hole without plating",
        [
            '(footprint "t:h" (at 0 0) (pad "" np_thru_hole circle (at 0 0) (size 2 2) (drill 1) (layers "*.Cu"))',
            '(pad "" np_thru_hole circle (at 10 0) (size 2 2) (drill 1) (layers "*.Cu")))',
            segment(0, 0, 10, 0, layer="B.Cu"),
        ],
        False,
    ),
    (
        "copper around a hole without plating",
        [
            '(footprint "t:h" (at 5 0) (pad "" np_thru_hole circle (at 0 0) (size 8 8) (drill 3) (layers "*.Cu")))',
            segment(0, 0, 2, 0),
            segment(8, 0, 10, 0),
        ],
        True,
    ),
    (
        "a bare hole",
        [
            '(footprint "t:h" (at 5 0) (pad "" np_thru_hole circle (at 0 0) (size 3 3) (drill 3) (layers "*.Cu")))',
            segment(0, 0, 4, 0),
            segment(6, 0, 10, 0),
        ],
        False,
    ),
    (
        "a zone",
        ['(zone (net 1) (layer "F.Cu") (filled_polygon (layer "F.Cu") (pts (xy 0 0) (xy 10 0) (xy 5 5))))'],
        True,
    ),
    (
        "a zone in two pieces",
        [
            '(zone (net 1) (layer "F.Cu") (filled_polygon (layer "F.Cu") (pts (xy 0 0) (xy 4 0) (xy 4 5)))',
            '(filled_polygon (layer "F.Cu") (pts (xy 10 0) (xy 6 0) (xy 6 5))))',
        ],
        False,
    ),
    (
        "a zone around a hole, cut open where both its edges meet",
        [
            '(zone (net 1) (layer "F.Cu") (filled_polygon (layer "F.Cu") (pts (xy -5 -5) (xy 15 -5) (xy 15 5) (xy 2 5)',
            "(xy 2 2) (xy 2 -2) (xy -2 -2) (xy -2 2) (xy 2 2) (xy 2 5) (xy -5 5))))",
        ],
        False,
    ),
    (
        "a zone whose edge has no thickness",
        [
            '(zone (net 1) (layer "F.Cu") (min_thickness 0.4) (filled_areas_thickness no)',
            '(filled_polygon (layer "F.Cu") (pts (xy 0.6 -1) (xy 10 -1) (xy 10 1) (xy 0.6 1))))',
        ],
        False,
    ),
    (
        "a zone whose edge is drawn thick",
        [
            '(zone (net 1) (layer "F.Cu") (min_thickness 0.4) (filled_areas_thickness yes)',
            '(filled_polygon (layer "F.Cu") (pts (xy 0.6 -1) (xy 10 -1) (xy 10 1) (xy 0.6 1))))',
        ],
        True,
    ),
    (
        "a rule that looks like a zone",
        ['(zone (layer "F.Cu") (keepout (tracks not_allowed)) (polygon (pts (xy 0 0) (xy 10 0) (xy 5 5))))'],
        False,
    ),
]


@pytest.mark.parametrize(("things", "together"), [row[1:] for row in TOUCHING], ids=[row[0] for row in TOUCHING])
def test_what_joins_two_pads_in_copper(things: list[str], together: bool, read: Callable[[str], Drawn]) -> None:
    drawn = read(two(*things))
    assert joins(drawn) is together
    assert [net.nodes for net in drawn.nets] == [{("P", "1"), ("P", "2")}]
    assert drawn.remarks == ()


#: a pad (around 0, 0), the angle at which it stands, a point on its edge and the direction that leads out of it
EDGES = [
    ("circle (size 2 2)", 0, (1, 0), (1, 0)),
    ("circle (size 2 2)", 30, (0, -1), (0, -1)),
    ("rect (size 2 1)", 0, (1, 0.5), (1, 1)),
    ("rect (size 2 1)", 90, (0.5, 1), (1, 1)),
    ("rect (size 2 1)", 90, (0.5, 0), (1, 0)),
    ("rect (size 2 1) (drill (offset 0.5 0))", 0, (1.5, 0), (1, 0)),
    ("rect (size 2 1) (drill (offset 0.5 0))", 90, (0, -1.5), (0, -1)),
    ("oval (size 3 1)", 0, (1.5, 0), (1, 0)),
    ("oval (size 1 3)", 0, (0, 1.5), (0, 1)),
    ("oval (size 3 1)", 0, (1.3536, 0.3536), (1, 1)),
    ("roundrect (size 2 2) (roundrect_rratio 0) (chamfer_ratio 0.25) (chamfer top_right)", 0, (0, -1), (0, -1)),
    ("roundrect (size 2 2) (roundrect_rratio 0) (chamfer_ratio 0.25) (chamfer top_left)", 0, (-1, 0), (-1, 0)),
    ("oval (size 3 1)", 45, (1.0607, -1.0607), (1, -1)),
    ("roundrect (size 2 2) (roundrect_rratio 0.5)", 0, (0.7071, 0.7071), (1, 1)),
    ("roundrect (size 2 1) (roundrect_rratio 0.25)", 0, (0.9268, 0.4268), (1, 1)),
    ("roundrect (size 2 1) (roundrect_rratio 0)", 0, (1, 0.5), (1, 1)),
    ("roundrect (size 2 2) (roundrect_rratio 0) (chamfer_ratio 0.25) (chamfer top_right)", 0, (0.75, -0.75), (1, -1)),
    ("roundrect (size 2 2) (roundrect_rratio 0) (chamfer_ratio 0.25) (chamfer top_right)", 0, (1, 1), (1, 1)),
    (
        "roundrect (size 2 2) (roundrect_rratio 0) (chamfer_ratio 0.25) (chamfer top_right)",
        90,
        (-0.75, -0.75),
        (-1, -1),
    ),
    ("roundrect (size 2 2) (roundrect_rratio 0.5) (chamfer_ratio 0.1) (chamfer top_left)", 0, (-0.9, -0.9), (-1, -1)),
    ("roundrect (size 2 2) (roundrect_rratio 0.5) (chamfer_ratio 0.1) (chamfer top_left)", 0, (0.7071, 0.7071), (1, 1)),
    ("trapezoid (size 2 1) (rect_delta 0 0.4)", 0, (1.2, 0.5), (1, 1)),
    ("trapezoid (size 2 1) (rect_delta 0 0.4)", 0, (0.8, -0.5), (1, -1)),
    ("custom (size 1 1) (options (anchor rect)) (primitives)", 0, (0.5, 0.5), (1, 1)),
    ("custom (size 1 1) (options (anchor circle)) (primitives)", 0, (0.3536, 0.3536), (1, 1)),
    (
        "custom (size 1 1) (primitives (gr_poly (pts (xy 0 0) (xy 3 -1) (xy 3 1)) (width 0) (fill yes)))",
        90,
        (0, -3),
        (0, -1),
    ),
    ("custom (size 1 1) (primitives (gr_circle (center 2 0) (end 3 0) (width 0)))", 180, (-3, 0), (-1, 0)),
]


@pytest.mark.parametrize(("pad", "angle", "edge", "out"), EDGES, ids=[f"{row[0][:50]} {row[1:3]}" for row in EDGES])
def test_a_pad_is_as_large_as_its_shape(
    pad: str, angle: float, edge: tuple[float, float], out: tuple[float, float], read: Callable[[str], Drawn]
) -> None:
    kind, rest = pad.split(" ", 1)
    first = f'(pad "1" smd {kind} (at 0 0 {angle}) {rest} (layers "F.Cu") (net 1 "A"))'
    away = (edge[0] + 8 * out[0], edge[1] + 8 * out[1])
    second = f'(pad "2" smd circle (at {away[0]} {away[1]}) (size 1 1) (layers "F.Cu") (net 1 "A"))'
    for step, touches in ((-0.01, True), (0.01, False)):
        start = (edge[0] + step * out[0], edge[1] + step * out[1])
        probe = segment(*start, *away, width=0.001)
        assert joins(read(two(probe, first=first, second=second))) is touches


def test_a_removed_ring_is_there_for_its_own_net_only(read: Callable[[str], Drawn]) -> None:
    def board(net: int, layer: str = "In1.Cu") -> Drawn:
        own = (
            '(via (at 0 0) (size 2) (drill 0.4) (layers "F.Cu" "B.Cu") (remove_unused_layers yes) (keep_end_layers yes)'
            " (net 1))"
        )
        far = f'(via (at 10 0) (size 2) (drill 0.4) (layers "F.Cu" "B.Cu") (net {net}))'
        second = f'(pad "2" smd circle (at 10 0) (size 1 1) (layers "F.Cu") (net {net} "{"AB"[net - 1]}"))'
        return read(two(own, far, segment(0.7, 0, 10, 0, layer=layer, net=net), second=second))

    assert joins(board(1))
    assert not joins(board(2))
    assert joins(board(2, "B.Cu"))
    kept = two(
        '(via (at 0 0) (size 2) (drill 0.4) (layers "F.Cu" "B.Cu") (remove_unused_layers yes)',
        '(zone_layer_connections "In1.Cu") (net 1))',
        segment(0.7, 0, 10, 0, layer="In1.Cu", net=2),
        '(via (at 10 0) (size 2) (drill 0.4) (layers "F.Cu" "B.Cu") (net 2))',
    )
    assert joins(read(kept))


def test_a_pad_can_have_another_shape_on_each_layer(read: Callable[[str], Drawn]) -> None:
    hole = (
        '(pad "1" thru_hole circle (at 0 0) (size 2 2) (drill 1) (layers "*.Cu") (net 1 "A") (padstack (mode custom)'
        ' (layer "Inner" (shape circle) (size 1.2 1.2)) (layer "B.Cu" (shape rect) (size 2 2) (offset 0.5 0))))'
    )
    second = '(pad "2" thru_hole circle (at 10 0) (size 1 1) (drill 0.5) (layers "*.Cu") (net 1 "A"))'
    reach = {"F.Cu": (0.99, 0.0), "In1.Cu": (0.59, 0.0), "In2.Cu": (0.59, 0.0), "B.Cu": (1.49, 0.99)}
    for layer, (x, y) in reach.items():
        for out, touches in ((0.0, True), (0.02, False)):
            probe = segment(x + out, y, 10, 0, width=0.001, layer=layer)
            assert joins(read(two(probe, first=hole, second=second))) is touches


def test_a_bow_keeps_to_its_circle() -> None:
    points = arc((0.0, 0.0), (5.0, 5.0), (10.0, 0.0))
    assert (points[0], points[-1]) == ((0.0, 0.0), (10.0, 0.0))
    for (x, y), (u, v) in pairwise(points):
        for px, py in ((x, y), ((x + u) / 2, (y + v) / 2)):
            assert abs(((px - 5) ** 2 + py**2) ** 0.5 - 5) <= 0.00026
            assert py >= 0
    other_way = arc((0.0, 0.0), (5.0, -5.0), (10.0, 0.0))
    assert min(y for _, y in other_way) == pytest.approx(-5, abs=0.001)
    most = arc((0.0, 0.0), (10.0, 0.0), (0.0, 0.1))
    assert max(x for x, _ in most) == pytest.approx(10, abs=0.001)
    assert circle((0.0, 0.0), 100.0)[0] == circle((0.0, 0.0), 100.0)[-1]


def test_a_circle_in_the_test_maker_turns_against_the_clock() -> None:
    assert turn((1.0, 0.0), 90) == pytest.approx((0.0, -1.0))


def test_a_board_that_names_no_nets_is_judged_by_its_copper_alone(tmp_path: Path) -> None:
    board = made(pair("oakmere-88", "isa-8bit"))
    bare = Board(
        [replace(pad, net="") for pad in board.pads],
        [replace(track, net="") for track in board.tracks],
        [replace(via, net="") for via in board.vias],
        [],
        board.values,
    )
    path = tmp_path / "bare.kicad_pcb"
    path.write_text(bare.text(), "utf-8")
    result = api.audit_drawing(path, pair("oakmere-88", "isa-8bit"))
    assert result.verdict == "as planned"
    assert any("judged by its copper alone" in f.message for f in result.findings)
    path.write_text(Board(bare.pads, bare.tracks[1:], bare.vias, [], bare.values).text(), "utf-8")
    assert api.audit_drawing(path, pair("oakmere-88", "isa-8bit")).verdict == "not as planned"
