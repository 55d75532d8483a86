"""Boards made for the tests: the connectors of a plan with tracks between them, written as a board file.

Nothing here knows the reader. Coordinates are in mm as on the board; `Board.text` turns them into those of a file.
Both connectors stand side by side over a channel: each pad goes straight down on the back, or by a dog-leg between the
pads below it; each net has its own level in the channel, on the front, and meets what comes down in a via. The net
with the most pads may have a filled zone in place of its level.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import pairwise

from pinmap.adapter import Adapter
from pinmap.body import Body
from pinmap.writers import netlist

Point = tuple[float, float]

TRACK = 0.15
PAD = 1.4
VIA = 0.4
LEVEL = 0.6
LANES = (0.0, *(sign * step / 20 for step in range(17, 35) for sign in (1, -1)))  # how far beside its pad, as tried


@dataclass(frozen=True)
class Pad:
    ref: str
    number: str
    at: Point
    net: str
    pin: str = ""
    kind: str = "thru_hole"
    shape: str = "circle"
    size: Point = (PAD, PAD)
    angle: float = 0.0  # on the board, against the clock
    layers: str = '"*.Cu" "*.Mask"'
    more: str = "(drill 0.9)"


@dataclass(frozen=True)
class Track:
    start: Point
    end: Point
    layer: str
    net: str
    width: float = TRACK


@dataclass(frozen=True)
class Via:
    at: Point
    net: str


@dataclass(frozen=True)
class Zone:
    corners: tuple[Point, ...]
    layer: str
    net: str
    filled: bool = True


@dataclass
class Board:
    pads: list[Pad] = field(default_factory=list)
    tracks: list[Track] = field(default_factory=list)
    vias: list[Via] = field(default_factory=list)
    zones: list[Zone] = field(default_factory=list)
    values: dict[str, str] = field(default_factory=dict)

    def copy(self) -> Board:
        return Board(list(self.pads), list(self.tracks), list(self.vias), list(self.zones), dict(self.values))

    def nets(self) -> set[frozenset[tuple[str, str]]]:
        """Which pads the names join."""
        return together((pad.net, (pad.ref, pad.number)) for pad in self.pads if pad.net)

    def of(self, ref: str) -> list[Pad]:
        return [pad for pad in self.pads if pad.ref == ref]

    def pad(self, ref: str, number: str) -> Pad:
        return next(pad for pad in self.of(ref) if pad.number == number)

    def turned(self, angle: float, about: Point = (0.0, 0.0)) -> Board:
        """The whole board, turned against the clock."""
        return Board(
            [replace(pad, at=turn(pad.at, angle, about), angle=pad.angle + angle) for pad in self.pads],
            [replace(t, start=turn(t.start, angle, about), end=turn(t.end, angle, about)) for t in self.tracks],
            [replace(via, at=turn(via.at, angle, about)) for via in self.vias],
            [replace(z, corners=tuple(turn(c, angle, about) for c in z.corners)) for z in self.zones],
            dict(self.values),
        )

    def flipped(self) -> Board:
        """The whole board, turned over its long axis: up is down, and front is back."""
        return Board(
            [replace(p, at=(p.at[0], -p.at[1]), angle=-p.angle, layers=_other_side(p.layers)) for p in self.pads],
            [
                replace(t, start=(t.start[0], -t.start[1]), end=(t.end[0], -t.end[1]), layer=_other_side(t.layer))
                for t in self.tracks
            ],
            [replace(via, at=(via.at[0], -via.at[1])) for via in self.vias],
            [replace(z, corners=tuple((x, -y) for x, y in z.corners), layer=_other_side(z.layer)) for z in self.zones],
            dict(self.values),
        )

    def text(
        self, version: int = 20241229, frames: dict[str, tuple[float, Point]] | None = None, side: str = "F.Cu"
    ) -> str:
        """Write the board; `frames` has the angle and the place of footprints, else those of their first pad.

        From 20250901 on there are names of nets only, from 20240108 on references are properties.
        """
        numbers = {name: number for number, name in enumerate(sorted(self._names()), 1)}
        named_only = version >= 20250901
        back = 2 if version >= 20241229 else 31
        out = [
            f'(kicad_pcb (version {version}) (generator "pinmap_tests")',
            "  (general (thickness 1.6))",
            '  (paper "A4")',
            f'  (layers (0 "F.Cu" signal) ({back} "B.Cu" signal) (25 "Edge.Cuts" user))',
            "  (setup (pad_to_mask_clearance 0))",
        ]
        if not named_only:
            out += ['  (net 0 "")', *(f"  (net {number} {_text(name)})" for name, number in numbers.items())]

        def short(net: str) -> str:
            return f"(net {_text(net) if named_only else numbers[net] if net else 0})"

        for ref in dict.fromkeys(pad.ref for pad in self.pads):
            pads = self.of(ref)
            angle, origin = (frames or {}).get(ref, (0.0, pads[0].at))
            out.append(f'  (footprint "tests:{ref}" (layer "{side}")')
            out.append(f"    (at {_n(*origin)} {_n(angle)})")
            for key, value in (("Reference", ref), ("Value", self.values.get(ref, ref))):
                if version >= 20240108:
                    out.append(f'    (property "{key}" {_text(value)} (at 0 0 0) (layer "F.Fab"))')
                else:
                    out.append(f'    (fp_text {key.lower()} {_text(value)} (at 0 0) (layer "F.Fab") (tstamp 1-2))')
            for pad in pads:
                x, y = turn((pad.at[0] - origin[0], pad.at[1] - origin[1]), -angle)
                net = (
                    f"(net {_text(pad.net) if named_only else f'{numbers[pad.net]} {_text(pad.net)}'})"
                    if pad.net
                    else ""
                )
                out.append(
                    f"    (pad {_text(pad.number)} {pad.kind} {pad.shape} (at {_n(x, y)} {_n(pad.angle)})"
                    f" (size {_n(*pad.size)}) {pad.more} (layers {pad.layers}) {net}"
                    f' (pinfunction {_text(pad.pin)}) (pintype "passive"))'
                )
            out.append("  )")
        for t in self.tracks:
            out.append(f"  (segment (start {_n(*t.start)}) (end {_n(*t.end)}) (width {_n(t.width)})")
            out.append(f'    (layer "{t.layer}") {short(t.net)})')
        for via in self.vias:
            out.append(f'  (via (at {_n(*via.at)}) (size {VIA}) (drill 0.2) (layers "F.Cu" "B.Cu") {short(via.net)})')
        for zone in self.zones:
            points = " ".join(f"(xy {_n(*corner)})" for corner in zone.corners)
            out.append(
                f'  (zone {short(zone.net)} (net_name {_text(zone.net)}) (layer "{zone.layer}") (hatch edge 0.5)'
            )
            out.append(f"    (fill {'yes ' * zone.filled}(thermal_gap 0.3)) (polygon (pts {points}))")
            if zone.filled:
                out.append(f'    (filled_polygon (layer "{zone.layer}") (pts {points}))')
            out.append("  )")
        return "\n".join([*out, ")", ""])

    def _names(self) -> set[str]:
        things: tuple[Pad | Track | Via | Zone, ...] = (*self.pads, *self.tracks, *self.vias, *self.zones)
        return {thing.net for thing in things if thing.net}


def together(pairs: Iterable[tuple[str, tuple[str, str]]]) -> set[frozenset[tuple[str, str]]]:
    nodes: dict[str, set[tuple[str, str]]] = {}
    for net, node in pairs:
        nodes.setdefault(net, set()).add(node)
    return {frozenset(found) for found in nodes.values()}


def turn(point: Point, angle: float, about: Point = (0.0, 0.0)) -> Point:
    """Turn a point against the clock, as seen: y grows downwards."""
    x, y = point[0] - about[0], point[1] - about[1]
    sine, cosine = math.sin(math.radians(angle)), math.cos(math.radians(angle))
    return about[0] + cosine * x + sine * y, about[1] - sine * x + cosine * y


def made(adapter: Adapter, *, zone: bool = False) -> Board:
    """The board of an adapter, as planned."""
    board = Board(values={part.ref: part.value for part in netlist.parts(adapter)})
    net_of = {node: net.name for net in netlist.nets(adapter) for node in net.nodes}
    left = 20.0
    for connector in (adapter.host_connector, adapter.card_connector):
        left = _place(board, connector.ref, adapter.on_board(connector), left, net_of)
    for part in adapter.parts:
        for index, (number, pin) in enumerate(part.pins):
            board.pads.append(Pad(part.ref, number, (left + index * 2.54, 20.0), net_of[part.ref, number], pin))
        left += len(part.pins) * 2.54 + 2.54
    _route(board, zone)
    return board


def _place(
    board: Board, ref: str, body: Body, left: float, net_of: dict[tuple[str, str], str], *, mirrored: bool = False
) -> float:
    """Place a connector; `mirrored` end to end, as the footprint of what plugs into it has its pads."""
    sign = -1 if mirrored else 1
    shift = left - min(sign * spot.x_mm for spot in body.spots.values())
    for label, spot in body.spots.items():
        number = body.pad_of[label]
        at = (round(sign * spot.x_mm + shift, 4), round(20.0 + spot.y_mm, 4))
        shape = "rect" if number in ("1", "A1") else "circle"
        board.pads.append(Pad(ref, number, at, net_of.get((ref, number), ""), label, shape=shape))
    return max(pad.at[0] for pad in board.of(ref)) + 10.0


def _lanes(pads: list[Pad], every: list[Pad]) -> dict[Pad, float]:
    """Where each pad comes down: beside the pads below it and beside what has come down already."""
    lanes: dict[Pad, float] = {}
    for pad in sorted(pads, key=lambda pad: (-pad.at[1], pad.at[0])):
        below = [other.at[0] for other in every if other.at[1] > pad.at[1]]
        lanes[pad] = next(
            x
            for beside in LANES
            for x in (round(pad.at[0] + beside, 4),)
            if all(abs(x - other) > PAD / 2 + TRACK for other in below)
            and all(abs(x - other) > 2 * TRACK - 0.01 for other in lanes.values())
        )
    return lanes


def _route(board: Board, zone: bool) -> None:
    top = max(pad.at[1] for pad in board.pads) + 5.0
    members: dict[str, list[Pad]] = {}
    for pad in board.pads:
        if pad.net:
            members.setdefault(pad.net, []).append(pad)
    names = [name for name, pads in members.items() if len(pads) > 1]
    lanes = _lanes([pad for name in names for pad in members[name]], board.pads)
    poured = max(names, key=lambda name: len(members[name])) if zone and names else ""
    for level, name in enumerate(names):
        y = round(top + level * LEVEL, 4)
        for pad in members[name]:
            x = lanes[pad]
            knee = (x, round(pad.at[1] + min(abs(x - pad.at[0]), 0.9), 4))
            if x != pad.at[0]:
                board.tracks.append(Track(pad.at, knee, "B.Cu", name))
            board.tracks.append(Track(knee, (x, y), "B.Cu", name))
            board.vias.append(Via((x, y), name))
        columns = sorted(lanes[pad] for pad in members[name])
        if name == poured:
            low, high = columns[0] - 0.1, columns[-1] + 0.1
            board.zones.append(Zone(((low, y - 0.1), (high, y - 0.1), (high, y + 0.1), (low, y + 0.1)), "F.Cu", name))
        else:
            board.tracks += [Track((one, y), (other, y), "F.Cu", name) for one, other in pairwise(columns)]


def _other_side(layers: str) -> str:
    return layers.replace("F.", "?.").replace("B.", "F.").replace("?.", "B.")


def _n(*values: float) -> str:
    return " ".join(f"{value:.6f}".rstrip("0").rstrip(".") for value in values)


def _text(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


# --- boards of two pads, for what one thing does ---------------------------------------------

HEAD = (
    "(kicad_pcb (version 20241229)\n"
    '(layers (0 "F.Cu" signal) (4 "In1.Cu" signal) (6 "In2.Cu" signal) (2 "B.Cu" signal))\n'
    '(net 0 "") (net 1 "A") (net 2 "B")\n'
)


def two(*things: str, first: str = "", second: str = "") -> str:
    """A board of two pads on the front, at (0, 0) and (10, 0), 1 mm wide, and what else is given, a line each."""
    return "\n".join(
        [
            HEAD.rstrip(),
            '(footprint "t:t" (layer "F.Cu") (at 0 0) (property "Reference" "P")',
            first or '(pad "1" smd circle (at 0 0) (size 1 1) (layers "F.Cu") (net 1 "A"))',
            second or '(pad "2" smd circle (at 10 0) (size 1 1) (layers "F.Cu") (net 1 "A"))',
            ")",
            *things,
            ")",
            "",
        ]
    )


def segment(x: float, y: float, u: float, v: float, width: float = 0.2, layer: str = "F.Cu", net: int = 1) -> str:
    return f'(segment (start {x} {y}) (end {u} {v}) (width {width}) (layer "{layer}") (net {net}))'
