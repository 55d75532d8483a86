"""The command line as its user meets it: what it writes where, how it ends, and what it leaves behind."""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from conftest import CommandLine
from handmade import shipped

from pinmap import library

COMMANDS = (
    *("check", "show", "draw", "compare", "import", "adapt", "budget", "board", "misfit", "bench", "audit"),
    *("list", "new", "schema"),
)

SOUND = """\
format: 1
title: Two by two
bus: isa-8bit
end: host
body: {form: pin header, rows: 2, places: 2, labels: zigzag, first: top left, pitch: 2.54 mm}
contacts:
  1: GND
  2: open
  3: open
  4: open
"""
BROKEN = SOUND.replace("isa-8bit", "isa-9bit").replace("pin header", "pins")


def write(pinmap: CommandLine, name: str, text: str) -> None:
    (pinmap.cwd / name).write_text(text, encoding="utf-8")


# ---------------------------------------------------------------------- help and its examples


def examples(help_text: str) -> list[str]:
    """The commands under "Example:" in a help text."""
    _, _, below = help_text.partition("Example:\n")
    return [line.strip() for line in below.splitlines() if line.strip()]


def test_the_help_lists_the_commands_in_the_order_of_their_use(pinmap: CommandLine) -> None:
    ran = pinmap("--help")
    listed = re.findall(r"^  (\w+)  +[A-Z]", ran.out.partition("Commands:\n")[2], re.MULTILINE)
    assert listed == list(COMMANDS)
    assert "Never plug or unplug anything with power on" in " ".join(ran.out.split())
    assert (ran.status, ran.err) == (0, "")


def test_without_a_command_the_help_appears_and_the_status_is_2(pinmap: CommandLine) -> None:
    ran = pinmap()
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == pinmap("--help").out


#: An example that ends otherwise than with 0, and why.
ENDS_OTHERWISE = {
    "pinmap check my-machine.yaml": 1,  # a skeleton has no return yet: that is a danger
    "pinmap check my-machine.yaml --against oakmere-88": 1,
    "pinmap compare oakmere-88 isa-8bit": 1,  # they differ
    "pinmap compare --as-diff oakmere-88 isa-8bit": 1,
    "pinmap misfit oakmere-88 isa-8bit": 1,  # a card can go in back to front
}


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_the_examples_of_the_help_run_in_an_empty_folder(command: str, pinmap: CommandLine) -> None:
    ran = pinmap(*([command] if command else []), "--help")
    assert (ran.status, ran.err) == (0, "")
    assert all(len(line) <= 80 for line in ran.out.splitlines())
    found = examples(ran.out)
    assert found, "there must be an example"
    rows = [f"{label},{contact.name}" for label, contact in shipped("isa-8bit").by_label.items()]
    (pinmap.cwd / "table.csv").write_text("\n".join(("contact,signal", *rows)), encoding="utf-8")
    for line in found:
        words, _, target = line.partition(" > ")
        program, *args = shlex.split(words)
        assert program == "pinmap"
        done = pinmap(*args)
        assert done.status == ENDS_OTHERWISE.get(line, 0), (line, done.err)
        assert done.out
        assert done.err == ""
        if target:
            json.loads(done.out)


@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_has_a_short_and_a_long_flag(flag: str, pinmap: CommandLine) -> None:
    assert pinmap("adapt", flag).out.startswith("Usage: pinmap adapt [OPTIONS] HOST CARD\n")


def test_the_version_is_that_of_the_package(pinmap: CommandLine) -> None:
    from pinmap import __version__

    assert pinmap("--version").out == f"pinmap, version {__version__}\n"


# ---------------------------------------------------------------------- exit status, stdout and stderr


def test_a_sound_map_ends_with_0(pinmap: CommandLine) -> None:
    ran = pinmap("check", "oakmere-88")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith("oakmere-88.yaml: Oakmere 88 cabinet header (64 contacts, bus isa-8bit, host)\n")
    assert ran.out.splitlines()[-1].startswith("  sound: ")


def test_a_map_with_a_fault_ends_with_1(pinmap: CommandLine) -> None:
    write(pinmap, "faulty.yaml", SOUND.replace("3: open", "3: SDX"))
    ran = pinmap("check", "faulty.yaml")
    assert (ran.status, ran.err) == (1, "")
    assert "  fault name-unknown  faulty.yaml:9:3\n" in ran.out


def test_a_map_with_a_danger_ends_with_1(pinmap: CommandLine) -> None:
    write(pinmap, "dangerous.yaml", SOUND.replace("1: GND", "1: open"))
    ran = pinmap("check", "dangerous.yaml")
    assert (ran.status, ran.err) == (1, "")
    assert ran.out.splitlines()[-1].startswith("  danger: ")


def test_a_map_that_cannot_be_built_ends_with_1_and_shows_every_complaint(pinmap: CommandLine) -> None:
    write(pinmap, "broken.yaml", BROKEN)
    ran = pinmap("check", "broken.yaml")
    assert (ran.status, ran.err) == (1, "")
    assert ran.out.startswith("broken.yaml: no map can be built\n")
    assert "bus must be one of isa-16bit or isa-8bit, not 'isa-9bit'" in ran.out
    assert "body › form must be" in ran.out


@pytest.mark.parametrize(
    "args", [("show", "broken.yaml"), ("compare", "oakmere-88", "broken.yaml"), ("adapt", "oakmere-88", "broken.yaml")]
)
def test_a_command_that_needs_a_whole_map_says_on_stderr_why_there_is_none(
    args: tuple[str, ...], pinmap: CommandLine
) -> None:
    write(pinmap, "broken.yaml", BROKEN)
    ran = pinmap(*args)
    assert (ran.status, ran.out) == (1, "")
    assert ran.err.startswith("broken.yaml: no map can be built\n")
    assert ran.err.count(" value-shape ") == 2


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("check", "nowhere.yaml"), "pinmap: nowhere.yaml: there is no such file\n"),
        (
            ("check", "oakmere"),
            "pinmap: there is no file and no connector 'oakmere'. Did you mean oakmere-88?\n",
        ),
        (("show", "x"), "pinmap: there is no file and no connector 'x'. `pinmap list` shows what there is\n"),
        (("adapt", "x", "y"), None),
        (("check", "oakmere-88", "--with", "vido board"), None),
        (("check", "latin.yaml"), None),
        (("check", "empty.yaml"), None),
        (("check",), None),
        (("adapt", "oakmere-88"), None),
        (("schema", "netlist"), None),
        (("new", "--form", "pin heder"), None),
        (("new", "--places", "0"), None),
        (
            ("new", "--pitch", "2.54"),
            "pinmap: a length must carry its unit, like 2.54 mm, not the bare number '2.54'\n",
        ),
        (("new", "--bus", "isa-9bit"), None),
        (("new", "--labels", "ring", "--rows", "3"), "pinmap: ring labels must have two rows, not 3\n"),
        (("new", "--out", "there.yaml"), None),
        (("adapt", "oakmere-88", "isa-8bit", "--out", "there.yaml"), None),
    ],
)
def test_what_cannot_run_ends_with_2_and_says_so_on_stderr(
    args: tuple[str, ...], said: str | None, pinmap: CommandLine
) -> None:
    (pinmap.cwd / "latin.yaml").write_bytes(SOUND.encode().replace(b"Two", b"Tw\xf6"))
    write(pinmap, "empty.yaml", "")
    write(pinmap, "there.yaml", "mine\n")
    before = pinmap.left()
    ran = pinmap(*args)
    assert (ran.status, ran.out) == (2, "")
    assert "Traceback" not in ran.err
    assert ran.err if said is None else ran.err == said
    assert pinmap.left() == before
    assert (pinmap.cwd / "there.yaml").read_text(encoding="utf-8") == "mine\n"


def test_every_name_that_is_wrong_is_said_at_once(pinmap: CommandLine) -> None:
    ran = pinmap("adapt", "oakmere", "isa-9bit")
    assert ran.status == 2
    assert ran.err == (
        "pinmap: there is no file and no connector 'oakmere'. Did you mean oakmere-88?\n"
        "pinmap: there is no file and no connector 'isa-9bit'. Did you mean isa-8bit?\n"
    )


def test_one_unreadable_map_does_not_hide_the_others(pinmap: CommandLine) -> None:
    ran = pinmap("check", "nowhere.yaml", "oakmere-88")
    assert ran.status == 2
    assert ran.err == "pinmap: nowhere.yaml: there is no such file\n"
    assert ran.out.startswith("oakmere-88.yaml: ")


def test_an_adapter_not_to_be_built_ends_with_1_and_is_written_all_the_same(pinmap: CommandLine) -> None:
    write(pinmap, "poor.yaml", SOUND)
    ran = pinmap("adapt", "poor.yaml", "isa-8bit", "--out", "build")
    assert ran.status == 1
    assert "\ndo not build: " in ran.out
    assert "DO NOT BUILD" in (pinmap.cwd / "build" / "wiring.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("chek", "oakmere-88"), "There is no command 'chek'. Did you mean check?"),
        (
            ("zzzzzz",),
            "There is no command 'zzzzzz'. The commands are check, show, draw, compare, import, adapt, budget, "
            "board, misfit, bench, audit, list, new and schema.",
        ),
        (("check", "oakmere-88", "--jsn"), "--json"),
        (("adapt", "oakmere-88", "isa-8bit", "--uot", "x"), "--out"),
        (("new", "--form", "pin heder"), "--form must be edge slot, edge fingers, pin header"),
        (("new", "--form", "pin heder"), "Did you mean pin header?"),
        (("new", "--labels", "zig-zag"), "Did you mean zigzag?"),
        (("check", "oakmere-88", "--with", "vido board"), "Did you mean video board?"),
    ],
)
def test_a_misspelt_word_gets_the_nearest_right_one(args: tuple[str, ...], said: str, pinmap: CommandLine) -> None:
    ran = pinmap(*args)
    assert (ran.status, ran.out) == (2, "")
    assert said in ran.err


@pytest.mark.parametrize(
    "args",
    [
        ("adapt", "--json", "--with", "video board", "oakmere-88", "isa-8bit"),
        ("adapt", "oakmere-88", "--with", "video board", "isa-8bit", "--json"),
        ("adapt", "oakmere-88", "isa-8bit", "--json", "--with=video board"),
    ],
)
def test_options_may_stand_before_between_and_behind_the_maps(args: tuple[str, ...], pinmap: CommandLine) -> None:
    plain = pinmap("adapt", "oakmere-88", "isa-8bit", "--with", "video board", "--json")
    assert pinmap(*args) == plain
    assert '"OSC"' in plain.out


# ---------------------------------------------------------------------- JSON

FINDING = ["code", "grade", "message", "advice", "file", "line", "column", "contacts", "signals"]


def holds_findings(findings: list[dict[str, Any]]) -> None:
    assert findings
    for f in findings:
        assert list(f) == FINDING
        assert f["grade"] in ("danger", "fault", "caution", "note")
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", f["code"])
        assert [type(f[key]) for key in FINDING] == [str, str, str, str, str, int, int, list, list]
        assert all(isinstance(x, str) for x in (*f["contacts"], *f["signals"]))


def test_the_json_of_check_keeps_its_contract(pinmap: CommandLine) -> None:
    write(pinmap, "broken.yaml", BROKEN)
    write(pinmap, "poor.yaml", SOUND)
    write(pinmap, "dangerous.yaml", SOUND.replace("1: GND", "1: open"))
    ran = pinmap("check", "oakmere-88", "broken.yaml", "dangerous.yaml", "poor.yaml", "--json")
    assert (ran.status, ran.err) == (1, "")
    got = json.loads(ran.out)
    assert list(got) == ["format", "maps"]
    assert got["format"] == 1
    for m in got["maps"]:
        assert list(m) == ["file", "title", "bus", "end", "verdict", "findings", "coverage"]
        holds_findings(m["findings"])
    sound, broken, dangerous, poor = got["maps"]
    assert [sound[k] for k in ("file", "title", "bus", "end", "verdict")] == [
        "oakmere-88.yaml",
        "Oakmere 88 cabinet header",
        "isa-8bit",
        "host",
        "sound",
    ]
    assert [broken[k] for k in ("file", "title", "bus", "end", "verdict", "coverage")] == [
        "broken.yaml",
        None,
        None,
        None,
        "fault",
        None,
    ]
    assert dangerous["verdict"] == "danger"
    assert poor["verdict"] == "fault"
    guess = next(f for f in sound["findings"] if f["code"] == "guess")
    assert guess == {
        "code": "guess",
        "grade": "caution",
        "message": "6 = IRQ2 rests on a guess (the scan is smudged here)",
        "advice": guess["advice"],
        "file": "oakmere-88.yaml",
        "line": 37,
        "column": 3,
        "contacts": ["6"],
        "signals": ["IRQ2"],
    }
    assert list(sound["coverage"]) == ["fitted", "groups", "kinds", "with_options"]


def test_the_json_of_adapt_keeps_its_contract(pinmap: CommandLine) -> None:
    ran = pinmap("adapt", "oakmere-88", "isa-8bit", "--out", "build", "--json")
    assert (ran.status, ran.err) == (0, "")
    got = json.loads(ran.out)
    assert list(got) == ["format", "host", "card", "verdict", "nets", "unmapped", "findings", "files"]
    assert [got[k] for k in ("format", "host", "card", "verdict")] == [1, "oakmere-88", "isa-8bit", "build with care"]
    for net in got["nets"]:
        assert list(net) == ["name", "signal", "state", "host", "card", "parts"]
        assert net["state"] in ("straight", "joined", "tied", "open", "active", "conflict")
    assert {"name": "SD7", "signal": "SD7", "state": "straight", "host": ["3"], "card": ["A2"], "parts": []} in got[
        "nets"
    ]
    labels = [label for net in got["nets"] for label in net["host"]]
    assert sorted(map(int, labels)) == [n for n in range(1, 65) if n != 62]  # 62 is a key
    for miss in got["unmapped"]:
        assert list(miss) == ["signal", "end", "reason", "effect", "remedy"]
        assert miss["end"] in ("host", "card")
        assert all(isinstance(text, str) and text for text in miss.values())
    assert "IRQ7" in [miss["signal"] for miss in got["unmapped"]]
    holds_findings(got["findings"])
    names = ["adapter.net", "wiring.csv", "wiring.md", "report.md", "parts.csv", "bench.html", "wiring.pdf"]
    names = ["adapter.net", "wiring.csv", "wiring.md", "report.md", "parts.csv", "bench.html", "wiring.pdf"]
    assert got["files"] == [f"build/{name}" for name in names]
    assert all((pinmap.cwd / name).is_file() for name in got["files"])


def test_the_json_of_adapt_keeps_its_contract_where_nothing_can_be_planned(pinmap: CommandLine) -> None:
    write(pinmap, "broken.yaml", BROKEN)
    ran = pinmap("adapt", "broken.yaml", "isa-8bit", "--out", "build", "--json")
    assert ran.status == 1
    got = json.loads(ran.out)
    assert list(got) == ["format", "host", "card", "verdict", "nets", "unmapped", "findings", "files"]
    assert (got["verdict"], got["nets"], got["unmapped"], got["files"]) == ("do not build", [], [], [])
    holds_findings(got["findings"])
    assert pinmap.left() == ["broken.yaml"]


def test_the_json_of_show_has_every_contact_with_its_place(pinmap: CommandLine) -> None:
    got = json.loads(pinmap("show", "oakmere-88", "--json").out)
    assert list(got) == ["format", "name", "title", "bus", "end", "form", "footprint", "contacts"]
    keys = ["label", "pad", "x_mm", "y_mm", "role", "signal", "written", "group", "option", "seen", "note"]
    assert [list(c) for c in got["contacts"]] == [keys] * 64
    by_label = {c["label"]: c for c in got["contacts"]}
    osc = ["58", "58", 28 * 2.54, 0.0, "signal", "OSC", "OSC", "timing", "video board", "manual", ""]
    assert list(by_label["58"].values()) == osc
    assert by_label["62"]["role"] == "key"


def test_the_json_of_compare_has_every_signal(pinmap: CommandLine) -> None:
    ran = pinmap("compare", "oakmere-88", "isa-8bit", "--json")
    got = json.loads(ran.out)
    assert list(got)[:5] == ["format", "first", "second", "same", "signals"]
    assert list(got)[5:] == [
        *("identical", "labelled", "mistake", "contacts", "exchanged", "body", "mated", "limits", "options", "own"),
        *("about", "words", "remarks", "renumbered"),
    ]
    rows = {row["signal"]: row for row in got["signals"]}
    assert list(rows["GND"])[:6] == ["signal", "group", "first", "second", "relation", "differs"]
    assert rows["IRQ7"]["relation"] == "only in the second"
    assert rows["SD0"] == {
        "signal": "SD0",
        "group": "data",
        "first": ["17"],
        "second": ["A9"],
        "relation": "moved",
        "differs": "",
        "written": [["SD0"], ["SD0"]],
        "renamed": False,
        "besides": "same",
    }
    assert (ran.status, got["same"]) == (1, False)
    same = pinmap("compare", "isa-8bit", "isa-8bit", "--json")
    assert (same.status, json.loads(same.out)["same"]) == (0, True)


def test_maps_are_compared_line_by_line_for_version_control(pinmap: CommandLine) -> None:
    old = SOUND.replace("4: open", "4: +5V")
    (pinmap.cwd / "old.yaml").write_text(old, encoding="utf-8")
    (pinmap.cwd / "new.yaml").write_text(old.replace("3: open", "3: SD0"), encoding="utf-8")
    ran = pinmap("compare", "--as-diff", "old.yaml", "new.yaml")
    assert ran.status == 1
    changed = [line for line in ran.out.splitlines() if line[:1] in "+-" and line[:3] not in ("+++", "---")]
    assert [line[0] for line in changed] == ["-", "+"]
    assert "open" in changed[0]
    assert "SD0" in changed[1]
    state = ("old.yaml", "0" * 40, "100644", "new.yaml", "1" * 40, "100644")
    driven = pinmap("compare", "--as-diff", "maps/slot.yaml", *state)
    assert driven.status == 0  # what a driver ends with otherwise stops the version control
    assert changed == [x for x in driven.out.splitlines() if x[:1] in "+-" and x[:3] not in ("+++", "---")]


def test_findings_are_written_for_other_tools(pinmap: CommandLine) -> None:
    (pinmap.cwd / "m.yaml").write_text(SOUND.replace("3: open", "3: IRQ9X"), encoding="utf-8")
    ran = pinmap("check", "m.yaml", "--format", "sarif")
    assert ran.status == 1
    (run,) = json.loads(ran.out)["runs"]
    (result,) = [r for r in run["results"] if r["ruleId"] == "name-unknown"]
    assert result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == "m.yaml"
    assert result["locations"][0]["physicalLocation"]["region"]["startLine"] == 9
    ran = pinmap("check", "m.yaml", "--format", "github")
    assert ran.status == 1
    assert [line for line in ran.out.splitlines() if line.startswith("::error file=m.yaml,line=9,col=3,")]
    assert pinmap("check", "m.yaml", "--format", "json").out == pinmap("check", "m.yaml", "--json").out


def test_the_json_of_list_has_every_connector(pinmap: CommandLine) -> None:
    got = json.loads(pinmap("list", "--json").out)
    assert list(got) == ["format", "connectors", "adapters"]
    assert [(a["name"], a["host"], a["card"]) for a in got["adapters"]] == [
        ("brindle-riser", "brindle-portable", "isa-8bit"),
        ("oakmere-riser", "oakmere-88", "isa-8bit"),
        ("tarn-riser", "tarn-rack", "isa-16bit"),
    ]
    assert all(list(c) == ["name", "collection", "bus", "form", "contacts", "end", "title"] for c in got["connectors"])
    assert [c["name"] for c in got["connectors"]] == [
        "isa-16bit",
        "isa-8bit",
        "pc104-16bit",
        "pc104-8bit",
        "brindle-portable",
        "oakmere-88",
        "tarn-rack",
    ]


def test_the_list_has_the_users_own_connectors_first_and_leaves_a_broken_one_out(pinmap: CommandLine) -> None:
    own = pinmap.cwd / "own"
    own.mkdir()
    (own / "mine.yaml").write_text(SOUND, encoding="utf-8")
    (own / "hurt.yaml").write_text(BROKEN, encoding="utf-8")
    ran = pinmap("list", "--json", PINMAP_LIBRARY=str(own))
    assert ran.status == 0
    first = json.loads(ran.out)["connectors"][0]
    assert (first["name"], first["collection"], first["title"]) == ("mine", "own", "Two by two")
    assert "hurt.yaml:3:6: " in ran.err


# ---------------------------------------------------------------------- terminals


def status_of(args: tuple[str, ...]) -> int:
    """What a command ends with that finds nothing wrong: two maps that differ are told by 1."""
    return int(args[0] == "compare" and "oakmere-88" in args)


TABLES = [
    ("check", "oakmere-88"),
    ("show", "oakmere-88"),
    ("compare", "oakmere-88", "isa-8bit"),
    ("adapt", "oakmere-88", "isa-8bit"),
    ("list",),
]


@pytest.mark.parametrize("args", TABLES, ids=lambda a: a[0])
def test_a_pipe_gets_no_escape_codes_and_no_spaces_at_line_ends(args: tuple[str, ...], pinmap: CommandLine) -> None:
    ran = pinmap(*args)
    assert "\x1b" not in ran.out
    assert [line for line in ran.out.splitlines() if line != line.rstrip()] == []


@pytest.mark.parametrize("args", TABLES, ids=lambda a: a[0])
def test_colour_can_be_forced_and_changes_nothing_else(args: tuple[str, ...], pinmap: CommandLine) -> None:
    ran = pinmap(*args, FORCE_COLOR="1", TERM="xterm")
    assert "\x1b[1m" in ran.out
    bare = re.sub(r"\x1b\[[\d;]*m", "", ran.out)
    assert [line.rstrip() for line in bare.splitlines()] == pinmap(*args).out.splitlines()


@pytest.mark.parametrize("args", TABLES, ids=lambda a: a[0])
def test_no_color_beats_forced_colour(args: tuple[str, ...], pinmap: CommandLine) -> None:
    assert pinmap(*args, FORCE_COLOR="1", NO_COLOR="1") == pinmap(*args)


@pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo terminals; the forced colour is tested")
@pytest.mark.parametrize(
    ("more", "coloured"), [({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)], ids=str
)
@pytest.mark.parametrize("args", TABLES, ids=lambda a: a[0])
def test_a_terminal_gets_colour_unless_it_is_refused(
    args: tuple[str, ...], more: dict[str, str], coloured: bool, pinmap: CommandLine
) -> None:
    import pty

    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "pinmap", *args],
        cwd=pinmap.cwd,
        env=pinmap.env(**{"TERM": "xterm", **more}),
        stdin=subprocess.DEVNULL,
        stdout=theirs,
        stderr=subprocess.PIPE,
    ) as process:
        os.close(theirs)
        out = b""
        while True:
            try:
                part = os.read(ours, 65536)
            except OSError:  # the other end is closed
                break
            if not part:
                break
            out += part
        os.close(ours)
        assert process.wait() == status_of(args)
    assert len(out) > 300
    assert (b"\x1b[" in out) == coloured


@pytest.mark.parametrize("args", TABLES, ids=lambda a: a[0])
def test_an_ascii_terminal_gets_stand_ins(args: tuple[str, ...], pinmap: CommandLine) -> None:
    ran = pinmap(*args, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert ran.status == status_of(args)
    assert ran.out.isascii()
    assert "\\u" not in ran.out
    assert len(ran.out.splitlines()) >= len(pinmap(*args).out.splitlines()) - 4


def test_an_ascii_pipe_gets_json_that_says_the_same(pinmap: CommandLine) -> None:
    args = ("adapt", "oakmere-88", "isa-8bit", "--json")
    ascii_only = pinmap(*args, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    plain = pinmap(*args)
    assert ascii_only.out.isascii()
    assert not plain.out.isascii()
    assert json.loads(ascii_only.out) == json.loads(plain.out)


@pytest.mark.parametrize("columns", [40, 80, 200])
@pytest.mark.parametrize("args", TABLES, ids=lambda a: a[0])
def test_the_output_keeps_within_the_terminal(args: tuple[str, ...], columns: int, pinmap: CommandLine) -> None:
    ran = pinmap(*args, COLUMNS=str(columns))
    assert ran.status == status_of(args)
    longest = max(columns, 53)  # columns, or the longest name of a kind of card with its answer: not broken
    assert [line for line in ran.out.splitlines() if len(line) > longest] == []
    assert min(columns, 60) - 12 < max(len(line) for line in ran.out.splitlines())
    for name in {"list": ["brindle-portable", "oakmere-88"], "check": ["IOCHK*", "DRQ3"]}.get(args[0], ["IOCHRDY"]):
        assert re.search(rf"(?<!\S){re.escape(name)}(?![\w-])", ran.out)


@pytest.mark.parametrize("columns", [40, 60, 72, 100])
def test_no_narrow_table_cuts_a_name_off(columns: int, pinmap: CommandLine) -> None:
    name = "THE LINE BEHIND THE LOUDSPEAKER PLUG"
    text = SOUND.replace("3: open", f"3: {name}") + f"own signals:\n  {name}: it hums\n"
    write(pinmap, "wordy.yaml", text)
    for args in (
        ("show", "wordy.yaml"),
        ("compare", "wordy.yaml", "oakmere-88"),
        ("adapt", "wordy.yaml", "wordy.yaml"),
    ):
        out = pinmap(*args, COLUMNS=str(columns)).out
        letters = [set(re.sub(r"[^A-Z]", "", line)) for line in out.splitlines()]
        assert set("THELINBDOUSPAKRG") <= set().union(*letters)
        assert max(len(line) for line in out.splitlines()) <= max(columns, 53)
        assert out.count("LOUDSPEA") + out.count("LOUDSPE") >= 1


def test_the_longest_table_is_readable_at_eighty_columns(pinmap: CommandLine) -> None:
    out = pinmap("adapt", "oakmere-88", "isa-8bit", COLUMNS="80").out
    assert re.search(r"^ 51 +J1 19 +19 +J2 A10 +A10 +IOCHRDY +control +straight$", out, re.MULTILINE)


def test_a_reader_that_leaves_early_causes_no_traceback(pinmap: CommandLine) -> None:
    for args in (("adapt", "oakmere-88", "isa-8bit"), ("adapt", "oakmere-88", "isa-8bit", "--json"), ("schema",)):
        with subprocess.Popen(
            [sys.executable, "-m", "pinmap", *args],
            cwd=pinmap.cwd,
            env=pinmap.env(),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        ) as process:
            assert process.stdout
            assert process.stderr
            process.stdout.close()  # before anything is written
            assert process.stderr.read() == b""
            assert process.wait() in (0, 1)


@pytest.mark.skipif(sys.platform == "win32", reason="file names are text there")
def test_a_name_that_is_no_text_is_shown_with_escapes(pinmap: CommandLine) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "pinmap", "check", b"\xff.yaml"],
        cwd=pinmap.cwd,
        env=pinmap.env(),
        capture_output=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (2, b"pinmap: \\udcff.yaml: there is no such file\n")


@pytest.mark.parametrize(
    "args", [("check",), ("show",), ("compare", "isa-8bit"), ("adapt", "isa-8bit")], ids=lambda a: a[0]
)
def test_a_map_cannot_command_the_terminal(args: tuple[str, ...], pinmap: CommandLine) -> None:
    evil = '"\\e]0;owned\\a"'
    text = SOUND.replace("Two by two", evil).replace("3: open", f"3: {{signal: {evil}, with: {evil}, note: {evil}}}")
    write(
        pinmap,
        "evil.yaml",
        f"{text}about: {evil}\nsource: {evil}\noptions: {{{evil}: {evil}}}\nown signals: {{{evil}: {evil}}}\n",
    )
    ran = pinmap(args[0], "evil.yaml", *args[1:], FORCE_COLOR="1", TERM="xterm")
    assert ran.status in (0, 1)
    said = re.sub(r"\x1b\[[\d;]*m", "", ran.out)  # our own colours
    assert "owned" in said
    assert "\\u001b]0;owned\\u0007" in re.sub(r"\s+", "", said)
    assert not any(ord(c) < 32 and c != "\n" for c in said + ran.err)


# ---------------------------------------------------------------------- completion


def completed(pinmap: CommandLine, words: str, at: int) -> list[str]:
    ran = pinmap(COMP_WORDS=words, COMP_CWORD=str(at), _PINMAP_COMPLETE="bash_complete")
    assert (ran.status, ran.err) == (0, "")
    return ran.out.splitlines()


def test_a_shell_completes_the_names_of_connectors(pinmap: CommandLine) -> None:
    assert completed(pinmap, "pinmap check oak", 2) == ["plain,oakmere-88", "file,oak"]
    assert completed(pinmap, "pinmap adapt oakmere-88 isa", 3) == ["plain,isa-16bit", "plain,isa-8bit", "file,isa"]


def test_a_shell_completes_commands_and_options(pinmap: CommandLine) -> None:
    assert completed(pinmap, "pinmap ", 1) == [f"plain,{name}" for name in COMMANDS]
    assert "plain,--json" in completed(pinmap, "pinmap adapt --", 2)
    assert completed(pinmap, "pinmap schema f", 2) == ["plain,forms"]
    assert completed(pinmap, "pinmap chek oak", 2) == [""]  # and no traceback


# ---------------------------------------------------------------------- nothing else happens


@pytest.mark.parametrize("args", [*TABLES, ("new",), ("schema",)], ids=lambda a: a[0])
def test_nothing_is_written_that_was_not_asked_for(args: tuple[str, ...], pinmap: CommandLine) -> None:
    assert pinmap(*args).status == status_of(args)
    assert pinmap.left() == []


def test_adapt_writes_its_files_and_nothing_else(pinmap: CommandLine) -> None:
    ran = pinmap("adapt", "oakmere-88", "isa-8bit", "--out", "a/b")
    names = ["adapter.net", "wiring.csv", "wiring.md", "report.md", "parts.csv", "bench.html", "wiring.pdf"]
    assert pinmap.left() == ["a", "a/b", *sorted(f"a/b/{name}" for name in names)]
    assert ran.out.splitlines()[-1] == f"written: {', '.join(f'a/b/{name}' for name in names)}"
    assert ran.err == ""


def test_adapt_writes_only_what_is_named(pinmap: CommandLine) -> None:
    ran = pinmap(
        "adapt", "oakmere-88", "isa-8bit", "--out", "a", "--only", "wiring.pdf", "--only", "parts.csv", "--bom"
    )
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.splitlines()[-1] == "written: a/parts.csv, a/wiring.pdf"
    assert pinmap.left() == ["a", "a/parts.csv", "a/wiring.pdf"]
    assert (pinmap.cwd / "a/parts.csv").read_bytes().startswith(b"\xef\xbb\xbfitem,")


def test_adapt_says_what_goes_with_a_folder_only(pinmap: CommandLine) -> None:
    ran = pinmap("adapt", "oakmere-88", "isa-8bit", "--only", "wiring.pdf", "--date", "today", "--bom")
    assert (ran.status, ran.out) == (2, "")
    assert "--only, --date and --bom: only with --out, for without it no file is written." in ran.err


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (("--out", "o.png"), "--out must end in .svg or .pdf, not in 'o.png'."),
        (("--svg", "--out", "o.pdf"), "--out must end in .svg, not in 'o.pdf'."),
        (("--pdf", "--out", "o.svg"), "--out must end in .pdf, not in 'o.svg'."),
    ],
)
def test_a_drawing_has_the_ending_of_what_it_is(pinmap: CommandLine, args: tuple[str, ...], said: str) -> None:
    ran = pinmap("draw", "oakmere-88", *args)
    assert (ran.status, ran.out, pinmap.left()) == (2, "", [])
    assert said in ran.err


def test_new_writes_its_file_and_nothing_else(pinmap: CommandLine) -> None:
    ran = pinmap("new", "--like", "oakmere-88", "--out", "mine.yaml")
    assert (ran.status, ran.out, ran.err) == (0, "written: mine.yaml\n", "")
    assert pinmap.left() == ["mine.yaml"]
    assert (pinmap.cwd / "mine.yaml").read_text(encoding="utf-8") == pinmap("new", "--like", "oakmere-88").out


def loaded(pinmap: CommandLine, code: str) -> set[str]:
    heavy = ["skidl", "rich", "yaml", "msgspec", "click", "jinja2", "numpy", "skip"]
    script = f"import sys\n{code}\nprint([m for m in {heavy!r} if m in sys.modules], file=sys.stderr)"
    ran = pinmap.python("-c", script)
    assert ran.status == 0, ran.err
    return set(re.findall(r"'(\w+)'", ran.err.splitlines()[-1]))


def test_import_pinmap_loads_no_library_at_all(pinmap: CommandLine) -> None:
    assert loaded(pinmap, "import pinmap") == set()


def test_check_loads_neither_the_netlist_library_nor_the_table_library(pinmap: CommandLine) -> None:
    code = "import pinmap.cli\nsys.argv = ['pinmap', 'check', 'oakmere-88']\npinmap.cli.main()"
    assert loaded(pinmap, code) == {"yaml", "msgspec", "click"}


def test_a_table_is_shown_without_the_netlist_library(pinmap: CommandLine) -> None:
    code = "import pinmap.cli\nsys.argv = ['pinmap', 'adapt', 'oakmere-88', 'isa-8bit']\npinmap.cli.main()"
    assert loaded(pinmap, code) == {"yaml", "msgspec", "click", "rich"}


@pytest.mark.parametrize("args", [*TABLES, ("adapt", "oakmere-88", "isa-8bit", "--json")], ids=lambda a: a[-1])
def test_stdout_is_the_same_on_any_day_in_any_folder_with_any_hash(
    args: tuple[str, ...], pinmap: CommandLine, tmp_path: Path
) -> None:
    first = pinmap(*args, PYTHONHASHSEED="1", TZ="UTC", LANG="C.UTF-8")
    other = tmp_path / "elsewhere"
    other.mkdir()
    elsewhere = CommandLine(other)
    # The clock of the process is a year ahead.
    code = (
        "import sys, time, datetime\n"
        "now = time.time\n"
        "time.time = lambda: now() + 365 * 86400\n"
        "class Later(datetime.datetime):\n"
        "    @classmethod\n"
        "    def now(cls, tz=None): return super().now(tz) + datetime.timedelta(days=365)\n"
        "datetime.datetime = Later\n"
        f"sys.argv = ['pinmap', *{list(args)!r}]\n"
        "from pinmap.cli import main\n"
        "main()\n"
    )
    second = elsewhere.python("-c", code, PYTHONHASHSEED="4711", TZ="Asia/Tokyo", LANG="de_DE.UTF-8")
    assert second == first
    assert first.status == status_of(args)


def test_the_module_runs_like_the_command(pinmap: CommandLine) -> None:
    ran = pinmap.python("-c", "import sys; sys.argv = ['x', 'list']; from pinmap.cli import main; main()")
    assert ran == pinmap("list")
    assert pinmap("--help").out.startswith("Usage: pinmap [OPTIONS]")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_output_that_cannot_be_written_ends_in_one_message() -> None:
    command = [sys.executable, "-m", "pinmap", "check", "oakmere-88"]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert (done.returncode, done.stderr) == (2, "pinmap: the output cannot be written (no space left on device)\n")


@pytest.mark.skipif(os.name == "nt", reason="closes the output with a shell of the other kind")
def test_a_closed_output_is_no_reason_for_a_traceback() -> None:
    command = f'"{sys.executable}" -m pinmap check oakmere-88 >&-'
    done = subprocess.run(["/bin/sh", "-c", command], stderr=subprocess.PIPE, text=True, check=False)
    assert "Traceback" not in done.stderr
    assert done.returncode in (0, 2)


def test_a_disputed_contact_is_not_shown_as_settled(tmp_path: Path) -> None:
    text = (library.shipped() / "demo" / "oakmere-88.yaml").read_text(encoding="utf-8")
    path = tmp_path / "twice.yaml"
    path.write_text(text + "  3: AEN\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-X", "utf8", "-m", "pinmap", "show", str(path)],
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        check=True,
    )
    assert "! SD7/AEN" in done.stdout
    assert re.search(r"^ *3 .* SD7 .*disputed$", done.stdout, re.MULTILINE)


def test_a_map_that_cannot_be_built_says_that_more_is_to_come(tmp_path: Path) -> None:
    path = tmp_path / "broken.yaml"
    path.write_text("format: 1\ntitle: Broken\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "pinmap", "check", str(path)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert "  More is checked once this is corrected.\n" in done.stdout


# ---------------------------------------------------------------------- --against and --propose

SLOT = (library.shipped() / "standard" / "isa-8bit.yaml").read_text(encoding="utf-8")
# Typed from the other end: contact n of each row is called 32 - n.
MIRRORED = re.sub(r"\b([AB])(\d+)(?=[.:])", lambda m: f"{m[1]}{32 - int(m[2])}", SLOT)
# B19 is counted twice, so that all behind it stands one contact too late and the last return is lost.
LATE = re.sub(
    r"\bB(\d+)(?=[.:])", lambda m: f"B{int(m[1]) + (int(m[1]) > 19)}", SLOT.replace("  B31: GND\n", "")
).replace("  B19: DACK0*\n", "  B19: DACK0*  # or B20?\n  B20: DACK0*\n")
WRITTEN = (
    "pinmap: written: new.yaml: corrected as if it had been mirrored end to end. Measure the supplies and returns "
    "first\n"
)


def as_proposal(text: str, mistake: str) -> str:
    """A file as a proposal: what was done on top, and every supply and return that was moved on a guess."""
    marked = re.sub(r"^(  \w+: )(GND|[+-]\d+V)$", r"\1{signal: \2, seen: guessed}", text, flags=re.MULTILINE)
    return (
        f"# Proposed by pinmap: corrected as if it had been {mistake}.\n"
        f"# Measure every contact that is `seen: guessed` and write `seen: measured` there.\n{marked}"
    )


def entries(text: str) -> list[str]:
    return [line for line in text.splitlines() if re.match(r"  [AB]\d+[.:]", line)]


def test_a_corrected_map_is_written_to_the_file_that_is_named(pinmap: CommandLine) -> None:
    write(pinmap, "mirrored.yaml", MIRRORED)
    ran = pinmap("check", "mirrored.yaml", "--propose", "new.yaml")
    assert (ran.status, ran.err) == (1, WRITTEN)
    assert ran.out == pinmap("check", "mirrored.yaml").out
    assert (
        "  danger geometry-mistaken  mirrored.yaml\n"
        "      if the map was written mirrored end to end (read from the solder side, or numbered from the\n"
        "      other end), 62 of 62 contacts agree with isa-8bit; as it stands 6 do, and about 1 would by\n"
        "      chance\n"
        "      → Measure where the returns and +5V really are, before anything else. `--propose NEW.yaml`\n"
        "        writes the map corrected\n"
    ) in ran.out
    new = (pinmap.cwd / "new.yaml").read_text(encoding="utf-8")
    assert new == as_proposal(SLOT, "mirrored end to end")
    assert entries(new) != entries(MIRRORED)
    assert (pinmap.cwd / "mirrored.yaml").read_text(encoding="utf-8") == MIRRORED
    assert pinmap.left() == ["mirrored.yaml", "new.yaml"]
    ran = pinmap("check", "new.yaml")  # until it is measured, it is a guess
    assert (ran.status, ran.out.count("danger guess-supply")) == (1, 8)


def test_what_has_no_place_once_corrected_stays_as_a_comment_and_is_named(pinmap: CommandLine) -> None:
    write(pinmap, "late.yaml", LATE)
    ran = pinmap("check", "late.yaml", "--propose", "new.yaml")
    assert (ran.status, ran.err) == (
        1,
        "pinmap: written: new.yaml: corrected as if it had been off by 1 contact from B20 on; what has no "
        "place any more stands at its end as a comment: B19; not described now: B31 (GND on isa-8bit). Measure the "
        "supplies and returns first\n",
    )
    new = (pinmap.cwd / "new.yaml").read_text(encoding="utf-8")
    head, tail = as_proposal("", "off by 1 contact from B20 on"), SLOT.replace("  B31: GND\n", "")
    assert new == head + tail.replace("  B29: +5V", "  B29: {signal: +5V, seen: guessed}") + (
        "  # without a place, once corrected (off by 1 contact from B20 on):\n  # B19: DACK0*  # or B20?\n"
    )
    ran = pinmap("check", "new.yaml")
    assert (ran.status, "caution contact-not-described" in ran.out) == (1, True)  # B29 and B31 have to be measured


def test_against_another_record_of_the_machine_a_mistake_is_named_and_corrected(pinmap: CommandLine) -> None:
    oakmere = (library.shipped() / "demo" / "oakmere-88.yaml").read_text(encoding="utf-8")
    swapped = oakmere.replace("  3: SD7\n  4: +5V\n", "  3: +5V\n  4: SD7\n")
    write(pinmap, "swapped.yaml", swapped)
    assert "differs-from-reference" not in pinmap("check", "swapped.yaml").out
    ran = pinmap("check", "swapped.yaml", "--against", "oakmere-88", "--propose", "new.yaml")
    assert ran.status == 1
    assert (
        "  danger differs-from-reference  swapped.yaml:34:3\n"
        "      3 and 4 look exchanged: oakmere-88 has SD7 at 3 and +5V at 4, this map +5V and SD7\n"
        "      → Measure 3 and 4\n"
    ) in ran.out
    # No mistake with the whole table: there is nothing to correct, and no file.
    assert ran.err == (
        "pinmap: swapped.yaml: there is nothing to propose: no mistake with the connector as a whole "
        "explains the map better than it stands; "
        "nothing was written\n"
    )
    assert pinmap.left() == ["swapped.yaml"]


def test_several_references_and_several_maps_are_held_against_each_other(pinmap: CommandLine) -> None:
    ran = pinmap("check", "oakmere-88", "isa-8bit", "--against", "isa-8bit", "--against", "oakmere-88")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == pinmap("check", "oakmere-88", "isa-8bit").out


@pytest.mark.parametrize(
    ("args", "status", "err"),
    [
        (
            ("mirrored.yaml", "--propose", "mirrored.yaml"),
            2,
            "pinmap: mirrored.yaml exists already; a proposal must not overwrite it. Name another file\n",
        ),
        (
            ("mirrored.yaml", "oakmere-88", "--propose", "new.yaml"),
            2,
            "Usage: pinmap check [OPTIONS] MAP...\nTry 'pinmap check --help' for help.\n\n"
            "Error: --propose takes one MAP, not 2.\n",
        ),
        (
            ("mirrored.yaml", "--propose", "."),
            2,
            "Usage: pinmap check [OPTIONS] MAP...\nTry 'pinmap check --help' for help.\n\n"
            "Error: Invalid value for '--propose': File '.' is a directory.\n",
        ),
        (
            ("oakmere-88", "--propose", "new.yaml"),
            0,
            "pinmap: oakmere-88.yaml: there is nothing to propose: no mistake with the connector as a whole "
            "explains the map better than it stands; "
            "nothing was written\n",
        ),
        (
            ("broken.yaml", "--propose", "new.yaml"),
            1,
            "pinmap: nothing is proposed: no map can be built from the file yet\n",
        ),
        (
            ("flow.yaml", "--propose", "new.yaml"),
            1,
            "pinmap: flow.yaml:25:1: contacts must stand one entry a line, to be put elsewhere. Write each contact on "
            "a line of its own, without brackets; nothing was written\n",
        ),
        (("nowhere.yaml", "--propose", "new.yaml"), 2, "pinmap: nowhere.yaml: there is no such file\n"),
        (
            ("mirrored.yaml", "--against", "isa-9bit", "--propose", "new.yaml"),
            2,
            "pinmap: there is no file and no connector 'isa-9bit'. Did you mean isa-8bit?\n",
        ),
        # Names that could do something to the terminal, or that no file can have.
        (
            ("mirrored.yaml", "--propose", "\x1b[31mred.yaml"),
            2,
            "pinmap: a file's name must be a plain name, not '\\u001b[31mred.yaml'\n",
        ),
        (
            ("mirrored.yaml", "--propose", "two\nlines.yaml"),
            2,
            "pinmap: a file's name must be a plain name, not 'two\\nlines.yaml'\n",
        ),
        (
            ("mirrored.yaml", "--propose", "mirrored.yaml/new.yaml"),
            2,
            "pinmap: mirrored.yaml: the results cannot be written (not a directory). Nothing was changed\n",
        ),
    ],
    ids=[
        "exists",
        "two maps",
        "folder",
        "nothing",
        "broken",
        "flow",
        "no map",
        "no reference",
        "red",
        "lines",
        "below",
    ],
)
def test_where_no_corrected_map_can_be_written_it_says_why_and_leaves_no_file(
    args: tuple[str, ...], status: int, err: str, pinmap: CommandLine
) -> None:
    write(pinmap, "mirrored.yaml", MIRRORED)
    write(pinmap, "broken.yaml", BROKEN)
    head, _, below = MIRRORED.partition("\ncontacts:\n")
    flow = ", ".join(line.strip() for line in below.splitlines())
    write(pinmap, "flow.yaml", f"{head}\ncontacts: {{{flow}}}\n")
    ran = pinmap("check", *args)
    assert (ran.status, ran.err) == (status, err)
    assert pinmap.left() == ["broken.yaml", "flow.yaml", "mirrored.yaml"]
    assert (pinmap.cwd / "mirrored.yaml").read_text(encoding="utf-8") == MIRRORED


def test_a_proposal_goes_with_json_too(pinmap: CommandLine) -> None:
    write(pinmap, "mirrored.yaml", MIRRORED)
    ran = pinmap("check", "mirrored.yaml", "--json", "--propose", "below/new.yaml")
    assert (ran.status, ran.err) == (1, WRITTEN.replace("new.yaml", "below/new.yaml"))
    (first, *_) = json.loads(ran.out)["maps"][0]["findings"]
    assert (first["code"], first["grade"]) == ("geometry-mistaken", "danger")
    assert first["contacts"] == ["B1", "B3", "B22", "B23", "B25", "B27", "B29", "B31"]
    assert pinmap.left() == ["below", "below/new.yaml", "mirrored.yaml"]


def test_windows_line_ends_survive_a_proposal(pinmap: CommandLine) -> None:
    (pinmap.cwd / "mirrored.yaml").write_bytes(MIRRORED.replace("\n", "\r\n").encode())
    assert pinmap("check", "mirrored.yaml", "--propose", "new.yaml").err == WRITTEN
    wanted = as_proposal(SLOT, "mirrored end to end")
    assert (pinmap.cwd / "new.yaml").read_bytes() == wanted.replace("\n", "\r\n").encode()
