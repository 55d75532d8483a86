"""What is to be done for each line that the slot does not bring: the dictionary's remedy, or the designer's choice.

What is wrong with a choice by itself, or contradicts another, is said where the adapter file is read (`designs`). Here
such a choice is passed over, so that nothing is done in its stead, whoever made the design.
"""

from __future__ import annotations

from collections import Counter

from msgspec import Struct

from .adapter import Adapter, Net, Unmapped
from .design import Choice, Design, Fuse, Jumper
from .errors import Place
from .findings import Finding, found
from .model import Contact, Remedy, RemedyKind, Signal
from .text import listed

#: Remedies that are parts and go in by themselves; a jumper must be told where it leads, a feed must be wanted.
BY_ITSELF: frozenset[RemedyKind] = frozenset(
    {"pull up", "pull down", "tie low", "tie high", "oscillator", "regulator", "reset circuit", "inverter"}
)
#: Remedies that put a level or a clock on a line with nothing that gives way: nobody else may drive it.
DRIVES: frozenset[RemedyKind] = frozenset({"tie low", "tie high", "oscillator", "reset circuit"})
#: The line with which a card takes the bus and then drives addresses and commands. [PC104] s.3.
TAKES_THE_BUS = "MASTER*"
_FOR_SUPPLIES: frozenset[RemedyKind] = frozenset({"regulator", "separate feed"})
_NOTHING: frozenset[RemedyKind] = frozenset({"leave open", "none"})
_TURNED: dict[RemedyKind, RemedyKind] = {
    "pull up": "pull down",
    "pull down": "pull up",
    "tie low": "tie high",
    "tie high": "tie low",
}


class Line(Struct, frozen=True):
    """A line of the card without a partner at the slot, its contact, and the name of the net that it is on."""

    signal: Signal
    unmapped: Unmapped
    contact: Contact
    net: str

    @property
    def name(self) -> str:
        """The line as the card has it."""
        return self.unmapped.signal

    @property
    def turned(self) -> bool:
        """Whether the slot has it with the opposite polarity."""
        return self.unmapped.remedy.kind == "inverter"


class Decision(Struct, frozen=True):
    """The remedy for a line; `place` is that of the choice, or None where the dictionary decides."""

    line: Line
    remedy: Remedy
    place: Place | None = None


class Decided(Struct, frozen=True):
    """What is to be carried out, by the dictionary's name of the line or rail, and what must not be."""

    remedies: dict[str, Decision]
    jumpers: dict[str, Jumper]
    fuses: dict[str, Fuse]
    findings: tuple[Finding, ...]


def absent_lines(adapter: Adapter) -> dict[str, Line]:
    """Return the card's lines without a partner, in the order of the card's bus."""
    at = {c.label: (c, net) for net in adapter.nets for c in net.card}
    out: dict[str, Line] = {}
    for each in adapter.unmapped:
        contact, net = at[each.contacts[0]] if each.end == "card" and each.contacts else (None, None)
        if contact and contact.signal and net:
            out.setdefault(contact.signal.name, Line(contact.signal, each, contact, net.name))
    order = {name: index for index, name in enumerate(adapter.card.bus.signals)}
    return dict(sorted(out.items(), key=lambda item: order.get(item[0], len(order))))


def slot_net(adapter: Adapter, name: str) -> Net | None:
    """Return the net of a line of the slot, by its name there; None where it has none that is settled."""
    for net in adapter.nets:
        if net.state not in ("conflict", "active") and any(c.signal and c.signal.name == name for c in net.host):
            return net
    return None


def decide(adapter: Adapter, design: Design) -> Decided:
    """Return what is to be done for each line, with a finding for what would fight a driver."""
    lines = absent_lines(adapter)
    times = Counter(c.signal for c in design.choices) + Counter(j.signal for j in design.jumpers)
    # A choice of jumper, and the jumper that it asks for, are one thing said twice.
    times -= Counter(c.signal for c in design.choices if c.kind == "jumper")
    choices = {c.signal: c for c in design.choices if c.kind != "jumper"}
    remedies: dict[str, Decision] = {}
    findings: list[Finding] = []
    for name, line in lines.items():
        choice = choices.get(name)
        if times[name] > 1 or any(j.signal == name for j in design.jumpers):
            continue
        if choice and _fits(line, choice):
            said = _fights(adapter, line, choice)
            findings += said
            if all(f.grade == "caution" for f in said):
                remedies[name] = Decision(line, _chosen(line, choice), choice.place)
        elif not choice and not any(c.signal == name for c in design.choices):
            remedy = _default(adapter, line)
            if remedy:
                remedies[name] = Decision(line, remedy)
    jumpers = _jumpers(adapter, design, {name: line for name, line in lines.items() if times[name] == 1})
    fused = Counter(f.rail for f in design.fuses)
    fuses = {f.rail: f for f in design.fuses if fused[f.rail] == 1}
    return Decided(remedies, jumpers, fuses, tuple(findings))


def _default(adapter: Adapter, line: Line) -> Remedy | None:
    remedy, absent = line.unmapped.remedy, line.signal.absent
    if line.turned:
        return remedy
    if remedy.kind not in BY_ITSELF or not absent or absent.grade == "note":
        return None
    if remedy.kind.startswith("tie") and dma_lines(adapter):
        return None  # as in `coverage`: right only on a machine without DMA
    turned = _TURNED.get(remedy.kind)
    # For a line that the card has with the other polarity; the value then follows from the loads.
    return Remedy(turned, remedy.why) if line.contact.inverted and turned else remedy


def _chosen(line: Line, choice: Choice) -> Remedy:
    """The choice as a remedy; what it leaves out is the dictionary's where that is of the same kind."""
    known = line.signal.absent.remedy if line.signal.absent else None
    if choice.kind in _NOTHING:
        return Remedy("leave open", "left open on purpose")
    if line.turned and choice.kind == "inverter":
        return line.unmapped.remedy
    if known and known.kind == choice.kind and not line.contact.inverted:
        return Remedy(choice.kind, known.why, choice.value or known.value, choice.to or known.to)
    return Remedy(choice.kind, "chosen in the adapter file", choice.value, choice.to)


def _fits(line: Line, choice: Choice) -> bool:
    kind, signal = choice.kind, line.signal
    usual = signal.absent.remedy.kind if signal.absent else None
    if kind in _NOTHING:
        return True
    if signal.group == "return" or (signal.group == "supply") != (kind in _FOR_SUPPLIES):
        return False
    if kind == "oscillator":
        return bool(signal.frequency) or usual == kind
    if kind == "reset circuit":
        return usual == kind
    return kind != "inverter" or line.turned


def _fights(adapter: Adapter, line: Line, choice: Choice) -> list[Finding]:
    """What speaks against a remedy that gives way to nobody."""
    kind, signal = choice.kind, line.signal
    if kind not in DRIVES:
        return []
    if signal.driver != "host":
        who = {"card": "the card drives", "either": "the card drives too"}.get(signal.driver, "nobody knows who drives")
        return [
            found(
                "remedy-fights",
                f"a remedy must not drive a line that something else drives: {kind} on {line.name}, which {who}",
                "Leave the line open; nothing was put in for it",
                choice.place,
                contacts=line.unmapped.contacts,
                signals=[line.name],
            )
        ]
    if kind == "oscillator" and signal.absent and signal.absent.remedy.kind == "none":
        return [
            found(
                "remedy-fights",
                f"a remedy must not pretend to be a line that no part makes up: {kind} on {line.name}. "
                f"{signal.absent.remedy.why}",
                "Leave the line open; nothing was put in for it",
                choice.place,
                contacts=line.unmapped.contacts,
                signals=[line.name],
                grade="fault",
            )
        ]
    masters = any(net.signal == TAKES_THE_BUS and net.host and net.card for net in adapter.nets)
    if kind.startswith("tie") and "three-state" in signal.output and masters:
        pull = "pull down" if kind == "tie low" else "pull up"
        return [
            found(
                "remedy-fights",
                f"a remedy must not drive a line that something else drives: {kind} on {line.name} gives no way to a "
                "card that takes the bus",
                f"Take {pull} where such a card may sit here",
                choice.place,
                contacts=line.unmapped.contacts,
                signals=[line.name],
                grade="caution",
            )
        ]
    dma = dma_lines(adapter)
    if kind.startswith("tie") and signal.absent and signal.absent.remedy.kind == kind and dma:
        return [
            found(
                "remedy-fights",
                f"{line.name} must be tied only on a machine without DMA, and the map brings {listed(dma)}: the card "
                "would answer in the middle of DMA cycles, against what then drives the data lines",
                "Find the line in the machine, or make sure that it does no DMA, its refresh included",
                choice.place,
                contacts=line.unmapped.contacts,
                signals=[line.name],
                grade="caution",
            )
        ]
    return []


def _jumpers(adapter: Adapter, design: Design, lines: dict[str, Line]) -> dict[str, Jumper]:
    """The jumpers that lead somewhere, no two of them set to one line of the slot."""
    out: dict[str, Jumper] = {}
    taken: set[str] = set()
    for jumper in design.jumpers:
        line = lines.get(jumper.signal)
        if line is None or line.turned or not jumper.to or len(set(jumper.to)) != len(jumper.to):
            continue
        nets = [slot_net(adapter, name) for name in jumper.to]
        if jumper.to[0] not in taken and all(net and _leads(line, net) for net in nets):
            taken.add(jumper.to[0])
            out[jumper.signal] = jumper
    return out


def _leads(line: Line, net: Net) -> bool:
    contact = net.host[0]
    return bool(
        contact.signal
        and (contact.signal.group, contact.signal.driver) == (line.signal.group, line.signal.driver)
        and line.signal.driver in ("host", "card")
        and contact.inverted == line.contact.inverted
    )


def dma_lines(adapter: Adapter) -> tuple[str, ...]:
    """The DMA lines that the machine brings, with whatever option."""
    names = (c.name for c in adapter.host.carrying() if c.signal and c.signal.group == "DMA")
    return tuple(dict.fromkeys(names))
