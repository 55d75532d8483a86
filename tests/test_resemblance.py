"""Which mistake explains a map: named where one was made, and none where a maker simply had an order of his own."""

from __future__ import annotations

import random
import re
import time
from collections.abc import Iterable, Mapping
from itertools import pairwise

import pytest
from handmade import BUS8, BUS16, Line, header, in_a_row, pin_map, shipped, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap import api, checks, forms, library
from pinmap.body import CORNERS, SCHEMES, Body, Corner, Scheme, Section
from pinmap.mistakes import Mistake, mistakes, table_order
from pinmap.model import Bus, PinMap, Signal
from pinmap.resemblance import as_given, explanations, follows, lines, same_labels

SLOT = shipped("isa-8bit")


def carried(pin: PinMap) -> dict[str, str]:
    """What a map carries, by contact, in words that `pin_map` reads."""
    return {label: c.name for label, c in pin.by_label.items() if c.role != "undescribed"}


def made(pin: PinMap, mistake: Mistake, *without: str) -> PinMap:
    """The map as a person writes it who makes the mistake; contacts in `without` are not described."""
    right = carried(pin)
    wrong = {a: right[b] for a, b in mistake.moves.items() if b in right and a not in without}
    return pin_map(wrong, pin.body, bus=pin.bus, rest="undescribed", own=pin.own.values())


def named(pin: PinMap, name: str) -> Mistake:
    return next(m for m in mistakes(pin.body) if m.name == name)


def names(pin: PinMap, *references: PinMap) -> list[str]:
    return [e.mistake.name for e in explanations(pin, references) if e.mistake]


# ---------------------------------------------------------------------- a mistake that was made is found


@pytest.mark.parametrize(
    ("name", "numbers"),
    [
        # agreeing, known, as it stands
        ("mirrored end to end", (62, 62, 6)),
        ("with its rows swapped", (62, 62, 0)),
        ("turned by 180°", (62, 62, 0)),
        ("mirrored end to end and off by 1 place away from contact 1's end", (60, 60, 0)),
        ("with its rows swapped and off by 2 places towards contact 1's end", (58, 58, 0)),
        ("turned by 180° and off by 3 places towards contact 1's end", (56, 56, 0)),
        ("off by 3 places away from contact 1's end", (56, 56, 0)),
        ("numbered across the rows, but read row by row", (62, 62, 2)),
        ("numbered round the connector, but read row by row", (62, 62, 36)),
        ("numbered row by row, but read across the rows", (62, 62, 2)),
    ],
)
def test_a_published_table_with_a_mistake_is_explained_by_it_alone(name: str, numbers: tuple[int, int, int]) -> None:
    (found,) = explanations(made(SLOT, named(SLOT, name)), [SLOT])
    assert found.mistake is not None
    assert (found.mistake.name, found.reference.name, found.labelled) == (name, "isa-8bit", True)
    assert (found.agreeing, found.known, found.as_given) == numbers
    assert round(found.by_chance) == 1


def test_where_two_mistakes_explain_a_table_equally_well_both_are_named() -> None:
    table = made(SLOT, named(SLOT, "off by 1 place away from contact 1's end"))
    # Nothing is said of A1 and B1, and nothing else tells row B shifted by itself from a line left out in front of A2.
    assert names(table, SLOT) == ["off by 1 place away from contact 1's end", "off by 1 contact from A2 on"]


def test_at_most_three_mistakes_are_named_beside_each_other() -> None:
    # Four contacts in a square of returns and supplies: turned and mirrored come to the same.
    body = Body("pin header", (Section(2, 12),), "serial")
    right = pin_map({str(n): "GND" if n < 13 else "+5V" for n in range(1, 25)}, body)
    wrong = pin_map({str(n): "+5V" if n < 13 else "GND" for n in range(1, 25)}, body)
    found = explanations(wrong, [right])
    assert [e.mistake.name for e in found if e.mistake] == [
        "with its rows swapped",
        "turned by 180°",
        "numbered round the connector, with its rows swapped, but read row by row",
    ]
    assert {e.agreeing for e in found} == {24}


def test_the_reference_that_explains_a_map_best_is_named() -> None:
    other = pin_map(dict.fromkeys(SLOT.body.labels, "GND"), SLOT.body, name="other")
    table = made(SLOT, named(SLOT, "mirrored end to end"))
    for references in ([other, SLOT], [SLOT, other]):
        (found,) = explanations(table, references)
        assert found.reference is SLOT


def test_a_table_of_the_other_generation_is_explained_through_its_lines_there() -> None:
    there = shipped("isa-16bit")
    right = pin_map(
        {label: name for label, name in carried(there).items() if label[0] in "AB"},
        SLOT.body,
        bus=BUS16,
        name="sixteen",
    )
    (found,) = explanations(made(right, named(right, "turned by 180°")), [SLOT])
    assert found.mistake is not None
    assert (found.mistake.name, found.agreeing, found.known) == ("turned by 180°", 62, 62)


def test_a_connector_of_the_makers_own_in_the_order_of_the_slot_is_explained_too() -> None:
    # Two more places at the end and another numbering: nothing but the order tells. The box header is mirrored.
    body = header(33)
    spots = {(s.row, s.place): label for label, s in body.spots.items()}
    order = {spots[1 - s.row, 30 - s.place]: SLOT.by_label[label].name for label, s in SLOT.body.spots.items()}
    found = explanations(pin_map(order, body), [SLOT])
    assert [(e.mistake.name if e.mistake else "", e.agreeing, e.labelled) for e in found] == [
        ("mirrored end to end", 62, False)
    ]
    right = {spots[1 - s.row, s.place]: SLOT.by_label[label].name for label, s in SLOT.body.spots.items()}
    assert explanations(pin_map(right, body), [SLOT]) == []


def test_where_one_reference_has_the_same_labels_the_others_do_not_count() -> None:
    own = shipped("oakmere-88")
    assert names(made(own, named(own, "mirrored end to end")), own, SLOT) == ["mirrored end to end"]
    # Another record of the machine tells more than the slot, also where it says that nothing is mistaken.
    pin = made(own, named(own, "mirrored end to end"))
    record = carried(pin) | dict.fromkeys(["5", "6", "7", "31", "33"], "open")
    assert names(pin, SLOT) == ["mirrored end to end"]
    assert names(pin, SLOT, pin_map(record, own.body)) == []


@given(st.sampled_from(SCHEMES), st.integers(1, 3), st.integers(30, 52), st.sampled_from(CORNERS), st.integers(0, 9999))
@settings(deadline=None, derandomize=True, max_examples=40)
def test_any_mistake_with_any_table_is_found_and_to_undo_it_gives_the_table_back(
    scheme: Scheme, rows: int, contacts: int, corner: Corner, seed: int
) -> None:
    rows = 2 if scheme in ("ring", "lettered") else rows
    section = Section(rows, contacts // rows, tuple("ABC"[:rows]) if scheme == "rows" else ())
    body = Body("pin header", (section,), scheme, corner)
    # A table without order in it: each line tells where it belongs.
    order = [s.name for s in BUS8.signals.values()]
    chance = random.Random(seed)
    chance.shuffle(order)
    right = pin_map(dict(zip(body.labels, order, strict=False)), body)
    mistake = chance.choice(mistakes(body))
    wrong = made(right, mistake)
    found = [e.mistake for e in explanations(wrong, [right]) if e.mistake]
    assert found
    for each in found:
        undone = {each.moves[label]: name for label, name in carried(wrong).items() if label in each.moves}
        assert undone.items() <= carried(right).items()
    assert mistake.moves in [each.moves for each in found]


# ---------------------------------------------------------------------- part of the table off


def off(pin: PinMap, begin: str, step: int, end: str = "") -> PinMap:
    """The table whose contacts from `begin` to `end` stand `step` too late."""
    order = table_order(pin.body)
    first, last = order.index(begin), order.index(end or order[-1]) + 1
    right = carried(pin)
    wrong = {label: right[label] for i, label in enumerate(order) if not first <= i < last}
    for i in range(first, last):
        if 0 <= i - step < last and (step < 0 or i - step >= first - 1):
            wrong[order[i]] = right.get(order[i - step], "open")
    return pin_map(wrong, pin.body, bus=pin.bus, rest="undescribed", own=pin.own.values(), marks=pin.marks)


@pytest.mark.parametrize(
    ("reference", "begin", "step", "end", "name", "why"),
    [
        ("isa-8bit", "A18", 1, "", "off by 1 contact from A18 on", "a contact was counted twice or left out"),
        ("isa-8bit", "B5", 1, "", "off by 1 contact from B5 on", "a contact was counted twice or left out"),
        ("isa-8bit", "B5", -1, "", "off by 1 contact from B5 on", "a contact was counted twice or left out"),
        ("isa-8bit", "A9", -1, "A31", "off by 1 contact from A9 on to A31", "a contact was counted twice or left out"),
        ("isa-8bit", "A9", 1, "A31", "off by 1 contact from A9 on to A31", "a contact was counted twice or left out"),
        ("isa-8bit", "A9", -2, "A31", "off by 2 contacts from A9 on to A31", "contacts were counted twice or left out"),
        ("oakmere-88", "20", 1, "", "off by 1 contact from 20 on", "a contact was counted twice or left out"),
        ("oakmere-88", "31", -1, "", "off by 1 contact from 31 on", "a contact was counted twice or left out"),
        # The lettered row goes on from Z with AA, not from A.
        ("brindle-portable", "B", 1, "", "off by 1 contact from B on", "a contact was counted twice or left out"),
        ("brindle-portable", "F", -1, "", "off by 1 contact from F on", "a contact was counted twice or left out"),
    ],
)
def test_a_table_that_is_off_from_some_contact_on_is_said_to_begin_there(
    reference: str, begin: str, step: int, end: str, name: str, why: str
) -> None:
    right = shipped(reference)
    found = explanations(off(right, begin, step, end), [right])
    assert [(e.mistake.name, e.mistake.why, e.mistake.begins) for e in found if e.mistake] == [(name, why, begin)]
    (mistake,) = [e.mistake for e in found if e.mistake]
    order = table_order(right.body)
    at = order.index(begin)
    assert mistake.moves[order[at + 4]] == order[at + 4 - step]
    assert mistake.moves[order[0]] == order[0]
    assert len(set(mistake.moves.values())) == len(mistake.moves)


def test_contacts_that_tell_nothing_in_front_of_the_part_may_belong_to_it() -> None:
    table = carried(off(SLOT, "A18", 1))
    for label in ("A15", "A16", "A17"):
        del table[label]
    (found,) = explanations(pin_map(table, SLOT.body, rest="undescribed"), [SLOT])
    assert found.mistake is not None
    assert found.mistake.name == "off by 1 contact from A18 (or already from A15) on"
    assert (found.mistake.begins, found.mistake.perhaps) == ("A18", ("A15", "A16", "A17"))


def test_fewer_than_four_contacts_that_are_off_are_no_part_of_the_table() -> None:
    assert names(off(SLOT, "B28", 1), SLOT) == ["off by 1 contact from B28 on"]
    assert names(off(SLOT, "B29", 1), SLOT) == []


# ---------------------------------------------------------------------- no explanation where there is none


@pytest.mark.parametrize(
    ("pin", "references"),
    [
        (SLOT, []),
        (SLOT, [SLOT]),
        (SLOT, [pin_map({}, SLOT.body, rest="undescribed")]),  # a reference that says nothing
        (SLOT, [pin_map({}, strip(1))]),  # another kind of thing
        (pin_map({}, SLOT.body), [SLOT]),
        (pin_map({}, SLOT.body, rest="undescribed"), [SLOT]),
        (pin_map({"1": "GND"}, strip(1)), [SLOT]),
        (pin_map({"1": "GND"}, strip(1)), [pin_map({"1": "+5V"}, strip(1))]),
        (pin_map({"1": "GND", "2": "+5V"}, strip(2)), [pin_map({"1": "+5V", "2": "GND"}, strip(2))]),  # too little
        (pin_map({"1": "WHAT", "2": "WHO"}), [SLOT]),
        (pin_map([("1", "GND"), ("1", "+5V"), ("1", Line("+12V", option="board"))]), [SLOT]),
        (pin_map({"1": "AUDIO"}, own=[Signal("AUDIO", "own")]), [SLOT]),
    ],
)
def test_a_map_that_agrees_or_says_too_little_is_not_explained(pin: PinMap, references: list[PinMap]) -> None:
    assert explanations(pin, references) == []


@pytest.mark.parametrize("entry", [e.name for e in library.entries()])
def test_no_shipped_map_is_explained_by_a_mistake(entry: str) -> None:
    pin = shipped(entry)
    assert explanations(pin, api.published(pin)) == []


def test_a_few_differences_need_no_mistake_to_explain_them() -> None:
    table = carried(SLOT)
    for label in ("A2", "A3", "A4", "B13", "B14", "B31"):
        table[label] = "open"
    assert explanations(pin_map(table, SLOT.body), [SLOT]) == []


def test_connectors_without_end_are_not_tried_in_every_way() -> None:
    # No connector of a bus has as many contacts or sections; what stands on them may still be compared.
    chance = random.Random(0)
    lines_ = [s.name for s in BUS8.signals.values()]

    def filled(body: Body) -> PinMap:
        return pin_map({label: chance.choice(lines_) for label in body.labels}, body)

    long = filled(strip(20_000))
    wide = filled(Body("edge slot", (Section(2, 2500, ("A", "B")),), "rows"))
    parts = [Body("pin header", tuple(Section(1, 2, (r,), 1 + 2 * n) for n in range(1000)), "rows") for r in "AB"]
    begun = time.perf_counter()
    assert explanations(long, [wide, long]) == []
    assert explanations(filled(parts[0]), [filled(parts[1]), SLOT]) == []
    assert as_given(long, long).share == 1
    assert time.perf_counter() - begun < 10


# ---------------------------------------------------------------------- orders of a maker's own

OWN_BODIES = [
    Body("box header", (Section(2, 32),), "zigzag", "bottom left"),
    Body("edge slot", (Section(2, 31, ("A", "B")),), "rows"),  # with the labels of the published slot
    Body("edge slot", (Section(2, 36),), "lettered"),
    Body("pin header", (Section(2, 40),), "serial"),
    Body("pin header", (Section(1, 64),), "serial"),
    Body("din 41612", (Section(2, 32, ("c", "a")),), "rows", gender="female"),
    Body("din 41612", (Section(3, 32, ("c", "b", "a")),), "rows", gender="female"),
    Body("edge slot", (Section(2, 31, ("A", "B")), Section(2, 18, ("C", "D"))), "rows"),
]


def own_order(rng: random.Random, body: Body, bus: Bus) -> Mapping[str, str]:
    """An order as makers have them: runs of lines kept together, blocks shuffled, returns and rails strewn in."""
    runs: dict[str, list[str]] = {}
    for signal in bus.signals.values():
        if not signal.is_power:
            runs.setdefault(re.sub(r"(?<=[A-Z])\d+", "", signal.name), []).append(signal.name)
    blocks: list[list[str]] = []
    for run in runs.values():
        if rng.random() < 0.5:
            run.reverse()
        cut = rng.randrange(4, len(run) - 3) if len(run) >= 8 and rng.random() < 0.4 else 0
        blocks += [run[:cut], run[cut:]]
    rng.shuffle(blocks)
    order = [name for block in blocks for name in block]
    supplies = [s.name for s in bus.rails for _ in range(rng.choice([1, 1, 2]))]
    for name in (*supplies, *["GND"] * rng.randrange(3, 12)):
        order.insert(rng.randrange(len(order) + 1), name)
    while len(order) > len(body):
        order.pop(rng.randrange(len(order)))
    while len(order) < len(body):
        order.insert(rng.randrange(len(order) + 1), rng.choice(["open", "GND"]))
    labels = list(body.labels)
    if rng.random() < 0.5:
        labels.sort(key=lambda label: (body.spots[label].section, body.spots[label].place, body.spots[label].row))
    return dict(zip(labels, order, strict=True))


def own_orders(times: int) -> Iterable[PinMap]:
    for seed in range(times):
        rng = random.Random(seed)
        bus, body = rng.choice([BUS8, BUS16]), forms.complete(rng.choice(OWN_BODIES), library.customs())
        yield pin_map(own_order(rng, body, bus), body, bus=bus, name=f"order {seed}")


def test_orders_of_makers_own_are_hardly_ever_called_mistaken_and_never_a_danger() -> None:
    published = {bus.name: tuple(shipped(name) for name in bus.connectors) for bus in (BUS8, BUS16)}
    accused = []
    for pin in own_orders(200):
        there = published[pin.bus.name]
        found = [f for f in checks.run(pin, lambda: there) if f.code == "geometry-mistaken"]  # noqa: B023 - run now
        assert [f for f in found if f.grade != "caution"] == [], pin.name
        accused += [(pin.name, f.message) for f in found]
    assert len(accused) < 2, accused


def test_the_orders_made_for_the_test_hold_what_they_should() -> None:
    several = list(own_orders(40))
    assert {pin.body.scheme for pin in several} == {"rows", "zigzag", "serial", "lettered"}
    assert any(same_labels(pin, SLOT) for pin in several)
    assert all(len([c for c in pin.carrying() if c.name == "GND"]) >= 1 for pin in several)
    longest = [max(_run_lengths(pin)) for pin in several]
    assert min(longest) >= 3
    assert sum(longest) >= 6 * len(longest)


def _run_lengths(pin: PinMap) -> list[int]:
    """How many neighbours by number follow each other in the order of either way over the connector."""
    out = [1]
    spots = pin.body.spots
    for labels in (
        list(pin.body.labels),
        sorted(spots, key=lambda x: (spots[x].section, spots[x].place, spots[x].row)),
    ):
        length = 1
        for one, other in pairwise(labels):
            length = length + 1 if follows(pin.by_label[one].name, pin.by_label[other].name) else 1
            out.append(length)
    return out


# ---------------------------------------------------------------------- the parts


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("SD3", "SD4", True),
        ("SD4", "SD3", True),
        ("DACK1*", "DACK2*", True),
        ("SA9", "SA10", True),
        ("SD3", "SD5", False),
        ("SD3", "SD3", False),
        ("SD3", "SA4", False),
        ("DACK1*", "DACK2", False),
        ("GND", "GND", False),
        ("+5V", "+6V", False),
        ("", "SD0", False),
    ],
)
def test_lines_follow_each_other_by_name_and_number(one: str, other: str, expected: bool) -> None:
    assert follows(one, other) is expected


@pytest.mark.parametrize(
    ("contacts", "reference", "expected"),
    [
        ({"1": "GND", "2": "D7", "3": "open", "4": "WHAT", "5": "key"}, SLOT, {"1": "GND", "2": "SD7"}),
        # The other generation's name for the line; what it has not, is not counted.
        ({"1": "MEMR*", "2": "IRQ2", "3": "SD0"}, shipped("isa-16bit"), {"1": "SMEMR*", "2": "IRQ9", "3": "SD0"}),
        # What is described twice counts once; an option is what it brings.
        ([("1", "SD7"), ("1", "SD6"), ("2", Line("OSC", option="board"))], SLOT, {"1": "SD7", "2": "OSC"}),
        ([("1", "WHAT"), ("1", "SD6")], SLOT, {"1": "SD6"}),
        # The maker's own: only where the reference has it too, as another record of the machine does.
        ({"1": "AUDIO", "2": "SD0"}, SLOT, {"2": "SD0"}),
        ({"1": "AUDIO"}, pin_map({"9": "AUDIO"}, own=[Signal("AUDIO", "own")]), {"1": "AUDIO"}),
        ({"1": "RESET*"}, SLOT, {"1": "RESET"}),  # the polarity is another question
    ],
)
def test_what_a_contact_carries_is_said_in_the_names_of_the_reference(
    contacts: dict[str, str], reference: PinMap, expected: dict[str, str]
) -> None:
    assert lines(pin_map(contacts, own=[Signal("AUDIO", "own")]), reference) == expected


def test_agreement_is_counted_contact_by_contact() -> None:
    reference = pin_map(in_a_row(["GND", "+5V", "SD0", "SD1", "SD2", "AEN"]), strip(6))
    pin = pin_map(in_a_row(["GND", "+5V", "SD0", "SD1", "AEN", "open"]), strip(6))
    given_ = as_given(pin, reference)
    assert (given_.mistake, given_.agreeing, given_.known, given_.as_given) == (None, 4, 5, 0)
    # 3 for each of GND and +5V, 1 for SD0, a quarter for SD1 that comes with it, of which AEN's 1 is missing.
    assert (given_.weight, given_.share) == (7.25, 7.25 / 8.25)


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (SLOT, shipped("isa-8bit"), True),
        (SLOT, shipped("isa-16bit"), False),
        (strip(4), header(2), True),  # whatever their form: it is the labels that say where things are
        (strip(4), strip(5), False),
    ],
)
def test_connectors_have_the_same_labels_or_not(one: PinMap | Body, other: PinMap | Body, expected: bool) -> None:
    both = [m if isinstance(m, PinMap) else pin_map({}, m) for m in (one, other)]
    assert same_labels(*both) is expected
