"""How wide the tracks of supplies must be, and how large their vias: by IPC-2221 from what flows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, pi

from msgspec import Struct

from ..adapter import Adapter, Net
from ..electrical import conductors
from ..electrical.facts import facts
from ..errors import PinmapError, Place
from ..parts import FEEDING
from ..quantity import amps
from .blocks import COLUMN_UM
from .drop import ohms
from .layout import Pad, Rules, Track, Via

#: Vias for currents, as (diameter, drill) in µm. The largest that fit beside each other on two columns of the channel.
VIAS_UM = ((600, 300), (800, 400), (1000, 600))
#: Copper on the wall of a plated hole, in µm. Common practice, no source; IPC-6012 class 2 asks for 20 (from memory).
PLATING_UM = 20
#: A supply's track is no narrower, in µm: it must carry what trips a fuse, too. Common practice, no source.
LEAST_SUPPLY_UM = 600
_STEP_UM = 50
#: What a board's tracks may take of a rail before it is worth a word. Common practice, no source.
MUCH = 0.02


class Need(Struct, frozen=True):
    """What a supply or return needs: the current in A, the width of its tracks, and its vias (diameter, drill), in µm.

    `assumed` says where the current is from when no budget says it.
    """

    net: str
    amps: float
    width_um: int
    via_um: tuple[int, int]
    assumed: str = ""


def via_current_a(drill_um: int, rise_k: float) -> float:
    """Return what a via carries, in A: IPC-2221 for the wall of its hole, reckoned as an inner conductor."""
    wall_mm = pi * (drill_um - PLATING_UM) / 1000
    return conductors.trace_current_a(wall_mm, PLATING_UM, rise_k, inner=True)


def rise_k() -> float:
    """Return by how many K a supply's current may warm its copper: what the budget allows, too."""
    return facts().value("trace rise allowed")


def needs(adapter: Adapter, rules: Rules, place: Place) -> tuple[Need, ...]:
    """Return what each supply and return needs. Raises `PinmapError` for more than the room of a column carries."""
    out = []
    built = adapter.design.build if adapter.design else None
    allowed = rise_k()
    least = rules.via_um + rules.gap_um, rules.via_um // 2 + rules.gap_um + rules.track_um // 2
    if max(least) > COLUMN_UM or LEAST_SUPPLY_UM // 2 + rules.gap_um + rules.via_um // 2 > COLUMN_UM:
        raise PinmapError(
            f"between two columns, {COLUMN_UM / 1000:g} mm apart, there must be room for vias of "
            f"{rules.via_um / 1000:g} mm, tracks of {rules.track_um / 1000:g} mm and a gap of "
            f"{rules.gap_um / 1000:g} mm",
            "Vias of 0.6 mm with gaps and tracks of 0.25 mm are what most fabs make; they fit",
            place,
        )
    currents = _currents(adapter)
    widest = 2 * (COLUMN_UM - rules.gap_um) - max(rules.via_um, rules.track_um)
    widest = min(widest, COLUMN_UM - rules.gap_um) // _STEP_UM * _STEP_UM
    for net in adapter.nets:
        if net.group not in ("supply", "return"):
            continue
        flows, assumed = currents[net.name]
        width = conductors.trace_width_mm(flows, allowed, rules.copper_um) * 1000
        width_um = max(LEAST_SUPPLY_UM, rules.track_um, ceil(width / _STEP_UM) * _STEP_UM)
        fitting = [via for via in VIAS_UM if via_current_a(via[1], allowed) >= flows and via[0] >= rules.via_um]
        if net.group == "return":  # the areas on both layers and the stitching vias carry it as well
            width_um, fitting = min(width_um, widest), [*fitting, VIAS_UM[-1]]
        most = min(
            conductors.trace_current_a(widest / 1000, rules.copper_um, allowed), via_current_a(VIAS_UM[-1][1], allowed)
        )
        wished = built.supply_trace_mm * 1000 if built and built.supply_trace_mm else 0
        if wished > width_um:
            width_um = min(widest, int(wished))
            if wished > widest:
                assumed += (
                    f" (the file wishes {wished / 1000:g} mm; between two columns {widest / 1000:g} mm is the most)"
                )
        if (
            flows > most and currents[net.name][1]
        ):  # nobody said what flows: as wide as can be, and say what that carries
            out.append(Need(net.name, most, widest, VIAS_UM[-1], ", which is all that fits; what flows is not known"))
            continue
        if width_um > widest or not fitting:
            raise PinmapError(
                f"no track and via in the room between two columns may carry more than {amps(most)} at a rise of "
                f"{allowed:g} K on copper of {rules.copper_um} µm; {net.name} carries {amps(flows)}{assumed}",
                "Feed that rail apart (separate feed), draw less, or take thicker copper (build › copper)",
                place,
            )
        out.append(Need(net.name, flows, width_um, fitting[0], assumed))
    return tuple(out)


def _currents(adapter: Adapter) -> dict[str, tuple[float, str]]:
    """What flows in each supply and return, in A, and where that is from."""
    known = adapter.budget is not None and adapter.design is not None and adapter.design.cards
    drawn = {line.rail: line.drawn_a for line in adapter.budget.supplies} if known and adapter.budget else {}
    power = [net for net in adapter.nets if net.group in ("supply", "return")]
    out: dict[str, tuple[float, str]] = {}
    for net in power:
        if net.group == "supply":
            if net.signal in drawn:
                out[net.name] = (drawn[net.signal], "")
            else:
                out[net.name] = (_carried(adapter, net), ", which is what its contacts carry")
    total = sum(drawn.values()) if drawn else 0.0
    for net in power:
        if net.group == "return":
            out[net.name] = (total, "") if drawn else (_carried(adapter, net), ", which is what its contacts carry")
    return out


def _carried(adapter: Adapter, net: Net) -> float:
    """What the contacts of a net carry, at the end that carries less; 1 A a contact where no rating is known."""
    ends = [
        len(contacts) * (connector.body.rating_a or 1.0)
        for contacts, connector in ((net.host, adapter.host_connector), (net.card, adapter.card_connector))
        if contacts
    ]
    return min(ends, default=0.0)


def lost(
    adapter: Adapter,
    needs: Sequence[Need],
    tracks: Sequence[Track],
    vias: Sequence[Via],
    pads: Sequence[Pad],
    copper_um: int,
) -> Iterator[str]:
    """What the board's own tracks take of each rail on its way from the machine to the card, in words.

    A rail in two pieces, before and behind its fuse, is one way; the fuse itself is the budget's.
    """
    feeding = {part.ref for part in adapter.parts if part.kind in FEEDING}
    by_net = {need.net: need for need in needs}
    ways: dict[str, list[tuple[Need, float]]] = {}
    for net in adapter.nets:
        if net.group != "supply" or net.name not in by_net:
            continue
        fed = [(ref, pad) for ref, pad in net.parts if ref in feeding]
        start = [(adapter.host_connector.ref, adapter.host_connector.pad(c.label)) for c in net.host] or fed
        end = [(adapter.card_connector.ref, adapter.card_connector.pad(c.label)) for c in net.card] or fed
        if start and end and start != end:
            found = ohms(tracks, vias, pads, net.name, start, end, copper_um)
            if found is not None:
                ways.setdefault(net.signal or net.name, []).append((by_net[net.name], found))
    for rail, pieces in ways.items():
        total = sum(each for _, each in pieces)
        flows = max(need.amps for need, _ in pieces)
        volts_lost = total * flows
        volts = adapter.card.bus.signals[rail].volts if rail in adapter.card.bus.signals else None
        much = volts and volts_lost > MUCH * abs(volts)
        yield (
            f"{rail}: the board's tracks put {total * 1000:.0f} mΩ in its way, {volts_lost * 1000:.0f} mV at "
            f"{amps(flows)}"
            + (
                f", more than {MUCH:.0%} of it: add that to what `pinmap budget` says, take thicker copper, or solder "
                "a wire along"
                if much
                else ""
            )
        )
