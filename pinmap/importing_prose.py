"""Sentences round a table: what is prose, and must not be read as a row of contacts."""

from __future__ import annotations

import re

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
