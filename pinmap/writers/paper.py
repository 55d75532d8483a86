"""The plan on paper: one PDF to build by and to measure by, typeset from data by the template `paper.typ`.

Only the fonts inside the package `typst` are used, never those of the system, and the document bears no date that the
user did not give: the same input gives the same bytes on every machine. A character that these fonts do not have is
printed as its number, like [U+4E2D].
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache, partial
from math import ceil, hypot, isfinite
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from ..adapter import Adapter, AdapterConnector, Unmapped
from ..bench import form
from ..bench.plan import HOW_TO_SWEEP, POWER_ON, Plan, of_adapter
from ..drawing import Drawing, connector, legend, parts_at, strips
from ..errors import PinmapError
from ..model import Group, PinMap
from ..quantity import volts
from ..readings import Row
from ..sheets import Paper
from ..text import listed, quoted, ranges, short
from ..wiring import Wire, unwired, wires
from . import budget
from .fitted import AFTER, WHEN, fitted, lead_said, remedy_said, ribbon_said
from .glyphs import fonts, in_map, naming
from .svg import svg
from .tables import CAUTIONS, describe

#: Between the margins, in mm: what a drawing may take. The template has the margins and the sizes of the heads.
_ROOM: dict[Paper, tuple[float, float]] = {"A4": (178.0, 222.0), "Letter": (183.9, 204.0)}
_TYPST_NAMES: dict[Paper, str] = {"A4": "a4", "Letter": "us-letter"}
_BESIDE = 6.0  # mm between two drawings side by side
_CAPTION = 70.0  # mm that the words above a drawing may take, however small it is

#: The wire suggested for each group: the ten colours in which hook-up wire and ribbon are sold. Common practice for
#: returns and supplies, for the others a choice; no source.
COLOURS: dict[Group, str] = {
    "return": "black",
    "supply": "red",
    "data": "blue",
    "address": "yellow",
    "command": "green",
    "control": "orange",
    "timing": "violet",
    "interrupt": "white",
    "DMA": "grey",
    "own": "brown",
}
_POWER: tuple[Group, ...] = ("return", "supply")

#: Added to a link between two contacts of a connector for its two ends, in mm. Common practice, no source.
_LINK_ENDS_MM = 10.0
_MAX_LENGTH_MM = 10_000.0

_VERDICTS = {
    "build": "Build.",
    "build with care": "Build with care: first read what was found.",
    "do not build": "DO NOT BUILD. Read what was found.",
}


def pdf(adapter: Adapter, *, paper: str = "A4", date: str = "", length_mm: float | None = None) -> bytes:
    """Return the wiring and the measuring of an adapter as a PDF.

    `paper`: `A4` or `Letter`. `date` is printed as it stands; "" for none. `length_mm`: the length of a wire from
    one connector to the other, for the cut list; None leaves it out. Raises `PinmapError` for another paper and for a
    length that no wire has.
    """
    size = next((p for p in _ROOM if p == paper), None)
    if size is None:
        raise PinmapError(f"the paper must be {listed(_ROOM, 'or')}, not {quoted(str(paper))}")
    if length_mm is not None and not (isfinite(length_mm) and 0 < length_mm <= _MAX_LENGTH_MM):
        raise PinmapError(f"a wire must be longer than 0 mm and at most {_MAX_LENGTH_MM:g} mm, not {length_mm:g} mm")
    content = {
        "paper": _TYPST_NAMES[size],
        "title": adapter.title,
        "date": date,
        **_front(adapter),
        **_parts(adapter),
        **_wiring(adapter, length_mm),
        **_budget(adapter),
        **_bench(adapter),
    }
    names = [text for end in (adapter.host, adapter.card) for c in end.contacts for text in (c.name, c.option)]
    named = naming((*_texts(content), *names))

    content = _each(content, lambda text: _breakable(named(text)))
    content["plain_title"] = named(adapter.title)
    content["head"] = _breakable(short(named(adapter.title), 90))
    content |= _drawings(adapter, size, named)
    return _typeset(content)


# ------------------------------------------------------------------ typesetting


@cache
def _template() -> bytes:
    return Path(__file__).with_name("paper.typ").read_bytes()


def _typeset(content: dict[str, Any]) -> bytes:
    import typst

    return typst.compile(
        _template(),
        format="pdf",
        font_paths=fonts(),
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(content)},
        pdf_tags=False,  # they make the file three times as large; the same table to be read aloud is wiring.md
    )


def _texts(content: Any) -> Iterable[str]:
    if isinstance(content, str):
        yield content
    elif isinstance(content, dict):
        for value in content.values():
            yield from _texts(value)
    elif isinstance(content, list | tuple):
        for value in content:
            yield from _texts(value)


def _each(content: Any, change: Callable[[str], str]) -> Any:
    """The same data with every text changed."""
    if isinstance(content, str):
        return change(content)
    if isinstance(content, dict):
        return {key: _each(value, change) for key, value in content.items()}
    if isinstance(content, list | tuple):
        return [_each(value, change) for value in content]
    return content


_LONG_WORD = re.compile(r"\S{13,}")
_PLAIN_WORD = re.compile(r"\W?[A-Za-z]?[a-z]+([-/][a-z]+)?\W{0,2}")
_MOST_PLAIN = 20  # letters that fit every column that holds sentences


def _breakable(text: str) -> str:
    """Let a line end inside words too long for a cell: with spaces of no width, which are not seen.

    Plain words of a sentence stay whole.
    """

    def broken(match: re.Match[str]) -> str:
        word = match[0]
        if len(word) <= _MOST_PLAIN and _PLAIN_WORD.fullmatch(word):
            return word
        return "\u200b".join(word[n : n + 6] for n in range(0, len(word), 6))

    return _LONG_WORD.sub(broken, text)


# ------------------------------------------------------------------ the first page


def _front(adapter: Adapter) -> dict[str, Any]:
    grave: list[dict[str, str]] = []
    mild: list[dict[str, str]] = []
    for f in adapter.findings:
        if f.code == "signal-absent" and f.grade in ("caution", "note"):
            continue  # it stands in full among what is not mapped
        line = {
            "grade": f.grade,
            "text": f"{_sentences(f.message, begins=False)} {_sentences(f.advice)}".strip(),
            "place": str(f.place) if f.place.file else "",
        }
        (grave if f.grade in ("danger", "fault") else mild).append(line)
    words = {
        "card": "The card has these, the slot does not bring them",
        "host": "The slot brings these, the card has no use for them",
    }
    lost = []
    for end, heading in words.items():
        alike: dict[tuple[str, str], list[Unmapped]] = {}
        for u in adapter.unmapped:
            if u.end == end:
                alike.setdefault((_sentences(u.reason, u.effect), _sentences(remedy_said(u))), []).append(u)
        rows = [
            [ranges([u.signal for u in some]), ranges([label for u in some for label in u.contacts]), means, remedy]
            for (means, remedy), some in alike.items()
        ]
        if rows:
            lost.append({"heading": heading, "rows": rows})
    return {
        "verdict": adapter.verdict,
        "verdict_line": _VERDICTS[adapter.verdict],
        "refused": adapter.verdict == "do not build",
        "ends": [
            f"{describe(adapter.host_connector, adapter.host)}.",
            f"{describe(adapter.card_connector, adapter.card)}.",
            *filter(None, [ribbon_said(adapter)]),
        ],
        "fitted": f"Options fitted: {listed(adapter.fitted)}." if adapter.fitted else "",
        "cautions": CAUTIONS,
        "grave": grave,
        "mild": mild,
        "lost": lost,
    }


def _sentences(*parts: str, begins: bool = True) -> str:
    """Sentences from what is said; what may begin with a label keeps its first letter, for a1 is not A1."""
    out = []
    for part in parts:
        if part:
            start = f"{part[0].upper()}{part[1:]}" if begins else part
            out.append(start if start.endswith((".", "!", "?", "…")) else f"{start}.")
    return " ".join(out)


# ------------------------------------------------------------------ the drawings

_CUTS = (None, 24, 12, 6)  # letters of a name in a drawing: as many as leave it within a page


def _drawings(adapter: Adapter, paper: Paper, named: Callable[[str], str]) -> dict[str, Any]:
    room, tall = _ROOM[paper]
    pieces: list[dict[str, Any]] = []
    parts = parts_at(adapter)
    cut = False
    for end, pin_map in ((adapter.host_connector, adapter.host), (adapter.card_connector, adapter.card)):
        drawn, shortened = _fitting(end, pin_map, room, tall, named, parts[end.ref])
        cut |= shortened
        for number, drawing in enumerate(drawn, 1):
            part = f", part {number} of {len(drawn)}" if len(drawn) > 1 else ""
            pieces.append(
                {
                    "heading": f"{end.ref}{part}",
                    "about": drawing.about,
                    "svg": svg(drawing, end.ref),
                    "width": drawing.width,
                    "height": drawing.height,
                }
            )
        if not drawn:
            about = "Too large to be drawn at true scale on this paper."
            pieces.append({"heading": end.ref, "about": about, "svg": "", "width": room, "height": 0})
    for piece in pieces:
        piece["column"] = max(piece["width"], _CAPTION)
    beside = len(pieces) == 2 and sum(p["column"] for p in pieces) + _BESIDE <= room
    return {
        "drawings": [pieces] if beside else [[piece] for piece in pieces],
        "cut_names": cut,
        "legend": [[letter, group] for group, _, _, letter in legend()],
    }


def _fitting(
    end: AdapterConnector,
    pin_map: PinMap,
    room: float,
    tall: float,
    named: Callable[[str], str],
    parts: Mapping[str, str],
) -> tuple[list[Drawing], bool]:
    """The drawings of one end that fit the page, and whether names were cut for it; none where nothing fits."""
    whole = replace(pin_map, body=end.body)
    windows = strips(whole, room)
    for most in _CUTS:
        shown = in_map(whole, partial(_cut, named, most))
        drawn = [connector(shown, "solder", window, parts) for window in windows]
        if all(d.width <= room and d.height <= tall for d in drawn):
            return drawn, most is not None
    return [], False


def _cut(named: Callable[[str], str], most: int | None, text: str) -> str:
    return named(text) if most is None else short(named(text), most)


# ------------------------------------------------------------------ the parts and the budget


def _parts(adapter: Adapter) -> dict[str, Any]:
    rows: list[list[Any]] = []
    first: dict[tuple[str, str], str] = {}  # said once: ten resistors of one value have one reason
    for f in fitted(adapter):
        ref = f.part.ref
        alike = first.setdefault((f.value, f.why), ref)
        why = _sentences(f.why) if alike == ref else f"This value as for {alike}."
        rows.append([ref, f.value, f.what, f.part.footprint, f.joined, _sentences(f.part.fit), why if f.why else ""])
    return {"parts": rows, "parts_when": WHEN, "parts_after": AFTER}


def _budget(adapter: Adapter) -> dict[str, Any]:
    if adapter.budget is None:
        return {"budget": [], "assumed": []}
    made = [
        {"name": t.name, "said": [x for x in (*t.below, t.said) if x], "columns": t.columns, "rows": t.rows}
        for t in budget.tables(adapter.budget)
    ]
    return {"budget": made, "assumed": adapter.budget.assumed}


# ------------------------------------------------------------------ the wires


def _wiring(adapter: Adapter, length_mm: float | None) -> dict[str, Any]:
    every = wires(adapter)
    soldered = [w for w in every if w.kind != "lead"]
    groups = _groups(adapter, soldered)
    sections = [
        {"title": title, "groups": [g for g in groups if (g["name"] in _POWER) == power]}
        for title, power in (("Supplies and returns", True), ("Signals", False))
    ]
    leads = [w for w in every if w.kind == "lead"]
    with_leads = [{"title": "Leads of the parts, after all readings", "groups": _groups(adapter, leads)}]
    remedies: dict[tuple[str, str], str] = {
        (u.end, label): _short_remedy(u) for u in adapter.unmapped for label in u.contacts
    }
    loose = [
        [f"{p.ref} {p.label}", p.pad, net.name, net.state, net.remark, remedies.get((p.end, p.label), "")]
        for net, p in unwired(adapter)
    ]
    across, links = (Counter(w.group for w in every if w.kind == kind) for kind in ("wire", "link"))
    colours = [
        [group, colour, str(across[group]), str(links[group])]
        for group, colour in COLOURS.items()
        if across[group] or links[group]
    ]
    return {
        "sections": sections,
        "leads": with_leads if leads else [],
        "loose": loose,
        "colours": colours,
        "cuts": _cuts(adapter, soldered, length_mm),
    }


def _short_remedy(unmapped: Unmapped) -> str:
    """What helps, without the reason, which stands among what is not mapped."""
    remedy = unmapped.remedy
    return "no remedy" if remedy.kind == "none" else remedy_said(unmapped, replace(remedy, why=""))


def _groups(adapter: Adapter, some: Sequence[Wire]) -> list[dict[str, Any]]:
    return [_group(adapter, some, group) for group in COLOURS if any(w.group == group for w in some)]


def _group(adapter: Adapter, every: Sequence[Wire], group: Group) -> dict[str, Any]:
    rows = [
        [
            str(w.number),
            f"{w.start.ref} {w.start.label}",
            w.start.pad,
            f"{w.stop.ref} {w.stop.label}",
            w.stop.pad,
            w.signal,
            _sentences(f"link at {w.start.ref}" if w.kind == "link" else lead_said(adapter, w), w.remark),
        ]
        for w in every
        if w.group == group
    ]
    what = "lead" if any(w.kind == "lead" for w in every) else "wire"
    numbers = f"{what}{'s' if len(rows) > 1 else ''} {ranges([row[0] for row in rows])}"
    return {"name": group, "numbers": numbers, "colour": COLOURS[group], "rows": rows}


def _cuts(adapter: Adapter, every: Sequence[Wire], length_mm: float | None) -> list[list[str]]:
    """The pieces to cut, as colour, length and number: wires of the length given, links as long as their contacts ask.

    A link is as long as its contacts are apart, with its ends, up to the next 5 mm.
    """
    if length_mm is None:
        return []
    ends = {"host": adapter.host_connector.body, "card": adapter.card_connector.body}
    pieces: Counter[tuple[Group, str, float]] = Counter()
    for wire in every:
        length = length_mm
        if wire.kind == "link":
            spots = ends[wire.start.end].spots
            a, b = spots[wire.start.label], spots[wire.stop.label]
            length = ceil((hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm) + _LINK_ENDS_MM) / 5 - 1e-9) * 5.0
        pieces[wire.group, wire.kind, length] += 1
    return [
        [COLOURS[group], group, kind, f"{length:g} mm × {pieces[group, kind, length]}"]
        for group, kind, length in sorted(pieces, key=lambda p: ([*COLOURS].index(p[0]), p[1] != "wire", p[2]))
    ]


# ------------------------------------------------------------------ the measuring


def _bench(adapter: Adapter) -> dict[str, Any]:
    """The rows of the readings form, kind by kind, each with the number of its step there."""
    plan = of_adapter(adapter)
    out: dict[str, Any] = {kind: [] for kind in ("resistance", "sweep", "continuity", "isolation", "volts")}
    out |= {"off": "", "on": "", "how_to_sweep": f"{HOW_TO_SWEEP[0].upper()}{HOW_TO_SWEEP[1:]}."}
    for step, row in enumerate(form(adapter), 1):
        note = row.note
        lead = "on" if row.kind == "volts" else "off"
        if not out[lead]:  # said at the first row, true for all that follow
            said, _, note = note.partition("; ")
            if lead == "on":  # that the parts go in stands as the first step
                said = POWER_ON["adapter"]
            out[lead] = f"{said[0].upper()}{said[1:]}."
        note = note.removeprefix(f"{HOW_TO_SWEEP}; ")
        cells = [str(step), str(row.start), row.to, *_expected(plan, row), note]
        out[row.kind].append(cells)
    out["rules"] = list(dict.fromkeys(rule for row in out["volts"] if (rule := row[6])))
    works = adapter.coverage.works()
    out["kinds"] = f"Kinds of card that can work: {listed(works)}." if works else ""
    return out


def _expected(plan: Plan, row: Row) -> tuple[str, ...]:
    """What a row expects; with volts the value, the tolerance, the limits, and the rule with its source."""
    if row.kind != "volts":
        return (row.expected,)
    span = plan.volts(row.start)
    if span is None:
        return row.expected, "", "", ""
    return volts(round((span.low + span.high) / 2, 6)), span.rule.partition(":")[0], row.expected, f"{span.rule}."
