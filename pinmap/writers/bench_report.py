"""What the terminal shows of readings held against the plan, and the same as JSON."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import Any

import click

from ..bench import Judged
from ..bench.faults import STATES, NetVerdict, State
from ..readings import Probe, Row
from ..text import count, ranges, visible
from .json_output import FORMAT
from .screen import wrapped

_MOST_MISSING = 15
_MOST_CAUSES = 4
_MOST_POSSIBLE = 3
_MOST_DANGERS = 6
_MOST_NETS = 12
_BAD = {"fg": "red", "bold": True}
_STYLE: dict[str, dict[str, object]] = {
    "do not apply power": {"fg": "red", "bold": True, "reverse": True},
    "mend first": {"fg": "red", "bold": True},
    "not yet": {"fg": "yellow", "bold": True},
    "all readings pass": {"fg": "green", "bold": True},
}


def text(judged: Judged) -> str:
    """The answer: the first line says whether power may be applied, the rest why."""
    lines = [click.style(visible(judged.first_line), **_STYLE[judged.verdict])]  # type: ignore[arg-type]
    lines += wrapped(judged.following, "")
    for caution in judged.cautions:
        lines += wrapped(f"caution: {caution}", "  ", "")
    lines += wrapped(f"{judged.title}: {_counted(judged)}", "")
    lines += [*_causes(judged), *_dangers(judged)] if judged.named else [*_dangers(judged), *_causes(judged)]
    lines += _section("Contradictions, on which nothing rests", (c.sentence for c in judged.contradictions))
    lines += _nets(judged)
    lines += _missing(judged)
    return "\n".join(lines)


def _counted(judged: Judged) -> str:
    some = "all" if judged.settled == judged.asked else str(judged.settled)
    return f"{count(judged.taken, 'reading')} taken; of the {judged.asked} of the form, {some} settled"


def _section(title: str, sentences: Iterable[str]) -> list[str]:
    lines = [line for sentence in sentences for line in wrapped(sentence, "      ", "    ")]
    return ["", f"  {title}", *lines] if lines else []


def _dangers(judged: Judged) -> list[str]:
    """The worst dangers; the rule that a voltage is held to, with its source, only where it is first applied."""
    said: set[str] = set()
    sentences = []
    for danger in judged.dangers[:_MOST_DANGERS]:
        rule = danger.rule and danger.rule not in said
        said.add(danger.rule)
        sentences.append(f"{danger.sentence} ({danger.rule})" if rule else danger.sentence)
    more = len(judged.dangers) - _MOST_DANGERS
    return _section("Danger", [*sentences, f"and {more} more"] if more > 0 else sentences)


def _causes(judged: Judged) -> list[str]:
    if not judged.causes:
        return []
    causes = judged.causes
    most = _MOST_CAUSES if judged.named else _MOST_POSSIBLE
    meant = "map" if judged.subject == "slot" else "plan"
    title = "One cause behind it" if judged.named else "One cause may be behind it; no reading shows it yet"
    lines = ["", f"  {title}"]
    for index, cause in enumerate(causes[:most]):
        lead = "" if index == 0 else "no reading can tell it from: " if cause.alike else "or: "
        explains = f"explains {cause.explained} of {cause.against} readings that contradict the {meant}"
        told = f" ({explains})" if judged.named and not cause.alike else ""
        lines += wrapped(f"{lead}{cause.sentence}{told}", "      ", "    ")
    if len(causes) > most and judged.named:
        lines.append(f"    or {count(len(causes) - most, 'more such mistake')}")
    if len(causes) > 1 and judged.named and judged.subject == "slot" and not judged.missing:
        lines.append("    no reading of the form tells these apart")
    if judged.telling and not judged.named:
        lines += wrapped(_to_take(judged.telling[0]), "      ", "    → ")
    return lines


def _to_take(row: Row) -> str:
    """Say in words how a reading is taken that tells causes apart."""
    if row.kind != "sweep":
        return f"take {row.kind} at {row.start}{f' against {row.stop}' if row.stop else ''}"
    return f"sweep {row.start} over {row.over}: one probe stays on {row.start}, draw the other over all of {row.over}"


def _nets(judged: Judged) -> list[str]:
    wrong = [net for net in judged.nets if net.wrong]
    lines: list[str] = []
    if judged.causes:
        meant = "mapped" if judged.subject == "slot" else "planned"
        lines += wrapped(f"{count(len(wrong), 'net')} not as {meant}: {_names(wrong)}", "      ", "    ")
        if judged.besides:
            lines += ["    wrong even so, with the contacts as they really are:"]
            lines += [line for net in judged.besides[:_MOST_NETS] for line in _net(net)]
    else:
        above = {d.sentence for d in judged.dangers[:_MOST_DANGERS]}
        one_by_one = [net for net in wrong if net.states != ("out of tolerance",)]
        lines += [line for net in one_by_one[:_MOST_NETS] for line in _net(net, above)]
        if len(one_by_one) > _MOST_NETS:
            rest = one_by_one[_MOST_NETS:]
            lines += wrapped(f"and {count(len(rest), 'more net')}: {_names(rest)}", "      ", "    ")
    plain: tuple[State, ...] = ("partly measured", "not measured", "no rail found on it", "passed")
    for state in plain if judged.causes else ("out of tolerance", *plain):
        nets = [net for net in judged.nets if net.states == (state,)]
        if nets:
            told = f" ({nets[0].sentence})" if state == "no rail found on it" else ""
            lines += wrapped(f"{state}: {count(len(nets), 'net')}: {_names(nets)}{told}", "      ", "    ")
    return ["", "  Nets", *lines]


def _net(net: NetVerdict, above: Collection[str] = ()) -> list[str]:
    """The lines of one net; what stands `above` as a danger is not said again."""
    states = " and ".join(net.states)
    first = net.sentence
    if first.startswith(f"{states} "):  # the sentence begins with its state
        return wrapped(f"{net.name} {first}", "      ", "    ")
    if any(sentence.endswith(f": {first}") for sentence in above):
        first = "see above"
    return wrapped(f"{net.name} {states}: {first}", "      ", "    ")


def _names(nets: Sequence[NetVerdict]) -> str:
    return ranges([net.name for net in nets])


def _missing(judged: Judged) -> list[str]:
    if not judged.missing:
        return []
    rows = [("kind", "from", "to", "expected", "note"), *(_cells(row) for row in judged.missing[:_MOST_MISSING])]
    widths = [max(len(row[i]) for row in rows) for i in range(3)]
    lines = []
    for row in rows:
        start = " ".join(cell.ljust(width + 1) for cell, width in zip(row, widths, strict=False))
        lines += wrapped(f"{row[3]}; {row[4]}" if row[4] else row[3], "      ", f"    {start} ")
    more = len(judged.missing) - _MOST_MISSING
    if more > 0:
        lines.append(f"    and {more} more, in the order of the form")
    return ["", f"  Still to take, what settles most first: {count(len(judged.missing), 'reading')}", *lines]


def _cells(row: Row) -> tuple[str, str, str, str, str]:
    return row.kind, str(row.start), row.to, row.expected, visible(row.note)


# ------------------------------------------------------------------ JSON


def as_json(judged: Judged) -> dict[str, Any]:
    """The result of `bench`, format 1: all nets, all readings that are missing."""
    return {
        "format": FORMAT,
        "title": judged.title,
        "subject": judged.subject,
        "verdict": judged.verdict,
        "first_line": judged.first_line,
        "following": judged.following,
        "refused": list(judged.refused),
        "taken": judged.taken,
        "asked": judged.asked,
        "settled": judged.settled,
        "cautions": list(judged.cautions),
        "dangers": [
            {
                "sentence": d.sentence,
                "rule": d.rule or None,
                "contacts": _points(d.contacts),
                "lines": [p.line for p in d.places],
                "likely": d.likely,
            }
            for d in judged.dangers
        ],
        "causes": [
            {
                "connector": c.ref,
                "kinds": list(c.kinds),
                "name": c.name,
                "sentence": c.sentence,
                "explained": c.explained,
                "against": c.against,
                "seen": c.seen,
                "alike": c.alike,
            }
            for c in judged.causes
        ],
        "nets": [_net_json(net) for net in judged.nets],
        "besides": [_net_json(net) for net in judged.besides],
        "volts": [
            {
                "contact": str(m.contact),
                "volts": m.value,
                "verdict": m.verdict,
                "sentence": m.sentence,
                "rule": m.rule or None,
                "looks_like": m.looks_like or None,
                "line": m.place.line,
            }
            for m in judged.volts
        ],
        "contradictions": [
            {
                "sentence": c.sentence,
                "lines": [p.line for p in c.places],
                "pairs": [_points(pair) for pair in c.pairs],
            }
            for c in judged.contradictions
        ],
        "telling": [_row_json(row) for row in judged.telling],
        "missing": [_row_json(row) for row in judged.missing],
    }


def _row_json(row: Row) -> dict[str, str]:
    return {"kind": row.kind, "from": str(row.start), "to": row.to, "expected": row.expected, "note": row.note}


def _net_json(net: NetVerdict) -> dict[str, Any]:
    return {
        "name": net.name,
        "group": net.group,
        "states": sorted(net.states, key=STATES.index),
        "sentence": net.sentence,
        "contacts": _points(net.contacts),
        "others": list(net.others),
        "wires": list(net.wires),
        "near": [_points(pair) for pair in net.near],
    }


def _points(contacts: Iterable[Probe]) -> list[str]:
    return [str(p) for p in contacts]
