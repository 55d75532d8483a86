"""The body that a table's labels tell of: their scheme, rows and places; and what of it had to be assumed."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Sequence
from typing import cast

from msgspec import Struct
from msgspec.structs import replace

from .body import EDGE_LETTERS, FORMS, SCHEMES, Body, Corner, Form, Scheme, Section, edge_letter
from .errors import PinmapError
from .importing_tables import Claim
from .model import PinMap
from .quantity import parse
from .skeleton import body_for
from .text import count, listed, natural, quoted, ranges

MAX_ROWS = 26
_MOST_HOLES = 60
_HOLES = 0.5  # of the labels of a body that a table must have: with fewer, the body is guessed from a fragment

EXAMPLE = "box header 2x32 zigzag first bottom left"


class FoundBody(Struct):
    """A body, what was assumed about it, and the published connector that it is ("" where none is)."""

    body: Body
    assumed: list[str]
    like: str = ""


class Wanted(Struct):
    """What the user said of the body; None and "" where they said nothing."""

    form: Form | None = None
    rows: int | None = None
    places: int | None = None
    scheme: Scheme | None = None
    letters: str = ""
    first: Corner | None = None
    start: int | None = None
    gender: str = ""
    pitch_mm: float | None = None
    row_pitch_mm: float | None = None


_WORDS = re.compile(
    rf"""\s*(?:
    (?P<form>{"|".join(form.replace(" ", r"[ ]+") for form in FORMS)})
  | (?P<rows>\d{{1,2}})\s*[x×]\s*(?P<places>\d{{1,4}})
  | (?:labels?\s+)?(?P<scheme>{"|".join(SCHEMES)})
  | letters\s+(?P<letters>[A-Za-z](?:[ ][A-Za-z])*)(?![A-Za-z])
  | (?:first\s+)?(?P<first>(?:top|bottom)\s+(?:left|right))
  | from\s+(?P<start>\d{{1,4}})
  | (?P<gender>female|male)
  | row\s+pitch\s+(?P<row_pitch>[\d.]+\s*(?:mm|inch|in|mil))
  | pitch\s+(?P<pitch>[\d.]+\s*(?:mm|inch|in|mil))
    )(?=[\s,;]|$)[\s,;]*""",
    re.VERBOSE | re.IGNORECASE,
)


def wanted(written: str) -> Wanted:
    """Read what `--body` says, like "box header 2x32 zigzag first bottom left"; every part can be left out.

    Raises `PinmapError` for a word that means nothing here.
    """
    out = Wanted()
    at = 0
    while at < len(written.rstrip()):
        word = _WORDS.match(written, at)
        if not word:
            raise PinmapError(
                f"--body must say a form, ROWSxPLACES, labels, letters, first, from, gender or pitch, like "
                f"{quoted(EXAMPLE)}, not {quoted(written[at:])}",
                f"Forms: {listed(FORMS)}. Labels: {listed(SCHEMES)}",
            )
        at = word.end()
        said = {k: " ".join(v.casefold().split()) for k, v in word.groupdict().items() if v}
        out.form = cast("Form | None", said.get("form")) or out.form
        out.scheme = cast("Scheme | None", said.get("scheme")) or out.scheme
        out.first = cast("Corner | None", said.get("first")) or out.first
        out.gender = said.get("gender", out.gender)
        out.letters = word["letters"] or out.letters
        out.start = int(said["start"]) if "start" in said else out.start
        if "rows" in said:
            out.rows, out.places = int(said["rows"]), int(said["places"])
        try:
            out.pitch_mm = parse(said["pitch"], "mm") if "pitch" in said else out.pitch_mm
            out.row_pitch_mm = parse(said["row_pitch"], "mm") if "row_pitch" in said else out.row_pitch_mm
        except ValueError as error:
            raise PinmapError(f"--body: {error}") from None
    return out


def one_case(claims: list[Claim]) -> tuple[list[Claim], str]:
    """Write the letters of rows in one case, and say so; not where a1, a2 stand beside A1, A2 as others."""
    rows: dict[str, set[str]] = {}
    for claim in claims:
        parts = _SPLIT.match(claim.label)
        if parts and parts[1] and parts[2]:
            rows.setdefault(parts[1], set()).add(parts[2])
    small = {letters for letters in rows if letters.islower()}
    if not small or len(small) == len(rows):
        return claims, ""
    if any(len(rows[letters] & rows.get(letters.upper(), set())) > 1 for letters in small):
        return claims, ""
    lower = sum(len(rows[letters]) for letters in small) * 5 > 4 * sum(map(len, rows.values()))
    out = [replace(c, label=c.label.lower() if lower else c.label.upper()) for c in claims]
    changed = [(a.label, b.label) for a, b in zip(claims, out, strict=True) if a.label != b.label]
    first, last = changed[0]
    more = f", and {count(len(changed) - 1, 'other label')} likewise" if len(changed) > 1 else ""
    return out, f"labels: {first} was read as {last}, for the others are written so{more}"


def found(
    claims: Sequence[Claim],
    words: str,
    like: PinMap | None,
    near: Iterable[PinMap],
    unread: Container[str] = (),
) -> FoundBody:
    """Find the body of what `claims` describe: as `like` or `words` say, a published one of `near`, or by the labels.

    `unread` are labels that stand in columns of the table that were not read.

    Raises `PinmapError` where the labels can be numbered in several ways, and where they fit no scheme.
    """
    labels = list(dict.fromkeys(c.label for c in claims))
    out = _found(labels, claims, words, like, near)
    known = {label.casefold() for label in labels}
    holes = sorted((label for label in out.body.labels if label.casefold() not in known), key=natural)
    beside = [label for label in holes if label in unread]
    holes = [label for label in holes if label not in unread]
    if beside:
        out.assumed.append(f"in a column that was not read, and not described: {ranges(beside[:_MOST_HOLES])}")
    if holes:
        rest = f" and {len(holes) - _MOST_HOLES} more" if len(holes) > _MOST_HOLES else ""
        out.assumed.append(f"not in the table, and not described: {ranges(holes[:_MOST_HOLES])}{rest}")
    return out


def _found(
    labels: Sequence[str], claims: Sequence[Claim], words: str, like: PinMap | None, near: Iterable[PinMap]
) -> FoundBody:
    if like:
        return FoundBody(like.body, [f"body: that of {like.name}, as was asked for"], like.name)
    said = wanted(words)
    if not words.strip():
        published = _published(labels, near)
        if published:
            return published
    try:
        return _by_labels(labels, claims, said)
    except PinmapError:
        raise
    except ValueError as error:
        raise PinmapError(f"the labels and --body must fit each other: {error}" if words else str(error)) from None


def _published(labels: Sequence[str], near: Iterable[PinMap]) -> FoundBody | None:
    """The published connector whose labels these are, all or nearly all of them."""
    small = all(label == label.lower() != label.upper() for label in labels)
    labels = [label.upper() for label in labels] if small else labels
    for pin_map in near:
        there = set(pin_map.body.labels)
        missing = [label for label in pin_map.body.labels if label not in labels]
        whole = not missing or _ends(pin_map.body.labels) & set(labels)  # fewer places are another connector
        if set(labels) <= there and len(missing) * 4 <= len(there) and whole:
            rest = f" but for {count(len(missing), 'label')}" if missing else ""
            case = ", in small letters" if small else ""
            return FoundBody(
                pin_map.body,
                [
                    f"body: that of the published connector {pin_map.name}, whose labels these are{rest}{case}; "
                    "--body or --like says otherwise"
                ],
                pin_map.name,
            )
    return None


def _ends(labels: Sequence[str]) -> set[str]:
    """The last label of each row."""
    return {row[-1] for row in _in_rows(labels).values()}


def _in_rows(labels: Sequence[str]) -> dict[str, list[str]]:
    out: dict[str, list[str]] = {}
    for label in sorted(labels, key=natural):
        out.setdefault(re.sub(r"\d", "", label), []).append(label)
    return out


_SPLIT = re.compile(r"^([A-Za-z]*)(\d*)$")


def _by_labels(labels: Sequence[str], claims: Sequence[Claim], said: Wanted) -> FoundBody:
    parts = [m.groups() for label in labels if (m := _SPLIT.match(label))]
    numbers = sorted({int(n) for letters, n in parts if not letters})
    alone = [letters for letters, n in parts if not n]
    rows: dict[str, list[int]] = {}
    for letters, n in parts:
        if letters and n:
            rows.setdefault(letters, []).append(int(n))
    kinds = [k for k, there in (("numbers", numbers), ("letters", alone), ("rows", rows)) if there]
    if kinds == ["rows"]:
        found_ = _rows(rows, said)
    elif kinds == ["numbers"]:
        found_ = _numbers(numbers, claims, said)
    elif kinds in (["numbers", "letters"], ["letters"]):
        found_ = _lettered(numbers, alone, said)
    else:
        each: dict[str, list[str]] = {}
        for label in labels:
            each.setdefault(re.sub(r"[A-Za-z]+", "A", re.sub(r"\d+", "9", label)), []).append(label)
        few = min(each.values(), key=len)
        raise PinmapError(
            "the labels of a connector must be of one scheme (1, 2, 3 … or A1, A2 … B1), not of several; "
            f"{listed(few[:6])} {'is' if len(few) == 1 else 'are'} unlike the others",
            "Correct these labels in the table, or name the right column with --contact-column",
        )
    holes = [label for label in found_.body.labels if label not in set(labels)]
    if len(holes) > _HOLES * len(found_.body) and not said.places:
        raise PinmapError(
            f"a table must describe at least half of its connector; of {len(found_.body)} contacts from the lowest to "
            f"the highest number it describes {len(labels)}",
            f"Say the size with --body, like {quoted(EXAMPLE)}, if there are so many",
        )
    return found_


def _made(said: Wanted, form: Form, rows: int, places: int, scheme: Scheme, letters: str, start: int) -> Body:
    """A body of one section from what was said and found; ValueError where they contradict."""
    form = said.form or form
    if said.gender and form != "din 41612":
        raise PinmapError(f"--body must give a gender to din 41612 only, not to {form}")
    # The outer rows of three in DIN 41612, and the faces of a card edge, from memory.
    wide = rows > 1 and (form.startswith("edge") or (form == "din 41612" and rows == 2))
    body = body_for(
        form,
        said.rows or rows,
        said.places or places,
        scheme,
        letters=said.letters or letters,
        first=said.first,
        pitch_mm=said.pitch_mm or 2.54,
        row_pitch_mm=said.row_pitch_mm or (5.08 if wide else said.pitch_mm or 2.54),
        gender=said.gender or None,  # type: ignore[arg-type] # the pattern of words lets nothing else through
    )
    sections = tuple(
        Section(s.rows, s.places, s.letters, start if said.start is None else said.start) for s in body.sections
    )
    # Without the customs of the form, which reading adds: they change with the form when somebody corrects it.
    return Body(body.form, sections, body.scheme, body.first, body.pitch_mm, body.row_pitch_mm, body.gender)


def _assumed(said: Wanted, body: Body) -> list[str]:
    """What no table tells: the form, where contact 1 lies, the pitch."""
    out = []
    if said.form is None:
        out.append(f"form: {body.form}; the table does not tell it (--body says otherwise)")
    if said.first is None:
        first = body.labels[0]
        out.append(f"first: contact {first} {body.first}, seen from the mating face, as is customary for this form")
    if said.pitch_mm is None:
        out.append(f"pitch: {body.pitch_mm:g} mm, row pitch: {body.row_pitch_mm:g} mm; the table does not tell them")
    return out


def _some(rows: dict[str, list[int]]) -> str:
    """Some labels of every row: "A1 … A31 and B1 … B31"."""
    return listed(f"{x}{min(n)} … {x}{max(n)}" if len(n) > 1 else f"{x}{n[0]}" for x, n in [*sorted(rows.items())][:4])


def _rows(rows: dict[str, list[int]], said: Wanted) -> FoundBody:
    letters = sorted(rows)
    if said.scheme not in (None, "rows"):
        kind = "numbers" if said.scheme != "lettered" else "numbers and letters"
        raise PinmapError(
            f"--body must fit the labels: {said.scheme} has {kind}, but the labels read are {_some(rows)}",
            "Name the column of the contacts with --contact-column, or say rows with --body",
        )
    if said.rows and said.rows != len(letters) and len(said.letters.split()) != said.rows:
        raise PinmapError(
            f"--body must fit the labels: it says {count(said.rows, 'row')}, but the labels read are of "
            f"{count(len(letters), 'row')} ({_some(rows)})",
            "Name the column of the contacts with --contact-column, say the rows that there are with --body, or the "
            'letters of all, like "letters A B"',
        )
    if len(letters) > MAX_ROWS:
        raise PinmapError(f"a connector must have at most {MAX_ROWS} rows, not {len(letters)}")
    ends = {letter: (min(n), max(n)) for letter, n in rows.items()}
    groups = [letters]
    if len(letters) > 3 and len(letters) % 2 == 0 and not said.rows:
        pairs = [letters[i : i + 2] for i in range(0, len(letters), 2)]
        spans = [(min(ends[x][0] for x in p), max(ends[x][1] for x in p)) for p in pairs]
        if len(set(spans)) > 1:
            groups = pairs
    low, high = min(e[0] for e in ends.values()), max(e[1] for e in ends.values())
    din = letters == ["a", "c"] or (letters == ["a", "b", "c"] and (low, high) in ((1, 16), (1, 32)))
    form: Form = "din 41612" if din else "edge slot"
    order = " ".join(letters)
    if (said.form or form) == "din 41612" and said.gender != "male":
        order = " ".join(reversed(letters))  # row a of the female is the lowest
    if len(groups) == 1:
        body = _made(said, form, len(letters), high - low + 1, "rows", order, low)
        return FoundBody(body, _assumed(said, body))
    made = _made(said, form, 2, 1, "rows", " ".join(groups[0]), low)
    sections = []
    along = 0.0
    for group in groups:
        start, stop = min(ends[x][0] for x in group), max(ends[x][1] for x in group)
        sections.append(Section(len(group), stop - start + 1, tuple(group), start, round(along, 4)))
        along += (stop - start + 2) * made.pitch_mm
    body = Body(made.form, tuple(sections), "rows", made.first, made.pitch_mm, made.row_pitch_mm, made.gender)
    said_of = listed(" and ".join(group) for group in groups)
    assumed = [f"sections: rows {said_of} in one line, each a place behind the last; the table does not tell where"]
    return FoundBody(body, [*assumed, *_assumed(said, body)])


def _numbers(numbers: Sequence[int], claims: Sequence[Claim], said: Wanted) -> FoundBody:
    low, high = (min(numbers) if numbers[0] < 2 else 1), max(numbers)
    how_many = high - low + 1
    rows = said.rows or (1 if how_many % 2 else 2)
    scheme = said.scheme
    assumed = []
    if scheme is None and rows > 1:
        scheme, why = _side_by_side(claims, low, how_many)
        if scheme:
            assumed.append(f"labels: {scheme}, for {why} side by side in the table")
    if scheme is None and (rows == 1 or said.rows == 1):
        scheme = "serial"
        if not said.rows:
            assumed.append(f"rows: one, for {how_many} contacts make no two rows")
    if scheme is None:
        half = how_many // 2
        raise PinmapError(
            f"contacts {low} to {high} must be numbered in one way, and the table tells not in which: "
            f"zigzag ({low}, {low + 1} across, then {low + 2}, {low + 3}), serial ({low} to {low + half - 1} along one "
            f"row, {low + half} to {high} along the next) or ring (along one row and back along the other)",
            f"Say it with --body, like {quoted(f'box header 2x{half} zigzag first bottom left')}, "
            "or take another map's body with --like MAP",
        )
    if scheme in ("rows", "lettered"):
        raise PinmapError(
            f"labels by {scheme} must have letters; the labels here are the numbers {low} to {high}",
            "Say zigzag, serial or ring with --body",
        )
    body = _made(said, "pin header", rows, -(-how_many // rows), scheme, "", low)
    return FoundBody(body, [*assumed, *_assumed(said, body)])


def _side_by_side(claims: Sequence[Claim], low: int, how_many: int) -> tuple[Scheme | None, str]:
    """What the contacts that stand in one row of the table tell of the numbering."""
    rows: dict[tuple[str, int], list[int]] = {}
    for claim in claims:
        if claim.label.isdecimal():
            rows.setdefault((claim.place.file, claim.place.line), []).append(int(claim.label))
    pairs = [tuple(n) for n in rows.values() if len(n) == 2]
    if len(pairs) * 2 < how_many * 0.8:
        return None, ""
    tests: list[tuple[Scheme, list[bool]]] = [
        ("zigzag", [abs(a - b) == 1 and min(a, b) % 2 == low % 2 for a, b in pairs]),
        ("serial", [abs(a - b) == how_many // 2 for a, b in pairs]),
        ("ring", [a + b == 2 * low + how_many - 1 for a, b in pairs]),
    ]
    for scheme, holds in tests:
        if sum(holds) * 10 >= len(holds) * 9:
            a, b = pairs[0]
            return scheme, f"{a} and {b}, and those after them, stand"
    return None, ""


def _lettered(numbers: Sequence[int], letters: Sequence[str], said: Wanted) -> FoundBody:
    order = {edge_letter(i): i for i in range(3 * len(EDGE_LETTERS))}
    strange = [letter for letter in letters if letter.upper() not in order]
    if strange or any(letter.islower() for letter in letters):
        bad = strange or [letter for letter in letters if letter.islower()]
        raise PinmapError(
            f"the letters of a lettered row must be A to Z without G, I, O and Q, then AA, BB …; not {listed(bad[:6])}"
        )
    low = min(numbers, default=1)
    places = max(max(numbers, default=1) - low + 1, max(order[letter] for letter in letters) + 1)
    body = _made(said, "edge slot", 2, places, "lettered", "", low)
    return FoundBody(body, ["labels: lettered, numbers on one row and letters on the other", *_assumed(said, body)])
