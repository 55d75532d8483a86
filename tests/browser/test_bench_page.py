"""The page at the bench in a real browser: what a finger, a keyboard and a screen reader meet."""

from __future__ import annotations

import importlib
import io
import os
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from built import Built, at, small
from handmade import Line, pin_map, shipped, strip
from handparts import with_parts
from msgspec.structs import replace

import pinmap
from pinmap import bench
from pinmap.adapter import Adapter
from pinmap.bench import Judged
from pinmap.bench.plan import of_adapter
from pinmap.meter import ohms, volts
from pinmap.model import Signal
from pinmap.planner import plan
from pinmap.readings import Readings, parse
from pinmap.writers.page import html

pytestmark = pytest.mark.browser
CHROMIUM = next((found for name in ("chromium", "chromium-browser") if (found := shutil.which(name))), None)
MUST = os.environ.get("CI_BROWSER") == "1"

try:
    from playwright.sync_api import Browser, Page, sync_playwright
except ImportError:
    if MUST:
        raise
    pytest.skip("playwright is not installed", allow_module_level=True)

HOSTILE = '</script><img src=x onerror="window.ran=1">"><svg onload=\'window.ran=1\'>'


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        if MUST:
            pytest.fail("CI_BROWSER=1 asks for chromium, and there is none")
        pytest.skip("there is no chromium")
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield launched
        launched.close()


class Bench:
    """A page that is open, what it complained of, and what a person does with it."""

    def __init__(self, browser: Browser, adapter: Adapter, folder: Path, **options: Any):
        self.adapter = adapter
        self.file = folder / "bench.html"
        self.file.write_text(html(adapter), encoding="utf-8")
        self.context = browser.new_context(**({"viewport": {"width": 1200, "height": 900}} | options))
        self.complaints: list[str] = []
        self.asked: list[str] = []
        self.page: Page = self.context.new_page()
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(self.file.as_uri())

    def write(self, step: int, reading: str) -> str:
        self.page.fill(f"input[data-step='{step}']", reading)
        return self.page.inner_text(f"#v{step}")

    def write_all(self, values: Sequence[str]) -> None:
        """Put readings where the page keeps them, and open it again."""
        kept = {str(step): value for step, value in enumerate(values, 1) if value}
        self.page.evaluate(
            "kept => { const key = JSON.parse(document.getElementById('plan').textContent).key;"
            " localStorage.setItem(key, JSON.stringify({ticks: {}, readings: kept})); }",
            kept,
        )
        self.page.reload()

    def verdict(self) -> str | None:
        return self.page.get_attribute("#answer", "data-verdict")

    def step_of(self, start: str, stop: str, kind: str) -> int:
        rows = bench.form(self.adapter)
        return next(n for n, r in enumerate(rows, 1) if (str(r.start), r.to, r.kind) == (start, stop, kind))

    def lit(self, ref: str) -> list[str]:
        found: list[str] = self.page.eval_on_selector_all(f"#sight-{ref} g.lit", "gs => gs.map(g => g.dataset.contact)")
        return sorted(set(found))

    def downloaded(self) -> bytes:
        with self.page.expect_download() as waited:
            self.page.click("#download")
        assert waited.value.suggested_filename == "readings.csv"
        return Path(waited.value.path()).read_bytes()

    def judged(self) -> tuple[Readings, Judged]:
        readings = parse(self.downloaded(), "readings.csv", of_adapter(self.adapter).labels)
        return readings, bench.judge(self.adapter, readings)


@pytest.fixture(scope="module")
def oakmere() -> Adapter:
    return pinmap.adapt("oakmere-88", "isa-8bit")


@pytest.fixture
def opened(browser: Browser, oakmere: Adapter, tmp_path: Path) -> Iterator[Bench]:
    here = Bench(browser, oakmere, tmp_path)
    yield here
    here.context.close()
    assert here.complaints == []
    assert {url.partition(":")[0] for url in here.asked} <= {"file", "blob"}


def test_a_tap_on_a_wire_lights_both_its_ends(opened: Bench) -> None:
    wire = next(w for w in pinmap.wires(opened.adapter) if w.signal == "SD0")
    opened.page.click(f"tr:has(input[data-tick='{wire.number}']) td:nth-child(5)")
    assert (opened.lit("J1"), opened.lit("J2")) == ([wire.start.label], [wire.stop.label])
    assert opened.page.inner_text("#lit") == f"Wire {wire.number}: J1 {wire.start.label} to J2 {wire.stop.label}, SD0"
    assert opened.page.locator("circle.ring").count() == 2


def test_ticks_and_readings_survive_closing_the_page(opened: Bench) -> None:
    opened.page.check("input[data-tick='1']")
    opened.write(1, "OL")
    assert "Next: wire 2" in opened.page.inner_text("#next")
    opened.page.close()
    opened.page = opened.context.new_page()
    opened.page.goto(opened.file.as_uri())
    assert opened.page.is_checked("input[data-tick='1']")
    assert not opened.page.is_checked("input[data-tick='2']")
    assert opened.page.input_value("input[data-step='1']") == "OL"
    assert "Next: wire 2" in opened.page.inner_text("#next")


def test_another_plan_has_ticks_of_its_own(browser: Browser, oakmere: Adapter, tmp_path: Path) -> None:
    here = Bench(browser, oakmere, tmp_path)
    here.page.check("input[data-tick='1']")
    here.file.write_text(html(small()), encoding="utf-8")
    here.page.reload()
    assert not here.page.is_checked("input[data-tick='1']")
    here.context.close()


def test_the_next_step_stays_in_sight_and_leads_from_wire_to_reading(opened: Bench) -> None:
    for number in range(1, len(pinmap.wires(opened.adapter)) + 1):
        opened.page.click("#quick button:has-text('Done')")
        assert opened.page.is_checked(f"input[data-tick='{number}']")
    assert opened.page.inner_text("#next").startswith("Next: step 1, resistance, J2 B3 to J2 B1; expected OL")
    opened.page.click("#quick button:has-text('OL')")
    assert opened.page.inner_text("#next").startswith("Next: step 2, resistance")
    opened.page.evaluate("scrollTo(0, document.body.scrollHeight)")
    box = opened.page.locator("#next").bounding_box()
    assert box
    assert 0 <= box["y"] < 900


def test_a_reading_is_judged_at_once(opened: Bench) -> None:
    wire = opened.step_of("J1 17", "J2 A9", "continuity")
    assert opened.write(wire, "0.3") == "right"
    assert opened.write(wire, "OL") == "wrong: J2 A9: open"
    assert opened.write(wire, "4k7") == "wrong: J2 A9: neither joined nor open"
    assert opened.write(wire, "yes") == "not understood: write what the meter showed, not what it means"
    assert opened.write(wire, "") == ""
    rail = opened.step_of("J2 B3", "J2 B1", "resistance")
    assert opened.write(rail, "OL") == "right"
    volt = opened.step_of("J2 B3", "J2 B1", "volts")
    assert opened.write(volt, "4.98 V") == "right"
    assert opened.write(volt, "5,3") == "wrong: do not apply power; it must read from +4.75 V to +5.25 V"
    assert opened.page.inner_text("#first") == "Do not apply power."


def test_a_shorted_supply_says_do_not_apply_power_at_the_top(opened: Bench) -> None:
    said = opened.write(opened.step_of("J2 B3", "J2 B1", "resistance"), "0.4")
    assert said == "wrong: do not apply power; J2 B1: joined to GND"
    assert opened.page.inner_text("#answer").startswith("Do not apply power. +5V (J2 B3) is joined to GND (J2 B1)")
    assert opened.page.inner_text("#next").startswith("Do not apply power.")
    readings, judged = opened.judged()
    assert [reading.written for reading in readings.taken] == ["0.4"]
    assert judged.verdict == "do not apply power" == opened.verdict()


#: What a meter may show, and what a person may write instead; parted by bars.
OHMS = (
    "0.3|0,3|OL|O.L|0L|.OL|OL.|OL MΩ|inf|open|>20M|>OL|<5|<50|beep|Beep|no  beep|silent|1|1 .|1 Ω|4k7|2R2|22R|4M7|4m7|"
    "12.4k|1.2 MΩ|1,200|0.3 ohm|20m|20 mΩ|-0.2|-3|−0.5|ok|yes|12 V|5 mA|3?|nonsense|10|10.1|999k|1M|5 kohm|1 meg"
)
VOLTS = "4.98|4,98 V|4980 mV|4.74|4.75|5.25|5.26 V|-5|5 V AC|5 VDC|OL|5 k|5 Ω|0.005 kV|+5|5000000 µV|x"


def test_ohms_are_read_as_the_command_reads_them(opened: Bench) -> None:
    plan = of_adapter(opened.adapter)
    step = opened.step_of("J2 B3", "J2 B1", "resistance")
    for written in OHMS.split("|"):
        try:
            wanted = "right" if plan.touch(at("J2 B3"), at("J2 B1"), ohms(written)) == "apart" else "danger"
        except ValueError:
            wanted = "not read"
        opened.write(step, written)
        assert (written, opened.page.get_attribute(f"#v{step}", "data-verdict")) == (written, wanted)


def test_volts_are_read_as_the_command_reads_them(opened: Bench) -> None:
    step = opened.step_of("J2 B3", "J2 B1", "volts")
    span = of_adapter(opened.adapter).volts(at("J2 B3"))
    assert span
    for written in VOLTS.split("|"):
        try:
            wanted = "right" if span.holds(volts(written)) else "danger"
        except ValueError:
            wanted = "not read"
        opened.write(step, written)
        assert (written, opened.page.get_attribute(f"#v{step}", "data-verdict")) == (written, wanted)


def test_a_sweep_is_held_against_the_plan(opened: Bench) -> None:
    step = opened.step_of("J2 B3", "J1", "sweep")
    assert opened.write(step, "4 60") == "right"
    assert opened.write(step, "J1 60, j1-4") == "right"
    assert opened.write(step, "4") == "wrong: do not apply power; J1 60: open"
    assert opened.write(step, "4 60 17") == "wrong: do not apply power; J1 17: joined to SD0"
    assert opened.write(step, "4 60 99").startswith("not understood: there is no contact 99 on J1")


def test_a_faultless_adapter_passes_here_and_at_the_command(opened: Bench) -> None:
    rows = bench.form(opened.adapter)
    opened.write_all(Built(opened.adapter).show(rows))
    assert opened.verdict() == "all readings pass"
    readings, judged = opened.judged()
    assert len(readings.taken) == len(rows)
    assert judged.verdict == "all readings pass"


FAULTS = {
    "a wire left out": lambda b: b.open(20),
    "a supply's wire left out": lambda b: b.open(15),
    "a return left out": lambda b: b.open(1).open(2).open(3),
    "a supply bridged to a line": lambda b: b.short("J2 B3", "J2 B4"),
    "two lines bridged": lambda b: b.short("J2 A2", "J2 A3"),
    "two supplies bridged": lambda b: b.short("J2 B7", "J2 B9"),
    "a return bridged to a line": lambda b: b.short("J2 B31", "J2 B30"),
    "two wires exchanged": lambda b: b.exchange(17, 18),
    "a supply and a line exchanged": lambda b: b.exchange(15, 17),
    "a wire moved": lambda b: b.move(20, "J2 B8"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_the_verdict_on_a_fault_is_that_of_the_command(opened: Bench, fault: str) -> None:
    rows = bench.form(opened.adapter)
    values = FAULTS[fault](Built(opened.adapter)).show(rows)
    values = ["" if row.kind == "volts" else value for row, value in zip(rows, values, strict=True)]
    opened.write_all(values)
    _, judged = opened.judged()
    assert opened.verdict() == judged.verdict
    assert judged.verdict in ("do not apply power", "mend first")


def test_a_contradiction_is_no_pass(opened: Bench) -> None:
    rows = bench.form(opened.adapter)
    values = Built(opened.adapter).show(rows)
    values[opened.step_of("J1 4", "J2 B3", "continuity") - 1] = "OL"  # the sweep of +5V says the opposite
    opened.write_all(values)
    _, judged = opened.judged()
    assert opened.verdict() == judged.verdict != "all readings pass"


def test_negative_volts_come_back_from_the_file_as_they_were_typed(opened: Bench) -> None:
    opened.write(opened.step_of("J2 B7", "J2 B1", "volts"), "-11.9 V")
    assert b", -11.9 V," in opened.downloaded()  # a spreadsheet must not begin to compute
    readings, _ = opened.judged()
    assert [reading.volts for reading in readings.taken] == [-11.9]


def hostile(adapter: Adapter) -> Adapter:
    first = adapter.findings[0]
    return replace(
        adapter,
        host=replace(adapter.host, title=HOSTILE),
        nets=tuple(replace(net, remark=HOSTILE) for net in adapter.nets),
        findings=(replace(first, message=HOSTILE, advice=HOSTILE), *adapter.findings[1:]),
        unmapped=tuple(replace(u, effect=HOSTILE) for u in adapter.unmapped),
    )


def test_hostile_titles_and_notes_show_and_run_nothing(browser: Browser, oakmere: Adapter, tmp_path: Path) -> None:
    here = Bench(browser, hostile(oakmere), tmp_path)
    assert here.page.inner_text("h1") == f"{HOSTILE} to ISA slot, 8-bit"
    assert here.page.locator(".wires .small").first.text_content()
    assert HOSTILE in here.page.inner_text(".wires")
    assert here.page.evaluate("window.ran") is None
    assert here.page.locator("img").count() == 0
    here.page.check("input[data-tick='1']")  # the page's own script ran to its end
    assert "Next: wire 2" in here.page.inner_text("#next")
    assert here.complaints == []
    here.context.close()


def test_the_policy_lets_no_other_script_run(opened: Bench) -> None:
    opened.page.evaluate(
        "() => { const s = document.createElement('script'); s.textContent = 'window.ran = 1';"
        " document.body.append(s); }"
    )
    assert opened.page.evaluate("window.ran") is None
    assert len(opened.complaints) == 1
    assert "Content Security Policy" in opened.complaints.pop()


LONG = ["LOUDSPEAKER_OUTPUT_OF_THE_MAINBOARD_LEFT_CHANNEL", "AN OWN NAME WITH BLANKS AND (BRACKETS) AND 中文"]


def with_long_names() -> Adapter:
    """A machine whose names, options and title are as long as anybody may write them."""
    own = [Signal(name, "own", "a line of the maker's own " * 8) for name in LONG]
    lines = {
        "1": "GND",
        "2": "+5V",
        "3": LONG[0],
        "4": Line(LONG[1], option="second_processor_board_with_" * 3),
        "5": "SD0",
    }
    made = plan(pin_map(lines, strip(8), own=own), shipped("isa-8bit"), ())
    return replace(made, host=replace(made.host, title="A_title_with_no_place_to_break_it_" * 4))


PHONES = [
    *(("oakmere-88", "isa-8bit"), ("tarn-rack", "isa-16bit")),
    *(("brindle-riser", None), ("oakmere-riser", None), ("", "")),
]


@pytest.mark.parametrize(("host", "card"), PHONES)
def test_a_phone_never_scrolls_sideways(browser: Browser, tmp_path: Path, host: str, card: str | None) -> None:
    here = Bench(
        browser,
        pinmap.adapt(host, card) if host else with_long_names(),
        tmp_path,
        viewport={"width": 360, "height": 740},
        has_touch=True,
        is_mobile=True,
    )
    here.page.tap("button[aria-label='show wire 3 on the drawings']")
    assert here.page.locator("circle.ring").count() == 2
    here.write(1, "1k")
    assert here.page.evaluate("document.documentElement.scrollWidth") == 360
    for ref in ("J1", "J2"):  # the contact lies in what is seen of its drawing
        sight, ring = here.page.locator(f"#sight-{ref}"), here.page.locator(f"#sight-{ref} circle.ring")
        if ring.count():
            around, inside = sight.bounding_box(), ring.first.bounding_box()
            assert around
            assert inside
            assert around["x"] <= inside["x"] + inside["width"] / 2 <= around["x"] + around["width"]
    assert here.complaints == []
    here.context.close()


def test_what_is_filled_in_stays_above_the_bar_on_a_phone(browser: Browser, tmp_path: Path) -> None:
    adapter = pinmap.adapt("oakmere-88", "isa-8bit")
    here = Bench(browser, adapter, tmp_path, viewport={"width": 360, "height": 780})
    for step, reading in ((1, "0.3"), (20, "B10"), (105, "beep"), (238, "5.0")):
        here.page.focus(f"input[data-step='{step}']")
        here.page.keyboard.type(reading)
        here.page.keyboard.press("Tab")
        field, bar = here.page.locator(":focus").bounding_box(), here.page.locator("#bar").bounding_box()
        drawings = here.page.locator(".drawings").bounding_box()
        assert field
        assert bar
        assert drawings
        assert drawings["y"] + drawings["height"] <= field["y"]
        assert field["y"] + field["height"] <= bar["y"]
        assert bar["height"] < 140
    assert here.verdict() == "do not apply power"
    here.context.close()


def test_volts_with_a_card_in_are_judged_kept_and_no_part_of_the_readings(opened: Bench) -> None:
    page = opened.page
    page.fill("input[data-again='236']", "5.02")
    assert page.inner_text("#w236") == "right"
    page.fill("input[data-again='238']", "10.9")
    assert page.inner_text("#w238") == "wrong: switch off at once; it must read from +11.4 V to +12.6 V"
    page.fill("input[data-again='239']", "ok")
    assert page.inner_text("#w239").startswith("not understood: ")
    page.reload()
    assert page.input_value("input[data-again='236']") == "5.02"
    assert page.inner_text("#w238").startswith("wrong: switch off at once")
    with page.expect_download() as waiting:
        page.click("#download")
    assert "5.02" not in Path(waiting.value.path()).read_text(encoding="utf-8")


def test_it_prints(opened: Bench) -> None:
    opened.write(1, "OL")
    pdf = opened.page.pdf(format="A4")
    assert pdf.startswith(b"%PDF")
    pdfium = importlib.import_module("pypdfium2") if MUST else pytest.importorskip("pypdfium2")
    document = pdfium.PdfDocument(io.BytesIO(pdf))
    text = "\n".join(document[page].get_textpage().get_text_range() for page in range(len(document)))
    assert "Oakmere 88 cabinet header to ISA slot, 8-bit" in text
    assert "Next: wire" not in text
    assert "J2 A9" in text


def test_everything_can_be_done_from_the_keyboard(opened: Bench) -> None:
    opened.page.focus("input[data-tick='1']")
    opened.page.keyboard.press("Space")
    assert opened.page.is_checked("input[data-tick='1']")
    opened.page.keyboard.press("Tab")
    opened.page.keyboard.press("Enter")
    assert opened.page.inner_text("#lit").startswith("Wire 1:")
    opened.page.focus("input[data-step='1']")
    opened.page.keyboard.type("OL")
    opened.page.keyboard.press("Enter")
    assert opened.page.evaluate("document.activeElement.dataset.step") == "2"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1200])
@pytest.mark.parametrize("host", ["oakmere-88", "brindle-portable"])
def test_no_rule_of_accessibility_is_broken(
    browser: Browser, tmp_path: Path, scheme: str, width: int, host: str
) -> None:
    adapter = pinmap.adapt(host, "isa-8bit")
    here = Bench(browser, adapter, tmp_path, viewport={"width": width, "height": 900}, color_scheme=scheme)
    here.page.check("input[data-tick='1']")
    here.write(1, "OL")
    here.write(2, "1k")
    here.write(3, "ok")
    assert violations(here) == []
    here.context.close()


def test_a_plan_that_must_not_be_built_says_so_first_and_asks_for_no_volts(browser: Browser, tmp_path: Path) -> None:
    here = Bench(browser, pinmap.adapt("brindle-portable", "isa-8bit"), tmp_path)
    assert here.page.inner_text(".top p").startswith("Do not build")
    assert here.page.locator("#h-power").count() == 0
    assert here.page.inner_text("#next").startswith("Do not build.")
    assert here.verdict() == "do not apply power"
    here.context.close()


def test_dark_and_bright_are_kept(opened: Bench) -> None:
    tone = "getComputedStyle(document.body).backgroundColor"
    bright = opened.page.evaluate(tone)
    opened.page.click("#bench")
    dark = opened.page.evaluate(tone)
    assert bright != dark
    opened.page.reload()
    assert opened.page.evaluate(tone) == dark


# ------------------------------------------------------------------ parts


def violations(here: Bench) -> list[tuple[str, list[str]]]:
    """What the page breaks of the rules of accessibility."""
    try:
        axe = importlib.import_module("axe_playwright_python.sync_playwright").Axe()
    except ImportError:
        if MUST:
            raise
        pytest.skip("axe-playwright-python is not installed")
    found = axe.run(here.page).response["violations"]
    return [(v["id"], [n["html"][:120] for n in v["nodes"][:3]]) for v in found]


@pytest.fixture
def parted(browser: Browser, tmp_path: Path) -> Iterator[Bench]:
    opened = Bench(browser, with_parts(), tmp_path)
    yield opened
    assert opened.complaints == []
    opened.context.close()


def solder(opened: Bench) -> None:
    for box in opened.page.query_selector_all("input[data-tick]:not([data-late])"):
        box.check()


def readings_off(opened: Bench) -> list[str]:
    """Right readings for all steps with power off, none for the others."""
    words = {"continuity": "beep", "isolation": "OL", "resistance": "OL"}
    rows = bench.form(opened.adapter)
    return ["" if row.kind == "volts" else words.get(row.kind, row.expected) for row in rows]


def test_parts_come_after_the_readings_with_power_off_and_before_the_power(parted: Bench) -> None:
    page = parted.page
    assert page.inner_text("#next").startswith("Next: wire 1, ")
    assert page.inner_text("#parts-warning") == "Not yet: first every reading with power off."
    solder(parted)
    assert page.inner_text("#next").startswith("Next: step 1, resistance, ")
    values = readings_off(parted)
    ticks = page.evaluate(
        "JSON.parse(localStorage.getItem(JSON.parse(document.getElementById('plan').textContent).key)).ticks"
    )
    page.evaluate(
        "([readings, ticks]) => localStorage.setItem(JSON.parse(document.getElementById('plan').textContent).key,"
        " JSON.stringify({ticks, readings}))",
        [{str(n): value for n, value in enumerate(values, 1) if value}, ticks],
    )
    page.reload()
    assert page.inner_text("#parts-warning") == ""
    assert page.inner_text("#power-warning") == "Not yet: first the parts and their leads."
    told = []
    while page.inner_text("#next").startswith(("Power off. Next: fit ", "Next: lead ")):
        told.append(page.inner_text("#next"))
        page.click("#quick button:has-text('Done')")
    assert told == [
        "Power off. Next: fit R1, 10 kΩ, resistor: pull-up on DACK3*",
        "Next: lead 67, J2 B3 to R1 2 (+5V)",
        "Next: lead 73, J2 B15 to R1 1 (card B15 DACK3*)",
        "Power off. Next: fit C1, 100 nF, capacitor: decoupling of Y1",
        "Next: lead 65, J2 B1 to C1 2 (GND)",
        "Next: lead 68, J2 B3 to C1 1 (+5V)",
        "Power off. Next: fit Y1, 14.31818 MHz, oscillator: OSC of the card",
        "Next: lead 66, J2 B10 to Y1 7 (GND)",
        "Next: lead 69, J2 B29 to Y1 14 (+5V)",
        "Next: lead 71, J2 B30 to Y1 8 (card B30 OSC)",
        "Power off. Next: fit JP1, 1×2 pins, jumper: IRQ7 of the card to IRQ3 of the slot",
        "Next: lead 70, J2 B25 to JP1 2 (IRQ3)",
        "Next: lead 72, J2 B21 to JP1 1 (card B21 IRQ7)",
    ]
    assert ", volts, " in page.inner_text("#next")
    assert page.inner_text("#power-warning") == ""
    page.reload()
    assert page.is_checked("input[data-tick='JP1']")


def test_parts_that_are_in_too_early_are_told(parted: Bench) -> None:
    parted.page.check("input[data-tick='R1']")
    assert parted.page.inner_text("#parts-warning").startswith("Not every reading with power off is right, and parts")
    assert parted.page.inner_text("#next").startswith("Next: wire 1, ")


def test_a_wrong_reading_keeps_the_parts_out(parted: Bench) -> None:
    solder(parted)
    values = readings_off(parted)
    step = parted.step_of("J1 17", "J2 A9", "continuity")
    parted.write_all([*values[: step - 1], "OL", *values[step:]])
    solder(parted)
    assert parted.page.inner_text("#next").startswith("Mend first.")


@pytest.mark.parametrize(
    ("tick", "contacts", "said"),
    [
        ("Y1", ["B10", "B29", "B30"], "Y1: 14.31818 MHz, oscillator: OSC of the card"),
        ("72", ["B21"], "Lead 72 of JP1 (1×2 pins): J2 B21 to JP1 1, card B21 IRQ7"),
    ],
)
def test_a_tap_on_a_part_or_a_lead_lights_its_contacts(
    parted: Bench, tick: str, contacts: list[str], said: str
) -> None:
    parted.page.locator(f"tr:has(input[data-tick='{tick}']) button").click()
    assert parted.lit("J2") == contacts
    assert parted.lit("J1") == []
    assert parted.page.inner_text("#lit") == said
    assert parted.page.locator("button[aria-pressed=true]").count() == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_parts_make_no_phone_scroll_sideways_and_break_no_rule_of_accessibility(
    browser: Browser, tmp_path: Path, scheme: str
) -> None:
    opened = Bench(browser, with_parts(), tmp_path, viewport={"width": 360, "height": 740}, color_scheme=scheme)
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 360
    opened.page.check("input[data-tick='Y1']")
    opened.page.locator("tr:has(input[data-tick='72']) button").click()
    assert violations(opened) == []
    opened.context.close()
