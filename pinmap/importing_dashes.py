"""Dashes before names that part contact and signal: "2 - 5V" is the list's dash and no minus.

Nobody marks a return or a data line as active low. Where they bear a dash it is a separator, and then the sign of
every rail behind such a dash is a guess, which is never passed over in silence.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from .importing_cells import Reader
from .importing_tables import Claim, Remark
from .naming import Names
from .text import count, quoted

_DASH = re.compile(r"^[-–—−]\s*(?=\S)")
_SPACED = re.compile(r"^[-–—−]\s+(?=\S)")
_VOLTS = re.compile(r"\d+(?:[.,]\d+)?\s*(?:V.*)?", re.IGNORECASE)
_PERHAPS = "may be the mark that parts contact and signal, and no minus"
_TAKEN = "was taken as the mark that parts contact and signal, and not as a minus"
_FEWEST = 4  # names that all bear a dash and so say nothing by it


class Settled(Struct):
    """The claims without dashes that part; what was assumed, and a doubt for every rail whose sign rests on one."""

    claims: list[Claim]
    assumed: list[str]
    doubts: list[Remark]


def settled(claims: Sequence[Claim], names: Names, reader: Reader) -> Settled:
    """Strip the dash where returns and lines that are active high bear it; where only some do, doubt the rails."""
    returns: list[Claim] = []
    lines: list[Claim] = []
    wide: list[Claim] = []  # of the lines the data and address lines, which nobody marks
    for claim in claims:
        reading = names.read(_DASH.sub("", claim.name))
        if reading and reading.signal.group == "return":
            returns.append(claim)
        elif reading and not reading.signal.is_power and not reading.usual and not reading.marked:
            lines.append(claim)
            wide += [claim] if reading.signal.group in ("data", "address") else []
    dashed = [c for c in claims if _DASH.match(c.name)]
    proofs = [c for c in (*returns, *wide, *lines) if _DASH.match(c.name)]
    if _most(returns + lines, least=2) and _most(returns or wide):
        proof = f"{quoted(proofs[0].name, 30)} (contact {proofs[0].label})"
        assumed = (
            f"dashes: the dash before {count(len(dashed), 'name')} parts contact and signal and was left away, for "
            f"{proof} bears it too; it marks no line as active low and no supply as negative"
        )
        out = [_stripped(c, reader) if _DASH.match(c.name) else c for c in claims]
        return Settled(out, [assumed], [_doubt(c, _TAKEN, f"{proof} bears it too") for c in claims if _rests(c)])
    parting = [c for c in claims if _parts(c, names)]
    if parting:
        spaced = [c for c in claims if _SPACED.match(c.name)]
        proof = f"{quoted(parting[0].name, 30)} (contact {parting[0].label})"
        assumed = (
            f"dashes: the dash with a space behind it, before {count(len(spaced), 'name')}, parts contact and signal "
            f"and was left away, for it does before {proof}; it marks no line as active low and no supply as negative"
        )
        out = [_stripped(c, reader) if _SPACED.match(c.name) else c for c in claims]
        rails = [_doubt(c, _TAKEN, f"{proof} bears it too") for c in spaced if _rests(c)]
        rails += [_doubt(c, _PERHAPS, f"{proof} bears one") for c in claims if c not in spaced and _touches(c)]
        rest = settled(out, names, reader)  # dashes without a space behind them
        told = {remark.place for remark in rails}
        rails += [remark for remark in rest.doubts if remark.place not in told]
        return Settled(rest.claims, [assumed, *rest.assumed], rails)
    all_of = len(dashed) >= _FEWEST and len(dashed) * 10 >= len(claims) * 9
    narrow = [c for c in (*returns, *wide) if _DASH.match(c.name)]
    if narrow or all_of or _most(returns + lines):
        first = next(iter(narrow or proofs or [c for c in dashed if not _rests(c)]), None)
        proof = f"{quoted(first.name, 30)} (contact {first.label})" if first else "every other name"
        return Settled(list(claims), [], [_doubt(c, _PERHAPS, f"{proof} bears it too") for c in claims if _rests(c)])
    apart = [c for c in claims if _rests(c) and c.name[1].isspace()]
    return Settled(list(claims), [], [_doubt(c, _PERHAPS, "it stands apart from the number") for c in apart])


def _parts(claim: Claim, names: Names) -> bool:
    """Whether a dash and a space stand where they can only part: before another dash, a return, data or addresses."""
    if not _SPACED.match(claim.name):
        return False
    rest = _SPACED.sub("", claim.name)
    reading = names.read(rest)
    if not reading:
        return False
    return bool(_DASH.match(rest)) or (reading.signal.group in ("return", "data", "address") and not reading.marked)


def _most(claims: Sequence[Claim], least: int = 1) -> bool:
    """Whether more than half of the claims bear a dash."""
    bearing = sum(bool(_DASH.match(c.name)) for c in claims)
    return bearing >= least and bearing * 2 > len(claims)


def _stripped(claim: Claim, reader: Reader) -> Claim:
    read = reader.name(_DASH.sub("", claim.name))
    note = "; ".join(part for part in (read.note, claim.note) if part)
    return replace(claim, name=read.text, note=note, direction=read.direction or claim.direction)


def _rests(claim: Claim) -> bool:
    """Whether this is a rail whose sign is a single dash."""
    rest, dashes = _DASH.subn("", claim.name)
    return bool(dashes and _VOLTS.fullmatch(rest))


def _touches(claim: Claim) -> bool:
    """Whether nothing but a space stands between the label and the dash of a rail: "3 -5V"."""
    apart = claim.at.column - claim.place.column - len(claim.label)
    return _rests(claim) and claim.at.line == claim.place.line and 0 <= apart <= 1


def _doubt(claim: Claim, why: str, because: str) -> Remark:
    volts = _DASH.sub("", claim.name)
    return Remark(
        claim.at,
        claim.name,
        f"the dash before it at contact {claim.label} {why}, for {because}: measure whether the contact "
        f"has +{volts} or -{volts}, and write the sign",
    )
