"""A board as the layers and drill files that a fab makes it from: Gerber X2 and XNC.

Both are written here as text: gerbonara's own writer keeps four digits of an aperture's size and no attribute of an
aperture or object. The attributes' names are those of the Gerber format specification of Ucamco, from memory; gerbonara
and pygerber read them back in the tests.

Areas with holes are drawn dark, and their holes clear, before anything else of the layer: the larger area first, so
that an area which lies inside another's hole comes after it. The other way, one outline that runs into each hole and
back, would need cuts that are level or upright and meet the outline in a corner, which corners off the grid spoil; and
shapely takes such an outline for an invalid polygon. Areas of one layer must not overlap otherwise.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby, pairwise

import msgspec
from msgspec import Struct

from .. import __version__
from ..board.layout import LAYERS, Layer, Layout, Pad, Point, Ring
from ..board.lettering import pen_um, strokes
from ..text import natural

SOFTWARE = ("pinmap", "pinmap", __version__)
#: Gerber and job file name the two sides so (from memory).
SIDES: Mapping[Layer, str] = {"front": "Top", "back": "Bot"}
_OUTLINE_UM = 100  # how wide the pen is that draws the outline; the board ends at its middle
_Attributes = Mapping[str, str]


class Frame(Struct, frozen=True):
    """The axes of what goes to a fab: y upwards, the corner at the lower left of the board at 0, 0."""

    left_um: int
    bottom_um: int

    @classmethod
    def of(cls, layout: Layout) -> Frame:
        """Return the frame of a board."""
        return cls(min(x for x, _ in layout.outline), max(y for _, y in layout.outline))

    def at(self, x_um: int, y_um: int) -> Point:
        """Where a point of the layout is, in µm."""
        return x_um - self.left_um, self.bottom_um - y_um


class FabLayer(Struct, frozen=True):
    """A file of the set: the end of its name, what it is (`function`, as the attribute has it) and what it holds."""

    name: str
    function: str
    polarity: str
    data: bytes


def layers(layout: Layout) -> tuple[FabLayer, ...]:
    """Return the Gerber layers of a board, from the front's silk to the outline; paste only where it is needed."""
    made = []
    for side in LAYERS:
        made += [
            _layer(f"copper-{side}", f"Copper,L{LAYERS.index(side) + 1},{SIDES[side]}", _copper(layout, side)),
            _layer(f"mask-{side}", f"Soldermask,{SIDES[side]}", _mask(layout, side), "Negative"),
            _layer(f"silk-{side}", f"Legend,{SIDES[side]}", _silk(layout, side)),
        ]
        if any(not pad.drill_um and not pad.finger and pad.layer == side for pad in layout.pads):
            made.append(_layer(f"paste-{side}", f"Paste,{SIDES[side]}", _paste(layout, side)))
    return (*made, _layer("outline", "Profile,NP", _outline(layout)))


def drills(layout: Layout) -> tuple[FabLayer, ...]:
    """Return the drill files: the plated holes, and the unplated ones if there are any.

    The word drill is in their names for readers that guess by it. One tool for each diameter; vias and parts' pads of
    the same diameter have a tool each, as its purpose is named.
    """
    frame = Frame.of(layout)
    plated = [("ViaDrill", via.drill_um, frame.at(via.x_um, via.y_um)) for via in layout.vias]
    plated += [("ComponentDrill", p.drill_um, frame.at(p.x_um, p.y_um)) for p in layout.pads if p.drill_um]
    bare = [("MechanicalDrill", hole.drill_um, frame.at(hole.x_um, hole.y_um)) for hole in layout.holes]
    made = [_drill("drill-plated", "Plated,1,2,PTH", "Plated,PTH", plated)]
    if bare:
        made.append(_drill("drill-unplated", "NonPlated,1,2,NPTH", "NonPlated,NPTH", bare))
    return tuple(made)


def project(layout: Layout) -> tuple[str, str, str]:
    """Return name, number and revision of a board; the number follows from all that the layout holds."""
    number = uuid.uuid5(uuid.UUID(int=0), msgspec.json.encode(layout, order="deterministic").hex())
    return layout.title or "board", str(number), "1"


def finger_rooms(layout: Layout, side: Layer) -> tuple[tuple[int, int, int, int], ...]:
    """Return the rooms (left, top, right, bottom) that the fingers of one side take, each without a web of mask.

    A room ends where two neighbours are further apart than twice their width. It reaches to the bevelled edge, and
    over it by what the mask keeps from copper.
    """
    rooms = []
    ordered = sorted((p for p in layout.pads if p.finger and p.layer == side), key=lambda p: (natural(p.ref), p.x_um))
    for _, run in groupby(ordered, key=lambda p: p.ref):
        boxes = [_box(pad, layout.rules.mask_um) for pad in run]
        upright = len({(top, bottom) for _, top, _, bottom in boxes}) > len(
            {(left, right) for left, _, right, _ in boxes}
        )
        along = 1 if upright else 0  # of a box: which of its figures runs along the edge
        boxes.sort(key=lambda box: box[along])
        room = boxes[0]
        for box in boxes[1:]:
            if box[along] - room[along + 2] > 2 * (box[along + 2] - box[along]):
                rooms.append(room)
                room = box
            else:
                room = (min(room[0], box[0]), min(room[1], box[1]), max(room[2], box[2]), max(room[3], box[3]))
        rooms.append(room)
    return tuple(_to_edge(layout, room) for room in rooms)


def _to_edge(layout: Layout, room: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
    if layout.bevel is None:
        return room
    left, top, right, bottom = room
    (x1, y1), (x2, y2) = layout.bevel
    over = layout.rules.mask_um
    if y1 == y2:
        return left, min(top, y1 - over), right, max(bottom, y1 + over)
    if x1 == x2:
        return min(left, x1 - over), top, max(right, x1 + over), bottom
    return room


def _box(pad: Pad, more_um: int) -> tuple[int, int, int, int]:
    across, down = pad.width_um // 2 + more_um, pad.height_um // 2 + more_um
    return pad.x_um - across, pad.y_um - down, pad.x_um + across, pad.y_um + down


# ---------------------------------------------------------------------- what lies on each layer


class _Drawing(Struct):
    """What a Gerber file is made of: statements, with apertures named by what they are until they are numbered."""

    frame: Frame
    body: list[tuple[str, str, _Attributes]]  # aperture, what is done with it, attributes of the object

    def flash(self, aperture: str, x_um: int, y_um: int, attributes: _Attributes) -> None:
        self.body.append((aperture, f"{self._at((x_um, y_um))}D03*", attributes))

    def line(self, aperture: str, points: Sequence[Point], attributes: _Attributes) -> None:
        if len(points) == 1:
            self.flash(aperture, *points[0], attributes)
            return
        self.body.append((aperture, "\n".join(self._path(points)), attributes))

    def region(self, function: str, ring: Ring, attributes: _Attributes, *, clear: bool = False) -> None:
        points = (*ring, ring[0])
        text = "\n".join(("G36*", *self._path(points), "G37*"))
        if clear:
            text = f"%LPC*%\n{text}\n%LPD*%"
        elif function:
            text = f"%TA.AperFunction,{function}*%\n{text}\n%TD.AperFunction*%"
        self.body.append(("", text, attributes))

    def _path(self, points: Sequence[Point]) -> Iterator[str]:
        yield f"{self._at(points[0])}D02*"
        for point in points[1:]:
            yield f"{self._at(point)}D01*"

    def _at(self, point: Point) -> str:
        x, y = self.frame.at(*point)
        return f"X{x * 1000}Y{y * 1000}"


def _copper(layout: Layout, side: Layer) -> _Drawing:
    drawing = _Drawing(Frame.of(layout), [])
    for area in sorted((a for a in layout.areas if a.layer == side), key=lambda a: -_size(a.outer)):
        drawing.region("Conductor", area.outer, _net(area.net))
        for hole in area.holes:
            drawing.region("", hole, {}, clear=True)
    for track in layout.tracks:
        if track.layer == side:
            points = tuple(dict.fromkeys(((track.x1_um, track.y1_um), (track.x2_um, track.y2_um))))
            drawing.line(_round(track.width_um, "Conductor"), points, _net(track.net))
    for via in layout.vias:
        drawing.flash(_round(via.size_um, "ViaPad"), via.x_um, via.y_um, _net(via.net))
    for pad in layout.pads:
        if side in pad.layers:
            function = "ComponentPad" if pad.drill_um else "ConnectorPad" if pad.finger else "SMDPad,CuDef"
            drawing.flash(_aperture(pad, 0, function), pad.x_um, pad.y_um, _pin(pad))
    return drawing


def _mask(layout: Layout, side: Layer) -> _Drawing:
    drawing = _Drawing(Frame.of(layout), [])
    for left, top, right, bottom in finger_rooms(layout, side):
        drawing.region("Material", ((left, top), (right, top), (right, bottom), (left, bottom)), {})
    for pad in layout.pads:
        if side in pad.layers and not pad.finger:
            drawing.flash(_aperture(pad, layout.rules.mask_um, "Material"), pad.x_um, pad.y_um, _part(pad.ref))
    return drawing


def _paste(layout: Layout, side: Layer) -> _Drawing:
    drawing = _Drawing(Frame.of(layout), [])
    for pad in layout.pads:
        if not pad.drill_um and not pad.finger and pad.layer == side:
            drawing.flash(_aperture(pad, 0, "Material"), pad.x_um, pad.y_um, _part(pad.ref))
    return drawing


def _silk(layout: Layout, side: Layer) -> _Drawing:
    drawing = _Drawing(Frame.of(layout), [])
    for stroke in layout.strokes:
        if stroke.layer == side:
            drawing.line(_round(stroke.width_um, "Material"), stroke.points, _part(stroke.part))
    for text in layout.texts:
        if text.layer == side:
            for points in strokes(text):
                drawing.line(_round(pen_um(text.height_um), "Material"), points, _part(text.part))
    return drawing


def _outline(layout: Layout) -> _Drawing:
    drawing = _Drawing(Frame.of(layout), [])
    drawing.line(_round(_OUTLINE_UM, "Profile"), (*layout.outline, layout.outline[0]), {})
    return drawing


def _size(ring: Ring) -> int:
    """Twice the area of a ring, in µm²."""
    return abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise((*ring, ring[0]))))


def _aperture(pad: Pad, more_um: int, function: str) -> str:
    """An aperture of a pad's shape, larger by `more_um` all round: its definition, a space, its function."""
    width, height = pad.width_um + 2 * more_um, pad.height_um + 2 * more_um
    if pad.shape == "rect":
        return f"R,{_mm(width)}X{_mm(height)} {function}"
    if width == height:
        return _round(width, function)
    return f"O,{_mm(width)}X{_mm(height)} {function}"


def _round(diameter_um: int, function: str) -> str:
    return f"C,{_mm(diameter_um)} {function}"


def _mm(um: int) -> str:
    return f"{um // 1000}.{um % 1000:03d}"


def _net(net: str) -> _Attributes:
    return {".N": escaped(net)} if net else {}


def _pin(pad: Pad) -> _Attributes:
    """The net, part and pin of a pad; one that is joined to nothing says so ("N/C")."""
    pin = [pad.ref, pad.number, *([pad.function] if pad.function else [])]
    return {".N": escaped(pad.net) or "N/C", **({".P": ",".join(map(escaped, pin))} if pad.ref else {})}


def _part(ref: str) -> _Attributes:
    return {".C": escaped(ref)} if ref else {}


_ESCAPED = re.compile(r"[^ -~]|[%*,\\]")


def escaped(text: str) -> str:
    r"""Return a text as a field of an attribute: what Gerber uses itself and what is not ASCII as \u and four digits.

    Outside the first 65 536 characters of Unicode, \U and eight (from memory).
    """

    def number(match: re.Match[str]) -> str:
        code = ord(match[0])
        return f"\\u{code:04X}" if code < 0x10000 else f"\\U{code:08X}"

    return _ESCAPED.sub(number, text)


# ---------------------------------------------------------------------- bytes


def _layer(name: str, function: str, drawing: _Drawing, polarity: str = "Positive") -> FabLayer:
    lines = [
        f"%TF.GenerationSoftware,{','.join(SOFTWARE)}*%",
        f"%TF.FileFunction,{function}*%",
        f"%TF.FilePolarity,{polarity}*%",
        "%TF.SameCoordinates,pinmap*%",
        "%TF.Part,Single*%",
        "%FSLAX46Y46*%",
        "%MOMM*%",
        "%LPD*%",
        "G01*",
        *_apertures(drawing),
        *_statements(drawing),
        "M02*",
    ]
    return FabLayer(f"{name}.gbr", function, polarity, "".join(f"{line}\n" for line in lines).encode("ascii"))


def _numbers(drawing: _Drawing) -> dict[str, int]:
    used = dict.fromkeys(aperture for aperture, _, _ in drawing.body if aperture)
    return {aperture: number for number, aperture in enumerate(used, 10)}


def _apertures(drawing: _Drawing) -> Iterator[str]:
    for aperture, number in _numbers(drawing).items():
        definition, function = aperture.split(" ", 1)
        yield f"%TA.AperFunction,{function}*%"
        yield f"%ADD{number}{definition}*%"
        yield "%TD.AperFunction*%"


def _statements(drawing: _Drawing) -> Iterator[str]:
    numbers = _numbers(drawing)
    chosen = ""
    said: _Attributes = {}
    for aperture, statement, attributes in drawing.body:
        for name in said:
            if name not in attributes:
                yield f"%TD{name}*%"
        for name, value in attributes.items():
            if said.get(name) != value:
                yield f"%TO{name},{value}*%"
        said = attributes
        if aperture and aperture != chosen:
            yield f"D{numbers[aperture]}*"
            chosen = aperture
        yield statement


def _drill(name: str, function: str, kind: str, holes: Iterable[tuple[str, int, Point]]) -> FabLayer:
    tools: dict[tuple[int, str], list[Point]] = {}
    for purpose, diameter, point in holes:
        tools.setdefault((diameter, purpose), []).append(point)
    ordered = sorted(tools.items())
    lines = [
        "M48",
        f"; #@! TF.GenerationSoftware,{','.join(SOFTWARE)}",
        f"; #@! TF.FileFunction,{function}",
        "; #@! TF.FilePolarity,Positive",
        "; #@! TF.SameCoordinates,pinmap",
        "; #@! TF.Part,Single",
        "METRIC",
    ]
    for number, ((diameter, purpose), _) in enumerate(ordered, 1):
        lines += [f"; #@! TA.AperFunction,{kind},{purpose}", f"T{number:02d}C{_mm(diameter)}"]
    lines += ["%", "G05"]
    for number, (_, points) in enumerate(ordered, 1):
        lines.append(f"T{number:02d}")
        lines += [f"X{_signed(x)}Y{_signed(y)}" for x, y in points]
    lines.append("M30")
    return FabLayer(f"{name}.drl", function, "Positive", "".join(f"{line}\n" for line in lines).encode("ascii"))


def _signed(um: int) -> str:
    return ("-" if um < 0 else "") + _mm(abs(um))
