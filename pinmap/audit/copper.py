"""What touches what in copper: shapes on layers, made into groups that conduct."""

from __future__ import annotations

import importlib
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from msgspec import Struct

from .board_shapes import Shape

#: Copper that comes within 1 µm of other copper touches it. Board files count in nm and no board is made to 1 µm, so
#: this only takes up what rounding leaves between shapes that were drawn edge to edge.
TOUCH_MM = 0.001
#: So many pairs of shapes, and of their corners, are measured at most. Measured where each shape lies over each other:
#: under 15 s and 200 MB on one slow core. Pairs known to be joined are not measured: 2000 tracks over a zone of another
#: net are 2000 pairs.
MAX_PAIRS = 400_000
MAX_CORNERS = 20_000_000
_AT_ONCE = 32  # shapes whose neighbours are asked for together: at most as many pairs as that times all shapes


class Copper(Struct, frozen=True):
    """One shape of copper on one layer.

    `body` numbers what hangs together by itself: all the shapes of a plated hole, of a pad, of one filling. `net` is
    what the file calls it ("" nothing). `shy` copper is only there where its own net meets it on that layer: the ring
    of a hole whose unused rings are removed. `what` names it for messages, `line` is where it stands.
    """

    layer: str
    shape: Shape
    body: int
    net: str = ""
    what: str = ""
    line: int = 0
    shy: bool = False


class TooMuchError(Exception):
    """More lies over each other than `MAX_PAIRS` or `MAX_CORNERS`; `number` is a shape in the thick of it."""

    def __init__(self, number: int):
        super().__init__(number)
        self.number = number


class Groups:
    """Numbers that are joined, whatever the order in which they were."""

    def __init__(self, size: int):
        self._over = list(range(size))

    def find(self, number: int) -> int:
        """The number that stands for its group: the least of it."""
        over = self._over
        while over[number] != number:
            over[number] = over[over[number]]
            number = over[number]
        return number

    def join(self, one: int, other: int) -> None:
        """Make one group of two."""
        a, b = self.find(one), self.find(other)
        self._over[max(a, b)] = min(a, b)


def join(shapes: Sequence[Copper], groups: Groups) -> Iterator[tuple[int, int]]:
    """Join the bodies that touch: shapes of one layer that come within `TOUCH_MM` of each other.

    Yields, as numbers, the pairs of shapes that touch and belong to different nets. Raises `TooMuchError`.
    """
    by_layer: dict[str, list[int]] = {}
    for number, each in enumerate(shapes):
        by_layer.setdefault(each.layer, []).append(number)
    pairs = corners = 0
    for layer in sorted(by_layer):
        numbers = by_layer[layer]
        there = _Layer([shapes[number] for number in numbers])
        for first in range(0, len(numbers), _AT_ONCE):
            ones, others = there.near_by(first, groups)
            pairs += len(ones)
            corners += there.corners_of(ones, others)
            if pairs > MAX_PAIRS or corners > MAX_CORNERS:
                raise TooMuchError(numbers[first])
            for local_one, local_other in there.touching(ones, others):
                one, other = numbers[local_one], numbers[local_other]
                groups.join(shapes[one].body, shapes[other].body)
                if shapes[one].net != shapes[other].net:
                    yield one, other


class _Layer:
    """The shapes of one layer, in arrays."""

    def __init__(self, shapes: Sequence[Copper]):
        self.np = importlib.import_module("numpy")
        self.shapely = importlib.import_module("shapely")
        array = self.np.array
        self.cores = _cores(shapes)
        self.radii = array([each.shape.radius for each in shapes])
        self.corners = array([len(each.shape.points) for each in shapes])
        names = {name: index for index, name in enumerate(sorted({each.net for each in shapes}))}
        self.nets = array([names[each.net] for each in shapes])
        self.bodies = array([each.body for each in shapes])
        self.shy = array([each.shy for each in shapes])
        low_x, low_y, high_x, high_y = self.shapely.bounds(self.cores).T
        reach = self.radii + TOUCH_MM
        self.boxes = self.shapely.box(low_x - reach, low_y - reach, high_x + reach, high_y + reach)
        self.tree = self.shapely.STRtree(self.boxes)
        self.shapely.prepare(self.cores)
        self._roots = self.bodies
        self._since = 0

    def near_by(self, first: int, groups: Groups) -> tuple[Any, Any]:
        """The pairs worth measuring between `_AT_ONCE` shapes, from `first` on, and later ones."""
        ones, others = self.tree.query(self.boxes[first : first + _AT_ONCE])
        ones = ones + first
        later = others > ones
        ones, others = ones[later], others[later]
        same_net = self.nets[ones] == self.nets[others]
        self._since += len(ones)
        if self._since > len(self.cores):
            # Which are joined by now is looked up each time that as many pairs as there are shapes have come by.
            self._roots = self.np.array([groups.find(body) for body in self.bodies.tolist()])
            self._since = 0
        joined = self._roots[ones] == self._roots[others]
        wanted = (self.bodies[ones] != self.bodies[others]) & ~(same_net & joined)
        wanted &= same_net | ~(self.shy[ones] | self.shy[others])
        return ones[wanted], others[wanted]

    def corners_of(self, ones: Any, others: Any) -> int:
        """How many corners must be gone through to measure these pairs: those of the lesser shape of each."""
        return int(self.np.minimum(self.corners[ones], self.corners[others]).sum())

    def touching(self, ones: Any, others: Any) -> list[tuple[int, int]]:
        """Those of these pairs that touch, in order."""
        most = self.radii[ones] + self.radii[others] + TOUCH_MM
        swap = self.corners[ones] < self.corners[others]  # the prepared one comes first
        large, small = self.np.where(swap, others, ones), self.np.where(swap, ones, others)
        near = self.shapely.dwithin(self.cores[large], self.cores[small], most)
        return sorted(zip(ones[near].tolist(), others[near].tolist(), strict=True))


def _cores(shapes: Iterable[Copper]) -> Any:
    shapely = importlib.import_module("shapely")
    made = []
    for each in shapes:
        points = each.shape.points
        if each.shape.core == "point":
            made.append(shapely.Point(points[0]))
        elif each.shape.core == "line":
            made.append(shapely.LineString(points))
        else:
            made.append(shapely.Polygon(points))
    return importlib.import_module("numpy").array(made, dtype=object)


def where(one: Copper, other: Copper) -> tuple[float, float]:
    """A place, in mm, where two shapes that touch come nearest to each other."""
    shapely = importlib.import_module("shapely")
    line = shapely.shortest_line(*_cores((one, other)))
    middle = line.interpolate(0.5, normalized=True)
    return float(middle.x), float(middle.y)
