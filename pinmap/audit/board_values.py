"""The numbers and marks of a board file, and the complaints about those that cannot be."""

from __future__ import annotations

from collections.abc import Sequence

from ..errors import PinmapError, Place, UnreadableError
from ..text import count, listed, quoted, visible
from .source import Branch, raise_some

#: No coordinate or size of a board is larger, in mm: the formats count in nm with 32 bits.
MAX_MM = 10_000.0
#: So many remarks of one kind are told one by one.
MAX_TOLD = 20

_GRAPHICS = {
    "line": "a line",
    "arc": "an arc",
    "circle": "a circle",
    "rect": "a rectangle",
    "poly": "a polygon",
    "curve": "a curve",
}
#: What the lists of a board file are called in messages.
_THINGS = {
    "segment": "a track",
    "arc": "a track that is an arc",
    "via": "a via",
    "pad": "a pad",
    "zone": "a zone",
    "filled_polygon": "the filling of a zone",
    "footprint": "a footprint",
    **{f"{owner}_{kind}": name for owner in ("gr", "fp") for kind, name in _GRAPHICS.items()},
}
#: Lists that draw.
GRAPHICS = frozenset(f"{owner}_{kind}" for owner in ("gr", "fp") for kind in _GRAPHICS)

Point = tuple[float, float]


class Values:
    """Reads numbers out of lists. What is wrong is kept in `errors`, each with its place, and zeros stand for it."""

    def __init__(self, shown: str):
        self.shown = shown
        self.errors: list[PinmapError] = []

    def complain(self, branch: Branch, message: str, advice: str = "") -> None:
        """Note one error."""
        self.errors.append(UnreadableError(message, advice, branch.place))

    def finish(self) -> None:
        """Raise what was complained of, in the order of the file, if anything was."""
        raise_some(sorted(self.errors, key=lambda error: error.place or Place()), self.shown)

    def numbers(self, branch: Branch, head: str, least: int) -> list[float]:
        """The numbers of the list `head` in `branch`: at least `least`, zeros where it has fewer."""
        found = branch.first(head)
        if found is None:
            self.complain(branch, f"{thing(branch)} must have ({head} …); it is not there")
            return [0.0] * least
        return self.values(found, found.texts, least)

    def values(self, branch: Branch, words: Sequence[str], least: int) -> list[float]:
        """The numbers that these words of a list begin with: at least `least`, zeros where there are fewer."""
        out: list[float] = []
        for word in words:
            try:
                value = float(word)
            except ValueError:
                break
            if not abs(value) <= MAX_MM:  # also what is called a number and is none
                self.complain(branch, f"({branch.head} …) must lie within ±{MAX_MM:.0f}, not be {quoted(word)}")
                return [0.0] * max(least, 2)
            out.append(value)
        if len(out) < least:
            there = f", not {quoted(words[len(out)])}" if len(words) > len(out) else f", not {len(out)}"
            self.complain(branch, f"({branch.head} …) must have {count(least, 'number')}{there}")
            return [0.0] * least
        return out

    def point(self, branch: Branch, head: str) -> Point:
        """The two numbers of the list `head`, in mm."""
        x, y = self.numbers(branch, head, 2)[:2]
        return x, y

    def size(self, branch: Branch, head: str) -> float:
        """The one number of the list `head`, which must be more than 0 mm."""
        before = len(self.errors)
        value = self.numbers(branch, head, 1)[0]
        if value <= 0 and len(self.errors) == before:
            self.complain(branch, f"{thing(branch)} must have a {head} of more than 0 mm, not {value:g}")
        return max(value, 0.0)


def thing(branch: Branch) -> str:
    """What a list is called in messages."""
    return _THINGS.get(branch.head) or f"({visible(branch.head)} …)"


def says(branch: Branch, head: str) -> bool:
    """Whether a list has the mark `head`, as a word or as a list that does not say no."""
    return head in branch.texts or (branch.first(head) is not None and branch.text(head, "yes") not in ("no", "none"))


def some(told: Sequence[str]) -> str:
    """The first `MAX_TOLD` of some things as a sentence has them, and how many others there are."""
    return listed(told if len(told) <= MAX_TOLD else [*told[:MAX_TOLD], count(len(told) - MAX_TOLD, "other")])


def most(told: Sequence[str], what: str) -> Sequence[str]:
    """The first `MAX_TOLD` sentences, and how many more there are."""
    return told if len(told) <= MAX_TOLD else [*told[:MAX_TOLD], f"{len(told) - MAX_TOLD} more {what}"]
