"""Trace widths, sections and currents against worked values of the formula of IPC-2221.

Source: IPC-2221's I = k · ΔT^0.44 · A^0.725 as quoted by board fabricators (k = 0.048 outer, 0.024 inner; copper of
1 oz is 1.378 mil = 35 µm), worked out apart from pinmap in `data/trace_widths.csv` and printed with two or three digits
after the point.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from pinmap.electrical.conductors import trace_current_a, trace_rise_k, trace_width_mm
from pinmap.electrical.facts import facts

LINES = (Path(__file__).parent / "data" / "trace_widths.csv").read_text("utf-8").splitlines()
TABLE = list(csv.DictReader(line for line in LINES if not line.startswith("#")))
NAMES = [f"{row['layer']} {row['amps']} A {row['rise_k']} K" for row in TABLE]
MM_PER_MIL = 0.0254
OUNCE_MIL = 1.378
OUNCE_UM = OUNCE_MIL * 25.4


@pytest.mark.parametrize("row", TABLE, ids=NAMES)
def test_a_trace_is_as_wide_as_the_worked_value(row: dict[str, str]) -> None:
    inner = row["layer"] == "inner"
    width = trace_width_mm(float(row["amps"]), float(row["rise_k"]), OUNCE_UM, inner=inner)
    # To the last printed digit.
    assert f"{width:.3f}" == row["width_mm"]
    assert f"{width / MM_PER_MIL:.2f}" == row["width_mil"]
    assert f"{width / MM_PER_MIL * OUNCE_MIL:.2f}" == row["section_mil2"]


@pytest.mark.parametrize("row", TABLE, ids=NAMES)
def test_a_trace_of_the_worked_section_carries_the_current_at_that_rise(row: dict[str, str]) -> None:
    inner, amps, rise = row["layer"] == "inner", float(row["amps"]), float(row["rise_k"])
    section = float(row["section_mil2"])
    width = section / OUNCE_MIL * MM_PER_MIL
    # The printed section is rounded by up to half of its last digit.
    rounded = 0.005 / section
    assert trace_current_a(width, OUNCE_UM, rise, inner=inner) == pytest.approx(amps, rel=0.725 * rounded + 1e-4)
    rise_rel = 0.725 / 0.44 * rounded + 1e-4
    assert trace_rise_k(width, OUNCE_UM, amps, inner=inner) == pytest.approx(rise, rel=rise_rel)


def test_the_constants_are_those_that_fabricators_quote() -> None:
    written = {
        "trace constant outer": "0.048",
        "trace constant inner": "0.024",
        "trace rise exponent": "0.44",
        "trace section exponent": "0.725",
        "copper of 1 oz": "35 µm",
    }
    constants = facts().constants
    assert {name: constants[name].written for name in written} == written
    assert {constants[name].source for name in written} == {"IPC-2221, as quoted by board fabricators"}
    assert facts().value("copper of 1 oz") * 1000 == pytest.approx(OUNCE_UM, rel=1e-4)
