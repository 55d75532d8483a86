"""The page of a schematic: its symbols in columns, on the smallest paper that has room. Lengths in µm."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from .schematic_symbols import ROW, Symbol, on_grid

#: Paper by name, width and height in mm (ISO 216); a larger page is made to measure.
PAPERS = (("A3", 420, 297), ("A2", 594, 420), ("A1", 841, 594), ("A0", 1189, 841))
#: What a page keeps clear, in µm: the frame round it, and what its foot and its head take.
MARGIN, FOOT, HEAD = 15_240, 33_020, 10_160
#: Where viewers draw a frame of their own, its lower right corner holds a block so wide. From memory.
CORNER = 121_920
#: Between two columns, and between two symbols of one.
GAP = 5_080


class Cell(Struct, frozen=True):
    """A symbol to be placed: `left`, `right`, `above` and `below` say how far it reaches from its anchor, texts too."""

    ref: str
    unit: int
    symbol: Symbol
    value: str
    footprint: str
    identity: str
    fields: tuple[tuple[str, str], ...]
    above_words: tuple[str, ...]  # the nearest last
    below_word: str
    left: int
    right: int
    above: int
    below: int
    one_line: bool


class Column(Struct, frozen=True):
    """Cells one below the other."""

    cells: tuple[Cell, ...]

    @property
    def left(self) -> int:
        """From the left edge to the anchors."""
        return max(cell.left for cell in self.cells)

    @property
    def across(self) -> int:
        """How wide it is, with the gap to the next."""
        return self.left + max(cell.right for cell in self.cells) + GAP

    @property
    def height(self) -> int:
        """How high it is."""
        return sum(cell.above + cell.below + GAP // 2 for cell in self.cells)


def _packed(cells: Sequence[Cell], height: int) -> list[Column]:
    """Cells in columns no higher than `height`, where the cells allow it."""
    columns: list[list[Cell]] = []
    for cell in cells:
        if not columns or Column((*columns[-1], cell)).height > height:
            columns.append([])
        columns[-1].append(cell)
    return [Column(tuple(column)) for column in columns]


def _even(cells: Sequence[Cell], height: int) -> list[Column]:
    """Cells in as few columns as `height` allows, all about as high."""
    columns = _packed(cells, height)
    low = max((column.height for column in columns), default=0) // 2
    step = max(ROW, low // 20)
    for less in range(low, height, step):
        if len(even := _packed(cells, less)) == len(columns):
            return even
    return columns


Columns = tuple[list[Column], list[Column], list[Column]]


def page(host: Sequence[Cell], parts: Sequence[Cell], card: Sequence[Cell]) -> tuple[str, int, int, Columns]:
    """The smallest paper on which all find room, its size in µm and the columns; "" for one made to measure."""
    for paper, across_mm, down_mm in PAPERS:
        across, down = across_mm * 1000, down_mm * 1000
        columns, needed, high = _laid(host, parts, card, down - 2 * MARGIN - HEAD - FOOT)
        if needed <= across - 2 * MARGIN and high <= down - 2 * MARGIN - HEAD - FOOT:
            return paper, across, down, columns
    down = PAPERS[-1][2] * 1000
    columns, needed, high = _laid(host, parts, card, down - 2 * MARGIN - HEAD - FOOT)
    down = max(down, on_grid(high + 2 * MARGIN + HEAD + FOOT))
    return "", max(PAPERS[-1][1] * 1000, on_grid(needed + 2 * MARGIN)), down, columns


def _laid(host: Sequence[Cell], parts: Sequence[Cell], card: Sequence[Cell], height: int) -> tuple[Columns, int, int]:
    columns = (_packed(host, height), _even(parts, height), _packed(card, height))
    every = [column for group in columns for column in group]
    return columns, sum(column.across for column in every), max(column.height for column in every)
