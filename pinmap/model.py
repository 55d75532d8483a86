"""What the rest of the program works with: frozen objects that check themselves and know no file format."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping
from functools import cached_property
from typing import Literal, get_args

from msgspec import Struct
from msgspec.structs import replace

from .body import Body
from .errors import NOWHERE, NotFoundError, Place
from .findings import Grade
from .text import listed, nearest, visible

Group = Literal["return", "supply", "data", "address", "command", "control", "timing", "interrupt", "DMA", "own"]
#: The groups in the order in which a table lists them and a person wires them: returns and supplies first.
GROUPS: tuple[Group, ...] = get_args(Group)
End = Literal["host", "card"]
Seen = Literal["manual", "measured", "guessed"]
Driver = Literal["host", "card", "either", "none"]
Active = Literal["high", "low", "none"]
RemedyKind = Literal[
    "leave open",
    "pull up",
    "pull down",
    "tie low",
    "tie high",
    "oscillator",
    "regulator",
    "reset circuit",
    "inverter",
    "separate feed",
    "jumper",
    "none",
]


class Remedy(Struct, frozen=True):
    """What the card's side needs where the slot lacks a line. `value` and `to` are as a parts list would say them."""

    kind: RemedyKind
    why: str
    value: str = ""
    to: str = ""

    def __str__(self) -> str:
        return f"no remedy: {self.why}" if self.kind == "none" else self.said

    @property
    def said(self) -> str:
        """What is done and why; where there is no remedy, only why."""
        if self.kind == "none":
            return self.why
        to = f"{'from' if self.kind == 'regulator' else 'to'} {self.to}" if self.to else ""
        words = " ".join(w for w in (self.kind, self.value, to) if w)
        return f"{words}: {self.why}" if self.why else words

    def on(self, there: Container[str], lines: Container[str]) -> Remedy:
        """Return the remedy as it is on a slot that brings the lines in `there`: one that leads to another says so."""
        if self.to not in lines or self.to in there:
            return self
        if self.kind == "regulator":
            why = f"a regulator would be fed from {self.to}, which the slot does not bring either"
            return Remedy("none", f"{why}; a card that needs the rail needs a feed of its own")
        return replace(self, why=f"{self.why} The slot does not bring {self.to} either.".lstrip())


class Absent(Struct, frozen=True):
    """What follows when a slot lacks a line: the effect on a card, the remedy, and how bad it is for cards at large."""

    effect: str
    remedy: Remedy
    grade: Grade = "caution"


class Elsewhere(Struct, frozen=True):
    """A line's counterpart in another generation of the bus; `name` is "" where there is none."""

    name: str
    differs: str


class Signal(Struct, frozen=True):
    """A line of a bus, or one of the maker's own (`group` "own").

    `active` is the level at which it means what its name says; `idle` the level when nobody drives it. `volts` (V),
    `tolerance_percent` and `current_a` (A, the published maximum per module) belong to supplies.
    `sources` cites each fact by field name; the key "" holds for all others.
    """

    name: str
    group: Group
    about: str = ""
    aliases: tuple[str, ...] = ()
    driver: Driver = "none"
    output: str = ""
    active: Active = "none"
    idle: str = ""
    pull: str = ""
    sink: str = ""
    frequency: str = ""
    elsewhere: Mapping[str, Elsewhere] = {}
    absent: Absent | None = None
    volts: float | None = None
    tolerance_percent: float | None = None
    current_a: float | None = None
    sources: Mapping[str, str] = {}

    def __post_init__(self) -> None:
        if self.group not in GROUPS:
            raise ValueError(f"a signal's group must be one of {', '.join(GROUPS)}, not {self.group!r}")
        if self.volts is not None and self.group != "supply":
            raise ValueError(f"only a supply has volts, not {self.name}")

    @property
    def is_power(self) -> bool:
        """Whether this is a supply or a return: what may, and should, stand on several contacts."""
        return self.group in ("supply", "return")

    @property
    def rail(self) -> tuple[Group, float | None] | None:
        """What must agree before two supplies or returns are joined: kind and volts. None for signals."""
        return (self.group, self.volts) if self.is_power else None

    def source_of(self, fact: str) -> str:
        """Cite the source of one fact ("driver", "output", "pull" …)."""
        return self.sources.get(fact) or self.sources.get("", "")


class CardKind(Struct, frozen=True):
    """A kind of card and the lines without which it cannot work.

    `needs` are all needed; of `one_of` at least one group must be complete; `helps` are used by some such cards.
    """

    name: str
    about: str
    needs: tuple[str, ...]
    helps: tuple[str, ...] = ()
    one_of: tuple[tuple[str, ...], ...] = ()
    source: str = ""


class Bus(Struct, frozen=True, dict=True):
    """A signal dictionary: the names that maps are written in, and what each line is.

    `connectors` names the published connectors that carry the bus. `return_count` is the smallest number of returns
    that any of them has, `return_reach_mm` the longest way in mm from a signal to the nearest return on any of them.
    """

    name: str
    title: str
    signals: Mapping[str, Signal]
    kinds: tuple[CardKind, ...] = ()
    about: str = ""
    connectors: tuple[str, ...] = ()
    return_count: int = 0
    return_reach_mm: float = 0.0
    sources: Mapping[str, str] = {}

    def __post_init__(self) -> None:
        for kind in self.kinds:
            for line in (*kind.needs, *kind.helps, *(name for group in kind.one_of for name in group)):
                if line not in self.signals:
                    raise ValueError(f"a kind of card must need lines of its bus, not {line} (kind {kind.name})")

    @cached_property
    def rails(self) -> tuple[Signal, ...]:
        """The supplies of the bus."""
        return tuple(s for s in self.signals.values() if s.group == "supply")

    def counterpart(self, line: Signal, other: Bus) -> tuple[Signal | None, str]:
        """Find in `other` the line that `line` of this bus is there, and say what differs ("" where nothing does).

        A line is its namesake in the other generation unless either dictionary says otherwise: the same name can mean
        another line there.
        """
        if other.name == self.name:
            return line, ""
        said = line.elsewhere.get(other.name)
        if said:
            return other.signals.get(said.name), said.differs
        if (self.name, line.name) in other.claims:
            return other.claims[self.name, line.name]
        there = other.signals.get(line.name)
        if there is None:
            return None, ""
        taken = self.claims.get((other.name, there.name))
        if taken:
            return None, taken[1]
        back = there.elsewhere.get(self.name)
        return (None, back.differs) if back and back.name != line.name else (there, "")

    @cached_property
    def claims(self) -> dict[tuple[str, str], tuple[Signal, str]]:
        """The lines that this dictionary says are a line of another one, by that bus and line, and what differs."""
        return {
            (bus, there.name): (line, there.differs)
            for line in self.signals.values()
            for bus, there in line.elsewhere.items()
            if there.name
        }


Role = Literal["signal", "open", "key", "unknown", "undescribed"]


class Contact(Struct, frozen=True):
    """One contact of a map.

    `role`: `signal` carries `signal` · `open` is brought out and connected to nothing · `key` is no contact at all ·
    `unknown` bears a name (`written`) that nobody knows · `undescribed` is on the body but not in the table.
    `inverted`: it is there with the opposite polarity. `option`: it is there only with that option fitted.
    `renamed`: the name is the other generation's; says what differs.
    """

    label: str
    role: Role
    signal: Signal | None = None
    written: str = ""
    inverted: bool = False
    option: str = ""
    seen: Seen = "manual"
    note: str = ""
    source: str = ""
    renamed: str = ""
    place: Place = NOWHERE

    def __post_init__(self) -> None:
        if (self.role == "signal") != (self.signal is not None):
            raise ValueError(f"contact {self.label} must have a signal exactly when its role is signal")

    @property
    def name(self) -> str:
        """What the contact carries, in the dictionary's spelling; an inverted line with the mark it then has."""
        if self.signal is None:
            return self.written if self.role == "unknown" else {"undescribed": "?"}.get(self.role, self.role)
        return opposite(self.signal.name) if self.inverted else self.signal.name


def opposite(name: str) -> str:
    """Write a line's name with the other polarity: RESET ↔ RESET*."""
    return name[:-1] if name.endswith("*") else f"{name}*"


class Supply(Struct, frozen=True):
    """What the machine can deliver on one rail: `limit_a` in ampere."""

    rail: str
    limit_a: float
    place: Place = NOWHERE


class PinMap(Struct, frozen=True, dict=True):
    """A connector with what each of its contacts carries.

    `contacts` holds every contact of the body at least once, in the body's order; one that the table describes twice
    stands there twice. `name` is the library's name or the file's stem.
    """

    name: str
    title: str
    bus: Bus
    end: End
    body: Body
    contacts: tuple[Contact, ...]
    about: str = ""
    source: str = ""
    options: Mapping[str, str] = {}
    own: Mapping[str, Signal] = {}
    supplies: Mapping[str, Supply] = {}
    marks: Literal["used", "none"] = "used"
    place: Place = NOWHERE

    def __post_init__(self) -> None:
        described = {c.label for c in self.contacts}
        strays = described - set(self.body.labels)
        if strays:
            raise ValueError(f"every contact must be on the body, not {', '.join(sorted(strays))}")
        if len(described) != len(self.body):
            missing = [label for label in self.body.labels if label not in described]
            raise ValueError(f"every contact of the body must be in the map; missing: {', '.join(missing[:5])}")

    @property
    def file(self) -> str:
        """The file that the map was read from, as the user named it."""
        return self.place.file

    @cached_property
    def by_signal(self) -> dict[str, tuple[Contact, ...]]:
        """The contacts that carry each signal, by the dictionary's name, whatever polarity and option they have."""
        out: dict[str, list[Contact]] = {}
        for contact in self.carrying():
            assert contact.signal is not None  # noqa: S101 - carrying() yields only these
            out.setdefault(contact.signal.name, []).append(contact)
        return {name: tuple(contacts) for name, contacts in out.items()}

    @cached_property
    def by_label(self) -> dict[str, Contact]:
        """The contact with each label; where one is described twice, the first description."""
        out: dict[str, Contact] = {}
        for contact in self.contacts:
            out.setdefault(contact.label, contact)
        return out

    @cached_property
    def present(self) -> tuple[str, ...]:
        """The labels at which there is a contact at all: every label of the body but those that are only a key."""
        there = {c.label for c in self.contacts if c.role != "key"}
        return tuple(label for label in self.body.labels if label in there)

    def carrying(self) -> Iterator[Contact]:
        """Yield the contacts that carry a known signal."""
        return (c for c in self.contacts if c.signal is not None)

    def fitted(self, options: frozenset[str]) -> Iterator[Contact]:
        """Yield the contacts that carry a known signal with these options fitted."""
        return (c for c in self.carrying() if not c.option or c.option in options)

    def disputed(self, options: frozenset[str]) -> dict[str, tuple[Contact, ...]]:
        """The contacts whose meaning is in doubt with these options fitted, by label, each with all that is claimed.

        A contact described twice with different things, and every contact of a signal (no supply or return) that
        stands on more than one: nothing tells which is right, so none is.
        """
        claims: dict[str, list[Contact]] = {}
        for contact in self.contacts:
            if contact.role != "signal" or not contact.option or contact.option in options:
                claims.setdefault(contact.label, []).append(contact)
        out = {label: tuple(c) for label, c in claims.items() if len({x.name for x in c}) > 1}
        places: dict[str, dict[str, Contact]] = {}
        for contact in self.fitted(options):
            if contact.signal and not contact.signal.is_power:
                places.setdefault(contact.signal.name, {})[contact.label] = contact
        for several in places.values():
            if len(several) > 1:
                for label in several:
                    out.setdefault(label, tuple(claims[label]))
        return out


def no_option(option: str, known: Iterable[str]) -> NotFoundError:
    """Make the error for an option that no map has; `known` are those that there are."""
    names = sorted(known)
    near = nearest(option, names)
    what = listed(map(repr, names), "or") or "none, for the map has none"
    return NotFoundError(
        f"an option must be {what}, not {visible(option)!r}", advice=f"Did you mean {near[0]}?" if near else ""
    )
