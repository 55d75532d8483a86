"""The plan as an audit sees it: nodes in nets, and what each node is called."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from msgspec import Struct

from ..adapter import Adapter, AdapterConnector, Net
from ..model import PinMap
from .drawn import Node


class Wanted(Struct, frozen=True, dict=True):
    """The plan. A node of a connector is (reference, contact label), not its pad; of a part, (reference, pad)."""

    adapter: Adapter

    @cached_property
    def ends(self) -> dict[str, tuple[AdapterConnector, PinMap]]:
        """Both connectors by reference, with the map of that end."""
        adapter = self.adapter
        return {
            adapter.host_connector.ref: (adapter.host_connector, adapter.host),
            adapter.card_connector.ref: (adapter.card_connector, adapter.card),
        }

    @cached_property
    def nets(self) -> tuple[Net, ...]:
        """The nets, supplies and returns first."""
        order = {"supply": 0, "return": 1}
        return tuple(sorted(self.adapter.nets, key=lambda net: order.get(net.group, 2)))

    @cached_property
    def nodes(self) -> tuple[tuple[Node, ...], ...]:
        """The nodes of each net, the machine's first."""
        host, card = self.ends
        return tuple(
            (*((host, c.label) for c in net.host), *((card, c.label) for c in net.card), *net.parts)
            for net in self.nets
        )

    @cached_property
    def net_of(self) -> Mapping[Node, int]:
        """The number of each node's net."""
        return {node: index for index, nodes in enumerate(self.nodes) for node in nodes}

    @cached_property
    def rank(self) -> Mapping[Node, int]:
        """Each node's place in the plan's order."""
        return {node: index for index, node in enumerate(node for nodes in self.nodes for node in nodes)}

    def is_power(self, net: int) -> bool:
        """Whether it is a supply or a return."""
        return self.nets[net].group in ("supply", "return")

    def same_line(self, one: int, other: int) -> bool:
        """Whether two nets are one line in two pieces, with a part of the plan between them: a rail and its fuse."""
        return any(
            kind in ("fuse", "jumper", "link") and {one, other} <= {self.net_of[ref, pad] for pad in pads}
            for ref, kind, pads in self._between
        )

    def between(self, one: int, other: int) -> tuple[str, ...]:
        """The parts of the plan that lie between two nets."""
        return tuple(ref for ref, _, pads in self._between if {one, other} <= {self.net_of[ref, pad] for pad in pads})

    @cached_property
    def _between(self) -> list[tuple[str, str, list[str]]]:
        return [(part.ref, part.kind, [pad for pad, _ in part.pins]) for part in self.adapter.parts]
