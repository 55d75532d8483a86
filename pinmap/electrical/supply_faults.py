"""What is to be said of a rail: what is over, and what to change, as computed advice."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

from msgspec import Struct

from ..adapter import Adapter
from ..design import Design
from ..errors import Place
from ..findings import Finding, Grade, found
from ..quantity import amps, volts
from ..text import count, listed
from . import Carrier, Draw, SupplyBudget
from .conductor_use import Conductor, bigger
from .facts import facts

#: Below what anybody measures: keeps a sum of decimals from counting as too much.
TINY = 1e-9

#: What stands behind the name of a carrier in the return.
IN_RETURN = ", in the return"


class Sent(Struct, frozen=True):
    """What the positive and the negative rails together send through the return, in A."""

    positive: float = 0.0
    negative: float = 0.0

    def with_sign(self, volts: float) -> float:
        """What the rails of that sign send."""
        return self.positive if volts >= 0 else self.negative

    @property
    def most(self) -> float:
        """What flows there at most: the others flow against it."""
        return max(self.positive, self.negative)


class Judge:
    """Says what is over in one design; `findings` collects it. `return_name` is what the return is called."""

    def __init__(self, adapter: Adapter, design: Design, conductor: Conductor | None, return_name: str):
        self.adapter, self.design, self.conductor, self.return_name = adapter, design, conductor, return_name
        self.findings: list[Finding] = []

    def rail(self, s: SupplyBudget, sent: Sent, feeder: str) -> list[str]:
        """Say what is over on a rail, and return what to change, the most pressing first.

        `sent` is what the machine's rails send through the return; `feeder` the part that makes the rail, "" for the
        machine itself.
        """
        place = self._place(s)
        if s.drawn_a <= 0:
            return [*(self._supply(s, feeder, place) if overdrawn(s) else []), *self._fuse_too_large(s)]
        change = self._supply(s, feeder, place)
        for carrier in s.carriers:
            change += self._fuse_too_small(s, carrier) if _is_fuse(carrier) else []
            change += self._overloaded(carrier, s.drawn_a, s.rail, place)
        change += self._drop(s, sent.with_sign(s.volts), place)
        change += self._lift(s, sent.with_sign(-s.volts), place)
        return change + self._fuse_too_large(s)

    def _supply(self, s: SupplyBudget, feeder: str, place: Place) -> list[str]:
        """What the machine, or the part that makes the rail, gives."""
        if s.limit_a is not None and overdrawn(s):
            over = s.drawn_a + s.others_a - s.limit_a
            who = f"{feeder} gives" if feeder else "the machine gives"
            own = f"choose a separate feed for {s.rail} in place of {feeder}" if feeder else _own_feed(s.rail)
            advice = f"Let cards draw {amps(over)} less, or {own}"
            if s.others_a > s.limit_a + TINY:  # nothing that is done at the adapter helps
                advice = (
                    f"Let the cards in the other slots draw {amps(over)} less, or correct the figure in other draws"
                )
            drawing = (
                [f"{_who(s.draws)} draw{'s' if len(s.draws) == 1 else ''} {amps(s.drawn_a)}"] if s.drawn_a > 0 else []
            )
            if s.others_a:
                drawing.append(f"the machine and its other slots {'' if drawing else 'draw '}{amps(s.others_a)}")
            self.findings.append(
                found(
                    "supply-overdrawn",
                    f"{s.rail}: {', '.join(drawing)}, and {who} no more than {amps(s.limit_a)}",
                    advice,
                    place,
                    signals=[s.rail],
                )
            )
            return [advice]
        if s.limit_a is None and not feeder:
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
        return []

    def _overloaded(self, carrier: Carrier, drawn: float, rail: str, place: Place) -> list[str]:
        total = carrier.total_a
        if (
            total is None
            or carrier.each_a is None
            or drawn <= total + TINY
            or carrier.what.startswith(("regulator", "fuse"))
        ):
            return []
        needed = _pieces(drawn, carrier.each_a)
        contact = carrier.what.startswith("contact")
        if contact:
            end = carrier.what.rpartition(" ")[2]
            # Whatever feeds the card comes and goes through the card's own contacts.
            other = (
                ""
                if end == "card"
                else ", or lay another wire from return to return"
                if rail == self.return_name
                else f", or {_own_feed(rail)}"
            )
            advice = (
                f"{needed} contacts at the {end}'s end would carry it, {count(needed - carrier.count, 'more', 'more')} "
                f"than there are: let cards draw {amps(drawn - total)} less{other}"
            )
        else:
            assert self.conductor is not None  # noqa: S101 - a carrier that is neither contact, fuse nor regulator
            ways = [wider] if (wider := bigger(self.conductor, drawn / carrier.count)) else []
            if not self.conductor.use.startswith("ribbon"):
                ways.append(f"lay {needed} side by side in place of {carrier.count}")
            elif not wider:  # every contact has its conductor, and no ribbon of more
                ways += [
                    f"let cards draw {amps(drawn - total)} less",
                    "lay another wire from return to return" if rail == self.return_name else _own_feed(rail),
                ]
            advice = _sentence(", or ".join(ways))
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

    def _drop(self, s: SupplyBudget, returned: float, place: Place) -> list[str]:
        """The low side: what the rail loses on its way, and what the rails of its sign make in the return."""
        lost = s.drop_v + s.return_v
        if not s.allowed_v or lost <= s.allowed_v * _share_lost() + TINY:
            return []
        fuse = " (the fuse not counted)" if s.without_fuse else ""
        return self._missed(
            s,
            f"{s.rail} arrives with as little as {volts(round(s.at_card_v, 3))} at the card: {volts_said(s.drop_v)} "
            f"are lost on the rail{fuse} and {volts_said(s.return_v)} on the return, ",
            lost,
            self._less_drop(s, returned),
            place,
        )

    def _lift(self, s: SupplyBudget, opposite: float, place: Place) -> list[str]:
        """The high side: what the rails of the other sign make in the return; these move it away from the rail."""
        if not s.allowed_v or s.lift_v <= s.allowed_v * _share_lost() + TINY:
            return []
        ways = self._ways(s.allowed_v * _share_lost(), s.lift_v, self._each((opposite, s.returns)))
        ways.append(f"lay another wire from return to return, or let the {_opposite(s)} rails bring less")
        others = f"the {_opposite(s)} rails while nothing is drawn from {s.rail}"
        return self._missed(
            s,
            f"{s.rail} arrives with as much as {volts(round(s.most_v, 3))} at the card: the currents of {others} shift "
            f"the return by {volts_said(s.lift_v)}, ",
            s.lift_v,
            _sentence(listed(ways, "or")),
            place,
        )

    def _missed(self, s: SupplyBudget, message: str, by: float, advice: str, place: Place) -> list[str]:
        over = by > s.allowed_v + TINY
        allowed = volts_said(s.allowed_v)
        tail = (
            f"more than the {allowed} allowed"
            if over
            else f"more than half of the {allowed} allowed, and the machine's own is not exact"
        )
        self.findings.append(
            found(
                "supply-drop",
                message + tail,
                advice,
                place if self.design.build is None else self.design.build.place,
                signals=[s.rail],
                grade="fault" if over else "caution",
            )
        )
        return [advice]

    def _each(self, *ways: tuple[float, Iterable[Carrier]]) -> list[float]:
        """What one conductor carries, in A, where so many amperes go these ways; each loses it by every ohm."""
        one = self.conductor
        if one is None or self.design.build is None:
            return []
        return [sent / c.count for sent, carriers in ways for c in carriers if c.what == one.name]

    def _ways(self, target: float, lost: float, each: list[float]) -> list[str]:
        """The thicker conductor and the shorter way that bring what is lost to a target, as far as there are such.

        No way is shorter than connectors can still be joined by.
        """
        one, per_ohm = self.conductor, math.fsum(each)
        if one is None or not per_ohm:
            return []
        ohms = (target - lost) / per_ohm + one.ohms  # what one conductor may have
        thicker, shorter = bigger(one, max(each), ohms), math.floor(ohms / one.ohm_per_m * 1000 + TINY)
        out = [thicker] if thicker else []
        return [*out, f"make it no longer than {shorter} mm"] if shorter >= facts().value("way at least") else out

    def _less_drop(self, s: SupplyBudget, returned: float) -> str:
        """What brings the drop to half of the tolerance: a shorter way, a thicker conductor, or a feed of its own."""
        target, lost, one = s.allowed_v * _share_lost(), s.drop_v + s.return_v, self.conductor
        each = self._each((s.drawn_a, s.carriers), (returned, s.returns))
        own = f", or {_own_feed(s.rail)}" if any(c.what.endswith(" of the machine") for c in s.carriers) else ""
        more = f"more contacts for {s.rail} and the return{own}"
        what = "contacts"
        if any(_is_fuse(c) and c.ohms for c in s.carriers):
            what = "contacts and the fuse"
            more = f"a fuse of less resistance, {more}"
        if one is None or not math.fsum(each):
            return _sentence(more)
        rest = lost - math.fsum(each) * one.ohms
        if rest >= target:
            return f"The {what} alone lose {volts_said(rest)}: {more}"
        ways = self._ways(target, lost, each)
        if ways:
            text = f"{listed(ways, 'or')}{own}"
        else:
            widest, least = (facts().value(what) for what in ("trace wide at most", "way at least"))
            size = f"trace up to {widest:g} mm wide" if one.trace_mm is not None else "wire in the table"
            text = (
                f"no {size} brings enough, and no way of {least:g} mm or more: more contacts and wires for {s.rail} "
                f"and the return{own}"
            )
        if s.return_v <= s.drop_v:
            return _sentence(text)
        return (
            "The shared return loses the most of it: lay another wire from return to return; "
            f"{text[:1].lower()}{text[1:]}"
        )

    # ------------------------------------------------------------------ fuses

    def _fuse_too_small(self, s: SupplyBudget, fuse: Carrier) -> list[str]:
        """A fuse carries what its rail draws, and is not loaded to its rating for good."""
        share, most = facts().constants["fuse loaded at most"], bears(fuse)
        if fuse.each_a is None or most is None or s.drawn_a <= most + TINY:
            return []
        over = s.drawn_a > fuse.each_a + TINY
        rated = f"{fuse.what} in {s.rail} is for {amps(fuse.each_a)}, and {amps(s.drawn_a)} are drawn"
        self._of_fuse(
            "fuse-too-small",
            f"a fuse carries what its rail draws: {rated}"
            if over
            else f"a fuse is loaded with no more than {share.value:g} % of its rating ({share.source}): {rated}",
            s,
            "fault" if over else "caution",
        )
        return [self._right_fuse(s)]

    def _fuse_too_large(self, s: SupplyBudget) -> list[str]:
        """A fuse protects what stands before and behind it only where that carries, or gives, more than the fuse."""
        fuse = next((c for c in s.carriers if _is_fuse(c)), None)
        weak, most = _protected(s)
        if fuse is None or fuse.each_a is None or most is None or most <= 0 or fuse.each_a <= most + TINY:
            return []
        self._of_fuse(
            "fuse-too-large",
            f"a fuse gives way before what it protects: {fuse.what} in {s.rail} is for {amps(fuse.each_a)}, and "
            f"{weak} {amps(most)}",
            s,
            "caution",
        )
        return [self._right_fuse(s)]

    def _of_fuse(self, code: str, message: str, s: SupplyBudget, grade: Grade) -> None:
        place = next((f.place for f in self.design.fuses if f.rail == s.rail), self.design.place)
        self.findings.append(found(code, message, self._right_fuse(s), place, signals=[s.rail], grade=grade))

    def _right_fuse(self, s: SupplyBudget) -> str:
        """The ratings that fit: from what is drawn, to what the weakest on the way carries or the machine gives."""
        weak, most = _protected(s)
        share = facts().value("fuse loaded at most")
        least = _rounded(s.drawn_a / share * 100, math.ceil)
        if most is None:
            return f"Take a fuse for {amps(least)} or more"
        if most <= 0:
            return f"No fuse fits: {weak} nothing"
        most = _rounded(most, math.floor)
        if least > most:
            return (
                f"No fuse fits: {amps(s.drawn_a)} need one for {amps(least)} or more, and {weak} {amps(most)}: let "
                f"cards draw no more than {amps(_rounded(most * share / 100, math.floor))}, or {_own_feed(s.rail)}"
            )
        if not s.drawn_a:
            return f"Take a fuse for {amps(most)} or less"
        ratings = f"{amps(least)} to {amps(most)}" if least < most else amps(most)
        return f"Take a fuse for {ratings}; {amps(s.drawn_a)} are drawn"

    def returns(self, returns: Iterable[tuple[Carrier, float]]) -> None:
        """The returns are judged once, for all rails: each carrier with what it carries, in A."""
        place = max(self.design.cards, key=lambda c: sum(c.draws_a.values())).place if self.design.cards else None
        for carrier, returned in returns:
            self._overloaded(carrier, returned, self.return_name, place or self.design.place)

    def _place(self, s: SupplyBudget) -> Place:
        """Where the file has what draws most from a rail."""
        by_name = {c.name: c.place for c in self.design.cards}
        for draw in sorted(s.draws, key=lambda d: -d.amps):
            if draw.who in by_name:
                return by_name[draw.who]
        return self.design.place


def _share_lost() -> float:
    """A drop beyond this share of the tolerance is a caution."""
    return facts().value("share of the tolerance lost at most") / 100


def _own_feed(rail: str) -> str:
    """How to feed a rail that the machine brings from elsewhere, as the end of a sentence: no remedy is for such a one.

    Not by writing open: contacts that are open are offered as spare conductors for the return.
    """
    return (
        f"feed {rail} from a supply of its own: in a copy of the machine's map write ? at its contacts, then choose a "
        "separate feed for it; never join the two"
    )


def said(carrier: Carrier) -> str:
    """How many there are of what: 2 contacts of the card."""
    if carrier.count == 1:
        return carrier.what
    what, of, size = carrier.what.partition(" of ")
    return f"{carrier.count} {what}s{of}{size}"


def _is_fuse(carrier: Carrier) -> bool:
    return carrier.what.startswith("fuse")


def bears(carrier: Carrier) -> float | None:
    """What may be drawn through all pieces of a carrier for good, in A: of a fuse no more than a share of its rating.

    None where it is not known.
    """
    total = carrier.total_a
    return total * facts().value("fuse loaded at most") / 100 if total is not None and _is_fuse(carrier) else total


def overdrawn(s: SupplyBudget) -> bool:
    """Whether more is drawn from a rail, beside the adapter too, than is given."""
    return bool(s.carriers) and s.limit_a is not None and s.drawn_a + s.others_a > s.limit_a + TINY


def _protected(s: SupplyBudget) -> tuple[str, float | None]:
    """What bears the least of all that a fuse in the rail protects, in words up to the figure, and the figure in A."""
    here = [(said(c), c) for c in s.carriers if not _is_fuse(c)]
    back = [(f"{said(c)}{IN_RETURN}", c) for c in s.returns]
    each = [
        (f"{what} carr{'ies' if c.count == 1 else 'y'}", c.total_a) for what, c in here + back if c.total_a is not None
    ]
    if s.limit_a is not None:
        beside = "beside its other draws " if s.others_a else ""
        each.append((f"{beside}the machine gives", s.limit_a - s.others_a))
    return min(each, key=lambda pair: pair[1], default=("", None))


def _opposite(s: SupplyBudget) -> str:
    return "negative" if s.volts >= 0 else "positive"


def _rounded(value: float, to: Callable[[float], int]) -> float:
    """Three figures, rounded up or down by `to`: advice must not leave what it stands on."""
    if value <= 0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(value)) - 2)
    return to(round(value / step, 6)) * step


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _pieces(drawn: float, each: float) -> int:
    return math.ceil(drawn / each - TINY)


def _who(draws: Iterable[Draw]) -> str:
    return listed(dict.fromkeys(d.who for d in draws))


def volts_said(value: float) -> str:
    """Write a difference of volts the way a bench does: 1.2 V, 45.3 mV."""
    return f"{value:.3g} V" if abs(value) >= 1 else f"{value * 1000:.3g} mV"
