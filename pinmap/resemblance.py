"""Which mistake would explain a map? It is held against other maps of its bus under every geometric mistake.

Slots of makers' own mostly keep the order of the standard. A map that agrees badly with a published one as it stands,
and well once it is turned round, was probably written the wrong way round.

How agreement is counted: a contact with the same line is worth 1, with the same supply or return 3, for these are what
is known best. Lines that follow each other in a run (SD3 beside SD4) come right or wrong together, so all but the first
of a run are worth a quarter. That is what `weight` is; messages give plain numbers of contacts.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property

from msgspec import Struct

from .body import Cell
from .mistakes import Mistake, mistakes, table_order
from .model import PinMap
from .text import count

_POWER_WEIGHT = 3.0
_RUN_WEIGHT = 0.25

#: A map that agrees with a reference this well as it stands needs no explanation (share of the weight).
SETTLED = 0.97
#: What an explanation must gain over the map as given, in weight, and what share of the map it must then explain.
#: Set by trial on shipped maps with injected mistakes and on orders made at random: `tests/faults`.
_GAIN, _SHARE = 9.0, 0.45
_OWN_GAIN, _OWN_SHARE = 12.0, 0.25
#: A part of the table that is off by a contact or two: what it must gain, and the share of that part explained.
_PART_GAIN, _PART_SHARE = 3.0, 0.75
_PART_SHIFTS = (1, -1, 2, -2)
#: How much less weight an explanation may have that is named beside the best, and how many are named at most.
_EXACT, _OWN_EXACT, _MOST = 1e-9, 3.0, 3
_LARGEST = 4  # a connector with more times the contacts of a reference is another kind of thing
_REACH = 4  # places by which a maker's own connector may lie beside the published one
_MOST_CONTACTS, _MOST_SECTIONS = 500, 4  # no connector of a bus has as many; to try every way would take minutes


class Explanation(Struct, frozen=True):
    """A reference map, a mistake (None: none), and how well the map agrees with the reference if it was made.

    `agreeing` of `known` contacts agree, `as_given` without the mistake, about `by_chance` anyway. `labelled`: both
    connectors have the same labels, so that the reference says what stands at each. `section` where the mistake is
    only in one section.
    """

    reference: PinMap
    mistake: Mistake | None
    agreeing: int
    known: int
    as_given: int
    by_chance: float
    weight: float
    share: float
    labelled: bool


def explanations(pin_map: PinMap, references: Sequence[PinMap]) -> list[Explanation]:
    """Return the mistakes that explain the map far better than it stands, the best first.

    Several where they explain it equally well, or where the map resembles the reference only in part, nearly so. An
    empty list: none does, because the map agrees as it is, or because it is simply different. Where a reference has the
    same labels, only such references count.
    """
    sized = [r for r in references if len(pin_map.body) <= _LARGEST * len(r.body) and _usual(pin_map, r)]
    overlays = [overlay for reference in sized if (overlay := _Overlay(pin_map, reference)).known]
    overlays = [overlay for overlay in overlays if overlay.labelled] or overlays
    if not overlays or any(overlay.as_given.share >= SETTLED for overlay in overlays):
        return []
    made = mistakes(pin_map.body, shifts=3 if any(overlay.labelled for overlay in overlays) else 0)
    out = sorted((found for overlay in overlays for found in overlay.better(made)), key=lambda e: -e.weight)
    best = max((e.weight for e in out), default=0.0)
    equal: dict[frozenset[tuple[str, str]], Explanation] = {}
    for e in out:
        if e.mistake and e.weight >= best - (_EXACT if e.labelled else _OWN_EXACT):
            equal.setdefault(frozenset(e.mistake.moves.items()), e)
    return list(equal.values())[:_MOST]


def _usual(*maps: PinMap) -> bool:
    return all(len(m.body) <= _MOST_CONTACTS and len(m.body.sections) <= _MOST_SECTIONS for m in maps)


def as_given(pin_map: PinMap, reference: PinMap) -> Explanation:
    """How well a map agrees with a reference as it stands."""
    return _Overlay(pin_map, reference).as_given


def same_labels(pin_map: PinMap, reference: PinMap) -> bool:
    """Whether both connectors have the same contacts by name."""
    return set(pin_map.body.labels) == set(reference.body.labels)


def lines(pin_map: PinMap, reference: PinMap) -> dict[str, str]:
    """What each contact of a map carries, by the reference's name for the line.

    Lines that the reference does not know are left out; where a contact is described twice, the first known one counts.
    """
    out: dict[str, str] = {}
    for contact in pin_map.carrying():
        signal = contact.signal
        if signal is None or contact.label in out:
            continue
        if signal.name in pin_map.own:
            name = signal.name if signal.name in reference.own else ""
        else:
            there, _ = pin_map.bus.counterpart(signal, reference.bus)
            name = there.name if there else ""
        if name:
            out[contact.label] = name
    return out


class _Overlay(Struct, frozen=True, dict=True):
    """A map and a reference, laid over each other."""

    map: PinMap
    reference: PinMap

    @cached_property
    def labelled(self) -> bool:
        return same_labels(self.map, self.reference)

    @cached_property
    def known(self) -> dict[str, str]:
        return lines(self.map, self.reference)

    @cached_property
    def there(self) -> dict[Cell, str]:
        """What the reference has in each cell."""
        carried = lines(self.reference, self.reference)
        return {cell: carried[label] for label, cell in self.reference.body.cells.items() if label in carried}

    @cached_property
    def as_given(self) -> Explanation:
        return max((self._explain(None, *at) for at in self._places()), key=lambda e: e.weight)

    def better(self, made: Sequence[Mistake]) -> Iterator[Explanation]:
        """Yield the explanations that are far better than the map as given; each is the best for its mistake."""
        gain, share = (_GAIN, _SHARE) if self.labelled else (_OWN_GAIN, _OWN_SHARE)
        given = self.as_given
        for mistake in made:
            best = max((self._explain(mistake, *at) for at in self._places()), key=lambda e: e.weight)
            if best.weight >= given.weight + gain and best.share >= share:
                yield best
        if self.labelled:
            for mistake in self._parts():
                best = self._explain(mistake, -1, -1, 0)
                if best.weight >= given.weight + _PART_GAIN and best.share >= _SHARE:
                    yield best

    def _parts(self) -> Iterator[Mistake]:
        """Yield the likeliest shift of a part of the table: from some contact on to the row's or the table's end."""
        table = table_order(self.map.body)
        cells = self.map.body.cells
        carried = {label: self.there.get(cell, "") for label, cell in cells.items()}
        stands = [self.known.get(label, "") for label in table]
        wanted = [carried[label] for label in table]
        starts = [i for i, label in enumerate(table) if not i or cells[label][:2] != cells[table[i - 1]][:2]]
        ends = {*starts[1:], len(table)} if self.map.body.scheme != "zigzag" else {len(table)}
        for step in _PART_SHIFTS:
            for end in sorted(ends):
                begin = self._begin(stands, wanted, step, end)
                if begin is not None:
                    yield _part(table, begin, end, step, self._silent(stands, wanted, begin, step))

    def _begin(self, stands: list[str], wanted: list[str], step: int, end: int) -> int | None:
        """Where the shift by `step` that ends before index `end` begins, None where there is none worth naming."""
        best, begin, gained = 0.0, None, 0.0
        right = wrong = 0
        for i in range(end - 1, -1, -1):
            from_there = wanted[i - step] if 0 <= i - step < end else ""
            name = stands[i]
            if name and name != from_there:
                wrong += 1
            elif name:
                right += 1
            gained += self._worth(name) * ((name == from_there) - (name == wanted[i])) if name else 0.0
            if gained > best + 1e-9 and right >= 4 and right >= _PART_SHARE * (right + wrong):
                best, begin = gained, i
        return begin

    @staticmethod
    def _silent(stands: list[str], wanted: list[str], begin: int, step: int) -> int:
        """How many contacts in front of `begin` do not tell whether they are shifted: unknown, or wrong either way."""
        i = begin
        while i > max(step, 0) and i - 1 - step < len(wanted):
            name = stands[i - 1]
            if name and (name == wanted[i - 1]) != (name == wanted[i - 1 - step]):
                break
            i -= 1
        return begin - i

    def _worth(self, name: str) -> float:
        signal = self.reference.bus.signals.get(name)
        return _POWER_WEIGHT if signal is not None and signal.is_power else 1.0

    def _places(self) -> Iterator[tuple[int, int, int]]:
        """Where the map may lie on the reference: its section, the reference's section, the offset in places.

        Connectors with the same labels lie on each other one way only: (-1, -1, 0).
        """
        if self.labelled:
            yield -1, -1, 0
            return
        for mine, section in enumerate(self.map.body.sections):
            for other, there in enumerate(self.reference.body.sections):
                spare = section.places - there.places
                for offset in range(min(0, spare) - _REACH, max(0, spare) + _REACH + 1):
                    yield mine, other, offset

    def _explain(self, mistake: Mistake | None, mine: int, other: int, offset: int) -> Explanation:
        weight, agreeing = self._agreement(mistake, mine, other, offset)
        return Explanation(
            self.reference,
            mistake,
            agreeing,
            len(self.known),
            0 if mistake is None else self.as_given.agreeing,
            self._by_chance,
            weight,
            weight / self._greatest,
            self.labelled,
        )

    def _agreement(self, mistake: Mistake | None, mine: int, other: int, offset: int) -> tuple[float, int]:
        """The weight and the number of the contacts that agree."""
        there = self.there
        placed = self._placed(mistake)
        if mine < 0:
            matched = {cell: name for cell, name in placed if there.get(cell) == name}
        else:
            matched = {
                cell: name
                for (section, row, place), name in placed
                if section == mine and there.get(cell := (other, row, place - offset)) == name
            }
        return self._weigh(matched), len(matched)

    def _placed(self, mistake: Mistake | None) -> list[tuple[Cell, str]]:
        """Where each known line belongs if the mistake was made."""
        last = self.__dict__.get("last")
        if last is None or last[0] is not mistake:
            known, cells = self.known, self.map.body.cells
            if mistake is None:
                placed = [(cells[label], name) for label, name in known.items()]
            else:
                moves = mistake.moves
                placed = [(cells[moves[label]], name) for label, name in known.items() if label in moves]
            last = self.__dict__["last"] = (mistake, placed)
        return last[1]

    def _weigh(self, matched: Mapping[Cell, str]) -> float:
        signals = self.reference.bus.signals
        weight = 0.0
        for (section, row, place), name in matched.items():
            signal = signals.get(name)
            if signal is not None and signal.is_power:
                weight += _POWER_WEIGHT
            else:
                before = matched.get((section, row, place - 1))
                weight += _RUN_WEIGHT if before and follows(before, name) else 1.0
        return weight

    @cached_property
    def _greatest(self) -> float:
        """The weight if every known contact agreed, as far as the map's own order tells what would stand in runs."""
        cells = self.map.body.cells
        return self._weigh({cells[label]: name for label, name in self.known.items()}) or 1.0

    @cached_property
    def _by_chance(self) -> float:
        """How many contacts would agree if the map's lines stood anywhere."""
        have = Counter(self.there.values())
        return sum(have[name] for name in self.known.values()) / max(len(self.map.body), 1)


def _part(table: Sequence[str], begin: int, end: int, step: int, silent: int) -> Mistake:
    """The mistake that the contacts from index `begin` to before `end` of the table stand `step` contacts too late.

    The `silent` ones in front of them may be shifted too.
    """
    # What is put back in front of the part takes the place of what was put in by mistake.
    kept = min(begin, begin - step)
    moves = {label: label for i, label in enumerate(table) if i < kept or i >= end}
    moves |= {table[i]: table[i - step] for i in range(begin, end) if 0 <= i - step < end}
    perhaps = table[begin - silent : begin]
    maybe = f" (or already from {perhaps[0]})" if perhaps else ""
    last = "" if end == len(table) else f" to {table[end - 1]}"
    return Mistake(
        ("part shifted",),
        f"off by {count(abs(step), 'contact')} from {table[begin]}{maybe} on{last}",
        "a contact was counted twice or left out" if abs(step) == 1 else "contacts were counted twice or left out",
        moves,
        begins=table[begin],
        perhaps=tuple(perhaps),
    )


_NUMBERED = re.compile(r"^([A-Z]+)(\d+)(\*?)$")


def follows(one: str, other: str) -> bool:
    """Whether two lines are neighbours in a run: SD3 and SD4, in either order."""
    a, b = _NUMBERED.match(one), _NUMBERED.match(other)
    return bool(a and b and a[1] == b[1] and a[3] == b[3] and abs(int(a[2]) - int(b[2])) == 1)
