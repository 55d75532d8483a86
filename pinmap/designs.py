"""From an adapter file to a design: every name resolved on the two maps, every complaint with its place."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from . import library, quantity, yamltree
from .building import board, build, positive, said
from .choices import LOGIC_V
from .contradictions import contradictions
from .design import CardUse, Choice, Design, Fuse, Jumper
from .design_lines import MAX_RUN, LineReader, names_of
from .errors import NotFoundError, PinmapError, Place, UnreadableError
from .findings import Finding, ordered
from .formats_adapter import AdapterFile, BoardFile, BuildFile, ChoiceFile, FuseFile
from .model import PinMap, RemedyKind, Signal
from .pulls import plain_ohms
from .shape import Path as Keys
from .shape import Shape
from .slot import Slot
from .text import count, listed, natural, nearest, quoted, short

if TYPE_CHECKING:
    from .api import Checked

_T = TypeVar("_T")

_LED = ("interrupt", "DMA")  # the groups whose lines a jumper leads
_HOLDS: tuple[RemedyKind, ...] = ("pull up", "pull down", "tie low", "tie high")
_BARE: tuple[RemedyKind, ...] = ("leave open", "jumper")  # neither a value nor another end


class ReadDesign(Struct, frozen=True):
    """What reading an adapter file gave.

    `design` is None where the file, or one of the maps, leaves too much open; `host` and `card` are the maps that it
    names, checked, None where there is no such map. What is wrong inside a map is in its own findings.
    """

    design: Design | None
    complaints: tuple[Finding, ...]
    file: str
    host: Checked | None
    card: Checked | None


def read(
    path: Path,
    shown: str,
    load: Callable[[str], Checked],
    *,
    gauges: Collection[int],
    fitted: Iterable[str] = (),
) -> ReadDesign:
    """Read an adapter file; `shown` names it in messages.

    `load` takes a library name or a path and gives the checked map (raising `PinmapError`); `gauges` are the wire sizes
    of the table, in AWG; `fitted` are options that are fitted beside those in the file. In the design lines bear the
    names of the card's bus, and those to which jumpers lead the names of the host's.
    Raises `UnreadableError` where the file is no YAML of the plain kind; everything else is a complaint.
    """
    return _Reader(path.parent, shown, load, gauges, tuple(fitted)).read(yamltree.load(path, shown))


class _Reader(LineReader):
    def __init__(
        self,
        folder: Path,
        shown: str,
        load: Callable[[str], Checked],
        gauges: Collection[int],
        fitted: tuple[str, ...],
    ):
        super().__init__()
        self.folder, self.shown, self.load, self.gauges, self.fitted = folder, shown, load, gauges, fitted

    def read(self, tree: yamltree.Node) -> ReadDesign:
        shape, stand_ins = self.shape, {"format": 1, "title": "", "host": "", "card": ""}
        raw = shape.struct(tree, AdapterFile, stand_ins)
        if any(complaint.code == "key-twice" for complaint in shape.complaints):
            # Said; from here on the last of them holds, and no path means two values.
            said_already = shape.complaints
            shape = self.shape = Shape()
            raw = shape.struct(_once(tree), AdapterFile, stand_ins)
            shape.complaints += said_already
        if raw is None:
            return ReadDesign(None, ordered(shape.complaints), self.shown, None, None)
        host, host_path = self._map("host", raw.host)
        card, card_path = self._map("card", raw.card)
        maps = [checked.map for checked in (host, card) if checked and checked.map]
        fitted = self._options(raw, maps)
        if len(maps) == 2:
            self.slot = Slot(maps[0], maps[1], fitted)
        built = build(self.shape, raw.build, self.gauges) if isinstance(raw.build, BuildFile) else None
        cards = self._cards(raw)
        choices, jumpers, fuses = self._choices(raw), self._jumpers(raw), self._fuses(raw)
        design = Design(
            title=raw.title,
            host=raw.host,
            card=raw.card,
            host_path=host_path,
            card_path=card_path,
            fitted=fitted,
            build=built,
            clock_hz=positive(self.shape, raw.clock, "Hz", ("clock",)),
            other_slots=raw.other_slots,
            drive_a=positive(self.shape, raw.drive, "A", ("drive",)),
            cards=cards,
            choices=tuple(choices.values()),
            jumpers=tuple(jumpers.values()),
            fuses=tuple(fuses.values()),
            decoupling=raw.decoupling == "yes",
            about=raw.about,
            place=Place(self.shown),
            other_draws_a=self._other_draws(raw),
            board=board(self.shape, raw.board) if isinstance(raw.board, BoardFile) else None,
        )
        if self.slot:
            led = {r.signal.name for key in shape.names("jumpers") if (r := self.known(self.slot, key))}
            shape.complaints += contradictions(self.slot, design, led)
        usable = self.slot is not None and not shape.lacking
        return ReadDesign(design if usable else None, ordered(shape.complaints), self.shown, host, card)

    # -------------------------------------------------------------- the maps

    def _map(self, key: str, written: str) -> tuple[Checked | None, str]:
        """Load one of the two maps; return it with what it was asked for by."""
        if key in self.shape.lacking:
            return None, ""
        at = self.shape.values[key,]
        is_path = written.endswith((".yaml", ".yml")) or "/" in written or os.sep in written
        asked = str(self.folder / written) if is_path else written
        try:
            checked = self.load(asked)
        except NotFoundError as error:
            self.shape.complain(
                "value-shape",
                f"{key} must be the name of a connector in the library, or the path of a map, not {quoted(written)}",
                error.advice,
                at=at,
            )
        except UnreadableError as error:
            self.shape.complain(
                "value-shape",
                f"{key} must be a map that can be read, not {quoted(written)}; looked for {quoted(asked, 200)}: "
                f"{error.message}",
                self._beside(asked) or error.advice,
                at=at,
            )
        except PinmapError as error:
            self.shape.complain("value-shape", f"{key} must be a map that can be read: {error}", at=at)
        else:
            if checked.map is None:
                what = count(len(checked.findings), "complaint leaves", "complaints leave")
                self.shape.complain(
                    "value-shape",
                    f"{key} must be a map that can be read; {what} nothing of {quoted(checked.file, 200)}",
                    f"`pinmap check {short(asked, 200)}` shows them",
                    at=at,
                )
            return checked, asked
        return None, asked

    @staticmethod
    def _beside(asked: str) -> str:
        """Advise of a file in the same folder, or a connector of the library, that bears a name like this."""
        path = Path(asked)
        try:
            if path.exists():
                return ""
            files = {p.stem: p.name for p in path.parent.iterdir() if p.suffix in (".yaml", ".yml")}
        except (OSError, ValueError):
            files = {}
        # Without the ending, which is alike in all of them.
        near = [files[stem] for stem in nearest(path.stem, files)]
        near = near or nearest(path.stem, (entry.name for entry in library.entries()))
        return f"Did you mean {near[0]}?" if near else ""

    def _options(self, raw: AdapterFile, maps: list[PinMap]) -> tuple[str, ...]:
        known = sorted({option for pin_map in maps for option in pin_map.options})
        if len(maps) < 2:
            return ()
        out: dict[str, None] = {option: None for option in self.fitted if option in known}
        for option, path in self._placed(raw.options, ("options",)):
            if option in known:
                out[option] = None
                continue
            self.shape.complain(
                "option-unknown",
                f"options must name what can be fitted ({listed(known, 'or') or 'neither map has an option'}), "
                f"not {quoted(option)}",
                self.shape.nearest(option, known),
                at=self.shape.values[path],
            )
        return tuple(out)

    # -------------------------------------------------------------- values

    def _placed(self, values: Sequence[_T], path: Keys) -> list[tuple[_T, Keys]]:
        """Give each entry of a list its path in the file; entries left out as wrong have gone."""
        paths: list[Keys] = []
        index = 1
        while (here := (*path, str(index))) in self.shape.values:
            if here not in self.shape.broken:
                paths.append(here)
            index += 1
        return list(zip(values, paths, strict=True))

    # -------------------------------------------------------------- cards

    def _cards(self, raw: AdapterFile) -> tuple[CardUse, ...]:
        out = []
        for card, path in self._placed(raw.cards, ("cards",)):
            at = self.shape.values[path]
            kinds = [kind.name for kind in self.slot.card.bus.kinds] if self.slot else []
            kind = card.kind
            if kind and kind not in kinds:
                if self.slot:
                    self.shape.complain(
                        "value-shape",
                        f"{said(path)} › kind must be a kind of card of {self.slot.card.bus.name} "
                        f"({listed(kinds, 'or')}), not {quoted(kind)}",
                        self.shape.nearest(kind, kinds),
                        at=self.shape.values[(*path, "kind")],
                    )
                kind = ""
            draws = self._draws(card.draws, (*path, "draws"))
            needs: dict[str, None] = {}
            for written, item in self._placed(card.needs, (*path, "needs")):
                here = self.shape.values[item]
                needs |= dict.fromkeys(line.name for line in self.lines(written, here, f"{said(path)} › needs"))
            loads = None if isinstance(card.loads, UnsetType) else card.loads
            out.append(CardUse(card.name, kind, draws, tuple(needs), loads, at))
        return tuple(out)

    def _draws(self, written: Mapping[str, str], path: Keys) -> dict[str, float]:
        """Return what is drawn from rails of the card, in A; `path` leads to the block in the file."""
        draws: dict[str, float] = {}
        first: dict[str, str] = {}
        for key, current in written.items():
            here = self.shape.keys[(*path, key)]
            rail = self.rail(key, here, said(path))
            amps = positive(self.shape, current, "A", (*path, key), zero=True)
            if rail in draws:
                self.twice(said(path), rail, draws[rail] == amps, self.shape.keys[(*path, first[rail])], here)
            elif rail is not None and amps is not None:
                draws[rail], first[rail] = amps, key
        return draws

    def _other_draws(self, raw: AdapterFile) -> dict[str, float]:
        """Return what else is drawn from the machine, in A by rail; complain of rails that it does not bring."""
        draws = self._draws(raw.other_draws, ("other draws",))
        for key in raw.other_draws:
            reading = self.known(self.slot, key) if self.slot else None
            if self.slot and reading and reading.signal.name in draws.keys() - self.slot.brought.keys():
                self.shape.complain(
                    "supply-unknown",
                    f"other draws must name a rail that the slot brings, and {self.slot.host.name} does not bring "
                    f"{reading.signal.name}",
                    "Take it out: what is drawn from it has no share in what the adapter gets",
                    at=self.shape.keys["other draws", key],
                )
        return draws

    # -------------------------------------------------------------- choices

    def _choices(self, raw: AdapterFile) -> dict[str, Choice]:
        out: dict[str, Choice] = {}
        for key, value in raw.remedies.items():
            at, what = self.shape.keys["remedies", key], said(("remedies", key))
            chosen = value if isinstance(value, ChoiceFile) else ChoiceFile(kind=value)
            lines = self.needed("remedy", self.lines(key, at, what), at)
            if chosen.kind == "none":
                self.shape.complain(
                    "value-shape", f"{what} must be something that can be done, not none", "Write leave open", at=at
                )
                continue
            wrong = {line.name: why for line in lines if (why := self._unfit(line, chosen.kind))}
            for why in dict.fromkeys(wrong.values()):
                names = [name for name, reason in wrong.items() if reason == why]
                self.shape.complain(
                    "value-shape", f"{what} must not be {quoted(chosen.kind)}: {names_of(names)} {why}", at=at
                )
            lines = [line for line in lines if line.name not in wrong]
            to = self._end(key, chosen, lines)
            if not self._valued(key, chosen, lines) or to is None:
                continue
            for line in lines:
                choice = Choice(line.name, chosen.kind, chosen.value, to, at)
                if line.name in out:
                    old = out[line.name]
                    alike = (old.kind, old.value, old.to) == (choice.kind, choice.value, choice.to)
                    self.twice("remedies", line.name, alike, old.place, at)
                else:
                    out[line.name] = choice
        return out

    def _unfit(self, line: Signal, kind: RemedyKind) -> str:
        """Say why a remedy of this kind is none for the line, or ""."""
        assert self.slot is not None  # noqa: S101 - without it there is no line
        usual = line.absent.remedy.kind if line.absent else None
        if kind in ("regulator", "separate feed") and line.group != "supply":
            return "is no supply, and nothing else is fed"
        if kind in _HOLDS and line.is_power:
            return f"is a {line.group}, which is fed and never pulled or tied"
        if kind == "oscillator" and not (line.frequency or usual == kind):
            return "is no clock"
        if kind == "reset circuit" and usual != kind:
            return "is no reset"
        if kind == "inverter" and line.name not in self.slot.opposite:
            return "is not there with the opposite polarity, so there is nothing to invert"
        if kind == "jumper" and line.group not in _LED:
            return "is neither an interrupt nor a DMA line"
        return ""

    def _valued(self, key: str, chosen: ChoiceFile, lines: list[Signal]) -> bool:
        """Whether the value fits the kind of remedy; if not, that has been complained about."""
        text, path = chosen.value, ("remedies", key, "value")
        if not text:
            return True
        at = self.shape.values[path]
        if chosen.kind in (*_BARE, "tie low", "tie high"):
            self.shape.complain(
                "value-shape", f"{said(path)} must be left out for {chosen.kind}, not be {quoted(text)}", at=at
            )
            return False
        unit = {"pull up": "Ω", "pull down": "Ω", "oscillator": "Hz"}.get(chosen.kind)
        if unit:
            return positive(self.shape, plain_ohms(text) if unit == "Ω" else text, unit, path) is not None
        if chosen.kind not in ("regulator", "separate feed") or not re.match(r"\s*[+\-−]?\s*[\d.]+\s*(V\b|$)", text):
            return True  # the name of a part, as a parts list says it
        made = self.shape.measured(text, "V", path)
        wrong = [line for line in lines if line.volts is not None and made is not None and line.volts != made]
        for line in wrong[:1]:
            self.shape.complain(
                "value-shape",
                f"{said(path)} must be the {quantity.volts(line.volts or 0)} of {line.name}, not {quoted(text)}",
                at=at,
            )
        return made is not None and not wrong

    def _end(self, key: str, chosen: ChoiceFile, lines: list[Signal]) -> str | None:
        """Return where the other end of a remedy goes, by its own name; None where it is wrong, which is said."""
        path = ("remedies", key, "to")
        if not chosen.to:
            return ""
        at, slot = self.shape.values[path], self.slot
        if chosen.kind in _BARE:
            self.shape.complain(
                "value-shape",
                f"{said(path)} must be left out for {chosen.kind}, not be {quoted(chosen.to)}",
                "The lines that a jumper leads to stand under jumpers" if chosen.kind == "jumper" else "",
                at=at,
            )
            return None
        ends = self.lines(chosen.to, at, said(path))
        if slot is None or len(ends) != 1:
            if len(ends) > 1:
                self.shape.complain("value-shape", f"{said(path)} must be one line, not {quoted(chosen.to)}", at=at)
            return None
        (end,) = ends
        wanted = ""
        if chosen.kind in ("pull up", "tie high") and not (end.volts and 0 < end.volts <= LOGIC_V):
            wanted = f"the supply of the logic, {quantity.volts(LOGIC_V)}"
        elif chosen.kind in ("pull down", "tie low") and end.group != "return":
            wanted = "a return"
        elif chosen.kind == "regulator" and (end.group != "supply" or end in lines):
            wanted = "another rail, from which it is fed"
        if wanted:
            self.shape.complain("value-shape", f"{said(path)} must be {wanted}, not {quoted(chosen.to)}", at=at)
            return None
        return end.name

    # -------------------------------------------------------------- jumpers, fuses

    def _jumpers(self, raw: AdapterFile) -> dict[str, Jumper]:
        out: dict[str, Jumper] = {}
        for key, value in raw.jumpers.items():
            path = ("jumpers", key)
            at, what = self.shape.keys[path], said(path)
            lines = self.lines(key, at, what)
            if len(lines) > 1:
                self.shape.complain("value-shape", f"{what} must be one line: each has a jumper of its own", at=at)
            targets = [(value, path)] if isinstance(value, str) else self._placed(value, path)
            if not targets and (*path, "1") not in self.shape.values:
                self.shape.complain("value-shape", f"{what} must name at least one line of the slot", at=at)
            line = lines[0] if len(lines) == 1 else None
            if line and line.group not in _LED:
                self.shape.complain(
                    "value-shape",
                    f"{what} must be an interrupt or DMA line; {line.name} is in the group {line.group}",
                    at=at,
                )
                line = None
            to: list[str] = []
            for written, target in targets:
                to += self._targets(line, written, self.shape.values[target], what)
            for twice in dict.fromkeys(name for name in to if to.count(name) > 1):
                self.shape.complain("key-twice", f"{what} must name {twice} once", "Take one of the two out", at=at)
            to = list(dict.fromkeys(to))
            if line is None or not self.needed("jumper", [line], at) or not to:
                continue
            if line.name in out:
                self.twice("jumpers", line.name, out[line.name].to == tuple(to), out[line.name].place, at)
            else:
                out[line.name] = Jumper(line.name, tuple(to), at)
        return out

    def _targets(self, line: Signal | None, written: str, at: Place, what: str) -> list[str]:
        """Return the host's lines that a jumper of `line` can lead to; complain of those to which it cannot."""
        slot = self.slot
        names = self.shape.expanded(written, at)
        if slot is None or len(names) > MAX_RUN:
            return []
        out = []
        for name in names:
            reading = slot.host_names.read(name)
            if reading is None:
                self.shape.complain(
                    "name-unknown",
                    f"{what} must lead to a line of the host's bus ({slot.host.bus.name}), not {quoted(name)}",
                    self.near(slot.host_names, name),
                    at=at,
                )
                continue
            there = reading.signal
            contact = slot.at_host.get(there.name)
            wrong, advice = "", ""
            if line and there.group != line.group:
                wrong = (
                    f"must lead to a line of its own group: {line.name} is in the group {line.group}, "
                    f"{there.name} in {there.group}"
                )
            elif line and (there.driver, there.active) != (line.driver, line.active):
                wrong = (
                    f"must lead to a line that does the same: {line.name} is active {line.active} and driven by the "
                    f"{line.driver}, {there.name} active {there.active} and driven by the {there.driver}"
                )
            elif contact is None:
                wrong = f"must lead to a line that the slot brings, and {slot.host.name} {self._lack(slot, there.name)}"
                alike = [n for n in slot.at_host if line and (s := slot.at_host[n].signal) and s.group == line.group]
                advice = (
                    f"It brings {names_of(sorted(alike, key=natural))}" if alike else "It brings none of that group"
                )
            elif contact.inverted:
                wrong = (
                    f"must lead to a line that the slot brings as the bus has it, and {slot.host.name} has "
                    f"{contact.name} ({contact.label}), of opposite polarity"
                )
            if wrong:
                self.shape.complain("jumper-nowhere", f"{what} {wrong}", advice, at=at)
            elif contact:
                out.append(there.name)
        return out

    @staticmethod
    def _lack(slot: Slot, name: str) -> str:
        options = list(dict.fromkeys(c.option for c in slot.host.by_signal.get(name, ()) if c.option))
        if options:
            return f"brings {name} only with {listed(options, 'or')}"
        return f"does not tell which contact is {name}" if name in slot.host.by_signal else f"has no {name}"

    def _fuses(self, raw: AdapterFile) -> dict[str, Fuse]:
        out: dict[str, Fuse] = {}
        for key, value in raw.fuses.items():
            path = ("fuses", key)
            at = self.shape.keys[path]
            block = isinstance(value, FuseFile)
            rail = self.rail(key, at, "fuses")
            rating = positive(
                self.shape,
                value.rating if isinstance(value, FuseFile) else value,
                "A",
                (*path, "rating") if block else path,
            )
            resistance = value.resistance if isinstance(value, FuseFile) else UNSET
            ohms = positive(self.shape, resistance, "Ω", (*path, "resistance"))
            if rail is None or rating is None or self.slot is None:
                continue
            fuse = Fuse(rail, rating, isinstance(value, FuseFile) and value.resettable == "yes", at, ohms)
            if rail in out:
                alike = replace(out[rail], place=at) == fuse
                self.twice("fuses", rail, alike, out[rail].place, at)
                continue
            out[rail] = fuse
        return out


def _once(node: yamltree.Node) -> yamltree.Node:
    """Return the tree with each key once in its block: the last one where there are several."""
    if isinstance(node, yamltree.Row):
        return yamltree.Row(tuple(_once(child) for child in node.items), node.place)
    if not isinstance(node, yamltree.Block):
        return node
    last = {key.text: (key, _once(child)) for key, child in node.items}
    return yamltree.Block(tuple(last.values()), node.place)
