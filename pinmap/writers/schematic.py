"""The adapter as a schematic: one page that reads from the machine to the card, its symbols drawn in the file itself.

Every contact has a short wire with the name of its net; what has the same name is joined. Supplies and returns end at
rails, contacts that are joined to nothing are marked as meant.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ..adapter import Adapter, AdapterConnector, Net
from ..model import PinMap
from ..parts import Part, PartKind
from ..text import listed, visible
from . import netlist
from .schematic_format import VERSION, coords, effects, library, mm, prop, string, uuid_of
from .schematic_page import CORNER, FOOT, GAP, HEAD, MARGIN, Cell, Column, page
from .schematic_symbols import (
    GRID,
    LETTER,
    RETURN_REACH,
    ROW,
    STUB,
    SUPPLY_REACH,
    XY,
    Line,
    Pin,
    Placed,
    Row,
    Side,
    Symbol,
    Word,
    box,
    capacitor,
    cut,
    fuse,
    jumper,
    on_grid,
    rail,
    resistor,
    width,
)

PROJECT = "adapter"
FILE_NAME = f"{PROJECT}.kicad_sch"

#: So many rows has a box at most; a longer connector goes on in another one.
MOST_ROWS = 50
#: A name is shown in this width at most, in µm; the whole stands in the file.
MOST_SHOWN = 80_000

_ORDER: tuple[PartKind, ...] = (
    *("terminal", "fuse", "regulator", "oscillator", "supervisor", "inverter"),
    *("jumper", "link", "resistor", "capacitor"),
)
#: Pads of a package that the plan leaves out, with what they are. From memory.
_PACKAGE: Mapping[PartKind, tuple[tuple[str, str], ...]] = {
    "inverter": tuple((pad, "output") for pad in ("2", "4", "6", "8", "10", "12")),
    "oscillator": (("1", "open"),),
}
#: The rows of a box by pads; what is not named here follows, on the left.
_ROWS: Mapping[PartKind, tuple[tuple[str, str], ...]] = {
    "inverter": (("1", "2"), ("3", "4"), ("5", "6"), ("9", "8"), ("11", "10"), ("13", "12"), ("14", "7")),
    "oscillator": (("14", "8"), ("7", "1")),
    "regulator": (("2", "3"), ("1", "")),
    "supervisor": (("3", "2"), ("1", "")),
    "terminal": (("", "1"), ("", "2")),
}


def text(adapter: Adapter, date: str = "") -> str:
    """Return the schematic; `date` is written on it as it stands, where it is given."""
    return _Sheet(adapter, date).text()


class _Sheet:
    def __init__(self, adapter: Adapter, date: str) -> None:
        self.adapter, self.date = adapter, date
        self.net_of: dict[tuple[str, str], Net] = {}
        self.feeds: set[tuple[str, str]] = set()
        for net, wire in zip(adapter.nets, netlist.nets(adapter), strict=True):
            self.net_of |= dict.fromkeys(wire.nodes, net)
            if net.group in ("supply", "return"):
                self.feeds.add(_source(adapter, net, wire.nodes))
        self.label_of = _labels(adapter)
        self.symbols: dict[Symbol, str] = {}
        self.lines: list[str] = []
        self.rails = 0

    # ------------------------------------------------------------------ what there is to draw

    def cells(self) -> tuple[list[Cell], list[Cell], list[Cell]]:
        """The machine's connector, the parts, the card's connector."""
        adapter = self.adapter
        parts = sorted(adapter.parts, key=lambda part: _ORDER.index(part.kind))
        return (
            list(self.connector(adapter.host_connector, adapter.host)),
            [self.part(part) for part in parts],
            list(self.connector(adapter.card_connector, adapter.card)),
        )

    def connector(self, connector: AdapterConnector, pin_map: PinMap) -> Iterator[Cell]:
        boxes = _boxes(connector, pin_map, self.feeds)
        symbol = box(connector.ref, "J", boxes)
        does = "meets the machine" if connector.end == "host" else "takes the card"
        body = self.adapter.on_board(connector)
        if body.form != connector.body.form:
            does = "a ribbon leads to it from the machine's"
        title = pin_map.title or pin_map.name
        for unit, rows in enumerate(boxes, 1):
            shown = [pin.number for row in rows for pin in row if pin]
            part_of = f", pads {shown[0]} to {shown[-1]}" if len(boxes) > 1 else ""
            yield self.cell(
                connector.ref,
                unit,
                symbol,
                title,
                body.footprint,
                f"{connector.end} connector",
                above=(f"{body.a_form}, {does}{part_of}",),
            )

    def part(self, part: Part) -> Cell:
        fields = tuple((name, value) for name, value in (("Fit", part.fit), ("Why", part.why)) if value)
        return self.cell(
            part.ref, 1, self.drawn(part), part.value, part.footprint, part.purpose, fields=fields, below=_said(part)
        )

    def drawn(self, part: Part) -> Symbol:
        """The symbol of a part."""
        pins = {
            pad: Pin(
                pad,
                cut(what, MOST_SHOWN // 2),
                (part.ref, pad) in self.feeds,
                part.kind == "inverter" and what.startswith("output"),
            )
            for pad, what in (*_PACKAGE.get(part.kind, ()), *part.pins)
        }
        if len(pins) == 2 and part.kind in ("resistor", "link", "fuse", "capacitor"):
            plus = [pin for pin in pins.values() if pin.name.startswith("plus")]
            left, right = sorted(pins.values(), key=lambda pin: pin not in plus)
            if part.kind == "capacitor":
                return capacitor(left, right, bool(plus))
            return fuse(left, right) if part.kind == "fuse" else resistor(left, right)
        if part.kind == "jumper" and len(pins) % 2 == 0:
            each = list(pins.values())
            return jumper(list(zip(each[::2], each[1::2], strict=True)))
        rows: list[Row] = [(pins.pop(a, None), pins.pop(b, None)) for a, b in _ROWS.get(part.kind, ())]
        rows = [row for row in rows if any(row)] + [(pin, None) for pin in pins.values()]
        more: list[Line | Word] = []
        if part.kind == "inverter":
            more = [Word("1", (0, index * ROW)) for index, (_, right) in enumerate(rows) if right and right.inverted]
        return box(part.kind, "X" if part.kind == "terminal" else "U", [rows], part.kind, more)

    def cell(
        self,
        ref: str,
        unit: int,
        symbol: Symbol,
        value: str,
        footprint: str,
        identity: str,
        *,
        fields: tuple[tuple[str, str], ...] = (),
        above: tuple[str, ...] = (),
        below: str = "",
    ) -> Cell:
        pins, bottom = symbol.pins[unit - 1], symbol.bottoms[unit - 1]
        reach: dict[Side, int] = {"left": symbol.half, "right": symbol.half}
        for pin in pins:
            reach[pin.side] = max(reach[pin.side], abs(pin.at[0]) + self.reach((ref, pin.number)))
        one_line = not above
        shown = cut(value, MOST_SHOWN)
        if one_line:
            reach = {
                "left": max(reach["left"], GRID + width(ref)),
                "right": max(reach["right"], width(shown)),
            }
        centred = [cut(word, MOST_SHOWN) for word in (*above, below)] + ([] if one_line else [shown])
        half = max(width(word) for word in centred) // 2
        return Cell(
            ref,
            unit,
            symbol,
            value,
            footprint,
            identity,
            fields,
            above,
            below,
            on_grid(max(reach["left"], half)),
            on_grid(max(reach["right"], half)),
            on_grid(-symbol.top + (ROW if one_line else ROW * (2 + len(above)))),
            on_grid(bottom + (ROW if below else 0)),
            one_line,
        )

    def reach(self, node: tuple[str, str]) -> int:
        """How far the wire and the name at a pin reach from it."""
        net = self.net_of.get(node)
        if net is None or net.size == 1:
            return 1400 + width(cut(self.left_open(node), MOST_SHOWN))
        if net.group in ("supply", "return"):
            return STUB + (RETURN_REACH if net.group == "return" else SUPPLY_REACH) + width(self.label_of[net.name])
        return STUB + width(self.label_of[net.name]) + 1300

    def left_open(self, node: tuple[str, str]) -> str:
        """What is said at a pin that is joined to nothing."""
        net = self.net_of.get(node)
        if net is None:
            return "open"
        contacts = (*net.host, *net.card)
        name = contacts[0].name if contacts else net.name
        return name + {"active": ", needs a gate", "conflict": ", disputed"}.get(net.state, "")

    # ------------------------------------------------------------------ the page

    def text(self) -> str:
        host, parts, card = self.cells()
        paper, across, down, columns = page(host, parts, card)
        host_columns, part_columns, card_columns = columns
        top = MARGIN + HEAD
        ends = sum(column.across for column in (*host_columns, *card_columns))
        spare = across - 2 * MARGIN - ends - sum(column.across for column in part_columns)
        gaps = len(part_columns) + 1
        x = MARGIN
        for heading, group, gap in (
            ("From the machine", host_columns, 0),
            ("Parts", part_columns, spare // gaps),
            ("To the card", card_columns, 0),
        ):
            if group is card_columns:
                x = across - MARGIN - sum(column.across for column in card_columns)
            elif group is part_columns:
                x += gap
            if group:
                self.word(heading, (on_grid(x), MARGIN + 2_540), "left", letter=2 * LETTER)
            for column in group:
                self.column(column, on_grid(x + GAP // 2 + column.left), top)
                x += column.across + gap
        self.foot(across, down)
        size = f'"{paper}"' if paper else f'"User" {mm(across)} {mm(down)}'
        head = [
            f'(kicad_sch (version {VERSION}) (generator "pinmap")',
            f'  (uuid "{uuid_of("schematic")}")',
            f"  (paper {size})",
            "  (lib_symbols",
            *(line for symbol, name in self.symbols.items() for line in library(symbol, name)),
            "  )",
        ]
        return "\n".join([*head, *self.lines, '  (sheet_instances (path "/" (page "1")))', ")"]) + "\n"

    def column(self, column: Column, x: int, y: int) -> None:
        for cell in column.cells:
            self.place(cell, x, y + cell.above)
            y += cell.above + cell.below + GAP // 2

    def place(self, cell: Cell, x: int, y: int) -> None:
        symbol = cell.symbol
        top, bottom = y + symbol.top, y + symbol.bottoms[cell.unit - 1]
        properties = []
        if cell.one_line:
            properties.append(self.field("Reference", cell.ref, (x - GRID, top - 1_500), "right"))
            properties.append(self.field("Value", cell.value, (x - GRID + 1_000, top - 1_500), "left"))
        else:
            lines = len(cell.above_words)
            properties.append(self.field("Reference", cell.ref, (x, top - (lines + 1) * ROW - 1_500), ""))
            properties.append(self.field("Value", cell.value, (x, top - lines * ROW - 1_500), ""))
            for index, word in enumerate(reversed(cell.above_words)):
                self.word(word, (x, top - index * ROW - 1_500), "")
        if cell.below_word:
            self.word(cell.below_word, (x, bottom + 1_500), "")
        properties.append(prop("Footprint", cell.footprint, (x, y), "", hidden=True))
        properties.append(prop("Purpose", cell.identity, (x, y), "", hidden=True))
        properties += [prop(name, value, (x, y), "", hidden=True) for name, value in cell.fields]
        pins = symbol.pins[cell.unit - 1]
        identity = cell.identity if cell.unit == 1 else f"{cell.identity}, unit {cell.unit}"
        self.instance(symbol, cell.ref, cell.unit, (x, y), uuid_of(identity), properties, pins)
        for pin in pins:
            self.stub(cell.ref, pin, (x + pin.at[0], y + pin.at[1]))

    def instance(
        self,
        symbol: Symbol,
        ref: str,
        unit: int,
        at: XY,
        identity: str,
        properties: Sequence[str],
        pins: Sequence[Placed],
    ) -> None:
        if symbol not in self.symbols:
            self.symbols[symbol] = self.symbol_name(symbol)
        name = self.symbols[symbol]
        on_board = "no" if symbol.power else "yes"
        self.lines += [
            f"  (symbol (lib_id {string('pinmap:' + name)}) (at {coords(at)} 0) (unit {unit})",
            f"    (exclude_from_sim no) (in_bom {on_board}) (on_board {on_board}) (dnp no)",
            f'    (uuid "{identity}")',
            *properties,
            *(f'    (pin {string(pin.number)} (uuid "{uuid_of(f"pin {ref} {pin.number}")}"))' for pin in pins),
            f'    (instances (project {string(PROJECT)} (path "/{uuid_of("schematic")}"'
            f" (reference {string(ref)}) (unit {unit}))))",
            "  )",
        ]

    def symbol_name(self, symbol: Symbol) -> str:
        """A name for a symbol; where another one of its kind differs, with a number."""
        taken = set(self.symbols.values())
        number = 1
        while (name := symbol.name if number == 1 else f"{symbol.name}-{number}") in taken:
            number += 1
        return name

    def stub(self, ref: str, pin: Placed, at: XY) -> None:
        """What is at a pin: a wire with the name of the net, or the sign that nothing is meant to be."""
        node, what = (ref, pin.number), f"{ref} {pin.number}"
        net = self.net_of.get(node)
        out = 1 if pin.side == "right" else -1
        if net is None or net.size == 1:
            self.lines.append(f'  (no_connect (at {coords(at)}) (uuid "{uuid_of(f"open {what}")}"))')
            self.word(self.left_open(node), (at[0] + out * 1_200, at[1]), "left" if out > 0 else "right")
            return
        end = (at[0] + out * STUB, at[1])
        self.lines.append(
            f"  (wire (pts (xy {coords(at)}) (xy {coords(end)})) (stroke (width 0) (type default))"
            f' (uuid "{uuid_of(f"wire {what}")}"))'
        )
        label = self.label_of[net.name]
        justify: Side = "left" if out > 0 else "right"
        if net.group not in ("supply", "return"):
            self.lines.append(
                f"  (global_label {string(label)} (shape passive) (at {coords(end)} {0 if out > 0 else 180})"
                f' {effects(justify)} (uuid "{uuid_of(f"label {what}")}"))'
            )
            return
        self.rails += 1
        reach = RETURN_REACH if net.group == "return" else SUPPLY_REACH
        number = f"#PWR{self.rails:03}"
        properties = [
            prop("Reference", number, end, "", hidden=True),
            prop("Value", label, (end[0] + out * reach, end[1]), justify),
        ]
        symbol = rail(label, net.group, pin.side)
        self.instance(symbol, number, 1, end, uuid_of(f"rail {what}"), properties, symbol.pins[0])

    def field(self, name: str, value: str, at: XY, justify: Side | str) -> str:
        """A visible field; one too long to be shown is kept hidden, and what fits is written beside."""
        shown = cut(value, MOST_SHOWN)
        if shown == visible(value):
            return prop(name, value, at, justify)
        self.word(shown, at, justify)
        return prop(name, value, at, justify, hidden=True)

    # ------------------------------------------------------------------ words and lines

    def word(self, words: str, at: XY, justify: Side | str, letter: int = LETTER, room: int = MOST_SHOWN) -> None:
        """Write a text, its middle at the height of `at`."""
        shown = cut(words, room, letter)
        if shown:
            low = (at[0], at[1] + letter // 2)
            self.lines.append(
                f"  (text {string(shown)} (exclude_from_sim no) (at {coords(low)} 0)"
                f' {effects(f"{justify} bottom", letter)} (uuid "{uuid_of(f"text {coords(low)} {words}")}"))'
            )

    def polyline(self, *points: XY) -> None:
        xy = " ".join(f"(xy {coords(point)})" for point in points)
        self.lines.append(
            f'  (polyline (pts {xy}) (stroke (width 0.15) (type default)) (uuid "{uuid_of(f"line {xy}")}"))'
        )

    def foot(self, across: int, down: int) -> None:
        """What the signs mean, and the title block.

        The block is drawn: a file with the format's own `title_block` is refused by gerbonara 1.5.0.
        """
        top, bottom = down - MARGIN - FOOT + 5_080, down - MARGIN
        right = across - MARGIN - CORNER
        left = right - 140_000
        adapter = self.adapter
        self.polyline((left, top), (right, top), (right, bottom), (left, bottom), (left, top))
        room = right - left - 5_080
        lines = [
            (netlist.title(adapter), 2_000),
            (f"From: {adapter.host.title or adapter.host.name}", LETTER),
            (f"To: {adapter.card.title or adapter.card.name}", LETTER),
            (f"Options fitted: {listed(adapter.fitted) or 'none'}", LETTER),
            (f"Made by pinmap from the plan of the adapter{f', {self.date}' if self.date else ''}", LETTER),
        ]
        y = top + 3_810
        for words, letter in lines:
            self.word(words, (left + 2_540, y), "left", letter, room)
            y += 3 * letter if letter > LETTER else 2 * LETTER + 1_270
        x, y = MARGIN + 2_540, top + 3_810
        self.polyline((x, y), (x + 1_270, y))
        self.polyline((x + 1_270, y - 1_016), (x + 1_270, y + 1_016))
        self.word("a supply: all that bear its name are joined", (x + 5_080, y), "left")
        y += 3_810
        self.polyline((x, y), (x + 1_270, y))
        for step, half in ((1_270, 1_016), (1_905, 635), (2_540, 254)):
            self.polyline((x + step, y - half), (x + step, y + half))
        self.word("the return, likewise", (x + 5_080, y), "left")
        y += 3_810
        self.polyline((x, y - 762), (x + 3_810, y - 762), (x + 3_810, y + 762), (x, y + 762), (x, y - 762))
        self.word("a line: all labels of one name are joined", (x + 5_080, y), "left")
        y += 3_810
        self.polyline((x, y - 635), (x + 1_270, y + 635))
        self.polyline((x, y + 635), (x + 1_270, y - 635))
        self.word("open as meant, with what the contact carries", (x + 5_080, y), "left")


# ---------------------------------------------------------------------- nets


def _labels(adapter: Adapter) -> dict[str, str]:
    """The name that each net has on the sheet: its own, but brackets that would make it a bus, and each once."""
    out: dict[str, str] = {}
    taken: set[str] = set()
    for net in adapter.nets:
        plain = visible(net.name).strip().translate(_PLAIN) or "net"
        label, number = plain, 2
        while label in taken:
            label, number = f"{plain} ({number})", number + 1
        taken.add(label)
        out[net.name] = label
    return out


_PLAIN = str.maketrans("{}[]", "()()")


def _source(adapter: Adapter, net: Net, nodes: Sequence[tuple[str, str]]) -> tuple[str, str]:
    """The pin that counts as the source of a rail, so that a check of the drawing finds one and no more."""
    if net.host:
        return nodes[0]
    giving = {
        (part.ref, pad) for part in adapter.parts if part.feeds for pad, what in part.pins if what in _GIVING
    } & set(net.parts)
    return min(giving) if giving else nodes[0]


_GIVING = frozenset(("output", "card"))


# ---------------------------------------------------------------------- connectors


def _boxes(connector: AdapterConnector, pin_map: PinMap, feeds: set[tuple[str, str]]) -> list[list[Row]]:
    """The contacts in the rows of one or more boxes: two rows of the body side by side, sections one below the other.

    Where there is a key or another gap in the body, there is one here.
    """
    body = connector.body
    at = {body.cells[label]: label for label in pin_map.present}

    def pin(section: int, row: int, place: int) -> Pin | None:
        label = at.get((section, row, place))
        if label is None:
            return None
        return Pin(body.pad_of[label], label, (connector.ref, body.pad_of[label]) in feeds)

    boxes: list[list[Row]] = []
    for first in range(0, max(section.rows for section in body.sections), 2):
        rows: list[Row] = []
        for index, section in enumerate(body.sections):
            if first >= section.rows:
                continue
            if rows:
                rows.append((None, None))
            alone = first + 1 == section.rows
            for place in range(section.places):
                one = pin(index, first, place)
                other = None if alone else pin(index, first + 1, place)
                rows.append((other, one) if alone and connector.end == "host" else (one, other))
        count = -(-len(rows) // MOST_ROWS)
        size = -(-len(rows) // count)
        boxes += [rows[start : start + size] for start in range(0, len(rows), size)]
    return [_trimmed(rows) for rows in boxes if any(any(row) for row in rows)]


def _trimmed(rows: list[Row]) -> list[Row]:
    filled = [index for index, row in enumerate(rows) if any(row)]
    return rows[filled[0] : filled[-1] + 1]


def _said(part: Part) -> str:
    """What stands below a part."""
    return f"{part.purpose}, set at 1-2" if part.kind == "jumper" else part.purpose
