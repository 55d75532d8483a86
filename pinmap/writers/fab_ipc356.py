r"""The netlist against which a fab tests a bare board: IPC-D-356A, in thousandths of a millimetre.

Columns and codes as in a summary of the standard; JOB, VER and IMAGE from memory. gerbonara reads the file back in the
tests; its own writer loses pin numbers.

A name that its column can't hold stands under an alias: a net as NNAME1, NNAME2 and so on, with a record that gives its
name; a reference or pin as #1, #2, with a comment. What is not ASCII is given as \u or \U and its number. A text too
long for its record ends in three dots, a net's name in ~ and the number of its alias. A pad or hole larger than four
digits can say is written as 9.999 mm, and a comment gives its size.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from ..board.layout import Layout, Pad
from .fab_gerber import Frame

_WIDTH = 80
_NET, _REF, _PIN = 14, 6, 4
_MOST_UM, _MOST_SIZE_UM = 999_999, 9_999
_PLAIN = re.compile(r"[!-~]+")
_UNCONNECTED = "N/C"


def netlist(layout: Layout) -> bytes:
    """Return the netlist of a board: its pads, vias, unplated holes and outline.

    Raises `ValueError` for a board too large for the format: its coordinates have six digits.
    """
    nets = _aliases([*(p.net for p in layout.pads), *(v.net for v in layout.vias)], _NET, "NNAME", (_UNCONNECTED,))
    refs = _aliases((p.ref for p in layout.pads), _REF, "#", ("VIA",))
    pins = _aliases((p.number for p in layout.pads), _PIN, "#", ())
    lines = [
        _cut("P  JOB", layout.title),
        "P  UNITS CUST 1",
        "P  VER IPC-D-356A",
        "P  IMAGE PRIMARY",
        *(_named(alias, net) for net, alias in nets.items() if alias != net),
        *(_cut(f"C  part {alias}:", ref) for ref, alias in refs.items() if alias != ref),
        *(_cut(f"C  pin {alias}:", pin) for pin, alias in pins.items() if alias != pin),
        *dict.fromkeys(_large(layout, refs)),
    ]
    frame = Frame.of(layout)
    for pad in layout.pads:
        front, tail = f"{refs[pad.ref]:<{_REF}}-{pins[pad.number]:<{_PIN}} ", _tail(pad)
        access = 0 if pad.drill_um else 1 if pad.layer == "front" else 2
        lines.append(
            f"{'317' if pad.drill_um else '327'}{nets[pad.net] or _UNCONNECTED:<{_NET}}   {front}"
            f"{_hole(pad.drill_um, 'P')}A{access:02d}{_at(frame, pad.x_um, pad.y_um)}{tail}"
        )
    for via in layout.vias:
        lines.append(
            f"317{nets[via.net] or _UNCONNECTED:<{_NET}}   {'VIA':<{_REF}}-{'':<{_PIN}} {_hole(via.drill_um, 'P')}A00"
            f"{_at(frame, via.x_um, via.y_um)}X{_size(via.size_um)}Y0000R000 S3"  # covered with mask on both sides
        )
    for hole in layout.holes:
        lines.append(
            f"367{_UNCONNECTED:<{_NET}}   {'':<{_REF}}-{'':<{_PIN}} {_hole(hole.drill_um, 'U')}A00"
            f"{_at(frame, hole.x_um, hole.y_um)}X{_size(hole.drill_um)}Y0000R000 S0"
        )
    points = [_at(frame, *point) for point in (*layout.outline, layout.outline[0])]
    return "".join(f"{line:<{_WIDTH}}\n" for line in (*lines, *_outline(points), "999")).encode("ascii")


def _tail(pad: Pad) -> str:
    """The size of a pad and that no mask lies on it; a round pad has its second size 0."""
    round_ = pad.shape != "rect" and pad.width_um == pad.height_um
    return f"X{_size(pad.width_um)}Y{'0000' if round_ else _size(pad.height_um)}R000 S0"


def _hole(diameter_um: int, plating: str) -> str:
    return f"D{_size(diameter_um)}{plating}" if diameter_um else " " * 6


def _size(um: int) -> str:
    """Four digits: what is larger is written as the largest there is, which a probe meets; `_large` says so."""
    return f"{min(um, _MOST_SIZE_UM):04d}"


def _large(layout: Layout, refs: Mapping[str, str]) -> Iterator[str]:
    """A comment for each size that four digits cannot say."""
    sizes: list[tuple[str, int, int, int]] = [
        (f"a pad of {refs[p.ref]}", p.width_um, p.height_um, p.drill_um) for p in layout.pads
    ]
    sizes += [("a via", via.size_um, via.size_um, via.drill_um) for via in layout.vias]
    sizes += [("an unplated hole", hole.drill_um, hole.drill_um, 0) for hole in layout.holes]
    for what, width, height, drill in sizes:
        if max(width, height, drill) > _MOST_SIZE_UM:
            hole = f", hole {drill / 1000:.3f}" if drill > _MOST_SIZE_UM else ""
            yield f"C  size, 9.999 for more: {what}, {width / 1000:.3f} x {height / 1000:.3f} mm{hole}"


def _at(frame: Frame, x_um: int, y_um: int) -> str:
    x, y = frame.at(x_um, y_um)
    if max(abs(x), abs(y)) > _MOST_UM:
        raise ValueError(f"a test netlist (IPC-D-356A) must keep within {_MOST_UM / 1000:.3f} mm, not {max(x, y)} µm")
    return f"X{x:+07d}Y{y:+07d}"


def _outline(points: Iterable[str]) -> Iterator[str]:
    line = f"389{'BOARD_EDGE':<14}     "
    for point in points:
        if len(line) + len(point) > _WIDTH:
            yield line.rstrip()
            line = "089 "
        line += f"{point} "
    yield line.rstrip()


def _aliases(names: Iterable[str], width: int, stem: str, kept: Iterable[str]) -> Mapping[str, str]:
    """Each name with what stands in its column: itself where it fits and nothing else can be meant by it."""
    out: dict[str, str] = {}
    for name in names:
        if name and name not in out:
            fits = _PLAIN.fullmatch(name) and len(name) <= width and name not in kept and not name.startswith(stem)
            out[name] = name if fits else f"{stem}{sum(a != n for n, a in out.items()) + 1}"
    return {**out, "": ""}


def _named(alias: str, net: str) -> str:
    """The record of a net's name; a name too long for it is cut, with the alias's number so that it stays its own."""
    return _cut(f"P  {alias}", net, f"~{alias.removeprefix('NNAME')}")


def _cut(front: str, text: str, mark: str = "...") -> str:
    """A record with a text; of one too long for it what fits, with a mark."""
    line, end = f"{front} {_ascii(text)}", ""
    while len(line) + len(end) > _WIDTH:
        text, end = text[:-1].rstrip(" "), mark
        line = f"{front} {_ascii(text)}"
    return line + end


# A space at either end or after another would be lost where a reader splits the line at spaces.
_NUMBERED = re.compile(r"[^ -~]|\\|^ | $|(?<= ) ")


def _ascii(text: str) -> str:
    def number(match: re.Match[str]) -> str:
        code = ord(match[0])
        return f"\\u{code:04X}" if code < 0x10000 else f"\\U{code:08X}"

    return _NUMBERED.sub(number, text)
