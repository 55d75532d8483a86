"""Adapter files: a design, or every complaint with its place; nothing else."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from pinmap import designs, library, schema
from pinmap.api import Checked, check
from pinmap.design import Build, CardUse, Choice, Design, Fuse, Jumper
from pinmap.designs import ReadDesign
from pinmap.errors import NOWHERE, NotFoundError, UnreadableError
from pinmap.findings import RULES, Finding
from pinmap.text import visible

BASE = """\
format: 1
title: A riser
host: oakmere-88
card: isa-8bit
"""
BRINDLE = BASE.replace("oakmere-88", "brindle-portable")
TARN = BASE.replace("oakmere-88", "tarn-rack").replace("isa-8bit", "isa-16bit")
GAUGES = range(22, 31)
_CHECKED: dict[str, Checked] = {}


def load(given_name: str) -> Checked:
    """Check a map as `api` does; those of the library once."""
    if os.sep in given_name or given_name.endswith(".yaml"):
        return check(given_name)
    if given_name not in _CHECKED:
        _CHECKED[given_name] = check(given_name)
    return _CHECKED[given_name]


def read(folder: Path, text: str, fitted: tuple[str, ...] = ()) -> ReadDesign:
    path = folder / "riser.yaml"
    path.write_text(text, encoding="utf-8")
    return designs.read(path, "riser.yaml", load, gauges=GAUGES, fitted=fitted)


def said(complaints: tuple[Finding, ...]) -> str:
    return "\n".join(f"{f.place}: {f.code}: {f.message}{f'. {f.advice}' if f.advice else ''}" for f in complaints)


def design(folder: Path, text: str, fitted: tuple[str, ...] = ()) -> Design:
    got = read(folder, text, fitted)
    assert said(got.complaints) == ""
    assert got.design
    return got.design


# ---------------------------------------------------------------------- bad input, each named with its line

BAD: dict[str, tuple[str, str]] = {
    "unknown key": (
        BASE + "colour: red\n",
        "riser.yaml:5:1: key-unknown: the file must have no key 'colour'. The keys here are format, "
        "title, host, card, about, options, build, board, clock, drive, other slots, other draws, cards, "
        "remedies, jumpers, fuses and decoupling",
    ),
    "misspelt key": (
        BASE + "remedys: {}\n",
        "riser.yaml:5:1: key-unknown: the file must have no key 'remedys'. Did you mean remedies?",
    ),
    "unknown key in cards": (
        BASE + "cards: [{name: a, weight: 1 A}]\n",
        "riser.yaml:5:19: key-unknown: cards › 1 must have no key 'weight'. The keys here are name, "
        "kind, draws, needs and loads",
    ),
    "no title": (
        BASE.replace("title: A riser\n", ""),
        "riser.yaml:1:1: key-missing: the file must have title",
    ),
    "unknown kind of remedy": (
        BASE + "remedies:\n  DRQ3: pul up\n",
        "riser.yaml:6:9: value-shape: remedies › DRQ3 must be inverter, jumper, leave open, none, "
        "oscillator, pull down, pull up, regulator, reset circuit, separate feed, tie high or tie "
        "low, not 'pul up'. Did you mean pull up?",
    ),
    "remedy none": (
        BASE + "remedies:\n  DRQ3: none\n",
        "riser.yaml:6:3: value-shape: remedies › DRQ3 must be something that can be done, not none. Write leave open",
    ),
    "unknown line": (
        BASE + "remedies:\n  DACQ3*: pull up\n",
        "riser.yaml:6:3: name-unknown: remedies › DACQ3* must be a line of the card's bus (isa-8bit), "
        "not 'DACQ3*'. Nearest: DACK3* or DRQ3",
    ),
    "unknown line in run": (
        BASE + "remedies:\n  DACK3*..DACK6*: pull up\n",
        "riser.yaml:6:3: name-unknown: remedies › DACK3*..DACK6* must be a line of the card's bus "
        "(isa-8bit), not 'DACK4*', 'DACK5*' or 'DACK6*'. Nearest: DACK3*, DACK2* or DACK1*",
    ),
    "other bus's line": (
        BASE + "remedies:\n  LA17: pull up\n",
        "riser.yaml:6:3: name-unknown: remedies › LA17 must be a line of the card's bus (isa-8bit), "
        "not 'LA17'. Nearest: SA17",
    ),
    "endless run": (
        BASE + "remedies:\n  SA0..SA500: pull up\n",
        "riser.yaml:6:3: run-length: remedies › SA0..SA500: a run of lines must not be longer than 100, not 501",
    ),
    "broken run": (
        BASE + "remedies:\n  SA0..SD7: pull up\n",
        "riser.yaml:6:3: run-length: both ends of a run must have the same name, like SD7..SD0, not 'SA0..SD7'",
    ),
    "key twice": (
        BASE + "remedies:\n  DRQ3: leave open\n  DRQ3: pull down\n",
        "riser.yaml:7:3: key-twice: remedies › DRQ3 must stand once; it stands in line 6 already. "
        "Take one of the two out",
    ),
    "twice other notation same": (
        BASE + "remedies:\n  DACK3*: pull up\n  /DACK3: pull up\n",
        "riser.yaml:7:3: key-twice: remedies must name a line once: DACK3* stands in line 6 already. "
        "Take one of the two out",
    ),
    "twice other notation": (
        BASE + "remedies:\n  DACK3*: pull up\n  -DACK 3: leave open\n",
        "riser.yaml:7:3: choice-contradicts: remedies must name a line once, and say one thing of it: "
        "DACK3* stands in line 6 already. Take one of the two out",
    ),
    "run overlaps": (
        BRINDLE + "remedies:\n  SA16..SA19: pull down\n  SA17: leave open\n",
        "riser.yaml:7:3: choice-contradicts: remedies must name a line once, and say one thing of it: "
        "SA17 stands in line 6 already. Take one of the two out",
    ),
    "not needed": (
        BASE + "remedies:\n  IRQ3: jumper\n  IOR*: pull up\n",
        "riser.yaml:6:3: remedy-not-needed: a remedy must be for a line that the slot does not bring, "
        "and oakmere-88 brings IRQ3 (48). Take it out\nriser.yaml:7:3: remedy-not-needed: a remedy "
        "must be for a line that the slot does not bring, and oakmere-88 brings IOR* (26). Take it "
        "out",
    ),
    "not needed run": (
        BASE + "remedies:\n  SD0..SD7: pull up\n",
        "riser.yaml:6:3: remedy-not-needed: a remedy must be for a line that the slot does not bring, "
        "and oakmere-88 brings SD0–SD7 (17, 15, 13, 11, 9, 7, 5, 3). Take it out",
    ),
    "feed of a rail that is there": (
        BASE + "remedies:\n  +12V: separate feed\n",
        "riser.yaml:6:3: remedy-not-needed: a remedy must be for a line that the slot does not bring, "
        "and oakmere-88 brings +12V (16). Take it out",
    ),
    "option makes it there": (
        BASE + "options: [video board]\nremedies:\n  OSC: oscillator\n",
        "riser.yaml:7:3: remedy-not-needed: a remedy must be for a line that the slot does not bring, "
        "and oakmere-88 brings OSC (58). Take it out",
    ),
    "tie a rail": (
        BASE + "remedies:\n  -5V: {kind: tie high, to: +5V}\n",
        "riser.yaml:6:3: value-shape: remedies › -5V must not be 'tie high': -5V is a supply, which "
        "is fed and never pulled or tied",
    ),
    "regulator for a signal": (
        BASE + "remedies:\n  DRQ3: regulator\n",
        "riser.yaml:6:3: value-shape: remedies › DRQ3 must not be 'regulator': DRQ3 is no supply, and "
        "nothing else is fed",
    ),
    "oscillator for a signal": (
        BASE + "remedies:\n  DRQ3: oscillator\n",
        "riser.yaml:6:3: value-shape: remedies › DRQ3 must not be 'oscillator': DRQ3 is no clock",
    ),
    "reset for a signal": (
        BASE + "remedies:\n  DRQ3: reset circuit\n",
        "riser.yaml:6:3: value-shape: remedies › DRQ3 must not be 'reset circuit': DRQ3 is no reset",
    ),
    "inverter of nothing": (
        BASE + "remedies:\n  DRQ3: inverter\n",
        "riser.yaml:6:3: value-shape: remedies › DRQ3 must not be 'inverter': DRQ3 is not there with "
        "the opposite polarity, so there is nothing to invert",
    ),
    "jumper of no interrupt": (
        BRINDLE + "remedies:\n  SA19: jumper\n",
        "riser.yaml:6:3: value-shape: remedies › SA19 must not be 'jumper': SA19 is neither an "
        "interrupt nor a DMA line",
    ),
    "pull without unit": (
        BASE + "remedies:\n  DACK3*: {kind: pull up, value: 10}\n",
        "riser.yaml:6:34: value-shape: remedies › DACK3* › value: a resistance must carry its unit, "
        "like 10 kΩ, not the bare number '10'",
    ),
    "pull of nothing": (
        BASE + "remedies:\n  DACK3*: {kind: pull up, value: 0 Ω}\n",
        "riser.yaml:6:34: value-shape: remedies › DACK3* › value must be more than 0 Ω, not '0 Ω'",
    ),
    "pull to -5": (
        BASE + "remedies:\n  DACK3*: {kind: pull up, value: 10 kΩ, to: +12V}\n",
        "riser.yaml:6:45: value-shape: remedies › DACK3* › to must be the supply of the logic, +5 V, not '+12V'",
    ),
    "pull up to gnd": (
        BASE + "remedies:\n  DACK3*: {kind: pull up, value: 10 kΩ, to: GND}\n",
        "riser.yaml:6:45: value-shape: remedies › DACK3* › to must be the supply of the logic, +5 V, not 'GND'",
    ),
    "pull down to 5": (
        BASE + "remedies:\n  DACK3*: {kind: pull down, to: +5V}\n",
        "riser.yaml:6:33: value-shape: remedies › DACK3* › to must be a return, not '+5V'",
    ),
    "to a run": (
        BASE + "remedies:\n  DACK3*: {kind: pull down, to: SD0..SD7}\n",
        "riser.yaml:6:33: value-shape: remedies › DACK3* › to must be one line, not 'SD0..SD7'",
    ),
    "to nowhere": (
        BASE + "remedies:\n  DACK3*: {kind: pull down, to: GDN}\n",
        "riser.yaml:6:33: name-unknown: remedies › DACK3* › to must be a line of the card's bus "
        "(isa-8bit), not 'GDN'. Nearest: GND",
    ),
    "open with value": (
        BASE + "remedies:\n  DACK3*: {kind: leave open, value: 10 kΩ}\n",
        "riser.yaml:6:37: value-shape: remedies › DACK3* › value must be left out for leave open, not be '10 kΩ'",
    ),
    "open with to": (
        BASE + "remedies:\n  DACK3*: {kind: leave open, to: GND}\n",
        "riser.yaml:6:34: value-shape: remedies › DACK3* › to must be left out for leave open, not be 'GND'",
    ),
    "jumper with to": (
        BASE + "remedies:\n  IRQ7: {kind: jumper, to: IRQ5}\njumpers:\n  IRQ7: IRQ5\n",
        "riser.yaml:6:28: value-shape: remedies › IRQ7 › to must be left out for jumper, not be "
        "'IRQ5'. The lines that a jumper leads to stand under jumpers",
    ),
    "regulator from itself": (
        BASE + "remedies:\n  -5V: {kind: regulator, to: -5V}\n",
        "riser.yaml:6:30: value-shape: remedies › -5V › to must be another rail, from which it is fed, not '-5V'",
    ),
    "regulator of other volts": (
        BASE + "remedies:\n  -5V: {kind: regulator, value: +5 V, to: -12V}\n",
        "riser.yaml:6:33: value-shape: remedies › -5V › value must be the −5 V of -5V, not '+5 V'",
    ),
    "regulator without unit": (
        BASE + "remedies:\n  -5V: {kind: regulator, value: -5, to: -12V}\n",
        "riser.yaml:6:33: value-shape: remedies › -5V › value: a voltage must carry its unit, like +5 "
        "V, not the bare number '-5'",
    ),
    "oscillator without unit": (
        BASE + "remedies:\n  OSC: {kind: oscillator, value: 14.318}\n",
        "riser.yaml:6:34: value-shape: remedies › OSC › value: a frequency must carry its unit, like "
        "4.77 MHz, not the bare number '14.318'",
    ),
    "jumper without entry": (
        BASE + "remedies:\n  IRQ7: jumper\n",
        "riser.yaml:6:3: key-missing: remedies › IRQ7 is a jumper, so jumpers must say to which line "
        "of the slot it leads. Write under jumpers: IRQ7: LINE",
    ),
    "jumper and remedy": (
        BASE + "remedies:\n  IRQ7: pull down\njumpers:\n  IRQ7: [IRQ5, IRQ3]\n",
        "riser.yaml:8:3: choice-contradicts: one thing must be chosen for a line: jumpers lead IRQ7 "
        "to IRQ5 or IRQ3, and remedies (line 6) say 'pull down'. Take one of the two out",
    ),
    "jumper nowhere": (
        BASE + "jumpers:\n  IRQ7: [IRQ7, IRQ5]\n",
        "riser.yaml:6:10: jumper-nowhere: jumpers › IRQ7 must lead to a line that the slot brings, "
        "and oakmere-88 has no IRQ7. It brings IRQ2–IRQ6",
    ),
    "jumper to unknown": (
        BASE + "jumpers:\n  IRQ7: IRW5\n",
        "riser.yaml:6:9: name-unknown: jumpers › IRQ7 must lead to a line of the host's bus "
        "(isa-8bit), not 'IRW5'. Nearest: IRQ5",
    ),
    "jumper to other group": (
        BASE + "jumpers:\n  IRQ7: SD7\n",
        "riser.yaml:6:9: jumper-nowhere: jumpers › IRQ7 must lead to a line of its own group: IRQ7 is "
        "in the group interrupt, SD7 in data",
    ),
    "jumper to other direction": (
        BASE + "jumpers:\n  DRQ3: DACK1*\n",
        "riser.yaml:6:9: jumper-nowhere: jumpers › DRQ3 must lead to a line that does the same: DRQ3 "
        "is active high and driven by the card, DACK1* active low and driven by the host",
    ),
    "jumper of a rail": (
        BASE + "jumpers:\n  -5V: +5V\n",
        "riser.yaml:6:3: value-shape: jumpers › -5V must be an interrupt or DMA line; -5V is in the group supply",
    ),
    "jumper of a line that is there": (
        BASE + "jumpers:\n  IRQ3: IRQ5\n",
        "riser.yaml:6:3: remedy-not-needed: a jumper must be for a line that the slot does not bring, "
        "and oakmere-88 brings IRQ3 (48). Take it out",
    ),
    "jumper of a run": (
        TARN + "jumpers:\n  IRQ14..IRQ15: IRQ5\n",
        "riser.yaml:6:3: value-shape: jumpers › IRQ14..IRQ15 must be one line: each has a jumper of its own",
    ),
    "jumper to nothing": (
        BASE + "jumpers:\n  IRQ7: []\n",
        "riser.yaml:6:3: value-shape: jumpers › IRQ7 must name at least one line of the slot",
    ),
    "jumper twice to one": (
        BASE + "jumpers:\n  IRQ7: [IRQ5, IRQ 5]\n",
        "riser.yaml:6:3: key-twice: jumpers › IRQ7 must name IRQ5 once. Take one of the two out",
    ),
    "acknowledge to another channel": (
        BASE + "jumpers:\n  DRQ3: [DRQ1, DRQ2]\n  DACK3*: [DACK2*, DACK1*]\n",
        "riser.yaml:7:3: choice-contradicts: the request and the acknowledge of a DMA channel must go to one channel "
        "of the slot: jumpers lead DACK3* to DACK2*, and DRQ3 (line 6) to DRQ1. Name lines of the same channel first "
        "in both",
    ),
    "request to another channel": (
        BASE + "jumpers:\n  DACK3*: DACK2*\n  DRQ3: DRQ1\n",
        "riser.yaml:7:3: choice-contradicts: the request and the acknowledge of a DMA channel must go to one channel "
        "of the slot: jumpers lead DRQ3 to DRQ1, and DACK3* (line 6) to DACK2*. Name lines of the same channel first "
        "in both",
    ),
    "request without acknowledge": (
        BASE + "jumpers:\n  DRQ3: DRQ1\n",
        "riser.yaml:6:3: choice-contradicts: the request and the acknowledge of a DMA channel must go to one channel "
        "of the slot: jumpers lead DRQ3 to DRQ1, and DACK3* is led nowhere. Write under jumpers: DACK3*: DACK1*, or "
        "take the jumper of DRQ3 out",
    ),
    "acknowledge without request": (
        BASE + "remedies:\n  DRQ3: leave open\njumpers:\n  DACK3*: DACK1*\n",
        "riser.yaml:8:3: choice-contradicts: the request and the acknowledge of a DMA channel must go to one channel "
        "of the slot: jumpers lead DACK3* to DACK1*, and DRQ3, for which remedies (line 6) say 'leave open', is led "
        "nowhere. Write under jumpers: DRQ3: DRQ1, or take the jumper of DACK3* out",
    ),
    "acknowledge that leads nowhere is said once": (
        BASE + "jumpers:\n  DRQ3: DRQ1\n  DACK3*: IRQ3\n",
        "riser.yaml:7:11: jumper-nowhere: jumpers › DACK3* must lead to a line of its own group: DACK3* is in the "
        "group DMA, IRQ3 in interrupt",
    ),
    "two jumpers to one": (
        TARN + "jumpers:\n  IRQ14: [IRQ5, IRQ7]\n  IRQ15: IRQ5\n",
        "riser.yaml:7:3: choice-contradicts: jumpers must lead each line of the card to another line "
        "of the slot; IRQ15 and IRQ14 (line 6) are both set to IRQ5. Name another line first in one "
        "of the two",
    ),
    "jumper to needed": (
        BASE + "cards:\n  - name: a\n    needs: [IRQ5]\njumpers:\n  IRQ7: [IRQ5]\n",
        "riser.yaml:9:3: choice-contradicts: jumpers › IRQ7 must not be set to IRQ5, which 'a' (line "
        "6) needs for itself. Name another line first",
    ),
    "jumper twice": (
        BASE + "jumpers:\n  IRQ7: IRQ5\n  irq_7: IRQ3\n",
        "riser.yaml:7:3: choice-contradicts: jumpers must name a line once, and say one thing of it: "
        "IRQ7 stands in line 6 already. Take one of the two out",
    ),
    "fuse without unit": (
        BASE + "fuses:\n  +5V: 1\n",
        "riser.yaml:6:8: value-shape: fuses › +5V: a current must carry its unit, like 1.5 A, not the bare number '1'",
    ),
    "fuse zero": (
        BASE + "fuses:\n  +5V: 0 A\n",
        "riser.yaml:6:8: value-shape: fuses › +5V must be more than 0 A, not '0 A'",
    ),
    "fuse negative": (
        BASE + "fuses:\n  +5V: {rating: -1 A}\n",
        "riser.yaml:6:17: value-shape: fuses › +5V › rating must be more than 0 A, not '-1 A'",
    ),
    "fuse unknown": (
        BASE + "fuses:\n  +6V: 1 A\n",
        "riser.yaml:6:3: supply-unknown: fuses must name a rail of the card (+5V, -5V, -12V or +12V), "
        "not '+6V'. Did you mean +5V?",
    ),
    "fuse host lacks": (
        BASE + "fuses:\n  -5V: 1 A\n",
        "riser.yaml:6:3: supply-unknown: a fuse must be in a rail that the slot brings, and "
        "oakmere-88 does not bring -5V. Take it out, or put it into the rail from which a part makes "
        "this one",
    ),
    "fuse on open": (
        BASE + "remedies:\n  -5V: leave open\nfuses:\n  -5V: 1 A\n",
        "riser.yaml:8:3: choice-contradicts: a fuse must be in a rail that the slot brings; for -5V "
        "remedies (line 6) say 'leave open'. Take one of the two out",
    ),
    "fuse twice": (
        BASE + "fuses:\n  +5V: 1 A\n  VCC: 2 A\n",
        "riser.yaml:7:3: choice-contradicts: fuses must name a rail once, and say one thing of it: "
        "+5V stands in line 6 already. Take one of the two out",
    ),
    "fuse perhaps": (
        BASE + "fuses:\n  +5V: {rating: 1 A, resettable: perhaps}\n",
        "riser.yaml:6:34: value-shape: fuses › +5V › resettable must be no or yes, not 'perhaps'",
    ),
    "length without unit": (
        BASE + "build:\n  as: ribbon\n  length: 150\n",
        "riser.yaml:7:11: value-shape: build › length: a length must carry its unit, like 2.54 mm, "
        "not the bare number '150'",
    ),
    "length zero": (
        BASE + "build:\n  as: ribbon\n  length: 0 mm\n",
        "riser.yaml:7:11: value-shape: build › length must be more than 0 mm, not '0 mm'",
    ),
    "length negative": (
        BASE + "build:\n  as: ribbon\n  length: -5 cm\n",
        "riser.yaml:7:11: value-shape: build › length must be more than 0 mm, not '-5 cm'",
    ),
    "unknown construction": (
        BASE + "build:\n  as: riboon\n  length: 5 cm\n",
        "riser.yaml:6:7: value-shape: build › as must be point to point, printed board or ribbon, not "
        "'riboon'. Did you mean ribbon?",
    ),
    "wire not in table": (
        BASE + "build:\n  as: ribbon\n  length: 15 cm\n  wire: 31 AWG\n",
        "riser.yaml:8:9: value-shape: build › wire must be a size of the table (22–30 AWG), not '31 "
        "AWG'. The nearest is 30 AWG",
    ),
    "wire without unit": (
        BASE + "build:\n  as: ribbon\n  length: 15 cm\n  wire: 28\n",
        "riser.yaml:8:9: value-shape: build › wire must be a wire size with its unit, like 28 AWG, "
        "not '28'. Write 28 AWG if that is meant",
    ),
    "wire AWG first": (
        BASE + "build:\n  as: ribbon\n  length: 15 cm\n  wire: AWG28\n",
        "riser.yaml:8:9: value-shape: build › wire must be a wire size with its unit, like 28 AWG, "
        "not 'AWG28'. Write 28 AWG if that is meant",
    ),
    "wire in mm": (
        BASE + "build:\n  as: ribbon\n  length: 15 cm\n  wire: 0.3 mm\n",
        "riser.yaml:8:9: value-shape: build › wire must be a wire size with its unit, like 28 AWG, not '0.3 mm'",
    ),
    "wire of a board": (
        BASE + "build:\n  as: printed board\n  length: 15 cm\n  wire: 28 AWG\n",
        "riser.yaml:8:3: choice-contradicts: build › wire must be given only for ribbon or point to "
        "point, not for the printed board of line 6. A printed board has trace, supply trace and "
        "copper",
    ),
    "trace of a ribbon": (
        BASE + "build:\n  as: ribbon\n  length: 15 cm\n  trace: 0.25 mm\n",
        "riser.yaml:8:3: choice-contradicts: build › trace must be given only for printed board, not "
        "for the ribbon of line 6. A ribbon has wire and supply wire",
    ),
    "trace zero": (
        BASE + "build:\n  as: printed board\n  length: 15 cm\n  trace: 0 mm\n",
        "riser.yaml:8:10: value-shape: build › trace must be more than 0 mm, not '0 mm'",
    ),
    "copper of wires": (
        BASE + "build:\n  as: point to point\n  length: 15 cm\n  copper: 35 µm\n",
        "riser.yaml:8:3: choice-contradicts: build › copper must be given only for printed board, not "
        "for the point to point of line 6. Single wires have wire sizes",
    ),
    "two wires in a ribbon": (
        BASE + "build:\n  as: ribbon\n  length: 15 cm\n  wire: 28 AWG\n  supply wire: 24 AWG\n",
        "riser.yaml:9:3: choice-contradicts: build › supply wire must be the size of wire in a "
        "ribbon, whose conductors are all alike: 24 AWG here, 28 AWG in line 8. For thicker supplies "
        "build it point to point, or feed them beside the ribbon",
    ),
    "clock zero": (
        BASE + "clock: 0 MHz\n",
        "riser.yaml:5:8: value-shape: clock must be more than 0 Hz, not '0 MHz'",
    ),
    "clock bare": (
        BASE + "clock: 4.77\n",
        "riser.yaml:5:8: value-shape: clock: a frequency must carry its unit, like 4.77 MHz, not the "
        "bare number '4.77'",
    ),
    "drive negative": (
        BASE + "drive: -24 mA\n",
        "riser.yaml:5:8: value-shape: drive must be more than 0 A, not '-24 mA'",
    ),
    "unknown option": (
        BASE + "options: [video bord]\n",
        "riser.yaml:5:11: option-unknown: options must name what can be fitted (video board), not "
        "'video bord'. Did you mean video board?",
    ),
    "no options": (
        BRINDLE + "options: [video board]\n",
        "riser.yaml:5:11: option-unknown: options must name what can be fitted (neither map has an "
        "option), not 'video board'",
    ),
    "draws unknown rail": (
        BASE + "cards:\n  - name: a\n    draws: {+50V: 1 A}\n",
        "riser.yaml:7:13: supply-unknown: cards › 1 › draws must name a rail of the card (+5V, -5V, "
        "-12V or +12V), not '+50V'. Did you mean +5V?",
    ),
    "draws negative": (
        BASE + "cards:\n  - name: a\n    draws: {-12V: -30 mA}\n",
        "riser.yaml:7:19: value-shape: cards › 1 › draws › -12V must be 0 or more, not '-30 mA'. What "
        "a card draws has no sign, on a negative rail neither",
    ),
    "draws bare": (
        BASE + "cards:\n  - name: a\n    draws: {-12V: 30}\n",
        "riser.yaml:7:19: value-shape: cards › 1 › draws › -12V: a current must carry its unit, like "
        "1.5 A, not the bare number '30'",
    ),
    "draws twice": (
        BASE + "cards:\n  - name: a\n    draws: {+5V: 1 A, VCC: 2 A}\n",
        "riser.yaml:7:23: choice-contradicts: cards › 1 › draws must name a rail once, and say one "
        "thing of it: +5V stands in line 7 already. Take one of the two out",
    ),
    "unknown kind of card": (
        BASE + "cards:\n  - name: a\n  - name: b\n    kind: programed I/O\n",
        "riser.yaml:8:11: value-shape: cards › 2 › kind must be a kind of card of isa-8bit "
        "(programmed I/O, programmed I/O with interrupt, DMA, ROM, memory that needs no refresh, "
        "memory refreshed by the bus, video on the oscillator line or serial lines with 12 V "
        "drivers), not 'programed I/O'. Did you mean programmed I/O?",
    ),
    "needs unknown": (
        BASE + "cards:\n  - name: a\n    needs: [IRQ3, IRQ55]\n",
        "riser.yaml:7:19: name-unknown: cards › 1 › needs must be a line of the card's bus "
        "(isa-8bit), not 'IRQ55'. Nearest: IRQ5 or IRQ7",
    ),
    "needs other": (
        BASE + "cards:\n  - name: a\n    needs: [LA17..LA19]\n",
        "riser.yaml:7:13: name-unknown: cards › 1 › needs must be a line of the card's bus "
        "(isa-8bit), not 'LA17', 'LA18' or 'LA19'. Nearest: SA17",
    ),
    "open but needed": (
        BASE + "cards:\n  - name: disk\n    needs: [DRQ3]\nremedies:\n  DRQ3: leave open\n",
        "riser.yaml:9:3: choice-contradicts: remedies › DRQ3 must not be left open: 'disk' (line 6) "
        "needs it. Choose a remedy for the line, or take the card out",
    ),
    "open but kind needs": (
        BRINDLE + "cards:\n  - name: serial\n    kind: serial lines with 12 V drivers\nremedies:\n  -12V: leave open\n",
        "riser.yaml:9:3: choice-contradicts: remedies › -12V must not be left open: 'serial' (line 6) "
        "is of the kind serial lines with 12 V drivers, which needs it. Choose a remedy for the line, "
        "or take the card out",
    ),
    "open but drawn": (
        BASE + "cards:\n  - name: old\n    draws: {-5V: 20 mA}\nremedies:\n  -5V: leave open\n",
        "riser.yaml:9:3: choice-contradicts: remedies › -5V must not be left open: 'old' (line 6) "
        "draws 20 mA from it. Choose a remedy for the line, or take the card out",
    ),
    "loads in words": (
        BASE + "cards:\n  - name: a\n    loads: two\n",
        "riser.yaml:7:12: value-shape: cards › 1 › loads must be a whole number below 1000000, not 'two'",
    ),
    "unknown host": (
        BASE.replace("oakmere-88", "oakmere-89"),
        "riser.yaml:3:7: value-shape: host must be the name of a connector in the library, or the "
        "path of a map, not 'oakmere-89'. Did you mean oakmere-88?",
    ),
    "decoupling perhaps": (
        BASE + "decoupling: some\n",
        "riser.yaml:5:13: value-shape: decoupling must be no or yes, not 'some'",
    ),
}


@pytest.mark.parametrize(("text", "expected"), BAD.values(), ids=list(BAD))
def test_what_is_wrong_is_named_with_its_line(text: str, expected: str, tmp_path: Path) -> None:
    assert said(read(tmp_path, text).complaints) == expected


def test_everything_wrong_is_named_not_only_the_first(tmp_path: Path) -> None:
    text = BASE + (
        "colour: red\noptions: [video bord]\nbuild: {as: ribbon, length: 150, wire: 31 AWG}\nclock: 0 Hz\n"
        "cards:\n  - name: a\n    kind: modem\n    draws: {+6V: 1 A, +5V: -1 A}\n    needs: [IRQ55]\n"
        "remedies:\n  DRQ3: hope\n  IOR*: pull up\n  XYZZY: leave open\njumpers:\n  IRQ7: IRQ7\nfuses:\n  -5V: 1 A\n"
    )
    got = read(tmp_path, text)
    assert got.design is not None  # what is right can be planned all the same
    assert [f.place.line for f in sorted(got.complaints, key=lambda f: f.place)] == [
        *(5, 6, 7, 8, 11, 12, 12, 13, 15, 16, 17, 19, 21)
    ]


def test_a_wrong_part_is_left_out_and_the_rest_stays(tmp_path: Path) -> None:
    got = read(tmp_path, BASE + "remedies:\n  IOR*: pull up\n  DRQ3: leave open\nfuses:\n  +5V: 0 A\n  +12V: 1 A\n")
    assert got.design
    assert [c.signal for c in got.design.choices] == ["DRQ3"]
    assert [f.rail for f in got.design.fuses] == ["+12V"]


@pytest.mark.parametrize("lacking", ["format: 1\n", "title: A riser\n", "host: oakmere-88\n", "card: isa-8bit\n"])
def test_without_what_a_design_needs_there_is_none_but_the_rest_is_looked_at(lacking: str, tmp_path: Path) -> None:
    got = read(tmp_path, BASE.replace(lacking, "") + "clock: 5\n")
    assert got.design is None
    assert {f.code for f in got.complaints} == {"key-missing", "value-shape"}
    assert (got.host is None) == lacking.startswith("host")
    assert (got.card is None) == lacking.startswith("card")


# ---------------------------------------------------------------------- good neighbours

GOOD: dict[str, str] = {
    "nothing but what is needed": BASE,
    "empty blocks": BASE + "options: []\ncards: []\nremedies:\njumpers:\nfuses:\n",
    "a ribbon without wire": BASE + "build: {as: ribbon, length: 6 in}\n",
    "a ribbon with one wire said twice": BASE
    + "build: {as: ribbon, length: 15 cm, wire: 28 AWG, supply wire: 28AWG}\n",
    "two wire sizes point to point": BASE
    + "build: {as: point to point, length: 1 m, wire: 30 AWG, supply wire: 22 AWG}\n",
    "a board": BASE + "build: {as: printed board, length: 5 cm, trace: 10 mil, supply trace: 2 mm, copper: 35 µm}\n",
    "a remedy for what comes with an option that is not fitted": BASE + "remedies: {OSC: oscillator}\n",
    "a remedy for a line of opposite polarity": BRINDLE + "remedies: {RESET: inverter}\n",
    "another remedy for a line of opposite polarity": BRINDLE + "remedies: {RESET: reset circuit}\n",
    "a run": BRINDLE + "remedies: {SA16..SA19: pull down, DACK0*..DACK3*: pull up}\n",
    "a regulator by its part's name": BASE + "remedies: {-5V: {kind: regulator, value: 79L05, to: -12V}}\n",
    "a jumper said under both": BASE + "remedies: {IRQ7: jumper}\njumpers: {IRQ7: IRQ5}\n",
    "two jumpers to different lines": TARN + "jumpers: {IRQ14: [IRQ5, IRQ7], IRQ15: [IRQ7, IRQ5]}\n",
    "resistances with a letter for the point": BASE + "remedies: {DACK3*: {kind: pull up, value: 4k7}}\n",
    "a DMA jumper with others": BASE + "jumpers: {DRQ3: [DRQ1, DRQ2], DACK3*: [DACK1*, DACK2*]}\n",
    "a DMA jumper": BASE + "jumpers: {DRQ3: DRQ1, DACK3*: DACK1*}\n",
    "a jumper to a line that a card needs, not set there": BASE
    + "cards: [{name: a, needs: [IRQ5]}]\njumpers: {IRQ7: [IRQ3, IRQ5]}\n",
    "a line of another generation": TARN.replace("isa-16bit", "isa-8bit") + "jumpers: {IRQ2: IRQ10}\n",
    "open and not needed": BASE + "cards: [{name: a, needs: [DRQ1]}]\nremedies: {DRQ3: leave open}\n",
    "open, and a card that says it draws nothing": BASE
    + "cards: [{name: a, draws: {-5V: 0 A}}]\nremedies: {-5V: leave open}\n",
    "a separate feed for a rail that is absent": BRINDLE + "remedies: {-12V: {kind: separate feed, value: -12 V}}\n",
    "two cards alike": BASE + "cards: [{name: a}, {name: a}]\n",
    "currents of every size": BASE + "fuses: {+5V: 1500 mA, +12V: .25 A}\ndrive: 24000 µA\n",
}


@pytest.mark.parametrize("text", GOOD.values(), ids=list(GOOD))
def test_what_is_right_is_not_complained_about(text: str, tmp_path: Path) -> None:
    assert said(read(tmp_path, text).complaints) == ""


def test_a_whole_file_becomes_the_design_that_it_says(tmp_path: Path) -> None:
    text = BASE + (
        "about: all of it\noptions: [video board]\n"
        "build:\n  as: point to point\n  length: 12 cm\n  wire: 28 AWG\n  supply wire: 24 AWG\n"
        "clock: 4.77 MHz\ndrive: 24 mA\nother slots: 3\n"
        "cards:\n  - name: serial card\n    kind: serial lines with 12 V drivers\n"
        "    draws: {VCC: 250 mA, -12V: 0.03 A}\n"
        "    needs: [IRQ3..IRQ4, -IOR]\n    loads: 2\n"
        "remedies:\n  /DACK3: {kind: pull up, value: 4.7 kΩ, to: VCC}\n  DRQ3: leave open\n"
        "jumpers:\n  IRQ7: [IRQ 5, irq3]\nfuses:\n  VCC: {rating: 1 A, resettable: yes}\ndecoupling: no\n"
    )
    got = design(tmp_path, text)
    assert got == Design(
        title="A riser",
        host="oakmere-88",
        card="isa-8bit",
        host_path="oakmere-88",
        card_path="isa-8bit",
        fitted=("video board",),
        build=Build("point to point", 120.0, awg=28, supply_awg=24, place=got.build.place if got.build else NOWHERE),
        clock_hz=4.77e6,
        other_slots=3,
        drive_a=0.024,
        cards=(
            CardUse(
                "serial card",
                "serial lines with 12 V drivers",
                {"+5V": 0.25, "-12V": 0.03},
                ("IRQ3", "IRQ4", "IOR*"),
                2,
                got.cards[0].place,
            ),
        ),
        choices=(
            Choice("DACK3*", "pull up", "4.7 kΩ", "+5V", got.choices[0].place),
            Choice("DRQ3", "leave open", place=got.choices[1].place),
        ),
        jumpers=(Jumper("IRQ7", ("IRQ5", "IRQ3"), got.jumpers[0].place),),
        fuses=(Fuse("+5V", 1.0, True, got.fuses[0].place),),
        decoupling=False,
        about="all of it",
        place=got.place,
    )
    places = [got.build, *got.cards, *got.choices, *got.jumpers, *got.fuses]
    assert [p.place.line for p in places if p] == [7, 16, 22, 23, 25, 27]
    assert str(got.place) == "riser.yaml"


def test_copper_is_counted_in_micrometres_and_traces_in_millimetres(tmp_path: Path) -> None:
    text = BASE + "build: {as: printed board, length: 5 cm, trace: 10 mil, supply trace: 2 mm, copper: 0.035 mm}\n"
    build = design(tmp_path, text).build
    assert build
    assert (build.trace_mm, build.supply_trace_mm, build.copper_um) == pytest.approx((0.254, 2.0, 35.0))
    assert (build.awg, build.supply_awg) == (None, None)


@pytest.mark.parametrize(
    ("build", "sizes"),
    [
        ("{as: ribbon, length: 1 cm, wire: 28 AWG}", (28, 28)),
        ("{as: ribbon, length: 1 cm, supply wire: 28 AWG}", (28, 28)),
        ("{as: ribbon, length: 1 cm}", (None, None)),
        ("{as: point to point, length: 1 cm, wire: 28 AWG}", (28, 28)),
        ("{as: point to point, length: 1 cm, supply wire: 24 AWG}", (None, 24)),
    ],
)
def test_supplies_have_the_size_of_wire_where_none_is_given(
    build: str, sizes: tuple[int | None, int | None], tmp_path: Path
) -> None:
    got = design(tmp_path, f"{BASE}build: {build}\n").build
    assert got
    assert (got.awg, got.supply_awg) == sizes


def test_the_thickest_size_of_all_is_a_size(tmp_path: Path) -> None:
    path = tmp_path / "riser.yaml"
    path.write_text(BASE + "build: {as: ribbon, length: 1 cm, wire: 0 AWG, supply wire: 2 AWG}\n", encoding="utf-8")
    got = designs.read(path, "riser.yaml", load, gauges=range(31))
    assert [f.code for f in got.complaints] == ["choice-contradicts"]
    assert got.design
    assert got.design.build
    assert (got.design.build.awg, got.design.build.supply_awg) == (0, 0)


def test_an_option_fitted_beside_the_file_counts(tmp_path: Path) -> None:
    text = BASE + "remedies:\n  OSC: oscillator\n"
    assert design(tmp_path, text).fitted == ()
    got = read(tmp_path, text, ("video board",))
    assert [f.code for f in got.complaints] == ["remedy-not-needed"]
    assert got.design
    assert got.design.fitted == ("video board",)


# ---------------------------------------------------------------------- the machine's own map

OWN_MAP = """\
format: 1
title: own
bus: isa-8bit
end: host
body: {form: pin header, rows: 1, places: 8, labels: serial, first: top left, pitch: 2.54 mm}
options: {dma board: brings DMA}
own signals:
  HELP: a lamp
contacts:
  1: GND
  2: +5V
  3: {signal: IRQ3, with: dma board}
  4: {signal: IRQ5, active: low}
  5: IRQ4
  6: HELP
  7: IRQ6
  8: IRQ6
"""


@pytest.mark.parametrize(
    ("target", "message"),
    [
        ("IRQ3", "must lead to a line that the slot brings, and mine brings IRQ3 only with dma board"),
        (
            "IRQ5",
            "must lead to a line that the slot brings as the bus has it, and mine has IRQ5* (4), of opposite polarity",
        ),
        ("IRQ6", "must lead to a line that the slot brings, and mine does not tell which contact is IRQ6"),
        ("HELP", "must lead to a line of its own group: IRQ7 is in the group interrupt, HELP in own"),
        ("IRQ2", "must lead to a line that the slot brings, and mine has no IRQ2"),
    ],
)
def test_a_jumper_leads_only_to_what_the_machine_surely_brings(target: str, message: str, tmp_path: Path) -> None:
    (tmp_path / "mine.yaml").write_text(OWN_MAP, encoding="utf-8")
    got = read(tmp_path, BASE.replace("oakmere-88", "mine.yaml") + f"jumpers:\n  IRQ7: [IRQ4, {target}]\n")
    assert [f.message for f in got.complaints] == [f"jumpers › IRQ7 {message}"]
    assert got.complaints[0].place.line == 6
    assert got.design
    assert [j.to for j in got.design.jumpers] == [("IRQ4",)]


@pytest.mark.parametrize(
    ("host", "card", "jumper", "message"),
    [
        (
            "IRQ4 IRQ5",
            "IRQ7 IRQ4*",
            "IRQ7: [IRQ4, IRQ5]",
            "IRQ7 to IRQ4, and card has it with the opposite polarity. Take IRQ4 out",
        ),
        (
            "IRQ4 IRQ5",
            "IRQ7 IRQ4*",
            "IRQ7: [IRQ5, IRQ4]",
            "IRQ7 to IRQ4, and card has it with the opposite polarity. Take IRQ4 out",
        ),
        (
            "IRQ4 IRQ5",
            "IRQ7 IRQ4* IRQ5*",
            "IRQ7: [IRQ5, IRQ4]",
            "IRQ7 to IRQ5 or IRQ4, and card has them with the opposite polarity. Take the jumper out",
        ),
        (
            "IRQ3 IRQ5",
            "IRQ4*",
            "IRQ4: [IRQ3]",
            "IRQ4 to IRQ3, and card has IRQ4* (3), of opposite polarity. Take the jumper out, and set the card to "
            "another line",
        ),
        (
            "IRQ3 IRQ4*",
            "IRQ4",
            "IRQ4: [IRQ3]",
            "IRQ4 to IRQ3, and mine brings IRQ4 with the opposite polarity: an inverter leads it, and no jumper does. "
            "Take the jumper out",
        ),
        ("IRQ3 IRQ4", "IRQ7", "IRQ7: [IRQ3, IRQ4]", ""),
    ],
)
def test_a_jumper_joins_lines_of_one_polarity(host: str, card: str, jumper: str, message: str, tmp_path: Path) -> None:
    head = OWN_MAP[: OWN_MAP.index("  3:")]
    for name, text, end in (("mine", host, "host"), ("card", card, "card")):
        lines = [*text.split(), *["open"] * 6][:6]
        body = "".join(f"  {at}: {line}\n" for at, line in enumerate(lines, 3))
        (tmp_path / f"{name}.yaml").write_text(head.replace("end: host", f"end: {end}") + body, encoding="utf-8")
    base = BASE.replace("oakmere-88", "mine.yaml").replace("isa-8bit", "card.yaml")
    got = read(tmp_path, f"{base}jumpers:\n  {jumper}\n")
    rule = "a jumper must join lines of the same polarity: jumpers lead"
    assert said(got.complaints) == (f"riser.yaml:6:3: choice-contradicts: {rule} {message}" if message else "")


@pytest.mark.parametrize(
    ("jumpers", "place", "message"),
    [
        (
            "DRQ3: [DRQ1, DRQ2]\n  DACK3*: [DACK1*]",
            7,
            "DRQ3 (line 6) can be led to DRQ2, and DACK3* not to DACK2*. Name DACK2* under DACK3* too, or take DRQ2 "
            "out",
        ),
        (
            "DRQ3: [DRQ1]\n  DACK3*: [DACK1*, DACK2*]",
            7,
            "DACK3* can be led to DACK2*, and DRQ3 (line 6) not to DRQ2. Name DRQ2 under DRQ3 too, or take DACK2* out",
        ),
        (
            "DACK3*: [DACK1*, DACK0*]\n  DRQ3: [DRQ1]",
            7,
            "DACK3* (line 6) can be led to DACK0*, and DRQ3 not to the same channel. Take DACK0* out",
        ),
        ("DRQ3: [DRQ1, DRQ2]\n  DACK3*: [DACK1*, DACK2*]", 0, ""),
    ],
)
def test_the_alternates_of_the_two_jumpers_of_a_dma_channel_pair_too(
    jumpers: str, place: int, message: str, tmp_path: Path
) -> None:
    got = read(tmp_path, f"{BASE}jumpers:\n  {jumpers}\n")
    rule = "the jumpers of the request and the acknowledge of a DMA channel must be movable together:"
    assert said(got.complaints) == (f"riser.yaml:{place}:3: choice-contradicts: {rule} {message}" if message else "")


@pytest.mark.parametrize(
    ("contact", "has"), [("DACK3*", "a wire to DACK3* of the slot (3)"), ("DACK3", "an inverter to DACK3* of the slot")]
)
def test_a_request_is_not_led_away_from_its_acknowledge_that_the_slot_brings(
    contact: str, has: str, tmp_path: Path
) -> None:
    lines = OWN_MAP[: OWN_MAP.index("  3:")] + f"  3: {contact}\n  4: DRQ1\n  5: DACK1*\n  6..8: open\n"
    (tmp_path / "mine.yaml").write_text(lines, encoding="utf-8")
    got = read(tmp_path, BASE.replace("oakmere-88", "mine.yaml") + "jumpers:\n  DRQ3: DRQ1\n")
    assert said(got.complaints) == (
        "riser.yaml:6:3: choice-contradicts: the request and the acknowledge of a DMA channel must go to one channel "
        f"of the slot: jumpers lead DRQ3 to DRQ1, and DACK3* has {has}. Take the jumper out, and set the card to a "
        "channel of which the slot brings both lines"
    )


def test_a_request_of_a_card_without_its_acknowledge_is_not_led(tmp_path: Path) -> None:
    card = OWN_MAP[: OWN_MAP.index("  3:")].replace("host", "card") + "  3: DRQ3\n  4..8: open\n"
    (tmp_path / "mine.yaml").write_text(card, encoding="utf-8")
    got = read(tmp_path, BASE.replace("isa-8bit", "mine.yaml") + "jumpers:\n  DRQ3: DRQ1\n")
    assert said(got.complaints) == (
        "riser.yaml:6:3: choice-contradicts: the request and the acknowledge of a DMA channel must go to one channel "
        "of the slot: jumpers lead DRQ3 to DRQ1, and mine has no DACK3*. Take the jumper out: DMA needs both"
    )


def test_a_lacking_jumper_of_an_acknowledge_is_said_once(tmp_path: Path) -> None:
    got = read(tmp_path, BASE + "remedies: {DACK3*: jumper}\njumpers: {DRQ3: DRQ1}\n")
    assert [f.code for f in got.complaints] == ["key-missing"]


def test_names_must_be_lines_that_the_card_of_the_file_has(tmp_path: Path) -> None:
    card = OWN_MAP.replace("end: host", "end: card").replace("7: IRQ6", "7: DRQ1").replace("8: IRQ6", "8: open")
    (tmp_path / "card.yaml").write_text(card, encoding="utf-8")
    got = read(
        tmp_path,
        BASE.replace("isa-8bit", "card.yaml") + "cards: [{name: a, needs: [IRQ3, IRQ4], draws: {+12V: 1 A}}]\n"
        "remedies: {DACK1*..DACK3*: pull up, HELP: pull up}\n"
        "jumpers: {IRQ7: IRQ5}\nfuses: {+12V: 1 A}\n",
    )
    assert [f"{f.place.line}: {f.message}" for f in got.complaints] == [
        "5: cards › 1 › needs must be a line of the card, and card has no IRQ3 with the options fitted",
        "5: cards › 1 › draws must name a rail of the card (+5V), not '+12V'",
        "6: remedies › DACK1*..DACK3* must be a line of the card, and card has no DACK1*–DACK3* "
        "with the options fitted",
        "7: jumpers › IRQ7 must be a line of the card, and card has no IRQ7 with the options fitted",
        "8: fuses must name a rail of the card (+5V), not '+12V'",
    ]
    assert got.design
    assert [(c.signal, c.kind) for c in got.design.choices] == [("HELP", "pull up")]


# ---------------------------------------------------------------------- the maps


def test_a_map_is_looked_for_beside_the_adapter_file_wherever_the_program_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for folder in ("design/maps", "elsewhere"):
        (tmp_path / folder).mkdir(parents=True)
    (tmp_path / "design/maps/mine.yaml").write_text(OWN_MAP, encoding="utf-8")
    monkeypatch.chdir(tmp_path / "elsewhere")
    for written in ("maps/mine.yaml", "./maps/mine.yaml", "../design/maps/mine.yaml"):
        got = design(tmp_path / "design", BASE.replace("oakmere-88", written))
        assert got.host == written
        assert Path(got.host_path).samefile(tmp_path / "design/maps/mine.yaml")
        assert got.card_path == "isa-8bit"


@pytest.mark.parametrize(
    ("host", "message"),
    [
        (
            "maps/mine.yaml",
            "host must be a map that can be read, not 'maps/mine.yaml'; looked for 'maps/mine.yaml': "
            "there is no such file",
        ),
        (
            "./mien.yaml",
            "host must be a map that can be read, not './mien.yaml'; looked for 'mien.yaml': "
            "there is no such file. Did you mean mine.yaml?",
        ),
        (
            "oakmere-8.yaml",
            "host must be a map that can be read, not 'oakmere-8.yaml'; looked for 'oakmere-8.yaml': "
            "there is no such file. Did you mean oakmere-88?",
        ),
        (
            "broken.yaml",
            "host must be a map that can be read; 1 complaint leaves nothing of 'broken.yaml'. "
            "`pinmap check broken.yaml` shows them",
        ),
        (
            "nothing.yaml",
            "host must be a map that can be read, not 'nothing.yaml'; looked for 'nothing.yaml': this is not YAML: "
            "a bracket is not closed here, or a comma is missing",
        ),
        (
            "riser.yaml",
            "host must be a map that can be read; 3 complaints leave nothing of 'riser.yaml'. "
            "`pinmap check riser.yaml` shows them",
        ),
        (
            "folder/",
            "host must be a map that can be read, not 'folder/'; looked for 'folder': a pin map must be a file, "
            "not a folder",
        ),
        (
            "brindle",
            "host must be the name of a connector in the library, or the path of a map, not 'brindle'. "
            "Did you mean brindle-portable?",
        ),
        (
            '""',
            "host must be the name of a connector in the library, or the path of a map, not ''. "
            "`pinmap list` shows what there is",
        ),
    ],
)
def test_a_map_that_cannot_be_read_is_named_with_where_it_was_looked_for(
    host: str, message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "folder").mkdir()
    (tmp_path / "mine.yaml").write_text(OWN_MAP, encoding="utf-8")
    (tmp_path / "broken.yaml").write_text("format: 1\n", encoding="utf-8")
    (tmp_path / "nothing.yaml").write_text("a: [\n", encoding="utf-8")
    got = read(Path(), BASE.replace("oakmere-88", host))
    assert got.design is None
    assert said(got.complaints) == f"riser.yaml:3:7: value-shape: {message}"
    assert got.card is not None


def test_both_maps_are_complained_about_at_once(tmp_path: Path) -> None:
    got = read(tmp_path, BASE.replace("oakmere-88", "x").replace("isa-8bit", "y"))
    assert [f.place.line for f in got.complaints] == [3, 4]


def test_findings_in_a_map_stay_with_the_map(tmp_path: Path) -> None:
    got = read(tmp_path, BASE)
    assert got.host
    assert got.host.findings
    assert got.complaints == ()


# ---------------------------------------------------------------------- hostile files

HOSTILE = {
    "an alias": ("a: &a x\nb: *a\n", "riser.yaml:5:4: a pin map must not use YAML anchors"),
    "a tag": ("about: !!python/name:os.system x\n", "riser.yaml:5:8: a pin map must not use YAML tags"),
    "a control character": ("about: a\x1b[31m\n", "riser.yaml:5:9: the file must be plain text, without control char"),
    "too deep": (f"about: {'[' * 40}\n", "riser.yaml:5:"),
    "too many": (
        "".join(f"k{i}: v\n" for i in range(12_000)),
        "riser.yaml:10000:8: a file must not hold more than 20000",
    ),
}


@pytest.mark.parametrize(("text", "message"), HOSTILE.values(), ids=list(HOSTILE))
def test_what_adapter_files_do_without_is_refused(text: str, message: str, tmp_path: Path) -> None:
    with pytest.raises(UnreadableError) as caught:
        read(tmp_path, BASE + text)
    assert str(caught.value).startswith(message)


LONG = "x" * 10_000


@pytest.mark.parametrize(
    "text",
    [
        BASE.replace("A riser", LONG),
        BASE.replace("oakmere-88", LONG),
        BASE.replace("oakmere-88", f"{LONG}.yaml"),
        BASE.replace("oakmere-88", '"a\\0b.yaml"'),
        BASE + f"options: [{LONG}, video board]\n",
        BASE + f"remedies:\n  ? {LONG}\n  : pull up\n",
        BASE + f"remedies: {{DRQ3: {LONG}}}\n",
        BASE + f"remedies: {{DACK3*: {{kind: pull up, value: {LONG}, to: {LONG}}}}}\n",
        BASE + f"jumpers: {{IRQ7: [{LONG}, IRQ5]}}\n",
        BASE + f"fuses: {{+5V: {LONG}}}\n",
        BASE + f"build: {{as: ribbon, length: {LONG}, wire: {LONG}}}\n",
        BASE
        + f"cards: [{{name: {LONG}}}, {{name: a, needs: [{LONG}, IRQ5], kind: {LONG}, draws: {{{LONG[:90]}: 1 A}}}}]\n",
        BASE + "clock: " + "9" * 5000 + " Hz\n",
    ],
)
def test_ten_thousand_letters_are_complained_about_in_few(text: str, tmp_path: Path) -> None:
    got = read(tmp_path, text)
    assert got.complaints
    assert all(len(f.message) < 700 for f in got.complaints)


def test_signs_that_would_act_on_a_screen_are_shown_as_escapes(tmp_path: Path) -> None:
    got = read(tmp_path, BASE.replace("A riser", '"a\\e[31m"') + 'remedies:\n  "X\\u202eY": "\\e[2J"\n')
    assert "\x1b" not in said(got.complaints)
    assert "\u202e" not in said(got.complaints)
    assert {f.code for f in got.complaints} == {"text-unprintable", "value-shape"}


def test_very_many_wrong_entries_take_no_long_time(tmp_path: Path) -> None:
    names = [f"SA0..SA{i}" for i in range(20, 99)] + [f"XQ{i}Z" for i in range(4_000)]
    text = BASE + "remedies:\n" + "".join(f"  {name}: pull up\n" for name in names)
    text += "cards:\n" + "".join(f"  - {{name: a, draws: {{+5V: {i} kg}}}}\n" for i in range(1000))
    begun = time.process_time()
    got = read(tmp_path, text)
    assert time.process_time() - begun < 8
    assert len(got.complaints) > 5000


def test_blocks_that_stand_twice_are_named_and_the_last_is_taken(tmp_path: Path) -> None:
    cards = "cards: [{draws: {+5V: 1 A}}, {name: b}, {name: c, needs: [IRQ5]}]\ncards: [{name: d, draws: {+5V: 2 A}}]\n"
    got = read(
        tmp_path,
        BASE + cards + "options: [a, b]\noptions: [video board]\njumpers: {IRQ7: [IRQ3]}\njumpers: {IRQ7: IRQ5}\n",
    )
    assert [(f.place.line, f.code) for f in got.complaints] == [
        (5, "key-missing"),
        (6, "key-twice"),
        (8, "key-twice"),
        (10, "key-twice"),
    ]
    assert got.design
    assert [(c.name, dict(c.draws_a)) for c in got.design.cards] == [("d", {"+5V": 2.0})]
    assert got.design.fitted == ("video board",)
    assert [j.to for j in got.design.jumpers] == [("IRQ5",)]


def test_the_place_of_an_entry_is_its_own_after_one_that_was_left_out(tmp_path: Path) -> None:
    text = BASE + f"cards:\n  - {{kind: DMA}}\n  - {{name: b, needs: [{LONG}, IRQ55]}}\n"
    got = read(tmp_path, text)
    assert [(f.place.line, f.message[:22]) for f in got.complaints] == [
        (6, "cards › 1 must have na"),
        (7, "cards › 2 › needs › 1 "),
        (7, "cards › 2 › needs must"),
    ]
    assert got.complaints[-1].place.column > 10_000
    assert got.design
    assert [c.place.line for c in got.design.cards] == [7]


# ---------------------------------------------------------------------- properties

_KEYS = [
    *schema.schema("adapter")["$defs"]["AdapterFile"]["properties"],
    "as",
    "length",
    "wire",
    "name",
    "kind",
    "draws",
]
_WORDS = st.sampled_from(
    [
        *_KEYS,
        *("oakmere-88", "isa-8bit", "1", "IRQ7", "IRQ3..IRQ9", "DACK3*", "+5V", "-5V", "leave open", "pull up"),
        *("1 A", "-1 A", "10 kΩ", "video board", "yes", "ribbon", "15 cm", "28 AWG", "DMA", "", "a..b", "x.yaml", "~"),
    ]
) | st.text(max_size=12)
_TREES: st.SearchStrategy[Any] = st.recursive(
    _WORDS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_WORDS, inner, max_size=3),
    max_leaves=12,
)


@settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.dictionaries(st.sampled_from(_KEYS), _TREES, max_size=8))
def test_any_tree_is_a_design_or_complaints(tmp_path: Path, tree: dict[str, Any]) -> None:
    text = yaml.safe_dump(
        {"format": 1, "title": "t", "host": "oakmere-88", "card": "isa-8bit"} | tree, allow_unicode=True
    )
    try:
        got = read(tmp_path, text)
    except UnreadableError:
        return
    assert got.design is not None or got.complaints
    for finding in got.complaints:
        assert finding.code in RULES
        assert finding.place.line > 0
        assert finding.message == visible(finding.message)


@settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.sampled_from(["oakmere-riser", "brindle-riser", "tarn-riser"]), st.data())
def test_a_design_with_a_piece_cut_out_or_put_in_is_a_design_or_complaints(
    tmp_path: Path, name: str, data: st.DataObject
) -> None:
    text = demo(name).read_text(encoding="utf-8")
    start = data.draw(st.integers(0, len(text)))
    stop = data.draw(st.integers(start, min(len(text), start + 40)))
    put = data.draw(st.text(max_size=6) | st.sampled_from([": ", "\n", "- ", "{", "  ", "IRQ", " A"]))
    try:
        got = read(tmp_path, text[:start] + put + text[stop:])
    except UnreadableError:
        return
    assert got.design is not None or got.complaints
    assert all(f.place.line > 0 for f in got.complaints)


_NOTATIONS = ["{}*", "-{}", "/{}", "{}#", "n{}", "{}_N", "~{{{}}}", "{}"]


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.sampled_from(_NOTATIONS),
    st.sampled_from(["+5V", "VCC", "+5 VDC", "5V"]),
    st.sampled_from(["IRQ7", "irq_7", "IRQ 7"]),
)
def test_a_design_is_the_same_in_whatever_notation_its_names_are(
    tmp_path: Path, notation: str, rail: str, line: str
) -> None:
    def written(low: str, rail: str, line: str) -> str:
        five = line.replace("7", "5")
        return BASE + (
            f"cards:\n  - name: a\n    draws: {{'{rail}': 1 A}}\n    needs: ['{low.format('IOR')}']\n"
            f"remedies:\n  '{low.format('DACK3')}': {{kind: pull up, value: 10 kΩ, to: '{rail}'}}\n"
            f"jumpers:\n  '{line}': '{five}'\nfuses:\n  '{rail}': 1 A\n"
        )

    assert design(tmp_path, written(notation, rail, line)) == design(tmp_path, written("{}*", "+5V", "IRQ7"))


def rewritten(got: Design) -> str:
    """A design as the text of a file."""
    tree: dict[str, Any] = {
        "format": 1,
        "title": got.title,
        "about": got.about,
        "host": got.host,
        "card": got.card,
        "options": list(got.fitted),
        "other slots": got.other_slots,
        "other draws": {rail: f"{amps!r} A" for rail, amps in got.other_draws_a.items()},
        "cards": [
            {
                "name": c.name,
                "kind": c.kind,
                "draws": {rail: f"{amps!r} A" for rail, amps in c.draws_a.items()},
                "needs": list(c.needs),
                **({} if c.loads is None else {"loads": c.loads}),
            }
            for c in got.cards
        ],
        "remedies": {c.signal: {"kind": c.kind, "value": c.value, "to": c.to} for c in got.choices},
        "jumpers": {j.signal: list(j.to) for j in got.jumpers},
        "fuses": {
            f.rail: {
                "rating": f"{f.rating_a!r} A",
                "resettable": "yes" if f.resettable else "no",
                **({} if f.ohms is None else {"resistance": f"{f.ohms!r} Ω"}),
            }
            for f in got.fuses
        },
        "decoupling": "yes" if got.decoupling else "no",
    }
    if got.clock_hz is not None:
        tree["clock"] = f"{got.clock_hz!r} Hz"
    if got.drive_a is not None:
        tree["drive"] = f"{got.drive_a!r} A"
    if got.build:
        sizes = {"wire": got.build.awg, "supply wire": got.build.supply_awg}
        lengths = {"trace": got.build.trace_mm, "supply trace": got.build.supply_trace_mm, "copper": None}
        tree["build"] = {
            "as": got.build.construction,
            "length": f"{got.build.length_mm!r} mm",
            **{key: f"{size} AWG" for key, size in sizes.items() if size is not None},
            **{key: f"{mm!r} mm" for key, mm in lengths.items() if mm is not None},
            **({"copper": f"{got.build.copper_um!r} µm"} if got.build.copper_um is not None else {}),
        }
    if got.board:
        made = got.board
        words: dict[str, str | None] = {"form": made.form, "host": made.host, "card": made.card}
        words |= {"bracket": made.bracket, "component side": made.facing}
        sizes = {"width": made.width_um, "height": made.height_um, "track": made.track_um, "gap": made.gap_um}
        sizes |= {"via": made.via_um, "via drill": made.via_drill_um, "edge": made.edge_um}
        sizes |= {"thickness": made.thickness_um}
        tree["board"] = {
            **{key: word for key, word in words.items() if word is not None},
            **{key: f"{um} µm" for key, um in sizes.items() if um is not None},
        }
    return yaml.safe_dump(tree, allow_unicode=True, sort_keys=False)


def bare(got: Design) -> Design:
    return replace(
        got,
        place=NOWHERE,
        build=replace(got.build, place=NOWHERE) if got.build else None,
        cards=tuple(replace(c, place=NOWHERE) for c in got.cards),
        choices=tuple(replace(c, place=NOWHERE) for c in got.choices),
        jumpers=tuple(replace(j, place=NOWHERE) for j in got.jumpers),
        fuses=tuple(replace(f, place=NOWHERE) for f in got.fuses),
        board=replace(got.board, place=NOWHERE) if got.board else None,
    )


# ---------------------------------------------------------------------- the designs of the library

DEMOS = ("brindle-riser", "oakmere-riser", "tarn-riser")


def demo(name: str) -> Path:
    return library.shipped() / "demo" / "adapters" / f"{name}.yaml"


@pytest.mark.parametrize("name", DEMOS)
def test_a_shipped_design_is_read_without_complaint_and_comes_back_when_written(name: str, tmp_path: Path) -> None:
    wanted = design(tmp_path, demo(name).read_text(encoding="utf-8"))
    assert bare(design(tmp_path, rewritten(wanted))) == bare(wanted)
    assert wanted.cards
    assert wanted.build
    assert "nvented" in wanted.about


def test_the_shipped_designs_show_every_key_and_every_construction() -> None:
    def keys(tree: Any) -> Iterator[str]:
        if isinstance(tree, dict):
            yield from tree
            tree = list(tree.values())
        for child in tree if isinstance(tree, list) else ():
            yield from keys(child)

    trees = [yaml.safe_load(demo(name).read_text(encoding="utf-8")) for name in DEMOS]
    shown = {key for tree in trees for key in keys(tree)}
    made = schema.schema("adapter")["$defs"]
    assert {key for definition in made.values() for key in definition["properties"]} <= shown
    assert {tree["build"]["as"] for tree in trees} == {"ribbon", "point to point", "printed board"}


def test_a_design_is_found_by_name_and_by_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(library.ENVIRONMENT, raising=False)
    assert [e.name for e in library.designs()] == list(DEMOS)
    assert library.find_design("tarn-riser") == (demo("tarn-riser"), "tarn-riser.yaml", "tarn-riser")
    assert library.find_design("./x/mine.yaml") == (Path("x/mine.yaml"), "./x/mine.yaml", "mine")
    (tmp_path / "adapters").mkdir()
    (tmp_path / "adapters" / "tarn-riser.yaml").write_text(BASE, encoding="utf-8")
    (tmp_path / "adapters" / "mine.yml").write_text(BASE, encoding="utf-8")
    monkeypatch.setenv(library.ENVIRONMENT, str(tmp_path))
    assert [e.name for e in library.designs()] == ["mine", "tarn-riser", "brindle-riser", "oakmere-riser"]
    assert library.find_design("tarn-riser")[0] == tmp_path / "adapters" / "tarn-riser.yaml"
    assert "mine" not in [e.name for e in library.entries()]


def test_a_design_that_is_not_there_is_named_with_the_nearest() -> None:
    with pytest.raises(NotFoundError) as caught:
        library.find_design("tarn-rise")
    assert str(caught.value) == "there is no file and no adapter file 'tarn-rise'. Did you mean tarn-riser?"


def test_what_is_no_design_is_said_to_be_none(tmp_path: Path) -> None:
    def said_of(given_name: str) -> str:
        with pytest.raises((NotFoundError, UnreadableError)) as caught:
            library.find_design(given_name)
        return str(caught.value)

    assert said_of("oakmere-88") == (
        "an adapter file must be named, and 'oakmere-88' is a connector. `pinmap new --adapter` writes one"
    )
    assert said_of(str(tmp_path)) == f"{tmp_path}: an adapter file must be a file, not a folder"
    for name, text, what in (("map", OWN_MAP, "it is a pin map"), ("bare", "\n# nothing yet\n", "it is empty")):
        path = tmp_path / f"{name}.yaml"
        path.write_text(text, encoding="utf-8")
        assert said_of(str(path)) == (
            f"{path}: the file must hold an adapter file; {what}. `pinmap new --adapter` writes one"
        )


@pytest.mark.parametrize(("key", "lacking"), [("host", "card"), ("card", "host")])
def test_a_file_with_one_of_its_two_maps_is_an_adapter_file_that_lacks_the_other(
    key: str, lacking: str, tmp_path: Path
) -> None:
    text = "".join(f"{line}\n" for line in BASE.splitlines() if not line.startswith(lacking))
    path = tmp_path / "riser.yaml"
    path.write_text(text, encoding="utf-8")
    assert key in text
    assert library.is_design(str(path))
    assert library.find_design(str(path))[0] == path
    assert said(read(tmp_path, text).complaints) == f"riser.yaml:1:1: key-missing: the file must have {lacking}"


LOOKS: dict[str, tuple[str, bool]] = {
    "an adapter file": (BASE, True),
    "a broken one": (BASE + "remedies: [\n", True),
    "with keys in quotes": ("\"host\": a\n'card' : b\n", True),
    "all in braces": ("{host: a, card: b}", True),
    "indented as a whole": ("  host: a\n  card: b\n", True),
    "with Windows line ends": (BASE.replace("\n", "\r\n"), True),
    "without card": ("format: 1\nhost: oakmere-88\n", True),
    "without host": ("format: 1\ncard: isa-8bit\n", True),
    "a map without contacts": ("format: 1\nhost: a\nbody: {rows: 1}\n", False),
    "a map": (OWN_MAP, False),
    "a map with keys that it should not have": (OWN_MAP + "host: a\ncard: b\n", False),
    "host and card further in": ("format: 1\nabout:\n  host: a\n  card: b\n", False),
    "in comments": ("format: 1\n#host: a\n# card: b\n", False),
    "a list": ("- host: a\n- card: b\n", False),
    "nothing": ("", False),
    "no YAML": ("{host: a, card: b", False),
    "one very long line": ("a" + " " * 900_000, False),
}


@pytest.mark.parametrize(("text", "looks"), LOOKS.values(), ids=list(LOOKS))
def test_an_adapter_file_is_known_by_its_keys(text: str, looks: bool, tmp_path: Path) -> None:
    path = tmp_path / "some.yaml"
    path.write_bytes(text.encode())
    begun = time.process_time()
    assert library.looks_like_design(path) is looks
    assert library.is_design(str(path)) is looks
    assert time.process_time() - begun < 3


@pytest.mark.parametrize("given_path", ["", "nowhere.yaml", "a\0b", "\udc80", ".", "x" * 5000])
def test_what_cannot_be_read_does_not_look_like_an_adapter_file(given_path: str) -> None:
    assert library.looks_like_design(given_path) is False
    assert library.is_design(given_path) is False


@settings(
    max_examples=100, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.binary(max_size=200))
def test_looking_at_any_bytes_never_raises(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "some.yaml"
    path.write_bytes(raw)
    assert library.looks_like_design(path) in (True, False)


def test_a_name_is_that_of_a_design_or_of_a_map() -> None:
    assert [library.is_design(name) for name in (*DEMOS, "oakmere-88", "isa-8bit", "nothing")] == [True] * 3 + [
        False
    ] * 3
    assert all(library.is_design(str(demo(name))) for name in DEMOS)
    assert not any(library.is_design(str(e.path)) for e in library.entries())
