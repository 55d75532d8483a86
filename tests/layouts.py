"""Pin maps written out as the tables in which people keep them: one function a layout, all by the tests' own code."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Sequence
from pathlib import Path

from pinmap import library
from pinmap.model import PinMap
from pinmap.reading import ReadMap

Pairs = Sequence[tuple[str, str]]  # contact and signal, in the order of the table


def separated(pairs: Pairs, mark: str = ",", heads: Sequence[str] = ("Contact", "Signal")) -> bytes:
    """CSV with one row a contact."""
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=mark)
    writer.writerow(heads)
    writer.writerows(pairs)
    return stream.getvalue().encode()


def workbook(pairs: Pairs, heads: Sequence[str] = ("Pin", "Name")) -> bytes:
    """An .xlsx with a title, an empty row and the table."""
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["The connector"])
    sheet.append([])
    sheet.append(list(heads))
    for i, (label, name) in enumerate(pairs, 4):
        for column, text in enumerate((label, name), 1):
            cell = sheet.cell(i, column)
            cell.value = int(text) if text.isdecimal() and str(int(text)) == text else text
            if isinstance(cell.value, str):
                cell.data_type = "s"  # "=" begins no formula here
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def markdown(pairs: Pairs) -> bytes:
    """A Markdown table below a heading and a sentence."""

    def bars(text: str) -> str:
        return text.replace("\\", "\\\\").replace("|", "\\|")

    rows = [f"| {bars(label)} | {bars(name)} |" for label, name in pairs]
    return "\n".join(["# The slot", "", "Seen from above.", "", "| Pin | Signal |", "|:---|---|", *rows, ""]).encode()


def spaces(pairs: Pairs) -> bytes:
    """Columns parted by spaces."""
    width = max(len(label) for label, _ in pairs) + 4
    return "\n".join(["Pin".ljust(width) + "Signal", *(label.ljust(width) + name for label, name in pairs)]).encode()


def box(pairs: Pairs) -> bytes:
    """A table drawn with box characters."""
    left, right = max(len(a) for a, _ in pairs), max(len(b) for _, b in pairs)

    def line(ends: str) -> str:
        return f"{ends[0]}{'─' * (left + 2)}{ends[1]}{'─' * (right + 2)}{ends[2]}"

    rows = [f"│ {a.ljust(left)} │ {b.ljust(right)} │" for a, b in pairs]
    return "\n".join([line("┌┬┐"), *rows, line("└┴┘")]).encode()


def side_by_side(pairs: Pairs) -> bytes:
    """Both halves of the table beside each other, one space between contact and signal: "B1 GND      A1 IOCHK"."""
    half = (len(pairs) + 1) // 2
    left = [f"{label} {name}" for label, name in pairs[:half]]
    right = [f"{label} {name}" for label, name in pairs[half:]] + [""]
    width = max(map(len, left)) + 3
    return "\n".join(a.ljust(width) + b for a, b in zip(left, right, strict=False)).encode()


def listed(pairs: Pairs, mark: str = ": ") -> bytes:
    """A list: "1: GND", "1 = GND", "1 - GND"."""
    return "\n".join(f"{label}{mark}{name}" for label, name in pairs).encode()


def listed_with_directions(pairs: Pairs) -> bytes:
    """A list with a mark of direction before each name."""
    marks = ("→ ", "← ", "> ", "< ", "-> ", "<-> ")
    return "\n".join(f"{label}: {marks[i % 6]}{name}" for i, (label, name) in enumerate(pairs)).encode()


#: Name: how it is written, and what the file is called.
LAYOUTS: dict[str, tuple[Callable[[Pairs], bytes], str]] = {
    "CSV": (separated, "table.csv"),
    "TSV": (lambda pairs: separated(pairs, "\t"), "table.tsv"),
    "semicolons": (lambda pairs: separated(pairs, ";"), "table.csv"),
    "workbook": (workbook, "table.xlsx"),
    "Markdown": (markdown, "table.md"),
    "spaces": (spaces, "table.txt"),
    "box": (box, "table.txt"),
    "side by side": (side_by_side, "table.txt"),
    "list": (listed, "table.txt"),
    "list with marks": (listed_with_directions, "table.txt"),
    "list with =": (lambda pairs: listed(pairs, " = "), "table.txt"),
    "list with -": (lambda pairs: listed(pairs, " - "), "table.txt"),
}


def drawn(pairs: Pairs, left: str = "", holes: str = " o o ", right: str = "") -> bytes:
    """A header or slot as it is drawn: contacts in the middle, two rows of one size, the signals outside."""
    rows: dict[str, list[tuple[str, str]]] = {}
    for label, name in pairs:
        rows.setdefault(re.sub(r"\d", "", label) if re.search(r"\d", label) else "letters", []).append((label, name))
    if list(rows) == [""]:
        counted = sorted(rows[""], key=lambda pair: int(pair[0]))
        halves = [(counted[::2], counted[1::2])]
    else:
        sides = list(rows.values())
        halves = list(zip(sides[::2], sides[1::2], strict=True))
    lines = [(a, b) for one, other in halves for a, b in zip(one, other, strict=True)]
    width = max(len(a[1]) for a, _ in lines)
    return "\n".join(
        f"{a[1].rjust(width)} {left}{a[0].rjust(3)}{holes}{b[0].ljust(3)}{right} {b[1]}".rstrip() for a, b in lines
    ).encode()


#: Name: how it is written, and what the file is called; for connectors of two rows without a hole.
DRAWINGS: dict[str, tuple[Callable[[Pairs], bytes], str]] = {
    "drawing with o": (drawn, "table.txt"),
    "drawing with dots": (lambda pairs: drawn(pairs, "", " . . ", " "), "table.txt"),
    "drawing with stars": (lambda pairs: drawn(pairs, " ", "  * *  ", " "), "table.txt"),
    "drawing with brackets": (lambda pairs: drawn(pairs, "[", "] [", "]"), "table.txt"),
    "drawing with parentheses": (lambda pairs: drawn(pairs, "( ", " ) ( ", " )"), "table.txt"),
    "drawing with bars": (lambda pairs: drawn(pairs, "| ", " | ", " |"), "table.txt"),
    "drawing with stubs": (lambda pairs: drawn(pairs, "--| ", "   ", " |--"), "table.txt"),
    "drawing with numbers alone": (lambda pairs: drawn(pairs, "", " ", ""), "table.txt"),
}


def connector_of(pin_map: PinMap) -> set[tuple[str, str, str, bool]]:
    """What maps are compared by: label, role, name and polarity of every contact."""
    return {(c.label, c.role, c.name, c.inverted) for c in pin_map.contacts}


def read_back(text: str, folder: Path) -> ReadMap:
    """The map of the text of a map file, as every map file is read."""
    path = folder / "imported.yaml"
    path.write_text(text, "utf-8")
    return library.read(str(path))
