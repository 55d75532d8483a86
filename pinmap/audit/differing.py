"""Two ways of joining the same nodes held against each other: what is open, joined, exchanged, moved."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Literal, get_args

from msgspec import Struct

from .drawn import Node

State = Literal["agrees", "open", "joined", "exchanged", "moved"]
STATES: tuple[State, ...] = get_args(State)


class Fault(Struct, frozen=True):
    """One thing that differs, and the nets concerned, by number.

    `open`: the `nodes` of the one net are not joined to the rest of it, `there`. `joined`: both nets are one; the
    `nodes` are those of the first, `there` those of the second in the piece that joins them. `exchanged`: the `nodes`
    of the first are in the second's place, `there` those of the second in the first's. `moved`: the `nodes` of the
    first are with the second, which has `there`. `pieces` are the drawn nets, by number.
    """

    kind: State
    nets: tuple[int, ...]
    nodes: tuple[Node, ...]
    there: tuple[Node, ...] = ()
    pieces: tuple[int, ...] = ()


def differing(
    wanted: Sequence[Collection[Node]], pieces: Sequence[Collection[Node]], rank: Mapping[Node, int]
) -> list[Fault]:
    """Hold `pieces` against the nets `wanted`. A wanted node that is in no piece is joined to nothing.

    Each piece is taken for the net of which it has most, and each net has one such piece; what lies elsewhere differs.
    """
    net_of = {node: net for net, nodes in enumerate(wanted) for node in nodes}
    held = [sorted((n for n in piece if n in net_of), key=rank.__getitem__) for piece in pieces]
    placed = {node for nodes in held for node in nodes}
    held += [[node] for node in sorted(net_of.keys() - placed, key=rank.__getitem__)]
    piece_of = {node: index for index, nodes in enumerate(held) for node in nodes}
    home, of_piece = homes(held, net_of, rank)
    away: dict[tuple[int, int], list[Node]] = {}  # net, the net whose piece holds the nodes
    loose: dict[int, list[Node]] = {}
    for node, net in sorted(net_of.items(), key=lambda item: rank[item[0]]):
        owner = of_piece.get(piece_of[node])
        if owner is None:
            loose.setdefault(net, []).append(node)
        elif owner != net:
            away.setdefault((net, owner), []).append(node)
    faults: list[Fault] = []
    for (net, owner), nodes in away.items():
        back = away.get((owner, net), [])
        here = piece_of[nodes[0]]
        at_home = tuple(n for n in held[here] if net_of[n] == owner)
        if back and net in home:
            if net < owner:
                faults.append(Fault("exchanged", (net, owner), tuple(nodes), tuple(back), (here, piece_of[back[0]])))
        elif net in home:
            faults.append(Fault("moved", (net, owner), tuple(nodes), at_home, (here,)))
        else:
            faults.append(Fault("joined", (net, owner), tuple(nodes), at_home, (here,)))
    for net, nodes in loose.items():
        rest = tuple(n for n in sorted(wanted[net], key=rank.__getitem__) if n not in nodes)
        if rest:
            faults.append(Fault("open", (net,), tuple(nodes), rest, tuple({piece_of[n]: 0 for n in nodes})))
    for index, nodes in enumerate(held):
        if index not in of_piece:  # a piece that is nobody's may still join two nets
            nets = list(dict.fromkeys(net_of[n] for n in nodes))
            faults += [
                Fault(
                    "joined",
                    (min(net, nets[0]), max(net, nets[0])),
                    tuple(n for n in nodes if net_of[n] == net),
                    tuple(n for n in nodes if net_of[n] == nets[0]),
                    (index,),
                )
                for net in nets[1:]
            ]
    return faults


def homes(
    held: Sequence[Sequence[Node]], net_of: Mapping[Node, int], rank: Mapping[Node, int]
) -> tuple[dict[int, int], dict[int, int]]:
    """For each net the piece that is taken for it, and the other way round."""
    shares: dict[tuple[int, int], list[Node]] = {}
    for piece, nodes in enumerate(held):
        for node in nodes:
            shares.setdefault((piece, net_of[node]), []).append(node)
    home: dict[int, int] = {}
    of_piece: dict[int, int] = {}
    # Of equal shares the one with the net's first node, the machine's, counts: a wire is exchanged at the card's end.
    first = {net: node for node, net in sorted(net_of.items(), key=lambda item: -rank[item[0]])}
    order = sorted(shares.items(), key=lambda s: (-len(s[1]), first[s[0][1]] not in s[1], rank[s[1][0]]))
    for (piece, net), _ in order:
        if piece not in of_piece and net not in home:
            home[net], of_piece[piece] = piece, net
    # A net that lost its only place to another, of which a like part is left over, was exchanged with that part.
    left: dict[tuple[int, tuple[str, ...]], int] = {}
    for piece, nodes in enumerate(held):
        nets = {net_of[node] for node in nodes}
        if piece not in of_piece and len(nets) == 1:
            left.setdefault((next(iter(nets)), _refs(nodes)), piece)
    for (piece, net), nodes in order:
        if net in home or piece not in of_piece:
            continue
        spare = left.pop((of_piece[piece], _refs(nodes)), None)
        if spare is not None:
            home[net], of_piece[spare] = spare, net
    return home, of_piece


def _refs(nodes: Sequence[Node]) -> tuple[str, ...]:
    return tuple(sorted(ref for ref, _ in nodes))
