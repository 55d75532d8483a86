"""Drawings laid out on sheets of paper at true scale, with what a person needs to read and to check them."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from .adapter import Adapter
from .drawing import (
    ADVANCE,
    GROUP_MARKS,
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


class Sheet(Struct, frozen=True):
    """One page or picture: `width` × `height` mm, its `items`, and the drawings on it with where they lie."""

    width: float
    height: float
    items: tuple[Item, ...]
    drawings: tuple[tuple[Drawing, float, float], ...]


def picture(pin_map: PinMap, views: Sequence[View]) -> Sheet:
    """Lay the views of a connector side by side on a sheet as large as that needs."""
    drawn = [connector(pin_map, view) for view in views]
    width = sum(d.width for d in drawn) + _ROOM * (len(drawn) - 1)
    width = max(width, _legend_width(), BAR_MM + 40)
    return _sheets(_named(pin_map), [drawn], width + 2 * MARGIN_MM, None)[0]


def pages(pin_map: PinMap, views: Sequence[View], paper: Paper) -> list[Sheet]:
    """Lay the views of a connector on pages at true scale: side by side or below each other, long ones in strips."""
    width, height = PAPERS[paper]
    room = width - 2 * MARGIN_MM
    windows = strips(pin_map, room)
    drawn = [connector(pin_map, view, window) for view in views for window in windows]
    rows: list[list[Drawing]] = []
    for d in drawn:
        if rows and sum(x.width for x in rows[-1]) + _ROOM + d.width <= room:
            rows[-1].append(d)
        else:
            rows.append([d])
    return _sheets(_named(pin_map), rows, width, height)


def adapter_pages(adapter: Adapter, view: View, paper: Paper | None) -> list[Sheet]:
    """Lay J1 above J2, as they lie on the bench, with the wires that join supplies and returns drawn between them.

    `paper` None: one sheet as large as that needs. Ends too long for the paper come in strips, without the wires.
    """
    ends = adapter_ends(adapter, view)
    titles = [f"{c.ref}: {c.body.form}" for c in (adapter.host_connector, adapter.card_connector)]
    width, height = PAPERS[paper] if paper else (max(d.width for d in ends) + 2 * MARGIN_MM, None)
    room = width - 2 * MARGIN_MM
    if any(d.width > room for d in ends):
        rows = [[connector(pin_map, view, window)] for pin_map in facing(adapter) for window in strips(pin_map, room)]
        return _sheets((adapter.title, "J1 first, then J2"), rows, width, height)
    said = f"above {titles[0]}, below {titles[1]}; lines: the wires of returns and supplies"
    if paper is None:
        width = max(width, _legend_width() + 2 * MARGIN_MM, len(said) * ADVANCE * _SENTENCE + 2 * MARGIN_MM)
    (sheet, *more) = _sheets((adapter.title, said), [[d] for d in ends], width, height)
    if more:  # each on a page of its own
        return [sheet, *more]
    at = [{p.label: (p.x + x, p.y + y) for p in d.places} for d, x, y in sheet.drawings]
    lines = [
        Stroke(
            (at[0][w.start.label], at[1][w.stop.label]),
            line=GROUP_MARKS[w.group][0],
            line_mm=0.35 if w.group == "return" else 0.5,
            dashed=w.group == "return",
        )
        for w in wires(adapter)
        if w.kind == "wire" and w.group in ("return", "supply")
    ]
    return [replace(sheet, items=(*lines, *sheet.items))]


def _sheets(
    heading: tuple[str, str], rows: Sequence[Sequence[Drawing]], width: float, height: float | None
) -> list[Sheet]:
    """Put rows of drawings below each other, on a new sheet where one is full; None: as high as need be."""
    head = [*_heading(*heading, width)]
    top = MARGIN_MM + _TITLE + _SENTENCE * 2 + 4
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

    for row in rows:
        said = [_wrapped(d.about, d.width) for d in row]
        above = max(len(lines) for lines in said) * (_SENTENCE + 0.8) + 1.2
        tall = max(d.height for d in row) + above + 1
        if height is not None and placed and y + tall > height - MARGIN_MM - foot:
            finish()
            placed, items, y = [], [], top
        x = MARGIN_MM
        for d, lines in zip(row, said, strict=True):
            for n, line in enumerate(lines):
                items.append(Words(x, round(y + _SENTENCE + n * (_SENTENCE + 0.8), 4), line, _SENTENCE, rim=True))
            placed.append((d, round(x, 4), round(y + above, 4)))
            items += _moved(d.items, x, y + above)
            x += d.width + _ROOM
        y += tall
    finish()
    return out


def _wrapped(text: str, width: float) -> list[str]:
    """Break a sentence into lines as wide as its drawing."""
    return textwrap.wrap(text, max(20, int(width / (ADVANCE * _SENTENCE))))


def _heading(title: str, said: str, width: float) -> Iterable[Item]:
    y = MARGIN_MM + _TITLE
    for text, size, bold in ((title, _TITLE, True), (said, _SENTENCE, False)):
        shown = visible(text)
        most = int((width - 2 * MARGIN_MM) / (ADVANCE * size))
        fitting = size if len(shown) <= most else size * most / len(shown)  # never cut off
        yield Words(MARGIN_MM, round(y, 4), shown, round(fitting, 3), bold=bold)
        y += _SENTENCE + 2


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
