"""Which kinds of card can work on a slot, and which line decides it."""

from __future__ import annotations

import pytest
from handmade import BUS8, BUS16, Line, in_a_row, lines_of, pin_map, shipped, strip
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pinmap.coverage import Coverage, cover, coverage
from pinmap.model import Bus, PinMap


def slot(*without: str, bus: Bus = BUS8, more: dict[str, str | Line] | None = None) -> PinMap:
    """A slot with every line of the bus but some, and more from contact 120 on."""
    lines: dict[str, str | Line] = in_a_row(lines_of(bus, *without))
    return pin_map(lines | (more or {}), strip(130), bus=bus)


def sentences(of: Coverage) -> dict[str, str]:
    return {k.kind: k.sentence() for k in of.kinds}


ALL_WORK = {kind.name: "works" for kind in BUS8.kinds}


def test_every_kind_of_card_works_where_every_line_is() -> None:
    assert sentences(coverage(slot())) == ALL_WORK
    assert set(sentences(coverage(slot(bus=BUS16))).values()) == {"works"}
    assert coverage(slot()).works() == tuple(ALL_WORK)


OAKMERE = {
    **ALL_WORK,
    "memory refreshed by the bus": "works; without IOCHK*, which some such cards use",
    "video on the oscillator line": "works with parts: OSC (oscillator 14.31818 MHz)",
}
BRINDLE = {
    "programmed I/O": "works with parts: AEN (tie low) and RESET (inverter)",
    "programmed I/O with interrupt": "works with parts: AEN (tie low) and RESET (inverter)",
    "DMA": "does not work: missing TC; and any one of DRQ1+DACK1*, DRQ2+DACK2* or DRQ3+DACK3*",
    "ROM": "does not work: missing SA16–SA19",
    "memory that needs no refresh": "does not work: missing SA16–SA19",
    "memory refreshed by the bus": "does not work: missing SA16–SA19 and DACK0*",
    "video on the oscillator line": "does not work: missing SA16–SA19",
    "serial lines with 12 V drivers": "works with parts: AEN (tie low), RESET (inverter) and -12V (separate feed "
    "-12 V)",
}
TARN = {
    "programmed I/O": "works",
    "programmed I/O with interrupt": "works",
    "DMA": "does not work: missing TC; and any one of DRQ0+DACK0*, DRQ1+DACK1*, DRQ2+DACK2* or DRQ3+DACK3*",
    "ROM": "works",
    "memory that needs no refresh": "works",
    "memory refreshed by the bus": "does not work: missing REFRESH*",
    "video on the oscillator line": "works with parts: OSC (oscillator 14.31818 MHz); without IRQ9, which some such "
    "cards use",
    "serial lines with 12 V drivers": "works",
    "16-bit I/O": "works; without SRDY*, which some such cards use",
    "16-bit memory": "does not work: missing LA17–LA23, MEMR*, MEMW* and MEMCS16*",
    "16-bit DMA": "does not work: missing TC; and any one of DRQ5+DACK5*, DRQ6+DACK6* or DRQ7+DACK7*",
    "bus master": "does not work: missing LA17–LA23, MEMR*, MEMW*, MEMCS16* and MASTER*; and any one of DRQ5+DACK5*, "
    "DRQ6+DACK6*, DRQ7+DACK7* or DRQ0+DACK0*",
}


@pytest.mark.parametrize(
    ("name", "fitted", "expected"),
    [
        ("oakmere-88", [], OAKMERE),
        ("oakmere-88", ["video board"], OAKMERE | {"video on the oscillator line": "works"}),
        ("brindle-portable", [], BRINDLE),
        ("tarn-rack", [], TARN),
        ("isa-8bit", [], ALL_WORK),
    ],
)
def test_the_answers_for_the_shipped_machines(name: str, fitted: list[str], expected: dict[str, str]) -> None:
    assert sentences(coverage(shipped(name), fitted)) == expected


@pytest.mark.parametrize("name", ["isa-16bit", "pc104-16bit"])
def test_every_kind_works_on_the_published_16_bit_connectors(name: str) -> None:
    assert set(sentences(coverage(shipped(name))).values()) == {"works"}


def test_an_8_bit_card_is_answered_with_the_lines_that_it_meets_on_a_16_bit_slot() -> None:
    answers = sentences(cover(shipped("isa-16bit"), BUS8))
    assert answers == ALL_WORK
    # On the rack, SMEMR* is the older MEMR*, and REFRESH* the older DACK0*.
    tarn = sentences(cover(shipped("tarn-rack"), BUS8))
    assert tarn["ROM"] == "works"
    assert tarn["memory refreshed by the bus"] == "does not work: missing DACK0*"


def test_a_16_bit_card_finds_no_16_bit_lines_on_an_8_bit_slot() -> None:
    answers = sentences(cover(shipped("isa-8bit"), BUS16))
    assert answers["ROM"] == "works"
    assert answers["memory refreshed by the bus"] == "works"
    assert answers["16-bit I/O"].startswith("does not work: missing SD8–SD15 and IOCS16*")
    assert "MEMR*, MEMW*" in answers["16-bit memory"]  # the older MEMR* is not that line
    assert answers["DMA"] == "works"  # by DRQ1; DACK0* is another line there


def test_a_rail_of_other_volts_is_no_rail_of_the_card() -> None:
    odd = replace(BUS8, name="odd", signals={**BUS8.signals, "+5V": replace(BUS8.signals["+5V"], volts=3.3)})
    assert sentences(cover(slot(), odd))["ROM"] == "works with parts: +5V (separate feed +5 V)"


def test_what_is_there_is_told_by_group() -> None:
    groups = {g.group: g for g in coverage(shipped("oakmere-88")).groups}
    assert list(groups) == [
        "return",
        "supply",
        "data",
        "address",
        "command",
        "control",
        "timing",
        "interrupt",
        "DMA",
    ]
    assert groups["supply"].present == ("+5V", "+12V", "-12V")
    assert groups["supply"].absent == ("-5V",)
    assert (groups["timing"].present, groups["timing"].optional, groups["timing"].absent) == (
        ("BALE", "BCLK"),
        (("OSC", "video board"),),
        (),
    )
    assert groups["DMA"].absent == ("DRQ3", "DACK3*")


# ---------------------------------------------------------------------- options


def test_an_option_is_told_with_the_kinds_that_then_work_without_parts() -> None:
    host = shipped("oakmere-88")
    assert coverage(host).gained == (("video board", ("video on the oscillator line",)),)
    assert coverage(host, ["video board"]).gained == ()
    assert coverage(host, ["video board"]).fitted == ("video board",)


def test_a_line_that_comes_only_with_an_option_counts_only_with_it() -> None:
    host = slot("IOR*", more={"120": Line("IOR*", option="I/O board")})
    assert sentences(coverage(host))["programmed I/O"] == "does not work: missing IOR*"
    assert sentences(coverage(host, ["I/O board"])) == ALL_WORK
    ((option, kinds),) = coverage(host).gained
    assert option == "I/O board"
    assert "programmed I/O" in kinds
    assert "ROM" not in kinds  # it works without


def test_an_option_that_leaves_a_kind_without_another_line_gains_nothing() -> None:
    host = slot("IOR*", "SD0", more={"120": Line("IOR*", option="I/O board")})
    assert coverage(host).gained == ()


# ---------------------------------------------------------------------- inverted, guessed, disputed


@pytest.mark.parametrize(
    ("without", "more", "kind", "answer"),
    [
        ("RESET", "RESET*", "programmed I/O", "works with parts: RESET (inverter)"),
        ("IOR*", "IOR", "programmed I/O", "works with parts: IOR* (inverter)"),
        ("RESET", "RESET*", "ROM", "works"),
        ("IOR*", Line("IOR*", seen="guessed"), "programmed I/O", "works; rests on a guess: IOR*"),
        ("+5V", Line("+5V", seen="guessed"), "ROM", "works; rests on a guess: +5V"),
        ("IOR*", Line("IOR", seen="guessed"), "programmed I/O", "works with parts: IOR* (inverter)"),
        ("AEN", "open", "programmed I/O", "does not work: missing AEN"),  # DMA is there, so a tie is no remedy
        ("AEN", "open", "DMA", "does not work: missing AEN"),
        ("RESET", "open", "programmed I/O", "works with parts: RESET (reset circuit)"),
        ("+5V", "open", "ROM", "works with parts: +5V (separate feed +5 V)"),
        ("GND", "open", "ROM", "does not work: missing GND"),
        ("IOCHRDY", "open", "programmed I/O", "works; without IOCHRDY, which some such cards use"),
        ("IOCHRDY", "IOCHRDY*", "programmed I/O", "works; without IOCHRDY, which some such cards use"),
    ],
)
def test_a_line_that_is_not_plainly_there_changes_the_answer(
    without: str, more: str | Line, kind: str, answer: str
) -> None:
    assert sentences(coverage(slot(without, more={"120": more})))[kind] == answer


def test_a_tie_stands_for_aen_only_where_the_slot_brings_no_dma() -> None:
    dma = [name for name, signal in BUS8.signals.items() if signal.group == "DMA"]
    assert sentences(coverage(slot("AEN", *dma)))["programmed I/O"] == "works with parts: AEN (tie low)"
    for line in dma:
        kept = [name for name in dma if name != line]
        assert sentences(coverage(slot("AEN", *kept)))["programmed I/O"] == "does not work: missing AEN"


def test_a_guess_does_not_count_where_another_contact_is_sure() -> None:
    host = slot("+5V", more={"120": Line("+5V", seen="guessed"), "121": "+5V", "122": Line("+5V", seen="guessed")})
    assert sentences(coverage(host))["ROM"] == "works"


@pytest.mark.parametrize(
    "doubt",
    [
        [("120", "IOR*"), ("120", "IOW*")],  # one contact, two things
        [("120", "IOR*"), ("121", "IOR*")],  # one thing, two contacts
        [("120", "IOR*"), ("120", "IOR")],  # two polarities
        [("120", "IOR*"), ("120", "open")],
    ],
)
def test_a_disputed_line_counts_as_absent(doubt: list[tuple[str, str]]) -> None:
    host = pin_map([*in_a_row(lines_of(BUS8, "IOR*", "IOW*")).items(), ("119", "IOW*"), *doubt], strip(130))
    answer = sentences(coverage(host))["programmed I/O"]
    assert answer in ("does not work: missing IOR*", "does not work: missing IOR* and IOW*")


# ---------------------------------------------------------------------- groups of which one will do

INTERRUPTS = ("IRQ2", "IRQ3", "IRQ4", "IRQ5", "IRQ6", "IRQ7")
CHANNELS = ("DRQ1", "DACK1*", "DRQ2", "DACK2*", "DRQ3", "DACK3*")


@pytest.mark.parametrize("only", INTERRUPTS)
def test_any_one_interrupt_will_do(only: str) -> None:
    others = [irq for irq in INTERRUPTS if irq != only]
    assert sentences(coverage(slot(*others)))["programmed I/O with interrupt"] == "works"


@pytest.mark.parametrize(
    ("more", "answer"),
    [
        ({}, "does not work: missing any one of IRQ2, IRQ3, IRQ4, IRQ5, IRQ6 or IRQ7"),
        ({"120": Line("IRQ5", seen="guessed")}, "works; rests on a guess: IRQ5"),
        ({"120": Line("IRQ5", seen="guessed"), "121": "IRQ7"}, "works"),
        ({"120": "IRQ5*"}, "works with parts: IRQ5 (inverter)"),
        ({"120": "IRQ5*", "121": Line("IRQ7", seen="guessed")}, "works; rests on a guess: IRQ7"),
    ],
)
def test_the_best_of_the_interrupts_is_taken(more: dict[str, str | Line], answer: str) -> None:
    assert sentences(coverage(slot(*INTERRUPTS, more=more)))["programmed I/O with interrupt"] == answer


@pytest.mark.parametrize(
    ("there", "answer"),
    [
        (("DRQ1", "DACK1*"), "works"),
        (("DRQ3", "DACK3*"), "works"),
        (("DRQ1", "DACK2*"), "does not work: missing any one of DRQ1+DACK1*, DRQ2+DACK2* or DRQ3+DACK3*"),
        (("DRQ1",), "does not work: missing any one of DRQ1+DACK1*, DRQ2+DACK2* or DRQ3+DACK3*"),
        ((), "does not work: missing any one of DRQ1+DACK1*, DRQ2+DACK2* or DRQ3+DACK3*"),
    ],
)
def test_a_dma_channel_must_be_complete(there: tuple[str, ...], answer: str) -> None:
    assert sentences(coverage(slot(*(c for c in CHANNELS if c not in there))))["DMA"] == answer


# ---------------------------------------------------------------------- property

NEEDS = {(bus.name, need): bus for bus in (BUS8, BUS16) for kind in bus.kinds for need in kind.needs}


@pytest.mark.parametrize(("bus", "line"), [(bus, line) for (_, line), bus in NEEDS.items()], ids=map(" ".join, NEEDS))
def test_dropping_any_line_turns_the_answer_of_every_kind_that_needs_it_and_of_no_other(bus: Bus, line: str) -> None:
    for kind, after in zip(bus.kinds, coverage(slot(line, bus=bus)).kinds, strict=True):
        alternatives = {name for group in kind.one_of for name in group}
        told = (*after.missing, *(name for name, _ in after.parts))
        if line in kind.needs:
            assert after.answer != "works"
            assert told == (line,)
            assert line in after.sentence()
        elif line not in alternatives:
            assert (after.answer, told) == ("works", ())


@settings(deadline=None, max_examples=60)
@given(st.sets(st.sampled_from(lines_of(BUS16)), max_size=40), st.sets(st.sampled_from(lines_of(BUS16)), max_size=10))
def test_more_lines_never_make_an_answer_worse(missing: set[str], back: set[str]) -> None:
    # Except AEN tied low, which the first DMA line rules out.
    rank = {"does not work": 0, "works with parts": 1, "works": 2}
    fewer = coverage(slot(*missing, bus=BUS16))
    more = coverage(slot(*(missing - back), bus=BUS16))
    for one, other in zip(fewer.kinds, more.kinds, strict=True):
        assert rank[other.answer] >= rank[one.answer] or "AEN" in other.missing
