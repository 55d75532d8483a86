"""Faults in pin maps, put in on purpose, and whether the checks find them. Everything comes from a seed."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping
from functools import cache

from msgspec import Struct
from msgspec.structs import replace

from pinmap import api, checks
from pinmap.findings import Finding
from pinmap.mistakes import Mistake, mistakes, table_order
from pinmap.model import Contact, PinMap
from pinmap.resemblance import explanations

PUBLISHED = ("isa-8bit", "isa-16bit", "pc104-8bit", "pc104-16bit")
INVENTED = ("oakmere-88", "brindle-portable", "tarn-rack")

#: Findings that can be wrong about a map: all others state what stands in the file.
GUESSING = ("geometry-mistaken", "differs-from-reference", "order-broken")

Table = Mapping[str, Contact]


class Fault(Struct, frozen=True):
    """A faulted table, the contacts that are wrong in it, and what was done: a mistake, or "" and its contacts."""

    table: Table
    contacts: frozenset[str]
    mistake: Mistake | None = None
    begins: str = ""


class Outcome(Struct, frozen=True):
    """Whether a fault was found, named at exactly its place, and how many findings accuse the innocent."""

    found: bool
    placed: bool
    false: int


@cache
def shipped(name: str) -> PinMap:
    """A shipped map."""
    return api.load_map(name)


@cache
def references(name: str) -> tuple[PinMap, ...]:
    """The published connectors that a shipped map is held against."""
    return api.published(shipped(name))


def with_table(pin_map: PinMap, table: Table) -> PinMap:
    """The map with another table; what the table leaves out is not described."""
    return replace(
        pin_map, contacts=tuple(table.get(label) or Contact(label, "undescribed") for label in pin_map.body.labels)
    )


def put(table: dict[str, Contact], label: str, what: Contact | None) -> None:
    """Write at `label` what another contact carries."""
    table[label] = replace(what, label=label, option="") if what else Contact(label, "undescribed")


def wrongly(pin_map: PinMap, mistake: Mistake) -> dict[str, Contact]:
    """The table that a person writes who makes this mistake with a right connector."""
    out: dict[str, Contact] = {}
    for label in pin_map.body.labels:
        put(out, label, pin_map.by_label.get(mistake.moves.get(label, "")))
    return out


def noisy(pin_map: PinMap, table: dict[str, Contact], rng: random.Random) -> frozenset[str]:
    """Make 10 % of the contacts unknown and 5 % wrong, in place; return the wrong and the unknown ones."""
    labels = list(pin_map.body.labels)
    rng.shuffle(labels)
    tenth, twentieth = len(labels) // 10, max(1, len(labels) // 20)
    lines = list(pin_map.bus.signals.values())
    for label in labels[:tenth]:
        put(table, label, None)
    for label in labels[tenth : tenth + twentieth]:
        signal = rng.choice(lines)
        put(table, label, Contact(label, "signal", signal, signal.name))
    return frozenset(labels[: tenth + twentieth])


# ---------------------------------------------------------------------- classes of faults

Maker = Callable[[PinMap, random.Random], Iterator[Fault]]


def geometric(*kinds: str) -> Maker:
    """Every mistake of exactly these kinds."""

    def make(pin_map: PinMap, rng: random.Random) -> Iterator[Fault]:  # noqa: ARG001 - all of them, none by lot
        for mistake in mistakes(pin_map.body):
            same = set(mistake.kinds) == set(kinds) if kinds[0] != "numbering" else mistake.kinds[0] == "numbering"
            if same:
                table = wrongly(pin_map, mistake)
                wrong = {label for label, c in table.items() if c.name != pin_map.by_label[label].name}
                if wrong:
                    yield Fault(table, frozenset(wrong), mistake)

    return make


def _signals(pin_map: PinMap) -> list[str]:
    return [c.label for c in pin_map.by_label.values() if c.signal]


def exchange(pin_map: PinMap, rng: random.Random) -> Iterator[Fault]:
    """Two contacts with different lines, exchanged."""
    labels = _signals(pin_map)
    while True:
        a, b = rng.sample(labels, 2)
        one, other = pin_map.by_label[a], pin_map.by_label[b]
        if one.name != other.name:
            table = dict(pin_map.by_label)
            put(table, a, other)
            put(table, b, one)
            yield Fault(table, frozenset((a, b)))


def neighbours(pin_map: PinMap, rng: random.Random) -> Iterator[Fault]:
    """Two neighbouring data or address lines, exchanged."""
    labels = [
        (label, beside)
        for label, near in pin_map.body.neighbours.items()
        for beside in near
        if all((s := pin_map.by_label[x].signal) and s.group in ("data", "address") for x in (label, beside))
    ]
    while labels:
        a, b = rng.choice(labels)
        table = dict(pin_map.by_label)
        put(table, a, pin_map.by_label[b])
        put(table, b, pin_map.by_label[a])
        yield Fault(table, frozenset((a, b)))


def duplicate(pin_map: PinMap, rng: random.Random) -> Iterator[Fault]:
    """A contact that repeats what another one carries."""
    labels = _signals(pin_map)
    while True:
        a, b = rng.sample(labels, 2)
        if pin_map.by_label[a].name != pin_map.by_label[b].name:
            table = dict(pin_map.by_label)
            put(table, b, pin_map.by_label[a])
            yield Fault(table, frozenset((b,)))


def omission(pin_map: PinMap, rng: random.Random) -> Iterator[Fault]:
    """A contact left out of the table."""
    while True:
        label = rng.choice(_signals(pin_map))
        table = dict(pin_map.by_label)
        put(table, label, None)
        yield Fault(table, frozenset((label,)))


def wrong_rail(pin_map: PinMap, rng: random.Random) -> Iterator[Fault]:
    """A supply called by another rail's name."""
    supplies = [c for c in pin_map.by_label.values() if c.signal and c.signal.group == "supply"]
    while True:
        contact = rng.choice(supplies)
        rail = rng.choice([r for r in pin_map.bus.rails if r is not contact.signal])
        table = dict(pin_map.by_label)
        put(table, contact.label, Contact(contact.label, "signal", rail, rail.name))
        yield Fault(table, frozenset((contact.label,)))


def polarity(pin_map: PinMap, rng: random.Random) -> Iterator[Fault]:
    """A line with the opposite polarity."""
    lines = [c for c in pin_map.by_label.values() if c.signal and c.signal.active != "none"]
    while True:
        contact = rng.choice(lines)
        table = dict(pin_map.by_label)
        table[contact.label] = replace(contact, inverted=not contact.inverted)
        yield Fault(table, frozenset((contact.label,)))


def part_shifted(pin_map: PinMap, rng: random.Random) -> Iterator[Fault]:
    """From some contact on, everything off by one: a line counted twice, or left out."""
    order = table_order(pin_map.body)
    while True:
        begin, step = rng.randrange(2, len(order) - 2), rng.choice((1, -1))
        table: dict[str, Contact] = {}
        for i, label in enumerate(order):
            there = i - step if i >= begin else i
            put(table, label, pin_map.by_label[order[there]] if there < len(order) else None)
        wrong = {label for label in order if table[label].name != pin_map.by_label[label].name}
        # The contact where it begins may carry the same as its neighbour: then the fault begins to show further on.
        first = next((label for label in order[begin:] if label in wrong), "")
        if first:
            yield Fault(table, frozenset(wrong), begins=first)


CLASSES: dict[str, Maker] = {
    "mirrored end to end": geometric("mirrored"),
    "rows swapped": geometric("rows swapped"),
    "turned by 180°": geometric("turned"),
    "off by 1 to 3 places": geometric("shifted"),
    "mirrored and off": geometric("mirrored", "shifted"),
    "rows swapped and off": geometric("rows swapped", "shifted"),
    "turned and off": geometric("turned", "shifted"),
    "another numbering": geometric("numbering"),
    "part of the table off": part_shifted,
    "two contacts exchanged": exchange,
    "two neighbours exchanged": neighbours,
    "duplicate": duplicate,
    "omission": omission,
    "wrong rail": wrong_rail,
    "opposite polarity": polarity,
}
GEOMETRIC = tuple(CLASSES)[:8]


# ---------------------------------------------------------------------- was it found?


def judge(name: str, fault: Fault, noise: frozenset[str], against: tuple[PinMap, ...]) -> Outcome:
    """Check the faulted table of a shipped map and hold the findings against what was done."""
    faulted = with_table(shipped(name), fault.table)
    before = set(_told(checks.run(shipped(name), lambda: references(name), lambda: against)))
    findings = [
        f
        for f in checks.run(faulted, lambda: references(name), lambda: against)
        if (f.code, f.contacts) not in before and f.grade != "note"
    ]
    named = [e.mistake for e in explanations(faulted, against) if e.mistake]
    guilty = fault.contacts | noise
    if fault.mistake is not None or fault.begins:
        return _judge_mistake(fault, named, {x for f in findings for x in f.contacts})
    telling = [f for f in findings if set(f.contacts) & fault.contacts]
    false = [f for f in findings if f.code in GUESSING and not set(f.contacts) & guilty]
    return Outcome(bool(telling), fault.contacts <= {x for f in telling for x in f.contacts}, len(false))


def _judge_mistake(fault: Fault, named: list[Mistake], accused: set[str]) -> Outcome:
    if fault.mistake is None:
        placed = any(fault.begins in (m.begins, *m.perhaps) for m in named)
        # So near the end of the table that each contact is named by itself.
        placed = placed or (not named and fault.contacts <= accused)
        right = placed or any(m.begins for m in named)
        return Outcome(bool(named) or placed, placed, int(bool(named) and not right))
    placed = any(m.moves == fault.mistake.moves for m in named)
    # By how many places a maker's own connector lies beside the published one, nothing tells.
    turned = {k for k in fault.mistake.kinds if k != "shifted"}
    right = placed or any(turned and turned == set(m.kinds) for m in named)
    return Outcome(bool(named), placed, int(bool(named) and not right))


def _told(findings: tuple[Finding, ...]) -> Iterator[tuple[str, tuple[str, ...]]]:
    for finding in findings:
        yield finding.code, finding.contacts


def outcomes(name: str, kind: str, *, noise: bool, itself: bool, times: int, seed: int = 0) -> Iterator[Outcome]:
    """Try up to `times` faults of a class on a shipped map; `itself`: held against another record of the machine."""
    pin_map = shipped(name)
    against = (pin_map,) if itself else references(name)
    rng = random.Random(f"{seed} {name} {kind} {noise}")
    for count, fault in enumerate(CLASSES[kind](pin_map, rng)):
        if count == times:
            return
        table, blurred = dict(fault.table), frozenset[str]()
        if noise:
            blurred = noisy(pin_map, table, rng)
            if kind not in GEOMETRIC and kind != "part of the table off":
                # What is unknown or wrong anyway can't be found at its place.
                table |= {label: fault.table[label] for label in fault.contacts & blurred}
                blurred -= fault.contacts
        yield judge(name, replace(fault, table=table), blurred, against)
