"""A body's labels, pads and places, from every corner, and its mirror image."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap.body import CORNERS, EDGE_LETTERS, SCHEMES, Body, Corner, Numbering, Scheme, Section, edge_letter


def body(scheme: Scheme, first: Corner = "top left", rows: int = 2, places: int = 3, **more: object) -> Body:
    letters = tuple("ABCDEFGH"[:rows]) if scheme == "rows" else ()
    return Body("pin header", (Section(rows, places, letters),), scheme, first, **more)  # type: ignore[arg-type]


def picture(of: Body) -> list[str]:
    """Draw the labels as they lie on the mating face: one line a row, places from left to right."""
    at = {(s.y_mm, s.x_mm): label for label, s in of.spots.items()}
    rows = sorted({y for y, _ in at})
    return [" ".join(label for (y, _), label in sorted(at.items()) if y == row) for row in rows]


@pytest.mark.parametrize(
    ("scheme", "first", "drawn"),
    [
        ("rows", "top left", ["A1 A2 A3", "B1 B2 B3"]),
        ("rows", "bottom left", ["A1 A2 A3", "B1 B2 B3"]),  # the letters say which row it is, wherever it begins
        ("rows", "top right", ["A3 A2 A1", "B3 B2 B1"]),
        ("rows", "bottom right", ["A3 A2 A1", "B3 B2 B1"]),
        ("zigzag", "top left", ["1 3 5", "2 4 6"]),
        ("zigzag", "bottom left", ["2 4 6", "1 3 5"]),
        ("zigzag", "top right", ["5 3 1", "6 4 2"]),
        ("zigzag", "bottom right", ["6 4 2", "5 3 1"]),
        ("serial", "top left", ["1 2 3", "4 5 6"]),
        ("serial", "bottom left", ["4 5 6", "1 2 3"]),
        ("serial", "top right", ["3 2 1", "6 5 4"]),
        ("serial", "bottom right", ["6 5 4", "3 2 1"]),
        ("ring", "top left", ["1 2 3", "6 5 4"]),
        ("ring", "bottom left", ["6 5 4", "1 2 3"]),
        ("ring", "top right", ["3 2 1", "4 5 6"]),
        ("ring", "bottom right", ["4 5 6", "3 2 1"]),
        ("lettered", "top left", ["1 2 3", "A B C"]),
        ("lettered", "bottom left", ["A B C", "1 2 3"]),
        ("lettered", "top right", ["3 2 1", "C B A"]),
        ("lettered", "bottom right", ["C B A", "3 2 1"]),
    ],
)
def test_every_scheme_runs_from_every_corner(scheme: Scheme, first: Corner, drawn: list[str]) -> None:
    assert picture(body(scheme, first)) == drawn
    assert len(body(scheme, first)) == 6


def test_the_table_of_schemes_and_corners_above_is_complete() -> None:
    table = next(m for m in test_every_scheme_runs_from_every_corner.pytestmark if m.name == "parametrize")  # type: ignore[attr-defined]
    assert {(scheme, first) for scheme, first, _ in table.args[1]} == set(product(SCHEMES, CORNERS))


def test_three_rows_are_numbered_across_and_along() -> None:
    assert picture(body("zigzag", rows=3, places=2)) == ["1 4", "2 5", "3 6"]
    assert picture(body("serial", "bottom left", rows=3, places=2)) == ["5 6", "3 4", "1 2"]


def test_letters_are_listed_from_the_top_row_down() -> None:
    din = Body("din 41612", (Section(2, 3, ("c", "a")),), "rows", "bottom left", gender="female")
    assert picture(din) == ["c1 c2 c3", "a1 a2 a3"]
    assert din.labels == ("a1", "a2", "a3", "c1", "c2", "c3")


def test_numbers_begin_where_the_section_says() -> None:
    from_zero = Body("pin header", (Section(2, 2, ("C", "D"), start=0),), "rows")
    assert from_zero.labels == ("C0", "C1", "D0", "D1")
    assert Body("pin header", (Section(2, 2, start=0),), "zigzag").labels == ("0", "2", "1", "3")  # row by row
    assert Body("pin header", (Section(2, 2, start=7),), "serial").labels == ("7", "8", "9", "10")
    assert Body("pin header", (Section(2, 2, start=0),), "ring").labels == ("0", "1", "3", "2")
    assert Body("edge slot", (Section(2, 2, start=0),), "lettered").labels == ("0", "1", "A", "B")


@pytest.mark.parametrize(
    ("scheme", "drawn"),
    [
        ("zigzag", ["1 3 5", "2 4 6", "7 9", "8 10"]),
        ("serial", ["1 2 3", "4 5 6", "7 8", "9 10"]),
        ("ring", ["1 2 3", "6 5 4", "7 8", "10 9"]),
    ],
)
def test_plain_numbers_count_on_through_the_sections(scheme: Scheme, drawn: list[str]) -> None:
    both = Body("pin header", (Section(2, 3), Section(2, 2, across_mm=10)), scheme)
    assert picture(both) == drawn


def test_the_lettered_row_leaves_out_what_looks_like_a_number_and_doubles_after_z() -> None:
    letters = [edge_letter(n) for n in range(24)]
    assert letters == [*"ABCDEFHJKLMNPRSTUVWXYZ", "AA", "BB"]
    assert edge_letter(2 * len(EDGE_LETTERS)) == "AAA"
    assert body("lettered", places=25).labels[-3:] == ("AA", "BB", "CC")


def test_a_section_further_along_lies_further_from_the_first_contact() -> None:
    sections = (Section(2, 3, ("A", "B")), Section(2, 2, ("C", "D"), along_mm=10, across_mm=1))
    left = Body("edge slot", sections, "rows", "top left")
    assert [(left.spots[x].x_mm, left.spots[x].y_mm) for x in ("A1", "C1", "D2")] == [(0, 0), (10, 1), (12.54, 3.54)]
    right = Body("edge slot", sections, "rows", "top right")
    assert [(right.spots[x].x_mm, right.spots[x].y_mm) for x in ("A1", "C1", "D2")] == [
        (5.08, 0),
        (-4.92, 1),
        (-7.46, 3.54),
    ]
    assert left.width_mm == pytest.approx(12.54)
    assert right.width_mm == pytest.approx(12.54)
    assert left.distance_mm("A1", "D2") == pytest.approx((12.54**2 + 3.54**2) ** 0.5)


# ---------------------------------------------------------------------- pads


@pytest.mark.parametrize(
    ("pads", "expected"),
    [
        (None, {"A1": "A1", "A3": "A3", "B2": "B2"}),
        (Numbering("zigzag", "top left"), {"A1": "1", "A3": "5", "B2": "4"}),
        (Numbering("zigzag", "bottom right"), {"A1": "6", "A3": "2", "B2": "3"}),
        (Numbering("serial", "bottom right"), {"A1": "6", "A3": "4", "B2": "2"}),
        (Numbering("rows", "top left", (("b", "a"),)), {"A1": "b1", "A3": "b3", "B2": "a2"}),
    ],
)
def test_pads_are_found_by_position(pads: Numbering | None, expected: dict[str, str]) -> None:
    pad_of = body("rows", pads=pads).pad_of
    assert {label: pad_of[label] for label in expected} == expected


def test_the_mate_of_a_slot_has_the_pads_of_its_own_footprint() -> None:
    slot = body("rows", pads=Numbering("zigzag", "top left"), mate_pads=Numbering("serial", "bottom right"))
    fingers = slot.mate()
    assert picture(fingers) == ["A3 A2 A1", "B3 B2 B1"]
    assert [fingers.pad_of[x] for x in ("B1", "B2", "B3", "A1", "A2", "A3")] == ["1", "2", "3", "4", "5", "6"]


@pytest.mark.parametrize(
    ("form", "mate"),
    [
        ("edge slot", "edge fingers"),
        ("edge fingers", "edge slot"),
        ("pin header", "socket header"),
        ("socket header", "pin header"),
        ("box header", "socket header"),
        ("din 41612", "din 41612"),
    ],
)
def test_each_form_has_its_mate(form: str, mate: str) -> None:
    gender = "male" if form == "din 41612" else None
    this = Body(form, (Section(2, 2),), "zigzag", gender=gender, footprint="mine", mate_footprint="its")  # type: ignore[arg-type]
    other = this.mate()
    assert (other.form, other.gender) == (mate, "female" if gender else None)
    assert (other.footprint, other.mate_footprint) == ("its", "mine")


# ---------------------------------------------------------------------- runs


@pytest.mark.parametrize(
    ("scheme", "run", "expected"),
    [
        ("rows", ("A2", "A4"), "A2 A3 A4"),
        ("rows", ("A4", "A2"), "A4 A3 A2"),
        ("rows", ("B1", "B5", 2), "B1 B3 B5"),
        ("rows", ("B5", "B2", 2), "B5 B3"),
        ("rows", ("A1", "A1"), "A1"),
        ("zigzag", ("2", "6", 2), "2 4 6"),
        ("zigzag", ("3", "1"), "3 2 1"),
        ("serial", ("4", "7"), "4 5 6 7"),
        ("ring", ("5", "6"), "5 6"),
        ("lettered", ("B", "E"), "B C D E"),
        ("lettered", ("E", "A", 2), "E C A"),
        ("lettered", ("1", "3"), "1 2 3"),
    ],
)
def test_a_run_counts_up_down_and_by_steps(scheme: Scheme, run: tuple[str, str], expected: str) -> None:
    assert body(scheme, places=5).run(*run) == expected.split()


@pytest.mark.parametrize(
    ("scheme", "run", "message"),
    [
        ("rows", ("A1", "B5"), "a run must stay in one row, not go from A1 to B5"),
        ("lettered", ("1", "C"), "a run must stay in one row, not go from 1 to C"),
        ("lettered", ("C", "1"), "a run must stay in one row, not go from C to 1"),
        ("rows", ("A1", "A9"), "there is no contact A9 on this body"),
        ("rows", ("a1", "A2"), "there is no contact a1 on this body"),
        ("rows", ("A1", "A3", 0), "a run's step must be 1 or more, not 0"),
    ],
)
def test_a_run_that_the_body_has_not_is_an_error(scheme: Scheme, run: tuple[str, str], message: str) -> None:
    with pytest.raises(ValueError) as error:  # noqa: PT011 - the whole message follows
        body(scheme, places=5).run(*run)
    assert str(error.value) == message


def test_a_run_must_not_leave_the_body_between_two_sections() -> None:
    gap = Body("pin header", (Section(1, 3, ("A",)), Section(1, 3, ("A",), start=9, along_mm=30)), "rows")
    assert gap.run("A1", "A3") == ["A1", "A2", "A3"]
    with pytest.raises(ValueError, match=r"^a run must not leave the body: there is no contact A4 between A2 and A10$"):
        gap.run("A2", "A10")


# ---------------------------------------------------------------------- neighbours


def test_contacts_close_together_are_neighbours_in_the_row_and_across() -> None:
    assert body("zigzag").neighbours == {
        "1": ("3", "2"),
        "2": ("4", "1"),
        "3": ("1", "5", "4"),
        "4": ("2", "6", "3"),
        "5": ("3", "6"),
        "6": ("4", "5"),
    }


@pytest.mark.parametrize(
    ("form", "row_pitch_mm", "expected"),
    [
        ("pin header", 3.81, ("A1", "A3", "B2")),  # 1.5 times the pitch
        ("pin header", 3.82, ("A1", "A3")),
        ("edge slot", 2.54, ("A1", "A3")),  # the card is in between
        ("edge fingers", 2.54, ("A1", "A3")),
    ],
)
def test_rows_far_apart_or_on_two_faces_of_a_card_are_no_neighbours(
    form: str, row_pitch_mm: float, expected: tuple[str, ...]
) -> None:
    letters = (Section(2, 3, ("A", "B")),)
    assert Body(form, letters, "rows", row_pitch_mm=row_pitch_mm).neighbours["A2"] == expected  # type: ignore[arg-type]


# ---------------------------------------------------------------------- what is impossible


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Section(0, 5), "a section must have at least one row and one place, not 0 × 5"),
        (lambda: Section(2, 0), "a section must have at least one row and one place, not 2 × 0"),
        (lambda: Section(2, 5, ("A",)), "a section of 2 rows must have 2 row letters, not 1"),
        (lambda: Section(2, 5, ("A", "A")), "row letters must differ, not A A"),
        (lambda: Section(2, 5, start=-1), "the first number must be 0 or more, not -1"),
        (
            lambda: Body("plug", (Section(2, 5),), "zigzag"),  # type: ignore[arg-type]
            "form must be edge slot, edge fingers, pin header, socket header, box header or din 41612, not 'plug'",
        ),
        (
            lambda: body("spiral"),  # type: ignore[arg-type]
            "labels must be rows, zigzag, serial, ring or lettered, not 'spiral'",
        ),
        (
            lambda: body("zigzag", "left"),  # type: ignore[arg-type]
            "first must be top left, top right, bottom left or bottom right, not 'left'",
        ),
        (lambda: Body("pin header", (), "zigzag"), "a body must have at least one section"),
        (lambda: body("zigzag", pitch_mm=0), "the pitch must be more than 0 mm"),
        (lambda: body("zigzag", row_pitch_mm=-1), "the pitch must be more than 0 mm"),
        (lambda: Body("pin header", (Section(2, 3),), "rows"), "labels by rows must have one letter for each row"),
        (lambda: body("ring", rows=3), "ring labels must have two rows, not 3"),
        (lambda: body("lettered", rows=1), "lettered labels must have two rows, not 1"),
        (
            lambda: Body("pin header", (Section(1, 3, ("A",)), Section(1, 3, ("A",), start=3)), "rows"),
            "every contact must have a label of its own, not A3 twice",
        ),
        (
            lambda: Body("pin header", (Section(2, 3),), "zigzag", pads=Numbering("rows", "top left")),
            "pads by rows must have one letter for each row",
        ),
        (
            lambda: body("rows", pads=Numbering("rows", "top left", (("a", "b"), ("c", "d")))),
            "pads must have one letter for each row of each section",
        ),
        (
            lambda: body("serial", rows=3, mate_pads=Numbering("ring", "top left")),
            "the mate's pads by ring must have two rows, not 3",
        ),
        (
            lambda: body("serial", pads=Numbering("spiral", "top left")),  # type: ignore[arg-type]
            "pads must run by rows, zigzag, serial, ring or lettered from a corner, not spiral top left",
        ),
        (
            lambda: Body(
                "pin header",
                (Section(1, 3, ("A",)), Section(1, 3, ("B",), start=0, along_mm=20)),
                "rows",
                pads=Numbering("serial", "top left"),
            ),
            "pads must have a number for each contact, not 3 twice",
        ),
    ],
)
def test_parts_that_contradict_each_other_are_an_error(make: object, message: str) -> None:
    with pytest.raises(ValueError) as error:  # noqa: PT011 - the whole message follows
        make()  # type: ignore[operator]
    assert str(error.value) == message


# ---------------------------------------------------------------------- properties


@st.composite
def bodies(draw: st.DrawFn) -> Body:
    scheme = draw(st.sampled_from(SCHEMES))
    two = scheme in ("ring", "lettered")
    count = 1 if scheme == "lettered" else draw(st.integers(1, 3))
    alphabet = iter("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    sections = []
    for index in range(count):
        rows = 2 if two else draw(st.integers(1, 4))
        letters = draw(st.permutations([next(alphabet) for _ in range(rows)])) if scheme == "rows" else ()
        start = draw(st.integers(0, 40)) if scheme == "rows" or count == 1 else 1
        along, across = (draw(st.integers(-50, 50)), 20 * index) if index else (0, 0)
        sections.append(Section(rows, draw(st.integers(1, 30)), tuple(letters), start, along, across))
    numbering = None
    if all(s.start == 1 for s in sections):
        kinds: list[Scheme] = ["zigzag", "serial", *(["ring"] if all(s.rows == 2 for s in sections) else [])]  # type: ignore[list-item]
        numbering = Numbering(draw(st.sampled_from(kinds)), draw(st.sampled_from(CORNERS)))
    return Body(
        "pin header",
        tuple(sections),
        scheme,
        draw(st.sampled_from(CORNERS)),
        pitch_mm=draw(st.sampled_from([1.27, 2.0, 2.54, 3.96])),
        row_pitch_mm=draw(st.sampled_from([2.54, 5.08])),
        pads=numbering,
        mate_pads=numbering and Numbering("serial", draw(st.sampled_from(CORNERS))),
    )


def where(of: Body) -> dict[str, tuple[float, float]]:
    return {label: (s.x_mm, s.y_mm) for label, s in of.spots.items()}


@settings(deadline=None, max_examples=60)
@given(bodies())
def test_every_contact_has_one_label_one_spot_and_one_pad(of: Body) -> None:
    assert len(set(of.labels)) == len(of.labels) == len(of)
    assert len(set(where(of).values())) == len(of)
    assert sorted(of.pad_of) == sorted(of.labels)
    assert len(set(of.pad_of.values())) == len(of)


@settings(deadline=None, max_examples=60)
@given(bodies())
def test_the_mate_is_the_mirror_image_and_its_mate_is_the_body_again(of: Body) -> None:
    here, there = where(of), where(of.mate())
    (axis,) = {round(here[label][0] + there[label][0], 3) for label in of.labels}  # one mirror line for all contacts
    assert {label: (round(axis - x, 3), y) for label, (x, y) in there.items()} == {
        label: (round(x, 3), y) for label, (x, y) in here.items()
    }
    again = of.mate().mate()
    assert (where(again), again.pad_of, again.labels) == (here, of.pad_of, of.labels)


@settings(deadline=None, max_examples=60)
@given(bodies())
def test_neighbours_are_mutual_and_the_same_seen_from_the_mate(of: Body) -> None:
    assert all(label in of.neighbours[other] for label, others in of.neighbours.items() for other in others)
    assert {k: set(v) for k, v in of.neighbours.items()} == {k: set(v) for k, v in of.mate().neighbours.items()}


@settings(deadline=None, max_examples=60)
@given(bodies(), st.data())
def test_a_run_backwards_is_the_run_turned_round(of: Body, data: st.DataObject) -> None:
    first, last = data.draw(st.sampled_from(of.labels)), data.draw(st.sampled_from(of.labels))
    try:
        run = of.run(first, last)
    except ValueError:
        with pytest.raises(ValueError):  # noqa: PT011 - whatever it says one way
            of.run(last, first)
    else:
        assert of.run(last, first) == run[::-1]
        assert (run[0], run[-1]) == (first, last)
        assert set(run) <= set(of.labels)
