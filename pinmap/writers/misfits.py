"""What can be plugged wrongly, as plain text with a chart of the seatings, and as JSON."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

import click

from ..consequence import CONSEQUENCES, MEANING, Consequence, Outcome
from ..findings import Grade
from ..misfit import Alike, EndMisfit, Key, Misfit, alike, likely, slip_names
from ..seating import places
from ..text import count, listed, visible
from .json_output import FORMAT
from .screen import GRADE_STYLE, width, wrapped

#: How many of the worst seatings are told in a sentence besides the likeliest slips; JSON has all.
MOST = 3

#: The marks of the chart: plain ASCII, told apart without colour.
_MARKS = {
    "#": "can destroy something",
    "x": "can damage chips",
    "?": "meets what nobody knows",
    "-": "cannot work, no damage known",
    ".": "harmless",
    "O": "right",
    "k": "kept out by a key",
}
_MARK_STYLE: dict[str, dict[str, Any]] = {
    "#": {"fg": "red", "bold": True},
    "x": {"fg": "red"},
    "?": {"fg": "yellow"},
    "-": {"fg": "yellow"},
    "O": {"fg": "green", "bold": True},
}
_CAUTIONS = (
    "Never plug or unplug with power on, and look at the seating again before power is applied.",
    "All this is worked out from the maps: what they do not tell, and currents, can do harm all the same.",
    "A ribbon crimped the wrong way is no seating but a wiring fault: pinmap bench finds it.",
)


def text(m: Misfit) -> str:
    """Both ends, each with what its seatings do, the chart of them, the worst and the key; then the cautions."""
    lines = _heading(f"{m.host.title} to {m.card.title}: what can be plugged wrongly")
    if m.fitted:
        lines += wrapped(f"with {listed(m.fitted)} fitted", "  ")
    for end, pin_map in zip(m.ends, (m.host, m.card), strict=True):
        lines += ["", *_end(end, len(places(pin_map.body)))]
    lines.append("")
    for caution in _CAUTIONS:
        lines += wrapped(caution, "  ")
    return "\n".join(lines)


def _heading(said: str) -> list[str]:
    lines = textwrap.wrap(visible(said), width(), subsequent_indent="  ", break_on_hyphens=False)
    return [click.style(line, bold=True) for line in lines]


def _end(end: EndMisfit, number_of_places: int) -> list[str]:
    where = {
        "host": f"At the machine: the adapter's J1 ({end.moves}) in the machine's connector ({end.stays})",
        "card": f"At the card: the card ({end.moves}) in the adapter's J2 ({end.stays})",
    }[end.end]
    lines = _heading(where)
    for why in end.limits.why:
        lines += wrapped(why, "      ", "    ")
    if end.limits.source:
        lines += wrapped(f"({end.limits.source})", "    ")
    lines += ["", *_counts(end), "", *_chart(end, number_of_places)]
    return [*lines, *_told(end), "", *_keys(end)]


def _counts(end: EndMisfit) -> list[str]:
    wrong = [o for o in end.possible if o.seating.kind != "right"]
    head = f"Besides the right seating {_are(len(wrong))} possible"
    if end.kept_out:
        head += f"; the key at {listed(end.keys)} keeps out {len(end.kept_out)} more"
    lines = wrapped(head, "  ")
    counted = Counter(o.consequence for o in wrong)
    for consequence in (c for c in CONSEQUENCES if counted[c]):
        meaning = MEANING[consequence]
        lines += _graded(meaning.grade, f"{consequence} ({counted[consequence]}): {meaning.about}")
    for condition in dict.fromkeys(o.seating.condition for o in end.outcomes if o.seating.condition):
        lines += wrapped(f"Turned by 180° it goes in {condition}.", "  ")
    return lines


def _are(number: int) -> str:
    return f"{number} {'is' if number == 1 else 'are'}"


def _graded(grade: Grade, said: str) -> list[str]:
    first, *rest = wrapped(said, " " * 6, f"    {grade}: ")
    return [f"    {click.style(grade, **GRADE_STYLE[grade])}{first[4 + len(grade) :]}", *rest]


# ---------------------------------------------------------------------- the chart


def _mark(outcome: Outcome) -> str:
    if outcome.kept_out:
        return "k"
    if outcome.seating.kind == "right":
        return "O"
    by_consequence = {"not known": "?", "cannot work": "-", "harmless": "."}
    return by_consequence.get(outcome.consequence, "#" if outcome.grade == "danger" else "x")


_Row = tuple[str, Mapping[int, str]]  # a label, and the mark of each number that has one


def _chart(end: EndMisfit, number_of_places: int) -> list[str]:
    off: dict[tuple[bool, int], dict[int, str]] = {}
    part: dict[str, dict[int, str]] = {}
    for o in end.outcomes:
        s = o.seating
        if s.engaged:
            part.setdefault(s.engaged[0], {})[s.engaged[1]] = _mark(o)
        else:
            off.setdefault((s.turned, s.across), {})[s.along] = _mark(o)
    order = sorted(off, key=lambda key: (key[0], abs(key[1]), -key[1]))
    rows = [(_row_name(*key), off[key]) for key in order]
    part_rows = [(f"the {side}", part[side]) for side in ("first", "last") if side in part]
    label = max(len(name) for name, _ in (*rows, *part_rows))
    used = {mark for _, marks in (*rows, *part_rows) for mark in marks.values()}
    legend = [*(f"{mark} {meaning}" for mark, meaning in _MARKS.items() if mark in used), "blank: does not occur"]
    whole = "; ".join(said.replace(" ", "\N{NO-BREAK SPACE}") for said in legend)  # no line ends behind a mark
    lines = [line.replace("\N{NO-BREAK SPACE}", " ") for line in wrapped(whole, "  ")]
    lines += wrapped("Places off: + is away from contact 1's end, - towards it", "  ")
    lines += _bands(rows, label, signed=True)
    if part_rows:
        lines += wrapped(f"Only so many of {count(number_of_places, 'place')} engaged", "  ")
        lines += _bands(part_rows, label, signed=False)
    return lines


def _row_name(turned: bool, across: int) -> str:
    name = "turned" if turned else "straight"
    return f"{name}, row {across:+d}" if across else name


def _bands(rows: Sequence[_Row], label: int, *, signed: bool) -> list[str]:
    """Draw the rows under a scale; what does not fit side by side goes on below, under a scale of its own."""
    numbers = [n for _, marks in rows for n in marks]
    least, most = min(numbers), max(numbers)
    left = 4 + label + 2
    cell = 3 if most - least < 15 and (most - least + 1) * 3 <= width() - left else 1
    room = max(1, (width() - left) // cell)
    number_of_bands = -(-(most - least + 1) // room)
    step = -(-(most - least + 1) // number_of_bands)
    lines: list[str] = []
    for begin in range(least, most + 1, step):
        band = range(begin, min(begin + step, most + 1))
        lines += _scale(band, left, cell, signed=signed)
        for name, marks in rows:
            shown = "".join(marks.get(n, " ").rjust(cell) for n in band).rstrip()
            lines.append(f"    {name:<{label}}  {_coloured(shown)}".rstrip())
    return lines


def _scale(band: range, left: int, cell: int, *, signed: bool) -> list[str]:
    """The numbers over their columns: each where there is room, else every tenth and those at the ends, with ticks."""

    def written(n: int) -> str:
        return f"{n:+d}" if signed and n else str(n)

    if cell > 1:
        return [(" " * left + "".join(written(n).rjust(cell) for n in band)).rstrip()]
    line = [" "] * (left + len(band))
    ticks = ["'" if n % 5 == 0 else " " for n in band]
    tenths = [n for n in band if n % 10 == 0]
    for n in dict.fromkeys((*tenths, band[0], band[-1])):
        end = left + band.index(n) + 1
        begin = end - len(written(n))
        if not "".join(line[begin - 1 : end + 1]).strip():  # room for it, with a space to either side
            line[begin:end] = written(n)
            ticks[band.index(n)] = "|"
    return ["".join(line).rstrip(), (" " * left + "".join(ticks)).rstrip()]


def _coloured(marks: str) -> str:
    return "".join(
        click.style(run, **_MARK_STYLE[mark]) if mark in _MARK_STYLE else run
        for mark, run in ((mark, "".join(group)) for mark, group in groupby(marks))
    )


# ---------------------------------------------------------------------- the worst, and the key


def _told(end: EndMisfit) -> list[str]:
    """The likeliest slips, then the worst that are not among them."""
    lines: list[str] = []
    kept = slip_names(o for group in likely(end.kept_out) for o in group.outcomes)
    if end.likely or kept:
        lines += ["", "  The likeliest slips"]
    for group in end.likely:
        lines += _alike(group)
    if kept:
        lines += wrapped(f"kept out by the key: {'; '.join(kept)}", "      ", "    ")
    told = {id(o) for group in end.likely for o in group.outcomes}
    rest = [o for o in end.possible if id(o) not in told and o.seating.kind != "right"]
    worst = alike([o for o in rest if o.consequence == end.possible[0].consequence and o.grade != "note"])[:MOST]
    if worst:
        lines += ["", "  The worst of all" if end.likely else "  The worst"]
        for group in worst:
            lines += _alike(group)
    left = len(rest) - sum(group.number for group in worst)
    if left:
        lines += wrapped(f"and {left} more; --json has them all", "    ")
    return lines


def _alike(group: Alike) -> list[str]:
    sentence = group.sentence
    return _graded(group.worst.grade, f"{group.worst.consequence}. {sentence[0].upper()}{sentence[1:]}")


def _keys(end: EndMisfit) -> list[str]:
    return [*_key(end), *_cures(end)]


def _key(end: EndMisfit) -> list[str]:
    if end.key is None:
        return wrapped(f"Key: {end.key_note}.", "    ", "  ")
    key = end.key
    lines = wrapped(f"Key: {key.where}.", "    ", "  ")
    said = [
        _sentence(key.undone),
        _slips(key),
        f"In all it would keep out {_tallied(key.blocks)}.",
        f"Possible after that: {_tallied(key.remains)}.",
        *([f"The worst of these: {key.worst.sentence}."] if key.worst else []),
        _sentence(end.key_note),
    ]
    return [*lines, *(line for sentence in said for line in wrapped(sentence, "      ", "    "))]


def _slips(key: Key) -> str:
    if not key.stops:
        return "It would keep out none of the likeliest slips." if key.lets else ""
    text = f"Of the likeliest slips it would keep out: {'; '.join(key.stops)}."
    return f"{text} It would not keep out: {'; '.join(key.lets)}." if key.lets else text


def _sentence(said: str) -> str:
    return f"{said[0].upper()}{said[1:]}."


def _cures(end: EndMisfit) -> list[str]:
    """What would help for good, where anything was found that can do damage."""
    if not end.limits.cures or end.grade not in ("danger", "fault"):
        return []
    lines = wrapped("Better than any key, where it can be had:" if end.key else "What helps for good:", "    ", "  ")
    for cure in end.limits.cures:
        lines += wrapped(cure, "      ", "    ")
    return lines + (wrapped(f"({end.limits.source})", "    ") if end.limits.source else [])


def _tallied(numbers: Mapping[Consequence, int]) -> str:
    return listed(f"{number} {consequence}" for consequence, number in numbers.items()) or "nothing"


# ---------------------------------------------------------------------- JSON


def as_json(m: Misfit) -> dict[str, Any]:
    """The result of `misfit`: every seating at both ends, the worst first, and the key for each end."""
    return {
        "format": FORMAT,
        "host": m.host.name,
        "card": m.card.name,
        "fitted": list(m.fitted),
        "consequences": [
            {"consequence": c, "grade": MEANING[c].grade, "meaning": MEANING[c].about} for c in CONSEQUENCES
        ],
        "ends": [_end_json(end) for end in m.ends],
    }


def _end_json(end: EndMisfit) -> dict[str, Any]:
    stays, moves = ("machine", "adapter") if end.end == "host" else ("adapter", "card")
    limits = end.limits
    slips = {id(o) for group in end.likely for o in group.outcomes}
    return {
        "end": end.end,
        "stays": {"half": stays, "form": end.stays},
        "moves": {"half": moves, "form": end.moves},
        "allowed": {
            "along": limits.along,
            "across": limits.across,
            "turned": limits.turned,
            "part": limits.part,
            "why": list(limits.why),
            "source": limits.source,
            "cures": list(limits.cures),
        },
        "worst": end.possible[0].consequence,
        "grade": end.grade,
        "keys": list(end.keys),
        "seatings": [_outcome_json(o, stays, moves, is_likely=id(o) in slips) for o in end.outcomes],
        "key": _key_json(end.key) if end.key else None,
        "key_note": end.key_note,
    }


def _outcome_json(o: Outcome, stays: str, moves: str, *, is_likely: bool) -> dict[str, Any]:
    s = o.seating
    return {
        "kind": s.kind,
        "turned": s.turned,
        "along": s.along,
        "across": s.across,
        "engaged": {"from": s.engaged[0], "places": s.engaged[1]} if s.engaged else None,
        "condition": s.condition or None,
        "kept_out": o.kept_out,
        "likely": is_likely,
        "consequence": o.consequence,
        "grade": o.grade,
        "contacts": o.contacts,
        "missing": list(o.missing),
        "driven": o.driven,
        "elsewhere": o.elsewhere,
        "open": o.open,
        "meets": [
            {
                f"{stays}_contact": x.stays,
                f"{moves}_contact": x.moves,
                "machine_signal": x.machine,
                "card_signal": x.card,
                "consequence": x.consequence,
            }
            for x in o.meetings
        ],
        "sentence": visible(o.sentence),
    }


def _key_json(key: Key) -> dict[str, Any]:
    return {
        "contacts": list(key.labels),
        "where": key.where,
        "undone": key.undone,
        "likely_kept_out": list(key.stops),
        "likely_left": list(key.lets),
        "keeps_out": dict(key.blocks),
        "remains": dict(key.remains),
        "worst_remaining": key.worst.sentence if key.worst else None,
    }
