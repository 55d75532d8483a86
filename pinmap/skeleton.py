"""Commented skeletons to be filled in at the bench: of a pin map, and of an adapter file."""

from __future__ import annotations

import json
import re
from collections.abc import Container, Iterable, Iterator
from typing import TYPE_CHECKING, cast

from .body import Body, Corner, Form, Gender, Numbering, Scheme, Section
from .model import PinMap, Remedy, Signal
from .naming import Names
from .quantity import amps
from .text import count, listed, natural, ranges, visible

if TYPE_CHECKING:
    from .adapter import Adapter

#: Inputs of LS logic on a line, from one card to four with two each, for which a skeleton gives the value of a pull.
_LOADS = (2, 4, 6, 8)


def body_for(
    form: str,
    rows: int,
    places: int,
    labels: str,
    *,
    letters: str = "",
    first: Corner | None = None,
    pitch_mm: float = 2.54,
    row_pitch_mm: float | None = None,
    gender: Gender | None = None,
) -> Body:
    """Make a one-section body; row letters and the corner of the first contact default to the form's customary ones.

    Raises `ValueError` where the parts contradict each other.
    """
    if form == "din 41612" and gender is None:
        gender = "female"
    names = tuple(letters.split())
    if not names and labels == "rows":
        names = tuple("ABCDEFGHIJKLMNOPQRSTUVWXYZ"[:rows])
        if (
            form == "din 41612" and rows <= 3
        ):  # two rows are the outer ones; the male has row a on top, the female below
            names = {1: ("a",), 2: ("a", "c"), 3: ("a", "b", "c")}[rows][:: 1 if gender == "male" else -1]
    if first is None:
        below = form in ("pin header", "box header") or (form == "din 41612" and gender == "female")
        first = "bottom left" if below else "top right" if form == "edge fingers" else "top left"
    return Body(
        cast("Form", form),  # Body itself refuses what is none
        (Section(rows, places, names),),
        cast("Scheme", labels),
        first,
        pitch_mm,
        pitch_mm if row_pitch_mm is None else row_pitch_mm,
        gender,
    )


def skeleton(body: Body, bus: str, title: str) -> str:
    """Return the text of a map file for `body`: it reads as it stands, with every contact still to be described."""
    lines = [
        "# A pin map for pinmap. Fill in what you know, delete the # in front, and run: pinmap check THIS-FILE",
        "format: 1",
        f"title: {_quoted(visible(title))}",
        "about: what machine, which connector, anything that a stranger must know",
        f"bus: {bus}",
        "end: host                     # host: the machine's connector; card: what a card brings",
        "source: where this table comes from   # a manual's page, a sketch, your own measurement",
        "#seen: measured               # what holds for every contact that does not say: manual, measured, guessed",
        "#marks: none                  # only if the table marks no line as active low (no IOR*, -IOR, /IOR)",
        "body:                         # seen from the mating face: look at the contacts, as the plug does",
        f"  form: {body.form}",
    ]
    if body.gender:
        lines.append(_said(f"  gender: {body.gender}", "male (pins) or female: look at the contacts"))
    lines += _sections(body)
    lines += [
        f"  labels: {body.scheme}",
        _said(f"  first: {body.first}", "the corner of the first contact"),
        _said(f"  pitch: {_mm(body.pitch_mm)}", "measure it over many contacts and divide"),
        f"  row pitch: {_mm(body.row_pitch_mm)}",
    ]
    if body.pads:
        lines.append(f"  pads: {_pads(body.pads)}")
    if body.footprint:
        lines.append(f"  footprint: {_quoted(body.footprint)}")
    mate = [f"footprint: {_quoted(body.mate_footprint)}"] if body.mate_footprint else []
    mate += [f"pads: {_pads(body.mate_pads)}"] if body.mate_pads else []
    if mate:
        lines.append(f"  mate: {{{', '.join(mate)}}}")
    if body.rating_a is not None:
        lines.append(_said(f"  rating: {body.rating_a:g} A", "per contact"))
    if body.sources:
        lines += ["  source:", *(f"    {fact}: {_quoted(source)}" for fact, source in body.sources if fact)]
    lines += [
        "#options:",
        "#  name of the option board: what it brings",
        "#own signals:                 # lines that the bus does not know",
        "#  AUDIO: line to the loudspeaker",
        "#supplies:                    # what the machine can deliver on a rail",
        "#  +5V: {limit: 1.5 A}",
        "contacts:",
        "  # One line a contact, or a run: A2..A9: SD7..SD0; 4..18 by 2: SD7..SD0; 20..24 by 2: GND",
        "  # open: brought out, connected to nothing; key: no contact here",
        "  # {signal: IRQ2, seen: guessed, note: the scan is smudged}; {signal: OSC, with: name of the option board}",
        *(f"  #{label}:" for label in sorted(body.labels, key=natural)),
    ]
    return "\n".join(lines) + "\n"


def adapter_skeleton(
    host: PinMap, card: PinMap, title: str, fitted: Iterable[str] = (), *, host_named: str = "", card_named: str = ""
) -> str:
    """Return the text of an adapter file from `host` to `card`: it reads as it stands.

    Every line that the slot does not bring with the options in `fitted` stands there as a comment, with what the
    dictionary advises. `host_named` and `card_named` are how the file names the maps, where not by their own name.
    Raises `NotFoundError` for an option that neither map has.
    """
    from .planner import plan

    adapter = plan(host, card, fitted)
    options = [o for o in {**host.options, **card.options} if o not in adapter.fitted]
    chosen = f"options: [{', '.join(map(_key, adapter.fitted))}]" if adapter.fitted else ""
    lines = [
        "# An adapter file for pinmap. Delete the # in front of what applies, change it, run: pinmap adapt THIS-FILE",
        "format: 1",
        f"title: {_quoted(visible(title))}",
        "about: what it is for, anything that a stranger must know",
        _said(f"host: {_key(host_named or host.name)}", "a name of the library, or a path from this file"),
        f"card: {_key(card_named or card.name)}",
        *([_said(chosen, "of the machine's options, those that are fitted")] if chosen else []),
        *([_said(f"#options: [{', '.join(map(_key, options))}]", "those that are fitted")] if options else []),
        "#build:                       # without it nothing is said of drop and length",
        "#  as: ribbon                 # ribbon, point to point or printed board",
        "#  length: 150 mm             # from connector to connector",
        "#  wire: 28 AWG               # a ribbon's, or that of single wires for signals",
        "#  #supply wire: 24 AWG       # point to point only: of single wires for supplies and returns",
        "#  #trace: 0.25 mm            # printed board only, instead of wire",
        "#  #supply trace: 2 mm",
        "#  #copper: 35 um",
        "#board:                       # what `pinmap board` makes; without it one by the usual rules",
        "#  form: flat                 # flat, right-angle riser or straight riser",
        "#  #bracket: right            # the end at which contact 1 lies, seen from the front",
        "#  #component side: lower edge  # where the card's parts look to",
        "#  #width: 140 mm             # no larger than; also height, track, gap, via, via drill, edge, thickness",
        "#clock: 4.77 MHz              # of the bus, from the machine's manual",
        "#drive: 24 mA                 # what the machine's bus drivers sink, from their data sheet",
        "#other slots: 0               # cards in other slots of the machine, on the same lines",
        "#other draws: {+5V: 500 mA}   # what these and the machine itself take of its limits",
        "#cards:                       # all those that will sit in the adapter together",
        "#  - name: what the card is called",
        *(_said(f"#    kind: {_key(kind.name)}", kind.about) for kind in card.bus.kinds[:1]),
        *(f"#    #kind: {_key(kind.name)}" for kind in card.bus.kinds[1:]),
        "#    #draws: {+5V: 300 mA}    # from its label or manual; otherwise a rule of thumb for its kind is taken",
        "#    #needs: [IRQ4]           # lines that this card cannot do without, beside those of its kind",
        "#    #loads: 1                # inputs of LS logic that it hangs on each line",
        *_absent_lines(adapter),
        *_fuse_lines(adapter),
        "#decoupling: no               # yes where it is not said: capacitors from each rail to the return at the card",
    ]
    return "\n".join(lines) + "\n"


def _absent_lines(adapter: Adapter) -> list[str]:
    """The remedies and jumpers of a skeleton: every line of the card that the slot does not bring."""
    remedies: list[str] = []
    jumpers: list[str] = []
    first: dict[str, str] = {}  # the line of the slot to which each jumper is set
    names_of = Names(adapter.card.bus, tuple(adapter.card.own.values()))
    alike: dict[tuple[str, str, str, str], list[Signal]] = {}
    said: dict[tuple[str, str, str, str], tuple[str, Remedy]] = {}
    for miss in adapter.unmapped:
        reading = names_of.read(miss.signal) if miss.end == "card" else None
        if reading is None:
            continue
        signal = reading.signal
        if miss.remedy.kind == "jumper":
            jumpers.append(_jumper_line(signal.name, _led_to(adapter, signal), first))
            continue
        why = " ".join(part for part in (f"{miss.reason[:1].upper()}{miss.reason[1:]}.", miss.effect) if part)
        key = (why, str(miss.remedy), signal.group, _option_for(adapter, signal))
        alike.setdefault(key, []).append(signal)
        said[key] = why, miss.remedy
    for alike_key, signals in alike.items():
        why, remedy = said[alike_key]
        option = alike_key[-1]
        remedies.append(f"#  # {_plain(why)}")
        if remedy.why:
            remedies.append(f"#  # {_plain(f'{remedy.kind}: {remedy.why}')}")
        values = _values(remedy, signals[0])
        if values:
            remedies.append(f"#  # {_plain(values)}")
        if option:
            remedies.append(f"#  # Only without {option}, which brings it:")
        kind = "leave open" if remedy.kind == "none" else remedy.kind
        value = "" if values else remedy.value
        facts = [f"kind: {kind}", *(f"{k}: {v}" for k, v in (("value", value), ("to", remedy.to)) if v)]
        what = f"{{{', '.join(facts)}}}" if len(facts) > 1 else kind
        runs = _runs([signal.name for signal in signals], adapter.card.by_signal)
        remedies += [f"#  {'#' if option else ''}{_key(run)}: {_plain(what)}" for run in runs]
    out = []
    if remedies:
        out += [
            "# Lines that the slot does not bring, with what the dictionary advises. Where that is a part and the line",
            "# matters, it is done without being asked, all but a tie, which waits for your word; write what is to be",
            "# done otherwise, or what stays open.",
            "#remedies:",
            *remedies,
        ]
    if jumpers:
        out += [_said("#jumpers:", "line of the card: lines of the slot; the first is the one that is set"), *jumpers]
    return out


def _led_to(adapter: Adapter, signal: Signal) -> list[str]:
    """The lines of the slot to which a jumper can lead a line of the card, those that rest on a guess last."""
    out: dict[str, bool] = {}
    for name, contacts in adapter.host.by_signal.items():
        there = contacts[0].signal
        usable = [c for c in contacts if not c.inverted and (not c.option or c.option in adapter.fitted)]
        # One that the card has with the opposite polarity wants its inverter.
        usable = [c for c in usable if adapter.net_of("host", c.label).state != "active"]
        alike = there and (there.group, there.driver, there.active) == (signal.group, signal.driver, signal.active)
        if alike and usable:
            out[name] = all(c.seen == "guessed" for c in usable)
    return sorted(out, key=lambda name: out[name])


def _jumper_line(name: str, to: list[str], first: dict[str, str]) -> str:
    """One jumper of a skeleton, set to a line to which no earlier one is; `first` has those, and takes this one up."""
    if not to:
        return f"#  # {name}: none is brought"
    free = [line for line in to if line not in first]
    at = free[0] if free else to[0]
    line = f"{_key(name)}: [{', '.join(map(_key, (at, *(one for one in to if one != at))))}]"
    if not free:
        return _said(f"#  #{line}", f"only without the jumper of {first[at]}, which is set to {at} too")
    first[at] = name
    return f"#  {line}"


def _option_for(adapter: Adapter, signal: Signal) -> str:
    """The option, not fitted, with which the slot brings a line of the card; "" where there is none."""
    there = adapter.card.bus.counterpart(signal, adapter.host.bus)[0]
    contacts = adapter.host.by_signal.get(there.name, ()) if there else ()
    return next((c.option for c in contacts if c.option and c.option not in adapter.fitted), "")


def _values(remedy: Remedy, signal: Signal) -> str:
    """Say which value a pull gets by how much the cards load its line; "" for any other remedy."""
    from .electrical.facts import facts
    from .pulls import Pull, ohms_text

    if remedy.kind not in ("pull up", "pull down") or signal.driver == "card":
        return ""
    least: dict[str, int] = {}
    for loads in _LOADS:
        value = ohms_text(Pull(remedy.kind == "pull up", signal, loads, facts()).value(remedy.value))
        least[value] = loads
    some = listed(f"{value} for up to {count(loads, 'input')}" for value, loads in least.items())
    return f"Without a value it follows from the loads of the cards, two for each that does not say: {some}."


def _runs(names: list[str], known: Container[str]) -> Iterator[str]:
    """Write names as a file may: those that follow each other as runs."""
    for part in ranges(names).split(", "):
        first, dash, last = part.partition("–")
        yield f"{first}..{last}" if dash and part not in known else part


def _fuse_lines(adapter: Adapter) -> list[str]:
    rails = [n.signal for n in adapter.nets if n.group == "supply" and n.signal and n.host and n.card]
    out = [_said("#fuses:", "in the rail, between the machine and the card; resettable: yes for one that recovers")]
    for rail in rails:
        supply = adapter.host.supplies.get(rail)
        limit = amps(supply.limit_a) if supply else "1 A"
        out.append(
            _said(f"#  {_key(rail)}: {limit}", "at most: what the machine can deliver" if supply else "an example")
        )
    return out if rails else []


def _plain(text: str) -> str:
    """Write a text of the dictionaries in the letters that any editor and pipe keeps."""
    return text.replace("Ω", "ohm").replace("−", "-").replace("µ", "u").replace("°", " deg ")


def _key(text: str) -> str:
    """Write a name as a key or value of YAML, in quotes where it needs them."""
    plain = re.fullmatch(r"[+-]?[A-Za-z0-9][A-Za-z0-9*/_.+-]*( [A-Za-z0-9*/_.+-]+)*", text)
    return text if plain and text.casefold() != "null" else _quoted(text)


def _sections(body: Body) -> list[str]:
    def facts(section: Section) -> list[str]:
        out = [f"rows: {section.rows}"] if not section.letters else [f"letters: {' '.join(section.letters)}"]
        out.append(f"places: {section.places}")
        return out + ([f"from: {section.start}"] if section.start != 1 else [])

    if len(body.sections) == 1:
        section = body.sections[0]
        out = [f"  rows: {section.rows}", f"  places: {section.places}"]
        if section.letters:
            out.append(_said(f"  letters: {' '.join(section.letters)}", "of the rows, from the top row down"))
        return out + ([f"  from: {section.start}"] if section.start != 1 else [])
    out = ["  sections:"]
    for section in body.sections:
        shift = [f"along: {_mm(section.along_mm)}", f"across: {_mm(section.across_mm)}"]
        out.append(f"    - {{{', '.join(facts(section) + shift)}}}")
    return out


def _pads(numbering: Numbering) -> str:
    letters = f", letters: {' '.join(numbering.letters[0])}" if numbering.letters else ""
    return f"{{labels: {numbering.scheme}, first: {numbering.first}{letters}}}"


def _said(line: str, comment: str) -> str:
    return f"{line:<29} # {comment}"


def _mm(length_mm: float) -> str:
    return f"{length_mm:.10g} mm"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
