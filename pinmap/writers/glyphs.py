"""The fonts of all that is typeset: those inside the package `typst`, and what is done where they lack a character.

Never the system's, so that every machine gives the same bytes. A character that they do not have is printed as its
number, like [U+4E2D].
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterable
from functools import cache
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from ..model import PinMap
from ..text import visible

if TYPE_CHECKING:
    import typst


@cache
def fonts() -> typst.Fonts:
    """Return the fonts inside the package."""
    import typst  # loads in a tenth of a second what only this needs

    return typst.Fonts(include_system_fonts=False)


def naming(texts: Iterable[str]) -> Callable[[str], str]:
    """Return a function that shows a text on one line with every character that the fonts lack as its number.

    `texts`: all that the function will be asked for.
    """
    lacking = _lacking({char for text in texts for char in visible(text) if not char.isascii()})
    return lambda text: "".join(f"[U+{ord(c):04X}]" if c in lacking else c for c in visible(text))


def in_map(pin_map: PinMap, shown: Callable[[str], str]) -> PinMap:
    """Return a map to be drawn, with its title and every name and option as `shown` has them."""
    contacts = tuple(
        replace(
            c,
            signal=c.signal and replace(c.signal, name=shown(c.signal.name)),
            written=shown(c.written),
            option=shown(c.option),
        )
        for c in pin_map.contacts
    )
    return replace(pin_map, title=shown(pin_map.title), contacts=contacts)


def printable(pin_map: PinMap) -> PinMap:
    """Return a map to be drawn in which every character that the fonts lack is named."""
    contacts = [text for c in pin_map.contacts for text in (c.name, c.written, c.option)]
    return in_map(pin_map, naming((pin_map.title, *contacts)))


#: One page a character, in both weights of the typeface to which the others fall back.
_PROBE = b"""#set page(width: 9cm, height: 1cm, margin: 0pt)
#set text(font: "DejaVu Sans Mono", fallback: false)
#for c in json(bytes(sys.inputs.chars)) { page(c + strong(c)) }
"""
_NO_CHARACTER = "\ufffe"  # is none in Unicode, and so no font has it
_GLYPH = re.compile(rb'xlink:href="#([^"]+)"')


def _lacking(chars: Iterable[str]) -> frozenset[str]:
    """Return those of some characters that cannot be printed: typeset alone, they show nothing or the empty box."""
    asked = sorted(c for c in set(chars) if unicodedata.category(c) != "Zs")
    if not asked:
        return frozenset()
    import typst

    pages: Any = typst.compile(  # the type stubs of the package forget that these are several
        _PROBE,
        format="svg",
        font_paths=fonts(),
        ignore_system_fonts=True,
        sys_inputs={"chars": json.dumps([_NO_CHARACTER, *asked])},
    )
    shown = [_GLYPH.findall(page) for page in pages]
    empty = set(shown[0])
    return frozenset(c for c, glyphs in zip(asked, shown[1:], strict=True) if len(glyphs) < 2 or empty & set(glyphs))
