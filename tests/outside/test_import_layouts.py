"""The published tables of the ISA and PC/104 connectors, written out as people keep tables, and imported again.

Source: PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008, Appendix B, Table 2, in
`data/pc104_pinout.csv`; the slots have GND where that table has a key, and the 8-bit generation other names at five
contacts, as `test_pc104_specification` has it.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from layouts import DRAWINGS, LAYOUTS, Pairs, connector_of, read_back

from pinmap import importing, library, tabular

LINES = (Path(__file__).parent / "data" / "pc104_pinout.csv").read_text("utf-8").splitlines()
TABLE = list(csv.DictReader(line for line in LINES if not line.startswith("#")))
ADDED = {"A32", "B32", "C0", "C19", "D0", "D19"}
EIGHT_BIT = {"B4": "IRQ2", "B8": "RESERVED", "B11": "MEMW*", "B12": "MEMR*", "B19": "DACK0*"}


def published(rows: str, column: str = "name") -> dict[str, str]:
    return {row["contact"]: row[column] for row in TABLE if row["contact"][0] in rows}


def slot(rows: str) -> dict[str, str]:
    return {label: name for label, name in published(rows).items() if label not in ADDED} | {"B10": "GND"}


CONNECTORS = {
    "pc104-16bit": published("ABCD"),
    "pc104-8bit": published("AB"),
    "isa-16bit": slot("ABCD"),
    "isa-8bit": slot("AB") | EIGHT_BIT,
}

EVERY_WAY = LAYOUTS | DRAWINGS


@pytest.mark.parametrize("layout", EVERY_WAY)
@pytest.mark.parametrize("connector", CONNECTORS)
def test_the_published_table_comes_back_as_the_shipped_map(connector: str, layout: str, tmp_path: Path) -> None:
    pairs: Pairs = list(CONNECTORS[connector].items())
    write, file = EVERY_WAY[layout]
    answer = importing.imported(tabular.read(write(pairs), file))
    again = read_back(answer.text, tmp_path)
    shipped = library.read(connector).map
    assert again.map is not None
    assert shipped is not None
    assert again.complaints == ()
    assert connector_of(again.map) == connector_of(shipped)
    assert again.map.body == shipped.body
    assert again.map.bus.name == shipped.bus.name
    assert (answer.not_understood, answer.doubts) == ((), ())


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_names_of_the_older_versions_come_back_as_the_same_lines(layout: str, tmp_path: Path) -> None:
    pairs: Pairs = list(published("ABCD", "older_name").items())
    write, file = LAYOUTS[layout]
    again = read_back(importing.imported(tabular.read(write(pairs), file)).text, tmp_path)
    shipped = library.read("pc104-16bit").map
    assert again.map is not None
    assert shipped is not None
    assert connector_of(again.map) == connector_of(shipped)


def test_the_slot_drawn_as_it_is_comes_back_row_beside_row(tmp_path: Path) -> None:
    slot_ = CONNECTORS["isa-8bit"]
    lines = ["Solder side   Component side"]
    lines += [f"B{n} {slot_[f'B{n}']}".ljust(14) + f"A{n} {slot_[f'A{n}']}" for n in range(1, 32)]
    answer = importing.imported(tabular.read("\n".join(lines).encode(), "slot.txt"))
    again = read_back(answer.text, tmp_path)
    shipped = library.read("isa-8bit").map
    assert again.map is not None
    assert shipped is not None
    assert connector_of(again.map) == connector_of(shipped)
    assert [str(r) for r in answer.passed_over] == ["slot.txt:1:1: 'Solder side  Component side': a heading"]
