"""Levels, pulls, lengths and delays of lines. Constants and their sources are in `connectors/electrical.yaml`.

All functions raise `ValueError`, with the rule and the offender, for a size that nothing can have. Percentages are
tolerances: with them a function answers for the worst parts and the worst supply, without them for the nominal ones.
"""

from __future__ import annotations

import math
from typing import Literal

from .facts import magnitude

Series = Literal["E3", "E6", "E12", "E24"]

#: Preferred values of one decade (IEC 60063, from memory). E12, E6 and E3 are every second, fourth and eighth of E24.
_E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
SERIES: dict[Series, tuple[int, ...]] = {"E3": _E24[::8], "E6": _E24[::4], "E12": _E24[::2], "E24": _E24}


def parallel(*ohms: float) -> float:
    """Return the resistance of one or more resistors side by side, in Ω."""
    if not ohms:
        raise ValueError("parallel resistors must be at least one, not none")
    if len(ohms) == 1:
        return magnitude(ohms[0], "a resistance", "Ω")
    return 1 / sum(1 / magnitude(each, "a resistance", "Ω") for each in ohms)


def pull_up_current_a(
    ohms: float, supply_v: float, low_v: float, *, supply_percent: float = 0.0, resistor_percent: float = 0.0
) -> float:
    """Return the current in A that a driver must sink to hold a line with a pull-up at `low_v`."""
    least = magnitude(ohms, "a resistance", "Ω") * _less(resistor_percent)
    return _above(supply_v * _more(supply_percent), low_v) / least


def pull_down_current_a(ohms: float, high_v: float, *, resistor_percent: float = 0.0) -> float:
    """Return the current in A that a driver must give to hold a line with a pull-down at `high_v`."""
    return magnitude(high_v, "a high level", "V") / (magnitude(ohms, "a resistance", "Ω") * _less(resistor_percent))


def smallest_pull_up(
    sink_a: float,
    supply_v: float,
    low_v: float,
    *,
    loads_a: float = 0.0,
    supply_percent: float = 0.0,
    resistor_percent: float = 0.0,
) -> float:
    """Return the least resistance in Ω of a pull-up that a driver sinking `sink_a` still holds at `low_v`.

    `loads_a` is what the inputs on the line send into the driver meanwhile; it must leave something for the pull-up.
    """
    left = _left(sink_a, loads_a, "sinks")
    return _above(supply_v * _more(supply_percent), low_v) / left / _less(resistor_percent)


def largest_pull_up(
    loads_a: float, supply_v: float, high_v: float, *, supply_percent: float = 0.0, resistor_percent: float = 0.0
) -> float:
    """Return the greatest resistance in Ω of a pull-up that holds an undriven line at `high_v` or above.

    `loads_a` is what all inputs and outputs on the line take at the high level; infinite where that is nothing.
    """
    room = _above(supply_v * _less(supply_percent), high_v)
    taken = magnitude(loads_a, "what the loads take", "A", zero=True)
    return room / taken / _more(resistor_percent) if taken else math.inf


def smallest_pull_down(source_a: float, high_v: float, *, loads_a: float = 0.0, resistor_percent: float = 0.0) -> float:
    """Return the least resistance in Ω of a pull-down that a driver giving `source_a` still holds at `high_v`.

    `loads_a` is what the inputs on the line take at the high level; it must leave something for the pull-down.
    """
    return magnitude(high_v, "a high level", "V") / _left(source_a, loads_a, "gives") / _less(resistor_percent)


def largest_pull_down(loads_a: float, low_v: float, *, resistor_percent: float = 0.0) -> float:
    """Return the greatest resistance in Ω of a pull-down that holds an undriven line at `low_v` or below.

    `loads_a` is what all inputs on the line send into it at the low level; infinite where that is nothing.
    """
    level = magnitude(low_v, "a low level", "V")
    sent = magnitude(loads_a, "what the loads send", "A", zero=True)
    return level / sent / _more(resistor_percent) if sent else math.inf


def critical_mm(edge_s: float, delay_s_per_m: float, factor: float) -> float:
    """Return the length in mm above which a line is long for an edge: edge / (factor × delay per metre).

    `factor` 2: the echo of the far end is back when the edge is over. Factors from 2 to 20 are in print: say which.
    """
    delay = magnitude(delay_s_per_m, "a delay", "s per m")
    return magnitude(edge_s, "an edge", "s") / (magnitude(factor, "a factor", "") * delay) * 1000


def delay_s(length_mm: float, delay_s_per_m: float) -> float:
    """Return the time in s that an edge takes along a length."""
    return magnitude(length_mm, "a length", "mm", zero=True) / 1000 * magnitude(delay_s_per_m, "a delay", "s per m")


def preferred(ohms: float, series: Series = "E12", *, down: bool = True) -> float:
    """Return the next preferred value in Ω: the greatest that is not above `ohms`, or with `down` off not below."""
    magnitude(ohms, "a resistance", "Ω")
    decade = math.floor(math.log10(ohms))
    values = [_scaled(step, power) for power in range(decade - 2, decade + 2) for step in SERIES[series]]
    return max(v for v in values if v <= ohms) if down else min(v for v in values if v >= ohms)


def _scaled(step: int, power: int) -> float:
    # One rounding at most, so that 33 by -2 is the very float that somebody writes as 0.33.
    return float(step * 10**power) if power >= 0 else step / 10**-power


def _less(percent: float) -> float:
    return 1 - _tolerance(percent) / 100


def _more(percent: float) -> float:
    return 1 + _tolerance(percent) / 100


def _tolerance(percent: float) -> float:
    if not 0 <= percent < 100:
        raise ValueError(f"a tolerance must be from 0 to under 100 %, not {percent:g} %")
    return percent


def _above(supply_v: float, level_v: float) -> float:
    """The volts between a supply and a level below it."""
    magnitude(supply_v, "a supply", "V")
    if magnitude(level_v, "a level", "V", zero=True) >= supply_v:
        raise ValueError(f"a level must be below its supply of {supply_v:g} V, not {level_v:g} V")
    return supply_v - level_v


def _left(driver_a: float, loads_a: float, does: str) -> float:
    """What a driver has left for a pull besides its loads, in A."""
    magnitude(driver_a, f"what a driver {does}", "A")
    if magnitude(loads_a, "the loads", "A", zero=True) >= driver_a:
        raise ValueError(f"the loads must be below what the driver {does}, {driver_a:g} A, not {loads_a:g} A")
    return driver_a - loads_a
