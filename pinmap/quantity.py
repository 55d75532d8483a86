"""Quantities as the user writes them: a number and its unit, never a bare number."""

from __future__ import annotations

import re

from .text import listed, quoted

MAX_LETTERS = 40
MAX_NUMBER = 1_000_000  # in the unit in which the code counts: far beyond any connector, far from overflow
_LARGER = {"Ω": 1e9, "Hz": 1e12}  # units in which larger numbers are usual

_NUMBER = re.compile(r"^\s*([+\-−±]?)\s*(\d+(?:\.\d+)?|\.\d+)\s*([^\d\s].*?)?\s*$")

# Factor from the unit as written to the unit in which the code counts.
_UNITS: dict[str, dict[str, float]] = {
    "mm": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, "mil": 0.0254, "µm": 0.001, "um": 0.001},
    "A": {"A": 1.0, "mA": 0.001, "µA": 1e-6, "uA": 1e-6},
    "V": {"V": 1.0, "mV": 0.001, "kV": 1000.0},
    "%": {"%": 1.0},
    "Ω": {"Ω": 1.0, "ohm": 1.0, "mΩ": 0.001, "kΩ": 1000.0, "MΩ": 1e6, "kohm": 1000.0},
    "F": {"F": 1.0, "µF": 1e-6, "uF": 1e-6, "nF": 1e-9, "pF": 1e-12},
    "Hz": {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6},
    "s": {"s": 1.0, "ms": 1e-3, "µs": 1e-6, "us": 1e-6, "ns": 1e-9},
    "W": {"W": 1.0, "mW": 0.001},
}
_KINDS = {
    "mm": ("a length", "2.54 mm"),
    "A": ("a current", "1.5 A"),
    "V": ("a voltage", "+5 V"),
    "%": ("a tolerance", "5 %"),
    "Ω": ("a resistance", "10 kΩ"),
    "F": ("a capacitance", "100 nF"),
    "Hz": ("a frequency", "4.77 MHz"),
    "s": ("a time", "6 ns"),
    "W": ("a power", "0.6 W"),
}

#: What a length, current … looks like, for the JSON Schemas: a number, then a unit.
PATTERNS = {
    unit: rf"^\s*[+\-−±]?\s*(\d+(\.\d+)?|\.\d+)\s*({'|'.join(sorted(names, key=len, reverse=True))})\s*$"
    for unit, names in _UNITS.items()
}


def parse(text: str, unit: str) -> float:
    """Read a quantity written with its unit and return it counted in `unit` (one of mm, A, V, %, Ω, F, Hz, s, W).

    Raises `ValueError` with the rule and the offender when the number, or the unit, is missing or of another kind.
    """
    kind, example = _KINDS[unit]
    match = _NUMBER.match(text) if len(text) <= MAX_LETTERS else None
    if not match:
        raise ValueError(f"{kind} must be a number with its unit, like {example}, not {quoted(text)}")
    sign, number, written = match.groups()
    if re.match(r",\d", written or ""):
        raise ValueError(f"{kind} must have a decimal point, like {example}, not a comma: {quoted(text)}")
    if not written:
        raise ValueError(f"{kind} must carry its unit, like {example}, not the bare number {quoted(text.strip())}")
    factor = _UNITS[unit].get(written.replace("μ", "µ").replace("\u2126", "Ω"))  # the sign of the unit, and the letter
    if factor is None:
        raise ValueError(
            f"{kind} must be in {listed(_UNITS[unit], 'or')}, like {example}, not in {quoted(written)}: {quoted(text)}"
        )
    if sign == "±" and unit != "%":
        raise ValueError(f"{kind} must have one sign, not both: {quoted(text)}")
    value = (-1.0 if sign in ("-", "−") else 1.0) * float(number) * factor
    most = _LARGER.get(unit, MAX_NUMBER)
    if abs(value) > most:
        raise ValueError(f"{kind} must be within {most:.0f} {unit}, not {quoted(text)}")
    return value


def amps(value: float) -> str:
    """Write a current the way a bench does: 1.5 A, 100 mA."""
    return f"{value:.3g} A" if abs(value) >= 1 or value == 0 else f"{value * 1000:.3g} mA"


def volts(value: float) -> str:
    """Write a voltage with its sign: +5 V, −12 V."""
    return f"{'−' if value < 0 else '+'}{abs(value):g} V"
