"""Copper as shapes: what a board's files come to, in one frame, and what hangs together in it.

mm, x to the right, y downwards, seen from the front. A piece of copper is a core (point, line or polygon) and all
within `radius` of it, so that distances between round things are exact.
"""

from __future__ import annotations

import importlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

shapely: Any = importlib.import_module("shapely")  # without types of its own
Node = tuple[str, str]  # reference and number of a pad
Spot = tuple[str, float, float]  # a layer and a point on it
Geometry = Any  # shapely's; what numpy makes of many has no narrower type

LAYERS = ("front", "back")
#: What comes within 0.1 µm touches: that is a tenth of the step in which layouts are made.
TOUCH_MM = 1e-4
#: Clearances beyond this are not looked for.
REACH_MM = 1.2
QUARTER = 64  # pieces of a quarter circle, where a circle must be a polygon


@dataclass(frozen=True)
class Piece:
    """A shape of copper. `net` and `pad` are what the file says of it; `pen` is the width of a line."""

    layer: str
    core: Geometry
    radius: float = 0.0
    net: str = ""
    pad: Node | None = None
    pen: float = 0.0
    finger: bool = False

    @cached_property
    def shape(self) -> Geometry:
        return self.core.buffer(self.radius, quad_segs=QUARTER) if self.radius else self.core


@dataclass(frozen=True)
class Drill:
    x: float
    y: float
    size: float
    plated: bool = True


@dataclass
class Copper:
    """All copper of a board and its holes. `spots` are the pads' places by the file itself."""

    pieces: list[Piece] = field(default_factory=list)
    drills: list[Drill] = field(default_factory=list)
    spots: dict[Node, list[Spot]] = field(default_factory=dict)

    @cached_property
    def cores(self) -> Any:
        made = np.array([piece.core for piece in self.pieces], dtype=object)
        shapely.prepare(made)
        return made

    @cached_property
    def borders(self) -> Any:
        made = shapely.boundary(self.cores)
        shapely.prepare(made)
        return made

    @cached_property
    def radii(self) -> Any:
        return np.array([piece.radius for piece in self.pieces])

    @cached_property
    def on(self) -> dict[str, Any]:
        """The numbers of the pieces on each layer."""
        return {
            layer: np.array([i for i, p in enumerate(self.pieces) if p.layer == layer], dtype=int) for layer in LAYERS
        }

    @cached_property
    def trees(self) -> dict[str, Any]:
        """For each layer a tree of the rooms that its pieces take."""
        return {layer: shapely.STRtree(self._rooms(numbers, TOUCH_MM)) for layer, numbers in self.on.items()}

    def _rooms(self, numbers: Any, more: float) -> Any:
        if not len(numbers):
            return []
        low_x, low_y, high_x, high_y = shapely.bounds(self.cores[numbers]).T
        reach = self.radii[numbers] + more
        return shapely.box(low_x - reach, low_y - reach, high_x + reach, high_y + reach)

    def near(self, layer: str, within: float) -> tuple[Any, Any, Any]:
        """The pairs of pieces on a layer that come within so many mm: both numbers, and how far they are apart."""
        ones, others, apart = self._pairs[layer]
        keep = apart <= within
        return ones[keep], others[keep], apart[keep]

    @cached_property
    def _pairs(self) -> dict[str, tuple[Any, Any, Any]]:
        return {layer: self._near(layer) for layer in LAYERS}

    def _near(self, layer: str) -> tuple[Any, Any, Any]:
        numbers = self.on[layer]
        if not len(numbers):
            return np.array([], int), np.array([], int), np.array([])
        ones, others = self.trees[layer].query(self._rooms(numbers, REACH_MM))
        keep = ones < others
        ones, others = numbers[ones[keep]], numbers[others[keep]]
        # What has many corners comes first: distances from it are looked up in a tree of its edges.
        swap = shapely.get_num_coordinates(self.cores[ones]) < shapely.get_num_coordinates(self.cores[others])
        ones, others = np.where(swap, others, ones), np.where(swap, ones, others)
        apart = shapely.distance(self.cores[ones], self.cores[others]) - self.radii[ones] - self.radii[others]
        return ones, others, apart

    def around(self, layer: str, points: Sequence[tuple[float, float]], within: float) -> tuple[Any, Any, Any]:
        """The pieces of a layer that come within so many mm of points: the point's number, the piece's, how far."""
        numbers = self.on[layer]
        if not len(numbers) or not points:
            return np.array([], int), np.array([], int), np.array([])
        dots = shapely.points(np.array(points))
        asked, found = self.trees[layer].query(shapely.buffer(dots, within, cap_style="square"))
        found = numbers[found]
        apart = shapely.distance(self.cores[found], dots[asked]) - self.radii[found]
        keep = apart <= within
        return asked[keep], found[keep], apart[keep]

    @cached_property
    def by_holes(self) -> dict[str, tuple[Any, Any, Any]]:
        """For each layer the pieces near holes: the hole's number, the piece's, how far from the middle of the hole."""
        middles = [(drill.x, drill.y) for drill in self.drills]
        return {layer: self.around(layer, middles, self.largest / 2 + REACH_MM) for layer in LAYERS}

    @cached_property
    def group(self) -> list[int]:
        """For each piece the number of what it is joined to: on its layer by touching, to the other by plated holes."""
        over = list(range(len(self.pieces)))

        def find(number: int) -> int:
            while over[number] != number:
                over[number] = over[over[number]]
                number = over[number]
            return number

        for layer in LAYERS:
            ones, others, _ = self.near(layer, TOUCH_MM)
            for one, other in zip(ones.tolist(), others.tolist(), strict=True):
                over[find(one)] = find(other)
        first: dict[int, int] = {}
        for layer in LAYERS:
            for hole, piece, far in zip(*(each.tolist() for each in self.by_holes[layer]), strict=True):
                if self.drills[hole].plated and far <= self.drills[hole].size / 2 + TOUCH_MM:
                    over[find(piece)] = find(first.setdefault(hole, piece))
        return [find(number) for number in range(len(over))]

    @cached_property
    def largest(self) -> float:
        return max((drill.size for drill in self.drills), default=0.0)
