"""The wiring table and the report as text files: CSV for a spreadsheet, Markdown for reading and printing."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from ..adapter import STATE_MEANING, Adapter, AdapterConnector
from ..findings import Finding
from ..model import PinMap
from ..text import listed, ranges, visible
from ..wiring import Point, Wire, unwired, wires
from . import budget
from .cells import csv_text, worded
from .fitted import AFTER, WHEN, fitted, lead_said, remedy_said, ribbon_said

#: Said wherever a person could be about to connect something.
CAUTIONS = (
    "An opened machine has parts at mains voltage, and one with a picture tube has lethal voltages that stay after it "
    "is unplugged. Unplug it, let capacitors discharge, and leave what you are not trained for to qualified people; "
    "local rules come first.",
    "Never plug or unplug the adapter or a card with power on. Ground yourself: static kills old chips.",
    "A wrong map destroys hardware. Check every supply and return with a meter, power off, before the first power-on.",
)

#: The columns of `wiring_csv`. A point is one cell with its connector in front, so that no label is a number or a date.
CSV_COLUMNS = (
    "wire",
    "kind",
    "from",
    "from pad",
    "to",
    "to pad",
    "signal",
    "group",
    "state",
    "remark",
    "verdict",
)


def wiring_csv(adapter: Adapter, *, bom: bool = False) -> str:
    """One line a wire, in soldering order, under `CSV_COLUMNS`; `bom` puts a byte order mark first.

    Only `wire` is a number. Labels, pads, signals and remarks stand behind a word: see `cells`.
    """
    rows = (
        (
            wire.number,
            wire.kind,
            worded(wire.start.ref, wire.start.label),
            worded("pad", wire.start.pad),
            worded(wire.stop.ref, wire.stop.label),
            worded("pad", wire.stop.pad),
            worded("net", wire.signal),
            wire.group,
            wire.state,
            worded("note:", "; ".join(x for x in (lead_said(adapter, wire), wire.remark) if x)),
            adapter.verdict,  # in every row: a row that is copied out must not lose it
        )
        for wire in wires(adapter)
    )
    return csv_text(CSV_COLUMNS, rows, bom=bom)


def wiring_markdown(adapter: Adapter) -> str:
    """The wiring table to print: supplies first and set apart, then the signals, then what stays unconnected."""
    all_wires = wires(adapter)
    leads = [w for w in all_wires if w.kind == "lead"]
    power = [w for w in all_wires if w.group in ("return", "supply") and w.kind != "lead"]
    lines = [w for w in all_wires if w.group not in ("return", "supply") and w.kind != "lead"]
    out = [
        f"# Wiring: {escaped(adapter.title)}",
        "",
        _verdict_line(adapter),
        "",
        *_ends(adapter),
        *([f"- {ribbon}"] if (ribbon := ribbon_said(adapter)) else []),
        "",
        "## Supplies and returns",
        "",
        *_wire_table(adapter, power),
        "",
        "## Signals",
        "",
        *_wire_table(adapter, lines),
        "",
    ]
    if adapter.parts:
        out += ["## Parts", "", f"{WHEN} {AFTER}", "", *_parts(adapter), ""]
        out += ["## Leads of the parts", "", *_wire_table(adapter, leads), ""]
    out += ["## Not connected", ""]
    loose = unwired(adapter)
    if loose:
        remedies: dict[tuple[str, str], str] = {
            (u.end, label): remedy_said(u) for u in adapter.unmapped for label in u.contacts
        }
        rows = [
            (p.ref, p.label, p.pad, net.name, net.state, net.remark, remedies.get((p.end, p.label), ""))
            for net, p in loose
        ]
        out += table_lines(("connector", "label", "pad", "net", "state", "why", "remedy"), rows)
    else:
        out.append("Every contact is wired.")
    if adapter.budget:
        out += ["", *budget.markdown(adapter.budget)]
    out += ["", "## Before power", "", *(f"- {c}" for c in CAUTIONS), ""]
    return "\n".join(out)


def report(adapter: Adapter) -> str:
    """The verdict with its reasons, the signals that do not map, and what works: in Markdown."""
    out = [f"# {escaped(adapter.title)}", "", _verdict_line(adapter), "", *_ends(adapter), ""]
    if adapter.fitted:
        out += [f"Options fitted: {escaped(listed(adapter.fitted))}.", ""]
    out += ["## What was found", "", *_finding_lines(adapter.findings), ""]
    out += ["## Signals that do not map", ""]
    for end, text in (
        ("card", "The card has these, the slot does not bring them:"),
        ("host", "The slot brings these, the card has no use for them:"),
    ):
        rows = [
            (u.signal, ranges(u.contacts), u.reason, u.effect, remedy_said(u)) for u in adapter.unmapped if u.end == end
        ]
        if rows:
            out += [text, "", *table_lines(("signal", "contact", "why", "what it means", "remedy"), rows), ""]
    if not adapter.unmapped:
        out += ["Every signal of both ends maps.", ""]
    if adapter.parts:
        out += ["## Parts", "", WHEN, "", *_parts(adapter), ""]
    if adapter.budget:
        out += [*budget.markdown(adapter.budget), ""]
    out += ["## Which kinds of card can work", ""]
    out += table_lines(("kind of card", "answer"), [(k.kind, k.sentence()) for k in adapter.coverage.kinds]) or ["-"]
    for option, kinds in adapter.coverage.gained:
        out += ["", f"With {escaped(option)}: {escaped(listed(kinds))} would work without further parts."]
    out += ["", "## Which signals are there", ""]
    out += table_lines(
        ("group", "there", "only with an option", "absent"),
        [
            (g.group, ranges(g.present), listed(f"{n} ({o})" for n, o in g.optional), ranges(g.absent))
            for g in adapter.coverage.groups
        ],
    )
    out += ["", "## What the maps rest on", ""]
    for word, pin_map in (("Machine", adapter.host), ("Card", adapter.card)):
        out.append(f"- {word}: {escaped(_evidence(pin_map))}")
    states = dict.fromkeys(net.state for net in adapter.nets)
    out += [
        "",
        "## Words",
        "",
        *(f"- {state}: {STATE_MEANING[state]}" for state in states),
        "",
        "## Before power",
        "",
        *(f"- {c}" for c in CAUTIONS),
        "",
    ]
    return "\n".join(out)


def _evidence(pin_map: PinMap) -> str:
    contacts = pin_map.by_label.values()
    seen = {
        kind: [c.label for c in contacts if c.seen == kind and c.role != "undescribed"]
        for kind in ("manual", "measured", "guessed")
    }
    words = {"manual": "from the source", "measured": "measured", "guessed": "guessed"}
    parts = [
        f"{len(labels)} {words[kind]}{f' ({ranges(labels)})' if kind == 'guessed' else ''}"
        for kind, labels in seen.items()
        if labels
    ]
    return f"{pin_map.title}. Source: {pin_map.source or 'not stated'}. Contacts: {listed(parts)}."


def _verdict_line(adapter: Adapter) -> str:
    said = {
        "build": "Build.",
        "build with care": "Build with care: see what was found.",
        "do not build": "DO NOT BUILD: see what was found.",
    }
    return f"**{said[adapter.verdict]}**"


def _ends(adapter: Adapter) -> list[str]:
    return [
        f"- {escaped(describe(adapter.host_connector, adapter.host))}",
        f"- {escaped(describe(adapter.card_connector, adapter.card))}",
    ]


def describe(connector: AdapterConnector, pin_map: PinMap) -> str:
    """Say what a connector of the adapter is and what it meets."""
    body = connector.body
    size = " + ".join(f"{s.rows}×{s.places}" for s in body.sections)
    what = "meets the machine" if connector.end == "host" else "takes the card"
    gender = f"{body.gender} " if body.gender else ""
    return (
        f"{connector.ref} {what} ({pin_map.title}): {gender}{body.form} {size}, {body.pitch_mm:g} mm pitch, footprint "
        f"{body.footprint}"
    )


def _parts(adapter: Adapter) -> list[str]:
    rows = [
        (f.part.ref, f.what, f.value, "; ".join(f.joined), f.why, f.part.footprint, f.part.fit) for f in fitted(adapter)
    ]
    return table_lines(("part", "what", "value", "joined", "why", "footprint", "how to fit it"), rows)


def _wire_table(adapter: Adapter, some: Sequence[Wire]) -> list[str]:
    if not some:
        return ["None."]
    rows = [
        (
            str(w.number),
            *_point(w.start),
            *_point(w.stop),
            w.signal,
            w.group,
            w.state,
            "; ".join(
                x for x in ("link at the same connector" if w.kind == "link" else lead_said(adapter, w), w.remark) if x
            ),
        )
        for w in some
    ]
    return table_lines(("wire", "from", "pad", "to", "pad", "signal", "group", "state", "remark"), rows)


def _point(point: Point) -> tuple[str, str]:
    return f"{point.ref} {point.label}", point.pad


def _finding_lines(findings: Iterable[Finding]) -> list[str]:
    out = []
    for f in findings:
        where = f" ({f.place})" if f.place.line else f" ({f.place.file})" if f.place.file else ""
        advice = f" {_sentence(f.advice)}" if f.advice else ""
        out.append(f"- **{f.grade}** `{f.code}`{escaped(where)}: {escaped(_sentence(f.message))}{escaped(advice)}")
    return out or ["Nothing."]


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?", "…")) else f"{text}."


def table_lines(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """A Markdown table, padded so that it also reads as plain text."""
    if not rows:
        return []
    cells = [[escaped(cell).replace("|", "\\|") for cell in row] for row in (head, *rows)]
    # Only short columns are padded: long ones would push everything else off the page.
    widths = [min(max(len(row[i]) for row in cells), 24) for i in range(len(head))]
    lines = [" | ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in cells]
    lines.insert(1, " | ".join("-" * max(width, 3) for width in widths))
    return [f"| {line} |" for line in lines]


# * opens emphasis behind a letter too, unless a space or punctuation follows it; _ does not.
_OPENS_MARKUP = re.compile(r"\*(?![\s!-/:-@\[-`{-~]|$)|(?<![^\W_])[*_]|~")


def escaped(text: str) -> str:
    """Keep a text from meaning something to Markdown, without making names like IOR* hard to read."""
    text = visible(text).replace("\\", "\\\\").replace("`", "\\`").replace("[", "\\[")
    text = text.replace("&", "&amp;").replace("<", "&lt;")
    return _OPENS_MARKUP.sub(lambda match: f"\\{match[0]}", text)
