"""All that a fab gets for a board, and what a person keeps: layers, drills, job file, netlist, their ZIP, pictures."""

from __future__ import annotations

import io
import json
import zipfile
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from msgspec import Struct

from ..board import shapes
from ..board.layout import LAYERS, Hole, Layer, Layout, Pad, Point, Ring, Via
from ..text import visible
from .board_svg import board_svg
from .cells import csv_text, worded
from .fab_gerber import SOFTWARE, FabLayer, Frame, drills, layers, project
from .fab_ipc356 import netlist

if TYPE_CHECKING:
    pass


#: In place of a clock: the earliest date that a ZIP can hold.
_DATE = (1980, 1, 1, 0, 0, 0)
_OUNCE_UM = 35  # copper of one ounce to the square foot: IPC-2221 as fabs quote it
_FINE_UM = 200  # what thicker copper than that makes hard to etch: common practice, no source


def fab_files(layout: Layout, stem: str) -> dict[str, bytes]:
    """Return every file of the set by its name, each name with `stem` in front.

    What goes to the fab is in the ZIP too. The same layout gives the same bytes: no file holds a date, and the ZIP and
    the job file, which must, a fixed one. Raises `ValueError` for a board too large for the test netlist.
    """
    made = (*layers(layout), *drills(layout))
    files = {f"{stem}-{layer.name}": layer.data for layer in made}
    measure = measured(layout)
    files[f"{stem}.gbrjob"] = _job(layout, stem, made, measure)
    files[f"{stem}-netlist.ipc"] = netlist(layout)
    files[f"{stem}-fab-note.txt"] = fab_note(layout, measure, files).encode()
    return {
        **files,
        f"{stem}-fab.zip": _zip(files),
        f"{stem}-placement.csv": placement(layout).encode(),
        **{f"{stem}-{side}.svg": board_svg(layout, side).encode() for side in LAYERS},
    }


# ---------------------------------------------------------------------- what is smallest


class Measured(Struct, frozen=True):
    """The smallest track, gap, drill and ring of a board, measured on what it holds; None for what it has none of.

    The gap is between copper of different nets on one layer, the ring what a pad or via leaves round its hole.
    """

    track_um: int | None
    gap_um: int | None
    drill_um: int | None
    ring_um: int | None


def measured(layout: Layout) -> Measured:
    """Return what is smallest on a board, in whole µm, rounded down."""
    drilled = [p for p in layout.pads if p.drill_um]
    holes: list[Pad | Via | Hole] = [*drilled, *layout.vias, *layout.holes]
    rings = [(min(p.width_um, p.height_um) - p.drill_um) // 2 for p in drilled]
    rings += [(via.size_um - via.drill_um) // 2 for via in layout.vias]
    gaps = [gap for side in LAYERS if (gap := _gap(layout, side)) is not None]
    return Measured(
        min((track.width_um for track in layout.tracks), default=None),
        min(gaps, default=None),
        min((each.drill_um for each in holes), default=None),
        min(rings, default=None),
    )


def _gap(layout: Layout, side: Layer) -> int | None:
    """The smallest gap of one layer. A round thing is its middle line, and half its width taken off: that is exact."""
    import numpy as np  # with shapely a fifth of a second, which only a board needs
    import shapely

    copper: tuple[shapes.Copper, ...] = (*layout.pads, *layout.tracks, *layout.vias, *layout.areas)
    things = [each for each in copper if side in shapes.layers(each)]
    if len({each.net for each in things}) < 2 and all(each.net for each in things):
        return None
    numbers = {net: number for number, net in enumerate(dict.fromkeys(each.net for each in things if each.net))}
    # What belongs to no net is apart from everything.
    nets = np.array([numbers.get(each.net, -1 - i) for i, each in enumerate(things)])
    cores = [shapes.core(each) for each in things]
    middles, radii = np.array([core for core, _ in cores]), np.array([radius for _, radius in cores])
    left, top, right, bottom = shapely.bounds(middles).T
    near, board = 2 * layout.rules.gap_um, sum(layout.size_um)
    while True:  # only things whose boxes, each half of `near` larger, meet can be nearer than that
        more = radii + near / 2
        boxes = shapely.box(left - more, top - more, right + more, bottom + more)
        one, other = shapely.STRtree(boxes).query(boxes)
        apart = (one < other) & (nets[one] != nets[other])
        one, other = one[apart], other[apart]
        gaps = shapely.distance(middles[one], middles[other]) - radii[one] - radii[other]
        if len(gaps) and gaps.min() <= near:
            return max(0, int(gaps.min() + 1e-6))
        if near > 2 * board:  # copper off the board: beyond measure
            return None
        near *= 4


# ---------------------------------------------------------------------- words


def fab_note(layout: Layout, measure: Measured, files: Iterable[str] = ()) -> str:
    """Return what a fab must know that no layer says. `files`: the names of those that go to it."""
    across, down = layout.size_um
    rules = layout.rules
    rows = [
        ("board", visible(layout.title)),
        ("size", f"{across / 1000:.2f} × {down / 1000:.2f} mm, routed along the outline"),
        ("layers", "2: copper on the front (component side) and on the back"),
        ("thickness", f"{rules.thickness_um / 1000:.2f} mm, FR-4"),
        ("copper", f"{rules.copper_um} µm finished ({rules.copper_um / _OUNCE_UM:.3g} oz per square foot)"),
        (
            "mask, silk",
            "on both sides, the mask of any colour, the silk to be read on it; vias are covered by the mask",
        ),
        ("smallest track", _um(measure.track_um)),
        ("smallest gap", _um(measure.gap_um)),
        ("smallest drill", _um(measure.drill_um)),
        ("smallest ring", _um(measure.ring_um)),
        *_fine(rules.copper_um, measure),
        *_finish(layout),
        *_corners(layout),
        *(("drills" if not i else "", said) for i, said in enumerate(_drills(layout))),
        ("coordinates", "mm; 0, 0 is the lower left corner of the board, seen from the front, y upwards"),
        ("netlist", "IPC-D-356A, from the same data as the layers: please test the bare board against it"),
        *(("note" if not i else "", visible(note)) for i, note in enumerate(layout.notes)),
        *(("files" if not i else "", name) for i, name in enumerate(files)),
    ]
    return "".join(f"{name:<15} {said}".rstrip() + "\n" for name, said in rows)


def _um(um: int | None) -> str:
    return "none on this board" if um is None else f"{um / 1000:.3f} mm"


def _finish(layout: Layout) -> Iterator[tuple[str, str]]:
    fingers = Counter(pad.layer for pad in layout.pads if pad.finger)
    if not fingers:
        yield "finish", "lead-free hot-air levelling or immersion gold (common practice, no source)"
        return
    counts = " and ".join(f"{fingers[side]} on the {side}" for side in LAYERS if fingers[side])
    yield "finish", "pads: immersion gold; fingers: hard gold over nickel (common practice, no source)"
    yield "fingers", f"{counts}, one mask opening over each row, no mask between the fingers, no paste"
    if layout.bevel is None:
        yield "bevel", "none"
        return
    frame = Frame.of(layout)
    start, stop = (", ".join(f"{um / 1000:.3f}" for um in frame.at(*point)) for point in layout.bevel)
    yield "bevel", f"on both faces of the edge from {start} to {stop}"
    yield "", "30° or 45° against the face (common practice, no source): please say which you cut"


def _fine(copper_um: int, measure: Measured) -> Iterator[tuple[str, str]]:
    smallest = {"tracks": measure.track_um, "gaps": measure.gap_um}
    fine = [f"{what} of {um / 1000:.3f} mm" for what, um in smallest.items() if um is not None and um < _FINE_UM]
    if copper_um > _OUNCE_UM and fine:
        yield (
            "to be asked",
            f"{' and '.join(fine)} in copper thicker than {_OUNCE_UM} µm: below {_FINE_UM / 1000:.1f} mm the fab must "
            "be asked whether it makes them (common practice, no source)",
        )


def _corners(layout: Layout) -> Iterator[tuple[str, str]]:
    """What a round tool does to the inner corners of the outline."""
    inner = _inner_corners(layout.outline)
    if not inner:
        return
    frame = Frame.of(layout)
    places = " and ".join(", ".join(f"{um / 1000:.3f}" for um in frame.at(*point)) for point in inner)
    yield "inner corners", f"at {places}: drawn sharp; a router leaves a radius (common practice, no source)"
    if any(pad.finger for pad in layout.pads):
        room = _above_fingers(layout, inner)
        begin = "" if room is None else f", which begin {max(0, room) / 1000:.3f} mm nearer to the edge"
        yield "", f"the radius must end before the fingers{begin}"


def _inner_corners(outline: Ring) -> list[Point]:
    """The corners at which the outline turns the other way than it does as a whole."""
    before, after = (*outline[-1:], *outline[:-1]), (*outline[1:], *outline[:1])
    turns = [
        (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
        for a, b, c in zip(before, outline, after, strict=True)
    ]
    area = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(outline, after, strict=True))
    return [point for point, turn in zip(outline, turns, strict=True) if turn * area < 0]


def _above_fingers(layout: Layout, inner: Iterable[Point]) -> int | None:
    """How far the fingers begin from the nearest inner corner, counted towards the bevelled edge; None without one."""
    if layout.bevel is None:
        return None
    start, stop = layout.bevel
    along = 0 if start[0] == stop[0] else 1  # the axis that is upright on the edge
    edge = start[along]
    deep = max(
        abs(edge - (pad.x_um, pad.y_um)[along]) + (pad.width_um, pad.height_um)[along] // 2
        for pad in layout.pads
        if pad.finger
    )
    return min(abs(edge - point[along]) for point in inner) - deep


def _drills(layout: Layout) -> Iterator[str]:
    counts = Counter((via.drill_um, "plated, vias") for via in layout.vias)
    counts.update((pad.drill_um, "plated, pads") for pad in layout.pads if pad.drill_um)
    counts.update((hole.drill_um, "unplated") for hole in layout.holes)
    for (drill, kind), count in sorted(counts.items()):
        yield f"{drill / 1000:.3f} mm  {count:>4}  {kind}"
    if not counts:
        yield "none"


_PLACEMENT = ("part", "value", "side", "x_mm", "y_mm", "angle", "footprint")


def placement(layout: Layout) -> str:
    """Return where each part goes, as CSV: the middle of its pads in the fab's axes, its angle against the clock.

    Both are seen from the front, for parts on the back too. At 0 a part lies as the open library draws its footprint,
    on the back mirrored top to bottom.
    """
    frame = Frame.of(layout)
    rows: list[list[Any]] = []  # the figures are meant as numbers
    for part in layout.parts:
        x, y = (um / 1000 for um in frame.at(part.x_um, part.y_um))
        text = worded("part", part.ref), worded("value", part.value), part.side
        rows.append([*text, x, y, part.angle, worded("footprint", part.footprint)])
    return csv_text(_PLACEMENT, rows)


# ---------------------------------------------------------------------- job file, ZIP


def _job(layout: Layout, stem: str, made: Iterable[FabLayer], measure: Measured) -> bytes:
    """The job file that goes with Gerber layers (JSON; its names are from memory).

    It says no finish: it has room for one only, and which words it knows is not sure. The note says those of pads and
    fingers.
    """
    name, number, revision = project(layout)
    across, down = layout.size_um
    rules = layout.rules
    fingers = any(pad.finger for pad in layout.pads)
    gap = None if measure.gap_um is None else measure.gap_um / 1000
    gaps = ("PadToPad", "PadToTrack", "TrackToTrack", "TrackToRegion", "RegionToRegion")
    limits = {**dict.fromkeys(gaps, gap), "MinLineWidth": measure.track_um and measure.track_um / 1000}
    job = {
        "Header": {
            "GenerationSoftware": dict(zip(("Vendor", "Application", "Version"), SOFTWARE, strict=True)),
            "CreationDate": "{:04d}-{:02d}-{:02d}T{:02d}:{:02d}:{:02d}Z".format(*_DATE),
        },
        "GeneralSpecs": {
            "ProjectId": {"Name": name, "GUID": number, "Revision": revision},
            "Size": {"X": across / 1000, "Y": down / 1000},
            "LayerNumber": 2,
            "BoardThickness": rules.thickness_um / 1000,
            **({"EdgeConnector": True} if fingers else {}),
            **({"EdgeConnectorBevelled": True} if layout.bevel else {}),
        },
        "DesignRules": [{"Layers": "Outer", **{k: v for k, v in limits.items() if v is not None}}],
        "FilesAttributes": [
            {"Path": f"{stem}-{layer.name}", "FileFunction": layer.function, "FilePolarity": layer.polarity}
            for layer in made
        ],
        "MaterialStackup": list(_stackup(rules.copper_um, rules.thickness_um)),
    }
    return f"{json.dumps(job, indent=2, ensure_ascii=True)}\n".encode()


def _stackup(copper_um: int, thickness_um: int) -> Iterator[Mapping[str, object]]:
    """From the front to the back; the dielectric is what the copper leaves of the thickness."""
    outside = [("Legend", "silk"), ("SolderMask", "mask")]
    yield from ({"Type": kind, "Name": f"{name} front"} for kind, name in outside)
    yield {"Type": "Copper", "Thickness": copper_um / 1000, "Name": "copper front"}
    core = (thickness_um - 2 * copper_um) / 1000
    yield {"Type": "Dielectric", "Thickness": core, "Material": "FR4", "Name": "core"}
    yield {"Type": "Copper", "Thickness": copper_um / 1000, "Name": "copper back"}
    yield from ({"Type": kind, "Name": f"{name} back"} for kind, name in reversed(outside))


def _zip(files: Mapping[str, bytes]) -> bytes:
    """A ZIP with the files in the order of their names; not packed, as packers differ from machine to machine."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data in sorted(files.items()):
            entry = zipfile.ZipInfo(name, _DATE)
            entry.create_system = 3  # whatever the system
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, data)
    return packed.getvalue()
