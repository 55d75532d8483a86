"""Checks: functions from a pin map to findings. They print nothing, stop nothing, and know no file format.

`run` runs them all; a new check is a function added to `CHECKS`, with its codes in `findings.RULES`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from msgspec import Struct

from ..findings import Finding, ordered
from ..model import PinMap
from . import contacts, evidence, names, supplies


class Context(Struct, frozen=True):
    """What a check may look at besides the map: the published connectors of its bus, read only when asked for."""

    published: Callable[[], tuple[PinMap, ...]] = tuple


Check = Callable[[PinMap], Iterator[Finding]]
ContextCheck = Callable[[PinMap, Callable[[], tuple[PinMap, ...]]], Iterator[Finding]]

CHECKS: tuple[Check, ...] = (
    contacts.described_once,
    contacts.all_described,
    contacts.runs_complete,
    names.generations,
    names.polarities,
    names.signals_once,
    supplies.returns,
    supplies.return_reach,
    supplies.rails_present,
    supplies.rail_names,
    supplies.limits,
    supplies.neighbours,
    evidence.guesses,
)
CONTEXT_CHECKS: tuple[ContextCheck, ...] = (contacts.keys_expected,)


def run(pin_map: PinMap, context: Context | None = None) -> tuple[Finding, ...]:
    """Run every check on a map and return the findings, the worst first."""
    context = context or Context()
    out = [finding for check in CHECKS for finding in check(pin_map)]
    out += [finding for look in CONTEXT_CHECKS for finding in look(pin_map, context.published)]
    return ordered(out)
