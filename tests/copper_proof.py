"""The proof of a board: which pads its files join in copper, against a plan, and how far all lies apart.

Nothing here is from the package, neither writers nor readers: see `copper_files` for how files are read, and
`copper_shapes` for what they come to.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from copper_files import TestPoint, board_outline, from_board, from_gerbers, from_ipc356
from copper_shapes import LAYERS, REACH_MM, TOUCH_MM, Copper, Drill, Node, Piece, Spot, shapely

__all__ = [
    "LAYERS", "TOUCH_MM", "Copper", "Drill", "Least", "Measured", "Node", "Piece", "Spot", "TestPoint",
    "board_outline", "faults", "from_board", "from_gerbers", "from_ipc356", "measured", "misnamed", "misplaced", "nets",
    "planned", "problems", "tested",
]  # fmt: skip


# --- which pads are joined --------------------------------------------------------------------


def nets(copper: Copper, pads: Mapping[Node, Sequence[Spot]] | None = None) -> list[frozenset[Node]]:
    """Which pads hang together; one without copper at its place, or whose layers nothing joins, stands alone there.

    A pad of two layers counts as one pin: both its sides belong to its group.
    """
    places = copper.spots if pads is None else pads
    groups: dict[Any, set[Node]] = {}
    for node, found in _groups_at(copper, places).items():
        for group in found:
            groups.setdefault(group, set()).add(node)
    return [frozenset(nodes) for nodes in groups.values()]


def _groups_at(copper: Copper, places: Mapping[Node, Sequence[Spot]]) -> dict[Node, set[Any]]:
    out: dict[Node, set[Any]] = {node: set() for node in places}
    for layer in LAYERS:
        asked = [(node, (x, y)) for node, spots in places.items() for on, x, y in spots if on == layer]
        numbers, pieces, _ = copper.around(layer, [point for _, point in asked], TOUCH_MM)
        hit = dict(zip(numbers.tolist(), pieces.tolist(), strict=True))
        for number, (node, point) in enumerate(asked):
            out[node].add(copper.group[hit[number]] if number in hit else ("nothing", layer, *point))
    return out


def faults(wanted: Mapping[str, Iterable[Node]], found: Iterable[frozenset[Node]]) -> list[str]:
    """What is open and what is joined, against nets by name; pads that no net names must be joined to nothing."""
    told = []
    net_of = {node: name for name, nodes in wanted.items() for node in nodes}
    groups: dict[Node, list[frozenset[Node]]] = {}
    for group in found:
        for node in group:
            groups.setdefault(node, []).append(group)
        names = sorted({net_of.get(node, f"pad {node[0]} {node[1]}") for node in group})
        if len(names) > 1:
            told.append(f"joined: {' and '.join(names)}")
    for name, nodes in wanted.items():
        parts = {group for node in nodes for group in groups.get(node, [frozenset({node})])}
        missing = sorted(node for node in nodes if node not in groups)
        if missing:
            told.append(f"missing: {missing[0][0]} {missing[0][1]} of {name}")
        elif len(parts) > 1:
            told.append(f"open: {name}, in {len(parts)} pieces")
        elif any(len(groups[node]) > 1 for node in nodes):
            told.append(f"open: {name}, between the layers")
    return sorted(told)


def planned(adapter: Any) -> dict[str, frozenset[Node]]:
    """The nets of a plan as pads: its contacts at the pads that their connectors' bodies say, and its parts' pins."""
    host, card = adapter.host_connector, adapter.card_connector
    return {
        net.name: frozenset(
            [
                *((host.ref, host.body.pad_of[contact.label]) for contact in net.host),
                *((card.ref, card.body.pad_of[contact.label]) for contact in net.card),
                *net.parts,
            ]
        )
        for net in adapter.nets
    }


def misnamed(copper: Copper) -> list[str]:
    """Where what the file calls a piece of copper and what it touches differ: one name, one group."""
    names: dict[int, set[str]] = {}
    groups: dict[str, set[int]] = {}
    for piece, group in zip(copper.pieces, copper.group, strict=True):
        if piece.net:
            names.setdefault(group, set()).add(piece.net)
            groups.setdefault(piece.net, set()).add(group)
    told = [f"joined: {' and '.join(sorted(found))}" for found in names.values() if len(found) > 1]
    return sorted(told + [f"open: {name}, in {len(found)} pieces" for name, found in groups.items() if len(found) > 1])


# --- how far all lies apart -------------------------------------------------------------------


@dataclass(frozen=True)
class Least:
    """The least value of a measure, in mm, and where."""

    mm: float = math.inf
    where: str = ""


@dataclass(frozen=True)
class Measured:
    """The least of each: `clearance` between groups on each layer, `width` of lines, `ring` around plated holes.

    `edge` is how far copper stays from the edge (fingers: from the edges that are not bevelled), `hole_edge` the same
    for the walls of holes, `holes` the web between two holes, `hole_copper` the way from the wall of a hole to copper
    that does not belong to it. `islands` are groups of copper without a pad.
    """

    clearance: Mapping[str, Least]
    width: Least
    ring: Least
    edge: Least
    hole_edge: Least
    holes: Least
    hole_copper: Least
    islands: int

    def against(
        self, *, gap: float, width: float, ring: float, edge: float, hole: float = 0.2, slack: float = 1e-3
    ) -> list[str]:
        """The measures that are less than these, in mm."""
        wanted = [
            *((f"clearance on the {layer}", least, gap) for layer, least in self.clearance.items()),
            ("width", self.width, width),
            ("ring", self.ring, ring),
            ("edge", self.edge, edge),
            ("edge of a hole", self.hole_edge, edge),
            ("web between holes", self.holes, hole),
            ("hole to other copper", self.hole_copper, gap),
        ]
        less = ((what, each, least) for what, each, least in wanted if each.mm < least - slack)
        told = [f"{what}: {each.mm:.4f} < {least:g} mm {each.where}" for what, each, least in less]
        return told + [f"islands: {self.islands}"] * (self.islands > 0)


def measured(
    copper: Copper, outline: Sequence[tuple[float, float]], bevel: Sequence[tuple[float, float]] | None = None
) -> Measured:
    """Measure all that a fab asks for; `outline` and `bevel` in mm."""
    return Measured(
        {layer: _clearance(copper, layer) for layer in LAYERS},
        _least((piece.pen, _middle(piece)) for piece in copper.pieces if piece.pen),
        _ring(copper),
        _edge(copper, outline, bevel),
        _hole_edge(copper, outline),
        _webs(copper),
        _hole_copper(copper),
        _islands(copper),
    )


def _least(found: Iterable[tuple[float, Any]]) -> Least:
    least = min(found, key=lambda each: each[0], default=None)
    if least is None:
        return Least()
    x, y = least[1][:2]
    return Least(float(least[0]), f"at {x:.3f}, {y:.3f}")


def _clearance(copper: Copper, layer: str) -> Least:
    ones, others, apart = copper.near(layer, REACH_MM)
    group = np.array(copper.group, dtype=int)
    foreign = group[ones] != group[others]
    ones, others, apart = ones[foreign], others[foreign], apart[foreign]
    if not len(apart):
        return Least()
    at = int(np.argmin(apart))
    line = shapely.shortest_line(copper.cores[ones[at]], copper.cores[others[at]])
    return _least([(float(apart[at]), line.interpolate(0.5, normalized=True).coords[0])])


def _ring(copper: Copper) -> Least:
    """For each plated hole and layer the copper round it: how deep its middle lies in a piece, less its radius."""
    deep = {(hole, layer): 0.0 for hole, drill in enumerate(copper.drills) if drill.plated for layer in LAYERS}
    for layer in LAYERS:
        for hole, number, far in zip(*(each.tolist() for each in copper.by_holes[layer]), strict=True):
            if far > 0 or not copper.drills[hole].plated:
                continue
            piece, inside = copper.pieces[number], -far
            if piece.core.geom_type == "Polygon":
                drill = copper.drills[hole]
                inside = float(copper.borders[number].distance(shapely.Point(drill.x, drill.y)))
            deep[hole, layer] = max(deep[hole, layer], inside)
    spots = ((far, copper.drills[hole]) for (hole, _), far in deep.items())
    return _least((far - drill.size / 2, (drill.x, drill.y)) for far, drill in spots)


def _edge(copper: Copper, outline: Sequence[tuple[float, float]], bevel: Sequence[tuple[float, float]] | None) -> Least:
    board = shapely.Polygon(outline)
    shapely.prepare(board)
    sides = [
        shapely.LineString([start, end])
        for start, end in pairwise([*outline, outline[0]])
        if bevel is None or max(shapely.LineString(bevel).distance(shapely.Point(p)) for p in (start, end)) > TOUCH_MM
    ]
    rest = shapely.union_all(sides)

    def far() -> Iterator[tuple[float, Any]]:
        inside = shapely.covers(board, copper.cores)
        apart = shapely.distance(copper.cores, board.exterior) - copper.radii
        for number, piece in enumerate(copper.pieces):
            if piece.finger and bevel is not None:
                yield float(shapely.distance(piece.core, rest)) - piece.radius, _middle(piece)
            else:
                yield float(apart[number]) if inside[number] else -REACH_MM, _middle(piece)

    return _least(far())


def _middle(piece: Piece) -> tuple[float, float]:
    x, y = shapely.point_on_surface(piece.core).coords[0]
    return x, y


def _hole_edge(copper: Copper, outline: Sequence[tuple[float, float]]) -> Least:
    board = shapely.Polygon(outline)
    return _least(
        ((1 if board.covers(at) else -1) * board.exterior.distance(at) - drill.size / 2, (drill.x, drill.y))
        for drill in copper.drills
        for at in (shapely.Point(drill.x, drill.y),)
    )


def _webs(copper: Copper) -> Least:
    if not copper.drills:
        return Least()
    dots = shapely.points(np.array([(drill.x, drill.y) for drill in copper.drills]))
    ones, others = shapely.STRtree(dots).query(dots, predicate="dwithin", distance=copper.largest + REACH_MM)
    return _least(
        (math.dist((a.x, a.y), (b.x, b.y)) - (a.size + b.size) / 2, (a.x, a.y))
        for one, other in zip(ones.tolist(), others.tolist(), strict=True)
        if one < other
        for a, b in ((copper.drills[one], copper.drills[other]),)
    )


def _hole_copper(copper: Copper) -> Least:
    own: list[set[int]] = [set() for _ in copper.drills]
    apart_of: list[tuple[float, int, int]] = []
    for layer in LAYERS:
        for hole, piece, far in zip(*(each.tolist() for each in copper.by_holes[layer]), strict=True):
            drill = copper.drills[hole]
            apart_of.append((far - drill.size / 2, hole, copper.group[piece]))
            if drill.plated and far <= drill.size / 2 + TOUCH_MM:
                own[hole].add(copper.group[piece])
    return _least(
        (far, (copper.drills[hole].x, copper.drills[hole].y)) for far, hole, group in apart_of if group not in own[hole]
    )


def _islands(copper: Copper) -> int:
    used = set().union(*_groups_at(copper, copper.spots).values()) if copper.spots else set()
    return len(set(copper.group) - used)


# --- the netlist for the electrical test ------------------------------------------------------


def tested(points: Iterable[TestPoint]) -> dict[str, frozenset[Node]]:
    """The nets of a test netlist as pads, vias left out; a pad that is joined to nothing is in none."""
    out: dict[str, set[Node]] = {}
    for point in points:
        if point.net is not None:
            nodes = out.setdefault(point.net, set())
            if point.ref:
                nodes.add((point.ref, point.pin))
    return {net: frozenset(nodes) for net, nodes in out.items()}


def misplaced(copper: Copper, points: Sequence[TestPoint]) -> list[str]:
    """Where a tester would find otherwise than the test netlist says: no copper, one net in two groups, two in one."""
    places = {(str(n), p.net or f"{p.ref} {p.pin}"): _spots(p) for n, p in enumerate(points)}
    told = []
    groups: dict[str, set[Any]] = {}
    names: dict[Any, set[str]] = {}
    for (number, name), found in _groups_at(copper, places).items():
        if any(isinstance(group, tuple) for group in found):
            point = points[int(number)]
            told.append(f"no copper: {point.ref or 'via'} {point.pin} of {name}")
            continue
        groups.setdefault(name, set()).update(found)
        for group in found:
            names.setdefault(group, set()).add(name)
    told += [f"open: {name}" for name, found in groups.items() if len(found) > 1]
    return sorted(told + [f"joined: {' and '.join(sorted(found))}" for found in names.values() if len(found) > 1])


def _spots(point: TestPoint) -> list[Spot]:
    return [(layer, point.x, point.y) for layer in (LAYERS if not point.layer else (point.layer,))]


# --- all of it --------------------------------------------------------------------------------


def problems(
    adapter: Any,
    board: str,
    files: Mapping[str, bytes],
    outline: Sequence[tuple[float, float]],
    bevel: Sequence[tuple[float, float]] | None = None,
    *,
    gap: float = 0.25,
    width: float = 0.25,
    ring: float = 0.15,
    edge: float = 0.5,
) -> list[str]:
    """What is wrong with a board by any of its files: nets in copper against the plan and the names, and all measures.

    `board` is the board file, `files` those for the fab (…copper-front.gbr, …netlist.ipc); lengths in mm, `outline` and
    `bevel` as in the layout.
    """
    left, bottom = min(x for x, _ in outline), max(y for _, y in outline)
    wanted = planned(adapter)
    points = from_ipc356(next(data for name, data in files.items() if name.endswith("netlist.ipc")), left, bottom)
    told = []
    sources = {"board": from_board(board), "gerbers": from_gerbers(files, left, bottom)}
    for name, copper in sources.items():
        found = [*faults(wanted, nets(copper)), *misnamed(copper), *misplaced(copper, points)]
        found += measured(copper, outline, bevel).against(gap=gap, width=width, ring=ring, edge=edge)
        told += [f"{name}: {each}" for each in found]
    one, other = ({node: _rounded(spots) for node, spots in copper.spots.items()} for copper in sources.values())
    apart = sorted(node for node in one.keys() | other if one.get(node) != other.get(node))
    told += [f"elsewhere: {ref} {pad}" for ref, pad in apart]
    said = tested(points)
    # A contact that is joined to nothing may stand without a net.
    told += [f"netlist: {net}" for net, nodes in wanted.items() if said.get(net, set()) != nodes and len(nodes) > 1]
    return told + [f"netlist: {net}" for net in sorted(said.keys() - wanted)]


def _rounded(spots: Iterable[Spot]) -> list[Spot]:
    return sorted((layer, round(x, 4), round(y, 4)) for layer, x, y in spots)
