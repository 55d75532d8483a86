"""The shapes of copper: what a pad, a track or a drawing covers, in mm, with no geometry library near it.

A shape is a core - a point, a line or an area - and everything within `radius` of it. A track is a line and half its
width, a round pad a point and half its diameter: so the distance between two of them is exact, and nothing is
approximated but arcs. x grows to the right and y downwards, angles turn against the clock as one looks at the board
from the front; this is how board files count.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Literal

from msgspec import Struct

from .board_values import Point, Values
from .source import Branch

Frame = Callable[[Point], Point]
Core = Literal["point", "line", "area"]

#: An arc is drawn as straight pieces that leave it by no more than this, in mm (a quarter of what counts as touching).
ARC_ERROR_MM = 0.00025
#: No arc is drawn with more pieces. A full circle of 100 mm takes 1405.
MAX_ARC_PIECES = 4000


class Shape(Struct, frozen=True):
    """A core and what lies within `radius` mm of it. An area has at least three points, a line two, a point one."""

    core: Core
    points: tuple[Point, ...]
    radius: float = 0.0

    def moved(self, frame: Frame) -> Shape:
        """The same shape in another frame, turned and shifted."""
        return Shape(self.core, tuple(map(frame, self.points)), self.radius)


def turned(angle: float, to: Point = (0.0, 0.0)) -> Frame:
    """A frame that is turned by `angle` degrees and has its origin at `to`."""
    sine, cosine = _sine_cosine(angle)

    def frame(point: Point) -> Point:
        x, y = point
        return (to[0] + x * cosine + y * sine, to[1] - x * sine + y * cosine)

    return frame


def _sine_cosine(angle: float) -> tuple[float, float]:
    exact = {0.0: (0.0, 1.0), 90.0: (1.0, 0.0), 180.0: (0.0, -1.0), 270.0: (-1.0, 0.0)}
    if angle % 360 in exact:
        return exact[angle % 360]
    return math.sin(math.radians(angle)), math.cos(math.radians(angle))


def dot(at: Point, diameter: float) -> Shape:
    """A round spot."""
    return Shape("point", (at,), diameter / 2)


def stroke(points: Iterable[Point], width: float) -> Shape:
    """A line of some width with round ends; a spot where it has no length."""
    line = _without_repeats(points)
    return Shape("line" if len(line) > 1 else "point", line, width / 2)


def area(points: Iterable[Point], width: float = 0.0) -> Shape:
    """A filled outline, its edge drawn with `width`; a line or spot where it has no area."""
    ring = _without_repeats(points)
    if len(ring) > 2 and ring[0] == ring[-1]:
        ring = ring[:-1]
    return Shape("area", ring, width / 2) if len(ring) > 2 else stroke(ring, width)


def _without_repeats(points: Iterable[Point]) -> tuple[Point, ...]:
    out: list[Point] = []
    for point in points:
        if not out or point != out[-1]:
            out.append(point)
    return tuple(out)


def arc(start: Point, mid: Point, end: Point) -> tuple[Point, ...]:
    """The points of an arc through three points; the three themselves where they lie in a line."""
    (ax, ay), (bx, by), (cx, cy) = start, mid, end
    bx, by, cx, cy = bx - ax, by - ay, cx - ax, cy - ay
    twice = 2 * (bx * cy - by * cx)
    if start == end or mid in (start, end) or abs(twice) < 1e-12:
        return start, mid, end
    b, c = bx * bx + by * by, cx * cx + cy * cy
    ux, uy = (cy * b - by * c) / twice, (bx * c - cx * b) / twice
    radius = math.hypot(ux, uy)
    first = math.atan2(-uy, -ux)
    middle, last = ((math.atan2(y - uy, x - ux) - first) % math.tau for x, y in ((bx, by), (cx, cy)))
    sweep = last if middle <= last else last - math.tau
    inner = _swept((ax + ux, ay + uy), radius, first, sweep)
    return start, *inner[1:-1], end


def circle(centre: Point, radius: float) -> tuple[Point, ...]:
    """The points of a circle, the first one again at the end."""
    points = _swept(centre, radius, 0.0, math.tau)
    return *points[:-1], points[0]


def _swept(centre: Point, radius: float, first: float, sweep: float) -> list[Point]:
    step = max(2 * math.acos(max(1 - ARC_ERROR_MM / radius, 0.0)), 1e-9) if radius > ARC_ERROR_MM else math.pi / 2
    pieces = min(max(math.ceil(abs(sweep) / step), 4), MAX_ARC_PIECES)
    x, y = centre
    angles = (first + sweep * piece / pieces for piece in range(pieces + 1))
    return [(x + radius * math.cos(angle), y + radius * math.sin(angle)) for angle in angles]


def curve(points: list[Point]) -> tuple[Point, ...]:
    """The points of a cubic curve with four control points."""
    pieces = 64
    out = []
    for step in range(pieces + 1):
        t = step / pieces
        weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3)
        out.append(
            (
                sum(w * p[0] for w, p in zip(weights, points, strict=True)),
                sum(w * p[1] for w, p in zip(weights, points, strict=True)),
            )
        )
    return tuple(out)


# --- graphics ---------------------------------------------------------------------------------


def outline(file: Values, branch: Branch) -> list[Point]:
    """The points of (pts …), with what arcs stand among them."""
    pts = branch.first("pts")
    if pts is None:
        file.complain(branch, "an outline must have its points, (pts …)")
        return []
    out: list[Point] = []
    for item in pts.all("xy", "arc"):
        if item.head == "arc":
            out += arc(file.point(item, "start"), file.point(item, "mid"), file.point(item, "end"))
        else:
            x, y = file.values(item, item.texts, 2)[:2]
            out.append((x, y))
    return out


def graphic(file: Values, branch: Branch, *, in_pad: bool = False) -> list[Shape]:
    """What a drawn line, arc, circle, rectangle, polygon or curve covers, in the frame that it stands in.

    Empty for other things, and for an outline without width.
    """
    kind = branch.head.partition("_")[2]
    pen = branch.first("stroke") or branch
    width = max(file.numbers(pen, "width", 1)[0], 0.0) if pen.first("width") is not None else 0.0
    points: tuple[Point, ...] = ()
    if kind == "line":
        points = (file.point(branch, "start"), file.point(branch, "end"))
    elif kind == "arc":
        points = arc(file.point(branch, "start"), file.point(branch, "mid"), file.point(branch, "end"))
    elif kind == "curve":
        control = outline(file, branch)
        if len(control) != 4:
            file.complain(branch, f"a curve must have 4 points, not {len(control)}")
            return []
        points = curve(control)
    elif kind == "rect":
        (x, y), (u, v) = file.point(branch, "start"), file.point(branch, "end")
        points = ((x, y), (u, y), (u, v), (x, v), (x, y))
    elif kind == "circle":
        (x, y), (u, v) = file.point(branch, "center"), file.point(branch, "end")
        radius = math.hypot(u - x, v - y)
        if _filled(branch, in_pad and not width):
            return [dot((x, y), 2 * radius + width)]
        points = circle((x, y), radius)
    elif kind == "poly":
        points = tuple(outline(file, branch))
        points = (*points, *points[:1])
    if not points:
        return []
    if kind in ("rect", "poly") and _filled(branch, kind == "poly" or (in_pad and not width)):
        return [area(points, width)]
    return [stroke(points, width)] if width else []


def _filled(branch: Branch, default: bool) -> bool:
    fill = branch.text("fill")
    return fill != "no" and fill != "none" if fill else default


# --- pads -------------------------------------------------------------------------------------


def pad_shapes(file: Values, pad: Branch, kind: str, source: Branch) -> list[Shape]:
    """What a pad of this kind of shape covers, around its own centre and unturned.

    `source` is the list that has the measures: the pad itself, or what it says of one layer.
    """
    width, height = (max(value, 0.0) for value in file.numbers(source, "size", 2)[:2])
    if not width or not height:
        file.complain(source, f"a pad must be larger than 0 mm, not {width:g} by {height:g}")
        return []
    x, y = _offset(file, source if source.first("offset") else pad)
    if kind == "custom":
        return [s.moved(turned(0, (x, y))) for s in _custom(file, pad, source, width, height)]
    shape = _simple(file, source, kind, width, height)
    if shape is None:
        file.complain(pad, f"a pad's shape must be circle, rect, oval, roundrect, trapezoid or custom, not {kind!r}")
        return []
    return [shape.moved(turned(0, (x, y)))]


def hole_shape(file: Values, pad: Branch) -> Shape | None:
    """The hole of a pad around its centre, unturned; None where it has none."""
    drill = pad.first("drill")
    if drill is None:
        return None
    sizes = [word for word in drill.texts if word != "oval"]
    if not sizes:
        return None
    values = file.values(drill, sizes, 1)
    width, height = (values[0], values[1]) if len(values) > 1 else (values[0], values[0])
    if width <= 0 or height <= 0:
        return None
    return _oval(width, height)


def _offset(file: Values, source: Branch) -> Point:
    drill = source if source.first("offset") else source.first("drill")
    return file.point(drill, "offset") if drill is not None and drill.first("offset") is not None else (0.0, 0.0)


def _oval(width: float, height: float) -> Shape:
    thin = min(width, height)
    x, y = (width - thin) / 2, (height - thin) / 2
    return stroke(((-x, -y), (x, y)), thin)


def _simple(file: Values, source: Branch, kind: str, width: float, height: float) -> Shape | None:
    x, y = width / 2, height / 2
    if kind == "circle":
        return dot((0.0, 0.0), width)
    if kind == "oval":
        return _oval(width, height)
    if kind == "rect":
        return area(((-x, -y), (x, -y), (x, y), (-x, y)))
    if kind == "trapezoid":
        across, along = (
            (v / 2 for v in file.numbers(source, "rect_delta", 2)[:2]) if source.first("rect_delta") else (0, 0)
        )
        return area(
            ((-x - along, y + across), (x + along, y - across), (x - along, -y + across), (-x + along, -y - across))
        )
    if kind == "roundrect":
        return _rounded(file, source, x, y)
    return None


def _rounded(file: Values, source: Branch, x: float, y: float) -> Shape:
    ratio = file.numbers(source, "roundrect_rratio", 1)[0] if source.first("roundrect_rratio") else 0.25
    radius = min(max(ratio, 0.0), 0.5) * 2 * min(x, y)
    cut_ratio = file.numbers(source, "chamfer_ratio", 1)[0] if source.first("chamfer_ratio") else 0.0
    corners = source.first("chamfer")
    cut_off = set(corners.texts) if corners is not None else set()
    cut = min(max(cut_ratio, 0.0), 0.5) * 2 * min(x, y)
    if not cut or not cut_off:
        u, v = x - radius, y - radius
        core = area(((-u, -v), (u, -v), (u, v), (-u, v), (-u, -v)))
        if core.core == "area" and (u <= 0 or v <= 0):  # as wide as round: a line is left, or a point
            core = stroke(((-u, -v), (u, v)), 0.0)
        return Shape(core.core, core.points, radius)
    points: list[Point] = []
    for name, sx, sy in (("top_left", -1, -1), ("top_right", 1, -1), ("bottom_right", 1, 1), ("bottom_left", -1, 1)):
        away = cut if name in cut_off else radius
        ends = [(sx * (x - away), sy * y), (sx * x, sy * (y - away))]
        if name not in cut_off and radius:
            near = radius * (1 - math.sqrt(0.5))
            ends = list(arc(ends[0], (sx * (x - near), sy * (y - near)), ends[1]))
        points += reversed(ends) if sx * sy > 0 else ends  # clockwise, as one looks at it
    return area(points)


def _custom(file: Values, pad: Branch, source: Branch, width: float, height: float) -> list[Shape]:
    options = source.first("options") or pad.first("options")
    anchor = options.text("anchor", "circle") if options is not None else "circle"
    first = _simple(file, source, "rect" if anchor == "rect" else "circle", width, height)
    shapes = [first] if first is not None else []
    drawn = source.first("primitives") or (pad.first("primitives") if source is pad else None)
    for item in drawn.all() if drawn is not None else ():
        shapes += graphic(file, item, in_pad=True)
    return shapes
