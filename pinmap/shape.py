"""Holds a YAML tree against the definition of its format and collects every complaint with its place."""

from __future__ import annotations

from typing import Any, TypeVar

import msgspec
import msgspec.inspect as mi

from .errors import Place
from .findings import Finding, found
from .text import listed, nearest, visible
from .yamltree import Block, Node, Row, Scalar

T = TypeVar("T", bound=msgspec.Struct)
Path = tuple[str, ...]

_BROKEN: Any = object()  # what stands for a value that was complained about
_TYPES: dict[type[msgspec.Struct], mi.StructType] = {}


class Entries(dict[str, Any]):
    """A block's entries; `pairs` keeps those whose key stands twice, in the order of the file."""

    def __init__(self, pairs: list[tuple[Scalar, Any]]):
        super().__init__((key.text, value) for key, value in pairs)
        self.pairs = pairs


class Shape:
    """The outcome of one reading: `complaints`, and the place of every key and value by its path in the file."""

    def __init__(self, repeats_allowed: frozenset[Path] = frozenset()):
        self.complaints: list[Finding] = []
        self.values: dict[Path, Place] = {}
        self.keys: dict[Path, Place] = {}
        self._repeats_allowed = repeats_allowed

    def struct(self, node: Node, kind: type[T]) -> T | None:
        """Return `node` as a `kind`, or None where a part that `kind` cannot do without is missing or broken."""
        if kind not in _TYPES:
            info = mi.type_info(kind)
            assert isinstance(info, mi.StructType)  # noqa: S101 - kind is a Struct
            _TYPES[kind] = info
        value = self._struct(node, _TYPES[kind], ())
        return None if value is _BROKEN else value

    def complain(self, code: str, message: str, advice: str = "", *, at: Place) -> None:
        """Add one complaint."""
        self.complaints.append(found(code, message, advice, at))

    # ------------------------------------------------------------------ one kind of value each

    def _value(self, node: Node, kind: mi.Type, path: Path) -> Any:
        self.values[path] = node.place
        if isinstance(kind, mi.Metadata):
            return self._value(node, kind.type, path)
        if isinstance(kind, mi.UnionType):
            return self._union(node, kind, path)
        if isinstance(kind, mi.StructType):
            return self._struct(node, kind, path)
        if isinstance(kind, mi.DictType):
            return self._dict(node, kind, path)
        if isinstance(kind, mi.ListType):
            return self._list(node, kind, path)
        if not isinstance(node, Scalar):
            return self._refuse(node, path, _wanted(kind))
        if isinstance(kind, mi.LiteralType):
            return self._literal(node, kind, path)
        if isinstance(kind, mi.IntType):
            if not (node.text.isascii() and node.text.isdecimal() and len(node.text) < 7):
                return self._refuse(node, path, _wanted(kind))
            return int(node.text)
        if node.is_null:
            return self._refuse(node, path, _wanted(kind))
        return node.text

    def _union(self, node: Node, kind: mi.UnionType, path: Path) -> Any:
        for option in kind.types:
            inner = option.type if isinstance(option, mi.Metadata) else option
            block = isinstance(inner, mi.StructType | mi.DictType)
            row = isinstance(inner, mi.ListType)
            if isinstance(node, Block) == block and isinstance(node, Row) == row:
                return self._value(node, option, path)
        return self._refuse(node, path, listed((_wanted(option) for option in kind.types), "or"))

    def _literal(self, node: Scalar, kind: mi.LiteralType, path: Path) -> Any:
        for allowed in kind.values:
            if node.text == str(allowed):
                return allowed
        words = [str(v) for v in kind.values]
        near = nearest(node.text, words)
        hint = f"Did you mean {near[0]}?" if near and node.text else ""
        return self._refuse(node, path, listed(words, "or"), hint)

    def _dict(self, node: Node, kind: mi.DictType, path: Path) -> Any:
        if isinstance(node, Scalar) and node.is_null:
            return Entries([])
        if not isinstance(node, Block):
            return self._refuse(node, path, _wanted(kind))
        self._repeated(node, path)
        pairs = []
        for key, child in node.items:
            here = (*path, key.text)
            self.keys[here] = key.place
            value = self._value(child, kind.value_type, here)
            if isinstance(kind.key_type, mi.LiteralType) and key.text not in kind.key_type.values:
                value = self._refuse(key, here, listed((str(v) for v in kind.key_type.values), "or"))
            if value is not _BROKEN:
                pairs.append((key, value))
        return Entries(pairs)

    def _list(self, node: Node, kind: mi.ListType, path: Path) -> Any:
        if not isinstance(node, Row):
            return self._refuse(node, path, _wanted(kind))
        values = [self._value(child, kind.item_type, (*path, str(i))) for i, child in enumerate(node.items)]
        return [v for v in values if v is not _BROKEN]

    def _struct(self, node: Node, kind: mi.StructType, path: Path) -> Any:
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
                near = nearest(key.text, fields)
                advice = f"Did you mean {near[0]}?" if near else f"The keys here are {listed(fields)}"
                self.complain(
                    "key-unknown", f"{_named(path)} must have no key {visible(key.text)!r}", advice, at=key.place
                )
                continue
            value = self._value(child, field.type, here)
            if value is not _BROKEN:
                given[field.name] = value
            elif field.required:
                broken = True
        missing = [f.encode_name for f in kind.fields if f.required and f.encode_name not in seen]
        if missing:
            self.complain("key-missing", f"{_named(path)} must have {listed(missing)}", at=node.place)
        if broken or missing:
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
                    f"{_named((*path, key.text))} must stand once, not also in line {first[key.text].line}",
                    at=key.place,
                )
            first.setdefault(key.text, key.place)

    def _refuse(self, node: Node, path: Path, wanted: str, hint: str = "") -> Any:
        if isinstance(node, Scalar):
            offender = "nothing" if node.is_null else repr(visible(node.text[:60]))
        else:
            offender = "a block" if isinstance(node, Block) else "a list"
        self.complain("value-shape", f"{_named(path)} must be {wanted}, not {offender}", hint, at=node.place)
        return _BROKEN


def _named(path: Path) -> str:
    return visible(" › ".join(path)) if path else "the file"


def _wanted(kind: mi.Type) -> str:
    if isinstance(kind, mi.Metadata):
        said = (kind.extra_json_schema or {}).get("description")
        return str(said) if said else _wanted(kind.type)
    if isinstance(kind, mi.LiteralType):
        return listed((str(v) for v in kind.values), "or")
    if isinstance(kind, mi.StructType):
        return f"a block with {listed(f.encode_name for f in kind.fields if f.required) or 'keys'}"
    if isinstance(kind, mi.DictType):
        return "a block of names and values"
    if isinstance(kind, mi.ListType):
        return "a list"
    if isinstance(kind, mi.IntType):
        return "a whole number"
    if isinstance(kind, mi.UnionType):
        return listed((_wanted(option) for option in kind.types), "or")
    return "one line of text"
