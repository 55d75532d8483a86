"""How an adapter is built, from its file: wire, traces and length, each a quantity that can be."""

from __future__ import annotations

import re
from collections.abc import Collection

from msgspec import UnsetType

from .design import BoardDesign, Build, Construction
from .formats_adapter import BoardFile, BuildFile
from .shape import Path, Shape
from .text import listed, quoted, ranges, short

#: What each construction is made of.
_WIRE, _BOARD = ("wire", "supply wire"), ("trace", "supply trace", "copper")
_BUILT_OF: dict[Construction, tuple[str, ...]] = {"ribbon": _WIRE, "point to point": _WIRE, "printed board": _BOARD}


def positive(shape: Shape, text: str | UnsetType, unit: str, path: Path, *, zero: bool = False) -> float | None:
    """Return a quantity above 0 (or 0, where that means something); complain of any other."""
    if isinstance(text, UnsetType):
        return None
    value = shape.measured(text, unit, path)
    if value is not None and (value < 0 or (value == 0 and not zero)):
        shape.complain(
            "value-shape",
            f"{said(path)} must be {'0 or more' if zero else f'more than 0 {unit}'}, not {quoted(text)}",
            "What a card draws has no sign, on a negative rail neither" if zero else "",
            at=shape.values[path],
        )
        return None
    return value


def _gauge(shape: Shape, text: str | UnsetType, key: str, gauges: Collection[int]) -> int | None:
    if isinstance(text, UnsetType):
        return None
    path = ("build", key)
    match = re.fullmatch(r"\s*([0-9]{1,2})\s*AWG\s*", text)
    sizes = sorted(gauges)
    if match and int(match[1]) in gauges:
        return int(match[1])
    bare = re.fullmatch(r"(?:AWG)?\s*([0-9]{1,2})", text.strip(), re.IGNORECASE)
    if match:
        near = min(sizes, key=lambda size: abs(size - int(match[1])), default=None)
        advice = f"The nearest is {near} AWG" if near is not None else ""
        rule = f"must be a size of the table ({ranges([str(s) for s in sizes])} AWG)"
    else:
        rule = "must be a wire size with its unit, like 28 AWG"
        advice = f"Write {bare[1]} AWG if that is meant" if bare else ""
    shape.complain("value-shape", f"{said(path)} {rule}, not {quoted(text)}", advice, at=shape.values[path])
    return None


def build(shape: Shape, raw: BuildFile, gauges: Collection[int]) -> Build | None:
    """Return how the adapter is built, None where its length or a wire is wrong; `gauges` are the sizes there are."""
    at = shape.keys["build",]
    of = _BUILT_OF[raw.as_]
    for key in (*_WIRE, *_BOARD):
        if key not in of and ("build", key) in shape.keys:
            others = [c for c, keys in _BUILT_OF.items() if key in keys]
            shape.complain(
                "choice-contradicts",
                f"build › {key} must be given only for {listed(others, 'or')}, not for the {raw.as_} of line "
                f"{shape.keys['build', 'as'].line}",
                f"A {raw.as_} has {listed(of)}" if raw.as_ != "point to point" else "Single wires have wire sizes",
                at=shape.keys["build", key],
            )
    length = positive(shape, raw.length, "mm", ("build", "length"))
    wire, supply_wire = _gauge(shape, raw.wire, "wire", gauges), _gauge(shape, raw.supply_wire, "supply wire", gauges)
    trace, supply_trace, copper = (
        positive(shape, text, "mm", ("build", key))
        for key, text in (("trace", raw.trace), ("supply trace", raw.supply_trace), ("copper", raw.copper))
    )
    if raw.as_ == "ribbon" and None not in (wire, supply_wire) and wire != supply_wire:
        shape.complain(
            "choice-contradicts",
            f"build › supply wire must be the size of wire in a ribbon, whose conductors are all alike: "
            f"{supply_wire} AWG here, {wire} AWG in line {shape.keys['build', 'wire'].line}",
            "For thicker supplies build it point to point, or feed them beside the ribbon",
            at=shape.keys["build", "supply wire"],
        )
        supply_wire = wire
    refused = (wire is None and "wire" in of and isinstance(raw.wire, str)) or (
        supply_wire is None and "wire" in of and isinstance(raw.supply_wire, str)
    )
    if length is None or refused:
        return None
    if "wire" not in of:
        wire = supply_wire = None
    else:
        trace = supply_trace = copper = None
    if wire is None and raw.as_ == "ribbon":
        wire = supply_wire
    return Build(
        raw.as_,
        length,
        awg=wire,
        supply_awg=wire if supply_wire is None else supply_wire,
        trace_mm=trace,
        supply_trace_mm=supply_trace,
        copper_um=None if copper is None else copper * 1000,
        place=at,
    )


#: What no fab makes, or only at a price: the least of each, in µm. Common practice, no source.
_LEAST_UM = {"track": 100, "gap": 100, "via": 400, "via drill": 200, "edge": 200, "thickness": 400}
#: The least ring of copper round a via's hole, in µm. Common practice, no source.
LEAST_RING_UM = 100


def board(shape: Shape, raw: BoardFile) -> BoardDesign:
    """Return what the board is to be like; what no fab makes is complained of and left out."""
    at = shape.keys["board",]
    made: dict[str, int | None] = {}
    texts = {"width": raw.width, "height": raw.height, "track": raw.track, "gap": raw.gap, "via": raw.via}
    texts |= {"via drill": raw.via_drill, "edge": raw.edge, "thickness": raw.thickness}
    for key, text in texts.items():
        value = positive(shape, text, "mm", ("board", key))
        made[key] = None if value is None else round(value * 1000)
        least = _LEAST_UM.get(key, 0)
        if value is not None and value * 1000 < least:
            shape.complain(
                "value-shape",
                f"board › {key} must be {least / 1000:g} mm or more to be made, not {quoted(str(text))}",
                at=shape.values["board", key],
            )
            made[key] = None
    via, drill = made["via"] or 600, made["via drill"] or 300
    if via - drill < 2 * LEAST_RING_UM:
        key = "via drill" if made["via drill"] else "via"
        shape.complain(
            "value-shape",
            f"board › via must leave a ring of {LEAST_RING_UM / 1000:g} mm round its hole; {via / 1000:g} mm round a "
            f"hole of {drill / 1000:g} mm leaves {(via - drill) / 2000:g} mm",
            f"A via of {(drill + 2 * LEAST_RING_UM) / 1000:g} mm would do",
            at=shape.values["board", key],
        )
        made["via"] = made["via drill"] = None
    facing = None if isinstance(raw.component_side, UnsetType) else raw.component_side
    if facing is not None and (facing in ("front", "back")) != (raw.form == "straight riser"):
        right = "front or back" if raw.form == "straight riser" else "upper edge or lower edge"
        shape.complain(
            "value-shape",
            f"board › component side must be {right} for a {raw.form}, not {quoted(facing)}",
            at=shape.values["board", "component side"],
        )
        facing = None
    return BoardDesign(
        raw.form,
        None if isinstance(raw.host, UnsetType) else raw.host,
        raw.card,
        None if isinstance(raw.bracket, UnsetType) else raw.bracket,
        facing,
        made["width"],
        made["height"],
        made["track"],
        made["gap"],
        made["via"],
        made["via drill"],
        made["edge"],
        made["thickness"],
        place=at,
    )


def said(path: Path) -> str:
    """Name a place in the file the way messages do."""
    return " › ".join(short(step, 40) or '""' for step in path)
