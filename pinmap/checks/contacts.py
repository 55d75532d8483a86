"""Is every contact of the body described, once, and are the open and key contacts where they may be?"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from ..findings import Finding, found
from ..model import Contact, PinMap
from ..text import count, listed, natural, ranges


def described_once(pin_map: PinMap) -> Iterator[Finding]:
    """A contact described twice: with the same thing it is untidy, with two things it is disputed."""
    by_label: dict[str, list[Contact]] = {}
    for contact in pin_map.contacts:
        by_label.setdefault(contact.label, []).append(contact)
    for label, several in by_label.items():
        if len(several) < 2:
            continue
        options = [c.option for c in several]
        if all(options) and len(set(options)) == len(options):
            continue  # each comes with an option of its own; what is fitted decides
        first, second = several[0], several[-1]
        names = list(dict.fromkeys(c.name for c in several))
        where = f"lines {first.place.line} and {second.place.line}"
        if len(names) == 1:
            yield found(
                "contact-twice",
                f"contact {label} must be described once, not in {where} (both say {names[0]})",
                "Delete one of the two lines",
                second.place,
                contacts=[label],
                grade="caution",
                signals=names,
            )
        else:
            yield found(
                "contact-twice",
                f"contact {label} must carry one thing, not {listed(names)} ({where})",
                "Find out which is right, by meter, before anything is built",
                second.place,
                contacts=[label],
                signals=names,
            )


def all_described(pin_map: PinMap) -> Iterator[Finding]:
    """Contacts of the body that the table does not mention."""
    missing = [c for c in pin_map.contacts if c.role == "undescribed"]
    if missing:
        labels = [c.label for c in missing]
        yield found(
            "contact-not-described",
            f"every contact must be described; {count(len(labels), 'contact')} of "
            f"{len(pin_map.body)} {'is' if len(labels) == 1 else 'are'} not: {ranges(sorted(labels, key=natural))}",
            "Measure them, or write `open` where nothing is connected; until then they stay unconnected",
            missing[0].place,
            contacts=labels,
        )


_NUMBERED = re.compile(r"^([A-Z]+)(\d+)(\*?)$")


def runs_complete(pin_map: PinMap) -> Iterator[Finding]:
    """An open or key contact whose two neighbours carry SDn−1 and SDn+1: the line between them is probably there."""
    by_label = pin_map.by_label
    for contact in by_label.values():
        if contact.role not in ("open", "key", "undescribed"):
            continue
        sides = pin_map.body.neighbours[contact.label][:2]
        lines = [by_label[s].signal for s in sides]
        if len(lines) < 2 or not all(line and line.group in ("data", "address") for line in lines):
            continue
        matches = [_NUMBERED.match(line.name) for line in lines if line]
        (a, b) = matches
        if a and b and a[1] == b[1] and abs(int(a[2]) - int(b[2])) == 2:
            between = f"{a[1]}{(int(a[2]) + int(b[2])) // 2}"
            if between not in pin_map.by_signal:
                yield found(
                    "open-in-run",
                    f"{contact.label} is {'not described' if contact.role == 'undescribed' else contact.role} "
                    f"between {lines[0].name if lines[0] else ''} and {lines[1].name if lines[1] else ''}, where "
                    f"{between} would be expected",
                    f"Measure {contact.label} against {between} of a bus chip or another slot",
                    contact.place,
                    contacts=[contact.label],
                    signals=[between],
                )


def keys_expected(pin_map: PinMap, published: Callable[[], tuple[PinMap, ...]]) -> Iterator[Finding]:
    """A key or open contact where every published connector with the same labels has something."""
    odd = [c for c in pin_map.by_label.values() if c.role in ("open", "key")]
    if not odd:
        return
    labels = set(pin_map.body.labels)
    alike = [p for p in published() if set(p.body.labels) == labels]
    for contact in odd:
        there = [p.by_label[contact.label] for p in alike]
        if there and all(c.role == "signal" for c in there):
            names = listed(dict.fromkeys(f"{c.name} on {p.name}" for c, p in zip(there, alike, strict=True)))
            yield found(
                "key-unexpected",
                f"{contact.label} is {contact.role} here, but {names}",
                "Look whether the contact is really without function on this machine",
                contact.place,
                contacts=[contact.label],
                signals=[c.name for c in there[:1]],
            )
