"""The adapter as a netlist: the plan's nets, on the pads of the connectors' footprints."""

from __future__ import annotations

from ..adapter import Adapter, AdapterConnector
from ..body import Body
from ..model import PinMap
from .netlist_process import Job, NetlistError, NetPart, NetWire, netlist_text, read_netlist
from .netlist_process import start as _start

__all__ = ["Job", "NetPart", "NetWire", "NetlistError", "nets", "parts", "read_netlist", "start", "text"]


def start(adapter: Adapter) -> Job:
    """Begin making the netlist in a process of its own; `Job.result()` waits for the text.

    Raises `NetlistError`, then or there.
    """
    return _start(title(adapter), parts(adapter), nets(adapter))


def text(adapter: Adapter) -> str:
    """Return the netlist. Raises `NetlistError`."""
    return netlist_text(title(adapter), parts(adapter), nets(adapter))


def title(adapter: Adapter) -> str:
    """The title of the netlist; it says so where the adapter must not be built."""
    return f"DO NOT BUILD: {adapter.title}" if adapter.verdict == "do not build" else adapter.title


def parts(adapter: Adapter) -> list[NetPart]:
    """The parts of the adapter: both connectors with every pad that a contact touches, then what remedies put in.

    A part's identity comes from its purpose alone, so that a board laid out earlier keeps its parts.
    """
    return [
        _connector(adapter.host_connector, adapter.host, adapter.on_board(adapter.host_connector)),
        _connector(adapter.card_connector, adapter.card, adapter.on_board(adapter.card_connector)),
        *(NetPart(p.ref, p.value, p.footprint, p.purpose, p.pins) for p in adapter.parts),
    ]


def _connector(connector: AdapterConnector, pin_map: PinMap, body: Body) -> NetPart:
    pads = tuple((connector.pad(label), label) for label in pin_map.present)
    same = all(body.pad_of[label] == pad for pad, label in pads)
    # At a ribbon's end stands a header on the board, where its pads are called as the plan has them.
    footprint = body.footprint if same else connector.body.footprint
    return NetPart(connector.ref, pin_map.title or pin_map.name, footprint, f"{connector.end} connector", pads)


def nets(adapter: Adapter) -> list[NetWire]:
    """The plan's nets as (reference, pad) nodes."""
    out = []
    for net in adapter.nets:
        nodes = [(adapter.host_connector.ref, adapter.host_connector.pad(c.label)) for c in net.host]
        nodes += [(adapter.card_connector.ref, adapter.card_connector.pad(c.label)) for c in net.card]
        out.append(NetWire(net.name, (*nodes, *net.parts)))
    return out
