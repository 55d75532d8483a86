"""A right adapter, plugged wrongly: what each seating does that a connector and its mate allow, and which key helps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property

from msgspec import Struct
from msgspec.structs import replace

from .adapter import Adapter
from .body import Body, Form
from .consequence import CONSEQUENCES, RANK, Circuit, Consequence, Outcome, own_lines, reached
from .findings import GRADES, Grade
from .forms import FormFacts
from .model import End, PinMap
from .seating import Keying, Limits, allowed, engaged_name, seatings
from .text import listed


class Alike(Struct, frozen=True):
    """Outcomes, one or more, of one consequence that one sentence tells, the worst first; `name` is that of them all.

    With a part engaged, or off by as much either way.
    """

    name: str
    outcomes: tuple[Outcome, ...]

    @property
    def worst(self) -> Outcome:
        """The worst of them."""
        return self.outcomes[0]

    @property
    def number(self) -> int:
        """How many there are."""
        return len(self.outcomes)

    @property
    def sentence(self) -> str:
        """Name the seatings and say what the worst of them does."""
        seating, which = self.worst.seating, ""
        if self.number > 1:
            which = f"; with {seating.engaged[1]} engaged" if seating.engaged else f"; {seating.way}"
        return f"{self.name}{which}: {self.worst.says}"


class Key(Struct, frozen=True):
    """A key that would keep wrong seatings out: contacts unused at both halves, plugged here, pulled there.

    `where` says at which half what is done, `undone` what of that can be undone. `blocks` counts, by consequence, the
    seatings that it would keep out and that nothing keeps out now; `remains` those that stay possible, the right one
    not counted, `worst` among them. `stops` names those of the likeliest slips that it would keep out, `lets` the rest.
    """

    labels: tuple[str, ...]
    where: str
    undone: str
    blocks: Mapping[Consequence, int]
    remains: Mapping[Consequence, int]
    worst: Outcome | None
    stops: tuple[str, ...]
    lets: tuple[str, ...]


class EndMisfit(Struct, frozen=True, dict=True):
    """One end of the adapter: `stays` and `moves` are the forms of the two halves, `limits` what both allow.

    `outcomes` has every seating, the worst first and of these the smallest slip, also those that the `keys` keep out.
    `key` is the proposed one; `key_note` says what is to be said about keys, or why there is none to propose.
    """

    end: End
    stays: Form
    moves: Form
    limits: Limits
    keys: tuple[str, ...]
    outcomes: tuple[Outcome, ...]
    key: Key | None
    key_note: str

    @cached_property
    def possible(self) -> tuple[Outcome, ...]:
        """The seatings that nothing keeps out, the worst first."""
        return tuple(o for o in self.outcomes if not o.kept_out)

    @cached_property
    def likely(self) -> tuple[Alike, ...]:
        """The slips that happen most easily, of those that nothing keeps out, the likeliest first."""
        return likely(self.possible)

    @property
    def kept_out(self) -> tuple[Outcome, ...]:
        """The seatings that a key keeps out."""
        return tuple(o for o in self.outcomes if o.kept_out)

    @property
    def grade(self) -> Grade:
        """The grade of the worst seating that is possible."""
        return self.possible[0].grade


class Misfit(Struct, frozen=True):
    """What can be plugged wrongly at both ends of an adapter from `host` to `card`."""

    host: PinMap
    card: PinMap
    fitted: tuple[str, ...]
    ends: tuple[EndMisfit, EndMisfit]


def misfit(adapter: Adapter, customs: Mapping[Form, FormFacts] | None = None) -> Misfit:
    """Work out every seating at both ends of `adapter`, rank them, and propose a key for each end.

    `customs` says what each form of connector allows; by default what the library says.
    """
    if customs is None:
        from .library import customs as shipped  # a program that brings its own need not load the library

        customs = shipped()
    host, card = adapter.host, adapter.card
    # Not the mate of the adapter's J1: what a socket header goes on need not be the bare pin header.
    machine = host.body if host.end == "host" else host.body.mate()
    plugged = card.body if card.end == "card" else card.body.mate()
    at_host = Circuit(own_lines(adapter, "host"), reached(adapter, "host"))
    at_card = Circuit(reached(adapter, "card"), own_lines(adapter, "card"))
    return Misfit(
        host,
        card,
        adapter.fitted,
        (
            _end("host", host, (machine, adapter.host_connector.body), at_host, customs),
            _end("card", card, (adapter.card_connector.body, plugged), at_card, customs),
        ),
    )


def alike(outcomes: Sequence[Outcome]) -> tuple[Alike, ...]:
    """Put neighbouring seatings with a part engaged under one name where they have one consequence; the rest alone."""
    runs: dict[tuple[str, int], list[Outcome]] = {}
    order: list[list[Outcome]] = []
    by_part = {o.seating.engaged: o for o in outcomes if o.seating.engaged}
    for outcome in outcomes:
        part = outcome.seating.engaged
        if part is None:
            order.append([outcome])
            continue
        side, start = part
        while (before := by_part.get((side, start - 1))) and before.consequence == outcome.consequence:
            start -= 1
        if (side, start) not in runs:
            order.append(runs.setdefault((side, start), []))
        runs[side, start].append(outcome)
    return tuple(Alike(_common_name(several), tuple(several)) for several in order)


#: Turned, along, across, the likeliest first. Two in a line are told together where they have one consequence.
_SLIPS = (
    ((False, 1, 0),),
    ((False, -1, 0),),
    ((False, 0, 1), (False, 0, -1)),
    ((True, 0, 0),),
    ((True, 1, 0), (True, -1, 0)),
)


def likely(outcomes: Sequence[Outcome]) -> tuple[Alike, ...]:
    """Return the likeliest of the slips in `outcomes`, which are ranked: one step off, turned, and a part engaged.

    Of those with a part engaged it has the worst only. Common practice, no source: that these are the likeliest.
    """
    found = {
        (o.seating.turned, o.seating.along, o.seating.across): (rank, o)
        for rank, o in enumerate(outcomes)
        if not o.seating.engaged
    }
    out: list[Alike] = []
    for slips in _SLIPS:
        several = [o for _, o in sorted((found[s] for s in slips if s in found), key=lambda f: f[0])]
        if len(several) == 2 and several[0].consequence == several[1].consequence:
            out.append(Alike(several[0].seating.either_way, tuple(several)))
        else:
            out += (Alike(o.seating.name, (o,)) for o in several)
    return (*out, *alike([o for o in outcomes if o.seating.engaged])[:1])


def _common_name(several: Sequence[Outcome]) -> str:
    engaged = [o.seating.engaged for o in several if o.seating.engaged]
    if not engaged:
        return several[0].seating.name
    return engaged_name(engaged[0][0], min(k for _, k in engaged), max(k for _, k in engaged))


# ---------------------------------------------------------------------- keys


def _propose(keying: Keying, outcomes: Sequence[Outcome], words: tuple[str, str]) -> tuple[Key | None, str]:
    """Find the key that leaves the fewest dangers, then faults; and what is to be said about keys."""
    wrong = [o for o in outcomes if o.seating.kind != "right"]
    possible = [o for o in wrong if not o.kept_out]
    harmful = [o for o in possible if o.grade in ("danger", "fault")]
    there = any(o.kept_out and o.grade in ("danger", "fault") for o in wrong)
    if not harmful:
        if there:
            return None, "the key that is there keeps out every seating that was found to damage something: leave it in"
        return None, (
            "none is proposed: no seating that these connectors allow was found to put a supply where it must not be"
        )
    if all(o.seating.kind == "part" for o in harmful):
        if there:
            return None, (
                "leave the key in that is there; beside what it keeps out, only seatings with a part engaged were "
                "found to damage something, and those no key prevents"
            )
        return None, (
            "no key helps: only seatings with a part engaged were found to damage something, and those no key prevents"
        )
    if not keying.unused:
        what = "place of the edge" if keying.edge else "contact"
        return None, f"no {what} is unused at both halves, so no key can be set without giving up a line"
    left = {g: [o for o in wrong if not keying.keeps_out(o.seating, keying.keys | {*g})] for g in keying.unused}
    best = min(keying.unused, key=lambda g: _badness(left[g]))
    if _badness(left[best])[:2] >= _badness(possible)[:2]:
        return None, "no unused contact would keep out more of what can damage something than is kept out already"
    remains = {id(o) for o in left[best]}
    slips = [o for group in likely(possible) for o in group.outcomes if not o.seating.engaged]
    key = Key(
        best,
        _where(keying, best, words),
        _undone(keying, words),
        _tally(o for o in possible if id(o) not in remains),
        _tally(left[best]),
        left[best][0] if left[best] else None,
        slip_names(o for o in slips if id(o) not in remains),
        slip_names(o for o in slips if id(o) in remains),
    )
    return key, "it keeps out only what puts a pin on the plugged hole; a part engaged it does not prevent"


def _badness(outcomes: Iterable[Outcome]) -> tuple[int, ...]:
    grades = Counter(o.grade for o in outcomes)
    consequences = Counter(o.consequence for o in outcomes)
    return (*(grades[g] for g in GRADES), *(consequences[c] for c in CONSEQUENCES))


def _tally(outcomes: Iterable[Outcome]) -> dict[Consequence, int]:
    counted = Counter(o.consequence for o in outcomes)
    return {c: counted[c] for c in CONSEQUENCES if c in counted}


def _where(keying: Keying, labels: Sequence[str], words: tuple[str, str]) -> str:
    stays, moves = words
    if keying.edge:
        slot, tongue = (moves, stays) if keying.pins == "stays" else (stays, moves)
        return f"a wall across the {slot}'s slot and a notch in the {tongue}'s edge at {listed(labels)}"
    if keying.pins is None:
        return f"at {listed(labels)}, plugged on the half with the holes and pulled on the half with the pins"
    pins, holes = (stays, moves) if keying.pins == "stays" else (moves, stays)
    return f"hole {listed(labels)} plugged on the {holes}'s connector, pin {listed(labels)} pulled on the {pins}'s"


def _undone(keying: Keying, words: tuple[str, str]) -> str:
    """Say what of a key can be undone: a plug or a wall, not a pulled pin or a notch; so best on the adapter."""
    if keying.pins is None:
        return "a pulled pin cannot be put back: take the adapter's where it has the pins, else think twice"
    loses, other = words if keying.pins == "stays" else words[::-1]
    lost, added = ("a notch", "wall") if keying.edge else ("a pulled pin", "plug")
    back = "closed again" if keying.edge else "put back"
    if loses == "adapter":
        return f"{lost} cannot be {back}, but it is the adapter's; the {added} can be taken out of the {other} again"
    return f"{lost} on the {loses} cannot be {back}: think twice, and look first whether something better can be had"


def slip_names(slips: Iterable[Outcome]) -> tuple[str, ...]:
    """Name slips, two that are as far off to either side as one."""
    named: dict[str, list[Outcome]] = {}
    for outcome in slips:
        named.setdefault(outcome.seating.either_way, []).append(outcome)
    return tuple(both if len(several) > 1 else several[0].seating.name for both, several in named.items())


def _end(
    end: End, pin_map: PinMap, halves: tuple[Body, Body], circuit: Circuit, customs: Mapping[Form, FormFacts]
) -> EndMisfit:
    body, mate = halves
    words = ("machine", "adapter") if end == "host" else ("adapter", "card")
    limits = allowed(body, mate.form, customs)
    keying = Keying(pin_map, body)
    ranked = []
    for order, seating in enumerate(seatings(body, limits)):
        outcome = circuit.judge(seating, words)
        if keying.keeps_out(seating, keying.keys):
            outcome = replace(outcome, kept_out=True)
        slip = abs(seating.along) + abs(seating.across) + seating.turned  # the small ones happen more easily
        ranked.append((RANK[outcome.consequence], slip, -outcome.contacts, order, outcome))
    outcomes = tuple(o for *_, o in sorted(ranked, key=lambda r: r[:4]))
    key, note = _propose(keying, outcomes, words)
    return EndMisfit(
        end,
        body.form,
        mate.form,
        limits,
        tuple(label for label in body.labels if label in keying.keys),
        outcomes,
        key,
        note,
    )
