"""A board as what lies where: pads, tracks, vias, areas, silk, outline.

Lengths in whole µm, y downwards, everything seen from the front.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Literal

from msgspec import Struct

from ..model import Group

Layer = Literal["front", "back"]
LAYERS: tuple[Layer, ...] = ("front", "back")
Shape = Literal["round", "rect", "oval"]
Point = tuple[int, int]
Ring = tuple[Point, ...]  # closed: the first point does not stand again at the end


class Pad(Struct, frozen=True):
    """A pad of a part. `width_um` is along x, `height_um` along y, as it lies on the board.

    A plated hole (`drill_um` > 0) has the pad on both layers; without a drill it lies on `layer` alone. `net` is the
    name of the net of the plan, "" for a pad that nothing is joined to. `finger`: an edge contact, gold, free of mask.
    `function` is the contact's label or what the pin is.
    """

    ref: str
    number: str
    net: str
    x_um: int
    y_um: int
    width_um: int
    height_um: int
    shape: Shape = "round"
    drill_um: int = 0
    layer: Layer = "front"
    finger: bool = False
    function: str = ""

    @property
    def layers(self) -> tuple[Layer, ...]:
        """The layers of copper that it is on."""
        return LAYERS if self.drill_um else (self.layer,)


class Track(Struct, frozen=True):
    """A straight piece of copper with round ends."""

    net: str
    layer: Layer
    x1_um: int
    y1_um: int
    x2_um: int
    y2_um: int
    width_um: int


class Via(Struct, frozen=True):
    """A plated hole that joins both layers."""

    net: str
    x_um: int
    y_um: int
    size_um: int
    drill_um: int


class Area(Struct, frozen=True):
    """Filled copper of one net: `outer` with `holes` cut out."""

    net: str
    layer: Layer
    outer: Ring
    holes: tuple[Ring, ...] = ()


class Hole(Struct, frozen=True):
    """A hole without copper."""

    x_um: int
    y_um: int
    drill_um: int


class Stroke(Struct, frozen=True):
    """A line of the silk: points joined by straight pieces. `part`: the reference of the part that it belongs to."""

    layer: Layer
    points: tuple[Point, ...]
    width_um: int = 150
    part: str = ""


class Text(Struct, frozen=True):
    """A text of the silk, its middle at the point; on the back it is read from the back.

    `angle` turns it against the clock, in degrees.
    """

    layer: Layer
    text: str
    x_um: int
    y_um: int
    height_um: int = 1000
    angle: int = 0
    part: str = ""


class Placed(Struct, frozen=True):
    """A part on the board. `side` is the one it is mounted on; `angle` how it is turned, against the clock, 0 to 270.

    `x_um`, `y_um`: the middle of its pads. `box` is the room that it takes: left, top, right, bottom.
    """

    ref: str
    value: str
    footprint: str
    side: Layer
    x_um: int
    y_um: int
    angle: int
    box: tuple[int, int, int, int]
    purpose: str = ""
    connector: bool = False


class Rules(Struct, frozen=True):
    """What the fab makes. `supply_um` is the width of each supply's and return's tracks, from what flows in it."""

    track_um: int = 250
    gap_um: int = 250
    via_um: int = 600
    via_drill_um: int = 300
    edge_um: int = 500
    copper_um: int = 35
    thickness_um: int = 1600
    mask_um: int = 50
    supply_um: Mapping[str, int] = {}

    def width_um(self, net: str) -> int:
        """How wide the tracks of a net are."""
        return self.supply_um.get(net, self.track_um)


class Layout(Struct, frozen=True, dict=True):
    """A finished board. `groups` gives the group of each net, in the plan's order; `title` and `notes` are for people.

    `outline` runs round the board; `bevel` is the edge (two points) that is bevelled for fingers, None without.
    """

    title: str
    groups: Mapping[str, Group]
    rules: Rules
    outline: Ring
    parts: tuple[Placed, ...]
    pads: tuple[Pad, ...]
    tracks: tuple[Track, ...]
    vias: tuple[Via, ...]
    areas: tuple[Area, ...]
    holes: tuple[Hole, ...]
    strokes: tuple[Stroke, ...]
    texts: tuple[Text, ...]
    bevel: tuple[Point, Point] | None = None
    notes: tuple[str, ...] = ()

    @cached_property
    def nets(self) -> tuple[str, ...]:
        """The names of all nets that copper has, in the plan's order."""
        used = {pad.net for pad in self.pads} | {track.net for track in self.tracks}
        used |= {via.net for via in self.vias} | {area.net for area in self.areas}
        return tuple(net for net in self.groups if net in used)

    @cached_property
    def size_um(self) -> tuple[int, int]:
        """Width and height of the board."""
        xs, ys = [x for x, _ in self.outline], [y for _, y in self.outline]
        return max(xs) - min(xs), max(ys) - min(ys)
