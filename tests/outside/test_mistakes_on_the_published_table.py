"""A table typed from the PC/104 Specification, with a mistake made in typing it, is called by that mistake.

The table is not the project's own: PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008,
Appendix B, Table 2, as copied to `data/pc104_pinout.csv`.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from pinmap import api

LINES = (Path(__file__).parent / "data" / "pc104_pinout.csv").read_text("utf-8").splitlines()
ROWS = list(csv.DictReader(line for line in LINES if not line.startswith("#")))
#: Rows A and B, contacts 1 to 32, in the present and in the older spelling.
NAMES = {entry["contact"]: entry["name"].replace("KEY", "key") for entry in ROWS if entry["contact"][0] in "AB"}
OLDER = {entry["contact"]: entry["older_name"].replace("KEY", "key") for entry in ROWS if entry["contact"][0] in "AB"}

CONNECTOR = """\
format: 1
title: Typed from the specification
bus: isa-16bit
end: host
body: {form: socket header, rows: 2, places: 32, pitch: 2.54 mm, labels: rows, letters: B A, first: top right}
contacts:
"""
SLOT = """\
format: 1
title: Typed from the specification
bus: isa-8bit
end: host
body: {form: edge slot, rows: 2, places: 31, pitch: 2.54 mm, labels: rows, letters: A B, first: top left}
contacts:
"""

Moved = Callable[[str, int], tuple[str, int]]


def typed(tmp_path: Path, head: str, table: dict[str, str], moved: Moved, places: int) -> Path:
    """A map as it is typed by someone who writes at `moved(row, number)` what stands at row and number."""
    at = {moved(contact[0], int(contact[1:])): name for contact, name in table.items()}
    lines = [f'  {r}{n}: "{at[r, n]}"\n' for r in "AB" for n in range(1, places + 1) if (r, n) in at]
    path = tmp_path / "typed.yaml"
    path.write_text(head + "".join(lines), encoding="utf-8")
    return path


def as_printed(row: str, number: int) -> tuple[str, int]:
    return row, number


OTHER = {"A": "B", "B": "A"}
MISTAKES: list[tuple[str, Moved, str, str]] = [
    (
        "mirrored end to end",
        lambda row, number: (row, 33 - number),
        "read from the solder side, or numbered from the other end",
        "63 of 63 contacts agree with pc104-8bit; as it stands 2 do",
    ),
    (
        "with its rows swapped",
        lambda row, number: (OTHER[row], number),
        "row taken for row",
        "63 of 63 contacts agree with pc104-8bit; as it stands 2 do",
    ),
    (
        "turned by 180°",
        lambda row, number: (OTHER[row], 33 - number),
        "begun at the opposite corner",
        "63 of 63 contacts agree with pc104-8bit; as it stands 2 do",
    ),
    (
        "off by 1 place away from contact 1's end",
        lambda row, number: (row, number + 1),
        "counted from the wrong place",
        "61 of 61 contacts agree with pc104-8bit; as it stands 1 do",
    ),
]


@pytest.mark.parametrize("table", [NAMES, OLDER], ids=["present names", "older names"])
def test_the_table_as_it_is_printed_agrees_with_the_published_connector(table: dict[str, str], tmp_path: Path) -> None:
    assert len(table) == 64
    checked = api.check(typed(tmp_path, CONNECTOR, table, as_printed, 32))
    assert {f.code for f in checked.findings} <= {"rail-beside-line", "rail-beside-rail", "name-other-generation"}


@pytest.mark.parametrize("table", [NAMES, OLDER], ids=["present names", "older names"])
@pytest.mark.parametrize(("name", "moved", "why", "figures"), MISTAKES, ids=[name for name, *_ in MISTAKES])
def test_the_table_typed_with_a_mistake_is_called_by_it_and_put_right(
    name: str, moved: Moved, why: str, figures: str, table: dict[str, str], tmp_path: Path
) -> None:
    path = typed(tmp_path, CONNECTOR, table, moved, 32)
    found = [f for f in api.check(path).findings if f.code == "geometry-mistaken"]
    assert [f.grade for f in found] == ["danger"]
    assert f"if the map was written {name} ({why})" in found[0].message
    assert figures in found[0].message
    right = {label: api.load_map("pc104-8bit").by_label[label].name for label in table}
    path.write_text(api.propose(path).text, encoding="utf-8")
    corrected = api.load_map(path)
    described = {c.label: c.name for c in corrected.contacts if c.role != "undescribed"}
    assert described.items() <= right.items()
    assert len(described) >= 62


def test_the_table_of_the_slot_is_called_mirrored_whatever_the_generation_of_its_names(tmp_path: Path) -> None:
    # The slot of the older generation has the same order on contacts 1 to 31. Five contacts of row B are named
    # otherwise in the table and are the same by function; B10 is a key there.
    table = {contact: name for contact, name in NAMES.items() if int(contact[1:]) <= 31}
    path = typed(tmp_path, SLOT.replace("isa-8bit", "isa-16bit"), table, lambda row, number: (row, 32 - number), 31)
    found = [f for f in api.check(path, against=["isa-8bit"]).findings if f.code == "geometry-mistaken"]
    assert [(f.grade, f.message) for f in found] == [
        (
            "danger",
            "if the map was written mirrored end to end (read from the solder side, or numbered from the other "
            "end), 61 of 61 contacts agree with isa-8bit; as it stands 6 do, and about 1 would by chance",
        )
    ]
