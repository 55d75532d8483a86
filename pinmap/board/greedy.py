"""The search of the channel router: a scan from column to column, many half-routed channels at once.

After R. L. Rivest and C. M. Fiduccia, "A greedy channel router", DAC 1982 (from memory): the scan goes from column to
column, and in each one the terminals come in, split nets are joined, and nets move towards the side of their next
terminals. Here the vertical pieces of a column are chosen together, as the set of disjoint intervals of the greatest
gain (dynamic programming over the rows), and the scan keeps the most promising states (a beam) instead of one. It goes
from one end to the other, or from the fullest column to both: then what is split is joined towards either end.

A state is a row of `width` net numbers: who is on which track when the scan enters a column; 0 is a free track. All
figures are integers, and the noise that makes the states differ comes from a fixed formula: same input, same result.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

Ints = NDArray[np.int32]
Wide = NDArray[np.int64]
Bools = NDArray[np.bool_]

_PIN = 10_000_000  # gain of a terminal that comes in: above everything else together
_NEVER = -500_000_000
_AHEAD = 3  # terminals of a net that are looked at
_UNIT = 1_000


class Weights(Struct, frozen=True):
    """What a state is judged by, in thousandths of an arbitrary unit.

    `side`: a net away from the side of its next terminal · `order`: two nets due in one column in the wrong order ·
    `reach`, `foresee`: columns after which these two weigh half · `split`: a second track of one net · `finish`: the
    same near the right end, on top of it · `shrink`: per track between two tracks of a net · `jog`: a move · `noise`:
    how far two copies of a state may differ.
    """

    side: int = 2_360
    order: int = 500
    reach: int = 22
    foresee: int = 8
    split: int = 3_000
    finish: int = 1_000
    shrink: int = 50
    jog: int = 300
    noise: int = 900


_CALM = Weights(side=600, order=2_000, reach=8, split=900, finish=0, shrink=10, jog=800, noise=300)
_MANY = Weights(side=1_180, foresee=11, split=1_260, finish=700, shrink=70, jog=800)
#: Found by trial: what to look for a way with, in turn, and what finds ways with few vias.
SEEKING = (Weights(), _MANY, Weights(order=1_500, noise=1_800), Weights(reach=40, noise=1_800))
CALM = (_CALM, _MANY)


class Column(Struct, frozen=True):
    """What happens in one column: `before` and `after`, the tracks' nets; `pieces`: (net, upper row, lower row)."""

    before: tuple[int, ...]
    after: tuple[int, ...]
    pieces: tuple[tuple[int, int, int], ...]


class Problem:
    """A channel as the scan sees it; net numbers are small and consecutive from 1."""

    def __init__(self, top: Sequence[int], bottom: Sequence[int], left: Sequence[int], right: Sequence[int], nets: int):
        self.top, self.bottom, self.left, self.nets = top, bottom, left, nets
        self.columns = len(top)
        places: list[list[tuple[int, int, int]]] = [[] for _ in range(nets + 1)]  # (column, side, the net opposite)
        for column, (above, below) in enumerate(zip(top, bottom, strict=True)):
            if above:
                places[above].append((column, 1, below if below != above else 0))
            if below:
                places[below].append((column, -1, above if below != above else 0))
        self.places = places
        self.leaves = np.zeros(nets + 1, bool)
        self.leaves[list(right)] = True
        self.last = np.array([max((p[0] for p in spots), default=-1) for spots in places], np.int32)

    def halves(self, cut: int) -> tuple[Problem, Problem]:
        """Give the columns before `cut`, mirrored, and those from it on; what crosses comes in from the left."""
        places = [[spot[0] for spot in spots] for spots in self.places]
        early = {net for net, columns in enumerate(places) if min(columns, default=cut) < cut} | {*self.left}
        late = {net for net, columns in enumerate(places) if max(columns, default=-1) >= cut}
        late |= {*np.nonzero(self.leaves)[0].tolist()}
        crossing = sorted(early & late)
        right = sorted(np.nonzero(self.leaves)[0].tolist())
        return (
            Problem(self.top[:cut][::-1], self.bottom[:cut][::-1], crossing, self.left, self.nets),
            Problem(self.top[cut:], self.bottom[cut:], crossing, right, self.nets),
        )

    def coming(self, column: int, weights: Weights) -> tuple[Ints, Ints, Ints, Ints]:
        """Look ahead from a column: pulls up and down of each net, and for its next terminals weight and opposite."""
        up, down = np.zeros(self.nets + 1, np.int32), np.zeros(self.nets + 1, np.int32)
        sign, other = np.zeros((_AHEAD, self.nets + 1), np.int32), np.zeros((_AHEAD, self.nets + 1), np.int32)
        for net, spots in enumerate(self.places):
            ahead = [spot for spot in spots if spot[0] > column][:_AHEAD]
            for k, (place, side, opposite) in enumerate(ahead):
                far = place - column
                near = _UNIT * weights.foresee // (weights.foresee + far)
                pull = weights.side * weights.reach // (weights.reach + far) >> k
                if side > 0:
                    up[net] += pull
                else:
                    down[net] += pull
                sign[k, net], other[k, net] = side * (weights.order * near // _UNIT), opposite
        return up, down, sign, other


def _noise(shape: tuple[int, ...], seed: int, most: int) -> Ints:
    """Whole numbers from 0 to `most` that look like chance and are always the same (a splitmix step)."""
    count = 1
    for size in shape:
        count *= size
    mixed = np.arange(1, count + 1, dtype=np.uint64) + np.uint64(seed % 65_521 * 1_000_003)
    mixed *= np.uint64(0x9E3779B97F4A7C15)
    mixed ^= mixed >> np.uint64(30)
    mixed *= np.uint64(0xBF58476D1CE4E5B9)
    mixed ^= mixed >> np.uint64(27)
    return (mixed >> np.uint64(33)).astype(np.int64).__mod__(most + 1).astype(np.int32).reshape(shape)


class _Look:
    """The judgement of states after one column."""

    def __init__(self, problem: Problem, column: int, width: int, weights: Weights):
        self.weights, self.rows = weights, np.arange(width, dtype=np.int32)
        up, down, self.sign, self.other = problem.coming(column, weights)
        self.lines: Ints = (up[:, None] * self.rows + down[:, None] * (width - 1 - self.rows)) // max(1, width - 1)
        self.lines = self.lines.astype(np.int32)
        self.nets = problem.nets
        self.split = weights.split + weights.finish * 8 // (8 + max(0, problem.columns - 1 - column))
        self.over = (problem.last <= column) & ~problem.leaves
        self.depth = int((self.sign != 0).any(axis=1).sum())

    def extent(self, states: Ints) -> tuple[Ints, Ints]:
        """Topmost and bottommost track of each net in each state; −1 and a large number where it has none."""
        size = (len(states), self.nets + 1)
        highest, lowest = np.full(size, -1, np.int32), np.full(size, -1, np.int32)
        index = np.arange(len(states))[:, None]
        lowest[index, states] = self.rows
        # of several tracks the last one written counts, so the order in memory matters
        highest[index, np.ascontiguousarray(states[:, ::-1])] = np.ascontiguousarray(self.rows[::-1])
        return highest, lowest

    def thresholds(self, nets: Ints, highest: Ints, lowest: Ints, k: int) -> tuple[Ints, Ints]:
        """For the k-th next terminal of `nets`: from which row on its order is wrong (weight > 0) or right (< 0)."""
        index = np.arange(len(nets))[:, None]
        sign, other = self.sign[k][nets], self.other[k][nets]
        runs = (other > 0) & (highest[index, other] >= 0)
        limit = np.where(sign > 0, lowest[index, other], highest[index, other] + 1)
        return np.where(runs, sign, 0), limit

    def costs(self, nets: Ints, highest: Ints, lowest: Ints) -> Ints:
        """Give the cost of each of `nets` [states, m] at each row: [states, m, rows]."""
        cost = self.lines[nets]
        for k in range(self.depth):
            sign, limit = self.thresholds(nets, highest, lowest, k)
            cost += sign[:, :, None] * (self.rows >= limit[:, :, None])
            cost -= np.minimum(sign, 0)[:, :, None]
        return cost

    def shrinking(self, states: Ints, highest: Ints, lowest: Ints) -> Ints:
        """Give, for tracks of split nets, the cost of their distance from the net's other end: [states, rows, rows]."""
        index = np.arange(len(states))[:, None]
        first, last = highest[index, states], lowest[index, states]
        split = (first != last) & (states > 0)
        far = np.where(self.rows == first, last, first)
        cost: Ints = split[:, :, None] * np.abs(self.rows - far[:, :, None]) * np.int32(self.weights.shrink)
        return cost

    def worth(self, states: Ints) -> Wide:
        """Judge whole states: the less the better."""
        highest, lowest = self.extent(states)
        cost = np.take_along_axis(self.lines[states], self.rows[None, :, None], axis=2)[:, :, 0].astype(np.int64)
        for k in range(self.depth):
            sign, limit = self.thresholds(states, highest, lowest, k)
            cost += sign * (self.rows >= limit) - np.minimum(sign, 0)
        index = np.arange(len(states))[:, None]
        split = (highest[index, states] != self.rows) & (states > 0)
        cost += split * (self.split + self.weights.shrink * (self.rows - highest[index, states]))
        total: Wide = cost.sum(axis=1)
        return total


class _Step:
    """One column, for many states at once, each in `copies` copies that differ by noise; the first is without."""

    def __init__(self, look: _Look, states: Ints, above: int, below: int, seed: int, copies: int):
        self.look, self.states, self.above, self.below = look, states, above, below
        self.count, self.width = states.shape
        self.copies, self.seed = copies, seed
        self.parent = np.repeat(np.arange(self.count), copies)
        self.highest, self.lowest = look.extent(states)
        self.cost = look.costs(states, self.highest, self.lowest)
        self.own: dict[int, Ints] = {}

    def _row_costs(self, net: int) -> Ints:
        """Give the cost of one net at each row: [states, rows]."""
        if net not in self.own:
            nets = np.full((self.count, 1), net, np.int32)
            self.own[net] = self.look.costs(nets, self.highest, self.lowest)[:, 0]
        return self.own[net]

    def _entry(self, net: int, flipped: bool) -> Ints:
        """Give the gain of bringing `net` in from an edge, as far as each row."""
        turn = slice(None, None, -1 if flipped else 1)
        states, cost = self.states[:, turn], self._row_costs(net)[:, turn]
        own = states == net
        met = np.cumsum(own, axis=1)
        spent = np.cumsum(own * cost, axis=1)
        kept = np.minimum(np.minimum.accumulate(np.where(own, cost, -_NEVER), axis=1), cost)
        ended = (met == met[:, -1:]) & (met > 0) & self.look.over[net]
        gain = spent - np.where(ended, 0, kept) + self.look.split * (met + ended - 1) + _PIN
        return np.where(own | (states == 0), gain, _NEVER)[:, turn].astype(np.int32)

    def _through(self) -> Ints:
        """Give the gain of going straight from edge to edge."""
        net = self.above
        own, cost = self.states == net, self._row_costs(net)
        met = own.sum(axis=1)
        best = np.where(own | ((self.states == 0) & (met == 0)[:, None]), cost, -_NEVER).min(axis=1, initial=-_NEVER)
        if self.look.over[net]:
            best = np.zeros_like(best)
        gain = 2 * _PIN + (own * cost).sum(axis=1) - best + self.look.split * met
        return np.where(best < -_NEVER, gain, _NEVER).astype(np.int32)

    def _inner(self) -> Ints:
        """Give the gain of pieces between tracks: nets that move to a free track, tracks of one net that are joined."""
        states, weights = self.states, self.look.weights
        used, free = states > 0, states == 0
        cost = self.cost + self.look.shrinking(states, self.highest, self.lowest)
        here = np.einsum("bii->bi", cost)
        away = np.where(used[:, :, None] & free[:, None, :], here[:, :, None] - cost - weights.jog, _NEVER)
        gain = np.maximum(away, away.transpose(0, 2, 1))
        state, one, other = np.nonzero((states[:, :, None] == states[:, None, :]) & used[:, :, None])
        first, second = here[state, one], here[state, other]
        freed = np.where(self.look.over[states[state, one]], first + second, np.maximum(first, second))
        gain[state, one, other] = freed + self.look.split
        return gain

    def _noise(self, salt: int) -> Ints:
        most = self.look.weights.noise
        noise = _noise((self.count, self.copies, self.width), self.seed * 8 + salt, 2 * most) - most
        noise[:, 0] = 0
        return noise.reshape(self.count * self.copies, self.width)

    def gains(self) -> Ints:
        """Give the gain of each vertical piece: [copies, lower, upper], rows counted from 0, the top edge."""
        size = self.width + 2
        gain = np.full((self.count, size, size), _NEVER, np.int32)
        inner = self._inner()
        gain[:, 1:-1, 1:-1] = inner
        if self.above:
            gain[:, 1:-1, 0] = self._entry(self.above, flipped=False)
        if self.below:
            gain[:, -1, 1:-1] = self._entry(self.below, flipped=True)
        if self.above and self.above == self.below:
            gain[:, -1, 0] = self._through()
        gain = gain[self.parent]
        if self.copies > 1:
            gain[:, 1:-1, 1:-1] += self._noise(1)[:, :, None] * (inner > 0)[self.parent]
            if self.above:
                gain[:, 1:-1, 0] += self._noise(2)
            if self.below:
                gain[:, -1, 1:-1] += self._noise(3)
        return gain

    def choose(self) -> tuple[Ints, Ints]:
        """Choose the disjoint pieces of the greatest gain: (gains, starts); starts[copy, row] is −1 where none ends."""
        gain, size = self.gains(), self.width + 2
        index = np.arange(len(gain))
        best = np.zeros((len(gain), size + 1), np.int32)  # [r]: of the rows before r
        starts = np.full((len(gain), size), -1, np.int32)
        for row in range(1, size):
            options = best[:, :row] + gain[:, row, :row]
            start = options.argmax(axis=1)
            value = options[index, start]
            better = value > best[:, row]
            starts[better, row] = start[better]
            best[:, row + 1] = np.maximum(value, best[:, row])
        at = np.full(len(gain), size, np.int32)
        for row in range(size - 1, 0, -1):  # keep only the pieces on the best path
            here = at > row
            start = np.where(here, starts[:, row], -1)
            at = np.where(start >= 0, start, at)
            starts[:, row] = start
        return best[:, size], starts

    def apply(self, starts: Ints) -> Ints:
        """Give the states after the column."""
        before = self.states[self.parent]
        after, rows = before.copy(), self.look.rows
        if not self.width:
            return after
        copy, end = np.nonzero(starts >= 0)
        start, old, parent = starts[copy, end], before[copy], self.parent[copy]
        at_top, at_bottom = start == 0, end == self.width + 1
        index = np.arange(len(copy))
        upper = np.where(at_top, 0, old[index, start - 1])
        lower = np.where(at_bottom, 0, old[index, np.minimum(end, self.width) - 1])
        net = np.where(at_top, self.above, np.where(at_bottom, self.below, np.maximum(upper, lower)))
        cost = self.cost[parent, np.where(upper > 0, start, end) % (self.width + 1) - 1]
        for edge, terminal in ((at_top, self.above), (at_bottom, self.below)):
            if terminal:
                cost[edge] = self._row_costs(terminal)[parent[edge]]
        first, last = start[:, None] - 1, end[:, None] - 1
        own = (rows >= first) & (rows <= last) & (old == net[:, None])
        ends = (rows == first) | (rows == last)
        through = at_top & at_bottom
        ends |= through[:, None] & ~own.any(axis=1)[:, None]
        landing = ends & (old == 0)
        moves = ~at_top & ~at_bottom & landing.any(axis=1)
        keep = np.where((own & ~moves[:, None]) | landing, cost, -_NEVER).argmin(axis=1)
        copies, gone = np.nonzero(own)
        after[copy[copies], gone] = 0
        place = ~(through & self.look.over[net] & ~own.any(axis=1))
        after[copy[place], keep[place]] = net[place]
        highest, lowest = self.look.extent(after)
        index = np.arange(len(after))[:, None]
        after[self.look.over[after] & (highest[index, after] == lowest[index, after])] = 0
        return after


class Scan(Struct, frozen=True):
    """How wide and how broad to search: `width` tracks, `beam` states kept, `copies` of each tried in a column."""

    width: int
    beam: int = 12
    copies: int = 6
    spare: int = 6
    seed: int = 1
    weights: Weights = Weights()


class _Past(Struct):
    parent: NDArray[np.intp]
    starts: Ints
    states: Ints


def starting(problems: Sequence[Problem], scan: Scan) -> Ints:
    """Order the nets that come in from the left, so that it suits all `problems` that begin with them."""
    count = scan.beam * scan.copies
    states = np.zeros((count, scan.width), np.int32)
    nets = list(problems[0].left)
    if not nets:
        return states[:1]
    looks = [_Look(problem, -1, scan.width, scan.weights) for problem in problems]

    def worth(states: Ints) -> Wide:
        total: Wide = np.sum([look.worth(states) for look in looks], axis=0)
        return total

    pull = np.sum([look.lines[nets, -1] - look.lines[nets, 0] for look in looks], axis=0).astype(np.int64)
    noise = _noise((count, len(nets)), scan.seed, 2 * scan.weights.noise)
    noise[0] = 0
    order = np.argsort(-(pull[None, :] + noise), axis=1, kind="stable")
    ups = int((pull > 0).sum())
    rows = [*range(ups), *range(scan.width - len(nets) + ups, scan.width)]
    states[:, rows] = np.array(nets, np.int32)[order]
    states = states[: scan.beam]
    best = worth(states)
    for one in range(scan.width):  # better them by exchanges, over no more than a bounded number of pairs
        for other in range(one + 1, min(scan.width, one + 2 + 2_000 // scan.width)):
            tried = states.copy()
            tried[:, [one, other]] = tried[:, [other, one]]
            now = worth(tried)
            better = now < best
            states[better], best[better] = tried[better], now[better]
    return states[_distinct(states, best, scan.beam)]


def _distinct(states: Ints, worth: Wide, most: int) -> NDArray[np.intp]:
    """Choose the best states, each once."""
    seen: set[bytes] = set()
    chosen = []
    for index in np.argsort(worth, kind="stable").tolist():
        key = states[index].tobytes()
        if key not in seen:
            seen.add(key)
            chosen.append(index)
            if len(chosen) == most:
                break
    return np.array(chosen, np.intp)


class Scanned(Struct, frozen=True):
    """What a scan gave: its `columns`, none where it got stuck, how many it `reached`, and how many it added before."""

    columns: tuple[Column, ...] | None
    reached: int
    added_left: int = 0


def scan_channel(problem: Problem, scan: Scan, states: Ints) -> Scanned:
    """Route `problem` in `scan.width` tracks from one of `states` on, if it can be.

    Columns beyond the last terminal (at most `scan.spare`) are added at the right end where nets are still split.
    """
    debt = np.zeros(len(states), np.int64)
    past: list[_Past] = []
    for column in range(problem.columns + scan.spare + 1):
        inside = column < problem.columns
        if not inside:
            settled = _settled(problem, states)
            if settled.any():
                return Scanned(_history(problem, past, states, int(np.nonzero(settled)[0][0])), column)
            if column == problem.columns + scan.spare:
                break
        above, below = (problem.top[column], problem.bottom[column]) if inside else (0, 0)
        look = _Look(problem, column, scan.width, scan.weights)
        copies = max(1, scan.beam * scan.copies // len(states))
        step = _Step(look, states, above, below, scan.seed + 977 * column, copies)
        gain, starts = step.choose()
        good = gain > ((above > 0) + (below > 0)) * _PIN - _PIN // 2
        if not good.any():
            break
        after = step.apply(starts)
        owed = debt[step.parent] + scan.weights.jog * (starts >= 0).sum(axis=1) // 4
        worth = np.where(good, look.worth(after) + owed, np.iinfo(np.int64).max)
        chosen = _distinct(after, worth, scan.beam)
        chosen = chosen[good[chosen]]
        past.append(_Past(step.parent[chosen], starts[chosen], states))
        states, debt = after[chosen], owed[chosen]
    return Scanned(None, len(past))


def _settled(problem: Problem, states: Ints) -> Bools:
    """Say which states have nothing left to do: only nets that leave, each on one track."""
    ordered = np.sort(states, axis=1)
    twice = ((ordered[:, 1:] == ordered[:, :-1]) & (ordered[:, 1:] > 0)).any(axis=1)
    done: Bools = ~twice & (problem.leaves[states] | (states == 0)).all(axis=1)
    return done


def _history(problem: Problem, past: list[_Past], states: Ints, index: int) -> tuple[Column, ...]:
    """Follow one state back to the left end."""
    columns = []
    after = tuple(states[index].tolist())
    width = len(after)
    for column in range(len(past) - 1, -1, -1):
        step = past[column]
        starts, index = step.starts[index], int(step.parent[index])
        before = tuple(step.states[index].tolist())
        pieces = []
        for end in np.nonzero(starts >= 0)[0].tolist():
            start = int(starts[end])
            if start == 0:
                net = problem.top[column]
            elif end == width + 1:
                net = problem.bottom[column]
            else:
                net = max(before[start - 1], before[end - 1])
            pieces.append((net, start - 1, end - 1))
        columns.append(Column(before, after, tuple(pieces)))
        after = before
    return tuple(columns[::-1])
