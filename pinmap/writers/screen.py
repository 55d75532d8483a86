"""What the terminal shows of a check: plain text, so that `pinmap check` need not load a table library."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from collections.abc import Iterable
from typing import Any, TextIO

import click

from ..api import Checked
from ..coverage import Coverage
from ..findings import Finding, Grade, tally
from ..text import count, listed, ranges, visible

GRADE_STYLE: dict[Grade, dict[str, Any]] = {
    "danger": {"fg": "red", "bold": True, "reverse": True},
    "fault": {"fg": "red", "bold": True},
    "caution": {"fg": "yellow"},
    "note": {"dim": True},
}


def coloured(stream: TextIO) -> bool:
    """Whether to colour what goes to `stream`: never with NO_COLOR, always with FORCE_COLOR, else on a terminal."""
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR", "0") not in ("", "0"):
        return True
    return stream.isatty() and os.environ.get("TERM") != "dumb"


def show(text: str, *, err: bool = False) -> None:
    """Write a text to stdout or stderr: in colour where that is wanted, and no line with spaces at its end."""
    stream = sys.stderr if err else sys.stdout  # named, for click would take one that says it is ASCII for UTF-8
    click.echo("\n".join(line.rstrip(" ") for line in text.split("\n")), stream, color=coloured(stream))


def width() -> int:
    """How many columns to write: the terminal's, or 100 where there is none; 40 at least, 140 at most for text."""
    return max(40, min(shutil.get_terminal_size((100, 40)).columns, 140))


def wrapped(text: str, indent: str, first: str = "") -> list[str]:
    """Break a text into lines of `width()`, the first behind `first`, the others behind `indent`."""
    return textwrap.wrap(
        visible(text),
        width(),
        initial_indent=first or indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    ) or [first or indent]


def checked(result: Checked) -> str:
    """The outcome of one check: findings, what is there, which cards can work, the verdict."""
    lines = [click.style(line, bold=True) for line in textwrap.wrap(_heading(result), width(), subsequent_indent="  ")]
    lines += finding_lines(result.findings)
    if result.map and result.coverage:
        when = "" if result.verdict == "sound" else ", if the map were right"
        lines += ["", "  Signals", *_groups(result.coverage), "", f"  Kinds of card that can work here{when}"]
        lines += kind_lines(result.coverage)
        if result.coverage.kinds and not result.coverage.works():
            lines.append("    no kind of card can work yet")
    elif result.map is None:
        lines += ["", "  More is checked once this is corrected."]
    style = {"sound": {"fg": "green", "bold": True}}.get(result.verdict, {"fg": "red", "bold": True})
    lines += ["", f"  {click.style(result.verdict, **style)}: {tally(result.findings)}"]  # type: ignore[arg-type]
    return "\n".join(lines)


def _heading(result: Checked) -> str:
    if result.map is None:
        return f"{visible(result.file)}: no map can be built"
    m = result.map
    return f"{visible(result.file)}: {m.title} ({count(len(m.body), 'contact')}, bus {m.bus.name}, {m.end})"


def finding_lines(findings: Iterable[Finding]) -> list[str]:
    """Findings with place and advice, wrapped to the terminal."""
    lines = []
    for f in findings:
        grade = click.style(f.grade, **GRADE_STYLE[f.grade])
        where = visible(str(f.place)) if f.place.file else ""
        lines.append(f"  {grade} {f.code}  {click.style(where, dim=True)}".rstrip())
        lines += wrapped(f.message, "      ")
        if f.advice:
            lines += wrapped(f.advice, "        ", "      → ")
    return lines


def _groups(coverage: Coverage) -> list[str]:
    lines = []
    for g in coverage.groups:
        total = len(g.present) + len(g.optional) + len(g.absent)
        text = f"{len(g.present)} of {total}"
        if g.optional:
            text += f"; only with an option: {listed(f'{n} ({o})' for n, o in g.optional)}"
        if g.absent:
            text += f"; absent: {ranges(g.absent)}"
        lines += wrapped(text, " " * 16, f"    {g.group:<11} ")
    return lines


def kind_lines(coverage: Coverage) -> list[str]:
    """A line for each kind of card, and one for each option that would help."""
    # On a narrow screen the answers do not stand in a column of their own.
    widest = max((len(k.kind) for k in coverage.kinds), default=0) if width() >= 72 else 0
    lines = []
    for k in coverage.kinds:
        mark = {"works": "+", "works with parts": "~", "does not work": "-"}[k.answer]
        lines += wrapped(k.sentence(), " " * 8, f"    {mark} {visible(k.kind):<{widest}}  ")
    for option, kinds in coverage.gained:
        lines += wrapped(f"with {option} fitted, also: {listed(kinds)}", " " * 6, "    ")
    return lines
