from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
import shapely
from gerbonara import graphic_primitives as primitives
from gerbonara.excellon import ExcellonFile
from gerbonara.graphic_objects import Flash, Line, Region
from gerbonara.ipc356 import Netlist
from gerbonara.layers import LayerStack
from gerbonara.rs274x import GerberFile
from gerbonara.utils import MM
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from PIL import Image
from pygerber.gerberx3.api.v2 import GerberFile as SecondReader
from pygerber.gerberx3.api.v2 import ImageFormatEnum, OnParserErrorEnum

from pinmap import __version__
from pinmap.board.layout import LAYERS, Area, Hole, Layer, Layout, Pad, Placed, Point, Rules, Stroke, Text, Track, Via
from pinmap.board.lettering import pen_um, strokes
from pinmap.model import Group
from pinmap.text import visible
from pinmap.writers.cells import at_risk
from pinmap.writers.fab import Measured, fab_files, fab_note, measured
from pinmap.writers.fab_gerber import finger_rooms, layers
from pinmap.writers.fab_ipc356 import netlist

GROUPS: dict[str, Group] = {"GND": "return", "+5V": "supply", "SD0": "data", "SA0": "address"}


def ring(left: int, top: int, right: int, bottom: int) -> tuple[Point, ...]:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def header(ref: str, x_um: int, y_um: int, nets: tuple[str, ...]) -> tuple[Pad, ...]:
    """A connector of two rows, numbered to and fro, its first pad square."""
    return tuple(
        Pad(
            ref,
            str(i + 1),
            net,
            x_um + i // 2 * 2540,
            y_um + i % 2 * 2540,
            1700,
            1700,
            "round" if i else "rect",
            1000,
            function=f"B{i + 1}",
        )
        for i, net in enumerate(nets)
    )


def fingers(ref: str, y_um: int, nets: tuple[str, ...]) -> tuple[Pad, ...]:
    """Edge contacts on both faces, with room for a key after the third."""
    sides: tuple[Layer, ...] = ("front", "back")
    return tuple(
        Pad(
            ref,
            f"{'AB'[k]}{i + 1}",
            net,
            12000 + i * 2540 + (5080 if i > 2 else 0),
            y_um,
            1780,
            7620,
            "rect",
            0,
            side,
            True,
            net,
        )
        for k, side in enumerate(sides)
        for i, net in enumerate(nets)
    )


def board() -> Layout:
    """Two connectors of two rows, one of them on fingers too, a part of each kind, a filled area with two holes."""
    pads = (
        *header("J1", 6000, 5000, ("GND", "+5V", "SD0", "SA0", "", "GND")),
        *header("J2", 6000, 22000, ("GND", "+5V", "SD0", "SA0", "GND", "")),
        *fingers("J3", 46000, ("GND", "+5V", "SD0", "SA0", "")),
        Pad("R1", "1", "+5V", 20000, 8000, 1000, 1300, "rect"),
        Pad("R1", "2", "SD0", 22000, 8000, 1000, 1300, "rect"),
        Pad("C1", "1", "+5V", 24000, 20000, 1600, 2400, "oval", 800),
        Pad("C1", "2", "GND", 29000, 20000, 1600, 2400, "oval", 800),
    )
    return Layout(
        title="Test riser",
        groups=GROUPS,
        rules=Rules(supply_um={"+5V": 1000}),
        outline=(
            (0, 0),
            (34000, 0),
            (34000, 40000),
            (30000, 40000),
            (30000, 50000),
            (8000, 50000),
            (8000, 40000),
            (0, 40000),
        ),
        parts=(
            Placed("J1", "2×3 header", "header 2×3", "front", 8540, 6270, 0, (4000, 3000, 13000, 9500), connector=True),
            Placed(
                "J2", "2×3 socket", "socket 2×3", "back", 8540, 23270, 180, (4000, 20000, 13000, 26500), connector=True
            ),
            Placed("R1", "330 Ω", "0805", "front", 21000, 8000, 90, (19000, 7000, 23000, 9000)),
            Placed("C1", "", "axial", "front", 26500, 20000, 0, (23000, 18000, 30000, 22000)),
        ),
        pads=pads,
        tracks=(
            Track("SD0", "front", 8540, 5000, 8540, 3700, 250),
            Track("SD0", "front", 8540, 3700, 15000, 3700, 250),
            Track("SD0", "front", 15000, 3700, 15000, 11460, 250),
            Track("SD0", "front", 15000, 11460, 8540, 17920, 250),
            Track("SD0", "front", 8540, 17920, 8540, 22000, 250),
            Track("+5V", "back", 6000, 7540, 3000, 10540, 1000),
            Track("+5V", "back", 3000, 10540, 3000, 24540, 1000),
            Track("+5V", "back", 3000, 24540, 6000, 24540, 1000),
        ),
        vias=(Via("GND", 20000, 30000, 600, 300), Via("GND", 26000, 34000, 600, 300)),
        areas=(
            Area(
                "GND",
                "front",
                ring(15500, 26000, 33000, 39000),
                (ring(18000, 32000, 22000, 36000), ring(24000, 28000, 25000, 31000)),
            ),
            Area("SA0", "front", ring(19000, 33000, 21000, 35000)),
            Area("GND", "back", ring(12000, 27000, 33000, 39000)),
        ),
        holes=(Hole(31000, 4000, 3200),),
        strokes=(
            Stroke("front", ((4500, 3500), (12500, 3500), (12500, 9000), (4500, 9000), (4500, 3500)), part="J1"),
            Stroke("back", ((4500, 20500), (12500, 20500)), 200, "J2"),
        ),
        texts=(
            Text("front", "J1 ±12V Ω", 8500, 2300, 1000, part="J1"),
            Text("front", "component side", 32500, 20000, 1200, 90),
            Text("back", "Test riser", 17000, 3000, 2000),
        ),
        bevel=((8000, 50000), (30000, 50000)),
    )


FILES = fab_files(board(), "riser")


def gerber(name: str, files: Mapping[str, bytes] = FILES) -> Any:
    return GerberFile.from_string(files[f"riser-{name}.gbr"].decode("ascii"), filename=name)


def drill(name: str) -> Any:
    return ExcellonFile.from_string(FILES[f"riser-drill-{name}.drl"].decode("ascii"), filename=name)


def records_of(files: Mapping[str, bytes] = FILES) -> Any:
    return Netlist.from_string(files["riser-netlist.ipc"].decode("ascii"), "riser-netlist.ipc")


def um(mm: float) -> int:
    return round(mm * 1000)


def place(thing: Any) -> Point:
    """Where something of a file lies, in µm on the layout: y downwards, the board's lower edge at 50 mm."""
    return um(thing.x), 50_000 - um(thing.y)


def unescaped(fields: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(
        re.sub(r"\\u([0-9A-F]{4})|\\U([0-9A-F]{8})", lambda m: chr(int(m[1] or m[2], 16)), field) for field in fields
    )


def function(thing: Any) -> str:
    return ",".join(dict(thing.aperture.attrs)[".AperFunction"])


def flashes(file: Any) -> list[Any]:
    return [each for each in file.objects if isinstance(each, Flash)]


def painted(file: Any) -> Any:
    """What a Gerber file leaves dark, in mm."""
    whole = shapely.Polygon()
    for thing in file.objects:
        for shape in thing.to_primitives(MM):
            if isinstance(shape, primitives.Circle):
                drawn = shapely.Point(shape.x, shape.y).buffer(shape.r, 64)
            elif isinstance(shape, primitives.Line):
                drawn = shapely.LineString([(shape.x1, shape.y1), (shape.x2, shape.y2)]).buffer(shape.width / 2, 64)
            elif isinstance(shape, primitives.Rectangle):
                drawn = shapely.box(
                    shape.x - shape.w / 2, shape.y - shape.h / 2, shape.x + shape.w / 2, shape.y + shape.h / 2
                )
            else:
                drawn = shapely.Polygon(shape.outline)
            assert drawn.is_valid
            whole = whole.union(drawn) if shape.polarity_dark else whole.difference(drawn)
    return whole


# ---------------------------------------------------------------------- the set


def test_the_set_is_complete_and_named_by_what_the_files_are() -> None:
    assert list(FILES) == [
        "riser-copper-front.gbr",
        "riser-mask-front.gbr",
        "riser-silk-front.gbr",
        "riser-paste-front.gbr",
        "riser-copper-back.gbr",
        "riser-mask-back.gbr",
        "riser-silk-back.gbr",
        "riser-outline.gbr",
        "riser-drill-plated.drl",
        "riser-drill-unplated.drl",
        "riser.gbrjob",
        "riser-netlist.ipc",
        "riser-fab-note.txt",
        "riser-fab.zip",
        "riser-placement.csv",
        "riser-front.svg",
        "riser-back.svg",
    ]


def test_the_same_board_gives_the_same_bytes() -> None:
    assert fab_files(board(), "riser") == FILES


def test_the_zip_holds_what_the_fab_needs_and_no_clock() -> None:
    with zipfile.ZipFile(io.BytesIO(FILES["riser-fab.zip"])) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        assert names == sorted(list(FILES)[:13])
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert {name: archive.read(name) for name in names} == {name: FILES[name] for name in names}


def test_a_board_without_solder_lands_and_unplated_holes_has_no_files_for_them() -> None:
    plain = replace(board(), pads=tuple(p for p in board().pads if p.ref != "R1"), holes=())
    left = set(FILES) - set(fab_files(plain, "riser"))
    assert left == {"riser-paste-front.gbr", "riser-drill-unplated.drl"}


def test_a_job_file_lists_every_layer_with_what_the_layer_says_itself() -> None:
    job = json.loads(FILES["riser.gbrjob"])
    listed = {
        each["Path"].removeprefix("riser-").removesuffix(".gbr"): (each["FileFunction"], each["FilePolarity"])
        for each in job["FilesAttributes"]
    }
    said = {
        name: (",".join(file.file_attrs[".FileFunction"]), ",".join(file.file_attrs[".FilePolarity"]))
        for name in listed
        if not name.endswith(".drl")
        for file in [gerber(name)]
    }
    drilled = {
        "drill-plated.drl": ("Plated,1,2,PTH", "Positive"),
        "drill-unplated.drl": ("NonPlated,1,2,NPTH", "Positive"),
    }
    assert listed == said | drilled
    assert said == {
        "copper-front": ("Copper,L1,Top", "Positive"),
        "mask-front": ("Soldermask,Top", "Negative"),
        "silk-front": ("Legend,Top", "Positive"),
        "paste-front": ("Paste,Top", "Positive"),
        "copper-back": ("Copper,L2,Bot", "Positive"),
        "mask-back": ("Soldermask,Bot", "Negative"),
        "silk-back": ("Legend,Bot", "Positive"),
        "outline": ("Profile,NP", "Positive"),
    }


def test_a_job_file_gives_size_thickness_rules_and_layers_from_front_to_back() -> None:
    job = json.loads(FILES["riser.gbrjob"])
    general = job["GeneralSpecs"]
    assert general.pop("ProjectId")["Name"] == "Test riser"
    assert general == {
        "Size": {"X": 34.0, "Y": 50.0},
        "LayerNumber": 2,
        "BoardThickness": 1.6,
        "EdgeConnector": True,
        "EdgeConnectorBevelled": True,
    }
    assert job["DesignRules"] == [
        {
            "Layers": "Outer",
            "PadToPad": 0.325,
            "PadToTrack": 0.325,
            "TrackToTrack": 0.325,
            "TrackToRegion": 0.325,
            "RegionToRegion": 0.325,
            "MinLineWidth": 0.25,
        }
    ]
    assert [(each["Type"], each.get("Thickness")) for each in job["MaterialStackup"]] == [
        ("Legend", None),
        ("SolderMask", None),
        ("Copper", 0.035),
        ("Dielectric", 1.53),
        ("Copper", 0.035),
        ("SolderMask", None),
        ("Legend", None),
    ]


def test_a_changed_board_has_another_number() -> None:
    moved = replace(board(), vias=(*board().vias, Via("GND", 27_000, 34_000, 600, 300)))
    numbers = {
        json.loads(fab_files(each, "riser")["riser.gbrjob"])["GeneralSpecs"]["ProjectId"]["GUID"]
        for each in (board(), board(), moved)
    }
    assert len(numbers) == 2


@pytest.mark.filterwarnings("ignore")  # the reader says that it guesses
@pytest.mark.parametrize("stem", ["riser", "adapter", "back-plane"])
@pytest.mark.parametrize("rich", [True, False], ids=["all layers", "no paste and no bare holes"])
def test_a_reader_that_guesses_by_name_finds_every_layer_in_the_zip(tmp_path: Path, stem: str, rich: bool) -> None:
    layout = board() if rich else replace(board(), pads=tuple(p for p in board().pads if p.ref != "R1"), holes=())
    files = fab_files(layout, stem)
    (tmp_path / "board.zip").write_bytes(files[f"{stem}-fab.zip"])
    found = LayerStack.open(tmp_path / "board.zip")
    sides = {"top": "front", "bottom": "back"}
    layers = {
        (side, use): f"{stem}-{use}-{ours}.gbr" for side, ours in sides.items() for use in ("copper", "mask", "silk")
    }
    layers["mechanical", "outline"] = f"{stem}-outline.gbr"
    if rich:
        layers["top", "paste"] = f"{stem}-paste-front.gbr"
    assert {key: layer.original_path.name for key, layer in found.graphic_layers.items()} == layers
    assert found.drill_pth.original_path.name == f"{stem}-drill-plated.drl"
    assert len(found.drill_pth.objects) == 16
    assert (found.drill_npth and found.drill_npth.original_path.name) == (
        f"{stem}-drill-unplated.drl" if rich else None
    )
    assert not found._drill_layers


# ---------------------------------------------------------------------- Gerber


@pytest.mark.parametrize("name", [n.removeprefix("riser-").removesuffix(".gbr") for n in FILES if n.endswith(".gbr")])
def test_every_gerber_says_who_wrote_it_and_that_it_is_one_board_in_common_coordinates(name: str) -> None:
    attributes = gerber(name).file_attrs
    assert attributes[".GenerationSoftware"] == ("pinmap", "pinmap", __version__)
    assert attributes[".SameCoordinates"] == ("pinmap",)
    assert attributes[".Part"] == ("Single",)


@pytest.mark.parametrize(
    ("name", "left", "bottom", "right", "top"),
    [
        ("copper-front", 5.15, 0.19, 33.0, 46.425),
        ("copper-back", 2.5, 0.19, 33.0, 45.85),
        ("mask-front", 5.1, -0.05, 29.85, 45.9),
        ("mask-back", 5.1, -0.05, 29.85, 45.9),
        ("paste-front", 19.5, 41.35, 22.5, 42.65),
        ("outline", -0.05, -0.05, 34.05, 50.05),
    ],
)
def test_every_layer_lies_where_the_layout_has_it(
    name: str, left: float, bottom: float, right: float, top: float
) -> None:
    assert gerber(name).bounding_box(MM) == (
        (pytest.approx(left), pytest.approx(bottom)),
        (pytest.approx(right), pytest.approx(top)),
    )


@pytest.mark.parametrize("side", LAYERS)
def test_every_pad_and_via_reads_back_with_its_shape_net_and_pin(side: Layer) -> None:
    layout = board()
    wanted: dict[Point, Any] = {
        (via.x_um, via.y_um): ("ViaPad", "C", via.size_um, via.size_um, (via.net,), None) for via in layout.vias
    }
    for pad in layout.pads:
        if side in pad.layers:
            kind = "ComponentPad" if pad.drill_um else "ConnectorPad" if pad.finger else "SMDPad,CuDef"
            shape = {"rect": "R", "oval": "O", "round": "C"}[pad.shape]
            pin = (pad.ref, pad.number, pad.function) if pad.function else (pad.ref, pad.number)
            wanted[pad.x_um, pad.y_um] = kind, shape, pad.width_um, pad.height_um, (pad.net or "N/C",), pin
    found = {}
    for each in flashes(gerber(f"copper-{side}")):
        hole = each.aperture
        width, height = (um(getattr(hole, name, getattr(hole, "diameter", 0))) for name in ("w", "h"))
        found[place(each)] = (
            function(each),
            hole._gerber_shape_code,
            width,
            height,
            each.attrs[".N"],
            each.attrs.get(".P"),
        )
    assert found == wanted


def test_every_track_reads_back_with_its_net_and_width_and_no_pin() -> None:
    found = [
        (line.attrs, function(line), um(line.aperture.diameter), um(line.x1), 50_000 - um(line.y1))
        for line in gerber("copper-back").objects
        if isinstance(line, Line)
    ]
    assert found == [
        ({".N": ("+5V",)}, "Conductor", 1000, x, y) for x, y in [(6000, 7540), (3000, 10540), (3000, 24540)]
    ]


def test_an_area_keeps_its_holes_and_what_lies_inside_them() -> None:
    copper = painted(gerber("copper-front")).intersection(shapely.box(15.5, 11, 33, 24))
    assert copper.area == pytest.approx(17.5 * 13 - 4 * 4 - 1 * 3 + 2 * 2)
    assert copper.contains(shapely.Point(20, 16))  # the island
    assert not copper.intersects(shapely.Point(18.5, 16))  # the gap round it
    assert not copper.intersects(shapely.Point(24.5, 20))  # the other hole


def test_areas_in_holes_come_through_in_any_order() -> None:
    turned = replace(board(), areas=board().areas[::-1])
    files = fab_files(turned, "riser")
    assert painted(gerber("copper-front", files)).equals(painted(gerber("copper-front")))


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # pygerber calls its own parser by old names
def test_a_second_reader_sees_the_same_copper() -> None:
    source = FILES["riser-copper-front.gbr"].decode("ascii")
    read = SecondReader.from_str(source).parse(on_parser_error=OnParserErrorEnum.Raise)
    info = read.get_info()
    assert [float(each) for each in (info.min_x_mm, info.min_y_mm, info.max_x_mm, info.max_y_mm)] == [
        5.15,
        0.19,
        33.0,
        46.425,
    ]
    raster = io.BytesIO()
    read.render_raster(raster, dpmm=20, image_format=ImageFormatEnum.PNG)
    picture = Image.open(raster).convert("RGB")
    solid = picture.getpixel(((20_000 - 5150) // 50, (46_425 - 16_000) // 50))  # on the island
    copper = painted(gerber("copper-front"))
    edge = copper.boundary.buffer(0.1)
    checked = 0
    for x in range(5200, 33_000, 250):
        for y in range(250, 46_400, 250):
            at = shapely.Point(x / 1000, y / 1000)
            if not edge.intersects(at):
                pixel = picture.getpixel(((x - 5150) // 50, (46_425 - y) // 50))
                assert (pixel == solid) == copper.contains(at), (x, y)
                checked += 1
    assert checked > 15_000


@pytest.mark.parametrize("side", LAYERS)
def test_the_mask_opens_every_pad_a_little_wider_and_no_via(side: Layer) -> None:
    wanted = {
        (pad.x_um, pad.y_um): (pad.width_um + 100, pad.height_um + 100)
        for pad in board().pads
        if side in pad.layers and not pad.finger
    }
    found = {}
    for each in flashes(gerber(f"mask-{side}")):
        size = each.aperture
        found[place(each)] = tuple(um(getattr(size, name, getattr(size, "diameter", 0))) for name in ("w", "h"))
    assert found == wanted


@pytest.mark.parametrize("side", LAYERS)
def test_the_mask_has_one_opening_over_each_row_of_fingers_out_to_the_edge(side: Layer) -> None:
    rooms = [each.outline for each in gerber(f"mask-{side}").objects if isinstance(each, Region)]
    assert [(um(min(x for x, _ in r)), um(max(x for x, _ in r))) for r in rooms] == [(11_060, 18_020), (23_760, 28_180)]
    assert {(um(min(y for _, y in r)), um(max(y for _, y in r))) for r in rooms} == {(-50, 7860)}


def test_a_missing_finger_leaves_no_web_and_a_side_edge_is_an_edge_too() -> None:
    upright = tuple(
        Pad("J9", str(i), "", 3000, 5000 + 2540 * i, 6000, 1780, "rect", 0, "front", True) for i in (0, 1, 3, 4)
    )
    layout = replace(board(), pads=upright, bevel=((-400, 0), (-400, 40_000)))
    assert finger_rooms(layout, "front") == ((-450, 4060, 6050, 16_100),)
    assert finger_rooms(layout, "back") == ()


@pytest.mark.parametrize("side", LAYERS)
def test_the_silk_has_all_lines_and_letters_each_with_its_part(side: Layer) -> None:
    layout = board()
    wanted = [
        (stroke.part, stroke.width_um, *points)
        for stroke in layout.strokes
        if stroke.layer == side
        for points in pairwise(stroke.points)
    ]
    wanted += [
        (text.part, pen_um(text.height_um), *points)
        for text in layout.texts
        if text.layer == side
        for line in strokes(text)
        for points in pairwise(line)
    ]
    found = [
        (
            line.attrs.get(".C", ("",))[0],
            um(line.aperture.diameter),
            (um(line.x1), 50_000 - um(line.y1)),
            (um(line.x2), 50_000 - um(line.y2)),
        )
        for line in gerber(f"silk-{side}").objects
    ]
    assert found == wanted


def test_a_line_of_one_point_is_a_dot() -> None:
    dotted = replace(board(), texts=(), strokes=(Stroke("front", ((3000, 4000),), 400),))
    (dot,) = flashes(gerber("silk-front", fab_files(dotted, "riser")))
    assert (place(dot), um(dot.aperture.diameter)) == ((3000, 4000), 400)


def test_the_outline_runs_once_round_the_board() -> None:
    lines = gerber("outline").objects
    assert [(um(line.x1), 50_000 - um(line.y1)) for line in lines] == list(board().outline)
    assert (um(lines[-1].x2), 50_000 - um(lines[-1].y2)) == board().outline[0]
    assert {function(line) for line in lines} == {"Profile"}


def test_a_board_that_does_not_begin_at_zero_still_has_its_corner_there() -> None:
    moved = replace(board(), outline=((-3000, -2000), (40_000, -2000), (40_000, 48_000), (-3000, 48_000)))
    (left, bottom), _ = gerber("outline", fab_files(moved, "riser")).bounding_box(MM)
    assert (left, bottom) == (pytest.approx(-0.05), pytest.approx(-0.05))


# ---------------------------------------------------------------------- drills


def test_the_drill_files_have_a_tool_for_each_diameter_and_every_hole() -> None:
    layout = board()
    wanted = sorted((each.drill_um, each.x_um, each.y_um) for each in layout.vias)
    wanted = sorted([*wanted, *((each.drill_um, each.x_um, each.y_um) for each in layout.pads if each.drill_um)])
    assert sorted((um(hole.aperture.diameter), *place(hole)) for hole in drill("plated").objects) == wanted
    (hole,) = drill("unplated").objects
    assert (um(hole.aperture.diameter), *place(hole)) == (3200, 31_000, 4000)
    assert drill("plated").import_settings.unit == MM


def test_a_drill_file_is_plain_xnc_with_what_each_tool_is_for() -> None:
    assert FILES["riser-drill-unplated.drl"].decode() == (
        "M48\n"
        f"; #@! TF.GenerationSoftware,pinmap,pinmap,{__version__}\n"
        "; #@! TF.FileFunction,NonPlated,1,2,NPTH\n"
        "; #@! TF.FilePolarity,Positive\n"
        "; #@! TF.SameCoordinates,pinmap\n"
        "; #@! TF.Part,Single\n"
        "METRIC\n"
        "; #@! TA.AperFunction,NonPlated,NPTH,MechanicalDrill\n"
        "T01C3.200\n"
        "%\n"
        "G05\n"
        "T01\n"
        "X31.000Y46.000\n"
        "M30\n"
    )
    plated = FILES["riser-drill-plated.drl"].decode().splitlines()
    assert [line for line in plated if "TA." in line or re.fullmatch(r"T\d\dC.*", line)] == [
        "; #@! TA.AperFunction,Plated,PTH,ViaDrill",
        "T01C0.300",
        "; #@! TA.AperFunction,Plated,PTH,ComponentDrill",
        "T02C0.800",
        "; #@! TA.AperFunction,Plated,PTH,ComponentDrill",
        "T03C1.000",
    ]


# ---------------------------------------------------------------------- test netlist


def test_the_test_netlist_reads_back_with_every_pad_via_and_hole() -> None:
    layout = board()
    wanted: list[Any] = [
        (
            "THROUGH_HOLE" if pad.drill_um else "SMD_PAD",
            pad.net or None,
            pad.ref,
            pad.number,
            (pad.x_um, pad.y_um),
            pad.drill_um or None,
            True if pad.drill_um else None,
            0 if pad.drill_um else 1 if pad.layer == "front" else 2,
            pad.width_um,
            0 if pad.shape == "round" else pad.height_um,
            "NONE",
        )
        for pad in layout.pads
    ]
    wanted += [
        ("THROUGH_HOLE", via.net, None, None, (via.x_um, via.y_um), via.drill_um, True, 0, via.size_um, 0, "BOTH")
        for via in layout.vias
    ]
    wanted += [("NONPLATED_HOLE", None, None, None, (31_000, 4000), 3200, False, 0, 3200, 0, "NONE")]
    found = [
        (
            each.pad_type.name,
            each.net_name,
            each.ref_des,
            each.pin,
            place(each),
            each.hole_dia and um(each.hole_dia),
            each.is_plated,
            each.access_layer,
            um(each.w),
            um(each.h),
            each.solder_mask.name,
        )
        for each in records_of().test_records
    ]
    assert found == wanted
    assert sum(each.is_via for each in records_of().test_records) == 2


def test_the_test_netlist_has_the_outline() -> None:
    (outline,) = records_of().outlines
    assert outline.outline_type.name == "BOARD_EDGE"
    assert [(um(x), 50_000 - um(y)) for x, y in outline.outline] == [*board().outline, board().outline[0]]


def test_the_records_of_the_test_netlist_stand_in_their_columns() -> None:
    lines = FILES["riser-netlist.ipc"].decode().splitlines()
    assert {len(line) for line in lines} == {80}
    lines = [line.rstrip() for line in lines]
    assert lines[:7] == [
        "P  JOB Test riser",
        "P  UNITS CUST 1",
        "P  VER IPC-D-356A",
        "P  IMAGE PRIMARY",
        "317GND              J1    -1    D1000PA00X+006000Y+045000X1700Y1700R000 S0",
        "317+5V              J1    -2    D1000PA00X+006000Y+042460X1700Y0000R000 S0",
        "317SD0              J1    -3    D1000PA00X+008540Y+045000X1700Y0000R000 S0",
    ]
    assert lines[16] == "327GND              J3    -A1         A01X+012000Y+004000X1780Y7620R000 S0"
    assert lines[-7:] == [
        "317GND              VIA   -     D0300PA00X+020000Y+020000X0600Y0000R000 S3",
        "317GND              VIA   -     D0300PA00X+026000Y+016000X0600Y0000R000 S3",
        "367N/C                    -     D3200UA00X+031000Y+046000X3200Y0000R000 S0",
        "389BOARD_EDGE         X+000000Y+050000 X+034000Y+050000 X+034000Y+010000",
        "089 X+030000Y+010000 X+030000Y+000000 X+008000Y+000000 X+008000Y+010000",
        "089 X+000000Y+010000 X+000000Y+050000",
        "999",
    ]


def test_a_size_that_four_digits_cannot_say_is_said_in_a_comment() -> None:
    long = (
        Pad("J3", "A1", "GND", 5000, 5000, 1780, 11_880, "rect", 0, "front", True),
        Pad("J3", "A2", "GND", 9000, 5000, 1780, 11_880, "rect", 0, "front", True),
        Pad("A_LONG_NAME", "1", "GND", 20_000, 5000, 12_000, 12_000, "round", 10_001),
        Pad("J4", "1", "GND", 30_000, 9000, 9999, 9999, "round", 9999),
    )
    layout = replace(board(), pads=long, vias=(Via("GND", 0, 0, 10_500, 300),), holes=(Hole(9000, 9000, 11_000),))
    lines = [line.rstrip() for line in netlist(layout).decode("ascii").splitlines()]
    assert lines[4:14] == [
        "C  part #1: A_LONG_NAME",
        "C  size, 9.999 for more: a pad of J3, 1.780 x 11.880 mm",
        "C  size, 9.999 for more: a pad of #1, 12.000 x 12.000 mm, hole 10.001",
        "C  size, 9.999 for more: a via, 10.500 x 10.500 mm",
        "C  size, 9.999 for more: an unplated hole, 11.000 x 11.000 mm",
        "327GND              J3    -A1         A01X+005000Y+045000X1780Y9999R000 S0",
        "327GND              J3    -A2         A01X+009000Y+045000X1780Y9999R000 S0",
        "317GND              #1    -1    D9999PA00X+020000Y+045000X9999Y0000R000 S0",
        "317GND              J4    -1    D9999PA00X+030000Y+041000X9999Y0000R000 S0",
        "317GND              VIA   -     D0300PA00X+000000Y+050000X9999Y0000R000 S3",
    ]
    assert "9.999 for more" not in FILES["riser-netlist.ipc"].decode()


@pytest.mark.parametrize(
    ("title", "said"),
    [
        ("x" * 72, "P  JOB " + "x" * 72),
        ("x" * 73, "P  JOB " + "x" * 73),
        ("x" * 74, "P  JOB " + "x" * 70 + "..."),
        ("x" * 67 + "ÄÄ", "P  JOB " + "x" * 67 + "..."),  # no number is cut through
        ("x" * 66 + "Ä" + "x" * 9, "P  JOB " + "x" * 66 + "..."),
        ("x" * 64 + "Ä" + "x" * 9, "P  JOB " + "x" * 64 + "\\u00C4..."),
        ("x" * 64 + " Ä" + "x" * 9, "P  JOB " + "x" * 64 + "..."),  # and no space is left at the end
    ],
)
def test_a_title_that_is_cut_ends_in_dots(title: str, said: str) -> None:
    assert netlist(replace(board(), title=title)).decode("ascii").splitlines()[0] == f"{said:<80}"


def test_a_board_beyond_six_digits_is_refused() -> None:
    wide = replace(board(), outline=((0, 0), (1_000_000, 0), (1_000_000, 50_000), (0, 50_000)))
    with pytest.raises(ValueError, match=re.escape("must keep within 999.999 mm, not 1000000 µm")):
        fab_files(wide, "riser")


# ---------------------------------------------------------------------- names of any kind

HOSTILE = (
    "RESET DRV",
    "a*b",
    "50%",
    "one,two",
    "back\\slash \\u0041",
    "ÄRGER",
    "信号",
    "\U0001f600",
    "a name that is far longer than any column of a netlist, and longer than a line of it as well: (1)",
    "a name that is far longer than any column of a netlist, and longer than a line of it as well: (2)",
    " led by a space",
    "two  spaces",
    "two spaces",
    "N/C",
    "NNAME1",
    "VIA",
    "line\nend",
    "<b>&\"'",
    "=1+1",
    "A_NAME_WITHOUT_SPACES",
)


def renamed(names: Sequence[str]) -> Layout:
    """The board with a row of pads more, each of a net of its own, as the names are; parts and texts named so too."""
    pads = tuple(
        Pad(name or "J", f"{i}{name}", name, 2000 + i * 1500, 12_000, 1000, 1000, "round", 500, function=name)
        for i, name in enumerate(names)
    )
    parts = tuple(Placed(name, "", name, "back", 0, 0, 0, (0, 0, 0, 0)) for name in names)
    texts = tuple(Text("front", name, 17_000, 2000 + i * 2000) for i, name in enumerate(names))
    groups: dict[str, Group] = dict.fromkeys(names, "own")
    return replace(board(), title=names[0], pads=pads, parts=parts, texts=texts, groups=groups, areas=(), tracks=())


def test_names_of_any_kind_read_back_from_the_gerbers() -> None:
    files = fab_files(renamed(HOSTILE), "riser")
    found = [
        (unescaped(each.attrs[".N"]), unescaped(each.attrs[".P"]))
        for each in flashes(gerber("copper-front", files))[2:]
    ]
    assert found == [((name,), (name, f"{i}{name}", name)) for i, name in enumerate(HOSTILE)]
    for name in ("copper-back", "mask-front", "silk-front", "silk-back", "outline"):
        assert gerber(name, files).objects


def test_names_of_any_kind_stay_apart_in_the_test_netlist() -> None:
    files = fab_files(renamed(HOSTILE), "riser")
    assert {len(line) for line in files["riser-netlist.ipc"].decode("ascii").splitlines()} == {80}
    records = [each for each in records_of(files).test_records if not each.is_via][: len(HOSTILE)]
    assert [each.net_name for each in records] == [
        "RESET DRV",
        "a*b",
        "50%",
        "one,two",
        "back\\u005Cslash \\u005Cu0041",
        "\\u00C4RGER",
        "\\u4FE1\\u53F7",
        "\\U0001F600",
        "a name that is far longer than any column of a netlist, and longer t~6",
        "a name that is far longer than any column of a netlist, and longer t~7",
        "\\u0020led by a space",
        "two \\u0020spaces",
        "two spaces",
        "N/C",
        "NNAME1",
        "VIA",
        "line\\u000Aend",
        "<b>&\"'",
        "=1+1",
        "A_NAME_WITHOUT_SPACES",
    ]
    assert len({(each.ref_des, each.pin) for each in records}) == len(HOSTILE)
    assert all(each.is_connected for each in records)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_names_of_any_kind_do_not_stop_a_second_reader() -> None:
    source = fab_files(renamed(HOSTILE), "riser")["riser-copper-front.gbr"].decode("ascii")
    assert SecondReader.from_str(source).parse(on_parser_error=OnParserErrorEnum.Raise).get_info().width_mm > 25


def test_names_of_any_kind_leave_pictures_tables_and_words_whole() -> None:
    files = fab_files(renamed(HOSTILE), "riser")
    titled = fab_files(replace(board(), title="<b>&\"'"), "riser")
    for side in LAYERS:
        assert ElementTree.fromstring(files[f"riser-{side}.svg"])  # noqa: S314 - our own
        assert ElementTree.fromstring(titled[f"riser-{side}.svg"])[0].text == f"<b>&\"': {side}"  # noqa: S314 - as above
    rows = list(csv.reader(io.StringIO(files["riser-placement.csv"].decode(), newline="")))
    assert [row[0] for row in rows[1:]] == [f"part {visible(name)}" for name in HOSTILE]
    assert not any(at_risk(cell) for row in rows for cell in row if not re.fullmatch(r"-?[\d.]+", cell))
    assert files["riser-fab-note.txt"].decode().splitlines()[0] == "board           RESET DRV"


@settings(deadline=None, max_examples=40, derandomize=True)
@given(st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=90), min_size=1, max_size=5, unique=True))
def test_any_names_read_back_and_stay_apart(names: list[str]) -> None:
    layout = replace(renamed(names), texts=())
    copper = next(each for each in layers(layout) if each.name == "copper-front.gbr")
    read = flashes(GerberFile.from_string(copper.data.decode("ascii"), filename="copper"))[2:]
    assert [unescaped(each.attrs[".N"])[0] for each in read] == [name or "N/C" for name in names]
    records = Netlist.from_string(netlist(layout).decode("ascii"), "n").test_records[: len(names)]
    assert len({each.net_name for each in records}) == len(names)
    assert [each.is_connected for each in records] == [bool(name) for name in names]


# ---------------------------------------------------------------------- what is smallest


@pytest.mark.parametrize(
    ("first", "second", "gap"),
    [
        (Pad("A", "1", "x", 0, 0, 1000, 1000), Pad("A", "2", "y", 2000, 0, 1000, 1000), 1000),
        (Pad("A", "1", "x", 0, 0, 1000, 1000, "rect"), Pad("A", "2", "y", 2000, 0, 600, 600), 1200),
        (Pad("A", "1", "x", 0, 0, 1000, 3000, "oval"), Pad("A", "2", "y", 1500, 1400, 500, 500), 802),
        (Pad("A", "1", "x", 0, 0, 1000, 1000), Track("y", "front", -5000, 800, 5000, 800, 250), 175),
        (Via("x", 0, 0, 600, 300), Track("y", "back", 600, -500, 600, 500, 250), 175),
        (Via("x", 0, 0, 600, 300), Area("y", "back", ring(-900, -900, 900, 900), (ring(-500, -500, 500, 500),)), 200),
        (Pad("A", "1", "x", 0, 0, 1000, 1000), Pad("A", "2", "y", 900, 0, 1000, 1000), 0),
        (Pad("A", "1", "", 0, 0, 1000, 1000), Pad("A", "2", "", 1200, 0, 1000, 1000), 200),
        (Pad("A", "1", "x", 0, 0, 1000, 1000), Pad("A", "2", "x", 1200, 0, 1000, 1000), None),
        (Pad("A", "1", "x", 0, 0, 1000, 1000), Pad("A", "2", "y", 1200, 0, 1000, 1000, layer="back"), None),
        (Pad("A", "1", "x", 0, 0, 1000, 1000), Pad("A", "2", "y", 30_000, 40_000, 1000, 1000), 49_000),
    ],
)
def test_the_smallest_gap_is_measured_between_nets_of_one_layer(
    first: Pad | Via, second: Pad | Track | Area, gap: int | None
) -> None:
    things = (first, second)
    bare = Layout(
        "",
        {},
        Rules(),
        ring(0, 0, 50_000, 50_000),
        (),
        tuple(each for each in things if isinstance(each, Pad)),
        tuple(each for each in things if isinstance(each, Track)),
        tuple(each for each in things if isinstance(each, Via)),
        tuple(each for each in things if isinstance(each, Area)),
        (),
        (),
        (),
    )
    assert measured(bare).gap_um == gap


def test_track_drill_and_ring_are_the_smallest_there_are() -> None:
    assert measured(board()) == Measured(250, 325, 300, 150)
    thin = Pad("X1", "1", "", 3000, 45_000, 1500, 1200, "oval", 1000)
    assert measured(replace(board(), pads=(*board().pads, thin))).ring_um == 100
    assert measured(replace(board(), tracks=(), vias=(), areas=(), pads=(), holes=())) == Measured(
        None, None, None, None
    )


@settings(deadline=None, max_examples=40, derandomize=True)
@given(
    st.lists(
        st.builds(
            Track,
            st.sampled_from("abc"),
            st.just("front"),
            *[st.integers(0, 40_000)] * 4,
            st.sampled_from((200, 250, 1000)),
        ),
        min_size=2,
        max_size=8,
    )
)
def test_the_smallest_gap_is_what_comparing_everything_finds(tracks: list[Track]) -> None:
    lines = [shapely.LineString([(t.x1_um, t.y1_um), (t.x2_um, t.y2_um)]) for t in tracks]
    gaps = [
        lines[i].distance(lines[j]) - (tracks[i].width_um + tracks[j].width_um) / 2
        for i in range(len(tracks))
        for j in range(i)
        if tracks[i].net != tracks[j].net
    ]
    layout = replace(board(), pads=(), vias=(), areas=(), tracks=tuple(tracks))
    assert measured(layout).gap_um == (max(0, int(min(gaps) + 1e-6)) if gaps else None)


# ---------------------------------------------------------------------- words and pictures


def test_the_fab_note_says_what_no_layer_says() -> None:
    assert FILES["riser-fab-note.txt"].decode() == (
        "board           Test riser\n"
        "size            34.00 × 50.00 mm, routed along the outline\n"
        "layers          2: copper on the front (component side) and on the back\n"
        "thickness       1.60 mm, FR-4\n"
        "copper          35 µm finished (1 oz per square foot)\n"
        "mask, silk      on both sides, the mask of any colour, the silk to be read on it; "
        "vias are covered by the mask\n"
        "smallest track  0.250 mm\n"
        "smallest gap    0.325 mm\n"
        "smallest drill  0.300 mm\n"
        "smallest ring   0.150 mm\n"
        "finish          pads: immersion gold; fingers: hard gold over nickel (common practice, no source)\n"
        "fingers         5 on the front and 5 on the back, one mask opening over each row, no mask between the "
        "fingers, no paste\n"
        "bevel           on both faces of the edge from 8.000, 0.000 to 30.000, 0.000\n"
        "                30° or 45° against the face (common practice, no source): please say which you cut\n"
        "inner corners   at 30.000, 10.000 and 8.000, 10.000: drawn sharp; a router leaves a radius "
        "(common practice, no source)\n"
        "                the radius must end before the fingers, which begin 2.190 mm nearer to the edge\n"
        "drills          0.300 mm     2  plated, vias\n"
        "                0.800 mm     2  plated, pads\n"
        "                1.000 mm    12  plated, pads\n"
        "                3.200 mm     1  unplated\n"
        "coordinates     mm; 0, 0 is the lower left corner of the board, seen from the front, y upwards\n"
        "netlist         IPC-D-356A, from the same data as the layers: please test the bare board against it\n"
        "files           riser-copper-front.gbr\n"
        "                riser-mask-front.gbr\n"
        "                riser-silk-front.gbr\n"
        "                riser-paste-front.gbr\n"
        "                riser-copper-back.gbr\n"
        "                riser-mask-back.gbr\n"
        "                riser-silk-back.gbr\n"
        "                riser-outline.gbr\n"
        "                riser-drill-plated.drl\n"
        "                riser-drill-unplated.drl\n"
        "                riser.gbrjob\n"
        "                riser-netlist.ipc\n"
    )


def test_a_board_without_fingers_asks_for_no_gold_on_them_and_no_bevel() -> None:
    layout = replace(board(), pads=board().pads[:12], bevel=None, notes=("the card stands upright",))
    note = fab_note(layout, measured(layout))
    assert "finish          lead-free hot-air levelling or immersion gold (common practice, no source)\n" in note
    assert "note            the card stands upright\n" in note
    assert "bevel" not in note
    assert "fingers" not in note
    job = json.loads(fab_files(layout, "riser")["riser.gbrjob"])["GeneralSpecs"]
    assert not {"Finish", "EdgeConnector", "EdgeConnectorBevelled"} & set(job)


def test_fingers_whose_edge_stays_square_are_said_so() -> None:
    layout = replace(board(), bevel=None)
    assert "\nbevel           none\n" in fab_note(layout, measured(layout))


@pytest.mark.parametrize(
    ("outline", "bevel", "said"),
    [
        (ring(0, 0, 34_000, 50_000), ((0, 50_000), (34_000, 50_000)), []),
        (board().outline[::-1], board().bevel, ["begin 2.190 mm"]),
        (board().outline, None, ["the radius must end before the fingers\n"]),
        # The shoulder beside the fingers' upper ends.
        (
            tuple((x, 43_000 if y == 40_000 else y) for x, y in board().outline),
            board().bevel,
            ["at 30.000, 7.000 and 8.000, 7.000:", "begin 0.000 mm"],
        ),
    ],
)
def test_inner_corners_are_said_with_the_room_for_their_radius(
    outline: tuple[Point, ...], bevel: tuple[Point, Point] | None, said: list[str]
) -> None:
    layout = replace(board(), outline=outline, bevel=bevel)
    note = fab_note(layout, measured(layout))
    assert ("inner corners" in note) == bool(said)
    assert [part for part in said if part not in note] == []


def test_fingers_on_an_upright_edge_begin_as_far_from_the_corner_along_x() -> None:
    layout = board()
    pads = tuple(replace(p, x_um=p.y_um, y_um=p.x_um, width_um=p.height_um, height_um=p.width_um) for p in layout.pads)
    turned = replace(
        layout, pads=pads, outline=tuple((y, x) for x, y in layout.outline), bevel=((50_000, 8000), (50_000, 30_000))
    )
    assert "fingers, which begin 2.190 mm nearer to the edge\n" in fab_note(turned, measured(turned))


def test_inner_corners_without_fingers_are_said_alone() -> None:
    layout = replace(board(), pads=board().pads[:12], bevel=None)
    note = fab_note(layout, measured(layout))
    assert "drawn sharp" in note
    assert "radius must" not in note


@pytest.mark.parametrize(
    ("copper", "track", "gap", "said"),
    [
        (35, 150, 150, ""),
        (70, 200, 200, ""),
        (70, None, None, ""),
        (70, 150, 200, "tracks of 0.150 mm"),
        (36, 200, 199, "gaps of 0.199 mm"),
        (105, 199, 150, "tracks of 0.199 mm and gaps of 0.150 mm"),
    ],
)
def test_fine_copper_that_is_thick_must_be_asked_for(
    copper: int, track: int | None, gap: int | None, said: str
) -> None:
    note = fab_note(replace(board(), rules=Rules(copper_um=copper)), Measured(track, gap, 300, 150))
    row = [line for line in note.splitlines() if line.startswith("to be asked")]
    assert row == (
        [
            f"to be asked     {said} in copper thicker than 35 µm: below 0.2 mm the fab must be asked whether it makes "
            "them (common practice, no source)"
        ]
        if said
        else []
    )


def test_the_placement_list_is_in_the_axes_of_the_layers() -> None:
    assert FILES["riser-placement.csv"].decode() == (
        "part,value,side,x_mm,y_mm,angle,footprint\r\n"
        "part J1,value 2×3 header,front,8.54,43.73,0,footprint header 2×3\r\n"
        "part J2,value 2×3 socket,back,8.54,26.73,180,footprint socket 2×3\r\n"
        "part R1,value 330 Ω,front,21.0,42.0,90,footprint 0805\r\n"
        "part C1,,front,26.5,30.0,0,footprint axial\r\n"
    )


@pytest.mark.parametrize("side", LAYERS)
def test_a_picture_has_the_board_s_size_and_everything_on_it(side: Layer) -> None:
    picture = ElementTree.fromstring(FILES[f"riser-{side}.svg"])  # noqa: S314 - our own
    assert (picture.get("width"), picture.get("height"), picture.get("viewBox")) == ("38mm", "54mm", "0 0 38 54")
    fills = Counter(each.get("fill") for each in picture.iter())
    assert fills["#E0B34C"] == 5  # fingers
    assert fills["#C8CCCF"] == sum(side in pad.layers and not pad.finger for pad in board().pads)
    assert fills["#FFFFFF"] == sum(bool(pad.drill_um) for pad in board().pads) + 1
    assert sum(each.get("stroke") == "#F4F4F0" for each in picture.iter()) >= 2  # pens of two widths


def test_the_back_is_seen_from_the_back() -> None:
    front, back = seen("front"), seen("back")
    assert front.size == back.size
    width, height = front.size
    # Air is white: round the board and through the holes, which are the same from either side.
    air = [
        (front.getpixel((x, y)) == (255, 255, 255), back.getpixel((width - 1 - x, y)) == (255, 255, 255))
        for x in range(width)
        for y in range(height)
    ]
    assert sum(one != other for one, other in air) < len(air) / 200
    assert 20_000 < sum(one for one, _ in air) < len(air) / 2
    assert (front.getpixel((330, 60)), back.getpixel((330, 60))) == ((255, 255, 255), (23, 50, 74))


def seen(side: Layer) -> Any:
    """A picture, drawn with ten dots a millimetre."""
    import typst

    sheet = '#set page(width: 38mm, height: 54mm, margin: 0mm)\n#image("picture.svg", width: 38mm)'
    files: Any = {"main.typ": sheet.encode(), "picture.svg": FILES[f"riser-{side}.svg"]}
    png = typst.compile(files, format="png", ppi=254)
    return Image.open(io.BytesIO(png)).convert("RGB")
