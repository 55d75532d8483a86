"""The schematic that is written, read back by libraries and by the tests' own code: joined as planned, and legible."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from contextlib import redirect_stdout
from functools import cache
from pathlib import Path

import pytest
import schematic_connectivity as drawn
from built import pair
from faults.drawings import PLANS, planned
from handmade import in_a_row, lines_of, pin_map, strip
from handparts import with_parts
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from schematic_connectivity import Drawing, Node

from pinmap import api
from pinmap.adapter import Adapter, Net
from pinmap.audit.judging import audit
from pinmap.audit.reading import read
from pinmap.body import Body, Section
from pinmap.model import Bus, PinMap
from pinmap.parts import PART_KINDS, REFERENCES, Part
from pinmap.planner import plan
from pinmap.text import visible
from pinmap.writers import netlist, schematic
from pinmap.writers.schematic_symbols import cut, width

#: Pads that a package has and the plan leaves out.
SPARE = {"inverter": {str(pad) for pad in range(1, 15)}, "oscillator": {"1", "7", "8", "14"}}


@cache
def written(names: tuple[str, ...]) -> str:
    return schematic.text(planned(names))


@cache
def read_back(names: tuple[str, ...]) -> Drawing:
    return Drawing(written(names))


def in_the_plan(adapter: Adapter) -> set[frozenset[Node]]:
    """The nets of the plan by pads, and a net of its own for each spare pad of a package."""
    ends = (adapter.host_connector, adapter.card_connector)
    nets = {
        frozenset(
            {
                *((ends[0].ref, ends[0].body.pad_of[c.label]) for c in net.host),
                *((ends[1].ref, ends[1].body.pad_of[c.label]) for c in net.card),
                *net.parts,
            }
        )
        for net in adapter.nets
    }
    spare = {
        frozenset({(part.ref, pad)})
        for part in adapter.parts
        for pad in SPARE.get(part.kind, set()) - {pad for pad, _ in part.pins}
    }
    return nets | spare


def must_be_the_plan(adapter: Adapter, text: str) -> Drawing:
    drawing = Drawing(text)
    wanted = in_the_plan(adapter)
    assert drawing.nets() == wanted
    assert drawing.flagged() == {node for net in wanted if len(net) == 1 for node in net}
    assert len(drawing.no_connects) == len(set(drawing.no_connects)) == sum(len(net) == 1 for net in wanted)
    assert not drawing.loose()
    return drawing


def must_be_legible(drawing: Drawing) -> None:
    seen = drawn.words(drawing)
    assert drawn.collisions(seen, seen) == []
    assert drawn.collisions(seen, drawn.strokes(drawing)) == []
    wide, high = page(drawing)
    assert [box for box in seen if box.x1 < 10_000 or box.y1 < 10_000 or box.x2 > wide - 10_000] == []
    # In the lower right corner viewers draw a block of their own, 110 mm wide and less than 40 mm high.
    assert [box for box in seen if box.y2 > high - 10_000] == []
    assert [box for box in seen if box.x2 > wide - 120_000 and box.y2 > high - 48_000] == []


def page(drawing: Drawing) -> tuple[int, int]:
    paper = drawn.the(drawing.root, "paper")[1:]
    sizes = {"A3": (420, 297), "A2": (594, 420), "A1": (841, 594), "A0": (1189, 841)}
    wide, high = sizes[paper[0]] if paper[0] != "User" else (float(paper[1]), float(paper[2]))
    return round(wide * 1000), round(high * 1000)


# ------------------------------------------------------------------ every plan of the examples


@pytest.mark.parametrize("names", PLANS, ids=" to ".join)
def test_the_drawing_joins_what_the_plan_joins_and_nothing_else(names: tuple[str, ...]) -> None:
    must_be_the_plan(planned(names), written(names))


@pytest.mark.parametrize("names", PLANS, ids=" to ".join)
def test_no_word_lies_on_another_or_on_a_line_and_all_is_on_one_a3_page(names: tuple[str, ...]) -> None:
    drawing = read_back(names)
    assert drawn.the(drawing.root, "paper")[1] == "A3"
    must_be_legible(drawing)


@pytest.mark.parametrize("names", PLANS, ids=" to ".join)
def test_the_audit_finds_the_drawing_as_planned(names: tuple[str, ...], tmp_path: Path) -> None:
    path = tmp_path / schematic.FILE_NAME
    path.write_text(written(names), encoding="utf-8")
    found = read(path)
    assert found.remarks == ()
    result = audit(found, planned(names))
    assert (result.verdict, result.findings) == ("as planned", ())


@pytest.mark.parametrize("names", PLANS, ids=" to ".join)
def test_kicad_skip_loads_it_with_every_part_wire_and_label(names: tuple[str, ...], tmp_path: Path) -> None:
    import skip

    path = tmp_path / schematic.FILE_NAME
    path.write_text(written(names), encoding="utf-8")
    said = io.StringIO()
    with redirect_stdout(said):
        loaded = skip.Schematic(str(path))
    assert said.getvalue() == ""
    adapter, drawing = planned(names), read_back(names)
    parts = {part.ref: part for part in netlist.parts(adapter)}
    of_parts = [s for s in loaded.symbol if not s.property.Reference.value.startswith("#")]
    assert {s.property.Reference.value: s.property.Value.value for s in of_parts} == {
        ref: part.value for ref, part in parts.items()
    }
    ends = (adapter.host_connector, adapter.card_connector)
    assert {s.property.Footprint.value for s in of_parts} == {
        *(adapter.on_board(end).footprint for end in ends),
        *(part.footprint for part in adapter.parts),
    }
    assert len(list(loaded.wire)) == len(drawing.wires)
    assert sorted(label.value for label in loaded.global_label) == sorted(name for name, _ in drawing.labels)


@pytest.mark.parametrize("names", PLANS, ids=" to ".join)
def test_gerbonara_loads_it_with_every_pin_where_the_coordinates_say(names: tuple[str, ...], tmp_path: Path) -> None:
    from gerbonara.cad.kicad.schematic import Schematic

    path = tmp_path / schematic.FILE_NAME
    path.write_text(written(names), encoding="utf-8")
    loaded, drawing = Schematic.open(path), read_back(names)
    pins = {
        (
            symbol.reference,
            pin.number.value,
            round(1000 * (symbol.at.x + pin.at.x)),
            round(1000 * (symbol.at.y - pin.at.y)),
        )
        for symbol in loaded.symbols
        for unit in loaded.lookup_symbol(symbol.lib_name, symbol.lib_id).units
        if unit.unit_index == symbol.unit and not symbol.reference.startswith("#")
        for pin in unit.pins
    }
    assert pins == {(pin.ref, pin.number, *pin.at) for pin in drawing.pins}
    assert len(loaded.wires) == len(drawing.wires)
    assert len(loaded.no_connects) == len(drawing.no_connects)
    assert sorted(label.text for label in loaded.global_labels) == sorted(name for name, _ in drawing.labels)


@pytest.mark.parametrize("names", PLANS, ids=" to ".join)
def test_every_contact_has_its_label_its_pad_and_the_name_of_its_net(names: tuple[str, ...]) -> None:
    adapter, drawing = planned(names), read_back(names)
    pins = {(pin.ref, pin.number): pin for pin in drawing.pins}
    held = {place: name for name, place in (*drawing.labels, *drawing.rails)}
    beyond = dict(drawing.wires) | {b: a for a, b in drawing.wires}
    for connector, end in ((adapter.host_connector, adapter.host), (adapter.card_connector, adapter.card)):
        mine = {pin.name: pin.number for pin in pins.values() if pin.ref == connector.ref}
        assert mine == {label: connector.pad(label) for label in end.present}
        for label in end.present:
            net = adapter.net_of(connector.end, label)
            pin = pins[connector.ref, connector.pad(label)]
            if net.size > 1:
                assert held[beyond[pin.at]] == net.name
            else:
                assert pin.at in drawing.no_connects


@pytest.mark.parametrize("names", PLANS, ids=" to ".join)
def test_supplies_and_returns_end_at_rails_and_lines_at_labels(names: tuple[str, ...]) -> None:
    adapter, drawing = planned(names), read_back(names)
    joined = [net for net in adapter.nets if net.size > 1]
    assert {name for name, _ in drawing.rails} == {n.name for n in joined if n.group in ("supply", "return")}
    assert {name for name, _ in drawing.labels} == {n.name for n in joined if n.group not in ("supply", "return")}
    returns = {
        drawing.field(symbol, "Value")
        for symbol in drawing.symbols
        if drawn.the(symbol, "lib_id")[1].startswith("pinmap:return-")
    }
    assert returns == {net.name for net in joined if net.group == "return"}


@pytest.mark.parametrize("names", PLANS, ids=" to ".join)
def test_every_rail_has_one_source_for_a_check_of_the_drawing(names: tuple[str, ...]) -> None:
    drawing = read_back(names)
    sources = {(pin.ref, pin.number) for pin in drawing.pins if pin.kind == "power_out"}
    rails = [net for net in planned(names).nets if net.group in ("supply", "return")]
    assert len(sources) == len(rails)
    assert len({net for net in drawing.nets() if net & sources}) == len(rails)


def test_a_rail_that_a_part_feeds_comes_from_that_part() -> None:
    sources = {(pin.ref, pin.number) for pin in read_back(("tarn-riser",)).pins if pin.kind == "power_out"}
    assert {node for node in sources if node[0] != "J1"} == {("F1", "2"), ("F2", "2"), ("U1", "3")}


@pytest.mark.parametrize("names", PLANS, ids=" to ".join)
def test_the_machine_is_at_the_left_the_card_at_the_right_and_the_parts_between(names: tuple[str, ...]) -> None:
    drawing = read_back(names)
    reach = {ref: [pin.at[0] for pin in drawing.pins if pin.ref == ref] for ref in {p.ref for p in drawing.pins}}
    assert max(reach["J1"]) < min(reach["J2"])
    for ref, xs in reach.items():
        assert ref in ("J1", "J2") or max(reach["J1"]) < min(xs) <= max(xs) < min(reach["J2"])


@pytest.mark.parametrize("names", PLANS, ids=" to ".join)
def test_all_lies_on_the_grid_and_every_identity_is_one_things(names: tuple[str, ...]) -> None:
    drawing = read_back(names)
    for pin in drawing.pins:
        assert (pin.at[0] % 1270, pin.at[1] % 1270) == (0, 0)
    identities = re.findall(r'\(uuid "([^"]*)"\)', written(names))
    assert len(identities) == len(set(identities))


# ------------------------------------------------------------------ the file


def test_the_same_plan_gives_the_same_bytes_and_no_date_but_the_one_given() -> None:
    adapter = planned(("oakmere-riser",))
    assert schematic.text(adapter) == schematic.text(api.adapt("oakmere-riser"))
    without = [line for line in schematic.text(adapter).splitlines() if "Made by" in line]
    dated = [line for line in schematic.text(adapter, "2 May 2031").splitlines() if "Made by" in line]
    assert [drawn.parsed(line)[1] for line in without] == ["Made by pinmap from the plan of the adapter"]
    assert [drawn.parsed(line)[1] for line in dated] == ["Made by pinmap from the plan of the adapter, 2 May 2031"]


def test_the_title_block_says_what_leads_where_with_which_options() -> None:
    texts = [text[1] for text in drawn.every(read_back(("oakmere-riser",)).root, "text")]
    start = texts.index("Oakmere 88 riser")
    assert texts[start : start + 5] == [
        "Oakmere 88 riser",
        "From: Oakmere 88 cabinet header",
        "To: ISA slot, 8-bit",
        "Options fitted: video board",
        "Made by pinmap from the plan of the adapter",
    ]


def test_an_adapter_that_must_not_be_built_says_so_in_its_title() -> None:
    adapter = plan(pin_map({"1": "GND"}, strip(2)), pin_map({"1": "GND"}, strip(2), end="card"))
    assert adapter.verdict == "do not build"
    texts = [text[1] for text in drawn.every(Drawing(schematic.text(adapter)).root, "text")]
    assert any(text.startswith("DO NOT BUILD: ") for text in texts)


def test_a_parts_identity_is_that_of_the_netlist_so_that_a_board_keeps_it() -> None:
    adapter = planned(("brindle-riser",))
    in_netlist = dict(
        re.findall(r'\(ref "?([\w]+)"?\).*?\(tstamps "?([0-9a-f-]+)"?\)', netlist.text(adapter), re.DOTALL)
    )
    drawing = read_back(("brindle-riser",))
    here = {
        drawing.field(symbol, "Reference"): drawn.the(symbol, "uuid")[1]
        for symbol in drawing.symbols
        if not drawing.field(symbol, "Reference").startswith("#")
    }
    assert here == in_netlist


def test_a_contact_that_is_open_says_what_it_carries_and_a_spare_pad_of_a_package_that_it_is_open() -> None:
    drawing = read_back(("brindle-riser",))
    texts = [text[1] for text in drawn.every(drawing.root, "text")]
    for carried in ("IOCHK*", "-5V", "AUDIO"):
        assert texts.count(carried) == 1
    assert {("U1", pad) for pad in ("4", "6", "8", "10", "12")} <= drawing.flagged()


def test_an_electrolytic_capacitor_is_drawn_otherwise_with_its_plus_at_the_left() -> None:
    drawing = read_back(("tarn-riser",))
    adapter = planned(("tarn-riser",))
    polarised = {part.ref for part in adapter.parts if any(what.startswith("plus") for _, what in part.pins)}
    assert polarised
    shown = {
        drawing.field(symbol, "Reference"): drawn.the(symbol, "lib_id")[1]
        for symbol in drawing.symbols
        if drawing.field(symbol, "Reference").startswith("C")
    }
    assert {ref for ref, name in shown.items() if "polarised" in name} == polarised
    for part in adapter.parts:
        if part.ref in polarised:
            plus = next(pad for pad, what in part.pins if what.startswith("plus"))
            xs = {pin.number: pin.at[0] for pin in drawing.pins if pin.ref == part.ref}
            assert min(xs, key=lambda pad: xs[pad]) == plus


def test_a_three_row_connector_is_drawn_in_several_boxes_and_a_long_one_goes_on_in_another() -> None:
    letters = ("a", "b", "c")
    long = Body("din 41612", (Section(3, 80, letters),), "rows", gender="female")
    names = in_a_row(lines_of_both())
    host = pin_map({f"a{n}": name for n, name in names.items() if int(n) <= 80}, long)
    card = pin_map({f"{row}{n}": "GND" for n in range(1, 81) for row in letters}, long, end="card")
    adapter = plan(host, card)
    drawing = must_be_the_plan(adapter, schematic.text(adapter))
    must_be_legible(drawing)
    units = [drawn.the(s, "unit")[1] for s in drawing.symbols if drawing.field(s, "Reference") == "J1"]
    assert units == ["1", "2", "3", "4"]


@pytest.mark.parametrize(("rows", "paper"), [(40, "A3"), (70, "A2"), (400, "User")])
def test_a_part_too_high_for_the_page_gets_a_larger_one(rows: int, paper: str) -> None:
    adapter = planned(("isa-8bit", "pc104-8bit"))
    pads = [str(pad) for pad in range(1, 2 * rows + 1)]
    nets = list(adapter.nets)
    nets[0] = replace(nets[0], parts=tuple(("JP1", pad) for pad in pads))
    jumper = Part("JP1", "jumper", f"2×{rows} pins", "", "jumper", tuple((pad, "") for pad in pads))
    adapter = replace(adapter, nets=tuple(nets), parts=(jumper,))
    drawing = must_be_the_plan(adapter, schematic.text(adapter))
    assert drawn.the(drawing.root, "paper")[1] == paper
    must_be_legible(drawing)


def lines_of_both() -> list[str]:
    return ["GND", "+5V", *lines_of(pin_map({}, strip(1)).bus, "GND", "+5V")]


# ------------------------------------------------------------------ what a user writes

AWKWARD = (
    'a "quoted" name',
    "(in parentheses)",
    "back\\slash\\",
    "Шина данных",
    "バス・アダプター",
    "line\nfeed and\ttab",
    "turned \u202eround",
    "D[0..7]",
    "~{WR}",
    "${TITLE}",
    "x" * 300,
    "a;b#c|d",
    " spaces ",
    "1.5",
)


@pytest.mark.parametrize("name", AWKWARD)
def test_whatever_a_user_writes_survives_and_joins_nothing_more(name: str, tmp_path: Path) -> None:
    from gerbonara.cad.kicad.schematic import Schematic

    adapter = renamed(planned(("brindle-riser",)), lambda net: f"{name} {net}")
    adapter = replace(
        adapter,
        host=replace(adapter.host, title=name),
        parts=tuple(replace(part, value=name, purpose=f"{part.purpose} {name}", fit=name) for part in adapter.parts),
    )
    text = schematic.text(adapter)
    drawing = must_be_the_plan(adapter, text)
    must_be_legible(drawing)
    path = tmp_path / schematic.FILE_NAME
    path.write_text(text, encoding="utf-8")
    shown = name.replace("\n", "\\n").replace("\t", "\\t").replace("\u202e", "\\u202e")
    values = drawing.fields("Value")
    assert {values[part.ref] for part in adapter.parts} == {shown}
    assert values["J1"] == shown
    assert drawing.fields("Fit")["F1"] == shown
    found = read(path)
    assert found.remarks == ()
    assert {n.nodes for n in found.nets} == drawing.nets()
    assert len(Schematic.open(path).wires) == len(drawing.wires)


def test_kicad_skip_reads_whatever_a_user_writes_too(tmp_path: Path) -> None:
    import skip

    name = "; ".join(AWKWARD)
    adapter = planned(("oakmere-riser",))
    adapter = replace(adapter, parts=tuple(replace(part, value=name) for part in adapter.parts))
    path = tmp_path / schematic.FILE_NAME
    path.write_text(schematic.text(adapter), encoding="utf-8")
    values = {s.property.Reference.value: s.property.Value.value for s in skip.Schematic(str(path)).symbol}
    assert {values[part.ref] for part in adapter.parts} == {visible(name)}


def renamed(adapter: Adapter, rename: Callable[[str], str]) -> Adapter:
    return replace(adapter, nets=tuple(replace(net, name=rename(net.name)) for net in adapter.nets))


def test_names_that_would_be_one_on_the_sheet_stay_apart() -> None:
    adapter = planned(("oakmere-riser",))
    names = dict(zip((n.name for n in adapter.nets), ("a{1}", "a(1)", "a[1]", "a(1) (2)", " a(1)", ""), strict=False))
    must_be_the_plan(changed := renamed(adapter, lambda net: names.get(net, net)), schematic.text(changed))


def test_a_text_that_is_too_long_is_cut_where_it_is_shown_and_whole_in_its_field() -> None:
    adapter = with_parts()
    adapter = replace(adapter, parts=tuple(replace(part, value="y" * 200) for part in adapter.parts))
    drawing = Drawing(schematic.text(adapter))
    assert set(drawing.fields("Value").values()) >= {"y" * 200}
    shown = [text[1] for text in drawn.every(drawing.root, "text") if text[1].startswith("yyy")]
    assert len(shown) == len(adapter.parts)
    assert all(word.endswith("y…") and width(word) <= schematic.MOST_SHOWN for word in shown)


# ------------------------------------------------------------------ any adapter

TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=30)
FORMS = st.builds(
    lambda rows, scheme, first, places: Body("pin header", tuple(Section(rows, n) for n in places), scheme, first),
    st.integers(1, 4),
    st.sampled_from(["zigzag", "serial"]),
    st.sampled_from(["top left", "bottom left", "top right", "bottom right"]),
    st.lists(st.integers(1, 52), min_size=1, max_size=2),
)


@st.composite
def maps(draw: st.DrawFn, end: str) -> PinMap:
    bus: Bus = draw(st.sampled_from([pair("oakmere-88", "isa-8bit").card.bus, pair("tarn-rack", "isa-16bit").card.bus]))
    body = draw(FORMS)
    rails = ["GND", "+5V", "+12V", "open", "key"]
    lines = draw(st.permutations(lines_of(bus, "GND", "+5V", "+12V")))
    labels = draw(st.permutations(body.labels))
    rail_count = draw(st.integers(2, max(2, len(labels) // 3)))
    carried = [draw(st.sampled_from(rails)) for _ in range(rail_count)] + lines
    return pin_map(dict(zip(labels, ("GND", *carried), strict=False)), body, bus=bus, end=end, name=end)  # type: ignore[arg-type]


class Made:
    """An adapter that is not printed where a test fails: it would be thousands of lines."""

    def __init__(self, adapter: Adapter) -> None:
        self.adapter = adapter


@st.composite
def adapters(draw: st.DrawFn) -> Made:
    """Two random connectors, with random parts on random nets, and names as anybody may write them."""
    made = plan(draw(maps("host")), draw(maps("card")))
    nets: dict[str, Net] = {net.name: net for net in made.nets}
    parts = []
    for number in range(draw(st.integers(0, 12))):
        kind = draw(st.sampled_from(PART_KINDS))
        pads = {"jumper": 4, "regulator": 3, "supervisor": 3, "inverter": 14, "oscillator": 14}.get(kind, 2)
        some = [str(pad) for pad in range(1, pads + 1) if kind != "oscillator" or pad in (7, 8, 14)]
        ref = f"{REFERENCES[kind]}{number}"
        pins = tuple((pad, draw(TEXTS)) for pad in some)
        parts.append(Part(ref, kind, draw(TEXTS), draw(TEXTS), f"{number} {draw(TEXTS)}", pins))
        for pad in some:
            name = draw(st.sampled_from([*nets, f"own {ref} {pad}"]))
            net = nets.get(name) or Net(name, None, "own", "straight")
            nets[name] = replace(net, parts=(*net.parts, (ref, pad)))
    renames = {name: f"{draw(TEXTS)} {index}" for index, name in enumerate(nets) if draw(st.booleans())}
    out = replace(made, nets=tuple(nets.values()), parts=tuple(parts))
    return Made(renamed(out, lambda name: renames.get(name, name)))


@settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.explicit, Phase.generate],  # to shrink one takes minutes
)
@given(adapters())
def test_any_adapter_is_drawn_as_planned_and_legibly(made: Made) -> None:
    must_be_legible(must_be_the_plan(made.adapter, schematic.text(made.adapter)))


# ------------------------------------------------------------------ the tests' own reader


def one(lines: str, *, turned: str = "0", mirror: str = "") -> Drawing:
    pins = "".join(
        f'(pin passive line (at {x} {y} 0) (length 0) (name "~") (number "{n}" (effects (font (size 1 1)))))'
        for n, x, y in (("1", 0, 10), ("2", 5, 0))
    )
    return Drawing(
        f'(kicad_sch (lib_symbols (symbol "L:a" (symbol "a_1_1" {pins})))'
        f' (symbol (lib_id "L:a") (at 100 100 {turned}) {mirror} (unit 1) (property "Reference" "A")) {lines})'
    )


@pytest.mark.parametrize(
    ("turned", "mirror", "first", "second"),
    [
        ("0", "", (100, 90), (105, 100)),
        ("90", "", (90, 100), (100, 95)),
        ("180", "", (100, 110), (95, 100)),
        ("270", "", (110, 100), (100, 105)),
        ("0", "(mirror x)", (100, 110), (105, 100)),
        ("0", "(mirror y)", (100, 90), (95, 100)),
        ("90", "(mirror x)", (90, 100), (100, 105)),
        ("90", "(mirror y)", (110, 100), (100, 95)),
    ],
)
def test_the_reader_turns_and_mirrors_symbols(
    turned: str, mirror: str, first: tuple[int, int], second: tuple[int, int]
) -> None:
    places = [pin.at for pin in one("", turned=turned, mirror=mirror).pins]
    assert places == [(first[0] * 1000, first[1] * 1000), (second[0] * 1000, second[1] * 1000)]


TOGETHER = {frozenset({("A", "1"), ("A", "2")})}
APART = {frozenset({("A", "1")}), frozenset({("A", "2")})}


@pytest.mark.parametrize(
    ("lines", "nets"),
    [
        ("", APART),
        ("(wire (pts (xy 100 90) (xy 105 90))) (wire (pts (xy 105 90) (xy 105 100)))", TOGETHER),
        ("(wire (pts (xy 100 90) (xy 105 90))) (wire (pts (xy 105 80) (xy 105 100)))", APART),
        ("(wire (pts (xy 100 90) (xy 105 90))) (wire (pts (xy 105 80) (xy 105 100))) (junction (at 105 90))", TOGETHER),
        ('(label "x" (at 100 90 0)) (global_label "x" (at 105 100 0))', TOGETHER),
        ('(label "x" (at 100 90 0)) (label "y" (at 105 100 0))', APART),
        ('(wire (pts (xy 90 90) (xy 100 90))) (label "x" (at 95 90 0)) (label "x" (at 105 100 0))', TOGETHER),
        ('(wire (pts (xy 90 90) (xy 100 90))) (label "x" (at 95 91 0)) (label "x" (at 105 100 0))', APART),
    ],
)
def test_the_reader_joins_what_touches(lines: str, nets: set[frozenset[Node]]) -> None:
    assert one(lines).nets() == nets


@pytest.mark.parametrize("what", ["wire", "global_label", "no_connect"])
def test_the_proof_notices_anything_that_is_missing(what: str) -> None:
    names = ("oakmere-riser",)
    line = next(line for line in written(names).splitlines() if line.startswith(f"  ({what} "))
    with pytest.raises(AssertionError):
        must_be_the_plan(planned(names), written(names).replace(line + "\n", "", 1))


def test_the_proof_notices_a_wrong_name_and_a_word_on_another() -> None:
    names = ("oakmere-riser",)
    with pytest.raises(AssertionError):
        must_be_the_plan(planned(names), written(names).replace('(global_label "SD0"', '(global_label "SD1"', 1))
    with pytest.raises(AssertionError):
        must_be_legible(Drawing(written(names).replace('(global_label "SD0"', f'(global_label "{"SD0" * 9}"', 1)))


# ------------------------------------------------------------------ small things


@pytest.mark.parametrize("text", ["", "SD0", "a" * 50, "WWW@@@MMM", "漢字 Ωµ − … ×", "Щит Ѫ", *AWKWARD])
def test_a_width_is_never_less_than_the_stroke_font_takes(text: str) -> None:
    assert drawn.across(text, 1524) <= width(text)


def test_a_text_is_cut_to_its_room() -> None:
    assert cut("short", 80_000) == "short"
    assert cut("a" * 100, 20_000) == "aaaaaaaaaa…"
