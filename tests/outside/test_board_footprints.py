"""The footprints on pinmap's boards against the open footprints.

Source: open KiCad footprint library 6.0.11 (CC-BY-SA 4.0 with design exception). Pad numbers, positions, sizes and
drills and the outlines of room of parts in `data/part_pads.csv` and `data/part_rooms.csv`; of connectors the positions
in `data/header_pads.csv` and `data/isa_edge_pads.csv`, sizes in `data/connector_pads.csv`, rooms, holes without copper
and edges of the board in `data/connector_rooms.csv`.

A footprint lies on a board turned and shifted, never mirrored: ours and theirs must be equal up to a quarter turn and a
shift. A finger must be where theirs is without any turn. `library_angle` must name that turn.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple, get_args

import pytest

from pinmap import load_map, recipes
from pinmap.board.footprints import (
    FootPad,
    Footprint,
    board_edge_um,
    connector,
    flipped,
    mounting_holes,
    part,
    turned,
)
from pinmap.board.library_angle import library_angle
from pinmap.body import CORNERS, Body, Corner, Form, Scheme, Section
from pinmap.forms import complete
from pinmap.library import customs
from pinmap.parts import Part

DATA = Path(__file__).parent / "data"
HEADER = "Connector_PinHeader_2.54mm:PinHeader_2x31_P2.54mm_Vertical"
SOCKET = "Connector_PinSocket_2.54mm:PinSocket_2x31_P2.54mm_Vertical"
BOX = "Connector_IDC:IDC-Header_2x32_P2.54mm_Vertical"
FEMALE = "Connector_DIN:DIN41612_C_{}x32_Female_Vertical_THT"
MALE = "Connector_DIN:DIN41612_C_{}x32_Male_Horizontal_THT"
FINGERS = "Connector_PCBEdge:BUS_AT"

Point = tuple[int, int]


def rows(file: str) -> list[dict[str, str]]:
    lines = (DATA / file).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def um(mm: str) -> int:
    return round(float(mm or 0) * 1000)


class Pad(NamedTuple):
    x: int
    y: int
    width: int
    height: int
    square: bool
    drill: int


class Lying(NamedTuple):
    """Pads by number and other points that must lie with them."""

    pads: dict[str, Pad]
    points: tuple[Point, ...] = ()

    def mapped(self, to: Callable[[int, int], Point], swap: bool) -> Lying:
        pads = {}
        for number, pad in self.pads.items():
            x, y = to(pad.x, pad.y)
            width, height = (pad.height, pad.width) if swap else (pad.width, pad.height)
            pads[number] = pad._replace(x=x, y=y, width=width, height=height)
        return Lying(pads, tuple(to(*point) for point in self.points))

    def shifted(self) -> Lying:
        left, top = min(pad.x for pad in self.pads.values()), min(pad.y for pad in self.pads.values())
        there = self.mapped(lambda x, y: (x - left, y - top), False)
        return there._replace(points=tuple(sorted(there.points)))

    def mirrored(self) -> Lying:
        return self.mapped(lambda x, y: (-x, y), False)

    def turns(self) -> list[Lying]:
        out = [self]
        for _ in range(3):
            out.append(out[-1].mapped(lambda x, y: (y, -x), True))
        return [each.shifted() for each in out]


def near(one: Lying, other: Lying, slack: int) -> bool:
    """Whether the pads are equal, and the points nearly."""
    far = [abs(a - b) for p, q in zip(one.points, other.points, strict=True) for a, b in zip(p, q, strict=True)]
    return one.pads == other.pads and max(far, default=0) <= slack


def same(ours: Lying, theirs: Lying, slack: int = 0) -> bool:
    """Whether the two are equal up to quarter turns and a shift; the points within `slack`."""
    return any(near(ours.shifted(), each, slack) for each in theirs.turns())


def ours(footprint: Footprint, *points: Point) -> Lying:
    def pad(one: FootPad) -> Pad:
        return Pad(one.x_um, one.y_um, one.width_um, one.height_um, one.shape == "rect", one.drill_um)

    return Lying({one.number: pad(one) for one in footprint.pads}, points)


def check_angles(footprint: Footprint, theirs: Lying) -> None:
    """That `library_angle` turns the open footprint's pads into ours, however ours lies, on either face."""
    places = theirs._replace(points=())
    back = places.mapped(lambda x, y: (x, -y), False)  # as the open format keeps one on the back, from memory
    for more in (0, 90, 180, 270):
        mine = turned(footprint, more)
        assert spots(ours(mine).shifted()) == spots(places.turns()[library_angle(mine) // 90])
        mine = turned(flipped(footprint), more)
        assert spots(ours(mine).shifted()) == spots(back.turns()[library_angle(mine, "back") // 90])


def spots(lying: Lying) -> dict[str, Point]:
    return {number: (pad.x, pad.y) for number, pad in lying.pads.items()}


def corners(box: tuple[int, int, int, int]) -> tuple[Point, Point]:
    return (box[0], box[1]), (box[2], box[3])


def both(points: tuple[Point, Point]) -> tuple[Point, ...]:
    """All four corners of a box, which stay the same set when it is turned."""
    (left, top), (right, bottom) = points
    return (left, top), (right, top), (right, bottom), (left, bottom)


# ---------------------------------------------------------------------- parts

PARTS = tuple(dict.fromkeys(row["footprint"] for row in rows("part_pads.csv")))


def part_of_library(name: str) -> Lying:
    """An open footprint with the corners of its room."""
    pads = {}
    for row in rows("part_pads.csv"):
        if row["footprint"] == name:
            assert row["shape"] in ("rect", "circle", "oval")
            assert row["shape"] == "rect" or row["width_mm"] == row["height_mm"]
            sizes = (um(row["width_mm"]), um(row["height_mm"]))
            pads[row["pad"]] = Pad(
                um(row["x_mm"]), um(row["y_mm"]), *sizes, row["shape"] == "rect", um(row["drill_mm"])
            )
    room = next(row for row in rows("part_rooms.csv") if row["footprint"] == name)
    box = (um(room["left_mm"]), um(room["top_mm"]), um(room["right_mm"]), um(room["bottom_mm"]))
    return Lying(pads, both(corners(box)))


def part_of_ours(name: str) -> Lying:
    footprint = part(Part("R1", "resistor", "", name, "", ()))
    return ours(footprint, *both(corners(footprint.box)))


def test_every_kind_of_footprint_that_a_part_can_get_is_in_the_copied_figures() -> None:
    constants = {v for k, v in vars(recipes).items() if k.isupper() and isinstance(v, str) and re.search(r"\w:\w", v)}
    assert len(constants) == 9
    assert constants <= set(PARTS)
    assert recipes.jumper("IRQ7", ["IRQ3", "IRQ5"], "a", ["b", "c"]).footprint in PARTS


@pytest.mark.parametrize("name", PARTS)
def test_the_pads_and_the_room_of_a_part_are_those_of_the_open_footprint(name: str) -> None:
    # The library rounds the outlines of room to 0.05 mm or 0.01 mm. Pins have as much room as their body, see below.
    pins = "PinHeader" in name
    mine, theirs = part_of_ours(name), part_of_library(name)
    assert same(mine._replace(points=()), theirs._replace(points=())) if pins else same(mine, theirs, 50)


@pytest.mark.parametrize("name", [name for name in PARTS if "PinHeader" in name])
def test_pins_have_room_for_their_body_inside_the_open_footprints_room(name: str) -> None:
    # Its outline of the body is half a pitch round the pins, its room 1.8 mm and ours 1.37 mm.
    assert same(part_of_ours(name), part_of_library(name), 430 + 50)


@pytest.mark.parametrize("name", PARTS)
def test_the_angle_of_a_part_turns_the_open_footprint_into_ours(name: str) -> None:
    check_angles(part(Part("R1", "resistor", "", name, "", ())), part_of_library(name))


ONE_HANDED = [name for name in PARTS if len(part_of_library(name).pads) > 3 or "SOT-23" in name]


@pytest.mark.parametrize("name", ONE_HANDED)
def test_a_mirrored_part_would_be_noticed(name: str) -> None:
    assert not same(part_of_ours(name).mirrored()._replace(points=()), part_of_library(name)._replace(points=()))


def test_a_to_92_whose_flat_side_lies_the_other_way_would_be_noticed() -> None:
    # Three pads in line are their own mirror image; the room is not.
    name = recipes.REGULATOR
    assert not same(part_of_ours(name).mapped(lambda x, y: (x, -y), False), part_of_library(name), 50)


# ---------------------------------------------------------------------- headers, sockets, DIN 41612


def sizes(name: str) -> dict[str, dict[str, str]]:
    """The first pad's figures and those of all others."""
    found = {row["pads"]: row for row in rows("connector_pads.csv") if row["footprint"] == name}
    assert set(found) == {"first", "other"}
    return found


def connector_of_library(name: str, letters: str = "", *, positions: str = "") -> Lying:
    """An open footprint with the sizes of its pads: the rows with these letters, or all."""
    figures = sizes(name)
    pads = {}
    for row in rows("header_pads.csv"):
        number = row["pad"]
        if row["footprint"] == (positions or name) and (not letters or number[0] in letters):
            size = figures["first" if number in ("1", "a1") else "other"]
            square = size["shape"] in ("rect", "roundrect")
            measures = (um(size["width_mm"]), um(size["height_mm"]), square, um(size["drill_mm"]))
            pads[number] = Pad(um(row["x_mm"]), um(row["y_mm"]), *measures)
    assert len(pads) == sum(int(size["count"]) for size in figures.values())
    return Lying(pads)


def round_all(lying: Lying) -> Lying:
    return lying._replace(pads={n: pad._replace(square=False) for n, pad in lying.pads.items()})


def built(form: Form, places: int, scheme: Scheme, first: Corner) -> Body:
    letters = ("A", "B") if scheme == "rows" else ()
    return complete(Body(form, (Section(2, places, letters),), scheme, first), customs())


@pytest.mark.parametrize(
    ("form", "places", "name"), [("pin header", 31, HEADER), ("socket header", 31, SOCKET), ("box header", 32, BOX)]
)
@pytest.mark.parametrize("scheme", get_args(Scheme))
@pytest.mark.parametrize("first", CORNERS)
def test_a_header_lies_as_the_open_footprint_whatever_its_labels(
    form: Form, places: int, name: str, scheme: Scheme, first: Corner
) -> None:
    body = built(form, places, scheme, first)
    mine, theirs = ours(connector(body)), connector_of_library(name)
    # Contact 1 has the square pad: pad 1 of the open footprint where the labels begin there.
    assert [number for number, pad in mine.pads.items() if pad.square] == [body.pad_of[body.labels[0]]]
    assert same(round_all(mine), round_all(theirs))
    assert not same(round_all(mine).mirrored(), round_all(theirs))
    assert same(mine, theirs) == (body.pad_of[body.labels[0]] == "1")


@pytest.mark.parametrize(
    ("form", "places", "name"), [("pin header", 31, HEADER), ("socket header", 31, SOCKET), ("box header", 32, BOX)]
)
@pytest.mark.parametrize("first", CORNERS)
def test_the_angle_of_a_header_turns_the_open_footprint_into_ours(
    form: Form, places: int, name: str, first: Corner
) -> None:
    body = built(form, places, "zigzag", first)
    assert body.footprint == name
    check_angles(connector(body), connector_of_library(name))


@pytest.mark.parametrize(("pitch", "millimetres"), [("2.00", 2.0), ("1.27", 1.27)])
def test_a_header_of_another_pitch_has_the_pads_of_its_open_footprint(pitch: str, millimetres: float) -> None:
    figures = sizes(f"Connector_PinHeader_{pitch}mm:PinHeader_2x10_P{pitch}mm_Vertical")
    body = Body("pin header", (Section(2, 10),), "zigzag", pitch_mm=millimetres, row_pitch_mm=millimetres)
    for pad in connector(body).pads:
        theirs = figures["first" if pad.number == "1" else "other"]
        assert (pad.width_um, pad.height_um, pad.drill_um) == tuple(
            um(theirs[key]) for key in ("width_mm", "height_mm", "drill_mm")
        )


def room(name: str) -> tuple[Point, ...]:
    row = next(r for r in rows("connector_rooms.csv") if (r["footprint"], r["what"]) == (name, "room"))
    return both(((um(row["x_mm"]), um(row["y_mm"])), (um(row["x2_mm"]), um(row["y2_mm"]))))


def holes(name: str) -> tuple[Point, ...]:
    found = [r for r in rows("connector_rooms.csv") if (r["footprint"], r["what"]) == (name, "hole")]
    assert [r["drill_mm"] for r in found] == ["2.85", "2.85"]
    return tuple((um(r["x_mm"]), um(r["y_mm"])) for r in found)


def test_a_box_header_has_the_room_of_the_open_footprint() -> None:
    footprint = connector(load_map("oakmere-88").body)
    mine = ours(footprint, *both(corners(footprint.box)))
    assert same(mine, connector_of_library(BOX)._replace(points=room(BOX)), 10)


def din(gender: str, letters: str, first: Corner, name: str) -> Body:
    section = Section(len(letters), 32, tuple(letters))
    pitch = 5.08 if letters in ("ac", "ca") else 2.54
    return Body(
        "din 41612",
        (section,),
        "rows",
        first,
        row_pitch_mm=pitch,
        gender=gender,  # type: ignore[arg-type]
        footprint=name,
    )


TARN = load_map("tarn-rack").body
DINS = [
    (TARN, FEMALE.format(2), "ac"),
    (TARN.mate(), MALE.format(2), "ac"),
    (din("female", "cba", "bottom left", FEMALE.format(3)), FEMALE.format(3), "abc"),
    (din("female", "abc", "top right", FEMALE.format(3)), FEMALE.format(3), "abc"),
    (din("male", "abc", "top left", MALE.format(3)), MALE.format(3), "abc"),
    (din("male", "cba", "bottom right", MALE.format(3)), MALE.format(3), "abc"),
]
DIN_NAMES = [f"{name.split(':')[1]} {body.first}" for body, name, _ in DINS]


@pytest.mark.parametrize(("body", "name", "letters"), DINS, ids=DIN_NAMES)
def test_a_din_41612_connector_has_pads_holes_and_room_of_the_open_footprint(
    body: Body, name: str, letters: str
) -> None:
    assert body.footprint == name
    footprint, drilled = connector(body), mounting_holes(body)
    # The positions of the two-row connectors are those of rows a and c of three.
    theirs = connector_of_library(name, letters, positions=name.replace("_2x32_", "_3x32_"))
    assert same(ours(footprint), theirs)
    assert not same(ours(footprint).mirrored(), theirs)
    assert {hole.drill_um for hole in drilled} == {2850}
    at = tuple((hole.x_um, hole.y_um) for hole in drilled)
    assert same(ours(footprint, *at), theirs._replace(points=holes(name)))
    assert same(ours(footprint, *both(corners(footprint.box))), theirs._replace(points=room(name)), 10)


@pytest.mark.parametrize(("body", "name", "letters"), DINS, ids=DIN_NAMES)
def test_the_angle_of_a_din_41612_connector_turns_the_open_footprint_into_ours(
    body: Body, name: str, letters: str
) -> None:
    theirs = connector_of_library(name, letters, positions=name.replace("_2x32_", "_3x32_"))
    check_angles(connector(body), theirs)


@pytest.mark.parametrize(("body", "name", "letters"), DINS, ids=DIN_NAMES)
def test_the_edge_of_the_board_is_where_the_open_footprint_draws_it(body: Body, name: str, letters: str) -> None:
    found = [r for r in rows("connector_rooms.csv") if (r["footprint"], r["what"]) == (name, "edge")]
    mine = board_edge_um(body)
    assert (mine is None) == (not found) == ("Female" in name)
    for row in found:
        assert mine is not None
        theirs = connector_of_library(name, letters, positions=name.replace("_2x32_", "_3x32_"))
        middle = (um(row["x_mm"]) + um(row["x2_mm"])) // 2
        assert same(ours(connector(body), (0, mine)), theirs._replace(points=((middle, um(row["y_mm"])),)))


# ---------------------------------------------------------------------- fingers


@pytest.mark.parametrize(("name", "count"), [("isa-16bit", 98), ("isa-8bit", 62)])
def test_the_fingers_of_a_card_are_those_of_the_open_footprint_and_not_even_turned(name: str, count: int) -> None:
    body = load_map(name).body.mate()
    footprint = connector(body)
    contacts = rows("isa_edge_pads.csv")[:count]
    start = next(pad.x_um for pad in footprint.pads if pad.function == "A1")
    face = {"F.Cu": "front", "B.Cu": "back"}
    assert {(p.number, p.function, p.layer, p.x_um - start) for p in footprint.pads} == {
        (row["pad"], row["contact"], face[row["face"]], um(row["x_mm"])) for row in contacts
    }
    assert start == max(pad.x_um for pad in footprint.pads)  # contact 1 at the right, the edge below
    figures = sizes(FINGERS)
    assert figures["first"] | {"pads": "", "count": ""} == figures["other"] | {"pads": "", "count": ""}
    size = (um(figures["other"]["width_mm"]), um(figures["other"]["height_mm"]), um(figures["other"]["drill_mm"]))
    assert {(p.width_um, p.height_um, p.drill_um) for p in footprint.pads} == {size}
    assert {(p.y_um, p.finger, p.shape) for p in footprint.pads} == {(0, True, "rect")}


def test_the_angle_of_a_cards_fingers_turns_the_open_footprint_into_ours() -> None:
    footprint = connector(load_map("isa-16bit").body.mate())
    assert (footprint.name, library_angle(footprint)) == (FINGERS, 0)
    pads = {row["pad"]: Pad(um(row["x_mm"]), 0, 0, 0, True, 0) for row in rows("isa_edge_pads.csv")}
    assert len(pads) == 98
    check_angles(footprint, Lying(pads))


def test_the_edge_of_a_card_is_where_the_open_footprint_draws_it() -> None:
    edges = {r["y_mm"] for r in rows("connector_rooms.csv") if (r["footprint"], r["what"]) == (FINGERS, "edge")}
    body = load_map("isa-16bit").body.mate()
    assert {board_edge_um(body)} == {um(edge) for edge in edges}
    assert board_edge_um(body) == connector(body).box[3]


def test_the_slots_own_contacts_taken_for_fingers_would_be_noticed() -> None:
    slot = load_map("isa-8bit").body
    pads = connector(slot).pads
    start = next(pad.x_um for pad in pads if pad.function == "A1")
    theirs = {row["contact"]: um(row["x_mm"]) for row in rows("isa_edge_pads.csv")[:62]}
    assert {pad.function: start - pad.x_um for pad in pads} == theirs  # the mirror image
