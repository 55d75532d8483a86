"""Boxes and lines: what lies around what, and what of a line is clear of it. Whole µm, y downwards."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

from .layout import Point

Line = tuple[Point, ...]
Box = tuple[int, int, int, int]  # left, top, right, bottom


def span(points: Iterable[Point]) -> Box:
    """The smallest box round the points, of which there must be one."""
    every = list(points)
    xs, ys = [x for x, _ in every], [y for _, y in every]
    return min(xs), min(ys), max(xs), max(ys)


def grown(box: Box, along: int, across: int) -> Box:
    """With `along` more at the left and right and `across` more at the top and bottom."""
    return box[0] - along, box[1] - across, box[2] + along, box[3] + across


def corners(box: Box) -> Line:
    """Its four corners, from the top left on with the clock."""
    left, top, right, bottom = box
    return (left, top), (right, top), (right, bottom), (left, bottom)


def closed(points: Line) -> Line:
    """With the first point once more at the end."""
    return (*points, points[0])


def ring(box: Box) -> Line:
    """The line round a box."""
    return closed(corners(box))


def arc(x: int, y: int, radius: int, start: int, stop: int) -> Line:
    """Straight pieces along a circle, from one angle to another against the clock, every 15 degrees."""
    angles = (math.radians(angle) for angle in range(start, stop + 1, 15))
    return tuple((x + round(radius * math.cos(a)), y - round(radius * math.sin(a))) for a in angles)


def least_apart(points: Iterable[Point]) -> int:
    """The least distance between two of the points; far where there is one point alone."""
    best = 10**12
    ordered = sorted(points)
    for index, (x, y) in enumerate(ordered):
        for x2, y2 in ordered[index + 1 :]:
            if (x2 - x) ** 2 >= best:
                break
            best = min(best, (x2 - x) ** 2 + (y2 - y) ** 2)
    return math.isqrt(best)


def clear(lines: Iterable[Line], walls: Iterable[Box], shortest: int) -> tuple[Line, ...]:
    """What of the lines is outside all of the walls, in pieces not shorter than `shortest`."""
    boxes = list(walls)
    out: list[Line] = []
    for line in lines:
        pieces: list[list[Point]] = []
        for a, b in pairwise(line):
            for start, end in _free(a, b, boxes):
                if pieces and pieces[-1][-1] == start:
                    pieces[-1].append(end)
                else:
                    pieces.append([start, end])
        out += [tuple(piece) for piece in pieces if sum(math.dist(a, b) for a, b in pairwise(piece)) >= shortest]
    return tuple(out)


def _free(a: Point, b: Point, walls: Iterable[Box]) -> list[tuple[Point, Point]]:
    """The pieces of a straight line that are outside all of the walls; along an edge is outside."""
    (ax, ay), (dx, dy) = a, (b[0] - a[0], b[1] - a[1])
    blocked = []
    for left, top, right, bottom in walls:
        enter, leave = 0.0, 1.0
        for begin, step, low, high in ((ax, dx, left, right), (ay, dy, top, bottom)):
            if step:
                first, last = sorted(((low - begin) / step, (high - begin) / step))
                enter, leave = max(enter, first), min(leave, last)
            elif not low < begin < high:
                leave = -1.0
        if enter < leave:
            blocked.append((enter, leave))
    out, at = [], 0.0
    for enter, leave in (*sorted(blocked), (1.0, 1.0)):
        if enter > at:
            out.append((at, enter))
        at = max(at, leave)
    return [((ax + round(s * dx), ay + round(s * dy)), (ax + round(e * dx), ay + round(e * dy))) for s, e in out]
