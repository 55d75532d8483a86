"""Drawings for the tests of the audit: what a plan joins, with faults put in, written as a netlist or a schematic."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from pathlib import Path

import boards
from boards import Board, Pad
from msgspec import Struct

from pinmap.adapter import Adapter
from pinmap.audit.drawn import Drawn, Node
from pinmap.audit.judging import Audit, audit
from pinmap.audit.reading import read
from pinmap.audit.wanted import Wanted
from pinmap.text import natural

#: Schematic and netlist versions of the last three stable releases, from memory.
VERSIONS = (20230121, 20231120, 20250114)


class Drawing(Struct):
    """Parts as (value, footprint, {pad: name of the pin}), and nets as name and nodes; both may be changed.

    `mirrored`: connectors whose pads lie mirrored on a board.
    """

    parts: dict[str, tuple[str, str, dict[str, str]]]
    nets: dict[str, set[Node]]
    adapter: Adapter
    mirrored: tuple[str, ...] = ()

    # ------------------------------------------------------------------ faults

    def pad(self, contact: str) -> Node:
        """The pad of a contact or pin: "J1 B3", "R1 2"."""
        ref, label = contact.split(" ", 1)
        ends = Wanted(self.adapter).ends
        return (ref, ends[ref][0].pad(label)) if ref in ends else (ref, label)

    def net_of(self, node: Node) -> str:
        return next(name for name, nodes in self.nets.items() if node in nodes)

    def exchange(self, one: str, other: str) -> Drawing:
        """Exchange two contacts of one connector."""
        a, b = self.pad(one), self.pad(other)
        net_a, net_b = self.net_of(a), self.net_of(b)
        self.nets[net_a] = self.nets[net_a] - {a} | {b}
        self.nets[net_b] = self.nets[net_b] - {b} | {a}
        return self

    def omit(self, contact: str) -> Drawing:
        """Leave a contact joined to nothing."""
        self.nets[self.net_of(self.pad(contact))].remove(self.pad(contact))
        return self

    def move(self, contact: str, net: str) -> Drawing:
        """Join a contact to another net instead of its own."""
        node = self.pad(contact)
        self.nets[self.net_of(node)].remove(node)
        self.nets[net].add(node)
        return self

    def join(self, one: str, other: str) -> Drawing:
        """Join two nets."""
        self.nets[one] |= self.nets.pop(other)
        return self

    def wrong(self, ref: str, moves: Mapping[str, str]) -> Drawing:
        """Draw a connector with each contact's net on the contact from which `moves` leads to it."""
        before = {node: name for name, nodes in self.nets.items() for node in nodes}
        labels = Wanted(self.adapter).ends[ref][1].present
        for label in labels:
            node = self.pad(f"{ref} {label}")
            if node in before:
                self.nets[before[node]].discard(node)
        for label in labels:
            there = moves.get(label)
            if there in labels and (net := before.get(self.pad(f"{ref} {there}"))):
                self.nets[net].add(self.pad(f"{ref} {label}"))
        return self

    def rename(self, refs: Mapping[str, str]) -> Drawing:
        """Give parts other references."""
        self.parts = {refs.get(ref, ref): part for ref, part in self.parts.items()}
        self.nets = {name: {(refs.get(r, r), p) for r, p in nodes} for name, nodes in self.nets.items()}
        return self

    def without(self, ref: str) -> Drawing:
        """Leave a part out, its nets as they are."""
        del self.parts[ref]
        self.nets = {name: {node for node in nodes if node[0] != ref} for name, nodes in self.nets.items()}
        return self

    def with_pad(self, ref: str, pad: str, net: str) -> Drawing:
        """Give a part one more pad, in a net."""
        self.parts[ref][2][pad] = ""
        self.nets[net].add((ref, pad))
        return self

    def part(self, ref: str, value: str, pads: Mapping[str, str]) -> Drawing:
        """Add a part, its pads in the nets given; a net that is not there begins."""
        self.parts[ref] = (value, "", dict.fromkeys(pads, ""))
        for pad, net in pads.items():
            self.nets.setdefault(net, set()).add((ref, pad))
        return self

    def insert(self, ref: str, value: str, contact: str) -> Drawing:
        """Put a part with two pads in series between a contact and its net."""
        node = self.pad(contact)
        net = self.net_of(node)
        self.nets[net].remove(node)
        self.part(ref, value, {"1": net, "2": f"{net} behind {ref}"})
        self.nets[f"{net} behind {ref}"].add(node)
        return self

    # ------------------------------------------------------------------ files

    def netlist(self, version: str = "E") -> str:
        """As a netlist."""
        lines = [f'(export (version "{version}")', "  (components"]
        for ref, (value, footprint, _) in self.parts.items():
            lines.append(f"    (comp (ref {_q(ref)})\n      (value {_q(value)})\n      (footprint {_q(footprint)}))")
        lines += ["  )", "  (nets"]
        for code, (name, nodes) in enumerate(self.nets.items(), 1):
            lines.append(f"    (net (code {_q(str(code))}) (name {_q(name)})")
            lines += [
                f"      (node (ref {_q(ref)}) (pin {_q(pad)}) (pinfunction {_q(self.parts[ref][2][pad])}))"
                for ref, pad in sorted(nodes)
            ]
            lines[-1] += ")"
        return "\n".join([*lines, "  ))"]) + "\n"

    def schematic(self, version: int = VERSIONS[-1]) -> str:
        """As a schematic: each pin with a wire to a label."""
        net_of = {node: name for name, nodes in self.nets.items() for node in nodes}
        lines = [
            f'(kicad_sch (version {version}) (generator "hand")',
            '  (uuid "root")',
            '  (paper "A0")',
            "  (lib_symbols",
        ]
        for ref, (_, _, pads) in self.parts.items():
            lines.append(f'    (symbol "T:{ref}" (symbol "{ref}_1_1"')
            lines += [
                f"      (pin passive line (at 0 {-2.54 * i:.2f} 0) (length 2.54)"
                f" (name {_q(name or '~')}) (number {_q(pad)}))"
                for i, (pad, name) in enumerate(pads.items())
            ]
            lines.append("    ))")
        lines.append("  )")
        for column, (ref, (value, footprint, pads)) in enumerate(self.parts.items()):
            x = 50.8 * column + 25.4
            lines.append(
                f'  (symbol (lib_id "T:{ref}") (at {x:.2f} 25.4 0) (unit 1) (uuid "s{column}")\n'
                f'    (property "Reference" {_q(ref)} (at 0 0 0)) (property "Value" {_q(value)} (at 0 0 0))\n'
                f'    (property "Footprint" {_q(footprint)} (at 0 0 0))\n'
                f'    (instances (project "p" (path "/root" (reference {_q(ref)}) (unit 1)))))'
            )
            for i, pad in enumerate(pads):
                y = 25.4 + 2.54 * i
                if (ref, pad) not in net_of:
                    lines.append(f"  (no_connect (at {x:.2f} {y:.2f}))")
                    continue
                lines.append(f"  (wire (pts (xy {x:.2f} {y:.2f}) (xy {x - 5.08:.2f} {y:.2f})))")
                lines.append(f"  (label {_q(net_of[ref, pad])} (at {x - 5.08:.2f} {y:.2f} 0))")
        return "\n".join([*lines, ")"]) + "\n"

    def board(self, named: Drawing | None = None) -> str:
        """As a board, with tracks; `named` is what its pads are called by, where that is another drawing."""
        net_of = {node: name for name, nodes in self.nets.items() for node in nodes}
        board = Board(values={ref: value for ref, (value, _, _) in self.parts.items()})
        left = 20.0
        for ref, (connector, _) in Wanted(self.adapter).ends.items():
            body = self.adapter.on_board(connector)
            left = boards._place(board, ref, body, left, net_of, mirrored=ref in self.mirrored)
        for ref, (_, _, pads) in self.parts.items():
            if ref not in Wanted(self.adapter).ends:
                for index, pad in enumerate(pads):
                    board.pads.append(Pad(ref, pad, (left + index * 2.54, 20.0), net_of.get((ref, pad), "")))
                left += len(pads) * 2.54 + 2.54
        boards._route(board, zone=False)
        if named:
            called = {node: name for name, nodes in named.nets.items() for node in nodes}
            board.pads = [replace(p, net=called.get((p.ref, p.number), "")) for p in board.pads]
        return board.text()

    def written(self, folder: Path, kind: str) -> Path:
        """Write it and return the file: `kind` netlist, schematic, board, or copper: a board with the right names."""
        ways: dict[str, tuple[str, Callable[[], str]]] = {
            "netlist": (".net", self.netlist),
            "schematic": (".kicad_sch", self.schematic),
            "board": (".kicad_pcb", self.board),
            "copper": (".kicad_pcb", lambda: self.board(drawing(self.adapter))),
        }
        ending, write = ways[kind]
        path = folder / f"drawn{ending}"
        path.write_text(write(), encoding="utf-8", newline="\n")
        return path

    def read(self, folder: Path, kind: str = "netlist") -> Drawn:
        return read(self.written(folder, kind))

    def audit(
        self, folder: Path, kind: str = "netlist", *, through: Iterable[str] = (), host: str = "", card: str = ""
    ) -> Audit:
        return audit(self.read(folder, kind), self.adapter, through=through, host=host, card=card)


def _q(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def drawing(adapter: Adapter) -> Drawing:
    """The drawing that is the plan; nets are called otherwise than the plan calls them."""
    wanted = Wanted(adapter)
    parts: dict[str, tuple[str, str, dict[str, str]]] = {}
    for ref, (connector, pin_map) in wanted.ends.items():
        pads = sorted((connector.pad(label) for label in pin_map.present), key=natural)
        parts[ref] = (pin_map.title, connector.body.footprint, dict.fromkeys(pads, ""))
    for part in adapter.parts:
        parts[part.ref] = (part.value, part.footprint, dict(part.pins))
    nets = {}
    for number, nodes in enumerate(wanted.nodes):
        nets[f"N{number}"] = {
            (ref, wanted.ends[ref][0].pad(label)) if ref in wanted.ends else (ref, label) for ref, label in nodes
        }
    return Drawing(parts, nets, adapter)


def name_of(adapter: Adapter, net: str) -> str:
    """What `drawing` calls a net of the plan."""
    return next(f"N{i}" for i, each in enumerate(Wanted(adapter).nets) if each.name == net)
