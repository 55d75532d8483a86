"""Findings as SARIF 2.1.0, the format of the OASIS SARIF committee for what a checking program found.

What is said here of braces, brackets, base identifiers and columns is from memory of that standard; the shape of the
file is tested against its published schema.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any, Literal
from urllib.parse import quote

from .. import __version__
from ..errors import PinmapError, Place, SeveralErrors
from ..findings import GRADE_MEANING, RULES, Finding, Grade
from ..text import visible
from .json_output import dump

VERSION = "2.1.0"
SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
#: What a file's path is relative to. Where that folder is on this machine is nobody's business.
BASE = "%SRCROOT%"
#: The key of the fingerprint; its number changes when the way it is made does.
FINGERPRINT = "pinmapIdentity/v1"

Level = Literal["error", "warning", "note"]
LEVELS: Mapping[Grade, Level] = {"danger": "error", "fault": "error", "caution": "warning", "note": "note"}

_RULE_INDEX = {code: index for index, code in enumerate(RULES)}


def sarif(
    results: Iterable[tuple[str, Sequence[Finding]]],
    errors: Iterable[PinmapError] = (),
    *,
    root: Path | None = None,
    library: Collection[str] = (),
) -> str:
    """Write what was found as one run: the same findings give the same bytes, on any day and in any folder.

    `results`: each file that was looked at, as findings name it, with its findings. `errors` stopped the work on other
    files; the run then was no success. Paths are given relative to `root`, the folder in which the program runs; of an
    absolute path elsewhere only the file's name is told. `library` names those files of `results` that lie in no such
    folder, because they are connectors of the library.
    """
    results = [(file, tuple(findings)) for file, findings in results]
    stopped = [one for error in errors for one in (error.errors if isinstance(error, SeveralErrors) else [error])]
    names = [file for file, _ in results]
    names += [finding.place.file for _, findings in results for finding in findings]
    names += [error.place.file for error in stopped if error.place]
    files = _Files([name for name in names if name], root, library)
    run = {
        "tool": {"driver": {"name": "pinmap", "version": __version__, "rules": [_rule(code) for code in RULES]}},
        "invocations": [
            {
                "executionSuccessful": not stopped,
                "toolExecutionNotifications": [_notification(error, files) for error in stopped],
            }
        ],
        "originalUriBaseIds": {BASE: {"description": {"text": "The folder in which pinmap was run."}}},
        "artifacts": [{"location": location} for location in files.locations],
        "columnKind": "unicodeCodePoints",
        "results": list(_results(results, files)),
    }
    return dump({"$schema": SCHEMA, "version": VERSION, "runs": [run]})


def _rule(code: str) -> dict[str, Any]:
    rule = RULES[code]
    return {
        "id": code,
        "shortDescription": {"text": plain(f"{rule.rule[0].upper()}{rule.rule[1:]}.")},
        "defaultConfiguration": {"level": LEVELS[rule.grade]},
        "properties": {"grade": rule.grade, "meaning": GRADE_MEANING[rule.grade]},
    }


def _results(results: Sequence[tuple[str, Sequence[Finding]]], files: _Files) -> Iterator[dict[str, Any]]:
    seen: Counter[tuple[str, str]] = Counter()
    for file, findings in results:
        for finding in findings:
            where = finding.place if finding.place.file else Place(file)
            identity = _identity(finding)
            alike = files.shown.get(where.file, ""), identity
            seen[alike] += 1
            yield {
                "ruleId": finding.code,
                "ruleIndex": _RULE_INDEX[finding.code],
                "level": LEVELS[finding.grade],
                "message": {"text": files.said(finding)},
                "locations": files.at(where),
                "partialFingerprints": {FINGERPRINT: f"{identity}:{seen[alike]}"},
                "properties": {
                    "grade": finding.grade,
                    "contacts": [visible(label) for label in finding.contacts],
                    "signals": [visible(name) for name in finding.signals],
                },
            }


def _identity(finding: Finding) -> str:
    """What makes a finding this one, whatever line it stands in and however it is worded.

    Its code with the contacts and signals; where it has neither, the message without the lines that it names. Findings
    alike in that are told apart by their number.
    """
    about: list[object] = [finding.code, list(finding.contacts), list(finding.signals)]
    if not finding.contacts and not finding.signals:
        about.append(_LINES.sub("", finding.message))
    return hashlib.sha256(json.dumps(about).encode()).hexdigest()[:32]


_LINES = re.compile(r"\blines? \d+(?:(?:, | and )\d+)*|:\d+(?::\d+)?")


def _notification(error: PinmapError, files: _Files) -> dict[str, Any]:
    return {
        "level": "error",
        "message": {"text": files.said(error)},
        "locations": files.at(error.place) if error.place else [],
    }


class _Files:
    """The files that a run speaks of, each as a reference that tells nothing of the machine."""

    def __init__(self, names: Iterable[str], root: Path | None, library: Collection[str]) -> None:
        self.shown = {name: relative(name, root) for name in names}
        self._library = {self.shown[name] for name in library if name in self.shown}
        self._index = {shown: index for index, shown in enumerate(dict.fromkeys(self.shown.values()))}
        self.locations = [self._location(shown) for shown in self._index]

    def _location(self, shown: str) -> dict[str, Any]:
        location: dict[str, Any] = {"uri": quote(visible(shown), safe="/")}
        if shown in self._library:
            return location | {"description": {"text": "A connector of pinmap's library."}}
        if shown.split("/")[0] != "..":
            location["uriBaseId"] = BASE
        return location

    def at(self, place: Place) -> list[dict[str, Any]]:
        """The one location that a place is, none where no file is known."""
        if place.file not in self.shown:
            return []
        index = self._index[self.shown[place.file]]
        location = {key: value for key, value in self.locations[index].items() if key != "description"}
        physical: dict[str, Any] = {"artifactLocation": location | {"index": index}}
        if place.line > 0:
            physical["region"] = {"startLine": place.line} | ({"startColumn": place.column} if place.column > 0 else {})
        return [{"physicalLocation": physical}]

    def said(self, what: Finding | PinmapError) -> str:
        """What is found and what to do about it, with the files called as the locations call them."""
        text = said_of(what)
        for name, shown in self.shown.items():
            text = text.replace(name, shown)
        return plain(text)


def said_of(what: Finding | PinmapError) -> str:
    """Say what was found, or what stopped the work, and what to do about it, as one line."""
    return visible(f"{what.message.removesuffix('.')}. {what.advice}" if what.advice else what.message)


def relative(file: str, root: Path | None, *, windows: bool = os.name == "nt") -> str:
    """Call a file by its path from `root`, with slashes; an absolute path elsewhere only by its last part."""
    pure = PureWindowsPath if windows else PurePosixPath
    path = pure(file)
    if path.is_absolute() or path.anchor:
        try:
            path = path.relative_to(pure(root or path.anchor)) if root else pure(path.name)
        except ValueError:
            path = pure(path.name)
    parts: list[str] = []
    for part in path.parts:
        if part == ".." and parts and parts[-1] != "..":
            parts.pop()
        else:
            parts.append(part)
    return "/".join(parts) or "."


def plain(text: str) -> str:
    """Keep a text from being taken for more than text: SARIF knows placeholders, {0}, and links, [text](target)."""
    text = text.replace("{", "{{").replace("}", "}}")
    return _LINK.sub(lambda match: match[0] if len(match[1]) % 2 else f"\\{match[0]}", text)


_LINK = re.compile(r"(\\*)\]\(")
