"""What is said of a map that is held against others: mistaken as a whole, different in places, or labelled mirrored."""

from __future__ import annotations

import time

import pytest
from handmade import BUS16, Line, header, pin_map, shipped, strip

from pinmap import api, checks, forms, library
from pinmap.body import CORNERS, FORMS, SCHEMES, Body, Corner, Form, Gender, Scheme, Section
from pinmap.findings import Finding
from pinmap.mistakes import mistakes
from pinmap.model import PinMap, Signal
from pinmap.skeleton import body_for

SLOT = shipped("isa-8bit")
PC104 = shipped("pc104-8bit")
OAKMERE = shipped("oakmere-88")
CODES = ("geometry-mistaken", "differs-from-reference", "order-broken", "numbering-mirrored")


def said(pin: PinMap, *references: PinMap, codes: tuple[str, ...] = CODES) -> list[Finding]:
    return [f for f in checks.run(pin, lambda: references) if f.code in codes]


def said_of_two_records(pin: PinMap, *references: PinMap) -> list[Finding]:
    return [f for f in checks.run(pin, references=lambda: references) if f.code in CODES]


def texts(findings: list[Finding]) -> list[tuple[str, str, str, str]]:
    return [(f.code, f.grade, f.message, f.advice) for f in findings]


def changed(pin: PinMap, contacts: dict[str, str | Line], *, body: Body | None = None) -> PinMap:
    """The map with other things at some contacts; "" leaves one out. Contact n of the table stands in line n."""
    table: dict[str, str | Line] = {c.label: c.name for c in pin.by_label.values() if c.role != "undescribed"}
    table |= contacts
    own = [*pin.own.values(), Signal("FOO", "own")]
    left = {label: what for label, what in table.items() if what != ""}
    return pin_map(left, body or pin.body, bus=pin.bus, rest="undescribed", own=own, marks=pin.marks)


def mistaken(pin: PinMap, name: str) -> PinMap:
    """The map as a person writes it who makes the mistake."""
    moves = next(m.moves for m in mistakes(pin.body) if m.name == name)
    return changed(pin, {label: pin.by_label[moves[label]].name if label in moves else "" for label in pin.body.labels})


# ---------------------------------------------------------------------- mistaken as a whole

FIRST = "Measure where the returns and +5V really are, before anything else. "
WRITES = "`--propose NEW.yaml` writes the map corrected"


@pytest.mark.parametrize(
    ("pin", "reference", "expected"),
    [
        (
            mistaken(SLOT, "mirrored end to end"),
            SLOT,
            (
                "geometry-mistaken",
                "danger",
                "if the map was written mirrored end to end (read from the solder side, or numbered from the "
                "other end), 62 of 62 contacts agree with isa-8bit; as it stands 6 do, and about 1 would by "
                "chance",
                FIRST + WRITES,
            ),
        ),
        (
            mistaken(SLOT, "turned by 180° and off by 1 place towards contact 1's end"),
            SLOT,
            (
                "geometry-mistaken",
                "danger",
                "if the map was written turned by 180° and off by 1 place towards contact 1's end (begun at the "
                "opposite corner, and counted from the wrong place), 60 of 60 contacts agree with isa-8bit; as it "
                "stands 0 do, and about 1 would by chance",
                FIRST + WRITES,  # nothing is written at A31 and B31, so nothing is lost there
            ),
        ),
        (
            # A15 is written twice, so that the rest comes one contact too late; what was put in too much has no place.
            changed(SLOT, {"A16": "SA16", **{f"A{n}": f"SA{32 - n}" for n in range(17, 32)}, "A31": "SA1"}),
            SLOT,
            (
                "geometry-mistaken",
                "fault",  # address lines only
                "if the map was written off by 1 contact from A16 on to A31 (a contact was counted twice or left "
                "out), 61 of 62 contacts agree with isa-8bit; as it stands 46 do, and about 1 would by chance",
                f"{FIRST}{WRITES} (without what stands at A15)",
            ),
        ),
        (
            mistaken(OAKMERE, "numbered row by row, but read across the rows"),
            OAKMERE,
            (
                "geometry-mistaken",
                "danger",
                "if the map was written numbered row by row, but read across the rows (its numbers were read in "
                "another numbering scheme), 62 of 62 contacts agree with oakmere-88; as it stands 2 do, and about "
                "2 would by chance",
                FIRST + WRITES,
            ),
        ),
        (
            mistaken(OAKMERE, "mirrored end to end"),
            SLOT,
            (
                "geometry-mistaken",
                "caution",  # a connector of the maker's own may lie any way round
                "if the map was written mirrored end to end (read from the solder side, or numbered from the "
                "other end), 20 of 62 contacts agree with isa-8bit; as it stands 2 do, and about 1 would by "
                "chance",
                f"{FIRST}If the maker's order is meant, leave it; if not, {WRITES}",
            ),
        ),
    ],
    ids=["mirrored", "turned and off", "part", "numbered", "own"],
)
def test_a_mistake_that_explains_a_map_is_named_with_the_figures(
    pin: PinMap, reference: PinMap, expected: tuple[str, str, str, str]
) -> None:
    assert texts(said(pin, reference, codes=("geometry-mistaken",))) == [expected]


def test_a_mistake_names_the_supplies_and_returns_that_it_moves_or_the_contact_where_it_begins() -> None:
    (finding,) = said(mistaken(SLOT, "with its rows swapped"), SLOT)
    assert finding.contacts == ("A1", "A3", "A5", "A7", "A9", "A10", "A29", "A31")
    assert finding.place.line == 0
    part = changed(SLOT, {f"B{n}": SLOT.by_label[f"B{n - 1}"].name for n in range(20, 32)})
    (finding,) = said(part, SLOT)
    assert (finding.contacts, finding.grade) == (("B20",), "danger")
    assert finding.place.line == 51  # where B20 stands in the table


def test_a_table_that_is_off_from_the_beginning_may_be_so_for_two_reasons() -> None:
    (finding,) = said(mistaken(SLOT, "off by 1 place away from contact 1's end"), SLOT)
    assert finding.message == (
        "if the map was written off by 1 place away from contact 1's end (counted from the wrong place) or off by "
        "1 contact from A2 on (a contact was counted twice or left out), 60 of 60 contacts agree with isa-8bit; "
        "as it stands 0 do, and about 1 would by chance"
    )


def test_beside_a_mistake_single_differences_are_not_named() -> None:
    table = mistaken(changed(SLOT, {"A5": "SD7", "B9": "open"}), "mirrored end to end")
    assert [f.code for f in said(table, SLOT)] == ["geometry-mistaken"]


# ---------------------------------------------------------------------- different in places


@pytest.mark.parametrize(
    ("contacts", "expected"),
    [
        (
            {"A4": "SD4", "A5": "SD5"},
            [
                (
                    "fault",
                    "A4 and A5 look exchanged: isa-8bit has SD5 at A4 and SD4 at A5, this map SD4 and SD5",
                    "Measure A4 and A5",
                )
            ],
        ),
        (
            {"B3": "-12V", "B7": "VCC", "A2": "SD0", "A9": "D7"},
            [
                (
                    "danger",
                    "B3 and B7 look exchanged: isa-8bit has +5V at B3 and -12V at B7, this map -12V and +5V",
                    "Measure B3 and B7",
                ),
                (
                    "fault",
                    "A2 and A9 look exchanged: isa-8bit has SD7 at A2 and SD0 at A9, this map SD0 and SD7",
                    "Measure A2 and A9",
                ),
            ],
        ),
        (
            # Measured, it is the machine that differs.
            {"B3": Line("-12V", seen="measured"), "B7": Line("+5V", seen="measured")},
            [
                (
                    "caution",
                    "B3 and B7 look exchanged: isa-8bit has +5V at B3 and -12V at B7, this map -12V and +5V",
                    "Measure B3 and B7",
                )
            ],
        ),
        (
            # Three in a ring are no exchange of two.
            {"A2": "SD6", "A3": "SD5", "A4": "SD7"},
            [
                (
                    "caution",
                    f"{label} carries {here} here, {there} on isa-8bit",
                    f"Measure {label}; write `seen: measured` there if the machine really differs",
                )
                for label, here, there in [("A2", "SD6", "SD7"), ("A3", "SD5", "SD6"), ("A4", "SD7", "SD5")]
            ],
        ),
        (
            {"B5": "-12V"},
            [
                (
                    "danger",
                    "B5 carries -12V here, -5V on isa-8bit",
                    "Measure B5 before anything is connected",
                )
            ],
        ),
        (
            {"A8": "GND"},
            [
                (
                    "danger",
                    "A8 carries GND here, SD1 on isa-8bit",
                    "Measure A8 before anything is connected",
                )
            ],
        ),
        (
            {"B8": "FOO"},
            [
                (
                    "caution",
                    "B8 carries FOO here, RESERVED on isa-8bit",
                    "Measure B8; write `seen: measured` there if the machine really differs",
                )
            ],
        ),
        # What another check says, or what is no difference.
        ({"A2": "open", "B8": "key", "B5": ""}, []),
        ({"A2": "WHAT"}, []),
        ({"A2": "D7", "B3": "VCC", "B30": "14MHZ"}, []),
        ({"B2": "RESET*", "B13": "IOW"}, []),  # polarity-opposite says it
    ],
)
def test_contacts_that_differ_from_a_reference_with_the_same_labels_are_named(
    contacts: dict[str, str | Line], expected: list[tuple[str, str, str]]
) -> None:
    found = said(changed(SLOT, contacts), SLOT)
    assert texts(found) == [("differs-from-reference", *each) for each in expected]


def test_many_lines_that_differ_are_named_together_but_for_those_that_were_measured() -> None:
    labels = [f"A{n}" for n in range(12, 21)]
    order = [SLOT.by_label[f"A{12 + n}"].name for n in (4, 6, 8, 1, 3, 7, 0, 2, 5)]
    table: dict[str, str | Line] = {**dict(zip(labels, order, strict=True)), "A2": Line("SD6", seen="measured")}
    together, measured = said(changed(SLOT, table), SLOT)
    assert (together.grade, together.contacts, together.signals) == ("fault", tuple(labels), tuple(order))
    assert (together.message, together.advice) == (
        "9 lines differ from isa-8bit (what that has in brackets): A12 SA15 (SA19), A13 SA13 (SA18), "
        "A14 SA11 (SA17), A15 SA18 (SA16), A16 SA16 (SA15), A17 SA12 (SA14), A18 SA19 (SA13), A19 SA17 (SA12) and "
        "A20 SA14 (SA11)",
        "Measure them before anything is connected",
    )
    assert (measured.grade, measured.message) == ("caution", "A2 carries SD6 here, SD7 on isa-8bit")
    del table["A20"], table["A2"]
    assert len(said(changed(SLOT, table), SLOT)) == 8  # so few are named one by one


def test_a_difference_names_contacts_lines_and_place() -> None:
    (finding,) = said(changed(SLOT, {"A4": "SD4", "A5": "SD5"}), SLOT)
    assert (finding.contacts, finding.signals, finding.place.line) == (("A4", "A5"), ("SD4", "SD5"), 4)
    (finding,) = said(changed(SLOT, {"A8": "GND"}), SLOT)
    assert (finding.contacts, finding.signals) == (("A8",), ("GND", "SD1"))


def test_a_line_of_the_makers_own_where_nothing_is_published_is_no_difference() -> None:
    assert said(changed(PC104, {"B10": "FOO"}), PC104) == []
    # A line moved to where the reference has nothing, and a line of the maker's own in its place: no exchange of two.
    assert [f.message for f in said(changed(PC104, {"A9": "FOO", "B10": "SD0"}), PC104)] == [
        "A9 carries FOO here, SD0 on pc104-8bit",
        "B10 carries SD0 here, nothing on pc104-8bit",
    ]


def test_the_own_lines_of_another_record_of_the_machine_are_compared_too() -> None:
    brindle = shipped("brindle-portable")
    (finding,) = said(changed(brindle, {"W": "CS1*", "X": "AUDIO"}), brindle)
    assert finding.message == (
        "W and X look exchanged: brindle-portable has AUDIO at W and CS1* at X, this map CS1* and AUDIO"
    )


def test_a_polarity_that_only_the_reference_has_is_asked_about() -> None:
    brindle = shipped("brindle-portable")
    assert texts(said(changed(brindle, {"23": "RESET"}), brindle)) == [
        (
            "differs-from-reference",
            "caution",
            "23 carries RESET here, RESET* on brindle-portable: the polarity is opposite",
            "Measure the level of 23 at rest",
        )
    ]
    assert said(brindle, brindle) == []


def test_the_names_of_the_other_generation_are_no_difference() -> None:
    table = {c.label: c.name for c in shipped("isa-16bit").contacts if c.label[0] in "AB"}
    # By function: SMEMR* is this slot's MEMR*, IRQ9 its IRQ2. Only B8 is another line.
    assert said(pin_map(table, SLOT.body, bus=BUS16), SLOT) == []


def test_the_nearest_of_several_references_is_the_one_that_counts() -> None:
    other = changed(SLOT, {"A2": "SD0", "A9": "SD7", "A3": "SD1", "A8": "SD6"})
    assert said(changed(SLOT, {"B5": "-5V"}), other, SLOT) == []
    assert [f.contacts for f in said(other, SLOT)] == [("A2", "A9"), ("A3", "A8")]


def test_a_map_that_is_another_connector_with_the_same_labels_is_not_compared_contact_by_contact() -> None:
    # Half of the contacts at most: then the runs are looked at by themselves.
    order = ["GND", "+5V", *(f"SD{n}" for n in (0, 1, 2, 3, 5, 4, 6, 7)), "IOR*", "IOW*"]
    own = pin_map(dict(zip((f"B{n}" for n in range(5, 17)), order, strict=True)), SLOT.body)
    first, second = said(own, SLOT)
    assert (first.code, first.grade, first.message, second.code) == (
        "differs-from-reference",
        "danger",  # until the supplies and returns are measured
        "only 0 of 12 contacts carry what isa-8bit has there, although the labels are the same: the machine has an "
        "order of its own, or the table is wrong throughout",
        "order-broken",
    )


def test_an_order_of_its_own_on_the_published_labels_is_believed_once_the_supplies_are_measured() -> None:
    order = ["GND", "+5V", "IOR*", "IOW*", "SD0", "SD1"]
    own = {f"B{n}": Line(name, seen="measured") for n, name in enumerate(order, 5)}
    (finding,) = said(pin_map(own, SLOT.body), SLOT)
    assert (finding.grade, finding.message[:12]) == ("caution", "only 0 of 6 ")


def test_of_two_records_of_one_machine_every_difference_counts_however_many_there_are() -> None:
    labels = list(SLOT.body.labels)
    other = changed(SLOT, {a: SLOT.by_label[b].name for a, b in zip(labels, labels[7:] + labels[:7], strict=True)})
    first, *rest = [f for f in said_of_two_records(other, SLOT) if f.code == "differs-from-reference"]
    assert (first.grade, first.message[:12]) == ("danger", "only 0 of 62")
    wrong = {label for label in labels if other.by_label[label].name != SLOT.by_label[label].name}
    assert {label for f in rest for label in f.contacts} == wrong


def test_records_of_one_machine_have_the_same_contacts() -> None:
    (finding,) = said_of_two_records(shipped("oakmere-88"), SLOT)
    assert (finding.grade, finding.message) == (
        "fault",
        "records of one connector must have the same contacts; isa-8bit has others than this map",
    )


@pytest.mark.parametrize("references", [(), (pin_map({}, SLOT.body, rest="undescribed"),), (pin_map({}, strip(1)),)])
def test_references_that_say_nothing_are_none(references: tuple[PinMap, ...]) -> None:
    assert said(SLOT, *references) == []
    assert said(pin_map({}, strip(1)), *references) == []


@pytest.mark.parametrize("entry", [e.name for e in library.entries()])
def test_nothing_of_the_kind_is_said_of_a_shipped_map(entry: str) -> None:
    pin = shipped(entry)
    assert said(pin, *api.published(pin)) == []
    assert said(pin, pin) == []


def test_20000_contacts_with_5000_exchanged_are_compared_at_once() -> None:
    body = Body("pin header", (Section(2, 10_000),), "zigzag")
    one = pin_map({label: "GND" if n % 8 else "+5V" for n, label in enumerate(body.labels)}, body)
    other = pin_map({label: "+5V" if n % 8 == 1 else "GND" for n, label in enumerate(body.labels)}, body)
    begun = time.perf_counter()
    found = said_of_two_records(one, other)[1:]  # the first says that the whole tables differ
    assert time.perf_counter() - begun < 10
    assert (len(found), {len(f.contacts) for f in found}) == (2500, {2})


# ---------------------------------------------------------------------- labelled mirrored


def slot(first: Corner, form: Form = "edge slot") -> PinMap:
    """The published slot with its labels begun elsewhere."""
    body = Body(form, SLOT.body.sections, "rows", first)
    return changed(SLOT, {}, body=forms.complete(body, library.customs()))


def headed(form: Form, first: Corner, scheme: str = "zigzag", rows: int = 2, places: int = 20) -> PinMap:
    body = Body(form, (Section(rows, places),), scheme, first)  # type: ignore[arg-type]
    return pin_map({"1": "GND", "2": "+5V"}, forms.complete(body, library.customs()))


def mirrored(how: str, form: str, first: str) -> tuple[str, str, str, str]:
    return (
        "numbering-mirrored",
        "caution",
        f"seen from its mating face, {form} should be numbered {how}, not the other way round (first: {first})",
        "Look whether the connector was drawn from its solder side; if so, correct `first`, or the order of `letters`, "
        "in the body",
    )


FROM_TOP_LEFT = "like the pads of the form: from the top left or the bottom right"
FROM_BOTTOM_LEFT = "like the pads of the form: from the bottom left or the top right"


@pytest.mark.parametrize(
    ("pin", "expected"),
    [
        # With row letters the rows lie where they are drawn; what counts is at which end the places begin.
        (slot("top left"), []),
        (slot("bottom left"), []),
        (slot("top right"), [mirrored("as on isa-8bit", "an edge slot", "top right")]),
        (slot("bottom right"), [mirrored("as on isa-8bit", "an edge slot", "bottom right")]),
        # The fingers that plug into it are its mirror image.
        (slot("top right", "edge fingers"), []),
        (slot("top left", "edge fingers"), [mirrored("as on isa-8bit", "edge fingers", "top left")]),
        (slot("top right", "pin header"), []),  # another thing with the same labels
        (slot("top right", "din 41612"), []),
    ],
)
def test_labels_that_lie_mirrored_to_the_published_connector_are_asked_about(
    pin: PinMap, expected: list[tuple[str, str, str, str]]
) -> None:
    assert texts(said(pin, SLOT, codes=("numbering-mirrored",))) == expected


def _turned(
    form: Form, how: str, corners: tuple[Corner, Corner]
) -> list[tuple[PinMap, list[tuple[str, str, str, str]]]]:
    return [(headed(form, first), [] if first in corners else [mirrored(how, f"a {form}", first)]) for first in CORNERS]


@pytest.mark.parametrize(
    ("pin", "expected"),
    [
        *_turned("box header", FROM_BOTTOM_LEFT, ("bottom left", "top right")),
        *_turned("pin header", FROM_BOTTOM_LEFT, ("bottom left", "top right")),
        *_turned("socket header", FROM_TOP_LEFT, ("top left", "bottom right")),
        # Only where the labels run like the pads of the form can they be mirrored to them.
        *((headed("box header", first, "serial"), []) for first in CORNERS),
        *((headed("edge slot", first), []) for first in CORNERS),
        # Nothing lies to the left or right of a single row, or of a single place.
        *((headed("pin header", first, rows=1), []) for first in CORNERS),
        *((headed("box header", first, places=1), []) for first in CORNERS),
        (headed("pin header", "top left", rows=3), []),  # no custom for three rows
        (OAKMERE, []),
    ],
)
def test_labels_that_lie_mirrored_to_the_pads_of_the_form_are_asked_about(
    pin: PinMap, expected: list[tuple[str, str, str, str]]
) -> None:
    assert texts(said(pin, SLOT, codes=("numbering-mirrored",))) == expected


def backplane(gender: Gender, letters: str, first: Corner, scheme: Scheme = "rows") -> PinMap:
    rows = tuple(letters) if scheme == "rows" else ()
    body = Body("din 41612", (Section(len(letters), 32, rows),), scheme, first, gender=gender)
    return pin_map({}, forms.complete(body, library.customs()))


ROW_A_ABOVE = "with row a on top and contact 1 at the left, or turned by 180°"
ROW_A_BELOW = "with row a below and contact 1 at the left, or turned by 180°"
# As in the open KiCad footprint library 6.0.11: the male has row a on top and contact 1 at the left, seen from its
# mating face, and the female is its mirror image.
BACKPLANES: list[tuple[PinMap, str]] = [
    (backplane("male", "ac", "top left"), ""),
    (backplane("male", "abc", "bottom left"), ""),  # the letters say which row is row a
    (backplane("male", "ca", "top right"), ""),
    (backplane("male", "ac", "top right"), ROW_A_ABOVE),
    (backplane("male", "ca", "top left"), ROW_A_ABOVE),
    (backplane("male", "cba", "bottom left"), ROW_A_ABOVE),
    (backplane("female", "ca", "top left"), ""),
    (backplane("female", "ca", "bottom left"), ""),
    (backplane("female", "ac", "top right"), ""),
    (backplane("female", "ac", "top left"), ROW_A_BELOW),
    (backplane("female", "cba", "bottom right"), ROW_A_BELOW),
    (backplane("female", "a", "top left"), ""),  # a single row
    (backplane("female", "ac", "top left", "zigzag"), ""),  # numbered in the maker's own way
]


@pytest.mark.parametrize(("pin", "how"), BACKPLANES, ids=[f"{p.body.gender} {p.body.first}" for p, _ in BACKPLANES])
def test_the_rows_of_a_backplane_connector_have_their_customary_side(pin: PinMap, how: str) -> None:
    form = f"a {pin.body.gender} DIN 41612 connector"
    expected = [mirrored(how, form, pin.body.first)] if how else []
    assert texts(said(pin, SLOT, codes=("numbering-mirrored",))) == expected


def test_another_record_of_the_machine_goes_before_the_custom_of_the_form() -> None:
    # As the maker numbered it: the other record agrees, and the pads of the form say nothing.
    assert said(headed("box header", "top left"), headed("box header", "top left")) == []
    found = said(headed("box header", "bottom left"), headed("box header", "top left"))
    assert [f.message for f in found] == [
        "seen from its mating face, a box header should be numbered as on handmade, not the other way round "
        "(first: bottom left)"
    ]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("labels", SCHEMES)
def test_the_body_of_a_new_skeleton_is_not_called_mirrored(form: str, labels: str) -> None:
    body = forms.complete(body_for(form, 2, 31, labels), library.customs())
    pin = pin_map({}, body)
    assert said(pin, *api.published(pin), codes=("numbering-mirrored",)) == []


def test_without_references_only_the_pads_can_tell() -> None:
    assert said(slot("top right")) == []
    assert len(said(headed("box header", "top left"))) == 1
    assert said(pin_map({}, header())) == []  # a body without the customs of its form
