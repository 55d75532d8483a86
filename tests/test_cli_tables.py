"""The commands that read what others drew, as a person types them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from conftest import CommandLine
from handmade import shipped

import pinmap as package


def table(folder: Path, *rows: str) -> None:
    """The published 8-bit slot as somebody typed it, with what is added to it."""
    lines = [f"{label},{contact.name}" for label, contact in shipped("isa-8bit").by_label.items()]
    (folder / "table.csv").write_text("\n".join(("pin,line", *lines, *rows)), encoding="utf-8")


def test_a_table_becomes_a_map_that_is_sound(pinmap: CommandLine) -> None:
    table(pinmap.cwd)
    ran = pinmap("import", "table.csv", "--title", "My slot", "--out", "mine.yaml")
    assert (ran.status, ran.out, ran.err) == (0, "written: mine.yaml\n", "")
    assert pinmap.left() == ["mine.yaml", "table.csv"]
    made = package.load_map(pinmap.cwd / "mine.yaml")
    assert made.title == "My slot"
    wanted = shipped("isa-8bit").by_label
    assert {label: c.name for label, c in made.by_label.items()} == {label: c.name for label, c in wanted.items()}
    assert pinmap("check", "mine.yaml").status == 0
    assert pinmap("import", "table.csv", "--title", "My slot").out == (pinmap.cwd / "mine.yaml").read_text("utf-8")


def test_rows_that_were_not_understood_are_told_with_their_line(pinmap: CommandLine) -> None:
    table(pinmap.cwd, "see note,2", "Z9Z,GND")
    ran = pinmap("import", "table.csv")
    assert ran.status == 0
    told = re.findall(r"^pinmap: table\.csv:(\d+)", ran.err, re.MULTILINE)
    assert {"64", "65"} <= set(told)


def test_a_map_is_never_written_over(pinmap: CommandLine) -> None:
    table(pinmap.cwd)
    (pinmap.cwd / "mine.yaml").write_text("mine", encoding="utf-8")
    ran = pinmap("import", "table.csv", "--out", "mine.yaml")
    assert ran.status == 2
    assert "mine.yaml exists already; a map must not overwrite it" in ran.err
    assert (pinmap.cwd / "mine.yaml").read_text(encoding="utf-8") == "mine"


def test_two_equally_good_readings_are_asked_back(pinmap: CommandLine) -> None:
    (pinmap.cwd / "t.csv").write_text("contact,signal\n1,GND\n2,+5V\n3,SD0\n4,SD1\n", encoding="utf-8")
    ran = pinmap("import", "t.csv")
    assert (ran.status, ran.out) == (2, "")
    assert "Say it with --body" in ran.err
    ran = pinmap("import", "t.csv", "--body", "box header 2x2 zigzag first bottom left")
    assert ran.status == 0
    assert "labels: zigzag" in ran.out


@pytest.fixture
def netlist(pinmap: CommandLine) -> Path:
    assert pinmap("adapt", "oakmere-88", "isa-8bit", "--only", "adapter.net", "--out", "build").status == 0
    return pinmap.cwd / "build" / "adapter.net"


PLAN = ("--plan", "oakmere-88", "isa-8bit")


def test_a_netlist_of_our_own_is_as_planned(pinmap: CommandLine, netlist: Path) -> None:
    ran = pinmap("audit", "build/adapter.net", *PLAN)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.splitlines()[0] == "as planned: all 61 nets"
    assert pinmap("adapt", "oakmere-riser", "--only", "adapter.net", "--out", "riser").status == 0
    ran = pinmap("audit", "riser/adapter.net", "--plan", "oakmere-riser")
    assert ran.status == 0
    assert ran.out.startswith("as planned: ")
    assert netlist.exists()


def test_an_exchange_is_named_in_every_format(pinmap: CommandLine, netlist: Path) -> None:
    text = netlist.read_text(encoding="utf-8")
    one, other = '(pin "A9")', '(pin "A8")'
    assert (text.count(one), text.count(other)) == (1, 1)
    netlist.write_text(text.replace(one, "@").replace(other, one).replace("@", other), encoding="utf-8")
    ran = pinmap("audit", "build/adapter.net", *PLAN)
    assert ran.status == 1
    assert ran.out.startswith("not as planned: ")
    assert "audit-exchanged" in ran.out
    got = json.loads(pinmap("audit", "build/adapter.net", *PLAN, "--json").out)
    assert got["verdict"] == "not as planned"
    assert [f["signals"] for f in got["findings"] if f["code"] == "audit-exchanged"]
    (run,) = json.loads(pinmap("audit", "build/adapter.net", *PLAN, "--format", "sarif").out)["runs"]
    (result,) = [r for r in run["results"] if r["ruleId"] == "audit-exchanged"]
    assert result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "build/adapter.net"
    lines = pinmap("audit", "build/adapter.net", *PLAN, "--format", "github").out.splitlines()
    assert [line for line in lines if line.startswith("::error file=build/adapter.net,")]


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("nowhere.net", *PLAN), "nowhere.net"),
        (("table.csv", *PLAN), "table.csv"),
        (("build/adapter.net", "--plan", "oakmere-88"), "Name the CARD too, or an adapter file"),
        (("build/adapter.net", *PLAN, "isa-16bit"), "--plan takes HOST and CARD, or one adapter file."),
        (("build/adapter.net", *PLAN, "--host", "J9"), "J9"),
    ],
)
def test_what_cannot_be_audited_is_told(pinmap: CommandLine, netlist: Path, args: tuple[str, ...], said: str) -> None:
    table(pinmap.cwd)
    ran = pinmap("audit", *args)
    assert (ran.status, ran.out) == (2, "")
    assert said in ran.err
    assert "Traceback" not in ran.err
    assert netlist.exists()


def test_a_drawing_that_cannot_be_read_is_told_to_other_tools_too(pinmap: CommandLine) -> None:
    (pinmap.cwd / "cut.net").write_text("(export (version", encoding="utf-8")
    ran = pinmap("audit", "cut.net", *PLAN, "--format", "github")
    assert ran.status == 2
    assert ran.out.startswith("::error file=cut.net")
    ran = pinmap("audit", "cut.net", *PLAN, "--format", "sarif")
    assert ran.status == 2
    (run,) = json.loads(ran.out)["runs"]
    assert run["invocations"][0]["executionSuccessful"] is False
