"""Remedies carried out: which parts go in, on which nets, with which values, and what is said about them."""

from __future__ import annotations

import time
from typing import Any, get_args

import msgspec
import pytest
from handmade import BUS8, BUS16, in_a_row, lines_of, pin_map, shipped, strip
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pinmap import recipes
from pinmap.adapter import Adapter
from pinmap.choices import absent_lines, rest_of
from pinmap.design import CardUse, Choice, Design, Fuse, Jumper
from pinmap.electrical.facts import facts
from pinmap.errors import Place
from pinmap.findings import found
from pinmap.model import Absent, Bus, CardKind, PinMap, Remedy, RemedyKind, Signal
from pinmap.parts import REFERENCES
from pinmap.planner import plan
from pinmap.pulls import Pull, ohms_text
from pinmap.remedies import carried_out

RISER = Place("riser.yaml", 7, 3)
PC104 = "PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008"
AFLOAT = "holds the input of the inverter while nobody drives the line, for an open one reads high"
EVERYTHING = tuple(BUS8.signals)


def design(*choices: Choice, **more: Any) -> Design:
    """A design with these choices, without decoupling unless asked for."""
    return Design("Riser", "host", "card", "", "", choices=choices, **{"decoupling": False, **more})


def choose(signal: str, kind: Any, value: str = "", to: str = "") -> Choice:
    return Choice(signal, kind, value, to, RISER)


def ends(host: list[Any], card: list[Any], *, bus: Bus = BUS8) -> Adapter:
    """Lay these lines out on two strips."""
    host_map, card_map = (
        pin_map(in_a_row(names), strip(max(len(names), 1)), bus=bus, end=end)  # type: ignore[arg-type]
        for names, end in ((host, "host"), (card, "card"))
    )
    return plan(host_map, card_map)


def without(*lines: str, bus: Bus = BUS8, card: list[str] | None = None) -> Adapter:
    """A slot that brings all of the bus but these lines, and a card that has all."""
    return ends(lines_of(bus, *lines), card or lines_of(bus), bus=bus)


def drawn(adapter: Adapter) -> list[str]:
    """Write each part in one line: reference, value, purpose, and where each pin goes."""
    at = {pin: net.name for net in adapter.nets for pin in net.parts}
    return [
        f"{p.ref} {p.value} | {p.purpose} | {', '.join(f'{pad} {at[p.ref, pad]}' for pad, _ in p.pins)}"
        for p in adapter.parts
    ]


def said(adapter: Adapter, *codes: str) -> list[tuple[str, str, str, Place]]:
    wanted = codes or ("remedy-fights", "remedy-weak", "remedy-needs-feed")
    return [(f.grade, f.message, f.advice, f.place) for f in adapter.findings if f.code in wanted]


# ---------------------------------------------------------------------- whole parts lists of the three machines


def test_the_parts_of_an_oakmere_with_a_regulator_a_jumper_and_a_fuse() -> None:
    made = carried_out(
        plan(shipped("oakmere-88"), shipped("isa-8bit")),
        design(
            choose("-5V", "regulator"),
            jumpers=(Jumper("IRQ7", ("IRQ5", "IRQ3"), RISER),),
            fuses=(Fuse("+5V", 1.0, True, RISER),),
            decoupling=True,
        ),
    )
    assert drawn(made) == [
        "C1 100 nF, 25 V | decoupling of +5V at the card | 1 +5V fused, 2 GND",
        "C2 10 µF, 25 V | bulk of +5V at the card | 1 +5V fused, 2 GND",
        "C3 330 nF, 25 V | input capacitor of the regulator of -5V | 1 -12V, 2 GND",
        "C4 100 nF, 25 V | output capacitor of the regulator of -5V | 1 -5V, 2 GND",
        "C5 100 nF, 25 V | decoupling of -5V at the card | 1 -5V, 2 GND",
        "C6 100 nF, 25 V | decoupling of +12V at the card | 1 +12V, 2 GND",
        "C7 10 µF, 25 V | bulk of +12V at the card | 1 +12V, 2 GND",
        "C8 100 nF, 25 V | decoupling of -12V at the card | 1 -12V, 2 GND",
        "C9 100 nF, 25 V | decoupling of the oscillator of OSC | 1 +5V fused, 2 GND",
        "F1 1 A fuse, resettable, 16 V | fuse of +5V | 1 +5V, 2 +5V fused",
        "JP1 2×2 pins | jumper of IRQ7 | 1 IRQ7, 2 IRQ5, 3 IRQ7, 4 IRQ3",
        "R1 10 kΩ | pull up of DACK3* | 1 DACK3*, 2 +5V fused",
        "U1 79L05 (−5 V) | regulator of -5V | 1 GND, 2 -12V, 3 -5V",
        "Y1 14.31818 MHz | oscillator of OSC | 7 GND, 8 OSC, 14 +5V fused",
    ]
    assert made.verdict == "build with care"


def test_the_parts_of_a_brindle_with_its_reset_turned_and_no_dma() -> None:
    made = carried_out(plan(shipped("brindle-portable"), shipped("isa-8bit")), design(choose("SA19", "leave open")))
    assert drawn(made) == [
        "C1 100 nF, 25 V | decoupling of the inverter of lines from the machine | 1 +5V, 2 GND",
        "C2 100 nF, 25 V | decoupling of the oscillator of OSC | 1 +5V, 2 GND",
        "R1 560 Ω | pull down of SA16 | 1 SA16, 2 GND",
        "R2 560 Ω | pull down of SA17 | 1 SA17, 2 GND",
        "R3 560 Ω | pull down of SA18 | 1 SA18, 2 GND",
        "R4 10 kΩ | pull up of DACK1* | 1 DACK1*, 2 +5V",
        "R5 10 kΩ | pull up of DACK2* | 1 DACK2*, 2 +5V",
        "R6 10 kΩ | pull up of DACK3* | 1 DACK3*, 2 +5V",
        "R7 10 kΩ | pull up of DACK0* | 1 DACK0*, 2 +5V",
        "R8 560 Ω | pull down of TC | 1 TC, 2 GND",
        "U1 74LS04 | inverter of lines from the machine | 1 RESET*, 2 RESET, 3 GND, 5 GND, 7 GND, 9 GND, 11 GND, "
        "13 GND, 14 +5V",
        "Y1 14.31818 MHz | oscillator of OSC | 7 GND, 8 OSC, 14 +5V",
    ]
    assert [f.code for f in made.findings if f.grade in ("danger", "fault")] == []
    assert made.verdict == "build with care"


def test_the_parts_of_a_tarn_rack() -> None:
    made = carried_out(plan(shipped("tarn-rack"), shipped("isa-16bit")), design())
    dack = ("DACK0*", "DACK1*", "DACK2*", "DACK3*", "DACK5*", "DACK6*", "DACK7*")
    assert drawn(made) == [
        "C1 100 nF, 25 V | decoupling of the oscillator of OSC | 1 +5V, 2 GND",
        *(f"R{n} 560 Ω | pull down of LA{16 + n} | 1 LA{16 + n}, 2 GND" for n in range(1, 8)),
        *(
            f"R{n} 10 kΩ | pull up of {line} | 1 {line}, 2 +5V"
            for n, line in enumerate(("MEMR*", "MEMW*", "REFRESH*", *dack), 8)
        ),
        "R18 560 Ω | pull down of TC | 1 TC, 2 GND",
        "Y1 14.31818 MHz | oscillator of OSC | 7 GND, 8 OSC, 14 +5V",
    ]


# ---------------------------------------------------------------------- what goes in by itself, and what does not


def test_nothing_is_put_in_where_nothing_is_absent() -> None:
    adapter = without()
    made = carried_out(adapter, design())
    assert replace(made, design=None) == adapter


def test_what_is_only_a_note_and_what_must_be_wanted_stays_named() -> None:
    adapter = without("-5V", "IOCHK*", "+12V", "IRQ7", "DRQ3")
    made = carried_out(adapter, design())
    assert made.parts == ()
    assert made.findings == adapter.findings
    assert {u.signal: u.parts for u in made.unmapped} == dict.fromkeys(("-5V", "IOCHK*", "+12V", "IRQ7", "DRQ3"), ())


def test_a_tie_waits_for_the_owners_word_also_on_a_machine_without_dma() -> None:
    dma = [name for name, line in BUS8.signals.items() if line.group == "DMA"]
    quiet = [name for name in EVERYTHING if name not in (*dma, "AEN")]
    made = carried_out(ends(quiet, [*quiet, "AEN"]), design())
    assert drawn(made) == []
    assert [(f.grade, f.message, f.advice) for f in made.findings if "AEN" in f.signals] == [
        (
            "caution",
            "AEN: the slot does not bring it. Input/output cards can't tell a DMA cycle from one of their own and "
            "answer to memory addresses during DMA.",
            "Tie low to GND: Right only where the machine does no DMA at all, the DMA that refreshes memory included, "
            "which only its owner can say; otherwise the card disturbs every DMA cycle and the line must be found in "
            "the machine. Nothing is put in unasked: where that is so, write under remedies AEN: {kind: tie low, to: "
            "GND}",
        )
    ]
    said_so = carried_out(ends(quiet, [*quiet, "AEN"]), design(choose("AEN", "tie low", to="GND")))
    assert drawn(said_so) == ["R1 0 Ω | tie low of AEN | 1 AEN, 2 GND"]
    assert said(said_so) == []
    (kept,) = [f.advice for f in said_so.findings if "AEN" in f.signals]
    assert kept.startswith("Carried out by R1: tie low to GND: Right only where")
    assert "Nothing is put in unasked" not in kept


def test_a_tie_that_waits_is_the_other_one_for_a_line_of_the_other_polarity() -> None:
    lines = [name for name in EVERYTHING if name != "AEN"]
    made = carried_out(ends(lines, [*lines, "AEN*"]), design())
    (unmapped,) = [u for u in made.unmapped if u.signal == "AEN*"]
    assert str(unmapped.remedy).startswith("tie high to +5V: Right only")
    assert str(unmapped.remedy).endswith(
        "Nothing is put in unasked: where that is so, write under remedies AEN*: {kind: tie high, to: +5V}"
    )
    asked = carried_out(ends(lines, [*lines, "AEN*"]), design(choose("AEN", "tie high")))
    assert drawn(asked) == ["R1 0 Ω | tie high of AEN* | 1 AEN*, 2 +5V"]
    assert said(asked, "remedy-active") == []
    assert [(grade, message[:52]) for grade, message, *_ in said(asked)] == [
        ("caution", "AEN* must be tied only on a machine without DMA, and")
    ]


def test_a_tie_is_cautioned_of_where_the_machine_brings_dma() -> None:
    chosen = carried_out(without("AEN"), design(choose("AEN", "tie low")))
    assert drawn(chosen) == ["R1 0 Ω | tie low of AEN | 1 AEN, 2 GND"]
    assert said(chosen) == [
        (
            "caution",
            "AEN must be tied only on a machine without DMA, and the map brings DRQ1, DRQ2, DRQ3, DACK1*, DACK2*, "
            "DACK3*, DACK0* and TC: the card would answer in the middle of DMA cycles, against what then drives the "
            "data lines",
            "Find the line in the machine, or make sure that it does no DMA, its refresh included",
            RISER,
        )
    ]


@pytest.mark.parametrize(
    ("line", "card", "kind", "word"),
    [
        ("AEN", "AEN", "tie low", "tied"),
        ("AEN", "AEN", "pull down", "held low"),
        ("AEN", "AEN*", "tie high", "tied"),
        ("AEN", "AEN*", "pull up", "held high"),
    ],
)
def test_a_level_that_is_right_only_without_dma_is_cautioned_of_whatever_holds_it(
    line: str, card: str, kind: str, word: str
) -> None:
    lines = lines_of(BUS8, line)
    made = carried_out(ends(lines, [*lines, card]), design(choose(line, kind)))
    assert len(made.parts) == 1
    assert said(made) == [
        (
            "caution",
            f"{card} must be {word} only on a machine without DMA, and the map brings DRQ1, DRQ2, DRQ3, DACK1*, "
            "DACK2*, DACK3*, DACK0* and TC: the card would answer in the middle of DMA cycles, against what then "
            "drives the data lines",
            "Find the line in the machine, or make sure that it does no DMA, its refresh included",
            RISER,
        )
    ]
    dma = [name for name, signal in BUS8.signals.items() if signal.group == "DMA"]
    quiet = lines_of(BUS8, line, *dma)
    assert said(carried_out(ends(quiet, [*quiet, card]), design(choose(line, kind)))) == []


@pytest.mark.parametrize(
    ("cards", "who"),
    [
        ((CardUse("a", "DMA", place=RISER),), "'a' (line 7) needs"),
        ((CardUse("a", "memory refreshed by the bus"),), "'a' needs"),
        ((CardUse("a", needs=("DRQ1",)), CardUse("b", "ROM"), CardUse("c", needs=("DACK1*",))), "'a' and 'c' need"),
    ],
)
@pytest.mark.parametrize(("kind", "word"), [("tie low", "tied"), ("pull down", "held low")])
def test_a_level_that_is_right_only_without_dma_is_refused_where_a_card_of_the_design_does_it(
    cards: tuple[CardUse, ...], who: str, kind: str, word: str
) -> None:
    made = carried_out(without("AEN"), design(choose("AEN", kind), cards=cards))
    assert made.parts == ()
    assert said(made) == [
        (
            "danger",
            f"AEN must be {word} only on a machine without DMA, and the map brings DRQ1, DRQ2, DRQ3, DACK1*, DACK2*, "
            "DACK3*, DACK0* and TC: the card would answer in the middle of DMA cycles, against what then drives the "
            f"data lines; {who} DMA",
            "Find the line in the machine; nothing was put in for it",
            RISER,
        )
    ]


@pytest.mark.parametrize("card", [CardUse("a", "programmed I/O"), CardUse("a", needs=("IRQ4",))])
def test_a_card_without_dma_leaves_the_caution(card: CardUse) -> None:
    made = carried_out(without("AEN"), design(choose("AEN", "tie low"), cards=(card,)))
    assert ([grade for grade, *_ in said(made)], len(made.parts)) == (["caution"], 1)
    dma = [name for name, signal in BUS8.signals.items() if signal.group == "DMA"]
    quiet = carried_out(without("AEN", *dma), design(choose("AEN", "tie low"), cards=(CardUse("a", "DMA"),)))
    assert said(quiet) == []


def test_a_kind_that_needs_one_of_several_channels_does_dma() -> None:
    bus = replace(BUS8, kinds=(CardKind("disk", "", ("AEN",), one_of=(("IRQ5",), ("DRQ1", "DACK1*"))),))
    lines = lines_of(BUS8, "AEN")
    made = carried_out(
        ends(lines, [*lines, "AEN"], bus=bus), design(choose("AEN", "tie low"), cards=(CardUse("a", "disk"),))
    )
    assert ([grade for grade, *_ in said(made)], made.parts) == (["danger"], ())


@pytest.mark.parametrize(
    ("card", "kind", "instead"),
    [
        ("REFRESH*", "tie high", "pull up"),
        ("REFRESH*", "tie low", "pull up"),
        ("REFRESH", "tie low", "pull down"),
    ],
)
def test_an_open_collector_is_never_tied(card: str, kind: str, instead: str) -> None:
    lines = lines_of(BUS16, "REFRESH*")
    made = carried_out(ends(lines, [*lines, card], bus=BUS16), design(choose("REFRESH*", kind)))
    assert said(made, "remedy-fights", "remedy-active") == [
        (
            "danger",
            f"a remedy must not drive a line that something else drives: {kind} on {card}, which is open collector, so "
            "that a card may drive it too",
            f"Take {instead}; nothing was put in for it",
            RISER,
        )
    ]
    assert made.parts == ()
    taken = carried_out(ends(lines, [*lines, card], bus=BUS16), design(choose("REFRESH*", instead)))
    assert (said(taken, "remedy-fights", "remedy-active"), len(taken.parts)) == ([], 1)


def test_a_line_that_the_card_has_with_the_other_polarity_is_held_at_the_other_level() -> None:
    lines = [name for name in EVERYTHING if name not in ("TC", "MEMW*")]
    made = carried_out(ends(lines, [*lines, "TC*", "MEMW"]), design())
    assert drawn(made) == [
        "R1 560 Ω | pull down of MEMW | 1 MEMW, 2 GND",
        "R2 10 kΩ | pull up of TC* | 1 TC*, 2 +5V",
    ]


@pytest.mark.parametrize(
    ("line", "card", "remedy"),
    [
        (
            "DACK3*",
            "DACK3",
            "pull down 560 Ω to GND: The card has the line with the opposite polarity, so it is held low where the bus "
            "would have it high.",
        ),
        (
            "TC",
            "TC*",
            "pull up 10 kΩ to +5V: The card has the line with the opposite polarity, so it is held high where the bus "
            "would have it low.",
        ),
        (
            "RESET",
            "RESET*",
            "reset circuit to RESET: A supply supervisor with an active-low output resets the card at power-on; the "
            "card still misses a reset that the machine makes later.",
        ),
        (
            "IRQ4",
            "IRQ4*",
            "leave open: The card has it with the opposite polarity, so no jumper leads it; set the card to another "
            "line that the slot brings, and tell the software.",
        ),
        (
            "AEN",
            "AEN*",
            "tie high to +5V: Right only where the machine does no DMA at all, the DMA that refreshes memory included, "
            "which only its owner can say; otherwise the card disturbs every DMA cycle and the line must be found in "
            "the machine.",
        ),
        ("OSC", "OSC*", None),
    ],
)
def test_what_the_plan_advises_is_turned_for_a_line_that_the_card_has_inverted(
    line: str, card: str, remedy: str | None
) -> None:
    lines = lines_of(BUS8, line)
    planned = ends(lines, [*lines, card])
    (miss,) = [u for u in planned.unmapped if u.signal == card]
    absent = BUS8.signals[line].absent
    assert absent
    remedy = remedy or str(absent.remedy)
    assert str(miss.remedy) == remedy
    (absence,) = [f for f in planned.findings if f.code == "signal-absent" and card in f.signals]
    assert absence.advice == remedy[:1].upper() + remedy[1:]
    # Those that go in do so with that text.
    made = carried_out(planned, design())
    if miss.remedy.kind.startswith(("pull", "reset")):
        (done,) = [u for u in made.unmapped if u.signal == card]
        assert (str(done.remedy), bool(done.parts)) == (remedy, True)


@pytest.mark.parametrize(("loads", "more"), [(2, ""), (4, " Here are 4 inputs, which want 270 Ω.")])
def test_a_choice_for_an_inverted_line_takes_what_it_leaves_out_from_the_turned_remedy(loads: int, more: str) -> None:
    lines = lines_of(BUS8, "DACK3*")
    cards = (CardUse("a", loads=loads),)
    made = carried_out(ends(lines, [*lines, "DACK3"]), design(choose("DACK3*", "pull down"), cards=cards))
    (done,) = [u for u in made.unmapped if u.signal == "DACK3"]
    value = "270 Ω" if more else "560 Ω"
    assert str(done.remedy) == (
        f"pull down {value} to GND: The card has the line with the opposite polarity, so it is held low where the bus "
        f"would have it high.{more}"
    )


def test_a_choice_goes_before_the_dictionary_and_takes_from_it_what_it_leaves_out() -> None:
    made = carried_out(
        without("DACK1*", "DACK2*", "DACK3*", "TC", "-5V", "BALE"),
        design(
            choose("BALE", "pull up"),
            choose("DACK1*", "pull up"),
            choose("DACK2*", "pull up", "4.7 kΩ", "+5V"),
            choose("DACK3*", "tie high"),
            choose("TC", "leave open"),
            choose("-5V", "separate feed"),
        ),
    )
    assert drawn(made) == [
        "R1 4.7 kΩ | pull up of BALE | 1 BALE, 2 +5V",
        "R2 10 kΩ | pull up of DACK1* | 1 DACK1*, 2 +5V",
        "R3 4.7 kΩ | pull up of DACK2* | 1 DACK2*, 2 +5V",
        "R4 0 Ω | tie high of DACK3* | 1 DACK3*, 2 +5V",
        "X1 2 poles, −5 V | feed of -5V | 1 -5V, 2 GND",
    ]
    assert {u.signal: (str(u.remedy)[:24], u.parts) for u in made.unmapped} == {
        "-5V": ("separate feed: chosen in", ("X1",)),
        "BALE": ("pull up 4.7 kΩ to +5V: H", ("R1",)),
        "DACK1*": ("pull up 10 kΩ to +5V: He", ("R2",)),
        "DACK2*": ("pull up 4.7 kΩ to +5V: H", ("R3",)),
        "DACK3*": ("tie high: chosen in the ", ("R4",)),
        "TC": ("leave open: left open on", ()),
    }


@pytest.mark.parametrize(
    "wrong",
    [
        (choose("IRQ3", "pull up"),),  # the slot brings it
        (choose("NOSUCH", "pull up"),),
        (choose("TC", "leave open"), choose("TC", "pull down")),
        (choose("TC", "oscillator"),),  # no clock
        (choose("TC", "reset circuit"),),
        (choose("TC", "inverter"),),
        (choose("TC", "regulator"),),
        (choose("TC", "separate feed"),),
        (choose("TC", "jumper"),),  # nobody says where to
        (choose("-5V", "pull up"),),
        (choose("-5V", "tie low"),),
    ],
)
def test_a_choice_that_does_not_fit_is_passed_over_and_nothing_stands_in_for_it(wrong: tuple[Choice, ...]) -> None:
    made = carried_out(without("TC", "-5V"), design(*wrong))
    about = {c.signal for c in wrong}
    assert drawn(made) == ([] if "TC" in about else ["R1 560 Ω | pull down of TC | 1 TC, 2 GND"])
    assert said(made) == []


# ---------------------------------------------------------------------- values


def test_the_value_of_a_pull_follows_from_the_loads_of_the_cards() -> None:
    def value(*loads: int | None) -> list[str]:
        cards = tuple(CardUse(f"card {n}", loads=load) for n, load in enumerate(loads))
        return [p.value for p in carried_out(without("TC", "DACK1*"), design(cards=cards)).parts]

    # 0.4 mA from each input, at most 0.5 V, 5 % more resistance: 1190 Ω, 595 Ω, 298 Ω, 149 Ω and the next lower.
    # The pull down of one input may have 1 kΩ; what the dictionary says (560 Ω) holds too, and stays.
    assert value() == ["10 kΩ", "560 Ω"]
    assert value(1) == ["10 kΩ", "560 Ω"]
    assert value(None, 2) == ["10 kΩ", "270 Ω"]
    assert value(4, 4) == ["10 kΩ", "120 Ω"]
    # 20 µA into each input, 2.4 V left of 4.75 V, 5 %: 100 inputs allow 1119 Ω.
    assert value(100)[0] == "1 kΩ"


@pytest.mark.parametrize(
    ("written", "value"), [("4k7", "4.7 kΩ"), ("2K2", "2.2 kΩ"), ("680R", None), ("1k0", "1 kΩ"), ("4.7 kΩ", "4.7 kΩ")]
)
def test_a_resistance_may_have_a_letter_for_the_point(written: str, value: str | None) -> None:
    made = carried_out(without("DACK1*"), design(choose("DACK1*", "pull up", written)))
    assert [p.value for p in made.parts] == ([value] if value else [])


def test_a_choice_without_a_value_follows_the_loads_as_the_dictionary_does() -> None:
    cards = (CardUse("one", loads=2), CardUse("other", loads=2))
    for choices in ((), (choose("TC", "pull down"),), (choose("TC", "pull down", to="GND"),)):
        made = carried_out(without("TC"), design(*choices, cards=cards))
        assert ([p.value for p in made.parts], said(made)) == (["270 Ω"], [])
        (advice,) = [f.advice for f in made.findings if "TC" in f.signals]
        assert advice == (
            "Carried out by R1: pull down 270 Ω to GND: Held low, the card never sees the end of a block; that is "
            "right where no DMA is used, and does not make DMA work. 560 Ω is for two inputs of LS logic, which push "
            "0.8 mA into it (from memory) and must stay below 0.8 V; more of them want less. Here are 4 inputs, which "
            "want 270 Ω."
        )
    # One that the designer wrote stays, or is refused.
    kept = carried_out(without("TC"), design(choose("TC", "pull down", "330 Ω"), cards=cards))
    assert [p.value for p in kept.parts] == ["330 Ω"]
    refused = carried_out(without("TC"), design(choose("TC", "pull down", "560 Ω"), cards=cards))
    assert ([f[0] for f in said(refused)], refused.parts) == (["fault"], ())


def test_a_part_says_why_it_has_its_value_and_where_the_figures_come_from() -> None:
    up, down = carried_out(without("TC", "DACK1*"), design()).parts
    assert down.why == (
        "an LS input gives out 0.4 mA; with 2 of them the line comes to 0.47 V at worst, and a low level ends at 0.8 "
        "V; "
        "nobody drives the line against it"
    )
    assert up.why == (
        "an LS input takes 20 µA; with 2 of them the line stays at 4.3 V at worst, and a high level begins at 2 V; "
        "nobody drives the line against it"
    )
    assert down.source == (
        "from memory; Makers' data sheets of the bus drivers 74LS244 and 74LS245; common practice, no source"
    )
    (interrupt,) = carried_out(without("IRQ7"), design(choose("IRQ7", "pull up", "2.2 kΩ"))).parts
    # (5.25 V - 0.5 V) / (2.2 kΩ - 5 %) = 2.27 mA
    assert interrupt.why == (
        "the card's output overcomes it: it is sure to sink 4 mA (PC/104 Specification, version 2.6, PC/104 Embedded "
        "Consortium, 13 October 2008) and must sink 2.27 mA"
    )


def test_every_shipped_pull_holds_two_loads_and_says_its_unit() -> None:
    known = facts()
    pulls = [
        (line, line.absent.remedy)
        for bus in (BUS8, BUS16)
        for line in bus.signals.values()
        if line.absent and line.absent.remedy.kind in ("pull up", "pull down")
    ]
    assert len(pulls) > 40
    for line, remedy in pulls:
        pull = Pull(remedy.kind == "pull up", line, 2, known)
        ohms = msgspec.convert(remedy.value.split()[0], float, strict=False) * (1000 if "k" in remedy.value else 1)
        assert ohms <= pull.most, (line.name, remedy)
        assert ohms_text(ohms) == remedy.value


@pytest.mark.parametrize(
    ("ohms", "text"), [(0.5, "0.5 Ω"), (560, "560 Ω"), (1000, "1 kΩ"), (4700, "4.7 kΩ"), (2.2e6, "2.2 MΩ")]
)
def test_resistances_are_written_as_a_parts_list_does(ohms: float, text: str) -> None:
    assert ohms_text(ohms) == text


# ---------------------------------------------------------------------- what is refused


@pytest.mark.parametrize(
    ("absent", "choice", "expected"),
    [
        (
            "TC",
            choose("TC", "pull down", "10 kΩ"),
            (
                "fault",
                "a pull must hold its line at a valid level: 2 LS inputs put 0.8 mA into the pull down of TC, which "
                "with "
                "10 kΩ is 8 V above the return, and a low level ends at 0.8 V",
                "Take 560 Ω, the largest usual value that leaves what noise takes; nothing was put in for it",
            ),
        ),
        (
            "DACK1*",
            choose("DACK1*", "pull up", "100 kΩ"),
            (
                "fault",
                "a pull must hold its line at a valid level: 2 LS inputs take 40 µA through the pull up of DACK1*, "
                "which "
                "with 100 kΩ is 4 V below the supply, and a high level begins at 2 V",
                "Take 10 kΩ, the largest usual value that leaves what noise takes; nothing was put in for it",
            ),
        ),
        (
            "IRQ7",
            choose("IRQ7", "pull up", "1 kΩ"),
            (
                "fault",
                "a remedy must leave a line to what drives it: pull up 1 kΩ on IRQ7 makes the card's output sink 5 mA, "
                "and it is only sure to sink 4 mA (PC/104 Specification, version 2.6, PC/104 Embedded Consortium, "
                "13 October 2008)",
                "Take 10 kΩ, or leave the line open; nothing was put in for it",
            ),
        ),
        (
            "DRQ1",
            choose("DRQ1", "pull down", "47 Ω"),
            (
                "danger",
                "a remedy must leave a line to what drives it: pull down 47 Ω on DRQ1 makes the card's output give "
                "53.8 mA, and it is only sure to give 4 mA (PC/104 Specification, version 2.6, PC/104 Embedded "
                "Consortium, 13 October 2008)",
                "Take 10 kΩ, or leave the line open; nothing was put in for it",
            ),
        ),
        (
            "IRQ7",
            choose("IRQ7", "tie low"),
            (
                "danger",
                "a remedy must not drive a line that something else drives: tie low on IRQ7, which the card drives",
                "Leave the line open; nothing was put in for it",
            ),
        ),
        (
            "DRQ2",
            choose("DRQ2", "tie high"),
            (
                "danger",
                "a remedy must not drive a line that something else drives: tie high on DRQ2, which the card drives",
                "Leave the line open; nothing was put in for it",
            ),
        ),
        (
            "SD3",
            choose("SD3", "tie low"),
            (
                "danger",
                "a remedy must not drive a line that something else drives: tie low on SD3, which the card drives too",
                "Leave the line open; nothing was put in for it",
            ),
        ),
        (
            "BCLK",
            choose("BCLK", "oscillator", "4.77 MHz"),
            (
                "fault",
                "a remedy must not pretend to be a line that no part makes up: oscillator on BCLK. A clock of its own "
                "would not be in step with the cycles of the bus.",
                "Leave the line open; nothing was put in for it",
            ),
        ),
        (
            "-5V",
            choose("-5V", "regulator", to="+12V"),
            (
                "fault",
                "a regulator is known here for −5 V from a rail that stays between −7 V and −30 V, not for -5V from "
                "+12V, +12 V ± 5 %",
                "A converter or a separate feed is needed for -5V; nothing was put in for it",
            ),
        ),
        (
            "-12V",
            choose("-12V", "regulator"),
            (
                "fault",
                "a regulator is known here for −5 V from a rail that stays between −7 V and −30 V, not for -12V from "
                "no rail named",
                "A converter or a separate feed is needed for -12V; nothing was put in for it",
            ),
        ),
    ],
)
def test_what_must_not_be_is_said_with_its_figures_and_not_put_in(
    absent: str, choice: Choice, expected: tuple[str, str, str]
) -> None:
    made = carried_out(without(absent), design(choice))
    assert said(made) == [(*expected, RISER)]
    assert made.parts == ()
    assert made.verdict == "do not build"


def test_the_neighbours_of_what_is_refused_are_put_in_quietly() -> None:
    chosen = (
        choose("TC", "pull down", "680 Ω"),  # 0.571 V at worst: less than is left for noise, but a low level
        choose("DACK1*", "pull up", "47 kΩ"),
        choose("IRQ7", "pull up", "2.2 kΩ"),
        choose("DRQ1", "pull down", "5.6 kΩ"),
        choose("IOCHRDY", "pull up", "1 kΩ"),
        choose("RESERVED", "pull down", "100 Ω"),  # an open collector does not pull against it
    )
    made = carried_out(without(*(c.signal for c in chosen)), design(*chosen))
    assert said(made) == []
    assert said(made, "remedy-active") == []
    assert [p.value for p in made.parts] == ["1 kΩ", "100 Ω", "2.2 kΩ", "5.6 kΩ", "47 kΩ", "680 Ω"]


def test_a_published_sink_current_is_what_a_driver_is_sure_of() -> None:
    # [PC104] C.4: 330 Ω at the lines that sink 20 mA; a third of it would ask 45 mA.
    fine = carried_out(without("SRDY*", bus=BUS16), design(choose("SRDY*", "pull up", "330 Ω")))
    assert (said(fine), [p.value for p in fine.parts]) == ([], ["330 Ω"])
    much = carried_out(without("SRDY*", bus=BUS16), design(choose("SRDY*", "pull up", "110 Ω")))
    assert [(grade, message[:98]) for grade, message, *_ in said(much)] == [
        ("danger", "a remedy must leave a line to what drives it: pull up 110 Ω on SRDY* makes the card's output sink ")
    ]


COMMANDED = "a card sees the command whenever its address comes by, and drives the data lines or is written to"
GRANTED = "a card sees its request granted without end, and drives the data lines at every IOR*"
REFRESHED = "a card sees a refresh without end, and works its memory in the middle of other cycles"
NO_DMA = (
    "right only where the machine does no DMA at all, the DMA that refreshes memory included, which only its owner can "
    "say; otherwise the card disturbs every DMA cycle and the line must be found in the machine"
)


@pytest.mark.parametrize(
    ("bus", "line", "kind", "grade", "acts", "instead"),
    [
        (BUS8, "MEMR*", "tie low", "danger", f"low: {COMMANDED}", "pull up"),
        (BUS8, "MEMW*", "pull down", "danger", f"low: {COMMANDED}", "pull up"),
        (BUS8, "IOR*", "tie low", "danger", f"low: {COMMANDED}", "pull up"),  # for which nothing is advised
        (BUS8, "DACK3*", "tie low", "danger", f"low: {GRANTED}", "pull up"),
        (BUS16, "DACK0*", "pull down", "danger", f"low: {GRANTED}", "pull up"),
        (BUS8, "DACK0*", "pull down", "danger", f"low: {REFRESHED}", "pull up"),  # here it is the refresh
        (BUS16, "REFRESH*", "pull down", "danger", f"low: {REFRESHED}", "pull up"),
        (
            BUS16,
            "MASTER*",
            "pull down",
            "danger",
            "low: whatever listens to it takes the bus for given away, and lets go of it or drives it",
            "pull up",
        ),
        (BUS8, "TC", "tie high", "fault", "high", "pull down"),
        (BUS8, "RESET", "tie high", "fault", "high", "reset circuit"),
        (BUS8, "RESET", "pull up", "fault", "high", "reset circuit"),
        (BUS8, "AEN", "pull up", "fault", "high", f"tie low ({NO_DMA})"),
        (BUS16, "SBHE*", "tie low", "fault", "low", "pull up"),
        (BUS8, "DRQ1", "pull up", "fault", "high", "pull down"),
        (BUS8, "IOCHRDY", "pull down", "", "", ""),  # ready is rest
        (BUS8, "BALE", "pull up", "", "", ""),  # the dictionary's own advice
        (BUS8, "BALE", "tie high", "", "", ""),
        (BUS8, "BALE", "pull down", "", "", ""),
        (BUS8, "IRQ3", "pull up", "", "", ""),  # its level when nobody drives it
        (BUS8, "SA19", "tie high", "", "", ""),  # no rest
        (BUS8, "OSC", "tie high", "", "", ""),  # a clock has none either
        (BUS8, "DACK3*", "tie high", "", "", ""),
        (BUS8, "RESET", "tie low", "", "", ""),
    ],
)
def test_a_remedy_holds_a_line_at_rest_not_where_it_acts(
    bus: Bus, line: str, kind: str, grade: str, acts: str, instead: str
) -> None:
    made = carried_out(without(line, bus=bus), design(choose(line, kind)))
    if not grade:
        assert said(made, "remedy-active") == []
        assert [p.kind for p in made.parts] == ["link" if kind.startswith("tie") else "resistor"]
        return
    assert said(made, "remedy-active", "remedy-fights") == [
        (
            grade,
            f"a remedy must hold a line at rest, not at the level at which it acts: {kind} on {line}, which acts when "
            f"{acts}",
            f"Take {instead}, or leave the line open; nothing was put in for it",
            RISER,
        )
    ]
    assert made.parts == ()
    assert made.verdict == "do not build"
    assert [f.contacts for f in made.findings if f.code == "remedy-active"] == [
        next(u.contacts for u in made.unmapped if u.signal == line)
    ]


def test_the_lines_of_one_choice_that_would_act_are_named_together() -> None:
    lines = ("DACK0*", "DACK1*", "DACK2*", "DACK3*")
    made = carried_out(without(*lines), design(*(choose(line, "tie low", to="GND") for line in lines)))
    assert [(message, advice) for _, message, advice, _ in said(made, "remedy-active")] == [
        (
            "a remedy must hold a line at rest, not at the level at which it acts: tie low on DACK0*, which acts when "
            f"low: {REFRESHED}",
            "Take pull up, or leave the line open; nothing was put in for it",
        ),
        (
            "a remedy must hold a line at rest, not at the level at which it acts: tie low on DACK1*–DACK3*, which act "
            f"when low: {GRANTED}",
            "Take pull up, or leave the lines open; nothing was put in for them",
        ),
    ]


def test_a_line_with_the_other_polarity_acts_at_the_other_level() -> None:
    lines = [name for name in EVERYTHING if name not in ("TC", "MEMW*")]
    adapter = ends(lines, [*lines, "TC*", "MEMW"])
    wrong = carried_out(adapter, design(choose("TC", "pull down"), choose("MEMW*", "tie high")))
    assert [
        (grade, message.partition(": ")[2], advice) for grade, message, advice, _ in said(wrong, "remedy-active")
    ] == [
        (
            "danger",
            f"tie high on MEMW, which acts when high: {COMMANDED}",
            "Take pull down, or leave the line open; nothing was put in for it",
        ),
        (
            "fault",
            "pull down on TC*, which acts when low",
            "Take pull up, or leave the line open; nothing was put in for it",
        ),
    ]
    assert wrong.parts == ()
    right = carried_out(adapter, design(choose("TC", "tie high"), choose("MEMW*", "tie low")))
    assert (said(right, "remedy-active"), len(right.parts)) == ([], 2)


@pytest.mark.parametrize("bus", [BUS8, BUS16], ids=["8", "16"])
def test_the_dictionaries_advise_no_level_against_their_own_rule(bus: Bus) -> None:
    """What a dictionary advises is exempt, so this is what keeps it right: only BALE is held where it acts."""
    held = {"pull up": "high", "tie high": "high", "pull down": "low", "tie low": "low"}
    acting = [
        line.name
        for line in bus.signals.values()
        if line.absent and line.active == held.get(line.absent.remedy.kind, "") and line.idle != line.active
    ]
    assert acting == ["BALE"]


@pytest.mark.parametrize("value", ["16 MHz", "32 kHz", "14.3 MHz", "14.7456 MHz", "28.63636 MHz"])
def test_an_oscillator_of_another_frequency_is_not_put_in(value: str) -> None:
    made = carried_out(without("OSC"), design(choose("OSC", "oscillator", value)))
    assert said(made) == [
        (
            "fault",
            "an oscillator must have its line's frequency: OSC is 14.31818 MHz (PC/104 Specification, version 2.6, "
            f"PC/104 Embedded Consortium, 13 October 2008), not {value}",
            "Take 14.31818 MHz; nothing was put in for it",
            RISER,
        )
    ]
    assert made.parts == ()


@pytest.mark.parametrize("value", ["", "14.31818 MHz", "14.318 MHz", "14.32 MHz", "14318.18 kHz"])
def test_an_oscillator_that_is_written_short_is_the_one_of_the_line(value: str) -> None:
    made = carried_out(without("OSC"), design(choose("OSC", "oscillator", value)))
    assert said(made) == []
    assert [p.value for p in made.parts if p.kind == "oscillator"] == ["14.31818 MHz"]
    assert [u.remedy.value for u in made.unmapped if u.signal == "OSC"] == ["14.31818 MHz"]


def test_a_tie_is_cautioned_of_where_a_card_may_take_the_bus() -> None:
    tied = design(choose("SA19", "tie low"))
    assert said(carried_out(without("SA19", "MASTER*", bus=BUS16), tied)) == []
    assert said(carried_out(without("SA19", bus=BUS16), tied)) == [
        (
            "caution",
            "a remedy must not drive a line that something else drives: tie low on SA19 gives no way to a card that "
            "takes "
            "the bus",
            "Take pull down where such a card may sit here",
            RISER,
        )
    ]


@pytest.mark.parametrize(
    ("host", "choices", "expected", "parts"),
    [
        (
            lines_of(BUS8, "+5V", "DACK1*", "DACK2*", "DACK3*", "OSC", "TC"),
            (),
            (
                "fault",
                "a part must have the rail that it is fed from: OSC, DACK1*–DACK3* need +5V, which the card does not "
                "get",
                "Find +5V in the machine, choose a separate feed for it, or leave the lines open; nothing was put in "
                "for "
                "them",
            ),
            ["R1 560 Ω | pull down of TC | 1 TC, 2 GND"],
        ),
        (
            lines_of(BUS8, "-5V", "-12V"),
            (choose("-5V", "regulator"),),
            (
                "fault",
                "a part must have the rail that it is fed from: -5V needs -12V, which the card does not get",
                "Find -12V in the machine, choose a separate feed for it, or leave the lines open; nothing was put in "
                "for "
                "them",
            ),
            [],
        ),
        (
            lines_of(BUS8, "GND", "TC"),
            (),
            (
                "fault",
                "a part must have the rail that it is fed from: TC needs GND, which the card does not get",
                "Find GND in the machine, choose a separate feed for it, or leave the lines open; nothing was put in "
                "for "
                "them",
            ),
            [],
        ),
    ],
)
def test_a_part_without_the_rail_that_feeds_it_is_not_put_in(
    host: list[str], choices: tuple[Choice, ...], expected: tuple[str, str, str], parts: list[str]
) -> None:
    made = carried_out(ends(host, lines_of(BUS8)), design(*choices))
    assert [finding[:3] for finding in said(made)] == [expected]
    assert drawn(made) == parts


TWO_RETURNS = replace(BUS8, signals={**BUS8.signals, "SGND": Signal("SGND", "return", "of the signals")})


@pytest.mark.parametrize("kind", ["pull down", "tie low"])
def test_a_low_level_goes_to_the_return_that_is_named(kind: str) -> None:
    def held(to: str) -> list[str]:
        return drawn(carried_out(without("TC", bus=TWO_RETURNS), design(choose("TC", kind, to=to))))

    value = {"pull down": "560 Ω", "tie low": "0 Ω"}[kind]
    assert held("") == held("GND") == [f"R1 {value} | {kind} of TC | 1 TC, 2 GND"]
    assert held("SGND") == [f"R1 {value} | {kind} of TC | 1 TC, 2 SGND"]


@pytest.mark.parametrize("kind", ["pull down", "tie low"])
def test_a_low_level_goes_to_no_other_return_than_the_one_named(kind: str) -> None:
    made = carried_out(without("TC", "SGND", bus=TWO_RETURNS), design(choose("TC", kind, to="SGND")))
    assert made.parts == ()
    assert said(made) == [
        (
            "fault",
            "a part must have the rail that it is fed from: TC needs SGND, which the card does not get",
            "Find SGND in the machine, choose a separate feed for it, or leave the lines open; nothing was put in for "
            "them",
            RISER,
        )
    ]


@pytest.mark.parametrize(
    ("kind", "to"),
    [
        ("pull down", "+5V"),
        ("tie low", "-12V"),
        ("tie low", "SD0"),
        ("pull up", "+12V"),
        ("tie high", "-5V"),
        ("tie high", "GND"),
        ("pull up", "NOSUCH"),
    ],
)
def test_a_hold_whose_other_end_is_none_is_passed_over(kind: str, to: str) -> None:
    line = "TC" if kind in ("pull down", "tie low") else "DACK3*"
    made = carried_out(without(line), design(choose(line, kind, to=to)))
    assert (made.parts, said(made)) == ((), [])
    assert len(carried_out(without(line), design(choose(line, kind))).parts) == 1


# ---------------------------------------------------------------------- supplies


def test_a_fuse_parts_the_machines_side_of_a_rail_from_the_cards() -> None:
    made = carried_out(
        ends(["GND", "+5V", "+5V"], ["+5V", "GND", "TC", "DACK1*", "+5V"]), design(fuses=(Fuse("+5V", 0.5),))
    )
    rails = {n.name: (n.state, [c.label for c in n.host], [c.label for c in n.card], n.parts) for n in made.nets}
    assert rails["+5V"] == ("joined", ["2", "3"], [], (("F1", "1"),))
    assert rails["+5V fused"] == ("joined", [], ["1", "5"], (("F1", "2"), ("R1", "2")))
    (fuse,) = [p for p in made.parts if p.kind == "fuse"]
    assert (fuse.value, fuse.feeds, fuse.fed_by, fuse.pins) == (
        "500 mA fuse, melting, 32 V",
        "+5V",
        "+5V",
        (("1", "machine"), ("2", "card")),
    )


def test_a_rail_with_two_fuses_gets_none() -> None:
    adapter = ends(["GND", "+5V"], ["GND", "+5V"])
    assert carried_out(adapter, design(fuses=(Fuse("+5V", 1.0), Fuse("+5V", 2.0)))).parts == ()


def test_a_regulator_can_be_fed_from_a_terminal_and_from_behind_a_fuse() -> None:
    lines = lines_of(BUS8, "-5V", "-12V")
    fed = carried_out(ends(lines, lines_of(BUS8)), design(choose("-5V", "regulator"), choose("-12V", "separate feed")))
    assert drawn(fed)[-2:] == [
        "U1 79L05 (−5 V) | regulator of -5V | 1 GND, 2 -12V, 3 -5V",
        "X1 2 poles, −12 V | feed of -12V | 1 -12V, 2 GND",
    ]
    assert {n.name: (n.state, n.remark) for n in fed.nets if n.name in ("-5V", "-12V")} == {
        "-5V": ("joined", "made from -12V by U1"),
        "-12V": ("joined", "fed from outside at X1"),
    }
    fused = carried_out(without("-5V"), design(choose("-5V", "regulator"), fuses=(Fuse("-12V", 0.1),)))
    assert "U1 79L05 (−5 V) | regulator of -5V | 1 GND, 2 -12V fused, 3 -5V" in drawn(fused)


def test_a_rail_that_the_card_has_no_contact_for_feeds_a_regulator_all_the_same() -> None:
    card = lines_of(BUS8, "-12V")
    made = carried_out(ends([*lines_of(BUS8, "-5V"), "-12V"], card), design(choose("-5V", "regulator")))
    (rail,) = [n for n in made.nets if n.signal == "-12V"]
    assert (rail.name, rail.state, len(rail.host), rail.parts) == ("-12V", "joined", 2, (("C1", "1"), ("U1", "2")))
    assert [(u.signal, u.effect, u.parts) for u in made.unmapped if u.end == "host"] == [
        ("-12V", "U1 makes -5V from it.", ("U1",))
    ]


def test_a_regulator_says_what_it_gives_and_draws() -> None:
    made = carried_out(without("-5V"), design(choose("-5V", "regulator")))
    (part,) = [p for p in made.parts if p.kind == "regulator"]
    # (0.6 W - 12.6 V x 6 mA) / (12.6 V - 5 V) = 0.5244 W / 7.6 V = 69 mA, less than the 100 mA that it is rated.
    assert part.why == (
        "gives at most 69 mA: it is rated 100 mA, and with 12.6 V at its input, 5 % more than 12 V, and the 6 mA that "
        "it takes itself, it gets as hot as its case allows (0.6 W in free air of no more than 25 °C) at 69 mA"
    )
    assert (part.feeds, part.fed_by, part.draws_a) == ("-5V", "-12V", {"-12V": 0.006})
    assert part.fit == (
        "pinout of a negative regulator, GND input output, unlike a positive one; compare the pinout, which is from "
        "memory, with the data sheet of the part that you have"
    )


def _below(rail_v: float, percent: float | None) -> Adapter:
    """A slot without −5 V, and a rail of so many volts."""
    rail = Signal("-XV", "supply", volts=rail_v, tolerance_percent=percent)
    bus = replace(BUS8, signals={**BUS8.signals, "-XV": rail})
    return carried_out(without("-5V", bus=bus), design(choose("-5V", "regulator", to="-XV")))


@pytest.mark.parametrize(
    ("rail_v", "percent", "said_of_it"),
    [
        (-48.0, 5.0, ", −48 V ± 5 %"),
        (-48.0, None, ""),
        (-29.0, 5.0, ", −29 V ± 5 %"),  # −30.45 V
        (-7.0, 5.0, ", −7 V ± 5 %"),  # −6.65 V
        (-5.0, 5.0, ", −5 V ± 5 %"),
    ],
)
def test_a_regulator_gets_no_more_and_no_less_than_it_takes(
    rail_v: float, percent: float | None, said_of_it: str
) -> None:
    made = _below(rail_v, percent)
    assert made.parts == ()
    assert said(made) == [
        (
            "fault",
            "a regulator is known here for −5 V from a rail that stays between −7 V and −30 V, not for -5V from "
            f"-XV{said_of_it}",
            "A converter or a separate feed is needed for -5V; nothing was put in for it",
            RISER,
        )
    ]


@pytest.mark.parametrize(
    ("rail_v", "percent"), [(-24.0, 10.0), (-30.0, None), (-7.0, None), (-8.0, 10.0), (-28.5, 5.0)]
)
def test_a_regulator_takes_what_is_within_its_limits(rail_v: float, percent: float | None) -> None:
    made = _below(rail_v, percent)
    assert said(made) == []
    assert [p.kind for p in made.parts] == ["capacitor", "capacitor", "regulator"]


@pytest.mark.parametrize(
    ("percent", "why"),
    [
        # (0.6 W - 26.4 V x 6 mA) / (26.4 V - 5 V) = 0.4416 W / 21.4 V = 20.6 mA
        (
            10.0,
            "gives at most 20.6 mA: it is rated 100 mA, and with 26.4 V at its input, 10 % more than 24 V, and the 6 "
            "mA that it takes itself, it gets as hot as its case allows (0.6 W in free air of no more than 25 °C) at "
            "20.6 mA",
        ),
        # (0.6 W - 24 V x 6 mA) / (24 V - 5 V) = 0.456 W / 19 V = 24 mA
        (
            None,
            "gives at most 24 mA: it is rated 100 mA, and with 24 V at its input, and the 6 mA that it takes itself, "
            "it gets as hot as its case allows (0.6 W in free air of no more than 25 °C) at 24 mA",
        ),
    ],
)
def test_a_regulator_reckons_with_the_tolerance_of_its_own_feed(percent: float | None, why: str) -> None:
    made = _below(-24.0, percent)
    assert [p.why for p in made.parts if p.kind == "regulator"] == [why]
    # Its input capacitor sees the feed: 48 V want one for 50 V.
    assert [p.value for p in made.parts if p.kind == "capacitor"] == ["330 nF, 50 V", "100 nF, 25 V"]


TWICE = "at least twice the volts of its rail (rule of thumb)"


@pytest.mark.parametrize(
    ("rail_v", "fuse", "melting", "capacitor"),
    [
        (5.0, "16 V", "32 V", "25 V"),
        (12.0, "30 V", "32 V", "25 V"),
        (-24.0, "60 V", "63 V", "50 V"),
        (-60.0, "120 V", "125 V", "120 V"),
    ],
)
def test_fuses_and_capacitors_are_named_with_the_volts_to_order(
    rail_v: float, fuse: str, melting: str, capacitor: str
) -> None:
    known = facts()
    ends_of = ("machine's", "card's")
    made = [
        recipes.fuse(known, "X", Fuse("X", 1.0, True), rail_v, ends_of),
        recipes.fuse(known, "X", Fuse("X", 0.5), rail_v, ends_of),
        recipes.capacitor(known, "decoupling of X", "decoupling capacitor", "X", "GND", rail_v=rail_v),
        recipes.bulk(known, "X", rail_v, "X", "GND"),
    ]
    assert [d.value for d in made] == [
        f"1 A fuse, resettable, {fuse}",
        f"500 mA fuse, melting, {melting}",
        f"100 nF, {capacitor}",
        f"10 µF, {capacitor}",
    ]
    lowest = "the lowest usual figure (from memory) that is"
    assert [d.why for d in made] == [
        f"carries 1 A for good and parts the card from X when something is wrong; rated for {fuse}, {lowest} {TWICE}",
        f"carries 500 mA for good and parts the card from X when something is wrong; rated for {melting}, {lowest} "
        f"{TWICE}",
        f"ceramic, rated for {capacitor}, {lowest} {TWICE}",
        f"electrolytic, rated for {capacitor}, {lowest} {TWICE}; for the rails that carry most",
    ]
    assert {d.source for d in made} == {"common practice, no source"}


def test_at_a_rail_of_unknown_volts_no_rating_is_made_up() -> None:
    made = recipes.capacitor(facts(), "decoupling of X", "decoupling capacitor", "X", "GND", rail_v=0.0)
    assert (made.value, made.why) == ("100 nF", f"ceramic, to be rated for {TWICE}")


def test_the_plus_of_an_electrolytic_goes_to_what_is_more_positive() -> None:
    known = facts()
    above, below = (recipes.bulk(known, name, v, name, "GND") for name, v in (("+5V", 5.0), ("-12V", -12.0)))
    assert above.pins == (("1", "plus, rail", "+5V"), ("2", "minus, return", "GND"))
    assert below.pins == (("1", "plus, return", "GND"), ("2", "minus, rail", "-12V"))
    assert below.fit == "the plus is pad 1, at the return: the wrong way round it bursts"


# ---------------------------------------------------------------------- gates and resets


def test_an_inverter_stands_between_the_two_polarities_and_the_fault_becomes_a_note() -> None:
    made = carried_out(ends(["GND", "+5V", "RESET*"], ["GND", "+5V", "RESET"]), design())
    gates = [(n.name, n.state, n.parts, n.remark) for n in made.nets if n.group == "control"]
    assert gates == [
        ("RESET", "active", (("U1", "2"),), "from the inverter U1"),
        ("RESET*", "active", (("U1", "1"),), "to the inverter U1"),
    ]
    assert [(f.grade, f.message) for f in made.findings if "RESET" in f.signals] == [
        ("note", "RESET: it is there with the opposite polarity; U1 (inverter, 74LS04) makes it up")
    ]
    assert {u.end: u.parts for u in made.unmapped if "RESET" in u.signal} == {"card": ("U1", "C1"), "host": ("U1",)}


def test_more_than_six_lines_take_a_second_package_and_unused_inputs_are_tied() -> None:
    names = [f"SA{n}" for n in range(7)]
    made = carried_out(ends(["GND", "+5V", *(f"{n}*" for n in names)], ["GND", "+5V", *names]), design())
    first, second = (p for p in made.parts if p.kind == "inverter")
    assert [first.purpose, second.purpose] == [
        "inverter of lines from the machine",
        "inverter of lines from the machine (2)",
    ]
    assert len(first.pins) == 14
    tied = {pin for net in made.nets if net.group == "return" for pin in net.parts}
    assert {pad for ref, pad in tied if ref == second.ref} == {"3", "5", "7", "9", "11", "13"}


@pytest.mark.parametrize(
    ("host", "card", "level", "rail", "value", "why"),
    [
        # 0.4 mA out of the gate's input, at most 0.5 V, 5 % more resistance: 1190 Ω and the next lower.
        (
            "DRQ1*",
            "DRQ1",
            "pull down",
            "GND",
            "1 kΩ",
            f"{AFLOAT}; an LS input gives out 0.4 mA; with it the line comes to 0.42 V at worst, and a low level ends "
            f"at 0.8 V; the card's output overcomes it: it is sure to give 4 mA ({PC104}) and must give 2.53 mA",
        ),
        (
            "IRQ3*",
            "IRQ3",
            "pull up",
            "+5V",
            "2.2 kΩ",
            f"{AFLOAT}; 2.2 kΩ as the bus has it ({PC104}); an LS input takes 20 µA; with it the line stays at 4.7 V "
            "at worst, and a high level begins at 2 V; the card's output overcomes it: it is sure to sink 4 mA "
            f"({PC104}) and must sink 2.27 mA",
        ),
        (
            "DRQ1",
            "DRQ1*",
            "pull up",
            "+5V",
            "10 kΩ",
            f"{AFLOAT}; an LS input takes 20 µA; with it the line stays at 4.5 V at worst, and a high level begins at "
            f"2 V; the card's output overcomes it: it is sure to sink 4 mA ({PC104}) and must sink 0.5 mA",
        ),
        (
            "IRQ3",
            "IRQ3*",
            "pull down",
            "GND",
            "1 kΩ",
            f"{AFLOAT}; an LS input gives out 0.4 mA; with it the line comes to 0.42 V at worst, and a low level ends "
            f"at 0.8 V; the card's output overcomes it: it is sure to give 4 mA ({PC104}) and must give 2.53 mA",
        ),
    ],
)
def test_a_gates_input_is_held_at_the_rest_of_the_line_while_no_card_drives_it(
    host: str, card: str, level: str, rail: str, value: str, why: str
) -> None:
    made = carried_out(ends(["GND", "+5V", host], ["GND", "+5V", card]), design())
    assert drawn(made) == [
        "C1 100 nF, 25 V | decoupling of the inverter of lines from the card | 1 +5V, 2 GND",
        f"R1 {value} | {level} of {card} | 1 {card}, 2 {rail}",
        f"U1 74LS04 | inverter of lines from the card | 1 {card}, 2 {host}, 3 GND, 5 GND, 7 GND, 9 GND, 11 GND, "
        "13 GND, 14 +5V",
    ]
    assert made.parts[1].why == why
    assert {u.end: u.parts for u in made.unmapped if u.signal in (host, card)} == {
        "card": ("U1", "C1", "R1"),
        "host": ("U1",),
    }
    assert said(made) == []


def test_a_gates_input_that_the_machine_drives_is_not_held() -> None:
    made = carried_out(ends(["GND", "+5V", "RESET*"], ["GND", "+5V", "RESET"]), design())
    assert [p.kind for p in made.parts] == ["capacitor", "inverter"]


@pytest.mark.parametrize(
    ("idle", "active", "card", "level"),
    [
        ("low", "low", "DRQ1", "low"),
        ("high", "high", "DRQ1", "high"),
        ("undefined", "low", "DRQ1", "high"),
        ("", "high", "DRQ1", "low"),
        ("none", "none", "DRQ1", "low"),
        ("low", "high", "DRQ1*", "high"),
        ("high", "high", "DRQ1*", "low"),
        ("undefined", "high", "DRQ1*", "high"),
    ],
)
def test_a_line_rests_where_it_does_not_act_unless_its_bus_says_more(
    idle: str, active: Any, card: str, level: str
) -> None:
    line = absent_lines(ends(["GND"], ["GND", card]))["DRQ1"]
    assert rest_of(replace(line, signal=replace(line.signal, idle=idle, active=active))) == level


@pytest.mark.parametrize("turned", [("IOCHRDY*", "IOCHRDY"), ("IOCHK", "IOCHK*"), ("IOCHRDY", "IOCHRDY*")])
def test_no_gate_is_put_into_a_line_that_others_pull_low_too(turned: tuple[str, str]) -> None:
    host, card = turned
    made = carried_out(ends(["GND", "+5V", host], ["GND", "+5V", card]), design())
    assert made.parts == ()
    assert said(made, "needs-inverter") == [
        (
            "fault",
            f"{host} of the host (3) must not be wired to {card} of the card (3): their polarity is opposite",
            "An inverter is needed, its input at the card's 3, its output at the host's 3; others drive this line too, "
            "so that output must never hold it against them; no gate is put in: the line is open collector, so while "
            "the card lets go of it the gate's output would be low, and hold down whatever else drives the machine's "
            "line; needed are a machine in which nothing else drives that line, and a pull-up at its side, which no "
            "map tells",
            said(made, "needs-inverter")[0][3],
        )
    ]


def test_no_gate_is_put_into_a_line_of_the_machine_that_a_card_may_pull_low() -> None:
    made = carried_out(ends(["GND", "+5V", "REFRESH"], ["GND", "+5V", "REFRESH*"], bus=BUS16), design())
    assert made.parts == ()
    assert [(grade, advice) for grade, _, advice, _ in said(made, "needs-inverter")] == [
        (
            "fault",
            "An inverter is needed, its input at the host's 3, its output at the card's 3; no gate is put in: the line "
            "is open collector, and a gate would hold it against a card that pulls it low",
        )
    ]


@pytest.mark.parametrize(
    ("line", "slots", "advice"),
    [
        (
            "SD0",
            0,
            "An inverter is needed, in both directions, which a plain gate cannot do; a transceiver that inverts, led "
            "by "
            "the command lines, would be needed, and none is put in",
        ),
        (
            "IRQ3",
            1,
            "An inverter is needed, its input at the card's 3, its output at the host's 3; no gate is put in, for it "
            "would "
            "hold the line against the other slots",
        ),
    ],
)
def test_where_no_plain_gate_is_honest_the_fault_stays(line: str, slots: int, advice: str) -> None:
    made = carried_out(ends(["GND", "+5V", f"{line}*"], ["GND", "+5V", line]), design(other_slots=slots))
    assert made.parts == ()
    assert [(f.grade, f.advice) for f in made.findings if f.code == "needs-inverter"] == [("fault", advice)]


@pytest.mark.parametrize(("name", "value"), [("RESET", "class 810, 4.38 V"), ("RESET*", "class 809, 4.38 V")])
def test_an_absent_reset_is_made_at_the_card_with_its_polarity(name: str, value: str) -> None:
    made = carried_out(ends(lines_of(BUS8, "RESET"), [*lines_of(BUS8, "RESET"), name]), design())
    assert drawn(made) == [
        f"C1 100 nF, 25 V | decoupling of the reset circuit of {name} | 1 +5V, 2 GND",
        f"U1 {value} | reset circuit of {name} | 1 GND, 2 {name}, 3 +5V",
    ]
    assert made.parts[1].why == (
        "holds reset for 140 ms or more after +5V is up, far longer than cards need (from memory), and while +5V is "
        "below "
        "4.38 V; sinks 3.2 mA, where the inputs on the line ask 0.8 mA"
    )


def test_a_reset_circuit_can_stand_in_for_an_inverter() -> None:
    made = carried_out(
        ends(["GND", "+5V", "RESET*"], ["GND", "+5V", "RESET"]), design(choose("RESET", "reset circuit"))
    )
    assert [p.kind for p in made.parts] == ["capacitor", "supervisor"]
    assert [(n.name, n.state, n.remark) for n in made.nets if n.host and n.group == "control"] == [
        ("RESET*", "open", "not used: U1 makes RESET")
    ]
    assert [f.code for f in made.findings if "RESET" in f.signals] == ["remedy-carried-out"]


@pytest.mark.parametrize(
    ("kind", "state", "why", "code", "advice"),
    [
        ("reset circuit", "tied", "U1 makes RESET", "remedy-carried-out", None),
        (
            "tie low",
            "tied",
            "R1 ties RESET low",
            "signal-absent",
            "Carried out by R1: tie low: chosen in the adapter file",
        ),
        (
            "pull down",
            "tied",
            "R1 holds RESET low",
            "signal-absent",
            "Carried out by R1: pull down 560 Ω to GND: chosen in the adapter file",
        ),
        ("leave open", "open", "RESET is left open on purpose", "signal-absent", "Left open on purpose"),
    ],
)
def test_where_another_remedy_than_a_gate_is_chosen_no_inverter_is_proposed(
    kind: str, state: str, why: str, code: str, advice: str | None
) -> None:
    lines = lines_of(BUS8, "RESET")
    planned = ends([*lines, "RESET*"], [*lines, "RESET"])
    made = carried_out(planned, design(choose("RESET", kind)))
    (here,) = [u for u in made.unmapped if u.end == "host"]
    assert (here.signal, here.effect, str(here.remedy), here.parts) == (
        "RESET*",
        f"It must not be used, for {why} at the card.",
        "leave open: nothing may be joined to it",
        (),
    )
    nets = {n.name: (n.state, n.remark) for n in made.nets if n.signal in ("RESET", "RESET*")}
    assert nets["RESET*"] == ("open", f"not used: {why}")
    assert nets["RESET"][0] == state
    findings = [f for f in made.findings if "RESET" in f.signals]
    assert [f.code for f in findings] == [code]
    if advice:
        assert (findings[0].grade, findings[0].message, findings[0].advice) == (
            "caution",
            "RESET: it is there with the opposite polarity. The card starts in an undefined state after power-on and "
            "does not follow the machine's reset.",
            advice,
        )
    written = str((made.unmapped, made.nets, made.findings, made.parts, made.coverage.kinds))
    assert "inverter" not in written.replace("It is the card's", "")
    (io,) = [k for k in made.coverage.kinds if k.kind == "programmed I/O"]
    assert io.sentence() == (
        "works with parts: RESET (reset circuit)" if code == "remedy-carried-out" else "does not work: missing RESET"
    )


def test_what_the_check_of_a_map_says_of_a_line_left_alone_proposes_no_inverter() -> None:
    opposite = found(
        "polarity-opposite", "RESET must be active high", "If it is meant, an inverter is needed", signals=["RESET"]
    )
    lines = lines_of(BUS8, "RESET")
    planned = ends([*lines, "RESET*"], [*lines, "RESET"])
    planned = replace(planned, findings=(*planned.findings, opposite))

    def advice(*choices: Choice) -> str:
        made = carried_out(planned, design(*choices))
        return next(f.advice for f in made.findings if f.code == "polarity-opposite")

    assert advice() == "If it is meant, an inverter is needed"
    assert advice(choose("RESET", "inverter")) == "If it is meant, an inverter is needed"
    assert advice(choose("RESET", "reset circuit")) == (
        "The adapter file leaves the machine's line alone: nothing may be joined to it"
    )


# ---------------------------------------------------------------------- jumpers


def test_a_jumper_leads_a_line_to_lines_of_the_slot() -> None:
    card = ["GND", "+5V", "IRQ7", "IRQ3"]
    made = carried_out(
        ends(["GND", "+5V", "IRQ3", "IRQ5"], card), design(jumpers=(Jumper("IRQ7", ("IRQ5", "IRQ3"), RISER),))
    )
    (part,) = made.parts
    assert part.fit == "the jumper at 1-2 leads IRQ7 to IRQ5, as it is planned; others: 3-4 IRQ3"
    assert {n.name: (n.state, n.parts, n.remark) for n in made.nets if n.group == "interrupt"} == {
        "IRQ3": ("straight", (("JP1", "4"),), "JP1 can lead IRQ7 here too: not with a card that uses both"),
        "IRQ5": ("tied", (("JP1", "2"),), "JP1 can lead IRQ7 of the card here"),
        "IRQ7": ("tied", (("JP1", "1"), ("JP1", "3")), "the slot does not bring it: JP1 leads it to IRQ5 of the slot"),
    }
    assert said(made) == []  # as it is set it meets no line of the card's own
    assert [f.message for f in made.findings if f.code == "remedy-carried-out"] == [
        "IRQ7: the slot does not bring it; JP1 (jumper, 2×2 pins) leads it to IRQ5 of the slot"
    ]
    assert [(u.signal, u.effect) for u in made.unmapped if u.end == "host"] == [
        ("IRQ5", "JP1 leads IRQ7 of the card to it.")
    ]


def test_two_jumpers_that_can_lead_to_one_line_say_so_at_each() -> None:
    lines = ["GND", "+5V", "IRQ3", "IRQ5"]
    jumpers = (Jumper("IRQ4", ("IRQ3", "IRQ5"), RISER), Jumper("IRQ2", ("IRQ5", "IRQ3"), RISER))
    made = carried_out(ends(lines, ["GND", "+5V", "IRQ4", "IRQ2"]), design(jumpers=jumpers))
    assert {p.ref: p.fit for p in made.parts} == {
        "JP1": "the jumper at 1-2 leads IRQ2 to IRQ5, as it is planned; others: 3-4 IRQ3; not IRQ5 or IRQ3 while "
        "JP2 is set to it: that would join two outputs of the card",
        "JP2": "the jumper at 1-2 leads IRQ4 to IRQ3, as it is planned; others: 3-4 IRQ5; not IRQ3 or IRQ5 while "
        "JP1 is set to it: that would join two outputs of the card",
    }
    assert {n.name: n.remark for n in made.nets if n.group == "interrupt" and n.host} == dict.fromkeys(
        ("IRQ3", "IRQ5"), "JP1 can lead IRQ2 of the card here; JP2 can lead IRQ4 of the card here"
    )
    assert {u.signal: (u.effect, u.parts) for u in made.unmapped if u.end == "host"} == {
        "IRQ3": ("JP2 leads IRQ4 of the card to it.", ("JP2",)),
        "IRQ5": ("JP1 leads IRQ2 of the card to it.", ("JP1",)),
    }


def test_jumpers_name_only_the_lines_that_they_share() -> None:
    host = ["GND", "+5V", "IRQ3", "IRQ5", "IRQ6"]
    jumpers = (Jumper("IRQ7", ("IRQ6",)), Jumper("IRQ4", ("IRQ3", "IRQ6")), Jumper("IRQ2", ("IRQ5",)))
    made = carried_out(ends(host, ["GND", "+5V", "IRQ7", "IRQ4", "IRQ2"]), design(jumpers=jumpers))
    assert {p.serves[0]: p.fit.partition("planned")[2] for p in made.parts} == {
        "IRQ2": "",
        "IRQ4": "; others: 3-4 IRQ6; not IRQ6 while JP3 is set to it: that would join two outputs of the card",
        "IRQ7": "; not IRQ6 while JP2 is set to it: that would join two outputs of the card",
    }


def test_jumpers_of_acknowledges_would_join_inputs() -> None:
    both = (Jumper("DRQ3", ("DRQ1",)), Jumper("DACK3*", ("DACK1*", "DACK2*")))
    more = (Jumper("DRQ2", ("DRQ2",)), Jumper("DACK2*", ("DACK2*",)))
    host = lines_of(BUS8, "DRQ3", "DACK3*")
    made = carried_out(ends(host, lines_of(BUS8)), design(jumpers=both + more))
    assert [p.fit.partition("planned")[2] for p in made.parts if p.serves == ("DACK3*",)] == [
        "; others: 3-4 DACK2*; move both together, this one and JP1"
    ]
    lines = ["GND", "+5V", "DRQ0", "DRQ1", "DACK0*", "DACK1*"]
    four = (
        Jumper("DRQ3", ("DRQ0", "DRQ1")),
        Jumper("DACK3*", ("DACK0*", "DACK1*")),
        Jumper("DRQ2", ("DRQ1", "DRQ0")),
        Jumper("DACK2*", ("DACK1*", "DACK0*")),
    )
    card = ["GND", "+5V", "DRQ2", "DRQ3", "DACK2*", "DACK3*"]
    made = carried_out(ends(lines, card, bus=BUS16), design(jumpers=four))
    ends_so = {p.serves[0]: p.fit.rpartition(": ")[2] for p in made.parts}
    assert ends_so == {
        "DRQ2": "that would join two outputs of the card",
        "DRQ3": "that would join two outputs of the card",
        "DACK2*": "that would join two inputs of the card",
        "DACK3*": "that would join two inputs of the card",
    }


def test_a_jumper_set_to_a_line_that_the_card_has_too_is_cautioned_of() -> None:
    lines = ["GND", "+5V", "IRQ3"]
    made = carried_out(ends(lines, [*lines, "IRQ7"]), design(jumpers=(Jumper("IRQ7", ("IRQ3",), RISER),)))
    assert said(made) == [
        (
            "caution",
            "JP1 leads IRQ7 of the card to IRQ3 of the slot, which also has a wire to the card's own IRQ3 (3): a card "
            "must "
            "not drive both",
            "Set the card to IRQ7 alone, or leave out the wire to IRQ3 (3)",
            RISER,
        )
    ]


@pytest.mark.parametrize(
    "jumpers",
    [
        (Jumper("IRQ7", ("IRQ4",)),),  # the slot has none
        (Jumper("IRQ7", ("DRQ1",)),),  # of another group
        (Jumper("IRQ7", ()),),
        (Jumper("IRQ7", ("IRQ3", "IRQ3")),),
        (Jumper("IRQ3", ("IRQ5",)),),  # the slot brings it
        (Jumper("IRQ7", ("IRQ3",)), Jumper("IRQ7", ("IRQ5",))),
        (Jumper("IRQ7", ("IRQ6",)),),  # of the other polarity there
        (Jumper("IRQ2", ("IRQ3",)),),  # needs an inverter
    ],
)
def test_a_jumper_that_leads_nowhere_is_left_out(jumpers: tuple[Jumper, ...]) -> None:
    lines = ["GND", "+5V", "IRQ3", "IRQ5", "DRQ1"]
    adapter = ends([*lines, "IRQ6*", "IRQ2*"], [*lines, "IRQ7", "IRQ2"])
    assert [p.kind for p in carried_out(adapter, design(jumpers=jumpers, other_slots=1)).parts] == []


def test_no_two_jumpers_are_set_to_one_line_of_the_slot() -> None:
    lines = ["GND", "+5V", "IRQ3", "IRQ5"]
    jumpers = (Jumper("IRQ7", ("IRQ3",)), Jumper("IRQ6", ("IRQ3", "IRQ5")), Jumper("IRQ2", ("IRQ5", "IRQ3")))
    made = carried_out(ends(lines, [*lines, "IRQ7", "IRQ6", "IRQ2"]), design(jumpers=jumpers))
    assert [p.serves for p in made.parts] == [("IRQ2",), ("IRQ7",)]


@pytest.mark.parametrize(
    ("jumpers", "served"),
    [
        ((Jumper("DRQ3", ("DRQ1", "DRQ2")), Jumper("DACK3*", ("DACK1*", "DACK2*"))), [("DACK3*",), ("DRQ3",)]),
        ((Jumper("DRQ3", ("DRQ1",)), Jumper("DACK3*", ("DACK2*",))), []),
        ((Jumper("DRQ3", ("DRQ1",)),), []),
        ((Jumper("DACK3*", ("DACK1*",)),), []),
        ((Jumper("DRQ3", ("DRQ1",)), Jumper("DACK3*", ("IRQ3",))), []),  # the other leads nowhere
    ],
)
def test_the_two_lines_of_a_dma_channel_are_led_together_or_not_at_all(
    jumpers: tuple[Jumper, ...], served: list[tuple[str, ...]]
) -> None:
    made = carried_out(without("DRQ3", "DACK3*"), design(jumpers=jumpers))
    assert sorted(p.serves for p in made.parts if p.kind == "jumper") == served


def test_both_jumpers_of_a_dma_channel_say_that_they_move_together() -> None:
    jumpers = (Jumper("DRQ3", ("DRQ1", "DRQ2")), Jumper("DACK3*", ("DACK1*", "DACK2*")))
    made = carried_out(without("DRQ3", "DACK3*"), design(jumpers=jumpers))
    assert [p.fit for p in made.parts if p.kind == "jumper"] == [
        "the jumper at 1-2 leads DRQ3 to DRQ1, as it is planned; others: 3-4 DRQ2; move both together, this one "
        "and JP2",
        "the jumper at 1-2 leads DACK3* to DACK1*, as it is planned; others: 3-4 DACK2*; move both together, this one "
        "and JP1",
    ]
    one = (Jumper("DRQ3", ("DRQ1",)), Jumper("DACK3*", ("DACK1*",)))
    made = carried_out(without("DRQ3", "DACK3*"), design(jumpers=one))
    assert "move" not in "".join(p.fit for p in made.parts)


@pytest.mark.parametrize("lacking", ["DRQ3", "DACK3*"])
def test_a_dma_line_is_not_led_away_from_a_partner_with_a_wire(lacking: str) -> None:
    to = "DRQ1" if lacking == "DRQ3" else "DACK1*"
    made = carried_out(without(lacking), design(jumpers=(Jumper(lacking, (to,)),)))
    assert made.parts == ()


# ---------------------------------------------------------------------- what is said


def test_a_line_made_up_gets_a_note_and_one_merely_held_keeps_its_caution() -> None:
    made = carried_out(without("OSC", "DACK1*", "DACK2*", "DACK3*", "SA19"), design(choose("DACK2*", "leave open")))
    assert [(f.code, f.grade, f.message, f.advice) for f in made.findings] == [
        (
            "signal-absent",
            "caution",
            "DACK1*, DACK3*: the slot does not bring it. The card is never told that its request on this DMA channel "
            "was "
            "granted, so the channel can't be used.",
            "Carried out by R2 and R3: pull up 10 kΩ to +5V: Held high, the card never sees an acknowledge; left open, "
            "noise could make it answer in the middle of other cycles.",
        ),
        (
            "signal-absent",
            "caution",
            "DACK2*: the slot does not bring it. The card is never told that its request on this DMA channel was "
            "granted, "
            "so the channel can't be used.",
            "Left open on purpose",
        ),
        (
            "signal-absent",
            "caution",
            "SA19: the slot does not bring it. Memory and ROM cards can't tell their own addresses from others; "
            "input/output cards that decode ten lines are not touched.",
            "Carried out by R1: pull down 560 Ω to GND: Keeps the card's input at a defined level for input/output; "
            "memory on the card is lost all the same. 560 Ω is for two inputs of LS logic, which push 0.8 mA into it "
            "(from memory) and must stay below 0.8 V; more of them want less.",
        ),
        (
            "remedy-carried-out",
            "note",
            "OSC: the slot does not bring it; Y1 (oscillator, 14.31818 MHz) makes it up",
            "Pad 1, at the square corner of the can, stays open; compare the pinout, which is from memory, with the "
            "data "
            "sheet of the part that you have",
        ),
    ]


def test_a_purpose_does_not_change_with_numbers_or_values() -> None:
    adapter = without("OSC", "DACK1*", "DACK2*", "TC", "-5V")
    small = carried_out(adapter, design(choose("DACK1*", "leave open")))
    large = carried_out(
        adapter,
        design(
            choose("DACK2*", "pull up", "4.7 kΩ"),
            choose("-5V", "regulator"),
            fuses=(Fuse("+5V", 1.0),),
            decoupling=True,
        ),
    )
    purposes = {p.purpose: p.ref for p in large.parts}
    assert {p.purpose for p in small.parts} <= purposes.keys()
    assert [p.ref for p in small.parts if p.purpose == "pull up of DACK2*"] != [purposes["pull up of DACK2*"]]


def test_an_own_line_of_the_card_that_nobody_knows_is_not_driven() -> None:
    own = [Signal("GO", "own", "the maker's own")]
    host, card = (
        pin_map(in_a_row(["GND", "+5V"]), strip(2)),
        pin_map(in_a_row(["GND", "+5V", "GO"]), strip(3), end="card", own=own),
    )
    made = carried_out(plan(host, card), design(choose("GO", "tie high")))
    assert [message for _, message, *_ in said(made)] == [
        "a remedy must not drive a line that something else drives: tie high on GO, which nobody knows who drives"
    ]


# ---------------------------------------------------------------------- whatever is absent

KINDS = get_args(RemedyKind)
CARD = pin_map(in_a_row(EVERYTHING), strip(len(EVERYTHING)), end="card")


@st.composite
def designs(draw: st.DrawFn) -> tuple[PinMap, Design]:
    """A slot that lacks some lines and has others turned, and any choices, also wrong ones."""
    gone = draw(st.sets(st.sampled_from(EVERYTHING), max_size=25))
    turned = draw(st.sets(st.sampled_from([n for n in EVERYTHING if not BUS8.signals[n].is_power]), max_size=8))
    flipped = [f"{n}*" if not n.endswith("*") else n[:-1] for n in EVERYTHING]
    names = [
        other if name in turned else name for name, other in zip(EVERYTHING, flipped, strict=True) if name not in gone
    ]
    values = st.sampled_from(["", "1 Ω", "560 Ω", "10 kΩ", "1 MΩ"])
    lines = st.sampled_from(EVERYTHING)
    choices = draw(
        st.lists(
            st.builds(Choice, lines, st.sampled_from(KINDS), values, st.sampled_from(["", "+5V", "-12V"])), max_size=6
        )
    )
    interrupts = st.sampled_from([n for n, s in BUS8.signals.items() if s.group in ("interrupt", "DMA")])
    jumpers = draw(st.lists(st.builds(Jumper, interrupts, st.lists(interrupts, max_size=3).map(tuple)), max_size=4))
    fuses = draw(st.lists(st.builds(Fuse, st.sampled_from(["+5V", "-12V", "-5V", "GND"]), st.just(1.0)), max_size=3))
    made = Design(
        "t",
        "h",
        "c",
        "",
        "",
        choices=tuple(choices),
        jumpers=tuple(jumpers),
        fuses=tuple(fuses),
        other_slots=draw(st.integers(0, 1)),
        decoupling=draw(st.booleans()),
    )
    return pin_map(in_a_row(names), strip(max(len(names), 1))), made


#: The pins of each kind of part that put something on a net and give way to nobody.
OUTPUTS = {"oscillator": {"output"}, "regulator": {"output"}, "supervisor": {"RESET", "RESET*"}, "terminal": {"-5V"}}


@settings(derandomize=True, deadline=None, max_examples=250)
@given(designs())
def test_whatever_is_absent_and_chosen_the_plan_is_whole_and_nothing_fights(case: tuple[PinMap, Design]) -> None:
    host, chosen = case
    adapter = plan(host, CARD)
    made = carried_out(adapter, chosen)  # Adapter itself refuses a pin in two nets, and two rails in one
    assert msgspec.json.encode(made.parts) == msgspec.json.encode(carried_out(adapter, chosen).parts)
    assert made == carried_out(adapter, chosen)
    purposes = [p.purpose for p in made.parts]
    assert len(set(purposes)) == len(purposes)
    assert all(p.ref.startswith(REFERENCES[p.kind]) for p in made.parts)
    by_ref = {p.ref: p for p in made.parts}
    bus = BUS8.signals
    for net in made.nets:
        drivers, held = 0, []
        for ref, pad in net.parts:
            part, pin = by_ref[ref], dict(by_ref[ref].pins)[pad]
            drivers += part.kind in OUTPUTS and pin in ("output", "RESET", "RESET*")
            drivers += part.kind == "inverter" and pin.startswith("output")
            drivers += part.kind == "terminal" and pin != "return"
            drivers += part.kind == "fuse" and pin == "card"
            held += [part.kind] if pin == "line" else []
        signal = bus.get(net.signal or "")
        brought = bool(net.host) and signal is not None and (signal.driver != "card" or signal.group == "supply")
        if net.host and not net.card and net.state == "active":
            brought = signal is not None and signal.driver == "host"  # an inverter's output may drive the host's input
        assert drivers + brought <= 1, net
        assert len(held) <= 1, net
        assert not (held == ["link"] and (drivers or net.host)), net
        if signal and signal.driver in ("card", "either") and not signal.is_power and net.card:
            assert not drivers, net
            assert "link" not in held, net
    # What is made up is not called absent, and what has no part is not called carried out.
    made_up = {s for f in made.findings if f.code == "remedy-carried-out" for s in f.signals}
    absent = {s for f in made.findings if f.code == "signal-absent" for s in f.signals}
    assert not made_up & absent
    assert made_up <= {u.signal for u in made.unmapped if u.parts}
    assert {(c.label, e) for n in made.nets for e in ("host", "card") for c in getattr(n, e)} == {
        (c.label, e) for n in adapter.nets for e in ("host", "card") for c in getattr(n, e)
    }


def test_a_dictionary_of_somebody_elses_with_a_value_nobody_understands_gets_the_best_one() -> None:
    remedy = Remedy("pull down", "why", "some", "GND")
    odd = replace(BUS8.signals["TC"], absent=Absent("effect", remedy))
    bus = replace(BUS8, signals={**BUS8.signals, "TC": odd})
    assert [p.value for p in carried_out(without("TC", bus=bus), design()).parts] == ["560 Ω"]


@pytest.mark.parametrize("chosen", [False, True])
def test_the_time_grows_with_the_number_of_pulls_and_not_with_its_square(chosen: bool) -> None:
    def seconds(number: int) -> float:
        remedy = Remedy("pull up", "why", "10 kΩ", "+5V")
        lines = {
            name: Signal(name, "control", driver="host", active="high", idle="high", absent=Absent("effect", remedy))
            for name in (f"X{n}" for n in range(number))
        }
        bus = replace(BUS8, signals={**BUS8.signals, **lines})
        adapter = ends(["GND", "+5V"], ["GND", "+5V", *lines], bus=bus)
        wanted = design(*(choose(name, "pull up", "4.7 kΩ") for name in lines if chosen))
        taken = []
        for _ in range(3):
            begun = time.process_time()
            made = carried_out(adapter, wanted)
            taken.append(time.process_time() - begun)
            assert len(made.parts) == number
        return min(taken)

    # Eight times as many: eight times as long, and 64 times where each is held against all others.
    assert seconds(3200) < 24 * max(seconds(400), 0.002)
