"""Rails whose number stands without a sign or a unit, or with the minus behind it: hints and doubts, never a guess."""

from __future__ import annotations

import re
from collections.abc import Sequence

from .importing_columns import Claim, Remark
from .naming import Names
from .text import listed

_RAIL = re.compile(
    r"(?P<before>[+\-−–]?)\s*(?P<number>\d{1,4}(?:[.,]\d{1,3})?)\s*(?P<unit>V[a-z]*)?\s*(?:DC)?\s*(?P<behind>[\-−–]?)",
    re.IGNORECASE,
)


def hint(name: str, names: Names) -> str:
    """Say which rail of the bus a name that is no line may mean: "5" and "5V-"; "" for everything else."""
    found = _RAIL.fullmatch(name.strip())
    if not found:
        return ""
    volts = f"{float(found['number'].replace(',', '.')):g}V"
    rails = [rail for rail in (f"+{volts}", f"-{volts}") if rail in names.bus.signals]
    if not rails:
        return ""
    measure = "measure the contact, and write the sign before the number and V behind it"
    if found["behind"]:
        return (
            f"a minus behind a number may be the sign of -{volts} or a dash that parts cells: "
            f"perhaps {listed(rails, 'or')}; {measure}"
        )
    return f"a number alone is no rail: perhaps {listed(rails, 'or')}; {measure}"


def doubts(claims: Sequence[Claim], names: Names) -> list[Remark]:
    """The rails that are known by a sign and a number alone, "+5" and "-12"."""
    out: list[Remark] = []
    for claim in claims:
        found = _RAIL.fullmatch(claim.name.strip())
        reading = names.read(claim.name) if found else None
        if found and reading and found["before"] and not found["unit"]:
            why = f"perhaps {reading.signal.name}, and it stands for that in the map; measure the contact, and write V"
            out.append(Remark(claim.at, claim.name, f"a sign and a number without V (contact {claim.label}): {why}"))
    return out
