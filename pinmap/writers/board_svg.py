"""A picture of each side of a board as it comes from the fab, as SVG 1.1: one unit is one millimetre, and so it prints.

Copper shows through the mask; bare pads are tinned, fingers gold, vias under the mask.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from xml.sax.saxutils import escape

from ..board.layout import Layer, Layout, Pad, Point, Ring
from ..board.lettering import pen_um, strokes
from ..text import visible
from .fab_gerber import finger_rooms

#: Own choice: a dark mask on which everything else can be told apart in grey too.
_BOARD = "#9A9468"  # the bare laminate, where the mask is open
_MASK = "#17324A"
_COPPER = "#2C5878"  # under the mask
_TIN = "#C8CCCF"
_GOLD = "#E0B34C"
_SILK = "#F4F4F0"
_AIR = "#FFFFFF"
_TENTED = "#0C1E2E"  # a via's hole, under the mask
_MARGIN_UM = 2000


def board_svg(layout: Layout, side: Layer) -> str:
    """Return the picture of one side; the back as it is seen from the back."""
    left, top = min(x for x, _ in layout.outline), min(y for _, y in layout.outline)
    width, height = (size + 2 * _MARGIN_UM for size in layout.size_um)
    if side == "back":
        move = f"translate({_mm(left + layout.size_um[0] + _MARGIN_UM)} {_mm(_MARGIN_UM - top)}) scale(-1 1)"
    else:
        move = f"translate({_mm(_MARGIN_UM - left)} {_mm(_MARGIN_UM - top)})"
    title = f"{visible(layout.title)}: {side}" if layout.title else f"board: {side}"
    across, down = (f"{size / 1000:g}" for size in layout.size_um)
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_mm(width)}mm" height="{_mm(height)}mm" '
            f'viewBox="0 0 {_mm(width)} {_mm(height)}" role="img" style="background:{_AIR}">',
            f"<title>{escape(title)}</title>",
            f"<desc>The {side} of a board of {across} × {down} mm, as it is seen from the {side}.</desc>",
            f'<clipPath id="board"><path d="{_ring(layout.outline)}"/></clipPath>',
            f'<g transform="{move}" stroke-linecap="round" stroke-linejoin="round">',
            '<g clip-path="url(#board)">',
            f'<path d="{_ring(layout.outline)}" fill="{_MASK}"/>',
            *_copper(layout, side),
            *_bare(layout, side),
            *_silk(layout, side),
            *_holes(layout),
            "</g>",
            f'<path d="{_ring(layout.outline)}" fill="none" stroke="{_TENTED}" stroke-width="0.1"/>',
            "</g>",
            "</svg>\n",
        )
    )


def _copper(layout: Layout, side: Layer) -> Iterator[str]:
    for area in layout.areas:
        if area.layer == side:
            rings = "".join(_ring(ring) for ring in (area.outer, *area.holes))
            yield f'<path d="{rings}" fill="{_COPPER}" fill-rule="evenodd"/>'
    tracks = ((t.width_um, ((t.x1_um, t.y1_um), (t.x2_um, t.y2_um))) for t in layout.tracks if t.layer == side)
    yield from _lines(tracks, _COPPER)
    for via in layout.vias:
        yield _disc((via.x_um, via.y_um), via.size_um, _COPPER)
        yield _disc((via.x_um, via.y_um), via.drill_um, _TENTED)


def _bare(layout: Layout, side: Layer) -> Iterator[str]:
    """What the mask leaves open: laminate round about, then the metal."""
    more = layout.rules.mask_um
    for left, top, right, bottom in finger_rooms(layout, side):
        yield f'<path d="{_ring(((left, top), (right, top), (right, bottom), (left, bottom)))}" fill="{_BOARD}"/>'
    pads = [pad for pad in layout.pads if side in pad.layers]
    yield from (_pad(pad, more, _BOARD) for pad in pads if not pad.finger)
    yield from (_pad(pad, 0, _GOLD if pad.finger else _TIN) for pad in pads)


def _silk(layout: Layout, side: Layer) -> Iterator[str]:
    drawn = [(s.width_um, s.points) for s in layout.strokes if s.layer == side]
    drawn += [(pen_um(t.height_um), points) for t in layout.texts if t.layer == side for points in strokes(t)]
    yield from _lines(drawn, _SILK)


def _holes(layout: Layout) -> Iterator[str]:
    yield from (_disc((pad.x_um, pad.y_um), pad.drill_um, _AIR) for pad in layout.pads if pad.drill_um)
    yield from (_disc((hole.x_um, hole.y_um), hole.drill_um, _AIR) for hole in layout.holes)


def _pad(pad: Pad, more_um: int, colour: str) -> str:
    """A pad, larger by `more_um` all round."""
    width, height = pad.width_um + 2 * more_um, pad.height_um + 2 * more_um
    if pad.shape != "rect" and width == height:
        return _disc((pad.x_um, pad.y_um), width, colour)
    corner = "" if pad.shape == "rect" else f' rx="{_mm(min(width, height) / 2)}"'
    return (
        f'<rect x="{_mm(pad.x_um - width / 2)}" y="{_mm(pad.y_um - height / 2)}" width="{_mm(width)}" '
        f'height="{_mm(height)}"{corner} fill="{colour}"/>'
    )


def _disc(middle: Point, diameter_um: int, colour: str) -> str:
    return f'<circle cx="{_mm(middle[0])}" cy="{_mm(middle[1])}" r="{_mm(diameter_um / 2)}" fill="{colour}"/>'


def _lines(lines: Iterable[tuple[int, Sequence[Point]]], colour: str) -> Iterator[str]:
    """Lines by their width, those of one width as one element; a line of one point is a dot."""
    by_width: dict[int, list[str]] = {}
    for width, points in lines:
        by_width.setdefault(width, []).append(_run(points if len(points) > 1 else (points[0], points[0])))
    for width, runs in sorted(by_width.items()):
        yield f'<path d="{"".join(runs)}" fill="none" stroke="{colour}" stroke-width="{_mm(width)}"/>'


def _ring(ring: Ring) -> str:
    return f"{_run(ring)}Z"


def _run(points: Sequence[Point]) -> str:
    return "M" + "L".join(f"{_mm(x)} {_mm(y)}" for x, y in points)


def _mm(um: float) -> str:
    """A length in mm without needless digits."""
    return f"{um / 1000:g}"
