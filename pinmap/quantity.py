"""Quantities as the user writes them: a number and its unit, never a bare number."""

from __future__ import annotations

import re

_NUMBER = re.compile(r"^\s*([+\-−±]?)\s*(\d+(?:\.\d+)?|\.\d+)\s*([^\d\s].*?)?\s*$")

# Factor from the unit as written to the unit in which the code counts.
_UNITS: dict[str, dict[str, float]] = {
    "mm": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, "mil": 0.0254, "µm": 0.001, "um": 0.001},
    "A": {"A": 1.0, "mA": 0.001, "µA": 1e-6, "uA": 1e-6},
    "V": {"V": 1.0, "mV": 0.001, "kV": 1000.0},
    "%": {"%": 1.0},
}
_KINDS = {
    "mm": ("a length", "2.54 mm"),
    "A": ("a current", "1.5 A"),
    "V": ("a voltage", "+5 V"),
    "%": ("a tolerance", "5 %"),
}

#: What a length, current … looks like, for the JSON Schemas: a number, then a unit.
PATTERNS = {
    unit: rf"^\s*[+\-−±]?\s*(\d+(\.\d+)?|\.\d+)\s*({'|'.join(sorted(names, key=len, reverse=True))})\s*$"
    for unit, names in _UNITS.items()
}


def parse(text: str, unit: str) -> float:
    """Read a quantity written with its unit and return it counted in `unit` (one of mm, A, V, %).

    Raises `ValueError` with the rule and the offender when the number, or the unit, is missing or of another kind.
    """
    kind, example = _KINDS[unit]
    match = _NUMBER.match(text)
    if not match:
        raise ValueError(f"{kind} must be a number with a unit, like {example}, not {text!r}")
    sign, number, written = match.groups()
    if not written:
        raise ValueError(f"{kind} must carry its unit, like {example}, not the bare number {text.strip()!r}")
    factor = _UNITS[unit].get(written.replace("μ", "µ"))
    if factor is None:
        raise ValueError(f"{kind} must be in {', '.join(_UNITS[unit])}, not in {written!r} (as in {text!r})")
    return (-1.0 if sign in "-−" and sign else 1.0) * float(number) * factor


def amps(value: float) -> str:
    """Write a current the way a bench does: 1.5 A, 100 mA."""
    return f"{value:.3g} A" if abs(value) >= 1 or value == 0 else f"{value * 1000:.3g} mA"


def volts(value: float) -> str:
    """Write a voltage with its sign: +5 V, −12 V."""
    return f"{'−' if value < 0 else '+'}{abs(value):g} V"
