"""Cells that a spreadsheet leaves alone: what is dangerous by itself is harmless behind its word, and comes back."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap.text import visible
from pinmap.writers.cells import BOM, at_risk, csv_text, unworded, worded

#: What spreadsheets take for something else than text, in one program, language or setting at least. Common practice,
#: no source; those with * were seen to change in an open spreadsheet program, set to English or to German.
DANGEROUS = {
    "a formula": ["=A1", '=HYPERLINK("x")', "@SUM(1)", "+A1", "-A1", "=1+1|' '!A0", "＝A1", "＋1", "－1", "＠A1"],  # =*
    "a formula behind spaces": [" =A1", "  =1+1", "\t=A1", "\r=A1", "\n=A1", "\u00a0=A1"],
    "a number with its unit": ["-5V", "+12V", "+5", "-5", " -5", "\u22125", "5 V", "10 kΩ"],  # +5*, " -5"*
    "another number": ["0012", "1E5", "1e-3", ".5", ",5", "1,5", "(5)", "5%", "%5", "0x1F", "12E"],  # nearly all *
    "a sum of money": ["$5", "€5", "£5", "¥5"],  # €*
    "a number in other digits": ["１２", "\u0663", "½", "²"],
    "a fraction or a date": ["1-2", "3/4", "1.2.3", "1/2/3", "2026-01-02"],  # 3/4*, 1.2.3*, 2026-01-02*
    "a month": ["MAR1", "Mar-1", "may 5", "DEC10", "Sept.2", "June 3"],  # May 5*
    "a time": ["12:30", "1:2", "12 PM"],  # 12:30*, 12 PM*
    "a truth value": ["TRUE", "False", "true"],  # TRUE*
    "an error": ["#N/A", "#REF!", "#"],
    "text in its own way": ["'x", "'=A1"],
}
#: Every word that stands in front of a map's text in a file of this package.
WORDS = ("J1", "J2", "pad", "net", "note:", "size", "pitch", "footprint", "value", "from", "to", "for")

any_text = st.text(st.characters(codec="utf-8"), max_size=30)


@pytest.mark.parametrize("text", [t for several in DANGEROUS.values() for t in several], ids=ascii)
def test_what_a_spreadsheet_would_change_is_known_and_harmless_behind_any_word(text: str) -> None:
    assert at_risk(text)
    for word in WORDS:
        assert not at_risk(worded(word, text))
        assert unworded(worded(word, text)) == visible(text)


@pytest.mark.parametrize(
    "text",
    [
        *("", "wire", "link", "GND", "IOR*", "J1", "J1 4", "pad 4", "net +5V", "note: 3/4", "March", "marker", "A1"),
        *("DMA", "build with care", "in the netlist", "edge slot", "din 41612", "TRUE north", "(see there)", "E5"),
    ],
)
def test_plain_words_are_not_at_risk(text: str) -> None:
    assert not at_risk(text)


@settings(derandomize=True, deadline=None, max_examples=300)
@given(st.sampled_from(WORDS), any_text)
def test_any_text_comes_back_from_behind_its_word(word: str, text: str) -> None:
    written = csv_text(("a", "b"), [(worded(word, text), 12)])
    assert written.endswith("\r\n")
    head, row = csv.reader(io.StringIO(written, newline=""))
    assert head == ["a", "b"]
    assert row == [f"{word} {visible(text)}" if text else "", "12"]
    assert unworded(row[0]) == visible(text)
    assert not at_risk(row[0])
    written.encode("utf-8")


def test_nothing_to_say_leaves_an_empty_cell_without_its_word() -> None:
    assert worded("note:", "") == ""
    assert unworded("") == ""


def test_text_stays_on_one_line_and_half_characters_are_escaped() -> None:
    assert worded("net", "a\r\n=A1\t\ud800") == "net a\\r\\n=A1\\t\\ud800"


def test_a_whole_file() -> None:
    rows = [(1, worded("net", "-5V"), 'say "so"'), (20, worded("net", "1,5"), "")]
    assert csv_text(("number", "signal", "x"), rows) == (
        'number,signal,x\r\n1,net -5V,"say ""so"""\r\n20,"net 1,5",\r\n'
    )


def test_the_byte_order_mark_comes_first_and_only_if_asked_for() -> None:
    assert csv_text(("a",), [("b",)], bom=True) == f"{BOM}a\r\nb\r\n"
    assert csv_text(("a",), [("b",)], bom=True).encode("utf-8")[:3] == b"\xef\xbb\xbf"
    assert csv_text(("a",), [("b",)]) == "a\r\nb\r\n"


@pytest.mark.parametrize("cell", ["-5V", "=A1", "MAR1", " x", "a\nb"])
def test_a_writer_that_forgets_the_word_is_stopped(cell: str) -> None:
    with pytest.raises(ValueError, match="a cell of text must not look like a formula, a number or a date, not "):
        csv_text(("a",), [(cell,)])
    with pytest.raises(ValueError, match="a cell of text must not look like"):
        csv_text((cell,), [])
