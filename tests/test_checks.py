"""Each check speaks where it should, in whole sentences, and is silent beside it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from handmade import BUS8, BUS16, POWER, Line, header, pin_map, shipped, strip

from pinmap import checks, library
from pinmap.body import Body, Section
from pinmap.findings import GRADES, RULES, Finding, found, ordered, tally, verdict
from pinmap.model import PinMap, Signal

REFERENCE = pin_map({"1": "GND", "2": "SD0", "3": "SD1", "4": "open"}, strip(4), name="reference")


def said(pin: PinMap, code: str, *published: PinMap) -> list[Finding]:
    return [f for f in checks.run(pin, lambda: published) if f.code == code]


def texts(findings: list[Finding]) -> list[tuple[str, str, str, int]]:
    return [(f.grade, f.message, f.advice, f.place.line) for f in findings]


PLUS8 = Signal("+8V", "supply", volts=8.0)
DIFFERS = {name: BUS8.signals[name].elsewhere["isa-16bit"].differs for name in ("MEMR*", "IRQ2")}
ABSENT = {name: signal.absent for name, signal in BUS8.signals.items() if signal.absent}
MINUS12 = ABSENT["-12V"]

#: code, the bad map, what is said of it (grade, message, advice, line), and a map like it of which nothing is said.
CASES: list[tuple[str, PinMap, list[tuple[str, str, str, int]], PinMap]] = [
    (
        "contact-twice",
        pin_map([("1", "GND"), ("3", "SD7"), ("3", "SD6")]),
        [
            (
                "danger",
                "contact 3 must carry one thing, not SD7 and SD6 (lines 2 and 3)",
                "Find out which is right, by meter, before anything is built",
                3,
            )
        ],
        pin_map([("1", "GND"), ("3", "SD7"), ("4", "SD6")]),
    ),
    (
        "contact-twice",
        pin_map([("3", "SD7"), ("3", "d7"), ("3", "SD7")]),
        [
            (
                "caution",
                "contact 3 must be described once, not in lines 1, 2 and 3 (all say SD7)",
                "Keep one of these lines",
                3,
            )
        ],
        pin_map([("3", Line("SD7", option="a")), ("3", Line("SD7", option="b"))]),
    ),
    (
        "contact-twice",
        pin_map([("3", "RESET"), ("3", "RESET*")]),  # the polarity is half of the meaning
        [
            (
                "danger",
                "contact 3 must carry one thing, not RESET and RESET* (lines 1 and 2)",
                "Find out which is right, by meter, before anything is built",
                2,
            )
        ],
        pin_map([("3", Line("RESET", option="a")), ("3", Line("RESET*", option="b"))]),
    ),
    (
        "contact-twice",
        pin_map([("3", "open"), ("3", "+5V"), ("3", Line("+12V", option="board"))]),
        [
            (
                "danger",
                "contact 3 must carry one thing, not open, +5V and +12V (lines 1, 2 and 3)",
                "Find out which is right, by meter, before anything is built",
                3,
            )
        ],
        pin_map([("3", Line("+5V", option="a")), ("3", Line("+12V", option="b"))]),
    ),
    (
        "contact-twice",
        pin_map([("3", Line("SD7", option="a")), ("3", Line("SD6", option="a"))]),
        [
            (
                "danger",
                "contact 3 must carry one thing, not SD7 and SD6 (lines 1 and 2)",
                "Find out which is right, by meter, before anything is built",
                2,
            )
        ],
        pin_map([("3", Line("SD7", option="a")), ("3", Line("SD6", option="b"))]),
    ),
    (
        "contact-not-described",
        pin_map({"1": "GND", "2": "+5V", "4": "SD0"}, header(3), rest="undescribed"),
        [
            (
                "caution",
                "every contact must be described; 3 contacts of 6 are not: 3, 5, 6",
                "Measure them, or write `open` where nothing is connected; until then they stay unconnected",
                0,
            )
        ],
        pin_map({"1": "GND", "2": "+5V", "4": "SD0"}, header(3)),
    ),
    (
        "contact-not-described",
        pin_map({"1": "GND"}, strip(2), rest="undescribed"),
        [
            (
                "caution",
                "every contact must be described; 1 contact of 2 is not: 2",
                "Measure them, or write `open` where nothing is connected; until then they stay unconnected",
                0,
            )
        ],
        pin_map({"1": "GND", "2": "key"}, strip(2)),
    ),
    (
        "open-in-run",
        pin_map({"3": "SD7", "5": "open", "7": "SD5"}),  # in one row
        [
            (
                "caution",
                "5 is open between SD7 and SD5, where SD6 would be expected",
                "Measure 5 against SD6 of a bus chip or another slot",
                2,
            )
        ],
        pin_map({"3": "SD7", "5": "open", "7": "SD5", "9": "SD6"}),  # it is elsewhere
    ),
    (
        "open-in-run",
        pin_map({"3": "SA3", "4": "key", "5": "SA5", "6": "GND"}),  # along the numbers, across the rows
        [
            (
                "caution",
                "4 is key between SA3 and SA5, where SA4 would be expected",
                "Measure 4 against SA4 of a bus chip or another slot",
                2,
            )
        ],
        pin_map({"3": "SA3", "4": "key", "5": "SA6"}),
    ),
    (
        "open-in-run",
        pin_map({"1": "SD0", "3": "SD2"}, strip(3), rest="undescribed"),
        [
            (
                "caution",
                "2 is not described between SD0 and SD2, where SD1 would be expected",
                "Measure 2 against SD1 of a bus chip or another slot",
                0,
            )
        ],
        pin_map({"1": "IRQ3", "3": "IRQ5"}, strip(3)),  # interrupts are often brought out in part
    ),
    (
        "open-in-run",
        pin_map({"1": "SD0", "3": "SD2", "4": "GND"}, strip(4)),
        [
            (
                "caution",
                "2 is open between SD0 and SD2, where SD1 would be expected",
                "Measure 2 against SD1 of a bus chip or another slot",
                0,
            )
        ],
        # At a row's end one contact lies beside it and one across: they are no run.
        pin_map({"A2": "SD0", "B3": "SD2"}, Body("pin header", (Section(2, 3, ("A", "B")),), "rows", "top left")),
    ),
    (
        "name-other-generation",
        pin_map({"5": "SMEMR*", "6": "IRQ9"}),
        [
            (
                "caution",
                f"a map for isa-8bit must say MEMR*, not SMEMR* (5): {DIFFERS['MEMR*']}",
                "Taken as MEMR*; check which of the two the machine has",
                1,
            ),
            (
                "caution",
                f"a map for isa-8bit must say IRQ2, not IRQ9 (6): {DIFFERS['IRQ2']}",
                "Taken as IRQ2; check which of the two the machine has",
                2,
            ),
        ],
        pin_map({"5": "SMEMR*", "6": "IRQ9"}, bus=BUS16),
    ),
    (
        "polarity-opposite",
        pin_map({"5": "RESET*", "6": "IOR"}),
        [
            (
                "caution",
                "RESET must be active high on this bus, not RESET* (5)",
                "If it is meant, an inverter is needed: wire cannot map it",
                1,
            ),
            (
                "caution",
                "IOR* must be active low on this bus, not IOR (6)",
                "If it is meant, an inverter is needed: wire cannot map it",
                2,
            ),
        ],
        pin_map({"5": "RESET", "6": "-IOR"}),
    ),
    (
        "polarity-opposite",
        pin_map({"5": "IOW", "6": "IOR", "7": "MEMR", "8": "RESET*"}),
        [
            (
                "caution",
                f"{line}* must be active low on this bus, not {line} ({label})",
                "If the table marks no line as active low, say so with `marks: none`; if it does, an inverter is "
                "needed",
                number,
            )
            for number, (label, line) in enumerate({"5": "IOW", "6": "IOR", "7": "MEMR"}.items(), 1)
        ]
        + [
            (
                "caution",
                "RESET must be active high on this bus, not RESET* (8)",
                "If it is meant, an inverter is needed: wire cannot map it",
                4,
            )
        ],
        pin_map({"5": "IOW", "6": "IOR", "7": "MEMR"}, marks="none"),
    ),
    (
        "polarity-unmarked",
        pin_map({"5": "IOW", "6": "IOR", "7": "RESET"}, marks="none"),
        [
            (
                "note",
                "this table marks no line as active low; the polarity of IOW* and IOR* is the bus's, not read from the "
                "table",
                "Check one or two of them: an active-low line rests at about 3 to 5 V",
                1,
            )
        ],
        pin_map({"5": "IOW*", "6": "IOR*", "7": "RESET"}),
    ),
    (
        "signal-twice",
        pin_map({"3": "SD2", "9": "D2", "11": "SD3"}),
        [
            (
                "fault",
                "3 (map.yaml:1) and 9 (map.yaml:2) both carry SD2",
                "One of them is something else; find out which, it stays unconnected until then",
                2,
            )
        ],
        pin_map({"3": "SD2", "9": "D1", "11": "GND", "13": "GND", "15": "+5V", "17": "+5V"}),
    ),
    (
        "signal-twice",
        pin_map({"3": "AEN", "5": "AEN", "7": "AEN"}),
        [
            (
                "fault",
                "3 (map.yaml:1), 5 (map.yaml:2) and 7 (map.yaml:3) all carry AEN",
                "One of them is something else; find out which, it stays unconnected until then",
                3,
            )
        ],
        pin_map([("3", "AEN"), ("3", "AEN")]),  # described twice, but one contact
    ),
    (
        "signal-twice",
        pin_map({"3": Line("OSC", option="a"), "5": Line("OSC", option="b")}),
        [
            (
                "caution",
                "3 (map.yaml:1) and 5 (map.yaml:2) both carry OSC",
                "Each comes with an option of its own: fit only one",
                2,
            )
        ],
        pin_map({"3": Line("OSC", option="a"), "5": Line("BCLK", option="a")}),
    ),
    (
        "return-none",
        pin_map({"2": "+5V", "3": "SD0"}),
        [
            (
                "danger",
                "a connector must have a return, and this map has none",
                "Without a common return the supplies find their way through the signals: find the ground contacts "
                "with a meter (machine off, unplugged) before anything else",
                0,
            )
        ],
        pin_map({"1": "GND", "2": "+5V", "3": "SD0"}),
    ),
    (
        "return-none",
        pin_map({"1": "AGND", "2": "+5V"}, own=[Signal("AGND", "return")]),  # the maker's own ground is another circuit
        [
            (
                "danger",
                "a connector must have a return, and this map has none",
                "Without a common return the supplies find their way through the signals: find the ground contacts "
                "with a meter (machine off, unplugged) before anything else",
                0,
            )
        ],
        pin_map({"1": "AGND", "2": "+5V", "3": "GROUND"}, own=[Signal("AGND", "return")]),
    ),
    (
        "return-none",
        pin_map({"1": Line("GND", option="power board"), "2": "+5V"}),
        [
            (
                "danger",
                "a connector must have a return, and this map has one only with power board",
                "Without a common return the supplies find their way through the signals: find the ground contacts "
                "with a meter (machine off, unplugged) before anything else",
                0,
            )
        ],
        pin_map({"1": Line("GND", option="power board"), "2": "+5V", "3": "GND"}),
    ),
    (
        "return-few",
        pin_map({"1": "GND", "5": "GND", "7": Line("GND", option="board")}),
        [
            (
                "caution",
                "there are 2 returns (1 and 5), fewer than the 3 of isa-8bit",
                "Keep the adapter short, and join every return of both ends",
                1,
            )
        ],
        pin_map({"1": "GND", "5": "GND", "7": "GND"}),
    ),
    (
        "return-few",
        pin_map({"9": "GND"}, bus=BUS16),
        [
            (
                "caution",
                "there is 1 return (9), fewer than the 4 of isa-16bit, pc104-16bit or pc104-8bit",
                "Keep the adapter short, and join every return of both ends",
                1,
            )
        ],
        pin_map({"9": "GND", "11": "GND", "13": "GND", "15": "GND"}, bus=BUS16),
    ),
    (
        "return-overloaded",
        pin_map({"1": "GND", "2": "+5V", "4": "+5V"}, header(rating_a=1.0), limits={"+5V": 1.5}),
        [
            (
                "caution",
                "the rails together may deliver 1.5 A, more than 1 return carries: 1 A (1 A each)",
                "Add a separate ground wire, or let cards draw less",
                1,
            )
        ],
        pin_map({"1": "GND", "2": "+5V", "4": "+5V", "6": "GND"}, header(rating_a=1.0), limits={"+5V": 1.5}),
    ),
    (
        "return-far",
        pin_map({"1": "GND", "11": "SD0", "12": "SD1", "14": "+5V"}, strip(14)),
        [
            (
                "caution",
                "1 signal lies further than 25.9 mm from any return, the longest way on isa-8bit: SD1 (12)",
                "Give the adapter's ground its own wires near these contacts",
                3,
            )
        ],
        pin_map({"1": "GND", "11": "SD0", "12": "SD1", "13": "GND"}, strip(14)),
    ),
    (
        "return-far",
        pin_map({"1": "GND", **{str(n): f"SA{n}" for n in range(12, 20)}}, strip(20)),
        [
            (
                "caution",
                "8 signals lie further than 25.9 mm from any return, the longest way on isa-8bit: SA12 (12), "
                "SA13 (13), SA14 (14), SA15 (15), SA16 (16) and SA17 (17) …",
                "Give the adapter's ground its own wires near these contacts",
                2,
            )
        ],
        pin_map({"1": "GND", **{str(n): f"SA{n}" for n in range(12, 20)}, "20": "GND"}, strip(20)),
    ),
    (
        "rail-missing",
        pin_map({"1": "GND", "2": "+12V", "3": "-5V", "4": "-12V"}),
        [
            ("fault", f"+5V is missing: {ABSENT['+5V'].effect}", f"Remedy: {ABSENT['+5V'].remedy}", 0),
        ],
        pin_map({"1": "GND", "2": "+12V", "3": "-5V", "4": "-12V", "5": "VCC"}),
    ),
    (
        "rail-missing",
        pin_map({"2": "+12V", "3": "+5V", "5": Line("-12V", option="power board"), "7": "-5V"}),
        [
            ("caution", f"-12V comes only with power board: {MINUS12.effect}", f"Remedy: {MINUS12.remedy}", 3),
        ],
        pin_map({"2": "+12V", "3": "+5V", "5": Line("-12V", option="power board"), "6": "-12V", "7": "-5V"}),
    ),
    (
        "rail-missing",
        pin_map({"1": "GND", "2": "+12V", "3": "+5V"}),  # what the remedy of one needs is missing too
        [
            ("caution", f"-12V is missing: {MINUS12.effect}", f"Remedy: {MINUS12.remedy}", 0),
            (
                "note",
                f"-5V is missing: {ABSENT['-5V'].effect}",
                "No remedy: a regulator would be fed from -12V, which the slot does not bring either; a card that "
                "needs the rail needs a feed of its own",
                0,
            ),
        ],
        pin_map({"1": "GND", "2": "+12V", "3": "+5V", "4": "-5V", "5": "-12V"}),
    ),
    (
        "rail-two-names",
        pin_map({"1": "GND", "2": "+5V", "4": "VCC", "6": "5 V"}),
        [
            (
                "caution",
                "+5V must go by one name, not by +5V at 2 (line 2) and VCC at 4 (line 3)",
                "Makers sometimes keep two supplies or grounds apart under such names: measure that they are joined, "
                "then use one name",
                3,
            )
        ],
        pin_map({"1": "GND", "2": "+5V", "4": "+5VDC", "6": "5 V"}),
    ),
    (
        "rail-two-names",
        pin_map({"1": "GND", "3": "VSS", "5": "0V"}),
        [
            (
                "caution",
                "GND must go by one name, not by GND at 1 (line 1), VSS at 3 (line 2) and 0V at 5 (line 3)",
                "Makers sometimes keep two supplies or grounds apart under such names: measure that they are joined, "
                "then use one name",
                2,
            )
        ],
        pin_map({"1": "GND", "3": "gnd", "5": "G N D"}),
    ),
    (
        "rail-limit",
        pin_map({"1": "GND", "2": "+5V", "3": "GND"}, header(rating_a=1.0), limits={"+5V": 1.2}),
        [
            (
                "caution",
                "+5V may deliver 1.2 A, more than its 1 contact carries: 1 A (1 A each)",
                "Fuse +5V at 1 A or less, or let cards draw no more",
                90,
            )
        ],
        pin_map({"1": "GND", "2": "+5V", "3": "GND", "4": "+5V"}, header(rating_a=1.0), limits={"+5V": 1.2}),
    ),
    (
        "rail-limit",
        pin_map(
            {"1": "GND", "2": "+5V", "3": "GND", "4": "+5V", "5": "GND", "6": Line("+5V", option="board")},
            header(rating_a=0.5),
            limits={"+5V": 1.2},
        ),
        [
            (
                "caution",
                "+5V may deliver 1.2 A, more than its 2 contacts carry: 1 A (500 mA each)",
                "Fuse +5V at 1 A or less, or let cards draw no more",
                90,
            )
        ],
        pin_map({"1": "GND", "2": "+5V"}, header(), limits={"+5V": 9.0}),  # a rating that nobody knows says nothing
    ),
    (
        "rail-unknown-volts",
        pin_map({"1": "GND", "5": "+8V"}, own=[Signal("+8V", "supply")]),
        [
            (
                "caution",
                "5 carries +8V, a supply that must say its volts",
                "Write it under own signals: +8V: {group: supply, volts: …}",
                2,
            )
        ],
        pin_map({"1": "GND", "5": "+8V"}, own=[PLUS8]),
    ),
    (
        "rail-beside-rail",
        pin_map({"1": "+5V", "3": "-12V"}),
        [
            (
                "caution",
                "+5V (1) lies beside -12V (3): a slipped probe or bent pin joins them",
                "Never probe here with power on; measure on the cable or a test pin instead",
                1,
            )
        ],
        pin_map({"1": "+5V", "3": "GND", "5": "-12V", "7": "-12V", "2": "VCC"}),
    ),
    (
        "rail-beside-rail",
        pin_map({"2": "+12V", "1": "+8V"}, own=[PLUS8]),  # across the rows, and the maker's own
        [
            (
                "caution",
                "+8V (1) lies beside +12V (2): a slipped probe or bent pin joins them",
                "Never probe here with power on; measure on the cable or a test pin instead",
                2,
            )
        ],
        pin_map({"2": "+12V", "1": "+8V"}, Body("edge slot", (Section(2, 3),), "zigzag"), own=[PLUS8]),
    ),
    (
        "rail-beside-line",
        pin_map({"1": "+5V", "3": "SD0", "4": "GND", "9": "-12V", "10": "IOR*", "11": "GND"}),
        [
            (
                "note",
                "a slipped probe or bent pin puts a rail on a signal: -12V (9) beside IOR* (10) and +5V (1) beside "
                "SD0 (3)",
                "Probe these with the power off, or with an insulated tip",
                0,
            )
        ],
        pin_map({"1": "+5V", "3": "open", "5": "SD0", "2": "GND", "9": "-12V", "10": "GND", "12": "IOR*"}),
    ),
    (
        "guess",
        pin_map({**POWER, "3": Line("SD7", seen="guessed", note="smudged"), "5": Line("IOR", seen="guessed")}),
        [
            ("caution", "3 = SD7 rests on a guess (smudged)", "Measure it, or leave it unconnected", 3),
            ("caution", "5 = IOR rests on a guess", "Measure it, or leave it unconnected", 4),
        ],
        pin_map({**POWER, "3": Line("SD7", seen="measured", note="smudged")}),
    ),
    (
        "guess",
        pin_map([("3", "SD7"), ("3", Line("SD7", seen="guessed"))]),  # not hidden behind a sure description
        [("caution", "3 = SD7 rests on a guess", "Measure it, or leave it unconnected", 2)],
        pin_map([("3", "SD7"), ("3", "SD7")]),
    ),
    (
        "guess-supply",
        pin_map({"1": Line("GND", seen="guessed"), "2": Line("VCC", seen="guessed", note="thick trace")}),
        [
            (
                "danger",
                "1 = GND rests on a guess",
                "Measure it before power is applied to anything connected here",
                1,
            ),
            (
                "danger",
                "2 = +5V rests on a guess (thick trace)",
                "Measure it before power is applied to anything connected here",
                2,
            ),
        ],
        pin_map({"1": Line("GND", seen="measured"), "2": "VCC", "3": Line("SD0", seen="guessed")}),
    ),
    (
        "guess-supply",
        pin_map({**POWER, "3": Line("+8V", seen="guessed")}, own=[PLUS8]),
        [
            (
                "danger",
                "3 = +8V rests on a guess",
                "Measure it before power is applied to anything connected here",
                3,
            )
        ],
        pin_map({**POWER, "3": "+8V"}, own=[PLUS8]),
    ),
]


@pytest.mark.parametrize(("code", "bad", "expected", "good"), CASES, ids=[c[0] for c in CASES])
def test_a_bad_map_is_told_and_a_good_neighbour_is_not(
    code: str, bad: PinMap, expected: list[tuple[str, str, str, int]], good: PinMap
) -> None:
    assert texts(said(bad, code)) == expected
    assert said(good, code) == []


KEY_UNEXPECTED = (
    "caution",
    "2 is key here, but SD0 on reference",
    "Look whether the contact is really without function on this machine",
    2,
)


@pytest.mark.parametrize(
    ("contacts", "published", "expected"),
    [
        ({"1": "GND", "2": "key", "3": "SD1"}, [REFERENCE], [KEY_UNEXPECTED]),
        ({"1": "GND", "2": "SD0", "3": "SD1", "4": "key"}, [REFERENCE], []),  # it is open there too
        ({"1": "GND", "2": "key", "3": "SD1"}, [], []),
        ({"1": "GND", "2": "key", "3": "SD1"}, [pin_map({"1": "GND", "2": "SD0"}, strip(5))], []),  # another body
        # One published connector that leaves it free is enough.
        ({"1": "GND", "2": "key", "3": "SD1"}, [REFERENCE, pin_map({"2": "key", "3": "SD1"}, strip(4))], []),
    ],
)
def test_a_key_where_every_published_connector_has_a_line_is_told(
    contacts: dict[str, str], published: list[PinMap], expected: list[object]
) -> None:
    # Contact 4 is open in the map and in the reference.
    assert texts(said(pin_map(contacts, strip(4)), "key-unexpected", *published)) == expected


def test_contacts_and_signals_of_a_finding_are_named() -> None:
    (finding,) = said(pin_map({"3": "SD2", "9": "D2"}), "signal-twice")
    assert (finding.contacts, finding.signals) == (("3", "9"), ("SD2",))
    (finding,) = said(pin_map({"1": "+5V", "3": "-12V"}), "rail-beside-rail")
    assert (finding.contacts, finding.signals) == (("1", "3"), ("+5V", "-12V"))
    (finding,) = said(pin_map({"1": "+5V", "3": "SD0"}), "rail-beside-line")
    assert finding.contacts == ("1", "3")


# ---------------------------------------------------------------------- the shipped maps


@pytest.mark.parametrize("name", sorted(entry.name for entry in library.entries()))
def test_no_shipped_map_has_a_danger_or_a_fault(name: str) -> None:
    pin = shipped(name)
    published = tuple(shipped(other) for other in pin.bus.connectors)
    findings = checks.run(pin, lambda: published)
    assert [f for f in findings if f.grade in ("danger", "fault")] == []
    if name in pin.bus.connectors:
        # A published connector is its own measure: what may be said is only where a probe slips, and the rails that
        # lie side by side on it.
        assert {f.code for f in findings} <= {"rail-beside-line", "rail-beside-rail"}


@pytest.mark.parametrize(
    ("name", "codes"),
    [
        ("oakmere-88", ["guess", "rail-beside-line", "rail-missing"]),
        ("brindle-portable", ["rail-missing", "guess", "polarity-opposite", "rail-beside-line", "rail-missing"]),
        ("tarn-rack", ["rail-beside-line", "rail-missing"]),
    ],
)
def test_what_is_said_of_the_invented_machines(name: str, codes: list[str]) -> None:
    pin = shipped(name)
    published = tuple(shipped(other) for other in pin.bus.connectors)
    assert [f.code for f in checks.run(pin, lambda: published)] == codes


# ---------------------------------------------------------------------- every code has its test

#: Codes of reading; tests/test_reading.py has a case for each.
OF_READING = {
    "key-unknown",
    "key-missing",
    "key-twice",
    "value-shape",
    "body-impossible",
    "text-unprintable",
    "option-unknown",
    "supply-unknown",
    "contact-off-body",
    "run-length",
    "name-unknown",
}
#: Codes of the plan; tests/test_adapter.py has a case for each.
OF_THE_PLAN = {
    "rail-meets-rail",
    "contact-conflict",
    "needs-inverter",
    "not-wire",
    "renamed-between-generations",
    "signal-absent",
    "no-card-works",
    "end-turned",
}


#: Codes of what a map is held against; tests/test_likeness.py and tests/test_order.py have their cases.
#: In test_designs.py, test_remedies.py and test_budget.py.
OF_DESIGNS = {
    "remedy-not-needed",
    "choice-contradicts",
    "jumper-nowhere",
    "remedy-fights",
    "remedy-active",
    "remedy-weak",
    "remedy-needs-feed",
    "remedy-carried-out",
    "card-needs-line",
    "supply-overdrawn",
    "contact-overloaded",
    "conductor-overloaded",
    "supply-drop",
    "supply-unknown-limit",
    "fuse-too-small",
    "fuse-too-large",
    "line-overloaded",
    "line-long",
    "returns-far",
    "figure-assumed",
}
#: In test_audit.py.
OF_AUDIT = {
    "audit-pad-places",
    "audit-mistaken",
    "audit-supply-joined",
    "audit-supply-moved",
    "audit-open",
    "audit-joined",
    "audit-exchanged",
    "audit-moved",
    "audit-series",
    "audit-only-in-name",
    "audit-only-in-copper",
    "audit-part-missing",
    "audit-part-value",
    "audit-part-extra",
    "audit-pad-names",
    "audit-footprint",
    "audit-pad-unknown",
    "audit-assumed",
}
OF_LIKENESS = {"geometry-mistaken", "differs-from-reference", "order-broken", "numbering-mirrored"}


def test_every_code_has_a_case_here_or_where_its_family_is_tested() -> None:
    here = {code for code, *_ in CASES} | {"key-unexpected"}
    assert here | OF_READING | OF_THE_PLAN | OF_LIKENESS | OF_DESIGNS | OF_AUDIT == set(RULES)
    assert not here & OF_READING
    assert not here & OF_THE_PLAN


# ---------------------------------------------------------------------- findings


def test_findings_are_sorted_the_worst_first_and_repeats_dropped() -> None:
    note, fault, danger = found("end-turned", "n"), found("signal-twice", "f"), found("return-none", "d")
    assert ordered([note, fault, danger, fault]) == (danger, fault, note)


@pytest.mark.parametrize(
    ("codes", "expected", "counted"),
    [
        ([], "sound", "nothing found"),
        (["end-turned", "guess"], "sound", "1 caution, 1 note"),
        (["guess", "signal-twice", "signal-twice", "guess", "guess"], "fault", "2 faults, 3 cautions"),
        (["signal-twice", "return-none"], "danger", "1 danger, 1 fault"),
    ],
)
def test_the_worst_grade_decides_the_verdict(codes: list[str], expected: str, counted: str) -> None:
    findings = [found(code, str(n)) for n, code in enumerate(codes)]
    assert (verdict(findings), tally(findings)) == (expected, counted)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Finding("no-such-code", "note", ""), "a finding's code must stand in RULES, not 'no-such-code'"),
        (
            lambda: Finding("guess", "bad", ""),  # type: ignore[arg-type]
            "a finding's grade must be one of danger, fault, caution, note, not 'bad'",
        ),
    ],
)
def test_a_finding_with_an_unknown_code_or_grade_cannot_be_made(make: Callable[[], Finding], message: str) -> None:
    with pytest.raises(ValueError) as error:  # noqa: PT011 - the whole message follows
        make()
    assert str(error.value) == message


def test_every_rule_has_a_grade_and_is_one_line() -> None:
    assert {rule.grade for rule in RULES.values()} == set(GRADES)
    assert all(rule.rule and "\n" not in rule.rule for rule in RULES.values())
