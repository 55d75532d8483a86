"""Copper as geometry: the shape of a pad, track, via or area, and the layers that it is on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shapely import LineString, Point, Polygon, box

from .layout import LAYERS, Area, Layer, Pad, Track, Via

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Copper = Pad | Track | Via | Area
#: A round end is drawn with so many pieces a quarter.
_ROUND = 16


def layers(thing: Copper) -> tuple[Layer, ...]:
    """The layers that something is on."""
    if isinstance(thing, Pad):
        return thing.layers
    return LAYERS if isinstance(thing, Via) else (thing.layer,)


def core(thing: Copper) -> tuple[BaseGeometry, float]:
    """The shape from which all copper of something is no further than the second figure, in µm."""
    if isinstance(thing, Track):
        return LineString([(thing.x1_um, thing.y1_um), (thing.x2_um, thing.y2_um)]), thing.width_um / 2
    if isinstance(thing, Via):
        return Point(thing.x_um, thing.y_um), thing.size_um / 2
    if isinstance(thing, Area):
        return Polygon(thing.outer, thing.holes), 0
    x, y, across, down = thing.x_um, thing.y_um, thing.width_um / 2, thing.height_um / 2
    if thing.shape == "rect":
        return box(x - across, y - down, x + across, y + down), 0
    radius = min(across, down)
    if across == down:
        return Point(x, y), radius
    ends = [(x - across + radius, y - down + radius), (x + across - radius, y + down - radius)]
    return LineString(ends), radius


def copper(thing: Copper) -> BaseGeometry:
    """The copper of something as an area."""
    shape, radius = core(thing)
    return shape.buffer(radius, quad_segs=_ROUND) if radius else shape
