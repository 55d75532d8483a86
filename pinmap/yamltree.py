"""YAML to a plain tree in which every value keeps its text as written and its place.

Pin maps need a small part of YAML: blocks, lists, plain and quoted text. Anchors, aliases, tags and several documents
are refused, so nothing can grow beyond its file; depth and size are bounded. Values stay text: `010` is not eight and
`NO` is not false.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

import yaml
from msgspec import Struct

from .errors import Place, UnreadableError
from .text import visible

MAX_BYTES = 1_000_000
MAX_DEPTH = 12

_LOADER = getattr(yaml, "CLoader", yaml.Loader)  # libyaml where the wheel has it; only its events are used


class Scalar(Struct, frozen=True):
    """A value as written. `quoted` tells "" from nothing."""

    text: str
    place: Place
    quoted: bool = False

    @property
    def is_null(self) -> bool:
        """Whether the value was left out (nothing, ~ or null)."""
        return not self.quoted and self.text in ("", "~", "null", "Null", "NULL")


class Block(Struct, frozen=True):
    """A mapping. Keys that stand twice are kept: whoever reads it says so."""

    items: tuple[tuple[Scalar, Node], ...]
    place: Place


class Row(Struct, frozen=True):
    """A list."""

    items: tuple[Node, ...]
    place: Place


Node = Scalar | Block | Row


def read_text(path: Path, shown: str) -> str:
    """Read a text file of at most `MAX_BYTES`; `shown` names it in messages.

    Raises `UnreadableError` when it is missing, no regular file, too large, or not UTF-8 text.
    """
    place = Place(shown)
    try:
        with path.open("rb") as stream:
            if stat.S_ISDIR(os.fstat(stream.fileno()).st_mode):
                raise IsADirectoryError  # noqa: TRY301 - some systems only say so on reading
            raw = stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise UnreadableError("there is no such file", place=place) from None
    except IsADirectoryError:
        raise UnreadableError("a pin map must be a file, not a folder", place=place) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UnreadableError(f"the file cannot be read ({reason.lower()})", place=place) from None
    if len(raw) > MAX_BYTES:
        raise UnreadableError(
            f"the file must not be larger than {MAX_BYTES // 1000} kB; a pin map has a few kB", place=place
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        column = error.start - (raw.rfind(b"\n", 0, error.start) + 1) + 1
        raise UnreadableError(
            "the file must be text in UTF-8; this byte is not", "Save it as UTF-8 text", Place(shown, line, column)
        ) from None
    return text


def parse(text: str, shown: str) -> Node:
    """Parse one YAML document and return its tree; `shown` names the file in messages.

    Raises `UnreadableError` with line and column where it is not YAML, or uses what pin maps do without.
    """
    builder = _Builder(shown)
    try:
        for event in yaml.parse(text, Loader=_LOADER):
            builder.take(event)
    except yaml.reader.ReaderError as error:
        at = error.position if isinstance(error.position, int) else 0
        line = text.count("\n", 0, at) + 1
        column = at - (text.rfind("\n", 0, at) + 1) + 1
        raise UnreadableError(
            "the file must be plain text, without control characters", place=Place(shown, line, column)
        ) from None
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        place = Place(shown, mark.line + 1, mark.column + 1) if mark else Place(shown)
        raise UnreadableError(f"this is not YAML: {_reworded(error.problem or 'broken')}", place=place) from None
    except (yaml.YAMLError, RecursionError, ValueError) as error:
        raise UnreadableError(
            f"this is not YAML: {visible(str(error)).splitlines()[0][:120]}", place=Place(shown)
        ) from None
    if builder.root is None:
        raise UnreadableError("the file must hold a pin map; it is empty", place=Place(shown))
    return builder.root


def load(path: Path, shown: str) -> Node:
    """Read and parse a file: `read_text`, then `parse`."""
    return parse(read_text(path, shown), shown)


def _reworded(problem: str) -> str:
    hints = {
        "found character '\\t' that cannot start any token": "a tab stands where YAML wants spaces",
        "mapping values are not allowed in this context": "a second `: ` in a line; put the value in quotes",
        "did not find expected key": "a line is indented differently from its neighbours, or a quote is not closed",
        "found undefined alias": "a value begins with `*`; write IOR* or put it in quotes",
        "did not find expected alphabetic or numeric character": "a value begins with *, & or !; put it in quotes",
        "could not find expected ':'": "a line has no `: ` between its key and its value",
        "found unexpected end of stream": "a quote or bracket is not closed",
    }
    return hints.get(problem, problem)


class _Builder:
    """Builds the tree from events, without recursion and within the limits."""

    def __init__(self, shown: str):
        self.shown = shown
        self.root: Node | None = None
        self._open: list[tuple[Place, bool, list[Node]]] = []  # place, is a mapping, children in order
        self._documents = 0

    def take(self, event: yaml.Event) -> None:
        if isinstance(event, yaml.ScalarEvent):
            self._plain_only(event, event.tag, event.implicit)
            self._put(Scalar(event.value, self._place(event), quoted=event.style is not None))
        elif isinstance(event, yaml.MappingStartEvent | yaml.SequenceStartEvent):
            self._plain_only(event, event.tag, event.implicit)
            if len(self._open) >= MAX_DEPTH:
                raise UnreadableError(f"blocks must not be nested deeper than {MAX_DEPTH}", place=self._place(event))
            self._open.append((self._place(event), isinstance(event, yaml.MappingStartEvent), []))
        elif isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
            place, is_block, children = self._open.pop()
            self._put(self._block(place, children) if is_block else Row(tuple(children), place))
        elif isinstance(event, yaml.AliasEvent):
            raise UnreadableError(
                "a pin map must not use YAML aliases",
                "Write the value out; put a name that begins with * in quotes",
                self._place(event),
            )
        elif isinstance(event, yaml.DocumentStartEvent):
            self._documents += 1
            if self._documents > 1:
                raise UnreadableError("a file must hold one pin map, not several documents", place=self._place(event))

    def _block(self, place: Place, children: list[Node]) -> Block:
        keys, values = children[::2], children[1::2]
        for key in keys:
            if not isinstance(key, Scalar):
                raise UnreadableError("a key must be a word or a number, not a list or block", place=key.place)
        return Block(tuple(zip(keys, values, strict=True)), place)  # type: ignore[arg-type]

    def _put(self, node: Node) -> None:
        if self._open:
            self._open[-1][2].append(node)
        else:
            self.root = node

    def _plain_only(self, event: yaml.NodeEvent, tag: str | None, implicit: object) -> None:
        if event.anchor is not None:
            raise UnreadableError(
                "a pin map must not use YAML anchors", "Put a value that begins with & in quotes", self._place(event)
            )
        explicit = tag is not None and implicit not in (True, (True, False), (False, True))
        if explicit:
            raise UnreadableError(
                "a pin map must not use YAML tags", "Put a value that begins with ! in quotes", self._place(event)
            )

    def _place(self, event: yaml.Event) -> Place:
        mark = event.start_mark
        assert mark is not None  # noqa: S101 - libyaml marks every event
        return Place(self.shown, mark.line + 1, mark.column + 1)
