"""Faults in netlists and schematics, put in on purpose, and whether the audit finds and names them. All from a seed."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

from built import pair
from drawings import Drawing, drawing
from msgspec import Struct

from faults.maps import Outcome
from pinmap import api
from pinmap.adapter import Adapter
from pinmap.audit.judging import Audit
from pinmap.audit.wanted import Wanted
from pinmap.mistakes import mistakes

PLANS: tuple[tuple[str, ...], ...] = (
    ("oakmere-88", "isa-8bit"),
    ("brindle-portable", "isa-8bit"),
    ("tarn-rack", "isa-16bit"),
    ("isa-8bit", "pc104-8bit"),
    ("oakmere-riser",),
    ("brindle-riser",),
    ("tarn-riser",),
)
KINDS = ("netlist", "schematic")
#: A board with the fault in its names and its copper, and one with the right names.
BOARDS = ("board", "copper")


class Broken(Struct):
    """A drawing with one fault: the nets concerned with what each must be called, or the one mistake behind all."""

    drawing: Drawing
    states: dict[str, tuple[str, ...]]
    ref: str = ""
    moves: dict[str, str] | None = None


@cache
def planned(names: tuple[str, ...]) -> Adapter:
    """The adapter of two shipped maps or of a shipped adapter file."""
    return pair(*names) if len(names) == 2 else api.adapt(names[0])


Maker = Callable[[Adapter, random.Random], Iterator[Broken]]


def _contacts(adapter: Adapter, *, least: int = 1) -> list[tuple[str, int]]:
    """Each contact and pin as "J1 B3", with the number of its net; of nets with at least so many."""
    return [
        (f"{ref} {label}", net)
        for net, nodes in enumerate(Wanted(adapter).nodes)
        if len(nodes) >= least
        for ref, label in nodes
    ]


def _names(adapter: Adapter, *nets: int) -> list[str]:
    return [Wanted(adapter).nets[net].name for net in nets]


def _alike(adapter: Adapter, *nets: int) -> bool:
    """Whether two nets are a contact and like parts each: exchanged, that is the same adapter with parts renumbered."""
    values = {part.ref: part.value for part in adapter.parts}
    sides = [
        sorted((values.get(ref, ""), pad * (ref in values)) for ref, pad in Wanted(adapter).nodes[n]) for n in nets
    ]
    return sides[0] == sides[1] and sum(not value for value, _ in sides[0]) == 1


def _exchange(adapter: Adapter, rng: random.Random) -> Iterator[Broken]:
    # A contact of a net with others, for two contacts that are joined to nothing may change places.
    contacts = [c for c in _contacts(adapter, least=2) if c[0].split()[0] in Wanted(adapter).ends]
    while True:
        (one, a), (other, b) = rng.sample(contacts, 2)
        if a != b and one.split()[0] == other.split()[0] and not _alike(adapter, a, b):
            done = drawing(adapter).exchange(one, other)
            yield Broken(done, dict.fromkeys(_names(adapter, a, b), ("exchanged",)))


def _omit(adapter: Adapter, rng: random.Random) -> Iterator[Broken]:
    contacts = [c for c in _contacts(adapter, least=2) if c[0].split()[0] in Wanted(adapter).ends]
    while True:
        contact, net = rng.choice(contacts)
        yield Broken(drawing(adapter).omit(contact), dict.fromkeys(_names(adapter, net), ("open",)))


def _join(adapter: Adapter, rng: random.Random) -> Iterator[Broken]:
    nets = range(len(adapter.nets))
    while True:
        a, b = rng.sample(nets, 2)
        yield Broken(drawing(adapter).join(f"N{a}", f"N{b}"), dict.fromkeys(_names(adapter, a, b), ("joined",)))


def _move(adapter: Adapter, rng: random.Random) -> Iterator[Broken]:
    contacts = [c for c in _contacts(adapter, least=2) if c[0].split()[0] in Wanted(adapter).ends]
    while True:
        contact, net = rng.choice(contacts)
        other = rng.choice([n for n in range(len(adapter.nets)) if n != net and len(Wanted(adapter).nodes[n]) > 1])
        done = drawing(adapter).move(contact, f"N{other}")
        # Of two contacts in one piece, either may be the one that strayed.
        yield Broken(done, dict.fromkeys(_names(adapter, net, other), ("moved", "open", "joined")))


def _mistaken(kind: str) -> Maker:
    def make(adapter: Adapter, rng: random.Random) -> Iterator[Broken]:
        for ref, (connector, _) in Wanted(adapter).ends.items():
            made = [m for m in mistakes(connector.body) if m.kinds[0] == kind]
            rng.shuffle(made)
            for mistake in made:
                yield Broken(drawing(adapter).wrong(ref, mistake.moves), {}, ref, dict(mistake.moves))

    return make


def _footprint(adapter: Adapter, rng: random.Random) -> Iterator[Broken]:  # noqa: ARG001 - as the others
    """The footprint of what plugs in: a header's for a socket's. Its pads are called the same and lie mirrored."""
    for ref, (connector, _) in Wanted(adapter).ends.items():
        mate = connector.body.mate_footprint
        if mate and connector.body.footprint and mate != connector.body.footprint:
            done = drawing(adapter)
            value, _, pads = done.parts[ref]
            done.parts[ref] = (value, mate, pads)
            done.mirrored = (ref,)
            yield Broken(done, {}, ref)


CLASSES: dict[str, Maker] = {
    "two contacts exchanged": _exchange,
    "a contact omitted": _omit,
    "two nets joined": _join,
    "a contact on another net": _move,
    "a connector mirrored": _mistaken("mirrored"),
    "a connector's rows swapped": _mistaken("rows swapped"),
    "a connector turned": _mistaken("turned"),
    "a connector off by places": _mistaken("shifted"),
    "a connector numbered otherwise": _mistaken("numbering"),
    "the footprint of the mate": _footprint,
}


def judge(broken: Broken, result: Audit) -> Outcome:
    """Hold the answer against what was done."""
    wrong = {net.name: net for net in result.nets if net.wrong}
    if broken.moves is not None:
        present = set(Wanted(broken.drawing.adapter).ends[broken.ref][1].present)
        done = {a: b for a, b in broken.moves.items() if a in present and b in present}
        same = [
            c
            for c in result.causes
            if c.ref == broken.ref and {a: b for a, b in c.moves.items() if a in present and b in present} == done
        ]
        besides = [f for f in result.findings if f.grade in ("danger", "fault") and f.code != "audit-mistaken"]
        return Outcome(result.verdict != "as planned", bool(same), int(bool(result.causes) and not same) + len(besides))
    if broken.ref:
        told = [f for f in result.findings if f.grade in ("danger", "fault")]
        right = [
            f
            for f in told
            if f.grade == "danger"
            and (
                (f.code == "audit-footprint" and f.message.startswith(broken.ref))
                or (f.code == "audit-pad-places" and f"pads of {broken.ref} " in f.message and "mirrored" in f.message)
            )
        ]
        return Outcome(bool(told), bool(right), len(told) - len(right))
    placed = all(
        net in wrong and {*wrong[net].states, *(wrong[net].copper or ())} - {"agrees"} <= set(states)
        for net, states in broken.states.items()
    )
    faults = [f for f in result.findings if f.grade in ("danger", "fault")]
    accused = {name for f in faults for name in f.signals} - set(broken.states)
    return Outcome(result.verdict != "as planned", placed and bool(faults), len(accused) + len(result.causes))


def outcomes(names: tuple[str, ...], kind: str, *, file: str, times: int, seed: int = 0) -> Iterator[Outcome]:
    """Try up to `times` faults of a class in the drawing of one plan."""
    rng = random.Random(f"{seed} {names} {kind} {file}")
    with tempfile.TemporaryDirectory() as folder:
        for count, broken in enumerate(CLASSES[kind](planned(names), rng)):
            if count == times:
                return
            yield judge(broken, broken.drawing.audit(Path(folder), file))
