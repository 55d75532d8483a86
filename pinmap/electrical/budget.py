"""Puts the budget of a design together: its supplies, its conductors, its lines, and what its cards need."""

from __future__ import annotations

from collections.abc import Iterable

from ..adapter import Adapter
from ..design import CardUse, Design
from ..findings import Finding, found, ordered
from ..model import CardKind, RemedyKind
from ..parts import Part, PartKind
from ..text import listed, ranges
from . import Budget
from .conductor_use import conductor_use, conductors
from .lines import lines
from .supplies import missed, remedy_of, supplies

#: Parts that make up a line for a card that needs it. Pulls and links only keep a card quiet that does not need the
#: line, but for the link that the dictionary itself advises: it stands for a line that never moves, like AEN where
#: nothing does DMA.
_MAKES_UP: frozenset[PartKind] = frozenset({"oscillator", "regulator", "supervisor", "inverter", "terminal", "jumper"})
#: What the other end of a link is called, by the tie that it makes.
_TIED: dict[RemedyKind, str] = {"tie low": "return", "tie high": "rail"}
#: Remedies that make nothing up.
_QUIET: frozenset[RemedyKind] = frozenset({"leave open", "pull up", "pull down"})
#: What such a remedy, and a tie, is called in a sentence.
_CALLED: dict[RemedyKind, str] = {
    "leave open": "leaving it open",
    "pull up": "a pull-up",
    "pull down": "a pull-down",
    "tie low": "a tie to the return",
    "tie high": "a tie to a rail",
}


def budget(adapter: Adapter, design: Design) -> Budget:
    """Work out whether `adapter`, its parts included, does electrically what `design` says.

    What the design does not say is left out, or taken from the facts; `Budget.assumed` lists both.
    """
    built = conductors(design.build)
    rails = supplies(adapter, design, built.supply)
    signals = lines(adapter, design)
    place = design.build.place if design.build else design.place
    table, said, too_thin = conductor_use(built, rails.one_carries_a, signals.one_carries_a, place)
    findings = [*rails.findings, *too_thin, *signals.findings, *_needs(adapter, design)]
    return Budget(
        supplies=rails.table,
        conductors=table,
        lines=signals.table,
        timing=signals.timing,
        returns=signals.returns,
        supplies_said=rails.said,
        conductors_said=said,
        lines_said=signals.said,
        findings=ordered(findings),
        assumed=tuple(dict.fromkeys((*rails.assumed, *built.assumed, *signals.assumed))),
    )


def _needs(adapter: Adapter, design: Design) -> Iterable[Finding]:
    """The lines that the cards need, held against what the slot brings and the parts make up."""
    kinds = {k.name: k for k in adapter.card.bus.kinds}
    there = _lines_at_card(adapter)
    for card in design.cards:
        kind = kinds.get(card.kind)
        alike: dict[tuple[str, str], list[str]] = {}
        for line in dict.fromkeys((*card.needs, *_drawn(card), *(kind.needs if kind else ()))):
            if line not in there:
                alike.setdefault((_why(adapter, line), _advice(adapter, design, line, there, kind)), []).append(line)
        for (why, remedy), several in alike.items():
            them = "it" if len(several) == 1 else "them"
            yield found(
                "card-needs-line",
                f"{card.name} needs {ranges(several)}: {why}, and no part makes {them} up",
                remedy,
                card.place,
                signals=several,
            )
        if kind:
            yield from _one_of(adapter, design, card, kind, there)


def _drawn(card: CardUse) -> tuple[str, ...]:
    """The rails from which the file says that a card draws; what its kind draws from, the kind needs."""
    return tuple(rail for rail, current in card.draws_a.items() if current > 0)


def _one_of(
    adapter: Adapter, design: Design, card: CardUse, kind: CardKind, there: frozenset[str]
) -> Iterable[Finding]:
    if not kind.one_of or any(there.issuperset(group) for group in kind.one_of):
        return
    first = next((line for group in kind.one_of for line in group if line not in there), "")
    yield found(
        "card-needs-line",
        f"{card.name} needs {listed((' and '.join(g) for g in kind.one_of), 'or')}, as a card of the kind {kind.name}: "
        "the slot brings none, and no part makes one up",
        _advice(adapter, design, first, there, kind),
        card.place,
        signals=[line for group in kind.one_of for line in group],
    )


def _advice(adapter: Adapter, design: Design, line: str, there: frozenset[str], kind: CardKind | None) -> str:
    """What helps a card of a kind that needs a line: never what only keeps quiet a card that does not need it.

    Nor what the file has chosen for the line: that does not bring it.
    """
    bus = adapter.card.bus
    signal = bus.signals.get(line)
    known, miss = signal.absent.remedy if signal and signal.absent else None, missed(adapter, line)
    if miss and miss.remedy.kind == "inverter":
        known = miss.remedy
    chosen = next((c.kind for c in design.choices if c.signal == line), None)
    if chosen is None and (known is None or known.kind not in _QUIET):
        return remedy_of(adapter, line)
    if chosen is not None and known is not None and known.kind not in {*_QUIET, chosen, "none"}:
        text = str(known)
        return f"{text[:1].upper()}{text[1:]}"
    what = _CALLED.get(chosen or (known.kind if known else "none"))
    if what:
        alone = f"{what} only keeps quiet a card that does not need the line"
    else:
        alone = "what the file chose for the line is not carried out"
    kinds = [k for k in ((kind,) if kind else ()) + bus.kinds if any(line in group for group in k.one_of)]
    others = [" with ".join(g) for k in kinds[:1] for g in k.one_of if line not in g and there.issuperset(g)]
    if not others:
        return f"This card cannot work here: {alone}"
    return (
        f"Set the card to another channel ({listed(others, 'or')} can be had here); on this one it cannot work: {alone}"
    )


def _lines_at_card(adapter: Adapter) -> frozenset[str]:
    """The lines that arrive at the card's contacts: by wire, or because a part makes them up.

    They go by their names in the dictionary, also where the card has them with the other polarity.
    """
    named = {c.name: c.signal.name for c in adapter.card.carrying() if c.signal}
    nets = [n for n in adapter.nets if n.host and n.card and n.state in ("straight", "joined") and n.signal]
    out = {line for n in nets for line in (n.signal, *(c.name for c in n.card)) if line}
    for part in adapter.parts:
        if part.kind in _MAKES_UP or part.kind == "fuse":
            out |= {part.feeds} if part.feeds else set()
            out |= set(part.serves)
        elif part.kind == "link":
            out |= {line for line in part.serves if _advised(adapter, line, part)}
    return frozenset(named.get(line, line) for line in out)


def _advised(adapter: Adapter, line: str, link: Part) -> bool:
    """Whether the dictionary's own remedy for a line is the tie that a link makes.

    A line that the card has with the other polarity rests at the other level.
    """
    contact = next((c for c in adapter.card.carrying() if c.name == line), None)
    signal = contact.signal if contact else adapter.card.bus.signals.get(line)
    kind = signal.absent.remedy.kind if signal and signal.absent else None
    if kind in _TIED and contact is not None and contact.inverted:
        kind = "tie low" if kind == "tie high" else "tie high"
    other = _TIED.get(kind) if kind else None
    return other is not None and any(what == other for _, what in link.pins)


def _why(adapter: Adapter, line: str) -> str:
    miss = missed(adapter, line)
    if miss:
        return miss.reason
    if line not in adapter.card.by_signal:
        return "the card's connector has no contact for it"
    return "it does not arrive"
