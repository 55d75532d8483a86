"""Which connector of the drawing is which of the plan's, and by what its pads are called."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from typing import Literal

from msgspec import Struct

from ..errors import NotFoundError, PinmapError, Place
from ..text import count, listed, natural, nearest, quoted, visible
from .drawn import Drawn, DrawnNet, DrawnPart, Node
from .wanted import Wanted
from .wires import Union

Naming = Literal["pads", "labels", "mate pads", "pin names"]
How = Literal["named", "reference", "agreement"]

#: A part can be a connector when it has so many of 100 of its pads …
LEAST_PADS = 50
#: … and its pads are called by something when so many are.
NEARLY_ALL = 90
#: By the mate's pads a part is only called when it has no more than so many others: a shield, a hole.
MOST_EXTRA = 1
#: So many parts are weighed for each connector, those with the fittest pads.
MOST_WEIGHED = 10


class Choice(Struct, frozen=True):
    """The part `ref` of the drawing that is the plan's connector `plan`.

    `how`: named by the person, found by its reference, or by the number of contacts and agreement. `naming` says by
    what its pads are called, `labels` which contact each pad is. Of `of` nets that join contacts `agreed` are as
    planned with this choice; `runner_up` is the next best pair, in words, `close` whether it agrees as well.
    """

    plan: str
    ref: str
    how: How
    naming: Naming
    labels: Mapping[str, str]
    wanted: int
    agreed: int
    of: int
    runner_up: str = ""
    close: bool = False

    def sentence(self) -> str:
        """Say what was chosen and why."""
        why = {
            "named": "named on the command line",
            "reference": "by its reference",
            "agreement": "by its contacts and by agreement",
        }[self.how]
        named = {
            "pads": "",
            "labels": ", its pads called by contact labels",
            "mate pads": ", its pads called as those of what plugs into it",
            "pin names": ", by the names of its pins",
        }
        here = f"{len(self.labels)} of its {self.wanted} contacts" if len(self.labels) < self.wanted else ""
        return f"{self.plan} is {self.ref}, {why}{named[self.naming]}" + (f"; only {here} are drawn" if here else "")


class _Fit(Struct, frozen=True):
    part: DrawnPart
    naming: Naming
    labels: Mapping[str, str]
    wanted: int
    extra: int

    @property
    def percent(self) -> int:
        return 100 * len(self.labels) // self.wanted


def choose(drawn: Drawn, wanted: Wanted, host: str, card: str) -> tuple[Choice, Choice]:
    """Find both connectors. Raises `PinmapError` where there is none that could be, or none of the name given."""
    given = dict(zip(wanted.ends, (host, card), strict=True))
    _known(drawn, given)
    found = {ref: _candidates(drawn, wanted, ref, given[ref]) for ref in wanted.ends}
    nets = _bare(drawn)
    one, other = wanted.ends
    pairs = [(a, b) for a, b in product(found[one], found[other]) if a.part.ref != b.part.ref]
    pairs = [pair for pair in pairs if min(fit.percent for fit in pair) >= LEAST_PADS] or pairs
    if not pairs:
        raise PinmapError(
            f"{one} and {other} must be two parts; only {found[one][0].part.ref} could be either",
            "Name them with --host and --card",
            Place(drawn.file),
        )
    scored = sorted(
        ((_agreed(nets, wanted, {one: a, other: b}), a, b) for a, b in pairs),
        key=lambda s: (-s[0], -s[1].percent - s[2].percent, s[1].extra + s[2].extra, natural(s[1].part.ref)),
    )
    best = scored[0]
    of = sum(len([n for n in nodes if n[0] in wanted.ends]) > 1 for nodes in wanted.nodes)
    by_name = next((s for s in scored if s[1].part.ref == one and s[2].part.ref == other), None)
    how: How = "agreement"
    if by_name and not (2 * by_name[0] < of and 10 * best[0] >= 9 * of):
        best, how = by_name, "reference"
    rest = [s for s in scored if s is not best]
    runner = ""
    if rest:
        runner = f"{rest[0][1].part.ref} and {rest[0][2].part.ref}, with which {count(rest[0][0], 'net')} would agree"
    close = bool(rest) and rest[0][0] >= best[0] and how == "agreement"
    agreed, a, b = best

    def made(plan: str, fit: _Fit) -> Choice:
        mine: How = "named" if given[plan] else how
        return Choice(
            plan, fit.part.ref, mine, fit.naming, fit.labels, fit.wanted, agreed, of, runner, close and mine != "named"
        )

    return made(one, a), made(other, b)


def _known(drawn: Drawn, given: Mapping[str, str]) -> None:
    for plan, ref in given.items():
        if ref and ref not in drawn.parts:
            near = nearest(ref, drawn.parts)
            raise NotFoundError(
                f"{plan} must be a part of the drawing, not {quoted(ref)}",
                f"Did you mean {near[0]}?" if near else "",
                Place(drawn.file),
            )
    refs = [ref for ref in given.values() if ref]
    if len(set(refs)) < len(refs):
        raise PinmapError(f"{listed(given)} must be two parts, not {quoted(refs[0])} both", place=Place(drawn.file))


def _candidates(drawn: Drawn, wanted: Wanted, plan: str, given: str) -> list[_Fit]:
    """The parts that could be this connector, the fittest first."""
    connector, pin_map = wanted.ends[plan]
    pads = {connector.pad(label): label for label in pin_map.present}
    mate_pad = connector.body.mate().pad_of
    mate_pads = {mate_pad[label]: label for label in pin_map.present}
    parts = [drawn.parts[given]] if given else drawn.parts.values()
    fits = [fit for part in parts if (fit := _fit(part, pads, mate_pads)) is not None]
    # A netlist may name only the pads that something is joined to: then a reference that is right must do.
    able = [fit for fit in fits if fit.percent >= LEAST_PADS or (fit.labels and fit.part.ref in (plan, given))]
    if not able:
        what = f"{given} is to be {plan}, which" if given else f"a part of the drawing must be {plan}, which"
        raise PinmapError(
            f"{what} has {_called(list(pads))}{_nearly(fits, plan, given)}",
            "Its pads must be called as on the footprint, by the contact labels, or as on the footprint of what plugs "
            "into it" + ("" if given else f"; name the part with --{connector.end}"),
            Place(drawn.file),
        )
    able.sort(key=lambda fit: (fit.part.ref != plan, -fit.percent, fit.extra, natural(fit.part.ref)))
    return able[:MOST_WEIGHED]


def _called(pads: Sequence[str]) -> str:
    """How many pads there are, with examples."""
    order = sorted(pads, key=natural)
    if len(order) < 4:
        return f"the {'pad' if len(order) == 1 else 'pads'} {listed(map(visible, order))}"
    return f"{count(len(order), 'pad')} called like {listed(map(visible, [*order[:2], order[-1]]))}"


def _nearly(fits: Sequence[_Fit], plan: str, given: str) -> str:
    """What comes nearest: the part of that reference, or the one with most of the pads."""
    near = next((fit for fit in fits if fit.part.ref == (given or plan)), None)
    near = near or max((fit for fit in fits if fit.labels), key=lambda fit: fit.percent, default=None)
    if near is None:
        return ""
    has = f"{len(near.labels)} of them" if near.labels else _called([pad for pad, _ in near.part.pads])
    return f"; {visible(near.part.ref)} has {has}"


def _fit(part: DrawnPart, pads: Mapping[str, str], mate_pads: Mapping[str, str]) -> _Fit | None:
    """By what the pads of a part are called, if it could be the connector with these pads."""
    if not part.pads:
        return None
    by_pad = {pad: pads[pad] for pad, _ in part.pads if pad in pads}
    folded = {label.casefold(): label for label in pads.values()}
    by_label = {pad: folded[pad.casefold()] for pad, _ in part.pads if pad.casefold() in folded}
    by_name: dict[str, str] = {}
    for pad, name in part.pads:
        label = folded.get(name.casefold())
        if label and label not in by_name.values():
            by_name[pad] = label
    naming: Naming = "pads"
    labels = by_pad
    if 100 * len(by_pad) < NEARLY_ALL * len(pads):
        by_mate = {pad: mate_pads[pad] for pad, _ in part.pads if pad in mate_pads}
        if len(part.pads) - len(by_mate) > MOST_EXTRA:
            by_mate = {}  # a larger connector that is numbered from 1 on as well
        others: list[tuple[Naming, dict[str, str]]] = [
            ("labels", by_label),
            ("mate pads", by_mate),
            ("pin names", by_name),
        ]
        for other, found in others:
            if 100 * len(found) >= NEARLY_ALL * len(pads) and len(set(found.values())) == len(found):
                naming, labels = other, found
                break
    return _Fit(part, naming, labels, len(pads), len(part.pads) - len(labels))


def _bare(drawn: Drawn) -> list[set[Node]]:
    """The nets, small ones joined through parts with two pads: a series part must not hide which connector it is."""
    nets: Sequence[DrawnNet] = drawn.nets or drawn.copper or ()
    net_of = {node: index for index, net in enumerate(nets) for node in net.nodes}
    union: Union[int] = Union()
    for part in drawn.parts.values():
        ends = [net_of.get((part.ref, pad)) for pad, _ in part.pads]
        if len(ends) != 2 or ends[0] is None or ends[1] is None:
            continue
        if len(nets[ends[0]].nodes) == len(nets[ends[1]].nodes) == 2:
            union.join(ends[0], ends[1])
    out: dict[int, set[Node]] = {}
    for index, net in enumerate(nets):
        out.setdefault(union.find(index), set()).update(net.nodes)
    return list(out.values())


def _agreed(nets: Sequence[set[Node]], wanted: Wanted, fits: Mapping[str, _Fit]) -> int:
    """How many of the plan's nets that join contacts are drawn whole and alone."""
    where = {(fit.part.ref, pad): (plan, label) for plan, fit in fits.items() for pad, label in fit.labels.items()}
    piece_of: dict[Node, int] = {}
    held: dict[int, set[int]] = {}
    for index, net in enumerate(nets):
        for node in net:
            there = where.get(node)
            if there is not None and there in wanted.net_of:
                piece_of[there] = index
                held.setdefault(index, set()).add(wanted.net_of[there])
    agreed = 0
    for nodes in wanted.nodes:
        contacts = [node for node in nodes if node[0] in wanted.ends]
        pieces = {piece_of.get(node, -1) for node in contacts}
        if len(contacts) > 1 and len(pieces) == 1 and -1 not in pieces and len(held[pieces.pop()]) == 1:
            agreed += 1
    return agreed
