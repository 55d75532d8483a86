"""The symbols of a schematic: their pins, and where these lie once a symbol is placed, turned and mirrored."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Literal

from msgspec import Struct

from ..errors import UnreadableError
from ..text import quoted
from .source import Branch
from .wires import At, key


class Pin(Struct, frozen=True):
    """A pin: `unit` and `style` 0 belong to every one; `x` and `y` in mm, y upwards."""

    number: str
    name: str
    kind: str
    x: float
    y: float
    unit: int
    style: int
    hidden: bool


class Symbol(Struct, frozen=True):
    """A symbol of the library in the file; `power`: it names a supply, everywhere or on its own sheet."""

    pins: tuple[Pin, ...]
    power: Literal["", "global", "local"] = ""


_PART_NAME = re.compile(r"_(\d{1,4})_(\d{1,4})$")


def library(root: Branch) -> dict[str, Symbol]:
    """The symbols that a schematic carries, by name."""
    held = root.first("lib_symbols")
    branches = {branch.text(): branch for branch in (held.all("symbol") if held else ())}
    return {name: _symbol(branch, branches) for name, branch in branches.items()}


def _symbol(branch: Branch, branches: dict[str, Branch]) -> Symbol:
    drawn, seen = branch, {branch.text()}
    while drawn.first("extends"):
        base = drawn.text("extends")
        found = branches.get(base) or next((b for name, b in branches.items() if name.endswith(f":{base}")), None)
        if found is None or found.text() in seen:
            raise UnreadableError(f"a symbol must extend another of the file, not {quoted(base)}", place=drawn.place)
        drawn = found
        seen.add(drawn.text())
    pins = []
    for part in drawn.all("symbol"):
        match = _PART_NAME.search(part.text())
        unit, style = (int(match[1]), int(match[2])) if match else (0, 0)
        for pin in part.all("pin"):
            x, y, *_ = pin.numbers("at", 2)
            hidden = "hide" in pin.texts or pin.text("hide") == "yes"
            name = pin.text("name")
            kind = next(iter(pin.texts), "")
            pins.append(Pin(pin.text("number"), "" if name == "~" else name, kind, x, y, unit, style, hidden))
    power = drawn.first("power") or branch.first("power")
    return Symbol(tuple(pins), ("local" if power.text() == "local" else "global") if power else "")


def placed(symbol: Symbol, branch: Branch, unit: int, style: int) -> Iterator[tuple[Pin, At]]:
    """The pins of one unit of a symbol, and where they lie on the sheet.

    On the sheet y runs downwards. A symbol is turned against the clock first, then mirrored as it lies there:
    (mirror x) turns it upside down, (mirror y) swaps left and right. From memory.
    """
    x0, y0, *turn = branch.numbers("at", 2)
    angle = turn[0] if turn else 0.0
    if angle % 90:
        raise UnreadableError(f"a symbol must be turned by 0, 90, 180 or 270°, not {angle:g}°", place=branch.place)
    mirror = branch.first("mirror")
    flips = mirror.texts if mirror else []
    for pin in symbol.pins:
        if pin.unit not in (0, unit) or pin.style not in (0, style):
            continue
        x, y = pin.x, -pin.y
        for _ in range(int(angle // 90) % 4):
            x, y = y, -x
        if "x" in flips:
            y = -y
        if "y" in flips:
            x = -x
        yield pin, key(x0 + x, y0 + y)
