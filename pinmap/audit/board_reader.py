"""What stands in a board file: its parts, its pads with the names of their nets, and every shape of copper.

What the reader knows of the file formats is from memory; no source. It walks the lists that the parser gives:
kicad-skip's own objects for boards stop at a footprint without `fp_text`, which is how footprints are written since
2024. Two things are taken for granted: a hole without plating that is drilled through a track does not cut it, and the
edge of the board cuts nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from msgspec import Struct

from ..errors import UnreadableError
from ..text import listed, natural, quoted, visible
from .board_shapes import Frame, Shape, arc, area, dot, graphic, hole_shape, outline, pad_shapes, stroke, turned
from .board_values import GRAPHICS, Values, most, says, some, thing
from .copper import Copper
from .drawn import DrawnPart, Node, PadSpot
from .source import MAX_PARTS, Branch

#: The dates that count the versions of the format, from memory. What is older has another shape and is refused.
#: What is newer is read with a remark: new versions mostly add to the format, so that a board can still be looked at,
#: and what is misread shows as connections that are missing; but nobody can promise that, so it is said.
OLDEST_VERSION = 20211014
NEWEST_VERSION = 20241229
#: So many corners may all shapes have together, arcs included; each takes about 200 bytes.
MAX_POINTS = 1_000_000
_PADS = ("thru_hole", "smd", "connect", "np_thru_hole")
_COPPER = re.compile(r"(?:F|B|In([1-9]\d?))\.Cu")
_TEXTS = frozenset(
    {"gr_text", "fp_text", "gr_text_box", "fp_text_box", "property", "table", "dimension", "image", "barcode"}
)
_KNOWN = (
    {"version", "generator", "generator_version", "host", "general", "paper", "page", "title_block", "layers", "setup"}
    | {"property", "net", "net_class", "footprint", "segment", "arc", "via", "zone", "group", "generated", "target"}
    | {"embedded_fonts", "embedded_files", "component_classes"}
    | GRAPHICS
    | _TEXTS
)


class Pad(Struct, frozen=True):
    """A pad with a number: the net that the file puts it in ("" none) and the bodies of copper that it is."""

    node: Node
    net: str
    bodies: tuple[int, ...]
    branch: Branch


class Reader:
    """A board file, read: `parts`, `pads` with a number, `copper`, and `remarks` on what does not count.

    `bodies` is how many bodies the copper has. Raises `UnreadableError` or `SeveralErrors`.
    """

    def __init__(self, root: Branch):
        self.file = Values(root.file)
        self.root = root
        self.remarks: list[str] = []
        self.copper: list[Copper] = []
        self.parts: dict[str, DrawnPart] = {}
        self.pads: list[Pad] = []
        self.bodies = 0
        self._points = 0
        self._texts: list[Branch] = []
        self._unfilled: list[str] = []
        self._renamed: list[str] = []
        self._called: list[str] = []
        self._inner: list[str] = []
        self._version()
        self.layers = self._layers()
        self.names = self._net_names()
        self._by_number = len(self.names) > 1
        for branch in self._branches():
            self._take(branch)
        self.file.finish()
        self._sum_up()

    # --- the head of the file ---------------------------------------------------------------

    def _version(self) -> None:
        branch = self.root.first("version")
        written = self.root.text("version")
        if branch is None or not (written.isascii() and written.isdigit() and len(written) < 12):
            raise UnreadableError(
                f"a board must say its version as a number, not {quoted(written)}"
                if written
                else "a board must say its version",
                place=(branch if branch is not None else self.root).place,
            )
        version = int(written)
        if version < OLDEST_VERSION:
            raise UnreadableError(
                f"a board must be of version {OLDEST_VERSION} or newer, not {version}",
                "Open it in a present version of the program that wrote it, and save it",
                branch.place,
            )
        if version > NEWEST_VERSION:
            self.remarks.append(
                f"the file is of version {version}, newer than {NEWEST_VERSION}, the newest that was known when this "
                "was written: what is new in it may be misread"
            )

    def _layers(self) -> tuple[str, ...]:
        """The copper layers from front to back."""
        table = self.root.first("layers")
        if table is None:
            raise UnreadableError("a board must list its layers, (layers …)", place=self.root.place)
        found = {}
        for item in table.all():
            match = _COPPER.fullmatch(item.text())
            if match:
                found[match[0]] = int(match[1]) if match[1] else 0 if match[0] == "F.Cu" else 1000
        if not found:
            raise UnreadableError("a board must have at least one layer of copper, such as F.Cu", place=table.place)
        return tuple(sorted(found, key=found.__getitem__))

    def _net_names(self) -> dict[str, str]:
        """The names of nets by number; newer files have neither."""
        names: dict[str, str] = {"0": ""}
        for branch in self.root.all("net"):
            words = branch.texts
            if len(words) < 2:
                self.file.complain(branch, "a net must have a number and a name")
                continue
            if words[0] in names and words[0] != "0":
                self.file.complain(branch, f"a net must have a number of its own, not {quoted(words[0])} again")
            names[words[0]] = visible(words[1])
        return names

    # --- what stands in it ------------------------------------------------------------------

    def _branches(self) -> Iterator[Branch]:
        unknown: dict[str, Branch] = {}
        for item in self.root.all():
            if item.head not in _KNOWN:
                unknown.setdefault(item.head, item)
            yield item
        if unknown:
            told = [f"({visible(key)[:40]} …) (line {each.line})" for key, each in unknown.items()]
            self.remarks.append(f"not known here, and passed over: {some(told)}")

    def _take(self, branch: Branch) -> None:
        key = branch.head
        if key in ("segment", "arc"):
            self._track(branch)
        elif key == "via":
            self._via(branch)
        elif key == "zone":
            self._zone(branch)
        elif key == "footprint":
            self._footprint(branch)
        elif key in GRAPHICS:
            self._graphic(branch, None)
        elif key in _TEXTS:
            self._text(branch)

    def _track(self, branch: Branch) -> None:
        start, end = self.file.point(branch, "start"), self.file.point(branch, "end")
        points = (start, end) if branch.head == "segment" else arc(start, self.file.point(branch, "mid"), end)
        shape = stroke(points, self.file.size(branch, "width"))
        net, body = self._net(branch), self._body()
        before = len(self.file.errors)
        layers = self._on(branch)
        if not layers and len(self.file.errors) == before:
            self.file.complain(branch, "a track must lie on a layer of copper")
        for layer in layers:
            self._add(layer, shape, body, net, "track", branch)

    def _via(self, branch: Branch) -> None:
        at = self.file.point(branch, "at")
        size = self.file.size(branch, "size")
        drill = self.file.size(branch, "drill") if branch.first("drill") is not None else size / 2
        net, body = self._net(branch), self._body()
        span = self._span(branch)
        stack = branch.first("padstack")
        removed = says(branch, "remove_unused_layers")
        for layer in span:
            own = self._of_layer(stack, layer)
            width = self.file.size(own, "size") if own is not None and own.first("size") is not None else size
            ring = dot(at, width)
            if removed and not (layer in (span[0], span[-1]) and says(branch, "keep_end_layers")):
                self._removed(branch, layer, [ring], dot(at, drill), body, net, "via")
            else:
                self._add(layer, ring, body, net, "via", branch)

    def _span(self, branch: Branch) -> tuple[str, ...]:
        ends = branch.first("layers")
        words = ends.texts if ends is not None else []
        if len(words) < 2:
            self.file.complain(branch, "a via must name the two layers between which it goes")
            return ()
        unknown = [word for word in words[:2] if word not in self.layers]
        if unknown:
            self.file.complain(branch, self._no_layer("a via", unknown[0]))
            return ()
        first, last = sorted(map(self.layers.index, words[:2]))
        return self.layers[first : last + 1]

    def _removed(
        self, branch: Branch, layer: str, rings: list[Shape], hole: Shape, body: int, net: str, what: str
    ) -> None:
        """A hole whose ring is only there where something of its net meets it."""
        kept = branch.first("zone_layer_connections")
        shy = kept is None or layer not in kept.texts
        self._add(layer, hole, body, net, what, branch)
        for ring in rings:
            self._add(layer, ring, body, net, what, branch, shy=shy)

    def _zone(self, branch: Branch) -> None:
        fillings = list(branch.all("filled_polygon"))
        if branch.first("keepout") is not None or (branch.first("placement") is not None and not fillings):
            return  # a rule, no copper
        layers = self._on(branch)
        name = visible(branch.text("net_name"))
        net = self._net(branch) or name
        width = 0.0
        if branch.text("filled_areas_thickness") == "yes":
            width = max(self.file.numbers(branch, "min_thickness", 1)[0], 0.0)
        if not fillings and layers:
            whose = f"net {quoted(net)}" if net else "no net"
            self._unfilled.append(
                f"the zone of {whose} on {listed(layers)} (line {branch.line}) is not filled: its copper does not count"
            )
        for filling in fillings:
            shape = area(outline(self.file, filling), width)
            body = self._body()
            for layer in self._on(filling) if filling.first("layer") is not None else layers[:1]:
                self._add(layer, shape, body, net, "zone", filling)

    def _graphic(self, branch: Branch, frame: Frame | None) -> None:
        layers = self._on(branch)
        if not layers:
            return
        shapes = graphic(self.file, branch)
        net = self._net(branch) if branch.first("net") is not None else ""
        for layer in layers:
            body = self._body()
            for shape in shapes:
                self._add(layer, shape.moved(frame) if frame else shape, body, net, "drawing", branch)

    def _text(self, branch: Branch) -> None:
        if self._on(branch, quietly=True) and not says(branch, "hide"):
            self._texts.append(branch)

    def _sum_up(self) -> None:
        if self._texts:
            lines = [str(each.line) for each in self._texts[:3]]
            where = listed([*lines, "others"] if len(self._texts) > 3 else lines)
            self.remarks.append(
                f"texts and pictures on copper do not count (line{'s' * (len(self._texts) > 1)} {where})"
            )
        self.remarks += most(self._called, "such parts")
        self.remarks += most(self._inner, "such zones")
        self.remarks += most(self._renamed, "such pads")
        self.remarks += most(self._unfilled, "zones are not filled")

    # --- footprints -------------------------------------------------------------------------

    def _footprint(self, branch: Branch) -> None:
        at = branch.first("at")
        values = self.file.values(at, at.texts, 2) if at is not None else []
        if at is None:
            self.file.complain(branch, "a footprint must have its place, (at …)")
            return
        frame = turned(values[2] if len(values) > 2 else 0.0, (values[0], values[1]))
        pads = list(branch.all("pad"))
        numbered = [pad for pad in pads if pad.text()]
        ref = self._ref(branch, bool(numbered))
        names: dict[str, str] = {}
        spots: dict[str, PadSpot] = {}
        for pad in pads:
            self._pad(pad, ref, frame, names, spots)
        for item in branch.all():
            if item.head in GRAPHICS:
                self._graphic(item, frame)
            elif item.head in _TEXTS:
                self._text(item)
            elif item.head == "zone" and item.first("filled_polygon") is not None:
                self._inner.append(
                    f"a zone in the footprint of {quoted(ref)} (line {item.line}) does not count as copper"
                )
        if numbered or (ref and ref not in self.parts):
            if len(self.parts) >= MAX_PARTS:
                raise UnreadableError(f"a drawing must not have more than {MAX_PARTS} parts", place=branch.place)
            self.parts[ref] = DrawnPart(
                ref,
                visible(_property(branch, "Value")),
                visible(branch.text()),
                tuple(sorted(names.items(), key=lambda pad: natural(pad[0]))),
                branch.place,
                spots,
                branch.text("layer") == "B.Cu",
            )

    def _ref(self, branch: Branch, needed: bool) -> str:
        """The reference, made unique by its line where pads hang on it."""
        ref = visible(_property(branch, "Reference"))
        line = branch.line
        if not needed or (ref and ref not in self.parts):
            return ref
        own = f"{ref or 'part'} (line {line})"
        while own in self.parts:  # two of them in one line
            own += "'"
        why = f"the reference {quoted(ref)} stands twice" if ref else "a part has no reference"
        self._called.append(f"{why}: the part in line {line} is called {quoted(own)} here")
        return own

    def _pad(self, pad: Branch, ref: str, part: Frame, names: dict[str, str], spots: dict[str, PadSpot]) -> None:
        words = pad.texts
        if len(words) < 3:
            self.file.complain(pad, "a pad must have a number, a kind and a shape")
            return
        number, kind, form = visible(words[0]), words[1], words[2]
        if kind not in _PADS:
            self.file.complain(pad, f"a pad must be {listed(_PADS, 'or')}, not {quoted(kind)}")
        at = self.file.numbers(pad, "at", 2)
        # A pad's angle is the whole angle, that of its footprint included; its place is not.
        frame = turned(at[2] if len(at) > 2 else 0.0, part((at[0], at[1])))
        net = self._net(pad)
        what = f"pad {ref} {number}" if number else f"pad without a number of {ref}"
        layers = self._on(pad)
        hole = hole_shape(self.file, pad)
        if kind == "thru_hole":
            bodies = [self._body()]
            self._plated(pad, form, layers, hole, frame, bodies[0], net, what)
        else:
            bodies = []
            for layer in layers:
                bodies.append(self._body())
                for shape in self._shapes(pad, form, layer):
                    if kind == "np_thru_hole" and hole is not None and _within(shape, hole):
                        continue  # nothing is left of it around the hole
                    self._add(layer, shape.moved(frame), bodies[-1], net, what, pad)
        if number:
            names.setdefault(number, visible(pad.text("pinfunction")))
            x, y = frame((0.0, 0.0))
            front, back = "F.Cu" in layers, "B.Cu" in layers
            spots.setdefault(number, PadSpot(x, y, "both" if front == back else "front" if front else "back"))
            self.pads.append(Pad((ref, number), net, tuple(bodies), pad))

    def _plated(
        self,
        pad: Branch,
        form: str,
        layers: Sequence[str],
        hole: Shape | None,
        frame: Frame,
        body: int,
        net: str,
        what: str,
    ) -> None:
        """A plated hole: the pad on its layers, and the wall of the hole on all of them."""
        removed = says(pad, "remove_unused_layers") and hole is not None
        ends = (self.layers[0], self.layers[-1])
        for layer in self.layers:
            if layer in layers:
                shapes = [shape.moved(frame) for shape in self._shapes(pad, form, layer)]
                if removed and hole is not None and not (layer in ends and says(pad, "keep_end_layers")):
                    self._removed(pad, layer, shapes, hole.moved(frame), body, net, what)
                    continue
                for shape in shapes:
                    self._add(layer, shape, body, net, what, pad)
            elif hole is not None:
                self._add(layer, hole.moved(frame), body, net, what, pad)

    def _shapes(self, pad: Branch, form: str, layer: str) -> list[Shape]:
        own = self._of_layer(pad.first("padstack"), layer)
        if own is None or own.first("size") is None:
            return pad_shapes(self.file, pad, form, pad)
        return pad_shapes(self.file, pad, own.text("shape", form), own)

    def _of_layer(self, stack: Branch | None, layer: str) -> Branch | None:
        """What a stack of pads says of one layer."""
        wanted = (layer, "Inner") if layer.startswith("In") else (layer,)
        for each in stack.all("layer") if stack is not None else ():
            if each.text() in wanted:
                return each
        return None

    # --- layers, nets, bodies ---------------------------------------------------------------

    def _on(self, branch: Branch, quietly: bool = False) -> list[str]:
        """The copper layers that something lies on, from front to back."""
        out = set()
        for item in branch.all("layer", "layers"):
            for word in item.texts:
                if word == "*.Cu":
                    out |= set(self.layers)
                elif word == "F&B.Cu":
                    out |= {"F.Cu", "B.Cu"} & set(self.layers)
                elif word in self.layers:
                    out.add(word)
                elif word.endswith(".Cu") and not quietly:
                    self.file.complain(item, self._no_layer(thing(branch), word))
        return [layer for layer in self.layers if layer in out]

    def _no_layer(self, what: str, layer: str) -> str:
        return f"{what} must lie on one of the board's layers of copper ({listed(self.layers)}), not on {quoted(layer)}"

    def _net(self, branch: Branch) -> str:
        found = branch.first("net")
        words = found.texts if found is not None else []
        if found is None or not words:
            return ""
        first = words[0]
        known = self.names.get(first)
        if len(words) == 1 and known is None and not self._by_number:
            return visible(first)  # newer files have names only
        if len(words) > 1:
            name = visible(words[1])
            if known is not None and known != name:
                self._renamed.append(
                    f"net {first} is called {quoted(known)} in the list of nets and {quoted(name)} in line "
                    f"{found.line}: the latter is taken"
                )
            return name
        if known is None:
            self.file.complain(found, f"a net must be in the list of nets; {quoted(first)} is not")
            return ""
        return known

    def _body(self) -> int:
        self.bodies += 1
        return self.bodies - 1

    def _add(
        self, layer: str, shape: Shape, body: int, net: str, what: str, branch: Branch, *, shy: bool = False
    ) -> None:
        if not shape.points:
            return  # complained of already
        self._points += len(shape.points)
        if self._points > MAX_POINTS:
            raise UnreadableError(
                f"the copper of a board must not have more than {MAX_POINTS} corners together",
                place=branch.place,
            )
        self.copper.append(Copper(layer, shape, body, net, what, branch.line, shy))


def _property(branch: Branch, name: str) -> str:
    """A footprint's reference or value: a property since 2024, a text of the footprint before."""
    for item in branch.all("property"):
        words = item.texts
        if len(words) > 1 and words[0] == name:
            return words[1]
    for item in branch.all("fp_text"):
        words = item.texts
        if len(words) > 1 and words[0] == name.lower():
            return words[1]
    return ""


def _within(shape: Shape, hole: Shape) -> bool:
    """Whether a pad around a hole is no larger than the hole."""
    return all(_reach(shape, axis) <= _reach(hole, axis) + 1e-6 for axis in (0, 1))


def _reach(shape: Shape, axis: int) -> float:
    return max((abs(point[axis]) for point in shape.points), default=0.0) + shape.radius
