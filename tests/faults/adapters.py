"""Faults in built adapters, put in on purpose, and whether the readings of a meter find them. All from a seed."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from functools import cache

from built import Built, everything, pair
from msgspec import Struct

from faults.maps import Outcome
from pinmap import bench
from pinmap.bench import Judged
from pinmap.bench.plan import neighbours
from pinmap.mistakes import mistakes
from pinmap.readings import Row

PAIRS = (
    ("oakmere-88", "isa-8bit"),
    ("brindle-portable", "isa-8bit"),
    ("tarn-rack", "isa-16bit"),
    ("isa-8bit", "pc104-8bit"),
)


class Broken(Struct):
    """An adapter with faults: what each net must be called ({net: state}), or the one mistake behind all."""

    built: Built
    states: dict[str, str]
    mistake: str = ""
    ref: str = ""


Maker = Callable[[tuple[str, str], random.Random], Iterator[Broken]]


def _wires(built: Built, *, single: bool = True) -> list[tuple[int, str]]:
    """The wires by number with their net's name; `single`: of nets that have no other wire."""
    return [
        (number, net.name) for net in built.plan.nets for number, _, _ in net.wires if not single or len(net.wires) == 1
    ]


def _open(broken: Broken, rng: random.Random) -> None:
    number, net = rng.choice([w for w in _wires(broken.built, single=False) if w[1] not in broken.states])
    broken.built.open(number)
    broken.states[net] = "open"


def _short(broken: Broken, rng: random.Random) -> None:
    plan = broken.built.plan
    beside = [
        (a, b)
        for a, b in neighbours(plan)
        if plan.of(a).name not in broken.states and plan.of(b).name not in broken.states
    ]
    a, b = rng.choice(beside)
    broken.built.short(str(a), str(b))
    broken.states |= {plan.of(a).name: "shorted", plan.of(b).name: "shorted"}


def _exchange(broken: Broken, rng: random.Random) -> None:
    one, other = rng.sample([w for w in _wires(broken.built) if w[1] not in broken.states], 2)
    broken.built.exchange(one[0], other[0])
    broken.states |= {one[1]: "exchanged", other[1]: "exchanged"}


def _made(*steps: Callable[[Broken, random.Random], None]) -> Maker:
    def make(names: tuple[str, str], rng: random.Random) -> Iterator[Broken]:
        while True:
            broken = Broken(Built(pair(*names)), {})
            for step in steps:
                step(broken, rng)
            yield broken

    return make


def _mistaken(kind: str) -> Maker:
    def make(names: tuple[str, str], rng: random.Random) -> Iterator[Broken]:
        for ref in ("J1", "J2"):
            plan = Built(pair(*names)).plan
            made = [m for m in mistakes(plan.bodies[ref]) if m.kinds[0] == kind]
            rng.shuffle(made)
            for mistake in made:
                built = Built(pair(*names)).mistaken(ref, mistake.name)
                yield Broken(built, {}, mistake.name, ref)

    return make


CLASSES: dict[str, Maker] = {
    "a wire open": _made(_open),
    "a bridge between neighbours": _made(_short),
    "two wires exchanged": _made(_exchange),
    "two wires open": _made(_open, _open),
    "open and bridge": _made(_open, _short),
    "two bridges": _made(_short, _short),
    "exchange and open": _made(_exchange, _open),
    "exchange and bridge": _made(_exchange, _short),
    "two exchanges": _made(_exchange, _exchange),
    "a connector mirrored": _mistaken("mirrored"),
    "a connector's rows swapped": _mistaken("rows swapped"),
    "a connector turned": _mistaken("turned"),
    "a connector off by places": _mistaken("shifted"),
    "a connector numbered otherwise": _mistaken("numbering"),
}
SINGLE = tuple(CLASSES)[:3]


@cache
def rows_of(names: tuple[str, str], *, sweeps: bool) -> tuple[Row, ...]:
    """The readings of the form, with `sweeps` those of every contact over every connector too."""
    return everything(pair(*names)) if sweeps else bench.form(pair(*names))


def judge(broken: Broken, rows: Sequence[Row]) -> Outcome:
    """Measure the broken adapter and hold the verdict against what was done."""
    judged = broken.built.judge(rows)
    if broken.mistake:
        moves = next(m.moves for m in mistakes(broken.built.plan.bodies[broken.ref]) if m.name == broken.mistake)
        right = [c for c in judged.causes if c.ref == broken.ref and c.moves == moves]
        # A cause that no reading can tell from the right one stands beside it.
        return Outcome(judged.wrong, bool(right), int(bool(judged.causes) and not right))
    return _judge_states(broken, judged)


def _judge_states(broken: Broken, judged: Judged) -> Outcome:
    named = {net.name: net for net in judged.nets if net.wrong}
    placed = all(
        # Without readings across, an exchange reads as two open wires: then both causes must be named.
        net in named and (state in named[net].states or f"or {state} with" in named[net].sentence)
        for net, state in broken.states.items()
    )
    accused = set(named) - set(broken.states)
    return Outcome(judged.wrong, placed, len(accused) + bool(judged.named))


def outcomes(
    names: tuple[str, str], kind: str, *, sweeps: bool, missing: float = 0.0, times: int, seed: int = 0
) -> Iterator[Outcome]:
    """Try up to `times` faults of a class on one adapter, with a part of the readings `missing`."""
    rng = random.Random(f"{seed} {names} {kind} {sweeps} {missing}")
    rows = rows_of(names, sweeps=sweeps)
    for count, broken in enumerate(CLASSES[kind](names, rng)):
        if count == times:
            return
        taken = [row for row in rows if rng.random() >= missing] if missing else rows
        yield judge(broken, taken)
