"""Quantities: a number and its unit, or a message that says what is wrong."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap.quantity import PATTERNS, amps, parse, volts
from pinmap.text import visible

GOOD = [
    ("2.54 mm", "mm", 2.54),
    ("2.54mm", "mm", 2.54),
    (" 2.54   mm ", "mm", 2.54),
    ("0.1 in", "mm", 2.54),
    ("0.1 inch", "mm", 2.54),
    ("100 mil", "mm", 2.54),
    ("1 cm", "mm", 10.0),
    (".5 m", "mm", 500.0),
    ("2540 µm", "mm", 2.54),  # micro sign
    ("2540 μm", "mm", 2.54),  # Greek letter
    ("2540 um", "mm", 2.54),
    ("-2.54 mm", "mm", -2.54),
    ("1.5 A", "A", 1.5),
    ("100 mA", "A", 0.1),
    ("20 µA", "A", 2e-5),
    ("+5 V", "V", 5.0),
    ("5V", "V", 5.0),
    ("-12 V", "V", -12.0),
    ("−12 V", "V", -12.0),
    ("500 mV", "V", 0.5),
    ("1 kV", "V", 1000.0),
    ("5 %", "%", 5.0),
    ("±5%", "%", 5.0),
    ("0 A", "A", 0.0),
    ("1000000 mm", "mm", 1_000_000.0),
]


@pytest.mark.parametrize(("text", "unit", "value"), GOOD)
def test_a_number_with_its_unit_is_read(text: str, unit: str, value: float) -> None:
    assert parse(text, unit) == pytest.approx(value, abs=1e-12)
    assert re.match(PATTERNS[unit], text.replace("μ", "µ"))


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("2.54", "mm", "a length must carry its unit, like 2.54 mm, not the bare number '2.54'"),
        (" 5 ", "V", "a voltage must carry its unit, like +5 V, not the bare number '5'"),
        ("1", "A", "a current must carry its unit, like 1.5 A, not the bare number '1'"),
        ("5", "%", "a tolerance must carry its unit, like 5 %, not the bare number '5'"),
        ("", "A", "a current must be a number with its unit, like 1.5 A, not ''"),
        ("A", "A", "a current must be a number with its unit, like 1.5 A, not 'A'"),
        ("about 1 A", "A", "a current must be a number with its unit, like 1.5 A, not 'about 1 A'"),
        ("1,5 A", "A", "a current must have a decimal point, like 1.5 A, not a comma: '1,5 A'"),
        ("1.5 V", "A", "a current must be in A, mA, µA or uA, like 1.5 A, not in 'V': '1.5 V'"),
        ("1.5 a", "A", "a current must be in A, mA, µA or uA, like 1.5 A, not in 'a': '1.5 a'"),
        (
            "1e3 mm",
            "mm",
            "a length must be in mm, cm, m, in, inch, mil, µm or um, like 2.54 mm, not in 'e3 mm': '1e3 mm'",
        ),
        ("±5 V", "V", "a voltage must have one sign, not both: '±5 V'"),
        ("1000.1 m", "mm", "a length must be within 1000000 mm, not '1000.1 m'"),
        ("9" * 38 + " A", "A", "a current must be within 1000000 A, not '" + "9" * 38 + " A'"),
        ("9" * 5000 + " A", "A", "a current must be a number with its unit, like 1.5 A, not '" + "9" * 59 + "…'"),
        ("1\u202e A\n", "A", "a current must be in A, mA, µA or uA, like 1.5 A, not in '\\u202e A': '1\\u202e A\\n'"),
        ("1 'A'", "A", "a current must be in A, mA, µA or uA, like 1.5 A, not in \"'A'\": \"1 'A'\""),
        ("1 2 A", "A", "a current must be a number with its unit, like 1.5 A, not '1 2 A'"),
    ],
)
def test_anything_else_is_refused_with_the_rule_and_the_offender(text: str, unit: str, message: str) -> None:
    with pytest.raises(ValueError, match=r"^a ") as caught:
        parse(text, unit)
    assert str(caught.value) == message


@settings(deadline=None, derandomize=True)
@given(
    text=st.one_of(
        st.text(max_size=60),
        st.text(st.sampled_from(list("0123456789.,+-−± mMAVµμuckinlh%")), max_size=20),
        st.from_regex(PATTERNS["A"]),
    ),
    unit=st.sampled_from(list(PATTERNS)),
)
def test_any_text_is_a_bounded_number_or_a_one_line_message(text: str, unit: str) -> None:
    said = ""
    try:
        value = parse(text, unit)
    except ValueError as error:
        said = str(error)
    assert len(said) < 250
    assert visible(said) == said
    if not said:
        assert abs(value) <= 1_000_000
        assert re.match(PATTERNS[unit], text.replace("μ", "µ"))


@pytest.mark.parametrize(
    ("value", "text"),
    [(1.5, "1.5 A"), (1.0, "1 A"), (0.1, "100 mA"), (0.0, "0 A"), (0.02, "20 mA"), (12.345, "12.3 A")],
)
def test_a_current_is_written_as_the_bench_does(value: float, text: str) -> None:
    assert amps(value) == text


@pytest.mark.parametrize(("value", "text"), [(5.0, "+5 V"), (-12.0, "−12 V"), (0.0, "+0 V"), (3.3, "+3.3 V")])
def test_a_voltage_is_written_with_its_sign(value: float, text: str) -> None:
    assert volts(value) == text
