"""The page at the bench, without a browser: what it holds against the plan, and what it must not hold."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import time
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from handparts import with_parts
from msgspec.structs import replace

import pinmap
from pinmap import bench
from pinmap.adapter import Adapter
from pinmap.bench.plan import APART_OHMS, of_adapter
from pinmap.meter import JOINED_OHMS
from pinmap.readings import form_csv
from pinmap.wiring import unwired, wires
from pinmap.writers.fitted import AFTER, WHEN, fitted, lead_said
from pinmap.writers.page import html
from pinmap.writers.tables import CAUTIONS

PAIRS = [
    ("oakmere-88", "isa-8bit"),
    ("brindle-portable", "isa-8bit"),
    ("tarn-rack", "isa-16bit"),
    ("pc104-8bit", "isa-8bit"),
]
HOSTILE = '</script><img src=x onerror="run()">"><svg onload=\'run()\'><!-- {{x}} $title ${script}'


class Page(HTMLParser):
    """The page as a reader meets it: its elements, the texts of its rows, its scripts."""

    def __init__(self, text: str):
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.rows: list[list[str]] = []
        self.words: list[str] = []
        self.scripts: list[tuple[dict[str, str | None], str]] = []
        self.styles: list[str] = []
        self._inside = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._inside = tag
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
        elif tag == "script":
            self.scripts.append((dict(attrs), ""))

    def handle_endtag(self, tag: str) -> None:
        self._inside = "" if tag in ("script", "style", "table", "tbody", "tr", "td", "th", "section") else self._inside
        if tag == "table":
            self.rows.append([])

    def handle_data(self, data: str) -> None:
        if self._inside == "script":
            self.scripts[-1] = (self.scripts[-1][0], self.scripts[-1][1] + data)
        elif self._inside == "style":
            self.styles.append(data)
        else:
            self.words.append(data)
            if self.rows and self.rows[-1]:
                self.rows[-1][-1] += data

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    @property
    def plan(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(next(text for attrs, text in self.scripts if attrs.get("id") == "plan"))
        return found

    def with_attr(self, name: str) -> list[str]:
        return [attrs[name] or "" for _, attrs in self.tags if name in attrs]


def adapter(host: str, card: str) -> Adapter:
    return pinmap.adapt(host, card)


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_the_page_has_the_plan_wire_by_wire(host: str, card: str) -> None:
    made = adapter(host, card)
    page = Page(html(made))
    wires = [row for row in page.rows if len(row) == 5 and row[1].isdigit()]
    assert [(row[1], row[2], row[3]) for row in wires] == [
        (str(w.number), *(f"{p.ref} {p.label}pad {p.pad}" for p in (w.start, w.stop))) for w in pinmap.wires(made)
    ]
    assert all(row[4].startswith(w.signal) and w.remark in row[4] for row, w in zip(wires, pinmap.wires(made)))  # noqa: B905
    assert page.with_attr("data-tick") == [str(w.number) for w in pinmap.wires(made)]
    assert page.plan["wires"] == {
        str(w.number): {
            "from": f"{w.start.ref} {w.start.label}",
            "to": f"{w.stop.ref} {w.stop.label}",
            "signal": w.signal,
        }
        for w in pinmap.wires(made)
    }
    loose = [row for row in page.rows if len(row) == 3 and "pad " in row[0]]
    assert [(row[0], row[1]) for row in loose] == [
        (f"{p.ref} {p.label}pad {p.pad}", net.name) for net, p in unwired(made)
    ]


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_the_page_asks_for_the_readings_of_the_form(host: str, card: str) -> None:
    made = adapter(host, card)
    rows = bench.form(made)
    page = Page(html(made))
    shown = [row for row in page.rows if len(row) == 4 and row[0].isdigit()]
    assert [row[0] for row in shown] == [str(step) for step in range(1, len(rows) + 1)]
    for row, cells in zip(rows, shown, strict=True):
        over = f"over {row.over}" if row.over else f"to {row.to}"
        assert cells[1] == f"{row.start} {over}{row.note}"
        assert cells[2] == row.expected
    assert "\r\n".join(_csv(cells) for cells in page.plan["form"]) + "\r\n" == form_csv(rows)
    spans = {
        str(row.start): (span.low, span.high)
        for row in rows
        if row.kind == "volts" and (span := of_adapter(made).volts(row.start))
    }
    assert {r["start"]: (r["low"], r["high"]) for r in page.plan["rows"] if r.get("low") is not None} == spans
    assert (page.plan["joined_ohms"], page.plan["apart_ohms"]) == (JOINED_OHMS, APART_OHMS)


def _csv(cells: list[str]) -> str:
    return ",".join(f'"{cell}"' if re.search('[,"\r\n]', cell) else cell for cell in cells)


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_both_drawings_show_every_contact(host: str, card: str) -> None:
    made = adapter(host, card)
    drawn = Page(html(made)).with_attr("data-contact")
    wanted = {*made.host_connector.body.labels, *made.card_connector.body.labels}
    assert set(drawn) == wanted


def test_title_verdict_cautions_findings_and_remedies_are_in_the_text() -> None:
    made = adapter("oakmere-88", "isa-8bit")
    text = Page(html(made)).text
    assert made.title in text
    assert "Build with care" in text
    for caution in CAUTIONS:
        assert caution in text
    for finding in made.findings:
        said = finding.message.partition(": ")[2] if finding.code == "signal-absent" else finding.message
        assert " ".join(said.split()) in text  # absent signals stand below, those alike together
    for one in made.unmapped:
        assert one.signal in text
        assert str(one.remedy) in text


def test_a_plan_that_must_not_be_built_says_so_first_and_has_no_power_on() -> None:
    page = Page(html(adapter("brindle-portable", "isa-8bit")))
    text = page.text
    assert text.index("Do not build") < text.index("Before anything is connected")
    assert "Power on" not in text
    assert page.plan["refused"]
    assert not [row for row in page.plan["rows"] if row["kind"] == "volts"]


def test_an_adapter_that_may_be_built_has_its_volts_last() -> None:
    page = Page(html(adapter("oakmere-88", "isa-8bit")))
    assert "Power on" in page.text
    kinds = [row["kind"] for row in page.plan["rows"]]
    assert kinds[kinds.index("volts") :] == ["volts"] * kinds.count("volts")


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_the_page_reaches_for_nothing(host: str, card: str) -> None:
    text = html(adapter(host, card))
    assert set(re.findall(r"https?://[^\s\"'<>]*", text)) == {"http://www.w3.org/2000/svg"}
    page = Page(text)
    assert not {"img", "link", "iframe", "object", "embed", "base", "form"} & {tag for tag, _ in page.tags}
    assert not {"src", "href", "style", "action"} & {name for _, attrs in page.tags for name in attrs}
    assert not [name for _, attrs in page.tags for name in attrs if name.startswith("on")]


def test_the_policy_names_the_one_script_and_the_one_style_by_their_hashes() -> None:
    page = Page(html(adapter("oakmere-88", "isa-8bit")))
    policy = next(a["content"] for _, a in page.tags if a.get("http-equiv") == "Content-Security-Policy")
    script = "".join(text for attrs, text in page.scripts if not attrs)

    def digest(text: str) -> str:
        return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"

    assert policy == (
        f"default-src 'none'; script-src {digest(script)}; style-src {digest(''.join(page.styles))}; "
        "base-uri 'none'; form-action 'none'"
    )


def test_hostile_words_are_shown_and_make_no_element() -> None:
    made = adapter("oakmere-88", "isa-8bit")
    plain = Page(html(made))
    hostile = replace(
        made,
        host=replace(made.host, title=HOSTILE),
        nets=tuple(replace(net, remark=HOSTILE) for net in made.nets),
        findings=tuple(replace(f, message=HOSTILE, advice=HOSTILE) for f in made.findings),
        unmapped=tuple(replace(u, effect=HOSTILE, reason=HOSTILE) for u in made.unmapped),
    )
    page = Page(html(hostile, date=HOSTILE))
    assert {tag for tag, _ in page.tags} == {tag for tag, _ in plain.tags}
    assert len(page.scripts) == len(plain.scripts) == 2
    assert page.text.startswith(f"{HOSTILE} to ISA slot, 8-bit")
    assert HOSTILE in " ".join(page.rows[1])
    assert page.plan["wires"] == plain.plan["wires"]


def test_names_that_would_end_the_data_stay_inside_it() -> None:
    made = adapter("oakmere-88", "isa-8bit")
    nets = (*made.nets[:-1], replace(made.nets[-1], name="</script><!--\u2028&"))
    page = Page(html(replace(made, nets=nets)))
    assert len(page.scripts) == 2
    data = next(text for attrs, text in page.scripts if attrs.get("id") == "plan")
    assert not set("<>&\u2028") & set(data)
    assert page.plan["nets"][len(nets) - 1]["name"] == "</script><!--\\u2028&"


def test_the_same_plan_gives_the_same_bytes_and_another_plan_another_key() -> None:
    one = adapter("oakmere-88", "isa-8bit")
    assert html(one) == html(adapter("oakmere-88", "isa-8bit"))
    other = replace(one, nets=tuple(n for n in reversed(one.nets)))
    assert Page(html(one)).plan["key"] != Page(html(other)).plan["key"]
    assert Page(html(one)).plan["key"] == Page(html(one, date="1 May")).plan["key"]


def test_a_date_stands_there_only_where_it_is_given() -> None:
    made = adapter("oakmere-88", "isa-8bit")
    assert "Date:" not in Page(html(made)).text
    assert "Date: 1 May 2031." in Page(html(made, date="1 May 2031")).text


def test_the_page_stays_small_and_is_made_at_once() -> None:
    made = adapter("oakmere-88", "isa-8bit")
    html(made)
    begun = time.perf_counter()
    text = html(made)
    assert time.perf_counter() - begun < 0.1
    assert len(text.encode()) <= 300_000


def test_style_and_script_lie_inside_the_package() -> None:
    folder = Path(pinmap.__file__).parent / "writers"
    assert {p.name for p in folder.glob("page.*")} == {"page.py", "page.html", "page.css", "page.js"}


# ------------------------------------------------------------------ parts


def test_parts_and_leads_are_steps_after_the_readings_and_before_the_power() -> None:
    text = html(with_parts())
    page = Page(text)
    assert text.index('id="h-wiring"') < text.index('id="h-readings"') < text.index('id="h-parts"')
    assert text.index('id="h-parts"') < text.index('id="h-power"')
    late = [attrs["data-tick"] for tag, attrs in page.tags if tag == "input" and "data-late" in attrs]
    steps = [[f.part.ref, *(str(lead.number) for lead in f.leads)] for f in fitted(with_parts())]
    assert late == [tick for step in steps for tick in step]
    early = [a["data-tick"] for t, a in page.tags if t == "input" and "data-tick" in a and "data-late" not in a]
    assert early == [str(w.number) for w in wires(with_parts()) if w.kind != "lead"]
    assert WHEN in page.text
    assert AFTER in page.text
    for f in fitted(with_parts()):
        for said in (f.value, f.what, *f.joined, f.why, f.part.footprint, f.part.fit[1:]):
            assert said in page.text
    assert "carried out by R1: pull up 10 kΩ to +5V" in page.text


def test_the_data_names_the_part_of_each_lead_and_the_contacts_of_each_part() -> None:
    plan = Page(html(with_parts())).plan
    assert plan["parts"]["Y1"] == {
        "about": "14.31818 MHz, oscillator: OSC of the card",
        "contacts": ["J2 B10", "J2 B29", "J2 B30"],
    }
    for w in wires(with_parts()):
        about = plan["wires"][str(w.number)].get("about")
        assert about == (f"Lead {w.number}{lead_said(with_parts(), w)[4:]}" if w.kind == "lead" else None)
    assert all(contact in plan["places"] for part in plan["parts"].values() for contact in part["contacts"])
    assert not {row["start"].split()[0] for row in plan["rows"]} - {"J1", "J2"}
    assert not {row["stop"].split()[0] for row in plan["rows"] if row["stop"]} - {"J1", "J2"}


def test_an_adapter_without_parts_has_no_steps_for_them() -> None:
    with_them, without = html(with_parts()), html(adapter("oakmere-88", "isa-8bit"))
    for word in ("data-late", 'id="parts-warning"', "h-parts"):
        assert word in with_them
        assert word not in without


def test_power_comes_on_in_the_order_of_the_paper() -> None:
    text = Page(html(adapter("oakmere-88", "isa-8bit"))).text.partition("Power on ")[2]
    steps = (
        "Only now fit the remedies",
        "no card in it",
        "the cheapest card",
        "measure once more",
        "the card that the",
    )
    at = [text.index(step) for step in steps]
    assert at == sorted(at)
    again = re.findall(r"(\d+), with a card (J2 B\d+) to J2 B1 from \S+ V to \S+ V", text)
    assert again == [("236", "J2 B3"), ("237", "J2 B29"), ("238", "J2 B9"), ("239", "J2 B7")]


def test_hostile_words_in_a_part_are_shown_and_make_no_element() -> None:
    one, *others = with_parts().parts
    bad = replace(one, value=HOSTILE, purpose=HOSTILE, why=HOSTILE, fit=HOSTILE, footprint=HOSTILE)
    text = html(replace(with_parts(), parts=(bad, *others)))
    page = Page(text)
    assert not [tag for tag, attrs in page.tags if "onerror" in attrs or "onload" in attrs]
    assert page.text.count("<svg onload=") >= 4
