"""Pull resistors on a line: what level they hold under their loads, what they ask of a driver, which value to take."""

from __future__ import annotations

from math import inf

from msgspec import Struct

from . import meter
from .electrical.facts import Facts
from .electrical.signals import (
    largest_pull_down,
    largest_pull_up,
    preferred,
    pull_down_current_a,
    pull_up_current_a,
)
from .findings import Finding, found
from .model import Signal
from .quantity import amps, parse
from .text import count


def ohms_text(ohms: float) -> str:
    """Write a resistance the way a parts list does: 560 Ω, 4.7 kΩ."""
    for unit, factor in (("MΩ", 1e6), ("kΩ", 1e3)):
        if ohms >= factor:
            return f"{ohms / factor:g} {unit}"
    return f"{ohms:g} Ω"


def ohms_of(written: str) -> float:
    """Read a resistance as a parts list writes it, also with the letter for the point (4k7), in Ω.

    Raises `ValueError` with the rule and the offender.
    """
    return parse(plain_ohms(written), "Ω")


def plain_ohms(written: str) -> str:
    """Write a resistance that has a letter for the point with its unit instead; any other text as it is."""
    return ohms_text(meter.ohms(written)) if meter.has_letter_point(written) else written


def small(current_a: float) -> str:
    """Write a current, the smallest in µA."""
    return f"{current_a * 1e6:.3g} µA" if current_a < 1e-4 else amps(current_a)


class Pull(Struct, frozen=True):
    """A pull-up or pull-down on `signal`, under `loads` inputs of LS logic, at the logic supply of `supply_v`.

    Currents in A, levels in V, resistances in Ω; tolerances count against what is asked.
    """

    up: bool
    signal: Signal
    loads: int
    facts: Facts
    supply_v: float = 5.0
    supply_percent: float = 5.0

    @property
    def kind(self) -> str:
        """The remedy."""
        return "pull up" if self.up else "pull down"

    @property
    def load_a(self) -> float:
        """What the inputs together take at the high, or give out at the low level."""
        return self.loads * self.facts.value("LS input high" if self.up else "LS input low")

    @property
    def _percent(self) -> float:
        return self.facts.value("resistor tolerance")

    def level(self, ohms: float) -> float:
        """The level that the line comes to under its loads, in the worst case."""
        across = ohms * (1 + self._percent / 100) * self.load_a
        return self.supply_v * (1 - self.supply_percent / 100) - across if self.up else across

    @property
    def limit_v(self) -> float:
        """The least that an input takes for high, or the most that it takes for low."""
        return self.facts.value("high input at least" if self.up else "low input at most")

    def _most(self, level_v: float) -> float:
        if self.up:
            return largest_pull_up(
                self.load_a,
                self.supply_v,
                level_v,
                supply_percent=self.supply_percent,
                resistor_percent=self._percent,
            )
        return largest_pull_down(self.load_a, level_v, resistor_percent=self._percent)

    @property
    def most(self) -> float:
        """The largest that holds the level which an output must give, so that what noise takes is left."""
        return self._most(self.facts.value("high output" if self.up else "low output")) if self.loads else inf

    def holds(self, ohms: float) -> bool:
        """Whether the level is one at all."""
        return ohms <= self._most(self.limit_v)

    def best(self) -> float:
        """The largest usual value that holds the level, no larger than is common."""
        return preferred(min(self.most, self.facts.value("pull that disturbs nothing")))

    def value(self, written: str) -> float:
        """Return the value that suits the loads: what the dictionary says where that holds, else the best."""
        try:
            known = ohms_of(written) if written else 0.0
        except ValueError:
            known = 0.0
        return known if 0 < known <= self.most else self.best()

    def asks(self, ohms: float) -> float:
        """What a driver that puts the line to the other level must sink, or give."""
        if self.up:
            return pull_up_current_a(
                ohms,
                self.supply_v,
                self.facts.value("low output"),
                supply_percent=self.supply_percent,
                resistor_percent=self._percent,
            )
        return pull_down_current_a(ohms, self.facts.value("high output"), resistor_percent=self._percent)

    @property
    def driven(self) -> bool:
        """Whether the card drives the line to the other level: not where it only pulls low what is held low."""
        return self.signal.driver != "host" and (self.up or "open collector" not in self.signal.output)

    @property
    def sure(self) -> tuple[float, str]:
        """What the card's output is sure to sink or give, in A, and where that comes from."""
        if self.signal.sink and self.up:
            return parse(self.signal.sink, "A"), self.signal.source_of("sink")
        fact = "LS gate sinks" if "open collector" in self.signal.output else "module sinks"
        return self.facts.value(fact), self.facts.source(fact)

    def against(self, name: str, ohms: float) -> Finding | None:
        """What speaks against a value on the line `name`: too weak to hold it, or too strong for its driver."""
        if not self.holds(ohms):
            verb = f"{'take' if self.up else 'put'}{'s' if self.loads == 1 else ''}"
            edge = "below the supply, and a high level begins" if self.up else "above the return, and a low level ends"
            return found(
                "remedy-weak",
                f"a pull must hold its line at a valid level: {count(self.loads, 'LS input')} {verb} "
                f"{small(self.load_a)} {'through' if self.up else 'into'} the {self.kind} of {name}, which with "
                f"{ohms_text(ohms)} is {ohms * self.load_a:.3g} V {edge} at {self.limit_v:g} V",
                f"Take {ohms_text(self.best())}, the largest usual value that leaves what noise takes; nothing was put "
                "in for it",
                signals=[name],
            )
        sure, source = self.sure
        if not self.driven or self.asks(ohms) <= sure:
            return None
        verb = "sink" if self.up else "give"
        beyond = self.asks(ohms) > self.facts.value("strongest open collector sinks")
        return found(
            "remedy-fights",
            f"a remedy must leave a line to what drives it: {self.kind} {ohms_text(ohms)} on {name} makes the card's "
            f"output {verb} {amps(self.asks(ohms))}, and it is only sure to {verb} {amps(sure)} ({source})",
            f"Take {ohms_text(self.best())}, or leave the line open; nothing was put in for it",
            signals=[name],
            grade="danger" if beyond else "fault",
        )
