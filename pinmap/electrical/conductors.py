"""What wires and traces carry and lose. Constants and their sources are in `connectors/electrical.yaml`.

All functions raise `ValueError`, with the rule and the offender, for a size that nothing can have. Where nothing makes
sense (no current, no length), it is allowed.
"""

from __future__ import annotations

import math

from ..text import listed
from .facts import Wire, facts, magnitude

MM_PER_INCH = 25.4  # exact, by definition
MM_PER_MIL = 0.0254
UM_PER_MIL = 25.4
#: Where the linear coefficient of copper is taken to hold, in °C. Common practice, no source.
COLDEST, HOTTEST = -55.0, 155.0
_GAUGES = range(41)


def wire(awg: int) -> Wire:
    """Return a size of the published wire table (the source is `facts().wires_source`), never one by formula.

    Raises `ValueError` with the sizes of the table where it does not have `awg`.
    """
    table = facts().wires
    if awg not in table:
        raise ValueError(
            f"a wire must be of a size in the wire table, {listed(map(str, table), 'or')} AWG, not {awg} AWG"
        )
    return table[awg]


def wire_diameter_mm(awg: int) -> float:
    """Return the diameter of a bare solid conductor in mm by the definition of the gauge: 0.127 mm · 92^((36 − n)/39).

    Raises `ValueError` for a size that is no whole number from 0 to 40. `wire` has the published figures.
    """
    if awg not in _GAUGES:
        raise ValueError(f"a wire size must be a whole number from 0 to {_GAUGES[-1]} AWG, not {awg} AWG")
    known = facts()
    thicker = known.value("ratio of diameters over 39 sizes") ** ((36 - awg) / 39)
    return float(known.value("diameter of 36 AWG") * thicker)


def wire_ohm_per_m(awg: int) -> float:
    """Return the resistance of a solid copper conductor at 20 °C in Ω per m, from its diameter by the definition.

    Raises `ValueError` as `wire_diameter_mm`. `wire` has the published figures.
    """
    return _copper() / (math.pi / 4 * wire_diameter_mm(awg) ** 2)


def trace_ohm_per_m(width_mm: float, copper_um: float) -> float:
    """Return the resistance of a trace at 20 °C in Ω per m: that of copper over its section."""
    return _copper() / (magnitude(width_mm, "a width", "mm") * magnitude(copper_um, "copper", "µm") / 1000)


def ohms_along(length_mm: float, ohm_per_m: float) -> float:
    """Return the resistance of a length of a conductor, in Ω."""
    return magnitude(length_mm, "a length", "mm", zero=True) / 1000 * magnitude(ohm_per_m, "resistance", "Ω per m")


def ohms_at(ohms: float, celsius: float) -> float:
    """Return what copper of so many Ω at 20 °C has at another temperature. Linear, so from −55 to 155 °C only."""
    if not COLDEST <= celsius <= HOTTEST:
        raise ValueError(f"a temperature must be from {COLDEST:.0f} to {HOTTEST:.0f} °C, not {celsius:g} °C")
    known = facts()
    warmer = celsius - known.value("reference temperature of copper")
    return magnitude(ohms, "resistance", "Ω", zero=True) * (
        1 + known.value("temperature coefficient of copper") * warmer
    )


def trace_current_a(width_mm: float, copper_um: float, rise_k: float, *, inner: bool = False) -> float:
    """Return the current in A that warms a trace by `rise_k`: IPC-2221, I = k · ΔT^0.44 · A^0.725, A in mil²."""
    constant, rises, sections = _trace(inner)
    rise_k = magnitude(rise_k, "a rise", "K", zero=True)
    return float(constant * rise_k**rises * _mil2(width_mm, copper_um) ** sections)


def trace_rise_k(width_mm: float, copper_um: float, amps: float, *, inner: bool = False) -> float:
    """Return by how many K a current warms a trace: IPC-2221, solved for the rise."""
    constant, rises, sections = _trace(inner)
    amps = magnitude(amps, "a current", "A", zero=True)
    return float((amps / (constant * _mil2(width_mm, copper_um) ** sections)) ** (1 / rises))


def trace_width_mm(amps: float, rise_k: float, copper_um: float, *, inner: bool = False) -> float:
    """Return the width in mm of a trace that a current warms by `rise_k`: IPC-2221, solved for the section."""
    constant, rises, sections = _trace(inner)
    amps = magnitude(amps, "a current", "A", zero=True)
    mil2 = (amps / (constant * magnitude(rise_k, "a rise", "K") ** rises)) ** (1 / sections)
    return float(mil2 / (magnitude(copper_um, "copper", "µm") / UM_PER_MIL) * MM_PER_MIL)


def fusing_a(diameter_mm: float) -> float:
    """Return the current in A that melts a bare copper wire in free air: Preece, I = 10244 · d^1.5, d in inches.

    A warning and no figure to build by: insulation melts long before.
    """
    inches = magnitude(diameter_mm, "a diameter", "mm") / MM_PER_INCH
    return float(facts().value("fusing constant") * inches**1.5)


def _copper() -> float:
    """Ω of a conductor 1 m long with a section of 1 mm², at 20 °C."""
    return facts().value("resistance of copper per metre of 1 mm²")


def _trace(inner: bool) -> tuple[float, float, float]:
    known = facts()
    return (
        known.value(f"trace constant {'inner' if inner else 'outer'}"),
        known.value("trace rise exponent"),
        known.value("trace section exponent"),
    )


def _mil2(width_mm: float, copper_um: float) -> float:
    return magnitude(width_mm, "a width", "mm") / MM_PER_MIL * magnitude(copper_um, "copper", "µm") / UM_PER_MIL
