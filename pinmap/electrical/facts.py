"""Electrical facts, as values with their sources: `connectors/electrical.yaml`, read."""

from __future__ import annotations

import math
import re
import threading
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from msgspec import Struct, UnsetType

from .. import quantity, yamltree
from ..dictionaries import DictionaryError
from ..findings import ordered
from ..formats_adapter import ElectricalFile, WireFile
from ..library import shipped
from ..shape import Shape
from ..text import listed, quoted, short

#: What the citation of a figure says that was not seen in print.
FROM_MEMORY = "from memory"
#: What a plain number may carry besides a unit of `quantity`: nothing, or a unit in which only constants are counted.
_PLAIN = re.compile(r"(\d{1,9}(?:\.\d{1,9})?)(?: ?(/K|K|°C))?")
_GAUGE = re.compile(r"\s*(\d{1,2})\s*AWG\s*")
#: Beyond these nothing is the size of anything here, and powers of it leave what a float can hold.
TINY, HUGE = 1e-12, 1e12
_lock = threading.Lock()


class Fact(Struct, frozen=True):
    """One constant: `value` counted in `unit`, `written` as the file has it, `source` a full citation.

    `unit` is the one in which `quantity` counts (V, A, Ω, s, Hz, F, W, %, and mm for a length), or K, /K, °C, or "" for
    a plain number: a factor, a count, an exponent.
    """

    value: float
    written: str
    source: str
    unit: str = ""

    @property
    def from_memory(self) -> bool:
        """Whether the figure was not seen in print: its citation says so."""
        return FROM_MEMORY in self.source


class Wire(Struct, frozen=True):
    """One size of wire: the bare conductor's diameter in mm, its resistance at 20 °C in Ω per m, and what it carries.

    `carries_a`: a single wire in free air, in A; None where no figure is widely printed. `ribbon`: whether ribbons are
    usual in this size (common practice, no source).
    """

    awg: int
    diameter_mm: float
    ohm_per_m: float
    carries_a: float | None = None
    ribbon: bool = False


class Facts(Struct, frozen=True):
    """All that `electrical.yaml` says. `kinds`: kind of card → rail → what such a card draws, in A."""

    constants: Mapping[str, Fact]
    wires: Mapping[int, Wire]
    wires_source: str
    carries_source: str
    kinds: Mapping[str, Mapping[str, float]]
    kinds_source: str

    def value(self, name: str) -> float:
        """Return a constant, counted in its base unit (see `Fact`). Raises `KeyError` with the name."""
        return self.constants[name].value

    def source(self, name: str) -> str:
        """Return the full citation of a constant. Raises `KeyError` with the name."""
        return self.constants[name].source

    def from_memory(self) -> tuple[str, ...]:
        """What was not seen in print: names of constants in the order of the file, then wires and cards in words."""
        others = {"what a single wire carries": self.carries_source, "what a kind of card draws": self.kinds_source}
        return (
            *(name for name, fact in self.constants.items() if fact.from_memory),
            *(what for what, source in others.items() if FROM_MEMORY in source),
        )


def facts() -> Facts:
    """Return the electrical facts that pinmap brings. Raises what `read_facts` raises."""
    with _lock:
        return _facts()


@cache
def _facts() -> Facts:
    path = shipped() / "electrical.yaml"
    return read_facts(path, path.name)


def read_facts(path: Path, shown: str) -> Facts:
    """Read a file of electrical facts. Raises `UnreadableError`, or `DictionaryError` with every complaint."""
    shape = Shape()
    raw = shape.struct(yamltree.load(path, shown), ElectricalFile)
    made = _made(raw, shape) if raw else None
    if made is None or shape.complaints:
        raise DictionaryError(ordered(shape.complaints))
    return made


def _made(raw: ElectricalFile, shape: Shape) -> Facts:
    def cite(key: str, *at: str) -> str:
        if key not in raw.sources:
            shape.complain(
                "value-shape",
                f"a source must be one of {listed(raw.sources, 'or')}, not {quoted(key)}",
                shape.nearest(key, raw.sources),
                at=shape.values[at],
            )
        return raw.sources.get(key, key)

    constants = {}
    for name, given in raw.facts.items():
        at = ("facts", name)
        source = cite(given.source, *at, "source")
        try:
            value, unit = measured(given.value)
        except ValueError as error:
            shape.complain("value-shape", f"{short(name, 40)}: {error}", at=shape.values[(*at, "value")])
            continue
        constants[name] = Fact(value, given.value, source, unit)
    wires: dict[int, Wire] = {}
    for size, wire in raw.wires.items():
        match = _GAUGE.fullmatch(size)
        at = ("wires", size)
        if not match:
            shape.complain("value-shape", f"a wire size must be like 28 AWG, not {quoted(size)}", at=shape.keys[at])
        elif int(match[1]) in wires:
            shape.complain("key-twice", f"{int(match[1])} AWG must stand once", at=shape.keys[at])
        else:
            wires[int(match[1])] = _wire(int(match[1]), wire, shape, at)
    kinds = {
        kind: {rail: _positive(text, "A", shape, ("kinds", kind, "draws", rail)) for rail, text in draw.draws.items()}
        for kind, draw in raw.kinds.items()
    }
    return Facts(
        constants=constants,
        wires=dict(sorted(wires.items())),
        wires_source=cite(raw.wires_source, "wires source"),
        carries_source=cite(raw.carries_source, "carries source"),
        kinds=kinds,
        kinds_source=cite(raw.kinds_source, "kinds source"),
    )


def _wire(awg: int, wire: WireFile, shape: Shape, at: tuple[str, str]) -> Wire:
    carries = wire.carries
    return Wire(
        awg=awg,
        diameter_mm=_positive(wire.diameter, "mm", shape, (*at, "diameter")),
        ohm_per_m=_positive(wire.per_km, "Ω", shape, (*at, "per km")) / 1000,
        carries_a=None if isinstance(carries, UnsetType) else _positive(carries, "A", shape, (*at, "carries")),
        ribbon=wire.ribbon == "yes",
    )


def _positive(text: str, unit: str, shape: Shape, at: tuple[str, ...]) -> float:
    """Return the quantity at a path; complain where it is not more than nothing (its form has been looked at)."""
    value = quantity.parse(text, unit)
    if value <= 0:
        shape.complain(
            "value-shape", f"{' › '.join(at)} must be more than 0 {unit}, not {quoted(text)}", at=shape.values[at]
        )
    return value


def measured(text: str) -> tuple[float, str]:
    """Take a constant as written apart: its value, and the unit in which that is counted (see `Fact`).

    Raises `ValueError` with the rule for anything else, and for a negative one: constants here are magnitudes.
    """
    plain = _PLAIN.fullmatch(text.strip())
    if plain:
        return float(plain[1]), plain[2] or ""
    for unit, pattern in quantity.PATTERNS.items():
        if re.match(pattern, text):
            value = quantity.parse(text, unit)
            if value < 0:
                raise ValueError(f"a constant must be 0 {unit} or more, not {quoted(text)}")
            return value, unit
    units = listed([*quantity.PATTERNS, "K", "/K", "°C"], "or")
    raise ValueError(f"a constant must be a number, alone or with a unit such as {units}, not {quoted(text)}")


def magnitude(value: float, what: str, unit: str, *, zero: bool = False) -> float:
    """Return `value` if it can be the size of something; `what` and `unit` name it. `zero`: nothing is allowed too.

    Raises `ValueError` with the rule and the offender, for what is not within `TINY` and `HUGE` too.
    """
    counted = f" {unit}" if unit else ""
    if not math.isfinite(value):
        raise ValueError(f"{what} must be a number, not {value}")
    if value < 0 or (value == 0 and not zero):
        least = f"0{counted} or more" if zero else f"more than 0{counted}"
        raise ValueError(f"{what} must be {least}, not {value:g}{counted}")
    if value > HUGE or (value < TINY and not zero):
        raise ValueError(f"{what} must be from {TINY:g} to {HUGE:g}{counted}, not {value:g}{counted}")
    return value
