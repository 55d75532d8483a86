"""Tables as people have them, as grids of cells with their places: CSV, workbooks, Markdown, boxes, columns of text.

What a cell means is not asked here: `importing` does. Nothing is dropped: a border, a heading or a line of prose stands
in its grid as a row, and the grids together hold every line that is not empty.

Bounds: `MAX_BYTES` and the others below. The worst tables tried within them took 60 MB and 10 s of one core.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
import stat
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path

from msgspec import Struct

from .errors import PinmapError, Place, UnreadableError
from .importing_prose import sentence
from .text import quoted, visible

MAX_BYTES = 4_000_000  # a table of 98 contacts has 5 kB, a workbook with pictures 1 MB
MAX_TEXT_BYTES = 1_000_000  # of a table as text
MAX_CELLS = 20_000
MAX_COLUMNS = 200
MAX_ROWS = 5_000  # lines that are not empty
MAX_CELL = 10_000  # letters
MAX_LINE = 20_000  # letters of a line that is not CSV


class Cell(Struct, frozen=True):
    """One cell: its text without the spaces round it, and its place.

    A place counts columns cell by cell in CSV and workbooks, letter by letter in text.
    """

    text: str
    place: Place


Row = tuple[Cell, ...]


class Grid(Struct, frozen=True):
    """A table, or a paragraph that is none: its rows, none of them empty.

    `kind` says how it was written ("CSV", "Markdown", "boxes", "columns", "workbook"); `name` is a workbook's sheet;
    `borders` are the rows of a Markdown table or box that only draw it. `cautions` say what is to be said of the file
    or sheet; only the first grid of each has them.
    """

    rows: tuple[Row, ...]
    kind: str
    name: str = ""
    borders: tuple[Cell, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def place(self) -> Place:
        """Where the table begins."""
        first = self.rows[0][0] if self.rows else self.borders[0]
        return first.place


def read(source: Path | bytes, name: str = "") -> list[Grid]:
    """Read the tables of a file, or of its bytes; `name` is the file as the user named it.

    Raises `UnreadableError` where it is missing, larger than `MAX_BYTES` (which is seen before it is read), of a kind
    that is no table, or broken.
    """
    file = name or (visible(str(source)) if isinstance(source, Path) else "the table")
    raw = source if isinstance(source, bytes) else _bytes(source, Place(file))
    if len(raw) > MAX_BYTES:
        raise _too_large(Place(file))
    ending = Path(file).suffix.casefold()
    if raw.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        from .importing_workbook import grids

        if ending in _TEXT_ENDINGS:
            raise UnreadableError(
                f"a file that ends in {ending} must be text, not a workbook or archive",
                "Give it the ending that it has in truth, .xlsx if it is a workbook",
                Place(file),
            )
        return grids(raw, file)
    _refuse_other_kinds(raw, file)
    if ending in _WORKBOOK_ENDINGS:
        what = "something else" if b"\0" in raw else "text"
        raise UnreadableError(
            f"a file that ends in {ending} must be a workbook, not {what}",
            "Give it the ending .csv or .txt if it is a table as text; fetch it anew if it was cut short",
            Place(file),
        )
    if len(raw) > MAX_TEXT_BYTES:
        raise UnreadableError(
            f"a table as text must be at most {MAX_TEXT_BYTES // 1_000_000} MB; one of 98 contacts has some kB",
            "Cut out the table alone",
            Place(file),
        )
    text, cautions = _decoded(raw, file)
    found = list(_grids(text, file, ending))
    if not found:
        raise UnreadableError("the file must hold a table; it is empty", place=Place(file))
    _bounded(found, file)
    if cautions:
        first = found[0]
        found[0] = Grid(first.rows, first.kind, first.name, first.borders, (*cautions, *first.cautions))
    return found


_TEXT_ENDINGS = (".csv", ".tsv", ".tab", ".txt", ".md", ".markdown")
_WORKBOOK_ENDINGS = (".xlsx", ".xlsm", ".xltx", ".xltm")

# ------------------------------------------------------------------ bytes


def _too_large(place: Place) -> UnreadableError:
    return UnreadableError(
        f"a table must be at most {MAX_BYTES // 1_000_000} MB; one of 98 contacts has some kB",
        "Save the sheet with the table alone, without pictures",
        place,
    )


def _bytes(path: Path, place: Place) -> bytes:
    try:
        about = path.stat()
        if not stat.S_ISREG(about.st_mode):
            what = "a folder" if stat.S_ISDIR(about.st_mode) else "a device or pipe"
            raise UnreadableError(f"a table must be a file, not {what}", place=place)
        if about.st_size > MAX_BYTES:
            raise _too_large(place)
        with path.open("rb") as stream:
            return stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise UnreadableError("there is no such file", place=place) from None
    except (OSError, ValueError) as error:
        if isinstance(error, PinmapError):
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise UnreadableError(f"the file cannot be read ({reason.lower()})", place=place) from None


_CSV_ADVICE = "Open it with what wrote it and save the table as .xlsx or CSV"
#: How files begin that are no tables in text, what each is, and what to do.
_KINDS: tuple[tuple[bytes, str, str], ...] = (
    (b"\xd0\xcf\x11\xe0", "a workbook of the old binary kind (.xls), or one with a password", _CSV_ADVICE),
    (b"%PDF", "a PDF", "Copy the table out of it into a text file"),
    (b"\x89PNG", "a picture", "Type the table, or have its text recognised first"),
    (b"\xff\xd8\xff", "a picture", "Type the table, or have its text recognised first"),
    (b"GIF8", "a picture", "Type the table, or have its text recognised first"),
    (b"{\\rtf", "a rich text document", "Save it as plain text"),
    (b"\x1f\x8b", "a compressed file", "Unpack it first"),
    (b"BZh", "a compressed file", "Unpack it first"),
    (b"\xfd7zXZ", "a compressed file", "Unpack it first"),
    (b"7z\xbc\xaf", "an archive", "Unpack it first"),
    (b"(kicad_", "a drawing of a board or schematic", "`pinmap audit` reads these"),
    (b"(export", "a netlist", "`pinmap audit` reads these"),
    (b"<!doctype html", "a web page", "Copy the table out of it into a text file or a spreadsheet"),
    (b"<html", "a web page", "Copy the table out of it into a text file or a spreadsheet"),
    (b"<?xml", "an XML file", _CSV_ADVICE),
)
_IS_MAP = re.compile(rb"^format:[ \t]*\d+[ \t]*(?:#.*)?\r?$", re.MULTILINE)


def _refuse_other_kinds(raw: bytes, file: str) -> None:
    start = raw[:200].removeprefix(codecs.BOM_UTF8).lstrip()
    for magic, what, advice in _KINDS:
        if start[: len(magic)].lower() == magic.lower():
            raise UnreadableError(f"a table must be text or an .xlsx workbook, not {what}", advice, Place(file))
    if _IS_MAP.search(raw) and re.search(rb"^contacts:", raw, re.MULTILINE):
        raise UnreadableError(
            "this is a pin map already, not a table to be made into one", "`pinmap check` reads it", Place(file)
        )


def _decoded(raw: bytes, file: str) -> tuple[str, list[str]]:
    """The text of a file and what is to be said of its encoding: UTF-8, UTF-16 with its mark, or Windows-1252."""
    try:
        if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return _without_nul(raw.decode("utf-16"), file), []
        return _without_nul(raw.decode("utf-8-sig"), file), []
    except UnicodeDecodeError as error:
        if error.encoding.startswith("utf-16"):
            raise UnreadableError(
                "a table that begins as UTF-16 must be UTF-16 to its end", "Save it anew, as UTF-8", Place(file)
            ) from None
        line = raw.count(b"\n", 0, error.start) + 1
        what = f"byte 0x{raw[error.start]:02x} in line {line}"
    try:
        text = _without_nul(raw.decode("cp1252"), file)
    except UnicodeDecodeError:
        raise UnreadableError(
            f"a table must be UTF-8 text or an .xlsx workbook, not a file with {what}", _CSV_ADVICE, Place(file)
        ) from None
    return text, [
        f"the file is not UTF-8 ({what}) and was read as Windows-1252, which older programs write; "
        "if a sign in it looks wrong, save it as UTF-8"
    ]


def _without_nul(text: str, file: str) -> str:
    """Refuse what no text holds: such a file is binary, or UTF-16 without its mark."""
    at = text.find("\0")
    if at < 0:
        return text
    line, column = text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)
    raise UnreadableError(
        "a table must be text or an .xlsx workbook; the character U+0000 here stands in neither",
        "Save it as UTF-8 text or CSV",
        Place(file, line, column),
    )


def _bounded(grids: Sequence[Grid], file: str) -> None:
    """Refuse what is too much for a pin map, before anything is made of it."""
    for grid in grids:
        for row in grid.rows:
            check_row([cell.text for cell in row], row[0].place)
    cells = sum(len(row) for grid in grids for row in grid.rows)
    if cells > MAX_CELLS:
        raise UnreadableError(f"a file must have at most {MAX_CELLS} cells, not {cells}", place=Place(file))


def check_row(texts: Sequence[str], place: Place) -> None:
    """Raise `UnreadableError` for a row with too many cells, or with a cell that is too long."""
    if len(texts) > MAX_COLUMNS:
        raise UnreadableError(f"a table must have at most {MAX_COLUMNS} columns, not {len(texts)}", place=place)
    longest = max(map(len, texts), default=0)
    if longest > MAX_CELL:
        raise UnreadableError(f"a cell must have at most {MAX_CELL} letters, not {longest}", place=place)


# ------------------------------------------------------------------ text to grids

_BAR = "│┃║|"
_DRAWN = re.compile(r"^[\s─━═┄┈┌┐└┘├┤┬┴┼╔╗╚╝╠╣╦╩╬┏┓┗┛┣┫┳┻╋╒╓╕╖╘╙╛╜╞╟╡╢╤╥╧╨╪╫│┃║|+=:*\-–—_]+$")
_Line = tuple[int, str]  # number and text


def _grids(text: str, file: str, ending: str) -> Iterator[Grid]:
    lines = list(enumerate(re.split("\r\n|\n|\r", text), 1))
    filled = sum(bool(line.strip()) for _, line in lines)
    if filled > MAX_ROWS:
        raise UnreadableError(f"a table must have at most {MAX_ROWS} rows, not {filled}", place=Place(file))
    mark = _file_separator(lines, ending)
    if mark:
        yield from _separated(text, mark, file)
        return
    block: list[_Line] = []
    for number, line in [*lines, (0, "")]:
        if len(line) > MAX_LINE:
            raise UnreadableError(
                f"a line must have at most {MAX_LINE} letters, not {len(line)}", place=Place(file, number, 1)
            )
        if line.strip():
            block.append((number, line))
        elif block:
            yield from _block(block, file)
            block = []


def _file_separator(lines: Sequence[_Line], ending: str) -> str:
    """The separator of a file that is CSV as a whole; "" where it is not."""
    filled = [line for _, line in lines if line.strip()]
    if not filled:
        return ""
    counted = {mark: sum(mark in line for line in filled) for mark in "\t;,"}
    bars = sum(any(bar in line for bar in _BAR) for line in filled)
    mark = max(counted, key=lambda m: counted[m])
    if ending in (".csv", ".tsv", ".tab"):
        wanted = "," if ending == ".csv" else "\t"
        if ending == ".csv" and counted[";"] >= counted[","] and counted[";"]:
            wanted = ";"  # as spreadsheets write where the comma is the decimal sign
        elif not counted[wanted]:
            wanted = mark
        return wanted
    return mark if counted[mark] * 3 >= len(filled) * 2 and bars * 2 < len(filled) and _regular(filled, mark) else ""


def _regular(filled: Sequence[str], mark: str) -> bool:
    """Whether most lines with the separator have it the same number of times: sentences have not."""
    counts = [line.count(mark) for line in filled if mark in line]
    usual = max(set(counts), key=counts.count)
    return counts.count(usual) * 3 >= len(counts) * 2 or mark == "\t"


def _separated(text: str, mark: str, file: str) -> Iterator[Grid]:
    """The grids of a CSV file: what stands between empty rows."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    rows: list[Row] = []
    line = 1
    kind = {",": "CSV", ";": "CSV with semicolons", "\t": "TSV"}[mark]
    try:
        for texts in reader:
            check_row(texts, Place(file, line, 1))
            if any(t.strip() for t in texts):
                rows.append(tuple(Cell(_clean(t), Place(file, line, i)) for i, t in enumerate(texts, 1)))
            elif rows:
                yield Grid(tuple(rows), kind)
                rows = []
            line = reader.line_num + 1
    except csv.Error as error:
        raise UnreadableError(
            f"the file must be a table of cells ({_csv_problem(error, mark)})",
            "A cell that holds a quote must be in quotes, with the quote twice",
            Place(file, max(line, 1), 1),
        ) from None
    if rows:
        yield Grid(tuple(rows), kind)


def _csv_problem(error: csv.Error, mark: str) -> str:
    said = str(error)
    if "unexpected end" in said:
        return "a quote that begins in the row here is not closed"
    if "expected after" in said:
        return f"after a closing quote there must be {quoted(mark)} or the end of the line"
    if "field larger" in said:
        return f"a cell must have at most {MAX_CELL} letters"
    return said


def _clean(text: str) -> str:
    return " ".join(text.split())


def _block(block: list[_Line], file: str) -> Iterator[Grid]:
    """The grid of lines that stand together, by what separates their cells."""
    drawn = [
        (n, line) for n, line in block if _DRAWN.match(line) and len(line.strip()) > 2 and set(line) & set("─━═-=_")
    ]
    rest = [each for each in block if each not in drawn] if drawn else block
    borders = tuple(Cell(_clean(line), Place(file, n, 1)) for n, line in drawn)
    if not rest:
        yield Grid((), "columns", borders=borders)
        return
    bars = sum(any(bar in line for bar in _BAR) for _, line in rest)
    marks = {mark: sum(mark in line for _, line in rest) for mark in "\t;,"}
    best = max(marks, key=lambda m: marks[m])
    if bars * 3 >= len(rest) * 2:
        markdown = any("|" in line and "-" in line and "+" not in line and "─" not in line for _, line in drawn)
        kind = "Markdown" if markdown else "boxes"
        rows = [_between_bars(n, line, file) for n, line in rest]
    elif (
        len(rest) > 1
        and marks[best] * 3 >= len(rest) * 2
        and _regular([line for _, line in rest], best)
        and sum(sentence(line) for _, line in rest) * 2 < len(rest)  # commas of sentences part no cells
    ):
        kind = {"\t": "TSV", ";": "CSV with semicolons", ",": "CSV"}[best]
        rows = [_split(n, line, re.compile(re.escape(best)), file) for n, line in rest]
    else:
        kind = "columns"
        rows = list(_columns(rest, file))
    bare = [Cell(_clean(line), Place(file, n, 1)) for (n, line), row in zip(rest, rows, strict=True) if not _says(row)]
    yield Grid(tuple(row for row in rows if _says(row)), kind, borders=(*borders, *bare))


def _says(row: Row) -> bool:
    return any(cell.text for cell in row)


_BARS = re.compile(rf"(?<!\\)[{_BAR}]")


def _between_bars(number: int, line: str, file: str) -> Row:
    r"""The cells between bars; `\|` is a bar inside a cell, as Markdown has it. Outer bars bound no cell."""
    cells = list(_split(number, line, _BARS, file, unescape=True))
    stripped = line.strip()
    if stripped[0] in _BAR:
        cells = cells[1:]
    if len(stripped) > 1 and stripped[-1] in _BAR and not stripped.endswith("\\|"):
        cells = cells[:-1]
    return tuple(cells)


def _split(number: int, line: str, mark: re.Pattern[str], file: str, *, unescape: bool = False) -> Row:
    out = []
    start = 0
    for end, after in [*((m.start(), m.end()) for m in mark.finditer(line)), (len(line), len(line))]:
        piece = line[start:end]
        text = _clean(piece)
        if unescape:
            text = text.replace("\\|", "|").strip("`") if text != "`" else text
            text = re.sub(r"^\*\*(.+)\*\*$", r"\1", text)  # bold
            text = re.sub(r"\\([*_~`#<>\\\[\]-])", r"\1", text)
        elif len(text) > 1 and text[0] == text[-1] == '"':
            text = text[1:-1].replace('""', '"').strip()
        indent = len(piece) - len(piece.lstrip())
        out.append(Cell(text, Place(file, number, start + (indent if text else 0) + 1)))
        start = after
    return tuple(out)


_CHUNK = re.compile(r"\S+(?:[ ]\S+)*")
_RULED = 8  # lines in which a space stands at one place by no accident
_Chunk = tuple[int, str]  # where it begins, its text


def _ruled(lines: Sequence[str]) -> list[int]:
    """Where every line has a space, and words on both sides in most lines: columns that a single space parts.

    Only in tables long enough that it is no accident.
    """
    if len(lines) < _RULED:
        return []
    width = max(map(len, lines))
    free = [at for at in range(width) if all(line[at : at + 1] in ("", " ") for line in lines)]
    starts = [at + 1 for at in free if at + 1 not in free and at + 1 < width]
    kept: list[int] = []
    for at, end in pairwise([*starts, width]):
        before = kept[-1] if kept else 0
        if all(
            sum(bool(line[a:b].strip()) for line in lines) * 5 >= len(lines) * 4 for a, b in ((before, at), (at, end))
        ):
            kept.append(at)
    return kept


def _between_rules(line: str, ruled: Sequence[int]) -> list[_Chunk]:
    out = []
    for a, b in pairwise([0, *ruled, max(len(line), *ruled) + 1]):
        out += [(a + m.start(), m[0]) for m in _CHUNK.finditer(line[a:b])]
    return out


def _columns(block: Sequence[_Line], file: str) -> Iterator[Row]:
    """Lines as rows, where two spaces or a tab part the cells; a cell left empty is found by what stands above."""
    chunks = {n: [(m.start(), m[0]) for m in _CHUNK.finditer(line.expandtabs())] for n, line in block}
    ruled = _ruled([line.expandtabs() for _, line in block]) if len({len(c) for c in chunks.values()}) > 1 else []
    if ruled:
        chunks = {n: _between_rules(line.expandtabs(), ruled) for n, line in block}
    usual = max(len(c) for c in chunks.values())
    full = [c for c in chunks.values() if len(c) == usual]
    spans: list[tuple[int, int]] = []
    if usual > 1 and len(full) * 2 >= len(chunks):
        for i in range(usual):
            spans.append((min(c[i][0] for c in full), max(c[i][0] + len(c[i][1]) for c in full)))
    aligned = all(a[1] < b[0] for a, b in pairwise(spans))
    for number, line in block:
        here = chunks[number]
        indexes: list[int] = list(range(len(here)))
        if spans and aligned and len(here) < usual:
            fitting = [[i for i, (a, b) in enumerate(spans) if at < b and a < at + len(t)] for at, t in here]
            if all(len(f) == 1 for f in fitting) and len({f[0] for f in fitting}) == len(here):
                indexes = [f[0] for f in fitting]
        at = dict(zip(indexes, here, strict=True))
        width = max(at, default=0) + 1
        cells = []
        for i in range(width):
            start, text = at.get(i, (len(line), ""))
            cells.append(Cell(text, Place(file, number, start + 1)))
        yield tuple(cells)
