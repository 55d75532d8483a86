"""Names in every notation of the trade: which line is meant, and with which polarity."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from handmade import BUS8, BUS16
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap.model import Bus, Signal
from pinmap.naming import Names, expand, identity, unused

NAMES8, NAMES16 = Names(BUS8), Names(BUS16)
OVERLINE = "\u0305"


def read(written: str, names: Names = NAMES8, marks: str = "used") -> str:
    """Say which line a name is and whether it is there inverted: "IOR*", "RESET inverted", "nothing"."""
    known = names.read(written)
    if known is None:
        return "nothing"
    return f"{known.signal.name}{' inverted' if known.inverted(marks) else ''}"


#: Every way to mark a name as active low.
NOTATIONS: dict[str, Callable[[str], str]] = {
    "star": lambda n: f"{n}*",
    "minus": lambda n: f"-{n}",
    "true minus": lambda n: f"\u2212{n}",
    "dash": lambda n: f"\u2013{n}",
    "minus, space": lambda n: f"- {n}",
    "slash": lambda n: f"/{n}",
    "number sign": lambda n: f"{n}#",
    "small n": lambda n: f"n{n}",
    "_N": lambda n: f"{n}_N",
    "_n": lambda n: f"{n}_n",
    "_L": lambda n: f"{n}_L",
    "_B": lambda n: f"{n}_B",
    "tilde": lambda n: f"~{n}",
    "tilde and braces": lambda n: f"~{{{n}}}",
    "exclamation mark": lambda n: f"!{n}",
    "not sign": lambda n: f"¬{n}",
    "backslash": lambda n: f"\\{n}",
    "minus behind": lambda n: f"{n}-",
    "true minus behind": lambda n: f"{n}\u2212",
    "apostrophe": lambda n: f"{n}'",
    "overline": lambda n: "".join(c + OVERLINE for c in n),
    "macron": lambda n: "".join(c + "\u0304" for c in n),
    "double overline": lambda n: "".join(c + "\u033f" for c in n),
    "both ends": lambda n: f"/{n}*",
    "star before": lambda n: f"*{n}",
    "backslash behind": lambda n: f"{n}\\",
    "tilde behind": lambda n: f"{n}~",
    ".L": lambda n: f"{n}.L",
    ".l": lambda n: f"{n}.l",
}


@pytest.mark.parametrize("notation", NOTATIONS)
def test_every_notation_of_active_low_is_understood(notation: str) -> None:
    assert read(NOTATIONS[notation]("IOR")) == "IOR*"
    assert read(NOTATIONS[notation]("RESET")) == "RESET inverted"


@pytest.mark.parametrize(
    ("written", "meaning"),
    [
        ("IOR*", "IOR*"),
        ("ior*", "IOR*"),
        (" I/O R * ", "IOR*"),
        ("-I/OR", "IOR*"),
        ("I/O_CH_RDY", "IOCHRDY"),
        ("i/o ch rdy", "IOCHRDY"),
        ("I/O CH CK*", "IOCHK*"),
        ("-I/O CH CK", "IOCHK*"),
        ("RESET DRV", "RESET"),
        ("RESET_DRV", "RESET"),
        ("reset-drv", "RESET"),
        ("-RESET DRV", "RESET inverted"),
        ("IOR", "IOR* inverted"),
        ("MEMW", "MEMW* inverted"),
        ("~{MEMW}", "MEMW*"),
        ("SD_7", "SD7"),
        ("SD 7", "SD7"),
        ("SD-7", "SD7"),
        ("D7", "SD7"),
        ("DB7", "SD7"),
        ("D7*", "SD7 inverted"),
        ("A0", "SA0"),
        ("A00", "SA0"),
        ("BA19", "SA19"),
        ("ALE", "BALE"),
        ("CLK", "BCLK"),
        ("SYSCLK", "BCLK"),
        ("14MHZ", "OSC"),
        ("14.318 MHz", "OSC"),
        ("Terminal Count", "TC"),
        ("T/C", "TC"),
        ("GROUND", "GND"),
        ("0V", "GND"),
        ("0 V", "GND"),
        ("GND*", "GND"),  # a mark on a return or a supply says nothing
        ("/RESERVED", "RESERVED"),  # nor on a line that has no active level
        ("RESET.H", "RESET"),
        ("reset drv.h", "RESET"),
        ("SD7.H", "SD7"),
    ],
)
def test_names_and_aliases_are_understood_in_any_spelling(written: str, meaning: str) -> None:
    assert read(written) == meaning


@pytest.mark.parametrize(
    ("written", "rail"),
    [
        ("+5V", "+5V"),
        ("5V", "+5V"),
        ("+5 V", "+5V"),
        ("+ 5 V", "+5V"),
        ("+5", "+5V"),
        ("5.0V", "+5V"),
        ("+5VDC", "+5V"),
        ("5 v dc", "+5V"),
        ("VCC", "+5V"),
        ("Vcc", "+5V"),
        ("/+5V", "+5V"),
        ("-5V", "-5V"),
        ("−5V", "-5V"),
        ("–5 V", "-5V"),
        ("- 5", "-5V"),
        ("+12V", "+12V"),
        ("12V", "+12V"),
        ("-12 VDC", "-12V"),
        ("−12 V DC", "-12V"),
        ("+5 Volt", "+5V"),
        ("+5 Volts", "+5V"),
        ("5 volts", "+5V"),
        ("+12 Volts DC", "+12V"),
        ("-12 Volt", "-12V"),
        ("- 5 VOLTS", "-5V"),
        ("*+5V", "+5V"),  # a star may lead to a footnote; the sign stands there
    ],
)
def test_rails_are_understood_with_their_sign(written: str, rail: str) -> None:
    assert read(written) == rail
    assert read(written, NAMES16) == rail


@pytest.mark.parametrize(
    "written",
    [
        "",
        " ",
        "*",
        "-",
        "~{}",
        "5",  # a bare number is no rail
        "12",
        "3.3V",
        "+8V",
        "±5V",
        "+/-12V",  # two rails
        "-/+12V",
        "-+5V",
        "+-5V",
        "--5V",
        "~5V",
        "/-5V",
        "n5V",
        "SD8",  # not on this bus
        "LA17",
        "SBHE*",
        "SA20",
        "SA1/9",  # two lines
        "A1-2",
        "IRQ 2/9",
        "D1.0",
        "IORX",
        "X",
        "open",
        "nior",  # a small n is a mark before a capital only
        "_N",
        "5V-",  # a minus behind, or a dash of the list
        "12V-",
        "5-",
        "+5V-",
        "+12V~",  # an alternating voltage
        "12V~",
        "*-5V",
        "*+/-12V",
        "!+/-12V",
        "-VCC",  # a supply with another sign than VCC
        "VCC-",
        "*IOR*",  # a word in italics, or a mark twice
        "**RESET**",
        "IOR.H",  # the bus has it active low: no name for it
        "/IOR.H",
        "5 Volta",
        "+5 VAC",
        ".L",
        ".H",
    ],
)
def test_what_is_no_line_of_the_bus_is_not_understood(written: str) -> None:
    assert read(written) == "nothing"


@pytest.mark.parametrize(
    ("written", "names", "meaning", "differs"),
    [
        ("SMEMR*", NAMES8, "MEMR*", "The newer slot pulses this contact (B12)"),
        ("-SMEMW", NAMES8, "MEMW*", "The newer slot pulses this contact (B11)"),
        ("SMEMR", NAMES8, "MEMR* inverted", "The newer slot pulses this contact (B12)"),
        ("IRQ9", NAMES8, "IRQ2", "The newer machine takes this contact (B4)"),
        ("REFRESH*", NAMES8, "DACK0*", "The newer slot calls the same contact (B19)"),
        ("SRDY*", NAMES8, "RESERVED", "In the newer slot this contact (B8)"),
        ("IRQ2", NAMES16, "IRQ9", "The older machine takes the same contact (B4)"),
        ("RESERVED", NAMES16, "SRDY*", "In the older slot this contact (B8)"),  # unmarked where it is at home
        ("MEMR*", NAMES16, "MEMR*", ""),  # the same name is another line here
        ("DACK0*", NAMES16, "DACK0*", ""),
        ("MEMR*", NAMES8, "MEMR*", ""),
    ],
)
def test_names_of_the_other_generation_are_taken_as_their_counterpart(
    written: str, names: Names, meaning: str, differs: str
) -> None:
    assert read(written, names) == meaning
    known = names.read(written)
    assert known is not None
    assert (known.via == "generation") == bool(differs)
    assert known.differs.startswith(differs)


@pytest.mark.parametrize(
    ("written", "used", "none"),
    [
        ("IOR", "IOR* inverted", "IOR*"),  # a table that marks no line says nothing by not marking one
        ("IOR*", "IOR*", "IOR*"),
        ("RESET", "RESET", "RESET"),
        ("RESET*", "RESET inverted", "RESET inverted"),  # but a mark is a mark
        ("SMEMR", "MEMR* inverted", "MEMR*"),
        ("GND", "GND", "GND"),
    ],
)
def test_the_polarity_of_an_unmarked_name_depends_on_whether_the_table_marks_at_all(
    written: str, used: str, none: str
) -> None:
    assert (read(written, marks="used"), read(written, marks="none")) == (used, none)


@pytest.mark.parametrize("written", ["0WS*", "/0WS", "n0WS", "nOWS", "OWS#", "NOWS*", "nNOWS", "NOWS_N", "~{0WS}"])
def test_a_small_n_is_a_mark_even_where_the_name_with_it_is_a_name_too(written: str) -> None:
    assert read(written, NAMES16) == "SRDY*"


def test_the_makers_own_signals_come_first_and_keep_their_mark_apart() -> None:
    one, other = Signal("CS1", "own"), Signal("CS1*", "own")
    both, single = Names(BUS8, (one, other)), Names(BUS8, (other,))
    assert [read(n, both) for n in ("CS1", "cs_1", "-CS1", "CS1*", "CS 1 #")] == ["CS1", "CS1", "CS1*", "CS1*", "CS1*"]
    assert [read(n, single) for n in ("CS1*", "/cs1", "CS1")] == ["CS1*"] * 3
    assert read("IRQ2", Names(BUS8, (Signal("IRQ2", "own"),))) == "IRQ2"
    assert Names(BUS8, (Signal("IRQ2", "own"),)).read("IRQ2").signal.group == "own"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("CS1*", "-CS1", True),
        ("CS1", "cs 1", True),
        ("CS1", "CS1*", False),
        ("CS1", "CS2", False),
        ("AGND", "GND", False),
        ("+8V", "8 V", True),
        ("+8V", "-8V", False),
        ("A1/2", "A12", False),
        ("+/-12V", "+/-5V", False),
    ],
)
def test_two_names_are_one_line_when_bare_form_and_mark_agree(one: str, other: str, same: bool) -> None:
    assert (identity(one) == identity(other)) is same


def test_own_names_that_can_be_read_in_no_way_are_each_itself() -> None:
    names = Names(BUS8, (Signal("+/-12V", "own"), Signal("-+5V", "own")))
    assert [read(n, names) for n in ("+/-12V", "-+5V", "+-8V", "+-")] == ["+/-12V", "-+5V", "nothing", "nothing"]


# ---------------------------------------------------------------------- suggestions


@pytest.mark.parametrize(
    ("written", "nearest"),
    [
        ("IORD2*", "IOR*"),
        ("IOCHRDDY", "IOCHRDY"),
        ("RESETT", "RESET"),
        ("MEMRR*", "MEMR*"),
        ("DRREQ3", "DRQ3"),
        ("GNDD", "GND"),
    ],
)
def test_the_nearest_name_is_offered(written: str, nearest: str) -> None:
    assert NAMES8.nearest(written)[:1] == [nearest]


def test_nothing_is_offered_for_what_resembles_nothing() -> None:
    assert NAMES8.nearest("QQQQ") == []
    assert NAMES8.nearest("") == []


def test_own_signals_are_offered_too() -> None:
    assert Names(BUS8, (Signal("AUDIO", "own"),)).nearest("AUDEO") == ["AUDIO"]


# ---------------------------------------------------------------------- open, key and runs


@pytest.mark.parametrize(
    ("written", "role"),
    [
        ("open", "open"),
        ("OPEN", "open"),
        ("NC", "open"),
        ("N/C", "open"),
        ("n.c.", "open"),
        ("no connect", "open"),
        ("No Connection", "open"),
        ("not connected", "open"),
        ("unconnected", "open"),
        ("key", "key"),
        ("Key", "key"),
        ("opened", None),
        ("", None),
        ("GND", None),
        ("keyed", None),
    ],
)
def test_open_and_key_contacts_are_known_by_many_words(written: str, role: str | None) -> None:
    assert unused(written) == role


@pytest.mark.parametrize(
    ("written", "names"),
    [
        ("SD7..SD0", "SD7 SD6 SD5 SD4 SD3 SD2 SD1 SD0"),
        ("SD0..SD2", "SD0 SD1 SD2"),
        ("SD3 .. SD1", "SD3 SD2 SD1"),
        ("DACK1*..DACK3*", "DACK1* DACK2* DACK3*"),
        ("-DACK1..-DACK2", "-DACK1 -DACK2"),
        ("IRQ4..IRQ4", "IRQ4"),
        ("GND", "GND"),
        ("", ""),
    ],
)
def test_a_run_of_names_is_spelled_out(written: str, names: str) -> None:
    assert expand(written) == (names.split() or [""])


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("SD7..", "a run of names must end in numbers, like SD7..SD0, not 'SD7..'"),
        ("..SD7", "a run of names must end in numbers, like SD7..SD0, not '..SD7'"),
        ("GND..SD7", "a run of names must end in numbers, like SD7..SD0, not 'GND..SD7'"),
        ("SD7..SA0", "both ends of a run must have the same name, like SD7..SD0, not 'SD7..SA0'"),
        ("DACK1*..DACK3", "both ends of a run must have the same name, like SD7..SD0, not 'DACK1*..DACK3'"),
        ("SD0..SD1000", "a run must not be longer than 1000 names, not 'SD0..SD1000'"),
    ],
)
def test_a_run_whose_ends_do_not_belong_together_is_an_error(written: str, message: str) -> None:
    with pytest.raises(ValueError) as error:  # noqa: PT011 - the whole message follows
        expand(written)
    assert str(error.value) == message


# ---------------------------------------------------------------------- properties

SPELLINGS = [
    (bus, signal, spelling)
    for bus in (BUS8, BUS16)
    for signal in bus.signals.values()
    for spelling in (signal.name, *signal.aliases)
]


@pytest.mark.parametrize("bus", [BUS8, BUS16], ids=lambda bus: bus.name)
def test_no_two_signals_of_a_bus_have_a_spelling_in_common(bus: Bus) -> None:
    owners: dict[str, set[str]] = {}
    for its_bus, signal, spelling in SPELLINGS:
        if its_bus is bus:
            owners.setdefault(Names.folded(spelling), set()).add(signal.name)
    assert {fold: names for fold, names in owners.items() if len(names) > 1} == {}


@settings(deadline=None, max_examples=400)
@given(
    st.sampled_from(SPELLINGS),
    st.sampled_from(["as it is", *NOTATIONS]),
    st.sampled_from([str, str.lower, lambda s: f"  {s} ", lambda s: s.replace("_", " "), str.title]),
)
def test_every_name_in_every_notation_reads_back_with_its_polarity(
    entry: tuple[Bus, Signal, str], notation: str, change: Callable[[str], str]
) -> None:
    bus, signal, spelling = entry
    if signal.is_power:
        written, marked = spelling, False  # a supply's sign is no mark
    elif notation == "as it is":
        written, marked = change(spelling), spelling.endswith("*")
    else:
        # A mark before a small n is a mark; "n" itself only counts before a capital, so case stays as it is.
        bare = spelling.rstrip("*")
        written, marked = NOTATIONS[notation](bare if notation == "small n" else change(bare).strip()), True
    known = Names(bus).read(written)
    assert known is not None
    assert known.signal.name == signal.name
    assert known.inverted("used") == (
        not signal.is_power and signal.active != "none" and marked != (signal.active == "low")
    )


@settings(deadline=None)
@given(st.text(max_size=12))
def test_any_text_is_a_line_of_the_bus_or_nothing(text: str) -> None:
    known = NAMES8.read(text)
    assert known is None or known.signal.name in BUS8.signals
    assert isinstance(NAMES8.nearest(text), list)
    assert unused(text) in (None, "open", "key", "undescribed")
