"""Texts of the silk as lines: every letter is drawn with a pen.

The letters are those of the stroke font inside the package gerbonara ("Newstroke", some 65 000 characters). Nothing of
it is copied into this package; it is read at run time. Its file bears the GNU General Public License 2 or later, with
parts under the MIT licence and the SIL Open Font License 1.1; that its author gave the Latin letters to the public
(CC0) is from memory.

A character that the font lacks is drawn as its number, like [U+1F600].
"""

from __future__ import annotations

import unicodedata
from functools import cache

from ..text import visible
from .layout import Point, Text

#: The font's own unit: capitals are 21 high, their feet 1 above its base line's zero.
_CAPITAL = 21
_MIDDLE = -11.5  # of a capital letter, y downwards
#: Common practice, no source: a pen of 15 % of the height, and no line under 0.12 mm, which a fab may leave out.
_PEN_PERCENT = 15
_PEN_LEAST_UM = 120

_UNASSIGNED = 0x378
_Glyph = tuple[int, tuple[tuple[Point, ...], ...]]


def pen_um(height_um: int) -> int:
    """Return the width of the lines of letters whose capitals are `height_um` high."""
    return max(_PEN_LEAST_UM, height_um * _PEN_PERCENT // 100)


def strokes(text: Text) -> tuple[tuple[Point, ...], ...]:
    """Return the lines of a text, each as points in µm on the board; one of a single point is a dot.

    The middle of the drawn width, and of the height of a capital, comes to lie at the text's point. A text on the back
    is mirrored, so that it reads from the back; then it is turned by `angle`, a multiple of 90, against the clock as
    seen from the front. Raises `ValueError` for another angle.
    """
    if text.angle % 90:
        raise ValueError(f"a text's angle must be a multiple of 90, not {text.angle}")
    lines = _written(text.text)
    xs = [x for line in lines for x, _ in line]
    if not xs:
        return ()
    middle = (min(xs) + max(xs)) / 2
    scale = text.height_um / _CAPITAL
    across = -scale if text.layer == "back" else scale
    cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[text.angle // 90 % 4]

    def put(point: Point) -> Point:
        x, y = (point[0] - middle) * across, (point[1] - _MIDDLE) * scale
        return text.x_um + round(x * cos + y * sin), text.y_um + round(y * cos - x * sin)

    return tuple(tuple(put(point) for point in line) for line in lines)


def extent(text: Text) -> tuple[int, int, int, int]:
    """Return left, top, right and bottom of what is drawn, the pen's width included; a bare point for an empty text."""
    points = [point for line in strokes(text) for point in line]
    if not points:
        return text.x_um, text.y_um, text.x_um, text.y_um
    half = (pen_um(text.height_um) + 1) // 2
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half


def _written(text: str) -> list[tuple[Point, ...]]:
    """The lines of a text in the font's units, its pen starting at 0."""
    lines: list[tuple[Point, ...]] = []
    at = 0
    for char in unicodedata.normalize("NFC", visible(text)):
        for each in char if _glyph(char) else f"[U+{ord(char):04X}]":
            width, drawn = _glyph(each) or (0, ())
            lines += [tuple((at + x, y) for x, y in line) for line in drawn]
            at += width
    return lines


@cache
def _glyph(char: str) -> _Glyph | None:
    """How wide a character is and its lines, in the font's units; None where the font has it not."""
    table = _table()
    place = ord(char) - 0x20
    if not 0 <= place < len(table):
        return None
    code = table[place]
    # The box that stands for "nothing here" is what the font has for a number that is no character.
    return None if code == table[_UNASSIGNED - 0x20] else _decoded(code)


def _decoded(code: bytes) -> _Glyph:
    """Read one entry: pairs of letters, their distance from R the coordinates; a space and R lift the pen."""
    left, right = code[0] - ord("R"), code[1] - ord("R")
    lines = tuple(
        tuple((line[i] - ord("R") - left, line[i + 1] - ord("R") - 10) for i in range(0, len(line) - 1, 2))
        for line in code[2:].split(b" R")
    )
    return right - left, tuple(line for line in lines if line)


@cache
def _table() -> tuple[bytes, ...]:
    """All entries of the font, by character from the space (U+0020) on."""
    from importlib.resources import files  # with gerbonara a tenth of a second, which only a board needs

    raw = (files("gerbonara") / "data" / "newstroke_font.cpp").read_bytes()
    body = raw[raw.index(b"[] =") :]
    return tuple(line.split(b'"')[1].replace(b"\\\\", b"\\") for line in body.splitlines() if b'"' in line)
