"""Choices of a design that cannot both be meant: each complaint names both places."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from .design import CardUse, Choice, Design
from .findings import Finding, found
from .quantity import amps
from .slot import Slot, partner_of, unpaired
from .text import listed, quoted

#: For each line the cards that cannot do without it, with the reason as a message says it.
_Wanted = Mapping[str, list[tuple[CardUse, str]]]


def contradictions(slot: Slot, design: Design, led: Collection[str]) -> Iterator[Finding]:
    """Yield what contradicts in `design`; `led` are the lines that stand under jumpers, also in a wrong entry."""
    choices = {choice.signal: choice for choice in design.choices}
    wanted = _wanted(slot, design.cards)
    yield from _remedies_and_jumpers(design, choices, led)
    yield from _fuses(slot, design, choices)
    for choice in design.choices:
        for card, verb in wanted.get(choice.signal, ()) if choice.kind == "leave open" else ():
            yield found(
                "choice-contradicts",
                f"remedies › {choice.signal} must not be left open: {quoted(card.name)} (line {card.place.line}) "
                f"{verb}",
                "Choose a remedy for the line, or take the card out",
                choice.place,
            )
    yield from _opposite(slot, design)
    yield from _shared(slot, design, wanted)
    yield from _pairs(slot, design, choices, led)
    yield from _alternates(slot, design)


def _remedies_and_jumpers(design: Design, choices: Mapping[str, Choice], led: Collection[str]) -> Iterator[Finding]:
    for jumper in design.jumpers:
        choice = choices.get(jumper.signal)
        if choice and choice.kind != "jumper":
            yield found(
                "choice-contradicts",
                f"one thing must be chosen for a line: jumpers lead {jumper.signal} to {listed(jumper.to, 'or')}, "
                f"and remedies (line {choice.place.line}) say {quoted(choice.kind)}",
                "Take one of the two out",
                jumper.place,
            )
    for choice in design.choices:
        if choice.kind == "jumper" and choice.signal not in led:
            yield found(
                "key-missing",
                f"remedies › {choice.signal} is a jumper, so jumpers must say to which line of the slot it leads",
                f"Write under jumpers: {choice.signal}: LINE",
                choice.place,
            )


def _fuses(slot: Slot, design: Design, choices: Mapping[str, Choice]) -> Iterator[Finding]:
    for fuse in design.fuses:
        choice = choices.get(fuse.rail)
        if fuse.rail in slot.brought:
            continue
        if choice:
            yield found(
                "choice-contradicts",
                f"a fuse must be in a rail that the slot brings; for {fuse.rail} remedies "
                f"(line {choice.place.line}) say {quoted(choice.kind)}",
                "Take one of the two out",
                fuse.place,
            )
        else:
            yield found(
                "supply-unknown",
                f"a fuse must be in a rail that the slot brings, and {slot.host.name} does not bring {fuse.rail}",
                "Take it out, or put it into the rail from which a part makes this one",
                fuse.place,
            )


def _opposite(slot: Slot, design: Design) -> Iterator[Finding]:
    """Find jumpers between lines of opposite polarity, or to a line of the slot that wants an inverter itself."""
    options = frozenset(design.fitted)
    turned = {c.signal.name: c for c in slot.card.fitted(options) if c.signal and c.inverted}
    for jumper in design.jumpers:
        name, why, advice, targets = jumper.signal, "", "Take the jumper out", [""]
        if name in slot.opposite:
            why = f"{slot.host.name} brings {name} with the opposite polarity: an inverter leads it, and no jumper does"
        elif name in turned:
            contact = turned[name]
            why = f"{slot.card.name} has {contact.name} ({contact.label}), of opposite polarity"
            advice = "Take the jumper out, and set the card to another line"
        else:
            targets = []
            for to in jumper.to:
                there = slot.at_host[to].signal if to in slot.at_host else None
                own = slot.host.bus.counterpart(there, slot.card.bus)[0] if there else None
                if own and own.name in slot.opposite:
                    targets.append(to)
            why = f"{slot.card.name} has {'them' if len(targets) > 1 else 'it'} with the opposite polarity"
            if len(targets) < len(jumper.to):
                advice = f"Take {listed(targets)} out"
        if targets:
            lines = [to for to in targets if to]
            yield found(
                "choice-contradicts",
                f"a jumper must join lines of the same polarity: jumpers lead {name} to "
                f"{listed(lines or jumper.to, 'or')}, and {why}",
                advice,
                jumper.place,
                signals=[name],
            )


def _shared(slot: Slot, design: Design, wanted: _Wanted) -> Iterator[Finding]:
    """Find lines of the slot to which two lines of the card are led: neither an interrupt nor DMA is shared."""
    taken: dict[str, tuple[str, int]] = {}
    for jumper in design.jumpers:
        target = jumper.to[0]
        other, line = taken.setdefault(target, (jumper.signal, jumper.place.line))
        if other != jumper.signal:
            yield found(
                "choice-contradicts",
                f"jumpers must lead each line of the card to another line of the slot; {jumper.signal} and "
                f"{other} (line {line}) are both set to {target}",
                "Name another line first in one of the two",
                jumper.place,
            )
        for card, _ in wanted.get(slot.wired.get(target, ""), ()):
            yield found(
                "choice-contradicts",
                f"jumpers › {jumper.signal} must not be set to {target}, which {quoted(card.name)} "
                f"(line {card.place.line}) needs for itself",
                "Name another line first",
                jumper.place,
            )


def _pairs(slot: Slot, design: Design, choices: Mapping[str, Choice], led: Collection[str]) -> Iterator[Finding]:
    """Find jumpers that part the request and the acknowledge of a DMA channel."""
    jumpers = {jumper.signal: jumper for jumper in design.jumpers}
    for jumper, partner, there in unpaired(slot.card.bus, design.jumpers, slot.straight):
        other, choice = jumpers.get(partner), choices.get(partner)
        wrong = partner in led or (choice and choice.kind == "jumper")
        if wrong and not other:
            continue  # said already, of a wrong or lacking entry
        if other and other.place > jumper.place:
            continue  # said at the later of the two
        if other:
            goes = f"{other.signal} (line {other.place.line}) to {other.to[0]}"
            advice = "Name lines of the same channel first in both"
        elif partner not in slot.lines:
            goes, advice = f"{slot.card.name} has no {partner}", "Take the jumper out: DMA needs both"
        elif there:
            label = f" ({slot.brought[partner][0].label})" if partner in slot.brought else ""
            goes = f"{partner} has {'a wire' if label else 'an inverter'} to {there} of the slot{label}"
            advice = "Take the jumper out, and set the card to a channel of which the slot brings both lines"
        else:
            held = f", for which remedies (line {choice.place.line}) say {quoted(choice.kind)}," if choice else ""
            goes = f"{partner}{held} is led nowhere"
            wanted = partner_of(slot.host.bus, jumper.to[0])
            advice = f"Write under jumpers: {partner}: {wanted}, or take" if wanted else "Take"
            advice += f" the jumper of {jumper.signal} out"
        yield found(
            "choice-contradicts",
            f"the request and the acknowledge of a DMA channel must go to one channel of the slot: jumpers lead "
            f"{jumper.signal} to {jumper.to[0]}, and {goes}",
            advice,
            jumper.place,
            signals=[jumper.signal, partner],
        )


def _alternates(slot: Slot, design: Design) -> Iterator[Finding]:
    """Find jumpers of a DMA channel's two lines that cannot be moved together."""
    jumpers = {jumper.signal: jumper for jumper in design.jumpers}
    for jumper in design.jumpers:
        other = jumpers.get(partner_of(slot.card.bus, jumper.signal))
        if other is None or other.place > jumper.place or other is jumper:
            continue
        pairs = ((jumper, other), (other, jumper))
        alone = [(a, b, [to for to in a.to if partner_of(slot.host.bus, to) not in b.to]) for a, b in pairs]
        if any(lines and lines[0] == a.to[0] for a, _, lines in alone):
            continue  # said already, of the lines that are set
        for a, b, lines in alone:
            if lines:
                wanted = [partner for to in lines if (partner := partner_of(slot.host.bus, to))]
                yield found(
                    "choice-contradicts",
                    "the jumpers of the request and the acknowledge of a DMA channel must be movable together: "
                    f"{a.signal}{f' (line {a.place.line})' if a is other else ''} can be led to {listed(lines, 'or')}, "
                    f"and {b.signal}{f' (line {b.place.line})' if b is other else ''} not to "
                    f"{listed(wanted, 'or') or 'the same channel'}",
                    f"Name {listed(wanted)} under {b.signal} too, or take {listed(lines)} out"
                    if wanted
                    else f"Take {listed(lines)} out",
                    jumper.place,
                    signals=[a.signal, b.signal],
                )


def _wanted(slot: Slot, cards: tuple[CardUse, ...]) -> _Wanted:
    """The lines that cards need: those named in the file, those of their kind, and the rails from which they draw."""
    kinds = {kind.name: kind.needs for kind in slot.card.bus.kinds}
    out: dict[str, list[tuple[CardUse, str]]] = {}
    for card in cards:
        lines = dict.fromkeys(kinds.get(card.kind, ()), f"is of the kind {card.kind}, which needs it")
        lines |= {rail: f"draws {amps(drawn)} from it" for rail, drawn in card.draws_a.items() if drawn}
        lines |= dict.fromkeys(card.needs, "needs it")
        for line, verb in lines.items():
            out.setdefault(line, []).append((card, verb))
    return out
