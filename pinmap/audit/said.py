"""What an audit says: findings from what differs."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

from msgspec import Struct

from ..body import Body, gender
from ..errors import Place
from ..findings import Finding, Grade, found
from ..text import count, listed, natural, quoted, ranges, visible
from .differing import Fault
from .drawn import Drawn, DrawnNet, DrawnPart, Node
from .fitting import Fitted, is_link, letters, same_value
from .footprint import Lie, lie
from .matching import Choice
from .mistaken import Mistaken
from .wanted import Wanted

#: Parts that conduct, by their letters: fuses, beads, coils, wires, ties, and what is set. Common practice, no source.
_CONDUCT = frozenset({"F", "FB", "L", "W", "NT", "JP", "SB", "SJ", "J"})
#: Of these what a person bridges or sets.
_SET = frozenset({"JP", "SB", "SJ", "J"})
#: So many contacts, examples or parts are named in one sentence.
_MOST = 6
_MOST_SHOWN = 3


def node(node: Node) -> str:
    """A node in the plan's terms: J1 B3, R1 2."""
    return f"{node[0]} {node[1]}"


def unseen(drawn: Drawn, through: Sequence[str], series: Sequence[str]) -> list[Finding]:
    """Letters of --through by which nothing was seen through."""
    used = {letters(ref) for ref in series}
    there = {letters(ref) for ref in drawn.parts}
    return [
        found(
            "audit-assumed",
            "parts are seen through where their references begin with the letters given and they have two pads in "
            f"series; --through {quoted(word)} "
            + ("is at none of them" if word in there else "begins no reference of the drawing"),
            place=Place(drawn.file),
            grade="note",
        )
        for word in through
        if word not in used
    ]


def assumed(drawn: Drawn, connectors: Sequence[Choice]) -> list[Finding]:
    """What the reader passed over or took for granted, and what was not clear about the connectors."""
    place = Place(drawn.file)
    out = [found("audit-assumed", remark, place=place) for remark in drawn.remarks]
    for choice in connectors:
        called = {"labels": "its pads are called by", "pin names": "only the names of its pins are"}.get(choice.naming)
        if called:
            out.append(
                found(
                    "audit-pad-names",
                    f"a connector's pads are called as on its footprint; {choice.ref} is {choice.plan}, but {called} "
                    "the contact labels",
                    "It was judged by these. On a board they must become the footprint's own numbers",
                    drawn.parts[choice.ref].place,
                )
            )
        if choice.close:
            out.append(
                found(
                    "audit-assumed",
                    f"{choice.plan} is taken to be {choice.ref}, but so much agrees with {choice.runner_up}",
                    "Say which it is with --host and --card",
                    drawn.parts[choice.ref].place,
                )
            )
    return out


def footprints(wanted: Wanted, drawn: Drawn, connectors: Sequence[Choice]) -> list[Finding]:
    """Connectors whose footprint is not the plan's: that of the mate has its rows or its ends exchanged."""
    out = []
    for choice in connectors:
        connector = wanted.ends[choice.plan][0]
        body = wanted.adapter.on_board(connector)
        part = drawn.parts[choice.ref]
        name = choice.plan if choice.plan == choice.ref else f"{visible(choice.ref)}, the plan's {choice.plan},"
        lying = lie(body, choice.labels, part, drawn)
        if lying is not None:
            out.append(_lying(name, body, lying, part))
            continue
        written, meant, mate = (_bare(each) for each in (part.footprint, body.footprint, body.mate_footprint))
        mates = choice.naming == "mate pads"
        plug = not part.spots and written == _bare(connector.body.footprint)  # that of the ribbon itself
        if not mates and (not written or not meant or written == meant or plug):
            continue
        plugs = f"what plugs into {body.a_form}"
        if mates:
            there = f"; it has the footprint {quoted(written, 100)}" if written and written != meant else ""
            message = f"{name} must have the pads of {body.a_form}; its pads are called as those of {plugs}{there}"
            grade: Grade = "danger"
        elif written == mate or _of_mate(written, meant):
            message = f"{name} must have the footprint {meant}; drawn with {quoted(written, 100)}, that of {plugs}"
            grade = "danger"
        else:
            message, grade = f"{name} must have the footprint {meant}; drawn with {quoted(written, 100)}", "caution"
        if grade == "danger" and drawn.kind != "board":  # where the pads of a board lie is seen above
            message += ": its pads are mirrored on the board, supplies too"
            advice = "Take the plan's footprint, or plan the adapter for the other connector"
        elif grade == "danger":
            grade, advice = "fault", "The pads lie as they must, but what is fitted there must be the plan's connector"
        else:
            advice = "See that its pads are numbered the same way round"
        out.append(found("audit-footprint", message, advice, part.place, grade=grade))
    return out


def _lying(name: str, body: Body, lying: Lie, part: DrawnPart) -> Finding:
    """Pads that lie on the board otherwise than the contacts do."""
    must = f"the pads of {name} must lie on the board as the contacts of {body.a_form} do, seen from its mating face"
    side = "back" if part.behind else "front"
    if lying.mirrored:
        message = f"{must}; they are mirrored: the footprint of what plugs into it, or soldered from the other side"
        advice = f"Only if it is soldered to the {'front' if part.behind else 'back'} and not to the {side} it is right"
    elif lying.pitch_mm is not None:
        message = f"{must}; they are {lying.pitch_mm:.2f} mm apart along the rows, not {body.pitch_mm:g} mm"
        advice = "Take the footprint that is made for this pitch"
    else:
        how = f"as if {lying.numbered}" if lying.numbered else "in another order or other places"
        message = f"{must}; they lie {how}"
        advice = "Hold the numbers of the footprint's pads against a drawing of the connector"
    grade: Grade = "fault" if lying.pitch_mm is not None else "danger"
    return found("audit-pad-places", message, advice, part.place, grade=grade)


def _bare(footprint: str) -> str:
    """A footprint without its library, which people call as they like."""
    return footprint.rpartition(":")[2]


_ROWS = re.compile(r"_0*(\d+)x0*(\d+)_")


def _of_mate(written: str, meant: str) -> bool:
    """Whether one is of pins and the other of a socket, with as many rows, more than one, and places."""
    one, other = _ROWS.search(written), _ROWS.search(meant)
    mated = {gender(written), gender(meant)} == {"pins", "sockets"}
    return bool(one and other and one.groups() == other.groups() and int(one[1]) > 1 and mated)


def causes(wanted: Wanted, explained: Sequence[Mistaken]) -> list[Finding]:
    """The one mistake behind all that is wrong."""
    if not explained:
        return []
    cause = explained[0]
    power = [
        f"{name} at the contact of {there}"
        for ref, moves in cause.all_moves.items()
        for label, to in moves.items()
        for name, there in [(_net(wanted, ref, to), _net(wanted, ref, label))]
        if name != there and _is_power(wanted, ref, to)
    ]
    shown = list(dict.fromkeys(power))
    more = f" and {len(shown) - _MOST_SHOWN} more" if len(shown) > _MOST_SHOWN else ""
    puts = f". That puts {', '.join(shown[:_MOST_SHOWN])}{more}" if shown else ""
    other = [each.named for each in explained[1:_MOST_SHOWN]]
    as_well = f". It would look the same with {listed(other, 'or')}" if other else ""
    grade: Grade = "danger" if power else "fault"
    return [
        found(
            "audit-mistaken",
            f"{cause.sentence}. {'These two mistakes explain' if cause.second else 'This one mistake explains'} "
            f"{cause.wrong - cause.left} of {count(cause.wrong, 'net')} that differ{puts}{as_well}",
            f"Correct {'these two things' if cause.second else 'that one thing'}, then audit again",
            grade=grade,
            signals=[],
        )
    ]


def _net(wanted: Wanted, ref: str, label: str) -> str:
    net = wanted.net_of.get((ref, label))
    return wanted.nets[net].name if net is not None else "nothing"


def _is_power(wanted: Wanted, ref: str, label: str) -> bool:
    net = wanted.net_of.get((ref, label))
    return net is not None and wanted.is_power(net)


class Speech(Struct, frozen=True):
    """Says of a drawing what differs; `back` leads from the plan's nodes to the drawing's."""

    wanted: Wanted
    drawn: Drawn
    back: Mapping[Node, Node]

    # ------------------------------------------------------------------ nets

    def faults(
        self, faults: Sequence[Fault], nets: Sequence[DrawnNet], broken: Mapping[int, Sequence[str]], how: str = ""
    ) -> list[Finding]:
        """One finding for each thing that differs; `how` says by what: as named, in copper."""
        out: list[Finding] = []
        in_series = [f for f in faults if f.kind == "open" and f.nets[0] in broken]
        out += self._series(in_series, broken)
        opens = [f for f in faults if f.kind == "open" and f.nets[0] not in broken]
        if self._severed(opens):
            host, card = self.wanted.ends
            out.append(
                found(
                    "audit-open",
                    f"{host} and {card} must be joined line by line; no net leads from one to the other{how}",
                    "See whether these are the right connectors: --host and --card name others",
                    Place(self.drawn.file),
                )
            )
            opens = [f for f in opens if not self._crosses(f.nets[0])]
        out += [self._open(fault, nets, how) for fault in opens]
        out += [self._wrong(fault, nets, how) for fault in faults if fault.kind != "open"]
        return out

    def board(
        self,
        by_name: Sequence[Fault],
        in_copper: Sequence[Fault],
        nets: Sequence[DrawnNet],
        copper: Sequence[DrawnNet],
        broken: Mapping[int, Sequence[str]],
    ) -> list[Finding]:
        """What differs in name and in copper alike is said once; what differs only in one of them, as that."""
        named, touching = {_mark(f) for f in by_name}, {_mark(f) for f in in_copper}
        out = self.faults([f for f in by_name if _mark(f) in touching], nets, broken)
        for fault in by_name:
            if _mark(fault) not in touching:
                out += self._only(fault, nets, "audit-only-in-copper", " by the nets of the file, but is so in copper")
        for fault in in_copper:
            if _mark(fault) not in named:
                out += self._only(fault, copper, "audit-only-in-name", " in copper, but is so by the nets of the file")
        return out

    def _only(self, fault: Fault, nets: Sequence[DrawnNet], code: str, how: str) -> list[Finding]:
        where = " in copper" if code == "audit-only-in-name" else " by the nets of the file"
        if fault.kind != "open":
            return [self._wrong(fault, nets, where)]
        net = self.wanted.nets[fault.nets[0]].name
        return [
            found(
                code,
                f"{net} must be whole in copper and in name; {self._named(fault.nodes)} is not joined to "
                f"{self._named(fault.there)}{how}",
                place=self._place(fault, nets),
                contacts=map(node, fault.nodes),
                signals=[net],
            )
        ]

    def _open(self, fault: Fault, nets: Sequence[DrawnNet], how: str) -> Finding:
        net = self.wanted.nets[fault.nets[0]].name
        is_ = "is" if len(fault.nodes) == 1 else "are"
        return found(
            "audit-open",
            f"every contact of {net} must be joined to it{how}; {self._named(fault.nodes)} {is_} not joined to "
            f"{self._named(fault.there)}",
            place=self._place(fault, nets),
            contacts=map(node, fault.nodes),
            signals=[net],
        )

    def _wrong(self, fault: Fault, nets: Sequence[DrawnNet], how: str) -> Finding:
        if fault.kind == "joined" and fault.nets[0] > fault.nets[1]:
            fault = Fault("joined", fault.nets[::-1], fault.there, fault.nodes, fault.pieces)
        one, other = (self.wanted.nets[index].name for index in fault.nets)
        power = any(self.wanted.is_power(index) for index in fault.nets)
        nodes, there = self._named(fault.nodes), self._named(fault.there)
        advice = ""
        grade: Grade = "danger" if power else "fault"
        if fault.kind == "exchanged":
            code = "audit-supply-moved" if power else "audit-exchanged"
            message = f"{one} and {other} are exchanged{how}: {nodes} on {other}, {there} on {one}"
        elif fault.kind == "moved":
            code = "audit-supply-moved" if power else "audit-moved"
            message = f"{nodes} must be on {one}; drawn{how} on {other}, with {there}"
        else:
            code = "audit-supply-joined" if power else "audit-joined"
            alone = [index for index in fault.nets if len(self.wanted.nodes[index]) == 1]
            if alone:
                free, taken = (0, 1) if fault.nets[0] == alone[0] else (1, 0)
                names, sets = (one, other), (nodes, there)
                message = f"{sets[free]} must be left open; it is joined{how} to {names[taken]}, with {sets[taken]}"
            else:
                message = f"{one} ({nodes}) and {other} ({there}) must not be joined; they are one net{how}"
            if self.wanted.same_line(*fault.nets):
                code, grade = "audit-joined", "fault"
                parts = self.wanted.between(*fault.nets)
                advice = f"{listed(parts)} stands between them in the plan: it is bridged or left out"
        return found(
            code,
            message,
            advice,
            self._place(fault, nets),
            contacts=[node(n) for n in (*fault.nodes, *fault.there)],
            signals=[one, other],
            grade=grade,
        )

    def _series(self, faults: Sequence[Fault], broken: Mapping[int, Sequence[str]]) -> list[Finding]:
        """Parts in series that the plan lacks: once for each kind of part."""
        by_letters: dict[str, dict[str, list[str]]] = {}
        for fault in faults:
            for ref in broken[fault.nets[0]]:
                refs = by_letters.setdefault(letters(ref), {})
                refs.setdefault(ref, []).append(self.wanted.nets[fault.nets[0]].name)
        out = []
        for prefix, refs in by_letters.items():
            names = list(dict.fromkeys(name for each in refs.values() for name in each))
            order = sorted(refs, key=natural)
            out.append(
                found(
                    "audit-series",
                    f"a net must go through no part that the plan lacks; {ranges(names)} "
                    f"{'goes' if len(names) == 1 else 'go'} through {ranges(order)}",
                    f"If that is meant, see through such parts: --through {prefix}",
                    self.drawn.parts[order[0]].place,
                    signals=names,
                )
            )
        return out

    def _crosses(self, index: int) -> bool:
        return len({ref for ref, _ in self.wanted.nodes[index] if ref in self.wanted.ends}) == 2

    def _severed(self, opens: Sequence[Fault]) -> bool:
        """Whether no net leads from one connector to the other."""
        open_nets = {fault.nets[0] for fault in opens}
        crossing = [index for index in range(len(self.wanted.nets)) if self._crosses(index)]
        host, card = self.wanted.ends
        return len(crossing) > 1 and all(
            index in open_nets
            and any(f.nets[0] == index and len({n[0] for n in f.nodes} & {host, card}) == 1 for f in opens)
            for index in crossing
        )

    # ------------------------------------------------------------------ parts

    def parts(self, matched: Sequence[Fitted]) -> list[Finding]:
        """Parts of the plan that are missing, and values that differ."""
        there = {each.part.ref: each for each in matched}
        out = []
        for part in self.wanted.adapter.parts:
            match = there.get(part.ref)
            if match is None:
                joins = listed(
                    dict.fromkeys(self.wanted.nets[self.wanted.net_of[part.ref, p]].name for p, _ in part.pins)
                )
                out.append(
                    found(
                        "audit-part-missing",
                        f"the plan has {part.ref} ({part.value}), {part.kind} at {joins}; nothing in the drawing is "
                        "joined like it",
                        f"It is there {part.purpose}" if part.purpose.startswith("for") else "",
                        Place(self.drawn.file),
                    )
                )
                continue
            same = same_value(part.value, match.drawn.value)
            if same == "same":
                continue
            written = quoted(match.drawn.value) if match.drawn.value else "nothing"
            name = part.ref if part.ref == match.drawn.ref else f"{match.drawn.ref}, the plan's {part.ref},"
            out.append(
                found(
                    "audit-part-value",
                    f"{name} must be {part.value}; the drawing says {written}",
                    "" if same == "different" else "These could not be compared: look",
                    match.drawn.place,
                    grade="fault" if same == "different" else "caution",
                )
            )
        return out

    def besides(
        self,
        parts: Mapping[str, DrawnPart],
        lines: Sequence[set[int]],
        broken: Mapping[int, Sequence[str]],
        net_of: Mapping[Node, int],
        through: Collection[str] = (),
    ) -> list[Finding]:
        """Parts that the plan lacks and that touch rails or join nets of it.

        `lines` are the nets of the plan that each drawn net touches, `net_of` numbers the drawn net of a node,
        `through` are the letters of parts that were said to be seen through.
        """
        series = {ref for refs in broken.values() for ref in refs}
        alike: dict[tuple[str, bool, tuple[str, ...]], list[str]] = {}
        out_links: list[Finding] = []
        for ref, part in parts.items():
            if ref in series:
                continue
            touched = sorted(
                {net for pad, _ in part.pads for net in (lines[net_of[ref, pad]] if (ref, pad) in net_of else ())}
            )
            if not (len(touched) > 1 or any(self.wanted.is_power(net) for net in touched)):
                continue
            if len(touched) > 1 and len(part.pads) == 2 and (is_link(part.value) or letters(ref) in _CONDUCT):
                out_links.append(self._link(part, touched, letters(ref) in through))
                continue
            names = tuple(self.wanted.nets[net].name for net in touched)
            powered = all(self.wanted.is_power(net) for net in touched)
            alike.setdefault((letters(ref), powered, names), []).append(ref)
        out = out_links
        for (prefix, powered, names), refs in alike.items():
            refs.sort(key=natural)
            some = ranges(refs) if len(refs) <= _MOST else f"{ranges(refs[:_MOST])} and {len(refs) - _MOST} more"
            value = visible(parts[refs[0]].value)
            what = f" ({value})" if value and len(refs) == 1 else ""
            nets = listed(names) if len(names) <= _MOST else f"{', '.join(names[:_MOST])} and {len(names) - _MOST} more"
            out.append(
                found(
                    "audit-part-extra",
                    f"the plan has no {some}{what}; {'it lies' if len(refs) == 1 else 'they lie'} at {nets}",
                    place=parts[refs[0]].place,
                    signals=names,
                    grade="note" if prefix == "C" and powered and len(names) == 2 else "caution",
                )
            )
        return out

    def _link(self, part: DrawnPart, touched: Sequence[int], seen_through: bool) -> Finding:
        """What conducts and what the plan lacks joins its nets as a wire does; a jumper does when it is set."""
        names = [self.wanted.nets[net].name for net in touched]
        power = any(self.wanted.is_power(net) for net in touched)
        value = f" ({visible(part.value)})" if part.value else ""
        perhaps = letters(part.ref) in _SET and not seen_through and not is_link(part.value)
        grade: Grade = "danger" if power else "fault"
        return found(
            "audit-supply-joined" if power else "audit-joined",
            f"the plan has no {visible(part.ref)}{value}; it joins {listed(names)}" + " when it is set" * perhaps,
            "A jumper is set by mistake sooner or later: nothing in the plan stands between these two"
            if perhaps
            else "",
            place=part.place,
            signals=names,
            grade=grade if power or not perhaps else "caution",
        )

    def pads(self, strangers: Sequence[tuple[Node, int]]) -> list[Finding]:
        """Pads that the plan does not have and that are joined to one of its nets."""
        by_net: dict[tuple[str, int], list[str]] = {}
        for (ref, pad), net in strangers:
            by_net.setdefault((ref, net), []).append(pad)
        return [
            found(
                "audit-pad-unknown",
                f"the plan has no {'pad' if len(pads) == 1 else 'pads'} {ranges(sorted(pads, key=natural)[:_MOST])} at "
                f"{visible(ref)}; joined to {self.wanted.nets[net].name}",
                place=self.drawn.parts[ref].place,
            )
            for (ref, net), pads in by_net.items()
        ]

    # ------------------------------------------------------------------ words

    def _named(self, nodes: Sequence[Node]) -> str:
        """Name contacts, by the drawing's reference and pad too where these differ."""
        names = []
        for each in nodes[:_MOST]:
            here = self.back.get(each)
            ref, label = each
            if here is None or here == each:
                names.append(node(each))
            elif here[0] == ref:
                names.append(f"{ref} {label} (pad {visible(here[1])})")
            else:
                names.append(f"{ref} {label} ({visible(here[0])} pad {visible(here[1])})")
        more = len(nodes) - _MOST
        return f"{', '.join(names)} and {more} more" if more > 0 else listed(names)

    def _place(self, fault: Fault, nets: Sequence[DrawnNet]) -> Place:
        for piece in fault.pieces:
            if nets[piece].place.file:
                return nets[piece].place
        for each in (*fault.nodes, *fault.there):
            here = self.back.get(each)
            if here:
                return self.drawn.parts[here[0]].place
        return Place(self.drawn.file)


def _mark(fault: Fault) -> tuple[object, ...]:
    return fault.kind, fault.nets, frozenset(fault.nodes)
