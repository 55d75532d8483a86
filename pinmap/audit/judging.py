"""A drawing held against the plan, net by net, supplies first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from ..adapter import Adapter
from ..findings import GRADES, Finding, ordered, verdict
from ..model import Group
from ..text import count
from . import said
from .differing import STATES, Fault, State, differing, homes
from .drawn import Drawn, DrawnNet, DrawnPart, Kind, Node
from .fitting import Fitted, fitted, letters, unknown
from .matching import Choice, choose
from .mistaken import Mistaken, explained
from .wanted import Wanted
from .wires import Union

Answer = Literal["as planned", "not as planned", "do not apply power"]


class NetAudit(Struct, frozen=True):
    """One net of the plan: `states` by what the drawing says, `copper` by what touches (None for what is no board).

    `contacts` are those of the plan, `drawn` the names of the drawn nets that they are in, `others` the nets of the
    plan that it is joined or exchanged with.
    """

    name: str
    group: Group
    states: tuple[State, ...]
    copper: tuple[State, ...] | None
    contacts: tuple[str, ...]
    drawn: tuple[str, ...] = ()
    others: tuple[str, ...] = ()

    @property
    def wrong(self) -> bool:
        """Whether it is not as planned."""
        return self.states != ("agrees",) or self.copper not in (None, ("agrees",))


class PartAudit(Struct, frozen=True):
    """A part of the plan and the one of the drawing that it is; `drawn` is "" where there is none."""

    ref: str
    drawn: str
    planned: str
    value: str


class Audit(Struct, frozen=True, dict=True):
    """What a drawing is, held against the plan.

    `connectors` say which part is J1 and J2, `causes` the one mistake that explains it, the simplest first; those
    after the first explain it as well. `nets` are as drawn, supplies and returns first. `through` are the letters of
    parts that were seen through, `series` the parts themselves. `plan_verdict` is what the plan itself says.
    """

    title: str
    file: str
    kind: Kind
    plan_verdict: str
    connectors: tuple[Choice, Choice]
    nets: tuple[NetAudit, ...]
    parts: tuple[PartAudit, ...]
    extra: tuple[str, ...]
    causes: tuple[Mistaken, ...]
    findings: tuple[Finding, ...]
    through: tuple[str, ...] = ()
    series: tuple[str, ...] = ()

    @cached_property
    def verdict(self) -> Answer:
        """The answer in three words."""
        answers: dict[str, Answer] = {"sound": "as planned", "fault": "not as planned", "danger": "do not apply power"}
        return answers[verdict(self.findings)]

    @property
    def first_line(self) -> str:
        """The answer in one line."""
        agreed = sum(not net.wrong for net in self.nets)
        if self.verdict == "as planned":
            refused = "; but the plan itself says do not build" if self.plan_verdict == "do not build" else ""
            return f"as planned: all {len(self.nets)} nets{refused}"
        if self.causes:
            return f"{self.verdict}: {self.causes[0].sentence}"
        if agreed == len(self.nets):
            return f"{self.verdict}: the nets are as planned, but {self.findings[0].message}"
        return f"{self.verdict}: {agreed} of {count(len(self.nets), 'net')} as planned"


def audit(drawn: Drawn, adapter: Adapter, *, through: Iterable[str] = (), host: str = "", card: str = "") -> Audit:
    """Hold what is drawn against the plan.

    `through`: the letters of parts with two pads that are seen through where they stand in series, like R or JP.
    `host`, `card`: the references of the connectors in the drawing, where they are not to be found by themselves.
    Raises `PinmapError` where no part can be one of the connectors, `NotFoundError` for a reference that is not there.
    """
    wanted = Wanted(adapter)
    if drawn.copper and not drawn.nets:
        drawn = replace(
            drawn,
            nets=drawn.copper,
            remarks=(*drawn.remarks, "no pad of the board is in a net of the file: it was judged by its copper alone"),
        )
    seen_through = tuple(dict.fromkeys(word.strip().upper() for word in through if word.strip()))
    connectors = choose(drawn, wanted, host, card)
    plain = _Pass(drawn, wanted, connectors, seen_through, {})
    causes = explained(wanted, plain.pieces(drawn.nets or drawn.copper or ()))
    if not causes and drawn.copper is not None:
        in_copper_only = explained(wanted, plain.pieces(drawn.copper))
        causes = [replace(cause, in_copper=True) for cause in in_copper_only]
    moves = causes[0].all_moves if causes else {}
    passed = _Pass(drawn, wanted, connectors, seen_through, moves, bool(causes) and causes[0].in_copper)
    findings = [
        *said.causes(wanted, causes),
        *passed.findings(plain),
        *said.footprints(wanted, drawn, connectors),
        *said.assumed(drawn, connectors),
        *said.unseen(drawn, seen_through, passed.series),
    ]
    as_drawn = plain.faults(drawn.nets)
    in_copper = plain.faults(drawn.copper) if drawn.copper is not None else None
    return Audit(
        adapter.title,
        drawn.file,
        drawn.kind,
        adapter.verdict,
        connectors,
        tuple(_net(plain, index, as_drawn, in_copper) for index in range(len(wanted.nets))),
        tuple(_part(passed, part.ref, part.value) for part in adapter.parts),
        tuple(passed.extra),
        tuple(causes),
        _supplies_first(wanted, findings),
        seen_through,
        tuple(passed.series),
    )


def _supplies_first(wanted: Wanted, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Of each grade what concerns supplies and returns first, and what is missing in the drawing last."""
    power = {net.name for net in wanted.nets if net.group in ("supply", "return")}
    grades = {grade: index for index, grade in enumerate(GRADES)}

    def rank(finding: Finding) -> tuple[int, bool, bool]:
        named = finding.code in ("audit-mistaken", "audit-pad-places") or not power.isdisjoint(finding.signals)
        return grades[finding.grade], not named, finding.code == "audit-part-missing"

    return tuple(sorted(ordered(findings), key=rank))


def _net(done: _Pass, index: int, as_drawn: Sequence[Fault], in_copper: Sequence[Fault] | None) -> NetAudit:
    wanted = done.wanted
    net = wanted.nets[index]
    others = dict.fromkeys(
        wanted.nets[other].name
        for fault in (*as_drawn, *(in_copper or ()))
        if index in fault.nets
        for other in fault.nets
        if other != index
    )
    names = dict.fromkeys(
        done.nets[piece].name
        for node in wanted.nodes[index]
        for drawn_node in [done.back.get(node)]
        if drawn_node is not None
        for piece in [done.net_of.get(drawn_node)]
        if piece is not None and done.nets[piece].name
    )
    return NetAudit(
        net.name,
        net.group,
        _states(index, as_drawn),
        None if in_copper is None else _states(index, in_copper),
        tuple(said.node(node) for node in wanted.nodes[index]),
        tuple(names),
        tuple(others),
    )


def _states(index: int, faults: Iterable[Fault]) -> tuple[State, ...]:
    here = {fault.kind for fault in faults if index in fault.nets}
    return tuple(state for state in STATES if state in here) or ("agrees",)


def _part(done: _Pass, ref: str, value: str) -> PartAudit:
    match = next((each for each in done.parts if each.part.ref == ref), None)
    return PartAudit(ref, match.drawn.ref if match else "", value, match.drawn.value if match else "")


class _Pass:
    """The drawing in the plan's terms, with the contacts of a connector moved where a mistake is undone."""

    def __init__(
        self,
        drawn: Drawn,
        wanted: Wanted,
        connectors: tuple[Choice, Choice],
        through: Sequence[str],
        moves: Mapping[str, Mapping[str, str]],
        in_copper: bool = False,
    ) -> None:
        self.drawn, self.wanted, self.through, self.in_copper = drawn, wanted, through, in_copper
        self.nets: Sequence[DrawnNet] = (not in_copper and drawn.nets) or drawn.copper or ()
        self.net_of = {node: index for index, net in enumerate(self.nets) for node in net.nodes}
        self.off: set[Node] = set()  # contacts of the plan that a mistake leaves without a place
        self.to: dict[Node, Node] = {}
        for choice in connectors:
            moved = moves.get(choice.plan)
            for pad, label in choice.labels.items():
                there = moved.get(label) if moved is not None else label
                if there is not None and (choice.plan, there) in wanted.net_of:
                    self.to[choice.ref, pad] = (choice.plan, there)
            if moved is not None:
                landed = {moved.get(label) for label in choice.labels.values()}
                present = wanted.ends[choice.plan][1].present
                self.off |= {(choice.plan, label) for label in present if label not in landed}
        others = {ref: part for ref, part in drawn.parts.items() if ref not in {c.ref for c in connectors}}
        self.parts: list[Fitted] = fitted(wanted, others, self.net_of, self._known())
        for each in self.parts:
            for pad, planned in each.pads.items():
                self.to[each.drawn.ref, pad] = (each.part.ref, planned)
        self.back = {there: here for here, there in self.to.items()}
        rest = unknown(others, self.parts)
        self.series = self._series(rest)
        self.extra = {ref: part for ref, part in rest.items() if ref not in self.series}
        self.connectors = connectors

    def _known(self) -> dict[int, int]:
        """Which net of the plan each drawn net is, by the contacts of the connectors alone."""
        held: list[list[Node]] = [[] for _ in self.nets]
        for here, there in self.to.items():
            if here in self.net_of:
                held[self.net_of[here]].append(there)
        contacts = {n: self.wanted.net_of[n] for nodes in held for n in nodes}
        return homes(held, contacts, self.wanted.rank)[1]

    def _series(self, rest: Mapping[str, DrawnPart]) -> list[str]:
        """The parts that are seen through: in series in one line, or between the machine's side and the card's."""
        able = {
            ref: ends
            for ref, part in rest.items()
            if letters(ref) in self.through and (ends := self.ends(part)) is not None and len(part.pads) == 2
        }
        return list(self.linked(self.nets, able)[1])

    def ends(self, part: DrawnPart) -> tuple[Node, Node] | None:
        """Both pads of a part with two, where they are joined to something."""
        nodes = [(part.ref, pad) for pad, _ in part.pads]
        joined = [node for node in nodes if node in self.net_of]
        return (joined[0], joined[1]) if len(nodes) == 2 and len(joined) == 2 else None

    def linked(
        self, nets: Sequence[DrawnNet], able: Mapping[str, tuple[Node, Node]]
    ) -> tuple[Union[int], dict[str, None]]:
        """Join nets through the parts `able` as long as that joins no two lines of the plan."""
        net_of = {node: index for index, net in enumerate(nets) for node in net.nodes}
        lines: dict[int, set[int]] = {}
        sides: dict[int, set[str]] = {}
        for index, net in enumerate(nets):
            there = [self.to[node] for node in net.nodes if node in self.to]
            lines[index] = {self.wanted.net_of[node] for node in there}
            sides[index] = {ref for ref, _ in there if ref in self.wanted.ends}
        union: Union[int] = Union()
        taken: dict[str, None] = {}
        waiting = dict(able)
        while waiting:
            before = len(waiting)
            for ref, (one, other) in list(waiting.items()):
                if one not in net_of or other not in net_of:
                    continue
                a, b = union.find(net_of[one]), union.find(net_of[other])
                across = len(sides[a]) == 1 and len(sides[b]) == 1 and sides[a] != sides[b]
                if a != b and (len(lines[a] | lines[b]) <= 1 or across):
                    union.join(a, b)
                    root = union.find(a)
                    lines[root], sides[root] = lines[a] | lines[b], sides[a] | sides[b]
                    taken[ref] = None
                    del waiting[ref]
            if len(waiting) == before:
                break
        return union, taken

    def pieces(self, nets: Sequence[DrawnNet]) -> list[list[Node]]:
        """What the drawing joins, in the plan's terms."""
        return list(self._pieces(nets)[0])

    def _pieces(self, nets: Sequence[DrawnNet]) -> tuple[list[list[Node]], list[int]]:
        """The pieces, and for each the number of a drawn net in it."""
        able = {ref: ends for ref in self.series if (ends := self.ends(self.drawn.parts[ref])) is not None}
        union, _ = self.linked(nets, able)
        out: dict[int, list[Node]] = {}
        for index, net in enumerate(nets):
            nodes = [self.to[node] for node in sorted(net.nodes) if node in self.to]
            if nodes:
                out.setdefault(union.find(index), []).extend(nodes)
        return list(out.values()), list(out)

    def faults(self, nets: Sequence[DrawnNet]) -> list[Fault]:
        """What differs from the plan; parts that are not there at all are no fault of a net."""
        there = {each.part.ref for each in self.parts} | set(self.wanted.ends)
        wanted = [[node for node in nodes if node[0] in there and node not in self.off] for nodes in self.wanted.nodes]
        pieces, numbers = self._pieces(nets)
        return [
            Fault(f.kind, f.nets, f.nodes, f.there, tuple(numbers[p] for p in f.pieces if p < len(numbers)))
            for f in differing(wanted, pieces, self.wanted.rank)
        ]

    def findings(self, plain: _Pass) -> list[Finding]:
        """All that is to be said, with mistakes undone; `plain` is the drawing as it is."""
        speech = said.Speech(self.wanted, self.drawn, self.back)
        out: list[Finding] = []
        broken = self.broken_by()
        if self.drawn.copper is None:
            out += speech.faults(self.faults(self.drawn.nets), self.drawn.nets, broken)
        else:
            by_name = (plain if self.in_copper else self).faults(self.drawn.nets)
            in_copper = self.faults(self.drawn.copper)
            out += speech.board(by_name, in_copper, self.drawn.nets, self.drawn.copper, broken)
        out += speech.parts(self.parts)
        out += speech.besides(self.extra, self._lines(), broken, self.net_of, self.through)
        out += speech.pads(self._strangers())
        return out

    def broken_by(self) -> dict[int, tuple[str, ...]]:
        """For each net of the plan the parts that it lacks and that would join its pieces, if seen through."""
        able = {ref: ends for ref, part in self.extra.items() if (ends := self.ends(part)) is not None}
        lines = self._lines()
        faulty = {f.nets[0] for f in self.faults(self.nets) if f.kind == "open"}
        out: dict[int, tuple[str, ...]] = {}
        _, taken = self.linked(self.nets, able)
        for ref in taken:
            one, other = able[ref]
            for net in sorted((lines[self.net_of[one]] | lines[self.net_of[other]]) & faulty):
                out[net] = (*out.get(net, ()), ref)
        return out

    def _lines(self) -> list[set[int]]:
        """The nets of the plan that each drawn net touches."""
        return [{self.wanted.net_of[self.to[node]] for node in net.nodes if node in self.to} for net in self.nets]

    def _strangers(self) -> list[tuple[Node, int]]:
        """Pads of connectors and parts that the plan does not have, and the net of the plan that they are on."""
        lines = self._lines()
        mine = {c.ref for c in self.connectors} | {each.drawn.ref for each in self.parts}
        return [
            (node, min(lines[index]))
            for index, net in enumerate(self.nets)
            if lines[index]
            for node in sorted(net.nodes)
            if node[0] in mine and node not in self.to and not self.off
        ]
