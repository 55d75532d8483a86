"""What is printed on the board: outlines, the first contact, rows, rails, warnings, title; nothing over a pad."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from shapely.geometry import Polygon, box

from ..model import Group
from ..text import natural
from .layout import LAYERS, Hole, Layer, Pad, Placed, Ring, Stroke, Text
from .lettering import extent

Box = tuple[int, int, int, int]
#: From a line of the silk to a pad, in µm. Common practice, no source.
CLEAR_UM = 200
_SMALL, _USUAL, _LARGE = 800, 1000, 1500
_TRIANGLE_UM = 1800
_STEP_UM = 635


class Paper:
    """The free room of the silk on both sides."""

    def __init__(self, outline: Ring, pads: Sequence[Pad], holes: Sequence[Hole]) -> None:
        xs, ys = [x for x, _ in outline], [y for _, y in outline]
        self.room: Box = (min(xs) + 300, min(ys) + 300, max(xs) - 300, max(ys) - 300)
        self.taken: dict[Layer, list[Box]] = {layer: [] for layer in LAYERS}
        for off in _off(outline):
            for layer in LAYERS:
                self.taken[layer].append(off)
        for pad in pads:
            w, h = pad.width_um // 2 + CLEAR_UM, pad.height_um // 2 + CLEAR_UM
            for layer in pad.layers:
                self.taken[layer].append((pad.x_um - w, pad.y_um - h, pad.x_um + w, pad.y_um + h))
        for hole in holes:
            r = hole.drill_um // 2 + CLEAR_UM
            for layer in LAYERS:
                self.taken[layer].append((hole.x_um - r, hole.y_um - r, hole.x_um + r, hole.y_um + r))

    def free(self, layer: Layer, box: Box) -> bool:
        """Whether nothing is there yet, inside the board."""
        left, top, right, bottom = self.room
        if box[0] < left or box[1] < top or box[2] > right or box[3] > bottom:
            return False
        return not any(b[0] < box[2] and box[0] < b[2] and b[1] < box[3] and box[1] < b[3] for b in self.taken[layer])

    def take(self, layer: Layer, box: Box) -> None:
        """Take a place."""
        self.taken[layer].append((box[0] - 100, box[1] - 100, box[2] + 100, box[3] + 100))

    def put(self, text: Text, ways: Sequence[tuple[int, int]] = ((0, 0),), far: int = 0) -> Text | None:
        """Put a text at its place moved by the first of `ways` that is free, else up to `far` steps round about it."""
        left, top, right, bottom = extent(text)
        moves = list(ways)
        moves += sorted(
            ((dx * _STEP_UM, dy * _STEP_UM) for dx in range(-far, far + 1) for dy in range(-far, far + 1)),
            key=lambda m: (abs(m[0]) + 2 * abs(m[1]), m),
        )
        for dx, dy in moves:
            box = (left + dx, top + dy, right + dx, bottom + dy)
            if self.free(text.layer, box):
                self.take(text.layer, box)
                return Text(
                    text.layer, text.text, text.x_um + dx, text.y_um + dy, text.height_um, text.angle, text.part
                )
        return None


def _off(outline: Ring) -> list[Box]:
    """What of the rectangle round the board is not board, beside and between tongues; with the margin of the room."""
    board = Polygon(outline)
    rest = box(*board.bounds).difference(board)
    pieces = [piece.bounds for piece in getattr(rest, "geoms", [rest]) if not piece.is_empty]
    return [(round(b[0]) - 300, round(b[1]) - 300, round(b[2]) + 300, round(b[3]) + 300) for b in pieces]


def printed(
    title: str,
    outline: Ring,
    parts: Sequence[Placed],
    pads: Sequence[Pad],
    strokes: Sequence[Stroke],
    groups: Mapping[str, Group],
    holes: Sequence[Hole] = (),
) -> tuple[tuple[Stroke, ...], tuple[Text, ...]]:
    """Lay out all texts and marks. What finds no room is left out: a label over a pad would be worse than none."""
    paper = Paper(outline, pads, holes)
    lines = list(strokes)
    texts: list[Text] = []
    for stroke in strokes:  # outlines of bodies are lines; texts may stand inside them, not on them
        for (x1, y1), (x2, y2) in pairwise(stroke.points):
            half = stroke.width_um // 2 + 50
            paper.taken[stroke.layer].append(
                (min(x1, x2) - half, min(y1, y2) - half, max(x1, x2) + half, max(y1, y2) + half)
            )
    for part in parts:
        own = [pad for pad in pads if pad.ref == part.ref]
        if part.connector:
            _connector(paper, part, own, groups, lines, texts)
    for part in parts:
        if part.ref.startswith("JP"):
            _jumper(paper, part, [pad for pad in pads if pad.ref == part.ref], texts)
    for part in sorted(parts, key=lambda p: natural(p.ref)):
        x, y = (part.box[0] + part.box[2]) // 2, (part.box[1] + part.box[3]) // 2
        above, below = part.box[1] - 800 - y, part.box[3] + 800 - y
        text = Text(part.side, part.ref, x, y, _USUAL, part=part.ref)
        beside = (part.box[2] - part.box[0]) // 2 + 1200
        put = paper.put(text, ((0, above), (0, below), (beside, 0), (-beside, 0), (0, 0)), far=8)
        if put:
            texts.append(put)
    left, top, right, bottom = paper.room
    middle = ((left + right) // 2, (top + bottom) // 2)
    for layer, word in (("front", "component side"), ("back", "solder side")):
        for words, height in ((title, _LARGE), (word, _USUAL)):
            spot = Text("front" if layer == "front" else "back", words, *middle, height)
            put = paper.put(spot, far=40) or paper.put(Text(spot.layer, words, *middle, _SMALL), far=60)
            if put:
                texts.append(put)
    return tuple(lines), tuple(texts)


def _connector(
    paper: Paper, part: Placed, pads: Sequence[Pad], groups: Mapping[str, Group], lines: list[Stroke], texts: list[Text]
) -> None:
    """Labels of the first and last contact of each row, and of every rail, with a triangle that warns."""
    rows: dict[tuple[int, Layer], list[Pad]] = {}
    for pad in pads:
        if pad.number:
            rows.setdefault((pad.y_um, pad.layer if pad.finger else part.side), []).append(pad)
    middle = (part.box[1] + part.box[3]) // 2
    for (y, layer), row in sorted(rows.items()):
        row.sort(key=lambda pad: pad.x_um)
        out = -1 if y < middle or (len(rows) == 1) else 1
        if row[0].finger:
            out = -1 if row[0].height_um else 1
        for pad, side in ((row[0], -1), (row[-1], 1)):
            text = Text(layer, pad.function or pad.number, pad.x_um, pad.y_um, _USUAL, part=part.ref)
            wide = (extent(text)[2] - extent(text)[0]) // 2 + pad.width_um // 2 + CLEAR_UM + 150
            high = pad.height_um // 2 + 900
            put = paper.put(text, ((side * wide, 0), (0, out * high), (side * (wide + 800), 0)), far=4)
            if put:
                texts.append(put)
        for pad in row:
            if groups.get(pad.net) == "supply":
                _rail(paper, part, pad, layer, out, lines, texts)


def _jumper(paper: Paper, part: Placed, pads: Sequence[Pad], texts: list[Text]) -> None:
    """The line at each pin of a jumper block that leads to a line of the slot, along its column."""
    for pad in pads:
        line, _, rest = pad.function.partition(" ")
        if not rest.startswith("of the slot"):
            continue
        text = Text(part.side, line, pad.x_um, pad.y_um, _SMALL, 90, part.ref)
        _, top, _, bottom = extent(text)
        long = (bottom - top) // 2 + 300
        up, down = part.box[1] - long - pad.y_um, part.box[3] + long - pad.y_um
        put = paper.put(text, ((0, up), (0, down)) if abs(up) < abs(down) else ((0, down), (0, up)))
        if put:
            texts.append(put)


def _rail(paper: Paper, part: Placed, pad: Pad, layer: Layer, out: int, lines: list[Stroke], texts: list[Text]) -> None:
    """The name of a rail along its column, outside the body, and a triangle with an exclamation mark beyond it."""
    text = Text(layer, pad.net.split()[0], pad.x_um, pad.y_um, _USUAL, 90, part.ref)
    _, top, _, bottom = extent(text)
    long = (bottom - top) // 2
    edge = part.box[1] if out < 0 else part.box[3]
    if pad.finger:
        edge = pad.y_um + out * (pad.height_um // 2 + 300)
    ways = [
        (0, edge + out * (300 + long) - pad.y_um),
        (0, out * (pad.height_um // 2 + 400 + long)),
        (0, edge + out * (1600 + long) - pad.y_um),
        (0, (part.box[3] if out < 0 else part.box[1]) - out * (300 + long) - pad.y_um),
    ]
    put = paper.put(text, ways)
    if put is None:
        return
    texts.append(put)
    step = long + 300 + _TRIANGLE_UM // 2
    other = (part.box[3] if out < 0 else part.box[1]) - out * (300 + _TRIANGLE_UM // 2)
    for beyond in (put.y_um + out * step, put.y_um - out * step, other, other - out * _TRIANGLE_UM):
        half = _TRIANGLE_UM // 2
        box = (pad.x_um - half, beyond - half, pad.x_um + half, beyond + half)
        if paper.free(layer, box):
            paper.take(layer, box)
            lines.extend(_triangle(layer, pad.x_um, beyond, half, part.ref))
            return


def _triangle(layer: Layer, x: int, y: int, half: int, ref: str) -> Iterator[Stroke]:
    yield Stroke(layer, ((x - half, y + half), (x, y - half), (x + half, y + half), (x - half, y + half)), 150, ref)
    yield Stroke(layer, ((x, y - half // 3), (x, y + half // 3)), 150, ref)
    yield Stroke(layer, ((x, y + half * 2 // 3), (x, y + half * 2 // 3 + 10)), 150, ref)
