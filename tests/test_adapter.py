"""The plan: what is wired, what is not, and why. What would burn a machine is never wired."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest
from handmade import BUS8, BUS16, Line, header, in_a_row, lines_of, pin_map, shipped, strip
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import replace

import pinmap
from pinmap import checks
from pinmap.adapter import STATE_MEANING, STATES, Adapter, Net
from pinmap.body import CORNERS, Body, Corner, Section
from pinmap.coverage import coverage, lines_for
from pinmap.errors import NotFoundError, SeveralErrors
from pinmap.findings import found
from pinmap.model import Absent, Bus, Contact, Elsewhere, End, PinMap, Remedy, Seen, Signal, opposite
from pinmap.planner import plan
from pinmap.wiring import wires


def card(contacts: Any, bus: Bus = BUS8, own: Iterable[Signal] = (), body: Body | None = None) -> PinMap:
    return pin_map(contacts, body or strip(12), bus=bus, end="card", name="card", own=own)


def host(contacts: Any, bus: Bus = BUS8, own: Iterable[Signal] = (), body: Body | None = None) -> PinMap:
    return pin_map(contacts, body or strip(12), bus=bus, name="host", own=own)


def nets(adapter: Adapter) -> list[tuple[str, str, str, str]]:
    """Every net of more than an unused contact: name, state, host labels, card labels."""
    return [
        (net.name, net.state, " ".join(c.label for c in net.host), " ".join(c.label for c in net.card))
        for net in adapter.nets
        if not net.name.endswith("unused")
    ]


def said(adapter: Adapter, code: str) -> list[tuple[str, str, str]]:
    return [(f.grade, f.message, f.advice) for f in adapter.findings if f.code == code]


def joined(adapter: Adapter) -> set[tuple[str, str]]:
    """Every pair of a host and a card label that the plan joins."""
    return {(h.label, c.label) for net in adapter.nets for h in net.host for c in net.card}


# ---------------------------------------------------------------------- the plan checks itself

ONE, OTHER = host({"1": "SD0", "2": "+5V", "3": "IOR", "4": "IOR*"}, body=strip(4)), card({"1": "SD0"}, body=strip(1))


def made(*made_nets: Net, of: PinMap = ONE) -> Adapter:
    return Adapter(of, OTHER, (), made_nets, (), (), coverage(of))


def at(label: str, of: PinMap = ONE) -> Contact:
    return of.by_label[label]


SOUND = [
    Net("SD0", "SD0", "data", "straight", (at("1"),), (at("1", OTHER),)),
    *(Net(f"host {n}", None, "own", "open", (at(n),)) for n in ("2", "3", "4")),
]


def test_a_plan_with_every_contact_in_one_net_can_be_made() -> None:
    assert made(*SOUND).net_of("host", "2").name == "host 2"
    assert made(*SOUND).net_of("card", "1").name == "SD0"


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        (SOUND[1:], "every contact must be in a net; host: ['1']"),
        (
            [*SOUND[1:], Net("SD0", "SD0", "data", "straight", (at("1"),))],
            "every contact must be in a net; card: ['1']",
        ),
        (
            [*SOUND, Net("again", None, "own", "open", (at("2"),))],
            "every contact must be in one net, not host 2 in two",
        ),
        (
            [*SOUND, Net("again", None, "own", "open", (), (at("1", OTHER),))],
            "every contact must be in one net, not card 1 in two",
        ),
        ([*SOUND[:3], Net("SD0", None, "own", "open", (at("4"),))], "every net must have a name of its own"),
        (
            [Net("SD0", "SD0", "data", "straight", (at("1"), at("2")), (at("1", OTHER),)), *SOUND[2:]],
            "a net must not join a rail and a signal (SD0)",
        ),
        (
            [*SOUND[:2], Net("IOR", "IOR*", "command", "straight", (at("3"), at("4")))],
            "a net must not join opposite polarities (IOR)",
        ),
    ],
)
def test_a_plan_that_contradicts_itself_cannot_be_made(wrong: list[Net], message: str) -> None:
    with pytest.raises(ValueError) as error:  # noqa: PT011 - the whole message follows
        made(*wrong)
    assert str(error.value) == message


@pytest.mark.parametrize("rails", [("+5V", "+12V"), ("+5V", "GND"), ("GND", "+8V"), ("+8V", "+5V")])
def test_a_plan_that_joins_two_rails_cannot_be_made(rails: tuple[str, str]) -> None:
    unknown = Signal("+8V", "supply")
    of = pin_map(dict(zip("12", rails, strict=True)), strip(2), own=[unknown])
    with pytest.raises(ValueError, match=r"^a net must not join two rails \(both\)$"):
        made(
            Net("SD0", "SD0", "data", "open", (), (at("1", OTHER),)),
            Net("both", "GND", "return", "joined", of.contacts),
            of=of,
        )


def test_a_key_is_in_no_net() -> None:
    adapter = plan(host({"1": "SD0", "2": "key"}, body=strip(2)), card({"1": "key", "2": "SD0"}, body=strip(2)))
    assert nets(adapter) == [("SD0", "straight", "1", "2")]
    for end, label in (("host", "2"), ("card", "1")):
        with pytest.raises(KeyError):
            adapter.net_of(end, label)  # type: ignore[arg-type]


# ---------------------------------------------------------------------- states


def test_every_state_has_its_meaning() -> None:
    assert tuple(STATE_MEANING) == STATES


def test_each_state_comes_from_its_cause() -> None:
    adapter = plan(
        host([("1", "GND"), ("2", "GND"), ("3", "SD0"), ("4", "RESET*"), ("5", "TC"), ("6", "SD1"), ("6", "SD2")]),
        card({"1": "GND", "3": "D0", "4": "RESET", "5": "AEN", "6": "SD1"}),
    )
    assert nets(adapter) == [
        ("GND", "joined", "1 2", "1"),
        ("SD0", "straight", "3", "3"),
        ("host 6 SD1", "conflict", "6", ""),
        ("RESET", "active", "", "4"),
        ("RESET*", "active", "4", ""),
        ("card 6 SD1", "open", "", "6"),
        ("card 5 AEN", "open", "", "5"),
        ("host 5 TC", "open", "5", ""),
    ]


def test_nets_follow_the_bus_with_returns_and_supplies_first_and_open_ones_last() -> None:
    adapter = plan(shipped("oakmere-88"), shipped("isa-8bit"))
    wired = [net.name for net in adapter.nets if net.state != "open"]
    assert wired[:4] == ["GND", "+5V", "+12V", "-12V"]
    assert wired[4:12] == [f"SD{n}" for n in range(8)]
    states = [net.state == "open" for net in adapter.nets]
    assert states == sorted(states)


def test_contacts_that_carry_nothing_stay_open_and_say_why() -> None:
    adapter = plan(
        pin_map({"1": "open", "2": Line("OSC", option="video board"), "4": "WHAT"}, strip(4), rest="undescribed"),
        card({"1": "open"}, body=strip(1)),
    )
    assert [(n.name, n.state, n.remark) for n in adapter.nets] == [
        ("host 2 OSC", "open", "only with video board"),
        ("host 1 unused", "open", "open in the map"),
        ("host 4 WHAT", "open", "nobody knows WHAT"),
        ("host 3 undescribed", "open", "not described in the map"),
        ("card 1 unused", "open", "open in the map"),
    ]


@pytest.mark.parametrize(
    ("at_host", "at_card", "remark"),
    [
        ("SD0", "SD0", ""),
        (Line("SD0", seen="guessed"), "SD0", "rests on a guess at 1: measure first"),
        ("SD0", Line("SD0", seen="guessed"), "rests on a guess at 2: measure first"),
        (Line("SD0", seen="guessed"), Line("SD0", seen="guessed"), "rests on a guess at 1 and 2: measure first"),
        (Line("SD0", option="video board"), "SD0", "only with video board"),
        (Line("GND", seen="guessed"), "GND", "rests on a guess at 1: measure first"),
    ],
)
def test_a_wire_says_what_it_rests_on(at_host: str | Line, at_card: str | Line, remark: str) -> None:
    has_option = isinstance(at_host, Line) and at_host.option
    adapter = plan(host({"1": at_host}), card({"2": at_card}), ["video board"] if has_option else [])
    assert adapter.net_of("card", "2").remark == remark
    assert joined(adapter) == {("1", "2")}


# ---------------------------------------------------------------------- polarity


@pytest.mark.parametrize(
    ("at_host", "at_card", "gate"),
    [
        ("RESET*", "RESET", "its input at the host's 1, its output at the card's 2"),
        ("RESET", "RESET*", "its input at the host's 1, its output at the card's 2"),
        ("IRQ3*", "IRQ3", "its input at the card's 2, its output at the host's 1"),
        ("SD0*", "SD0", "in both directions, which a plain gate cannot do"),
        (
            "IOCHRDY*",
            "IOCHRDY",
            "its input at the card's 2, its output at the host's 1; others drive this line too, so that output must "
            "never hold it against them",
        ),
    ],
)
def test_opposite_polarity_is_never_wired(at_host: str, at_card: str, gate: str) -> None:
    adapter = plan(host({"1": at_host}), card({"2": at_card}))
    assert joined(adapter) == set()
    assert {n.name for n in adapter.nets if n.state == "active"} == {at_host, at_card}
    assert said(adapter, "needs-inverter") == [
        (
            "fault",
            f"{at_host} of the host (1) must not be wired to {at_card} of the card (2): their polarity is opposite",
            f"An inverter is needed, {gate}",
        )
    ]
    assert {(u.signal, u.end, u.reason) for u in adapter.unmapped} == {
        (at_card, "card", "it is there with the opposite polarity"),
        (at_host, "host", "the card has it with the opposite polarity"),
    }
    assert adapter.verdict == "do not build"


def test_two_ends_with_the_same_unusual_polarity_are_wired() -> None:
    adapter = plan(host({"1": "RESET*"}), card({"2": "RESET*"}))
    assert nets(adapter) == [("RESET*", "straight", "1", "2")]


# ---------------------------------------------------------------------- rails

PLUS8, PLUS9, NOT_KNOWN = (Signal("+V", "supply", volts=v) for v in (8.0, 9.0, None))


@pytest.mark.parametrize(
    ("here", "there", "what"),
    [
        (PLUS8, PLUS9, ("+8 V", "+9 V")),
        (PLUS8, NOT_KNOWN, ("+8 V", "volts not known")),
        (NOT_KNOWN, NOT_KNOWN, ("volts not known", "volts not known")),
        (PLUS8, Signal("+V", "own"), ("+8 V", "own")),
        (Signal("+V", "return"), PLUS8, ("return", "+8 V")),
    ],
)
def test_the_makers_own_supplies_meet_only_with_the_same_known_volts(
    here: Signal, there: Signal, what: tuple[str, str]
) -> None:
    adapter = plan(host({"1": "+V", "2": "+V"}, own=[here]), card({"3": "+V"}, own=[there]))
    assert joined(adapter) == set()
    assert said(adapter, "rail-meets-rail") == [
        (
            "danger",
            f"+V of the host ({what[0]}, 1 and 2) must not meet +V of the card ({what[1]}, 3)",
            "They are not wired; measure both, say their volts, and give different rails different names",
        )
    ]
    assert {n[:2] for n in nets(adapter)} == {
        ("host 1 +V", "conflict"),
        ("host 2 +V", "conflict"),
        ("card 3 +V", "conflict"),
    }
    assert adapter.verdict == "do not build"


def test_own_supplies_of_the_same_volts_are_joined_and_told() -> None:
    adapter = plan(host({"1": "+V", "2": "+V"}, own=[PLUS8]), card({"3": "+V"}, own=[PLUS8]))
    assert nets(adapter) == [("+V", "joined", "1 2", "3")]
    assert said(adapter, "renamed-between-generations") == [
        (
            "caution",
            "+V of the host meets +V of the card: it is no line of the bus: the two are paired by their name alone",
            "Wired; leave it out if the card does not use it",
        )
    ]


def second_bus(**signals: Signal) -> Bus:
    return Bus("other", "Another bus", signals)


@pytest.mark.parametrize("volts", [3.3, 12.0, -5.0])
def test_a_rail_of_another_bus_under_the_same_name_with_other_volts_is_not_wired(volts: float) -> None:
    other = second_bus(**{"+5V": Signal("+5V", "supply", volts=volts), "GND": Signal("GND", "return")})
    adapter = plan(host({"1": "+5V", "2": "GND"}), card({"1": "+5V", "2": "GND"}, other))
    assert joined(adapter) == {("2", "2")}
    assert [grade for grade, *_ in said(adapter, "rail-meets-rail")] == ["danger"]


def test_a_rail_that_is_a_signal_on_another_bus_is_not_wired() -> None:
    adapter = plan(host({"1": "+5V"}), card({"1": "+5V"}, second_bus(**{"+5V": Signal("+5V", "control")})))
    assert joined(adapter) == set()
    assert len(said(adapter, "rail-meets-rail")) == 1


def test_the_makers_own_ground_does_not_meet_the_returns() -> None:
    adapter = plan(host({"1": "AGND", "2": "GND"}, own=[Signal("AGND", "return")]), card({"1": "GND"}))
    assert joined(adapter) == {("2", "1")}


def test_two_dictionaries_that_lead_two_lines_to_one_contact_wire_only_one() -> None:
    other = second_bus(
        A=Signal("A", "control", elsewhere={"isa-8bit": Elsewhere("TC", "")}),
        B=Signal("B", "control", elsewhere={"isa-8bit": Elsewhere("TC", "")}),
    )
    adapter = plan(host({"1": "TC"}), card({"1": "A", "2": "B"}, other))
    assert joined(adapter) == {("1", "1")}
    assert said(adapter, "not-wire") == [
        (
            "caution",
            "B of the card is not the TC of the host: it is wired as another line of the card's bus",
            "They are not wired together",
        )
    ]


# ---------------------------------------------------------------------- disputes


def test_a_contact_with_two_meanings_is_not_wired_to_either() -> None:
    adapter = plan(host([("1", "+5V"), ("1", "+12V"), ("2", "GND")]), card({"1": "+5V", "2": "GND", "3": "+12V"}))
    assert joined(adapter) == {("2", "2")}
    assert said(adapter, "contact-conflict") == [
        (
            "danger",
            "host contact 1 is not wired: it is not settled whether it is +5V or +12V",
            "Measure which it is, and correct the map",
        )
    ]
    assert {(u.signal, u.reason) for u in adapter.unmapped} == {
        ("+5V", "it is not settled where the slot brings it (1)"),
        ("+12V", "it is not settled where the slot brings it (1)"),
    }
    assert adapter.verdict == "do not build"


def test_the_other_contacts_of_a_disputed_rail_are_wired() -> None:
    adapter = plan(host([("1", "+5V"), ("1", "GND"), ("2", "+5V"), ("3", "GND")]), card({"1": "+5V", "2": "GND"}))
    assert joined(adapter) == {("2", "1"), ("3", "2")}


def test_a_signal_claimed_by_two_contacts_is_wired_to_neither() -> None:
    adapter = plan(host({"1": "SD0"}), card({"4": "SD0", "7": "SD0"}))
    assert joined(adapter) == set()
    assert said(adapter, "contact-conflict") == [
        (
            "danger",
            f"card contact {label} is not wired: SD0 is claimed by another contact too",
            "Measure which it is, and correct the map",
        )
        for label in ("4", "7")
    ]
    assert [(u.signal, u.end, u.reason) for u in adapter.unmapped] == [
        ("SD0", "host", "it is not settled where the card has it (4 and 7)")
    ]


def test_a_contact_described_twice_with_the_same_thing_is_wired_once() -> None:
    adapter = plan(host([("1", "SD0"), ("1", "D0")]), card({"1": "SD0"}))
    assert nets(adapter) == [("SD0", "straight", "1", "1")]


# ---------------------------------------------------------------------- options


def test_a_line_with_an_option_is_wired_only_with_it() -> None:
    slot = host({"1": Line("OSC", option="video board")})
    without, fitted = plan(slot, card({"2": "OSC"})), plan(slot, card({"2": "OSC"}), ["video board"])
    assert joined(without) == set()
    assert [(u.signal, u.end, u.reason) for u in without.unmapped] == [
        ("OSC", "card", "the slot brings it only with video board")
    ]
    assert joined(fitted) == {("1", "2")}
    assert fitted.fitted == ("video board",)
    assert fitted.unmapped == ()


def test_a_card_can_have_options_too() -> None:
    with_option = card({"2": Line("OSC", option="sound"), "3": "SD0"})
    without = plan(host({"1": "OSC"}), with_option)
    assert joined(without) == set()
    assert {(u.signal, u.end, u.reason) for u in without.unmapped} == {
        ("OSC", "host", "the card has it only with sound"),
        ("SD0", "card", "the slot does not bring it"),
    }
    assert joined(plan(host({"1": "OSC"}), with_option, ["sound"])) == {("1", "2")}


def test_a_key_that_gives_way_to_an_options_line_is_that_lines_contact() -> None:
    slot = host([("1", "key"), ("1", Line("OSC", option="video board"))], body=strip(1))
    net = plan(slot, card({"2": "OSC"})).net_of("host", "1")
    assert (net.name, net.state, net.remark) == ("host 1 OSC", "open", "only with video board")


def test_one_contact_can_carry_different_lines_with_different_options() -> None:
    slot = host([("1", Line("OSC", option="video")), ("1", Line("TC", option="disk"))])
    both = card({"2": "OSC", "3": "TC"})
    assert joined(plan(slot, both)) == set()
    assert joined(plan(slot, both, ["video"])) == {("1", "2")}
    assert joined(plan(slot, both, ["disk"])) == {("1", "3")}
    assert joined(plan(slot, both, ["disk", "video"])) == set()
    assert plan(slot, both, ["disk", "video"]).verdict == "do not build"


def test_options_that_no_map_has_are_all_told() -> None:
    slot = host({"1": Line("OSC", option="video board")})
    with pytest.raises(NotFoundError) as error:
        plan(slot, card({}), ["video bord"])
    assert str(error.value) == "an option must be 'video board', not 'video bord'. Did you mean video board?"
    with pytest.raises(SeveralErrors) as several:
        plan(slot, card({}), ["x", "video board", "y"])
    assert str(several.value).splitlines() == [
        "an option must be 'video board', not 'x'",
        "an option must be 'video board', not 'y'",
    ]


# ---------------------------------------------------------------------- own signals


def own(*names: str) -> list[Signal]:
    return [Signal(name, "own", f"{name} of the maker") for name in names]


@pytest.mark.parametrize(
    ("at_host", "at_card", "pairs"),
    [
        ({"1": "AUDIO"}, {"2": "AUDIO"}, {("1", "2")}),
        ({"1": "CS 1*"}, {"2": "-cs1"}, {("1", "2")}),
        ({"1": "CS1"}, {"2": "CS1*"}, set()),  # another polarity
        ({"1": "CS1", "3": "CS1*"}, {"2": "CS1*", "4": "CS1"}, {("1", "4"), ("3", "2")}),
        ({"1": "AUDIO"}, {"2": "VIDEO"}, set()),
    ],
)
def test_own_signals_meet_by_name_and_mark(
    at_host: dict[str, str], at_card: dict[str, str], pairs: set[tuple[str, str]]
) -> None:
    adapter = plan(host(at_host, own=own(*at_host.values())), card(at_card, own=own(*at_card.values())))
    assert joined(adapter) == pairs
    assert len(said(adapter, "renamed-between-generations")) == len(pairs)


def test_two_own_signals_of_one_name_meet_no_more_than_one_contact() -> None:
    one, other = Signal("CS1", "own"), Signal("cs 1", "own")
    contacts = (Contact("1", "signal", one), Contact("2", "signal", other))
    twice = PinMap("card", "Card", BUS8, "card", strip(2), contacts, own={"CS1": one, "cs 1": other})
    assert joined(plan(host({"7": "CS1"}, own=[one]), twice)) == {("7", "1")}


def test_an_own_signal_never_meets_a_line_of_the_bus() -> None:
    adapter = plan(host({"1": "SBHE*"}, BUS16), card({"2": "SBHE*"}, own=own("SBHE*")))
    assert joined(adapter) == set()
    adapter = plan(host({"1": "SBHE*"}, own=own("SBHE*")), card({"2": "SBHE*"}, BUS16))
    assert joined(adapter) == set()


# ---------------------------------------------------------------------- generations

GENERATIONS = {
    ("SMEMR*", "MEMR*"),
    ("SMEMW*", "MEMW*"),
    ("REFRESH*", "DACK0*"),
    ("IRQ9", "IRQ2"),
    ("SRDY*", "RESERVED"),
}


def by_name(adapter: Adapter) -> set[tuple[str, str]]:
    return {(h.name, c.name) for net in adapter.nets for h in net.host for c in net.card}


def test_a_16_bit_slot_meets_an_8_bit_card_by_what_the_lines_do() -> None:
    adapter = plan(shipped("isa-16bit"), shipped("isa-8bit"))
    renamed = {pair for pair in by_name(adapter) if pair[0] != pair[1]}
    assert renamed == GENERATIONS
    assert not {pair for pair in by_name(adapter) if pair[0] in ("MEMR*", "MEMW*", "DACK0*")}
    # The 62 contacts are the same ones, so every card contact meets the slot's contact of the same label.
    assert all(h == c for h, c in joined(adapter) if adapter.net_of("host", h).state == "straight")
    assert len(said(adapter, "renamed-between-generations")) == len(GENERATIONS)
    assert {u.signal for u in adapter.unmapped if u.end == "card"} == set()
    for name in ("MEMR*", "MEMW*", "DACK0*"):
        assert name in {u.signal for u in adapter.unmapped if u.end == "host"}


def test_an_8_bit_slot_meets_a_16_bit_card_by_what_the_lines_do() -> None:
    adapter = plan(shipped("isa-8bit"), shipped("isa-16bit"))
    assert {pair for pair in by_name(adapter) if pair[0] != pair[1]} == {(old, new) for new, old in GENERATIONS}
    assert [message for _, message, _ in said(adapter, "not-wire")] == [
        f"{name} of the card is not the {name} of the host: {BUS16.signals[name].elsewhere['isa-8bit'].differs}"
        for name in ("MEMR*", "MEMW*", "DACK0*")
    ]
    assert {"MEMR*", "MEMW*", "DACK0*", "SD8"} <= {u.signal for u in adapter.unmapped if u.end == "card"}


def test_the_name_at_the_host_is_kept_where_it_is_another() -> None:
    adapter = plan(host({"1": "SMEMR*"}, BUS16), card({"2": "MEMR*"}))
    net = adapter.net_of("card", "2")
    assert (net.name, net.signal, net.remark) == ("MEMR*", "MEMR*", "SMEMR* at the host")
    assert said(adapter, "renamed-between-generations") == [
        (
            "caution",
            f"SMEMR* of the host meets MEMR* of the card: {BUS8.signals['MEMR*'].elsewhere['isa-16bit'].differs}",
            "Wired; leave it out if the card does not use it",
        )
    ]


def test_a_renamed_line_of_opposite_polarity_is_not_wired() -> None:
    assert joined(plan(host({"1": "SMEMR"}, BUS16), card({"2": "MEMR*"}))) == set()


# ---------------------------------------------------------------------- what does not map


def test_each_unmapped_line_has_a_reason_an_effect_and_a_remedy() -> None:
    adapter = plan(
        host({"1": "TC", "2": "AUDIO", "3": "WHAT"}, own=own("AUDIO")),
        card({"1": "OSC", "2": "LAMP", "3": "WHO"}, own=[Signal("LAMP", "own")]),
    )
    lost = BUS8.signals["OSC"].absent
    assert lost is not None
    assert {(u.signal, u.end, u.reason, u.effect, u.remedy.kind, u.contacts) for u in adapter.unmapped} == {
        ("OSC", "card", "the slot does not bring it", lost.effect, "oscillator", ("1",)),
        ("LAMP", "card", "the slot does not bring it", "not known to the bus", "none", ("2",)),
        ("WHO", "card", "its name is not known", "It is not wired.", "none", ("3",)),
        ("TC", "host", "the card has no such line", "The line ends at the adapter.", "leave open", ("1",)),
        (
            "AUDIO",
            "host",
            "it is no line of the bus",
            "AUDIO of the maker. The line ends at the adapter.",
            "leave open",
            ("2",),
        ),
        ("WHAT", "host", "its name is not known", "It is not wired.", "none", ("3",)),
    }


def test_lines_that_are_missed_alike_are_told_together() -> None:
    slot = host({"1": "GND", "2": "-12V"})
    adapter = plan(slot, card({"1": "SA10", "2": "SA11", "3": "SA12", "4": "SD0", "5": "-5V"}))
    lost = {name: BUS8.signals[name].absent for name in ("SA10", "SD0", "-5V")}
    expected = []
    for grade, names, name in (("fault", "SD0", "SD0"), ("caution", "SA10–SA12", "SA10"), ("note", "-5V", "-5V")):
        absent = lost[name]
        assert isinstance(absent, Absent)
        remedy = str(absent.remedy)
        expected.append(
            (grade, f"{names}: the slot does not bring it. {absent.effect}", remedy[0].upper() + remedy[1:])
        )
    assert said(adapter, "signal-absent") == expected


@pytest.mark.parametrize(
    ("at_host", "missing", "added"),
    [
        ({"1": "-12V"}, "-5V", ""),
        ({"1": "+5V"}, "MEMR*", ""),
        ({"1": "GND"}, "MEMR*", " The slot does not bring +5V either."),
        ({}, "OSC", ""),
    ],
)
def test_a_remedy_that_needs_another_missing_line_says_so(
    at_host: dict[str, str | Line], missing: str, added: str
) -> None:
    absent = BUS8.signals[missing].absent
    assert absent is not None
    ((_, _, advice),) = said(plan(host(at_host), card({"1": missing})), "signal-absent")
    assert advice.endswith(absent.remedy.why + added)


@pytest.mark.parametrize("at_host", [{"1": "+12V"}, {"1": Line("-12V", option="board")}])
def test_a_regulator_without_the_rail_that_feeds_it_is_no_remedy(at_host: dict[str, str | Line]) -> None:
    ((_, _, advice),) = said(plan(host(at_host), card({"1": "-5V"})), "signal-absent")
    assert advice == (
        "No remedy: a regulator would be fed from -12V, which the slot does not bring either; a card that needs the "
        "rail needs a feed of its own"
    )


def test_a_missing_line_that_the_card_has_inverted_is_as_grave() -> None:
    assert [grade for grade, *_ in said(plan(host({}), card({"1": "SD0*"})), "signal-absent")] == ["fault"]


def test_the_cards_contacts_of_a_missing_supply_belong_together() -> None:
    adapter = plan(host({"1": "GND"}), card({"1": "+5V", "2": "+5V", "3": "GND"}))
    assert nets(adapter)[-1] == ("+5V", "open", "", "1 2")


def test_a_missing_rail_is_told_once() -> None:
    slot, slot_card = host({"1": "GND"}), card({"1": "GND", "2": "-5V"})
    adapter = plan(slot, slot_card, (), [*checks.run(slot), *checks.run(slot_card)])
    assert [f.code for f in adapter.findings if "-5V" in f.signals] == ["signal-absent"]
    # A rail that neither end has is told by the check of the map alone.
    assert {f.code for f in adapter.findings if f.signals == ("-12V",)} == {"rail-missing"}


# ---------------------------------------------------------------------- the connectors


@pytest.mark.parametrize(
    ("form", "end", "at_host", "at_card"),
    [
        ("edge slot", "host", "edge fingers", "edge slot"),  # the machine's slot: fingers go in, and a slot takes cards
        ("edge fingers", "card", "edge fingers", "edge slot"),  # a card's fingers, at either end
        ("box header", "host", "socket header", "box header"),
        ("pin header", "card", "pin header", "socket header"),
    ],
)
def test_the_adapter_mates_with_both_ends(form: Any, end: Any, at_host: str, at_card: str) -> None:
    body = Body(form, (Section(2, 3),), "zigzag", footprint="mine", mate_footprint="its")
    one = pin_map({"1": "GND"}, body, end=end)
    adapter = plan(one, one)
    assert (adapter.host_connector.ref, adapter.host_connector.body.form) == ("J1", at_host)
    assert (adapter.card_connector.ref, adapter.card_connector.body.form) == ("J2", at_card)
    assert [f.message for f in adapter.findings if f.code == "end-turned"] == (
        []
        if end == "host"
        else [
            "handmade describes what a card brings; as the host its mate is taken, the machine's connector with the "
            "same numbering"
        ]
    )


def test_a_pad_is_that_of_the_connector_on_the_adapter() -> None:
    adapter = plan(shipped("isa-8bit"), shipped("isa-8bit"))
    assert [adapter.host_connector.pad(label) for label in ("B1", "B31", "A1", "A31")] == ["1", "31", "32", "62"]
    assert [adapter.card_connector.pad(label) for label in ("B1", "A31")] == ["B1", "A31"]


def test_the_title_names_both_ends() -> None:
    assert plan(host({}), card({})).title == "The host connector to The card connector"


# ---------------------------------------------------------------------- verdict

EVERY_LINE = in_a_row(lines_of(BUS8))


def whole(end: Any = "host") -> PinMap:
    return pin_map(EVERY_LINE, strip(70), end=end)


@pytest.mark.parametrize(
    ("findings", "verdict"),
    [
        ([], "build"),
        ([found("rail-beside-line", "n")], "build"),
        ([found("guess", "c")], "build with care"),
        ([found("guess", "c"), found("signal-twice", "f")], "do not build"),
        ([found("guess-supply", "d")], "do not build"),
    ],
)
def test_the_worst_finding_of_both_maps_and_the_plan_decides(findings: list[Any], verdict: str) -> None:
    adapter = plan(whole(), whole("card"), (), findings)
    assert adapter.verdict == verdict
    assert {f.code for f in adapter.findings} == {f.code for f in findings}


def test_a_slot_on_which_no_card_works_is_told_with_the_nearest_kind() -> None:
    adapter = plan(host({"1": "GND", "2": "+5V"}), card({"1": "GND", "2": "+5V"}))
    assert said(adapter, "no-card-works") == [
        (
            "fault",
            "no kind of card for isa-8bit can work on The host connector; the nearest is programmed I/O, which does "
            "not work: missing SD0–SD7, SA0–SA9, IOR* and IOW*",
            "Find the missing lines in the machine, or give it up",
        )
    ]
    assert adapter.verdict == "do not build"


@pytest.mark.parametrize(
    ("machine", "fitted", "to", "verdict"),
    [
        ("oakmere-88", [], "isa-8bit", "build with care"),
        ("oakmere-88", ["video board"], "isa-8bit", "build with care"),
        ("brindle-portable", [], "isa-8bit", "do not build"),  # its reset needs an inverter
        ("tarn-rack", [], "isa-8bit", "build with care"),
        ("tarn-rack", [], "isa-16bit", "build with care"),
        ("isa-8bit", [], "isa-8bit", "build"),
        ("isa-16bit", [], "isa-16bit", "build"),
        ("isa-16bit", [], "isa-8bit", "build with care"),
        ("pc104-16bit", [], "isa-16bit", "build"),
    ],
)
def test_the_verdict_for_the_shipped_machines(machine: str, fitted: list[str], to: str, verdict: str) -> None:
    assert pinmap.adapt(machine, to, fitted).verdict == verdict


# ---------------------------------------------------------------------- property: any two maps

OWN = (Signal("AUDIO", "own"), Signal("CS1*", "own"), Signal("CS1", "own"), PLUS8, NOT_KNOWN, Signal("AGND", "return"))
OTHER_VOLTS = replace(
    BUS8,
    name="odd",
    signals={**BUS8.signals, "+5V": replace(BUS8.signals["+5V"], volts=3.3)},
)
BUSES = (BUS8, BUS16, OTHER_VOLTS)


class Recipe(Struct, frozen=True):
    """How to make a map: small enough to be shown when a property fails."""

    bus: int
    rows: int
    places: int
    first: Corner
    shift: int  # where in the bus's lines the contacts begin
    spoilt: tuple[tuple[int, int, int, str, Seen], ...]  # contact, word, way to write it, option, seen
    own: tuple[int, ...]
    rest: str

    def make(self, end: End) -> PinMap:
        bus = BUSES[self.bus]
        body = Body("pin header", (Section(self.rows, self.places),), "zigzag", self.first)
        signals = lines_of(bus)
        signals = signals[self.shift % len(signals) :] + signals[: self.shift % len(signals)]
        own = tuple({OWN[i].name: OWN[i] for i in self.own}.values())
        words = [*(s.name for s in own), "GND", "+5V", "-12V", "SD0", "IOR", "RESET*", "open", "key", "WHAT", *signals]
        contacts = [(label, Line(name)) for label, name in zip(body.labels, signals, strict=False)]
        for contact, word, way, option, seen in self.spoilt:
            label, name = body.labels[contact % len(body)], words[word % len(words)]
            entry = Line(opposite(name) if way == 2 else name, option, seen)
            if way:  # instead of what stands there; otherwise beside it, so that the contact is described twice
                contacts = [c for c in contacts if c[0] != label]
            contacts.append((label, entry))
        return pin_map(contacts, body, bus=bus, end=end, own=own, rest=self.rest, name=end)


SPOILT = st.tuples(
    st.integers(0, 41),
    st.integers(0, 60),
    st.integers(0, 2),
    st.sampled_from(["", "", "a", "b"]),
    st.sampled_from(["manual", "measured", "guessed"]),
)
RECIPES = st.builds(
    Recipe,
    bus=st.integers(0, 2),
    rows=st.integers(1, 3),
    places=st.integers(1, 14),
    first=st.sampled_from(CORNERS),
    shift=st.integers(0, 80),
    spoilt=st.lists(SPOILT, max_size=12).map(tuple),
    own=st.lists(st.integers(0, len(OWN) - 1), max_size=4).map(tuple),
    rest=st.sampled_from(["open", "undescribed"]),
)
FITTED = st.sets(st.sampled_from("ab"))


def circuits(adapter: Adapter) -> set[frozenset[tuple[str, str]]]:
    """Follow the wires from contact to contact: what hangs together."""
    over: dict[tuple[str, str], tuple[str, str]] = {}

    def root(point: tuple[str, str]) -> tuple[str, str]:
        while over.setdefault(point, point) != point:
            point = over[point]
        return point

    for wire in wires(adapter):
        over[root((wire.start.end, wire.start.label))] = root((wire.stop.end, wire.stop.label))
    groups: dict[tuple[str, str], set[tuple[str, str]]] = {}
    for point in list(over):
        groups.setdefault(root(point), set()).add(point)
    return {frozenset(group) for group in groups.values()}


@settings(deadline=None, max_examples=250)
@given(RECIPES, RECIPES, FITTED)
def test_any_two_maps_make_a_plan_that_burns_nothing(at_host: Recipe, at_card: Recipe, wanted: set[str]) -> None:
    slot, other = at_host.make("host"), at_card.make("card")
    fitted = wanted & {*slot.options, *other.options}
    adapter = plan(slot, other, fitted)

    # Every contact is in exactly one net.
    for end, of in (("host", slot), ("card", other)):
        labels = [c.label for net in adapter.nets for c in getattr(net, end)]
        assert sorted(labels) == sorted(of.present)

    disputed = {"host": slot.disputed(frozenset(fitted)), "card": other.disputed(frozenset(fitted))}
    for net in adapter.nets:
        together = [*(("host", c) for c in net.host), *(("card", c) for c in net.card)]
        if len(together) < 2:
            continue
        contacts = [c for _, c in together]
        # Only contacts that carry a line now, and one line only: one rail, or one signal in one polarity.
        assert all(c.signal and (not c.option or c.option in fitted) for c in contacts)
        assert all(c.label not in disputed[end] for end, c in together)
        assert len({c.inverted for c in contacts}) == 1
        kinds = {(c.signal.group, c.signal.volts) if c.signal and c.signal.is_power else None for c in contacts}
        assert len(kinds) == 1
        if net.host and net.card:
            assert net.state in ("straight", "joined")
            assert ("supply", None) not in kinds  # nobody knows what that would join
            if kinds == {None}:
                assert (len(net.host), len(net.card)) == (1, 1)
            for h in net.host:
                for c in net.card:
                    assert h.signal is not None
                    assert c.signal is not None
                    if h.signal.name in slot.own:
                        assert c.signal.name in other.own
                    else:
                        assert other.bus.counterpart(c.signal, slot.bus)[0] == h.signal
        else:
            assert kinds != {None}  # a link within one end is for supplies and returns

    # What the coverage counts on is wired, where the card has a contact for it.
    lines = lines_for(slot, other.bus, frozenset(fitted))
    for net in adapter.nets:
        for c in net.card:
            counted = c.signal and c.signal.name not in other.own and lines.get(c.signal.name)
            sure = c.label not in disputed["card"] and (not c.option or c.option in fitted)
            if counted and sure and counted.inverted == c.inverted:
                assert counted.label in {h.label for h in net.host}

    # The wires make these nets and nothing else, with no wire too many.
    expected = {
        frozenset([*(("host", c.label) for c in net.host), *(("card", c.label) for c in net.card)])
        for net in adapter.nets
        if net.size > 1
    }
    assert circuits(adapter) == expected
    assert len(wires(adapter)) == sum(len(group) - 1 for group in expected)

    # Returns and supplies come first among what is wired.
    power = [net.group in ("return", "supply") for net in adapter.nets if net.state != "open"]
    assert power == sorted(power, reverse=True)
    names = [net.name for net in adapter.nets]
    assert len(set(names)) == len(names)


@settings(deadline=None, max_examples=40)
@given(RECIPES, RECIPES)
def test_the_same_maps_make_the_same_plan(at_host: Recipe, at_card: Recipe) -> None:
    slot, other = at_host.make("host"), at_card.make("card")

    def shown(adapter: Adapter) -> object:
        return adapter.nets, adapter.unmapped, adapter.findings, wires(adapter), adapter.coverage

    assert shown(plan(slot, other)) == shown(plan(at_host.make("host"), at_card.make("card")))


@settings(deadline=None, max_examples=100)
@given(RECIPES, RECIPES)
def test_every_contact_of_a_line_is_wired_or_explained(at_host: Recipe, at_card: Recipe) -> None:
    slot, other = at_host.make("host"), at_card.make("card")
    adapter = plan(slot, other)
    told = {(u.end, label) for u in adapter.unmapped for label in u.contacts}
    told |= {
        ("host" if f.message.startswith("host") else "card", label)
        for f in adapter.findings
        if f.code == "contact-conflict"
        for label in f.contacts
    }
    for end, of in (("host", slot), ("card", other)):
        for contact in of.fitted(frozenset()):
            net = adapter.net_of(end, contact.label)  # type: ignore[arg-type]
            assert (net.host and net.card) or (end, contact.label) in told


# ---------------------------------------------------------------------- every code of the plan


def test_remedies_name_the_kind_first() -> None:
    adapter = plan(header_slot(), card({"1": "AEN"}))
    ((_, _, advice),) = said(adapter, "signal-absent")
    absent = BUS8.signals["AEN"].absent
    assert absent is not None
    assert advice == f"Tie low to GND: {absent.remedy.why}"
    assert absent.remedy == Remedy("tie low", absent.remedy.why, to="GND")


def header_slot() -> PinMap:
    return pin_map({"1": "GND"}, header(4))


CODES: dict[str, Callable[[], Adapter]] = {
    "rail-meets-rail": lambda: plan(host({"1": "+V"}, own=[PLUS8]), card({"3": "+V"}, own=[PLUS9])),
    "contact-conflict": lambda: plan(host([("1", "SD0"), ("1", "SD1")]), card({})),
    "needs-inverter": lambda: plan(host({"1": "RESET*"}), card({"1": "RESET"})),
    "not-wire": lambda: plan(host({"1": "MEMR*"}), card({"1": "MEMR*"}, BUS16)),
    "renamed-between-generations": lambda: plan(host({"1": "IRQ2"}), card({"1": "IRQ9"}, BUS16)),
    "signal-absent": lambda: plan(host({}), card({"1": "SD0"})),
    "no-card-works": lambda: plan(host({}), card({})),
    "end-turned": lambda: plan(card({}), card({})),
}


@pytest.mark.parametrize("code", CODES)
def test_a_plan_of_two_whole_slots_of_one_bus_says_none_of_it(code: str) -> None:
    assert said(CODES[code](), code)
    assert not said(plan(whole(), whole("card")), code)
