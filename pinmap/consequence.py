"""What follows when one half of a connector is plugged wrongly into the other: which lines meet, and how bad that is.

Worst case: the card connects every contact that its map describes, and every driver drives; lines of the maker's own,
of which nobody says who drives them, count as not driven. The end that is not looked at is plugged right.
What the maps do not tell can do harm all the same: nothing here says that a seating is safe.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from typing import Literal, get_args

from msgspec import Struct

from .adapter import Adapter
from .findings import Grade
from .model import Contact, End, PinMap, Signal
from .seating import Seating
from .text import count, listed
from .wiring import reached as leads_to

Consequence = Literal[
    "rail on return",
    "rail on rail",
    "wrong rail",
    "rail on line",
    "return missing",
    "driver on return",
    "rails incomplete",
    "driver on dead rail",
    "driver on driver",
    "not known",
    "cannot work",
    "harmless",
]
#: The worst first.
CONSEQUENCES: tuple[Consequence, ...] = get_args(Consequence)
RANK = {consequence: rank for rank, consequence in enumerate(CONSEQUENCES)}


class Meaning(Struct, frozen=True):
    """How bad a consequence is, and what it is to the person at the bench."""

    grade: Grade
    about: str


#: Common practice, no source: what happens to supplies, drivers and cards. Memory with three supplies: from memory.
MEANING: dict[Consequence, Meaning] = {
    "rail on return": Meaning("danger", "a supply of the machine is shorted to its return"),
    "rail on rail": Meaning("danger", "two supplies of the machine are shorted together"),
    "wrong rail": Meaning(
        "danger", "a supply or return of the card gets another one of the machine; its voltage can be wrong or reversed"
    ),
    "rail on line": Meaning("danger", "a supply meets a line; the parts on it can be destroyed"),
    "return missing": Meaning(
        "danger", "the card gets a supply but no return; its current seeks another way, through its lines"
    ),
    "driver on return": Meaning("fault", "an output works into a short; its driver can be damaged"),
    "rails incomplete": Meaning(
        "fault",
        "the card gets some of its supplies but not all; chips that need several can be destroyed, such as memory "
        "chips with three that get +12V or +5V without -5V",
    ),
    "driver on dead rail": Meaning(
        "fault",
        "outputs feed a card without supply, into its rails or through the protection of its inputs; the chips at "
        "either end can be damaged",
    ),
    "driver on driver": Meaning("fault", "two outputs work against each other; both drivers can be damaged"),
    "not known": Meaning("caution", "something meets a contact of which nothing is known"),
    "cannot work": Meaning("caution", "it cannot work like this; nothing known is damaged"),
    "harmless": Meaning("note", "nothing was found to meet what it must not"),
}


class Meeting(Struct, frozen=True):
    """Two contacts that meet and should not.

    `stays` is the label on the half that stays (the machine's connector, or the adapter's J2), `moves` that on the
    half that is plugged into it; `machine` is what comes from the machine there, `card` what it reaches on the card.
    """

    stays: str
    moves: str
    machine: str
    card: str
    consequence: Consequence


class Outcome(Struct, frozen=True):
    """What one seating does.

    `meetings` has what is worse than `cannot work`: shorts first, then what else destroys, the supply of the highest
    voltage before others and before a return, then the rest. `missing` are the supplies planned for the card that do
    not come, `driven` counts lines of the card that the machine drives. `elsewhere` counts other lines that lie on
    lines which are not theirs, `open` the connections of the plan that do not come about. `says` is one sentence
    without the seating's name; `kept_out`: the keys that there are make it impossible.
    """

    seating: Seating
    consequence: Consequence
    meetings: tuple[Meeting, ...]
    missing: tuple[str, ...]
    driven: int
    elsewhere: int
    open: int
    says: str
    kept_out: bool = False

    @property
    def grade(self) -> Grade:
        """The grade of its consequence."""
        return MEANING[self.consequence].grade

    @property
    def contacts(self) -> int:
        """How many contacts have part in the consequence; where supplies do not come, how many of these."""
        if self.consequence == "cannot work":
            return self.elsewhere + self.open
        if self.consequence == "rails incomplete":
            return len(self.missing)
        met = sum(m.consequence == self.consequence for m in self.meetings)
        return met or (self.driven if self.consequence == "driver on dead rail" else 0)

    @property
    def sentence(self) -> str:
        """Name the seating and say what it does."""
        return f"{self.seating.name}: {self.says}"


# ---------------------------------------------------------------------- what stands at each contact


class Line(Struct, frozen=True):
    """What a contact leads to; one for all contacts of a supply or return, which are joined."""

    name: str
    kind: Literal["supply", "return", "line", "unknown"]
    rail: tuple[str, float | None] | None = None
    drives: bool = False
    number: int = 0

    @property
    def is_power(self) -> bool:
        """Whether it is a supply or a return."""
        return self.kind in ("supply", "return")

    @property
    def volts(self) -> float:
        """The voltage of a supply, 0.0 for all else and where it is not known."""
        return (self.rail[1] or 0.0) if self.rail else 0.0

    def is_alike(self, other: Line) -> bool:
        """Whether both are the same supply, or both a return; of supplies of no known voltage it can't be told."""
        return self.rail is not None and self.rail == other.rail and self.rail != ("supply", None)


Lines = dict[str, Line]  # by label; contacts that lead nowhere are not in it


class _Collector:
    """Makes the lines of one side, on which `end` drives: one for each supply and return, one for any other contact."""

    def __init__(self, end: End):
        self.end, self._power = end, dict[str, Line]()
        self.at: Lines = {}

    def add(self, label: str, contact: Contact) -> None:
        signal = contact.signal
        assert signal is not None  # noqa: S101 - only contacts that carry a signal are added
        if signal.is_power:
            kind: Literal["supply", "return"] = "supply" if signal.group == "supply" else "return"
            line = Line(contact.name, kind, signal.rail, number=len(self.at))
            self.at[label] = self._power.setdefault(signal.name, line)
        else:
            self.at[label] = Line(contact.name, "line", drives=_drives(signal, self.end), number=len(self.at))

    def unknown(self, label: str, name: str) -> None:
        self.at[label] = Line(name, "unknown", number=len(self.at))


def _drives(signal: Signal, end: End) -> bool:
    """Whether an output at `end` drives the line against others; open collectors do not fight."""
    return signal.driver in (end, "either") and "open collector" not in signal.output


def own_lines(adapter: Adapter, end: End) -> Lines:
    """What the map of `end` has at each contact, with the options fitted, in the body's order."""
    pin_map: PinMap = getattr(adapter, end)
    options = frozenset(adapter.fitted)
    out = _Collector(end)
    disputed = pin_map.disputed(options)
    fitted = {c.label: c for c in pin_map.fitted(options)}
    for label in pin_map.present:
        roles = {c.role: c for c in pin_map.contacts if c.label == label}
        if label in disputed:
            out.unknown(label, f"the disputed contact {label}")
        elif label in fitted:
            out.add(label, fitted[label])
        elif "unknown" in roles:
            out.unknown(label, f"the unknown {roles['unknown'].written}")
        elif "undescribed" in roles:
            out.unknown(label, f"the undescribed contact {label}")
    return out.at


def reached(adapter: Adapter, end: End) -> Lines:
    """What the adapter's contacts at `end` reach at the other one, which is plugged right, in the body's order."""
    far: End = "card" if end == "host" else "host"
    out = _Collector(far)
    pin_map: PinMap = getattr(adapter, end)
    for label in pin_map.present:
        there = leads_to(adapter, end, label)
        if there:
            out.add(label, there[0])
    return out.at


class _Found(Struct, frozen=True):
    """A meeting that should not be, with the lines of both halves."""

    meeting: Meeting
    machine: Line
    card: Line

    @property
    def order(self) -> tuple[int, int, float, int, int]:
        """Shorts first, then what else destroys: the highest voltage first, supplies before a return; then the rest."""
        consequence, supply = self.meeting.consequence, self.machine.kind == "supply"
        rank = RANK[consequence]
        if MEANING[consequence].grade != "danger":
            return 3, 0, 0.0, rank, not supply
        tier = 0 if consequence in _SHORTS else 2 if consequence == "return missing" else 1
        return tier, not supply, -abs(self.machine.volts), rank, 0


_SHORTS: tuple[Consequence, ...] = ("rail on return", "rail on rail")
_Pair = tuple[str, str, Line, Line]  # two contacts that meet: label that stays, label that moves, and their lines


class Circuit:
    """Both halves of one end: `machine` has the lines on the half that stays, `card` those on the half that moves."""

    def __init__(self, machine: Lines, card: Lines):
        self.machine, self.card = machine, card
        self.planned = {
            (machine[x].number, card[x].number)
            for x in machine
            if x in card and "unknown" not in (machine[x].kind, card[x].kind)
        }
        self.power = {
            (machine[x].number, card[x].number): machine[x]
            for x in machine
            if x in card and machine[x].is_power and card[x].is_power
        }
        self.supplies = {card: line for (_, card), line in self.power.items() if line.kind == "supply"}
        self.grounded = any(line.kind == "return" for line in self.power.values())
        self.returns = {line.name for line in machine.values() if line.kind == "return"}
        self.contacts = Counter(
            machine[x].name for x in machine if x in card and machine[x].is_power and card[x].is_power
        )

    def judge(self, seating: Seating, words: tuple[str, str]) -> Outcome:
        """Say what one seating does; `words` names the halves, the one that stays first."""
        machine, card = self.machine, self.card
        pairs = [
            (stays, moves, machine[stays], card[moves])
            for moves, stays in seating.meets.items()
            if stays in machine and moves in card
        ]
        joined = _joined((m, c) for _, _, m, c in pairs if m.is_power and c.is_power)
        grounded = any(m.kind == c.kind == "return" for _, _, m, c in pairs) or not self.grounded
        powered = any(m.kind == "supply" for _, _, m, _ in pairs)
        found: list[_Found] = []
        made: set[tuple[int, int]] = set()
        elsewhere = 0
        for stays, moves, m, c in pairs:
            link = (m.number, c.number)
            consequence = _meeting(m, c, joined.get(c.number, ()), link in self.planned, powered=powered)
            if consequence:
                found.append(_Found(Meeting(stays, moves, m.name, c.name, consequence), m, c))
            if m.kind == "supply" and m.rail == c.rail and not grounded:
                found.append(_Found(Meeting(stays, moves, m.name, c.name, "return missing"), m, c))
            if m.kind != "unknown" and c.kind != "unknown":
                made.add(link)
                elsewhere += link not in self.planned and not consequence
        found.sort(key=lambda f: f.order)
        open_ = len(self.planned - made)
        missing, driven = self._missing(pairs), [p for p in pairs if p[2].drives and p[3].kind == "line"]
        lack = self._lack(missing, driven)
        worst = min((f.meeting.consequence for f in found), key=RANK.__getitem__, default=None)
        if worst and (lack is None or RANK[worst] <= RANK[lack]):
            consequence, says = worst, _worst(found, worst, words, self.returns)
        elif lack:
            consequence, says = lack, self._says_lack(lack, missing, driven, words)
        elif elsewhere or (open_ and made):
            consequence, says = "cannot work", self._lacking(made, elsewhere)
        else:
            consequence, says = "harmless", self._harmless(seating, made)
        return Outcome(
            seating,
            consequence,
            tuple(f.meeting for f in found),
            tuple(dict.fromkeys(line.name for line in missing)),
            len(driven),
            elsewhere,
            open_,
            says,
        )

    def _missing(self, pairs: Iterable[_Pair]) -> list[Line]:
        """The supplies planned for the card that do not come to it."""
        fed = {
            c.number
            for _, _, m, c in pairs
            if m.kind == c.kind == "supply" and (m.is_alike(c) or (m.number, c.number) in self.power)
        }
        return [line for number, line in self.supplies.items() if number not in fed]

    def _lack(self, missing: Collection[Line], driven: Collection[_Pair]) -> Consequence | None:
        """What it does that supplies are missing, whatever else meets what it must not."""
        if missing and len(missing) < len(self.supplies):
            return "rails incomplete"
        # One driven line is enough: the way back can be a bracket or another cable.
        return "driver on dead rail" if missing and driven else None

    def _says_lack(
        self, lack: Consequence, missing: Sequence[Line], driven: Sequence[_Pair], words: tuple[str, str]
    ) -> str:
        if lack == "rails incomplete":
            come = [line for line in self.supplies.values() if line not in missing]
            absent, present = (dict.fromkeys(line.name for line in lines) for lines in (missing, come))
            text = f"{listed(absent)} {_do(absent)} not come while {listed(present)} {_do(present)}"
            # From memory: dynamic memory chips with +12V, +5V and -5V; the negative one must be there first.
            biased = any(line.volts == -5.0 for line in missing) and any(line.volts > 0 for line in come)
            return f"{text}, which can destroy memory chips with three supplies" if biased else text
        stays, moves, line, _ = min(driven, key=lambda pair: pair[2].number)
        more = f" and {count(len(driven) - 1, 'more driven line')}" if len(driven) > 1 else ""
        what = line.name if more else f"the driven line {line.name}"
        return f"no supply comes, but {what} ({words[0]} {stays}, {words[1]} {moves}){more} {_do(driven)}"

    def _lacking(self, made: set[tuple[int, int]], elsewhere: int) -> str:
        """Say what of the plan does not come about, where nothing worse is to be said."""
        absent = dict.fromkeys(line.name for link, line in self.power.items() if link not in made)
        lines = len(self.planned) - len(self.power)
        meet = len(made & self.planned - self.power.keys())
        said = []
        if absent and not made & self.power.keys():
            said.append("no supply and no return comes")
        elif absent:
            said.append(f"{listed(absent)} {_do(absent)} not come")
        if meet < lines:
            said.append(f"{meet or 'none'} of {count(lines, 'line')} {'meets' if meet < 2 else 'meet'} as planned")
        if elsewhere:
            said.append(f"{count(elsewhere, 'contact')} {'lies' if elsewhere == 1 else 'lie'} on another line's")
        return "; ".join(said)

    def _harmless(self, seating: Seating, made: set[tuple[int, int]]) -> str:
        if not made:
            return "nothing meets anything"
        here = Counter(
            self.machine[s].name
            for m, s in seating.meets.items()
            if s in self.machine and m in self.card and self.machine[s].is_power and self.card[m].is_power
        )
        fewer = [name for name, number in self.contacts.items() if here[name] < number]
        return f"everything meets as planned{f', {listed(fewer)} on fewer contacts' if fewer else ''}"


def _do(several: Collection[object]) -> str:
    return "does" if len(several) == 1 else "do"


def _joined(pairs: Iterable[tuple[Line, Line]]) -> dict[int, tuple[Line, ...]]:
    """For each supply and return of the card, by number, the machine's supplies and returns that are joined with it.

    Only supplies and returns have several contacts, so nothing else can join two lines of the machine.
    """
    groups: list[tuple[dict[int, Line], set[int]]] = []
    for m, c in dict.fromkeys(pairs):
        machine, card = {m.number: m}, {c.number}
        apart = []
        for group in groups:
            if m.number in group[0] or c.number in group[1]:
                machine |= group[0]
                card |= group[1]
            else:
                apart.append(group)
        groups = [*apart, (machine, card)]
    return {number: tuple(machine.values()) for machine, card in groups for number in card}


def _meeting(m: Line, c: Line, joined: Sequence[Line], right: bool, *, powered: bool) -> Consequence | None:
    """What it means that line `m` of the machine meets `c` of the card; `joined` is what of the machine is on `c`.

    `right`: the plan joins the two. `powered`: a supply of the machine meets something of the card somewhere; without
    one its return on a supply of the card is no wrong supply, it only holds that down.
    """
    if m.kind == "unknown" or c.kind == "unknown":
        return "not known"
    if m.is_power and c.is_power:
        supplies = {
            line.rail if line.rail != ("supply", None) else line.name for line in joined if line.kind == "supply"
        }
        if supplies and any(line.kind == "return" for line in joined):
            return "rail on return"
        if len(supplies) > 1:
            return "rail on rail"
        if right or m.is_alike(c) or (m.kind == "return" and not powered):
            return None
        return "wrong rail"
    if m.kind == "supply":
        return "rail on line"
    if m.kind == "return":
        return "driver on return" if c.drives else None
    if c.is_power:
        if any(line.kind == "supply" for line in joined):
            return "rail on line"
        if not m.drives:
            return None
        return "driver on return" if c.kind == "return" or joined else "driver on dead rail"
    return "driver on driver" if m.drives and c.drives and not right else None


# ---------------------------------------------------------------------- words


def _worst(found: Sequence[_Found], worst: Consequence, words: tuple[str, str], returns: Collection[str]) -> str:
    """Say the worst, with two meetings: for a short the two that make it, else first what destroys first.

    `found` is in its order, `worst` the worst in it. `words` names the halves, the one that stays first; `returns`
    are the names that the machine's returns go by.
    """
    stays, moves = words

    def at(f: _Found) -> str:
        return f"({stays} {f.meeting.stays}, {moves} {f.meeting.moves})"

    def machines(f: _Found) -> str:
        return "the machine's return" if returns == {f.machine.name} else f.machine.name

    first, second = _short(found, worst) if worst in _SHORTS else _two(found, worst)
    if worst in _SHORTS and second:
        whose = "" if second.machine.kind == "return" else " of the machine"
        return (
            f"short circuit: {first.machine.name} {at(first)} and {machines(second)} {at(second)}{whose} are joined "
            f"through {first.card.name} of the card"
        )
    if worst == "return missing":
        rails = dict.fromkeys(f.machine.name for f in found if f.meeting.consequence == "return missing")
        return f"{listed(rails)} {'comes' if len(rails) == 1 else 'come'} {at(first)}, but no return does"
    name = machines(first)
    whose = "" if name != first.machine.name else " of the machine"
    text = f"{name}{whose} meets {first.card.name} of the card {at(first)}"
    if second is None:
        return text
    if second.card == first.card:
        return f"{text}, and so does {machines(second)} {at(second)}"
    return f"{text}, and {machines(second)} meets {second.card.name} {at(second)}"


def _short(found: Sequence[_Found], worst: Consequence) -> tuple[_Found, _Found | None]:
    """The two meetings through which a short closes: the highest voltage, and what it meets on one line of the card."""
    shorts = [f for f in found if f.meeting.consequence == worst]
    for first in shorts:
        for second in shorts:
            other = (
                second.machine.kind == "return"
                if worst == "rail on return"
                else second.machine != first.machine and not second.machine.is_alike(first.machine)
            )
            if other and second.card == first.card and first.machine.kind == "supply":
                return first, second
    return _two(found, worst)


def _two(found: Sequence[_Found], worst: Consequence) -> tuple[_Found, _Found | None]:
    """The first that was found, and beside it one of the worst consequence, or else the next, of another line."""
    first = found[0]
    others = [f for f in found if f.machine != first.machine and f.meeting.consequence != "return missing"]
    named = [f for f in others if first.meeting.consequence != worst == f.meeting.consequence]
    return first, next(iter(named or others), None)
