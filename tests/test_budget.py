"""The budget of a design: three worked by hand, each check with a bad case and a good neighbour, and what must hold."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from handmade import header, pin_map, shipped
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pinmap import api, designs, library, recipes
from pinmap.adapter import Adapter, Net
from pinmap.design import Build, CardUse, Design, Fuse
from pinmap.electrical import Budget, ConductorBudget, LineBudget, SupplyBudget
from pinmap.electrical.budget import budget
from pinmap.electrical.conductor_use import (
    bigger,
    conductor_use,
    conductors,
    ribbon_carries_a,
    trace,
    wire,
    wire_carries_a,
)
from pinmap.electrical.facts import facts
from pinmap.electrical.lines import lowest_pull
from pinmap.electrical.regulator import regulator_gives_a
from pinmap.errors import NOWHERE, Place
from pinmap.findings import Finding
from pinmap.parts import Part
from pinmap.planner import plan
from pinmap.quantity import parse

BUILT = Place("riser.yaml", 7, 3)
CARD = Place("riser.yaml", 12, 5)


def design(
    build: Build | None = None,
    *cards: CardUse,
    host: str = "oakmere-88",
    card: str = "isa-8bit",
    fitted: tuple[str, ...] = (),
    clock_hz: float | None = None,
    other_slots: int = 0,
    drive_a: float | None = None,
    fuses: tuple[Fuse, ...] = (),
) -> Design:
    return Design(
        "Riser",
        host,
        card,
        host,
        card,
        fitted=fitted,
        build=build,
        clock_hz=clock_hz,
        other_slots=other_slots,
        drive_a=drive_a,
        cards=cards,
        fuses=fuses,
    )


def reckoned(made: Design) -> Budget:
    """The budget of a design between shipped connectors, with no parts."""
    return budget(plan(shipped(made.host), shipped(made.card), made.fitted), made)


def rail(budget: Budget, name: str) -> SupplyBudget:
    return next(s for s in budget.supplies if s.rail == name)


def line(budget: Budget, name: str) -> LineBudget:
    return next(b for b in budget.lines if name in b.signals)


def ribbon(length_mm: float = 150, awg: int | None = 28) -> Build:
    return Build("ribbon", length_mm, awg=awg, place=BUILT)


def uses(**draws: float) -> CardUse:
    """A card of the file: uses(p5=1.0, n12=0.04) draws 1 A from +5V and 40 mA from -12V."""
    rails = {"p5": "+5V", "n5": "-5V", "p12": "+12V", "n12": "-12V"}
    return CardUse("card", draws_a={rails[k]: v for k, v in draws.items()}, place=CARD)


#: How a rail that the machine brings is fed from elsewhere, as advice ends.
OWN = (
    "feed {} from a supply of its own: in a copy of the machine's map write ? at its contacts, then choose a separate "
    "feed for it; never join the two"
)


def near(value: float, rel: float | None = None) -> Any:
    """What may differ from `value` by the last digits."""
    return pytest.approx(value, rel=rel)


def coded(findings: Iterable[Finding], *codes: str) -> list[Finding]:
    return [f for f in findings if f.code in codes]


# ---------------------------------------------------------------------- worked by hand


def test_the_budget_of_a_ribbon_worked_by_hand() -> None:
    """Oakmere 88: 150 mm of 28 AWG ribbon, the video board fitted, a clock of 4.77 MHz; two cards:
    serial +5V 300 mA, +12V 40 mA, -12V 40 mA (two LS loads, not said), video +5V 700 mA (one LS load).
    """
    made = design(
        ribbon(),
        CardUse("serial", draws_a={"+5V": 0.3, "+12V": 0.04, "-12V": 0.04}),
        CardUse("video", draws_a={"+5V": 0.7}, loads=1),
        fitted=("video board",),
        clock_hz=4.77e6,
    )
    got = reckoned(made)
    # One conductor: 212.93 Ω/km × 0.15 m = 31.94 mΩ. A contact: 30 mΩ at either end.
    # +5V: contacts 4 and 60, so two conductors; B3 and B29 at the card.
    #   30/2 + 31.94/2 + 30/2 = 45.97 mΩ; × 1.000 A = 45.97 mV
    # The return: nine contacts and conductors, three contacts at the card. The positive rails send 1.000 + 0.040
    #   = 1.040 A through it, -12V 0.040 A the other way.
    #   30/9 + 31.94/9 + 30/3 = 3.333 + 3.549 + 10 = 16.88 mΩ; × 1.040 A = 17.56 mV; × 0.040 A = 0.6753 mV
    # At the card at worst 5 − 0.04597 − 0.01756 = 4.936 V; at most 5 + 0.0006753 = 5.0007 V.
    # Left: supply 1.5 − 1.0 = 0.5 A; contacts and conductors 2 − 1 = 1 A; return 3 − 1.04 = 1.96 A;
    #   drop (250 − 63.5) / (45.97 + 16.88) = 2.97 A. The supply gives way first.
    five = rail(got, "+5V")
    assert five.drawn_a == near(1.0, rel=1e-3)
    assert five.drop_v == near(45.97e-3, rel=1e-3)
    assert five.return_v == near(17.56e-3, rel=1e-3)
    assert five.at_card_v == near(4.9365, rel=1e-5)
    assert five.lift_v == near(0.6753e-3, rel=1e-3)
    assert five.most_v == near(5.0006753, rel=1e-7)
    assert (five.weakest, five.left_a) == ("machine's supply", near(0.5))
    # +12V and -12V: one contact and conductor each: 30 + 31.94 + 30 = 91.94 mΩ; × 40 mA = 3.678 mV
    # -12V at the card at worst −12 + 0.003678 + 0.0006753 = −11.9956 V. While it draws nothing the positive rails
    #   lift the card's return by 17.56 mV: −12 − 0.01756 = −12.0176 V. Left of -12V: 0.1 − 0.04 = 0.06 A.
    twelve, minus = rail(got, "+12V"), rail(got, "-12V")
    assert twelve.drop_v == minus.drop_v == near(3.678e-3, rel=1e-3)
    assert minus.at_card_v == near(-11.99565, rel=1e-6)
    assert minus.most_v == near(-12.01756, rel=1e-6)
    assert (twelve.return_v, twelve.lift_v) == (near(17.56e-3, rel=1e-3), near(0.6753e-3, rel=1e-3))
    assert (minus.weakest, minus.left_a) == ("machine's supply", near(0.06))
    # The fullest conductor is one of +5V: 1.0 / 2 = 0.5 A of 1 A. It would melt at 10244 × 0.01264^1.5 = 14.56 A.
    (conductor,) = got.conductors
    assert (conductor.use, conductor.size, conductor.allowed_a, conductor.rise_k) == (
        "ribbon conductor",
        "28 AWG",
        1.0,
        None,
    )
    assert conductor.carries_a == near(0.5)
    assert conductor.fusing_a == near(14.56, rel=1e-3)
    # Clock and command lines first.
    groups = [b.group for b in got.lines]
    assert list(dict.fromkeys(groups)) == ["timing", "command", "control", "data", "address", "interrupt", "DMA"]
    # Commands: 2 + 1 = 3 loads, 3 × 0.4 = 1.2 mA; the machine's 4.7 kΩ at its lowest, (5.25 − 0.5)/(0.95 × 4700)
    #   = 1.064 mA; 2.264 mA of 24 mA. High: 3 × 20 µA = 60 µA of 3 mA.
    command = line(got, "IOR*")
    assert command.sinks_a == near(2.264e-3, rel=1e-3)
    assert command.sources_a == near(60e-6)
    assert (command.can_sink_a, command.can_source_a, command.pull_ohms) == (0.024, 0.003, 4700)
    # Data: the machine's two loads too: 5 × 0.4 + 1.064 = 3.064 mA.
    assert line(got, "SD0").sinks_a == near(3.064e-3, rel=1e-3)
    # IRQ3: the machine's two loads, 0.8 mA, and 2.2 kΩ: 4.75/2090 = 2.273 mA; 3.073 mA of the 4 mA of a card.
    assert line(got, "IRQ3").sinks_a == near(3.073e-3, rel=1e-3)
    assert line(got, "IRQ3").can_sink_a == 0.004
    # IOCHRDY: 0.8 + 4.75/950 = 5.8 mA of 20 mA; high: the pull-up gives (4.75 − 2.4)/1050 = 2.238 mA of which
    # 40 µA are taken.
    ready = line(got, "IOCHRDY")
    assert (ready.driver, ready.sinks_a) == ("card (open collector)", near(5.8e-3, rel=1e-3))
    assert (ready.sources_a, ready.can_source_a) == (near(40e-6), near(2.238e-3, rel=1e-3))
    # DRQ1: a pull-down of 5.6 kΩ at its lowest, 2.4/5320 = 0.4511 mA, and 40 µA: 0.4911 mA.
    assert line(got, "DRQ1").sources_a == near(0.4911e-3, rel=1e-3)
    # Length: 6 ns / (2 × 5 ns/m) = 600 mm; delay 0.15 × 5 = 0.75 ns; cycle 1/4.77 MHz = 209.6 ns.
    assert got.timing is not None
    assert got.timing.critical_mm == near(600)
    assert got.timing.delay_s == near(0.75e-9)
    assert got.timing.cycle_s == near(209.6e-9, rel=1e-3)
    # Returns: contacts 1, 8, 14, 18, 28, 36, 40, 56, 63. BALE 54 is two from 56, IOW* 24 four from 28, IRQ3 48 eight
    # from 40 and 56. 49 lines are wired; 64 is open.
    assert got.returns is not None
    far = dict(got.returns.far)
    assert (got.returns.signals, got.returns.returns, got.returns.ground) == (49, 9, ("64",))
    assert (far["BALE"], far["IOW*"], far["IRQ3"]) == (2, 4, 8)
    assert [name for name, _ in got.returns.far[:7]] == ["BALE", "BCLK", "OSC", "IOR*", "IOW*", "MEMR*", "MEMW*"]
    assert got.supplies_said == (
        "The supplies do: the tightest is +5V with 500 mA left (machine's supply), and the most that is lost on the "
        "way is 63.5 mV of +5V (1.3 %)."
    )
    assert got.conductors_said == (
        "No conductor carries too much: the fullest, a ribbon conductor of 28 AWG, carries 500 mA of 1 A."
    )
    assert got.lines_said == (
        "Every driver holds its line: the fullest is IRQ2–IRQ6 with 3.07 mA of 4 mA; 150 mm are short for edges of 6 "
        "ns (long from 600 mm on); there and back takes 0.72 % of a clock cycle; 49 signals share 9 returns."
    )
    assert [(f.code, f.grade) for f in got.findings] == [("returns-far", "caution")]


def test_the_budget_of_single_wires_worked_by_hand() -> None:
    """Brindle Portable: 200 mm of single wires of 24 AWG; one card: +5V 450 mA, +12V 60 mA, two LS loads."""
    made = design(
        Build("point to point", 200, awg=24, place=BUILT),
        CardUse("network", draws_a={"+5V": 0.45, "+12V": 0.06}, loads=2),
        host="brindle-portable",
    )
    got = reckoned(made)
    # A wire: 84.22 Ω/km × 0.2 m = 16.84 mΩ. Edge slot and edge fingers: 30 mΩ a contact.
    # +5V: A, AA, BB at the machine, two wires to B3 and B29: 30/3 + 16.84/2 + 30/2 = 33.42 mΩ; × 0.45 A = 15.04 mV
    # Return: eight contacts, three wires, three contacts; 0.45 + 0.06 = 0.51 A:
    #   30/8 + 16.84/3 + 30/3 = 3.750 + 5.615 + 10 = 19.36 mΩ; × 0.51 A = 9.876 mV
    # At the card 5 − 0.01504 − 0.009876 = 4.975 V. Left: 0.6 − 0.45 = 0.15 A.
    five = rail(got, "+5V")
    assert five.drop_v == near(15.04e-3, rel=1e-3)
    assert five.return_v == near(9.876e-3, rel=1e-3)
    assert five.at_card_v == near(4.975, rel=1e-3)
    assert (five.weakest, five.left_a) == ("machine's supply", near(0.15))
    # +12V: 30 + 16.84 + 30 = 76.84 mΩ; × 60 mA = 4.611 mV. Left: 0.1 − 0.06 = 0.04 A.
    twelve = rail(got, "+12V")
    assert twelve.drop_v == near(4.611e-3, rel=1e-3)
    assert twelve.left_a == near(0.04)
    # -5V and -12V are not brought, and nothing draws from them.
    assert [(s.rail, s.weakest, s.left_a) for s in got.supplies if not s.carriers] == [
        ("-5V", "nothing brings it", 0.0),
        ("-12V", "nothing brings it", 0.0),
    ]
    # A wire of +5V carries 0.45/2 = 0.225 A of 3.5 A; a signal's no more than IOCHRDY's 0.8 + 4.75/950 = 5.8 mA.
    assert [(c.use, c.size, c.allowed_a) for c in got.conductors] == [
        ("supply wire", "24 AWG", 3.5),
        ("signal wire", "24 AWG", 3.5),
    ]
    assert [c.carries_a for c in got.conductors] == [near(0.225), near(5.8e-3)]
    # Three wires of return for 34 signals: 8 data, 16 address, 4 commands, BALE, BCLK, IOCHRDY, 3 interrupts.
    # 0.2 m × 5 ns/m = 1 ns.
    assert got.returns is not None
    assert got.timing is not None
    assert (got.returns.signals, got.returns.returns, got.returns.far, got.returns.ground) == (34, 3, (), ())
    assert got.timing.delay_s == near(1e-9)
    assert got.timing.cycle_s is None
    assert "the bus clock is not said: the delay is held against nothing" in got.assumed
    (few,) = got.findings
    assert (few.code, few.message, few.advice, few.place) == (
        "returns-far",
        "34 signals share 3 returns, more than 5 to each (common practice, no source)",
        "Lay 5 more wires from return to return: the machine has 8 contacts for it, beside the clock and command lines "
        "first; keep it short",
        BUILT,
    )


def test_the_budget_of_a_printed_board_worked_by_hand() -> None:
    """Tarn Rack: 120 mm of board, traces 0.25 mm and 2 mm wide in 35 µm of copper; one card:
    +5V 1.2 A, +12V 100 mA, -12V 50 mA.
    """
    made = design(
        Build("printed board", 120, trace_mm=0.25, supply_trace_mm=2.0, copper_um=35, place=BUILT),
        CardUse("card", draws_a={"+5V": 1.2, "+12V": 0.1, "-12V": 0.05}),
        host="tarn-rack",
        card="isa-16bit",
    )
    got = reckoned(made)
    # A trace: 17.241 mΩ·mm²/m / (2 × 0.035 mm²) = 246.3 mΩ/m; × 0.12 m = 29.56 mΩ.
    # DIN 41612: 20 mΩ a contact; the slot: 30 mΩ.
    # +5V: two contacts, two traces, three contacts: 20/2 + 29.56/2 + 30/3 = 34.78 mΩ; × 1.2 A = 41.73 mV
    # Return: nine contacts, four traces, four contacts; 1.2 + 0.1 = 1.3 A of the positive rails, 0.05 A of -12V:
    #   20/9 + 29.56/4 + 30/4 = 2.222 + 7.389 + 7.5 = 17.11 mΩ; × 1.3 A = 22.24 mV; × 0.05 A = 0.8556 mV
    # At the card 5 − 0.04173 − 0.02224 = 4.936 V. Left: 1.5 − 1.2 = 0.3 A.
    five = rail(got, "+5V")
    assert five.drop_v == near(41.73e-3, rel=1e-3)
    assert five.return_v == near(22.24e-3, rel=1e-3)
    assert five.lift_v == near(0.8556e-3, rel=1e-3)
    assert five.at_card_v == near(4.93603, rel=1e-5)
    assert (five.weakest, five.left_a) == ("machine's supply", near(0.3))
    # A section: 2/0.0254 × 35/25.4 = 78.74 × 1.378 = 108.5 mil². At 20 K: 0.048 × 20^0.44 × 108.5^0.725
    #   = 0.048 × 3.736 × 29.90 = 5.363 A. 1.2/2 = 0.6 A: (0.6/(0.048 × 29.90))^(1/0.44) = 0.4180^2.273 = 0.1378 K.
    supply, signal = got.conductors
    assert (supply.use, supply.size, supply.fusing_a) == ("supply trace", "2 mm × 35 µm", None)
    assert supply.ohm_per_m == near(0.2463, rel=1e-3)
    assert supply.carries_a == near(0.6)
    assert supply.allowed_a == near(5.363, rel=1e-3)
    assert supply.rise_k == near(0.1378, rel=1e-3)
    assert signal.size == "0.25 mm × 35 µm"
    # IOCS16*: 0.8 mA and 330 Ω at its lowest, 4.75/313.5 = 15.15 mA: 15.95 mA of 20 mA.
    assert line(got, "IOCS16*").sinks_a == near(15.95e-3, rel=1e-3)
    assert line(got, "IOCS16*").can_sink_a == 0.020
    # 6 ns / (2 × 5.59 ns/m) = 536.7 mm; 0.12 × 5.59 = 0.6708 ns.
    assert got.timing is not None
    assert got.timing.critical_mm == near(536.7, rel=1e-3)
    assert got.timing.delay_s == near(0.6708e-9, rel=1e-3)
    assert got.returns is None
    assert got.findings == ()


# ---------------------------------------------------------------------- what is said, and its good neighbour


def whole(finding: Finding) -> tuple[str, str, str, str, Place]:
    return finding.code, finding.grade, finding.message, finding.advice, finding.place


def test_a_rail_from_which_more_is_drawn_than_the_machine_gives_is_overdrawn() -> None:
    got = reckoned(design(ribbon(), uses(n12=0.11)))
    assert whole(coded(got.findings, "supply-overdrawn")[0]) == (
        "supply-overdrawn",
        "fault",
        "-12V: card draws 110 mA, and the machine gives no more than 100 mA",
        f"Let cards draw 10 mA less, or {OWN.format('-12V')}",
        CARD,
    )
    assert rail(got, "-12V").left_a == near(-0.01)
    assert got.supplies_said == "The supplies do not do: -12V (10 mA too much; first: machine's supply)."
    assert not coded(reckoned(design(ribbon(), uses(n12=0.1))).findings, "supply-overdrawn")


def test_contacts_that_carry_too_much_are_a_danger_and_the_number_that_would_do_is_said() -> None:
    got = reckoned(design(ribbon(), uses(p5=2.5)))
    at_machine = coded(got.findings, "contact-overloaded")
    assert whole(at_machine[1]) == (
        "contact-overloaded",
        "danger",
        "+5V: 2.5 A through 2 contacts of the machine that carry 2 A (1 A each; rating: from memory; the contact of a "
        "ribbon connector; resistance: PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008)",
        "3 contacts at the machine's end would carry it, 1 more than there are: let cards draw 500 mA less, or "
        + OWN.format("+5V"),
        CARD,
    )
    assert "contacts of the card" in at_machine[0].message  # which another feed would have to pass too
    assert at_machine[0].advice == (
        "3 contacts at the card's end would carry it, 1 more than there are: let cards draw 500 mA less"
    )
    assert not coded(reckoned(design(ribbon(), uses(p5=2.0))).findings, "contact-overloaded")


def test_returns_carry_what_all_rails_of_one_sign_send() -> None:
    """Three return contacts at the card: 3 A. +5V 2.1 A and +12V 1 A are more, and neither is alone; -12V sends its
    current the other way.
    """
    made = design(ribbon(), uses(p5=2.1, p12=1.0))
    over = [f for f in coded(reckoned(made).findings, "contact-overloaded") if f.signals == ("GND",)]
    assert [(f.message[:54], f.signals) for f in over] == [
        ("GND: 3.1 A through 3 contacts of the card that carry 3", ("GND",))
    ]
    assert over[0].advice.endswith("1 more than there are: let cards draw 100 mA less")
    assert not coded(reckoned(design(ribbon(), uses(p5=2.0, p12=1.0, n12=0.1))).findings, "contact-overloaded")


@pytest.mark.parametrize(
    ("build", "draws", "message", "advice"),
    [
        (
            ribbon(),
            2.2,
            "+5V: 2.2 A through 2 ribbon conductors of 28 AWG that carry 2 A",
            f"Let cards draw 200 mA less, or {OWN.format('+5V')}",  # a ribbon has a conductor for each contact, no more
        ),
        (
            Build("ribbon", 100, awg=30, place=BUILT),
            1.8,
            "+5V: 1.8 A through 2 ribbon conductors of 30 AWG that carry 1.23 A",
            "Take 28 AWG",
        ),
        (
            Build("point to point", 100, awg=30, place=BUILT),
            1.8,
            "+5V: 1.8 A through 2 supply wires of 30 AWG that carry 1.72 A",
            "Take 28 AWG, or lay 3 side by side in place of 2",
        ),
        (
            Build("printed board", 100, trace_mm=0.2, copper_um=35, place=BUILT),
            2.1,
            "+5V: 2.1 A through 2 supply traces of 0.2 mm × 35 µm that carry 2.02 A",
            "Make the trace 0.25 mm wide, or lay 3 side by side in place of 2",
        ),
    ],
)
def test_conductors_that_carry_too_much_are_a_danger_and_the_size_that_would_do_is_said(
    build: Build, draws: float, message: str, advice: str
) -> None:
    (over,) = coded(reckoned(design(build, uses(p5=draws))).findings, "conductor-overloaded")
    assert (over.grade, over.message[: len(message)], over.advice, over.place) == ("danger", message, advice, BUILT)
    less = design(build, uses(p5=draws * 0.6))
    assert not coded(reckoned(less).findings, "conductor-overloaded")


def test_what_is_lost_on_the_way_is_a_fault_beyond_the_tolerance_and_a_caution_beyond_half_of_it() -> None:
    # 1 A over L metres of 28 AWG: rail 30 mΩ + 106.5·L mΩ, return 13.33 mΩ + 23.66·L mΩ. 250 mV at 1.588 m, 125 mV
    # at 0.6276 m.
    assert coded(reckoned(design(ribbon(625), uses(p5=1.0))).findings, "supply-drop") == []
    (care,) = coded(reckoned(design(ribbon(630), uses(p5=1.0))).findings, "supply-drop")
    (fault,) = coded(reckoned(design(ribbon(1600), uses(p5=1.0))).findings, "supply-drop")
    assert whole(care) == (
        "supply-drop",
        "caution",
        "+5V arrives with as little as +4.875 V at the card: 97.1 mV are lost on the rail and 28.2 mV on the return, "
        "more than half of the 250 mV allowed, and the machine's own is not exact",
        f"Take 26 AWG or make it no longer than 627 mm, or {OWN.format('+5V')}",  # there is no ribbon of 27 AWG
        BUILT,
    )
    assert (fault.grade, fault.message.split(", more than ")[1]) == ("fault", "the 250 mV allowed")
    again = reckoned(design(ribbon(627), uses(p5=1.0)))
    assert coded(again.findings, "supply-drop") == []  # the advice holds
    assert coded(reckoned(design(ribbon(630, 26), uses(p5=1.0))).findings, "supply-drop") == []


def test_contacts_that_alone_lose_too_much_need_more_contacts_and_not_a_shorter_way() -> None:
    got = reckoned(design(ribbon(100), uses(p5=3.0)))
    (drop,) = coded(got.findings, "supply-drop")
    assert (
        drop.advice == f"The contacts alone lose 130 mV: more contacts for +5V and the return, or {OWN.format('+5V')}"
    )


def test_a_supply_without_a_limit_in_the_map_is_said_to_be_unknown() -> None:
    made = design(ribbon(), uses(p5=0.1))
    host = replace(shipped("oakmere-88"), supplies={})
    got = budget(plan(host, shipped("isa-8bit")), made)
    (note,) = coded(got.findings, "supply-unknown-limit")
    assert whole(note) == (
        "supply-unknown-limit",
        "note",
        "the map of oakmere-88 does not say what +5V can deliver; 100 mA are drawn",
        "Find the machine's figure and write it under supplies: +5V: {limit: …}",
        CARD,
    )
    assert rail(got, "+5V").limit_a is None
    assert not coded(reckoned(made).findings, "supply-unknown-limit")


def test_a_card_that_needs_what_nothing_brings_is_a_fault_with_its_remedy() -> None:
    card = CardUse("old sound", draws_a={"+5V": 0.1, "-5V": 0.05}, needs=("SA3", "IRQ7"), place=CARD)
    got = reckoned(design(ribbon(), card))
    assert [whole(f) for f in coded(got.findings, "card-needs-line")] == [
        (
            "card-needs-line",
            "fault",
            "old sound needs -5V: the slot does not bring it, and no part makes it up",
            "Regulator -5 V from -12V: A small negative regulator fed from -12V gives the little current that cards "
            "draw here; leave it out if the card does not use the rail.",
            CARD,
        ),
        (
            "card-needs-line",
            "fault",
            "old sound needs IRQ7: the slot does not bring it, and no part makes it up",
            "Jumper: Leave the contact open and set the card, or a jumper on the adapter, to an interrupt that the "
            "slot brings; the software must be told.",
            CARD,
        ),
    ]
    minus = rail(got, "-5V")
    assert (minus.limit_a, minus.left_a, minus.weakest, minus.carriers) == (0.0, -0.05, "nothing brings it", ())
    assert minus.change.startswith("Regulator -5 V from -12V")
    assert got.supplies_said == "The supplies do not do: -5V (nothing brings it)."


QUIET = "only keeps quiet a card that does not need the line"
INSTEAD = "Set the card to another channel ({} can be had here); on this one it cannot work: {} " + QUIET


@pytest.mark.parametrize(
    ("host", "kind", "needs", "advice"),
    [
        ("oakmere-88", "", "DACK3*", INSTEAD.format("DRQ1 with DACK1* or DRQ2 with DACK2*", "a pull-up")),
        ("oakmere-88", "", "DRQ3", INSTEAD.format("DRQ1 with DACK1* or DRQ2 with DACK2*", "leaving it open")),
        ("oakmere-88", "DMA", "DRQ3", INSTEAD.format("DRQ1 with DACK1* or DRQ2 with DACK2*", "leaving it open")),
        ("oakmere-88", "", "IOCHK*", f"This card cannot work here: leaving it open {QUIET}"),
        ("tarn-rack", "", "DACK3*", f"This card cannot work here: a pull-up {QUIET}"),
    ],
)
def test_advice_to_a_card_that_needs_a_line_is_not_what_keeps_others_quiet(
    host: str, kind: str, needs: str, advice: str
) -> None:
    got = reckoned(design(ribbon(), replace(uses(p5=0.1), kind=kind, needs=(needs,)), host=host))
    (lack,) = [f for f in coded(got.findings, "card-needs-line") if f.signals == (needs,)]
    assert lack.advice == advice


def tied(*lines: str, host: str = "brindle-portable") -> Adapter:
    """The plan with links from lines of the card to the return."""
    adapter = plan(shipped(host), shipped("isa-8bit"))
    ground = next(n.name for n in adapter.nets if n.group == "return" and n.host and n.card)
    for number, name in enumerate(lines, 1):
        link = Part(f"R{number}", "link", "0 Ω", "", f"tie low of {name}", (("1", "line"), ("2", "return")), (name,))
        adapter = with_part(adapter, link, next(n.name for n in adapter.nets if n.card and n.signal == name), ground)
    return adapter


def test_a_tie_is_the_line_itself_only_where_the_dictionary_says_so() -> None:
    """SA16 … tied low leave a ROM at one address in sixteen; AEN tied low is AEN of a machine without DMA."""
    rom = CardUse("rom", "ROM", {"+5V": 0.1}, place=CARD)
    adapter = tied("SA16", "SA17", "SA18", "SA19", "AEN")
    got = coded(budget(adapter, design(ribbon(), rom)).findings, "card-needs-line")
    assert [whole(f) for f in got] == [
        (
            "card-needs-line",
            "fault",
            "rom needs SA16–SA19: the slot does not bring it, and no part makes them up",
            f"This card cannot work here: a pull-down {QUIET}",
            CARD,
        ),
    ]
    asks = replace(uses(p5=0.1), needs=("DACK1*", "AEN"))
    (lack,) = coded(budget(tied("DACK1*", "AEN"), design(ribbon(), asks)).findings, "card-needs-line")
    assert whole(lack) == (
        "card-needs-line",
        "fault",
        "card needs DACK1*: the slot does not bring it, and no part makes it up",
        f"This card cannot work here: a pull-up {QUIET}",
        CARD,
    )


def test_a_tie_to_the_other_level_is_not_what_the_dictionary_says() -> None:
    adapter = plan(shipped("brindle-portable"), shipped("isa-8bit"))
    link = Part("R1", "link", "0 Ω", "", "tie high of AEN", (("1", "line"), ("2", "rail")), ("AEN",))
    aen = next(n.name for n in adapter.nets if n.card and n.signal == "AEN")
    got = budget(with_part(adapter, link, aen, "+5V"), design(ribbon(), replace(uses(p5=0.1), needs=("AEN",))))
    assert [f.signals for f in coded(got.findings, "card-needs-line")] == [("AEN",)]


def test_lines_that_fare_alike_are_said_together() -> None:
    card = replace(uses(p5=0.1), needs=("DACK2*", "DACK3*"))
    got = reckoned(design(ribbon(), card, host="tarn-rack"))
    assert [f.signals for f in coded(got.findings, "card-needs-line")] == [("DACK2*", "DACK3*")]


def test_a_kind_of_card_brings_its_needs_and_what_it_draws_as_a_rule_of_thumb() -> None:
    card = CardUse("serial", "serial lines with 12 V drivers", {"+5V": 0.1}, place=CARD)
    got = reckoned(design(ribbon(), card, host="brindle-portable"))
    assert [(d.who, d.amps, d.thumb) for s in got.supplies for d in s.draws] == [
        ("serial", 0.1, False),
        ("serial", 0.05, True),
        ("serial", 0.05, True),
    ]
    (thumb,) = coded(got.findings, "figure-assumed")
    assert (thumb.grade, thumb.message) == (
        "note",
        f"serial draws 50 mA from +12V and 50 mA from -12V: a rule of thumb for serial lines with 12 V drivers "
        f"({facts().kinds_source})",
    )
    assert thumb.message in got.assumed
    assert sorted(f.signals for f in coded(got.findings, "card-needs-line")) == [("-12V",), ("AEN",), ("RESET",)]


def test_a_kind_of_card_needs_one_of_its_alternatives_complete() -> None:
    got = reckoned(design(ribbon(), CardUse("disk", "DMA", {"+5V": 0.1}, place=CARD), host="tarn-rack"))
    ours = [f for f in coded(got.findings, "card-needs-line") if "as a card of the kind" in f.message]
    assert [f.message for f in ours] == [
        "disk needs DRQ1 and DACK1*, DRQ2 and DACK2* or DRQ3 and DACK3*, as a card of the kind DMA: the slot brings "
        "none, and no part makes one up"
    ]
    good = reckoned(design(ribbon(), CardUse("disk", "DMA", {"+5V": 0.1}, place=CARD)))
    assert not coded(good.findings, "card-needs-line")


def test_a_card_that_does_not_say_what_it_draws_counts_as_nothing_and_that_is_said() -> None:
    got = reckoned(design(ribbon(), CardUse("mystery", place=CARD)))
    (care,) = coded(got.findings, "figure-assumed")
    assert (care.grade, care.message, care.place) == (
        "caution",
        "a card says what it draws, and mystery does not (it has no kind either): it is counted as nothing",
        CARD,
    )
    assert "mystery: nothing is counted, for the file does not say what it draws" in got.assumed


@pytest.mark.parametrize(("other_slots", "over"), [(27, []), (28, ["SD0–SD7"])])
def test_a_line_with_too_many_loads_is_a_fault_and_how_many_fit_is_said(other_slots: int, over: list[str]) -> None:
    """Data: (2 + 2 + 2·27) × 0.4 = 23.2 mA and the pull-up's 1.06 mA are 24.26 … so the pull-up decides."""
    made = design(ribbon(), replace(uses(p5=0.1), loads=0), other_slots=other_slots)
    got = reckoned(made)
    found = coded(got.findings, "line-overloaded")
    assert [f.message.split(":")[0] for f in found] == over


def test_a_weak_driver_is_told_how_many_loads_and_which_pull_up_it_holds() -> None:
    got = reckoned(design(ribbon(), replace(uses(p5=0.1), loads=2), drive_a=0.0015))
    found = [f for f in coded(got.findings, "line-overloaded") if "IOR*" in f.signals]
    # 2 × 0.4 + 1.064 = 1.864 mA. Beside the pull 0.436 mA are left: one load. Beside the loads 0.7 mA: 4.75 / 0.7 mA
    # / 0.95 = 7.14 kΩ.
    assert [whole(f) for f in found] == [
        (
            "line-overloaded",
            "fault",
            "IOR*, IOW*, MEMR*, MEMW*: at the low level 1.86 mA flow into the driver (host), which sinks 1.5 mA (the "
            "file): 2 LS loads take 0.8 mA, the pull-up of 4.7 kΩ the rest",
            "No more than 1 LS load on each of these lines, pull-ups of 7.14 kΩ or more, all in parallel or a bus "
            "driver between the slot and the cards",
            CARD,
        )
    ]
    assert got.lines_said.startswith("Too much hangs on ")
    assert not coded(reckoned(design(ribbon(), uses(p5=0.1), drive_a=0.0027)).findings, "line-overloaded")


def test_a_bus_driver_that_gives_too_little_at_the_high_level_is_said_with_what_it_gives_at_less() -> None:
    """160 loads take 160 × 20 µA = 3.2 mA of 3 mA."""
    got = reckoned(design(ribbon(), replace(uses(p5=0.1), loads=160), drive_a=1.0))
    (over,) = [f for f in coded(got.findings, "line-overloaded") if "BALE" in f.signals]
    logic = "Makers' data sheets of the bus drivers 74LS244 and 74LS245"
    assert over.message.partition(": ")[2] == (
        "at the high level 3.2 mA are taken, and the driver gives 3 mA, and up to 15 mA only with less than 2.4 V left "
        f"({logic})"
    )
    less = reckoned(design(ribbon(), replace(uses(p5=0.1), loads=150), drive_a=1.0))
    assert not [f for f in coded(less.findings, "line-overloaded") if "BALE" in f.signals]


def test_a_way_that_is_long_for_its_edges_is_a_caution_with_the_factor_stated() -> None:
    (care,) = coded(reckoned(design(ribbon(601), uses(p5=0.1))).findings, "line-long")
    assert (care.grade, care.message, care.place) == (
        "caution",
        "601 mm are long for an edge of 6 ns: from 600 mm on (edge / (2 × 5 ns/m)) the echo of the far end comes after "
        "the edge. BALE and BCLK suffer first.",
        BUILT,
    )
    assert not coded(reckoned(design(ribbon(600), uses(p5=0.1))).findings, "line-long")


def test_a_way_that_takes_a_large_share_of_a_cycle_is_a_caution_and_near_a_whole_one_a_fault() -> None:
    """8 MHz, 125 ns; 5 ns/m there and back: 25 % are 31.25 ns, 3.125 m. 90 % are 112.5 ns, 11.25 m."""
    made = design(ribbon(3200), uses(p5=0.1), clock_hz=8e6)
    care = coded(reckoned(made).findings, "line-long")[-1]
    assert whole(care) == (
        "line-long",
        "caution",
        "a signal is there and back within 25 % of a clock cycle (common practice, no source): over 3200 mm it takes "
        "32 ns, 25.6 % of 125 ns",
        "Make it no longer than 3125 mm, or let the bus run at no more than 7.81 MHz; both keep it within 25 %",
        BUILT,
    )
    over = coded(reckoned(design(ribbon(11_300), uses(p5=0.1), clock_hz=8e6)).findings, "line-long")
    assert [(f.grade, f.message.partition(" (")[0]) for f in over if "cycle" in f.message] == [
        ("fault", "a signal is there and back within 90 % of a clock cycle")
    ]
    for length, clock, grades in ((3125, 8e6, []), (3200, 7.81e6, []), (11_250, 8e6, ["caution"]), (11_250, None, [])):
        got = reckoned(design(ribbon(length), uses(p5=0.1), clock_hz=clock))
        assert [f.grade for f in coded(got.findings, "line-long") if "cycle" in f.message] == grades


def test_faster_edges_and_slower_layers_are_said_beside_what_is_reckoned() -> None:
    assumed = reckoned(design(Build("printed board", 100, trace_mm=0.3, copper_um=35), uses(p5=0.1))).assumed
    delay = facts().source("delay of an inner trace per metre")
    assert f"traces lie on an outer layer: 5.59 ns per metre, where an inner one has 7.08 ns ({delay})" in assumed
    # 2 ns / (2 × 5.59 ns/m)
    assert (
        "an edge takes 6 ns, as LS logic does (from memory); one of fast logic takes 2 ns (from memory), for which a "
        "way is long from 179 mm on"
    ) in assumed
    # 30 K × 0.00393 /K
    warm = (
        "wires and traces are reckoned at 20 °C: at 50 °C, as inside a case (common practice, no source), copper loses "
        "12 % more"
    )
    assert warm in assumed
    assert warm in reckoned(design(ribbon(), uses(p5=0.1))).assumed
    assert warm not in reckoned(design()).assumed


def test_lines_far_from_a_return_are_named_with_the_spare_conductors_to_ground() -> None:
    (care,) = coded(reckoned(design(ribbon(), uses(p5=0.1))).findings, "returns-far")
    assert care.message.startswith("48 signals share 9 returns, more than 5 to each; 13 lines lie more than 3 ")
    assert care.advice.startswith("Join the spare conductor of 64 to the return at the card's end")
    assert care.contacts == ("64",)
    # Five signals at most to a return, three conductors at most to the nearest.
    contacts = {"1": "GND", "2": "IOR*", "3": "BCLK", "4": "SD0", "5": "+5V", "6": "GND"}
    host = pin_map(contacts, header(3))
    card = pin_map(contacts, header(3), end="card", name="card")
    assert coded(budget(plan(host, card), design(ribbon(), uses(p5=0.1))).findings, "returns-far") == []


def test_a_contact_that_is_not_settled_carries_nothing() -> None:
    """Contact 31 of the card is +5V or IRQ3, nobody knows: it is not wired, and one contact is left."""
    host = pin_map({"1": "GND", "29": "+5V", "30": "+5V"}, header(), limits={"+5V": 1.0})
    card = pin_map([("1", "GND"), ("30", "+5V"), ("31", "+5V"), ("31", "IRQ3")], header(), end="card", name="card")
    five = rail(budget(plan(host, card), design(ribbon(), uses(p5=0.1))), "+5V")
    assert [(c.what.split(" of ")[0], c.count) for c in five.carriers] == [
        ("contact", 2),
        ("ribbon conductor", 2),
        ("contact", 1),
    ]


def test_a_draw_too_small_to_measure_is_said_like_any_other() -> None:
    got = reckoned(design(ribbon(), uses(n5=1e-9)))
    assert got.supplies_said == "The supplies do not do: -5V (nothing brings it)."
    assert reckoned(design(ribbon(), uses(p5=1e-9))).supplies_said.startswith("The supplies do: the tightest is +5V")


def test_nothing_is_made_up_where_the_design_says_nothing() -> None:
    got = reckoned(design())
    assert (got.conductors, got.timing, got.returns) == ((), None, None)
    assert got.supplies_said == "No card is described and no part draws anything: nothing is said of the supplies."
    assert got.conductors_said == "Nothing is said of conductors: the file does not say what the adapter is built of."
    assert got.findings == ()
    assert {
        "how it is built is not said: no conductor is reckoned with",
        "how it is built is not said: nothing is said of length and returns",
        "no card is described: one with 2 LS loads on each line is taken (from memory)",
    } <= set(got.assumed)


def test_a_size_that_is_not_said_is_left_out_or_assumed_with_its_source() -> None:
    thin = reckoned(design(ribbon(awg=None), uses(p5=0.1)))
    assert thin.conductors[0].size == "28 AWG"
    assert "the ribbon is 28 AWG, as ribbons of 1.27 mm are (common practice, no source)" in thin.assumed
    bare = reckoned(design(Build("point to point", 100), uses(p5=0.1)))
    assert bare.conductors == ()
    assert "the size of a supply wire is not said: it is not reckoned with" in bare.assumed
    board = reckoned(design(Build("printed board", 100, trace_mm=0.3), uses(p5=0.1)))
    assert board.conductors[0].size == "0.3 mm × 35 µm"
    assert any(a.startswith("the board's copper is 35 µm thick, 1 oz (") for a in board.assumed)


# ---------------------------------------------------------------------- parts


def with_part(adapter: Adapter, part: Part, *nets: str) -> Adapter:
    """Put a part in: its pins, in order, on these nets."""
    pins = dict(zip(nets, [(part.ref, pad) for pad, _ in part.pins], strict=True))
    return replace(
        adapter,
        nets=tuple(replace(n, parts=(*n.parts, pins[n.name])) if n.name in pins else n for n in adapter.nets),
        parts=(*adapter.parts, part),
    )


REGULATOR = Part(
    "U1",
    "regulator",
    "79L05",
    "",
    "regulator of -5V",
    (("1", "GND"), ("2", "input"), ("3", "output")),
    serves=("-5V",),
    draws_a={"-12V": 0.006},
    feeds="-5V",
    fed_by="-12V",
)


def oakmere_with(part: Part, *nets: str) -> Adapter:
    return with_part(plan(shipped("oakmere-88"), shipped("isa-8bit")), part, *nets)


def test_what_a_regulator_gives_is_drawn_from_the_rail_that_feeds_it_and_returns_once() -> None:
    adapter = oakmere_with(REGULATOR, "GND", "-12V", "-5V")
    got = budget(adapter, design(ribbon(), uses(n5=0.04, n12=0.02)))
    five, twelve = rail(got, "-5V"), rail(got, "-12V")
    assert [(d.who, d.amps) for d in twelve.draws] == [("card", 0.02), ("U1", 0.006), ("-5V by U1", 0.04)]
    # 12 V may be 12.6 V. Of 0.6 W the 6 mA that it takes itself make 12.6 × 0.006 = 0.0756 W; the rest is across
    #   12.6 − 5 = 7.6 V: 0.5244 / 7.6 = 69 mA is all that its heat allows, less than the 100 mA of its class.
    assert (five.fed_by, five.limit_a) == ("-12V", near(0.069))
    assert [c.what for c in five.carriers] == ["regulator U1", "contact of the card"]
    # -12V has 100 − 66 = 34 mA left. The regulator has 69 − 40 = 29 mA, and so has -5V.
    assert twelve.left_a == near(0.034)
    assert (five.left_a, five.weakest) == (near(0.029), "regulator U1")
    # The return carries 0.02 + 0.006 + 0.04 A; 16.88 mΩ of it. -5V is made at the card: of the return only the three
    #   contacts of the card are on its way, 30/3 = 10 mΩ, and its own drop is that of one contact, 30 mΩ × 40 mA.
    assert twelve.return_v == near(0.066 * 16.8822e-3, rel=1e-4)
    assert five.return_v == near(0.066 * 0.010)
    assert five.drop_v == near(0.04 * 0.030)
    assert [(c.what, c.count) for c in five.returns] == [("contact of the card", 3)]
    assert (
        "U1 gets rid of 0.6 W, in free air of no more than 25 °C (from memory): in a warmer case it gives less"
        in got.assumed
    )
    assert not coded(got.findings, "card-needs-line", "supply-overdrawn")


def test_a_rail_made_at_the_card_has_none_of_the_ribbons_return_on_its_way() -> None:
    """1.5 A of +5V over 10 m lift the card's return by more than -5V may miss; the regulator is lifted with it."""
    adapter = oakmere_with(REGULATOR, "GND", "-12V", "-5V")
    got = budget(adapter, design(ribbon(10_000), uses(p5=1.5, n5=0.04)))
    five, twelve = rail(got, "-5V"), rail(got, "-12V")
    # The conductors of the return alone: 2129.3 mΩ / 9 × 1.5 A = 354.9 mV. The contacts: 30/9 and 30/3 mΩ, 20 mV.
    assert twelve.lift_v == near(0.3749, rel=1e-3)
    assert five.lift_v == near(1.5 * 0.010)
    assert {f.signals for f in coded(got.findings, "supply-drop")} == {("+5V",), ("-12V",)}


def test_a_rail_that_arrives_too_large_is_found_too() -> None:
    """-12V over 20 m beside 2 A of +5V: 2 × (3.333 + 4258.6/9 + 10) mΩ = 973 mV more; 600 mV are allowed."""
    got = reckoned(design(ribbon(20_000), uses(p5=2.0, n12=0.01)))
    minus = rail(got, "-12V")
    assert minus.lift_v == near(0.973, rel=1e-3)
    assert (minus.most_v, minus.at_card_v) == (near(-12.973, rel=1e-4), near(-11.952, rel=1e-3))
    (over,) = [f for f in coded(got.findings, "supply-drop") if f.signals == ("-12V",)]
    # 300 mV / 2 A = 150 mΩ, less 13.33 mΩ of contacts: 9 × 136.67 mΩ for one conductor, 1230 mΩ / 0.21293 Ω/m.
    assert whole(over) == (
        "supply-drop",
        "fault",
        "-12V arrives with as much as −12.973 V at the card: the currents of the positive rails while nothing is drawn "
        "from -12V shift the return by 973 mV, more than the 600 mV allowed",
        "Make it no longer than 5776 mm or lay another wire from return to return, or let the positive rails bring "
        "less",  # 22 AWG would do, and there is no such ribbon
        BUILT,
    )
    # The return lacks (600 − 973) mV / 486.5 mΩ.
    assert (minus.weakest, minus.left_a) == ("lift allowed, in the return", near(-0.7668, rel=1e-3))
    (care,) = [
        f
        for f in coded(reckoned(design(ribbon(5_790), uses(p5=2.0, n12=0.01))).findings, "supply-drop")
        if f.signals == ("-12V",)
    ]
    assert (care.grade, care.message.partition("shift the return by ")[2]) == (
        "caution",
        "301 mV, more than half of the 600 mV allowed, and the machine's own is not exact",
    )
    less = reckoned(design(ribbon(5_776), uses(p5=2.0, n12=0.01)))
    assert not [f for f in coded(less.findings, "supply-drop") if f.signals == ("-12V",)]


def test_it_is_said_where_the_shared_return_gives_way_first() -> None:
    """+12V draws 10 mA; what it misses over 25 m of ribbon is lost by +5V, in the return."""
    got = reckoned(design(ribbon(25_000), uses(p5=1.5, p12=0.01)))
    twelve = rail(got, "+12V")
    assert twelve.return_v > twelve.allowed_v > twelve.drop_v
    # The return: 30/9 + 5323.3/9 + 30/3 = 604.8 mΩ; +5V alone makes 907.2 mV. (600 − 907.2)/604.8 − 0.01 A.
    assert (twelve.weakest, twelve.left_a) == ("drop allowed, in the return", near(-0.5180, rel=1e-3))
    assert "+12V (518 mA too much in the return, which all rails share; first: drop allowed)" in got.supplies_said
    (drop,) = [f for f in coded(got.findings, "supply-drop") if f.signals == ("+12V",)]
    assert drop.advice.startswith(
        "The shared return loses the most of it: lay another wire from return to return; make it no longer than "
    )


def test_advice_on_a_drop_is_possible_or_says_what_else_is_needed() -> None:
    """A board of 3 m with traces of 1 mm, 17.241/0.035 = 492.6 mΩ/m, and 1.4 A. Contacts: 30 mΩ of the rail and 13.33
    of the return, 60.7 mV. 125 − 60.7 = 64.3 mV are left, 45.95 mΩ: R/2 + R/3, so R = 55.1 mΩ, 111.9 mm. A trace of 3 m
    would be 26.8 mm wide.
    """
    board = Build("printed board", 3000, supply_trace_mm=1.0, copper_um=35, place=BUILT)
    got = reckoned(design(board, uses(p5=1.4)))
    (drop,) = coded(got.findings, "supply-drop")
    assert drop.advice == f"Make it no longer than 111 mm, or {OWN.format('+5V')}"
    # 2.6 A: 125 − 112.7 = 12.3 mV are left, 5.69 mΩ of one trace: 11 mm of this one, or a width of 260 mm.
    (never,) = coded(reckoned(design(board, uses(p5=2.6))).findings, "supply-drop")
    assert never.advice == (
        "No trace up to 10 mm wide brings enough, and no way of 20 mm or more: more contacts and wires for +5V and the "
        f"return, or {OWN.format('+5V')}"
    )
    wires = Build("point to point", 30_000, awg=22, place=BUILT)
    (far,) = coded(reckoned(design(wires, uses(p5=2.6))).findings, "supply-drop")
    assert far.advice.startswith("Make it no longer than ")


def test_a_regulator_gives_no_more_than_its_heat_allows() -> None:
    host = replace(shipped("oakmere-88"), supplies={})
    adapter = with_part(plan(host, shipped("isa-8bit")), REGULATOR, "GND", "-12V", "-5V")
    (over,) = coded(budget(adapter, design(ribbon(), uses(n5=0.09))).findings, "supply-overdrawn")
    assert (over.message, over.advice) == (
        "-5V: card draws 90 mA, and U1 gives no more than 69 mA",
        "Let cards draw 21 mA less, or choose a separate feed for -5V in place of U1",
    )
    (draft, *_) = recipes.regulator(facts(), "-5V", "-12V", -12.0, ("GND", "-12V", "-5V"))
    assert draft.why == (
        "gives at most 69 mA: it is rated 100 mA, and with 12.6 V at its input, 5 % more than 12 V, and the 6 mA that "
        "it takes itself, it gets as hot as its case allows (0.6 W in free air of no more than 25 °C) at 69 mA"
    )


def test_a_regulators_heat_is_reckoned_with_its_input_at_its_largest_and_its_own_current() -> None:
    assert regulator_gives_a(facts(), -12.0, 5.0, -5.0) == near(0.069)
    assert regulator_gives_a(facts(), -12.0, 0.0, -5.0) == near((0.6 - 0.072) / 7)
    assert regulator_gives_a(facts(), 8.0, 0.0, 5.0) == 0.1  # its rating: 0.6 − 0.048 = 0.552 W / 3 V = 184 mA
    assert regulator_gives_a(facts(), 5.0, 0.0, 5.0) == 0.1  # nothing across it
    assert regulator_gives_a(facts(), 120.0, 0.0, 5.0) == 0.0  # its own current is too hot already


def test_a_rail_fed_from_outside_draws_nothing_from_the_machine() -> None:
    adapter = plan(shipped("brindle-portable"), shipped("isa-8bit"))
    feed = Part(
        "X1", "terminal", "2 poles", "", "feed of -12V", (("1", "-12V"), ("2", "return")), ("-12V",), feeds="-12V"
    )
    got = budget(with_part(adapter, feed, "-12V", "GND"), design(ribbon(), uses(n12=0.2)))
    minus = rail(got, "-12V")
    assert (minus.limit_a, [c.what for c in minus.carriers]) == (None, ["contact of the card"])
    assert minus.left_a == near(0.8)
    # What comes in at the card goes back there: only the contacts of the card carry it, 30 mΩ of rail, 10 of return.
    assert (minus.drop_v, minus.return_v) == (near(0.2 * 0.030), near(0.2 * 0.010))
    # +5V, brought by the machine, is lifted there too, and nowhere before.
    assert rail(got, "+5V").lift_v == near(0.2 * 0.010)
    assert not coded(got.findings, "card-needs-line", "supply-unknown-limit", "supply-overdrawn")


def fused(
    rating_a: float, draws: float, ohms: float | None = None, limit_a: float = 3.0, others_a: float = 0.0
) -> Budget:
    """Oakmere 88 with a fuse in +5V: the rail is two nets, and all of it passes one part. The machine gives 3 A."""
    adapter = plan(shipped("oakmere-88"), shipped("isa-8bit"))
    part = Part(
        "F1", "fuse", "x", "", "fuse of +5V", (("1", "machine"), ("2", "card")), ("+5V",), feeds="+5V", fed_by="+5V"
    )
    nets: list[Net] = []
    for net in adapter.nets:
        if net.name == "+5V":
            nets += [
                replace(net, card=(), parts=(("F1", "1"),)),
                replace(net, name="+5V fused", host=(), parts=(("F1", "2"),)),
            ]
        else:
            nets.append(net)
    adapter = replace(adapter, nets=tuple(nets), parts=(part,))
    fuse = Fuse("+5V", rating_a, place=Place("riser.yaml", 20, 3), ohms=ohms)
    limits = {**adapter.host.supplies, "+5V": replace(adapter.host.supplies["+5V"], limit_a=limit_a)}
    adapter = replace(adapter, host=replace(adapter.host, supplies=limits))
    made = design(ribbon(), uses(p5=draws), fuses=(fuse,))
    return budget(adapter, replace(made, other_draws_a={"+5V": others_a} if others_a else {}))


def test_a_fuse_limits_its_rail_and_its_resistance_is_said_to_be_unknown() -> None:
    got = fused(1.0, 0.7)
    five = rail(got, "+5V")
    assert [(c.what, c.count) for c in five.carriers] == [
        ("contact of the machine", 2),
        ("ribbon conductor of 28 AWG", 2),
        ("fuse F1", 1),
        ("contact of the card", 2),
    ]
    # A fuse is loaded with no more than 75 % of its rating: 0.75 × 1.0 − 0.7 = 0.05 A are left. The contacts and
    #   conductors have 2 − 0.7 = 1.3 A, the supply 3 − 0.7 = 2.3 A.
    assert (five.weakest, five.left_a) == ("fuse F1", near(0.05))
    assert five.without_fuse
    assert (
        "what the fuse F1 loses is not in the drop of +5V: its resistance is not said "
        "(fuses: +5V: {resistance: …})" in got.assumed
    )
    assert got.supplies_said.endswith("of +5V (0.88 %), its fuse not counted.")
    assert not rail(got, "+12V").without_fuse
    assert not coded(got.findings, "fuse-too-small", "fuse-too-large", "card-needs-line")


def test_a_fuse_loaded_beyond_its_share_has_nothing_left_and_the_sentence_says_so() -> None:
    got = fused(1.0, 0.9)
    # 0.75 × 1.0 − 0.9 = −0.15 A, though the fuse is rated for more than what is drawn.
    assert (rail(got, "+5V").weakest, rail(got, "+5V").left_a) == ("fuse F1", near(-0.15))
    assert got.supplies_said == ("The supplies do not do: +5V (150 mA too much; first: fuse F1 at 75 % of its rating).")
    assert rail(fused(1.0, 0.75), "+5V").left_a == near(0.0)
    assert fused(1.0, 0.75).supplies_said.startswith("The supplies do: ")


@pytest.mark.parametrize(
    ("name", "left"),
    [
        ("oakmere-riser", 0.05),  # 0.75 × 1 A − (250 + 450) mA
        ("brindle-riser", 0.115),  # 0.75 × 500 mA − (250 mA of the card + 10 mA of the gates)
    ],
)
def test_what_is_left_behind_a_fuse_of_the_examples(name: str, left: float) -> None:
    made = api.adapt(name).budget
    assert made is not None
    assert (rail(made, "+5V").weakest, rail(made, "+5V").left_a) == ("fuse F1", near(left))


def test_a_fuse_whose_resistance_is_said_loses_its_share() -> None:
    bare, got = rail(fused(1.0, 0.7), "+5V"), fused(1.0, 0.7, ohms=0.15)
    five = rail(got, "+5V")
    assert not five.without_fuse
    assert five.drop_v == near(bare.drop_v + 0.7 * 0.15)
    assert [c.ohms for c in five.carriers if c.what == "fuse F1"] == [0.15]
    assert not [a for a in got.assumed if "F1" in a]
    assert "not counted" not in got.supplies_said
    (drop,) = coded(got.findings, "supply-drop")
    assert drop.message.startswith(
        "+5V arrives with as little as +4.851 V at the card: 137 mV are lost on the rail and "
    )
    assert drop.advice == (
        "The contacts and the fuse alone lose 135 mV: a fuse of less resistance, more contacts for +5V and the return, "
        f"or {OWN.format('+5V')}"
    )
    (unsaid,) = coded(fused(3.0, 2.1).findings, "supply-drop")
    assert "are lost on the rail (the fuse not counted) and " in unsaid.message


@pytest.mark.parametrize(
    ("written", "ohms", "complaints"),
    [
        ("{rating: 1 A, resistance: 150 mΩ}", 0.15, []),
        ("{rating: 1 A}", None, []),
        ("1 A", None, []),
        (
            "{rating: 1 A, resistance: 0.15}",
            None,
            [
                "fuses › +5V › resistance: a resistance must carry its unit, like 10 kΩ, not the bare number '0.15'",
            ],
        ),
        ("{rating: 1 A, resistance: 0 Ω}", None, ["fuses › +5V › resistance must be more than 0 Ω, not '0 Ω'"]),
    ],
)
def test_an_adapter_file_may_say_the_resistance_of_a_fuse(
    tmp_path: Path, written: str, ohms: float | None, complaints: list[str]
) -> None:
    path = tmp_path / "riser.yaml"
    path.write_text(f"format: 1\ntitle: t\nhost: oakmere-88\ncard: isa-8bit\nfuses: {{+5V: {written}}}\n", "utf-8")
    got = designs.read(path, "riser.yaml", api.check, gauges=tuple(facts().wires))
    assert [f.message for f in got.complaints] == complaints
    assert got.design is not None
    assert [f.ohms for f in got.design.fuses] == [ohms]


@pytest.mark.parametrize(
    ("rating", "draws", "limit", "code", "message", "advice"),
    [
        (
            5.0,
            0.0,
            3.0,
            "fuse-too-large",
            "a fuse gives way before what it protects: fuse F1 in +5V is for 5 A, and 2 contacts of the machine carry "
            "2 A",
            "Take a fuse for 2 A or less",
        ),
        (
            0.9,
            0.0,
            0.1,
            "fuse-too-large",
            "a fuse gives way before what it protects: fuse F1 in +5V is for 900 mA, and the machine gives 100 mA",
            "Take a fuse for 100 mA or less",
        ),
        (
            0.99,
            0.45,
            0.6,
            "fuse-too-large",
            "a fuse gives way before what it protects: fuse F1 in +5V is for 990 mA, and the machine gives 600 mA",
            "Take a fuse for 600 mA; 450 mA are drawn",
        ),
        (
            1.0,
            0.76,
            3.0,
            "fuse-too-small",
            "a fuse is loaded with no more than 75 % of its rating (common practice, no source): fuse F1 in +5V is for "
            "1 A, and 760 mA are drawn",
            "Take a fuse for 1.02 A to 2 A; 760 mA are drawn",
        ),
        (
            0.6,
            0.55,
            0.6,
            "fuse-too-small",
            "a fuse is loaded with no more than 75 % of its rating (common practice, no source): fuse F1 in +5V is for "
            "600 mA, and 550 mA are drawn",
            "No fuse fits: 550 mA need one for 734 mA or more, and the machine gives 600 mA: let cards draw no more "
            f"than 450 mA, or {OWN.format('+5V')}",
        ),
    ],
)
def test_a_fuse_lies_between_what_is_drawn_and_what_the_weakest_bears(
    rating: float, draws: float, limit: float, code: str, message: str, advice: str
) -> None:
    got = fused(rating, draws, limit_a=limit)
    (care,) = coded(got.findings, "fuse-too-small", "fuse-too-large")
    assert (care.code, care.grade, care.message, care.advice) == (code, "caution", message, advice)
    assert care.place.line == 20
    assert advice in rail(got, "+5V").change


@pytest.mark.parametrize(
    ("rating", "draws", "limit"), [(2.0, 0.0, 3.0), (0.1, 0.0, 0.1), (0.6, 0.45, 0.6), (1.0, 0.75, 3.0)]
)
def test_a_fuse_within_these_is_quiet(rating: float, draws: float, limit: float) -> None:
    assert not coded(fused(rating, draws, limit_a=limit).findings, "fuse-too-small", "fuse-too-large")


@given(st.floats(0.01, 5), st.floats(0.01, 5), st.floats(0.01, 5))
@settings(deadline=None, max_examples=60)
def test_advice_on_a_fuse_never_leaves_what_it_stands_on(rating: float, draws: float, limit: float) -> None:
    for found in coded(fused(rating, draws, limit_a=limit).findings, "fuse-too-small", "fuse-too-large"):
        named = re.fullmatch(r"Take a fuse for (?:([\d.]+ m?A) to )?([\d.]+ m?A); .*", found.advice)
        most = min(limit, 2.0)
        if named:
            assert parse(named[1] or named[2], "A") >= draws / 0.75 - 1e-6
            assert parse(named[2], "A") <= most + 1e-6
        else:
            assert found.advice.startswith("No fuse fits: ")
            assert draws / 0.75 > most * 0.99  # but for what rounding to three figures takes


def test_a_fuse_is_held_against_what_the_other_draws_leave() -> None:
    """1.5 A less 1.1 A: 400 mA. 300 mA drawn want 300/0.75 = 400 mA."""
    (large,) = coded(fused(1.5, 0.3, limit_a=1.5, others_a=1.1).findings, "fuse-too-small", "fuse-too-large")
    assert (large.code, large.message, large.advice) == (
        "fuse-too-large",
        "a fuse gives way before what it protects: fuse F1 in +5V is for 1.5 A, and beside its other draws the machine "
        "gives 400 mA",
        "Take a fuse for 400 mA; 300 mA are drawn",
    )
    assert not coded(fused(0.4, 0.3, limit_a=1.5, others_a=1.1).findings, "fuse-too-small", "fuse-too-large")
    # Where the others leave nothing no fuse is advised.
    none = fused(0.1, 0.3, limit_a=1.5, others_a=1.5)
    (small,) = coded(none.findings, "fuse-too-small", "fuse-too-large")
    assert small.advice == "No fuse fits: beside its other draws the machine gives nothing"
    assert not coded(fused(0.5, 0.3, limit_a=1.5, others_a=1.6).findings, "fuse-too-small", "fuse-too-large")


def test_a_fuse_is_neither_smaller_than_what_is_drawn_nor_larger_than_what_it_protects() -> None:
    (small,) = coded(fused(0.5, 0.9).findings, "fuse-too-small", "fuse-too-large")
    (large,) = coded(fused(2.5, 0.9).findings, "fuse-too-small", "fuse-too-large")
    assert (small.code, small.grade, small.message, small.place.line) == (
        "fuse-too-small",
        "fault",
        "a fuse carries what its rail draws: fuse F1 in +5V is for 500 mA, and 900 mA are drawn",
        20,
    )
    assert (large.code, large.grade, large.message, large.advice) == (
        "fuse-too-large",
        "caution",
        "a fuse gives way before what it protects: fuse F1 in +5V is for 2.5 A, and 2 contacts of the machine "
        "carry 2 A",
        "Take a fuse for 1.2 A to 2 A; 900 mA are drawn",
    )


def test_a_resistor_of_a_remedy_pulls_beside_the_machines_own() -> None:
    pull = Part("R1", "resistor", "4.7 kΩ", "", "pull up of IOR*", (("1", "line"), ("2", "rail")), ("IOR*",))
    adapter = oakmere_with(pull, "IOR*", "+5V")
    got = budget(adapter, design(ribbon(), uses(p5=0.1)))
    # 4.7 kΩ twice in parallel: 2.35 kΩ; 4.75/(0.95 × 2350) = 2.128 mA and 0.8 mA.
    assert line(got, "IOR*").pull_ohms == near(2350)
    assert line(got, "IOR*").sinks_a == near(2.928e-3, rel=1e-3)
    assert line(got, "IOW*").sinks_a == near(1.864e-3, rel=1e-3)


def test_what_parts_take_for_themselves_is_drawn_too() -> None:
    can = Part(
        "Y1", "oscillator", "14.31818 MHz", "", "o", (("8", "output"), ("14", "+5 V")), ("OSC",), draws_a={"+5V": 0.03}
    )
    adapter = oakmere_with(can, "card B30 OSC", "+5V")
    got = budget(adapter, design(ribbon(), uses(p5=0.1)))
    assert [(d.who, d.amps) for d in rail(got, "+5V").draws] == [("card", 0.1), ("Y1", 0.03)]
    bare = budget(adapter, design(ribbon()))
    assert bare.supplies_said.endswith("No card is described: only what the parts draw is counted.")


def test_a_line_that_a_part_makes_up_is_there_for_a_card_that_needs_it() -> None:
    can = Part("Y1", "oscillator", "14.31818 MHz", "", "o", (("8", "output"), ("14", "+5 V")), ("OSC",))
    card = replace(uses(p5=0.1), needs=("OSC",))
    assert coded(reckoned(design(ribbon(), card)).findings, "card-needs-line")
    adapter = oakmere_with(can, "card B30 OSC", "+5V")
    assert not coded(budget(adapter, design(ribbon(), card)).findings, "card-needs-line")


def turned(line: str, *, there: bool) -> Adapter:
    """A card that has a line with the other polarity; the machine has it as the bus does, or not at all."""
    other = line.removesuffix("*") if line.endswith("*") else f"{line}*"
    host = {"1": "GND", "2": "+5V"} | ({"3": line} if there else {})
    return plan(pin_map(host), pin_map({"1": "GND", "2": "+5V", "3": other}, end="card", name="card"))


@pytest.mark.parametrize("line", ["AEN", "RESET", "TC", "IRQ4"])
def test_a_gate_brings_a_line_that_the_card_has_with_the_other_polarity(line: str) -> None:
    adapter, made = turned(line, there=True), design(ribbon(), replace(uses(p5=0.1), needs=(line,)))
    (lack,) = coded(budget(adapter, made).findings, "card-needs-line")
    assert lack.message == f"card needs {line}: it is there with the opposite polarity, and no part makes it up"
    assert lack.advice.startswith("Inverter: ")
    gate = Part(
        "U1", "inverter", "74LS04", "", "i", (("1", f"input, {line}*"), ("2", f"output, {line}*")), (f"{line}*",)
    )
    ours = next(n.name for n in adapter.nets if n.card and n.signal == line)
    theirs = next(n.name for n in adapter.nets if n.host and n.name != ours and n.state == "active")
    pins = (ours, theirs) if line == "IRQ4" else (theirs, ours)
    assert not coded(budget(with_part(adapter, gate, *pins), made).findings, "card-needs-line")


@pytest.mark.parametrize(("other", "lacks"), [("rail", []), ("return", [("AEN",)])])
def test_a_tie_of_an_inverted_line_is_at_its_own_level_of_rest(other: str, lacks: list[tuple[str, ...]]) -> None:
    """The dictionary ties AEN low where nothing does DMA: AEN* then rests high."""
    adapter = turned("AEN", there=False)
    link = Part("R1", "link", "0 Ω", "", "tie of AEN*", (("1", "line"), ("2", other)), ("AEN*",))
    aen = next(n.name for n in adapter.nets if n.card and n.card[0].name == "AEN*")
    tied_to = with_part(adapter, link, aen, "+5V" if other == "rail" else "GND")
    got = budget(tied_to, design(ribbon(), replace(uses(p5=0.1), needs=("AEN",))))
    assert [f.signals for f in coded(got.findings, "card-needs-line")] == lacks


def written(folder: Path, text: str) -> Budget:
    """The budget of an adapter file that ends so."""
    path = folder / "riser.yaml"
    path.write_text(f"format: 1\ntitle: t\n{text}\n", "utf-8")
    made = api.adapt(path).budget
    assert made is not None
    return made


@pytest.mark.parametrize(
    ("chosen", "alone"),
    [("{kind: pull up, value: 330 Ω, to: +5V}", "a pull-up"), ("leave open", "leaving it open")],
)
def test_advice_never_repeats_what_the_file_chose(tmp_path: Path, chosen: str, alone: str) -> None:
    cards = "cards: [{name: a, draws: {+5V: 100 mA}, needs: [MASTER*]}]"
    got = written(tmp_path, f"host: tarn-rack\ncard: isa-16bit\n{cards}\nremedies: {{MASTER*: {chosen}}}")
    (lack,) = [f for f in coded(got.findings, "card-needs-line") if "MASTER*" in f.signals]
    assert lack.advice == f"This card cannot work here: {alone} {QUIET}"


def test_a_remedy_that_would_do_is_advised_in_place_of_the_one_chosen(tmp_path: Path) -> None:
    cards = "cards: [{name: a, draws: {+5V: 100 mA}, needs: [OSC]}]"
    got = written(tmp_path, f"host: oakmere-88\ncard: isa-8bit\n{cards}\nremedies: {{OSC: leave open}}")
    (lack,) = [f for f in coded(got.findings, "card-needs-line") if "OSC" in f.signals]
    assert lack.advice.startswith("Oscillator 14.31818 MHz")


@pytest.mark.parametrize(
    "refused",
    ["cards: [{name: a, kind: programmed I/O, draws: {+5V: -700 mA}}]", "fuses: {+5V: 1A2}", "other draws: {-5V: 1 A}"],
)
def test_it_is_not_said_that_the_supplies_do_where_values_were_refused(tmp_path: Path, refused: str) -> None:
    rest = "host: oakmere-88\ncard: isa-8bit\n"
    if "cards" not in refused:
        rest += "cards: [{name: a, draws: {+5V: 100 mA}}]\n"
    assert written(tmp_path, f"{rest}{refused}").supplies_said.startswith(
        "Whether the supplies do is not known, for values in the file were refused; as far as it could be read, the "
        "tightest is +5V with "
    )
    good = refused.replace("-700", "700").replace("1A2", "1 A").replace("{-5V", "{+5V")
    assert written(tmp_path, f"{rest}{good}").supplies_said.startswith("The supplies do: ")


def test_an_inverter_is_reckoned_as_a_gate_that_holds_the_cards_alone() -> None:
    gate = Part("U1", "inverter", "74LS04", "", "i", (("1", "input, RESET"), ("2", "output, RESET")), ("RESET",))
    adapter = plan(shipped("brindle-portable"), shipped("isa-8bit"))
    got = budget(with_part(adapter, gate, "RESET*", "RESET"), design(ribbon(), uses(p5=0.1), other_slots=5))
    reset = line(got, "RESET")
    assert (reset.driver, reset.can_sink_a, reset.can_source_a) == ("U1", 0.008, 0.0004)
    assert reset.sinks_a == near(0.8e-3)
    # The machine's driver has ten inputs of the other slots on RESET*, and the gate: 11 × 0.4 mA.
    given = line(got, "RESET*")
    assert (given.driver, given.sinks_a, given.can_sink_a) == ("host", near(4.4e-3), 0.024)


def test_a_supervisor_is_reckoned_as_what_drives_its_line() -> None:
    """Brindle Portable's RESET made anew: nine LS loads ask 3.6 mA, and the part sinks 3.2 mA; eight ask no more."""
    watch = Part("U1", "supervisor", "class 810", "", "r", (("1", "GND"), ("2", "RESET")), ("RESET",))
    adapter = with_part(plan(shipped("brindle-portable"), shipped("isa-8bit")), watch, "GND", "RESET")
    over = budget(adapter, design(ribbon(), replace(uses(p5=0.1), loads=9), other_slots=3))
    reset = line(over, "RESET")
    assert (reset.driver, reset.can_sink_a, reset.source) == ("U1", 0.0032, "from memory")
    assert (reset.sinks_a, reset.sources_a) == (near(3.6e-3), near(0.18e-3))
    assert [f.message[:67] for f in coded(over.findings, "line-overloaded") if f.signals == ("RESET",)] == [
        "RESET: at the high level 0.18 mA are taken, and the driver gives 0.",
        "RESET: at the low level 3.6 mA flow into the driver (U1), which sin",
    ]
    good = budget(adapter, design(ribbon(), replace(uses(p5=0.1), loads=7)))
    assert not coded(good.findings, "line-overloaded")
    assert not [a for a in good.assumed if "U1" in a]


def inverted(signal: str, value: str, other_slots: int = 0) -> Budget:
    """A line that a card drives, of the opposite polarity at the machine, with a gate between."""
    adapter = plan(
        pin_map({"1": "GND", "2": "+5V", "3": signal.removesuffix("*")}),
        pin_map({"1": "GND", "2": "+5V", "3": f"{signal.removesuffix('*')}*"}, end="card", name="card"),
    )
    gate = Part("U1", "inverter", value, "", "i", (("1", f"input, {signal}"), ("2", f"output, {signal}")), (signal,))
    ours = next(n.name for n in adapter.nets if n.card and n.signal == signal)
    theirs = next(n.name for n in adapter.nets if n.host and n.name != ours and n.state == "active")
    return budget(with_part(adapter, gate, ours, theirs), design(ribbon(), uses(p5=0.1), other_slots=other_slots))


def test_a_gate_that_a_card_drives_is_held_against_the_machines_side() -> None:
    """IRQ3: the card's output has the gate's input, 0.4 mA. The gate has the machine's two loads and its pull-up of
    2.2 kΩ: 0.8 + 4.75/2090 = 3.073 mA of the 8 mA of an LS gate.
    """
    got = inverted("IRQ3", "74LS04")
    ours, theirs = (next(b for b in got.lines if b.driver == who) for who in ("card", "U1"))
    assert (ours.sinks_a, ours.can_sink_a, ours.pull_ohms) == (near(0.4e-3), 0.004, None)
    assert (theirs.sinks_a, theirs.can_sink_a, theirs.pull_ohms) == (near(3.073e-3, rel=1e-3), 0.008, 2200)
    assert theirs.sources_a == near(40e-6)
    assert not coded(got.findings, "line-overloaded")


def test_a_gate_that_only_pulls_low_sinks_what_such_gates_do() -> None:
    """IOCHRDY: 0.8 + 4.75/950 = 5.8 mA of the 40 mA of an open-collector gate; the pull-up gives 2.238 mA."""
    (theirs,) = [b for b in inverted("IOCHRDY", "74LS06").lines if b.driver.startswith("U1")]
    assert (theirs.driver, theirs.sinks_a, theirs.can_sink_a) == ("U1 (open collector)", near(5.8e-3, rel=1e-3), 0.04)
    assert theirs.can_source_a == near(2.238e-3, rel=1e-3)


def led(line: str, *to: str, loads: int | None = None, more: Part | None = None) -> Budget:
    """Oakmere 88 with a jumper block that leads a line of the card to lines of the slot, the first one set."""
    pins = [
        pin for i, name in enumerate(to) for pin in ((str(2 * i + 1), line), (str(2 * i + 2), f"{name} of the slot"))
    ]
    block = Part("JP1", "jumper", "pins", "", f"jumper of {line}", tuple(pins), (line,))
    adapter = plan(shipped("oakmere-88"), shipped("isa-8bit"))
    on = {line: [("JP1", str(2 * i + 1)) for i in range(len(to))]}
    on |= {name: [("JP1", str(2 * i + 2))] for i, name in enumerate(to)}
    nets = tuple(
        replace(n, name=n.signal or n.name, parts=(*n.parts, *on[n.signal])) if n.signal in on else n
        for n in adapter.nets
    )
    adapter = replace(adapter, nets=nets, parts=(block,))
    if more:
        adapter = with_part(adapter, more, to[0], "+5V")
    return budget(adapter, design(ribbon(), replace(uses(p5=0.1), loads=loads)))


def test_a_line_that_a_jumper_leads_to_the_slot_is_reckoned_with_what_hangs_there() -> None:
    """IRQ7 led to IRQ5: the machine's two loads and its 2.2 kΩ there, 3.073 mA of the 4 mA of a card."""
    got = led("IRQ7", "IRQ5", "IRQ3")
    assert line(got, "IRQ7") == line(got, "IRQ5")
    assert (line(got, "IRQ7").sinks_a, line(got, "IRQ7").pull_ohms) == (near(3.073e-3, rel=1e-3), 2200)
    # A pull-up of a remedy there counts as well: another 2.2 kΩ, 5.345 mA are too much.
    pull = Part("R1", "resistor", "2.2 kΩ", "", "pull up of IRQ5", (("1", "line"), ("2", "rail")), ("IRQ5",))
    over = led("IRQ7", "IRQ5", more=pull)
    assert (line(over, "IRQ7").sinks_a, line(over, "IRQ7").pull_ohms) == (near(5.345e-3, rel=1e-3), near(1100))
    assert [f.signals for f in coded(over.findings, "line-overloaded")] == [("IRQ5", "IRQ7")]


def test_an_input_that_a_jumper_leads_to_a_line_of_the_slot_loads_its_driver() -> None:
    """DACK3* of the card led to DACK1*: five loads at either contact, ten on the machine's DACK1*; DACK2* has five."""
    got = led("DACK3*", "DACK1*", "DACK2*", loads=5)
    assert [line(got, name).sinks_a for name in ("DACK1*", "DACK2*")] == [near(4e-3), near(2e-3)]
    assert not [b for b in got.lines if "DACK3*" in b.signals]


# ---------------------------------------------------------------------- what else the machine feeds


@pytest.mark.parametrize(
    ("others", "over"),
    [
        ({"+5V": 0.5}, []),
        (
            {"+5V": 0.51},
            [
                "+5V: card draws 1 A, the machine and its other slots 510 mA, and the machine gives no more than 1.5 A",
                f"Let cards draw 10 mA less, or {OWN.format('+5V')}",
            ],
        ),
    ],
)
def test_what_else_is_drawn_from_the_machine_shares_its_limit_alone(others: dict[str, float], over: list[str]) -> None:
    bare = rail(reckoned(design(ribbon(), uses(p5=1.0))), "+5V")
    got = reckoned(replace(design(ribbon(), uses(p5=1.0), other_slots=2), other_draws_a=others))
    five = rail(got, "+5V")
    assert [text for f in coded(got.findings, "supply-overdrawn") for text in (f.message, f.advice)] == over
    assert (five.weakest, five.left_a) == ("machine's supply", near(0.5 - others["+5V"]))
    assert (five.others_a, five.drawn_a, five.drop_v, five.return_v) == (
        others["+5V"],
        bare.drawn_a,
        bare.drop_v,
        bare.return_v,
    )
    assert not coded(got.findings, "figure-assumed")
    assert got.supplies_said.endswith(
        f" Beside the adapter the machine gives {round(others['+5V'] * 1000)} mA of +5V; its limits are held against "
        "both."
    )


@pytest.mark.parametrize("cards", [(uses(p5=0.1),), ()])
def test_a_rail_that_others_alone_overdraw_is_a_fault_also_where_the_cards_draw_nothing(
    cards: tuple[CardUse, ...],
) -> None:
    made = replace(design(ribbon(), *cards, other_slots=2), other_draws_a={"+5V": 0.1, "+12V": 0.9})
    got = reckoned(made)
    (over,) = coded(got.findings, "supply-overdrawn")
    assert (over.grade, over.message, over.advice, over.signals) == (
        "fault",
        "+12V: the machine and its other slots draw 900 mA, and the machine gives no more than 500 mA",
        "Let the cards in the other slots draw 400 mA less, or correct the figure in other draws",
        ("+12V",),
    )
    assert rail(got, "+12V").change == over.advice
    assert got.supplies_said.startswith("The supplies do not do: +12V (400 mA too much; first: machine's supply).")
    good = reckoned(replace(made, other_draws_a={"+5V": 0.1, "+12V": 0.5}))
    assert not coded(good.findings, "supply-overdrawn")
    assert "do not do" not in good.supplies_said


def test_other_slots_whose_draws_are_not_said_are_a_caution() -> None:
    made = design(ribbon(), uses(p5=1.0, p12=0.1), other_slots=2)
    got = reckoned(made)
    (care,) = coded(got.findings, "figure-assumed")
    text = (
        "the file does not say what the cards in 2 other slots and the machine itself draw from {}: nothing is counted"
    )
    assert whole(care) == (
        "figure-assumed",
        "caution",
        f"all that a rail of the machine feeds shares its limit, and {text.format('+5V and +12V')}",
        "Write it under other draws: {+5V: …}, from labels, manuals or a meter; 0 A for nothing",
        NOWHERE,
    )
    assert text.format("+5V and +12V") in got.assumed
    half = reckoned(replace(made, other_draws_a={"+5V": 0.1}))
    assert text.format("+12V") in half.assumed
    assert not coded(reckoned(replace(made, other_draws_a={"+5V": 0.1, "+12V": 0.0})).findings, "figure-assumed")
    assert not coded(reckoned(design(ribbon(), uses(p5=1.0))).findings, "figure-assumed")


@pytest.mark.parametrize(
    ("written", "read", "complaints"),
    [
        ("{VCC: 500 mA, +12V: 0 A}", {"+5V": 0.5, "+12V": 0.0}, []),
        ("{+5V: 1}", {}, ["other draws › +5V: a current must carry its unit, like 1.5 A, not the bare number '1'"]),
        (
            "{+5V: -1 A}",
            {},
            ["other draws › +5V must be 0 or more, not '-1 A'"],
        ),
        (
            "{IRQ3: 1 A}",
            {},
            ["other draws must name a rail of the card (+5V, -5V, -12V or +12V), not 'IRQ3'"],
        ),
        (
            "{-5V: 1 A}",
            {"-5V": 1.0},
            ["other draws must name a rail that the slot brings, and oakmere-88 does not bring -5V"],
        ),
        (
            "{+5V: 1 A, VCC: 2 A}",
            {"+5V": 1.0},
            ["other draws must name a rail once, and say one thing of it: +5V stands in line 5 already"],
        ),
    ],
)
def test_an_adapter_file_may_say_what_else_is_drawn(
    tmp_path: Path, written: str, read: dict[str, float], complaints: list[str]
) -> None:
    path = tmp_path / "riser.yaml"
    path.write_text(f"format: 1\ntitle: t\nhost: oakmere-88\ncard: isa-8bit\nother draws: {written}\n", "utf-8")
    got = designs.read(path, "riser.yaml", api.check, gauges=tuple(facts().wires))
    assert [f.message for f in got.complaints] == complaints
    assert {f.place.line for f in got.complaints} <= {5}
    assert got.design is not None
    assert got.design.other_draws_a == read


@pytest.mark.parametrize("written", ["?", "open"])
def test_the_advice_to_feed_a_rail_from_elsewhere_can_be_followed(tmp_path: Path, written: str) -> None:
    """With ? at its contacts the rail takes a feed; with open they would be offered for the return as well."""
    text = (library.shipped() / "demo" / "oakmere-88.yaml").read_text("utf-8")
    for label in ("4", "60"):
        text = text.replace(f"\n  {label}: +5V\n", f'\n  {label}: "{written}"\n')
    (tmp_path / "own.yaml").write_text(text.replace("\n  +5V: {limit: 1.5 A}", ""), "utf-8")
    (tmp_path / "riser.yaml").write_text(
        "format: 1\ntitle: t\nhost: own.yaml\ncard: isa-8bit\nbuild: {as: ribbon, length: 150 mm}\n"
        "cards: [{name: card, draws: {+5V: 1.6 A}}]\nremedies: {+5V: {kind: separate feed, value: +5 V}}\n",
        "utf-8",
    )
    adapter = api.adapt(str(tmp_path / "riser.yaml"))
    assert adapter.budget is not None
    five = rail(adapter.budget, "+5V")
    # The terminal's current runs home through the card's contacts and the terminal: none of it through the machine.
    assert [c.what for c in (*five.carriers, *five.returns)] == ["contact of the card", "contact of the card"]
    assert adapter.budget.conductors[0].carries_a < 0.01
    assert not coded(adapter.findings, "supply-overdrawn", "contact-overloaded", "remedy-not-needed")
    assert adapter.budget.returns is not None
    assert adapter.budget.returns.ground == (("64",) if written == "?" else ("4", "60", "64"))


def test_volts_have_one_sign_in_all_that_is_said() -> None:
    got = reckoned(design(ribbon(20_000), uses(n12=0.1)))
    (drop,) = [f for f in coded(got.findings, "supply-drop") if f.signals == ("-12V",)]
    assert drop.message.startswith("-12V arrives with as little as −11.5")


# ---------------------------------------------------------------------- sizes


def test_a_wire_without_a_figure_carries_what_the_next_thinner_one_does() -> None:
    assert wire_carries_a(24) == (3.5, "from memory")
    assert wire_carries_a(23) == (3.5, "from memory, as 24 AWG")
    assert ribbon_carries_a(28)[0] == ribbon_carries_a(22)[0] == 1.0
    # A thinner conductor of a ribbon carries as much less than alone as 28 AWG: 0.86 × 1/1.4 = 0.614 A.
    assert ribbon_carries_a(30) == (
        near(0.6143, rel=1e-3),
        "860 mA alone (from memory), × 0.71 in a ribbon as for 28 AWG",
    )
    assert ribbon_carries_a(29)[0] == near(0.6143, rel=1e-3)
    assert "860 mA alone (from memory, as 30 AWG)" in ribbon_carries_a(29)[1]


def test_the_size_that_would_do_does() -> None:
    thin = wire("supply wire", 28, 1000)
    assert bigger(thin, 1.4) == ""
    assert bigger(thin, 1.5) == "Take 26 AWG"  # 27 AWG counts as 28 AWG, which carries 1.4 A
    assert bigger(thin, 0.1, 0.1) == "Take 24 AWG"  # 84.2 mΩ; 25 AWG has 106.2 mΩ
    assert bigger(thin, 99) == ""
    narrow = trace("supply trace", 0.5, 35, 100)
    assert bigger(narrow, 0.1) == ""
    assert bigger(narrow, 0.1, narrow.ohms / 2.01) == "Make the trace 1.05 mm wide"
    assert bigger(narrow, 0.1, -1.0) == ""
    assert bigger(narrow, 0.1, narrow.ohms / 20) == "Make the trace 10.00 mm wide"
    assert bigger(narrow, 0.1, narrow.ohms / 20.1) == ""  # no trace is as wide


def test_a_signals_conductor_that_carries_too_much_is_a_danger() -> None:
    built = conductors(Build("point to point", 100, awg=30, supply_awg=24))
    table, said, (over,) = conductor_use(built, 1.0, 0.9, BUILT)
    assert whole(over) == (
        "conductor-overloaded",
        "danger",
        "a signal wire of 30 AWG carries no more than 860 mA (resistance: Wire gauge table at "
        "hyperphysics.phy-astr.gsu.edu; carries: from memory), not the 900 mA of a signal",
        "Take 28 AWG",
        BUILT,
    )
    assert [c.carries_a for c in table] == [1.0, 0.9]
    assert said == "A signal wire of 30 AWG carries 900 mA, more than the 860 mA that it may."
    assert conductor_use(built, 1.0, 0.8, BUILT)[2] == []


def test_an_unknown_size_of_wire_stops_the_work_and_is_named() -> None:
    with pytest.raises(ValueError, match="not 12 AWG"):
        conductors(Build("point to point", 100, awg=12))


def test_every_pull_of_the_dictionaries_is_understood() -> None:
    for name in ("oakmere-88", "tarn-rack"):
        for signal in shipped(name).bus.signals.values():
            assert (lowest_pull(signal.pull) is None) == (not signal.pull)
    assert lowest_pull("4.7-10 kΩ up") == (4700, "up")
    assert lowest_pull("330 Ω-1 kΩ up") == (330, "up")
    assert lowest_pull("2.2 kΩ up") == (2200, "up")
    assert lowest_pull("5.6-10 kΩ down") == (5600, "down")
    assert lowest_pull("strong") is None


# ---------------------------------------------------------------------- what must hold for every design

AMPS = st.floats(0, 5, allow_nan=False)
LENGTHS = st.floats(0, 5000, allow_nan=False)
GAUGES = st.sampled_from(sorted(facts().wires))


def between(returns: int, rails: int, card_rails: int = 1) -> Adapter:
    """Two headers: `rails` contacts of +5V and `returns` of GND at the machine, as many returns at the card."""
    host = {str(i): "GND" for i in range(1, returns + 1)} | {str(30 + i): "+5V" for i in range(rails)} | {"29": "+12V"}
    card = (
        {str(i): "GND" for i in range(1, returns + 1)}
        | {str(30 + i): "+5V" for i in range(card_rails)}
        | {"29": "+12V"}
    )
    limits = {"+5V": 3.0, "+12V": 1.0}
    return plan(
        pin_map(host, header(20, 1.0), limits=limits),
        pin_map(card, header(20, 1.0), end="card", name="card"),
    )


PLAIN = between(4, 3, 3)


def lost(supply: SupplyBudget) -> float:
    return supply.drop_v + supply.return_v


@given(LENGTHS, LENGTHS, AMPS, AMPS, GAUGES)
@settings(deadline=None, max_examples=40)
def test_more_length_is_never_less_drop(one: float, other: float, five: float, twelve: float, awg: int) -> None:
    short, long = (
        budget(PLAIN, design(ribbon(length, awg), uses(p5=five, p12=twelve))) for length in sorted((one, other))
    )
    for a, b in zip(short.supplies, long.supplies, strict=True):
        assert a.drop_v <= b.drop_v + 1e-12
        assert a.return_v <= b.return_v + 1e-12
        assert a.volts > 0
        assert a.at_card_v >= b.at_card_v - 1e-12


@given(st.lists(AMPS, min_size=1, max_size=6), LENGTHS)
@settings(deadline=None, max_examples=40)
def test_a_load_split_over_cards_adds_up_to_the_same(parts: list[float], length: float) -> None:
    total = sum(parts)
    split = budget(PLAIN, design(ribbon(length), *(replace(uses(p5=a), name=f"card {i}") for i, a in enumerate(parts))))
    whole_ = budget(PLAIN, design(ribbon(length), uses(p5=total)))
    one, other = rail(split, "+5V"), rail(whole_, "+5V")
    assert one.drawn_a == near(sum(d.amps for d in one.draws)) == near(total)
    assert one.drop_v == near(other.drop_v)
    assert one.return_v == near(other.return_v)
    assert one.left_a is not None
    assert other.left_a == near(one.left_a)


@given(AMPS, AMPS, LENGTHS)
@settings(deadline=None, max_examples=40)
def test_what_is_left_is_what_the_weakest_takes_less_what_it_has(five: float, twelve: float, length: float) -> None:
    got = budget(PLAIN, design(ribbon(length), uses(p5=five, p12=twelve)))
    returned = five + twelve
    for s in got.supplies:
        rests = [(s.limit_a or 0.0) - s.drawn_a]
        rests += [c.total_a - s.drawn_a for c in s.carriers if c.total_a is not None]
        rests += [c.total_a - returned for c in s.returns if c.total_a is not None]
        own, back = (sum(c.ohms / c.count for c in way) for way in (s.carriers, s.returns))
        others = s.return_v - back * s.drawn_a
        rests.append(
            (s.allowed_v - others) / back - s.drawn_a
            if others > s.allowed_v
            else (s.allowed_v - lost(s)) / (own + back)
        )
        assert s.left_a == near(min(rests))
        assert s.drop_v == near(s.drawn_a * sum(c.ohms / c.count for c in s.carriers))
        assert s.return_v == near(returned * sum(c.ohms / c.count for c in s.returns))
        assert s.at_card_v == near(s.volts - s.drop_v - s.return_v)


@given(AMPS, AMPS, LENGTHS, st.floats(0.1, 10))
@settings(deadline=None, max_examples=40)
def test_all_currents_scaled_scale_all_drops(five: float, twelve: float, length: float, k: float) -> None:
    once = budget(PLAIN, design(ribbon(length), uses(p5=five, p12=twelve)))
    scaled = budget(PLAIN, design(ribbon(length), uses(p5=five * k, p12=twelve * k)))
    for a, b in zip(once.supplies, scaled.supplies, strict=True):
        assert b.drop_v == near(a.drop_v * k)
        assert b.return_v == near(a.return_v * k)
    assert scaled.conductors[0].carries_a == near(max(once.conductors[0].carries_a * k, _signal(once)))


def _signal(budget: Budget) -> float:
    return max((max(b.sinks_a, b.sources_a) for b in budget.lines), default=0.0)


@pytest.mark.parametrize("build", [ribbon(800), Build("point to point", 800, awg=24)])
@pytest.mark.parametrize("returns", [1, 2, 3, 7])
def test_a_further_return_or_contact_never_makes_it_worse(returns: int, build: Build) -> None:
    made = design(build, uses(p5=1.5, p12=0.5))
    few, more, wide = (
        rail(budget(between(*n), made), "+5V") for n in ((returns, 1), (returns + 1, 1), (returns + 1, 2, 2))
    )
    assert few.return_v > more.return_v
    assert few.drop_v == more.drop_v
    assert more.drop_v > wide.drop_v
    assert None not in (few.left_a, more.left_a, wide.left_a)
    assert (few.left_a or 0.0) <= (more.left_a or 0.0) <= (wide.left_a or 0.0)


@given(st.integers(0, 20), st.integers(0, 20), st.integers(0, 8))
@settings(deadline=None, max_examples=30)
def test_loads_add_up_whoever_hangs_them_on(one: int, other: int, slots: int) -> None:
    cards = (replace(uses(), loads=one), replace(uses(), loads=other))
    split = budget(_LINES, design(None, *cards, other_slots=slots))
    joined = budget(_LINES, design(None, replace(uses(), loads=one + other + 2 * slots)))
    for a, b in zip(split.lines, joined.lines, strict=True):
        assert (a.signals, a.sinks_a, a.sources_a) == (b.signals, near(b.sinks_a), near(b.sources_a))


_LINES = plan(shipped("tarn-rack"), shipped("isa-16bit"))


def test_every_figure_of_a_conductor_says_its_source() -> None:
    for build in (ribbon(), Build("point to point", 10, awg=24), Build("printed board", 10, trace_mm=1, copper_um=35)):
        got: tuple[ConductorBudget, ...] = reckoned(design(build, uses(p5=0.1))).conductors
        assert all(c.source for c in got)
    assert all(c.source for s in reckoned(design(ribbon(), uses(p5=0.1))).supplies for c in (*s.carriers, *s.returns))


def test_findings_without_a_place_in_the_file_have_none() -> None:
    made = design(Build("ribbon", 700, awg=28), CardUse("card", draws_a={"+5V": 9.0}))
    assert {f.place for f in reckoned(made).findings} == {NOWHERE}
