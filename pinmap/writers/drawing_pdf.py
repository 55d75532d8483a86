"""Sheets of drawings as PDF, one page a sheet, at true scale."""

from __future__ import annotations

import json
from collections.abc import Sequence

from ..sheets import Sheet
from .glyphs import fonts
from .svg import svg

#: Each page is as large as its sheet, which is drawn over all of it. Text comes from fonts inside the typst package.
_TEMPLATE = """\
#let sheets = json(bytes(sys.inputs.sheets))
#set document(title: sheets.title, date: none)
#for sheet in sheets.pages {
  page(width: sheet.width * 1mm, height: sheet.height * 1mm, margin: 0mm,
    image(bytes(sheet.svg), format: "svg", width: sheet.width * 1mm, height: sheet.height * 1mm, alt: sheet.about))
}
"""


def pdf(sheets: Sequence[Sheet], title: str) -> bytes:
    """Return the pages as a PDF file; the same sheets give the same bytes.

    The maps on the sheets must be `glyphs.printable`: a character that no font has shows as an empty box here.
    """
    import typst  # takes its time to load

    data = {
        "title": title,
        "pages": [
            {
                "width": s.width,
                "height": s.height,
                "svg": svg(s, title),
                "about": " ".join(d.about for d, _, _ in s.drawings),
            }
            for s in sheets
        ],
    }
    made: bytes = typst.compile(
        _TEMPLATE.encode(),
        sys_inputs={"sheets": json.dumps(data)},
        font_paths=fonts(),
        ignore_system_fonts=True,
        format="pdf",
    )
    return made
