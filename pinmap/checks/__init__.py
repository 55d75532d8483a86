"""Checks: functions from a pin map to findings. They print nothing, stop nothing, and know no file format.

`run` runs them all; a new check is a function added to `CHECKS`, with its codes in `findings.RULES`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

from ..findings import Finding, ordered
from ..model import PinMap
from . import contacts, evidence, handedness, likeness, names, supplies

Check = Callable[[PinMap], Iterator[Finding]]
#: Gives the published connectors of a map's bus; a check asks only when it needs them, for they have to be read.
Published = Callable[[], tuple[PinMap, ...]]

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
#: Checks that hold a map against the references that the user names, else against the published connectors.
AGAINST_REFERENCES: tuple[Callable[[PinMap, Published], Iterator[Finding]], ...] = (
    contacts.keys_expected,
    handedness.handedness,
)


def run(pin_map: PinMap, published: Published = tuple, references: Published | None = None) -> tuple[Finding, ...]:
    """Run every check on a map and return the findings, the worst first.

    `references` gives other maps to hold it against, in place of the published ones.
    """
    out = [finding for check in CHECKS for finding in check(pin_map)]
    read_once = references or cache(published)
    out += [finding for look in AGAINST_REFERENCES for finding in look(pin_map, read_once)]
    out += likeness.likeness(pin_map, read_once, same_machine=references is not None)
    return ordered(out)
