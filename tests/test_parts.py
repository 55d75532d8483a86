"""The bill of materials: whole files, every piece counted once, and nothing that a spreadsheet would change."""

from __future__ import annotations

import csv
import io
from typing import get_args

import pytest
from handmade import pin_map, strip
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

import pinmap
from pinmap import planner
from pinmap.adapter import Unmapped
from pinmap.model import Remedy, RemedyKind
from pinmap.text import visible
from pinmap.writers.cells import at_risk, unworded
from pinmap.writers.parts import IN_PLAN, NAMED, PARTS, PARTS_COLUMNS, parts_csv

PAIRS = [
    ("oakmere-88", "isa-8bit"),
    ("oakmere-88", "isa-16bit"),
    ("tarn-rack", "isa-16bit"),
    ("isa-16bit", "pc104-16bit"),
    ("isa-8bit", "brindle-portable"),
]

OAKMERE = """\
item,quantity,part,use,reference,size,pitch,gender,footprint,value,fed from or joined to,for,contacts,status,note,verdict
1,1,socket header,meets the machine,J1,size 2×32,pitch 2.54 mm,,footprint Connector_PinSocket_2.54mm:PinSocket_2x32_P2.54mm_Vertical,,,for Oakmere 88 cabinet header,,in the netlist,,build with care
2,1,edge slot,takes the card,J2,size 2×31,pitch 2.54 mm,,footprint pinmap:ISA_Slot_62,,,"for ISA slot, 8-bit",,in the netlist,,build with care
3,11,wire,return,,,,,,,,,,in the netlist,"note: 11 of 64 wires and links; thick for what the rail carries, and short",build with care
4,5,wire,supply,,,,,,,,,,in the netlist,"note: 5 of 64 wires and links; thick for what the rail carries, and short",build with care
5,8,wire,data,,,,,,,,,,in the netlist,note: 8 of 64 wires and links; thin wire will do,build with care
6,20,wire,address,,,,,,,,,,in the netlist,note: 20 of 64 wires and links; thin wire will do,build with care
7,4,wire,command,,,,,,,,,,in the netlist,note: 4 of 64 wires and links; thin wire will do,build with care
8,3,wire,control,,,,,,,,,,in the netlist,note: 3 of 64 wires and links; thin wire will do,build with care
9,2,wire,timing,,,,,,,,,,in the netlist,"note: 2 of 64 wires and links; thin and short, away from the other wires",build with care
10,5,wire,interrupt,,,,,,,,,,in the netlist,note: 5 of 64 wires and links; thin wire will do,build with care
11,6,wire,DMA,,,,,,,,,,in the netlist,note: 6 of 64 wires and links; thin wire will do,build with care
12,1,voltage regulator,regulator,,,,,,value -5 V,from -12V,for -5V,J2 B5,"named, not yet in the netlist",note: A small negative regulator fed from -12V gives the little current that cards draw here; leave it out if the card does not use the rail.,build with care
13,1,oscillator,oscillator,,,,,,value 14.31818 MHz,to OSC,for OSC,J2 B30,"named, not yet in the netlist","note: The line is not in step with the bus, so a canned oscillator at the card replaces it fully.",build with care
14,1,jumper,jumper,,,,,,,,for IRQ7,J2 B21,"named, not yet in the netlist","note: Leave the contact open and set the card, or a jumper on the adapter, to an interrupt that the slot brings; the software must be told.",build with care
15,1,resistor,pull up,,,,,,value 10 kΩ,to +5V,for DACK3*,J2 B15,"named, not yet in the netlist","note: Held high, the card never sees an acknowledge; left open, noise could make it answer in the middle of other cycles.",build with care
"""  # noqa: E501


def rows_of(adapter: pinmap.Adapter) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(parts_csv(adapter), newline="")))


def small(*unmapped: Unmapped) -> pinmap.Adapter:
    """Two wires between two strips of three, with these signals that do not map."""
    contacts = {"1": "GND", "2": "SD0"}
    adapter = planner.plan(pin_map(contacts, strip(3)), pin_map(contacts, strip(3), end="card"))
    return replace(adapter, unmapped=unmapped)


def missing(signal: str, remedy: Remedy, *contacts: str, end: pinmap.End = "card") -> Unmapped:
    return Unmapped(signal, end, "the slot does not bring it", "", remedy, contacts)


def test_the_whole_bill_of_materials_of_a_shipped_pair() -> None:
    assert parts_csv(pinmap.adapt("oakmere-88", "isa-8bit")) == OAKMERE.replace("\n", "\r\n")


def test_the_same_plan_gives_the_same_bytes_and_a_byte_order_mark_only_if_asked_for() -> None:
    once, again = (pinmap.adapt("oakmere-88", "isa-16bit") for _ in range(2))
    assert parts_csv(once) == parts_csv(again)
    assert parts_csv(once, bom=True).encode("utf-8") == b"\xef\xbb\xbf" + parts_csv(once).encode("utf-8")


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_a_printed_board_has_no_wires_and_all_else_is_numbered_on(host: str, card: str) -> None:
    adapter = pinmap.adapt(host, card)
    board = list(csv.DictReader(io.StringIO(parts_csv(adapter, wires=False), newline="")))
    rest = [row for row in rows_of(adapter) if row["part"] != "wire"]
    assert len(rest) < len(rows_of(adapter))
    assert board == [row | {"item": str(item)} for item, row in enumerate(rest, 1)]


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_every_piece_is_counted_once(host: str, card: str) -> None:
    adapter = pinmap.adapt(host, card)
    rows = rows_of(adapter)
    assert [int(row["item"]) for row in rows] == list(range(1, len(rows) + 1))
    assert {row["verdict"] for row in rows} == {adapter.verdict}
    connectors, wire = rows[:2], [r for r in rows[2:] if r["part"] == "wire"]
    named = [r for r in rows[2:] if r["part"] != "wire"]
    assert [(r["reference"], r["quantity"], unworded(r["footprint"])) for r in connectors] == [
        ("J1", "1", adapter.host_connector.body.footprint),
        ("J2", "1", adapter.card_connector.body.footprint),
    ]
    assert sum(int(r["quantity"]) for r in wire) == len(pinmap.wires(adapter))
    assert list(dict.fromkeys(w.group for w in pinmap.wires(adapter))) == [r["use"] for r in wire]
    wanted = [u.signal for u in adapter.unmapped if u.end == "card" and u.remedy.kind not in ("leave open", "none")]
    found = [signal for r in named for signal in unworded(r["for"]).split(", ")]
    assert sorted(found) == sorted(wanted)
    assert sum(int(r["quantity"]) for r in named) == len(wanted)
    assert {r["status"] for r in connectors + wire} == {IN_PLAN}
    assert {r["status"] for r in named} <= {NAMED}


def test_signals_with_the_same_remedy_share_a_line() -> None:
    held = Remedy("pull up", "held high", "10 kΩ", "+5V")
    other = Remedy("pull up", "for another reason", "10 kΩ", "+5V")
    adapter = small(missing("A*", held, "1"), missing("B*", other, "2"), missing("C*", held, "3"))
    assert [
        (r["quantity"], r["part"], r["value"], r["fed from or joined to"], r["for"], r["contacts"], r["note"])
        for r in rows_of(adapter)
        if r["status"] == NAMED
    ] == [
        ("2", "resistor", "value 10 kΩ", "to +5V", "for A*, C*", "J2 1, 3", "note: held high"),
        ("1", "resistor", "value 10 kΩ", "to +5V", "for B*", "J2 2", "note: for another reason"),
    ]


def test_a_rail_on_several_contacts_needs_one_regulator() -> None:
    (row,) = rows_of(small(missing("-5V", Remedy("regulator", "", "-5 V", "-12V"), "2", "3")))[4:]
    assert list(row.values()) == [
        *("5", "1", "voltage regulator", "regulator", "", "", "", "", "", "value -5 V", "from -12V", "for -5V"),
        *("J2 2, 3", NAMED, "", "do not build"),
    ]


def test_a_gate_that_both_ends_speak_of_is_one_gate() -> None:
    adapter = pinmap.adapt("isa-8bit", "brindle-portable")
    assert [u.end for u in adapter.unmapped if u.remedy.kind == "inverter"] == ["card", "host"]
    gates = [r for r in rows_of(adapter) if r["part"] == "inverter gate"]
    assert [(r["quantity"], r["for"], r["contacts"]) for r in gates] == [("1", "for RESET*", "J2 23")]


@pytest.mark.parametrize("kind", get_args(RemedyKind))
def test_every_remedy_but_leaving_it_is_a_part(kind: RemedyKind) -> None:
    rows = rows_of(small(missing("X", Remedy(kind, "because"), "2")))[4:]
    if kind in ("leave open", "none"):
        assert rows == []
    else:
        assert [(r["part"], r["use"], r["status"]) for r in rows] == [(PARTS[kind], kind, NAMED)]


def test_a_card_edge_is_part_of_the_board_and_a_gender_is_said_where_it_is_known() -> None:
    first, second = rows_of(pinmap.adapt("isa-16bit", "pc104-16bit"))[:2]
    assert (first["part"], first["size"], first["note"]) == (
        "edge fingers",
        "size 2×31 + 2×18",
        "note: part of the adapter's own board",
    )
    assert (second["part"], second["size"], second["note"]) == ("socket header", "size 2×32 + 2×20", "")
    body = replace(strip(3), gender="male")
    both = planner.plan(pin_map({"1": "GND"}, body), pin_map({"1": "GND"}, body, end="card"))
    assert [r["gender"] for r in rows_of(both)[:2]] == ["female", "female"]


texts = st.text(st.characters(codec="utf-8"), max_size=12)


@settings(derandomize=True, deadline=None, max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(texts, texts, texts, texts, texts, st.sampled_from(sorted(PARTS)))
def test_any_text_comes_back_behind_its_word(
    signal: str, value: str, to: str, why: str, title: str, kind: RemedyKind
) -> None:
    adapter = small(missing(signal, Remedy(kind, why, value, to), "2"))
    host = replace(adapter.host, title=title, body=replace(adapter.host.body, mate_footprint=signal))
    rows = rows_of(replace(adapter, host=host))
    assert tuple(rows[0]) == PARTS_COLUMNS
    numbers = ("item", "quantity")
    assert not [cell for row in rows for column, cell in row.items() if column not in numbers and at_risk(cell)]
    assert all(row[column].isdecimal() for row in rows for column in numbers)
    assert (unworded(rows[0]["for"]), unworded(rows[0]["footprint"])) == (visible(title), visible(signal))
    last = rows[-1]
    said = [unworded(last[column]) for column in ("for", "value", "fed from or joined to", "note")]
    assert said == [visible(text) for text in (signal, value, to, why)]
