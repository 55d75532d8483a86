"""The library's front door: what a program can import, what it gets, and that writing is repeatable."""

from __future__ import annotations

import doctest
import importlib
import inspect
from pathlib import Path

import pytest
from conftest import CommandLine

import pinmap as package
from pinmap import api, library, writers
from pinmap.errors import NotFoundError, OutputError, PinmapError, SeveralErrors, UnreadableError

SOUND = """\
format: 1
title: Two by two
bus: isa-8bit
end: host
body: {form: pin header, rows: 2, places: 2, labels: zigzag, first: top left, pitch: 2.54 mm}
contacts: {1: GND, 2: open, 3: open, 4: open}
"""
BROKEN = SOUND.replace("isa-8bit", "isa-9bit").replace("pin header", "pins")


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    path = tmp_path / "broken.yaml"
    path.write_text(BROKEN, encoding="utf-8")
    return path


# ---------------------------------------------------------------------- the public names


def test_the_example_in_the_documentation_runs() -> None:
    result = doctest.testmod(package)
    assert result.attempted >= 6
    assert result.failed == 0


@pytest.mark.parametrize("name", package.__all__)
def test_a_public_name_can_be_imported_and_is_documented(name: str) -> None:
    value = getattr(package, name)
    assert value.__doc__
    assert inspect.getdoc(value).splitlines()[0].endswith((".", ":"))  # type: ignore[union-attr]
    assert name in dir(package)
    assert value.__name__ == name
    if inspect.isfunction(value):
        assert "return" in value.__annotations__


def test_every_public_name_stands_once() -> None:
    assert len(set(package.__all__)) == len(package.__all__)
    assert sorted(package._MODULE_OF) == sorted(package.__all__)


def test_a_public_name_is_the_one_of_its_module_and_is_found_once() -> None:
    package.__dict__.pop("load_map", None)
    assert package.load_map is api.load_map
    assert "load_map" in package.__dict__


@pytest.mark.parametrize("name", ["compare", "coverage"])
def test_a_module_does_not_hide_the_function_of_its_name(name: str, pinmap: CommandLine) -> None:
    code = f"import pinmap.{name}, pinmap; from pinmap import {name}; print(callable(pinmap.{name}), callable({name}))"
    ran = pinmap.python("-c", code)
    assert (ran.out, ran.err) == ("True True\n", "")


def test_a_name_that_is_not_there_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="module 'pinmap' has no attribute 'solder'"):
        package.solder  # noqa: B018 - looking it up is the point
    with pytest.raises(ImportError):
        importlib.import_module("pinmap.solder")


def test_the_version_is_that_of_the_project() -> None:
    from importlib.metadata import version

    assert package.__version__ == version("pinmap")


# ---------------------------------------------------------------------- check


def test_a_map_is_checked_by_name_by_path_and_as_an_object() -> None:
    by_name = package.check("oakmere-88")
    entry = next(e for e in library.entries() if e.name == "oakmere-88")
    by_path = package.check(entry.path)
    as_object = package.check(package.load_map("oakmere-88"))
    assert by_name == as_object
    assert by_name.verdict == by_path.verdict == "sound"
    assert by_path.file == str(entry.path)
    assert [f.code for f in by_path.findings] == [f.code for f in by_name.findings]
    assert by_name.map
    assert by_name.map.title == "Oakmere 88 cabinet header"


def test_what_is_broken_is_checked_too_and_has_no_map(broken: Path) -> None:
    checked = package.check(broken)
    assert isinstance(checked, package.Checked)
    assert (checked.file, checked.map, checked.coverage, checked.verdict) == (str(broken), None, None, "fault")
    assert [f.code for f in checked.findings] == ["value-shape", "value-shape"]


def test_the_outcome_of_a_check_cannot_be_changed() -> None:
    with pytest.raises(AttributeError):
        package.check("oakmere-88").file = "other"  # type: ignore[misc]


def test_a_fitted_option_counts_for_the_coverage() -> None:
    def works(fitted: tuple[str, ...]) -> set[str]:
        coverage = package.check("oakmere-88", fitted).coverage
        assert coverage
        return {kind.kind for kind in coverage.kinds if kind.answer == "works"}

    assert works(("video board",)) - works(()) == {"video on the oscillator line"}


def test_an_option_that_the_map_has_not_is_an_error() -> None:
    with pytest.raises(NotFoundError) as caught:
        package.check("oakmere-88", ["vido board"])
    assert str(caught.value) == "an option must be 'video board', not 'vido board'. Did you mean video board?"
    with pytest.raises(NotFoundError, match="an option must be none, for the map has none, not 'video board'"):
        package.check("isa-8bit", ["video board"])


def test_several_maps_are_checked_and_what_stopped_one_is_kept(broken: Path) -> None:
    results, errors = api.check_all(["oakmere-88", "nowhere.yaml", broken, "isa-9bit"])
    assert [r.file for r in results] == ["oakmere-88.yaml", str(broken)]
    assert [type(e) for e in errors] == [UnreadableError, NotFoundError]
    assert str(errors[0]) == "nowhere.yaml: there is no such file"


def test_an_option_counts_for_the_maps_that_have_it() -> None:
    results, errors = api.check_all(["oakmere-88", "isa-8bit"], ["video board"])
    assert errors == []
    assert [r.coverage.fitted for r in results if r.coverage] == [("video board",), ()]


def test_an_option_that_no_map_has_stops_them_all() -> None:
    results, errors = api.check_all(["oakmere-88", "isa-8bit"], ["vido board"])
    assert results == []
    assert [str(e) for e in errors] == ["an option must be 'video board', not 'vido board'. Did you mean video board?"]


# ---------------------------------------------------------------------- load, adapt


def test_a_broken_map_cannot_be_loaded_and_the_error_has_every_complaint(broken: Path) -> None:
    with pytest.raises(package.MapError) as caught:
        package.load_map(broken)
    error = caught.value
    assert isinstance(error, PinmapError)
    assert isinstance(error, ValueError)
    assert (error.file, error.exit_code, len(error.findings)) == (str(broken), 1, 2)
    assert str(error).startswith(f"{broken}:3:6: bus must be one of isa-16bit or isa-8bit, not 'isa-9bit' (and 1 more)")


def test_an_adapter_is_planned_from_names_maps_and_checked_maps() -> None:
    plan = package.adapt("oakmere-88", "isa-8bit")
    assert package.adapt(package.load_map("oakmere-88"), package.check("isa-8bit")) == plan
    assert plan.verdict == "build with care"


def test_the_published_connectors_of_a_map_are_those_of_its_bus() -> None:
    assert [m.name for m in package.published(package.load_map("oakmere-88"))] == ["isa-8bit"]
    assert next(m.name for m in package.published(package.load_map("tarn-rack"))) == "isa-16bit"


def test_every_end_that_is_broken_is_in_the_error(broken: Path) -> None:
    with pytest.raises(package.MapError) as caught:
        package.adapt(broken, broken)
    assert caught.value.file == f"{broken} and {broken}"
    assert len(caught.value.findings) == 4


def test_both_names_that_are_wrong_are_in_the_error() -> None:
    with pytest.raises(SeveralErrors) as caught:
        package.adapt("oakmere", "isa-9bit")
    assert [type(e) for e in caught.value.errors] == [NotFoundError, NotFoundError]
    assert str(caught.value).count("\n") == 1


# ---------------------------------------------------------------------- write

FILES = ["adapter.net", "wiring.csv", "wiring.md", "report.md", "parts.csv", "bench.html", "wiring.pdf"]


def test_the_files_are_rendered_without_being_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    rendered = package.render(package.adapt("oakmere-88", "isa-8bit"))
    assert list(rendered) == list(writers.FILES) == FILES
    assert all(rendered.values())
    assert list(tmp_path.iterdir()) == []


def test_what_is_written_is_what_is_rendered(tmp_path: Path) -> None:
    adapter = package.adapt("oakmere-88", "isa-8bit")
    paths = package.write(adapter, tmp_path / "out")
    assert paths == [tmp_path / "out" / name for name in FILES]
    assert paths[-1].read_bytes().startswith(b"%PDF")
    assert {p.name: p.read_bytes() for p in paths} == package.render(adapter)


def test_only_the_files_that_are_named_are_written_and_nothing_else_is_made(tmp_path: Path) -> None:
    adapter = package.adapt("oakmere-88", "isa-8bit")
    every = package.render(adapter)
    for name in FILES:
        (path,) = package.write(adapter, tmp_path / name, only=[name])
        assert (path.name, path.read_bytes()) == (name, every[name])
        assert [p.name for p in (tmp_path / name).iterdir()] == [name]
    assert list(package.render(adapter, only=["wiring.pdf", "wiring.csv"])) == ["wiring.csv", "wiring.pdf"]
    assert package.render(adapter, only=[]) == {}


def test_a_file_that_there_is_not_is_refused_by_name(tmp_path: Path) -> None:
    with pytest.raises(PinmapError) as caught:
        package.write(package.adapt("oakmere-88", "isa-8bit"), tmp_path / "out", only=["wiring.csv", "board.txt"])
    assert str(caught.value) == f"there is no file board.txt to write; there are {', '.join(FILES[:-1])} and wiring.pdf"
    assert not (tmp_path / "out").exists()


def test_a_byte_order_mark_stands_before_the_csv_files_only_if_it_is_asked_for() -> None:
    adapter = package.adapt("oakmere-88", "isa-8bit")
    plain, marked = package.render(adapter), package.render(adapter, package.Printing(bom=True))
    for name in FILES:
        mark = "\ufeff".encode() if name.endswith(".csv") else b""
        assert marked[name] == mark + plain[name]
        assert not plain[name].startswith("\ufeff".encode())


@pytest.mark.parametrize("card", [None, "isa-8bit"])
def test_a_connector_and_an_adapter_are_drawn(card: str | None) -> None:
    drawn = package.draw_svg("oakmere-88", card)
    assert drawn.startswith("<svg ")
    assert 'data-contact="62"' in drawn
    assert package.draw_pdf("oakmere-88", card, paper="Letter").startswith(b"%PDF")


def test_a_folder_that_is_a_file_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputError):
        package.write(package.adapt("oakmere-88", "isa-8bit"), tmp_path / "out")
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"


def test_the_same_bytes_are_written_anywhere_at_any_time(pinmap: CommandLine) -> None:
    code = "import pinmap; pinmap.write(pinmap.adapt('oakmere-88', 'isa-8bit', ['video board']), '{}')"
    runs = {
        "first": {"PYTHONHASHSEED": "1", "TZ": "UTC", "LANG": "C"},
        "again": {"PYTHONHASHSEED": "1", "TZ": "UTC", "LANG": "C"},
        "else/where": {
            "PYTHONHASHSEED": "77",
            "TZ": "Pacific/Auckland",
            "LANG": "tr_TR.UTF-8",
            "LC_ALL": "tr_TR.UTF-8",
        },
    }
    written = []
    for folder, env in runs.items():
        ran = pinmap.python("-c", code.format(folder), **env)
        assert (ran.status, ran.out, ran.err) == (0, "", "")
        written.append({name: (pinmap.cwd / folder / name).read_bytes() for name in FILES})
        assert sorted(p.name for p in (pinmap.cwd / folder).iterdir()) == sorted(FILES)
    assert written[0] == written[1] == written[2]
    assert not any(str(pinmap.cwd).encode() in data for data in written[0].values())


def test_writing_again_changes_nothing(tmp_path: Path) -> None:
    adapter = package.adapt("brindle-portable", "isa-8bit")
    first = {p: p.read_bytes() for p in package.write(adapter, tmp_path)}
    assert {p: p.read_bytes() for p in package.write(adapter, tmp_path)} == first
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(FILES)
