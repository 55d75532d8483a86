"""Two maps held against each other, as a user gets it: on the terminal, as JSON, as the lines of a difference."""

from __future__ import annotations

import re

import pytest
from handmade import Line, pin_map, shipped, strip
from hypothesis import example, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from test_compare import moved

from pinmap.body import Body, Section
from pinmap.compare import Comparison, compare
from pinmap.errors import Place
from pinmap.mistakes import mistakes
from pinmap.writers import comparison as said
from pinmap.writers import difference

FIRST = pin_map(
    {"1": "GND", "2": "+5V", "3": "D0", "4": "SD1", "5": Line("OSC", option="video board"), "6": "RESET", "7": "TC"},
    strip(9),
    name="alpha",
    limits={"+5V": 1.5},
)
SECOND = pin_map(
    {
        "1": "GND",
        "2": "GND",
        "3": "SD1",
        "4": Line("SD0", seen="guessed", note="smudged"),
        "5": "OSC",
        "6": "RESET*",
        "8": "IRQ3",
        "9": "key",
    },
    strip(9),
    name="beta",
)

SHOWN = """\
The alpha connector · The beta connector
 ────────────────────────────────────────────────────────────
 group       signal   alpha   beta
 ────────────────────────────────────────────────────────────
 return      GND      1       1, 2         moved
 ────────────────────────────────────────────────────────────
 supply      +5V      2                    only in the first
 ────────────────────────────────────────────────────────────
 data        SD0      3       4            moved
 data        SD1      4       3            moved
 ────────────────────────────────────────────────────────────
 control     RESET    6       6 (RESET*)   opposite polarity
 ────────────────────────────────────────────────────────────
 timing      OSC      5       5            same
 ────────────────────────────────────────────────────────────
 interrupt   IRQ3             8            only in the second
 ────────────────────────────────────────────────────────────
 DMA         TC       7                    only in the first
 ────────────────────────────────────────────────────────────
3 moved, 2 only in the first, 1 opposite polarity, 1 same, 1 only in the second

Contacts that differ
 ───────────────────────────────────────────────────────────────────
 contact   alpha                         beta
 ───────────────────────────────────────────────────────────────────
 2         +5V                           GND      another line
 3         SD0                           SD1      another line
 4         SD1                           SD0      another line
 5         OSC (only with video board)   OSC      another option
 6         RESET                         RESET*   opposite polarity
 7         TC                            open     only in the first
 8         open                          IRQ3     only in the second
 9         open                          key      another use
 ───────────────────────────────────────────────────────────────────

What differs
  2 carries +5V in alpha, GND in beta: measure it before anything is connected
  3 and 4 are exchanged: SD0 and SD1 in alpha, SD1 and SD0 in beta
  GND is at 2 only in beta
  only in alpha: +5V (2), TC (7)
  only in beta: IRQ3 (8)
  the polarity is opposite: RESET at 6 in alpha, RESET* at 6 in beta
  OSC (5) is there only with video board in alpha, always in beta
  9: open in alpha, key in beta

What differs besides, and changes no wire
  SD0 is written D0 in alpha, SD0 in beta, and is the same line
  evidence of SD0: manual in alpha, guessed in beta
  limit of +5V (1.5 A): only in alpha
  option video board (brings OSC): only in alpha
  title is worded otherwise

the maps differ in what they carry
"""
DIFFERENCE = """\
--- a/map.yaml
+++ b/map.yaml
@@ -1,4 +1,4 @@
-title: The alpha connector
+title: The beta connector
 bus: isa-8bit
 end: host
 marks: used
@@ -10,14 +10,12 @@
 body row pitch: 2.54 mm
 body pads: as the labels
 body mate's pads: as the labels
-option video board: brings OSC
-limit of +5V: 1.5 A
 contact 1: GND
-contact 2: +5V
-contact 3: SD0, written D0
-contact 4: SD1
-contact 5: OSC, only with video board
-contact 6: RESET
-contact 7: TC
-contact 8: open
-contact 9: open
+contact 2: GND
+contact 3: SD1
+contact 4: SD0, guessed, note: smudged
+contact 5: OSC
+contact 6: RESET*
+contact 7: open
+contact 8: IRQ3
+contact 9: key
"""


def test_the_terminal_shows_both_maps_side_by_side_and_then_in_words(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    said.show(compare(FIRST, SECOND))
    assert capsys.readouterr().out == SHOWN


def test_a_narrow_terminal_gets_no_group(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    said.show(compare(FIRST, SECOND))
    out = capsys.readouterr().out
    assert " signal   alpha   beta\n" in out
    assert max(map(len, out.splitlines())) <= 60


def test_with_a_mistake_undone_the_contacts_of_both_maps_are_shown(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    slot = shipped("isa-8bit")
    mirrored = next(m for m in mistakes(slot.body) if m.kinds == ("mirrored",))
    dumb = tuple(replace(c, role="open", signal=None) if c.label == "B21" else c for c in slot.contacts)
    said.show(compare(slot, moved(replace(slot, contacts=dumb), dict(mirrored.moves))))
    lines = capsys.readouterr().out.splitlines()
    assert " contact of isa-8bit   isa-8bit   contact of other   other" in lines
    assert " B21                   IRQ7       B11                open    only in the first" in lines
    assert " data        SD0        A9             A23            moved with the connector" in lines
    assert "55 moved with the connector, 3 same, 1 only in the first" in lines


def test_the_json_has_the_keys_of_format_1_first() -> None:
    got = said.as_json(compare(FIRST, SECOND))
    keys = ["format", "first", "second", "same", "signals"]
    more = ["identical", "labelled", "mistake", "contacts", "exchanged", "body", "mated", "limits", "options", "own"]
    assert list(got) == [*keys, *more, "about", "words", "remarks", "renumbered"]
    assert got["signals"][2] == {
        "signal": "SD0",
        "group": "data",
        "first": ["3"],
        "second": ["4"],
        "relation": "moved",
        "differs": "",
        "written": [["D0"], ["SD0"]],
        "renamed": True,
        "besides": "moved",
    }
    assert got["contacts"][2] == {
        "first": "3",
        "second": "3",
        "carries_first": ["SD0"],
        "carries_second": ["SD1"],
        "relation": "another line",
        "changes": [],
    }
    assert (got["same"], got["identical"], got["labelled"], got["mistake"]) == (False, False, True, None)
    assert got["exchanged"] == [["3", "4"]]
    assert got["limits"] == [{"what": "+5V", "first": "1.5 A", "second": ""}]
    assert got["words"] == said.words(compare(FIRST, SECOND))


def test_the_json_of_other_connectors_has_no_contacts_and_that_of_a_mistake_names_it() -> None:
    assert said.as_json(compare(shipped("oakmere-88"), shipped("isa-8bit")))["contacts"] is None
    slot = shipped("isa-8bit")
    mirrored = next(m for m in mistakes(slot.body) if m.kinds == ("mirrored",))
    got = said.as_json(compare(slot, moved(slot, dict(mirrored.moves))))
    assert got["mistake"] == {
        "kinds": ["mirrored"],
        "name": "mirrored end to end",
        "made_in": "second",
        "agreeing": 62,
        "as_given": 6,
        "known": 62,
    }
    assert (got["contacts"][0]["first"], got["contacts"][0]["second"]) == ("A1", "A31")


def _numbered_otherwise() -> Comparison:
    """Six contacts numbered 1, 2 across against A1 to A3 and B1 to B3, with one that differs."""
    across = Body("box header", (Section(2, 3),), "zigzag", "bottom left")
    rows = Body("box header", (Section(2, 3, ("B", "A")),), "rows", "bottom left")
    first = {"1": "GND", "2": "SD0", "3": "SD1", "4": "SD2", "5": "SD3", "6": "SD4"}
    second = {"A1": "GND", "B1": "SD0", "A2": "SD1", "B2": "SD2", "A3": "SD3", "B3": "SD5"}
    return compare(pin_map(first, across, name="alpha"), pin_map(second, rows, name="beta"))


def test_with_another_numbering_the_labels_of_both_maps_are_shown(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    said.show(_numbered_otherwise())
    out = capsys.readouterr().out
    lines = [" ".join(line.split()) for line in out.splitlines() if "──" not in line]
    assert lines[2:9] == [
        "return GND 1 A1 same position",
        "data SD0 2 B1 same position",
        "data SD1 3 A2 same position",
        "data SD2 4 B2 same position",
        "data SD3 5 A3 same position",
        "data SD4 6 only in the first",
        "data SD5 B3 only in the second",
    ]
    assert "5 same position, 1 only in the first, 1 only in the second" in lines
    assert " contact of alpha   alpha   contact of beta   beta\n" in out
    assert "6 SD4 B3 SD5 another line" in lines
    assert lines[lines.index("What differs") + 1 :] == [
        "beta is the same connector as alpha, numbered rows B A instead of zigzag: 5 of 6 contacts have the",
        "same signal at the same position; the rest differs besides",
        "only in alpha: SD4 (6)",
        "only in beta: SD5 (B3)",
        "",
        "What differs besides, and changes no wire",
        "title is worded otherwise",
        "",
        "the maps differ in what they carry",
    ]


def test_the_json_tells_of_another_numbering_only_where_there_is_one() -> None:
    got = said.as_json(_numbered_otherwise())
    assert got["renumbered"] == {
        "first": "zigzag",
        "second": "rows B A",
        "plugged": False,
        "amounts_to": "",
        "agreeing": 5,
        "as_given": None,
        "known": 6,
    }
    assert (got["same"], got["labelled"], got["mistake"]) == (False, False, None)
    assert got["contacts"][1] == {
        "first": "2",
        "second": "B1",
        "carries_first": ["SD0"],
        "carries_second": ["SD0"],
        "relation": "same",
        "changes": [],
    }


# ---------------------------------------------------------------------- lines of a difference


def test_the_difference_has_a_fact_or_a_contact_a_line() -> None:
    assert difference.as_diff(FIRST, SECOND, "a/map.yaml", "b/map.yaml") == DIFFERENCE


def test_a_map_as_lines_does_not_hang_on_the_order_in_which_it_was_written() -> None:
    contacts = {"10": "SD1", "9": "SD0", "1": Line("GND", option="a board"), "2": "WHAT"}
    other = dict(sorted(contacts.items()))
    lines = difference.meaning(pin_map(contacts))
    assert lines == difference.meaning(pin_map(other))
    body = lines.index("option a board: brings GND")
    assert lines[body + 1 : body + 4] == [
        "contact 1: GND, only with a board",
        "contact 2: of an unknown name, WHAT",
        "contact 3: open",
    ]
    assert [line.split(":")[0] for line in lines[body + 1 :]] == [f"contact {n}" for n in range(1, 41)]


def test_a_hostile_name_stays_on_its_line() -> None:
    lines = difference.meaning(replace(pin_map({"1": "X\n-contact 2: GND\x1b[31m"}), title="T\n+++"))
    assert lines[0] == "title: T\\n+++"
    assert "contact 1: of an unknown name, X\\n-contact 2: GND\\u001b[31m" in lines
    assert difference.difference([], ["\x1b"], "a\n", "b\u202e") == (
        "--- a\\n\n+++ b\\u202e\n@@ -0,0 +1 @@\n+\\u001b\n"
    )


def applied(before: list[str], made: str) -> list[str]:
    """What a unified difference makes of the lines before it."""
    out: list[str] = []
    at = 0
    for line in made.splitlines()[2:]:
        if line.startswith("@@"):
            head = re.fullmatch(r"@@ -(\d+)(?:,(\d+))? \+(\d+)(?:,(\d+))? @@", line)
            assert head
            start = int(head[1]) - (head[2] != "0")
            out += before[at:start]
            at = start
            assert len(out) == int(head[3]) - (head[4] != "0")
        elif line.startswith("+"):
            out.append(line[1:])
        else:
            assert before[at] == line[1:]
            at += 1
            if line.startswith(" "):
                out.append(line[1:])
    return out + before[at:]


@example(
    list("bacaa"), list("baa"), 0
)  # what is the same at the end begins before what is the same at the beginning ends
@settings(deadline=None, max_examples=200, derandomize=True)
@given(st.lists(st.sampled_from("abc")), st.lists(st.sampled_from("abc")), st.sampled_from([0, 5000]))
def test_a_difference_leads_from_the_one_to_the_other(before: list[str], after: list[str], most: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(difference, "MOST_LINES", most)
        assert applied(before, difference.difference(before, after, "a", "b")) == after


def test_a_difference_of_more_lines_than_any_map_has_is_one_block_at_once() -> None:
    before = [f"line {n}" for n in range(50_000)]
    made = difference.difference(before, [before[0], *reversed(before[1:])], "a", "b").splitlines()
    assert made[2:4] == ["@@ -1,50000 +1,50000 @@", " line 0"]
    assert len(made) == 3 + 1 + 2 * 49_999


IDS = ("0123", "100644")
CHANGED = ("map.yaml", "/t/old.yaml", *IDS, "map.yaml", *IDS)
VERSIONS = {
    "/t/old.yaml": difference.Version(FIRST, ("first",)),
    "map.yaml": difference.Version(SECOND, ("second",)),
    "/t/comment.yaml": difference.Version(SECOND, ("# second", "second")),
    "/t/broken.yaml": difference.Version(None, ("fir st", "more"), ((Place("/t/broken.yaml", 4, 1), "no YAML"),)),
    "/t/key.yaml": difference.Version(FIRST, ("first",), ((Place("/t/key.yaml", 7, 3), "no such key"),) * 7),
    "/t/binary.yaml": difference.Version(None, None, ((Place("/t/binary.yaml"), "no text"),)),
}


def driven(*arguments: str) -> str | None:
    return difference.driven(arguments, VERSIONS.__getitem__)


def test_git_is_given_what_differs_under_the_path_that_it_names() -> None:
    assert driven(*CHANGED) == DIFFERENCE
    assert driven(*CHANGED, "new.yaml", "similarity index 90%") == DIFFERENCE.replace("b/map.yaml", "b/new.yaml")
    for others in ((), ("isa-8bit", "oakmere-88"), CHANGED[:6], (*CHANGED, "new.yaml")):
        assert driven(*others) is None


def test_a_file_that_is_added_or_deleted_is_shown_whole() -> None:
    added = driven("map.yaml", "/dev/null", ".", ".", "map.yaml", *IDS) or ""
    assert added.splitlines()[:4] == [
        "--- /dev/null",
        "+++ b/map.yaml",
        "@@ -0,0 +1,21 @@",
        "+title: The beta connector",
    ]
    gone = driven("map.yaml", "/t/old.yaml", *IDS, "/dev/null", ".", ".") or ""
    assert gone.splitlines()[:2] == ["--- a/map.yaml", "+++ /dev/null"]
    broken = driven("map.yaml", "/dev/null", ".", ".", "/t/broken.yaml", *IDS)
    assert broken == (
        "pinmap: b/map.yaml:4:1: no YAML\n"
        "pinmap: the text is compared, not the meaning\n"
        "--- /dev/null\n+++ b/map.yaml\n@@ -0,0 +1,2 @@\n+fir st\n+more\n"
    )


def test_of_a_version_that_cannot_be_read_in_full_the_reason_is_given_and_the_text_compared() -> None:
    assert driven("map.yaml", "/t/broken.yaml", *IDS, "map.yaml", *IDS) == (
        "pinmap: a/map.yaml:4:1: no YAML\n"
        "pinmap: the text is compared, not the meaning\n"
        "--- a/map.yaml\n+++ b/map.yaml\n@@ -1,2 +1 @@\n-fir st\n-more\n+second\n"
    )
    both = driven("map.yaml", "/t/broken.yaml", *IDS, "/t/key.yaml", *IDS) or ""
    assert both.splitlines()[:10] == [
        "pinmap: a/map.yaml:4:1: no YAML",
        *["pinmap: b/map.yaml:7:3: no such key"] * 5,
        "pinmap: b/map.yaml: and 2 more",
        "pinmap: the text is compared, not the meaning",
        "--- a/map.yaml",
        "+++ b/map.yaml",
    ]
    assert driven("map.yaml", "/t/binary.yaml", *IDS, "map.yaml", *IDS) == (
        "pinmap: a/map.yaml: no text\npinmap: neither the meaning nor the text can be compared\n"
    )


def test_where_no_contact_differs_git_is_given_one_line_that_says_so() -> None:
    def line(old: str, new: str, mode: str = "100644", *renamed: str) -> str | None:
        return driven("map.yaml", old, *IDS, new, "4567", mode, *renamed)

    for old, new in (("/t/comment.yaml", "map.yaml"), ("map.yaml", "/t/comment.yaml")):
        told = "pinmap: b/map.yaml: no contact differs; only comments, layout or spelling\n"
        assert line(old, new) == line(old, new, "100755") == told
    assert line("map.yaml", "map.yaml", "100755") == "pinmap: b/map.yaml: only its mode differs, 100755 after 100644\n"
    assert line("map.yaml", "map.yaml", "100644", "new.yaml", "similarity index 100%") == (
        "pinmap: b/new.yaml was a/map.yaml; nothing in it differs\n"
    )
    assert line("map.yaml", "map.yaml") == "pinmap: b/map.yaml: no line differs; only line ends\n"
    assert line("/t/broken.yaml", "/t/broken.yaml", "100755") == (
        "pinmap: a/map.yaml:4:1: no YAML\npinmap: b/map.yaml:4:1: no YAML\n"
        "pinmap: b/map.yaml: only its mode differs, 100755 after 100644\n"
    )


def test_a_conflict_that_is_not_settled_is_one_line_for_git_and_a_mistake_for_a_person() -> None:
    assert driven("a\tmap.yaml") == "pinmap: a\\tmap.yaml: a conflict in it is not settled yet\n"
    assert difference.driven(["map.yaml"], VERSIONS.__getitem__, by_git=False) is None


def test_the_lines_of_a_map_have_the_sources_of_its_body() -> None:
    body = replace(strip(9), sources=(("row pitch", "a book"), ("pitch", "a ruler")))
    lines = difference.meaning(pin_map({}, body))
    assert [line for line in lines if line.startswith("source")] == [
        "source of body pitch: a ruler",
        "source of body row pitch: a book",
    ]
