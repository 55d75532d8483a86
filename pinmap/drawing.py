"""A connector as a drawing in millimetres: what is where, at true scale, from either side. It knows no file format.

x grows to the right, y downwards. The mating view is that of `body.py`; the solder view is the same connector turned
over about its short axis, so that left and right change places. Contacts have their true pitch and position; outlines
are drawn for recognition, not for cutting a hole.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from .adapter import Adapter
from .body import Body, Form
from .model import GROUPS, Contact, Group, PinMap
from .text import natural, visible
from .wiring import wires

View = Literal["mating", "solder"]
VIEWS: tuple[View, ...] = ("mating", "solder")
Anchor = Literal["start", "middle", "end"]

BLACK, WHITE, GREY = "#000000", "#FFFFFF", "#999999"

#: Tone, tone of the letter on it, and letter of each group. The tones are the colour-blind-safe set of Okabe and Ito,
#: "Color Universal Design", 2002 (from memory), with grey as the ninth; the letter survives a copy in black and white.
GROUP_MARKS: dict[Group, tuple[str, str, str]] = {
    "return": (BLACK, WHITE, "R"),
    "supply": ("#D55E00", WHITE, "S"),
    "data": ("#56B4E9", BLACK, "D"),
    "address": ("#F0E442", BLACK, "A"),
    "command": ("#009E73", WHITE, "C"),
    "control": ("#E69F00", BLACK, "L"),
    "timing": ("#CC79A7", BLACK, "T"),
    "interrupt": ("#0072B2", WHITE, "I"),
    "DMA": (GREY, BLACK, "M"),
    "own": (WHITE, BLACK, "Z"),
}
#: The same for contacts that carry no known line; "" draws the mark of its own shape.
ROLE_MARKS: dict[str, str] = {"open": "–", "key": "×", "unknown": "?", "undescribed": "?"}

#: How far the outline stands out beyond the outermost contacts, along and across, in mm. From memory, for recognition.
_OUTLINE: dict[Form, tuple[float, float]] = {
    "edge slot": (5.0, 2.5),
    "edge fingers": (3.8, 0.6),
    "pin header": (1.27, 1.27),
    "socket header": (1.27, 1.27),
    "box header": (5.05, 3.15),
    "din 41612": (6.0, 2.6),
}
#: The size of a contact as one sees it, in mm: along, across. From memory.
_CONTACT: dict[Form, tuple[float, float]] = {
    "edge slot": (1.2, 1.6),
    "edge fingers": (1.78, 0.5),
    "pin header": (0.64, 0.64),
    "socket header": (0.9, 0.9),
    "box header": (0.64, 0.64),
    "din 41612": (0.8, 0.8),
}
_HOLES: tuple[Form, ...] = ("edge slot", "socket header")

TYPE_MM = 1.7  # the height of the type at the contacts; 2.54 mm of pitch leave room for one line
ADVANCE = 0.602  # the width of a letter of the typeface DejaVu Sans Mono, in heights of the type
_TAG, _GAP, _MARGIN = 2.1, 0.7, 2.0


NO_PARTS: Mapping[str, str] = {}
_PARTS_SAID = " Behind a name: the parts whose leads are soldered there."


class Box(Struct, frozen=True):
    """A rectangle from its top left corner; `fill` and `line` are tones, "" for none; `contact`: whom it belongs to."""

    x: float
    y: float
    width: float
    height: float
    fill: str = ""
    line: str = BLACK
    line_mm: float = 0.15
    round_mm: float = 0.0
    dashed: bool = False
    contact: str = ""


class Stroke(Struct, frozen=True):
    """A chain of straight lines through `points`; closed and filled where `fill` is a tone."""

    points: tuple[tuple[float, float], ...]
    line: str = BLACK
    line_mm: float = 0.15
    fill: str = ""
    dashed: bool = False
    contact: str = ""


class Words(Struct, frozen=True):
    """A text, beginning, centred or ending at a point of its base line; `turned` reads upwards.

    With a `rim` of white it stays readable where a wire is drawn behind it.
    """

    x: float
    y: float
    text: str
    size: float = TYPE_MM
    anchor: Anchor = "start"
    turned: bool = False
    bold: bool = False
    tone: str = BLACK
    contact: str = ""
    rim: bool = False


Item = Box | Stroke | Words


class Place(Struct, frozen=True):
    """The middle of a contact in a drawing."""

    label: str
    x: float
    y: float


class Drawing(Struct, frozen=True):
    """A picture of `width` × `height` mm: `items` in the order of painting, `places` of its contacts.

    `about` says in a sentence what one is looking at.
    """

    width: float
    height: float
    items: tuple[Item, ...]
    places: tuple[Place, ...]
    view: View
    about: str


def connector(
    pin_map: PinMap,
    view: View,
    window: tuple[float, float] | None = None,
    parts: Mapping[str, str] = NO_PARTS,
) -> Drawing:
    """Draw the connector of a map from one side.

    `window`: only the contacts whose x, in the frame of the body, lies from the first to before the second value, in
    mm: a strip of a connector too long for a page. `parts`: by label, what is soldered to a contact besides a wire.
    """
    return _Drawn(pin_map, view, window, parts).drawing()


def adapter_ends(adapter: Adapter, view: View = "solder") -> tuple[Drawing, Drawing]:
    """Draw J1 and J2 of an adapter, by default as they lie on the bench for soldering, with the labels of both maps."""
    host, card = facing(adapter)
    parts = parts_at(adapter)
    return (
        connector(host, view, parts=parts[adapter.host_connector.ref]),
        connector(card, view, parts=parts[adapter.card_connector.ref]),
    )


def parts_at(adapter: Adapter) -> dict[str, dict[str, str]]:
    """Return for each connector, by its reference, the parts whose leads are soldered to a contact, by its label.

    A fuse stands at every contact of its rail, and first: what lies behind it is not the rail as the machine has it.

    Of more than three parts the first two are named and the others counted: `R1 R2 +3`.
    """
    refs: dict[tuple[str, str], list[str]] = {}
    kinds = {part.ref: part.kind for part in adapter.parts}
    for net in adapter.nets:  # every contact at a fuse, for its rail is not the one on the other side
        for ref in (ref for ref, _ in net.parts if kinds[ref] == "fuse"):
            for connector_ref, contacts in (
                (adapter.host_connector.ref, net.host),
                (adapter.card_connector.ref, net.card),
            ):
                for contact in contacts:
                    refs.setdefault((connector_ref, contact.label), []).append(ref)
    for wire in wires(adapter) if adapter.parts else ():
        if wire.kind == "lead":
            for here, there in ((wire.start, wire.stop), (wire.stop, wire.start)):
                if here.end != "part" and there.end == "part":
                    refs.setdefault((here.ref, here.label), []).append(there.ref)
    out: dict[str, dict[str, str]] = {adapter.host_connector.ref: {}, adapter.card_connector.ref: {}}
    for (connector, label), several in refs.items():
        some = sorted(dict.fromkeys(several), key=lambda ref: (kinds[ref] != "fuse", natural(ref)))
        if connector == adapter.card_connector.ref:
            some = [f"behind {ref}" if kinds[ref] == "fuse" else ref for ref in some]
        out[connector][label] = " ".join(some if len(some) <= 3 else [*some[:2], f"+{len(some) - 2}"])
    return out


def facing(adapter: Adapter) -> tuple[PinMap, PinMap]:
    """The maps of both ends, on the adapter's own connectors J1 and J2."""
    return (
        replace(adapter.host, body=adapter.host_connector.body),
        replace(adapter.card, body=adapter.card_connector.body),
    )


def strips(pin_map: PinMap, width_mm: float) -> list[tuple[float, float] | None]:
    """Cut a connector into windows that fit a width at true scale; [None] where it fits as a whole."""
    body = pin_map.body
    along = _OUTLINE[body.form][0]
    room = width_mm - 2 * (along + _MARGIN)
    if body.width_mm <= room:
        return [None]
    places = max(1, int(room // body.pitch_mm))
    left = min(s.x_mm for s in body.spots.values())
    count = -(-round(body.width_mm / body.pitch_mm + 1) // places)
    each = -(-round(body.width_mm / body.pitch_mm + 1) // count) * body.pitch_mm
    half = body.pitch_mm / 2
    windows: list[tuple[float, float] | None] = []
    windows += ((left - half + n * each, left - half + (n + 1) * each) for n in range(count))
    first = body.spots[body.labels[0]].x_mm
    return windows if first < left + each else windows[::-1]  # beginning at the end of the first contact


def legend() -> tuple[tuple[str, str, str, str], ...]:
    """Return name, tone, tone of the letter and letter of every group."""
    return tuple((group, *GROUP_MARKS[group]) for group in GROUPS)


def sentence(body: Body, view: View) -> str:
    """Say what one is looking at."""
    holes = body.form in _HOLES or body.gender == "female"
    if body.form.startswith("edge"):
        towards = {
            "edge slot": "you look into the slot, as the card does",
            "edge fingers": "you look at the edge of the board, as the slot does",
        }[body.form]
        away = {
            "edge slot": "you look at the tails that are soldered, the slot opens away from you",
            "edge fingers": "you look along the board from behind, its edge points away from you",
        }[body.form]
    elif holes:
        towards, away = "you look into the holes", "the holes open away from you; here the wires are soldered"
    else:
        towards, away = "the pins point towards you", "the pins point away from you; here the wires are soldered"
    return f"Mating side: {towards}." if view == "mating" else f"Solder side: {away}."


class _Drawn:
    def __init__(self, pin_map: PinMap, view: View, window: tuple[float, float] | None, parts: Mapping[str, str]):
        self.pin_map, self.body, self.view, self.parts = pin_map, pin_map.body, view, parts
        spots = self.body.spots
        inside = [label for label, s in spots.items() if window is None or window[0] <= s.x_mm < window[1]]
        self.left = min(spots[label].x_mm for label in inside)
        self.right = max(spots[label].x_mm for label in inside)
        self.top = min(s.y_mm for s in spots.values())
        self.bottom = max(s.y_mm for s in spots.values())
        everywhere = [s.x_mm for s in spots.values()]
        self.torn_left = self.left > min(everywhere)
        self.torn_right = self.right < max(everywhere)
        self.labels = inside
        self.rows = sorted({round(spots[label].y_mm, 3) for label in inside})
        half = (len(self.rows) + 1) // 2
        self.above, self.below = half, len(self.rows) - half
        self.texts = {label: self._text(label, above=self._row(label) < self.above) for label in inside}
        self.tiers = [
            _TAG
            + 3 * _GAP
            + ADVANCE * TYPE_MM * max(len(t) for label, t in self.texts.items() if self._row(label) == row)
            for row in range(len(self.rows))
        ]
        along, across = _OUTLINE[self.body.form]
        self.x0 = _MARGIN + along - self.left
        self.y0 = _MARGIN + sum(self.tiers[: self.above]) + across + _GAP - self.top
        self.width = 2 * (_MARGIN + along) + self.right - self.left
        self.height = 2 * (_MARGIN + across + _GAP) + sum(self.tiers) + self.bottom - self.top

    def _row(self, label: str) -> int:
        return self.rows.index(round(self.body.spots[label].y_mm, 3))

    def _text(self, label: str, *, above: bool) -> str:
        several = [c for c in self.pin_map.contacts if c.label == label]
        names = list(dict.fromkeys(c.name for c in several))
        option = next((f" ({c.option})" for c in several if c.option), "")
        guess = "?" if any(c.seen == "guessed" for c in several) else ""
        parts = f" {self.parts[label]}" if label in self.parts else ""
        name = f"{' / '.join(names)}{guess}{option}{parts}"
        return visible(f"{label} {name}" if above else f"{name} {label}")  # the label stands next to the contact

    def x(self, x_mm: float) -> float:
        """Where an x of the body lies in the drawing."""
        at = x_mm + self.x0
        return round(self.width - at if self.view == "solder" else at, 4)

    def y(self, y_mm: float) -> float:
        return round(y_mm + self.y0, 4)

    def drawing(self) -> Drawing:
        items: list[Item] = [*self._outline()]
        places = []
        first = min(self.body.spots, key=lambda label: self.body.cells[label])
        for label in self.labels:
            spot = self.body.spots[label]
            x, y = self.x(spot.x_mm), self.y(spot.y_mm)
            places.append(Place(label, x, y))
            items += self._contact(label, x, y, first=label == first)
            items += self._tag(label, x, round(spot.y_mm, 3))
        return Drawing(
            round(self.width, 4),
            round(self.height, 4),
            tuple(items),
            tuple(places),
            self.view,
            sentence(self.body, self.view) + (_PARTS_SAID if any(label in self.parts for label in self.labels) else ""),
        )

    # ------------------------------------------------------------------ the body

    def _outline(self) -> Iterator[Item]:
        along, across = _OUTLINE[self.body.form]
        x1, x2 = sorted((self.x(self.left - along), self.x(self.right + along)))
        y1, y2 = self.y(self.top - across), self.y(self.bottom + across)
        form = self.body.form
        torn = (self.torn_left, self.torn_right) if self.view == "mating" else (self.torn_right, self.torn_left)
        if any(torn):
            yield from self._torn(x1, x2, y1, y2, torn)
            if form.startswith("edge") and len(self.rows) == 2:
                yield from self._mouth(x1, x2, torn=True)
            return
        if form == "din 41612":  # the corners at one long side are cut off: the shell goes in one way only
            cut = 1.6
            row_a_on_top = self._hand_down()
            ys = (y1, y2) if row_a_on_top else (y2, y1)
            step = cut if row_a_on_top else -cut
            yield Stroke(
                (
                    (x1 + cut, ys[0]),
                    (x2 - cut, ys[0]),
                    (x2, ys[0] + step),
                    (x2, ys[1]),
                    (x1, ys[1]),
                    (x1, ys[0] + step),
                    (x1 + cut, ys[0]),
                ),
                line_mm=0.3,
            )
            return
        yield Box(x1, y1, round(x2 - x1, 4), round(y2 - y1, 4), line_mm=0.3, round_mm=0.4)
        if form == "box header":
            yield from self._notch(y1, y2)
        if form.startswith("edge") and len(self.rows) == 2:
            yield from self._mouth(x1, x2)

    def _mouth(self, x1: float, x2: float, *, torn: bool = False) -> Iterator[Item]:
        """Where the card goes in, or the board that carries the fingers, between two rows."""
        middle = (self.y(self.rows[0]) + self.y(self.rows[1])) / 2
        if self.body.form == "edge fingers":
            yield Box(x1, round(middle - 0.785, 4), round(x2 - x1, 4), 1.57, fill="#DDDDDD", line_mm=0.2)
            return
        for index in range(len(self.body.sections)):
            xs = [
                self.x(self.body.spots[label].x_mm) for label in self.labels if self.body.spots[label].section == index
            ]
            if xs:
                left, right = (
                    (max(min(xs) - 2.6, x1), min(max(xs) + 2.6, x2)) if torn else (min(xs) - 2.6, max(xs) + 2.6)
                )
                yield Box(round(left, 4), round(middle - 0.9, 4), round(right - left, 4), 1.8, line_mm=0.2)

    def _hand_down(self) -> bool:
        """Whether the row of the first contact lies on top in the drawing."""
        return self.body.spots[self.body.labels[0]].row == 0

    def _notch(self, y1: float, y2: float) -> Iterator[Item]:
        """The gap in the wall of a box header, in the middle of the side of contact 1's row. Common practice."""
        middle = self.x((self.left + self.right) / 2)
        y = y1 if self._hand_down() else y2
        yield Box(middle - 2.25, y - 0.5, 4.5, 1.0, fill=WHITE, line="")
        yield Stroke(((middle - 2.25, y - 0.5), (middle - 2.25, y + 0.5)), line_mm=0.3)
        yield Stroke(((middle + 2.25, y - 0.5), (middle + 2.25, y + 0.5)), line_mm=0.3)

    @staticmethod
    def _torn(x1: float, x2: float, y1: float, y2: float, torn: tuple[bool, bool]) -> Iterator[Item]:
        """The outline of a strip: where it goes on, it is dashed."""
        yield Stroke(((x1, y1), (x2, y1)), line_mm=0.3)
        yield Stroke(((x1, y2), (x2, y2)), line_mm=0.3)
        yield Stroke(((x1, y1), (x1, y2)), line_mm=0.3, dashed=torn[0])
        yield Stroke(((x2, y1), (x2, y2)), line_mm=0.3, dashed=torn[1])

    # ------------------------------------------------------------------ the contacts

    def _contact(self, label: str, x: float, y: float, *, first: bool) -> Iterator[Item]:
        along, across = _CONTACT[self.body.form]
        role = self.pin_map.by_label[label].role
        if role == "key":  # no contact here: a cross where it would be
            for dy in (-0.6, 0.6):
                yield Stroke(((x - 0.6, y - dy), (x + 0.6, y + dy)), line_mm=0.25, contact=label)
            return
        holes = self.body.form in _HOLES or self.body.gender == "female"
        yield Box(
            round(x - along / 2, 4),
            round(y - across / 2, 4),
            along,
            across,
            fill=WHITE if holes else "#777777",
            line_mm=0.15,
            contact=label,
        )
        if first:
            yield Box(round(x - 1.1, 4), round(y - 1.1, 4), 2.2, 2.2, line_mm=0.3, contact=label)

    def _tag(self, label: str, x: float, row_y: float) -> Iterator[Item]:
        """The mark of the group and the text of a contact, above or below the connector, one tier a row."""
        across = _OUTLINE[self.body.form][1]
        index = self.rows.index(row_y)
        up = index < self.above
        outer = self.tiers[:index] if up else self.tiers[index + 1 :]  # the outermost row stands next to the connector
        edge = self.y(self.top - across) - _GAP if up else self.y(self.bottom + across) + _GAP
        sign = -1 if up else 1
        start = edge + sign * sum(outer)
        if outer:  # past the tags of the rows further out, halfway between two places
            beside = x + self.body.pitch_mm / 2
            yield Stroke(
                (
                    (x, self.y(row_y)),
                    (beside, round(self.y(row_y) + sign * min(1.0, self.body.row_pitch_mm / 2), 4)),
                    (beside, round(start - sign * 0.4, 4)),
                    (x, round(start, 4)),
                ),
                line=GREY,
                line_mm=0.12,
                contact=label,
            )
        y = start - _TAG if up else start
        tone, letter_tone, letter = self._mark(label)
        yield Box(round(x - _TAG / 2, 4), round(y, 4), _TAG, _TAG, fill=tone, line_mm=0.15, contact=label)
        yield Words(
            x, round(y + _TAG / 2 + 0.6, 4), letter, TYPE_MM, "middle", bold=True, tone=letter_tone, contact=label
        )
        text_y = start - _TAG - _GAP if up else start + _TAG + _GAP
        power = self._is_power(label)
        yield Words(
            round(x + TYPE_MM * 0.36, 4),
            round(text_y, 4),
            self.texts[label],
            TYPE_MM,
            "start" if up else "end",
            turned=True,
            bold=power,
            contact=label,
            rim=True,
        )

    def _is_power(self, label: str) -> bool:
        signal = self.pin_map.by_label[label].signal
        return signal is not None and signal.is_power

    def _mark(self, label: str) -> tuple[str, str, str]:
        contact: Contact = self.pin_map.by_label[label]
        if contact.signal is None:
            return WHITE, BLACK, ROLE_MARKS[contact.role]
        return GROUP_MARKS[contact.signal.group]
