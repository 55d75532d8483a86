"""The return as filled areas: the free copper of both layers, with spokes at the pads and vias that stitch both."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import shapely
from msgspec import Struct
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box

from .layout import LAYERS, Area, Hole, Layer, Pad, Ring, Rules, Track, Via
from .shapes import copper

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

#: Spokes that join a soldered pad to an area, so that it can be heated: width in µm. Common practice, no source.
SPOKE_UM = 500
#: Copper narrower than this is taken away, in µm: etching leaves no slivers.
LEAST_UM = 250
#: Stitching vias are so far apart, in µm. Common practice, no source; a tenth of a wave at 300 MHz in FR-4 is 50 mm.
STITCH_UM = 7620
#: Corners are rounded with so many pieces a quarter.
_ROUND = 4
#: What rounding may cost: everything keeps so much more away, in µm.
_SLACK_UM = 25


class Filled(Struct, frozen=True):
    """The areas of both layers and the vias that stitch them."""

    areas: tuple[Area, ...]
    vias: tuple[Via, ...]


def filled(
    net: str,
    outline: Ring,
    pads: Sequence[Pad],
    tracks: Sequence[Track],
    vias: Sequence[Via],
    rules: Rules,
    keepout: Iterable[Ring] = (),
    bare: Iterable[Hole] = (),
) -> Filled:
    """Fill what is free with copper of `net`. Areas that no pad, track or via of the net reaches are left out.

    `keepout`: where no area may be, such as between fingers; `bare`: holes without copper.
    """
    room = Polygon(outline).buffer(-rules.edge_um - _SLACK_UM, join_style="mitre")
    for ring in keepout:
        room = room.difference(Polygon(ring))
    for hole in bare:
        room = room.difference(Point(hole.x_um, hole.y_um).buffer(hole.drill_um / 2 + rules.edge_um + _SLACK_UM))
    free = {layer: _free(net, layer, room, pads, tracks, vias, rules) for layer in LAYERS}
    stitches = _stitches(net, free, pads, vias, rules)
    kept, used = _reached(net, free, pads, tracks, vias, stitches)
    areas = [
        Area(net, layer, _ring(polygon.exterior.coords), tuple(_ring(i.coords) for i in polygon.interiors))
        for layer in LAYERS
        for polygon in kept[layer]
    ]
    areas.sort(key=lambda area: (LAYERS.index(area.layer), min(area.outer)))
    return Filled(tuple(areas), tuple(used))


def _reached(
    net: str,
    free: dict[Layer, list[Polygon]],
    pads: Sequence[Pad],
    tracks: Sequence[Track],
    vias: Sequence[Via],
    stitches: Sequence[Via],
) -> tuple[dict[Layer, list[Polygon]], list[Via]]:
    """The areas that hang on the net's own copper, be it through stitching vias and areas of the other layer."""
    waiting: dict[Layer, list[Polygon]] = {layer: list(free[layer]) for layer in LAYERS}
    kept: dict[Layer, list[Polygon]] = {layer: [] for layer in LAYERS}
    left: list[Via] = list(stitches)
    used: list[Via] = []
    for layer in LAYERS:
        own = [copper(p) for p in pads if p.net == net and layer in p.layers]
        own += [copper(t) for t in tracks if t.net == net and t.layer == layer]
        own += [copper(v) for v in vias if v.net == net]
        tree = shapely.STRtree(own)
        touched = [bool(own) and len(tree.query(each, predicate="intersects")) > 0 for each in waiting[layer]]
        kept[layer] = [each for each, yes in zip(waiting[layer], touched, strict=True) if yes]
        waiting[layer] = [each for each, yes in zip(waiting[layer], touched, strict=True) if not yes]
    while True:
        spots = {via: Point(via.x_um, via.y_um) for via in left}
        found = [via for via in left if any(each.contains(spots[via]) for layer in LAYERS for each in kept[layer])]
        if not found:
            return kept, sorted(used, key=lambda via: (via.x_um, via.y_um))
        used += found
        left = [via for via in left if via not in found]
        for layer in LAYERS:
            joined = [each for each in waiting[layer] if any(each.contains(spots[via]) for via in found)]
            kept[layer] += joined
            waiting[layer] = [each for each in waiting[layer] if not any(each is other for other in joined)]


def _free(
    net: str,
    layer: Layer,
    room: BaseGeometry,
    pads: Sequence[Pad],
    tracks: Sequence[Track],
    vias: Sequence[Via],
    rules: Rules,
) -> list[Polygon]:
    """The polygons that are free on a layer, pads of the net joined by spokes."""
    away = rules.gap_um + _SLACK_UM
    others: list[Any] = []
    cuts: list[Any] = []
    spokes: list[Any] = []
    for pad in pads:
        if layer not in pad.layers:
            continue
        shape = copper(pad)
        if pad.net != net or pad.finger:
            others.append(shape.buffer(away, quad_segs=_ROUND))
        else:
            cuts.append(shape.buffer(away, quad_segs=_ROUND))
            spokes += [shape, *_spokes(pad, away)]
    others += [copper(t).buffer(away, quad_segs=_ROUND) for t in tracks if t.net != net and t.layer == layer]
    others += [Point(v.x_um, v.y_um).buffer(v.size_um / 2 + away, quad_segs=_ROUND) for v in vias if v.net != net]
    taken = shapely.union_all(others)
    allowed = room.difference(taken)
    space = _opened(allowed, LEAST_UM / 2)
    if cuts:
        around = shapely.union_all(cuts)
        joined = shapely.union_all(spokes).intersection(space)
        space = space.difference(around).union(joined)
    # Opening once more takes away what the spokes left; grid of 1 µm, so that nothing moves when it is written.
    space = _opened(space, LEAST_UM / 2 - 1)
    space = shapely.set_precision(space.intersection(allowed).simplify(2), 1)
    return _parted(_pieces(space), rules)


def _opened(shape: BaseGeometry, by_um: float) -> BaseGeometry:
    """Without what is narrower than twice that."""
    return shape.buffer(-by_um, quad_segs=_ROUND).buffer(by_um, quad_segs=_ROUND)


def _pieces(shape: BaseGeometry) -> list[Polygon]:
    """The areas in it that are worth etching."""
    found = getattr(shape, "geoms", [shape])
    return [each for each in found if isinstance(each, Polygon) and each.area > LEAST_UM * LEAST_UM * 4]


def _parted(polygons: Sequence[Polygon], rules: Rules) -> list[Polygon]:
    """The areas with the usual gap between them too: a fab's check asks for it, whatever the net."""
    away = rules.gap_um + _SLACK_UM
    out: list[Polygon] = []
    for polygon in sorted(polygons, key=lambda p: (-p.area, p.bounds)):
        near = [other for other in out if other.distance(polygon) < rules.gap_um]
        left: Any = polygon
        if near:
            left = polygon.difference(shapely.union_all(near).buffer(away, quad_segs=_ROUND))
            left = _opened(left, LEAST_UM / 2)
            left = shapely.set_precision(left.intersection(polygon), 1)
        out += _pieces(left)
    return out


def _spokes(pad: Pad, away: int) -> list[BaseGeometry]:
    """Four bars across a pad, to beyond the gap round it."""
    across = max(pad.width_um, pad.height_um) / 2 + away + LEAST_UM
    bar = box(-across, -SPOKE_UM / 2, across, SPOKE_UM / 2)
    return [affinity.translate(affinity.rotate(bar, angle, origin=(0, 0)), pad.x_um, pad.y_um) for angle in (0, 90)]


def _stitches(
    net: str, free: dict[Layer, list[Polygon]], pads: Sequence[Pad], vias: Sequence[Via], rules: Rules
) -> list[Via]:
    """Vias of the net on a grid, where both layers have room for one, and one for each area that would be alone."""
    both = shapely.union_all(free["front"]).intersection(shapely.union_all(free["back"]))
    inside = both.buffer(-rules.via_um / 2 - LEAST_UM / 2)
    holes = [(v.x_um, v.y_um, v.drill_um) for v in vias] + [(p.x_um, p.y_um, p.drill_um) for p in pads if p.drill_um]
    keep = (
        shapely.union_all([Point(x, y).buffer(d / 2 + rules.via_drill_um / 2 + 500) for x, y, d in holes])
        if holes
        else None
    )
    if keep is not None:
        inside = inside.difference(keep)
    if inside.is_empty:
        return []
    out: list[tuple[int, int]] = []
    left, top, right, bottom = inside.bounds
    shapely.prepare(inside)
    for x in range(int(left // STITCH_UM) * STITCH_UM, int(right) + 1, STITCH_UM):
        for y in range(int(top // STITCH_UM) * STITCH_UM, int(bottom) + 1, STITCH_UM):
            if inside.contains(Point(x, y)):
                out.append((x, y))
    for piece in inside.geoms if isinstance(inside, MultiPolygon) else [inside]:
        if isinstance(piece, Polygon) and not any(piece.contains(Point(p)) for p in out):
            spot = piece.representative_point()
            at = round(spot.x), round(spot.y)
            apart = all((at[0] - x) ** 2 + (at[1] - y) ** 2 > (rules.via_um + 500) ** 2 for x, y in out)
            if apart and inside.contains(Point(at)):
                out.append(at)
    return [Via(net, x, y, rules.via_um, rules.via_drill_um) for x, y in sorted(out)]


def _ring(coords: Iterable[Sequence[float]]) -> Ring:
    points = [(round(c[0]), round(c[1])) for c in coords]
    return tuple(points[:-1]) if points[0] == points[-1] else tuple(points)
