"""Skeletons: every one can be read as it stands, and filled in it is the map that was meant."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from pinmap import designs, library
from pinmap.api import adapt, check, load_map
from pinmap.body import FORMS, SCHEMES
from pinmap.designs import ReadDesign
from pinmap.errors import NOWHERE, NotFoundError
from pinmap.model import PinMap
from pinmap.skeleton import adapter_skeleton, body_for, skeleton

LIBRARY = [entry.name for entry in library.entries()]

#: What a map says of which no contact is described yet.
EXPECTED = {"contact-not-described", "return-none", "rail-missing"}


def read(tmp_path: Path, text: str) -> PinMap:
    path = tmp_path / "skeleton.yaml"
    path.write_text(text, encoding="utf-8")
    checked = check(path)
    assert {f.code for f in checked.findings} <= EXPECTED, [f.message for f in checked.findings]
    assert checked.map
    assert checked.map.contacts
    assert {c.role for c in checked.map.contacts} == {"undescribed"}
    return checked.map


@pytest.mark.parametrize("rows", [1, 2, 3])
@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("form", FORMS)
def test_a_skeleton_of_any_form_and_numbering_can_be_read(form: str, scheme: str, rows: int, tmp_path: Path) -> None:
    if scheme in ("ring", "lettered") and rows != 2:
        with pytest.raises(ValueError, match=f"{scheme} labels must have two rows, not {rows}"):
            body_for(form, rows, 12, scheme)
        return
    body = body_for(form, rows, 12, scheme, pitch_mm=3.9624, row_pitch_mm=5.08)
    got = read(tmp_path, skeleton(body, "isa-8bit", "A title"))
    assert (got.title, got.bus.name, got.end) == ("A title", "isa-8bit", "host")
    # Reading fills in what is customary for the form; everything else comes back.
    assert (
        replace(got.body, pads=None, footprint="", mate_pads=None, mate_footprint="", rating_a=None, sources=()) == body
    )


@pytest.mark.parametrize("name", LIBRARY)
def test_a_skeleton_like_a_connector_of_the_library_has_its_body(name: str, tmp_path: Path) -> None:
    like = load_map(name)
    got = read(tmp_path, skeleton(like.body, like.bus.name, "Mine"))
    assert got.body == like.body
    assert got.body.mate() == like.body.mate()
    assert got.bus is like.bus


@pytest.mark.parametrize("name", LIBRARY)
def test_a_filled_in_skeleton_is_the_map_again(name: str, tmp_path: Path) -> None:
    wanted = load_map(name)
    text = skeleton(wanted.body, wanted.bus.name, wanted.title)
    for contact in wanted.contacts:
        line = contact.written or contact.role
        if contact.option or contact.note or contact.seen != "manual":
            more = {"with": contact.option, "seen": contact.seen, "note": contact.note}
            line = f"{{signal: {line}, {', '.join(f'{k}: {v}' for k, v in more.items() if v)}}}"
        assert text.count(f"  #{contact.label}:\n") == 1
        text = text.replace(f"  #{contact.label}:\n", f"  {contact.label}: {line}\n")
    options = "".join(f"  {option}: {what}\n" for option, what in wanted.options.items())
    text = re.sub(r"#options:\n#.*\n", f"options:\n{options}", text)
    own = "".join(f'  {line.name}: {{about: "{line.about}", group: {line.group}}}\n' for line in wanted.own.values())
    text = re.sub(r"#own signals:.*\n#.*\n", f"own signals:\n{own}", text)
    limits = "".join(f"  {s.rail}: {{limit: {s.limit_a:g} A}}\n" for s in wanted.supplies.values())
    text = re.sub(r"#supplies:.*\n#.*\n", f"supplies:\n{limits}", text)
    path = tmp_path / "filled.yaml"
    path.write_text(text, encoding="utf-8")
    got = load_map(path)
    assert bare(got) == bare(wanted)
    assert {f.code for f in check(path).findings} == {f.code for f in check(name).findings}


def bare(pin_map: PinMap) -> PinMap:
    """A map without what a skeleton cannot know: name, places and prose."""
    return replace(
        pin_map,
        name="",
        about="",
        source="",
        place=NOWHERE,
        contacts=tuple(replace(c, place=NOWHERE) for c in pin_map.contacts),
        supplies={rail: replace(s, place=NOWHERE) for rail, s in pin_map.supplies.items()},
    )


@pytest.mark.parametrize(
    "title",
    [
        'with "quotes"',
        "with: a colon",
        "# no comment",
        "back\\slash",
        "Größe 5",
        "'",
        "*",
        "{x}",
        "- x",
        "two\nlines",
        "\x1b",
    ],
)
def test_any_title_comes_back(title: str, tmp_path: Path) -> None:
    from pinmap.text import visible

    body = body_for("pin header", 1, 4, "serial")
    assert read(tmp_path, skeleton(body, "isa-8bit", title)).title == visible(title)


@pytest.mark.parametrize(
    ("form", "gender", "letters", "first"),
    [
        ("edge slot", None, ("A", "B"), "top left"),
        ("edge fingers", None, ("A", "B"), "top right"),
        ("pin header", None, ("A", "B"), "bottom left"),
        ("box header", None, ("A", "B"), "bottom left"),
        ("socket header", None, ("A", "B"), "top left"),
        ("din 41612", "female", ("c", "a"), "bottom left"),
        ("din 41612", "male", ("a", "c"), "top left"),
    ],
)
def test_a_body_begins_at_the_corner_customary_for_its_form(
    form: str, gender: str | None, letters: tuple[str, ...], first: str
) -> None:
    body = body_for(form, 2, 31, "rows", gender=gender)  # type: ignore[arg-type]
    assert (body.sections[0].letters, body.first) == (letters, first)


def test_a_pin_header_and_the_socket_on_it_are_each_others_mirror_image() -> None:
    for one, other in (("edge slot", "edge fingers"), ("pin header", "socket header")):
        a, b = body_for(one, 2, 5, "zigzag"), body_for(other, 2, 5, "zigzag")
        flipped = {"left": "right", "right": "left"}
        turned = {"top": "bottom", "bottom": "top"}
        vertical, horizontal = a.first.split()
        # Mirrored, or mirrored and turned by 180°: both plug in.
        assert b.first in (f"{vertical} {flipped[horizontal]}", f"{turned[vertical]} {horizontal}")


WHOLE = """\
# A pin map for pinmap. Fill in what you know, delete the # in front, and run: pinmap check THIS-FILE
format: 1
title: "My machine"
about: what machine, which connector, anything that a stranger must know
bus: isa-8bit
end: host                     # host: the machine's connector; card: what a card brings
source: where this table comes from   # a manual's page, a sketch, your own measurement
#seen: measured               # what holds for every contact that does not say: manual, measured, guessed
#marks: none                  # only if the table marks no line as active low (no IOR*, -IOR, /IOR)
body:                         # seen from the mating face: look at the contacts, as the plug does
  form: edge slot
  rows: 2
  places: 2
  letters: A B                # of the rows, from the top row down
  labels: rows
  first: top left             # the corner of the first contact
  pitch: 2.54 mm              # measure it over many contacts and divide
  row pitch: 2.54 mm
#options:
#  name of the option board: what it brings
#own signals:                 # lines that the bus does not know
#  AUDIO: line to the loudspeaker
#supplies:                    # what the machine can deliver on a rail
#  +5V: {limit: 1.5 A}
contacts:
  # One line a contact, or a run: A2..A9: SD7..SD0; 4..18 by 2: SD7..SD0; 20..24 by 2: GND
  # open: brought out, connected to nothing; key: no contact here
  # {signal: IRQ2, seen: guessed, note: the scan is smudged}; {signal: OSC, with: name of the option board}
  #A1:
  #A2:
  #B1:
  #B2:
"""


def test_the_whole_skeleton_of_a_small_connector() -> None:
    assert skeleton(body_for("edge slot", 2, 2, "rows"), "isa-8bit", "My machine") == WHOLE


def test_a_skeleton_is_plain_ascii_so_that_any_editor_and_pipe_keeps_it() -> None:
    assert skeleton(body_for("edge slot", 2, 2, "rows"), "isa-8bit", "My machine").isascii()


# ---------------------------------------------------------------------- of an adapter file

PAIRS = [("oakmere-88", "isa-8bit"), ("brindle-portable", "isa-8bit"), ("tarn-rack", "isa-16bit")]


def read_adapter(folder: Path, text: str) -> ReadDesign:
    path = folder / "riser.yaml"
    path.write_text(text, encoding="utf-8")
    return designs.read(path, "riser.yaml", check, gauges=range(22, 31))


def uncommented(text: str, *blocks: str) -> str:
    """An adapter file with the # taken away in front of these blocks, and of what is in them."""
    out, on = [], False
    for line in text.splitlines():
        if not line.startswith("#  "):
            on = line.removeprefix("#").partition(":")[0] in blocks
        out.append(line.removeprefix("#") if on else line)
    return "\n".join(out) + "\n"


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_an_adapter_skeleton_reads_as_it_stands(host: str, card: str, tmp_path: Path) -> None:
    text = adapter_skeleton(load_map(host), load_map(card), 'My "riser"')
    got = read_adapter(tmp_path, text)
    assert [f.message for f in got.complaints] == []
    assert got.design
    assert (got.design.title, got.design.host, got.design.card) == ('My "riser"', host, card)
    assert (got.design.build, got.design.cards, got.design.choices, got.design.decoupling) == (None, (), (), True)
    assert text.isascii()


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_an_adapter_skeleton_lists_every_line_that_the_slot_does_not_bring(
    host: str, card: str, tmp_path: Path
) -> None:
    text = adapter_skeleton(load_map(host), load_map(card), "x")
    plan = adapt(host, card)
    absent = {u.signal: u.remedy for u in plan.unmapped if u.end == "card"}
    wanted = {n: r for n, r in absent.items() if r.kind != "jumper"}
    got = read_adapter(tmp_path, uncommented(text, "remedies", "build", "cards", "fuses", "clock", "drive", "options"))
    assert got.design
    choices = {c.signal: c for c in got.design.choices}
    brought = {"OSC"} if host == "oakmere-88" else set()  # with the video board, which is a comment too
    assert choices.keys() == wanted.keys() - brought
    assert [f.message for f in got.complaints] == []
    assert ("#  # Only without video board, which brings it:\n#  #OSC: {kind: oscillator," in text) is bool(brought)
    for name, choice in choices.items():
        remedy = wanted[name]
        assert choice.kind == ("leave open" if remedy.kind == "none" else remedy.kind)
        # A pull gets its value from the loads, where none is said.
        assert choice.value == ("" if remedy.kind.startswith("pull") else remedy.value)
        assert choice.to == remedy.to
    for name in absent.keys() - wanted.keys():
        one = re.sub(rf"(?m)^#  #?{name}:", f"jumpers:\n  {name}:", text)
        jumpered = read_adapter(tmp_path, one)
        assert [f.message for f in jumpered.complaints] == []
        assert jumpered.design
        assert [j.signal for j in jumpered.design.jumpers] == [name]


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_an_adapter_skeleton_contradicts_itself_nowhere_with_every_block_filled_in(
    host: str, card: str, tmp_path: Path
) -> None:
    text = adapter_skeleton(load_map(host), load_map(card), "x")
    blocks = ("options", "build", "clock", "drive", "other slots", "cards", "remedies", "jumpers", "fuses")
    got = read_adapter(tmp_path, uncommented(text, *blocks))
    assert [f.message for f in got.complaints] == []
    assert got.design
    assert got.design.jumpers
    assert len({j.to[0] for j in got.design.jumpers}) == len(got.design.jumpers)


def test_each_jumper_of_a_skeleton_is_set_to_another_line_and_to_a_guessed_one_last(tmp_path: Path) -> None:
    host = SMALL_HOST.replace("places: 3", "places: 6").replace(
        "3: IRQ5", "3: {signal: IRQ2, seen: guessed}\n  4: IRQ5\n  5: IRQ6*\n  6: IRQ3"
    )
    card = SMALL_HOST.replace("places: 3", "places: 6").replace("3: IRQ5", "3: IRQ7\n  4: IRQ6\n  5: IRQ4\n  6: DRQ1")
    card = card.replace("places: 6", "places: 7") + "  7: IRQ3\n"
    for name, text in (("slot", host), ("card", card.replace("4: IRQ6", "4: open"))):
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    made = adapter_skeleton(load_map(tmp_path / "slot.yaml"), load_map(tmp_path / "card.yaml"), "x")
    assert [line for line in made.splitlines() if "IRQ" in line and ": [" in line and "needs" not in line] == [
        "#  IRQ4: [IRQ5, IRQ3, IRQ2]",
        "#  IRQ7: [IRQ3, IRQ5, IRQ2]",
    ]
    more = card.replace("4: IRQ6", "4: open").replace("6: DRQ1", "6: IRQ5").replace("7: IRQ3", "7: open")
    few = host.replace("4: IRQ5", "4: open").replace("6: IRQ3", "6: open")
    for name, text in (("slot", few), ("card", more)):
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    made = adapter_skeleton(load_map(tmp_path / "slot.yaml"), load_map(tmp_path / "card.yaml"), "x")
    assert [line for line in made.splitlines() if "IRQ" in line and ": [" in line and "needs" not in line] == [
        "#  IRQ4: [IRQ2]",
        "#  #IRQ5: [IRQ2]              # only without the jumper of IRQ4, which is set to IRQ2 too",
        "#  #IRQ7: [IRQ2]              # only without the jumper of IRQ4, which is set to IRQ2 too",
    ]


def test_a_skeleton_advises_the_level_that_the_cards_own_polarity_wants(tmp_path: Path) -> None:
    host = SMALL_HOST.replace("places: 3", "places: 5") + "  4: IRQ4\n  5: open\n"
    card = SMALL_HOST.replace("places: 3", "places: 6").replace("end: host", "end: card")
    card = card.replace("3: IRQ5", "3: DACK3\n  4: IRQ3*\n  5: IRQ4*\n  6: IRQ7")
    for name, text in (("slot", host), ("card", card)):
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    slot, own = (load_map(tmp_path / name) for name in ("slot.yaml", "card.yaml"))
    made = adapter_skeleton(slot, own, "x", host_named="slot.yaml", card_named="card.yaml")
    assert [line for line in made.splitlines() if re.match(r"#  (# (pull|leave)|IRQ|DACK)", line)] == [
        "#  # leave open: The card has it with the opposite polarity, so no jumper leads it; set the card to another "
        "line that the slot brings, and tell the software.",
        "#  IRQ3: leave open",
        "#  IRQ4: inverter",
        "#  # pull down: The card has the line with the opposite polarity, so it is held low where the bus would have "
        "it high.",
        "#  DACK3*: {kind: pull down, to: GND}",
        "#  IRQ7: [IRQ5]",
    ]
    got = read_adapter(tmp_path, uncommented(made, "remedies", "jumpers"))
    assert [f.message for f in got.complaints] == []


def test_a_skeleton_says_which_value_a_pull_gets_under_which_loads() -> None:
    # 0.4 mA out of each input and at most 0.5 V, 5 % more: 595 Ω for 2, 298 Ω for 4, 198 Ω for 6, 149 Ω for 8.
    text = adapter_skeleton(load_map("brindle-portable"), load_map("isa-8bit"), "x")
    down = (
        "#  # Without a value it follows from the loads of the cards, two for each that does not say: 560 ohm for up "
        "to 2 inputs, 270 ohm for up to 4 inputs, 180 ohm for up to 6 inputs and 120 ohm for up to 8 inputs."
    )
    up = (
        "#  # Without a value it follows from the loads of the cards, two for each that does not say: 10 kohm for up "
        "to 8 inputs."
    )
    lines = text.splitlines()
    assert [lines[at + 1] for at, line in enumerate(lines) if line == down] == [
        "#  SA16..SA19: {kind: pull down, to: GND}",
        "#  TC: {kind: pull down, to: GND}",
    ]
    assert [lines[at + 1] for at, line in enumerate(lines) if line == up] == [
        "#  DACK1*..DACK3*: {kind: pull up, to: +5V}",
        "#  DACK0*: {kind: pull up, to: +5V}",
    ]


def test_an_adapter_skeleton_knows_the_options_that_are_fitted(tmp_path: Path) -> None:
    host, card = load_map("oakmere-88"), load_map("isa-8bit")
    text = adapter_skeleton(host, card, "x", ["video board"])
    assert "OSC" not in text
    got = read_adapter(tmp_path, text)
    assert got.design
    assert got.design.fitted == ("video board",)
    with pytest.raises(NotFoundError, match="an option must be 'video board', not 'video bord'"):
        adapter_skeleton(host, card, "x", ["video bord"])


def test_an_adapter_skeleton_names_a_map_by_its_path(tmp_path: Path) -> None:
    source = library.shipped() / "demo" / "oakmere-88.yaml"
    (tmp_path / "my map.yaml").write_text(source.read_text(encoding="utf-8"), encoding="utf-8")
    host = load_map(tmp_path / "my map.yaml")
    got = read_adapter(tmp_path, adapter_skeleton(host, load_map("isa-8bit"), "x", host_named="./my map.yaml"))
    assert [f.message for f in got.complaints] == []
    assert got.host
    assert got.host.map
    assert got.host.map.contacts == tuple(
        replace(c, place=replace(c.place, file=str(tmp_path / "my map.yaml"))) for c in load_map(source).contacts
    )


SMALL_HOST = """\
format: 1
title: Small
bus: isa-8bit
end: host
body: {form: pin header, rows: 1, places: 3, labels: serial, first: top left, pitch: 2.54 mm}
supplies: {+5V: {limit: 500 mA}}
contacts:
  1: GND
  2: +5V
  3: IRQ5
"""
SMALL_CARD = SMALL_HOST.replace("places: 3", "places: 7").replace("3: IRQ5", "3: IRQ7\n  4..6: DRQ1..DRQ3\n  7: OSC")

WHOLE_ADAPTER = """\
# An adapter file for pinmap. Delete the # in front of what applies, change it, run: pinmap adapt THIS-FILE
format: 1
title: "Mine"
about: what it is for, anything that a stranger must know
host: small                   # a name of the library, or a path from this file
card: wide
#build:                       # without it nothing is said of drop and length
#  as: ribbon                 # ribbon, point to point or printed board
#  length: 150 mm             # from connector to connector
#  wire: 28 AWG               # a ribbon's, or that of single wires for signals
#  #supply wire: 24 AWG       # point to point only: of single wires for supplies and returns
#  #trace: 0.25 mm            # printed board only, instead of wire
#  #supply trace: 2 mm
#  #copper: 35 um
#board:                       # what `pinmap board` makes; without it one by the usual rules
#  form: flat                 # flat, right-angle riser or straight riser
#  #bracket: right            # the end at which contact 1 lies, seen from the front
#  #component side: lower edge  # where the card's parts look to
#  #width: 140 mm             # no larger than; also height, track, gap, via, via drill, edge, thickness
#clock: 4.77 MHz              # of the bus, from the machine's manual
#drive: 24 mA                 # what the machine's bus drivers sink, from their data sheet
#other slots: 0               # cards in other slots of the machine, on the same lines
#other draws: {+5V: 500 mA}   # what these and the machine itself take of its limits
#cards:                       # all those that will sit in the adapter together
#  - name: what the card is called
#    kind: programmed I/O     # The processor reads and writes the card's registers; no interrupt and no DMA.
#    #kind: programmed I/O with interrupt
#    #kind: DMA
#    #kind: ROM
#    #kind: memory that needs no refresh
#    #kind: memory refreshed by the bus
#    #kind: video on the oscillator line
#    #kind: serial lines with 12 V drivers
#    #draws: {+5V: 300 mA}    # from its label or manual; otherwise a rule of thumb for its kind is taken
#    #needs: [IRQ4]           # lines that this card cannot do without, beside those of its kind
#    #loads: 1                # inputs of LS logic that it hangs on each line
# Lines that the slot does not bring, with what the dictionary advises. Where that is a part and the line
# matters, it is done without being asked, all but a tie, which waits for your word; write what is to be
# done otherwise, or what stays open.
#remedies:
#  # The slot does not bring it. Video cards that take their picture timing from it show nothing, and a few timer and \
sound cards stand still.
#  # oscillator: The line is not in step with the bus, so a canned oscillator at the card replaces it fully.
#  OSC: {kind: oscillator, value: 14.31818 MHz, to: OSC}
#  # The slot does not bring it. The card can't use this DMA channel; set it to another channel or to programmed \
input/output.
#  # leave open: It is the card's output, so nothing on the card waits for it; a request simply is never heard.
#  DRQ1..DRQ3: leave open
#jumpers:                     # line of the card: lines of the slot; the first is the one that is set
#  IRQ7: [IRQ5]
#fuses:                       # in the rail, between the machine and the card; resettable: yes for one that recovers
#  +5V: 500 mA                # at most: what the machine can deliver
#decoupling: no               # yes where it is not said: capacitors from each rail to the return at the card
"""


def test_the_whole_skeleton_of_a_small_adapter(tmp_path: Path) -> None:
    for name, text in (("small", SMALL_HOST), ("wide", SMALL_CARD)):
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    host, card = load_map(tmp_path / "small.yaml"), load_map(tmp_path / "wide.yaml")
    assert adapter_skeleton(host, card, "Mine") == WHOLE_ADAPTER
