"""Cells that a spreadsheet leaves alone: how every CSV file of this package is written.

The rule: what comes from a map stands behind a word and a space, in every cell of its column alike (`J1 4`, `pad 4`,
`net +5V`, `note: rests on a guess`), so what follows the first space is always the text itself; the other cells are
words of pinmap's own, or numbers that are meant as numbers. So nothing can be taken for a formula (-5V, =A1), a date
(1-2, MAR1), another number (0012, 1E5, 3/4) or a truth value (TRUE), and nothing needs quotes, apostrophes or spaces
that a program may or may not take away again. The rule holds where a file is opened with the comma as its separator.

Lines end with CR LF as RFC 4180 has it. The mark of UTF-8 (byte order mark) is there only if it is asked for: some
spreadsheets need it for Ω and ×, many other programs stumble over it.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

from ..text import visible

#: The byte order mark: in UTF-8 the bytes EF BB BF.
BOM = "\ufeff"


def worded(word: str, text: str) -> str:
    """Return `text` as one line (see `visible`) behind `word` and a space; nothing where there is nothing to say.

    `word` holds no space and can't be taken for anything but a word.
    """
    return f"{word} {visible(text)}" if text else ""


def unworded(cell: str) -> str:
    """Return what `worded` was given, as `visible` shows it: what follows the first space."""
    return cell.partition(" ")[2]


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[str | int]], *, bom: bool = False) -> str:
    """Return a CSV file with a line of column names; with a byte order mark first where `bom` says so.

    Raises `ValueError` for a text that is `at_risk`: such text belongs behind a word.
    """
    stream = io.StringIO()
    writer = csv.writer(stream)
    for row in (columns, *rows):
        for cell in row:
            if isinstance(cell, str) and at_risk(cell):
                raise ValueError(f"a cell of text must not look like a formula, a number or a date, not {cell!r}")
        writer.writerow(row)
    return (BOM if bom else "") + stream.getvalue()


# Common practice, no source: at these a spreadsheet begins to compute (the wide ones and the true minus too), or takes
# what follows for a number, a sum of money or an error, or takes the sign itself away (the apostrophe).
_SIGNS = tuple("=+-@#'.,%$€£¥\u2212＝＋－＠")
_MONTH = re.compile(r"(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*[\s./-]*\d", re.IGNORECASE)
_TRUTHS = frozenset({"true", "false"})


def at_risk(text: str) -> bool:
    """Whether a spreadsheet could take `text` for something else than text.

    A net to catch a writer's mistake, in English only: what keeps map text safe is the word in front.
    """
    bare = text.lstrip()
    if bare != text or any(c in text for c in "\t\r\n\0"):
        return True
    if not bare:
        return False
    first = bare[1:2] if bare[0] == "(" else bare[0]  # bookkeepers write −5 as (5)
    return bare.startswith(_SIGNS) or first.isnumeric() or bare.casefold() in _TRUTHS or bool(_MONTH.match(bare))
