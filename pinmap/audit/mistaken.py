"""One mistake behind a connector that is drawn wrong as a whole: mirrored, turned, off by places, with wrong pads."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from operator import eq

from msgspec import Struct

from ..mistakes import Kind, mistakes
from .drawn import Node
from .wanted import Wanted

#: One mistake is looked for when so many nets are wrong …
LEAST_NETS = 4
#: … and named when it leaves no more than so many of 100 of them wrong.
MOST_LEFT = 10
#: Of pairs of mistakes, one with each connector, so many are looked at closely.
MOST_PAIRS = 12
#: Of a net so many contacts are held against each other when pairs are looked for: a return has many.
MOST_ENDS = 3

#: How it comes about in a drawing.
_DRAWN: dict[tuple[Kind, ...], str] = {
    ("mirrored",): "read from the solder side, or a header's footprint taken for a socket's",
    ("rows swapped",): "row taken for row, or a header's footprint taken for a socket's",
    ("turned",): "placed or numbered from the opposite corner",
    ("shifted",): "its contacts were counted from the wrong place",
}
_PADS_AS_LABELS = "its footprint's pads were taken for its contact labels"
_MATE = "the pads are those of the connector that plugs into it: a header's footprint taken for a socket's, or back"


class Mistaken(Struct, frozen=True):
    """A mistake that explains the drawing. `name` says what is wrong with the connector `ref`, `why` how it came about.

    `second` is one with the other connector, where neither alone explains anything. `moves` gives for the contact at
    which something is drawn the one that it belongs to; a contact that is not there belongs off the connector. It
    leaves `left` of the `wrong` nets wrong. `in_copper`: the names of a board are right.
    """

    ref: str
    kinds: tuple[Kind, ...]
    name: str
    why: str
    moves: Mapping[str, str]
    wrong: int
    left: int
    in_copper: bool = False
    second: Mistaken | None = None

    @property
    def sentence(self) -> str:
        """What is wrong and why, in one sentence."""
        how = " in copper" if self.in_copper else ""
        also = f"; and {self.second.sentence}" if self.second else ""
        return f"{self.ref} is drawn {self.name}{how}: {self.why}{also}"

    @property
    def named(self) -> str:
        """What is wrong, in short."""
        return f"{self.ref} {self.name}" + (f" and {self.second.named}" if self.second else "")

    @property
    def all_moves(self) -> dict[str, Mapping[str, str]]:
        """The movement of each connector that is drawn wrong."""
        return {self.ref: self.moves} | (self.second.all_moves if self.second else {})


def explained(wanted: Wanted, pieces: Sequence[Collection[Node]]) -> list[Mistaken]:
    """The mistakes that explain what is wrong with the contacts in `pieces`, the best and simplest first.

    `pieces` hold nodes of connectors as in the plan; others are passed over. Those returned leave equally little.
    """
    held = [[node for node in piece if node in wanted.net_of and node[0] in wanted.ends] for piece in pieces]
    held = [nodes for nodes in held if nodes]
    wrong = _wrong(wanted, held, {})
    if wrong < LEAST_NETS:
        return []
    possible = {ref: list(_possible(wanted, ref)) for ref in wanted.ends}
    found = [
        Mistaken(ref, kinds, name, why, moves, wrong, _wrong(wanted, held, {ref: moves}))
        for ref, ways in possible.items()
        for kinds, name, why, moves in ways
    ]
    least = min((each.left for each in found), default=wrong)
    if 100 * least > MOST_LEFT * wrong:
        found = _both(wanted, held, possible, wrong)
        least = min((each.left for each in found), default=wrong)
        if 100 * least > MOST_LEFT * wrong:
            return []
    return [each for each in found if each.left == least]


def _both(
    wanted: Wanted, held: Sequence[Sequence[Node]], possible: Mapping[str, Sequence[_Possible]], wrong: int
) -> list[Mistaken]:
    """A mistake with each connector at once, those pairs first by which most wires from one to the other are right."""
    host, card = wanted.ends
    wires = [
        (a[1], b[1])
        for nodes in held
        for a in nodes[:MOST_ENDS]
        for b in nodes[:MOST_ENDS]
        if (a[0], b[0]) == (host, card)
    ]

    def nets(ref: str, moves: Mapping[str, str], labels: Iterable[str]) -> list[int]:
        return [wanted.net_of.get((ref, moves.get(label, "")), -1) for label in labels]

    ones = [nets(host, moves, (a for a, _ in wires)) for *_, moves in possible[host]]
    others = [nets(card, moves, (b for _, b in wires)) for *_, moves in possible[card]]
    right = [
        (sum(map(eq, one, other)) - one.count(-1), i, j) for i, one in enumerate(ones) for j, other in enumerate(others)
    ]
    out = []
    for _, i, j in sorted(right, key=lambda r: (-r[0], r[1] + r[2], r[1]))[:MOST_PAIRS]:
        (kinds, name, why, moves), second = possible[host][i], possible[card][j]
        left = _wrong(wanted, held, {host: moves, card: second[3]})
        other = Mistaken(card, *second, wrong, left)
        out.append(Mistaken(host, kinds, name, why, moves, wrong, left, second=other))
    return out


def _wrong(wanted: Wanted, pieces: Sequence[Sequence[Node]], by_ref: Mapping[str, Mapping[str, str]]) -> int:
    """How many nets are wrong when the contacts of connectors are taken for others."""
    landing = {ref: set(moves.values()) for ref, moves in by_ref.items()}
    pieces_of: dict[int, set[int]] = {}
    nets_in: dict[int, set[int]] = {}
    placed: dict[int, int] = {}
    for index, nodes in enumerate(pieces):
        for node in nodes:
            there: Node | None = node
            if node[0] in by_ref:
                label = by_ref[node[0]].get(node[1])
                there = (node[0], label) if label is not None else None
            net = wanted.net_of.get(there) if there else None
            if net is None:
                continue
            pieces_of.setdefault(net, set()).add(index)
            nets_in.setdefault(index, set()).add(net)
            placed[net] = placed.get(net, 0) + 1
    wrong = 0
    for net, nodes in enumerate(wanted.nodes):
        able = sum(node[0] in wanted.ends and (node[0] not in landing or node[1] in landing[node[0]]) for node in nodes)
        here = pieces_of.get(net, set())
        whole = placed.get(net, 0) == able or able == 1
        if able and not (whole and len(here) <= 1 and all(len(nets_in[piece]) == 1 for piece in here)):
            wrong += 1
    return wrong


_Possible = tuple[tuple[Kind, ...], str, str, Mapping[str, str]]
_NUMBERED = re.compile(r"^numbered (.*?), but read (.*)$")


def _possible(wanted: Wanted, ref: str) -> Iterator[_Possible]:
    """Every mistake with one connector, each movement once, under its simplest name."""
    body = wanted.ends[ref][0].body
    by_moves: dict[frozenset[tuple[str, str]], _Possible] = {}
    for mistake in mistakes(body):
        numbered = _NUMBERED.match(mistake.name)
        ways: list[tuple[Mapping[str, str], str]] = [(mistake.moves, mistake.name)]
        if numbered:
            true, assumed = numbered.groups()
            back = {there: here for here, there in mistake.moves.items()}
            ways = [
                (back, f"as if numbered {true}, not {assumed}"),
                (mistake.moves, f"as if numbered {assumed}, not {true}"),
            ]
        for moves, name in ways:
            why = _DRAWN.get(mistake.kinds, mistake.why)
            by_moves.setdefault(frozenset(moves.items()), (mistake.kinds, name, why, moves))
    label_of = {pad: label for label, pad in body.pad_of.items()}
    mate_of = {pad: label for label, pad in body.mate().pad_of.items()}
    for others, why in ((mate_of, _MATE), ({label: label for label in body.labels}, _PADS_AS_LABELS)):
        moves = {label_of[pad]: there for pad, there in others.items() if pad in label_of}
        if len(moves) < len(label_of) or all(a == b for a, b in moves.items()):
            continue
        key = frozenset(moves.items())
        kinds, name, _, _ = by_moves.get(key, ((), "with wrong pads", "", moves))
        by_moves[key] = (kinds, name, why, moves)
    yield from by_moves.values()
