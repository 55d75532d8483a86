"""Where connectors and parts stand: the card's connector on the upper line, the machine's on the lower one.

The two are shifted against each other, and turned where the form leaves that open, so that as few nets as possible lie
beside each other in the channel. Parts fill the lines beside the connectors, where the board grows least.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import product

from msgspec import Struct
from msgspec.structs import replace

from ..text import natural
from .blocks import COLUMN_UM, Block, Line, tongue_um
from .channel import Channel

#: Connectors are shifted by so many columns at most, to the left and to the right of standing middle over middle.
MOST_SHIFT = 40
#: Between the rooms of two blocks, in µm. Common practice, no source.
APART_UM = 250
#: From the last terminal of a block to the first of the next: a wide way out needs room beside a pad.
COLUMNS = 2
#: Bodies of parts stay so far from the edge at which a connector stands, in µm. Common practice, no source.
EDGE_UM = 500
_LINES: tuple[Line, ...] = ("upper", "lower")


class Stand(Struct, frozen=True):
    """A block on a line. `at` is the column of the channel where the block's column 0 is.

    `inset_um`: how far it stands in from the line, so as to be off the tongue of fingers.
    """

    block: Block
    line: Line
    at: int
    inset_um: int = 0

    def column(self, own: int) -> int:
        """The column of the channel at a column of the block; blocks of the lower line are turned round."""
        return self.at + own if self.line == "upper" else self.at - own

    @property
    def span(self) -> tuple[int, int]:
        """First and last column of the channel that it has terminals at."""
        ends = self.column(self.block.first), self.column(self.block.last)
        return min(ends), max(ends)

    @property
    def edges(self) -> tuple[int, int]:
        """Left and right edge of its room, in µm from column 0."""
        left, _, right, _ = self.block.box
        x = self.at * COLUMN_UM
        return (x + left, x + right) if self.line == "upper" else (x - right, x - left)


class Group(Struct, frozen=True):
    """Parts that stand side by side, each as it stands on the upper line and on the lower one.

    `at_card`: on the line of the card's connector, as near to it as can be.
    """

    parts: tuple[tuple[Block, Block], ...]
    at_card: bool = False

    @property
    def wide(self) -> int:
        """How much room they take along the line, in µm."""
        return sum(above.box[2] - above.box[0] for above, _ in self.parts)


def placed(
    card: Sequence[Block], host: Sequence[Block], groups: Sequence[Group], ends: Mapping[int, Sequence[bool]]
) -> tuple[Stand, ...]:
    """Place one of the ways in which each connector can stand, and all parts; the card's and the host's come first.

    `ends` says for each angle of the card's connector at which ends parts may stand: True is the right one.
    """
    best: tuple[tuple[int, int, int, int, int], Stand, Stand] | None = None
    for (i, above), (j, below) in product(enumerate(card), enumerate(host)):
        upper = Stand(above, "upper", 0)
        start = (sum(upper.span) + below.first + below.last) // 2  # middle over middle
        for shift in range(-MOST_SHIFT, MOST_SHIFT + 1):
            lower = Stand(below, "lower", start + shift)
            lane = channel((upper, lower))
            density = lane.density
            if best is not None and density > best[0][0]:
                continue
            straight = sum(one == other != 0 for one, other in zip(lane.top, lane.bottom, strict=True))
            wide = max(upper.edges[1], lower.edges[1]) - min(upper.edges[0], lower.edges[0])
            rank = (density + cycles(lane), -straight, wide, abs(shift), len(host) * i + j)
            if best is None or rank < best[0]:
                best = (rank, upper, lower)
    if best is None:
        raise ValueError("a board must have a connector at either end")
    out = [best[1], best[2]]
    lines: dict[Line, list[Stand]] = {"upper": [best[1]], "lower": [best[2]]}
    clear = {stand.line: _clear(stand.block) for stand in out}
    sides = ends[best[1].block.angle]
    order = sorted(groups, key=lambda g: (not g.at_card, -g.wide, natural(g.parts[0][0].ref)))
    for group in order:
        ways: list[tuple[int, int, list[Stand]]] = []
        for line, right in product(("upper",) if group.at_card else _LINES, sides):
            here = list(lines[line])
            for above, below in group.parts:
                stand = _beside(above if line == "upper" else below, line, here, right=right)
                if (least := clear[line]) is not None:
                    stand = replace(stand, inset_um=max(0, least - stand.block.box[1]))
                here.append(stand)
            other = lines["lower" if line == "upper" else "upper"]
            every = [each.edges for each in (*here, *other)]
            new = here[len(lines[line]) :]
            ways.append((max(e[1] for e in every) - min(e[0] for e in every), len(ways), new))
        stood = min(ways, key=lambda way: way[:2])[2]
        lines[stood[0].line] += stood
        out += stood
    low = min(stand.span[0] for stand in out)
    return tuple(replace(stand, at=stand.at - low) for stand in out)


def _clear(block: Block) -> int | None:
    """How far out parts beside a block may reach, where it stands at an edge of the board."""
    if block.edge_um is None:
        return None
    return block.edge_um + (tongue_um(block.footprint.pads) or EDGE_UM)


def _beside(block: Block, line: Line, others: Sequence[Stand], *, right: bool) -> Stand:
    """The block beside what stands on a line already: bodies apart, and no column with two terminals."""
    stand = Stand(block, line, 0)
    if right:
        by_body = max(each.edges[1] for each in others) + APART_UM - stand.edges[0]
        by_column = max(each.span[1] for each in others) + COLUMNS - stand.span[0]
        return Stand(block, line, max(-(-by_body // COLUMN_UM), by_column))
    by_body = min(each.edges[0] for each in others) - APART_UM - stand.edges[1]
    by_column = min(each.span[0] for each in others) - COLUMNS - stand.span[1]
    return Stand(block, line, min(by_body // COLUMN_UM, by_column))


def cycles(lane: Channel) -> int:
    """In how many knots nets must lie above each other in a ring, for their branches share columns.

    Each is undone by a dogleg, which takes a track more where the columns are full.
    """
    below: dict[int, list[int]] = {}
    for one, other in zip(lane.top, lane.bottom, strict=True):
        if one and other and one != other:
            below.setdefault(one, []).append(other)
            below.setdefault(other, [])
    done: list[int] = []  # in the order in which nets are left (Kosaraju)
    seen: set[int] = set()
    for start in below:
        stack = [(start, iter(below[start]))] if start not in seen else []
        seen.add(start)
        while stack:
            net, rest = stack[-1]
            following = next((other for other in rest if other not in seen), None)
            if following is None:
                done.append(net)
                stack.pop()
            else:
                seen.add(following)
                stack.append((following, iter(below[following])))
    above: dict[int, list[int]] = {net: [] for net in below}
    for net, others in below.items():
        for other in others:
            above[other].append(net)
    found = 0
    seen.clear()
    for start in reversed(done):
        if start in seen:
            continue
        front, size = [start], 0
        seen.add(start)
        while front:
            net = front.pop()
            size += 1
            for other in above[net]:
                if other not in seen:
                    seen.add(other)
                    front.append(other)
        found += size > 1
    return found


def terminals(stands: Iterable[Stand]) -> Iterator[tuple[Line, int, str]]:
    """Line, column and net of every terminal."""
    for stand in stands:
        for terminal in stand.block.terminals:
            yield stand.line, stand.column(terminal.column), terminal.net


def channel(stands: Sequence[Stand], numbers: Mapping[str, int] | None = None) -> Channel:
    """The channel between the lines; nets are numbered from 1 in the order given, else as they come."""
    found = list(terminals(stands))
    if numbers is None:
        numbers = {net: number for number, net in enumerate(dict.fromkeys(net for _, _, net in found), 1)}
    shift = min(0, min(column for _, column, _ in found))
    size = max(column for _, column, _ in found) - shift + 1
    rows = {"upper": [0] * size, "lower": [0] * size}
    for line, column, net in found:
        rows[line][column - shift] = numbers[net]
    return Channel(tuple(rows["upper"]), tuple(rows["lower"]))
