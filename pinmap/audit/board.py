"""A board file as what it connects: once by the names of nets, once by what touches in copper."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path

from ..errors import Place, UnreadableError
from ..text import natural, quoted, visible
from .board_reader import Pad, Reader
from .board_values import MAX_TOLD, most
from .copper import Copper, Groups, TooMuchError, join, where
from .drawn import Drawn, DrawnNet, Node
from .source import parsed, read_bytes


def read(path: str | os.PathLike[str]) -> Drawn:
    """Read a board (.kicad_pcb): its parts, its nets by name, and its nets in copper.

    `nets` have every pad with a number that the file puts in a net. `copper` has the groups of two and more pads that
    copper joins: tracks, vias, pads, graphics and zones as filled; its names are those that the file gives to what is
    in the group, joined with " + " where there are several, and its place is where these first meet. Pads of one number
    in one part are one pin and count as joined by it. A second part of the same reference is called after its line:
    "J1 (line 40)". `remarks` say what does not count and why, and where copper of two nets touches.

    Raises `UnreadableError`, or `SeveralErrors`, for what is no board, is broken, or exceeds a bound of
    `source`, `board_values`, `board_reader` or `copper`.
    """
    shown = visible(os.fspath(path))
    board = Reader(parsed(read_bytes(Path(path), shown), shown, "kicad_pcb"))
    nets, joined = _named(board)
    copper, met = _in_copper(board)
    remarks = (*board.remarks, *most(joined, "such pins"), *met)
    return Drawn(board.file.shown, "board", board.parts, nets, copper, remarks)


def _named(board: Reader) -> tuple[tuple[DrawnNet, ...], list[str]]:
    """The nets by name. Where pads of one pin have several names, the nets are one, for the pin joins them."""
    names = sorted({pad.net for pad in board.pads if pad.net}, key=_by_name)
    numbers = {name: number for number, name in enumerate(names)}
    groups = Groups(len(names))
    first: dict[Node, str] = {}
    told = []
    for pad in board.pads:
        if pad.net and first.setdefault(pad.node, pad.net) != pad.net:
            groups.join(numbers[first[pad.node]], numbers[pad.net])
            told.append(
                f"the pads {quoted(pad.node[1])} of {quoted(pad.node[0])} are one pin, which joins the nets "
                f"{quoted(first[pad.node])} and {quoted(pad.net)} (line {pad.branch.line})"
            )
    nodes, places = _gathered((pad, groups.find(numbers[pad.net])) for pad in board.pads if pad.net)
    called: dict[int, list[str]] = {}
    for name in names:
        called.setdefault(groups.find(numbers[name]), []).append(name)
    return tuple(DrawnNet(_several(called[g]), frozenset(nodes[g]), places[g]) for g in sorted(nodes)), told


def _in_copper(board: Reader) -> tuple[tuple[DrawnNet, ...], list[str]]:
    """The nets in copper, and a sentence for each place where copper of different nets touches."""
    copper = board.copper
    groups = Groups(board.bodies)
    bodies: dict[Node, int] = {}
    for pad in board.pads:
        for body in pad.bodies:
            groups.join(bodies.setdefault(pad.node, body), body)
    meetings: list[tuple[int, int]] = []
    try:
        meetings += join(copper, groups)
    except TooMuchError as error:
        raise UnreadableError(
            "the copper of a board must not lie on itself thousands of times over, as it does here",
            place=Place(board.file.shown, copper[error.number].line, 1),
        ) from None
    nodes, places = _gathered((pad, groups.find(pad.bodies[0])) for pad in board.pads if pad.bodies)
    names: dict[int, set[str]] = {}
    for each in copper:
        names.setdefault(groups.find(each.body), set()).add(each.net)
    told: list[tuple[int, int]] = []
    first: set[int] = set()
    for one, other in sorted(meetings):
        group = groups.find(copper[one].body)
        if len(names[group] - {""}) < 2:
            continue  # copper without a net belongs to the net that it touches, unless that are two
        told.append((one, other))
        if group not in first:
            first.add(group)
            places[group] = Place(board.file.shown, max(copper[one].line, copper[other].line), 1)
    nets = [DrawnNet(_several(names[g]), frozenset(found), places[g]) for g, found in nodes.items() if len(found) > 1]
    nets.sort(key=lambda net: (_by_name(net.name), sorted((*_by_name(ref), *_by_name(pad)) for ref, pad in net.nodes)))
    met = [_meeting(copper[one], copper[other]) for one, other in told[:MAX_TOLD]]
    if len(told) > MAX_TOLD:
        met.append(f"{len(told) - MAX_TOLD} more such places")
    return tuple(nets), met


def _gathered(found: Iterable[tuple[Pad, int]]) -> tuple[dict[int, set[Node]], dict[int, Place]]:
    """The pins of each group, and where its first pad stands."""
    nodes: dict[int, set[Node]] = {}
    places: dict[int, Place] = {}
    for pad, group in found:
        nodes.setdefault(group, set()).add(pad.node)
        places.setdefault(group, pad.branch.place)
    return nodes, places


def _meeting(one: Copper, other: Copper) -> str:
    x, y = where(one, other)
    first, second = (
        f"{each.what} of {f'net {quoted(each.net)}' if each.net else 'no net'} (line {each.line})"
        for each in (one, other)
    )
    return f"{first} touches {second} on {one.layer} at {x:.2f}, {y:.2f} mm"


def _by_name(name: str) -> tuple[tuple[tuple[int, int, str], ...], str]:
    return natural(name), name


def _several(names: Iterable[str]) -> str:
    """The names that joined nets go by, in order, no more than four of them."""
    known = sorted((name for name in names if name), key=_by_name)
    return " + ".join(known if len(known) < 5 else [*known[:3], f"{len(known) - 3} more"])
