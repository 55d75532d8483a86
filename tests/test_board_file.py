"""The board file: what stands in it, that all lies where the layout has it, and that the audit finds it as planned."""

from __future__ import annotations

import importlib
import math
import random
import re
from collections.abc import Iterator
from itertools import starmap
from pathlib import Path
from typing import Any

import copper_proof as proof
import pytest
from boards import Board, made
from click.testing import CliRunner
from faults.drawings import PLANS, planned
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from test_copper_proof import good

from pinmap import api
from pinmap.adapter import Adapter
from pinmap.audit.judging import audit
from pinmap.audit.reading import read
from pinmap.board.layout import LAYERS, Area, Layer, Layout, Pad, Placed, Ring, Rules, Stroke, Text, Track, Via
from pinmap.cli import cli
from pinmap.writers import board_file, netlist
from pinmap.writers.board_file import keyholed
from pinmap.writers.fab import fab_files

shapely: Any = importlib.import_module("shapely")


def um(*mm: float) -> Any:
    return tuple(round(value * 1000) for value in mm)


def laid(board: Board, adapter: Adapter) -> Layout:
    """A board that the tests routed, as a layout."""
    pads = []
    for pad in board.pads:
        x, y, width, height = um(*pad.at, *pad.size)
        shape: Any = "rect" if pad.shape == "rect" else "round"
        pads.append(Pad(pad.ref, pad.number, pad.net, x, y, width, height, shape, 900, function=pad.pin))
    parts = []
    footprints = {part.ref: part.footprint for part in netlist.parts(adapter)}
    footprints |= {end.ref: adapter.on_board(end).footprint for end in (adapter.host_connector, adapter.card_connector)}
    for ref in dict.fromkeys(pad.ref for pad in pads):
        xs, ys = zip(*((pad.x_um, pad.y_um) for pad in pads if pad.ref == ref), strict=True)
        middle = (min(xs) + max(xs)) // 2, (min(ys) + max(ys)) // 2
        parts.append(Placed(ref, board.values[ref], footprints[ref], "front", *middle, 0, (min(xs), min(ys), *middle)))
    sides: dict[str, Layer] = {"F.Cu": "front", "B.Cu": "back"}
    tracks = [Track(t.net, sides[t.layer], *um(*t.start, *t.end, t.width)) for t in board.tracks]
    vias = [Via(via.net, *um(*via.at, 0.4, 0.2)) for via in board.vias]
    areas = [Area(z.net, sides[z.layer], tuple((x, y) for x, y in starmap(um, z.corners))) for z in board.zones]
    left, right = min(pad.x_um for pad in pads) - 5000, max(pad.x_um for pad in pads) + 5000
    bottom = max([t.y2_um for t in tracks] + [pad.y_um for pad in pads]) + 5000
    return Layout(
        title=adapter.title,
        groups={net.name: net.group for net in adapter.nets},
        rules=Rules(),
        outline=((left, 0), (right, 0), (right, bottom), (left, bottom)),
        parts=tuple(parts),
        pads=tuple(pads),
        tracks=tuple(tracks),
        vias=tuple(vias),
        areas=tuple(areas),
        holes=(),
        strokes=(),
        texts=(),
    )


def tree(text: str) -> Any:
    return importlib.import_module("gerbonara.cad.kicad.sexp").parse_sexp(text)


def within(node: Any, *heads: str) -> Iterator[Any]:
    """All lists with the first head, and in these all with the second …"""
    for item in node:
        if isinstance(item, list) and item and str(item[0]) == heads[0]:
            yield from within(item, *heads[1:]) if len(heads) > 1 else [item]


# --- as planned -------------------------------------------------------------------------------


@pytest.mark.parametrize("zone", [False, True], ids=["tracks", "zone"])
@pytest.mark.parametrize("names", PLANS, ids=" ".join)
def test_the_audit_finds_a_written_board_as_planned(names: tuple[str, ...], zone: bool, tmp_path: Path) -> None:
    adapter = planned(names)
    file = tmp_path / "adapter.kicad_pcb"
    file.write_text(board_file.text(laid(made(adapter, zone=zone), adapter)), "utf-8")
    drawn = read(file)
    assert drawn.remarks == ()
    result = audit(drawn, adapter)
    assert (result.verdict, [f.message for f in result.findings]) == ("as planned", [])


def test_a_person_who_audits_a_written_board_reads_as_planned(tmp_path: Path) -> None:
    adapter = api.adapt("oakmere-riser")
    file = tmp_path / "adapter.kicad_pcb"
    file.write_text(board_file.text(laid(made(adapter), adapter)), "utf-8")
    done = CliRunner().invoke(cli, ["audit", str(file), "--plan", "oakmere-riser"])
    assert (done.exit_code, done.output.split(":")[0]) == (0, "as planned")


@pytest.mark.parametrize("names", PLANS, ids=" ".join)
def test_the_copper_of_a_written_board_is_the_plan(names: tuple[str, ...]) -> None:
    adapter = planned(names)
    copper = proof.from_board(board_file.text(laid(made(adapter, zone=True), adapter)))
    assert proof.faults(proof.planned(adapter), proof.nets(copper)) == []


def mm(points: Any) -> list[tuple[float, float]]:
    return [(x / 1000, y / 1000) for x, y in points]


LOOSE = {"gap": 0.05, "width": 0.15, "ring": 0.1}  # the tests' own router needs no more


@pytest.mark.parametrize("names", PLANS, ids=" ".join)
def test_board_file_gerbers_and_test_netlist_of_a_board_all_say_the_plan(names: tuple[str, ...]) -> None:
    adapter = planned(names)
    layout = laid(made(adapter, zone=True), adapter)
    files = fab_files(layout, "adapter")
    assert proof.problems(adapter, board_file.text(layout), files, mm(layout.outline), None, **LOOSE) == []


def test_a_board_whose_files_differ_is_no_proof() -> None:
    adapter = api.adapt("oakmere-riser")
    layout = laid(made(adapter), adapter)
    other = replace(layout, pads=tuple(replace(p, x_um=p.x_um + 10) if p.number == "5" else p for p in layout.pads))
    files, outline = fab_files(layout, "adapter"), mm(layout.outline)
    assert "elsewhere: J1 5" in proof.problems(adapter, board_file.text(other), files, outline, None, **LOOSE)
    renamed = {**layout.groups, "other": layout.groups["SD0"]}
    pads = tuple(replace(p, net="other") if p.net == "SD0" else p for p in layout.pads)
    lying = fab_files(replace(layout, groups=renamed, pads=pads), "adapter")
    found = proof.problems(adapter, board_file.text(layout), lying, outline, None, **LOOSE)
    assert [line for line in found if line.startswith("netlist")] == ["netlist: SD0", "netlist: other"]


# --- places -----------------------------------------------------------------------------------


def turned(layout: Layout, angle: int, side: Layer) -> Layout:
    """The same board, its parts said to be turned otherwise: no copper may move for it."""
    return replace(layout, parts=tuple(replace(part, angle=angle, side=side) for part in layout.parts))


@pytest.mark.parametrize("side", LAYERS)
@pytest.mark.parametrize("angle", [0, 90, 180, 270])
def test_pads_silk_and_texts_lie_where_the_layout_has_them_however_their_part_is_turned(
    angle: int, side: Layer, tmp_path: Path
) -> None:
    layout = turned(good(), angle, side)
    text = board_file.text(layout)
    copper, straight = proof.from_board(text), proof.from_board(board_file.text(good()))
    assert copper.spots == straight.spots
    for piece, other in zip(copper.pieces, straight.pieces, strict=True):
        assert piece.pad == other.pad
        assert piece.shape.symmetric_difference(other.shape).area < 1e-9
    for item in (each for each in within(tree(text), "footprint") if not each[1].startswith("pinmap:hole")):
        assert [str(each[1]) for each in within(item, "layer")] == ["F.Cu" if side == "front" else "B.Cu"]
        assert next(within(item, "at"))[3] == angle
        assert {each[3] for each in within(item, "pad", "at")} == {angle}
    assert silk(text) == silk(board_file.text(good()))
    file = tmp_path / "b.kicad_pcb"
    file.write_text(text, "utf-8")
    spots: Any = {(ref, pad): (s.x_mm, s.y_mm) for ref, p in read(file).parts.items() for pad, s in p.spots.items()}
    assert spots == {
        (pad.ref, pad.number): (pytest.approx(pad.x_um / 1000), pytest.approx(pad.y_um / 1000)) for pad in layout.pads
    }


def silk(text: str) -> list[tuple[Any, ...]]:
    """Lines and texts on the silk, where they come to lie on the board."""
    out: list[tuple[Any, ...]] = []
    root = tree(text)
    for item in (root, *within(root, "footprint")):
        x, y, angle = [*next(within(item, "at"), [0, 0, 0]), 0][1:4]
        cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))

        def put(at: Any, x: float = x, y: float = y, cos: float = cos, sin: float = sin) -> tuple[float, float]:
            u, v = at[1:3]
            return round(x + u * cos + v * sin, 4), round(y - u * sin + v * cos, 4)

        for kind in ("gr_line", "fp_line", "gr_text", "fp_text", "property"):
            for each in within(item, kind):
                layer = next(within(each, "layer"))[1]
                if not layer.endswith(".SilkS"):
                    continue
                if kind.endswith("line"):
                    width = next(within(each, "stroke", "width"))[1]
                    out.append((layer, put(next(within(each, "start"))), put(next(within(each, "end"))), width))
                else:
                    at = next(within(each, "at"))
                    words = next(word for word in reversed(each) if isinstance(word, str))
                    mirrored = any(True for _ in within(each, "effects", "justify"))
                    out.append(
                        (layer, words, put(at), at[3], next(within(each, "effects", "font", "size"))[1], mirrored)
                    )
    return sorted(out, key=str)


def test_silk_lies_where_the_layout_has_it_and_reads_from_its_side() -> None:
    layout = good()
    wanted: list[tuple[Any, ...]] = []
    sides = {"front": "F.SilkS", "back": "B.SilkS"}
    for stroke in layout.strokes:
        points = [(x / 1000, y / 1000) for x, y in stroke.points]
        for one, other in zip(points[: max(len(points) - 1, 1)], points[1:] or points, strict=True):
            wanted.append((sides[stroke.layer], one, other, stroke.width_um / 1000))
    for text in layout.texts:
        at = text.x_um / 1000, text.y_um / 1000
        wanted.append((sides[text.layer], text.text, at, text.angle, text.height_um / 1000, text.layer == "back"))
    assert silk(board_file.text(layout)) == sorted(wanted, key=str)


def test_the_reference_is_the_text_that_shows_it_and_hidden_without_one() -> None:
    root = tree(board_file.text(good()))
    shown = {}
    for item in within(root, "footprint"):
        for each in within(item, "property"):
            shown[each[1], each[2]] = not any(True for _ in within(each, "hide"))
    assert shown == {
        ("Reference", "J1"): False,
        ("Value", "machine"): False,
        ("Reference", "J2"): True,
        ("Value", "card"): False,
        ("Reference", "C1"): True,
        ("Value", "100 nF"): False,
        ("Reference", ""): False,
        ("Value", ""): False,
    }


# --- what stands in it ------------------------------------------------------------------------


SHEET = ((500, 500), (9500, 500), (9500, 7500), (500, 7500))


def tiny(**changes: Any) -> Layout:
    layout = Layout(
        title="Tiny",
        groups={"GND": "return", "unused": "data"},
        rules=Rules(),
        outline=((0, 0), (10000, 0), (10000, 8000), (0, 8000)),
        parts=(Placed("J1", "card", "Own:pin", "front", 2000, 3000, 90, (1000, 2000, 3000, 4000), "card connector"),),
        pads=(Pad("J1", "1", "GND", 2000, 3000, 1700, 1500, "oval", 1000, function="A1"),),
        tracks=(Track("GND", "back", 2000, 3000, 5000, 3000, 250),),
        vias=(Via("GND", 5000, 3000, 600, 300),),
        areas=(Area("GND", "front", SHEET, (((7000, 2000), (8000, 3000), (7000, 4000)),)),),
        holes=(),
        strokes=(Stroke("front", ((1000, 1000), (1000, 5001)), part="J1"),),
        texts=(Text("back", "Tiny", 5000, 6000, 1000, 180),),
        notes=("first", "second"),
    )
    return replace(layout, **changes)


BODY = """\
  (net 0 "")
  (net 1 "GND")
  (footprint "Own:pin" (layer "F.Cu")
    (uuid …) (at 2 3 90)
    (descr "card connector")
    (property "Reference" "J1" (at 0 0 90) (unlocked yes)
      (layer "F.Fab") (hide yes) (uuid …) (effects (font (size 1 1) (thickness 0.15))))
    (property "Value" "card" (at 0 0 90) (unlocked yes)
      (layer "F.Fab") (hide yes) (uuid …) (effects (font (size 1 1) (thickness 0.15))))
    (attr through_hole)
    (fp_line (start 2 -1) (end -2.001 -1) (stroke (width 0.15) (type solid)) (layer "F.SilkS") (uuid …))
    (pad "1" thru_hole oval (at 0 0 90) (size 1.5 1.7) (drill 1) (layers "*.Cu" "*.Mask")
      (net 1 "GND") (pinfunction "A1") (pintype "passive") (uuid …))
  )
  (gr_line (start 0 0) (end 10 0) (stroke (width 0.05) (type solid)) (layer "Edge.Cuts") (uuid …))
  (gr_line (start 10 0) (end 10 8) (stroke (width 0.05) (type solid)) (layer "Edge.Cuts") (uuid …))
  (gr_line (start 10 8) (end 0 8) (stroke (width 0.05) (type solid)) (layer "Edge.Cuts") (uuid …))
  (gr_line (start 0 8) (end 0 0) (stroke (width 0.05) (type solid)) (layer "Edge.Cuts") (uuid …))
  (gr_text "Tiny" (at 5 6 180)
    (layer "B.SilkS") (uuid …) (effects (font (size 1 1) (thickness 0.15)) (justify mirror)))
  (segment (start 2 3) (end 5 3) (width 0.25) (layer "B.Cu") (net 1) (uuid …))
  (via (at 5 3) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net 1) (uuid …))
  (zone (net 1) (net_name "GND") (layer "F.Cu") (uuid …) (hatch edge 0.5)
    (connect_pads (clearance 0.25)) (min_thickness 0.25)
    (filled_areas_thickness no)
    (fill yes (thermal_gap 0.5) (thermal_bridge_width 0.5))
    (polygon (pts (xy 0.5 0.5) (xy 9.5 0.5) (xy 9.5 7.5) (xy 0.5 7.5)))
    (filled_polygon (layer "F.Cu") (pts \
(xy 0.5 0.5) (xy 9.5 0.5) (xy 9.5 7.5) (xy 0.5 7.5) (xy 0.5 2) (xy 7 2) (xy 7 4) (xy 8 3) (xy 7 2) (xy 0.5 2)))
  )
)
"""


def plain(text: str) -> str:
    return re.sub(r'\(uuid "[0-9a-f-]{36}"\)', "(uuid …)", text)


def test_a_tiny_board_is_written_so() -> None:
    text = plain(board_file.text(tiny()))
    head, body = text.split('  (net 0 "")\n')
    assert '  (net 0 "")\n' + body == BODY
    for line in (
        '(kicad_pcb (version 20240108) (generator "pinmap")',
        "  (general (thickness 1.6) (legacy_teardrops no))",
        '    (title "Tiny")',
        '    (comment 1 "first")',
        '    (comment 2 "second")',
        '    (0 "F.Cu" signal)',
        '    (31 "B.Cu" signal)',
        '    (36 "B.SilkS" user "B.Silkscreen")',
        '    (44 "Edge.Cuts" user)',
        '      (layer "dielectric 1" (type "core") (thickness 1.53) (material "FR4"))',
        "    (pad_to_mask_clearance 0.05)",
        "    (aux_axis_origin 0 8)",
    ):
        assert line in head.split("\n")
    assert "bevelled" not in head


def test_kinds_of_pads_have_the_layers_of_their_kind() -> None:
    root = tree(board_file.text(good()))
    kinds = {(str(pad[2]), *next(within(pad, "layers"))[1:]) for pad in within(root, "footprint", "pad")}
    assert kinds == {
        ("connect", "F.Cu", "F.Mask"),
        ("connect", "B.Cu", "B.Mask"),
        ("thru_hole", "*.Cu", "*.Mask"),
        ("smd", "B.Cu", "B.Paste", "B.Mask"),
        ("np_thru_hole", "*.Cu", "*.Mask"),
    }
    assert [str(each[1]) for each in within(root, "footprint", "attr")] == ["smd", "through_hole", "smd", "board_only"]


def test_fingers_have_one_opening_of_the_mask_a_side_and_the_board_says_that_it_is_bevelled() -> None:
    root = tree(board_file.text(good()))
    openings = {
        next(within(each, "layer"))[1]: [tuple(point[1:]) for point in within(each, "pts", "xy")]
        for each in within(root, "gr_poly")
    }
    assert set(openings) == {"F.Mask", "B.Mask"}
    assert openings["F.Mask"] == openings["B.Mask"]
    assert min(openings["F.Mask"]) == (7.06, 16.33)
    assert max(openings["F.Mask"]) == (11.48, 24.05)
    assert [str(each[1]) for each in within(root, "setup", "stackup", "edge_connector")] == ["bevelled"]


def test_the_outline_and_the_holes_are_those_of_the_layout() -> None:
    text = board_file.text(good())
    assert proof.board_outline(text) == [(0, 0), (30, 0), (30, 24), (0, 24)]
    assert [d for d in proof.from_board(text).drills if not d.plated] == [proof.Drill(26, 20, 3.2, False)]


def test_a_pad_without_a_part_is_refused() -> None:
    with pytest.raises(ValueError, match="every pad must belong to a part of the layout, not to J9"):
        board_file.text(replace(good(), pads=(*good().pads, Pad("J9", "1", "GND", 0, 0, 1, 1))))


# --- names and identities ---------------------------------------------------------------------

NASTY = [
    'say "GND"',
    "back\\slash",
    'both\\"',
    "(paren))",
    ") (net 99 “x”",
    "two\nlines\ttab",
    "+3,3 V µΩ",
    "${REFERENCE}",
    "‮reversed",
    " ",
    "\\",
    "日本",
]


@pytest.mark.parametrize("name", NASTY)
def test_hostile_names_stay_names(name: str, tmp_path: Path) -> None:
    shown = name.replace("\n", "\\n").replace("\t", "\\t").replace("‮", "\\u202e")
    layout = tiny()
    layout = replace(
        layout,
        title=name,
        groups={name: "return"},
        parts=(replace(layout.parts[0], ref=name, value=name, purpose=name, footprint=f"Own:{name}"),),
        pads=(replace(layout.pads[0], ref=name, number=name, net=name, function=name),),
        tracks=tuple(replace(track, net=name) for track in layout.tracks),
        vias=tuple(replace(via, net=name) for via in layout.vias),
        areas=tuple(replace(area, net=name) for area in layout.areas),
        texts=tuple(replace(text, text=name) for text in layout.texts),
        strokes=(),
        notes=(name,),
    )
    text = board_file.text(layout)
    copper = proof.from_board(text)
    assert {piece.net for piece in copper.pieces} == {shown}
    assert set(copper.spots) == {(shown, shown)}
    file = tmp_path / "b.kicad_pcb"
    file.write_text(text, "utf-8")
    drawn = read(file)
    assert drawn.remarks == ()
    assert [(net.name.replace("\\\\", "\\"), net.nodes) for net in drawn.nets] == [(shown, frozenset({(shown, shown)}))]
    assert drawn.parts[shown].value == shown
    assert drawn.parts[shown].footprint == f"Own:{shown}"


def test_the_same_layout_gives_the_same_text_and_no_identity_twice() -> None:
    text = board_file.text(good())
    assert board_file.text(good()) == text
    given_ = re.findall(r'\(uuid "([0-9a-f-]{36})"\)', text)
    assert len(set(given_)) == len(given_) > 50


def test_a_part_keeps_its_identity_when_others_come_before_it() -> None:
    def identities(layout: Layout) -> dict[str, str]:
        root = tree(board_file.text(layout))
        found = {}
        for item in within(root, "footprint"):
            for each in within(item, "property"):
                if each[1] == "Reference" and each[2]:
                    found[each[2]] = next(within(item, "uuid"))[1]
        return found

    before, after = identities(replace(good(), parts=good().parts[::-1])), identities(good())
    assert before == after
    assert set(after) == {"J1", "J2", "C1"}


def test_nets_stand_in_the_order_of_the_plan_and_only_those_with_copper() -> None:
    root = tree(board_file.text(replace(good(), groups={**good().groups, "spare": "data"})))
    assert [(each[1], each[2]) for each in within(root, "net")] == [
        (0, ""), (1, "+5V"), (2, "GND"), (3, "D0"), (4, "D1"),
    ]  # fmt: skip


# --- holes in areas ---------------------------------------------------------------------------


def ringed(ring: Any) -> Ring:
    return tuple((round(x), round(y)) for x, y in list(ring.coords)[:-1])


def cut(seed: int) -> Iterator[Any]:
    """Areas with holes round pads and tracks cut out, some on a grid, so that their corners are level."""
    chance = random.Random(seed)
    grid = chance.choice([1, 1270])
    shapes = []
    for _ in range(chance.randint(1, 60)):
        x, y = chance.randrange(2000, 58000, grid), chance.randrange(2000, 38000, grid)
        if chance.random() < 0.6:
            shapes.append(shapely.Point(x, y).buffer(chance.choice([700, 1100]), quad_segs=chance.choice([1, 2, 4])))
        else:
            shapes.append(shapely.box(x, y, x + chance.randrange(500, 20000), y + 300))
    for part in shapely.get_parts(shapely.box(0, 0, 60000, 40000).difference(shapely.union_all(shapes))):
        whole = shapely.Polygon(ringed(part.exterior), [ringed(hole) for hole in part.interiors])
        if whole.is_valid:
            yield whole


@given(st.integers(0, 10_000))
@settings(derandomize=True, deadline=None, max_examples=60)
def test_an_area_with_holes_as_one_ring_covers_the_same(seed: int) -> None:
    for whole in cut(seed):
        ring = keyholed(ringed(whole.exterior), [ringed(hole) for hole in whole.interiors])
        one = shapely.Polygon(ring)
        assert one.buffer(0).symmetric_difference(whole).area <= 1  # µm²
        assert whole.buffer(0.01).covers(one.exterior)  # no cut goes through a hole
        # Holes go round against the rest, so that what a ring encloses by its direction is right as well.
        assert abs(sum(a * d - b * c for (a, b), (c, d) in zip(ring, (*ring[1:], ring[0]), strict=True))) / 2 == (
            pytest.approx(whole.area, abs=100)
        )


@pytest.mark.parametrize(
    ("holes", "wanted"),
    [
        ((), 4),
        ((((2, 2), (4, 2), (4, 4), (2, 4)),), 4 + 4 + 3),
        ((((2, 2), (4, 2), (4, 4), (2, 4)), ((6, 2), (8, 2), (8, 4), (6, 4))), 4 + 2 * (4 + 3) - 1),
    ],
)
def test_a_cut_adds_its_two_ends_twice(holes: tuple[Ring, ...], wanted: int) -> None:
    assert len(keyholed(((0, 0), (10, 0), (10, 10), (0, 10)), holes)) == wanted


def test_a_cut_ends_at_a_corner_that_is_level_with_it_and_does_not_run_on_along_the_edge() -> None:
    square, beside = ((2, 2), (4, 2), (4, 4), (2, 4)), ((6, 4), (8, 3), (8, 5))
    ring = keyholed(((0, 0), (10, 0), (10, 10), (0, 10)), (square, beside))
    assert ring[ring.index((6, 4)) - 1] == (4, 4)


def test_a_cut_to_a_slope_ends_on_it_to_the_nanometre() -> None:
    area = Area(
        "GND", "front", ((0, 0), (9000, 0), (9000, 6000), (3001, 6000)), (((7000, 1000), (8000, 1000), (8000, 2000)),)
    )
    assert "(xy 0.500167 1)" in board_file.text(tiny(areas=(area,)))


def test_holes_that_touch_each_other_are_led_to_the_outside_once_each() -> None:
    one, other = ((4, 4), (8, 2), (8, 4)), ((4, 4), (8, 6), (8, 8))
    ring = keyholed(((0, 0), (10, 0), (10, 10), (0, 10)), (one, other))
    assert set(one) | set(other) <= set(ring)
    assert shapely.Polygon(ring).buffer(0).area == pytest.approx(100 - 4 - 4)


def test_a_thousand_holes_in_a_row_are_led_out_one_through_the_other() -> None:
    holes = tuple(((x, 0), (x + 5, -5), (x + 5, 5)) for x in range(10, 20010, 20))
    ring = keyholed(((0, -100), (30000, -100), (30000, 100), (0, 100)), holes)
    assert shapely.Polygon(ring).buffer(0).area == pytest.approx(30000 * 200 - 1000 * 25)


def test_a_zone_is_its_outline_for_who_fills_it_again_and_its_filling_as_it_is() -> None:
    root = tree(board_file.text(good()))
    zones = list(within(root, "zone"))
    assert [next(within(zone, "net_name"))[1] for zone in zones] == ["GND", "GND"]
    assert [len(list(within(zone, "polygon", "pts", "xy"))) for zone in zones] == [4, 4]
    for zone, area in zip(zones, good().areas, strict=True):
        ring = [(x * 1000, y * 1000) for _, x, y in within(zone, "filled_polygon", "pts", "xy")]
        wanted = shapely.Polygon(area.outer, area.holes)
        assert shapely.Polygon(ring).buffer(0).symmetric_difference(wanted).area < 1
