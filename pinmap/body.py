"""The body of a connector: its rows, its labels, its pads, and where each contact sits.

Everything here is seen from the *mating face*: the side that meets the other connector. Places run from left to
right, rows from top to bottom; x grows to the right and y downwards, in millimetres, with the top left place of the
first section at (0, 0). The connector that plugs into this one is its mirror image: `Body.mate()`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import Literal, get_args

from msgspec import Struct
from msgspec.structs import replace

from .text import article, listed

Form = Literal["edge slot", "edge fingers", "pin header", "socket header", "box header", "din 41612"]
Scheme = Literal["rows", "zigzag", "serial", "ring", "lettered"]
Corner = Literal["top left", "top right", "bottom left", "bottom right"]
Gender = Literal["male", "female"]

FORMS: tuple[Form, ...] = get_args(Form)
SCHEMES: tuple[Scheme, ...] = get_args(Scheme)
CORNERS: tuple[Corner, ...] = get_args(Corner)

MATES: dict[Form, Form] = {
    "edge slot": "edge fingers",
    "edge fingers": "edge slot",
    "pin header": "socket header",
    "box header": "socket header",
    "socket header": "pin header",
    "din 41612": "din 41612",
}

#: Card-edge connectors number one row and letter the other without G, I, O and Q; after Z the letters double
#: (AA, BB, CC). Common practice, no source.
EDGE_LETTERS = tuple("ABCDEFHJKLMNPRSTUVWXYZ")


def edge_letter(index: int) -> str:
    """Return the label of place `index` ≥ 0 on the lettered row: A to Z without G, I, O, Q, then AA, BB and so on."""
    turns, letter = divmod(index, len(EDGE_LETTERS))
    return EDGE_LETTERS[letter] * (turns + 1)


Cell = tuple[int, int, int]  # section, row, place, counted from the first contact on


class Section(Struct, frozen=True):
    """One block of contacts.

    `rows` ≥ 1 and `places` ≥ 1 count it; `letters` name its rows from the top row down; `start` is its first number.
    `along_mm` shifts its first contact from the connector's first contact in the direction of the numbering,
    `across_mm` its top row downwards from the first section's top row.
    """

    rows: int
    places: int
    letters: tuple[str, ...] = ()
    start: int = 1
    along_mm: float = 0.0
    across_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.rows < 1 or self.places < 1:
            raise ValueError(f"a section must have at least one row and one place, not {self.rows} × {self.places}")
        if self.letters and len(self.letters) != self.rows:
            raise ValueError(
                f"a section of {self.rows} rows must have {self.rows} row letters, not {len(self.letters)}"
            )
        if len(set(self.letters)) != len(self.letters):
            raise ValueError(f"row letters must differ, not {' '.join(self.letters)}")
        if self.start < 0:
            raise ValueError(f"the first number must be 0 or more, not {self.start}")


class Numbering(Struct, frozen=True):
    """A way of naming the contacts: a scheme, the corner where it begins, and row letters where they differ."""

    scheme: Scheme
    first: Corner
    letters: tuple[tuple[str, ...], ...] = ()


class Spot(Struct, frozen=True):
    """Where one contact is: `section`, `row` from the top, `place` from the left, `x_mm` and `y_mm`."""

    section: int
    row: int
    place: int
    x_mm: float
    y_mm: float


#: Which forms have pins and which take them, of those whose footprints differ by it.
GENDERS: dict[Form, str] = {"pin header": "pins", "box header": "pins", "socket header": "sockets"}
#: The same by how footprints of the open library are called. Seen from the board, their rows lie the other way round.
#: From memory.
_BY_NAME = {"PinHeader_": "pins", "IDC-Header_": "pins", "PinSocket_": "sockets"}


def gender(footprint: str) -> str:
    """Whether a footprint is of "pins" or of "sockets", by its name; "" where that does not tell."""
    name = footprint.rpartition(":")[2]
    return next((has for begins, has in _BY_NAME.items() if name.startswith(begins)), "")


class Body(Struct, frozen=True, dict=True):
    """A connector's body, seen from its mating face.

    `first` is the corner of the first contact; `scheme` how the labels run from there: `rows` A1…A31, B1…B31 ·
    `zigzag` 1, 2 across, then 3, 4 · `serial` 1…31 along the first row, 32…62 along the next · `ring` along one row
    and back along the other · `lettered` numbers on the first row, letters on the other.
    `pads` is the footprint's own numbering (None: the labels themselves); `mate_pads` and `mate_footprint` say the
    same of the connector that plugs into this one. What is customary for a form is data: `forms.complete`.
    `rating_a` is what one contact carries, in ampere (None: not known). `sources` cites the figures by name.
    Raises `ValueError` where the parts contradict each other.
    """

    form: Form
    sections: tuple[Section, ...]
    scheme: Scheme
    first: Corner = "top left"
    pitch_mm: float = 2.54
    row_pitch_mm: float = 2.54
    gender: Gender | None = None
    pads: Numbering | None = None
    footprint: str = ""
    mate_pads: Numbering | None = None
    mate_footprint: str = ""
    rating_a: float | None = None
    sources: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        for what, value, known in (
            ("form", self.form, FORMS),
            ("labels", self.scheme, SCHEMES),
            ("first", self.first, CORNERS),
        ):
            if value not in known:
                raise ValueError(f"{what} must be {listed(known, 'or')}, not {value!r}")
        if not self.sections:
            raise ValueError("a body must have at least one section")
        if self.pitch_mm <= 0 or self.row_pitch_mm <= 0:
            raise ValueError("the pitch must be more than 0 mm")
        for section in self.sections:
            if self.scheme == "rows" and len(section.letters) != section.rows:
                raise ValueError("labels by rows must have one letter for each row")
            if self.scheme in ("ring", "lettered") and section.rows != 2:
                raise ValueError(f"{self.scheme} labels must have two rows, not {section.rows}")
        twice = [label for label, times in Counter(self.labels).items() if times > 1]
        if twice:
            raise ValueError(f"every contact must have a label of its own, not {twice[0]} twice")
        for what, pads in (("pads", self.pads), ("the mate's pads", self.mate_pads)):
            if pads:
                self._check_pads(what, pads)

    def _check_pads(self, what: str, pads: Numbering) -> None:
        if pads.scheme not in SCHEMES or pads.first not in CORNERS:
            raise ValueError(
                f"{what} must run by {listed(SCHEMES, 'or')} from a corner, not {pads.scheme} {pads.first}"
            )
        if pads.letters and [len(each) for each in pads.letters] != [s.rows for s in self.sections]:
            raise ValueError(f"{what} must have one letter for each row of each section")
        for section, letters in zip(self.sections, pads.letters or [s.letters for s in self.sections], strict=True):
            if pads.scheme == "rows" and not letters:
                raise ValueError(f"{what} by rows must have one letter for each row")
            if pads.scheme in ("ring", "lettered") and section.rows != 2:
                raise ValueError(f"{what} by {pads.scheme} must have two rows, not {section.rows}")
        twice = [pad for pad, times in Counter(pad for pad, _ in self._numbered(pads)).items() if times > 1]
        if twice:
            raise ValueError(f"{what} must have a number for each contact, not {twice[0]} twice")

    # ------------------------------------------------------------------ labels

    @cached_property
    def labels(self) -> tuple[str, ...]:
        """The label of every contact, row by row from the connector's first contact on."""
        return tuple(label for label, _ in self._numbered(Numbering(self.scheme, self.first)))

    @property
    def a_form(self) -> str:
        """What it is, in words: an edge slot, a male DIN 41612 connector."""
        words: str = self.form
        if words == "din 41612":
            words = f"{self.gender or ''} DIN 41612 connector".strip()
        return words if words.endswith("s") else article(words)

    @cached_property
    def spots(self) -> dict[str, Spot]:
        """Where each label's contact is."""
        return dict(self._numbered(Numbering(self.scheme, self.first)))

    @cached_property
    def cells(self) -> dict[str, Cell]:
        """The section, row and place of every label, counted from the first contact on and not from the top left."""
        out: dict[str, Cell] = {}
        right, bottom = self.first.endswith("right"), self.first.startswith("bottom")
        for label, spot in self.spots.items():
            section = self.sections[spot.section]
            place = section.places - 1 - spot.place if right else spot.place
            row = section.rows - 1 - spot.row if bottom else spot.row
            if self.scheme == "rows":  # the letters order the rows, wherever they lie
                row = sorted(section.letters).index(section.letters[spot.row])
            out[label] = (spot.section, row, place)
        return out

    @cached_property
    def pad_of(self) -> dict[str, str]:
        """The footprint's pad number for each label: by position, never by assuming that the two agree."""
        at = {
            (s.section, s.row, s.place): pad
            for pad, s in self._numbered(self.pads or Numbering(self.scheme, self.first))
        }
        return {label: at[s.section, s.row, s.place] for label, s in self.spots.items()}

    def _numbered(self, numbering: Numbering) -> Iterator[tuple[str, Spot]]:
        vertical, horizontal = numbering.first.split()
        shift = 0  # zigzag, serial and ring labels count on through the sections
        for index, section in enumerate(self.sections):
            letters = section.letters
            if numbering.letters:
                letters = numbering.letters[index]
            order: Sequence[int] = range(section.rows) if vertical == "top" else range(section.rows - 1, -1, -1)
            if numbering.scheme == "rows":  # the letters say it all; A comes before B wherever it lies
                order = sorted(order, key=lambda row: letters[row])
            for step, row in enumerate(order):
                for count in range(section.places):
                    place = count if horizontal == "left" else section.places - 1 - count
                    label = _label(numbering.scheme, section, letters, row, step, count, shift)
                    yield label, self._spot(index, section, row, place)
            shift += section.rows * section.places

    def _spot(self, index: int, section: Section, row: int, place: int) -> Spot:
        along = section.along_mm
        if self.first.endswith("right"):
            # The numbering runs to the left: a later section lies further left.
            along = (self.sections[0].places - section.places) * self.pitch_mm - section.along_mm
        return Spot(
            index,
            row,
            place,
            round(along + place * self.pitch_mm, 4),
            round(section.across_mm + row * self.row_pitch_mm, 4),
        )

    def __len__(self) -> int:
        return sum(s.rows * s.places for s in self.sections)

    def run(self, first: str, last: str, step: int = 1) -> list[str]:
        """Return the labels from `first` to `last`, both included, taking every `step`th.

        Plain numbers count up or down; labels with a row letter stay in their row; letters follow the row's order.
        Raises `ValueError` when no such run exists on this body.
        """
        if step < 1:
            raise ValueError(f"a run's step must be 1 or more, not {step}")
        for label in (first, last):
            if label not in self.spots:
                raise ValueError(f"there is no contact {label} on this body")
        a, b = _split(first), _split(last)
        if a and b:
            if a[0] != b[0]:
                raise ValueError(f"a run must stay in one row, not go from {first} to {last}")
            numbers = range(a[1], b[1] + 1, step) if b[1] >= a[1] else range(a[1], b[1] - 1, -step)
            labels = [f"{a[0]}{n}" for n in numbers]
            gap = next((label for label in labels if label not in self.spots), "")
            if gap:
                raise ValueError(f"a run must not leave the body: there is no contact {gap} between {first} and {last}")
            return labels
        if a or b:
            raise ValueError(f"a run must stay in one row, not go from {first} to {last}")
        row = [label for label in self.labels if not _split(label)]
        i, j = row.index(first), row.index(last)
        return row[i : j + 1 : step] if j >= i else [row[k] for k in range(i, j - 1, -step)]

    # ------------------------------------------------------------------ geometry

    @cached_property
    def width_mm(self) -> float:
        """From the leftmost to the rightmost contact, in mm."""
        xs = [s.x_mm for s in self.spots.values()]
        return max(xs) - min(xs)

    @cached_property
    def neighbours(self) -> dict[str, tuple[str, ...]]:
        """For each label, the contacts that a slipped probe or a bent pin can bridge to.

        Next in the same row always; across the rows where these are not further apart than 1.5 times the pitch, and
        the contacts do not lie on opposite faces of a card edge.
        """
        across = not self.form.startswith("edge") and self.row_pitch_mm <= 1.5 * self.pitch_mm
        at = {(round(s.x_mm, 2), round(s.y_mm, 2)): label for label, s in self.spots.items()}
        out: dict[str, tuple[str, ...]] = {}
        for label, s in self.spots.items():
            steps = [(-self.pitch_mm, 0.0), (self.pitch_mm, 0.0)]
            if across:
                steps += [(0.0, -self.row_pitch_mm), (0.0, self.row_pitch_mm)]
            found = (at.get((round(s.x_mm + dx, 2), round(s.y_mm + dy, 2))) for dx, dy in steps)
            out[label] = tuple(f for f in found if f)
        return out

    def distance_mm(self, one: str, other: str) -> float:
        """Return the straight distance between two contacts in mm."""
        a, b = self.spots[one], self.spots[other]
        return float(((a.x_mm - b.x_mm) ** 2 + (a.y_mm - b.y_mm) ** 2) ** 0.5)

    def mate(self) -> Body:
        """Return the connector that plugs into this one, seen from its own mating face: the mirror image.

        Every contact keeps the label of the contact that it touches; the pads are those of the mate's own footprint.
        """
        return replace(
            self,
            form=MATES[self.form],
            gender={"male": "female", "female": "male"}.get(self.gender or ""),
            first=_mirrored(self.first),
            pads=self.mate_pads,
            footprint=self.mate_footprint,
            mate_pads=self.pads,
            mate_footprint=self.footprint,
        )


def _label(
    scheme: Scheme, section: Section, letters: tuple[str, ...], row: int, step: int, count: int, shift: int
) -> str:
    """Name one contact: `row` from the top, `step` rows and `count` places from the first contact."""
    start = section.start
    if scheme == "rows":
        return f"{letters[row]}{start + count}"
    if scheme == "zigzag":
        return str(start + shift + count * section.rows + step)
    if scheme == "serial":
        return str(start + shift + step * section.places + count)
    if scheme == "ring":
        return str(start + shift + (count if step == 0 else 2 * section.places - 1 - count))
    return str(start + count) if step == 0 else edge_letter(count)


_TWO_PARTS = re.compile(r"^([A-Za-z]*)(\d+)$")


def _split(label: str) -> tuple[str, int] | None:
    match = _TWO_PARTS.match(label)
    return (match[1], int(match[2])) if match else None


def _mirrored(corner: Corner) -> Corner:
    vertical, horizontal = corner.split()
    return f"{vertical} {'right' if horizontal == 'left' else 'left'}"  # type: ignore[return-value]
