"""Is every contact of the body described, once, and are the open and key contacts where they may be?"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from ..findings import Finding, found
from ..model import Contact, PinMap, Signal
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
        second = several[-1]
        names = list(dict.fromkeys(c.name for c in several))
        where = f"lines {listed(dict.fromkeys(str(c.place.line) for c in several))}"
        if len(names) == 1:
            both = "both" if len(several) == 2 else "all"
            yield found(
                "contact-twice",
                f"contact {label} must be described once, not in {where} ({both} say {names[0]})",
                "Keep one of these lines",
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


_NUMBERED = re.compile(r"^([A-Z]+)(\d+)$")


def runs_complete(pin_map: PinMap) -> Iterator[Finding]:
    """An open or key contact between SDn−1 and SDn+1: the line between them is probably there."""
    by_label = pin_map.by_label
    order = sorted(pin_map.body.labels, key=natural)
    index = {label: i for i, label in enumerate(order)}
    for contact in by_label.values():
        if contact.role not in ("open", "key", "undescribed"):
            continue
        i = index[contact.label]
        y_mm = pin_map.body.spots[contact.label].y_mm
        beside = [
            [n for n in pin_map.body.neighbours[contact.label] if pin_map.body.spots[n].y_mm == y_mm],
            # Where the labels cross the rows, a run may follow them.
            [*order[max(i - 1, 0) : i], *order[i + 1 : i + 2]] if pin_map.body.scheme == "zigzag" else [],
        ]
        for sides in beside:
            lines = [line for side in sides if (line := by_label[side].signal)]
            between = _between(lines)
            if between and between not in pin_map.by_signal:
                yield found(
                    "open-in-run",
                    f"{contact.label} is {'not described' if contact.role == 'undescribed' else contact.role} "
                    f"between {lines[0].name} and {lines[1].name}, where {between} would be expected",
                    f"Measure {contact.label} against {between} of a bus chip or another slot",
                    contact.place,
                    contacts=[contact.label],
                    signals=[between],
                )
                break


def _between(lines: list[Signal]) -> str:
    """The data or address line that lies between two, or "" where they are not two of a run with one left out."""
    if len(lines) != 2 or any(line.group not in ("data", "address") for line in lines):
        return ""
    a, b = (_NUMBERED.match(line.name) for line in lines)
    if not (a and b) or a[1] != b[1] or abs(int(a[2]) - int(b[2])) != 2:
        return ""
    return f"{a[1]}{(int(a[2]) + int(b[2])) // 2}"


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
