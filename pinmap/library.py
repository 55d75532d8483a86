"""Finds connectors and bus dictionaries by name: those shipped with pinmap, and the user's own folders."""

from __future__ import annotations

import os
import re
import threading
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from pathlib import Path

from msgspec import Struct

from .body import Form
from .dictionaries import read_bus, read_forms
from .errors import NotFoundError, PinmapError, Place, UnreadableError
from .forms import FormFacts
from .model import Bus
from .reading import ReadMap, read_map
from .text import listed, nearest, quoted, visible
from .yamltree import Block, Scalar, parse, read_text

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


def designs() -> Iterator[Entry]:
    """Yield every adapter file that can be asked for by name, each name once; they stand in folders `adapters`."""
    seen = set()
    for collection, folder in folders():
        for path in _yaml_files(folder / "adapters"):
            if path.stem not in seen:
                seen.add(path.stem)
                yield Entry(path.stem, path, collection)


def find(given: str) -> tuple[Path, str, str]:
    """Find a connector by path or by library name; return its path, what to call the file, and the map's name.

    A word that names no file and has neither a folder nor a YAML ending is looked up in the library.
    Raises `NotFoundError` with the nearest name.
    """
    return _find(given, entries, "connector")


def find_design(given: str) -> tuple[Path, str, str]:
    """Find an adapter file by path or by library name, as `find` does a connector.

    Raises `NotFoundError` with the nearest name, also for the name of a connector, and `UnreadableError` for a folder
    and for a file that is empty or a map.
    """
    maps = {entry.name for entry in entries()}
    if given in maps and not _exists(Path(given)) and all(entry.name != given for entry in designs()):
        raise NotFoundError(
            f"an adapter file must be named, and {quoted(given)} is a connector", "`pinmap new --adapter` writes one"
        )
    path, shown, name = _find(given, designs, "adapter file")
    if _exists(path) and path.is_dir():
        raise UnreadableError("an adapter file must be a file, not a folder", place=Place(shown))
    keys = _keys(path)
    if keys is not None and (not keys or "contacts" in keys):
        what = "it is a pin map" if keys else "it is empty"
        raise UnreadableError(
            f"the file must hold an adapter file; {what}", "`pinmap new --adapter` writes one", Place(shown)
        )
    return path, shown, name


def is_design(given: str) -> bool:
    """Whether a path or name means an adapter file, by the look of the file; a connector of that name comes first."""
    path = Path(given)
    if _is_path(given) or (given and _exists(path) and not path.is_dir()):
        return looks_like_design(path)
    return all(e.name != given for e in entries()) and any(e.name == given for e in designs())


def heading(path: Path) -> dict[str, str]:
    """What an adapter file says of itself in one line each: title, host and card. Raises `UnreadableError`."""
    tree = parse(read_text(path, path.name), path.name)
    items = tree.items if isinstance(tree, Block) else ()
    said = {key.text: value.text for key, value in items if isinstance(value, Scalar)}
    return {key: visible(said.get(key, "")) for key in ("title", "host", "card")}


def looks_like_design(path: str | Path) -> bool:
    """Whether a file is an adapter file by the look of it: it has the key host or card, and neither body nor contacts.

    Never raises: what cannot be read does not look like one. The file may be wrong in every other way.
    """
    keys = _keys(path) or set()
    return bool({"host", "card"} & keys) and not {"body", "contacts"} & keys


def _keys(path: str | Path) -> set[str] | None:
    """The top keys of a file, as far as they can be told; None where it cannot be read or is nothing of the kind."""
    try:
        text = read_text(Path(path), "")
    except (PinmapError, OSError, ValueError):
        return None
    keys = {(match[1] or match[2] or match[3]).strip() for match in _TOP_KEY.finditer(text)}
    if keys:
        return keys
    if not any(line.strip() and not line.lstrip().startswith("#") for line in text.splitlines()):
        return set()
    try:  # all in braces, or indented as a whole
        tree = parse(text, "")
    except PinmapError:
        return None
    return {key.text for key, _ in tree.items} if isinstance(tree, Block) else None


_TOP_KEY = re.compile(r"""^(?:"([^"\n]+)"[ \t]*|'([^'\n]+)'[ \t]*|([^\s#"'{\[-][^:\n]*)):(?=\s|$)""", re.MULTILINE)


def _find(given: str, known: Callable[[], Iterator[Entry]], what: str) -> tuple[Path, str, str]:
    path, is_path = Path(given), _is_path(given)
    as_path = path, visible(given), visible(path.stem)
    there = _exists(path)
    if given and (is_path or (there and not path.is_dir())):
        return as_path
    for entry in known():
        if entry.name == given:
            return entry.path, visible(entry.path.name), visible(entry.name)
    if given and there:
        return as_path  # a folder, which whoever reads it says
    near = nearest(given, (e.name for e in known()))
    hint = f"Did you mean {near[0]}?" if near else "`pinmap list` shows what there is"
    raise NotFoundError(f"there is no file and no {what} {quoted(given)}", advice=hint)


def _is_path(given: str) -> bool:
    return Path(given).suffix in _SUFFIXES or any(sep in given for sep in (os.sep, os.altsep) if sep)


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
