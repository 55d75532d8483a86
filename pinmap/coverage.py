"""Which signals are there, and which kinds of card can work with them.

For every group of the bus: what is present. For every kind of card in the dictionary: an answer, with and without each
option, and the lines that decide it.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

from msgspec import Struct

from .model import GROUPS, Bus, CardKind, Contact, Group, PinMap, Remedy, Signal
from .text import listed, ranges

Answer = Literal["works", "works with parts", "does not work"]

#: Remedies that are parts, and make the line usable for a card that needs it. The others (pull, tie, leave open)
#: keep a card quiet that does not need the line. A tie stands for a line that never moves on a machine without DMA,
#: like AEN: where the slot brings DMA lines, it is none.
_MAKES_UP = frozenset({"oscillator", "regulator", "reset circuit", "inverter", "separate feed", "tie low", "tie high"})


class GroupCover(Struct, frozen=True):
    """One group of the bus: the names present, those only with an option, and those absent, in the bus's order."""

    group: Group
    present: tuple[str, ...]
    optional: tuple[tuple[str, str], ...]  # (name, option)
    absent: tuple[str, ...]


class KindCover(Struct, frozen=True):
    """The answer for one kind of card with one set of options fitted.

    `missing`: lines that decide against it; `missing_one_of`: groups of which any one would do, none complete.
    `parts`: lines that a remedy makes up, with the remedy. `guessed`: lines it needs that rest on a guess.
    `lacking_help`: lines that some such cards use, absent here.
    """

    kind: str
    about: str
    answer: Answer
    missing: tuple[str, ...] = ()
    missing_one_of: tuple[tuple[str, ...], ...] = ()
    parts: tuple[tuple[str, Remedy], ...] = ()
    guessed: tuple[str, ...] = ()
    lacking_help: tuple[str, ...] = ()

    def sentence(self) -> str:
        """Say the answer and what decides it."""
        if self.answer == "does not work":
            lacks = [listed(ranges(self.missing).split(", "))] if self.missing else []
            if self.missing_one_of:
                lacks.append(f"any one of {listed(('+'.join(g) for g in self.missing_one_of), 'or')}")
            text = f"does not work: missing {'; and '.join(lacks)}"
        elif self.answer == "works with parts":
            needs = (f"{name} ({_part(remedy)})" for name, remedy in self.parts)
            text = f"works with parts: {listed(needs)}"
        else:
            text = "works"
        if self.guessed and self.answer != "does not work":
            text += f"; rests on a guess: {listed(self.guessed)}"
        if self.lacking_help and self.answer != "does not work":
            text += f"; without {listed(ranges(self.lacking_help).split(', '))}, which some such cards use"
        return text


class Coverage(Struct, frozen=True):
    """What a slot covers: `groups`; `kinds` with the options in `fitted`; `gained` kinds by option not fitted."""

    fitted: tuple[str, ...]
    groups: tuple[GroupCover, ...]
    kinds: tuple[KindCover, ...]
    gained: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def works(self) -> tuple[str, ...]:
        """The kinds of card that can work, with parts or without."""
        return tuple(k.kind for k in self.kinds if k.answer != "does not work")


_INVERTER = Remedy("inverter", "the line is there with the opposite polarity")


def coverage(pin_map: PinMap, fitted: Iterable[str] = ()) -> Coverage:
    """Answer which kinds of card can work on `pin_map` with the options `fitted`, on its own bus."""
    return cover(pin_map, pin_map.bus, fitted)


def cover(pin_map: PinMap, bus: Bus, fitted: Iterable[str] = ()) -> Coverage:
    """Answer which cards made for `bus` can work on `pin_map`; its lines are taken as their counterparts there."""
    options = frozenset(fitted)
    kinds = tuple(_kinds(pin_map, bus, options))
    works = {k.kind: k.answer for k in kinds}
    gained = []
    for option in sorted(pin_map.options):
        if option not in options:
            more = _kinds(pin_map, bus, options | {option})
            better = tuple(k.kind for k in more if k.answer == "works" and works[k.kind] != "works")
            if better:
                gained.append((option, better))
    return Coverage(tuple(sorted(options)), tuple(_groups(pin_map, bus, options)), kinds, tuple(gained))


def lines_for(pin_map: PinMap, bus: Bus, options: frozenset[str]) -> dict[str, Contact]:
    """Return, by the name that `bus` gives it, a contact for each line that `pin_map` brings with these options.

    A line whose contact is disputed (described twice with different things) counts as absent.
    """
    out: dict[str, Contact] = {}
    disputed = pin_map.disputed(options)
    counterparts: dict[str, Signal | None] = {}
    for contact in pin_map.fitted(options):
        signal = contact.signal
        if signal is None or signal.name in pin_map.own or contact.label in disputed:
            continue
        if signal.name not in counterparts:
            counterparts[signal.name] = pin_map.bus.counterpart(signal, bus)[0]
        there = counterparts[signal.name]
        if there and there.rail == signal.rail and (there.name not in out or out[there.name].seen == "guessed"):
            out[there.name] = contact
    return out


def _groups(pin_map: PinMap, bus: Bus, options: frozenset[str]) -> Iterable[GroupCover]:
    now = lines_for(pin_map, bus, options)
    ever = lines_for(pin_map, bus, frozenset(pin_map.options))
    for group in GROUPS:
        names = [s.name for s in bus.signals.values() if s.group == group]
        if names:
            yield GroupCover(
                group,
                tuple(n for n in names if n in now),
                tuple((n, ever[n].option) for n in names if n in ever and n not in now),
                tuple(n for n in names if n not in ever),
            )


def _kinds(pin_map: PinMap, bus: Bus, options: frozenset[str]) -> list[KindCover]:
    lines = lines_for(pin_map, bus, options)
    return [_kind_cover(kind, lines, bus) for kind in bus.kinds]


def _kind_cover(kind: CardKind, lines: dict[str, Contact], bus: Bus) -> KindCover:
    wanted = list(kind.needs)
    dma = any(bus.signals[line].group == "DMA" for line in lines)
    if kind.one_of:
        wanted += min(kind.one_of, key=lambda group: _distance(group, lines))
    missing: list[str] = []
    parts: list[tuple[str, Remedy]] = []
    guessed: list[str] = []
    for line in wanted:
        contact = lines.get(line)
        absent = bus.signals[line].absent
        if contact and not contact.inverted:
            guessed += [line] if contact.seen == "guessed" else []
        elif contact:
            parts.append((line, _INVERTER))
        elif absent and absent.remedy.kind in _MAKES_UP and not (dma and absent.remedy.kind.startswith("tie")):
            parts.append((line, absent.remedy))
        else:
            missing.append(line)
    # Where none of the alternatives is complete, all are named: any one of them would do.
    lacking = kind.one_of if any(line in missing for line in wanted[len(kind.needs) :]) else ()
    missing = [line for line in missing if line in kind.needs]
    answer: Answer = "does not work" if missing or lacking else "works with parts" if parts else "works"
    return KindCover(
        kind.name,
        kind.about,
        answer,
        tuple(missing),
        lacking,
        tuple(parts),
        tuple(guessed),
        tuple(h for h in kind.helps if h not in lines or lines[h].inverted),
    )


def _distance(group: Iterable[str], lines: dict[str, Contact]) -> tuple[int, int, int]:
    """How far a group is from complete: lines missing, lines inverted, lines guessed."""
    names = list(group)
    there = [lines[name] for name in names if name in lines]
    return (len(names) - len(there), sum(c.inverted for c in there), sum(c.seen == "guessed" for c in there))


def _part(remedy: Remedy) -> str:
    return f"{remedy.kind} {remedy.value}".strip()
