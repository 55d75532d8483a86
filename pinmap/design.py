"""A design: an adapter as somebody means to build it, with what it is built of, what sits in it, what was chosen."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

from msgspec import Struct

from .errors import NOWHERE, Place
from .model import RemedyKind

Construction = Literal["ribbon", "point to point", "printed board"]
CONSTRUCTIONS: tuple[Construction, ...] = get_args(Construction)


class Build(Struct, frozen=True):
    """How the adapter is built. Lengths and widths in mm, copper in µm.

    `awg`, `supply_awg` belong to ribbon (where both are the same) and point to point, `trace_mm`, `supply_trace_mm`
    and `copper_um` to a printed board.
    """

    construction: Construction
    length_mm: float
    awg: int | None = None
    supply_awg: int | None = None
    trace_mm: float | None = None
    supply_trace_mm: float | None = None
    copper_um: float | None = None
    place: Place = NOWHERE


BoardForm = Literal["flat", "right-angle riser", "straight riser"]
BOARD_FORMS: tuple[BoardForm, ...] = get_args(BoardForm)
Side = Literal["front", "back"]
Bracket = Literal["left", "right"]
Facing = Literal["upper edge", "lower edge", "front", "back"]


class BoardDesign(Struct, frozen=True):
    """What the board of an adapter is to be like. Lengths in µm, None where the file leaves them to the program.

    The card's connector lies along the upper edge, the machine's along the lower one, seen from the front. `host` and
    `card` are the sides that they are mounted on. `bracket`: at which end of the card's connector contact 1 lies, seen
    from the front; `facing`: where the card's component side looks. `width_um`, `height_um`: no larger than.
    """

    form: BoardForm = "flat"
    host: Side | None = None
    card: Side = "front"
    bracket: Bracket | None = None
    facing: Facing | None = None
    width_um: int | None = None
    height_um: int | None = None
    track_um: int | None = None
    gap_um: int | None = None
    via_um: int | None = None
    via_drill_um: int | None = None
    edge_um: int | None = None
    thickness_um: int | None = None
    place: Place = NOWHERE


class CardUse(Struct, frozen=True):
    """A card that will sit in the adapter: what it draws from each rail in A, and the lines that it needs.

    `kind` is a kind of card of the card's bus, "" where none is said; `draws_a` holds what the file says, rails that it
    does not name are taken from the kind, as a rule of thumb. `loads`: LS loads on each line, None where not said.
    """

    name: str
    kind: str = ""
    draws_a: Mapping[str, float] = {}
    needs: tuple[str, ...] = ()
    loads: int | None = None
    place: Place = NOWHERE


class Choice(Struct, frozen=True):
    """What the designer chose for a line of the card that the slot does not bring; value and to as in `Remedy`."""

    signal: str
    kind: RemedyKind
    value: str = ""
    to: str = ""
    place: Place = NOWHERE


class Jumper(Struct, frozen=True):
    """A jumper block that leads a line of the card to one of several lines of the slot, the first one set."""

    signal: str
    to: tuple[str, ...]
    place: Place = NOWHERE


class Fuse(Struct, frozen=True):
    """A fuse between the slot's rail and the card's: `rating_a` in A, one that trips and recovers if `resettable`.

    `ohms` is its resistance, None where the file does not say it.
    """

    rail: str
    rating_a: float
    resettable: bool = False
    place: Place = NOWHERE
    ohms: float | None = None


class Design(Struct, frozen=True):
    """An adapter file, read. `host` and `card` name maps as the file does, `host_path` and `card_path` as `find` takes.

    `clock_hz`: the bus clock of the machine; `other_slots`: further slots of the machine in use on the same lines;
    `drive_a`: what a driver of the machine can sink on a line. None where the file does not say. `other_draws_a`: what
    the machine itself and the cards in its other slots draw of its limit, in A by rail; rails not named are not said.
    """

    title: str
    host: str
    card: str
    host_path: str
    card_path: str
    fitted: tuple[str, ...] = ()
    build: Build | None = None
    clock_hz: float | None = None
    other_slots: int = 0
    drive_a: float | None = None
    cards: tuple[CardUse, ...] = ()
    choices: tuple[Choice, ...] = ()
    jumpers: tuple[Jumper, ...] = ()
    fuses: tuple[Fuse, ...] = ()
    decoupling: bool = True
    about: str = ""
    place: Place = NOWHERE
    other_draws_a: Mapping[str, float] = {}
    board: BoardDesign | None = None
