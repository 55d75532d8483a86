"""YAML to a plain tree in which every value keeps its text as written and its place.

Pin maps need a small part of YAML: blocks, lists, plain and quoted text. Anchors, aliases, tags and several documents
are refused, so nothing can grow beyond its file; depth and size are bounded. Values stay text: `010` is not eight and
`NO` is not false.
"""

from __future__ import annotations

import re
import stat
from pathlib import Path

import yaml
from msgspec import Struct

from .errors import Place, UnreadableError
from .text import quoted, visible

MAX_BYTES = 1_000_000
MAX_DEPTH = 12
MAX_VALUES = 20_000  # keys and values; the longest dictionary has a tenth of it

_LOADER = getattr(yaml, "CLoader", yaml.Loader)  # libyaml where the wheel has it; only its events are used


class Scalar(Struct, frozen=True):
    """A key or value as written. `quoted` tells "" from nothing.

    `text` is `visible`: whatever reads it may show it. `escaped` tells that it did not stand in the file like that.
    """

    text: str
    place: Place
    quoted: bool = False
    escaped: bool = False

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
        mode = path.stat().st_mode
        if stat.S_ISREG(mode):
            with path.open("rb") as stream:
                raw = stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise UnreadableError("there is no such file", place=place) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UnreadableError(f"the file cannot be read ({reason.lower()})", place=place) from None
    if not stat.S_ISREG(mode):
        # Not even opened: to read a pipe or a device can take for ever.
        what = "a folder" if stat.S_ISDIR(mode) else "a device or pipe"
        raise UnreadableError(f"a pin map must be a file, not {what}", place=place)
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
            f"the file must be text in UTF-8; the byte 0x{raw[error.start]:02X} here is not",
            "Save it as UTF-8 text in your editor",
            Place(shown, line, column),
        ) from None
    return text


def parse(text: str, shown: str) -> Node:
    """Parse one YAML document and return its tree; `shown` names the file in messages.

    Raises `UnreadableError` with line and column where it is not YAML, or uses what pin maps do without.
    """
    control = _CONTROL.search(text)
    if control:
        at = control.start()
        raise UnreadableError(
            f"the file must be plain text, without control characters; U+{ord(control[0]):04X} here is one",
            "Save it as UTF-8 text in your editor",
            Place(shown, text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)),
        )
    builder = _Builder(shown)
    try:
        for event in yaml.parse(text, Loader=_LOADER):
            builder.take(event)
    except yaml.MarkedYAMLError as error:
        raise _not_yaml(error, text, shown) from None
    except (yaml.YAMLError, RecursionError) as error:
        raise UnreadableError(f"this is not YAML: {quoted(str(error), 120)}", place=Place(shown)) from None
    if builder.root is None or (isinstance(builder.root, Scalar) and builder.root.is_null):
        raise UnreadableError(
            "the file must hold a pin map; it is empty", "`pinmap new` writes a skeleton to fill in", Place(shown)
        )
    return builder.root


def load(path: Path, shown: str) -> Node:
    """Read and parse a file: `read_text`, then `parse`."""
    return parse(read_text(path, shown), shown)


# All but what YAML allows in a text (YAML 1.1, s.5.1, "printable").
_CONTROL = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")

_BRACKET = "a bracket is not closed here, or a comma is missing"
_QUOTE = "a quote is not closed here"
_NO_COLON = "this line has no `: ` between a key and its value"
_BEGUN = (_BRACKET, _QUOTE, _NO_COLON)
_ESCAPE = "a backslash in double quotes begins no such escape; use single quotes"
_TAB = "a tab stands where YAML wants spaces"
_PERCENT = "a line or value must not begin with %; put it in quotes"
#: What libyaml says, and what the writer of a pin map can do about it.
_HINTS = {
    "found a tab character that violates indentation": _TAB,
    "mapping values are not allowed in this context": "a `: ` stands where none can; put a value that holds one in "
    "quotes, and indent the keys of a block alike",
    "did not find expected key": "a key was expected; indent the keys of a block alike, and put a value that goes on "
    "after a quote in quotes as a whole",
    "did not find expected alphabetic or numeric character": "a value begins with *, & or !; put it in quotes",
    "could not find expected ':'": _NO_COLON,
    "found unexpected end of stream": _QUOTE,
    "did not find expected ',' or '}'": _BRACKET,
    "did not find expected ',' or ']'": _BRACKET,
    "did not find expected node content": _BRACKET,
    "found unknown escape character": _ESCAPE,
    "did not find expected hexdecimal number": _ESCAPE,
    "found invalid Unicode character escape code": _ESCAPE,
    "found undefined tag handle": "a value begins with !; put it in quotes",
    "block sequence entries are not allowed in this context": "a `- ` stands where none can; put a value that begins "
    "with one in quotes",
    "did not find expected '-' indicator": "a list's entries must all begin with `- `, indented alike",
    "did not find expected comment or line break": "a text after | or > must begin in the next line",
    "exceeded maximum nesting depth": f"blocks must not be nested deeper than {MAX_DEPTH}",
    "found unknown directive name": _PERCENT,
    "could not find expected directive name": _PERCENT,
    "found incompatible YAML document": _PERCENT,
}


def _not_yaml(error: yaml.MarkedYAMLError, text: str, shown: str) -> UnreadableError:
    problem, mark = error.problem or "broken", error.problem_mark or error.context_mark
    if mark is None:
        return UnreadableError(f"this is not YAML: {problem}", place=Place(shown))
    start = error.context_mark
    if start and start.line < mark.line and _HINTS.get(problem) in _BEGUN:
        mark = start  # noticed lines later, wanted where it began
    if problem.startswith("found character"):
        line = re.split("\r\n|[\n\r\x85\u2028\u2029]", text)[mark.line]
        char = line[mark.column : mark.column + 1]
        hint = _TAB if char == "\t" else f"a value must not begin with {char}; put it in quotes"
    else:
        hint = _HINTS.get(problem, problem)
    too_deep = hint == _HINTS["exceeded maximum nesting depth"]  # it is YAML, only no pin map
    said = hint if too_deep else f"this is not YAML: {hint}"
    return UnreadableError(said, place=Place(shown, mark.line + 1, mark.column + 1))


class _Builder:
    """Builds the tree from events, without recursion and within the limits."""

    def __init__(self, shown: str):
        self.shown = shown
        self.root: Node | None = None
        self._open: list[tuple[Place, bool, list[Node]]] = []  # place, is a mapping, children in order
        self._documents = 0
        self._values = 0

    def take(self, event: yaml.Event) -> None:
        if isinstance(event, yaml.NodeEvent):
            self._values += 1
            if self._values > MAX_VALUES:
                raise UnreadableError(
                    f"a file must not hold more than {MAX_VALUES} keys and values", place=self._place(event)
                )
        if isinstance(event, yaml.ScalarEvent):
            self._plain_only(event, event.tag, event.implicit)
            # A block's last line end is how it is written, not part of the text.
            text = event.value.rstrip("\n") if event.style in ("|", ">") else event.value
            plain = event.style in (None, "")
            self._put(Scalar(visible(text), self._place(event), quoted=not plain, escaped=visible(text) != text))
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
