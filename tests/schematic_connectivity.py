"""A schematic as a drawing, read by the tests' own code: what its coordinates join, and where its words lie.

Nothing here comes from the writer or from the audit. Coordinates in µm, y downwards. The rules are from memory: a
symbol is turned against the clock, then mirrored; a wire joins what lies at its ends, a junction what lies between
them, a label what it lies on; what has one name is one net.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from msgspec import Struct

Node = tuple[str, str]
At = tuple[int, int]
Tree = list[Any]

_TOKEN = re.compile(r'\s*(?:(\()|(\))|"((?:[^"\\]|\\.)*)"|([^\s()"]+))', re.DOTALL)


def parsed(text: str) -> Tree:
    """The file as nested lists of strings."""
    stack: list[Tree] = [[]]
    place = 0
    text = text.rstrip()
    while place < len(text):
        match = _TOKEN.match(text, place)
        assert match, text[place : place + 40]
        place = match.end()
        opened, closed, quoted, bare = match.groups()
        if opened:
            stack.append([])
        elif closed:
            done = stack.pop()
            stack[-1].append(done)
        else:
            stack[-1].append(bare if quoted is None else re.sub(r"\\(.)", r"\1", quoted))
    ((root,),) = stack  # one list, closed
    assert isinstance(root, list)
    return root


def every(tree: Tree, head: str) -> Iterator[Tree]:
    return (item for item in tree if isinstance(item, list) and item and item[0] == head)


def the(tree: Tree, head: str) -> Tree:
    found = list(every(tree, head))
    assert len(found) == 1, f"{head} {len(found)} times in {tree[:2]}"
    return found[0]


def maybe(tree: Tree, head: str) -> Tree:
    return next(every(tree, head), [head])


def um(word: str) -> int:
    """A length as the file writes it; nothing finer than a µm."""
    value = float(word) * 1000
    assert abs(value - round(value)) < 1e-6, f"{word} is finer than a µm"
    return round(value)


def at(tree: Tree) -> At:
    place = the(tree, "at")
    return um(place[1]), um(place[2])


def angle(tree: Tree) -> int:
    place = the(tree, "at")
    return round(float(place[3])) % 360 if len(place) > 3 else 0


class Pin(Struct, frozen=True):
    """A pin on the sheet: where a wire meets it, and where it meets the body."""

    ref: str
    number: str
    name: str
    kind: str
    at: At
    inner: At
    shows_name: bool
    shows_number: bool
    letter: int


class Drawing:
    """A schematic of one page."""

    def __init__(self, text: str) -> None:
        self.root = parsed(text)
        assert self.root[0] == "kicad_sch"
        self.library = {symbol[1]: symbol for symbol in every(the(self.root, "lib_symbols"), "symbol")}
        self.symbols = list(every(self.root, "symbol"))
        self.wires = [
            (a, b)
            for wire in every(self.root, "wire")
            for a, b in pairwise((um(xy[1]), um(xy[2])) for xy in every(the(wire, "pts"), "xy"))
        ]
        self.junctions = {at(junction) for junction in every(self.root, "junction")}
        self.no_connects = [at(sign) for sign in every(self.root, "no_connect")]
        self.labels = [(label[1], at(label)) for head in ("label", "global_label") for label in every(self.root, head)]
        self.pins: list[Pin] = []
        self.rails: list[tuple[str, At]] = []
        for symbol in self.symbols:
            for pin in self._pins(symbol):
                if not pin.ref.startswith("#"):
                    self.pins.append(pin)
                elif pin.kind == "power_in":
                    self.rails.append((self.field(symbol, "Value"), pin.at))

    @staticmethod
    def field(symbol: Tree, name: str) -> str:
        value = next(prop[2] for prop in every(symbol, "property") if prop[1] == name)
        assert isinstance(value, str)
        return value

    def fields(self, name: str) -> dict[str, str]:
        """A field of every part, by reference."""
        return {
            self.field(symbol, "Reference"): next((p[2] for p in every(symbol, "property") if p[1] == name), "")
            for symbol in self.symbols
            if not self.field(symbol, "Reference").startswith("#")
        }

    def bodies(self, symbol: Tree) -> Iterator[Tree]:
        """The pieces of the library symbol that one symbol shows."""
        unit = the(symbol, "unit")[1]
        for piece in every(self.library[the(symbol, "lib_id")[1]], "symbol"):
            number, style = piece[1].rsplit("_", 2)[1:]
            if number in ("0", unit) and style in ("0", "1"):
                yield piece

    def placed(self, symbol: Tree, x: int, y: int) -> At:
        """A point of a library symbol, y upwards there, on the sheet."""
        for _ in range(angle(symbol) // 90):
            x, y = -y, x
        flips = maybe(symbol, "mirror")[1:]
        if "x" in flips:
            y = -y
        if "y" in flips:
            x = -x
        left, top = at(symbol)
        return left + x, top - y

    def _pins(self, symbol: Tree) -> Iterator[Pin]:
        drawn = self.library[the(symbol, "lib_id")[1]]
        for piece in self.bodies(symbol):
            for pin in every(piece, "pin"):
                x, y = at(pin)
                length = um(the(pin, "length")[1])
                dx, dy = {0: (1, 0), 90: (0, 1), 180: (-1, 0), 270: (0, -1)}[angle(pin)]
                yield Pin(
                    self.field(symbol, "Reference"),
                    the(pin, "number")[1],
                    the(pin, "name")[1],
                    pin[1],
                    self.placed(symbol, x, y),
                    self.placed(symbol, x + dx * length, y + dy * length),
                    "hide" not in maybe(drawn, "pin_names"),
                    "hide" not in maybe(drawn, "pin_numbers"),
                    um(the(the(the(pin, "number"), "effects"), "font")[1][1]),
                )

    # ------------------------------------------------------------------ what is joined

    def nets(self) -> set[frozenset[Node]]:
        """What the coordinates join: every pin is in one of them."""
        above: dict[object, object] = {}

        def find(one: object) -> object:
            while one in above:
                one = above[one]
            return one

        def join(one: object, other: object) -> None:
            one, other = find(one), find(other)
            if one != other:
                above[one] = other

        ends: dict[At, None] = {}
        for a, b in self.wires:
            join(a, b)
            ends |= dict.fromkeys((a, b))
        for point in (*self.junctions, *(place for _, place in self.labels)):
            for a, b in self.wires:
                if lies_on(point, a, b):
                    join(point, a)
        for name, place in (*self.labels, *self.rails):
            join(place, name)
        joined: dict[object, set[Node]] = {}
        for pin in self.pins:
            joined.setdefault(find(pin.at), set()).add((pin.ref, pin.number))
        return {frozenset(nodes) for nodes in joined.values()}

    def flagged(self) -> set[Node]:
        """The pins at which it is said that nothing is meant to be joined; each sign must lie at one."""
        by_place: dict[At, list[Pin]] = {}
        for pin in self.pins:
            by_place.setdefault(pin.at, []).append(pin)
        for place in self.no_connects:
            assert len(by_place.get(place, [])) == 1, f"no pin, or two, at the sign at {place}"
        return {(by_place[place][0].ref, by_place[place][0].number) for place in self.no_connects}

    def loose(self) -> list[At]:
        """The ends of wires, labels and rails that touch neither a pin nor a wire's end: there must be none."""
        ends = [end for wire in self.wires for end in wire]
        pins = {pin.at for pin in self.pins}
        held = {place for _, place in (*self.labels, *self.rails)}
        out = [end for end in ends if end not in pins and end not in held and ends.count(end) < 2]
        return out + [place for place in held if place not in ends]


def lies_on(point: At, a: At, b: At) -> bool:
    (x, y), (x1, y1), (x2, y2) = point, a, b
    return (
        (x2 - x1) * (y - y1) == (y2 - y1) * (x - x1)
        and min(x1, x2) <= x <= max(x1, x2)
        and min(y1, y2) <= y <= max(y1, y2)
    )


# ---------------------------------------------------------------------- where words lie


class Box(Struct, frozen=True):
    """What takes room on the sheet, from left to right and from top to bottom."""

    what: str
    x1: float
    y1: float
    x2: float
    y2: float

    def meets(self, other: Box) -> bool:
        return self.x1 < other.x2 and other.x1 < self.x2 and self.y1 < other.y2 and other.y1 < self.y2


def across(text: str, letter: int) -> float:
    """How wide a text is, by the stroke font that gerbonara carries; a letter that it lacks is shown as "?"."""
    from gerbonara.newstroke import Newstroke

    glyphs = Newstroke.load().glyphs
    wide = 0.0
    for sign in unicodedata.normalize("NFC", text):
        advance, drawn = glyphs.get(sign, glyphs["?"])
        wide += 0.6 if sign == " " else max([advance, *(x for line in drawn for x, _ in line)])
    return wide * letter


def _word(what: str, text: str, place: At, letter: int, justify: list[str]) -> Box:
    wide, (x, y) = across(text, letter), place
    left = x if "left" in justify else x - wide if "right" in justify else x - wide / 2
    top = y - letter if "bottom" in justify else y if "top" in justify else y - letter / 2
    return Box(f"{what} {text!r}", left, top, left + wide, top + letter)


def _style(tree: Tree) -> tuple[int, list[str], bool]:
    effects = the(tree, "effects")
    hidden = maybe(effects, "hide")[1:] == ["yes"] or "hide" in effects
    return um(the(the(effects, "font"), "size")[2]), maybe(effects, "justify")[1:], hidden


def words(drawing: Drawing) -> list[Box]:
    """Every word that is seen, with the flag of a label round its own."""
    out = []
    for text in every(drawing.root, "text"):
        letter, justify, _ = _style(text)
        out.append(_word("text", text[1], at(text), letter, justify))
    for label in every(drawing.root, "global_label"):
        letter, justify, _ = _style(label)
        assert justify == (["left"] if angle(label) == 0 else ["right"]), "a label is turned away from its wire"
        wide, (x, y) = across(label[1], letter) + 0.75 * letter, at(label)
        left = x if angle(label) == 0 else x - wide
        out.append(Box(f"label {label[1]!r}", left, y - 0.875 * letter, left + wide, y + 0.875 * letter))
    for symbol in drawing.symbols:
        for prop in every(symbol, "property"):
            letter, justify, hidden = _style(prop)
            if not hidden and prop[2]:
                out.append(_word(prop[1], prop[2], at(prop), letter, justify))
        for piece in drawing.bodies(symbol):
            for text in every(piece, "text"):
                letter, justify, _ = _style(text)
                out.append(_word("drawn", text[1], drawing.placed(symbol, *at(text)), letter, justify))
    for pin in drawing.pins:
        (x, y), (inner, _) = pin.at, pin.inner
        assert pin.inner[1] == y, "pins lie level"
        if pin.shows_number:
            wide = across(pin.number, pin.letter)
            middle = (x + inner) / 2
            high = pin.letter + 300
            out.append(Box(f"{pin.ref} pad {pin.number}", middle - wide / 2, y - high, middle + wide / 2, y - 300))
        if pin.shows_name and pin.name != "~":
            away = 508 if inner > x else -508
            justify = ["left"] if inner > x else ["right"]
            out.append(_word(f"{pin.ref} name", pin.name, (inner + away, y), pin.letter, justify))
    return out


def strokes(drawing: Drawing) -> list[Box]:
    """The lines of the sheet and of its symbols, each piece as a thin box, and the signs for open."""
    pen = 75
    pieces = list(drawing.wires)
    for line in every(drawing.root, "polyline"):
        pieces += pairwise([(um(xy[1]), um(xy[2])) for xy in every(the(line, "pts"), "xy")])
    for symbol in drawing.symbols:
        for piece in drawing.bodies(symbol):
            for line in every(piece, "polyline"):
                points = [drawing.placed(symbol, um(xy[1]), um(xy[2])) for xy in every(the(line, "pts"), "xy")]
                pieces += pairwise(points)
    pieces += [(pin.at, pin.inner) for pin in drawing.pins]
    out = []
    for (x1, y1), (x2, y2) in pieces:
        wide, high = pen * (x1 == x2), pen * (y1 == y2)
        out.append(Box("line", min(x1, x2) - wide, min(y1, y2) - high, max(x1, x2) + wide, max(y1, y2) + high))
    return out + [Box("open", x - 635, y - 635, x + 635, y + 635) for x, y in drawing.no_connects]


def collisions(some: list[Box], others: list[Box]) -> list[str]:
    """The pairs that overlap; a box never meets itself."""
    out = []
    others = sorted(others, key=lambda box: box.x1)
    for box in some:
        for other in others:
            if other.x1 >= box.x2:
                break
            if other is not box and box.meets(other):
                out.append(f"{box.what} on {other.what} at {box.x1 / 1000:.2f}, {box.y1 / 1000:.2f}")
    return out
