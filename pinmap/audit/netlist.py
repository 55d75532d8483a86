"""A netlist as a drawing."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from msgspec.structs import replace

from ..errors import PinmapError, Place, UnreadableError
from ..text import natural, quoted
from .drawn import Drawn, DrawnNet, DrawnPart, Node
from .source import MAX_NODES, MAX_PARTS, Branch, parsed, raise_some, read_bytes

#: The versions of the netlist format that are known, from memory; they do not differ in what is read here.
VERSIONS = ("D", "E")


def read(path: str | Path) -> Drawn:
    """Read a netlist. Raises `UnreadableError`, or `SeveralErrors` with each place that contradicts another."""
    shown = str(path)
    return read_branch(parsed(read_bytes(Path(path), shown), shown, "export"))


def read_branch(root: Branch) -> Drawn:
    """Make the drawing of a netlist's tree."""
    errors: list[PinmapError] = []
    named = _pin_names(root)
    parts: dict[str, DrawnPart] = {}
    pads: dict[str, dict[str, str]] = {}
    for comp in _in(root, "components", "comp"):
        ref = comp.text("ref")
        if not ref:
            errors.append(UnreadableError("a part must have a ref", place=comp.place))
        elif ref in parts:
            errors.append(_twice(f"part {quoted(ref)}", comp.place, parts[ref].place))
        else:
            parts[ref] = DrawnPart(ref, comp.text("value"), comp.text("footprint"), place=comp.place)
            source = comp.first("libsource")
            known = named.get((source.text("lib"), source.text("part"))) if source else None
            pads[ref] = dict(known or {})
        if len(parts) > MAX_PARTS:
            raise UnreadableError(f"a drawing must not have more than {MAX_PARTS} parts", place=comp.place)
    nets = _nets(root, pads, errors)
    raise_some(errors, root.file)
    if not parts:
        raise UnreadableError("a netlist must have parts; this one has none", place=root.place)
    for ref, part in parts.items():
        parts[ref] = replace(part, pads=tuple(sorted(pads[ref].items(), key=lambda pad: natural(pad[0]))))
    version = root.text("version")
    remarks: tuple[str, ...] = ()
    if version not in VERSIONS:
        written = quoted(version) if version else "none"
        remarks = (f"the version of the netlist is {written}, not one of those known here ({', '.join(VERSIONS)})",)
    return Drawn(root.file, "netlist", parts, tuple(nets), remarks=remarks)


def _nets(root: Branch, pads: Mapping[str, dict[str, str]], errors: list[PinmapError]) -> list[DrawnNet]:
    nets: list[DrawnNet] = []
    names: dict[str, Place] = {}
    taken: dict[Node, Place] = {}
    for net in _in(root, "nets", "net"):
        name = net.text("name")
        if name and name in names:
            errors.append(_twice(f"net {quoted(name)}", net.place, names[name]))
        names[name] = net.place
        nodes: list[Node] = []
        for node in net.all("node"):
            ref, pad = node.text("ref"), node.text("pin")
            if not ref or not pad:
                errors.append(UnreadableError("a node must have a ref and a pin", place=node.place))
            elif ref not in pads:
                errors.append(
                    UnreadableError(f"a node must be of one of the components, not of {quoted(ref)}", place=node.place)
                )
            elif (ref, pad) in taken:
                errors.append(_twice(f"pad {quoted(pad)} of {quoted(ref)}", node.place, taken[ref, pad]))
            else:
                taken[ref, pad] = node.place
                nodes.append((ref, pad))
                pads[ref][pad] = node.text("pinfunction") or pads[ref].get(pad, "")
            if len(taken) > MAX_NODES:
                raise UnreadableError(f"a drawing must not have more than {MAX_NODES} joined pads", place=node.place)
        nets.append(DrawnNet(name, frozenset(nodes), net.place))
    return nets


def _pin_names(root: Branch) -> dict[tuple[str, str], dict[str, str]]:
    """The pins of each library part: pads that no net reaches are there too."""
    out: dict[tuple[str, str], dict[str, str]] = {}
    for part in _in(root, "libparts", "libpart"):
        pins = part.first("pins")
        out[part.text("lib"), part.text("part")] = {
            pin.text("num"): pin.text("name") for pin in (pins.all("pin") if pins else ()) if pin.text("num")
        }
    return out


def _in(root: Branch, group: str, kind: str) -> list[Branch]:
    found = root.first(group)
    return list(found.all(kind)) if found else []


def _twice(what: str, place: Place, before: Place) -> UnreadableError:
    return UnreadableError(f"{what} must be there once; it is already in line {before.line}", place=place)
