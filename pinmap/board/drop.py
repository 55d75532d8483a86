"""What the tracks of a net put between its contacts, in Ω: the copper as a network of resistors, solved as a whole.

Counted is the length of the tracks, each as wide as it is, at 20 °C. Not counted: the walls of vias and plated holes
(with 20 µm of plating round a hole of 0.3 mm in a board of 1.6 mm, about 1.5 mΩ each, as much as 1.8 mm of a track of
0.6 mm in 35 µm of copper; plating and thickness are common practice, no source), so a way with many vias has more;
areas, which lower it; and pads, which are points without resistance. A pad or via joins what runs through its centre.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from fractions import Fraction
from itertools import combinations, pairwise

import numpy as np

from ..electrical.conductors import ohms_along, trace_ohm_per_m
from .layout import LAYERS, Layer, Pad, Track, Via

Contact = tuple[str, str]  # a pad's reference and number
_Point = tuple[int | Fraction, int | Fraction]  # in µm; tracks may cross between two whole ones
_Piece = tuple[Layer, _Point, _Point]
_Node = tuple[str, int | Fraction, int | Fraction]  # the layer is "" where a hole joins both

_START: _Node = ("start", 0, 0)
_END: _Node = ("end", 0, 0)


def ohms(
    layout_tracks: Sequence[Track],
    vias: Sequence[Via],
    pads: Sequence[Pad],
    net: str,
    start: Collection[Contact],
    end: Collection[Contact],
    copper_um: int,
) -> float | None:
    """Return the resistance at 20 °C of a net's tracks from the pads `start` to the pads `end`, in Ω.

    All pads of `start` are taken as one point, and all of `end`: what is fed or drawn through several contacts. A pad
    in both makes it 0. None where no tracks lead from one to the other, or one of them has no pad of the net.
    """
    tracks = [track for track in layout_tracks if track.net == net]
    pads = [pad for pad in pads if pad.net == net]
    vias = [via for via in vias if via.net == net]
    through = {(via.x_um, via.y_um) for via in vias} | {(pad.x_um, pad.y_um) for pad in pads if pad.drill_um}

    def node(layer: Layer, point: _Point) -> _Node:
        return ("" if point in through else layer, *point)

    ends: dict[_Node, _Node] = {}
    for contacts, whole in ((start, _START), (end, _END)):
        for pad in pads:
            if (pad.ref, pad.number) in contacts:
                at = node(pad.layer, (pad.x_um, pad.y_um))
                if ends.setdefault(at, whole) != whole:
                    return 0.0
    links: dict[_Node, dict[_Node, float]] = defaultdict(lambda: defaultdict(float))
    for (layer, a, b), width_um in _pieces(tracks, vias, pads).items():
        one, other = (ends.get(at, at) for at in (node(layer, a), node(layer, b)))
        if one != other:
            siemens = 1 / ohms_along(_um(a, b) / 1000, trace_ohm_per_m(width_um / 1000, copper_um))
            links[one][other] += siemens
            links[other][one] += siemens
    return _between(links)


def _pieces(tracks: Sequence[Track], vias: Sequence[Via], pads: Sequence[Pad]) -> dict[_Piece, int]:
    """Split the tracks wherever something joins, and give the width of each piece; the widest where some lie on top."""
    pieces: dict[_Piece, int] = {}
    holes: set[_Point] = {(via.x_um, via.y_um) for via in vias}
    for layer in LAYERS:
        here = [track for track in tracks if track.layer == layer]
        joints = holes | {(pad.x_um, pad.y_um) for pad in pads if layer in pad.layers}
        joints |= {point for track in here for point in _ends(track)}
        joints |= {point for a, b in combinations(here, 2) for point in _crossing(a, b)}
        for track in here:
            for a, b in pairwise(sorted(point for point in joints if _on(track, point))):
                pieces[layer, a, b] = max(track.width_um, pieces.get((layer, a, b), 0))
    return pieces


def _ends(track: Track) -> tuple[tuple[int, int], tuple[int, int]]:
    return (track.x1_um, track.y1_um), (track.x2_um, track.y2_um)


def _on(track: Track, point: _Point) -> bool:
    """Whether a point lies on the middle line of a track."""
    (x1, y1), (x2, y2) = _ends(track)
    x, y = point
    if not (min(x1, x2) <= x <= max(x1, x2) and min(y1, y2) <= y <= max(y1, y2)):
        return False
    return (x2 - x1) * (y - y1) == (y2 - y1) * (x - x1)


def _crossing(one: Track, other: Track) -> Iterator[_Point]:
    """Where the middle lines of two tracks meet; nowhere if they are parallel."""
    (x1, y1), (x2, y2) = _ends(one)
    (x3, y3), (x4, y4) = _ends(other)
    turn = (x2 - x1) * (y4 - y3) - (y2 - y1) * (x4 - x3)
    if turn:
        along = Fraction((x3 - x1) * (y4 - y3) - (y3 - y1) * (x4 - x3), turn)
        point = (x1 + along * (x2 - x1), y1 + along * (y2 - y1))
        if _on(one, point) and _on(other, point):
            yield point


def _um(a: _Point, b: _Point) -> float:
    return math.hypot(b[0] - a[0], b[1] - a[1])


def _between(links: dict[_Node, dict[_Node, float]]) -> float | None:
    """Solve the network: the volts at the start with 1 A from there to the end, which is at 0 V."""
    order = {_START: 0}  # only what hangs together with the start: the rest floats and has no solution
    waiting = [_START]
    while waiting:
        for other in links[waiting.pop()]:
            if other not in order:
                order[other] = len(order)
                waiting.append(other)
    if _END not in order:
        return None
    laplacian = np.zeros((len(order), len(order)))
    for one, i in order.items():
        for other, siemens in links[one].items():
            laplacian[i, i] += siemens
            laplacian[i, order[other]] -= siemens
    kept = [i for node, i in order.items() if node != _END]
    amps = np.zeros(len(kept))
    amps[0] = 1.0
    return float(np.linalg.solve(laplacian[np.ix_(kept, kept)], amps)[0])
