"""The moves of every geometric mistake, contact by contact, and what holds for all of them on any connector."""

from __future__ import annotations

import time

import pytest
from handmade import pin_map, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap import library
from pinmap.body import CORNERS, SCHEMES, Body, Section
from pinmap.mistakes import Mistake, mistakes, table_order

ROWS = Body("edge slot", (Section(2, 4, ("A", "B")),), "rows")
ZIGZAG = Body("pin header", (Section(2, 4),), "zigzag", "bottom left")
LETTERED = Body("edge slot", (Section(2, 24),), "lettered")


def named(body: Body, name: str, shifts: int = 3) -> Mistake:
    (found,) = [m for m in mistakes(body, shifts=shifts) if m.name == name]
    return found


def moves(body: Body, name: str) -> str:
    """The moves of a mistake as one line, in the order of a table; what lands off the body is a dash."""
    found = named(body, name)
    return " ".join(found.moves.get(label, "-") for label in table_order(body))


# ---------------------------------------------------------------------- the frame


@pytest.mark.parametrize(
    ("body", "label", "cell"),
    [
        # Row 0 holds the first contact and places count away from it, whichever corner that is.
        *((Body("pin header", (Section(2, 4),), "zigzag", corner), "1", (0, 0, 0)) for corner in CORNERS),
        *((Body("pin header", (Section(2, 4),), "zigzag", corner), "2", (0, 1, 0)) for corner in CORNERS),
        *((Body("pin header", (Section(2, 4),), "zigzag", corner), "7", (0, 0, 3)) for corner in CORNERS),
        *((Body("pin header", (Section(3, 4),), "serial", corner), "6", (0, 1, 1)) for corner in CORNERS),
        *((Body("pin header", (Section(2, 4),), "ring", corner), "5", (0, 1, 3)) for corner in CORNERS),
        *((Body("edge slot", (Section(2, 4),), "lettered", corner), "C", (0, 1, 2)) for corner in CORNERS),
        # The letters order the rows, wherever they lie.
        *((Body("edge slot", (Section(2, 4, ("A", "B")),), "rows", corner), "B3", (0, 1, 2)) for corner in CORNERS),
        *((Body("edge slot", (Section(2, 4, ("c", "a")),), "rows", corner), "a3", (0, 0, 2)) for corner in CORNERS),
        (Body("edge slot", (Section(2, 4, ("A", "B")), Section(2, 2, ("D", "C"))), "rows"), "D2", (1, 1, 1)),
        (strip(1), "1", (0, 0, 0)),
    ],
)
def test_a_contact_is_counted_from_the_first_contact_on(body: Body, label: str, cell: tuple[int, int, int]) -> None:
    assert body.cells[label] == cell


@pytest.mark.parametrize(
    ("body", "order"),
    [
        (ROWS, "A1 A2 A3 A4 B1 B2 B3 B4"),
        (ZIGZAG, "1 2 3 4 5 6 7 8"),
        (Body("pin header", (Section(2, 3),), "ring"), "1 2 3 4 5 6"),
        (Body("edge slot", (Section(2, 3, ("c", "a")),), "rows", "bottom right"), "a1 a2 a3 c1 c2 c3"),
        (Body("edge slot", (Section(2, 3),), "lettered"), "1 2 3 A B C"),
    ],
)
def test_a_table_lists_the_labels_as_a_person_counts(body: Body, order: str) -> None:
    assert " ".join(table_order(body)) == order


def test_a_lettered_row_goes_on_from_z_with_aa() -> None:
    assert table_order(LETTERED)[-4:] == ["Y", "Z", "AA", "BB"]


# ---------------------------------------------------------------------- what each one moves

# Written at A1 … A4, B1 … B4 (or 1 … 8): where each of them belongs.
MOVES = [
    (ROWS, "mirrored end to end", "A4 A3 A2 A1 B4 B3 B2 B1"),
    (ROWS, "with its rows swapped", "B1 B2 B3 B4 A1 A2 A3 A4"),
    (ROWS, "turned by 180°", "B4 B3 B2 B1 A4 A3 A2 A1"),
    (ROWS, "off by 1 place away from contact 1's end", "- A1 A2 A3 - B1 B2 B3"),
    (ROWS, "off by 1 place towards contact 1's end", "A2 A3 A4 - B2 B3 B4 -"),
    (ROWS, "off by 3 places towards contact 1's end", "A4 - - - B4 - - -"),
    (ROWS, "mirrored end to end and off by 1 place away from contact 1's end", "- A4 A3 A2 - B4 B3 B2"),
    (ROWS, "turned by 180° and off by 2 places towards contact 1's end", "B2 B1 - - A2 A1 - -"),
    (ROWS, "numbered across the rows, but read row by row", "A1 B1 A2 B2 A3 B3 A4 B4"),
    (ROWS, "numbered round the connector, but read row by row", "A1 A2 A3 A4 B4 B3 B2 B1"),
    # The table mirrored before it was counted, and a connector that is counted from its other end: not the same.
    (ROWS, "numbered across the rows, but read row by row, mirrored end to end", "B2 A2 B1 A1 B4 A4 B3 A3"),
    (ROWS, "numbered across the rows, mirrored end to end, but read row by row", "A4 B4 A3 B3 A2 B2 A1 B1"),
    (ZIGZAG, "mirrored end to end", "7 8 5 6 3 4 1 2"),
    (ZIGZAG, "with its rows swapped", "2 1 4 3 6 5 8 7"),
    (ZIGZAG, "turned by 180°", "8 7 6 5 4 3 2 1"),
    (ZIGZAG, "off by 1 place away from contact 1's end", "- - 1 2 3 4 5 6"),
    (ZIGZAG, "off by 1 contact away from contact 1", "- 1 2 3 4 5 6 7"),
    (ZIGZAG, "off by 1 contact towards contact 1", "2 3 4 5 6 7 8 -"),
    (ZIGZAG, "off by 3 contacts towards contact 1", "4 5 6 7 8 - - -"),
    (ZIGZAG, "numbered row by row, but read across the rows", "1 3 5 7 2 4 6 8"),
    (ZIGZAG, "numbered round the connector, but read across the rows", "1 3 5 7 8 6 4 2"),
    (Body("pin header", (Section(2, 3),), "ring"), "mirrored end to end", "3 2 1 6 5 4"),
    (Body("pin header", (Section(2, 3),), "ring"), "turned by 180°", "4 5 6 1 2 3"),
    (Body("pin header", (Section(2, 3),), "ring"), "numbered row by row, but read round the connector", "1 2 3 6 5 4"),
    (Body("edge slot", (Section(2, 3),), "lettered"), "with its rows swapped", "A B C 1 2 3"),
    (strip(4), "mirrored end to end", "4 3 2 1"),
    (Body("pin header", (Section(3, 2),), "serial"), "with its rows swapped", "5 6 3 4 1 2"),
    (Body("pin header", (Section(3, 2),), "serial"), "turned by 180°", "6 5 4 3 2 1"),
    # Each section by itself: what is turned stays in its part of the connector.
    (
        Body("edge slot", (Section(2, 2, ("A", "B")), Section(2, 1, ("C", "D"))), "rows"),
        "turned by 180°",
        "B2 B1 A2 A1 D1 C1",
    ),
]


@pytest.mark.parametrize(("body", "name", "expected"), MOVES, ids=[f"{b.scheme} {n}" for b, n, _ in MOVES])
def test_a_mistake_moves_each_contact_where_it_belongs(body: Body, name: str, expected: str) -> None:
    assert moves(body, name) == expected


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize(("body", "name", "expected"), MOVES[:4] + MOVES[13:16], ids=str)
def test_the_corner_of_the_first_contact_changes_no_move(body: Body, name: str, expected: str, corner: str) -> None:
    there = Body(body.form, body.sections, body.scheme, corner)  # type: ignore[arg-type]
    assert moves(there, name) == expected


def test_the_simplest_mistakes_are_named_first_with_how_they_come_about() -> None:
    assert [(m.kinds, m.name, m.why) for m in mistakes(ROWS, shifts=1, numberings=False)] == [
        (("mirrored",), "mirrored end to end", "read from the solder side, or numbered from the other end"),
        (("rows swapped",), "with its rows swapped", "row taken for row"),
        (("turned",), "turned by 180°", "begun at the opposite corner"),
        (("shifted",), "off by 1 place away from contact 1's end", "counted from the wrong place"),
        (
            ("mirrored", "shifted"),
            "mirrored end to end and off by 1 place away from contact 1's end",
            "read from the solder side, or numbered from the other end, and counted from the wrong place",
        ),
        (
            ("rows swapped", "shifted"),
            "with its rows swapped and off by 1 place away from contact 1's end",
            "row taken for row, and counted from the wrong place",
        ),
        (
            ("turned", "shifted"),
            "turned by 180° and off by 1 place away from contact 1's end",
            "begun at the opposite corner, and counted from the wrong place",
        ),
        (("shifted",), "off by 1 place towards contact 1's end", "counted from the wrong place"),
        (
            ("mirrored", "shifted"),
            "mirrored end to end and off by 1 place towards contact 1's end",
            "read from the solder side, or numbered from the other end, and counted from the wrong place",
        ),
        (
            ("rows swapped", "shifted"),
            "with its rows swapped and off by 1 place towards contact 1's end",
            "row taken for row, and counted from the wrong place",
        ),
        (
            ("turned", "shifted"),
            "turned by 180° and off by 1 place towards contact 1's end",
            "begun at the opposite corner, and counted from the wrong place",
        ),
    ]


def names(body: Body, shifts: int = 0) -> list[str]:
    return [m.name for m in mistakes(body, shifts=shifts)]


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        (strip(1), []),
        (strip(2), ["mirrored end to end"]),  # a single row can't be swapped, and turned it is mirrored
        (Body("pin header", (Section(2, 1),), "serial"), ["with its rows swapped"]),
        (
            Body("pin header", (Section(2, 2),), "serial"),
            [
                "mirrored end to end",
                "with its rows swapped",
                "turned by 180°",
                "numbered across the rows, but read row by row",
                "numbered across the rows, mirrored end to end, but read row by row",
                "numbered across the rows, with its rows swapped, but read row by row",
                "numbered across the rows, turned by 180°, but read row by row",
                "numbered round the connector, but read row by row",
                "numbered round the connector, mirrored end to end, but read row by row",
                "numbered round the connector, with its rows swapped, but read row by row",
                "numbered round the connector, turned by 180°, but read row by row",
            ],
        ),
        # Numbered in another way: for two rows only, and for all sections alike.
        (Body("pin header", (Section(3, 2),), "serial"), ["mirrored end to end", *names(ROWS)[1:3]]),
        (Body("pin header", (Section(2, 2), Section(1, 2)), "serial"), ["mirrored end to end", *names(ROWS)[1:3]]),
    ],
    ids=["1 contact", "2 contacts", "2 × 1", "2 × 2", "3 rows", "a row and two"],
)
def test_a_connector_has_only_the_mistakes_that_move_something_on_it(body: Body, expected: list[str]) -> None:
    assert names(body) == expected


def test_a_shift_by_more_places_than_there_are_moves_nothing_and_is_left_out() -> None:
    assert names(strip(2), shifts=3) == [
        "mirrored end to end",
        "off by 1 place away from contact 1's end",
        "off by 1 place towards contact 1's end",
    ]


def test_without_numberings_none_is_among_them() -> None:
    every = {m.kinds[0] for m in mistakes(ROWS)}
    assert every == {"mirrored", "rows swapped", "turned", "shifted", "numbering"}
    assert {m.kinds[0] for m in mistakes(ROWS, numberings=False)} == every - {"numbering"}


# ---------------------------------------------------------------------- what holds for all of them


@st.composite
def bodies(draw: st.DrawFn) -> Body:
    scheme = draw(st.sampled_from(SCHEMES))
    two = scheme in ("ring", "lettered")
    sections: list[Section] = []
    letters = iter("ABCDEFGHIJKL")
    for _ in range(1 if scheme == "lettered" else draw(st.integers(1, 3))):
        rows = 2 if two else draw(st.integers(1, 4))
        own = tuple(next(letters) for _ in range(rows)) if scheme == "rows" else ()
        sections.append(Section(rows, draw(st.integers(1, 9)), own[:: draw(st.sampled_from([1, -1]))]))
    return Body("pin header", tuple(sections), scheme, draw(st.sampled_from(CORNERS)))


@given(bodies(), st.integers(0, 4))
@settings(deadline=None, derandomize=True, max_examples=60)
def test_the_moves_of_every_mistake_are_one_to_one_and_stay_on_the_body(body: Body, shifts: int) -> None:
    labels = set(body.labels)
    found = mistakes(body, shifts=shifts)
    for mistake in found:
        assert len(set(mistake.moves.values())) == len(mistake.moves)
        assert labels >= set(mistake.moves) | set(mistake.moves.values())
        assert any(a != b for a, b in mistake.moves.items())
    # Each movement has one name, each name one movement.
    assert len({frozenset(m.moves.items()) for m in found}) == len({m.name for m in found}) == len(found)


@given(bodies())
@settings(deadline=None, derandomize=True, max_examples=60)
def test_what_is_turned_or_renumbered_loses_no_contact(body: Body) -> None:
    for mistake in mistakes(body):
        if "shifted" not in mistake.kinds:
            assert set(mistake.moves) == set(mistake.moves.values()) == set(body.labels)


@given(bodies())
@settings(deadline=None, derandomize=True, max_examples=60)
def test_what_is_mirrored_swapped_or_turned_twice_is_as_before(body: Body) -> None:
    for mistake in mistakes(body, shifts=0, numberings=False):
        if "shifted" in mistake.kinds:
            continue
        assert all(mistake.moves[there] == label for label, there in mistake.moves.items())


@given(bodies())
@settings(deadline=None, derandomize=True, max_examples=60)
def test_places_keep_their_distance_in_a_row_that_is_turned_or_off(body: Body) -> None:
    cells = body.cells
    for mistake in mistakes(body, numberings=False):
        if body.scheme == "zigzag" and mistake.kinds == ("shifted",):
            continue  # where the labels cross the rows, a contact further is in another row
        for section in range(len(body.sections)):
            pairs = [(cells[a], cells[b]) for a, b in mistake.moves.items() if cells[a][0] == section]
            assert {there[0] for _, there in pairs} <= {section}
            turned = "mirrored" in mistake.kinds or "turned" in mistake.kinds
            assert len({here[2] + (there[2] if turned else -there[2]) for here, there in pairs}) <= 1


@given(bodies(), st.data())
@settings(deadline=None, derandomize=True, max_examples=60)
def test_to_undo_a_mistake_that_was_made_gives_the_original_table(body: Body, data: st.DataObject) -> None:
    made = mistakes(body)
    if not made:
        assert len(body) == 1 or {(s.rows, s.places) for s in body.sections} == {(1, 1)}
        return
    mistake = data.draw(st.sampled_from(made))
    right = {label: f"line at {label}" for label in body.labels}
    wrong = {label: right[there] for label, there in mistake.moves.items()}
    undone = {mistake.moves[label]: line for label, line in wrong.items()}
    assert undone == {label: right[label] for label in mistake.moves.values()}


def test_the_shipped_maps_have_as_many_mistakes_as_before() -> None:
    counted = {e.name: len(mistakes(m.body)) for e in library.entries() if (m := library.read(e.name).map)}
    assert counted == {
        "brindle-portable": 63,
        "isa-16bit": 63,
        "isa-8bit": 63,
        "oakmere-88": 39,
        "pc104-16bit": 63,
        "pc104-8bit": 63,
        "tarn-rack": 63,
    }


def test_a_connector_of_20000_contacts_is_framed_at_once() -> None:
    body = pin_map({}, Body("pin header", (Section(2, 10_000),), "zigzag")).body
    begun = time.perf_counter()
    assert len(body.cells) == 20_000
    assert time.perf_counter() - begun < 5
