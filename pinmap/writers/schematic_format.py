"""The format of a schematic: symbols, fields and identities as a file of version 20231120 has them. From memory."""

from __future__ import annotations

import uuid
from collections.abc import Iterator

from ..text import visible
from .netlist_child import _IDENTITY
from .schematic_symbols import LETTER, XY, Dot, Line, Side, Symbol, Word

VERSION = 20231120


def library(symbol: Symbol, name: str) -> Iterator[str]:
    """A symbol as the file carries it; there y runs upwards."""
    yield f"    (symbol {string('pinmap:' + name)}"
    if symbol.power:
        yield "      (power)"
    if not symbol.numbers:
        yield "      (pin_numbers hide)"
    yield f"      (pin_names (offset 0.508){'' if symbol.names else ' hide'})"
    part = "no" if symbol.power else "yes"
    yield f"      (exclude_from_sim no) (in_bom {part}) (on_board {part})"
    value = symbol.pins[0][0].name if symbol.power else name
    for key, words, hidden in (
        ("Reference", symbol.letter, symbol.power),
        ("Value", value, False),
        ("Footprint", "", True),
        ("Datasheet", "", True),
    ):
        yield "  " + prop(key, words, (0, 0), "", hidden=hidden)
    for unit, (pins, drawing) in enumerate(zip(symbol.pins, symbol.drawing, strict=True), 1):
        yield f"      (symbol {string(f'{name}_{unit}_1')}"
        for shape in drawing:
            yield f"        {_shape(shape)}"
        for pin in pins:
            kind = "power_in" if pin.takes else "power_out" if pin.feeds else "passive"
            angle = 0 if pin.side == "left" else 180
            yield (
                f"        (pin {kind} {'inverted' if pin.inverted else 'line'} (at {_up(pin.at)} {angle})"
                f" (length {mm(pin.length)})"
            )
            yield f"          (name {string(pin.name or '~')} {effects()}) (number {string(pin.number)} {effects()}))"
        yield "      )"
    yield "    )"


def _shape(shape: Line | Dot | Word) -> str:
    if isinstance(shape, Word):
        return f"(text {string(shape.text)} (at {_up(shape.at)} 0) {effects()})"
    stroke = f"(stroke (width {mm(shape.width if isinstance(shape, Line) else 150)}) (type default))"
    if isinstance(shape, Dot):
        return f"(circle (center {_up(shape.at)}) (radius {mm(shape.radius)}) {stroke} (fill (type none)))"
    points = " ".join(f"(xy {_up(point)})" for point in shape.points)
    return f"(polyline (pts {points}) {stroke} (fill (type {shape.filled})))"


def prop(name: str, value: str, at: XY, justify: Side | str, *, hidden: bool = False) -> str:
    """Return a field of a symbol, its middle at the height of `at`."""
    return f"    (property {string(name)} {string(value)} (at {coords(at)} 0) {effects(justify, hidden=hidden)})"


def effects(justify: str = "", letter: int = LETTER, *, hidden: bool = False) -> str:
    """Return how a text is set: `justify` says at which of its ends or edges it is held, `letter` how high it is."""
    size = mm(letter)
    placed = f" (justify {justify.strip()})" if justify.strip() else ""
    return f"(effects (font (size {size} {size})){placed}{' (hide yes)' if hidden else ''})"


def uuid_of(what: str) -> str:
    """An identity that comes from what a thing is for; a part's is that of the netlist, so that a board keeps it."""
    return str(uuid.uuid5(_IDENTITY, what))


def mm(um: int) -> str:
    """Return a length in mm as the file has it, exact to the µm."""
    return f"{um / 1000:.3f}".rstrip("0").rstrip(".")


def coords(at: XY) -> str:
    """Return a point of the sheet."""
    return f"{mm(at[0])} {mm(at[1])}"


def _up(at: XY) -> str:
    return coords((at[0], -at[1]))


def string(words: str) -> str:
    """Return a text in quotes; what would do something to the page shows as an escape."""
    return '"' + visible(words).replace("\\", "\\\\").replace('"', '\\"') + '"'
