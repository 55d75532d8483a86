"""What the terminal shows as tables: a map, two maps side by side, the wiring of an adapter, the library."""

from __future__ import annotations

import io
import shutil
import sys
from collections.abc import Mapping, Sequence

import click
from rich import box
from rich.cells import cell_len
from rich.console import Console, RenderableType
from rich.table import Table
from rich.text import Text

from ..adapter import Adapter
from ..findings import tally
from ..model import Contact, PinMap
from ..text import count, listed, natural, ranges, visible
from ..wiring import wires
from .budget import sentences
from .fitted import AFTER, WHEN, fitted, lead_said, remedy_said, ribbon_said
from .screen import coloured, finding_lines, kind_lines, show, wrapped
from .tables import CAUTIONS, describe

#: Below this many columns a table leaves out what it can do without.
_NARROW = 72


class _Buffer(io.StringIO):
    encoding = ""


class _Page:
    """Collects tables and lines, and shows them at once."""

    def __init__(self) -> None:
        self._text = _Buffer()
        self._text.encoding = sys.stdout.encoding  # decides whether tables may have lines of box characters
        # Without a terminal the tables are as wide as they need to be, up to a page in landscape.
        self.width = max(40, shutil.get_terminal_size((120, 40)).columns)
        colour = coloured(sys.stdout)
        self._console = Console(
            file=self._text,
            width=self.width,
            force_terminal=colour,
            color_system="standard" if colour else None,
            markup=False,
            highlight=False,
            emoji=False,
            legacy_windows=False,
        )

    @property
    def narrow(self) -> bool:
        """Whether the full tables would be unreadable."""
        return self.width < _NARROW

    def add(self, what: RenderableType = "", *, bold: bool = False) -> None:
        """Add a table, or a text that is wrapped to the page."""
        if isinstance(what, Table):
            _keep_names_whole(what, self.width)
        self._console.print(what, style="bold" if bold else None)

    def lines(self, lines: Sequence[str]) -> None:
        """Add lines that are wrapped already."""
        self._text.write("\n".join(lines) + "\n")

    def show(self) -> None:
        """Write it all."""
        show(self._text.getvalue().removesuffix("\n"))


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


#: Columns of running text: these are broken into lines first.
_PROSE = ("remark", "why", "what it means", "remedy", "title", "what", "joined", "")


def _keep_names_whole(table: Table, width: int) -> None:
    """Let only running text be broken into lines, where that leaves room for it; nothing is ever cut off."""
    names = [column for column in table.columns if column.header not in _PROSE]
    room = width - sum(max(cell_len(str(cell)) for cell in (c.header, *c.cells)) for c in names)
    if room >= 3 * len(table.columns) - 1 + 6 * (len(table.columns) - len(names)):
        for column in names:
            column.no_wrap = True


def _add_row(table: Table, *cells: str, bold: bool = False) -> None:
    """Add a row whose texts show what they hold and do nothing."""
    table.add_row(*(Text(visible(cell)) for cell in cells), style="bold" if bold else None)


def adapted(adapter: Adapter, files: Sequence[str]) -> None:
    """Print the wiring table, what does not map, which cards can work, what was found, and the verdict."""
    page = _Page()
    page.add(visible(adapter.title), bold=True)
    for connector, pin_map in ((adapter.host_connector, adapter.host), (adapter.card_connector, adapter.card)):
        page.add(visible(describe(connector, pin_map)))
    if ribbon := ribbon_said(adapter):
        page.add(ribbon)
    if adapter.fitted:
        page.add(f"Options fitted: {visible(listed(adapter.fitted))}")
    page.add()
    page.add(_wire_table(adapter, narrow=page.narrow))
    if page.narrow:
        page.lines(
            [
                line
                for w in wires(adapter)
                if (remark := "; ".join(x for x in (lead_said(adapter, w), w.remark) if x))
                for line in wrapped(f"{w.number}: {remark}", "    ", " ")
            ]
        )
    _parts_table(adapter, page)
    _unmapped_tables(adapter, page)
    page.add()
    page.add("Kinds of card that can work in it", bold=True)
    page.lines(kind_lines(adapter.coverage))
    page.add()
    page.add("What was found", bold=True)
    said = [f for f in adapter.findings if f.grade != "note" and f.code != "signal-absent"]
    page.lines(finding_lines(said) or ["  nothing beyond the tables above"])
    absent = [f for f in adapter.findings if f.code == "signal-absent" and f.grade != "note"]
    if absent:
        page.lines(wrapped(f"and {tally(absent)} about absent signals: the table above has them", "    ", "  "))
    hidden = sum(f.grade == "note" for f in adapter.findings)
    if hidden:
        page.lines(wrapped(f"and {count(hidden, 'note')}: see report.md, or `pinmap check` on each map", "    ", "  "))
    if adapter.budget:
        page.add()
        page.add("Budget", bold=True)
        for sentence in sentences(adapter.budget):
            page.lines(wrapped(sentence, "    ", "  "))
    page.add()
    for caution in CAUTIONS:
        page.lines(wrapped(caution, "  ", "! "))
    page.add()
    colour = {"build": "green", "build with care": "yellow", "do not build": "red"}[adapter.verdict]
    page.lines([click.style(f"{adapter.verdict}: {tally(adapter.findings)}", fg=colour, bold=True)])
    if files:
        page.lines([f"written: {visible(', '.join(files))}"])
    page.show()


def _wire_table(adapter: Adapter, *, narrow: bool, leads: bool = False) -> Table:
    """The wiring table, with a line between the supplies and each group; or that of the leads of parts."""
    columns = (
        ("wire", "from", "to", "signal")
        if narrow
        else ("wire", "from", "pad", "to", "pad", "signal", "group", "state", "remark")
    )
    table = _table(*columns, title="Leads of the parts, soldered after the readings" if leads else "Wiring")
    previous = None
    for w in (w for w in wires(adapter) if (w.kind == "lead") == leads):
        if previous not in (None, w.group):
            table.add_section()
        previous = w.group
        remark = "; ".join(x for x in ("link" if w.kind == "link" else lead_said(adapter, w), w.remark) if x)
        start, stop = f"{w.start.ref} {w.start.label}", f"{w.stop.ref} {w.stop.label}"
        cells = (
            (start, stop, w.signal)
            if narrow
            else (start, w.start.pad, stop, w.stop.pad, w.signal, w.group, w.state, remark)
        )
        _add_row(table, str(w.number), *cells, bold=w.group in ("return", "supply"))
    return table


def _parts_table(adapter: Adapter, page: _Page) -> None:
    """The parts and their leads, where there are any."""
    if not adapter.parts:
        return
    page.add()
    page.lines(wrapped(WHEN, "  ", "! "))
    if page.narrow:
        page.add("Parts", bold=True)
        for f in fitted(adapter):
            page.lines(wrapped(f"{f.part.ref}: {f.what}, {f.value}: {'; '.join(f.joined)}", "    ", "  "))
            if f.part.fit:
                page.lines(wrapped(f.part.fit, "      ", "    → "))
    else:
        table = _table("part", "value", "what", "joined", title="Parts")
        for f in fitted(adapter):
            _add_row(table, f.part.ref, f.value, f.what, "; ".join((*f.joined, f.part.fit) if f.part.fit else f.joined))
        page.add(table)
    page.add()
    page.add(_wire_table(adapter, narrow=page.narrow, leads=True))
    page.lines(wrapped(AFTER, "  ", "! "))


def _unmapped_tables(adapter: Adapter, page: _Page) -> None:
    """The signals of each end that have no partner; lines alike in everything share a row."""
    for end, title in (
        ("card", "The card has these, the slot does not bring them"),
        ("host", "The slot brings these, the card has no use for them"),
    ):
        alike: dict[tuple[str, str, str], list[str]] = {}
        for u in adapter.unmapped:
            if u.end == end:
                alike.setdefault((u.reason, u.effect, remedy_said(u)), []).append(u.signal)
        if not alike:
            continue
        page.add()
        if page.narrow:
            page.add(title, bold=True)
            for (reason, effect, remedy), signals in alike.items():
                page.lines(wrapped(f"{ranges(signals)}: {reason}. {effect}", "    ", "  "))
                page.lines(wrapped(remedy, "      ", "    → "))
            continue
        table = _table("signal", "why", "what it means", "remedy", title=title)
        for (reason, effect, remedy), signals in alike.items():
            _add_row(table, ranges(signals), reason, effect, remedy)
        page.add(table)


def shown(pin_map: PinMap) -> None:
    """Print a map as a plan of the connector and as a table."""
    page = _Page()
    body = pin_map.body
    page.add(visible(pin_map.title), bold=True)
    if pin_map.about:
        page.add(visible(pin_map.about))
    size = " + ".join(f"{s.rows}×{s.places}" for s in body.sections)
    page.add(
        f"{body.form} {size}, {body.pitch_mm:g} mm pitch, bus {visible(pin_map.bus.name)}, {pin_map.end}; source: "
        f"{visible(pin_map.source) or 'not stated'}"
    )
    page.add()
    page.add("Seen from the mating face, turned so that its left end is at the top", bold=True)
    disputed = pin_map.disputed(frozenset(pin_map.options))
    page.add(_plan_table(pin_map, disputed))
    page.add(f"contact {body.labels[0]}: {body.first} before the turn")
    page.add("● carries a line · ○ open · ✕ key · ? before a name: not known · ? behind it: a guess · ! disputed")
    page.add()
    more = ("signal", "remark") if page.narrow else ("pad", "signal", "as written", "group", "driven by", "remark")
    table = _table("contact", *more, title="Contacts")

    def remark(contact: Contact) -> str:
        return "; ".join(r for r in ("disputed" if contact.label in disputed else "", contact_remark(contact)) if r)

    previous = None
    for c in sorted(pin_map.contacts, key=lambda c: natural(c.label)):
        row = "".join(ch for ch in c.label if not ch.isdigit())
        if previous not in (None, row):
            table.add_section()
        previous = row
        if page.narrow:
            _add_row(table, c.label, c.name, remark(c))
            continue
        _add_row(
            table,
            c.label,
            body.pad_of[c.label],
            c.name,
            c.written if c.written != c.name else "",
            c.signal.group if c.signal else "",
            c.signal.driver if c.signal and c.signal.driver != "none" else "",
            remark(c),
        )
    page.add(table)
    page.show()


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


def _plan_table(pin_map: PinMap, disputed: Mapping[str, Sequence[Contact]]) -> Table:
    """The connector drawn as rows of contacts, turned by a quarter so that its left end is at the top.

    A turn keeps what is left and right of each other; a mirror image would not. The bottom row comes to lie left.
    """
    body = pin_map.body
    columns = sorted({s.y_mm for s in body.spots.values()}, reverse=True)
    table = Table(
        box=box.SIMPLE,
        show_header=False,
        pad_edge=False,
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
            cells += [label or "", _cell(contact, disputed.get(contact.label, ())) if contact else ""]
        _add_row(table, *cells)
    return table


def _cell(contact: Contact, claims: Sequence[Contact]) -> str:
    if claims:
        return f"! {'/'.join(dict.fromkeys(c.name for c in claims))}"
    mark = {"key": "✕", "open": "○", "undescribed": "?", "unknown": "?"}.get(contact.role, "●")
    doubt = "?" if contact.seen == "guessed" else ""
    name = (
        contact.name if contact.role in ("signal", "unknown") else "" if contact.role == "undescribed" else contact.role
    )
    return f"{mark} {name}{doubt}"


def listing(rows: Sequence[Mapping[str, object]], designs: Sequence[Mapping[str, str]]) -> None:
    """Print the connectors and adapters of the library; `rows` and `designs` have what `list --json` has of each."""
    page = _Page()
    keys = ("name", *(() if page.narrow else ("collection", "bus", "form")), "contacts", "title")
    table = _table(*keys)
    for row in rows:
        _add_row(table, *(str(row[key]) for key in keys))
    page.add(table)
    if designs:
        keys = ("name", *(() if page.narrow else ("collection",)), "host", "card", "title")
        table = _table("adapter", *keys[1:])
        for design in designs:
            _add_row(table, *(design[key] for key in keys))
        page.add(table)
    page.show()
