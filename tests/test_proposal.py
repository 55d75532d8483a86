"""The corrected file: every contact where the mistake says it belongs, all else as it was written, byte for byte."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap import api, library
from pinmap.errors import PinmapError
from pinmap.mistakes import Mistake, mistakes
from pinmap.model import PinMap
from pinmap.proposal import corrected, proposed

HEAD = """\
# A map for the tests.   \n\
format: 1
title: "Test: # no comment"
bus: isa-8bit
end: host
body: {form: pin header, rows: 2, places: 6, labels: zigzag, first: bottom left, pitch: 2.54 mm}
options:
  board: brings a 1..4 of nothing
contacts:
"""
MIRRORED = "mirrored end to end"  # on these twelve contacts: 1 and 11, 2 and 12, 3 and 9, 4 and 10, 5 and 7, 6 and 8
LATE = "off by 1 place away from contact 1's end"  # 3 belongs at 1, 4 at 2; what stands at 1 and 2 has no place
SWAPPED = "with its rows swapped"


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], PinMap]:
    folder = tmp_path_factory.mktemp("maps")

    def read_text(text: str) -> PinMap:
        path = folder / "m.yaml"
        path.write_bytes(text.encode())
        found = library.read(str(path))
        assert found.map is not None, found.complaints
        return found.map

    return read_text


Read = Callable[[str], PinMap]


def named(pin: PinMap, name: str) -> Mistake:
    return next(m for m in mistakes(pin.body) if m.name == name)


def after(contacts: str, name: str, read: Read) -> str:
    """The contacts of the corrected file; all that stands before them is looked at too."""
    text = HEAD + contacts
    pin = read(text)
    out = corrected(text, pin, named(pin, name))
    assert out.startswith(HEAD)
    return out[len(HEAD) :]


# ---------------------------------------------------------------------- entries as people write them


@pytest.mark.parametrize(
    ("contacts", "mistake", "expected"),
    [
        ("  1: GND\n  2: SD7\n", MIRRORED, "  11: GND\n  12: SD7\n"),
        # In the order of the labels again; the comments in front and behind go along.
        (
            "  1: GND\n  # odd: measured twice\n\n  2: SD7   # the blue wire\n  4: +5V\n",
            MIRRORED,
            "  10: +5V\n  11: GND\n  # odd: measured twice\n\n  12: SD7   # the blue wire\n",
        ),
        # A comment in front of the first entry is taken for the head of them all.
        ("\n  # the header\n  1: GND\n  2: SD7\n", SWAPPED, "\n  # the header\n  1: SD7\n  2: GND\n"),
        # A run that is still a run; one that is none any more.
        ("  1..11 by 2: SA5..SA0\n", MIRRORED, "  11..1 by 2: SA5..SA0\n"),
        ("  12..2 by 2: SA0..SA5 # down\n", MIRRORED, "  2..12 by 2: SA0..SA5 # down\n"),
        ("  1..4: SD0..SD3\n", "turned by 180°", "  12..9: SD0..SD3\n"),
        (
            "  9: GND\n  # data\n  1..4: SD0..SD3 # low\n",
            SWAPPED,
            "  1: SD1\n  # data\n  2: SD0 # low\n  3: SD3\n  4: SD2\n  10: GND\n",
        ),
        ("  1..3: GND\n", SWAPPED, "  1: GND\n  2: GND\n  4: GND\n"),  # one line for all of them stays so
        # Quotes stay as they were.
        (
            "  \"1\": \"GND\"\n  '2': 'SD7'\n  \"3..4\": \"SD0..SD1\"\n  '5..6': 'SA0..SA1'\n",
            SWAPPED,
            "  '1': 'SD7'\n  \"2\": \"GND\"\n  \"4..3\": \"SD0..SD1\"\n  '6..5': 'SA0..SA1'\n",
        ),
        (
            "  \"1..3\": \"SD0..SD2\"\n  '4..6': 'SA0..SA2'\n",
            SWAPPED,
            "  \"1\": \"SD1\"\n  \"2\": \"SD0\"\n  '3': 'SA0'\n  \"4\": \"SD2\"\n  '5': 'SA2'\n  '6': 'SA1'\n",
        ),
        # Names that need quotes have them, also once the run is none.
        (
            '  1..3: "~{IRQ7}..~{IRQ5}"\n  4..6: -SA0..-SA2\n',
            SWAPPED,
            '  1: "~{IRQ6}"\n  2: "~{IRQ7}"\n  3: "-SA0"\n  4: "~{IRQ5}"\n  5: "-SA2"\n  6: "-SA1"\n',
        ),
        # Only the name of the line is a run; what a note says stays.
        (
            "  1..3: {note: pages 3..5, signal: SD0..SD2, seen: guessed}  # x\n",
            SWAPPED,
            "  1: {note: pages 3..5, signal: SD1, seen: guessed}\n"
            "  2: {note: pages 3..5, signal: SD0, seen: guessed}  # x\n"
            "  4: {note: pages 3..5, signal: SD2, seen: guessed}\n",
        ),
        # Values over several lines, comments and blank lines in them, and the comment of what follows.
        (
            "  1:\n    signal: GND\n    # who knows\n\n    note: thick\n  # the next\n  2: SD7\n",
            SWAPPED,
            "  # the next\n  1: SD7\n  2:\n    signal: GND\n    # who knows\n\n    note: thick\n",
        ),
        (
            "  1: {signal: GND,\n      note: thick}\n  2: {signal: SD7,\nnote: thin\n}\n  3: SD6\n",
            SWAPPED,
            "  1: {signal: SD7,\nnote: thin\n}\n  2: {signal: GND,\n      note: thick}\n  4: SD6\n",
        ),
        (
            "  1:\n    note: one\n      line\n    signal: GND\n  2:\n    signal: SD7\n    note: |\n      # thin\n"
            "\n  # three\n  3: SD6\n",
            SWAPPED,
            "  1:\n    signal: SD7\n    note: |\n      # thin\n"
            "  2:\n    note: one\n      line\n    signal: GND\n\n  # three\n  4: SD6\n",
        ),
        (
            "  1 .. 7 by 3:\n    signal: SD0..SD2 # low\n    # to be split\n    note: first 1..2\n",
            SWAPPED,
            "  2:\n    signal: SD0 # low\n    # to be split\n    note: first 1..2\n"
            "  3:\n    signal: SD1 # low\n    # to be split\n    note: first 1..2\n"
            "  8:\n    signal: SD2 # low\n    # to be split\n    note: first 1..2\n",
        ),
        # What lies off the connector stays as a comment, with its own comments.
        (
            "  5: +12V\n  # pin one\n  1: GND # yes\n  2:\n    signal: SD7\n    note: thin\n  3: +5V\n"
            "  6..8 by 2: SD0..SD1\n",
            LATE,
            "  1: +5V\n  3: +12V\n  4..6 by 2: SD0..SD1\n"
            f"  # without a place, once corrected ({LATE}):\n"
            "  # pin one\n  # 1: GND # yes\n  # 2:\n  #   signal: SD7\n  #   note: thin\n",
        ),
        (
            "  1..6: SD0..SD5\n",
            LATE,
            "  1: SD2\n  2: SD3\n  3: SD4\n  4: SD5\n"
            f"  # without a place, once corrected ({LATE}):\n  # 1: SD0\n  # 2: SD1\n",
        ),
        # Options and contacts described twice keep their order.
        (
            "  1: {signal: SD7, with: board}\n  1: SD6\n  2: open\n  2: open\n  3: key\n",
            SWAPPED,
            "  1: open\n  1: open\n  2: {signal: SD7, with: board}\n  2: SD6\n  4: key\n",
        ),
        # What nobody knows goes along.
        ("  1: WHAT\n  2: \"WHO: 'it'\"\n", SWAPPED, "  1: \"WHO: 'it'\"\n  2: WHAT\n"),
        # What follows the contacts stays behind them.
        (
            "  1: GND\n  # last\n\n# all of it\nabout: 1..3 of them\n",
            SWAPPED,
            "  2: GND\n  # last\n\n# all of it\nabout: 1..3 of them\n",
        ),
        ("  1: GND\n...\n", SWAPPED, "  2: GND\n...\n"),
        ("  1: GND\n  4: SD7", SWAPPED, "  2: GND\n  3: SD7"),  # no line end at the end
        ("  2: GND\n  1: SD7 # a", SWAPPED, "  1: GND\n  2: SD7 # a"),
        ("  2: GND\n  3..4: SD0..SD1", SWAPPED, "  1: GND\n  4..3: SD0..SD1"),
    ],
)
def test_each_entry_stands_under_its_new_label_as_it_was_written(
    contacts: str, mistake: str, expected: str, read: Read
) -> None:
    assert after(contacts, mistake, read) == expected


def test_entries_that_stay_where_they_are_are_not_touched(read: Read) -> None:
    contacts = "  1 ..  4 by 1:  SD0 .. SD3\n  \"5\"  :  '+5V'\n  6: SA0\n  7: AEN\n  8: open\n"
    pin = read(HEAD + contacts)
    part = Mistake(("part shifted",), "off", "", {str(n): str(n) for n in range(1, 7)} | {"7": "8", "8": "7"})
    assert corrected(HEAD + contacts, pin, part) == HEAD + contacts.replace("7: AEN\n  8: open", "7: open\n  8: AEN")


def test_a_run_of_contacts_on_a_connector_with_letters_is_counted_as_it_is_read(read: Read) -> None:
    head = HEAD.replace("pin header", "edge slot").replace("zigzag", "lettered").replace("places: 6", "places: 24")
    text = head + "  1..3: SD0..SD2\n  Z..BB: SA0..SA2\n  c..A: open\n"
    pin = read(text)
    assert corrected(text, pin, named(pin, SWAPPED)) == head + "  3..1: open\n  22..24: SA0..SA2\n  A..C: SD0..SD2\n"


@pytest.mark.parametrize(
    "text",
    [
        HEAD.replace("contacts:", '"contacts":') + "  1: GND\n",
        f"---\n{HEAD}  1: GND\n",
        "contacts: # here\n  1: GND\n" + HEAD.replace("contacts:\n", ""),
        HEAD.replace("contacts:", "contacts:   # 1..4") + " 1: GND\n",
        HEAD.replace("  board", "      board") + "        1: GND\n",
    ],
)
def test_only_the_label_changes_wherever_the_contacts_stand(text: str, read: Read) -> None:
    pin = read(text)
    assert corrected(text, pin, named(pin, SWAPPED)) == text.replace(" 1: GND", " 2: GND")


# ---------------------------------------------------------------------- line ends


@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"])
def test_line_ends_stay_as_they_are(end: str, read: Read) -> None:
    contacts = "  # one\n  1: GND\n  3..4: SD0..SD1 # two\n  5..7: SA0..SA2\n"
    expected = corrected(HEAD + contacts, read(HEAD + contacts), named(read(HEAD + contacts), LATE))
    text = (HEAD + contacts).replace("\n", end)
    out = corrected(text, read(text), named(read(text), LATE))
    assert out == expected.replace("\n", end)
    assert "without a place" in out


def test_each_line_keeps_its_own_end_where_they_are_mixed(read: Read) -> None:
    text = HEAD.replace("\n", "\r\n", 3) + "  1: GND\r\n  2: SD7\n  4: SD6\r\n"
    out = corrected(text, read(text), named(read(text), SWAPPED))
    assert out == HEAD.replace("\n", "\r\n", 3) + "  1: SD7\n  2: GND\r\n  3: SD6\r\n"


def test_marks_that_end_a_line_in_yaml_only_are_counted_like_yaml_counts_them(read: Read) -> None:
    contacts = '  1: GND # a\u2028  # b\n  2: SD7 # c\x85  # d\n  4: {signal: SD6, note: "x\u2029y"}\n'
    assert after(contacts, SWAPPED, read) == (
        '  # b\n  1: SD7 # c\x85  2: GND # a\u2028  # d\n  3: {signal: SD6, note: "x\u2029y"}\n'
    )


# ---------------------------------------------------------------------- what can't be put elsewhere

BRACKETS = "contacts must stand one entry a line, to be put elsewhere"
ONE_A_LINE = "Write each contact on a line of its own, without brackets"
WRONG = "every entry under contacts must be right before it is put elsewhere, not "
SEE = "`pinmap check` says what is wrong with it"


@pytest.mark.parametrize(
    ("contacts", "message", "advice", "place"),
    [
        ("  {1: GND, 2: SD7}\n", BRACKETS, ONE_A_LINE, (9, 1)),
        ("  {\n  1: GND,\n  2: SD7\n  }\n", BRACKETS, ONE_A_LINE, (9, 1)),
        ("  ? 1\n  : GND\n  2: SD7\n", BRACKETS, ONE_A_LINE, (9, 1)),
        # Entries that could not be read would stay behind under their old labels.
        ("  1: GND\n  2..4: SD0..SD7\n  5: SD7\n", f"{WRONG}'2..4'", SEE, (11, 3)),
        ("  77: SD7\n  1: GND\n", f"{WRONG}'77'", SEE, (10, 3)),
        ("  1: GND\n  77: SD7\n", f"{WRONG}'77'", SEE, (11, 3)),
    ],
)
def test_contacts_that_cannot_be_put_elsewhere_are_refused_with_their_place(
    contacts: str, message: str, advice: str, place: tuple[int, int], read: Read
) -> None:
    text = HEAD + contacts
    pin = read(text)
    with pytest.raises(PinmapError) as refused:
        corrected(text, pin, named(pin, MIRRORED))
    error = refused.value
    assert (error.message, error.advice) == (message, advice)
    assert error.place is not None
    assert (Path(error.place.file).name, error.place.line, error.place.column) == ("m.yaml", *place)


# ---------------------------------------------------------------------- any file and any mistake


def table(pin: PinMap) -> list[tuple[object, ...]]:
    """All that a map says of its contacts."""
    return sorted(
        (c.label, c.name, c.written, c.role, c.option, c.seen, c.note, c.inverted)
        for c in pin.contacts
        if c.role != "undescribed"
    )


LINES = ("GND", "+5V", "open", "SD7", "/IOR", "~{IOW}", "WHAT", "key", "D3", "MEMR*")
RUNS = ("SD", "SA", "-IRQ", "/DACK")
STYLES = ("{}", '"{}"', "'{}'", "{{signal: {}, note: 'a: 1..3, # b'}}", '{{note: x, signal: "{}"}}')
NESTED = ("\n{i}  signal: {v} # n{n}\n{i}  note: thick", "\n{i}  note: a\n{i}  # n{n}\n{i}  signal: '{v}'")


@st.composite
def files(draw: st.DrawFn) -> tuple[str, str, str]:
    """A map file, in three parts: what stands before its contacts, they, and what follows."""
    count = draw(st.integers(2, 12)) * 2
    scheme, letters = draw(st.sampled_from([("zigzag", ""), ("serial", ""), ("ring", ""), ("rows", ", letters: B A")]))
    head = HEAD.replace("places: 6", f"places: {count // 2}{letters}").replace("zigzag", scheme)
    if letters:
        labels = [f"{row}{n}" for row in "AB" for n in range(1, count // 2 + 1)]
    else:
        labels = [str(n) for n in range(1, count + 1)]
    indent = " " * draw(st.integers(1, 4))
    out, marks = [], itertools.count()
    while labels:
        size = min(draw(st.integers(1, 4)), len(labels))
        step = draw(st.sampled_from([1, 1, 2]))
        taken = [label for label in labels[: size * step : step] if label[0] == labels[0][0] or not letters]
        taken = taken[:: draw(st.sampled_from([1, -1]))]
        labels = [label for label in labels if label not in taken]
        whole = [int(re.sub(r"\D", "", label)) for label in taken]
        step = abs(whole[1] - whole[0]) if len(taken) > 1 else 1
        if any(abs(b - a) != step for a, b in itertools.pairwise(whole)):
            continue  # left out of the table
        key = taken[0] if len(taken) == 1 else f"{taken[0]}..{taken[-1]}" + (f" by {step}" if step > 1 else "")
        value = draw(st.sampled_from(LINES if len(taken) == 1 else ("GND", "open", "run", "run", "run")))
        if value == "run":
            value = "{0}0..{0}{1}".format(draw(st.sampled_from(RUNS)), len(taken) - 1)
        style = draw(st.sampled_from(STYLES))
        if value.startswith("~"):
            style = draw(st.sampled_from([s for s in STYLES if '"' in s]))
        text = style.format(value)
        if not value.startswith("~") and draw(st.integers(0, 5)) == 0:
            text = draw(st.sampled_from(NESTED)).format(i=indent, v=value, n=next(marks))
        key = draw(st.sampled_from(["{}", '"{}"', "'{}'"])).format(key)
        before = draw(st.sampled_from(["", "", "", f"{indent}# c{next(marks)}\n", f"\n  # d{next(marks)}\n"]))
        behind = draw(st.sampled_from(["", "", f"   # e{next(marks)}"]))
        out.append(f"{before}{indent}{key}:{'' if text[0] == chr(10) else ' '}{text}{behind}\n")
    tail = draw(st.sampled_from(["", "# the end\n", "about: >-\n  # 1: text\n  more\n", "\n\nmarks: used # 1..3\n"]))
    return head, "".join(out) or f"{indent}{taken[0]}: GND\n", tail


COMMENT = re.compile(r"# [cden]\d+$", re.MULTILINE)


@given(files(), st.integers(0, 10**6), st.sampled_from(["\n", "\r\n"]), st.booleans())
@settings(deadline=None, derandomize=True, max_examples=100)
def test_any_file_corrected_by_any_mistake_reads_back_as_the_moved_map(
    read: Read, parts: tuple[str, str, str], pick: int, end: str, unended: bool
) -> None:
    head, contacts, tail = (part.replace("\n", end) for part in parts)
    if unended:
        contacts, tail = (contacts, tail.removesuffix(end)) if tail else (contacts.removesuffix(end), tail)
    text = head + contacts + tail
    pin = read(text)
    every = mistakes(pin.body)
    mistake = every[pick % len(every)]
    out = corrected(text, pin, mistake)
    # The map is the moved one.
    wanted = [(mistake.moves[str(label)], *rest) for label, *rest in table(pin) if label in mistake.moves]
    moved = read(out)
    assert table(moved) == sorted(wanted)
    assert (moved.title, moved.about, moved.marks, moved.options) == (pin.title, pin.about, pin.marks, pin.options)
    # Everything outside the contacts stands there byte for byte, every comment is kept, every line ends as it did.
    assert out.startswith(head)
    assert out.endswith(tail)
    plain, before = out.replace("\r", ""), text.replace("\r", "")
    assert set(COMMENT.findall(plain)) == set(COMMENT.findall(before))
    assert out.count("\r\n") == (out.count("\n") if end == "\r\n" else 0)
    assert out.endswith("\n") == text.endswith("\n")
    assert isinstance(yaml.safe_load(out), dict)


@given(files(), st.integers(0, 10**6))
@settings(deadline=None, derandomize=True, max_examples=30)
def test_to_mirror_a_file_twice_gives_the_same_map(read: Read, parts: tuple[str, str, str], pick: int) -> None:
    text = "".join(parts)
    pin = read(text)
    mistake = named(pin, [MIRRORED, SWAPPED, "turned by 180°"][pick % 3])
    once = corrected(text, pin, mistake)
    assert table(read(corrected(once, read(once), mistake))) == table(pin)


@pytest.mark.parametrize("entry", [e.name for e in library.entries()])
def test_every_shipped_file_can_be_corrected_by_every_mistake(entry: str, read: Read) -> None:
    path = library.find(entry)[0]
    text = path.read_text(encoding="utf-8")
    pin = read(text)
    comments = [line.partition("#")[2] for line in text.splitlines() if re.search(r"(^|\s)#", line)]
    for mistake in mistakes(pin.body)[::5]:
        out = corrected(text, pin, mistake)
        wanted = [(mistake.moves[str(label)], *rest) for label, *rest in table(pin) if label in mistake.moves]
        assert table(read(out)) == sorted(wanted)
        assert out.startswith(text[: text.index("\ncontacts:")])
        assert all(comment in out for comment in comments)


def test_3000_runs_are_put_elsewhere_at_once(read: Read) -> None:
    head = HEAD.replace("places: 6", "places: 3000")
    text = head + "".join(f"  {n}..{n + 1}: open\n" for n in range(1, 6_000, 2))
    pin = read(text)
    out = corrected(text, pin, named(pin, "numbered row by row, but read across the rows"))
    assert len(read(out).contacts) == 6_000


# ---------------------------------------------------------------------- the proposal as a whole


def as_proposal(text: str, mistake: str) -> str:
    """A file as a proposal: what was done on top, and every supply and return that was moved on a guess."""
    marked = re.sub(
        r"^(  \w+: )(GND|[+-]\d+V)$",
        r"\1{signal: \2, seen: guessed}",
        text,
        flags=re.MULTILINE,
    )
    return (
        f"# Proposed by pinmap: corrected as if it had been {mistake}.\n"
        f"# Measure every contact that is `seen: guessed` and write `seen: measured` there.\n{marked}"
    )


def test_a_proposal_undoes_the_mistake_that_was_made(tmp_path: Path) -> None:
    text = library.find("isa-8bit")[0].read_text(encoding="utf-8")
    slot = api.load_map("isa-8bit")
    mistake = named(slot, "turned by 180°")
    wrong = tmp_path / "wrong.yaml"
    wrong.write_text(corrected(text, slot, mistake), encoding="utf-8")
    assert [f.code for f in api.check(wrong).findings if f.grade == "danger"] == ["geometry-mistaken"]
    proposal = api.propose(wrong)
    assert proposal.text == as_proposal(text, "turned by 180°")
    assert proposal.sentence() == "corrected as if it had been turned by 180°. Measure the supplies and returns first"
    assert (proposal.others, proposal.lost) == ((), ())


# ---------------------------------------------------------------------- a proposal is a guess

OWN_SUPPLY = HEAD.replace(
    "contacts:",
    'own signals:\n  "V, [x]": {group: supply, volts: 9 V}\n  "V x": {group: supply, volts: 9 V}\ncontacts:',
)


@pytest.mark.parametrize(
    ("contacts", "expected"),
    [
        (
            "  1: GND # thick\n  2: SD7\n  3: '+5V'\n  4: \"VCC\"\n",
            "  1: SD7\n  2: {signal: GND, seen: guessed} # thick\n"
            "  3: {signal: \"VCC\", seen: guessed}\n  4: {signal: '+5V', seen: guessed}\n",
        ),
        (
            "  1: {signal: GND, seen: measured, note: a}\n  3: {note: 'seen: twice', signal: GND}\n  6: {signal: SD7,\n"
            "seen: measured}\n",
            "  2: {signal: GND, seen: guessed, note: a}\n  4: {seen: guessed, note: 'seen: twice', signal: GND}\n"
            "  5: {signal: SD7,\nseen: measured}\n",
        ),
        (
            "  1:\n    signal: GND\n    note: a\n  3:\n    seen: measured # by me\n    signal: GND\n",
            "  2:\n    seen: guessed\n    signal: GND\n    note: a\n  4:\n    seen: guessed # by me\n    signal: GND\n",
        ),
        (
            "  1..3: GND # three\n",
            "  1: {signal: GND, seen: guessed}\n  2: {signal: GND, seen: guessed} # three\n"
            "  4: {signal: GND, seen: guessed}\n",
        ),
        # Names that need no quotes until they stand in brackets.
        (
            "  1: V, [x]\n  3: V\n    x\n  5: V x\n",
            '  2: {signal: "V, [x]", seen: guessed}\n  4: {signal: "V x", seen: guessed}\n'
            "  6: {signal: V x, seen: guessed}\n",
        ),
        # What has no place any more is a comment, and open contacts were no supply.
        ("  1: open\n  3: key\n", "  2: open\n  4: key\n"),
    ],
)
def test_a_supply_or_return_that_was_moved_rests_on_a_guess(contacts: str, expected: str, read: Read) -> None:
    pin = read(OWN_SUPPLY + contacts)
    out = proposed(OWN_SUPPLY + contacts, pin, named(pin, SWAPPED))
    top = (
        "# Proposed by pinmap: corrected as if it had been with its rows swapped.\n"
        "# Measure every contact that is `seen: guessed` and write `seen: measured` there.\n"
    )
    assert out == top + OWN_SUPPLY + expected


def test_a_supply_that_stays_where_it_is_is_no_guess(read: Read) -> None:
    text = HEAD.replace("places: 6", "places: 3") + "  1: GND\n  2: SD0\n  3: +5V\n  4: {signal: GND, seen: measured}\n"
    pin = read(text)
    out = read(proposed(text, pin, named(pin, MIRRORED)))
    assert {c.label: (c.name, c.seen) for c in out.contacts if c.role != "undescribed"} == {
        "5": ("GND", "guessed"),
        "6": ("SD0", "manual"),
        "3": ("+5V", "manual"),
        "4": ("GND", "measured"),
    }
    # Nor one that was written in one line with others.
    text = HEAD.replace("places: 6", "places: 3") + "  1..3: GND # c\n"
    pin = read(text)
    assert proposed(text, pin, named(pin, MIRRORED)).endswith(
        "contacts:\n  3: GND\n  5: {signal: GND, seen: guessed} # c\n  6: {signal: GND, seen: guessed}\n"
    )


def test_what_has_no_place_any_more_stays_as_it_was_written(read: Read) -> None:
    text = HEAD + "  1: GND\n  3: GND\n"
    pin = read(text)
    assert proposed(text, pin, named(pin, LATE)).endswith(
        f"contacts:\n  1: {{signal: GND, seen: guessed}}\n  # without a place, once corrected ({LATE}):\n  # 1: GND\n"
    )


@given(files(), st.integers(0, 10**6))
@settings(deadline=None, derandomize=True, max_examples=50)
def test_any_proposal_reads_back_with_every_moved_supply_guessed(
    read: Read, parts: tuple[str, str, str], pick: int
) -> None:
    text = "".join(parts)
    pin = read(text)
    every = mistakes(pin.body)
    mistake = every[pick % len(every)]
    out = read(proposed(text, pin, mistake))
    plain = read(corrected(text, pin, mistake))
    assert [(c.label, c.name, c.note, c.option) for c in out.contacts] == [
        (c.label, c.name, c.note, c.option) for c in plain.contacts
    ]
    came = {there: here for here, there in mistake.moves.items()}
    moved = [c for c in out.contacts if c.signal and came[c.label] != c.label]
    power = [c for c in moved if c.signal and c.signal.is_power]
    in_doubt = {c.label for c in power or moved}  # where no supply moved, every line that did
    for contact, before in zip(out.contacts, plain.contacts, strict=True):
        if contact.label in in_doubt:
            assert contact.seen == "guessed"
        elif contact.signal and not contact.signal.is_power:
            assert contact.seen in (before.seen, "guessed")  # a run is in doubt as a whole


# ---------------------------------------------------------------------- a body that is described mirrored as well

FLOW = "body: {form: edge slot, rows: 2, places: 31, pitch: 2.54 mm, labels: rows, "
BLOCK = "body:\n  form: edge slot\n  pitch: 2.54 mm\n  labels: rows\n"


def of_the_slot(body: str) -> str:
    """The published table, typed from the solder side, with its body described as in `body`."""
    text = library.find("isa-8bit")[0].read_text(encoding="utf-8")
    slot = api.load_map("isa-8bit")
    wrong = corrected(text, slot, named(slot, MIRRORED))
    return re.sub(r"^body:\n(  .*\n)+", lambda _: body + "\n", wrong, flags=re.MULTILINE)


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        (FLOW + "letters: A B, first: top right}", FLOW + "letters: A B, first: top left}"),
        (FLOW + "first: top right}", FLOW + "first: top left}"),
        (FLOW + 'letters: "B A", first: top left} # hm', FLOW + "letters: A B, first: top left} # hm"),
        (FLOW + "first: 'top left', letters: [B, A]}", FLOW + "first: 'top left', letters: A B}"),
        (FLOW + "letters: [B, A], first: bottom left}", FLOW + "letters: A B, first: top left}"),
        (FLOW + "letters: [A, B], first: bottom right}", FLOW + "letters: [A, B], first: top left}"),
        (
            BLOCK + "  first: top right # a\n  letters: A B # b\n  rows: 2\n  places: 31",
            BLOCK + "  first: top left # a\n  letters: A B # b\n  rows: 2\n  places: 31",
        ),
        (
            BLOCK + "  first: top left\n  sections:\n    - {letters: B A, places: 31}",
            BLOCK + "  first: top left\n  sections:\n    - {letters: A B, places: 31}",
        ),
    ],
)
def test_a_body_that_is_described_mirrored_is_corrected_with_the_table(
    body: str, expected: str, tmp_path: Path
) -> None:
    path = tmp_path / "m.yaml"
    path.write_text(of_the_slot(body), encoding="utf-8")
    found = {f.code for f in api.check(path).findings}
    assert {"geometry-mistaken", "numbering-mirrored"} <= found
    proposal = api.propose(path).text
    assert f"\n{expected}\n" in proposal
    path.write_text(proposal, encoding="utf-8")
    assert not {"geometry-mistaken", "numbering-mirrored"} & {f.code for f in api.check(path).findings}
    slot = api.load_map("isa-8bit")
    assert {c.label: c.name for c in api.load_map(path).contacts} == {c.label: c.name for c in slot.contacts}


def test_a_body_that_is_right_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "m.yaml"
    body = FLOW + "letters: [A, B], first: 'bottom left'}"
    path.write_text(of_the_slot(body), encoding="utf-8")
    assert f"\n{body}\n" in api.propose(path).text


@pytest.mark.parametrize(
    ("body", "message", "advice"),
    [
        (
            BLOCK + "  first: top left\n  rows: 2\n  places: 31\n  letters:\n    - B\n    - A",
            "the body must say its letters in one line before a proposal can correct it",
            "Write letters: A B",
        ),
        (
            FLOW.replace("edge slot", "edge fingers") + "letters: A B, first: top left}",
            "the body must be described the right way round before a proposal can be made",
            "See numbering-mirrored in `pinmap check`",
        ),
    ],
)
def test_a_body_that_cannot_be_corrected_must_be_so_by_hand(
    body: str, message: str, advice: str, tmp_path: Path
) -> None:
    path = tmp_path / "m.yaml"
    path.write_text(of_the_slot(body), encoding="utf-8")
    with pytest.raises(PinmapError) as refused:
        api.propose(path)
    assert (refused.value.message, refused.value.advice) == (message, advice)


def test_where_nothing_explains_the_map_there_is_nothing_to_propose() -> None:
    with pytest.raises(PinmapError) as refused:
        api.propose("oakmere-88")
    assert (
        refused.value.message == "there is nothing to propose: no mistake with the connector as a whole explains the "
        "map better than it stands"
    )
