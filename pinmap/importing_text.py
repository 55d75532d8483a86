"""The text of the map file that a table becomes: what was assumed on top, then a map as a person would write it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from itertools import pairwise

from .body import Body
from .errors import PinmapError
from .importing_tables import Claim, Remark
from .skeleton import skeleton
from .text import natural, visible

MAX_NOTE = 120  # letters; what is longer stands above the contact as a comment
_FEWEST = 3  # contacts that make a run
_MOST_SAID = 100  # remarks in the file; all are in the answer

_PLAIN = re.compile(r"[A-Za-z0-9+/-]?[A-Za-z0-9][A-Za-z0-9*/_.+#-]*( [A-Za-z0-9*/_.+-][A-Za-z0-9*/_.+#-]*)*")
_NUMBERED = re.compile(r"^(.*?)(0|[1-9]\d*)(\D*)$")


def text(
    body: Body,
    claims: Sequence[Claim],
    *,
    bus: str,
    title: str,
    source: str,
    marks: str,
    assumed: Sequence[str],
    remarks: Sequence[Remark],
) -> str:
    """Return the map file: every claim in the order of the body, those on one contact under each other."""
    lines = [f"# Made from {visible(source)}. Hold it against the source, measure supplies and returns first."]
    lines += ["#", "# Assumed; correct what is wrong:", *_listed(assumed)] if assumed else []
    lines += ["#", "# Not understood, or in doubt:", *_listed([str(r) for r in remarks])] if remarks else []
    lines += [
        "format: 1",
        f"title: {_value(title)}",
        f"bus: {_value(bus)}",
        "end: host                     # host: the machine's connector; card: what a card brings",
        f"source: {_value(source)}",
        "seen: manual                  # manual, measured or guessed, where a contact does not say its own",
    ]
    if marks == "none":
        lines.append("marks: none                   # the table marks no line as active low")
    lines += _body(body)
    lines.append("contacts:")
    lines += _contacts(body, claims)
    return "\n".join(lines) + "\n"


def _listed(said: Sequence[str]) -> list[str]:
    out = [f"# - {visible(each)}" for each in said[:_MOST_SAID]]
    return out + ([f"# - and {len(said) - _MOST_SAID} more"] if len(said) > _MOST_SAID else [])


def _body(body: Body) -> Iterator[str]:
    """The lines of the body, as a skeleton has them."""
    inside = False
    for line in skeleton(body, "", "").splitlines():
        if line.startswith("body:"):
            inside = True
        elif inside and not line.startswith(" "):
            return
        if inside:
            yield line


def _value(written: str) -> str:
    """A text as a value of YAML, in quotes where it needs them."""
    word = visible(written)
    needs = word.casefold() in ("null", "~", "") or not _PLAIN.fullmatch(word)
    return json.dumps(word, ensure_ascii=False) if needs else word


def _contacts(body: Body, claims: Sequence[Claim]) -> Iterator[str]:
    order = {label: i for i, label in enumerate(body.labels)}
    if body.scheme not in ("rows", "lettered"):
        order = {label: i for i, label in enumerate(sorted(body.labels, key=natural))}
    ordered = sorted(claims, key=lambda c: (order[c.label], c.place))
    several = {c.label for a, c in pairwise(ordered) if a.label == c.label}
    i = 0
    while i < len(ordered):
        run = _run(body, ordered[i:], several)
        if run > 1:
            first, last = ordered[i], ordered[i + run - 1]
            yield f"  {first.label}..{last.label}: {_value(f'{first.name}..{last.name}')}"
        else:
            yield from _one(ordered[i])
        i += run


def _run(body: Body, claims: Sequence[Claim], several: set[str]) -> int:
    """How many claims from the first on can be written as one run of contacts and names; 1 where none."""
    parts = [_NUMBERED.match(c.name) for c in claims[:2]]
    if len(parts) < 2 or not (parts[0] and parts[1]):
        return 1
    step = int(parts[1][2]) - int(parts[0][2])
    if abs(step) != 1:
        return 1
    length = 0
    for i, claim in enumerate(claims):
        name = _NUMBERED.match(claim.name)
        fits = (
            name
            and (name[1], name[3]) == (parts[0][1], parts[0][3])
            and int(name[2][:9]) == int(parts[0][2][:9]) + step * i
            and ".." not in claim.name
            and not claim.note
            and claim.label not in several
        )
        if not fits:
            break
        length = i + 1
    labels = [c.label for c in claims[:length]]
    while length >= _FEWEST:
        try:
            if body.run(labels[0], labels[length - 1]) == labels[:length]:
                return length
        except PinmapError:
            raise
        except ValueError:  # from row to row
            pass
        length -= 1
    return 1


def _one(claim: Claim) -> Iterator[str]:
    if ".." in claim.name:
        yield f"  # {claim.label}: {visible(claim.name)}   # no name of a line can hold two dots: they mean a run"
        return
    if len(claim.note) > MAX_NOTE:
        yield f"  # {claim.label}: {visible(claim.note)}"
    note = claim.note if len(claim.note) <= MAX_NOTE else ""
    if note:
        name = _value(claim.name)
        name = json.dumps(visible(claim.name), ensure_ascii=False) if set(name) & set("#,") and name[0] != '"' else name
        yield f"  {claim.label}: {{signal: {name}, note: {json.dumps(visible(note), ensure_ascii=False)}}}"
    else:
        yield f"  {claim.label}: {_value(claim.name)}"
