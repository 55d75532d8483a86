"""Plans an adapter: from two maps and the options fitted to the nets, and what is to be said about them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from msgspec.structs import replace

from .adapter import STATES, Adapter, Net, State, Unmapped
from .coverage import Coverage, cover
from .errors import raise_all
from .findings import Finding, found, ordered
from .model import GROUPS, Bus, Contact, End, Group, PinMap, Remedy, Signal, no_option, opposite
from .naming import identity
from .quantity import volts
from .text import listed, ranges

_LOGIC_V = 5.0
_ACTIVE = re.compile(r"active-(high|low)")
_OTHER = {"high": "low", "low": "high"}


def plan(host: PinMap, card: PinMap, fitted: Iterable[str] = (), findings: Iterable[Finding] = ()) -> Adapter:
    """Plan the adapter between a machine's connector and a card's.

    `fitted` names the options that are present; `findings` are what reading and checking both maps gave, they count
    for the verdict. Raises `NotFoundError` for an option that neither map has.
    """
    options = _options(host, card, fitted)
    planner = _Planner(host, card, options)
    nets = planner.nets()
    coverage = cover(host, card.bus, options)
    absent = {line for f in planner.findings if f.code == "signal-absent" for line in f.signals}
    # A rail that the host lacks is said once, by the plan, which knows whether the card has a contact for it.
    kept = [f for f in findings if not (f.code == "rail-missing" and absent.issuperset(f.signals))]
    all_findings = [*kept, *planner.findings, *_verdicts(coverage, host, card)]
    return Adapter(
        host, card, tuple(sorted(options)), tuple(nets), tuple(planner.unmapped), ordered(all_findings), coverage
    )


def _options(host: PinMap, card: PinMap, fitted: Iterable[str]) -> frozenset[str]:
    known = {**host.options, **card.options}
    chosen = frozenset(fitted)
    raise_all([no_option(option, known) for option in sorted(chosen - set(known))])
    return chosen


def _verdicts(coverage: Coverage, host: PinMap, card: PinMap) -> Iterable[Finding]:
    if coverage.kinds and not coverage.works():
        best = min(coverage.kinds, key=lambda k: len(k.missing) + len(k.missing_one_of))
        yield found(
            "no-card-works",
            f"no kind of card for {card.bus.name} can work on {host.title}; the nearest is "
            f"{best.kind}, which {best.sentence()}",
            "Find the missing lines in the machine, or give it up",
            host.place,
        )
    if host.end != "host":
        yield found(
            "end-turned",
            f"{host.name} describes what a card brings; as the host its mate is taken, the "
            "machine's connector with the same numbering",
            "Nothing, if that is meant",
            host.place,
        )


class _Planner:
    """Builds the nets of one adapter, and what is to be said on the way."""

    def __init__(self, host: PinMap, card: PinMap, options: frozenset[str]):
        self.host, self.card, self.options = host, card, options
        self.findings: list[Finding] = []
        self.unmapped: list[Unmapped] = []
        self._doubts = {"host": host.disputed(options), "card": card.disputed(options)}
        self._names: set[str] = set()
        self._brought: frozenset[str] = frozenset()  # the lines of the card's bus that the host brings

    def nets(self) -> list[Net]:
        at_host, at_card = self._lines("host"), self._lines("card")
        partner, differs = self._partners(at_host, at_card)
        lines = (contacts[0].signal for name, contacts in at_host.items() if name not in self.host.own)
        there = (self.host.bus.counterpart(line, self.card.bus)[0] for line in lines if line)
        self._brought = frozenset(line.name for line in there if line)
        out: list[Net] = []
        paired: set[str] = set()
        for name, contacts in at_card.items():
            host_name = partner.get(name)
            if host_name is None:
                out += self._card_only(name, contacts)
                continue
            paired.add(host_name)
            out += self._pair(name, at_host[host_name], contacts, differs.get(name, ""))
        for name, contacts in at_host.items():
            if name not in paired:
                out += self._host_only(contacts)
        out += self._rest("host") + self._rest("card")
        self._report_absent()
        order = {name: i for i, name in enumerate((*self.card.bus.signals, *self.host.bus.signals))}
        states = list(STATES)
        out.sort(
            key=lambda n: (
                n.state == "open",
                GROUPS.index(n.group),
                order.get(n.signal or "", 9999),
                states.index(n.state),
            )
        )
        return out

    def _map(self, end: End) -> PinMap:
        return self.host if end == "host" else self.card

    def _lines(self, end: End) -> dict[str, tuple[Contact, ...]]:
        """The undisputed contacts of each line that is there with the options fitted, in the bus's order."""
        pin_map = self._map(end)
        out: dict[str, dict[str, Contact]] = {}
        for contact in pin_map.fitted(self.options):
            if contact.label not in self._doubts[end] and contact.signal:
                out.setdefault(contact.signal.name, {}).setdefault(contact.label, contact)
        order = {name: i for i, name in enumerate(pin_map.bus.signals)}
        names = sorted(out, key=lambda n: order.get(n, len(order)))
        return {name: tuple(out[name].values()) for name in names}

    def _partners(
        self, at_host: Mapping[str, tuple[Contact, ...]], at_card: Mapping[str, tuple[Contact, ...]]
    ) -> tuple[dict[str, str], dict[str, str]]:
        """For each line of the card the line of the host that it meets, and what differs between the two."""
        partner: dict[str, str] = {}
        differs: dict[str, str] = {}
        own = {identity(n): n for n in at_host if n in self.host.own}
        for name, contacts in at_card.items():
            signal = contacts[0].signal
            assert signal is not None  # noqa: S101 - _lines() yields only these
            if name in self.card.own:
                if identity(name) in own:
                    partner[name] = own.pop(identity(name))
                    differs[name] = "it is no line of the bus: the two are paired by their name alone"
                continue
            there, difference = self.card.bus.counterpart(signal, self.host.bus)
            namesake = name
            if there and there.name in partner.values():
                # Two dictionaries can contradict each other; one contact of the host is one line all the same.
                namesake, difference, there = there.name, "it is wired as another line of the card's bus", None
            if there and there.name in at_host:
                partner[name] = there.name
                differs[name] = difference
            elif there is None and namesake in at_host and difference:
                self.findings.append(
                    found(
                        "not-wire",
                        f"{name} of the card is not the {namesake} of the host: {difference}",
                        "They are not wired together",
                        contacts[0].place,
                        contacts=[c.label for c in contacts],
                        signals=[name],
                    )
                )
        return partner, differs

    # ------------------------------------------------------------------ pairs

    def _pair(self, name: str, host: tuple[Contact, ...], card: tuple[Contact, ...], differs: str) -> list[Net]:
        here, there = host[0].signal, card[0].signal
        assert here is not None  # noqa: S101 - as _lines() gives them
        assert there is not None  # noqa: S101
        if here.rail != there.rail or here.rail == ("supply", None):
            return self._unequal_rails(host, card, here, there)
        if host[0].inverted != card[0].inverted:
            return self._needs_gate(host[0], card[0], there)
        if differs:
            self.findings.append(
                found(
                    "renamed-between-generations",
                    f"{host[0].name} of the host meets {card[0].name} of the card: {differs}",
                    "Wired; leave it out if the card does not use it",
                    host[0].place,
                    contacts=[c.label for c in host],
                    signals=[here.name, there.name],
                )
            )
        if here.is_power:
            remark = self._remark((*host, *card))
            return [Net(self._unique(name), name, there.group, "joined", host, card, remark=remark)]
        remark = "; ".join(
            r
            for r in (f"{here.name} at the host" if here.name != there.name else "", self._remark((*host, *card)))
            if r
        )
        return [Net(self._unique(card[0].name), name, there.group, "straight", host, card, remark=remark)]

    def _unequal_rails(
        self, host: tuple[Contact, ...], card: tuple[Contact, ...], here: Signal, there: Signal
    ) -> list[Net]:
        """A supply under one name with different or unknown volts at the two ends, or one that meets something else."""
        what = [
            volts(s.volts) if s.volts is not None else "volts not known" if s.group == "supply" else s.group
            for s in (here, there)
        ]
        labels = listed(c.label for c in card)
        self.findings.append(
            found(
                "rail-meets-rail",
                f"{here.name} of the host ({what[0]}, {listed(c.label for c in host)}) must not meet "
                f"{there.name} of the card ({what[1]}, {labels})",
                "They are not wired; measure both, say their volts, and give different rails different names",
                card[0].place,
                contacts=[c.label for c in (*host, *card)],
                signals=[here.name, there.name],
            )
        )
        self._miss(there, card, "card", f"the host's {here.name} is not known to be the same rail ({what[0]})")
        self._miss(here, host, "host", f"the card's {there.name} is not known to be the same rail ({what[1]})")
        return [
            *(self._single("host", c, "conflict", "not known to be the card's rail") for c in host),
            *(self._single("card", c, "conflict", "not known to be the host's rail") for c in card),
        ]

    def _needs_gate(self, host: Contact, card: Contact, line: Signal) -> list[Net]:
        driver = {
            "host": f"its input at the host's {host.label}, its output at the card's {card.label}",
            "card": f"its input at the card's {card.label}, its output at the host's {host.label}",
        }
        inverter = driver.get(line.driver, "in both directions, which a plain gate cannot do")
        if line.driver == "card" and "open collector" in line.output:
            inverter += "; others drive this line too, so that output must never hold it against them"
        self.findings.append(
            found(
                "needs-inverter",
                f"{host.name} of the host ({host.label}) must not be wired to {card.name} of the card "
                f"({card.label}): their polarity is opposite",
                f"An inverter is needed, {inverter}",
                host.place,
                contacts=[host.label, card.label],
                signals=[line.name],
            )
        )
        why = f"the machine brings it as {host.name}, with the opposite polarity; wire cannot map that"
        self.unmapped.append(
            Unmapped(
                card.name,
                "card",
                "it is there with the opposite polarity",
                line.absent.effect if line.absent else "",
                Remedy("inverter", why),
                (card.label,),
            )
        )
        self.unmapped.append(
            Unmapped(
                host.name,
                "host",
                "the card has it with the opposite polarity",
                "The line ends at the adapter until the inverter is in.",
                Remedy("inverter", inverter),
                (host.label,),
            )
        )
        remark = f"inverter between {host.name} and {card.name}: {inverter}"
        nets = [Net(self._unique(card.name), line.name, line.group, "active", (), (card,), remark=remark)]
        nets.insert(
            0,
            Net(
                self._unique(host.name),
                opposite(line.name) if card.name == line.name else line.name,
                line.group,
                "active",
                (host,),
                (),
                remark=remark,
            ),
        )
        return nets

    # ------------------------------------------------------------------ without a partner

    def _card_only(self, name: str, contacts: tuple[Contact, ...]) -> list[Net]:
        signal = contacts[0].signal
        assert signal is not None  # noqa: S101 - as _lines() gives them
        there, _ = self.card.bus.counterpart(signal, self.host.bus)
        if name in self.card.own:
            there = None
        reason = self._withheld("host", there.name if there else "") or "the slot does not bring it"
        self._miss(signal, contacts, "card", reason)
        if signal.is_power:  # the card's own contacts belong together, whoever feeds them
            return [Net(self._unique(name), name, signal.group, "open", (), contacts, remark=reason)]
        return [self._single("card", c, "open", reason) for c in contacts]

    def _host_only(self, contacts: tuple[Contact, ...]) -> list[Net]:
        signal = contacts[0].signal
        assert signal is not None  # noqa: S101 - as _lines() gives them
        there, _ = self.host.bus.counterpart(signal, self.card.bus)
        reason = self._withheld("card", there.name if there else "") or "the card has no such line"
        if signal.name in self.host.own:
            reason = "it is no line of the bus"
        self._miss(signal, contacts, "host", reason)
        return [self._single("host", c, "open", reason) for c in contacts]

    def _withheld(self, end: End, name: str) -> str:
        """Why a line that stands in the map of `end` cannot be had there now; "" where it does not stand there."""
        whose = "the slot brings it" if end == "host" else "the card has it"
        claims = [
            label
            for label, several in self._doubts[end].items()
            if any(c.signal and c.signal.name == name for c in several)
        ]
        if claims:
            return f"it is not settled where {whose} ({listed(claims)})"
        options = sorted({c.option for c in self._map(end).by_signal.get(name, ()) if c.option} - self.options)
        return f"{whose} only with {listed(options, 'or')}" if options else ""

    def _miss(self, signal: Signal, contacts: tuple[Contact, ...], end: End, reason: str) -> None:
        if end == "host":
            about = f"{signal.about}. " if signal.group == "own" and signal.about else ""
            effect = f"{about}The line ends at the adapter."
            remedy = Remedy("leave open", "nothing at the card's side belongs to it")
        elif signal.absent:
            effect = signal.absent.effect
            remedy = signal.absent.remedy
            if contacts[0].inverted:
                remedy = _turned(remedy, signal, self.card.bus)
            remedy = remedy.on({signal.name, *self._brought}, self.card.bus.signals)
        else:
            effect = signal.about or "not known to the bus"
            remedy = Remedy("none", "it is not known what the card does without it")
        self.unmapped.append(Unmapped(contacts[0].name, end, reason, effect, remedy, tuple(c.label for c in contacts)))

    def _rest(self, end: End) -> list[Net]:
        """The contacts that carry no line now: open, undescribed, unknown, with an option not fitted, disputed."""
        pin_map, doubts = self._map(end), self._doubts[end]
        wired, present = {c.label for c in pin_map.fitted(self.options)}, set(pin_map.present)
        out = []
        for label, first in pin_map.by_label.items():
            if label in doubts:
                claims = listed(dict.fromkeys(c.name for c in doubts[label]), "or")
                self.findings.append(
                    found(
                        "contact-conflict",
                        f"{end} contact {label} is not wired: it is not settled whether it is {claims}"
                        if len(doubts[label]) > 1
                        else f"{end} contact {label} is not wired: {claims} is claimed by another contact too",
                        "Measure which it is, and correct the map",
                        doubts[label][-1].place,
                        contacts=[label],
                        signals=dict.fromkeys(c.name for c in doubts[label]),
                    )
                )
                out.append(self._single(end, first, "conflict", f"not settled: {claims}"))
                continue
            if label in wired or label not in present:
                continue
            # A key may stand beside what comes with an option.
            contact = next(c for c in pin_map.contacts if c.label == label and c.role != "key")
            reason = {
                "open": "open in the map",
                "undescribed": "not described in the map",
                "unknown": f"nobody knows {contact.written}",
            }.get(contact.role, f"only with {contact.option}")
            if contact.role == "unknown":
                self.unmapped.append(
                    Unmapped(
                        contact.written,
                        end,
                        "its name is not known",
                        "It is not wired.",
                        Remedy("none", "correct the name, or describe it as own signal"),
                        (label,),
                    )
                )
            out.append(self._single(end, contact, "open", reason))
        return out

    # ------------------------------------------------------------------ words

    def _single(self, end: End, contact: Contact, state: State, remark: str) -> Net:
        """A net of one contact, joined to nothing."""
        group: Group = contact.signal.group if contact.signal else "own"
        word = {"open": "unused", "key": "unused", "undescribed": "undescribed"}.get(contact.role, contact.name)
        name = f"{end} {contact.label} {word}"
        signal = contact.signal.name if contact.signal else None
        host, card = ((contact,), ()) if end == "host" else ((), (contact,))
        return Net(self._unique(name), signal, group, state, host, card, remark=remark)

    def _unique(self, name: str) -> str:
        candidate, count = name, 1
        while candidate in self._names:
            count += 1
            candidate = f"{name} ({count})"
        self._names.add(candidate)
        return candidate

    @staticmethod
    def _remark(contacts: tuple[Contact, ...]) -> str:
        guessed = [c for c in contacts if c.seen == "guessed"]
        said = [f"rests on a guess at {listed(c.label for c in guessed)}: measure first"] if guessed else []
        said += dict.fromkeys(f"only with {c.option}" for c in contacts if c.option)
        return "; ".join(said)

    def _report_absent(self) -> None:
        """One finding for all lines of the card that are absent for one reason with one effect."""
        alike: dict[tuple[str, str, str], list[Unmapped]] = {}
        for miss in self.unmapped:
            if miss.end == "card" and miss.remedy.kind != "inverter":
                alike.setdefault((miss.reason, miss.effect, str(miss.remedy)), []).append(miss)
        for (reason, effect, remedy), several in alike.items():
            names = [m.signal for m in several]
            signals = self.card.bus.signals
            signal = signals.get(names[0]) or signals.get(opposite(names[0]))
            grade = signal.absent.grade if signal and signal.absent else "caution"
            self.findings.append(
                found(
                    "signal-absent",
                    f"{ranges(names)}: {reason}. {effect}",
                    f"{remedy[:1].upper()}{remedy[1:]}",
                    self.host.place,
                    contacts=[c for m in several for c in m.contacts],
                    signals=names,
                    grade=grade,
                )
            )


def _turned(remedy: Remedy, signal: Signal, bus: Bus) -> Remedy:
    """The remedy for a line that the card has with the other polarity than its bus."""
    if remedy.kind in ("pull up", "tie high"):
        level, was = "low", "high"
        to = next((s.name for s in bus.signals.values() if s.group == "return"), "")
    elif remedy.kind in ("pull down", "tie low"):
        level, was = "high", "low"
        to = next((s.name for s in bus.rails if s.volts == _LOGIC_V), "")
    elif remedy.kind == "jumper":
        why = "The card has it with the opposite polarity, so no jumper leads it; set the card to another line"
        return Remedy("leave open", f"{why} that the slot brings, and tell the software.")
    elif remedy.kind == "reset circuit":
        return replace(remedy, why=_ACTIVE.sub(lambda found: f"active-{_OTHER[found[1]]}", remedy.why))
    else:
        return remedy
    if remedy.kind.startswith("tie"):
        return Remedy("tie high" if level == "high" else "tie low", remedy.why, "", to)
    from .electrical.facts import facts
    from .pulls import Pull, ohms_text

    known = facts()
    loads = 0 if signal.driver == "card" else round(known.value("loads of a slot"))
    value = ohms_text(Pull(level == "high", signal, loads, known).value(""))
    why = f"The card has the line with the opposite polarity, so it is held {level} where the bus would have it {was}."
    return Remedy("pull up" if level == "high" else "pull down", why, value, to)
