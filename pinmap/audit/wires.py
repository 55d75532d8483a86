"""Points, wires between them, and what hangs together."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from itertools import accumulate
from typing import Generic, TypeVar

from ..errors import UnreadableError
from .source import Branch

At = tuple[int, int]  # in 0.1 µm: coordinates are compared exactly
_K = TypeVar("_K")

#: So often may wires be looked at; a drawing that asks for more has been made to.
MAX_LOOKS = 1_000_000


def key(x_mm: float, y_mm: float) -> At:
    """A point of the sheet."""
    return round(x_mm * 10_000), round(y_mm * 10_000)


class Union(Generic[_K]):
    """Things that hang together."""

    def __init__(self) -> None:
        self._above: dict[_K, _K] = {}

    def find(self, one: _K) -> _K:
        """The thing that stands for all that hangs together with this one."""
        root = one
        while (above := self._above.get(root, root)) != root:
            root = above
        while one != root:
            self._above[one], one = root, self._above.get(one, one)
        return root

    def join(self, one: _K, other: _K) -> None:
        """Let two things hang together."""
        a, b = self.find(one), self.find(other)
        if a != b:
            self._above[a] = b


class Wires:
    """The wires of one sheet, found by a point that lies on them."""

    def __init__(self) -> None:
        self._level: dict[int, list[tuple[int, int, At]]] = {}
        self._upright: dict[int, list[tuple[int, int, At]]] = {}
        self._slanted: list[tuple[At, At]] = []
        self._ends: list[tuple[At, Branch]] = []
        self._looks = 0
        self._reach: dict[int, list[int]] = {}

    def __bool__(self) -> bool:
        return bool(self._ends)

    def add(self, a: At, b: At, branch: Branch) -> None:
        """Take in the wire from `a` to `b`."""
        self._ends += [(a, branch), (b, branch)]
        self._reach.clear()
        if a[1] == b[1]:
            self._level.setdefault(a[1], []).append((min(a[0], b[0]), max(a[0], b[0]), a))
        elif a[0] == b[0]:
            self._upright.setdefault(a[0], []).append((min(a[1], b[1]), max(a[1], b[1]), a))
        else:
            self._slanted.append((a, b))

    def ends(self) -> Iterator[tuple[At, Branch]]:
        """Every end of a wire."""
        return iter(self._ends)

    def through(self, at: At) -> Iterator[At]:
        """One end of each wire on which a point lies, its ends included."""
        return (end for end, _ in self._on(at))

    def inside(self, at: At) -> bool:
        """Whether a point lies on a wire between its ends."""
        return any(between for _, between in self._on(at))

    def _on(self, at: At) -> Iterator[tuple[At, bool]]:
        if not self._reach:
            for each in (*self._level.values(), *self._upright.values()):
                each.sort()
                self._reach[id(each)] = list(accumulate((high for _, high, _ in each), max))
        x, y = at
        for lines, along in ((self._level.get(y), x), (self._upright.get(x), y)):
            if not lines:
                continue
            reach = self._reach[id(lines)]
            index = bisect_right(lines, along, key=lambda line: line[0]) - 1
            while index >= 0 and reach[index] >= along:  # none before reaches so far
                self._look(1)
                low, high, end = lines[index]
                if along <= high:
                    yield end, low < along < high
                index -= 1
        self._look(len(self._slanted))
        for a, b in self._slanted:
            if (b[0] - a[0]) * (y - a[1]) == (b[1] - a[1]) * (x - a[0]) and min(a[0], b[0]) <= x <= max(a[0], b[0]):
                yield a, at not in (a, b)

    def _look(self, many: int) -> None:
        self._looks += many
        if self._looks > MAX_LOOKS:
            _, branch = self._ends[0]
            raise UnreadableError("a sheet must not have so many wires on one line", place=branch.place)
