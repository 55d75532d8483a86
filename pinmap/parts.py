"""The parts of an adapter besides its connectors: what remedies, fuses and jumpers put in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

from msgspec import Struct

PartKind = Literal[
    "resistor",
    "capacitor",
    "link",
    "oscillator",
    "regulator",
    "supervisor",
    "inverter",
    "fuse",
    "jumper",
    "terminal",
]
PART_KINDS: tuple[PartKind, ...] = get_args(PartKind)

#: The letters with which references begin. Common practice, no source.
REFERENCES: dict[PartKind, str] = {
    "resistor": "R",
    "capacitor": "C",
    "link": "R",  # a link of 0 Ω sits where a resistor would
    "oscillator": "Y",
    "regulator": "U",
    "supervisor": "U",
    "inverter": "U",
    "fuse": "F",
    "jumper": "JP",
    "terminal": "X",
}


#: Parts that bring a rail to the card; through others no supply current passes.
FEEDING: tuple[PartKind, ...] = ("fuse", "regulator", "terminal")


class Part(Struct, frozen=True):
    """One part. `pins` are (pad, what the pin is), each joined to one net of the plan: the net has (ref, pad).

    `value` is what a parts list says; `purpose` says what it is for and is its identity on a board laid out earlier.
    `serves` are the lines of the card that it makes up or holds; `why` gives the value's reasoning, `source` where the
    figures in it come from. `draws_a`: what it takes by itself from each rail, in A. `fed_by`: for a part that feeds a
    rail of the card (regulator, fuse), the rail at the host from which it does; "" for a terminal (fed from outside).
    `fit` says what the person soldering must know: which way round, which jumper is set.
    """

    ref: str
    kind: PartKind
    value: str
    footprint: str
    purpose: str
    pins: tuple[tuple[str, str], ...]
    serves: tuple[str, ...] = ()
    why: str = ""
    source: str = ""
    draws_a: Mapping[str, float] = {}
    feeds: str = ""
    fed_by: str = ""
    fit: str = ""

    def __post_init__(self) -> None:
        pads = [pad for pad, _ in self.pins]
        if len(set(pads)) != len(pads):
            raise ValueError(f"the pads of a part must be different ({self.ref})")
        if self.kind not in PART_KINDS:
            raise ValueError(f"a part must be one of {', '.join(PART_KINDS)}, not {self.kind!r}")
