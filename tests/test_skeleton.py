"""Skeletons: every one can be read as it stands, and filled in it is the map that was meant."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from pinmap import library
from pinmap.api import check, load_map
from pinmap.body import FORMS, SCHEMES
from pinmap.errors import NOWHERE
from pinmap.model import PinMap
from pinmap.skeleton import body_for, skeleton

LIBRARY = [entry.name for entry in library.entries()]

#: What a map says of which no contact is described yet.
EXPECTED = {"contact-not-described", "return-none", "rail-missing"}


def read(tmp_path: Path, text: str) -> PinMap:
    path = tmp_path / "skeleton.yaml"
    path.write_text(text, encoding="utf-8")
    checked = check(path)
    assert {f.code for f in checked.findings} <= EXPECTED, [f.message for f in checked.findings]
    assert checked.map
    assert checked.map.contacts
    assert {c.role for c in checked.map.contacts} == {"undescribed"}
    return checked.map


@pytest.mark.parametrize("rows", [1, 2, 3])
@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("form", FORMS)
def test_a_skeleton_of_any_form_and_numbering_can_be_read(form: str, scheme: str, rows: int, tmp_path: Path) -> None:
    if scheme in ("ring", "lettered") and rows != 2:
        with pytest.raises(ValueError, match=f"{scheme} labels must have two rows, not {rows}"):
            body_for(form, rows, 12, scheme)
        return
    body = body_for(form, rows, 12, scheme, pitch_mm=3.9624, row_pitch_mm=5.08)
    got = read(tmp_path, skeleton(body, "isa-8bit", "A title"))
    assert (got.title, got.bus.name, got.end) == ("A title", "isa-8bit", "host")
    # Reading fills in what is customary for the form; everything else comes back.
    assert (
        replace(got.body, pads=None, footprint="", mate_pads=None, mate_footprint="", rating_a=None, sources=()) == body
    )


@pytest.mark.parametrize("name", LIBRARY)
def test_a_skeleton_like_a_connector_of_the_library_has_its_body(name: str, tmp_path: Path) -> None:
    like = load_map(name)
    got = read(tmp_path, skeleton(like.body, like.bus.name, "Mine"))
    assert got.body == like.body
    assert got.body.mate() == like.body.mate()
    assert got.bus is like.bus


@pytest.mark.parametrize("name", LIBRARY)
def test_a_filled_in_skeleton_is_the_map_again(name: str, tmp_path: Path) -> None:
    wanted = load_map(name)
    text = skeleton(wanted.body, wanted.bus.name, wanted.title)
    for contact in wanted.contacts:
        line = contact.written or contact.role
        if contact.option or contact.note or contact.seen != "manual":
            more = {"with": contact.option, "seen": contact.seen, "note": contact.note}
            line = f"{{signal: {line}, {', '.join(f'{k}: {v}' for k, v in more.items() if v)}}}"
        assert text.count(f"  #{contact.label}:\n") == 1
        text = text.replace(f"  #{contact.label}:\n", f"  {contact.label}: {line}\n")
    options = "".join(f"  {option}: {what}\n" for option, what in wanted.options.items())
    text = re.sub(r"#options:\n#.*\n", f"options:\n{options}", text)
    own = "".join(f'  {line.name}: {{about: "{line.about}", group: {line.group}}}\n' for line in wanted.own.values())
    text = re.sub(r"#own signals:.*\n#.*\n", f"own signals:\n{own}", text)
    limits = "".join(f"  {s.rail}: {{limit: {s.limit_a:g} A}}\n" for s in wanted.supplies.values())
    text = re.sub(r"#supplies:.*\n#.*\n", f"supplies:\n{limits}", text)
    path = tmp_path / "filled.yaml"
    path.write_text(text, encoding="utf-8")
    got = load_map(path)
    assert bare(got) == bare(wanted)
    assert {f.code for f in check(path).findings} == {f.code for f in check(name).findings}


def bare(pin_map: PinMap) -> PinMap:
    """A map without what a skeleton cannot know: name, places and prose."""
    return replace(
        pin_map,
        name="",
        about="",
        source="",
        place=NOWHERE,
        contacts=tuple(replace(c, place=NOWHERE) for c in pin_map.contacts),
        supplies={rail: replace(s, place=NOWHERE) for rail, s in pin_map.supplies.items()},
    )


@pytest.mark.parametrize(
    "title",
    [
        'with "quotes"',
        "with: a colon",
        "# no comment",
        "back\\slash",
        "Größe 5",
        "'",
        "*",
        "{x}",
        "- x",
        "two\nlines",
        "\x1b",
    ],
)
def test_any_title_comes_back(title: str, tmp_path: Path) -> None:
    from pinmap.text import visible

    body = body_for("pin header", 1, 4, "serial")
    assert read(tmp_path, skeleton(body, "isa-8bit", title)).title == visible(title)


@pytest.mark.parametrize(
    ("form", "gender", "letters", "first"),
    [
        ("edge slot", None, ("A", "B"), "top left"),
        ("edge fingers", None, ("A", "B"), "top right"),
        ("pin header", None, ("A", "B"), "bottom left"),
        ("box header", None, ("A", "B"), "bottom left"),
        ("socket header", None, ("A", "B"), "top left"),
        ("din 41612", "female", ("c", "a"), "bottom left"),
        ("din 41612", "male", ("a", "c"), "top left"),
    ],
)
def test_a_body_begins_at_the_corner_customary_for_its_form(
    form: str, gender: str | None, letters: tuple[str, ...], first: str
) -> None:
    body = body_for(form, 2, 31, "rows", gender=gender)  # type: ignore[arg-type]
    assert (body.sections[0].letters, body.first) == (letters, first)


def test_a_pin_header_and_the_socket_on_it_are_each_others_mirror_image() -> None:
    for one, other in (("edge slot", "edge fingers"), ("pin header", "socket header")):
        a, b = body_for(one, 2, 5, "zigzag"), body_for(other, 2, 5, "zigzag")
        flipped = {"left": "right", "right": "left"}
        turned = {"top": "bottom", "bottom": "top"}
        vertical, horizontal = a.first.split()
        # Mirrored, or mirrored and turned by 180°: both plug in.
        assert b.first in (f"{vertical} {flipped[horizontal]}", f"{turned[vertical]} {horizontal}")


WHOLE = """\
# A pin map for pinmap. Fill in what you know, delete the # in front, and run: pinmap check THIS-FILE
format: 1
title: "My machine"
about: what machine, which connector, anything that a stranger must know
bus: isa-8bit
end: host                     # host: the machine's connector; card: what a card brings
source: where this table comes from   # a manual's page, a sketch, your own measurement
#seen: measured               # what holds for every contact that does not say: manual, measured, guessed
#marks: none                  # only if the table marks no line as active low (no IOR*, -IOR, /IOR)
body:                         # seen from the mating face: look at the contacts, as the plug does
  form: edge slot
  rows: 2
  places: 2
  letters: A B                # of the rows, from the top row down
  labels: rows
  first: top left             # the corner of the first contact
  pitch: 2.54 mm              # measure it over many contacts and divide
  row pitch: 2.54 mm
#options:
#  name of the option board: what it brings
#own signals:                 # lines that the bus does not know
#  AUDIO: line to the loudspeaker
#supplies:                    # what the machine can deliver on a rail
#  +5V: {limit: 1.5 A}
contacts:
  # One line a contact, or a run: A2..A9: SD7..SD0; 4..18 by 2: SD7..SD0; 20..24 by 2: GND
  # open: brought out, connected to nothing; key: no contact here
  # {signal: IRQ2, seen: guessed, note: the scan is smudged}; {signal: OSC, with: name of the option board}
  #A1:
  #A2:
  #B1:
  #B2:
"""


def test_the_whole_skeleton_of_a_small_connector() -> None:
    assert skeleton(body_for("edge slot", 2, 2, "rows"), "isa-8bit", "My machine") == WHOLE


def test_a_skeleton_is_plain_ascii_so_that_any_editor_and_pipe_keeps_it() -> None:
    assert skeleton(body_for("edge slot", 2, 2, "rows"), "isa-8bit", "My machine").isascii()
