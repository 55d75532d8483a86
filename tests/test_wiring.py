"""The plan as wires, in the order in which a person solders them."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest
from handmade import BUS8, Line, pin_map, shipped, strip
from msgspec.structs import replace

from pinmap.adapter import Adapter, Net
from pinmap.body import Body, Numbering, Section
from pinmap.design import Choice, Design, Fuse, Jumper
from pinmap.model import End, PinMap
from pinmap.parts import Part
from pinmap.planner import plan
from pinmap.remedies import carried_out
from pinmap.wiring import Point, reached, unwired, wires


def drawn(adapter: Adapter) -> list[str]:
    """Write each wire in one line: "1 wire J1.1-J2.B1 GND"."""
    return [
        f"{w.number} {w.kind} {w.start.ref}.{w.start.label}-{w.stop.ref}.{w.stop.label} {w.signal}"
        for w in wires(adapter)
    ]


def ends(host: str, card: str) -> Adapter:
    """Lay out two strips from words: "GND +5V SD0"."""

    def make(words: str, end: str) -> PinMap:
        lines = {str(n): word for n, word in enumerate(words.split(), 1)}
        return pin_map(lines, strip(max(len(lines), 1)), end=end)  # type: ignore[arg-type]

    return plan(make(host, "host"), make(card, "card"))


@pytest.mark.parametrize(
    ("host", "card", "expected"),
    [
        ("SD0", "SD0", ["1 wire J1.1-J2.1 SD0"]),
        ("SD0 GND", "GND SD0", ["1 wire J1.2-J2.1 GND", "2 wire J1.1-J2.2 SD0"]),  # returns first
        (
            "IRQ3 SD1 +5V SA0 GND SD0",
            "GND +5V SD0 SD1 SA0 IRQ3",
            [
                "1 wire J1.5-J2.1 GND",
                "2 wire J1.3-J2.2 +5V",
                "3 wire J1.6-J2.3 SD0",
                "4 wire J1.2-J2.4 SD1",
                "5 wire J1.4-J2.5 SA0",
                "6 wire J1.1-J2.6 IRQ3",
            ],
        ),
        ("GND GND", "GND", ["1 wire J1.1-J2.1 GND", "2 link J1.1-J1.2 GND"]),
        ("GND", "GND GND", ["1 wire J1.1-J2.1 GND", "2 link J2.1-J2.2 GND"]),
        ("GND GND", "GND GND", ["1 wire J1.1-J2.1 GND", "2 wire J1.2-J2.2 GND", "3 link J1.1-J1.2 GND"]),
        (
            "GND GND GND GND GND",  # the wires are spread over the longer row
            "GND GND",
            [
                "1 wire J1.1-J2.1 GND",
                "2 wire J1.3-J2.2 GND",
                "3 link J1.1-J1.2 GND",
                "4 link J1.2-J1.3 GND",
                "5 link J1.3-J1.4 GND",
                "6 link J1.4-J1.5 GND",
            ],
        ),
        ("SD0", "+5V +5V", ["1 link J2.1-J2.2 +5V"]),  # whoever feeds them, they belong together
        ("+5V +5V", "SD0", []),
        ("RESET*", "RESET", []),
        ("open", "open", []),
    ],
)
def test_a_net_becomes_one_wire_less_than_it_has_contacts(host: str, card: str, expected: list[str]) -> None:
    assert drawn(ends(host, card)) == expected


def test_returns_go_to_their_namesakes_where_both_ends_have_lettered_rows() -> None:
    adapter = plan(shipped("isa-16bit"), shipped("pc104-16bit"))
    across = [(w.start.label, w.stop.label) for w in wires(adapter) if w.kind == "wire" and w.group == "return"]
    assert across == [("B1", "B1"), ("B10", "A32"), ("B31", "B31"), ("D18", "D18")]


def test_contacts_are_taken_in_the_order_in_which_a_person_counts() -> None:
    host = pin_map({str(n): "GND" for n in (10, 9, 2)}, strip(10))
    card = pin_map({"1": "GND"}, strip(1), end="card")
    assert drawn(plan(host, card)) == [
        "1 wire J1.2-J2.1 GND",
        "2 link J1.2-J1.9 GND",
        "3 link J1.9-J1.10 GND",
    ]


def test_a_wire_carries_what_its_net_says() -> None:
    host = pin_map({"1": Line("OSC", option="video board"), "2": Line("GND", seen="guessed")}, strip(2))
    card = pin_map({"1": "OSC", "2": "GND"}, strip(2), end="card")
    ground, clock = wires(plan(host, card, ["video board"]))
    assert (ground.signal, ground.group, ground.state, ground.remark) == (
        "GND",
        "return",
        "joined",
        "rests on a guess at 2: measure first",
    )
    assert (clock.signal, clock.group, clock.state, clock.remark) == (
        "OSC",
        "timing",
        "straight",
        "only with video board",
    )


def test_a_point_has_the_pad_of_the_adapters_own_connector() -> None:
    body = Body(
        "edge slot",
        (Section(2, 2, ("A", "B")),),
        "rows",
        pads=Numbering("zigzag", "top left"),
        mate_pads=Numbering("serial", "top right"),
    )
    one = pin_map({"A1": "GND", "B1": "SD0"}, body)
    points = [(p.ref, p.label, p.pad) for w in wires(plan(one, one)) for p in (w.start, w.stop)]
    assert points == [("J1", "A1", "1"), ("J2", "A1", "1"), ("J1", "B1", "3"), ("J2", "B1", "2")]


def test_what_stays_without_a_wire_is_listed_with_its_net() -> None:
    adapter = ends("SD0 TC open RESET*", "SD0 AEN open RESET")
    assert [(net.name, net.state, point.ref, point.label) for net, point in unwired(adapter)] == [
        ("RESET", "active", "J2", "4"),
        ("RESET*", "active", "J1", "4"),
        ("card 2 AEN", "open", "J2", "2"),
        ("host 2 TC", "open", "J1", "2"),
        ("host 3 unused", "open", "J1", "3"),
        ("card 3 unused", "open", "J2", "3"),
    ]


@pytest.mark.parametrize("machine", ["oakmere-88", "brindle-portable", "tarn-rack", "isa-16bit"])
def test_every_contact_has_a_wire_or_is_listed_without_one(machine: str) -> None:
    host, card = shipped(machine), shipped("isa-8bit")
    adapter = plan(host, card)
    wired = {(p.end, p.label) for w in wires(adapter) for p in (w.start, w.stop)}
    left = {(p.end, p.label) for _, p in unwired(adapter)}
    assert not wired & left
    assert wired | left == {("host", x) for x in host.present} | {("card", x) for x in card.present}
    assert [w.number for w in wires(adapter)] == list(range(1, len(wires(adapter)) + 1))
    # No supply or return of the card is left alone where the machine has one.
    alone = {c.signal.name for net, _ in unwired(adapter) for c in net.card if c.signal and c.signal.is_power}
    assert alone == {rail.name for rail in BUS8.rails} - set(host.by_signal)


# ---------------------------------------------------------------------- with parts


def built(host: str, card: str, *choices: Choice, **more: Any) -> Adapter:
    """Carry the remedies out, without decoupling."""
    return carried_out(ends(host, card), Design("t", "h", "c", "", "", choices=choices, decoupling=False, **more))


def test_leads_come_after_all_wires_and_links_for_they_are_soldered_after_the_readings() -> None:
    made = built("+5V GND SD0 +5V", "GND +5V SD0 TC DACK1* GND DACK2*", fuses=(Fuse("+5V", 1.0),))
    assert drawn(made) == [
        "1 wire J1.2-J2.1 GND",
        "2 link J2.1-J2.6 GND",
        "3 link J1.1-J1.4 +5V",
        "4 wire J1.3-J2.3 SD0",
        "5 lead J2.1-R3.2 GND",
        "6 lead J1.1-F1.1 +5V",
        "7 lead J2.2-F1.2 +5V fused",
        "8 lead J2.2-R1.2 +5V fused",
        "9 lead J2.2-R2.2 +5V fused",
        "10 lead J2.5-R1.1 DACK1*",
        "11 lead J2.7-R2.1 DACK2*",
        "12 lead J2.4-R3.1 TC",
    ]
    assert unwired(made) == ()


def test_leads_are_spread_over_the_cards_contacts_of_their_net() -> None:
    made = built("GND +5V", "GND TC GND SA16 GND SA17 +5V SA18")
    assert [line for line in drawn(made) if "lead" in line and line.endswith("GND")] == [
        "5 lead J2.1-R1.2 GND",
        "6 lead J2.1-R2.2 GND",
        "7 lead J2.3-R3.2 GND",
        "8 lead J2.5-R4.2 GND",
    ]


def test_a_lead_ends_at_the_pad_of_a_part() -> None:
    (lead,) = [w for w in wires(built("GND +5V", "GND +5V TC")) if w.signal == "TC"]
    assert (lead.kind, lead.start, lead.stop) == (
        "lead",
        Point("card", "J2", "3", "3"),
        Point("part", "R1", "1", "1"),
    )
    assert (lead.state, lead.remark) == ("tied", "the slot does not bring it: held low by R1")


def test_the_pins_of_parts_alone_on_a_net_are_chained() -> None:
    adapter = ends("GND", "GND")
    parts = tuple(Part(f"R{n}", "resistor", "1 kΩ", "", f"part {n}", (("1", ""), ("2", ""))) for n in (1, 2, 3))
    ground = replace(adapter.nets[0], parts=tuple((p.ref, "2") for p in parts))
    middle = Net("middle", None, "own", "tied", parts=tuple((p.ref, "1") for p in parts))
    made = replace(adapter, parts=parts, nets=(ground, middle))
    assert drawn(made)[-2:] == ["5 lead R1.1-R2.1 middle", "6 lead R2.1-R3.1 middle"]
    assert unwired(made) == ()


def test_contacts_that_hold_a_part_are_not_listed_as_left_alone() -> None:
    low, jumper = Choice("AEN", "tie low"), Jumper("IRQ7", ("IRQ5",))
    made = built("GND +5V IRQ3 IRQ5", "GND +5V IRQ7 AEN DRQ1", low, jumpers=(jumper,))
    assert [(net.name, point.ref, point.label) for net, point in unwired(made)] == [
        ("host 3 IRQ3", "J1", "3"),
        ("card 5 DRQ1", "J2", "5"),
    ]


@pytest.mark.parametrize("machine", ["oakmere-88", "brindle-portable", "tarn-rack"])
def test_every_net_has_one_wire_less_than_contacts_and_pins(machine: str) -> None:
    design = Design("t", "h", "c", "", "", choices=(Choice("-5V", "regulator"), Choice("-12V", "separate feed")))
    made = carried_out(plan(shipped(machine), shipped("isa-8bit")), design)
    count = Counter(w.signal for w in wires(made))
    assert {net.name: net.size - 1 for net in made.nets if net.size > 1} == dict(count)
    pins = {(p.ref, p.pad) for w in wires(made) for p in (w.start, w.stop) if p.end == "part"}
    assert pins == {(part.ref, pad) for part in made.parts for pad, _ in part.pins}
    assert [w.number for w in wires(made)] == list(range(1, len(wires(made)) + 1))


def test_a_contact_reaches_the_other_end_through_fuses_and_jumpers_as_they_are_set() -> None:
    made = built(
        "+5V GND IRQ3 IRQ5 RESET*",
        "GND +5V IRQ7 +5V IRQ5 RESET TC",
        fuses=(Fuse("+5V", 1.0),),
        jumpers=(Jumper("IRQ7", ("IRQ3", "IRQ5")),),
    )

    def labels(end: End, *contacts: str) -> list[list[str]]:
        return [[c.label for c in reached(made, end, label)] for label in contacts]

    assert labels("host", "1", "2", "3", "4", "5") == [["2", "4"], ["1"], ["3"], ["5"], []]
    assert labels("card", "1", "2", "3", "4", "5", "6", "7") == [["2"], ["1"], ["3"], ["1"], ["4"], [], []]
