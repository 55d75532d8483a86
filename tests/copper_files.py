"""Readers of the files of a board that share nothing with the package: Gerbers, drill files, board file, test netlist.

gerbonara takes Gerbers, drills and the test netlist apart, and its parser for nested lists the board file; what they
mean is worked out here. `left` and `bottom` say where the lower left corner of the board lies in the frame of
`copper_shapes`: from it the files for the fab count, with y upwards.
"""

from __future__ import annotations

import importlib
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from copper_shapes import LAYERS, QUARTER, Copper, Drill, Geometry, Piece, shapely

# --- Gerbers ----------------------------------------------------------------------------------


def from_gerbers(files: Mapping[str, bytes], left: float = 0.0, bottom: float = 0.0) -> Copper:
    """Copper from copper-front.gbr, copper-back.gbr and plated.drl; other .drl files have holes without plating.

    Names may begin with others' marks: adapter-copper-front.gbr.
    """

    def put(x: float, y: float) -> tuple[float, float]:
        return left + x, bottom - y

    copper = Copper()
    for name, data in files.items():
        if name.endswith(".drl"):
            copper.drills += _drilled(data, name, put, plated=name.split("-")[-1] == "plated.drl")
    for layer in LAYERS:
        data = next(data for name, data in files.items() if name.endswith(f"copper-{layer}.gbr"))
        copper.pieces += _exposed(data, layer, put)
    for piece in copper.pieces:
        if piece.pad is not None:
            middle = piece.core.centroid
            copper.spots.setdefault(piece.pad, []).append((piece.layer, middle.x, middle.y))
    return copper


Put = Callable[[float, float], tuple[float, float]]


def _drilled(data: bytes, name: str, put: Put, *, plated: bool) -> Iterator[Drill]:
    excellon = importlib.import_module("gerbonara.excellon")
    mm = importlib.import_module("gerbonara.utils").MM
    for item in excellon.ExcellonFile.from_string(data.decode(), filename=name).objects:
        if type(item).__name__ != "Flash":
            raise ValueError(f"{name} must have round holes only, not {item}")
        own = item.converted(mm)
        yield Drill(*put(own.x, own.y), item.tool.unit.convert_to(mm, item.tool.diameter), plated)


def _exposed(data: bytes, layer: str, put: Put) -> list[Piece]:
    """What is dark in the end: what is clear takes away from all before it."""
    gerber = importlib.import_module("gerbonara.rs274x").GerberFile.from_string(data.decode(), filename=layer)
    done: list[Piece] = []
    clear: list[Geometry] = []
    for item in gerber.objects:
        drawn = _drawn(item, layer, put)
        if not item.polarity_dark:
            clear += [piece.shape for piece in drawn]
            continue
        if clear:
            done, clear = _without(done, clear), []
        done += drawn
    return _without(done, clear) if clear else done


def _without(pieces: Sequence[Piece], clear: Sequence[Geometry]) -> list[Piece]:
    gone = shapely.union_all(clear)
    shapely.prepare(gone)
    out: list[Piece] = []
    for piece in pieces:
        if not gone.intersects(piece.shape):
            out.append(piece)
            continue
        left = shapely.difference(piece.shape, gone)
        out += [replace(piece, core=part, radius=0.0) for part in _areas(left)]
    return out


def _areas(shape: Geometry) -> list[Geometry]:
    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > 0]


def _drawn(item: Any, layer: str, put: Put) -> list[Piece]:
    kind = type(item).__name__
    said = {} if kind == "Region" else item.attrs
    net = _decoded(said[".N"][0]) if ".N" in said else ""
    pin = said.get(".P")
    pad = (_decoded(pin[0]), _decoded(pin[1])) if pin and kind == "Flash" else None
    if kind == "Region":
        ring = [put(x, y) for x, y in _arced(item)]
        return [Piece(layer, part) for part in _areas(_whole(ring))]
    mm = importlib.import_module("gerbonara.utils").MM
    shapes = list(item.to_primitives(mm))
    function = dict(item.aperture.attrs or ()).get(".AperFunction", ("",))[0]
    made = [_core(shape, put) for shape in shapes]
    if len(made) == 1:
        core, radius = made[0]
        pen = shapes[0].width if kind in ("Line", "Arc") else 0.0
        return [Piece(layer, core, radius, "" if net == "N/C" else net, pad, pen, function == "ConnectorPad")]
    whole: Geometry = shapely.Polygon()
    for shape, (core, radius) in zip(shapes, made, strict=True):
        area = core.buffer(radius, quad_segs=QUARTER) if radius else core
        whole = whole.union(area) if shape.polarity_dark == item.polarity_dark else whole.difference(area)
    return [Piece(layer, part, 0.0, net, pad, 0.0, function == "ConnectorPad") for part in _areas(whole)]


def _core(shape: Any, put: Put) -> tuple[Geometry, float]:
    kind = type(shape).__name__
    if kind == "Circle":
        return shapely.Point(put(shape.x, shape.y)), shape.r
    if kind == "Line":
        return _line([put(shape.x1, shape.y1), put(shape.x2, shape.y2)]), shape.width / 2
    if kind == "Arc":
        points = _arc((shape.x1, shape.y1), (shape.x2, shape.y2), (shape.cx, shape.cy), shape.clockwise)
        return _line([put(x, y) for x, y in points]), shape.width / 2
    if kind == "Rectangle":
        cos, sin = math.cos(shape.rotation), math.sin(shape.rotation)
        half = [(a * shape.w / 2, b * shape.h / 2) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        corners = [put(shape.x + u * cos - v * sin, shape.y + u * sin + v * cos) for u, v in half]
        return shapely.Polygon(corners), 0.0
    if kind == "ArcPoly":
        return _whole([put(x, y) for x, y in _arced(shape)]), 0.0
    raise ValueError(f"{kind} is no shape that is known here")


def _line(points: Sequence[tuple[float, float]]) -> Geometry:
    return shapely.LineString(points) if len(set(points)) > 1 else shapely.Point(points[0])


def _whole(ring: Sequence[tuple[float, float]]) -> Geometry:
    """What a ring encloses, whatever cuts lead to holes in it."""
    polygon = shapely.Polygon(ring)
    return polygon if polygon.is_valid else shapely.make_valid(polygon, method="structure", keep_collapsed=False)


def _arced(item: Any) -> Iterator[tuple[float, float]]:
    segments = item.iter_segments() if hasattr(item, "iter_segments") else item.segments
    for start, end, (clockwise, centre) in segments:
        if clockwise is None:
            yield start
        else:
            yield from _arc(start, end, centre, clockwise)[:-1]


def _arc(
    start: tuple[float, float], end: tuple[float, float], centre: tuple[float, float], clockwise: bool
) -> list[tuple[float, float]]:
    (x, y), radius = centre, math.dist(start, centre)
    first, last = (math.atan2(b - y, a - x) for a, b in (start, end))
    sweep = (first - last if clockwise else last - first) % math.tau or math.tau
    steps = max(4, math.ceil(sweep / math.tau * 4 * QUARTER))
    sign = -1 if clockwise else 1
    angles = [first + sign * sweep * step / steps for step in range(steps + 1)]
    return [start, *((x + radius * math.cos(a), y + radius * math.sin(a)) for a in angles[1:-1]), end]


def _decoded(written: str) -> str:
    r"""A field of an attribute: \u and four digits, or \U and eight, are a character."""
    return re.sub(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8}))", lambda m: chr(int(m[1] or m[2], 16)), written)


# --- the board file ---------------------------------------------------------------------------


def from_board(text: str) -> Copper:
    """Copper from a .kicad_pcb; zones as they are filled."""
    root = importlib.import_module("gerbonara.cad.kicad.sexp").parse_sexp(text)
    copper = Copper()
    names = {item[1]: _plain(item[2]) for item in _all(root, "net")}
    for item in _all(root, "segment"):
        core = _line([_xy(_one(item, "start")), _xy(_one(item, "end"))])
        pen, layer = float(_one(item, "width")[1]), _side(_one(item, "layer")[1])
        copper.pieces.append(Piece(layer, core, pen / 2, names[_one(item, "net")[1]], pen=pen))
    for item in _all(root, "via"):
        x, y = _xy(_one(item, "at"))
        copper.drills.append(Drill(x, y, float(_one(item, "drill")[1])))
        for layer in LAYERS:
            size = float(_one(item, "size")[1])
            copper.pieces.append(Piece(layer, shapely.Point(x, y), size / 2, names[_one(item, "net")[1]]))
    for item in _all(root, "zone"):
        for filling in _all(item, "filled_polygon"):
            ring = [_xy(point) for point in _all(_one(filling, "pts"), "xy")]
            for part in _areas(_whole(ring)):
                copper.pieces.append(Piece(_side(_one(filling, "layer")[1]), part, net=names[_one(item, "net")[1]]))
    for item in _all(root, "footprint"):
        _footprint(copper, item, names)
    return copper


def board_outline(text: str) -> list[tuple[float, float]]:
    """The corners of the lines on Edge.Cuts, which must go round in order."""
    root = importlib.import_module("gerbonara.cad.kicad.sexp").parse_sexp(text)
    lines = [item for item in _all(root, "gr_line") if _one(item, "layer")[1] == "Edge.Cuts"]
    ends = [(_xy(_one(item, "start")), _xy(_one(item, "end"))) for item in lines]
    if any(end != start for (_, end), (start, _) in zip(ends, [*ends[1:], ends[0]], strict=True)):
        raise ValueError("the outline must be closed")
    return [start for start, _ in ends]


def _footprint(copper: Copper, item: Any, names: Mapping[int, str]) -> None:
    at = _one(item, "at")
    (x, y), angle = _xy(at), float(at[3]) if len(at) > 3 else 0.0
    ref = next(_plain(p[2]) for p in _all(item, "property") if p[1] == "Reference")
    for pad in _all(item, "pad"):
        number, kind, form = _plain(pad[1]), str(pad[2]), str(pad[3])
        at = _one(pad, "at")
        dx, dy = _turned(*_xy(at), angle)
        own = float(at[3]) if len(at) > 3 else 0.0
        place = (x + dx, y + dy)
        drill = _one(pad, "drill")
        if drill is not None:
            copper.drills.append(Drill(*place, float(drill[1]), kind != "np_thru_hole"))
        if kind == "np_thru_hole":
            continue
        net = _one(pad, "net")
        if net is not None and names[net[1]] != _plain(net[2]):
            raise ValueError(f"net {net[1]} must have one name")
        on = _one(pad, "layers")[1:]
        for layer, name in zip(LAYERS, ("F.Cu", "B.Cu"), strict=True):
            if name in on or "*.Cu" in on:
                core, radius = _pad(form, *_xy(_one(pad, "size")), own, place)
                copper.pieces.append(
                    Piece(layer, core, radius, _plain(net[2]) if net else "", (ref, number), finger=kind == "connect")
                )
                copper.spots.setdefault((ref, number), []).append((layer, *place))


def _pad(form: str, width: float, height: float, angle: float, at: tuple[float, float]) -> tuple[Geometry, float]:
    def put(points: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
        turned = (_turned(x, y, angle) for x, y in points)
        return [(round(at[0] + x, 9), round(at[1] + y, 9)) for x, y in turned]

    x, y = width / 2, height / 2
    if form == "rect":
        return shapely.Polygon(put([(-x, -y), (x, -y), (x, y), (-x, y)])), 0.0
    if form == "circle" or width == height:
        return shapely.Point(at), x
    if form == "oval":
        thin = min(x, y)
        return _line(put([(-x + thin, -y + thin), (x - thin, y - thin)])), thin
    raise ValueError(f"a pad must be round, rectangular or oval here, not {form}")


def _turned(x: float, y: float, angle: float) -> tuple[float, float]:
    """Turned against the clock as seen, y downwards."""
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return round(x * cos + y * sin, 9), round(y * cos - x * sin, 9)


def _all(item: Any, head: str) -> list[Any]:
    return [each for each in item if isinstance(each, list) and each and str(each[0]) == head]


def _one(item: Any, head: str) -> Any:
    found = _all(item, head)
    return found[0] if found else None


def _xy(item: Any) -> tuple[float, float]:
    return float(item[1]), float(item[2])


def _side(name: str) -> str:
    return {"F.Cu": "front", "B.Cu": "back"}[name]


def _plain(text: str) -> str:
    """A text as it was before it was quoted: the parser takes the backslash from quotes only."""
    return str(text).replace("\\\\", "\\")


# --- the netlist for the electrical test ------------------------------------------------------


@dataclass(frozen=True)
class TestPoint:
    """A record of the test netlist; `net` is None for a pad that is joined to nothing, `ref` "" for a via."""

    __test__ = False  # no test of pytest's

    net: str | None
    ref: str
    pin: str
    x: float
    y: float
    drill: float = 0.0
    layer: str = ""  # "" is both


def from_ipc356(data: bytes, left: float = 0.0, bottom: float = 0.0) -> list[TestPoint]:
    """The pads and vias of an IPC-D-356A netlist. gerbonara reads a pin into `.pin`; its `.pin_num` stays empty."""
    reader = importlib.import_module("gerbonara.ipc356")
    mm = importlib.import_module("gerbonara.utils").MM
    netlist = reader.Netlist.from_string(data.decode(), filename="netlist.ipc")
    aliases = {
        (match[1], match[2]): _decoded(match[3])
        for match in (re.match(r"(part|pin) (#\d+): (.*)", comment) for comment in netlist.comments)
        if match
    }
    out = []
    for each in netlist.test_records:
        if each.pad_type.name == "NONPLATED_HOLE" or each.is_plated is False:
            continue
        x, y = each.unit.convert_to(mm, each.x), each.unit.convert_to(mm, each.y)
        drill = each.unit.convert_to(mm, each.hole_dia) or 0.0
        layer = {0: "", None: "", 1: "front", 2: "back"}[each.access_layer]
        ref, pin = each.ref_des or "", each.pin or ""
        ref, pin = aliases.get(("part", ref), ref), aliases.get(("pin", pin), pin)
        net = None if each.net_name is None else _decoded(each.net_name)
        out.append(TestPoint(net, ref, pin, left + x, bottom - y, drill, layer))
    return out
