"""Readings held against the plan: a simulated adapter, with a fault built in, and what is said of it."""

from __future__ import annotations

import csv
import io
import time
from collections.abc import Callable
from itertools import combinations
from textwrap import dedent

import pytest
from built import Built, at, everything, filled, oakmere, pair, small, states, text, without_volts
from handmade import pin_map, shipped, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap import bench
from pinmap.adapter import Adapter
from pinmap.bench.plan import PlanNet, neighbours, of_adapter, of_slot
from pinmap.errors import PinmapError
from pinmap.model import Signal
from pinmap.readings import Probe, Row, form_csv, parse
from pinmap.writers import bench_report


@pytest.fixture(autouse=True)
def _width(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")


# ------------------------------------------------------------------ whole answers


def test_a_perfect_adapter_passes() -> None:
    judged = Built(small()).judge()
    assert text(judged) == dedent("""\
        all readings pass
        Lines were only tested against their neighbours; a sweep of each would find the rest. Switch off
        before the card goes in, and measure the rails at the card once more with it in.
        The small connector to The card connector: 37 readings taken; of the 37 of the form, all settled

          Nets
            passed: 10 nets: GND, +5V, +12V, SD0–SD2, IOR*, IRQ3, card 9 IRQ4, host 10 unused""")
    assert not judged.wrong


def test_a_bridge_between_neighbours_is_named_with_every_place_where_it_can_be() -> None:
    judged = Built(small()).short("J2 3", "J2 4").judge(without_volts(small()))
    assert text(judged) == dedent("""\
        mend first: SD1 shorted to SD2
        Mend it, then take the readings of these nets again. The power stays off until then.
        The small connector to The card connector: 35 readings taken; of the 37 of the form, 35 settled

          Nets
            SD1 shorted to SD2: J1 4 to J1 5 reads '0.3' (r.csv:28); they lie side by side at J1 4/5 or J2
              3/4
            SD2 shorted to SD1: J1 4 to J1 5 reads '0.3' (r.csv:28); they lie side by side at J1 4/5 or J2
              3/4
            partly measured: 2 nets: +5V, +12V
            passed: 6 nets: GND, SD0, IOR*, IRQ3, card 9 IRQ4, host 10 unused

          Still to take, what settles most first: 2 readings
            kind   from  to    expected; note
            volts  J2 1  J2 5  from +4.75 V to +5.25 V; only when all above is right: power on, the adapter
              in the machine, no card in it; net +5V
            volts  J2 7  J2 5  from +11.4 V to +12.6 V; net +12V""")
    assert judged.wrong


def test_a_supply_joined_to_a_return_stops_everything() -> None:
    judged = Built(small()).short("J1 1", "J1 2").judge(without_volts(small()))
    assert text(judged) == dedent("""\
        do not apply power
        Mend this with power off and nothing plugged in, then measure again. The power stays off until then.
        The small connector to The card connector: 35 readings taken; of the 37 of the form, 35 settled

          Danger
            +5V (J1 2) is joined to GND (J2 5): J2 5 to J1 2 beeps in the sweep (r.csv:9)

          Nets
            GND shorted to +5V: J2 1 to J1 1 beeps in the sweep (r.csv:5); they lie side by side at J1 1/2
            +5V shorted to GND: J2 5 to J1 2 beeps in the sweep (r.csv:9); they lie side by side at J1 1/2
            partly measured: 1 net: +12V
            passed: 7 nets: SD0–SD2, IOR*, IRQ3, card 9 IRQ4, host 10 unused""")


def test_two_exchanged_wires_without_readings_across_are_two_causes_and_the_readings_that_tell_which() -> None:
    assert text(Built(small()).exchange(5, 6).judge(without_volts(small()))) == dedent("""\
        mend first: SD0 open or exchanged with SD1
        Mend it, then take the readings of these nets again. The power stays off until then.
        The small connector to The card connector: 35 readings taken; of the 37 of the form, 35 settled

          Nets
            SD0 open: J2 2 cut off from J1 3; look at wire 5; or exchanged with SD1: not yet measured across
            SD1 open: J2 3 cut off from J1 4; look at wire 6; or exchanged with SD0: not yet measured across
            partly measured: 2 nets: +5V, +12V
            passed: 6 nets: GND, SD2, IOR*, IRQ3, card 9 IRQ4, host 10 unused

          Still to take, what settles most first: 4 readings
            kind       from  to    expected; note
            isolation  J1 3  J2 3  OL; power off, nothing plugged in, no remedies fitted; net SD0 and net
              SD1
            isolation  J1 4  J2 2  OL; net SD1 and net SD0
            volts      J2 1  J2 5  from +4.75 V to +5.25 V; only when all above is right: power on, the
              adapter in the machine, no card in it; net +5V
            volts      J2 7  J2 5  from +11.4 V to +12.6 V; net +12V""")


def test_two_exchanged_wires_with_readings_across_are_exchanged() -> None:
    assert text(Built(small()).exchange(5, 6).judge(everything(small()))) == dedent("""\
        mend first: SD0 exchanged with SD1
        Volts were taken, so the power was on: switch off and unplug the adapter. Mend it, then take the
        readings of these nets again. The power stays off until then.
        The small connector to The card connector: 75 readings taken; of the 37 of the form, all settled

          Nets
            SD0 exchanged with SD1: J1 3 reaches J2 3 (SD1) and J2 2 reaches J1 4 (SD1); look at both ends
              of wires 5 and 6
            SD1 exchanged with SD0: J1 4 reaches J2 2 (SD0) and J2 3 reaches J1 3 (SD0); look at both ends
              of wires 5 and 6
            passed: 8 nets: GND, +5V, +12V, SD2, IOR*, IRQ3, card 9 IRQ4, host 10 unused""")


def test_a_wire_on_a_free_contact_is_moved() -> None:
    assert text(Built(small()).move(9, "J2 9").judge(everything(small()))) == dedent("""\
        mend first: IRQ3 moved to J2 9
        Volts were taken, so the power was on: switch off and unplug the adapter. Mend it, then take the
        readings of these nets again. The power stays off until then.
        The small connector to The card connector: 75 readings taken; of the 37 of the form, all settled

          Nets
            IRQ3 moved: J1 9 reaches J2 9 (card 9 IRQ4) instead of J2 8; look at wire 9
            card 9 IRQ4 shorted: taken by IRQ3, whose wire 9 belongs at J2 8
            passed: 8 nets: GND, +5V, +12V, SD0–SD2, IOR*, host 10 unused""")


def test_a_mirrored_ribbon_is_one_cause_and_its_dangers_stop_everything() -> None:
    judged = Built(oakmere()).mistaken("J1", "mirrored end to end").judge(everything(oakmere()))
    assert text(judged) == dedent("""\
        do not apply power
        Volts were taken, so the power was on: switch off and unplug the adapter. Mend this with power off
        and nothing plugged in, then measure again. The power stays off until then.
        Oakmere 88 cabinet header to ISA slot, 8-bit: 489 readings taken; of the 239 of the form, all
        settled

          One cause behind it
            J1 is wired mirrored end to end: the ribbon is crimped the wrong way round, or the connector was
              read from the solder side (explains 219 of 219 readings that contradict the plan)

          Danger
            +5V (J1 60) is joined to IRQ2 (J2 B4): J1 60 to J2 B4 beeps in the sweep (r.csv:364)
            +12V (J1 16) is joined to DACK2* (J2 B26): J1 16 to J2 B26 beeps in the sweep (r.csv:320)
            -12V (J1 12) is joined to BALE (J2 B28): J1 12 to J2 B28 beeps in the sweep (r.csv:316)

          Nets
            54 nets not as planned: GND, +5V, +12V, -12V, SD0–SD7, SA0–SA19, IOR*, IOW*, MEMR*, MEMW*,
              RESET, AEN, IOCHRDY, BALE, BCLK, IRQ2–IRQ6, DRQ1, DRQ2, DACK1*, DACK2*, DACK0*, TC, host 58
              OSC, host 64 unused
            passed: 7 nets: -5V, card A1 IOCHK*, card B8 RESERVED, card B30 OSC, card B21 IRQ7, card B16
              DRQ3, card B15 DACK3*""")


# ±5 % on every rail at the connector: PC/104 Specification, version 2.6, s. 4.8.
def test_volts_out_of_tolerance_are_a_danger_with_the_source_of_the_tolerance() -> None:
    built = Built(small())
    built.volts["1"] = "5.31"
    assert text(built.judge()) == dedent("""\
        do not apply power
        Volts were taken, so the power was on: switch off and unplug the adapter. Mend this with power off
        and nothing plugged in, then measure again. The power stays off until then.
        The small connector to The card connector: 37 readings taken; of the 37 of the form, all settled

          Danger
            J2 1 (+5V) reads +5.31 V (r.csv:37): too high; it must read from +4.75 V to +5.25 V (±5 %:
              PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008)

          Nets
            out of tolerance: 1 net: +5V
            passed: 9 nets: GND, +12V, SD0–SD2, IOR*, IRQ3, card 9 IRQ4, host 10 unused""")


def test_readings_that_contradict_each_other_carry_no_verdict() -> None:
    rows = (*bench.form(small()), bench.form(small())[14])
    judged = Built(small()).judge(rows, {len(rows): "OL"})
    assert text(judged) == dedent("""\
        not yet: 1 reading contradicts others
        Volts were taken before all readings with power off, so the power was on: switch off and unplug the
        adapter. Take the readings that contradict each other again, and delete the old rows. The power
        stays off until then.
        The small connector to The card connector: 38 readings taken; of the 37 of the form, 36 settled

          Contradictions, on which nothing rests
            J1 4 to J2 3 reads 'OL' (r.csv:39), but also reads '0.3' (r.csv:16)

          Nets
            partly measured: 1 net: SD1
            passed: 9 nets: GND, +5V, +12V, SD0, SD2, IOR*, IRQ3, card 9 IRQ4, host 10 unused

          Still to take, what settles most first: 1 reading
            kind        from  to    expected; note
            continuity  J1 4  J2 3  beeps; power off, nothing plugged in, no remedies fitted; wire 6, net
              SD1""")
    assert judged.wrong


# ------------------------------------------------------------------ every single fault, in complete readings


@pytest.mark.parametrize("make", [small, oakmere], ids=["small", "oakmere"])
def test_every_open_wire_is_found_and_placed(make: Callable[[], Adapter]) -> None:
    adapter = make()
    rows = everything(adapter)
    for number, _, _ in Built(adapter).wires[:: 1 if adapter is small() else 4]:  # all of them below, by the form
        judged = Built(adapter).open(number).judge(rows)
        wrong = [net for net in judged.nets if net.wrong]
        assert [(n.states, n.wires) for n in wrong] == [(("open",), (number,))]
        assert (judged.missing, judged.causes) == ((), ())
        # Of the small adapter's return nothing comes through any more; of the other's, eight wires still do.
        lost = {"supply", "return"} if adapter is small() and number == 1 else {"supply"}
        assert len(judged.dangers) == (wrong[0].group in lost)


def test_every_open_wire_is_placed_by_the_form_alone() -> None:
    for number, _, _ in Built(oakmere()).wires:
        judged = Built(oakmere()).open(number).judge()
        assert [(n.states, n.wires) for n in judged.nets if n.wrong] == [(("open",), (number,))]
        assert {row.kind for row in judged.missing} == {"sweep"}
        assert len(judged.missing) <= 2  # one end of a supply or return is swept by the form


def test_every_short_of_neighbours_is_found_and_placed_and_a_danger_where_a_supply_meets_something() -> None:
    found = of_adapter(oakmere())
    for a, b in neighbours(found):
        judged = Built(oakmere()).short(str(a), str(b)).judge()
        nets = [n for n in judged.nets if n.wrong]
        assert [n.states for n in nets] == [("shorted",)] * 2
        assert {n.name for n in nets} == {found.of(a).name, found.of(b).name}
        assert all((a, b) in n.near for n in nets)
        danger = any(found.of(p).is_rail for p in (a, b)) and not any(found.of(p).unused for p in (a, b))
        assert (judged.first_line == "do not apply power") is danger


def exchanges(adapter: Adapter) -> list[tuple[int, int]]:
    owner: dict[int, PlanNet] = {n: net for net in of_adapter(adapter).nets for n, _, _ in net.wires}
    return [(a, b) for a, b in combinations(owner, 2) if owner[a] is not owner[b]]


def assert_exchanged(adapter: Adapter, one: int, other: int, rows: tuple[Row, ...]) -> None:
    judged = Built(adapter).exchange(one, other).judge(rows)
    nets = [n for n in judged.nets if n.wrong]
    assert [n.states for n in nets] == [("exchanged",)] * 2
    assert all(set(n.wires) == {one, other} for n in nets)
    assert (nets[0].others, nets[1].others) == ((nets[1].name,), (nets[0].name,))


def test_every_exchange_of_two_wires_is_found_and_placed() -> None:
    for one, other in exchanges(small()):
        assert_exchanged(small(), one, other, everything(small()))


@settings(deadline=None, derandomize=True, max_examples=15)
@given(st.sampled_from(exchanges(oakmere())))
def test_exchanges_are_found_and_placed_on_a_whole_slot(wires: tuple[int, int]) -> None:
    assert_exchanged(oakmere(), *wires, everything(oakmere()))


@pytest.mark.parametrize("wires", exchanges(oakmere())[::37])
def test_the_form_alone_names_an_exchange_and_its_missing_readings_settle_it(wires: tuple[int, int]) -> None:
    built = Built(oakmere()).exchange(*wires)
    judged = built.judge()
    for net in (n for n in judged.nets if n.wrong):
        assert net.states == ("exchanged",) or "or exchanged with" in net.sentence
    again = built.judge((*bench.form(oakmere()), *judged.missing))
    assert [n.states for n in again.nets if n.wrong] == [("exchanged",)] * 2


def test_three_wires_in_a_ring_are_exchanged_with_each_other() -> None:
    built = Built(small()).exchange(5, 6).exchange(6, 7)
    assert states(built.judge(everything(small()))) == dict.fromkeys(("SD0", "SD1", "SD2"), ("exchanged",))


def test_a_net_can_be_open_and_shorted_at_once() -> None:
    judged = Built(oakmere()).open(17).short("J2 A9", "J2 A8").judge(everything(oakmere()))
    assert states(judged) == {"SD0": ("open", "shorted"), "SD1": ("shorted",)}
    assert judged.first_line == "mend first: SD0 open and shorted to SD1"


def test_two_faults_at_once_are_told_one_by_one() -> None:
    judged = Built(oakmere()).open(21).exchange(17, 19).judge(everything(oakmere()))
    assert states(judged) == {"SD0": ("exchanged",), "SD2": ("exchanged",), "SD4": ("open",)}


# ------------------------------------------------------------------ dangers


@pytest.mark.parametrize(
    ("one", "other", "sentence"),
    [
        ("J2 B3", "J2 B9", "+12V (J2 B9) is joined to +5V (J1 4): J2 B9 to J1 4 beeps in the sweep (r.csv:14)"),
        ("J2 B3", "J2 B2", "+5V (J1 4) is joined to RESET (J1 2): J1 2 to J1 4 reads '0.3' (r.csv:90)"),
        ("J2 B5", "J2 B4", "-5V (J2 B5) is joined to IRQ2 (J1 6): J2 B5 to J1 6 beeps in the sweep (r.csv:18)"),
    ],
)
def test_a_supply_that_meets_anything_stops_everything(one: str, other: str, sentence: str) -> None:
    judged = Built(oakmere()).short(one, other).judge()
    assert (judged.first_line, [d.sentence for d in judged.dangers]) == ("do not apply power", [sentence])
    assert text(judged).splitlines()[0] == "do not apply power"
    assert judged.wrong


def test_a_supply_that_meets_a_line_over_other_contacts_names_all_readings() -> None:
    built = Built(oakmere()).short("J1 4", "J1 17")
    rows = [row for row in everything(oakmere()) if {"J1 17", "J2 B3"}.isdisjoint((str(row.start), row.to))]
    sentences = [d.sentence for d in built.judge(rows).dangers]
    assert len(sentences) == 1
    assert sentences[0].startswith("+5V (J1 4) is joined to SD0 (")


def test_a_supply_on_a_contact_that_leads_nowhere_is_a_fault_but_no_danger() -> None:
    judged = Built(small()).short("J1 7", "J1 10").judge(everything(small()))
    assert judged.first_line == "mend first: +12V shorted to host 10 unused"
    assert judged.dangers == ()


def test_a_return_joined_to_a_line_is_a_fault_but_no_danger() -> None:
    judged = Built(oakmere()).short("J2 B1", "J2 B2").judge()
    assert (judged.verdict, judged.dangers) == ("mend first", ())


def test_a_supply_that_is_not_clear_of_a_return_is_a_danger() -> None:
    judged = Built(small()).judge(shown={1: "47k"})
    assert judged.first_line == "do not apply power"
    assert [d.sentence for d in judged.dangers] == [
        "+5V (J2 1) is not clear of GND (J2 5): it reads '47k' (r.csv:2); an adapter of plain wire has nothing between "
        "them"
    ]


def test_a_contradicted_short_of_a_supply_is_a_danger_until_it_is_measured_again() -> None:
    rows = (*bench.form(small()), bench.form(small())[0])
    judged = Built(small()).judge(rows, {len(rows): "beep"})
    assert judged.first_line == "do not apply power"
    assert [d.sentence for d in judged.dangers] == [
        "+5V (J2 1) may be joined to GND (J2 5): J2 1 to J2 5 reads 'OL' (r.csv:2), but also reads 'beep' (r.csv:39)",
    ]


@pytest.mark.parametrize(
    ("shown", "what"),
    [
        ("4.75", ""),
        ("5.25 V", ""),
        ("4.74", "too low"),
        ("5.26", "too high"),
        ("12.1", "that is +12V"),
        ("0.02", "the supply does not arrive"),
        ("-4.9", "the sign is wrong: the supply is reversed, or the probes are"),
        ("−1", "not what belongs there"),
    ],
)
def test_a_supply_reads_within_five_percent_or_it_is_said_what_is_wrong(shown: str, what: str) -> None:
    built = Built(small())
    built.volts["1"] = shown
    said = [d.sentence for d in built.judge().dangers]
    assert [s.split("): ")[1].split(";")[0] for s in said] == ([what] if what else [])


@pytest.mark.parametrize(
    ("contact", "shown", "right"),
    [
        ("J2 5", "0.2", True),
        ("J2 5", "-0.2", True),
        ("J2 5", "0.21", False),
        ("J2 2", "5.5", True),
        ("J2 2", "-0.5", True),
        ("J2 2", "5.6", False),
        ("J2 2", "-0.6", False),
        ("J1 10", "11.9", False),
    ],
)
def test_a_return_is_near_nothing_and_a_line_within_logic_levels(contact: str, shown: str, right: bool) -> None:
    judged = Built(small()).judge([Row("volts", at(contact))], {1: shown})
    proof = "right" if contact == "J2 5" else "no proof"
    assert [m.verdict for m in judged.volts] == [proof if right else "wrong"]
    assert (judged.verdict == "do not apply power") is not right


def test_two_supplies_that_read_as_each_other_are_exchanged() -> None:
    built = Built(small())
    built.volts |= {"1": "12.02", "7": "5.01"}
    said = [d.sentence for d in built.judge().dangers]
    assert [s.rsplit("; ", 1)[1] for s in said] == ["exchanged with +12V", "exchanged with +5V"]


def test_a_supply_without_a_tolerance_is_held_to_a_rule_of_thumb_and_one_without_volts_to_nothing() -> None:
    own = (Signal("+8V", "supply", volts=8.0), Signal("VX", "supply"))
    there = pin_map({"1": "GND", "2": "+8V", "3": "VX"}, strip(3), own=own)
    readings = [Row("volts", Probe("slot", label), Probe("slot", "1")) for label in ("2", "3")]
    data = filled(readings, ["8.9", "7"])
    judged = bench.judge_slot(there, parse(data, "r.csv", of_slot(there).labels))
    assert [(m.verdict, m.sentence, m.rule) for m in judged.volts] == [
        (
            "wrong",
            "slot 2 (+8V) reads +8.9 V (r.csv:2): too high; it must read from +7.2 V to +8.8 V",
            "±10 %: a rule of thumb",
        ),
        ("unknown", "slot 3 (VX) reads +7 V (r.csv:3); the map does not say its volts", ""),
    ]


def test_volts_are_only_taken_against_a_return() -> None:
    with pytest.raises(PinmapError) as caught:
        Built(small()).judge([Row("volts", at("J2 1"), at("J2 7"))], {1: "5"})
    assert str(caught.value) == "r.csv:2:6: volts must be taken against a return, not against J2 7 (+12V)"


# ------------------------------------------------------------------ incomplete


def test_nothing_measured_yet() -> None:
    judged = Built(small()).judge([])
    assert judged.first_line == "not yet: 37 readings are missing"
    assert not judged.wrong
    assert {net.states for net in judged.nets} == {("not measured",)}


def test_what_is_missing_comes_in_the_order_that_settles_most() -> None:
    judged = Built(oakmere()).judge([])
    order = []
    net_of = of_adapter(oakmere())
    for row in judged.missing:
        group = net_of.of(row.start).group
        kind = {"command": "timing", "return": "power", "supply": "power", "timing": "timing"}.get(group, "rest")
        order.append(kind if row.kind == "continuity" else row.kind)
    assert list(dict.fromkeys(order)) == ["sweep", "resistance", "power", "timing", "rest", "isolation", "volts"]
    assert len(judged.missing) == len(bench.form(oakmere()))


def test_the_volts_are_asked_for_when_all_else_passes() -> None:
    rows = [row for row in bench.form(small()) if row.kind != "volts"]
    judged = Built(small()).judge(rows)
    assert judged.first_line == "not yet: 2 readings are missing"
    assert judged.following == (
        "All readings with power off pass: plug the adapter into the machine, without a card, and take the volts."
    )
    assert [row.to for row in judged.missing] == ["J2 5", "J2 5"]


def key(row: Row) -> tuple[str, ...]:
    return row.kind, str(row.start), row.to


@settings(deadline=None, derandomize=True, max_examples=40)
@given(st.sets(st.integers(1, 37)), st.sampled_from(["", "short", "open", "exchange"]))
def test_part_of_the_readings_never_says_more_than_all_of_them(steps: set[int], fault: str) -> None:
    built = Built(small())
    if fault == "short":
        built.short("J1 4", "J1 5")
    if fault == "open":
        built.open(8)
    if fault == "exchange":
        built.exchange(3, 9)
    whole, part = built.judge(), built.judge(shown={n: "" for n in range(1, 38) if n not in steps})
    assert set(states(part)) <= set(states(whole))
    passed = {n.name for n in part.nets if n.states == ("passed",)}
    assert passed.isdisjoint(states(whole))
    # What is missing completes it: nothing is asked for that does not count.
    if not part.wrong:
        assert {key(row) for row in part.missing} <= {key(row) for row in bench.form(small())}
        assert part.verdict == ("not yet" if part.missing else "all readings pass")


def test_a_doubtful_reading_is_neither_a_joint_nor_open() -> None:
    judged = Built(small()).judge(shown={15: "300"})
    assert [(n.name, n.states, n.sentence) for n in judged.nets if n.wrong] == [
        (
            "SD1",
            ("doubtful",),
            "neither a joint nor open: J1 4 to J2 3 reads '300' (r.csv:16) (a joint is at most 10 Ω, apart is 1 MΩ or "
            "more)",
        )
    ]


@pytest.mark.parametrize(
    ("shown", "expected"), [("10", "passed"), ("10.1", "doubtful"), ("999k", "doubtful"), ("1 MΩ", "open")]
)
def test_the_limits_of_a_joint_and_of_apart(shown: str, expected: str) -> None:
    judged = Built(small()).judge(shown={15: shown})
    assert next(net.states for net in judged.nets if net.name == "SD1") == (expected,)


def test_joints_that_go_round_contradict_a_reading_of_apart() -> None:
    """A joined to b, b to c, a not to c: all three lines are named, and all three are to be taken again."""
    rows = [row for row in bench.form(small()) if row.kind != "sweep"]
    rows.append(Row("continuity", at("J1 8"), at("J2 5")))
    judged = Built(small()).judge(rows, {len(rows): "no beep"})
    assert [c.sentence for c in judged.contradictions] == [
        "J1 8 to J2 5 reads 'no beep' (r.csv:33), but the two are joined by J1 1 to J1 8 (r.csv:6) and J1 1 to J2 5 "
        "(r.csv:5)"
    ]
    again = [(str(r.start), r.to) for r in judged.missing if r.kind == "continuity"]
    assert again == [("J1 8", "J2 5"), ("J1 1", "J1 8"), ("J1 1", "J2 5")]
    assert next(n.states for n in judged.nets if n.name == "GND") == ("partly measured",)


# ------------------------------------------------------------------ the form, JSON, speed


def test_the_form_of_an_adapter_has_every_wire_and_every_pair_of_neighbours_once() -> None:
    rows = bench.form(oakmere())
    there = of_adapter(oakmere())
    assert list(dict.fromkeys(row.kind for row in rows)) == ["resistance", "sweep", "continuity", "isolation", "volts"]
    assert [row.note.split(",")[0] for row in rows if row.kind == "continuity"] == [
        f"wire {number}" for number in range(1, len(Built(oakmere()).wires) + 1)
    ]
    pairs = [frozenset((row.start, row.stop)) for row in rows if row.kind == "isolation"]
    assert len(set(pairs)) == len(pairs)
    assert set(pairs) == {frozenset(pair) for pair in neighbours(there)}
    rails = [any(there.of(p).is_rail for p in (row.start, row.stop) if p) for row in rows if row.kind == "isolation"]
    assert rails == sorted(rails, reverse=True)
    assert [(str(r.start), r.to, r.expected) for r in rows if r.kind == "volts"] == [
        ("J2 B3", "J2 B1", "from +4.75 V to +5.25 V"),
        ("J2 B29", "J2 B1", "from +4.75 V to +5.25 V"),
        ("J2 B9", "J2 B1", "from +11.4 V to +12.6 V"),
        ("J2 B7", "J2 B1", "from −12.6 V to −11.4 V"),
    ]
    # The key at 62 is no contact.
    assert not [row for row in rows if "J1 62" in (str(row.start), row.to)]


def test_no_cell_of_a_form_begins_as_a_formula() -> None:
    for rows in (bench.form(oakmere()), bench.form_slot(shipped("tarn-rack"))):
        cells = [cell for row in csv.reader(io.StringIO(form_csv(rows))) for cell in row]
        assert not [cell for cell in cells if cell[:1] in ("=", "+", "-", "@")]


def test_the_json_has_all_that_was_found() -> None:
    judged = Built(oakmere()).exchange(17, 19).short("J2 B3", "J2 B2").judge(everything(oakmere()))
    out = bench_report.as_json(judged)
    assert (out["format"], out["verdict"], out["first_line"]) == (1, "do not apply power", "do not apply power")
    assert len(out["nets"]) == len(judged.nets)
    assert next(net for net in out["nets"] if net["name"] == "SD0") == {
        "name": "SD0",
        "group": "data",
        "states": ["exchanged"],
        "sentence": "exchanged with SD2: J1 17 reaches J2 A7 (SD2) and J2 A9 reaches J1 13 (SD2); look at both ends of "
        "wires 17 and 19",
        "contacts": ["J1 17", "J2 A9"],
        "others": ["SD2"],
        "wires": [17, 19],
        "near": [],
    }
    assert [(d["contacts"], len(d["lines"])) for d in out["dangers"]] == [(["J1 2", "J1 4"], 1)]


@pytest.mark.parametrize("name", ["", "turned by 180°"])
def test_judging_a_whole_slot_takes_a_fraction_of_a_second(name: str) -> None:
    built = Built(pair("isa-8bit", "isa-8bit"))
    if name:
        built.mistaken("J2", name)
    rows = bench.form(built.adapter)
    readings = parse(filled(rows, built.show(rows)), "r.csv", built.plan.labels)
    start = time.process_time()
    bench.judge(built.adapter, readings)
    assert time.process_time() - start < 0.3
