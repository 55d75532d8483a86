"""Rails whose number stands without a sign or a unit, or with the minus behind it: hints and doubts, never a guess."""

from __future__ import annotations

import re
from collections.abc import Container, Sequence

from msgspec import Struct

from .errors import Place
from .importing_tables import Claim, Remark
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


class Unsigned(Struct, frozen=True):
    """What was assumed of rails without a sign, and a doubt for each that may as well be the negative one."""

    assumed: list[str]
    doubts: list[Remark]


def unsigned(claims: Sequence[Claim], names: Names, told: Container[Place]) -> Unsigned:
    """Say which rails have no sign, "5V", and stand for the positive one; not of those `told` of already."""
    assumed: list[str] = []
    out: list[Remark] = []
    without: dict[str, list[Claim]] = {}
    for claim in claims:
        found = _RAIL.fullmatch(claim.name.strip())
        reading = names.read(claim.name) if found else None
        if found and reading and not (found["before"] or found["behind"] or claim.at in told):
            without.setdefault(reading.signal.name, []).append(claim)
    written = [reading.signal.name for claim in claims if (reading := names.read(claim.name))]
    for rail, bare in without.items():
        where = f"contact{'s' * (len(bare) > 1)} {listed(claim.label for claim in bare)}"
        other = f"-{rail[1:]}"
        assumed.append(f"signs: {bare[0].name} has no sign ({where}) and was taken for {rail}")
        if len(bare) > 1 and other in names.bus.signals and other not in written:
            why = (
                f"{len(bare)} contacts have {bare[0].name} without a sign ({where}), and the bus has {rail} and "
                f"{other}: it stands for {rail} in the map; measure the contact, and write the sign"
            )
            out += [Remark(claim.at, claim.name, why) for claim in bare]
    return Unsigned(assumed, out)


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
