"""The readings of a machine's bare slot: a wrong map must not pass, and nothing passes without a reading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from textwrap import dedent

import click
import pytest
from built import filled, text
from click.testing import CliRunner
from handmade import pin_map, shipped, strip
from msgspec import Struct

from pinmap import api, bench
from pinmap.bench import Judged
from pinmap.bench.plan import Plan, of_slot
from pinmap.cli import cli
from pinmap.findings import Finding, found
from pinmap.model import PinMap
from pinmap.readings import Probe, Row, parse
from pinmap.writers import bench_report

VOLTS = {"GND": 0.0, "+5V": 5.02, "+12V": 12.1, "-12V": -12.0, "-5V": -5.0, "": 3.2}


@pytest.fixture(autouse=True)
def _width(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")


class Slot(Struct):
    """A machine's bare slot as it really is: which rail lies where the map has another, and what a meter shows."""

    map: PinMap
    really: Mapping[str, str] = {}
    volts: Mapping[str, str] = {}
    ohms: Mapping[frozenset[str], str] = {}
    beeps: frozenset[str] = frozenset()  # rails between which a beeper sounds, though it is no short
    findings: tuple[Finding, ...] = ()

    @property
    def plan(self) -> Plan:
        return of_slot(self.map)

    def rail(self, p: Probe) -> str:
        signal = self.plan.signals.get(p)
        return self.really.get(p.label, signal.name if signal and signal.is_power else "")

    def show(self, row: Row) -> str:
        here = self.rail(row.start)
        if row.kind == "volts":
            return self.volts.get(row.start.label) or f"{VOLTS[here]:.2f}"
        if row.kind == "sweep":
            rails = {p: self.rail(p) for p in self.plan.there("slot") if p != row.start}
            alike = self.beeps if here in self.beeps else {here}
            return " ".join(p.label for p, rail in rails.items() if rail and rail in alike) or "none"
        assert row.stop
        there = self.rail(row.stop)
        return "0.2" if here and here == there else self.ohms.get(frozenset((here, there)), "820")

    def judge(self, rows: Sequence[Row] | None = None) -> Judged:
        rows = bench.form_slot(self.map) if rows is None else rows
        data = filled(rows, [self.show(row) for row in rows])
        return bench.judge_slot(self.map, parse(data, "s.csv", self.plan.labels), (), self.findings)


def isa() -> PinMap:
    return shipped("isa-8bit")


def off() -> list[Row]:
    return [row for row in bench.form_slot(isa()) if row.kind != "volts"]


def small(first: str = "SD6") -> PinMap:
    names = ("GND", "+5V", "GND", "+5V", first, "SD7", "+12V", "open")
    return pin_map({str(n): name for n, name in enumerate(names, 1)}, strip(8), rest="open")


# ------------------------------------------------------------------ what passes, and what does not


def test_a_slot_as_its_map_says_passes_and_what_was_not_tested_is_said() -> None:
    assert text(Slot(small()).judge()) == dedent("""\
        all readings pass
        The supplies and returns are where the map has them. Which line is which was not tested: of the
        lines it is only known that no supply or return was found on them.
        handmade: 13 readings taken; of the 13 of the form, all settled

          Nets
            no rail found on it: 3 nets: SD6, SD7, slot 8 unused (no supply or return of the map reaches it,
              and it carries nothing above 5.5 V)
            passed: 3 nets: GND, +5V, +12V""").replace("handmade:", f"{small().title}:")


def test_without_a_reading_nothing_passes() -> None:
    for there in (small(), isa(), shipped("oakmere-88"), shipped("brindle-portable")):
        judged = Slot(there).judge([])
        assert {net.states for net in judged.nets} == {("not measured",)}
        assert "passed" not in text(judged)
        assert judged.first_line == f"not yet: {len(bench.form_slot(there))} readings are missing"


def test_no_line_passes_by_its_volts() -> None:
    rows = [row for row in bench.form_slot(isa()) if row.kind == "volts"]
    judged = Slot(isa()).judge(rows)
    assert {net.states for net in judged.nets} == {("partly measured",)}
    assert judged.verdict == "not yet"
    whole = Slot(isa()).judge()
    assert [net.name for net in whole.nets if net.states == ("passed",)] == ["GND", "+5V", "-5V", "-12V", "+12V"]
    assert len([net for net in whole.nets if net.states == ("no rail found on it",)]) == 54


def test_a_line_is_not_clear_of_a_return_that_was_not_swept() -> None:
    there = pin_map({"1": "GND", "2": "SD6", "3": "SD7"}, strip(3))
    short = Row("isolation", Probe("slot", "1"), Probe("slot", "2"))
    rows = [*(row for row in bench.form_slot(there) if row.kind == "volts"), short]
    judged = Slot(there, {"2": "GND"}).judge(rows)
    assert [(net.name, net.states, net.sentence) for net in judged.nets if net.name == "SD7"] == [
        ("SD7", ("partly measured",), "still to measure: the sweeps of the supplies and returns")
    ]


@pytest.mark.parametrize(
    ("shown", "said"),
    [
        ("3.2", "nothing above 5.5 V"),
        ("0.1", "nothing above 5.5 V, but a return reads the same"),
        ("-0.2", "nothing above 5.5 V, but a return reads the same"),
        ("4.98", "nothing above 5.5 V, but +5V reads the same"),
        ("4.6", "nothing above 5.5 V, but a 5 V supply reads the same"),
        ("5.5", "nothing above 5.5 V, but a 5 V supply reads the same"),
        ("0.8", "nothing above 5.5 V"),
    ],
)
def test_the_volts_of_a_line_are_no_proof(shown: str, said: str) -> None:
    measured = next(m for m in Slot(small(), volts={"5": shown}).judge().volts if m.contact.label == "5")
    assert (measured.verdict, measured.sentence.split(": ")[1]) == ("no proof", said)
    assert bench_report.as_json(Slot(small()).judge())["volts"][-1]["verdict"] == "no proof"


@pytest.mark.parametrize(
    ("rail", "first_line", "sentence"),
    [
        (
            "+5V",
            "do not apply power",
            "+5V (slot 2) is joined to SD6 (slot 5): slot 2 to slot 5 beeps in the sweep",
        ),
        ("+12V", "do not apply power", "slot 5 (SD6) reads +12.1 V"),
        ("GND", "mend first: GND shorted to SD6", ""),
    ],
)
def test_a_line_that_is_really_a_supply_or_a_return_does_not_pass(rail: str, first_line: str, sentence: str) -> None:
    judged = Slot(small(), {"5": rail}).judge()
    assert judged.first_line == first_line
    assert any(sentence in danger.sentence for danger in judged.dangers) is bool(sentence)
    line = next(net for net in judged.nets if net.name == "SD6")
    assert line.states[0] in ("shorted", "out of tolerance")
    # Without any volts the sweeps find it too, before the power is ever on.
    rows = [row for row in bench.form_slot(small()) if row.kind != "volts"]
    assert next(n for n in Slot(small(), {"5": rail}).judge(rows).nets if n.name == "SD6").states == ("shorted",)


@pytest.mark.parametrize("label", ["2", "4", "7"])
def test_a_contact_mapped_as_a_supply_that_is_a_line_stops_everything(label: str) -> None:
    judged = Slot(small(), {label: ""}).judge()
    assert judged.first_line == "do not apply power"
    lines = [net for net in judged.nets if net.name in ("SD6", "SD7")]
    assert {net.states for net in lines} == {("partly measured",)}
    assert lines[0].sentence == "the supplies and returns themselves are not yet found where the map has them"


def test_two_contacts_of_a_supply_that_are_not_joined_stop_everything_before_the_power_is_on() -> None:
    rows = [row for row in bench.form_slot(small()) if row.kind != "volts"]
    judged = Slot(small(), {"4": ""}).judge(rows)
    assert judged.first_line == "do not apply power"
    assert [d.sentence for d in judged.dangers] == ["+5V, a supply, is open: slot 4 cut off from slot 2"]
    assert judged.following == (
        "Either the machine has a fault or its map is wrong: mend or correct it, then measure again. The power stays "
        "off until then."
    )


# ------------------------------------------------------------------ little resistance


@pytest.mark.parametrize(
    ("shown", "cautioned", "verdict"),
    [
        ("2", False, "do not apply power"),
        ("2.1", True, "not yet"),
        ("30", True, "not yet"),
        ("31", False, "not yet"),
        ("OL", False, "not yet"),
    ],
)
def test_little_resistance_of_a_supply_is_cautioned(shown: str, cautioned: bool, verdict: str) -> None:
    judged = Slot(isa(), ohms={frozenset(("+5V", "GND")): shown}).judge(off())
    assert (bool(judged.cautions), judged.verdict) == (cautioned, verdict)


def test_little_resistance_is_to_be_settled_before_the_power_is_on() -> None:
    judged = Slot(isa(), ohms={frozenset(("+5V", "GND")): "2.4"}).judge(off())
    assert text(judged).split("\n\n")[0] == dedent("""\
        not yet: 61 readings are missing
        The readings with power off pass, but for the caution below: settle that before anything. Then take
        the volts, with no card in the slot.
          caution: +5V (slot B3) to GND (slot B1) reads '2.4' (s.csv:2): no short (2 Ω), but little. A
          failing capacitor or chip reads so, and so does a machine with much on that supply: take it again
          with the probes exchanged, compare it with the machine's other slot or another such machine, and
          look for what is warm or burnt before power is applied
        ISA slot, 8-bit: 15 readings taken; of the 76 of the form, 15 settled""")


def test_a_beeper_that_sounds_at_a_full_machine_is_no_short_once_the_ohms_are_read() -> None:
    full = Slot(isa(), ohms={frozenset(("+5V", "GND")): "18"}, beeps=frozenset(("+5V", "GND")))
    judged = full.judge()
    assert (judged.first_line, judged.dangers, len(judged.cautions)) == ("all readings pass", (), 1)
    swept = full.judge([row for row in off() if row.kind == "sweep"])
    assert swept.first_line == "do not apply power"
    assert [d.sentence for d in swept.dangers] == [
        "+5V (slot B3) is joined to GND (slot B1): slot B3 to slot B1 beeps in the sweep (s.csv:2); a beeper sounds up "
        "to some tens of ohms, so measure it in ohms too"
    ]
    assert ("slot B3", "slot B1") in [(str(row.start), row.to) for row in swept.missing if row.kind == "resistance"]


def test_a_second_contact_that_is_really_a_return_is_found_though_the_first_reads_no_short() -> None:
    judged = Slot(small(), {"4": "GND"}).judge([row for row in bench.form_slot(small()) if row.kind != "volts"])
    assert judged.first_line == "do not apply power"
    assert any("+5V (slot 4) is joined to GND" in danger.sentence for danger in judged.dangers)


# ------------------------------------------------------------------ volts


def test_the_source_of_a_tolerance_is_said_once_and_six_dangers_are_shown() -> None:
    volts = {p.label: "-7" for p in of_slot(isa()).there("slot")}
    shown = text(Slot(isa(), volts=volts).judge())
    assert shown.count("PC/104 Specification") == 1
    assert shown.split("\n\n")[1] == dedent("""\
        __Danger
            slot B3 (+5V) reads −7 V (s.csv:17): the sign is wrong: the supply is reversed, or the probes
              are; it must read from +4.75 V to +5.25 V (±5 %: PC/104 Specification, version 2.6, PC/104
              Embedded Consortium, 13 October 2008)
            slot B5 (-5V) reads −7 V (s.csv:18): too negative; it must read from −5.25 V to −4.75 V
            slot B7 (-12V) reads −7 V (s.csv:19): not negative enough; it must read from −12.6 V to −11.4 V
            slot B9 (+12V) reads −7 V (s.csv:20): the sign is wrong: the supply is reversed, or the probes
              are; it must read from +11.4 V to +12.6 V
            slot B29 (+5V) reads −7 V (s.csv:21): the sign is wrong: the supply is reversed, or the probes
              are; it must read from +4.75 V to +5.25 V
            slot B10 (GND) reads −7 V (s.csv:22): not what belongs there; it must read from −0.2 V to +0.2 V
              (a return; common practice, no source)
            and 55 more""").replace("__", "  ")
    assert "    out of tolerance: 59 nets: GND" in shown


def test_volts_on_a_bare_slot_taken_first_are_answered_with_switch_off() -> None:
    judged = Slot(isa()).judge([row for row in bench.form_slot(isa()) if row.kind == "volts"])
    assert judged.following == (
        "Volts were taken before all readings with power off, so the power was on: switch off. Nothing is wrong so "
        "far. Take every reading with power off and see that it is right. The power stays off until then."
    )


# ------------------------------------------------------------------ a map with dangers


BAD = """\
format: 1
title: A map with a guess
bus: isa-8bit
end: host
body: {form: pin header, rows: 1, places: 4, labels: serial, first: top left, pitch: 2.54 mm}
contacts:
  1: GND
  2: {signal: +5V, seen: guessed}
  3: SD0
  4: SD1
"""


def test_the_dangers_of_a_map_are_said_below_the_answer_and_stop_no_one_from_measuring() -> None:
    findings = (found("guess-supply", "+5V rests on a guess"), found("rail-missing", "-5V is missing"))
    lines = text(Slot(small(), findings=findings).judge()).splitlines()
    assert lines[0] == "all readings pass"
    assert lines[3] == "  caution: the check of the map says danger: +5V rests on a guess"
    assert not [line for line in lines if "-5V is missing" in line]


def test_the_command_checks_the_map_of_a_bare_slot_and_says_its_dangers(tmp_path: Path) -> None:
    there = tmp_path / "guess.yaml"
    there.write_text(BAD, encoding="utf-8")
    dangers = [f.message for f in api.check(there).findings if f.grade == "danger"]
    assert dangers
    form = tmp_path / "form.csv"
    blank = CliRunner().invoke(cli, ["bench", str(there), "--blank", "--out", str(form)])
    assert (blank.exit_code, blank.stderr) == (0, f"pinmap: the check of the map says danger: {dangers[0]}\n")
    done = CliRunner().invoke(cli, ["bench", str(there), str(form)])
    assert done.exit_code == 0
    said = " ".join(click.unstyle(done.stdout).split())
    assert f"caution: the check of the map says danger: {dangers[0]}" in said
