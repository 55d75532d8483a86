"""Any bytes: a map, or findings, or one short message; nothing else. And nothing that was there is lost."""

from __future__ import annotations

import contextlib
import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pinmap import api, checks, library
from pinmap.api import render
from pinmap.cli import cli
from pinmap.coverage import coverage
from pinmap.errors import UnreadableError
from pinmap.planner import plan
from pinmap.reading import ReadMap
from pinmap.text import visible
from pinmap.writers import FILES

GOOD = """\
format: 1
title: Four contacts
bus: isa-8bit
end: host
body:
  form: box header
  rows: 2
  places: 2
  pitch: 2.54 mm
  labels: zigzag
  first: top left
contacts:
  1: GND
  2: +5V
  3: IOR*
  4: open
"""
SHIPPED = sorted(p for folder in ("demo", "standard") for p in (library.shipped() / folder).glob("*.yaml"))


POSIX = pytest.mark.skipif(os.name != "posix", reason="pipes, devices, signals and limits as POSIX has them")


def start(tmp_path: Path, *arguments: str, preexec_fn: Callable[[], None] | None = None) -> subprocess.Popen[str]:
    """Begin `pinmap` in a process of its own, whose temporary and current folders are in `tmp_path`."""
    for name in ("tmp", "cwd", "modules"):
        (tmp_path / name).mkdir(exist_ok=True)
    environment = os.environ | dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(tmp_path / "tmp"))
    modules = os.pathsep.join(str(Path(entry).absolute()) for entry in [str(tmp_path / "modules"), *sys.path])
    environment |= {"PYTHONPATH": modules, "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.Popen(
        [sys.executable, "-m", "pinmap", *arguments],
        cwd=tmp_path / "cwd",
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        preexec_fn=preexec_fn,
    )


def run(tmp_path: Path, *arguments: str) -> tuple[int, str, str]:
    """Run `pinmap` and return exit status, stdout and stderr: done in 20 s, without its insides, nothing left over."""
    process = start(tmp_path, *arguments)
    try:
        out, error = process.communicate(timeout=20)
    finally:
        process.kill()
    assert "Traceback" not in out + error
    assert list((tmp_path / "tmp").iterdir()) == []
    return process.returncode, out, error


def saved(folder: Path) -> dict[str, bytes]:
    """Every file in a folder, hidden ones too."""
    return {p.name: p.read_bytes() for p in folder.iterdir()}


# ---------------------------------------------------------------------- files that cannot be read

UNREADABLE: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "m.yaml: the file must hold a pin map; it is empty. `pinmap new` writes a skeleton to fill in"),
    "comments only": (
        b"# nothing\n",
        "m.yaml: the file must hold a pin map; it is empty. `pinmap new` writes a skeleton to fill in",
    ),
    "not YAML": (b"a: [1\n", "m.yaml:1:4: this is not YAML: a bracket is not closed here, or a comma is missing"),
    "binary": (
        bytes(range(256)),
        "m.yaml:2:118: the file must be text in UTF-8; the byte 0x80 here is not. Save it as UTF-8 text in your editor",
    ),
    "a picture": (
        b"\x89PNG\r\n\x1a\n",
        "m.yaml:1:1: the file must be text in UTF-8; the byte 0x89 here is not. Save it as UTF-8 text in your editor",
    ),
    "UTF-16": (
        GOOD.encode("utf-16"),
        "m.yaml:1:1: the file must be text in UTF-8; the byte 0xFF here is not. Save it as UTF-8 text in your editor",
    ),
    "UTF-16 without its mark": (
        GOOD.encode("utf-16-le"),
        "m.yaml:1:2: the file must be plain text, without control characters; U+0000 here is one. "
        "Save it as UTF-8 text in your editor",
    ),
    "Latin-1": (
        GOOD.replace("Four", "Gerät").encode("latin-1"),
        "m.yaml:2:11: the file must be text in UTF-8; the byte 0xE4 here is not. Save it as UTF-8 text in your editor",
    ),
    "too large": (b"#" * 1_000_001, "m.yaml: the file must not be larger than 1000 kB; a pin map has a few kB"),
    "a bomb of aliases": (
        b"a: &a [x,x]\nb: &b [*a,*a]\nc: &c [*b,*b]\n",
        "m.yaml:1:4: a pin map must not use YAML anchors. Put a value that begins with & in quotes",
    ),
    "nested in brackets": (
        b"[" * 100_000,
        "m.yaml:1:…: blocks must not be nested deeper than 12",  # releases of libyaml stop at different places
    ),
    "nested in lists": (b"- " * 100_000, "m.yaml:1:25: blocks must not be nested deeper than 12"),
    "nested in blocks": (
        "".join(" " * i + "a:\n" for i in range(1300)).encode(),
        "m.yaml:13:13: blocks must not be nested deeper than 12",
    ),
    "100 000 keys": (
        "".join(f"k{i}: v\n" for i in range(100_000)).encode(),
        "m.yaml:10000:8: a file must not hold more than 20000 keys and values",
    ),
    "a tag that makes objects": (
        b"a: !!python/object/apply:os.system [ls]\n",
        "m.yaml:1:4: a pin map must not use YAML tags. Put a value that begins with ! in quotes",
    ),
    "two documents": (
        (GOOD + "---\n" + GOOD).encode(),
        "m.yaml:17:1: a file must hold one pin map, not several documents",
    ),
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_a_file_that_cannot_be_read_ends_in_one_short_message_and_status_2(tmp_path: Path, name: str) -> None:
    content, message = UNREADABLE[name]
    (tmp_path / "cwd").mkdir()
    (tmp_path / "cwd" / "m.yaml").write_bytes(content)
    status, out, error = run(tmp_path, "check", "m.yaml")
    if "…" in message:
        error = re.sub(r"(?<=^pinmap: m\.yaml:1:)\d+(?=:)", "…", error)
    assert (status, out, error) == (2, "", f"pinmap: {message}\n")


def test_a_file_of_100_mb_is_refused_without_being_read(tmp_path: Path) -> None:
    (tmp_path / "cwd").mkdir()
    with (tmp_path / "cwd" / "m.yaml").open("wb") as stream:
        stream.truncate(100_000_000)
    begun = time.monotonic()
    with pytest.raises(UnreadableError, match="must not be larger than 1000 kB"):
        library.read(str(tmp_path / "cwd" / "m.yaml"))
    assert time.monotonic() - begun < 1


@POSIX
def test_no_file_no_device_and_no_folder_hangs_or_fails_without_a_reason(tmp_path: Path) -> None:
    (tmp_path / "cwd" / "folder").mkdir(parents=True)
    os.mkfifo(tmp_path / "cwd" / "pipe")
    assert run(
        tmp_path, "check", "none.yaml", "./pipe", "folder", "/dev/zero", ".", "", "a/b", "x" * 300 + ".yaml"
    ) == (
        2,
        "",
        "pinmap: none.yaml: there is no such file\n"
        "pinmap: ./pipe: a pin map must be a file, not a device or pipe\n"
        "pinmap: folder: a pin map must be a file, not a folder\n"
        "pinmap: /dev/zero: a pin map must be a file, not a device or pipe\n"
        "pinmap: .: a pin map must be a file, not a folder\n"
        "pinmap: there is no file and no connector ''. `pinmap list` shows what there is\n"
        "pinmap: a/b: there is no such file\n"
        f"pinmap: {'x' * 300}.yaml: the file cannot be read (file name too long)\n",
    )


@POSIX
def test_a_file_s_name_cannot_write_to_the_terminal(tmp_path: Path) -> None:
    (tmp_path / "cwd").mkdir()
    name = b"red\x1b[31m\xff\xe2\x80\xae.yaml"
    (tmp_path / "cwd" / os.fsdecode(name)).write_text(GOOD, "utf-8")
    status, out, error = run(tmp_path, "check", os.fsdecode(name), os.fsdecode(b"no" + name))
    assert status == 2
    assert out.startswith("red\\u001b[31m\\udcff\\u202e.yaml: Four contacts")
    assert error == "pinmap: nored\\u001b[31m\\udcff\\u202e.yaml: there is no such file\n"


def test_one_missing_map_does_not_hide_the_others(tmp_path: Path) -> None:
    (tmp_path / "cwd").mkdir()
    (tmp_path / "cwd" / "m.yaml").write_text(GOOD, "utf-8")
    status, out, error = run(tmp_path, "check", "oakmere-88", "none.yaml", "oakmere-8", "m.yaml")
    assert status == 2
    assert re.findall(r"^\S+: .*contacts, bus isa-8bit, host\)$", out, re.MULTILINE) == [
        "oakmere-88.yaml: Oakmere 88 cabinet header (64 contacts, bus isa-8bit, host)",
        "m.yaml: Four contacts (4 contacts, bus isa-8bit, host)",
    ]
    assert error == (
        "pinmap: none.yaml: there is no such file\n"
        "pinmap: there is no file and no connector 'oakmere-8'. Did you mean oakmere-88?\n"
    )


def test_one_missing_map_leaves_the_json_of_the_others_whole(tmp_path: Path) -> None:
    status, out, error = run(tmp_path, "check", "oakmere-88", "none.yaml", "--json")
    assert (status, error) == (2, "pinmap: none.yaml: there is no such file\n")
    assert [m["file"] for m in json.loads(out)["maps"]] == ["oakmere-88.yaml"]


def test_two_unreadable_maps_in_one_adapter_are_both_reported(tmp_path: Path) -> None:
    (tmp_path / "cwd").mkdir()
    (tmp_path / "cwd" / "m.yaml").write_bytes(b"a: 'x\n")
    assert run(tmp_path, "adapt", "m.yaml", "none.yaml", "--out", "build") == (
        2,
        "",
        "pinmap: m.yaml:1:4: this is not YAML: a quote is not closed here\npinmap: none.yaml: there is no such file\n",
    )
    assert not (tmp_path / "cwd" / "build").exists()


def test_two_broken_maps_in_one_adapter_are_both_reported(tmp_path: Path) -> None:
    for name, line in (("one", "title: Four contacts\n"), ("two", "end: host\n")):
        (tmp_path / f"{name}.yaml").write_text(GOOD.replace(line, ""), "utf-8")
    result = CliRunner().invoke(
        cli, ["adapt", str(tmp_path / "one.yaml"), str(tmp_path / "two.yaml"), "--out", str(tmp_path / "build")]
    )
    assert result.exit_code == 1
    said = " ".join(result.output.split())
    assert "the file must have title" in said
    assert "the file must have end" in said
    assert not (tmp_path / "build").exists()


# ---------------------------------------------------------------------- hostile but valid

#: Characters that move the cursor, colour the screen, end a line or turn the writing direction.
ACTING = re.compile("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]")
HOSTILE_TITLE = "../../x \"q\" 'p' | `b` <script>alert(1)</script> \N{ELECTRIC PLUG} \\u202e\\n\\e[31m =1+1"


def hostile(tmp_path: Path) -> Path:
    path = tmp_path / "cwd" / "hostile.yaml"
    path.parent.mkdir()
    title = HOSTILE_TITLE.replace('"', '\\"')
    text = GOOD.replace("Four contacts", f'"{title}"').replace(
        "4: open", '4: {signal: "A/|U`D<b>\\"\\u202e\\n", note: "| <img src=x> `\\e[2J"}'
    )
    path.write_text(f'{text}own signals:\n  "A/|U`D<b>\\"\\u202e\\n": "<script> | \\u200f"\n', "utf-8")
    return path


def test_a_hostile_map_is_shown_escaped_everywhere_and_its_files_stay_in_their_folder(tmp_path: Path) -> None:
    hostile(tmp_path)
    before = sorted(p.name for p in tmp_path.iterdir())
    status, out, error = run(tmp_path, "adapt", "hostile.yaml", "isa-8bit", "--out", "build")
    assert (status, error) == (1, "")
    folder = tmp_path / "cwd" / "build"
    assert sorted(p.name for p in folder.iterdir()) == sorted(FILES)
    assert sorted(p.name for p in (tmp_path / "cwd").iterdir()) == ["build", "hostile.yaml"]
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted([*before, "modules", "tmp"])
    assert (folder / "wiring.pdf").read_bytes().startswith(b"%PDF")
    texts = {"terminal": out} | {
        name: (folder / name).read_bytes().decode("utf-8") for name in FILES if name != "wiring.pdf"
    }
    page = texts.pop("bench.html")  # tests/browser sees that it runs nothing
    assert "<img" not in page
    assert not ACTING.search(page.replace("\t", " "))
    for text in texts.values():
        assert not ACTING.search(text.replace("\r\n", ""))
    for name in ("wiring.md", "report.md"):
        assert "<script>" not in texts[name]
        assert "<b>" not in texts[name]
        assert "<img" not in texts[name]
        # The title is one piece of text: nothing in it opens a code span.
        assert not re.search(r"(?<!\\)`b", texts[name])
        for table in re.findall(r"(?:^\|.*\n)+", texts[name], re.MULTILINE):
            assert len({len(re.findall(r"(?<!\\)\|", row)) for row in table.splitlines()}) == 1
    del texts["wiring.csv"]  # the line has no wire
    del texts["parts.csv"]  # and no part
    for name, text in texts.items():
        assert "U\\`D" in text or "U`D" in text, name
        assert "\\u202e" in text, name
    assert "\N{ELECTRIC PLUG}" in texts["report.md"]


@pytest.mark.parametrize(
    "arguments",
    [
        ["check", "M"],
        ["check", "M", "--json"],
        ["show", "M"],
        ["show", "M", "--json"],
        ["compare", "M", "isa-8bit"],
        ["compare", "isa-8bit", "M", "--json"],
        ["adapt", "M", "isa-8bit", "--json"],
        ["adapt", "isa-8bit", "M"],
    ],
    ids=" ".join,
)
def test_no_command_lets_a_map_write_to_the_terminal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str]
) -> None:
    hostile(tmp_path)
    monkeypatch.chdir(tmp_path / "cwd")
    result = CliRunner().invoke(cli, ["hostile.yaml" if a == "M" else a for a in arguments])
    assert result.exit_code in (0, 1)
    if arguments[0] != "compare" or "--json" not in arguments:  # that one gives names only, no titles and notes
        assert "\\u202e" in result.output
    assert not ACTING.search(result.output)
    if "--json" in arguments:
        assert not any(ACTING.search(text) for text in texts_in(json.loads(result.output)))


def texts_in(value: object) -> list[str]:
    """Every text in a JSON value."""
    if isinstance(value, dict):
        return [text for pair in value.items() for item in pair for text in texts_in(item)]
    if isinstance(value, list):
        return [text for item in value for text in texts_in(item)]
    return [value] if isinstance(value, str) else []


def test_text_that_cannot_be_printed_is_reported_where_it_stands(tmp_path: Path) -> None:
    hostile(tmp_path)
    result = api.check(tmp_path / "cwd" / "hostile.yaml")
    places = {(f.place.line, f.place.column) for f in result.findings if f.code == "text-unprintable"}
    assert places == {(2, 8), (16, 15), (16, 44), (18, 3), (18, 26)}
    assert result.map is not None
    assert result.map.title == HOSTILE_TITLE.replace("\\e", "\\u001b")
    assert result.verdict == "sound" or all(
        f.code != "text-unprintable" or f.grade == "caution" for f in result.findings
    )


# ---------------------------------------------------------------------- nothing is lost


def built(tmp_path: Path) -> tuple[Path, dict[str, bytes]]:
    """A folder with the whole output of an earlier run."""
    folder = tmp_path / "cwd" / "build"
    folder.mkdir(parents=True)
    for name in FILES:
        (folder / name).write_text(f"the earlier {name}\n", "utf-8")
    return folder, saved(folder)


ADAPT = ("adapt", "oakmere-88", "isa-8bit", "--out", "build")


def test_a_file_in_the_way_of_the_folder_is_left_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "cwd").mkdir()
    (tmp_path / "cwd" / "build").write_text("mine", "utf-8")
    for folder in ("build", "build/deeper"):
        status, out, error = run(tmp_path, *ADAPT[:-1], folder)
        assert (status, out) == (2, "")
        assert error
    assert error == "pinmap: build/deeper: the results cannot be written (not a directory). Nothing was changed\n"
    assert saved(tmp_path / "cwd") == {"build": b"mine"}


@pytest.mark.skipif(sys.platform != "linux", reason="/proc takes no files, not even from the administrator")
def test_a_place_that_takes_no_files_is_said_in_one_line(tmp_path: Path) -> None:
    assert run(tmp_path, *ADAPT[:-1], "/proc/self/build") == (
        2,
        "",
        "pinmap: /proc/self/build: the results cannot be written (no such file or directory). Nothing was changed\n",
    )


def test_a_folder_in_the_way_of_a_file_leaves_the_other_files_as_they_are(tmp_path: Path) -> None:
    folder, _ = built(tmp_path)
    (folder / "report.md").unlink()
    (folder / "report.md").mkdir()
    before = {name: (folder / name).read_bytes() for name in FILES if name != "report.md"}
    status, out, error = run(tmp_path, *ADAPT)
    assert (status, out) == (2, "")
    assert error == "pinmap: build/report.md: the results cannot be written (is a directory). Nothing was changed\n"
    assert {p.name for p in folder.iterdir()} == set(FILES)
    assert {name: (folder / name).read_bytes() for name in before} == before


@POSIX
def test_a_full_disk_leaves_the_earlier_output_as_it_is(tmp_path: Path) -> None:
    folder, before = built(tmp_path)

    import resource  # there is none on Windows

    def small_files() -> None:
        # A file system that takes no more: writing past the limit fails (SIGXFSZ is ignored by Python).
        resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))

    process = start(tmp_path, *ADAPT, preexec_fn=small_files)
    out, error = process.communicate(timeout=20)
    assert (process.returncode, out) == (2, "")
    assert error.startswith("pinmap: ")
    assert error.count("\n") == 1
    assert "Traceback" not in error
    assert saved(folder) == before
    assert list((tmp_path / "tmp").iterdir()) == []


def start_stuck(tmp_path: Path) -> subprocess.Popen[str]:
    """Begin a run whose netlist never gets ready, and wait until it is being made."""
    (tmp_path / "modules").mkdir()
    begun = tmp_path / "begun"
    (tmp_path / "modules" / "skidl.py").write_text(
        f"import pathlib, time\npathlib.Path({str(begun)!r}).touch()\ntime.sleep(30)\n", "utf-8"
    )
    process = start(tmp_path, *ADAPT)
    limit = time.monotonic() + 15
    while not begun.exists():
        assert process.poll() is None, process.communicate()
        assert time.monotonic() < limit
        time.sleep(0.005)
    assert list((tmp_path / "tmp").iterdir()) != []
    return process


@POSIX
@pytest.mark.parametrize(
    ("sent", "status", "said"), [(signal.SIGINT, 130, "pinmap: interrupted\n"), (signal.SIGTERM, 143, "")]
)
def test_an_interrupted_run_leaves_the_earlier_output_as_it_is(
    tmp_path: Path, sent: signal.Signals, status: int, said: str
) -> None:
    folder, before = built(tmp_path)
    process = start_stuck(tmp_path)
    process.send_signal(sent)
    out, error = process.communicate(timeout=20)
    assert (process.returncode, out, error.lstrip("\n")) == (status, "", said)
    assert saved(folder) == before
    assert list((tmp_path / "tmp").iterdir()) == []


@POSIX
def test_an_interrupted_first_run_leaves_no_folder(tmp_path: Path) -> None:
    process = start_stuck(tmp_path)
    process.send_signal(signal.SIGTERM)
    process.communicate(timeout=20)
    assert process.returncode == 143
    assert list((tmp_path / "cwd").iterdir()) == []


def test_what_a_killed_run_left_is_cleared_by_the_next(tmp_path: Path) -> None:
    folder, _ = built(tmp_path)
    process = start(tmp_path, "--version")
    process.communicate(timeout=20)
    for ending in ("part", "old"):
        (folder / f".report.md.{process.pid}-0123abcd.{ending}").write_text("half", "utf-8")
    status, _, error = run(tmp_path, *ADAPT)
    assert (status, error) == (0, "")
    assert {p.name for p in folder.iterdir()} == set(FILES)
    assert b"earlier" not in b"".join(saved(folder).values())


# ---------------------------------------------------------------------- any bytes: a map, or findings; nothing else

BUS = "isa-8bit"


def held(path: Path) -> None:
    """The invariant: reading ends in a map, in findings, or in the one error; and what has a map can be worked on."""
    read: ReadMap | UnreadableError
    try:
        read = library.read(str(path))
    except UnreadableError as error:
        read = error
    if isinstance(read, UnreadableError):
        assert read.place is not None
        assert read.place.file == str(path)
        assert len(str(read)) < 400 + len(str(path))
        assert visible(str(read)) == str(read)
        return
    assert isinstance(read, ReadMap)
    assert read.map is not None or any(f.grade in ("fault", "danger") for f in read.complaints)
    for finding in read.complaints:
        assert finding.place.file == str(path)
        assert finding.place.line >= 1
        assert finding.place.column >= 1
        assert visible(finding.message) == finding.message
        assert visible(finding.advice) == finding.advice
    if read.map is None:
        return
    findings = checks.run(read.map, lambda: api.published(read.map))  # type: ignore[arg-type]
    coverage(read.map, list(read.map.options))
    card = api.load_map(BUS)
    for host, slot in ((read.map, card), (card, read.map)):
        adapter = plan(host, slot, list(read.map.options), (*read.complaints, *findings))
        assert {c.label for net in adapter.nets for c in net.host} == set(host.present)


_settings = settings(
    deadline=None,
    derandomize=True,
    max_examples=120,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@_settings
@given(content=st.binary(max_size=300))
def test_any_bytes_are_a_map_or_findings_or_the_one_error(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "m.yaml"
    path.write_bytes(content)
    held(path)
    with contextlib.suppress(UnreadableError):
        assert api.check(path).file == str(path)


@_settings
@given(content=st.text(st.sampled_from(list("ab1: \n-[]{}\"'#&*!|>%@`,?~\t\\<.")), max_size=80))
def test_any_punctuation_is_a_map_or_findings_or_the_one_error(tmp_path: Path, content: str) -> None:
    path = tmp_path / "m.yaml"
    path.write_text(content, "utf-8")
    held(path)


_WORDS = (
    *(
        "0",
        "1",
        "-1",
        "2",
        "3",
        "26",
        "27",
        "999999",
        "9999999",
        "0 mm",
        "1e9 mm",
        "0.001 mm",
        "1000000 mm",
        "-2.54 mm",
    ),
    *(
        "5",
        "1.5 A",
        "0 A",
        "-1 A",
        "+5V",
        "GND",
        "-12V",
        "open",
        "key",
        "IOR*",
        "RESET*",
        "~",
        "",
        "[]",
        "{}",
        "[a, b]",
    ),
    *("{signal: GND}", "{signal: SD0, with: x}", "{signal: IRQ2, seen: guessed}", "{signal: RESET, active: low}"),
    *(
        "rows",
        "zigzag",
        "serial",
        "ring",
        "lettered",
        "din 41612",
        "edge slot",
        "male",
        "A B",
        "a",
        "top right",
        "none",
    ),
    *("isa-16bit", "card", "SD0..SD7", "SD7..SD0", "1..4", "A1..A4 by 2", '"\\u202e"', '"a\\nb"', "\N{ELECTRIC PLUG}"),
)


@st.composite
def mutated(draw: st.DrawFn) -> str:
    """A good file with some of its lines deleted, doubled, swapped, indented otherwise, or given another value."""
    lines = draw(st.sampled_from([GOOD, *(p.read_text("utf-8") for p in SHIPPED)])).splitlines()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        kind = draw(st.sampled_from(("delete", "double", "swap", "char", "value", "value", "value", "key", "indent")))
        line = lines[at]
        if kind == "delete" and len(lines) > 1:
            del lines[at]
        elif kind == "double":
            lines.insert(draw(st.integers(0, len(lines))), line)
        elif kind == "swap":
            other = draw(st.integers(0, len(lines) - 1))
            lines[at], lines[other] = lines[other], line
        elif kind == "char" and line:
            place = draw(st.integers(0, len(line) - 1))
            lines[at] = line[:place] + draw(st.characters(codec="utf-8")) + line[place + 1 :]
        elif kind == "value":
            lines[at] = f"{line.partition(': ')[0].rstrip(':')}: {draw(st.sampled_from(_WORDS))}"
        elif kind == "key":
            indent = line[: len(line) - len(line.lstrip())]
            lines[at] = f"{indent}{draw(st.sampled_from(_WORDS))}: {line.partition(': ')[2]}"
        elif kind == "indent":
            lines[at] = draw(st.sampled_from(("", " ", "  ", "    ", "\t"))) + line.lstrip()
    return "\n".join(lines) + "\n"


@settings(_settings, max_examples=250)
@given(text=mutated())
def test_a_good_file_with_mistakes_is_a_map_or_findings_or_the_one_error(tmp_path: Path, text: str) -> None:
    path = tmp_path / "m.yaml"
    path.write_bytes(text.encode("utf-8"))
    held(path)


def test_a_map_with_the_worst_values_still_makes_its_files(tmp_path: Path) -> None:
    hostile(tmp_path)
    adapter = api.adapt(tmp_path / "cwd" / "hostile.yaml", "isa-8bit")
    assert [*render(adapter)] == list(FILES)


# ---------------------------------------------------------------------- bounded time

SLOW: dict[str, Callable[[], str]] = {
    "wrong labels": lambda: GOOD + "".join(f"  Q{i}: GND\n" for i in range(9000)),
    "wrong names": lambda: GOOD + "".join(f"  4: QUX{i}W\n" for i in range(9000)),
    "unknown keys": lambda: GOOD + "".join(f"titl{i}: x\n" for i in range(9000)),
    "own signals": lambda: GOOD + "own signals:\n" + "".join(f"  W{i}: x\n" for i in range(9000)),
    "options": lambda: GOOD + "options:\n" + "".join(f"  W{i}: x\n" for i in range(9000)),
    "a name of digits": lambda: GOOD + f"  4: {'1' * 900_000}a1\n",
    "a quantity of blanks": lambda: GOOD.replace("2.54 mm", f'"1{" " * 900_000}x y"'),
    "a contact of digits": lambda: GOOD + f'  ? "{"1" * 900_000}..2"\n  : GND\n',
    "a long title": lambda: GOOD.replace("Four", "x" * 900_000),
    "a long unknown key": lambda: GOOD + f'? "{"title" * 100_000}"\n: x\n',
    "20 000 contacts": lambda: GOOD.replace("places: 2", "places: 10000") + "  5..20000: open\n",
    "20 000 contacts not described": lambda: GOOD.replace("places: 2", "places: 10000"),
    "20 000 contacts, wrong labels": lambda: (
        GOOD.replace("places: 2", "places: 10000") + "".join(f"  2x{i}: GND\n" for i in range(9000))
    ),
}


@pytest.mark.parametrize("name", SLOW)
def test_no_file_takes_long_to_read(tmp_path: Path, name: str) -> None:
    path = tmp_path / "m.yaml"
    path.write_text(SLOW[name](), "utf-8")
    begun = time.monotonic()
    read = library.read(str(path))
    assert time.monotonic() - begun < 5
    assert read.map is None or read.map.title == "Four contacts"
    assert all(len(f.message) < 500 for f in read.complaints)
