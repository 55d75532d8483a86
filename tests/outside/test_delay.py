"""Delays, critical lengths and bus clocks against published formulas and figures.

Sources: the delay of a trace in ns per foot, 1.017 · sqrt(0.475 · εr + 0.67) outer and 1.017 · sqrt(εr) inner, with
εr = 4.5 for FR-4; the 8284A clock generator's data sheet (the clock is a third of the oscillator); the oscillator's
14.31818 MHz are the PC/104 Specification's, version 2.6, section 3.3.
The edges that the critical lengths are computed for, 6 ns and 2 ns, are from memory, and the factor 2 is common
practice: the lengths follow from them and are published by nobody. Half of the oscillator is common practice too.
"""

from __future__ import annotations

import math

import pytest

from pinmap.electrical.facts import facts
from pinmap.electrical.signals import critical_mm, delay_s
from pinmap.library import bus
from pinmap.quantity import parse

FR4 = 4.5
M_PER_FOOT = 0.3048
PUBLISHED_NS_PER_FOOT = {
    "delay of an outer trace per metre": 1.017 * math.sqrt(0.475 * FR4 + 0.67),
    "delay of an inner trace per metre": 1.017 * math.sqrt(FR4),
}
OSCILLATOR_HZ = 14.31818e6


@pytest.mark.parametrize(
    ("name", "written"),
    [("delay of an outer trace per metre", "5.59 ns"), ("delay of an inner trace per metre", "7.08 ns")],
)
def test_the_delay_of_a_trace_is_what_the_published_formula_gives(name: str, written: str) -> None:
    by_formula = PUBLISHED_NS_PER_FOOT[name] / M_PER_FOOT
    assert f"{by_formula:.2f} ns" == facts().constants[name].written == written
    assert delay_s(1000, facts().value(name)) == pytest.approx(by_formula * 1e-9, rel=1e-3)
    assert facts().source(name).startswith("computed from the delay of a trace on FR-4 (εr = 4.5)")


@pytest.mark.parametrize(("edge", "metres"), [("edge of LS", "0.54"), ("edge of fast logic", "0.18")])
def test_the_critical_length_follows_from_edge_factor_and_published_delay(edge: str, metres: str) -> None:
    known = facts()
    delay = PUBLISHED_NS_PER_FOOT["delay of an outer trace per metre"] / M_PER_FOOT * 1e-9
    length = critical_mm(known.value(edge), delay, known.value("critical length factor"))
    assert f"{length / 1000:.2f}" == metres
    assert known.source(edge) == "from memory"
    assert known.source("critical length factor") == "common practice, no source"


def test_the_clock_of_the_8284a_is_a_third_of_the_oscillator() -> None:
    signals = bus("isa-8bit").signals
    assert parse(signals["OSC"].frequency, "Hz") == pytest.approx(OSCILLATOR_HZ, rel=1e-12)
    assert f"{OSCILLATOR_HZ / 3 / 1e6:.4f} MHz" == signals["BCLK"].frequency == "4.7727 MHz"
    assert signals["BCLK"].source_of("frequency").startswith("Data sheet of the 8284A clock generator")


def test_the_fast_mode_of_practice_is_half_of_the_oscillator() -> None:
    signals = bus("isa-8bit").signals
    half = parse(signals["OSC"].frequency, "Hz") / 2
    assert f"{half / 1e6:.5f}" == "7.15909"
    assert f"{half / 1e6:.2f} MHz (common practice, no source)" in signals["BCLK"].about
