"""The names in an adapter file: to the lines of the card, or complaints."""

from __future__ import annotations

from collections.abc import Sequence

from .errors import Place
from .model import Signal
from .naming import Names, Reading
from .shape import Shape
from .slot import Slot
from .text import listed, quoted, ranges

MAX_RUN = 100  # lines in a run: more than any group of a bus has


class LineReader:
    """Reads names of the card's lines. Without a slot, where one of the maps is missing, none can be read."""

    def __init__(self) -> None:
        self.shape = Shape()
        self.slot: Slot | None = None
        self._readings: dict[str, Reading | None] = {}

    def known(self, slot: Slot, written: str) -> Reading | None:
        """Return what a name means on the card's bus."""
        if written not in self._readings:
            self._readings[written] = slot.names.read(written)
        return self._readings[written]

    def near(self, names: Names, written: str) -> str:
        """Return "Nearest: …" with the bus's names that are most like `written`, or ""."""
        near = names.nearest(written) if self.shape.affordable(4 * len(names.bus.signals)) else []
        return f"Nearest: {listed(near, 'or')}" if near else ""

    def lines(self, written: str, at: Place, what: str) -> list[Signal]:
        """Return the card's lines that a name, or a run of names, stands for; complain of those that are none."""
        slot = self.slot
        names = self.shape.expanded(written, at)
        if len(names) > MAX_RUN:
            self.shape.complain(
                "run-length", f"{what}: a run of lines must not be longer than {MAX_RUN}, not {len(names)}", at=at
            )
            return []
        if slot is None:
            return []
        known = {name: self.known(slot, name) for name in names}
        strange = [name for name, reading in known.items() if reading is None]
        lines = list({r.signal.name: r.signal for r in known.values() if r}.values())
        lacking = [line.name for line in lines if line.name not in slot.lines]
        if strange:
            self.shape.complain(
                "name-unknown",
                f"{what} must be a line of the card's bus ({slot.card.bus.name}), not "
                f"{listed((quoted(name) for name in strange[:3]), 'or')}{' …' if len(strange) > 3 else ''}",
                self.near(slot.names, strange[0]),
                at=at,
            )
        if lacking:
            fitted = " with the options fitted" if slot.card.options else ""
            self.shape.complain(
                "name-unknown",
                f"{what} must be a line of the card, and {slot.card.name} has no {names_of(lacking)}{fitted}",
                at=at,
            )
        return [line for line in lines if line.name in slot.lines]

    def rail(self, written: str, at: Place, what: str) -> str | None:
        """Return the card's rail of that name, or complain."""
        if self.slot is None:
            return None
        reading = self.known(self.slot, written)
        if reading and reading.signal.name in self.slot.rails:
            return reading.signal.name
        self.shape.complain(
            "supply-unknown",
            f"{what} must name a rail of the card ({listed(self.slot.rails, 'or') or 'it has none'}), "
            f"not {quoted(written)}",
            "" if reading else self.shape.nearest(written, self.slot.rails),
            at=at,
        )
        return None

    def twice(self, what: str, line: str, alike: bool, first: Place, at: Place) -> None:
        """Complain of a line that stands in a block under two names."""
        self.shape.complain(
            "key-twice" if alike else "choice-contradicts",
            f"{what} must name a {'line' if what in ('remedies', 'jumpers') else 'rail'} once"
            f"{'' if alike else ', and say one thing of it'}: {line} stands in line "
            f"{first.line} already",
            "Take one of the two out",
            at=at,
        )

    def needed(self, what: str, lines: list[Signal], at: Place) -> list[Signal]:
        """Return those of the card's lines that the slot does not bring; complain of the others."""
        if self.slot is None:
            return []
        there = {line.name: self.slot.brought[line.name] for line in lines if line.name in self.slot.brought}
        if there:
            labels = [c.label for contacts in there.values() for c in contacts]
            where = f" ({ranges(labels)})" if len(labels) < 10 else ""
            self.shape.complain(
                "remedy-not-needed",
                f"a {what} must be for a line that the slot does not bring, and {self.slot.host.name} brings "
                f"{names_of(list(there))}{where}",
                "Take it out",
                at=at,
            )
        return [line for line in lines if line.name not in there]


def names_of(names: Sequence[str]) -> str:
    """Join names as a sentence does, those that follow each other as ranges."""
    return listed(ranges(names).split(", "))
