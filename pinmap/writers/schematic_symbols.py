"""The symbols of a schematic, all drawn here: boxes with pins, parts of two poles as is trade practice, rails.

A symbol is drawn as it lies on the sheet, around its anchor: µm, x to the right and y downwards. Pins end on the grid.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from msgspec import Struct

from ..text import visible

#: The grid on which pins and wires meet, 0.05 inch, and the distance of two pins, µm.
GRID = 1270
ROW = 3 * GRID
#: Height of a letter, µm.
LETTER = 1524
#: The wire between a pin and the name of its net, µm.
STUB = 2 * GRID

Side = Literal["left", "right"]
XY = tuple[int, int]


class Placed(Struct, frozen=True):
    """A pin of a symbol: its wire meets it at `at` and goes out to one side.

    `feeds`: it counts as the source of a rail; `takes`: it is the end of one.
    """

    number: str
    name: str
    at: XY
    side: Side
    length: int = ROW
    feeds: bool = False
    inverted: bool = False
    takes: bool = False


class Line(Struct, frozen=True):
    """A line through some points; `filled` with the colour of a symbol's inside, or black."""

    points: tuple[XY, ...]
    filled: Literal["none", "background", "outline"] = "none"
    width: int = 254


class Dot(Struct, frozen=True):
    """A circle."""

    at: XY
    radius: int


class Word(Struct, frozen=True):
    """A word of the drawing, centred at a place."""

    text: str
    at: XY


class Symbol(Struct, frozen=True):
    """A symbol by units: its pins and its drawing.

    `top` and `bottoms` bound the body of each unit with the numbers at its pins, `half` is half the width of the body.
    `power`: it is no part but names a rail. `names` and `numbers`: whether those of its pins are shown.
    """

    name: str
    letter: str
    pins: tuple[tuple[Placed, ...], ...]
    drawing: tuple[tuple[Line | Dot | Word, ...], ...]
    top: int
    bottoms: tuple[int, ...]
    half: int
    names: bool = False
    numbers: bool = True
    power: bool = False


# ---------------------------------------------------------------------- widths

_NARROW = frozenset(" !',.:;Iijlrft()[]{}|^`\"")
_WIDE = frozenset("mMW@%&+-<=>")


def width(text: str, letter: int = LETTER) -> int:
    """Return the most that a text takes in the stroke font of such drawings, letters `letter` high, in µm. From memory.

    Letters whose width is not known here count as the widest sign of that font.
    """
    thousandths = 0
    for sign in text:
        if sign in _NARROW:
            thousandths += 820
        elif sign in _WIDE:
            thousandths += 1350
        elif sign.isascii():
            thousandths += 1110
        elif sign < "\u0180" or sign in "Ωµμ−–—…×→≤≥":
            thousandths += 1750
        else:
            thousandths += 2800
    return thousandths * letter // 1000 + 300  # and the pen


def cut(text: str, room: int, letter: int = LETTER) -> str:
    """Return `text` as it is shown, cut with an ellipsis where it takes more than `room` µm."""
    shown = visible(text)
    if width(shown, letter) <= room:
        return shown
    while shown and width(shown + "…", letter) > room:
        shown = shown[: -max(1, len(shown) // 40)]
    return shown.rstrip() + "…"


def on_grid(length: int, step: int = GRID) -> int:
    """Return the next multiple of the grid that is no less than `length`."""
    return -(-length // step) * step


# ---------------------------------------------------------------------- boxes

Row = tuple["Pin | None", "Pin | None"]


class Pin(Struct, frozen=True):
    """A pin of a box before it has a place."""

    number: str
    name: str
    feeds: bool = False
    inverted: bool = False


def box(
    name: str,
    letter: str,
    units: Sequence[Sequence[Row]],
    heading: str = "",
    more: Iterable[Line | Word] = (),
    least: int = 0,
) -> Symbol:
    """A box with pins on the left and on the right, a row of the sheet each, from its anchor at the first row down.

    A `heading` stands in the box above the first row. `more` is drawn in the box beside, `least` its least half width.
    """
    pins0 = [pin for rows in units for row in rows for pin in row if pin]
    across = max((sum(width(pin.name) for pin in row if pin) for rows in units for row in rows), default=0)
    half = max(3 * GRID, least, on_grid((across + 3000) // 2), on_grid((width(heading) + 1500) // 2))
    length = _length(pins0)
    top = -2 * ROW if heading else -ROW
    pins, drawing, bottoms = [], [], []
    for rows in units:
        bottoms.append(len(rows) * ROW)
        pins.append(
            tuple(
                Placed(
                    pin.number,
                    pin.name,
                    ((half + length) * (1 if side == "right" else -1), index * ROW),
                    side,
                    length,
                    pin.feeds,
                    pin.inverted,
                )
                for index, row in enumerate(rows)
                for side, pin in zip(_SIDES, row, strict=True)
                if pin
            )
        )
        lines: list[Line | Dot | Word] = [_rectangle(-half, top, half, bottoms[-1], "background")]
        if heading:
            lines.append(Word(heading, (0, -ROW)))
        drawing.append((*lines, *more))
    return Symbol(name, letter, tuple(pins), tuple(drawing), top, tuple(bottoms), half, names=True)


_SIDES: tuple[Side, Side] = ("left", "right")


def _length(pins: Iterable[Pin]) -> int:
    """How long pins must be for their numbers to keep clear of a sign at the end."""
    return max(ROW, on_grid(max((width(pin.number) for pin in pins), default=0) + 1400))


def _rectangle(x1: int, y1: int, x2: int, y2: int, filled: Literal["none", "background", "outline"] = "none") -> Line:
    return Line(((x1, y1), (x2, y1), (x2, y2), (x1, y2), (x1, y1)), filled)


# ---------------------------------------------------------------------- two poles

#: Half the way from pin to pin, and from the anchor to where its body begins.
_REACH, _BODY = 5 * GRID, 2 * GRID


def _two(name: str, letter: str, left: Pin, right: Pin, body: Sequence[Line | Dot | Word], gap: int = 0) -> Symbol:
    length = _REACH - (gap or _BODY)
    pins = (
        Placed(left.number, left.name, (-_REACH, 0), "left", length, left.feeds),
        Placed(right.number, right.name, (_REACH, 0), "right", length, right.feeds),
    )
    return Symbol(name, letter, (pins,), (tuple(body),), -2 * GRID, (GRID,), _BODY)


def resistor(left: Pin, right: Pin) -> Symbol:
    """A resistor, or a link that sits where one would: a rectangle."""
    return _two("resistor", "R", left, right, [_rectangle(-_BODY, -1016, _BODY, 1016)])


def fuse(left: Pin, right: Pin) -> Symbol:
    """A fuse: a rectangle with the conductor through it."""
    return _two(
        "fuse", "F", left, right, [_rectangle(-_BODY, -1016, _BODY, 1016), Line(((-_BODY, 0), (_BODY, 0)), width=150)]
    )


def capacitor(left: Pin, right: Pin, polarised: bool) -> Symbol:
    """A capacitor: two plates; of an electrolytic one the left plate is hollow and marked as plus."""
    plate = _rectangle(254, -1270, 762, 1270, "outline")
    if not polarised:
        return _two("capacitor", "C", left, right, [_rectangle(-762, -1270, -254, 1270, "outline"), plate], gap=762)
    plus = [Line(((-2286, 1016), (-1270, 1016)), width=150), Line(((-1778, 508), (-1778, 1524)), width=150)]
    return _two("capacitor-polarised", "C", left, right, [_rectangle(-762, -1270, -254, 1270), plate, *plus], gap=762)


def jumper(rows: Sequence[tuple[Pin, Pin]]) -> Symbol:
    """Pins in two rows; the jumper that is set as planned is drawn at the first two."""
    bottom = len(rows) * ROW - GRID
    length = _length(pin for row in rows for pin in row)
    drawing: list[Line | Dot | Word] = [_rectangle(-_BODY, -GRID, _BODY, bottom, "background")]
    pins = []
    for index, (left, right) in enumerate(rows):
        y = index * ROW
        drawing += [Dot((-1524, y), 500), Dot((1524, y), 500)]
        drawing += [Line(((sign * _BODY, y), (sign * 2024, y)), width=150) for sign in (-1, 1)]
        pins += [
            Placed(left.number, left.name, (-_BODY - length, y), "left", length),
            Placed(right.number, right.name, (_BODY + length, y), "right", length),
        ]
    drawing.append(Line(((-1024, 0), (1024, 0)), width=500))
    return Symbol("jumper", "JP", (tuple(pins),), (tuple(drawing),), -2 * GRID, (bottom,), _BODY)


# ---------------------------------------------------------------------- rails

#: How far the sign of a rail reaches before its name begins.
SUPPLY_REACH, RETURN_REACH = 1900, 3100


def rail(name: str, group: str, side: Side) -> Symbol:
    """The end of a wire at a rail: a bar for a supply, three that get shorter for a return."""
    sign = 1 if side == "right" else -1
    bars = ((1270, 1016), (1905, 635), (2540, 254)) if group == "return" else ((1270, 1016),)
    lines = [Line(((0, 0), (sign * 1270, 0)), width=150)]
    lines += [Line(((sign * x, -y), (sign * x, y)), width=300) for x, y in bars]
    pin = Placed("1", name, (0, 0), "left" if sign > 0 else "right", 0, takes=True)
    return Symbol(f"{group}-{side}", "#PWR", ((pin,),), (tuple(lines),), 0, (0,), 0, numbers=False, power=True)
