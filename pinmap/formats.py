"""The file formats, defined once: the reader walks these definitions, and the JSON Schemas are generated from them.

Every scalar is text here: the reader turns it into what it means, so that a complaint can quote it as written.
What `_key` says of a key is what an editor shows of it while somebody writes a file.
"""

# Not from __future__ import annotations: the reader looks at these types in every run, and as text each would have to
# be compiled anew (a tenth of the time that `pinmap check` takes).

from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType

from .body import Corner, Form, Gender, Scheme
from .findings import Grade
from .forms import Along, Between, Possible, Turning
from .model import Active, Driver, Group, RemedyKind, Seen
from .quantity import PATTERNS

Text = Annotated[str, Meta(description="one line of text")]
Number = Annotated[int, Meta(ge=0, description="a whole number")]
Length = Annotated[str, Meta(pattern=PATTERNS["mm"], examples=["2.54 mm"], description="a length with its unit")]
Current = Annotated[str, Meta(pattern=PATTERNS["A"], examples=["1.5 A"], description="a current with its unit")]
Voltage = Annotated[str, Meta(pattern=PATTERNS["V"], examples=["+5 V"], description="a voltage with its unit")]
Percent = Annotated[str, Meta(pattern=PATTERNS["%"], examples=["5 %"], description="a tolerance in percent")]
#: Row letters, names: separated by spaces, or a list.
Words = str | list[str]


def _key(about: str, *examples: str | int | list[str]) -> Meta:
    """What a key is for, and examples of its value. The reader's complaints name the kind of value, not this."""
    return Meta(extra={"about": about}, examples=list(examples) or None)


FormatVersion = Annotated[Literal[1], Meta(description="version of this file format")]


class _File(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename=lambda n: n.rstrip("_").replace("_", " ")
):
    """Keys are written with spaces ("row pitch"), and no others are allowed."""


class PadsFile(_File, frozen=True):
    """A numbering that differs from the labels."""

    labels: Annotated[
        Scheme, _key("how the pads are numbered: rows · zigzag · serial · ring · lettered, as under body")
    ]
    letters: Annotated[
        Words, _key("row letters from the top row down, seen from the mating face; only where labels are rows", "A B")
    ] = ""
    first: Annotated[Corner | UnsetType, _key("the corner of pad 1, seen from the mating face")] = UNSET


class MateFile(_File, frozen=True):
    """The connector that plugs into this one, where it is not the customary one."""

    footprint: Annotated[
        Text,
        _key(
            "the footprint of the connector that plugs into this one, as library:name",
            "Connector_PinSocket_2.54mm:PinSocket_2x32_P2.54mm_Vertical",
        ),
    ] = ""
    pads: Annotated[
        Scheme | PadsFile | UnsetType, _key("how that footprint numbers its pads, where they do not carry the labels")
    ] = UNSET


class SectionFile(_File, frozen=True):
    """One block of contacts of a connector in several parts."""

    places: Annotated[Number, _key("contacts in a row of this section")]
    letters: Annotated[
        Words,
        _key("row letters from the top row down, seen from the mating face; their number is the number of rows", "A B"),
    ] = ""
    rows: Annotated[Number | UnsetType, _key("rows of this section, where they have no letters")] = UNSET
    from_: Annotated[Number, _key("the first number in this section")] = 1
    along: Annotated[
        Length,
        _key(
            "from the connector's first contact to this section's first contact, in the direction of the numbering",
            "86.36 mm",
        ),
    ] = "0 mm"
    across: Annotated[Length, _key("from the first section's top row down to this section's top row", "0 mm")] = "0 mm"


class BodyFile(_File, frozen=True):
    """A connector's body, seen from its mating face."""

    form: Annotated[
        Form,
        _key(
            "edge slot · edge fingers (what goes into it) · pin header · box header (shrouded) · socket header "
            "· din 41612",
        ),
    ]
    labels: Annotated[
        Scheme,
        _key(
            "rows: A1, A2 … B1, B2 … · zigzag: 1, 2 across, then 3, 4 · serial: along the first row, then along"
            " the next · ring: along one row and back along the other · lettered: numbers on one row, letters "
            "without G, I, O, Q on the other",
        ),
    ]
    first: Annotated[
        Corner,
        _key("the corner of the first contact, seen from the mating face: look at the contacts, as the plug does"),
    ]
    pitch: Annotated[
        Length,
        _key("from contact to contact along a row; measure it over many contacts and divide", "2.54 mm", "3.96 mm"),
    ]
    row_pitch: Annotated[Length | UnsetType, _key("from row to row; as pitch where not given", "5.08 mm")] = UNSET
    gender: Annotated[Gender | UnsetType, _key("male or female; for din 41612 only, every other form has its own")] = (
        UNSET
    )
    rows: Annotated[Number | UnsetType, _key("rows of contacts")] = UNSET
    places: Annotated[Number | UnsetType, _key("contacts in a row", 31)] = UNSET
    letters: Annotated[
        Words,
        _key(
            "row letters from the top row down, seen from the mating face; only where labels are rows", "A B", "c b a"
        ),
    ] = ""
    from_: Annotated[Number, _key("the first number")] = 1
    sections: Annotated[
        list[SectionFile],
        _key("a connector in several parts: each with its own rows, places and letters, instead of those keys here"),
    ] = []
    footprint: Annotated[
        Text, _key("library:name of the footprint of this connector", "Connector_IDC:IDC-Header_2x32_P2.54mm_Vertical")
    ] = ""
    pads: Annotated[
        Scheme | PadsFile | UnsetType, _key("the footprint's own pad numbers, where they differ from the labels")
    ] = UNSET
    mate: Annotated[
        MateFile | UnsetType, _key("the connector that plugs into this one, where it is not the customary one")
    ] = UNSET
    rating: Annotated[Current | UnsetType, _key("what one contact carries", "1 A")] = UNSET
    source: Annotated[
        Text | dict[str, Text], _key("where the figures of the body come from: one text, or one for each key")
    ] = ""


class OwnSignalFile(_File, frozen=True):
    """A line of the maker's own, unknown to the bus."""

    about: Annotated[Text, _key("what the line does", "line to the internal loudspeaker")] = ""
    group: Annotated[Literal["supply", "return", "own"], _key("supply · return · own (any other line)")] = "own"
    volts: Annotated[Voltage | UnsetType, _key("the voltage of a supply", "+8 V")] = UNSET


class SupplyFile(_File, frozen=True):
    """What the machine delivers on a rail."""

    limit: Annotated[Current, _key("the most that the machine can deliver on this rail", "1.5 A")]
    note: Annotated[Text, _key("anything to know about the rail")] = ""


class ContactFile(_File, frozen=True):
    """What a contact carries, with what is to be said about it."""

    signal: Annotated[
        Text,
        _key(
            "a line of the bus in any notation, an own signal, open (brought out, connected to nothing) or key "
            "(no contact)",
            "IOR*",
            "SD7..SD0",
            "open",
        ),
    ]
    with_: Annotated[Text, _key("the option that brings the line; it is described under options", "video board")] = ""
    active: Annotated[
        Literal["high", "low"] | UnsetType,
        _key("the level at which the line is active on this machine, where its name as written does not tell"),
    ] = UNSET
    seen: Annotated[Seen | UnsetType, _key("manual (in the source) · measured (at the machine) · guessed")] = UNSET
    note: Annotated[Text, _key("anything to know about the contact", "the scan is smudged here")] = ""
    source: Annotated[Text, _key("where this contact comes from, if not from the map's source")] = ""


class MapFile(_File, frozen=True):
    """A pin map: a connector and what each of its contacts carries."""

    format: FormatVersion
    title: Annotated[Text, _key("what the connector is called", "Oakmere 88 cabinet header")]
    bus: Annotated[Text, _key("the signal dictionary that gives the names their meaning", "isa-8bit", "isa-16bit")]
    end: Annotated[
        Literal["host", "card"], _key("host: this is the machine's connector · card: this is what a card brings")
    ]
    body: Annotated[BodyFile, _key("the connector itself, seen from its mating face")]
    contacts: Annotated[
        dict[str, Text | ContactFile],
        _key(
            "contact: line, or a run of contacts: a run of lines of the same length (A2..A9: SD7..SD0 · 4..18 "
            "by 2: SD7..SD0 · 20..24 by 2: GND)",
        ),
    ]
    about: Annotated[Text, _key("what machine, which connector, anything that a stranger must know")] = ""
    source: Annotated[
        Text, _key("where the table comes from", "service manual, page 4-12", "measured on two machines")
    ] = ""
    marks: Annotated[
        Literal["used", "none"], _key("none: the table marks no line as active low, so IOR means IOR* · used: it does")
    ] = "used"
    seen: Annotated[Seen, _key("what holds for every contact that does not say: manual · measured · guessed")] = (
        "manual"
    )
    options: Annotated[
        dict[str, Text], _key("name of what may be fitted: what it brings; contacts refer to it by `with`")
    ] = {}
    own_signals: Annotated[
        dict[str, Text | OwnSignalFile],
        _key("lines of the maker's own, which the bus does not know: name: what it does"),
    ] = {}
    supplies: Annotated[dict[str, SupplyFile], _key("rail: what the machine can deliver on it")] = {}


class FactFile(_File, frozen=True):
    """A value and where it comes from; `source` is a key of the file's `sources`."""

    value: Annotated[Text, _key("the value, with its unit", "20 mA")]
    source: Annotated[Text, _key("a key of sources", "memory")]


class PullFile(_File, frozen=True):
    """A pull-up or pull-down on the host's side."""

    to: Annotated[Literal["up", "down"], _key("up to the supply or down to the return")]
    value: Annotated[Text, _key("the resistance", "4.7 kΩ")]
    source: Annotated[Text, _key("a key of sources", "memory")]


class ElsewhereFile(_File, frozen=True):
    """A line's counterpart in another generation; the name `none` where there is none."""

    name: Annotated[Text, _key("its name in that bus, or none: that name means something else there")]
    differs: Annotated[Text, _key("one sentence: what differs")]


class RemedyFile(_File, frozen=True):
    """What the card's side needs where the line is absent."""

    kind: Annotated[RemedyKind, _key("what is done at the card's side")]
    why: Annotated[Text, _key("why that helps, and what it does not do")]
    value: Annotated[Text, _key("as a parts list says it", "10 kΩ", "14.31818 MHz")] = ""
    to: Annotated[Text, _key("where the other end goes; a regulator: where it is fed from", "+5V")] = ""


class AbsentFile(_File, frozen=True):
    """What follows when a slot lacks the line."""

    effect: Annotated[Text, _key("one sentence: what a card loses without the line")]
    remedy: Annotated[RemedyFile, _key("the honest remedy, if there is one")]
    grade: Annotated[
        Grade, _key("fault: no kind of card works without it · caution: some kinds are lost · note: hardly matters")
    ] = "caution"


class SignalFile(_File, frozen=True):
    """A line of the bus, or a run of lines about which the same is true."""

    group: Annotated[Group, _key("what kind of line it is; tables are ordered by it")]
    about: Annotated[Text, _key("what the line does, one short sentence")]
    driver: Annotated[Driver, _key("who drives it: host · card · either · none (supplies and returns)")]
    active: Annotated[
        Active, _key("the level at which it means what its name says; low lines are named with a trailing *")
    ]
    source: Annotated[Text, _key("a key of sources: of every fact here that has no other", "memory")]
    aliases: Annotated[
        list[Text],
        _key(
            "other names in use; {n} stands for the number in a run. Notations of active low, case, spaces, "
            "hyphens, slashes and underscores are understood without being listed",
            ["D{n}"],
        ),
    ] = []
    output: Annotated[
        Text, _key("its driver's output: push-pull · three-state · open collector · push-pull or three-state · none")
    ] = ""
    idle: Annotated[
        Text, _key("the level when nobody drives it, with the host's pull: high · low · undefined · none")
    ] = ""
    pull: Annotated[PullFile | UnsetType, _key("the resistor on the host's side")] = UNSET
    sink: Annotated[FactFile | UnsetType, _key("the current that a driver of the line must sink")] = UNSET
    frequency: Annotated[FactFile | UnsetType, _key("of a clock")] = UNSET
    elsewhere: Annotated[
        dict[str, ElsewhereFile],
        _key("bus: what becomes of the line there; only where it is not simply the same line under the same name"),
    ] = {}
    absent: Annotated[AbsentFile | UnsetType, _key("what follows where a slot lacks the line")] = UNSET
    volts: Annotated[Voltage | UnsetType, _key("the voltage of a supply", "+5 V")] = UNSET
    tolerance: Annotated[FactFile | UnsetType, _key("of a supply")] = UNSET
    current: Annotated[FactFile | UnsetType, _key("the published limit for one card or module")] = UNSET
    source_of: Annotated[dict[str, Text], _key("fact: a key of sources, where it is not the one under source")] = {}


class KindFile(_File, frozen=True):
    """A kind of card and the lines that it cannot do without."""

    name: Annotated[Text, _key("what this kind of card is called", "programmed I/O")]
    about: Annotated[Text, _key("what it does, one sentence")]
    source: Annotated[Text, _key("a key of sources", "practice")]
    like: Annotated[Text, _key("an earlier kind: starts from that one's needs and helps")] = ""
    needs: Annotated[list[Text], _key("the lines it cannot do without; runs are allowed", ["SD0..SD7"])] = []
    helps: Annotated[list[Text], _key("lines that some such cards use")] = []
    one_of: Annotated[list[list[Text]], _key("groups of lines, of which at least one must be complete")] = []


class BusFile(_File, frozen=True):
    """A signal dictionary."""

    format: FormatVersion
    title: Annotated[Text, _key("what the bus is called", "ISA bus, 8-bit")]
    about: Annotated[Text, _key("one or two sentences")]
    sources: Annotated[
        dict[str, Text],
        _key("key: full citation. memory (from memory) and practice (common practice, no source) are keys like others"),
    ]
    signals: Annotated[
        dict[str, SignalFile],
        _key("name, or a run such as SD0..SD7: what is true of each. A trailing * marks a line that is active low"),
    ]
    kinds: Annotated[list[KindFile], _key("kinds of card, in the order in which they are reported")]
    connectors: Annotated[
        list[Text], _key("the published connectors that carry this bus, by their names in the library, best first")
    ] = []
    return_count: Annotated[FactFile | UnsetType, _key("the smallest number of returns on any of them")] = UNSET
    return_reach: Annotated[
        FactFile | UnsetType, _key("the longest way from a signal to the nearest return on any of them")
    ] = UNSET


class FormPadsFile(_File, frozen=True):
    """How the open footprint library numbers a form's pads."""

    labels: Annotated[Scheme, _key("rows · zigzag · serial · ring · lettered")]
    first: Annotated[Corner, _key("the corner of pad 1, seen from the mating face")]
    source: Annotated[Text, _key("a key of sources")]


class FormFootprintFile(_File, frozen=True):
    """What the open footprint library calls a form's footprint."""

    name: Annotated[
        Text,
        _key(
            "library:name; {rows} and {places} are filled in",
            "Connector_IDC:IDC-Header_{rows}x{places:02}_P2.54mm_Vertical",
        ),
    ]
    rows: Annotated[Number, _key("the number of rows for which the name holds")]
    places: Annotated[Words, _key("the numbers of places that the library has, single or as runs", "3..8 10 12 13")]
    pitch: Annotated[Length, _key("the pitch for which the name holds", "2.54 mm")]
    source: Annotated[Text, _key("a key of sources")]


class FormSeatingFile(_File, frozen=True):
    """The ways in which a form of connector can be plugged; what both halves of a pair allow is possible."""

    along: Annotated[Along, _key("by how many places the halves can be off along the rows")]
    across: Annotated[Possible, _key("whether they can be off by whole rows")]
    turned: Annotated[
        Turning,
        _key("whether one half goes in turned by 180°; only without a bump: its notch stops a plug that has one"),
    ]
    part: Annotated[Possible, _key("whether the contacts of one end alone can be engaged: tilted, not pressed home")]
    sections: Annotated[
        Between,
        _key(
            "what stands between the sections of a connector in several parts. wall: nothing is off along the rows, "
            "and where the sections differ in length nothing is turned"
        ),
    ]
    why: Annotated[Text, _key("what the form does to guide its mate")]
    source: Annotated[Text, _key("a key of sources", "practice")]
    cure: Annotated[Text, _key("what prevents wrong seatings for good: advice to the person who builds")] = ""


class FormFile(_File, frozen=True):
    """The customs of one form of connector."""

    pads: Annotated[FormPadsFile | UnsetType, _key("how its pads are numbered; without it they carry the labels")] = (
        UNSET
    )
    footprint: Annotated[
        FormFootprintFile | UnsetType,
        _key("what the open footprint library calls it; without it the footprint is of our own making"),
    ] = UNSET
    rating: Annotated[FactFile | UnsetType, _key("what one contact carries")] = UNSET
    seating: Annotated[
        FormSeatingFile | UnsetType,
        _key("the ways in which it can be plugged; without it every way is taken as possible"),
    ] = UNSET


class FormsFile(_File, frozen=True):
    """The customs of every form of connector."""

    format: FormatVersion
    sources: Annotated[dict[str, Text], _key("key: full citation")]
    forms: Annotated[dict[Form, FormFile], _key("form of connector: what is customary for it")]


FILES: dict[str, type[Struct]] = {"map": MapFile, "bus": BusFile, "forms": FormsFile}


def words(value: Words) -> list[str]:
    """Take words apart that are written in one text with spaces, or as a list."""
    return value.split() if isinstance(value, str) else list(value)
