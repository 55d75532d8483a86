"""What several test files share: running the command line as a user does, and the golden outputs."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

import pinmap as package

GOLDEN = Path(__file__).parent / "golden"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--renew-golden",
        action="store_true",
        help="write tests/golden/*.txt anew from what the program says now; read the difference before you commit it",
    )


@dataclass(frozen=True)
class Ran:
    """How a command ended, and what it wrote where."""

    status: int
    out: str
    err: str


class CommandLine:
    """Runs `python -m pinmap` in an empty folder of its own, with a home of its own."""

    def __init__(self, root: Path):
        self.cwd = root / "work"
        self.home = root / "home"
        self.cwd.mkdir()
        self.home.mkdir()

    def env(self, **more: str) -> dict[str, str]:
        """The environment of a run: this one without what would change the output, and `more`."""
        unwanted = ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES", "PYTHONIOENCODING", "PINMAP_LIBRARY")
        kept = {k: v for k, v in os.environ.items() if k not in unwanted and not k.startswith("XDG_")}
        home = str(self.home)
        return kept | {
            "HOME": home,
            "USERPROFILE": home,
            "PYTHONPATH": str(Path(package.__file__).parent.parent),
            "PYTHONUTF8": "1",
            **more,
        }

    def python(self, *args: str, **more: str) -> Ran:
        """Run `python ARGS`."""
        done = subprocess.run(
            [sys.executable, *args],
            cwd=self.cwd,
            env=self.env(**more),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            check=False,
            timeout=120,
        )
        return Ran(done.returncode, _text(done.stdout), _text(done.stderr))

    def __call__(self, *args: str, **more: str) -> Ran:
        """Run `pinmap ARGS`."""
        return self.python("-m", "pinmap", *args, **more)

    def left(self) -> list[str]:
        """Every file and folder that stands in the working folder and at home."""
        return sorted(
            p.relative_to(root).as_posix() for root in (self.cwd, self.home) for p in root.rglob("*") if p != root
        )


def _text(raw: bytes) -> str:
    return raw.decode("utf-8").replace("\r\n", "\n")


@pytest.fixture
def pinmap(tmp_path: Path) -> CommandLine:
    """The command line, in an empty folder."""
    return CommandLine(tmp_path)
