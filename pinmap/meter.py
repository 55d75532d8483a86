"""What a multimeter prints, read as ohms and volts.

- ohms: `0.3`, `0.3 Ω`, `12.4k`, `1.2 MΩ`, `0.3 ohm`, and with the letter for the point, as parts are marked
  (IEC 60062): `4k7`, `2R2`; a bare number is ohms. Over range: `OL`, `O.L`, `0L`, `OL.`, `inf`, `open`, `>20M`. The
  beeper: `beep`, `no beep`, `silent`. A lone `1` is refused: older meters show it for over range.
- volts: `4.98`, `-11.9 V`, `12 mV`; a bare number is volts, DC.

A decimal comma is read as such where it cannot be a thousands comma. `yes` and `ok` are refused: a reading says what
the meter showed, not what the person made of it.
"""

from __future__ import annotations

import math
import re

from .text import count, quoted

MAX_LETTERS = 40  # of one reading


class Complaint(ValueError):  # noqa: N818 - not raised to the outside
    """A message and an advice, without a place yet."""


_OVER = re.compile(r"^\.?[o0]\.?l\.?\s*(?:[kmg]?(?:ω|ohms?)|v)?$")
_OVER_WORDS = ("inf", "infinity", "infinite", "∞", "open", "over range", "overload")
_SILENT = ("silent", "silence", "no beep", "no beeps", "no sound")
_BEEPS = ("beep", "beeps", "beeped")
_LONE_ONE = re.compile(r"^1\s*\.?$")
_NUMBER = re.compile(r"^([+-]?)\s*([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)\s*([^0-9\s.,].*)?$")
#: IEC 60062 has the letter of the multiple in the place of the decimal point; from memory.
_LETTER_POINT = re.compile(r"^([0-9]*)([RrkKMG])([0-9]+)\s*(?:Ω|[Oo]hms?|OHMS?)?$")
_THOUSANDS = re.compile(r"^[1-9][0-9]{0,2},[0-9]{3}$")
_OHM_UNIT = re.compile(r"^([kKMGm]|[Mm]eg)?\s*(Ω|[Oo]hms?|OHMS?)?$")
_OHM_FACTORS = {"": 1.0, "k": 1e3, "K": 1e3, "M": 1e6, "meg": 1e6, "Meg": 1e6, "G": 1e9, "m": 1e-3}
_VOLT_UNIT = re.compile(r"^(m|µ|u|k)?[Vv]\s*(?:dc|DC|d\.c\.|=|⎓)?$")
_VOLT_FACTORS = {"": 1.0, "m": 1e-3, "µ": 1e-6, "u": 1e-6, "k": 1e3}
_OHMS_LIKE = "0.3 Ω, 12.4k, OL, beep or no beep"
_VOLTS_LIKE = "4.98 V, -11.9 V or 12 mV"
_JUDGED = ("yes", "no", "ok", "pass", "passed", "fail", "failed", "good", "bad", "y", "n", "x")

#: A reading below this much less than nothing is no zero error of the meter. Common practice, no source.
LEAST_OHMS = -1.0
#: Two contacts that read at most this are joined by wire: leads and contacts take an ohm or two, a beeper sounds below
#: some tens of ohms. Common practice, no source.
JOINED_OHMS = 10.0


def ohms(written: str) -> float:
    """Read a resistance as a meter prints it, in Ω: infinite for over range and no beep, 0 for a beep.

    Raises `ValueError` with the rule, the offender and an advice.
    """
    text = _meter_text(written, "ohms", _OHMS_LIKE)
    folded = " ".join(text.casefold().split())
    if folded in _BEEPS:
        return 0.0
    if folded in _SILENT or folded in _OVER_WORDS or (_OVER.match(folded) and not folded.endswith("v")):
        return math.inf
    if folded.startswith(">") and _OVER.match(folded[1:].strip()):
        return math.inf
    if _LONE_ONE.match(text):
        raise Complaint(
            f"a reading must not be a lone 1, which older meters show for over range: {quoted(written)}",
            "Write 1 Ω or OL",
        )
    bound, number = (text[0], text[1:]) if text[:1] in ("<", ">") else ("", text)
    value, unit = _number(_pointed(number), written, "ohms", _OHMS_LIKE)
    if re.fullmatch(r"[mk]?[VvAa]", unit[:2].strip()):
        raise Complaint(
            f"continuity, isolation and resistance must be in ohms, like {_OHMS_LIKE}, not {quoted(written)}",
            "A row of volts has the kind volts",
        )
    match = _OHM_UNIT.match(unit)
    if unit.endswith("?"):
        raise Complaint(
            f"a reading's unit must be Ω, kΩ or MΩ, not {quoted(unit)}: {quoted(written)}",
            "Write ohm, or k or M alone: the program that saved the file had no Ω",
        )
    if not match:
        raise Complaint(f"a reading's unit must be Ω, kΩ or MΩ, not {quoted(unit)}: {quoted(written)}", "")
    if match[1] == "m" and not match[2]:
        raise Complaint(f"a reading must say whether m is mΩ or MΩ: {quoted(written)}", "Write 20 MΩ or 20 mΩ")
    value *= _OHM_FACTORS[match[1] or ""]
    if value < LEAST_OHMS:
        raise Complaint(
            f"a resistance must not be negative, not {quoted(written)}",
            "There is a voltage between the probes: power off, and let it settle",
        )
    if bound == "<" and value > JOINED_OHMS:
        raise Complaint(f"a reading with < must be below {JOINED_OHMS:g} Ω to say something: {quoted(written)}", "")
    return max(value, 0.0)


def has_letter_point(written: str) -> bool:
    """Whether a resistance is written with a letter for the point, like 4k7 or 2R2."""
    return bool(_LETTER_POINT.match(written.strip()))


def _pointed(number: str) -> str:
    """Write a number with a letter for the point, like 4k7, the usual way: 4.7k."""
    if re.fullmatch(r"[0-9]*m[0-9]+", number.strip()):
        raise Complaint(f"a reading must say whether m is mΩ or MΩ: {quoted(number.strip())}", "Write 4M7 or 4.7 mΩ")
    match = _LETTER_POINT.match(number.strip())
    if not match:
        return re.sub(r"^([0-9]+)\s?[Rr]$", r"\1 Ω", number.strip())
    whole, letter, part = match.groups()
    return f"{whole or '0'}.{part}{'' if letter in 'Rr' else letter} Ω"


def volts(written: str) -> float:
    """Read a voltage as a meter prints it, in V. Raises `ValueError` with the rule, the offender and an advice."""
    text = _meter_text(written, "volts", _VOLTS_LIKE)
    folded = " ".join(text.casefold().split())
    if _OVER.match(folded) or folded in _OVER_WORDS:
        raise Complaint(
            f"a voltage must be a number, like {_VOLTS_LIKE}, not over range: {quoted(written)}",
            "Take it again in a higher range",
        )
    value, unit = _number(text, written, "volts", _VOLTS_LIKE)
    if re.search(r"ac|~", unit.casefold()):
        raise Complaint(f"a voltage must be taken as DC, not {quoted(written)}", "")
    if _OHM_UNIT.match(unit) and unit:
        raise Complaint(f"volts must be in volts, like {_VOLTS_LIKE}, not in ohms: {quoted(written)}", "")
    match = _VOLT_UNIT.match(unit)
    if unit and not match:
        raise Complaint(f"a reading's unit must be V or mV, not {quoted(unit)}: {quoted(written)}", "")
    return value * _VOLT_FACTORS[(match[1] or "") if match else ""]


def _meter_text(written: str, what: str, like: str) -> str:
    text = written.strip()
    if len(text) > MAX_LETTERS:
        raise Complaint(f"a reading must be what the meter shows, not {count(len(text), 'letter')}", "")
    if text.casefold() in _JUDGED:
        raise Complaint(f"a reading must say what the meter showed in {what}, like {like}, not {quoted(written)}", "")
    for other, plain in (("−", "-"), ("\u2126", "Ω"), ("μ", "µ"), ("\u00a0", " "), ("\u202f", " ")):
        text = text.replace(other, plain)
    return text


def _number(text: str, written: str, what: str, like: str) -> tuple[float, str]:
    """The number and the unit behind it."""
    match = _NUMBER.match(text.strip())
    if not match:
        raise Complaint(f"a reading must be {what} as the meter shows them, like {like}, not {quoted(written)}", "")
    sign, number, unit = match.groups()
    if _THOUSANDS.match(number):
        raise Complaint(f"a comma must not be able to mean thousands: {quoted(written)}", "Write a decimal point")
    value = float(number.replace(",", "."))
    return (-value if sign == "-" else value), (unit or "").strip()
