"""The ways in which two halves of a connector can be plugged together, and which contact then meets which.

Both halves lie in one frame: that of the half that stays in its place, seen from its mating face. Its mate bears the
same labels, and in the right seating every label of the half that moves lies on its namesake. Distances count in
places along the rows and in rows across, from contact 1 on: positive is away from the end, or the row, of contact 1.

A mate is never mirrored: that cannot be plugged. A ribbon crimped the wrong way round is a wiring fault, no seating.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from typing import Literal

from msgspec import Struct

from .body import Body, Form
from .forms import Along, FormFacts, Possible, Turning
from .model import PinMap
from .text import count, listed

Kind = Literal["right", "part", "off", "turned", "turned and off"]
Side = Literal["first", "last"]

_ALONG: tuple[Along, ...] = ("any", "one place", "none")
_TURNING: tuple[Turning, ...] = ("possible", "only without a bump", "impossible")


class Seating(Struct, frozen=True):
    """One way of plugging the half that moves into the half that stays.

    `along` and `across` say by how many places and rows the moving half is off; `turned`: it goes in turned by 180°
    about the middle. `engaged`: only so many places (≥ 1) from the `first` end, that of contact 1, or from the `last`
    touch; None: all that meet. `meets` gives for each label of the moving half the label of the staying half that it
    lies on; it is one to one. `condition` says on what it depends that this is possible at all.
    """

    meets: Mapping[str, str]
    turned: bool = False
    along: int = 0
    across: int = 0
    engaged: tuple[Side, int] | None = None
    condition: str = ""

    @property
    def kind(self) -> Kind:
        """What kind of seating this is."""
        if self.engaged:
            return "part"
        off = bool(self.along or self.across)
        if self.turned:
            return "turned and off" if off else "turned"
        return "off" if off else "right"

    @property
    def name(self) -> str:
        """What a sentence calls it."""
        if self.engaged:
            return engaged_name(self.engaged[0], self.engaged[1], self.engaged[1])
        return self._named(f" {_way(self.along)} contact 1's end", f" {_way(self.across)} contact 1's row")

    @property
    def either_way(self) -> str:
        """The name of this seating and the one that is as far off the other way: one that is off in one direction."""
        return self._named(" either way", " either way")

    @property
    def way(self) -> str:
        """To which side it is off, of one that is off in one direction."""
        return f"{_way(self.along)} contact 1's end" if self.along else f"{_way(self.across)} contact 1's row"

    def _named(self, along: str, across: str) -> str:
        off = [f"by {count(abs(self.along), 'place')}{along}"] if self.along else []
        if self.across:
            off.append(f"by {count(abs(self.across), 'row')}{across}")
        words = [*(["turned by 180°"] if self.turned else []), *([f"off {listed(off)}"] if off else [])]
        return ", ".join(words) or "right"


def engaged_name(side: Side, least: int, most: int) -> str:
    """Name the seatings with only `least` to `most` places engaged."""
    if least == most:
        return f"only the {side} place engaged" if least == 1 else f"only the {side} {least} places engaged"
    return f"only the {side} {least}–{most} places engaged"


def _way(steps: int) -> str:
    return "away from" if steps > 0 else "towards"


class Limits(Struct, frozen=True):
    """What both halves of a connector allow.

    `why` says for each form what it does, `cures` what would prevent wrong seatings for good, `source` cites it.
    """

    along: Along
    across: Possible
    turned: Turning
    part: Possible
    why: tuple[str, ...] = ()
    source: str = ""
    cures: tuple[str, ...] = ()


def allowed(body: Body, mate: Form, customs: Mapping[Form, FormFacts]) -> Limits:
    """Return what `body` and a mate of the form `mate` both allow.

    The mate's form is not always `MATES[body.form]`: a socket header goes on a pin header and on a box header.
    """
    forms = dict.fromkeys((body.form, mate))
    each = {form: customs.get(form, FormFacts()).seating for form in forms}
    both = tuple(each.values())
    along = max((s.along for s in both), key=_ALONG.index)
    turned = max((s.turned for s in both), key=_TURNING.index)
    why = [f"{form}: {seating.why}" for form, seating in each.items()]
    if len(body.sections) > 1 and any(s.sections == "wall" for s in both):
        along = "none"
        if len(_laid(_rows(body), _turn(body), _reach(body))) < len(body):
            turned = "impossible"
        why.append(
            "A wall between the sections keeps it from going in off along the rows, or turned where they differ."
        )
    return Limits(
        along=along,
        across="possible" if all(s.across == "possible" for s in both) else "impossible",
        turned=turned,
        part="possible" if all(s.part == "possible" for s in both) else "impossible",
        why=tuple(why),
        source=listed(dict.fromkeys(s.source for s in both if s.source)),
        cures=tuple(f"{form}: {seating.cure}" for form, seating in each.items() if seating.cure),
    )


def seatings(body: Body, limits: Limits) -> tuple[Seating, ...]:
    """Return every seating of `body`'s mate on `body` that `limits` allow and in which at least one contact meets.

    The right one first, then those with a part engaged, those that are off, and the turned ones.
    """
    right = Seating({label: label for label in body.labels})
    out = [right, *(_parts(body) if limits.part == "possible" else ())]
    rows, reach, (right_way, down) = _rows(body), _reach(body), _direction(body)
    for turned in (False, True):
        if turned and limits.turned == "impossible":
            continue
        condition = "only with a plug that has no bump" if turned and limits.turned == "only without a bump" else ""
        turn = _turn(body) if turned else _STRAIGHT
        for across, along in _offsets(body, limits):
            if (along, across) == (0, 0) and not turned:
                continue
            sign, dx, dy = turn
            dx, dy = dx + right_way * along * body.pitch_mm, dy + down * across * body.row_pitch_mm
            meets = _laid(rows, (sign, dx, dy), reach)
            if meets:
                out.append(Seating(meets, turned, along, across, condition=condition))
    return tuple(out)


def places(body: Body) -> tuple[tuple[str, ...], ...]:
    """Return the labels at each place along the rows, all rows and sections together, from contact 1's end on."""
    at: dict[float, list[str]] = {}
    for label, spot in body.spots.items():
        at.setdefault(spot.x_mm, []).append(label)
    return tuple(tuple(at[x]) for x in sorted(at, reverse=_direction(body)[0] < 0))


class Keying:
    """What keys do on `body` with its mate: plugged holes, and pins pulled where they would go in.

    `keys` are the contacts at which a key is, `unused` those that could be one: open in the map of the end, one label
    each. On the edge of a card a key takes a whole place, with the contacts of all its rows: a wall across the slot
    and a notch in the tongue. `pins` says which half has the pins, or the tongue (None: the map does not say).
    """

    def __init__(self, pin_map: PinMap, body: Body):
        self.edge = body.form.startswith("edge")
        self.pins = _pins(body)
        groups = places(body) if self.edge else tuple((label,) for label in body.labels)
        roles: dict[str, set[str]] = {}
        for contact in pin_map.contacts:
            roles.setdefault(contact.label, set()).add(contact.role)
        self.keys = frozenset(label for g in groups if all(roles[x] == {"key"} for x in g) for label in g)
        self.unused = [g for g in groups if all(roles[x] <= {"open", "key"} for x in g) and not self.keys & {*g}]

    def keeps_out(self, seating: Seating, keys: frozenset[str]) -> bool:
        """Whether a pin that is there would go into a plugged hole, which in the right seating none does.

        Where it is not known which half has the pins, only what both readings keep out.
        """
        if not keys:
            return False
        meets = seating.meets
        hole_moves = any(hole in meets and meets[hole] not in keys for hole in keys)
        if self.pins == "stays":
            return hole_moves
        hole_stays = any(hole in keys and pin not in keys for pin, hole in meets.items())
        return hole_stays if self.pins == "moves" else hole_moves and hole_stays


def _pins(body: Body) -> Literal["stays", "moves"] | None:
    if body.form == "din 41612":
        return {"male": "stays", "female": "moves"}.get(body.gender or "")  # type: ignore[return-value]
    return "stays" if body.form in ("edge fingers", "pin header", "box header") else "moves"


def _parts(body: Body) -> Iterator[Seating]:
    by_place = places(body)
    sides: tuple[Side, ...] = ("first", "last")
    for side in sides:
        for engaged in range(1, len(by_place)):
            touching = by_place[:engaged] if side == "first" else by_place[-engaged:]
            labels = {label for place in touching for label in place}
            yield Seating({label: label for label in body.labels if label in labels}, engaged=(side, engaged))


def _offsets(body: Body, limits: Limits) -> Iterator[tuple[int, int]]:
    """Rows across and places along, none first, then further and further off."""
    height = max(s.y_mm for s in body.spots.values()) - min(s.y_mm for s in body.spots.values())
    most = {"any": int(body.width_mm / body.pitch_mm + 0.5), "one place": 1, "none": 0}[limits.along]
    rows = int(height / body.row_pitch_mm + 0.5) if limits.across == "possible" else 0
    for across in sorted(range(-rows, rows + 1), key=lambda n: (abs(n), -n)):
        for along in sorted(range(-most, most + 1), key=lambda n: (abs(n), -n)):
            yield across, along


def _reach(body: Body) -> tuple[float, float]:
    """How far apart two contacts may be, along and across, to touch: a quarter of the pitch."""
    return body.pitch_mm / 4, body.row_pitch_mm / 4


def _direction(body: Body) -> tuple[int, int]:
    """The signs of x and y on the way from contact 1 to the end and to the row that are farthest from it."""
    first = body.spots[body.labels[0]]
    xs, ys = [s.x_mm for s in body.spots.values()], [s.y_mm for s in body.spots.values()]
    return (1 if 2 * first.x_mm <= min(xs) + max(xs) else -1, 1 if 2 * first.y_mm <= min(ys) + max(ys) else -1)


_Turn = tuple[int, float, float]  # a spot (x, y) goes to (sign · x + dx, sign · y + dy), in mm
_Row = list[tuple[float, str]]  # x in mm and label, from left to right
_STRAIGHT: _Turn = (1, 0.0, 0.0)


def _turn(body: Body) -> _Turn:
    xs, ys = [s.x_mm for s in body.spots.values()], [s.y_mm for s in body.spots.values()]
    return -1, min(xs) + max(xs), min(ys) + max(ys)


def _rows(body: Body) -> dict[float, _Row]:
    """The contacts by their y in mm."""
    rows: dict[float, _Row] = {}
    for label, spot in body.spots.items():
        rows.setdefault(spot.y_mm, []).append((spot.x_mm, label))
    return {y: sorted(row) for y, row in rows.items()}


def _laid(rows: Mapping[float, _Row], turn: _Turn, reach: tuple[float, float]) -> dict[str, str]:
    """Lay the mate over the `rows`; contacts meet that are less than `reach` mm apart in both directions.

    Pitches in mil or rounded ones do not add up to the last digit, hence no exact comparison.
    """
    sign, dx, dy = turn
    out: dict[str, str] = {}
    for y, moving in rows.items():
        for there, staying in rows.items():
            if abs(there - (sign * y + dy)) >= reach[1]:
                continue
            xs = [x for x, _ in staying]
            for x, label in moving:
                i = bisect_left(xs, sign * x + dx - reach[0])
                if i < len(xs) and xs[i] < sign * x + dx + reach[0]:
                    out[label] = staying[i][1]
    return out
