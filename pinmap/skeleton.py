"""A commented skeleton of a pin map, to be filled in at the bench."""

from __future__ import annotations

import json
from typing import cast

from .body import Body, Corner, Form, Gender, Numbering, Scheme, Section
from .text import natural, visible


def body_for(
    form: str,
    rows: int,
    places: int,
    labels: str,
    *,
    letters: str = "",
    first: Corner | None = None,
    pitch_mm: float = 2.54,
    row_pitch_mm: float | None = None,
    gender: Gender | None = None,
) -> Body:
    """Make a one-section body; row letters and the corner of the first contact default to the form's customary ones.

    Raises `ValueError` where the parts contradict each other.
    """
    if form == "din 41612" and gender is None:
        gender = "female"
    names = tuple(letters.split())
    if not names and labels == "rows":
        names = tuple("ABCDEFGHIJKLMNOPQRSTUVWXYZ"[:rows])
        if (
            form == "din 41612" and rows <= 3
        ):  # two rows are the outer ones; the male has row a on top, the female below
            names = {1: ("a",), 2: ("a", "c"), 3: ("a", "b", "c")}[rows][:: 1 if gender == "male" else -1]
    if first is None:
        below = form in ("pin header", "box header") or (form == "din 41612" and gender == "female")
        first = "bottom left" if below else "top right" if form == "edge fingers" else "top left"
    return Body(
        cast("Form", form),  # Body itself refuses what is none
        (Section(rows, places, names),),
        cast("Scheme", labels),
        first,
        pitch_mm,
        pitch_mm if row_pitch_mm is None else row_pitch_mm,
        gender,
    )


def skeleton(body: Body, bus: str, title: str) -> str:
    """Return the text of a map file for `body`: it reads as it stands, with every contact still to be described."""
    lines = [
        "# A pin map for pinmap. Fill in what you know, delete the # in front, and run: pinmap check THIS-FILE",
        "format: 1",
        f"title: {_quoted(visible(title))}",
        "about: what machine, which connector, anything that a stranger must know",
        f"bus: {bus}",
        "end: host                     # host: the machine's connector; card: what a card brings",
        "source: where this table comes from   # a manual's page, a sketch, your own measurement",
        "#seen: measured               # what holds for every contact that does not say: manual, measured, guessed",
        "#marks: none                  # only if the table marks no line as active low (no IOR*, -IOR, /IOR)",
        "body:                         # seen from the mating face: look at the contacts, as the plug does",
        f"  form: {body.form}",
    ]
    if body.gender:
        lines.append(_said(f"  gender: {body.gender}", "male (pins) or female: look at the contacts"))
    lines += _sections(body)
    lines += [
        f"  labels: {body.scheme}",
        _said(f"  first: {body.first}", "the corner of the first contact"),
        _said(f"  pitch: {_mm(body.pitch_mm)}", "measure it over many contacts and divide"),
        f"  row pitch: {_mm(body.row_pitch_mm)}",
    ]
    if body.pads:
        lines.append(f"  pads: {_pads(body.pads)}")
    if body.footprint:
        lines.append(f"  footprint: {_quoted(body.footprint)}")
    mate = [f"footprint: {_quoted(body.mate_footprint)}"] if body.mate_footprint else []
    mate += [f"pads: {_pads(body.mate_pads)}"] if body.mate_pads else []
    if mate:
        lines.append(f"  mate: {{{', '.join(mate)}}}")
    if body.rating_a is not None:
        lines.append(_said(f"  rating: {body.rating_a:g} A", "per contact"))
    if body.sources:
        lines += ["  source:", *(f"    {fact}: {_quoted(source)}" for fact, source in body.sources if fact)]
    lines += [
        "#options:",
        "#  name of the option board: what it brings",
        "#own signals:                 # lines that the bus does not know",
        "#  AUDIO: line to the loudspeaker",
        "#supplies:                    # what the machine can deliver on a rail",
        "#  +5V: {limit: 1.5 A}",
        "contacts:",
        "  # One line a contact, or a run: A2..A9: SD7..SD0; 4..18 by 2: SD7..SD0; 20..24 by 2: GND",
        "  # open: brought out, connected to nothing; key: no contact here",
        "  # {signal: IRQ2, seen: guessed, note: the scan is smudged}; {signal: OSC, with: name of the option board}",
        *(f"  #{label}:" for label in sorted(body.labels, key=natural)),
    ]
    return "\n".join(lines) + "\n"


def _sections(body: Body) -> list[str]:
    def facts(section: Section) -> list[str]:
        out = [f"rows: {section.rows}"] if not section.letters else [f"letters: {' '.join(section.letters)}"]
        out.append(f"places: {section.places}")
        return out + ([f"from: {section.start}"] if section.start != 1 else [])

    if len(body.sections) == 1:
        section = body.sections[0]
        out = [f"  rows: {section.rows}", f"  places: {section.places}"]
        if section.letters:
            out.append(_said(f"  letters: {' '.join(section.letters)}", "of the rows, from the top row down"))
        return out + ([f"  from: {section.start}"] if section.start != 1 else [])
    out = ["  sections:"]
    for section in body.sections:
        shift = [f"along: {_mm(section.along_mm)}", f"across: {_mm(section.across_mm)}"]
        out.append(f"    - {{{', '.join(facts(section) + shift)}}}")
    return out


def _pads(numbering: Numbering) -> str:
    letters = f", letters: {' '.join(numbering.letters[0])}" if numbering.letters else ""
    return f"{{labels: {numbering.scheme}, first: {numbering.first}{letters}}}"


def _said(line: str, comment: str) -> str:
    return f"{line:<29} # {comment}"


def _mm(length_mm: float) -> str:
    return f"{length_mm:.10g} mm"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
