"""YAML to a tree: every value as written and with its place, and nothing that grows, runs or hangs."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
import yaml

from pinmap import yamltree
from pinmap.errors import Place, UnreadableError
from pinmap.yamltree import Block, Node, Row, Scalar, load, parse, read_text


def plain(node: Node) -> object:
    """A tree without its places."""
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Row):
        return [plain(item) for item in node.items]
    return [(key.text, plain(value)) for key, value in node.items]


def refused(text: str) -> str:
    with pytest.raises(UnreadableError) as caught:
        parse(text, "m.yaml")
    assert caught.value.exit_code == 2
    return str(caught.value)


def test_every_key_and_value_has_its_text_and_place() -> None:
    tree = parse("a: b\nc:\n  - 010\n  - {d: 'NO'}\n", "m.yaml")

    def at(line: int, column: int) -> Place:
        return Place("m.yaml", line, column)

    assert tree == Block(
        (
            (Scalar("a", at(1, 1)), Scalar("b", at(1, 4))),
            (
                Scalar("c", at(2, 1)),
                Row(
                    (
                        Scalar("010", at(3, 5)),
                        Block(((Scalar("d", at(4, 6)), Scalar("NO", at(4, 9), quoted=True)),), at(4, 5)),
                    ),
                    at(3, 3),
                ),
            ),
        ),
        at(1, 1),
    )


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("a: 010", "010"),
        ("a: yes", "yes"),
        ("a: 1.50", "1.50"),
        ("a: 12:30", "12:30"),
        ("a: 2020-01-01", "2020-01-01"),
        ("a: IOR*", "IOR*"),
        ("a: -IOR", "-IOR"),
        ("a: /IOR", "/IOR"),
        ("a: IOR#", "IOR#"),
        ("a: ~{IOR}", "~{IOR}"),
        ("a: +5V", "+5V"),
        ("a: I\u0305O\u0305R\u0305", "I\u0305O\u0305R\u0305"),
        ('a: "*IOR"', "*IOR"),
        ("a: >-\n  one\n  line\n", "one line"),
        ("a: >\n  one\n  line\n", "one line"),
        ("a: |\n  one\n", "one"),
        ("a: one\n  line\n", "one line"),
        ("a: b\r\n", "b"),
        ("a: b # c\r", "b"),
        ("---\na: b\n...\n", "b"),
        ("%YAML 1.2\n---\na: b\n", "b"),
    ],
)
def test_a_value_stays_as_it_is_written(text: str, value: str) -> None:
    assert plain(parse(text, "m.yaml")) == [("a", value)]
    tree = parse(text, "m.yaml")
    assert isinstance(tree, Block)
    assert isinstance(tree.items[0][1], Scalar)
    assert not tree.items[0][1].escaped


def test_keys_that_stand_twice_are_kept() -> None:
    assert plain(parse("a: b\na: c\n<<: {a: d}\n", "m.yaml")) == [("a", "b"), ("a", "c"), ("<<", [("a", "d")])]


@pytest.mark.parametrize(
    ("text", "null"),
    [
        ("a:", True),
        ("a: ~", True),
        ("a: null", True),
        ("a: # b", True),
        ("a: ''", False),
        ('a: "~"', False),
        ("a: 0", False),
    ],
)
def test_nothing_is_told_from_a_quoted_empty_text(text: str, null: bool) -> None:
    tree = parse(text, "m.yaml")
    assert isinstance(tree, Block)
    value = tree.items[0][1]
    assert isinstance(value, Scalar)
    assert value.is_null is null


def test_what_cannot_be_printed_is_escaped_and_marked() -> None:
    tree = parse('"k\\u202e": "a\\nb\\e[1m"\n', "m.yaml")
    assert isinstance(tree, Block)
    assert tree.items == (
        (
            Scalar("k\\u202e", Place("m.yaml", 1, 1), quoted=True, escaped=True),
            Scalar("a\\nb\\u001b[1m", Place("m.yaml", 1, 12), quoted=True, escaped=True),
        ),
    )


NO_COLON = "a `: ` stands where none can; put a value that holds one in quotes, and indent the keys of a block alike"
NO_KEY = (
    "a key was expected; indent the keys of a block alike, and put a value that goes on after a quote in quotes "
    "as a whole"
)


@pytest.mark.parametrize(
    ("text", "place", "what"),
    [
        ("a:\n\tb: c\n", "2:1", "a tab stands where YAML wants spaces"),
        ("\ta: b\n", "1:1", "a tab stands where YAML wants spaces"),
        ("a: b\n\tc: d\n", "2:1", "a tab stands where YAML wants spaces"),
        ("a: @x\n", "1:4", "a value must not begin with @; put it in quotes"),
        ("a: `x\n", "1:4", "a value must not begin with `; put it in quotes"),
        ("a: %x\n", "1:4", "a value must not begin with %; put it in quotes"),
        ("%x\n", "1:3", "a line or value must not begin with %; put it in quotes"),
        ("title: My machine: the slot\n", "1:18", NO_COLON),
        ("a: b\n  c: d\n", "2:4", NO_COLON),
        ("a: b\nfoo\nc: d\n", "2:1", "this line has no `: ` between a key and its value"),
        ("a:\n    b: c\n  d: e\n", "3:3", NO_KEY),
        ('a: "x" y\n', "1:8", NO_KEY),
        ('a: "x\nb: c\nd: e\n', "1:4", "a quote is not closed here"),
        ("a: 'x\nb: c\n", "1:4", "a quote is not closed here"),
        ("a: {b: c\nd: e\n", "1:4", "a bracket is not closed here, or a comma is missing"),
        ("a: [b, c\nd: e\n", "1:4", "a bracket is not closed here, or a comma is missing"),
        ("a: {b: c d: e}\n", "1:11", "a bracket is not closed here, or a comma is missing"),
        ("a: *\n", "1:5", "a value begins with *, & or !; put it in quotes"),
        ('a: "\\q"\n', "1:5", "a backslash in double quotes begins no such escape; use single quotes"),
        ('a: "\\uD800"\n', "1:7", "a backslash in double quotes begins no such escape; use single quotes"),
        ("a: - b\n", "1:4", "a `- ` stands where none can; put a value that begins with one in quotes"),
        ("- a\nb: c\n", "2:1", "a list's entries must all begin with `- `, indented alike"),
        ("a: |x\n y\n", "1:5", "a text after | or > must begin in the next line"),
        ("a: !x!y z\n", "1:4", "a value begins with !; put it in quotes"),
    ],
)
def test_what_is_not_yaml_is_said_where_it_stands(text: str, place: str, what: str) -> None:
    assert refused(text) == f"m.yaml:{place}: this is not YAML: {what}"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "a: *IOR\n",
            "1:4: a pin map must not use YAML aliases. Write the value out; put a name that begins with * in quotes",
        ),
        ("a: &IOR x\n", "1:4: a pin map must not use YAML anchors. Put a value that begins with & in quotes"),
        ("a: &IOR {b: c}\n", "1:4: a pin map must not use YAML anchors. Put a value that begins with & in quotes"),
        ("a: !IOR\n", "1:4: a pin map must not use YAML tags. Put a value that begins with ! in quotes"),
        ("a: !!str b\n", "1:4: a pin map must not use YAML tags. Put a value that begins with ! in quotes"),
        ("a: !!map {}\n", "1:4: a pin map must not use YAML tags. Put a value that begins with ! in quotes"),
        ("a: b\n---\nc: d\n", "2:1: a file must hold one pin map, not several documents"),
        ("? [a]\n: b\n", "1:3: a key must be a word or a number, not a list or block"),
        ("a: [[[[[[[[[[[[]]]]]]]]]]]]\n", "1:15: blocks must not be nested deeper than 12"),
        (
            "a: b\x00\n",
            "1:5: the file must be plain text, without control characters; U+0000 here is one. "
            "Save it as UTF-8 text in your editor",
        ),
        (
            "ü: b\n: \x07\n",
            "2:3: the file must be plain text, without control characters; U+0007 here is one. "
            "Save it as UTF-8 text in your editor",
        ),
    ],
)
def test_what_pin_maps_do_without_is_refused_where_it_stands(text: str, message: str) -> None:
    assert refused(text) == f"m.yaml:{message}"


def test_twelve_levels_are_not_too_deep() -> None:
    assert plain(parse("[[[[[[[[[[[[]]]]]]]]]]]]", "m.yaml")) == [[[[[[[[[[[[]]]]]]]]]]]]


def test_twenty_thousand_values_are_not_too_many() -> None:
    assert len(parse("- x\n" * 19_999, "m.yaml").items) == 19_999  # type: ignore[union-attr]
    assert refused("- x\n" * 20_000) == "m.yaml:20000:3: a file must not hold more than 20000 keys and values"
    assert refused("- []\n" * 20_000) == "m.yaml:20000:3: a file must not hold more than 20000 keys and values"


@pytest.mark.parametrize("text", ["", "\n", "# a\n", "---\n", "~\n", "   \n\n", "null"])
def test_an_empty_file_is_called_empty(text: str) -> None:
    assert refused(text) == (
        "m.yaml: the file must hold a pin map; it is empty. `pinmap new` writes a skeleton to fill in"
    )


@pytest.mark.parametrize(
    "text",
    [
        *("[" * 500_000, "{" * 500_000, "- " * 400_000, "? " * 400_000, "[\n" * 400_000, "{a: " * 200_000),
        *("]" * 900_000, "," * 900_000, ":" * 900_000, ": " * 400_000, "?\n" * 400_000, "-\n" * 400_000),
        *('"' + "\n" * 900_000, '"' + "\\ " * 400_000, "'" * 900_001, "#" * 900_000, "a: &" + "a" * 900_000),
        *(
            "a: !" + "x" * 900_000,
            "---\n" * 200_000,
            "a:\n" * 300_000,
            "x" * 900_000 + ": y",
            "a: |\n" + " \n" * 400_000,
        ),
        *("".join(" " * i + "a:\n" for i in range(1300)), "[" + "a," * 400_000 + "]", "%" * 900_000, "*a " * 300_000),
    ],
    ids=lambda text: repr(text[:4]),
)
def test_no_text_takes_long_or_crashes_the_interpreter(text: str) -> None:
    begun = time.monotonic()
    said = ""
    try:
        parse(text, "m.yaml")
    except UnreadableError as error:
        said = str(error)
    assert len(said) < 300
    assert time.monotonic() - begun < 5


@pytest.mark.parametrize(
    "text", ["a: [", "a: *x", "\ta: b", "a: b\n---\nc: d", "a: '", "[" * 200, "a: @b", "a: \x01", ""]
)
def test_the_parser_that_is_written_in_python_is_as_safe(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr(yamltree, "_LOADER", yaml.Loader)
    assert refused(text).startswith("m.yaml")
    assert plain(parse("a: {b: IOR*}\nc: [010]\n", "m.yaml")) == [("a", [("b", "IOR*")]), ("c", ["010"])]


# ---------------------------------------------------------------------- files


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_a_byte_order_mark_make_no_difference(tmp_path: Path, ending: str, mark: str) -> None:
    (tmp_path / "m.yaml").write_bytes((mark + "a: b\nc:\n  d: µ\n".replace("\n", ending)).encode("utf-8"))
    tree = load(tmp_path / "m.yaml", "m.yaml")
    assert plain(tree) == [("a", "b"), ("c", [("d", "µ")])]
    assert tree.place == Place("m.yaml", 1, 1)
    assert tree.items[1][0].place == Place("m.yaml", 2, 1)  # type: ignore[union-attr, index]


def test_a_file_of_a_million_bytes_is_not_too_large(tmp_path: Path) -> None:
    path = tmp_path / "m.yaml"
    path.write_bytes(b"a: b\n" + b"#" * 999_995)
    assert plain(load(path, "m.yaml")) == [("a", "b")]
    path.write_bytes(b"a: b\n" + b"#" * 999_996)
    with pytest.raises(UnreadableError) as caught:
        load(path, "m.yaml")
    assert str(caught.value) == "m.yaml: the file must not be larger than 1000 kB; a pin map has a few kB"


def test_a_byte_that_is_not_utf_8_is_said_where_it_stands(tmp_path: Path) -> None:
    (tmp_path / "m.yaml").write_bytes(b"a: b\nc: Ger\xe4t\n")
    with pytest.raises(UnreadableError) as caught:
        read_text(tmp_path / "m.yaml", "m.yaml")
    assert str(caught.value) == (
        "m.yaml:2:7: the file must be text in UTF-8; the byte 0xE4 here is not. Save it as UTF-8 text in your editor"
    )


def test_a_file_that_the_system_refuses_is_said_with_its_reason(tmp_path: Path) -> None:
    for path, message in (
        (tmp_path / "none.yaml", "there is no such file"),
        (tmp_path, "a pin map must be a file, not a folder"),
        (tmp_path / "a\x00b.yaml", "the file cannot be read (embedded null"),
        (tmp_path / ("x" * 300), "the file cannot be read (file name too long)"),
    ):
        with pytest.raises(UnreadableError) as caught:
            read_text(path, "m.yaml")
        assert str(caught.value).startswith(f"m.yaml: {message}")
