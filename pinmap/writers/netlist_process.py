"""The netlist, made by skidl and read back by kicad-skip, both in a process of their own.

Importing skidl has effects that a program using pinmap did not ask for: log files in the
current folder, a library cache in the home folder, warnings on stderr, two names added to
`builtins`, another class for every logger made afterwards. A netlist made by it carries the
time of day, its version and the path of the script. Here all of that happens in a child
process that lives in a temporary folder; what comes back is one text, or one sentence.

This is the caller's side; what the child does is in `netlist_child`.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
import weakref
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from types import TracebackType

from . import netlist_child
from .netlist_child import NetlistError, NetPart, NetWire, read_netlist

__all__ = ["Job", "NetPart", "NetWire", "NetlistError", "netlist_text", "read_netlist", "start"]

# What the child does before it has found its own code. The caller's sys.path is handed over
# because -I leaves out PYTHONPATH and the user's own packages. The file is loaded as a module,
# not run as a script, so that its folder is not on sys.path, where a sibling could hide a
# library.
_BOOT = """
import importlib.util, json, sys
work = json.load(sys.stdin)
sys.path[:] = work["path"]
spec = importlib.util.spec_from_file_location("netlist_child", sys.argv[1])
module = sys.modules[spec.name] = importlib.util.module_from_spec(spec)
spec.loader.exec_module(module)
module._child(work)
"""


class Job:
    """A netlist being made; `result` waits for it.

    Used as a context manager, or with `close`, the child ends and its folder goes whatever
    happens in between. A job that is forgotten is cleaned up when it is collected, or when
    the program ends.
    """

    def __init__(self, process: subprocess.Popen[bytes], folder: tempfile.TemporaryDirectory[str]) -> None:
        """Take over a started child and the temporary folder it lives in."""
        self._process = process
        self._folder = Path(folder.name)
        self._text: str | None = None
        self._close = weakref.finalize(self, _end, process, folder)

    def result(self) -> str:
        """Wait for the child and return the netlist's text; the folder is gone afterwards.

        Raises NetlistError when the child failed, a library is missing, the text read back
        differs from what was asked for, or the job was closed before.
        """
        if self._text is not None:
            return self._text
        if not self._close.alive:
            raise NetlistError("a netlist must be taken before its job is closed; this one is closed")
        try:
            self._text = self._wait()
        finally:
            self.close()
        return self._text

    def close(self) -> None:
        """End the child if it still runs and remove its folder; a second call does nothing."""
        self._close()

    def __enter__(self) -> Job:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _wait(self) -> str:
        # Without a limit, which the child keeps itself: Python waits for a limited time by
        # looking every 50 ms.
        status = self._process.wait()
        try:
            answer = json.loads((self._folder / "answer").read_bytes())
        except (OSError, ValueError):
            lines = (self._folder / "trouble").read_text("utf-8", "replace").strip().splitlines()
            reason = f": {lines[-1]}" if lines else ""
            raise NetlistError(f"the netlist process ended with status {status} and no answer{reason}") from None
        if "netlist" not in answer:
            raise NetlistError(str(answer.get("error")))
        return str(answer["netlist"])


def start(title: str, parts: Sequence[NetPart], nets: Sequence[NetWire]) -> Job:
    """Start making the netlist and return at once.

    `title`: what the netlist is of, plain text; it stands where a source file's name would.
    `parts`, `nets`: as described at `NetPart` and `NetWire`.

    Parts come in natural order (J2 before J10), nets in the order given. The same arguments
    give the same text, in any folder and on any day.

    Raises NetlistError when the arguments contradict each other or no child can be started.
    """
    _validate(title, parts, nets)
    folder = tempfile.TemporaryDirectory(prefix="pinmap-", ignore_cleanup_errors=True)
    process: subprocess.Popen[bytes] | None = None
    try:
        home = Path(folder.name)
        work = {
            "path": [str(Path(entry).absolute()) for entry in sys.path],
            "title": title,
            "parts": [asdict(part) for part in parts],
            "nets": [asdict(net) for net in nets],
        }
        (home / "work").write_text(json.dumps(work), "ascii")
        (home / "cwd").mkdir()
        # Files, not pipes: the child never waits for a caller that is busy elsewhere.
        with (
            (home / "work").open("rb") as stdin,
            (home / "answer").open("wb") as stdout,
            (home / "trouble").open("wb") as stderr,
        ):
            process = subprocess.Popen(  # noqa: S603 - this Python, and no word of the input
                [*_interpreter(), "-c", _BOOT, str(Path(netlist_child.__file__).absolute())],
                stdin=stdin,
                stdout=stdout,
                stderr=stderr,
                cwd=home / "cwd",
                env=_environment(home / "cwd"),
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
        return Job(process, folder)
    except OSError as error:
        _end(process, folder)
        raise NetlistError(f"the netlist process could not be started: {error}") from None
    except BaseException:
        _end(process, folder)
        raise


def netlist_text(title: str, parts: Sequence[NetPart], nets: Sequence[NetWire]) -> str:
    """Make the netlist and wait for it: `start` and `Job.result` in one; raises NetlistError."""
    with start(title, parts, nets) as job:
        return job.result()


# --- what goes to the child -----------------------------------------------------------------


def _end(process: subprocess.Popen[bytes] | None, folder: tempfile.TemporaryDirectory[str]) -> None:
    if process is not None:
        if process.poll() is None:
            process.kill()
        process.wait()
    folder.cleanup()


def _interpreter() -> list[str]:
    """Name this Python, isolated from PYTHON* variables, in UTF-8, caching bytecode as the caller does."""
    command = [sys.executable, "-I", "-X", "utf8"]
    if sys.dont_write_bytecode:
        command.append("-B")
    if sys.pycache_prefix:
        command += ["-X", f"pycache_prefix={Path(sys.pycache_prefix).absolute()}"]
    return command


def _environment(home: Path) -> dict[str, str]:
    """Copy the caller's environment, with every place a library may keep things in moved to `home`."""
    places = (
        *("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA"),
        *("XDG_DATA_HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"),
        *("TMPDIR", "TEMP", "TMP", "MPLCONFIGDIR"),
        # skidl warns about each of these that is not set.
        *("KICAD_SYMBOL_DIR", *(f"KICAD{release}_SYMBOL_DIR" for release in range(5, 13))),
    )
    return {**os.environ, **dict.fromkeys(places, str(home))}


def _validate(title: str, parts: Sequence[NetPart], nets: Sequence[NetWire]) -> None:
    """Refuse what skidl would quietly change: a second part or net of one name is renamed."""
    _text("the title", title)
    pads: dict[str, set[str]] = {}
    purposes: dict[str, str] = {}
    for part in parts:
        for what in ("ref", "value", "footprint", "purpose"):
            _text(f"the {what} of {part.ref}", getattr(part, what), empty=what in ("value", "footprint"))
        if part.ref in pads:
            raise NetlistError(f"each part must have a ref of its own; {part.ref} is given twice")
        other = purposes.setdefault(part.purpose, part.ref)
        if other != part.ref:
            raise NetlistError(
                f"each part must have a purpose of its own; {other} and {part.ref} are both for {part.purpose!r}"
            )
        numbers = pads[part.ref] = set()
        for number, name in part.pads:
            _text(f"a pad number of {part.ref}", number, empty=False)
            _text(f"the pin name at pad {number} of {part.ref}", name)
            if number in numbers:
                raise NetlistError(f"a part must have each pad once; pad {number} of {part.ref} is given twice")
            numbers.add(number)
    names: set[str] = set()
    taken: dict[tuple[str, str], str] = {}
    for net in nets:
        _text("a net's name", net.name, empty=False)
        if net.name in names:
            raise NetlistError(f"each net must have a name of its own; {net.name} is given twice")
        names.add(net.name)
        if not net.nodes:
            raise NetlistError(f"a net must have at least one node; {net.name} has none")
        for ref, number in net.nodes:
            if number not in pads.get(ref, ()):
                raise NetlistError(f"a net must join pads of the parts given; {net.name} names pad {number} of {ref}")
            if (ref, number) in taken:
                raise NetlistError(
                    f"a pad must be on one net, once; pad {number} of {ref} is on {taken[ref, number]} and {net.name}"
                )
            taken[ref, number] = net.name


def _text(what: str, text: str, empty: bool = True) -> None:
    if not empty and not text:
        raise NetlistError(f"{what} must not be empty")
    if re.search(r"[^\t\n\r -\x7e\xa0-\ud7ff\ue000-\U0010ffff]", text):
        raise NetlistError(f"{what} must be plain text without control characters, not {text!r}")
