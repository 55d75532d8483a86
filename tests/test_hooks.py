"""The hook for a repository of maps: it is well formed, takes maps and nothing else, and stops a wrong one."""

from __future__ import annotations

import re
import shlex
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
