"""Findings as the line annotations of a hosted repository: `::error file=…,line=…::message`, one a line.

The form, and what must be escaped in it, is from memory: in a message %, CR and LF; in a property also : and the comma.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Literal

from ..errors import NOWHERE, PinmapError, Place, SeveralErrors
from ..findings import GRADES, Finding, Grade
from ..text import visible
from .sarif import relative, said_of

Command = Literal["error", "warning", "notice"]
COMMANDS: Mapping[Grade, Command] = {"danger": "error", "fault": "error", "caution": "warning", "note": "notice"}


def annotated(
    results: Iterable[tuple[str, Sequence[Finding]]],
    errors: Iterable[PinmapError] = (),
    *,
    root: Path | None = None,
    library: Collection[str] = (),
) -> str:
    """Write what was found, a line each, the worst first: only so many are shown, and a danger must be among them.

    `results`: each file that was looked at, as findings name it, with its findings. `errors` stopped the work on other
    files. Paths are given relative to `root`, the folder in which the program runs. `library` names those files of
    `results` that lie in no such folder, because they are connectors of the library: what is found there has no line.
    """
    stopped = [one for error in errors for one in (error.errors if isinstance(error, SeveralErrors) else [error])]
    lines = [_line("error", e.place or NOWHERE, "not checked", said_of(e), root, library) for e in stopped]
    found = [(file, finding) for file, findings in results for finding in findings]
    for file, f in sorted(found, key=lambda each: GRADES.index(each[1].grade)):
        where = f.place if f.place.file else Place(file)
        lines.append(_line(COMMANDS[f.grade], where, f"{f.grade} {f.code}", said_of(f), root, library))
    return "".join(f"{line}\n" for line in lines)


def _line(command: Command, where: Place, title: str, text: str, root: Path | None, library: Collection[str]) -> str:
    properties = {}
    if where.file in library:
        text = f"{where.file}: {text}"
    elif where.file:
        properties["file"] = relative(where.file, root)
        text = text.replace(where.file, properties["file"])
        if where.line > 0:
            properties["line"] = str(where.line)
            if where.column > 0:
                properties["col"] = str(where.column)
    properties["title"] = title
    told = ",".join(f"{name}={_property(value)}" for name, value in properties.items())
    return f"::{command} {told}::{_message(text)}"


def _message(text: str) -> str:
    return visible(text).replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _message(text).replace(":", "%3A").replace(",", "%2C")
