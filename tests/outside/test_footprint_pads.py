"""Where pinmap puts the pads, against the pads of the open footprints.

Source: open KiCad footprint library 6.0.11 (CC-BY-SA 4.0 with design exception), pad numbers and positions, in
`data/header_pads.csv` (2x31 pin header and socket, 2x32 box header, DIN 41612 type C) and `data/isa_edge_pads.csv`
(the 98 fingers of BUS_AT with their faces).

A footprint lies on the board turned and shifted as the board wants, but never mirrored: a mirrored one takes no real
connector, or joins every contact to its neighbour across. So the two must be equal up to quarter turns and a shift.
A header is seen from its mating face when it is seen from the component side, and so are its footprint's pads.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from pathlib import Path
from typing import get_args

import pytest
from msgspec.structs import replace

from pinmap import load_map
from pinmap.audit.drawn import Drawn, DrawnPart, PadSpot
from pinmap.audit.footprint import Lie, lie
from pinmap.body import CORNERS, Body, Corner, Form, Numbering, Scheme, Section
from pinmap.forms import complete
from pinmap.library import customs, read

DATA = Path(__file__).parent / "data"
#: Pads by number: x to the right, y downwards, in 10 µm.
Pads = dict[str, tuple[int, int]]

HEADER = "Connector_PinHeader_2.54mm:PinHeader_2x31_P2.54mm_Vertical"
SOCKET = "Connector_PinSocket_2.54mm:PinSocket_2x31_P2.54mm_Vertical"
BOX = "Connector_IDC:IDC-Header_2x32_P2.54mm_Vertical"
# The three-row body: a 2x32 connector of type C has its rows a and c, and row b empty.
FEMALE = "Connector_DIN:DIN41612_C_3x32_Female_Vertical_THT"
MALE = "Connector_DIN:DIN41612_C_3x32_Male_Horizontal_THT"


def rows(file: str) -> list[dict[str, str]]:
    lines = (DATA / file).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def shifted(pads: Iterable[tuple[str, float, float]]) -> Pads:
    """With the leftmost pad at x = 0 and the topmost at y = 0."""
    all_ = [(pad, round(x * 100), round(y * 100)) for pad, x, y in pads]
    left, top = min(x for _, x, _ in all_), min(y for _, _, y in all_)
    return {pad: (x - left, y - top) for pad, x, y in all_}


def turned(pads: Pads) -> Pads:
    return shifted((pad, -y / 100, x / 100) for pad, (x, y) in pads.items())


def mirrored(pads: Pads) -> Pads:
    return shifted((pad, -x / 100, y / 100) for pad, (x, y) in pads.items())


def same(ours: Pads, theirs: Pads) -> bool:
    """Whether the two are equal up to quarter turns and a shift."""
    for _ in range(4):
        if ours == theirs:
            return True
        ours = turned(ours)
    return False


def footprint(name: str, letters: str = "") -> Pads:
    """The pads of an open footprint, of the rows with these letters only."""
    pads = [(r["pad"], float(r["x_mm"]), float(r["y_mm"])) for r in rows("header_pads.csv") if r["footprint"] == name]
    return shifted(p for p in pads if not letters or p[0][0] in letters)


def pads_of(body: Body) -> Pads:
    """The pads that pinmap gives a body, where it puts them."""
    return shifted((body.pad_of[label], spot.x_mm, spot.y_mm) for label, spot in body.spots.items())


def built(form: Form, places: int, scheme: Scheme, first: Corner) -> Body:
    """A two-row body as a user may describe it, completed with what is customary for its form."""
    letters = ("A", "B") if scheme == "rows" else ()
    return complete(Body(form, (Section(2, places, letters),), scheme, first), customs())


@pytest.mark.parametrize(("name", "pads"), [(HEADER, 62), (SOCKET, 62), (BOX, 64), (FEMALE, 96), (MALE, 96)])
def test_the_copied_figures_are_whole_and_each_differs_from_its_mirror_image(name: str, pads: int) -> None:
    found = footprint(name)
    assert len(found) == len(set(found.values())) == pads
    assert not same(mirrored(found), found)


# ---------------------------------------------------------------------- headers and sockets

PLAIN = [("pin header", 31, HEADER), ("socket header", 31, SOCKET), ("box header", 32, BOX)]


@pytest.mark.parametrize(("form", "places", "name"), PLAIN)
@pytest.mark.parametrize("scheme", get_args(Scheme))
@pytest.mark.parametrize("first", CORNERS)
def test_the_pads_are_the_footprints_whatever_the_labels(
    form: Form, places: int, name: str, scheme: Scheme, first: Corner
) -> None:
    body = built(form, places, scheme, first)
    assert body.footprint == name
    assert same(pads_of(body), footprint(name))


@pytest.mark.parametrize(("form", "places"), [("pin header", 31), ("socket header", 31)])
@pytest.mark.parametrize("scheme", get_args(Scheme))
@pytest.mark.parametrize("first", CORNERS)
def test_the_mates_pads_are_those_of_the_mates_footprint(
    form: Form, places: int, scheme: Scheme, first: Corner
) -> None:
    mate = built(form, places, scheme, first).mate()
    assert mate.footprint == {"pin header": SOCKET, "socket header": HEADER}[form]
    assert same(pads_of(mate), footprint(mate.footprint))


def test_the_box_header_of_the_demo_has_the_footprints_pads() -> None:
    body = load_map("oakmere-88").body
    assert body.footprint == BOX
    assert same(pads_of(body), footprint(BOX))
    assert body.pad_of == {label: label for label in body.labels}


def test_the_socket_on_the_demos_box_header_is_numbered_like_the_open_socket() -> None:
    # The library's 2x31 socket, and one more pair in line.
    mate = load_map("oakmere-88").body.mate()
    ours = {pad: at for pad, at in pads_of(mate).items() if int(pad) <= 62}
    assert same(shifted((pad, x / 100, y / 100) for pad, (x, y) in ours.items()), footprint(SOCKET))


def test_numbers_mate_and_drawings_mirror() -> None:
    header, socket = built("pin header", 31, "zigzag", "bottom left"), built("socket header", 31, "zigzag", "top left")
    assert same(mirrored(footprint(HEADER)), footprint(SOCKET))
    assert not same(footprint(HEADER), footprint(SOCKET))
    for one, other in ((header, socket), (header, header.mate()), (socket.mate(), socket)):
        assert one.pad_of == other.pad_of == {str(n): str(n) for n in range(1, 63)}
        assert same(mirrored(pads_of(one)), pads_of(other))
        assert not same(pads_of(one), pads_of(other))


@pytest.mark.parametrize(
    ("form", "first"), [("pin header", "top left"), ("box header", "bottom right"), ("socket header", "bottom left")]
)
def test_a_map_numbered_against_the_custom_gets_the_neighbours_pad_and_not_a_mirrored_footprint(
    form: Form, first: Corner
) -> None:
    body = built(form, 32, "zigzag", first)
    assert body.pad_of == {str(n): str(n + 1 if n % 2 else n - 1) for n in range(1, 65)}


@pytest.mark.parametrize(
    ("form", "places", "footprint"),
    [
        ("box header", 30, "Connector_IDC:IDC-Header_2x30_P2.54mm_Vertical"),
        ("box header", 31, "pinmap:BoxHeader_2x31_P2.54mm"),
        ("box header", 32, BOX),
        ("pin header", 40, "Connector_PinHeader_2.54mm:PinHeader_2x40_P2.54mm_Vertical"),
        ("pin header", 41, "pinmap:PinHeader_2x41_P2.54mm"),
    ],
)
def test_a_size_that_the_open_library_lacks_gets_a_footprint_of_our_own(
    form: Form, places: int, footprint: str
) -> None:
    # KiCad footprint library 6.0.11: box headers 2x30 and 2x32 but no 2x31; pin headers up to 2x40.
    assert built(form, places, "zigzag", "bottom left").footprint == footprint


@pytest.mark.parametrize(("form", "places", "name"), PLAIN)
@pytest.mark.parametrize("first", CORNERS)
def test_a_mirrored_numbering_would_be_noticed(form: Form, places: int, name: str, first: Corner) -> None:
    body = built(form, places, "zigzag", first)
    assert body.pads is not None
    other_row: dict[Corner, Corner] = {
        "top left": "bottom left",
        "top right": "bottom right",
        "bottom left": "top left",
        "bottom right": "top right",
    }
    bad = replace(body, pads=Numbering("zigzag", other_row[body.pads.first]))
    assert not same(pads_of(bad), footprint(name))
    assert same(mirrored(pads_of(bad)), footprint(name))


# ---------------------------------------------------------------------- DIN 41612


def test_the_backplane_connector_of_the_demo_has_the_pads_of_rows_a_and_c() -> None:
    body = load_map("tarn-rack").body
    assert (body.form, body.gender) == ("din 41612", "female")
    assert same(pads_of(body), footprint(FEMALE, "ac"))


def test_what_plugs_into_it_has_the_pads_of_the_male_connector() -> None:
    mate = load_map("tarn-rack").body.mate()
    assert (mate.form, mate.gender) == ("din 41612", "male")
    assert same(pads_of(mate), footprint(MALE, "ac"))


def din(gender: str, letters: str, first: Corner) -> Body:
    section = Section(len(letters), 32, tuple(letters))
    return complete(Body("din 41612", (section,), "rows", first, gender=gender), customs())  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("gender", "letters", "first", "name"),
    [
        ("female", "cba", "bottom left", FEMALE),
        ("female", "abc", "top right", FEMALE),
        ("male", "abc", "top left", MALE),
        ("male", "cba", "bottom right", MALE),
    ],
)
def test_a_three_row_connector_has_the_pads_of_all_three_rows(
    gender: str, letters: str, first: Corner, name: str
) -> None:
    body = din(gender, letters, first)
    assert same(pads_of(body), footprint(name))
    assert same(pads_of(body.mate()), footprint(FEMALE if name == MALE else MALE))


@pytest.mark.parametrize(
    ("gender", "letters", "first", "name"),
    [("female", "abc", "top left", FEMALE), ("male", "cba", "bottom left", MALE)],
)
def test_a_backplane_connector_drawn_from_its_back_would_be_noticed(
    gender: str, letters: str, first: Corner, name: str
) -> None:
    body = din(gender, letters, first)
    assert not same(pads_of(body), footprint(name))
    assert same(mirrored(pads_of(body)), footprint(name))


# ---------------------------------------------------------------------- the 98 fingers

ROW_PITCH_MM = 5.08  # of the slot, from memory; between two faces of a card any distance does


def fingers() -> list[tuple[str, str, str, float]]:
    """Pad, contact, face and x of the 98 fingers, seen from the component side with the fingers down."""
    return [(r["pad"], r["contact"], r["face"], float(r["x_mm"])) for r in rows("isa_edge_pads.csv")]


def edge_on(places: Iterable[tuple[str, str, float]]) -> Pads:
    """The fingers seen from their mating face: the edge towards the eye, the component side (F.Cu) up."""
    return shifted((pad, x, 0.0 if face == "F.Cu" else ROW_PITCH_MM) for pad, face, x in places)


def card_edge(name: str) -> Body:
    pin_map = read(name).map
    assert pin_map is not None
    return pin_map.body.mate()


def test_the_copied_fingers_are_whole() -> None:
    pads = [pad for pad, *_ in fingers()]
    assert pads == [str(n) for n in range(1, 99)]
    assert len({(face, x) for _, _, face, x in fingers()}) == 98


@pytest.mark.parametrize(("name", "count"), [("isa-16bit", 98), ("isa-8bit", 62)])
def test_the_fingers_of_a_card_lie_as_in_the_open_footprint(name: str, count: int) -> None:
    # The 8-bit card's fingers are the first 62 of them.
    mate = card_edge(name)
    assert mate.form == "edge fingers"
    theirs = edge_on((pad, face, x) for pad, _, face, x in fingers() if int(pad) <= count)
    assert pads_of(mate) == theirs  # not even turned
    assert not same(mirrored(pads_of(mate)), theirs)


@pytest.mark.parametrize(("name", "count"), [("isa-16bit", 98), ("isa-8bit", 62)])
def test_a_finger_has_the_number_and_the_face_of_its_contact(name: str, count: int) -> None:
    mate = card_edge(name)
    assert mate.pad_of == {contact: pad for pad, contact, *_ in fingers() if int(pad) <= count}
    faces = {label: ("F.Cu", "B.Cu")[spot.row] for label, spot in mate.spots.items()}
    assert faces == {contact: face for pad, contact, face, _ in fingers() if int(pad) <= count}


def test_only_the_fingers_of_the_16_bit_card_claim_the_open_footprint() -> None:
    assert card_edge("isa-16bit").footprint == "Connector_PCBEdge:BUS_AT"
    assert card_edge("isa-8bit").footprint == "pinmap:ISA_Fingers_62"


@pytest.mark.parametrize("name", ["isa-16bit", "isa-8bit"])
def test_contact_1_of_a_card_is_at_the_right_and_of_the_slot_at_the_left(name: str) -> None:
    mate, slot = card_edge(name), card_edge(name).mate()
    assert mate.spots["A1"].x_mm - mate.spots["A31"].x_mm == pytest.approx(76.2)
    assert slot.spots["A31"].x_mm - slot.spots["A1"].x_mm == pytest.approx(76.2)
    assert same(mirrored(pads_of(replace(slot, pads=None))), pads_of(replace(mate, pads=None)))


def test_the_slots_own_drawing_taken_for_the_cards_would_be_noticed() -> None:
    mate = card_edge("isa-16bit")
    slot = mate.mate()
    assert mate.pads is not None
    bad = replace(slot, pads=Numbering("serial", "bottom left"))
    theirs = edge_on((pad, face, x) for pad, _, face, x in fingers())
    assert set(pads_of(bad)) == set(theirs)
    assert not same(pads_of(bad), theirs)
    assert same(mirrored(pads_of(bad)), theirs)


@pytest.mark.parametrize(
    ("name", "body"),
    [
        (HEADER, built("pin header", 31, "zigzag", "bottom left")),
        (SOCKET, built("socket header", 31, "zigzag", "top left")),
        (BOX, built("box header", 32, "zigzag", "bottom left")),
    ],
    ids=["header", "socket", "box"],
)
def test_an_audit_finds_the_open_footprint_right_and_its_mate_mirrored(name: str, body: Body) -> None:
    at = {r["pad"]: (float(r["x_mm"]), float(r["y_mm"])) for r in rows("header_pads.csv") if r["footprint"] == name}
    labels = {pad: label for label, pad in body.pad_of.items()}
    for sign, told in ((1, None), (-1, Lie(mirrored=True))):
        part = DrawnPart("J1", spots={pad: PadSpot(sign * x, y, "both") for pad, (x, y) in at.items()})
        assert lie(body, labels, part, Drawn("b", "board", {"J1": part}, ())) == told


def test_an_audit_finds_the_open_footprint_of_the_fingers_right() -> None:
    body = load_map("isa-16bit").body.mate()
    label_of = {r["pad"]: r["contact"] for r in rows("isa_edge_pads.csv")}
    spots = {
        r["pad"]: PadSpot(float(r["x_mm"]), 0.0, "front" if r["face"] == "F.Cu" else "back")
        for r in rows("isa_edge_pads.csv")
    }
    fingers = DrawnPart("J1", spots=spots)
    for above, told in ((-50.0, None), (50.0, Lie(mirrored=True))):  # the rest of the board, above the fingers or below
        rest = DrawnPart("R1", spots={"1": PadSpot(-40.0, above, "both")})
        assert lie(body, label_of, fingers, Drawn("b", "board", {"J1": fingers, "R1": rest}, ())) == told
