"""From YAML to bus dictionaries and the customs of forms: the data that pinmap itself, or a user's library, brings."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path

from msgspec import UnsetType
from msgspec.structs import replace

from . import formats, forms, quantity, yamltree
from .body import Form
from .errors import PinmapError, Place
from .findings import Finding, ordered
from .model import Absent, Bus, CardKind, Elsewhere, Remedy, Signal
from .naming import expand
from .shape import Shape
from .text import listed, quoted


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


def _bus(raw: formats.BusFile, shape: Shape, name: str) -> Bus:
    def cite(key: str, at: tuple[str, ...]) -> str:
        if key not in raw.sources:
            shape.complain(
                "value-shape",
                f"a source must be one of {listed(raw.sources, 'or')}, not {quoted(key)}",
                shape.nearest(key, raw.sources),
                at=shape.values.get(at, whole),
            )
        return raw.sources.get(key, key)

    whole = Place(next(iter(shape.values.values())).file)
    signals: dict[str, Signal] = {}
    for written, entry in raw.signals.items():
        at = shape.keys["signals", written]
        for line in shape.expanded(written, at):
            if line in signals:
                shape.complain("signal-twice", f"{line} must be described once", at=at)
            try:
                signals[line] = _signal(line, entry, shape, ("signals", written), cite)
            except ValueError as error:
                shape.complain("value-shape", str(error), at=at)
    kinds: dict[str, CardKind] = {}
    for index, kind in enumerate(raw.kinds):
        kinds[kind.name] = _kind(kind, kinds, signals, shape, ("kinds", str(index + 1)), cite)
    count, reach = 0, 0.0
    if isinstance(raw.return_count, formats.FactFile):
        if re.fullmatch("[0-9]{1,6}", raw.return_count.value):
            count = int(raw.return_count.value)
        else:
            shape.complain(
                "value-shape",
                f"return count › value must be a whole number, not {quoted(raw.return_count.value)}",
                at=shape.values["return count", "value"],
            )
    if isinstance(raw.return_reach, formats.FactFile):
        reach = shape.measured(raw.return_reach.value, "mm", ("return reach", "value")) or 0.0
    return Bus(
        name=name,
        title=raw.title,
        about=raw.about,
        signals=signals,
        kinds=tuple(kinds.values()),
        connectors=tuple(raw.connectors),
        sources=dict(raw.sources),
        return_count=count,
        return_reach_mm=reach,
    )


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
                f"source of must name a fact of the signal, not {quoted(key)}",
                at=shape.keys[(*path, "source of", key)],
            )

    def fact(key: str, value: formats.FactFile | formats.PullFile | UnsetType, text: str = "") -> str:
        if isinstance(value, UnsetType):
            return ""
        sources[key] = cite(value.source, (*path, key, "source"))
        return text or value.value

    def measured(text: str, unit: str, *keys: str) -> float | None:
        return shape.measured(text, unit, (*path, *keys)) if text else None

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
    kind: formats.KindFile,
    earlier: Mapping[str, CardKind],
    signals: Mapping[str, Signal],
    shape: Shape,
    path: tuple[str, ...],
    cite: _Cite,
) -> CardKind:
    like = earlier.get(kind.like) if kind.like else None
    if kind.like and like is None:
        shape.complain(
            "value-shape",
            f"like must name an earlier kind of card, not {quoted(kind.like)}",
            at=shape.values[(*path, "like")],
        )

    def lines(runs: list[str], *keys: str) -> list[str]:
        places = [shape.values[(*path, *keys, str(i + 1))] for i in range(len(runs))]
        found = [(line, at) for run, at in zip(runs, places, strict=True) for line in shape.expanded(run, at)]
        for line, at in found:
            if line not in signals:
                shape.complain(
                    "name-unknown",
                    f"a kind of card must need lines of its bus, not {quoted(line)}",
                    shape.nearest(line, signals),
                    at=at,
                )
        return [line for line, _ in found if line in signals]

    needs, helps = lines(kind.needs, "needs"), lines(kind.helps, "helps")
    one_of = tuple(tuple(lines(group, "one of", str(i))) for i, group in enumerate(kind.one_of, 1))
    if like:
        needs = [*like.needs, *(n for n in needs if n not in like.needs)]
        helps = [*(h for h in like.helps if h not in needs), *(h for h in helps if h not in like.helps)]
        one_of = one_of or like.one_of
    return CardKind(kind.name, kind.about, tuple(needs), tuple(helps), one_of, cite(kind.source, (*path, "source")))


def read_forms(path: Path, shown: str) -> dict[Form, forms.FormFacts]:
    """Read the customs of the forms. Raises `UnreadableError`, or `DictionaryError` with every complaint."""
    shape = Shape()
    raw = shape.struct(yamltree.load(path, shown), formats.FormsFile)
    if raw is None or shape.complaints:
        raise DictionaryError(ordered(shape.complaints))
    out: dict[Form, forms.FormFacts] = {}
    for form, facts in raw.forms.items():
        rating, pads, printed, seating = facts.rating, facts.pads, facts.footprint, facts.seating
        made = forms.FormFacts(pads=(pads.labels, pads.first) if isinstance(pads, formats.FormPadsFile) else None)
        if isinstance(printed, formats.FormFootprintFile):
            made = replace(
                made,
                footprint=printed.name,
                footprint_rows=printed.rows,
                footprint_places=frozenset(int(n) for run in formats.words(printed.places) for n in expand(run)),
                footprint_pitch_mm=quantity.parse(printed.pitch, "mm"),
            )
        if isinstance(rating, formats.FactFile):
            made = replace(made, rating_a=quantity.parse(rating.value, "A"), rating_source=raw.sources[rating.source])
        if isinstance(seating, formats.FormSeatingFile):
            made = replace(made, seating=_form_seating(form, seating, raw.sources, shape))
        out[form] = made
    if shape.complaints:
        raise DictionaryError(ordered(shape.complaints))
    return out


def _form_seating(
    form: Form, seating: formats.FormSeatingFile, sources: Mapping[str, str], shape: Shape
) -> forms.FormSeating:
    if seating.source not in sources:
        shape.complain(
            "value-shape",
            f"a source must be one of {listed(sources, 'or')}, not {quoted(seating.source)}",
            shape.nearest(seating.source, sources),
            at=shape.values["forms", form, "seating", "source"],
        )
    return forms.FormSeating(
        along=seating.along,
        across=seating.across,
        turned=seating.turned,
        part=seating.part,
        sections=seating.sections,
        why=seating.why,
        source=sources.get(seating.source, seating.source),
        cure=seating.cure,
    )
