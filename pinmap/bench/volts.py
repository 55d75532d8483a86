"""Volts held against what each contact must read: with the power on, a wrong rail destroys what it meets."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from ..errors import PinmapError, Place
from ..quantity import volts
from ..readings import Probe, Reading
from .graph import line_of
from .plan import LINE_V, RETURN_V, Plan, Volts, expected_volts

#: A supply that reads nearer to 0 V than this does not arrive at all. Common practice, no source.
NOTHING_V = 0.5
#: Between these, in V, a line may read what a supply of 5 V would. Common practice, no source.
LIKE_5V = (4.5, 5.5)


class Measured(Struct, frozen=True):
    """One voltage and what is to be said of it, with the `rule` behind what it must read where it is wrong.

    `right` is what belongs there, `wrong` a danger, `no proof` what a line may read, but a supply or return too;
    `unknown`: nobody knows what it must read.
    """

    contact: Probe
    value: float
    verdict: Literal["right", "wrong", "no proof", "unknown"]
    sentence: str
    place: Place
    looks_like: str = ""
    rule: str = ""


def judge_volts(plan: Plan, readings: Iterable[Reading]) -> tuple[tuple[Measured, ...], list[PinmapError]]:
    """Hold every voltage against the plan, and complain of each that was not taken against a return."""
    taken = [reading for reading in readings if reading.volts is not None]
    errors = [
        PinmapError(
            f"volts must be taken against a return, not against {reading.stop} ({plan.of(reading.stop).name})",
            place=reading.place,
        )
        for reading in taken
        if reading.stop and not plan.of(reading.stop).is_return
    ]
    sound = [reading for reading in taken if not reading.stop or plan.of(reading.stop).is_return]
    return _exchanged(plan, [_measured(plan, reading) for reading in sound]), errors


def _measured(plan: Plan, reading: Reading) -> Measured:
    assert reading.volts is not None  # noqa: S101 - as judge_volts() chooses them
    contact, value = reading.start, reading.volts
    expected = plan.volts(contact)
    said = f"{contact} ({plan.of(contact).name}) reads {_read(value)} ({line_of(reading.place)})"
    if expected is None:
        return Measured(contact, value, "unknown", f"{said}; the map does not say its volts", reading.place)
    if expected.holds(value):
        if plan.powers(contact):
            return Measured(contact, value, "right", said, reading.place)
        return Measured(contact, value, "no proof", f"{said}: {_harmless(plan, value)}", reading.place)
    like = _rail(plan, value, besides=expected.rail)
    sentence = f"{said}: {_what(expected, value, like)}; it must read {expected.span}"
    return Measured(contact, value, "wrong", sentence, reading.place, like, expected.rule)


def _harmless(plan: Plan, value: float) -> str:
    """What is to be said of volts that a line may have: no more than they prove."""
    like = "a return" if abs(value) <= RETURN_V else _rail(plan, value)
    if not like and LIKE_5V[0] <= value <= LIKE_5V[1]:
        like = "a 5 V supply"
    return f"nothing above {LINE_V[1]:g} V{f', but {like} reads the same' if like else ''}"


def _read(value: float) -> str:
    """Write a reading the way a meter shows it, to the millivolt."""
    return volts(round(value, 3)) if abs(value) >= 1 or value == 0 else f"{value * 1000:.3g} mV".replace("-", "−")


def _what(expected: Volts, value: float, like: str) -> str:
    middle = (expected.low + expected.high) / 2
    if expected.rail and abs(value) < NOTHING_V:
        return "the supply does not arrive"
    if like:
        return f"that is {like}"
    if expected.rail and value * middle < 0 and abs(value) >= abs(middle) / 2:
        return "the sign is wrong: the supply is reversed, or the probes are"
    if expected.rail and value * middle > 0:
        if middle < 0:
            return "too negative" if value < middle else "not negative enough"
        return "too high" if value > middle else "too low"
    return "not what belongs there"


def _rail(plan: Plan, value: float, besides: str = "") -> str:
    """The rail whose volts these are, of all that the plan knows; "" for none."""
    for name, signal in {s.name: s for s in plan.signals.values() if s.group == "supply"}.items():
        expected = expected_volts(signal)
        if expected and name != besides and expected.holds(value):
            return name
    return ""


def _exchanged(plan: Plan, measured: Sequence[Measured]) -> tuple[Measured, ...]:
    """Say of two rails that read as each other that they are exchanged."""
    wrong = {plan.of(m.contact).name: m for m in measured if m.verdict == "wrong"}
    out = []
    for m in measured:
        other = wrong.get(m.looks_like)
        name = plan.of(m.contact).name
        if m.verdict == "wrong" and other and other.looks_like == name and other is not m:
            m = replace(m, sentence=f"{m.sentence}; exchanged with {m.looks_like}")
        out.append(m)
    return tuple(out)
