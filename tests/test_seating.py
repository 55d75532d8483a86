"""Which seatings two halves of a connector allow, and which contact then meets which."""

from __future__ import annotations

import pytest
from handmade import header, pin_map, shipped, strip
from hypothesis import given, settings
from hypothesis import strategies as st

from pinmap.body import MATES, Body, Form, Section
from pinmap.forms import FormSeating
from pinmap.library import customs
from pinmap.seating import Keying, Limits, Seating, allowed, places, seatings

FREE = Limits("any", "possible", "possible", "possible")


def of(body: Body, limits: Limits = FREE) -> tuple[Seating, ...]:
    return seatings(body, limits)


def named(body: Body, name: str) -> dict[str, str]:
    (seating,) = (s for s in of(body) if s.name == name)
    return dict(seating.meets)


# Four places, two rows, seen from the mating face:   2 4 6 8
#                                                      1 3 5 7
FOUR = header(4)


@pytest.mark.parametrize(
    ("name", "meets"),
    [
        ("right", {n: n for n in "12345678"}),
        ("turned by 180°", {"1": "8", "2": "7", "3": "6", "4": "5", "5": "4", "6": "3", "7": "2", "8": "1"}),
        ("off by 1 place away from contact 1's end", {"1": "3", "2": "4", "3": "5", "4": "6", "5": "7", "6": "8"}),
        ("off by 3 places towards contact 1's end", {"7": "1", "8": "2"}),
        ("off by 1 row away from contact 1's row", {"1": "2", "3": "4", "5": "6", "7": "8"}),
        ("off by 1 row towards contact 1's row", {"2": "1", "4": "3", "6": "5", "8": "7"}),
        (
            "off by 1 place away from contact 1's end and by 1 row away from contact 1's row",
            {"1": "4", "3": "6", "5": "8"},
        ),
        ("turned by 180°, off by 2 places towards contact 1's end", {"1": "4", "2": "3", "3": "2", "4": "1"}),
        ("only the first place engaged", {"1": "1", "2": "2"}),
        ("only the last 3 places engaged", {n: n for n in "345678"}),
    ],
)
def test_what_meets_what_on_a_connector_of_four_places(name: str, meets: dict[str, str]) -> None:
    assert named(FOUR, name) == meets


def test_a_connector_of_four_places_has_all_these_seatings_and_no_others() -> None:
    # 3 rows off, 7 places off, straight and turned; besides 3 parts from each end.
    found = of(FOUR)
    assert len(found) == 2 * 3 * 7 + 2 * 3
    assert len({s.name for s in found}) == len(found)
    assert found[0].kind == "right"
    assert [s.kind for s in found].count("part") == 6


def test_the_names_do_not_depend_on_the_corner_where_the_numbers_begin() -> None:
    for first in ("top left", "top right", "bottom left", "bottom right"):
        body = Body("pin header", (Section(2, 4),), "zigzag", first)
        assert {s.name: s.meets for s in of(body)} == {s.name: s.meets for s in of(FOUR)}, first


def test_a_card_turned_in_the_published_slot_meets_as_the_table_says() -> None:
    # 31 places, rows A and B: turned, A(n) lies on B(32 - n). PC/104 Specification, Appendix B, Table 2.
    slot = shipped("isa-8bit").body
    meets = named(slot, "turned by 180°")
    assert (meets["A1"], meets["B1"], meets["A29"], meets["A23"]) == ("B31", "A31", "B3", "B9")
    assert meets == {f"{r}{n}": f"{'B' if r == 'A' else 'A'}{32 - n}" for r in "AB" for n in range(1, 32)}


def test_places_count_from_contact_1_with_all_rows_and_sections() -> None:
    assert places(FOUR) == (("1", "2"), ("3", "4"), ("5", "6"), ("7", "8"))
    assert places(shipped("pc104-8bit").body)[0] == ("A1", "B1")
    long = places(shipped("isa-16bit").body)
    assert len(long) == 49
    assert (set(long[0]), set(long[-1])) == ({"A1", "B1"}, {"C18", "D18"})


def test_two_ways_off_have_one_name_beside_their_own() -> None:
    both: dict[str, list[str]] = {}
    for s in of(FOUR):
        if abs(s.along) + abs(s.across) == 1:
            both.setdefault(s.either_way, []).append(s.way)
    places, rows = ([f"{way} contact 1's {what}" for way in ("away from", "towards")] for what in ("end", "row"))
    assert both == {
        "off by 1 place either way": places,
        "off by 1 row either way": rows,
        "turned by 180°, off by 1 place either way": places,
        "turned by 180°, off by 1 row either way": rows,
    }


def test_contacts_that_land_between_contacts_meet_nothing() -> None:
    # The second section begins half a place off: a shift of three places puts 1 and 2 between its contacts.
    body = Body("pin header", (Section(1, 2), Section(1, 2, along_mm=3.5 * 2.54)), "serial")
    assert named(body, "off by 1 place away from contact 1's end") == {"1": "2", "3": "4"}
    assert "off by 3 places away from contact 1's end" not in {s.name for s in of(body)}


@pytest.mark.parametrize("pitch", [2.54, 3.9624, 0.1, 1.27 / 3])
def test_a_pitch_that_is_no_round_number_loses_no_contact(pitch: float) -> None:
    body = Body("pin header", (Section(2, 40),), "zigzag", pitch_mm=pitch, row_pitch_mm=pitch)
    assert len(named(body, "off by 39 places away from contact 1's end")) == 2
    assert len(named(body, "turned by 180°, off by 20 places towards contact 1's end")) == 40


# ---------------------------------------------------------------------- what the forms allow


def kinds(stays: Body, mate: Form) -> set[str]:
    return {s.kind for s in seatings(stays, allowed(stays, mate, customs()))}


@pytest.mark.parametrize(
    ("form", "mate", "along", "across", "turned"),
    [
        ("pin header", "socket header", "any", "possible", "possible"),
        ("socket header", "pin header", "any", "possible", "possible"),
        ("box header", "socket header", "none", "impossible", "only without a bump"),
        ("socket header", "box header", "none", "impossible", "only without a bump"),
        ("edge slot", "edge fingers", "one place", "impossible", "possible"),
        ("edge fingers", "edge slot", "one place", "impossible", "possible"),
        ("din 41612", "din 41612", "none", "impossible", "impossible"),
    ],
)
def test_a_pair_allows_what_both_halves_allow(form: Form, mate: Form, along: str, across: str, turned: str) -> None:
    limits = allowed(Body(form, (Section(2, 5),), "zigzag"), mate, customs())
    assert (limits.along, limits.across, limits.turned, limits.part) == (along, across, turned, "possible")
    assert limits.source == "common practice, no source"
    assert [why.split(":")[0] for why in limits.why] == list(dict.fromkeys((form, mate)))
    assert [cure.split(":")[0] for cure in limits.cures] == list(dict.fromkeys((form, mate)))


def test_what_the_forms_prevent_is_no_seating() -> None:
    assert kinds(FOUR, "socket header") == {"right", "part", "turned"}
    assert kinds(strip(), "socket header") == {"right", "part", "off", "turned", "turned and off"}
    assert kinds(shipped("tarn-rack").body, "din 41612") == {"right", "part"}
    slot = shipped("isa-8bit").body
    assert {s.along for s in seatings(slot, allowed(slot, "edge fingers", customs()))} == {-1, 0, 1}


def test_a_turned_plug_in_a_box_header_has_its_condition() -> None:
    said = {s.kind: s.condition for s in seatings(FOUR, allowed(FOUR, "socket header", customs()))}
    assert said == {"right": "", "part": "", "turned": "only with a plug that has no bump"}


def test_a_wall_between_sections_stops_shifts_and_a_turn_where_they_differ() -> None:
    assert kinds(shipped("isa-16bit").body, "edge fingers") == {"right", "part"}
    alike = Body("edge slot", (Section(2, 5), Section(2, 5, along_mm=20.0)), "zigzag")
    assert kinds(alike, "edge fingers") == {"right", "part", "turned"}
    assert "off" in kinds(shipped("pc104-16bit").body, "pin header")  # nothing stands between these


def test_a_form_of_which_nothing_is_known_allows_everything() -> None:
    limits = allowed(FOUR, "socket header", {})
    assert (limits.along, limits.across, limits.turned, limits.part) == ("any", "possible", "possible", "possible")
    assert limits.cures == ()
    assert limits.why[0] == "box header: Nothing is known of this form: every seating is taken as possible."
    assert FormSeating() == FormSeating("any", "possible", "possible", "possible", "nothing")


# ---------------------------------------------------------------------- keys

OFF = "off by 1 place away from contact 1's end"


def kept_out(body: Body, *keys: str, alone: str = "") -> set[str]:
    keying = Keying(pin_map(dict.fromkeys((*keys, *([alone] if alone else [])), "key"), body), body)
    return {s.name for s in of(body) if keying.keeps_out(s, keying.keys)}


def test_a_plugged_hole_keeps_out_a_pin_and_no_more() -> None:
    # The pins stay (a header), hole 1 is plugged: it lies on pin 3. The other way hole 3 lies on 1, where no pin is.
    body = Body("pin header", (Section(2, 4),), "zigzag", "bottom left")
    out = kept_out(body, "1")
    assert OFF in out
    assert "off by 1 place towards contact 1's end" not in out
    assert "turned by 180°" in out
    # With the socket staying it is the other way round: pin 3 comes to hole 1 when the pins are off towards its end.
    out = kept_out(Body("socket header", (Section(2, 4),), "zigzag", "bottom left"), "1")
    assert OFF not in out
    assert "off by 1 place towards contact 1's end" in out


def test_a_key_in_the_middle_of_the_turn_keeps_no_turned_plug_out() -> None:
    body = Body("pin header", (Section(1, 3),), "serial")
    assert "turned by 180°" not in kept_out(body, "2")
    assert "turned by 180°" not in kept_out(body, "1", "3")
    assert "turned by 180°" in kept_out(body, "1")


def test_where_nobody_says_which_half_has_the_pins_only_what_both_keep_out_counts() -> None:
    body = Body("din 41612", (Section(2, 4),), "zigzag", "bottom left")
    assert OFF not in kept_out(body, "1")
    assert "turned by 180°" in kept_out(body, "1")


def test_on_the_edge_of_a_card_a_key_takes_a_whole_place() -> None:
    slot = Body("edge slot", (Section(2, 4, ("A", "B")),), "rows")
    assert kept_out(slot, alone="A2") == set()  # A2 alone is no wall across the slot
    assert {OFF, "turned by 180°"} <= kept_out(slot, "A2", "B2")
    assert Keying(pin_map({"A1": "SD0", "B1": "open", "A2": "key", "B2": "open"}, slot), slot).unused == [
        ("A2", "B2"),
        ("A3", "B3"),
        ("A4", "B4"),
    ]


def test_only_what_the_map_calls_open_can_be_a_key() -> None:
    body = Body("pin header", (Section(1, 4),), "serial")
    m = pin_map({"1": "SD0", "2": "open", "3": "NOBODY KNOWS"}, body, rest="undescribed")
    assert Keying(m, body).unused == [("2",)]


# ---------------------------------------------------------------------- what always holds

FORMS = st.sampled_from(sorted(MATES))


@st.composite
def bodies(draw: st.DrawFn) -> Body:
    rows, length = draw(st.integers(1, 3)), draw(st.integers(1, 9))
    sections = [Section(rows, length)]
    if draw(st.booleans()):
        sections.append(Section(draw(st.integers(1, 3)), draw(st.integers(1, 6)), along_mm=30.0))
    return Body(
        draw(FORMS),
        tuple(sections),
        draw(st.sampled_from(["zigzag", "serial"])),
        draw(st.sampled_from(["top left", "bottom right", "top right", "bottom left"])),
        draw(st.sampled_from([2.54, 3.9624])),
        draw(st.sampled_from([2.54, 5.08])),
    )


@settings(derandomize=True, deadline=None, max_examples=60)
@given(bodies())
def test_a_seating_is_one_to_one_and_the_right_one_is_the_identity(body: Body) -> None:
    first, *others = of(body)
    assert dict(first.meets) == {label: label for label in body.labels}
    assert first.kind == "right"
    for s in others:
        assert s.kind != "right"
        assert s.meets
        assert len(set(s.meets.values())) == len(s.meets)
        assert set(s.meets) | set(s.meets.values()) <= set(body.labels)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(bodies())
def test_a_turn_undoes_itself_and_a_shift_is_undone_by_its_opposite(body: Body) -> None:
    by = {(s.turned, s.along, s.across): s.meets for s in of(body) if not s.engaged}
    for (turned, along, across), meets in by.items():
        back = by[turned, along, across] if turned else by[False, -along, -across]
        assert {back[there]: there for there in meets.values()} == dict(meets)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(bodies(), st.data())
def test_a_key_never_keeps_the_right_seating_out(body: Body, data: st.DataObject) -> None:
    keys = data.draw(st.lists(st.sampled_from(body.labels), unique=True))
    keying = Keying(pin_map(dict.fromkeys(keys, "key"), body), body)
    assert not any(keying.keeps_out(s, keying.keys) for s in of(body) if s.kind in ("right", "part"))
