"""Carries remedies out: from the plan of an adapter and its design to the plan with parts."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable

from msgspec.structs import replace

from . import recipes
from .adapter import STATES, Adapter, Net, State
from .choices import LOGIC_V, Decided, Decision, Line, absent_lines, decide, rest_of, slot_net
from .design import Design, Jumper
from .electrical.facts import Facts, facts
from .electrical.lines import lowest_pull
from .errors import NOWHERE, Place
from .findings import Finding, found, ordered
from .model import GROUPS, Remedy
from .parts import REFERENCES, Part
from .pulls import Pull, ohms_of, ohms_text
from .quantity import volts
from .recipes import Draft
from .remedies_said import Done, Used, coverage_now, findings_now, unmapped_now
from .slot import partner_of
from .text import count, listed, natural, ranges

_GATES = 6  # in a package
#: What packages of gates are for, and the order in which they are numbered.
FROM_MACHINE = "inverter of lines from the machine"
FROM_CARD = "inverter of lines from the card"


def carried_out(adapter: Adapter, design: Design) -> Adapter:
    """Return the adapter with the parts that a design puts in, and with what is to be said about them.

    The dictionary's remedies go in where they are parts and the line's absence is more than a note; a choice of the
    design goes before. A line that a part makes up is said to be so by a note, in place of what was said of its
    absence; one that is merely held keeps its caution. What cannot be done is a finding, and nothing goes in for it.
    """
    return _Carrier(adapter, design, facts()).adapter()


class _Carrier:
    """The plan while parts go in."""

    def __init__(self, adapter: Adapter, design: Design, known: Facts):
        self.plan, self.design, self.facts = adapter, design, known
        self.lines = absent_lines(adapter)
        self.decided: Decided = decide(adapter, design)
        #: By the name that each had in the plan, or when it came: what it is called now is in the net.
        self.nets: dict[str, Net] = {net.name: net for net in adapter.nets}
        self._names = set(self.nets)
        self._pins: defaultdict[str, list[tuple[str, str]]] = defaultdict(list)
        self.parts: list[Part] = []
        self.findings: list[Finding] = list(self.decided.findings)
        self.done: dict[str, Done] = {}  # by the dictionary's name of the card's line
        self.used: dict[str, Used] = {}  # by the host's contact
        self._numbers: Counter[str] = Counter()
        self._lacking: dict[str, list[tuple[str, Place]]] = {}
        #: The rails that the card gets, by name: the net on the card's side of any fuse.
        self.feeds: dict[str, str] = {}
        self.ground = ""
        self._returns: dict[str, str] = {}  # the nets of the returns that the card gets, by name
        self._blocks: list[tuple[int, Line, Jumper]] = []  # the jumpers, each with its place among the parts
        #: The host's side of each line of opposite polarity, by its name there.
        self._turned: dict[str, str] = {}
        for net in adapter.nets:
            if net.state == "active" and net.host and net.host[0].signal:
                self._turned.setdefault(net.host[0].signal.name, net.name)
        self._machine: dict[str, str] = {}  # the net on the machine's side of each fuse, by rail
        # What the cards that sit in it hang on a line: two loads for each that does not say.
        each = round(known.value("loads of a slot"))
        self.loads = sum(each if c.loads is None else c.loads for c in design.cards) if design.cards else each

    def adapter(self) -> Adapter:
        """Put everything in and return the whole."""
        self._find_rails()
        self._rails()
        self._gates()
        self._lines()
        self._tell_jumpers_apart()
        self._report_lacking()
        unmapped = unmapped_now(self.plan, self.lines, self.done, self.used)
        findings = findings_now(self.plan, self.design, self.lines, unmapped, self.parts)
        return replace(
            self.plan,
            nets=self._in_order(),
            parts=tuple(sorted(self.parts, key=lambda part: natural(part.ref))),
            unmapped=unmapped,
            coverage=coverage_now(self.plan, self.lines, self.done),
            findings=ordered((*findings, *self.findings)),
            design=self.design,
        )

    def _in_order(self) -> tuple[Net, ...]:
        """The nets as the planner orders them: what is open last, then by group, in the order of the bus."""
        names = (*self.plan.card.bus.signals, *self.plan.host.bus.signals)
        order = {name: index for index, name in reversed(list(enumerate(names)))}

        def key(net: Net) -> tuple[bool, int, int, int]:
            at = order.get(net.signal or "", len(names))
            return net.state == "open", GROUPS.index(net.group), at, STATES.index(net.state)

        for name, pins in self._pins.items():
            pins.sort(key=lambda pin: (natural(pin[0]), natural(pin[1])))
            self.nets[name] = replace(self.nets[name], parts=tuple(pins))
        return tuple(sorted(self.nets.values(), key=key))

    # ------------------------------------------------------------------ nets and parts

    def _add(self, draft: Draft) -> str:
        """Put a part in under the next reference of its kind, and its pins on their nets."""
        letters = REFERENCES[draft.kind]
        self._numbers[letters] += 1
        ref = f"{letters}{self._numbers[letters]}"
        self.parts.append(draft.part(ref))
        for pad, _, name in draft.pins:
            self._pins[name].append((ref, pad))
        return ref

    def _set(self, name: str, state: State, remark: str, wanted: str = "") -> str:
        """Change what is said of a net; call it `wanted` where no other is called so. Return what it goes by here."""
        net = self.nets[name]
        called = wanted if wanted and wanted not in self._names else net.name
        self._names.discard(net.name)
        self._names.add(called)
        self.nets[name] = replace(net, name=called, state=state, remark=remark)
        return name

    def _free(self, wanted: str) -> str:
        name, number = wanted, 1
        while name in self._names or name in self.nets:
            number += 1
            name = f"{wanted} ({number})"
        return name

    def _fed(self, what: str, decision: Decision | None, *rails: str) -> list[str] | None:
        """The nets of the return and of the rails that a part needs; None, and noted, where one is not there.

        Where a part goes to a return of a name of its own, that comes last, as a rail would.
        """
        nets = [self.ground, *(self.feeds.get(rail) or self._returns.get(rail, "") for rail in rails)]
        if all(nets):
            return nets
        place = decision.place if decision and decision.place else self.design.place
        names = [self._return, *rails]
        for name in dict.fromkeys(name for net, name in zip(nets, names, strict=True) if not net):
            self._lacking.setdefault(name, []).append((what, place))
        return None

    def _report_lacking(self) -> None:
        for rail, several in self._lacking.items():
            who = ranges([what for what, _ in several])
            self.findings.append(
                found(
                    "remedy-needs-feed",
                    f"a part must have the rail that it is fed from: {who} {'needs' if len(several) == 1 else 'need'} "
                    f"{rail}, which the card does not get",
                    f"Find {rail} in the machine, choose a separate feed for it, or leave the lines open; nothing was "
                    "put in for them",
                    next((place for _, place in several if place != NOWHERE), NOWHERE),
                    signals=[rail],
                )
            )

    # ------------------------------------------------------------------ supplies

    @property
    def _return(self) -> str:
        """What the return is called on the card's bus."""
        return next((s.name for s in self.plan.card.bus.signals.values() if s.group == "return"), "GND")

    @property
    def _logic(self) -> str:
        """What the supply of the logic is called on the card's bus."""
        return next((s.name for s in self.plan.card.bus.rails if s.volts == LOGIC_V), "+5V")

    def _find_rails(self) -> None:
        """Find the return and the rails, part those with a fuse, and take up those that are fed or made here."""
        for net in self.plan.nets:
            if net.group == "return" and net.host and net.card and net.state == "joined":
                self.ground = self.ground or net.name
                self._returns.setdefault(net.signal or self._return, net.name)
            elif net.group == "supply" and net.host and net.card and net.signal and net.state == "joined":
                self.feeds[net.signal] = self._split(net) if net.signal in self.decided.fuses else net.name
        chosen = self.decided.remedies
        for name, decision in chosen.items():
            if decision.remedy.kind == "separate feed" and self._fed(name, decision):
                self.feeds[name] = self._set(decision.line.net, "joined", "fed from outside", name)
        for name, decision in chosen.items():
            made_from = decision.remedy.to
            if decision.remedy.kind == "regulator" and self._regulates(decision):
                if made_from not in self.feeds:
                    self._take_up(made_from)
                if self._fed(name, decision, made_from):
                    self.feeds[name] = self._set(decision.line.net, "joined", f"made from {made_from}", name)

    def _split(self, net: Net) -> str:
        """Part a rail into the machine's side and the card's, for a fuse between them."""
        name = self._free(f"{net.name} fused")
        self._machine[net.signal or net.name] = net.name
        self._names.add(name)
        self.nets[net.name] = replace(net, card=(), remark=_more(net.remark, "up to the fuse"))
        self.nets[name] = replace(net, name=name, host=(), remark="behind the fuse")
        return name

    def _take_up(self, rail: str) -> None:
        """Join the host's contacts of a rail that the card has no contact for, so that a part can be fed from it."""
        alone = [
            net
            for net in self.nets.values()
            if net.group == "supply" and net.state == "open" and net.host and not net.card and net.signal == rail
        ]
        if alone and rail in self.plan.card.bus.signals:
            name = self._free(rail)
            for net in alone:
                del self.nets[net.name]
                self._names.discard(net.name)
            self._names.add(name)
            contacts = tuple(c for net in alone for c in net.host)
            self.nets[name] = replace(alone[0], name=name, state="joined", host=contacts, remark="for a part only")
            self.feeds[rail] = name

    def _supply(self, rail: str) -> tuple[float, float]:
        """The volts of a rail and its tolerance in %, as the card has it; 0 for what is not known."""
        signal = self.plan.card.bus.signals.get(rail) or self.plan.card.own.get(rail)
        return ((signal.volts or 0.0), (signal.tolerance_percent or 0.0)) if signal else (0.0, 0.0)

    def _regulates(self, decision: Decision) -> bool:
        """Whether a 79L05 makes this rail from that one; if not, say what would be needed."""
        line, (feed_v, percent) = decision.line, self._supply(decision.remedy.to)
        least, most = (-self.facts.value(f"regulator input at {which}") for which in ("least", "most"))
        off = percent / 100
        if line.signal.volts == -LOGIC_V and feed_v * (1 - off) <= least and feed_v * (1 + off) >= most:
            return True
        self.findings.append(
            found(
                "remedy-needs-feed",
                f"a regulator is known here for {volts(-LOGIC_V)} from a rail that stays between {volts(least)} and "
                f"{volts(most)}, not for {line.name} from {decision.remedy.to or 'no rail named'}"
                f"{f', {volts(feed_v)} ± {percent:g} %' if percent else ''}",
                f"A converter or a separate feed is needed for {line.name}; nothing was put in for it",
                decision.place,
                contacts=line.unmapped.contacts,
                signals=[line.name],
            )
        )
        return False

    def _rails(self) -> None:
        """The parts of each rail in the order of the bus: fuse, feed or regulator, then its capacitors."""
        order = {name: index for index, name in enumerate(self.plan.card.bus.signals)}
        for name in sorted(self.feeds, key=lambda rail: order.get(rail, len(order))):
            fuse, decision, net = self.decided.fuses.get(name), self.decided.remedies.get(name), self.feeds[name]
            rail_v, _ = self._supply(name)
            if fuse and name in self._machine:
                self._add(recipes.fuse(self.facts, name, fuse, rail_v, (self._machine[name], net)))
            if decision and decision.remedy.kind == "separate feed":
                ref = self._add(recipes.terminal(decision.line.name, rail_v, net, self.ground, decision.remedy.why))
                self._set(net, "joined", f"fed from outside at {ref}")
                self.done[name] = Done(decision.remedy, (ref,))
            elif decision and decision.remedy.kind == "regulator":
                made_from = decision.remedy.to
                nets = (self.ground, self.feeds[made_from], net)
                feed_v, percent = self._supply(made_from)
                drafts = recipes.regulator(self.facts, name, made_from, feed_v, nets, percent)
                refs = tuple(self._add(draft) for draft in drafts)
                self._set(net, "joined", f"made from {made_from} by {refs[0]}")
                feed = self.nets[nets[1]]
                if not feed.card:
                    self.used |= {c.label: Used(refs[0], f"{refs[0]} makes {name} from it") for c in feed.host}
                self.done[name] = Done(decision.remedy, refs)
            self._decouple(name, net, rail_v)

    def _decouple(self, name: str, net: str, rail_v: float) -> None:
        """The capacitors of a rail at the card's connector."""
        if not (self.design.decoupling and self.ground and self.nets[net].card):
            return
        what = f"decoupling of {name} at the card"
        self._add(recipes.capacitor(self.facts, what, "decoupling capacitor", net, self.ground, rail_v=rail_v))
        signal = self.plan.card.bus.signals.get(name)
        if signal and signal.current_a and signal.current_a >= self.facts.value("rail with a bulk capacitor from"):
            self._add(recipes.bulk(self.facts, name, rail_v, net, self.ground))

    # ------------------------------------------------------------------ gates

    def _gates(self) -> None:
        """The inverters: one package for up to six lines of a kind."""
        kinds: dict[str, list[Decision]] = {}
        for decision in self.decided.remedies.values():
            if decision.remedy.kind == "inverter":
                kind = self._gate(decision.line)
                if kind:
                    kinds.setdefault(kind, []).append(decision)
        for kind in (FROM_MACHINE, FROM_CARD):
            decisions = kinds.get(kind, [])
            packages = [tuple(decisions[at : at + _GATES]) for at in range(0, len(decisions), _GATES)]
            for number, some in enumerate(packages, 1):
                nets = self._fed(f"the inverter of {listed(d.line.name for d in some)}", None, self._logic)
                if nets:
                    self._package(kind, number, some, nets)

    def _gate(self, line: Line) -> str:
        """Which package inverts a line: by who drives it; "" where none does, and the fault stays."""
        signal = line.signal
        if "open collector" in signal.output:
            return ""  # others may pull it low too, on either side of the gate: `remedies_said` has what follows
        if signal.driver == "host":
            return FROM_MACHINE
        return FROM_CARD if signal.driver == "card" and not self.design.other_slots else ""

    def _package(self, kind: str, number: int, some: tuple[Decision, ...], nets: list[str]) -> None:
        ground, logic = nets
        from_host = kind == FROM_MACHINE
        pins = []
        for decision in some:
            line, host = decision.line, self._opposite(decision.line)
            pins.append((line.name, *((host, line.net) if from_host else (line.net, host))))
        purpose = kind if number == 1 else f"{kind} ({number})"
        rail = (self._logic, logic)
        refs = [
            self._add(draft)
            for draft in recipes.gates(self.facts, purpose, pins, rail, ground, loads=self.loads if from_host else 0)
        ]
        for decision, (_, given, made) in zip(some, pins, strict=True):
            more = [] if from_host else [self._hold_input(decision.line, nets)]
            self.done[decision.line.signal.name] = Done(decision.remedy, (*refs, *more))
            self._set(given, "active", f"to the inverter {refs[0]}")
            self._set(made, "active", f"from the inverter {refs[0]}")
            for contact in (*self.nets[given].host, *self.nets[made].host):
                self.used[contact.label] = Used(refs[0], f"{refs[0]} inverts it")

    def _hold_input(self, line: Line, nets: list[str]) -> str:
        """Hold a gate's input at the line's rest, with the gate as its only load; `nets` are return and logic."""
        up, signal = rest_of(line) == "high", line.signal
        pull = replace(self._pull(line, up=up), loads=1)
        own = lowest_pull(signal.pull)
        known = ohms_text(own[0]) if own and own[1] == ("up" if up else "down") else ""
        ohms = pull.value(known)
        held = "holds the input of the inverter while nobody drives the line, for an open one reads high"
        if known and ohms_text(ohms) == known:
            held += f"; {known} as the bus has it ({signal.source_of('pull')})"
        return self._add(recipes.pull(line.name, pull, ohms, line.net, nets[up], held))

    def _opposite(self, line: Line) -> str:
        """The net of the host's side of a line that the slot has with the opposite polarity; "" where it has none."""
        there = self.plan.card.bus.counterpart(line.signal, self.plan.host.bus)[0]
        return self._turned.get(there.name, "") if there else ""

    # ------------------------------------------------------------------ lines

    def _lines(self) -> None:
        for name, line in self.lines.items():
            decision = self.decided.remedies.get(name)
            if name in self.decided.jumpers:
                self._jumper(line)
            elif decision and not line.signal.is_power:
                self._line(decision)
            elif decision and decision.remedy.kind == "leave open":
                self.done[name] = Done(decision.remedy)

    def _line(self, decision: Decision) -> None:
        kind, line = decision.remedy.kind, decision.line
        if kind == "leave open":
            self.done[line.signal.name] = Done(decision.remedy)
            if line.turned:
                self._set(line.net, "open", "left open on purpose")
                self._spare(line, "", f"{line.name} is left open on purpose")
        elif kind in ("pull up", "pull down"):
            self._hold(decision, up=kind == "pull up")
        elif kind in ("tie low", "tie high"):
            self._tie(decision, high=kind == "tie high")
        elif kind in ("oscillator", "reset circuit"):
            nets = self._fed(line.name, decision, self._logic)
            if nets:
                logic = (self._logic, nets[1])
                frequency = decision.remedy.value or line.signal.frequency
                drafts = (
                    recipes.oscillator(self.facts, line.name, frequency, line.net, logic, nets[0])
                    if kind == "oscillator"
                    else recipes.supervisor(
                        self.facts, line.name, not line.contact.inverted, line.net, logic, nets[0], self.loads
                    )
                )
                self._made(decision, drafts)

    def _made(self, decision: Decision, drafts: Iterable[Draft]) -> None:
        refs = tuple(self._add(draft) for draft in drafts)
        self.done[decision.line.signal.name] = Done(decision.remedy, refs)
        self._settle(decision.line, f"{decision.line.unmapped.reason}: made by {refs[0]}")
        self._spare(decision.line, refs[0], f"{refs[0]} makes {decision.line.name}")

    def _spare(self, line: Line, ref: str, why: str) -> None:
        """Leave the machine's side of a line of opposite polarity alone, for which no inverter is wanted."""
        host = self._opposite(line) if line.turned else ""
        if host:
            self._set(host, "open", f"not used: {why}")
            for contact in self.nets[host].host:
                self.used[contact.label] = Used(ref, f"It must not be used, for {why} at the card", spare=True)

    def _settle(self, line: Line, remark: str) -> None:
        """Say of the net of a line that a part is on it now."""
        self._set(line.net, "tied", remark, line.name)

    def _tie(self, decision: Decision, *, high: bool) -> None:
        line = decision.line
        nets = self._held_to(decision, high=high)
        if nets:
            ref = self._add(recipes.tie(line.name, high, line.net, nets[-1], decision.remedy.why))
            self.done[line.signal.name] = Done(decision.remedy, (ref,))
            self._settle(line, f"{line.unmapped.reason}: tied {'high' if high else 'low'} by {ref}")
            self._spare(line, ref, f"{ref} ties {line.name} {'high' if high else 'low'}")

    def _held_to(self, decision: Decision, *, high: bool) -> list[str] | None:
        """The nets for a line that is held; the last is the rail, or the return, to which it is."""
        to = decision.remedy.to or (self._logic if high else "")
        return self._fed(decision.line.name, decision, *([to] if to else []))

    def _pull(self, line: Line, *, up: bool) -> Pull:
        # What the card itself drives has no input of the card on it, as far as anybody knows.
        loads = 0 if line.signal.driver == "card" else self.loads
        rail = self.plan.card.bus.signals.get(self._logic)
        return Pull(up, line.signal, loads, self.facts, LOGIC_V, (rail and rail.tolerance_percent) or 5.0)

    def _hold(self, decision: Decision, *, up: bool) -> None:
        line = decision.line
        nets = self._held_to(decision, high=up)
        pull = self._pull(line, up=up)
        ohms = self._ohms(decision, pull) if nets else None
        if nets and ohms:
            ref = self._add(recipes.pull(line.name, pull, ohms, line.net, nets[-1]))
            to = decision.remedy.to or (self._logic if up else self._return)
            done = replace(decision.remedy, value=ohms_text(ohms), to=to)
            if decision.remedy.value and not decision.valued and done.value != decision.remedy.value:
                done = replace(done, why=f"{done.why} Here are {count(pull.loads, 'input')}, which want {done.value}.")
            self.done[line.signal.name] = Done(done, (ref,))
            self._settle(line, f"{line.unmapped.reason}: held {'high' if up else 'low'} by {ref}")
            self._spare(line, ref, f"{ref} holds {line.name} {'high' if up else 'low'}")

    def _ohms(self, decision: Decision, pull: Pull) -> float | None:
        """The value of a pull: what the designer wrote, else what the dictionary says if that holds, else the best."""
        line, written = decision.line, decision.remedy.value
        if not decision.valued:
            return pull.value(written)
        try:
            ohms = ohms_of(written)
        except ValueError:
            ohms = 0.0
        if ohms <= 0:
            return None  # said where the file was read
        against = pull.against(line.name, ohms)
        if against:
            self.findings.append(replace(against, place=decision.place, contacts=line.unmapped.contacts))
        return None if against else ohms

    # ------------------------------------------------------------------ jumpers

    def _jumper(self, line: Line) -> None:
        jumper = self.decided.jumpers[line.signal.name]
        targets = [there.name for name in jumper.to if (there := slot_net(self.plan, name))]
        for name, wanted in zip(targets, jumper.to, strict=True):
            if self.nets[name].state == "open":
                self._set(name, "tied", "", wanted)
        self._blocks.append((len(self.parts), line, jumper))
        ref = self._add(recipes.jumper(line.name, jumper.to, line.net, targets))
        first = jumper.to[0]
        remedy = Remedy("jumper", f"set to {first}; tell the software", "", first)
        self.done[line.signal.name] = Done(remedy, (ref,))
        self._settle(line, f"{line.unmapped.reason}: {ref} leads it to {first} of the slot")
        for name, to in zip(targets, jumper.to, strict=True):
            net = self.nets[name]
            if not net.card:
                verb = "leads" if to == first else "can lead"
                for label in (c.label for c in net.host):
                    if to == first or label not in self.used:  # that of the jumper which is set here
                        self.used[label] = Used(ref, f"{ref} {verb} {line.name} of the card to it")
                self._set(name, net.state, _more(net.remark, f"{ref} can lead {line.name} of the card here"))
            else:
                own = listed(f"{c.name} ({c.label})" for c in net.card)
                remark = f"{ref} can lead {line.name} here too: not with a card that uses both"
                self._set(name, net.state, _more(net.remark, remark))
                if to == first and line.signal.driver == "card":
                    self.findings.append(
                        found(
                            "remedy-fights",
                            f"{ref} leads {line.name} of the card to {to} of the slot, which also has a wire to the "
                            f"card's own {own}: a card must not drive both",
                            f"Set the card to {line.name} alone, or leave out the wire to {own}",
                            jumper.place,
                            contacts=[c.label for c in net.card],
                            signals=[line.name, to],
                            grade="caution",
                        )
                    )

    def _tell_jumpers_apart(self) -> None:
        """Say at each jumper to which lines of the slot it must not be set while another is."""
        place_of = {line.signal.name: at for at, line, _ in self._blocks}
        for at, line, jumper in self._blocks:
            partner = place_of.get(partner_of(self.plan.card.bus, line.signal.name))
            if partner is not None and len(jumper.to) > 1:
                part, text = self.parts[at], f"move both together, this one and {self.parts[partner].ref}"
                self.parts[at] = replace(part, fit=_more(part.fit, text))
            joined = f"two {'inputs' if line.signal.driver == 'host' else 'outputs'} of the card"
            for other_at, _, other in self._blocks:
                both = [name for name in jumper.to if name in other.to]
                if both and other_at != at:
                    ref, part = self.parts[other_at].ref, self.parts[at]
                    text = f"not {listed(both, 'or')} while {ref} is set to it: that would join {joined}"
                    self.parts[at] = replace(part, fit=_more(part.fit, text))


def _more(said: str, more: str) -> str:
    return f"{said}; {more}" if said else more
