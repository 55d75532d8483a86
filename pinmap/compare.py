"""Two maps side by side, by signal."""

from __future__ import annotations

from typing import Literal

from msgspec import Struct

from .model import GROUPS, Contact, Group, PinMap
from .naming import identity

Relation = Literal["same", "moved", "opposite polarity", "only in the first", "only in the second"]


class Row(Struct, frozen=True):
    """One signal: its name on the first map's bus, its contacts in both maps, and how they relate.

    `same`: on the contacts with the same labels. `differs` says what differs where the line was renamed between the
    generations.
    """

    signal: str
    group: Group
    first: tuple[Contact, ...]
    second: tuple[Contact, ...]
    relation: Relation
    differs: str = ""


class Comparison(Struct, frozen=True):
    """Two maps and a row for every signal that either has, in the bus's order."""

    first: PinMap
    second: PinMap
    rows: tuple[Row, ...]

    @property
    def same(self) -> bool:
        """Whether both maps say the same, contact by contact."""
        return all(row.relation == "same" for row in self.rows)


def compare(first: PinMap, second: PinMap) -> Comparison:
    """Pair the signals of two maps.

    A line renamed between the generations is one line; own signals pair by name and mark. Supplies of different volts
    are never one line, whatever they are called.
    """
    rows: list[Row] = []
    left = dict(second.by_signal)
    own = {identity(name): name for name in left if name in second.own}
    for name, contacts in first.by_signal.items():
        signal = contacts[0].signal
        assert signal is not None  # noqa: S101 - by_signal holds only these
        if name in first.own:
            there, differs = own.get(identity(name), ""), ""
        else:
            counterpart, differs = first.bus.counterpart(signal, second.bus)
            there = counterpart.name if counterpart else ""
        others = left.get(there, ())
        if others and others[0].signal and others[0].signal.rail != signal.rail:
            others = ()
        elif others:
            del left[there]
        rows.append(_row(name, signal.group, contacts, others, differs if others else ""))
    for name, contacts in left.items():
        signal = contacts[0].signal
        rows.append(Row(name, signal.group if signal else "own", (), contacts, "only in the second"))
    order = {name: i for i, name in enumerate((*first.bus.signals, *second.bus.signals))}
    rows.sort(key=lambda r: (GROUPS.index(r.group), order.get(r.signal, len(order)), r.signal))
    return Comparison(first, second, tuple(rows))


def _row(name: str, group: Group, first: tuple[Contact, ...], second: tuple[Contact, ...], differs: str) -> Row:
    relation: Relation
    if not second:
        relation = "only in the first"
    elif {c.inverted for c in first} != {c.inverted for c in second}:
        relation = "opposite polarity"
    elif {c.label for c in first} == {c.label for c in second}:
        relation = "same"
    else:
        relation = "moved"
    return Row(name, group, first, second, relation, differs)
