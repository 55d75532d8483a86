"""The bus clock of the 8-bit generation against the data sheet of the 8284A clock generator.

Source: the 8284A's data sheet: the clock output is a third of the oscillator and high for a third of the time.
The oscillator's 14.31818 MHz are the PC/104 Specification's, version 2.6, section 3.3.
"""

from __future__ import annotations

from pinmap.library import bus

OSCILLATOR_MHZ = 14.31818


def test_the_bus_clock_is_a_third_of_the_oscillator() -> None:
    clock = bus("isa-8bit").signals["BCLK"]
    assert clock.frequency == f"{OSCILLATOR_MHZ / 3:.4f} MHz" == "4.7727 MHz"
    assert clock.source_of("frequency").startswith("Data sheet of the 8284A clock generator")


def test_the_bus_clock_is_high_for_a_third_of_the_time() -> None:
    clock = bus("isa-8bit").signals["BCLK"]
    assert "one third of OSC, high for 33 % of the time" in clock.about
    assert clock.source_of("about") == clock.source_of("frequency")


def test_the_fast_mode_is_half_of_the_oscillator_and_said_to_have_no_source() -> None:
    assert f"about {OSCILLATOR_MHZ / 2:.2f} MHz (common practice, no source)" in bus("isa-8bit").signals["BCLK"].about
