"""The sheets of an .xlsx workbook as grids of cells, read with openpyxl after the archive itself was looked at.

A workbook is an archive of XML files, so the archive's directory is read first: too much in it, an entity, a cell far
outside, and nothing is opened. Macros are neither read nor run, and it is said that there are some.
"""

from __future__ import annotations

import datetime
import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from typing import Any

from . import tabular
from .errors import Place, UnreadableError
from .tabular import MAX_CELLS, MAX_COLUMNS, MAX_ROWS, Cell, Grid
from .text import quoted, visible

MAX_UNPACKED = 8_000_000  # bytes of all parts that are read
MAX_PARTS = 1000
MAX_SHEETS = 50
_MAX_ROW_NUMBER = 100_000  # empty rows above a table cost time too

_MERGED = re.compile(rb"""<(?:\w+:)?mergeCell\s[^>]*?ref\s*=\s*["']([A-Z]+)(\d+):([A-Z]+)(\d+)["']""")
_FAR = re.compile(rb"""<(?:\w+:)?(c|row)\s[^>]*?\br\s*=\s*["']([A-Za-z]*)(\d*)["']""")
_READ = (".xml", ".rels")  # the endings of the parts that are read: no picture, no macro
_BROKEN = "the workbook must be whole; it is cut short or damaged"
_AGAIN = "Open it in a spreadsheet and save it anew, or fetch it again"


def grids(raw: bytes, file: str) -> list[Grid]:
    """Return what stands in the sheets, hidden ones too, split where rows are empty.

    Raises `UnreadableError` for what is no workbook, broken, too large when unpacked, or made to do harm.
    """
    place = Place(file)
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            macros, parts = _looked_at(archive, file)
        out = list(_sheets(parts, file))
    except UnreadableError:
        raise
    except MemoryError:
        raise UnreadableError(_BROKEN, _AGAIN, place) from None
    except Exception as error:  # openpyxl raises whatever its parts raise: KeyError, TypeError, ParseError …
        raise UnreadableError(f"{_BROKEN} ({quoted(str(error), 80)})", _AGAIN, place) from None
    if not out:
        raise UnreadableError("the workbook must hold a table; its sheets are empty", place=place)
    if macros:
        said = "the workbook has macros; only its cells were read, nothing was run"
        out[0] = Grid(out[0].rows, out[0].kind, out[0].name, (), (said, *out[0].cautions))
    return out


def _looked_at(archive: zipfile.ZipFile, file: str) -> tuple[bool, dict[str, bytes]]:
    """Refuse an archive that is no workbook or not harmless; return whether it has macros, and its parts of XML."""
    place = Place(file)
    parts = archive.infolist()
    names = {part.filename for part in parts}
    unpacked = sum(part.file_size for part in parts if part.filename.endswith(_READ))
    if unpacked > MAX_UNPACKED or len(parts) > MAX_PARTS:
        what = f"{unpacked / 1_000_000:.0f} MB" if unpacked > MAX_UNPACKED else f"{len(parts)} parts"
        raise UnreadableError(
            f"a workbook must have at most {MAX_UNPACKED // 1_000_000} MB when unpacked, in at most {MAX_PARTS} parts; "
            f"this one says that it has {what}",
            "Save the sheet with the table alone, without pictures",
            place,
        )
    if "[Content_Types].xml" not in names or not any(n.endswith("workbook.xml") for n in names):
        what = "an OpenDocument spreadsheet" if "content.xml" in names else "another kind of archive"
        raise UnreadableError(
            f"a table must be text or an .xlsx workbook, not {what}",
            "Save the table as .xlsx or CSV" if "content.xml" in names else "Unpack it first",
            place,
        )
    if any(part.flag_bits & 1 for part in parts):
        raise UnreadableError("a workbook must be readable without a password", "Save it without one", place)
    texts: dict[str, bytes] = {}
    for part in parts:
        if not part.filename.endswith(_READ):
            continue
        try:
            with archive.open(part) as stream:  # in pieces: the directory can lie about what a part unpacks to
                text = b"".join(iter(lambda: stream.read(65536), b""))
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as error:
            raise UnreadableError(f"{_BROKEN} ({quoted(str(error), 80)})", _AGAIN, place) from None
        if re.search(rb"<!\s*(DOCTYPE|ENTITY)", text, re.IGNORECASE) or b"\0" in text[:200]:
            raise UnreadableError(
                f"a workbook must be plain XML without entities; its part {quoted(part.filename)} is not",
                _AGAIN,
                place,
            )
        if "worksheets/" in part.filename:
            _near(text, file, part.filename)
        texts[part.filename] = text
    return any(n.casefold().endswith("vbaproject.bin") for n in names), texts


def _near(text: bytes, file: str, part: str) -> None:
    """Refuse a sheet with cells far outside: what lies between would be made of empty cells."""
    for match in _FAR.finditer(text):
        letters, digits = match[2].decode(), match[3].decode()
        column = _column(letters) if len(letters) < 5 else MAX_COLUMNS + 1
        if column > MAX_COLUMNS and match[1] == b"c":
            raise UnreadableError(
                f"a table must have at most {MAX_COLUMNS} columns; there is a cell {letters}{digits[:9]}",
                "Delete what stands far to the right",
                Place(f"{file} ({part.rpartition('/')[2].partition('.')[0]})"),
            )
        if len(digits) > 7 or int(digits or 0) > _MAX_ROW_NUMBER:
            raise UnreadableError(
                f"a table must stand in the first {_MAX_ROW_NUMBER} rows; there is a row {digits[:9]}",
                "Delete what stands far below",
                Place(f"{file} ({part.rpartition('/')[2].partition('.')[0]})"),
            )


def _column(letters: str) -> int:
    out = 0
    for letter in letters.upper():
        out = out * 26 + ord(letter) - 64
    return out


def _sheets(parts: Mapping[str, bytes], file: str) -> Iterator[Grid]:
    """Read the sheets from an archive of the parts that were looked at, and of nothing else."""
    import openpyxl  # only here: nothing else needs it

    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, text in parts.items():
            archive.writestr(name, text)

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of styles and extensions that openpyxl passes over
        values = openpyxl.load_workbook(packed, read_only=True, data_only=True, keep_links=False)
        # A second time for formulas without a value, which are none in the first.
        has_formulas = any(re.search(rb"<(?:\w+:)?f[\s>/]", t) for n, t in parts.items() if "worksheets/" in n)
        formulas = openpyxl.load_workbook(packed, read_only=True, keep_links=False) if has_formulas else values
        sheets = values.worksheets
        if len(sheets) > MAX_SHEETS:
            raise UnreadableError(
                f"a workbook must have at most {MAX_SHEETS} sheets, not {len(sheets)}", place=Place(file)
            )
        cells = 0
        for sheet, as_formulas in zip(sheets, formulas.worksheets, strict=True):
            for grid in _Sheet(sheet, as_formulas, parts, f"{file} ({visible(sheet.title)})").grids():
                cells += sum(len(row) for row in grid.rows)
                if cells > MAX_CELLS:
                    raise UnreadableError(f"a file must have at most {MAX_CELLS} cells", place=Place(file))
                yield grid


class _Sheet:
    """Reads one sheet; `file` names it in places."""

    def __init__(self, values: Any, formulas: Any, parts: Mapping[str, bytes], file: str):
        self.values, self.formulas, self.file = values, formulas, file
        self.name = visible(values.title)
        self.cautions: list[str] = []
        if values.sheet_state != "visible":
            self.cautions.append(f"the sheet {quoted(self.name)} is hidden, and was read")
        self.merged: dict[tuple[int, int], tuple[int, int]] = {}  # a cell: the first of those it is merged with
        path = getattr(values, "_worksheet_path", "").lstrip("/")
        for a, top, b, bottom in _MERGED.findall(parts.get(path, b"")):
            left, first, last = _column(a.decode()), int(top), int(bottom)
            if last > first and last - first <= MAX_ROWS:
                self.merged |= {(row, left): (first, left) for row in range(first + 1, last + 1)}
                ref = f"{a.decode()}{first}:{b.decode()}{last}"
                self.cautions.append(
                    f"{self.name}: the cells {ref} are merged; what they say was taken for each of their rows"
                )
                if len(self.merged) > MAX_CELLS:
                    raise UnreadableError("a sheet must have fewer merged cells", place=Place(file))

    def grids(self) -> Iterator[Grid]:
        """Yield what stands between empty rows."""
        for sheet in (self.values, self.formulas):
            sheet.reset_dimensions()  # what a sheet says of its size need not be true
        above: dict[tuple[int, int], str] = {}
        firsts = set(self.merged.values())
        rows: list[tuple[Cell, ...]] = []
        found = 0
        for number, (shown, written) in enumerate(self._rows(), 1):
            texts = [self._text(v, w, number, i) for i, (v, w) in enumerate(zip(shown, written, strict=False), 1)]
            texts += [""] * (max((i for row, i in self.merged if row == number), default=0) - len(texts))
            for i, text in enumerate(texts, 1):
                if (number, i) in firsts:
                    above[number, i] = text
                elif not text and (number, i) in self.merged:
                    texts[i - 1] = above.get(self.merged[number, i], "")
            while texts and not texts[-1]:
                texts.pop()
            tabular.check_row(texts, Place(self.file, number, 1))
            if texts:
                found += 1
                if found > MAX_ROWS:
                    raise UnreadableError(f"a table must have at most {MAX_ROWS} rows", place=Place(self.file))
                rows.append(tuple(Cell(t, Place(self.file, number, i)) for i, t in enumerate(texts, 1)))
            elif rows:
                yield self._grid(rows)
                rows = []
        if rows:
            yield self._grid(rows)

    def _rows(self) -> Iterator[tuple[tuple[Any, ...], tuple[Any, ...]]]:
        """The values of each row, and what is written where it is no value."""
        if self.formulas is self.values:
            yield from ((row, row) for row in self.values.iter_rows(values_only=True))
            return
        yield from zip(self.values.iter_rows(values_only=True), self.formulas.iter_rows(values_only=True), strict=False)

    def _grid(self, rows: list[tuple[Cell, ...]]) -> Grid:
        cautions, self.cautions = tuple(self.cautions), []
        return Grid(tuple(rows), "workbook", self.name, (), cautions)

    def _text(self, value: Any, written: Any, row: int, column: int) -> str:
        """A cell's value as text; a formula without a value stands as itself, for nothing here computes it."""
        if value is None and isinstance(written, str) and written.startswith("="):
            at = Place(self.file, row, column)
            self.cautions.append(f"{at}: a formula has no value here; save the workbook anew")
            return " ".join(written.split())
        if value is None:
            return ""
        if isinstance(value, bool):
            return "TRUE" if value else "FALSE"
        if isinstance(value, float):
            return f"{value:.10g}"
        if isinstance(value, datetime.datetime | datetime.date | datetime.time):
            self.cautions.append(
                f"{Place(self.file, row, column)}: the spreadsheet has taken this cell for a date ({value}); "
                "type it anew as text"
            )
            return f"<date {value}>"
        return " ".join(str(value).split())
