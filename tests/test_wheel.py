"""The wheel: all that pinmap needs travels inside it."""

from __future__ import annotations

import importlib.util
import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
DATA = ROOT / "connectors"


def run(*args: str, cwd: Path, **env: str) -> str:
    # Nothing but what is given may lead to this checkout.
    kept = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "PINMAP_LIBRARY")}
    quiet = {"PIP_DISABLE_PIP_VERSION_CHECK": "1", "PIP_NO_INPUT": "1", "PYTHONUTF8": "1"}
    done = subprocess.run(
        [sys.executable, *args],
        cwd=cwd,
        env=kept | quiet | env,
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, f"{args}\n{done.stdout}\n{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel, built from a copy of the checkout; without network where hatchling is installed."""
    source = tmp_path_factory.mktemp("source")
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, source)
    for name in ("pinmap", "connectors"):
        shutil.copytree(ROOT / name, source / name, ignore=shutil.ignore_patterns("__pycache__"))
    out = tmp_path_factory.mktemp("wheel")
    isolated = [] if importlib.util.find_spec("hatchling") is None else ["--no-build-isolation"]
    run("-m", "pip", "wheel", "--quiet", "--no-deps", *isolated, "--wheel-dir", str(out), str(source), cwd=source)
    (built,) = out.iterdir()
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("installed")
    run("-m", "pip", "install", "--quiet", "--no-deps", "--target", str(target), str(wheel), cwd=target)
    return target


def python(installed: Path, cwd: Path, code: str) -> str:
    """Run `code` where only the installed package can be imported, not the checkout."""
    away = f"import sys, pathlib\nroot = pathlib.Path({str(ROOT)!r})\n"
    away += "sys.path = [p for p in sys.path if pathlib.Path(p or '.').resolve() != root]\n"
    return run("-c", away + code, cwd=cwd, PYTHONPATH=str(installed))


def test_the_wheel_is_for_every_platform(wheel: Path) -> None:
    assert wheel.name.startswith("pinmap-")
    assert wheel.name.endswith("-py3-none-any.whl")


def test_the_wheel_holds_the_package_with_its_data_and_nothing_else(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    tops = {name.split("/")[0] for name in names}
    assert len(tops) == 2
    assert "pinmap" in tops
    assert next(t for t in tops if t != "pinmap").endswith(".dist-info")
    data = sorted(p.relative_to(DATA).as_posix() for p in DATA.rglob("*") if p.is_file())
    assert sorted(n.removeprefix("pinmap/connectors/") for n in names if "/connectors/" in n) == data
    modules = sorted(p.relative_to(ROOT).as_posix() for p in (ROOT / "pinmap").rglob("*.py"))
    assert sorted(n for n in names if n.startswith("pinmap/") and n.endswith(".py")) == modules


def test_the_installed_package_uses_the_data_inside_it(installed: Path, tmp_path: Path) -> None:
    out = python(
        installed,
        tmp_path,
        "import pinmap, pinmap.library, json\n"
        "names = [e.name for e in pinmap.library.entries()]\n"
        "print(json.dumps([pinmap.__file__, str(pinmap.library.shipped()), names]))",
    )
    package, data, names = json.loads(out)
    assert Path(package).resolve() == (installed / "pinmap" / "__init__.py").resolve()
    assert Path(data).resolve() == (installed / "pinmap" / "connectors").resolve()
    assert names == [p.stem for c in ("standard", "demo") for p in sorted((DATA / c).glob("*.yaml"))]


def test_an_adapter_is_written_by_the_installed_package(installed: Path, tmp_path: Path) -> None:
    out = python(
        installed,
        tmp_path,
        "from pinmap.cli import main\n"
        "sys.argv = ['pinmap', 'adapt', 'oakmere-88', 'isa-8bit', '--out', 'build', '--json']\n"
        "main()",
    )
    assert json.loads(out)["verdict"] == "build with care"
    assert sorted(p.relative_to(tmp_path).as_posix() for p in tmp_path.rglob("*")) == [
        "build",
        "build/adapter.net",
        "build/bench.html",
        "build/parts.csv",
        "build/report.md",
        "build/wiring.csv",
        "build/wiring.md",
        "build/wiring.pdf",
    ]
    assert (tmp_path / "build" / "adapter.net").stat().st_size > 1000


def test_the_schemas_travel_with_the_data(installed: Path, tmp_path: Path) -> None:
    out = python(installed, tmp_path, "from pinmap.schema import text\nprint(text('map'), end='')")
    assert out == (installed / "pinmap" / "connectors" / "schema" / "map.schema.json").read_text(encoding="utf-8")


def test_the_types_are_announced(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        metadata = next(archive.read(n).decode() for n in archive.namelist() if n.endswith("METADATA"))
        assert "Classifier: Typing :: Typed" in metadata
        assert "pinmap/py.typed" in archive.namelist()
        scripts = next(archive.read(n).decode() for n in archive.namelist() if n.endswith("entry_points.txt"))
    assert scripts == "[console_scripts]\npinmap = pinmap.cli:main\n"
