"""The JSON Schemas that editors use: they say what the reader says."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from pinmap import api, designs, formats, formats_adapter, library, schema
from pinmap.dictionaries import DictionaryError, read_bus, read_forms
from pinmap.errors import PinmapError
from pinmap.findings import Finding
from pinmap.shape import Shape
from pinmap.yamltree import parse

KINDS = ("map", "bus", "forms", "adapter", "electrical")
FOLDER = library.shipped()


def shipped_files() -> Iterator[tuple[str, Path]]:
    for kind, where in (
        ("map", "standard/*.yaml"),
        ("map", "demo/*.yaml"),
        ("bus", "bus/*.yaml"),
        ("forms", "forms.yaml"),
        ("adapter", "demo/adapters/*.yaml"),
        ("electrical", "electrical.yaml"),
    ):
        yield from ((kind, path) for path in sorted(FOLDER.glob(where)))


SHIPPED = list(shipped_files())


class CoreLoader(yaml.SafeLoader):
    """YAML 1.2, core schema, as editors have it: only true, false, null and decimal numbers are no text."""


CoreLoader.yaml_implicit_resolvers = {}
for tag, pattern, starts in (
    ("bool", r"true|True|TRUE|false|False|FALSE", "tTfF"),
    ("null", r"~|null|Null|NULL|", "~nN"),
    ("int", r"[-+]?[0-9]+", "-+0123456789"),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", "-+.0123456789"),
):
    CoreLoader.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(f"^(?:{pattern})$"), [*starts, ""])


def as_json(value: Any) -> Any:
    """What an editor makes of a loaded file: keys are text."""
    if isinstance(value, dict):
        return {str(k): as_json(v) for k, v in value.items()}
    return [as_json(v) for v in value] if isinstance(value, list) else value


def load(text: str, loader: type[yaml.SafeLoader]) -> Any:
    return as_json(yaml.load(text, Loader=loader))  # noqa: S506 - both loaders are safe


def validator(kind: str) -> Draft202012Validator:
    return Draft202012Validator(schema.schema(kind))


def refusals(kind: str, text: str) -> list[str]:
    return [error.message for error in validator(kind).iter_errors(load(text, CoreLoader))]


@pytest.mark.parametrize("kind", KINDS)
def test_the_shipped_schema_is_the_one_that_is_generated(kind: str) -> None:
    on_disk = (FOLDER / "schema" / f"{kind}.schema.json").read_text(encoding="utf-8")
    assert on_disk == schema.text(kind), f"renew it: pinmap schema {kind} > connectors/schema/{kind}.schema.json"


def test_no_other_schema_is_shipped() -> None:
    assert sorted(p.name for p in (FOLDER / "schema").iterdir()) == sorted(f"{kind}.schema.json" for kind in KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_a_schema_is_valid_in_its_draft(kind: str) -> None:
    made = schema.schema(kind)
    assert made["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(made)


def test_a_schema_for_something_else_is_refused() -> None:
    with pytest.raises(ValueError, match="a schema must be for map, bus, forms, adapter or electrical, not 'netlist'"):
        schema.schema("netlist")


def test_there_are_shipped_files_of_every_kind() -> None:
    assert [sum(k == kind for k, _ in SHIPPED) for kind in KINDS] == [7, 2, 1, 3, 1]


@pytest.mark.parametrize("loader", [CoreLoader, yaml.SafeLoader])
@pytest.mark.parametrize(("kind", "path"), SHIPPED, ids=[p.stem for _, p in SHIPPED])
def test_a_shipped_file_is_accepted(kind: str, path: Path, loader: type[yaml.SafeLoader]) -> None:
    errors = [e.message for e in validator(kind).iter_errors(load(path.read_text(encoding="utf-8"), loader))]
    assert errors == []


# ---------------------------------------------------------------------- every key is explained


def blocks(kind: str) -> list[tuple[str, str, dict[str, Any]]]:
    made = schema.schema(kind)
    return [
        (name, key, said)
        for name, definition in made["$defs"].items()
        for key, said in definition["properties"].items()
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_has_a_description_of_its_own(kind: str) -> None:
    vague = {"one line of text", "a whole number", "a length with its unit", "a current with its unit", "", None}
    assert [(name, key) for name, key, said in blocks(kind) if said.get("description") in vague] == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_example_is_accepted_by_its_own_key(kind: str) -> None:
    made = schema.schema(kind)
    given = 0
    for name, key, said in blocks(kind):
        for example in said.get("examples", []):
            given += 1
            assert Draft202012Validator({**said, "$defs": made["$defs"]}).is_valid(example), (name, key, example)
    assert given > 3


def test_a_tooltip_tells_what_a_word_means() -> None:
    body = schema.schema("map")["$defs"]["BodyFile"]["properties"]
    for word in ("rows", "zigzag", "serial", "ring", "lettered"):
        assert word in body["labels"]["enum"]
        assert f"{word}: " in body["labels"]["description"]
    assert body["first"]["description"].startswith("the corner of the first contact, seen from the mating face")


# ---------------------------------------------------------------------- schema and reader agree

MAP = """\
format: 1
title: a map
bus: isa-8bit
end: host
body:
  form: pin header
  rows: 2
  places: 2
  labels: zigzag
  first: top left
  pitch: 2.54 mm
contacts:
  1: GND
  2: +5V
"""

BAD_MAPS = {
    "an unknown key": (MAP + "colour: red\n", "key-unknown"),
    "a key spelled with an underscore": (MAP.replace("  pitch:", "  row_pitch: 2 mm\n  pitch:"), "key-unknown"),
    "another format": (MAP.replace("format: 1", "format: 2"), "value-shape"),
    "no title": (MAP.replace("title: a map\n", ""), "key-missing"),
    "no contacts": (MAP.split("contacts:", maxsplit=1)[0], "key-missing"),
    "an empty title": (MAP.replace("title: a map", "title:"), "value-shape"),
    "a list as title": (MAP.replace("title: a map", "title: [a, map]"), "value-shape"),
    "another end": (MAP.replace("end: host", "end: slot"), "value-shape"),
    "another form": (MAP.replace("pin header", "pins"), "value-shape"),
    "other labels": (MAP.replace("zigzag", "spiral"), "value-shape"),
    "another corner": (MAP.replace("top left", "left top"), "value-shape"),
    "a bare number as pitch": (MAP.replace("2.54 mm", "2.54"), "value-shape"),
    "a pitch in volts": (MAP.replace("2.54 mm", "2.54 V"), "value-shape"),
    "rows in words": (MAP.replace("rows: 2", "rows: two"), "value-shape"),
    "less than no places": (MAP.replace("places: 2", "places: -2"), "value-shape"),
    "half a place": (MAP.replace("places: 2", "places: 2.5"), "value-shape"),
    "a body that is a text": (MAP.split("body:", maxsplit=1)[0] + "body: pin header\ncontacts: {}\n", "value-shape"),
    "a contact that is a list": (MAP.replace("1: GND", "1: [GND]"), "value-shape"),
    "a contact that says nothing": (MAP.replace("1: GND", "1:"), "value-shape"),
    "a contact without its signal": (MAP.replace("1: GND", "1: {note: smudged}"), "key-missing"),
    "a contact with an unknown key": (MAP.replace("1: GND", "1: {signal: GND, colour: black}"), "key-unknown"),
    "a contact seen in a dream": (MAP.replace("1: GND", "1: {signal: GND, seen: dreamt}"), "value-shape"),
    "marks of another kind": (MAP + "marks: some\n", "value-shape"),
    "contacts in a list": (MAP.split("contacts:", maxsplit=1)[0] + "contacts: [GND, +5V]\n", "value-shape"),
    "a limit without unit": (MAP + "supplies:\n  +5V: {limit: 1.5}\n", "value-shape"),
    "a limit that is no block": (MAP + "supplies:\n  +5V: 1.5 A\n", "value-shape"),
    "an own signal of a bus's group": (MAP + "own signals:\n  X: {group: data}\n", "value-shape"),
    "options in a list": (MAP + "options: [video board]\n", "value-shape"),
    "a mate in words": (MAP.replace("  pitch:", "  mate: none\n  pitch:"), "value-shape"),
    "a section without places": (MAP.replace("  pitch:", "  sections: [{rows: 2}]\n  pitch:"), "key-missing"),
    "no map at all": ("just a sentence\n", "value-shape"),
}


def complaints(tmp_path: Path, text: str) -> tuple[Finding, ...]:
    path = tmp_path / "bad.yaml"
    path.write_text(text, encoding="utf-8")
    return library.read(str(path)).complaints


def test_the_good_map_is_accepted_by_both(tmp_path: Path) -> None:
    assert refusals("map", MAP) == []
    assert complaints(tmp_path, MAP) == ()


@pytest.mark.parametrize(("text", "code"), BAD_MAPS.values(), ids=list(BAD_MAPS))
def test_a_bad_map_is_refused_by_both(text: str, code: str, tmp_path: Path) -> None:
    assert refusals("map", text) != []
    assert code in {f.code for f in complaints(tmp_path, text)}


GOOD_TO_BOTH = {
    "a title that is a number": MAP.replace("a map", "5150"),
    "a title that is a truth": MAP.replace("a map", "true"),
    "a name that is a number": MAP.replace("2: +5V", "2: 5") + "own signals:\n  5: the fifth wire\n",
    "empty blocks": MAP + "options:\nown signals:\nsupplies:\n",
    "letters in a list": MAP.replace("zigzag", "rows\n  letters: [A, B]").replace("1: GND\n  2:", "A1: GND\n  B1:"),
    "a length in inches": MAP.replace("2.54 mm", "0.1 in"),
    "a source for each figure": MAP.replace("  pitch:", "  source: {pitch: a caliper}\n  pitch:"),
}


@pytest.mark.parametrize("text", GOOD_TO_BOTH.values(), ids=list(GOOD_TO_BOTH))
def test_what_the_reader_takes_an_editor_takes_too(text: str, tmp_path: Path) -> None:
    assert text != MAP
    assert refusals("map", text) == []
    assert [f for f in complaints(tmp_path, text) if f.code != "contact-not-described"] == []


BAD_BUSES = {
    "an unknown key": ("title: ISA bus, 8-bit", "title: ISA bus, 8-bit\nvoltage: 5 V"),
    "an unknown group": ("group: return", "group: ground"),
    "an unknown level": ("active: low", "active: lo"),
    "an unknown driver": ("driver: host", "driver: machine"),
    "a remedy of another kind": ("kind: pull up", "kind: hope"),
    "a grade of another name": ("grade: fault", "grade: fatal"),
    "aliases that are no list": ("aliases: [VSS, 0V, GROUND, GRD]", "aliases: VSS"),
    "a fact without its source": ("{value: 3, source: geometry}", "{value: 3}"),
    "volts without their unit": ("volts: +5 V", "volts: 5"),
}


@pytest.mark.parametrize(("good", "bad"), BAD_BUSES.values(), ids=list(BAD_BUSES))
def test_a_bad_dictionary_is_refused_by_both(good: str, bad: str, tmp_path: Path) -> None:
    text = (FOLDER / "bus" / "isa-8bit.yaml").read_text(encoding="utf-8")
    assert good in text
    path = tmp_path / "bad.yaml"
    path.write_text(text.replace(good, bad), encoding="utf-8")
    assert refusals("bus", path.read_text(encoding="utf-8")) != []
    with pytest.raises(DictionaryError):
        read_bus(path, "bad.yaml", "bad")


BAD_FORMS = {
    "an unknown form": ("  edge slot:", "  card slot:"),
    "other labels": ("labels: zigzag", "labels: zig-zag"),
    "a pitch without unit": ("pitch: 2.54 mm", "pitch: 2.54"),
    "an unknown key": ("    rating: {value: 3 A", "    price: 1\n    rating: {value: 3 A"),
}


@pytest.mark.parametrize(("good", "bad"), BAD_FORMS.values(), ids=list(BAD_FORMS))
def test_bad_customs_of_forms_are_refused_by_both(good: str, bad: str, tmp_path: Path) -> None:
    text = (FOLDER / "forms.yaml").read_text(encoding="utf-8")
    assert good in text
    path = tmp_path / "bad.yaml"
    path.write_text(text.replace(good, bad), encoding="utf-8")
    assert refusals("forms", path.read_text(encoding="utf-8")) != []
    with pytest.raises(PinmapError):
        read_forms(path, "bad.yaml")


ADAPTER = """\
format: 1
title: a riser
host: oakmere-88
card: isa-8bit
build:
  as: ribbon
  length: 150 mm
  wire: 28 AWG
cards:
  - name: a card
    draws: {+5V: 250 mA}
remedies:
  DRQ3: leave open
  DACK3*: {kind: pull up, value: 10 kΩ, to: +5V}
jumpers:
  IRQ7: [IRQ5, IRQ3]
fuses:
  +5V: {rating: 1 A, resettable: yes}
"""

BAD_ADAPTERS = {
    "an unknown key": ("title: a riser", "title: a riser\ncolour: red"),
    "another format": ("format: 1", "format: 2"),
    "no host": ("host: oakmere-88\n", ""),
    "no card": ("card: isa-8bit\n", ""),
    "another construction": ("as: ribbon", "as: magic"),
    "a construction that is not said": ("  as: ribbon\n", ""),
    "a length without unit": ("length: 150 mm", "length: 150"),
    "a length in amperes": ("length: 150 mm", "length: 150 mA"),
    "a wire size without unit": ("wire: 28 AWG", "wire: 28"),
    "a wire size in words": ("wire: 28 AWG", "wire: thin"),
    "options that are no list": ("title: a riser", "title: a riser\noptions: video board"),
    "a card without name": ("- name: a card", "- kind: DMA"),
    "cards in a block": ("  - name: a card\n    draws: {+5V: 250 mA}", "  name: a card"),
    "a draw without unit": ("250 mA", "250"),
    "loads in words": ("- name: a card", "- name: a card\n    loads: two"),
    "needs that are no list": ("- name: a card", "- name: a card\n    needs: IRQ5"),
    "another remedy": ("DRQ3: leave open", "DRQ3: hope"),
    "a remedy without its kind": ("{kind: pull up, value", "{value"),
    "a remedy with an unknown key": ("value: 10 kΩ", "ohms: 10 kΩ"),
    "jumpers in a block": ("[IRQ5, IRQ3]", "{a: IRQ5}"),
    "a fuse without unit": ("rating: 1 A", "rating: 1"),
    "a fuse without rating": ("rating: 1 A, ", ""),
    "a fuse that perhaps recovers": ("resettable: yes", "resettable: perhaps"),
    "a clock without unit": ("title: a riser", "title: a riser\nclock: 4.77"),
    "half another slot": ("title: a riser", "title: a riser\nother slots: 0.5"),
    "decoupling of another kind": ("title: a riser", "title: a riser\ndecoupling: some"),
}


def adapter_complaints(tmp_path: Path, text: str) -> tuple[Finding, ...]:
    path = tmp_path / "riser.yaml"
    path.write_text(text, encoding="utf-8")
    return designs.read(path, "riser.yaml", api.check, gauges=range(20, 31)).complaints


def test_the_good_adapter_file_is_accepted_by_both(tmp_path: Path) -> None:
    assert refusals("adapter", ADAPTER) == []
    assert adapter_complaints(tmp_path, ADAPTER) == ()


@pytest.mark.parametrize(("good", "bad"), BAD_ADAPTERS.values(), ids=list(BAD_ADAPTERS))
def test_a_bad_adapter_file_is_refused_by_both(good: str, bad: str, tmp_path: Path) -> None:
    assert good in ADAPTER
    text = ADAPTER.replace(good, bad)
    assert refusals("adapter", text) != []
    assert adapter_complaints(tmp_path, text) != ()


BAD_ELECTRICAL = {
    "an unknown key": ("kinds source:", "price: 1\nkinds source:"),
    "a fact without its source": ("{value: 2.0 V, source: logic makers}", "{value: 2.0 V}"),
    "a diameter without unit": ("diameter: 25.35 mil", "diameter: 25.35"),
    "a resistance in volts": ("per km: 52.95 Ω", "per km: 52.95 V"),
    "a draw without unit": ("{+5V: 300 mA}", "{+5V: 300}"),
}


@pytest.mark.parametrize(("good", "bad"), BAD_ELECTRICAL.values(), ids=list(BAD_ELECTRICAL))
def test_bad_electrical_facts_are_refused(good: str, bad: str) -> None:
    text = (FOLDER / "electrical.yaml").read_text(encoding="utf-8")
    assert good in text
    assert refusals("electrical", text.replace(good, bad)) != []


def definition_called(name: str) -> Any:
    return getattr(formats_adapter, name, None) or getattr(formats, name)


def keys_by_reader(definition: str) -> list[str]:
    """The keys that the reader itself says a block may have, when it meets one that it doesn't know."""
    shape = Shape()
    shape.struct(parse("qqqqqqqqqqqq: 1\n", "x"), definition_called(definition))
    (advice,) = (f.advice for f in shape.complaints if f.code == "key-unknown")
    return re.split(r", | and ", advice.removeprefix("The keys here are "))


@pytest.mark.parametrize("kind", KINDS)
def test_the_keys_of_the_schema_are_the_keys_of_the_reader(kind: str) -> None:
    for name, definition in schema.schema(kind)["$defs"].items():
        assert list(definition["properties"]) == keys_by_reader(name), name
        assert definition["additionalProperties"] is False, name


@pytest.mark.parametrize("kind", KINDS)
def test_the_keys_that_the_schema_asks_for_are_those_that_the_reader_asks_for(kind: str) -> None:
    for name, definition in schema.schema(kind)["$defs"].items():
        shape = Shape()
        shape.struct(parse("{}\n", "x"), definition_called(name))
        said = [f.message for f in shape.complaints if f.code == "key-missing"]
        asked = re.split(r", | and ", said[0].removeprefix("the file must have ")) if said else []
        assert definition.get("required", []) == asked, name


def test_a_schema_is_json_with_its_characters_written_out() -> None:
    assert json.loads(schema.text("map")) == schema.schema("map")
    assert "·" in schema.text("map")
