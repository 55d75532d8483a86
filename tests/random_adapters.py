"""Random adapters for the proof of boards: any order, 10 to 104 contacts, any supplies. All from a seed."""

from __future__ import annotations

import random

from handmade import BUS16, lines_of, pin_map
from msgspec.structs import replace

from pinmap.adapter import Adapter
from pinmap.body import Body, Form, Section
from pinmap.design import BoardDesign, BoardForm, Design, Side
from pinmap.forms import complete
from pinmap.library import customs
from pinmap.model import PinMap
from pinmap.planner import plan

RAILS = ("+5V", "-5V", "+12V", "-12V")
SIGNALS = tuple(lines_of(BUS16, "GND", *RAILS))


def random_adapter(seed: int) -> Adapter:
    """Two connectors of two rows that carry the same lines in any order, supplies on several contacts of either."""
    rng = random.Random(f"board {seed}")
    places = rng.randint(5, 52)
    rails = rng.sample(RAILS, rng.randint(1, len(RAILS)))
    power = ["GND"] * rng.randint(1, max(1, places // 6)) + [r for r in rails for _ in range(rng.randint(1, 2))]
    lines = rng.sample(SIGNALS, min(len(SIGNALS), max(0, 2 * places - len(power))))
    host = _map(rng, "host", places, [*power, *lines])
    card = _map(rng, "card", places, [*power, *lines])
    made = plan(host, card)
    sides: tuple[Side, ...] = ("front", "back")
    forms: tuple[BoardForm, ...] = ("flat",)
    if made.host_connector.body.form == "edge fingers":
        forms = ("right-angle riser", "straight riser")
    spec = BoardDesign(form=rng.choice(forms), host=rng.choice(sides), card=rng.choice(sides))
    return replace(made, design=Design("random", "host", "card", "host", "card", board=spec))


def _map(rng: random.Random, end: str, places: int, lines: list[str]) -> PinMap:
    at_host: tuple[Form, ...] = ("box header", "pin header", "edge slot", "edge fingers")
    at_card: tuple[Form, ...] = ("edge slot", "box header")
    form = rng.choice(at_host if end == "host" else at_card)
    body = Body(
        form,
        (Section(2, places),),
        rng.choice(("zigzag", "serial")),
        rng.choice(("top left", "bottom right", "top right")),
        row_pitch_mm=5.08 if form.startswith("edge") else 2.54,
        rating_a=1.0,
    )
    labels = list(body.labels)
    rng.shuffle(labels)
    carried = [*lines, *["open"] * (len(labels) - len(lines))]
    # A slot of the library stands for the cards that it is made for: it is described from the machine's end.
    stands_for = "host" if form == "edge slot" else end
    return pin_map(dict(zip(labels, carried, strict=False)), complete(body, customs()), bus=BUS16, end=stands_for)  # type: ignore[arg-type]
