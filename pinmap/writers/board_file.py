"""A board as a file that board editors open: footprints, tracks, vias, zones as filled, silk, outline.

What this knows of the file format (.kicad_pcb, version 20240108) is from memory; no source. Numbers are in mm, x to the
right, y downwards, angles against the clock as seen from the front. Where it is easily got wrong:

* A pad's place is in the frame of its footprint, its angle and that of a footprint's text are those on the board.
* A footprint on the back is not mirrored when it is read: its pads stand in the file as they lie on the board.
* The filling of a zone has no holes: they are cut into its outline (`keyholed`).

The board lies where the layout has it, and the origin for fabrication is the lower left corner of its outline.
"""

from __future__ import annotations

import uuid
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from ..board.layout import LAYERS, Area, Layer, Layout, Pad, Placed, Point, Ring, Stroke, Text
from ..board.lettering import pen_um
from ..text import visible
from .fab_gerber import finger_rooms

_VERSION = 20240108
_SIDE: dict[Layer, str] = {"front": "F", "back": "B"}
_SHAPES = {"round": "circle", "rect": "rect", "oval": "oval"}
_LAYERS = (
    (0, "F.Cu", "signal", ""),
    (31, "B.Cu", "signal", ""),
    (34, "B.Paste", "user", ""),
    (35, "F.Paste", "user", ""),
    (36, "B.SilkS", "user", "B.Silkscreen"),
    (37, "F.SilkS", "user", "F.Silkscreen"),
    (38, "B.Mask", "user", ""),
    (39, "F.Mask", "user", ""),
    (40, "Dwgs.User", "user", "User.Drawings"),
    (41, "Cmts.User", "user", "User.Comments"),
    (44, "Edge.Cuts", "user", ""),
    (45, "Margin", "user", ""),
    (46, "B.CrtYd", "user", "B.Courtyard"),
    (47, "F.CrtYd", "user", "F.Courtyard"),
    (48, "B.Fab", "user", ""),
    (49, "F.Fab", "user", ""),
)
_COMMENTS = 9  # so many lines has the title block
_EDGE_UM = 50  # the pen that draws the outline
#: For a zone filled again in an editor: common practice, no source.
_THERMAL_UM = 500
_IDENTITY = uuid.UUID("5f5b4a0c-6c3e-5b1f-8d4e-2f8a0c1b7d93")


def text(layout: Layout) -> str:
    """Return the board as the text of an `adapter.kicad_pcb`; the same layout gives the same text."""
    return "\n".join(_Writer(layout).lines()) + "\n"


class _Writer:
    def __init__(self, layout: Layout):
        self.layout = layout
        self.numbers = {name: number for number, name in enumerate(layout.nets, 1)}
        self._given: defaultdict[str, int] = defaultdict(int)
        known = {part.ref for part in layout.parts}
        self._pads: defaultdict[str, list[Pad]] = defaultdict(list)
        self._strokes: defaultdict[str, list[Stroke]] = defaultdict(list)
        self._texts: defaultdict[str, list[Text]] = defaultdict(list)
        for pad in layout.pads:
            self._pads[pad.ref].append(pad)
        for stroke in layout.strokes:
            self._strokes[stroke.part if stroke.part in known else ""].append(stroke)
        for each in layout.texts:
            self._texts[each.part if each.part in known else ""].append(each)
        homeless = sorted(set(self._pads) - known)
        if homeless:
            raise ValueError(f"every pad must belong to a part of the layout, not to {homeless[0]}")

    def lines(self) -> Iterator[str]:
        yield f"(kicad_pcb (version {_VERSION}) (generator {_quoted('pinmap')})"
        yield from self._head()
        yield '  (net 0 "")'
        for name, number in self.numbers.items():
            yield f"  (net {number} {_quoted(name)})"
        for part in self.layout.parts:
            yield from self._footprint(part)
        yield from self._holes()
        yield from self._drawn()
        yield from self._copper()
        for area in self.layout.areas:
            yield from self._zone(area)
        yield ")"

    # --- the head of the file ---------------------------------------------------------------

    def _head(self) -> Iterator[str]:
        layout, rules = self.layout, self.layout.rules
        yield f"  (general (thickness {_mm(rules.thickness_um)}) (legacy_teardrops no))"
        width, height = layout.size_um
        yield f"  (paper {_quoted('A4' if width <= 280_000 and height <= 190_000 else 'A2')})"
        yield "  (title_block"
        yield f"    (title {_quoted(layout.title)})"
        for number, note in enumerate(layout.notes[:_COMMENTS], 1):
            yield f"    (comment {number} {_quoted(note)})"
        yield "  )"
        yield "  (layers"
        for number, name, kind, called in _LAYERS:
            yield f"    ({number} {_quoted(name)} {kind}{' ' + _quoted(called) if called else ''})"
        yield "  )"
        yield "  (setup"
        yield from self._stackup()
        yield f"    (pad_to_mask_clearance {_mm(rules.mask_um)})"
        yield "    (allow_soldermask_bridges_in_footprints no)"
        left, bottom = min(x for x, _ in layout.outline), max(y for _, y in layout.outline)
        yield f"    (aux_axis_origin {_xy((left, bottom))})"
        yield "  )"

    def _stackup(self) -> Iterator[str]:
        copper = self.layout.rules.copper_um
        core = self.layout.rules.thickness_um - 2 * copper
        yield "    (stackup"
        yield '      (layer "F.SilkS" (type "Top Silk Screen"))'
        yield '      (layer "F.Paste" (type "Top Solder Paste"))'
        yield '      (layer "F.Mask" (type "Top Solder Mask"))'
        yield f'      (layer "F.Cu" (type "copper") (thickness {_mm(copper)}))'
        yield f'      (layer "dielectric 1" (type "core") (thickness {_mm(core)}) (material "FR4"))'
        yield f'      (layer "B.Cu" (type "copper") (thickness {_mm(copper)}))'
        yield '      (layer "B.Mask" (type "Bottom Solder Mask"))'
        yield '      (layer "B.Paste" (type "Bottom Solder Paste"))'
        yield '      (layer "B.SilkS" (type "Bottom Silk Screen"))'
        yield "      (dielectric_constraints no)"
        if self.layout.bevel:
            yield "      (edge_connector bevelled)"
        yield "    )"

    # --- footprints -------------------------------------------------------------------------

    def _footprint(self, part: Placed) -> Iterator[str]:
        pads = self._pads[part.ref]
        side = _SIDE[part.side]
        name = part.footprint if ":" in part.footprint else f"pinmap:{part.footprint or part.ref}"
        yield f"  (footprint {_quoted(name)} (layer {_quoted(f'{side}.Cu')})"
        yield f"    {self._id('part', part.ref)} (at {_xy((part.x_um, part.y_um))} {part.angle % 360})"
        if part.purpose:
            yield f"    (descr {_quoted(part.purpose)})"
        texts = list(self._texts[part.ref])
        for key, value in (("Reference", part.ref), ("Value", part.value)):
            shown = next((each for each in texts if each.text == value), None)
            if shown is not None:
                texts.remove(shown)
            yield from self._property(part, key, value, shown)
        yield f"    (attr {'through_hole' if any(pad.drill_um for pad in pads) else 'smd'})"
        for stroke in self._strokes[part.ref]:
            for start, end in _pieces(stroke):
                yield (
                    f"    (fp_line (start {_xy(_inside(part, start))}) (end {_xy(_inside(part, end))})"
                    f" {_pen(stroke.width_um)} (layer {_silk(stroke.layer)}) {self._id('stroke', part.ref)})"
                )
        for each in texts:
            yield f"    (fp_text user {_quoted(each.text)} {self._at(part, each)} (unlocked yes)"
            yield f"      (layer {_silk(each.layer)}) {self._id('text', part.ref)} {_effects(each)})"
        for pad in pads:
            yield from self._pad(part, pad)
        yield "  )"

    def _property(self, part: Placed, key: str, value: str, shown: Text | None) -> Iterator[str]:
        where = self._at(part, shown) if shown else f"(at 0 0 {part.angle % 360})"
        layer = _silk(shown.layer) if shown else _quoted(f"{_SIDE[part.side]}.Fab")
        hidden = "" if shown else " (hide yes)"
        effects = _effects(shown or Text(part.side, value, 0, 0))
        yield f"    (property {_quoted(key)} {_quoted(value)} {where} (unlocked yes)"
        yield f"      (layer {layer}){hidden} {self._id(key, part.ref)} {effects})"

    def _at(self, part: Placed, each: Text) -> str:
        return f"(at {_xy(_inside(part, (each.x_um, each.y_um)))} {each.angle % 360})"

    def _pad(self, part: Placed, pad: Pad) -> Iterator[str]:
        size = (pad.width_um, pad.height_um) if part.angle % 180 == 0 else (pad.height_um, pad.width_um)
        side = _SIDE[pad.layer]
        if pad.drill_um:
            kind, drill, layers = "thru_hole", f" (drill {_mm(pad.drill_um)})", '"*.Cu" "*.Mask"'
        elif pad.finger:
            kind, drill, layers = "connect", "", f'"{side}.Cu" "{side}.Mask"'
        else:
            kind, drill, layers = "smd", "", f'"{side}.Cu" "{side}.Paste" "{side}.Mask"'
        at = _inside(part, (pad.x_um, pad.y_um))
        yield (
            f"    (pad {_quoted(pad.number)} {kind} {_SHAPES[pad.shape]} (at {_xy(at)} {part.angle % 360})"
            f" (size {_xy(size)}){drill} (layers {layers})"
        )
        net = f"(net {self.numbers[pad.net]} {_quoted(pad.net)}) " if pad.net else ""
        function = f"(pinfunction {_quoted(pad.function)}) " if pad.function else ""
        yield f'      {net}{function}(pintype "passive") {self._id("pad", pad.ref, pad.number)})'

    def _holes(self) -> Iterator[str]:
        """Holes without copper, each a footprint that no schematic knows."""
        for hole in self.layout.holes:
            size = _mm(hole.drill_um)
            yield f'  (footprint {_quoted(f"pinmap:hole {size} mm")} (layer "F.Cu")'
            yield f"    {self._id('hole')} (at {_xy((hole.x_um, hole.y_um))})"
            for key in ("Reference", "Value"):
                yield f'    (property "{key}" "" (at 0 0 0) (layer "F.Fab") (hide yes) {self._id("hole", key)})'
            yield "    (attr board_only exclude_from_pos_files exclude_from_bom)"
            yield f'    (pad "" np_thru_hole circle (at 0 0) (size {size} {size}) (drill {size})'
            yield f'      (layers "*.Cu" "*.Mask") {self._id("hole", "pad")})'
            yield "  )"

    # --- what belongs to no part ------------------------------------------------------------

    def _drawn(self) -> Iterator[str]:
        for start, end in _edges(self.layout.outline):
            yield (
                f"  (gr_line (start {_xy(start)}) (end {_xy(end)}) {_pen(_EDGE_UM)}"
                f' (layer "Edge.Cuts") {self._id("edge")})'
            )
        for stroke in self._strokes[""]:
            for start, end in _pieces(stroke):
                yield (
                    f"  (gr_line (start {_xy(start)}) (end {_xy(end)}) {_pen(stroke.width_um)}"
                    f" (layer {_silk(stroke.layer)}) {self._id('stroke')})"
                )
        for layer in LAYERS:
            for left, top, right, bottom in finger_rooms(self.layout, layer):
                corners = ((left, top), (right, top), (right, bottom), (left, bottom))
                yield f"  (gr_poly (pts {_points(corners)}) (stroke (width 0) (type solid)) (fill solid)"
                yield f"    (layer {_quoted(f'{_SIDE[layer]}.Mask')}) {self._id('fingers')})"
        for each in self._texts[""]:
            yield f"  (gr_text {_quoted(each.text)} (at {_xy((each.x_um, each.y_um))} {each.angle % 360})"
            yield f"    (layer {_silk(each.layer)}) {self._id('text')} {_effects(each)})"

    def _copper(self) -> Iterator[str]:
        for track in self.layout.tracks:
            yield (
                f"  (segment (start {_xy((track.x1_um, track.y1_um))}) (end {_xy((track.x2_um, track.y2_um))})"
                f" (width {_mm(track.width_um)}) (layer {_copper(track.layer)}) (net {self.numbers[track.net]})"
                f" {self._id('track')})"
            )
        for via in self.layout.vias:
            yield (
                f"  (via (at {_xy((via.x_um, via.y_um))}) (size {_mm(via.size_um)}) (drill {_mm(via.drill_um)})"
                f' (layers "F.Cu" "B.Cu") (net {self.numbers[via.net]}) {self._id("via")})'
            )

    def _zone(self, area: Area) -> Iterator[str]:
        rules = self.layout.rules
        yield (
            f"  (zone (net {self.numbers[area.net]}) (net_name {_quoted(area.net)}) (layer {_copper(area.layer)})"
            f" {self._id('zone')} (hatch edge 0.5)"
        )
        yield f"    (connect_pads (clearance {_mm(rules.gap_um)})) (min_thickness {_mm(rules.track_um)})"
        thermal = _mm(_THERMAL_UM)
        yield "    (filled_areas_thickness no)"
        yield f"    (fill yes (thermal_gap {thermal}) (thermal_bridge_width {thermal}))"
        yield f"    (polygon (pts {_points(area.outer)}))"
        yield f"    (filled_polygon (layer {_copper(area.layer)}) (pts {_points(keyholed(area.outer, area.holes))}))"
        yield "  )"

    def _id(self, *what: str) -> str:
        """An identity that comes from what a thing is, and where several are alike, from which of them."""
        key = "\n".join(what)
        self._given[key] += 1
        return f'(uuid "{uuid.uuid5(_IDENTITY, f"{key} {self._given[key]}")}")'


# --- holes in an area -----------------------------------------------------------------------

_Spot = tuple[float, float]


def keyholed(outer: Ring, holes: Sequence[Ring]) -> tuple[_Spot, ...]:
    """Return one ring that goes round `outer` and, by cuts without width, round its `holes`; in µm.

    From the leftmost point of each hole the cut goes straight to the left, to the first ring that it meets. That ring
    reaches further to the left, so that all cuts together lead to the outer ring. Holes go round the other way.
    """
    rings = [_turning(outer, True), *(_turning(hole, False) for hole in sorted(holes, key=min))]
    levels = sorted((ring[0][1], hole) for hole, ring in enumerate(rings) if hole)
    heights = [y for y, _ in levels]
    best: dict[int, tuple[float, int, int]] = {}  # for each hole where its cut ends: x, the ring, the edge of the ring
    for number, ring in enumerate(rings):
        for edge, ((x1, y1), (x2, y2)) in enumerate(_edges(ring)):
            if y1 == y2:
                continue  # what ends at it ends at a corner, which the edges beside it have as well
            low, high = (y1, y2) if y1 < y2 else (y2, y1)
            for y, hole in levels[bisect_left(heights, low) : bisect_right(heights, high)]:
                x = x1 + (x2 - x1) * (y - y1) / (y2 - y1)
                # Of rings that touch only the one that begins further left can lead on: hence their order.
                if number < hole and x <= rings[hole][0][0] and (hole not in best or x > best[hole][0]):
                    best[hole] = x, number, edge
    cuts: defaultdict[int, list[tuple[int, int, _Spot, int]]] = defaultdict(list)
    for hole, (x, number, edge) in best.items():
        y = rings[hole][0][1]
        cuts[number].append((edge, abs(y - rings[number][edge][1]), (x, y), hole))

    def along(number: int) -> Iterator[tuple[_Spot, ...] | int]:
        """The points of a ring, in pieces; where a cut begins, the ring behind it between."""
        ring, done = rings[number], 0
        for edge, _, where, hole in sorted(cuts[number]):
            yield (*ring[done : edge + 1], where)
            yield hole
            yield (where,)
            done = edge + 1
        yield (*ring[done:], *ring[: number > 0])

    out: list[_Spot] = []
    waiting = [along(0)]
    while waiting:
        step = next(waiting[-1], None)
        if step is None:
            waiting.pop()
        elif isinstance(step, int):
            waiting.append(along(step))
        else:
            out += step
    return tuple(point for point, last in zip(out, [None, *out], strict=False) if point != last)


def _turning(ring: Ring, one_way: bool) -> Ring:
    """The ring in one of both directions, from its leftmost point on."""
    area = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in _edges(ring))
    if (area > 0) != one_way:
        ring = ring[::-1]
    start = ring.index(min(ring))
    return ring[start:] + ring[:start]


def _edges(ring: Ring) -> Iterable[tuple[Point, Point]]:
    return zip(ring, (*ring[1:], ring[0]), strict=True)


# --- how it is written ----------------------------------------------------------------------


def _inside(part: Placed, point: Point) -> Point:
    """A point of the board in the frame of a part: turned back, with the clock."""
    x, y = point[0] - part.x_um, point[1] - part.y_um
    cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[part.angle // 90 % 4]
    return x * cos - y * sin, x * sin + y * cos


def _pieces(stroke: Stroke) -> Iterable[tuple[Point, Point]]:
    """The straight pieces of a stroke; a single point is a dot."""
    points = stroke.points if len(stroke.points) > 1 else stroke.points * 2
    return pairwise(points)


def _effects(each: Text) -> str:
    size = _mm(each.height_um)
    mirror = " (justify mirror)" if each.layer == "back" else ""
    return f"(effects (font (size {size} {size}) (thickness {_mm(pen_um(each.height_um))})){mirror})"


def _pen(width_um: int) -> str:
    return f"(stroke (width {_mm(width_um)}) (type solid))"


def _silk(layer: Layer) -> str:
    return f'"{_SIDE[layer]}.SilkS"'


def _copper(layer: Layer) -> str:
    return f'"{_SIDE[layer]}.Cu"'


def _points(ring: Iterable[_Spot]) -> str:
    return " ".join(f"(xy {_xy(point)})" for point in ring)


def _xy(point: _Spot) -> str:
    return f"{_mm(point[0])} {_mm(point[1])}"


def _mm(um: float) -> str:
    """A length in mm, to the nm: that is what the format counts in."""
    if isinstance(um, int):
        return f"{um / 1000:.9g}"  # exact: no whole µm has so many digits
    return f"{round(um / 1000, 6) + 0.0:.6f}".rstrip("0").rstrip(".")  # adding 0 makes 0 of -0


def _quoted(words: str) -> str:
    """A text as the format has it, in one line."""
    return '"' + visible(words).replace("\\", "\\\\").replace('"', '\\"') + '"'
