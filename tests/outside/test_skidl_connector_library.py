"""The ISA slots against the parts Bus_ISA_8bit and Bus_ISA_16bit of skidl's own connector library.

Source: the file Connector_sklib.py in the installed skidl, made from the open KiCad symbol library; the two are one
source. Its pins 1-31 are the contacts B1-B31, 32-62 A1-A31, 63-80 D1-D18, 81-98 C1-C18.

A second opinion, compared by position. Where the part differs from the published table, the difference stands in a
table below with its reason; any other difference fails, and so does a listed one that is not there any more.
The file is parsed, not imported: importing skidl writes files into the current folder.
"""

from __future__ import annotations

import ast
import importlib.util
from functools import cache
from pathlib import Path

import pytest

from pinmap import load_map
from pinmap.library import bus
from pinmap.naming import Names

CONTACTS = [f"{row}{n}" for row, last in (("B", 31), ("A", 31), ("D", 18), ("C", 18)) for n in range(1, last + 1)]
PARTS = {"isa-8bit": ("Bus_ISA_8bit", 62), "isa-16bit": ("Bus_ISA_16bit", 98)}

#: What the part says that our connector does not: (contact, name there) and what our connector has, with the reason.
ODDITIES = {
    "isa-8bit": {
        ("A1", "IO", "IOCHK*"): "cut short to the first two letters of I/O CH CK",
        ("B11", "~{SMEMW}", "MEMW*"): "the 16-bit generation's name, in the part of the 8-bit slot",
        ("B12", "~{SMEMR}", "MEMR*"): "the 16-bit generation's name, in the part of the 8-bit slot",
    },
    "isa-16bit": {
        ("A1", "IO", "IOCHK*"): "cut short to the first two letters of I/O CH CK",
        ("B4", "IRQ2", "IRQ9"): "the 8-bit generation's name, in the part of the 16-bit slot",
        ("B8", "UNUSED", "SRDY*"): "as in the 8-bit slot, where the contact is reserved",
        ("C1", "SBHE", "SBHE*"): "without its mark of active low",
        ("D17", "MASTER", "MASTER*"): "without its mark of active low",
    },
}


@cache
def part(name: str) -> dict[int, str]:
    """The pins of a part by number, read from the library's text."""
    skidl = importlib.util.find_spec("skidl")
    assert skidl is not None
    assert skidl.origin is not None
    text = (Path(skidl.origin).parent / "tools" / "skidl" / "libs" / "Connector_sklib.py").read_text("utf-8")
    # Thousands of lines, each part a call `Part(**{...})`: only the text of the one is parsed.
    start = text.index(f"Part(**{{ 'name':'{name}'")
    end = text.index("'unit_defs':[] })", start) + len("'unit_defs':[] })")
    call = ast.parse(text[start:end], mode="eval").body
    pins = {}
    for node in ast.walk(call):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Pin":
            said = {k.arg: k.value.value for k in node.keywords if isinstance(k.value, ast.Constant)}
            number = int(str(said["num"]))
            assert number not in pins
            pins[number] = str(said["name"])
    return pins


@pytest.mark.parametrize("connector", PARTS)
def test_the_part_has_one_pin_for_each_contact(connector: str) -> None:
    name, count = PARTS[connector]
    assert sorted(part(name)) == list(range(1, count + 1))
    assert {contact.label for contact in load_map(connector).contacts} == set(CONTACTS[:count])


@pytest.mark.parametrize("connector", PARTS)
def test_the_slot_differs_from_the_part_only_where_the_part_is_known_to_be_odd(connector: str) -> None:
    pin_map, names = load_map(connector), Names(bus(connector))
    differences = set()
    for number, written in part(PARTS[connector][0]).items():
        label = CONTACTS[number - 1]
        ours = pin_map.by_label[label]
        assert ours.signal is not None
        reading = names.read(written)
        # By the line it names and the polarity it marks; a name of the other generation is a difference.
        same = (
            reading is not None
            and reading.via in ("name", "alias")
            and reading.signal == ours.signal
            and reading.inverted("used") == ours.inverted
        )
        if not same:
            differences.add((label, written, ours.name))
    assert differences == set(ODDITIES[connector])


@pytest.mark.parametrize(
    ("connector", "line", "names"),
    [
        ("isa-8bit", "+5V", {"VCC"}),
        ("isa-16bit", "+5V", {"VCC", "+5V"}),  # two names for one rail
        ("isa-8bit", "RESERVED", {"UNUSED"}),
    ],
)
def test_a_line_has_the_names_in_the_part_that_we_know_of(connector: str, line: str, names: set[str]) -> None:
    # No differences, for the dictionary knows these names; but names that the published table does not use.
    pins = part(PARTS[connector][0])
    carried = [c.label for c in load_map(connector).by_signal[line]]
    assert {pins[CONTACTS.index(label) + 1] for label in carried} == names


@pytest.mark.parametrize(("contact", "there"), [("B11", "SMEMW*"), ("B12", "SMEMR*")])
def test_the_other_generations_name_in_the_8_bit_part_is_our_lines_counterpart(contact: str, there: str) -> None:
    line = load_map("isa-8bit").by_label[contact].signal
    assert line is not None
    counterpart, _ = bus("isa-8bit").counterpart(line, bus("isa-16bit"))
    assert counterpart == bus("isa-16bit").signals[there]


@pytest.mark.parametrize(("contact", "there"), [("B4", "IRQ2"), ("B8", "RESERVED")])
def test_the_other_generations_name_in_the_16_bit_part_is_our_lines_counterpart(contact: str, there: str) -> None:
    line = load_map("isa-16bit").by_label[contact].signal
    assert line is not None
    counterpart, _ = bus("isa-16bit").counterpart(line, bus("isa-8bit"))
    assert counterpart == bus("isa-8bit").signals[there]
