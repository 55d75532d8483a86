"""Whether an adapter works electrically: supplies, conductors and lines of a design, as one budget."""

from __future__ import annotations

from msgspec import Struct

from ..findings import Finding


class Draw(Struct, frozen=True):
    """Who draws how much from a rail, in A. `thumb`: the figure is a rule of thumb and not from the file."""

    who: str
    amps: float
    thumb: bool = False


class Carrier(Struct, frozen=True):
    """Something that a rail's current passes: `count` pieces side by side, each good for `each_a` (None: not known).

    `ohms` is the resistance of one piece, `source` where rating and resistance come from.
    """

    what: str
    count: int
    each_a: float | None
    ohms: float
    source: str = ""

    @property
    def total_a(self) -> float | None:
        """What all pieces carry together, in A, as if they shared evenly."""
        return None if self.each_a is None else self.each_a * self.count


class SupplyBudget(Struct, frozen=True):
    """One rail from the machine to the card. Currents in A, volts in V.

    `carriers` is the way of the rail, `returns` that of the current back. `drop_v` is lost on the rail, `return_v` on
    the return with what all rails of its sign send through it: `at_card_v` is what is left at worst of the nominal
    volts at the card. The currents of the rails of the other sign move the card's return the other way: at worst, while
    nothing is drawn from this rail, it arrives larger by `lift_v`, with `most_v`. `allowed_v` is the tolerance, as
    volts on either side. `weakest` names the carrier, or the machine's supply, that gives way first; `left_a` is how
    much more it takes (negative: it has too much; None: not known). `change` says what to do. `fed_by`: the machine's
    rail from which a part makes this one; its draw is counted there too. `without_fuse`: a fuse is on the way whose
    resistance is not said, so its share is missing in `drop_v`, and `at_card_v` is too good by it. `others_a`: what the
    machine itself and the cards in its other slots draw of `limit_a`, in A; it does not pass the adapter.
    """

    rail: str
    volts: float
    draws: tuple[Draw, ...]
    limit_a: float | None
    carriers: tuple[Carrier, ...]
    returns: tuple[Carrier, ...]
    drop_v: float
    return_v: float
    allowed_v: float
    weakest: str
    left_a: float | None
    change: str = ""
    fed_by: str = ""
    lift_v: float = 0.0
    without_fuse: bool = False
    others_a: float = 0.0

    @property
    def drawn_a(self) -> float:
        """All that is drawn, in A."""
        return sum(d.amps for d in self.draws)

    @property
    def at_card_v(self) -> float:
        """The least that arrives between the card's rail and its return, in V, when the machine gives the nominal."""
        lost = self.drop_v + self.return_v
        return self.volts - lost if self.volts >= 0 else self.volts + lost

    @property
    def most_v(self) -> float:
        """The most that arrives there, in V."""
        return self.volts + self.lift_v if self.volts >= 0 else self.volts - self.lift_v


class ConductorBudget(Struct, frozen=True):
    """One kind of conductor: what it is (`28 AWG`, `2 mm × 35 µm`), ohm per metre, and the most that one carries, in A.

    `allowed_a` is what one may carry, `rise_k` by how much a trace then gets warmer, `fusing_a` what melts a wire: a
    warning and no figure to build by. None where it does not apply.
    """

    use: str
    size: str
    ohm_per_m: float
    carries_a: float
    allowed_a: float | None
    rise_k: float | None = None
    fusing_a: float | None = None
    source: str = ""


class LineBudget(Struct, frozen=True):
    """Lines of one group that fare alike. Currents in A at the low and at the high level, times in s, lengths in mm.

    `sinks_a` is what pulling the line low takes, `can_sink_a` what its driver manages; the same with `source`.
    `pull_ohms`: all pull-ups and pull-downs in parallel, None where there is none.
    """

    signals: tuple[str, ...]
    group: str
    driver: str
    sinks_a: float
    can_sink_a: float
    sources_a: float
    can_source_a: float
    pull_ohms: float | None = None
    source: str = ""


class Timing(Struct, frozen=True):
    """Length against edge and cycle, in mm and s. `factor`: the critical length is edge / (factor × delay)."""

    length_mm: float
    critical_mm: float
    edge_s: float
    factor: float
    delay_s: float
    cycle_s: float | None
    source: str = ""


class Returns(Struct, frozen=True):
    """Signals against returns in a ribbon or bundle.

    `signals` and `returns` count conductors; `far` are (signal, conductors to the nearest return), clock and command
    lines first; `ground` are the host contacts whose conductors are free to be joined to the return at the card's end.
    """

    signals: int
    returns: int
    far: tuple[tuple[str, int], ...] = ()
    ground: tuple[str, ...] = ()


class Budget(Struct, frozen=True):
    """The budget of a design: three tables, a sentence on each, and what is to be said as findings.

    `assumed` lists what was taken because the file does not say it, each with where the figure comes from.
    """

    supplies: tuple[SupplyBudget, ...]
    conductors: tuple[ConductorBudget, ...]
    lines: tuple[LineBudget, ...]
    timing: Timing | None
    returns: Returns | None
    supplies_said: str
    conductors_said: str
    lines_said: str
    findings: tuple[Finding, ...] = ()
    assumed: tuple[str, ...] = ()
