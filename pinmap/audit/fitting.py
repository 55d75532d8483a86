"""Which part of the drawing is which of the plan's: by what it joins, its value, and its reference as a hint."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Literal

from msgspec import Struct

from ..parts import Part
from ..text import natural
from .drawn import DrawnPart, Node
from .wanted import Wanted

#: So many parts of the drawing are weighed for each of the plan.
MOST_TRIED = 60
#: Kinds that may be turned round, unless their pins say which is which.
_EITHER_WAY = ("resistor", "link", "fuse", "jumper", "capacitor")

Same = Literal["same", "different", "unsure"]


class Fitted(Struct, frozen=True):
    """A part of the plan and the part of the drawing that it is; `pads` gives for each pad drawn the plan's."""

    part: Part
    drawn: DrawnPart
    pads: Mapping[str, str]


class _Try(Struct, frozen=True):
    part: Part
    drawn: DrawnPart
    pads: Mapping[str, str]
    agreed: int
    like: bool
    value: Same

    @property
    def whole(self) -> bool:
        return self.agreed == len(self.part.pins)


def fitted(
    wanted: Wanted, drawn: Mapping[str, DrawnPart], net_of: Mapping[Node, int], known: Mapping[int, int]
) -> list[Fitted]:
    """Match the plan's parts with those `drawn`, connectors left out.

    `net_of` numbers the drawn net of each drawn node, `known` says which net of the plan a drawn net is.
    """
    known = dict(known)
    out: list[Fitted] = []
    parts = {part.ref: part for part in wanted.adapter.parts}
    left = dict(drawn)
    refs_on: dict[int, list[str]] = {}
    for (ref, _), net in net_of.items():
        if ref in left:
            refs_on.setdefault(net, []).append(ref)
    for whole in (True, False):
        while parts:
            tries = [
                each
                for part in parts.values()
                for candidate in _candidates(wanted, part, left, refs_on, known)
                for each in _tries(wanted, part, candidate, net_of, known)
                if (each.like and each.whole if whole else _good_enough(each))
            ]
            if not tries:
                break
            best = min(tries, key=_order)
            out.append(Fitted(best.part, best.drawn, best.pads))
            del parts[best.part.ref], left[best.drawn.ref]
            for pad, planned in best.pads.items():
                here = net_of.get((best.drawn.ref, pad))
                plan_net = wanted.net_of[best.part.ref, planned]
                if here is not None and here not in known and plan_net not in known.values():
                    known[here] = plan_net
    return out


def _candidates(
    wanted: Wanted,
    part: Part,
    left: Mapping[str, DrawnPart],
    refs_on: Mapping[int, Sequence[str]],
    known: Mapping[int, int],
) -> list[DrawnPart]:
    """The parts that share most nets with one of the plan, and the one of its reference."""
    plan_nets = {wanted.net_of[part.ref, pad] for pad, _ in part.pins}
    shared = Counter(ref for net, plan in known.items() if plan in plan_nets for ref in refs_on.get(net, ()))
    own = [part.ref] if part.ref in left else []
    most = sorted(
        (ref for ref in shared if ref in left and letters(ref) == letters(part.ref)),
        key=lambda ref: (-shared[ref], natural(ref)),
    )
    return [left[ref] for ref in dict.fromkeys((*own, *most[:MOST_TRIED]))]


def _good_enough(each: _Try) -> bool:
    """Whether a part that is not joined as planned is this one even so."""
    if not each.like:
        return False
    same_ref = each.part.ref == each.drawn.ref
    most = 2 * each.agreed >= len(each.part.pins)
    return (same_ref and (most or each.value != "different")) or (most and each.value == "same" and each.agreed > 0)


def _order(each: _Try) -> tuple[bool, int, bool, bool, tuple[object, ...], tuple[object, ...]]:
    return (
        not each.whole,
        -each.agreed,
        each.value != "same",
        each.part.ref != each.drawn.ref,
        natural(each.part.ref),
        natural(each.drawn.ref),
    )


def _tries(
    wanted: Wanted, part: Part, drawn: DrawnPart, net_of: Mapping[Node, int], known: Mapping[int, int]
) -> Iterator[_Try]:
    like = letters(part.ref) == letters(drawn.ref)
    if not like:
        return
    planned = [pad for pad, _ in part.pins]
    there = [pad for pad, _ in drawn.pads]
    ways: list[dict[str, str]] = []
    if set(planned) <= set(there):
        ways.append({pad: pad for pad in planned})
    elif len(planned) == len(there) == 2:
        ways.append(dict(zip(there, planned, strict=True)))
    if len(planned) == 2 and len(ways) == 1 and _either_way(part):
        (one, a), (other, b) = ways[0].items()
        ways.append({one: b, other: a})
    for way in ways:
        agreed = sum(
            known.get(net_of.get((drawn.ref, pad), -1)) == wanted.net_of[part.ref, plan] for pad, plan in way.items()
        )
        yield _Try(part, drawn, way, agreed, like, same_value(part.value, drawn.value))


def _either_way(part: Part) -> bool:
    return part.kind in _EITHER_WAY and not any(re.match(r"plus|minus|\+|-", what) for _, what in part.pins)


def letters(ref: str) -> str:
    """The letters with which a reference begins: JP of JP3."""
    match = re.match(r"[^\W\d_]+", ref)
    return match[0].upper() if match else ""


_PREFIXES = {
    "p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3, "": 1.0, "r": 1.0, "k": 1e3, "M": 1e6, "G": 1e9,
}  # fmt: skip
_VALUE = re.compile(
    r"(?P<whole>\d+)(?:[.,](?P<part>\d+))?\s*(?P<prefix>[pnuµμmrRkKMG]?)(?P<more>\d*)\s*"
    r"(?P<unit>Ω|Ω|ohms?|Ohms?|F|f|Hz|hz|H|A|V|)(?![A-Za-z0-9])"
)


def same_value(planned: str, drawn: str) -> Same:
    """Whether two values as people write them mean the same: 4.7 kΩ and 4k7, 100 nF and 0.1u."""
    if _folded(planned) == _folded(drawn):
        return "same"
    one, other = _number(planned), _number(drawn)
    if one is None or other is None:
        # A chip by its name: 74LS04 is found in SN74LS04N.
        a, b = _folded(planned.split("(")[0]), _folded(drawn)
        return "same" if len(a) > 3 and b and (a in b or (len(b) > 3 and b in a)) else "unsure"
    if one[1] and other[1] and one[1] != other[1]:
        return "different"
    return "same" if abs(one[0] - other[0]) <= 0.001 * max(abs(one[0]), abs(other[0])) else "different"


def is_link(value: str) -> bool:
    """Whether a value says 0 Ω."""
    number = _number(value)
    return number is not None and number[0] == 0 and number[1] in ("", "Ω")


def _number(text: str) -> tuple[float, str] | None:
    match = _VALUE.match(text.strip())
    if not match or len(text) > 200 or len(match["whole"] + (match["part"] or "")) > 20:
        return None
    prefix = match["prefix"]
    fraction = match["part"] or match["more"]
    if match["part"] and match["more"]:
        return None
    unit = {"Ω": "Ω", "f": "F", "hz": "Hz"}.get(match["unit"], match["unit"])
    unit = "Ω" if unit.lower().startswith("ohm") else unit
    scale = _PREFIXES.get(prefix, _PREFIXES.get(prefix.lower(), 1.0))
    return float(f"{match['whole']}.{fraction or '0'}") * scale, unit


def _folded(text: str) -> str:
    return re.sub(r"[\W_]", "", text.casefold())


def unknown(drawn: Mapping[str, DrawnPart], taken: Sequence[Fitted]) -> dict[str, DrawnPart]:
    """The parts of the drawing that are none of the plan's."""
    known = {each.drawn.ref for each in taken}
    return {ref: part for ref, part in drawn.items() if ref not in known}
