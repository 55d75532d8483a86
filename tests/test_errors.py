"""Errors: what stopped the work, where, and what to do, in one line each."""

from __future__ import annotations

import pytest

from pinmap.errors import (
    NOWHERE,
    NotFoundError,
    OutputError,
    PinmapError,
    Place,
    SeveralErrors,
    UnreadableError,
    raise_all,
)

AT = Place("m.yaml", 3, 5)


@pytest.mark.parametrize(
    ("error", "text"),
    [
        (PinmapError("a rule is broken"), "a rule is broken"),
        (PinmapError("a rule is broken", "Mend it"), "a rule is broken. Mend it"),
        (UnreadableError("a rule is broken", place=AT), "m.yaml:3:5: a rule is broken"),
        (OutputError("a rule is broken", "Mend it", Place("m.yaml")), "m.yaml: a rule is broken. Mend it"),
        (NotFoundError("a rule is broken", "Mend it", NOWHERE), "a rule is broken. Mend it"),
    ],
)
def test_an_error_says_where_what_and_what_to_do(error: PinmapError, text: str) -> None:
    assert str(error) == text
    assert error.exit_code == 2
    assert isinstance(error, ValueError)


def test_places_are_in_the_order_of_the_file() -> None:
    places = [Place("b", 1, 1), Place("a", 10, 1), Place("a", 2, 7), Place("a", 2, 1), Place("a")]
    assert [str(p) for p in sorted(places)] == ["a", "a:2:1", "a:2:7", "a:10:1", "b:1:1"]


def test_one_error_is_raised_as_it_is_and_several_together() -> None:
    one, other = UnreadableError("one", "Mend it", AT), NotFoundError("other")
    raise_all([])
    with pytest.raises(UnreadableError) as alone:
        raise_all([one])
    assert alone.value is one
    with pytest.raises(SeveralErrors) as both:
        raise_all([one, other])
    assert str(both.value) == "m.yaml:3:5: one. Mend it\nother"
    assert both.value.errors == [one, other]
    assert (both.value.message, both.value.advice, both.value.place) == ("one", "Mend it", AT)
