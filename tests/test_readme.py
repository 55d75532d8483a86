"""The README and the shipped example say what is true."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

import pinmap
from pinmap import cli, library
from pinmap.adapter import STATE_MEANING
from pinmap.findings import GRADE_MEANING, RULES

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
EXAMPLE = "out/oakmere-88-to-isa-8bit"


def code_blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.DOTALL | re.MULTILINE)


def rows_after(heading: str) -> dict[str, str]:
    """The two-column table that follows a text in the README."""
    tail = README[README.index(heading) :]
    lines = re.search(r"((?:^\|.*\|\n)+)", tail, re.MULTILINE)
    assert lines
    cells = [re.split(r"(?<!\\)\|", line)[1:-1] for line in lines[1].splitlines()[2:]]
    return {c[0].strip(): c[1].strip() for c in cells}


def test_the_list_of_findings_is_that_of_the_program() -> None:
    wanted = "".join(
        ["| code | usual grade | the rule |\n", "| --- | --- | --- |\n"]
        + [f"| `{code}` | {rule.grade} | {rule.rule} |\n" for code, rule in RULES.items()]
    )
    listed = README.split("<!-- findings: begin -->\n")[1].split("<!-- findings: end -->")[0]
    assert listed == wanted, f"put this table into README.md:\n{wanted}"


def test_the_grades_mean_what_the_program_says() -> None:
    assert rows_after("A finding has a stable code") == dict(GRADE_MEANING)


def test_every_state_of_a_net_is_explained() -> None:
    assert list(rows_after("Each wire and net has a *state*")) == list(STATE_MEANING)


def test_every_command_is_in_the_table_of_commands() -> None:
    documented = [re.findall(r"pinmap (\w+)", key)[0] for key in rows_after("## Commands")]
    assert documented == list(cli.cli.commands)


def test_every_connector_and_file_that_is_named_exists() -> None:
    names = {entry.name for entry in library.entries()}
    assert {
        "oakmere-88",
        "brindle-portable",
        "tarn-rack",
        "isa-8bit",
        "isa-16bit",
        "pc104-8bit",
        "pc104-16bit",
    } == names
    for name in names:
        assert f"`{name}`" in README
    assert list(rows_after("With `--out DIR` these files are written")) == [
        f"`{name}`"
        for name in ("wiring.md", "wiring.pdf", "bench.html", "wiring.csv", "parts.csv", "adapter.net", "report.md")
    ]
    for target in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / target).exists(), target


def test_the_map_in_the_readme_reads_without_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "readme.yaml"
    path.write_text(next(b for b in code_blocks("yaml") if b.startswith("format: 1")), encoding="utf-8")
    assert [f.message for f in pinmap.check(path).findings if f.grade in ("fault", "danger")] == []


def test_the_python_example_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    source = library.shipped() / "demo" / "oakmere-88.yaml"
    Path("my-machine.yaml").write_text(source.read_text(encoding="utf-8"), encoding="utf-8")
    (example,) = code_blocks("python")
    exec(compile(example, "README.md", "exec"), {})  # noqa: S102 - it is our own README
    assert sorted(p.name for p in Path("build").iterdir()) == sorted(
        ["adapter.net", "bench.html", "parts.csv", "report.md", "wiring.csv", "wiring.md", "wiring.pdf"]
    )


def test_the_shipped_example_is_what_the_readme_command_writes(tmp_path: Path) -> None:
    assert f"pinmap adapt oakmere-88 isa-8bit --out {EXAMPLE}" in README
    pinmap.write(pinmap.adapt("oakmere-88", "isa-8bit"), tmp_path)
    kept = {p.name: p.read_bytes() for p in (ROOT / EXAMPLE).iterdir()}
    made = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert made.pop("wiring.pdf").startswith(b"%PDF")  # not kept: its bytes are those of one release of the typesetter
    kept.pop("wiring.pdf", None)
    assert made == kept


def test_the_windows_commands_are_the_same_two() -> None:
    (windows,) = code_blocks("powershell")
    example, tests = [line for line in windows.splitlines() if line]
    unix = code_blocks("sh")[:2]
    for ours, theirs in zip(unix, (example, tests), strict=True):
        flat = theirs.replace("\\", "/").replace("py -m", "python3 -m").replace(".venv/Scripts", ".venv/bin")
        assert flat.replace("; ", " && ") == ours.strip()


@pytest.mark.skipif(os.name == "nt", reason="the job script is for the machine that runs it")
def test_the_job_script_finds_both_commands() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for marker in re.findall(r"for name in (.*); do", script)[0].split():
        assert f"<!-- command: {marker} -->\n```sh\n" in README
