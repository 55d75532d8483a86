"""Formulas of wires, traces, pulls and delays: what must hold for any size; and the facts that they stand on."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap import library
from pinmap.dictionaries import DictionaryError
from pinmap.electrical import conductors, signals
from pinmap.electrical.facts import Fact, facts, measured, read_facts
from pinmap.electrical.signals import SERIES, Series

steady = settings(deadline=None, derandomize=True)

close = pytest.approx


def sizes(least: float, most: float) -> st.SearchStrategy[float]:
    return st.floats(least, most, allow_nan=False)


LENGTHS = sizes(0, 1e5)  # mm
WIDTHS = sizes(0.05, 50)  # mm
COPPER = sizes(5, 210)  # µm
AMPS = sizes(1e-3, 30)
RISES = sizes(0.1, 100)  # K
OHMS = sizes(1e-3, 1e8)
GAUGES = st.integers(0, 40)


# ---------------------------------------------------------------------- conductors


@steady
@given(LENGTHS, LENGTHS, sizes(1e-4, 10))
def test_more_length_is_never_less_resistance_and_lengths_add_up(one: float, other: float, per_m: float) -> None:
    short, long = sorted((one, other))
    assert conductors.ohms_along(short, per_m) <= conductors.ohms_along(long, per_m)
    both = conductors.ohms_along(one, per_m) + conductors.ohms_along(other, per_m)
    assert conductors.ohms_along(one + other, per_m) == close(both)


@steady
@given(GAUGES, GAUGES)
def test_a_thicker_wire_is_never_more_resistance_and_never_melts_sooner(one: int, other: int) -> None:
    thick, thin = sorted((one, other))
    assert conductors.wire_ohm_per_m(thick) <= conductors.wire_ohm_per_m(thin)
    thick_mm, thin_mm = conductors.wire_diameter_mm(thick), conductors.wire_diameter_mm(thin)
    assert thick_mm >= thin_mm
    assert conductors.fusing_a(thick_mm) >= conductors.fusing_a(thin_mm)


def test_a_thicker_wire_of_the_table_is_less_resistance_and_carries_more() -> None:
    table = [conductors.wire(awg) for awg in facts().wires]
    for thick, thin in pairwise(table):
        assert thick.diameter_mm > thin.diameter_mm
        assert thick.ohm_per_m < thin.ohm_per_m
    carried = [wire.carries_a for wire in table if wire.carries_a is not None]
    assert carried == sorted(carried, reverse=True)
    assert [wire.awg for wire in table if wire.carries_a is not None] == [22, 24, 26, 28, 30]


def test_no_wire_is_said_to_carry_what_melts_it() -> None:
    for wire in facts().wires.values():
        assert (wire.carries_a or 0) < conductors.fusing_a(wire.diameter_mm)


@steady
@given(WIDTHS, WIDTHS, COPPER, AMPS, RISES, st.booleans())
def test_a_wider_trace_is_never_more_resistance_or_rise_and_never_less_current(
    one: float, other: float, copper: float, amps: float, rise: float, inner: bool
) -> None:
    narrow, wide = sorted((one, other))
    assert conductors.trace_ohm_per_m(wide, copper) <= conductors.trace_ohm_per_m(narrow, copper)
    assert conductors.trace_rise_k(wide, copper, amps, inner=inner) <= conductors.trace_rise_k(
        narrow, copper, amps, inner=inner
    )
    assert conductors.trace_current_a(wide, copper, rise, inner=inner) >= conductors.trace_current_a(
        narrow, copper, rise, inner=inner
    )


@steady
@given(WIDTHS, COPPER, AMPS, RISES, st.booleans())
def test_width_rise_and_current_of_a_trace_lead_back_to_each_other(
    width: float, copper: float, amps: float, rise: float, inner: bool
) -> None:
    wide = conductors.trace_width_mm(amps, rise, copper, inner=inner)
    assert conductors.trace_current_a(wide, copper, rise, inner=inner) == close(amps)
    assert conductors.trace_rise_k(wide, copper, amps, inner=inner) == close(rise)
    carried = conductors.trace_current_a(width, copper, rise, inner=inner)
    assert conductors.trace_width_mm(carried, rise, copper, inner=inner) == close(width)


@steady
@given(WIDTHS, COPPER, RISES)
def test_an_inner_trace_carries_half_of_an_outer_one(width: float, copper: float, rise: float) -> None:
    outer = conductors.trace_current_a(width, copper, rise)
    assert conductors.trace_current_a(width, copper, rise, inner=True) == close(outer / 2)


@steady
@given(WIDTHS, COPPER)
def test_a_trace_and_a_wire_of_the_same_section_have_the_same_resistance(width: float, copper: float) -> None:
    # The same copper: Ω per m times section is the same for both.
    section = math.pi / 4 * conductors.wire_diameter_mm(30) ** 2
    alike = conductors.wire_ohm_per_m(30) * section / (width * copper / 1000)
    assert conductors.trace_ohm_per_m(width, copper) == close(alike)


def test_nothing_flowing_warms_nothing_and_needs_no_width() -> None:
    assert conductors.trace_rise_k(1, 35, 0) == 0
    assert conductors.trace_width_mm(0, 20, 35) == 0
    assert conductors.ohms_along(0, 0.2) == 0


@steady
@given(sizes(0, 1e6), sizes(-55, 155), sizes(-55, 155))
def test_warmer_copper_is_never_less_resistance(ohms: float, one: float, other: float) -> None:
    cold, hot = sorted((one, other))
    assert conductors.ohms_at(ohms, cold) <= conductors.ohms_at(ohms, hot)
    assert conductors.ohms_at(ohms, 20) == ohms


def test_copper_at_70_degrees_has_a_fifth_more() -> None:
    assert conductors.ohms_at(1, 70) == close(1.1965)  # 1 + 0.00393 · 50, by hand


# ---------------------------------------------------------------------- pulls


@steady
@given(st.lists(OHMS, min_size=1, max_size=6), st.lists(OHMS, min_size=1, max_size=6))
def test_resistors_side_by_side_add_up_however_they_are_grouped(some: list[float], others: list[float]) -> None:
    together = signals.parallel(*some, *others)
    assert together == close(signals.parallel(signals.parallel(*some), signals.parallel(*others)))
    assert together <= min(*some, *others) * (1 + 1e-12)
    # What each takes from 5 V adds up to what all take.
    each = sum(signals.pull_up_current_a(ohms, 5, 0.5) for ohms in (*some, *others))
    assert signals.pull_up_current_a(together, 5, 0.5) == close(each)


def test_one_resistor_alone_is_itself() -> None:
    assert signals.parallel(49) == 49  # 1 / (1 / 49) is not


@steady
@given(OHMS, st.integers(1, 20))
def test_equal_resistors_side_by_side_share_evenly(ohms: float, count: int) -> None:
    assert signals.parallel(*[ohms] * count) == close(ohms / count)


TOLERANCES = sizes(0, 20)


@steady
@given(sizes(2e-3, 0.1), sizes(0, 1.9e-3), TOLERANCES, TOLERANCES)
def test_the_smallest_pull_up_leaves_its_driver_just_what_the_loads_take(
    sink: float, loads: float, supply: float, parts: float
) -> None:
    least = signals.smallest_pull_up(sink, 5, 0.5, loads_a=loads, supply_percent=supply, resistor_percent=parts)
    worst = signals.pull_up_current_a(least, 5, 0.5, supply_percent=supply, resistor_percent=parts)
    assert worst + loads == close(sink)
    chosen = signals.preferred(least, down=False)
    worst = signals.pull_up_current_a(chosen, 5, 0.5, supply_percent=supply, resistor_percent=parts)
    assert worst + loads <= sink * (1 + 1e-12)


@steady
@given(sizes(2e-3, 0.1), sizes(0, 1.9e-3), TOLERANCES)
def test_the_smallest_pull_down_leaves_its_driver_just_what_the_loads_take(
    source: float, loads: float, parts: float
) -> None:
    least = signals.smallest_pull_down(source, 2.4, loads_a=loads, resistor_percent=parts)
    assert signals.pull_down_current_a(least, 2.4, resistor_percent=parts) + loads == close(source)


@steady
@given(sizes(1e-6, 0.1), TOLERANCES, TOLERANCES)
def test_the_largest_pulls_hold_a_valid_level_under_their_loads(loads: float, supply: float, parts: float) -> None:
    up = signals.largest_pull_up(loads, 5, 2, supply_percent=supply, resistor_percent=parts)
    assert 5 * (1 - supply / 100) - loads * up * (1 + parts / 100) == close(2)
    down = signals.largest_pull_down(loads, 0.8, resistor_percent=parts)
    assert loads * down * (1 + parts / 100) == close(0.8)


def test_a_pull_without_loads_may_be_as_large_as_one_likes() -> None:
    assert signals.largest_pull_up(0, 5, 2) == signals.largest_pull_down(0, 0.8) == math.inf


def test_a_pull_down_for_two_inputs_of_ls_logic_is_at_most_1_kilohm() -> None:
    # 0.8 V / (2 · 0.4 mA), by hand; with 5 % parts 952 Ω, of which E12 has 820 Ω.
    known = facts()
    loads = known.value("loads of a slot") * known.value("LS input low")
    low, parts = known.value("low input at most"), known.value("resistor tolerance")
    assert signals.largest_pull_down(loads, low) == close(1000)
    assert signals.preferred(signals.largest_pull_down(loads, low, resistor_percent=parts)) == 820


@steady
@given(OHMS, st.sampled_from(list(SERIES)))
def test_a_preferred_value_is_of_its_series_and_never_past_its_bound(ohms: float, series: Series) -> None:
    below, above = signals.preferred(ohms, series), signals.preferred(ohms, series, down=False)
    assert below <= ohms <= above
    for value in (below, above):
        decade = 10.0 ** (1 - math.floor(math.log10(value) + 1e-9))
        assert value * decade == close(round(value * decade))
        assert round(value * decade) in SERIES[series]
    # Nothing of the series lies between: the two are one value, or neighbours, which are never a factor of 2.2 apart.
    assert below == above or signals.preferred(math.nextafter(above, 0), series) == below
    assert signals.preferred(below, series) == below
    assert signals.preferred(above, series, down=False) == above


@pytest.mark.parametrize(
    ("ohms", "series", "down", "expected"),
    [
        (330, "E12", True, 330),
        (329.9, "E12", True, 270),
        (330.1, "E12", False, 390),
        (0.33, "E12", True, 0.33),
        (0.47, "E12", True, 0.47),
        (3.3, "E12", False, 3.3),
        (99, "E12", True, 82),
        (99, "E12", False, 100),
        (9_999, "E24", True, 9_100),
        (4_800, "E6", True, 4_700),
        (4_800, "E3", False, 10_000),
        (1, "E12", True, 1),
    ],
)
def test_preferred_values_are_those_that_a_shop_has(ohms: float, series: Series, down: bool, expected: float) -> None:
    assert signals.preferred(ohms, series, down=down) == expected


def test_the_series_are_these() -> None:
    assert SERIES["E12"] == (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
    assert SERIES["E6"] == (10, 15, 22, 33, 47, 68)
    assert SERIES["E3"] == (10, 22, 47)
    assert set(SERIES["E12"]) < set(SERIES["E24"])
    assert len(SERIES["E24"]) == 24


# ---------------------------------------------------------------------- lengths


@steady
@given(sizes(1e-10, 1e-6), sizes(1e-9, 1e-8), sizes(2, 20))
def test_an_edge_takes_its_factor_th_part_along_the_critical_length(edge: float, per_m: float, factor: float) -> None:
    critical = signals.critical_mm(edge, per_m, factor)
    assert signals.delay_s(critical, per_m) * factor == close(edge)


@steady
@given(LENGTHS, LENGTHS, sizes(1e-9, 1e-8))
def test_more_length_is_never_less_delay(one: float, other: float, per_m: float) -> None:
    short, long = sorted((one, other))
    assert signals.delay_s(short, per_m) <= signals.delay_s(long, per_m)


# ---------------------------------------------------------------------- sizes that nothing can have


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        (lambda: conductors.wire(21), "a wire must be of a size in the wire table, 22, 23, 24, 25, 26, 27, 28, 29 or 30"
         " AWG, not 21 AWG"),
        (lambda: conductors.wire_diameter_mm(-1), "a wire size must be a whole number from 0 to 40 AWG, not -1 AWG"),
        (lambda: conductors.wire_ohm_per_m(41), "a wire size must be a whole number from 0 to 40 AWG, not 41 AWG"),
        (lambda: conductors.trace_ohm_per_m(0, 35), "a width must be more than 0 mm, not 0 mm"),
        (lambda: conductors.trace_ohm_per_m(1, -35), "copper must be more than 0 µm, not -35 µm"),
        (lambda: conductors.trace_ohm_per_m(1e300, 35), "a width must be from 1e-12 to 1e+12 mm, not 1e+300 mm"),
        (lambda: conductors.trace_current_a(1, 35, math.nan), "a rise must be a number, not nan"),
        (lambda: conductors.trace_rise_k(1, 35, -1), "a current must be 0 A or more, not -1 A"),
        (lambda: conductors.trace_width_mm(1, 0, 35), "a rise must be more than 0 K, not 0 K"),
        (lambda: conductors.ohms_along(-1, 0.2), "a length must be 0 mm or more, not -1 mm"),
        (lambda: conductors.ohms_along(1, 0), "resistance must be more than 0 Ω per m, not 0 Ω per m"),
        (lambda: conductors.ohms_at(1, 200), "a temperature must be from -55 to 155 °C, not 200 °C"),
        (lambda: conductors.ohms_at(1, -60), "a temperature must be from -55 to 155 °C, not -60 °C"),
        (lambda: conductors.ohms_at(1, math.nan), "a temperature must be from -55 to 155 °C, not nan °C"),
        (lambda: conductors.fusing_a(math.inf), "a diameter must be a number, not inf"),
        (lambda: signals.parallel(), "parallel resistors must be at least one, not none"),
        (lambda: signals.parallel(0), "a resistance must be more than 0 Ω, not 0 Ω"),
        (lambda: signals.parallel(10, -10), "a resistance must be more than 0 Ω, not -10 Ω"),
        (lambda: signals.pull_up_current_a(330, 5, 5), "a level must be below its supply of 5 V, not 5 V"),
        (lambda: signals.pull_up_current_a(330, -5, 0.5), "a supply must be more than 0 V, not -5 V"),
        (lambda: signals.pull_up_current_a(330, 5, 0.5, resistor_percent=100), "a tolerance must be from 0 to under 100"
         " %, not 100 %"),
        (lambda: signals.pull_up_current_a(330, 5, 0.5, supply_percent=-5), "a tolerance must be from 0 to under 100 %,"
         " not -5 %"),
        (lambda: signals.pull_down_current_a(1000, 0), "a high level must be more than 0 V, not 0 V"),
        (lambda: signals.smallest_pull_up(0.004, 5, 0.5, loads_a=0.004), "the loads must be below what the driver"
         " sinks, 0.004 A, not 0.004 A"),
        (lambda: signals.smallest_pull_down(0.004, 2.4, loads_a=0.005), "the loads must be below what the driver"
         " gives, 0.004 A, not 0.005 A"),
        (lambda: signals.largest_pull_up(-1, 5, 2), "what the loads take must be 0 A or more, not -1 A"),
        (lambda: signals.largest_pull_down(1e-3, 0), "a low level must be more than 0 V, not 0 V"),
        (lambda: signals.critical_mm(6e-9, 5e-9, 0), "a factor must be more than 0, not 0"),
        (lambda: signals.critical_mm(0, 5e-9, 2), "an edge must be more than 0 s, not 0 s"),
        (lambda: signals.delay_s(-1, 5e-9), "a length must be 0 mm or more, not -1 mm"),
        (lambda: signals.preferred(0), "a resistance must be more than 0 Ω, not 0 Ω"),
        (lambda: signals.preferred(math.inf), "a resistance must be a number, not inf"),
    ],
)  # fmt: skip
def test_a_size_that_nothing_can_have_is_refused_with_the_rule(wrong: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError) as caught:  # noqa: PT011 - the whole message is compared
        wrong()
    assert str(caught.value) == message


# ---------------------------------------------------------------------- the facts


@pytest.mark.parametrize("bus", library.bus_names())
def test_every_kind_of_card_draws_from_rails_that_it_needs(bus: str) -> None:
    rails = {signal.name for signal in library.bus(bus).signals.values() if signal.group == "supply"}
    for kind in library.bus(bus).kinds:
        assert set(facts().kinds[kind.name]) == rails & set(kind.needs), kind.name


def test_there_are_figures_for_kinds_of_the_dictionaries_only() -> None:
    known = {kind.name for bus in library.bus_names() for kind in library.bus(bus).kinds}
    assert set(facts().kinds) == known
    assert facts().kinds_source == "rule of thumb, from memory"


def test_a_figure_from_memory_never_passes_for_published() -> None:
    assert set(facts().from_memory()) >= {
        "LS input low",
        "LS input high",
        "loads of a slot",
        "edge of LS",
        "edge of fast logic",
        "delay of a ribbon per metre",
        "resistance of copper per metre of 1 mm²",
        "reference temperature of copper",
        "temperature coefficient of copper",
        "diameter of 36 AWG",
        "ratio of diameters over 39 sizes",
        "ribbon conductor carries",
        "contact of an edge slot",
        "regulator gives",
        "regulator draws itself",
        "regulator heat at most",
        "regulator input at least",
        "oscillator draws",
        "gate draws",
        "supervisor draws",
        "what a single wire carries",
        "what a kind of card draws",
    }


def test_only_figures_that_are_held_against_a_publication_cite_one() -> None:
    # tests/outside: test_levels, test_delay, test_trace and test_wire, in this order.
    unpublished = ("from memory", "common practice, no source")
    published = {name for name, fact in facts().constants.items() if not any(u in fact.source for u in unpublished)}
    assert published == {
        "high input at least",
        "low input at most",
        "low output",
        "high output",
        "bus driver gives at high output",
        "bus driver sinks",
        "bus driver sources",
        "open collector sinks",
        "strongest open collector sinks",
        "module sinks",
        "contact of a pin header",
        "contact of DIN 41612",
        "delay of an outer trace per metre",
        "delay of an inner trace per metre",
        "copper of 1 oz",
        "trace constant outer",
        "trace constant inner",
        "trace rise exponent",
        "trace section exponent",
        "fusing constant",
    }


@pytest.mark.parametrize(
    ("written", "value", "unit"),
    [
        ("24 mA", 0.024, "A"),
        ("6 ns", 6e-9, "s"),
        ("35 µm", 0.035, "mm"),
        ("30 mΩ", 0.03, "Ω"),
        ("0.00393 /K", 0.00393, "/K"),
        ("20 K", 20, "K"),
        ("20 °C", 20, "°C"),
        ("5 %", 5, "%"),
        ("0.044", 0.044, ""),
    ],
)
def test_a_constant_is_counted_in_the_base_unit(written: str, value: float, unit: str) -> None:
    found, counted = measured(written)
    assert found == close(value)
    assert counted == unit


UNITS = {
    ("per metre", "delay"): "s",
    ("edge of", ""): "s",
    ("sinks", ""): "A",
    ("sources", ""): "A",
    ("LS input", ""): "A",
    ("draws", ""): "A",
    ("carries", ""): "A",
    ("gives", ""): "A",
    ("contact of", ""): "Ω",
    ("output", "low"): "V",
    ("input at", ""): "V",
    ("tolerance", ""): "%",
    ("factor", ""): "",
    ("exponent", ""): "",
    ("constant", ""): "",
    ("returns?", ""): "",
}


@pytest.mark.parametrize(("name", "fact"), facts().constants.items(), ids=list(facts().constants))
def test_a_constant_carries_the_unit_that_its_name_leads_one_to_expect(name: str, fact: Fact) -> None:
    expected = {unit for words, unit in UNITS.items() if all(word in name for word in words)}
    assert fact.unit in expected or not expected
    assert fact.value > 0


def test_an_unknown_constant_is_named() -> None:
    with pytest.raises(KeyError, match="edge of light"):
        facts().value("edge of light")
    with pytest.raises(KeyError, match="edge of light"):
        facts().source("edge of light")


GOOD = """format: 1
sources:
  sheet: a sheet
  memory: from memory
facts:
  edge of LS: {value: 6 ns, source: memory}
wires:
  28 AWG: {diameter: 12.64 mil, per km: 212.93 Ω, carries: 1.4 A}
  30 AWG: {diameter: 10.02 mil, per km: 338.58 Ω}
wires source: sheet
carries source: memory
kinds:
  ROM: {draws: {+5V: 200 mA}}
kinds source: memory
"""


def test_a_file_of_facts_is_read(tmp_path: Path) -> None:
    path = tmp_path / "good.yaml"
    path.write_text(GOOD, encoding="utf-8")
    read = read_facts(path, "good.yaml")
    fact = read.constants["edge of LS"]
    assert fact == Fact(fact.value, "6 ns", "from memory", "s")
    assert fact.value == close(6e-9)
    assert [(wire.awg, wire.carries_a) for wire in read.wires.values()] == [(28, 1.4), (30, None)]
    assert [wire.diameter_mm for wire in read.wires.values()] == close([0.321056, 0.254508])
    assert [wire.ohm_per_m for wire in read.wires.values()] == close([0.21293, 0.33858])
    assert read.kinds == {"ROM": {"+5V": close(0.2)}}
    assert (read.wires_source, read.carries_source, read.kinds_source) == ("a sheet", "from memory", "from memory")
    assert read.from_memory() == ("edge of LS", "what a single wire carries", "what a kind of card draws")


def test_wires_come_in_the_order_of_their_size(tmp_path: Path) -> None:
    thick = "  28 AWG: {diameter: 12.64 mil, per km: 212.93 Ω, carries: 1.4 A}\n"
    path = tmp_path / "turned.yaml"
    path.write_text(GOOD.replace(thick, "").replace("wires source", f"{thick}wires source"), encoding="utf-8")
    assert list(read_facts(path, "turned.yaml").wires) == [28, 30]


def test_figures_seen_in_print_are_not_said_to_be_from_memory(tmp_path: Path) -> None:
    path = tmp_path / "printed.yaml"
    path.write_text(GOOD.replace("source: memory", "source: sheet"), encoding="utf-8")
    assert read_facts(path, "printed.yaml").from_memory() == ()


NUMBER = "a constant must be a number, alone or with a unit such as mm, A, V, %, Ω, F, Hz, s, W, K, /K or °C, not"


@pytest.mark.parametrize(
    ("good", "bad", "complaint"),
    [
        ("6 ns", "6 parsec", f"6:23: edge of LS: {NUMBER} '6 parsec'"),
        ("6 ns", "fast", f"6:23: edge of LS: {NUMBER} 'fast'"),
        ("6 ns", "-6 ns", "6:23: edge of LS: a constant must be 0 s or more, not '-6 ns'"),
        ("6 ns, source: memory", "6 ns, source: memori", "6:37: a source must be one of sheet or memory, not 'memori'."
         " Did you mean memory?"),
        ("28 AWG", "28 gauge", "8:3: a wire size must be like 28 AWG, not '28 gauge'"),
        ("28 AWG", "30AWG", "9:3: 30 AWG must stand once"),
        ("per km: 212.93 Ω", "per km: 212.93", "8:41: wires › 28 AWG › per km: a resistance must carry its unit, like"
         " 10 kΩ, not the bare number '212.93'"),
        ("12.64 mil", "0 mil", "8:22: wires › 28 AWG › diameter must be more than 0 mm, not '0 mil'"),
        ("1.4 A", "-1.4 A", "8:60: wires › 28 AWG › carries must be more than 0 A, not '-1.4 A'"),
        ("200 mA", "-200 mA", "13:22: kinds › ROM › draws › +5V must be more than 0 A, not '-200 mA'"),
        ("source: sheet", "source: paper", "10:15: a source must be one of sheet or memory, not 'paper'"),
        ("source: memory}\nwires", "source: memory, because: so}\nwires", "6:45: facts › edge of LS must have no key"
         " 'because'. The keys here are value and source"),
    ],
)  # fmt: skip
def test_a_wrong_file_of_facts_is_refused_with_the_place(good: str, bad: str, complaint: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    assert good in GOOD
    path.write_text(GOOD.replace(good, bad), encoding="utf-8")
    with pytest.raises(DictionaryError) as caught:
        read_facts(path, "bad.yaml")
    assert str(caught.value) == f"bad.yaml:{complaint}"


def test_all_that_is_wrong_in_a_file_of_facts_is_said_at_once(tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(GOOD.replace("6 ns", "fast").replace("12.64 mil", "0 mil").replace("200 mA", "0 mA"), "utf-8")
    with pytest.raises(DictionaryError) as caught:
        read_facts(path, "bad.yaml")
    assert [c.place.line for c in caught.value.complaints if c.place] == [6, 8, 13]
