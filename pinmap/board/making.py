"""From a plan to a finished board: form, footprints, places, channel, copper, areas, silk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

from ..adapter import Adapter, AdapterConnector
from ..body import Body
from ..design import BoardDesign
from ..electrical.conductors import trace_current_a
from ..errors import PinmapError
from ..parts import FEEDING
from ..quantity import amps
from ..text import count, listed, natural
from . import apart, footprints, meeting, orientation, placing, routing, silk, widths
from .blocks import COLUMN_UM, Aside, Block, block, tongue_um, upright
from .channel import Routed, route
from .fill import filled
from .layout import Hole, Layer, Layout, Pad, Placed, Point, Ring, Rules, Stroke, Track, Via
from .library_angle import library_angle
from .placing import Stand
from .routing import Lines, Wiring

#: A way out between pads is short and cooled by them: it may warm twice as much. Common practice, no source.
NECK_RISE = 2
#: From the holes of a connector that lies down to the edge of the board, in µm. From memory: see its data sheet.
MOUTH_UM = 2000
#: From bodies and copper to the edge, in µm.
MARGIN_UM = 1000
#: Room beyond a connector for the names of its rails, in µm.
RAILS_UM = 4000
_ASIDES: tuple[Aside, ...] = (1, -1)
#: At either side of the tongue of fingers, beyond what copper keeps from an edge, in µm. From memory: measure the slot.
SIDE_UM = 100


class Board(Struct, frozen=True):
    """A finished board: the layout; in words how it stands, its supplies, and what else is to be said; figures.

    `tracks` were used in the channel, where no fewer than `density` can do; `straight` nets went straight across.
    """

    adapter: Adapter
    layout: Layout
    standing: tuple[str, ...]
    supplies: tuple[str, ...]
    besides: tuple[str, ...]
    tracks: int
    density: int
    nets: int
    straight: int

    @property
    def words(self) -> tuple[str, ...]:
        """All that is said of it."""
        return self.layout.notes


def board(adapter: Adapter, *, effort: int = 2) -> Board:
    """Make the board of a plan, by the wishes in its adapter file, else a flat one with the usual rules.

    Raises `PinmapError` where it cannot be made as wished: it says what would work.
    """
    design = adapter.design
    spec = (design.board if design else None) or BoardDesign()
    rules, needs = _rules(adapter, spec)
    nets = _nets(adapter)
    ends = {
        "card": footprints.connector(_body(adapter, adapter.card_connector, spec), set(adapter.card.present)),
        "host": footprints.connector(_body(adapter, adapter.host_connector, spec), set(adapter.host.present)),
    }
    if any(pad.finger for pad in ends["card"].pads):
        raise PinmapError(
            "the card's connector must be one that a card goes into; this one is edge fingers, which go into a slot",
            "Exchange host and card if the fingers belong to the machine's slot",
            spec.place,
        )
    if not (design and design.board) and footprints.board_edge_um(adapter.on_board(adapter.host_connector)) is not None:
        spec = replace(spec, form="right-angle riser")  # where nobody says a form, one that can be
    meets = meeting.meets(adapter, spec)
    meeting.thickness(adapter, spec, rules)
    stands, faces = _stands(adapter, spec, rules, nets, ends)
    names = ["", *(net.name for net in adapter.nets)]
    numbers = {name: number for number, name in enumerate(names) if name}
    lane = placing.channel(stands, numbers)
    clocks, commands = _sensitive(adapter, numbers)
    as_routed = route(lane, effort=effort)
    routed = apart.apart(as_routed, clocks, commands)
    wiring = Wiring(rules, tuple(names), {need.net: need.via_um for need in needs})
    necks = _necks(stands, rules, needs, adapter, spec)
    at = routing.lines(stands, routed, wiring)
    copper = routing.copper(stands, routed, at, wiring, nets)
    shift, size, outline, bevel = _outline(stands, at, copper, rules)
    _within(spec, size, at, routed)
    pads = [_moved_pad(pad, shift) for pad in copper.pads]
    tracks = [_moved_track(track, shift) for track in copper.tracks]
    vias = [Via(v.net, v.x_um + shift[0], v.y_um + shift[1], v.size_um, v.drill_um) for v in copper.vias]
    parts = _parts(adapter, stands, at, shift)
    strokes = _strokes(stands, at, shift)
    groups = {net.name: net.group for net in adapter.nets}
    back = next((net.name for net in adapter.nets if net.group == "return"), "")
    keepout = [_tongue(pads)] if any(pad.finger for pad in pads) else []
    holes = [
        Hole(x + shift[0], y + shift[1], hole.drill_um)
        for stand in stands
        for hole in stand.block.holes
        for x, y in [routing.point(stand, at, hole.x_um, hole.y_um)]
    ]
    fill = filled(back, outline, pads, tracks, vias, rules, keepout, holes) if back else None
    drawn, texts = silk.printed(adapter.title, outline, parts, pads, strokes, groups, holes)
    coupled = apart.beside(routed, clocks, commands) * COLUMN_UM / 1000
    standing = (
        *orientation.words(spec, faces),
        *meets,
        *meeting.at_the_bracket(adapter, faces, pads, outline),
        *meeting.under_the_card(spec, stands),
    )
    supplies = (
        *_currents(needs, necks),
        *widths.lost(adapter, needs, tracks, vias, pads, rules.copper_um),
        *meeting.capacitors(adapter, pads),
    )
    besides = (
        f"Clocks lie beside other clocks or commands over {coupled:.1f} mm of their tracks"
        if coupled
        else "No clock lies on the next track to another clock or a command",
    )
    layout = Layout(
        adapter.title,
        groups,
        rules,
        outline,
        tuple(parts),
        tuple(pads),
        tuple(tracks),
        (*vias, *(fill.vias if fill else ())),
        fill.areas if fill else (),
        tuple(holes),
        drawn,
        texts,
        bevel,
        (*standing, *supplies, *besides),
    )
    straight = sum(a == b != 0 for a, b in zip(lane.top, lane.bottom, strict=True))
    joined = sum(net.size > 1 for net in adapter.nets)
    return Board(adapter, layout, standing, supplies, besides, routed.tracks, lane.density, joined, straight)


def _rules(adapter: Adapter, spec: BoardDesign) -> tuple[Rules, tuple[widths.Need, ...]]:
    usual = Rules()
    built = adapter.design.build if adapter.design else None
    copper = built.copper_um if built and built.copper_um else usual.copper_um
    plain = Rules(
        track_um=spec.track_um or usual.track_um,
        gap_um=spec.gap_um or usual.gap_um,
        via_um=spec.via_um or max(usual.via_um, (spec.via_drill_um or 0) + 200),
        via_drill_um=spec.via_drill_um or min(usual.via_drill_um, (spec.via_um or usual.via_um) - 200),
        edge_um=spec.edge_um or usual.edge_um,
        copper_um=round(copper),
        thickness_um=spec.thickness_um or usual.thickness_um,
    )
    needs = widths.needs(adapter, plain, spec.place)
    return replace(plain, supply_um={need.net: need.width_um for need in needs}), needs


def _body(adapter: Adapter, connector: AdapterConnector, spec: BoardDesign) -> Body:
    """What is soldered on for a connector. Raises `PinmapError` where its pads would not be the plan's."""
    body = adapter.on_board(connector)
    odd = [label for label in connector.body.labels if body.pad_of[label] != connector.pad(label)]
    if odd:
        raise PinmapError(
            f"the pads of {connector.ref} must be numbered as in the plan; on {body.a_form} ({body.footprint}) contact "
            f"{odd[0]} is pad {body.pad_of[odd[0]]}, in the plan pad {connector.pad(odd[0])}",
            "Say mate: with the footprint and its pads in the map of the machine's connector",
            spec.place,
        )
    return body


def _nets(adapter: Adapter) -> dict[str, dict[str, str]]:
    """The net of each pad, by reference."""
    out: dict[str, dict[str, str]] = {}
    for net in adapter.nets:
        for contacts, end in ((net.host, adapter.host_connector), (net.card, adapter.card_connector)):
            for contact in contacts:
                out.setdefault(end.ref, {})[end.pad(contact.label)] = net.name
        for ref, pad in net.parts:
            out.setdefault(ref, {})[pad] = net.name
    return out


def _routed_nets(nets: Mapping[str, Mapping[str, str]]) -> dict[str, dict[str, str]]:
    """Those of nets with two pads and more: a pad alone needs no way out."""
    seen: dict[str, int] = {}
    for pads in nets.values():
        for net in pads.values():
            seen[net] = seen.get(net, 0) + 1
    return {ref: {pad: net for pad, net in pads.items() if seen[net] > 1} for ref, pads in nets.items()}


def _stands(
    adapter: Adapter,
    spec: BoardDesign,
    rules: Rules,
    nets: Mapping[str, Mapping[str, str]],
    ends: Mapping[str, footprints.Footprint],
) -> tuple[tuple[Stand, ...], orientation.Faces]:
    joined = _routed_nets(nets)

    def made(connector: AdapterConnector, side: Layer, line: str, angle: int, aside: Aside = 1) -> Block:
        drawn = ends["card" if connector is adapter.card_connector else "host"]
        drawn = footprints.flipped(drawn) if side == "back" else drawn
        drawn = footprints.turned(drawn, angle)
        drawn = upright(drawn, "upper" if line == "upper" else "lower")
        turn = (angle + 180 * (line == "lower")) % 360
        body = adapter.on_board(connector)
        edge = footprints.board_edge_um(body)
        edge = None if edge is None else -edge if turn else edge
        if edge is None and connector is adapter.card_connector and spec.form == "straight riser":
            # It lies down with its mouth at the edge, which is just beyond the holes of its outer row.
            edge = min(pad.y_um - pad.height_um // 2 for pad in drawn.pads) - MOUTH_UM
        holes = []
        for hole in footprints.mounting_holes(body):
            x, y = footprints.turn(-hole.x_um if side == "back" else hole.x_um, hole.y_um, turn)
            holes.append(Hole(x, y, hole.drill_um))
        return block(
            connector.ref,
            drawn,
            joined.get(connector.ref, {}),
            rules,
            angle=angle,
            side=side,
            edge_um=edge,
            holes=holes,
            aside=aside,
        )

    card, host = adapter.card_connector, adapter.host_connector
    angles = (0, 180)
    found = {}
    above = footprints.board_edge_um(adapter.on_board(card))
    for angle in angles if above is None else (180,) if above > 0 else (0,):
        each = made(card, spec.card, "upper", angle)
        found[angle] = orientation.faces(spec, card, _as_pads(each))
    right = orientation.wanted(spec, found)
    edge = footprints.board_edge_um(adapter.on_board(host))
    turns = angles if edge is None else (0,) if edge > 0 else (180,)
    far = {"left": (True,), "right": (False,)}
    ends_of = {angle: far[each.bracket] for angle, each in found.items()}
    stands = placing.placed(
        [made(card, spec.card, "upper", angle, aside) for angle in right for aside in _ASIDES],
        [made(host, meeting.host_side(adapter, spec), "lower", angle, aside) for angle in turns for aside in _ASIDES],
        _groups(adapter, joined, rules),
        ends_of,
    )
    return stands, found[stands[0].block.angle]


def _groups(adapter: Adapter, joined: Mapping[str, Mapping[str, str]], rules: Rules) -> list[placing.Group]:
    """What a capacitor serves stands beside it; those of the card's rails stand beside its connector."""
    blocks = {}
    for part in adapter.parts:
        drawn, nets = footprints.part(part), joined.get(part.ref, {})
        below = block(part.ref, upright(drawn, "lower"), nets, rules, angle=180)
        blocks[part.ref] = (block(part.ref, drawn, nets, rules), below)
    served = {part.purpose: part.ref for part in adapter.parts if part.kind != "capacitor"}
    members: dict[str, list[str]] = {}
    for part in adapter.parts:
        owner = part.ref
        if part.kind == "capacitor":
            owner = next((ref for what, ref in served.items() if part.purpose.endswith(f" of the {what}")), owner)
        members.setdefault(owner, []).append(part.ref)
    at_card = {part.ref for part in adapter.parts if part.purpose.endswith(" at the card")}
    return [
        placing.Group(
            tuple(blocks[ref] for ref in sorted(refs, key=lambda ref: (ref != owner, natural(ref)))), owner in at_card
        )
        for owner, refs in members.items()
    ]


def _as_pads(each: Block) -> list[Pad]:
    stand = Stand(each, "upper", 0)
    return list(routing.pads([stand], Lines(0, 0, 0, (), 0), {}))


def _sensitive(adapter: Adapter, numbers: Mapping[str, int]) -> tuple[set[int], set[int]]:
    """The nets of clocks, and those of commands, by number."""
    signals = adapter.card.bus.signals
    clocks = {numbers[n.name] for n in adapter.nets if n.signal and n.signal in signals and signals[n.signal].frequency}
    return clocks, {numbers[net.name] for net in adapter.nets if net.group == "command"}


def _necks(
    stands: Sequence[Stand], rules: Rules, needs: Sequence[widths.Need], adapter: Adapter, spec: BoardDesign
) -> dict[str, int]:
    """The narrowest way out of each supply. Refuse one whose share per contact is more than that carries."""
    feeding = {part.ref for part in adapter.parts if part.kind in FEEDING}
    feeding |= {stand.block.ref for stand in stands[:2]}
    out = {need.net: need.width_um for need in needs}
    for need in needs:
        for stand in stands:
            ways = [t for t in stand.block.terminals if t.net == need.net]
            if not ways:
                continue
            neck = min(need.width_um, *(routing.neck_um(stand, t, rules) for t in ways))
            out[need.net] = min(out[need.net], neck)
            most = trace_current_a(neck / 1000, rules.copper_um, NECK_RISE * widths.rise_k())
            if stand.block.ref in feeding and need.amps / len(ways) > most:
                raise PinmapError(
                    f"no way out between two pads may carry more than {amps(most)}; {need.net} brings "
                    f"{amps(need.amps / len(ways))} through each of {count(len(ways), 'contact')} of "
                    f"{stand.block.ref}{need.assumed}",
                    "Feed that rail apart (separate feed), draw less, or take thicker copper (build › copper)",
                    spec.place,
                )
    return out


def _outline(
    stands: Sequence[Stand], at: Lines, copper: routing.Copper, rules: Rules
) -> tuple[Point, tuple[int, int], Ring, tuple[Point, Point] | None]:
    """What moves all so that the upper left corner of the board is at 0, 0; its size, outline and bevelled edge."""
    boxes = [_box(stand, at) for stand in stands]
    xs = [x for b in boxes for x in (b[0], b[2])]
    ys = [y for b in boxes for y in (b[1], b[3])]
    half = max([rules.via_um, rules.track_um, *rules.supply_um.values(), *(v.size_um for v in copper.vias)]) // 2
    inner = rules.edge_um + half
    xs += [x + s * inner for t in copper.tracks for x in (t.x1_um, t.x2_um) for s in (-1, 1)]
    ys += [y + s * inner for t in copper.tracks for y in (t.y1_um, t.y2_um) for s in (-1, 1)]
    fingers = [pad for pad in copper.pads if pad.finger]
    left, right = min(xs) - MARGIN_UM, max(xs) + MARGIN_UM
    ends = [_box(stand, at) for stand in stands[:2]]
    top = min(min(ys) - MARGIN_UM, ends[0][1] - RAILS_UM)
    edges = {
        stand.line: routing.point(stand, at, 0, stand.block.edge_um)[1]
        for stand in stands
        if stand.block.edge_um is not None
    }
    top = edges.get("upper", top)
    if not fingers:
        bottom = edges.get("lower", max(max(ys) + MARGIN_UM, ends[1][3] + RAILS_UM))
        shift = (-left, -top)
        size = (right - left, bottom - top)
        return shift, size, ((0, 0), (size[0], 0), size, (0, size[1])), None
    tip = max(pad.y_um + pad.height_um // 2 for pad in fingers)
    beyond = max(pad.width_um for pad in fingers) // 2 + rules.edge_um + SIDE_UM
    a, b = min(pad.x_um for pad in fingers) - beyond, max(pad.x_um for pad in fingers) + beyond
    tongue = max(tongue_um(stand.block.footprint.pads) for stand in stands)
    shoulder = tip - tongue + MARGIN_UM
    shift = (-left, -top)
    ring = [(left, top), (right, top), (right, shoulder), (b, shoulder), (b, tip)]
    at_x = sorted({pad.x_um for pad in fingers})
    for one, other in reversed(list(pairwise(at_x))):
        if other - one > 2 * (at_x[1] - at_x[0]):  # the slot has its wall between two sections
            ring += [(other - beyond, tip), (other - beyond, shoulder), (one + beyond, shoulder), (one + beyond, tip)]
    ring += [(a, tip), (a, shoulder), (left, shoulder)]
    moved = tuple((x + shift[0], y + shift[1]) for x, y in ring)
    bevel = ((a + shift[0], tip + shift[1]), (b + shift[0], tip + shift[1]))
    return shift, (right - left, tip - top), moved, bevel


def _box(stand: Stand, at: Lines) -> tuple[int, int, int, int]:
    left, top, right, bottom = stand.block.box
    (x1, y1), (x2, y2) = routing.point(stand, at, left, top), routing.point(stand, at, right, bottom)
    return min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)


def _within(spec: BoardDesign, size: tuple[int, int], at: Lines, routed: Routed) -> None:
    wrong = [
        f"{what} {have / 1000:.1f} mm, {(have - most) / 1000:.1f} mm more than {most / 1000:g} mm"
        for what, have, most in (("wide", size[0], spec.width_um), ("high", size[1], spec.height_um))
        if most is not None and have > most
    ]
    if wrong:
        channel = (at.bottom_um - at.top_um) / 1000
        raise PinmapError(
            f"the board must fit into the width and height of the file; it gets {listed(wrong)}",
            f"Give it that much, or narrower tracks and gaps: {count(routed.tracks, 'track')} between the connectors "
            f"take {channel:.1f} mm of its height",
            spec.place,
        )


def _moved_pad(pad: Pad, shift: Point) -> Pad:
    return replace(pad, x_um=pad.x_um + shift[0], y_um=pad.y_um + shift[1])


def _moved_track(t: Track, shift: Point) -> Track:
    x, y = shift
    return Track(t.net, t.layer, t.x1_um + x, t.y1_um + y, t.x2_um + x, t.y2_um + y, t.width_um)


def _parts(adapter: Adapter, stands: Sequence[Stand], at: Lines, shift: Point) -> list[Placed]:
    by_ref = {part.ref: part for part in adapter.parts}
    ends = {adapter.host_connector.ref: adapter.host, adapter.card_connector.ref: adapter.card}
    out = []
    for stand in stands:
        ref = stand.block.ref
        left, top, right, bottom = _box(stand, at)
        box = (left + shift[0], top + shift[1], right + shift[0], bottom + shift[1])
        spots = [routing.point(stand, at, p.x_um, p.y_um) for p in stand.block.footprint.pads if p.number]
        x = (min(s[0] for s in spots) + max(s[0] for s in spots)) // 2 + shift[0]
        y = (min(s[1] for s in spots) + max(s[1] for s in spots)) // 2 + shift[1]
        part = by_ref.get(ref)
        value = part.value if part else ends[ref].title
        angle = library_angle(upright(stand.block.footprint, stand.line), stand.block.side)
        out.append(
            Placed(
                ref,
                value,
                stand.block.footprint.name,
                stand.block.side,
                x,
                y,
                angle,
                box,
                part.purpose if part else "",
                part is None,
            )
        )
    return out


def _strokes(stands: Sequence[Stand], at: Lines, shift: Point) -> list[Stroke]:
    out = []
    for stand in stands:
        for line in stand.block.footprint.lines:
            points = [routing.point(stand, at, x, y) for x, y in line]
            moved = tuple((x + shift[0], y + shift[1]) for x, y in points)
            out.append(Stroke(stand.block.side, moved, part=stand.block.ref))
    return out


def _tongue(pads: Sequence[Pad]) -> Ring:
    """No area between and round fingers."""
    own = [pad for pad in pads if pad.finger]
    left, right = min(p.x_um for p in own) - 10_000, max(p.x_um for p in own) + 10_000
    top = min(p.y_um - p.height_um // 2 for p in own) - 300
    bottom = max(p.y_um + p.height_um // 2 for p in own) + 10_000
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def _currents(needs: Sequence[widths.Need], necks: Mapping[str, int]) -> tuple[str, ...]:
    return tuple(
        f"{need.net}: {amps(need.amps)}{need.assumed}, tracks of {need.width_um / 1000:g} mm"
        + (f" ({necks[need.net] / 1000:g} mm between pads)" if necks[need.net] < need.width_um else "")
        + f", vias of {need.via_um[0] / 1000:g} mm with holes of {need.via_um[1] / 1000:g} mm"
        for need in needs
    )
