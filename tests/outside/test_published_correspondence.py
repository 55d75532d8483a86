"""An adapter between a PC/104 module's connector and a slot against the published correspondence of their contacts.

Source: PC/104 Specification, version 2.6, PC/104 Embedded Consortium, 13 October 2008, Appendix B, Table 2: rows A and
B of PC/104 are the contacts A1-A31 and B1-B31 of the 8-bit slot, rows C and D the contacts C1-C18 and D1-D18 of its
16-bit extension, "in the same order"; A32, B32, C0, D0 and D19 are further grounds, B10 and C19 keys. B10 of the slot
is ground (the open KiCad symbol library's parts Bus_ISA_8bit and Bus_ISA_16bit).
"""

from __future__ import annotations

import pytest

from pinmap import Adapter, adapt, load_map

EIGHT = [f"{row}{n}" for row in "AB" for n in range(1, 32)]
SIXTEEN = [*EIGHT, *(f"{row}{n}" for row in "CD" for n in range(1, 19))]
#: Contact: the line's name in the 16-bit generation, which is PC/104's, and in the 8-bit generation.
RENAMED = {
    "B4": ("IRQ9", "IRQ2"),
    "B8": ("SRDY*", "RESERVED"),
    "B11": ("SMEMW*", "MEMW*"),
    "B12": ("SMEMR*", "MEMR*"),
    "B19": ("REFRESH*", "DACK0*"),
}

PAIRS = [
    ("pc104-8bit", "isa-8bit"),
    ("isa-8bit", "pc104-8bit"),
    ("pc104-16bit", "isa-16bit"),
    ("isa-16bit", "pc104-16bit"),
    ("pc104-8bit", "isa-16bit"),
    ("pc104-16bit", "isa-8bit"),
]
CONTACTS = {"pc104-8bit": EIGHT, "isa-8bit": EIGHT, "pc104-16bit": SIXTEEN, "isa-16bit": SIXTEEN}
KEYS: dict[str, set[str]] = {
    "pc104-8bit": {"B10"},
    "pc104-16bit": {"B10", "C19"},
    "isa-8bit": set(),
    "isa-16bit": set(),
}
#: What stands on several contacts, or may: the grounds and rails of each connector.
RAILS = {"+5V": {"B3", "B29"}, "-5V": {"B5"}, "+12V": {"B9"}, "-12V": {"B7"}}
POWER = {
    "isa-8bit": RAILS | {"GND": {"B1", "B10", "B31"}},
    "isa-16bit": RAILS | {"+5V": {"B3", "B29", "D16"}, "GND": {"B1", "B10", "B31", "D18"}},
    "pc104-8bit": RAILS | {"GND": {"B1", "B31", "A32", "B32"}},
    "pc104-16bit": RAILS | {"+5V": {"B3", "B29", "D16"}, "GND": {"B1", "B31", "A32", "B32", "D18", "C0", "D0", "D19"}},
}

Joined = set[tuple[frozenset[str], frozenset[str]]]


def joined(adapter: Adapter) -> Joined:
    """The plan as the sets of contacts that it joins, at the host and at the card."""
    return {(frozenset(c.label for c in net.host), frozenset(c.label for c in net.card)) for net in adapter.nets}


def published(host: str, card: str) -> Joined:
    """The same from the published correspondence: namesakes, and what stands on several contacts together."""
    out = {(frozenset(POWER[host][name]), frozenset(POWER[card][name])) for name in POWER[host]}
    lines = [set(CONTACTS[end]) - KEYS[end] - set().union(*POWER[end].values()) for end in (host, card)]
    return out | {(frozenset({label} & lines[0]), frozenset({label} & lines[1])) for label in lines[0] | lines[1]}


def turned(host: str, names: tuple[str, str]) -> tuple[str, str]:
    """The two names of a renamed line as host's and card's."""
    return (names[1], names[0]) if host == "isa-8bit" else names


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_every_contact_meets_its_namesake_and_the_grounds_are_one(host: str, card: str) -> None:
    assert joined(adapt(host, card)) == published(host, card)


def test_the_eight_bit_adapter_is_the_published_correspondence_spelled_out() -> None:
    adapter = adapt("pc104-8bit", "isa-8bit")
    for label in EIGHT:
        if label == "B10":
            continue
        net = adapter.net_of("host", label)
        assert label in {c.label for c in net.card}
        if label not in {"B1", "B31", "B3", "B29"}:
            assert ([c.label for c in net.host], [c.label for c in net.card]) == ([label], [label])
    ground = adapter.net_of("card", "B10")
    assert {c.label for c in ground.host} == {"B1", "B31", "A32", "B32"}
    assert {c.label for c in ground.card} == {"B1", "B10", "B31"}
    assert (ground.name, ground.state) == ("GND", "joined")
    assert adapter.unmapped == ()
    assert {net.state for net in adapter.nets} == {"straight", "joined"}


@pytest.mark.parametrize(("connector", "keys"), KEYS.items())
def test_a_key_is_no_contact_and_in_no_net(connector: str, keys: set[str]) -> None:
    assert {c.label for c in load_map(connector).contacts if c.role == "key"} == keys
    adapter = adapt(connector, "isa-16bit")
    for key in keys:
        with pytest.raises(KeyError):
            adapter.net_of("host", key)


@pytest.mark.parametrize(("host", "card"), PAIRS)
def test_the_lines_renamed_between_the_generations_are_found_as_renamed_and_no_others(host: str, card: str) -> None:
    adapter = adapt(host, card)
    said = [f for f in adapter.findings if f.code == "renamed-between-generations"]
    if (host == "isa-8bit") == (card == "isa-8bit"):  # PC/104 and the 16-bit slot have the same names
        assert said == []
        return
    assert {f.contacts: f.signals for f in said} == {(at,): turned(host, names) for at, names in RENAMED.items()}
    assert {f.grade for f in said} == {"caution"}
    for label, names in RENAMED.items():
        here, there = turned(host, names)
        net = adapter.net_of("host", label)
        assert (net.name, net.state, net.remark) == (there, "straight", f"{here} at the host")
        assert [f.message.partition(":")[0] for f in said if f.contacts == (label,)] == [
            f"{here} of the host meets {there} of the card"
        ]


def test_lines_that_only_share_a_name_between_the_generations_are_not_joined() -> None:
    # MEMR* on C9, MEMW* on C10 and DACK0* on D8 of the 16-bit slot are not those of the 8-bit slot's B12, B11 and B19.
    adapter = adapt("pc104-16bit", "isa-8bit")
    for label in ("C9", "C10", "D8"):
        net = adapter.net_of("host", label)
        assert (net.card, net.state) == ((), "open")
