"""Parts and budget in every output: whole texts for a small design, and nothing of either where there is none."""

from __future__ import annotations

import csv
import io
import json
import re

import click
import pypdfium2
import pytest
from handparts import BUDGET, PARTS, with_parts
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from msgspec.structs import replace

import pinmap
from pinmap import bench
from pinmap.adapter import Adapter
from pinmap.electrical import SupplyBudget
from pinmap.wiring import wires
from pinmap.writers import budget, json_output, paper, screen_tables
from pinmap.writers.fitted import WHEN, fitted, lead_said, remedy_said
from pinmap.writers.page import html
from pinmap.writers.tables import report, wiring_csv, wiring_markdown

TERMINAL = """\
Oakmere 88 cabinet header to ISA slot, 8-bit

Supplies
  rail  drawn    limit    left     drop     arrives    allowed  weakest
  ------------------------------------------------------------------------------
  +5V   ~430 mA  2 A      1.57 A   13.1 mV  +4.987 V   ±250 mV  the machine's
                                                                supply
  -12V  25 mA    unknown  unknown  5.35 mV  −11.995 V  ±600 mV  not known: no
                                                                limit is given
  +5V: serial card ~400 mA and Y1 30 mA.
  -12V: serial card 25 mA.
  ~ a rule of thumb: only a card's label or a meter tells what it draws.
  -12V: measure what the machine's supply gives
  Every rail arrives within its tolerance; -12V can't be judged.

Wire
  for       size             per m   carries  may carry  warmer  melts at
  -----------------------------------------------------------------------
  supplies  28 AWG           213 mΩ  430 mA   1.4 A      –       6.7 A
  signals   0.25 mm × 35 µm  1.97 Ω  5.2 mA   880 mA     <0.1 K  –
  No conductor carries more than it may.

Lines
  group: driver    at low  can sink  at high  can give  pulls  lines
  --------------------------------------------------------------------
  data: either     0.8 mA  24 mA     0.04 mA  3 mA      –      SD0–SD3
  interrupt: card  0.4 mA  24 mA     0.02 mA  0.4 mA    10 kΩ  IRQ3
  150 mm long; from 600 mm on a line counts as long (an edge of 6 ns, factor 2).
  A signal takes 0.75 ns; a clock cycle takes 838 ns.
  53 signals beside 9 returns; far from a return, in conductors: CLK 4, IOR* 3;
  free to be joined to the return at the card's end: J1 58, 64.
  Every driver manages its loads.

Assumed
  - A card hangs 2 LS loads on each line (from memory).

What was found
  caution return-far
      a line must be shorter than 600 mm, and CLK is longer
      → shorten the ribbon
  and 1 note: --json has them

build with care: 5 cautions, 5 notes"""

NARROW = """\
Supplies
  +5V: drawn ~430 mA, limit 2 A, left
    1.57 A, drop 13.1 mV, arrives +4.987
    V, allowed ±250 mV, weakest the
    machine's supply"""

PARTS_TABLE = """\
## Parts

Fit parts and solder their leads only when every reading with power off is right: with a part in, a meter measures \
through it. When the parts are in, power still off, measure each supply against the return once more: none may stay \
near 0 Ω; a capacitor may beep for a moment.
"""

JOINED = {
    "R1": ["pin 1 to DACK3* (J2 B15)", "pin 2 to +5V"],
    "C1": ["pin 1 to +5V", "pin 2 to GND"],
    "Y1": ["pin 7 to GND", "pin 8 (OUT) to OSC (J2 B30)", "pin 14 (VCC) to +5V"],
    "JP1": ["pin 1 (card) to IRQ7 (J2 B21)", "pin 2 to IRQ3 (J1 48, J2 B25)"],
}

LEADS = [
    ("65", "J2 B1", "C1 2", "GND", "lead of C1 (100 nF)"),
    ("66", "J2 B10", "Y1 7", "GND", "lead of Y1 (14.31818 MHz)"),
    ("67", "J2 B3", "R1 2", "+5V", "lead of R1 (10 kΩ)"),
    ("68", "J2 B3", "C1 1", "+5V", "lead of C1 (100 nF)"),
    ("69", "J2 B29", "Y1 14", "+5V", "lead of Y1 (14.31818 MHz)"),
    ("70", "J2 B25", "JP1 2", "IRQ3", "lead of JP1 (1×2 pins)"),
    ("71", "J2 B30", "Y1 8", "card B30 OSC", "lead of Y1 (14.31818 MHz); the slot brings it only with video board"),
    ("72", "J2 B21", "JP1 1", "card B21 IRQ7", "lead of JP1 (1×2 pins); the slot does not bring it"),
    ("73", "J2 B15", "R1 1", "card B15 DACK3*", "lead of R1 (10 kΩ); the slot does not bring it"),
]


def plain() -> Adapter:
    return pinmap.adapt("oakmere-88", "isa-8bit")


def cells(text: str, heading: str) -> list[list[str]]:
    """The rows of the table below a heading of a Markdown text, as a reader of Markdown sees them."""
    part = text[text.index(f"\n{heading}\n") :]
    out: list[list[str]] = []
    inside = False
    for token in MarkdownIt("commonmark").enable("table").parse(part):
        if token.type == "tr_open":
            out.append([])
            inside = True
        elif token.type == "table_close":
            break
        elif token.type == "inline" and inside:
            out[-1].append("".join(child.content for child in token.children or () if child.type == "text"))
    return out


# ------------------------------------------------------------------ the budget by itself


def test_the_budget_for_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    shown = click.unstyle(budget.text(BUDGET, with_parts()))
    assert [line.rstrip() for line in shown.splitlines()] == TERMINAL.splitlines()


def test_the_budget_fits_eighty_columns_and_narrow_screens(monkeypatch: pytest.MonkeyPatch) -> None:
    for columns, most in (("140", 80), ("80", 80), ("72", 80), ("60", 60), ("40", 40)):
        monkeypatch.setenv("COLUMNS", columns)
        shown = click.unstyle(budget.text(replace(BUDGET, findings=()), with_parts()))
        assert max(map(len, shown.splitlines())) <= most
    assert NARROW in shown


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.text(min_size=1, max_size=60), st.text(max_size=200), st.floats(-50, 50), st.floats(0, 50))
def test_the_tables_stay_within_their_columns_whatever_is_in_them(rail: str, weakest: str, v: float, a: float) -> None:
    supply = SupplyBudget(rail, v, (), a, (), (), a, v, v, weakest, v)
    table = budget.tables(replace(BUDGET, supplies=(supply,)))[0]
    assert max(map(len, budget._plain(table))) <= 80


def test_a_budget_of_nothing_says_so() -> None:
    empty = replace(BUDGET, supplies=(), conductors=(), lines=(), timing=None, returns=None, findings=(), assumed=())
    shown = click.unstyle(budget.text(empty, with_parts())).splitlines()
    assert shown.count("  none") == 3
    assert "Assumed" not in shown
    assert "\n".join(budget.markdown(empty)).count("None.") == 3


def test_a_rail_that_nothing_brings_arrives_nowhere() -> None:
    nothing = SupplyBudget("-5V", -5.0, (), 0.0, (), (), 0.0, 0.0, 0.25, "nothing brings it", 0.0)
    without = replace(BUDGET, supplies=(nothing,))
    row = ("-5V", "0 A", "–", "–", "–", "–", "±250 mV", "nothing brings it")
    assert budget.tables(without)[0].rows == (row,)
    assert budget.as_json(without, with_parts())["supplies"][0]["at_card_v"] is None


def test_a_rail_that_a_part_makes_says_from_which() -> None:
    made = replace(BUDGET.supplies[0], fed_by="-12V", weakest="regulator U1")
    assert budget.tables(replace(BUDGET, supplies=(made,)))[0].rows[0][-1] == "regulator U1; made from -12V"


@pytest.mark.parametrize(
    ("value", "said"),
    [(0.0, "0 mV"), (0.00005, "0.05 mV"), (0.04512, "45.1 mV"), (0.9999, "1000 mV"), (1.2, "1.2 V"), (-0.3, "-300 mV")],
)
def test_potentials(value: float, said: str) -> None:
    assert budget.potential(value) == said


@pytest.mark.parametrize(
    ("value", "said"), [(0.2129, "213 mΩ"), (4.7, "4.7 Ω"), (10_000.0, "10 kΩ"), (1e6, "1 MΩ"), (0.0, "0 mΩ")]
)
def test_resistances(value: float, said: str) -> None:
    assert budget.resistance(value) == said


@pytest.mark.parametrize(
    ("value", "said"), [(0.75e-9, "0.75 ns"), (838.1e-9, "838 ns"), (1.26e-6, "1.26 µs"), (0.2, "200 ms"), (2, "2 s")]
)
def test_durations(value: float, said: str) -> None:
    assert budget.duration(value) == said


@given(st.floats(-1e9, 1e9))
@settings(derandomize=True, deadline=None)
def test_a_figure_has_no_exponent_and_keeps_three_places(value: float) -> None:
    said = budget.figures(value)
    assert re.fullmatch(r"-?\d+(\.\d+)?", said)
    assert float(said) == pytest.approx(value, rel=0.006, abs=1e-11)


def test_the_budget_as_json_keeps_its_keys_and_adds_up() -> None:
    got = json.loads(json_output.dump(budget.as_json(BUDGET, with_parts())))
    assert list(got) == [
        "format",
        "title",
        "host",
        "card",
        "verdict",
        "supplies",
        "wire",
        "lines",
        "timing",
        "returns",
        "said",
        "assumed",
        "findings",
    ]
    five, minus = got["supplies"]
    assert five["drawn_a"] == round(sum(d["amps_a"] for d in five["draws"]), 9) == 0.43
    assert five["draws"][0] == {"who": "serial card", "amps_a": 0.4, "rule_of_thumb": True}
    assert five["at_card_v"] == 4.98687
    assert (minus["limit_a"], minus["left_a"], minus["at_card_v"]) == (None, None, -11.99465)
    assert five["carriers"][1] == {
        "what": "wire 28 AWG",
        "count": 2,
        "each_a": None,
        "ohm": 0.032,
        "source": "wire table",
    }
    assert list(got["lines"][1]) == [
        "signals",
        "group",
        "driver",
        "sinks_a",
        "can_sink_a",
        "sources_a",
        "can_source_a",
        "pull_ohm",
        "source",
    ]
    assert got["timing"]["delay_s"] == 7.5e-10
    assert got["returns"]["far"][0] == {"signal": "CLK", "conductors": 4}
    assert [f["grade"] for f in got["findings"]] == ["note", "caution"]
    nothing = budget.as_json(replace(BUDGET, timing=None, returns=None), with_parts())
    assert (nothing["timing"], nothing["returns"]) == (None, None)


# ------------------------------------------------------------------ parts and leads


def test_every_pin_says_where_it_goes() -> None:
    assert {f.part.ref: list(f.joined) for f in fitted(with_parts())} == JOINED


def test_every_lead_belongs_to_one_part() -> None:
    some = [lead.number for f in fitted(with_parts()) for lead in f.leads]
    assert sorted(some) == [w.number for w in wires(with_parts()) if w.kind == "lead"]
    assert len(some) == sum(len(part.pins) for part, _ in PARTS)


def test_the_spreadsheet_has_every_lead() -> None:
    rows = list(csv.DictReader(io.StringIO(wiring_csv(with_parts()))))
    leads = [row for row in rows if row["kind"] == "lead"]
    assert [(r["wire"], r["from"], r["to"], r["signal"], r["remark"]) for r in leads] == [
        (number, start, stop, f"net {signal}", f"note: {remark}") for number, start, stop, signal, remark in LEADS
    ]
    assert [r["to pad"] for r in leads if r["to"] == "Y1 14"] == ["pad 14"]
    assert [r["wire"] for r in rows] == [str(n) for n in range(1, len(rows) + 1)]


def test_the_wiring_to_print_has_parts_and_leads_apart_from_the_wires() -> None:
    text = wiring_markdown(with_parts())
    assert PARTS_TABLE in text
    assert [row[0] for row in cells(text, "## Parts")] == ["part", "R1", "C1", "Y1", "JP1"]
    leads = cells(text, "## Leads of the parts")[1:]
    assert [(r[0], r[1], r[3], r[5], r[8]) for r in leads] == LEADS
    wired = cells(text, "## Supplies and returns")[1:] + cells(text, "## Signals")[1:]
    assert {row[0] for row in wired} | {row[0] for row in leads} == {str(w.number) for w in wires(with_parts())}
    assert not any(row[0] in {lead[0] for lead in leads} for row in wired)
    loose = {row[1] for row in cells(text, "## Not connected")[1:]}
    assert {"B5", "A1", "B16"} <= loose  # -5V, IOCHK* and DRQ3 have no part here
    assert not {"B15", "B21", "B30"} & loose


def test_the_report_says_which_part_carries_a_remedy_out_and_why_it_has_its_value() -> None:
    text = report(with_parts())
    rows = {row[0]: row for row in cells(text, "## Signals that do not map")[1:]}
    assert rows["DACK3*"][4].startswith("carried out by R1: pull up 10 kΩ to +5V: ")
    assert rows["-5V"][4].startswith("regulator -5 V from -12V: ")
    parts = {row[0]: row for row in cells(text, "## Parts")[1:]}
    assert parts["R1"][4] == "0.5 mA at the low level, far below what any driver sinks (common practice, no source)"
    assert parts["Y1"][6] == "the sharp corner is pin 1"
    assert parts["JP1"][3] == "; ".join(JOINED["JP1"])
    assert text.index("\n## Parts\n") < text.index("\n## Budget\n") < text.index("\n## Which kinds of card can work\n")


def test_the_budget_stands_in_both_markdown_files() -> None:
    for text in (wiring_markdown(with_parts()), report(with_parts())):
        assert cells(text, "### Supplies")[1][:4] == ["+5V", "~430 mA", "2 A", "1.57 A"]
        assert cells(text, "### Wire")[2][1] == "0.25 mm × 35 µm"
        assert cells(text, "### Lines")[2][5] == "10 kΩ"
        assert "- A card hangs 2 LS loads on each line (from memory)." in text


def test_the_terminal_shows_leads_parts_and_the_three_sentences(capsys: pytest.CaptureFixture[str]) -> None:
    screen_tables.adapted(with_parts(), ())
    shown = capsys.readouterr().out
    flat = " ".join(shown.split())
    assert "73 J2 B15 B15 R1 1 1 card B15 DACK3* DMA open lead of R1 (10 kΩ); the slot does" in flat
    assert "Y1 14.31818 MHz oscillator: OSC of the card pin 7 to GND; pin 8 (OUT) to OSC (J2 B30);" in flat
    assert "carried out by JP1: jumper" in flat
    assert "Budget Supplies: Every rail arrives within its tolerance; -12V can't be judged." in flat
    assert "Lines: Every driver manages its loads." in flat


def test_a_narrow_terminal_loses_no_part(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "44")
    screen_tables.adapted(with_parts(), ())
    shown = capsys.readouterr().out
    flat = " ".join(shown.split())
    assert "R1: resistor: pull-up on DACK3*, 10 kΩ: pin 1 to DACK3* (J2 B15); pin 2 to +5V" in flat
    assert "→ the sharp corner is pin 1" in flat
    assert "73: lead of R1 (10 kΩ); the slot does not bring it" in flat


def test_the_json_of_a_design_ends_in_parts_and_budget() -> None:
    got = json.loads(json_output.dump(json_output.adapted(with_parts(), ())))
    assert list(got)[-4:] == ["findings", "files", "parts", "budget"]
    assert got["parts"][1] == {
        "ref": "C1",
        "kind": "capacitor",
        "value": "100 nF",
        "footprint": "Capacitor_THT:C_Disc_D3.0mm_W1.6mm_P2.50mm",
        "purpose": "decoupling of Y1",
        "pins": [["1", "+5V"], ["2", "GND"]],
        "serves": [],
        "why": "",
        "source": "",
        "fit": "short leads, at the can",
    }
    assert got["budget"] == json.loads(json.dumps(budget.as_json(BUDGET, with_parts())))
    assert {u["signal"]: u["parts"] for u in got["unmapped"] if u["parts"]} == {
        "OSC": ["Y1"],
        "IRQ7": ["JP1"],
        "DACK3*": ["R1"],
    }
    unbuilt = json_output.adapted(replace(with_parts(), budget=None), ())
    assert unbuilt["budget"] is None


def test_two_maps_say_nothing_of_parts_or_budget(capsys: pytest.CaptureFixture[str]) -> None:
    adapter = plain()
    screen_tables.adapted(adapter, ())
    said = [capsys.readouterr().out, wiring_markdown(adapter), report(adapter), wiring_csv(adapter)]
    for text in said:
        assert not re.search(r"\bBudget\b|\bParts\b|\blead of\b|carried out", text)
    assert list(json_output.adapted(adapter, ()))[-1] == "files"
    assert fitted(adapter) == ()


def test_a_wire_is_no_lead_and_an_open_remedy_is_only_named() -> None:
    adapter = with_parts()
    assert {lead_said(adapter, w) for w in wires(adapter) if w.kind != "lead"} == {""}
    named = [u for u in adapter.unmapped if not u.parts]
    assert [remedy_said(u) for u in named] == [str(u.remedy) for u in named]
    assert WHEN in wiring_markdown(adapter)


def test_hostile_words_in_a_budget_and_a_part_do_nothing() -> None:
    bad = "<b>|`x` \x1b[31m"
    part = replace(with_parts().parts[0], why=bad, fit=bad, value=bad)
    adapter = replace(
        with_parts(),
        parts=(part, *with_parts().parts[1:]),
        budget=replace(BUDGET, supplies_said=bad, assumed=(bad,)),
    )
    for text in (wiring_markdown(adapter), report(adapter)):
        assert "<b>" not in text
        assert "\x1b" not in text
        assert len(cells(text, "## Parts")[1]) == 7
    assert "\x1b[31m" not in click.unstyle(budget.text(adapter.budget or BUDGET, adapter))
    assert "\x1b" not in wiring_csv(adapter)


@pytest.mark.parametrize("design", ["oakmere-riser", "brindle-riser", "tarn-riser"])
def test_every_part_and_every_lead_of_a_shipped_design_is_in_every_output(design: str) -> None:
    adapter = pinmap.adapt(design)
    assert adapter.parts
    assert adapter.budget
    leads = [w for w in wires(adapter) if w.kind == "lead"]
    assert {(w.stop.ref, w.stop.pad) for w in leads} | {(w.start.ref, w.start.pad) for w in leads} >= {
        (part.ref, pad) for part in adapter.parts for pad, _ in part.pins
    }
    rows = [row for row in csv.DictReader(io.StringIO(wiring_csv(adapter))) if row["kind"] == "lead"]
    assert [(row["from"], row["to"]) for row in rows] == [
        (f"{w.start.ref} {w.start.label}", f"{w.stop.ref} {w.stop.label}") for w in leads
    ]
    for text in (wiring_markdown(adapter), report(adapter)):
        assert [row[0] for row in cells(text, "## Parts")[1:]] == [part.ref for part in adapter.parts]
        assert [row[0] for row in cells(text, "### Supplies")[1:]] == [s.rail for s in adapter.budget.supplies]
    assert [row[0] for row in cells(wiring_markdown(adapter), "## Leads of the parts")[1:]] == [
        str(w.number) for w in leads
    ]
    page = html(adapter)
    for part in adapter.parts:
        assert f'data-tick="{part.ref}" data-late' in page
    for w in leads:
        assert f'data-tick="{w.number}" data-late' in page
    printed = "".join(sheet.get_textpage().get_text_bounded() for sheet in pypdfium2.PdfDocument(paper.pdf(adapter)))
    bare = re.sub(r"[\s\u200b\ufffe]", "", printed)
    for w in leads:
        ends = f"{w.number}{w.start.ref}{w.start.label}{w.start.pad}{w.stop.ref}{w.stop.label}{w.stop.pad}"
        assert ends in bare, ends
    got = json_output.adapted(adapter, ())
    assert [part["ref"] for part in got["parts"]] == [part.ref for part in adapter.parts]
    shown = click.unstyle(budget.text(replace(adapter.budget, findings=()), adapter))
    assert max(map(len, shown.splitlines())) <= 80


# ------------------------------------------------------------------ what is measured


def test_readings_are_those_before_the_parts_go_in() -> None:
    """No lead is measured, and no part between two nets excuses a short; only the numbers of the wires differ."""
    with_them, without = bench.form(with_parts()), bench.form(plain())
    said = [(row.kind, str(row.start), row.to, row.expected) for row in with_them]
    assert said == [(row.kind, str(row.start), row.to, row.expected) for row in without]
    numbers = {w.number for w in wires(with_parts()) if w.kind != "lead"}
    named = [row.note for row in with_them if row.kind == "continuity"]
    assert named == [f"wire {n}, net {w.signal}" for n, w in enumerate(wires(with_parts()), 1) if n in numbers]


def test_a_rail_that_a_part_feeds_is_measured_at_the_card_before_the_card_goes_in() -> None:
    adapter = with_parts()
    made = replace(adapter.parts[0], ref="U1", kind="regulator", feeds="-5V", pins=(("3", "output"),))
    nets = tuple(replace(net, parts=(*net.parts, ("U1", "3"))) if net.signal == "-5V" else net for net in adapter.nets)
    rows = bench.form(replace(adapter, nets=nets, parts=(*adapter.parts, made)))
    volts = [(str(row.start), row.expected) for row in rows if row.kind == "volts"]
    assert ("J2 B5", "from −5.25 V to −4.75 V") in volts
    assert len(volts) == 1 + sum(row.kind == "volts" for row in bench.form(adapter))
