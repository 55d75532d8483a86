"""What the readings say, and the answer in two lines: whether power may be applied, and what to do now."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from ..readings import Row
from ..text import count, listed
from .causes import Cause
from .dangers import Danger
from .faults import NetVerdict
from .graph import Contradiction
from .plan import Subject
from .volts import Measured

Verdict = Literal["do not apply power", "mend first", "not yet", "all readings pass"]

STAYS_OFF = "The power stays off until then."
_SEVERED = (
    "No wire from J1 to J2 reads as joined: look first whether the ribbon is in and crimped at both ends, and whether "
    "the right connectors were measured. "
)
_MOST_NAMED = 3
_MOST_REFUSED = 2


class Judged(Struct, frozen=True):
    """What the readings say.

    `first_line` is the answer in one line, `following` what to do now and, where all is right, what was not tested.
    `nets` are held against the plan as it was meant; where `causes` explain the pattern, `besides` are the nets that
    are wrong even so. `missing` are the readings still to take, those that settle most first; `asked` counts the
    readings of the form, `settled` those of them that need not be taken any more. `telling` are those that tell the
    causes apart. `volts` says of each voltage whether it is right. `refused` says why nothing must be built by the
    plan, whatever the readings are. `swept`: every two nets are proven apart. `low`: a supply of a slot reads little
    against another net. `severed`: no wire leads from one connector to the other.
    """

    title: str
    subject: Subject
    verdict: Verdict
    first_line: str
    following: str
    dangers: tuple[Danger, ...]
    causes: tuple[Cause, ...]
    nets: tuple[NetVerdict, ...]
    besides: tuple[NetVerdict, ...]
    volts: tuple[Measured, ...]
    contradictions: tuple[Contradiction, ...]
    missing: tuple[Row, ...]
    taken: int
    asked: int
    settled: int
    cautions: tuple[str, ...] = ()
    telling: tuple[Row, ...] = ()
    refused: tuple[str, ...] = ()
    swept: bool = False
    low: bool = False
    severed: bool = False

    @property
    def wrong(self) -> bool:
        """Whether something is wrong: with the wiring, the volts, or the readings themselves."""
        return self.verdict in ("do not apply power", "mend first") or bool(self.contradictions)

    @property
    def named(self) -> bool:
        """Whether one cause is seen in the readings, not just possible."""
        return any(cause.seen for cause in self.causes)


def concluded(judged: Judged) -> Judged:
    """Return what was found with the answer in two lines."""
    wrong = [net for net in judged.nets if net.wrong]
    if judged.refused or judged.dangers:
        verdict, first_line = "do not apply power", "do not apply power"
        following = f"{said_of_plan(judged.refused)} {STAYS_OFF}" if judged.refused else _out_of_danger(judged)
    elif judged.named:
        verdict, first_line = "mend first", f"mend first: {judged.causes[0].sentence}"
        following = f"{_mend_the_one(judged)}, then measure again. {STAYS_OFF}"
    elif wrong and judged.causes:
        many = f"{count(len(wrong), 'net')} not as {_meant(judged)}, perhaps by one mistake"
        verdict, first_line, following = "mend first", f"mend first: {many}", f"{_tell_apart(judged)} {STAYS_OFF}"
    elif wrong:
        verdict, first_line = "mend first", f"mend first: {_several(wrong)}"
        severed = _SEVERED if judged.severed else ""
        following = f"{severed}{_mend(judged)}, then take the readings of these nets again. {STAYS_OFF}"
    elif judged.contradictions:
        many = count(len(judged.contradictions), "reading")
        verb = "contradicts" if len(judged.contradictions) == 1 else "contradict"
        verdict, first_line = "not yet", f"not yet: {many} {verb} others"
        following = f"Take the readings that contradict each other again, and delete the old rows. {STAYS_OFF}"
    elif judged.missing:
        missing = len(judged.missing)
        verdict = "not yet"
        first_line = f"not yet: {count(missing, 'reading')} {'is' if missing == 1 else 'are'} missing"
        following = _next_readings(judged)
    else:
        verdict, first_line, following = "all readings pass", "all readings pass", _passed(judged)
    if judged.volts and not (verdict == "all readings pass" or (verdict == "not yet" and _asks_volts(judged))):
        following = f"{_was_on(replace(judged, verdict=verdict))} {following}"
    return replace(judged, verdict=verdict, first_line=first_line, following=following)


def said_of_plan(refused: Sequence[str]) -> str:
    """Say that the plan itself must not be built, and why."""
    more = f"; and {len(refused) - _MOST_REFUSED} more" if len(refused) > _MOST_REFUSED else ""
    why = "; ".join(message.rstrip(".") for message in refused[:_MOST_REFUSED])
    return f"The plan itself says do not build, whatever the readings are: {why}{more}."


def _was_on(judged: Judged) -> str:
    """Say to a person who took volts that the power must go off now."""
    before = " before all readings with power off" if judged.verdict == "not yet" else ""
    unplug = "" if judged.subject == "slot" else " and unplug the adapter"
    return f"Volts were taken{before}, so the power was on: switch off{unplug}."


def _out_of_danger(judged: Judged) -> str:
    if all(danger.likely for danger in judged.dangers) and not judged.named:
        return f"{_tell_apart(judged)} {STAYS_OFF}"
    what = _mend_the_one(judged) if judged.named else _mend(judged)
    if judged.severed:
        what = _SEVERED + what
    elif judged.subject == "adapter":
        what = "Mend this with power off and nothing plugged in"
    return f"{what}, then measure again. {STAYS_OFF}"


def _mend_the_one(judged: Judged) -> str:
    return "Correct the map before anything is wired by it" if judged.subject == "slot" else "Mend that one thing"


def _mend(judged: Judged) -> str:
    if judged.subject == "slot":
        return "Either the machine has a fault or its map is wrong: mend or correct it"
    return "Mend it"


def _meant(judged: Judged) -> str:
    return "mapped" if judged.subject == "slot" else "planned"


def _tell_apart(judged: Judged) -> str:
    if judged.telling:
        severed = _SEVERED if judged.severed else ""
        return f"{severed}Take the reading named below the causes next, to tell which it is."
    return "No reading of the form tells which it is: look."


def _several(wrong: Sequence[NetVerdict]) -> str:
    named: set[str] = set()
    said: list[str] = []
    left = 0
    for net in wrong:
        if set(net.states) <= {"open", "shorted", "exchanged"} and net.others and named.issuperset(net.others):
            continue  # said already, from the other net's side
        if len(said) == _MOST_NAMED:
            left += 1
            continue
        said.append(_brief(net))
        named.add(net.name)
    return f"{', '.join(said)} and {count(left, 'more net')}" if left else listed(said)


def _brief(net: NetVerdict) -> str:
    words = []
    for state in net.states:
        if state == "moved":
            words.append(f"moved to {net.contacts[-1]}")
        else:
            with_others = {"exchanged": "exchanged with", "shorted": "shorted to"}.get(state)
            words.append(f"{with_others} {listed(net.others)}" if with_others else state)
    maybe = f" or exchanged with {listed(net.others, 'or')}" if net.states == ("open",) and net.others else ""
    return f"{net.name} {listed(words)}{maybe}"


def _asks_volts(judged: Judged) -> bool:
    """Whether all that can be read without power is right, so that only volts are missing."""
    return not judged.contradictions and all(row.kind == "volts" for row in judged.missing)


def _next_readings(judged: Judged) -> str:
    if not _asks_volts(judged):
        so_far = "Nothing is wrong so far" if judged.taken else "No reading is taken yet"
        return f"{so_far}. Take every reading with power off and see that it is right. {STAYS_OFF}"
    plug = "" if judged.subject == "slot" else "plug the adapter into the machine, without a card, and "
    take = f"{plug}take the volts{', with no card in the slot' if judged.subject == 'slot' else ''}."
    if judged.low:
        return f"The readings with power off pass, but for the caution below: settle that before anything. Then {take}"
    return f"All readings with power off pass: {take}"


def _passed(judged: Judged) -> str:
    open_ends = [net.name for net in judged.nets if net.states in (("partly measured",), ("not measured",))]
    unknown = f"Of {listed(open_ends)} it is not known what to expect. " if open_ends else ""
    if judged.subject == "slot":
        return (
            "The supplies and returns are where the map has them. Which line is which was not tested: of the lines it "
            f"is only known that no supply or return was found on them. {unknown}".rstrip()
        )
    after = "Switch off before the card goes in, and measure the rails at the card once more with it in."
    lines = "Lines were only tested against their neighbours; a sweep of each would find the rest. "
    return f"{unknown}{'' if judged.swept else lines}{after}"
