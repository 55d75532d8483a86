"""A netlist or schematic held against the plan: what agrees, and every fault found and named."""

from __future__ import annotations

import json
import random
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from functools import cache
from pathlib import Path

import click
import pytest
from drawings import Drawing, drawing, name_of
from faults.drawings import BOARDS, CLASSES, KINDS, PLANS, judge, planned
from handmade import POWER, header, pin_map
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pinmap import api
from pinmap.audit import netlist, source
from pinmap.audit.fitting import same_value
from pinmap.audit.judging import Audit, audit
from pinmap.audit.reading import read
from pinmap.audit.wanted import Wanted
from pinmap.errors import NotFoundError, PinmapError
from pinmap.mistakes import mistakes
from pinmap.planner import plan
from pinmap.writers import audit_report
from pinmap.writers import netlist as written
from pinmap.writers.netlist_child import read_netlist

DATA = Path(__file__).parent / "data" / "drawings"
OAKMERE = ("oakmere-88", "isa-8bit")
RISER = ("oakmere-riser",)
TWO = (("J1", ("turned",)), ("J2", ("mirrored",)))


def plain(names: tuple[str, ...] = OAKMERE) -> Drawing:
    return drawing(planned(names))


def net(made: Drawing, name: str) -> str:
    return name_of(made.adapter, name)


def said(result: Audit) -> list[tuple[str, str, str]]:
    return [(f.grade, f.code, f.message) for f in result.findings]


# ------------------------------------------------------------------ what is as planned


@cache
def own_netlist(names: tuple[str, ...]) -> str:
    return written.text(planned(names))


@pytest.mark.parametrize("names", PLANS, ids=" ".join)
def test_a_netlist_that_this_project_writes_is_as_planned(names: tuple[str, ...], tmp_path: Path) -> None:
    path = tmp_path / "adapter.net"
    path.write_text(own_netlist(names), encoding="utf-8")
    result = audit(read(path), planned(names))
    assert result.first_line == f"as planned: all {len(planned(names).nets)} nets"
    assert result.findings == ()
    assert [(c.plan, c.ref, c.how, c.naming) for c in result.connectors] == [
        ("J1", "J1", "reference", "pads"),
        ("J2", "J2", "reference", "pads"),
    ]
    assert all(part.drawn == part.ref for part in result.parts)


def test_a_netlist_is_read_as_another_reader_reads_it(tmp_path: Path) -> None:
    path = tmp_path / "adapter.net"
    path.write_text(own_netlist(RISER), encoding="utf-8")
    drawn = read(path)
    parts, nets = read_netlist(path)
    assert {n.name: n.nodes for n in drawn.nets} == nets
    assert {ref: (p.value, p.footprint, p.pads) for ref, p in drawn.parts.items()} == {
        ref: (p.value, p.footprint, p.pads) for ref, p in parts.items()
    }


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("names", PLANS, ids=" ".join)
def test_a_drawing_of_the_plan_is_as_planned_whatever_its_nets_are_called(
    names: tuple[str, ...], kind: str, tmp_path: Path
) -> None:
    result = plain(names).audit(tmp_path, kind)
    assert result.verdict == "as planned"
    assert result.findings == ()
    assert all(n.states == ("agrees",) and n.copper is None for n in result.nets)


def test_supplies_and_returns_stand_first() -> None:
    nets = Wanted(planned(OAKMERE)).nets
    assert [n.name for n in nets[:5]] == ["+5V", "+12V", "-12V", "-5V", "GND"]


@settings(deadline=None, derandomize=True, max_examples=15)
@given(st.randoms(use_true_random=False))
def test_names_and_order_of_nets_and_references_mean_nothing(rng: random.Random) -> None:
    made = plain(RISER)
    names = list(made.nets)
    rng.shuffle(names)
    order = list(made.nets.values())
    rng.shuffle(order)
    made.nets = dict(zip(names, order, strict=True))
    parts = list(made.parts.items())
    rng.shuffle(parts)
    made.parts = dict(parts)
    for letter in "RC":  # two capacitors of one value at one rail are the same to anybody
        refs = [ref for ref in made.parts if ref.startswith(letter)]
        made.rename(dict(zip(refs, [f"{letter}{n}" for n in rng.sample(range(10, 99), len(refs))], strict=True)))
    with tempfile.TemporaryDirectory() as folder:
        assert made.audit(Path(folder)).findings == ()


# ------------------------------------------------------------------ every fault is found and named


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("fault", CLASSES)
def test_every_single_fault_is_found_and_named_and_nothing_else(fault: str, kind: str, tmp_path: Path) -> None:
    tried = 0
    for names in (OAKMERE, ("isa-8bit", "pc104-8bit"), ("brindle-riser",)):
        rng = random.Random(f"{fault} {names}")
        for number, broken in enumerate(CLASSES[fault](planned(names), rng)):
            if number == 3:
                break
            outcome = judge(broken, broken.drawing.audit(tmp_path, kind))
            assert (outcome.found, outcome.placed, outcome.false) == (True, True, 0), (names, broken.states, broken.ref)
            tried += 1
    assert tried >= 5


@pytest.mark.parametrize("kind", BOARDS)
@pytest.mark.parametrize("fault", CLASSES)
def test_every_single_fault_of_a_board_is_found_and_named(fault: str, kind: str, tmp_path: Path) -> None:
    broken = next(CLASSES[fault](planned(OAKMERE), random.Random(fault)))
    result = broken.drawing.audit(tmp_path, kind)
    outcome = judge(broken, result)
    assert (outcome.found, outcome.placed, outcome.false) == (True, True, 0)
    assert result.kind == "board"
    if kind == "copper":
        assert all(n.states == ("agrees",) for n in result.nets)


@settings(deadline=None, derandomize=True, max_examples=60)
@given(st.data())
def test_nodes_of_two_nets_that_change_places_are_called_exchanged(data: st.DataObject) -> None:
    names = data.draw(st.sampled_from([OAKMERE, RISER]))
    made = plain(names)
    wanted = Wanted(made.adapter)
    able = [i for i, nodes in enumerate(wanted.nodes) if sum(ref in wanted.ends for ref, _ in nodes) > 1]
    a, b = data.draw(st.lists(st.sampled_from(able), min_size=2, max_size=2, unique=True))
    ref = data.draw(st.sampled_from(list(wanted.ends)))
    here, there = ([label for r, label in wanted.nodes[i] if r == ref] for i in (a, b))
    assume(here and there)
    made.exchange(f"{ref} {data.draw(st.sampled_from(here))}", f"{ref} {data.draw(st.sampled_from(there))}")
    with tempfile.TemporaryDirectory() as folder:
        result = made.audit(Path(folder))
    wrong = {n.name: n.states for n in result.nets if n.wrong}
    assert wrong == {wanted.nets[a].name: ("exchanged",), wanted.nets[b].name: ("exchanged",)}
    power = wanted.is_power(a) or wanted.is_power(b)
    assert [(f.grade, f.code) for f in result.findings] == [
        ("danger", "audit-supply-moved") if power else ("fault", "audit-exchanged")
    ]


MESSAGES: list[tuple[str, tuple[str, ...], Callable[[Drawing], object], tuple[str, str, str]]] = [
    (
        "exchanged",
        OAKMERE,
        lambda d: d.exchange("J2 A2", "J2 A3"),
        ("fault", "audit-exchanged", "SD6 and SD7 are exchanged: J2 A3 on SD7, J2 A2 on SD6"),
    ),
    (
        "exchanged with an open contact",
        OAKMERE,
        lambda d: d.exchange("J2 A2", "J2 B8"),
        (
            "fault",
            "audit-exchanged",
            "SD7 and card B8 RESERVED are exchanged: J2 A2 on card B8 RESERVED, J2 B8 on SD7",
        ),
    ),
    (
        "a supply exchanged",
        OAKMERE,
        lambda d: d.exchange("J2 B9", "J2 A2"),
        ("danger", "audit-supply-moved", "+12V and SD7 are exchanged: J2 B9 on SD7, J2 A2 on +12V"),
    ),
    (
        "omitted",
        OAKMERE,
        lambda d: d.omit("J2 B3"),
        (
            "fault",
            "audit-open",
            "every contact of +5V must be joined to it; J2 B3 is not joined to J1 4, J1 60 and J2 B29",
        ),
    ),
    (
        "two supplies joined",
        OAKMERE,
        lambda d: d.join(net(d, "+12V"), net(d, "-12V")),
        (
            "danger",
            "audit-supply-joined",
            "+12V (J1 16 and J2 B9) and -12V (J1 12 and J2 B7) must not be joined; they are one net",
        ),
    ),
    (
        "an open contact joined",
        OAKMERE,
        lambda d: d.join(net(d, "SD0"), net(d, "card B8 RESERVED")),
        ("fault", "audit-joined", "J2 B8 must be left open; it is joined to SD0, with J1 17 and J2 A9"),
    ),
    (
        "moved",
        OAKMERE,
        lambda d: d.move("J2 B1", net(d, "SD0")),
        ("danger", "audit-supply-moved", "J2 B1 must be on GND; drawn on SD0, with J1 17 and J2 A9"),
    ),
    (
        "a fuse bridged",
        RISER,
        lambda d: d.join(net(d, "+12V"), net(d, "+12V fused")),
        (
            "fault",
            "audit-joined",
            "+12V (J1 16 and F2 1) and +12V fused (J2 B9, C3 1, C4 1 and F2 2) must not be joined; they are one net",
        ),
    ),
    (
        "a capacitor the wrong way round",
        RISER,
        lambda d: d.exchange("C2 1", "C2 2"),
        ("danger", "audit-supply-moved", "+5V fused and GND are exchanged: C2 1 on GND, C2 2 on +5V fused"),
    ),
    (
        "a part that does not exist",
        RISER,
        lambda d: d.without("R1"),
        (
            "fault",
            "audit-part-missing",
            "the plan has R1 (<R1>), resistor at DACK3* and +5V fused; nothing in the drawing is joined like it",
        ),
    ),
    (
        "another value",
        RISER,
        lambda d: d.parts.__setitem__("R1", ("47k", *d.parts["R1"][1:])),
        ("fault", "audit-part-value", "R1 must be <R1>; the drawing says '47k'"),
    ),
    (
        "a value that cannot be compared",
        RISER,
        lambda d: d.parts.__setitem__("F1", ("MFX-12", *d.parts["F1"][1:])),
        ("caution", "audit-part-value", "F1 must be <F1>; the drawing says 'MFX-12'"),
    ),
    (
        "a part besides",
        OAKMERE,
        lambda d: d.part("R9", "10k", {"1": net(d, "SD0"), "2": net(d, "+5V")}),
        ("caution", "audit-part-extra", "the plan has no R9 (10k); it lies at +5V and SD0"),
    ),
    (
        "a capacitor besides",
        OAKMERE,
        lambda d: d.part("C9", "100n", {"1": net(d, "GND"), "2": net(d, "+5V")}),
        ("note", "audit-part-extra", "the plan has no C9 (100n); it lies at +5V and GND"),
    ),
    (
        "a link between supply and return",
        OAKMERE,
        lambda d: d.part("R9", "0R", {"1": net(d, "GND"), "2": net(d, "+5V")}),
        ("danger", "audit-supply-joined", "the plan has no R9 (0R); it joins +5V and GND"),
    ),
    (
        "a fuse across two rails",
        OAKMERE,
        lambda d: d.part("F9", "1A", {"1": net(d, "+12V"), "2": net(d, "+5V")}),
        ("danger", "audit-supply-joined", "the plan has no F9 (1A); it joins +5V and +12V"),
    ),
    (
        "a coil from a rail to the return",
        OAKMERE,
        lambda d: d.part("L1", "10u", {"1": net(d, "GND"), "2": net(d, "+5V")}),
        ("danger", "audit-supply-joined", "the plan has no L1 (10u); it joins +5V and GND"),
    ),
    (
        "a jumper across two rails",
        OAKMERE,
        lambda d: d.part("JP1", "", {"1": net(d, "+12V"), "2": net(d, "+5V")}),
        ("danger", "audit-supply-joined", "the plan has no JP1; it joins +5V and +12V when it is set"),
    ),
    (
        "a jumper between two lines",
        OAKMERE,
        lambda d: d.part("SB1", "", {"1": net(d, "SD0"), "2": net(d, "SD1")}),
        ("caution", "audit-joined", "the plan has no SB1; it joins SD0 and SD1 when it is set"),
    ),
    (
        "a bead between two lines",
        OAKMERE,
        lambda d: d.part("FB1", "", {"1": net(d, "SD0"), "2": net(d, "SD1")}),
        ("fault", "audit-joined", "the plan has no FB1; it joins SD0 and SD1"),
    ),
    (
        "a mounting pad on the return",
        OAKMERE,
        lambda d: d.with_pad("J2", "MP", net(d, "GND")),
        ("note", "audit-pad-unknown", "the plan has no pad MP at J2; joined to GND"),
    ),
    (
        "a header's footprint for a socket's",
        OAKMERE,
        lambda d: d.parts.__setitem__("J1", ("", "My:PinHeader_2x32_P2.54mm_Vertical", d.parts["J1"][2])),
        (
            "danger",
            "audit-footprint",
            "J1 must have the footprint PinSocket_2x32_P2.54mm_Vertical; drawn with "
            "'PinHeader_2x32_P2.54mm_Vertical', that of what plugs into a socket header: its pads are mirrored on the "
            "board, supplies too",
        ),
    ),
    (
        "another footprint",
        OAKMERE,
        lambda d: d.parts.__setitem__("J1", ("", "My:Special", d.parts["J1"][2])),
        (
            "caution",
            "audit-footprint",
            "J1 must have the footprint PinSocket_2x32_P2.54mm_Vertical; drawn with 'Special'",
        ),
    ),
]


@pytest.mark.parametrize(("names", "fault", "finding"), [m[1:] for m in MESSAGES], ids=[m[0] for m in MESSAGES])
@pytest.mark.parametrize("kind", KINDS)
def test_a_fault_is_said_in_these_words(
    names: tuple[str, ...],
    fault: Callable[[Drawing], object],
    finding: tuple[str, str, str],
    kind: str,
    tmp_path: Path,
) -> None:
    made = plain(names)
    fault(made)
    grade, code, message = finding
    for part in made.adapter.parts:  # the values of the shipped design are its own affair
        message = message.replace(f"<{part.ref}>", part.value)
    assert said(made.audit(tmp_path, kind)) == [(grade, code, message)]


def test_a_mirrored_connector_is_one_danger_and_what_is_wrong_besides_is_another(tmp_path: Path) -> None:
    made = plain()
    from_solder_side = {label: label[0] + str(32 - int(label[1:])) for label in made.adapter.card.present}
    made.wrong("J2", from_solder_side)
    result = made.audit(tmp_path)
    assert result.first_line.startswith(
        "do not apply power: J2 is drawn mirrored end to end: read from the solder side, "
    )
    assert [(f.grade, f.code) for f in result.findings] == [("danger", "audit-mistaken")]
    assert "This one mistake explains 5" in result.findings[0].message
    assert ". That puts GND at the contact of IRQ6, +12V at the contact of IRQ5, " in result.findings[0].message
    made.exchange("J2 A30", "J2 A29")  # SD7 and SD6, as they lie now
    assert said(made.audit(tmp_path))[1] == (
        "fault",
        "audit-exchanged",
        "SD6 and SD7 are exchanged: J2 A3 (pad A29) on SD7, J2 A2 (pad A30) on SD6",
    )


def test_a_turned_connector_is_named(tmp_path: Path) -> None:
    made = plain(("isa-8bit", "pc104-8bit"))
    ends = Wanted(made.adapter).ends
    body = ends["J1"][0].body
    made.wrong("J1", dict(zip(body.labels, reversed(body.labels), strict=True)))
    result = made.audit(tmp_path)
    assert [(f.grade, f.code) for f in result.findings] == [("danger", "audit-mistaken")]
    assert result.causes[0].ref == "J1"
    assert result.causes[0].kinds == ("turned",)


def test_a_drawing_of_something_else_is_not_called_a_mistake_with_a_connector(tmp_path: Path) -> None:
    made = plain()
    rng = random.Random(7)
    cards = [node for nodes in made.nets.values() for node in nodes if node[0] == "J2"]
    mixed = cards.copy()
    rng.shuffle(mixed)
    put = dict(zip(cards, mixed, strict=True))
    made.nets = {name: {put.get(node, node) for node in nodes} for name, nodes in made.nets.items()}
    result = made.audit(tmp_path)
    assert result.causes == ()
    assert result.verdict == "do not apply power"


def test_connectors_that_no_net_joins_are_said_once(tmp_path: Path) -> None:
    made = plain()
    for nodes in made.nets.values():
        nodes.difference_update({node for node in nodes if node[0] == "J2"})
    made.part("J2", "", {pad: f"alone {pad}" for pad in made.parts["J2"][2]})
    result = made.audit(tmp_path)
    first = said(result)[0]
    assert first == (
        "fault",
        "audit-open",
        "J1 and J2 must be joined line by line; no net leads from one to the other",
    )
    assert len(result.findings) < 5


# ------------------------------------------------------------------ boards: by name and in copper


def board(named: Drawing, copper: Drawing, folder: Path) -> Audit:
    """What one drawing names and the other has in copper."""
    drawn = named.read(folder, "schematic")  # for the pads that no net reaches are there too
    return audit(replace(drawn, kind="board", copper=copper.read(folder).nets), named.adapter)


def test_a_board_is_as_planned_when_its_nets_and_its_copper_are(tmp_path: Path) -> None:
    result = board(plain(RISER), plain(RISER), tmp_path)
    assert result.findings == ()
    assert {n.copper for n in result.nets} == {("agrees",)}


def test_what_is_joined_only_in_name_or_only_in_copper_is_said_as_that(tmp_path: Path) -> None:
    result = board(plain(), plain().omit("J2 A2"), tmp_path)
    assert said(result) == [
        (
            "fault",
            "audit-only-in-name",
            "SD7 must be whole in copper and in name; J2 A2 is not joined to J1 3 in copper, but is so by the nets "
            "of the file",
        )
    ]
    assert [(n.states, n.copper) for n in result.nets if n.wrong] == [(("agrees",), ("open",))]
    assert "as planned by name, open in copper: 1 net: SD7" in click.unstyle(audit_report.text(result))
    result = board(plain().omit("J2 A2"), plain(), tmp_path)
    assert said(result) == [
        (
            "fault",
            "audit-only-in-copper",
            "SD7 must be whole in copper and in name; J2 A2 is not joined to J1 3 by the nets of the file, but is so "
            "in copper",
        )
    ]


def test_what_touches_in_copper_alone_is_a_danger_where_it_is_a_supply(tmp_path: Path) -> None:
    made = plain()
    made.join(net(made, "+5V"), net(made, "SD0"))
    result = board(plain(), made, tmp_path)
    assert said(result) == [
        (
            "danger",
            "audit-supply-joined",
            "+5V (J1 4, J1 60, J2 B3 and J2 B29) and SD0 (J1 17 and J2 A9) must not be joined; they are one net "
            "in copper",
        )
    ]


def test_what_is_wrong_in_name_and_in_copper_is_said_once(tmp_path: Path) -> None:
    result = board(plain().exchange("J2 A2", "J2 A3"), plain().exchange("J2 A2", "J2 A3"), tmp_path)
    assert [f.code for f in result.findings] == ["audit-exchanged"]
    assert [(n.states, n.copper) for n in result.nets if n.wrong] == [(("exchanged",), ("exchanged",))] * 2


def test_a_mirrored_connector_on_a_board_is_one_finding(tmp_path: Path) -> None:
    made = plain()
    made.wrong("J2", {label: label[0] + str(32 - int(label[1:])) for label in made.adapter.card.present})
    assert [f.code for f in board(made, made, tmp_path).findings] == ["audit-mistaken"]


def test_a_connector_mirrored_only_in_copper_is_one_finding_and_so_is_what_is_wrong_besides(tmp_path: Path) -> None:
    made = plain(RISER)
    made.wrong("J2", {label: label[0] + str(32 - int(label[1:])) for label in made.adapter.card.present})
    result = board(plain(RISER), made, tmp_path)
    assert [(f.grade, f.code) for f in result.findings] == [("danger", "audit-mistaken")]
    assert result.first_line.startswith("do not apply power: J2 is drawn mirrored end to end in copper: read from the ")
    named_wrong = board(plain(RISER).exchange("J2 A2", "J2 A3"), made, tmp_path)
    assert [f.code for f in named_wrong.findings] == ["audit-mistaken", "audit-exchanged"]
    assert " are exchanged by the nets of the file: " in named_wrong.findings[1].message


# ------------------------------------------------------------------ parts in series


def test_parts_in_series_are_breaks_until_they_are_seen_through(tmp_path: Path) -> None:
    made = plain()
    for number, label in enumerate(("A2", "A3", "A4"), 1):
        made.insert(f"R{number}", "33", f"J2 {label}")
    made.insert("JP1", "", "J2 B29")
    made.insert("F7", "1 A", "J2 B9")
    result = made.audit(tmp_path)
    assert sorted((f.code, f.message, f.advice) for f in result.findings) == [
        (
            "audit-series",
            f"a net must go through no part that the plan lacks; {nets} through {refs}",
            f"If that is meant, see through such parts: --through {letters}",
        )
        for nets, refs, letters in (("+12V goes", "F7", "F"), ("+5V goes", "JP1", "JP"), ("SD5–SD7 go", "R1–R3", "R"))
    ]
    assert [n.name for n in result.nets if n.states == ("open",)] == ["+5V", "+12V", "SD5", "SD6", "SD7"]
    seen = made.audit(tmp_path, through=("r", " JP", "F"))
    assert seen.findings == ()
    assert sorted(seen.series) == ["F7", "JP1", "R1", "R2", "R3"]
    assert [f.message.split(";")[1] for f in made.audit(tmp_path, through=("R", "JP")).findings] == [
        " +12V goes through F7"
    ]


def test_what_is_wrong_behind_a_series_part_is_found(tmp_path: Path) -> None:
    made = plain().insert("R1", "33", "J2 A2").insert("R2", "33", "J2 A3").exchange("J2 A2", "J2 A3")
    assert said(made.audit(tmp_path, through=("R",))) == [
        ("fault", "audit-exchanged", "SD6 and SD7 are exchanged: J2 A3 on SD7, J2 A2 on SD6")
    ]


def test_a_pull_up_is_not_seen_through(tmp_path: Path) -> None:
    made = plain()
    made.part("R9", "10k", {"1": net(made, "SD0"), "2": net(made, "+5V")})
    result = made.audit(tmp_path, through=("R",))
    assert said(result) == [
        ("caution", "audit-part-extra", "the plan has no R9 (10k); it lies at +5V and SD0"),
        (
            "note",
            "audit-assumed",
            "parts are seen through where their references begin with the letters given and they have two pads in "
            "series; --through 'R' is at none of them",
        ),
    ]


def test_a_jumper_that_is_seen_through_joins_what_it_lies_between(tmp_path: Path) -> None:
    made = plain().part("JP1", "", {"1": "N8", "2": "N9"})
    told = said(made.audit(tmp_path, through=("JP",)))
    assert [(grade, code) for grade, code, _ in told] == [("fault", "audit-joined"), ("note", "audit-assumed")]
    assert "when it is set" not in told[0][2]


def test_letters_that_no_reference_begins_with_are_told(tmp_path: Path) -> None:
    assert said(plain().audit(tmp_path, through=("RN",))) == [
        (
            "note",
            "audit-assumed",
            "parts are seen through where their references begin with the letters given and they have two pads in "
            "series; --through 'RN' begins no reference of the drawing",
        )
    ]


@pytest.mark.parametrize("names", [OAKMERE, ("tarn-rack", "isa-16bit"), RISER], ids=" ".join)
def test_two_mistakes_at_once_are_named_both(names: tuple[str, ...], tmp_path: Path) -> None:
    made = plain(names)
    ends = Wanted(made.adapter).ends
    one, other = (next(m for m in mistakes(ends[ref][0].body) if m.kinds == kinds) for ref, kinds in TWO)
    result = made.wrong("J1", one.moves).wrong("J2", other.moves).audit(tmp_path)
    assert {(("J1", one.name), ("J2", other.name))} <= {
        ((c.ref, c.name), (c.second.ref, c.second.name)) for c in result.causes if c.second
    }
    first = result.findings[0]
    assert (first.grade, first.code) == ("danger", "audit-mistaken")
    assert "These two mistakes explain" in first.message
    assert first.advice == "Correct these two things, then audit again"
    assert [f.code for f in result.findings if f.grade in ("danger", "fault")] == ["audit-mistaken"]


def test_a_connector_with_the_pads_of_what_plugs_into_it_is_named_as_that(tmp_path: Path) -> None:
    made = plain()
    mate = Wanted(made.adapter).ends["J2"][0].body.mate().pad_of
    value, footprint, pads = made.parts["J2"]
    made.parts["J2"] = (value, footprint, {mate[pad]: "" for pad in pads})
    made.nets = {name: {(r, mate[p] if r == "J2" else p) for r, p in nodes} for name, nodes in made.nets.items()}
    result = made.audit(tmp_path)
    assert (
        result.connectors[1].sentence() == "J2 is J2, by its reference, its pads called as those of what plugs into it"
    )
    assert said(result) == [
        (
            "danger",
            "audit-footprint",
            "J2 must have the pads of an edge slot; its pads are called as those of what plugs into an edge slot: its "
            "pads are mirrored on the board, supplies too",
        )
    ]


def test_of_one_grade_supplies_stand_before_signals_and_missing_parts_last(tmp_path: Path) -> None:
    made = plain(RISER).without("F1").omit("J2 B31").omit("J2 A2")
    told = [(f.grade, f.code, f.signals) for f in made.audit(tmp_path).findings if f.grade == "fault"]
    assert told[0][1:] == ("audit-open", ("GND",))
    assert told[-1][1] == "audit-part-missing"


def test_a_mirrored_connector_is_named_behind_series_parts_too(tmp_path: Path) -> None:
    made = plain()
    made.wrong("J2", {label: label[0] + str(32 - int(label[1:])) for label in made.adapter.card.present})
    for number in range(2, 10):
        made.insert(f"R{number}", "33", f"J2 A{number}")
    assert [f.code for f in made.audit(tmp_path, through=("R",)).findings] == ["audit-mistaken"]


# ------------------------------------------------------------------ which connector is which


def test_connectors_are_found_by_their_contacts_and_shown(tmp_path: Path) -> None:
    result = plain().rename({"J1": "P7", "J2": "X1"}).audit(tmp_path)
    assert result.findings == ()
    assert [c.sentence() for c in result.connectors] == [
        "J1 is P7, by its contacts and by agreement",
        "J2 is X1, by its contacts and by agreement",
    ]


def test_references_that_are_exchanged_give_way_to_agreement(tmp_path: Path) -> None:
    made = plain(("isa-8bit", "pc104-8bit")).rename({"J1": "J2", "J2": "J1"})
    result = made.audit(tmp_path)
    assert result.findings == ()
    assert [c.sentence() for c in result.connectors] == [
        "J1 is J2, by its contacts and by agreement",
        "J2 is J1, by its contacts and by agreement",
    ]


def test_references_give_way_only_where_nearly_all_agrees_the_other_way(tmp_path: Path) -> None:
    host = {**POWER, "3": "SD0", "4": "SD1", "5": "SD2", "6": "SD3"}
    card = {"1": "SD3", "2": "GND", "3": "+5V", "4": "SD0", "5": "SD1", "6": "SD2"}
    adapter = plan(pin_map(host, header(3)), pin_map(card, header(3), end="card", name="card"))
    result = drawing(adapter).rename({"J1": "J2", "J2": "J1"}).audit(tmp_path)
    assert [(c.plan, c.ref, c.how, c.agreed) for c in result.connectors] == [
        ("J1", "J2", "agreement", 6),
        ("J2", "J1", "agreement", 6),
    ]
    assert result.connectors[0].runner_up == "J1 and J2, with which 0 nets would agree"
    assert result.findings == ()
    made = drawing(adapter).omit("J2 4").omit("J2 5").omit("J2 6").omit("J2 1")
    assert [c.how for c in made.audit(tmp_path).connectors] == ["reference", "reference"]


@pytest.mark.parametrize("turned", ["R1", "F1", "C1"])
def test_a_part_that_may_be_turned_round_is_as_planned_either_way(turned: str, tmp_path: Path) -> None:
    assert plain(RISER).exchange(f"{turned} 1", f"{turned} 2").audit(tmp_path).findings == ()


def test_lines_with_like_parts_may_have_them_the_other_way_round_and_that_is_shown(tmp_path: Path) -> None:
    made = plain(("tarn-riser",)).exchange("R2 1", "R8 1")  # 10 kΩ to the rail on MEMW* and on DACK5*
    result = made.audit(tmp_path)
    assert result.findings == ()
    assert "R2 is R8 and R8 is R2" in click.unstyle(audit_report.text(result))


def test_the_command_line_says_which_connector_is_which(tmp_path: Path) -> None:
    made = plain().rename({"J1": "P7", "J2": "X1"})
    result = made.audit(tmp_path, host="P7", card="X1")
    assert [c.how for c in result.connectors] == ["named", "named"]
    assert result.findings == ()
    with pytest.raises(NotFoundError, match="J1 must be a part of the drawing, not 'P8'"):
        made.audit(tmp_path, host="P8")
    with pytest.raises(PinmapError, match="J1 and J2 must be two parts, not 'P7' both"):
        made.audit(tmp_path, host="P7", card="P7")


def test_a_drawing_without_such_a_connector_is_refused(tmp_path: Path) -> None:
    made = plain()
    made.parts = {ref: part for ref, part in made.parts.items() if ref == "J1"}
    made.nets = {name: {n for n in nodes if n[0] == "J1"} for name, nodes in made.nets.items()}
    with pytest.raises(PinmapError) as caught:
        made.audit(tmp_path)
    assert str(caught.value).replace(str(tmp_path) + "/", "") == (
        "drawn.net: a part of the drawing must be J2, which has 62 pads called like A1, A2 and B31. Its pads must be "
        "called as on the footprint, by the contact labels, or as on the footprint of what plugs into it; name the "
        "part with --card"
    )
    with pytest.raises(PinmapError, match="J1 is to be J2, which has 62 pads"):
        made.audit(tmp_path, card="J1")


def test_pads_called_by_labels_and_pins_named_by_labels_are_understood_and_said(tmp_path: Path) -> None:
    made = plain(("isa-8bit", "pc104-8bit"))
    body = Wanted(made.adapter).ends["J1"][0].body
    label_of = {("J1", pad): label for label, pad in body.pad_of.items()}
    value, footprint, pads = made.parts["J1"]
    made.parts["J1"] = (value, footprint, {label_of["J1", pad]: "" for pad in pads})
    made.nets = {name: {(r, label_of.get((r, p), p)) for r, p in nodes} for name, nodes in made.nets.items()}
    result = made.audit(tmp_path)
    assert said(result) == [
        (
            "caution",
            "audit-pad-names",
            "a connector's pads are called as on its footprint; J1 is J1, but its pads are called by the "
            "contact labels",
        )
    ]
    odd = {label: f"x{n}" for n, label in enumerate(made.parts["J1"][2])}
    made.parts["J1"] = (value, footprint, {odd[label]: label for label in odd})
    made.nets = {name: {(r, odd[p] if r == "J1" else p) for r, p in nodes} for name, nodes in made.nets.items()}
    assert "only the names of its pins are the contact labels" in said(made.audit(tmp_path))[0][2]


# ------------------------------------------------------------------ values


@pytest.mark.parametrize(
    ("planned_value", "drawn", "same"),
    [
        ("4.7 kΩ", "4k7", "same"),
        ("4.7 kΩ", "4.7K", "same"),
        ("4.7 kΩ", "4700", "same"),
        ("4.7 kΩ", "4,7 kOhm", "same"),
        ("4.7 kΩ", "47k", "different"),
        ("100 nF", "0.1u", "same"),
        ("100 nF", "100n/50V", "same"),
        ("100 nF", "100 µF", "different"),
        ("10 µF", "10u", "same"),
        ("0 Ω", "0R", "same"),
        ("220 Ω", "220", "same"),
        ("1 A, resettable", "1A", "same"),
        ("500 mA, melting", "0.5 A", "same"),
        ("500 mA, melting", "5 A", "different"),
        ("14.31818 MHz", "14.31818MHz", "same"),
        ("74LS04", "SN74LS04N", "same"),
        ("74LS04", "74LS05", "unsure"),
        ("100 nF", "100 Ω", "different"),
        ("100 nF", "", "unsure"),
        ("100 nF", "9" * 5000, "unsure"),
    ],
)
def test_values_are_compared_as_people_write_them(planned_value: str, drawn: str, same: str) -> None:
    assert same_value(planned_value, drawn) == same


# ------------------------------------------------------------------ what is shown


def test_the_report_begins_with_the_answer_and_shows_the_choice(tmp_path: Path) -> None:
    made = plain().exchange("J2 B9", "J2 A2")
    shown = click.unstyle(audit_report.text(made.audit(tmp_path))).replace(str(tmp_path) + "/", "")
    lines = shown.splitlines()
    assert lines[0] == "do not apply power: 59 of 61 nets as planned"
    assert "    J1 is J1, by its reference" in lines
    assert "  danger audit-supply-moved  drawn.net:58:5" in lines
    assert "    exchanged: 2 nets: +12V, SD7" in lines
    assert lines[-1] == "  do not apply power: 1 danger"


def test_the_report_says_where_the_plan_itself_must_not_be_built(tmp_path: Path) -> None:
    made = drawing(api.adapt("brindle-portable", "isa-8bit"))
    assert made.adapter.verdict == "do not build"
    lines = click.unstyle(audit_report.text(made.audit(tmp_path))).splitlines()
    assert lines[0] == "as planned: all 63 nets; but the plan itself says do not build"
    lines = click.unstyle(audit_report.text(made.omit("J2 B1").audit(tmp_path))).splitlines()
    assert lines[0] == "not as planned: 62 of 63 nets as planned"
    assert "The plan itself says do not build, whatever the drawing is." in lines


def test_the_first_line_says_what_is_wrong_where_no_net_is(tmp_path: Path) -> None:
    made = plain(RISER)
    made.parts["R1"] = ("47k", *made.parts["R1"][1:])
    meant = next(part.value for part in made.adapter.parts if part.ref == "R1")
    assert made.audit(tmp_path).first_line == (
        f"not as planned: the nets are as planned, but R1 must be {meant}; the drawing says '47k'"
    )


def test_the_json_has_every_net_and_is_the_same_each_time(tmp_path: Path) -> None:
    made = plain(RISER).omit("J2 B1")
    one, other = (json.dumps(audit_report.as_json(made.audit(tmp_path, "schematic"))) for _ in range(2))
    assert one == other
    result = json.loads(one)
    assert result["format"] == 1
    assert result["verdict"] == "not as planned"
    assert len(result["nets"]) == len(made.adapter.nets)
    assert [n["states"] for n in result["nets"] if n["name"] == "GND"] == [["open"]]
    assert [c["drawn"] for c in result["connectors"]] == ["J1", "J2"]
    assert result["findings"][0]["code"] == "audit-open"


def test_hostile_names_are_shown_harmless(tmp_path: Path) -> None:
    made = plain().rename({"J1": "J1\x1b[2J\u202e"}).part("R9", "\x1b]0;x\x07", {"1": "N0", "2": "N4"})
    made.nets["\x1b[31m(net)"] = made.nets.pop("N1")
    made.omit("J2 B1")
    result = made.audit(tmp_path)
    shown = click.unstyle(audit_report.text(result))
    assert "\x1b" not in shown
    assert "\u202e" not in shown
    assert "J1\\u001b[2J\\u202e" in shown


# ------------------------------------------------------------------ bad input


def refusal(tmp_path: Path, text: str, name: str = "drawn.net") -> str:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    with pytest.raises(PinmapError) as caught:
        read(path)
    return str(caught.value).replace(str(tmp_path) + "/", "")


BYHAND = (DATA / "byhand.net").read_text("utf-8")
REFUSED = [
    ("", "drawn.net: a netlist must begin with (export; this file is empty"),
    ("<?xml version='1.0'?>", "drawn.net:1:1: a netlist must begin with (export, not with '<?xml'"),
    (
        "(kicad_sch (version 1))",
        "drawn.net:1:2: a netlist must begin with (export, not with (kicad_sch: that is a schematic",
    ),
    ("()", "drawn.net: a netlist must begin with (export"),
    ('(export (version "E"))', "drawn.net:1:1: a netlist must have parts; this one has none"),
    (BYHAND.replace('"J2")\n', '"J1")\n'), "drawn.net:10:5: part 'J1' must be there once; it is already in line 7"),
    (BYHAND.replace('(comp (ref "J2")', "(comp"), "drawn.net:10:5: a part must have a ref"),
    (BYHAND.replace('"/b"', '"/a"'), "drawn.net:24:5: net '/a' must be there once; it is already in line 23"),
    (
        BYHAND.replace('(node (ref "J2") (pin "3"))', '(node (ref "J7") (pin "3"))'),
        "drawn.net:25:61: a node must be of one of the components, not of 'J7'",
    ),
    (
        BYHAND.replace('(node (ref "J2") (pin "3"))', '(node (ref "J1") (pin "2"))'),
        "pad '2' of 'J1' must be there once; it is already in line 24",
    ),
    (BYHAND.replace('(node (ref "J2") (pin "3"))', '(node (ref "J2"))'), "a node must have a ref and a pin"),
]


@pytest.mark.parametrize(("text", "message"), REFUSED)
def test_a_netlist_that_cannot_be_read_is_one_clear_error(text: str, message: str, tmp_path: Path) -> None:
    said_once = refusal(tmp_path, text)
    assert message in said_once
    assert said_once.startswith("drawn.net")


def test_every_cut_of_a_netlist_is_an_error() -> None:
    whole = BYHAND.rstrip().encode()
    for end in range(0, len(whole), 41):
        with pytest.raises(PinmapError):
            source.parsed(whole[:end], "cut.net", "export")


@settings(deadline=None, derandomize=True, max_examples=150)
@given(st.binary(max_size=200), st.integers(0, len(BYHAND)))
def test_any_bytes_are_a_drawing_or_an_error_and_nothing_else(noise: bytes, at: int) -> None:
    raw = BYHAND.encode()[:at] + noise + BYHAND.encode()[at:]
    try:
        drawn = netlist.read_branch(source.parsed(raw, "noise.net", "export"))
    except PinmapError:
        return
    assert drawn.parts


def test_a_netlist_made_by_hand_is_read_with_the_pins_of_its_library() -> None:
    drawn = read(DATA / "byhand.net")
    assert [pad for pad, _ in drawn.parts["J1"].pads] == ["1", "2", "3", "4", "5", "6"]
    assert drawn.parts["J2"].pads[5] == ("6", "Pin_6")


def test_words_without_quotes_are_texts_too(tmp_path: Path) -> None:
    path = tmp_path / "old.net"
    path.write_text(BYHAND.replace('"', "").replace("a text editor", "none"), "utf-8")
    drawn = read(path)
    assert {n.nodes for n in drawn.nets} == {n.nodes for n in read(DATA / "byhand.net").nets}


def test_an_unknown_version_of_the_netlist_is_said(tmp_path: Path) -> None:
    path = tmp_path / "new.net"
    path.write_text(BYHAND.replace('(version "E")', '(version "Q")'), "utf-8")
    assert read(path).remarks == ("the version of the netlist is 'Q', not one of those known here (D, E)",)


def test_an_ending_that_is_none_of_ours_is_refused(tmp_path: Path) -> None:
    assert refusal(tmp_path, "", "drawn.pdf") == (
        "drawn.pdf: a drawing must have the ending .net, .kicad_sch or .kicad_pcb, not '.pdf'"
    )


def test_what_is_no_plain_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "folder.net").mkdir()
    with pytest.raises(PinmapError, match="a drawing must be a plain file"):
        read(tmp_path / "folder.net")
    with pytest.raises(PinmapError, match="cannot be read: No such file"):
        read(tmp_path / "gone.net")


@pytest.mark.parametrize("name", ["big.net", "big.kicad_sch"])
def test_a_file_of_50_megabytes_is_refused_unread(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    with path.open("wb") as stream:
        stream.write(b"(export ")
        stream.truncate(50_000_000)
    tracemalloc.start()
    begun = time.perf_counter()
    with pytest.raises(PinmapError, match="a drawing must not be larger than 6 MB"):
        read(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 3 * source.MAX_BYTES
    assert time.perf_counter() - begun < 5


def test_more_lists_words_or_brackets_than_a_drawing_has_are_refused_early(tmp_path: Path) -> None:
    for text in ("(export " + "()" * 700_000 + ")", "(export " + "a " * 1_600_000 + ")"):
        assert "a drawing must not hold more than 600000 lists and 1500000 words" in refusal(tmp_path, text)
    assert "must not be nested deeper than 60" in refusal(tmp_path, "(export " + "(" * 100_000)


def test_a_hundred_thousand_parts_are_refused_and_twenty_thousand_read(tmp_path: Path) -> None:
    def made(parts: int) -> str:
        return "(export (components " + "".join(f"(comp(ref R{n}))" for n in range(parts)) + "))"

    assert "a drawing must not have more than 20000 parts" in refusal(tmp_path, made(100_000))
    path = tmp_path / "large.net"
    path.write_text(made(source.MAX_PARTS), "utf-8")
    begun = time.perf_counter()
    assert len(read(path).parts) == source.MAX_PARTS
    assert time.perf_counter() - begun < 20


def test_a_drawing_with_many_parts_is_judged_in_bounded_time(tmp_path: Path) -> None:
    made = plain(RISER)
    gnd, rail = net(made, "GND"), net(made, "+5V fused")
    for number in range(3000):
        made.part(f"R{number + 100}", "10k", {"1": gnd, "2": rail})
    begun = time.perf_counter()
    result = made.audit(tmp_path, through=("R",))
    assert time.perf_counter() - begun < 20
    assert [f.code for f in result.findings] == ["audit-part-extra", "audit-assumed"]
    assert len(result.findings[0].message) < 200


def test_the_shipped_example_is_as_planned() -> None:
    path = Path(__file__).parent.parent / "out" / "oakmere-88-to-isa-8bit" / "adapter.net"
    assert audit(read(path), planned(OAKMERE)).verdict == "as planned"
