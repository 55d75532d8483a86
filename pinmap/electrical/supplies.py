"""The rails of a design: who draws what, what carries it, what is lost on the way, and what gives way first.

How it is reckoned, to the safe side but for what `Budget.assumed` says (copper at 20 °C, fuses without resistance):

- The machine gives the nominal volts; a card draws its figure or nothing, and no two need draw at once.
- Pieces side by side (contacts, conductors) share evenly. They never quite do, so a rail near its limit has none left.
- A fuse is good for no more than a share of its rating (`fuse loaded at most` in the facts): `left_a` counts from that.
- All that is drawn from a rail passes its contacts at both ends, what parts of the adapter take for themselves too.
  What the machine itself and the cards in its other slots draw shares the machine's limit and passes none of them.
- In the return the currents of the negative rails flow against those of the positive ones. Those of the rails of one
  sign move the card's return towards them: these rails arrive smaller, those of the other sign larger. So at the low
  side a rail loses its own drop and what all rails of its sign make in the return, while the others draw nothing; at
  the high side it is larger by what the rails of the other sign make there, while nothing is drawn from itself. The
  contacts and conductors of the return carry the larger of the two sums.
- What a part makes of another rail comes from the machine through that one and is counted once. A rail that is made, or
  fed in, at the card passes no more than the contacts of the card, and no more of the return than these.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping

from msgspec import Struct
from msgspec.structs import replace

from ..adapter import Adapter, Net, Unmapped
from ..body import Body, Form
from ..design import Design, Fuse
from ..findings import Finding, found
from ..model import Contact, Signal
from ..parts import FEEDING, Part
from ..quantity import amps
from ..text import count, listed
from ..wiring import wires
from . import Carrier, Draw, SupplyBudget
from .conductor_use import Conductor
from .facts import facts
from .regulator import regulator_gives_a
from .supply_faults import IN_RETURN, TINY, Judge, Sent, bears, overdrawn, said, volts_said

_CONTACT: dict[Form, str] = {
    "edge slot": "contact of an edge slot",
    "edge fingers": "contact of an edge slot",
    "din 41612": "contact of DIN 41612",
    "pin header": "contact of a pin header",
    "socket header": "contact of a pin header",
    "box header": "contact of a pin header",
}
_AT_CARD = "contact of the card"
#: What is said of a value in a file that is then left out.
_REFUSED = frozenset({"key-unknown", "key-missing", "key-twice", "value-shape", "supply-unknown", "option-unknown"})


class Supplies(Struct, frozen=True):
    """The table of supplies, the sentence on it, what was found and assumed.

    `one_carries_a` is the most that one conductor of a rail or return carries, in A.
    """

    table: tuple[SupplyBudget, ...]
    said: str
    findings: tuple[Finding, ...] = ()
    assumed: tuple[str, ...] = ()
    one_carries_a: float = 0.0


def supplies(adapter: Adapter, design: Design, conductor: Conductor | None) -> Supplies:
    """Return how the rails of `design` fare on `adapter`, over supplies' conductors as `conductor`."""
    return _Supplies(adapter, design, conductor).result()


class _Way(Struct, frozen=True):
    """How a rail comes to the card: the machine's contacts, conductors, the part that feeds it, the card's contacts.

    `brought` is false where nothing feeds it.
    """

    host: tuple[Contact, ...] = ()
    card: tuple[Contact, ...] = ()
    conductors: int = 0
    feeder: Part | None = None
    fuse: Part | None = None

    @property
    def brought(self) -> bool:
        return bool(self.host) or self.feeder is not None

    @property
    def at_card(self) -> bool:
        """Whether a part at the card makes the rail, or takes it in."""
        return not self.host and self.feeder is not None


class _Return(Struct, frozen=True):
    """The return: what it passes, and what is sent through the contacts of the card and through all before them.

    What is fed in at the card goes back there.
    """

    carriers: tuple[Carrier, ...]
    from_machine: Sent
    at_card: Sent

    def sent(self, carrier: Carrier) -> Sent:
        return self.at_card if carrier.what == _AT_CARD else self.from_machine

    def of(self, way: _Way) -> tuple[Carrier, ...]:
        """The part of the return that a rail's current passes."""
        if not way.brought:
            return ()
        return tuple(c for c in self.carriers if c.what == _AT_CARD) if way.at_card else self.carriers

    def volts(self, carriers: Iterable[Carrier], sign: float) -> float:
        """What the rails of that sign make in these carriers, in V."""
        return math.fsum(self.sent(c).with_sign(sign) * c.ohms / c.count for c in carriers)


class _Supplies:
    """Reckons one design."""

    def __init__(self, adapter: Adapter, design: Design, conductor: Conductor | None):
        self.adapter, self.design, self.conductor = adapter, design, conductor
        self.findings: list[Finding] = []
        self.assumed: dict[str, None] = {}
        self._done: dict[str, SupplyBudget] = {}
        self._wires = wires(adapter)
        self._parts = {part.ref: part for part in adapter.parts}
        self._rails = self._rails_of_card()
        self._judge = Judge(adapter, design, conductor, self._return_name())
        self._ways = {rail: self._way(rail, "supply") for rail in self._rails}

    def result(self) -> Supplies:
        draws = self._draws()
        back = self._way(self._return_name(), "return")
        returns = _Return(
            self._carriers(back, self._return_name()),
            self._sent(draws, lambda way: bool(way.host)),
            self._sent(draws, lambda way: way.brought),
        )
        # What a rail is made of comes before it: that rail's rest is all that it has, too.
        for rail in sorted(self._rails, key=lambda r: bool(self._made_from(r))):
            self._done[rail] = self._budget(rail, draws[rail], returns)
        table = tuple(self._done[rail] for rail in self._rails)
        self._say_shared(table)
        self._judge.returns((c, returns.sent(c).most) for c in returns.carriers)
        pieces = [(back, returns.from_machine.most), *((self._ways[s.rail], s.drawn_a) for s in table)]
        most = max((drawn / way.conductors for way, drawn in pieces if way.conductors), default=0.0)
        return Supplies(
            table, self._sentence(table), (*self.findings, *self._judge.findings), tuple(self.assumed), most
        )

    # ------------------------------------------------------------------ what there is

    def _rails_of_card(self) -> dict[str, Signal]:
        """The supplies that the card has contacts for, and those from which parts make them, in the bus's order."""
        bus = self.adapter.card.bus
        out = {c.signal.name: c.signal for c in self.adapter.card.carrying() if c.signal and c.signal.group == "supply"}
        for part in self.adapter.parts:
            if part.fed_by and part.fed_by in bus.signals:
                out.setdefault(part.fed_by, bus.signals[part.fed_by])
        order = {name: i for i, name in enumerate(bus.signals)}
        return {name: out[name] for name in sorted(out, key=lambda n: order.get(n, len(order)))}

    def _return_name(self) -> str:
        return next((n.signal for n in self.adapter.nets if n.group == "return" and n.host and n.card and n.signal), "")

    def _here(self, contact: Contact) -> str:
        """The name on the card's bus of what a contact of the machine carries."""
        if contact.signal is None:
            return ""
        host = self.adapter.host
        there = None
        if contact.signal.name not in host.own:
            there = host.bus.counterpart(contact.signal, self.adapter.card.bus)[0]
        return there.name if there else contact.signal.name

    def _way(self, rail: str, group: str) -> _Way:
        nets = [n for n in self.adapter.nets if n.group == group and n.state != "conflict"]
        card = [c for n in nets for c in n.card if c.signal and c.signal.name == rail]
        feeding = [p for p in self.adapter.parts if p.kind in FEEDING and p.feeds == rail]
        fuse = next((p for p in feeding if p.kind == "fuse"), None)
        feeder = next((p for p in feeding if p.kind != "fuse"), None)
        through = [n for n in nets if any(self._here(c) == rail for c in n.host) and (n.card or n.parts)]
        host = [c for n in through for c in n.host]
        return _Way(tuple(host), tuple(card), self._conductors(through, host, fuse), feeder, fuse)

    def _conductors(self, nets: list[Net], host: list[Contact], fuse: Part | None) -> int:
        """How many conductors lie side by side.

        Every contact of a ribbon's connector has a conductor of its own; in single wires and on a board there is one
        for each wire of the plan from end to end, and one where a fuse stands between.
        """
        build = self.design.build
        if not host or build is None:
            return 0
        if build.construction == "ribbon":
            return len(host)
        names = {n.name for n in nets}
        across = sum(
            w.kind == "wire" and w.start.end == "host" and w.stop.end == "card" and w.signal in names
            for w in self._wires
        )
        return 1 if fuse is not None else max(across, 1)

    def _made_from(self, rail: str) -> str:
        """The rail from which a part of the adapter makes this one; "" where the machine or another feed gives it."""
        feeder = self._ways[rail].feeder if rail in self._ways else None
        return feeder.fed_by if feeder is not None and feeder.fed_by != rail else ""

    # ------------------------------------------------------------------ draws

    def _draws(self) -> dict[str, list[Draw]]:
        """What is drawn from each rail: by the cards, by the parts for themselves, and by what parts make of it."""
        out: dict[str, list[Draw]] = {rail: [] for rail in self._rails}
        for card in self.design.cards:
            by_kind = facts().kinds.get(card.kind, {})
            if not card.draws_a and not by_kind:
                what = f"no figure is known for the kind {card.kind}" if card.kind else "it has no kind either"
                self.assumed[f"{card.name}: nothing is counted, for the file does not say what it draws"] = None
                self.findings.append(
                    found(
                        "figure-assumed",
                        f"a card says what it draws, and {card.name} does not ({what}): it is counted as nothing",
                        "Write what its label, its manual or a meter says under draws",
                        card.place,
                        grade="caution",
                    )
                )
            thumbs = {rail: a for rail, a in by_kind.items() if rail not in card.draws_a}
            for rail, current in {**card.draws_a, **thumbs}.items():
                if rail in out:
                    out[rail].append(Draw(card.name, current, thumb=rail in thumbs))
            if thumbs:
                said = listed(f"{amps(a)} from {rail}" for rail, a in thumbs.items())
                text = f"{card.name} draws {said}: a rule of thumb for {card.kind} ({facts().kinds_source})"
                self.assumed[text] = None
                self.findings.append(
                    found("figure-assumed", text, "Write what its label or a meter says under draws", card.place)
                )
        for part in self.adapter.parts:
            for rail, current in part.draws_a.items():
                if rail in out and current > 0:
                    out[rail].append(Draw(part.ref, current))
        self._hand_down(out)
        return out

    def _hand_down(self, draws: dict[str, list[Draw]]) -> None:
        """Count what is drawn from a rail that a part makes with the rail from which it makes it, as a regulator does.

        A regulator that makes −5 V of −12 V passes the same current on: it turns the volts between into heat.
        """
        done: set[str] = set()
        while len(done) < len(self._rails):
            ready = [r for r in self._rails if r not in done and not (self._feeding(r) - done)]
            if not ready:  # parts that feed each other in a circle: nothing sound can be said
                return
            for rail in ready:
                done.add(rail)
                source, each = self._made_from(rail), draws[rail]
                part = self._ways[rail].feeder
                if source in draws and each and part is not None:
                    total = math.fsum(d.amps for d in each)
                    draws[source].append(Draw(f"{rail} by {part.ref}", total, any(d.thumb for d in each)))

    def _feeding(self, rail: str) -> set[str]:
        """The rails that are made of this one."""
        return {r for r in self._rails if self._made_from(r) == rail}

    def _sent(self, draws: Mapping[str, list[Draw]], passes: Callable[[_Way], bool]) -> Sent:
        """What the rails whose way `passes` send back; what is made of another rail is counted with that."""
        positive: list[float] = []
        negative: list[float] = []
        for rail, each in draws.items():
            if passes(self._ways[rail]) and not self._made_from(rail):
                (positive if (self._rails[rail].volts or 0.0) >= 0 else negative).extend(d.amps for d in each)
        return Sent(math.fsum(positive), math.fsum(negative))

    # ------------------------------------------------------------------ carriers

    def _carriers(self, way: _Way, rail: str) -> tuple[Carrier, ...]:
        """Everything that the current passes, from the machine to the card."""
        out = []
        if way.host:
            out.append(self._contacts("machine", len(way.host), self.adapter.host_connector.body))
        if way.conductors and self.conductor is not None:
            one = self.conductor
            out.append(Carrier(one.name, way.conductors, one.allowed_a, one.ohms, one.source))
        if way.feeder is not None and way.feeder.kind == "regulator":
            source = f"class 79L05: {facts().source('regulator gives')}"
            heat, warm = (facts().constants[f"regulator heat {what}"] for what in ("at most", "holds up to"))
            self.assumed[
                f"{way.feeder.ref} gets rid of {heat.value:g} W, in free air of no more than {warm.value:g} °C "
                f"({heat.source}): in a warmer case it gives less"
            ] = None
            out.append(Carrier(f"regulator {way.feeder.ref}", 1, self._regulator_a(rail, way.feeder), 0.0, source))
        if way.fuse is not None:
            fuse = self._fuse(rail, way.fuse)
            ohms = fuse.ohms if fuse else None
            source = "the file" if ohms is not None else "the file; resistance not said"
            out.append(Carrier(f"fuse {way.fuse.ref}", 1, fuse.rating_a if fuse else None, ohms or 0.0, source))
            if ohms is None:
                self.assumed[
                    f"what the fuse {way.fuse.ref} loses is not in the drop of {rail}: its resistance is not said "
                    f"(fuses: {rail}: {{resistance: …}})"
                ] = None
        if way.card:
            out.append(self._contacts("card", len(way.card), self.adapter.card_connector.body))
        return tuple(out)

    def _regulator_a(self, rail: str, part: Part) -> float:
        """What a regulator gives: no more than it is rated for, nor than the volts across it let it in heat."""
        feed = self._rails.get(part.fed_by)
        volts, percent = (feed.volts or 0.0, feed.tolerance_percent or 0.0) if feed else (0.0, 0.0)
        return regulator_gives_a(facts(), volts, percent, self._rails[rail].volts or 0.0)

    def _fuse(self, rail: str, part: Part) -> Fuse | None:
        return next((f for f in self.design.fuses if f.rail in (rail, part.feeds)), None)

    def _contacts(self, whose: str, number: int, body: Body) -> Carrier:
        ohms = facts().constants[_CONTACT[body.form]]
        source = dict(body.sources).get("rating", "")
        said = f"rating: {source}; resistance: {ohms.source}" if source else f"resistance: {ohms.source}"
        return Carrier(f"contact of the {whose}", number, body.rating_a, ohms.value, said)

    # ------------------------------------------------------------------ one rail

    def _budget(self, rail: str, draws: list[Draw], all_returns: _Return) -> SupplyBudget:
        signal, way = self._rails[rail], self._ways[rail]
        carriers, returns = self._carriers(way, rail) if way.brought else (), all_returns.of(way)
        fuse = self._fuse(rail, way.fuse) if way.fuse else None
        drawn = math.fsum(d.amps for d in draws)
        sign = math.copysign(1.0, signal.volts or 0.0)
        drop, back = drawn * _ohms(carriers), all_returns.volts(returns, sign)
        lift = all_returns.volts(returns, -sign)
        nominal = abs(signal.volts or 0.0)
        allowed = nominal * (signal.tolerance_percent or 0.0) / 100
        if signal.tolerance_percent is None:
            self.assumed[f"the tolerance of {rail} is not known: its drop is held against nothing"] = None
        limit = self._limit(rail, way)
        others = self.design.other_draws_a.get(rail, 0.0) if way.host and not way.feeder else 0.0
        if not way.brought:
            candidates: list[tuple[str, float]] = [("nothing brings it", 0.0 - drawn)]
        else:
            candidates = [] if limit is None or way.feeder else [("machine's supply", limit - others - drawn)]
            candidates += [(said(c), most - drawn) for c in carriers if (most := bears(c)) is not None]
            candidates += [
                (f"{said(c)}{IN_RETURN}", c.total_a - all_returns.sent(c).most)
                for c in returns
                if c.total_a is not None
            ]
            source = self._done.get(self._made_from(rail))
            if source is not None and source.left_a is not None:
                candidates.append((f"{source.rail}: {source.weakest}", source.left_a))
            if signal.tolerance_percent is not None:
                candidates += _room(allowed, drawn, (drop, back, lift), (_ohms(carriers), _ohms(returns)))
        weakest, left = min(candidates, key=lambda pair: pair[1]) if candidates else ("not known", None)
        budget = SupplyBudget(
            rail=rail,
            volts=signal.volts or 0.0,
            draws=tuple(draws),
            limit_a=limit,
            carriers=carriers,
            returns=returns,
            drop_v=drop,
            return_v=back,
            allowed_v=allowed,
            weakest=weakest,
            left_a=left,
            fed_by=self._made_from(rail),
            lift_v=lift,
            without_fuse=way.fuse is not None and (fuse is None or fuse.ohms is None),
            others_a=others,
        )
        if not way.brought:
            return replace(budget, change=remedy_of(self.adapter, rail)) if drawn else budget
        feeder = way.feeder.ref if way.feeder else ""
        change = self._judge.rail(budget, all_returns.from_machine, feeder)
        return replace(budget, change="; ".join(dict.fromkeys(change)))

    def _say_shared(self, table: tuple[SupplyBudget, ...]) -> None:
        """Say of which rails the limit is shared with other slots, and the file does not say what these draw."""
        slots = self.design.other_slots
        unsaid = [
            s.rail
            for s in table
            if s.drawn_a > 0
            and s.limit_a is not None
            and self._ways[s.rail].host
            and not self._ways[s.rail].feeder
            and s.rail not in self.design.other_draws_a
        ]
        if not slots or not unsaid:
            return
        cards = f"the card{'s' if slots > 1 else ''} in {count(slots, 'other slot')}"
        text = (
            f"the file does not say what {cards} and the machine itself draw from {listed(unsaid)}: nothing is counted"
        )
        self.assumed[text] = None
        self.findings.append(
            found(
                "figure-assumed",
                f"all that a rail of the machine feeds shares its limit, and {text}",
                f"Write it under other draws: {{{unsaid[0]}: …}}, from labels, manuals or a meter; 0 A for nothing",
                self.design.place,
                signals=unsaid,
                grade="caution",
            )
        )

    def _limit(self, rail: str, way: _Way) -> float | None:
        if not way.brought:
            return 0.0
        if way.feeder is not None and way.feeder.kind == "regulator":
            return self._regulator_a(rail, way.feeder)
        if way.feeder is not None:
            return None
        names = {c.signal.name for c in way.host if c.signal}
        limits = [s.limit_a for name, s in self.adapter.host.supplies.items() if name in names or name == rail]
        return min(limits, default=None)

    def _refused(self) -> bool:
        """Whether the file has values that were not understood: they are left out of all that is reckoned."""
        file = self.design.place.file
        return any(
            f.code in _REFUSED and f.grade in ("fault", "danger") and f.place.file == file
            for f in self.adapter.findings
        )

    def _sentence(self, table: tuple[SupplyBudget, ...]) -> str:
        used = [s for s in table if s.drawn_a > 0 or overdrawn(s)]
        if not used:
            return "No card is described and no part draws anything: nothing is said of the supplies."
        bare = "" if self.design.cards else " No card is described: only what the parts draw is counted."
        shared = listed(f"{amps(s.others_a)} of {s.rail}" for s in used if s.others_a)
        bare += f" Beside the adapter the machine gives {shared}; its limits are held against both." if shared else ""
        unknown = [s.rail for s in used if s.left_a is None]
        known = [s for s in used if s.left_a is not None]
        over = [s for s in known if not s.carriers or (s.left_a is not None and s.left_a < -TINY)]
        if over:
            return f"The supplies do not do: {listed(_lack(s) for s in over)}.{bare}"
        if not known:
            return f"What {listed(unknown)} can deliver is not known.{bare}"
        tight = min(known, key=lambda s: (s.left_a or 0.0) / s.drawn_a)
        worst = max(used, key=lambda s: (s.drop_v + s.return_v) / (abs(s.volts) or 1.0))
        lost = worst.drop_v + worst.return_v
        percent = f" ({lost / abs(worst.volts) * 100:.2g} %)" if worst.volts else ""
        do = (
            "Whether the supplies do is not known, for values in the file were refused; as far as it could be read,"
            if self._refused()
            else "The supplies do:"
        )
        return (
            f"{do} the tightest is {tight.rail} with {amps(tight.left_a or 0.0)} left ({tight.weakest}), "
            f"and the most that is lost on the way is {volts_said(lost)} of {worst.rail}{percent}"
            f"{', its fuse not counted' if worst.without_fuse else ''}.{bare}"
        )


def _lack(s: SupplyBudget) -> str:
    """What a rail has too much of, as an item of the sentence."""
    if not s.carriers:
        return f"{s.rail} (nothing brings it)"
    shared = s.weakest.endswith(IN_RETURN)
    where = " in the return, which all rails share" if shared else ""
    share = f" at {facts().value('fuse loaded at most'):g} % of its rating" if s.weakest.startswith("fuse") else ""
    first = f"{s.weakest.removesuffix(IN_RETURN)}{share}"
    return f"{s.rail} ({amps(-(s.left_a or 0.0))} too much{where}; first: {first})"


def missed(adapter: Adapter, line: str) -> Unmapped | None:
    """The card's side of a line that does not come by wire, by its name in the dictionary, whatever its polarity."""
    names = {line, *(c.name for c in adapter.card.by_signal.get(line, ()))}
    return next((u for u in adapter.unmapped if u.end == "card" and u.signal in names), None)


def remedy_of(adapter: Adapter, line: str) -> str:
    """What the dictionary says helps where a line is absent, as advice."""
    miss = missed(adapter, line)
    signal = adapter.card.bus.signals.get(line)
    remedy = miss.remedy if miss else signal.absent.remedy if signal and signal.absent else None
    if remedy is None:
        return "Take another card, or a machine that brings the line"
    text = str(remedy)
    return f"{text[:1].upper()}{text[1:]}"


def _room(
    allowed: float, drawn: float, volts: tuple[float, float, float], ohms: tuple[float, float]
) -> list[tuple[str, float]]:
    """How much more current the tolerance leaves room for, and where the volts are lost that leave the least.

    `volts` are lost on the rail, lost on the return, and added by the lift; `ohms` those of the rail and of the return.
    What the other rails alone make too much in the return is current that they must draw less.
    """
    (drop, back, lift), (own, shared) = volts, ohms
    out = []
    if own + shared > 0:
        others = back - drawn * shared  # what the others of its sign make in the return
        if others > allowed and shared > 0:
            left = (allowed - others) / shared - drawn
        else:
            left = (allowed - drop - back) / (own + shared)
        out.append((f"drop allowed{IN_RETURN if back > drop else ''}", left))
    if lift > allowed and shared > 0:
        out.append((f"lift allowed{IN_RETURN}", (allowed - lift) / shared))
    return out


def _ohms(carriers: Iterable[Carrier]) -> float:
    """All the way: pieces side by side share evenly."""
    return math.fsum(c.ohms / c.count for c in carriers)
