"""Faults put into the shipped maps on purpose are found, and nothing is said of what is right: part of `faults/run.py`.

Everything comes from seeds; `python tests/faults/run.py` tries many more and prints the whole table.
"""

from __future__ import annotations

import random
from itertools import islice

import pytest
from faults import maps
from faults.maps import GEOMETRIC, GUESSING, INVENTED, PUBLISHED

from pinmap import checks
from pinmap.findings import Finding
from pinmap.model import PinMap
from pinmap.resemblance import explanations

ONLY_GUESSED = {*GUESSING, "numbering-mirrored"}
SINGLE = (
    "two contacts exchanged",
    "two neighbours exchanged",
    "duplicate",
    "omission",
    "wrong rail",
    "opposite polarity",
)


def against_published(name: str, pin: PinMap | None = None) -> tuple[Finding, ...]:
    return checks.run(pin or maps.shipped(name), lambda: maps.references(name))


# ---------------------------------------------------------------------- what is right


@pytest.mark.parametrize("name", PUBLISHED + INVENTED)
def test_no_shipped_map_has_a_danger_or_fault_or_is_taken_for_mistaken(name: str) -> None:
    for findings in (
        against_published(name),
        checks.run(maps.shipped(name), lambda: maps.references(name), lambda: (maps.shipped(name),)),
        checks.run(maps.shipped(name)),
    ):
        assert [f for f in findings if f.grade in ("danger", "fault")] == []
        assert [f for f in findings if f.code in ONLY_GUESSED] == []


@pytest.mark.parametrize("name", INVENTED)
def test_a_shipped_map_is_not_taken_for_mistaken_once_contacts_are_unknown(name: str) -> None:
    rng = random.Random(7)
    for _ in range(6):
        labels = set(rng.sample(maps.shipped(name).body.labels, len(maps.shipped(name).body) // 4))
        table = {label: c for label, c in maps.shipped(name).by_label.items() if label not in labels}
        found = against_published(name, maps.with_table(maps.shipped(name), table))
        assert [f.message for f in found if f.code in ONLY_GUESSED] == []


# ---------------------------------------------------------------------- mistakes with the whole table


@pytest.mark.parametrize("noise", [False, True], ids=["clean", "10 % unknown and 5 % wrong"])
@pytest.mark.parametrize("kind", GEOMETRIC)
def test_every_geometric_mistake_with_a_published_table_is_named_exactly(kind: str, noise: bool) -> None:
    tried = 0
    for name in PUBLISHED:
        rng = random.Random(f"1 {name} {kind}")
        # Among unknown and wrong contacts a part of the many numberings must do.
        for fault in islice(maps.CLASSES[kind](maps.shipped(name), rng), 10 if noise else None):
            assert fault.mistake is not None
            table = dict(fault.table)
            if noise:
                maps.noisy(maps.shipped(name), table, rng)
            named = [e.mistake for e in explanations(maps.with_table(maps.shipped(name), table), maps.references(name))]
            moves = [m.moves for m in named if m]
            assert fault.mistake.moves in moves, (name, fault.mistake.name, [m.name for m in named if m])
            tried += 1
    assert tried >= 4


@pytest.mark.parametrize("name", INVENTED)
def test_every_geometric_mistake_with_an_invented_machine_is_named_by_another_record_of_it(name: str) -> None:
    pin = maps.shipped(name)
    for kind in GEOMETRIC:
        for fault in islice(maps.CLASSES[kind](pin, random.Random(1)), 6):
            assert fault.mistake is not None
            named = [e.mistake for e in explanations(maps.with_table(pin, fault.table), (pin,))]
            assert fault.mistake.moves in [m.moves for m in named if m], fault.mistake.name


@pytest.mark.parametrize("name", PUBLISHED)
def test_a_part_of_a_published_table_that_is_off_is_found_where_it_begins(name: str) -> None:
    tried = list(maps.outcomes(name, "part of the table off", noise=False, itself=False, times=10, seed=1))
    assert [(o.found, o.placed, o.false) for o in tried] == [(True, True, 0)] * 10


@pytest.mark.parametrize("name", PUBLISHED)
def test_among_unknown_and_wrong_contacts_its_beginning_may_be_missed_by_those(name: str) -> None:
    tried = list(maps.outcomes(name, "part of the table off", noise=True, itself=False, times=12, seed=1))
    assert [(o.found, o.false) for o in tried] == [(True, 0)] * 12
    assert sum(o.placed for o in tried) >= 10


# ---------------------------------------------------------------------- single faults


@pytest.mark.parametrize("name", PUBLISHED)
@pytest.mark.parametrize("kind", SINGLE)
def test_every_single_fault_in_a_published_map_is_found_and_placed(kind: str, name: str) -> None:
    tried = list(maps.outcomes(name, kind, noise=False, itself=False, times=6, seed=1))
    assert [(o.found, o.placed, o.false) for o in tried] == [(True, True, 0)] * 6


@pytest.mark.parametrize("kind", SINGLE)
def test_every_single_fault_in_an_invented_machine_is_found_by_another_record_of_it(kind: str) -> None:
    for name in INVENTED:
        tried = list(maps.outcomes(name, kind, noise=False, itself=True, times=4, seed=1))
        assert [(o.found, o.placed, o.false) for o in tried] == [(True, True, 0)] * 4, name


def test_among_unknown_and_wrong_contacts_single_faults_are_still_found() -> None:
    for name in PUBLISHED:
        for kind in SINGLE:
            tried = list(maps.outcomes(name, kind, noise=True, itself=False, times=2, seed=1))
            assert [(o.found, o.placed, o.false) for o in tried] == [(True, True, 0)] * 2, (name, kind)


# ---------------------------------------------------------------------- the faults themselves


@pytest.mark.parametrize("kind", maps.CLASSES)
def test_a_fault_that_is_put_in_changes_the_contacts_that_it_names_and_no_others(kind: str) -> None:
    for name in (*PUBLISHED, *INVENTED):
        pin = maps.shipped(name)
        for fault in islice(maps.CLASSES[kind](pin, random.Random(1)), 3):
            there = {label: c.name for label, c in maps.with_table(pin, fault.table).by_label.items()}
            assert {label for label in there if there[label] != pin.by_label[label].name} == fault.contacts
