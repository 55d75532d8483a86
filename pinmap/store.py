"""Writing files: whole or not at all, and nowhere but in the folder that was named."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Mapping
from pathlib import Path

from .errors import OutputError, Place


def write_files(folder: Path, files: Mapping[str, str]) -> list[Path]:
    """Write `files` (name: text) into `folder`, made if need be, and return their paths in the order given.

    Every text is first written beside its place and only then renamed, so that what stood there before stays whole
    until all new files are. Raises `OutputError` when that is not possible; nothing is left behind then.
    """
    made: list[Path] = []
    parts: list[tuple[Path, Path]] = []
    try:
        made = _make(folder)
        for name, text in files.items():
            if Path(name).name != name or name in ("", ".", ".."):
                raise OutputError(f"a file's name must be a plain name, not {name!r}")  # noqa: TRY301
            parts.append((_beside(folder, name, text), folder / name))
        for part, place in parts:
            part.replace(place)
    except BaseException as error:
        # Also on Ctrl-C: a half-written set must not stay.
        for part, _ in parts:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)
        for new in reversed(made):
            with contextlib.suppress(OSError):
                new.rmdir()
        if isinstance(error, OSError):
            reason = (error.strerror or str(error)).lower()
            raise OutputError(
                f"the results cannot be written ({reason})", advice="Nothing was changed", place=Place(str(folder))
            ) from None
        raise
    return [place for _, place in parts]


def write_file(path: Path, text: str) -> None:
    """Write one file, whole or not at all. Raises `OutputError`."""
    write_files(path.parent, {path.name: text})


def _make(folder: Path) -> list[Path]:
    """Make `folder` and return the folders that were not there before, the outermost first."""
    missing = []
    probe = folder
    while not probe.exists():
        missing.append(probe)
        if probe.parent == probe:
            break
        probe = probe.parent
    folder.mkdir(parents=True, exist_ok=True)
    return missing[::-1]


def _beside(folder: Path, name: str, text: str) -> Path:
    part = folder / f".{name}.{os.getpid()}.part"
    part.unlink(missing_ok=True)  # left over by a run that was killed
    try:
        with part.open("x", encoding="utf-8", newline="") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
    except BaseException:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    return part
