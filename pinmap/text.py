"""Text as people read it: safe to show, sorted as a person counts, joined as a sentence."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence

_DIGITS = re.compile(r"(\d+)")


def visible(text: str) -> str:
    r"""Return `text` as one line that shows what it holds and does nothing.

    Control characters, line ends and the marks that turn the writing direction appear as escapes (`\n`, `\u202e`):
    a name in a pin map must not be able to move the cursor, colour the screen or reverse a line.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_escape(c) if unicodedata.category(c) in _UNSHOWN else c for c in text)


def quoted(text: str, most: int = 60) -> str:
    """Return `text` in quotes, `visible` and cut where it is long: the way a message quotes what the user wrote."""
    shown = short(visible(text), most)
    mark = '"' if "'" in shown else "'"
    return f"{mark}{shown}{mark}"


def short(text: str, most: int) -> str:
    """Return `text`, cut to `most` letters with an ellipsis where it is longer."""
    return text if len(text) <= most else f"{text[: most - 1]}…"


# Cc control, Cf format (direction marks, zero-width), Cs surrogate, Co private, Cn unassigned, Zl/Zp line separators
_UNSHOWN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
_SHORT = {"\n": "\\n", "\r": "\\r", "\t": "\\t"}


def _escape(char: str) -> str:
    if char == "\u200d":  # the joiner inside an emoji; harmless, and part of what the user wrote
        return char
    return _SHORT.get(char) or (f"\\u{ord(char):04x}" if ord(char) < 0x10000 else f"\\U{ord(char):08x}")


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Return a sort key that puts A2 before A10."""
    return tuple((0, int(part), "") if _counts(part) else (1, 0, part) for part in _DIGITS.split(text) if part)


def _counts(part: str) -> bool:
    return part.isdecimal() and len(part) < 100  # Python refuses to read numbers of thousands of digits


def listed(words: Iterable[str], last: str = "and") -> str:
    """Join `words` as a sentence does: "A", "A and B", "A, B and C"."""
    items = list(words)
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def ranges(labels: Sequence[str]) -> str:
    """Shorten a list of labels or names: A2, A3, A4, A7 becomes "A2–A4, A7". Order is kept."""
    parts: list[list[str]] = []
    for label in labels:
        if parts and _follows(parts[-1][-1], label):
            parts[-1].append(label)
        else:
            parts.append([label])
    out: list[str] = []
    for run in parts:
        out.extend(run if len(run) < 3 else [f"{run[0]}–{run[-1]}"])
    return ", ".join(out)


_NUMBERED = re.compile(r"^(.*?)(\d+)(\D*)$")


def _follows(first: str, second: str) -> bool:
    a, b = _NUMBERED.match(first), _NUMBERED.match(second)
    return bool(
        a and b and a[1] == b[1] and a[3] == b[3] and _counts(a[2]) and _counts(b[2]) and int(b[2]) == int(a[2]) + 1
    )


def count(number: int, one: str, many: str = "") -> str:
    """Return "1 wire", "3 wires"; `many` for the plurals that take no s."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def article(words: str) -> str:
    """Put "a" or "an" before what is called by its sound: "an edge slot"."""
    return f"{'an' if words[:1] in 'aeiou' else 'a'} {words}"


def nearest(word: str, known: Iterable[str], most: int = 1) -> list[str]:
    """Return up to `most` of the `known` words that `word` was probably meant to be, best first."""
    from difflib import get_close_matches  # only ever needed for a message

    folded = {k.casefold(): k for k in known}
    return [folded[m] for m in get_close_matches(word.casefold(), folded, n=most, cutoff=0.6)]
