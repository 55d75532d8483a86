"""A schematic as a drawing: what touches what, from coordinates, through labels and sheets."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path, PurePosixPath

from msgspec import Struct

from ..errors import PinmapError, Place, UnreadableError
from ..text import count, listed, natural, quoted
from .drawn import Drawn, DrawnNet, DrawnPart, Node
from .source import MAX_BYTES, MAX_NODES, MAX_PARTS, Branch, parsed, raise_some, read_bytes
from .symbols import Pin, Symbol, library, placed
from .wires import At, Union, Wires, key

#: The versions of the schematic format that releases have written, the last three stable ones and one before, from
#: memory. A newer one is read, for what joins two pins has not changed in years, but with a caution that says so and
#: names what was not understood; an older one is refused: symbols were kept outside the file then.
OLDEST = 20211123
NEWEST = 20250114
#: So many sheets may a drawing have, each use counted.
MAX_SHEETS = 200
#: So many wires, labels, symbols and so on, each use of a sheet counted.
MAX_ELEMENTS = 100_000

#: What stands in a schematic and joins nothing.
_SILENT = frozenset(
    (
        *("version", "generator", "generator_version", "uuid", "paper", "title_block", "page", "group"),
        *("lib_symbols", "sheet_instances", "symbol_instances", "bus_alias", "netclass_flag", "directive_label"),
        *("text", "text_box", "polyline", "arc", "circle", "rectangle", "bezier", "image", "table", "rule_area"),
        *("embedded_fonts", "embedded_files"),
    )
)
_SPOKEN = frozenset(
    (
        *("symbol", "wire", "junction", "no_connect", "sheet", "bus", "bus_entry"),
        *("label", "global_label", "hierarchical_label"),
    )
)
_BUS_NAME = re.compile(r"\[\d+\.\.\d+\]|(?<![~^_])\{")

_Key = tuple[str, str, At | str]  # kind, sheet, place or name


class _Instance(Struct, frozen=True):
    """One use of a sheet: its path of identities, its tree, the files that lead to it."""

    path: str
    root: Branch
    chain: tuple[Path, ...]


def read(path: str | Path) -> Drawn:
    """Read a schematic with all its sheets.

    Raises `UnreadableError`, or `SeveralErrors` with each place that cannot be understood.
    """
    return _Reader(Path(path), str(path)).drawn()


class _Reader:
    def __init__(self, path: Path, shown: str) -> None:
        self.path, self.shown = path, shown
        self.joined: Union[_Key] = Union()
        self.pins: list[tuple[_Key, Node]] = []
        self.parts: dict[str, DrawnPart] = {}
        self.pads: dict[str, dict[str, str]] = {}
        self.units: dict[tuple[str, int], Place] = {}
        self.names: list[tuple[_Key, int, str, Place]] = []
        self.remarks: dict[str, None] = {}
        self.errors: list[PinmapError] = []
        self.left = MAX_BYTES
        self.trees: dict[Path, Branch] = {}
        self.uses: dict[Path, int] = {}
        self.listed: dict[str, tuple[str, int]] = {}  # of an older release: path → reference, unit

    def drawn(self) -> Drawn:
        top = self.tree(self.path, self.shown)
        for entry in (top.first("symbol_instances") or top).all("path"):
            self.listed[entry.text()] = (entry.text("reference"), _unit(entry))
        waiting = [_Instance("/" + top.text("uuid"), top, (self.path.resolve(),))]
        sheets: list[_Instance] = []
        elements = 0
        while waiting:
            sheet = waiting.pop()
            sheets.append(sheet)
            elements += len(sheet.root.items)
            if elements > MAX_ELEMENTS:
                raise UnreadableError(
                    f"a drawing must not have more than {MAX_ELEMENTS} wires, labels, symbols and the like, each use "
                    "of a sheet counted",
                    place=top.place,
                )
            if len(sheets) > MAX_SHEETS:
                raise UnreadableError(f"a drawing must not have more than {MAX_SHEETS} sheets", place=top.place)
            self.uses[sheet.chain[-1]] = self.uses.get(sheet.chain[-1], 0) + 1
            waiting += reversed(list(self.below(sheet)))
        for sheet in sheets:
            try:
                self.one(sheet)
            except PinmapError as error:
                self.errors.append(error)
                if len(self.errors) > MAX_SHEETS:
                    break
        raise_some(list({str(error): error for error in self.errors}.values()), self.shown)
        if not self.parts:
            raise UnreadableError("a schematic must have symbols of parts; this one has none", place=top.place)
        return self.result()

    # ------------------------------------------------------------------ files

    def tree(self, path: Path, shown: str) -> Branch:
        """Read a file once; all sheets together stay within the limit."""
        real = path.resolve()
        if real not in self.trees:
            raw = read_bytes(path, shown, self.left)
            self.left -= len(raw)
            root = self.trees[real] = parsed(raw, shown, "kicad_sch")
            self.version(root)
        return self.trees[real]

    def version(self, root: Branch) -> None:
        written = root.text("version")
        number = int(written) if written.isdecimal() and len(written) < 12 else 0
        if number < OLDEST:
            what = f"not {quoted(written)}" if written else "and this one has none"
            raise UnreadableError(
                f"the version of a schematic must be {OLDEST} or newer, {what}",
                "Save it with a newer release",
                root.place,
            )
        if number > NEWEST:
            self.remarks[
                f"{root.file} has the version {number}, newer than the newest known here ({NEWEST}): what is new in it "
                "was not understood"
            ] = None
        strange: dict[str, Branch] = {}
        for branch in root.all():
            if branch.head not in _SILENT and branch.head not in _SPOKEN:
                strange.setdefault(branch.head, branch)
        for head, branch in strange.items():
            self.remarks[f"{branch.place}: {quoted(head)} was not understood and passed over"] = None

    def below(self, sheet: _Instance) -> Iterator[_Instance]:
        """The sheets that a sheet brings in."""
        folder = self.path.resolve().parent
        for branch in sheet.root.all("sheet"):
            name = _property(branch, "Sheetfile", "Sheet file")
            shown = quoted(name)
            if not name:
                raise UnreadableError("a sheet must name its file", place=branch.place)
            plain = PurePosixPath(name.replace("\\", "/"))
            target = (sheet.chain[-1].parent / plain).resolve() if "\x00" not in name else folder.parent
            if plain.is_absolute() or not target.is_relative_to(folder):
                raise UnreadableError(
                    f"a sheet's file must lie in the folder of the drawing, not at {shown}", place=branch.place
                )
            if target in sheet.chain:
                raise UnreadableError(f"a sheet must not contain itself; {shown} does", place=branch.place)
            if not target.is_file():
                raise UnreadableError(
                    f"the sheet's file {shown} is not there", "Put it beside the drawing", branch.place
                )
            at = str(Path(self.shown).parent / target.relative_to(folder))
            yield _Instance(f"{sheet.path}/{branch.text('uuid')}", self.tree(target, at), (*sheet.chain, target))

    # ------------------------------------------------------------------ one use of a sheet

    def one(self, sheet: _Instance) -> None:
        wires = Wires()
        for branch in sheet.root.all("wire"):
            points = branch.first("pts")
            line = [_xy(point) for point in (points.all("xy") if points else ())]
            for a, b in pairwise(line):
                wires.add(a, b, branch)
                self.joined.join(("at", sheet.path, a), ("at", sheet.path, b))
        self.buses(sheet)
        self.labels(sheet, wires)
        for branch in sheet.root.all("junction"):
            self.on(sheet, _at(branch), wires)
        symbols = library(sheet.root)
        pins = [pin for branch in sheet.root.all("symbol") for pin in self.symbol(sheet, branch, symbols)]
        self.loose(sheet, wires, pins)

    def on(self, sheet: _Instance, at: At, wires: Wires) -> _Key:
        """A point that takes hold of every wire that it lies on."""
        here: _Key = ("at", sheet.path, at)
        for a in wires.through(at):
            self.joined.join(here, ("at", sheet.path, a))
        return here

    def labels(self, sheet: _Instance, wires: Wires) -> None:
        for branch in sheet.root.all("label", "global_label", "hierarchical_label"):
            name = branch.text()
            if _BUS_NAME.search(name):
                if branch.head != "label":
                    raise _no_bus(f"the {branch.head.replace('_', ' ')} {quoted(name)}", branch)
                continue
            here = self.on(sheet, _at(branch), wires)
            # On one sheet labels of one name are joined, of whatever kind they are.
            self.joined.join(here, ("name", sheet.path, name))
            if branch.head == "global_label":
                self.joined.join(here, ("name", "", name))
            elif branch.head == "hierarchical_label":
                self.joined.join(here, ("pin", sheet.path, name))
            self.names.append((here, 0 if branch.head == "global_label" else 1, name, branch.place))
        for branch in sheet.root.all("sheet"):
            inner = f"{sheet.path}/{branch.text('uuid')}"
            for pin in branch.all("pin"):
                if _BUS_NAME.search(pin.text()):
                    raise _no_bus(f"the pin {quoted(pin.text())} of a sheet", pin)
                self.joined.join(("at", sheet.path, _at(pin)), ("pin", inner, pin.text()))

    def buses(self, sheet: _Instance) -> None:
        """Entries of a bus join nothing by themselves: the wires that leave it carry labels."""
        lines = Wires()
        groups: Union[At] = Union()
        for branch in sheet.root.all("bus"):
            points = branch.first("pts")
            line = [_xy(point) for point in (points.all("xy") if points else ())]
            for a, b in pairwise(line):
                lines.add(a, b, branch)
                groups.join(a, b)
        if not lines:
            return
        for branch in sheet.root.all("junction"):
            for a in lines.through(_at(branch)):
                groups.join(a, _at(branch))
        named: dict[At, tuple[str, Branch]] = {}
        for branch in sheet.root.all("label", "global_label", "hierarchical_label"):
            if not _BUS_NAME.search(branch.text()):
                continue
            for a in lines.through(_at(branch)):
                name, _ = named.setdefault(groups.find(a), (branch.text(), branch))
                if name != branch.text():
                    raise _no_bus(f"a bus called both {quoted(name)} and {quoted(branch.text())}", branch)
        self.remarks[f"{sheet.root.file}: buses are passed over; wires that leave one are joined by their labels"] = (
            None
        )

    def symbol(self, sheet: _Instance, branch: Branch, symbols: dict[str, Symbol]) -> Iterator[tuple[At, Branch]]:
        """Take in a symbol; yield where its pins are."""
        name = branch.text("lib_name") or branch.text("lib_id")
        symbol = symbols.get(name)
        if symbol is None:
            raise UnreadableError(f"a symbol must stand in lib_symbols; {quoted(name)} does not", place=branch.place)
        ref, unit = self.reference(sheet, branch)
        value = _property(branch, "Value")
        style = int(branch.numbers("convert", 1)[0]) if branch.first("convert") else 1
        style = int(branch.numbers("body_style", 1)[0]) if branch.first("body_style") else style
        is_part = not symbol.power and not ref.startswith("#")
        if is_part:
            self.part(ref, unit, value, symbol, branch)
        for pin, at in placed(symbol, branch, unit, style):
            here: _Key = ("at", sheet.path, at)
            if is_part or pin.kind == "power_in":
                yield at, branch
            if symbol.power:
                # A flag that only says where power comes from has no pin that takes power in.
                if pin.kind == "power_in":
                    self.joined.join(here, ("name", sheet.path, value))
                    if symbol.power == "global":
                        self.joined.join(here, ("name", "", value))
                    self.names.append((here, 0, value, branch.place))
            elif is_part:
                self.pins.append((here, (ref, pin.number)))
                if pin.hidden and pin.kind == "power_in":
                    self.joined.join(here, ("name", "", pin.name))
                    self.joined.join(here, ("name", sheet.path, pin.name))
                    self.remarks[
                        f"{branch.file}: pin {visible_pin(pin)} of {ref} is hidden and takes power in: it is joined to "
                        f"all that is called {quoted(pin.name)}"
                    ] = None
        if len(self.pins) > MAX_NODES:
            raise UnreadableError(f"a drawing must not have more than {MAX_NODES} pins", place=branch.place)

    def part(self, ref: str, unit: int, value: str, symbol: Symbol, branch: Branch) -> None:
        if not ref:
            raise UnreadableError("a symbol must have a reference", place=branch.place)
        before = self.units.get((ref, unit))
        if before:
            advice = "Number the parts of the drawing" if ref.endswith("?") else "Give one of them another"
            self.errors.append(
                UnreadableError(f"{quoted(ref)} must be one part; it also stands at {before}", advice, branch.place)
            )
            return
        self.units[ref, unit] = branch.place
        if branch.text("dnp") == "yes":
            self.remarks[f"{branch.place}: {ref} is marked as not fitted; it is taken as fitted"] = None
        if branch.text("on_board") == "no":
            self.remarks[f"{branch.place}: {ref} is marked as not on the board; it is taken as on it"] = None
        pads = self.pads.setdefault(ref, {})
        for pin in symbol.pins:
            pads.setdefault(pin.number, pin.name)
        if ref not in self.parts:
            self.parts[ref] = DrawnPart(ref, value, _property(branch, "Footprint"), place=branch.place)
        if len(self.parts) > MAX_PARTS:
            raise UnreadableError(f"a drawing must not have more than {MAX_PARTS} parts", place=branch.place)

    def reference(self, sheet: _Instance, branch: Branch) -> tuple[str, int]:
        """The reference and unit of a symbol in this use of its sheet."""
        own = _property(branch, "Reference")
        paths = branch.first("instances")
        for project in paths.all("project") if paths else ():
            for path in project.all("path"):
                if path.text() == sheet.path:
                    return path.text("reference") or own, _unit(path) if path.first("unit") else _unit(branch)
        # An older release kept them at the end of the file, and left out the first sheet.
        older = "/" + "/".join([*sheet.path.split("/")[2:], branch.text("uuid")])
        if older in self.listed:
            return self.listed[older]
        return own, _unit(branch)

    def loose(self, sheet: _Instance, wires: Wires, pins: list[tuple[At, Branch]]) -> None:
        """Say where something touches a wire between its ends: without a junction that joins nothing."""
        junctions = {_at(branch) for branch in sheet.root.all("junction")}
        what = [(at, branch, "the end of a wire") for at, branch in wires.ends()]
        what += [(at, branch, f"a pin of {_property(branch, 'Reference') or 'a symbol'}") for at, branch in pins]
        for at, branch, name in what:
            if at not in junctions and wires.inside(at):
                self.remarks[
                    f"{branch.place}: {name} touches a wire between its ends, at {at[0] / 1e4:g}, {at[1] / 1e4:g} mm, "
                    "and there is no junction: not joined"
                ] = None

    # ------------------------------------------------------------------ the outcome

    def result(self) -> Drawn:
        nodes: dict[_Key, set[Node]] = {}
        for here, node in self.pins:
            nodes.setdefault(self.joined.find(here), set()).add(node)
        names: dict[_Key, tuple[int, str, Place]] = {}
        for here, rank, name, place in self.names:
            root = self.joined.find(here)
            names[root] = min(names.get(root, (9, "", place)), (rank, name, place))
        taken: dict[Node, _Key] = {}
        for root, joined in nodes.items():
            for node in sorted(joined):
                if taken.setdefault(node, root) != root:
                    raise UnreadableError(
                        f"a pin must be in one net; pin {quoted(node[1])} of {quoted(node[0])} is drawn more than "
                        "once, in two",
                        place=self.parts[node[0]].place,
                    )
        nets = [
            DrawnNet(names[root][1], frozenset(joined), names[root][2])
            if root in names
            else DrawnNet("", frozenset(joined), self.parts[min(joined)[0]].place)
            for root, joined in nodes.items()
        ]
        nets.sort(key=lambda net: (net.place, net.name, sorted(net.nodes)))
        parts = {
            ref: DrawnPart(
                ref,
                part.value,
                part.footprint,
                tuple(sorted(self.pads[ref].items(), key=lambda pad: natural(pad[0]))),
                part.place,
            )
            for ref, part in self.parts.items()
        }
        several = [str(Path(root.file).name) for real, root in self.trees.items() if self.uses.get(real, 0) > 1]
        if several:
            self.remarks[f"{listed(several)}: used more than once, each use with its own parts"] = None
        return Drawn(self.shown, "schematic", parts, tuple(nets), remarks=_few(tuple(self.remarks)))


#: So many remarks are kept.
_MOST_REMARKS = 40


def _few(remarks: tuple[str, ...]) -> tuple[str, ...]:
    if len(remarks) <= _MOST_REMARKS:
        return remarks
    return (*remarks[:_MOST_REMARKS], f"and {count(len(remarks) - _MOST_REMARKS, 'more remark')} like these")


def visible_pin(pin: Pin) -> str:
    """A pin as a message names it."""
    return quoted(pin.number)[1:-1]


def _no_bus(what: str, branch: Branch) -> UnreadableError:
    return UnreadableError(
        f"buses that lead from sheet to sheet are not read, and {what} is one",
        "Export the netlist from the schematic, and audit that",
        branch.place,
    )


def _at(branch: Branch) -> At:
    x, y, *_ = branch.numbers("at", 2)
    return key(x, y)


def _xy(branch: Branch) -> At:
    try:
        x, y = (float(word) for word in branch.texts)
        return key(x, y)
    except (ValueError, OverflowError):
        raise UnreadableError("xy must have two numbers", place=branch.place) from None


def _unit(branch: Branch) -> int:
    return int(branch.numbers("unit", 1)[0]) if branch.first("unit") else 1


def _property(branch: Branch, *names: str) -> str:
    for prop in branch.all("property"):
        words = prop.texts
        if len(words) > 1 and words[0] in names:
            return words[1]
    return ""
