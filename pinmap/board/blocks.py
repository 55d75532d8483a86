"""Connectors and parts as blocks of terminals along a line: which column of the channel each pad comes out at, and how.

The channel lies between two lines of blocks. Its columns are half a pitch apart: pads of the row next to the channel go
straight into it, those of the row behind pass between them. A block is made as on the upper line, the channel below it;
on the lower line it is turned by 180°.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from ..errors import PinmapError
from .footprints import FootPad, Footprint, turned
from .layout import Hole, Layer, Point, Rules

Line = Literal["upper", "lower"]
Aside = Literal[1, -1]
#: Half the pitch of all connectors that a board can be made for: how far the columns of the channel are apart.
COLUMN_UM = 1270
#: How far a finger goes on beyond the tongue before it turns to its column.
_STUB_UM = 400
#: How high the tongue is that fingers stand on, with the margin of its shoulders, and how far it goes beyond the inner
#: ends of long fingers, in µm. From memory: measure the slot.
_TONGUE_UM, _BEYOND_UM = 12_000, 4_400
#: The largest via, which a way on the front may end in.
MOST_VIA_UM = 1000


class Terminal(Struct, frozen=True):
    """Where a net comes into the channel: its column, and the way of the copper from the pad, the channel below.

    `way` leads from the pad on `layer`; a way on the front ends in a via, at its last point.
    """

    pad: str
    net: str
    column: int
    layer: Layer
    way: tuple[Point, ...]


class Block(Struct, frozen=True):
    """A connector or a part as it stands on the upper line, column 0 and the pads of its near row at (0, 0).

    `box` is the room it takes, with its terminals: left, top, right, bottom in µm; `first` and `last` are the columns
    of its terminals. `edge_um`: y of the edge of the board, where the block stands at one; `holes` have no copper.
    """

    ref: str
    footprint: Footprint
    angle: int
    terminals: tuple[Terminal, ...]
    box: tuple[int, int, int, int]
    first: int
    last: int
    side: Layer = "front"
    edge_um: int | None = None
    holes: tuple[Hole, ...] = ()


def tongue_um(pads: Sequence[FootPad]) -> int:
    """How high the tongue of these fingers is, from their tips to the margin of the shoulders; 0 without fingers."""
    long = [pad.height_um for pad in pads if pad.finger]
    return max(_TONGUE_UM, max(long) + _BEYOND_UM) if long else 0


def block(
    ref: str,
    footprint: Footprint,
    nets: Mapping[str, str],
    rules: Rules,
    *,
    angle: int = 0,
    side: Layer = "front",
    edge_um: int | None = None,
    holes: Sequence[Hole] = (),
    aside: Aside = 1,
) -> Block:
    """Make a block of a footprint, as it is seen from the front on the upper line; `nets` gives the net of each pad.

    A pad of the row behind is led out as wide as its net wants where there is room, else as wide as there is; `aside`
    says on which side of the pad before it: 1 at the right, -1 at the left.
    Raises `PinmapError` for a footprint whose pads lie in more than two rows, or not on the columns.
    """
    pads = [pad for pad in footprint.pads if pad.number]
    fingers = any(pad.finger for pad in pads)
    near_y = max(pad.y_um for pad in pads)
    near = [pad for pad in pads if pad.y_um == near_y]
    zero = min(pad.x_um for pad in near)
    moved = _moved(footprint, -zero, -near_y)
    pads = [pad for pad in moved.pads if pad.number]
    rows = sorted({pad.y_um for pad in pads}, reverse=True)
    if len(rows) > 2:
        raise PinmapError(
            f"the pads of {ref} must lie in one or two rows, so that each can be led out between those before it; they "
            f"lie in {len(rows)}",
            "Wire it by hand after the table, or lead it to a connector of two rows by a ribbon",
        )
    if fingers:
        terminals = _of_fingers(ref, pads, nets, aside)
    else:
        before = [pad for pad in pads if pad.y_um == 0]
        _spread(ref, before)
        taken = {_column(pad.x_um) for pad in before}
        terminals = []
        for pad in pads:
            if net := nets.get(pad.number, ""):
                terminals.append(_through(ref, pad, net, before, taken, rules, aside))
    columns = [t.column for t in terminals] or [0]
    left, top, right, bottom = moved.box
    low = max([bottom, *(y for t in terminals for _, y in t.way)])
    return Block(
        ref,
        moved,
        angle,
        tuple(terminals),
        (left, top, right, low),
        min(columns),
        max(columns),
        side,
        None if edge_um is None else edge_um - near_y,
        tuple(Hole(hole.x_um - zero, hole.y_um - near_y, hole.drill_um) for hole in holes),
    )


def _moved(footprint: Footprint, x: int, y: int) -> Footprint:
    left, top, right, bottom = footprint.box
    return replace(
        footprint,
        pads=tuple(replace(pad, x_um=pad.x_um + x, y_um=pad.y_um + y) for pad in footprint.pads),
        box=(left + x, top + y, right + x, bottom + y),
        lines=tuple(tuple((a + x, b + y) for a, b in line) for line in footprint.lines),
    )


def _column(x_um: int) -> int:
    """The column nearest to a place."""
    return (x_um + COLUMN_UM // 2) // COLUMN_UM


def _led(way: list[Point], end_um: int, column: int) -> tuple[Point, ...]:
    """Lead a way on straight to `end_um`, and from there aslant to its column."""
    x = way[-1][0]
    aside = abs(column * COLUMN_UM - x)
    if way[-1][1] < end_um:
        way.append((x, end_um))
    if aside:
        way.append((column * COLUMN_UM, end_um + aside))
    return tuple(way)


def _through(
    ref: str, pad: FootPad, net: str, before: Sequence[FootPad], taken: set[int], rules: Rules, aside: Aside
) -> Terminal:
    """The terminal of a pad in rows; `before` are those of the near row, `taken` the columns that are."""
    layer: Layer = "back" if pad.drill_um else pad.layer
    out = pad.height_um // 2
    far = out if pad.drill_um else out + rules.gap_um + MOST_VIA_UM // 2
    if pad.y_um == 0:
        column = _column(pad.x_um)
        return Terminal(pad.number, net, column, layer, _led([(pad.x_um, 0)], far, column))

    def room(x: int) -> int:
        return 2 * min(
            abs(x - other.x_um) - other.width_um // 2 - rules.gap_um
            for other in before
            if other.drill_um or other.layer == layer
        )

    half = _pitch(before) // 2
    half = half if half % COLUMN_UM else COLUMN_UM
    ways = (pad.x_um, pad.x_um + aside * half, pad.x_um + aside * 2 * half)
    free = [x for x in ways if _column(x) not in taken and room(x) >= rules.track_um]
    if not free:
        raise PinmapError(
            f"the pads of {ref} leave no room to lead pad {pad.number} out between those before it",
            f"That takes a track of {rules.track_um / 1000:g} mm with a gap of {rules.gap_um / 1000:g} mm at either "
            "side: narrower ones might do",
        )
    x = next((x for x in free if room(x) >= rules.width_um(net)), free[0])
    taken.add(_column(x))
    way = [(pad.x_um, pad.y_um), *([(x, pad.y_um + abs(x - pad.x_um))] if x != pad.x_um else [])]
    return Terminal(pad.number, net, _column(x), layer, _led(way, far, _column(x)))


def _pitch(pads: Sequence[FootPad]) -> int:
    """How far the closest of them are apart along the row; two columns for one alone."""
    xs = sorted({pad.x_um for pad in pads})
    return min((b - a for a, b in pairwise(xs)), default=2 * COLUMN_UM)


def _spread(ref: str, near: Sequence[FootPad]) -> None:
    """Refuse pads that lie closer than the columns: two of them would come out at one."""
    least = _pitch(near)
    if least < 2 * COLUMN_UM - 20 and all(pad.drill_um or pad.finger for pad in near):
        raise PinmapError(
            f"the pads of {ref} must be {2 * COLUMN_UM / 1000:g} mm apart or more, so that others can be led out "
            f"between them; they are {least / 1000:g} mm apart",
            "Wire it by hand after the table, or lead it to a connector with a wider pitch",
        )


def _of_fingers(ref: str, pads: Sequence[FootPad], nets: Mapping[str, str], aside: Aside) -> list[Terminal]:
    """Fingers on the back go straight in; those on the front turn half a pitch aside, to a via."""
    _spread(ref, [pad for pad in pads if pad.layer == "back"])
    half, tongue = _pitch(pads) // 2, tongue_um(pads)
    out = []
    for pad in pads:
        if net := nets.get(pad.number, ""):
            # Above the shoulders: the via of the outermost finger lies beside the tongue.
            turn = max(pad.y_um + pad.height_um // 2, pad.y_um - pad.height_um // 2 + tongue) + _STUB_UM
            column = _column(pad.x_um if pad.layer == "back" else pad.x_um + aside * half)
            out.append(Terminal(pad.number, net, column, pad.layer, _led([(pad.x_um, pad.y_um)], turn, column)))
    return out


def upright(footprint: Footprint, line: Line) -> Footprint:
    """A footprint as seen from a line: on the lower one the channel is above, which is the upper one turned."""
    return turned(footprint, 180) if line == "lower" else footprint
