"""From YAML to the model. Nothing else knows YAML; every complaint has its file, line and column, and all are made."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path

from msgspec import UNSET, Struct, UnsetType

from . import formats, forms, quantity, yamltree
from .body import Body, Form, Numbering, Scheme, Section
from .errors import PinmapError, Place
from .findings import Finding, ordered
from .model import Absent, Bus, CardKind, Contact, Elsewhere, PinMap, Remedy, Signal, Supply
from .naming import Names, expand, unused
from .shape import Entries, Shape
from .text import listed, natural, nearest, visible

MAX_CONTACTS = 20_000


class ReadMap(Struct, frozen=True):
    """What reading a file gave: the map, or None where too much is missing to build one, and the complaints."""

    map: PinMap | None
    complaints: tuple[Finding, ...]
    file: str


# ---------------------------------------------------------------------- bus dictionaries


class DictionaryError(PinmapError):
    """A bus dictionary or the table of forms is wrong; `complaints` says what."""

    def __init__(self, complaints: tuple[Finding, ...]):
        first = complaints[0]
        more = f" (and {len(complaints) - 1} more)" if len(complaints) > 1 else ""
        super().__init__(f"{first.message}{more}", advice=first.advice, place=first.place)
        self.complaints = complaints


def read_bus(path: Path, shown: str, name: str) -> Bus:
    """Read a signal dictionary. Raises `UnreadableError`, or `DictionaryError` with every complaint."""
    shape = Shape()
    raw = shape.struct(yamltree.load(path, shown), formats.BusFile)
    bus = _bus(raw, shape, name) if raw else None
    if bus is None or shape.complaints:
        raise DictionaryError(ordered(shape.complaints))
    return bus


def _bus(raw: formats.BusFile, shape: Shape, name: str) -> Bus | None:
    def cite(key: str, at: tuple[str, ...]) -> str:
        if key not in raw.sources:
            shape.complain(
                "value-shape",
                f"a source must be one of {listed(raw.sources, 'or')}, not {key!r}",
                at=shape.values.get(at, Place(path_file)),
            )
        return raw.sources.get(key, key)

    path_file = next(iter(shape.values.values())).file
    signals: dict[str, Signal] = {}
    for written, entry in raw.signals.items():
        try:
            run = expand(written)
        except ValueError as error:
            shape.complain("run-length", str(error), at=shape.keys["signals", written])
            continue
        for line in run:
            if line in signals:
                shape.complain("signal-twice", f"{line} must be described once", at=shape.keys["signals", written])
            signals[line] = _signal(line, entry, shape, ("signals", written), cite)
    kinds: dict[str, CardKind] = {}
    for index, kind in enumerate(raw.kinds):
        kinds[kind.name] = _kind(kind, kinds, shape, ("kinds", str(index)), cite)
    reach = raw.return_reach
    count = raw.return_count
    try:
        return Bus(
            name=name,
            title=raw.title,
            about=raw.about,
            signals=signals,
            kinds=tuple(kinds.values()),
            connectors=tuple(raw.connectors),
            sources=dict(raw.sources),
            return_count=int(count.value) if isinstance(count, formats.FactFile) else 0,
            return_reach_mm=quantity.parse(reach.value, "mm") if isinstance(reach, formats.FactFile) else 0.0,
        )
    except ValueError as error:
        shape.complain("value-shape", str(error), at=Place(path_file))
        return None


_Cite = Callable[[str, tuple[str, ...]], str]


def _signal(name: str, entry: formats.SignalFile, shape: Shape, path: tuple[str, ...], cite: _Cite) -> Signal:
    number = re.search(r"\d+", name)
    sources = {"": cite(entry.source, (*path, "source"))}
    sources |= {fact: cite(key, (*path, "source of", fact)) for fact, key in entry.source_of.items()}
    fields = {f.replace("_", " ") for f in entry.__struct_fields__}
    for key in entry.source_of:
        if key not in fields | {"name"}:
            shape.complain(
                "key-unknown",
                f"source of must name a fact of the signal, not {key!r}",
                at=shape.keys[(*path, "source of", key)],
            )

    def fact(key: str, value: formats.FactFile | formats.PullFile | UnsetType, text: str = "") -> str:
        if isinstance(value, UnsetType):
            return ""
        sources[key] = cite(value.source, (*path, key, "source"))
        return text or value.value

    def measured(text: str, unit: str, *keys: str) -> float | None:
        return _measured(shape, text, unit, (*path, *keys)) if text else None

    tolerance, current = fact("tolerance", entry.tolerance), fact("current", entry.current)
    pull = entry.pull
    absent = entry.absent
    return Signal(
        name=name,
        group=entry.group,
        about=entry.about,
        driver=entry.driver,
        output=entry.output,
        active=entry.active,
        idle=entry.idle,
        aliases=tuple(a.replace("{n}", number[0] if number else "") for a in entry.aliases),
        pull=fact("pull", pull, f"{pull.value} {pull.to}") if isinstance(pull, formats.PullFile) else "",
        sink=fact("sink", entry.sink),
        frequency=fact("frequency", entry.frequency),
        elsewhere={
            bus: Elsewhere("" if there.name == "none" else there.name, there.differs)
            for bus, there in entry.elsewhere.items()
        },
        absent=None
        if isinstance(absent, UnsetType)
        else Absent(
            absent.effect,
            Remedy(absent.remedy.kind, absent.remedy.why, absent.remedy.value, absent.remedy.to),
            absent.grade,
        ),
        volts=None if isinstance(entry.volts, UnsetType) else measured(entry.volts, "V", "volts"),
        tolerance_percent=measured(tolerance, "%", "tolerance", "value"),
        current_a=measured(current, "A", "current", "value"),
        sources=sources,
    )


def _kind(
    kind: formats.KindFile, earlier: Mapping[str, CardKind], shape: Shape, path: tuple[str, ...], cite: _Cite
) -> CardKind:
    like = earlier.get(kind.like) if kind.like else None
    if kind.like and like is None:
        shape.complain(
            "value-shape",
            f"like must name an earlier kind of card, not {kind.like!r}",
            at=shape.values[(*path, "like")],
        )
    needs = [line for run in kind.needs for line in expand(run)]
    helps = [line for run in kind.helps for line in expand(run)]
    one_of = tuple(tuple(line for run in group for line in expand(run)) for group in kind.one_of)
    if like:
        needs = [*like.needs, *(n for n in needs if n not in like.needs)]
        helps = [*(h for h in like.helps if h not in needs), *(h for h in helps if h not in like.helps)]
        one_of = one_of or like.one_of
    return CardKind(kind.name, kind.about, tuple(needs), tuple(helps), one_of, cite(kind.source, (*path, "source")))


def _measured(shape: Shape, text: str, unit: str, path: tuple[str, ...]) -> float | None:
    try:
        return quantity.parse(text, unit)
    except ValueError as error:
        shape.complain("value-shape", f"{' › '.join(path[-2:])}: {visible(str(error))}", at=shape.values[path])
        return None


def read_forms(path: Path, shown: str) -> dict[Form, forms.FormFacts]:
    """Read the customs of the forms. Raises `UnreadableError`, or `DictionaryError` with every complaint."""
    shape = Shape()
    raw = shape.struct(yamltree.load(path, shown), formats.FormsFile)
    if raw is None or shape.complaints:
        raise DictionaryError(ordered(shape.complaints))
    out: dict[Form, forms.FormFacts] = {}
    for form, facts in raw.forms.items():
        rating, pads, print_ = facts.rating, facts.pads, facts.footprint
        out[form] = forms.FormFacts(
            pads=(pads.labels, pads.first) if isinstance(pads, formats.FormPadsFile) else None,
            footprint=print_.name if isinstance(print_, formats.FormFootprintFile) else "",
            footprint_rows=print_.rows if isinstance(print_, formats.FormFootprintFile) else 0,
            footprint_pitch_mm=quantity.parse(print_.pitch, "mm")
            if isinstance(print_, formats.FormFootprintFile)
            else 0.0,
            rating_a=quantity.parse(rating.value, "A") if isinstance(rating, formats.FactFile) else None,
            rating_source=raw.sources[rating.source] if isinstance(rating, formats.FactFile) else "",
        )
    return out


# ---------------------------------------------------------------------- pin maps


def read_map(
    path: Path,
    shown: str,
    *,
    name: str,
    bus_named: Callable[[str], Bus],
    bus_names: Callable[[], list[str]],
    customs: Callable[[], Mapping[Form, forms.FormFacts]],
) -> ReadMap:
    """Read a pin map file.

    `shown` names the file in messages, `name` the map. `bus_named` finds a dictionary (raising `PinmapError`),
    `bus_names` lists what there is, `customs` gives the customs of the forms.
    Raises `UnreadableError` where the file is no YAML of the plain kind; everything else is a complaint.
    """
    return _MapReader(shown, name, bus_named, bus_names, customs).read(yamltree.load(path, shown))


class _MapReader(Struct, dict=True):
    shown: str
    name: str
    bus_named: Callable[[str], Bus]
    bus_names: Callable[[], list[str]]
    customs: Callable[[], Mapping[Form, forms.FormFacts]]

    def read(self, tree: yamltree.Node) -> ReadMap:
        self.shape = Shape(frozenset({("contacts",)}))
        raw = self.shape.struct(tree, formats.MapFile)
        pin_map = self._map(raw) if raw else None
        return ReadMap(pin_map, ordered(self.shape.complaints), self.shown)

    def _map(self, raw: formats.MapFile) -> PinMap | None:
        bus = self._bus(raw.bus)
        body = self._body(raw.body)
        self._texts(raw)
        if bus is None or body is None:
            return None
        own = self._own(raw, bus)
        names = Names(bus, tuple(own.values()))
        contacts = self._contacts(raw, body, names)
        supplies = self._supplies(raw, contacts, names)
        order = {label: i for i, label in enumerate(body.labels)}
        described = {c.label for c in contacts}
        everything = [
            *contacts,
            *(
                Contact(label, "undescribed", place=self.shape.keys["contacts",])
                for label in body.labels
                if label not in described
            ),
        ]
        everything.sort(key=lambda c: (order[c.label], c.place))
        return PinMap(
            name=self.name,
            title=visible(raw.title),
            about=visible(raw.about),
            source=visible(raw.source),
            bus=bus,
            end=raw.end,
            body=body,
            contacts=tuple(everything),
            marks=raw.marks,
            options={o: visible(t) for o, t in raw.options.items()},
            own=own,
            supplies=supplies,
            place=Place(self.shown),
        )

    def _bus(self, written: str) -> Bus | None:
        try:
            return self.bus_named(written)
        except DictionaryError:
            raise
        except PinmapError:
            known = self.bus_names()
            near = nearest(written, known)
            self.shape.complain(
                "value-shape",
                f"bus must be one of {listed(known, 'or')}, not {visible(written)!r}",
                f"Did you mean {near[0]}?" if near else "",
                at=self.shape.values["bus",],
            )
            return None

    def _texts(self, raw: formats.MapFile) -> None:
        """Point out texts that hold what cannot be printed; they are shown with escapes."""
        for path, place in self.shape.values.items():
            text = _text_at(raw, path)
            if text is not None and visible(text) != text:
                self.shape.complain(
                    "text-unprintable",
                    f"{visible(' › '.join(path))} must be one line of printable text, not {visible(text[:80])!r}",
                    "It is shown with escapes",
                    at=place,
                )

    # -------------------------------------------------------------- body

    def _body(self, raw: formats.BodyFile) -> Body | None:
        shape = self.shape
        before = len(shape.complaints)
        pitch = self._length(raw.pitch, "pitch")
        row_pitch = self._length(raw.row_pitch, "row pitch") if isinstance(raw.row_pitch, str) else pitch
        rating = _measured(shape, raw.rating, "A", ("body", "rating")) if isinstance(raw.rating, str) else None
        sections = self._sections(raw)
        if len(shape.complaints) > before or sections is None or pitch is None or row_pitch is None:
            return None
        mate = raw.mate if isinstance(raw.mate, formats.MateFile) else formats.MateFile()
        source = {"": raw.source} if isinstance(raw.source, str) else dict(raw.source)
        for fact in source:
            if fact and fact not in {f.rstrip("_").replace("_", " ") for f in raw.__struct_fields__} | {"dimensions"}:
                shape.complain(
                    "key-unknown",
                    f"body › source must name a key of the body, not {visible(fact)!r}",
                    at=shape.keys["body", "source", fact],
                )
        try:
            body = Body(
                form=raw.form,
                sections=sections,
                scheme=raw.labels,
                first=raw.first,
                pitch_mm=pitch,
                row_pitch_mm=row_pitch,
                gender=raw.gender if isinstance(raw.gender, str) else None,
                pads=self._pads(raw.pads, raw),
                footprint=raw.footprint,
                mate_pads=self._pads(mate.pads, raw, mirrored=True),
                mate_footprint=mate.footprint,
                rating_a=rating,
                sources=tuple((k, v) for k, v in source.items() if v),
            )
            if raw.form == "din 41612" and body.gender is None:
                raise ValueError("a din 41612 connector must say its gender, male or female")  # noqa: TRY301
            if raw.form != "din 41612" and body.gender is not None:
                raise ValueError(f"gender is for din 41612 only; a {raw.form} has its own")  # noqa: TRY301
            body = forms.complete(body, self.customs())
            _ = body.pad_of, body.mate().pad_of
        except (ValueError, KeyError, IndexError) as error:
            shape.complain("body-impossible", str(error), at=shape.keys["body",])
            return None
        return body

    def _length(self, text: str, key: str) -> float | None:
        return _measured(self.shape, text, "mm", ("body", key))

    def _sections(self, raw: formats.BodyFile) -> tuple[Section, ...] | None:
        shape, at = self.shape, self.shape.keys["body",]
        if raw.sections:
            extra = [k for k in ("rows", "places", "letters", "from") if ("body", k) in shape.keys]
            if extra:
                shape.complain(
                    "body-impossible",
                    f"a body in sections must give {listed(extra)} in each section, not beside them",
                    at=shape.keys["body", extra[0]],
                )
                return None
            parts = raw.sections
        elif isinstance(raw.places, UnsetType):
            shape.complain("key-missing", "body must have rows and places, or sections", at=at)
            return None
        else:
            parts = [
                formats.SectionFile(places=raw.places, letters=raw.letters, rows=raw.rows, from_=raw.from_),
            ]
        if sum(p.places * (p.rows if isinstance(p.rows, int) else 4) for p in parts) > MAX_CONTACTS:
            shape.complain("body-impossible", f"a body must not have more than {MAX_CONTACTS} contacts", at=at)
            return None
        out = []
        for index, part in enumerate(parts):
            path = ("body", "sections", str(index)) if raw.sections else ("body",)
            letters = tuple(_words(part.letters))
            rows = part.rows if isinstance(part.rows, int) else len(letters) or None
            if rows is None:
                shape.complain(
                    "key-missing", f"{' › '.join(path)} must have rows, or letters", at=shape.values.get(path, at)
                )
                return None
            if not letters and raw.labels == "rows":
                if rows > 26:
                    shape.complain("body-impossible", "more than 26 rows must be given letters", at=at)
                    return None
                letters = tuple("ABCDEFGHIJKLMNOPQRSTUVWXYZ"[:rows])
            along = _measured(shape, part.along, "mm", (*path, "along")) if raw.sections else 0.0
            across = _measured(shape, part.across, "mm", (*path, "across")) if raw.sections else 0.0
            if along is None or across is None:
                return None
            try:
                out.append(Section(rows, part.places, letters, part.from_, along, across))
            except ValueError as error:
                shape.complain("body-impossible", str(error), at=shape.values.get(path, at))
                return None
        return tuple(out)

    def _pads(
        self, pads: Scheme | formats.PadsFile | UnsetType, raw: formats.BodyFile, *, mirrored: bool = False
    ) -> Numbering | None:
        if isinstance(pads, UnsetType):
            return None
        first = raw.first
        if mirrored:
            vertical, horizontal = first.split()
            first = f"{vertical} {'right' if horizontal == 'left' else 'left'}"  # type: ignore[assignment]
        if not isinstance(pads, formats.PadsFile):
            return Numbering(pads, first)
        letters = tuple(_words(pads.letters))
        corner = first if isinstance(pads.first, UnsetType) else pads.first
        return Numbering(pads.labels, corner, (letters,) if letters else ())

    # -------------------------------------------------------------- lines

    def _own(self, raw: formats.MapFile, bus: Bus) -> dict[str, Signal]:
        shape, names = self.shape, Names(bus)
        out: dict[str, Signal] = {}
        for name, entry in raw.own_signals.items():
            if names.read(name):
                shape.complain(
                    "value-shape",
                    f"an own signal must not bear a name of the bus, like {visible(name)}",
                    "Leave it out, or give the maker's line a name of its own",
                    at=shape.keys["own signals", name],
                )
                continue
            if isinstance(entry, str):
                out[name] = Signal(name, "own", visible(entry))
                continue
            volts = None
            if isinstance(entry.volts, str):
                volts = _measured(shape, entry.volts, "V", ("own signals", name, "volts"))
                if entry.group != "supply":
                    shape.complain(
                        "value-shape",
                        f"own signals › {visible(name)}: only a supply has volts",
                        at=shape.values["own signals", name, "volts"],
                    )
                    volts = None
            out[name] = Signal(name, entry.group, visible(entry.about), volts=volts)
        return out

    def _contacts(self, raw: formats.MapFile, body: Body, names: Names) -> list[Contact]:
        assert isinstance(raw.contacts, Entries)  # noqa: S101 - as Shape makes them
        out: list[Contact] = []
        for key, entry in raw.contacts.pairs:
            labels = self._labels(key, body)
            if labels is None:
                continue
            written = entry if isinstance(entry, str) else entry.signal
            lines = self._lines(key, written, len(labels), names)
            if lines is None:
                continue
            out.extend(
                self._contact(raw, key, label, line, entry, names) for label, line in zip(labels, lines, strict=True)
            )
        return out

    def _labels(self, key: yamltree.Scalar, body: Body) -> list[str] | None:
        run, _, by = key.text.partition(" by ")
        first, dots, last = (part.strip() for part in run.partition(".."))
        spelled = {label.casefold(): label for label in body.labels} | {label: label for label in body.labels}
        ends = [first, last] if dots else [first]
        spelled |= {end: spelled[end.casefold()] for end in ends if end not in spelled and end.casefold() in spelled}
        unknown = [end for end in ends if end not in spelled]
        if unknown or (by and not dots):
            what = listed(visible(u) for u in unknown) if unknown else visible(key.text)
            near = nearest(unknown[0], body.labels) if unknown else []
            few = listed(_span(body))
            self.shape.complain(
                "contact-off-body",
                f"a contact must be on the body ({few}), not {what}",
                f"Did you mean {near[0]}?" if near else "",
                at=key.place,
            )
            return None
        if not dots:
            return [spelled[first]]
        try:
            if by and not by.strip().isdecimal():
                raise ValueError(f"a run's step must be a whole number, not {visible(by.strip())!r}")  # noqa: TRY301
            return body.run(spelled[first], spelled[last], int(by) if by else 1)
        except ValueError as error:
            self.shape.complain("contact-off-body", str(error), at=key.place)
            return None

    def _lines(self, key: yamltree.Scalar, written: str, wanted: int, names: Names) -> list[str] | None:
        try:
            lines = expand(written)
        except ValueError as error:
            self.shape.complain("run-length", visible(str(error)), at=key.place)
            return None
        if len(lines) == 1 and wanted > 1:
            known = names.read(written)
            if unused(written) or (known and known.signal.is_power):
                return lines * wanted
        if len(lines) != wanted:
            self.shape.complain(
                "run-length",
                f"a run of contacts must be as long as its run of names: "
                f"{visible(key.text)} has {wanted}, {visible(written)} has {len(lines)}",
                at=key.place,
            )
            return None
        return lines

    def _contact(
        self,
        raw: formats.MapFile,
        key: yamltree.Scalar,
        label: str,
        line: str,
        entry: str | formats.ContactFile,
        names: Names,
    ) -> Contact:
        more = entry if isinstance(entry, formats.ContactFile) else formats.ContactFile(signal="")
        if more.with_ and more.with_ not in raw.options:
            near = nearest(more.with_, raw.options)
            self.shape.complain(
                "option-unknown",
                f"contact {label} must come with an option of this map "
                f"({listed((visible(o) for o in raw.options), 'or') or 'there are none'}), not {visible(more.with_)!r}",
                f"Did you mean {near[0]}?" if near else "Describe it under options",
                at=self.shape.values["contacts", key.text, "with"],
            )
        known = names.read(line)
        role = unused(line)
        if known is None and role:
            return Contact(
                label,
                role,
                written=visible(line),
                note=visible(more.note),
                place=key.place,
                seen=raw.seen if isinstance(more.seen, UnsetType) else more.seen,
            )
        inverted = False
        if known and isinstance(more.active, str):
            inverted = known.signal.active not in ("none", more.active)
        elif known:
            inverted = known.inverted(raw.marks)
        if known is None:
            near = names.nearest(line)
            self.shape.complain(
                "name-unknown",
                f"a name must be the bus's or one of own signals, not {visible(line)!r} (contact {label})",
                f"Nearest: {listed(near, 'or')}" if near else "Describe it under own signals if the maker added it",
                at=key.place,
            )
        return Contact(
            label,
            "signal" if known else "unknown",
            known.signal if known else None,
            written=visible(line),
            inverted=inverted,
            option=more.with_,
            seen=raw.seen if isinstance(more.seen, UnsetType) else more.seen,
            note=visible(more.note),
            source=visible(more.source),
            place=key.place,
            renamed=known.differs if known and known.via == "generation" else "",
        )

    def _supplies(self, raw: formats.MapFile, contacts: list[Contact], names: Names) -> dict[str, Supply]:
        carried = {c.signal.name for c in contacts if c.signal and c.signal.group == "supply"}
        out: dict[str, Supply] = {}
        for rail, entry in raw.supplies.items():
            at = self.shape.keys["supplies", rail]
            known = names.read(rail)
            if known is None or known.signal.name not in carried:
                self.shape.complain(
                    "supply-unknown",
                    f"supplies must name a rail that the map carries "
                    f"({listed(sorted(carried), 'or') or 'it has none'}), not {visible(rail)!r}",
                    at=at,
                )
                continue
            limit = _measured(self.shape, entry.limit, "A", ("supplies", rail, "limit"))
            if limit is not None and limit <= 0:
                self.shape.complain(
                    "value-shape",
                    f"supplies › {visible(rail)} › limit must be more than 0 A, not {entry.limit!r}",
                    at=self.shape.values["supplies", rail, "limit"],
                )
            elif limit is not None:
                out[known.signal.name] = Supply(known.signal.name, limit, at)
        return out


def _words(value: formats.Words) -> list[str]:
    return value.split() if isinstance(value, str) else list(value)


def _span(body: Body) -> list[str]:
    """Say in short which labels a body has: A1–A31, B1–B31."""
    rows: dict[str, list[str]] = {}
    for label in sorted(body.labels, key=natural):
        rows.setdefault(re.sub(r"\d+$", "", label) if re.search(r"\d$", label) else "letters", []).append(label)
    return [f"{row[0]}–{row[-1]}" if len(row) > 1 else row[0] for row in rows.values()]


def _text_at(raw: object, path: tuple[str, ...]) -> str | None:
    """Follow `path` through structs, dicts and lists to a text, or None where it leads elsewhere."""
    value = raw
    for step in path:
        if isinstance(value, dict):
            value = value.get(step)
        elif isinstance(value, list):
            value = value[int(step)] if int(step) < len(value) else None
        else:
            name = step.replace(" ", "_")
            value = getattr(value, name, None) if hasattr(value, name) else getattr(value, f"{name}_", None)
        if value is None or value is UNSET:
            return None
    return value if isinstance(value, str) else None
