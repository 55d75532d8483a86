"""Wire by the definition of its gauge, and the shipped wire table, against the published wire table; Preece's formula.

Sources: wire gauge table at hyperphysics.phy-astr.gsu.edu, in `data/wire_gauge_table.csv`; Preece's formula for the
current that melts a copper wire, I = 10244 · d^1.5 with d in inches.
The definition of the gauge and the resistivity of copper are from memory: here they are tested, not quoted.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from pinmap.electrical.conductors import fusing_a, ohms_along, wire, wire_diameter_mm, wire_ohm_per_m
from pinmap.electrical.facts import facts

LINES = (Path(__file__).parent / "data" / "wire_gauge_table.csv").read_text("utf-8").splitlines()
TABLE = {int(row["awg"]): row for row in csv.DictReader(line for line in LINES if not line.startswith("#"))}
MM_PER_MIL = 0.0254
M_PER_FOOT = 0.3048

# By how much the formula is off the printed figure at most, in percent, as measured. The table prints three or four
# digits, and a last digit that is half off is up to 0.07 % of them.
DIAMETER_PERCENT = 0.052
RESISTANCE_PERCENT = 0.024


@pytest.mark.parametrize("awg", TABLE)
def test_the_definition_of_the_gauge_gives_the_published_diameter(awg: int) -> None:
    published = float(TABLE[awg]["diameter_mil"]) * MM_PER_MIL
    assert wire_diameter_mm(awg) == pytest.approx(published, rel=DIAMETER_PERCENT / 100)


@pytest.mark.parametrize("awg", TABLE)
def test_copper_of_that_diameter_has_the_published_resistance(awg: int) -> None:
    assert wire_ohm_per_m(awg) * 1000 == pytest.approx(float(TABLE[awg]["ohm_per_km"]), rel=RESISTANCE_PERCENT / 100)
    per_1000_feet = ohms_along(1000 * M_PER_FOOT * 1000, wire_ohm_per_m(awg))
    assert per_1000_feet == pytest.approx(float(TABLE[awg]["ohm_per_1000ft"]), rel=RESISTANCE_PERCENT / 100)


def test_the_shipped_wire_table_is_the_published_one() -> None:
    assert list(facts().wires) == list(TABLE)
    for awg, row in TABLE.items():
        ours = wire(awg)
        assert ours.diameter_mm == pytest.approx(float(row["diameter_mil"]) * MM_PER_MIL, rel=1e-12)
        assert ours.ohm_per_m == pytest.approx(float(row["ohm_per_km"]) / 1000, rel=1e-12)
    assert facts().wires_source == "Wire gauge table at hyperphysics.phy-astr.gsu.edu"


def test_what_a_wire_carries_is_not_said_to_be_of_the_published_table() -> None:
    assert facts().carries_source == "from memory"


@pytest.mark.parametrize(
    ("inches", "amps"),
    # 0.01^1.5 = 0.001 and 0.04^1.5 = 0.008, so these are the constant itself and eight times it, worked by hand.
    [(0.01, 10.244), (0.04, 81.952)],
)
def test_the_melting_current_follows_preece(inches: float, amps: float) -> None:
    assert fusing_a(inches * 25.4) == pytest.approx(amps, rel=1e-9)
    assert facts().constants["fusing constant"].written == "10244"
    said = "Preece's formula for the melting of a wire, I = 10244 · d^1.5 with the diameter in inches"
    assert facts().source("fusing constant") == said
