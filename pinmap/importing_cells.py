"""What a single cell can say: a contact's label, several of them, a line's name with marks round it, a direction."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache
from typing import Literal

from msgspec import Struct

from .model import Role, Signal
from .naming import Names, expand, unused
from .text import visible

MAX_RUN = 128  # contacts in one cell
MAX_READ = 300  # letters of a cell that can be a label or a name; longer ones are text

#: A label of any scheme; letters alone are those of a lettered row (Z is followed by AA, BB).
_LABEL = r"(?:[A-Za-z]{1,3}[ .\-]?\d{1,4}|\d{1,4}|(?P<letter>[A-HJ-NPR-Za-hj-np-rz])(?P=letter){0,2})"
#: What connectors are called; a row's letter with a number is a label, not one of these.
REF = r"(?:J|P|H|K|X|CN|CON|JP|SK|ST|SV|XP|XS|SLOT)\d{1,3}"
_WORDS = r"(?:(?:pin|contact|terminal|pos(?:ition)?|no)\b\.?\s*)?[#(\[]?\s*"
_ONE = re.compile(rf"^{_WORDS}(?:(?P<ref>{REF})\s*[-.:/ ]\s*)?(?P<label>{_LABEL})[)\]]?[.:]?$", re.IGNORECASE)
_NUMBER_FIRST = re.compile(r"^(\d{1,4})\s?([A-UW-Za-uw-z])$")  # 12V is a rail
_PARTS = re.compile(r"^([A-Za-z]*)[ .\-]?(\d*)$")


class Label(Struct, frozen=True):
    """A contact's label as its scheme writes it; `ref` is the connector's reference where one stands before it.

    `turned`: the number stood before the letter (1A).
    """

    text: str
    ref: str = ""
    turned: bool = False


def label(written: str) -> Label | None:
    """Read one label: "A1", "A01", "A-1", "Pin 5", "J1-5", "1A"; None for everything else."""
    text = _folded(written[:MAX_READ])
    turned = _NUMBER_FIRST.match(text)
    if turned:
        return Label(f"{turned[2]}{int(turned[1])}", turned=True)
    found = _ONE.match(text)
    if not found:
        return None
    parts = _PARTS.match(found["label"])
    if not parts:
        return None
    number = str(int(parts[2])) if parts[2] else ""
    return Label(f"{parts[1]}{number}", found["ref"] or "")


_BETWEEN = re.compile(r"\s*(?:\.\.+|…|–|—|\bto\b|\bthrough\b|-)\s*")


@lru_cache(4096)  # the same cells are asked for again and again
def labels(written: str) -> list[Label] | None:
    """Read a cell of labels: one, a run ("A2..A9", "2 to 9", "A2-9") or several ("1, 3, 5"); None for anything else."""
    if len(written) > MAX_READ:
        return None
    one = label(written)
    if one:
        return [one]
    out: list[Label] = []
    for part in re.split(r"\s*(?:[,;&+/]|\band\b)\s*", _folded(written)):
        single = label(part)
        run = [single] if single else _run(part)
        if run is None:
            return None
        out += run
    return out if 0 < len(out) <= MAX_RUN else None


def _run(written: str) -> list[Label] | None:
    ends = _BETWEEN.split(written)
    if len(ends) != 2 or not all(ends):
        return None
    first, last = label(ends[0]), label(ends[1])
    if not (first and last):
        return None
    a, b = _PARTS.match(first.text), _PARTS.match(last.text)
    if not (a and b and a[2] and b[2]) or b[1] not in ("", a[1]):
        return None
    i, j = int(a[2]), int(b[2])
    if abs(i - j) >= MAX_RUN or i == j:
        return None
    return [Label(f"{a[1]}{n}", first.ref) for n in (range(i, j + 1) if j > i else range(i, j - 1, -1))]


def _folded(written: str) -> str:
    text = written.strip()
    return text if text.isascii() else unicodedata.normalize("NFKC", text).replace("−", "-")


# ------------------------------------------------------------------ names

Direction = Literal["", "in", "out", "both"]

_ARROWS = re.compile(r"^\s*(<[-=]+>|[-=]+>|<[-=]+|<>|><|[→←↔⇒⇐⇔↦<>«»►◄▶◀]+)\s*")
_ARROWS_AFTER = re.compile(r"\s*(<[-=]+>|[-=]+>|<[-=]+|<>|[→←↔⇒⇐⇔↦<>«»►◄▶◀]+)\s*$")
_DIRECTIONS: dict[str, Direction] = {
    **dict.fromkeys(("i", "in", "input", "<", "<-", "<--", "←", "⇐", "◄", "◀", "«"), "in"),
    **dict.fromkeys(("o", "out", "output", ">", "->", "-->", "→", "⇒", "↦", "►", "▶", "»"), "out"),
    **dict.fromkeys(("i/o", "io", "b", "bi", "bidir", "in/out", "<>", "<->", "↔", "⇔", "both"), "both"),
    **dict.fromkeys(
        ("p", "pwr", "power", "s", "-", "--", "---", "–", "—", "g", "gnd", "supply", "pas", "passive", "oc", "n/a"), ""
    ),
}
_WORD = r"I/O|IO|IN/OUT|IN|OUT|INPUT|OUTPUT|BI|I|O|B|P|PWR"
_BEFORE = re.compile(rf"^[(\[]?({_WORD})[)\]]?\s*[:.,]?\s+(\S.*)$", re.IGNORECASE)
_AFTER = re.compile(rf"^(.*[^\s;,])[\s;,]+[(\[]?({_WORD})[)\]]?$", re.IGNORECASE)
_ASIDE = re.compile(r"^([^(\[]*[^(\[\s])\s*[(\[](.+)[)\]]$")
_BARE = re.compile(r"^[(\[<](.+)[)\]>]$")
_LOW = re.compile(
    r"^(\S.*?)\s*(?:[(\[]\s*(?:L|low)\s*[)\]]"
    r"|[(\[,;:]?\s*\b(?:act(?:ive|\.)?[ \-]?low|low[ \-]active|low[ \-]true)\s*[)\]]?)$",
    re.IGNORECASE,
)


def direction(written: str) -> Direction | None:
    """Read a cell of a direction column; None where it is something else."""
    return _DIRECTIONS.get(written.strip().casefold())


class Name(Struct, frozen=True):
    """A line's name without the marks of direction round it, and what stood beside it."""

    text: str
    direction: Direction = ""
    note: str = ""
    known: bool = False


class Reader:
    """Reads names on one bus or several; what a text means is kept, for tables say the same again and again."""

    def __init__(self, names: Iterable[Names]):
        self.names = tuple(names)
        self._kept: dict[str, Name] = {}

    def name(self, written: str) -> Name:
        """Read a cell as a line's name; `known` tells whether any of the buses has it, or it is open or a key."""
        found = self._kept.get(written)
        if found is None:
            found = self._kept[written] = self._read(visible(written.strip()))
        return found

    def power(self, text: str) -> bool:
        """Whether a name is a supply, a return or no signal at all: what may stand alone for several contacts."""
        return bool(unused(text)) or any(s.is_power for s in self.signals(text))

    def signals(self, text: str) -> list[Signal]:
        """The lines that a name can be."""
        return [reading.signal for names in self.names if (reading := names.read(text))]

    def role(self, text: str) -> Role | None:
        """`open`, `key` … where a name says that there is no signal."""
        return None if self.signals(text) else unused(text)

    def _known(self, text: str) -> bool:
        return len(text) < 100 and (bool(unused(text)) or any(names.read(text) for names in self.names))

    def _marked(self, text: str) -> bool:
        return any(reading.marked for names in self.names if (reading := names.read(text)))

    def _high(self, text: str) -> bool:
        """Whether a name is of a line that is not active low: "+IOR" must not become one that is."""
        return any(not reading.usual for names in self.names if (reading := names.read(text)))

    def _read(self, text: str) -> Name:
        if len(text) > MAX_READ or self._known(text):
            return Name(text, known=len(text) <= MAX_READ)
        pointing: Direction = ""
        for pattern in (_ARROWS, _ARROWS_AFTER):
            arrow = pattern.search(text)
            rest = pattern.sub("", text, count=1)
            if arrow and rest:
                text, pointing = rest, _DIRECTIONS.get(arrow[1], "both")
                if self._known(text):
                    return Name(text, pointing, known=True)
        low = _LOW.match(text)
        if low and self._known(low[1]) and not self.power(low[1]):
            return Name(low[1] if self._marked(low[1]) else f"{low[1]}*", pointing, known=True)
        for pattern, name, mark in ((_BEFORE, 2, 1), (_AFTER, 1, 2)):
            worded = pattern.match(text)
            if worded and self._known(worded[name]):
                return Name(worded[name], _DIRECTIONS.get(worded[mark].casefold(), ""), known=True)
        if text.startswith("+") and self._high(text[1:].strip()):  # old tables mark active high too
            return Name(text[1:].strip(), pointing, known=True)
        if text.startswith("#") and self._known(text[1:].strip()):
            return Name(f"{text[1:].strip()}#", pointing, known=True)
        bare = _BARE.match(text)
        if bare and self._known(bare[1].strip()):
            return Name(bare[1].strip(), pointing, known=True)
        aside = _ASIDE.match(text)
        if aside and self._known(aside[1]):
            return Name(aside[1], pointing, aside[2].strip(), known=True)
        return Name(text, pointing)

    def run(self, written: str) -> list[str]:
        """The names that a cell stands for: a run ("SD7..SD0", "SD7-SD0", "D7 to D0") in full, all else as itself."""
        ends = [self.name(end).text for end in _BETWEEN.split(written)] if len(written) <= MAX_READ else []
        if len(ends) == 2 and all(ends) and not self.name(written).known:
            if ends[1].isdecimal():
                head = re.sub(r"\d+\D*$", "", ends[0])
                ends[1] = f"{head}{ends[1]}"
            try:
                return expand("..".join(ends))
            except ValueError:
                return [written]
        return [written]


# ------------------------------------------------------------------ cells that hold a label and a name

_LEAD = rf"^\s*(?:[-*•+]\s+)?(?P<mark>(?:<[-=]*>|[-=]+>|<[-=]+|[→←↔<>])\s*|(?:{_WORD})\s+)?{_WORDS}"
_ITEM = (
    r"(?P<label>(?:" + REF + r"[-.:/])?"
    r"(?:[A-Za-z]{1,2}-?\d{1,4}|\d{1,4}[A-Za-z]?|(?P<letter>[A-HJ-NPR-Za-hj-np-rz])(?P=letter){0,2}))[)\]]?"
)
_SEVERAL = r"(?P<label>[A-Za-z]{0,2}\d{1,4}(?:\s*(?:\.\.|–|-|,|&|to|and)\s*[A-Za-z]{0,2}\d{1,4})*)"
#: What parts a label from a name in a list; the first that fits most lines is the list's.
_MARKS = (
    *(r"\s*:\s*", r"\s*=\s*", r"\s+[-–—]\s+", r"\s*(?:[-=]+>|→|⇒)\s*"),
    *(r"(?:\s+[.…·]{2,}|\s+…|[.…·]{4,})\s*", r"\s*[.)]\s+", r"\s+", r"\s*[-–—]\s*"),
)
_EXPLICIT = 10  # of the patterns below: those of the marks that are in no name, behind a label
_FORWARD = [
    re.compile(rf"{_LEAD}{item}{mark}(?P<rest>\S.*)$", re.IGNORECASE) for mark in _MARKS for item in (_ITEM, _SEVERAL)
]
_BACKWARD = [
    re.compile(rf"^\s*(?:[-*•+]\s+)?(?P<rest>\S.*?){mark}(?P<label>{_SEVERAL[10:-1]})$") for mark in _MARKS[:4]
]
#: A label behind its name, parted by spaces alone: "GND 1". Only where the name is known, for "IRQ 2" looks alike.
TURNED = re.compile(r"^(?P<rest>\S.*?)\s+(?P<label>[A-Za-z]?\d{1,4})$")
_DASHED = re.compile(r"[)\]]?\s*([-–—−])(?![-=]*>)")
_TOUCHING = re.compile(r"[)\]]?\s*([-–—−]\d+(?:[.,]\d+)?\s*V)", re.IGNORECASE)
_LABELLED = re.compile(rf"{_LEAD}{_ITEM}", re.IGNORECASE)
_BEFORE_RAIL = re.compile(r"[)\]]?\s+[-–—]\d+(?:[.,]\d+)?\s*V.*", re.IGNORECASE)


class Split(Struct, frozen=True):
    """A cell taken apart: the label, the rest, and where the rest begins in it."""

    label: str
    rest: str
    at: int


def splitter(cells: Iterable[str]) -> re.Pattern[str] | None:
    """Find how the cells of a list part label and name; None where less than 60 % of them do."""
    texts = list(dict.fromkeys(cells))[:500]
    for patterns in (_FORWARD, _BACKWARD):
        counted = [sum(1 for t in texts if split(t, pattern)) for pattern in patterns]
        # Spaces part lines with every mark: a mark that most lines have comes first, but a dash, which may be a sign.
        sure = [i for i in (*range(4), *range(6, _EXPLICIT)) if i < len(patterns) and patterns is _FORWARD]
        for choice in (sure, range(len(patterns))):
            best = max(choice, key=lambda i: counted[i], default=0)
            if texts and counted[best] * 10 >= len(texts) * 6:
                return patterns[best]
    return None


def forwards(pattern: re.Pattern[str]) -> bool:
    """Whether the label stands before the name."""
    return pattern in _FORWARD


def split_alone(text: str, reader: Reader) -> Split | None:
    """Take a cell apart by itself, as one that parts label and name in another way than its list.

    Only where the name is known, or an explicit mark leaves no other reading. A dash stays with the name, for it may
    be a mark of active low or a sign (`importing_dashes` judges it beside the others); one that touches the number of
    a rail is not taken apart at all.
    """
    for at, pattern in enumerate(_FORWARD):
        done = split(text, pattern)
        if done is None or not (reader.name(done.rest).known or at < _EXPLICIT):
            continue
        start = text.index(done.label) + len(done.label)
        if _TOUCHING.match(text, start):
            return None
        dash = _DASHED.match(text, start)
        return Split(done.label, text[dash.start(1) :], dash.start(1)) if dash else done
    return None


def dashed(text: str) -> str:
    """The rail with its dash, in a cell where the dash may part it from the label or be its sign; "" elsewhere."""
    found = _LABELLED.match(text)
    rail = _TOUCHING.match(text, found.end()) if found else None
    return rail[1] if rail else ""


def split(text: str, pattern: re.Pattern[str]) -> Split | None:
    """Take a cell apart; a mark of direction before the label goes before the name."""
    found = pattern.match(text) if len(text) <= MAX_READ else None
    if not found or labels(found["label"]) is None:
        return None
    mark = (found.groupdict().get("mark") or "").strip()
    rest = found["rest"].strip()
    if rest[0] not in "-–—" and _BEFORE_RAIL.fullmatch(text[found.end("label") :]):
        return None  # "3 -5V" where others have "3-GND": part of the name or not, that is open
    bare = re.sub(r"^(?:=|[.…·]{2,}|…)\s+(?=\S)", "", rest)  # a list with several marks: these begin no name
    return Split(found["label"], f"{mark} {bare}" if mark else bare, found.start("rest") + len(rest) - len(bare))
