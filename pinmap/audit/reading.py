"""Reads what somebody drew, by the ending of its name."""

from __future__ import annotations

from pathlib import Path

from ..errors import Place, UnreadableError
from ..text import quoted
from .drawn import Drawn

ENDINGS = (".net", ".kicad_sch", ".kicad_pcb")


def read(path: str | Path) -> Drawn:
    """Read a netlist, a schematic or a board. Raises `UnreadableError` or `SeveralErrors`."""
    ending = Path(path).suffix.lower()
    if ending == ".net":
        from .netlist import read as netlist

        return netlist(path)
    if ending == ".kicad_sch":
        from .schematic import read as schematic

        return schematic(path)
    if ending == ".kicad_pcb":
        from .board import read as board

        return board(path)
    what = quoted(ending) if ending else "none"
    raise UnreadableError(
        f"a drawing must have the ending {', '.join(ENDINGS[:-1])} or {ENDINGS[-1]}, not {what}", place=Place(str(path))
    )
