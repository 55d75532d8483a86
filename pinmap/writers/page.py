"""The page at the bench: one HTML file, without network, in which ticks and readings are kept and judged at once."""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import json
from collections.abc import Iterable, Sequence
from html import escape
from itertools import groupby
from pathlib import Path
from string import Template
from typing import Any

from .. import bench, meter
from ..adapter import Adapter, AdapterConnector, Unmapped
from ..bench.plan import APART_OHMS, Plan, of_adapter
from ..drawing import Drawing, adapter_ends, legend
from ..model import PinMap
from ..readings import COLUMNS, Row, form_csv
from ..text import listed, ranges, visible
from ..wiring import Point, Wire, unwired, wires
from .fitted import AFTER, WHEN, Fitted, fitted, lead_said, remedy_said
from .svg import FONTS, elements
from .tables import CAUTIONS, describe

_HERE = Path(__file__).parent
_SVG = "http://www.w3.org/2000/svg"
_PX_PER_MM = 96 / 25.4  # a CSS inch has 96 px
_VERDICTS = {
    "build": ("Build.", "good"),
    "build with care": ("Build with care: read first what was found.", "warn"),
    "do not build": ("Do not build: see what was found.", "stop"),
}
_KINDS = {
    "resistance": "Resistance between the rails",
    "sweep": "Sweeps",
    "continuity": "Continuity of every wire",
    "isolation": "Isolation of neighbours",
}


_STEP_HEAD = "".join(f'<th scope="col">{word}</th>' for word in ("step", "from, to", "expected", "reading"))


def html(adapter: Adapter, *, date: str = "") -> str:
    """Return the page of an adapter; `date` is shown where it is given."""
    plan = of_adapter(adapter)
    rows = bench.form(adapter)
    style, script = _asset("page.css"), _asset("page.js")
    verdict, tone = _VERDICTS[adapter.verdict]
    policy = (
        f"default-src 'none'; script-src '{_digest(script)}'; style-src '{_digest(style)}'; "
        "base-uri 'none'; form-action 'none'"
    )
    all_wires = wires(adapter)
    meta = [
        f"Options fitted: {listed(adapter.fitted)}." if adapter.fitted else "",
        f"Date: {date}." if date else "",
        "Ticks and readings stay in this browser. Give the readings to pinmap bench too: it also finds the one mistake "
        "behind a pattern.",
    ]
    off = [(step, row) for step, row in enumerate(rows, 1) if row.kind != "volts"]
    on = [(step, row) for step, row in enumerate(rows, 1) if row.kind == "volts"]
    return Template(_asset("page.html")).substitute(
        policy=escape(policy),
        title=_t(adapter.title),
        style=style,
        tone=tone,
        verdict=verdict,
        refused="".join(f'<p class="stop">{_t(why)}</p>' for why in plan.refused),
        meta=_t(" ".join(part for part in meta if part)),
        cautions="".join(f"<li>{_t(caution)}</li>" for caution in CAUTIONS),
        findings=_findings(adapter),
        unmapped=_unmapped(adapter),
        drawings="\n".join(_drawings(adapter)),
        legend="".join(_swatch(*entry) for entry in legend()),
        wires="".join(_wire(w) for w in all_wires if w.kind != "lead"),
        loose=_loose(adapter),
        readings="".join(_readings(off)),
        parts=_parts(adapter) if adapter.parts else "",
        power=_power(adapter, on) if on else "",
        first_step="The next step stands here." if adapter.verdict != "do not build" else verdict,
        data=_json(_data(adapter, plan, rows, all_wires)),
        script=script,
    )


def _asset(name: str) -> str:
    return (_HERE / name).read_text(encoding="utf-8")


def _digest(text: str) -> str:
    """What a Content Security Policy calls an inline script or style by (W3C CSP3 s.2.3.1)."""
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


def _t(text: str) -> str:
    return escape(visible(text))


# ------------------------------------------------------------------ the words


def _findings(adapter: Adapter) -> str:
    items = []
    for f in adapter.findings:
        if f.code == "signal-absent" and f.grade in ("caution", "note"):
            continue  # it stands in full among what does not map
        where = f" ({f.place})" if f.place.line else f" ({f.place.file})" if f.place.file else ""
        said = " ".join(_sentence(text) for text in (f.message, f.advice) if text)
        items.append(f"<li><strong>{_t(f.grade)}</strong>{_t(where)}: {_t(said)}</li>")
    return f"<ul>{''.join(items)}</ul>" if items else "<p>Nothing.</p>"


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?", "…")) else f"{text}."


def _unmapped(adapter: Adapter) -> str:
    out = []
    for end, text in (
        ("card", "The card has these, the slot does not bring them:"),
        ("host", "The slot brings these, the card has no use for them:"),
    ):
        alike: dict[tuple[str, str, str], list[Unmapped]] = {}
        for u in adapter.unmapped:
            if u.end == end:
                alike.setdefault((u.reason, u.effect, remedy_said(u)), []).append(u)
        if alike:
            items = "".join(
                f"<dt>{_t(ranges([u.signal for u in some]))} "
                f"({_t(ranges([label for u in some for label in u.contacts]))})</dt><dd>{_t(reason)}. {_t(effect)}"
                f'<span class="small">{_t(remedy)}</span></dd>'
                for (reason, effect, remedy), some in alike.items()
            )
            out.append(f'<p>{text}</p><dl class="unmapped">{items}</dl>')
    return "".join(out) or "<p>Every signal of both ends maps.</p>"


def _drawings(adapter: Adapter) -> Iterable[str]:
    ends = zip(
        (adapter.host_connector, adapter.card_connector),
        (adapter.host, adapter.card),
        adapter_ends(adapter),
        strict=True,
    )
    for connector, pin_map, drawing in ends:
        yield _drawing(connector, pin_map, drawing)


def _drawing(connector: AdapterConnector, pin_map: PinMap, drawing: Drawing) -> str:
    said, about = _t(describe(connector, pin_map)), _t(drawing.about)
    brief = f"{connector.ref} meets the machine" if connector.end == "host" else f"{connector.ref} takes the card"
    size = f'width="{drawing.width * _PX_PER_MM:.1f}" height="{drawing.height * _PX_PER_MM:.1f}"'
    return (
        f'<figure><figcaption><span class="brief">{brief}</span> '
        f'<span class="about">{said}. {about}</span></figcaption>'
        f'<div class="sight" id="sight-{connector.ref}" tabindex="0" role="group" '
        f'aria-label="{connector.ref}, drawing: scroll it with the arrow keys">'
        f'<svg xmlns="{_SVG}" {size} viewBox="0 0 {drawing.width:g} {drawing.height:g}" font-family="{escape(FONTS)}" '
        f'role="img" aria-label="{said}. {about}">{"".join(elements(drawing.items))}</svg></div></figure>'
    )


def _swatch(name: str, tone: str, on_tone: str, letter: str) -> str:
    return (
        f'<li><svg xmlns="{_SVG}" width="18" height="18" viewBox="0 0 18 18" aria-hidden="true"><rect x="1" y="1" '
        f'width="16" height="16" fill="{tone}" stroke="#000000"/><text x="9" y="13" font-size="11" '
        f'text-anchor="middle" fill="{on_tone}">{letter}</text></svg> {_t(name)}</li>'
    )


def _wire(wire: Wire) -> str:
    what = "lead" if wire.kind == "lead" else "wire"
    late = " data-late" if wire.kind == "lead" else ""
    remark = "; ".join(x for x in ("link at the same connector" if wire.kind == "link" else "", wire.remark) if x)
    small = f'<span class="small">{_t(remark)}</span>' if remark else ""
    return (
        f'<tr><td><input type="checkbox" data-tick="{wire.number}"{late} aria-label="{what} {wire.number} is '
        'soldered"></td>'
        f'<td><button type="button" aria-pressed="false" aria-label="show {what} {wire.number} on the drawings">'
        f"{wire.number}</button></td><td>{_point(wire.start)}</td><td>{_point(wire.stop)}</td>"
        f"<td>{_t(wire.signal)}{small}</td></tr>\n"
    )


def _parts(adapter: Adapter) -> str:
    """Each part as a step, with its leads below it: for when the readings with power off are right."""
    rows = []
    for f in fitted(adapter):
        ref = f.part.ref
        small = "".join(
            f'<span class="small">{_t(text)}</span>' for text in (*f.joined, f.why, f.part.footprint) if text
        )
        said = f"{f.part.fit[:1].upper()}{f.part.fit[1:]}"
        fit = f"<strong>{_t(_sentence(said))}</strong> " if said else ""
        rows.append(
            f'<tr><td><input type="checkbox" data-tick="{_t(ref)}" data-late aria-label="{_t(ref)} is fitted"></td>'
            f'<td><button type="button" aria-pressed="false" aria-label="show {_t(ref)} on the drawings">{_t(ref)}'
            f'</button></td><td colspan="3"><span class="point">{_t(f.value)}</span> {_t(f.what)}. {fit}{small}</td>'
            "</tr>\n"
        )
        rows += [_wire(lead) for lead in f.leads]
    head = "".join(f'<th scope="col">{word}</th>' for word in ("done", "part, lead", "from", "to", "signal"))
    return (
        '<section aria-labelledby="h-parts"><h2 id="h-parts">Parts, after the readings</h2>'
        f'<p class="hint">{_t(WHEN)} Tap a part or a lead, and the contacts light up.</p>'
        '<p class="power-warning" id="parts-warning"></p>'
        f'<table class="wires"><thead><tr>{head}</tr></thead><tbody>\n{"".join(rows)}</tbody></table>'
        f'<p class="hint">{_t(AFTER)}</p></section>\n'
    )


def _point(point: Point) -> str:
    return f'<span class="point">{point.ref} {_t(point.label)}</span><span class="small pad">pad {_t(point.pad)}</span>'


def _loose(adapter: Adapter) -> str:
    loose = unwired(adapter)
    if not loose:
        return "<p>Every contact is wired.</p>"
    remedies: dict[tuple[str, str], str] = {
        (u.end, label): remedy_said(u) for u in adapter.unmapped for label in u.contacts
    }
    rows = []
    for net, p in loose:
        remedy = remedies.get((p.end, p.label), "")
        said = "".join(f'<span class="small">{_t(text)}</span>' for text in (net.remark, remedy) if text)
        rows.append(f"<tr><td>{_point(p)}</td><td>{_t(net.name)}</td><td>{_t(net.state)}{said}</td></tr>\n")
    head = '<tr><th scope="col">contact</th><th scope="col">net</th><th scope="col">state and why</th></tr>'
    return f'<table class="loose"><thead>{head}</thead><tbody>\n{"".join(rows)}</tbody></table>'


def _readings(steps: Sequence[tuple[int, Row]]) -> Iterable[str]:
    for kind, run in groupby(steps, key=lambda step: step[1].kind):
        yield f"<h3>{_KINDS[kind]}</h3>{_step_table(run)}"


def _step_table(steps: Iterable[tuple[int, Row]]) -> str:
    return f"<table><thead><tr>{_STEP_HEAD}</tr></thead><tbody>\n{''.join(map(_step, steps))}</tbody></table>"


def _step(numbered: tuple[int, Row]) -> str:
    step, row = numbered
    to = f"over {row.over}" if row.over else f"to {row.to or 'any return'}"
    note = f'<span class="small">{_t(row.note)}</span>' if row.note else ""
    return (
        f'<tr><td>{step}</td><td><span class="point">{_t(str(row.start))}</span> {_t(to)}{note}</td>'
        f'<td>{_t(row.expected)}</td><td><input type="text" data-step="{step}" autocomplete="off" autocapitalize="off" '
        f'spellcheck="false" aria-label="step {step}, {row.kind}, {_t(str(row.start))} {_t(to)}" '
        f'aria-describedby="v{step}"><output id="v{step}"></output></td></tr>\n'
    )


def _power(adapter: Adapter, steps: Sequence[tuple[int, Row]]) -> str:
    """Power on in a safe order: no card and the rails first, then the cheapest card, last the one that is meant."""
    works = adapter.coverage.works()
    kinds = f" Kinds of card that can work: {listed(works)}." if works else ""
    fit = AFTER if adapter.parts else "Only now fit the remedies, and look at each twice."
    return (
        '<section aria-labelledby="h-power"><h2 id="h-power">Power on</h2>'
        '<p class="power-warning" id="power-warning"></p><ol>'
        f"<li>Power off. Every reading above is right. {_t(fit)}</li>"
        "<li>Plug the adapter into the machine, no card in it. Power on, and take these volts, top to bottom. One is "
        "wrong: power off at once.</li></ol>"
        f'{_step_table(steps)}<ol start="3">'
        "<li>Power off. Wait until the rails read 0 V. Plug in the cheapest card that you have, one that you can lose."
        f"{_t(kinds)}</li>"
        "<li>Power on, and measure once more. One is wrong, or anything grows hot: power off.</li></ol>"
        f'{_again(steps)}<ol start="5">'
        "<li>Power off. Wait. Only now the card that the adapter is for.</li></ol></section>"
    )


def _again(steps: Iterable[tuple[int, Row]]) -> str:
    """The same volts with a card in; they are judged here and are no part of the readings file."""
    rows = "".join(
        f'<tr><td>{step}, with a card</td><td><span class="point">{_t(str(row.start))}</span> to '
        f"{_t(row.to or 'any return')}</td><td>{_t(row.expected)}</td>"
        f'<td><input type="text" data-again="{step}" autocomplete="off" autocapitalize="off" spellcheck="false" '
        f'aria-label="step {step} with a card, volts, {_t(str(row.start))} to {_t(row.to or "any return")}" '
        f'aria-describedby="w{step}"><output id="w{step}"></output></td></tr>\n'
        for step, row in steps
    )
    return f"<table><thead><tr>{_STEP_HEAD}</tr></thead><tbody>\n{rows}</tbody></table>"


# ------------------------------------------------------------------ the data


def _json(data: object) -> str:
    """JSON that can stand inside a script element: no sign in it ends the element or begins a comment."""
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _data(adapter: Adapter, plan: Plan, rows: Sequence[Row], all_wires: Sequence[Wire]) -> dict[str, Any]:
    refs = (adapter.host_connector.ref, adapter.card_connector.ref)
    ends = zip(refs, adapter_ends(adapter), strict=True)
    data: dict[str, Any] = {
        "wires": {
            w.number: {"from": f"{w.start.ref} {w.start.label}", "to": f"{w.stop.ref} {w.stop.label}", "signal": _v(w)}
            for w in all_wires
        },
        "rows": [_row(step, row, plan) for step, row in enumerate(rows, 1)],
        "form": list(csv.reader(io.StringIO(form_csv(rows), newline=""))),
        "column": COLUMNS.index("reading"),
        "nets": [
            {
                "name": visible(net.name),
                "contacts": [str(p) for p in net.contacts],
                "rail": net.is_rail,
                "back": net.is_return,
                "unused": net.unused,
                "key": net.key,
                "bridge": plan.bridges.get(index),
            }
            for index, net in enumerate(plan.nets)
        ],
        "labels": {ref: list(labels) for ref, labels in plan.labels.items()},
        "there": {ref: [str(p) for p in plan.there(ref)] for ref in plan.bodies},
        "joined_ohms": meter.JOINED_OHMS,
        "apart_ohms": APART_OHMS,
        "refused": [visible(why) for why in plan.refused],
    }
    if adapter.parts:
        some = fitted(adapter)
        data["parts"] = {f.part.ref: _part(f) for f in some}
        for lead in (lead for f in some for lead in f.leads):
            about = visible(lead_said(adapter, lead)).removeprefix("lead")
            data["wires"][lead.number]["about"] = f"Lead {lead.number}{about}"
    # Another plan, other ticks: nothing of an older adapter may seem done on this one.
    data["key"] = f"pinmap-bench-{hashlib.sha256(_json(data).encode()).hexdigest()[:32]}"
    data["places"] = {f"{ref} {p.label}": (p.x, p.y) for ref, drawing in ends for p in drawing.places}
    data["meter"] = _meter()
    return data


def _part(f: Fitted) -> dict[str, Any]:
    ends = [point for lead in f.leads for point in (lead.start, lead.stop) if point.end != "part"]
    return {
        "about": visible(f"{f.value}, {f.what}"),
        "contacts": list(dict.fromkeys(f"{point.ref} {point.label}" for point in ends)),
    }


def _v(wire: Wire) -> str:
    return visible(wire.signal)


def _row(step: int, row: Row, plan: Plan) -> dict[str, Any]:
    out: dict[str, Any] = {"step": step, "kind": row.kind, "start": str(row.start), "expected": visible(row.expected)}
    out["stop"] = str(row.stop) if row.stop else ""
    out["over"] = row.over
    if row.kind == "volts":
        span = plan.volts(row.start)
        out["low"], out["high"] = (span.low, span.high) if span else (None, None)
    return out


def _meter() -> dict[str, Any]:
    """The rules by which `meter` reads what a meter shows; its patterns mean the same in both languages."""
    return {
        "patterns": {
            "over": meter._OVER.pattern,
            "lone_one": meter._LONE_ONE.pattern,
            "number": meter._NUMBER.pattern,
            "letter_point": meter._LETTER_POINT.pattern,
            "thousands": meter._THOUSANDS.pattern,
            "ohm_unit": meter._OHM_UNIT.pattern,
            "volt_unit": meter._VOLT_UNIT.pattern,
        },
        "over": meter._OVER_WORDS,
        "silent": meter._SILENT,
        "beeps": meter._BEEPS,
        "judged": meter._JUDGED,
        "ohm_factors": meter._OHM_FACTORS,
        "volt_factors": meter._VOLT_FACTORS,
        "ohms_like": meter._OHMS_LIKE,
        "volts_like": meter._VOLTS_LIKE,
        "least": meter.LEAST_OHMS,
        "most": meter.MAX_LETTERS,
    }
