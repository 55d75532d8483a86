"""Two maps held against each other: by signal, by contact, and as whole connectors."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from .described import body_facts, lie, limits, map_facts, own_facts
from .mistakes import Mistake, mistakes
from .model import GROUPS, Contact, Group, PinMap
from .naming import identity
from .renumbered import Numberings, Renumbered, numberings
from .resemblance import explanations
from .text import natural

Relation = Literal["same", "moved", "opposite polarity", "only in the first", "only in the second"]
#: How the two contacts of a pair relate: `another option`: the same line, there with other options fitted · `another
#: use`: neither carries a known line, and they are not the same kind of nothing (open, key, unknown).
PairRelation = Literal[
    "same",
    "another line",
    "opposite polarity",
    "another option",
    "another use",
    "only in the first",
    "only in the second",
]
#: From so many contacts on that differ, it is asked whether the connector as a whole was written another way round,
#: and of these the answer must leave at most one in so many.
_WHOLE, _LEFT = 4, 4
#: No connector of a bus has as many contacts, and to try every way takes longer with each: with 500, 0.1 to 0.2 s.
MOST_CONTACTS = 500


class Row(Struct, frozen=True):
    """One signal: its name on the first map's bus, its contacts in both maps, and how they relate.

    `same`: on the contacts with the same labels. `differs` says what differs where the line was renamed between the
    generations. `besides` is the relation once the mistake with the connector as a whole is undone.
    """

    signal: str
    group: Group
    first: tuple[Contact, ...]
    second: tuple[Contact, ...]
    relation: Relation
    differs: str = ""
    besides: Relation = "same"

    @property
    def written(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """What each map calls the line, as written there."""
        one, other = (tuple(sorted({c.written for c in side if c.written})) for side in (self.first, self.second))
        return one, other

    @property
    def renamed(self) -> bool:
        """Whether both maps have the line in one polarity, and write it otherwise."""
        one, other = self.written
        return bool(one and other) and one != other and self.relation != "opposite polarity"

    @property
    def seen(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """What the line rests on in each map."""
        one, other = (tuple(sorted({c.seen for c in side})) for side in (self.first, self.second))
        return one, other


class Change(Struct, frozen=True):
    """Something that both maps say of one thing, and say otherwise; "" where a map does not say it."""

    what: str
    first: str
    second: str


class Pair(Struct, frozen=True):
    """What both maps say of one contact: `label` in the first, `there` in the second.

    The two labels are one, but where the numberings differ or a mistake with the connector as a whole is undone; one of
    them is "" where that puts a contact off the connector. `changes` are those of name, evidence, note and source.
    """

    label: str
    there: str
    first: tuple[Contact, ...]
    second: tuple[Contact, ...]
    relation: PairRelation
    changes: tuple[Change, ...] = ()


class Whole(Struct, frozen=True):
    """One map is the other with `mistake` made in it: `made_in` says which.

    Of the `known` contacts that carry a line, `agreeing` agree once it is undone, and `as_given` as they stand.
    """

    mistake: Mistake
    made_in: Literal["first", "second"]
    agreeing: int
    as_given: int
    known: int


class Comparison(Struct, frozen=True, dict=True):
    """Two maps and a row for every signal that either has, in the bus's order.

    `labelled`: both have the same labels. `renumbered`: they are held against each other by position. With neither,
    `pairs` is empty, and `same` and `moved` of a row only tell whether the labels happen to be the same. `exchanged`
    are pairs of contacts, by their labels in the first map, that carry what the other has there. `body`, `limits`,
    `options`, `own` and `about` have what is described otherwise; `mated`: the two bodies plug into each other.
    """

    first: PinMap
    second: PinMap
    rows: tuple[Row, ...]
    labelled: bool = True
    pairs: tuple[Pair, ...] = ()
    whole: Whole | None = None
    exchanged: tuple[tuple[str, str], ...] = ()
    body: tuple[Change, ...] = ()
    mated: bool = False
    limits: tuple[Change, ...] = ()
    options: tuple[Change, ...] = ()
    own: tuple[Change, ...] = ()
    about: tuple[Change, ...] = ()
    renumbered: Renumbered | None = None

    @property
    def held(self) -> bool:
        """Whether the contacts are held against each other, by label or by position."""
        return self.labelled or self.renumbered is not None

    @cached_property
    def same(self) -> bool:
        """Whether both maps carry the same: one can stand for the other, and every wire goes to the same place.

        Every contact carries the same line in the same polarity, with the same options, or the same nothing, and the
        body has it in the same place (or is its mate). Names, evidence, notes, sources, limits and ratings do not
        count: they change no wire.
        """
        return (
            self.labelled
            and self.renumbered is None
            and self.whole is None
            and all(pair.relation == "same" for pair in self.pairs)
            and not self.lies_elsewhere
        )

    @cached_property
    def same_by_position(self) -> bool:
        """Whether the two carry the same at every position, under another numbering."""
        return self.renumbered is not None and self.whole is None and all(p.relation == "same" for p in self.pairs)

    @cached_property
    def lies_elsewhere(self) -> tuple[Change, ...]:
        """What of the body decides where a contact or its pad is, and differs; but a numbering that is told already."""
        if self.mated:
            return ()
        return tuple(change for change in self.body if change.what in _PLACING and change.what not in self.told_already)

    @cached_property
    def told_already(self) -> frozenset[str]:
        """What of the body is told with the numbering."""
        if self.renumbered is None:
            return frozenset()
        if self.renumbered.numberings.plugged:
            return frozenset(_PLACING)
        one, other, moves = self.first.body, self.second.body, self.renumbered.numberings.moves
        told = {"sections", "labels", "first"}
        for what, ours, theirs in (
            ("pads", one.pad_of, other.pad_of),
            ("mate's pads", one.mate().pad_of, other.mate().pad_of),
        ):
            if all(pad == ours[moves[label]] for label, pad in theirs.items()):
                told.add(what)
        return frozenset(told)

    @property
    def identical(self) -> bool:
        """Whether there is nothing at all to be said."""
        told = (self.body, self.limits, self.options, self.own, self.about)
        spoken = any(row.renamed or row.differs for row in self.rows)
        return self.same and not any(told) and not spoken and not any(pair.changes for pair in self.pairs)


def compare(first: PinMap, second: PinMap) -> Comparison:
    """Pair the signals of two maps, and their contacts where both connectors have the same labels or positions.

    Where two numberings of one connector differ and the maps agree better by position, position counts. A line renamed
    between the generations is one line; own signals pair by name and mark. Supplies of different volts are never one
    line, whatever they are called.
    """
    rows = _rows(first, second)
    labelled = set(first.body.labels) == set(second.body.labels)
    claims = _Claims(first, second, rows)
    whole = _whole(first, second, claims) if labelled else None
    renumbered = None
    both = numberings(first.body, second.body)
    if both:
        renumbered, whole = _by_position(first, second, rows, both, whole)
    pairs: tuple[Pair, ...] = ()
    exchanged: tuple[tuple[str, str], ...] = ()
    if labelled or renumbered:
        back = _moves(whole) if whole else {label: label for label in first.body.labels}
        if renumbered:
            back = {there: back[at] for there, at in renumbered.numberings.moves.items() if at in back}
        pairs = _pairs(first, second, claims, back)
        exchanged = _exchanged(pairs, claims)
        rows = [replace(row, besides=_relation(row.first, row.second, back)) for row in rows]
    else:
        rows = [replace(row, besides="same" if row.relation == "moved" else row.relation) for row in rows]
    one, other = body_facts(first.body), body_facts(second.body)
    return Comparison(
        first,
        second,
        tuple(rows),
        labelled,
        pairs,
        whole,
        exchanged,
        _changes(one, other),
        lie(first.body.mate()) == lie(second.body),
        _changes(limits(first), limits(second)),
        _changes(first.options, second.options),
        _changes(own_facts(first), own_facts(second)),
        _changes(map_facts(first), map_facts(second)),
        renumbered,
    )


#: What decides where a contact is, and its pad.
_PLACING = ("form", "gender", "sections", "labels", "first", "pitch", "row pitch", "pads", "mate's pads")


def _changes(first: Mapping[str, str], second: Mapping[str, str]) -> tuple[Change, ...]:
    names = list(dict.fromkeys((*first, *second)))
    if list(first) != list(second):
        names.sort(key=natural)  # each map has its own order; turned round, the comparison keeps one
    return tuple(
        Change(name, first.get(name, ""), second.get(name, "")) for name in names if first.get(name) != second.get(name)
    )


# ---------------------------------------------------------------------- by signal


def _rows(first: PinMap, second: PinMap) -> list[Row]:
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
        rows.append(Row(name, signal.group, contacts, others, _relation(contacts, others), differs if others else ""))
    for name, contacts in left.items():
        signal = contacts[0].signal
        rows.append(Row(name, signal.group if signal else "own", (), contacts, "only in the second"))
    order = {name: i for i, name in enumerate((*first.bus.signals, *second.bus.signals))}
    rows.sort(key=lambda r: (GROUPS.index(r.group), order.get(r.signal, len(order)), r.signal))
    return rows


def _relation(first: Sequence[Contact], second: Sequence[Contact], back: Mapping[str, str] | None = None) -> Relation:
    """How two maps' contacts of one line relate; `back` leads from a label of the second map to one of the first."""
    if not second:
        return "only in the first"
    if not first:
        return "only in the second"
    if {c.inverted for c in first} != {c.inverted for c in second}:
        return "opposite polarity"
    there = {c.label if back is None else back.get(c.label, "") for c in second}
    return "same" if {c.label for c in first} == there else "moved"


# ---------------------------------------------------------------------- by contact

_Claim = tuple[object, ...]


class _Claims:
    """What each contact of both maps is said to carry, as values that agree where the lines are one line."""

    def __init__(self, first: PinMap, second: PinMap, rows: Sequence[Row]) -> None:
        self.first = self._of(first, {c.signal.name: n for n, row in enumerate(rows) for c in row.first if c.signal})
        self.second = self._of(second, {c.signal.name: n for n, row in enumerate(rows) for c in row.second if c.signal})

    @staticmethod
    def _of(pin_map: PinMap, line: Mapping[str, int]) -> dict[str, frozenset[_Claim]]:
        out: dict[str, set[_Claim]] = {}
        for contact in pin_map.contacts:
            out.setdefault(contact.label, set()).add(
                (line[contact.signal.name], contact.inverted, contact.option)
                if contact.signal
                else (contact.role, identity(contact.written) if contact.role == "unknown" else "")
            )
        return {label: frozenset(claims) for label, claims in out.items()}


def _carried(claims: frozenset[_Claim]) -> frozenset[_Claim]:
    """Of what a contact is said to be: the lines."""
    return frozenset(claim for claim in claims if len(claim) == 3)


_NOTHING: frozenset[_Claim] = frozenset()


def _pair_relation(one: frozenset[_Claim], other: frozenset[_Claim]) -> PairRelation:
    a, b = _carried(one), _carried(other)
    if one == other:
        return "same"
    if a == b:
        return "another use"
    if not b:
        return "only in the first"
    if not a:
        return "only in the second"
    if {claim[:2] for claim in a} == {claim[:2] for claim in b}:
        return "another option"
    if {claim[0] for claim in a} == {claim[0] for claim in b}:
        return "opposite polarity"
    return "another line"


def _pairs(first: PinMap, second: PinMap, claims: _Claims, back: Mapping[str, str]) -> tuple[Pair, ...]:
    """Each contact of the first map with the one of the second that stands for it, in natural order."""
    ours, theirs = _by_label(first), _by_label(second)
    forth = {there: here for here, there in back.items()}
    out = []
    for label in sorted(ours, key=natural):
        there = forth.get(label, "")
        relation = _pair_relation(claims.first[label], claims.second[there] if there else _NOTHING)
        one, other = ours[label], theirs.get(there, ())
        if there or _carried(claims.first[label]):
            out.append(Pair(label, there, one, other, relation, _said(one, other) if relation == "same" else ()))
    for label in sorted(theirs, key=natural):
        if label not in back and _carried(claims.second[label]):
            out.append(Pair("", label, (), theirs[label], "only in the second"))
    return tuple(out)


def _by_label(pin_map: PinMap) -> dict[str, tuple[Contact, ...]]:
    out: dict[str, list[Contact]] = {}
    for contact in pin_map.contacts:
        out.setdefault(contact.label, []).append(contact)
    return {label: tuple(contacts) for label, contacts in out.items()}


_SAID: tuple[tuple[str, Callable[[Contact], str]], ...] = (
    ("name", lambda c: c.written if c.role in ("signal", "unknown") else ""),
    ("evidence", lambda c: c.seen),
    ("note", lambda c: c.note),
    ("source", lambda c: c.source),
)


def _said(first: Sequence[Contact], second: Sequence[Contact]) -> tuple[Change, ...]:
    """What is said otherwise of a contact that carries the same."""

    def told(contacts: Sequence[Contact], get: Callable[[Contact], str]) -> str:
        return "; ".join(dict.fromkeys(said for c in contacts if (said := get(c))))

    changes = (Change(what, told(first, get), told(second, get)) for what, get in _SAID)
    return tuple(change for change in changes if change.first != change.second)


def _exchanged(pairs: Sequence[Pair], claims: _Claims) -> tuple[tuple[str, str], ...]:
    """The contacts of the first map that each carry what the second has at the other."""
    waiting: dict[tuple[frozenset[_Claim], frozenset[_Claim]], list[str]] = {}
    out = []
    for pair in pairs:
        if pair.relation == "another line" and pair.there:
            here, there = claims.first[pair.label], claims.second[pair.there]
            partners = waiting.get((there, here))
            if partners:
                out.append((partners.pop(0), pair.label))
            else:
                waiting.setdefault((here, there), []).append(pair.label)
    return tuple(sorted(out, key=lambda e: natural(e[0])))


# ---------------------------------------------------------------------- as a whole


def _whole(first: PinMap, second: PinMap, claims: _Claims) -> Whole | None:
    """The mistake with the connector as a whole that leaves the fewest contacts differing, where it leaves few.

    It may have been made in either map: each is asked in the labels of its own body, the second first.
    """
    here = {label: label for label in claims.first}
    as_given = _differing(claims.first, claims.second, here)
    if as_given < _WHOLE or len(first.body) > MOST_CONTACTS:
        return None
    best: tuple[Literal["first", "second"], Mistake] | None = None
    fewest = as_given // _LEFT + 1
    for made_in, mistake in _candidates(first, second):
        right, wrong = (claims.first, claims.second) if made_in == "second" else (claims.second, claims.first)
        left = _differing(right, wrong, mistake.moves)
        if left < fewest:
            fewest, best = left, (made_in, mistake)
    if best is None:
        return None
    whole = Whole(best[1], best[0], 0, _agreeing(claims, here), 0)
    return replace(whole, agreeing=_agreeing(claims, _moves(whole)), known=_known(claims))


def _known(claims: _Claims) -> int:
    """How many contacts carry a line, on the map where it is more of them."""
    return max(sum(bool(_carried(c)) for c in side.values()) for side in (claims.first, claims.second))


def _candidates(first: PinMap, second: PinMap) -> Iterator[tuple[Literal["first", "second"], Mistake]]:
    both: tuple[tuple[Literal["first", "second"], PinMap, PinMap], ...] = (
        ("second", second, first),
        ("first", first, second),
    )
    for made_in, pin_map, _ in both:
        yield from ((made_in, mistake) for mistake in mistakes(pin_map.body))
    for made_in, pin_map, reference in both:  # a part of the table that is off by a contact or two
        for explanation in explanations(pin_map, [reference]):
            if explanation.mistake and explanation.mistake.begins:
                yield made_in, explanation.mistake


def _differing(
    right: Mapping[str, frozenset[_Claim]], wrong: Mapping[str, frozenset[_Claim]], moves: Mapping[str, str]
) -> int:
    """How many contacts carry something else, where what `wrong` has at a label belongs where `moves` says."""
    there = {belongs: label for label, belongs in moves.items()}
    lost = sum(bool(_carried(claims)) for label, claims in wrong.items() if label not in moves)
    return lost + sum(
        _carried(claims) != _carried(wrong.get(there.get(label, ""), _NOTHING)) for label, claims in right.items()
    )


def _agreeing(claims: _Claims, back: Mapping[str, str]) -> int:
    """How many contacts carry the same line, where `back` leads from a label of the second map to one of the first."""
    return sum(
        bool(_carried(there)) and _carried(there) == _carried(claims.first.get(back.get(label, ""), _NOTHING))
        for label, there in claims.second.items()
    )


def _moves(whole: Whole) -> dict[str, str]:
    """From each label of the second map to that of the first, with the mistake undone."""
    moves = whole.mistake.moves
    return dict(moves) if whole.made_in == "second" else {there: here for here, there in moves.items()}


# ---------------------------------------------------------------------- by position


def _by_position(
    first: PinMap, second: PinMap, rows: Sequence[Row], both: Numberings, whole: Whole | None
) -> tuple[Renumbered | None, Whole | None]:
    """Whether position tells more than the labels do; and the mistake with the connector as a whole, read that way.

    `whole` is what explains the labels best. Position must leave at most one in four of the contacts that differ by
    label, or that carry a line where the labels are others, and no more than `whole` leaves.
    """
    claims = _Claims(first, second, rows)
    placed = replace(
        second,
        body=first.body,
        contacts=tuple(replace(contact, label=both.moves[contact.label]) for contact in second.contacts),
    )
    by_place = _Claims(first, placed, rows)
    here = {label: label for label in claims.first}
    labelled = set(here) == set(claims.second)
    known = _known(claims)
    as_given = _differing(claims.first, claims.second, here) if labelled else known
    least = min(as_given // _LEFT, _left(claims, whole) if whole else as_given)
    if not as_given:
        return None, whole
    found = None
    if _differing(by_place.first, by_place.second, here) > least:
        found = None if whole else _whole(first, placed, by_place)
        if found is None or _left(by_place, found) > least:
            return None, whole
    agreeing = _agreeing(by_place, here)
    return Renumbered(both, agreeing, _agreeing(claims, here) if labelled else None, known), found


def _left(claims: _Claims, whole: Whole) -> int:
    """How many contacts still differ with a mistake undone."""
    right, wrong = (claims.first, claims.second) if whole.made_in == "second" else (claims.second, claims.first)
    return _differing(right, wrong, whole.mistake.moves)
