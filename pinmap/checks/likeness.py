"""Does a map agree with other maps of its bus, or would it if a typical mistake had been made?"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ..findings import Finding, Grade, found
from ..model import Contact, PinMap
from ..resemblance import Explanation, as_given, explanations, lines, same_labels
from ..text import count, listed, natural, ranges
from .handedness import described_mirrored
from .order import runs_in_order

#: From this share of agreement on, and this many times what chance would give, a map with the labels of a published
#: connector is meant to be that connector, and every difference is named.
_SAME, _TIMES_CHANCE = 0.3, 4
#: A map with fewer known contacts, or against a reference without any of its lines, is no other connector yet.
_TOO_FEW = 4
#: So many lines that differ are named one by one; more are named together.
_ONE_BY_ONE = 8


def likeness(
    pin_map: PinMap, references: Callable[[], tuple[PinMap, ...]], *, same_machine: bool = False
) -> Iterator[Finding]:
    """The mistake that would explain the map; else where it differs from a reference that has the same labels.

    `same_machine`: the references are other records of the same connector, so that every difference counts. Only where
    nothing of that can be said are the runs of data and address lines looked at by themselves.
    """
    others = references()
    if same_machine and others and not any(same_labels(pin_map, other) for other in others):
        yield found(
            "differs-from-reference",
            f"records of one connector must have the same contacts; {listed(o.name for o in others)} "
            f"{'has' if len(others) == 1 else 'have'} others than this map",
            "Compare the body, and with what numbers the labels begin",
            pin_map.place,
            grade="fault",
        )
    named = explanations(pin_map, others)
    if named:
        yield _mistaken(pin_map, named)
        if named[0].labelled:
            return
    alike = [as_given(pin_map, other) for other in others if same_labels(pin_map, other)]
    best = max(alike, key=lambda e: e.weight, default=None)
    if best is None or best.known < _TOO_FEW or not best.by_chance:
        yield from runs_in_order(pin_map)
        return
    meant = best.share >= _SAME and best.agreeing >= _TIMES_CHANCE * best.by_chance
    if same_machine or meant:
        if not meant:
            yield _strangers(pin_map, best, "one of the two tables is wrong, or they describe two connectors", "danger")
        yield from _differences(pin_map, best.reference)
        return
    why = "the machine has an order of its own, or the table is wrong throughout"
    power = [c for c in pin_map.carrying() if c.signal and c.signal.is_power]
    settled = bool(power) and all(c.seen == "measured" for c in power)
    yield _strangers(pin_map, best, why, "caution" if settled else "danger")
    yield from runs_in_order(pin_map)


def _strangers(pin_map: PinMap, best: Explanation, why: str, grade: Grade) -> Finding:
    return found(
        "differs-from-reference",
        f"only {best.agreeing} of {count(best.known, 'contact')} carry what {best.reference.name} has there, "
        f"although the labels are the same: {why}",
        "Measure every supply and return before anything is connected"
        + ("; write `seen: measured` there if the machine is so" if grade == "danger" else ""),
        pin_map.place,
        grade=grade,
    )


def _mistaken(pin_map: PinMap, named: list[Explanation]) -> Finding:
    best = named[0]
    ways = listed((f"{e.mistake.name} ({e.mistake.why})" for e in named if e.mistake), "or")
    mistake = best.mistake
    assert mistake is not None  # noqa: S101 - explanations() names mistakes only
    begins = pin_map.by_label[mistake.begins] if mistake.begins else None
    lost = [c.label for c in pin_map.by_label.values() if c.role != "undescribed" and c.label not in mistake.moves]
    power = [c for c in pin_map.carrying() if c.signal and c.signal.is_power and mistake.moves.get(c.label) != c.label]
    return found(
        "geometry-mistaken",
        f"if the map was written {ways}, {best.agreeing} of {count(best.known, 'contact')} agree with "
        f"{best.reference.name}; as it stands {best.as_given} do, and about {best.by_chance:.0f} would by chance",
        "Measure where the returns and +5V really are, before anything else. "
        + (
            "`--propose NEW.yaml` writes the map corrected"
            if best.labelled
            else "If the maker's order is meant, leave it; if not, `--propose NEW.yaml` writes the map corrected"
        )
        + (
            "; the body is described mirrored as well, and the proposal corrects both"
            if best.labelled and described_mirrored(pin_map.body, best.reference.body)
            else ""
        )
        + (f" (without what stands at {ranges(sorted(lost, key=natural))})" if lost else ""),
        begins.place if begins else pin_map.place,
        contacts=[mistake.begins] if mistake.begins else [c.label for c in power],
        # A maker's own connector may lie any way round; the labels of a published one say where things are.
        grade="danger" if best.labelled and power else "fault" if best.labelled else "caution",
    )


def _differences(pin_map: PinMap, reference: PinMap) -> Iterator[Finding]:
    """Name every contact at which a map of the same connector says something else."""
    here, there = lines(pin_map, reference), lines(reference, reference)
    odd = [
        c
        for c in pin_map.by_label.values()
        if c.role == "signal" and here.get(c.label, c.name) != there.get(c.label, "")
    ]
    odd = [c for c in odd if c.label in here or there.get(c.label)]  # the maker's own line where nothing is published
    yield from _polarities(pin_map, reference, here, there)
    done: set[str] = set()
    for one, other in _exchanged(odd, here, there):
        done |= {one.label, other.label}
        yield found(
            "differs-from-reference",
            f"{one.label} and {other.label} look exchanged: {reference.name} has "
            f"{there[one.label]} at {one.label} and {there[other.label]} at {other.label}, "
            f"this map {one.name} and {other.name}",
            f"Measure {one.label} and {other.label}",
            one.place,
            contacts=[one.label, other.label],
            signals=[one.name, other.name],
            grade=_grade(reference, there, one, other, otherwise="fault"),
        )
    left = [c for c in odd if c.label not in done]
    lines_only = [c for c in left if _grade(reference, there, c) == "caution" and c.seen != "measured"]
    if len(lines_only) > _ONE_BY_ONE:
        together = {c.label for c in lines_only}
        left = [c for c in left if c.label not in together]
        pairs = [f"{c.label} {c.name} ({there.get(c.label) or 'nothing'})" for c in lines_only]
        yield found(
            "differs-from-reference",
            f"{len(lines_only)} lines differ from {reference.name} (what that has in brackets): {listed(pairs)}",
            "Measure them before anything is connected",
            lines_only[0].place,
            contacts=[c.label for c in lines_only],
            signals=[c.name for c in lines_only],
            grade="fault",
        )
    for contact in left:
        published = there.get(contact.label)
        grade = _grade(reference, there, contact)
        yield found(
            "differs-from-reference",
            f"{contact.label} carries {contact.name} here, {published or 'nothing'} on {reference.name}",
            f"Measure {contact.label} before anything is connected"
            if grade == "danger"
            else f"Measure {contact.label}; write `seen: measured` there if the machine really differs",
            contact.place,
            contacts=[contact.label],
            signals=[name for name in (contact.name, published) if name],
            grade=grade,
        )


def _exchanged(odd: list[Contact], here: dict[str, str], there: dict[str, str]) -> Iterator[tuple[Contact, Contact]]:
    """Pair the contacts that each carry what the reference has at the other."""
    waiting: dict[tuple[str, str], list[Contact]] = {}
    for contact in odd:
        carried, wanted = here.get(contact.label, ""), there.get(contact.label, "")
        others = waiting.get((wanted, carried))
        if others:
            yield others.pop(0), contact
        elif carried and wanted:
            waiting.setdefault((carried, wanted), []).append(contact)


def _polarities(pin_map: PinMap, reference: PinMap, here: dict[str, str], there: dict[str, str]) -> Iterator[Finding]:
    """Lines that the reference has inverted and the map has not; the other way round, the bus itself says so."""
    for label, contact in pin_map.by_label.items():
        other = reference.by_label.get(label)
        if other and other.inverted and not contact.inverted and here.get(label) and here[label] == there.get(label):
            yield found(
                "differs-from-reference",
                f"{label} carries {contact.name} here, {other.name} on {reference.name}: the polarity is opposite",
                f"Measure the level of {label} at rest",
                contact.place,
                contacts=[label],
                signals=[contact.name, other.name],
            )


def _grade(reference: PinMap, there: dict[str, str], *contacts: Contact, otherwise: Grade = "caution") -> Grade:
    """A supply or return in a wrong place is a danger, a line `otherwise`; what was measured may be meant."""
    signals = reference.bus.signals
    power = any(
        (c.signal and c.signal.is_power) or (there.get(c.label) in signals and signals[there[c.label]].is_power)
        for c in contacts
    )
    if all(c.seen == "measured" for c in contacts):
        return "caution"
    return "danger" if power else otherwise
