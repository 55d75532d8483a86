"""Two maps held against each other: what is the same, what moved, and what is only called the same."""

from __future__ import annotations

import re
from typing import Any, get_args

import pytest
from handmade import BUS8, BUS16, Line, header, in_a_row, lines_of, pin_map, shipped, strip
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pinmap.body import CORNERS, SCHEMES, Body, Corner, Numbering, Scheme, Section
from pinmap.compare import MOST_CONTACTS, Comparison, compare
from pinmap.mistakes import mistakes
from pinmap.model import Bus, PinMap, Seen, Signal
from pinmap.renumbered import numberings
from pinmap.writers import comparison as said
from pinmap.writers import difference


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


# ---------------------------------------------------------------------- in words


A, B = "alpha", "beta"


def two(first: dict[str, Any], second: dict[str, Any], **more: Any) -> Comparison:
    """Two maps called alpha and beta, of nine contacts each."""
    return compare(
        pin_map(first, strip(9), name=A, **more),
        replace(pin_map(second, strip(9), name=B, **more), title="The alpha connector"),
    )


LOCAL = (Signal("CS1", "own", about="chip select"),)

#: Two maps, what is said of what they carry, and what is said besides.
WORDS: list[tuple[Comparison, list[str], list[str]]] = [
    (two({"1": "SD0"}, {"1": "SD0"}), [], []),
    (two({"1": "SD0"}, {"2": "SD0"}), ["SD0 is at 1 in alpha, at 2 in beta"], []),
    (
        two({"1": "SD0", "4": "SD1"}, {"1": "SD1", "4": "SD0"}),
        ["1 and 4 are exchanged: SD0 and SD1 in alpha, SD1 and SD0 in beta"],
        [],
    ),
    (
        two({"1": "SD0", "2": "SD1", "3": "SD2"}, {"1": "SD1", "2": "SD2", "3": "SD0"}),
        [
            "SD0 is at 1 in alpha, at 3 in beta",
            "SD1 is at 2 in alpha, at 1 in beta",
            "SD2 is at 3 in alpha, at 2 in beta",
        ],
        [],
    ),
    (
        two({"1": "GND", "2": "+5V"}, {"1": "+5V", "2": "GND"}),
        [
            "1 carries GND in alpha, +5V in beta: measure it before anything is connected",
            "2 carries +5V in alpha, GND in beta: measure it before anything is connected",
            "1 and 2 are exchanged: GND and +5V in alpha, +5V and GND in beta",
        ],
        [],
    ),
    (
        two({"1": "GND", "2": "GND", "3": "GND"}, {"1": "GND", "3": "GND", "7": "GND", "8": "GND"}),
        ["GND is at 2 only in alpha and at 7, 8 only in beta"],
        [],
    ),
    (
        two({"1": "IRQ3", "2": "IRQ4", "3": "OSC"}, {"3": "OSC", "4": "TC"}),
        ["only in alpha: IRQ3 (1), IRQ4 (2)", "only in beta: TC (4)"],
        [],
    ),
    (
        two({"1": "RESET", "2": "IOR"}, {"1": "RESET", "3": "IOR*"}),
        ["the polarity is opposite: IOR at 2 in alpha, IOR* at 3 in beta"],
        [],
    ),
    (
        two({"1": "RESET", "2": "RESET*"}, {"1": "RESET*", "2": "RESET"}),
        [
            "the polarity at 1 is opposite: RESET in alpha, RESET* in beta",
            "the polarity at 2 is opposite: RESET* in alpha, RESET in beta",
        ],
        [],
    ),
    (
        two({"1": Line("OSC", option="video board")}, {"1": "OSC"}),
        ["OSC (1) is there only with video board in alpha, always in beta"],
        ["option video board (brings OSC): only in alpha"],
    ),
    (
        two({"1": "key", "2": "key", "3": "WHAT", "4": "?"}, {"1": "NC", "2": "NC", "3": "WHAT", "4": "NC"}),
        ["1, 2: key in alpha, open in beta", "4: not known in alpha, open in beta"],
        [],
    ),
    (two({"3": "WHAT"}, {"3": "WHY"}), ["3: of an unknown name, WHAT in alpha, of an unknown name, WHY in beta"], []),
    (
        two({"1": "ALE", "2": "D0", "3": "-IOR"}, {"1": "BALE", "2": "SD0", "3": "IOR*"}),
        [],
        [
            "SD0 is written D0 in alpha, SD0 in beta, and is the same line",
            "IOR* is written -IOR in alpha, IOR* in beta, and is the same line",
            "BALE is written ALE in alpha, BALE in beta, and is the same line",
        ],
    ),
    (
        two(
            {"1": Line("SD0", seen="guessed", note="smudged"), "2": Line("SD1", seen="guessed")},
            {"1": Line("SD0", seen="measured"), "2": Line("SD1", seen="measured")},
        ),
        [],
        [
            "evidence at 1, 2: guessed in alpha, measured in beta",
            "note at 1: smudged in alpha, none in beta",
        ],
    ),
    (
        compare(
            pin_map({"1": "+5V"}, strip(9), name=A, limits={"+5V": 1.5, "+12V": 1}),
            pin_map({"1": "+5V"}, strip(9, rating_a=3), name=A, limits={"+5V": 1}, own=LOCAL, end="card"),
        ),
        [],
        [
            "limit of +5V: 1.5 A in the first, 1 A in the second",
            "limit of +12V (1 A): only in the first",
            "own line CS1 (own; chip select): only in the second",
            "body rating (3 A): only in the second",
            "end: host in the first, card in the second",
        ],
    ),
    (
        compare(
            pin_map({"1": "SD0", "3": "SD1"}, header(3), name=A), pin_map({"1": "SD0", "2": "SD1"}, strip(7), name=B)
        ),
        [
            "the two connectors have other contacts (6 of alpha, box header; 7 of beta, pin header): only their "
            "signals are compared",
        ],
        ["title is worded otherwise"],
    ),
    (
        compare(
            pin_map({"1": "SD0"}, header(3), name=A),
            pin_map({"1": "SD0"}, replace(header(3), first="top right", footprint="lib:other"), name=A),
        ),
        ["body first: bottom left in the first, top right in the second"],
        ["body footprint (lib:other): only in the second"],
    ),
    (
        compare(
            pin_map({"1": "SD0"}, header(3), name=A),
            pin_map({"1": "SD0"}, header(3).mate(), name=A, end="card"),
        ),
        [],
        ["the two connectors plug into each other", "end: host in the first, card in the second"],
    ),
    (
        two({"1": "\x1b[31mX"}, {"1": "Y\u202e"}),
        ["1: of an unknown name, \\u001b[31mX in alpha, of an unknown name, Y\\u202e in beta"],
        [],
    ),
]


@pytest.mark.parametrize(("comparison", "differs", "besides"), WORDS)
def test_what_differs_is_said_in_words(comparison: Comparison, differs: list[str], besides: list[str]) -> None:
    assert said.words(comparison) == differs
    assert said.remarks(comparison) == besides
    assert comparison.same is (not differs)  # names, evidence, notes, limits and descriptions change no wire
    assert comparison.identical is (not differs and not besides)
    assert said.conclusion(comparison) == (
        "the maps differ in what they carry"
        if differs
        else "both maps carry the same"
        if besides
        else "both maps say the same, contact by contact"
    )


def test_lines_of_two_generations_are_one_line_under_two_names() -> None:
    comparison = compare(
        pin_map({"1": "MEMR*"}, strip(9), name=A), pin_map({"1": "SMEMR*"}, strip(9), name=B, bus=BUS16)
    )
    assert comparison.same
    assert said.remarks(comparison) == [
        f"MEMR* is written MEMR* in alpha, SMEMR* in beta, and is the same line: {comparison.rows[0].differs}",
        "bus: isa-8bit in alpha, isa-16bit in beta",
        "title is worded otherwise",
    ]


def test_what_is_described_in_another_order_is_told_in_one_order_from_both_sides() -> None:
    first = pin_map({}, strip(9), limits={"+12V": 1, "+5V": 1, "-5V": 1})
    second = pin_map({}, strip(9), limits={"-5V": 2, "+5V": 2, "+12V": 2})
    assert [c.what for c in compare(first, second).limits] == ["+5V", "+12V", "-5V"]
    assert [c.what for c in compare(second, first).limits] == ["+5V", "+12V", "-5V"]


def test_an_option_without_a_description_counts_as_one() -> None:
    bare = replace(pin_map({}, strip(9)), options={"a board": ""})
    assert said.remarks(compare(bare, pin_map({}, strip(9)))) == ["option a board: only one of the two has it"]


def test_a_contact_described_twice_is_compared_with_all_that_is_claimed() -> None:
    twice = pin_map([("1", "SD0"), ("1", "SD1"), ("2", "SD2")], strip(9))
    assert compare(twice, twice).identical
    once = pin_map([("1", "SD0"), ("2", "SD2")], strip(9))
    assert said.words(compare(twice, replace(once, name="once"))) == ["only in handmade: SD1 (1)"]
    assert [(p.label, p.relation) for p in compare(twice, once).pairs if p.relation != "same"] == [
        ("1", "another line")
    ]


# ---------------------------------------------------------------------- as a whole


def moved(pin: PinMap, moves: dict[str, str]) -> PinMap:
    """The map with what stands at each label put to another; what has no place is lost, the rest is open."""
    contacts = {moves[c.label]: replace(c, label=moves[c.label]) for c in pin.contacts if c.label in moves}
    rest = {
        label: replace(pin.contacts[0], label=label, role="open", signal=None, written="") for label in pin.body.labels
    }
    return replace(pin, name="other", contacts=tuple((rest | contacts)[label] for label in pin.body.labels))


MEASURE = "supplies and returns are elsewhere with it: measure them before anything is connected"


def test_a_mirrored_connector_is_said_once_and_not_contact_by_contact() -> None:
    slot = shipped("isa-8bit")
    mirrored = next(m for m in mistakes(slot.body) if m.kinds == ("mirrored",))
    comparison = compare(slot, moved(slot, dict(mirrored.moves)))
    assert said.words(comparison) == [
        "other is isa-8bit mirrored end to end (read from the solder side, or numbered from the other end): "
        "62 of 62 contacts agree then, 6 as they stand",
        MEASURE,
    ]
    assert not comparison.same
    assert {row.relation for row in comparison.rows} == {"moved", "same"}
    assert {row.besides for row in comparison.rows} == {"same"}
    assert {pair.relation for pair in comparison.pairs} == {"same"}
    assert next(pair.there for pair in comparison.pairs if pair.label == "A1") == "A31"


def test_what_differs_besides_a_mirrored_connector_is_named() -> None:
    slot = shipped("isa-8bit")
    mirrored = next(m for m in mistakes(slot.body) if m.kinds == ("mirrored",))
    by = slot.by_label
    changed = {"A5": replace(by["A7"], label="A5"), "A7": replace(by["A5"], label="A7")}
    changed["B10"] = replace(by["B3"], label="B10")
    changed["B21"] = replace(by["B21"], role="open", signal=None, written="open")
    wrong = replace(slot, contacts=tuple(changed.get(c.label, c) for c in slot.contacts))
    assert said.words(compare(slot, moved(wrong, dict(mirrored.moves)))) == [
        "other is isa-8bit mirrored end to end (read from the solder side, or numbered from the other end): "
        "58 of 62 contacts agree then, 6 as they stand; the rest differs besides",
        MEASURE,
        "B10 (B22 of other) carries GND in isa-8bit, +5V in other: measure it before anything is connected",
        "A5 and A7 (A27 and A25 of other) are exchanged: SD4 and SD2 in isa-8bit, SD2 and SD4 in other",
        "GND is at B10 only in isa-8bit",
        "+5V is at B22 only in other",
        "only in isa-8bit: IRQ7 (B21)",
    ]


@pytest.mark.parametrize("name", ["isa-8bit", "oakmere-88"])
def test_every_way_to_write_a_connector_wrongly_is_told_as_one(name: str) -> None:
    pin = shipped(name)
    made = mistakes(pin.body)
    assert len(made) > 10
    for index, mistake in enumerate(made):
        wrong = moved(pin, dict(mistake.moves))
        turned = index % 4 == 0
        whole = (compare(wrong, pin) if turned else compare(pin, wrong)).whole
        assert whole is not None, mistake.name
        moves = dict(whole.mistake.moves)
        if (whole.made_in == "first") is not turned:
            moves = {b: a for a, b in moves.items()}
        kept = [c for c in pin.carrying() if c.label in mistake.moves]
        # Where the map looks the same in two ways, the simpler one is named.
        assert moves == {b: a for a, b in mistake.moves.items()} or whole.agreeing >= len(kept)


def test_a_table_that_slips_in_the_middle_is_told_as_one() -> None:
    slot = shipped("isa-8bit")
    row = [f"A{n}" for n in range(1, 32)]
    moves = {label: label for label in slot.body.labels}
    moves |= {row[i]: row[i + 1] for i in range(11, 30)}
    del moves["A31"]
    assert said.words(compare(slot, moved(slot, moves)))[0] == (
        "other is isa-8bit off by 1 contact from A13 (or already from A12) on to A31 (a contact was counted twice or "
        "left out): 61 of 62 contacts agree then, 42 as they stand; the rest differs besides"
    )


def test_what_a_shift_puts_off_the_connector_and_what_stands_in_its_place_are_named() -> None:
    slot = shipped("isa-8bit")
    shifted = next(m for m in mistakes(slot.body) if m.name == "off by 1 place away from contact 1's end")
    other = moved(slot, {b: a for a, b in shifted.moves.items()})
    other = replace(
        other,
        contacts=tuple(replace(slot.by_label["B1"], label="A1") if c.label == "A1" else c for c in other.contacts),
    )
    comparison = compare(slot, other)
    assert comparison.whole
    assert comparison.whole.mistake.name == shifted.name
    assert [(p.label, p.there, p.relation) for p in comparison.pairs if p.relation != "same"] == [
        ("A31", "", "only in the first"),
        ("B31", "", "only in the first"),
        ("", "A1", "only in the second"),
    ]
    assert said.words(comparison)[2:] == [
        "GND is at B31 only in isa-8bit and at A1 only in other",
        "only in isa-8bit: SA0 (A31)",
    ]


def test_a_few_differences_are_never_called_a_mistake_with_the_whole_connector() -> None:
    pin = pin_map({"1": "SD0", "2": "SD1", "3": "SD2"}, strip(3))
    comparison = compare(pin, pin_map({"3": "SD0", "2": "SD1", "1": "SD2"}, strip(3), name="other"))
    assert comparison.whole is None
    assert comparison.exchanged == (("1", "3"),)


def test_a_connector_larger_than_any_is_compared_contact_by_contact() -> None:
    places = MOST_CONTACTS // 2 + 1
    own = [Signal(f"L{n}", "own") for n in range(2 * places)]
    body = Body("box header", (Section(2, places),), "zigzag", "bottom left")
    first = pin_map(in_a_row(s.name for s in own), body, own=own)
    second = pin_map(in_a_row(s.name for s in reversed(own)), body, own=own)
    comparison = compare(first, second)
    assert comparison.whole is None
    assert len(comparison.exchanged) == places


# ---------------------------------------------------------------------- by position


#: A box header of 24 contacts, numbered 1, 2 across from the bottom left.
ACROSS = header(12)
#: What it carries, a different line on each contact but for the returns.
CARRIED = pin_map(in_a_row([*lines_of(BUS8, "GND", "+5V")[:18], "GND", "+5V", "GND", "+5V", "open", "key"]), ACROSS)
ALPHA = replace(CARRIED, name=A)


def renumbered(pin: PinMap, body: Body, face: Body | None = None) -> PinMap:
    """The same contacts in the same places under the labels of `body`; of `face`, where that is seen from behind."""
    at = {(s.x_mm, s.y_mm): label for label, s in pin.body.spots.items()}
    moves = {at[s.x_mm, s.y_mm]: label for label, s in (face or body).spots.items()}
    contacts = {moves[c.label]: replace(c, label=moves[c.label]) for c in pin.contacts}
    return replace(pin, name=B, body=body, contacts=tuple(contacts[label] for label in body.labels))


def numbered(scheme: Scheme, first: Corner, letters: tuple[str, ...] = ("A", "B"), start: int = 1) -> Body:
    section = Section(2, 12, letters if scheme == "rows" else (), start)
    return Body("box header", (section,), scheme, first)


NUMBERINGS = [
    (scheme, first) for scheme in SCHEMES for first in CORNERS if (scheme, first) != ("zigzag", "bottom left")
]


@pytest.mark.parametrize(("scheme", "first"), NUMBERINGS)
def test_the_same_connector_in_another_numbering_is_told_once(scheme: Scheme, first: Corner) -> None:
    comparison = compare(ALPHA, renumbered(ALPHA, numbered(scheme, first)))
    (sentence,) = said.words(comparison)
    letters = " A B" * (scheme == "rows")
    one, other = ("", "") if first == "bottom left" else (" from the bottom left", f" from the {first}")
    assert sentence.startswith(f"beta is the same connector as alpha, numbered {scheme}{letters}{other} instead of ")
    assert f" instead of zigzag{one}" in sentence
    assert ": all 22 contacts have the same signal at the same position" in sentence
    assert said.remarks(comparison) == []
    assert said.conclusion(comparison) == "both maps carry the same at every position, under different labels"
    assert {pair.relation for pair in comparison.pairs} == {"same"}
    assert len(comparison.pairs) == 24
    assert (comparison.same, comparison.whole) == (False, None)


@pytest.mark.parametrize(("scheme", "first"), NUMBERINGS)
def test_what_plugs_in_under_another_numbering_is_paired_by_the_contacts_that_touch(
    scheme: Scheme, first: Corner
) -> None:
    face = numbered(scheme, first)
    comparison = compare(ALPHA, renumbered(ALPHA, face.mate(), face))
    (sentence,) = said.words(comparison)
    assert sentence.startswith(f"beta plugs into alpha and is numbered {scheme}")
    assert ("seen on its own mating face" in sentence) is (first != "bottom left")
    assert ": all 22 contacts have the same signal where they touch" in sentence
    assert said.remarks(comparison) == []
    assert {pair.relation for pair in comparison.pairs} == {"same"}


def test_what_a_numbering_amounts_to_by_its_labels_is_said_with_it() -> None:
    said_of = {first: said.words(compare(ALPHA, renumbered(ALPHA, numbered("zigzag", first)))) for first in CORNERS}
    told = "beta is the same connector as alpha, numbered zigzag from the {} instead of zigzag from the bottom left "
    rest = ": all 22 contacts have the same signal at the same position (under the same label: {})"
    assert said_of == {
        "bottom left": [],
        "bottom right": [told.format("bottom right") + "(by its labels mirrored end to end)" + rest.format("none")],
        "top left": [told.format("top left") + "(by its labels with its rows swapped)" + rest.format("none")],
        "top right": [told.format("top right") + "(by its labels turned by 180°)" + rest.format("none")],
    }


def test_letters_numbers_and_sections_that_differ_are_named() -> None:
    def between(first: Body, second: Body) -> tuple[str, str]:
        both = numberings(first, second)
        assert both
        return both.first, both.second

    rows = numbered("rows", "top left")
    assert between(rows, numbered("rows", "top left", ("B", "A"))) == ("rows A B", "rows B A")
    assert between(rows, numbered("rows", "top left", start=0)) == ("rows A B from number 1", "rows A B from number 0")
    halves = replace(rows, sections=(Section(2, 6, ("A", "B")), Section(2, 6, ("C", "D"), along_mm=6 * 2.54)))
    assert between(rows, halves) == ("rows A B in 2 × 12", "rows A B + C D in 2 × 6 and 2 × 6")


@pytest.mark.parametrize(
    "other",
    [
        numbered("zigzag", "bottom left"),  # the same labels in the same places
        replace(numbered("serial", "bottom left"), pitch_mm=2.0),
        replace(numbered("serial", "bottom left"), form="edge slot"),
        header(13),
        strip(24),
    ],
)
def test_other_places_are_no_other_numbering(other: Body) -> None:
    assert numberings(ACROSS, other) is None


def test_a_form_that_is_its_own_mate_is_told_by_its_gender() -> None:
    body = Body("din 41612", (Section(2, 12, ("a", "b")),), "rows", "top left", gender="male")
    pairs = {
        gender: numberings(body, replace(numbered("serial", "top left"), form="din 41612", gender=gender))
        for gender in ("male", "female", None)
    }
    assert {gender: (both.plugged, both.moves["1"]) for gender, both in pairs.items() if both} == {
        "male": (False, "a1"),
        "female": (True, "a12"),
        None: (False, "a1"),
    }


def test_what_differs_besides_another_numbering_is_named_with_both_labels() -> None:
    by = ALPHA.by_label
    changed = {
        "9": replace(by["11"], label="9"),
        "11": replace(by["9"], label="11"),
        "19": replace(by["20"], label="19"),
        "7": replace(by["7"], note="checked"),
    }
    other = replace(ALPHA, contacts=tuple(changed.get(c.label, c) for c in ALPHA.contacts))
    comparison = compare(ALPHA, renumbered(other, numbered("serial", "bottom left")))
    assert said.words(comparison) == [
        "beta is the same connector as alpha, numbered serial instead of zigzag: 19 of 22 contacts have the same "
        "signal at the same position (under the same label: 2); the rest differs besides",
        "19 (10 of beta) carries GND in alpha, +5V in beta: measure it before anything is connected",
        f"9 and 11 (5 and 6 of beta) are exchanged: {by['9'].name} and {by['11'].name} in alpha, "
        f"{by['11'].name} and {by['9'].name} in beta",
        "GND is at 19 only in alpha",
        "+5V is at 10 only in beta",
    ]
    assert said.remarks(comparison) == ["note at 7: none in alpha, checked in beta"]
    assert said.conclusion(comparison) == "the maps differ in what they carry"


def test_a_connector_numbered_otherwise_and_mirrored_besides_is_told_as_both() -> None:
    mirrored = next(m for m in mistakes(ACROSS) if m.kinds == ("mirrored",))
    wrong = replace(moved(ALPHA, dict(mirrored.moves)), title=ALPHA.title)
    for body, labels in (
        (numbered("rows", "bottom left"), "rows A B"),
        (numbered("serial", "bottom left"), "serial"),
    ):
        comparison = compare(ALPHA, renumbered(wrong, body))
        assert said.words(comparison) == [
            f"beta is numbered {labels} instead of zigzag, so the two are compared by position",
            "beta is alpha mirrored end to end (read from the solder side, or numbered from the other end): "
            "22 of 22 contacts agree then, 0 as they stand",
            MEASURE,
        ]
        assert {pair.relation for pair in comparison.pairs} == {"same"}
        assert said.conclusion(comparison) == "the maps differ in what they carry"


def test_where_the_labels_agree_another_numbering_is_only_a_difference_of_the_body() -> None:
    comparison = compare(ALPHA, replace(ALPHA, name=B, body=numbered("serial", "bottom left"), contacts=ALPHA.contacts))
    assert comparison.renumbered is None
    assert said.words(comparison) == ["body labels: zigzag in alpha, serial in beta"]


def test_two_machines_with_one_body_under_other_labels_are_not_the_same_connector() -> None:
    names = [c.written for c in ALPHA.contacts]
    body = numbered("rows", "bottom left")
    other = pin_map(dict(zip(body.labels, names[5:] + names[:5], strict=True)), body, name=B)
    comparison = compare(ALPHA, other)
    assert (comparison.renumbered, comparison.held, comparison.pairs) == (None, False, ())
    assert said.words(comparison)[0] == (
        "the two connectors have other contacts (24 of alpha, box header; 24 of beta, box header): "
        "only their signals are compared"
    )


def test_pads_that_lie_the_same_are_not_told_and_pads_that_do_not_are() -> None:
    ours = replace(ACROSS, pads=Numbering("zigzag", "bottom left"))
    same = replace(numbered("serial", "bottom left"), pads=Numbering("zigzag", "bottom left"))
    assert len(said.words(compare(replace(ALPHA, body=ours), renumbered(ALPHA, same)))) == 1
    implied = compare(ALPHA, renumbered(ALPHA, same))  # its labels are its pads, zigzag from there as well
    assert len(said.words(implied)) == 1
    turned = replace(same, pads=Numbering("zigzag", "top right"))
    comparison = compare(replace(ALPHA, body=ours), renumbered(ALPHA, turned))
    assert said.words(comparison)[1:] == ["body pads: zigzag from bottom left in alpha, zigzag from top right in beta"]
    assert said.conclusion(comparison) == (
        "both maps carry the same at every position, under different labels, and their bodies differ"
    )


@settings(deadline=None, max_examples=60, derandomize=True)
@given(st.data())
def test_under_any_numbering_exactly_what_changed_is_named_from_both_sides(data: st.DataObject) -> None:
    scheme, first = data.draw(st.sampled_from(NUMBERINGS))
    some = data.draw(st.lists(st.sampled_from(ALPHA.body.labels), unique=True, max_size=4))
    moves = {label: label for label in ALPHA.body.labels} | dict(
        zip(some, data.draw(st.permutations(some)), strict=True)
    )
    changed = moved(ALPHA, moves)
    differing = {c.label for c in ALPHA.contacts if (c.role, c.name) != _role_and_name(changed, c.label)}
    other = renumbered(changed, numbered(scheme, first))
    there, back = compare(ALPHA, other), compare(other, ALPHA)
    assert there.renumbered
    assert back.renumbered
    labels = there.renumbered.numberings.moves
    assert back.renumbered.numberings.moves == {here: label for label, here in labels.items()}
    assert {labels[pair.there]: pair.label for pair in there.pairs} == {label: label for label in ALPHA.body.labels}
    assert {p.label for p in there.pairs if p.relation != "same"} == differing
    assert {p.there for p in back.pairs if p.relation != "same"} == differing


def _role_and_name(pin: PinMap, label: str) -> tuple[str, str]:
    return pin.by_label[label].role, pin.by_label[label].name


# ---------------------------------------------------------------------- properties


def mixed(data: st.DataObject, contacts: int = 24) -> PinMap:
    """A map of a bus with lines, several returns, open contacts, doubts and options."""
    bus = data.draw(st.sampled_from([BUS8, BUS16]))
    names = data.draw(st.permutations([*lines_of(bus)[: contacts - 6], "GND", "GND", "+5V", "open", "key", "ODD"]))
    seen: st.SearchStrategy[Seen] = st.sampled_from(get_args(Seen))
    option = st.sampled_from(["", "", "", "a board"])
    return pin_map(
        in_a_row(Line(name, seen=data.draw(seen), option=data.draw(option)) for name in names[:contacts]),
        header(contacts // 2),
        bus=bus,
    )


@settings(deadline=None, max_examples=40, derandomize=True)
@given(st.data())
def test_a_map_has_no_difference_from_itself(data: st.DataObject) -> None:
    pin = mixed(data)
    comparison = compare(pin, pin)
    assert comparison.identical
    assert said.words(comparison) == said.remarks(comparison) == []
    assert difference.as_diff(pin, pin) == ""


@settings(deadline=None, max_examples=60, derandomize=True)
@given(st.data())
def test_of_a_map_permuted_exactly_the_contacts_that_changed_are_named(data: st.DataObject) -> None:
    pin = mixed(data)
    labels = list(pin.body.labels)
    some = data.draw(st.lists(st.sampled_from(labels), unique=True, max_size=7))
    moves = {label: label for label in labels} | dict(zip(some, data.draw(st.permutations(some)), strict=True))
    other = moved(pin, moves)
    comparison = compare(pin, other)
    if comparison.whole:  # so few that it cannot be told from this
        assert comparison.whole.agreeing > comparison.whole.as_given
        return

    def carries(of: PinMap, label: str) -> tuple[str, str, str]:
        contact = of.by_label[label]
        return contact.role, contact.name, contact.option if contact.signal else ""

    changed = {label for label in labels if carries(pin, label) != carries(other, label)}
    assert {pair.label for pair in comparison.pairs if pair.relation != "same"} == changed
    assert comparison.same is (not changed)
    spoken = " ".join(said.words(comparison))
    assert changed <= set(re.findall(r"\d+", re.sub(r"(\d+)–(\d+)", _between, spoken)))


def _between(run: re.Match[str]) -> str:
    return " ".join(str(n) for n in range(int(run[1]), int(run[2]) + 1))


@settings(deadline=None, max_examples=60, derandomize=True)
@given(st.data())
def test_turned_round_the_contacts_and_the_words_are_the_same(data: st.DataObject) -> None:
    first = mixed(data)
    second = (
        replace(mixed(data), name="other")
        if data.draw(st.booleans())
        else moved(first, dict(data.draw(st.sampled_from(mistakes(first.body))).moves))
    )
    there, back = compare(first, second), compare(second, first)
    assert there.same is back.same
    assert (there.whole is None) is (back.whole is None)
    if there.whole and back.whole:
        assert (there.whole.agreeing, there.whole.as_given) == (back.whole.agreeing, back.whole.as_given)
        return
    assert {(p.label, p.there, p.relation) for p in there.pairs} == {
        (p.there, p.label, MIRROR.get(p.relation, p.relation)) for p in back.pairs
    }
    assert {frozenset(e) for e in there.exchanged} == {frozenset(e) for e in back.exchanged}
    for one, other in ((there.limits, back.limits), (there.body, back.body), (there.about, back.about)):
        assert [(c.what, c.first, c.second) for c in one] == [(c.what, c.second, c.first) for c in other]
