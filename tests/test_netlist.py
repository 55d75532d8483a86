"""The netlist says what the plan says: net by net, pad by pad, part by part, footprint by footprint.

What is expected is worked out here from the plan's nets and the bodies' pads; what is found is read back by kicad-skip.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from pinmap import Adapter, Body, PinMap, adapt, load_map, plan, render, write
from pinmap.writers import netlist
from pinmap.writers.netlist import NetPart, read_netlist

STANDARD = ("isa-8bit", "isa-16bit", "pc104-8bit", "pc104-16bit")
DEMO = ("oakmere-88", "brindle-portable", "tarn-rack")
OPTIONS = {"oakmere-88": ("video board",)}

#: What the adapter carries towards a machine's connector: its mate.
TOWARDS_HOST = {
    "isa-8bit": "pinmap:ISA_Fingers_62",
    "isa-16bit": "Connector_PCBEdge:BUS_AT",
    "pc104-8bit": "pinmap:PC104_64_Pins",
    "pc104-16bit": "pinmap:PC104_104_Pins",
    "oakmere-88": "Connector_PinSocket_2.54mm:PinSocket_2x32_P2.54mm_Vertical",
    "brindle-portable": "pinmap:EdgeFingers_2x25_P3.96mm",
    "tarn-rack": "Connector_DIN:DIN41612_C_2x32_Male_Horizontal_THT",
}
#: What it carries towards the card: the slot itself.
TOWARDS_CARD = {
    "isa-8bit": "pinmap:ISA_Slot_62",
    "isa-16bit": "pinmap:ISA_Slot_98",
    "pc104-8bit": "pinmap:PC104_64",
    "pc104-16bit": "pinmap:PC104_104",
}

Case = tuple[str, str, tuple[str, ...]]
PAIRS: list[Case] = [
    (host, card, fitted)
    for host in (*DEMO, *STANDARD)
    for card in STANDARD
    for fitted in ([(), OPTIONS[host]] if host in OPTIONS else [()])
]
Nets = dict[str, frozenset[tuple[str, str]]]


def bodies(adapter: Adapter) -> tuple[Body, Body]:
    """The bodies of J1 and J2. A connector of the machine is met by its mate; a card plugs into the slot itself."""
    host, card = adapter.host, adapter.card
    return (
        host.body.mate() if host.end == "host" else host.body,
        card.body if card.end == "host" else card.body.mate(),
    )


def wanted_nets(adapter: Adapter) -> Nets:
    one, other = bodies(adapter)
    return {
        net.name: frozenset(
            {("J1", one.pad_of[c.label]) for c in net.host}
            | {("J2", other.pad_of[c.label]) for c in net.card}
            | set(net.parts)
        )
        for net in adapter.nets
    }


def wanted_parts(adapter: Adapter) -> dict[str, NetPart]:
    out = {}
    for ref, end, pin_map, body in zip(
        ("J1", "J2"), ("host", "card"), (adapter.host, adapter.card), bodies(adapter), strict=True
    ):
        present = [c.label for c in pin_map.contacts if c.role != "key"]
        pads = sorted({(body.pad_of[label], label) for label in present}, key=lambda pad: natural(pad[0]))
        out[ref] = NetPart(ref, pin_map.title, body.footprint, f"{end} connector", tuple(pads))
    return out


def natural(text: str) -> list[tuple[str, int]]:
    return [(word, int(number or 0)) for word, number in re.findall(r"(\D*)(\d*)", text)]


def read(text: str, folder: Path) -> tuple[dict[str, NetPart], Nets]:
    path = folder / "adapter.net"
    path.write_bytes(text.encode("utf-8"))
    return read_netlist(path)


def named(case: Case) -> str:
    return " ".join((case[0], "to", case[1], *(f"with {option}" for option in case[2])))


# ---------------------------------------------------------------------- every shipped pair


def test_these_are_all_the_shipped_connectors_and_options() -> None:
    from pinmap.library import entries

    shipped = [e for e in entries() if e.collection in ("standard", "demo")]
    assert {e.name for e in shipped} == {*STANDARD, *DEMO}
    assert {e.name: tuple(load_map(e.name).options) for e in shipped if load_map(e.name).options} == OPTIONS


@pytest.mark.parametrize("case", PAIRS, ids=named)
def test_what_is_asked_of_the_netlist_is_the_plan_pad_by_pad(case: Case) -> None:
    host, card, fitted = case
    adapter = adapt(host, card, fitted)
    asked = netlist.nets(adapter)
    assert [wire.name for wire in asked] == [net.name for net in adapter.nets]
    assert {wire.name: frozenset(wire.nodes) for wire in asked} == wanted_nets(adapter)
    assert sum(len(wire.nodes) for wire in asked) == len({node for wire in asked for node in wire.nodes})
    parts = {part.ref: part for part in netlist.parts(adapter)}
    assert {ref: replace_pads(part) for ref, part in parts.items()} == wanted_parts(adapter)
    assert (parts["J1"].footprint, parts["J2"].footprint) == (TOWARDS_HOST[host], TOWARDS_CARD[card])


def replace_pads(part: NetPart) -> NetPart:
    """The part with its pads in natural order, as a netlist read back has them."""
    return NetPart(
        part.ref, part.value, part.footprint, part.purpose, tuple(sorted(part.pads, key=lambda pad: natural(pad[0])))
    )


@pytest.mark.parametrize("case", PAIRS, ids=named)
def test_every_contact_but_a_key_is_a_pad_of_the_netlist_and_on_one_net(case: Case) -> None:
    host, card, fitted = case
    adapter = adapt(host, card, fitted)
    nodes = [node for wire in netlist.nets(adapter) for node in wire.nodes]
    counts = [sum(c.role != "key" for c in end.contacts) for end in (adapter.host, adapter.card)]
    assert [sum(ref == name for ref, _ in nodes) for name in ("J1", "J2")] == counts


@pytest.mark.parametrize("case", PAIRS, ids=named)
def test_the_netlist_read_back_is_the_plan_net_by_net_and_part_by_part(case: Case, tmp_path: Path) -> None:
    host, card, fitted = case
    adapter = adapt(host, card, fitted)
    parts, nets = read(netlist.text(adapter), tmp_path)
    assert nets == wanted_nets(adapter)
    assert parts == wanted_parts(adapter)
    assert (parts["J1"].footprint, parts["J2"].footprint) == (TOWARDS_HOST[host], TOWARDS_CARD[card])


# ---------------------------------------------------------------------- pads, seen one by one


def test_a_few_pads_known_from_the_connectors_themselves(tmp_path: Path) -> None:
    # Finger B1 of the 16-bit card edge is pad 1 and A1 pad 32; the slot's own pads bear the contacts' labels.
    _, nets = read(netlist.text(adapt("isa-16bit", "isa-8bit")), tmp_path)
    assert nets["IOCHK*"] == {("J1", "32"), ("J2", "A1")}
    assert nets["GND"] == {("J1", pad) for pad in ("1", "10", "31", "80")} | {("J2", n) for n in ("B1", "B10", "B31")}
    assert nets["IRQ2"] == {("J1", "4"), ("J2", "B4")}
    assert nets["host C9 MEMR*"] == {("J1", "89")}


def test_a_line_that_comes_with_an_option_is_joined_only_when_the_option_is_fitted() -> None:
    without, fitted = (
        {wire.name: wire.nodes for wire in netlist.nets(adapt("oakmere-88", "isa-8bit", options))}
        for options in ((), OPTIONS["oakmere-88"])
    )
    assert without["host 58 OSC"] == (("J1", "58"),)
    assert without["card B30 OSC"] == (("J2", "B30"),)
    assert fitted["OSC"] == (("J1", "58"), ("J2", "B30"))
    assert fitted.keys() - without.keys() == {"OSC"}


def test_a_line_of_opposite_polarity_is_on_two_nets() -> None:
    nets = {wire.name: wire.nodes for wire in netlist.nets(adapt("brindle-portable", "isa-8bit"))}
    pad = load_map("brindle-portable").body.mate().pad_of["23"]
    assert nets["RESET*"] == (("J1", pad),)
    assert nets["RESET"] == (("J2", "B2"),)


# ---------------------------------------------------------------------- ends and names


@pytest.mark.parametrize("ends", [("host", "card"), ("card", "host"), ("card", "card")])
def test_a_map_of_what_a_card_brings_is_met_the_other_way_round(ends: tuple[str, str], tmp_path: Path) -> None:
    def turned(name: str, end: str) -> PinMap:
        return replace(load_map(name), end=end)

    adapter = plan(turned("oakmere-88", ends[0]), turned("isa-8bit", ends[1]))
    parts, nets = read(netlist.text(adapter), tmp_path)
    assert nets == wanted_nets(adapter)
    assert parts == wanted_parts(adapter)
    own_host, own_card = "Connector_IDC:IDC-Header_2x32_P2.54mm_Vertical", "pinmap:ISA_Slot_62"
    assert parts["J1"].footprint == (TOWARDS_HOST["oakmere-88"] if ends[0] == "host" else own_host)
    assert parts["J2"].footprint == ("pinmap:ISA_Fingers_62" if ends[1] == "card" else own_card)


def test_a_makers_own_names_and_titles_come_through_unchanged(tmp_path: Path) -> None:
    own = ['say "hi"', "back\\slash", "(net (name x))", "±Ω 接地"]
    path = tmp_path / "odd.yaml"
    quoted = ["'" + name.replace("'", "''") + "'" for name in own]
    path.write_text(
        "\n".join(
            [
                "format: 1",
                "title: 'Das „Ding\" (net (name \\'",
                "bus: isa-8bit",
                "end: host",
                "body: {form: pin header, rows: 2, places: 4, pitch: 2.54 mm, labels: zigzag, first: top left}",
                "own signals:",
                *(f"  {name}: the maker's" for name in quoted),
                "contacts:",
                "  1: GND",
                "  2: +5V",
                *(f"  {number}: {name}" for number, name in enumerate(quoted, 3)),
                "  7..8: open",
            ]
        ),
        "utf-8",
    )
    adapter = adapt(path, "isa-8bit")
    parts, nets = read(netlist.text(adapter), tmp_path)
    assert nets == wanted_nets(adapter)
    assert parts == wanted_parts(adapter)
    assert parts["J1"].value == 'Das „Ding" (net (name \\'
    assert {f"host {number} {name}" for number, name in enumerate(own, 3)} <= nets.keys()


def test_disputed_contacts_are_in_the_netlist_each_on_a_net_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "doubt.yaml"
    path.write_text(
        "format: 1\ntitle: Doubtful\nbus: isa-8bit\nend: host\n"
        "body: {form: pin header, rows: 2, places: 3, pitch: 2.54 mm, labels: zigzag, first: bottom left}\n"
        "contacts: {1: GND, 2: IRQ3, 3: IRQ3, 4: +5V, 5: NOSUCH, 6: TC}\n",
        "utf-8",
    )
    adapter = adapt(path, "isa-8bit")
    parts, nets = read(netlist.text(adapter), tmp_path)
    assert nets == wanted_nets(adapter)
    assert parts == wanted_parts(adapter)
    alone = {node for nodes in nets.values() if len(nodes) == 1 for node in nodes}
    mate = adapter.host.body.mate().pad_of
    assert {("J1", mate[label]) for label in ("2", "3", "5")} <= alone
    assert ("J1", mate["6"]) not in alone


def test_the_file_written_is_the_netlist_of_the_plan(tmp_path: Path) -> None:
    adapter = adapt("tarn-rack", "isa-8bit")
    (path,) = [p for p in write(adapter, tmp_path / "out") if p.suffix == ".net"]
    assert path.read_bytes() == netlist.text(adapter).encode("utf-8") == render(adapter)["adapter.net"]
    assert read_netlist(path) == (wanted_parts(adapter), wanted_nets(adapter))


def test_a_board_laid_out_earlier_keeps_its_parts_whatever_is_fitted_or_renamed() -> None:
    def identities(adapter: Adapter) -> list[tuple[str, str]]:
        text = netlist.text(adapter)
        return list(
            zip(re.findall(r'\(comp\s+\(ref "(.*?)"\)', text), re.findall(r'\(tstamps "(.{36})"\)', text), strict=True)
        )

    host, card = load_map("oakmere-88"), load_map("isa-8bit")
    before = identities(plan(host, card))
    assert [ref for ref, _ in before] == ["J1", "J2"]
    assert identities(plan(replace(host, title="Another title"), card, ["video board"])) == before
