"""The ISA and PC/104 connectors and both dictionaries against the PC/104 Specification.

Source: PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008, an open standard that carries
the ISA signals. The 104 contacts are in `data/pc104_pinout.csv`; other figures stand below, each with its section.
"""

from __future__ import annotations

import csv
import math
from itertools import combinations
from pathlib import Path

import pytest

from pinmap import Signal, load_map
from pinmap.library import bus
from pinmap.naming import Names

SPECIFICATION = "PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008"
LINES = (Path(__file__).parent / "data" / "pc104_pinout.csv").read_text("utf-8").splitlines()
TABLE = {row["contact"]: row for row in csv.DictReader(line for line in LINES if not line.startswith("#"))}
BUSES = ("isa-8bit", "isa-16bit")

# Appendix B, Table 2 is the 16-bit generation. What the slots and the 8-bit generation have in its place (same table;
# the open KiCad symbol library's Bus_ISA_8bit and Bus_ISA_16bit agree on B10 and B19).
SLOT_INSTEAD = {"B10": "GND"}
EIGHT_BIT_INSTEAD = {
    "B4": "IRQ2",
    "B8": "RESERVED",
    "B10": "GND",
    "B11": "MEMW*",
    "B12": "MEMR*",
    "B19": "DACK0*",
}
# The contacts that PC/104 adds to the slots.
ADDED = {"A32", "B32", "C0", "C19", "D0", "D19"}


def published(*rows: str) -> dict[str, str]:
    """What the published table says of these rows, by contact."""
    return {contact: entry["name"].replace("KEY", "key") for contact, entry in TABLE.items() if contact[0] in rows}


def slot(*rows: str) -> dict[str, str]:
    return {contact: name for contact, name in published(*rows).items() if contact not in ADDED} | SLOT_INSTEAD


CONNECTORS = {
    "pc104-16bit": published("A", "B", "C", "D"),
    "pc104-8bit": published("A", "B"),
    "isa-16bit": slot("A", "B", "C", "D"),
    "isa-8bit": slot("A", "B") | EIGHT_BIT_INSTEAD,
}


def lines(connector: str) -> list[tuple[str, Signal]]:
    """The lines of a connector with their contacts, those excepted of which the published table says nothing."""
    return [
        (contact.label, contact.signal)
        for contact in load_map(connector).contacts
        if contact.signal and contact.name != "RESERVED" and contact.label != "B10"
    ]


def test_the_copied_table_is_whole() -> None:
    numbers = {"A": range(1, 33), "B": range(1, 33), "C": range(20), "D": range(20)}
    assert list(TABLE) == [f"{row}{n}" for row, several in numbers.items() for n in several]


@pytest.mark.parametrize(
    ("connector", "contacts"), [("pc104-16bit", 104), ("pc104-8bit", 64), ("isa-16bit", 98), ("isa-8bit", 62)]
)
def test_a_connector_says_what_the_specification_says_contact_by_contact(connector: str, contacts: int) -> None:
    wanted = CONNECTORS[connector]
    assert len(wanted) == contacts
    assert {contact.label: contact.name for contact in load_map(connector).contacts} == wanted


@pytest.mark.parametrize("connector", CONNECTORS)
def test_no_contact_has_a_polarity_of_its_own_and_none_rests_on_a_guess(connector: str) -> None:
    contacts = load_map(connector).contacts
    assert [c.label for c in contacts if c.inverted or c.renamed or c.option or c.seen != "manual"] == []


@pytest.mark.parametrize("connector", CONNECTORS)
def test_a_line_is_active_low_where_the_specification_marks_it(connector: str) -> None:
    wanted = {"yes": "low", "no": "high"}
    assert {label: signal.active for label, signal in lines(connector) if not signal.is_power} == {
        label: wanted[TABLE[label]["active_low"]] for label, signal in lines(connector) if not signal.is_power
    }
    assert {signal.active for _, signal in lines(connector) if signal.is_power} == {"none"}


@pytest.mark.parametrize("connector", CONNECTORS)
def test_a_line_is_driven_by_whom_the_specification_names(connector: str) -> None:
    # Section 3. The dictionaries call the host the driver also of what a DMA controller or a master drives.
    assert {label: signal.driver for label, signal in lines(connector)} == {
        label: TABLE[label]["driver"].replace("host or master", "host") for label, _ in lines(connector)
    }


@pytest.mark.parametrize("name", BUSES)
def test_the_driver_and_the_active_level_cite_the_specification(name: str) -> None:
    # All but the reserved contact of the 8-bit slot, which the specification does not know.
    signals = [s for s in bus(name).signals.values() if s.name != "RESERVED"]
    assert {s.source_of(fact) for s in signals for fact in ("driver", "active")} == {SPECIFICATION}


@pytest.mark.parametrize("contact", [c for c, row in TABLE.items() if row["name"] != "KEY"])
def test_both_the_present_and_the_older_spelling_of_a_name_are_understood(contact: str) -> None:
    names = Names(bus("isa-16bit"))
    for spelling in (TABLE[contact]["name"], TABLE[contact]["older_name"]):
        reading = names.read(spelling)
        assert reading is not None
        assert (reading.signal.name, reading.inverted("used")) == (TABLE[contact]["name"], False)


# The names by generation: Appendix B, Table 2, with the open KiCad symbol library's Bus_ISA_8bit and Bus_ISA_16bit.
@pytest.mark.parametrize(
    ("name", "spelling", "line"),
    [
        (name, spelling, line)
        for name in BUSES
        for spelling, line in [
            ("ALE", "BALE"),
            ("CLK", "BCLK"),
            ("SYSCLK", "BCLK"),
            ("RESET DRV", "RESET"),
            ("I/O CH CK*", "IOCHK*"),
            ("IOCHCHK*", "IOCHK*"),
            ("I/O CH RDY", "IOCHRDY"),
        ]
    ]
    + [("isa-16bit", f"{spelling}*", "SRDY*") for spelling in ("0WS", "NOWS", "ENDXFR")]
    + [("isa-16bit", "MASTER16*", "MASTER*")],
)
def test_the_names_of_either_generation_are_understood(name: str, spelling: str, line: str) -> None:
    reading = Names(bus(name)).read(spelling)
    assert reading is not None
    assert (reading.signal.name, reading.inverted("used")) == (line, False)


# Table 1 and section 4.8: every rail ±5 % at the connector, and the maximum per module.
@pytest.mark.parametrize(
    ("rail", "volts", "amperes"),
    [("+5V", 5.0, 2.0), ("+12V", 12.0, 1.0), ("-5V", -5.0, 0.2), ("-12V", -12.0, 0.3)],
)
@pytest.mark.parametrize("name", BUSES)
def test_a_rail_has_the_published_tolerance_and_current_per_module(
    name: str, rail: str, volts: float, amperes: float
) -> None:
    signal = bus(name).signals[rail]
    assert (signal.volts, signal.tolerance_percent, signal.current_a) == (volts, 5.0, amperes)
    assert {signal.source_of(fact) for fact in ("volts", "tolerance", "current")} == {SPECIFICATION}


def test_there_are_no_other_rails() -> None:
    assert [[s.name for s in bus(name).rails] for name in BUSES] == [["+5V", "-5V", "+12V", "-12V"]] * 2


# Section 3.3.
@pytest.mark.parametrize("name", BUSES)
def test_the_oscillator_line_has_the_published_frequency_and_duty(name: str) -> None:
    osc = bus(name).signals["OSC"]
    assert (osc.frequency, osc.source_of("frequency")) == ("14.31818 MHz", SPECIFICATION)
    assert osc.absent is not None
    assert osc.absent.remedy.value == "14.31818 MHz"
    assert "45 to 55 % of the time (PC/104 Specification, s. 3.3)" in osc.about


# Section 3.3: 6 to 8 MHz, ±500 ppm, about half of the time high.
def test_the_bus_clock_of_the_16_bit_generation_has_the_published_frequency() -> None:
    clock = bus("isa-16bit").signals["BCLK"]
    assert (clock.frequency, clock.source_of("frequency")) == ("6-8 MHz", SPECIFICATION)
    assert "about half of the time, within 500 ppm" in clock.about
    assert clock.source_of("about") == SPECIFICATION
    assert "6-8 MHz (PC/104 Specification, s. 3.3)" in bus("isa-8bit").signals["BCLK"].about


# Section C.4: the interrupt lines. The four open-collector lines: 330 Ω, and their drivers sink 20 mA.
STRONG = ("SRDY*", "MEMCS16*", "IOCS16*", "MASTER*")
INTERRUPTS = {"isa-8bit": (2, 3, 4, 5, 6, 7), "isa-16bit": (3, 4, 5, 6, 7, 9, 10, 11, 12, 14, 15)}


@pytest.mark.parametrize("name", BUSES)
def test_exactly_the_published_pull_ups_are_given_as_published(name: str) -> None:
    wanted = {f"IRQ{n}": "2.2 kΩ up" for n in INTERRUPTS[name]}
    if name == "isa-16bit":
        wanted |= dict.fromkeys(STRONG, "330 Ω up")
    given = {s.name: s.pull for s in bus(name).signals.values() if s.pull and s.source_of("pull") == SPECIFICATION}
    assert given == wanted


@pytest.mark.parametrize("name", BUSES)
def test_every_other_pull_is_said_to_be_from_memory(name: str) -> None:
    others = {s.source_of("pull") for s in bus(name).signals.values() if s.pull}
    assert others == {SPECIFICATION, "from memory"}


@pytest.mark.parametrize("line", STRONG)
def test_a_card_pulls_the_four_strong_lines_down_with_an_open_collector(line: str) -> None:
    signal = bus("isa-16bit").signals[line]
    assert (signal.output, signal.driver, signal.idle, signal.sink) == ("open collector", "card", "high", "20 mA")
    assert {signal.source_of(fact) for fact in ("output", "sink", "pull")} == {SPECIFICATION}


def test_no_other_line_has_a_published_sink_current() -> None:
    assert [[s.name for s in bus(name).signals.values() if s.sink] for name in BUSES] == [[], list(STRONG)]


def test_the_published_pull_up_stays_within_the_published_sink_current() -> None:
    # Computed: the highest +5 V (s. 4.8), the lowest 330 Ω of a 5 % part, 0.5 V left at the driver.
    worst_ma = (5.0 * 1.05 - 0.5) / (330 * 0.95) * 1000
    assert worst_ma == pytest.approx(15.2, abs=0.05)
    assert worst_ma < 20


# ---------------------------------------------------------------------- geometry


@pytest.mark.parametrize("connector", ["pc104-16bit", "pc104-8bit"])
def test_pitch_row_pitch_and_rating_are_those_of_figure_5(connector: str) -> None:
    body = load_map(connector).body
    assert (body.pitch_mm, body.row_pitch_mm, body.rating_a) == (2.54, 2.54, 1.0)
    cited = dict(body.sources)
    assert {cited[fact] for fact in ("pitch", "row pitch", "rating")} == {"PC/104 Specification, version 2.6, Figure 5"}


def place(contact: str) -> tuple[float, float]:
    return float(TABLE[contact]["x_mm"]), float(TABLE[contact]["y_mm"])


@pytest.mark.parametrize("connector", ["pc104-16bit", "pc104-8bit"])
def test_the_contacts_lie_apart_as_published(connector: str) -> None:
    # Distances know no side: this holds whether or not the side below is remembered rightly.
    body = load_map(connector).body
    for one, other in combinations(body.labels, 2):
        assert body.distance_mm(one, other) == pytest.approx(math.dist(place(one), place(other)), abs=0.002), (
            one,
            other,
        )


@pytest.mark.parametrize("connector", ["pc104-16bit", "pc104-8bit"])
def test_the_contacts_lie_as_published_when_the_coordinates_are_taken_as_seen_from_the_mating_face(
    connector: str,
) -> None:
    # From memory, not published: the coordinates are seen from the side of the sockets, y upwards. Turned a quarter
    # so that the numbers run from right to left, every contact must fall on its place in the body, whose y runs down.
    body = load_map(connector).body
    x0, y0 = place("B1")
    moved = {label: (y0 - place(label)[1], x0 - place(label)[0]) for label in body.labels}
    origin = body.spots["B1"]
    for label, spot in body.spots.items():
        assert (spot.x_mm - origin.x_mm, spot.y_mm - origin.y_mm) == pytest.approx(moved[label], abs=0.002), label


@pytest.mark.parametrize("connector", ["pc104-16bit", "pc104-8bit"])
def test_that_the_side_is_from_memory_is_said_where_the_map_is_read(connector: str) -> None:
    pin_map = load_map(connector)
    assert "From which side the published coordinates are seen is from memory" in pin_map.about
    assert dict(pin_map.body.sources)["first"].startswith("from memory")
