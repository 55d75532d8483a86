"""What is to be done for each line that the slot does not bring: the dictionary's remedy, or the designer's choice.

What is wrong with a choice by itself, or contradicts another, is said where the adapter file is read (`designs`). Here
such a choice is passed over, so that nothing is done in its stead, whoever made the design.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from .adapter import Adapter, Net, Unmapped
from .design import Choice, Design, Fuse, Jumper
from .errors import NOWHERE, Place
from .findings import Finding, found
from .model import Bus, Contact, PinMap, Remedy, RemedyKind, Signal
from .quantity import parse
from .slot import partner_of, unpaired
from .text import listed, quoted, ranges

Level = Literal["high", "low"]

#: The supply of the logic, in V. [PC104] s.4.8.
LOGIC_V = 5.0
#: Remedies that are parts and go in by themselves. A jumper must be told where it leads, a feed must be wanted, and a
#: tie is right only on a machine that never moves the line, which its owner must say.
BY_ITSELF: frozenset[RemedyKind] = frozenset(
    {"pull up", "pull down", "oscillator", "regulator", "reset circuit", "inverter"}
)
#: Remedies that put a level or a clock on a line with nothing that gives way: nobody else may drive it.
DRIVES: frozenset[RemedyKind] = frozenset({"tie low", "tie high", "oscillator", "reset circuit"})
#: The line with which a card takes the bus and then drives addresses and commands. [PC104] s.3.
TAKES_THE_BUS = "MASTER*"
#: How far an oscillator may be from its line's frequency, as a part of it. A frequency that is written short
#: (14.32 MHz) is within 0.02 %; what is further off is another can, the nearest usual one (14.7456 MHz) by 3 %. From
#: memory.
OSCILLATOR_WITHIN = 1e-3
_FOR_SUPPLIES: frozenset[RemedyKind] = frozenset({"regulator", "separate feed"})
_NOTHING: frozenset[RemedyKind] = frozenset({"leave open", "none"})
_TURNED: dict[RemedyKind, RemedyKind] = {
    "pull up": "pull down",
    "pull down": "pull up",
    "tie low": "tie high",
    "tie high": "tie low",
}
#: The level at which each of these holds a line.
LEVELS: dict[RemedyKind, Level] = {"pull up": "high", "tie high": "high", "pull down": "low", "tie low": "low"}
_OTHER: dict[str, Level] = {"high": "low", "low": "high"}
#: Groups whose lines have no level of rest: either level is as good as the other.
_NO_REST = ("data", "address", "supply", "return")


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
    """The remedy for a line; `place` is that of the choice, or None where the dictionary decides.

    `valued`: the designer wrote the value; otherwise it may be changed to suit the loads.
    """

    line: Line
    remedy: Remedy
    place: Place | None = None
    valued: bool = False


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
    led, chosen = {j.signal for j in design.jumpers}, {c.signal for c in design.choices}
    masters = any(net.signal == TAKES_THE_BUS and net.host and net.card for net in adapter.nets)
    dma = dma_lines(adapter)
    users = _dma_users(adapter.card.bus, design)
    active: dict[tuple[Choice, str], list[Line]] = {}
    for name, line in lines.items():
        choice = choices.get(name)
        if times[name] > 1 or name in led:
            continue
        if choice and _fits(line, choice) and _ends(adapter.card, choice):
            said = _fights(line, choice, masters=masters) + _answers(line, choice, dma, users) + _off_tune(line, choice)
            refused = any(f.grade != "caution" for f in said)
            if not refused and _acts(line, choice.kind):
                alike = replace(choice, signal="", value="", to="")  # those of one entry are one finding
                active.setdefault((alike, _sees(adapter.card.bus, line.signal)), []).append(line)
                continue
            findings += said
            if not refused:
                remedies[name] = Decision(line, _chosen(line, choice), choice.place, bool(choice.value))
        elif name not in chosen:
            remedy = _default(line)
            if remedy:
                remedies[name] = Decision(line, remedy)
    findings += [_active(choice, sees, several) for (choice, sees), several in active.items()]
    jumpers = _jumpers(adapter, design, {name: line for name, line in lines.items() if times[name] == 1})
    fused = Counter(f.rail for f in design.fuses)
    fuses = {f.rail: f for f in design.fuses if fused[f.rail] == 1}
    return Decided(remedies, jumpers, fuses, tuple(findings))


def _default(line: Line) -> Remedy | None:
    remedy, absent = line.unmapped.remedy, line.signal.absent
    if line.turned:
        return remedy
    if remedy.kind not in BY_ITSELF or not absent or absent.grade == "note":
        return None
    return remedy


def _chosen(line: Line, choice: Choice) -> Remedy:
    """The choice as a remedy; what it leaves out is the dictionary's where that is of the same kind."""
    known = line.signal.absent.remedy if line.signal.absent else None
    if known and line.contact.inverted:  # the plan has it for the polarity of the card's contact
        known = None if line.turned else line.unmapped.remedy
    if choice.kind in _NOTHING:
        return Remedy("leave open", "left open on purpose")
    if line.turned and choice.kind == "inverter":
        return line.unmapped.remedy
    # However short its frequency was written, the part is the one that the line wants.
    value = _frequency(line.signal) if choice.kind == "oscillator" else choice.value
    if known and known.kind == choice.kind:
        return Remedy(choice.kind, known.why, value or known.value, choice.to or known.to)
    return Remedy(choice.kind, "chosen in the adapter file", value, choice.to)


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


def _ends(card: PinMap, choice: Choice) -> bool:
    """Whether the other end of a hold is one: the logic's supply for the high level, a return for the low one."""
    level = LEVELS.get(choice.kind)
    if not level or not choice.to:
        return True
    end = card.bus.signals.get(choice.to) or card.own.get(choice.to)
    if level == "high":
        return bool(end and end.volts and 0 < end.volts <= LOGIC_V)
    return bool(end and end.group == "return")


def _fights(line: Line, choice: Choice, *, masters: bool) -> list[Finding]:
    """What speaks against a remedy that gives way to nobody; `masters`: a card may take the bus."""
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
    if kind.startswith("tie") and "open collector" in signal.output:
        return [
            found(
                "remedy-fights",
                f"a remedy must not drive a line that something else drives: {kind} on {line.name}, which is open "
                "collector, so that a card may drive it too",
                f"Take pull {'down' if line.contact.inverted else 'up'}; nothing was put in for it",
                choice.place,
                contacts=line.unmapped.contacts,
                signals=[line.name],
            )
        ]
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
    return []


def _dma_users(bus: Bus, design: Design) -> list[str]:
    """The cards of a design that are there for DMA, or for a refresh that it does, as a message names them."""
    kinds = {kind.name: kind for kind in bus.kinds}

    def does(names: Iterable[str]) -> bool:
        return any(name in bus.signals and bus.signals[name].group == "DMA" for name in names)

    out = []
    for card in design.cards:
        kind = kinds.get(card.kind)
        if does(card.needs) or (kind and (does(kind.needs) or any(does(some) for some in kind.one_of))):
            out.append(f"{quoted(card.name)}{f' (line {card.place.line})' if card.place != NOWHERE else ''}")
    return out


def _answers(line: Line, choice: Choice, dma: Sequence[str], users: Sequence[str]) -> list[Finding]:
    """What speaks against a level that is right only without DMA; `dma` are the DMA lines that the machine brings.

    A pull that no driver overcomes holds a line as well as a tie does. Where the design's own cards, `users`, are there
    for DMA it is refused: then nobody can mean that the machine does none.
    """
    usual = line.signal.absent.remedy.kind if line.signal.absent else "none"
    level = LEVELS.get(_TURNED.get(usual, usual) if line.contact.inverted else usual)
    if not dma or not usual.startswith("tie") or level is None or LEVELS.get(choice.kind) != level:
        return []
    used = f"; {listed(users)} {'needs' if len(users) == 1 else 'need'} DMA" if users else ""
    advice = "Find the line in the machine, or make sure that it does no DMA, its refresh included"
    if users:
        advice = "Find the line in the machine; nothing was put in for it"
    return [
        found(
            "remedy-fights",
            f"{line.name} must be {'tied' if choice.kind.startswith('tie') else f'held {level}'} only on a machine "
            f"without DMA, and the map brings {listed(dma)}: the card would answer in the middle of DMA cycles, "
            f"against what then drives the data lines{used}",
            advice,
            choice.place,
            contacts=line.unmapped.contacts,
            signals=[line.name],
            grade="danger" if users else "caution",
        )
    ]


def _frequency(signal: Signal) -> str:
    """The frequency of a clock, as its dictionary writes it."""
    usual = signal.absent.remedy if signal.absent and signal.absent.remedy.kind == "oscillator" else None
    return signal.frequency or (usual.value if usual else "")


def _off_tune(line: Line, choice: Choice) -> list[Finding]:
    """What speaks against an oscillator of another frequency than the line's."""
    wanted = _frequency(line.signal)
    if choice.kind != "oscillator" or not choice.value or not wanted:
        return []
    try:
        there = parse(choice.value, "Hz")
    except ValueError:
        there = 0.0
    if abs(there / parse(wanted, "Hz") - 1) <= OSCILLATOR_WITHIN:
        return []
    source = line.signal.source_of("frequency")
    return [
        found(
            "remedy-weak",
            f"an oscillator must have its line's frequency: {line.name} is {wanted}{f' ({source})' if source else ''}, "
            f"not {choice.value}",
            f"Take {wanted}; nothing was put in for it",
            choice.place,
            contacts=line.unmapped.contacts,
            signals=[line.name],
        )
    ]


def _acts(line: Line, kind: RemedyKind) -> bool:
    """Whether a remedy holds a line at the level at which it acts.

    A level that is also the line's own without a driver, or that the dictionary advises, is right all the same.
    """
    signal, level = line.signal, LEVELS.get(kind)
    if level is None or signal.group in _NO_REST or signal.frequency:
        return False
    if line.contact.inverted:
        level = _OTHER[level]
    advised = LEVELS.get(signal.absent.remedy.kind) if signal.absent else None
    return signal.active == level and level not in (signal.idle, advised)


def rest_of(line: Line) -> Level:
    """The level of the card's side of a line while nobody drives it; the one at which it does not act if that is open.

    The low one where nothing is known of either.
    """
    signal = line.signal
    level: Level = "high" if signal.idle == "high" else "low"
    if signal.idle not in ("high", "low"):
        level = _OTHER.get(signal.active, "low")
    return _OTHER[level] if line.contact.inverted else level


def _sees(bus: Bus, signal: Signal) -> str:
    """What follows where a card sees a line act for good, "" where it merely cannot work; from memory."""
    if signal.group == "command":
        return "a card sees the command whenever its address comes by, and drives the data lines or is written to"
    if signal.name == TAKES_THE_BUS:
        return "whatever listens to it takes the bus for given away, and lets go of it or drives it"
    grants = signal.group == "DMA" and signal.name.startswith("DACK")
    if grants and partner_of(bus, signal.name):
        return "a card sees its request granted without end, and drives the data lines at every IOR*"
    if grants or signal.name == "REFRESH*":
        return "a card sees a refresh without end, and works its memory in the middle of other cycles"
    return ""


def _active(choice: Choice, sees: str, lines: list[Line]) -> Finding:
    """Say of the lines of one choice that it would hold them where they act."""
    level, signal, several = LEVELS[choice.kind], lines[0].signal, len(lines) > 1
    names = [line.name for line in lines]
    usual = signal.absent.remedy if signal.absent else None
    advice = f"Take {'pull up' if level == 'low' else 'pull down'}"
    if usual and usual.kind in (*BY_ITSELF, *LEVELS):
        kind = _TURNED.get(usual.kind, usual.kind) if lines[0].contact.inverted else usual.kind
        # A tie is right only for a reason that the owner must know.
        why = f" ({usual.why[:1].lower()}{usual.why[1:].rstrip('.')})" if kind.startswith("tie") else ""
        advice = f"Take {kind}{why}"
    return found(
        "remedy-active",
        f"a remedy must hold a line at rest, not at the level at which it acts: {choice.kind} on {ranges(names)}, "
        f"which {'act' if several else 'acts'} when {level}{f': {sees}' if sees else ''}",
        f"{advice}, or leave the {'lines' if several else 'line'} open; nothing was put in for "
        f"{'them' if several else 'it'}",
        choice.place,
        contacts=[c for line in lines for c in line.unmapped.contacts],
        signals=names,
        grade=None if sees else "fault",
    )


def _jumpers(adapter: Adapter, design: Design, lines: dict[str, Line]) -> dict[str, Jumper]:
    """The jumpers that lead somewhere, no two set to one line of the slot, and DMA's two lines to one channel."""
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
    straight = {
        net.signal: there.name
        for net in adapter.nets
        if net.signal and net.card and net.host and (there := net.host[0].signal)
    } | {name: name for name, line in lines.items() if line.turned}
    for jumper, *_ in list(unpaired(adapter.card.bus, list(out.values()), straight)):
        del out[jumper.signal]
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
