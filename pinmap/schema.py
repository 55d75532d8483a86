"""JSON Schemas of the file formats, generated from the definitions that the reader itself uses."""

from __future__ import annotations

import json
from typing import Any

from .formats import FILES
from .text import listed

_TITLES = {
    "map": "pinmap pin map, format 1",
    "bus": "pinmap bus dictionary, format 1",
    "forms": "pinmap customs of connector forms, format 1",
}


def schema(kind: str) -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a file format: `map`, `bus` or `forms`. Raises `ValueError`."""
    if kind not in FILES:
        raise ValueError(f"a schema must be for {listed(FILES, 'or')}, not {kind!r}")
    import msgspec.json

    made = msgspec.json.schema(FILES[kind])
    made = _loosened(made)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": _TITLES[kind], **made}


def text(kind: str) -> str:
    """The schema as the text of a file."""
    return json.dumps(schema(kind), indent=2, ensure_ascii=False) + "\n"


def _loosened(node: Any) -> Any:
    """Let an editor accept what YAML makes of unquoted text: a name such as 5 or 1.5 is a number to it, ~ is null."""
    if isinstance(node, dict):
        out = {key: _loosened(value) for key, value in node.items()}
        if out.get("type") == "string" and "pattern" not in out and "enum" not in out:
            out["type"] = ["string", "number"]
        if out.get("type") == "object" and "additionalProperties" in out and out["additionalProperties"] is not False:
            out["type"] = ["object", "null"]
        return out
    if isinstance(node, list):
        return [_loosened(item) for item in node]
    return node
