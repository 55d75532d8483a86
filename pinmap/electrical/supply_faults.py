"""What is to be said of a rail: what is over, and what to change, as computed advice."""

from __future__ import annotations

import math
from collections.abc import Iterable

from ..adapter import Adapter
from ..design import Design
from ..errors import Place
from ..findings import Finding, found
from ..quantity import amps
from ..text import count, listed
from . import Carrier, Draw, SupplyBudget
from .conductor_use import Conductor, bigger

#: A drop beyond this share of the tolerance is a caution: the rest is for the machine's own supply, which is not exact
#: either. Common practice, no source.
DROP_SHARE = 0.5

#: Below what anybody measures: keeps a sum of decimals from counting as too much.
TINY = 1e-9


class Judge:
    """Says what is over in one design; `findings` collects it. `return_name` is what the return is called."""

    def __init__(self, adapter: Adapter, design: Design, conductor: Conductor | None, return_name: str):
        self.adapter, self.design, self.conductor, self.return_name = adapter, design, conductor, return_name
        self.findings: list[Finding] = []

    def rail(self, s: SupplyBudget, returned: float, feeder: str, conductors: int) -> list[str]:
        """Say what is over on a rail, and return what to change, the most pressing first.

        `returned` is what its return carries, in A; `feeder` the part that makes the rail, "" for the machine itself;
        `conductors` how many lie side by side.
        """
        place = self._place(s)
        change: list[str] = []
        if s.limit_a is not None and s.drawn_a > s.limit_a + TINY:
            over = s.drawn_a - s.limit_a
            who = f"{feeder} gives" if feeder else "the machine gives"
            change.append(f"Feed {s.rail} from a supply of its own, or let cards draw {amps(over)} less")
            self.findings.append(
                found(
                    "supply-overdrawn",
                    f"{s.rail}: {_who(s.draws)} draw{'s' if len(s.draws) == 1 else ''} {amps(s.drawn_a)}, and {who} "
                    f"no more than {amps(s.limit_a)}",
                    change[-1],
                    place,
                    signals=[s.rail],
                )
            )
        elif s.limit_a is None and not feeder:
            self.findings.append(
                found(
                    "supply-unknown-limit",
                    f"the map of {self.adapter.host.name} does not say what {s.rail} can deliver; {amps(s.drawn_a)} "
                    "are drawn",
                    f"Find the machine's figure and write it under supplies: {s.rail}: {{limit: …}}",
                    place,
                    signals=[s.rail],
                )
            )
        for carrier in s.carriers:
            change += self._overloaded(carrier, s.drawn_a, s.rail, place)
        change += self._drop(s, returned, conductors, place)
        self._fuse_fits(s)
        return change

    def _overloaded(self, carrier: Carrier, drawn: float, rail: str, place: Place) -> list[str]:
        total = carrier.total_a
        if total is None or carrier.each_a is None or drawn <= total + TINY or carrier.what.startswith("regulator"):
            return []
        needed = _pieces(drawn, carrier.each_a)
        if carrier.what.startswith("fuse"):
            self.findings.append(
                found(
                    "fuse-too-small",
                    f"a fuse carries what its rail draws: {carrier.what} in {rail} is for {amps(total)}, and "
                    f"{amps(drawn)} are drawn",
                    f"Take one for {amps(drawn)} or more that is no larger than what follows it carries",
                    next((f.place for f in self.design.fuses if f.rail == rail), place),
                    signals=[rail],
                )
            )
            return [f"Take a fuse for {amps(drawn)} or more"]
        contact = carrier.what.startswith("contact")
        if contact:
            end = carrier.what.rpartition(" ")[2]
            other = (
                "lay another wire from return to return"
                if rail == self.return_name
                else f"bring {rail} by a separate feed"
            )
            advice = (
                f"{needed} contacts at the {end}'s end would carry it, {count(needed - carrier.count, 'more', 'more')} "
                f"than there are: let cards draw {amps(drawn - total)} less, or {other}"
            )
        else:
            assert self.conductor is not None  # noqa: S101 - a carrier that is neither contact, fuse nor regulator
            wider = bigger(self.conductor, drawn / carrier.count)
            more = f"{needed} side by side in place of {carrier.count}"
            advice = f"{wider}, or lay {more}" if wider else f"Lay {more}"
        self.findings.append(
            found(
                "contact-overloaded" if contact else "conductor-overloaded",
                f"{rail}: {amps(drawn)} through {said(carrier)} "
                f"that carr{'ies' if carrier.count == 1 else 'y'} {amps(total)} ({amps(carrier.each_a)} each; "
                f"{carrier.source})",
                advice,
                place if contact or self.design.build is None else self.design.build.place,
                signals=[rail],
                grade="danger",
            )
        )
        return [advice]

    def _drop(self, s: SupplyBudget, returned: float, conductors: int, place: Place) -> list[str]:
        lost = s.drop_v + s.return_v
        if not s.allowed_v or lost <= s.allowed_v * DROP_SHARE + TINY:
            return []
        over = lost > s.allowed_v + TINY
        advice = self._less_drop(s, returned, conductors)
        self.findings.append(
            found(
                "supply-drop",
                f"{s.rail} arrives with {volts_said(s.at_card_v)} at the card: {volts_said(s.drop_v)} are lost on the "
                f"rail and {volts_said(s.return_v)} on the return, "
                + (
                    f"more than the {volts_said(s.allowed_v)} allowed"
                    if over
                    else f"more than half of the {volts_said(s.allowed_v)} allowed, and the machine's own is not exact"
                ),
                advice,
                place if self.design.build is None else self.design.build.place,
                signals=[s.rail],
                grade="fault" if over else "caution",
            )
        )
        return [advice]

    def _less_drop(self, s: SupplyBudget, returned: float, conductors: int) -> str:
        """What brings the drop to half of the tolerance: a shorter way, a thicker conductor, or a feed of its own."""
        target = s.allowed_v * DROP_SHARE
        one = self.conductor
        per_ohm = sum(
            current / carrier.count
            for current, carriers in ((s.drawn_a, s.carriers), (returned, s.returns))
            for carrier in carriers
            if one is not None and carrier.what == one.name
        )
        if one is None or self.design.build is None or not per_ohm:
            return f"More contacts for {s.rail} and the return, or a separate feed"
        rest = s.drop_v + s.return_v - per_ohm * one.ohms
        ohms = (target - rest) / per_ohm  # what one conductor may have
        if ohms <= 0:
            more = f"more contacts for {s.rail} and the return, or a separate feed"
            return f"The contacts alone lose {volts_said(rest)}: {more}"
        shorter = math.floor(ohms / one.ohm_per_m * 1000)
        ways = [f"make it no longer than {shorter} mm"]
        thicker = bigger(one, max(s.drawn_a, returned) / max(conductors, 1), ohms)
        if thicker:
            ways.insert(0, thicker)
        text = f"{listed(ways, 'or')}, or bring {s.rail} by a separate feed"
        return f"{text[:1].upper()}{text[1:]}"

    def _fuse_fits(self, s: SupplyBudget) -> None:
        """A fuse protects what stands behind it only where that carries more than the fuse."""
        fuse = next((c for c in s.carriers if c.what.startswith("fuse")), None)
        if fuse is None or fuse.each_a is None:
            return
        others = [c for c in s.carriers if c is not fuse and c.total_a is not None]
        weak = min(others, key=lambda c: c.total_a or 0.0, default=None)
        if weak is None or weak.total_a is None or fuse.each_a <= weak.total_a + TINY:
            return
        self.findings.append(
            found(
                "fuse-too-large",
                f"a fuse gives way before what it protects: {fuse.what} in {s.rail} is for {amps(fuse.each_a)}, and "
                f"{said(weak)} carr{'ies' if weak.count == 1 else 'y'} {amps(weak.total_a)}",
                f"Take one for {amps(weak.total_a)} or less; {amps(s.drawn_a)} are drawn",
                next((f.place for f in self.design.fuses if f.rail == s.rail), self.design.place),
                signals=[s.rail],
            )
        )

    def returns(self, returns: Iterable[Carrier], returned: float) -> None:
        """The returns are judged once, for all rails."""
        if returned:
            place = max(self.design.cards, key=lambda c: sum(c.draws_a.values())).place if self.design.cards else None
            for carrier in returns:
                self._overloaded(carrier, returned, self.return_name, place or self.design.place)

    def _place(self, s: SupplyBudget) -> Place:
        """Where the file has what draws most from a rail."""
        by_name = {c.name: c.place for c in self.design.cards}
        for draw in sorted(s.draws, key=lambda d: -d.amps):
            if draw.who in by_name:
                return by_name[draw.who]
        return self.design.place


def said(carrier: Carrier) -> str:
    """How many there are of what: 2 contacts of the card."""
    if carrier.count == 1:
        return carrier.what
    what, of, size = carrier.what.partition(" of ")
    return f"{carrier.count} {what}s{of}{size}"


def _pieces(drawn: float, each: float) -> int:
    return math.ceil(drawn / each - TINY)


def _who(draws: Iterable[Draw]) -> str:
    return listed(dict.fromkeys(d.who for d in draws))


def volts_said(value: float) -> str:
    """Write a difference of volts the way a bench does: 1.2 V, 45.3 mV."""
    return f"{value:.3g} V" if abs(value) >= 1 else f"{value * 1000:.3g} mV"
