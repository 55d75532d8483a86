"""What a repository of maps uses: the hook that stops a wrong one, and the driver that shows what differs."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path
from typing import Any

import pytest
import yaml
from conftest import CommandLine

from pinmap import library

HOOKS: list[dict[str, Any]] = yaml.safe_load(
    (Path(__file__).parent.parent / ".pre-commit-hooks.yaml").read_text(encoding="utf-8")
)
GOOD = library.find("oakmere-88")[0].read_text(encoding="utf-8")


def test_there_is_one_hook_with_the_keys_that_a_hook_has() -> None:
    (hook,) = HOOKS
    assert hook["id"] == "pinmap-check"
    assert (hook["entry"], hook["language"], hook["types"]) == ("pinmap check", "python", ["yaml"])
    # The keys that pre-commit knows and that are used here; from memory.
    assert set(hook) <= {"id", "name", "description", "entry", "language", "files", "types"}


@pytest.mark.parametrize(
    ("path", "taken"),
    [
        ("maps/oakmere.yaml", True),
        ("maps/oakmere.yml", True),
        ("machines/maps/oakmere.yaml", True),
        ("oakmere.pinmap.yaml", True),
        ("anywhere/at/all/oakmere.pinmap.yml", True),
        ("maps/adapters/riser.yaml", False),
        ("maps/bus/mine.yaml", False),
        ("roadmaps/plan.yaml", False),
        (".github/workflows/check.yaml", False),
        (".pre-commit-config.yaml", False),
        ("docs/notes.yaml", False),
        ("maps/oakmere.yaml.orig", False),
        ("maps/README.md", False),
        ("pinmap.yaml", False),
        ("xpinmap.yaml", False),
    ],
)
def test_only_what_is_kept_as_a_map_is_taken(path: str, taken: bool) -> None:
    assert bool(re.search(HOOKS[0]["files"], path)) is taken


def test_the_entry_is_a_command_that_is_installed() -> None:
    program = shlex.split(HOOKS[0]["entry"])[0]
    assert [e.value for e in entry_points(group="console_scripts", name=program)] == ["pinmap.cli:main"]


def test_a_good_map_passes_and_a_bad_one_stops_the_commit(pinmap: CommandLine) -> None:
    maps = pinmap.cwd / "maps"
    maps.mkdir()
    (maps / "good.yaml").write_text(GOOD, encoding="utf-8")
    (maps / "bad.yaml").write_text(GOOD.replace("  3: SD7\n", "  3: SDX\n"), encoding="utf-8")
    arguments = shlex.split(HOOKS[0]["entry"])[1:]
    good = pinmap(*arguments, "maps/good.yaml")
    assert (good.status, good.err) == (0, "")
    both = pinmap(*arguments, "maps/good.yaml", "maps/bad.yaml")
    assert both.status == 1
    assert re.search(r"fault name-unknown  maps/bad\.yaml:\d+:3\n", both.out)


# ---------------------------------------------------------------------- as a driver of git


class Repository:
    """A real git repository of maps, set up as the README says; `maps/m.yaml` is a map that is committed."""

    def __init__(self, line: CommandLine, program: str) -> None:
        self.line = line
        self.program = program
        self.map = line.cwd / "maps" / "m.yaml"
        self.map.parent.mkdir()
        self.git("init", "--quiet")
        self.git("config", "diff.pinmap.command", f'"{Path(sys.executable).as_posix()}" -m pinmap compare --as-diff')
        (line.cwd / ".gitattributes").write_text("maps/*.yaml diff=pinmap\n", encoding="utf-8")
        self.git("add", ".gitattributes")
        self.commit("attributes")
        self.write(GOOD)
        self.commit("a map")

    def git(self, *arguments: str, given: str = "") -> str:
        """What git prints; it must end with 0 and complain of nothing."""
        kept = {name: value for name, value in self.line.env().items() if not name.startswith("GIT_")}
        quiet = {"GIT_CONFIG_NOSYSTEM": "1", "GIT_CONFIG_GLOBAL": os.devnull, "GIT_PAGER": "cat"}
        who = ["-c", "user.name=n", "-c", "user.email=n@example.org", "-c", "core.autocrlf=false"]
        done = subprocess.run(
            [self.program, *who, *arguments],
            cwd=self.line.cwd,
            env=kept | quiet,
            input=given.encode("utf-8"),
            capture_output=True,
            check=False,
            timeout=120,
        )
        assert (done.returncode, done.stderr.decode("utf-8")) == (0, "")
        return done.stdout.decode("utf-8").replace("\r\n", "\n")

    def write(self, text: str) -> None:
        self.map.write_text(text, encoding="utf-8", newline="\n")

    def commit(self, what: str) -> None:
        self.git("add", ".")
        self.git("commit", "--quiet", "-m", what)


@pytest.fixture
def repository(pinmap: CommandLine) -> Repository:
    program = shutil.which("git")
    if program is None:
        pytest.skip("there is no git here, and what git gives to a driver cannot be imitated")
    return Repository(pinmap, program)


CHANGED = """\
--- a/maps/m.yaml
+++ b/maps/m.yaml
"""


def test_git_shows_the_contacts_that_differ_in_the_working_tree_and_in_the_history(repository: Repository) -> None:
    repository.write(GOOD.replace("  3: SD7\n", "  3: open  # cut\n"))
    shown = repository.git("diff")
    assert shown.startswith(CHANGED)
    assert [line for line in shown.splitlines()[2:] if line[0] in "+-"] == ["-contact 3: SD7", "+contact 3: open"]
    repository.commit("cut")
    for command in (("show", "--ext-diff"), ("log", "-p", "-1", "--ext-diff")):
        assert repository.git(*command, "--format=").strip() == shown.strip()
    assert "-  3: SD7\n+  3: open  # cut\n" in repository.git("show", "--format=")  # the text, without --ext-diff


def test_git_shows_a_map_that_is_added_and_one_that_is_deleted(repository: Repository) -> None:
    added = repository.git("show", "--ext-diff", "--format=")
    assert added.strip().startswith("--- /dev/null\n+++ b/maps/m.yaml\n@@ -0,0 +1,")
    repository.map.unlink()
    gone = repository.git("diff")
    assert gone.startswith("--- a/maps/m.yaml\n+++ /dev/null\n@@ -1,")
    assert {line[0] for line in gone.splitlines()[3:]} == {"-"}
    assert {line[1:] for line in gone.splitlines()[3:]} == {line[1:] for line in added.strip().splitlines()[3:]}


@pytest.mark.parametrize(
    ("good", "bad", "reason"),
    [
        ("end: host\n", "end host\n", "this is not YAML: this line has no `: ` between a key and its value"),
        ("end: host\n", "ends: host\nend: host\n", "the file must have no key 'ends'"),
    ],
)
def test_git_goes_on_over_a_version_that_cannot_be_read_and_shows_why(
    repository: Repository, good: str, bad: str, reason: str
) -> None:
    line = GOOD[: GOOD.index(good)].count("\n") + 1
    repository.write(GOOD.replace(good, bad))
    shown = repository.git("diff").splitlines()
    assert shown[:4] == [
        f"pinmap: b/maps/m.yaml:{line}:1: {reason}",
        "pinmap: the text is compared, not the meaning",
        *CHANGED.splitlines(),
    ]
    assert [x[1:] for x in shown[4:] if x[0] == "+"] == [x for x in bad.splitlines() if x not in good.splitlines()]
    repository.commit("broken")
    repository.write(GOOD)
    assert repository.git("diff").splitlines()[0] == f"pinmap: a/maps/m.yaml:{line}:1: {reason}"


def test_git_says_that_only_comments_differ(repository: Repository) -> None:
    repository.write("# checked\n" + GOOD.replace("  3: SD7\n", "  3:   SD7\n"))
    assert repository.git("diff") == "pinmap: b/maps/m.yaml: no contact differs; only comments, layout or spelling\n"
    repository.git("mv", "maps/m.yaml", "maps/n.yaml")
    shown = repository.git("diff", "--cached", "--find-renames")
    assert shown == "pinmap: b/maps/n.yaml was a/maps/m.yaml; nothing in it differs\n"


def test_git_goes_on_over_a_name_that_nobody_knows_and_over_a_conflict(repository: Repository) -> None:
    repository.write(GOOD.replace("  3: SD7\n", "  3: SDX\n"))
    assert "\n+contact 3: of an unknown name, SDX\n" in repository.git("diff")
    repository.commit("unknown")
    ours, base, theirs = (
        repository.git("rev-parse", f"{commit}:maps/m.yaml").strip() for commit in ("HEAD", "HEAD~1", "HEAD")
    )
    stages = "".join(f"100644 {blob} {n}\tmaps/m.yaml\n" for n, blob in ((1, base), (2, ours), (3, theirs)))
    repository.git("rm", "--quiet", "--cached", "maps/m.yaml")
    repository.git("update-index", "--index-info", given=stages)
    assert repository.git("diff", "--cached") == "pinmap: maps/m.yaml: a conflict in it is not settled yet\n"
