"""Pin maps made by hand for the tests: a body and what its contacts carry, with no YAML near them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from msgspec import Struct

from pinmap import library
from pinmap.body import Body, Section
from pinmap.errors import Place
from pinmap.model import Bus, Contact, End, PinMap, Seen, Signal, Supply
from pinmap.naming import Names, unused

BUS8 = library.bus("isa-8bit")
BUS16 = library.bus("isa-16bit")
_NAMES = {bus.name: Names(bus) for bus in (BUS8, BUS16)}

#: The rail and the returns that a quiet map needs beside the lines under test.
POWER = {"1": "GND", "2": "+5V"}


class Line(Struct, frozen=True):
    """What one contact carries, with more than its name."""

    written: str
    option: str = ""
    seen: Seen = "manual"
    note: str = ""


def header(places: int = 20, rating_a: float | None = None) -> Body:
    """Two rows of pins, numbered 1, 2 across, then 3, 4: odd numbers below, even ones above."""
    return Body("box header", (Section(2, places),), "zigzag", "bottom left", rating_a=rating_a)


def strip(places: int = 20, rating_a: float | None = None) -> Body:
    """One row of pins, 1 at the left."""
    return Body("pin header", (Section(1, places),), "serial", "top left", rating_a=rating_a)


def pin_map(
    contacts: Mapping[str, Any] | Iterable[tuple[str, Any]],
    body: Body | None = None,
    *,
    bus: Bus = BUS8,
    end: End = "host",
    name: str = "handmade",
    rest: str = "open",
    own: Iterable[Signal] = (),
    limits: Mapping[str, float] | None = None,
    marks: Literal["used", "none"] = "used",
) -> PinMap:
    """Make a map from what stands at each label, a name or a `Line`; contacts not named are `rest`.

    Entry n stands in line n of map.yaml; options describe themselves.
    """
    body = body or header()
    own = tuple(own)
    names = Names(bus, own) if own or (bus is not BUS8 and bus is not BUS16) else _NAMES[bus.name]
    pairs = list(contacts.items()) if isinstance(contacts, Mapping) else list(contacts)
    described = {label for label, _ in pairs}
    out = [_contact(label, entry, names, marks, line) for line, (label, entry) in enumerate(pairs, 1)]
    for label in body.labels:
        if label not in described:
            role: Literal["undescribed", "open"] = "undescribed" if rest == "undescribed" else "open"
            out.append(Contact(label, role, written="open"))
    return PinMap(
        name=name,
        title=f"The {name} connector",
        bus=bus,
        end=end,
        body=body,
        contacts=tuple(out),
        options={c.option: f"brings {c.written}" for c in out if c.option},
        own={s.name: s for s in own},
        supplies={rail: Supply(rail, limit, Place("map.yaml", 90, 3)) for rail, limit in (limits or {}).items()},
        marks=marks,
        place=Place("map.yaml"),
    )


def _contact(label: str, entry: str | Line, names: Names, marks: str, line: int) -> Contact:
    more = entry if isinstance(entry, Line) else Line(entry)
    known = names.read(more.written)
    return Contact(
        label,
        "signal" if known else unused(more.written) or "unknown",
        known.signal if known else None,
        written=more.written,
        inverted=known.inverted(marks) if known else False,
        option=more.option,
        seen=more.seen,
        note=more.note,
        renamed=known.differs if known and known.via == "generation" else "",
        place=Place("map.yaml", line, 3),
    )


def shipped(name: str) -> PinMap:
    """A connector of the library, which must read without complaints that leave no map."""
    read = library.read(name)
    assert read.map is not None
    return read.map


def lines_of(bus: Bus, *without: str) -> list[str]:
    """The names of all lines of a bus but some."""
    return [name for name in bus.signals if name not in without]


def in_a_row(names: Iterable[str | Line], start: int = 1) -> dict[str, str | Line]:
    """Put lines on contacts 1, 2, 3 …"""
    return {str(n): name for n, name in enumerate(names, start)}
