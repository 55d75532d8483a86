"""The pads, room and silk of connectors and parts, each in a frame of its own, seen from the side it is mounted on.

`connector` draws them from a body, `part` from the name of a footprint of the open library; `turned` and `flipped`
say how they lie on a board. Lengths in whole µm, x to the right, y downwards.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Sequence
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from ..body import Body
from ..errors import PinmapError
from ..forms import complete
from ..parts import Part
from ..text import listed
from .boxes import Box, Line, arc, clear, closed, corners, grown, least_apart, ring, span
from .layout import Hole, Layer, Point, Shape


class FootPad(Struct, frozen=True):
    """A pad. `layer`: for one without a hole, "front" is the side that the part is mounted on."""

    number: str
    x_um: int
    y_um: int
    width_um: int
    height_um: int
    shape: Shape = "round"
    drill_um: int = 0
    layer: Layer = "front"
    finger: bool = False
    function: str = ""


class Footprint(Struct, frozen=True):
    """What a connector or part takes on a board.

    `box` is left, top, right, bottom of the room that its body and pads take; `lines` are the silk (points joined by
    straight pieces), clear of every pad; `marks` the same for pin 1; `sources` say where its figures are from.
    """

    name: str
    pads: tuple[FootPad, ...]
    box: tuple[int, int, int, int]
    lines: tuple[tuple[tuple[int, int], ...], ...] = ()
    sources: tuple[str, ...] = ()


LIBRARY = "open KiCad footprint library 6.0.11 (CC-BY-SA 4.0 with design exception)"
SILK_UM = 150  # the width of a line of the silk
CLEAR_UM = 250  # between a line's edge and a pad's
AWAY_UM = CLEAR_UM + SILK_UM // 2  # between the middle of a line and a pad's edge
APART_UM = 200  # between two pads at least
ROOM_UM = 250  # round the body and the pads of a part: what the library's outlines of room have

# ---------------------------------------------------------------------- connectors

#: Pad and drill of a plated hole by the least distance between two contacts, in µm: the library's PinHeader_2x of 2.54,
#: 2.00, 1.27 and 1.00 mm. The pads of the last are made smaller where they would come too close.
HOLES_UM = ((2540, 1700, 1000), (2000, 1350, 800), (1270, 1000, 650), (1000, 850, 500))
DIN_UM = (1550, 1000)  # the library's DIN41612_C footprints

#: The library's BUS_AT. The EISA specification, as quoted second-hand, has fingers 1.575 mm wide: they disagree.
FINGER_UM = (1780, 7620)
FINGER_PITCH_UM = 2540
FINGER_ABOVE_UM = 1270  # the room above the fingers, as there

#: From the outermost contacts of a connector to the outline of its body and to the edge of its room, along the rows and
#: across, in µm. Slot: from memory. Box header: the library's IDC-Header_2x. DIN: its DIN41612_C, upright.
AROUND_UM = {
    "edge slot": ((5900, 1860), (6000, 1960)),
    "box header": ((5210, 3290), (5600, 3680)),
    "din 41612": ((8240, 2870), (8630, 3260)),
}
ROOM_SOURCES = {
    "edge slot": "body and pads: from memory",
    "box header": f"body: {LIBRARY}, IDC-Header_2x",
    "din 41612": f"body: {LIBRARY}, DIN41612_C",
}


def connector(body: Body, present: Collection[str] | None = None) -> Footprint:
    """Return the footprint of a connector, the middle of its contacts at (0, 0), as its mating face is seen.

    A plated hole for each contact, and for edge fingers a pad on the front (the upper row) or the back, whose lower
    ends are the edge of the board: a card's edge seen from its mating face, front up, has x as the front of the card
    has it with this edge below. `present`: the labels that have a contact, None for all; a key has no pad. Contact 1
    (the body's first) has a square pad and a mark; no mark where its finger is on the back. A DIN 41612 connector whose
    footprint is called "Horizontal" overhangs beyond the row of contact 1, where the board's edge is.
    Raises `PinmapError` for a label that the body does not have, no contact at all, or contacts too close for pads.
    """
    named = body if body.footprint else complete(body, {})
    kept = frozenset(body.spots if present is None else present)
    if unknown := sorted(kept - set(body.spots)):
        raise PinmapError(f"a contact that is present must be one of the connector's, not {unknown[0]}")
    if not kept:
        raise PinmapError(f"a connector must have at least one contact to be put on a board ({named.footprint})")
    at = _places(body)
    if body.form == "edge fingers":
        return _fingers(named, kept, at)
    least = min(least_apart(at.values()), round(body.pitch_mm * 1000))
    size, drill = _hole_sizes(named, least)
    first = body.labels[0]
    pads = tuple(
        FootPad(body.pad_of[label], x, y, size, size, "rect" if label == first else "round", drill, function=label)
        for label, (x, y) in at.items()
        if label in kept
    )
    around = span(at.values())
    sources = [f"pads: {LIBRARY}, {'DIN41612_C' if body.form == 'din 41612' else 'PinHeader_2x'}"]
    if body.form in AROUND_UM:
        (along, across), (along_room, across_room) = AROUND_UM[body.form]
        outline, box = grown(around, along, across), grown(around, along_room, across_room)
        sources = [*(sources if body.form != "edge slot" else ()), ROOM_SOURCES[body.form]]
    else:
        reach = max(round(body.pitch_mm * 500), size // 2 + AWAY_UM)
        outline = grown(around, reach, reach)
        # Contact 1 is marked between the pads where the pitch lets it, else outside.
        spare = 100 if (least - size) // 2 >= AWAY_UM else 500
        box = grown(outline, spare, spare)
        sources.append("body: from memory")
    lines: list[Line] = [ring(outline)]
    if _lies(named):
        lines, box = _lying(around, _out(at[first], around))
    mark = _mark(body, at[first], least // 2, outline, box, pads)
    return Footprint(named.footprint, pads, box, _clear([*lines, *mark], pads), tuple(sources))


def mounting_holes(body: Body) -> tuple[Hole, ...]:
    """Return the holes without copper that a connector is screwed down by, in the frame of `connector`.

    Only DIN 41612 connectors have them here: 2.85 mm, the library's DIN41612_C footprints.
    """
    if body.form != "din 41612":
        return ()
    at = _places(body)
    left, top, right, bottom = around = span(at.values())
    out = _out(at[body.labels[0]], around)
    row = bottom if out > 0 else top  # of contact 1
    end, y = (5080, row + out * 2540) if _lies(body) else (5630, row - out * 2240)
    return (Hole(left - end, y, 2850), Hole(right + end, y, 2850))


def board_edge_um(body: Body) -> int | None:
    """Return y of the edge of the board in the frame of `connector`, None where it may be anywhere.

    The lower ends of fingers; where a DIN 41612 connector overhangs, 5.3 mm beyond the row of contact 1 (the library's
    DIN41612_C).
    """
    if body.form == "edge fingers":
        return _finger_um(body)[1] // 2
    if not _lies(body):
        return None
    at = _places(body)
    around = span(at.values())
    out = _out(at[body.labels[0]], around)
    return (around[3] if out > 0 else around[1]) + out * 5300


def _finger_um(body: Body) -> tuple[int, int]:
    """Width and length of a finger, even numbers, in proportion to the pitch."""
    scale = body.pitch_mm * 1000 / FINGER_PITCH_UM
    return 2 * round(FINGER_UM[0] * scale / 2), 2 * round(FINGER_UM[1] * scale / 2)


def _places(body: Body) -> dict[str, Point]:
    """Where each label's contact is, from the middle of them all."""
    raw = {label: (round(s.x_mm * 1000), round(s.y_mm * 1000)) for label, s in body.spots.items()}
    left, top, right, bottom = span(raw.values())
    x0, y0 = (left + right) // 2, (top + bottom) // 2
    return {label: (x - x0, y - y0) for label, (x, y) in raw.items()}


def _lies(body: Body) -> bool:
    """Whether it is a DIN 41612 connector for the edge of a board."""
    return body.form == "din 41612" and "Horizontal" in body.footprint


def _out(first: Point, around: Box) -> int:
    """1 where the row of contact 1 is the lower one, −1 where it is the upper one."""
    return 1 if 2 * first[1] >= around[1] + around[3] else -1


def _lying(around: Box, out: int) -> tuple[list[Line], Box]:
    """The silk and room of the library's DIN41612_C_…_Horizontal: ears beside the contacts, the rest over the edge."""
    left, top, right, bottom = around
    row, behind = (bottom, top) if out > 0 else (top, bottom)
    edge, ear = row + out * 5000, row - out * 260
    lines: list[Line] = [
        ((left - 7890, edge), (left - 7890, ear), (left - 2370, ear), (left - 2370, row + out * 740)),
        ((right + 7890, edge), (right + 7890, ear), (right + 2370, ear), (right + 2370, row + out * 740)),
    ]
    far, near = row + out * 13230, behind - out * 1280
    return lines, (left - 8130, min(far, near), right + 8130, max(far, near))


def _hole_sizes(body: Body, least: int) -> tuple[int, int]:
    """The pad and the drill for contacts that are `least` apart."""
    size, drill = next(((size, drill) for apart, size, drill in HOLES_UM if apart <= least), (0, 0))
    if not size:
        raise PinmapError(
            f"contacts must be at least {HOLES_UM[-1][0] / 1000:g} mm apart to have plated holes, not "
            f"{least / 1000:g} mm ({body.footprint})",
            advice="Look at the pitch, the row pitch and the sections of the body",
        )
    if body.form == "din 41612" and least >= HOLES_UM[0][0]:
        size, drill = DIN_UM
    return min(size, (least - APART_UM) // 2 * 2), drill


def _fingers(body: Body, kept: frozenset[str], at: dict[str, Point]) -> Footprint:
    rows = sorted({y for _, y in at.values()})
    if len(rows) > 2:
        raise PinmapError(f"edge fingers must lie on two faces, not in {len(rows)} rows ({body.footprint})")
    pitch = round(body.pitch_mm * 1000)
    width, length = _finger_um(body)
    pads = tuple(
        FootPad(body.pad_of[label], x, 0, width, length, "rect", 0, "front" if y == rows[0] else "back", True, label)
        for label, (x, y) in at.items()
        if label in kept
    )
    for layer in ("front", "back"):
        xs = sorted(pad.x_um for pad in pads if pad.layer == layer)
        least = min((b - a for a, b in pairwise(xs)), default=width + APART_UM)
        if least < width + APART_UM:
            raise PinmapError(
                f"fingers {width / 1000:g} mm wide must be at least {(width + APART_UM) / 1000:g} mm apart on a face, "
                f"not {least / 1000:g} mm ({body.footprint})",
                advice="Look at the pitch and the sections of the body",
            )
    left, _, right, _ = span(at.values())
    box = (left - pitch, -length // 2 - FINGER_ABOVE_UM, right + pitch, length // 2)
    first, y = at[body.labels[0]]
    tip = -length // 2 - AWAY_UM
    mark: list[Line] = [((first, tip), (first + 350, tip - 700), (first - 350, tip - 700), (first, tip))]
    scaled = "" if pitch == FINGER_PITCH_UM else ", scaled by the pitch"
    sources = (
        f"fingers: {LIBRARY}, BUS_AT, {FINGER_UM[0] / 1000:g} mm wide{scaled}",
        "not taken: fingers 1.575 mm wide, the EISA specification as quoted second-hand",
    )
    return Footprint(body.footprint, pads, box, _clear(mark if y == rows[0] else [], pads), sources)


def _mark(body: Body, at: Point, half: int, outline: Box, box: Box, pads: Sequence[FootPad]) -> list[Line]:
    """A mark at contact 1, `half` way to the next: the first of these that is clear of all pads and inside the room."""
    x, y = at
    left, right = x - outline[0], outline[2] - x
    end = -1 if left <= right else 1
    tip = pads[0].width_um // 2 + AWAY_UM
    cell = ring((x - half, y - half, x + half, y + half))
    wedges: list[Line] = [
        closed(((x + sx * tip, y + sy * tip), (dx - sy * 350, dy + sx * 350), (dx + sy * 350, dy - sx * 350)))
        for sx, sy in ((end, 0), (0, -1), (0, 1), (-end, 0))
        for dx, dy in ((x + sx * (tip + 700), y + sy * (tip + 700)),)
    ]
    bar_x = (outline[0] if end < 0 else outline[2]) + end * 400
    bar: Line = ((bar_x, y - 400), (bar_x, y + 400))
    tried = [cell, bar] if body.form not in AROUND_UM else [*wedges, cell]
    inside = grown(box, -SILK_UM // 2, -SILK_UM // 2)
    return [
        line
        for line in tried
        if _clear([line], pads) == (line,)
        and all(inside[0] <= px <= inside[2] and inside[1] <= py <= inside[3] for px, py in line)
    ][:1]


# ---------------------------------------------------------------------- parts


class _Drawn(Struct, frozen=True):
    """A part as the library draws it: pads, the extent of its body and silk; `angle` brings it into pinmap's frame."""

    pads: tuple[FootPad, ...]
    body: Box
    lines: tuple[Line, ...]
    angle: int = 0


def part(one: Part) -> Footprint:
    """Return the footprint of a part by the name of its footprint, the middle of its pads at (0, 0).

    It is the open library's, turned, never mirrored. Two pads stand upright, pad 1 above; rows run along x: of a DIP
    and of a header in two rows pad 1 is below left, of an SOT-23 pads 1 and 2 are below. All pads of the package are
    there.
    Raises `PinmapError` for a footprint that is not known here, and for a pin that has no pad in it.
    """
    for pattern, draw in KNOWN:
        match = re.fullmatch(pattern, one.footprint)
        if match:
            drawn = draw(*match.groups())
            break
    else:
        raise PinmapError(
            f"a part on a board must have a footprint whose pads are known, not {one.footprint!r} ({one.ref})",
            advice=f"Take one like {listed(_EXAMPLES, 'or')}, or lay the board out by hand from the netlist",
        )
    functions = dict(one.pins)
    if missing := sorted(set(functions) - {pad.number for pad in drawn.pads}):
        raise PinmapError(
            f"a pin of a part must have a pad in its footprint: {one.ref} has no pad {missing[0]} in {one.footprint}"
        )
    left, top, right, bottom = span((pad.x_um, pad.y_um) for pad in drawn.pads)
    box = grown(
        span([*corners(drawn.body), *(p for pad in drawn.pads for p in corners(_extent(pad)))]), ROOM_UM, ROOM_UM
    )
    whole = Footprint(
        one.footprint,
        tuple(replace(pad, function=functions.get(pad.number, "")) for pad in drawn.pads),
        box,
        _clear(drawn.lines, drawn.pads),
        (f"pads and body: {LIBRARY}",),
    )
    x0, y0 = (left + right) // 2, (top + bottom) // 2
    return turned(_mapped(whole, lambda x, y: (x - x0, y - y0)), drawn.angle)


def _holes(
    places: Iterable[Point], size: int, drill: int, *, square: bool, numbers: Iterable[int] = ()
) -> tuple[FootPad, ...]:
    """Plated holes numbered from 1 on, or by `numbers`; `square`: the first has a square pad."""
    points = list(places)
    return tuple(
        FootPad(str(number), x, y, size, size, "rect" if square and index == 0 else "round", drill)
        for index, (number, (x, y)) in enumerate(zip(tuple(numbers) or range(1, len(points) + 1), points, strict=True))
    )


def millimetres(mm: str) -> int:
    """Return a number of mm as a footprint's name has it, in µm."""
    return round(float(mm) * 1000)


def _axial(length: str, diameter: str, pitch: str) -> _Drawn:
    """A resistor lying along x: the body between its wires."""
    long, across, apart = millimetres(length), millimetres(diameter) // 2, millimetres(pitch)
    body = ((apart - long) // 2, -across, (apart + long) // 2, across)
    silk = grown(body, 120, 120)
    wires: list[Line] = [((0, 0), (silk[0], 0)), ((silk[2], 0), (apart, 0))]
    return _Drawn(_holes([(0, 0), (apart, 0)], 1600, 800, square=False), body, (ring(silk), *wires), 270)


def _disc(diameter: str, width: str, pitch: str) -> _Drawn:
    long, across, apart = millimetres(diameter), millimetres(width) // 2, millimetres(pitch)
    body = ((apart - long) // 2, -across, (apart + long) // 2, across)
    # By the width of the body, in the two sizes that the name may say.
    pads = _holes([(0, 0), (apart, 0)], *((1600, 800) if across == 1250 else (2000, 1000)), square=False)
    return _Drawn(pads, body, (ring(grown(body, 120, 120)),), 270)


def _radial(diameter: str, pitch: str) -> _Drawn:
    """An electrolytic capacitor: a circle, and a plus at pad 1."""
    radius, apart = millimetres(diameter) // 2, millimetres(pitch)
    middle = apart // 2
    body = (middle - radius, -radius, middle + radius, radius)
    x, y = body[0] + 250, body[3] - 250
    plus: list[Line] = [((x - 350, y), (x + 350, y)), ((x, y - 350), (x, y + 350))]
    circle = arc(middle, 0, radius + 80, 0, 360)
    return _Drawn(_holes([(0, 0), (apart, 0)], 1600, 800, square=True), body, (circle, *plus), 270)


def _dip(count: str) -> _Drawn:
    """Two rows; a notch at the end of pad 1."""
    half = int(count) // 2
    places = [(0, 2540 * i) for i in range(half)] + [(7620, 2540 * i) for i in range(half - 1, -1, -1)]
    length = 2540 * (half - 1)
    left, right = 1200, 6420  # clear of the pads, inside the body
    top, bottom = -1330, length + 1330
    notch = arc(3810, top, 1000, 180, 360)
    outline: Line = (*notch, (right, top), (right, bottom), (left, bottom), (left, top), notch[0])
    return _Drawn(_holes(places, 1600, 800, square=True), (635, -1270, 6985, length + 1270), (outline,), 90)


def _can() -> _Drawn:
    """A canned oscillator in the place of a DIP of 14: a square corner at pad 1, the others rounded."""
    left, top, right, bottom, cut = -2830, -10260, 18070, 2640, 750
    outline: Line = (
        (left, bottom),
        (left, top + cut),
        (left + cut, top),
        (right - cut, top),
        (right, top + cut),
        (right, bottom - cut),
        (right - cut, bottom),
        (left, bottom),
    )
    places = [(0, 0), (15240, 0), (15240, -7620), (0, -7620)]
    return _Drawn(
        _holes(places, 1600, 800, square=True, numbers=(1, 7, 8, 14)), (-2730, -10160, 17970, 2540), (outline,)
    )


def _to92() -> _Drawn:
    """Three pads in line; the flat side of the body below."""
    round_side = arc(2540, 0, 2600, -45, 225)
    flat: Line = ((700, 1850), (4380, 1850))
    pads = _holes([(0, 0), (2540, 0), (5080, 0)], 1500, 800, square=True)
    return _Drawn(pads, (60, -2480, 5020, 1750), (round_side, flat))


def _sot23() -> _Drawn:
    """Three pads without holes; the line at pad 1 is the longer."""
    places = [(-1500, -950), (-1500, 950), (1500, 0)]
    pads = tuple(FootPad(str(n), x, y, 1900, 800, "rect") for n, (x, y) in enumerate(places, 1))
    lines: tuple[Line, ...] = (
        ((-2400, -1675), (760, -1675), (760, -800)),
        ((-700, 1675), (760, 1675), (760, 800)),
    )
    return _Drawn(pads, (-700, -1520, 700, 1520), lines, 90)


def _terminal() -> _Drawn:
    """A screw terminal of two poles."""
    body = (-2460, -3750, 7540, 3750)
    outline = (-2540, -3810, 7620, 3810)
    pads = _holes([(0, 0), (5080, 0)], 3000, 1520, square=True)
    return _Drawn(pads, body, (ring(outline), ((-2540, 2540), (7620, 2540))), 270)


def _pins(rows: str, places: str) -> _Drawn:
    """Pins in one row or two, with a square cell round pad 1."""
    across, along = int(rows), int(places)
    points = [(2540 * i, 2540 * j) for j in range(along) for i in range(across)]
    pads = _holes(points, 1700, 1000, square=True)
    outline = grown(span(points), 1270, 1270)
    lines = (ring(outline), ring((-1270, -1270, 1270, 1270)))
    body = grown(outline, 100 - ROOM_UM, 100 - ROOM_UM)  # room as for a connector of pins
    angle = 90
    if len(points) <= 2:  # two pads stand upright, pad 1 above
        angle = 0 if across == 1 else 270
    return _Drawn(pads, body, lines, angle)


_PLACES = r"(0[1-9]|[123]\d|40)"
#: Names of the library and how they are drawn: its figures, by what the name says where it says it.
KNOWN: tuple[tuple[str, Callable[..., _Drawn]], ...] = (
    (r"Resistor_THT:R_Axial_DIN0207_L(6\.3)mm_D(2\.5)mm_P(7\.62|10\.16|15\.24)mm_Horizontal", _axial),
    (r"Capacitor_THT:C_Disc_D(5\.0)mm_W(2\.5)mm_P(2\.50|5\.00)mm", _disc),
    (r"Capacitor_THT:C_Disc_D(9\.0)mm_W(5\.0)mm_P(5\.00|7\.50|10\.00)mm", _disc),
    (r"Capacitor_THT:CP_Radial_D(5\.0|6\.3|8\.0)mm_P(2\.50)mm", _radial),
    (r"Package_DIP:DIP-(8|14|16|20)_W7\.62mm", _dip),
    (r"Oscillator:Oscillator_DIP-14", _can),
    (r"Package_TO_SOT_THT:TO-92_Inline_Wide", _to92),
    (r"Package_TO_SOT_SMD:SOT-23_Handsoldering", _sot23),
    (r"TerminalBlock:TerminalBlock_bornier-2_P5\.08mm", _terminal),
    (rf"Connector_PinHeader_2\.54mm:PinHeader_([12])x{_PLACES}_P2\.54mm_Vertical", _pins),
)
_EXAMPLES = (
    "Resistor_THT:R_Axial_DIN0207_L6.3mm_D2.5mm_P10.16mm_Horizontal",
    "Capacitor_THT:C_Disc_D5.0mm_W2.5mm_P5.00mm",
    "Capacitor_THT:CP_Radial_D5.0mm_P2.50mm",
    "Package_DIP:DIP-14_W7.62mm",
    "Connector_PinHeader_2.54mm:PinHeader_2x02_P2.54mm_Vertical",
)

# ---------------------------------------------------------------------- how they lie


def turn(x_um: int, y_um: int, angle: int) -> Point:
    """Turn a point about (0, 0) by 0, 90, 180 or 270 degrees against the clock, as it is seen with y downwards."""
    if angle not in (0, 90, 180, 270):
        raise PinmapError(f"a footprint must be turned by 0, 90, 180 or 270 degrees, not {angle}")
    for _ in range(angle // 90):
        x_um, y_um = y_um, -x_um
    return x_um, y_um


def turned(footprint: Footprint, angle: int) -> Footprint:
    """Return the footprint turned about its origin by 0, 90, 180 or 270 degrees against the clock, as it is seen."""
    whole = _mapped(footprint, lambda x, y: turn(x, y, angle))
    if angle % 180 == 0:
        return whole
    return replace(
        whole, pads=tuple(replace(pad, width_um=pad.height_um, height_um=pad.width_um) for pad in whole.pads)
    )


def flipped(footprint: Footprint) -> Footprint:
    """Return the footprint mounted on the back, as it is seen from the front: x mirrored, the faces exchanged."""
    whole = _mapped(footprint, lambda x, y: (-x, y))
    other: dict[Layer, Layer] = {"front": "back", "back": "front"}
    pads = tuple(pad if pad.drill_um else replace(pad, layer=other[pad.layer]) for pad in whole.pads)
    return replace(whole, pads=pads)


def _mapped(footprint: Footprint, to: Callable[[int, int], Point]) -> Footprint:
    """With every point somewhere else."""
    pads = []
    for pad in footprint.pads:
        x, y = to(pad.x_um, pad.y_um)
        pads.append(replace(pad, x_um=x, y_um=y))
    lines = tuple(tuple(to(x, y) for x, y in line) for line in footprint.lines)
    box = span(to(x, y) for x, y in corners(footprint.box))
    return replace(footprint, pads=tuple(pads), lines=lines, box=box)


def _extent(pad: FootPad) -> Box:
    return grown((pad.x_um, pad.y_um, pad.x_um, pad.y_um), pad.width_um // 2, pad.height_um // 2)


def _clear(lines: Iterable[Line], pads: Iterable[FootPad]) -> tuple[Line, ...]:
    """What of the silk is clear of every pad, in pieces of 0.3 mm or more."""
    return clear(lines, (grown(_extent(pad), AWAY_UM, AWAY_UM) for pad in pads), 300)
