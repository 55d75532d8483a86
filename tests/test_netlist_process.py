"""The netlist process: what comes back is what was asked for, and nothing else happens."""

from __future__ import annotations

import builtins
import importlib.util
import json
import logging
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from pinmap.writers import netlist_child
from pinmap.writers.netlist_process import (
    NetlistError,
    NetPart,
    NetWire,
    netlist_text,
    read_netlist,
    start,
)

HOST = NetPart(
    "J1",
    "host header",
    "Pins:Header_2x05",
    "the machine's connector",
    (("1", "GND"), ("2", "IOR*"), ("10", "+5V"), ("9", "-12V"), ("3", "")),
)
CARD = NetPart("J10", "card slot", "Slots:Bus_62", "the card's slot", (("B1", "GND"), ("B14", "IOR*"), ("B3", "+5V")))
PULL = NetPart("R2", "4.7 kΩ", "", "pull-up of IOR*", (("1", ""), ("2", "")))
PARTS = (CARD, PULL, HOST)
NETS = (
    NetWire("IOR*", (("J1", "2"), ("J10", "B14"), ("R2", "2"))),
    NetWire("+5V", (("J1", "10"), ("J10", "B3"), ("R2", "1"))),
    NetWire("GND", (("J1", "1"), ("J10", "B1"))),
    NetWire("-12V", (("J1", "9"),)),
    NetWire("host A5 AUDIO", (("J1", "3"),)),
)

HOSTILE = (
    'say "hi"',
    '"quoted all round"',
    "'single'",
    "it's",
    "back\\slash",
    "ends in a backslash\\",
    "\\n is not a newline",
    "two\nlines\r\nand\ta tab",
    "(paren",
    "paren))) (net (name x",
    "; comment",
    "#t",
    "t",
    "nil",
    "yes",
    "%41%22",
    "=",
    " blanks around  ",
    "1e5",
    "0x10",
    "42",
    "N$1",
    "__NOCONNECT",
    "U1",
    "D[0:7]",
    "~{IOR}",
    "/IOR",
    "I\u0305O\u0305R\u0305",
    "µ Ω ± −5 V",
    "接地",
    "🔌👩‍🔧",
    "line\u2028separator\u2029and\u00a0space",
    "x" * 5000,
)


def made(tmp_path: Path, parts: tuple[NetPart, ...], nets: tuple[NetWire, ...], title: str = "Adapter") -> Path:
    path = tmp_path / "made.net"
    path.write_bytes(netlist_text(title, parts, nets).encode("utf-8"))
    return path


def identities(text: str) -> dict[str, str]:
    """The identity of each part, by ref."""
    comps = text.split("(comp\n")[1:]
    return {
        re.findall(r'\(ref "(.*?)"\)', comp)[0]: re.findall(r'\(tstamps "([0-9a-f-]{36})"\)', comp)[0] for comp in comps
    }


def outside(tmp_path: Path, script: str, **variables: str) -> tuple[subprocess.CompletedProcess[bytes], Path]:
    """Run a script in a Python of its own, whose home, temporary and current folders are in `tmp_path`."""
    for name in ("home", "tmp", "cwd"):
        (tmp_path / name).mkdir(parents=True)
    home, tmp = str(tmp_path / "home"), str(tmp_path / "tmp")
    hidden = ("XDG_DATA_HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME")
    environment = {name: value for name, value in os.environ.items() if name not in hidden}
    environment |= dict.fromkeys(("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA"), home)
    environment |= dict.fromkeys(("TMPDIR", "TEMP", "TMP"), tmp)
    environment |= {"PYTHONPATH": os.pathsep.join(map(os.path.abspath, sys.path)), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=tmp_path / "cwd",
        env=environment | variables,
        capture_output=True,
        timeout=60,
        check=False,
    )
    return done, tmp_path


SCRIPT = f"""
import pathlib, sys
from pinmap.writers.netlist_process import *
parts, nets = {PARTS!a}, {NETS!a}
text = netlist_text("Adapter", parts, nets)
"""


def test_what_was_asked_for_is_read_back(tmp_path: Path) -> None:
    parts, nets = read_netlist(made(tmp_path, PARTS, NETS))
    assert parts == {
        "J1": replace(HOST, pads=(("1", "GND"), ("2", "IOR*"), ("3", ""), ("9", "-12V"), ("10", "+5V"))),
        "J10": replace(CARD, pads=(("B1", "GND"), ("B3", "+5V"), ("B14", "IOR*"))),
        "R2": PULL,
    }
    assert nets == {net.name: frozenset(net.nodes) for net in NETS}


def test_the_text_holds_no_clock_no_path_and_no_version() -> None:
    text = netlist_text("Adapter", PARTS, NETS)
    head = text[: text.index("(components")]
    assert text.startswith('(export \n  (version "D")\n  (design\n    (source "Adapter")\n    (date "")\n')
    assert '(tool "pinmap, skidl")' in head
    assert not re.search(r"\d\.\d|\d:\d\d|/\w", head)
    assert set(re.findall(r"\(source (.*?)\)", text)) == {'"Adapter"'}
    assert "SKiDL" not in text
    assert not re.search(r"(?i)[\w/\\]*(tmp|temp)[/\\]|\.py\b|REPL", text)
    assert text.endswith(")\n")


def test_parts_come_in_natural_order_and_nets_in_the_order_given() -> None:
    text = netlist_text("Adapter", (*PARTS, NetPart("J2", "", "", "a test point", ())), NETS)
    assert list(identities(text)) == ["J1", "J2", "J10", "R2"]
    assert re.findall(r'\(code "(\d+)"\)\s+\(name "(.*?)"\)', text) == [
        (str(code), net.name) for code, net in enumerate(NETS, 1)
    ]
    assert re.findall(r'\(ref "(\w+)"\)\s+\(pin "(\w+)"\)', text)[:3] == [("J1", "2"), ("J10", "B14"), ("R2", "2")]


def test_a_contact_left_open_stays_in_the_netlist_under_its_name(tmp_path: Path) -> None:
    _, nets = read_netlist(made(tmp_path, PARTS, NETS))
    assert nets["host A5 AUDIO"] == {("J1", "3")}
    assert nets["-12V"] == {("J1", "9")}


def test_hostile_texts_come_back_unchanged_from_every_place(tmp_path: Path) -> None:
    pads = tuple((text, text) for text in HOSTILE)
    parts = tuple(NetPart(text, text, text, text, pads) for text in HOSTILE)
    nets = tuple(NetWire(text, tuple((ref, text) for ref in HOSTILE)) for text in HOSTILE)
    path = made(tmp_path, parts, nets, "\n".join(HOSTILE))
    found, wires = read_netlist(path)
    assert {ref: replace(part, pads=tuple(sorted(part.pads))) for ref, part in found.items()} == {
        part.ref: replace(part, pads=tuple(sorted(part.pads))) for part in parts
    }
    assert wires == {net.name: frozenset(net.nodes) for net in nets}
    assert b"\r" not in path.read_bytes()


def test_an_empty_circuit_makes_an_empty_netlist(tmp_path: Path) -> None:
    assert read_netlist(made(tmp_path, (), (), "")) == ({}, {})
    assert '(source "pinmap")' in (tmp_path / "made.net").read_text("utf-8")


def test_the_same_input_gives_the_same_bytes_in_any_folder_under_any_hash_seed(tmp_path: Path) -> None:
    # The child ignores the variable and has a random seed each time.
    texts = set()
    for name, seed in (("one", "1"), ("another place", "2"), ("drei ü", "3")):
        script = SCRIPT + "sys.stdout.buffer.write(text.encode())"
        done, _ = outside(tmp_path / name, script, PYTHONHASHSEED=seed, TZ=f"UTC{seed}")
        assert done.returncode == 0, done.stderr
        texts.add(done.stdout)
    assert texts == {netlist_text("Adapter", PARTS, NETS).encode("utf-8")}


def test_nothing_is_written_to_the_current_home_or_temporary_folder_and_nothing_is_printed(tmp_path: Path) -> None:
    script = SCRIPT + "pathlib.Path('a.net').write_text(text, 'utf-8'); read_netlist('a.net')"
    done, place = outside(tmp_path, script)
    assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")
    assert sorted(str(path.relative_to(place)) for path in place.rglob("*")) == [
        "cwd",
        str(Path("cwd", "a.net")),
        "home",
        "tmp",
    ]


def test_the_caller_is_left_as_it_was() -> None:
    script = f"""{SCRIPT}
import builtins, json, logging
print(json.dumps([logging.getLoggerClass().__name__, hasattr(builtins, "default_circuit"), "skidl" in sys.modules]))
"""
    path = os.pathsep.join(map(os.path.abspath, sys.path))
    done = subprocess.run(
        [sys.executable, "-c", script], env=os.environ | {"PYTHONPATH": path}, capture_output=True, check=True
    )
    assert json.loads(done.stdout) == ["Logger", False, False]


def test_reading_prints_logs_and_warns_nothing(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture
) -> None:
    path = made(tmp_path, PARTS, NETS)
    with caplog.at_level(logging.DEBUG):
        read_netlist(path)
    assert caplog.records == []
    assert capfd.readouterr() == ("", "")
    assert not hasattr(builtins, "default_circuit")


def test_reading_does_not_depend_on_the_encoding_of_the_machine(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = made(tmp_path, PARTS, NETS)
    script = SCRIPT + f"print(ascii(read_netlist({str(path)!r}))); print(ascii(text))"
    done, _ = outside(tmp_path / "ascii", script, LC_ALL="C", PYTHONCOERCECLOCALE="0", PYTHONUTF8="0")
    assert done.stderr == b""
    assert done.stdout.count(b"4.7 k\\u03a9") == 3  # read once, written as the value and the library's part
    monkeypatch.setattr("locale.getpreferredencoding", lambda _=True: "cp1252")
    assert read_netlist(path)[0]["R2"].value == "4.7 kΩ"


def test_a_part_keeps_its_identity_when_others_come_or_go_or_it_is_renamed() -> None:
    before = identities(netlist_text("Adapter", PARTS, NETS))
    extra = NetPart("C1", "100 nF", "C:0603", "decoupling of +5V", (("1", ""), ("2", "")))
    after = identities(netlist_text("Another title", (extra, *PARTS), (NetWire("NEW", (("C1", "1"),)), *NETS)))
    assert {ref: after[ref] for ref in before} == before
    assert len(set(after.values())) == 4
    renamed = replace(PULL, ref="R7", value="10 kΩ", footprint="R:0805")
    assert identities(netlist_text("Adapter", (renamed,), ()))["R7"] == before["R2"]


def test_identities_are_those_of_every_earlier_netlist() -> None:
    # A change here parts every board already laid out from its netlist.
    assert identities(netlist_text("Adapter", PARTS, NETS)) == {
        "J1": "0d1509b3-82d3-5abb-806d-a52522379863",
        "J10": "dc66c1c5-4590-5d0a-96be-608d14965c20",
        "R2": "62c1b139-1bbc-545b-bf42-2f397141de7c",
    }


def test_a_missing_skidl_is_told_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "path", [entry for entry in sys.path if not Path(entry, "skidl").is_dir()])
    with pytest.raises(NetlistError) as caught:
        netlist_text("Adapter", PARTS, NETS)
    assert str(caught.value) == "a netlist needs skidl and kicad-skip; skidl is not installed"


def test_a_failure_inside_skidl_is_told_in_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "skidl.py").write_text("import sys\nprint('chatter')\nsys.exit('no\\nway')\n")
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(NetlistError) as caught:
        netlist_text("Adapter", PARTS, NETS)
    assert str(caught.value) == "the netlist could not be made: SystemExit: no"


def test_what_is_printed_does_not_mix_with_the_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    chatter = "import os, sys; print('chatter'); os.write(1, b'chatter'); print('chatter', file=sys.stderr)\n"
    spec = importlib.util.find_spec("sexpdata")
    assert spec is not None
    assert spec.origin is not None
    library = Path(spec.origin).read_text("utf-8")
    (tmp_path / "sexpdata.py").write_text(f"{library}\n{chatter}", "utf-8")
    quiet = netlist_text("Adapter", PARTS, NETS)
    monkeypatch.syspath_prepend(tmp_path)
    assert netlist_text("Adapter", PARTS, NETS) == quiet
    assert capfd.readouterr() == ("", "")


def test_a_sibling_file_does_not_hide_a_library(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    source = Path(netlist_child.__file__)
    (tmp_path / "netlist_child.py").write_bytes(source.read_bytes())
    for name in ("json", "skidl", "logging", "skip"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('hidden')\n")
    monkeypatch.setattr(netlist_child, "__file__", str(tmp_path / "netlist_child.py"))
    assert netlist_text("Adapter", PARTS, NETS).startswith("(export")


def test_the_child_needs_nothing_else_of_the_package(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "pinmap").mkdir()
    (tmp_path / "pinmap" / "__init__.py").write_text("raise SystemExit('the rest of the package')\n")
    monkeypatch.syspath_prepend(tmp_path)
    assert netlist_text("Adapter", PARTS, NETS).startswith("(export")


def test_a_child_that_is_ended_from_outside_is_told_in_one_sentence() -> None:
    with start("Adapter", PARTS, NETS) as job:
        job._process.kill()
        with pytest.raises(NetlistError, match=r"^the netlist process ended with status -?\d+ and no answer$"):
            job.result()


def test_a_child_that_cannot_begin_is_told_in_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(netlist_child, "__file__", "gone.py")
    with pytest.raises(NetlistError) as caught:
        netlist_text("Adapter", PARTS, NETS)
    assert str(caught.value).startswith("the netlist process ended with status 1 and no answer: FileNotFoundError: ")
    assert capfd.readouterr() == ("", "")


def test_a_child_that_takes_too_long_gives_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = Path(netlist_child.__file__).read_text("utf-8")
    hurried = source.replace("TIME_LIMIT_S = 120.0", "TIME_LIMIT_S = 0.1")
    assert hurried != source
    (tmp_path / "hurried.py").write_text(hurried, "utf-8")
    (tmp_path / "skidl.py").write_text("import time\ntime.sleep(30)\n")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(netlist_child, "__file__", str(tmp_path / "hurried.py"))
    with pytest.raises(NetlistError, match=r"^the netlist must be ready within 0 s; it is not$"):
        netlist_text("Adapter", PARTS, NETS)


def test_an_interrupted_caller_leaves_no_child_and_no_folder() -> None:
    job = start("Adapter", PARTS, NETS)
    assert job._folder.is_dir()
    with pytest.raises(KeyboardInterrupt), job:
        raise KeyboardInterrupt
    assert job._process.returncode is not None
    assert not job._folder.exists()
    with pytest.raises(NetlistError, match="this one is closed"):
        job.result()


def test_a_caller_interrupted_while_waiting_leaves_no_child_and_no_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    job = start("Adapter", PARTS, NETS)
    wait = job._process.wait

    def interrupted() -> int:
        monkeypatch.setattr(job._process, "wait", wait)
        raise KeyboardInterrupt

    monkeypatch.setattr(job._process, "wait", interrupted)
    with pytest.raises(KeyboardInterrupt):
        job.result()
    assert job._process.returncode is not None
    assert not job._folder.exists()


def test_a_forgotten_job_leaves_no_child_and_no_folder(tmp_path: Path) -> None:
    done, place = outside(tmp_path, SCRIPT + "job = start('Adapter', parts, nets)")
    assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")
    assert list((place / "tmp").iterdir()) == []


def test_a_result_can_be_taken_twice() -> None:
    with start("Adapter", PARTS, NETS) as job:
        assert job.result() is job.result()
        assert not job._folder.exists()


@pytest.mark.parametrize(
    ("parts", "nets", "message"),
    [
        ((HOST, HOST), (), "each part must have a ref of its own; J1 is given twice"),
        (
            (HOST, replace(CARD, purpose=HOST.purpose)),
            (),
            'each part must have a purpose of its own; J1 and J10 are both for "the machine\'s connector"',
        ),
        ((replace(HOST, purpose=""),), (), "the purpose of J1 must not be empty"),
        (
            (replace(PULL, pads=(("1", ""), ("1", "x"))),),
            (),
            "a part must have each pad once; pad 1 of R2 is given twice",
        ),
        ((PULL,), (NetWire("A", (("R2", "1"),)),) * 2, "each net must have a name of its own; A is given twice"),
        ((PULL,), (NetWire("A", ()),), "a net must have at least one node; A has none"),
        ((PULL,), (NetWire("", (("R2", "1"),)),), "a net's name must not be empty"),
        (
            (PULL,),
            (NetWire("A", (("R2", "3"),)),),
            "a net must join pads of the parts given; A names pad 3 of R2",
        ),
        (
            (PULL,),
            (NetWire("A", (("R2", "1"),)), NetWire("B", (("R2", "1"),))),
            "a pad must be on one net, once; pad 1 of R2 is on A and B",
        ),
        (
            (replace(PULL, value="4\x1b[31m"),),
            (),
            "the value of R2 must be plain text without control characters, not '4\\x1b[31m'",
        ),
        (
            (replace(PULL, value="\ud800"),),
            (),
            "the value of R2 must be plain text without control characters, not '\\ud800'",
        ),
    ],
)
def test_what_cannot_stand_in_a_netlist_is_refused(
    parts: tuple[NetPart, ...], nets: tuple[NetWire, ...], message: str
) -> None:
    with pytest.raises(NetlistError) as caught:
        start("Adapter", parts, nets)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('"4.7 kΩ"', '"47 kΩ"', "part R2 differs"),
        ('"Pins:Header_2x05"', '"Pins:Header_2x06"', "part J1 differs"),
        ('"pull-up of IOR*"', '"pull-up"', "part R2 differs"),
        ('(pinfunction "+5V")', '(pinfunction "+3V")', "part J10 differs"),
        ('(name "-12V")', '(name "-12V1")', "net -12V differs"),
        ('(ref "J10")\n        (pin "B14")', '(ref "J10")\n        (pin "B13")', "part J10 differs"),
    ],
)
def test_a_netlist_that_says_something_else_is_refused(tmp_path: Path, old: str, new: str, message: str) -> None:
    path = made(tmp_path, PARTS, NETS)
    wanted = {part.ref: part for part in PARTS}, {net.name: net for net in NETS}
    netlist_child._compare(read_netlist(path), *wanted)
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")
    with pytest.raises(NetlistError, match=re.escape(message)):
        netlist_child._compare(read_netlist(path), *wanted)


def test_two_nets_swapped_after_writing_are_refused(tmp_path: Path) -> None:
    found = read_netlist(made(tmp_path, PARTS, NETS))
    found[1]["GND"], found[1]["+5V"] = found[1]["+5V"], found[1]["GND"]
    with pytest.raises(NetlistError, match=re.escape("net +5V differs")):
        netlist_child._compare(found, {part.ref: part for part in PARTS}, {net.name: net for net in NETS})


def test_the_child_itself_refuses_a_netlist_that_lost_a_node(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = Path(netlist_child.__file__).read_text("utf-8")
    lossy = source.replace('if item[0] != "node"] + nodes', 'if item[0] != "node"] + nodes[:2]')
    assert lossy != source
    (tmp_path / "lossy.py").write_text(lossy, "utf-8")
    monkeypatch.setattr(netlist_child, "__file__", str(tmp_path / "lossy.py"))
    with pytest.raises(NetlistError, match=r"^a netlist read back must say what was asked for; part R2 differs$"):
        netlist_text("Adapter", PARTS, NETS)


@pytest.mark.parametrize("text", ["", "(", "()", "(kicad_pcb)", '"x"', "nonsense", "(export (nets (net)))x"])
def test_a_file_that_is_no_netlist_is_refused_in_one_sentence(tmp_path: Path, text: str) -> None:
    (tmp_path / "bad.net").write_text(text)
    with pytest.raises(NetlistError) as caught:
        read_netlist(tmp_path / "bad.net")
    assert "\n" not in str(caught.value)


def test_a_netlist_that_is_not_there_is_told_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(NetlistError, match=r"gone\.net is not a readable netlist: FileNotFoundError"):
        read_netlist(tmp_path / "gone.net")
