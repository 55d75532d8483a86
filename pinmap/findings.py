"""Findings: what a check has to say, as data. Every code stands in one table, from which the README's list is drawn."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, get_args

from msgspec import Struct

from .errors import NOWHERE, Place
from .text import count

Grade = Literal["danger", "fault", "caution", "note"]
GRADES: tuple[Grade, ...] = get_args(Grade)

#: What a grade means to the person at the bench.
GRADE_MEANING: dict[Grade, str] = {
    "danger": "power applied like this can damage something",
    "fault": "it cannot work as drawn",
    "caution": "it may be meant: look",
    "note": "worth knowing",
}


class Rule(Struct, frozen=True):
    """A code's usual grade and the rule behind it, in one line."""

    grade: Grade
    rule: str


RULES: dict[str, Rule] = {
    # the file
    "key-unknown": Rule("fault", "a file has the keys of its format and no others"),
    "key-missing": Rule("fault", "the keys that a format asks for are there"),
    "key-twice": Rule("fault", "a key stands once in its block"),
    "value-shape": Rule("fault", "a value has the kind that its key asks for; quantities carry units"),
    "body-impossible": Rule("fault", "a body's form, rows, places and labels fit together"),
    "text-unprintable": Rule("caution", "titles and notes hold one line of printable text"),
    "option-unknown": Rule("fault", "an option that is named is described under options"),
    "supply-unknown": Rule("fault", "a limit, a fuse or what a card draws belongs to a rail that is there"),
    # contacts
    "contact-off-body": Rule("fault", "a label exists on the body"),
    "contact-twice": Rule("danger", "a contact carries one thing and is described once"),
    "contact-not-described": Rule("caution", "every contact of the body is described, if only as open"),
    "run-length": Rule("fault", "a run of contacts is as long as its run of names"),
    "open-in-run": Rule("caution", "a run of data or address lines is not interrupted by an open or missing contact"),
    "key-unexpected": Rule("caution", "key and open contacts stand where the published connector has them"),
    "geometry-mistaken": Rule("danger", "a map agrees with a published connector best as it stands, not turned round"),
    "differs-from-reference": Rule("caution", "a connector with the published labels carries what is published"),
    "order-broken": Rule("caution", "data and address lines run in order"),
    "numbering-mirrored": Rule("caution", "labels run the way round that is customary for the form"),
    # names
    "name-unknown": Rule("fault", "a name is the bus's, an alias of one, or described under own signals"),
    "name-other-generation": Rule("caution", "a name belongs to this generation of the bus"),
    "polarity-opposite": Rule("caution", "a line has the polarity that the bus gives it"),
    "polarity-unmarked": Rule("note", "a table marks which lines are active low"),
    "signal-twice": Rule("fault", "a signal has one contact; only supplies and returns have several"),
    # supplies and returns
    "return-none": Rule("danger", "a connector has a return (ground)"),
    "return-few": Rule("caution", "there are at least as many returns as the published connector has"),
    "return-overloaded": Rule("caution", "the returns carry what all rails together may deliver"),
    "return-far": Rule("caution", "no signal lies further from a return than on the published connector"),
    "rail-missing": Rule("caution", "every rail of the bus is there"),
    "rail-two-names": Rule("caution", "a rail goes by one name in a map"),
    "rail-limit": Rule("caution", "a rail's contacts carry what its supply may deliver"),
    "rail-unknown-volts": Rule("caution", "a supply of the maker's own says its volts"),
    "rail-beside-rail": Rule("caution", "a slipped probe or bent pin cannot join two rails"),
    "rail-beside-line": Rule("note", "a slipped probe or bent pin cannot put a rail on a signal"),
    # evidence
    "guess": Rule("caution", "a map rests on what was read or measured, not on a guess"),
    "guess-supply": Rule("danger", "no supply and no return rests on a guess"),
    # the plan
    "rail-meets-rail": Rule("danger", "a rail never meets another rail"),
    "contact-conflict": Rule("danger", "a contact that is to be wired has one settled meaning"),
    "needs-inverter": Rule("fault", "a line has the same polarity at both ends; wire cannot invert it"),
    "not-wire": Rule("caution", "a name means the same line at both ends"),
    "renamed-between-generations": Rule("caution", "a line goes by one name in both generations of the bus"),
    "signal-absent": Rule("caution", "every line that a card expects comes from the slot"),
    "no-card-works": Rule("fault", "at least one kind of card can work in the adapter"),
    "end-turned": Rule("note", "a map is used at the end that it describes"),
    # the design
    "remedy-not-needed": Rule("fault", "a remedy is chosen for a line that the slot does not bring"),
    "choice-contradicts": Rule("fault", "choices do not contradict each other"),
    "jumper-nowhere": Rule("fault", "a jumper leads to a line of its own group that the slot brings"),
    "remedy-fights": Rule("danger", "a remedy never drives a line that something else drives"),
    "remedy-active": Rule("danger", "a remedy holds a line at rest, not at the level at which it acts"),
    "remedy-weak": Rule("fault", "a pull holds a valid level under its loads; an oscillator has its line's frequency"),
    "remedy-needs-feed": Rule("fault", "a part has the rail that it is fed from"),
    "remedy-carried-out": Rule("note", "a line that the slot does not bring is made up by a part"),
    # the budget of a design
    "card-needs-line": Rule("fault", "a card gets every line and rail that it needs, from the slot or from a part"),
    "supply-overdrawn": Rule("fault", "cards and parts draw no more from a rail than the machine, or its feed, gives"),
    "contact-overloaded": Rule("danger", "the contacts of a rail or return carry what passes through them"),
    "conductor-overloaded": Rule("danger", "wires and traces carry what passes through them"),
    "supply-drop": Rule("fault", "a rail arrives at the card within its tolerance, and half of that is not lost"),
    "supply-unknown-limit": Rule("note", "a map says what the machine can deliver on each rail"),
    "fuse-too-small": Rule("fault", "a fuse carries what its rail draws"),
    "fuse-too-large": Rule("caution", "a fuse gives way before what it protects"),
    "line-overloaded": Rule("fault", "a driver holds its line at a valid level under loads and pulls"),
    "line-long": Rule("caution", "a line is short for its edges and for the clock cycle"),
    "returns-far": Rule("caution", "returns are near the signals, and enough of them; clock and command lines first"),
    "figure-assumed": Rule("note", "what a card draws comes from its label, its manual or a meter"),
    # a drawing held against the plan
    "audit-mistaken": Rule("danger", "a connector is drawn the right way round, with its own pads"),
    "audit-pad-places": Rule("danger", "a connector's pads lie on the board as its contacts do"),
    "audit-supply-joined": Rule("danger", "no supply or return is drawn joined to anything else"),
    "audit-supply-moved": Rule("danger", "supplies and returns are drawn on their own contacts"),
    "audit-open": Rule("fault", "every contact of a net is drawn joined to it"),
    "audit-joined": Rule("fault", "what the plan keeps apart is drawn apart"),
    "audit-exchanged": Rule("fault", "no two nets are drawn exchanged"),
    "audit-moved": Rule("fault", "a contact is drawn on its own net"),
    "audit-series": Rule("fault", "a net goes through no part that the plan lacks"),
    "audit-only-in-name": Rule("fault", "what a board joins by name is joined in copper"),
    "audit-only-in-copper": Rule("fault", "what a board joins in copper is joined by name"),
    "audit-part-missing": Rule("fault", "the parts of the plan are drawn"),
    "audit-part-value": Rule("fault", "a part has the value that the plan gives it"),
    "audit-part-extra": Rule("caution", "no part besides the plan's lies at a rail or between its nets"),
    "audit-pad-names": Rule("caution", "a connector's pads are called as on its footprint"),
    "audit-footprint": Rule("caution", "a connector has the plan's footprint, not that of what plugs into it"),
    "audit-pad-unknown": Rule("note", "no pad besides the plan's is joined to its nets"),
    "audit-assumed": Rule("caution", "a drawing says all that is read from it"),
}


class Finding(Struct, frozen=True):
    """One thing that was found. `message` states the rule or fact and the offender, `advice` what to do about it."""

    code: str
    grade: Grade
    message: str
    advice: str = ""
    place: Place = NOWHERE
    contacts: tuple[str, ...] = ()
    signals: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.code not in RULES:
            raise ValueError(f"a finding's code must stand in RULES, not {self.code!r}")
        if self.grade not in GRADES:
            raise ValueError(f"a finding's grade must be one of {', '.join(GRADES)}, not {self.grade!r}")


def found(
    code: str,
    message: str,
    advice: str = "",
    place: Place | None = None,
    *,
    contacts: Iterable[str] = (),
    signals: Iterable[str] = (),
    grade: Grade | None = None,
) -> Finding:
    """Make a finding with the usual grade of its code, or with `grade` where the case is milder or worse."""
    return Finding(code, grade or RULES[code].grade, message, advice, place or NOWHERE, tuple(contacts), tuple(signals))


def ordered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Sort the worst first, then by place in the file; drop exact repeats."""
    unique = dict.fromkeys(findings)
    return tuple(sorted(unique, key=lambda f: (GRADES.index(f.grade), f.place, f.code, f.message)))


Verdict = Literal["sound", "fault", "danger"]


def verdict(findings: Iterable[Finding]) -> Verdict:
    """Return `danger` or `fault` where there is at least one of that grade, else `sound`."""
    grades = {f.grade for f in findings}
    return "danger" if "danger" in grades else "fault" if "fault" in grades else "sound"


def tally(findings: Iterable[Finding]) -> str:
    """Count findings by grade: "1 fault, 3 cautions"."""
    grades = [f.grade for f in findings]
    parts = [count(grades.count(g), g) for g in ("danger", "fault", "caution", "note") if g in grades]
    return ", ".join(parts) or "nothing found"
