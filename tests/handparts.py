"""An adapter with parts and a budget, made by hand for the tests of the writers: no remedy is worked out for it."""

from __future__ import annotations

from functools import cache

from msgspec.structs import replace

import pinmap
from pinmap.adapter import Adapter
from pinmap.electrical import (
    Budget,
    Carrier,
    ConductorBudget,
    Draw,
    LineBudget,
    Returns,
    SupplyBudget,
    Timing,
)
from pinmap.findings import Finding
from pinmap.parts import Part

#: part: (pad, net) of each pin
PARTS: tuple[tuple[Part, tuple[tuple[str, str], ...]], ...] = (
    (
        Part(
            "R1",
            "resistor",
            "10 kΩ",
            "Resistor_THT:R_Axial_DIN0207_L6.3mm_D2.5mm_P10.16mm_Horizontal",
            "pull-up on DACK3*",
            (("1", "DACK3*"), ("2", "+5V")),
            ("DACK3*",),
            "0.5 mA at the low level, far below what any driver sinks",
            "common practice, no source",
        ),
        (("1", "card B15 DACK3*"), ("2", "+5V")),
    ),
    (
        Part(
            "C1",
            "capacitor",
            "100 nF",
            "Capacitor_THT:C_Disc_D3.0mm_W1.6mm_P2.50mm",
            "decoupling of Y1",
            (("1", "+5V"), ("2", "GND")),
            fit="short leads, at the can",
        ),
        (("1", "+5V"), ("2", "GND")),
    ),
    (
        Part(
            "Y1",
            "oscillator",
            "14.31818 MHz",
            "Oscillator:Oscillator_DIP-14",
            "OSC of the card",
            (("7", "GND"), ("8", "OUT"), ("14", "VCC")),
            ("OSC",),
            "the line is not in step with the bus",
            draws_a={"+5V": 0.03},
            fit="the sharp corner is pin 1",
        ),
        (("7", "GND"), ("8", "card B30 OSC"), ("14", "+5V")),
    ),
    (
        Part(
            "JP1",
            "jumper",
            "1×2 pins",
            "Connector_PinHeader_2.54mm:PinHeader_1x02_P2.54mm_Vertical",
            "IRQ7 of the card to IRQ3 of the slot",
            (("1", "card"), ("2", "IRQ3")),
            ("IRQ7",),
            fit="set the jumper on 1 and 2",
        ),
        (("1", "card B21 IRQ7"), ("2", "IRQ3")),
    ),
)

BUDGET = Budget(
    supplies=(
        SupplyBudget(
            "+5V",
            5.0,
            (Draw("serial card", 0.4, thumb=True), Draw("Y1", 0.03)),
            2.0,
            (
                Carrier("contacts of J1", 2, 1.0, 0.01, "forms.yaml"),
                Carrier("wire 28 AWG", 2, None, 0.032, "wire table"),
            ),
            (Carrier("contacts of J1", 9, 1.0, 0.01),),
            0.00903,
            0.0041,
            0.25,
            "the machine's supply",
            1.57,
        ),
        SupplyBudget(
            "-12V",
            -12.0,
            (Draw("serial card", 0.025),),
            None,
            (Carrier("contacts of J1", 1, None, 0.01),),
            (),
            0.00125,
            0.0041,
            0.6,
            "not known: no limit is given",
            None,
            "measure what the machine's supply gives",
        ),
    ),
    conductors=(
        ConductorBudget("supplies", "28 AWG", 0.2129, 0.43, 1.4, None, 6.7, "wire table"),
        ConductorBudget("signals", "0.25 mm × 35 µm", 1.97, 0.0052, 0.88, 0.02, None, "IPC-2221"),
    ),
    lines=(
        LineBudget(("SD0", "SD1", "SD2", "SD3"), "data", "either", 0.0008, 0.024, 0.00004, 0.003, None, "practice"),
        LineBudget(("IRQ3",), "interrupt", "card", 0.0004, 0.024, 0.00002, 0.0004, 10e3, "practice"),
    ),
    timing=Timing(150.0, 600.0, 6e-9, 2.0, 0.75e-9, 838.1e-9, "from memory"),
    returns=Returns(53, 9, (("CLK", 4), ("IOR*", 3)), ("58", "64")),
    supplies_said="Every rail arrives within its tolerance; -12V can't be judged.",
    conductors_said="No conductor carries more than it may.",
    lines_said="Every driver manages its loads.",
    findings=(
        Finding("rail-limit", "note", "a rail's limit must be known to judge it, and that of -12V is not"),
        Finding("return-far", "caution", "a line must be shorter than 600 mm, and CLK is longer", "shorten the ribbon"),
    ),
    assumed=("A card hangs 2 LS loads on each line (from memory).",),
)


@cache
def with_parts(host: str = "oakmere-88", card: str = "isa-8bit") -> Adapter:
    """The plan of a demo machine with the four parts soldered in, and a budget that somebody made up."""
    plain = pinmap.adapt(host, card)
    pins = {(part.ref, pad): net for part, places in PARTS for pad, net in places}
    nets = tuple(replace(net, parts=tuple(pin for pin, name in pins.items() if name == net.name)) for net in plain.nets)
    carried = {line: part.ref for part, _ in PARTS for line in part.serves}
    unmapped = tuple(
        replace(u, parts=(carried[u.signal],) if u.end == "card" and u.signal in carried else ())
        for u in plain.unmapped
    )
    return replace(plain, nets=nets, unmapped=unmapped, parts=tuple(part for part, _ in PARTS), budget=BUDGET)
