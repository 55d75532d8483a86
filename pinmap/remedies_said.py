"""What an adapter says of its absent lines once parts make them up or hold them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from .adapter import Adapter, Unmapped
from .choices import Line
from .coverage import Coverage
from .design import Design
from .findings import Finding, found
from .model import Remedy, RemedyKind
from .parts import Part
from .text import listed, ranges

_HOLDS: frozenset[RemedyKind] = frozenset({"pull up", "pull down", "tie low", "tie high"})
_MAKES: frozenset[RemedyKind] = frozenset({"oscillator", "reset circuit"})


class Done(NamedTuple):
    """The remedy of a line as it was carried out, and the parts that do it."""

    remedy: Remedy
    parts: tuple[str, ...] = ()


class Used(NamedTuple):
    """What a part does with a line of the host that has no contact at the card."""

    part: str
    what: str
    spare: bool = False  # the part takes the line's place, so that nothing may be joined to the line itself


def unmapped_now(
    plan: Adapter, lines: Mapping[str, Line], done: Mapping[str, Done], used: Mapping[str, Used]
) -> tuple[Unmapped, ...]:
    """Return the unmapped signals with the parts that carry their remedies out.

    `done` goes by the dictionary's name of the card's line, `used` by the host's contact.
    """
    by_entry = {id(line.unmapped): done[name] for name, line in lines.items() if name in done}
    waiting = {id(line.unmapped): _waiting(line) for name, line in lines.items() if name not in done}
    out = []
    for each in plan.unmapped:
        takers = [used[label] for label in each.contacts if label in used] if each.end == "host" else []
        if id(each) in by_entry:
            remedy, parts = by_entry[id(each)]
            out.append(replace(each, remedy=remedy, parts=parts))
        elif takers:
            what = listed(dict.fromkeys(taker.what for taker in takers))
            if all(taker.spare for taker in takers):
                out.append(replace(each, effect=f"{what}.", remedy=Remedy("leave open", "nothing may be joined to it")))
                continue
            parts = tuple(dict.fromkeys(taker.part for taker in takers))
            out.append(replace(each, effect=f"{what}.", parts=parts))
        else:
            out.append(waiting.get(id(each), each))
    return tuple(out)


def coverage_now(plan: Adapter, lines: Mapping[str, Line], done: Mapping[str, Done]) -> Coverage:
    """Return which kinds of card can work, where another remedy than an inverter was taken for a line.

    A part that makes the line itself serves a card as well; a line that is held, or left open, is lost to it.
    """
    other = {n: d.remedy for n, d in done.items() if lines[n].turned and d.remedy.kind != "inverter"}
    kinds = []
    for kind in plan.coverage.kinds:
        lost = [name for name, _ in kind.parts if name in other and other[name].kind not in _MAKES]
        parts = tuple((name, other.get(name, remedy)) for name, remedy in kind.parts if name not in lost)
        answer = "does not work" if lost else kind.answer
        kinds.append(replace(kind, answer=answer, missing=(*kind.missing, *lost), parts=parts))
    return replace(plan.coverage, kinds=tuple(kinds))


def findings_now(
    plan: Adapter, design: Design, lines: Mapping[str, Line], unmapped: Iterable[Unmapped], parts: Iterable[Part]
) -> Iterable[Finding]:
    """Yield what the plan had to say, changed where a part now makes a line up or holds it."""
    now = {u.signal: u for u in unmapped if u.end == "card"}
    was = {u.signal: u for u in plan.unmapped if u.end == "card"}
    by_ref = {part.ref: part for part in parts}
    settled = {name for name, line in lines.items() if line.turned and now[line.name].remedy.kind != "inverter"}
    for finding in plan.findings:
        if finding.code == "needs-inverter":
            line = lines.get(finding.signals[0]) if finding.signals else None
            yield _turned(finding, line, now, by_ref, design)
        elif finding.code == "polarity-opposite" and any(s in settled for s in finding.signals):
            yield replace(
                finding, advice="The adapter file leaves the machine's line alone: nothing may be joined to it"
            )
        elif finding.code == "signal-absent" and all(s in now for s in finding.signals):
            yield from _absent(finding, [now[s] for s in finding.signals], was, by_ref)
        else:
            yield finding


def _made(each: Unmapped) -> bool:
    return bool(each.parts) and each.remedy.kind not in _HOLDS


def _turned(
    finding: Finding, line: Line | None, now: Mapping[str, Unmapped], by_ref: Mapping[str, Part], design: Design
) -> Finding:
    if line is None:
        return finding
    each = now[line.name]
    if _made(each):
        return _carried(each, finding, by_ref)
    if each.remedy.kind != "inverter":  # the design has it held, or left open
        return found(
            "signal-absent",
            f"{each.signal}: {each.reason}. {each.effect}",
            _done(each.remedy, each.parts),
            finding.place,
            contacts=each.contacts,
            signals=[each.signal],
            grade=line.signal.absent.grade if line.signal.absent else None,
        )
    more = ""
    if "open collector" in line.signal.output and line.signal.driver == "card":
        more = (
            "; no gate is put in: the line is open collector, so while the card lets go of it the gate's output would "
            "be low, and hold down whatever else drives the machine's line; needed are a machine in which nothing else "
            "drives that line, and a pull-up at its side, which no map tells"
        )
    elif "open collector" in line.signal.output:
        more = (
            "; no gate is put in: the line is open collector, and a gate would hold it against a card that pulls it low"
        )
    elif line.signal.driver == "either":
        more = "; a transceiver that inverts, led by the command lines, would be needed, and none is put in"
    elif line.signal.driver == "card" and design.other_slots:
        more = "; no gate is put in, for it would hold the line against the other slots"
    return replace(finding, advice=f"{finding.advice}{more}")


def _carried(each: Unmapped, finding: Finding, by_ref: Mapping[str, Part]) -> Finding:
    part = by_ref[each.parts[0]]
    does = f"leads it to {each.remedy.to} of the slot" if part.kind == "jumper" else "makes it up"
    return found(
        "remedy-carried-out",
        f"{each.signal}: {each.reason}; {part.ref} ({part.kind}, {part.value}) {does}",
        _sentence(part.fit),
        finding.place,
        contacts=each.contacts,
        signals=[each.signal],
    )


def _absent(
    finding: Finding, several: list[Unmapped], was: Mapping[str, Unmapped], by_ref: Mapping[str, Part]
) -> Iterable[Finding]:
    """Take a finding on several lines apart, by what was done for each."""
    alike: dict[tuple[str, bool], list[Unmapped]] = {}
    for each in several:
        if _made(each):
            yield _carried(each, finding, by_ref)
        else:
            alike.setdefault((str(each.remedy), bool(each.parts)), []).append(each)
    for some in alike.values():
        if len(some) == len(several) and all(was[u.signal] == u for u in some):
            yield finding
            continue
        names = [u.signal for u in some]
        advice = _done(some[0].remedy, [ref for u in some for ref in u.parts])
        yield replace(
            finding,
            message=f"{ranges(names)}: {some[0].reason}. {some[0].effect}",
            advice=advice,
            contacts=tuple(c for u in some for c in u.contacts),
            signals=tuple(names),
        )


def _done(remedy: Remedy, refs: Sequence[str]) -> str:
    """What was done for lines, as the advice of a finding."""
    if refs:
        return f"Carried out by {listed(ranges(list(refs)).split(', '))}: {remedy}"
    return "Left open on purpose" if remedy.kind == "leave open" else _sentence(str(remedy))


def _waiting(line: Line) -> Unmapped:
    """Say of a line that a tie would hold, and none does, how the owner of the machine asks for it."""
    each, remedy = line.unmapped, line.unmapped.remedy
    if not remedy.kind.startswith("tie"):
        return each
    written = f"{{kind: {remedy.kind}, to: {remedy.to}}}" if remedy.to else remedy.kind
    word = f"Nothing is put in unasked: where that is so, write under remedies {each.signal}: {written}"
    return replace(each, remedy=replace(remedy, why=f"{remedy.why} {word}"))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
