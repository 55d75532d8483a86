"""How a footprint is turned against the open library's of the same name."""

from __future__ import annotations

import re

from .footprints import KNOWN, Footprint, millimetres, turn
from .layout import Layer, Point


def library_angle(footprint: Footprint, side: Layer = "front") -> int:
    """Return by how many degrees, against the clock as seen, a footprint is turned against the open library's.

    0 where it lies as the library draws it, for pinmap's own, and where its pads are not those of its name in the
    library. One on the back (`side`) is held against the library's mirrored top to bottom, which is how the open format
    of boards keeps it (from memory).
    """
    theirs = _library_places(footprint.name)
    if not footprint.pads or any(pad.number not in theirs for pad in footprint.pads):
        return 0
    hand = -1 if side == "back" else 1
    first = footprint.pads[0]
    x0, y0 = theirs[first.number]
    for angle in (0, 90, 180, 270):
        if all(
            turn(theirs[pad.number][0] - x0, hand * (theirs[pad.number][1] - y0), angle)
            == (pad.x_um - first.x_um, pad.y_um - first.y_um)
            for pad in footprint.pads
        ):
            return angle
    return 0


def _library_places(name: str) -> dict[str, Point]:
    """Where the open library has the pads of a footprint, by their numbers; nothing for one that is not known here.

    Of connectors the upright ones of pins and sockets, BUS_AT and DIN 41612 type C with 32 places; lying headers from
    memory.
    """
    for pattern, draw in KNOWN:
        if match := re.fullmatch(pattern, name):
            return {pad.number: (pad.x_um, pad.y_um) for pad in draw(*match.groups()).pads}
    if name == "Connector_PCBEdge:BUS_AT":  # rows B, A, D and C
        rows = ((1, 31, 0), (32, 31, 0), (63, 18, 86360), (81, 18, 86360))
        return {str(first + n): (-2540 * n - away, 0) for first, count, away in rows for n in range(count)}
    if match := re.fullmatch(r"Connector_DIN:DIN41612_C_[23]x32_(Female_Vertical|Male_Horizontal)_THT", name):
        upright = match[1] == "Female_Vertical"
        spots = {f"{letter}{n + 1}": (2540 * row, 2540 * n) for row, letter in enumerate("abc") for n in range(32)}
        return {number: (x, y) if upright else (y, x) for number, (x, y) in spots.items()}
    header = r"Connector_[\w.]+:(PinHeader|PinSocket|IDC-Header)_([12])x(\d\d)_P(\d\.\d\d)mm_(?:Vertical|Horizontal)"
    if match := re.fullmatch(header, name):
        across, along, pitch = int(match[2]), int(match[3]), millimetres(match[4])
        step = -pitch if match[1] == "PinSocket" else pitch  # the second row is at the left of a socket's first
        return {str(n + 1): (step * (n % across), pitch * (n // across)) for n in range(across * along)}
    return {}
