"""From blocks that stand and a channel that is routed to pads, tracks and vias: rows and columns become µm."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from math import hypot, isqrt

from msgspec import Struct

from .blocks import COLUMN_UM, Terminal, tongue_um
from .channel import Routed
from .footprints import FootPad
from .layout import Layer, Pad, Point, Rules, Track, Via
from .placing import Stand

#: The gap between a track and the pads of a row that it passes between decides how wide it may be there, in µm.
_STEP_UM = 10
#: Between the bodies on the upper line and those on the lower one, in µm.
BODIES_UM = 500


class Lines(Struct, frozen=True):
    """Where the lines and rows are: y of the pads next to the channel on both lines, y of each row, in µm."""

    upper_um: int
    lower_um: int
    top_um: int
    rows_um: tuple[int, ...]
    bottom_um: int


class Copper(Struct, frozen=True):
    """What the router's answer is in copper."""

    pads: tuple[Pad, ...]
    tracks: tuple[Track, ...]
    vias: tuple[Via, ...]


class Wiring(Struct, frozen=True):
    """What the geometry needs besides the stands: rules, the net of each number of the channel, vias of each net."""

    rules: Rules
    names: tuple[str, ...]
    vias: Mapping[str, tuple[int, int]]

    def via(self, net: str) -> tuple[int, int]:
        """Diameter and drill of a net's vias."""
        return self.vias.get(net, (self.rules.via_um, self.rules.via_drill_um))


def lines(stands: Sequence[Stand], routed: Routed, wiring: Wiring) -> Lines:
    """Lay out the rows, each as high as what lies in it, from the upper line downwards."""
    rules = wiring.rules
    height = [rules.track_um] * routed.tracks
    for trunk in routed.trunks:
        net = wiring.names[trunk.net]
        height[trunk.track] = max(height[trunk.track], rules.width_um(net), wiring.via(net)[0])
    reach = {line: max(_reach(s, wiring) for s in stands if s.line == line) for line in ("upper", "lower")}
    top = reach["upper"]
    y, rows = top, []
    before = 0
    for high in height:
        y += (before + high + 1) // 2 + rules.gap_um
        rows.append(y)
        before = high
    bottom = y + (before + 1) // 2 + rules.gap_um if rows else top + rules.gap_um
    deep = [max(s.block.box[3] + s.inset_um for s in stands if s.line == line) for line in ("upper", "lower")]
    apart = max(
        bottom + reach["lower"], sum(deep) + BODIES_UM
    )  # bodies may stand over the channel, not over each other
    return Lines(0, apart, top, tuple(rows), apart - reach["lower"])


def _reach(stand: Stand, wiring: Wiring) -> int:
    """How far the copper of a block goes into the channel from the pads of its near row."""
    pads = [pad.y_um + pad.height_um // 2 for pad in stand.block.footprint.pads]
    ways = [t.way[-1][1] + (wiring.via(t.net)[0] // 2 if t.layer == "front" else 0) for t in stand.block.terminals]
    reach = max([*pads, *ways]) + _beside_pads(stand, wiring.rules) + stand.inset_um
    if stand.block.edge_um is not None and any(pad.finger for pad in stand.block.footprint.pads):
        half = (
            max([wiring.rules.track_um, *wiring.rules.supply_um.values(), *(v for v, _ in wiring.vias.values())]) // 2
        )
        reach = max(
            reach, stand.block.edge_um + tongue_um(stand.block.footprint.pads) + half
        )  # beside the tongue the board ends at its shoulders
    return reach


def _beside_pads(stand: Stand, rules: Rules) -> int:
    """How much later the channel begins, so that the widest branch keeps its gap from the pad beside it."""
    near = [pad for pad in stand.block.footprint.pads if pad.y_um == 0]
    if any(pad.finger for pad in near):
        return 0
    half = max(max(pad.width_um, pad.height_um) for pad in near) // 2
    away = rules.gap_um + max([rules.track_um, *rules.supply_um.values()]) // 2
    if any(pad.shape == "rect" for pad in near):  # its corner is what comes close
        return isqrt(max(0, away**2 - (COLUMN_UM - half) ** 2)) + 1
    return max(0, isqrt(max(0, (half + away) ** 2 - COLUMN_UM**2)) + 1 - half)


def point(stand: Stand, at: Lines, x_um: int, y_um: int) -> Point:
    """Where a point of a block lies on the board; x counts from column 0."""
    x, y = stand.at * COLUMN_UM, y_um + stand.inset_um
    return (x + x_um, at.upper_um + y) if stand.line == "upper" else (x - x_um, at.lower_um - y)


def copper(
    stands: Sequence[Stand], routed: Routed, at: Lines, wiring: Wiring, nets: Mapping[str, Mapping[str, str]]
) -> Copper:
    """The pads of every block, the ways out of them, and the channel; `nets` gives by reference the net of each pad."""
    tracks: list[Track] = []
    vias: dict[tuple[int, int], Via] = {}
    ends = _ends(routed)
    for stand in stands:
        for terminal in stand.block.terminals:
            if (stand.line, stand.column(terminal.column)) in ends:
                for each in _led_out(stand, terminal, at, wiring):
                    if isinstance(each, Via):
                        vias.setdefault((each.x_um, each.y_um), each)
                    else:
                        tracks.append(each)
    rows = {-1: at.top_um, routed.tracks: at.bottom_um} | dict(enumerate(at.rows_um))
    for trunk in routed.trunks:
        if trunk.first < trunk.last:
            net, y = wiring.names[trunk.net], rows[trunk.track]
            x1, x2 = trunk.first * COLUMN_UM, trunk.last * COLUMN_UM
            tracks.append(Track(net, "front", x1, y, x2, y, wiring.rules.width_um(net)))
    for branch in routed.branches:
        net, x = wiring.names[branch.net], branch.column * COLUMN_UM
        tracks.append(Track(net, "back", x, rows[branch.upper], x, rows[branch.lower], wiring.rules.width_um(net)))
    for via in routed.vias:
        net = wiring.names[via.net]
        size, drill = wiring.via(net)
        x, y = via.column * COLUMN_UM, rows[via.track]
        vias.setdefault((x, y), Via(net, x, y, size, drill))
    return Copper(tuple(pads(stands, at, nets)), tuple(tracks), tuple(vias[key] for key in sorted(vias)))


def _ends(routed: Routed) -> set[tuple[str, int]]:
    """Line and column of every terminal that the channel takes up."""
    up = {("upper", b.column) for b in routed.branches if b.upper == -1}
    return up | {("lower", b.column) for b in routed.branches if b.lower == routed.tracks}


def _led_out(stand: Stand, terminal: Terminal, at: Lines, wiring: Wiring) -> Iterator[Track | Via]:
    """The copper from a pad to the channel's edge: narrow between the pads that it passes."""
    net, rules = terminal.net, wiring.rules
    points = [point(stand, at, *p) for p in terminal.way]
    width = min(rules.width_um(net), neck_um(stand, terminal, rules))
    layer: Layer = terminal.layer
    for (x1, y1), (x2, y2) in pairwise(points):
        yield Track(net, layer, x1, y1, x2, y2, width)
    x, y = points[-1]
    if layer == "front":
        size, drill = wiring.via(net)
        yield Via(net, x, y, size, drill)
    edge = at.top_um if stand.line == "upper" else at.bottom_um
    if y != edge:
        yield Track(net, "back", x, y, x, edge, rules.width_um(net) if layer == "front" else width)


def neck_um(stand: Stand, terminal: Terminal, rules: Rules) -> int:
    """How wide a way may be for the pads that it passes, of the same block, on its layer."""
    own = next(pad for pad in stand.block.footprint.pads if pad.number == terminal.pad)
    room = float(max(own.width_um, own.height_um))
    for pad in stand.block.footprint.pads:
        if pad.number != terminal.pad and (pad.drill_um or pad.layer == terminal.layer):
            apart = min(_apart(pad, one, other) for one, other in pairwise(terminal.way))
            room = min(room, 2 * (apart - rules.gap_um))
    return max(int(room) // _STEP_UM * _STEP_UM, rules.track_um)


def _apart(pad: FootPad, one: Point, other: Point) -> float:
    """From the middle of a straight piece to the edge of a pad that it does not touch."""
    if pad.shape == "round":
        return _to_piece((pad.x_um, pad.y_um), one, other) - pad.width_um / 2
    w, h = pad.width_um // 2, pad.height_um // 2
    corners = [(pad.x_um + i * w, pad.y_um + j * h) for i in (-1, 1) for j in (-1, 1)]
    ends = [hypot(max(abs(x - pad.x_um) - w, 0), max(abs(y - pad.y_um) - h, 0)) for x, y in (one, other)]
    return min(*ends, *(_to_piece(corner, one, other) for corner in corners))


def _to_piece(spot: Point, one: Point, other: Point) -> float:
    dx, dy = other[0] - one[0], other[1] - one[1]
    square = dx * dx + dy * dy
    along = max(0.0, min(1.0, ((spot[0] - one[0]) * dx + (spot[1] - one[1]) * dy) / square)) if square else 0.0
    return hypot(one[0] + along * dx - spot[0], one[1] + along * dy - spot[1])


def pads(stands: Sequence[Stand], at: Lines, nets: Mapping[str, Mapping[str, str]]) -> Iterator[Pad]:
    """Every pad where it lies on the board."""
    for stand in stands:
        net_of = nets.get(stand.block.ref, {})
        for pad in stand.block.footprint.pads:
            x, y = point(stand, at, pad.x_um, pad.y_um)
            yield Pad(
                stand.block.ref,
                pad.number,
                net_of.get(pad.number, ""),
                x,
                y,
                pad.width_um,
                pad.height_um,
                pad.shape,
                pad.drill_um,
                pad.layer,
                pad.finger,
                pad.function,
            )
