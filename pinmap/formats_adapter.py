"""The formats of the adapter file and of the table of electrical facts, beside those in `formats`."""

# Not from __future__ import annotations: as in `formats`.

from typing import Annotated, Literal

from msgspec import UNSET, Meta, UnsetType

from .design import BoardForm, Bracket, Construction, Facing, Side
from .formats import Current, FactFile, FormatVersion, Length, Number, Text, _File, _key
from .model import RemedyKind
from .quantity import PATTERNS

YesNo = Literal["yes", "no"]
Gauge = Annotated[
    str, Meta(pattern=r"^\s*\d{1,2}\s*AWG\s*$", examples=["28 AWG"], description="a wire size, like 28 AWG")
]
Resistance = Annotated[str, Meta(pattern=PATTERNS["Ω"], examples=["10 kΩ"], description="a resistance with its unit")]
Frequency = Annotated[str, Meta(pattern=PATTERNS["Hz"], examples=["4.77 MHz"], description="a frequency with its unit")]


class BuildFile(_File, frozen=True):
    """How the adapter is built."""

    as_: Annotated[Construction, _key("ribbon · point to point (single wires) · printed board")]
    length: Annotated[Length, _key("the length of a wire, or of the way on the board, from connector to connector")]
    wire: Annotated[Gauge | UnsetType, _key("of the ribbon, or of single wires for signals", "28 AWG")] = UNSET
    supply_wire: Annotated[
        Gauge | UnsetType, _key("of single wires for supplies and returns; as wire where not given", "24 AWG")
    ] = UNSET
    trace: Annotated[Length | UnsetType, _key("the width of a signal's trace on a printed board", "0.25 mm")] = UNSET
    supply_trace: Annotated[Length | UnsetType, _key("the width of a supply's trace", "1.5 mm")] = UNSET
    copper: Annotated[Length | UnsetType, _key("the thickness of a board's copper", "35 µm")] = UNSET


class BoardFile(_File, frozen=True):
    """The board that `pinmap board` makes: the card's connector at the upper edge, the machine's at the lower one."""

    form: Annotated[
        BoardForm,
        _key(
            "flat: it lies, the card stands upright on it · right-angle riser: it stands, the card lies across it · "
            "straight riser: it stands, and the card goes on upwards in its plane"
        ),
    ]
    host: Annotated[
        Side | UnsetType,
        _key(
            "the side that the machine's connector is mounted on; of fingers, that of the slot's upper row; where not "
            "given, the back for a header that is plugged onto the machine's, else the front"
        ),
    ] = UNSET
    card: Annotated[Side, _key("the side that the card's connector is mounted on")] = "front"
    bracket: Annotated[
        Bracket | UnsetType, _key("the end at which contact 1 and the bracket lie, seen from the front")
    ] = UNSET
    component_side: Annotated[
        Facing | UnsetType, _key("where the card's component side looks: an edge; for a straight riser front or back")
    ] = UNSET
    width: Annotated[Length | UnsetType, _key("no wider than", "140 mm")] = UNSET
    height: Annotated[Length | UnsetType, _key("no higher than", "80 mm")] = UNSET
    track: Annotated[Length | UnsetType, _key("the width of a signal's track; 0.25 mm where not given")] = UNSET
    gap: Annotated[Length | UnsetType, _key("between copper of different nets; 0.25 mm where not given")] = UNSET
    via: Annotated[Length | UnsetType, _key("the diameter of a via; 0.6 mm where not given")] = UNSET
    via_drill: Annotated[Length | UnsetType, _key("of its hole; 0.3 mm where not given")] = UNSET
    edge: Annotated[Length | UnsetType, _key("from copper to the edge; 0.5 mm where not given")] = UNSET
    thickness: Annotated[Length | UnsetType, _key("of the board; 1.6 mm where not given")] = UNSET


class CardUseFile(_File, frozen=True):
    """A card that will sit in the adapter."""

    name: Annotated[Text, _key("what the card is called", "serial card")]
    kind: Annotated[
        Text, _key("a kind of card of the bus; gives what it draws and needs where that is not said here")
    ] = ""
    draws: Annotated[dict[str, Current], _key("rail: what the card draws, from its label or its manual")] = {}
    needs: Annotated[list[Text], _key("lines that this card cannot do without; runs are allowed", ["OSC"])] = []
    loads: Annotated[Number | UnsetType, _key("inputs of LS logic that it hangs on each line", 2)] = UNSET


class ChoiceFile(_File, frozen=True):
    """What is done for a line that the slot does not bring."""

    kind: Annotated[RemedyKind, _key("what is done at the card's side")]
    value: Annotated[Text, _key("as a parts list says it", "10 kΩ")] = ""
    to: Annotated[Text, _key("where the other end goes", "+5V")] = ""


class FuseFile(_File, frozen=True):
    """A fuse in a rail."""

    rating: Annotated[Current, _key("what it carries for good", "1.5 A")]
    resettable: Annotated[YesNo, _key("yes: it trips, and recovers when it is cold · no: it melts")] = "no"
    resistance: Annotated[
        Resistance | UnsetType,
        _key(
            "of the fuse, from its data sheet, the largest; without it the drop is reckoned without the fuse", "80 mΩ"
        ),
    ] = UNSET


class AdapterFile(_File, frozen=True):
    """An adapter as somebody means to build it."""

    format: FormatVersion
    title: Annotated[Text, _key("what the adapter is called", "Oakmere 88 riser")]
    host: Annotated[
        Text, _key("the map of the machine's connector: a name of the library, or a path from this file", "oakmere-88")
    ]
    card: Annotated[Text, _key("the map of what the card brings, or of the slot it is made for", "isa-8bit")]
    about: Annotated[Text, _key("anything that a stranger must know")] = ""
    options: Annotated[list[Text], _key("the options of the machine that are fitted", ["video board"])] = []
    build: Annotated[BuildFile | UnsetType, _key("how it is built; without it nothing is said of drop and length")] = (
        UNSET
    )
    board: Annotated[BoardFile | UnsetType, _key("the board that `pinmap board` makes; without it a flat one")] = UNSET
    clock: Annotated[Frequency | UnsetType, _key("the bus clock of the machine", "4.77 MHz")] = UNSET
    drive: Annotated[
        Current | UnsetType, _key("what the machine's drivers sink on a line at the low level", "24 mA")
    ] = UNSET
    other_slots: Annotated[Number, _key("cards in other slots of the machine, on the same lines")] = 0
    other_draws: Annotated[
        dict[str, Current],
        _key("rail: what the machine itself and the cards in its other slots draw of its limit; 0 A: nothing"),
    ] = {}
    cards: Annotated[list[CardUseFile], _key("the cards that will sit in it, all of those present together")] = []
    remedies: Annotated[
        dict[str, RemedyKind | ChoiceFile],
        _key("line of the card that the slot does not bring: what is done for it; leave open: nothing, on purpose"),
    ] = {}
    jumpers: Annotated[
        dict[str, Text | list[Text]],
        _key("interrupt or DMA line of the card: lines of the slot to which a jumper leads it, the first one set"),
    ] = {}
    fuses: Annotated[dict[str, Current | FuseFile], _key("rail: the fuse between the machine and the card")] = {}
    decoupling: Annotated[
        YesNo, _key("yes: capacitors from each rail to the return at the card's connector · no: none")
    ] = "yes"


class WireFile(_File, frozen=True):
    """One wire size of the published table."""

    diameter: Annotated[Length, _key("of the bare conductor")]
    per_km: Annotated[Resistance, _key("resistance of 1 km, at 20 °C")]
    carries: Annotated[Current | UnsetType, _key("what a single wire in free air carries")] = UNSET
    ribbon: Annotated[YesNo, _key("yes: ribbons are usual in this size")] = "no"


class DrawFile(_File, frozen=True):
    """What a kind of card draws, by rail, as a rule of thumb."""

    draws: Annotated[dict[str, Current], _key("rail: current")]


class ElectricalFile(_File, frozen=True):
    """Electrical facts: wires, boards, drivers, loads, and what cards of a kind draw."""

    format: FormatVersion
    sources: Annotated[dict[str, Text], _key("key: full citation")]
    facts: Annotated[dict[str, FactFile], _key("name of a constant: value with its unit, and source")]
    wires: Annotated[dict[Gauge, WireFile], _key("wire size: figures of the published table")]
    wires_source: Annotated[Text, _key("a key of sources, for diameter and resistance")]
    carries_source: Annotated[Text, _key("a key of sources, for what a wire carries")]
    kinds: Annotated[dict[str, DrawFile], _key("kind of card: what it draws")]
    kinds_source: Annotated[Text, _key("a key of sources", "memory")]


#: Kept here for the schemas; `formats.FILES` has the others.
FILES: dict[Literal["adapter", "electrical"], type[_File]] = {"adapter": AdapterFile, "electrical": ElectricalFile}
