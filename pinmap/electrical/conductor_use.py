"""The conductors of a design: what one is, how it fares under the most that one of its kind carries, what would do."""

from __future__ import annotations

from msgspec import Struct

from ..design import Build
from ..errors import NOWHERE, Place
from ..findings import Finding, found
from ..quantity import amps
from . import ConductorBudget
from .conductors import fusing_a, ohms_along, ohms_at, trace_current_a, trace_ohm_per_m, trace_rise_k, trace_width_mm
from .conductors import wire as size_of
from .facts import Wire, facts


class Conductor(Struct, frozen=True):
    """One wire of a design from end to end, or one trace.

    `use` says what it is, `size` how thick; `ohms` is all of its length. Exactly one of `awg` and `trace_mm` is given.
    """

    use: str
    size: str
    ohm_per_m: float
    ohms: float
    allowed_a: float | None
    source: str
    awg: int | None = None
    trace_mm: float | None = None
    copper_um: float = 0.0

    @property
    def name(self) -> str:
        """Use and size: ribbon conductor of 28 AWG."""
        return f"{self.use} of {self.size}"


class Conductors(Struct, frozen=True):
    """The two kinds of a design, one for supplies and returns and one for signals; None where the size is not said.

    In a ribbon they are the same. `assumed` says what was taken because the file does not say it.
    """

    supply: Conductor | None = None
    signal: Conductor | None = None
    assumed: tuple[str, ...] = ()


def conductors(build: Build | None) -> Conductors:
    """Return the conductors of a design as built; none without `build`."""
    if build is None:
        return Conductors(assumed=("how it is built is not said: no conductor is reckoned with",))
    assumed: tuple[str, ...] = ()
    if build.construction == "ribbon":
        usual = _usual_ribbon()
        if build.awg is None:
            source = facts().source("ribbon of 1.27 mm")
            assumed = (f"the ribbon is {usual} AWG, as ribbons of 1.27 mm are ({source})",)
        one = wire("ribbon conductor", usual if build.awg is None else build.awg, build.length_mm)
        return Conductors(one, one, (*assumed, _warm()))
    if build.construction == "point to point":
        supply = build.awg if build.supply_awg is None else build.supply_awg
        return Conductors(
            None if supply is None else wire("supply wire", supply, build.length_mm),
            None if build.awg is None else wire("signal wire", build.awg, build.length_mm),
            (*_unsaid("wire", build.awg, supply), *([] if supply is None else [_warm()])),
        )
    copper, thick = build.copper_um, facts().constants["copper of 1 oz"]
    if copper is None:
        copper = thick.value * 1000
        assumed = (f"the board's copper is {copper:g} µm thick, 1 oz ({thick.source})",)
    supply_mm = build.trace_mm if build.supply_trace_mm is None else build.supply_trace_mm
    return Conductors(
        None if supply_mm is None else trace("supply trace", supply_mm, copper, build.length_mm),
        None if build.trace_mm is None else trace("signal trace", build.trace_mm, copper, build.length_mm),
        (*assumed, *_unsaid("trace", build.trace_mm, supply_mm), *([] if supply_mm is None else [_warm()])),
    )


def _usual_ribbon() -> int:
    """The size of the ribbon that is made for contacts 2.54 mm apart in two rows, in AWG."""
    return int(facts().value("ribbon of 1.27 mm"))


def _warm() -> str:
    """What the drop lacks where it is warmer than the tables are for."""
    cold, warm = facts().constants["reference temperature of copper"], facts().constants["copper is as warm as"]
    more = (ohms_at(1.0, warm.value) - 1) * 100
    return (
        f"wires and traces are reckoned at {cold.written}: at {warm.written}, as inside a case ({warm.source}), copper "
        f"loses {more:.0f} % more"
    )


def _unsaid(what: str, signal: float | None, supply: float | None) -> tuple[str, ...]:
    kinds = [kind for kind, size in (("supply", supply), ("signal", signal)) if size is None]
    return tuple(f"the size of a {kind} {what} is not said: it is not reckoned with" for kind in kinds)


def wire(use: str, awg: int, length_mm: float) -> Conductor:
    """Describe one wire, or one conductor of a ribbon. Raises `ValueError` for a size that is not in the table."""
    known = facts()
    per_m = size_of(awg).ohm_per_m
    source = f"resistance: {known.wires_source}"
    if use.startswith("ribbon"):
        carries, cited = ribbon_carries_a(awg)
    else:
        carries, cited = wire_carries_a(awg)
    if carries is not None:
        source += f"; carries: {cited}"
    return Conductor(use, f"{awg} AWG", per_m, ohms_along(length_mm, per_m), carries, source, awg=awg)


def wire_carries_a(awg: int) -> tuple[float | None, str]:
    """Return what a single wire in free air carries, in A, and the source; None for sizes thinner than any figure.

    A size without a figure carries at least what the next thinner one with a figure does.
    """
    known = facts()
    listed = [w for size, w in sorted(known.wires.items()) if size >= awg and w.carries_a is not None]
    if not listed:
        return None, ""
    as_if = "" if listed[0].awg == awg else f", as {listed[0].awg} AWG"
    return listed[0].carries_a, known.carries_source + as_if


def ribbon_carries_a(awg: int) -> tuple[float | None, str]:
    """Return what one conductor of a ribbon carries among the others, in A, and the source.

    The figure is that of 28 AWG. A thicker one is taken to carry no more; a thinner one carries as much less than it
    would alone as one of 28 AWG does.
    """
    among = facts().constants["ribbon conductor carries"]
    (alone, cited), (usual, _) = wire_carries_a(awg), wire_carries_a(_usual_ribbon())
    if alone is None or usual is None or alone >= usual:
        return among.value, among.source
    share = among.value / usual
    return alone * share, f"{amps(alone)} alone ({cited}), × {share:.2g} in a ribbon as for {_usual_ribbon()} AWG"


def trace(use: str, width_mm: float, copper_um: float, length_mm: float) -> Conductor:
    """Describe one trace on an outer layer; it may get as much warmer as is allowed."""
    rise = facts().constants["trace rise allowed"]
    per_m = trace_ohm_per_m(width_mm, copper_um)
    return Conductor(
        use,
        f"{width_mm:g} mm × {copper_um:g} µm",
        per_m,
        ohms_along(length_mm, per_m),
        trace_current_a(width_mm, copper_um, rise.value),
        f"{facts().source('trace constant outer')}; {rise.value:g} K warmer is allowed: {rise.source}",
        trace_mm=width_mm,
        copper_um=copper_um,
    )


def conductor_budget(one: Conductor, carries_a: float) -> ConductorBudget:
    """Say how a conductor fares that carries `carries_a`."""
    rise = fuses = None
    if one.awg is not None:
        fuses = fusing_a(size_of(one.awg).diameter_mm)
    elif one.trace_mm is not None and carries_a > 0:
        rise = trace_rise_k(one.trace_mm, one.copper_um, carries_a)
    return ConductorBudget(one.use, one.size, one.ohm_per_m, carries_a, one.allowed_a, rise, fuses, one.source)


def conductor_use(
    parts: Conductors, supply_a: float, signal_a: float, place: Place = NOWHERE
) -> tuple[tuple[ConductorBudget, ...], str, list[Finding]]:
    """Return the table of conductors, the sentence on it, and what is found of signals' conductors.

    `supply_a` and `signal_a` are the most that one conductor of a supply or return, and of a signal, carries, in A.
    What is found of those of supplies is said with the supply: `supplies`.
    """
    if parts.supply is not None and parts.supply == parts.signal:
        wanted = [(parts.supply, max(supply_a, signal_a))]
    else:
        wanted = [(one, a) for one, a in ((parts.supply, supply_a), (parts.signal, signal_a)) if one is not None]
    table = tuple(conductor_budget(one, carries) for one, carries in wanted)
    findings = []
    if parts.signal and parts.signal.allowed_a is not None and signal_a > parts.signal.allowed_a:
        findings.append(
            found(
                "conductor-overloaded",
                f"a {parts.signal.name} carries no more than {amps(parts.signal.allowed_a)} ({parts.signal.source}), "
                f"not the {amps(signal_a)} of a signal",
                bigger(parts.signal, signal_a),
                place,
                grade="danger",
            )
        )
    return table, _sentence(table), findings


def _sentence(table: tuple[ConductorBudget, ...]) -> str:
    if not table:
        return "Nothing is said of conductors: the file does not say what the adapter is built of."
    over = [c for c in table if c.allowed_a is not None and c.carries_a > c.allowed_a]
    if over:
        worst = max(over, key=lambda c: c.carries_a / (c.allowed_a or 1.0))
        return (
            f"A {worst.use} of {worst.size} carries {amps(worst.carries_a)}, more than the "
            f"{amps(worst.allowed_a or 0.0)} that it may."
        )
    fullest = max(table, key=lambda c: c.carries_a / c.allowed_a if c.allowed_a else 0.0)
    if fullest.allowed_a is None:
        return f"A {fullest.use} of {fullest.size} carries {amps(fullest.carries_a)}; what it may carry is not known."
    warm = f" and gets {fullest.rise_k:.2g} K warmer" if fullest.rise_k is not None else ""
    return (
        f"No conductor carries too much: the fullest, a {fullest.use} of {fullest.size}, carries "
        f"{amps(fullest.carries_a)} of {amps(fullest.allowed_a)}{warm}."
    )


def bigger(one: Conductor, each_a: float, ohms: float | None = None) -> str:
    """Name the thinnest size that carries `each_a` with no more than `ohms`; "" where this one does, or none would.

    A wire is taken from the table, a ribbon's from those sizes in which ribbons are usual, a trace to the next 0.05 mm
    and no wider than is sensible.
    """
    if one.trace_mm is not None:
        rise = facts().value("trace rise allowed")
        width = max(trace_width_mm(each_a, rise, one.copper_um), one.trace_mm)
        if ohms is not None and ohms > 0:
            width = max(width, one.trace_mm * one.ohms / ohms)
        width = -(-round(width, 6) // 0.05) * 0.05
        if (ohms is not None and ohms <= 0) or width <= one.trace_mm + 1e-9:
            return ""
        if width > facts().value("trace wide at most") + 1e-9:
            return ""
        return f"Make the trace {width:.2f} mm wide"
    ribbon = one.use.startswith("ribbon")
    for size in sorted(facts().wires.values(), key=lambda w: -w.awg):
        if one.awg is None or size.awg > one.awg or (ribbon and not size.ribbon and size.awg != one.awg):
            continue
        allowed = ribbon_carries_a(size.awg)[0] if ribbon else wire_carries_a(size.awg)[0]
        if allowed is not None and allowed >= each_a and _fits(one, size, ohms):
            return "" if size.awg == one.awg else f"Take {size.awg} AWG"
    return ""


def _fits(one: Conductor, size: Wire, ohms: float | None) -> bool:
    return ohms is None or one.ohms * size.ohm_per_m / one.ohm_per_m <= ohms
