"""Length: against the edges and the clock, and the returns that lie beside the signals on the way."""

from __future__ import annotations

import math
from collections.abc import Iterable

from ..adapter import Adapter, Net
from ..design import Construction, Design
from ..errors import Place
from ..findings import Finding, found
from ..model import Group
from ..text import count, listed, natural, ranges
from . import Returns, Timing
from .facts import facts
from .signals import critical_mm, delay_s
from .supply_faults import TINY

#: Clock and command lines first: what goes wrong there goes wrong everywhere.
ORDER: tuple[Group, ...] = ("timing", "command", "control", "data", "address", "interrupt", "DMA")
_CRITICAL: tuple[Group, ...] = ("timing", "command")
_DELAYS: dict[Construction, str] = {
    "ribbon": "delay of a ribbon per metre",
    "point to point": "delay of a ribbon per metre",
    "printed board": "delay of an outer trace per metre",
}


class Length:
    """Reckons one design. `findings` and `assumed` collect what is to be said."""

    def __init__(self, adapter: Adapter, design: Design):
        self.adapter, self.design = adapter, design
        self.findings: list[Finding] = []
        self.assumed: dict[str, None] = {}

    def timing(self) -> Timing | None:
        """Hold the length against an edge and a cycle; None where it is not said how the adapter is built."""
        build = self.design.build
        if build is None:
            self.assumed["how it is built is not said: nothing is said of length and returns"] = None
            return None
        delay, edge = facts().constants[_DELAYS[build.construction]], facts().constants["edge of LS"]
        factor = facts().constants["critical length factor"]
        if build.construction == "point to point":
            self.assumed[f"single wires are as slow as a ribbon: {delay.written} per metre ({delay.source})"] = None
        if build.construction == "printed board":
            inner = facts().constants["delay of an inner trace per metre"]
            self.assumed[
                f"traces lie on an outer layer: {delay.written} per metre, where an inner one has {inner.written} "
                f"({inner.source})"
            ] = None
        fast = facts().constants["edge of fast logic"]
        self.assumed[
            f"an edge takes {edge.written}, as LS logic does ({edge.source}); one of fast logic takes {fast.written} "
            f"({fast.source}), for which a way is long from "
            f"{critical_mm(fast.value, delay.value, factor.value):.0f} mm on"
        ] = None
        cycle = None
        if self.design.clock_hz:
            cycle = 1 / self.design.clock_hz
        else:
            self.assumed["the bus clock is not said: the delay is held against nothing"] = None
        timing = Timing(
            build.length_mm,
            critical_mm(edge.value, delay.value, factor.value),
            edge.value,
            factor.value,
            delay_s(build.length_mm, delay.value),
            cycle,
            f"delay: {delay.source}; edge: {edge.source}; factor {factor.value:g}: {factor.source}",
        )
        if timing.length_mm > timing.critical_mm + TINY:
            clocks = [n.name for n in self.adapter.nets if n.group == "timing" and n.host and n.card]
            first = f" {listed(clocks)} suffer{'s' if len(clocks) == 1 else ''} first." if clocks else ""
            self.findings.append(
                found(
                    "line-long",
                    f"{build.length_mm:g} mm are long for an edge of {edge.value * 1e9:g} ns: from "
                    f"{timing.critical_mm:.0f} mm on (edge / ({factor.value:g} × {delay.value * 1e9:g} ns/m)) the echo "
                    f"of the far end comes after the edge.{first}",
                    f"Make it no longer than {timing.critical_mm:.0f} mm, lay a return beside each clock and command "
                    "line, or let the bus run slower and drivers with slower edges feed it",
                    build.place,
                )
            )
        self._judge_cycle(timing, delay.value, build.place)
        return timing

    def _judge_cycle(self, timing: Timing, delay: float, place: Place) -> None:
        """Hold the way there and back against a clock cycle: commands and data must settle within it."""
        if timing.cycle_s is None:
            return
        care, never = (facts().constants[f"there and back of a cycle {most}"] for most in ("at most", "in any case"))
        both = 2 * timing.delay_s
        share = both / timing.cycle_s * 100
        if share <= care.value + TINY:
            return
        over = never if share > never.value + TINY else care
        longest = math.floor(care.value / 100 * timing.cycle_s / (2 * delay) * 1000 + TINY)
        slowest = math.floor(care.value / 100 / both / 1e4 + TINY) / 100
        self.findings.append(
            found(
                "line-long",
                f"a signal is there and back within {over.value:g} % of a clock cycle ({over.source}): over "
                f"{timing.length_mm:g} mm it takes {both * 1e9:.3g} ns, {share:.3g} % of {timing.cycle_s * 1e9:.4g} ns",
                f"Make it no longer than {longest} mm, or let the bus run at no more than {slowest:g} MHz; both keep "
                f"it within {care.value:g} %",
                place,
                grade="fault" if over is never else "caution",
            )
        )

    # ------------------------------------------------------------------ returns

    def returns(self) -> Returns | None:
        """Count signals and returns in a ribbon or among single wires; None for a board, or where nothing is said."""
        build = self.design.build
        if build is None or build.construction == "printed board":
            return None
        wired = {c.label: net for net in self.adapter.nets if net.state in ("straight", "joined") for c in net.host}
        ribbon = build.construction == "ribbon"
        order = self._order() if ribbon else []
        signals = [net for net in self.adapter.nets if net.group in ORDER and net.host and (net.card or net.parts)]
        grounds = [label for label, net in wired.items() if net.group == "return"]
        if not ribbon:  # one wire of the plan from end to end for each pair of contacts
            joined = [n for n in self.adapter.nets if n.group == "return" and n.host and n.card]
            number = sum(min(len(n.host), len(n.card)) for n in joined)
        else:
            number = len(grounds)
        # Single wires have none to spare: one is laid only where it leads somewhere.
        spare = sorted(
            (
                c.label
                for c in self.adapter.host.by_label.values()
                if ribbon and c.role == "open" and c.seen != "guessed"
            ),
            key=natural,
        )
        far = self._far(order, signals, grounds) if ribbon else []
        if ribbon:
            self.assumed[
                "conductors lie in the order of the contacts, column by column across the rows, as a connector pressed "
                "onto a ribbon takes them (a header maker's data sheet)"
            ] = None
        returns = Returns(len(signals), number, tuple(far), tuple(spare))
        self._judge_returns(returns, len(grounds))
        return returns

    def _order(self) -> list[str]:
        """The contacts of the machine in the order of a ribbon's conductors: place by place, across the rows."""
        cells = self.adapter.host.body.cells
        return sorted(cells, key=lambda label: (cells[label][0], cells[label][2], cells[label][1]))

    def _far(self, order: list[str], signals: Iterable[Net], grounds: Iterable[str]) -> list[tuple[str, int]]:
        """Conductors from each signal to the nearest return: of all clock and command lines, of others if too many."""
        at = {label: i for i, label in enumerate(order)}
        places = [at[label] for label in grounds]
        most = facts().value("conductors to the nearest return at most")
        out = []
        for net in sorted(signals, key=lambda n: rank(n.group)):
            steps = min((abs(at[c.label] - p) for c in net.host for p in places), default=len(order))
            if net.group in _CRITICAL or steps > most:
                out.append((net.name, steps))
        return out

    def _judge_returns(self, returns: Returns, contacts: int) -> None:
        each, reach = (
            facts().constants["signals per return at most"],
            facts().constants["conductors to the nearest return at most"],
        )
        build = self.design.build
        if build is None or not returns.signals:
            return
        said, names = [], []
        if returns.signals > each.value * returns.returns:
            said.append(
                f"{count(returns.signals, 'signal')} share {count(returns.returns, 'return')}, more than "
                f"{each.value:g} to each"
            )
        far = [(name, steps) for name, steps in returns.far if steps > reach.value]
        if far:
            names = [name for name, _ in far]
            shown = listed(f"{name} ({steps})" for name, steps in far[:6])
            said.append(
                f"{count(len(far), 'line')} lie{'s' if len(far) == 1 else ''} more than {reach.value:g} conductors "
                f"from the nearest return: {shown}{' …' if len(far) > 6 else ''}"
            )
        if said:
            spare = returns.ground
            if spare:
                advice = (
                    f"Join the spare conductor{'s' if len(spare) != 1 else ''} of {ranges(spare)} to the return at the "
                    "card's end, once a meter says that the machine has nothing there: a screen, and a return where "
                    "the machine's contact can be joined too. For the others lay wires from return to return along the "
                    "ribbon"
                )
            elif contacts > returns.returns:
                more = count(contacts - returns.returns, "more wire")
                advice = f"Lay {more} from return to return: the machine has {count(contacts, 'contact')} for it"
            else:
                advice = "Lay wires of their own from return to return"
            self.findings.append(
                found(
                    "returns-far",
                    f"{'; '.join(said)} ({each.source})",
                    f"{advice}, beside the clock and command lines first; keep it short",
                    build.place,
                    contacts=spare,
                    signals=names,
                )
            )


def rank(group: str) -> int:
    """Where a group stands in `ORDER`."""
    return next((i for i, g in enumerate(ORDER) if g == group), len(ORDER))
