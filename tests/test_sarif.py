"""Findings for other programs: SARIF, and the line annotations of a hosted repository."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap import __version__, api
from pinmap.errors import Place, SeveralErrors, UnreadableError
from pinmap.findings import GRADES, RULES, Finding, found
from pinmap.writers.annotations import annotated
from pinmap.writers.sarif import FINGERPRINT, LEVELS, plain, relative, sarif

AT = Place("maps/mine.yaml", 12, 3)


def run(*findings: Finding, file: str = "maps/mine.yaml", **more: Any) -> dict[str, Any]:
    """The one run of a file's findings."""
    log = json.loads(sarif([(file, findings)], **more))
    assert len(log["runs"]) == 1
    one: dict[str, Any] = log["runs"][0]
    return one


def result(finding: Finding, **more: Any) -> dict[str, Any]:
    one: dict[str, Any] = run(finding, **more)["results"][0]
    return one


# ---------------------------------------------------------------------- SARIF

GUESS = found(
    "guess-supply",
    "no supply may rest on a guess, but +5V at 4 does",
    "Measure 4",
    AT,
    contacts=["4"],
    signals=["+5V"],
)

WHOLE = """\
{
  "$schema": "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json",
  "version": "2.1.0",
  "runs": [
    {
      "tool": {
        "driver": {
          "name": "pinmap",
          "version": "VERSION",
          "rules": RULES
        }
      },
      "invocations": [
        {
          "executionSuccessful": true,
          "toolExecutionNotifications": []
        }
      ],
      "originalUriBaseIds": {
        "%SRCROOT%": {
          "description": {
            "text": "The folder in which pinmap was run."
          }
        }
      },
      "artifacts": [
        {
          "location": {
            "uri": "maps/mine.yaml",
            "uriBaseId": "%SRCROOT%"
          }
        }
      ],
      "columnKind": "unicodeCodePoints",
      "results": [
        {
          "ruleId": "guess-supply",
          "ruleIndex": INDEX,
          "level": "error",
          "message": {
            "text": "no supply may rest on a guess, but +5V at 4 does. Measure 4"
          },
          "locations": [
            {
              "physicalLocation": {
                "artifactLocation": {
                  "uri": "maps/mine.yaml",
                  "uriBaseId": "%SRCROOT%",
                  "index": 0
                },
                "region": {
                  "startLine": 12,
                  "startColumn": 3
                }
              }
            }
          ],
          "partialFingerprints": {
            "pinmapIdentity/v1": "f6d8f57b0c9adacfd9d1ce38ad39be15:1"
          },
          "properties": {
            "grade": "danger",
            "contacts": [
              "4"
            ],
            "signals": [
              "+5V"
            ]
          }
        }
      ]
    }
  ]
}
"""


def test_a_finding_is_a_result_with_its_rule_its_place_and_nothing_of_the_machine() -> None:
    text = sarif([("maps/mine.yaml", [GUESS])])
    rules = re.search(r'"rules": (\[.*?\n          \])', text, re.DOTALL)
    assert rules
    index = list(RULES).index("guess-supply")
    wanted = WHOLE.replace("VERSION", __version__).replace("RULES", rules[1]).replace("INDEX", str(index))
    assert text == wanted
    assert sarif([("maps/mine.yaml", [GUESS])]) == text


def test_every_rule_is_there_with_its_usual_level() -> None:
    rules = run()["tool"]["driver"]["rules"]
    assert [rule["id"] for rule in rules] == list(RULES)
    assert rules[list(RULES).index("return-none")] == {
        "id": "return-none",
        "shortDescription": {"text": "A connector has a return (ground)."},
        "defaultConfiguration": {"level": "error"},
        "properties": {"grade": "danger", "meaning": "power applied like this can damage something"},
    }
    for rule in rules:
        assert rule["defaultConfiguration"]["level"] == LEVELS[RULES[rule["id"]].grade]


@pytest.mark.parametrize(
    ("grade", "level"), [("danger", "error"), ("fault", "error"), ("caution", "warning"), ("note", "note")]
)
def test_a_grade_is_a_level_whatever_is_usual_for_the_rule(grade: Any, level: str) -> None:
    got = result(found("guess", "x", grade=grade))
    assert (got["level"], got["properties"]["grade"]) == (level, grade)


@pytest.mark.parametrize(
    ("place", "region"),
    [
        (Place("a.yaml", 3, 7), {"startLine": 3, "startColumn": 7}),
        (Place("a.yaml", 3), {"startLine": 3}),
        (Place("a.yaml"), None),
        (Place(), None),
    ],
)
def test_a_region_is_there_as_far_as_the_place_is_known(place: Place, region: dict[str, int] | None) -> None:
    physical = result(found("guess", "x", place=place), file="a.yaml")["locations"][0]["physicalLocation"]
    assert physical["artifactLocation"]["uri"] == "a.yaml"
    assert physical.get("region") == region


def test_what_stands_in_no_file_has_no_location() -> None:
    assert result(found("guess", "x"), file="")["locations"] == []


ROOT = Path("/home/somebody/repo")


@pytest.mark.parametrize(
    ("file", "root", "windows", "shown"),
    [
        ("maps/a.yaml", None, False, "maps/a.yaml"),
        ("./maps//a.yaml", None, False, "maps/a.yaml"),
        ("maps/../a.yaml", None, False, "a.yaml"),
        ("../../a.yaml", ROOT, False, "../../a.yaml"),
        ("/home/somebody/repo/maps/a.yaml", ROOT, False, "maps/a.yaml"),
        ("/home/somebody/elsewhere/a.yaml", ROOT, False, "a.yaml"),
        ("/home/somebody/repo/maps/a.yaml", None, False, "a.yaml"),
        ("/", None, False, "."),
        ("C:\\a.yaml", None, False, "C:\\a.yaml"),
        ("maps\\a.yaml", None, True, "maps/a.yaml"),
        ("C:\\repo\\maps\\a.yaml", Path("C:\\repo"), True, "maps/a.yaml"),
        ("C:\\Users\\somebody\\a.yaml", None, True, "a.yaml"),
        ("\\\\server\\share\\a.yaml", None, True, "a.yaml"),
        ("\\a.yaml", None, True, "a.yaml"),
    ],
)
def test_a_file_is_called_as_from_the_folder_of_the_run(
    file: str, root: Path | None, windows: bool, shown: str
) -> None:
    assert relative(file, root, windows=windows) == shown


@pytest.mark.parametrize("command", [sarif, annotated])
def test_no_absolute_path_is_told(command: Any) -> None:
    inside, outside = "/home/somebody/repo/maps/a.yaml", "/home/somebody/secret/b.yaml"
    findings = [found("name-other-generation", f"lines differ: A7 ({inside}:3)", f"See {inside}", Place(inside, 3, 1))]
    errors = [UnreadableError("there is no such file", place=Place(outside))]
    text = command([(inside, findings)], errors, root=ROOT)
    assert "somebody" not in text
    assert "lines differ: A7 (maps/a.yaml:3). See maps/a.yaml" in text
    assert "b.yaml" in text


def test_a_file_outside_the_folder_and_a_map_of_the_library_have_no_base() -> None:
    text = sarif([("../a.yaml", []), ("oakmere-88.yaml", [GUESS])], library=["oakmere-88.yaml"])
    assert [each["location"] for each in json.loads(text)["runs"][0]["artifacts"]] == [
        {"uri": "../a.yaml"},
        {"uri": "oakmere-88.yaml", "description": {"text": "A connector of pinmap's library."}},
        {"uri": "maps/mine.yaml", "uriBaseId": "%SRCROOT%"},
    ]


def test_a_name_with_every_kind_of_character_becomes_a_reference() -> None:
    name = "my maps/50% #1?:é [x].yaml"
    uri = result(found("guess", "x"), file=name)["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert uri == "my%20maps/50%25%20%231%3F%3A%C3%A9%20%5Bx%5D.yaml"
    assert unquote(uri) == name
    assert result(found("guess", "x"), file="1:2.yaml")["locations"][0]["physicalLocation"]["artifactLocation"] == {
        "uri": "1%3A2.yaml",  # not a scheme
        "uriBaseId": "%SRCROOT%",
        "index": 0,
    }


def test_a_file_that_could_not_be_read_makes_the_run_no_success() -> None:
    missing = UnreadableError("there is no such file", place=Place("gone.yaml"))
    other = UnreadableError("the file must be text", "Save it as UTF-8", Place("latin.yaml", 2, 5))
    got = run(errors=[SeveralErrors([missing, other])])["invocations"]
    assert got == [
        {
            "executionSuccessful": False,
            "toolExecutionNotifications": [
                {
                    "level": "error",
                    "message": {"text": "there is no such file"},
                    "locations": [
                        {
                            "physicalLocation": {
                                "artifactLocation": {"uri": "gone.yaml", "uriBaseId": "%SRCROOT%", "index": 1}
                            }
                        }
                    ],
                },
                {
                    "level": "error",
                    "message": {"text": "the file must be text. Save it as UTF-8"},
                    "locations": [
                        {
                            "physicalLocation": {
                                "artifactLocation": {"uri": "latin.yaml", "uriBaseId": "%SRCROOT%", "index": 2},
                                "region": {"startLine": 2, "startColumn": 5},
                            }
                        }
                    ],
                },
            ],
        }
    ]


# ---------------------------------------------------------------------- fingerprints


def prints(*findings: Finding) -> list[str]:
    return [each["partialFingerprints"][FINGERPRINT] for each in run(*findings)["results"]]


def test_a_fingerprint_stays_when_lines_are_added_above_and_when_the_wording_changes() -> None:
    here = found("contact-twice", "contact 3 must carry one thing (lines 2 and 3)", "", AT, contacts=["3"])
    there = found("contact-twice", "contact 3 carries two (lines 5 and 9)", "x", Place("b.yaml", 80), contacts=["3"])
    assert prints(here) == prints(there)
    plain_here = found("key-missing", "bus must be there (line 3, a.yaml:3:7)", "", AT)
    plain_there = found("key-missing", "bus must be there (line 14, a.yaml:14:7)", "", Place("maps/mine.yaml", 14))
    assert prints(plain_here) == prints(plain_there)


def test_fingerprints_tell_apart_what_is_not_the_same() -> None:
    findings = [
        found("guess", "x", contacts=["1"]),
        found("guess", "x", contacts=["2"]),
        found("guess", "x", signals=["1"]),
        found("guess", "x", contacts=["1", "2"]),
        found("guess-supply", "x", contacts=["1"]),
        found("guess", "x"),
        found("guess", "y"),
    ]
    assert len(set(prints(*findings))) == len(findings)


def test_findings_alike_in_one_file_are_counted() -> None:
    same = found("guess", "x", contacts=["1"])
    assert [each[-2:] for each in prints(same, same, same)] == [":1", ":2", ":3"]
    other = sarif([("a.yaml", [same]), ("b.yaml", [same])])
    assert [each["partialFingerprints"][FINGERPRINT][-2:] for each in json.loads(other)["runs"][0]["results"]] == [
        ":1",
        ":1",
    ]


def test_the_fingerprints_of_a_map_stay_when_lines_are_added_above(tmp_path: Path) -> None:
    text = (
        "format: 1\ntitle: T\nbus: isa-8bit\nend: host\n"
        "body: {form: pin header, rows: 2, places: 3, labels: zigzag, first: top left, pitch: 2.54 mm}\n"
        "contacts:\n  1: {signal: GND, seen: guessed}\n  2: RESET*\n  3: SD0\n  4: SD0\n  5: XYZ\n"
    )

    def marks(written: str) -> dict[str, int]:
        path = tmp_path / "map.yaml"
        path.write_text(written, encoding="utf-8")
        checked = api.check(path)
        results = json.loads(sarif([(checked.file, checked.findings)], root=tmp_path))["runs"][0]["results"]
        return {
            each["partialFingerprints"][FINGERPRINT]: each["locations"][0]["physicalLocation"]
            .get("region", {})
            .get("startLine", 0)
            for each in results
        }

    before, after = marks(text), marks(text.replace("contacts:\n", "\n# more\n\ncontacts:\n"))
    assert before.keys() == after.keys()
    assert len(before) > 5
    assert {after[key] - before[key] for key in before} == {0, 3}


# ---------------------------------------------------------------------- hostile text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("~{IOR} {0}", "~{{IOR}} {{0}}"),
        ("[1] and [2]", "[1] and [2]"),
        ("[click](https://example.org)", "[click\\](https://example.org)"),
        ("[click\\](1)", "[click\\](1)"),
        ("[click\\\\](1)", "[click\\\\\\](1)"),
    ],
)
def test_a_text_is_never_a_placeholder_or_a_link(text: str, shown: str) -> None:
    assert plain(text) == shown


def test_a_hostile_name_stays_text() -> None:
    evil = 'x\x1b[31m\n"},{"\u202e{0}[a](b)'
    got = result(found("guess", evil, evil, Place(evil, 1, 1), contacts=[evil], signals=[evil]))
    shown = 'x\\u001b[31m\\n"},{"\\u202e{0}[a](b)'
    assert got["message"]["text"] == ". ".join([shown.replace("{", "{{").replace("}", "}}").replace("](", "\\](")] * 2)
    assert got["properties"]["contacts"] == [shown]
    uri = got["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert re.fullmatch(r"[A-Za-z0-9%._~/-]+", uri)


# ---------------------------------------------------------------------- annotations


def test_annotations_are_a_line_each_the_worst_first() -> None:
    findings = [
        found("polarity-unmarked", "a table marks its lines", "", Place("a.yaml")),
        found("guess", "100 % guessed: 1, 2", "Measure them", Place("maps/a b,c:d%.yaml", 7)),
        found("name-unknown", "a name must be known, not SDX", "Did you mean SD0?", AT),
    ]
    errors = [UnreadableError("there is no such file", place=Place("gone.yaml")), UnreadableError("no", "Do")]
    assert annotated([("a.yaml", findings), ("b.yaml", [found("return-none", "no return")])], errors) == (
        "::error file=gone.yaml,title=not checked::there is no such file\n"
        "::error title=not checked::no. Do\n"
        "::error file=b.yaml,title=danger return-none::no return\n"
        "::error file=maps/mine.yaml,line=12,col=3,title=fault name-unknown::"
        "a name must be known, not SDX. Did you mean SD0?\n"
        "::warning file=maps/a b%2Cc%3Ad%25.yaml,line=7,title=caution guess::100 %25 guessed: 1, 2. Measure them\n"
        "::notice file=a.yaml,title=note polarity-unmarked::a table marks its lines\n"
    )
    assert annotated([("a.yaml", [])]) == ""


def test_what_is_found_in_a_connector_of_the_library_has_no_line() -> None:
    finding = found("guess", "6 rests on a guess.", "Measure it", Place("oakmere-88.yaml", 37, 3))
    assert annotated([("oakmere-88.yaml", [finding])], library=["oakmere-88.yaml"]) == (
        "::warning title=caution guess::oakmere-88.yaml: 6 rests on a guess. Measure it\n"
    )


@settings(deadline=None, max_examples=200, derandomize=True)
@given(st.text(), st.text(), st.text(), st.sampled_from(GRADES))
def test_no_text_ends_its_annotation_or_begins_another(message: str, advice: str, file: str, grade: Any) -> None:
    out = annotated([("", [found("guess", message, advice, Place(file, 3, 4), grade=grade)])])
    assert out.count("\n") == 1
    assert "\r" not in out
    match = re.fullmatch(r"::(error|warning|notice) (.*?)::(.*)\n", out)
    assert match
    names = [each.split("=")[0] for each in match[2].split(",")]
    assert names == (["file", "line", "col", "title"] if file else ["title"])
    assert not re.search(r"%(?!25|0A|0D|3A|2C)", out)
    json.loads(sarif([("", [found("guess", message, advice, Place(file, 3, 4), contacts=[message])])]))
