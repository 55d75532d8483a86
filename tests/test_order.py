"""Runs of data and address lines: a break in one is asked about, an order that somebody may have meant is not."""

from __future__ import annotations

import random
import time
from itertools import combinations

import pytest
from handmade import BUS16, Line, header, in_a_row, pin_map, shipped, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap import checks, library
from pinmap.body import Body, Section
from pinmap.checks.order import runs_in_order
from pinmap.model import PinMap
from pinmap.text import listed

SD = [f"SD{n}" for n in range(8)]
SD16 = [f"SD{n}" for n in range(16)]
SA = [f"SA{n}" for n in range(20)]
DIN = Body("din 41612", (Section(3, 32, ("a", "b", "c")),), "rows", gender="female")


def row(*names: str) -> PinMap:
    """The lines on contacts 1, 2, 3 … of a single row."""
    return pin_map(in_a_row(names), strip(40))


def across(*names: str) -> PinMap:
    """The lines on contacts 1, 2, 3 … of two rows, to and fro."""
    return pin_map(in_a_row(names), header(20))


def along(first: list[str], second: list[str] | None = None) -> PinMap:
    """Lines along the odd row, and others along the even one."""
    odd = {str(2 * n + 1): name for n, name in enumerate(first)}
    return pin_map(odd | {str(2 * n + 2): name for n, name in enumerate(second or [])}, header(20))


def swapped(names: list[str], one: int, other: int) -> list[str]:
    out = list(names)
    out[one], out[other] = out[other], out[one]
    return out


def questions(pin: PinMap) -> list[tuple[str, str]]:
    found = list(runs_in_order(pin))
    assert {(f.code, f.grade) for f in found} <= {("order-broken", "caution")}
    return [(f.message, f.advice) for f in found]


def question(what: str, where: str) -> tuple[str, str]:
    name, _, offenders = what.partition(" ")
    return (
        f"{name} lines should run in order, not {offenders}",
        f"Measure {where}; leave it if the maker's order is so",
    )


@pytest.mark.parametrize(
    ("pin", "expected"),
    [
        (
            row(*swapped(SD, 2, 3)),
            [question("SD have 3 = SD3 and 4 = SD2; to exchange 3 and 4 mends it", "3 and 4")],
        ),
        (
            row(*swapped(SD, 2, 3)[::-1]),
            [question("SD have 5 = SD2 and 6 = SD3; to exchange 5 and 6 mends it", "5 and 6")],
        ),
        (
            row(*swapped(SD, 0, 7)),
            [question("SD have 1 = SD7 and 8 = SD0; to exchange 1 and 8 mends it", "1 and 8")],
        ),
        (
            across(*swapped(SD, 2, 3)),
            [question("SD have 3 = SD3 and 4 = SD2; to exchange 3 and 4 mends it", "3 and 4")],
        ),
        (
            along(swapped(SD, 2, 3), swapped(SA, 4, 5)),
            [
                question("SD have 5 = SD3 and 7 = SD2; to exchange 5 and 7 mends it", "5 and 7"),
                question("SA have 10 = SA5 and 12 = SA4; to exchange 10 and 12 mends it", "10 and 12"),
            ],
        ),
        # A line of the run stands elsewhere, and something else in its place.
        (
            row(*SD[:3], "AEN", *SD[4:], "IOR*", "SD3", "IOW*"),
            [question("SD have 10 = SD3 and 4 = AEN; to exchange 10 and 4 mends it", "10 and 4")],
        ),
        (
            row(*SD[:3], "GND", *SD[4:], "IOR*", "SD3", "IOW*"),
            [question("SD have 10 = SD3", "10")],
        ),
        (
            row(*SD[:3], "SA5", *SD[4:], *SA[:5], "SD3", *SA[6:]),
            [question("SD have 14 = SD3 and 4 = SA5; to exchange 14 and 4 mends it", "14 and 4")],
        ),
        (
            along([*SD[:3], "AEN", *SD[4:]], ["SD3"]),
            [question("SD have 7 = AEN between SD2 and SD4, and SD3 at 2; to exchange 7 and 2 mends it", "7 and 2")],
        ),
        # A byte or nibble the other way round.
        (
            row(*SA[7::-1], *SA[8:]),
            [
                question(
                    "SA have 1 = SA7, 2 = SA6, 3 = SA5, 4 = SA4, 5 = SA3, 6 = SA2, 7 = SA1 and 8 = SA0; to reverse "
                    "the byte SA0 to SA7 mends it",
                    "1, 2, 3, 4, 5, 6, 7 and 8",
                )
            ],
        ),
        (
            row(*SA[:4], *SA[7:3:-1], *SA[8:]),
            [
                question(
                    "SA have 5 = SA7, 6 = SA6, 7 = SA5 and 8 = SA4; to reverse the nibble SA4 to SA7 mends it",
                    "5, 6, 7 and 8",
                )
            ],
        ),
        (
            row(*SD[:4], *SD[7:3:-1]),
            [
                question(
                    "SD have 5 = SD7, 6 = SD6, 7 = SD5 and 8 = SD4; to reverse the nibble SD4 to SD7 mends it",
                    "5, 6, 7 and 8",
                )
            ],
        ),
        *(
            (
                row(*order),
                [
                    question(
                        f"SD have {listed(f'{n} = {name}' for n, name in enumerate(order, 1))}; to reverse each "
                        "nibble of SD mends it",
                        "1, 2, 3, 4, 5, 6, 7 and 8",
                    )
                ],
            )
            for order in ((*SD[3::-1], *SD[7:3:-1]),)
        ),
        # One line stands some places too late, and those between one too early.
        (
            row("SD1", "SD2", "SD0", *SD[3:]),
            [
                question(
                    "SD have 1 = SD1, 2 = SD2 and 3 = SD0; to move SD0 back to 1, and the lines between by one, "
                    "mends it",
                    "1, 2 and 3",
                )
            ],
        ),
        (
            row(*SA[:9], *SA[10:13], "SA9", *SA[13:]),
            [
                question(
                    "SA have 10 = SA10, 11 = SA11, 12 = SA12 and 13 = SA9; to move SA9 back to 10, and the lines "
                    "between by one, mends it",
                    "10, 11, 12 and 13",
                )
            ],
        ),
        (
            row(*SA[:9], "SA12", *SA[9:12], *SA[13:]),
            [
                question(
                    "SA have 10 = SA12, 11 = SA9, 12 = SA10 and 13 = SA11; to move SA12 on to 13, and the lines "
                    "between by one, mends it",
                    "10, 11, 12 and 13",
                )
            ],
        ),
        # Two runs that lie beside each other: not any exchange, but that which mends both.
        (
            row(*swapped([*SD, *SA], 0, 9)),
            [question("SA have 1 = SA1 and 10 = SD0; to exchange 1 and 10 mends it", "1 and 10")],
        ),
        (
            along([*SD[:3], "GND", *SD[4:]], ["SD3"]),
            [question("SD have 7 = GND between SD2 and SD4, and SD3 at 2", "7 and 2")],
        ),
        # A supply or return is never proposed for an exchange.
        (
            row("GND", "+5V", "SD1", "SD2", "SD0", *SD[3:]),
            [
                question(
                    "SD have 3 = SD1, 4 = SD2 and 5 = SD0; to move SD0 back to 3, and the lines between by one, "
                    "mends it",
                    "3, 4 and 5",
                )
            ],
        ),
        # Out of order, and no one change mends it.
        (
            row("SA0", "SA1", "SA9", "SA2", "SA3", "SA4", "SA12", "SA5", "SA6", "SA7", "SA15"),
            [question("SA have 3 = SA9 and 7 = SA12", "3 and 7")],
        ),
        (row("SD0", "SD1", "SD2", "SD3", "SD3", "SD4", "SD5"), [question("SD have 5 = SD3", "5")]),
    ],
)
def test_a_break_in_a_run_is_asked_about_with_the_change_that_mends_it(
    pin: PinMap, expected: list[tuple[str, str]]
) -> None:
    assert questions(pin) == expected


@pytest.mark.parametrize(
    "pin",
    [
        row(*SD),
        row(*SD[::-1]),
        across(*SD, *SA),
        along(SD, SA),
        along(SD[:4], SD[4:]),
        row(*SD[4:], *SD[:4]),  # the high half first
        row(*SA[8:], *SA[:8]),
        row(*SA[5::-1], *SA[:5:-1]),  # the low part in front, both counted down
        row(*(name for n in swapped(SD, 2, 3) for name in (n, "open", "open"))),  # strewn over the connector
        row("SD0", "SD2", "SD4", "SD6", "SD1", "SD3", "SD5", "SD7"),  # by twos
        along(SD[::2], SD[1::2]),
        row("SD5", "SD2", "SD7", "SD0", "SD4", "SD1", "SD6", "SD3"),  # no order at all
        row(*SD[:4], "GND", *SD[4:], "GND", *SA[:8], "+5V", *SA[8:]),  # supplies and returns between
        row(*SD[:3], *SD[4:]),  # a line that the machine has not: another question
        row(*SD[:3], "AEN", *SD[4:]),
        row("SD1", "SD0", "SD2"),  # too short for a run
        row("SD0"),
        row("IRQ3", "IRQ5", "IRQ4", "IRQ6", "IRQ7", "DRQ1", "DRQ3", "DRQ2"),  # only data and address lines run
        row("GND", "+5V"),
        pin_map({}, strip(1)),
        pin_map({}, header(20)),
        pin_map({}, header(20), rest="undescribed"),
        pin_map({f"a{n + 1}": f"SD{n}" for n in range(8)} | {f"c{n + 1}": f"SA{n}" for n in range(20)}, DIN),
    ],
    ids=lambda pin: " ".join(c.name for c in pin.contacts if c.role != "open")[:60] or "nothing",
)
def test_an_order_that_somebody_may_have_meant_is_not_asked_about(pin: PinMap) -> None:
    assert questions(pin) == []


def test_a_question_names_contacts_lines_and_place() -> None:
    (finding,) = runs_in_order(row(*swapped(SD, 2, 3)))
    assert (finding.contacts, finding.signals, finding.place.line) == (("3", "4"), ("SD3", "SD2"), 3)


def test_lines_go_by_the_names_of_the_dictionary_whatever_the_map_calls_them() -> None:
    names = [f"D{n}" for n in range(8)]
    (asked,) = questions(row(*swapped(names, 2, 3)))
    assert asked[0] == "SD lines should run in order, not have 3 = SD3 and 4 = SD2; to exchange 3 and 4 mends it"


def test_a_contact_described_twice_counts_with_what_comes_first() -> None:
    twice = [*in_a_row(SD).items(), ("3", Line("SD7", option="board")), ("4", "SD0")]
    assert questions(pin_map(twice, strip(20))) == []


def test_runs_of_the_wider_bus_are_followed_from_row_to_row() -> None:
    body = Body("edge slot", (Section(2, 20, ("A", "B")), Section(2, 10, ("C", "D"))), "rows")
    low, high = [f"SD{n}" for n in range(7, -1, -1)], [f"SD{n}" for n in range(8, 16)]
    good = {f"A{n}": name for n, name in enumerate(low, 1)} | {f"C{n}": name for n, name in enumerate(high, 1)}
    assert questions(pin_map(good, body, bus=BUS16)) == []
    bad = good | {"C4": "SD12", "C5": "SD11"}
    assert questions(pin_map(bad, body, bus=BUS16)) == [
        question("SD have C4 = SD12 and C5 = SD11; to exchange C4 and C5 mends it", "C4 and C5")
    ]


@pytest.mark.parametrize("corner", ["top left", "top right", "bottom left", "bottom right"])
@pytest.mark.parametrize("scheme", ["zigzag", "serial", "ring", "lettered"])
def test_two_neighbours_exchanged_are_found_in_every_numbering(scheme: str, corner: str) -> None:
    body = Body("pin header", (Section(2, 24),), scheme, corner)  # type: ignore[arg-type]
    row_ = list(body.labels[:24])
    good = dict(zip(row_, SA, strict=False))
    assert questions(pin_map(good, body)) == []
    bad = good | {row_[9]: "SA10", row_[10]: "SA9"}
    (asked,) = questions(pin_map(bad, body))
    assert asked[0].endswith(f"to exchange {row_[9]} and {row_[10]} mends it")


@given(st.integers(0, 18), st.booleans(), st.sampled_from(["row", "across", "along"]))
@settings(deadline=None, derandomize=True, max_examples=60)
def test_any_two_neighbours_in_a_run_exchanged_are_found_and_named(at: int, down: bool, way: str) -> None:
    names = swapped(SA, at, at + 1)
    make = {"row": row, "across": across}.get(way)
    pin = make(*names[:: -1 if down else 1]) if make else along(names[:: -1 if down else 1])
    (finding,) = runs_in_order(pin)
    assert {int(name[2:]) for name in finding.signals} == {at, at + 1}
    assert "; to exchange " in finding.message


def test_what_is_said_to_mend_a_run_does_mend_it() -> None:
    names = [*SD, *SA, "AEN", "GND", "+5V", "IOR*"]
    mended = 0
    for one, other in list(combinations(range(len(names)), 2))[::3]:
        wrong = swapped(names, one, other)
        for finding in runs_in_order(row(*wrong)):
            if "to exchange" in finding.message:
                a, b = (int(label) - 1 for label in finding.contacts)
                assert questions(row(*swapped(wrong, a, b))) == [], finding.message
                mended += 1
    assert mended > 100


def test_nothing_is_asked_of_a_shipped_map() -> None:
    assert {e.name: questions(shipped(e.name)) for e in library.entries()} == {e.name: [] for e in library.entries()}


def test_20000_contacts_are_looked_at_once() -> None:
    chance = random.Random(0)
    names = [*SD16, *SA, "GND", "open"]
    bodies = [
        strip(20_000),
        Body("pin header", (Section(5_000, 4),), "serial"),
        Body("pin header", tuple(Section(1, 2, ("A",), 1 + 2 * n) for n in range(10_000)), "rows"),
    ]
    begun = time.perf_counter()
    for body in bodies:
        questions(pin_map({label: chance.choice(names) for label in body.labels}, body, bus=BUS16))
    # Once each, so that the paths are long and the runs are not.
    spread = pin_map({str(1 + 500 * n): name for n, name in enumerate(swapped(SA, 3, 4))}, strip(20_000))
    questions(spread)
    assert time.perf_counter() - begun < 10


def test_the_runs_are_looked_at_only_where_no_reference_tells_more() -> None:
    pin = row(*swapped(SD, 2, 3))
    codes = [f.code for f in checks.run(pin, references=lambda: (pin_map(in_a_row(SD), strip(40)),))]
    assert "order-broken" not in codes
    assert "differs-from-reference" in codes
    assert "order-broken" in [f.code for f in checks.run(pin)]
