"""Is what is written SARIF 2.1.0? By the schema that the OASIS SARIF committee published, and a library that reads it.

The schema stands in tests/data with its source beside it.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from pinmap import api
from pinmap.errors import Place, UnreadableError
from pinmap.findings import RULES, found
from pinmap.writers.sarif import SCHEMA, sarif

PUBLISHED: dict[str, Any] = json.loads(
    (Path(__file__).parent.parent / "data" / "sarif-schema-2.1.0.json").read_text(encoding="utf-8")
)


def reference(value: object) -> bool:
    """Whether a text is a URI reference, as far as its characters go (RFC 3986, appendix A; from memory)."""
    return not isinstance(value, str) or bool(
        re.fullmatch(r"(?:[A-Za-z0-9\-._~:/?#\[\]@!$&'()*+,;=]|%[0-9A-Fa-f]{2})*", value)
    )


CHECKER = jsonschema.FormatChecker(formats=())
CHECKER.checks("uri-reference")(reference)
CHECKER.checks("uri")(lambda value: reference(value) and str(value).startswith("https://"))
VALIDATOR = jsonschema.Draft4Validator(PUBLISHED, format_checker=CHECKER)


def complaints(log: object) -> list[str]:
    return [f"{'/'.join(map(str, e.absolute_path))}: {e.message}" for e in VALIDATOR.iter_errors(log)]


BROKEN = "format: 1\ntitle: {a: b}\nbus: isa-9bit\n"
FAULTY = (
    "format: 1\ntitle: T\nbus: isa-8bit\nend: host\n"
    "body: {form: pin header, rows: 2, places: 3, labels: zigzag, first: top left, pitch: 2.54 mm}\n"
    'contacts:\n  1: {signal: +5V, seen: guessed}\n  2: RESET*\n  3: SD0\n  4: SD0\n  5: "[x](y){0}\\e[31m"\n'
)


def test_the_schema_is_the_one_that_the_output_names() -> None:
    assert PUBLISHED["id"] == SCHEMA
    VALIDATOR.check_schema(PUBLISHED)


def test_the_schema_would_find_what_is_wrong() -> None:
    log = json.loads(sarif([("a.yaml", [found("guess", "x", place=Place("a.yaml", 1, 1))])]))
    assert complaints(log) == []
    run = log["runs"][0]
    run["results"][0]["level"] = "danger"
    location = run["results"][0]["locations"][0]["physicalLocation"]
    location["region"] = {"startLine": 0}
    location["artifactLocation"]["uri"] = "a b.yaml"
    run["columnKind"] = "bytes"
    del run["tool"]
    assert len(complaints(log)) == 5


@pytest.mark.parametrize("name", ["my map, 1.yaml", "été/map.yaml"])
def test_what_is_found_in_maps_good_faulty_and_broken_is_valid(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    faulty, broken = Path(name), Path("broken.yaml")
    faulty.parent.mkdir(exist_ok=True)
    faulty.write_text(FAULTY, encoding="utf-8")
    broken.write_text(BROKEN, encoding="utf-8")
    checked, errors = api.check_all(["oakmere-88", faulty, broken, tmp_path / broken, "gone.yaml"])
    assert len(checked) == 4
    text = sarif([(c.file, c.findings) for c in checked], errors, root=tmp_path, library=["oakmere-88.yaml"])
    log = json.loads(text)
    assert complaints(log) == []
    assert str(tmp_path) not in text
    run = log["runs"][0]
    assert len(run["results"]) == sum(len(c.findings) for c in checked) > 15
    assert run["invocations"][0]["executionSuccessful"] is False
    rules = [rule["id"] for rule in run["tool"]["driver"]["rules"]]
    for result in run["results"]:
        assert rules[result["ruleIndex"]] == result["ruleId"]
        location = result["locations"][0]["physicalLocation"]["artifactLocation"]
        assert run["artifacts"][location["index"]]["location"]["uri"] == location["uri"]


def test_every_rule_and_every_kind_of_place_is_valid() -> None:
    places = [Place(), Place("a.yaml"), Place("a.yaml", 1), Place("../\u00e9 %.yaml", 1, 2), Place("/x/y.net", 9, 9)]
    findings = [
        found(code, "\x00{0}[a](b)", "\u202e", places[index % len(places)], contacts=[code], signals=["\n"])
        for index, code in enumerate(RULES)
    ]
    errors = [UnreadableError("x"), UnreadableError("x", "y", Place("b.yaml", 2))]
    assert complaints(json.loads(sarif([("", findings), ("c.yaml", [])], errors))) == []
