"""The bill of materials: what has to be bought for the adapter as planned, as a CSV file."""

from __future__ import annotations

from collections import Counter

from ..adapter import Adapter, AdapterConnector, Unmapped
from ..body import Body
from ..model import GROUPS, Group, PinMap, Remedy, RemedyKind
from ..parts import Part
from ..text import listed, ranges
from ..wiring import wires as wires_of
from .cells import csv_text, worded

PARTS_COLUMNS = (
    "item",
    "quantity",
    "part",
    "use",
    "reference",
    "size",
    "pitch",
    "gender",
    "footprint",
    "value",
    "fed from or joined to",
    "for",
    "contacts",
    "status",
    "note",
    "verdict",
)

IN_PLAN = "in the netlist"
NAMED = "named, not yet in the netlist"

#: What to buy where a remedy is a part; the other remedies need none.
PARTS: dict[RemedyKind, str] = {
    "pull up": "resistor",
    "pull down": "resistor",
    "tie low": "wire link",
    "tie high": "wire link",
    "oscillator": "oscillator",
    "regulator": "voltage regulator",
    "reset circuit": "supply supervisor",
    "inverter": "inverter gate",
    "separate feed": "power supply",
    "jumper": "jumper",
}

# Common practice, no source.
_THICK = "thick for what the rail carries, and short"
_THIN = "thin wire will do"
_SHORT = "thin and short, away from the other wires"
_WIRE: dict[Group, str] = {"return": _THICK, "supply": _THICK, "timing": _SHORT}

_Row = tuple[str | int, ...]


def parts_csv(adapter: Adapter, *, wires: bool = True, bom: bool = False) -> str:
    """One line a part under `PARTS_COLUMNS`: connectors, wire for each group, parts of the plan, what is only named.

    `item` and `quantity` are numbers, and no piece is counted in two lines. Equal parts share a line. What a remedy
    names is not carried out in the plan: its `status` says so. `wires` is False for a printed board, which has none and
    which may bear another connector than the one that is plugged in: a ribbon leads to it.
    `bom` puts a byte order mark first; for the words in the cells see `cells`.
    """
    board = adapter.design.board if adapter.design else None
    straight = board is not None and board.form == "straight riser"
    rows = [
        *(
            _connector(
                end,
                pin_map,
                end.body if wires else adapter.on_board(end),
                lies=not wires and end.end == "card" and straight,
            )
            for end, pin_map in ((adapter.host_connector, adapter.host), (adapter.card_connector, adapter.card))
        ),
        *(_wire(adapter) if wires else ()),
        *_parts(adapter),
        *_remedies(adapter),
    ]
    numbered = ((item, *row, adapter.verdict) for item, row in enumerate(rows, 1))
    return csv_text(PARTS_COLUMNS, numbered, bom=bom)


def _row(
    quantity: int,
    part: str,
    use: str,
    *,
    reference: str = "",
    size: str = "",
    pitch: str = "",
    gender: str = "",
    footprint: str = "",
    value: str = "",
    source: str = "",
    what_for: str = "",
    contacts: str = "",
    status: str = IN_PLAN,
    note: str = "",
) -> _Row:
    """All columns between `item` and `verdict`."""
    return (
        quantity,
        part,
        use,
        reference,
        worded("size", size),
        worded("pitch", pitch),
        gender,
        worded("footprint", footprint),
        worded("value", value),
        source,
        worded("for", what_for),
        contacts,
        status,
        worded("note:", note),
    )


def _connector(connector: AdapterConnector, pin_map: PinMap, body: Body, *, lies: bool = False) -> _Row:
    note = ""
    if body.form == "edge fingers":
        note = "part of the adapter's own board"
    elif body.form != connector.body.form:
        note = "like the machine's own; a ribbon with a socket at both ends leads to it"
    elif lies:
        note = "a right-angle one, which lies down with its mouth at the board's edge; its holes must be these"
    return _row(
        1,
        body.form,
        "meets the machine" if connector.end == "host" else "takes the card",
        reference=connector.ref,
        size=" + ".join(f"{s.rows}×{s.places}" for s in body.sections),
        pitch=f"{body.pitch_mm:g} mm",
        gender=body.gender or "",
        footprint=body.footprint,
        what_for=pin_map.title,
        note=note,
    )


def _wire(adapter: Adapter) -> list[_Row]:
    numbers = Counter(wire.group for wire in wires_of(adapter))
    total = numbers.total()
    return [
        _row(
            numbers[group],
            "wire",
            group,
            note=f"{numbers[group]} of {total} {'wires, links and leads' if adapter.parts else 'wires and links'}; "
            f"{_WIRE.get(group, _THIN)}",
        )
        for group in GROUPS
        if numbers[group]
    ]


def _parts(adapter: Adapter) -> list[_Row]:
    """One line for parts that are bought as the same thing, whatever they are for, in the order of the plan."""
    alike: dict[tuple[str, str, str], list[Part]] = {}
    for part in adapter.parts:
        alike.setdefault((part.kind, part.value, part.footprint), []).append(part)
    return [
        _row(
            len(some),
            kind,
            listed(dict.fromkeys(_use(part) for part in some)),
            reference=ranges([part.ref for part in some]),
            footprint=footprint,
            value=value,
            source=worded("from" if len(feeds) == 1 else "", feeds[0] if len(feeds) == 1 else ""),
            what_for=", ".join(dict.fromkeys(line for part in some for line in part.serves or _rail_of(adapter, part))),
            note="; ".join(dict.fromkeys(text for part in some for text in (part.fit,) if text)),
        )
        for (kind, value, footprint), some in alike.items()
        for feeds in [list(dict.fromkeys(part.fed_by for part in some if part.fed_by))]
    ]


def _use(part: Part) -> str:
    """What the part is for, without the line, which stands in a column of its own."""
    return part.purpose.partition(" of ")[0]


def _rail_of(adapter: Adapter, part: Part) -> tuple[str, ...]:
    """The rail of a part that serves no line: a capacitor."""
    nets = [net for net in adapter.nets if any(ref == part.ref for ref, _ in net.parts)]
    return tuple(net.signal for net in nets if net.group == "supply" and net.signal)


def _remedies(adapter: Adapter) -> list[_Row]:
    """One line for each remedy that is a part and is not in the plan, with the quantity for all signals.

    Only the card's side is asked: what a gate does is said at both ends, and is one gate.
    """
    served: dict[Remedy, list[Unmapped]] = {}
    for each in adapter.unmapped:
        if each.end == "card" and each.remedy.kind in PARTS and not each.parts:
            served.setdefault(each.remedy, []).append(each)
    return [
        _row(
            len(several),
            PARTS[remedy.kind],
            remedy.kind,
            value=remedy.value,
            source=worded("from" if remedy.kind == "regulator" else "to", remedy.to),
            what_for=", ".join(each.signal for each in several),
            contacts=worded(
                adapter.card_connector.ref, ", ".join(label for each in several for label in each.contacts)
            ),
            status=NAMED,
            note=remedy.why,
        )
        for remedy, several in served.items()
    ]
