"""What the terminal shows as tables: a map, two maps side by side, the wiring of an adapter, the library."""

from __future__ import annotations

import os
from collections.abc import Sequence

import click
from rich import box
from rich.console import Console
from rich.table import Table

from ..adapter import Adapter
from ..compare import Comparison, Row
from ..findings import tally
from ..model import Contact, PinMap
from ..text import count, listed, natural, ranges
from ..wiring import wires
from .screen import finding_lines, kind_lines, width, wrapped
from .tables import CAUTIONS, describe


def console() -> Console:
    """A console on stdout that shows text as it is; NO_COLOR and a pipe turn colours off."""
    # Without a terminal the tables are as wide as they need to be, up to a page in landscape.
    fixed = None if os.isatty(1) else max(width(), 120)
    return Console(markup=False, highlight=False, emoji=False, width=fixed, soft_wrap=False)


def _table(*columns: str, title: str = "") -> Table:

    table = Table(
        title=title or None,
        box=box.HORIZONTALS,
        title_justify="left",
        title_style="bold",
        header_style="bold",
        pad_edge=False,
    )
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def adapted(adapter: Adapter, files: Sequence[str]) -> None:
    """Print the wiring table, what does not map, which cards can work, what was found, and the verdict."""
    out = console()
    out.print(adapter.title, style="bold")
    for connector, pin_map in ((adapter.host_connector, adapter.host), (adapter.card_connector, adapter.card)):
        out.print(describe(connector, pin_map))
    if adapter.fitted:
        out.print(f"Options fitted: {listed(adapter.fitted)}")
    out.print()
    out.print(wire_table(adapter))
    unmapped_tables(adapter, out)
    out.print()
    out.print("Kinds of card that can work in it", style="bold")
    click.echo("\n".join(kind_lines(adapter.coverage)))
    out.print()
    out.print("What was found", style="bold")
    shown = [f for f in adapter.findings if f.grade != "note" and f.code != "signal-absent"]
    click.echo("\n".join(finding_lines(shown)) or "  nothing beyond the tables above")
    absent = sum(f.code == "signal-absent" and f.grade != "note" for f in adapter.findings)
    if absent:
        click.echo(f"  and {count(absent, 'finding')} about absent signals: the table above has them")
    hidden = sum(f.grade == "note" for f in adapter.findings)
    if hidden:
        click.echo(f"  and {count(hidden, 'note')}: see report.md, or `pinmap check` on each map")
    out.print()
    for caution in CAUTIONS:
        click.echo("\n".join(wrapped(caution, "  ", "! ")))
    out.print()
    style = {"build": "green", "build with care": "yellow", "do not build": "red"}[adapter.verdict]
    click.secho(f"{adapter.verdict}: {tally(adapter.findings)}", fg=style, bold=True)
    if files:
        click.echo(f"written: {', '.join(files)}")


def wire_table(adapter: Adapter) -> Table:
    """The wiring table, with a line between the supplies and each group."""
    table = _table("wire", "from", "pad", "to", "pad", "signal", "group", "state", "remark", title="Wiring")
    previous = None
    for w in wires(adapter):
        if previous not in (None, w.group):
            table.add_section()
        previous = w.group
        remark = "; ".join(x for x in ("link" if w.kind == "link" else "", w.remark) if x)
        style = "bold" if w.group in ("return", "supply") else None
        table.add_row(
            str(w.number),
            f"{w.start.ref} {w.start.label}",
            w.start.pad,
            f"{w.stop.ref} {w.stop.label}",
            w.stop.pad,
            w.signal,
            w.group,
            w.state,
            remark,
            style=style,
        )
    return table


def unmapped_tables(adapter: Adapter, out: Console) -> None:
    """The signals of each end that have no partner; lines alike in everything share a row."""
    for end, title in (
        ("card", "The card has these, the slot does not bring them"),
        ("host", "The slot brings these, the card has no use for them"),
    ):
        alike: dict[tuple[str, str, str], list[str]] = {}
        for u in adapter.unmapped:
            if u.end == end:
                alike.setdefault((u.reason, u.effect, str(u.remedy)), []).append(u.signal)
        if alike:
            out.print()
            table = _table("signal", "why", "what it means", "remedy", title=title)
            for (reason, effect, remedy), signals in alike.items():
                table.add_row(ranges(signals), reason, effect, remedy)
            out.print(table)


def shown(pin_map: PinMap) -> None:
    """Print a map as a plan of the connector and as a table."""
    out = console()
    body = pin_map.body
    out.print(pin_map.title, style="bold")
    if pin_map.about:
        out.print(pin_map.about)
    size = " + ".join(f"{s.rows}×{s.places}" for s in body.sections)
    out.print(
        f"{body.form} {size}, {body.pitch_mm:g} mm pitch, bus {pin_map.bus.name}, {pin_map.end}; source: "
        f"{pin_map.source or 'not stated'}"
    )
    out.print()
    out.print(plan_table(pin_map))
    out.print()
    table = _table("contact", "pad", "signal", "as written", "group", "driven by", "remark", title="Contacts")
    previous = None
    for c in sorted(pin_map.contacts, key=lambda c: natural(c.label)):
        row = "".join(ch for ch in c.label if not ch.isdigit())
        if previous not in (None, row):
            table.add_section()
        previous = row
        written = c.written if c.written not in (c.name, "") else ""
        table.add_row(
            c.label,
            body.pad_of[c.label],
            c.name,
            written,
            c.signal.group if c.signal else "",
            c.signal.driver if c.signal and c.signal.driver != "none" else "",
            contact_remark(c),
        )
    out.print(table)


def contact_remark(contact: Contact) -> str:
    """What is to be said about a contact, in short."""
    said = []
    if contact.inverted and contact.signal:
        said.append(f"opposite polarity to {contact.signal.name}")
    if contact.option:
        said.append(f"only with {contact.option}")
    if contact.seen != "manual":
        said.append(contact.seen)
    if contact.note:
        said.append(contact.note)
    return "; ".join(said)


def plan_table(pin_map: PinMap) -> Table:
    """The connector drawn as rows of contacts, turned by a quarter so that its left end is at the top.

    A turn keeps what is left and right of each other; a mirror image would not. The bottom row comes to lie left.
    """
    body = pin_map.body
    columns = sorted({s.y_mm for s in body.spots.values()}, reverse=True)
    table = Table(
        box=box.SIMPLE,
        show_header=False,
        pad_edge=False,
        title_justify="left",
        title_style="bold",
        title="Seen from the mating face, turned so that its left end is at the top",
        caption=f"contact {body.labels[0]}: {body.first} before the turn",
        caption_justify="left",
    )
    for _ in columns:
        table.add_column(justify="right")
        table.add_column(justify="left")
    at = {(s.x_mm, s.y_mm): label for label, s in body.spots.items()}
    for x in sorted({s.x_mm for s in body.spots.values()}):
        cells = []
        for y in columns:
            label = at.get((x, y))
            contact = pin_map.by_label[label] if label else None
            cells += [label or "", _cell(contact) if contact else ""]
        table.add_row(*cells)
    return table


def _cell(contact: Contact) -> str:
    mark = {"key": "✕", "open": "○", "undescribed": "?", "unknown": "?"}.get(contact.role, "●")
    doubt = "?" if contact.seen == "guessed" else ""
    name = (
        contact.name if contact.role in ("signal", "unknown") else "" if contact.role == "undescribed" else contact.role
    )
    return f"{mark} {name}{doubt}"


def compared(comparison: Comparison) -> None:
    """Print two maps side by side, by signal."""
    out = console()
    first, second = comparison.first, comparison.second
    table = _table("group", "signal", first.name, second.name, "", title=f"{first.title} · {second.title}")
    previous = None
    for row in comparison.rows:
        if previous not in (None, row.group):
            table.add_section()
        previous = row.group
        table.add_row(
            row.group,
            row.signal,
            *_sides(row),
            row.relation + (f": {row.differs}" if row.differs else ""),
            style=None if row.relation in ("same", "moved") else "bold",
        )
    out.print(table)
    tallies = {
        r: sum(row.relation == r for row in comparison.rows) for r in dict.fromkeys(r.relation for r in comparison.rows)
    }
    out.print(", ".join(f"{n} {r}" for r, n in tallies.items()) or "both maps carry no signal")


def _sides(row: Row) -> tuple[str, str]:
    def side(contacts: tuple[Contact, ...]) -> str:
        labels = ranges(sorted((c.label for c in contacts), key=natural))
        other = {c.name for c in contacts} - {row.signal}
        return f"{labels} ({listed(sorted(other))})" if other else labels

    return side(row.first), side(row.second)


def library_table(rows: Sequence[tuple[str, str, str, str, str, str]]) -> Table:
    """The connectors of the library."""
    table = _table("name", "collection", "bus", "form", "contacts", "title")
    for row in rows:
        table.add_row(*row)
    return table
