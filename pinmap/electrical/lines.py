"""The lines of a design: what their drivers hold, how long they are for their edges, and where their returns lie.

How loads are counted: a line that the machine drives has the inputs of all cards and of the other slots on it. A line
that cards drive has the machine's input alone, taken as that of one slot, for the other cards have outputs there. A
line that either side drives (data) has all of these, and the weaker of both drivers. Where a jumper, set as it is
planned, leads a line of the card to one of the slot, the two are one: what the machine drives has the inputs at both,
and what cards drive holds the pulls of both. On either side of a gate is a line of its own: one with the gate's input
as a load, and one that the gate drives. Pulls are taken at their lowest, with the tolerance of resistors and of the
supply against the driver. Leakage of outputs that are off is not counted.
"""

from __future__ import annotations

import re

from msgspec import Struct
from msgspec.structs import replace

from ..adapter import Adapter, Net
from ..design import Design
from ..findings import Finding, found
from ..model import Signal
from ..parts import Part, PartKind
from ..quantity import PATTERNS, amps, parse
from ..text import count, listed, ranges
from . import LineBudget, Returns, Timing
from .facts import facts
from .length import ORDER, Length, rank
from .signals import parallel, pull_down_current_a, pull_up_current_a, smallest_pull_up
from .supply_faults import TINY

#: The supply of a pull-up, where its part does not say another.
LOGIC = "+5V"

#: A gate whose outputs only pull low.
COLLECTOR = "74LS06"

#: What a part that drives a line is called in the facts.
_GIVES: dict[PartKind, str] = {"inverter": "LS gate", "supervisor": "supervisor"}


class Lines(Struct, frozen=True):
    """The table of lines, timing and returns, the sentence on them, what was found and assumed.

    `one_carries_a` is the most that the conductor of a signal carries, in A.
    """

    table: tuple[LineBudget, ...]
    timing: Timing | None
    returns: Returns | None
    said: str
    findings: tuple[Finding, ...] = ()
    assumed: tuple[str, ...] = ()
    one_carries_a: float = 0.0


def lines(adapter: Adapter, design: Design) -> Lines:
    """Return how the lines of `design` fare on `adapter`."""
    return _Lines(adapter, design).result()


class _Load(Struct, frozen=True):
    """One line: its figures as in `LineBudget`, the pull-up and what its inputs take at the low level."""

    budget: LineBudget
    up_ohms: float | None
    inputs: int
    inputs_a: float


class _Lines:
    """Reckons one design."""

    def __init__(self, adapter: Adapter, design: Design):
        self.adapter, self.design = adapter, design
        self.findings: list[Finding] = []
        self.assumed: dict[str, None] = {}
        self._parts = {part.ref: part for part in adapter.parts}
        self._net_of_pin = {pin: net for net in adapter.nets for pin in net.parts}
        self._led = self._jumpers()
        self._a_slot = int(facts().value("loads of a slot"))
        logic = adapter.card.bus.signals.get(LOGIC)
        self._volts = abs((logic.volts if logic else None) or facts().value("logic supply"))
        self._volts_percent = (logic.tolerance_percent or 0.0) if logic else 0.0

    def result(self) -> Lines:
        self._assume_loads()
        loads = [load for net in self.adapter.nets if (load := self._load(net)) is not None]
        loads.sort(key=lambda load: rank(load.budget.group))
        alike: dict[tuple[object, ...], list[_Load]] = {}
        for load in loads:
            b = load.budget
            key = (b.group, b.driver, b.sinks_a, b.can_sink_a, b.sources_a, b.can_source_a, b.pull_ohms, b.source)
            alike.setdefault(key, []).append(load)
        table = []
        for several in alike.values():
            first = several[0].budget
            together = replace(first, signals=tuple(s for load in several for s in load.budget.signals))
            table.append(together)
            self._judge(several[0], together)
        length = Length(self.adapter, self.design)
        timing, returns = length.timing(), length.returns()
        self.findings += length.findings
        self.assumed |= length.assumed
        most = max((max(b.sinks_a, b.sources_a) for b in table), default=0.0)
        said = self._sentence(table, timing, returns)
        return Lines(tuple(table), timing, returns, said, tuple(self.findings), tuple(self.assumed), most)

    # ------------------------------------------------------------------ loads

    def _assume_loads(self) -> None:
        cited = facts().source("loads of a slot")
        unsaid = [c.name for c in self.design.cards if c.loads is None]
        if unsaid:
            self.assumed[f"{listed(unsaid)}: {self._a_slot} LS loads on each line ({cited})"] = None
        if not self.design.cards:
            self.assumed[f"no card is described: one with {self._a_slot} LS loads on each line is taken ({cited})"] = (
                None
            )
        if self.design.other_slots:
            self.assumed[f"each other slot in use: {self._a_slot} LS loads on each line ({cited})"] = None
        self.assumed["leakage of outputs that are off is not counted"] = None

    @property
    def _card_inputs(self) -> int:
        cards = self.design.cards
        return sum(self._a_slot if c.loads is None else c.loads for c in cards) if cards else self._a_slot

    @property
    def _other_inputs(self) -> int:
        return self._a_slot * self.design.other_slots

    def _jumpers(self) -> dict[str, str]:
        """Where jumpers, set as it is planned, lead lines of the card: net of the card → net of the slot."""
        blocks = [(p.ref, p.pins[0][0], p.pins[1][0]) for p in self._parts.values() if p.kind == "jumper"]
        return {self._net_of_pin[ref, one].name: self._net_of_pin[ref, other].name for ref, one, other in blocks}

    def _gate_pins(self, net: Net, what: str) -> list[Part]:
        """The gates that have an input, or an output, on a net: one for each such pin that is used."""
        pins = [(self._parts[ref], pad) for ref, pad in net.parts]
        return [p for p, pad in pins if p.kind == "inverter" and dict(p.pins)[pad].startswith(f"{what}, ")]

    def _load(self, net: Net) -> _Load | None:
        """The figures of one net; None where it is no line, or nothing is known to drive it."""
        loads, drives = self._gate_pins(net, "input"), self._gate_pins(net, "output")
        onto = [card for card, slot in self._led.items() if slot == net.name]
        if net.group not in ORDER or net.signal is None or not (net.card or loads or drives or onto):
            return None
        slot = next((n for n in self.adapter.nets if n.name == self._led.get(net.name)), None)
        host = net.host or (slot.host if slot else ())
        here = host[0].signal if host else None
        there = net.card[0].signal if net.card else None
        signal = there or here
        if signal is None or (slot and signal.driver != "card"):  # what the machine drives is reckoned at its own net
            return None
        if not (net.card or loads or drives) and signal.driver != "host":  # and what cards drive, at theirs
            return None
        driver: str = signal.driver if host or (loads and signal.driver == "card") else ""
        part = self._drives(net, drives)
        if part is not None and part.kind == "oscillator":
            self.assumed[f"{net.name}: what {part.ref} drives is not known; the line is not reckoned"] = None
        elif part is not None and (drives or signal.driver == "host"):
            driver = part.ref
        if driver not in ("host", "card", "either") and (part is None or driver != part.ref):
            return None
        collector = part is not None and part.value == COLLECTOR
        open_collector = (signal.output == "open collector" and part is None) or collector
        inputs = self._inputs(driver, at_card=bool(net.card), led=len(onto), gates=len(loads), at_host=bool(host))
        low = inputs * facts().value("LS input low")
        ups, downs = self._pulls(net, here)
        if slot:
            more = self._pulls(slot, None)
            ups, downs = ups + more[0], downs + more[1]
        up, down = (parallel(*ups) if ups else None), (parallel(*downs) if downs else None)
        percent = facts().value("resistor tolerance")
        sinks = low
        if up is not None:
            sinks += pull_up_current_a(
                up,
                self._volts,
                facts().value("low output"),
                supply_percent=self._volts_percent,
                resistor_percent=percent,
            )
        sources = inputs * facts().value("LS input high")
        if down is not None:
            sources += pull_down_current_a(down, facts().value("high output"), resistor_percent=percent)
        can_sink, source = self._sink(driver, signal, part, open_collector=open_collector)
        if open_collector:
            if up is None:
                self.assumed[f"{net.name}: no pull-up is known; what holds it high is not reckoned"] = None
            weakest = self._volts * (1 - self._volts_percent / 100) - facts().value("high output")
            can_source = weakest / (up * (1 + percent / 100)) if up is not None else sources
        else:
            can_source = facts().value(f"{_GIVES[part.kind]} sources" if part else "bus driver gives at high output")
        name = f"{driver} (open collector)" if open_collector else driver
        pulls = [*ups, *downs]
        return _Load(
            LineBudget(
                (net.name,),
                net.group,
                name,
                sinks,
                can_sink,
                sources,
                can_source,
                parallel(*pulls) if pulls else None,
                source,
            ),
            up,
            inputs,
            low,
        )

    def _inputs(self, driver: str, *, at_card: bool, led: int, gates: int, at_host: bool) -> int:
        """How many LS inputs hang on a line with that driver; behind a part of the adapter only those on its side.

        `at_card`, `at_host`: whether it has contacts there; `led`: how many lines of the card jumpers lead to it;
        `gates`: inputs of gates.
        """
        cards = self._card_inputs * (at_card + led)
        match driver:
            case "host":
                return cards + self._other_inputs + gates
            case "card":
                return self._a_slot * at_host + gates
            case "either":
                return cards + self._other_inputs + self._a_slot + gates
            case _:
                return cards + gates + self._a_slot * (at_host and not at_card)

    def _drives(self, net: Net, gates: list[Part]) -> Part | None:
        """The part that drives a line: a gate, or another one at the card's end."""
        if gates or net.host:
            return gates[0] if gates else None
        refs = {ref for ref, _ in net.parts}
        kinds = ("oscillator", "supervisor")
        return next(
            (p for p in self.adapter.parts if p.ref in refs and p.kind in kinds and net.signal in p.serves), None
        )

    def _sink(self, driver: str, signal: Signal, part: Part | None, *, open_collector: bool) -> tuple[float, str]:
        """What the driver of a line sinks, and where the figure comes from."""
        bus_driver = facts().constants["bus driver sinks"]
        if driver not in ("host", "card", "either"):
            what = "open-collector gate" if open_collector else _GIVES[part.kind] if part else "LS gate"
            gate = facts().constants[f"{what} sinks"]
            return gate.value, gate.source
        a_card = facts().constants["open collector sinks" if open_collector else "module sinks"]
        if driver == "card":
            if re.fullmatch(PATTERNS["A"], signal.sink):
                return parse(signal.sink, "A"), signal.source_of("sink")
            if open_collector:
                text = (
                    f"an open collector sinks {amps(a_card.value)} on other lines too than on those it is published for"
                )
            else:
                text = f"a card sinks {amps(a_card.value)} on a line, the least that is published"
            self.assumed[f"{text} ({a_card.source})"] = None
            return a_card.value, a_card.source
        if self.design.drive_a is None:
            text = f"the machine's drivers sink {amps(bus_driver.value)}, as bus drivers do ({bus_driver.source})"
            self.assumed[text] = None
        ours = (
            (bus_driver.value, bus_driver.source) if self.design.drive_a is None else (self.design.drive_a, "the file")
        )
        if driver == "either":
            self.assumed[f"a card drives data with a bus driver: {amps(bus_driver.value)} ({bus_driver.source})"] = None
            return min(ours, (bus_driver.value, bus_driver.source), key=lambda pair: pair[0])
        return ours

    def _pulls(self, net: Net, here: Signal | None) -> tuple[list[float], list[float]]:
        """The resistors on a net: those that pull it up, the machine's own among them, and those that pull it down."""
        ups: list[float] = []
        downs: list[float] = []
        own = lowest_pull(here.pull) if here else None
        if here and here.pull and own is None:
            self.assumed[f"{net.name}: the pull {here.pull} is not understood; it is not reckoned with"] = None
        elif own is not None:
            (ups if own[1] == "up" else downs).append(own[0])
        for ref, pad in net.parts:
            part = self._parts[ref]
            if part.kind != "resistor":
                continue
            ohms = parse(part.value, "Ω") if re.fullmatch(PATTERNS["Ω"], part.value) else 0.0
            if ohms <= 0:
                self.assumed[f"{ref}: its value {part.value} is not understood; it is not reckoned with"] = None
                continue
            others = [self._net_of_pin[ref, p] for p, _ in part.pins if p != pad]
            if any(n.group == "return" for n in others):
                downs.append(ohms)
            elif any(n.group == "supply" for n in others):
                ups.append(ohms)
        return ups, downs

    # ------------------------------------------------------------------ what is over

    def _judge(self, load: _Load, b: LineBudget) -> None:
        place = max(self.design.cards, key=lambda c: c.loads or 0).place if self.design.cards else self.design.place
        names = ranges(b.signals)
        if b.sinks_a > b.can_sink_a + TINY:
            self.findings.append(
                found(
                    "line-overloaded",
                    f"{names}: at the low level {amps(b.sinks_a)} flow into the driver ({b.driver}), which sinks "
                    f"{amps(b.can_sink_a)} ({b.source}): {count(load.inputs, 'LS load')} take {amps(load.inputs_a)}"
                    + (f", the pull-up of {_ohms(load.up_ohms)} the rest" if load.up_ohms is not None else ""),
                    self._less_load(load, b),
                    place,
                    signals=b.signals,
                )
            )
        if b.sources_a > b.can_source_a + TINY:
            giver = "the pull-up" if "open collector" in b.driver else "the driver"
            rest = ""
            if b.driver in ("host", "either"):
                most, high = (facts().constants[what] for what in ("bus driver sources", "high output"))
                rest = f", and up to {most.written} only with less than {high.value:g} V left ({most.source})"
            self.findings.append(
                found(
                    "line-overloaded",
                    f"{names}: at the high level {amps(b.sources_a)} are taken, and {giver} gives "
                    f"{amps(b.can_source_a)}{rest}",
                    "Let fewer cards hang on the line, or put a bus driver between the slot and the cards",
                    place,
                    signals=b.signals,
                )
            )

    def _less_load(self, load: _Load, b: LineBudget) -> str:
        """How many loads fit beside the pull, and which pull-up would fit beside the loads."""
        fits = int((b.can_sink_a - (b.sinks_a - load.inputs_a)) / facts().value("LS input low") + TINY)
        ways = []
        if fits > 0:
            ways.append(f"no more than {count(fits, 'LS load')} on each of these lines")
        if load.up_ohms is not None and load.inputs_a < b.can_sink_a:
            least = smallest_pull_up(
                b.can_sink_a,
                self._volts,
                facts().value("low output"),
                loads_a=load.inputs_a,
                supply_percent=self._volts_percent,
                resistor_percent=facts().value("resistor tolerance"),
            )
            ways.append(f"pull-ups of {_ohms(least)} or more, all in parallel")
        ways.append("a bus driver between the slot and the cards")
        text = listed(ways, "or")
        return f"{text[:1].upper()}{text[1:]}"

    # ------------------------------------------------------------------ words

    def _sentence(self, table: list[LineBudget], timing: Timing | None, returns: Returns | None) -> str:
        out = []
        over = [b for b in table if _share(b) > 1 + TINY]
        if over:
            out.append(f"Too much hangs on {listed(ranges(b.signals) for b in over)}")
        elif table:
            full = max(table, key=_share)
            low = full.sinks_a / full.can_sink_a >= full.sources_a / full.can_source_a if full.can_source_a else True
            takes, able = (full.sinks_a, full.can_sink_a) if low else (full.sources_a, full.can_source_a)
            out.append(
                f"Every driver holds its line: the fullest is {ranges(full.signals)} with {amps(takes)} of {amps(able)}"
            )
        else:
            out.append("No line is joined whose driver is known")
        if timing is not None:
            out.append(
                f"{timing.length_mm:g} mm are {'long' if timing.length_mm > timing.critical_mm else 'short'} for "
                f"edges of {timing.edge_s * 1e9:g} ns (long from {timing.critical_mm:.0f} mm on)"
            )
            if timing.cycle_s is not None:
                share = 2 * timing.delay_s / timing.cycle_s * 100
                out.append(f"there and back takes {share:.2g} % of a clock cycle")
        if returns is not None and returns.returns:
            out.append(f"{count(returns.signals, 'signal')} share {count(returns.returns, 'return')}")
        return f"{'; '.join(out)}."


_PULL = re.compile(
    r"(?P<low>\d+(?:\.\d+)?)\s*(?P<unit>[kM]?Ω)?\s*(?:[-–]\s*\d+(?:\.\d+)?\s*(?P<last>[kM]?Ω))?\s+(?P<to>up|down)"
)


def lowest_pull(text: str) -> tuple[float, str] | None:
    """Read a pull of a bus dictionary, like "4.7-10 kΩ up": its lowest resistance in Ω, and up or down.

    None where there is none, or one written otherwise.
    """
    match = _PULL.fullmatch(text.strip())
    unit = match and (match["unit"] or match["last"])
    if not match or not unit:
        return None
    ohms = parse(f"{match['low']} {unit}", "Ω")
    return (ohms, match["to"]) if ohms > 0 else None


def _share(b: LineBudget) -> float:
    """How much of what the driver manages is taken, at the worse level."""
    return max(
        b.sinks_a / b.can_sink_a if b.can_sink_a else float("inf"),
        b.sources_a / b.can_source_a if b.can_source_a else float(b.sources_a > 0) * 2,
    )


def _ohms(value: float | None) -> str:
    if value is None:
        return "none"
    return f"{value / 1000:.3g} kΩ" if value >= 1000 else f"{value:.3g} Ω"
