"""A simulated adapter with faults built in, and what a meter shows on it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from functools import cache

import click
from handmade import pin_map, shipped, strip
from msgspec.structs import replace

from pinmap import bench
from pinmap.adapter import Adapter
from pinmap.bench import Judged
from pinmap.bench.plan import Plan, of_adapter, sweeps
from pinmap.mistakes import mistakes
from pinmap.planner import plan
from pinmap.readings import Probe, Row, form_csv, parse
from pinmap.writers import bench_report

Wire = tuple[int, Probe, Probe]


class Built:
    """An adapter as it was really built: the plan's wires, until a fault is put in, and what a meter shows on it."""

    def __init__(self, adapter: Adapter):
        self.adapter = adapter
        self.plan: Plan = of_adapter(adapter)
        self.wires: list[Wire] = sorted(wire for net in self.plan.nets for wire in net.wires)
        self.bridges: list[tuple[Probe, Probe]] = []
        self.volts: dict[str, str] = {}

    def open(self, number: int) -> Built:
        self.wires = [wire for wire in self.wires if wire[0] != number]
        return self

    def short(self, one: str, other: str) -> Built:
        self.bridges.append((at(one), at(other)))
        return self

    def exchange(self, one: int, other: int) -> Built:
        """Solder the second ends of two wires to each other's contact."""
        ends = {number: (a, b) for number, a, b in self.wires}
        (a, b), (c, d) = ends[one], ends[other]
        ends |= {one: (a, d), other: (c, b)}
        self.wires = [(number, *pair) for number, pair in ends.items()]
        return self

    def move(self, number: int, to: str) -> Built:
        self.wires = [(n, a, at(to) if n == number else b) for n, a, b in self.wires]
        return self

    def mistaken(self, ref: str, name: str) -> Built:
        """Wire a whole connector with one of the mistakes: what belongs at a contact sits where it was taken to be."""
        moves = next(m.moves for m in mistakes(self.plan.bodies[ref]) if m.name == name)
        sits = {Probe(ref, there): Probe(ref, here) for here, there in moves.items()}
        self.wires = [
            (n, sits.get(a, a), sits.get(b, b))
            for n, a, b in self.wires
            if all(p.ref != ref or p in sits for p in (a, b))  # a wire whose place lies off the body is left out
        ]
        return self

    def groups(self) -> dict[Probe, int]:
        """Number the contacts that are really joined."""
        group = {p: index for index, p in enumerate(self.plan.net_of)}
        for a, b in (*((a, b) for _, a, b in self.wires), *self.bridges):
            old, new = group[a], group[b]
            if old != new:
                group = {p: new if g == old else g for p, g in group.items()}
        return group

    def show(self, rows: Sequence[Row]) -> list[str]:
        """What the meter shows for each row."""
        group = self.groups()
        return [self._show(row, group) for row in rows]

    def _show(self, row: Row, group: Mapping[Probe, int]) -> str:
        if row.kind == "volts":
            signal = self.plan.signals.get(row.start)
            return self.volts.get(row.start.label) or f"{(signal.volts if signal else 0) or 0:.2f} V"
        if row.kind == "sweep":
            there = self.plan.there(row.over)
            return " ".join(p.label for p in there if p != row.start and group[p] == group[row.start]) or "none"
        assert row.stop
        return "0.3" if group[row.start] == group[row.stop] else "OL"

    def judge(self, rows: Sequence[Row] | None = None, shown: Mapping[int, str] | None = None) -> Judged:
        """Fill in the rows (the form's) and hold them against the plan; `shown` has other readings by step."""
        rows = bench.form(self.adapter) if rows is None else rows
        values = [(shown or {}).get(step, value) for step, value in enumerate(self.show(rows), 1)]
        return bench.judge(self.adapter, parse(filled(rows, values), "r.csv", self.plan.labels))


def at(point: str) -> Probe:
    ref, label = point.split()
    return Probe(ref, label)


def filled(rows: Sequence[Row], values: Iterable[str]) -> bytes:
    """Write readings into the empty form, as a person does."""
    table = list(csv.reader(io.StringIO(form_csv(rows))))
    for row, value in zip(table[1:], values, strict=True):
        row[table[0].index("reading")] = value
    stream = io.StringIO()
    csv.writer(stream).writerows(table)
    return stream.getvalue().encode()


@cache
def small() -> Adapter:
    """Ten contacts to nine, with links at the host."""
    host = dict(enumerate(["GND", "+5V", "SD0", "SD1", "SD2", "IOR*", "+12V", "GND", "IRQ3", "open"], 1))
    card = dict(enumerate(["+5V", "SD0", "SD1", "SD2", "GND", "IOR*", "+12V", "IRQ3", "IRQ4"], 1))
    made = plan(
        pin_map({str(n): name for n, name in host.items()}, strip(10), name="small"),
        pin_map({str(n): name for n, name in card.items()}, strip(9), end="card", name="card"),
    )
    return replace(made, findings=())  # no card works in anything so small


@cache
def pair(host: str, card: str) -> Adapter:
    """The adapter of two shipped maps, as if nothing spoke against building it: one of them needs an inverter."""
    return replace(plan(shipped(host), shipped(card)), findings=())


def oakmere() -> Adapter:
    return pair("oakmere-88", "isa-8bit")


def text(judged: Judged) -> str:
    return "\n".join(line.rstrip() for line in click.unstyle(bench_report.text(judged)).split("\n"))


def states(judged: Judged) -> dict[str, tuple[str, ...]]:
    return {net.name: net.states for net in judged.nets if net.wrong}


def without_volts(adapter: Adapter) -> tuple[Row, ...]:
    """What is read before the power is on."""
    return tuple(row for row in bench.form(adapter) if row.kind != "volts")


def everything(adapter: Adapter) -> tuple[Row, ...]:
    return (*bench.form(adapter), *sweeps(of_adapter(adapter)))
