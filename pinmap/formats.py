"""The file formats, defined once: the reader walks these definitions, and the JSON Schemas are generated from them.

Every scalar is text here: the reader turns it into what it means, so that a complaint can quote it as written.
"""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import UNSET, Meta, Struct, UnsetType

from .body import Corner, Form, Gender, Scheme
from .findings import Grade
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
FormatVersion = Annotated[Literal[1], Meta(description="version of this file format")]


class _File(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, rename=lambda n: n.rstrip("_").replace("_", " ")
):
    """Keys are written with spaces ("row pitch"), and no others are allowed."""


class PadsFile(_File, frozen=True):
    """A numbering that differs from the labels."""

    labels: Scheme
    letters: Words = ""
    first: Corner | UnsetType = UNSET


class MateFile(_File, frozen=True):
    """The connector that plugs into this one, where it is not the customary one."""

    footprint: Text = ""
    pads: Scheme | PadsFile | UnsetType = UNSET


class SectionFile(_File, frozen=True):
    """One block of contacts of a connector in several parts."""

    places: Number
    letters: Words = ""
    rows: Number | UnsetType = UNSET
    from_: Number = 1
    along: Length = "0 mm"
    across: Length = "0 mm"


class BodyFile(_File, frozen=True):
    """A connector's body, seen from its mating face."""

    form: Form
    labels: Scheme
    first: Corner
    pitch: Length
    row_pitch: Length | UnsetType = UNSET
    gender: Gender | UnsetType = UNSET
    rows: Number | UnsetType = UNSET
    places: Number | UnsetType = UNSET
    letters: Words = ""
    from_: Number = 1
    sections: list[SectionFile] = []
    footprint: Text = ""
    pads: Scheme | PadsFile | UnsetType = UNSET
    mate: MateFile | UnsetType = UNSET
    rating: Current | UnsetType = UNSET
    source: Text | dict[str, Text] = ""


class OwnSignalFile(_File, frozen=True):
    """A line of the maker's own, unknown to the bus."""

    about: Text = ""
    group: Literal["supply", "return", "own"] = "own"
    volts: Voltage | UnsetType = UNSET


class SupplyFile(_File, frozen=True):
    """What the machine delivers on a rail."""

    limit: Current
    note: Text = ""


class ContactFile(_File, frozen=True):
    """What a contact carries, with what is to be said about it."""

    signal: Text
    with_: Text = ""
    active: Literal["high", "low"] | UnsetType = UNSET
    seen: Seen | UnsetType = UNSET
    note: Text = ""
    source: Text = ""


class MapFile(_File, frozen=True):
    """A pin map: a connector and what each of its contacts carries."""

    format: FormatVersion
    title: Text
    bus: Text
    end: Literal["host", "card"]
    body: BodyFile
    contacts: dict[str, Text | ContactFile]
    about: Text = ""
    source: Text = ""
    marks: Literal["used", "none"] = "used"
    seen: Seen = "manual"
    options: dict[str, Text] = {}
    own_signals: dict[str, Text | OwnSignalFile] = {}
    supplies: dict[str, SupplyFile] = {}


class FactFile(_File, frozen=True):
    """A value and where it comes from; `source` is a key of the file's `sources`."""

    value: Text
    source: Text


class PullFile(_File, frozen=True):
    """A pull-up or pull-down on the host's side."""

    to: Literal["up", "down"]
    value: Text
    source: Text


class ElsewhereFile(_File, frozen=True):
    """A line's counterpart in another generation; the name `none` where there is none."""

    name: Text
    differs: Text


class RemedyFile(_File, frozen=True):
    """What the card's side needs where the line is absent."""

    kind: RemedyKind
    why: Text
    value: Text = ""
    to: Text = ""


class AbsentFile(_File, frozen=True):
    """What follows when a slot lacks the line."""

    effect: Text
    remedy: RemedyFile
    grade: Grade = "caution"


class SignalFile(_File, frozen=True):
    """A line of the bus, or a run of lines about which the same is true."""

    group: Group
    about: Text
    driver: Driver
    active: Active
    source: Text
    aliases: list[Text] = []
    output: Text = ""
    idle: Text = ""
    pull: PullFile | UnsetType = UNSET
    sink: FactFile | UnsetType = UNSET
    frequency: FactFile | UnsetType = UNSET
    elsewhere: dict[str, ElsewhereFile] = {}
    absent: AbsentFile | UnsetType = UNSET
    volts: Voltage | UnsetType = UNSET
    tolerance: FactFile | UnsetType = UNSET
    current: FactFile | UnsetType = UNSET
    source_of: dict[str, Text] = {}


class KindFile(_File, frozen=True):
    """A kind of card and the lines that it cannot do without."""

    name: Text
    about: Text
    source: Text
    like: Text = ""
    needs: list[Text] = []
    helps: list[Text] = []
    one_of: list[list[Text]] = []


class BusFile(_File, frozen=True):
    """A signal dictionary."""

    format: FormatVersion
    title: Text
    about: Text
    sources: dict[str, Text]
    signals: dict[str, SignalFile]
    kinds: list[KindFile]
    connectors: list[Text] = []
    return_count: FactFile | UnsetType = UNSET
    return_reach: FactFile | UnsetType = UNSET


class FormPadsFile(_File, frozen=True):
    """How the open footprint library numbers a form's pads."""

    labels: Scheme
    first: Corner
    source: Text


class FormFootprintFile(_File, frozen=True):
    """What the open footprint library calls a form's footprint."""

    name: Text
    rows: Number
    pitch: Length
    source: Text


class FormFile(_File, frozen=True):
    """The customs of one form of connector."""

    pads: FormPadsFile | UnsetType = UNSET
    footprint: FormFootprintFile | UnsetType = UNSET
    rating: FactFile | UnsetType = UNSET


class FormsFile(_File, frozen=True):
    """The customs of every form of connector."""

    format: FormatVersion
    sources: dict[str, Text]
    forms: dict[Form, FormFile]


FILES: dict[str, type[Struct]] = {"map": MapFile, "bus": BusFile, "forms": FormsFile}
