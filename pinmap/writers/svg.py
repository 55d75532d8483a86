"""Drawings as SVG 1.1: one unit is one millimetre, and so it prints."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from xml.sax.saxutils import escape, quoteattr

from ..drawing import Box, Drawing, Item, Stroke, Words
from ..sheets import Sheet

#: Every machine has one of these; the first is inside the package that typesets the paper.
FONTS = "DejaVu Sans Mono, Liberation Mono, Consolas, Menlo, monospace"


def svg(drawing: Drawing | Sheet, title: str) -> str:
    """Return a drawing, or a sheet with several, as a file of its own."""
    about = drawing.about if isinstance(drawing, Drawing) else " ".join(d.about for d, _, _ in drawing.drawings)
    width, height = _n(drawing.width), _n(drawing.height)
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
            f'viewBox="0 0 {width} {height}" font-family={quoteattr(FONTS)} role="img" '
            'style="background:#FFFFFF">',  # the text is black, whatever the page around it is
            f"<title>{escape(title)}</title>",
            f"<desc>{escape(about)}</desc>",
            *elements(drawing.items),
            "</svg>\n",
        )
    )


def elements(items: Iterable[Item]) -> Iterable[str]:
    """Yield the elements of a drawing; those of one contact stand in a group that bears its label."""
    for contact, run in groupby(items, key=lambda item: item.contact):
        inside = "".join(_element(item) for item in run)
        yield f"<g data-contact={quoteattr(contact)}>{inside}</g>" if contact else inside


def _element(item: Item) -> str:
    if isinstance(item, Words):
        return _words(item)
    style = f'fill="{item.fill or "none"}"'
    if item.line:
        style += f' stroke="{item.line}" stroke-width="{_n(item.line_mm)}"'
        if item.dashed:
            style += ' stroke-dasharray="0.8 0.6"'
    if isinstance(item, Box):
        size = f'x="{_n(item.x)}" y="{_n(item.y)}" width="{_n(item.width)}" height="{_n(item.height)}"'
        corner = f' rx="{_n(item.round_mm)}"' if item.round_mm else ""
        return f"<rect {size}{corner} {style}/>"
    assert isinstance(item, Stroke)  # noqa: S101 - there is no fourth kind
    points = " ".join(f"{_n(x)},{_n(y)}" for x, y in item.points)
    return f'<polyline points="{points}" {style} stroke-linejoin="round"/>'


def _words(item: Words) -> str:
    turn = f' transform="rotate(-90 {_n(item.x)} {_n(item.y)})"' if item.turned else ""
    anchor = "" if item.anchor == "start" else f' text-anchor="{item.anchor}"'
    weight = ' font-weight="bold"' if item.bold else ""
    if item.rim:
        weight += ' stroke="#FFFFFF" stroke-width="0.5" stroke-linejoin="round" paint-order="stroke"'
    return (
        f'<text x="{_n(item.x)}" y="{_n(item.y)}" font-size="{_n(item.size)}"{anchor}{weight} '
        f'fill="{item.tone}"{turn}>{escape(item.text)}</text>'
    )


def _n(value: float) -> str:
    """A number in mm, to a tenth of a thousandth, without needless digits."""
    return f"{value:.4f}".rstrip("0").rstrip(".") or "0"
