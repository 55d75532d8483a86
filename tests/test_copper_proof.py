"""The proof of copper is itself proved: it finds every fault that is put in, and none in a board that is right."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from itertools import pairwise
from typing import Any

import copper_proof as proof
import pytest
from copper_proof import Copper, Node, Piece
from msgspec.structs import replace

from pinmap.board.layout import Area, Hole, Layer, Layout, Pad, Placed, Ring, Rules, Stroke, Text, Track, Via
from pinmap.writers import board_file
from pinmap.writers.fab import fab_files

WANTED: dict[str, frozenset[Node]] = {
    "GND": frozenset({("J1", "A1"), ("J2", "1"), ("C1", "2")}),
    "+5V": frozenset({("J1", "B2"), ("J2", "4"), ("C1", "1")}),
    "D0": frozenset({("J1", "A2"), ("J2", "3")}),
    "D1": frozenset({("J1", "B1"), ("J2", "2")}),
}
LIMITS = {"gap": 0.25, "width": 0.25, "ring": 0.15, "edge": 0.5}


def box(left: int, top: int, right: int, bottom: int) -> Ring:
    return (left, top), (right, top), (right, bottom), (left, bottom)


def around(x: int, y: int) -> Ring:
    return box(x - 1120, y - 1120, x + 1120, y + 1120)


def way(net: str, layer: Layer, *points: tuple[int, int], width: int = 250) -> list[Track]:
    return [Track(net, layer, *one, *other, width) for one, other in pairwise(points)]


def finger(number: str, net: str, x: int, layer: Layer) -> Pad:
    return Pad("J1", number, net, x, 20190, 1780, 7620, "rect", layer=layer, finger=True, function=f"finger {number}")


def pin(number: str, net: str, x: int, y: int) -> Pad:
    return Pad("J2", number, net, x, y, 1700, 1700, "rect" if number == "1" else "round", 1000, function=net)


@cache
def good() -> Layout:
    """Four fingers at the lower edge, a header of two rows turned by 90°, a capacitor on the back, an area a side."""
    return Layout(
        title='A "small" riser',
        groups={"+5V": "supply", "GND": "return", "D0": "data", "D1": "data"},
        rules=Rules(),
        outline=box(0, 0, 30000, 24000),
        parts=(
            Placed(
                "J1", "machine", "edge fingers", "front", 9270, 20190, 0, (7110, 16380, 11430, 24000), connector=True
            ),
            Placed("J2", "card", "Own:header 2x2", "front", 11270, 7270, 90, (9000, 5000, 13540, 9540)),
            Placed("C1", "100 nF", "0805", "back", 20000, 8000, 270, (19200, 6500, 20800, 9500), purpose="calm +5 V"),
        ),
        pads=(
            finger("A1", "GND", 8000, "front"),
            finger("A2", "D0", 10540, "front"),
            finger("B1", "D1", 8000, "back"),
            finger("B2", "+5V", 10540, "back"),
            pin("1", "GND", 10000, 8540),
            pin("2", "D1", 10000, 6000),
            pin("3", "D0", 12540, 8540),
            pin("4", "+5V", 12540, 6000),
            Pad("C1", "1", "+5V", 20000, 7050, 1450, 1000, "rect", layer="back"),
            Pad("C1", "2", "GND", 20000, 8950, 1450, 1000, "oval", layer="back"),
        ),
        tracks=(
            *way("GND", "front", (8000, 17000), (6000, 15000), (6000, 12000)),
            *way("D0", "front", (10540, 17000), (12540, 14500), (12540, 8540)),
            *way("D1", "back", (8000, 17000), (8000, 15200)),
            *way("D1", "front", (8000, 15200), (8000, 6000), (10000, 6000)),
            *way("+5V", "back", (10540, 17000), (10540, 15200), (14500, 15200), width=500),
            *way("+5V", "front", (14500, 15200), (14500, 4000), (12540, 4000), (12540, 6000), width=500),
            *way("+5V", "front", (14500, 4000), (20000, 4500), width=500),
            *way("+5V", "back", (20000, 4500), (20000, 7050), width=500),
        ),
        vias=(
            Via("GND", 6000, 12000, 600, 300),
            Via("D1", 8000, 15200, 600, 300),
            Via("+5V", 14500, 15200, 600, 300),
            Via("+5V", 20000, 4500, 600, 300),
            Via("GND", 24000, 4000, 600, 300),
            Via("GND", 24000, 12000, 600, 300),
        ),
        areas=(
            Area(
                "GND",
                "back",
                box(2000, 2000, 28000, 14000),
                (around(10000, 6000), around(12540, 6000), around(12540, 8540), box(19000, 3600, 21000, 7800)),
            ),
            Area("GND", "front", box(22000, 2000, 28000, 14000), (box(25000, 5000, 26000, 9000),)),
        ),
        holes=(Hole(26000, 20000, 3200),),
        strokes=(
            Stroke("front", ((8700, 4700), (13840, 4700), (13840, 9840), (8700, 9840), (8700, 4700)), part="J2"),
            Stroke("back", ((18500, 6200), (18500, 9800)), 200, "C1"),
            Stroke("front", ((2000, 22000), (5000, 22000))),
            Stroke("back", ((16000, 18000),)),
        ),
        texts=(
            Text("front", "J2", 11270, 3800, part="J2"),
            Text("front", "1", 8200, 9000, 800, 90, "J2"),
            Text("back", "C1", 22500, 8000, 1000, 270, "C1"),
            Text("front", "component side", 20000, 20000, 1200),
            Text("back", "solder side", 20000, 20000, 1200),
        ),
        bevel=((0, 24000), (30000, 24000)),
        notes=("contact 1 is at the bracket",),
    )


Read = Callable[[Layout], Copper]


def by_board(layout: Layout) -> Copper:
    return proof.from_board(board_file.text(layout))


def by_gerbers(layout: Layout) -> Copper:
    files = {name: data for name, data in fab_files(layout, "adapter").items() if name.endswith((".gbr", ".drl"))}
    left, bottom = min(x for x, _ in layout.outline), max(y for _, y in layout.outline)
    return proof.from_gerbers(files, left / 1000, bottom / 1000)


BOTH = pytest.mark.parametrize("read", [by_board, by_gerbers])


def measured(layout: Layout, copper: Copper) -> proof.Measured:
    def mm(points: Any) -> list[tuple[float, float]]:
        return [(x / 1000, y / 1000) for x, y in points]

    return proof.measured(copper, mm(layout.outline), mm(layout.bevel) if layout.bevel else None)


def told(layout: Layout, read: Read) -> list[str]:
    """All that the proof says of a board, without places and figures."""
    copper = read(layout)
    found = proof.faults(WANTED, proof.nets(copper))
    return found + [re.sub(r":.*", "", line) for line in measured(layout, copper).against(**LIMITS)]


# --- a board that is right --------------------------------------------------------------------


@BOTH
def test_a_board_that_is_right_has_its_nets_and_keeps_all_limits(read: Read) -> None:
    copper = read(good())
    assert sorted(map(sorted, proof.nets(copper))) == sorted(map(sorted, WANTED.values()))
    assert proof.faults(WANTED, proof.nets(copper)) == []
    assert proof.misnamed(copper) == []
    assert measured(good(), copper).against(**LIMITS) == []


@BOTH
def test_the_proof_measures_what_was_drawn(read: Read) -> None:
    found = measured(good(), read(good()))
    assert found.clearance["front"].mm == pytest.approx(0.76)
    assert found.clearance["back"].mm == pytest.approx(0.25, abs=1e-3)
    assert found.width.mm == pytest.approx(0.25)
    assert found.ring.mm == pytest.approx(0.15)
    assert found.edge.mm == pytest.approx(2.0)
    assert found.hole_edge.mm == pytest.approx(2.4)
    assert found.holes.mm == pytest.approx(1.54)
    assert found.islands == 0


def test_all_three_files_put_the_pads_where_the_layout_has_them() -> None:
    wanted: dict[Node, list[proof.Spot]] = {}
    for pad in good().pads:
        at = pad.x_um / 1000, pad.y_um / 1000
        wanted.setdefault((pad.ref, pad.number), []).extend((layer, *at) for layer in pad.layers)
    for read in (by_board, by_gerbers):
        spots = read(good()).spots
        assert {node: [(on, round(x, 6), round(y, 6)) for on, x, y in each] for node, each in spots.items()} == wanted
    points = proof.from_ipc356(fab_files(good(), "a")["a-netlist.ipc"], 0, 24)
    found = {(p.ref, p.pin): (round(p.x, 6), round(p.y, 6)) for p in points if p.ref}
    assert found == {node: spots[0][1:] for node, spots in wanted.items()}


def test_the_test_netlist_says_what_the_copper_is() -> None:
    points = proof.from_ipc356(fab_files(good(), "a")["a-netlist.ipc"], 0, 24)
    assert proof.tested(points) == WANTED
    assert proof.misplaced(by_gerbers(good()), points) == []
    assert proof.misplaced(by_board(good()), points) == []


@BOTH
def test_pads_may_be_asked_for_by_their_places_alone(read: Read) -> None:
    copper = read(good())
    places = {node: list(spots) for node, spots in copper.spots.items()}
    bare = Copper([Piece(p.layer, p.core, p.radius) for p in copper.pieces], copper.drills)
    assert proof.faults(WANTED, proof.nets(bare, places)) == []


# --- faults -----------------------------------------------------------------------------------


def without_track(layout: Layout, net: str, number: int) -> Layout:
    gone = [track for track in layout.tracks if track.net == net][number]
    return replace(layout, tracks=tuple(track for track in layout.tracks if track != gone))


def more(layout: Layout, *tracks: Track, vias: tuple[Via, ...] = ()) -> Layout:
    return replace(layout, tracks=(*layout.tracks, *tracks), vias=(*layout.vias, *vias))


def cut(layout: Layout) -> Layout:
    """A slit of 2 µm in a track."""
    rest = without_track(layout, "D0", 1)
    ends = way("D0", "front", (12540, 14500), (12540, 12000)) + way("D0", "front", (12540, 11748), (12540, 8540))
    return more(rest, *ends)


def swollen(layout: Layout) -> Layout:
    """The area on the back without the hole round pin 2 of J2."""
    area = layout.areas[0]
    return replace(layout, areas=(replace(area, holes=area.holes[1:]), *layout.areas[1:]))


def changed(layout: Layout, number: int, **changes: int) -> Layout:
    vias = list(layout.vias)
    vias[number] = replace(vias[number], **changes)
    return replace(layout, vias=tuple(vias))


FAULTS: dict[str, tuple[Callable[[Layout], Layout], list[str]]] = {
    "a track cut by 2 µm": (cut, ["open: D0, in 2 pieces", "clearance on the front"]),
    "a track missing": (lambda board: without_track(board, "+5V", 5), ["open: +5V, in 2 pieces"]),
    "two tracks bridged": (
        lambda board: more(board, *way("D0", "front", (12540, 12000), (14500, 12000))),
        ["joined: +5V and D0"],
    ),
    "an area on a foreign pad": (swollen, ["joined: D1 and GND"]),
    "a via missing": (
        lambda board: replace(board, vias=board.vias[1:]),
        ["open: GND, in 2 pieces"],
    ),
    "vias to an area missing": (lambda board: replace(board, vias=board.vias[:4]), ["islands"]),
    "a ring too small": (lambda board: changed(board, 1, size_um=500), ["ring"]),
    "a hole where no copper is": (
        lambda board: changed(board, 1, x_um=3000, y_um=18000),
        ["open: D1, in 2 pieces", "islands"],
    ),
    "a drill too large": (lambda board: changed(board, 1, drill_um=420), ["ring"]),
    "a track too thin": (
        lambda board: more(board, *way("D1", "front", (8000, 6000), (8000, 5000), width=200)),
        ["width"],
    ),
    "tracks too close": (
        lambda board: more(board, *way("D1", "front", (8000, 6000), (8000, 4000), (11000, 4000), (11950, 4000))),
        ["clearance on the front"],
    ),
    "copper at the edge": (
        lambda board: more(board, *way("D1", "front", (8000, 6000), (8000, 600))),
        ["edge"],
    ),
    "copper over the edge": (
        lambda board: more(board, *way("D1", "front", (8000, 6000), (-500, 6000))),
        ["edge"],
    ),
    "a track at the bevelled edge": (
        lambda board: more(board, *way("D0", "front", (10540, 23700), (14000, 23700))),
        ["edge"],
    ),
    "holes too close": (
        lambda board: more(board, vias=(Via("GND", 24450, 4000, 600, 300),)),
        ["web between holes"],
    ),
    "a hole in foreign copper": (
        lambda board: replace(board, holes=(*board.holes, Hole(8000, 13000, 500))),
        ["hole to other copper"],
    ),
    "copper off the board": (
        lambda board: more(board, *way("D0", "front", (36000, 18000), (40000, 18000))),
        ["edge", "islands"],
    ),
    "a hole off the board": (
        lambda board: replace(board, holes=(Hole(36000, 20000, 3200),)),
        ["edge of a hole"],
    ),
    "a hole at the edge": (
        lambda board: replace(board, holes=(Hole(26000, 22200, 3200),)),
        ["edge of a hole"],
    ),
    "copper of no net": (
        lambda board: more(board, *way("D0", "front", (16000, 18000), (20000, 18000))),
        ["islands"],
    ),
}


@BOTH
@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_put_in_is_found_and_no_other(fault: str, read: Read) -> None:
    change, wanted = FAULTS[fault]
    assert told(change(good()), read) == wanted


@BOTH
def test_names_that_lie_are_found(read: Read) -> None:
    layout = good()
    tracks = tuple(replace(track, net="D1") if track.net == "D0" else track for track in layout.tracks)
    copper = read(replace(layout, tracks=tracks))
    assert proof.misnamed(copper) == ["joined: D0 and D1", "open: D1, in 2 pieces"]
    assert proof.faults(WANTED, proof.nets(copper)) == []


def test_a_test_netlist_that_lies_is_found() -> None:
    layout = good()
    swapped = {"D0": "D1", "D1": "D0"}
    pads = tuple(replace(p, net=swapped.get(p.net, p.net)) if p.ref == "J2" else p for p in layout.pads)
    points = proof.from_ipc356(fab_files(replace(layout, pads=pads), "a")["a-netlist.ipc"], 0, 24)
    assert proof.misplaced(by_board(layout), points) == [
        "joined: D0 and D1",
        "joined: D0 and D1",
        "open: D0",
        "open: D1",
    ]
    moved = proof.from_ipc356(fab_files(layout, "a")["a-netlist.ipc"], 0, 25)
    assert "no copper: J2 2 of D1" in proof.misplaced(by_board(layout), moved)


def test_pads_without_copper_are_joined_to_nothing_and_pads_that_are_not_there_are_missed() -> None:
    nowhere: dict[Node, list[proof.Spot]] = {("X", "1"): [("front", 4.0, 20.0)], ("X", "2"): [("front", 5.0, 20.0)]}
    found = proof.nets(by_board(good()), nowhere)
    assert sorted(map(sorted, found)) == [[("X", "1")], [("X", "2")]]
    assert proof.faults({"A": list(nowhere)}, found) == ["open: A, in 2 pieces"]
    assert proof.faults({"A": [("X", "1"), ("X", "3")]}, found) == ["missing: X 3 of A"]
    assert proof.faults({"A": [("X", "1")]}, [frozenset({("X", "1"), ("Y", "9")})]) == ["joined: A and pad Y 9"]


# --- names ------------------------------------------------------------------------------------


def test_names_that_no_column_holds_come_back_whole() -> None:
    def long(words: str) -> str:
        return f"{words} that is µ longer"

    layout = good()
    layout = replace(
        layout,
        groups={long(name): group for name, group in layout.groups.items()},
        parts=tuple(replace(part, ref=long(part.ref)) for part in layout.parts),
        pads=tuple(replace(p, ref=long(p.ref), number=long(p.number), net=long(p.net)) for p in layout.pads),
        tracks=tuple(replace(track, net=long(track.net)) for track in layout.tracks),
        vias=tuple(replace(via, net=long(via.net)) for via in layout.vias),
        areas=tuple(replace(area, net=long(area.net)) for area in layout.areas),
    )
    wanted = {long(net): frozenset((long(ref), long(pin)) for ref, pin in nodes) for net, nodes in WANTED.items()}
    points = proof.from_ipc356(fab_files(layout, "a")["a-netlist.ipc"], 0, 24)
    assert proof.tested(points) == wanted
    for read in (by_board, by_gerbers):
        assert proof.faults(wanted, proof.nets(read(layout))) == []
        assert proof.misnamed(read(layout)) == []


# --- what Gerbers can say ---------------------------------------------------------------------

HEAD = """\
%FSLAX46Y46*%
%MOMM*%
%LPD*%
G75*
G01*
%ADD10C,0.500000*%
%ADD11R,2.000000X1.000000*%
%ADD12O,1.000000X3.000000*%
%ADD13C,3.000000X2.000000*%
%AMTWO*1,1,1.000000,-2.000000,0*1,1,1.000000,2.000000,0*%
%ADD14TWO*%
%AMRING*1,1,3.000000,0,0*1,0,2.000000,0,0*%
%ADD15RING*%
"""


def drawn(*lines: str, back: str = "", drill: str = "", bare: str = "") -> Copper:
    """Copper from what is drawn on the front: flashes as "10 at 1,2", the rest as it stands."""

    def at(match: re.Match[str]) -> str:
        x, y = (round(float(value) * 1_000_000) for value in match[2].split(","))
        return f"D{match[1]}*\nX{x}Y{y}D03*"

    def mm(match: re.Match[str]) -> str:
        return f"{match[1]}{round(float(match[2]) * 1_000_000)}"

    def file(text: str) -> bytes:
        text = re.sub(r"(\d+) at ([-\d.,]+)", at, text)
        body = [re.sub(r"([XYIJ])(-?\d+\.\d*)", mm, line) for line in text.split("\n")]
        return (HEAD + "\n".join(body) + "\nM02*\n").encode()

    def holes(text: str) -> bytes:
        return f"M48\nMETRIC\nT01C0.400\n%\nG05\nT01\n{text}\nM30\n".encode()

    files = {"copper-front.gbr": file("\n".join(lines)), "copper-back.gbr": file(back), "plated.drl": holes(drill)}
    return proof.from_gerbers({**files, "unplated.drl": holes(bare)})


def parts(copper: Copper, *spots: tuple[float, float], layer: str = "front") -> list[list[int]]:
    """Which of some points, y upwards, hang together; those without copper are left out."""
    places = {(str(n), ""): [(layer, x, -y)] for n, (x, y) in enumerate(spots)}
    on = [group for group in proof.nets(copper, places) if len(group) > 1 or _on(copper, spots, group, layer)]
    return sorted(sorted(int(number) for number, _ in group) for group in on)


def _on(copper: Copper, spots: tuple[tuple[float, float], ...], group: frozenset[Node], layer: str) -> bool:
    x, y = spots[int(next(iter(group))[0])]
    return len(copper.around(layer, [(x, -y)], proof.TOUCH_MM)[0]) > 0


SQUARE = "G36*\nX0.0Y0.0D02*\nX10.0Y0.0D01*\nX10.0Y10.0D01*\nX0.0Y10.0D01*\nX0.0Y0.0D01*\nG37*"
ACROSS = "D10*\nX-1.0Y5.0D02*\nX11.0Y5.0D01*"


@pytest.mark.parametrize(
    ("lines", "wanted"),
    [
        ((SQUARE,), [[0, 1, 2]]),
        ((SQUARE, "%LPC*%", ACROSS), [[0], [1]]),
        ((SQUARE, "%LPC*%", ACROSS, "%LPD*%"), [[0], [1]]),
        (("%LPC*%", ACROSS, "%LPD*%", SQUARE), [[0, 1, 2]]),
        ((SQUARE, "%LPC*%", ACROSS, "%LPD*%", "10 at 5,5"), [[0, 1, 2]]),
        ((SQUARE, "%LPC*%", ACROSS, "%LPD*%", "D10*", "X5.0Y5.0D02*", "X5.0Y6.0D01*"), [[0, 1, 2]]),
    ],
)
def test_what_is_clear_takes_away_what_came_before_and_nothing_after(
    lines: tuple[str, ...], wanted: list[list[int]]
) -> None:
    assert parts(drawn(*lines), (2, 2), (2, 8), (5, 5)) == wanted


def test_a_ring_has_nothing_inside_whether_aperture_or_macro() -> None:
    for ring in ("13 at 0,0", "15 at 0,0"):
        copper = drawn(ring, "10 at 0,0")
        assert parts(copper, (0, 0), (1.25, 0), (0.8, 0)) == [[0], [1]]
        assert measured_gap(copper) == pytest.approx(0.75, abs=1e-3)


def measured_gap(copper: Copper) -> float:
    return proof.measured(copper, [(-50, -50), (50, -50), (50, 50), (-50, 50)]).clearance["front"].mm


@pytest.mark.parametrize(
    ("lines", "gap"),
    [
        (("10 at 0,0", "10 at 1,0"), 0.5),
        (("11 at 0,0", "10 at 2,0"), 0.75),
        (("11 at 0,0", "10 at 0,1.5"), 0.75),
        (("12 at 0,0", "10 at 0,2.5"), 0.75),
        (("12 at 0,0", "10 at 1,0"), 0.25),
        (("12 at 0,0", "10 at 0.9,1.9"), (0.9**2 + 0.9**2) ** 0.5 - 0.75),
        (("14 at 0,0", "10 at 3,0"), 0.25),
    ],
)
def test_apertures_have_the_size_that_they_say(lines: tuple[str, ...], gap: float) -> None:
    assert measured_gap(drawn(*lines)) == pytest.approx(gap, abs=1e-3)


def test_an_arc_goes_round_the_way_that_it_says() -> None:
    quarter = "D10*\nX5.0Y0.0D02*\nG03*\nX0.0Y5.0I-5.0J0.0D01*\nG01*"
    rest = "D10*\nX5.0Y0.0D02*\nG02*\nX0.0Y5.0I-5.0J0.0D01*\nG01*"
    short, long = (3.5355, 3.5355), (-3.5355, -3.5355)
    assert parts(drawn(quarter), short, long) == [[0]]
    assert parts(drawn(rest), short, long) == [[1]]
    assert measured_gap(drawn(quarter, "10 at 2.4,3.2")) == pytest.approx(0.5, abs=1e-3)


def test_a_region_may_be_bounded_by_arcs() -> None:
    disc = "G36*\nX5.0Y0.0D02*\nG03*\nX-5.0Y0.0I-5.0J0.0D01*\nX5.0Y0.0I5.0J0.0D01*\nG01*\nG37*"
    copper = drawn(disc, "10 at 6,0")
    assert sum(piece.shape.area for piece in copper.pieces) == pytest.approx(78.54 + 0.196, abs=0.02)
    assert measured_gap(copper) == pytest.approx(0.75, abs=1e-3)


def test_a_region_may_be_cut_in_to_a_hole() -> None:
    points = ["0,0", "10,0", "10,10", "0,10", "0,5", "3,5", "3,7", "7,7", "7,3", "3,3", "3,5", "0,5"]
    path = [f"X{float(x)}Y{float(y)}D0{2 if not n else 1}*" for n, (x, y) in enumerate(p.split(",") for p in points)]
    copper = drawn("G36*", *path, "X0.0Y0.0D01*", "G37*", "10 at 6,5")
    assert parts(copper, (1, 1), (9, 9), (6, 5)) == [[0, 1], [2]]
    assert measured_gap(copper) == pytest.approx(0.75)


def test_only_a_plated_hole_joins_the_layers() -> None:
    def joined(**holes: str) -> list[list[int]]:
        copper = drawn("10 at 0,0", back="10 at 0,0", **holes)
        places = {("a", ""): [("front", 0.0, 0.0)], ("b", ""): [("back", 0.0, 0.0)]}
        return [sorted(len(group) for group in proof.nets(copper, places))]

    alone = proof.nets(drawn("10 at 0,0", back="10 at 0,0"), {("a", ""): [("front", 0.0, 0.0), ("back", 0.0, 0.0)]})
    assert proof.faults({"A": [("a", "")]}, alone) == ["open: A, between the layers"]
    assert joined() == [[1, 1]]
    assert joined(drill="X0.0Y0.0") == [[2]]
    assert joined(bare="X0.0Y0.0") == [[1, 1]]
    assert joined(drill="X0.44Y0.0") == [[2]]
    assert joined(drill="X0.46Y0.0") == [[1, 1]]


def test_a_ring_that_is_off_its_hole_is_measured_where_it_is_thinnest() -> None:
    copper = drawn("10 at 0,0", back="10 at 0,0", drill="X0.02Y0.0")
    found = proof.measured(copper, [(-5, -5), (5, -5), (5, 5), (-5, 5)])
    assert found.ring.mm == pytest.approx(0.25 - 0.2 - 0.02)
    copper = drawn("10 at 0,0", drill="X0.0Y0.0")
    found = proof.measured(copper, [(-5, -5), (5, -5), (5, 5), (-5, 5)])
    assert found.ring.mm == pytest.approx(-0.2)
