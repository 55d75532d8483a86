"""What a map says besides its contacts, each thing in a few words under its name."""

from __future__ import annotations

from .body import Body, Numbering
from .model import PinMap, Signal
from .quantity import volts


def map_facts(pin_map: PinMap) -> dict[str, str]:
    """What a map says of itself, in the order of the file."""
    return {
        "title": pin_map.title,
        "about": pin_map.about,
        "bus": pin_map.bus.name,
        "end": pin_map.end,
        "source": pin_map.source,
        "marks": pin_map.marks,
    }


def body_facts(body: Body) -> dict[str, str]:
    """What a body is described as, in the words of the file."""
    return {
        "form": body.form,
        "gender": body.gender or "",
        "sections": " + ".join(_section(body, index) for index in range(len(body.sections))),
        "labels": body.scheme,
        "first": body.first,
        "pitch": f"{body.pitch_mm:g} mm",
        "row pitch": f"{body.row_pitch_mm:g} mm",
        "pads": _numbering(body.pads),
        "mate's pads": _numbering(body.mate_pads),
        "footprint": body.footprint,
        "mate's footprint": body.mate_footprint,
        "rating": f"{body.rating_a:g} A" if body.rating_a is not None else "",
    }


def _section(body: Body, index: int) -> str:
    section = body.sections[index]
    said = f"{section.rows} × {section.places}"
    if section.letters:
        said += f" {' '.join(section.letters)}"
    if section.start != 1:
        said += f" from {section.start}"
    if section.along_mm or section.across_mm:
        said += f" at {section.along_mm:g} mm, {section.across_mm:g} mm"
    return said


def _numbering(pads: Numbering | None) -> str:
    if pads is None:
        return "as the labels"
    letters = "; ".join(" ".join(each) for each in pads.letters)
    return f"{pads.scheme} from {pads.first}" + (f", {letters}" if letters else "")


def lie(body: Body) -> tuple[object, ...]:
    """Where each contact is; the pads are another matter on the mate."""
    return body.form, body.sections, body.scheme, body.first, body.pitch_mm, body.row_pitch_mm


def limits(pin_map: PinMap) -> dict[str, str]:
    """The most that each rail may deliver."""
    return {rail: f"{supply.limit_a:g} A" for rail, supply in pin_map.supplies.items()}


def own_facts(pin_map: PinMap) -> dict[str, str]:
    """What a map says of each line of the maker's own."""
    return {name: _own(signal) for name, signal in pin_map.own.items()}


def _own(signal: Signal) -> str:
    said = [signal.group, volts(signal.volts) if signal.volts is not None else "", signal.about]
    return "; ".join(part for part in said if part)
