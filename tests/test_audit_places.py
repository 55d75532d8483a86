"""Where the pads of a board's connectors lie: a mirrored footprint is wired right by every name and all its copper."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from boards import Board, made
from faults.drawings import PLANS, planned
from handmade import strip

from pinmap.audit.drawn import Drawn, DrawnPart, PadSpot
from pinmap.audit.footprint import Lie, lie
from pinmap.audit.judging import Audit, audit
from pinmap.audit.reading import read

OAKMERE = ("oakmere-88", "isa-8bit")
BRINDLE = ("brindle-portable", "isa-8bit")
MUST = "must lie on the board as the contacts of"


def moved(board: Board, ref: str, way: Callable[[float, float], tuple[float, float]]) -> Board:
    """The board with the pads of one connector elsewhere and no copper: places need none."""
    pads = [replace(pad, at=way(*pad.at)) if pad.ref == ref else pad for pad in board.pads]
    return Board(pads, [], [], [], board.values)


def judged(board: Board, folder: Path, names: tuple[str, ...] = OAKMERE, side: str = "F.Cu") -> Audit:
    path = folder / "b.kicad_pcb"
    path.write_text(board.text(side=side), "utf-8")
    return audit(read(path), planned(names))


def places(result: Audit) -> list[tuple[str, str]]:
    return [(f.grade, f.message) for f in result.findings if f.code == "audit-pad-places"]


def fingers(board: Board, ref: str, *, swapped: bool = False, up: bool = False) -> Board:
    """The board with one connector as fingers at its lower end: the upper row seen from the edge on the front."""
    own = board.of(ref)
    top, low = min(p.at[1] for p in own), 100.0 if not up else -100.0
    pads = []
    for pad in board.pads:
        if pad.ref == ref:
            front = (pad.at[1] == top) != swapped
            x = -pad.at[0] if up else pad.at[0]
            layers = '"F.Cu"' if front else '"B.Cu"'
            pads.append(replace(pad, at=(x, low), kind="connect", shape="rect", layers=layers, more=""))
        else:
            pads.append(pad)
    return Board(pads, [], [], [], board.values)


@pytest.mark.parametrize("names", PLANS, ids=" ".join)
@pytest.mark.parametrize("angle", [0, 90, 180, 270, 33.3])
def test_pads_as_planned_are_right_however_the_board_is_turned(
    names: tuple[str, ...], angle: float, tmp_path: Path
) -> None:
    assert places(judged(made(planned(names)).turned(angle), tmp_path, names)) == []


def test_connectors_on_the_back_are_right_when_they_are_turned_over(tmp_path: Path) -> None:
    board = made(planned(OAKMERE))
    assert places(judged(board.flipped(), tmp_path, side="B.Cu")) == []
    there = [m.split(" must")[0] for _, m in places(judged(board, tmp_path, side="B.Cu"))]
    assert there == ["the pads of J1", "the pads of J2"]


def test_a_mirrored_footprint_is_found_though_every_net_and_all_copper_is_as_planned(tmp_path: Path) -> None:
    for flip in (lambda x, y: (-x, y), lambda x, y: (x, -y)):
        result = judged(moved(made(planned(OAKMERE)), "J1", flip), tmp_path)
        assert result.verdict == "do not apply power"
        assert all(set(net.states) == {"agrees"} for net in result.nets)
        assert places(result) == [
            (
                "danger",
                f"the pads of J1 {MUST} a socket header do, seen from its mating face; they are mirrored: the "
                "footprint of what plugs into it, or soldered from the other side",
            )
        ]
        assert result.findings[0].code == "audit-pad-places"
        assert result.findings[0].advice == "Only if it is soldered to the back and not to the front it is right"


def test_pads_numbered_otherwise_are_named_by_the_mistake(tmp_path: Path) -> None:
    board = made(planned(OAKMERE))
    at = {pad.number: pad.at for pad in board.of("J1")}
    # Zigzag pads with the numbers of one row after the other.
    serial = {str(n): at[str(2 * n - 1 if n <= 32 else 2 * (n - 32))] for n in range(1, 65)}
    pads = [replace(p, at=serial[p.number]) if p.ref == "J1" else p for p in board.pads]
    said = places(judged(Board(pads, [], [], [], board.values), tmp_path))
    assert len(said) == 1
    assert said[0][0] == "danger"
    assert "they lie as if numbered" in said[0][1]


def test_pads_in_no_known_order_are_told_as_that(tmp_path: Path) -> None:
    board = made(planned(OAKMERE))
    at = {pad.number: pad.at for pad in board.of("J1")}
    at["3"], at["40"] = at["40"], at["3"]
    pads = [replace(p, at=at[p.number]) if p.ref == "J1" else p for p in board.pads]
    said = places(judged(Board(pads, [], [], [], board.values), tmp_path))
    assert [m.rpartition("; ")[2] for _, m in said] == ["they lie in another order or other places"]


@pytest.mark.parametrize(
    ("pitch", "said"),
    [
        (2.54, []),
        (2.52, []),
        (2.5, ["they are 2.50 mm apart along the rows, not 2.54 mm"]),
        (2.0, ["they are 2.00 mm apart along the rows, not 2.54 mm"]),
    ],
)
def test_another_pitch_is_told_in_mm(pitch: float, said: list[str], tmp_path: Path) -> None:
    board = moved(made(planned(OAKMERE)), "J1", lambda x, y: (x * pitch / 2.54, y))
    result = places(judged(board, tmp_path))
    assert [message.rpartition("; ")[2] for _, message in result] == said
    assert {grade for grade, _ in result} <= {"fault"}


def test_rows_further_apart_than_the_contacts_are_the_tails_of_a_slot(tmp_path: Path) -> None:
    assert places(judged(moved(made(planned(OAKMERE)), "J2", lambda x, y: (x, y * 2)), tmp_path)) == []


@pytest.mark.parametrize("up", [False, True])
@pytest.mark.parametrize("angle", [0, 90, 215])
def test_fingers_are_seen_from_their_edge(up: bool, angle: float, tmp_path: Path) -> None:
    board = made(planned(BRINDLE))
    assert places(judged(fingers(board, "J1", up=up).turned(angle), tmp_path, BRINDLE)) == []
    wrong = places(judged(fingers(board, "J1", up=up, swapped=True).turned(angle), tmp_path, BRINDLE))
    assert [(grade, message.split("; ")[1][:19]) for grade, message in wrong] == [("danger", "they are mirrored: ")]


def test_a_connector_of_one_row_cannot_lie_mirrored() -> None:
    body = strip(6)
    labels = {label: label for label in body.labels}
    one = DrawnPart("J1", spots={label: PadSpot(-2.54 * i, 0, "both") for i, label in enumerate(labels)})
    assert lie(body, labels, one, Drawn("b", "board", {"J1": one}, ())) is None
    odd = DrawnPart("J1", spots={label: PadSpot(2.54 * (i ^ 1), 0, "both") for i, label in enumerate(labels)})
    assert lie(body, labels, odd, Drawn("b", "board", {"J1": odd}, ())) == Lie(numbered="")


def test_a_drawing_without_places_tells_nothing() -> None:
    body = strip(6)
    part = DrawnPart("J1")
    assert lie(body, {label: label for label in body.labels}, part, Drawn("n", "netlist", {"J1": part}, ())) is None
