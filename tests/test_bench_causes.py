"""One mistake behind a whole pattern of readings: a connector of an adapter wired wrongly, a slot's map turned."""

from __future__ import annotations

import pytest
from built import Built, everything, filled, oakmere, pair, text, without_volts
from handmade import pin_map, shipped, strip
from msgspec.structs import replace

from pinmap import bench
from pinmap.bench import Judged
from pinmap.bench.plan import HOW_TO_SWEEP, of_slot
from pinmap.mistakes import mistakes
from pinmap.model import PinMap
from pinmap.planner import plan
from pinmap.readings import Probe, Row, parse


@pytest.fixture(autouse=True)
def _width(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")


# ------------------------------------------------------------------ one cause


@pytest.mark.parametrize("ref", ["J1", "J2"])
@pytest.mark.parametrize(
    "name",
    [
        "mirrored end to end",
        "with its rows swapped",
        "turned by 180°",
        "off by 1 place away from contact 1's end",
        "off by 1 place towards contact 1's end",
        "off by 2 places away from contact 1's end",
        "turned by 180° and off by 1 place towards contact 1's end",
        "mirrored end to end and off by 2 places away from contact 1's end",
    ],
)
def test_a_connector_wired_wrongly_as_a_whole_is_one_cause(ref: str, name: str) -> None:
    judged = Built(oakmere()).mistaken(ref, name).judge(everything(oakmere()))
    assert [(c.ref, c.name, c.seen) for c in judged.causes] == [(ref, name, True)]
    assert judged.causes[0].sentence.startswith(f"{ref} is wired {name}: ")


def test_without_sweeps_causes_are_only_possible_and_the_sweep_to_take_stands_below_them() -> None:
    built = Built(oakmere()).mistaken("J2", "turned by 180°")
    rows = tuple(row for row in without_volts(oakmere()) if row.kind != "sweep")
    judged = built.judge(rows)
    assert (judged.first_line, judged.named) == ("do not apply power", False)
    assert judged.following == (
        "No wire from J1 to J2 reads as joined: look first whether the ribbon is in and crimped at both ends, and "
        "whether the right connectors were measured. Take the reading named below the causes next, to tell which it "
        "is. The power stays off until then."
    )
    assert [danger.likely for danger in judged.dangers] == [True] * 5
    assert judged.dangers[0].sentence == (
        "no reading shows the opposite yet: if J2 is wired with its rows swapped, that puts +5V (J2 B3) on SD6 (J2 "
        "A3), -5V (J2 B5) on SD4 (J2 A5), -12V (J2 B7) on SD2 (J2 A7) and 2 more"
    )
    assert text(judged).split("\n\n")[2].splitlines() == [
        "  One cause may be behind it; no reading shows it yet",
        "    J2 is wired with its rows swapped: row was taken for row, or the connector was read from the",
        "      solder side",
        "    or: J2 is wired turned by 180°: it was fitted, or the wiring begun, at the opposite corner",
        "    or: J2 is wired off by 1 place away from contact 1's end: its contacts were counted from the",
        "      wrong place",
        "    → sweep J1 1 over J2: one probe stays on J1 1, draw the other over all of J2",
    ]
    assert len(judged.causes) > 3
    assert built.judge((*rows, *judged.telling)).named
    again = built.judge((*rows, *(row for row in judged.missing if row.kind == "sweep")))
    assert [(c.ref, c.name, c.seen) for c in again.causes] == [("J2", "turned by 180°", True)]


def test_where_both_ends_are_alike_both_are_named() -> None:
    host = pin_map({str(n): f"SA{n}" for n in range(1, 9)}, strip(8))
    adapter = plan(host, replace(host, end="card"))
    judged = Built(adapter).mistaken("J1", "mirrored end to end").judge(everything(adapter))
    assert [(c.ref, c.name, c.alike) for c in judged.causes] == [
        ("J1", "mirrored end to end", False),
        ("J2", "mirrored end to end", True),
    ]
    assert judged.missing == ()
    assert "no reading can tell it from: J2 is wired mirrored end to end" in " ".join(text(judged).split())


def test_a_fault_beside_the_one_cause_is_told_as_well() -> None:
    built = Built(oakmere()).mistaken("J1", "mirrored end to end").open(30)
    judged = built.judge(everything(oakmere()))
    assert judged.causes[0].name == "mirrored end to end"
    assert [(n.name, n.states, n.wires) for n in judged.besides] == [("SA5", ("open",), (30,))]
    assert "SA5 open: J2 A26 cut off from J1 13; look at wire 30" in text(judged)


def test_a_few_readings_name_a_cause_only_when_two_show_contacts_in_each_others_place() -> None:
    host = pin_map({str(n): f"SA{n}" for n in range(1, 9)}, strip(8))
    built = Built(plan(host, replace(host, end="card"))).mistaken("J1", "mirrored end to end")
    rows = [row for row in bench.form(built.adapter) if row.kind == "continuity"][:5]
    across = [Row("isolation", Probe("J1", str(n)), Probe("J2", str(9 - n))) for n in (1, 2)]
    assert [built.judge([*rows, *across[:n]]).named for n in (0, 1, 2)] == [False, False, True]
    many = [*rows, *(Row("isolation", Probe("J1", "1"), Probe("J2", str(n))) for n in (2, 3))]
    assert not built.judge(many).named


@pytest.mark.parametrize("numbers", [(17, 18), (17, 40), (30, 50)])
def test_two_exchanged_wires_are_no_mistake_of_a_whole_connector(numbers: tuple[int, int]) -> None:
    assert Built(oakmere()).exchange(*numbers).judge(everything(oakmere())).causes == ()


def test_three_wrong_readings_of_an_adapter_are_no_mistake_of_a_whole_connector() -> None:
    host = pin_map({str(n): f"SA{n}" for n in range(1, 9)}, strip(8))
    built = Built(plan(host, replace(host, end="card"))).mistaken("J1", "mirrored end to end")
    rows = [row for row in bench.form(built.adapter) if row.kind == "continuity"]
    assert built.judge(rows[:3]).causes == ()
    assert built.judge(rows[:4]).causes != ()


def test_one_net_in_many_pieces_is_no_mistake_of_a_whole_connector() -> None:
    built = Built(oakmere())
    for number in range(1, 8):
        built.open(number)
    rows = [row for row in bench.form(oakmere()) if row.kind == "continuity"]
    some = "J1 18, J2 B1 and J2 B31 cut off from J1 28, J1 36, J1 40 and 2 more"
    for judged, where in ((built.judge(), some), (built.judge(rows[:7]), "J1 8 and J2 B1 cut off from J1 1")):
        assert judged.causes == ()
        assert [d.sentence.split(";")[0] for d in judged.dangers] == [f"GND, the return, is open: {where}"]


def test_some_open_wires_are_no_mistake_of_a_whole_connector() -> None:
    built = Built(oakmere())
    for number in (17, 20, 25, 33, 41):
        built.open(number)
    judged = built.judge()
    assert judged.causes == ()
    assert judged.first_line == "mend first: SD0 open, SD3 open, SA0 open and 2 more nets"


# ------------------------------------------------------------------ a bare slot


def slot_readings(there: PinMap, name: str = "") -> Judged:
    """What a meter shows on a slot whose map is `name`: what is written at a contact belongs elsewhere."""
    rows = bench.form_slot(there)
    meant = of_slot(there)
    moves = next(m.moves for m in mistakes(there.body) if m.name == name) if name else {p: p for p in there.body.labels}
    really = {Probe("slot", to): Probe("slot", label) for label, to in moves.items()}

    def show(row: Row) -> str:
        a, b = (meant.signals.get(really.get(p, p)) if p else None for p in (row.start, row.stop))
        if row.kind == "volts":
            return f"{(a.volts or 0.0) if a and a.is_power else 3.2:.2f}"
        if row.kind == "sweep":
            signals = {p: meant.signals.get(really.get(p, p)) for p in meant.there("slot") if p != row.start}
            return (
                " ".join(p.label for p, s in signals.items() if s and a and a.is_power and s.name == a.name) or "none"
            )
        return "0.2" if a and b and a.name == b.name and a.is_power else "820"

    data = filled(rows, [show(row) for row in rows])
    return bench.judge_slot(there, parse(data, "s.csv", meant.labels))


@pytest.mark.parametrize("name", ["brindle-portable", "oakmere-88"])
def test_few_supplies_are_enough_to_tell_that_a_map_is_off_by_one(name: str) -> None:
    judged = slot_readings(shipped(name), "off by 1 place away from contact 1's end")
    assert judged.causes[0].name == "off by 1 place away from contact 1's end"


@pytest.mark.parametrize("name", ["isa-8bit", "oakmere-88", "brindle-portable", "pc104-16bit"])
def test_a_slot_that_is_as_its_map_says_passes(name: str) -> None:
    judged = slot_readings(shipped(name))
    assert (judged.first_line, judged.missing, judged.dangers) == ("all readings pass", (), ())


@pytest.mark.parametrize(
    "name",
    [
        "turned by 180°",
        "mirrored end to end",
        "with its rows swapped",
        "off by 1 place away from contact 1's end",
        "off by 2 places towards contact 1's end",
    ],
)
def test_a_map_that_is_turned_is_told_by_where_the_volts_are(name: str) -> None:
    judged = slot_readings(shipped("isa-8bit"), name)
    assert judged.first_line == "do not apply power"
    assert judged.following == (
        "Volts were taken, so the power was on: switch off. Correct the map before anything is wired by it, then "
        "measure again. The power stays off until then."
    )
    assert judged.causes[0].sentence.startswith(f"the map is {name}: ")
    assert judged.named


def test_the_form_of_a_slot_goes_from_power_off_to_power_on() -> None:
    rows = bench.form_slot(shipped("isa-8bit"))
    off = "power off, no card in the slot"
    assert [(r.kind, str(r.start), r.to, r.expected, r.note) for r in (*rows[:2], *rows[10:15])] == [
        ("resistance", "slot B3", "slot B1", "more than 2 ohm", f"{off}; net +5V and net GND"),
        ("resistance", "slot B5", "slot B1", "more than 2 ohm", "net -5V and net GND"),
        ("sweep", "slot B3", "slot", "B29", f"{HOW_TO_SWEEP}; net +5V"),
        ("sweep", "slot B5", "slot", "none", "net -5V"),
        ("sweep", "slot B7", "slot", "none", "net -12V"),
        ("sweep", "slot B9", "slot", "none", "net +12V"),
        ("sweep", "slot B1", "slot", "B10 B31", "net GND"),
    ]
    assert list(dict.fromkeys(r.kind for r in rows)) == ["resistance", "sweep", "volts"]
    volts = [r for r in rows if r.kind == "volts"]
    assert [r.start.label for r in volts[:8]] == ["B3", "B5", "B7", "B9", "B29", "B10", "B31", "A1"]
    assert len(volts) == 61  # every contact but the return on which the other probe stays


def test_a_slot_reads_shorted_only_below_two_ohms() -> None:
    there = shipped("isa-8bit")
    rows = [row for row in bench.form_slot(there) if row.kind == "resistance"]
    for shown, verdict in (("2", "do not apply power"), ("2.1", "not yet"), ("OL", "not yet")):
        data = filled(rows, [shown, *(["600"] * (len(rows) - 1))])
        assert bench.judge_slot(there, parse(data, "s.csv", of_slot(there).labels)).verdict == verdict


def test_wires_that_find_no_contact_any_more_do_not_hide_the_cause() -> None:
    """Off by one, the first return and the first supply lie beside the connector; the form sweeps from just those."""
    name = "off by 1 place towards contact 1's end"
    judged = Built(pair("brindle-portable", "isa-8bit")).mistaken("J1", name).judge()
    assert [(c.ref, c.name, c.seen) for c in judged.causes][:1] == [("J1", name, True)]


def test_of_sweeps_that_tell_as_much_one_of_the_form_is_asked_for() -> None:
    rows = [row for row in bench.form(oakmere()) if row.kind in ("continuity", "isolation")]
    judged = Built(oakmere()).mistaken("J1", "mirrored end to end").judge(rows)
    assert [(str(row.start), row.over) for row in judged.telling] == [("J2 B3", "J1")]
    assert judged.telling[0].start == next(row.start for row in bench.form(oakmere()) if row.kind == "sweep")
