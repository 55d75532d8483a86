"""The results as JSON, format 1. Keys and meaning change only with the format number."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ..adapter import Adapter
from ..coverage import Coverage
from ..findings import Finding, verdict
from ..model import PinMap
from .budget import as_json as budget_as_json

FORMAT = 1


def dump(value: object, *, ascii_only: bool = False) -> str:
    """Write JSON the same way every time: keys as given, two spaces, a line end; only ASCII where asked for."""
    return json.dumps(value, ensure_ascii=ascii_only, indent=2) + "\n"


def finding(f: Finding) -> dict[str, Any]:
    """One finding."""
    return {
        "code": f.code,
        "grade": f.grade,
        "message": f.message,
        "advice": f.advice,
        "file": f.place.file,
        "line": f.place.line,
        "column": f.place.column,
        "contacts": list(f.contacts),
        "signals": list(f.signals),
    }


def checked(results: Iterable[tuple[str, PinMap | None, Sequence[Finding], Coverage | None]]) -> dict[str, Any]:
    """The result of `check`: for each file the map (if one could be built), its findings and its coverage."""
    return {
        "format": FORMAT,
        "maps": [
            {
                "file": file,
                "title": m.title if m else None,
                "bus": m.bus.name if m else None,
                "end": m.end if m else None,
                "verdict": verdict(findings),
                "findings": [finding(f) for f in findings],
                "coverage": coverage_of(cover) if cover else None,
            }
            for file, m, findings, cover in results
        ],
    }


def coverage_of(cover: Coverage) -> dict[str, Any]:
    """Groups and kinds of card."""
    return {
        "fitted": list(cover.fitted),
        "groups": [
            {
                "group": g.group,
                "present": list(g.present),
                "optional": [{"signal": n, "option": o} for n, o in g.optional],
                "absent": list(g.absent),
            }
            for g in cover.groups
        ],
        "kinds": [
            {
                "kind": k.kind,
                "answer": k.answer,
                "missing": list(k.missing),
                "missing_one_of": [list(g) for g in k.missing_one_of],
                "parts": [{"signal": n, "remedy": str(r)} for n, r in k.parts],
                "guessed": list(k.guessed),
                "without": list(k.lacking_help),
            }
            for k in cover.kinds
        ],
        "with_options": [{"option": o, "kinds": list(kinds)} for o, kinds in cover.gained],
    }


def adapted(adapter: Adapter, files: Sequence[str]) -> dict[str, Any]:
    """The result of `adapt`; planned from an adapter file it ends in parts and budget."""
    designed = adapter.design is not None or bool(adapter.parts) or adapter.budget is not None
    out: dict[str, Any] = {
        "format": FORMAT,
        "host": adapter.host.name,
        "card": adapter.card.name,
        "verdict": adapter.verdict,
        "nets": [
            {
                "name": n.name,
                "signal": n.signal,
                "state": n.state,
                "host": [c.label for c in n.host],
                "card": [c.label for c in n.card],
                "parts": [list(p) for p in n.parts],
            }
            for n in adapter.nets
        ],
        "unmapped": [
            {"signal": u.signal, "end": u.end, "reason": u.reason, "effect": u.effect, "remedy": str(u.remedy)}
            | ({"parts": list(u.parts)} if designed else {})
            for u in adapter.unmapped
        ],
        "findings": [finding(f) for f in adapter.findings],
        "files": list(files),
    }
    if designed:
        out["parts"] = [
            {
                "ref": p.ref,
                "kind": p.kind,
                "value": p.value,
                "footprint": p.footprint,
                "purpose": p.purpose,
                "pins": [list(pin) for pin in p.pins],
                "serves": list(p.serves),
                "why": p.why,
                "source": p.source,
                "fit": p.fit,
            }
            for p in adapter.parts
        ]
        out["budget"] = budget_as_json(adapter.budget, adapter) if adapter.budget else None
    return out


def not_adapted(host: str, card: str, findings: Sequence[Finding]) -> dict[str, Any]:
    """The result of `adapt` where a map is too broken to plan with."""
    return {
        "format": FORMAT,
        "host": host,
        "card": card,
        "verdict": "do not build",
        "nets": [],
        "unmapped": [],
        "findings": [finding(f) for f in findings],
        "files": [],
    }


def shown(pin_map: PinMap) -> dict[str, Any]:
    """The result of `show`: every contact with its place, pad and line."""
    body = pin_map.body
    return {
        "format": FORMAT,
        "name": pin_map.name,
        "title": pin_map.title,
        "bus": pin_map.bus.name,
        "end": pin_map.end,
        "form": body.form,
        "footprint": body.footprint,
        "contacts": [
            {
                "label": c.label,
                "pad": body.pad_of[c.label],
                "x_mm": body.spots[c.label].x_mm,
                "y_mm": body.spots[c.label].y_mm,
                "role": c.role,
                "signal": c.name if c.signal else None,
                "written": c.written,
                "group": c.signal.group if c.signal else None,
                "option": c.option or None,
                "seen": c.seen,
                "note": c.note,
            }
            for c in pin_map.contacts
        ],
    }


def listed(rows: Sequence[Mapping[str, object]], designs: Sequence[Mapping[str, str]]) -> dict[str, Any]:
    """The result of `list`."""
    return {"format": FORMAT, "connectors": [dict(row) for row in rows], "adapters": [dict(row) for row in designs]}
