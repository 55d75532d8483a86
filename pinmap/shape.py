"""Holds a YAML tree against the definition of its format and collects every complaint with its place."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from types import MappingProxyType
from typing import Any, TypeVar

import msgspec
import msgspec.inspect as mi

from . import quantity
from .errors import Place
from .findings import Finding, found
from .naming import expand
from .text import listed, nearest, quoted, short
from .yamltree import Block, Node, Row, Scalar

T = TypeVar("T", bound=msgspec.Struct)
Path = tuple[str, ...]

MAX_NAME = 100  # letters of a name; some of what is done with names takes long for a long one
MAX_TEXT = 4000  # letters of any other text
MAX_COMPARISONS = 100_000  # of misspelt words with known ones, in one file: well under a second

_UNITS = {pattern: unit for unit, pattern in quantity.PATTERNS.items()}
_BROKEN: Any = object()  # what stands for a value that was complained about
_TYPES: dict[type[msgspec.Struct], mi.StructType] = {}


class Entries(dict[str, Any]):
    """A block's entries; `pairs` keeps those whose key stands twice, in the order of the file."""

    def __init__(self, pairs: list[tuple[Scalar, Any]]):
        super().__init__({key.text: value for key, value in pairs})
        self.pairs = pairs


class Shape:
    """The outcome of one reading: `complaints`, and the place of every key and value by its path in the file.

    `lacking` are the keys of the file for which a stand-in was taken, `broken` the paths of values left out as wrong.
    """

    def __init__(self, repeats_allowed: frozenset[Path] = frozenset()):
        self.complaints: list[Finding] = []
        self.lacking: set[str] = set()
        self.broken: set[Path] = set()
        self.values: dict[Path, Place] = {}
        self.keys: dict[Path, Place] = {}
        self._repeats_allowed = repeats_allowed
        self._comparisons = 0

    def struct(self, node: Node, kind: type[T], stand_ins: Mapping[str, Any] | None = None) -> T | None:
        """Return `node` as a `kind`, or None where a part that `kind` cannot do without is missing or broken.

        `stand_ins` are taken for such parts of the file itself, so that the rest can be looked at all the same.
        """
        if kind not in _TYPES:
            info = mi.type_info(kind)
            assert isinstance(info, mi.StructType)  # noqa: S101 - kind is a Struct
            _TYPES[kind] = info
        value = self._struct(node, _TYPES[kind], (), stand_ins or {})
        return None if value is _BROKEN else value

    def complain(self, code: str, message: str, advice: str = "", *, at: Place) -> None:
        """Add one complaint."""
        self.complaints.append(found(code, message, advice, at))

    def measured(self, text: str, unit: str, path: Path) -> float | None:
        """Return the quantity at `path`, counted in `unit`; complain and return None where it is none."""
        try:
            return quantity.parse(text, unit)
        except ValueError as error:
            self.complain("value-shape", f"{' › '.join(path)}: {error}", at=self.values[path])
            return None

    def expanded(self, written: str, at: Place) -> list[str]:
        """Return the names that a run stands for, or none where it is wrong, which is complained about."""
        try:
            if len(written) > MAX_NAME:
                raise ValueError(f"a name must not be longer than {MAX_NAME} letters, not {quoted(written)}")  # noqa: TRY301
            return expand(written)
        except ValueError as error:
            self.complain("run-length" if len(written) <= MAX_NAME else "value-shape", str(error), at=at)
            return []

    def nearest(self, word: str, known: Collection[str]) -> str:
        """Return "Did you mean …?" with the one of `known` that is most like `word`, or "" where none is.

        In a file with very many wrong words the last ones go without.
        """
        near = nearest(word, known) if word and self.affordable(len(known)) else []
        return f"Did you mean {near[0]}?" if near else ""

    def names(self, *path: str) -> list[str]:
        """The names that a block holds, also those whose value was left out as wrong."""
        return [key[-1] for key in self.keys if key[:-1] == path]

    def affordable(self, comparisons: int) -> bool:
        """Whether there is time for that many more comparisons of words in this file; they count as made."""
        self._comparisons += comparisons
        return self._comparisons <= MAX_COMPARISONS

    # ------------------------------------------------------------------ one kind of value each

    def _value(self, node: Node, kind: mi.Type, path: Path) -> Any:
        self.values[path] = node.place
        if isinstance(node, Scalar) and not self._printable(node, path):
            self.broken.add(path)
            return _BROKEN
        return self._kind(node, kind, path, _wanted(kind))

    def _kind(self, node: Node, kind: mi.Type, path: Path, wanted: str) -> Any:
        if isinstance(kind, mi.Metadata):
            return self._kind(node, kind.type, path, wanted)
        if isinstance(kind, mi.UnionType):
            return self._union(node, kind, path)
        if isinstance(kind, mi.StructType):
            return self._struct(node, kind, path)
        if isinstance(kind, mi.DictType):
            return self._dict(node, kind, path)
        if isinstance(kind, mi.ListType):
            return self._list(node, kind, path)
        if not isinstance(node, Scalar):
            return self._refuse(node, path, wanted)
        if isinstance(kind, mi.LiteralType):
            return self._literal(node, kind, path)
        if isinstance(kind, mi.IntType):
            if not (node.text.isascii() and node.text.isdecimal() and len(node.text) < 7):
                return self._refuse(node, path, "a whole number below 1000000")
            return int(node.text)
        if node.is_null:
            # A name like #RD begins a comment, and the value is gone.
            return self._refuse(node, path, wanted, "A value that begins with # must be in quotes")
        unit = _UNITS.get(getattr(kind, "pattern", None) or "")
        if unit:
            try:
                quantity.parse(node.text, unit)
            except ValueError as error:
                self.complain("value-shape", f"{_named(path)}: {error}", at=node.place)
                self.broken.add(path)
                return _BROKEN
        return node.text

    def _printable(self, node: Scalar, path: Path) -> bool:
        """Complain of a text that is too long (then it is not to be used), or not one line of printable text."""
        if len(node.text) > MAX_TEXT:
            self.complain("value-shape", f"{_named(path)} must not be longer than {MAX_TEXT} letters", at=node.place)
            return False
        if node.escaped:
            advice = "It is shown with escapes"
            if "\\n" in node.text:
                advice += "; begin a text of several lines with >- to make one line of it"
            self.complain(
                "text-unprintable",
                f"{_named(path)} must be one line of printable text, not {quoted(node.text)}",
                advice,
                at=node.place,
            )
        return True

    def _key(self, key: Scalar, path: Path) -> bool:
        """Do the same for a key that is a name."""
        if len(key.text) > MAX_NAME:
            self.complain(
                "value-shape",
                f"{_named(path)}: a name must not be longer than {MAX_NAME} letters, not {quoted(key.text)}",
                at=key.place,
            )
            return False
        if key.escaped:
            self.complain(
                "text-unprintable",
                f"{_named(path)}: a name must be one line of printable text, not {quoted(key.text)}",
                "It is shown with escapes",
                at=key.place,
            )
        return True

    def _union(self, node: Node, kind: mi.UnionType, path: Path) -> Any:
        for option in kind.types:
            inner = option.type if isinstance(option, mi.Metadata) else option
            block = isinstance(inner, mi.StructType | mi.DictType)
            row = isinstance(inner, mi.ListType)
            if isinstance(node, Block) == block and isinstance(node, Row) == row:
                return self._kind(node, option, path, _wanted(kind))
        return self._refuse(node, path, _wanted(kind))

    def _literal(self, node: Scalar, kind: mi.LiteralType, path: Path) -> Any:
        for allowed in kind.values:
            if node.text == str(allowed):
                return allowed
        words = [str(v) for v in kind.values]
        return self._refuse(node, path, listed(words, "or"), self.nearest(node.text, words))

    def _dict(self, node: Node, kind: mi.DictType, path: Path) -> Any:
        if isinstance(node, Scalar) and node.is_null:
            return Entries([])
        if not isinstance(node, Block):
            return self._refuse(node, path, _wanted(kind))
        self._repeated(node, path)
        pairs = []
        for key, child in node.items:
            if not self._key(key, path):
                continue
            here = (*path, key.text)
            self.keys[here] = key.place
            value = self._value(child, kind.value_type, here)
            if isinstance(kind.key_type, mi.LiteralType) and key.text not in kind.key_type.values:
                words = [str(v) for v in kind.key_type.values]
                value = self._refuse(key, here, listed(words, "or"), self.nearest(key.text, words))
            if value is not _BROKEN:
                pairs.append((key, value))
        return Entries(pairs)

    def _list(self, node: Node, kind: mi.ListType, path: Path) -> Any:
        if not isinstance(node, Row):
            return self._refuse(node, path, _wanted(kind))
        values = [self._value(child, kind.item_type, (*path, str(i))) for i, child in enumerate(node.items, 1)]
        return [v for v in values if v is not _BROKEN]

    def _struct(
        self, node: Node, kind: mi.StructType, path: Path, stand_ins: Mapping[str, Any] = MappingProxyType({})
    ) -> Any:
        if not isinstance(node, Block):
            return self._refuse(node, path, _wanted(kind))
        self._repeated(node, path)
        fields = {f.encode_name: f for f in kind.fields}
        given: dict[str, Any] = {}
        seen: set[str] = set()
        broken = False
        for key, child in node.items:
            seen.add(key.text)
            here = (*path, key.text)
            self.keys[here] = key.place
            field = fields.get(key.text)
            if field is None:
                advice = self.nearest(key.text, fields) or f"The keys here are {listed(fields)}"
                self.complain(
                    "key-unknown", f"{_named(path)} must have no key {quoted(key.text)}", advice, at=key.place
                )
                continue
            value = self._value(child, field.type, here)
            if value is not _BROKEN:
                given[field.name] = value
            elif field.required and key.text not in stand_ins:
                broken = True
        missing = [f.encode_name for f in kind.fields if f.required and f.encode_name not in seen]
        if missing:
            self.complain("key-missing", f"{_named(path)} must have {listed(missing)}", at=node.place)
        for field in kind.fields:
            if field.required and field.name not in given and field.encode_name in stand_ins:
                given[field.name] = stand_ins[field.encode_name]
                self.lacking.add(field.encode_name)
        if broken or not stand_ins.keys() >= set(missing):
            self.broken.add(path)
            return _BROKEN
        return kind.cls(**given)

    def _repeated(self, node: Block, path: Path) -> None:
        if path in self._repeats_allowed:
            return
        first: dict[str, Place] = {}
        for key, _ in node.items:
            if key.text in first:
                self.complain(
                    "key-twice",
                    f"{_named((*path, key.text))} must stand once; it stands in line {first[key.text].line} already",
                    "Take one of the two out",
                    at=key.place,
                )
            first.setdefault(key.text, key.place)

    def _refuse(self, node: Node, path: Path, wanted: str, hint: str = "") -> Any:
        if isinstance(node, Scalar):
            offender = "nothing" if node.is_null else quoted(node.text)
        else:
            offender = "a block" if isinstance(node, Block) else "a list"
        self.complain("value-shape", f"{_named(path)} must be {wanted}, not {offender}", hint, at=node.place)
        self.broken.add(path)
        return _BROKEN


def _named(path: Path) -> str:
    return " › ".join(short(step, 40) or '""' for step in path) if path else "the file"


def _wanted(kind: mi.Type) -> str:
    if isinstance(kind, mi.Metadata):
        said = (kind.extra_json_schema or {}).get("description")
        return str(said) if said and not isinstance(kind.type, mi.LiteralType) else _wanted(kind.type)
    if isinstance(kind, mi.LiteralType):
        return listed((str(v) for v in kind.values), "or")
    if isinstance(kind, mi.StructType):
        needed = [f.encode_name for f in kind.fields if f.required] or [f.encode_name for f in kind.fields]
        return f"a block with {listed(needed)}"
    if isinstance(kind, mi.DictType):
        return "a block of names and values"
    if isinstance(kind, mi.ListType):
        return "a list"
    if isinstance(kind, mi.IntType):
        return "a whole number"
    if isinstance(kind, mi.UnionType):
        return listed((_wanted(option) for option in kind.types), "or")
    return "one line of text"
