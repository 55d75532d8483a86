"""Boards as they are made: what touches in copper is the plan, and no rule of the fab is broken."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from built import pair
from conftest import CommandLine
from handmade import in_a_row, pin_map
from msgspec.structs import replace
from prove_boards import problems
from random_adapters import random_adapter

from pinmap import api
from pinmap.adapter import Adapter
from pinmap.board.layout import Layout
from pinmap.board.lettering import extent
from pinmap.board.making import Board, board
from pinmap.body import Body, Section
from pinmap.design import BoardDesign, Build, Design
from pinmap.errors import PinmapError
from pinmap.forms import complete
from pinmap.library import customs
from pinmap.planner import plan

DEMOS = ("brindle-riser", "oakmere-riser", "tarn-riser")


@cache
def demo(name: str) -> Board:
    return board(api.adapt(name))


def wished(adapter: Adapter, **wishes: Any) -> Adapter:
    """The adapter with a board as wished."""
    design = adapter.design or Design("t", "h", "c", "h", "c")
    return replace(adapter, design=replace(design, board=BoardDesign(**wishes)))


# ---------------------------------------------------------------------- the proof


@pytest.mark.parametrize("name", DEMOS)
def test_the_board_of_each_demo_is_the_plan_and_breaks_no_rule(name: str) -> None:
    assert problems(demo(name)) == []


@pytest.mark.parametrize("seed", range(8))
def test_the_board_of_any_adapter_is_the_plan_and_breaks_no_rule(seed: int) -> None:
    assert problems(board(random_adapter(seed), effort=1)) == []


@pytest.mark.parametrize("name", DEMOS)
def test_the_audit_finds_board_and_schematic_as_planned(name: str, tmp_path: Path) -> None:
    made = demo(name)
    for path in api.write_board(made, tmp_path):
        if path.suffix.startswith(".kicad"):
            result = api.audit_drawing(path, made.adapter)
            assert result.verdict == "as planned"
            assert [f.message for f in result.findings if f.grade != "note"] == []


@pytest.mark.parametrize("name", DEMOS)
def test_nothing_is_printed_over_a_pad(name: str) -> None:
    layout = demo(name).layout
    for text in layout.texts:
        left, top, right, bottom = extent(text)
        for pad in layout.pads:
            if text.layer in pad.layers:
                apart = (
                    pad.x_um + pad.width_um // 2 <= left
                    or right <= pad.x_um - pad.width_um // 2
                    or pad.y_um + pad.height_um // 2 <= top
                    or bottom <= pad.y_um - pad.height_um // 2
                )
                assert apart, (text, pad)


@pytest.mark.parametrize("name", DEMOS)
def test_title_sides_rails_and_every_part_are_named_in_print(name: str) -> None:
    layout = demo(name).layout
    words = [text.text for text in layout.texts]
    assert layout.title in words
    assert {"component side", "solder side"} <= set(words)
    assert {part.ref for part in layout.parts} <= set(words)
    supplies = {pad.net.split()[0] for pad in layout.pads if layout.groups.get(pad.net) == "supply" and pad.ref == "J2"}
    assert supplies <= set(words)


def test_the_same_plan_gives_the_same_bytes() -> None:
    one, other = (api.render_board(board(api.adapt("oakmere-riser"))) for _ in range(2))
    assert one == other


# ---------------------------------------------------------------------- how the card stands


def layout_of(adapter: Adapter, **wishes: Any) -> Layout:
    return board(wished(adapter, **wishes), effort=1).layout


def at(layout: Layout, ref: str, label: str) -> tuple[int, int]:
    return next((pad.x_um, pad.y_um) for pad in layout.pads if (pad.ref, pad.function) == (ref, label))


@pytest.mark.parametrize("card", ["front", "back"])
@pytest.mark.parametrize("bracket", ["left", "right"])
def test_the_bracket_is_where_the_file_says_and_the_words_say_so(card: str, bracket: str) -> None:
    made = board(wished(pair("oakmere-88", "isa-8bit"), card=card, bracket=bracket), effort=1)
    first, last = at(made.layout, "J2", "A1"), at(made.layout, "J2", "A31")
    assert (first[0] < last[0]) == (bracket == "left")
    assert f"Contact A1 of the card's connector lies at the {bracket}, seen from the front" in made.words[1]
    row_b = at(made.layout, "J2", "B1")
    edge = "upper edge" if first[1] < row_b[1] else "lower edge"
    assert f"The card's component side looks to the {edge}." in made.words[0]
    # Seen from the side that it is on, a slot with contact 1 at the left has row A above, as the library has it.
    seen_left = (bracket == "left") == (card == "front")
    assert (edge == "upper edge") == seen_left


def test_a_card_that_would_be_mirrored_is_refused_with_what_can_be() -> None:
    adapter = pair("oakmere-88", "isa-8bit")
    with pytest.raises(PinmapError) as caught:
        board(wished(adapter, bracket="left", facing="lower edge"))
    assert str(caught.value) == (
        "a card must not be mirrored: with its bracket at the left its component side cannot look to the lower edge. "
        "What can be, with the card's connector on the front: bracket: left with component side: upper edge or "
        "bracket: right with component side: lower edge"
    )


@pytest.mark.parametrize(("card", "bracket", "facing"), [("front", "right", "front"), ("front", "left", "back")])
def test_on_a_straight_riser_the_component_side_looks_to_a_side_of_the_board(
    card: str, bracket: str, facing: str
) -> None:
    made = board(wished(api.adapt("brindle-riser"), form="straight riser", card=card, bracket=bracket), effort=1)
    assert f"The card's component side looks to the {facing}." in made.words[0]


# ---------------------------------------------------------------------- how the board meets the machine


def pads_of(layout: Layout, ref: str) -> dict[str, tuple[int, int]]:
    return {pad.number: (pad.x_um, pad.y_um) for pad in layout.pads if pad.ref == ref}


def hand(pads: dict[str, tuple[int, int]]) -> int:
    """1 where pad 2 lies to the right of the way from pad 1 to pad 3, as seen: that of a socket; −1: of pins.

    Open KiCad footprint library 6.0.11: PinSocket_2x has pad 2 at −2.54 mm and pad 3 below pad 1, PinHeader_2x and
    IDC-Header_2x have pad 2 at +2.54 mm.
    """
    (x, y), (u, v), (s, t) = pads["1"], pads["2"], pads["3"]
    turn = (s - x) * (v - y) - (t - y) * (u - x)
    return (turn > 0) - (turn < 0)


def test_at_the_end_of_a_ribbon_stands_a_header_like_the_machines_own() -> None:
    made = demo("oakmere-riser")
    assert hand(pads_of(made.layout, "J1")) == -1
    assert next(p.footprint for p in made.layout.parts if p.ref == "J1").endswith("IDC-Header_2x32_P2.54mm_Vertical")
    assert (
        "J1 is a box header like the machine's own, on the front: a ribbon with a socket at both ends joins the two, "
        "pad 1 with pad 1."
    ) in made.words


def test_plugged_onto_the_machine_stands_a_socket_on_the_side_away_from_the_card() -> None:
    made = board(wished(pair("oakmere-88", "isa-8bit")), effort=1)
    assert "J1, a socket header on the back, is plugged onto the machine's connector." in made.words
    pads = pads_of(made.layout, "J1")
    assert hand({number: (-x, y) for number, (x, y) in pads.items()}) == 1  # seen from the back
    same = board(wished(pair("oakmere-88", "isa-8bit"), host="front"), effort=1)
    assert hand(pads_of(same.layout, "J1")) == 1
    assert any("J2 is on the same side: the card points towards the machine" in word for word in same.words)


def test_a_map_that_says_a_header_for_its_mate_gets_the_pads_of_a_header() -> None:
    adapter = pair("oakmere-88", "isa-8bit")
    body = replace(adapter.host.body, mate_footprint="Connector_IDC:IDC-Header_2x32_P2.54mm_Vertical")
    made = board(wished(replace(adapter, host=replace(adapter.host, body=body)), host="front"), effort=1)
    assert hand(pads_of(made.layout, "J1")) == -1
    assert "J1 is a pin header like the machine's own" in "".join(made.words)


@pytest.mark.parametrize(
    ("name", "form", "said"),
    [
        ("brindle-riser", "flat", "a board with edge fingers stands in the machine's connector and does not lie flat"),
        ("tarn-riser", "flat", "a board with din 41612 stands in the machine's connector and does not lie flat"),
    ],
)
def test_a_form_that_the_connector_does_not_allow_is_refused(name: str, form: str, said: str) -> None:
    with pytest.raises(PinmapError, match=said):
        board(wished(api.adapt(name), form=form), effort=1)
    with pytest.raises(PinmapError, match="a board with a socket header is plugged onto the machine's connector"):
        board(wished(pair("oakmere-88", "isa-8bit"), form="straight riser"), effort=1)


def test_fingers_as_thick_as_no_card_are_refused() -> None:
    with pytest.raises(PinmapError, match=r"a board with fingers must be as thick as a card.*not 3\.2 mm"):
        board(wished(api.adapt("brindle-riser"), form="straight riser", thickness_um=3200), effort=1)


def test_what_a_capacitor_serves_stands_beside_it() -> None:
    spots = {part.ref: part for part in demo("tarn-riser").layout.parts}
    for capacitor, served in (("C3", "U1"), ("C4", "U1"), ("C9", "Y1")):
        one, other = spots[capacitor], spots[served]
        gap = max(one.box[0] - other.box[2], other.box[0] - one.box[2])
        assert gap < 8_000, (capacitor, gap)


@pytest.mark.parametrize("name", DEMOS)
def test_no_part_stands_at_the_brackets_end(name: str) -> None:
    made = demo(name)
    layout = made.layout
    first, last = at(layout, "J2", "A1")[0], at(layout, "J2", "A31")[0]
    for part in layout.parts:
        if not part.connector:
            assert part.box[2] < first if last < first else first < part.box[0], part.ref
    assert any(word.startswith("At the bracket's end the board goes ") for word in made.standing)


def test_fingers_of_two_sections_have_a_notch_between_them_for_the_slots_wall() -> None:
    made = board(wished(pair("isa-16bit", "isa-16bit"), form="right-angle riser"), effort=1)
    layout = made.layout
    tip = max(y for _, y in layout.outline)
    corners = sorted(x for x, y in layout.outline if y == tip)
    assert len(corners) == 4
    fingers = [pad for pad in layout.pads if pad.finger]
    for pad in fingers:
        inside = [
            (a, b) for a, b in (corners[:2], corners[2:]) if a + 500 <= pad.x_um - 890 and pad.x_um + 890 <= b - 500
        ]
        assert len(inside) == 1
    assert problems(made) == []


def test_a_tongue_is_longer_than_its_fingers() -> None:
    layout = demo("brindle-riser").layout
    tip = max(y for _, y in layout.outline)
    shoulder = sorted({y for _, y in layout.outline})[-2]
    assert shoulder + 1000 < min(pad.y_um - pad.height_um // 2 for pad in layout.pads if pad.finger) < tip


def test_a_straight_riser_wants_a_connector_that_lies_down_and_the_parts_list_says_so() -> None:
    rows = api.render_board(demo("tarn-riser"))["parts.csv"].decode().splitlines()
    assert sum("a right-angle one, which lies down with its mouth at the board's edge" in row for row in rows) == 1
    assert not any(
        "right-angle one" in row for row in api.render_board(demo("oakmere-riser"))["parts.csv"].decode().splitlines()
    )


def test_without_cards_in_the_file_the_current_is_not_known_and_what_fits_is_said() -> None:
    adapter = api.adapt("oakmere-riser")
    assert adapter.design
    made = board(replace(adapter, design=replace(adapter.design, cards=())), effort=1)
    assert any(word.startswith("+5V: 1.67 A, which is all that fits; what flows is not known") for word in made.words)
    assert made.layout.rules.supply_um["+5V"] == 1000


def test_what_the_tracks_take_of_a_rail_is_said_from_the_machine_to_the_card() -> None:
    said = [word for word in demo("oakmere-riser").supplies if "mΩ in its way" in word]
    assert [word.split(":")[0] for word in said] == ["+5V", "+12V", "-12V"]
    milliohms = float(said[0].split("put ")[1].split(" mΩ")[0])
    # Two pieces of track of 0.6 mm on 35 µm: 0.82 mΩ a mm, so between 20 and 200 mm of way in all.
    assert 0.82 * 20 < milliohms < 0.82 * 200
    assert said[0].endswith(f"{milliohms * 0.7:.0f} mV at 700 mA")


def test_the_width_that_the_file_wishes_for_supplies_is_taken_as_far_as_it_fits() -> None:
    made = demo("tarn-riser")
    assert made.layout.rules.supply_um["+5V"] == 1000
    assert any("the file wishes 3 mm; between two columns 1 mm is the most" in word for word in made.supplies)


@pytest.mark.parametrize("wishes", [{"gap_um": 1200}, {"gap_um": 800}, {"track_um": 3000}, {"via_um": 2000}])
def test_rules_that_leave_no_room_between_two_columns_are_refused(wishes: dict[str, int]) -> None:
    with pytest.raises(PinmapError, match=r"between two columns, 1\.27 mm apart, there must be room for vias"):
        board(wished(pair("oakmere-88", "isa-8bit"), **wishes), effort=1)


# ---------------------------------------------------------------------- what cannot be made


def two_rows(places: int, pitch_mm: float = 2.54, rows: int = 2) -> Body:
    body = Body("box header" if rows == 2 else "pin header", (Section(rows, places),), "serial", "top left", pitch_mm)
    return complete(body, customs())


def between(host: Body, card: Body) -> Adapter:
    lines = in_a_row(["GND", "+5V", "SD0", "SD1", "SD2", "IOR*"])
    return plan(pin_map(lines, host, end="host"), pin_map(lines, card, end="card"))


@pytest.mark.parametrize(
    ("wishes", "said"),
    [
        ({"width_um": 60_000}, "the board must fit into the width and height of the file; it gets wide"),
        ({"height_um": 20_000}, "the board must fit into the width and height of the file; it gets high"),
        ({"track_um": 500}, "leave no room to lead pad"),
    ],
)
def test_what_does_not_fit_is_named_with_what_would(wishes: dict[str, int], said: str) -> None:
    with pytest.raises(PinmapError) as caught:
        board(wished(pair("oakmere-88", "isa-8bit"), **wishes), effort=1)
    assert said in str(caught.value)
    assert caught.value.advice


def test_an_outline_that_is_too_small_is_told_how_much_is_missing() -> None:
    with pytest.raises(PinmapError, match=r"gets wide 9\d\.\d mm, 3\d\.\d mm more than 60 mm"):
        board(wished(pair("oakmere-88", "isa-8bit"), width_um=60_000), effort=1)


def test_connectors_of_more_than_two_rows_or_too_fine_a_pitch_are_refused() -> None:
    with pytest.raises(PinmapError, match=r"the pads of J1 must lie in one or two rows.* they lie in 4"):
        board(between(two_rows(5, rows=4), two_rows(5)))
    with pytest.raises(PinmapError, match=r"the pads of J1 must be 2\.54 mm apart or more.* they are 2 mm apart"):
        board(between(two_rows(5, 2.0), two_rows(5)))


def test_a_supply_that_no_track_carries_is_refused_with_what_helps() -> None:
    adapter = api.adapt("oakmere-riser")
    assert adapter.budget
    heavy = tuple(
        replace(line, draws=tuple(replace(d, amps=d.amps * 6) for d in line.draws)) if line.rail == "+5V" else line
        for line in adapter.budget.supplies
    )
    with pytest.raises(PinmapError) as caught:
        board(replace(adapter, budget=replace(adapter.budget, supplies=heavy)))
    assert "no track and via in the room between two columns may carry more than" in str(caught.value)
    assert "+5V carries 4.2 A" in str(caught.value)


def test_thicker_copper_takes_narrower_tracks() -> None:
    adapter = api.adapt("oakmere-riser")
    assert adapter.design
    build = Build("printed board", 60.0, copper_um=70.0)
    thick = replace(adapter, design=replace(adapter.design, build=build))
    assert board(thick, effort=1).layout.rules.copper_um == 70


def test_a_plan_that_must_not_be_built_gets_no_board(pinmap: CommandLine) -> None:
    ran = pinmap("board", "brindle-portable", "isa-8bit", "--out", "b")
    assert ran.status == 2
    assert "a board can only be made of a plan that says build, this one says do not build" in ran.err
    assert pinmap.left() == []


# ---------------------------------------------------------------------- the command

FILES = [
    "adapter-back.svg",
    "adapter-copper-back.gbr",
    "adapter-copper-front.gbr",
    "adapter-drill-plated.drl",
    "adapter-fab-note.txt",
    "adapter-fab.zip",
    "adapter-front.svg",
    "adapter-mask-back.gbr",
    "adapter-mask-front.gbr",
    "adapter-netlist.ipc",
    "adapter-outline.gbr",
    "adapter-placement.csv",
    "adapter-silk-back.gbr",
    "adapter-silk-front.gbr",
    "adapter.gbrjob",
    "adapter.kicad_pcb",
    "adapter.kicad_sch",
    "board.md",
    "parts.csv",
]


def test_the_command_writes_the_whole_set_and_says_what_it_made(pinmap: CommandLine) -> None:
    ran = pinmap("board", "oakmere-riser", "--out", "b", "--json")
    assert ran.status == 0
    got = json.loads(ran.out)
    assert sorted(Path(name).name for name in got["files"]) == FILES
    assert list(got) == [
        *("format", "title", "plan_verdict", "width_mm", "height_mm", "nets", "tracks", "density", "straight"),
        *("words", "files"),
    ]
    assert got["tracks"] >= got["density"] > 0


def test_without_a_folder_nothing_is_written(pinmap: CommandLine) -> None:
    ran = pinmap("board", "oakmere-riser")
    assert ran.status == 0
    assert ran.out.startswith("routed: ")
    assert pinmap.left() == []
