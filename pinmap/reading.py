"""From YAML to the model. Nothing else knows YAML; every complaint has its file, line and column, and all are made."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path

from msgspec import Struct, UnsetType

from . import formats, forms, yamltree
from .body import Body, Form, Numbering, Scheme, Section
from .errors import NotFoundError, Place
from .findings import Finding, ordered
from .model import Bus, Contact, PinMap, Signal, Supply
from .naming import Names, identity, unused
from .shape import Entries, Shape
from .text import listed, natural, quoted, short

MAX_CONTACTS = 20_000
_GEOMETRY = ("rows", "places", "letters", "from", "sections", "gender")


class ReadMap(Struct, frozen=True):
    """What reading a file gave: the map, or None where too much is missing to build one, and the complaints."""

    map: PinMap | None
    complaints: tuple[Finding, ...]
    file: str


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
        # Where the file lacks one of these, no map is built, but all the rest is looked at.
        stand_ins = {"format": 1, "title": "", "bus": "", "end": "host", "body": None, "contacts": Entries([])}
        raw = self.shape.struct(tree, formats.MapFile, stand_ins)
        pin_map = self._map(raw) if raw else None
        return ReadMap(pin_map, ordered(self.shape.complaints), self.shown)

    def _map(self, raw: formats.MapFile) -> PinMap | None:
        lacking = self.shape.lacking
        self.options = self.shape.names("options")
        bus = None if "bus" in lacking else self._bus(raw.bus)
        body = None if "body" in lacking else self._body(raw.body)
        if bus is None:
            self._labels(raw, body)
            return None
        own = self._own(raw, bus)
        names = Names(bus, tuple(own.values()))
        contacts = self._contacts(raw, body, names)
        supplies = self._supplies(raw, contacts, names) if body else {}
        if body is None or lacking:
            return None
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
            title=raw.title,
            about=raw.about,
            source=raw.source,
            bus=bus,
            end=raw.end,
            body=body,
            contacts=tuple(everything),
            marks=raw.marks,
            options=dict(raw.options),
            own=own,
            supplies=supplies,
            place=Place(self.shown),
        )

    def _bus(self, written: str) -> Bus | None:
        try:
            return self.bus_named(written)
        except NotFoundError:
            known = self.bus_names()
            self.shape.complain(
                "value-shape",
                f"bus must be one of {listed(known, 'or')}, not {quoted(written)}",
                self.shape.nearest(written, known),
                at=self.shape.values["bus",],
            )
            return None

    # -------------------------------------------------------------- body

    def _body(self, raw: formats.BodyFile) -> Body | None:
        shape = self.shape
        if any(path[:1] == ("body",) and path[1] in _GEOMETRY for path in shape.broken if len(path) > 1):
            return None  # what would be said of the rest could be wrong
        before = len(shape.complaints)
        pitch = self._positive(raw.pitch, "mm", ("body", "pitch"))
        row_pitch = (
            self._positive(raw.row_pitch, "mm", ("body", "row pitch")) if isinstance(raw.row_pitch, str) else pitch
        )
        rating = self._positive(raw.rating, "A", ("body", "rating")) if isinstance(raw.rating, str) else None
        sections = self._sections(raw)
        if len(shape.complaints) > before or sections is None or pitch is None or row_pitch is None:
            return None
        mate = raw.mate if isinstance(raw.mate, formats.MateFile) else formats.MateFile()
        source = {"": raw.source} if isinstance(raw.source, str) else dict(raw.source)
        for fact in source:
            if fact and fact not in {f.rstrip("_").replace("_", " ") for f in raw.__struct_fields__} | {"dimensions"}:
                shape.complain(
                    "key-unknown",
                    f"body › source must name a key of the body, not {quoted(fact)}",
                    at=shape.keys["body", "source", fact],
                )
        pads = self._pads(raw.pads, raw, ("body", "pads"))
        mate_pads = self._pads(mate.pads, raw, ("body", "mate", "pads"), mirrored=True)
        if len(shape.complaints) > before:
            return None
        try:
            body = Body(
                form=raw.form,
                sections=sections,
                scheme=raw.labels,
                first=raw.first,
                pitch_mm=pitch,
                row_pitch_mm=row_pitch,
                gender=raw.gender if isinstance(raw.gender, str) else None,
                pads=pads,
                footprint=raw.footprint,
                mate_pads=mate_pads,
                mate_footprint=mate.footprint,
                rating_a=rating,
                sources=tuple((k, v) for k, v in source.items() if v),
            )
            if raw.form == "din 41612" and body.gender is None:
                raise ValueError("a din 41612 connector must say its gender, male or female")  # noqa: TRY301
            if raw.form != "din 41612" and body.gender is not None:
                raise ValueError(f"gender is for din 41612 only; {raw.form} has its own")  # noqa: TRY301
            body = forms.complete(body, self.customs())
        except ValueError as error:
            shape.complain("body-impossible", str(error), at=shape.keys["body",])
            return None
        return body

    def _positive(self, text: str, unit: str, path: tuple[str, ...]) -> float | None:
        value = self.shape.measured(text, unit, path)
        if value is not None and value <= 0:
            self.shape.complain(
                "value-shape",
                f"{' › '.join(path)} must be more than 0 {unit}, not {quoted(text)}",
                at=self.shape.values[path],
            )
            return None
        return value

    def _letters(self, value: formats.Words, path: tuple[str, ...]) -> tuple[str, ...] | None:
        """Return row letters, or None where one is none, which is complained about."""
        letters = value.split() if isinstance(value, str) else value
        for letter in letters:
            if not re.fullmatch("[A-Za-z]{1,3}", letter):
                self.shape.complain(
                    "value-shape",
                    f"{' › '.join(path)} must be row letters, like A B, not {quoted(letter)}",
                    at=self.shape.values[path],
                )
                return None
        return tuple(letters)

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
        counted = [(p.rows if isinstance(p.rows, int) else len(formats.words(p.letters))) * p.places for p in parts]
        if sum(counted) > MAX_CONTACTS:
            shape.complain("body-impossible", f"a body must not have more than {MAX_CONTACTS} contacts", at=at)
            return None
        out = []
        for index, part in enumerate(parts):
            path = ("body", "sections", str(index + 1)) if raw.sections else ("body",)
            letters = self._letters(part.letters, (*path, "letters"))
            if letters is None:
                return None
            if letters and raw.labels != "rows":
                shape.complain(
                    "body-impossible",
                    f"{' › '.join(path)} must have letters only where labels are rows, not {raw.labels}",
                    at=shape.keys[(*path, "letters")],
                )
                return None
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
            along = shape.measured(part.along, "mm", (*path, "along")) if raw.sections else 0.0
            across = shape.measured(part.across, "mm", (*path, "across")) if raw.sections else 0.0
            if along is None or across is None:
                return None
            try:
                out.append(Section(rows, part.places, letters, part.from_, along, across))
            except ValueError as error:
                shape.complain("body-impossible", str(error), at=shape.values.get(path, at))
                return None
        return tuple(out)

    def _pads(
        self,
        pads: Scheme | formats.PadsFile | UnsetType,
        raw: formats.BodyFile,
        path: tuple[str, ...],
        *,
        mirrored: bool = False,
    ) -> Numbering | None:
        if isinstance(pads, UnsetType):
            return None
        first = raw.first
        if mirrored:
            vertical, horizontal = first.split()
            first = f"{vertical} {'right' if horizontal == 'left' else 'left'}"  # type: ignore[assignment]
        letters: tuple[str, ...] | None = ()
        scheme = pads.labels if isinstance(pads, formats.PadsFile) else pads
        if isinstance(pads, formats.PadsFile):
            first = first if isinstance(pads.first, UnsetType) else pads.first
            letters = self._letters(pads.letters, (*path, "letters"))
            if letters is None:
                return None
        return Numbering(scheme, first, (letters,) if letters else ())

    # -------------------------------------------------------------- lines

    def _own(self, raw: formats.MapFile, bus: Bus) -> dict[str, Signal]:
        shape, names = self.shape, Names(bus)
        out: dict[str, Signal] = {}
        folded: dict[tuple[str, bool], str] = {}
        for name in shape.names("own signals"):
            entry = raw.own_signals.get(name, "")  # a wrong one has been complained about; its name still counts
            at, fold = shape.keys["own signals", name], identity(name)
            wrong = ""
            if ".." in name or not any(c.isalnum() for c in fold[0]):
                wrong = f"an own signal must have one name with letters or digits, and no run, not {quoted(name)}"
            elif unused(name):
                wrong = f"an own signal must not be called {name}, which means a contact without a signal"
            elif names.read(name):
                wrong = f"an own signal must not bear a name of the bus, like {name}"
            elif fold in folded:
                wrong = f"own signals must differ in more than case and spacing, not be {folded[fold]} and {name}"
            if wrong:
                shape.complain("value-shape", wrong, "Leave it out, or give the maker's line a name of its own", at=at)
                continue
            folded[fold] = name
            if isinstance(entry, str):
                out[name] = Signal(name, "own", entry)
                continue
            volts = None
            if isinstance(entry.volts, str):
                volts = shape.measured(entry.volts, "V", ("own signals", name, "volts"))
                if entry.group != "supply":
                    shape.complain(
                        "value-shape",
                        f"own signals › {name} must have no volts: only a supply has",
                        "Write group: supply if it is one",
                        at=shape.values["own signals", name, "volts"],
                    )
                    volts = None
            out[name] = Signal(name, entry.group, entry.about, volts=volts)
        return out

    def _labels(self, raw: formats.MapFile, body: Body | None) -> list[list[str] | None]:
        """Read the key of every contact: the labels that it stands for, None where it is wrong or there is no body."""
        assert isinstance(raw.contacts, Entries)  # noqa: S101 - as Shape makes them
        if body is None:
            return [None] * len(raw.contacts.pairs)
        labels = _Labels(body, self.shape)
        return [labels.read(key) for key, _ in raw.contacts.pairs]

    def _contacts(self, raw: formats.MapFile, body: Body | None, names: Names) -> list[Contact]:
        """Read the contacts; without a body only their names can be looked at."""
        assert isinstance(raw.contacts, Entries)  # noqa: S101 - as Shape makes them
        out: list[Contact] = []
        for (key, entry), labels in zip(raw.contacts.pairs, self._labels(raw, body), strict=True):
            lines = self._lines(key, entry if isinstance(entry, str) else entry.signal, labels, names)
            made = [self._contact(raw, key, label, line, entry, names) for label, line in lines]
            out.extend(made if labels else [])
        return out

    def _lines(
        self, key: yamltree.Scalar, written: str, labels: list[str] | None, names: Names
    ) -> list[tuple[str, str]]:
        """Pair the labels of an entry with its lines; where they do not pair, the lines still want looking at."""
        lines = self.shape.expanded(written, key.place)
        if labels is None:
            return [(short(key.text, 40) or '""', line) for line in lines]
        if len(lines) == 1 and len(labels) > 1:
            known = names.read(written)
            if unused(written) or (known and known.signal.is_power):
                lines *= len(labels)
        if lines and len(lines) != len(labels):
            self.shape.complain(
                "run-length",
                f"a run of contacts must be as long as its run of names: "
                f"{key.text} has {len(labels)}, {written} has {len(lines)}",
                "Only a supply, a return or open may stand alone for a run of contacts" if len(lines) == 1 else "",
                at=key.place,
            )
            return []
        return list(zip(labels, lines, strict=False))

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
        if more.with_ and more.with_ not in self.options:
            self.shape.complain(
                "option-unknown",
                f"contact {label} must come with an option of this map "
                f"({listed(self.options, 'or') or 'there are none'}), not {quoted(more.with_)}",
                self.shape.nearest(more.with_, self.options) or "Describe it under options",
                at=self.shape.values["contacts", key.text, "with"],
            )
        known = names.read(line)
        role = unused(line)
        if known is None and role:
            return Contact(
                label,
                role,
                written=line,
                note=more.note,
                place=key.place,
                seen=raw.seen if isinstance(more.seen, UnsetType) else more.seen,
            )
        inverted = False
        if known and isinstance(more.active, str):
            inverted = known.signal.active not in ("none", more.active)
        elif known:
            inverted = known.inverted(raw.marks)
        if known is None:
            near = names.nearest(line) if self.shape.affordable(4 * len(names.bus.signals)) else []
            self.shape.complain(
                "name-unknown",
                f"a name must be the bus's or one of own signals, not {quoted(line)} (contact {label})",
                f"Nearest: {listed(near, 'or')}" if near else "Describe it under own signals if the maker added it",
                at=key.place,
            )
        return Contact(
            label,
            "signal" if known else "unknown",
            known.signal if known else None,
            written=line,
            inverted=inverted,
            option=more.with_,
            seen=raw.seen if isinstance(more.seen, UnsetType) else more.seen,
            note=more.note,
            source=more.source,
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
                    f"({listed(sorted(carried), 'or') or 'it has none'}), not {quoted(rail)}",
                    at=at,
                )
                continue
            line = known.signal.name
            if line in out:
                self.shape.complain(
                    "key-twice",
                    f"supplies must name a rail once; {rail} is {line}, which stands in line {out[line].place.line}",
                    at=at,
                )
                continue
            limit = self._positive(entry.limit, "A", ("supplies", rail, "limit"))
            if limit is not None:
                out[line] = Supply(line, limit, at)
        return out


class _Labels:
    """The labels of a body, ready to be looked up as they are written in a map."""

    def __init__(self, body: Body, shape: Shape):
        self.body = body
        self.shape = shape
        self._spelled = {label.casefold(): label for label in body.labels} | {label: label for label in body.labels}
        self._span = listed(_span(body))

    def read(self, key: yamltree.Scalar) -> list[str] | None:
        """Return the labels that a key stands for, or None where it is wrong, which is complained about."""
        run, _, by = key.text.partition(" by ")
        first, dots, last = (part.strip() for part in run.partition(".."))
        ends = [first, last] if dots else [first]
        if dots and not (first and last):
            self.shape.complain(
                "contact-off-body",
                f"a run of contacts must have two ends, like {self.body.labels[0]}..{self.body.labels[-1]}, "
                f"not {quoted(key.text)}",
                at=key.place,
            )
            return None
        unknown = [end for end in ends if self._label(end) is None]
        if unknown or (by and not dots):
            what = listed(quoted(u) for u in unknown) if unknown else quoted(key.text)
            self.shape.complain(
                "contact-off-body",
                f"a contact must be on the body ({self._span}), not {what}",
                self.shape.nearest(unknown[0], self.body.labels) if unknown else "",
                at=key.place,
            )
            return None
        labels = [label for end in ends if (label := self._label(end)) is not None]
        if not dots:
            return labels
        try:
            if by and not (by.strip().isascii() and by.strip().isdecimal()):
                raise ValueError(f"a run's step must be a whole number, not {quoted(by.strip())}")  # noqa: TRY301
            return self.body.run(labels[0], labels[1], int(by) if by else 1)
        except ValueError as error:
            self.shape.complain("contact-off-body", str(error), at=key.place)
            return None

    def _label(self, written: str) -> str | None:
        return self._spelled.get(written) or self._spelled.get(written.casefold())


def _span(body: Body) -> list[str]:
    """Say in short which labels a body has: A1–A31, B1–B31."""
    rows: dict[str, list[str]] = {}
    for label in sorted(body.labels, key=natural):
        rows.setdefault(re.sub(r"\d+$", "", label) if re.search(r"\d$", label) else "letters", []).append(label)
    return [f"{row[0]}–{row[-1]}" if len(row) > 1 else row[0] for row in rows.values()]
