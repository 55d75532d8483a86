"""What the terminal shows of a drawing held against the plan, and the same as JSON."""

from __future__ import annotations

from typing import Any

import click

from ..audit.judging import Audit, NetAudit
from ..audit.mistaken import Mistaken
from ..findings import tally
from ..text import count, listed, ranges, visible
from .json_output import FORMAT, finding
from .screen import finding_lines, wrapped

_STYLE: dict[str, dict[str, Any]] = {
    "do not apply power": {"fg": "red", "bold": True, "reverse": True},
    "not as planned": {"fg": "red", "bold": True},
    "as planned": {"fg": "green", "bold": True},
}
_MOST_CAUSES = 3


def text(audit: Audit) -> str:
    """The answer first, then which connector is which, what is wrong, and how the nets stand."""
    lines = [click.style(visible(audit.first_line), **_STYLE[audit.verdict])]
    lines += wrapped(f"{visible(audit.file)}, a {audit.kind}, held against {visible(audit.title)}", "")
    if audit.plan_verdict == "do not build" and audit.verdict != "as planned":
        lines += wrapped("The plan itself says do not build, whatever the drawing is.", "")
    lines += ["", "  Connectors", *_connectors(audit)]
    if audit.findings:
        lines += finding_lines(audit.findings)
    lines += ["", "  Nets, supplies and returns first", *_nets(audit)]
    lines += _parts(audit)
    lines += ["", f"  {click.style(audit.verdict, **_STYLE[audit.verdict])}: {tally(audit.findings)}"]
    return "\n".join(lines)


def _connectors(audit: Audit) -> list[str]:
    lines = [line for choice in audit.connectors for line in wrapped(choice.sentence(), "      ", "    ")]
    first = audit.connectors[0]
    agreed = f"{first.agreed} of {count(first.of, 'net')} that join contacts are whole and alone so"
    next_best = f"; next best: {first.runner_up}" if first.runner_up else ""
    return [*lines, *wrapped(f"{agreed}{next_best}", "      ", "    ")]


def _nets(audit: Audit) -> list[str]:
    """Each kind of outcome once, with the nets of it."""
    groups: dict[str, list[str]] = {}
    for net in audit.nets:
        groups.setdefault(_outcome(net), []).append(net.name)
    order = sorted(groups, key=lambda outcome: (outcome == "as planned", _first(audit, groups[outcome][0])))
    lines = []
    for outcome in order:
        names = ranges([visible(name) for name in groups[outcome]])
        lines += wrapped(f"{outcome}: {count(len(groups[outcome]), 'net')}: {names}", "      ", "    ")
    return lines


def _first(audit: Audit, name: str) -> int:
    return next(index for index, net in enumerate(audit.nets) if net.name == name)


def _outcome(net: NetAudit) -> str:
    if not net.wrong:
        return "as planned"
    by_name = listed("as planned" if state == "agrees" else state for state in net.states)
    if net.copper is None or net.copper == net.states:
        return by_name
    copper = listed("as planned" if state == "agrees" else state for state in net.copper)
    return f"{by_name} by name, {copper} in copper"


def _parts(audit: Audit) -> list[str]:
    lines: list[str] = []
    if audit.parts:
        there = [part for part in audit.parts if part.drawn]
        renamed = [f"{part.ref} is {visible(part.drawn)}" for part in there if part.ref != part.drawn]
        said = f"{len(there)} of the plan's {count(len(audit.parts), 'part')} found"
        lines += wrapped(said + (f"; {listed(renamed)}" if renamed else ""), "      ", "    ")
    if audit.series:
        lines += wrapped(f"seen through: {ranges([visible(ref) for ref in audit.series])}", "      ", "    ")
    if audit.extra:
        some = ranges([visible(ref) for ref in audit.extra[:40]])
        more = f" and {len(audit.extra) - 40} more" if len(audit.extra) > 40 else ""
        lines += wrapped(f"not in the plan: {some}{more}", "      ", "    ")
    return ["", "  Parts", *lines] if lines else []


# ------------------------------------------------------------------ JSON


def as_json(audit: Audit) -> dict[str, Any]:
    """The result of `audit`, format 1: all nets, all parts of the plan."""
    return {
        "format": FORMAT,
        "title": audit.title,
        "file": audit.file,
        "kind": audit.kind,
        "verdict": audit.verdict,
        "first_line": audit.first_line,
        "plan_verdict": audit.plan_verdict,
        "connectors": [
            {
                "plan": c.plan,
                "drawn": c.ref,
                "how": c.how,
                "naming": c.naming,
                "contacts": len(c.labels),
                "of_contacts": c.wanted,
                "agreed": c.agreed,
                "of_nets": c.of,
                "runner_up": c.runner_up or None,
                "close": c.close,
            }
            for c in audit.connectors
        ],
        "causes": [_cause(cause) for cause in audit.causes],
        "nets": [
            {
                "name": net.name,
                "group": net.group,
                "states": list(net.states),
                "copper": None if net.copper is None else list(net.copper),
                "contacts": list(net.contacts),
                "drawn": list(net.drawn),
                "others": list(net.others),
            }
            for net in audit.nets
        ],
        "parts": [
            {"ref": p.ref, "drawn": p.drawn or None, "planned": p.planned, "value": p.value} for p in audit.parts
        ],
        "through": list(audit.through),
        "series": list(audit.series),
        "extra": list(audit.extra),
        "findings": [finding(f) for f in audit.findings],
    }


def _cause(cause: Mistaken) -> dict[str, Any]:
    return {
        "connector": cause.ref,
        "kinds": list(cause.kinds),
        "name": cause.name,
        "sentence": cause.sentence,
        "wrong": cause.wrong,
        "left": cause.left,
        "in_copper": cause.in_copper,
        "second": _cause(cause.second) if cause.second else None,
    }
