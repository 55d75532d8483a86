"""What the commands print, whole: tests/golden/*.txt.

After a change that is meant to be seen, write them anew with `python -m pytest tests/test_golden.py --renew-golden`
and read the difference before it is committed.
"""

from __future__ import annotations

import difflib

import pytest
from conftest import GOLDEN, CommandLine

OUTPUTS = {
    "check-oakmere-88": ("check", "oakmere-88"),
    "show-oakmere-88": ("show", "oakmere-88"),
    "show-brindle-portable": ("show", "brindle-portable"),
    "compare-oakmere-88-isa-8bit": ("compare", "oakmere-88", "isa-8bit"),
    "list": ("list",),
    "adapt-oakmere-88-isa-8bit": ("adapt", "oakmere-88", "isa-8bit"),
    "adapt-brindle-portable-isa-8bit": ("adapt", "brindle-portable", "isa-8bit"),
    "misfit-oakmere-88-isa-8bit": ("misfit", "oakmere-88", "isa-8bit"),
}


@pytest.mark.parametrize("name", OUTPUTS)
def test_a_command_prints_what_it_always_printed(
    name: str, pinmap: CommandLine, request: pytest.FixtureRequest
) -> None:
    args = OUTPUTS[name]
    ran = pinmap(*args, COLUMNS="120")
    assert ran.err == ""
    now = f"$ pinmap {' '.join(args)}\n{ran.out}[exit status {ran.status}]\n"
    path = GOLDEN / f"{name}.txt"
    if request.config.getoption("--renew-golden"):
        path.write_bytes(now.encode("utf-8"))
    before = path.read_bytes().decode("utf-8").replace("\r\n", "\n") if path.exists() else ""
    difference = "\n".join(
        difflib.unified_diff(before.splitlines(), now.splitlines(), str(path.name), "now", "", "", 1, "")
    )
    assert not difference, f"{difference}\n\nif that is meant: python -m pytest tests/test_golden.py --renew-golden"


def test_there_is_no_golden_output_without_its_command() -> None:
    assert sorted(p.name for p in GOLDEN.iterdir()) == sorted(f"{name}.txt" for name in OUTPUTS)
