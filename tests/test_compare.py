"""Two maps side by side: what is the same, what moved, and what is only called the same."""

from __future__ import annotations

from typing import Any

import pytest
from handmade import BUS8, BUS16, in_a_row, lines_of, pin_map, shipped, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap.compare import compare
from pinmap.model import Bus, PinMap, Signal


def relations(first: PinMap, second: PinMap) -> list[tuple[str, str]]:
    return [(row.signal, row.relation) for row in compare(first, second).rows]


def one(contacts: dict[str, str], bus: Bus = BUS8, *own: Signal) -> PinMap:
    return pin_map(contacts, strip(9), bus=bus, own=own)


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (one({"1": "SD0"}), one({"1": "D0"}), [("SD0", "same")]),
        (one({"1": "SD0"}), one({"2": "SD0"}), [("SD0", "moved")]),
        (one({"1": "RESET"}), one({"1": "RESET*"}), [("RESET", "opposite polarity")]),
        (one({"1": "RESET"}), one({"5": "RESET*"}), [("RESET", "opposite polarity")]),
        (one({"1": "IOR"}), one({"1": "-IOR"}), [("IOR*", "opposite polarity")]),
        (one({"1": "IOR"}), one({"1": "IOR"}), [("IOR*", "same")]),
        (one({"1": "SD0"}), one({}), [("SD0", "only in the first")]),
        (one({}), one({"1": "SD0"}), [("SD0", "only in the second")]),
        (one({"1": "GND", "2": "GND"}), one({"2": "GND", "1": "GND"}), [("GND", "same")]),
        (one({"1": "GND", "2": "GND"}), one({"1": "GND"}), [("GND", "moved")]),
        # The older MEMR* is the newer SMEMR*; the newer MEMR* is another line.
        (
            one({"1": "MEMR*", "2": "IRQ2"}),
            one({"1": "SMEMR*", "2": "IRQ9", "3": "MEMR*"}, BUS16),
            [("MEMR*", "same"), ("MEMR*", "only in the second"), ("IRQ2", "same")],
        ),
        (
            one({"1": "MEMR*"}),
            one({"1": "MEMR*"}, BUS16),
            [("MEMR*", "only in the first"), ("MEMR*", "only in the second")],
        ),
        (
            one({"1": "DACK0*"}),
            one({"1": "DACK0*"}, BUS16),
            [("DACK0*", "only in the first"), ("DACK0*", "only in the second")],
        ),
        # Own signals pair by name and mark.
        (
            one({"1": "CS1"}, BUS8, Signal("CS1", "own")),
            one({"1": "cs 1"}, BUS16, Signal("cs 1", "own")),
            [("CS1", "same")],
        ),
        (
            one({"1": "CS1"}, BUS8, Signal("CS1", "own")),
            one({"1": "CS1*"}, BUS8, Signal("CS1*", "own")),
            [("CS1", "only in the first"), ("CS1*", "only in the second")],
        ),
        (
            one({"1": "SBHE"}, BUS8, Signal("SBHE", "own")),
            one({"1": "SBHE*"}, BUS16),  # a line of the bus is no line of the maker's own
            [("SBHE*", "only in the second"), ("SBHE", "only in the first")],
        ),
    ],
)
def test_how_a_signal_of_two_maps_relates(first: PinMap, second: PinMap, expected: list[tuple[str, str]]) -> None:
    assert relations(first, second) == expected
    assert compare(first, second).same is all(relation == "same" for _, relation in expected)


@pytest.mark.parametrize("volts", [9.0, -8.0, None])
def test_supplies_of_different_volts_are_two_whatever_they_are_called(volts: float | None) -> None:
    first = one({"1": "+8V"}, BUS8, Signal("+8V", "supply", volts=8.0))
    second = one({"1": "+8V"}, BUS8, Signal("+8V", "supply", volts=volts))
    assert relations(first, second) == [("+8V", "only in the first"), ("+8V", "only in the second")]
    again = one({"1": "+8V"}, BUS8, Signal("+8V", "supply", volts=8.0))
    assert relations(first, again) == [("+8V", "same")]


def test_what_differs_is_said_only_of_lines_that_both_have() -> None:
    both = compare(one({"1": "MEMR*"}), one({"1": "SMEMR*"}, BUS16)).rows
    assert [row.differs for row in both] == [BUS8.signals["MEMR*"].elsewhere["isa-16bit"].differs]
    single = compare(one({"1": "MEMR*"}), one({}, BUS16)).rows
    assert [row.differs for row in single] == [""]


def test_rows_stand_in_the_order_in_which_a_person_wires() -> None:
    first = one({"1": "SD1", "2": "AUDIO", "3": "GND"}, BUS8, Signal("AUDIO", "own"))
    second = one({"4": "+5V", "5": "SD0", "6": "IOR*"})
    assert [row.signal for row in compare(first, second).rows] == ["GND", "+5V", "SD0", "SD1", "IOR*", "AUDIO"]


@pytest.mark.parametrize("name", ["isa-8bit", "isa-16bit", "pc104-8bit", "oakmere-88", "brindle-portable", "tarn-rack"])
def test_a_map_is_the_same_as_itself(name: str) -> None:
    pin = shipped(name)
    assert compare(pin, pin).same
    assert {row.relation for row in compare(pin, pin).rows} == {"same"}


def test_the_stacking_connector_is_the_slot_with_more_returns() -> None:
    differences = [row for row in relations(shipped("isa-16bit"), shipped("pc104-16bit")) if row[1] != "same"]
    assert differences == [("GND", "moved")]


MIRROR: dict[Any, str] = {"only in the first": "only in the second", "only in the second": "only in the first"}


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_turned_round_a_comparison_says_the_same(data: st.DataObject) -> None:
    def draw() -> PinMap:
        bus = data.draw(st.sampled_from([BUS8, BUS16]))
        names = data.draw(st.lists(st.sampled_from(lines_of(bus)), unique=True, max_size=30))
        return pin_map(in_a_row(names), strip(30), bus=bus)

    first, second = draw(), draw()
    there, back = compare(first, second), compare(second, first)

    def contacts(of: Any, forth: bool) -> set[tuple[Any, ...]]:
        return {
            (
                tuple(c.label for c in (row.first if forth else row.second)),
                tuple(c.label for c in (row.second if forth else row.first)),
                row.relation if forth else MIRROR.get(row.relation, row.relation),
            )
            for row in of.rows
        }

    assert contacts(there, True) == contacts(back, False)
    # Every contact that carries a signal is in exactly one row.
    assert sorted(c.label for row in there.rows for c in row.first) == sorted(c.label for c in first.carrying())
    assert sorted(c.label for row in there.rows for c in row.second) == sorted(c.label for c in second.carrying())
