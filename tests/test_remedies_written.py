"""Parts in what is written: the netlist read back, the bill of materials, and the readings of the bench."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import pytest
from handmade import shipped
from msgspec.structs import replace

from pinmap import bench
from pinmap.adapter import Adapter
from pinmap.bench.plan import of_adapter
from pinmap.design import Choice, Design, Fuse, Jumper
from pinmap.planner import plan
from pinmap.readings import Probe
from pinmap.remedies import carried_out
from pinmap.writers import netlist
from pinmap.writers.cells import unworded
from pinmap.writers.netlist import read_netlist
from pinmap.writers.parts import IN_PLAN, NAMED, parts_csv

DESIGN = Design(
    "Riser",
    "h",
    "c",
    "",
    "",
    choices=(Choice("-5V", "regulator"), Choice("DACK3*", "leave open")),
    jumpers=(Jumper("IRQ7", ("IRQ5", "IRQ3")), Jumper("IRQ12", ("IRQ11",))),
    fuses=(Fuse("+5V", 1.0, True), Fuse("+12V", 0.25)),
)
PAIRS = [("oakmere-88", "isa-8bit"), ("brindle-portable", "isa-8bit"), ("tarn-rack", "isa-16bit")]


def made(host: str, card: str, design: Design = DESIGN) -> Adapter:
    return carried_out(plan(shipped(host), shipped(card)), design)


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_the_netlist_read_back_is_the_plan_with_all_parts(host: str, card: str, tmp_path: Path) -> None:
    adapter = made(host, card)
    path = tmp_path / "adapter.net"
    path.write_bytes(netlist.text(adapter).encode("utf-8"))
    parts, nets = read_netlist(path)
    pads = {"J1": adapter.host_connector.body.pad_of, "J2": adapter.card_connector.body.pad_of}
    assert nets == {
        net.name: frozenset(
            {
                *(("J1", pads["J1"][c.label]) for c in net.host),
                *(("J2", pads["J2"][c.label]) for c in net.card),
                *net.parts,
            }
        )
        for net in adapter.nets
    }
    assert parts.keys() == {"J1", "J2", *(p.ref for p in adapter.parts)}
    assert len(adapter.parts) > 10
    for part in adapter.parts:
        back = parts[part.ref]
        assert (back.value, back.footprint, back.purpose) == (part.value, part.footprint, part.purpose)
        assert dict(back.pads) == dict(part.pins)


def test_a_part_keeps_its_identity_when_others_come_and_its_value_changes() -> None:
    def identities(adapter: Adapter) -> dict[str, str]:
        text = netlist.text(adapter)
        found = re.findall(r'\(comp\s+\(ref "(.*?)"\).*?\(tstamps "(.{36})"\)', text, re.S)
        purpose = {"J1": "host connector", "J2": "card connector"} | {p.ref: p.purpose for p in adapter.parts}
        return {purpose[ref]: identity for ref, identity in found}

    few = identities(
        made("oakmere-88", "isa-8bit", replace(DESIGN, decoupling=False, choices=(), fuses=(), jumpers=()))
    )
    more = (Choice("DACK3*", "pull up", "4.7 kΩ"), Choice("-5V", "regulator"))
    many = identities(made("oakmere-88", "isa-8bit", replace(DESIGN, choices=more)))
    assert {"pull up of DACK3*", "oscillator of OSC"} <= few.keys()
    assert few.items() <= many.items()
    assert len(set(many.values())) == len(many)


# ---------------------------------------------------------------------- what to buy


def rows_of(adapter: Adapter) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(parts_csv(adapter), newline="")))


def test_equal_parts_share_a_line_with_all_their_references() -> None:
    rows = [
        (r["quantity"], r["part"], r["use"], r["reference"], unworded(r["value"]), r["fed from or joined to"], r["for"])
        for r in rows_of(made("oakmere-88", "isa-8bit"))[2:]
        if r["part"] != "wire"
    ]
    assert rows == [
        (
            *("6", "capacitor", "decoupling and output capacitor", "C1, C4–C6, C8, C9", "100 nF, 25 V", ""),
            "for +5V, -5V, +12V, -12V, OSC",
        ),
        ("2", "capacitor", "bulk", "C2, C7", "10 µF, 25 V", "", "for +5V, +12V"),
        ("1", "capacitor", "input capacitor", "C3", "330 nF, 25 V", "", "for -5V"),
        ("1", "fuse", "fuse", "F1", "1 A fuse, resettable, 16 V", "from +5V", "for +5V"),
        ("1", "fuse", "fuse", "F2", "250 mA fuse, melting, 32 V", "from +12V", "for +12V"),
        ("1", "jumper", "jumper", "JP1", "2×2 pins", "", "for IRQ7"),
        ("1", "regulator", "regulator", "U1", "79L05 (−5 V)", "from -12V", "for -5V"),
        ("1", "oscillator", "oscillator", "Y1", "14.31818 MHz", "", "for OSC"),
    ]


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_every_part_is_counted_once_and_what_is_only_named_says_so(host: str, card: str) -> None:
    adapter = made(host, card)
    rows = [r for r in rows_of(adapter)[2:] if r["part"] != "wire"]
    fitted = [r for r in rows if r["status"] == IN_PLAN]
    assert sum(int(r["quantity"]) for r in fitted) == len(adapter.parts)
    named = [signal for r in rows if r["status"] == NAMED for signal in unworded(r["for"]).split(", ")]
    lone = [u for u in adapter.unmapped if u.end == "card" and not u.parts]
    assert sorted(named) == sorted(u.signal for u in lone if u.remedy.kind not in ("leave open", "none"))
    (wire,) = [r for r in rows_of(adapter) if r["use"] == "data"]
    assert "wires, links and leads" in wire["note"]


# ---------------------------------------------------------------------- the bench


def test_readings_are_taken_without_parts_and_volts_with_them() -> None:
    adapter = made("oakmere-88", "isa-8bit")
    checked = of_adapter(adapter)
    assert not checked.bridges
    # A contact on which only a part hangs is a net of its own, and no lead is a wire to measure.
    assert [p.ref for _, a, b in checked.of(Probe("J2", "B30")).wires for p in (a, b)] == []
    assert {p.ref for net in checked.nets for _, a, b in net.wires for p in (a, b)} == {"J1", "J2"}
    rows = bench.form(adapter)
    on = [(str(row.start), row.expected, row.note) for row in rows if row.kind == "volts"]
    assert on == [
        (
            "J2 B3",
            "from +4.75 V to +5.25 V",
            "only when all above is right: put the parts in, measure each supply against the return again, then power "
            "on, "
            "the adapter in the machine, no card in it; net +5V fused",
        ),
        ("J2 B29", "from +4.75 V to +5.25 V", "net +5V fused"),
        ("J2 B5", "from −5.25 V to −4.75 V", "net -5V"),
        ("J2 B9", "from +11.4 V to +12.6 V", "net +12V fused"),
        ("J2 B7", "from −12.6 V to −11.4 V", "net -12V"),
    ]
    assert rows[0].note.startswith("power off, nothing plugged in, no remedies fitted; ")
    # Before the fuse is in, the two sides of its rail must read apart.
    (sides,) = [row for row in rows if row.kind == "resistance" and row.note == "net +5V and net +5V fused"]
    assert sides.expected == "OL"


def test_a_rail_that_nobody_feeds_has_no_volts_to_measure() -> None:
    adapter = made("oakmere-88", "isa-8bit", replace(DESIGN, choices=()))
    assert not of_adapter(adapter).of(Probe("J2", "B5")).brought
    assert "J2 B5" not in [str(row.start) for row in bench.form(adapter) if row.kind == "volts"]
    plain = plan(shipped("oakmere-88"), shipped("isa-8bit"))
    (first, *_) = [row.note for row in bench.form(plain) if row.kind == "volts"]
    assert first.startswith("only when all above is right: power on, ")
