"""The PDF read back by a library that did not write it, and held against the plan."""

from __future__ import annotations

import re
import subprocess
import sys
from functools import cache
from itertools import pairwise, product
from typing import Any

import pypdfium2
import pytest
from handmade import Line, header, pin_map, shipped, strip
from handparts import with_parts
from msgspec.structs import replace

import pinmap
from pinmap import checks
from pinmap.adapter import Adapter
from pinmap.bench import form
from pinmap.bench.plan import HOW_TO_SWEEP
from pinmap.body import Body, Section
from pinmap.drawing import Words, adapter_ends
from pinmap.errors import PinmapError
from pinmap.planner import plan
from pinmap.wiring import unwired, wires
from pinmap.writers import paper
from pinmap.writers.fitted import AFTER, WHEN, fitted
from pinmap.writers.tables import CAUTIONS

HOSTS = ("oakmere-88", "brindle-portable", "tarn-rack", "isa-8bit")
CARDS = ("isa-8bit", "isa-16bit", "pc104-8bit")
PAIRS = tuple(product(HOSTS, CARDS))
MM = 72 / 25.4
SIZES = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
every_pair = pytest.mark.parametrize(("host", "card"), PAIRS, ids=["-".join(p) for p in PAIRS])

PRINTS = [(*p, "A4") for p in PAIRS] + [(host, "isa-16bit", "Letter") for host in HOSTS]
every_print = pytest.mark.parametrize(("host", "card", "size"), PRINTS, ids=["-".join(p) for p in PRINTS])


@cache
def pair(host: str, card: str) -> Adapter:
    return pinmap.adapt(host, card)


@cache
def shipped_pdf(host: str, card: str, size: str = "A4") -> bytes:
    return paper.pdf(pair(host, card), paper=size)


def pages(raw: bytes) -> list[Any]:
    document: Any = pypdfium2.PdfDocument(raw)
    return list(document)


def plain(text: str) -> str:
    """Text as the eye has it: without the spaces of no width, line ends as spaces."""
    return " ".join(re.sub("\u200b\\s*", "", text).replace("\ufffe", "-").split())


def squeezed(text: str) -> str:
    """Text without any space: a line may end behind a hyphen or a stroke."""
    return "".join(plain(text).split())


@cache
def texts(raw: bytes) -> list[str]:
    return [plain(page.get_textpage().get_text_bounded()) for page in pages(raw)]


@cache
def body_text(raw: bytes) -> str:
    """All pages as one text, without what stands in the head and foot of each."""
    out = []
    for page in pages(raw):
        width, height = page.get_size()
        text = page.get_textpage()
        out.append(text.get_text_bounded(left=0, right=width, top=height - 18 * MM, bottom=13 * MM))
    return plain(" ".join(out))


def between(text: str, start: str, stop: str) -> str:
    return text[text.index(start) + len(start) : text.index(stop)]


def tiny(title: str = "The machine", name: str = "AUDIO", **more: Any) -> Adapter:
    host = pin_map({"1": "GND", "2": "+5V", "3": "SD0", "4": name}, header(4), name="tiny", **more)
    return plan(replace(host, title=title), shipped("isa-8bit"))


# ------------------------------------------------------------------ the plan


@every_pair
def test_the_wiring_table_holds_every_wire_of_the_plan_in_soldering_order(host: str, card: str) -> None:
    rows = re.findall(
        r"(\d+) (J[12]) (\S+) (\S+) (J[12]) (\S+) (\S+) (\S+)",
        between(body_text(shipped_pdf(host, card)), "Wiring: Supplies and returns", "Not connected"),
    )
    assert rows == [
        (str(w.number), w.start.ref, w.start.label, w.start.pad, w.stop.ref, w.stop.label, w.stop.pad, w.signal)
        for w in wires(pair(host, card))
    ]


@every_pair
def test_the_lists_to_measure_hold_every_row_of_the_readings_form_in_its_order(host: str, card: str) -> None:
    text = body_text(shipped_pdf(host, card)).partition("Measure: supplies")[2]
    dense = squeezed(text)
    rows = form(pair(host, card))
    at = 0
    for step, row in enumerate(rows, 1):
        note = row.note[row.note.index("net ") :] if row.kind != "continuity" else row.note.rpartition("; ")[2]
        values = {
            "resistance": f"{row.expected} {note}",
            "sweep": f"{row.expected} {note}",
            "volts": "",  # the limits stand in columns of their own
        }.get(row.kind, note)
        line = squeezed(f"{step} {row.start} {row.to} {values}")
        assert line in dense[at:], line
        at = dense.index(line, at)
    assert len(re.findall(r"\d+ J[12] \S+ J[12]", text)) == len(rows)
    assert HOW_TO_SWEEP[1:] in text


def test_a_supply_is_measured_with_volts_tolerance_limits_and_two_cells_to_write_in() -> None:
    text = body_text(shipped_pdf("oakmere-88", "isa-8bit"))
    assert (
        "step red probe black probe must read tolerance limits no card with a card "
        "236 J2 B3 J2 B1 +5 V ±5 % from +4.75 V to +5.25 V net +5V" in text
    )
    assert text.endswith(
        "239 J2 B7 J2 B1 −12 V ±5 % from −12.6 V to −11.4 V net -12V "
        "±5 %: PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008."
    )


def test_power_comes_last_and_goes_from_no_card_by_the_cheapest_to_the_one_that_is_meant() -> None:
    text = body_text(shipped_pdf("oakmere-88", "isa-8bit"))
    order = [
        "Measure: supplies Power off, nothing plugged in, no remedies fitted.",
        "Continuity: must beep",
        "Isolation: must not beep",
        "Only now fit the remedies",
        "Only when all above is right: power on, the adapter in the machine, no card in it.",
        "the cheapest card that you have",
        "Only now the card that the adapter is for.",
    ]
    assert [text.index(words) for words in order] == sorted(text.index(words) for words in order)


def test_nobody_is_led_to_apply_power_where_the_plan_says_do_not_build() -> None:
    raw = shipped_pdf("brindle-portable", "isa-8bit")
    text = body_text(raw)
    assert text.endswith(
        "Power No power: the plan says do not build. Mend what the first page says, and make the plan again."
    )
    assert "Power on" not in text
    assert "DO NOT BUILD. Read what was found." in texts(raw)[0]
    assert all("DO NOT BUILD" in page for page in texts(raw))


@every_pair
def test_all_contacts_without_a_wire_and_all_signals_that_do_not_map_are_there(host: str, card: str) -> None:
    adapter = pair(host, card)
    text = body_text(shipped_pdf(host, card))
    loose = squeezed(between(text, "Not connected", "Measure: supplies"))
    for net, point in unwired(adapter):
        assert squeezed(f"{point.ref} {point.label} {point.pad} {net.name} {net.state} {net.remark}") in loose
    before = squeezed(text.partition(" Wire The colours")[0])
    for u in adapter.unmapped:
        assert squeezed(u.effect[1:]) in before
        assert squeezed(str(u.remedy)[1:]) in before


def test_the_first_page_has_verdict_cautions_drawings_and_what_is_not_mapped() -> None:
    first = texts(paper.pdf(pair("oakmere-88", "isa-8bit"), date="12 May 2024"))[0]
    order = [
        "Oakmere 88 cabinet header to ISA slot, 8-bit 12 May 2024 Build with care: first read what was found.",
        "J1 meets the machine (Oakmere 88 cabinet header)",
        *CAUTIONS,
        "J1 Solder side: the holes open away from you",
        "J2 Solder side: you look at the tails",
        "This bar must measure 50 mm",
        "What is not mapped, and what that means The card has these, the slot does not bring them",
    ]
    assert [first.index(words) for words in order] == sorted(first.index(words) for words in order)


# ------------------------------------------------------------------ the pages


@every_print
def test_nothing_is_cut_off_and_each_page_says_which_it_is(host: str, card: str, size: str) -> None:
    raw = shipped_pdf(host, card, size)
    adapter = pair(host, card)
    for number, (page, text) in enumerate(zip(pages(raw), texts(raw), strict=True), 1):
        assert [round(x / MM, 1) for x in page.get_size()] == list(SIZES[size])
        assert f"page {number} of {len(texts(raw))}" in text
        assert text.startswith(f"{adapter.title} {adapter.verdict}".replace("do not build", "DO NOT BUILD"))
        assert_inside(page)


def assert_inside(page: Any) -> None:
    width, height = page.get_size()
    seen = page.get_textpage()
    for index, letter in enumerate(seen.get_text_range()):
        if letter.strip("\u200b"):
            left, bottom, right, top = seen.get_charbox(index)
            assert left > 19 * MM
            assert right < width - 11 * MM
            assert bottom > 5 * MM
            assert top < height - 5 * MM


@every_print
def test_a_group_never_leaves_one_wire_alone_and_its_name_is_repeated(host: str, card: str, size: str) -> None:
    every = wires(pair(host, card))
    held = [
        {int(n) for n in re.findall(r"(\d+) J[12] \S+ \S+ J[12] \S+ \S+ \S", before_bench(text))}
        for text in texts(shipped_pdf(host, card, size))
    ]
    for group in {w.group for w in every}:
        numbers = {w.number for w in every if w.group == group}
        for index, here in enumerate(held):
            inside = numbers & here
            if inside and inside != numbers:
                assert len(inside) > 1 or len(numbers) < 3, (group, inside)
            if inside:
                assert f"{group}: wire" in texts(shipped_pdf(host, card, size))[index]


def before_bench(text: str) -> str:
    return text.split("Not connected")[0] if "Measure: supplies" not in text else ""


def test_rows_are_held_together_wherever_the_page_ends() -> None:
    """Long titles push the tables down line by line; the break wanders through every group."""
    base = pair("oakmere-88", "isa-8bit")
    broken_at = set()
    for more in range(0, 30, 3):
        note = replace(base.findings[-1], code="guess", message="word " * 21 * more + "end")
        adapter = replace(base, findings=(*base.findings, note))
        for text in texts(paper.pdf(adapter)):
            here = [int(n) for n in re.findall(r"(\d+) J[12] \S+ \S+ J[12] \S+ \S+ \S", before_bench(text))]
            for group in {w.group for w in wires(adapter)}:
                numbers = [w.number for w in wires(adapter) if w.group == group]
                inside = sorted(set(here) & set(numbers))
                if inside and inside != numbers:
                    assert len(inside) > 1, (group, inside)
                    broken_at.add(inside[-1])
    assert len(broken_at) > 4


@every_print
def test_the_drawings_and_the_bar_print_at_true_scale(host: str, card: str, size: str) -> None:
    first = pages(shipped_pdf(host, card, size))[0]
    seen = first.get_textpage()
    adapter = pair(host, card)
    marks = [found(seen, words)[0] for words in ("J1 Solder side", "J2 Solder side", "This bar must")]
    for drawing, start, stop in zip(adapter_ends(adapter), marks, marks[1:], strict=False):
        # Where the base line of turned words stands; bold ones have another height.
        words = {i.contact: i.text for i in drawing.items if isinstance(i, Words) and i.turned and not i.bold}
        lines = {}
        for place in drawing.places:
            here = [n for n in found(seen, words.get(place.label, "none")) if start < n < stop]
            if len(here) == 1:
                lines[place] = seen.get_charbox(here[0], loose=True)[2] / MM
        assert len(lines) > 30
        for (one, x1), (other, x2) in pairwise(lines.items()):
            assert x2 - x1 == pytest.approx(other.x - one.x, abs=0.01)
    bars = []
    for path in first.get_objects():
        left, bottom, right, top = path.get_bounds()
        bars.append(((right - left) / MM, (top - bottom) / MM))
    assert [w for w, h in bars if w == pytest.approx(50.21, abs=0.01) and h < 3]  # with the lines' own width


def found(seen: Any, words: str) -> list[int]:
    """The numbers of the letters at which these words begin."""
    search = seen.search(words, match_case=True)
    return [hit[0] for hit in iter(search.get_next, None)]


def test_a_connector_too_wide_for_the_page_is_drawn_in_parts() -> None:
    wide = pin_map({"1": "GND", "2": "+5V", "3": "SD0"}, strip(120), name="wide")
    raw = paper.pdf(plan(wide, shipped("isa-8bit")))
    joined = body_text(raw)
    assert "J1, part 1 of 2 Solder side" in joined
    assert "J1, part 2 of 2 Solder side" in joined
    for page in pages(raw):
        assert_inside(page)


def test_a_connector_too_tall_for_the_page_is_named_and_everything_else_is_there() -> None:
    tall = pin_map({"1": "GND", "2": "+5V", "3": "SD0"}, Body("edge slot", (Section(2, 3),), "zigzag", "bottom left"))
    tall = replace(tall, body=replace(tall.body, row_pitch_mm=400.0))
    joined = body_text(paper.pdf(plan(tall, shipped("isa-8bit"))))
    assert "J1 Too large to be drawn at true scale on this paper." in joined


# ------------------------------------------------------------------ the text


@pytest.mark.parametrize(
    "title",
    [
        "*bold* _it_ #let x = 1 $a^2$ @ref <label> \\ `raw` = head - item",
        '#pagebreak() #panic("no") </text><script>alert(1)</script> &amp; ]] }} "" \'',
        "https://example.org // comment /* comment */ ~ -- --- ... 1/2",
    ],
)
def test_a_title_means_nothing_to_the_typesetter(title: str) -> None:
    raw = paper.pdf(tiny(title))
    assert plain(f"{title} to ISA slot, 8-bit") in body_text(raw)
    assert len(pages(raw)) < 9


def test_a_hostile_name_of_a_contact_stands_in_drawing_and_list_as_it_is() -> None:
    name = "<g/>&#38;\"']*#$\\@x"
    joined = body_text(paper.pdf(tiny(name=name)))
    assert joined.count(name) >= 2


def test_a_label_keeps_its_small_letter_where_a_sentence_begins_with_it() -> None:
    """With row letters a and A at the two ends, a capital would name another contact."""
    body = Body("din 41612", (Section(2, 8, ("c", "a")),), "rows", "bottom left", gender="female")
    host = pin_map({"a1": Line("+5V", seen="guessed"), "a2": "GND"}, body)
    made = plan(host, shipped("isa-8bit"), (), checks.run(host))
    text = body_text(paper.pdf(made))
    assert "a1 = +5V rests on a guess" in text
    assert "A1 = +5V" not in text


def test_a_character_that_no_font_has_is_named_wherever_it_stands() -> None:
    raw = paper.pdf(tiny("The 中 machine 😀", name="日X"), date="5 月")
    assert all(page.startswith("The [U+4E2D] machine [U+1F600] to ISA slot") for page in texts(raw))
    joined = body_text(raw)
    assert "[U+65E5]X 4" in joined  # in the drawing
    assert "J1 4 4 host 4 [U+65E5]X" in joined
    assert "5 [U+6708]" in joined


def test_characters_that_the_fonts_have_are_left_alone() -> None:
    title = "Überprüfung Ω µ Ж ď – ± → ½"
    assert f"{title} to ISA slot, 8-bit" in body_text(paper.pdf(tiny(title)))


@pytest.mark.parametrize("name", ["W" * 100, "a-b_" * 25, "W W " * 25])
@pytest.mark.parametrize("size", SIZES)
def test_long_names_and_titles_stay_on_the_page(name: str, size: str) -> None:
    raw = paper.pdf(tiny("M" * 600, name=name), paper=size)
    for page in pages(raw):
        assert_inside(page)
    joined = body_text(raw)
    assert plain(name) in joined.replace("host 4 ", "")
    assert "J1" in joined


def test_a_remark_longer_than_a_page_is_not_cut_off() -> None:
    base = pair("oakmere-88", "isa-8bit")
    remark = " ".join(str(n) for n in range(10_000, 11_000))
    nets = tuple(replace(net, remark=remark) if net.name in ("SD0", "SD1") else net for net in base.nets)
    raw = paper.pdf(replace(base, nets=nets))
    for page in pages(raw):
        assert_inside(page)
    joined = body_text(raw)
    assert all(joined.count(f" {n}") >= 2 for n in range(10_000, 11_000))


# ------------------------------------------------------------------ the same bytes, the date, the wires to cut


def test_the_same_input_gives_the_same_bytes() -> None:
    adapter = pair("oakmere-88", "isa-8bit")
    one = paper.pdf(adapter, date="12 May 2024", length_mm=150)
    paper.pdf(tiny())  # what was typeset in between leaves nothing behind
    assert paper.pdf(adapter, date="12 May 2024", length_mm=150) == one
    assert b"/CreationDate" not in one
    assert b"/ModDate" not in one
    code = (
        "import sys, pinmap; from pinmap.writers import paper; "
        "a = pinmap.adapt('oakmere-88', 'isa-8bit'); "
        "sys.stdout.buffer.write(paper.pdf(a, date='12 May 2024', length_mm=150))"
    )
    again = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
    assert again.stdout == one


def test_a_date_stands_on_each_page_if_one_is_given() -> None:
    adapter = tiny()
    assert all("12 May 2024" in page for page in texts(paper.pdf(adapter, date="12 May 2024")))
    assert not any(re.search(r"\b20[2-9]\d\b", page) for page in texts(paper.pdf(adapter)))


def test_the_cut_list_counts_every_wire_and_every_link() -> None:
    joined = body_text(paper.pdf(pair("oakmere-88", "isa-8bit"), length_mm=150))
    cut = between(joined, "cut list: colour group kind length × number ", " A link is as long")
    assert cut == (
        "black return wire 150 mm × 3 black return link 20 mm × 4 black return link 25 mm × 3 "
        "black return link 35 mm × 1 red supply wire 150 mm × 4 red supply link 85 mm × 1 "
        "blue data wire 150 mm × 8 yellow address wire 150 mm × 20 green command wire 150 mm × 4 "
        "orange control wire 150 mm × 3 violet timing wire 150 mm × 2 white interrupt wire 150 mm × 5 "
        "grey DMA wire 150 mm × 6"
    )
    assert sum(int(n) for n in re.findall(r"× (\d+)", cut)) == len(wires(pair("oakmere-88", "isa-8bit")))


def test_there_is_no_cut_list_without_a_length() -> None:
    assert "cut list" not in body_text(shipped_pdf("oakmere-88", "isa-8bit"))


def test_no_two_groups_share_a_colour_and_every_group_has_one() -> None:
    joined = body_text(shipped_pdf("isa-8bit", "isa-8bit"))
    shown = between(joined, "group colour wires links ", "Wiring: Supplies")
    colours = re.findall(r"(\S+) (\S+) (\d+) (\d+)", shown)
    assert len({colour for _, colour, _, _ in colours}) == len(colours) == 9
    assert [row[:2] for row in colours[:2]] == [("return", "black"), ("supply", "red")]
    assert sum(int(a) + int(b) for *_, a, b in colours) == len(wires(pair("isa-8bit", "isa-8bit")))


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"paper": "a3"}, "the paper must be A4 or Letter, not 'a3'"),
        ({"length_mm": 0.0}, "a wire must be longer than 0 mm and at most 10000 mm, not 0 mm"),
        ({"length_mm": -5.0}, "a wire must be longer than 0 mm and at most 10000 mm, not -5 mm"),
        ({"length_mm": float("nan")}, "a wire must be longer than 0 mm and at most 10000 mm, not nan mm"),
        ({"length_mm": 1e9}, "a wire must be longer than 0 mm and at most 10000 mm, not 1e+09 mm"),
    ],
)
def test_what_cannot_be_printed_is_refused(arguments: dict[str, Any], message: str) -> None:
    with pytest.raises(PinmapError) as caught:
        paper.pdf(pair("isa-8bit", "isa-8bit"), **arguments)
    assert caught.value.message == message


def test_the_typesetter_is_loaded_only_when_paper_is_asked_for() -> None:
    code = "import sys; import pinmap.writers.paper; assert 'typst' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


# ------------------------------------------------------------------ parts and budget


def test_every_part_every_lead_and_the_budget_are_on_paper() -> None:
    adapter = with_parts()
    raw = paper.pdf(adapter, length_mm=150)
    text = squeezed(body_text(raw))
    for f in fitted(adapter):
        for said in (f.part.ref, f.value, f.what, f.part.footprint, *f.joined, f.part.fit[1:], f.why[1:]):
            assert squeezed(said) in text, said
    assert squeezed(WHEN) in text
    order = (
        "Wiring: Supplies and returns",
        "Not connected",
        "Budget",
        "Measure: supplies",
        WHEN,
        "Wiring: Leads of",
        "Poweron",
    )
    at = [text.index(squeezed(word)) for word in order]
    assert at == sorted(at)  # what is ticked from top to bottom puts no part in before the readings
    leads, wired = text[at[-2] : at[-1]], text[at[0] : at[1]]
    for w in wires(adapter):
        ends = squeezed(f"{w.number}{w.start.ref}{w.start.label}{w.start.pad}{w.stop.ref}{w.stop.label}{w.stop.pad}")
        assert (ends in leads, ends in wired) == (w.kind == "lead", w.kind != "lead"), w
    assert squeezed("Lead of JP1 (1×2 pins). The slot does not bring it.") in leads
    assert squeezed("The leads of parts are not in the list") in text
    assert squeezed("Carried out by R1: pull up 10 kΩ to +5V") in text
    budget = text[text.index(squeezed("Budget")) : text.index(squeezed("Measure: supplies"))]
    for said in ("~430mA", "+4.987V", "0.25mm×35µm", "SD0–SD3", "Everydrivermanagesitsloads.", "Assumed"):
        assert said in budget
    assert squeezed("nothing plugged in, no remedies fitted") in text
    assert squeezed("Only now fit the parts: tick each part and its leads, and look at each twice.") in text
    assert squeezed(AFTER) in text


def test_without_parts_there_is_no_word_of_them_on_paper() -> None:
    text = body_text(shipped_pdf("oakmere-88", "isa-8bit"))
    assert not re.search(r"\bParts\b|\bBudget\b|\bLead of\b|carried out", text)
    assert "Only now fit the remedies" in text


def test_a_part_at_a_contact_stands_behind_its_name_in_the_drawing_on_paper() -> None:
    text = squeezed(body_text(paper.pdf(with_parts())))
    for said in ("IRQ7JP1B21", "OSCY1B30", "+5VC1R1B3"):
        assert said in text
