"""Drawings: contacts where `body.py` has them, both sides mirror images, every text there, nothing off the sheet."""

from __future__ import annotations

import re
from itertools import combinations, pairwise
from xml.etree import ElementTree

import pytest
from conftest import CommandLine
from handmade import header, pin_map, shipped, strip
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pinmap import api, library
from pinmap.body import Body, Corner, Section
from pinmap.drawing import (
    ADVANCE,
    GROUP_MARKS,
    VIEWS,
    Box,
    Drawing,
    Item,
    Stroke,
    View,
    Words,
    adapter_ends,
    connector,
    sentence,
    strips,
)
from pinmap.model import GROUPS, PinMap
from pinmap.planner import plan
from pinmap.sheets import BAR_MM, MARGIN_MM, PAPERS, Paper, Sheet, adapter_pages, pages, picture
from pinmap.wiring import wires
from pinmap.writers.svg import svg

NAMES = [entry.name for entry in library.entries()]
TO_MM = 0.01


def extent(item: Item) -> tuple[float, float, float, float]:
    """Left, top, right and bottom of an item, with its text as wide as the typeface makes it."""
    if isinstance(item, Box):
        return item.x, item.y, item.x + item.width, item.y + item.height
    if isinstance(item, Stroke):
        xs, ys = [x for x, _ in item.points], [y for _, y in item.points]
        return min(xs), min(ys), max(xs), max(ys)
    long = len(item.text) * ADVANCE * item.size
    before = {"start": 0.0, "middle": long / 2, "end": long}[item.anchor]
    if item.turned:  # reads upwards
        return item.x - item.size, item.y - (long - before), item.x, item.y + before
    return item.x - before, item.y - item.size, item.x - before + long, item.y


def assert_inside(items: tuple[Item, ...], width: float, height: float) -> None:
    for item in items:
        left, top, right, bottom = extent(item)
        assert min(left, top) >= -TO_MM, item
        assert right <= width + TO_MM, item
        assert bottom <= height + TO_MM, item


# ---------------------------------------------------------------------- geometry


@pytest.mark.parametrize("name", NAMES)
def test_contacts_lie_where_the_body_has_them(name: str) -> None:
    pin = shipped(name)
    drawn = connector(pin, "mating")
    first = drawn.places[0]
    home = pin.body.spots[first.label]
    for place in drawn.places:
        spot = pin.body.spots[place.label]
        assert place.x - first.x == pytest.approx(spot.x_mm - home.x_mm, abs=TO_MM)
        assert place.y - first.y == pytest.approx(spot.y_mm - home.y_mm, abs=TO_MM)
    assert {p.label for p in drawn.places} == set(pin.body.labels)


@pytest.mark.parametrize("name", NAMES)
def test_the_solder_side_is_the_mirror_image_of_the_mating_side(name: str) -> None:
    mating, solder = (connector(shipped(name), view) for view in VIEWS)
    assert (mating.width, mating.height) == (solder.width, solder.height)
    there = {p.label: p for p in solder.places}
    for place in mating.places:
        assert there[place.label].x == pytest.approx(mating.width - place.x, abs=TO_MM)
        assert there[place.label].y == place.y


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("name", NAMES)
def test_a_drawing_as_svg_has_its_contacts_at_true_scale_and_every_text(name: str, view: View) -> None:
    pin = shipped(name)
    drawn = connector(pin, view)
    root = ElementTree.fromstring(svg(drawn, pin.title))  # noqa: S314 - made here
    assert root.get("width") == f"{drawn.width:g}mm"
    assert [float(n) for n in str(root.get("viewBox")).split()] == [0, 0, drawn.width, drawn.height]
    space = "{http://www.w3.org/2000/svg}"
    texts: dict[str, list[str]] = {}
    middles: dict[str, tuple[float, float]] = {}
    for group in root.iter(f"{space}g"):
        label = str(group.get("data-contact"))
        texts.setdefault(label, []).extend(str(t.text) for t in group.iter(f"{space}text"))
        for rect in group.iter(f"{space}rect"):
            x, y, w, h = (float(str(rect.get(k))) for k in ("x", "y", "width", "height"))
            middles.setdefault(label, (x + w / 2, y + h / 2))
    places = {p.label: p for p in drawn.places}
    for label, contact in pin.by_label.items():
        assert any(label in t.split() and (contact.name in t) for t in texts[label]), label
        if contact.role != "key":  # a key has no contact to be drawn, only a cross
            assert middles[label] == pytest.approx((places[label].x, places[label].y), abs=TO_MM)


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("name", NAMES)
def test_nothing_lies_off_the_drawing(name: str, view: View) -> None:
    drawn = connector(shipped(name), view)
    assert_inside(drawn.items, drawn.width, drawn.height)


def test_neighbouring_texts_do_not_touch() -> None:
    drawn = connector(shipped("isa-16bit"), "mating")
    turned = [i for i in drawn.items if isinstance(i, Words) and i.turned]
    xs = sorted({round(w.x, 3) for w in turned})
    assert min(b - a for a, b in pairwise(xs)) == pytest.approx(2.54, abs=TO_MM)
    assert max(w.size for w in turned) < 2.54


BODIES = st.builds(
    lambda form, rows, places, scheme, first: Body(form, (Section(rows, places),), scheme, first),
    st.sampled_from(["pin header", "socket header", "box header", "edge slot", "edge fingers"]),
    st.integers(1, 4),
    st.integers(1, 40),
    st.sampled_from(["zigzag", "serial"]),
    st.sampled_from(["top left", "top right", "bottom left", "bottom right"]),
)


@given(BODIES, st.sampled_from(VIEWS), st.sampled_from(["A4", "Letter"]))
@settings(deadline=None, derandomize=True, max_examples=60)
def test_any_connector_fits_its_drawing_and_its_pages(body: Body, view: View, paper: Paper) -> None:
    pin = pin_map({}, body)
    drawn = connector(pin, view)
    assert_inside(drawn.items, drawn.width, drawn.height)
    width, height = PAPERS[paper]
    made = pages(pin, [view], paper)
    for sheet in made:
        assert (sheet.width, sheet.height) == (width, height)
    labels = [p.label for sheet in made for d, _, _ in sheet.drawings for p in d.places]
    assert sorted(labels) == sorted(body.labels)


# ---------------------------------------------------------------------- what is said and marked


@pytest.mark.parametrize(
    ("name", "mating", "solder"),
    [
        (
            "oakmere-88",
            "Mating side: the pins point towards you.",
            "Solder side: the pins point away from you; here the wires are soldered.",
        ),
        (
            "tarn-rack",
            "Mating side: you look into the holes.",
            "Solder side: the holes open away from you; here the wires are soldered.",
        ),
        (
            "isa-8bit",
            "Mating side: you look into the slot, as the card does.",
            "Solder side: you look at the tails that are soldered, the slot opens away from you.",
        ),
    ],
)
def test_each_view_says_what_one_looks_at(name: str, mating: str, solder: str) -> None:
    body = shipped(name).body
    assert (sentence(body, "mating"), sentence(body, "solder")) == (mating, solder)


def test_every_group_has_a_mark_of_its_own() -> None:
    assert set(GROUP_MARKS) == set(GROUPS)
    assert len({letter for _, _, letter in GROUP_MARKS.values()}) == len(GROUPS)
    assert len({tone for tone, _, _ in GROUP_MARKS.values()}) == len(GROUPS)


def luminance(tone: str) -> float:
    """WCAG 2.1, "relative luminance"."""
    parts = [int(tone[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.03928 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("group", GROUPS)
def test_a_letter_stands_out_from_its_tone(group: str) -> None:
    tone, letter_tone, _ = GROUP_MARKS[group]  # type: ignore[index]
    bright, dark = sorted((luminance(tone), luminance(letter_tone)), reverse=True)
    assert (bright + 0.05) / (dark + 0.05) >= 3  # WCAG 2.1, 1.4.11: contrast of graphical objects


def words_at(drawn: Drawing, label: str) -> list[str]:
    return [i.text for i in drawn.items if isinstance(i, Words) and i.contact == label]


def test_guesses_options_keys_and_open_contacts_are_told_apart() -> None:
    drawn = connector(shipped("oakmere-88"), "mating")
    assert words_at(drawn, "6") == ["I", "6 IRQ2?"]
    assert words_at(drawn, "58") == ["T", "58 OSC (video board)"]
    assert words_at(drawn, "62") == ["×", "62 key"]
    assert words_at(drawn, "64") == ["–", "64 open"]
    assert words_at(drawn, "63") == ["R", "GND 63"]  # below, the label still stands next to the contact


def test_contact_1_is_framed_once() -> None:
    for name in NAMES:
        pin = shipped(name)
        drawn = connector(pin, "solder")
        framed = [i for i in drawn.items if isinstance(i, Box) and i.contact and i.width == 2.2]
        assert [i.contact for i in framed] == [sorted(pin.body.labels, key=lambda x: (x[:1], len(x), x))[0]]


def test_hostile_text_is_shown_and_does_nothing() -> None:
    pin = shipped("oakmere-88")
    hostile = '</title><script>alert(1)</script>"\u202e&'
    text = svg(connector(pin, "mating"), hostile)
    assert "<script" not in text
    ElementTree.fromstring(text)  # noqa: S314 - made here


# ---------------------------------------------------------------------- sheets


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", NAMES)
def test_nothing_lies_off_the_page_and_every_contact_is_on_one(name: str, paper: Paper) -> None:
    made = pages(shipped(name), VIEWS, paper)
    for sheet in made:
        assert_inside(sheet.items, sheet.width, sheet.height)
        for d, x, y in sheet.drawings:
            assert x >= MARGIN_MM - TO_MM
            assert x + d.width <= sheet.width - MARGIN_MM + TO_MM
            assert y + d.height <= sheet.height
    for view in VIEWS:
        shown = [p.label for s in made for d, _, _ in s.drawings if d.view == view for p in d.places]
        assert sorted(shown) == sorted(shipped(name).body.labels)


def bar_of(sheet: Sheet) -> float:
    (words,) = [i for i in sheet.items if isinstance(i, Words) and "measure this bar" in i.text]
    (bar,) = [
        i
        for i in sheet.items
        if isinstance(i, Stroke)
        and len(i.points) == 2
        and abs(i.points[0][1] - words.y) < 1
        and i.points[0][1] == i.points[1][1]
        and i.points[0][0] == MARGIN_MM
    ]
    return bar.points[1][0] - bar.points[0][0]


def test_every_sheet_has_a_bar_of_50_mm() -> None:
    for sheet in (*pages(shipped("isa-16bit"), VIEWS, "A4"), picture(shipped("oakmere-88"), VIEWS)):
        assert bar_of(sheet) == BAR_MM == 50


def test_a_connector_too_long_for_the_page_comes_in_strips() -> None:
    pin = pin_map({}, strip(400))
    made = pages(pin, ["mating"], "A4")
    shown = [[p.label for p in d.places] for s in made for d, _, _ in s.drawings]
    assert len(shown) > 1
    assert sorted(x for each in shown for x in each) == sorted(pin.body.labels)
    assert strips(shipped("oakmere-88"), 190) == [None]


@pytest.mark.parametrize("first", ["top left", "top right"])
def test_a_strip_says_which_part_it_is_and_the_first_one_has_the_first_contact(first: Corner) -> None:
    body = Body("edge slot", (Section(2, 60, ("A", "B")),), "rows", first, 3.96, 5.08)
    for view in VIEWS:
        (sheet,) = pages(pin_map({}, body), [view], "A4")
        said = [d.about.partition(". ")[0] for d, _, _ in sheet.drawings]
        assert said == ["Part 1 of 2, contacts A1 to A30, B1 to B30", "Part 2 of 2, contacts A31 to A60, B31 to B60"]
        for drawn, _, _ in sheet.drawings:  # the slot's mouth lies on each
            assert [i for i in drawn.items if isinstance(i, Box) and i.height == 1.8]


def test_sentences_on_small_connectors_do_not_touch() -> None:
    (sheet,) = pages(pin_map({}, header(8)), VIEWS, "A4")
    (left, x_left, _), (right, x_right, _) = sheet.drawings
    said = [i for i in sheet.items if isinstance(i, Words) and i.size == 2.6 and i.y > 20]
    ends = [i.x + len(i.text) * ADVANCE * i.size for i in said if i.x == x_left]
    assert left.width < 50 < max(ends) < x_right
    assert " ".join(i.text for i in said if i.x == x_right) == right.about


def test_a_long_title_takes_several_lines_and_is_not_cut_off() -> None:
    title = "A connector with a title so long that it never fits on one line of any paper " * 3
    (sheet,) = pages(replace(shipped("oakmere-88"), title=title), VIEWS, "A4")
    shown = [i for i in sheet.items if isinstance(i, Words) and i.bold and i.y < 40 and not i.turned and not i.contact]
    assert " ".join(i.text for i in shown) == title.strip()
    assert len(shown) == 3
    assert {i.size for i in shown} == {4.0}
    assert_inside(sheet.items, sheet.width, sheet.height)


@pytest.mark.parametrize(
    ("host", "said"),
    [
        ("brindle-portable", "DO NOT BUILD: see what was found."),
        ("oakmere-88", "Build with care: read first what was found."),
    ],
)
@pytest.mark.parametrize("paper", [None, "A4"])
def test_the_drawing_of_an_adapter_carries_its_verdict(host: str, said: str, paper: Paper | None) -> None:
    adapter = api.adapt(host, "isa-8bit")
    for sheet in adapter_pages(adapter, "solder", paper):
        assert said in [i.text for i in sheet.items if isinstance(i, Words)]


@pytest.mark.parametrize("host", ["oakmere-88", "brindle-portable", "tarn-rack"])
def test_each_wire_of_a_supply_or_return_is_named_at_both_of_its_ends(host: str) -> None:
    adapter = plan(shipped(host), shipped("isa-8bit"))
    (sheet,) = adapter_pages(adapter, "solder", "A4")
    (above, _, top), (_, _, bottom) = sheet.drawings
    named = [i for i in sheet.items if isinstance(i, Words) and i.rim and top + above.height < i.y < bottom]
    wanted = [
        str(w.number) if w.group == "return" else f"{w.number} {w.signal}"
        for w in wires(adapter)
        if w.kind == "wire" and w.group in ("return", "supply")
    ]
    assert sorted(i.text for i in named) == sorted(wanted * 2)
    for one, other in combinations(named, 2):
        apart = (len(one.text) + len(other.text)) * ADVANCE * 1.9 / 2
        assert abs(one.y - other.y) >= 1.9 or abs(one.x - other.x) >= apart


def test_the_ends_of_an_adapter_are_its_own_connectors_with_the_wires_of_its_supplies() -> None:
    adapter = plan(shipped("oakmere-88"), shipped("isa-8bit"))
    one, other = adapter_ends(adapter)
    assert (one.view, len(one.places), len(other.places)) == ("solder", 64, 62)
    # J1 takes the machine's header: seen from behind it lies as the header does from the front.
    front = {p.label: p.x for p in connector(adapter.host, "mating").places}
    behind = {p.label: p.x for p in one.places}
    assert behind["63"] - behind["1"] == pytest.approx(front["63"] - front["1"], abs=TO_MM)
    (sheet,) = adapter_pages(adapter, "solder", None)
    power = [w for w in wires(adapter) if w.kind == "wire" and w.group in ("return", "supply")]
    lines = [i for i in sheet.items if isinstance(i, Stroke)][: len(power)]
    at = [{p.label: (p.x + x, p.y + y) for p in d.places} for d, x, y in sheet.drawings]
    assert [line.points for line in lines] == [(at[0][w.start.label], at[1][w.stop.label]) for w in power]
    assert_inside(sheet.items, sheet.width, sheet.height)


# ---------------------------------------------------------------------- the command


def test_a_picture_goes_to_the_terminal_or_to_the_file_that_is_named(pinmap: CommandLine) -> None:
    ran = pinmap("draw", "oakmere-88")
    assert (ran.status, ran.err) == (0, "")
    ElementTree.fromstring(ran.out)  # noqa: S314 - made by the program under test
    assert pinmap.left() == []
    ran = pinmap("draw", "oakmere-88", "--out", "o.svg")
    assert (ran.status, ran.out, ran.err) == (0, "written: o.svg\n", "")
    assert pinmap.left() == ["o.svg"]


def test_one_view_may_be_asked_for_and_an_adapter(pinmap: CommandLine) -> None:
    both, one = pinmap("draw", "isa-8bit").out, pinmap("draw", "isa-8bit", "--view", "solder").out
    assert both.count('data-contact="A1"') > one.count('data-contact="A1"') > 0
    assert re.findall(r"(\w+) side:", one) == ["Solder", "Solder"]  # in the description and above the drawing
    ran = pinmap("draw", "oakmere-88", "isa-8bit")
    assert (ran.status, ran.err) == (0, "")
    assert "above J1: socket header, below J2: edge slot" in ran.out


def test_a_broken_map_is_told_with_its_complaints(pinmap: CommandLine) -> None:
    (pinmap.cwd / "broken.yaml").write_text("format: 1\n", encoding="utf-8")
    for args in (("draw", "broken.yaml"), ("draw", "broken.yaml", "isa-8bit")):
        ran = pinmap(*args)
        assert (ran.status, ran.out) == (1, "")
        assert "no map can be built" in ran.err


def shown(pin: PinMap) -> str:
    return svg(picture(pin, VIEWS), pin.title)


def test_the_same_map_gives_the_same_picture() -> None:
    assert shown(shipped("tarn-rack")) == shown(shipped("tarn-rack"))
