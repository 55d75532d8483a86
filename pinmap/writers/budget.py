"""The budget of a design: supplies, wire and lines as three short tables, for the terminal, as Markdown, as JSON."""

from __future__ import annotations

import textwrap
from typing import Any, Literal

import click
from msgspec import Struct

from ..adapter import Adapter
from ..electrical import Budget, Carrier, ConductorBudget, LineBudget, SupplyBudget
from ..findings import tally
from ..quantity import amps, volts
from ..text import count, listed, ranges, visible
from .screen import finding_lines, width

FORMAT = 1
_WIDE, _NARROW = 80, 72  # columns: what the tables fit, and what they need
NOTHING = "–"  # where a figure does not apply
UNKNOWN = "unknown"


class BudgetTable(Struct, frozen=True):
    """One of the three tables: name, sentence, columns, rows of cells, what is said below it.

    The last column holds words and may be broken into lines; the others are short.
    """

    name: Literal["Supplies", "Wire", "Lines"]
    said: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    below: tuple[str, ...] = ()


def tables(budget: Budget) -> tuple[BudgetTable, BudgetTable, BudgetTable]:
    """The three tables in words, for every writer the same."""
    return (
        BudgetTable(
            "Supplies",
            budget.supplies_said,
            ("rail", "drawn", "limit", "left", "drop", "arrives", "allowed", "weakest"),
            tuple(map(_supply, budget.supplies)),
            (*_who(budget), *(f"{s.rail}: {s.change}" for s in budget.supplies if s.change)),
        ),
        BudgetTable(
            "Wire",
            budget.conductors_said,
            ("for", "size", "per m", "carries", "may carry", "warmer", "melts at"),
            tuple(map(_conductor, budget.conductors)),
        ),
        BudgetTable(
            "Lines",
            budget.lines_said,
            ("group: driver", "at low", "can sink", "at high", "can give", "pulls", "lines"),
            tuple(map(_line, budget.lines)),
            (*_timing(budget), *_returns(budget)),
        ),
    )


def text(budget: Budget, adapter: Adapter) -> str:
    """The budget for the terminal: three tables within 80 columns, a sentence each, what is assumed, what was found."""
    out = [click.style(line, bold=True) for line in _wrapped(adapter.title)]
    grave = [f for f in adapter.findings if f.grade in ("danger", "fault") and f not in budget.findings]
    if grave:  # what follows reckons without what was refused
        out += ["", click.style("First", bold=True), *finding_lines(grave)]
    for table in tables(budget):
        out += ["", click.style(table.name, bold=True)]
        out += _plain(table) if table.rows else ["  none"]
        for said in (*table.below, table.said):
            out += _wrapped(said, "  ")
    if budget.assumed:
        out += ["", click.style("Assumed", bold=True)]
        for said in budget.assumed:
            out += _wrapped(said, "    ", "  - ")
    found = [f for f in budget.findings if f.grade != "note"]
    out += ["", click.style("What was found", bold=True)]
    out += finding_lines(found) or ["  nothing"]
    if len(found) != len(budget.findings):
        out.append(f"  and {count(len(budget.findings) - len(found), 'note')}: --json has them")
    return "\n".join([*out, "", f"{adapter.verdict}: {tally(adapter.findings)}"])


def sentences(budget: Budget) -> tuple[str, ...]:
    """The three sentences, each behind the name of its table."""
    return tuple(f"{table.name}: {table.said}" for table in tables(budget) if table.said)


def markdown(budget: Budget) -> list[str]:
    """The budget as lines of Markdown under the heading "Budget"; no text in it means something to Markdown."""
    from .tables import escaped, table_lines  # which asks for this

    out = ["## Budget", ""]
    for table in tables(budget):
        out += [f"### {table.name}", ""]
        out += table_lines(table.columns, table.rows) or ["None."]
        for said in (*table.below, table.said):
            if said:
                out += ["", escaped(said)]
        out.append("")
    if budget.assumed:
        out += ["### Assumed", "", *(f"- {escaped(said)}" for said in budget.assumed), ""]
    return out[:-1]


# ------------------------------------------------------------------ the rows


def _supply(s: SupplyBudget) -> tuple[str, ...]:
    return (
        s.rail,
        f"{'~' if any(d.thumb for d in s.draws) else ''}{amps(s.drawn_a)}",
        _known(s.limit_a) if s.carriers else NOTHING,
        _known(s.left_a) if s.carriers else NOTHING,
        f"{potential(s.drop_v + s.return_v)}{' + fuse' if s.without_fuse else ''}" if s.carriers else NOTHING,
        _arrives(s) if s.carriers else NOTHING,
        f"±{potential(s.allowed_v)}",
        f"{s.weakest}{f'; made from {s.fed_by}' if s.fed_by else ''}",
    )


def _arrives(s: SupplyBudget) -> str:
    """What arrives at worst: the least, and the most where other rails' currents in the return make it larger."""
    least, most = volts(round(s.at_card_v, 3)), volts(round(s.most_v, 3))
    return least if s.lift_v < s.allowed_v / 10 else f"{least} to {most}"  # a tenth of what is allowed matters


def _who(budget: Budget) -> list[str]:
    """Who draws, in one line a rail; ~ marks what is a rule of thumb."""
    out = [
        f"{s.rail}: {listed(f'{d.who} {_thumb(d.thumb)}{amps(d.amps)}' for d in s.draws)}."
        for s in budget.supplies
        if s.draws
    ]
    out += [
        f"{s.rail}: the machine itself and its other cards take {amps(s.others_a)} of the limit."
        for s in budget.supplies
        if s.others_a
    ]
    if any(d.thumb for s in budget.supplies for d in s.draws):
        out.append("~ a rule of thumb: only a card's label or a meter tells what it draws.")
    return out


def _thumb(thumb: bool) -> str:
    return "~" if thumb else ""


def _conductor(c: ConductorBudget) -> tuple[str, ...]:
    return (
        c.use,
        c.size,
        resistance(c.ohm_per_m),
        amps(c.carries_a),
        NOTHING if c.allowed_a is None else amps(c.allowed_a),
        NOTHING if c.rise_k is None else "<0.1 K" if c.rise_k < 0.1 else f"{figures(c.rise_k)} K",
        NOTHING if c.fusing_a is None else amps(c.fusing_a),
    )


def _line(line: LineBudget) -> tuple[str, ...]:
    return (
        f"{line.group}: {line.driver}" if line.driver else line.group,
        amps(line.sinks_a),
        amps(line.can_sink_a),
        amps(line.sources_a),
        amps(line.can_source_a),
        NOTHING if line.pull_ohms is None else resistance(line.pull_ohms),
        ranges(line.signals),
    )


def _timing(budget: Budget) -> list[str]:
    t = budget.timing
    if t is None:
        return []
    cycle = f"; a clock cycle takes {duration(t.cycle_s)}" if t.cycle_s is not None else ""
    return [
        f"{figures(t.length_mm)} mm long; from {figures(t.critical_mm)} mm on a line counts as long (an edge of "
        f"{duration(t.edge_s)}, factor {figures(t.factor)}). A signal takes {duration(t.delay_s)}{cycle}."
    ]


def _returns(budget: Budget) -> list[str]:
    r = budget.returns
    if r is None:
        return []
    out = f"{count(r.signals, 'signal')} beside {count(r.returns, 'return')}"
    if r.far:
        far = ", ".join(f"{signal} {away}" for signal, away in r.far[:6])
        more = f" and {len(r.far) - 6} more" if len(r.far) > 6 else ""
        out += f"; far from a return, in conductors: {far}{more}"
    if r.ground:
        out += f"; free to be joined to the return at the card's end: J1 {ranges(r.ground)}"
    return [f"{out}."]


# ------------------------------------------------------------------ quantities


def figures(value: float) -> str:
    """Three figures, never an exponent: 838, 0.213, 12500."""
    rounded = float(f"{value:.3g}")
    return f"{rounded:.0f}" if abs(rounded) >= 1000 else f"{rounded:.12f}".rstrip("0").rstrip(".")


def potential(value: float) -> str:
    """A voltage without its sign's meaning: 45 mV, 1.2 V."""
    return f"{figures(value)} V" if abs(value) >= 1 else f"{figures(value * 1e3)} mV"


def resistance(value: float) -> str:
    """Like 213 mΩ, 4.7 Ω, 10 kΩ."""
    for least, factor, unit in ((1e6, 1e-6, "MΩ"), (1e3, 1e-3, "kΩ"), (1.0, 1.0, "Ω")):
        if abs(value) >= least:
            return f"{figures(value * factor)} {unit}"
    return f"{figures(value * 1e3)} mΩ"


def duration(value: float) -> str:
    """Like 838 ns, 1.2 µs, 200 ms."""
    for least, factor, unit in ((1.0, 1.0, "s"), (1e-3, 1e3, "ms"), (1e-6, 1e6, "µs")):
        if abs(value) >= least:
            return f"{figures(value * factor)} {unit}"
    return f"{figures(value * 1e9)} ns"


def _known(value: float | None) -> str:
    return UNKNOWN if value is None else amps(value)


# ------------------------------------------------------------------ the terminal


def _wrapped(said: str, indent: str = "", first: str = "") -> list[str]:
    return textwrap.wrap(
        visible(said),
        min(width(), _WIDE),
        initial_indent=first or indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _plain(table: BudgetTable) -> list[str]:
    """A table of letters: the first and the last column are broken into lines; narrow: a row is a sentence."""
    rows = [tuple(map(visible, row)) for row in table.rows]
    if width() < _NARROW:
        return [
            line
            for first, *rest in rows
            for line in _wrapped(
                f"{first}: {', '.join(f'{c} {cell}' for c, cell in zip(table.columns[1:], rest, strict=True))}",
                "    ",
                "  ",
            )
        ]
    most = [max(len(row[i]) for row in (table.columns, *rows)) for i in range(len(table.columns))]
    room = _WIDE - 2 * len(most)
    words = (len(most) - 1, 0)  # the last column and the first hold words, which may be broken
    while sum(most) > room:
        most[max(words if max(most[at] for at in words) > 14 else range(len(most)), key=lambda at: most[at])] -= 1
    out = []
    for row in (table.columns, *rows):
        cells = [textwrap.wrap(cell, most[i]) or [""] for i, cell in enumerate(row)]
        for n in range(max(map(len, cells))):
            parts = [(c[n] if n < len(c) else "").ljust(most[i]) for i, c in enumerate(cells)]
            out.append(f"  {'  '.join(parts)}".rstrip())
    return [out[0], f"  {'-' * (min(sum(most) + 2 * len(most), _WIDE) - 2)}", *out[1:]]


# ------------------------------------------------------------------ JSON


def as_json(budget: Budget, adapter: Adapter) -> dict[str, Any]:
    """The budget as JSON, format 1: SI units, named in the keys; null where a figure is not known or does not apply."""
    from .json_output import finding  # which asks for this

    timing, returns = budget.timing, budget.returns
    return {
        "format": FORMAT,
        "title": adapter.title,
        "host": adapter.host.name,
        "card": adapter.card.name,
        "verdict": adapter.verdict,
        "supplies": [
            {
                "rail": s.rail,
                "volts_v": s.volts,
                "drawn_a": _exact(s.drawn_a),
                "draws": [{"who": d.who, "amps_a": _exact(d.amps), "rule_of_thumb": d.thumb} for d in s.draws],
                "limit_a": _maybe(s.limit_a),
                "others_a": _maybe(s.others_a),
                "carriers": [_carrier(c) for c in s.carriers],
                "returns": [_carrier(c) for c in s.returns],
                "drop_v": _exact(s.drop_v),
                "return_v": _exact(s.return_v),
                "lift_v": _exact(s.lift_v),
                "at_card_v": _exact(s.at_card_v) if s.carriers else None,
                "most_v": _exact(s.most_v) if s.carriers else None,
                "without_fuse": s.without_fuse,
                "allowed_v": _exact(s.allowed_v),
                "weakest": s.weakest,
                "left_a": _maybe(s.left_a),
                "change": s.change,
                "fed_by": s.fed_by,
            }
            for s in budget.supplies
        ],
        "wire": [
            {
                "use": c.use,
                "size": c.size,
                "ohm_per_m": _exact(c.ohm_per_m),
                "carries_a": _exact(c.carries_a),
                "allowed_a": _maybe(c.allowed_a),
                "rise_k": _maybe(c.rise_k),
                "fusing_a": _maybe(c.fusing_a),
                "source": c.source,
            }
            for c in budget.conductors
        ],
        "lines": [
            {
                "signals": list(line.signals),
                "group": line.group,
                "driver": line.driver,
                "sinks_a": _exact(line.sinks_a),
                "can_sink_a": _exact(line.can_sink_a),
                "sources_a": _exact(line.sources_a),
                "can_source_a": _exact(line.can_source_a),
                "pull_ohm": _maybe(line.pull_ohms),
                "source": line.source,
            }
            for line in budget.lines
        ],
        "timing": timing
        and {
            "length_mm": _exact(timing.length_mm),
            "critical_mm": _exact(timing.critical_mm),
            "edge_s": _exact(timing.edge_s),
            "factor": _exact(timing.factor),
            "delay_s": _exact(timing.delay_s),
            "cycle_s": _maybe(timing.cycle_s),
            "source": timing.source,
        },
        "returns": returns
        and {
            "signals": returns.signals,
            "returns": returns.returns,
            "far": [{"signal": signal, "conductors": away} for signal, away in returns.far],
            "ground": list(returns.ground),
        },
        "said": {
            "supplies": budget.supplies_said,
            "wire": budget.conductors_said,
            "lines": budget.lines_said,
        },
        "assumed": list(budget.assumed),
        "findings": [finding(f) for f in budget.findings],
    }


def _carrier(c: Carrier) -> dict[str, Any]:
    return {"what": c.what, "count": c.count, "each_a": _maybe(c.each_a), "ohm": _exact(c.ohms), "source": c.source}


def _exact(value: float) -> float:
    """Nine figures: enough for any meter, and the same on every machine."""
    return float(f"{value:.9g}")


def _maybe(value: float | None) -> float | None:
    return None if value is None else _exact(value)
