"""Two maps held against each other: in words, side by side for the terminal, and as JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from ..compare import Change, Comparison, Pair, Row
from ..model import Contact
from ..renumbered import Renumbered
from ..text import count, listed, natural, ranges, visible
from .json_output import FORMAT

# ---------------------------------------------------------------------- in words


def names(comparison: Comparison) -> tuple[str, str]:
    """What the two maps are called in a sentence: by name, or where both have one name as the first and the second."""
    one, other = visible(comparison.first.name), visible(comparison.second.name)
    return (one, other) if one != other and one and other else ("the first", "the second")


def words(comparison: Comparison) -> list[str]:
    """Say in sentences what differs in what the maps carry; nothing where they carry the same."""
    x, y = names(comparison)
    out: list[str] = []
    if not comparison.held:
        one, other = comparison.first.body, comparison.second.body
        out.append(
            f"the two connectors have other contacts ({len(one)} of {x}, {one.form}; {len(other)} of {y}, "
            f"{other.form}): only their signals are compared"
        )
    if comparison.renumbered:
        out.append(_numbered(comparison, comparison.renumbered))
    if comparison.whole:
        out.append(_whole(comparison))
    if any(_power(pair) and _elsewhere(comparison, pair) for pair in comparison.pairs):
        out.append("supplies and returns are elsewhere with it: measure them before anything is connected")
    out += _clashes(comparison)
    by_label = {pair.label: pair for pair in comparison.pairs}
    out += [_exchange(comparison, by_label[one], by_label[other]) for one, other in comparison.exchanged]
    out += _moved(comparison)
    for relation, name, side in (("only in the first", x, 0), ("only in the second", y, 1)):
        only = [row for row in comparison.rows if row.relation == relation]
        if only:
            out.append(
                f"only in {name}: {', '.join(f'{r.signal} ({_labels((r.first, r.second)[side])})' for r in only)}"
            )
    out += _polarities(comparison)
    out += _options(comparison)
    out += _uses(comparison)
    if comparison.held:
        out += _told(comparison, "body", comparison.lies_elsewhere)
    return [visible(sentence) for sentence in out]


def remarks(comparison: Comparison) -> list[str]:
    """Say in sentences what else differs, and changes no wire: names, evidence, notes, limits, descriptions."""
    x, y = names(comparison)
    out = [_renamed(comparison, row) for row in comparison.rows if row.renamed or row.differs]
    out += [
        f"evidence of {row.signal}: {listed(row.seen[0])} in {x}, {listed(row.seen[1])} in {y}"
        for row in comparison.rows
        if row.first and row.second and row.seen[0] != row.seen[1] and not (comparison.held and row.besides == "same")
    ]
    alike: dict[tuple[str, str, str], list[str]] = {}
    for pair in comparison.pairs:
        for change in pair.changes:
            if change.what != "name" or not pair.first[0].signal:  # lines have their sentence already
                alike.setdefault((change.what, change.first, change.second), []).append(pair.label)
    out += [
        f"{what} at {ranges(labels)}: {one or 'none'} in {x}, {other or 'none'} in {y}"
        for (what, one, other), labels in alike.items()
    ]
    out += _told(comparison, "limit of", comparison.limits)
    out += _told(comparison, "option", comparison.options)
    out += _told(comparison, "own line", comparison.own)
    if comparison.mated:
        out.append("the two connectors plug into each other")
    elif comparison.held:
        told = comparison.told_already | {c.what for c in comparison.lies_elsewhere}
        out += _told(comparison, "body", [c for c in comparison.body if c.what not in told])
    out += _told(comparison, "", [c for c in comparison.about if c.what not in _PROSE])
    prose = [c.what for c in comparison.about if c.what in _PROSE]
    if prose:
        out.append(f"{listed(prose)} {'is' if len(prose) == 1 else 'are'} worded otherwise")
    return [visible(sentence) for sentence in out]


def conclusion(comparison: Comparison) -> str:
    """Say in one line whether the maps carry the same."""
    if comparison.identical:
        return "both maps say the same, contact by contact"
    if comparison.same_by_position:
        said = "both maps carry the same at every position, under different labels"
        return said + (", and their bodies differ" if comparison.lies_elsewhere else "")
    return "both maps carry the same" if comparison.same else "the maps differ in what they carry"


def _numbered(comparison: Comparison, renumbered: Renumbered) -> str:
    """Say that the two numberings differ, and what that leaves: nothing by position, or a mistake said next."""
    x, y = names(comparison)
    both, known = renumbered.numberings, count(renumbered.known, "contact")
    instead = f"numbered {both.second} instead of {both.first}"
    if both.amounts_to:
        instead += f" (by its labels {both.amounts_to})"
    if comparison.whole:
        by = "the contacts that touch" if both.plugged else "position"
        return f"{y} is {instead}, so the two are compared by {by}"
    said = f"{y} plugs into {x} and is {instead}" if both.plugged else f"{y} is the same connector as {x}, {instead}"
    agreeing = f"all {known}" if renumbered.agreeing == renumbered.known else f"{renumbered.agreeing} of {known}"
    where = "where they touch" if both.plugged else "at the same position"
    by_label = "" if renumbered.as_given is None else f" (under the same label: {renumbered.as_given or 'none'})"
    rest = "" if renumbered.agreeing == renumbered.known else "; the rest differs besides"
    return f"{said}: {agreeing} have the same signal {where}{by_label}{rest}"


def _elsewhere(comparison: Comparison, pair: Pair) -> bool:
    """Whether two paired contacts lie in different places: their labels differ, and not by the numbering alone."""
    if comparison.renumbered:
        return comparison.renumbered.numberings.moves.get(pair.there, "") != pair.label
    return pair.there != pair.label


def _whole(comparison: Comparison) -> str:
    whole = comparison.whole
    assert whole is not None  # noqa: S101 - the caller sees to it
    x, y = names(comparison)
    wrong, right = (y, x) if whole.made_in == "second" else (x, y)
    return (
        f"{wrong} is {right} {whole.mistake.name} ({whole.mistake.why}): {whole.agreeing} of "
        f"{count(whole.known, 'contact')} agree then, {whole.as_given} as they stand"
        + ("; the rest differs besides" if whole.agreeing < whole.known else "")
    )


def _clashes(comparison: Comparison) -> list[str]:
    """The contacts that are a supply or return in one map and something else in the other: what destroys things."""
    x, y = names(comparison)
    return [
        f"{_at(pair, y)} carries {_carries(pair.first)} in {x}, {_carries(pair.second)} in {y}: "
        "measure it before anything is connected"
        for pair in comparison.pairs
        if pair.relation == "another line" and _power(pair)
    ]


def _power(pair: Pair) -> bool:
    return any(c.signal and c.signal.is_power for c in (*pair.first, *pair.second))


def _at(pair: Pair, second: str) -> str:
    return pair.label if pair.label == pair.there else f"{pair.label} ({pair.there} of {second})"


def _labels(contacts: Iterable[Contact]) -> str:
    return ranges(sorted({c.label for c in contacts}, key=natural))


def _carries(contacts: Iterable[Contact]) -> str:
    return listed(dict.fromkeys(c.name for c in contacts))


def _exchange(comparison: Comparison, a: Pair, b: Pair) -> str:
    x, y = names(comparison)
    there = f" ({a.there} and {b.there} of {y})" if (a.there, b.there) != (a.label, b.label) else ""
    return (
        f"{a.label} and {b.label}{there} are exchanged: {_carries(a.first)} and {_carries(b.first)} in {x}, "
        f"{_carries(a.second)} and {_carries(b.second)} in {y}"
    )


def _moved(comparison: Comparison) -> list[str]:
    """The lines that stand on other contacts, without those that an exchange tells of."""
    x, y = names(comparison)
    back = {pair.there: pair.label for pair in comparison.pairs if pair.there}
    told = {label for exchange in comparison.exchanged for label in exchange}
    out = []
    for row in comparison.rows:
        if row.besides != "moved":
            continue
        here = {c.label for c in row.first}
        there = {back.get(c.label, ""): c.label for c in row.second}
        lost, gained = here - set(there), set(there) - here
        if lost | gained <= told:
            continue
        lost_said, gained_said = (
            ranges(sorted(labels, key=natural)) for labels in (lost, (there[label] for label in gained))
        )
        if len(row.first) == 1 == len(row.second):
            out.append(f"{row.signal} is at {lost_said} in {x}, at {gained_said} in {y}")
        else:
            only = [f"at {said} only in {name}" for said, name in ((lost_said, x), (gained_said, y)) if said]
            out.append(f"{row.signal} is {listed(only)}")
    return out


def _polarities(comparison: Comparison) -> list[str]:
    x, y = names(comparison)
    rows = [row for row in comparison.rows if row.relation == "opposite polarity"]
    out = [
        f"the polarity is opposite: {_carries(row.first)} at {_labels(row.first)} in {x}, "
        f"{_carries(row.second)} at {_labels(row.second)} in {y}"
        for row in rows
    ]
    told = {c.label for row in rows for c in row.first}
    out += [
        f"the polarity at {pair.label} is opposite: {_carries(pair.first)} in {x}, {_carries(pair.second)} in {y}"
        for pair in comparison.pairs
        if pair.relation == "opposite polarity" and pair.label not in told
    ]
    return out


def _when(contacts: Iterable[Contact]) -> str:
    fitted = sorted({c.option for c in contacts})
    if fitted == [""]:
        return "always"
    return listed((f"only with {option}" if option else "always" for option in fitted), "or")


def _options(comparison: Comparison) -> list[str]:
    x, y = names(comparison)
    both: list[tuple[Sequence[Contact], Sequence[Contact]]] = (
        [(pair.first, pair.second) for pair in comparison.pairs if pair.relation == "another option"]
        if comparison.held
        else [
            (r.first, r.second) for r in comparison.rows if r.first and r.second and _when(r.first) != _when(r.second)
        ]
    )
    return [
        f"{_carries(one)} ({_labels(one)}) is there {_when(one)} in {x}, {_when(other)} in {y}" for one, other in both
    ]


def use(contacts: Iterable[Contact]) -> str:
    """What contacts are that carry no known line: open, a key, not known."""
    said = {"undescribed": "not known", "unknown": "of an unknown name, {}"}
    return listed(dict.fromkeys(said.get(c.role, c.name).format(c.written) for c in contacts)) or "not there"


def _uses(comparison: Comparison) -> list[str]:
    x, y = names(comparison)
    alike: dict[tuple[str, str], list[str]] = {}
    for pair in comparison.pairs:
        if pair.relation == "another use":
            alike.setdefault((use(pair.first), use(pair.second)), []).append(pair.label or pair.there)
    return [f"{ranges(labels)}: {one} in {x}, {other} in {y}" for (one, other), labels in alike.items()]


def _renamed(comparison: Comparison, row: Row) -> str:
    x, y = names(comparison)
    one, other = (listed(written) for written in row.written)
    said = f"{row.signal} is written {one} in {x}, {other} in {y}, and is the same line"
    return f"{said}: {row.differs}" if row.differs else said


#: What a map says of itself in running text; JSON and the lines of a difference have both wordings.
_PROSE = ("title", "about", "source")


def _told(comparison: Comparison, what: str, changes: Sequence[Change]) -> list[str]:
    """Tell changes one by one, but together what only one of the maps says."""
    x, y = names(comparison)
    out = [
        f"{what} {change.what}: {change.first} in {x}, {change.second} in {y}".lstrip()
        for change in changes
        if change.first and change.second
    ]
    for name, other, get in ((x, "second", "first"), (y, "first", "second")):
        only = [f"{c.what} ({getattr(c, get)})" for c in changes if not getattr(c, other) and getattr(c, get)]
        if only:
            out.append(f"{what} {', '.join(only)}: only in {name}".lstrip())
    bare = [c.what for c in changes if not c.first and not c.second]
    return [*out, *(f"{what} {name}: only one of the two has it".lstrip() for name in bare)]


# ---------------------------------------------------------------------- side by side


def show(comparison: Comparison) -> None:
    """Print two maps side by side, by signal and by contact, then in words, then what it comes to."""
    from .screen import wrapped
    from .screen_tables import _add_row, _Page, _table

    page = _Page()
    x, y = (visible(m.name) for m in (comparison.first, comparison.second))
    columns = ("signal", x, y, "")
    title = visible(f"{comparison.first.title} · {comparison.second.title}")
    table = _table(*columns, title=title) if page.narrow else _table("group", *columns, title=title)
    previous = None
    said = []
    for row in comparison.rows:
        if previous not in (None, row.group):
            table.add_section()
        previous = row.group
        said.append(relation := _said(comparison, row))
        cells = (row.signal, *_sides(row), relation + (f": {row.differs}" if row.differs else ""))
        _add_row(table, *(cells if page.narrow else (row.group, *cells)), bold=row.relation not in ("same", "moved"))
    page.add(table)
    page.add(", ".join(f"{said.count(r)} {r}" for r in dict.fromkeys(said)) or "both maps carry no signal")
    differing = [pair for pair in comparison.pairs if pair.relation != "same"]
    if differing:
        page.add()
        two = comparison.whole is not None or comparison.renumbered is not None
        headings = (f"contact of {x}", x, f"contact of {y}", y, "") if two else ("contact", x, y, "")
        table = _table(*headings, title="Contacts that differ")
        for pair in differing:
            first, second = _contents(pair.first), _contents(pair.second)
            sides = (pair.label, first, pair.there, second) if two else (pair.label, first, second)
            _add_row(table, *sides, pair.relation)
        page.add(table)
    for heading, sentences in (
        ("What differs", words(comparison)),
        ("What differs besides, and changes no wire", remarks(comparison)),
    ):
        if sentences:
            page.add()
            page.add(heading, bold=True)
            page.lines([line for sentence in sentences for line in wrapped(sentence, "    ", "  ")])
    page.add()
    page.add(conclusion(comparison), bold=True)
    page.show()


def _said(comparison: Comparison, row: Row) -> str:
    """A row's relation as the table says it."""
    if not comparison.held and row.relation in ("same", "moved"):
        return "in both"
    if comparison.renumbered and not comparison.whole and row.besides == "same":
        return "same position"
    if comparison.whole and row.besides == "same" and row.relation == "moved":
        return "moved with the connector"
    return row.besides


def _sides(row: Row) -> tuple[str, str]:
    def side(contacts: tuple[Contact, ...]) -> str:
        other = {c.name for c in contacts} - {row.signal}
        return f"{_labels(contacts)} ({listed(sorted(other))})" if other else _labels(contacts)

    return side(row.first), side(row.second)


def _contents(contacts: Sequence[Contact]) -> str:
    return " / ".join(
        (c.name if c.signal else use([c])) + (f" (only with {c.option})" if c.option else "") for c in contacts
    )


# ---------------------------------------------------------------------- JSON


def as_json(comparison: Comparison) -> dict[str, Any]:
    """The result of `compare`.

    `mistake` is null where neither map is the other written another way round, `contacts` where the labels differ and
    position tells no more, `renumbered` where the two are compared by their labels.
    """
    whole = comparison.whole
    return {
        "format": FORMAT,
        "first": comparison.first.name,
        "second": comparison.second.name,
        "same": comparison.same,
        "signals": [
            {
                "signal": r.signal,
                "group": r.group,
                "first": [c.label for c in r.first],
                "second": [c.label for c in r.second],
                "relation": r.relation,
                "differs": r.differs,
                "written": [list(side) for side in r.written],
                "renamed": r.renamed,
                "besides": r.besides,
            }
            for r in comparison.rows
        ],
        "identical": comparison.identical,
        "labelled": comparison.labelled,
        "mistake": {
            "kinds": list(whole.mistake.kinds),
            "name": whole.mistake.name,
            "made_in": whole.made_in,
            "agreeing": whole.agreeing,
            "as_given": whole.as_given,
            "known": whole.known,
        }
        if whole
        else None,
        "contacts": [_pair_json(pair) for pair in comparison.pairs] if comparison.held else None,
        "exchanged": [list(labels) for labels in comparison.exchanged],
        "body": _changes_json(comparison.body),
        "mated": comparison.mated,
        "limits": _changes_json(comparison.limits),
        "options": _changes_json(comparison.options),
        "own": _changes_json(comparison.own),
        "about": _changes_json(comparison.about),
        "words": words(comparison),
        "remarks": remarks(comparison),
        "renumbered": _renumbered_json(comparison.renumbered) if comparison.renumbered else None,
    }


def _renumbered_json(renumbered: Renumbered) -> dict[str, Any]:
    both = renumbered.numberings
    return {
        "first": both.first,
        "second": both.second,
        "plugged": both.plugged,
        "amounts_to": both.amounts_to,
        "agreeing": renumbered.agreeing,
        "as_given": renumbered.as_given,
        "known": renumbered.known,
    }


def _pair_json(pair: Pair) -> dict[str, Any]:
    return {
        "first": pair.label or None,
        "second": pair.there or None,
        "carries_first": [c.name for c in pair.first],
        "carries_second": [c.name for c in pair.second],
        "relation": pair.relation,
        "changes": _changes_json(pair.changes),
    }


def _changes_json(changes: Sequence[Change]) -> list[dict[str, str]]:
    return [{"what": change.what, "first": change.first, "second": change.second} for change in changes]
