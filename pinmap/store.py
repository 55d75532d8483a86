"""Writing files: whole or not at all, and nowhere but in the folder that was named."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import shutil
from collections.abc import Iterable, Mapping
from pathlib import Path

from .errors import OutputError, Place
from .text import quoted, visible

_at_work: set[str] = set()  # the marks of this process's unfinished writings


def write_files(folder: Path, files: Mapping[str, str | bytes]) -> list[Path]:
    """Write `files` (name: bytes, or text in UTF-8) into `folder`, made if need be; return their paths as given.

    Every text is first written beside its place, and what stands at its place is copied; only then are the texts
    renamed. Raises `OutputError` when any of that is not possible; everything is then as it was before, as it is when
    the run is interrupted. A run that is killed leaves files called .NAME.MARK.part or .old; the next one clears them.
    """
    for name in files:
        if Path(name).name != name or name in ("", ".", "..") or not name.isprintable():
            raise OutputError(f"a file's name must be a plain name, not {quoted(name)}")
    mark = f"{os.getpid()}-{secrets.token_hex(4)}"
    places = [folder / name for name in files]
    parts = [folder / f".{name}.{mark}.part" for name in files]
    olds = [folder / f".{name}.{mark}.old" for name in files]
    made: list[Path] = []
    moved = 0
    at = folder
    try:
        _make(folder, made)
        _clear(folder, files)
        _at_work.add(mark)
        for part, place, text in zip(parts, places, files.values(), strict=True):
            at = place
            _write(part, text)
        for old, place in zip(olds, places, strict=True):
            at = place
            if os.path.lexists(place):
                shutil.copy2(place, old, follow_symlinks=False)
        for part, place in zip(parts, places, strict=True):
            at = place
            moved += 1  # counted before: an interrupt can come right after the renaming
            part.replace(place)
        moved = 0  # the new set is whole: from here on nothing is taken back
        _remove(olds)
    except BaseException as error:
        # Also on Ctrl-C: a half-written set must not stay.
        for part, old, place in list(zip(parts, olds, places, strict=True))[:moved]:
            with contextlib.suppress(OSError):
                if os.path.lexists(old):
                    old.replace(place)
                elif not os.path.lexists(part):
                    place.unlink(missing_ok=True)
        _remove([*parts, *olds])
        for new in reversed(made):
            with contextlib.suppress(OSError):
                new.rmdir()
        if isinstance(error, OSError | ValueError):  # ValueError: a path or text that the system cannot take
            reason = (getattr(error, "strerror", None) or str(error)).lower()
            raise OutputError(
                f"the results cannot be written ({reason})", "Nothing was changed", Place(visible(str(at)))
            ) from None
        raise
    finally:
        _at_work.discard(mark)
    return places


def write_file(path: Path, text: str | bytes) -> None:
    """Write one file, whole or not at all. Raises `OutputError`."""
    write_files(path.parent, {path.name: text})


def _make(folder: Path, made: list[Path]) -> None:
    """Make `folder`, adding to `made` each folder that was not there before, the outermost first."""
    missing = []
    probe = folder
    while not probe.exists() and probe.parent != probe:
        missing.append(probe)
        probe = probe.parent
    if not probe.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
    for new in reversed(missing):
        with contextlib.suppress(FileExistsError):  # another run has just made it; a file in the way shows below
            new.mkdir()
            made.append(new)


def _write(part: Path, text: str | bytes) -> None:
    with part.open("xb") as stream:
        stream.write(text.encode("utf-8") if isinstance(text, str) else text)
        stream.flush()
        os.fsync(stream.fileno())


def _remove(files: Iterable[Path]) -> None:
    for file in files:
        with contextlib.suppress(OSError, ValueError):
            file.unlink(missing_ok=True)


def _clear(folder: Path, names: Iterable[str]) -> None:
    """Take away what killed runs left of these files; what a run that still goes on has there stays."""
    known = "|".join(map(re.escape, names))
    left = re.compile(rf"\.(?:{known})\.(([0-9]{{1,9}})-[0-9a-f]{{8}})\.(?:part|old)")
    _remove(
        file
        for file in folder.iterdir()
        if (match := left.fullmatch(file.name)) and match[1] not in _at_work and not _runs(int(match[2]))
    )


def _runs(process: int) -> bool:
    """Whether another process of that number is at work."""
    if process == os.getpid():
        return False
    if os.name != "posix":
        return True  # elsewhere asking after a process can end it
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True
