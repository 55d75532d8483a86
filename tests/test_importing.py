"""Tables become pin maps: what is found, what is asked back, what is said of every row, and what is refused."""

from __future__ import annotations

import contextlib
import datetime
import io
import struct
import time
import tracemalloc
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from handmade import BUS8, BUS16, pin_map, shipped
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from layouts import DRAWINGS, LAYOUTS, connector_of, listed, read_back, separated, workbook

from pinmap import importing_tables, importing_workbook, tabular
from pinmap.body import Body, Section
from pinmap.errors import PinmapError, UnreadableError
from pinmap.importing import Imported, imported
from pinmap.importing_cells import Reader
from pinmap.model import Bus, PinMap, Signal
from pinmap.naming import Names

TABLES = Path(__file__).parent / "data" / "tables"
SLOT = [(c.label, c.written) for c in shipped("isa-8bit").contacts]


def made(text: str | bytes, name: str = "table.txt", **options: Any) -> Imported:
    raw = text if isinstance(text, bytes) else text.encode()
    return imported(tabular.read(raw, name), **options)


def refused(text: str | bytes, name: str = "table.txt", **options: Any) -> str:
    with pytest.raises(PinmapError) as error:
        made(text, name, **options)
    return str(error.value)


def contacts(answer: Imported) -> list[str]:
    """The lines of the map under `contacts:`."""
    return [line.strip() for line in answer.text.partition("\ncontacts:\n")[2].splitlines()]


def remarks(answer: Imported) -> list[str]:
    return [str(r) for r in (*answer.not_understood, *answer.doubts)]


# ------------------------------------------------------------------ any map, any layout

MARKS = ("{}*", "-{}", "/{}", "{}#", "~{{{}}}", "{}-", "!{}", "n{}", "{}_N")


def spellings(bus: Bus) -> list[list[str]]:
    """For every line of a bus the names that mean it with its own polarity."""
    names = Names(bus)

    def all_of(signal: Signal) -> list[str]:
        plain = [signal.name, *signal.aliases]
        return [mark.format(n[:-1]) for n in plain for mark in MARKS] if signal.active == "low" else plain

    def means(spelling: str, signal: Signal) -> bool:
        read = names.read(spelling)
        return bool(read and read.signal is signal and not read.inverted("used"))

    each = [[s for s in all_of(signal) if means(s, signal)] for signal in bus.signals.values()]
    return [s for s in each if s]


LINES = {bus.name: spellings(bus) for bus in (BUS8, BUS16)}
SIZES = st.integers(4, 16)
BODIES = st.one_of(
    SIZES.map(lambda n: Body("edge slot", (Section(2, n, ("A", "B")),), "rows", "top left")),
    SIZES.map(lambda n: Body("din 41612", (Section(2, n, ("c", "a")),), "rows", "bottom left", gender="female")),
    SIZES.map(lambda n: Body("edge slot", (Section(2, n, ("A", "B")), Section(2, 5, ("C", "D"), 0, 90.0)), "rows")),
    SIZES.map(lambda n: Body("box header", (Section(2, n),), "zigzag", "bottom left")),
    SIZES.map(lambda n: Body("edge slot", (Section(2, n),), "lettered")),
    SIZES.map(lambda n: Body("pin header", (Section(1, n + 4),), "serial")),
)


@st.composite
def maps(draw: st.DrawFn) -> PinMap:
    bus, body = draw(st.sampled_from([BUS8, BUS16])), draw(BODIES)
    line = st.sampled_from(LINES[bus.name]).flatmap(st.sampled_from)
    entry = st.one_of(*[line] * 6, st.sampled_from(["open", "key", "NC", "n/c"]), st.none())
    said = {label: draw(entry) for label in body.labels}
    said |= dict(zip(body.labels, ("IOR*", "GND"), strict=False))  # a table that marks lines, and can be one
    return pin_map({k: v for k, v in said.items() if v is not None}, body, bus=bus, rest="undescribed")


@settings(max_examples=250, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(maps(), st.sampled_from(sorted(LAYOUTS)))
def test_any_map_in_any_layout_comes_back(
    tmp_path_factory: pytest.TempPathFactory, pin_map_: PinMap, layout: str
) -> None:
    write, file = LAYOUTS[layout]
    pairs = [(c.label, c.written) for c in pin_map_.contacts if c.role != "undescribed"]
    try:
        answer = made(write(pairs), file, like=pin_map_, bus=pin_map_.bus.name)
    except PinmapError as error:
        assert "equally well" in error.message  # noqa: PT017 - asked back, which is an answer too
        answer = made(write(pairs), file, like=pin_map_, contact_column="1,3", signal_column="2,4")
    again = read_back(answer.text, tmp_path_factory.mktemp("map"))
    assert again.map is not None
    assert connector_of(again.map) == connector_of(pin_map_)
    assert [r for r in answer.not_understood if "no line of" not in r.why] == []


@settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(maps(), st.sampled_from(sorted(DRAWINGS)))
def test_any_map_without_a_hole_comes_back_from_a_drawing(
    tmp_path_factory: pytest.TempPathFactory, pin_map_: PinMap, drawing: str
) -> None:
    assume(len(pin_map_.contacts) % 2 == 0)
    write, file = DRAWINGS[drawing]
    pairs = [(c.label, "NC" if c.role == "undescribed" else c.written) for c in pin_map_.contacts]
    answer = made(write(pairs), file, like=pin_map_, bus=pin_map_.bus.name)
    again = read_back(answer.text, tmp_path_factory.mktemp("map"))
    assert again.map is not None
    whole = {
        (label, "open" if role == "undescribed" else role, "open" if role == "undescribed" else name, inverted)
        for label, role, name, inverted in connector_of(pin_map_)
    }
    assert connector_of(again.map) == whole
    assert [r for r in answer.not_understood if "no line of" not in r.why] == []


# ------------------------------------------------------------------ tables as people have them


def test_a_service_sheet_becomes_a_map_to_edit() -> None:
    sheet = TABLES / "service-sheet.csv"
    answer = imported(tabular.read(sheet, "service-sheet.csv"), body="box header 2x10 zigzag first bottom left")
    assert (
        answer.text
        == """\
# Made from the table service-sheet.csv. Hold it against the source, measure supplies and returns first.
#
# Assumed; correct what is wrong:
# - bus: isa-8bit, which has 17 of 18 names; --bus says otherwise
# - pitch: 2.54 mm, row pitch: 2.54 mm; the table does not tell them
#
# Not understood, or in doubt:
# - service-sheet.csv:21:2: 'SPKR': no line of isa-8bit (contact 19); it stands in the map as written: correct it or \
describe it under own signals
# - service-sheet.csv:18:1: '16  IRQ7': the table says out, but IRQ7 is driven by the card, and the other lines are \
seen from the host
format: 1
title: Expansion connector of the cabinet
bus: isa-8bit
end: host                     # host: the machine's connector; card: what a card brings
source: the table service-sheet.csv
seen: manual                  # manual, measured or guessed, where a contact does not say its own
body:                         # seen from the mating face: look at the contacts, as the plug does
  form: box header
  rows: 2
  places: 10
  labels: zigzag
  first: bottom left          # the corner of the first contact
  pitch: 2.54 mm              # measure it over many contacts and divide
  row pitch: 2.54 mm
contacts:
  1: GND
  2: RESET DRV
  3: D7
  4: +5 V
  5: D6
  6: {signal: IRQ2, note: "smudged on the sheet"}
  7: D5
  8: -12V
  9: D4
  10: /IOR
  11: D3
  12: /IOW
  13: D2
  14: AEN
  15: D1
  16: IRQ7
  17: D0
  18: n.c.
  19: {signal: SPKR, note: "to the loudspeaker"}
  20: {signal: key, note: "no pin here"}
"""
    )
    assert [str(r) for r in answer.passed_over] == [
        "service-sheet.csv:1:1: 'Expansion connector of the cabinet': a heading",
        "service-sheet.csv:2:1: 'Pin  Signal  Dir.  Remarks': a heading",
    ]


def test_both_rows_side_by_side_are_two_rows() -> None:
    answer = imported(tabular.read(TABLES / "two-rows.txt", "two-rows.txt"))
    assert contacts(answer)[:6] == [
        "A1: -I/O CH CK",
        "A2..A9: D7..D0",
        "A10: I/O CH RDY",
        "A11: AEN",
        "B1: GND",
        "B2: RESET DRV",
    ]
    assert "title: Slot seen from the component side" in answer.text
    assert remarks(answer) == []


def test_lettered_rows_side_by_side_are_read() -> None:
    left = ["GND", "D0", "D1", "-IOR", "-IOW", "AEN", "CLK", "TC"]
    right = ["+5V", "A0", "A1", "A2", "A3", "A4", "A5", "GND"]
    lines = [f"{n} {a}".ljust(10) + f"{b} {c}" for n, a, b, c in zip(range(1, 9), left, "ABCDEFHJ", right, strict=True)]
    answer = made("\n".join(lines))
    assert contacts(answer)[8:] == ["A: +5V", "B..H: A0..A5", "J: GND"]
    assert "labels: lettered, numbers on one row and letters on the other" in answer.assumed
    assert remarks(answer) == []


def test_both_rows_in_one_line_with_single_spaces_are_read() -> None:
    slot = dict(SLOT)
    lines = [f"B{n} {slot[f'B{n}']} A{n} {slot[f'A{n}']}" for n in range(1, 32)]
    assert contacts(made("\n".join(lines))) == contacts(made(separated(SLOT), "table.csv"))


def test_a_second_pair_of_rows_with_other_numbers_is_a_section(tmp_path: Path) -> None:
    names = [*LINES_OF_A_CARD, "GND", "+5V", "AEN", "TC", "GND"]
    labels = [f"{row}{n}" for row in "AB" for n in range(1, 7)] + [f"{row}{n}" for row in "CD" for n in range(5)]
    answer = made(separated(list(zip(labels, names, strict=False))), "table.csv")
    again = read_back(answer.text, tmp_path).map
    assert again is not None
    assert again.body.sections == (
        Section(2, 6, ("A", "B"), 1),
        Section(2, 5, ("C", "D"), 0, along_mm=17.78),
    )
    assert answer.assumed[1] == (
        "sections: rows A and B and C and D in one line, each a place behind the last; the table does not tell where"
    )


LINES_OF_A_CARD = [f"SD{n}" for n in range(8)] + [f"SA{n}" for n in range(8)] + ["IOR*"]


def test_a_run_ends_with_its_row() -> None:
    pairs = [(f"{row}{n}", f"SD{4 * (row == 'B') + n - 1}") for row in "AB" for n in range(1, 5)]
    assert contacts(made(separated(pairs), "table.csv")) == ["A1..A4: SD0..SD3", "B1..B4: SD4..SD7"]


def test_a_bar_in_a_markdown_cell_is_a_bar() -> None:
    answer = made("| Pin | Signal |\n|---|---|\n| 1 | GND |\n| 2 | -IOR |\n| 3 | X\\|Y |\n| 4 | +5V |\n", body="zigzag")
    assert contacts(answer)[2] == '3: "X|Y"'


@pytest.mark.parametrize("heads", ["No,Pin,Signal", ",Pin,Signal", "No,,Signal", "Step,Contact,Line"])
def test_a_heading_tells_the_contacts_from_other_numbers(heads: str) -> None:
    rows = [f"{n},{label},{name}" for n, (label, name) in enumerate(SLOT, 1)]
    answer = made("\n".join([heads, *rows]), "table.csv")
    assert contacts(answer) == contacts(made(separated(SLOT), "table.csv"))


def test_a_number_before_the_letter_is_said() -> None:
    answer = made(listed([(f"{label[1:]}{label[0]}", name) for label, name in SLOT]))
    assert answer.assumed[0] == "labels: the table writes the number before the letter; A1 is meant"


def test_a_cell_left_empty_between_columns_of_spaces_is_empty() -> None:
    lines = ["Pin   Dir   Signal      Remarks"]
    lines += [f"{n:<6}{way:6}{name:12}{note}".rstrip() for n, way, name, note in SPACED]
    answer = made("\n".join(lines), body="zigzag")
    assert contacts(answer) == [
        '1: {signal: -IOR, note: "a strobe"}',
        "2: GND",
        '3: {signal: IRQ3, note: "level"}',
        '4: {signal: +5V, note: "1 A at most"}',
        '5: {signal: AEN, note: "high in DMA"}',
        '6: {signal: I/O CH CK, note: "parity"}',
    ]
    assert remarks(answer) == [
        "table.txt:7:13: 'I/O CH CK': it stands without a mark of active low, opposite to IOCHK* of isa-8bit: another "
        "polarity, or a slip"
    ]


SPACED = [
    (1, "O", "-IOR", "a strobe"),
    (2, "", "GND", ""),
    (3, "I", "IRQ3", "level"),
    (4, "", "+5V", "1 A at most"),
    (5, "O", "AEN", "high in DMA"),
    (6, "I", "I/O CH CK", "parity"),
]


def test_a_drawn_box_with_rows_a_and_c_is_a_din_connector() -> None:
    answer = imported(tabular.read(TABLES / "boxes.txt", "boxes.txt"))
    assert contacts(answer) == [
        "a1: +5V",
        "a2: IOR#",
        "a3: IOW#",
        "a4: AEN",
        "c1: GND",
        "c2: IRQ3",
        "c3: SD0",
        "c4: SD1",
    ]
    assert "form: din 41612\n  gender: female" in answer.text
    assert "letters: c a " in answer.text
    assert [r.why for r in answer.passed_over] == [
        "a line that only draws the table",
        "a heading",
        "a line that only draws the table",
        "a line that only draws the table",
    ]


@pytest.mark.parametrize(
    ("written", "contact"),
    [
        ("→ IOR*", "9: IOR*"),
        ("← IOR*", "9: IOR*"),
        ("> IOR*", "9: IOR*"),
        ("< IOR*", "9: IOR*"),
        ("-> /IOR", "9: /IOR"),
        ("<-> SD0", "9: SD0"),
        ("I IRQ3", "9: IRQ3"),
        ("O IOR#", "9: IOR#"),
        ("I/O SD0", "9: SD0"),
        ("in IRQ3", "9: IRQ3"),
        ("OUT -IOR", "9: -IOR"),
        ("IRQ3 (in)", "9: IRQ3"),
        ("-IOR", "9: -IOR"),
        ("/IOR", "9: /IOR"),
        ("~IOR", '9: "~IOR"'),
        ("nIOR", "9: nIOR"),
        ("#IOR", "9: IOR#"),
        ("I\u0305O\u0305R\u0305", '9: "I\u0305O\u0305R\u0305"'),
        ("+IRQ 2", "9: IRQ 2"),
        ("I/O CH CK", "9: I/O CH CK"),
        ("(key)", "9: key"),
        ("N/C", "9: N/C"),
        ("GND (shield)", '9: {signal: GND, note: "shield"}'),
    ],
)
def test_a_mark_round_a_name_is_read_and_left_away(written: str, contact: str) -> None:
    rows = [f"{n}: {name}" for n, name in enumerate(("GND", "+5V", "-IOW", "SD1", "SD3", "SD5", "AEN", "TC"), 1)]
    answer = made("\n".join([*rows, f"9: {written}"]))
    assert contacts(answer)[-1] == contact
    assert answer.not_understood == ()


@pytest.mark.parametrize("mark", [": ", " = ", " - ", " – ", ". ", ") ", " ", "-", " → ", "\t"])
def test_lists_part_contact_and_signal_in_many_ways(mark: str) -> None:
    answer = made(listed(SLOT, mark))
    assert contacts(answer) == contacts(made(separated(SLOT), "table.csv"))


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("A01", "A1"),
        ("A-1", "A1"),
        ("A 1", "A1"),
        ("1A", "A1"),
        ("Pin A1", "A1"),
        ("J3-A1", "A1"),
        ("J3.A1", "A1"),
        ("(A1)", "A1"),
        ("A1.", "A1"),
    ],
)
def test_labels_are_read_as_their_scheme_writes_them(written: str, said: str) -> None:
    rows = [(written.replace("A", label[0]).replace("1", label[1:]), name) for label, name in SLOT]
    answer = made(separated(rows, "\t"), "table.tsv")
    assert contacts(answer)[0] == f"{said}: IOCHK*"
    assert answer.not_understood == ()


def test_runs_and_several_contacts_in_a_cell_are_taken_apart() -> None:
    answer = made(
        "A2-A9: SD7-SD0\nA12..A31: SA19..SA0\nB1, B10, B31: GND\nB3 and B29: +5V\nA1: IOCHK*\nA10: IOCHRDY\n"
        "A11: AEN\nB21 to B25: IRQ7 to IRQ3\nB13-B14: /IOW\n"
    )
    assert contacts(answer) == (
        [
            "A1: IOCHK*",
            "A2..A9: SD7..SD0",
            "A10: IOCHRDY",
            "A11: AEN",
            "A12..A31: SA19..SA0",
            "B1: GND",
            "B3: +5V",
            "B10: GND",
            "B21..B25: IRQ7..IRQ3",
            "B29: +5V",
            "B31: GND",
        ]
    )
    assert [str(r) for r in answer.not_understood] == [
        "table.txt:9:1: 'B13-B14  /IOW': 2 contacts for 1 signals; only a supply, a return or open may stand alone for "
        "several"
    ]


def test_a_list_by_signal_is_turned_round() -> None:
    rows = [f"{name}: {label}" for label, name in SLOT if name not in ("GND", "+5V")]
    answer = made("\n".join(["GND: B1, B10, B31", "+5V: B3, B29", *rows]))
    assert contacts(answer) == contacts(made(separated(SLOT), "table.csv"))


def test_a_table_that_marks_no_line_says_so(tmp_path: Path) -> None:
    answer = made(separated([(label, name.strip("*")) for label, name in SLOT]), "table.csv")
    assert (
        "marks: none, for none of the 9 lines that are active low on this bus is marked (IOCHK* and others)"
        in answer.assumed
    )
    again = read_back(answer.text, tmp_path)
    assert again.map is not None
    assert connector_of(again.map) == connector_of(shipped("isa-8bit"))


def test_a_line_without_its_mark_among_marked_ones_is_in_doubt() -> None:
    answer = made(separated([(label, name.replace("IOR*", "IOR")) for label, name in SLOT]), "table.csv")
    assert remarks(answer) == [
        "table.csv:46:2: 'IOR': it stands without a mark of active low, opposite to IOR* of isa-8bit: another "
        "polarity, or a slip"
    ]


def test_text_that_yaml_would_misread_stands_in_quotes(tmp_path: Path) -> None:
    names = ["null", "a: b", "x #1", "*IOR", "&x", "- y", "{z}", "ünïcode", "say \\n", '"q"', "GND", "+5V"]
    answer = made(
        separated([(str(n), t) for n, t in enumerate(names, 1)]), "t.csv", body="zigzag", signal_column="Signal"
    )
    again = read_back(answer.text, tmp_path)
    assert again.map is not None
    assert sorted(c.written for c in again.map.contacts) == sorted(names)


def test_a_run_of_names_beside_one_contact_is_no_run_of_the_map(tmp_path: Path) -> None:
    answer = made(separated([*SLOT[:-1], ("B31", "SD0..SD7")]), "table.csv")
    assert "  # B31: SD0..SD7   # no name of a line can hold two dots: they mean a run" in answer.text
    assert remarks(answer) == [
        "table.csv:63:2: 'SD0..SD7': a run of names beside one contact; it stands in the map as a comment"
    ]
    assert read_back(answer.text, tmp_path).complaints == ()


def test_long_notes_stand_above_their_contact(tmp_path: Path) -> None:
    rows = [(a, b, "word " * 40 if a == "A1" else "") for a, b in SLOT]
    text = "Pin,Signal,Remarks\n" + "\n".join(",".join(row) for row in rows)
    answer = made(text, "table.csv")
    assert f"  # A1: {'word ' * 40}".rstrip() + "\n  A1: IOCHK*\n" in answer.text
    assert read_back(answer.text, tmp_path).complaints == ()


def test_a_note_and_a_second_claim_end_a_run() -> None:
    rows = [(a, b, "see 4-2" if a == "A5" else "") for a, b in SLOT] + [("A16", "SA15", "")]
    answer = made("Pin,Signal,Remarks\n" + "\n".join(",".join(row) for row in rows), "table.csv")
    assert contacts(answer)[1:4] == ["A2..A4: SD7..SD5", 'A5: {signal: SD4, note: "see 4-2"}', "A6..A9: SD3..SD0"]
    assert contacts(answer)[6:10] == ["A12..A15: SA19..SA16", "A16: SA15", "A16: SA15", "A17..A31: SA14..SA0"]


# ------------------------------------------------------------------ no row is dropped


def test_every_line_is_in_the_map_or_said(tmp_path: Path) -> None:
    text = (
        "# My slot\n\nTaken down in the cellar.\n\nContact;Signal;Pad\nRow A\nA1;GND;1\nA2;+5V;2\nA3;;3\n;IRQ3;4\n"
        "foo;IRQ4;5\nA5;---;6\nA1;TC;7\nContact;Signal;Pad\nA6;WHATEVER;8\nA7;IOR*;9\n\nThe end\n"
    )
    answer = made(text, body="pin header 1x7 letters A")
    assert contacts(answer) == ["A1: GND", "A1: TC", "A2: +5V", "A6: WHATEVER", "A7: IOR*"]
    assert remarks(answer) == [
        "table.txt:9:1: 'A3': nothing stands there for a signal; not described",
        "table.txt:10:2: 'IRQ3': a signal without a contact beside it",
        "table.txt:11:1: 'foo': no contact's label ('IRQ4' stands beside it)",
        "table.txt:12:1: 'A5': '---' stands there for a signal; not described",
        "table.txt:15:2: 'WHATEVER': no line of isa-8bit (contact A6); it stands in the map as written: correct it or "
        "describe it under own signals",
        "table.txt:13:1: 'A1  TC': contact A1 stands at table.txt:7:1 too, with 'GND'; both are in the map",
    ]
    assert [str(r) for r in answer.passed_over] == [
        "table.txt:1:1: '# My slot': text outside a table, or a heading",
        "table.txt:3:1: 'Taken down in the cellar.': text outside a table, or a heading",
        "table.txt:5:1: 'Contact  Signal  Pad': a heading",
        "table.txt:6:1: 'Row A': a heading",
        "table.txt:14:1: 'Contact  Signal  Pad': a heading",
        "table.txt:18:1: 'The end': text outside a table, or a heading",
    ]
    assert answer.assumed[0] == "table.txt: column 3 ('Pad') was not read: it names neither contact nor signal"
    again = read_back(answer.text, tmp_path)
    assert again.map is not None
    assert [c.code for c in again.complaints] == ["name-unknown"]  # said twice: `contact-twice` is found by the checks


BITS = st.sampled_from(
    [
        *(
            "A1",
            "A2",
            "B1",
            "B7",
            "1",
            "2",
            "12",
            "GND",
            "-IOR",
            "IRQ3",
            "foo",
            "---",
            "A1: GND",
            "B2 +5V",
            "Row A",
            "",
        ),
        *("x, y", "Pin", "Signal", "→ SD0", "A1..A3", "SD0..SD2", "5 = TC", "* 3: AEN", "1, 2", "Note", "(key)", '"q"'),
    ]
)
PAIRS = st.tuples(st.sampled_from(["A1", "A2", "B1", "B7"]), st.sampled_from(["GND", "-IOR", "IRQ3", "foo"]), BITS)
ROWS = st.lists(st.one_of(PAIRS.map(list), PAIRS.map(list), st.lists(BITS, min_size=1, max_size=5)), min_size=2)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(ROWS, st.sampled_from([",", "\t", "  ", "|"]))
def test_no_line_of_any_table_is_dropped_silently(rows: list[list[str]], mark: str) -> None:
    text = "\n".join(["Pin  Name".replace("  ", mark), mark.join(("A3", "AEN")), *(mark.join(row) for row in rows)])
    try:
        found = importing_tables.found(
            tabular.read(text.encode(), "table.txt"), Reader([Names(BUS8), Names(BUS16)]), "Pin", "Name"
        )
    except PinmapError as error:
        assert "a table must have a column" in str(error) or "--contact-column" in str(error)  # noqa: PT017
        return
    said = {c.place.line for t in found.tables for c in t.claims}
    said |= {r.place.line for r in (*found.not_understood, *found.passed_over)}
    bare = text.replace("|", " ") if mark == "|" else text.replace(",", " ")
    assert [n for n, line in enumerate(bare.split("\n"), 1) if line.strip() and n not in said] == []


def test_a_row_that_no_column_is_found_for_is_said() -> None:
    answer = made(separated(SLOT) + b"\r\nB33,FOO,BAR\r\n", "table.csv")
    assert remarks(answer) == [
        "table.csv:65:1: 'B33  FOO  BAR': a row without columns of contacts and signals round it"
    ]


def test_a_row_of_empty_cells_is_said() -> None:
    answer = made("| 1 | GND |\n| | |\n| 2 | +5V |\n| 3 | IRQ3 |\n| 4 | AEN |\n", body="zigzag")
    assert [str(r) for r in answer.passed_over] == ["table.txt:2:1: '| | |': a line that only draws the table"]


def test_a_text_beside_a_contact_is_no_name() -> None:
    answer = made(separated([*SLOT[:-1], ("B31", "word " * 70)]), "table.csv")
    assert [r.why for r in answer.not_understood] == [
        "a text of 349 letters is no signal's name; contact B31 not described"
    ]


def test_contacts_off_the_body_that_was_asked_for_are_said() -> None:
    answer = made(listed([("1", "GND"), ("2", "+5V"), ("3", "IOR*"), ("9", "IOW*")]), body="pin header 2x2 zigzag")
    assert remarks(answer) == ["table.txt:4:1: '9  IOW*': no contact of this body has that label"]


def test_what_the_table_lacks_is_said() -> None:
    answer = made(separated(SLOT[:-3]), "table.csv")
    assert answer.assumed[1:] == (
        "body: that of the published connector isa-8bit, whose labels these are but for 3 labels; --body or --like "
        "says otherwise",
        "not in the table, and not described: B29–B31",
    )


def test_a_shorter_connector_is_not_taken_for_a_published_one() -> None:
    answer = made(separated([(label, name) for label, name in SLOT if int(label[1:]) <= 26]), "table.csv")
    assert "  places: 26\n" in answer.text
    assert answer.assumed[1:] == (
        "form: edge slot; the table does not tell it (--body says otherwise)",
        "first: contact A1 top left, seen from the mating face, as is customary for this form",
        "pitch: 2.54 mm, row pitch: 5.08 mm; the table does not tell them",
    )


# ------------------------------------------------------------------ asked back

NUMBERED = [(str(n), name) for n, (_, name) in enumerate(SLOT, 1)]


def test_plain_numbers_are_asked_for_their_order() -> None:
    assert refused(listed(NUMBERED)) == (
        "contacts 1 to 62 must be numbered in one way, and the table tells not in which: zigzag (1, 2 across, then 3, "
        "4), serial (1 to 31 along one row, 32 to 62 along the next) or ring (along one row and back along the other). "
        "Say it with --body, like 'box header 2x31 zigzag first bottom left', or take another map's body with --like "
        "MAP"
    )


@pytest.mark.parametrize(
    ("partner", "scheme"),
    [(lambda n: n + 1, "zigzag"), (lambda n: n + 31, "serial"), (lambda n: 63 - n, "ring")],
)
def test_numbers_side_by_side_tell_their_order(partner: Any, scheme: str) -> None:
    named = dict(NUMBERED)
    firsts = range(1, 62, 2) if scheme == "zigzag" else range(1, 32)
    lines = [f"{n}  {named[str(n)]:12}{partner(n)}  {named[str(partner(n))]}" for n in firsts]
    answer = made("\n".join(lines))
    assert f"  labels: {scheme}\n" in answer.text
    assert any(a.startswith(f"labels: {scheme}, for 1 and ") for a in answer.assumed)


@pytest.mark.parametrize(
    ("words", "body"),
    [
        ("zigzag", Body("pin header", (Section(2, 31),), "zigzag", "bottom left")),
        ("box header 2x32 serial first top right", Body("box header", (Section(2, 32),), "serial", "top right")),
        ("SOCKET HEADER, ring, pitch 2 mm", Body("socket header", (Section(2, 31),), "ring", "top left", 2.0, 2.0)),
        ("edge slot zigzag pitch 3.96 mm", Body("edge slot", (Section(2, 31),), "zigzag", "top left", 3.96, 5.08)),
    ],
)
def test_the_body_can_be_said_in_words(words: str, body: Body, tmp_path: Path) -> None:
    again = read_back(made(listed(NUMBERED), body=words).text, tmp_path).map
    assert again is not None
    assert (again.body.form, again.body.sections, again.body.scheme) == (body.form, body.sections, body.scheme)
    assert (again.body.first, again.body.pitch_mm, again.body.row_pitch_mm) == (
        body.first,
        body.pitch_mm,
        body.row_pitch_mm,
    )


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (
            {"body": "shoe box zigzag"},
            "--body must say a form, ROWSxPLACES, labels, letters, first, from, gender or pitch, like 'box header 2x32 "
            "zigzag first bottom left', not 'shoe box zigzag'. Forms: edge slot, edge fingers, pin header, socket "
            "header, box header and din 41612. Labels: rows, zigzag, serial, ring and lettered",
        ),
        (
            {"body": "box header rows"},
            "labels by rows must have letters; the labels here are the numbers 1 to 62. Say zigzag, serial or ring "
            "with --body",
        ),
        ({"body": "box header zigzag male"}, "--body must give a gender to din 41612 only, not to box header"),
        (
            {"body": "zigzag", "like": shipped("oakmere-88")},
            "the body must be given once, with --body or with --like, not with both",
        ),
        ({"bus": "isa-9bit"}, "a bus must be one of isa-16bit or isa-8bit, not 'isa-9bit'. Did you mean isa-8bit?"),
        ({"body": "zigzag", "table": "7"}, "--table must be 1, not '7'"),
        (
            {"body": "zigzag", "contact_column": "Pin"},
            "table.txt: --contact-column must be a column's heading or its number from 1 on (1 to 2), not 'Pin'. The "
            "first row has '1' and 'IOCHK*'",
        ),
    ],
)
def test_options_that_cannot_be_are_refused(options: Mapping[str, Any], message: str) -> None:
    text = "\n".join(f"{a}  {b}" for a, b in NUMBERED)
    assert refused(text, **options) == message


def test_two_columns_of_contacts_are_asked_for() -> None:
    text = "\n".join(f"{n},{label},{name}" for n, (label, name) in enumerate(SLOT, 1))
    assert refused(text, "table.csv") == (
        "table.csv:1:1: one column must be the contacts'; column 1 and column 2 read as contacts equally well. Name it "
        "with --contact-column, by its heading or number: --contact-column 1"
    )
    assert contacts(made(text, "table.csv", contact_column="2")) == contacts(made(separated(SLOT), "table.csv"))
    headed = f"No,Pin,Signal\n{text}"
    assert contacts(made(headed, "table.csv")) == contacts(made(separated(SLOT), "table.csv"))


def test_two_columns_of_signals_are_asked_for() -> None:
    rows = [f"{a},{b},{'OSC' if b == 'TC' else b}" for a, b in SLOT]
    text = "\n".join(["Pin,Old,New", *rows])
    assert refused(text, "table.csv") == (
        "table.csv:1:1: one column must be the signals'; column 2 ('Old') and column 3 ('New') read as signals equally "
        "well. Name it with --signal-column, by its heading or number: --signal-column 2; if each is a row of "
        "contacts, head them Row A and Row B"
    )
    assert "B27: {signal: OSC" in made(text, "table.csv", signal_column="new").text
    assert "B27: {signal: TC" in made(text, "table.csv", signal_column="2").text


def test_two_connectors_in_one_file_are_asked_for() -> None:
    text = "J1-1: GND\nJ1-2: RESET\nJ1-3: +5V\nJ1-4: IRQ2\nJ2-1: GND\nJ2-2: IOR*\nJ2-3: IOW*\nJ2-4: AEN"
    assert refused(text) == (
        "table.txt:5:1: a file must describe one connector; its tables at table.txt:1:1 and table.txt:5:1 both "
        "describe contact 1. Say which with --table 'J1' or --table 'J2'"
    )
    answer = made(text, table="j2", body="zigzag")
    assert contacts(answer) == ["1: GND", "2: IOR*", "3: IOW*", "4: AEN"]
    assert [r.why for r in answer.passed_over] == ["of another table of the file"] * 4


def test_two_tables_that_are_numbered_differently_are_asked_for() -> None:
    text = separated(SLOT) + b"\r\nPin,Signal\r\n1,GND\r\n2,+5V\r\n3,IRQ3\r\n"
    assert refused(text, "table.csv") == (
        "table.csv:66:1: a file must describe one connector; its tables at table.csv:2:1 and table.csv:66:1 number "
        "their contacts in different ways. Say which with --table '1' or --table '2'"
    )


def test_two_tables_that_go_on_from_each_other_are_one_connector() -> None:
    halves = separated(SLOT[:31]) + b"\r\n" + separated(SLOT[31:])
    assert contacts(made(halves, "table.csv")) == contacts(made(separated(SLOT), "table.csv"))


def test_empty_lines_between_all_rows_part_nothing() -> None:
    rows = [(label, "SPKR" if label == "B8" else name) for label, name in SLOT]
    answer = made(listed(rows).replace(b"\n", b"\n\n"))
    assert contacts(answer) == contacts(made(separated(rows), "table.csv"))
    assert "  B8: SPKR\n" in answer.text


def test_a_drawing_with_the_numbers_in_its_middle_is_read_from_both_sides() -> None:
    answer = made("GND     1 | 2   +5V\n/IOR    3 | 4   /IOW\nD0      5 | 6   IRQ 7\nIRQ 2   7 | 8   AEN\n")
    assert contacts(answer) == [
        "1: GND",
        "2: +5V",
        "3: /IOR",
        "4: /IOW",
        "5: D0",
        "6: IRQ 7",
        "7: IRQ 2",
        "8: AEN",
    ]
    assert "  labels: zigzag\n" in answer.text


def test_a_table_said_twice_is_used_once() -> None:
    answer = made(separated(SLOT) + b"\r\n" + separated(SLOT), "table.csv")
    assert contacts(answer) == contacts(made(separated(SLOT), "table.csv"))
    assert answer.assumed[0] == (
        "table.csv:66:1: this table says the same as the one at table.csv:2:1; it was not used"
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "Signal\nGND\n+5V\nIOR*\nIOW*\nAEN\n",
            "table.csv: a table must have a column of contacts (1, 2, 3 … or A1, A2 … B1) and one of signals; there is "
            "one column only, and of 6 cells 0 read as a contact's label and 5 as a line's name. Name them with "
            "--contact-column and --signal-column, by heading or number, or copy the table into CSV with the two "
            "columns contact,signal",
        ),
        (
            "1,FOO\n2,BAR\n3,BAZ\n",
            "table.csv:1:1: the signals must be lines of a bus; none of 3 names ('FOO', 'BAR' and 'BAZ' …) is one of "
            "isa-16bit or isa-8bit. Name the right column with --signal-column, or the bus with --bus",
        ),
        (
            "1,GND\n2,+5V\nA3,IOR*\n4,IOW*\n",
            "the labels of a connector must be of one scheme (1, 2, 3 … or A1, A2 … B1), not of several; A3 is unlike "
            "the others. Correct these labels in the table, or name the right column with --contact-column",
        ),
        (
            "1,GND\n2,+5V\n400,IOR*\n",
            "a table must describe at least half of its connector; of 400 contacts from the lowest to the highest "
            "number it describes 3. Say the size with --body, like 'box header 2x32 zigzag first bottom left', if "
            "there are so many",
        ),
    ],
)
def test_tables_that_tell_too_little_are_refused(text: str, message: str) -> None:
    assert refused(text, "table.csv", **({"body": "zigzag"} if "400" in text else {})) == message


# ------------------------------------------------------------------ what is no table


@pytest.mark.parametrize(
    ("raw", "name", "message"),
    [
        (b"", "t.csv", "t.csv: the file must hold a table; it is empty"),
        (b" \n\n", "t.txt", "t.txt: the file must hold a table; it is empty"),
        (
            b"A1,GND\nA2,\0SD7\n",
            "t.csv",
            "t.csv:2:4: a table must be text or an .xlsx workbook; the character U+0000 here stands in neither. Save "
            "it as UTF-8 text or CSV",
        ),
        (
            bytes(range(1, 256)),
            "t.csv",
            "t.csv: a table must be UTF-8 text or an .xlsx workbook, not a file with byte 0x80 in line 2. Open it with "
            "what wrote it and save the table as .xlsx or CSV",
        ),
        (
            b'Contact,Signal\nA1,GND\nA2,"SD7\nA3,SD6\n',
            "t.csv",
            "t.csv:3:1: the file must be a table of cells (a quote that begins in the row here is not closed). A cell "
            "that holds a quote must be in quotes, with the quote twice",
        ),
        (
            b"A1,GND\n",
            "t.xlsx",
            "t.xlsx: a file that ends in .xlsx must be a workbook, not text. Give it the ending .csv or .txt if it is "
            "a table as text; fetch it anew if it was cut short",
        ),
        (
            workbook(SLOT),
            "t.csv",
            "t.csv: a file that ends in .csv must be text, not a workbook or archive. Give it the ending that it has "
            "in truth, .xlsx if it is a workbook",
        ),
        (
            workbook(SLOT)[:2000],
            "t.xlsx",
            "t.xlsx: the workbook must be whole; it is cut short or damaged ('File is not a zip file'). Open it in a "
            "spreadsheet and save it anew, or fetch it again",
        ),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
            "t.xls",
            "t.xls: a table must be text or an .xlsx workbook, not a workbook of the old binary kind (.xls), or one "
            "with a password. Open it with what wrote it and save the table as .xlsx or CSV",
        ),
        (
            b"%PDF-1.4",
            "t.pdf",
            "t.pdf: a table must be text or an .xlsx workbook, not a PDF. Copy the table out of it into a text file",
        ),
        (
            b"(kicad_sch (version 20231120))",
            "t.kicad_sch",
            "t.kicad_sch: a table must be text or an .xlsx workbook, not a drawing of a board or schematic. `pinmap "
            "audit` reads these",
        ),
        (
            b"format: 1\ntitle: x\ncontacts:\n  1: GND\n",
            "t.yaml",
            "t.yaml: this is a pin map already, not a table to be made into one. `pinmap check` reads it",
        ),
        (
            b"x," * 100_000 + b"\n" + b"1," * 100_000,
            "t.csv",
            "t.csv:1:1: a table must have at most 200 columns, not 100001",
        ),
        (b"x  " * 100_000, "t.txt", "t.txt:1:1: a line must have at most 20000 letters, not 300000"),
        (b"|" * 900_000, "t.md", "t.md:1:1: a line must have at most 20000 letters, not 900000"),
        (b"1,GND\n" * 100_000, "t.csv", "t.csv: a table must have at most 5000 rows, not 100000"),
        (
            (b"1," * 100 + b"\n") * 300,
            "t.csv",
            "t.csv: a file must have at most 20000 cells, not 30300",
        ),
        (
            b"x" * 1_000_001,
            "t.txt",
            "t.txt: a table as text must be at most 1 MB; one of 98 contacts has some kB. Cut out the table alone",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) and len(value) < 15 else "",
)
def test_what_is_no_table_is_refused_with_the_reason(raw: bytes, name: str, message: str) -> None:
    assert refused(raw, name) == message


def test_a_large_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    large = tmp_path / "large.csv"
    with large.open("wb") as stream:
        stream.truncate(50_000_000)
    tracemalloc.start()
    with pytest.raises(UnreadableError) as error:
        tabular.read(large, "large.csv")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert str(error.value) == (
        "large.csv: a table must be at most 4 MB; one of 98 contacts has some kB. Save the sheet with the table alone, "
        "without pictures"
    )
    assert peak < 1_000_000


@pytest.mark.parametrize(
    ("line", "name"),
    [("{n},{x},abc def {n},(x) {n}", "t.csv"), ("{n}: {x}", "t.txt"), ("{n}  {x}   ->   <{n}>", "t.txt")],
)
def test_the_largest_table_takes_a_bounded_time(line: str, name: str) -> None:
    text = "\n".join(line.format(n=n, x=f"{n * 7919 % 10007} or so") for n in range(1, 4990))
    before = time.process_time()
    with contextlib.suppress(PinmapError):
        made(text, name, bus="isa-8bit", body="zigzag")
    assert time.process_time() - before < 20  # 1 to 4 s on one core of a small machine


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    for path, why in ((tmp_path, "a table must be a file, not a folder"), (tmp_path / "x", "there is no such file")):
        with pytest.raises(UnreadableError) as error:
            tabular.read(path, "here")
        assert str(error.value) == f"here: {why}"


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_the_encodings_of_spreadsheets_are_read(encoding: str) -> None:
    raw = separated([*SLOT[:-1], ("B31", "Größe")]).decode().encode(encoding)
    answer = made(raw, "table.csv")
    assert '  B31: "Größe"\n' in answer.text
    said = (
        "the file is not UTF-8 (byte 0xf6 in line 63) and was read as Windows-1252, which older programs write; if a "
        "sign in it looks wrong, save it as UTF-8"
    )
    assert (said in answer.assumed) == (encoding == "cp1252")


# Any bytes: a map file that reads as a map, or a `PinmapError`; nothing else.
ANY = st.one_of(
    st.binary(max_size=200),
    st.text(max_size=200).map(lambda t: t.encode("utf-8", "replace")),
    st.text("A1B2 :;,|\t\n-=>GNDIOR*+5V\"'.#{}&~\u0305\x07\u202e", max_size=200).map(str.encode),
    st.lists(
        st.sampled_from(["1: GND", "2 = {", "3 \x07", "A1 &x", "B2 | *", "4,!a", "5\t- b", "\u202eC1 ?", '6 "', ""])
    )
    .map("\n".join)
    .map(str.encode),
)


@settings(max_examples=400, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(ANY, st.sampled_from(["t.csv", "t.txt", "t.md", "t.tsv", "t.xlsx", "t"]), st.sampled_from(["", "zigzag", "1x9"]))
def test_any_bytes_are_a_map_or_an_error(
    tmp_path_factory: pytest.TempPathFactory, raw: bytes, name: str, body: str
) -> None:
    try:
        answer = made(raw, name, body=body, bus="isa-8bit")
    except PinmapError as error:
        assert str(error)  # noqa: PT017 - either is right, nothing else is
        return
    again = read_back(answer.text, tmp_path_factory.mktemp("map"))
    assert again.map is not None


# ------------------------------------------------------------------ workbooks


def repacked(parts: Mapping[str, bytes], raw: bytes = b"") -> bytes:
    """A workbook with some of its parts exchanged or added."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw or workbook(SLOT))) as old, zipfile.ZipFile(stream, "w", 8) as new:
        for name in old.namelist():
            if name not in parts:
                new.writestr(name, old.read(name))
        for name, text in parts.items():
            new.writestr(name, text)
    return stream.getvalue()


SHEET = "xl/worksheets/sheet1.xml"


def lying(raw: bytes) -> bytes:
    """A workbook whose directory says that its sheet is small."""
    out = bytearray(raw)
    at = out.index(SHEET.encode(), out.index(b"PK\x01\x02")) - 46
    out[at + 24 : at + 28] = struct.pack("<I", 1000)
    return bytes(out)


BOMB = repacked({SHEET: b" " * 100_000_000})


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (
            BOMB,
            "t.xlsx: a workbook must have at most 8 MB when unpacked, in at most 1000 parts; this one says that it "
            "has 100 MB. Save the sheet with the table alone, without pictures",
        ),
        (
            lying(BOMB),
            't.xlsx: the workbook must be whole; it is cut short or damaged ("Bad CRC-32 for file '
            "'xl/worksheets/sheet1.xml'\"). Open it in a spreadsheet and save it anew, or fetch it again",
        ),
        (
            repacked({f"{n}.xml": b"<x/>" for n in range(1001)}),
            "t.xlsx: a workbook must have at most 8 MB when unpacked, in at most 1000 parts; this one says that it "
            "has 1010 parts. Save the sheet with the table alone, without pictures",
        ),
        (
            repacked({"xl/sharedStrings.xml": b'<!DOCTYPE a [<!ENTITY b "c">]><sst/>'}),
            "t.xlsx: a workbook must be plain XML without entities; its part 'xl/sharedStrings.xml' is not. Open it in "
            "a spreadsheet and save it anew, or fetch it again",
        ),
        (
            repacked({SHEET: b'<worksheet><sheetData><row r="1"><c r="XFD1"/></row></sheetData></worksheet>'}),
            "t.xlsx (sheet1): a table must have at most 200 columns; there is a cell XFD1. Delete what stands far to "
            "the right",
        ),
        (
            repacked({SHEET: b'<worksheet><sheetData><row r="9999999"/></sheetData></worksheet>'}),
            "t.xlsx (sheet1): a table must stand in the first 100000 rows; there is a row 9999999. Delete what stands "
            "far below",
        ),
    ],
    ids=["bomb", "lying bomb", "parts", "entity", "far right", "far below"],
)
def test_a_workbook_made_to_do_harm_is_refused(raw: bytes, message: str) -> None:
    tracemalloc.start()
    said = refused(raw, "t.xlsx")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert said == message
    assert peak < 5_000_000


def test_an_archive_that_is_no_workbook_is_refused() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("content.xml", "<x/>")
    assert refused(stream.getvalue(), "t.ods") == (
        "t.ods: a table must be text or an .xlsx workbook, not an OpenDocument spreadsheet. Save the table as .xlsx or "
        "CSV"
    )


def test_a_damaged_workbook_is_never_a_traceback() -> None:
    good = workbook(SLOT)
    for at in range(30, len(good), 61):
        bad = bytearray(good)
        bad[at] ^= 0x55
        try:
            assert made(bytes(bad), "t.xlsx").text.startswith("# Made from")
        except PinmapError as error:
            assert "t.xlsx" in str(error)  # noqa: PT017 - either is right, nothing else is


def test_macros_are_said_and_not_run() -> None:
    answer = made(repacked({"xl/vbaProject.bin": b"\xd0\xcf\x11\xe0"}), "t.xlsm")
    assert answer.assumed[0] == "the workbook has macros; only its cells were read, nothing was run"
    assert contacts(answer) == contacts(made(separated(SLOT), "table.csv"))


def book(rows: Mapping[str, list[tuple[Any, ...]]], merge: str = "", hide: str = "") -> bytes:
    made_ = openpyxl.Workbook()
    made_.remove(made_.worksheets[0])
    for title, lines in rows.items():
        sheet = made_.create_sheet(title)
        for line in lines:
            sheet.append(line)
        if merge:
            sheet.merge_cells(merge)
        if title == hide:
            sheet.sheet_state = "hidden"
    stream = io.BytesIO()
    made_.save(stream)
    return stream.getvalue()


def test_merged_cells_hold_for_each_of_their_rows() -> None:
    rows = [("Pin", "Signal"), *[(1, "IOR*"), (2, "GND"), (3, ""), (4, ""), (5, "AEN"), (6, "TC"), (7, "+5V")]]
    answer = made(book({"Slot": rows}, merge="B3:B5"), "t.xlsx")
    assert contacts(answer) == ["1: IOR*", "2: GND", "3: GND", "4: GND", "5: AEN", "6: TC", "7: +5V"]
    assert answer.assumed[0] == "Slot: the cells B3:B5 are merged; what they say was taken for each of their rows"


def test_two_sheets_are_asked_for() -> None:
    other = [(a, "SD0" if a == "A1" else b) for a, b in SLOT]
    raw = book({"Host": list(SLOT), "Card": other}, hide="Card")
    assert refused(raw, "t.xlsx") == (
        "t.xlsx (Card):1:1: a file must describe one connector; its tables at t.xlsx (Host):1:1 and t.xlsx (Card):1:1 "
        "both describe contact A1. Say which with --table 'Host' or --table 'Card'"
    )
    answer = made(raw, "t.xlsx", table="Card")
    assert contacts(answer)[0] == "A1: SD0"
    assert "the sheet 'Card' is hidden, and was read" in answer.assumed
    assert "source: the table t.xlsx\n" in answer.text


def test_what_a_spreadsheet_has_changed_is_said() -> None:
    rows: list[tuple[Any, ...]] = [*SLOT, (datetime.date(2026, 2, 1), "GND"), ("A9", '="SD"&0')]
    answer = made(book({"S": rows}), "t.xlsx")
    assert answer.assumed[:2] == (
        "t.xlsx (S):63:1: the spreadsheet has taken this cell for a date (2026-02-01 00:00:00); type it anew as text",
        "t.xlsx (S):64:2: a formula has no value here; save the workbook anew",
    )
    assert remarks(answer)[0] == (
        "t.xlsx (S):63:1: '<date 2026-02-01 00:00:00>': no contact's label ('GND' stands beside it)"
    )


def test_the_limits_are_those_that_the_messages_say() -> None:
    assert (tabular.MAX_BYTES, tabular.MAX_TEXT_BYTES, importing_workbook.MAX_UNPACKED) == (
        4_000_000,
        1_000_000,
        8_000_000,
    )


def test_the_same_table_gives_the_same_bytes() -> None:
    for write, file in LAYOUTS.values():
        assert made(write(SLOT), file).text == made(write(SLOT), f"/some/folder/{file}").text


# ------------------------------------------------------------------ dashes that part, labels that slid, marks in words

DASHED = ["GND", "5V", "D0", "D1", "D2", "D3", "IOR", "A0", "12V", "GND"]
MEASURE = "measure whether the contact has +{0} or -{0}, and write the sign"
TAKEN = "was taken as the mark that parts contact and signal, and not as a minus"
PERHAPS = "may be the mark that parts contact and signal, and no minus"


@pytest.mark.parametrize("dash", ["-", "–", "—"])
@pytest.mark.parametrize("other", [" ", " = "])
def test_a_list_in_which_one_line_lacks_the_dash_gives_no_negative_rail(dash: str, other: str) -> None:
    lines = [f"{n}{other if name == 'A0' else f' {dash} '}{name}" for n, name in enumerate(DASHED, 1)]
    answer = made("\n".join(lines), body="zigzag")
    assert contacts(answer) == ["1: GND", "2: 5V", "3..6: D0..D3", "7: IOR", "8: A0", "9: 12V", "10: GND"]
    because = f"for '{dash} GND' (contact 1) bears it too"
    assert answer.assumed[-2:] == (
        f"dashes: the dash before 9 names parts contact and signal and was left away, {because}; it marks no line as "
        "active low and no supply as negative",
        "marks: none, for none of the 1 line that are active low on this bus is marked (IOR* and others)",
    )
    assert remarks(answer) == [
        f"table.txt:2:3: '{dash} 5V': the dash before it at contact 2 {TAKEN}, {because}: {MEASURE.format('5V')}",
        f"table.txt:9:3: '{dash} 12V': the dash before it at contact 9 {TAKEN}, {because}: {MEASURE.format('12V')}",
    ]


def test_a_dash_against_every_name_is_no_minus() -> None:
    answer = made("B1 -GND\nB3 -5V\nB4 -IRQ2\nB5 -MEMW\nA2 -D7\nA3 -D6\nA4 -D5\nA5 -D4\n")
    assert contacts(answer) == ["A2..A5: D7..D4", "B1: GND", "B3: 5V", "B4: IRQ2", "B5: MEMW"]
    assert remarks(answer) == [
        f"table.txt:2:4: '-5V': the dash before it at contact B3 {TAKEN}, for '-GND' (contact B1) bears it too: "
        + MEASURE.format("5V")
    ]


@pytest.mark.parametrize(
    ("names", "because"),
    [
        (["-GND", "GND", "D0", "-IOR", "-5V", "GND"], "'-GND' (contact 1) bears it too"),
        (["GND", "-D0", "D1", "-IOR", "-5V", "GND"], "'-D0' (contact 2) bears it too"),
        (["-IOW", "-MEMR", "-IOR", "-MEMW", "-5V", "-IOCHK"], "'-IOW' (contact 1) bears it too"),
        (["-IRQ3", "IOR*", "IOW*", "open", "-5V", "key"], "'-IRQ3' (contact 1) bears it too"),
        (["GND", "D0", "D1", "-IOR", "- 5V", "GND"], "it stands apart from the number"),
    ],
)
def test_a_rail_behind_a_dash_that_may_part_is_in_doubt(names: list[str], because: str) -> None:
    answer = made(separated([(str(n), name) for n, name in enumerate(names, 1)]), "t.csv", body="zigzag")
    assert [str(r) for r in answer.doubts if "5V" in r.text] == [
        f"t.csv:6:2: {names[4]!r}: the dash before it at contact 5 {PERHAPS}, for {because}: {MEASURE.format('5V')}"
    ]
    assert [c.strip('"') for c in contacts(answer) if c.startswith("5:")] in ([f"5: {names[4]}"], ['5: "- 5V'])


def test_a_minus_among_marks_of_active_low_is_a_minus() -> None:
    names = ["GND", "D0", "-RESET", "-IOR", "-5V", "D1"]
    answer = made(separated([(str(n), name) for n, name in enumerate(names, 1)]), "t.csv", body="zigzag")
    assert contacts(answer)[4] == "5: -5V"
    assert [r.text for r in answer.doubts] == ["-RESET"]


def test_a_rail_that_alone_has_spaces_before_its_dash_is_not_understood() -> None:
    answer = made("1-GND\n2-D0\n3 -5V\n4-D1\n5-D2\n6-GND\n", body="zigzag")
    assert remarks(answer) == [
        "table.txt:3:1: '3 -5V': the dash may part contact and signal, or be a minus (perhaps +5V, perhaps -5V): not "
        "described; measure it, and write the sign"
    ]


@pytest.mark.parametrize("short", [False, True])
@pytest.mark.parametrize("columns", [{}, {"contact_column": "1,3", "signal_column": "2,4"}, {"signal_column": "2"}])
def test_a_label_that_slid_into_an_empty_cell_is_no_signal(columns: dict[str, str], short: bool) -> None:
    slot = dict(SLOT)
    lines = [f"B{n:<4}{slot[f'B{n}']:11}A{n:<4}{slot[f'A{n}']}" for n in range(1, 5 if short else 32)]
    lines[2] = f"B3      A3  {slot['A3']}"
    if short and not columns:
        assert "read as signals equally well" in refused("\n".join(lines))
        return
    contact_column = "1" if columns == {"signal_column": "2"} else ""
    answer = made("\n".join(lines), **{"contact_column": contact_column} | columns)
    assert remarks(answer) == [
        "table.txt:3:1: 'B3  A3  SD6': the row has 3 of 4 cells, and 'A3' can be the next contact or the signal of "
        "contact B3; not described"
    ]
    assert not [line for line in contacts(answer) if line.startswith(("A3:", "B3:"))]


@pytest.mark.parametrize(
    ("written", "contact"),
    [
        ("IOR (active low)", "9: IOR*"),
        ("IOR active low", "9: IOR*"),
        ("IOR\nactive low", "9: IOR*"),
        ("IOR\n(Active-Low)", "9: IOR*"),
        ("IOR (L)", "9: IOR*"),
        ("IOR, low active", "9: IOR*"),
        ("-IOR (active low)", "9: -IOR"),
        ("GND (L)", '9: {signal: GND, note: "L"}'),
        ("AEN (active high)", '9: {signal: AEN, note: "active high"}'),
    ],
)
def test_active_low_in_words_is_a_mark(written: str, contact: str) -> None:
    names = ("GND", "+5V", "-IOW", "SD1", "SD3", "SD5", "AEN", "TC", written)
    answer = made(separated([(str(n), name) for n, name in enumerate(names, 1)]), "table.csv")
    assert contacts(answer)[-1] == contact
    assert remarks(answer) == []


def test_active_low_in_words_against_the_bus_is_in_doubt() -> None:
    names = ("GND", "+5V", "-IOW", "SD1 (active low)")
    answer = made(separated([(str(n), name) for n, name in enumerate(names, 1)]), "table.csv", body="zigzag")
    assert remarks(answer) == [
        "table.csv:5:2: 'SD1*': it stands with a mark of active low, opposite to SD1 of isa-8bit: another polarity, or "
        "a slip"
    ]


@pytest.mark.parametrize(
    ("heads", "said"),
    [
        ("Nr.,Row A,Row B", "'Row A' is row A and 'Row B' is row B"),
        ("No,Component side,Solder side", "'Component side' is row A and 'Solder side' is row B"),
        ("Pin,A,B", "'A' is row A and 'B' is row B"),
        (",A side,Side B", "'A side' is row A and 'Side B' is row B"),
    ],
)
def test_one_number_for_two_rows_gives_both_rows(heads: str, said: str) -> None:
    slot = dict(SLOT)
    rows = [f"{n},{slot[f'A{n}']},{slot[f'B{n}']}" for n in range(1, 32)]
    answer = made("\n".join([heads, *rows]), "table.csv")
    assert contacts(answer) == contacts(made(separated(SLOT), "table.csv"))
    assert answer.assumed[0] == f"labels: the numbers are those of each row; {said}"
    assert remarks(answer) == []


@pytest.mark.parametrize("places", [2, 4, 8])
@pytest.mark.parametrize(
    ("heads", "order"),
    [
        ("Pin,A,B", "nab"),
        ("No,Row A,Row B", "nab"),
        ("#,B,A", "nba"),
        ("B,No,A", "bna"),
        ("A,B,Pin", "abn"),
        ("Row B,Pin,Row A", "bna"),
    ],
)
@pytest.mark.parametrize("layout", ["CSV", "tabs", "Markdown", "spaces"])
def test_a_short_table_headed_with_the_letters_of_its_rows_is_two_rows(
    layout: str, heads: str, order: str, places: int
) -> None:
    slot = dict(SLOT)
    rows = [heads.split(",")]
    for n in range(1, places + 1):
        cells = {"n": str(n), "a": slot[f"A{n}"], "b": slot[f"B{n}"]}
        rows.append([cells[x] for x in order])
    if layout == "Markdown":
        rows.insert(1, ["---"] * 3)
    write: dict[str, Callable[[list[str]], str]] = {
        "CSV": ",".join,
        "tabs": "\t".join,
        "Markdown": lambda row: f"| {' | '.join(row)} |",
        "spaces": lambda row: "".join(cell.ljust(12) for cell in row).rstrip(),
    }
    answer = made("\n".join(map(write[layout], rows)))
    expected = made(separated([(f"{x}{n}", slot[f"{x}{n}"]) for x in "AB" for n in range(1, places + 1)]), "table.csv")
    assert contacts(answer) == contacts(expected)
    assert remarks(answer) == []


def test_lines_that_look_like_contacts_stay_signals_under_the_letters_of_rows() -> None:
    assert contacts(made("Row,A,B\n1,GND,D0\n2,+5V,D1\n", "table.csv")) == ["A1: GND", "A2: +5V", "B1: D0", "B2: D1"]


def test_an_empty_cell_and_a_note_in_a_table_of_two_rows_are_said() -> None:
    answer = made("B,No,A\nGND,1,D0\n,2,D1\n+5V,3\nlooked at in the cellar\nAEN,4,D3\n", "table.csv")
    assert contacts(answer) == ["A1: D0", "A2: D1", "A4: D3", "B1: GND", "B3: +5V", "B4: AEN"]
    assert remarks(answer) == [
        "table.csv:3:2: 'B2': nothing stands there for a signal; not described",
        "table.csv:4:2: 'A3': nothing stands there for a signal; not described",
    ]
    assert [str(r) for r in answer.passed_over][1:] == ["table.csv:5:1: 'looked at in the cellar': a heading"]


def test_a_column_that_the_user_names_comes_before_the_letters_of_rows() -> None:
    table = "Pin,A,B\n1,GND,D0\n2,+5V,D1\n3,AEN,D2\n"
    answer = made(table, "table.csv", contact_column="pin", signal_column="B")
    assert [line[:13] for line in contacts(answer)] == ["1: {signal: D", "2: {signal: D", "3: {signal: D"]
    assert 'D2, note: "A: AEN"' in contacts(answer)[2]


# ------------------------------------------------------------------ prose round a table

OUTSIDE = "text outside a table, or a heading"


@pytest.mark.parametrize(
    "prose",
    [
        ["Pin 1 is bottom left."],
        ["Pin 1 is bottom left, seen from above."],
        ["Pin 1 is bottom left, seen from above.", "The key is at 7, next to it."],
        ["- Pin 1 is bottom left.", "- Pin 2 is above it, on the left."],
        ["Stift 1 ist unten links."],
        ["Pins 1, 2 and 3 are supplies, the others are lines."],
    ],
)
@pytest.mark.parametrize("below", ["\n\n| Pin | Signal |\n|--|--|\n| {} |\n", "\n\n{}\n", "\n{}\n"])
def test_a_sentence_above_a_table_is_passed_over(prose: list[str], below: str) -> None:
    mark, between = (" | ", " |\n| ") if "|" in below else (" ", "\n")
    rows = [("1", "GND"), ("2", "D0"), ("3", "+5V"), ("4", "D1")]
    text = "\n".join(prose) + below.format(between.join(mark.join(row) for row in rows))
    answer = made(text, body="zigzag")
    assert contacts(answer) == ["1: GND", "2: D0", "3: +5V", "4: D1"]
    assert remarks(answer) == []
    said = [str(r) for r in answer.passed_over if OUTSIDE in r.why]
    assert said == [f"table.txt:{n}:1: {line!r}: {OUTSIDE}" for n, line in enumerate(prose, 1)]


@pytest.mark.parametrize(
    ("line", "text", "why"),
    [
        ("Pin 1: bottom left", "1  bottom left", "the table describes this contact, and what stands here is no line"),
        (
            "1 is the one at the left.",
            "1 is the one at the left.",
            "this reads as a sentence; if it describes a contact, write contact and signal alone",
        ),
    ],
)
def test_a_line_that_could_be_a_row_beside_a_table_is_said_and_not_asked_about(line: str, text: str, why: str) -> None:
    answer = made(f"{line}\n\n| Pin | Signal |\n|--|--|\n| 1 | GND |\n| 2 | D0 |\n| 3 | TC |\n", body="1x3")
    assert contacts(answer) == ["1: GND", "2: D0", "3: TC"]
    assert [(r.text, r.why) for r in answer.not_understood] == [(text, why)]


@pytest.mark.parametrize(
    "row",
    ["19 speaker output of the amplifier.", "19: it is the speaker of the box.", "19  goes to the loudspeaker"],
)
def test_a_row_in_words_is_no_sentence(row: str) -> None:
    mark = ": " if ":" in row else "  " if "  " in row else " "
    answer = made(f"1{mark}GND\n2{mark}D0\n3{mark}+5V\n4{mark}D1\n{row}\n", body="pin header 1x20")
    assert contacts(answer)[-1].startswith("19: ")


# ------------------------------------------------------------------ lines unlike their list

UNLIKE = ("A1: GND", "A2: IRQ3", "A3: AEN", "A5: OSC", "A6: -IOR", "A7: TC", "A8: +5V")


@pytest.mark.parametrize(
    ("line", "contact"),
    [
        ("A4 = D5 (input)", "A4: D5"),
        ("A4 - -5V -->", "A4: -5V"),
        ("A4 - GND -->", "A4: GND"),
        ("A4 - D5", "A4: D5"),
        ("A4: RESET_DRV ↔", "A4: RESET_DRV"),
        ("A4 .... -MEMW", "A4: -MEMW"),
        ("A4 ... -5V", "A4: -5V"),
        ("A4...... +12V", "A4: +12V"),
        ("A4 … D5", "A4: D5"),
        ("A4 → -5V", "A4: -5V"),
        ("A4 D5 ; out", "A4: D5"),
        ("A4) D5 [out]", "A4: D5"),
        ("A4 -MEMW", "A4: -MEMW"),
    ],
)
@pytest.mark.parametrize("mark", [": ", " = ", " → ", "\t"])
def test_a_line_that_parts_its_name_in_another_way_than_the_list_is_understood(
    mark: str, line: str, contact: str
) -> None:
    lines = [each.replace(": ", mark) for each in UNLIKE]
    answer = made("\n".join([*lines[:3], line, *lines[3:]]))
    assert contacts(answer)[3] == contact
    assert remarks(answer) == []


@pytest.mark.parametrize(
    ("line", "contact", "why"),
    [
        ("A4 - 5V -->", 'A4: "- 5V"', "it stands apart from the number: " + MEASURE.format("5V")),
        ("A4 – 12V", 'A4: "– 12V"', "it stands apart from the number: " + MEASURE.format("12V")),
        ("A4 -5V", "", "the dash may part contact and signal, or be a minus (perhaps +5V, perhaps -5V): not described"),
        ("A4-12V", "", "the dash may part contact and signal, or be a minus (perhaps +12V, perhaps -12V): not descri"),
        ("A4 - RESET", 'A4: "- RESET"', "opposite to RESET of isa-8bit: another polarity, or a slip"),
        ("A4 = SPKR", "A4: SPKR", "no line of isa-8bit (contact A4)"),
        ("A4 something else", "", "no contact's label with a line's name behind it"),
    ],
)
def test_a_line_unlike_its_list_that_can_be_read_in_two_ways_is_said_with_the_reason(
    line: str, contact: str, why: str
) -> None:
    answer = made("\n".join([*UNLIKE[:3], line, *UNLIKE[3:]]))
    assert [each for each in contacts(answer) if each.startswith("A4:")] == ([contact] if contact else [])
    (remark,) = remarks(answer)
    assert why in remark


def test_a_list_of_all_ways_to_part_is_read_line_by_line() -> None:
    answer = made(
        "My slot:\nA1: GND\nA2 - D7 -->\nA3 D6\nA4 - -5V\nA5 = D4 (in)\nA6 = D3\nA7: D2 [out]\nA8: D1 ; out\n"
    )
    assert contacts(answer) == ["A1: GND", "A2: D7", "A3: D6", "A4: -5V", "A5..A8: D4..D1"]
    assert answer.assumed[-1] == (
        "dashes: the dash with a space behind it, before 2 names, parts contact and signal and was left away, for it "
        "does before '- D7' (contact A2); it marks no line as active low and no supply as negative"
    )
    assert remarks(answer) == []


def test_a_rail_behind_a_dash_that_parts_in_other_lines_is_in_doubt() -> None:
    answer = made("A1 - GND -->\nA2 = D7\nA3 - D6\nA4 = IRQ3\nA5 - 5V\nA6 = TC\nA7 = AEN\nA8 = D1\n")
    assert contacts(answer)[4] == "A5: 5V"
    assert remarks(answer) == [
        f"table.txt:5:4: '- 5V': the dash before it at contact A5 {TAKEN}, for '- GND' (contact A1) bears it too: "
        + MEASURE.format("5V")
    ]


def test_the_first_line_of_a_list_is_no_heading_where_it_begins_with_a_label() -> None:
    answer = made("\n".join(["Slot of the cabinet", "A1 -5V", *UNLIKE[1:], "A4: D5"]))
    assert [(r.place.line, r.text) for r in answer.not_understood] == [(2, "A1 -5V")]
    assert [r.text for r in answer.passed_over] == ["Slot of the cabinet"]


def test_a_rail_against_its_dash_is_in_doubt_where_dashes_part_other_lines() -> None:
    answer = made("A1 – D0\nA2 BALE\nA3 AEN\nA4 D1\nA5 -5V\nA6 = -12V\nA7 TC\nA8 GND\n")
    assert contacts(answer)[4:6] == ["A5: -5V", "A6: -12V"]
    assert remarks(answer) == [
        f"table.txt:5:4: '-5V': the dash before it at contact A5 {PERHAPS}, for '– D0' (contact A1) bears one: "
        + MEASURE.format("5V")
    ]


def test_dashes_without_a_space_are_judged_beside_those_with_one() -> None:
    names = ["- GND", "-IOW", "-D1", "TC", "-5V", "AEN", "GND", "OSC"]
    answer = made(separated([(str(n), name) for n, name in enumerate(names, 1)]), "t.csv", body="zigzag")
    assert contacts(answer)[0] == "1: GND"
    assert [str(r) for r in answer.doubts if "5V" in r.text] == [
        f"t.csv:6:2: '-5V': the dash before it at contact 5 {PERHAPS}, for '- GND' (contact 1) bears one: "
        + MEASURE.format("5V")
    ]
    lettered = made(separated([(f"A{n}", name) for n, name in enumerate(names, 1)]), "t.csv")
    assert [str(r) for r in lettered.doubts if "5V" in r.text] == [
        f"t.csv:6:2: '-5V': the dash before it at contact A5 {PERHAPS}, for '-D1' (contact A3) bears it too: "
        + MEASURE.format("5V")
    ]


# ------------------------------------------------------------------ numbers that may be rails


ALONE = "a number alone is no rail: perhaps +{0}V or -{0}V; "
BEHIND = "a minus behind a number may be the sign of -{0}V or a dash that parts cells: perhaps +{0}V or -{0}V; "
WRITE = "measure the contact, and write the sign before the number and V behind it"


@pytest.mark.parametrize(
    ("written", "why"),
    [
        ("5", ALONE.format(5) + WRITE),
        ("12", ALONE.format(12) + WRITE),
        ("5V-", BEHIND.format(5) + WRITE),
        ("12 V -", BEHIND.format(12) + WRITE),
        ("5-", BEHIND.format(5) + WRITE),
        ("+5V-", BEHIND.format(5) + WRITE),
    ],
)
def test_a_number_that_may_be_a_rail_is_a_hint_and_no_guess(written: str, why: str, tmp_path: Path) -> None:
    answer = made(separated([*SLOT[:-1], ("B31", written)]), "table.csv")
    assert remarks(answer) == [
        f"table.csv:63:2: {written!r}: no line of isa-8bit (contact B31); it stands in the map as written: correct it "
        f"or describe it under own signals; {why}"
    ]
    again = read_back(answer.text, tmp_path)
    assert [c.code for c in again.complaints] == ["name-unknown"]


@pytest.mark.parametrize("written", ["+5", "-5", "+12", "-12", "+ 5"])
def test_a_rail_without_its_unit_is_in_doubt(written: str) -> None:
    rail = f"{written.replace(' ', '')}V"
    answer = made(separated([*SLOT[:-1], ("B31", written)]), "table.csv")
    assert [str(r) for r in answer.doubts] == [
        f"table.csv:63:2: {written!r}: a sign and a number without V (contact B31): perhaps {rail}, and it stands for "
        "that in the map; measure the contact, and write V"
    ]


def test_a_rail_is_in_doubt_once() -> None:
    answer = made(separated([*SLOT[:-1], ("B31", "- 5")]), "table.csv")
    assert [r.text for r in answer.doubts] == ["- 5"]


@pytest.mark.parametrize("written", ["-VCC", "VCC-", "- VCC"])
def test_a_supply_with_another_sign_is_not_said_to_be_nearly_the_positive_one(written: str) -> None:
    (remark,) = remarks(made(separated([*SLOT[:-1], ("B31", written)]), "table.csv"))
    assert "no line of isa-8bit (contact B31)" in remark
    assert "+5V" not in remark


# ------------------------------------------------------------------ notations of polarity


@pytest.mark.parametrize("written", ["IOW\\", "*IOW", "IOW.L", "IOW~", "IOW (act. low)", "IOW act.low"])
def test_other_notations_of_active_low_come_back_as_the_line(written: str, tmp_path: Path) -> None:
    rows = [(label, written if name == "IOW*" else name) for label, name in SLOT]
    answer = made(separated(rows), "table.csv")
    assert remarks(answer) == []
    again = read_back(answer.text, tmp_path)
    assert again.map is not None
    assert again.complaints == ()
    assert connector_of(again.map) == connector_of(shipped("isa-8bit"))


@pytest.mark.parametrize("written", ["IOW.H", "+IOW", "*IOW*"])
def test_a_mark_that_contradicts_the_bus_is_never_left_away(written: str) -> None:
    rows = [(label, written if name == "IOW*" else name.strip("*")) for label, name in SLOT]
    answer = made(separated(rows), "table.csv")
    (remark,) = remarks(answer)
    assert f"{written!r}: no line of isa-8bit" in remark
