"""The plan of an adapter: the single truth about what connects to what. No writer works a connection out for itself."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Literal, get_args

from msgspec import Struct
from msgspec.structs import replace

from .body import GENDERS, Body, gender
from .coverage import Coverage
from .design import Design
from .electrical import Budget
from .findings import Finding, verdict
from .model import Contact, End, Group, PinMap, Remedy
from .parts import Part

State = Literal["straight", "joined", "tied", "open", "active", "conflict"]
STATES: tuple[State, ...] = get_args(State)
STATE_MEANING: dict[State, str] = {
    "straight": "one signal, one wire",
    "joined": "a supply or return, all its contacts joined",
    "tied": "the card's side is held by a remedy",
    "open": "left unconnected on purpose",
    "active": "needs a gate or a converter, not wire",
    "conflict": "its meaning is disputed: not wired",
}
AdapterVerdict = Literal["build", "build with care", "do not build"]


class Net(Struct, frozen=True):
    """Contacts that are joined: `host` and `card` contacts, and `parts` as (reference, pad).

    `signal` is the line's name on the card's bus (None: no line). `remark` says what the person wiring it must know.
    """

    name: str
    signal: str | None
    group: Group
    state: State
    host: tuple[Contact, ...] = ()
    card: tuple[Contact, ...] = ()
    parts: tuple[tuple[str, str], ...] = ()
    remark: str = ""

    @property
    def size(self) -> int:
        """How many contacts and part pins are joined."""
        return len(self.host) + len(self.card) + len(self.parts)


class Unmapped(Struct, frozen=True):
    """A signal of one end that has no partner at the other: why, what that does to a card, and what helps.

    `parts` are the references of the parts that carry the remedy out; none where it is only named.
    """

    signal: str
    end: End
    reason: str
    effect: str
    remedy: Remedy
    contacts: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()


class AdapterConnector(Struct, frozen=True):
    """One connector of the adapter: `body` is the mate of the machine's connector, or of the card's."""

    ref: str
    end: End
    body: Body

    def pad(self, label: str) -> str:
        """The pad that the contact labelled `label` at that end touches."""
        return self.body.pad_of[label]

    @property
    def soldered(self) -> Body:
        """The body with the gender that its footprint has: pins where a map says a header's footprint for a socket.

        Such a connector is reached by a ribbon: contact by contact it is numbered like the machine's own.
        """
        has = gender(self.body.footprint)
        if not has or has == GENDERS.get(self.body.form, has):
            return self.body
        return replace(self.body.mate(), footprint=self.body.footprint, mate_footprint=self.body.mate_footprint)


class Adapter(Struct, frozen=True, dict=True):
    """What connects to what between `host` and `card`, with the options in `fitted`, and what is to be said about it.

    Every contact of both ends (keys are none) is in exactly one net, once, no pin of a part is in two, and no net joins
    two rails, a rail and a signal, or two polarities: checked here. `design` and `budget` are there where the adapter
    was planned from an adapter file.
    """

    host: PinMap
    card: PinMap
    fitted: tuple[str, ...]
    nets: tuple[Net, ...]
    unmapped: tuple[Unmapped, ...]
    findings: tuple[Finding, ...]
    coverage: Coverage
    parts: tuple[Part, ...] = ()
    design: Design | None = None
    budget: Budget | None = None

    def __post_init__(self) -> None:
        for end in ("host", "card"):
            pin_map: PinMap = getattr(self, end)
            labels = [c.label for net in self.nets for c in getattr(net, end)]
            if len(set(labels)) != len(labels):
                twice = next(label for label in labels if labels.count(label) > 1)
                raise ValueError(f"every contact must be in one net, not {end} {twice} in two")
            wanted = set(pin_map.present)
            if wanted != set(labels):
                raise ValueError(f"every contact must be in a net; {end}: {sorted(wanted ^ set(labels))}")
        for net in self.nets:
            contacts = (*net.host, *net.card)
            rails = {c.signal.rail if c.signal else None for c in contacts}
            if len(rails - {None}) > 1:
                raise ValueError(f"a net must not join two rails ({net.name})")
            if len(rails) > 1:
                raise ValueError(f"a net must not join a rail and a signal ({net.name})")
            if len({c.inverted for c in contacts}) > 1:
                raise ValueError(f"a net must not join opposite polarities ({net.name})")
        if len({net.name for net in self.nets}) != len(self.nets):
            raise ValueError("every net must have a name of its own")
        pins = [pin for net in self.nets for pin in net.parts]
        known = {(part.ref, pad) for part in self.parts for pad, _ in part.pins}
        if len(set(pins)) != len(pins) or set(pins) != known:
            raise ValueError("every pin of a part must be in one net, and no other pin in any")
        if len({part.ref for part in self.parts}) != len(self.parts):
            raise ValueError("every part must have a reference of its own")

    @property
    def verdict(self) -> AdapterVerdict:
        """Do not build with a danger or fault, build with care with a caution, else build."""
        if verdict(self.findings) != "sound":
            return "do not build"
        return "build with care" if any(f.grade == "caution" for f in self.findings) else "build"

    @property
    def title(self) -> str:
        """The design's title, or one from both ends."""
        return self.design.title if self.design and self.design.title else f"{self.host.title} to {self.card.title}"

    @cached_property
    def host_connector(self) -> AdapterConnector:
        """J1, which meets the machine's connector."""
        return AdapterConnector("J1", "host", _facing(self.host, "host"))

    @cached_property
    def card_connector(self) -> AdapterConnector:
        """J2, which takes the card."""
        return AdapterConnector("J2", "card", _facing(self.card, "card"))

    def on_board(self, connector: AdapterConnector) -> Body:
        """What is soldered to a board: at the end of a ribbon a connector like the machine's own.

        A ribbon has sockets at both ends, and joins each pad with the pad of the same number.
        """
        build = self.design.build if self.design else None
        ribbon = build is not None and build.construction == "ribbon" and connector.end == "host"
        if ribbon and GENDERS.get(connector.body.form) == "sockets" and connector.soldered is connector.body:
            own = self.host.body
            return own if GENDERS.get(own.form) == "pins" else connector.body.mate()
        return connector.soldered

    def net_of(self, end: End, label: str) -> Net:
        """Return the net of one contact. Raises `KeyError` for a key or a label that is not there."""
        return self._by_contact[end, label]

    @cached_property
    def _by_contact(self) -> Mapping[tuple[str, str], Net]:
        out: dict[tuple[str, str], Net] = {}
        for net in self.nets:
            out |= {("host", c.label): net for c in net.host}
            out |= {("card", c.label): net for c in net.card}
        return out


def _facing(pin_map: PinMap, end: End) -> Body:
    """The adapter's connector at one end.

    A host map describes the machine's connector: a host end takes its mate, and as a card end the adapter carries that
    connector itself (the slot that a card goes into). A card map describes what a card brings: the other way round.
    """
    return pin_map.body.mate() if pin_map.end == end else pin_map.body
