"""JSON Schemas of the file formats, generated from the definitions that the reader itself uses."""

from __future__ import annotations

import json
from typing import Any

import msgspec.inspect as mi
from msgspec import Struct

from . import formats, formats_adapter
from .text import listed

#: Every file format, by the name of its schema.
FILES: dict[str, type[Struct]] = {**formats.FILES, **{str(kind): file for kind, file in formats_adapter.FILES.items()}}

_TITLES = {
    "map": "pinmap pin map, format 1",
    "bus": "pinmap bus dictionary, format 1",
    "forms": "pinmap customs of connector forms, format 1",
    "adapter": "pinmap adapter file, format 1",
    "electrical": "pinmap electrical facts, format 1",
}


def schema(kind: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a file format, one of `FILES`. Raises `ValueError`."""
    if kind not in FILES:
        raise ValueError(f"a schema must be for {listed(FILES, 'or')}, not {kind!r}")
    import msgspec.json

    made = msgspec.json.schema(FILES[kind])
    _explain(made["$defs"], mi.type_info(FILES[kind]))
    made = _loosened(made)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": _TITLES[kind], **made}


def text(kind: str) -> str:
    """The schema as the text of a file."""
    return json.dumps(schema(kind), indent=2, ensure_ascii=False) + "\n"


def _explain(defs: dict[str, Any], kind: mi.Type) -> None:
    """Give every key its description, and every block with names of its own kind the names it may have."""
    if isinstance(kind, mi.StructType):
        for field in kind.fields:
            inner, node = field.type, defs[kind.cls.__name__]["properties"][field.encode_name]
            if isinstance(inner, mi.Metadata):
                if inner.extra:
                    node["description"] = inner.extra["about"]
                inner = inner.type
            if isinstance(inner, mi.DictType) and isinstance(inner.key_type, mi.LiteralType):
                node["propertyNames"] = {"enum": list(inner.key_type.values)}
            _explain(defs, inner)
    elif isinstance(kind, mi.Metadata):
        _explain(defs, kind.type)
    elif isinstance(kind, mi.UnionType):
        for option in kind.types:
            _explain(defs, option)
    elif isinstance(kind, mi.ListType):
        _explain(defs, kind.item_type)
    elif isinstance(kind, mi.DictType):
        _explain(defs, kind.value_type)


def _loosened(node: Any) -> Any:
    """Let an editor accept what YAML makes of unquoted text.

    A name such as 5 or 1.5 is a number to it, `true` a boolean (to some `yes` too); a block without entries is null.
    """
    if isinstance(node, dict):
        out = {key: _loosened(value) for key, value in node.items()}
        if out.get("type") == "string" and "pattern" not in out and "enum" not in out:
            out["type"] = ["string", "number", "boolean"]
        if out.get("enum") == ["no", "yes"]:
            out["enum"] += [False, True]
        if out.get("type") == "object" and "additionalProperties" in out and out["additionalProperties"] is not False:
            out["type"] = ["object", "null"]
        return out
    if isinstance(node, list):
        return [_loosened(item) for item in node]
    return node
