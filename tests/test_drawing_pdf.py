"""Drawings on paper, read back by a library that did not write them: true scale, every text, the same bytes."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from conftest import CommandLine
from handmade import pin_map, shipped, strip

from pinmap import library
from pinmap.drawing import VIEWS, Words
from pinmap.sheets import PAPERS, Paper, pages
from pinmap.writers.drawing_pdf import pdf

NAMES = [entry.name for entry in library.entries()]
POINT_MM = 25.4 / 72


def opened(name: str, paper: Paper = "A4") -> pypdfium2.PdfDocument:
    pin = shipped(name)
    return pypdfium2.PdfDocument(pdf(pages(pin, VIEWS, paper), pin.title))


def letters(page: pypdfium2.PdfPage) -> list[tuple[str, float, float]]:
    """Every character with the middle of its box, in mm from the top left."""
    height = page.get_height()
    text = page.get_textpage()
    out = []
    for index in range(text.count_chars()):
        left, bottom, right, top = text.get_charbox(index)
        x, y = (left + right) / 2 * POINT_MM, (height - (bottom + top) / 2) * POINT_MM
        out.append((text.get_text_range(index, 1), x, y))
    return out


@pytest.mark.parametrize("paper", PAPERS)
def test_pages_have_the_size_of_the_paper(paper: Paper) -> None:
    for page in opened("isa-16bit", paper):
        assert (page.get_width() * POINT_MM, page.get_height() * POINT_MM) == pytest.approx(PAPERS[paper], abs=0.05)


@pytest.mark.parametrize("name", NAMES)
def test_marks_lie_on_paper_where_the_contacts_are(name: str) -> None:
    """The letter of a group is printed in the middle of its mark: equal letters are whole pitches apart."""
    pin = shipped(name)
    off: dict[str, list[float]] = {}
    for page, sheet in zip(opened(name), pages(pin, VIEWS, "A4"), strict=True):
        printed = letters(page)
        for drawn, dx, dy in sheet.drawings:
            at = {p.label: p for p in drawn.places}
            for mark in (i for i in drawn.items if isinstance(i, Words) and not i.turned):
                x, y = mark.x + dx, mark.y + dy - mark.size * 0.35
                assert mark.x == at[mark.contact].x
                there = [px for c, px, py in printed if c == mark.text and abs(px - x) < 0.5 and abs(py - y) < 0.5]
                assert len(there) == 1, (mark.contact, there)
                off.setdefault(mark.text, []).append(there[0] - x)
    for letter, each in off.items():
        assert max(each) - min(each) <= 0.02, letter  # 0.01 mm either way
    assert sum(len(each) for each in off.values()) == 2 * len(pin.body)


@pytest.mark.parametrize("name", NAMES)
def test_every_label_and_signal_can_be_read_from_the_page(name: str) -> None:
    pin = shipped(name)
    text = " ".join(page.get_textpage().get_text_range() for page in opened(name)).split()
    joined = " ".join(text)
    for label, contact in pin.by_label.items():
        assert joined.count(f"{label} {contact.name}") + joined.count(f"{contact.name} {label}") >= 1, label
        for word in (label, *contact.name.split()):
            assert word in text or any(word in t for t in text)


def test_a_title_shows_what_it_holds_and_does_nothing() -> None:
    hostile = "#panic() $x$ *bold* @ref <b> \\ `raw`"
    pin = shipped("oakmere-88")
    page = pypdfium2.PdfDocument(pdf(pages(pin_map({}, strip(4), name="x"), VIEWS, "A4"), hostile))[0]
    assert page.get_textpage().count_chars() > 0
    assert pdf(pages(pin, VIEWS, "A4"), hostile).startswith(b"%PDF")


def test_a_character_that_no_font_has_is_named_by_its_number(pinmap: CommandLine) -> None:
    text = Path(library.find("oakmere-88")[0]).read_text(encoding="utf-8")
    named = text.replace("title: Oakmere 88", "title: 中 88").replace("video board", "vidéo 文 board")
    (pinmap.cwd / "m.yaml").write_text(named, encoding="utf-8")
    assert pinmap("draw", "m.yaml", "--out", "m.pdf").status == 0
    assert pinmap("draw", "m.yaml", "isa-8bit", "--out", "both.pdf").status == 0
    for name in ("m.pdf", "both.pdf"):
        printed = pypdfium2.PdfDocument(pinmap.cwd / name)[0].get_textpage().get_text_range()
        assert "[U+4E2D] 88" in printed
        assert "OSC (vidéo [U+6587] board)" in printed


def test_the_same_map_gives_the_same_bytes() -> None:
    pin = shipped("tarn-rack")
    assert pdf(pages(pin, VIEWS, "A4"), pin.title) == pdf(pages(pin, VIEWS, "A4"), pin.title)


def test_the_command_writes_pages(pinmap: CommandLine) -> None:
    ran = pinmap("draw", "oakmere-88", "--paper", "Letter", "--out", "o.pdf")
    assert (ran.status, ran.out, ran.err) == (0, "written: o.pdf\n", "")
    page = pypdfium2.PdfDocument(pinmap.cwd / "o.pdf")[0]
    assert page.get_width() * POINT_MM == pytest.approx(215.9, abs=0.05)
    assert pinmap.left() == ["o.pdf"]
