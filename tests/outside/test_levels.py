"""Levels, drivers and contacts against published figures, and the 330 Ω pull-up against its driver.

Sources: makers' data sheets of the bus drivers 74LS244 and 74LS245 and of the buffers 7407 and 74LS07; PC/104
Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008 (what its drivers sink, the 330 Ω; Figure 5: a
contact); a DIN 41612 maker's data sheet. The two currents of the 330 Ω are computed from them.
"""

from __future__ import annotations

import pytest

from pinmap.electrical.facts import facts
from pinmap.electrical.signals import preferred, pull_up_current_a, smallest_pull_up
from pinmap.library import bus
from pinmap.quantity import parse

LOGIC = "Makers' data sheets of the bus drivers 74LS244 and 74LS245"
BUFFERS = "Makers' data sheets of the open-collector buffers 7407 and 74LS07"
PC104 = "PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008"
DIN = "A DIN 41612 maker's data sheet"

PUBLISHED = [
    ("high input at least", "2.0 V", LOGIC),
    ("low input at most", "0.8 V", LOGIC),
    ("low output", "0.5 V", LOGIC),
    ("high output", "2.4 V", LOGIC),
    ("bus driver gives at high output", "3 mA", LOGIC),
    ("bus driver sinks", "24 mA", LOGIC),
    ("bus driver sources", "15 mA", LOGIC),
    ("open collector sinks", "20 mA", PC104),
    ("strongest open collector sinks", "40 mA", BUFFERS),
    ("module sinks", "4 mA", PC104),
    ("contact of a pin header", "30 mΩ", PC104),
    ("contact of DIN 41612", "20 mΩ", DIN),
]
# SRDY* and its like: 330 Ω to +5 V, both with 5 %; pulled down to the low output of a bus driver.
PULL_OHMS, SUPPLY_V, PERCENT = 330, 5, 5
NOMINAL_MA, WORST_MA = 13.6, 15.2


@pytest.mark.parametrize(("name", "written", "source"), PUBLISHED)
def test_a_published_figure_stands_in_the_facts_with_its_source(name: str, written: str, source: str) -> None:
    fact = facts().constants[name]
    assert (fact.written, fact.source) == (written, source)


def test_the_330_ohm_pull_up_stays_under_the_sink_of_its_driver() -> None:
    low, sink = facts().value("low output"), facts().value("open collector sinks")
    nominal = pull_up_current_a(PULL_OHMS, SUPPLY_V, low)
    worst = pull_up_current_a(PULL_OHMS, SUPPLY_V, low, supply_percent=PERCENT, resistor_percent=PERCENT)
    assert (round(nominal * 1000, 1), round(worst * 1000, 1)) == (NOMINAL_MA, WORST_MA)
    assert worst < sink


def test_the_published_pull_up_is_within_what_its_driver_allows() -> None:
    low, sink = facts().value("low output"), facts().value("open collector sinks")
    least = smallest_pull_up(sink, SUPPLY_V, low, supply_percent=PERCENT, resistor_percent=PERCENT)
    # (5.25 V - 0.5 V) / 20 mA / 0.95, by hand.
    assert least == pytest.approx(250)
    assert preferred(least, down=False) == 270 < PULL_OHMS


@pytest.mark.parametrize("line", ["SRDY*", "MEMCS16*", "IOCS16*", "MASTER*"])
def test_the_dictionary_pulls_those_lines_by_what_the_driver_allows(line: str) -> None:
    signal = bus("isa-16bit").signals[line]
    assert signal.pull == f"{PULL_OHMS} Ω up"
    assert parse(signal.sink, "A") == facts().value("open collector sinks")
