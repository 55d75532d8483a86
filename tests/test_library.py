"""The library: what is shipped, what is the user's own, and a near miss."""

from __future__ import annotations

import os
import sys
import threading
from pathlib import Path

import pytest

from pinmap import library
from pinmap.dictionaries import DictionaryError
from pinmap.errors import NotFoundError, UnreadableError
from pinmap.library import ENVIRONMENT, bus, bus_names, customs, entries, find, read, shipped

SHIPPED = (shipped() / "standard" / "isa-8bit.yaml").read_text("utf-8")
SHIPPED_BUS = (shipped() / "bus" / "isa-8bit.yaml").read_text("utf-8")


@pytest.fixture(autouse=True)
def own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """An empty library of the user's own, and an empty current folder."""
    (tmp_path / "own").mkdir()
    (tmp_path / "cwd").mkdir()
    monkeypatch.chdir(tmp_path / "cwd")
    monkeypatch.setenv(ENVIRONMENT, str(tmp_path / "own"))
    return tmp_path / "own"


def test_every_shipped_connector_is_listed_and_read_without_a_complaint() -> None:
    listed = [(e.name, e.collection) for e in entries()]
    assert {"isa-8bit", "isa-16bit", "pc104-8bit", "pc104-16bit"} <= {n for n, c in listed if c == "standard"}
    assert {"oakmere-88", "brindle-portable", "tarn-rack"} <= {n for n, c in listed if c == "demo"}
    for name, _ in listed:
        result = read(name)
        assert result.map is not None
        assert result.complaints == ()
        assert (result.map.name, result.file) == (name, f"{name}.yaml")


def test_every_shipped_dictionary_is_read_and_names_connectors_that_carry_it() -> None:
    assert bus_names() == ["isa-16bit", "isa-8bit"]
    for name in bus_names():
        connectors = bus(name).connectors
        assert connectors
        for connector in connectors:
            pin_map = read(connector).map
            assert pin_map is not None
            assert pin_map.bus is bus(name)


def test_every_form_has_its_customs() -> None:
    assert set(customs()) == {"edge slot", "edge fingers", "pin header", "box header", "socket header", "din 41612"}
    assert customs() is customs()


def test_the_user_s_own_connector_comes_first_and_hides_one_of_the_same_name(own: Path) -> None:
    (own / "isa-8bit.yaml").write_text(SHIPPED.replace("title: ", "title: My own "), "utf-8")
    (own / "mine.yml").write_text(SHIPPED, "utf-8")
    (own / "notes.txt").write_text("", "utf-8")
    names = [(e.name, e.collection) for e in entries()]
    assert names[:2] == [("isa-8bit", "own"), ("mine", "own")]
    assert [n for n, _ in names].count("isa-8bit") == 1
    assert [n for n, _ in names].count("notes") == 0
    mine = read("isa-8bit").map
    assert mine is not None
    assert mine.title.startswith("My own ")
    assert find("mine")[0] == own / "mine.yml"


def test_several_folders_of_the_user_s_own_are_searched_in_order(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, own: Path
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / "a.yaml").write_text(SHIPPED, "utf-8")
    (own / "a.yaml").write_text(SHIPPED, "utf-8")
    monkeypatch.setenv(ENVIRONMENT, os.pathsep.join([str(tmp_path / "none"), str(other), "", str(own)]))
    assert find("a")[0] == other / "a.yaml"


def test_the_user_s_own_dictionary_is_found_and_read_anew_when_it_changes(own: Path) -> None:
    (own / "bus").mkdir()
    path = own / "bus" / "my-bus.yaml"
    path.write_text(SHIPPED_BUS, "utf-8")
    assert bus_names() == ["isa-16bit", "isa-8bit", "my-bus"]
    first = bus("my-bus")
    assert bus("my-bus") is first
    assert first.name == "my-bus"
    path.write_text(SHIPPED_BUS.replace("title: ", "title: Another "), "utf-8")
    os.utime(path, ns=(1, 1))
    assert bus("my-bus").title == f"Another {first.title}"


def test_a_broken_dictionary_of_the_user_s_own_is_said_with_its_place(own: Path) -> None:
    (own / "bus").mkdir()
    (own / "bus" / "my-bus.yaml").write_text("format: 1\n", "utf-8")
    (own / "mine.yaml").write_text(SHIPPED.replace("bus: isa-8bit", "bus: my-bus"), "utf-8")
    with pytest.raises(DictionaryError) as caught:
        read("mine")
    assert str(caught.value) == "my-bus.yaml:1:1: the file must have title, about, sources, signals and kinds"
    (own / "bus" / "my-bus.yaml").write_text("a: [1\n", "utf-8")
    with pytest.raises(UnreadableError, match=r"^my-bus\.yaml:1:4: this is not YAML"):
        read("mine")


# ---------------------------------------------------------------------- names and paths


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ("oakmere88", "there is no file and no connector 'oakmere88'. Did you mean oakmere-88?"),
        ("Oakmere-88", "there is no file and no connector 'Oakmere-88'. Did you mean oakmere-88?"),
        ("xyzzy", "there is no file and no connector 'xyzzy'. `pinmap list` shows what there is"),
        ("", "there is no file and no connector ''. `pinmap list` shows what there is"),
        ("x\x00", "there is no file and no connector 'x\\u0000'. `pinmap list` shows what there is"),
        ("\x1b[31m", "there is no file and no connector '\\u001b[31m'. `pinmap list` shows what there is"),
        ("x" * 5000, f"there is no file and no connector '{'x' * 59}…'. `pinmap list` shows what there is"),
    ],
)
def test_a_word_that_is_neither_gets_the_nearest_name(given: str, message: str) -> None:
    with pytest.raises(NotFoundError) as caught:
        read(given)
    assert str(caught.value) == message
    assert caught.value.exit_code == 2


@pytest.mark.parametrize("given", ["oakmere-88.yaml", "./oakmere-88", "x/oakmere-88", "none.yml"])
def test_what_looks_like_a_path_is_never_taken_for_a_name(given: str) -> None:
    with pytest.raises(UnreadableError) as caught:
        read(given)
    assert str(caught.value) == f"{given}: there is no such file"


def test_a_file_in_the_current_folder_comes_before_a_name_and_a_folder_after() -> None:
    Path("build").mkdir()
    with pytest.raises(UnreadableError) as caught:
        read("build")
    assert str(caught.value) == "build: a pin map must be a file, not a folder"
    Path("oakmere-88").mkdir()
    assert read("oakmere-88").file == "oakmere-88.yaml"
    Path("isa-8bit").write_text(SHIPPED.replace("title: ", "title: Here "), "utf-8")
    here = read("isa-8bit").map
    assert here is not None
    assert here.title.startswith("Here ")


def test_an_unknown_bus_gets_the_nearest_name() -> None:
    for given, message in (
        ("isa8bit", "a bus must be one of isa-16bit or isa-8bit, not 'isa8bit'. Did you mean isa-8bit?"),
        (
            "../bus/isa-8bit\n",
            "a bus must be one of isa-16bit or isa-8bit, not '../bus/isa-8bit\\n'. Did you mean isa-8bit?",
        ),
        ("xyzzy", "a bus must be one of isa-16bit or isa-8bit, not 'xyzzy'"),
    ):
        with pytest.raises(NotFoundError) as caught:
            bus(given)
        assert str(caught.value) == message


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a file's name cannot be any bytes")
def test_a_file_s_name_of_any_bytes_is_shown_with_escapes(own: Path) -> None:
    name = os.fsdecode(b"a\x1b\xff\xe2\x80\xae")
    (own / f"{name}.yaml").write_text(SHIPPED, "utf-8")
    assert find(name) == (own / f"{name}.yaml", "a\\u001b\\udcff\\u202e.yaml", "a\\u001b\\udcff\\u202e")
    given = str(own / f"{name}.yaml")
    shown = f"{own}/a\\u001b\\udcff\\u202e"
    assert find(given) == (own / f"{name}.yaml", f"{shown}.yaml", "a\\u001b\\udcff\\u202e")


def test_many_threads_can_read_at_once() -> None:
    wrong: list[BaseException] = []

    def work() -> None:
        try:
            for name in ("isa-8bit", "tarn-rack", "oakmere-88"):
                assert read(name).map is not None
        except BaseException as error:
            wrong.append(error)

    threads = [threading.Thread(target=work) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []


def test_the_data_is_found_in_a_checkout_and_in_an_installed_package(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    package = tmp_path / "somewhere" / "pinmap"
    package.mkdir(parents=True)
    monkeypatch.setattr(library, "__file__", str(package / "library.py"))
    assert shipped() == tmp_path / "somewhere" / "connectors"
    (package / "connectors").mkdir()
    assert shipped() == package / "connectors"
