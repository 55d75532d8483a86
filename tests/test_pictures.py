"""The pictures in the README are those of the shipped example. `--renew-golden` writes them anew."""

from __future__ import annotations

import io
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image, ImageChops, ImageStat

import pinmap

FOLDER = Path(__file__).parents[1] / "out" / "pictures"
README = (FOLDER.parents[1] / "README.md").read_text(encoding="utf-8")


def kept(name: str, made: bytes, request: pytest.FixtureRequest) -> bytes:
    if request.config.getoption("--renew-golden"):
        FOLDER.mkdir(exist_ok=True)
        (FOLDER / name).write_bytes(made)
    return (FOLDER / name).read_bytes()


def test_the_drawing_is_what_draw_makes(request: pytest.FixtureRequest) -> None:
    made = pinmap.draw_svg("oakmere-88").encode()
    assert kept("oakmere-88.svg", made, request) == made


def test_the_page_looks_like_the_page_that_is_made(request: pytest.FixtureRequest) -> None:
    """Another release of the typesetter may move a letter by a hair; another table would be seen."""
    printed = pinmap.render(pinmap.adapt("oakmere-88", "isa-8bit"), only=["wiring.pdf"])["wiring.pdf"]
    page = pypdfium2.PdfDocument(printed)[1].render(scale=96 / 72).to_pil().convert("L")
    stream = io.BytesIO()
    page.quantize(16).save(stream, "PNG", optimize=True)
    shown = Image.open(io.BytesIO(kept("wiring-page.png", stream.getvalue(), request))).convert("L")
    assert shown.size == page.size == (794, 1123)
    coarse = [image.resize((200, 283), Image.Resampling.BOX) for image in (shown, page)]
    difference = ImageChops.difference(*coarse)
    assert ImageStat.Stat(difference).mean[0] < 1
    assert max(difference.tobytes()) < 60


def test_the_board_in_the_picture_is_the_board_that_is_made() -> None:
    """Bare metal or a hole wherever the board has a pad, mask where it has none, at the size of the picture."""
    layout = pinmap.make_board(pinmap.adapt("oakmere-riser")).layout
    shown = Image.open(FOLDER / "oakmere-board.png").convert("L")
    grey, wide = shown.tobytes(), shown.width
    width, height = layout.size_um
    scale = shown.width / (width / 1000 + 4)  # the picture has 2 mm round the board
    assert abs(shown.height - (height / 1000 + 4) * scale) < 1.5
    for pad in layout.pads:
        x, y = (pad.x_um / 1000 + 2) * scale, (pad.y_um / 1000 + 2) * scale
        assert grey[round(y) * wide + round(x)] > 180, pad
        beside = y - (pad.height_um / 2000 + 0.18) * scale  # in the gap round the pad, or on copper under the mask
        assert grey[round(beside) * wide + round(x)] < 180, pad


def test_the_readme_shows_every_picture_and_they_are_small() -> None:
    pictures = sorted(FOLDER.iterdir())
    assert [p.name for p in pictures] == ["oakmere-88.svg", "oakmere-board.png", "wiring-page.png"]
    for picture in pictures:
        assert f'src="out/pictures/{picture.name}"' in README
        assert picture.stat().st_size < 100_000
