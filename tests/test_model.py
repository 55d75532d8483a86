"""The objects that the rest works with check themselves, and answer what is asked of them."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from handmade import BUS8, BUS16, Line, pin_map, strip

from pinmap.model import Bus, CardKind, Contact, Elsewhere, PinMap, Remedy, Signal, no_option, opposite

SD0 = BUS8.signals["SD0"]


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: Signal("X", "noise"),  # type: ignore[arg-type]
            "a signal's group must be one of return, supply, data, address, command, control, timing, interrupt, DMA, "
            "own, not 'noise'",
        ),
        (lambda: Signal("X", "own", volts=5.0), "only a supply has volts, not X"),
        (lambda: Contact("1", "signal"), "contact 1 must have a signal exactly when its role is signal"),
        (lambda: Contact("1", "open", SD0), "contact 1 must have a signal exactly when its role is signal"),
        (
            lambda: Bus("b", "B", {"SD0": SD0}, (CardKind("ROM", "", ("SD0", "SD1")),)),
            "a kind of card must need lines of its bus, not SD1 (kind ROM)",
        ),
        (
            lambda: Bus("b", "B", {"SD0": SD0}, (CardKind("ROM", "", (), one_of=(("SD0",), ("SD2",))),)),
            "a kind of card must need lines of its bus, not SD2 (kind ROM)",
        ),
        (
            lambda: PinMap("m", "M", BUS8, "host", strip(2), (Contact("1", "open"), Contact("7", "open"))),
            "every contact must be on the body, not 7",
        ),
        (
            lambda: PinMap("m", "M", BUS8, "host", strip(3), (Contact("2", "open"),)),
            "every contact of the body must be in the map; missing: 1, 3",
        ),
    ],
)
def test_what_contradicts_itself_cannot_be_made(make: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError) as error:  # noqa: PT011 - the whole message follows
        make()
    assert str(error.value) == message


def test_a_contact_is_named_in_the_dictionarys_spelling_with_the_mark_that_it_has() -> None:
    of = pin_map(
        {"1": "-ior", "2": "ior", "3": "reset*", "4": "WHAT", "5": "key", "6": "nc"}, strip(7), rest="undescribed"
    )
    assert [c.name for c in of.contacts] == ["IOR*", "IOR", "RESET*", "WHAT", "key", "open", "?"]


@pytest.mark.parametrize(("name", "other"), [("RESET", "RESET*"), ("RESET*", "RESET")])
def test_the_opposite_of_a_name_has_or_loses_the_mark(name: str, other: str) -> None:
    assert opposite(name) == other


@pytest.mark.parametrize(
    ("remedy", "text"),
    [
        (Remedy("pull up", "Held high.", "10 kΩ", "+5V"), "pull up 10 kΩ to +5V: Held high."),
        (Remedy("regulator", "It draws little.", "-5 V", "-12V"), "regulator -5 V from -12V: It draws little."),
        (Remedy("leave open", "It is an output."), "leave open: It is an output."),
        (Remedy("tie low", "", to="GND"), "tie low to GND"),
        (Remedy("none", "No part can."), "no remedy: No part can."),
    ],
)
def test_a_remedy_reads_like_an_instruction(remedy: Remedy, text: str) -> None:
    assert str(remedy) == text


def test_a_fact_is_cited_by_its_own_source_or_the_signals() -> None:
    signal = Signal("X", "own", sources={"": "the sheet", "pull": "memory"})
    assert (signal.source_of("pull"), signal.source_of("driver"), SD0.source_of("pull")) == (
        "memory",
        "the sheet",
        "from memory",
    )


# ---------------------------------------------------------------------- generations


@pytest.mark.parametrize(
    ("here", "line", "there", "partner", "differs"),
    [
        (BUS8, "SD0", BUS16, "SD0", False),
        (BUS8, "MEMR*", BUS16, "SMEMR*", True),
        (BUS8, "MEMW*", BUS16, "SMEMW*", True),
        (BUS8, "DACK0*", BUS16, "REFRESH*", True),
        (BUS8, "IRQ2", BUS16, "IRQ9", True),
        (BUS8, "RESERVED", BUS16, "SRDY*", True),
        (BUS16, "SMEMR*", BUS8, "MEMR*", True),
        (BUS16, "SMEMW*", BUS8, "MEMW*", True),
        (BUS16, "REFRESH*", BUS8, "DACK0*", True),
        (BUS16, "IRQ9", BUS8, "IRQ2", True),
        (BUS16, "MEMR*", BUS8, None, True),  # the same name is another line there
        (BUS16, "MEMW*", BUS8, None, True),
        (BUS16, "DACK0*", BUS8, None, True),
        (BUS16, "SD8", BUS8, None, False),
        (BUS16, "MEMR*", BUS16, "MEMR*", False),
    ],
)
def test_a_line_is_matched_by_what_it_does_and_not_by_its_name(
    here: Bus, line: str, there: Bus, partner: str | None, differs: bool
) -> None:
    found, said = here.counterpart(here.signals[line], there)
    assert (found.name if found else None) == partner
    assert bool(said) is differs


@pytest.mark.parametrize(("here", "there"), [(BUS8, BUS16), (BUS16, BUS8)], ids=["8 to 16", "16 to 8"])
def test_a_counterparts_counterpart_is_the_line_itself(here: Bus, there: Bus) -> None:
    partners = {}
    for line in here.signals.values():
        partner, _ = here.counterpart(line, there)
        if partner:
            partners[line.name] = partner.name
            back, _ = there.counterpart(partner, here)
            assert back is line
            assert (partner.group, partner.volts) == (line.group, line.volts) or not (line.is_power or partner.is_power)
    assert len(set(partners.values())) == len(partners)  # no two lines meet one


def test_one_dictionary_is_enough_to_tell_two_namesakes_apart() -> None:
    old = Bus("old", "Old", {"X": Signal("X", "control")})
    new = Bus("new", "New", {"X": Signal("X", "control", elsewhere={"old": Elsewhere("", "it is new")})})
    assert new.counterpart(new.signals["X"], old) == (None, "it is new")
    assert old.counterpart(old.signals["X"], new) == (None, "it is new")


def test_a_dictionary_that_the_other_has_never_heard_of_is_believed_both_ways() -> None:
    # The users' own dictionary knows the shipped one, which cannot know it.
    old = Bus("old", "Old", {"X": Signal("X", "control"), "Y": Signal("Y", "control")})
    new = Bus(
        "new",
        "New",
        {"Z": Signal("Z", "control", elsewhere={"old": Elsewhere("X", "renamed")}), "X": Signal("X", "control")},
    )
    assert new.counterpart(new.signals["Z"], old) == (old.signals["X"], "renamed")
    assert old.counterpart(old.signals["X"], new) == (new.signals["Z"], "renamed")
    assert new.counterpart(new.signals["X"], old) == (None, "renamed")  # its namesake there is Z
    assert old.counterpart(old.signals["Y"], new) == (None, "")


def test_the_rails_of_a_bus_are_its_supplies() -> None:
    assert [rail.name for rail in BUS8.rails] == ["+5V", "-5V", "+12V", "-12V"]


# ---------------------------------------------------------------------- a map's contacts

MIXED = pin_map(
    [
        ("1", "GND"),
        ("2", "key"),
        ("3", Line("OSC", option="video")),
        ("4", "open"),
        ("5", "SD1"),
        ("6", "RESET*"),
        ("5", "SD1"),
    ],
    strip(6),
)


def test_contacts_are_found_by_signal_and_by_label() -> None:
    assert {name: [c.label for c in contacts] for name, contacts in MIXED.by_signal.items()} == {
        "GND": ["1"],
        "OSC": ["3"],
        "SD1": ["5", "5"],
        "RESET": ["6"],
    }
    assert MIXED.by_label["5"].place.line == 5  # the first description


def test_a_key_is_no_contact() -> None:
    assert MIXED.present == ("1", "3", "4", "5", "6")


def test_a_key_that_is_also_described_as_something_is_a_contact() -> None:
    assert pin_map([("1", "key"), ("1", "GND"), ("2", "key")], strip(3)).present == ("1", "3")


def test_what_comes_with_an_option_is_there_only_with_it() -> None:
    assert [c.label for c in MIXED.fitted(frozenset())] == ["1", "5", "6", "5"]
    assert [c.label for c in MIXED.fitted(frozenset({"video"}))] == ["1", "3", "5", "6", "5"]


@pytest.mark.parametrize(
    ("contacts", "fitted", "disputed"),
    [
        ([("1", "SD0"), ("2", "SD1")], [], {}),
        ([("1", "SD0"), ("1", "D0")], [], {}),
        ([("1", "SD0"), ("1", "SD1")], [], {"1": "SD0 SD1"}),
        ([("1", "RESET"), ("1", "RESET*")], [], {"1": "RESET RESET*"}),
        ([("1", "SD0"), ("1", "open")], [], {"1": "SD0 open"}),
        ([("1", "GND"), ("1", "key")], [], {"1": "GND key"}),
        ([("1", "+5V"), ("1", "WHAT")], [], {"1": "+5V WHAT"}),
        ([("1", "SD0"), ("2", "SD0")], [], {"1": "SD0", "2": "SD0"}),
        ([("1", "SD0"), ("2", "SD0*")], [], {"1": "SD0", "2": "SD0*"}),
        ([("1", "GND"), ("2", "GND"), ("3", "+5V"), ("4", "+5V")], [], {}),
        ([("1", "SD0"), ("1", "SD1"), ("2", "SD1")], [], {"1": "SD0 SD1", "2": "SD1"}),
        ([("1", "SD0"), ("1", Line("SD1", option="a"))], [], {}),
        ([("1", "SD0"), ("1", Line("SD1", option="a"))], ["a"], {"1": "SD0 SD1"}),
        ([("1", Line("SD0", option="b")), ("1", Line("SD1", option="a"))], ["a"], {}),
        ([("1", Line("SD0", option="b")), ("1", Line("SD1", option="a"))], ["a", "b"], {"1": "SD0 SD1"}),
        ([("1", Line("SD0", option="b")), ("2", Line("SD0", option="a"))], ["a"], {}),
        ([("1", Line("SD0", option="b")), ("2", Line("SD0", option="a"))], ["a", "b"], {"1": "SD0", "2": "SD0"}),
    ],
)
def test_what_two_lines_of_a_table_claim_is_disputed(
    contacts: list[tuple[str, str | Line]], fitted: list[str], disputed: dict[str, str]
) -> None:
    found = pin_map(contacts, strip(4)).disputed(frozenset(fitted))
    assert {label: " ".join(c.name for c in claims) for label, claims in found.items()} == disputed


# ---------------------------------------------------------------------- options


@pytest.mark.parametrize(
    ("asked", "known", "message"),
    [
        ("vidio", ["video board"], "an option must be 'video board', not 'vidio'"),
        (
            "video bord",
            ["video board", "sound"],
            "an option must be 'sound' or 'video board', not 'video bord'. Did you mean video board?",
        ),
        ("x", [], "an option must be none, for the map has none, not 'x'"),
    ],
)
def test_an_option_that_no_map_has_is_told_with_those_that_there_are(
    asked: str, known: list[str], message: str
) -> None:
    assert str(no_option(asked, known)) == message


def test_an_option_named_on_the_command_line_cannot_move_the_cursor() -> None:
    assert "\x1b" not in str(no_option("a\x1b[31m", ["video board"]))
