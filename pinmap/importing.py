"""A table that somebody else wrote becomes the text of a pin map file, with all that was assumed.

`tabular.read` gives the grids; here it is found which column is the contact and which the signal, which bus the names
are of and which body the labels tell of. Nothing is dropped silently: every row is in the map, or listed as not
understood, or passed over as a heading.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import combinations

from msgspec import Struct
from msgspec.structs import replace

from . import importing_body, importing_dashes, importing_numbers, importing_tables, importing_text, library
from .errors import PinmapError
from .importing_cells import REF, Direction, Reader
from .importing_tables import Claim, Found, Remark, Table
from .model import Bus, PinMap
from .naming import Names, unused
from .tabular import Grid
from .text import count, listed, natural, quoted

__all__ = ["Imported", "Remark", "imported"]

_MOST_HELD = 50  # tables that are held against each other; a connector has some few
_MOST_NEAR = 40  # names for which the nearest is looked up: each look-up takes a millisecond


class Imported(Struct, frozen=True):
    """A map file's `text`, and what is to be said of how it came about.

    `assumed`: what the table does not tell. `not_understood`: rows that are not in the map, and names that no bus has.
    `doubts`: what stands in the map as the table has it, and contradicts itself. `passed_over`: headings and lines that
    are no rows.
    """

    text: str
    assumed: tuple[str, ...]
    not_understood: tuple[Remark, ...]
    doubts: tuple[Remark, ...]
    passed_over: tuple[Remark, ...]


def imported(
    grids: Sequence[Grid],
    *,
    bus: str | None = None,
    body: str = "",
    like: PinMap | None = None,
    contact_column: str = "",
    signal_column: str = "",
    table: str = "",
    title: str = "",
) -> Imported:
    """Make a map file of the tables in `grids`, which are the parts of one connector.

    `bus` names the dictionary (None: found from the names); `body` says the form and numbering like "box header 2x32
    zigzag first bottom left", or `like` a map whose body it is; `contact_column` and `signal_column` name columns by
    heading or number from 1, several with commas; `table` one of several tables, by number, sheet or reference.

    Raises `PinmapError` where there is no such table, and where two readings are equally good: it names both and the
    option that decides. `NotFoundError` for an unknown bus.
    """
    if like and body:
        raise PinmapError("the body must be given once, with --body or with --like, not with both")
    buses = [library.bus(bus)] if bus else [library.bus(name) for name in library.bus_names()]
    reader = Reader(Names(each) for each in buses)
    scheme = like.body.scheme if like else importing_body.wanted(body).scheme
    found = importing_tables.found(grids, reader, contact_column, signal_column, scheme or "")
    chosen = _chosen(found, table)
    claims = [claim for each in chosen for claim in each.claims]
    assumed = list(found.assumed)
    if chosen and all(each.turned for each in chosen):
        assumed.append(f"labels: the table writes the number before the letter; {claims[0].label} is meant")
    claims, one_case = importing_body.one_case(claims)
    assumed += [one_case] if one_case else []
    the_bus, why = (buses[0], "") if bus else _bus(claims, reader, buses)
    assumed += [why] if why else []
    shape = importing_body.found(claims, body, like, _published(the_bus, buses), found.unread)
    assumed += shape.assumed
    claims, strays = _on_body(claims, shape.body.labels)
    if not claims:
        raise PinmapError(
            f"a table must describe contacts of its body; none of its labels is on it ({strays[0].text} …)",
            "Say another body with --body or --like",
            strays[0].place,
        )
    names = Names(the_bus)
    dashes = importing_dashes.settled(claims, names, reader)
    claims = dashes.claims
    assumed += dashes.assumed
    told = {remark.place for remark in dashes.doubts}
    unsigned = importing_numbers.unsigned(claims, names, told)
    assumed += unsigned.assumed
    marks, said = _marks(claims, names)
    assumed += [said] if said else []
    not_understood = sorted([*found.not_understood, *strays, *_unknown(claims, names)])
    numbers = [
        remark for remark in (*importing_numbers.doubts(claims, names), *unsigned.doubts) if remark.place not in told
    ]
    others = [*numbers, *_twice(claims), *_unmarked(claims, names, marks), *_directions(claims, names)]
    doubts = sorted([*dashes.doubts, *others])
    file = _file(grids)
    made = importing_text.text(
        shape.body,
        claims,
        bus=the_bus.name,
        title=title or _heading(found, chosen) or f"Connector of {file}",
        source=f"the table {file}",
        marks=marks,
        assumed=assumed,
        remarks=[*not_understood, *doubts],
    )
    return Imported(made, tuple(assumed), tuple(not_understood), tuple(doubts), tuple(sorted(found.passed_over)))


def _file(grids: Sequence[Grid]) -> str:
    """The name of the file without its folder, which is this machine's alone."""
    file = next((grid.place.file for grid in grids if grid.rows or grid.borders), "table")
    if grids and grids[0].kind == "workbook":
        file = file.removesuffix(f" ({grids[0].name})")
    return re.split(r"[/\\]", file)[-1]


def _heading(found: Found, chosen: Sequence[Table]) -> str:
    """A title where the text has one: a heading as Markdown has it, or a short line above the table."""
    if len(found.tables) > len(chosen):  # the first line may be of another table, or of all
        return next((title for t in chosen if (title := _as_title(t.heading))), "")
    first = min((r for r in (*found.passed_over, *found.not_understood)), default=None)
    if first not in found.passed_over or any(c.place < first.place for t in found.tables for c in t.claims):
        return ""
    return _as_title(first.text)


def _as_title(text: str) -> str:
    if not text or len(text) > importing_tables.MAX_HEADING:
        return ""
    marked = re.match(r"#{1,3} (\S.*)", text)
    plain = re.search(r"[^\W\d_]{3}", text) and "  " not in text and text[-1] not in ".:;,"
    return marked[1] if marked else text if plain else ""


# ------------------------------------------------------------------ which table


def _chosen(found: Found, table: str) -> list[Table]:
    """The tables that are one connector. Raises `PinmapError` where they are two, or none is the one asked for."""
    tables = found.tables
    if table:
        if table.isascii() and table.isdecimal() and 1 <= int(table[:6]) <= len(tables):
            wanted = [tables[int(table) - 1]]
        else:
            wanted = [t for t in tables if table.casefold() in (t.key.casefold(), t.heading.casefold()) and t.key]
        if not wanted:
            known = listed((_named(i, t) for i, t in enumerate(tables, 1)), "or")
            raise PinmapError(f"--table must be {known}, not {quoted(table)}")
        for other in tables:
            if other not in wanted:
                found.passed_over += [
                    Remark(c.place, f"{c.label}  {c.name}", "of another table of the file") for c in other.claims
                ]
        return wanted
    kept: dict[tuple[str, frozenset[tuple[str, str]]], Table] = {}
    for each in tables:
        of = each.key if re.fullmatch(REF, each.key, re.IGNORECASE) else ""
        same = kept.setdefault((of, frozenset((c.label, c.name) for c in each.claims)), each)
        if same is not each:
            found.assumed.append(f"{each.place}: this table says the same as the one at {same.place}; it was not used")
            found.passed_over += [Remark(c.place, f"{c.label}  {c.name}", "said before") for c in each.claims]
    for one, other in combinations(list(kept.values())[:_MOST_HELD], 2):
        a, b = ({c.label for c in t.claims} for t in (one, other))
        apart = one.key != other.key and all(re.fullmatch(REF, t.key, re.IGNORECASE) for t in (one, other))
        if len(a & b) * 2 >= min(len(a), len(b)) or _kind(a) != _kind(b) or apart:
            ways = [_way(t, tables) for t in (one, other)]
            raise PinmapError(
                f"a file must describe one connector; its tables at {one.place} and {other.place} "
                + (
                    f"both describe contact {min(a & b, key=natural)}"
                    if a & b
                    else f"are of {one.key} and {other.key}"
                    if apart
                    else "number their contacts in different ways"
                ),
                f"Say which with --table {listed(map(quoted, ways), 'or --table')}",
                other.place,
            )
    return list(kept.values())


def _kind(labels: set[str]) -> bool:
    """Whether the labels are a row's letter and a number; numbers and letters alone can be one connector."""
    return all(re.search(r"[A-Za-z]", label) and re.search(r"\d", label) for label in labels)


def _way(table: Table, tables: Sequence[Table]) -> str:
    """What --table must say for this table: its name where no other has it and it is no number, or its number."""
    keys = [t.key.casefold() for t in tables]
    plain = table.key and keys.count(table.key.casefold()) == 1 and not table.key.isdecimal()
    return table.key if plain else str(tables.index(table) + 1)


def _named(number: int, table: Table) -> str:
    return f"{number} ({quoted(table.key, 30)})" if table.key else str(number)


# ------------------------------------------------------------------ which bus


def _bus(claims: Sequence[Claim], reader: Reader, buses: Sequence[Bus]) -> tuple[Bus, str]:
    """The bus that has most of the names as its own; where two have as many, the smaller one, and it is said."""
    written = [c.name for c in claims if not unused(c.name)]
    if not any(reader.signals(name) for name in written):
        raise PinmapError(
            f"the signals must be lines of a bus; none of {count(len(written), 'name')} "
            f"({listed(map(quoted, written[:3]))} …) is one of {listed((b.name for b in buses), 'or')}",
            "Name the right column with --signal-column, or the bus with --bus",
            claims[0].place,
        )
    scored = []
    for each, names in zip(buses, reader.names, strict=True):
        read = [reading for name in written if (reading := names.read(name))]
        own = sum(reading.via != "generation" for reading in read)
        scored.append((own, len(read), -len(each.signals), each))
    scored.sort(key=lambda s: s[:3], reverse=True)
    (own, known, _, best), rest = scored[0], scored[1:]
    alike = [other.name for o, k, _, other in rest if (o, k) == (own, known)]
    tie = f"; {listed(alike)} has them as well, --bus says otherwise" if alike else "; --bus says otherwise"
    return best, f"bus: {best.name}, which has {known} of {len(written)} names{tie}"


def _published(bus: Bus, buses: Sequence[Bus]) -> list[PinMap]:
    """The published connectors, those of this bus first: maps that could not be read are none."""
    names = dict.fromkeys(name for each in (bus, *buses) for name in each.connectors)
    maps = [library.read(name).map for name in names]
    return [m for m in maps if m is not None]


# ------------------------------------------------------------------ what is to be said of the rows


def _on_body(claims: Sequence[Claim], labels: Sequence[str]) -> tuple[list[Claim], list[Remark]]:
    """The claims under the body's own labels, and a remark for each that has no contact there."""
    spelled = {label.casefold(): label for label in labels} | {label: label for label in labels}
    out: list[Claim] = []
    strays: list[Remark] = []
    for claim in claims:
        label = spelled.get(claim.label) or spelled.get(claim.label.casefold())
        if label is None:
            strays.append(Remark(claim.place, f"{claim.label}  {claim.name}", "no contact of this body has that label"))
        else:
            out.append(replace(claim, label=label))
    return out, strays


def _marks(claims: Sequence[Claim], names: Names) -> tuple[str, str]:
    """Whether the table marks lines as active low, and what to say where it does not."""
    read = [reading for c in claims if (reading := names.read(c.name)) and not reading.signal.is_power]
    low = [reading for reading in read if reading.usual]
    if low and not any(reading.marked for reading in read):
        return "none", (
            f"marks: none, for none of the {count(len(low), 'line')} that are active low on this bus is marked "
            f"({low[0].signal.name} and others)"
        )
    return "used", ""


def _unknown(claims: Sequence[Claim], names: Names) -> list[Remark]:
    out: list[Remark] = []
    for claim in claims:
        if names.read(claim.name) or unused(claim.name):
            continue
        if ".." in claim.name:
            why = "a run of names beside one contact; it stands in the map as a comment"
        else:
            rail = importing_numbers.hint(claim.name, names)
            near = names.nearest(claim.name) if not rail and len(out) < _MOST_NEAR and len(claim.name) < 60 else []
            if re.search(r"^[-−–]|[-−–]$", claim.name):  # "-VCC" is not nearly +5V
                near = [name for name in near if not name.startswith("+")]
            hint = f"; {rail}" if rail else f"; nearest: {listed(near, 'or')}" if near else ""
            why = (
                f"no line of {names.bus.name} (contact {claim.label}); it stands in the map as written: correct it "
                f"or describe it under own signals{hint}"
            )
        out.append(Remark(claim.at, claim.name, why))
    return out


def _twice(claims: Sequence[Claim]) -> list[Remark]:
    first: dict[str, Claim] = {}
    out: list[Remark] = []
    for claim in claims:
        before = first.setdefault(claim.label, claim)
        if before is not claim:
            out.append(
                Remark(
                    claim.place,
                    f"{claim.label}  {claim.name}",
                    f"contact {claim.label} stands at {before.place} too, with {quoted(before.name, 30)}; "
                    "both are in the map",
                )
            )
    return out


def _unmarked(claims: Sequence[Claim], names: Names, marks: str) -> list[Remark]:
    out = []
    for claim in claims:
        reading = names.read(claim.name)
        if reading and reading.inverted(marks):
            way = "with" if reading.marked else "without"
            out.append(
                Remark(
                    claim.at,
                    claim.name,
                    f"it stands {way} a mark of active low, opposite to {reading.signal.name} of {names.bus.name}: "
                    "another polarity, or a slip",
                )
            )
    return out


def _directions(claims: Sequence[Claim], names: Names) -> list[Remark]:
    """The lines whose direction contradicts the dictionary, where the others tell from which side the table looks."""
    told: list[tuple[Claim, Direction, str]] = []
    for claim in claims:
        reading = names.read(claim.name)
        if claim.direction in ("in", "out") and reading and reading.signal.driver in ("host", "card"):
            told.append((claim, claim.direction, reading.signal.driver))
    from_host = sum((way == "out") == (driver == "host") for _, way, driver in told)
    if len(told) < 4 or max(from_host, len(told) - from_host) * 4 < len(told) * 3:
        return []
    seen_from = "host" if from_host * 2 > len(told) else "card"
    return [
        Remark(
            claim.place,
            f"{claim.label}  {claim.name}",
            f"the table says {way}, but {claim.name} is driven by the {driver}, and the other lines are seen from the "
            f"{seen_from}",
        )
        for claim, way, driver in told
        if ((way == "out") == (driver == "host")) != (seen_from == "host")
    ]
