r"""A line's name in any notation: to the bus's own name, and whether it is there with the bus's polarity.

The trade writes "active low" in many ways: IOR*, *IOR, -IOR, /IOR, IOR#, nIOR, IOR_N, IOR.L, IOR-, IOR~, IOR\, !IOR,
~{IOR}, I̅O̅R̅. All mean one thing. What matters for wiring is whether the mark agrees with the dictionary.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

from msgspec import Struct

from .model import Bus, Role, Signal
from .text import nearest

_OVERLINES = "\u0304\u0305\u033f"  # combining macron, overline, double overline
_LEADING = "-−–/!~\\¬*"
_TRAILING = "*#-−'~\\"
_MINUS = "-−–"
_RAIL = re.compile(r"^([+\-−–]?)\s*(\d+(?:\.\d+)?)\s*(?:V(?:olts?)?\s*(?:DC)?)?$", re.IGNORECASE)
#: What never tells two names apart; between two digits it does: "A1/9" is not A19.
_SEPARATORS = re.compile(r"(?<!\d)[\s_\-/.]+|[\s_\-/.]+(?!\d)")
_SIGNS = f"+{_LEADING} "
_HIGH = re.compile(r"..\.[Hh]$")  # behind a name: active high
_RUN = re.compile(r"^(?P<head>.*?)(?P<number>\d+)(?P<tail>\D*)$")


class Reading(Struct, frozen=True):
    """A name understood: the line, whether the name marks it as active low, and how the name was known.

    `via`: the dictionary's own `name`, an `alias`, or the name of its counterpart in another `generation`; `usual` is
    whether that name bears a mark where it is at home.
    """

    signal: Signal
    marked: bool
    via: str
    differs: str = ""
    usual: bool = False

    def inverted(self, marks: str) -> bool:
        """Whether the name says the polarity opposite to the dictionary's; `marks` "none": unmarked says nothing."""
        if self.signal.is_power or self.signal.active == "none":
            return False
        if marks == "none" and not self.marked:
            return False
        return self.marked != self.usual


_Known = tuple[Signal, str, str, bool]


def _known(bus: Bus) -> dict[str, _Known]:
    """Every name of every line, in its bare form: the line, how the name is known, what differs, its usual mark."""
    names = [(signal.name, signal, "name", "") for signal in bus.signals.values()]
    names += [(alias, signal, "alias", "") for signal in bus.signals.values() for alias in signal.aliases]
    names += [
        (there.name, signal, "generation", there.differs)
        for signal in bus.signals.values()
        for there in signal.elsewhere.values()
        if there.name
    ]
    out: dict[str, _Known] = {}
    for name, signal, via, differs in names:
        base, marked = next(_bases(name), ("", False))
        if base:
            usual = marked if via == "generation" else signal.active == "low"
            out.setdefault(base, (signal, via, differs, usual))
    return out


class Names:
    """All names of a bus, ready to be looked up. `own` are a map's own signals, which come first."""

    def __init__(self, bus: Bus, own: tuple[Signal, ...] = ()):
        self.bus = bus
        self._own = {_flat(s.name): s for s in own}
        self._own_exactly = {identity(s.name): s for s in own}  # CS1 and CS1* can be two lines of one maker
        known: dict[str, _Known] | None = bus.__dict__.get("known names")  # a bus is asked for them by every map
        if known is None:
            known = bus.__dict__["known names"] = _known(bus)
        self._known = known

    def read(self, written: str) -> Reading | None:
        """Return what `written` means on this bus, or None when no line has such a name."""
        own = self._own_exactly.get(identity(written)) or self._own.get(_flat(written))
        if own:
            return Reading(own, marked=False, via="name")
        found = [
            Reading(known[0], marked, *known[1:])
            for base, marked in _bases(written)
            if (known := self._known.get(base)) and not _contradicts(written, base, marked, known)
        ]
        # "nOWS" is NOWS* without its mark, and OWS* with one: where both are one line, the mark is one.
        return next((r for r in found if r.marked and r.signal is found[0].signal), found[0]) if found else None

    @staticmethod
    def folded(written: str) -> str:
        """Return the name without what never tells two lines apart: two spellings of one name fold to the same."""
        return _flat(written)

    def nearest(self, written: str) -> list[str]:
        """Return the dictionary's names that `written` was most likely meant to be, best first."""
        spellings = {s.name: s.name for s in self.bus.signals.values()}
        spellings |= {alias: s.name for s in self.bus.signals.values() for alias in s.aliases}
        spellings |= {s.name: s.name for s in self._own.values()}
        bases = {_flat(spelling): name for spelling, name in reversed(spellings.items())}
        return list(dict.fromkeys(bases[match] for match in nearest(_flat(written), bases, most=3)))


def _contradicts(written: str, base: str, marked: bool, known: _Known) -> bool:
    """Whether the marks of a name forbid to read it as this line: no sign or polarity is to be turned in silence."""
    text = unicodedata.normalize("NFKC", written).strip()
    if known[0].group == "supply" and not base.startswith("-") and known[0].name[0] not in _MINUS:
        return text[0] in _MINUS or text[-1] in f"{_MINUS}~"  # "-VCC", "+5V-" and "+12V~" are other supplies
    if text[0] == text[-1] == "*":
        return True  # "*IOR*" can be a word in italics, without any mark
    return bool(_HIGH.search(text)) and not marked and known[3]  # "IOR.H" where the bus has IOR*


def _flat(name: str) -> str:
    """Fold what never tells two lines apart: case, spaces, hyphens, slashes, dots, underscores, marks."""
    return identity(name)[0]


def identity(written: str) -> tuple[str, bool]:
    """Return the bare form of a name and whether it is marked: what two names of one line and polarity share.

    A name that can be read in no way ("+/-12V") is itself: two of them share nothing.
    """
    return next(_bases(written), (written.strip(), False))


def _bases(written: str) -> Iterator[tuple[str, bool]]:
    """Yield the ways to read a name, the likeliest first: its bare form, and whether it is marked active low."""
    text = unicodedata.normalize("NFKC", written).strip()
    head = text[: len(text) - len(text.lstrip(_SIGNS))]
    if "+" in head and any(minus in head for minus in "-−–"):
        return  # "+/-12V" names two rails; neither is meant
    rail = _RAIL.match(text)
    if rail and not text.isdecimal():  # a bare number is no rail
        yield f"{'-' if rail[1] in ('-', '−', '–') and rail[1] else '+'}{float(rail[2]):g}V", False
        return
    marked = False
    if text.startswith("~{") and text.endswith("}"):
        text, marked = text[2:-1], True
    decomposed = unicodedata.normalize("NFD", text)
    if any(c in _OVERLINES for c in decomposed):
        text, marked = "".join(c for c in decomposed if c not in _OVERLINES), True
    while len(text) > 1 and text[0] in _LEADING:
        text, marked = text[1:].lstrip(), True
    while len(text) > 1 and text[-1] in _TRAILING:
        text, marked = text[:-1].rstrip(), True
    if not text:
        return
    yield _SEPARATORS.sub("", text).upper(), marked
    if not marked:
        # Marks that could be part of a name: only tried when nothing bears that name.
        if len(text) > 2 and text[0] == "n" and (text[1].isupper() or text[1].isdigit()):
            yield _SEPARATORS.sub("", text[1:]).upper(), True
        if re.search(r"_[NnLlBb]$|\.[Ll]$", text) and len(text) > 3:
            yield _SEPARATORS.sub("", text[:-2]).upper(), True
        if _HIGH.search(text):
            yield _SEPARATORS.sub("", text[:-2]).upper(), False


_UNUSED: dict[str, Role] = {
    "OPEN": "open",
    "NC": "open",
    "NOCONNECT": "open",
    "NOCONNECTION": "open",
    "NOTCONNECTED": "open",
    "UNCONNECTED": "open",
    "KEY": "key",
    "UNKNOWN": "undescribed",
    "?": "undescribed",
}


def unused(written: str) -> Role | None:
    """Return `open` for "open", "NC", "N/C", "not connected" …, `key` for "key", `undescribed` for "unknown".

    None for everything else.
    """
    return _UNUSED.get(_SEPARATORS.sub("", written).upper())


def expand(written: str) -> list[str]:
    """Return the names that a run stands for: "SD7..SD0" → SD7, SD6 … SD0; anything else stands for itself.

    Raises `ValueError` when the two ends of a run do not belong together.
    """
    first, dots, last = written.partition("..")
    if not dots:
        return [written]
    a, b = _RUN.match(first.strip()), _RUN.match(last.strip())
    if not (a and b):
        raise ValueError(f"a run of names must end in numbers, like SD7..SD0, not {written!r}")
    if (a["head"], a["tail"]) != (b["head"], b["tail"]):
        raise ValueError(f"both ends of a run must have the same name, like SD7..SD0, not {written!r}")
    i, j = int(a["number"]), int(b["number"])
    if abs(i - j) > 999:
        raise ValueError(f"a run must not be longer than 1000 names, not {written!r}")
    numbers = range(i, j + 1) if j >= i else range(i, j - 1, -1)
    return [f"{a['head']}{n}{a['tail']}" for n in numbers]
