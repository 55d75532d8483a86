"""Supplies and returns: are they there, are they enough, and what lies beside them?"""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import Finding, found
from ..model import Contact, PinMap, Signal
from ..naming import Names
from ..quantity import amps
from ..text import count, listed, natural


def returns(pin_map: PinMap) -> Iterator[Finding]:
    """A connector needs a return; the published connector's number of them is the measure."""
    contacts = _labels(_returns(pin_map))
    if not contacts:
        options = {c.option for c in pin_map.carrying() if c.signal and _is_ground(c.signal, pin_map)}
        yield found(
            "return-none",
            "a connector must have a return, and this map has "
            + (f"one only with {listed(sorted(options), 'or')}" if options else "none"),
            "Without a common return the supplies find their way through the signals: find the ground "
            "contacts with a meter (machine off, unplugged) before anything else",
            pin_map.place,
        )
        return
    published = pin_map.bus.return_count
    if len(contacts) < published:
        yield found(
            "return-few",
            f"there {'is' if len(contacts) == 1 else 'are'} {count(len(contacts), 'return')} "
            f"({listed(contacts)}), fewer than the {published} of {_published(pin_map)}",
            "Keep the adapter short, and join every return of both ends",
            _returns(pin_map)[0].place,
            contacts=contacts,
        )


def return_reach(pin_map: PinMap) -> Iterator[Finding]:
    """Signals further from a return than any signal of the published connector."""
    reach = pin_map.bus.return_reach_mm
    grounds = _returns(pin_map)
    if not grounds or not reach:
        return
    spots = pin_map.body.spots
    # A grid of squares one reach wide: a return within reach lies in the same square or one beside it.
    squares: dict[tuple[int, int], list[Contact]] = {}
    for ground in grounds:
        spot = spots[ground.label]
        squares.setdefault((int(spot.x_mm // reach), int(spot.y_mm // reach)), []).append(ground)
    far = []
    for contact in pin_map.carrying():
        if contact.signal and contact.signal.is_power:
            continue
        spot = spots[contact.label]
        x, y = int(spot.x_mm // reach), int(spot.y_mm // reach)
        around = (g for dx in (-1, 0, 1) for dy in (-1, 0, 1) for g in squares.get((x + dx, y + dy), ()))
        if not any(
            pin_map.body.distance_mm(contact.label, g.label) <= reach + 0.05  # the figure is given to 0.1 mm
            for g in around
        ):
            far.append(contact)
    if far:
        yield found(
            "return-far",
            f"{count(len(far), 'signal')} lie{'s' if len(far) == 1 else ''} further than "
            f"{reach:.1f} mm from any return, the longest way on {_published(pin_map)}: "
            f"{listed(f'{c.name} ({c.label})' for c in far[:6])}{' …' if len(far) > 6 else ''}",
            "Give the adapter's ground its own wires near these contacts",
            far[0].place,
            contacts=[c.label for c in far],
            signals=[c.name for c in far],
        )


def rails_present(pin_map: PinMap) -> Iterator[Finding]:
    """Rails of the bus that the map lacks, or has only with an option; and supplies of unknown volts."""
    for rail in pin_map.bus.rails:
        contacts = pin_map.by_signal.get(rail.name, ())
        options = {c.option for c in contacts}
        effect = rail.absent.effect if rail.absent else ""
        there = {rail.name, *pin_map.by_signal}
        helps = rail.absent.remedy.on(there, pin_map.bus.signals) if rail.absent else None
        remedy = "" if helps is None else f"{'No remedy' if helps.kind == 'none' else 'Remedy'}: {helps.said}"
        if not contacts:
            yield found(
                "rail-missing",
                f"{rail.name} is missing: {effect}".rstrip(": "),
                remedy,
                pin_map.place,
                signals=[rail.name],
                grade=rail.absent.grade if rail.absent else None,
            )
        elif "" not in options:
            yield found(
                "rail-missing",
                f"{rail.name} comes only with {listed(sorted(options), 'or')}: {effect}".rstrip(": "),
                remedy,
                contacts[0].place,
                signals=[rail.name],
                contacts=_labels(contacts),
                grade="caution",
            )
    for contact in pin_map.carrying():
        if contact.signal and contact.signal.group == "supply" and contact.signal.volts is None:
            yield found(
                "rail-unknown-volts",
                f"{contact.label} carries {contact.name}, a supply that must say its volts",
                f"Write it under own signals: {contact.name}: {{group: supply, volts: …}}",
                contact.place,
                contacts=[contact.label],
                signals=[contact.name],
            )


def rail_names(pin_map: PinMap) -> Iterator[Finding]:
    """One rail, or the return, under two names: perhaps they are two."""
    names = Names(pin_map.bus, tuple(pin_map.own.values()))
    for name, contacts in pin_map.by_signal.items():
        signal = contacts[0].signal
        if signal is None or not signal.is_power:
            continue
        spellings: dict[str, Contact] = {}
        for contact in contacts:
            spellings.setdefault(names.folded(contact.written), contact)
        if len(spellings) > 1:
            where = listed(f"{c.written} at {c.label} (line {c.place.line})" for c in spellings.values())
            yield found(
                "rail-two-names",
                f"{name} must go by one name, not by {where}",
                "Makers sometimes keep two supplies or grounds apart under such names: measure that they are "
                "joined, then use one name",
                list(spellings.values())[1].place,
                contacts=[c.label for c in spellings.values()],
                signals=[name],
            )


def limits(pin_map: PinMap) -> Iterator[Finding]:
    """A supply's limit against what its contacts carry, and all limits against the returns."""
    rating = pin_map.body.rating_a
    if not rating:
        return
    source = dict(pin_map.body.sources).get("rating", "")
    said = f"{amps(rating)} each{f', {source}' if source else ''}"
    total = 0.0
    for rail, supply in pin_map.supplies.items():
        there = pin_map.by_signal.get(rail, ())
        contacts = _labels([c for c in there if not c.option] or there)  # those with an option may not be there
        total += supply.limit_a
        able = rating * len(contacts)
        if supply.limit_a > able + 1e-9:
            yield found(
                "rail-limit",
                f"{rail} may deliver {amps(supply.limit_a)}, more than its "
                f"{count(len(contacts), 'contact')} carr{'ies' if len(contacts) == 1 else 'y'}: {amps(able)} "
                f"({said})",
                f"Fuse {rail} at {amps(able)} or less, or let cards draw no more",
                supply.place,
                contacts=contacts,
                signals=[rail],
            )
    grounds = _labels(_returns(pin_map))
    able = rating * len(grounds)
    if grounds and total > able + 1e-9:
        yield found(
            "return-overloaded",
            f"the rails together may deliver {amps(total)}, more than "
            f"{count(len(grounds), 'return')} carr{'ies' if len(grounds) == 1 else 'y'}: {amps(able)} ({said})",
            "Add a separate ground wire, or let cards draw less",
            _returns(pin_map)[0].place,
            contacts=grounds,
        )


def neighbours(pin_map: PinMap) -> Iterator[Finding]:
    """What a slipped probe or a bent pin joins: two rails, or a rail and a signal."""
    by_label = pin_map.by_label
    lines: list[tuple[float, str]] = []
    beside: list[str] = []
    for contact in by_label.values():
        if contact.signal is None or contact.signal.group != "supply":
            continue
        for label in pin_map.body.neighbours[contact.label]:
            other = by_label[label]
            if other.signal is None or other.signal.group == "return" or other.signal.name == contact.signal.name:
                continue
            if other.signal.group == "supply":
                if natural(contact.label) < natural(label):
                    yield found(
                        "rail-beside-rail",
                        f"{contact.name} ({contact.label}) lies beside {other.name} "
                        f"({label}): a slipped probe or bent pin joins them",
                        "Never probe here with power on; measure on the cable or a test pin instead",
                        contact.place,
                        contacts=[contact.label, label],
                        signals=[contact.name, other.name],
                    )
            else:
                volts = abs(contact.signal.volts or 0.0)
                lines.append((-volts, f"{contact.name} ({contact.label}) beside {other.name} ({label})"))
                beside += [contact.label, label]
    if lines:
        lines.sort(key=lambda pair: (pair[0], natural(pair[1])))
        yield found(
            "rail-beside-line",
            f"a slipped probe or bent pin puts a rail on a signal: {listed(text for _, text in lines)}",
            "Probe these with the power off, or with an insulated tip",
            pin_map.place,
            contacts=dict.fromkeys(beside),
        )


def _returns(pin_map: PinMap) -> list[Contact]:
    """The contacts that are the bus's return whatever is fitted; a ground of the maker's own is another circuit."""
    return [c for c in pin_map.carrying() if c.signal and not c.option and _is_ground(c.signal, pin_map)]


def _is_ground(signal: Signal, pin_map: PinMap) -> bool:
    return signal.group == "return" and signal.name not in pin_map.own


def _published(pin_map: PinMap) -> str:
    return listed(pin_map.bus.connectors, "or") or pin_map.bus.name


def _labels(contacts: tuple[Contact, ...] | list[Contact]) -> list[str]:
    return list(dict.fromkeys(c.label for c in contacts))
