"""The classic two-layer channel: two facing rows of terminals, joined by trunks in tracks and branches in columns.

Trunks lie on one layer, branches on the other, and a via joins them where a trunk and a branch of one net meet. Columns
count from 0; track 0 is the topmost. The router knows no connector, no length and no file: columns in, tracks out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import accumulate

import numpy as np
from msgspec import Struct

from .greedy import CALM, SEEKING, Column, Problem, Scan, Scanned, scan_channel, starting
from .tidying import Board, Line

#: A point of copper: True on the trunks' layer; column; row (−1 the top edge, 0 the first track).
_Point = tuple[bool, int, int]


class Channel(Struct, frozen=True):
    """Two facing rows of terminals.

    `top`, `bottom`: the net at each column (≥ 1; 0: none), as many columns in both. `left`, `right`: nets that leave
    the channel at that end. A net with one end only, terminal or exit, has nothing to be joined to: it gets no copper.

    Raises ValueError where there is no column, the rows differ in length, a net is negative, or net 0 is to leave.
    """

    top: tuple[int, ...]
    bottom: tuple[int, ...]
    left: frozenset[int] = frozenset()
    right: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        if len(self.top) != len(self.bottom):
            raise ValueError(
                f"both rows of a channel must have as many columns, not {len(self.top)} and {len(self.bottom)}"
            )
        if not self.top:
            raise ValueError("a channel must have at least one column, not none")
        lowest = min(*self.top, *self.bottom)
        if lowest < 0:
            raise ValueError(f"a net must be 1 or more, 0 where there is none, not {lowest}")
        lowest = min((*self.left, *self.right), default=1)
        if lowest < 1:
            raise ValueError(f"a net that leaves the channel must be 1 or more, not {lowest}")

    @property
    def spans(self) -> dict[int, tuple[int, int]]:
        """First and last column of each net with two ends or more; −1 and the number of columns stand for the ends.

        A net whose two only ends face each other is not among them: it goes straight through and needs no track.
        """
        ends: dict[int, list[int]] = defaultdict(list)
        for net in self.left:
            ends[net].append(-1)
        for row in (self.top, self.bottom):
            for column, net in enumerate(row):
                if net:
                    ends[net].append(column)
        for net in self.right:
            ends[net].append(len(self.top))
        return {net: (min(places), max(places)) for net, places in ends.items() if min(places) < max(places)}

    @property
    def density(self) -> int:
        """The greatest number of nets that any column has to carry along the channel: no fewer tracks can do."""
        change = [0] * (len(self.top) + 2)
        for first, last in self.spans.values():
            change[max(first, 0)] += 1
            change[min(last, len(self.top) - 1) + 1] -= 1
        most = now = 0
        for step in change:
            now += step
            most = max(most, now)
        return most


class Trunk(Struct, frozen=True, order=True):
    """Copper of `net` along `track` from column `first` to `last`, both covered; < 0 or ≥ n: in added columns."""

    net: int
    track: int
    first: int
    last: int


class Branch(Struct, frozen=True, order=True):
    """Copper of `net` along `column` from row `upper` to `lower`; −1 is the top edge, `tracks` the bottom edge."""

    net: int
    column: int
    upper: int
    lower: int


class Via(Struct, frozen=True, order=True):
    """Where a trunk and a branch of `net` meet."""

    net: int
    column: int
    track: int


class Routed(Struct, frozen=True):
    """The copper of a channel: `tracks` used, and columns added at either end beyond the terminals."""

    tracks: int
    trunks: tuple[Trunk, ...]
    branches: tuple[Branch, ...]
    added_left: int = 0
    added_right: int = 0

    @property
    def vias(self) -> tuple[Via, ...]:
        """Every place where a branch meets a trunk of its net."""
        along: dict[tuple[int, int], list[Trunk]] = defaultdict(list)
        for trunk in self.trunks:
            along[trunk.net, trunk.track].append(trunk)
        return tuple(
            sorted(
                {
                    Via(branch.net, branch.column, row)
                    for branch in self.branches
                    for row in range(branch.upper, branch.lower + 1)
                    for trunk in along.get((branch.net, row), ())
                    if trunk.first <= branch.column <= trunk.last
                }
            )
        )

    @property
    def length(self) -> int:
        """The copper's length in steps from column to column and from row to row."""
        return sum(t.last - t.first for t in self.trunks) + sum(b.lower - b.upper for b in self.branches)

    @property
    def rank(self) -> tuple[int, int, int, int]:
        """What makes one result better than another, the less the better: tracks, added columns, vias, length."""
        return self.tracks, self.added_left + self.added_right, len(self.vias), self.length


def _problem(channel: Channel) -> tuple[Problem, list[int]]:
    """Number the nets that need copper from 1 on: the problem, and the nets by their new number."""
    ends: dict[int, int] = defaultdict(int)
    for net in (*channel.top, *channel.bottom, *channel.left, *channel.right):
        ends[net] += 1
    names = [0, *sorted(net for net, number in ends.items() if net and number > 1)]
    number = {net: index for index, net in enumerate(names)}
    top, bottom = ([number.get(net, 0) for net in row] for row in (channel.top, channel.bottom))
    left, right = (sorted(number[net] for net in exits if net in number) for exits in (channel.left, channel.right))
    return Problem(top, bottom, left, right, len(names) - 1), names


def _turned(channel: Channel, mirrored: bool) -> Channel:
    """Give the channel with left and right exchanged, where asked."""
    return Channel(channel.top[::-1], channel.bottom[::-1], channel.right, channel.left) if mirrored else channel


class _Copper:
    """The copper of one net as a graph of points, to be pruned."""

    def __init__(self) -> None:
        self.links: dict[_Point, set[_Point]] = defaultdict(set)
        self.anchors: set[_Point] = set()

    def link(self, one: _Point, other: _Point) -> None:
        self.links[one].add(other)
        self.links[other].add(one)

    def prune(self) -> None:
        """Open every loop and take away what leads nowhere."""
        for column, row in {(p[1], p[2]) for p in self.links if p[0]} & {(p[1], p[2]) for p in self.links if not p[0]}:
            self.link((True, column, row), (False, column, row))
        self._open_loops()
        loose = [point for point, near in self.links.items() if len(near) < 2 and point not in self.anchors]
        while loose:
            point = loose.pop()
            for other in self.links.pop(point, ()):
                self.links[other].discard(point)
                if len(self.links[other]) < 2 and other not in self.anchors:
                    loose.append(other)

    def _open_loops(self) -> None:
        tree: dict[_Point, set[_Point]] = defaultdict(set)
        reached: set[_Point] = set()
        for start in sorted(self.anchors):
            tree.setdefault(start, set())
            if start in reached:
                continue
            reached.add(start)
            front = [start]
            while front:
                coming = []
                for point in front:
                    for other in sorted(self.links.get(point, ())):
                        if other not in reached:
                            reached.add(other)
                            tree[point].add(other)
                            tree[other].add(point)
                            coming.append(other)
                front = coming
        self.links = tree

    def runs(self, on_trunks: bool) -> Iterator[tuple[int, int, int]]:
        """Give the straight pieces on one layer: (track or column, first, last)."""
        lines: dict[int, list[int]] = defaultdict(list)
        for layer, column, row in self.links:
            if layer == on_trunks:
                lines[row if on_trunks else column].append(column if on_trunks else row)
        for line, places in sorted(lines.items()):
            first = last = min(places)
            for place in sorted(places)[1:]:
                one = (on_trunks, last, line) if on_trunks else (on_trunks, line, last)
                other = (on_trunks, place, line) if on_trunks else (on_trunks, line, place)
                if other not in self.links[one]:
                    yield line, first, last
                    first = place
                last = place
            yield line, first, last


def _drawn(channel: Channel, problem: Problem, names: list[int], scanned: Scanned) -> Routed:
    """Turn the scan's record into copper without loose ends, loops and empty tracks."""
    columns, shift = scanned.columns or (), scanned.added_left
    width = len(columns[0].before) if columns else 0
    copper: dict[int, _Copper] = defaultdict(_Copper)
    for place, column in enumerate(columns):
        for row, net in enumerate(column.after):
            if net and place + 1 < len(columns):
                copper[net].link((True, place, row), (True, place + 1, row))
            elif net and problem.leaves[net]:
                copper[net].anchors.add((True, place, row))
        if place == 0:
            for row, net in enumerate(column.before):
                if net:
                    copper[net].anchors.add((True, 0, row))
        for net, upper, lower in column.pieces:
            for row in range(upper, lower):
                copper[net].link((False, place, row), (False, place, row + 1))
            for edge in {upper, lower} & {-1, width}:
                copper[net].anchors.add((False, place, edge))
    trunks: list[Line] = []
    branches: list[Line] = []
    for net, graph in sorted(copper.items()):
        for point in graph.anchors:
            graph.links.setdefault(point, set())
        graph.prune()
        trunks += [(names[net], *run) for run in graph.runs(on_trunks=True)]
        branches += [(names[net], *run) for run in graph.runs(on_trunks=False)]
    board = Board(width, len(columns) - 1, channel.left, channel.right, (trunks, branches))
    board.tidy(100_000)
    trunks, branches = board.lines()
    tracks = sorted({track for _, track, _, _ in trunks})
    rows = {track: index for index, track in enumerate(tracks)} | {-1: -1, width: len(tracks)}
    edge = len(channel.top) - 1
    used = [0, *(c - shift for _, _, *ends in trunks for c in ends), *(c - shift for _, c, _, _ in branches), edge]
    return Routed(
        len(tracks),
        tuple(sorted(Trunk(net, rows[track], first - shift, last - shift) for net, track, first, last in trunks)),
        tuple(sorted(Branch(net, column - shift, rows[upper], rows[low]) for net, column, upper, low in branches)),
        -min(used),
        max(used) - edge,
    )


def _turned_back(channel: Channel, routed: Routed, mirrored: bool) -> Routed:
    """Give the copper of a turned channel as that of the channel itself."""
    if not mirrored:
        return routed
    edge = len(channel.top) - 1
    return Routed(
        routed.tracks,
        tuple(sorted(Trunk(t.net, t.track, edge - t.last, edge - t.first) for t in routed.trunks)),
        tuple(sorted(Branch(b.net, edge - b.column, b.upper, b.lower) for b in routed.branches)),
        routed.added_right,
        routed.added_left,
    )


def _outwards(problem: Problem, scan: Scan, mirrored: bool) -> Scanned:
    """Scan from the fullest column to both ends, beginning with the right end, or with the left where `mirrored`."""
    change = [0] * (problem.columns + 1)
    for net, spots in enumerate(problem.places):
        places = [spot[0] for spot in spots]
        if spots or problem.leaves[net]:
            change[0 if net in problem.left else min(places)] += 1
            change[problem.columns if problem.leaves[net] else max(places)] -= 1
    filled = list(accumulate(change[:-1]))[:-1]  # [c]: between columns c and c + 1
    fullest = [column for column, number in enumerate(filled, 1) if number == max(filled)]
    cut = fullest[len(fullest) // 2]
    left, right = problem.halves(cut)
    first, second = (left, right) if mirrored else (right, left)
    one = scan_channel(first, scan, starting((first, second), scan))
    if one.columns is None:
        return one
    other = scan_channel(second, scan, np.array([one.columns[0].before], np.int32))
    if other.columns is None:
        return Scanned(None, one.reached + other.reached)
    after, before = (other.columns, one.columns) if not mirrored else (one.columns, other.columns)
    backwards = tuple(Column(column.after, column.before, column.pieces) for column in reversed(after))
    return Scanned(backwards + before, one.reached + other.reached, len(after) - cut)


def attempt(channel: Channel, scan: Scan, mirrored: bool = False, outwards: bool = False) -> tuple[Routed | None, int]:
    """Scan the channel once: what came of it, None where it does not fit, and how many columns were scanned."""
    turned = _turned(channel, mirrored and not outwards)
    problem, names = _problem(turned)
    if outwards and problem.columns > 1:
        scanned = _outwards(problem, scan, mirrored)
    else:
        scanned = scan_channel(problem, scan, starting((problem,), scan))
    if scanned.columns is None:
        return None, scanned.reached
    return _turned_back(channel, _drawn(turned, problem, names, scanned), mirrored and not outwards), scanned.reached


def route(channel: Channel, *, effort: int = 2, most_added: int | None = None) -> Routed:
    """Route a channel in few tracks: copper that joins what belongs together and nothing else.

    `effort` (≥ 1): how long to search for something better once there is a way; the time grows in proportion.
    `most_added` (≥ 0): columns that may be added at one end beyond the terminals, where they save tracks or are the
    only way; None: an eighth of the channel, at least 8. It is a wish: a channel for which nothing was found within
    them gets more, and `added_left` and `added_right` tell how many. Same channel, same copper.

    Raises ValueError where `effort` or `most_added` is less than that.
    """
    most = max(8, len(channel.top) // 8) if most_added is None else most_added
    if effort < 1 or most < 0:
        raise ValueError(f"effort must be 1 or more and most_added 0 or more, not {effort} and {most}")
    return _Search(channel, effort, most).run()


class _Search:
    """The order in which widths, directions and styles are tried; time is counted in work done, not by a clock."""

    def __init__(self, channel: Channel, effort: int, most_added: int):
        self.channel, self.most_added = channel, most_added
        self.density, self.effort = channel.density, effort
        self.budget = self.left = effort * (150_000 + 30 * len(channel.top) ** 2)
        self.tried: dict[tuple[int, bool], int] = defaultdict(int)
        self.best: Routed | None = None

    def rank(self, routed: Routed) -> tuple[int, ...]:
        """Judge a result, the less the better: columns beyond those allowed count most."""
        return max(0, routed.added_left - self.most_added, routed.added_right - self.most_added), *routed.rank

    def fits(self) -> bool:
        """Whether there is a result within the columns allowed."""
        return self.best is not None and self.rank(self.best)[0] == 0

    def attempt(self, width: int, spare: int, calm: bool = False) -> None:
        """Try a width the next way in turn; `calm`: for few vias rather than for a way at all."""
        turn = self.tried[width, calm]
        self.tried[width, calm] += 1
        styles = CALM if calm else SEEKING
        price = (len(self.channel.top) + 4) * width * width // 125  # of one state throughout
        copies = 6 if 24 * price < self.budget else 4
        beam = min(8 + 2 * (turn // 4), max(2, self.budget // (4 * copies * price + 1)))
        style, way = (styles[turn % len(styles)], turn // 2) if calm else (styles[turn // 4 % len(styles)], turn)
        mirrored, outwards = way % 4 > 1, way % 2 == 1
        scan = Scan(width, beam=beam, copies=copies, spare=spare, seed=turn + 1, weights=style)
        routed, reached = attempt(self.channel, scan, mirrored, outwards)
        self.left -= (reached + 2) * (500 + 15 * width + beam * copies * width * width // 125)
        self.left -= outwards * min(width * width // 2, 2_000) * 80
        if routed and (self.best is None or self.rank(routed) < self.rank(self.best)):
            self.best = routed

    def first(self) -> Routed:
        """Find any way, wider and wider."""
        width = self.density
        while not self.fits() and width <= 2 * self.density + 8:
            for _ in range(2):
                if not self.fits():
                    self.attempt(width, 2 * self.most_added + 8)
            width += 1 + self.density // 60 + (width - self.density) // 8
        # With a track for each terminal every one comes in, and all that is left to join is joined in added columns.
        ends = sum(net > 0 for net in (*self.channel.top, *self.channel.bottom)) + len(self.channel.left)
        while self.best is None:
            width = min(2 * width + 2, ends + 2)
            self.attempt(width, 10 * ends + 10)
        return self.best

    def run(self) -> Routed:
        """Find a way; use the time left for fewer tracks, a quarter of it for fewer added columns and vias."""
        best = self.first()
        rounds = 0
        while best.tracks > self.density and self.left > self.budget // 4 and rounds < 16 * self.effort:
            self.attempt(best.tracks - 1, self.most_added)
            best = self.best or best
            rounds += 1
        rounds = 0
        while self.left > 0 and rounds < 3 * self.effort and not self.ideal(best):
            self.attempt(best.tracks, self.most_added, calm=rounds % 3 < 2)
            best = self.best or best
            rounds += 1
        return best

    def ideal(self, routed: Routed) -> bool:
        """Whether nothing better can be: no added column, and a via for each terminal at most."""
        spans = self.channel.spans
        terminals = sum(net in spans for net in (*self.channel.top, *self.channel.bottom))
        return not routed.added_left + routed.added_right and len(routed.vias) <= terminals
