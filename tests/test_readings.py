"""The readings file: what a meter prints, how a point is written, every complaint with its place, the empty form."""

from __future__ import annotations

import csv
import io
import math
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap.errors import PinmapError, SeveralErrors, UnreadableError
from pinmap.meter import ohms, volts
from pinmap.readings import (
    COLUMNS,
    MAX_BYTES,
    MAX_ERRORS,
    BadReadingsError,
    Probe,
    Reading,
    Readings,
    Row,
    form_csv,
    parse,
    probe,
    read,
)
from pinmap.text import visible

PROBLEM = ValueError  # what the readers of single cells raise, before a row gives them a place
ENDS = {"J1": ("1", "2", "3", "4"), "J2": ("A1", "A2", "B1", "B2")}
SLOT = {"slot": ("A1", "A2", "B1", "B2")}
HEAD = "step,kind,from,to,expected,reading,note\n"


def taken(*rows: str, head: str = HEAD) -> tuple[Reading, ...]:
    return parse((head + "\n".join(rows)).encode(), "r.csv", ENDS).taken


def complaint(raw: str, ends: dict[str, tuple[str, ...]] | None = None) -> str:
    with pytest.raises(PinmapError) as caught:
        parse(raw.encode(), "r.csv", ends or ENDS)
    return str(caught.value)


# ------------------------------------------------------------------ what a meter prints


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("0.3", 0.3),
        ("0.3 Ω", 0.3),
        ("0.3Ω", 0.3),
        ("0.3 \u2126", 0.3),  # the ohm sign, which is not the Greek letter
        ("0.3 ohm", 0.3),
        ("0.3Ohm", 0.3),
        ("0.3 ohms", 0.3),
        (".3", 0.3),
        ("0,3", 0.3),
        ("0,300 Ω", 0.3),
        ("12.4k", 12_400),
        ("12.4 kΩ", 12_400),
        ("12.4 K", 12_400),
        ("1.2M", 1.2e6),
        ("1.2 MΩ", 1.2e6),
        ("1.2 Mohm", 1.2e6),
        ("2 Meg", 2e6),
        ("1 GΩ", 1e9),
        ("300 mΩ", 0.3),
        ("1 Ω", 1),
        ("1.0", 1),
        ("-0.1", 0),
        ("−0.02 Ω", 0),
        ("+0.3", 0.3),
        ("4k7", 4_700),
        ("4K7 Ω", 4_700),
        ("1M2", 1.2e6),
        ("2R2", 2.2),
        ("R47", 0.47),
        ("47R", 47),
        ("1R", 1),
        (">1M5", 1.5e6),
        (">20M", 20e6),
        (">200 Ω", 200),
        ("<1", 1),
        ("< 0.5 Ω", 0.5),
        ("beep", 0),
        ("Beeps", 0),
        ("no beep", math.inf),
        ("no  beep", math.inf),
        ("silent", math.inf),
        ("OL", math.inf),
        ("ol", math.inf),
        ("O.L", math.inf),
        ("O.L.", math.inf),
        (".OL", math.inf),
        ("OL.", math.inf),
        ("0L", math.inf),
        ("0.L", math.inf),
        ("0.L MΩ", math.inf),
        ("OL kohm", math.inf),
        (">OL", math.inf),
        ("inf", math.inf),
        ("∞", math.inf),
        ("open", math.inf),
    ],
)
def test_ohms_are_read_as_meters_print_them(written: str, value: float) -> None:
    assert ohms(written) == pytest.approx(value)


_OHMS = "0.3 Ω, 12.4k, OL, beep or no beep"


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("1", "a reading must not be a lone 1, which older meters show for over range: '1'"),
        ("1.", "a reading must not be a lone 1, which older meters show for over range: '1.'"),
        ("1 .", "a reading must not be a lone 1, which older meters show for over range: '1 .'"),
        ("4.98 V", f"continuity, isolation and resistance must be in ohms, like {_OHMS}, not '4.98 V'"),
        ("12 mV", f"continuity, isolation and resistance must be in ohms, like {_OHMS}, not '12 mV'"),
        ("5 mA", f"continuity, isolation and resistance must be in ohms, like {_OHMS}, not '5 mA'"),
        ("4m7", "a reading must say whether m is mΩ or MΩ: '4m7'"),
        ("0.3 ?", "a reading's unit must be Ω, kΩ or MΩ, not '?': '0.3 ?'"),
        ("20m", "a reading must say whether m is mΩ or MΩ: '20m'"),
        ("-40 Ω", "a resistance must not be negative, not '-40 Ω'"),
        ("<200", "a reading with < must be below 10 Ω to say something: '<200'"),
        ("1,200", "a comma must not be able to mean thousands: '1,200'"),
        ("yes", f"a reading must say what the meter showed in ohms, like {_OHMS}, not 'yes'"),
        ("OK", f"a reading must say what the meter showed in ohms, like {_OHMS}, not 'OK'"),
        ("none", f"a reading must be ohms as the meter shows them, like {_OHMS}, not 'none'"),
        ("1.2.3", f"a reading must be ohms as the meter shows them, like {_OHMS}, not '1.2.3'"),
        ("1e3", "a reading's unit must be Ω, kΩ or MΩ, not 'e3': '1e3'"),
        ("±3", f"a reading must be ohms as the meter shows them, like {_OHMS}, not '±3'"),
        ("OL V", f"a reading must be ohms as the meter shows them, like {_OHMS}, not 'OL V'"),
        ("3 °C", "a reading's unit must be Ω, kΩ or MΩ, not '°C': '3 °C'"),
        ("0" * 41, "a reading must be what the meter shows, not 41 letters"),
        ("٣", f"a reading must be ohms as the meter shows them, like {_OHMS}, not '٣'"),
    ],
)
def test_what_no_meter_prints_as_ohms_is_refused(written: str, message: str) -> None:
    with pytest.raises(PROBLEM) as caught:
        ohms(written)
    assert caught.value.args[0] == message


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("4.98", 4.98),
        ("4.98 V", 4.98),
        ("4.98V", 4.98),
        ("4,98 V", 4.98),
        ("-11.9V", -11.9),
        ("−11.9 V", -11.9),
        ("+5.02 VDC", 5.02),
        ("5.02 V DC", 5.02),
        ("12 mV", 0.012),
        ("-3 mV", -0.003),
        ("800 µV", 0.0008),
        ("0", 0),
        ("1", 1),
    ],
)
def test_volts_are_read_as_meters_print_them(written: str, value: float) -> None:
    assert volts(written) == pytest.approx(value)


_VOLTS = "4.98 V, -11.9 V or 12 mV"


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("OL", f"a voltage must be a number, like {_VOLTS}, not over range: 'OL'"),
        ("O.L V", f"a voltage must be a number, like {_VOLTS}, not over range: 'O.L V'"),
        ("5 V AC", "a voltage must be taken as DC, not '5 V AC'"),
        ("5 V~", "a voltage must be taken as DC, not '5 V~'"),
        ("0.3 Ω", f"volts must be in volts, like {_VOLTS}, not in ohms: '0.3 Ω'"),
        ("12k", f"volts must be in volts, like {_VOLTS}, not in ohms: '12k'"),
        ("5 A", "a reading's unit must be V or mV, not 'A': '5 A'"),
        ("beep", f"a reading must be volts as the meter shows them, like {_VOLTS}, not 'beep'"),
        ("11,900", "a comma must not be able to mean thousands: '11,900'"),
        ("yes", f"a reading must say what the meter showed in volts, like {_VOLTS}, not 'yes'"),
    ],
)
def test_what_no_meter_prints_as_volts_is_refused(written: str, message: str) -> None:
    with pytest.raises(PROBLEM) as caught:
        volts(written)
    assert caught.value.args[0] == message


# ------------------------------------------------------------------ points


@pytest.mark.parametrize("written", ["J1 4", "J1-4", "J1.4", "J1:4", "J1/4", "j1 4", " J1  4 ", "J1 - 4", "J1–4"])
def test_a_point_is_a_connector_and_a_contact(written: str) -> None:
    assert probe(written, ENDS) == Probe("J1", "4")


def test_labels_are_found_in_either_case_unless_that_leaves_two() -> None:
    assert probe("J2 b2", ENDS) == Probe("J2", "B2")
    two = {"J1": ("a1", "A1")}
    assert probe("J1 a1", two) == Probe("J1", "a1")
    assert probe("J1 A1", two) == Probe("J1", "A1")


@pytest.mark.parametrize("written", ["B2", "slot B2", "SLOT-b2", "slot.B2"])
def test_on_a_bare_slot_the_label_alone_will_do(written: str) -> None:
    assert probe(written, SLOT) == Probe("slot", "B2")


@pytest.mark.parametrize(
    ("written", "message"),
    [
        ("4", "a point must be a connector and a contact, like J1 1, not '4'"),
        ("J14", "a point must be a connector and a contact, like J1 1, not 'J14'"),
        ("", "a point must be a connector and a contact, like J1 1, not ''"),
        ("J1 4 5", "a point must be a connector and a contact, like J1 1, not 'J1 4 5'"),
        ("J3 4", "a point's connector must be J1 or J2, not 'J3'"),
        ("J2 C1", "there is no contact 'C1' on J2"),
    ],
)
def test_a_point_that_is_none_is_refused(written: str, message: str) -> None:
    with pytest.raises(PROBLEM) as caught:
        probe(written, ENDS)
    assert caught.value.args[0] == message


# ------------------------------------------------------------------ rows


def test_every_kind_of_row_is_read() -> None:
    rows = taken(
        "1,continuity,J1 1,J2 A1,beeps,0.3,",
        "2,Isolation,J1-1,J1-2,OL,OL,",
        "3,resistance,J2 B1,J2 B2,OL,12.4 kΩ,",
        "4,volts,J2 B1,J2 B2,from 1 V to 2 V,4.98 V,",
        "5,volts,J2 B1,,,−11.9,",
        "6,sweep,J1 1,J2,A1,A1 b2,",
        '7,sweep,J1 2,j2,,"J2 A1, J2-A2;B1",',
        "8,sweep,J1 3,J2,none,none,",
    )
    assert [(str(r.start), str(r.stop or r.over), r.ohms, r.volts, [p.label for p in r.found]) for r in rows] == [
        ("J1 1", "J2 A1", 0.3, None, []),
        ("J1 1", "J1 2", math.inf, None, []),
        ("J2 B1", "J2 B2", 12_400, None, []),
        ("J2 B1", "J2 B2", None, 4.98, []),
        ("J2 B1", "", None, -11.9, []),
        ("J1 1", "J2", None, None, ["A1", "B2"]),
        ("J1 2", "J2", None, None, ["A1", "A2", "B1"]),
        ("J1 3", "J2", None, None, []),
    ]
    assert [r.place.line for r in rows] == list(range(2, 10))


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"])
def test_separators_line_ends_and_the_byte_order_mark_do_not_matter(mark: str, end: str, bom: bytes) -> None:
    text = end.join(("Kind,From,TO,Reading", "continuity,J1 1,J2 A1,0.3 Ω", "", "sweep,J1 2,J2,A1 A2", "")).replace(
        ",", mark
    )
    done = parse(bom + text.encode(), "r.csv", ENDS)
    assert [(r.kind, r.place.line) for r in done.taken] == [("continuity", 2), ("sweep", 4)]


@pytest.mark.parametrize("code", ["utf-16-le", "utf-16-be"])
def test_what_a_spreadsheet_writes_as_unicode_text_is_read(code: str) -> None:
    text = "\ufeffkind\tfrom\tto\treading\r\ncontinuity\tJ1 1\tJ2 A1\t0.3 Ω\r\n"
    done = parse(text.encode(code), "r.csv", ENDS)
    assert ([r.ohms for r in done.taken], done.cautions) == ([0.3], ())


def test_what_older_spreadsheets_write_is_read_and_said() -> None:
    raw = "kind;from;to;reading;note\ncontinuity;J1 1;J2 A1;0,3;± 1 °C\nvolts;J2 B1;;800 µV;\n".encode("cp1252")
    done = parse(raw, "r.csv", ENDS)
    assert [(r.ohms, r.volts) for r in done.taken] == [(0.3, None), (None, pytest.approx(0.0008))]
    assert done.cautions == (
        "the file is not UTF-8 (byte 0xb1 in line 2) and was read as Windows-1252, which older spreadsheets write; "
        "if a sign in it looks wrong, save it as CSV in UTF-8",
    )


def test_a_sign_that_was_lost_when_the_file_was_saved_is_answered_with_what_to_write() -> None:
    assert complaint(HEAD + "1,continuity,J1 1,J2 A1,,0.3 ?,") == (
        "r.csv:2:6: a reading's unit must be Ω, kΩ or MΩ, not '?': '0.3 ?'. "
        "Write ohm, or k or M alone: the program that saved the file had no Ω"
    )


def test_the_rows_that_can_be_read_are_kept_beside_the_complaints() -> None:
    with pytest.raises(BadReadingsError) as caught:
        parse((HEAD + "1,continuity,J1 1,J2 A1,,0.3,\n2,continuity,J1 2,J2 A2,,yes,\n").encode(), "r.csv", ENDS)
    assert [r.written for r in caught.value.readings.taken] == ["0.3"]
    assert [e.place and e.place.line for e in caught.value.errors] == [3]


def test_rows_without_a_reading_are_counted_and_unknown_columns_are_said() -> None:
    done = parse(b"who,kind,from,to,reading\nme,continuity,J1 1,J2 A1,\nme,continuity,J1 1,J2 A2,OL\n", "r.csv", ENDS)
    assert (len(done.taken), done.unread) == (1, 1)
    assert done.cautions == ("the column 'who' is not known and was not read",)


def test_the_line_is_that_in_which_a_row_begins() -> None:
    assert taken('1,continuity,J1 1,J2 A1,beeps,0.3,"a note\nin two lines"', "2,continuity,J1 2,J2 A2,,OL,")[
        1
    ].place.line == (4)


def test_every_complaint_of_a_file_is_told_with_its_line_and_cell() -> None:
    raw = HEAD + "\n".join(
        (
            "1,continuity,J1 9,J2 A1,,0.3,",
            "2,continuty,J1 1,J2 A1,,0.3,",
            "3,continuity,J1 1,J1-1,,0.3,",
            "4,volts,J2 A1,,,0.3 Ω,",
            "5,sweep,J1 1,J9,,none,",
            "6,sweep,J1 1,J2,,A1 Q,",
            "7,continuity,J1 1,J2 A1,,4,98,x",
            "8,continuity,J1 1,,,0.3,",
            "9,continuity,J1 9,J2 C1,,,not measured yet, but wrong all the same",
        )
    )
    with pytest.raises(SeveralErrors) as caught:
        parse(raw.encode(), "r.csv", ENDS)
    assert str(caught.value).splitlines() == [
        "r.csv:2:3: there is no contact '9' on J1",
        "r.csv:3:2: a reading's kind must be continuity, isolation, resistance, volts or sweep, not 'continuty'. "
        "Did you mean continuity?",
        "r.csv:4:4: a reading must be taken between two contacts, not at J1 1 alone",
        "r.csv:5:6: volts must be in volts, like 4.98 V, -11.9 V or 12 mV, not in ohms: '0.3 Ω'",
        "r.csv:6:4: a sweep must go over one connector, J1 or J2, not 'J9'",
        "r.csv:7:6: a sweep's reading must be the contacts of J2 that beep, or none: there is no contact 'Q' on J2",
        "r.csv:8:6: a row must have no more cells than the first line, not 8 for 7. "
        "Put a cell that holds the separator in quotes",
        "r.csv:9:4: a point must be a connector and a contact, like J1 1, not ''",
        "r.csv:10:6: a row must have no more cells than the first line, not 8 for 7. "
        "Put a cell that holds the separator in quotes",
    ]


def test_an_unknown_label_is_answered_with_the_nearest() -> None:
    assert complaint(HEAD + "1,continuity,J1 1,J2 A11,,,") == (
        "r.csv:2:4: there is no contact 'A11' on J2. Did you mean J2 A1?"
    )


def test_very_many_complaints_are_cut() -> None:
    with pytest.raises(SeveralErrors) as caught:
        parse((HEAD + "1,x,J1 1,J2 A1,,,\n" * (MAX_ERRORS + 7)).encode(), "r.csv", ENDS)
    assert len(caught.value.errors) == MAX_ERRORS + 1
    assert str(caught.value.errors[-1]) == "r.csv: there are 7 more rows or cells like these"


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (
            b"",
            "r.csv:1:1: a readings file must begin with a line of column names with kind, from, to and reading; kind, "
            "from, to and reading are not there. `pinmap bench` writes the empty form",
        ),
        (
            b"kind,from,to\n",
            "r.csv:1:1: a readings file must begin with a line of column names with kind, from, to and reading; "
            "reading is not there. `pinmap bench` writes the empty form",
        ),
        (b"kind,from,to,reading,Kind\n", "r.csv:1:1: a column must have a name of its own, not 'kind' twice"),
        (
            b"kind,from,to,reading\n\x81",
            "r.csv: a readings file must be UTF-8 text, not a file with byte 0x81 in line 2. Save it as CSV in UTF-8",
        ),
        (
            b"\xff\xfek\x00i",
            "r.csv: a readings file that begins as UTF-16 must be UTF-16 to its end. Save it as CSV in UTF-8",
        ),
        (b"x" * (MAX_BYTES + 1), "r.csv: a readings file must be at most 2 MB"),
    ],
)
def test_what_is_no_readings_file_is_said_plainly(raw: bytes, message: str) -> None:
    with pytest.raises(UnreadableError) as caught:
        parse(raw, "r.csv", ENDS)
    assert str(caught.value) == message


def test_a_file_that_cannot_be_read_is_said_plainly(tmp_path: Path) -> None:
    for path, message in ((tmp_path / "none.csv", "there is no such file"), (tmp_path, "not a folder")):
        with pytest.raises(UnreadableError, match=message):
            read(path, ENDS)
    (tmp_path / "r.csv").write_text("kind,from,to,reading\nisolation,J1 1,J1 2,OL\n", encoding="utf-8")
    assert read(tmp_path / "r.csv", ENDS, "shown.csv").taken[0].place.file == "shown.csv"


def outcome(raw: bytes) -> Readings | PinmapError:
    try:
        return parse(raw, "r.csv", ENDS)
    except PinmapError as error:
        return error


# Any bytes: Readings, or a PinmapError; nothing else.
@settings(deadline=None, derandomize=True, max_examples=150)
@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda t: t.encode("utf-8", "replace")))
def test_any_bytes_are_readings_or_an_error_that_says_why(raw: bytes) -> None:
    for data in (raw, b"kind,from,to,reading\n" + raw):
        assert isinstance(outcome(data), Readings) or str(outcome(data)).startswith("r.csv")


@settings(deadline=None, derandomize=True, max_examples=200)
@given(
    st.sampled_from(["continuity", "isolation", "resistance", "volts", "sweep"]),
    st.sampled_from(["J1 1", "J2", "J2 A1", "J2-B2", ""]),
    st.text(max_size=45) | st.from_regex(r"[<>+−-]?[0-9]{0,3}[.,]?[0-9]{0,4} ?[kMGmVΩ]{0,2}", fullmatch=True),
)
def test_any_reading_is_a_number_or_an_error_that_shows_nothing_harmful(kind: str, to: str, cell: str) -> None:
    quoted = cell.replace('"', '""')  # by hand: the csv module of Python 3.10 writes no NUL
    done = outcome(f'kind,from,to,reading\n{kind},J1 2,{to},"{quoted}"\n'.encode("utf-8", "replace"))
    shown = [r.written for r in done.taken] if isinstance(done, Readings) else str(done).splitlines()
    assert shown == [visible(text) for text in shown]


# ------------------------------------------------------------------ the empty form


def test_the_form_is_numbered_and_reads_back_empty() -> None:
    rows = (
        Row("resistance", Probe("J2", "B1"), Probe("J2", "B2"), "", "OL", "net +5V"),
        Row("sweep", Probe("J1", "1"), None, "J2", "A1"),
        Row("volts", Probe("J2", "B1"), None, "", "from +4.75 V to +5.25 V", "=1+1"),
    )
    text = form_csv(rows)
    assert text == (
        "step,kind,from,to,expected,reading,note\r\n"
        "1,resistance,J2 B1,J2 B2,OL,,net +5V\r\n"
        "2,sweep,J1 1,J2,J2 A1,,\r\n"
        "3,volts,J2 B1,,from +4.75 V to +5.25 V,, =1+1\r\n"
    )
    assert tuple(text.split("\r\n")[0].split(",")) == COLUMNS
    assert parse(text.encode(), "r.csv", ENDS) == Readings("r.csv", (), 3)


def test_no_cell_of_a_form_is_something_a_spreadsheet_would_compute() -> None:
    rows = [Row("isolation", Probe("J1", "1"), Probe("J1", "2"), "", mark + "2", mark + "x") for mark in "=+-@"]
    cells = [cell for row in csv.reader(io.StringIO(form_csv(rows))) for cell in row]
    assert not [cell for cell in cells if re.match(r"[=+\-@]", cell)]


@pytest.mark.parametrize(
    ("connectors", "point", "said"),
    [
        ({"J1": ("1", "2"), "J2": ("A1",)}, "slot 1", "J1 and J2, but of a bare slot: leave the CARD out"),
        ({"slot": ("1", "2")}, "J1 1", "slot, but of an adapter: name the CARD too"),
    ],
)
def test_the_other_form_is_told_in_one_sentence(connectors: dict[str, tuple[str, ...]], point: str, said: str) -> None:
    raw = f"kind,from,to,reading\ncontinuity,{point},{point},beep\nsweep,{point},{point.split()[0]},none\n"
    with pytest.raises(PinmapError) as refused:
        parse(raw.encode(), "r.csv", connectors)
    assert str(refused.value) == f"r.csv: these are not readings of {said}"
