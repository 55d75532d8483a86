"""A map file with its contacts put where a mistake says they belong; all else, comments included, stays as written."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence

import yaml
from msgspec import Struct

from .body import Body
from .errors import PinmapError, Place
from .mistakes import Mistake, table_order
from .model import Contact, PinMap
from .text import quoted

_LOADER = getattr(yaml, "CLoader", yaml.Loader)  # only its nodes are used, for where they begin and end
_WIDEST = 8  # a run by greater steps is harder to read than its contacts one by one


class _Entry(Struct, frozen=True):
    """One entry under `contacts`: its lines as written, line ends included, and the contacts that it stands for.

    `before` are the comments and blank lines in front; `key` and `value` are where the labels and the name of the line
    stand in `text`, `end` is where the value is over and at most a comment follows.
    """

    before: tuple[str, ...]
    text: str
    key: slice
    value: slice
    end: int
    contacts: tuple[Contact, ...]


def proposed(text: str, pin_map: PinMap, mistake: Mistake, body: Body | None = None) -> str:
    """Return `corrected` as a proposal, which must not be taken for a map that was measured.

    A comment on top says what was done, and every supply and return that was moved is `seen: guessed` from now on;
    where none of these was, every line that was.
    `body`: the body as it must be described, where that was wrong too. Raises what `corrected` raises.
    """
    newline = "\r\n" if "\r\n" in text else "\n"
    return (
        f"# Proposed by pinmap: corrected as if it had been {mistake.name}.{newline}"
        f"# Measure every contact that is `seen: guessed` and write `seen: measured` there.{newline}"
        + corrected(_with_body(text, pin_map, body) if body else text, pin_map, mistake, doubt=True).removeprefix(
            "\ufeff"
        )
    )


def corrected(text: str, pin_map: PinMap, mistake: Mistake, *, doubt: bool = False) -> str:
    """Return the file's `text` with every contact of `pin_map`, which was read from it, where `mistake` moves it.

    A run that is still a run stays one line, any other becomes a line a contact. What has no place any more stays as a
    comment. `doubt`: supplies and returns that are moved rest on a guess, or the lines where only these are.
    Raises `PinmapError` where the entries do not stand on lines of their own, or one could not be read.
    """
    lines = text.splitlines(keepends=True)  # at the same marks as YAML: all others are refused when it is read
    newline = lines[0][len(lines[0].splitlines()[0]) :] or "\n"
    unended = lines[-1].splitlines()[0] == lines[-1]
    if unended:
        lines[-1] += newline
    head, entries, tail = _entries(text, lines, pin_map)
    order = {label: i for i, label in enumerate(table_order(pin_map.body))}
    moved: list[tuple[str, list[str]]] = []
    lost: list[str] = []
    doubted = _in_doubt(pin_map, mistake) if doubt else frozenset()
    for entry in entries:
        for label, new in _rewritten(entry, pin_map.body, order, mistake, doubted):
            if label:
                moved.append((label, new))
            else:
                lost += new
    moved.sort(key=lambda m: order[m[0]])
    if lost:
        indent = " " * (entries[0].contacts[0].place.column - 1)
        lost.insert(0, f"{indent}# without a place, once corrected ({mistake.name}):{newline}")
    out = "".join((*head, *(line for _, new in moved for line in new), *lost, *tail))
    return out[: -len(newline)] if unended else out


def _with_body(text: str, pin_map: PinMap, body: Body) -> str:
    """The text with the corner and the row letters of another body; the lines keep their numbers."""
    root = yaml.compose(text, Loader=_LOADER)
    described = next(v for k, v in root.value if k.value == "body")  # type: ignore[union-attr]
    pairs = list(described.value)
    for key, value in described.value:
        if key.value == "sections":
            pairs += value.value[0].value
    there = {key.value: value for key, value in pairs}
    new = {"first": body.first, "letters": " ".join(body.sections[0].letters)}
    old = {"first": pin_map.body.first, "letters": " ".join(pin_map.body.sections[0].letters)}
    spans = []
    for name in (n for n in new if new[n] != old[n]):
        node = there.get(name)
        if node is None or node.start_mark.line != node.end_mark.line:
            raise PinmapError(
                f"the body must say its {name} in one line before a proposal can correct it",
                f"Write {name}: {new[name]}",
                Place(pin_map.file, described.start_mark.line + 1, described.start_mark.column + 1),
            )
        spans.append((node.start_mark.index, node.end_mark.index, new[name]))
    for start, end, written in sorted(spans, reverse=True):
        text = f"{text[:start]}{written}{text[end:]}"
    return text


def _entries(text: str, lines: Sequence[str], pin_map: PinMap) -> tuple[Sequence[str], list[_Entry], Sequence[str]]:
    """Cut the lines into what stands in front of the entries, the entries, and what follows them."""
    by_place: dict[tuple[int, int], list[Contact]] = {}
    for contact in pin_map.contacts:
        if contact.role != "undescribed":
            by_place.setdefault((contact.place.line - 1, contact.place.column - 1), []).append(contact)
    at, block = next((k, v) for k, v in yaml.compose(text, Loader=_LOADER).value if k.value == "contacts")  # type: ignore[union-attr]
    out: list[_Entry] = []
    done = 0
    for key, value in block.value:
        start, end = key.start_mark, _end(value)
        if block.flow_style or lines[start.line][: start.column].strip():
            raise PinmapError(
                "contacts must stand one entry a line, to be put elsewhere",
                "Write each contact on a line of its own, without brackets",
                Place(pin_map.file, at.start_mark.line + 1, at.start_mark.column + 1),
            )
        contacts = by_place.get((start.line, start.column))
        if contacts is None:
            raise PinmapError(
                f"every entry under contacts must be right before it is put elsewhere, not {quoted(key.value)}",
                "`pinmap check` says what is wrong with it",
                Place(pin_map.file, start.line + 1, start.column + 1),
            )
        last = end.line if end.column else end.line - 1  # a text after | ends where the next line begins
        while not lines[last].strip():
            last -= 1  # and has the blank lines after it
        starts = [0]
        for line in lines[start.line : last + 1]:
            starts.append(starts[-1] + len(line))
        ends = [
            starts[mark.line - start.line] + mark.column
            for node in (key, _signal(value))
            for mark in (node.start_mark, node.end_mark)
        ]
        out.append(
            _Entry(
                tuple(lines[done : start.line]) if out else (),
                "".join(lines[start.line : last + 1]),
                slice(*ends[:2]),
                slice(*ends[2:]),
                starts[end.line - start.line] + end.column if end.line <= last else starts[-1],
                tuple(contacts),
            )
        )
        done = last + 1
    return lines[: block.value[0][0].start_mark.line], out, lines[done:]


def _signal(node: yaml.Node) -> yaml.Node:
    """The name of the line in an entry's value."""
    if isinstance(node, yaml.MappingNode):
        node = next(value for key, value in node.value if key.value == "signal")
    return node


def _end(node: yaml.Node) -> yaml.Mark:
    """Where a value is over. YAML has a block end only where something else begins, after comments."""
    while isinstance(node, yaml.CollectionNode) and not node.flow_style and node.value:
        last = node.value[-1]
        node = last[1] if isinstance(node, yaml.MappingNode) else last
    return node.end_mark


def _in_doubt(pin_map: PinMap, mistake: Mistake) -> frozenset[str]:
    """The contacts that must be measured once moved: supplies and returns, or all where none of these moved."""
    elsewhere = [c for c in pin_map.carrying() if mistake.moves.get(c.label) not in (None, c.label)]
    power = [c for c in elsewhere if c.signal and c.signal.is_power]
    return frozenset(c.label for c in power or elsewhere)


def _rewritten(
    entry: _Entry, body: Body, order: dict[str, int], mistake: Mistake, in_doubt: frozenset[str]
) -> list[tuple[str, list[str]]]:
    """The entry under its new labels, each as its first label and its lines; "" as label for what is lost."""
    written = entry.text[entry.key]
    quote = written[0] if written[0] in "\"'" else ""
    contacts = sorted(entry.contacts, key=lambda c: order[c.label])
    if written.strip(quote).partition("..")[0].strip().casefold() != contacts[0].label.casefold():
        contacts.reverse()  # a run that counts down
    labels = [mistake.moves.get(c.label, "") for c in contacts]
    if labels == [c.label for c in contacts]:
        return [(labels[0], [*entry.before, entry.text])]
    run = _as_run(labels, body, order)
    doubted = [c.label in in_doubt for c in contacts]
    if run:
        text = _with(entry, f"{quote}{run}{quote}")
        return [(labels[0], [*entry.before, _doubted(text) if any(doubted) else text])]
    indent = " " * (entry.contacts[0].place.column - 1)
    out: list[tuple[str, list[str]]] = []
    before = entry.before
    for label, contact, guessed in zip(labels, contacts, doubted, strict=True):
        one = contact if len(labels) > 1 else None
        text = _with(entry, f"{quote}{label or contact.label}{quote}", one, comment=not out)
        new = (_doubted(text) if guessed and label else text).splitlines(keepends=True)
        if not label:
            new = [f"{indent}# {line.removeprefix(indent)}" if line.strip() else line for line in new]
        out.append((label, [*before, *new]))
        before = ()
    return out


def _doubted(text: str) -> str:
    """An entry that rests on a guess from now on, whatever it rested on before."""
    _, value = yaml.compose(text, Loader=_LOADER).value[0]  # type: ignore[union-attr]
    if isinstance(value, yaml.ScalarNode):
        start, end = value.start_mark.index, value.end_mark.index
        written = text[start:end]
        if not value.style and re.search(r"[,\[\]{}\n]", written):  # what needs no quotes until it is in brackets
            written = json.dumps(value.value, ensure_ascii=False)
        return f"{text[:start]}{{signal: {written}, seen: guessed}}{text[end:]}"
    for name, said in value.value:
        if name.value == "seen":
            return f"{text[: said.start_mark.index]}guessed{text[said.end_mark.index :]}"
    name, said = value.value[0]
    start = name.start_mark.index
    if value.flow_style:
        return f"{text[:start]}seen: guessed, {text[start:]}"
    newline = "\r\n" if "\r\n" in text else "\n"
    return f"{text[:start]}seen: guessed{newline}{' ' * name.start_mark.column}{text[start:]}"


def _as_run(labels: Sequence[str], body: Body, order: dict[str, int]) -> str:
    """Write labels as one key, "" where they are no run or one of them is lost."""
    if not all(labels):
        return ""
    first, last = labels[0], labels[-1]
    if len(labels) == 1:
        return first
    step, rest = divmod(abs(order[last] - order[first]), len(labels) - 1)
    try:
        if rest or not 1 <= step <= _WIDEST or body.run(first, last, step) != list(labels):
            return ""
    except ValueError:  # from row to row
        return ""
    return f"{first}..{last}" + (f" by {step}" if step > 1 else "")


def _with(entry: _Entry, key: str, one: Contact | None = None, *, comment: bool = True) -> str:
    """The entry's text under another key; of a run the value for `one` contact, without the comment if it had it."""
    value, text = entry.text[entry.value], entry.text
    if one and ".." in value:
        value = _as_written(one.written, value[0])
    out = f"{text[: entry.key.start]}{key}{text[entry.key.stop : entry.value.start]}{value}"
    rest = text[entry.value.stop : entry.end]
    after = text[entry.end :]
    if not comment and after.strip():
        after = after[len(after.splitlines()[0]) :]
    return out + rest + after


def _as_written(name: str, quote: str) -> str:
    """Write a name with the quotes that the run had, or with those that it needs."""
    if quote == "'":
        return "'" + name.replace("'", "''") + "'"
    plain = re.match(r"[A-Za-z0-9/+]", name) and not re.search(r"[:#,{}\[\]\\]", name)
    return name if plain and quote != '"' else json.dumps(name, ensure_ascii=False)
