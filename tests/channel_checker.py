"""An independent referee for routed channels: rasters the copper and looks at what touches what.

It shares nothing with the router: it reads only the plain fields of the channel and of the routed copper. Points are
(column, row) on one of two layers; row −1 is the top edge and row `tracks` the bottom edge.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Protocol


class ChannelLike(Protocol):
    """What is asked for: two rows of terminals and the nets that leave at the ends."""

    @property
    def top(self) -> tuple[int, ...]: ...
    @property
    def bottom(self) -> tuple[int, ...]: ...
    @property
    def left(self) -> frozenset[int]: ...
    @property
    def right(self) -> frozenset[int]: ...


class TrunkLike(Protocol):
    """A piece of copper along a track."""

    @property
    def net(self) -> int: ...
    @property
    def track(self) -> int: ...
    @property
    def first(self) -> int: ...
    @property
    def last(self) -> int: ...


class BranchLike(Protocol):
    """A piece of copper along a column."""

    @property
    def net(self) -> int: ...
    @property
    def column(self) -> int: ...
    @property
    def upper(self) -> int: ...
    @property
    def lower(self) -> int: ...


class RoutedLike(Protocol):
    """What was drawn."""

    @property
    def tracks(self) -> int: ...
    @property
    def trunks(self) -> tuple[TrunkLike, ...]: ...
    @property
    def branches(self) -> tuple[BranchLike, ...]: ...
    @property
    def added_left(self) -> int: ...
    @property
    def added_right(self) -> int: ...


Point = tuple[str, int, int]


class _Groups:
    """Union-find over points."""

    def __init__(self) -> None:
        self._parent: dict[Point, Point] = {}

    def root(self, point: Point) -> Point:
        self._parent.setdefault(point, point)
        while self._parent[point] != point:
            self._parent[point] = self._parent[self._parent[point]]
            point = self._parent[point]
        return point

    def join(self, one: Point, other: Point) -> None:
        self._parent[self.root(one)] = self.root(other)


def faults(channel: ChannelLike, routed: RoutedLike) -> list[str]:
    """Give every fault found as a sentence; an empty list is a clean channel."""
    found: list[str] = []
    low, high = -routed.added_left, len(channel.top) + routed.added_right - 1
    owner: dict[Point, int] = {}
    groups = _Groups()

    def lay(net: int, points: list[Point], what: str) -> None:
        for point in points:
            if owner.setdefault(point, net) != net:
                found.append(f"nets {owner[point]} and {net} share column {point[1]}, row {point[2]} on the {what}")
            groups.join(points[0], point)

    for trunk in routed.trunks:
        if not (0 <= trunk.track < routed.tracks and low <= trunk.first <= trunk.last <= high):
            found.append(f"a trunk of net {trunk.net} lies outside the channel")
        lay(trunk.net, [("trunk", c, trunk.track) for c in range(trunk.first, trunk.last + 1)], "trunk layer")
    for branch in routed.branches:
        if not (-1 <= branch.upper <= branch.lower <= routed.tracks and low <= branch.column <= high):
            found.append(f"a branch of net {branch.net} lies outside the channel")
        lay(
            branch.net,
            [("branch", branch.column, r) for r in range(branch.upper, branch.lower + 1)],
            "branch layer",
        )
    for layer, column, row in list(owner):  # a via wherever both layers carry the same net
        if layer == "trunk" and owner.get(("branch", column, row)) == owner[(layer, column, row)]:
            groups.join((layer, column, row), ("branch", column, row))

    ends: dict[int, list[Point | None]] = defaultdict(list)  # None: an end with no copper at it
    for row, terminals in ((-1, channel.top), (routed.tracks, channel.bottom)):
        for column, net in enumerate(terminals):
            point = ("branch", column, row)
            there = owner.get(point)
            if there is not None and there != net:
                found.append(f"net {there} touches the terminal of net {net} at column {column}, row {row}")
            if net:
                ends[net].append(point if there == net else None)
    for column, nets in ((low, channel.left), (high, channel.right)):
        for net in nets:
            reached = [p for p, who in owner.items() if who == net and p[0] == "trunk" and p[1] == column]
            ends[net].append(reached[0] if reached else None)
    for net, points in sorted(ends.items()):
        if len(points) < 2:
            continue  # nothing to join it to
        if None in points:
            found.append(f"net {net} does not reach {points.count(None)} of its ends")
        if len({groups.root(point) for point in points if point is not None}) > 1:
            found.append(f"net {net} is in pieces")
    for net in set(owner.values()) - set(ends):
        found.append(f"net {net} has copper and no end")
    return found


def loose_ends(channel: ChannelLike, routed: RoutedLike) -> list[str]:
    """Give every end of copper that goes nowhere: no terminal, no exit, no via."""
    trunk_at = {(t.net, c, t.track) for t in routed.trunks for c in range(t.first, t.last + 1)}
    branch_at = {(b.net, b.column, r) for b in routed.branches for r in range(b.upper, b.lower + 1)}
    low, high = -routed.added_left, len(channel.top) + routed.added_right - 1
    found = []
    for t in routed.trunks:
        for column, leaves, end in ((t.first, channel.left, low), (t.last, channel.right, high)):
            exits = column == end and t.net in leaves
            if not exits and (t.net, column, t.track) not in branch_at:
                found.append(f"the trunk of net {t.net} on track {t.track} ends loose at column {column}")
    for b in routed.branches:
        for row in (b.upper, b.lower):
            terminals = channel.top if row == -1 else channel.bottom if row == routed.tracks else None
            known = terminals is not None and 0 <= b.column < len(terminals) and terminals[b.column] == b.net
            if not known and (b.net, b.column, row) not in trunk_at:
                found.append(f"the branch of net {b.net} in column {b.column} ends loose at row {row}")
    return found


def loops(routed: RoutedLike) -> list[str]:
    """Give every net whose copper, all in one piece, has a way round: more vias than its pieces need."""
    found = []
    for net in sorted({t.net for t in routed.trunks} | {b.net for b in routed.branches}):
        trunks = [t for t in routed.trunks if t.net == net]
        branches = [b for b in routed.branches if b.net == net]
        meetings = sum(
            t.first <= b.column <= t.last and b.upper <= t.track <= b.lower for t in trunks for b in branches
        )
        if meetings >= len(trunks) + len(branches):
            found.append(f"net {net} has {meetings} vias between {len(trunks) + len(branches)} pieces")
    return found
