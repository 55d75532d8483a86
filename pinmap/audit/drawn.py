"""A drawing as what it connects: parts with pads, and nets, whatever file they came from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct

from ..errors import NOWHERE, Place

Kind = Literal["netlist", "schematic", "board"]
Node = tuple[str, str]  # (reference, pad)


Face = Literal["front", "back", "both"]


class PadSpot(Struct, frozen=True):
    """Where a pad lies on a board, seen from the front, y downwards, in mm; a plated hole is on both faces."""

    x_mm: float
    y_mm: float
    face: Face


class DrawnPart(Struct, frozen=True):
    """A part of the drawing. `pads` are (pad, name of the pin), the name "" where the file has none.

    On a board `spots` say where the pads lie, of several with one number the first; `behind` whether the part is
    mounted on the back.
    """

    ref: str
    value: str = ""
    footprint: str = ""
    pads: tuple[tuple[str, str], ...] = ()
    place: Place = NOWHERE
    spots: Mapping[str, PadSpot] = {}
    behind: bool = False


class DrawnNet(Struct, frozen=True):
    """Pads that are joined. Names of nets mean nothing but to the person who reads; "" where there is none."""

    name: str
    nodes: frozenset[Node]
    place: Place = NOWHERE


class Drawn(Struct, frozen=True):
    """A file, read. `nets` are those that the drawing says by name or wire.

    `copper` are those that touch in copper: tracks, vias, pads and zones as filled; None for what is no board. A pad
    that stands in no net is connected to nothing. `remarks` say what the reader passed over or took for granted.
    """

    file: str
    kind: Kind
    parts: Mapping[str, DrawnPart]
    nets: tuple[DrawnNet, ...]
    copper: tuple[DrawnNet, ...] | None = None
    remarks: tuple[str, ...] = ()
