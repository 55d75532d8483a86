"""Power stays off until all that must be seen without it is seen: sweeps of the rails, plans that must not be built."""

from __future__ import annotations

from pathlib import Path
from textwrap import dedent

import click
import pytest
from built import Built, everything, filled, oakmere, small, text, without_volts
from click.testing import CliRunner
from handmade import pin_map, shipped, strip
from msgspec.structs import replace

from pinmap import api, bench
from pinmap.adapter import Adapter
from pinmap.bench import Judged
from pinmap.bench.plan import of_adapter, power_sweeps, sweeps
from pinmap.cli import cli
from pinmap.findings import found
from pinmap.planner import plan
from pinmap.readings import BadReadingsError, Probe, Row, parse
from pinmap.writers import bench_report


@pytest.fixture(autouse=True)
def _width(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")


def key(row: Row) -> tuple[str, str, str]:
    return row.kind, str(row.start), row.to


# ------------------------------------------------------------------ sweeps of the rails


def test_behind_the_rails_resistance_the_form_sweeps_every_rail_and_the_return_over_each_connector() -> None:
    rows = bench.form(oakmere())
    kinds = [row.kind for row in rows]
    first, last = kinds.index("sweep"), kinds.index("continuity")
    assert set(kinds[:first]) == {"resistance"}
    assert [(str(r.start), r.to, r.expected) for r in rows[first:last]] == [
        ("J2 B3", "J1", "4 60"),
        ("J2 B3", "J2", "B29"),
        ("J2 B9", "J1", "16"),
        ("J2 B9", "J2", "none"),
        ("J2 B7", "J1", "12"),
        ("J2 B7", "J2", "none"),
        ("J2 B5", "J1", "none"),
        ("J2 B5", "J2", "none"),
        ("J2 B1", "J1", "1 8 14 18 28 36 40 56 63"),
        ("J2 B1", "J2", "B10 B31"),
    ]
    assert rows[first].note == (
        "one probe stays, draw the other over the whole connector; write down every contact that beeps, or none; "
        "net +5V"
    )


def test_a_supply_on_a_line_far_away_is_found_by_the_form_alone() -> None:
    judged = Built(oakmere()).short("J1 16", "J2 A20").judge(without_volts(oakmere()))
    assert text(judged).split("\n\n")[:2] == [
        dedent("""\
            do not apply power
            Mend this with power off and nothing plugged in, then measure again. The power stays off until then.
            Oakmere 88 cabinet header to ISA slot, 8-bit: 235 readings taken; of the 239 of the form, 235
            settled"""),
        "  Danger\n    +12V (J2 B9) is joined to SA11 (J1 39): J2 B9 to J1 39 beeps in the sweep (r.csv:14)",
    ]


def test_every_supply_on_any_contact_of_another_net_is_found_by_the_form_alone() -> None:
    there = of_adapter(small())
    tried = 0
    for net in there.nets:
        for other in there.nets:
            if net.is_rail and other is not net:
                for a, b in ((a, b) for a in net.contacts for b in other.contacts):
                    judged = Built(small()).short(str(a), str(b)).judge(without_volts(small()))
                    assert (judged.verdict, other.unused) in (("do not apply power", False), ("mend first", True))
                    tried += 1
    assert tried == 68


@pytest.mark.parametrize("step", range(4, 10))
def test_nobody_is_told_to_plug_in_before_each_rail_is_swept(step: int) -> None:
    swept = bench.form(small())[step - 1]
    judged = Built(small()).judge(shown={step: ""})
    assert swept.kind == "sweep"
    assert (judged.first_line, [key(row) for row in judged.missing]) == (
        "not yet: 1 reading is missing",
        [key(swept)],
    )
    assert "plug" not in judged.following.replace("unplug", "")
    assert judged.following.endswith("The power stays off until then.")
    assert next(n.states for n in judged.nets if n.name == swept.note.rsplit(" ", 1)[-1]) == ("partly measured",)


def test_missing_sweeps_of_rails_come_before_all_other_readings() -> None:
    rows = [row for row in bench.form(oakmere()) if row.kind not in ("sweep", "resistance")]
    judged = Built(oakmere()).open(40).judge(rows)
    wanted = [key(row) for row in power_sweeps(of_adapter(oakmere()))]
    assert [key(row) for row in judged.missing[: len(wanted)]] == wanted
    assert judged.missing[0].note.startswith("power off, nothing plugged in, no remedies fitted; one probe stays, ")


def test_a_sweep_does_not_stand_for_the_resistance_of_a_supply_to_anything() -> None:
    """A beeper is silent at some hundred ohms already."""
    rows = [row for row in bench.form(small()) if row.kind in ("sweep", "continuity", "volts")]
    left = [row for row in Built(small()).judge(rows).missing if row.start.label in "12 7" or row.kind == "resistance"]
    assert {row.kind for row in left} == {"resistance", "isolation"}
    assert len([row for row in left if row.kind == "resistance"]) == 3
    judged = Built(small()).judge(shown={1: "300"})
    assert (judged.first_line, [d.sentence for d in judged.dangers]) == (
        "do not apply power",
        [
            "+5V (J2 1) is not clear of GND (J2 5): it reads '300' (r.csv:2); an adapter of plain wire has nothing "
            "between them"
        ],
    )


def test_a_pass_says_what_was_not_tested_until_every_line_is_swept() -> None:
    untested = "Lines were only tested against their neighbours; a sweep of each would find the rest. "
    said = "Switch off before the card goes in, and measure the rails at the card once more with it in."
    assert Built(small()).judge().following == untested + said
    assert Built(small()).judge(everything(small())).following == said
    # A sweep of one contact of each net over both connectors is enough.
    rows = list(everything(small()))
    firsts = {net.contacts[0] for net in of_adapter(small()).nets}
    enough = [row for row in rows if row.kind != "sweep" or row in bench.form(small()) or row.start in firsts]
    assert Built(small()).judge(enough).following == said
    lacking = [row for row in enough if key(row) != ("sweep", "J1 3", "J2")]
    assert Built(small()).judge(lacking).following == said  # from all others it is apart
    lacking = [row for row in enough if row.start not in {Probe("J1", "3"), Probe("J1", "9")} or row.kind != "sweep"]
    assert Built(small()).judge(lacking).following == untested + said


def test_the_second_line_of_a_pass_is_what_was_not_tested() -> None:
    assert text(Built(small()).judge()).splitlines()[:2] == [
        "all readings pass",
        "Lines were only tested against their neighbours; a sweep of each would find the rest. Switch off",
    ]


def test_a_rail_passes_only_with_its_sweeps_its_resistance_and_its_volts() -> None:
    for step, row in enumerate(bench.form(small()), 1):
        if "+5V" in row.note.split(" ") and row.kind in ("sweep", "resistance", "volts") and row.to != "J2 5":
            judged = Built(small()).judge(shown={step: ""})
            assert next(n.states for n in judged.nets if n.name == "+5V") == ("partly measured",), row
    # Of +5V to GND the meter says enough at the two contacts that lie side by side.
    assert Built(small()).judge(shown={1: ""}).verdict == "all readings pass"
    volts = Built(small()).judge(without_volts(small()))
    assert next(n.sentence for n in volts.nets if n.name == "+5V") == "still to measure: the volts at J2 1"


# ------------------------------------------------------------------ the plan says do not build


def refused(*messages: str) -> Adapter:
    dangers = [found("rail-meets-rail", message) for message in messages]
    return replace(
        small(), findings=(*dangers, found("needs-inverter", "a fault"), found("signal-absent", "a caution"))
    )


def test_a_plan_that_must_not_be_built_is_said_whatever_the_readings_are() -> None:
    adapter = refused("+5V meets +12V.")
    judged = Built(adapter).judge()
    assert text(judged) == dedent("""\
        do not apply power
        The plan itself says do not build, whatever the readings are: +5V meets +12V. The power stays off
        until then.
        The small connector to The card connector: 35 readings taken; of the 35 of the form, all settled

          Nets
            passed: 10 nets: GND, +5V, +12V, SD0–SD2, IOR*, IRQ3, card 9 IRQ4, host 10 unused""")
    assert judged.wrong
    out = bench_report.as_json(judged)
    assert (out["verdict"], out["refused"]) == ("do not apply power", ["+5V meets +12V."])
    assert Built(adapter).judge([]).first_line == "do not apply power"


def test_of_many_reasons_not_to_build_two_are_said() -> None:
    judged = Built(refused("one", "two", "three", "four")).judge([])
    assert judged.following == (
        "The plan itself says do not build, whatever the readings are: one; two; and 2 more. "
        "The power stays off until then."
    )
    only_faults = replace(small(), findings=(found("needs-inverter", "RESET must be turned"),))
    assert Built(only_faults).judge([]).following.endswith(": RESET must be turned. The power stays off until then.")


def test_the_form_of_a_plan_that_must_not_be_built_has_no_row_with_power_on() -> None:
    assert {row.kind for row in bench.form(refused("no"))} == {"resistance", "sweep", "continuity", "isolation"}


def test_the_form_is_written_all_the_same_and_stderr_says_do_not_build(tmp_path: Path) -> None:
    path = tmp_path / "form.csv"
    done = CliRunner().invoke(cli, ["bench", "brindle-portable", "isa-8bit", "--blank", "--out", str(path)])
    assert (done.exit_code, path.read_text(encoding="utf-8").count("\n")) == (0, 177)
    assert done.stderr == (
        "pinmap: do not apply power. The plan itself says do not build, whatever the readings are: RESET* of the host "
        "(23) must not be wired to RESET of the card (B2): their polarity is opposite.\n"
    )
    judged = CliRunner().invoke(cli, ["bench", "brindle-portable", "isa-8bit", str(path)])
    assert judged.exit_code == 1
    assert click.unstyle(judged.stdout).splitlines()[0] == "do not apply power"


# ------------------------------------------------------------------ a supply that goes astray


@pytest.mark.parametrize(
    ("built", "sentence"),
    [
        (
            Built(small()).open(3),
            "+5V, a supply, is open: J2 1 cut off from J1 2; look at wire 3; or its wire goes to a wrong contact: not "
            "yet swept",
        ),
        (
            Built(small()).exchange(3, 4),
            "+12V (J2 7) is joined to +5V (J1 2): J2 7 to J1 2 beeps in the sweep (r.csv:7)",
        ),
        (
            Built(small()).exchange(4, 5),
            "+12V (J2 7) is joined to SD0 (J1 3): J2 7 to J1 3 beeps in the sweep (r.csv:7)",
        ),
        (
            Built(small()).open(1),
            "GND, the return, is open: J2 5 cut off from J1 1 and J1 8; look at wire 1; or its wire goes to a wrong "
            "contact: not yet swept",
        ),
    ],
)
def test_a_supply_that_is_open_or_exchanged_stops_everything(built: Built, sentence: str) -> None:
    judged = built.judge(without_volts(small()))
    assert judged.first_line == "do not apply power"
    assert [danger.sentence for danger in judged.dangers][:1] == [sentence]


def test_a_supply_on_a_free_contact_stops_everything() -> None:
    judged = Built(small()).move(4, "J2 9").judge(everything(small()))
    assert judged.first_line == "do not apply power"
    bare = pin_map({"1": "GND", "2": "+5V", "3": "SD0", "4": "open"}, strip(4))
    adapter = replace(plan(bare, replace(bare, end="card")), findings=())
    number = next(n for n, a, _ in Built(adapter).wires if a.label == "2")
    judged = Built(adapter).move(number, "J2 4").judge(everything(adapter))
    assert [d.sentence for d in judged.dangers] == [
        f"+5V, a supply, is moved: J1 2 reaches J2 4 (card 4 unused) instead of J2 2; look at wire {number}"
    ]


def test_an_open_wire_of_a_return_of_which_others_are_whole_is_to_be_mended_without_alarm() -> None:
    judged = Built(oakmere()).open(1).judge(without_volts(oakmere()))
    assert judged.first_line == "mend first: GND open"


def test_a_cause_that_is_only_possible_is_a_danger_until_the_opposite_is_measured() -> None:
    rows = [row for row in bench.form(oakmere()) if row.kind == "continuity"]
    supplies = of_adapter(oakmere()).powers
    built = Built(oakmere()).mistaken("J1", "mirrored end to end")
    lines = [row for row in rows if not supplies(row.start)]
    judged = built.judge(lines)
    assert (judged.first_line, judged.named) == ("do not apply power", False)
    assert [d.sentence.split(", that")[0] for d in judged.dangers] == [
        "no reading shows the opposite yet: if J1 is wired mirrored end to end"
    ]
    # Swept and right, no mistake of the whole connector is left that puts a supply elsewhere.
    right = Built(oakmere())
    for number, a, _ in list(right.wires):
        if not supplies(a):
            right.open(number)
    swept = [row for row in bench.form(oakmere()) if row.kind in ("sweep", "continuity", "isolation", "resistance")]
    assert right.judge(swept).first_line.startswith("mend first: ")


def test_a_named_cause_without_a_sweep_of_the_supplies_says_what_it_does_to_them() -> None:
    built = Built(oakmere()).mistaken("J1", "mirrored end to end")
    supplies = of_adapter(oakmere()).powers
    rows = [row for row in everything(oakmere()) if row.kind == "sweep" and not supplies(row.start)]
    supply = {"4", "60", "12", "16"}
    rows = [row for row in rows if row.to == "J2" and row.start.label in {"3", "5", "7", "9", "21", "23", "25", "27"}]
    judged = built.judge(rows)
    assert supply.isdisjoint(row.start.label for row in rows)
    assert judged.named
    assert [d.sentence for d in judged.dangers] == [
        "J1 is wired mirrored end to end: that puts -12V (J1 12) on BALE (J1 54), +12V (J1 16) on DACK2* (J1 50) and "
        "+5V (J1 60) on IRQ2 (J1 6)"
    ]


STAYS_OFF = "The power stays off until then."


@pytest.mark.parametrize(
    "judged",
    [
        Built(small()).short("J2 3", "J2 4").judge(without_volts(small())),
        Built(small()).short("J2 1", "J2 2").judge(without_volts(small())),
        Built(small()).open(5).judge(without_volts(small())),
        Built(small()).open(3).judge(without_volts(small())),
        Built(small()).judge([]),
        Built(small()).judge(without_volts(small())[:-1]),
        Built(small()).judge((*without_volts(small()), bench.form(small())[14]), {36: "OL"}),
        Built(oakmere()).mistaken("J1", "mirrored end to end").judge(),
        Built(oakmere()).mistaken("J1", "mirrored end to end").judge(everything(oakmere())),
        Built(oakmere())
        .mistaken("J2", "turned by 180°")
        .judge([row for row in bench.form(oakmere()) if row.kind == "continuity"]),
    ],
)
def test_every_answer_but_a_pass_and_the_request_for_volts_says_that_the_power_stays_off(judged: Judged) -> None:
    assert judged.following.endswith(STAYS_OFF)


def test_the_request_for_volts_comes_when_all_else_is_right() -> None:
    judged = Built(small()).judge(without_volts(small()))
    assert (judged.first_line, judged.following) == (
        "not yet: 2 readings are missing",
        "All readings with power off pass: plug the adapter into the machine, without a card, and take the volts.",
    )


# ------------------------------------------------------------------ what is said, and in which order


def test_volts_taken_before_all_else_are_answered_with_switch_off() -> None:
    judged = Built(small()).judge([row for row in bench.form(small()) if row.kind == "volts"])
    assert (judged.first_line, judged.following) == (
        "not yet: 35 readings are missing",
        "Volts were taken before all readings with power off, so the power was on: switch off and unplug the adapter. "
        "Nothing is wrong so far. Take every reading with power off and see that it is right. The power stays off "
        "until then.",
    )


def test_of_many_dangers_six_are_shown_behind_the_cause() -> None:
    rows = [*sweeps(of_adapter(oakmere()))]
    built = Built(oakmere())
    for label in range(2, 12):
        built.short("J2 B3", f"J2 A{label}")
    lines = text(built.judge(rows)).split("\n\n")[1].splitlines()
    assert lines[0] == "  Danger"
    assert len([line for line in lines if line.startswith("    +5V ")]) == 6
    assert lines[-1] == "    and 4 more"


def test_an_end_that_is_dead_is_said_before_anything_else() -> None:
    built = Built(oakmere())
    for number, a, b in list(built.wires):
        if a.ref != b.ref:
            built.open(number)
    judged = built.judge(without_volts(oakmere()))
    assert text(judged).split("\n\n")[0] == dedent("""\
        do not apply power
        No wire from J1 to J2 reads as joined: look first whether the ribbon is in and crimped at both ends,
        and whether the right connectors were measured. Take the reading named below the causes next, to
        tell which it is. The power stays off until then.
        Oakmere 88 cabinet header to ISA slot, 8-bit: 235 readings taken; of the 239 of the form, 235
        settled""")
    assert len([row for row in judged.missing if row.kind == "sweep"]) <= 4


def test_of_many_nets_twelve_are_shown_and_what_stands_above_is_not_said_again() -> None:
    built = Built(oakmere())
    for number, *_ in list(built.wires):
        built.open(number)
    nets = text(built.judge(everything(oakmere()))).split("\n\n")[2].splitlines()
    assert nets[:5] == [
        "  Nets",
        "    GND open: see above",
        "    +5V open: see above",
        "    +12V open: see above",
        "    -12V open: see above",
    ]
    assert any(line.startswith("    and 40 more nets: ") for line in nets)


@pytest.mark.parametrize(
    ("shown", "what"),
    [
        ("-16.92", "too negative"),
        ("-11.3", "not negative enough"),
        ("-12.6", ""),
        ("12", "that is +12V"),
        ("0.1", "the supply does not arrive"),
    ],
)
def test_a_negative_supply_is_too_negative_or_not_negative_enough(shown: str, what: str) -> None:
    built = Built(oakmere())
    built.volts["B7"] = shown
    said = [d.sentence for d in built.judge().dangers]
    assert [s.split("): ")[1].split(";")[0] for s in said] == ([what] if what else [])


def test_readings_taken_twice_that_differ_are_answered_with_which_row_to_delete() -> None:
    rows = (*without_volts(small()), bench.form(small())[14])
    judged = Built(small()).judge(rows, {len(rows): "OL"})
    assert (judged.first_line, judged.following) == (
        "not yet: 1 reading contradicts others",
        "Take the readings that contradict each other again, and delete the old rows. The power stays off until then.",
    )


# ------------------------------------------------------------------ bad cells


def judged_file(tmp_path: Path, data: bytes) -> BadReadingsError:
    path = tmp_path / "r.csv"
    path.write_bytes(data)
    with pytest.raises(BadReadingsError) as caught:
        bench.judge_file(path, of_adapter(small()))
    return caught.value


def test_a_bad_cell_does_not_hide_a_short(tmp_path: Path) -> None:
    rows = without_volts(small())
    built = Built(small()).short("J1 1", "J1 2")
    values = [*built.show(rows)[:-1], "yes"]
    error = judged_file(tmp_path, filled(rows, values))
    assert [e.message.split(",")[0] for e in error.errors] == [
        "do not apply power: even without the rows that cannot be read: +5V (J1 2) is joined to GND (J2 5): J2 5 to J1 "
        f"2 beeps in the sweep ({tmp_path / 'r.csv'}:9)",
        "a reading must say what the meter showed in ohms",
    ]


def test_the_command_says_both_and_ends_with_status_2(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_text("kind,from,to,reading\nresistance,J2 B3,J2 B1,0.2\nresistance,J2 B9,J2 B1,4k7x\n", encoding="utf-8")
    with pytest.raises(BadReadingsError) as caught:
        api.judge_readings(path, "oakmere-88", "isa-8bit")
    assert str(caught.value).splitlines() == [
        "do not apply power: even without the rows that cannot be read: +5V (J2 B3) is joined to GND (J2 B1): J2 B3 to "
        f"J2 B1 reads '0.2' ({path}:2)",
        f"{path}:3:4: a reading's unit must be Ω, kΩ or MΩ, not 'k7x': '4k7x'",
    ]
    assert caught.value.exit_code == 2


def test_volts_against_no_return_do_not_hide_a_short_and_are_told_with_the_other_complaints(tmp_path: Path) -> None:
    error = judged_file(
        tmp_path,
        b"kind,from,to,reading\nvolts,J2 1,J2 7,5\nresistance,J2 1,J2 5,beep\nvolts,J2 1,,12k\n",
    )
    assert [e.message.split(":")[0] for e in error.errors] == [
        "do not apply power",
        "volts must be in volts, like 4.98 V, -11.9 V or 12 mV, not in ohms",
        "volts must be taken against a return, not against J2 7 (+12V)",
    ]


def test_where_the_other_rows_show_nothing_wrong_only_the_complaints_are_told(tmp_path: Path) -> None:
    error = judged_file(tmp_path, b"kind,from,to,reading\nresistance,J2 1,J2 5,OL\ncontinuity,J1 3,J2 2,yes\n")
    assert [e.place and e.place.line for e in error.errors] == [3]


# ------------------------------------------------------------------ the command


def test_the_help_shows_a_sweep_filled_in() -> None:
    shown = CliRunner().invoke(cli, ["bench", "--help"]).stdout
    assert "    11,sweep,J2 B3,J1,J1 4 60,J1 4 60,net +5V\n" in shown
    rows = "step,kind,from,to,expected,reading,note\n11,sweep,J2 B3,J1,4 60,4 60,net +5V\n"
    taken = parse(rows.encode(), "r.csv", of_adapter(oakmere()).labels).taken
    assert [str(p) for p in taken[0].found] == ["J1 4", "J1 60"]
    row = bench.form(oakmere())[10]
    assert (row.kind, str(row.start), row.to, row.expected) == ("sweep", "J2 B3", "J1", "4 60")


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["oakmere-88"], "bench takes HOST READINGS or HOST CARD READINGS, not 1 name."),
        (["a", "b", "c", "d"], "bench takes HOST READINGS or HOST CARD READINGS, not 4 names."),
        (["a", "b", "c", "--blank"], "bench takes HOST or HOST CARD with --blank, not 3 names."),
    ],
)
def test_a_wrong_number_of_names_is_counted_in_plain_english(names: list[str], said: str) -> None:
    done = CliRunner().invoke(cli, ["bench", *names])
    assert (done.exit_code, done.stderr.splitlines()[-1]) == (2, f"Error: {said}")


def test_a_shipped_map_needs_no_word_of_warning(tmp_path: Path) -> None:
    done = CliRunner().invoke(cli, ["bench", "oakmere-88", "isa-8bit", "--blank", "--out", str(tmp_path / "f.csv")])
    assert (done.exit_code, done.stderr) == (0, "")
    assert shipped("oakmere-88").title == "Oakmere 88 cabinet header"
