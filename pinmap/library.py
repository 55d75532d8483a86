"""Finds connectors and bus dictionaries by name: those shipped with pinmap, and the user's own folders."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from msgspec import Struct

from .body import Form
from .dictionaries import read_bus, read_forms
from .errors import NotFoundError
from .forms import FormFacts
from .model import Bus
from .reading import ReadMap, read_map
from .text import listed, nearest, quoted, visible

#: Folders of the user's own, as in PATH; each may hold connectors and a folder `bus` with dictionaries.
ENVIRONMENT = "PINMAP_LIBRARY"

_SUFFIXES = (".yaml", ".yml")
_lock = threading.Lock()


def shipped() -> Path:
    """The folder of the shipped data: inside the installed package, or beside it in a checkout."""
    here = Path(__file__).resolve().parent
    inside = here / "connectors"
    return inside if inside.is_dir() else here.parent / "connectors"


class Entry(Struct, frozen=True):
    """A connector of the library: its name, its file, and the collection it stands in."""

    name: str
    path: Path
    collection: str


def folders() -> list[tuple[str, Path]]:
    """The folders searched for connectors, the user's own first, each with its collection's name."""
    own = [("own", Path(p)) for p in os.environ.get(ENVIRONMENT, "").split(os.pathsep) if p]
    return [*own, ("standard", shipped() / "standard"), ("demo", shipped() / "demo")]


def entries() -> Iterator[Entry]:
    """Yield every connector that can be asked for by name, each name once."""
    seen = set()
    for collection, folder in folders():
        for path in _yaml_files(folder):
            if path.stem not in seen:
                seen.add(path.stem)
                yield Entry(path.stem, path, collection)


def _yaml_files(folder: Path) -> list[Path]:
    try:
        return sorted(p for p in folder.iterdir() if p.suffix in _SUFFIXES and p.is_file())
    except OSError:
        return []


def find(given: str) -> tuple[Path, str, str]:
    """Find a connector by path or by library name; return its path, what to call the file, and the map's name.

    A word that names no file and has neither a folder nor a YAML ending is looked up in the library.
    Raises `NotFoundError` with the nearest name.
    """
    path = Path(given)
    is_path = path.suffix in _SUFFIXES or any(sep in given for sep in (os.sep, os.altsep) if sep)
    as_path = path, visible(given), visible(path.stem)
    there = _exists(path)
    if given and (is_path or (there and not path.is_dir())):
        return as_path
    for entry in entries():
        if entry.name == given:
            return entry.path, visible(entry.path.name), visible(entry.name)
    if given and there:
        return as_path  # a folder, which whoever reads it says
    near = nearest(given, (e.name for e in entries()))
    hint = f"Did you mean {near[0]}?" if near else "`pinmap list` shows what there is"
    raise NotFoundError(f"there is no file and no connector {quoted(given)}", advice=hint)


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def bus_names() -> list[str]:
    """The names of all bus dictionaries."""
    return sorted({p.stem for folder in _bus_folders() for p in _yaml_files(folder)})


def _bus_folders() -> list[Path]:
    own = [folder / "bus" for collection, folder in folders() if collection == "own"]
    return [*own, shipped() / "bus"]


def bus(name: str) -> Bus:
    """Return the dictionary called `name`. Raises `NotFoundError`, or what `read_bus` raises."""
    for folder in _bus_folders():
        for path in _yaml_files(folder):
            if path.stem == name:
                with _lock:
                    return _read_bus(path, path.stat().st_mtime_ns)
    near = nearest(name, bus_names())
    raise NotFoundError(
        f"a bus must be one of {listed(bus_names(), 'or')}, not {quoted(name)}",
        advice=f"Did you mean {near[0]}?" if near else "",
    )


@cache
def _read_bus(path: Path, _changed: int) -> Bus:
    return read_bus(path, visible(path.name), path.stem)


def customs() -> Mapping[Form, FormFacts]:
    """Return what is customary for each form of connector."""
    with _lock:
        return _customs()


@cache
def _customs() -> Mapping[Form, FormFacts]:
    path = shipped() / "forms.yaml"
    return read_forms(path, path.name)


def read(given: str) -> ReadMap:
    """Read the pin map at a path, or the connector of that name.

    Raises `NotFoundError` or `UnreadableError`; whatever is wrong inside a readable file is in `complaints`.
    """
    path, shown, name = find(given)
    return read_map(path, shown, name=name, bus_named=bus, bus_names=bus_names, customs=customs)
