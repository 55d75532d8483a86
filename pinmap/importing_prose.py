"""Sentences round a table: what is prose, and must not be read as a row of contacts."""

from __future__ import annotations

import re
from collections.abc import Collection

from .importing_cells import Reader, label

_MOST_WORDS = 30
_APART = 2  # words from a contact to its line

#: A row of a list or table: a contact's label, and a mark or an empty space behind it.
_ITEM = re.compile(
    r"\s*(?:[-*•+]\s+)?(?:(?:pin|contact|terminal|no)\b\.?\s*)?[A-Z]{0,3}[ \-]?\d{1,4}[A-Z]?"
    r"(?:\s*[,;:=|\t)]|\s+[-–—<>→←↔⇒.]|\s{2}|[-–—]+>)",
    re.IGNORECASE,
)
_LABEL = re.compile(r"\s*[A-Z]{0,2}\d{1,4}\b", re.IGNORECASE)
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?")
#: Words that sentences have and names of lines have not.
_VERBS = frozenset(
    ("is", "are", "was", "were", "has", "have", "had", "means", "goes", "stands", "lies", "begins", "starts", "counts")
)


def begins_with_label(text: str) -> bool:
    """Whether the first word can be a contact's label: "A4 is the one at the left."."""
    return bool(_LABEL.match(text))


def mentions(text: str, kinds: Collection[str], reader: Reader) -> bool:
    """Whether a contact and a line stand beside each other in a text: ">> B1 GND <<", "and B31 is GND too".

    `kinds` are the letters before the numbers of the table's labels, "" for numbers alone.
    """
    words = [word.strip("()[]<>,;:.\"'`*_|") for word in text.split()[:_MOST_WORDS]]
    words = [word for word in words if re.search(r"\w", word)]
    labelled = [label(word) if re.search(r"\d", word) else None for word in words]
    there = [bool(each and re.sub(r"\d", "", each.text) in kinds) for each in labelled]
    for i, (word, is_label) in enumerate(zip(words, there, strict=True)):
        if not is_label and reader.signals(word) and any(there[max(i - _APART, 0) : i + _APART + 1]):
            return True
    return False


def sentence(text: str) -> bool:
    """Whether a line is a sentence: words in small letters, with a verb or a full stop, and no item of a list.

    "Pin 1 is bottom left." is one; "1 speaker output of the amplifier." is not, for a bare label begins it.
    """
    if _ITEM.match(text):
        return False
    words = _WORD.findall(text)
    plain = [word for word in words if word.islower() and len(word) > 1]
    if len(plain) < 3 or len(plain) * 2 < len(words):
        return False
    verb = not _VERBS.isdisjoint(plain)
    return verb or (text.rstrip()[-1:] in (".", "!", "?", ":", "…") and not begins_with_label(text))
