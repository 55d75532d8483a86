"""The footprints of connectors and parts: pads, room, silk, and how they lie."""

from __future__ import annotations

import importlib
import math
import re
from collections.abc import Iterator
from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pinmap import load_map, recipes
from pinmap.board.boxes import Box, Line, clear
from pinmap.board.footprints import (
    FootPad,
    Footprint,
    board_edge_um,
    connector,
    flipped,
    mounting_holes,
    part,
    turn,
    turned,
)
from pinmap.board.library_angle import library_angle
from pinmap.body import CORNERS, Body, Form, Scheme, Section
from pinmap.errors import PinmapError
from pinmap.parts import Part

shapely: Any = importlib.import_module("shapely")  # it has no types of its own

LEAST_UM = 200  # between pads
CLEAR_UM = 250  # between silk and pads
SILK_UM = 150
HOLED: tuple[Form, ...] = ("pin header", "box header", "socket header", "edge slot", "din 41612")
PITCHES = (1.0, 1.27, 2.0, 2.54, 3.96)


def pads_at(footprint: Footprint) -> dict[str, tuple[int, int]]:
    return {pad.number: (pad.x_um, pad.y_um) for pad in footprint.pads}


def copper(pad: FootPad) -> Any:
    half_x, half_y = pad.width_um / 2, pad.height_um / 2
    if pad.shape == "round":
        assert half_x == half_y
        return shapely.Point(pad.x_um, pad.y_um).buffer(half_x, quad_segs=64)
    assert pad.shape == "rect"
    return shapely.box(pad.x_um - half_x, pad.y_um - half_y, pad.x_um + half_x, pad.y_um + half_y)


def drawn(footprint: Footprint) -> list[Any]:
    return [shapely.LineString(line).buffer(SILK_UM / 2) for line in footprint.lines]


def check(footprint: Footprint) -> None:
    """What holds for every footprint: pads apart and with a ring, all inside the room, silk clear of the pads."""
    numbers = [pad.number for pad in footprint.pads]
    assert numbers
    assert len(set(numbers)) == len(numbers)
    for pad in footprint.pads:
        assert pad.drill_um == 0 or min(pad.width_um, pad.height_um) - pad.drill_um >= 300
    room = shapely.box(*footprint.box)
    shapes = [copper(pad) for pad in footprint.pads]
    for geometry in (*shapes, *drawn(footprint)):
        assert room.covers(geometry)
    for layer in ("front", "back"):
        on = np.array([s for s, p in zip(shapes, footprint.pads, strict=True) if p.drill_um or p.layer == layer])
        if len(on) > 1:
            one, other = np.triu_indices(len(on), 1)
            assert shapely.distance(on[one], on[other]).min() >= LEAST_UM - 0.01
    for line in drawn(footprint):
        # A corner of a slanting line is rounded to whole µm.
        assert shapely.distance(np.array(shapes), line).min() >= CLEAR_UM - 1


def body(form: Form, scheme: Scheme = "zigzag", rows: int = 2, places: int = 5, **more: object) -> Body:
    letters = tuple("ABCD"[:rows]) if scheme == "rows" else ()
    return Body(form, (Section(rows, places, letters),), scheme, **more)  # type: ignore[arg-type]


# ---------------------------------------------------------------------- connectors


@st.composite
def bodies(draw: st.DrawFn) -> Body:
    form = draw(st.sampled_from([*HOLED, "edge fingers"]))
    scheme = draw(st.sampled_from(get_args(Scheme)))
    rows = 2 if scheme in ("ring", "lettered") or form == "edge fingers" else draw(st.integers(1, 3))
    pitch = draw(st.sampled_from(PITCHES))
    sections = [Section(rows, draw(st.integers(1, 12)), tuple("ABC"[:rows]) if scheme == "rows" else ())]
    if scheme == "rows" and draw(st.booleans()):
        along = (sections[0].places + draw(st.integers(0, 3))) * pitch
        sections.append(Section(rows, draw(st.integers(1, 8)), tuple("DEF"[:rows]), 1, along))
    return Body(
        form,
        tuple(sections),
        scheme,
        draw(st.sampled_from(CORNERS)),
        pitch,
        draw(st.sampled_from((pitch, 2 * pitch))),
        footprint=draw(st.sampled_from(("", "Connector_DIN:Some_Horizontal_THT"))),
    )


@settings(derandomize=True, deadline=None, max_examples=150)
@given(bodies(), st.data())
def test_any_connector_has_its_pads_apart_in_their_room_and_its_silk_clear_of_them(
    body: Body, data: st.DataObject
) -> None:
    present = data.draw(st.sets(st.sampled_from(body.labels), min_size=1))
    footprint = connector(body, present)
    check(footprint)
    assert {(pad.function, pad.number) for pad in footprint.pads} == {(each, body.pad_of[each]) for each in present}
    assert len(footprint.lines) >= 2 or body.form == "edge fingers"  # the body and contact 1
    # The frame is that of all contacts, whichever are there.
    whole = connector(body)
    assert set(pads_at(footprint).items()) <= set(pads_at(whole).items())
    assert footprint.box == whole.box


@pytest.mark.parametrize("form", HOLED)
def test_the_contacts_lie_as_the_body_has_them_about_their_middle(form: Form) -> None:
    footprint = connector(body(form, places=3, pitch_mm=2.54, row_pitch_mm=5.08))
    assert pads_at(footprint) == {
        "1": (-2540, -2540),
        "3": (0, -2540),
        "5": (2540, -2540),
        "2": (-2540, 2540),
        "4": (0, 2540),
        "6": (2540, 2540),
    }
    assert all(pad.drill_um == 1000 for pad in footprint.pads)
    assert {pad.number for pad in footprint.pads if pad.shape == "rect"} == {"1"}


def test_fingers_lie_on_both_faces_with_their_lower_ends_at_the_edge_of_the_board() -> None:
    fingers = body("edge fingers", "rows", places=2, first="top right", row_pitch_mm=5.08)
    footprint = connector(fingers)
    assert {(p.number, p.layer, p.x_um, p.y_um) for p in footprint.pads} == {
        ("A2", "front", -1270, 0),
        ("A1", "front", 1270, 0),
        ("B2", "back", -1270, 0),
        ("B1", "back", 1270, 0),
    }
    assert {(p.width_um, p.height_um, p.shape, p.drill_um, p.finger) for p in footprint.pads} == {
        (1780, 7620, "rect", 0, True)
    }
    assert footprint.box[3] == board_edge_um(fingers) == 3810
    assert footprint.sources[0].endswith("BUS_AT, 1.78 mm wide")


def test_the_face_of_a_finger_is_said_by_its_row_whatever_section_it_is_in() -> None:
    sections = (Section(1, 2, ("A",)), Section(1, 2, ("B",), across_mm=5.08), Section(1, 2, ("C",), along_mm=7.62))
    footprint = connector(Body("edge fingers", sections, "rows"))
    assert {p.function: p.layer for p in footprint.pads} == {
        "A1": "front",
        "A2": "front",
        "B1": "back",
        "B2": "back",
        "C1": "front",
        "C2": "front",
    }
    assert connector(body("edge fingers", "serial", rows=1)).pads[0].layer == "front"


def test_fingers_of_another_pitch_are_in_proportion() -> None:
    footprint = connector(body("edge fingers", pitch_mm=3.96))
    assert {(pad.width_um, pad.height_um) for pad in footprint.pads} == {(2776, 11880)}
    assert footprint.sources[0].endswith("scaled by the pitch")


@pytest.mark.parametrize(
    ("pitch", "pad", "drill"), [(3.96, 1700, 1000), (2.54, 1700, 1000), (2.0, 1350, 800), (1.27, 1000, 650)]
)
def test_pads_and_drills_go_with_the_pitch(pitch: float, pad: int, drill: int) -> None:
    for form in ("pin header", "socket header", "edge slot", "box header"):
        footprint = connector(body(form, pitch_mm=pitch, row_pitch_mm=pitch))
        assert {(p.width_um, p.height_um, p.drill_um) for p in footprint.pads} == {(pad, pad, drill)}


def test_the_pads_of_a_narrow_header_are_smaller_than_the_librarys_and_0_2_mm_apart() -> None:
    footprint = connector(body("pin header", pitch_mm=1.0, row_pitch_mm=1.0))
    assert {(p.width_um, p.drill_um) for p in footprint.pads} == {(800, 500)}


def test_a_din_41612_connector_has_smaller_pads() -> None:
    footprint = connector(body("din 41612", "rows", gender="female"))
    assert {(p.width_um, p.drill_um) for p in footprint.pads} == {(1550, 1000)}


def test_a_key_has_no_pad() -> None:
    pc104 = load_map("pc104-16bit")
    footprint = connector(pc104.body, pc104.present)
    assert {"B10", "C19"}.isdisjoint(pads_at(footprint))
    assert len(footprint.pads) == 102


def marks(footprint: Footprint, contact: str) -> list[float]:
    """How far the silk that is not the outline is from a contact."""
    pad = next(pad for pad in footprint.pads if pad.function == contact)
    rest = [
        shapely.LineString(line)
        for line in footprint.lines
        if len(line) != 5 or max(map(math.dist, line, line[1:])) < 5000
    ]
    return [line.distance(shapely.Point(pad.x_um, pad.y_um)) for line in rest]


@pytest.mark.parametrize("scheme", get_args(Scheme))
@pytest.mark.parametrize("first", CORNERS)
@pytest.mark.parametrize("form", [*HOLED, "edge fingers"])
def test_contact_1_is_marked_and_no_other(form: Form, scheme: Scheme, first: str) -> None:
    made = body(form, scheme, places=8, first=first)
    footprint = connector(made)
    one = made.labels[0]
    if form == "edge fingers" and made.spots[one].row == 1:
        assert not footprint.lines  # its finger is on the back
        return
    nearest = {pad.function: min(marks(footprint, pad.function)) for pad in footprint.pads if pad.layer == "front"}
    assert nearest[one] < 5000
    assert [label for label, far in nearest.items() if far < nearest[one] + 100] in (
        [one],
        [one, *made.neighbours[one]],
    )
    if form != "edge fingers":
        assert [pad.function for pad in footprint.pads if pad.shape == "rect"] == [one]


@pytest.mark.parametrize(("form", "pitch"), [("pin header", 1.27), ("box header", 2.54), ("edge slot", 3.96)])
@pytest.mark.parametrize("first", CORNERS)
def test_the_mark_that_is_not_round_contact_1_is_beyond_its_end_of_the_row(
    form: Form, pitch: float, first: str
) -> None:
    made = body(form, places=8, first=first, pitch_mm=pitch, row_pitch_mm=pitch)
    footprint = connector(made)
    x, y = next((pad.x_um, pad.y_um) for pad in footprint.pads if pad.function == "1")
    outline, mark = footprint.lines
    assert len(outline) == 5
    assert {px > x for px, _ in mark} == {"right" in first}
    assert min(py for _, py in mark) < y < max(py for _, py in mark)


def test_contact_1_without_a_pad_is_marked_all_the_same() -> None:
    whole = body("box header")
    assert connector(whole, whole.labels[1:]).lines == connector(whole).lines
    assert {pad.shape for pad in connector(whole, whole.labels[1:]).pads} == {"round"}


def test_the_room_of_each_form_is_as_wide_as_its_body() -> None:
    sizes = {}
    for form in HOLED:
        across = 5080 if form in ("edge slot", "din 41612") else 2540
        left, top, right, bottom = connector(body(form, places=11, row_pitch_mm=across / 1000)).box
        assert (left, top) == (-right, -bottom)
        sizes[form] = (2 * right - 25400, 2 * bottom - across)
    assert sizes == {
        "pin header": (2740, 2740),
        "socket header": (2740, 2740),
        "box header": (11200, 7360),
        "edge slot": (12000, 3920),
        "din 41612": (17260, 6520),
    }


def test_a_din_41612_connector_for_the_edge_of_a_board_overhangs_beyond_the_row_of_contact_1() -> None:
    mate = load_map("tarn-rack").body.mate()
    assert mate.footprint.endswith("Male_Horizontal_THT")
    footprint = connector(mate)
    row_a = next(pad.y_um for pad in footprint.pads if pad.number == "a1")
    assert row_a == 2540  # the lower one
    assert footprint.box[3] == row_a + 13230
    assert board_edge_um(mate) == row_a + 5300
    assert all(y <= row_a + 5300 for line in footprint.lines for _, y in line)
    above = replace(mate, first="top left", sections=(replace(mate.sections[0], letters=("a", "c")),))
    assert connector(above).box == tuple(
        -v for v in (footprint.box[2], footprint.box[3], footprint.box[0], footprint.box[1])
    )
    assert board_edge_um(above) == -7840


def test_only_what_lies_over_an_edge_has_an_edge_and_only_din_41612_has_mounting_holes() -> None:
    for form in HOLED:
        assert board_edge_um(body(form)) is None
        assert len(mounting_holes(body(form))) == (2 if form == "din 41612" else 0)


@pytest.mark.parametrize("name", ["tarn-rack", "the mate"])
def test_mounting_holes_are_clear_of_pads_and_silk(name: str) -> None:
    tarn = load_map("tarn-rack").body
    made = tarn if name == "tarn-rack" else tarn.mate()
    footprint = connector(made)
    for hole in mounting_holes(made):
        edge = shapely.Point(hole.x_um, hole.y_um).buffer(hole.drill_um / 2)
        assert shapely.box(*footprint.box).covers(edge)
        assert min(edge.distance(copper(pad)) for pad in footprint.pads) > 1000
        assert min(edge.distance(line) for line in drawn(footprint)) > 200


@pytest.mark.parametrize(
    ("made", "present", "message"),
    [
        (
            body("pin header", footprint="my:header"),
            ("1", "99"),
            "a contact that is present must be one of the connector's, not 99",
        ),
        (
            body("pin header", footprint="my:header"),
            (),
            "a connector must have at least one contact to be put on a board (my:header)",
        ),
        (
            body("pin header", pitch_mm=0.8, row_pitch_mm=1.2),
            None,
            "contacts must be at least 1 mm apart to have plated holes, not 0.8 mm (pinmap:PinHeader_2x5_P0.8mm). Look "
            "at the pitch, the row pitch and the sections of the body",
        ),
        (
            Body(
                "pin header", (Section(1, 4, ("A",)), Section(1, 4, ("B",), along_mm=0.1)), "rows", footprint="my:two"
            ),
            None,
            "contacts must be at least 1 mm apart to have plated holes, not 0.1 mm (my:two). Look at the pitch, the "
            "row pitch and the sections of the body",
        ),
        (
            body("edge fingers", pitch_mm=0.5, footprint="my:fingers"),
            None,
            "fingers 0.35 mm wide must be at least 0.55 mm apart on a face, not 0.5 mm (my:fingers). Look at the pitch "
            "and the sections of the body",
        ),
        (
            body("edge fingers", rows=3, footprint="my:fingers"),
            None,
            "edge fingers must lie on two faces, not in 3 rows (my:fingers)",
        ),
    ],
    ids=["unknown", "none", "narrow", "overlapping", "narrow fingers", "three rows"],
)
def test_a_connector_that_cannot_be_drawn_is_refused(made: Body, present: tuple[str, ...] | None, message: str) -> None:
    with pytest.raises(PinmapError) as told:
        connector(made, present)
    assert str(told.value) == message


def test_a_body_without_a_footprints_name_gets_one_of_pinmaps_own() -> None:
    assert connector(body("socket header")).name == "pinmap:SocketHeader_2x5_P2.54mm"


# ---------------------------------------------------------------------- parts


def made_part(footprint: str, *pins: tuple[str, str]) -> Part:
    return Part("R1", "resistor", "1 kΩ", footprint, "a test", pins)


def names_of_recipes() -> Iterator[str]:
    """Every footprint that a part can get: the constants of the recipes, and jumpers of up to 12 lines."""
    yield from sorted(
        {v for k, v in vars(recipes).items() if k.isupper() and isinstance(v, str) and re.search(r"\w:\w", v)}
    )
    for n in range(1, 13):
        lines = [f"IRQ{i}" for i in range(n)]
        yield recipes.jumper("IRQ7", lines, "net", lines).footprint


NAMES = tuple(names_of_recipes())


def test_the_recipes_have_footprints_to_try() -> None:
    assert len(NAMES) == 21
    assert recipes.RESISTOR in NAMES


@pytest.mark.parametrize("name", NAMES)
def test_every_footprint_that_a_part_can_get_is_known(name: str) -> None:
    footprint = part(made_part(name, ("1", "line")))
    assert footprint.name == name
    assert {pad.number: pad.function for pad in footprint.pads if pad.function} == {"1": "line"}
    check(footprint)
    xs, ys = zip(*pads_at(footprint).values(), strict=True)
    assert (min(xs) + max(xs), min(ys) + max(ys)) == (0, 0)  # the middle of its pads


@pytest.mark.parametrize("name", NAMES)
def test_two_pads_stand_upright_and_more_lie_in_rows_along_x(name: str) -> None:
    at = pads_at(part(made_part(name)))
    rows = {y for _, y in at.values()}
    if len(at) == 2:
        assert at["1"][0] == at["2"][0] == 0
        assert at["1"][1] < at["2"][1]
    else:
        assert len(rows) <= 2
        assert len({x for x, _ in at.values()}) >= len(rows)


def test_a_package_of_14_has_all_its_pads_pad_1_below_left_and_the_others_against_the_clock() -> None:
    at = pads_at(part(made_part(recipes.GATES, ("1", "input"), ("14", "+5 V"))))
    assert at == {str(n): (2540 * (n - 4), 3810) for n in range(1, 8)} | {
        str(n): (2540 * (11 - n), -3810) for n in range(8, 15)
    }


def test_a_jumpers_choices_lie_along_x_pad_1_below_left() -> None:
    at = pads_at(part(made_part("Connector_PinHeader_2.54mm:PinHeader_2x02_P2.54mm_Vertical")))
    assert at == {"1": (-1270, 1270), "2": (-1270, -1270), "3": (1270, 1270), "4": (1270, -1270)}


def test_the_other_packages_lie_as_their_pins_are_drawn() -> None:
    assert pads_at(part(made_part(recipes.REGULATOR))) == {"1": (-2540, 0), "2": (0, 0), "3": (2540, 0)}
    assert pads_at(part(made_part(recipes.SUPERVISOR))) == {"1": (-950, 1500), "2": (950, 1500), "3": (0, -1500)}
    assert pads_at(part(made_part(recipes.OSCILLATOR))) == {
        "1": (-7620, 3810),
        "7": (7620, 3810),
        "8": (7620, -3810),
        "14": (-7620, -3810),
    }


def test_the_supervisor_alone_has_no_holes() -> None:
    drilled = {name for name in NAMES if all(pad.drill_um for pad in part(made_part(name)).pads)}
    assert set(NAMES) - drilled == {recipes.SUPERVISOR}
    pads = part(made_part(recipes.SUPERVISOR)).pads
    assert {(p.width_um, p.height_um, p.layer) for p in pads} == {(800, 1900, "front")}


def test_the_plus_of_an_electrolytic_capacitor_is_beside_pad_1() -> None:
    footprint = part(made_part(recipes.ELECTROLYTIC))
    plus = [shapely.LineString(line) for line in footprint.lines if len(line) == 2]
    assert len(plus) == 2
    assert plus[0].crosses(plus[1])
    at = {n: shapely.Point(p) for n, p in pads_at(footprint).items()}
    assert all(line.distance(at["1"]) < line.distance(at["2"]) for line in plus)


@pytest.mark.parametrize(
    "name",
    [
        "Resistor_SMD:R_0805_2012Metric",
        "R_Axial_DIN0207_L6.3mm_D2.5mm_P10.16mm_Horizontal",
        recipes.RESISTOR.replace("DIN0207", "DIN0414"),
        recipes.RESISTOR + "x",
        recipes.GATES.replace("14", "15"),
        "Connector_PinHeader_2.54mm:PinHeader_2x41_P2.54mm_Vertical",
        "Connector_PinHeader_2.54mm:PinHeader_2x00_P2.54mm_Vertical",
        "Package_TO_SOT_THT:TO-92_Inline_Wide\n",
        "",
    ],
)
def test_an_unknown_footprint_is_named_with_what_to_do(name: str) -> None:
    with pytest.raises(PinmapError) as told:
        part(made_part(name))
    assert str(told.value) == (
        f"a part on a board must have a footprint whose pads are known, not {name!r} (R1). Take one like "
        "Resistor_THT:R_Axial_DIN0207_L6.3mm_D2.5mm_P10.16mm_Horizontal, Capacitor_THT:C_Disc_D5.0mm_W2.5mm_P5.00mm, "
        "Capacitor_THT:CP_Radial_D5.0mm_P2.50mm, Package_DIP:DIP-14_W7.62mm or "
        "Connector_PinHeader_2.54mm:PinHeader_2x02_P2.54mm_Vertical, or lay the board out by hand from the netlist"
    )


def test_a_pin_without_a_pad_is_named() -> None:
    with pytest.raises(PinmapError) as told:
        part(made_part(recipes.OSCILLATOR, ("1", "open"), ("5", "output")))
    assert str(told.value) == (
        "a pin of a part must have a pad in its footprint: R1 has no pad 5 in Oscillator:Oscillator_DIP-14"
    )


# ---------------------------------------------------------------------- how they lie

SOME = (
    connector(body("edge fingers", "rows", places=7, first="top right")),
    connector(load_map("tarn-rack").body.mate()),
    part(made_part(recipes.SUPERVISOR)),
    part(made_part(recipes.GATES)),
    part(made_part(recipes.ELECTROLYTIC)),
)


def test_turning_is_against_the_clock_as_it_is_seen() -> None:
    # y downwards: what is at the right goes to the top.
    assert [turn(10, 3, angle) for angle in (0, 90, 180, 270)] == [(10, 3), (3, -10), (-10, -3), (-3, 10)]
    assert pads_at(turned(part(made_part(recipes.CERAMIC)), 90)) == {"1": (-2500, 0), "2": (2500, 0)}
    assert pads_at(turned(part(made_part(recipes.CERAMIC)), 270)) == {"1": (2500, 0), "2": (-2500, 0)}


@pytest.mark.parametrize("footprint", SOME, ids=lambda f: f.name)
def test_a_turned_footprint_is_the_same_turned_about_its_origin(footprint: Footprint) -> None:
    assert turned(footprint, 0) == footprint
    assert turned(turned(turned(turned(footprint, 90), 90), 90), 90) == footprint
    assert turned(turned(footprint, 90), 90) == turned(footprint, 180)
    assert turned(turned(footprint, 180), 90) == turned(footprint, 270)
    for angle in (90, 180, 270):
        there = turned(footprint, angle)
        check(there)
        assert pads_at(there) == {n: turn(*at, angle) for n, at in pads_at(footprint).items()}
        assert [p.layer for p in there.pads] == [p.layer for p in footprint.pads]
    left, top, right, bottom = footprint.box
    assert turned(footprint, 90).box == (top, -right, bottom, -left)
    assert {(p.width_um, p.height_um) for p in turned(footprint, 90).pads} == {
        (p.height_um, p.width_um) for p in footprint.pads
    }


@pytest.mark.parametrize("footprint", SOME, ids=lambda f: f.name)
def test_a_flipped_footprint_is_mirrored_and_on_the_other_face(footprint: Footprint) -> None:
    there = flipped(footprint)
    check(there)
    assert flipped(there) == footprint
    assert pads_at(there) == {n: (-x, y) for n, (x, y) in pads_at(footprint).items()}
    left, top, right, bottom = footprint.box
    assert there.box == (-right, top, -left, bottom)
    other = {"front": "back", "back": "front"}
    for one, two in zip(footprint.pads, there.pads, strict=True):
        assert two.layer == (one.layer if one.drill_um else other[one.layer])
        assert (two.width_um, two.height_um) == (one.width_um, one.height_um)


FOREIGN = (
    connector(body("pin header")),  # pinmap's own name
    connector(body("pin header", footprint="my:header")),
    connector(body("pin header", footprint="Connector_PinHeader_2.00mm:PinHeader_2x05_P2.00mm_Vertical")),  # its pitch
    connector(body("pin header", "serial", footprint="Connector_PinHeader_2.54mm:PinHeader_2x05_P2.54mm_Vertical")),
    connector(body("pin header", "rows", footprint="Connector_PinHeader_2.54mm:PinHeader_2x05_P2.54mm_Vertical")),
    connector(body("pin header", places=6, footprint="Connector_PinHeader_2.54mm:PinHeader_2x05_P2.54mm_Vertical")),
)
#: How the library's lie in pinmap's frame: pad 1 above, left, or below left.
LYING = [
    (recipes.RESISTOR, 270),
    (recipes.CERAMIC, 270),
    (recipes.ELECTROLYTIC, 270),
    (recipes.RESETTABLE, 270),
    (recipes.TERMINAL, 270),
    (recipes.GATES, 90),
    (recipes.OSCILLATOR, 0),
    (recipes.REGULATOR, 0),
    (recipes.SUPERVISOR, 90),
    ("Connector_PinHeader_2.54mm:PinHeader_1x02_P2.54mm_Vertical", 0),
    ("Connector_PinHeader_2.54mm:PinHeader_1x03_P2.54mm_Vertical", 90),
    ("Connector_PinHeader_2.54mm:PinHeader_2x01_P2.54mm_Vertical", 270),
    ("Connector_PinHeader_2.54mm:PinHeader_2x06_P2.54mm_Vertical", 90),
]


@pytest.mark.parametrize(("name", "angle"), LYING)
def test_a_part_lies_turned_against_the_librarys_and_turns_add_up(name: str, angle: int) -> None:
    footprint = part(made_part(name))
    for more in (0, 90, 180, 270):
        assert library_angle(turned(footprint, more)) == (angle + more) % 360


@pytest.mark.parametrize(("name", "angle"), LYING)
def test_a_part_on_the_back_is_held_against_the_librarys_mirrored_top_to_bottom(name: str, angle: int) -> None:
    # Ours is mirrored left to right, which is that and half a turn, and turns the other way.
    footprint = flipped(part(made_part(name)))
    for more in (0, 90, 180, 270):
        assert library_angle(turned(footprint, more), "back") == (180 - angle + more) % 360


@pytest.mark.parametrize("footprint", FOREIGN)
def test_a_footprint_that_is_not_the_librarys_has_no_angle_against_it(footprint: Footprint) -> None:
    for angle in (0, 90, 180, 270):
        assert library_angle(turned(footprint, angle)) == 0


def test_a_package_on_the_wrong_side_is_not_the_librarys() -> None:
    footprint = part(made_part(recipes.GATES))
    assert (library_angle(footprint), library_angle(footprint, "back")) == (90, 0)
    assert (library_angle(flipped(footprint)), library_angle(flipped(footprint), "back")) == (0, 90)


def test_missing_pads_leave_the_angle_as_it_is() -> None:
    whole = load_map("oakmere-88").body
    few = connector(whole, [label for label in whole.labels if label not in ("1", "2", "3", "64")])
    assert len(few.pads) == 60
    assert library_angle(few) == library_angle(connector(whole)) == 90
    assert library_angle(turned(few, 90)) == 180


@pytest.mark.parametrize("angle", [45, -90, 360])
def test_an_angle_that_is_no_quarter_turn_is_refused(angle: int) -> None:
    with pytest.raises(PinmapError, match=rf"^a footprint must be turned by 0, 90, 180 or 270 degrees, not {angle}$"):
        turned(SOME[0], angle)


def test_no_turn_makes_a_package_its_mirror_image() -> None:
    for name in (recipes.GATES, recipes.SUPERVISOR, recipes.OSCILLATOR):
        footprint = part(made_part(name))
        mirror = pads_at(flipped(footprint))
        assert all(pads_at(turned(footprint, angle)) != mirror for angle in (0, 90, 180, 270))


def area(footprint: Footprint) -> float:
    """Twice the area of pads 1, 2 and the last, with its sign: a mirror image has the other."""
    at = list(pads_at(footprint).values())
    (ax, ay), (bx, by), (cx, cy) = at[0], at[1], at[-1]
    return (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(bodies(), st.sampled_from((90, 180, 270)))
def test_a_turn_keeps_the_hand_of_a_connector_and_a_flip_changes_it(body: Body, angle: int) -> None:
    footprint = connector(body)
    assume(len(footprint.pads) > 2 and area(footprint))
    assert area(turned(footprint, angle)) == area(footprint)
    assert area(flipped(footprint)) == -area(footprint)


# ---------------------------------------------------------------------- lines clear of walls

LINE = ((0, 0), (1000, 0), (1000, 1000))


@pytest.mark.parametrize(
    ("walls", "left"),
    [
        ([], [LINE]),
        ([(0, 1, 1000, 100)], [LINE]),  # beside it
        ([(0, 0, 990, 100)], [LINE]),  # along an edge is outside
        ([(300, -10, 600, 10)], [((0, 0), (300, 0)), ((600, 0), (1000, 0), (1000, 1000))]),
        ([(300, -10, 900, 10), (400, -10, 500, 10)], [((0, 0), (300, 0)), ((900, 0), (1000, 0), (1000, 1000))]),
        ([(300, -10, 600, 10), (500, -10, 700, 10)], [((0, 0), (300, 0)), ((700, 0), (1000, 0), (1000, 1000))]),
        ([(900, -100, 1100, 100)], [((0, 0), (900, 0)), ((1000, 100), (1000, 1000))]),
        ([(299, -10, 2000, 10)], [((1000, 10), (1000, 1000))]),  # what is left of the first piece is too short
        ([(-10, -10, 2000, 2000)], []),
    ],
)
def test_a_line_keeps_what_is_outside_of_all_walls(walls: list[Box], left: list[Line]) -> None:
    assert clear([LINE], walls, 300) == tuple(left)


def test_a_slanting_line_is_cut_where_it_meets_a_wall() -> None:
    assert clear([((0, 0), (1000, 500))], [(400, -1000, 600, 1000)], 300) == (
        ((0, 0), (400, 200)),
        ((600, 300), (1000, 500)),
    )
