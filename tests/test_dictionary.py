"""The two bus dictionaries and the customs of forms: whole, of one mind, with a source beside every fact."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import yaml

from pinmap import Bus, PinMap, Signal, check, load_map
from pinmap.body import FORMS, Form
from pinmap.dictionaries import DictionaryError, read_forms
from pinmap.library import bus, bus_names, customs, shipped
from pinmap.naming import Names

BUSES = ("isa-8bit", "isa-16bit")
PC104 = "PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008"
MEMORY = "from memory"

#: The facts that every signal has, and those that only some have.
ALWAYS = ("about", "driver", "output", "active", "idle", "absent", "group", "name")
SOMETIMES = ("aliases", "pull", "sink", "frequency", "elsewhere", "volts", "tolerance", "current")

#: The lines that both dictionaries have and that are not the same line or not alike: what differs.
DIFFERENT = {
    "MEMR*": {"about", "aliases", "elsewhere", "absent"},
    "MEMW*": {"about", "aliases", "elsewhere", "absent"},
    "DACK0*": {"about", "elsewhere", "absent", "sources"},
    "BCLK": {"about", "frequency", "sources"},
}


def signals(name: str) -> list[Signal]:
    return list(bus(name).signals.values())


BOTH = [pytest.param(name, signal, id=f"{name}-{signal.name}") for name in BUSES for signal in signals(name)]


def test_these_are_the_shipped_dictionaries() -> None:
    assert sorted(p.stem for p in (shipped() / "bus").iterdir()) == sorted(BUSES)
    assert set(BUSES) <= set(bus_names())


# ---------------------------------------------------------------------- returns, computed again


def returns(pin_map: PinMap) -> list[str]:
    return [c.label for c in pin_map.contacts if c.signal and c.signal.group == "return"]


def reach_mm(pin_map: PinMap) -> float:
    """The longest way from a signal contact to the return nearest to it, from the places of the contacts."""
    spots = pin_map.body.spots
    at = {label: (spots[label].x_mm, spots[label].y_mm) for label in spots}
    return max(
        min(math.dist(at[c.label], at[r]) for r in returns(pin_map))
        for c in pin_map.contacts
        if c.signal and not c.signal.is_power
    )


@pytest.mark.parametrize("name", BUSES)
def test_the_return_count_is_the_smallest_of_the_published_connectors(name: str) -> None:
    counts = {connector: len(returns(load_map(connector))) for connector in bus(name).connectors}
    assert bus(name).return_count == min(counts.values())
    assert (
        counts == {"isa-8bit": {"isa-8bit": 3}, "isa-16bit": {"isa-16bit": 4, "pc104-16bit": 8, "pc104-8bit": 4}}[name]
    )


@pytest.mark.parametrize("name", BUSES)
def test_the_return_reach_is_the_longest_of_the_published_connectors(name: str) -> None:
    reaches = [reach_mm(load_map(connector)) for connector in bus(name).connectors]
    assert bus(name).return_reach_mm == round(max(reaches), 1)


@pytest.mark.parametrize(("name", "connector"), [(name, c) for name in BUSES for c in bus(name).connectors])
def test_no_published_connector_has_too_few_returns_or_returns_too_far_away(name: str, connector: str) -> None:
    codes = {finding.code for finding in check(connector).findings}
    assert codes.isdisjoint({"return-none", "return-few", "return-far"}), name


@pytest.mark.parametrize("name", BUSES)
def test_the_published_connectors_carry_this_bus_and_every_line_of_it(name: str) -> None:
    maps = [load_map(connector) for connector in bus(name).connectors]
    assert {pin_map.bus.name for pin_map in maps} == {name}
    assert {line for pin_map in maps for line in pin_map.by_signal} == set(bus(name).signals)
    assert set(maps[0].by_signal) == set(bus(name).signals)


# ---------------------------------------------------------------------- the two generations


def test_what_one_dictionary_says_of_the_other_the_other_says_back() -> None:
    pairs = set()
    for name, other in (BUSES, BUSES[::-1]):
        for signal in signals(name):
            assert set(signal.elsewhere) <= {other}
            there = signal.elsewhere.get(other)
            if there is None:
                continue
            assert there.differs.endswith(".")
            if not there.name:
                # The name is another line's over there; otherwise there is nothing to say.
                assert signal.name in bus(other).signals
                assert bus(other).signals[signal.name].elsewhere[name].name not in ("", signal.name)
                continue
            assert bus(other).signals[there.name].elsewhere[name].name == signal.name
            pairs.add(frozenset({f"{name} {signal.name}", f"{other} {there.name}"}))
    assert pairs == {
        frozenset({f"isa-8bit {old}", f"isa-16bit {new}"})
        for old, new in (
            ("IRQ2", "IRQ9"),
            ("RESERVED", "SRDY*"),
            ("MEMR*", "SMEMR*"),
            ("MEMW*", "SMEMW*"),
            ("DACK0*", "REFRESH*"),
        )
    }


@pytest.mark.parametrize(("name", "other"), [BUSES, BUSES[::-1]])
def test_a_counterpart_is_found_both_ways_and_stands_on_the_same_contact(name: str, other: str) -> None:
    here, there = load_map(name), load_map(other)
    for signal in signals(name):
        counterpart, _ = bus(name).counterpart(signal, bus(other))
        if counterpart is None:
            # Only lines of the extension's contacts have none.
            assert {c.label[0] for c in here.by_signal[signal.name]} <= {"C", "D"}
            continue
        assert bus(other).counterpart(counterpart, bus(name))[0] == signal
        ours, theirs = ({c.label for c in m.by_signal[s.name]} for m, s in ((here, signal), (there, counterpart)))
        assert {label for label in ours if label[0] in "AB"} == {label for label in theirs if label[0] in "AB"}


def test_a_line_that_both_dictionaries_have_is_described_alike_but_for_those_known_to_differ() -> None:
    shared = bus("isa-8bit").signals.keys() & bus("isa-16bit").signals.keys()
    different = {}
    for line in shared:
        one, other = (bus(name).signals[line] for name in BUSES)
        fields = {field for field in one.__struct_fields__ if getattr(one, field) != getattr(other, field)}
        if fields:
            different[line] = fields
    assert different == DIFFERENT


def test_the_dictionaries_share_their_sources_and_the_kinds_of_cards_that_both_have() -> None:
    old, new = (bus(name) for name in BUSES)
    for key in old.sources.keys() & new.sources.keys():
        assert old.sources[key] == new.sources[key]
    renamed = {"IRQ2": "IRQ9", "MEMR*": "SMEMR*", "MEMW*": "SMEMW*", "DACK0*": "REFRESH*"}
    there = {kind.name: kind for kind in new.kinds}
    for kind in old.kinds:
        other = there[kind.name]
        assert kind.about == other.about
        assert tuple(renamed.get(line, line) for line in kind.needs) == other.needs
        assert tuple(renamed.get(line, line) for line in kind.helps) == other.helps
        groups = [tuple(renamed.get(line, line) for line in group) for group in kind.one_of]
        # Channel 0 is a card's only in the newer generation.
        assert [group for group in other.one_of if "DRQ0" not in group] == groups


# ---------------------------------------------------------------------- sources


@pytest.mark.parametrize(("name", "signal"), BOTH)
def test_every_fact_has_a_source_that_the_dictionary_lists(name: str, signal: Signal) -> None:
    known = set(bus(name).sources.values())
    for fact in (*ALWAYS, *(f for f in SOMETIMES if has(signal, f))):
        assert signal.source_of(fact) in known, fact


def has(signal: Signal, fact: str) -> bool:
    field = {"tolerance": "tolerance_percent", "current": "current_a"}.get(fact, fact)
    value = getattr(signal, field)
    return value is not None and value not in ("", (), {})


@pytest.mark.parametrize(("name", "signal"), BOTH)
def test_a_source_is_given_only_for_facts_that_are_there(name: str, signal: Signal) -> None:
    for fact in signal.sources:
        assert fact in ("", *ALWAYS) or has(signal, fact), (name, fact)


@pytest.mark.parametrize("name", BUSES)
def test_every_listed_source_is_used(name: str) -> None:
    text = yaml.safe_load((shipped() / "bus" / f"{name}.yaml").read_text("utf-8"))
    used = {text[key]["source"] for key in ("return count", "return reach")}
    assert used == {"geometry"}
    used |= {kind["source"] for kind in text["kinds"]}
    for entry in text["signals"].values():
        used |= {entry["source"], *entry.get("source of", {}).values()}
        used |= {value["source"] for value in entry.values() if isinstance(value, dict) and "source" in value}
    assert used == set(text["sources"])


@pytest.mark.parametrize(("name", "signal"), BOTH)
def test_a_figure_from_memory_or_practice_never_passes_for_published(name: str, signal: Signal) -> None:
    # What a card loses without a line is nowhere published as such; nor are our own words about it.
    assert signal.source_of("absent") in ("common practice, no source", MEMORY)
    assert signal.source_of("about") != PC104 or signal.name == "BCLK", name


#: What the project knows of each line's output from memory only; the open-collector outputs of the four lines that sink
#: 20 mA are published (PC/104 Specification, version 2.6, section 3).
OUTPUT = {
    "address": "three-state",
    "data": "three-state",
    "command": "three-state",
    "interrupt": "push-pull or three-state",
}
OUTPUT_OF = {
    **dict.fromkeys(("BALE", "AEN", "RESET", "TC", "BCLK", "OSC"), "push-pull"),
    **dict.fromkeys((f"DACK{n}*" for n in range(8)), "push-pull"),
    **dict.fromkeys((f"DRQ{n}" for n in range(8)), "push-pull or three-state"),
    **dict.fromkeys(("IOCHRDY", "IOCHK*", "REFRESH*", "RESERVED"), "open collector"),
    "SBHE*": "three-state",
}
PULLED_FROM_MEMORY = {
    **dict.fromkeys((f"SD{n}" for n in range(16)), "4.7-10 kΩ up"),
    **dict.fromkeys(("IOR*", "IOW*", "MEMR*", "MEMW*", "SMEMR*", "SMEMW*", "SBHE*"), "4.7-10 kΩ up"),
    **dict.fromkeys((f"DRQ{n}" for n in range(8)), "5.6-10 kΩ down"),
    "IOCHRDY": "1 kΩ up",
    "IOCHK*": "4.7 kΩ up",
    "REFRESH*": "330-1000 Ω up",
}
PUBLISHED_OUTPUT = ("SRDY*", "MEMCS16*", "IOCS16*", "MASTER*")


@pytest.mark.parametrize(
    ("name", "signal"), [p for p in BOTH if isinstance(p.values[1], Signal) and not p.values[1].is_power]
)
def test_an_output_known_from_memory_says_so(name: str, signal: Signal) -> None:
    if signal.name in PUBLISHED_OUTPUT:
        assert (signal.output, signal.source_of("output")) == ("open collector", PC104)
        return
    wanted = OUTPUT_OF.get(signal.name) or OUTPUT[signal.group]
    assert (signal.output, signal.source_of("output")) == (wanted, MEMORY), name


@pytest.mark.parametrize("name", BUSES)
def test_exactly_these_pulls_are_from_memory_and_say_so(name: str) -> None:
    given = {s.name: s.pull for s in signals(name) if s.pull and s.source_of("pull") == MEMORY}
    assert given == {line: pull for line, pull in PULLED_FROM_MEMORY.items() if line in bus(name).signals}
    assert {s.source_of("idle") for s in signals(name) if not s.is_power} == {MEMORY}


def test_practice_beside_the_published_figures_says_that_it_is_from_memory() -> None:
    for name in BUSES:
        for rail in ("-5V", "-12V"):
            assert "Older practice allows 10 % (from memory)." in bus(name).signals[rail].about
    assert "8.33 MHz is later practice (from memory)" in bus("isa-16bit").signals["BCLK"].about


@pytest.mark.parametrize("connector", ["isa-8bit", "isa-16bit"])
def test_what_no_source_gives_of_the_slots_body_is_said_to_be_from_memory(connector: str) -> None:
    cited = dict(load_map(connector).body.sources)
    assert cited["row pitch"] == "from memory"
    assert cited["rating"].startswith("from memory")


@pytest.mark.parametrize(("name", "signal"), BOTH)
def test_an_idle_level_agrees_with_the_pull(name: str, signal: Signal) -> None:
    if signal.pull:
        assert signal.idle == {"up": "high", "down": "low"}[signal.pull.rpartition(" ")[2]], name
    else:
        assert signal.idle in ("none", "undefined"), name
    # Whoever always drives a line leaves it no idle level.
    assert (signal.idle == "none") == (signal.output in ("push-pull", "none")), name


# ---------------------------------------------------------------------- kinds of cards, remedies, names


def kinds(name: str) -> list[tuple[str, tuple[str, ...]]]:
    return [(k.name, (*k.needs, *k.helps, *(line for group in k.one_of for line in group))) for k in bus(name).kinds]


@pytest.mark.parametrize(("name", "kind", "lines"), [(name, *kind) for name in BUSES for kind in kinds(name)])
def test_what_a_kind_of_card_needs_is_on_the_bus(name: str, kind: str, lines: tuple[str, ...]) -> None:
    assert set(lines) <= set(bus(name).signals), kind
    needs = next(k.needs for k in bus(name).kinds if k.name == kind)
    assert len(set(needs)) == len(needs)
    assert {"GND", "+5V"} <= set(needs)


def test_a_kind_that_needs_a_line_which_the_bus_lacks_is_refused() -> None:
    old = bus("isa-8bit")
    message = r"^a kind of card must need lines of its bus, not SD0 \(kind programmed I/O\)$"
    with pytest.raises(ValueError, match=message):
        Bus("bad", "bad", {"GND": old.signals["GND"]}, old.kinds)


@pytest.mark.parametrize("name", BUSES)
def test_no_kind_of_card_works_without_a_line_whose_absence_is_called_a_fault(name: str) -> None:
    fatal = {s.name for s in signals(name) if s.absent and s.absent.grade == "fault"}
    assert fatal == {line for line in bus(name).signals if all(line in kind.needs for kind in bus(name).kinds)}


@pytest.mark.parametrize(("name", "signal"), BOTH)
def test_a_remedy_goes_to_a_line_of_the_bus_and_has_the_value_its_kind_needs(name: str, signal: Signal) -> None:
    assert signal.absent is not None
    remedy = signal.absent.remedy
    assert remedy.to in ("", *bus(name).signals)
    assert signal.absent.effect.endswith(".")
    assert remedy.why.endswith(".")
    if remedy.kind in ("pull up", "pull down"):
        assert remedy.to == {"pull up": "+5V", "pull down": "GND"}[remedy.kind]
        assert remedy.value.endswith((" Ω", " kΩ"))
    if remedy.kind in ("leave open", "jumper", "none"):
        assert (remedy.value, remedy.to) == ("", "")
    if remedy.kind == "leave open":  # an input left open is no remedy
        assert signal.driver in ("card", "either")


@pytest.mark.parametrize("name", BUSES)
def test_no_two_lines_of_a_bus_share_a_name_or_an_alias(name: str) -> None:
    owners: dict[str, set[str]] = {}
    for signal in signals(name):
        for spelling in (signal.name, *signal.aliases):
            owners.setdefault(Names.folded(spelling), set()).add(signal.name)
    assert {spelling: lines for spelling, lines in owners.items() if len(lines) > 1} == {}


@pytest.mark.parametrize(("name", "signal"), BOTH)
def test_every_name_and_alias_is_read_back_as_its_line_with_the_buss_polarity(name: str, signal: Signal) -> None:
    for spelling in (signal.name, *signal.aliases):
        reading = Names(bus(name)).read(spelling)
        assert reading is not None, spelling
        assert (reading.signal, reading.inverted("used")) == (signal, False), spelling


# ---------------------------------------------------------------------- how the forms of connector can be plugged


@pytest.mark.parametrize("form", FORMS)
def test_every_form_says_how_it_can_be_plugged_why_and_on_whose_word(form: Form) -> None:
    seating = customs()[form].seating
    assert seating.source == "common practice, no source"
    assert seating.why.endswith(".")
    assert "Nothing is known" not in seating.why  # that is what stands where the file says nothing
    assert seating.cure.endswith(".")


@pytest.mark.parametrize(
    ("forms", "along", "across", "turned", "sections"),
    [
        (("pin header", "socket header"), "any", "possible", "possible", "nothing"),
        (("box header",), "none", "impossible", "only without a bump", "wall"),
        (("edge slot", "edge fingers"), "one place", "impossible", "possible", "wall"),
        (("din 41612",), "none", "impossible", "impossible", "wall"),
    ],
)
def test_how_each_form_can_be_plugged(
    forms: tuple[Form, ...], along: str, across: str, turned: str, sections: str
) -> None:
    for form in forms:
        seating = customs()[form].seating
        assert (seating.along, seating.across, seating.turned, seating.sections) == (along, across, turned, sections)
        assert seating.part == "possible"


@pytest.mark.parametrize(
    ("form", "word"),
    [
        ("pin header", "shrouded (box) header"),
        ("socket header", "bump"),
        ("box header", "latches"),
        ("edge slot", "wall across the slot"),
        ("edge fingers", "notch"),
        ("din 41612", "Screws or latches"),
    ],
)
def test_each_form_says_what_prevents_wrong_seatings_for_good(form: Form, word: str) -> None:
    assert word in customs()[form].seating.cure


FORMS_FILE = """\
format: 1
sources: {practice: common practice}
forms:
  pin header:
    seating:
      along: any
      across: possible
      turned: possible
      part: possible
      sections: nothing
      why: nothing guides it
      source: practice
"""


@pytest.mark.parametrize(
    ("good", "bad", "complaint"),
    [
        (
            "along: any",
            "along: 2",
            "bad.yaml:6:14: forms › pin header › seating › along must be any, none or one place, not '2'",
        ),
        (
            "turned: possible",
            "turned: never",
            "bad.yaml:8:15: forms › pin header › seating › turned must be impossible, only without a bump or possible, "
            "not 'never'",
        ),
        (
            "      part: possible\n",
            "",
            "bad.yaml:6:7: forms › pin header › seating must have part",
        ),
        (
            "source: practice",
            "source: practise",
            "bad.yaml:12:15: a source must be one of practice, not 'practise'. Did you mean practice?",
        ),
    ],
)
def test_a_wrong_seating_of_a_form_is_refused_with_its_place(
    good: str, bad: str, complaint: str, tmp_path: Path
) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(FORMS_FILE, encoding="utf-8")
    seating = read_forms(path, "good.yaml")["pin header"].seating
    assert (seating.why, seating.cure) == ("nothing guides it", "")  # a cure is advice: none need be given
    path.write_text(FORMS_FILE + "      cure: a wall\n", encoding="utf-8")
    assert read_forms(path, "good.yaml")["pin header"].seating.cure == "a wall"
    path.write_text(FORMS_FILE.replace(good, bad), encoding="utf-8")
    with pytest.raises(DictionaryError) as caught:
        read_forms(path, "bad.yaml")
    assert str(caught.value) == complaint
