"""Writing: all files or none, what was there stays whole, and nothing lands outside the folder."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from pinmap.errors import OutputError
from pinmap.store import write_file, write_files

NEW = {"one.txt": "new one\n", "two.txt": "new two\r\n", "three.txt": "µ Ω ±\n"}


def saved(folder: Path) -> dict[str, bytes]:
    """Every file in a folder, hidden ones too."""
    return {p.name: p.read_bytes() for p in folder.iterdir()}


@pytest.fixture
def earlier(tmp_path: Path) -> Path:
    """A folder with an earlier set, of which one file is missing, and a file that is nobody's business."""
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "one.txt").write_bytes(b"old one\n")
    (folder / "three.txt").write_bytes(b"old three\n")
    (folder / "mine.txt").write_bytes(b"mine\n")
    return folder


def test_all_files_are_written_byte_for_byte_and_their_paths_returned(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b"
    assert write_files(folder, NEW) == [folder / name for name in NEW]
    assert saved(folder) == {name: text.encode("utf-8") for name, text in NEW.items()}


def test_an_earlier_set_is_replaced_and_other_files_stay(earlier: Path) -> None:
    write_files(earlier, NEW)
    assert saved(earlier) == {name: text.encode("utf-8") for name, text in NEW.items()} | {"mine.txt": b"mine\n"}


def test_one_file_is_written_like_a_set(tmp_path: Path) -> None:
    write_file(tmp_path / "new" / "map.yaml", "x\n")
    assert saved(tmp_path / "new") == {"map.yaml": b"x\n"}


@pytest.mark.parametrize("name", ["../x", "a/b", "", ".", "..", "/etc/x", "a\nb", "a\x00b", "a\u202eb"])
def test_a_name_cannot_leave_the_folder(tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError, match="a file's name must be a plain name, not '"):
        write_files(tmp_path / "out", {"one.txt": "x", name: "y"})
    assert list(tmp_path.iterdir()) == []


def test_a_link_in_the_folder_is_replaced_and_what_it_points_to_stays(earlier: Path, tmp_path: Path) -> None:
    outside = tmp_path / "outside.txt"
    outside.write_bytes(b"outside\n")
    (earlier / "two.txt").symlink_to(outside)
    write_files(earlier, NEW)
    assert outside.read_bytes() == b"outside\n"
    assert not (earlier / "two.txt").is_symlink()


# ---------------------------------------------------------------------- when it fails


def refuse(folder: Path, files: dict[str, str]) -> str:
    with pytest.raises(OutputError) as caught:
        write_files(folder, files)
    assert caught.value.exit_code == 2
    return str(caught.value)


def test_a_file_in_the_way_of_the_folder_stays(tmp_path: Path) -> None:
    (tmp_path / "out").write_bytes(b"mine\n")
    reason = "the results cannot be written (not a directory). Nothing was changed"
    assert refuse(tmp_path / "out", NEW) == f"{tmp_path / 'out'}: {reason}"
    assert refuse(tmp_path / "out" / "deeper", NEW) == f"{tmp_path / 'out' / 'deeper'}: {reason}"
    assert saved(tmp_path) == {"out": b"mine\n"}


def test_a_folder_that_cannot_be_made_leaves_no_part_of_its_path(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b" / ("c" * 300)
    assert refuse(folder, NEW) == f"{folder}: the results cannot be written (file name too long). Nothing was changed"
    assert list(tmp_path.iterdir()) == []


def test_a_path_that_no_system_takes_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "a\x00b"
    assert "a\\u0000b: the results cannot be written (embedded null" in refuse(folder, NEW)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_way_of_a_file_leaves_the_whole_set_as_it_was(earlier: Path) -> None:
    (earlier / "three.txt").unlink()
    (earlier / "three.txt").mkdir()
    place = earlier / "three.txt"
    assert refuse(earlier, NEW) == f"{place}: the results cannot be written (is a directory). Nothing was changed"
    assert {p.name for p in earlier.iterdir()} == {"one.txt", "three.txt", "mine.txt"}
    assert (earlier / "one.txt").read_bytes() == b"old one\n"


def test_a_text_that_utf_8_cannot_hold_leaves_the_whole_set_as_it_was(earlier: Path) -> None:
    before = saved(earlier)
    assert "surrogates not allowed" in refuse(earlier, NEW | {"three.txt": "\udcff"})
    assert saved(earlier) == before


class Stop:
    """Replaces a function by one that fails, or is interrupted, at its nth call: before or after doing its work."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, owner: object, name: str, nth: int, error: type, after: bool):
        real = getattr(owner, name)
        self.calls = 0

        def replaced(*arguments: object, **more: object) -> object:
            self.calls += 1
            if self.calls == nth and not after:
                raise error
            result = real(*arguments, **more)
            if self.calls == nth:
                raise error
            return result

        monkeypatch.setattr(owner, name, replaced)


class NoSpaceError(OSError):
    """A disk that is full."""

    def __init__(self) -> None:
        super().__init__(28, "No space left on device")


@pytest.mark.parametrize("error", [NoSpaceError, KeyboardInterrupt, SystemExit, MemoryError])
@pytest.mark.parametrize("after", [False, True])
@pytest.mark.parametrize("nth", [1, 2, 3])
@pytest.mark.parametrize("name", ["fsync", "copy2", "replace"])
def test_a_failure_or_an_interrupt_at_any_step_leaves_the_whole_set_as_it_was(
    monkeypatch: pytest.MonkeyPatch, earlier: Path, name: str, nth: int, after: bool, error: type[BaseException]
) -> None:
    before = saved(earlier)
    owner = {"fsync": os, "copy2": shutil, "replace": Path}[name]
    if name == "copy2" and nth == 3:
        (earlier / "two.txt").write_bytes(b"old two\n")
        before = saved(earlier)
    with monkeypatch.context() as patch:
        stop = Stop(patch, owner, name, nth, error, after)
        with pytest.raises(OutputError if error is NoSpaceError else error) as caught:
            write_files(earlier, NEW)
        assert stop.calls >= nth
    assert saved(earlier) == before
    if error is NoSpaceError:
        assert str(caught.value).endswith(
            ".txt: the results cannot be written (no space left on device). Nothing was changed"
        )


@pytest.mark.parametrize("nth", [1, 2, 3])
def test_an_interrupted_first_writing_leaves_no_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, nth: int
) -> None:
    Stop(monkeypatch, Path, "replace", nth, KeyboardInterrupt, after=True)
    with pytest.raises(KeyboardInterrupt):
        write_files(tmp_path / "a" / "b", NEW)
    assert list(tmp_path.iterdir()) == []


def test_an_interrupt_after_the_last_file_keeps_the_new_set(monkeypatch: pytest.MonkeyPatch, earlier: Path) -> None:
    with monkeypatch.context() as patch:
        Stop(patch, Path, "unlink", 1, KeyboardInterrupt, after=False)
        with pytest.raises(KeyboardInterrupt):
            write_files(earlier, NEW)
    assert saved(earlier) == {name: text.encode("utf-8") for name, text in NEW.items()} | {"mine.txt": b"mine\n"}


# ---------------------------------------------------------------------- what others left, or have at work


def dead_process() -> int:
    """The number of a process that has ended."""
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    return process.pid


def test_what_killed_runs_left_is_cleared(earlier: Path) -> None:
    for mark in (f"{dead_process()}-0123abcd", f"{os.getpid()}-0123abcd"):
        for ending in ("part", "old"):
            (earlier / f".one.txt.{mark}.{ending}").write_bytes(b"half")
    write_files(earlier, NEW)
    assert {p.name for p in earlier.iterdir()} == {*NEW, "mine.txt"}


def test_what_a_run_at_work_or_anybody_else_has_there_stays(earlier: Path) -> None:
    others = [
        f".one.txt.{os.getppid()}-0123abcd.part",
        f".mine.txt.{dead_process()}-0123abcd.part",
        ".one.txt.part",
        ".one.txt.1-x.part",
        f".one.txt.{'9' * 30}-0123abcd.part",
        "one.txt.1-0123abcd.part",
    ]
    for name in others:
        (earlier / name).write_bytes(b"theirs")
    write_files(earlier, NEW)
    assert {p.name for p in earlier.iterdir()} == {*NEW, "mine.txt", *others}


def test_writers_at_the_same_time_each_write_a_whole_set(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "out"
    wrong: list[BaseException] = []

    def write(text: str) -> None:
        try:
            for _ in range(10):
                write_files(folder, dict.fromkeys(NEW, text))
        except BaseException as error:
            wrong.append(error)

    threads = [threading.Thread(target=write, args=(letter * 50_000,)) for letter in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
    assert {p.name for p in folder.iterdir()} == set(NEW)
    assert all(len(set(p.read_text("utf-8"))) == 1 for p in folder.iterdir())
