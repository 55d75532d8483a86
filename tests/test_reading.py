"""From YAML to a map: every complaint with its place and what to do, all of them, and nothing guessed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pinmap import library
from pinmap.dictionaries import DictionaryError, read_bus, read_forms
from pinmap.model import PinMap
from pinmap.reading import ReadMap

GOOD = """\
format: 1
title: Eight contacts
bus: isa-8bit
end: host
body:
  form: box header
  rows: 2
  places: 4
  pitch: 2.54 mm
  labels: zigzag
  first: top left
contacts:
  1: GND
  2: +5V
  3: RESET
  4: IOR*
  5..6: open
  7: key
  8: AEN
"""
KEYS = (
    "The keys here are format, title, bus, end, body, contacts, about, source, marks, seen, options, own signals "
    "and supplies"
)
SCHEMES = "lettered, ring, rows, serial or zigzag"
CORNERS = "bottom left, bottom right, top left or top right"
OWN = "one line of text or a block with about, group and volts"
MEAN = "Did you mean "
HASH = "A value that begins with # must be in quotes"
FORMS = "box header, din 41612, edge fingers, edge slot, pin header or socket header"


@pytest.fixture(autouse=True)
def in_its_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)


def read(text: str) -> ReadMap:
    Path("m.yaml").write_bytes(text.encode("utf-8"))
    return library.read("m.yaml")


def complaints(text: str) -> list[str]:
    """Every complaint as `line:column grade code: message. advice`, in the order of the file."""
    found = sorted(read(text).complaints, key=lambda f: f.place)
    assert {f.place.file for f in found} <= {"m.yaml"}
    return [
        f"{f.place.line}:{f.place.column} {f.grade} {f.code}: {f.message}{f'. {f.advice}' if f.advice else ''}"
        for f in found
    ]


def changed(old: str, new: str) -> str:
    assert GOOD.count(old) == 1
    return GOOD.replace(old, new)


def a_map(text: str) -> PinMap:
    result = read(text)
    assert result.map is not None
    return result.map


def test_a_good_file_has_no_complaints_and_says_what_it_says() -> None:
    result = read(GOOD)
    assert result.complaints == ()
    assert result.map is not None
    assert (result.map.name, result.map.title, result.map.file) == ("m", "Eight contacts", "m.yaml")
    assert [(c.label, c.role, c.name) for c in result.map.contacts] == [
        ("1", "signal", "GND"),
        ("3", "signal", "RESET"),
        ("5", "open", "open"),
        ("7", "key", "key"),
        ("2", "signal", "+5V"),
        ("4", "signal", "IOR*"),
        ("6", "open", "open"),
        ("8", "signal", "AEN"),
    ]
    assert str(result.map.by_label["6"].place) == "m.yaml:17:3"


# ---------------------------------------------------------------------- the file's own keys


def shape(key: str, wanted: str, offender: str, advice: str = "") -> str:
    return f"fault value-shape: {key} must be {wanted}, not {offender}{f'. {advice}' if advice else ''}"


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ("format: 1", "format: 2", f"1:9 {shape('format', '1', repr('2'))}"),
        ("format: 1", "format: {a: b}", f"1:9 {shape('format', '1', 'a block')}"),
        ("format: 1\n", "", "1:1 fault key-missing: the file must have format"),
        ("title: Eight contacts", "title:", f"2:7 {shape('title', 'one line of text', 'nothing', HASH)}"),
        ("title: Eight contacts", "title: #8", f"2:7 {shape('title', 'one line of text', 'nothing', HASH)}"),
        ("title: Eight contacts", "title: [a]", f"2:8 {shape('title', 'one line of text', 'a list')}"),
        (
            "title: Eight contacts",
            f"title: {'x' * 4001}",
            "2:8 fault value-shape: title must not be longer than 4000 letters",
        ),
        ("title:", "titel:", "2:1 fault key-unknown: the file must have no key 'titel'. Did you mean title?"),
        (
            "bus: isa-8bit",
            "bus: isa-8bits",
            f"3:6 {shape('bus', 'one of isa-16bit or isa-8bit', repr('isa-8bits'), 'Did you mean isa-8bit?')}",
        ),
        ("bus: isa-8bit", "bus: ../x", f"3:6 {shape('bus', 'one of isa-16bit or isa-8bit', repr('../x'))}"),
        ("end: host", "end: hots", f"4:6 {shape('end', 'card or host', repr('hots'), 'Did you mean host?')}"),
        (
            "form: box header",
            "form: box-header",
            f"6:9 {shape('body › form', FORMS, repr('box-header'), 'Did you mean box header?')}",
        ),
        (
            "form: box header",
            "form: DIN 41612",
            f"6:9 {shape('body › form', FORMS, repr('DIN 41612'), 'Did you mean din 41612?')}",
        ),
        ("rows: 2", "rows: two", f"7:9 {shape('body › rows', 'a whole number below 1000000', repr('two'))}"),
        ("rows: 2", "rows: -2", f"7:9 {shape('body › rows', 'a whole number below 1000000', repr('-2'))}"),
        ("rows: 2", "rows: 2.0", f"7:9 {shape('body › rows', 'a whole number below 1000000', repr('2.0'))}"),
        ("rows: 2", "rows: 1000000", f"7:9 {shape('body › rows', 'a whole number below 1000000', repr('1000000'))}"),
        ("rows: 2", "rows: ²", f"7:9 {shape('body › rows', 'a whole number below 1000000', repr('²'))}"),
        ("rows: 2", "rows:", f"7:8 {shape('body › rows', 'a whole number below 1000000', 'nothing')}"),
        ("places: 4", "places: [4]", f"8:11 {shape('body › places', 'a whole number', 'a list')}"),
        (
            "2.54 mm",
            "2.54",
            "9:10 fault value-shape: body › pitch: "
            "a length must carry its unit, like 2.54 mm, not the bare number '2.54'",
        ),
        (
            "2.54 mm",
            "2,54 mm",
            "9:10 fault value-shape: body › pitch: "
            "a length must have a decimal point, like 2.54 mm, not a comma: '2,54 mm'",
        ),
        (
            "2.54 mm",
            "1 A",
            "9:10 fault value-shape: body › pitch: a length must be in mm, cm, m, in, inch, mil, µm or um, "
            "like 2.54 mm, not in 'A': '1 A'",
        ),
        ("2.54 mm", "-2.54 mm", "9:10 fault value-shape: body › pitch must be more than 0 mm, not '-2.54 mm'"),
        ("2.54 mm", "0 mm", "9:10 fault value-shape: body › pitch must be more than 0 mm, not '0 mm'"),
        (
            "2.54 mm",
            "2.54 mm\n  row pitch: 0 mm",
            "10:14 fault value-shape: body › row pitch must be more than 0 mm, not '0 mm'",
        ),
        ("2.54 mm", "", f"9:9 {shape('body › pitch', 'a length with its unit', 'nothing', HASH)}"),
        ("2.54 mm", "[2.54 mm]", f"9:10 {shape('body › pitch', 'a length with its unit', 'a list')}"),
        (
            "labels: zigzag",
            "labels: zig-zag",
            f"10:11 {shape('body › labels', SCHEMES, repr('zig-zag'), 'Did you mean zigzag?')}",
        ),
        (
            "first: top left",
            "first: left top",
            f"11:10 {shape('body › first', CORNERS, repr('left top'))}",
        ),
        (
            "rows: 2",
            "rows: 2\n  gender: mail",
            f"8:11 {shape('body › gender', 'female or male', repr('mail'), 'Did you mean male?')}",
        ),
        (
            "rows: 2",
            "rows: 2\n  rating: 1",
            "8:11 fault value-shape: body › rating: a current must carry its unit, like 1.5 A, not the bare number '1'",
        ),
        ("rows: 2", "rows: 2\n  rating: 0 A", "8:11 fault value-shape: body › rating must be more than 0 A, not '0 A'"),
        (
            "rows: 2",
            "rows: 2\n  rows: 2",
            "8:3 fault key-twice: body › rows must stand once; it stands in line 7 already. Take one of the two out",
        ),
        ("rows: 2", "rows: 2\n  rwos: 2", "8:3 fault key-unknown: body must have no key 'rwos'. Did you mean rows?"),
        (
            "rows: 2",
            "rows: 2\n  source: {pich: x}",
            "8:12 fault key-unknown: body › source must name a key of the body, not 'pich'",
        ),
        (
            "rows: 2",
            "rows: 2\n  source: [x]",
            f"8:11 {shape('body › source', 'one line of text or a block of names and values', 'a list')}",
        ),
        (
            "rows: 2",
            "rows: 2\n  letters: {a: b}",
            f"8:12 {shape('body › letters', 'one line of text or a list', 'a block')}",
        ),
        (
            "rows: 2",
            "rows: 2\n  pads: rowz",
            f"8:9 {shape('body › pads', SCHEMES, repr('rowz'), 'Did you mean rows?')}",
        ),
        (
            "rows: 2",
            "rows: 2\n  pads: [x]",
            f"8:9 {shape('body › pads', 'lettered, ring, rows, serial or zigzag or a block with labels', 'a list')}",
        ),
        ("rows: 2", "rows: 2\n  pads: {first: top left}", "8:9 fault key-missing: body › pads must have labels"),
        (
            "rows: 2",
            "rows: 2\n  pads: {labels: rows, letters: A 1}",
            "8:33 fault value-shape: body › pads › letters must be row letters, like A B, not '1'",
        ),
        ("rows: 2", "rows: 2\n  mate: x", f"8:9 {shape('body › mate', 'a block with footprint and pads', repr('x'))}"),
        (
            "rows: 2",
            "rows: 2\n  mate: {pads: {labels: serial, first: middle}}",
            f"8:40 {shape('body › mate › pads › first', CORNERS, repr('middle'))}",
        ),
        (
            "  rows: 2\n  places: 4\n",
            "  sections: {places: 4}\n",
            f"7:13 {shape('body › sections', 'a list', 'a block')}",
        ),
        (
            "  rows: 2\n  places: 4\n",
            "  sections: [{places: 4, rows: 2, along: 3}]\n",
            "7:42 fault value-shape: "
            "body › sections › 1 › along: a length must carry its unit, like 2.54 mm, not the bare number '3'",
        ),
        (
            "  rows: 2\n  places: 4\n",
            "  sections: [{places: 4, rows: 2}, {rows: 2}]\n",
            "7:36 fault key-missing: body › sections › 2 must have places",
        ),
    ],
)
def test_a_wrong_value_is_one_complaint_with_the_rule_the_offender_and_its_place(
    old: str, new: str, complaint: str
) -> None:
    said = complaints(changed(old, new))
    # A key that is spelled wrongly is missing as well.
    assert complaint in said
    assert [s for s in said if s != complaint and "key-missing: the file must have title" not in s] == []


@pytest.mark.parametrize(
    ("extra", "complaint"),
    [
        ("foo: bar\n", f"20:1 fault key-unknown: the file must have no key 'foo'. {KEYS}"),
        ("<<: {a: b}\n", f"20:1 fault key-unknown: the file must have no key '<<'. {KEYS}"),
        ('"": x\n', f"20:1 fault key-unknown: the file must have no key ''. {KEYS}"),
        (f'? "{"k" * 5000}"\n: x\n', f"20:3 fault key-unknown: the file must have no key '{'k' * 59}…'. {KEYS}"),
        (
            "title: U\n",
            "20:1 fault key-twice: title must stand once; it stands in line 2 already. Take one of the two out",
        ),
        ("marks: yes\n", f"20:8 {shape('marks', 'none or used', repr('yes'))}"),
        (
            "seen: guess\n",
            f"20:7 {shape('seen', 'guessed, manual or measured', repr('guess'), MEAN + 'guessed?')}",
        ),
        ("options: [a]\n", f"20:10 {shape('options', 'a block of names and values', 'a list')}"),
        ("options: {a: [b]}\n", f"20:14 {shape('options › a', 'one line of text', 'a list')}"),
        ("own signals: x\n", f"20:14 {shape('own signals', 'a block of names and values', repr('x'))}"),
        (
            "own signals: {X: }\n",
            f"20:18 {shape('own signals › X', OWN, 'nothing', HASH)}",
        ),
        (
            "own signals: {+8V: {group: suply}}\n",
            f"20:28 {shape('own signals › +8V › group', 'own, return or supply', repr('suply'), MEAN + 'supply?')}",
        ),
        (
            "own signals: {+8V: {group: supply, volts: 8}}\n",
            "20:43 fault value-shape: own signals › +8V › volts: "
            "a voltage must carry its unit, like +5 V, not the bare number '8'",
        ),
        (
            "own signals: {+8V: {group: supply, volts: ±8 V}}\n",
            "20:43 fault value-shape: own signals › +8V › volts: a voltage must have one sign, not both: '±8 V'",
        ),
        (
            "own signals: {X: {volts: +8 V}}\n",
            "20:26 fault value-shape: own signals › X must have no volts: only a supply "
            "has. Write group: supply if it is one",
        ),
        (
            "own signals: {X: {abuot: y}}\n",
            "20:19 fault key-unknown: own signals › X must have no key 'abuot'. Did you mean about?",
        ),
        ("supplies: {+5V: 1 A}\n", f"20:17 {shape('supplies › +5V', 'a block with limit', repr('1 A'))}"),
        ("supplies: {+5V: {note: x}}\n", "20:17 fault key-missing: supplies › +5V must have limit"),
        (
            "supplies: {+5V: {limit: 1}}\n",
            "20:25 fault value-shape: supplies › +5V › limit: "
            "a current must carry its unit, like 1.5 A, not the bare number '1'",
        ),
        (
            "supplies: {+5V: {limit: -1 A}}\n",
            "20:25 fault value-shape: supplies › +5V › limit must be more than 0 A, not '-1 A'",
        ),
        (
            "supplies: {+12V: {limit: 1 A}}\n",
            "20:12 fault supply-unknown: supplies must name a rail that the map carries (+5V), not '+12V'",
        ),
        (
            "supplies: {foo: {limit: 1 A}}\n",
            "20:12 fault supply-unknown: supplies must name a rail that the map carries (+5V), not 'foo'",
        ),
        (
            "supplies: {GND: {limit: 1 A}}\n",
            "20:12 fault supply-unknown: supplies must name a rail that the map carries (+5V), not 'GND'",
        ),
        (
            "supplies: {+5V: {limit: 1 A}, VCC: {limit: 2 A}}\n",
            "20:31 fault key-twice: supplies must name a rail once; VCC is +5V, which stands in line 20",
        ),
    ],
)
def test_a_wrong_key_or_entry_is_one_complaint_and_leaves_the_rest_of_the_map(extra: str, complaint: str) -> None:
    assert complaints(GOOD + extra) == [complaint]
    assert a_map(GOOD + extra).by_label["8"].name == "AEN"


@pytest.mark.parametrize(("text", "offender"), [("hello", "'hello'"), ("- a", "a list")])
def test_a_file_of_another_shape_is_told_what_it_must_be(text: str, offender: str) -> None:
    assert complaints(text) == [
        f"1:1 {shape('the file', 'a block with format, title, bus, end, body and contacts', offender)}"
    ]


def test_everything_that_is_missing_is_said_at_once() -> None:
    assert complaints("about: x\n") == [
        "1:1 fault key-missing: the file must have format, title, bus, end, body and contacts"
    ]


@pytest.mark.parametrize("key", ["format", "title", "bus", "end", "body", "contacts"])
def test_no_map_is_made_up_where_a_key_is_missing_that_a_map_cannot_do_without(key: str) -> None:
    assert read(GOOD).map is not None
    text = "".join(block for block in re.split(r"(?m)^(?=\w)", GOOD) if not block.startswith(f"{key}:"))
    assert complaints(text) == [f"1:1 fault key-missing: the file must have {key}"]
    assert read(text).map is None


def test_one_wrong_key_does_not_hide_the_others() -> None:
    text = GOOD.replace("title: Eight contacts\n", "").replace("box header", "bix header").replace("IOR*", "IOORR*")
    result = read(f"{text}supplies: {{+5V: {{limit: 1}}}}\n")
    assert result.map is None
    assert [(f.place.line, f.code) for f in sorted(result.complaints, key=lambda f: f.place)] == [
        (1, "key-missing"),
        (5, "value-shape"),
        (15, "name-unknown"),
        (19, "value-shape"),
    ]
    assert [c.split(": ")[0] for c in complaints(GOOD.replace("isa-8bit", "isa").replace("8: AEN", "9: AEN"))] == [
        "3:6 fault value-shape",
        "19:3 fault contact-off-body",
    ]


def test_a_wrong_value_makes_no_complaints_about_what_hangs_on_it() -> None:
    """An own signal or option with a mistake in it is still known by its name."""
    text = changed("8: AEN", "8: {signal: AUDIO, with: board}")
    extra = "own signals: {AUDIO: {group: supplie}}\noptions: {board: [x]}\n"
    assert [c.split(": ")[0] for c in complaints(text + extra)] == [
        "20:30 fault value-shape",
        "21:18 fault value-shape",
    ]


# ---------------------------------------------------------------------- bodies

DIN = "a din 41612 connector must say its gender, male or female"


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ("  rows: 2\n", "", "6:3 fault key-missing: body must have rows, or letters"),
        ("  places: 4\n", "", "5:1 fault key-missing: body must have rows and places, or sections"),
        (
            "  rows: 2\n  places: 4\n",
            "  sections: []\n",
            "5:1 fault key-missing: body must have rows and places, or sections",
        ),
        (
            "rows: 2",
            "rows: 0",
            "6:3 fault body-impossible: a section must have at least one row and one place, not 0 × 4",
        ),
        (
            "places: 4",
            "places: 0",
            "6:3 fault body-impossible: a section must have at least one row and one place, not 2 × 0",
        ),
        ("places: 4", "places: 10001", "5:1 fault body-impossible: a body must not have more than 20000 contacts"),
        ("places: 4", "places: 999999", "5:1 fault body-impossible: a body must not have more than 20000 contacts"),
        (
            "rows: 2\n",
            "sections: [{places: 4, rows: 2}]\n  rows: 2\n",
            "8:3 fault body-impossible: a body in sections must give rows and places in each section, not beside them",
        ),
        (
            "  rows: 2\n  places: 4\n",
            "  sections: [{places: 4}]\n",
            "7:14 fault key-missing: body › sections › 1 must have rows, or letters",
        ),
        (
            "  rows: 2\n  places: 4\n",
            "  sections: [{places: 0, rows: 2}]\n",
            "7:14 fault body-impossible: a section must have at least one row and one place, not 2 × 0",
        ),
        (
            "labels: zigzag",
            "labels: zigzag\n  letters: A B",
            "11:3 fault body-impossible: body must have letters only where labels are rows, not zigzag",
        ),
        (
            "labels: zigzag",
            "labels: rows\n  letters: A B C",
            "6:3 fault body-impossible: a section of 2 rows must have 2 row letters, not 3",
        ),
        (
            "labels: zigzag",
            "labels: rows\n  letters: A A",
            "6:3 fault body-impossible: row letters must differ, not A A",
        ),
        (
            "labels: zigzag",
            "labels: rows\n  letters: A 1",
            "11:12 fault value-shape: body › letters must be row letters, like A B, not '1'",
        ),
        (
            "labels: zigzag",
            "labels: rows\n  letters: [A, ÄÖ]",
            "11:12 fault value-shape: body › letters must be row letters, like A B, not 'ÄÖ'",
        ),
        ("labels: zigzag", "labels: ring\n  from: 1", None),
        (
            "rows: 2\n  places: 4\n  pitch: 2.54 mm\n  labels: zigzag",
            "rows: 3\n  places: 4\n  pitch: 2.54 mm\n  labels: ring",
            "5:1 fault body-impossible: ring labels must have two rows, not 3",
        ),
        (
            "rows: 2\n  places: 4\n  pitch: 2.54 mm\n  labels: zigzag",
            "rows: 3\n  places: 4\n  pitch: 2.54 mm\n  labels: lettered",
            "5:1 fault body-impossible: lettered labels must have two rows, not 3",
        ),
        (
            "rows: 2\n  places: 4\n  pitch: 2.54 mm\n  labels: zigzag",
            "rows: 27\n  places: 4\n  pitch: 2.54 mm\n  labels: rows",
            "5:1 fault body-impossible: more than 26 rows must be given letters",
        ),
        (
            "  rows: 2\n  places: 4\n  pitch: 2.54 mm\n  labels: zigzag",
            "  sections: [{places: 3, rows: 2}, {places: 3, rows: 2}]\n  pitch: 2.54 mm\n  labels: lettered",
            "5:1 fault body-impossible: every contact must have a label of its own, not 1 twice",
        ),
        (
            "rows: 2",
            "rows: 2\n  gender: male",
            "5:1 fault body-impossible: gender is for din 41612 only; box header has its own",
        ),
        ("form: box header", "form: din 41612", f"5:1 fault body-impossible: {DIN}"),
    ],
)
def test_a_body_that_cannot_be_is_said_with_the_reason(old: str, new: str, complaint: str | None) -> None:
    assert complaints(changed(old, new)) == ([complaint] if complaint else [])


@pytest.mark.parametrize(
    "pads",
    [
        "pads: rows",
        "pads: {labels: rows, letters: A}",
        "mate: {pads: rows}",
        "mate: {pads: {labels: rows, letters: A B C}}",
    ],
)
def test_pads_that_do_not_fit_the_body_are_refused_in_words(pads: str) -> None:
    (said,) = complaints(changed("rows: 2", f"rows: 2\n  {pads}"))
    assert said.startswith("5:1 fault body-impossible: ")
    assert said.endswith(("must have one letter for each row", "must have one letter for each row of each section"))


# ---------------------------------------------------------------------- labels and runs


@pytest.mark.parametrize(
    ("entry", "complaint"),
    [
        ("9: GND", "contact-off-body: a contact must be on the body (1–8), not '9'"),
        ("A1: GND", "contact-off-body: a contact must be on the body (1–8), not 'A1'. Did you mean 1?"),
        ("0..3: GND", "contact-off-body: a contact must be on the body (1–8), not '0'"),
        ("20..30: GND", "contact-off-body: a contact must be on the body (1–8), not '20' and '30'. Did you mean 2?"),
        ('"": GND', "contact-off-body: a contact must be on the body (1–8), not ''"),
        ("<<: GND", "contact-off-body: a contact must be on the body (1–8), not '<<'"),
        ("1 by 2: GND", "contact-off-body: a contact must be on the body (1–8), not '1 by 2'"),
        ("1..: GND", "contact-off-body: a run of contacts must have two ends, like 1..8, not '1..'"),
        ("..: GND", "contact-off-body: a run of contacts must have two ends, like 1..8, not '..'"),
        ("1..7 by x: open", "contact-off-body: a run's step must be a whole number, not 'x'"),
        ("1..7 by ²: open", "contact-off-body: a run's step must be a whole number, not '²'"),
        ("1..7 by -2: open", "contact-off-body: a run's step must be a whole number, not '-2'"),
        ("1..7 by 0: open", "contact-off-body: a run's step must be 1 or more, not 0"),
        (
            "1..4: SD0..SD7",
            "run-length: a run of contacts must be as long as its run of names: 1..4 has 4, SD0..SD7 has 8",
        ),
        ("1: SD0..SD7", "run-length: a run of contacts must be as long as its run of names: 1 has 1, SD0..SD7 has 8"),
        (
            "1..4: SD0",
            "run-length: a run of contacts must be as long as its run of names: 1..4 has 4, SD0 has 1. "
            "Only a supply, a return or open may stand alone for a run of contacts",
        ),
        ("1..4: SD0..SA3", "run-length: both ends of a run must have the same name, like SD7..SD0, not 'SD0..SA3'"),
        ("1..4: SD..SA", "run-length: a run of names must end in numbers, like SD7..SD0, not 'SD..SA'"),
        ("1..4: SD0..SD99999", "run-length: a run must not be longer than 1000 names, not 'SD0..SD99999'"),
        ("1: ../../x", "run-length: a run of names must end in numbers, like SD7..SD0, not '../../x'"),
        (f"1: {'A' * 101}", f"value-shape: a name must not be longer than 100 letters, not '{'A' * 59}…'"),
        (f"{'1' * 101}: GND", f"value-shape: contacts: a name must not be longer than 100 letters, not '{'1' * 59}…'"),
    ],
)
def test_a_contact_that_is_not_on_the_body_or_a_run_that_does_not_fit_is_refused(entry: str, complaint: str) -> None:
    said = [c.removeprefix("20:3 fault ") for c in complaints(f"{GOOD}  {entry}\n")]
    assert said == [complaint]


def test_a_run_must_stay_in_its_row() -> None:
    text = (
        GOOD.split("contacts:")[0].replace("zigzag", "rows")
        + "contacts:\n  A1..B4: GND\n  a1..A4: GND\n  b4..b1: SD0..SD3\n"
    )
    assert complaints(text) == ["13:3 fault contact-off-body: a run must stay in one row, not go from A1 to B4"]
    assert [c.name for c in a_map(text).contacts] == ["GND"] * 4 + ["SD3", "SD2", "SD1", "SD0"]


def test_a_run_that_leaves_the_body_in_the_middle_is_refused() -> None:
    text = changed(
        "  rows: 2\n  places: 4\n", "  sections: [{letters: A B, places: 2}, {letters: A B, places: 2, from: 7}]\n"
    )
    text = text.replace("zigzag", "rows").split("contacts:")[0] + "contacts:\n  A1..A8: GND\n"
    (said,) = complaints(text)
    assert said.startswith("12:3 fault contact-off-body: a run must not leave the body: there is no contact A3")


def test_a_body_with_rows_says_its_labels_by_row() -> None:
    text = GOOD.split("contacts:")[0].replace("zigzag", "rows") + "contacts:\n  C1: GND\n"
    assert complaints(text) == [
        "13:3 fault contact-off-body: a contact must be on the body (A1–A4 and B1–B4), not 'C1'"
    ]


def test_one_supply_return_or_open_may_fill_a_run() -> None:
    text = GOOD.split("contacts:")[0] + "contacts:\n  1..3: GND\n  4..5: VCC\n  6..7: NC\n  8: key\n"
    assert complaints(text) == []
    assert {c.label: c.name for c in a_map(text).contacts} == {
        **dict.fromkeys("123", "GND"),
        **dict.fromkeys("45", "+5V"),
        **dict.fromkeys("67", "open"),
        "8": "key",
    }


# ---------------------------------------------------------------------- names


@pytest.mark.parametrize(
    "written",
    [
        "IOR*",
        "-IOR",
        "/IOR",
        "IOR#",
        "nIOR",
        "IOR_N",
        "~{IOR}",
        "IOR-",
        "!IOR",
        "ior*",
        "I\u0305O\u0305R\u0305",
        "-I/O R",
    ],
)
def test_a_name_is_understood_in_every_notation_and_kept_as_written(written: str) -> None:
    contact = a_map(changed("IOR*", f"'{written}'")).by_label["4"]
    assert (contact.role, contact.name, contact.written, contact.inverted) == ("signal", "IOR*", written, False)
    assert complaints(changed("IOR*", f"'{written}'")) == []


@pytest.mark.parametrize(
    "written", ["open", "NC", "N.C.", "N/C", "n.c", "no connection", "not connected", "Open", "unconnected"]
)
def test_a_contact_without_a_line_is_open_however_that_is_written(written: str) -> None:
    assert a_map(changed("IOR*", written)).by_label["4"].role == "open"


def test_a_line_that_is_there_with_the_other_polarity_is_marked() -> None:
    contact = a_map(changed("3: RESET", "3: RESET*")).by_label["3"]
    assert (contact.name, contact.inverted) == ("RESET*", True)
    contact = a_map(changed("3: RESET", "3: {signal: RESET, active: low}")).by_label["3"]
    assert (contact.name, contact.inverted) == ("RESET*", True)
    assert not a_map(changed("4: IOR*", "4: IOR") + "marks: none\n").by_label["4"].inverted


@pytest.mark.parametrize(
    ("written", "advice"),
    [
        ("IOOR*", "Nearest: IOR* or IOW*"),
        ("IRQ22", "Nearest: IRQ2 or IRQ7"),
        ("Xyzzy", "Describe it under own signals if the maker added it"),
        ('""', "Describe it under own signals if the maker added it"),
    ],
)
def test_an_unknown_name_is_kept_and_the_nearest_ones_are_named(written: str, advice: str) -> None:
    text = changed("8: AEN", f"8: {written}")
    offender = written.strip('"')
    (said,) = complaints(text)
    start = f"19:3 fault name-unknown: a name must be the bus's or one of own signals, not '{offender}' (contact 8). "
    assert said.startswith(start)
    assert said.removeprefix(start).split(",")[0].startswith(advice.split(" or ")[0])
    contact = a_map(text).by_label["8"]
    assert (contact.role, contact.written) == ("unknown", offender)


@pytest.mark.parametrize(
    ("value", "complaint"),
    [
        ("", f"19:5 {shape('contacts › 8', 'one line of text or a block with signal', 'nothing', HASH)}"),
        ("#RD", f"19:5 {shape('contacts › 8', 'one line of text or a block with signal', 'nothing', HASH)}"),
        ("[AEN]", f"19:6 {shape('contacts › 8', 'one line of text or a block with signal', 'a list')}"),
        ("{signal: }", f"19:15 {shape('contacts › 8 › signal', 'one line of text', 'nothing', HASH)}"),
        (
            "{signal: AEN, seen: guess}",
            f"19:26 {shape('contacts › 8 › seen', 'guessed, manual or measured', repr('guess'), MEAN + 'guessed?')}",
        ),
        (
            "{signal: AEN, active: lo}",
            f"19:28 {shape('contacts › 8 › active', 'high or low', repr('lo'), 'Did you mean low?')}",
        ),
        ("{signal: AEN, whit: x}", "19:20 fault key-unknown: contacts › 8 must have no key 'whit'. Did you mean with?"),
        ("{note: x}", "19:6 fault key-missing: contacts › 8 must have signal"),
        (
            "{signal: AEN, with: x}",
            "19:26 fault option-unknown: contact 8 must come with an option of this map "
            "(there are none), not 'x'. Describe it under options",
        ),
    ],
)
def test_a_wrong_contact_is_one_complaint(value: str, complaint: str) -> None:
    assert complaints(changed("8: AEN", f"8: {value}")) == [complaint]


def test_an_unknown_option_gets_the_nearest_one() -> None:
    text = changed("8: AEN", "8: {signal: AEN, with: video bord}") + "options: {video board: x, clock: y}\n"
    assert complaints(text) == [
        "19:26 fault option-unknown: contact 8 must come with an option of this map (video board or clock), "
        "not 'video bord'. Did you mean video board?"
    ]


@pytest.mark.parametrize(
    ("names", "message"),
    [
        ("{GND: x}", "an own signal must not bear a name of the bus, like GND"),
        ("{/reset: x}", "an own signal must not bear a name of the bus, like /reset"),
        ("{VCC: x}", "an own signal must not bear a name of the bus, like VCC"),
        ("{open: x}", "an own signal must not be called open, which means a contact without a signal"),
        ("{N.C.: x}", "an own signal must not be called N.C., which means a contact without a signal"),
        ("{key: x}", "an own signal must not be called key, which means a contact without a signal"),
        ("{AUDIO: x, audio: y}", "own signals must differ in more than case and spacing, not be AUDIO and audio"),
        ('{"": x}', "an own signal must have one name with letters or digits, and no run, not ''"),
        ('{"*": x}', "an own signal must have one name with letters or digits, and no run, not '*'"),
        ("{X0..X7: x}", "an own signal must have one name with letters or digits, and no run, not 'X0..X7'"),
    ],
)
def test_an_own_signal_must_be_told_from_everything_else(names: str, message: str) -> None:
    (said,) = complaints(f"{GOOD}own signals: {names}\n")
    assert said.startswith("20:")
    assert said.endswith(f" fault value-shape: {message}. Leave it out, or give the maker's line a name of its own")
    assert a_map(f"{GOOD}own signals: {names}\n").by_label["1"].name == "GND"


def test_own_signals_are_known_by_name_and_two_polarities_are_two_lines() -> None:
    text = GOOD.replace("3: RESET", "3: CS1").replace("8: AEN", "8: cs1*") + (
        "own signals:\n  CS1: chip select\n  CS1*: the same, inverted\n  +8V: {group: supply, volts: +8 V}\n"
    )
    assert complaints(text) == []
    result = a_map(text)
    assert (result.by_label["3"].name, result.by_label["8"].name) == ("CS1", "CS1*")
    assert result.own["+8V"].volts == 8.0


# ---------------------------------------------------------------------- text that cannot be printed


def test_text_that_cannot_be_printed_is_pointed_out_once_and_shown_with_escapes() -> None:
    text = GOOD.replace("Eight contacts", '"a\\u202eb\\e[31m"') + (
        "about: |\n  two\n  lines\noptions:\n  'o\u200f': x\nown signals:\n  'AU\u202eX': 'y\u200b'\n"
        "source: >\n  folded\n  text\n"
    )
    assert complaints(text) == [
        "2:8 caution text-unprintable: title must be one line of printable text, not 'a\\u202eb\\u001b[31m'. "
        "It is shown with escapes",
        "20:8 caution text-unprintable: about must be one line of printable text, not 'two\\nlines'. "
        "It is shown with escapes; begin a text of several lines with >- to make one line of it",
        "24:3 caution text-unprintable: options: a name must be one line of printable text, not 'o\\u200f'. "
        "It is shown with escapes",
        "26:3 caution text-unprintable: own signals: a name must be one line of printable text, not 'AU\\u202eX'. "
        "It is shown with escapes",
        "26:11 caution text-unprintable: own signals › AU\\u202eX must be one line of printable text, not 'y\\u200b'. "
        "It is shown with escapes",
    ]
    result = a_map(text)
    assert (result.title, result.about, result.source) == ("a\\u202eb\\u001b[31m", "two\\nlines", "folded text")
    assert list(result.options) == ["o\\u200f"]
    assert list(result.own) == ["AU\\u202eX"]


def test_emoji_and_foreign_letters_are_left_alone() -> None:
    title = "Gerät 接地 עברית 🔌👩\u200d🔧 \"q\" 'p' | `b` ../.."
    text = changed("Eight contacts", "'" + title.replace("'", "''") + "'")
    assert complaints(text) == []
    assert a_map(text).title == title


# ---------------------------------------------------------------------- dictionaries

BUS = """\
format: 1
title: A bus
about: x
sources: {here: this test}
signals:
  D0..D1: {group: data, about: x, driver: host, active: high, source: here}
  GND: {group: return, about: x, driver: none, active: none, source: here}
kinds:
  - {name: any, about: x, needs: [D0..D1, GND], source: here}
"""


def dictionary_complaints(text: str) -> list[str]:
    Path("b.yaml").write_text(text, "utf-8")
    with pytest.raises(DictionaryError) as caught:
        read_bus(Path("b.yaml"), "b.yaml", "b")
    assert str(caught.value).startswith("b.yaml")
    return [f"{f.place.line}:{f.place.column} {f.code}: {f.message}. {f.advice}" for f in caught.value.complaints]


def test_a_dictionary_is_read() -> None:
    Path("b.yaml").write_text(BUS, "utf-8")
    bus = read_bus(Path("b.yaml"), "b.yaml", "b")
    assert list(bus.signals) == ["D0", "D1", "GND"]
    assert bus.kinds[0].needs == ("D0", "D1", "GND")
    assert bus.signals["D1"].source_of("driver") == "this test"


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        (
            "needs: [D0..D1, GND]",
            "needs: [D0..E1]",
            "9:35 run-length: both ends of a run must have the same name, like SD7..SD0, not 'D0..E1'. ",
        ),
        (
            "needs: [D0..D1, GND]",
            "one of: [[GND], [D0..E1]]",
            "9:44 run-length: both ends of a run must have the same name, like SD7..SD0, not 'D0..E1'. ",
        ),
        (
            "needs: [D0..D1, GND]",
            "needs: [FOO]",
            "9:35 name-unknown: a kind of card must need lines of its bus, not 'FOO'. ",
        ),
        ("  GND: {", "  D1: {", "7:3 signal-twice: D1 must be described once. "),
        (
            "  D0..D1: {",
            "  D0..E1: {",
            "6:3 run-length: both ends of a run must have the same name, like SD7..SD0, not 'D0..E1'. ",
        ),
        (
            "driver: none, active: none, source: here",
            "driver: none, active: none, source: hear",
            "7:70 value-shape: a source must be one of here, not 'hear'. Did you mean here?",
        ),
        (
            "active: high, source: here",
            "active: high, source: here, volts: +5 V",
            "6:3 value-shape: only a supply has volts, not D0. ",
        ),
        (
            "active: high, source: here",
            "active: high, source: here, source of: {foo: here}",
            "6:89 key-unknown: source of must name a fact of the signal, not 'foo'. ",
        ),
        (
            "{name: any, about: x,",
            "{name: any, like: other, about: x,",
            "9:23 value-shape: like must name an earlier kind of card, not 'other'. ",
        ),
        (
            "group: data",
            "group: dta",
            "6:19 value-shape: signals › D0..D1 › group must be "
            "DMA, address, command, control, data, interrupt, own, return, "
            "supply or timing, not 'dta'. Did you mean data?",
        ),
        (
            "sources: {here: this test}",
            "sources: {here: this test}\nreturn count: {value: x, source: here}",
            "5:23 value-shape: return count › value must be a whole number, not 'x'. ",
        ),
    ],
)
def test_a_wrong_dictionary_says_where_and_never_breaks_down(old: str, new: str, complaint: str) -> None:
    assert BUS.count(old) == 1
    assert complaint in dictionary_complaints(BUS.replace(old, new))


def test_a_wrong_table_of_forms_says_where() -> None:
    Path("f.yaml").write_text("format: 1\nsources: {a: b}\nforms:\n  box haeder: {}\n", "utf-8")
    with pytest.raises(DictionaryError) as caught:
        read_forms(Path("f.yaml"), "f.yaml")
    assert str(caught.value) == (
        f"f.yaml:4:3: forms › box haeder must be {FORMS}, not 'box haeder'. Did you mean box header?"
    )
