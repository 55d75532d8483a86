"""What the terminal says of a finished board, the report beside its files, and the same as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..board.making import Board
from ..text import count
from .json_output import FORMAT
from .screen import wrapped
from .tables import escaped

_CAUTIONS = (
    "Print both pictures at 100 % and lay every connector on its outline before the order goes out: rows, ends, "
    "contact 1, the side that it is soldered to.",
    "Look at the layers with a viewer of your own; the fab builds what the files say, not what was meant.",
    "Before a board meets the machine: check supplies and returns with a meter as in the wiring table, without power. "
    "Never plug or unplug under power.",
)


def first_line(board: Board) -> str:
    """The answer in one line."""
    width, height = board.layout.size_um
    return (
        f"routed: {count(board.nets, 'net')} in {count(board.tracks, 'track')} on {width / 1000:.1f} × "
        f"{height / 1000:.1f} mm"
    )


def figures(board: Board) -> tuple[str, ...]:
    """What the router did."""
    layout = board.layout
    return (
        f"{count(board.tracks, 'track')} between the connectors, where no fewer than {board.density} can do; "
        f"{count(board.straight, 'net')} straight across",
        f"{count(len(layout.tracks), 'piece')} of track, {count(len(layout.vias), 'via')}, "
        f"{count(len(layout.areas), 'filled area')} of the return",
    )


def text(board: Board, files: Sequence[str] = ()) -> str:
    """The answer, how the card stands, what the supplies take, and the files."""
    lines = [first_line(board), ""]
    for each in (*board.words, *figures(board)):
        lines += wrapped(each, "    ", "  ")
    if board.adapter.verdict != "build":
        lines += ["", *wrapped(f"The plan says {board.adapter.verdict}: see `pinmap adapt`.", "    ", "  ")]
    if files:
        lines += ["", *(f"  written: {name}" for name in files)]
    return "\n".join(lines)


def markdown(board: Board) -> str:
    """The report beside the files."""
    layout = board.layout
    title = f"# {escaped(layout.title)}: the board"
    lines = [title, "", f"{first_line(board)}. The plan says *{board.adapter.verdict}*.", ""]
    lines += ["## How it stands", "", *(f"- {escaped(each)}" for each in board.standing), ""]
    lines += ["## Supplies and returns", "", *(f"- {escaped(each)}" for each in board.supplies), ""]
    lines += ["## Routing", "", *(f"- {escaped(each)}" for each in (*board.besides, *figures(board))), ""]
    lines += ["## Before it goes out", "", *(f"- {each}" for each in _CAUTIONS), ""]
    return "\n".join(lines)


def as_json(board: Board, files: Sequence[str]) -> dict[str, Any]:
    """The result of `board`, format 1."""
    width, height = board.layout.size_um
    return {
        "format": FORMAT,
        "title": board.layout.title,
        "plan_verdict": board.adapter.verdict,
        "width_mm": width / 1000,
        "height_mm": height / 1000,
        "nets": board.nets,
        "tracks": board.tracks,
        "density": board.density,
        "straight": board.straight,
        "words": list(board.words),
        "files": list(files),
    }
