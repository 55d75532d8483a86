"""What each remedy is made of: parts with value, footprint, pins and reasons, not yet on a plan.

Footprints are names of the open KiCad footprint library 6.0.11, whose pads were looked at. Pinouts are from memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from .design import Fuse
from .electrical.facts import Facts
from .electrical.regulator import regulator_gives_a
from .parts import Part, PartKind
from .pulls import Pull, ohms_text, small
from .quantity import amps, volts
from .text import listed

RESISTOR = "Resistor_THT:R_Axial_DIN0207_L6.3mm_D2.5mm_P10.16mm_Horizontal"
CERAMIC = "Capacitor_THT:C_Disc_D5.0mm_W2.5mm_P5.00mm"
ELECTROLYTIC = "Capacitor_THT:CP_Radial_D5.0mm_P2.50mm"
OSCILLATOR = "Oscillator:Oscillator_DIP-14"
REGULATOR = "Package_TO_SOT_THT:TO-92_Inline_Wide"
SUPERVISOR = "Package_TO_SOT_SMD:SOT-23_Handsoldering"
GATES = "Package_DIP:DIP-14_W7.62mm"
TERMINAL = "TerminalBlock:TerminalBlock_bornier-2_P5.08mm"
RESETTABLE = "Capacitor_THT:C_Disc_D9.0mm_W5.0mm_P5.00mm"  # a disc of the same shape

#: The (input, output) pads of the six gates of a 74LS04. From memory.
GATE_PADS = (("1", "2"), ("3", "4"), ("5", "6"), ("9", "8"), ("11", "10"), ("13", "12"))
#: The volts for which parts are usually made, none that is seldom on the shelf. From memory.
CAPACITORS_V = (25.0, 50.0, 63.0, 100.0)
MELTING_V = (32.0, 63.0, 125.0, 250.0)
RESETTABLE_V = (16.0, 30.0, 60.0)
PINOUT = "compare the pinout, which is from memory, with the data sheet of the part that you have"


class Draft(Struct, frozen=True):
    """A part without a reference; `pins` are (pad, what the pin is, name of the net). The rest is as in `Part`."""

    kind: PartKind
    value: str
    footprint: str
    purpose: str
    pins: tuple[tuple[str, str, str], ...]
    serves: tuple[str, ...] = ()
    why: str = ""
    source: str = ""
    draws_a: Mapping[str, float] = {}
    feeds: str = ""
    fed_by: str = ""
    fit: str = ""

    def part(self, ref: str) -> Part:
        """Return the part under a reference."""
        return Part(
            ref,
            self.kind,
            self.value,
            self.footprint,
            self.purpose,
            tuple((pad, what) for pad, what, _ in self.pins),
            self.serves,
            self.why,
            self.source,
            self.draws_a,
            self.feeds,
            self.fed_by,
            self.fit,
        )


def sources(facts: Facts, *names: str) -> str:
    """Cite the sources of some facts, each once."""
    return "; ".join(dict.fromkeys(facts.source(name) for name in names))


def rated(facts: Facts, rail_v: float, usual: Sequence[float]) -> tuple[str, str]:
    """The volts for which a part at a rail must be rated, as its value says them, and why.

    The lowest of the `usual` that is enough; the value says nothing where the volts of the rail are not known (0).
    """
    least = facts.value("rating of a part over its rail") * abs(rail_v)
    made_for = next((v for v in usual if v >= least), least)
    said = "at least twice the volts of its rail (rule of thumb)"
    if not rail_v:
        return "", f"to be rated for {said}"
    return f", {made_for:g} V", f"rated for {made_for:g} V, the lowest usual figure (from memory) that is {said}"


def pull(line: str, pull: Pull, ohms: float, net: str, rail: str, held: str = "") -> Draft:
    """A resistor from a line to a rail or return; `held` says why a line is held that is an input of a gate here."""
    facts, level = pull.facts, "high" if pull.up else "low"
    cited = [f"{level} input at {'least' if pull.up else 'most'}", "resistor tolerance"]
    why = [held] if held else []
    if pull.loads:
        each = small(pull.load_a / pull.loads)
        cited[:0] = [f"LS input {level}", *(() if held else ("loads of a slot",))]
        why.append(
            f"an LS input {'takes' if pull.up else 'gives out'} {each}; with "
            f"{'it' if pull.loads == 1 else f'{pull.loads} of them'} the line "
            f"{'stays at' if pull.up else 'comes to'} {pull.level(ohms):.2g} V at worst, and a {level} level "
            f"{'begins' if pull.up else 'ends'} at {pull.limit_v:g} V"
        )
    if pull.driven:
        sure, source = pull.sure
        verb = "sinks" if pull.up else "gives"
        why.append(
            f"the card's output overcomes it: it is sure to {verb[:-1]} {amps(sure)} ({source}) and must {verb[:-1]} "
            f"{small(pull.asks(ohms))}"
        )
    else:
        why.append("nobody drives the line against it")
    return Draft(
        "resistor",
        ohms_text(ohms),
        RESISTOR,
        f"{pull.kind} of {line}",
        (("1", "line", net), ("2", "rail" if pull.up else "return", rail)),
        (line,),
        "; ".join(why),
        sources(facts, *cited),
    )


def tie(line: str, high: bool, net: str, rail: str, why: str) -> Draft:
    """A link of 0 Ω, which keeps the line a net of its own."""
    return Draft(
        "link",
        "0 Ω",
        RESISTOR,
        f"tie {'high' if high else 'low'} of {line}",
        (("1", "line", net), ("2", "rail" if high else "return", rail)),
        (line,),
        why,
        fit="a piece of wire does as well",
    )


def capacitor(
    facts: Facts, what: str, fact: str, rail: str, ground: str, serves: str = "", rail_v: float = 5.0
) -> Draft:
    """A ceramic capacitor from a rail of `rail_v` to the return; `what` is its purpose."""
    made_for, why = rated(facts, rail_v, CAPACITORS_V)
    return Draft(
        "capacitor",
        f"{facts.constants[fact].written}{made_for}",
        CERAMIC,
        what,
        (("1", "rail", rail), ("2", "return", ground)),
        (serves,) if serves else (),
        f"ceramic, {why}",
        sources(facts, fact, "rating of a part over its rail"),
        fit="with short leads, as near as can be to what it serves",
    )


def bulk(facts: Facts, name: str, rail_v: float, rail: str, ground: str) -> Draft:
    """An electrolytic capacitor at the card's connector; its plus goes to what is more positive."""
    made_for, why = rated(facts, rail_v, CAPACITORS_V)
    plus, minus = (("rail", rail), ("return", ground)) if rail_v > 0 else (("return", ground), ("rail", rail))
    return Draft(
        "capacitor",
        f"{facts.constants['bulk capacitor'].written}{made_for}",
        ELECTROLYTIC,
        f"bulk of {name} at the card",
        (("1", f"plus, {plus[0]}", plus[1]), ("2", f"minus, {minus[0]}", minus[1])),
        (),
        f"electrolytic, {why}; for the rails that carry most",
        sources(facts, "bulk capacitor", "rating of a part over its rail"),
        fit=f"the plus is pad 1, at {name if rail_v > 0 else 'the return'}: the wrong way round it bursts",
    )


def oscillator(facts: Facts, line: str, frequency: str, net: str, logic: tuple[str, str], ground: str) -> list[Draft]:
    """A canned oscillator and its capacitor; `logic` is the logic supply's name and the net that has it."""
    rail, rail_net = logic
    return [
        Draft(
            "oscillator",
            frequency,
            OSCILLATOR,
            f"oscillator of {line}",
            (("7", "GND", ground), ("8", "output", net), ("14", "+5 V", rail_net)),
            (line,),
            "a can with an output for logic and 45 to 55 % high",
            sources(facts, "oscillator draws"),
            {rail: facts.value("oscillator draws")},
            fit=f"pad 1, at the square corner of the can, stays open; {PINOUT}",
        ),
        capacitor(facts, f"decoupling of the oscillator of {line}", "decoupling capacitor", rail_net, ground, line),
    ]


def regulator(
    facts: Facts, line: str, made_from: str, feed_v: float, nets: tuple[str, str, str], feed_percent: float = 5.0
) -> list[Draft]:
    """A regulator for −5 V with its two capacitors; `nets` are those of return, feed and output.

    `feed_percent` is the tolerance of the feed: ±5 % for −12 V in both dictionaries.
    """
    ground, feed, net = nets
    most = regulator_gives_a(facts, feed_v, feed_percent, 5.0)
    heat, warm = facts.value("regulator heat at most"), facts.value("regulator heat holds up to")
    more = f", {feed_percent:g} % more than {abs(feed_v):g} V" if feed_percent else ""
    return [
        Draft(
            "regulator",
            "79L05 (−5 V)",
            REGULATOR,
            f"regulator of {line}",
            (("1", "GND", ground), ("2", "input", feed), ("3", "output", net)),
            (line,),
            f"gives at most {amps(most)}: it is rated {amps(facts.value('regulator gives'))}, and with "
            f"{abs(feed_v) * (1 + feed_percent / 100):g} V at its input{more}, and the "
            f"{amps(facts.value('regulator draws itself'))} that it takes itself, it gets as hot as its "
            f"case allows ({heat:g} W in free air of no more than {warm:g} °C) at {amps(most)}",
            sources(facts, "regulator gives", "regulator heat at most", "regulator heat holds up to"),
            {made_from: facts.value("regulator draws itself")},
            line,
            made_from,
            f"pinout of a negative regulator, GND input output, unlike a positive one; {PINOUT}",
        ),
        capacitor(
            facts,
            f"input capacitor of the regulator of {line}",
            "regulator input capacitor",
            feed,
            ground,
            line,
            feed_v,
        ),
        capacitor(
            facts, f"output capacitor of the regulator of {line}", "regulator output capacitor", net, ground, line
        ),
    ]


def supervisor(
    facts: Facts, line: str, high: bool, net: str, logic: tuple[str, str], ground: str, loads: int
) -> list[Draft]:
    """A supply supervisor that makes a reset, active `high` or low, and its capacitor."""
    rail, rail_net = logic
    hold = facts.value("supervisor holds reset at least") * 1000
    return [
        Draft(
            "supervisor",
            f"class {'810' if high else '809'}, {facts.value('supervisor lets go below'):g} V",
            SUPERVISOR,
            f"reset circuit of {line}",
            (("1", "GND", ground), ("2", "RESET" if high else "RESET*", net), ("3", "+5 V", rail_net)),
            (line,),
            f"holds reset for {hold:g} ms or more after {rail} is up, far longer than cards need (from memory), and "
            f"while {rail} is below {facts.value('supervisor lets go below'):g} V; sinks "
            f"{amps(facts.value('supervisor sinks'))}, where the inputs on the line ask "
            f"{amps(loads * facts.value('LS input low'))}",
            sources(facts, "supervisor holds reset at least", "supervisor lets go below"),
            {rail: facts.value("supervisor draws")},
            fit=f"a small part for the solder side; {PINOUT}",
        ),
        capacitor(facts, f"decoupling of the reset circuit of {line}", "decoupling capacitor", rail_net, ground, line),
    ]


def gates(
    facts: Facts,
    purpose: str,
    lines: Sequence[tuple[str, str, str]],
    logic: tuple[str, str],
    ground: str,
    *,
    loads: int = 0,
) -> list[Draft]:
    """A package of six inverters and its capacitor; `lines` are up to six (line, net of input, net of output).

    `loads` are the inputs on each line that it drives, as far as they are known.
    """
    rail, rail_net = logic
    pins: list[tuple[str, str, str]] = []
    for index, (one, other) in enumerate(GATE_PADS):
        if index < len(lines):
            line, given, made = lines[index]
            pins += [(one, f"input, {line}", given), (other, f"output, {line}", made)]
        else:
            pins.append((one, "input, not used", ground))
    unused = [other for _, other in GATE_PADS[len(lines) :]]
    pins += [("7", "GND", ground), ("14", "+5 V", rail_net)]
    served = tuple(line for line, *_ in lines)
    stay = f"{'pad' if len(unused) == 1 else 'pads'} {listed(unused)} {'stays' if len(unused) == 1 else 'stay'} open; "
    return [
        Draft(
            "inverter",
            "74LS04",
            GATES,
            purpose,
            tuple(sorted(pins, key=lambda pin: int(pin[0]))),
            served,
            f"an output sinks {amps(facts.value('LS gate sinks'))}, and the inputs of the cards ask "
            f"{amps(loads * facts.value('LS input low'))}"
            if loads
            else f"an output sinks {amps(facts.value('LS gate sinks'))}",
            sources(facts, "LS gate sinks", "LS input low", "gate draws"),
            {rail: facts.value("gate draws")},
            fit=f"{stay if unused else ''}inputs that are not used go to the return; {PINOUT}",
        ),
        capacitor(facts, f"decoupling of the {purpose}", "decoupling capacitor", rail_net, ground),
    ]


def terminal(line: str, rail_v: float, net: str, ground: str, why: str) -> Draft:
    """A screw terminal of two poles for a feed from outside."""
    return Draft(
        "terminal",
        f"2 poles, {volts(rail_v)}",
        TERMINAL,
        f"feed of {line}",
        (("1", line, net), ("2", "return", ground)),
        (line,),
        why,
        feeds=line,
        fit=f"{volts(rail_v)} at pole 1, return at pole 2; measure before a card goes in",
    )


def fuse(facts: Facts, rail: str, one: Fuse, rail_v: float, nets: tuple[str, str]) -> Draft:
    """A fuse in a rail of `rail_v`; `nets` are those of the machine's side of it and of the card's."""
    host, card = nets
    made_for, why = rated(facts, rail_v, RESETTABLE_V if one.resettable else MELTING_V)
    return Draft(
        "fuse",
        f"{amps(one.rating_a)} fuse, {'resettable' if one.resettable else 'melting'}{made_for}",
        RESETTABLE if one.resettable else RESISTOR,
        f"fuse of {rail}",
        (("1", "machine", host), ("2", "card", card)),
        (rail,),
        f"carries {amps(one.rating_a)} for good and parts the card from {rail} when something is wrong; {why}",
        facts.source("rating of a part over its rail"),
        feeds=rail,
        fed_by=rail,
        fit="either way round",
    )


def jumper(line: str, to: Sequence[str], net: str, slot_nets: Sequence[str]) -> Draft:
    """A block of pins in two rows: the card's line on the one, a line of the slot at each pin of the other."""
    pins: list[tuple[str, str, str]] = []
    for index, (name, slot_net) in enumerate(zip(to, slot_nets, strict=True)):
        pins += [(str(2 * index + 1), line, net), (str(2 * index + 2), f"{name} of the slot", slot_net)]
    others = f"; others: {listed((f'{2 * i + 1}-{2 * i + 2} {name}' for i, name in enumerate(to) if i), 'or')}"
    return Draft(
        "jumper",
        f"2×{len(to)} pins",
        f"Connector_PinHeader_2.54mm:PinHeader_2x{len(to):02}_P2.54mm_Vertical",
        f"jumper of {line}",
        tuple(pins),
        (line,),
        "set one jumper and no more: two would join lines of the slot",
        fit=f"the jumper at 1-2 leads {line} to {to[0]}, as it is planned{others if len(to) > 1 else ''}",
    )
