"""Parts in the drawings: behind the name of the contact to which their leads are soldered, and in nobody's way."""

from __future__ import annotations

from itertools import combinations

import pytest
from handmade import POWER, header, pin_map
from handparts import PARTS, with_parts
from msgspec.structs import replace
from test_drawing import assert_inside, extent

import pinmap
from pinmap.adapter import Adapter
from pinmap.drawing import VIEWS, Drawing, View, Words, adapter_ends, parts_at
from pinmap.parts import Part
from pinmap.planner import plan
from pinmap.sheets import PAPERS, Paper, adapter_pages
from pinmap.writers.svg import svg

SAID = " Behind a name: the parts whose leads are soldered there."


def texts(drawn: Drawing) -> dict[str, str]:
    return {item.contact: item.text for item in drawn.items if isinstance(item, Words) and item.turned}


def crowded(number: int = 6) -> Adapter:
    """With more capacitors from +5V to GND."""
    adapter = with_parts()
    more = [
        Part(f"C{n}", "capacitor", "100 nF", "C:C", "decoupling", (("1", "+5V"), ("2", "GND")))
        for n in range(10, 10 + number)
    ]
    nets = tuple(
        replace(net, parts=(*net.parts, *((part.ref, {"+5V": "1", "GND": "2"}[net.name]) for part in more)))
        if net.name in ("+5V", "GND")
        else net
        for net in adapter.nets
    )
    return replace(adapter, nets=nets, parts=(*adapter.parts, *more))


@pytest.mark.parametrize("view", VIEWS)
def test_a_part_stands_behind_the_name_of_its_contact_at_both_sides(view: View) -> None:
    host, card = adapter_ends(with_parts(), view)
    shown = texts(card)
    assert (shown["B21"], shown["B30"], shown["B15"]) == ("IRQ7 JP1 B21", "OSC Y1 B30", "DACK3* R1 B15")
    assert (shown["B3"], shown["A2"]) == ("+5V C1 R1 B3", "A2 SD7")
    assert card.about.endswith(SAID)
    assert SAID not in host.about
    assert not [text for text in texts(host).values() if "R1" in text]


def test_on_the_upper_row_the_part_stands_last() -> None:
    adapter = with_parts()
    moved = {"card B15 DACK3*": (), "card A1 IOCHK*": (("R1", "1"),)}
    nets = tuple(replace(net, parts=moved.get(net.name, net.parts)) for net in adapter.nets)
    assert texts(adapter_ends(replace(adapter, nets=nets))[1])["A1"] == "A1 IOCHK* R1"


def test_of_many_parts_two_are_named_and_the_others_counted() -> None:
    found = parts_at(crowded())["J2"]
    assert found["B3"] == "C1 C10 +3"
    assert found["B21"] == "JP1"
    named = [text for label, text in found.items() if label in ("B1", "B10", "B31")]
    assert all(len(text.split()) <= 3 for text in named)


@pytest.mark.parametrize("adapter", [with_parts(), crowded()], ids=["four", "ten"])
@pytest.mark.parametrize("view", VIEWS)
def test_no_text_lies_on_another_and_none_leaves_the_drawing(adapter: Adapter, view: View) -> None:
    for drawn in adapter_ends(adapter, view):
        assert_inside(drawn.items, drawn.width, drawn.height)
        words = [extent(item) for item in drawn.items if isinstance(item, Words) and item.turned]
        for a, b in combinations(words, 2):
            assert a[2] <= b[0] + 1e-6 or b[2] <= a[0] + 1e-6 or a[3] <= b[1] + 1e-6 or b[3] <= a[1] + 1e-6


@pytest.mark.parametrize("paper", [*PAPERS, None])
def test_the_sheet_of_the_adapter_has_the_parts(paper: Paper | None) -> None:
    said = " ".join(
        item.text
        for sheet in adapter_pages(with_parts(), "solder", paper)
        for item in sheet.items
        if isinstance(item, Words)
    )
    for text in ("IRQ7 JP1 B21", "OSC Y1 B30", "+5V C1 R1 B3"):
        assert text in said
    for sheet in adapter_pages(with_parts(), "solder", paper):
        assert_inside(sheet.items, sheet.width, sheet.height)


def test_an_end_that_is_drawn_in_strips_has_its_parts_too() -> None:
    wide = plan(pin_map(POWER | {"150": "IRQ7"}, header(100)), pin_map(POWER, header(10), end="card"))
    part = Part("R9", "resistor", "1 kΩ", "R:R", "pull-up", (("1", "IRQ7"), ("2", "+5V")))
    pads = {"IRQ7": "1", "+5V": "2"}
    nets = tuple(replace(net, parts=(("R9", pads[net.signal]),)) if net.signal in pads else net for net in wide.nets)
    sheets = adapter_pages(replace(wide, nets=nets, parts=(part,)), "solder", "A4")
    assert sum(len(sheet.drawings) for sheet in sheets) == 3
    shown = [item.text for sheet in sheets for item in sheet.items if isinstance(item, Words) and "R9" in item.text]
    assert sorted(shown) == ["150 IRQ7 R9", "2 +5V R9"]


def test_the_references_are_in_the_svg_with_the_contact_that_they_belong_to() -> None:
    drawn = svg(adapter_ends(with_parts())[1], "J2")
    group = drawn[drawn.index('<g data-contact="B21">') :]
    assert ">IRQ7 JP1 B21</text>" in group[: group.index("</g>")]
    assert [ref for ref in (part.ref for part, _ in PARTS) if ref not in drawn] == []


def test_without_parts_nothing_is_said_of_them() -> None:
    plain = pinmap.adapt("oakmere-88", "isa-8bit")
    assert parts_at(plain) == {"J1": {}, "J2": {}}
    assert not [drawn for drawn in adapter_ends(plain) if SAID in drawn.about]


def test_a_fuse_stands_at_every_contact_of_its_rail_and_first() -> None:
    adapter = pinmap.adapt("oakmere-riser")
    fuses = {part.feeds or part.purpose: part.ref for part in adapter.parts if part.kind == "fuse"}
    assert len(fuses) == 2
    at = parts_at(adapter)
    rails: dict[str, dict[str, tuple[str, ...]]] = {
        "+5V": {"J1": ("4", "60"), "J2": ("B3", "B29")},
        "+12V": {"J1": ("16",), "J2": ("B9",)},
    }
    for rail, labels in rails.items():
        fuse = next(ref for about, ref in fuses.items() if rail in about)
        for end, contacts in labels.items():
            said = fuse if end == "J1" else f"behind {fuse}"
            assert all(at[end][label].startswith(said) for label in contacts)
