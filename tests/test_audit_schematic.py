"""Schematics read as drawings: what touches what, through wires, labels, units and sheets. The files are hand-made."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawings import VERSIONS, drawing
from handmade import POWER, header, pin_map

from pinmap.adapter import Adapter
from pinmap.audit import schematic
from pinmap.audit.drawn import Drawn, Node
from pinmap.audit.judging import audit
from pinmap.audit.reading import read
from pinmap.audit.source import parsed
from pinmap.errors import PinmapError, UnreadableError
from pinmap.planner import plan

DATA = Path(__file__).parent / "data" / "drawings"


def small() -> Adapter:
    """Two headers of six pins: GND, +5V, three lines, and one pin left open."""
    carried = {**POWER, "3": "SD0", "4": "SD1", "5": "SD2"}
    return plan(pin_map(carried, header(3)), pin_map(carried, header(3), end="card", name="card"))


def nets(drawn: Drawn) -> dict[frozenset[Node], str]:
    return {net.nodes: net.name for net in drawn.nets}


def joined(drawn: Drawn) -> set[frozenset[Node]]:
    return {net.nodes for net in drawn.nets if len(net.nodes) > 1}


def nodes(*words: str) -> frozenset[Node]:
    return frozenset((word.split()[0], word.split()[1]) for word in words)


def sheet(*elements: str, version: int | str = 20231120, symbols: str = "") -> str:
    """A schematic with one-pin parts P to place, and whatever else."""
    return (
        f'(kicad_sch (version {version}) (generator "hand") (uuid "root") (lib_symbols {symbols}'
        '(symbol "One" (symbol "One_1_1" (pin passive line (at 0 0 0) (length 0) (name "") (number "1")))))\n'
        + "\n".join(elements)
        + "\n)\n"
    )


def one(ref: str, x: float, y: float, extra: str = "") -> str:
    return (
        f'(symbol (lib_id "One") (at {x} {y} 0) (unit 1) (uuid "{ref}") (property "Reference" "{ref}" (at 0 0 0)) '
        f'(property "Value" "v" (at 0 0 0)) {extra})'
    )


def wire(*points: tuple[float, float]) -> str:
    return f"(wire (pts {' '.join(f'(xy {x} {y})' for x, y in points)}))"


def of(tmp_path: Path, text: str) -> Drawn:
    path = tmp_path / "drawn.kicad_sch"
    path.write_text(text, encoding="utf-8")
    return read(path)


def refusal(tmp_path: Path, text: str, name: str = "drawn.kicad_sch") -> str:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    with pytest.raises(PinmapError) as caught:
        read(path)
    return str(caught.value).replace(str(tmp_path) + "/", "")


# ------------------------------------------------------------------ hand-made files


def test_a_hand_made_schematic_is_read_through_wires_junctions_and_labels() -> None:
    drawn = read(DATA / "wired.kicad_sch")
    assert nets(drawn) == {
        nodes("J1 1", "J2 1"): "GND",
        nodes("J1 2", "J2 2"): "",
        nodes("J1 3", "J2 3"): "",
        nodes("J1 4", "J2 4"): "LINE 4",
        nodes("J1 5", "J2 5"): "FIVE",
        nodes("J1 6"): "",
        nodes("J2 6"): "",
    }
    assert drawn.parts["J1"].value == "host"
    assert drawn.parts["J2"].place.line == 53
    assert drawn.remarks == ()


def test_a_hand_made_schematic_agrees_with_its_plan() -> None:
    result = audit(read(DATA / "wired.kicad_sch"), small())
    assert result.verdict == "as planned"
    assert not any(net.wrong for net in result.nets)
    assert result.findings == ()


def test_a_sheet_used_twice_has_its_own_parts_and_nets_each_time() -> None:
    drawn = read(DATA / "rack.kicad_sch")
    assert nets(drawn) == {
        nodes("J9 1", "U1 2"): "OUT",
        nodes("J9 2", "U2 2"): "OUT",
        nodes("R1 2", "U1 1", "U1 3"): "STAGE",
        nodes("R2 2", "U2 1", "U2 3"): "STAGE",
        nodes("R1 1", "R2 1", "U1 14", "U2 14"): "VCC",
        nodes("U1 4"): "",
        nodes("U2 4"): "",
    }
    assert [pad for pad, _ in drawn.parts["U1"].pads] == ["1", "2", "3", "4", "14"]
    assert drawn.remarks[-1] == "card.kicad_sch: used more than once, each use with its own parts"
    assert "pin 14 of U1 is hidden and takes power in: it is joined to all that is called 'VCC'" in drawn.remarks[0]


def test_the_references_of_an_older_release_are_found_at_the_end_of_the_file() -> None:
    drawn = read(DATA / "older.kicad_sch")
    assert {ref: part.value for ref, part in drawn.parts.items()} == {"R7": "10k", "R8": "22k"}
    assert joined(drawn) == {nodes("R7 1", "R8 2")}


@pytest.mark.parametrize("version", VERSIONS)
def test_the_versions_of_three_releases_are_read_alike(version: int, tmp_path: Path) -> None:
    path = tmp_path / "drawn.kicad_sch"
    made = drawing(small())
    path.write_text(made.schematic(version), encoding="utf-8")
    drawn = read(path)
    assert joined(drawn) == {frozenset(n) for n in made.nets.values() if len(n) > 1}
    assert drawn.remarks == ()


# ------------------------------------------------------------------ what touches what


PLACED = [
    # turned, mirrored, where the pin at 2.54 to the right and 7.62 up comes to lie from the symbol's place, y downwards
    (0, "", 2.54, -7.62),
    (90, "", -7.62, -2.54),
    (180, "", -2.54, 7.62),
    (270, "", 7.62, 2.54),
    (0, "(mirror x)", 2.54, 7.62),
    (90, "(mirror x)", -7.62, 2.54),
    (180, "(mirror x)", -2.54, -7.62),
    (270, "(mirror x)", 7.62, -2.54),
    (0, "(mirror y)", -2.54, -7.62),
    (90, "(mirror y)", 7.62, -2.54),
    (180, "(mirror y)", 2.54, 7.62),
    (270, "(mirror y)", -7.62, 2.54),
]


@pytest.mark.parametrize(("angle", "mirror", "dx", "dy"), PLACED)
def test_a_symbol_is_turned_and_then_mirrored(angle: int, mirror: str, dx: float, dy: float, tmp_path: Path) -> None:
    symbol = '(symbol "Skew" (symbol "Skew_1_1" (pin passive line (at 2.54 7.62 0) (length 0) (name "") (number "1"))))'
    skew = (
        f'(symbol (lib_id "Skew") (at 101.6 101.6 {angle}) {mirror} (unit 1) (uuid "a") '
        '(property "Reference" "X1" (at 0 0 0)))'
    )
    drawn = of(tmp_path, sheet(skew, one("P1", round(101.6 + dx, 2), round(101.6 + dy, 2)), symbols=symbol))
    assert joined(drawn) == {nodes("X1 1", "P1 1")}


def test_the_end_of_a_wire_on_another_wire_joins_only_with_a_junction(tmp_path: Path) -> None:
    parts = [one("P1", 0, 0), one("P2", 20, 0), one("P3", 10, 10)]
    wires = [wire((0, 0), (20, 0)), wire((10, 10), (10, 0))]
    apart = of(tmp_path, sheet(*parts, *wires))
    assert joined(apart) == {nodes("P1 1", "P2 1")}
    assert [remark.split(": ", 1)[1] for remark in apart.remarks] == [
        "the end of a wire touches a wire between its ends, at 10, 0 mm, and there is no junction: not joined"
    ]
    with_dot = of(tmp_path, sheet(*parts, *wires, "(junction (at 10 0))"))
    assert joined(with_dot) == {nodes("P1 1", "P2 1", "P3 1")}
    assert with_dot.remarks == ()


def test_wires_that_cross_are_joined_only_with_a_junction(tmp_path: Path) -> None:
    parts = [one("P1", 0, 0), one("P2", 20, 0), one("P3", 10, -10), one("P4", 10, 10)]
    wires = [wire((0, 0), (20, 0)), wire((10, -10), (10, 10))]
    assert joined(of(tmp_path, sheet(*parts, *wires))) == {nodes("P1 1", "P2 1"), nodes("P3 1", "P4 1")}
    assert len(joined(of(tmp_path, sheet(*parts, *wires, "(junction (at 10 0))")))) == 1


def test_a_pin_on_a_wire_between_its_ends_is_not_joined_and_that_is_said(tmp_path: Path) -> None:
    drawn = of(tmp_path, sheet(one("P1", 0, 0), one("P2", 5, 0), one("P3", 10, 0), wire((0, 0), (10, 0))))
    assert joined(drawn) == {nodes("P1 1", "P3 1")}
    assert "a pin of P2 touches a wire between its ends, at 5, 0 mm" in drawn.remarks[0]


def test_a_slanted_wire_and_wires_that_meet_end_to_end_join(tmp_path: Path) -> None:
    drawn = of(
        tmp_path,
        sheet(
            one("P1", 0, 0),
            one("P2", 30, 5),
            wire((0, 0), (10, 5)),
            wire((10, 5), (30, 5)),
            one("P3", 5, 2.5),
            "(junction (at 5 2.5))",
        ),
    )
    assert joined(drawn) == {nodes("P1 1", "P2 1", "P3 1")}


def test_pins_in_one_place_are_joined_and_a_hair_apart_they_are_not(tmp_path: Path) -> None:
    drawn = of(tmp_path, sheet(one("P1", 0, 0), one("P2", 0, 0), one("P3", 0.0002, 0)))
    assert joined(drawn) == {nodes("P1 1", "P2 1")}


def test_labels_of_one_name_are_joined_on_a_sheet_whatever_their_kind(tmp_path: Path) -> None:
    drawn = of(
        tmp_path,
        sheet(
            one("P1", 0, 0),
            one("P2", 10, 0),
            one("P3", 20, 0),
            '(label "A" (at 0 0 0))',
            '(global_label "A" (at 10 0 0))',
            '(label "a" (at 20 0 0))',
        ),
    )
    assert joined(drawn) == {nodes("P1 1", "P2 1")}


def test_local_labels_stay_on_their_sheet_and_global_ones_do_not(tmp_path: Path) -> None:
    (tmp_path / "below.kicad_sch").write_text(
        sheet(one("P3", 0, 0), one("P4", 10, 0), '(label "L" (at 0 0 0))', '(global_label "G" (at 10 0 0))'), "utf-8"
    )
    drawn = of(
        tmp_path,
        sheet(
            one("P1", 0, 0),
            one("P2", 10, 0),
            '(label "L" (at 0 0 0))',
            '(global_label "G" (at 10 0 0))',
            '(sheet (at 0 0) (uuid "s") (property "Sheet file" "below.kicad_sch"))',
        ),
    )
    assert joined(drawn) == {nodes("P2 1", "P4 1")}


def test_a_flag_that_only_says_where_power_comes_from_joins_nothing() -> None:
    # wired.kicad_sch has the same flag at GND and at pin 2; both would be one net through its name.
    assert nodes("J1 2", "J2 2") in joined(read(DATA / "wired.kicad_sch"))


def test_a_bus_on_one_sheet_is_passed_over_and_one_that_leaves_it_is_refused(tmp_path: Path) -> None:
    parts = [one("P1", 0, 0), one("P2", 10, 0), '(label "D1" (at 0 0 0))', '(label "D1" (at 10 0 0))']
    bus = ["(bus (pts (xy 0 50) (xy 50 50)))", '(label "D[0..7]" (at 20 50 0))', "(bus_entry (at 0 50) (size 2 2))"]
    drawn = of(tmp_path, sheet(*parts, *bus))
    assert joined(drawn) == {nodes("P1 1", "P2 1")}
    assert drawn.remarks[0].endswith("buses are passed over; wires that leave one are joined by their labels")
    assert refusal(tmp_path, sheet(*parts, *bus, '(global_label "D[0..7]" (at 50 50 0))')) == (
        "drawn.kicad_sch:9:1: buses that lead from sheet to sheet are not read, and the global label 'D[0..7]' is one. "
        "Export the netlist from the schematic, and audit that"
    )
    assert "a bus called both 'D[0..7]' and 'A[0..7]'" in refusal(
        tmp_path, sheet(*parts, *bus, '(label "A[0..7]" (at 40 50 0))')
    )


def test_marks_for_not_fitted_and_not_on_the_board_are_said(tmp_path: Path) -> None:
    drawn = of(tmp_path, sheet(one("P1", 0, 0, "(dnp yes)"), one("P2", 5, 0, "(on_board no)")))
    assert [remark.split(": ", 1)[1] for remark in drawn.remarks] == [
        "P1 is marked as not fitted; it is taken as fitted",
        "P2 is marked as not on the board; it is taken as on it",
    ]


def test_a_newer_version_is_read_with_a_caution_that_names_what_was_not_understood(tmp_path: Path) -> None:
    path = tmp_path / "new.kicad_sch"
    path.write_text(drawing(small()).schematic(20990101).replace("(paper", "(wormhole (at 1 2))\n(paper"), "utf-8")
    result = audit(read(path), small())
    assert result.verdict == "as planned"
    said = [f.message.replace(str(tmp_path) + "/", "") for f in result.findings if f.code == "audit-assumed"]
    assert sorted(said) == [
        "new.kicad_sch has the version 20990101, newer than the newest known here (20250114): what is new in it was "
        "not understood",
        "new.kicad_sch:3:3: 'wormhole' was not understood and passed over",
    ]


# ------------------------------------------------------------------ bad input


REFUSED = [
    ("", "a schematic must begin with (kicad_sch; this file is empty"),
    ("hello", "drawn.kicad_sch:1:1: a schematic must begin with (kicad_sch, not with 'hello'"),
    (
        '(export (version "E"))',
        "drawn.kicad_sch:1:2: a schematic must begin with (kicad_sch, not with (export: that is a netlist. Name it "
        "with the ending .net",
    ),
    ("(kicad_pcb (version 1))", "that is a board. Name it with the ending .kicad_pcb"),
    ('(kicad_sch (version 20231120) (uuid "x', "a text begins here and never ends: the file is cut off or damaged"),
    ("(kicad_sch (version 20231120) (uuid", "the file ends before 2 brackets are closed; the last was opened here"),
    ("(kicad_sch (version 20231120)))", "a bracket is closed that was never opened"),
    ("(kicad_sch (version 20231120)) (kicad_sch)", "must be one list in brackets; a second one begins here"),
    ("(kicad_sch (version 4))", "the version of a schematic must be 20211123 or newer, not '4'. Save it with a newer"),
    ("(kicad_sch (paper A4))", "the version of a schematic must be 20211123 or newer, and this one has none"),
    ("(kicad_sch (version 20231120))", "a schematic must have symbols of parts; this one has none"),
    (sheet(one("P1", 0, 0), one("P1", 5, 0)), "'P1' must be one part; it also stands at"),
    (sheet(one("R?", 0, 0), one("R?", 5, 0)), "Number the parts of the drawing"),
    (sheet(one("", 0, 0)), "a symbol must have a reference"),
    (sheet(one("P1", 0, 0).replace("One", "Two")), "a symbol must stand in lib_symbols; 'Two' does not"),
    (sheet(one("P1", 0, 0).replace("0 0 0) (unit", "0 0 45) (unit")), "turned by 0, 90, 180 or 270°, not 45°"),
    (sheet(one("P1", 0, 0).replace("(at 0 0 0) (unit", "(at x y) (unit")), "symbol must have at with 2 numbers"),
    (sheet(one("P1", 0, 0).replace("(at 0 0 0) (unit", "(at nan inf) (unit")), "symbol must have at with 2 numbers"),
    (sheet(one("P1", 0, 0), "(wire (pts (xy 0 0) (xy 1)))"), "xy must have two numbers"),
    (sheet('(sheet (uuid "s"))'), "a sheet must name its file"),
    (
        sheet('(sheet (uuid "s") (property "Sheetfile" "gone.kicad_sch"))'),
        "file 'gone.kicad_sch' is not there",
    ),
    (
        sheet('(sheet (uuid "s") (property "Sheetfile" "../x.kicad_sch"))'),
        "lie in the folder of the drawing, not at",
    ),
    (sheet('(sheet (uuid "s") (property "Sheetfile" "/x.kicad_sch"))'), "lie in the folder of the drawing, not at"),
    (sheet('(sheet (uuid "s") (property "Sheetfile" "drawn.kicad_sch"))'), "a sheet must not contain itself"),
    ("(kicad_sch " + "(a " * 100 + ")" * 101, "brackets must not be nested deeper than 60"),
]


@pytest.mark.parametrize(("text", "message"), REFUSED)
def test_a_schematic_that_cannot_be_read_is_one_clear_error(text: str, message: str, tmp_path: Path) -> None:
    said = refusal(tmp_path, text)
    assert message in said
    assert said.startswith("drawn.kicad_sch")
    assert "\n" not in said


def test_every_part_that_contradicts_another_is_named(tmp_path: Path) -> None:
    said = refusal(tmp_path, sheet(one("P1", 0, 0), one("P1", 1, 0), one("P2", 2, 0), one("P2", 3, 0)))
    assert [line.partition(" must")[0] for line in said.splitlines()] == [
        "drawn.kicad_sch:3:1: 'P1'",
        "drawn.kicad_sch:5:1: 'P2'",
    ]


def test_two_sheets_that_contain_each_other_are_refused(tmp_path: Path) -> None:
    (tmp_path / "b.kicad_sch").write_text(sheet('(sheet (uuid "s") (property "Sheetfile" "drawn.kicad_sch"))'), "utf-8")
    said = refusal(tmp_path, sheet('(sheet (uuid "s") (property "Sheetfile" "b.kicad_sch"))'))
    assert said == "b.kicad_sch:2:1: a sheet must not contain itself; 'drawn.kicad_sch' does"


def test_a_sheet_behind_a_link_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    inside = tmp_path / "in"
    inside.mkdir()
    (tmp_path / "out.kicad_sch").write_text(sheet(one("P1", 0, 0)), "utf-8")
    (inside / "link.kicad_sch").symlink_to(tmp_path / "out.kicad_sch")
    said = refusal(inside, sheet('(sheet (uuid "s") (property "Sheetfile" "link.kicad_sch"))'))
    assert "a sheet's file must lie in the folder of the drawing, not at 'link.kicad_sch'" in said


def test_sheets_in_sheets_in_sheets_end_at_a_limit(tmp_path: Path) -> None:
    for depth in range(10):
        twice = "".join(f'(sheet (uuid "{way}") (property "Sheetfile" "s{depth + 1}.kicad_sch"))' for way in ("a", "b"))
        (tmp_path / f"s{depth}.kicad_sch").write_text(sheet(twice), "utf-8")
    (tmp_path / "s10.kicad_sch").write_text(sheet(one("P1", 0, 0)), "utf-8")
    assert "a drawing must not have more than 200 sheets" in refusal(
        tmp_path, sheet('(sheet (uuid "s") (property "Sheetfile" "s0.kicad_sch"))')
    )


def test_wires_made_to_overlap_end_at_a_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pinmap.audit.wires.MAX_LOOKS", 1000)
    wires = [wire((0, 0), (n, 0)) for n in range(1, 60)]
    assert "a sheet must not have so many wires on one line" in refusal(tmp_path, sheet(one("P1", 0, 0), *wires))


def test_all_uses_of_a_sheet_count_for_the_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(schematic, "MAX_ELEMENTS", 60)
    (tmp_path / "s.kicad_sch").write_text(sheet(*[wire((n, 0), (n, 5)) for n in range(20)]), "utf-8")
    uses = [f'(sheet (uuid "{n}") (property "Sheetfile" "s.kicad_sch"))' for n in range(3)]
    assert "each use of a sheet counted" in refusal(tmp_path, sheet(*uses))


def test_any_cut_of_a_schematic_is_an_error_and_nothing_else() -> None:
    text = (DATA / "wired.kicad_sch").read_bytes()
    for end in range(0, len(text) - 2, 97):
        with pytest.raises(UnreadableError):
            parsed(text[:end], "cut.kicad_sch", "kicad_sch")
