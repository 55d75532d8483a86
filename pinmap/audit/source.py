"""A drawing's file as a tree of branches, each with its line, read within limits.

The files of a schematic suite are nested lists in brackets. They are read by kicad-skip's parser; before that the text
is walked through once, so that what the parser gets is whole, bounded, and holds nothing but texts.
"""

from __future__ import annotations

import importlib
import re
import stat
from bisect import bisect_left
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any

from msgspec import Struct

from ..errors import PinmapError, Place, UnreadableError, raise_all
from ..text import count, quoted

#: So large may a file be, or all sheets of a drawing together; the netlist of an adapter with every remedy has 70 kB.
#: Measured at these three limits, whatever the file holds: under 20 s and 450 MB on one slow core.
MAX_BYTES = 6_000_000
#: So many lists, and so many words, may it hold.
MAX_LISTS = 600_000
MAX_WORDS = 1_500_000
#: So deep may brackets be nested; drawings have about twelve.
MAX_DEPTH = 60
#: So many parts and so many pads may a drawing have; a large computer on one board has a twentieth.
MAX_PARTS = 20_000
MAX_NODES = 200_000
#: So many complaints are shown one by one; more tell nothing new.
MAX_ERRORS = 50
#: The lines are kept of what stands so deep: the node of a net, the pin of a sheet.
_LINED = 4

_TOKEN = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"|[()]|[^\s()"]+|"', re.DOTALL)
_KINDS = {
    "export": "a netlist",
    "kicad_sch": "a schematic",
    "kicad_pcb": "a board",
    "kicad_symbol_lib": "a library of symbols",
    "footprint": "a footprint",
    "module": "a footprint",
    "kicad_wks": "a page frame",
    "sym_lib_table": "a list of libraries",
    "fp_lib_table": "a list of libraries",
}

_Lines = tuple[int, int, list[Any]]  # line, column, the same of the lists in it


class Branch(Struct, frozen=True):
    """One list of the file: its head, what follows, its place, and the lines of the lists in it."""

    head: str
    items: list[Any]
    file: str
    line: int
    column: int
    inner: list[Any]

    @property
    def place(self) -> Place:
        """Where it begins."""
        return Place(self.file, self.line, self.column)

    def all(self, *heads: str) -> Iterator[Branch]:
        """The lists in it with one of these heads, or all of them."""
        index = 0
        for item in self.items:
            if not isinstance(item, list):
                continue
            line, column, inner = self.inner[index] if index < len(self.inner) else (self.line, self.column, [])
            index += 1
            head = item[0] if item and isinstance(item[0], str) else ""
            if not heads or head in heads:
                yield Branch(head, item[1:], self.file, line, column, inner if head else inner[1:])

    def first(self, *heads: str) -> Branch | None:
        """The first list in it with one of these heads."""
        return next(self.all(*heads), None)

    @property
    def texts(self) -> list[str]:
        """The words that follow its head."""
        return [item for item in self.items if isinstance(item, str)]

    def text(self, head: str = "", default: str = "") -> str:
        """Its first word, or that of the first list in it with this head."""
        branch = self.first(head) if head else self
        return next(iter(branch.texts), default) if branch else default

    def numbers(self, head: str, least: int) -> list[float]:
        """The numbers of the list in it with this head, at least so many; raises `UnreadableError`."""
        branch = self.first(head)
        out: list[float] = []
        for word in branch.texts if branch else ():
            try:
                out.append(float(word))
            except ValueError:
                break
        if len(out) < least or not all(abs(number) < _FAR_MM for number in out):
            raise UnreadableError(
                f"{self.head or 'a list'} must have {head} with {count(least, 'number')} of sensible size",
                place=self.place,
            )
        return out


#: Nothing lies farther out, in mm.
_FAR_MM = 1e5


def read_bytes(path: Path, shown: str, most: int = MAX_BYTES) -> bytes:
    """Read a plain file of at most `most` bytes. Raises `UnreadableError`."""
    place = Place(shown)
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            raise UnreadableError("a drawing must be a plain file", place=place)
        with path.open("rb") as stream:
            raw = stream.read(most + 1)
    except (OSError, ValueError) as error:
        reason = (error.strerror if isinstance(error, OSError) else None) or str(error) or type(error).__name__
        raise UnreadableError(f"cannot be read: {reason}", place=place) from None
    if len(raw) > most:
        whole = "" if most == MAX_BYTES else " (all sheets together)"
        raise UnreadableError(f"a drawing must not be larger than {MAX_BYTES // 1_000_000} MB{whole}", place=place)
    return raw


def parsed(raw: bytes, shown: str, head: str) -> Branch:
    """Read a file whose outermost list must begin with `head`. Raises `UnreadableError`."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise UnreadableError(
            f"{_KINDS[head]} must be text in UTF-8; this is none from line {line} on", place=Place(shown, line, 1)
        ) from None
    plain, lines = _walked(text, shown, head)
    util = importlib.import_module("skip.sexp.util")
    try:
        tree = util.sexpdata.loads(plain)  # what kicad-skip's loadTree does, in UTF-8 on every machine
    except Exception as error:
        raise UnreadableError(f"{_KINDS[head]} cannot be read: {type(error).__name__}", place=Place(shown)) from None
    return Branch(head, tree[1:], shown, *lines)


def _walked(text: str, shown: str, head: str) -> tuple[str, _Lines]:
    """Return the text with every word in quotes, and the lines of its lists; refuse what is not whole."""
    ends = [match.start() for match in re.finditer("\n", text)]
    open_: list[int] = []  # where each bracket that is still open stands
    nest: list[list[Any]] = [[]]
    out: list[str] = []
    lists = 0
    wanted = _KINDS[head]

    def place(at: int) -> Place:
        line = bisect_left(ends, at)
        return Place(shown, line + 1, at - (ends[line - 1] if line else -1))

    for match in _TOKEN.finditer(text):
        word, at = match[0], match.start()
        if word == "(":
            if not open_ and out:
                raise UnreadableError(
                    f"{wanted} must be one list in brackets; a second one begins here", place=place(at)
                )
            if len(open_) >= MAX_DEPTH:
                raise UnreadableError(f"brackets must not be nested deeper than {MAX_DEPTH}", place=place(at))
            lists += 1
            if lists > MAX_LISTS:
                raise UnreadableError(
                    f"a drawing must not hold more than {MAX_LISTS} lists and {MAX_WORDS} words", place=place(at)
                )
            open_.append(at)
            if len(open_) <= _LINED:
                inner: list[Any] = []
                here = place(at)
                nest[-1].append((here.line, here.column, inner))
                nest.append(inner)
            out.append(word)
        elif word == ")":
            if not open_:
                raise UnreadableError("a bracket is closed that was never opened", place=place(at))
            if len(open_) <= _LINED:
                nest.pop()
            open_.pop()
            out.append(word)
        elif word == '"':
            raise UnreadableError("a text begins here and never ends: the file is cut off or damaged", place=place(at))
        elif not open_:
            raise UnreadableError(f"{wanted} must begin with ({head}, not with {quoted(word, 30)}", place=place(at))
        else:
            if len(out) - 2 * lists > MAX_WORDS:
                raise UnreadableError(
                    f"a drawing must not hold more than {MAX_LISTS} lists and {MAX_WORDS} words", place=place(at)
                )
            if len(out) == 1:
                _right_kind(word.strip('"'), head, place(at))
            quote = word if word.startswith('"') else '"' + word.replace("\\", "\\\\") + '"'
            out.append(quote.replace("\x00", "\ufffd"))
    if not out:
        raise UnreadableError(f"{wanted} must begin with ({head}; this file is empty", place=Place(shown))
    if open_:
        raise UnreadableError(
            f"the file ends before {count(len(open_), 'bracket')} "
            f"{'is' if len(open_) == 1 else 'are'} closed; the last was opened here: the file is cut off or damaged",
            place=place(open_[-1]),
        )
    if len(out) < 3:
        raise UnreadableError(f"{wanted} must begin with ({head}", place=Place(shown))
    return " ".join(out), nest[0][0]


def _right_kind(begins: str, head: str, place: Place) -> None:
    if begins == head:
        return
    what = _KINDS.get(begins)
    advice = ""
    if what:
        ending = {"export": ".net", "kicad_sch": ".kicad_sch", "kicad_pcb": ".kicad_pcb"}.get(begins)
        advice = f"Name it with the ending {ending}" if ending else ""
    raise UnreadableError(
        f"{_KINDS[head]} must begin with ({head}, not with ({quoted(begins, 30)[1:-1]}"
        + (f": that is {what}" * bool(what)),
        advice,
        place,
    )


def raise_some(errors: list[PinmapError], shown: str) -> None:
    """Raise what was found, the first `MAX_ERRORS` one by one."""
    if len(errors) > MAX_ERRORS:
        more = UnreadableError(f"there are {len(errors) - MAX_ERRORS} more places like these", place=Place(shown))
        errors = [*islice(errors, MAX_ERRORS), more]
    raise_all(errors)
