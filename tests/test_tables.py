"""The wiring table and the report: whole outputs, and every text kept inside its cell."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from handmade import pin_map
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from markdown_it.token import Token
from msgspec.structs import replace

import pinmap
from pinmap import planner
from pinmap.body import Body, Section
from pinmap.text import visible
from pinmap.writers import FILES
from pinmap.writers.cells import at_risk, unworded
from pinmap.writers.tables import CAUTIONS, CSV_COLUMNS, report, wiring_csv, wiring_markdown

BUS = """\
format: 1
title: Tiny bus
about: a bus for a test
sources: {test: a test}
signals:
  GND: {group: return, about: return, driver: none, active: none, source: test}
  +5V: {group: supply, about: logic supply, driver: none, active: none, volts: +5 V, source: test}
  SD0: {group: data, about: a data line, driver: either, active: high, source: test}
  IOW*:
    group: command
    about: a command
    driver: host
    active: low
    absent: {effect: Nothing can be written., remedy: {kind: pull up, value: 10 kΩ, to: +5V, why: it is quiet}}
    source: test
  IRQ2: {group: interrupt, about: an interrupt, driver: card, active: high, source: test}
  OSC:
    group: timing
    about: a clock
    driver: host
    active: high
    absent: {effect: No picture., remedy: {kind: oscillator, value: 14 MHz, to: OSC, why: it replaces the line}}
    source: test
kinds:
  - {name: port, about: a port, needs: [GND, +5V, SD0], helps: [IOW*], source: test}
"""

HOST = """\
format: 1
title: Two rows of four
bus: tiny
end: host
source: a sketch
body: {form: pin header, rows: 2, places: 4, labels: zigzag, first: bottom left, pitch: 2.54 mm, rating: 3 A}
options:
  video board: brings the clock
contacts:
  1: GND
  2: GND
  3: open
  4: +5V
  5: {signal: IRQ2, seen: guessed}
  6: SD0
  7: {signal: OSC, with: video board}
  8: key
"""

CARD = """\
format: 1
title: Six in a row
bus: tiny
end: card
body: {form: socket header, rows: 1, places: 6, labels: serial, first: top left, pitch: 2.54 mm, footprint: "own:Six"}
contacts:
  1: GND
  2: open
  3: +5V
  4: IRQ2
  5: SD0
  6: IOW*
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the tiny bus, in which the tests run, so that files have short names."""
    (tmp_path / "library" / "bus").mkdir(parents=True)
    (tmp_path / "library" / "bus" / "tiny.yaml").write_text(BUS, encoding="utf-8")
    monkeypatch.setenv("PINMAP_LIBRARY", str(tmp_path / "library"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def adapter_of(folder: Path, host: str = HOST, card: str = CARD, fitted: tuple[str, ...] = ()) -> pinmap.Adapter:
    (folder / "host.yaml").write_text(host, encoding="utf-8")
    (folder / "card.yaml").write_text(card, encoding="utf-8")
    return pinmap.adapt("host.yaml", "card.yaml", fitted)


WIRING_CSV = """\
wire,kind,from,from pad,to,to pad,signal,group,state,remark,verdict
1,wire,J1 1,pad 1,J2 1,pad 1,net GND,return,joined,,build with care
2,link,J1 1,pad 1,J1 2,pad 2,net GND,return,joined,,build with care
3,wire,J1 4,pad 4,J2 3,pad 3,net +5V,supply,joined,,build with care
4,wire,J1 6,pad 6,J2 5,pad 5,net SD0,data,straight,,build with care
5,wire,J1 5,pad 5,J2 4,pad 4,net IRQ2,interrupt,straight,note: rests on a guess at 5: measure first,build with care
"""

WIRING_MD = """\
# Wiring: Two rows of four to Six in a row

**Build with care: see what was found.**

- J1 meets the machine (Two rows of four): socket header 2×4, 2.54 mm pitch, footprint Connector_PinSocket_2.54mm:PinSocket_2x04_P2.54mm_Vertical
- J2 takes the card (Six in a row): pin header 1×6, 2.54 mm pitch, footprint pinmap:PinHeader_1x6_P2.54mm

## Supplies and returns

| wire | from | pad | to   | pad | signal | group  | state  | remark                   |
| ---- | ---- | --- | ---- | --- | ------ | ------ | ------ | ------------------------ |
| 1    | J1 1 | 1   | J2 1 | 1   | GND    | return | joined |                          |
| 2    | J1 1 | 1   | J1 2 | 2   | GND    | return | joined | link at the same connector |
| 3    | J1 4 | 4   | J2 3 | 3   | +5V    | supply | joined |                          |

## Signals

| wire | from | pad | to   | pad | signal | group     | state    | remark                   |
| ---- | ---- | --- | ---- | --- | ------ | --------- | -------- | ------------------------ |
| 4    | J1 6 | 6   | J2 5 | 5   | SD0    | data      | straight |                          |
| 5    | J1 5 | 5   | J2 4 | 4   | IRQ2   | interrupt | straight | rests on a guess at 5: measure first |

## Not connected

| connector | label | pad | net           | state | why                      | remedy                   |
| --------- | ----- | --- | ------------- | ----- | ------------------------ | ------------------------ |
| J2        | 6     | 6   | card 6 IOW*   | open  | the slot does not bring it | pull up 10 kΩ to +5V: it is quiet |
| J1        | 7     | 7   | host 7 OSC    | open  | only with video board    |                          |
| J1        | 3     | 3   | host 3 unused | open  | open in the map          |                          |
| J2        | 2     | 2   | card 2 unused | open  | open in the map          |                          |

## Before power

"""  # noqa: E501

REPORT_MD = """\
# Two rows of four to Six in a row

**Build with care: see what was found.**

- J1 meets the machine (Two rows of four): socket header 2×4, 2.54 mm pitch, footprint Connector_PinSocket_2.54mm:PinSocket_2x04_P2.54mm_Vertical
- J2 takes the card (Six in a row): pin header 1×6, 2.54 mm pitch, footprint pinmap:PinHeader_1x6_P2.54mm

## What was found

- **caution** `signal-absent` (host.yaml): IOW*: the slot does not bring it. Nothing can be written. Pull up 10 kΩ to +5V: it is quiet.
- **caution** `guess` (host.yaml:14:3): 5 = IRQ2 rests on a guess. Measure it, or leave it unconnected.
- **note** `rail-beside-line` (card.yaml): a slipped probe or bent pin puts a rail on a signal: +5V (3) beside IRQ2 (4). Probe these with the power off, or with an insulated tip.
- **note** `rail-beside-line` (host.yaml): a slipped probe or bent pin puts a rail on a signal: +5V (4) beside SD0 (6). Probe these with the power off, or with an insulated tip.

## Signals that do not map

The card has these, the slot does not bring them:

| signal | contact | why                      | what it means           | remedy                   |
| ------ | ------- | ------------------------ | ----------------------- | ------------------------ |
| IOW*   | 6       | the slot does not bring it | Nothing can be written. | pull up 10 kΩ to +5V: it is quiet |

## Which kinds of card can work

| kind of card | answer                   |
| ------------ | ------------------------ |
| port         | works; without IOW*, which some such cards use |

## Which signals are there

| group     | there | only with an option | absent |
| --------- | ----- | ------------------- | ------ |
| return    | GND   |                     |        |
| supply    | +5V   |                     |        |
| data      | SD0   |                     |        |
| command   |       |                     | IOW*   |
| timing    |       | OSC (video board)   |        |
| interrupt | IRQ2  |                     |        |

## What the maps rest on

- Machine: Two rows of four. Source: a sketch. Contacts: 7 from the source and 1 guessed (5).
- Card: Six in a row. Source: not stated. Contacts: 6 from the source.

## Words

- joined: a supply or return, all its contacts joined
- straight: one signal, one wire
- open: left unconnected on purpose

## Before power

"""  # noqa: E501

SAFETY = "".join(f"- {caution}\n" for caution in CAUTIONS)


def test_the_whole_wiring_table_for_a_spreadsheet(folder: Path) -> None:
    assert wiring_csv(adapter_of(folder)) == WIRING_CSV.replace("\n", "\r\n")


def test_the_wiring_table_has_a_byte_order_mark_only_if_asked_for(folder: Path) -> None:
    adapter = adapter_of(folder)
    marked = wiring_csv(adapter, bom=True).encode("utf-8")
    assert marked == b"\xef\xbb\xbf" + wiring_csv(adapter).encode("utf-8")
    assert marked.decode("utf-8-sig") == wiring_csv(adapter)


def test_the_whole_wiring_table_for_reading(folder: Path) -> None:
    assert wiring_markdown(adapter_of(folder)) == WIRING_MD + SAFETY


def test_the_whole_report(folder: Path) -> None:
    assert report(adapter_of(folder)) == REPORT_MD + SAFETY


def test_the_report_names_the_options_that_are_fitted(folder: Path) -> None:
    card = CARD.replace("2: open", "2: OSC")
    assert "\nOptions fitted: video board.\n" in report(adapter_of(folder, card=card, fitted=("video board",)))
    assert "Options fitted" not in report(adapter_of(folder, card=card))


def test_what_is_empty_says_so(folder: Path) -> None:
    bare = CARD.replace("places: 6", "places: 1").split("  2:")[0]
    card = wiring_markdown(adapter_of(folder, bare.replace("end: card", "end: host"), bare))
    assert "## Signals\n\nNone.\n" in card
    assert "## Not connected\n\nEvery contact is wired.\n" in card
    assert "Every signal of both ends maps." in report(adapter_of(folder, bare.replace("end: card", "end: host"), bare))


# ---------------------------------------------------------------------- read back by somebody else

PARSER = MarkdownIt("commonmark").enable(["table", "strikethrough"])


def cells(token: Token) -> str:
    """The text of a cell. Anything in it that is no text would be markup."""
    kinds = {child.type for child in token.children or []}
    assert kinds <= {"text", "text_special"}, (kinds, token.content)
    return "".join(child.content for child in token.children or [])


def tables(markdown: str) -> Iterator[list[list[str]]]:
    """Every table of a Markdown text as rows of cells, its head first."""
    rows: list[list[str]] = []
    inside = False
    for token in PARSER.parse(markdown):
        if token.type == "table_open":
            rows, inside = [], True
        elif token.type == "table_close":
            inside = False
            yield rows
        elif token.type == "tr_open":
            rows.append([])
        elif token.type == "inline" and inside:
            rows[-1].append(cells(token))


PAIRS = [
    ("oakmere-88", "isa-8bit"),
    ("oakmere-88", "isa-16bit"),
    ("brindle-portable", "isa-8bit"),
    ("tarn-rack", "isa-16bit"),
    ("isa-16bit", "pc104-16bit"),
    ("isa-8bit", "brindle-portable"),
]


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_the_spreadsheet_has_every_wire_of_the_plan(host: str, card: str) -> None:
    adapter = pinmap.adapt(host, card)
    rows = list(csv.reader(io.StringIO(wiring_csv(adapter), newline="")))
    assert rows[0] == list(CSV_COLUMNS)
    assert rows[1:] == [
        [
            str(w.number),
            w.kind,
            *(f"{w.start.ref} {w.start.label}", f"pad {w.start.pad}"),
            *(f"{w.stop.ref} {w.stop.label}", f"pad {w.stop.pad}"),
            *(f"net {w.signal}", w.group, w.state),
            *(f"note: {w.remark}" if w.remark else "", adapter.verdict),
        ]
        for w in pinmap.wires(adapter)
    ]


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_the_printed_table_has_every_wire_of_the_plan(host: str, card: str) -> None:
    adapter = pinmap.adapt(host, card)
    power, lines, *rest = tables(wiring_markdown(adapter))
    loose = rest[0] if rest else [["connector", "label", "pad", "net", "state", "why", "remedy"]]
    head = ["wire", "from", "pad", "to", "pad", "signal", "group", "state", "remark"]
    assert power[0] == lines[0] == head
    wanted = [
        [
            str(w.number),
            f"{w.start.ref} {w.start.label}",
            w.start.pad,
            f"{w.stop.ref} {w.stop.label}",
            w.stop.pad,
            w.signal,
            w.group,
            w.state,
            "; ".join(r for r in ("link at the same connector" if w.kind == "link" else "", w.remark) if r),
        ]
        for w in pinmap.wires(adapter)
    ]
    assert power[1:] + lines[1:] == wanted
    assert {row[6] for row in power[1:]} == {"return", "supply"}
    assert not {row[6] for row in lines[1:]} & {"return", "supply"}
    assert loose[0] == ["connector", "label", "pad", "net", "state", "why", "remedy"]
    remedies: dict[tuple[str, str], str] = {
        (u.end, label): str(u.remedy) for u in adapter.unmapped for label in u.contacts
    }
    assert loose[1:] == [
        [p.ref, p.label, p.pad, net.name, net.state, net.remark, remedies.get((p.end, p.label), "")]
        for net, p in pinmap.unwired(adapter)
    ]


def test_what_must_not_be_built_says_so_in_every_file() -> None:
    adapter = pinmap.adapt("brindle-portable", "isa-8bit")
    files = {name: made.decode() for name, made in pinmap.render(adapter, only=FILES[:4]).items()}
    assert '(title "DO NOT BUILD: Brindle Portable expansion slot to ISA slot, 8-bit")' in files["adapter.net"]
    assert all(line.endswith(",do not build") for line in files["wiring.csv"].splitlines()[1:])
    for name in ("wiring.md", "report.md"):
        assert files[name].splitlines()[2] == "**DO NOT BUILD: see what was found.**"


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_every_contact_stands_in_the_printed_table(host: str, card: str) -> None:
    adapter = pinmap.adapt(host, card)
    power, lines, *rest = tables(wiring_markdown(adapter))
    seen = {cell for row in power[1:] + lines[1:] for cell in (row[1], row[3])}
    seen |= {f"{row[0]} {row[1]}" for loose in rest for row in loose[1:]}
    assert seen == {f"J1 {label}" for label in adapter.host.present} | {f"J2 {label}" for label in adapter.card.present}


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_the_report_has_every_finding_and_every_signal_that_does_not_map(host: str, card: str) -> None:
    adapter = pinmap.adapt(host, card)
    text = report(adapter)
    assert text.count("\n- **") == len(adapter.findings)
    found = list(tables(text))
    rows = [row for table in found if table[0][0] == "signal" for row in table[1:]]
    assert [(row[0], row[2], row[3], row[4]) for row in rows] == [
        (u.signal, u.reason, u.effect, str(u.remedy))
        for end in ("card", "host")
        for u in adapter.unmapped
        if u.end == end
    ]
    kinds = next(table for table in found if table[0] == ["kind of card", "answer"])
    assert kinds[1:] == [[k.kind, k.sentence()] for k in adapter.coverage.kinds]


# ---------------------------------------------------------------------- hostile text

HOSTILE = [
    "a | b",
    "ends in a bar |",
    "back\\slash \\| and \\",
    "`code`",
    "``",
    "<script>alert(1)</script>",
    "<!-- comment",
    "[x](y)",
    "![x](http://example.org/y.png)",
    "[x][y]",
    "*bold* **bolder**",
    "a*b*c",
    "\\*x*",
    "_under_ __score__",
    "~~gone~~ ~{IOR}/~{IOW}",
    "&lt;b&gt; &amp; &#42;",
    "# heading",
    "- list",
    "1. list",
    "> quote",
    "---",
    "two\nlines",
    "two\r\nlines | a | b |",
    "a\u2028b\u202ec",
    "\x1b[31mred",
    '=HYPERLINK("x")',
    'say "this", then that',
    "10 kΩ ± 5 % → 2×31",
]


def line_name(text: str) -> str:
    """A name for a line of the maker's own; nothing but marks would be no name."""
    return text if any(c.isalnum() for c in text) else f"{text} X"


def quoted(text: str) -> str:
    return '"' + "".join(f"\\u{ord(c):04x}" for c in text) + '"'


@pytest.mark.parametrize("text", HOSTILE, ids=ascii)
def test_hostile_text_in_a_map_stays_in_its_place(text: str, folder: Path) -> None:
    safe = visible(text)
    host = (
        HOST.replace("title: Two rows of four", f"title: {quoted(text)}")
        .replace("a sketch", quoted(text))
        .replace("video board", quoted(text))
        .replace("3: open", f"3: {quoted(line_name(text))}")
        .replace("seen: guessed", f"seen: guessed, note: {quoted(text)}")
        + f"own signals:\n  {quoted(line_name(text))}: {quoted(text)}\n"
    )
    card = (
        CARD.replace("2: open", f"2: {quoted(line_name(text))}")
        + f"own signals:\n  {quoted(line_name(text))}: {quoted(text)}\n"
    )
    adapter = adapter_of(folder, host, card.replace("6: IOW*", "6: OSC"))
    wiring = wiring_markdown(adapter)
    found = list(tables(wiring))
    assert [len(table) - 1 for table in found] == [3, len(pinmap.wires(adapter)) - 3, len(pinmap.unwired(adapter))]
    assert all(len(row) == len(table[0]) for table in found for row in table)
    joined = next(row for row in found[1] if row[6] == "own")
    assert joined[5] == visible(line_name(text)).strip()
    assert joined[1] == "J1 3"
    assert joined[3] == "J2 2"
    said = "".join((wiring, report(adapter)))
    tokens = [token for token in PARSER.parse(said) if token.type != "inline"]
    allowed = {"heading", "paragraph", "bullet_list", "list_item", "table", "thead", "tbody", "tr", "th", "td"}
    assert {token.type.removesuffix("_open").removesuffix("_close") for token in tokens} <= allowed
    inner = {c.type for token in PARSER.parse(said) for c in token.children or []}
    assert inner <= {"text", "text_special", "strong_open", "strong_close", "code_inline"}
    plain = ["".join(c.content for c in token.children or []) for token in PARSER.parse(said) if token.type == "inline"]
    strong = [token for token in PARSER.parse(said) for c in token.children or [] if c.type == "strong_open"]
    assert len(strong) == len(adapter.findings) + 2  # each finding's grade, and the verdict in both files
    assert any(line == f"Wiring: {safe} to Six in a row".strip() for line in plain)
    assert not any(ord(c) < 32 and c != "\n" for c in said)


@settings(derandomize=True, deadline=None, max_examples=200, suppress_health_check=[HealthCheck.too_slow])
@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=30))
def test_any_text_comes_back_from_its_cell(text: str) -> None:
    from pinmap.writers.tables import table_lines

    ((head, row),) = tables("\n".join(table_lines(("a", "b"), [(text, "z")])))
    assert head == ["a", "b"]
    assert row == [visible(text).strip(), "z"] or row[0].split() == visible(text).split()
    assert row[1] == "z"


@pytest.mark.parametrize("text", HOSTILE, ids=ascii)
def test_hostile_text_comes_back_whole_from_the_spreadsheet(text: str, folder: Path) -> None:
    own = f"own signals:\n  {quoted(line_name(text))}: a line\n"
    adapter = adapter_of(
        folder,
        HOST.replace("3: open", f"3: {quoted(line_name(text))}") + own,
        CARD.replace("2: open", f"2: {quoted(line_name(text))}") + own,
    )
    rows = list(csv.DictReader(io.StringIO(wiring_csv(adapter), newline="")))
    assert [row["signal"] for row in rows] == [f"net {visible(w.signal)}" for w in pinmap.wires(adapter)]
    (row,) = (row for row in rows if row["group"] == "own")
    assert row["signal"] == f"net {visible(line_name(text))}"
    assert (row["from"], row["to"]) == ("J1 3", "J2 2")


# ---------------------------------------------------------------------- what a spreadsheet would compute or change

#: Row letters with which labels look like numbers, formulas and dates: -1, =A1, 3/1, 001, 1E1, MAR1.
LETTERS = ["-", "+", "=A", "1-", "3/", "00", "1E", "MAR", "12:3", "1.2.", "@", "TRUE", "A"]


def with_texts(letter: str, signal: str, remark: str) -> pinmap.Adapter:
    """Two wires: one from row `letter` to row `letter`, with these texts, and a return."""
    body = Body("pin header", (Section(1, 2, (letter,)),), "rows")
    contacts = {f"{letter}1": "GND", f"{letter}2": "SD0"}
    adapter = planner.plan(pin_map(contacts, body), pin_map(contacts, body, end="card"))
    nets = [replace(net, name=signal, remark=remark) if net.signal == "SD0" else net for net in adapter.nets]
    return replace(adapter, nets=tuple(nets))


@pytest.mark.parametrize("letter", LETTERS)
@pytest.mark.parametrize("signal", ["-5V", "+12V", "1-2", "=A1", "3/4", "0012", "1E5", "TRUE", "MAR1", "12:30", "5%"])
def test_a_label_or_signal_that_looks_like_a_number_or_formula_stands_behind_a_word(letter: str, signal: str) -> None:
    text = wiring_csv(with_texts(letter, signal, f"{signal} at the host"))
    assert text.splitlines()[2] == (
        f"2,wire,J1 {letter}2,pad {letter}2,J2 {letter}2,pad {letter}2,"
        f"net {signal},data,straight,note: {signal} at the host,do not build"
    )


texts = st.text(st.characters(codec="utf-8"), min_size=1, max_size=12)


@settings(derandomize=True, deadline=None, max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(texts, texts, texts)
def test_any_label_signal_and_remark_comes_back_behind_its_word(letter: str, signal: str, remark: str) -> None:
    adapter = with_texts(letter, f"{signal}\u00b7", remark)  # the dot: the other net's name is taken
    rows = list(csv.DictReader(io.StringIO(wiring_csv(adapter), newline="")))
    assert [int(row["wire"]) for row in rows] == [1, 2]
    assert not [cell for row in rows for column, cell in row.items() if column != "wire" and at_risk(cell)]
    assert {unworded(rows[1][column]) for column in ("from", "from pad", "to", "to pad")} == {f"{visible(letter)}2"}
    assert unworded(rows[1]["signal"]) == f"{visible(signal)}\u00b7"
    assert unworded(rows[1]["remark"]) == visible(remark)
