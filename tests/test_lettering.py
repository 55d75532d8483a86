from __future__ import annotations

from collections.abc import Callable

import pytest
from gerbonara.newstroke import Newstroke
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap.board.layout import Layer, Text
from pinmap.board.lettering import extent, pen_um, strokes

ANYWHERE = st.integers(-200_000, 200_000)
LAYERS = st.sampled_from(("front", "back"))


def points(text: Text) -> list[tuple[int, int]]:
    return [point for line in strokes(text) for point in line]


@pytest.mark.parametrize(("height", "pen"), [(600, 120), (800, 120), (1000, 150), (1200, 180), (3000, 450)])
def test_the_pen_grows_with_the_letters_and_never_gets_too_fine_to_print(height: int, pen: int) -> None:
    assert pen_um(height) == pen


def test_capitals_are_as_high_as_asked_from_middle_line_to_middle_line() -> None:
    assert extent(Text("front", "H", 5000, 8000, 1000)) == (5000 - 286 - 75, 7425, 5000 + 286 + 75, 8575)


def test_a_text_lies_with_its_middle_on_its_point() -> None:
    left, top, right, bottom = extent(Text("front", "HIH", 10_000, 20_000, 2000))
    assert (left + right, top + bottom) == (20_000, 40_000)
    assert right - left > 2 * 2000


def test_letters_stand_as_far_apart_as_the_font_has_it() -> None:
    one, two = (extent(Text("front", text, 0, 0, 2100)) for text in ("H", "HH"))
    width, _ = Newstroke.load().glyphs["H"]
    assert (two[2] - two[0]) - (one[2] - one[0]) == round(width * 2100)


def test_letters_that_reach_lower_leave_the_others_on_their_line() -> None:
    plain, low = strokes(Text("front", "H", 0, 0)), strokes(Text("front", "Hg", 0, 0))
    assert {y for line in plain for _, y in line} == {y for line in low[: len(plain)] for _, y in line}
    assert max(y for line in low for _, y in line) > 500


@pytest.mark.parametrize(
    ("angle", "turned"),
    [
        (0, lambda x, y: (x, y)),
        (90, lambda x, y: (y, -x)),
        (180, lambda x, y: (-x, -y)),
        (270, lambda x, y: (-y, x)),
        (360, lambda x, y: (x, y)),
    ],
)
@pytest.mark.parametrize("layer", ["front", "back"])
def test_an_angle_turns_against_the_clock_as_seen_from_the_front(
    angle: int, turned: Callable[[int, int], tuple[int, int]], layer: Layer
) -> None:
    straight = points(Text(layer, "F1", 0, 0, 2100))
    assert points(Text(layer, "F1", 700, -300, 2100, angle)) == [
        (x + 700, y - 300) for x, y in (turned(*point) for point in straight)
    ]


def test_an_upright_text_on_the_front_reads_upwards() -> None:
    top = [min(y for _, y in line) for line in strokes(Text("front", "I.", 0, 0, 1000, 90))]
    assert top[0] > top[-1]  # the letter I comes first, further down


def test_a_text_on_the_back_is_the_mirror_image() -> None:
    assert points(Text("back", "R1", 4000, 50, 2100)) == [
        (8000 - x, y) for x, y in points(Text("front", "R1", 4000, 50, 2100))
    ]


@pytest.mark.parametrize(
    ("text", "drawn"),
    [
        ("\U0001f600", "[U+1F600]"),
        ("A\u0639B", "A[U+0639]B"),
        ("a\nb", "a\\nb"),
        ("\u202eGND", "\\u202eGND"),
        ("e\u0301", "\u00e9"),
    ],
)
def test_what_cannot_be_drawn_is_drawn_as_its_number(text: str, drawn: str) -> None:
    assert strokes(Text("front", text, 0, 0)) == strokes(Text("front", drawn, 0, 0))
    assert strokes(Text("front", text, 0, 0)) != ()


@pytest.mark.parametrize("char", ["Ω", "µ", "−", "±", "°", "×", "ä", "é", "Ł", "Д", "中", "–", "…"])
def test_the_font_has_what_titles_hold(char: str) -> None:
    assert strokes(Text("front", char, 0, 0)) != strokes(Text("front", f"[U+{ord(char):04X}]", 0, 0))


def test_every_letter_is_as_the_package_itself_reads_it() -> None:
    ours = {}
    theirs = {}
    for char, (_, lines) in Newstroke.load().glyphs.items():
        if "!" <= char <= "~" or "\u00ae" <= char <= "\u017f":
            drawn = strokes(Text("front", char, 0, 0, 2100))
            ours[char] = [[(x - drawn[0][0][0], y - drawn[0][0][1]) for x, y in line] for line in drawn]
            origin = next(line[0] for line in lines if line)
            theirs[char] = [
                [(round((x - origin[0]) * 2100), round((y - origin[1]) * 2100)) for x, y in line]
                for line in lines
                if line
            ]
    assert len(ours) > 300
    assert all(
        abs(a - b) <= 1
        for char, lines in ours.items()
        for line, other in zip(lines, theirs[char], strict=True)
        for point, its in zip(line, other, strict=True)
        for a, b in zip(point, its, strict=True)
    )


@pytest.mark.parametrize("text", ["", " ", "\u00a0"])
def test_a_text_without_ink_has_no_lines_and_takes_no_room(text: str) -> None:
    assert strokes(Text("back", text, 7, 9)) == ()
    assert extent(Text("back", text, 7, 9)) == (7, 9, 7, 9)


@pytest.mark.parametrize("angle", [45, -1, 91])
def test_a_slanting_text_is_refused(angle: int) -> None:
    with pytest.raises(ValueError, match=f"a text's angle must be a multiple of 90, not {angle}"):
        strokes(Text("front", "x", 0, 0, 1000, angle))


@settings(deadline=None, max_examples=60)
@given(
    st.builds(
        Text,
        LAYERS,
        st.text(max_size=12),
        ANYWHERE,
        ANYWHERE,
        st.integers(500, 5000),
        st.sampled_from((0, 90, 180, 270)),
    )
)
def test_any_text_keeps_within_its_extent(text: Text) -> None:
    left, top, right, bottom = extent(text)
    half = pen_um(text.height_um) / 2
    for x, y in points(text):
        assert left <= x - half
        assert x + half <= right
        assert top <= y - half
        assert y + half <= bottom
