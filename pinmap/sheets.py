"""Drawings laid out on sheets of paper at true scale, with what a person needs to read and to check them."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from .adapter import Adapter
from .drawing import (
    ADVANCE,
    GROUP_MARKS,
    NO_PARTS,
    Box,
    Drawing,
    Item,
    Stroke,
    View,
    Words,
    adapter_ends,
    connector,
    facing,
    legend,
    parts_at,
    strips,
)
from .model import PinMap
from .text import visible
from .wiring import wires

Paper = Literal["A4", "Letter"]
#: Width and height in mm. ISO 216, and ANSI/ASME Y14.1 size A (from memory).
PAPERS: dict[Paper, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
MARGIN_MM = 10.0
BAR_MM = 50.0

_TITLE, _SENTENCE, _SMALL = 4.0, 2.6, 2.2
_ROOM = 4.0  # between two drawings; two of 2 × 32 contacts still fit beside each other on A4
_APART = 24.0  # between the two ends of an adapter, where the wires are named
_CAPTION = 56.0  # what the sentence above a drawing takes, however small it is
_TITLE_LINES = 3  # a title longer than that is set smaller


class Sheet(Struct, frozen=True):
    """One page or picture: `width` × `height` mm, its `items`, and the drawings on it with where they lie."""

    width: float
    height: float
    items: tuple[Item, ...]
    drawings: tuple[tuple[Drawing, float, float], ...]


def picture(pin_map: PinMap, views: Sequence[View]) -> Sheet:
    """Lay the views of a connector side by side on a sheet as large as that needs."""
    drawn = [connector(pin_map, view) for view in views]
    width = sum(_taken(d) for d in drawn) + _ROOM * (len(drawn) - 1)
    width = max(width, _legend_width(), BAR_MM + 40)
    return _sheets(_named(pin_map), [drawn], width + 2 * MARGIN_MM, None)[0]


def pages(pin_map: PinMap, views: Sequence[View], paper: Paper) -> list[Sheet]:
    """Lay the views of a connector on pages at true scale: side by side or below each other, long ones in strips."""
    width, height = PAPERS[paper]
    room = width - 2 * MARGIN_MM
    drawn = [d for view in views for d in _strips(pin_map, view, room)]
    rows: list[list[Drawing]] = []
    for d in drawn:
        if rows and sum(_taken(x) + _ROOM for x in rows[-1]) + _taken(d) <= room:
            rows[-1].append(d)
        else:
            rows.append([d])
    return _sheets(_named(pin_map), rows, width, height)


def _strips(
    pin_map: PinMap, view: View, room: float, ref: str = "", parts: Mapping[str, str] = NO_PARTS
) -> list[Drawing]:
    """A connector as a drawing, or as several that fit the room, each with what of it is on it."""
    windows = strips(pin_map, room)
    out = []
    for number, window in enumerate(windows, 1):
        d = connector(pin_map, view, window, parts)
        part = f"Part {number} of {len(windows)}, contacts {_reach(pin_map, d)}. " if len(windows) > 1 else ""
        out.append(replace(d, about=f"{f'{ref}. ' if ref else ''}{part}{d.about}"))
    return out


def _reach(pin_map: PinMap, drawn: Drawing) -> str:
    """The contacts of a strip, row by row."""
    rows: dict[float, list[str]] = {}
    for place in drawn.places:
        rows.setdefault(place.y, []).append(place.label)
    order = list(pin_map.body.labels)
    ends = [sorted(labels, key=order.index) for labels in rows.values()]
    return ", ".join(f"{row[0]} to {row[-1]}" for row in sorted(ends, key=lambda row: order.index(row[0])))


def adapter_pages(adapter: Adapter, view: View, paper: Paper | None) -> list[Sheet]:
    """Lay J1 above J2, as they lie on the bench, with the wires that join supplies and returns drawn between them.

    `paper` None: one sheet as large as that needs. Ends too long for the paper come in strips, without the wires.
    """
    ends = [
        replace(d, about=f"{end.ref}. {d.about}")
        for d, end in zip(adapter_ends(adapter, view), (adapter.host_connector, adapter.card_connector), strict=True)
    ]
    titles = [f"{c.ref}: {c.body.form}" for c in (adapter.host_connector, adapter.card_connector)]
    verdict = {"build": "", "build with care": "Build with care: read first what was found."}.get(
        adapter.verdict, "DO NOT BUILD: see what was found."
    )
    width, height = PAPERS[paper] if paper else (max(d.width for d in ends) + 2 * MARGIN_MM, None)
    room = width - 2 * MARGIN_MM
    if any(d.width > room for d in ends):
        refs = (adapter.host_connector.ref, adapter.card_connector.ref)
        parts = parts_at(adapter)
        rows = [
            [d]
            for pin_map, ref in zip(facing(adapter), refs, strict=True)
            for d in _strips(pin_map, view, room, ref, parts[ref])
        ]
        said = "too wide for the paper: in parts, and without the wires"
        return _sheets((adapter.title, verdict, said), rows, width, height)
    said = f"above {titles[0]}, below {titles[1]}; lines: the wires of returns and supplies, with their numbers"
    if paper is None:
        width = max(width, _legend_width() + 2 * MARGIN_MM, len(said) * ADVANCE * _SENTENCE + 2 * MARGIN_MM)
    (sheet, *more) = _sheets((adapter.title, verdict, said), [[d] for d in ends], width, height, apart=_APART)
    if more:  # each on a page of its own
        return [sheet, *more]
    at = [{p.label: (p.x + x, p.y + y) for p in d.places} for d, x, y in sheet.drawings]
    gap = (sheet.drawings[0][2] + ends[0].height, sheet.drawings[1][2])
    lines: list[Item] = []
    numbers: list[Words] = []
    for w in wires(adapter):
        if w.kind != "wire" or w.group not in ("return", "supply"):
            continue
        a, b = at[0][w.start.label], at[1][w.stop.label]
        back = w.group == "return"
        lines.append(Stroke((a, b), line=GROUP_MARKS[w.group][0], line_mm=0.35 if back else 0.5, dashed=back))
        numbers += _numbered(a, b, str(w.number) if back else f"{w.number} {visible(w.signal)}", gap, numbers)
    return [replace(sheet, items=(*lines, *sheet.items, *numbers))]


def _numbered(
    a: tuple[float, float], b: tuple[float, float], said: str, gap: tuple[float, float], others: Sequence[Words]
) -> list[Words]:
    """What a line from `a` to `b` is called, at both sides of the gap between the ends, clear of other lines' names."""
    out: list[Words] = []
    steps = [0.6 + 2.1 * n for n in range(int((gap[1] - gap[0]) / 4.2))]
    for heights in ([gap[0] + 1.9 + step for step in steps], [gap[1] - step for step in steps]):
        made = []
        for y in heights:
            x = a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1])
            made.append(Words(round(x, 4), round(y, 4), said, 1.9, "middle", bold=True, rim=True))
        free = (w for w in made if not any(_overlap(w, other) for other in (*others, *out)))
        out.append(next(free, made[0]))
    return out


def _overlap(one: Words, other: Words) -> bool:
    """Whether two centred texts of one size touch."""
    return abs(one.y - other.y) < one.size and (
        abs(one.x - other.x) < (len(one.text) + len(other.text)) * ADVANCE * one.size / 2
    )


def _taken(drawn: Drawing) -> float:
    """The width that a drawing takes, with the sentence above it."""
    return max(drawn.width, _CAPTION)


def _sheets(
    heading: tuple[str, ...],
    rows: Sequence[Sequence[Drawing]],
    width: float,
    height: float | None,
    *,
    apart: float = 0.0,
) -> list[Sheet]:
    """Put rows of drawings below each other, on a new sheet where one is full; None: as high as need be.

    The sentence on a drawing stands above it. With `apart` there are so many mm between two rows, and the sentence on
    the last one stands below it: nothing but wires lies between them.
    """
    head, top = _heading(heading, width)
    key, key_height = _legend(width)
    foot = key_height + 12
    out: list[Sheet] = []
    placed: list[tuple[Drawing, float, float]] = []
    items: list[Item] = []
    y = top

    def finish() -> None:
        whole = height if height is not None else y + foot + MARGIN_MM
        base = whole - MARGIN_MM - foot
        tail = [*_moved(key, MARGIN_MM, base), *_bar(MARGIN_MM, whole - MARGIN_MM - 6)]
        out.append(Sheet(round(width, 4), round(whole, 4), tuple(head + items + tail), tuple(placed)))

    for n_row, row in enumerate(rows, 1):
        said = [_wrapped(d.about, _taken(d)) for d in row]
        words = max(len(lines) for lines in said) * (_SENTENCE + 0.8) + 1.2
        below = bool(apart) and n_row == len(rows)
        tall = max(d.height for d in row) + words + 1
        y += apart if placed else 0
        if height is not None and placed and y + tall > height - MARGIN_MM - foot:
            finish()
            placed, items, y = [], [], top
        x = MARGIN_MM
        for d, lines in zip(row, said, strict=True):
            at = y + d.height if below else y
            for n, line in enumerate(lines):
                items.append(Words(x, round(at + _SENTENCE + n * (_SENTENCE + 0.8), 4), line, _SENTENCE, rim=True))
            dy = y if below else y + words
            placed.append((d, round(x, 4), round(dy, 4)))
            items += _moved(d.items, x, dy)
            x += _taken(d) + _ROOM
        y += tall
    finish()
    return out


def _wrapped(text: str, width: float) -> list[str]:
    """Break a sentence into lines as wide as its drawing."""
    return textwrap.wrap(text, max(20, int(width / (ADVANCE * _SENTENCE))))


def _heading(lines: tuple[str, ...], width: float) -> tuple[list[Item], float]:
    """The title in as many lines as it needs, what is said below it, and where the drawings begin."""
    title, *said = (visible(line) for line in lines)
    room = width - 2 * MARGIN_MM
    most = int(room / (ADVANCE * _TITLE))
    wrapped = textwrap.wrap(title, most) or [""]
    size = _TITLE
    if len(wrapped) > _TITLE_LINES:  # never cut off
        size = _TITLE * _TITLE_LINES / len(wrapped)
        wrapped = textwrap.wrap(title, int(room / (ADVANCE * size)))
    items: list[Item] = []
    y = MARGIN_MM
    for line in wrapped:
        y += size + 1
        items.append(Words(MARGIN_MM, round(y, 4), line, round(size, 3), bold=True))
    y += 1
    for text in filter(None, said):
        for line in _wrapped(text, room):
            y += _SENTENCE + 1
            items.append(Words(MARGIN_MM, round(y, 4), line, _SENTENCE, bold=text.startswith("DO NOT")))
    return items, y + 4


def _named(pin_map: PinMap) -> tuple[str, str]:
    """The title of a connector, and its size in words."""
    body = pin_map.body
    rows = " + ".join(f"{s.rows} × {s.places}" for s in body.sections)
    return (
        pin_map.title,
        f"{body.form}, {rows} contacts, pitch {body.pitch_mm:g} mm, rows {body.row_pitch_mm:g} mm apart",
    )


def _bar(x: float, y: float) -> Iterable[Item]:
    """A bar to check the printer with."""
    yield Stroke(((x, y), (x + BAR_MM, y)), line_mm=0.3)
    for at in range(0, int(BAR_MM) + 1, 10):
        tall = 1.5 if at % 50 == 0 else 0.9
        yield Stroke(((x + at, y - tall), (x + at, y + tall)), line_mm=0.2)
    yield Words(x + BAR_MM + 2.5, y + 0.8, f"{BAR_MM:g} mm: print at 100 %, and measure this bar first", _SMALL)


def _legend_width() -> float:
    return sum(3.6 + len(name) * ADVANCE * _SMALL + 3 for name, *_ in legend()) / 2


def _legend(width: float) -> tuple[list[Item], float]:
    """What the marks mean, in lines that fit; and how high that is."""
    entries = [
        *legend(),
        ("open, connected to nothing", "#FFFFFF", "#000000", "–"),
        ("key, no contact", "#FFFFFF", "#000000", "×"),
        ("not known", "#FFFFFF", "#000000", "?"),
    ]
    out: list[Item] = []
    x = y = 0.0
    for name, tone, letter_tone, letter in entries:
        wide = 3.2 + len(name) * ADVANCE * _SMALL + 3.5
        if x and x + wide > width - 2 * MARGIN_MM:
            x, y = 0.0, y + 3.8
        out.append(Box(x, y, 2.4, 2.4, fill=tone, line_mm=0.15))
        out.append(Words(x + 1.2, y + 1.9, letter, 1.9, "middle", bold=True, tone=letter_tone))
        out.append(Words(x + 3.2, y + 1.95, name, _SMALL))
        x += wide
    out.append(
        Words(
            0.0,
            y + 6.4,
            "Framed: contact 1. “?” behind a name: it rests on a guess. Bold: supplies and returns.",
            _SMALL,
        )
    )
    return out, y + 8.5


def _moved(items: Iterable[Item], dx: float, dy: float) -> list[Item]:
    out: list[Item] = []
    for item in items:
        if isinstance(item, Stroke):
            points = tuple((round(x + dx, 4), round(y + dy, 4)) for x, y in item.points)
            out.append(replace(item, points=points))
        else:
            out.append(replace(item, x=round(item.x + dx, 4), y=round(item.y + dy, 4)))
    return out
