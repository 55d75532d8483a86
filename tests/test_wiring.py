"""The plan as wires, in the order in which a person solders them."""

from __future__ import annotations

import pytest
from handmade import BUS8, Line, pin_map, shipped, strip

from pinmap.adapter import Adapter
from pinmap.body import Body, Numbering, Section
from pinmap.model import PinMap
from pinmap.planner import plan
from pinmap.wiring import unwired, wires


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
