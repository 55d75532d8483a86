"""Text as people read it: safe to show, in the order in which a person counts, joined as in a sentence."""

from __future__ import annotations

import unicodedata
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap.text import count, listed, natural, nearest, quoted, ranges, short, visible


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("IOR*", "IOR*"),
        ("I\u0305O\u0305R\u0305", "I\u0305O\u0305R\u0305"),  # overlined
        ("µ Ω ± −5 V é ß 接地 עברית", "µ Ω ± −5 V é ß 接地 עברית"),
        ("🔌👩\u200d🔧", "🔌👩\u200d🔧"),  # the joiner inside an emoji
        ("a\nb\rc\td", "a\\nb\\rc\\td"),
        ("\x1b[31m\x00\x7f\x9b", "\\u001b[31m\\u0000\\u007f\\u009b"),
        ("a\u202eb\u200fc\u2066d", "a\\u202eb\\u200fc\\u2066d"),  # marks that turn the writing direction
        ("a\u200bb\ufeffc\u00add", "a\\u200bb\\ufeffc\\u00add"),  # what cannot be seen
        ("a\u2028b\u2029c\x85d", "a\\u2028b\\u2029c\\u0085d"),  # what ends a line elsewhere
        ("\udcff\ue000\U000e0041", "\\udcff\\ue000\\U000e0041"),
    ],
)
def test_what_would_act_on_the_screen_is_shown_as_an_escape(text: str, shown: str) -> None:
    assert visible(text) == shown
    assert visible(shown) == shown


@settings(deadline=None, derandomize=True)
@given(st.text())
def test_what_is_shown_is_one_line_and_does_nothing(text: str) -> None:
    shown = visible(text)
    assert len((shown + "x").splitlines()) == 1
    assert not {unicodedata.category(c) for c in shown if c != "\u200d"} & {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
    assert shown.encode("utf-8").decode("utf-8") == visible(shown)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("IOR*", "'IOR*'"),
        ("", "''"),
        ("it's", '"it\'s"'),
        ('say "hi"', "'say \"hi\"'"),
        ("a\\b", "'a\\b'"),
        ("a\nb", "'a\\nb'"),
        ("x" * 60, "'" + "x" * 60 + "'"),
        ("x" * 61, "'" + "x" * 59 + "…'"),
    ],
)
def test_a_message_quotes_what_was_written_once_and_in_short(text: str, shown: str) -> None:
    assert quoted(text) == shown


def test_a_long_text_is_cut_with_an_ellipsis() -> None:
    assert [short("abcdef", most) for most in (7, 6, 5)] == ["abcdef", "abcdef", "abcd…"]


def test_a_person_counts_a2_before_a10() -> None:
    labels = ["A10", "B1", "A2", "10", "2", "AA", "A", "Z", "A1b", "A1"]
    assert sorted(labels, key=natural) == ["2", "10", "A", "A1", "A1b", "A2", "A10", "AA", "B1", "Z"]


@settings(deadline=None, derandomize=True)
@given(st.lists(st.one_of(st.text(max_size=8), st.text(st.sampled_from(list("A019²٣")), max_size=6))))
def test_any_texts_can_be_sorted_and_shortened(texts: list[str]) -> None:
    assert Counter(sorted(texts, key=natural)) == Counter(texts)
    assert ranges(texts).count(", ") <= ", ".join(texts).count(", ")


def test_numbers_of_thousands_of_digits_are_text() -> None:
    long = "9" * 5000
    assert sorted([f"A{long}", "A2"], key=natural) == ["A2", f"A{long}"]
    assert ranges([f"A{long}", f"A1{'0' * 5000}"]) == f"A{long}, A1{'0' * 5000}"


@pytest.mark.parametrize(
    ("words", "text"), [([], ""), (["A"], "A"), (["A", "B"], "A and B"), (["A", "B", "C"], "A, B and C")]
)
def test_words_are_joined_as_in_a_sentence(words: list[str], text: str) -> None:
    assert listed(words) == text
    assert listed(iter(words), "or") == text.replace("and", "or")


@pytest.mark.parametrize(
    ("labels", "text"),
    [
        ([], ""),
        (["A2"], "A2"),
        (["A2", "A3"], "A2, A3"),
        (["A2", "A3", "A4", "A7"], "A2–A4, A7"),
        (["A9", "A10", "A11"], "A9–A11"),
        (["A4", "A3", "A2"], "A4, A3, A2"),
        (["A1", "B2", "B3", "B4", "C5"], "A1, B2–B4, C5"),
        (["IRQ2*", "IRQ3*", "IRQ4*"], "IRQ2*–IRQ4*"),
        (["Y", "Z", "AA"], "Y, Z, AA"),
    ],
)
def test_three_in_a_row_become_a_range(labels: list[str], text: str) -> None:
    assert ranges(labels) == text


def test_things_are_counted_in_words() -> None:
    assert [count(n, "wire") for n in (0, 1, 2)] == ["0 wires", "1 wire", "2 wires"]
    assert [count(n, "is", "are") for n in (1, 2)] == ["1 is", "2 are"]


def test_the_nearest_words_are_found_whatever_their_case() -> None:
    known = ["rows", "row pitch", "places", "pitch"]
    assert nearest("Row_Pitch", known) == ["row pitch"]
    assert nearest("pich", known) == ["pitch"]
    assert nearest("pich", known, most=2) == ["pitch", "row pitch"]
    assert nearest("xyzzy", known) == []
    assert nearest("", known) == []
