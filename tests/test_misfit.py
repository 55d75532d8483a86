"""A right adapter, plugged wrongly: what each seating does, how bad that is, and which key helps."""

from __future__ import annotations

import difflib
import json
from collections.abc import Mapping
from typing import Any

import click
import pytest
from conftest import GOLDEN
from handmade import BUS8, Line, in_a_row, lines_of, pin_map, shipped
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap import library
from pinmap.body import Body, Form, Section
from pinmap.consequence import CONSEQUENCES, MEANING, Outcome
from pinmap.design import Design, Fuse
from pinmap.misfit import EndMisfit, Misfit, alike, misfit
from pinmap.model import End, PinMap, Signal
from pinmap.planner import plan
from pinmap.remedies import carried_out
from pinmap.writers import misfits

OFF = "off by 1 place away from contact 1's end"
BACK = "off by 1 place towards contact 1's end"
TURNED = "turned by 180°"


def row(length: int, form: Form = "pin header") -> Body:
    """One row, contact 1 at the left."""
    return Body(form, (Section(1, length),), "serial")


def straight(contacts: Mapping[str, Any], length: int, **more: Any) -> Misfit:
    """A machine and a card with the same lines on the same contacts: the adapter is wire from n to n."""
    host = pin_map(contacts, row(length), end="host", **more)
    return misfit(plan(host, pin_map(contacts, row(length), end="card", **more)))


def outcome(end: EndMisfit, name: str) -> Outcome:
    (found,) = (o for o in end.outcomes if o.seating.name == name)
    return found


def told(outcome: Outcome) -> list[tuple[str, ...]]:
    """The meetings as text: contact that stays, contact that moves, from the machine, to the card, what it is."""
    return [(m.stays, m.moves, m.machine, m.card, m.consequence) for m in outcome.meetings]


# ---------------------------------------------------------------------- one case for each consequence

OWN = (Signal("+8V", "supply", volts=8.0), Signal("-3V", "supply", volts=-3.0))

#: contacts 1, 2, 3 … of both ends; the seating; the consequence; what it says of the host's end
CASES: dict[str, tuple[list[str], str, str, str]] = {
    # +5V lands on the card's GND 1, and the machine's GND 2 on the card's +5V … the two joined by nothing: reversed.
    "wrong rail, reversed": (
        ["GND", "+5V"],
        TURNED,
        "wrong rail",
        "+5V of the machine meets GND of the card (machine 2, adapter 1), "
        "and the machine's return meets +5V (machine 1, adapter 2)",
    ),
    # The machine's +5V on 3 and its GND on 2 both lie on the card's GND, which joins 1 and 2.
    "rail on return": (
        ["GND", "GND", "+5V"],
        OFF,
        "rail on return",
        "short circuit: +5V (machine 3, adapter 2) and the machine's return (machine 2, adapter 1) "
        "are joined through GND of the card",
    ),
    # +12V on 3 meets the card's +5V on 2, and +5V on 2 the card's +5V on 1: the card's +5V joins them.
    "rail on rail": (
        ["+5V", "+5V", "+12V", "open", "GND"],
        OFF,
        "rail on rail",
        "short circuit: +12V (machine 3, adapter 2) and +5V (machine 2, adapter 1) of the machine "
        "are joined through +5V of the card",
    ),
    "rail on line": (
        ["GND", "SD3", "+12V", "SD4"],
        OFF,
        "rail on line",
        "+12V of the machine meets SD3 of the card (machine 3, adapter 2), and SD3 meets GND (machine 2, adapter 1)",
    ),
    # An open collector line is no driver, but a supply destroys what is on it all the same.
    "rail on an open collector": (
        ["IOCHRDY", "+5V", "open", "GND"],
        OFF,
        "rail on line",
        "+5V of the machine meets IOCHRDY of the card (machine 2, adapter 1)",
    ),
    "return missing": (
        ["+5V", "+5V", "open", "GND"],
        OFF,
        "return missing",
        "+5V comes (machine 2, adapter 1), but no return does",
    ),
    "driver on return": (
        ["GND", "SD0", "open", "+5V"],
        OFF,
        "driver on return",
        "SD0 of the machine meets GND of the card (machine 2, adapter 1)",
    ),
    "a driven line of the card on the machine's return": (
        ["IRQ3", "GND", "open", "+5V"],
        OFF,
        "driver on return",
        "the machine's return meets IRQ3 of the card (machine 2, adapter 1)",
    ),
    # The host drives IOR*, nothing else feeds the card's +5V.
    "driver on a dead rail": (
        ["+5V", "IOR*", "open", "GND"],
        OFF,
        "driver on dead rail",
        "IOR* of the machine meets +5V of the card (machine 2, adapter 1)",
    ),
    "driver on driver": (
        ["SD0", "SD1", "open", "GND", "GND", "open", "+5V", "+5V"],
        OFF,
        "driver on driver",
        "SD1 of the machine meets SD0 of the card (machine 2, adapter 1)",
    ),
    # The host drives both lines, the card neither, and the card has its supply: nothing known is damaged.
    "two inputs of the card": (
        ["IOR*", "IOW*", "open", "GND", "GND", "open", "+5V", "+5V"],
        OFF,
        "cannot work",
        "none of 2 lines meets as planned; 1 contact lies on another line's",
    ),
    # As before, but the only +5V is off the card's.
    "an input of a card without supply": (
        ["IOR*", "IOW*", "open", "GND", "open", "+5V"],
        OFF,
        "driver on dead rail",
        "no supply comes, but the driven line IOW* (machine 2, adapter 1) does",
    ),
    "three inputs of a card without supply": (
        ["IOR*", "IOW*", "SD0", "AEN", "open", "GND", "open", "+5V"],
        OFF,
        "driver on dead rail",
        "no supply comes, but IOW* (machine 2, adapter 1) and 2 more driven lines do",
    ),
    # The machine drives no interrupt: nothing feeds the card.
    "an output of a card without supply": (
        ["IRQ3", "IRQ4", "open", "GND", "open", "+5V"],
        OFF,
        "cannot work",
        "no supply and no return comes; none of 2 lines meets as planned; 1 contact lies on another line's",
    ),
    # The plan brings no supply at all, so none is missing.
    "a card that has its supply from elsewhere": (
        ["IOR*", "IOW*", "open", "GND"],
        OFF,
        "cannot work",
        "no supply and no return comes; none of 2 lines meets as planned; 1 contact lies on another line's",
    ),
    "one rail of two": (
        ["+5V", "+5V", "open", "GND", "GND", "open", "+12V"],
        OFF,
        "rails incomplete",
        "+12V does not come while +5V does",
    ),
    "memory without its negative rail": (
        ["+12V", "+12V", "open", "GND", "GND", "open", "+5V", "+5V", "open", "-5V"],
        OFF,
        "rails incomplete",
        "-5V does not come while +12V and +5V do, which can destroy memory chips with three supplies",
    ),
    # Its return holds the card's +5V down, but nothing of the machine puts a voltage on the card.
    "the return on a supply of a card that gets none": (
        ["+5V", "GND", "open"],
        OFF,
        "cannot work",
        "no supply and no return comes; 1 contact lies on another line's",
    ),
    # The card's +5V lies on the machine's return (1 on 2) and on SD0 (4 on 5): SD0 is shorted, no supply comes.
    "a driver into the return through a supply of the card": (
        ["+5V", "GND", "open", "+5V", "SD0"],
        OFF,
        "driver on return",
        "SD0 of the machine meets +5V of the card (machine 5, adapter 4)",
    ),
    # The card's IOCHRDY is an open collector, so the host's SD0 does not fight with it.
    "an open collector on a driver": (
        ["IOCHRDY", "SD0", "open", "GND", "GND", "open", "+5V", "+5V"],
        OFF,
        "cannot work",
        "none of 2 lines meets as planned; 1 contact lies on another line's",
    ),
    "an open collector on the return": (
        ["GND", "IOCHRDY", "open", "+5V"],
        BACK,
        "cannot work",
        "no supply and no return comes; none of 1 line meets as planned; 1 contact lies on another line's",
    ),
    "nothing meets": (
        ["GND", "open", "+5V", "open"],
        OFF,
        "harmless",
        "nothing meets anything",
    ),
    "a rail on its own rail": (
        ["+5V", "GND", "+5V", "GND"],
        "off by 2 places away from contact 1's end",
        "harmless",
        "everything meets as planned, +5V and GND on fewer contacts",
    ),
    "a supply of other volts": (
        ["+8V", "-3V", "open", "GND"],
        OFF,
        "wrong rail",
        "-3V of the machine meets +8V of the card (machine 2, adapter 1)",
    ),
}


@pytest.mark.parametrize(("lines", "name", "consequence", "says"), CASES.values(), ids=list(CASES))
def test_what_a_seating_does_is_what_it_does_on_paper(lines: list[str], name: str, consequence: str, says: str) -> None:
    end, card = straight(in_a_row(lines), len(lines), own=OWN).ends
    found = outcome(end, name)
    assert (found.consequence, found.says) == (consequence, says)
    # The card in the adapter is plugged the same way, so the same lines meet there.
    there = outcome(card, name)
    assert there.consequence == consequence
    assert there.says == says.replace("adapter", "card").replace("(machine", "(adapter")
    assert told(there) == told(found)


def test_every_consequence_has_its_case() -> None:
    assert {consequence for _, _, consequence, _ in CASES.values()} == set(CONSEQUENCES) - {"not known"}


def test_the_worst_consequences_come_first_and_each_has_a_grade() -> None:
    assert list(MEANING) == list(CONSEQUENCES)
    grades = [MEANING[c].grade for c in CONSEQUENCES]
    assert grades == ["danger"] * 5 + ["fault"] * 4 + ["caution"] * 2 + ["note"]
    assert "three that get +12V or +5V without -5V" in MEANING["rails incomplete"].about


def test_what_the_consequences_mean_is_said_modestly() -> None:
    for said in (MEANING["cannot work"].about, MEANING["harmless"].about, *misfits._MARKS.values()):
        assert "nothing is damaged" not in said
        assert "damages nothing" not in said
    assert MEANING["cannot work"].about.endswith("nothing known is damaged")
    assert MEANING["harmless"].about == "nothing was found to meet what it must not"


def test_a_line_counts_as_on_a_rail_where_the_card_joins_the_two() -> None:
    # +5V of the machine (4) lies on the card's GND 3, which is joined with its GND 1: there lies SD0 (2).
    moved = outcome(straight(in_a_row(["GND", "SD0", "GND", "+5V"]), 4).ends[0], OFF)
    assert told(moved) == [
        ("4", "3", "+5V", "GND", "wrong rail"),
        ("2", "1", "SD0", "GND", "rail on line"),
        ("3", "2", "GND", "SD0", "driver on return"),
    ]
    assert moved.says == (
        "+5V of the machine meets GND of the card (machine 4, adapter 3), and so does SD0 (machine 2, adapter 1)"
    )


def test_a_short_reaches_as_far_as_the_machines_supply_does() -> None:
    # The machine's +5V (2 and 5) lies on the card's -12V (1) and +12V (4), which its return (8 on 7) meets as well.
    lines = ["-12V", "+5V", "open", "+12V", "+5V", "open", "+12V", "GND"]
    assert told(outcome(straight(in_a_row(lines), 8).ends[0], OFF)) == [
        ("2", "1", "+5V", "-12V", "rail on return"),
        ("5", "4", "+5V", "+12V", "rail on return"),
        ("8", "7", "GND", "+12V", "rail on return"),
    ]


def test_the_short_that_closes_is_told_before_others_of_its_kind() -> None:
    # Both +12V (2) and the machine's GND (5) lie on the card's GND, on 1 and on 4.
    found = outcome(straight(in_a_row(["GND", "+12V", "open", "GND", "GND"]), 5).ends[0], OFF)
    assert found.consequence == "rail on return"
    assert found.says == (
        "short circuit: +12V (machine 2, adapter 1) and the machine's return (machine 5, adapter 4) "
        "are joined through GND of the card"
    )


def test_what_destroys_first_is_told_first() -> None:
    # The worst consequence is the return (4) on the card's +12V (3), but what destroys is -12V (2) on SD0 (1).
    found = outcome(straight(in_a_row(["SD0", "-12V", "+12V", "GND", "SD1", "+5V"]), 6).ends[0], OFF)
    assert found.consequence == "wrong rail"
    assert found.says == (
        "+12V of the machine meets -12V of the card (machine 3, adapter 2), and -12V meets SD0 (machine 2, adapter 1)"
    )
    found = outcome(straight(in_a_row(["SD0", "-12V", "open", "+12V", "GND", "SD1", "+5V"]), 7).ends[0], OFF)
    assert found.consequence == "wrong rail"
    assert found.says == (
        "-12V of the machine meets SD0 of the card (machine 2, adapter 1), "
        "and the machine's return meets +12V (machine 5, adapter 4)"
    )
    # JSON has them in the same order: supplies by their voltage, then the return.
    assert [(m.machine, m.card) for m in found.meetings][:3] == [("-12V", "SD0"), ("+5V", "SD1"), ("GND", "+12V")]


def test_a_short_of_the_highest_voltage_is_told_first() -> None:
    # +5V (2) and +12V (5) both lie on the card's GND, on 1 and 4, and so does the return (8, on 7).
    found = outcome(straight(in_a_row(["GND", "+5V", "open", "GND", "+12V", "open", "GND", "GND"]), 8).ends[0], OFF)
    assert found.consequence == "rail on return"
    assert found.says == (
        "short circuit: +12V (machine 5, adapter 4) and the machine's return (machine 8, adapter 7) "
        "are joined through GND of the card"
    )


def test_a_part_that_brings_some_supplies_but_not_all_is_a_fault_and_one_that_brings_none_but_drivers_too() -> None:
    # Straight pin to pin: from the first end lines come before the supply, then +5V and +12V long before -5V.
    lines = ["IOR*", "GND", "+5V", "+12V", "SD0", "-5V", "GND"]
    for end in straight(in_a_row(lines), 7).ends:
        seen = {o.seating.engaged: (o.consequence, o.grade) for o in end.outcomes if o.seating.engaged}
        assert [seen["first", k] for k in range(1, 7)] == [
            ("driver on dead rail", "fault"),
            ("driver on dead rail", "fault"),
            ("rails incomplete", "fault"),
            ("rails incomplete", "fault"),
            ("rails incomplete", "fault"),
            ("harmless", "note"),  # all but the second return
        ]
        found = outcome(end, "only the first 5 places engaged")
        assert (found.missing, found.driven, found.contacts) == (("-5V",), 2, 1)
        assert found.says.startswith("-5V does not come while +5V and +12V do, which can destroy memory chips")


@pytest.mark.parametrize(("host", "card"), [("tarn-rack", "isa-16bit"), ("isa-8bit", "isa-8bit")])
def test_no_seating_of_a_shipped_pair_that_lacks_supplies_is_said_to_damage_nothing(host: str, card: str) -> None:
    for end in misfit(plan(shipped(host), shipped(card))).ends:
        for o in end.outcomes:
            if o.consequence in ("cannot work", "harmless"):
                # All supplies come, or else nothing at all that drives the card.
                assert not o.missing or not o.driven, o.sentence


def test_a_supply_on_a_contact_of_which_nothing_is_known_is_a_caution() -> None:
    host = pin_map({"1": "open", "2": "+5V", "3": "open", "4": "GND"}, row(4))
    card = pin_map({"2": "+5V", "4": "GND"}, row(4), end="card", rest="undescribed")
    at_host, at_card = misfit(plan(host, card)).ends
    assert outcome(at_host, OFF).consequence == "harmless"  # the adapter leaves 1 and 3 open
    found = outcome(at_card, OFF)
    assert (found.consequence, found.grade) == ("not known", "caution")
    assert found.says == (
        "+5V of the machine meets the undescribed contact 1 of the card (adapter 2, card 1), "
        "and the machine's return meets the undescribed contact 3 (adapter 4, card 3)"
    )
    # What nobody knows can be a supply, so a line that it meets is not said to be safe either.
    for on in ("IRQ3", "IOR*"):
        known = pin_map({"1": "FOO", "3": "open", "4": on}, row(4))
        at_host, _ = misfit(plan(known, pin_map({"4": on}, row(4), end="card"))).ends
        found = outcome(at_host, "off by 3 places towards contact 1's end")
        assert (found.consequence, found.says) == (
            "not known",
            f"the unknown FOO of the machine meets {on} of the card (machine 1, adapter 4)",
        )
    unknown = pin_map({"1": "FOO", "2": "+5V", "4": "GND"}, row(4))
    at_host, _ = misfit(plan(unknown, card)).ends
    assert outcome(at_host, BACK).says == "the unknown FOO of the machine meets +5V of the card (machine 1, adapter 2)"


def test_what_is_not_there_meets_nothing() -> None:
    lines = {"1": "open", "2": "+5V", "3": Line("SD0", option="board"), "4": "+5V", "5": "open", "6": "GND"}
    host, card = pin_map(lines, row(6)), pin_map(lines, row(6), end="card")
    without, fitted = misfit(plan(host, card)), misfit(plan(host, card, ["board"]))
    assert outcome(without.ends[0], OFF).consequence == "harmless"
    assert told(outcome(fitted.ends[0], OFF)) == [
        ("4", "3", "+5V", "SD0", "rail on line"),
        ("3", "2", "SD0", "+5V", "driver on dead rail"),
    ]
    assert fitted.fitted == ("board",)


def test_one_end_is_looked_at_with_the_other_plugged_right() -> None:
    # The adapter crosses 1 and 2 over; at each end the sentence has the labels of that end.
    host = pin_map(in_a_row(["SD0", "+5V", "open", "GND"]), row(4))
    card = pin_map(in_a_row(["+5V", "SD0", "open", "GND"]), row(4), end="card")
    at_host, at_card = misfit(plan(host, card)).ends
    assert outcome(at_host, OFF).says == "+5V of the machine meets SD0 of the card (machine 2, adapter 1)"
    assert outcome(at_card, OFF).says == "SD0 of the machine meets +5V of the card (adapter 2, card 1)"
    assert outcome(at_card, BACK).says == "+5V of the machine meets SD0 of the card (adapter 1, card 2)"


def test_a_socket_header_goes_on_the_pins_that_the_map_has() -> None:
    boxed = pin_map(in_a_row(["GND", "+5V"]), row(5, "box header"))
    end = misfit(plan(boxed, shipped("isa-8bit"))).ends[0]
    assert (end.stays, end.moves, end.limits.along) == ("box header", "socket header", "none")
    card = pin_map(in_a_row(["GND", "+5V"]), row(5, "box header"), end="card")
    end = misfit(plan(boxed, card)).ends[1]
    assert (end.stays, end.moves, end.limits.along) == ("socket header", "box header", "none")


# ---------------------------------------------------------------------- a published connector


def test_a_card_turned_in_the_published_slot_meets_what_the_table_says() -> None:
    # PC/104 Specification, Appendix B, Table 2, older generation: turned, A(n) of the card lies on B(32 - n).
    slot = shipped("isa-8bit")
    end = misfit(plan(slot, slot)).ends[1]
    found = outcome(end, TURNED)
    assert found.seating.meets["A1"] == "B31"
    assert found.seating.meets["B1"] == "A31"
    assert found.consequence == "rail on line"
    on_lines = {(m.stays, m.moves, m.machine, m.card) for m in found.meetings if m.consequence == "rail on line"}
    assert on_lines == {
        ("B3", "A29", "+5V", "SA2"),
        ("B5", "A27", "-5V", "SA4"),
        ("B7", "A25", "-12V", "SA6"),
        ("B9", "A23", "+12V", "SA8"),
        ("B29", "A3", "+5V", "SD6"),
    }
    on_returns = {(m.stays, m.moves, m.machine, m.card) for m in found.meetings if m.consequence == "driver on return"}
    assert on_returns == {
        # The address is the host's to drive, so the card's side of it does not fight with a return;
        # IOCHK* (A1) is an open collector and does not either.
        ("A22", "B10", "SA9", "GND"),
        ("A31", "B1", "SA0", "GND"),
    }
    on_dead_rails = {(m.stays, m.moves) for m in found.meetings if m.consequence == "driver on dead rail"}
    assert on_dead_rails == {("A29", "B3"), ("A27", "B5"), ("A25", "B7"), ("A23", "B9"), ("A3", "B29")}
    assert found.sentence == (
        "turned by 180°: +12V of the machine meets SA8 of the card (adapter B9, card A23), "
        "and -12V meets SA6 (adapter B7, card A25)"
    )


@pytest.mark.parametrize("host", ["oakmere-88", "brindle-portable", "tarn-rack", "isa-8bit", "pc104-8bit", "isa-16bit"])
@pytest.mark.parametrize("card", ["isa-8bit", "isa-16bit", "pc104-8bit", "pc104-16bit"])
def test_no_shipped_pair_is_dangerous_when_it_is_plugged_right(host: str, card: str) -> None:
    for end in misfit(plan(shipped(host), shipped(card))).ends:
        right = outcome(end, "right")
        assert (right.consequence, right.says, right.kept_out) == ("harmless", "everything meets as planned", False)


# ---------------------------------------------------------------------- ranking and keys


def ranks(outcomes: tuple[Outcome, ...]) -> list[tuple[int, int, int]]:
    def slip(o: Outcome) -> int:
        return abs(o.seating.along) + abs(o.seating.across) + o.seating.turned

    return [(CONSEQUENCES.index(o.consequence), slip(o), -o.contacts) for o in outcomes]


def test_seatings_are_ranked_by_consequence_then_the_smallest_slip_then_by_contacts() -> None:
    end = misfit(plan(shipped("pc104-8bit"), shipped("isa-8bit"))).ends[0]
    assert ranks(end.outcomes) == sorted(ranks(end.outcomes))
    assert end.grade == end.possible[0].grade == "danger"


def test_neighbouring_parts_with_one_consequence_are_told_together() -> None:
    end = misfit(plan(shipped("tarn-rack"), shipped("isa-16bit"))).ends[0]
    groups = alike(end.possible)
    assert [(g.name, g.number, g.worst.consequence) for g in groups] == [
        ("only the first 1–9 places engaged", 9, "return missing"),
        # -12V is at place 32 and +12V at 30; +5V is at place 1.
        ("only the first 10–31 places engaged", 22, "rails incomplete"),
        ("only the last 1–31 places engaged", 31, "rails incomplete"),
        ("right", 1, "harmless"),
    ]
    # Place 1 has +5V in both rows; the first return is at place 10.
    assert groups[0].sentence == (
        "only the first 1–9 places engaged; with 1 engaged: +5V comes (machine a1, adapter a1), but no return does"
    )


#: 1 +12V, 2 SD0, 3 open, 4 GND, 5 +5V: five contacts of a pin header in a row.
KEYED = ["+12V", "SD0", "open", "GND", "+5V"]


def test_a_key_is_proposed_with_what_it_keeps_out_and_what_remains() -> None:
    end = straight(in_a_row(KEYED), 5).ends[0]
    assert end.key is not None
    assert end.key.labels == ("3",)
    assert end.key.where == "hole 3 plugged on the adapter's connector, pin 3 pulled on the machine's"
    # The plugged hole 3 lies on a pin when it is off by 1 or 2 either way, or turned and off by 2 or 4 (3 + 3 - n).
    assert sum(end.key.blocks.values()) == 8
    # 9 straight, 9 turned, 8 in part; without the right one and those 8.
    assert sum(end.key.remains.values()) == 17
    assert end.key.worst is not None
    assert end.key.worst.consequence == next(iter(end.key.remains))
    # With the key in the map, the seatings that it was said to keep out are kept out.
    there = straight(in_a_row([*KEYED[:2], "key", *KEYED[3:]]), 5).ends[0]
    assert there.keys == ("3",)
    assert len(there.kept_out) == 8
    assert there.possible[0].sentence == end.key.worst.sentence
    assert there.key is None


def test_the_proposed_key_leaves_the_fewest_dangers_of_all_that_could_be_set() -> None:
    lines = ["GND", "SD0", "open", "+5V", "key", "SD1", "SD2", "open", "+12V", "open", "SD3", "GND", "open"]
    unused = [str(n) for n, line in enumerate(lines, 1) if line == "open"]

    def dangers(key: str) -> int:
        end = straight({**in_a_row(lines), key: "key"}, len(lines)).ends[0]
        return sum(o.grade == "danger" for o in end.possible)

    left = {label: dangers(label) for label in unused}
    proposed = straight(in_a_row(lines), len(lines)).ends[0].key
    assert proposed is not None
    assert len(set(left.values())) > 1
    assert left[proposed.labels[0]] == min(left.values())
    assert min(left.values()) == sum(n for c, n in proposed.remains.items() if MEANING[c].grade == "danger")


NO_KEY: dict[str, tuple[list[str], Form]] = {
    "no contact is unused at both halves, so no key can be set without giving up a line": (
        ["GND", "+5V", "SD0"],
        "pin header",
    ),
    "no place of the edge is unused at both halves, so no key can be set without giving up a line": (
        ["GND", "+5V", "SD0"],
        "edge slot",
    ),
    "none is proposed: no seating that these connectors allow was found to put a supply where it must not be": (
        ["open", "GND"],
        "pin header",
    ),
    "no key helps: only seatings with a part engaged were found to damage something, and those no key prevents": (
        ["+5V", "SD0", "GND"],
        "din 41612",
    ),
    "the key that is there keeps out every seating that was found to damage something: leave it in": (
        ["GND", "+5V", "GND", "key"],
        "box header",
    ),
    "leave the key in that is there; beside what it keeps out, only seatings with a part engaged were found to damage "
    "something, and those no key prevents": (
        ["GND", "+5V", "GND", "SD0", "key", "+12V"],
        "box header",
    ),
    # In the middle of the turn the plugged hole would come to the place of the pulled pin.
    "no unused contact would keep out more of what can damage something than is kept out already": (
        ["GND", "open", "+5V"],
        "box header",
    ),
}


@pytest.mark.parametrize("note", NO_KEY)
def test_where_no_key_is_proposed_it_says_why(note: str) -> None:
    contacts, form = NO_KEY[note]
    host = pin_map(in_a_row(contacts), row(len(contacts), form))
    end = misfit(plan(host, shipped("isa-8bit"))).ends[0]
    assert (end.key, end.key_note) == (None, note)


def test_it_never_says_that_no_key_is_needed() -> None:
    for host in ("oakmere-88", "brindle-portable", "tarn-rack", "isa-8bit", "pc104-8bit"):
        m = misfit(plan(shipped(host), shipped("isa-8bit")))
        said = misfits.text(m) + json.dumps(misfits.as_json(m))
        assert "no key is needed" not in said
        assert "nothing is damaged" not in said
        assert "damages nothing" not in said


@pytest.mark.parametrize(
    ("form", "end", "undone"),
    [
        (
            "pin header",
            0,
            "a pulled pin on the machine cannot be put back: think twice, and look first whether something better can "
            "be had",
        ),
        (
            "socket header",
            0,
            "a pulled pin cannot be put back, but it is the adapter's; the plug can be taken out of the machine again",
        ),
        (
            "edge slot",
            0,
            "a notch cannot be closed again, but it is the adapter's; the wall can be taken out of the machine again",
        ),
        (
            "edge fingers",
            0,
            "a notch on the machine cannot be closed again: think twice, and look first whether something better can "
            "be had",
        ),
        (
            "pin header",
            1,
            "a pulled pin on the card cannot be put back: think twice, and look first whether something better can "
            "be had",
        ),
        (
            "socket header",
            1,
            "a pulled pin cannot be put back, but it is the adapter's; the plug can be taken out of the card again",
        ),
    ],
)
def test_a_key_says_what_of_it_can_be_undone(form: Form, end: int, undone: str) -> None:
    host, card = (pin_map(in_a_row(KEYED), row(5, form), end=e) for e in ("host", "card"))
    key = misfit(plan(host, card)).ends[end].key
    assert key is not None
    assert key.undone == undone


def test_a_key_says_which_of_the_likeliest_slips_it_would_keep_out(monkeypatch: pytest.MonkeyPatch) -> None:
    m = straight(in_a_row(KEYED), 5)
    key = m.ends[0].key
    assert key is not None
    # Contact 3 is in the middle: turned, the plugged hole comes to the pulled pin; off by 1 it comes to a pin.
    assert key.stops == ("off by 1 place either way", "turned by 180°, off by 1 place either way")
    assert key.lets == ("turned by 180°",)
    said = " ".join(plain(m, 100, monkeypatch).split())
    assert f"Of the likeliest slips it would keep out: {'; '.join(key.stops)}. " in said
    assert f"It would not keep out: {'; '.join(key.lets)}. " in said


def test_the_cure_of_both_forms_stands_below_the_key_where_something_can_be_damaged(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shown = plain(straight(in_a_row(KEYED), 5), 140, monkeypatch)
    assert "  Better than any key, where it can be had:\n    pin header: A shrouded (box) header instead" in shown
    assert "\n    socket header: One with a bump, on a shrouded (box) header" in shown
    harmless = plain(straight(in_a_row(["open", "GND"]), 2), 140, monkeypatch)
    assert "shrouded" not in harmless
    without = plain(misfit(plan(shipped("tarn-rack"), shipped("isa-8bit"))), 140, monkeypatch)
    assert "  What helps for good:\n    din 41612: Screws or latches" in without


# ---------------------------------------------------------------------- the likeliest slips


def test_the_likeliest_slips_come_first_whatever_else_is_worse() -> None:
    end = big().ends[0]
    assert [g.name for g in end.likely] == [
        "off by 1 place away from contact 1's end",
        "off by 1 place towards contact 1's end",
        "off by 1 row either way",
        "turned by 180°",
        "turned by 180°, off by 1 place away from contact 1's end",
        "turned by 180°, off by 1 place towards contact 1's end",
        "only the first 1–2 places engaged",
    ]
    steps = [o.seating for g in end.likely for o in g.outcomes if not o.seating.engaged]
    assert all(abs(s.along) + abs(s.across) <= 1 for s in steps)
    assert len(steps) == 7  # off 2, a row 2, turned 1, turned and off 2


def test_two_ways_off_are_told_together_only_where_they_have_one_consequence() -> None:
    at_host, at_card = big().ends
    told = {g.name: [(o.seating.along, o.seating.across, o.consequence) for o in g.outcomes] for g in at_host.likely}
    assert told["off by 1 row either way"] == [(0, 1, "wrong rail"), (0, -1, "wrong rail")]
    assert told["turned by 180°, off by 1 place away from contact 1's end"] == [(1, 0, "rail on rail")]
    assert told["turned by 180°, off by 1 place towards contact 1's end"] == [(-1, 0, "rail on line")]
    (both,) = (g for g in at_card.likely if g.number == 2)
    assert both.sentence.startswith(
        "turned by 180°, off by 1 place either way; away from contact 1's end: +12V of the machine meets SA7 of the "
    )


def test_a_slip_that_a_key_keeps_out_is_not_likely_but_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    m = misfit(plan(shipped("oakmere-88"), shipped("isa-8bit")))
    assert [g.name for g in m.ends[0].likely] == ["only the first 2–7 places engaged"]
    text = plain(m, 120, monkeypatch)
    assert "\n    kept out by the key: turned by 180°\n" in text


def test_on_a_card_edge_a_key_takes_a_place_with_all_its_rows() -> None:
    slot = Body("edge slot", (Section(2, 4, ("A", "B")),), "rows")
    lines = {"A1": "GND", "B1": "SD0", "A2": "open", "B2": "open", "A3": "SD1", "B3": "open", "A4": "+5V", "B4": "SD2"}
    end = misfit(plan(pin_map(lines, slot), shipped("isa-8bit"))).ends[0]
    assert end.key is not None
    assert end.key.labels == ("A2", "B2")
    assert end.key.where == "a wall across the machine's slot and a notch in the adapter's edge at A2 and B2"
    # The wall stands at 2 in the slot. Off by 1 either way, turned, and turned and off by 1 away from 1's end another
    # place of the card comes to it; turned and off by 1 the other way the notch does.
    assert sum(end.key.blocks.values()) == 4
    assert sum(end.key.remains.values()) == 1 + 6  # and three places from either end


# ---------------------------------------------------------------------- what always holds

#: What follows from supplies that do not come, whatever meets.
LACKS = ("rails incomplete", "driver on dead rail")
NAMES = ["GND", "+5V", "+12V", "open", "key", "SD0", "SD1", "IOR*", "IRQ3", "IOCHRDY", "WHAT IS THIS"]
FORMS: list[Form] = ["pin header", "socket header", "box header", "edge slot", "edge fingers", "din 41612"]


@st.composite
def maps(draw: st.DrawFn) -> PinMap:
    size = draw(st.integers(1, 5))
    body = Body(draw(st.sampled_from(FORMS)), (Section(2, size),), "zigzag", "bottom left")
    contacts = {str(n): draw(st.sampled_from(NAMES)) for n in range(1, 2 * size + 1) if draw(st.booleans())}
    end: End = draw(st.sampled_from(["host", "card"]))
    return pin_map(contacts, body, end=end, rest=draw(st.sampled_from(["open", "undescribed"])))


@settings(derandomize=True, deadline=None, max_examples=150)
@given(maps(), maps())
def test_the_right_seating_is_harmless_and_no_seating_gets_lost(host: PinMap, card: PinMap) -> None:
    m = misfit(plan(host, card))
    for end in m.ends:
        right = outcome(end, "right")
        assert (right.consequence, right.kept_out, right.meetings) == ("harmless", False, ())
        assert sorted(map(id, (*end.possible, *end.kept_out))) == sorted(map(id, end.outcomes))
        assert ranks(end.outcomes) == sorted(ranks(end.outcomes))
        assert sum(g.number for g in alike(end.possible)) == len(end.possible)
        if end.key:
            assert sum(end.key.blocks.values()) > 0
            assert not {*end.key.labels} & {*end.keys}
        for o in end.outcomes:
            assert all(o.seating.meets[x.moves] == x.stays for x in o.meetings)
            met = {x.consequence for x in o.meetings}
            assert o.contacts > 0 or o.consequence == "harmless"
            assert (o.consequence in met) == bool(met) or (o.consequence in LACKS and o.missing)
            if o.consequence not in LACKS:
                # Every meeting is at most as bad, and what is no fault lacks no supply that something else stands for.
                assert all(CONSEQUENCES.index(o.consequence) <= CONSEQUENCES.index(x) for x in met)
            if o.grade in ("caution", "note"):
                assert not (o.missing and o.driven), o.sentence
        assert {id(o) for g in end.likely for o in g.outcomes} <= {id(o) for o in end.possible}
    assert json.loads(json.dumps(misfits.as_json(m)))["format"] == 1
    assert "\0" not in misfits.text(m)


# ---------------------------------------------------------------------- text and JSON

BIG = Body("pin header", (Section(2, 31),), "zigzag", "bottom left")


def big() -> Misfit:
    """A pin header of 2 × 31 with the lines of the bus in the dictionary's order."""
    lines = [*lines_of(BUS8), "GND", "GND", "+5V"][:62]
    return misfit(plan(pin_map(in_a_row(lines), BIG), shipped("isa-8bit")))


def plain(m: Misfit, columns: int, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("COLUMNS", str(columns))
    return click.unstyle(misfits.text(m))


def test_the_text_of_a_demo_pair_is_what_it_always_was(
    monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> None:
    m = misfit(plan(shipped("oakmere-88"), shipped("isa-8bit")))
    now = "\n".join(line.rstrip() for line in plain(m, 120, monkeypatch).splitlines())
    path = GOLDEN / "misfit-oakmere-88-isa-8bit.txt"
    # As in every file there, the command stands above its output and the exit status below.
    before = path.read_bytes().decode("utf-8").splitlines()
    if request.config.getoption("--renew-golden"):
        path.write_bytes("\n".join([before[0], now, before[-1], ""]).encode("utf-8"))
    difference = "\n".join(difflib.unified_diff(before[1:-1], now.splitlines(), path.name, "now", "", "", 1, ""))
    assert not difference, difference


@pytest.mark.parametrize("columns", [40, 60, 80, 100, 140])
def test_no_line_of_the_chart_is_wider_than_the_screen(columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    for m in (big(), misfit(plan(shipped("pc104-16bit"), shipped("pc104-16bit")))):
        assert [line for line in plain(m, columns, monkeypatch).splitlines() if len(line) > columns] == []


def test_the_chart_has_a_mark_for_each_seating_under_its_number(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = plain(straight(in_a_row(KEYED), 5), 80, monkeypatch).splitlines()
    start = lines.index("  Places off: + is away from contact 1's end, - towards it")
    # Straight, off by 2: only SD0 and the return meet. Turned, off by 2: SD0 on itself, or the return on itself.
    assert lines[start + 1 : start + 8] == [
        "                -4 -3 -2 -1  0 +1 +2 +3 +4",
        "    straight     #  #  x  #  O  #  x  #  #",
        "    turned       #  #  x  #  #  #  -  #  #",
        "  Only so many of 5 places engaged",
        "                 1  2  3  4",
        "    the first    #  #  #  x",
        "    the last     #  x  x  x",
    ]


def test_a_wide_chart_goes_on_below_with_its_own_scale(monkeypatch: pytest.MonkeyPatch) -> None:
    m = big()
    wide, narrow = (plain(m, columns, monkeypatch).splitlines() for columns in (100, 40))

    def marks(lines: list[str], name: str) -> str:
        """The marks of one row at the machine, its bands put together."""
        end = next(i for i, line in enumerate(lines) if line.startswith("At the card"))
        found = [line for line in lines[:end] if line.startswith(f"    {name}  ") and "meets" not in line]
        return "".join(line[22:] for line in found if line[4:].split("  ")[0] == name)

    for name in ("straight", "straight, row +1", "turned", "turned, row -1"):
        assert len(marks(wide, name)) == 61, name
        assert marks(wide, name) == marks(narrow, name)
    assert marks(wide, "straight")[30] == "O"
    outcomes = {
        (o.seating.turned, o.seating.across, o.seating.along): o for o in m.ends[0].outcomes if not o.seating.engaged
    }
    for along, mark in enumerate(marks(wide, "turned, row -1"), -30):
        grade = outcomes[True, -1, along].grade
        assert mark in {"danger": "#", "fault": "x", "caution": "-?", "note": "."}[grade]


def test_below_the_likeliest_the_text_tells_three_of_the_worst_and_how_many_more_there_are(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    m = misfit(plan(shipped("pc104-8bit"), shipped("isa-8bit")))
    at_host, at_card = plain(m, 140, monkeypatch).split("\nAt the card")
    first, worst = at_host.split("  The likeliest slips\n")[1].split("\n\n  The worst of all\n")
    said = worst.split("\n\n")[0].splitlines()
    starts = [line for line in said if line.startswith("    danger: ")]
    assert len(starts) == misfits.MOST == 3
    assert all(line.startswith("    danger: wrong rail. Off by ") for line in starts)
    told = [line for line in first.splitlines() if line.startswith(("    danger: ", "    fault: "))]
    assert told[0].startswith("    fault: driver on return. Off by 1 row towards contact 1's row: SA0 of the machine")
    assert told[1].startswith("    fault: rails incomplete. Only the first 3–8 places engaged; with 3 engaged: -5V")
    likely = sum(g.number for g in m.ends[0].likely)
    assert said[-1] == f"    and {len(m.ends[0].possible) - 1 - likely - 3} more; --json has them all"
    assert "  The worst of all" not in at_card.split("  Never plug")[0]  # the likeliest have them all


def test_grade_consequence_and_seating_are_told_apart_by_points(monkeypatch: pytest.MonkeyPatch) -> None:
    text = plain(misfit(plan(shipped("oakmere-88"), shipped("isa-8bit"))), 100, monkeypatch)
    assert "\n    danger: rail on line. Turned by 180°: +12V of the machine meets SA8 of the card" in text
    assert "\n    danger: rail on line (3): a supply meets a line" in text


@pytest.mark.parametrize("columns", [40, 60, 80, 100, 120])
def test_every_band_of_the_chart_has_a_scale_with_numbers_under_the_legend(
    columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    for m in (big(), misfit(plan(shipped("isa-16bit"), shipped("isa-16bit")))):
        lines = plain(m, columns, monkeypatch).splitlines()
        bands = [
            i
            for i, line in enumerate(lines)
            if line.startswith(("    straight  ", "    the first  "))
            and set(line[14:]) <= set(" #x?-.Ok1234567890row,+")
        ]
        assert len(bands) >= 4
        for i in bands:
            scale = lines[i - 1] if "|" not in lines[i - 1] else lines[i - 2]
            assert set(scale.strip()) <= set("+-0123456789 ")
            assert any(c.isdigit() for c in scale)
            # Each number ends over its mark, and the last one is at most nine places before the end of the band.
            assert len(lines[i].rstrip()) - len(scale.rstrip()) < 10
        legends = [i for i, line in enumerate(lines) if "O right" in line]
        assert len(legends) == 2
        assert legends[0] < bands[0]


def test_the_first_and_the_last_number_of_a_band_stand_over_it_where_no_tenth_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lines = plain(straight({"1": "GND", "2": "+5V"}, 18), 80, monkeypatch).splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("  Only so many of 18 places"))
    assert lines[start + 1 : start + 3] == [
        "               1       10     17",
        "               |   '    |    ' |",
    ]


def test_every_mark_but_those_of_the_trade_is_ascii(monkeypatch: pytest.MonkeyPatch) -> None:
    text = plain(big(), 100, monkeypatch)
    assert {c for c in text if not c.isascii()} <= {"°", "–"}  # the command line has stand-ins for these


def test_json_has_every_seating_of_both_ends() -> None:
    m = misfit(plan(shipped("oakmere-88"), shipped("isa-8bit")))
    made = misfits.as_json(m)
    assert list(made) == ["format", "host", "card", "fitted", "consequences", "ends"]
    assert (made["format"], made["host"], made["card"]) == (1, "oakmere-88", "isa-8bit")
    host, card = made["ends"]
    assert host["stays"] == {"half": "machine", "form": "box header"}
    assert host["keys"] == ["62"]
    assert len(host["seatings"]) == 64
    assert len(card["seatings"]) == 66
    turned = next(s for s in host["seatings"] if s["turned"])
    assert turned["kept_out"] is True
    assert turned["condition"] == "only with a plug that has no bump"
    first = card["seatings"][0]
    assert first == {
        "kind": "off",
        "turned": False,
        "along": 1,
        "across": 0,
        "engaged": None,
        "condition": None,
        "kept_out": False,
        "likely": True,
        "consequence": "wrong rail",
        "grade": "danger",
        "contacts": 1,
        "missing": ["+5V", "-12V", "+12V"],
        "driven": first["driven"],
        "elsewhere": first["elsewhere"],
        "open": first["open"],
        "meets": first["meets"],
        "sentence": "off by 1 place away from contact 1's end: -12V of the machine meets DRQ2 of the card "
        "(adapter B7, card B6), and the machine's return meets +12V (adapter B10, card B9)",
    }
    assert first["meets"][0] == {
        "adapter_contact": "B7",
        "card_contact": "B6",
        "machine_signal": "-12V",
        "card_signal": "DRQ2",
        "consequence": "rail on line",
    }
    # The likeliest slips have their mark: off by 1 either way, turned, both, and the worst part.
    marked = [(s["turned"], s["along"]) for s in card["seatings"] if s["likely"] and not s["engaged"]]
    assert sorted(marked) == [(False, -1), (False, 1), (True, -1), (True, 0), (True, 1)]
    assert [s["engaged"]["places"] for s in card["seatings"] if s["likely"] and s["engaged"]] == [3, 4, 5, 6, 7, 8]
    assert card["allowed"]["cures"][0].startswith("edge slot: Closed ends and a wall across the slot")


def test_the_customs_of_the_library_hold_where_no_others_are_given() -> None:
    adapter = plan(shipped("oakmere-88"), shipped("isa-8bit"))
    assert misfit(adapter) == misfit(adapter, library.customs())
    assert len(misfit(adapter, {}).ends[0].outcomes) > 64  # nothing known of the forms: everything is possible


def test_a_fuse_in_the_rail_hides_no_danger() -> None:
    """The rail behind the fuse is the same rail to whoever plugs wrongly."""
    design = Design(
        "t", "tarn-rack", "isa-16bit", "tarn-rack", "isa-16bit", fuses=(Fuse("+5V", 1.0), Fuse("+12V", 0.5))
    )
    plain = plan(shipped("tarn-rack"), shipped("isa-16bit"))
    fused = carried_out(plain, design)
    assert {part.kind for part in fused.parts} >= {"fuse"}
    for here, there in zip(misfit(plain).ends, misfit(fused).ends, strict=True):
        assert (there.end, there.grade) == (here.end, here.grade)
        assert there.possible[0].sentence == here.possible[0].sentence
