"""The commands that read what others drew: tables of pins, netlists, schematics and boards."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any, Literal

import click

from .cli_adapters import plan_of
from .cli_common import (
    EXIT_FOUND,
    JSON,
    MAP,
    WITH,
    complain,
    example,
    file_option,
    load,
    new_file,
    print_for_tools,
    print_json,
    print_text,
)
from .errors import PinmapError


@click.command(
    "import",
    epilog=example("pinmap import table.csv --out my-machine.yaml"),
)
@click.argument("table", type=click.Path(dir_okay=False, path_type=Path), metavar="TABLE")
@click.option("--bus", default="", help="The bus; found from the names when not given.")
@click.option(
    "--body", default="", metavar="TEXT", help='Form, size and numbering, like "pin header 2x20 zigzag first top left".'
)
@click.option("--like", default="", metavar="MAP", help="Take the body of this map.")
@click.option("--contact-column", default="", metavar="NAME", help="The column of the contacts: heading or number.")
@click.option("--signal-column", default="", metavar="NAME", help="The column of the signals: heading or number.")
@click.option("--table", "which", default="", metavar="NAME", help="One of several tables: number, sheet or reference.")
@click.option("--title", default="", help="The title of the map.")
@file_option("--out", "path", "Write to this new file instead of the terminal.")
def import_(
    table: Path,
    bus: str,
    body: str,
    like: str,
    contact_column: str,
    signal_column: str,
    which: str,
    title: str,
    path: Path | None,
) -> None:
    """Make a pin map of a table as people have it: CSV, a spreadsheet, Markdown, or plain text.

    What was assumed stands in the file as comments; what was not understood is listed, row by row, and nothing is left
    out silently. Where two readings are equally good, the command says which option decides. Check the file then.
    """
    from . import api

    made = api.imported(
        table,
        bus=bus or None,
        body=body,
        like=load(api, like) if like else None,
        contact_column=contact_column,
        signal_column=signal_column,
        table_named=which,
        title=title,
    )
    if path:
        new_file(path, "a map")
        from .store import write_file

        write_file(path, made.text)
        print_text(f"written: {path.as_posix()}\n")
    else:
        print_text(made.text)
    for remark in (*made.not_understood, *made.doubts):
        complain(str(remark))


@click.command(
    epilog=example(
        "pinmap adapt oakmere-88 isa-8bit --only adapter.net --out build\n"
        "pinmap audit build/adapter.net --plan oakmere-88 isa-8bit"
    )
)
@click.argument("drawing", type=click.Path(dir_okay=False, path_type=Path), metavar="DRAWING")
@click.argument("more", nargs=-1, metavar="")
@click.option("--plan", "host", required=True, type=MAP, metavar="HOST [CARD]", help="Two maps, or an adapter file.")
@WITH
@click.option(
    "--through", default="", metavar="LETTERS", help="Parts seen through where they stand in series, like R,JP,F."
)
@click.option("--host", "host_ref", default="", metavar="REF", help="The drawing's connector to the machine.")
@click.option("--card", "card_ref", default="", metavar="REF", help="The drawing's connector for the card.")
@click.option(
    "--format",
    "kind",
    type=click.Choice(["text", "json", "sarif", "github"]),
    default="text",
    show_default=True,
    help="Write the result as text, as JSON (format 1), as SARIF 2.1.0, or as line annotations.",
)
@JSON
def audit(
    drawing: Path,
    more: tuple[str, ...],
    host: str,
    fitted: tuple[str, ...],
    through: str,
    host_ref: str,
    card_ref: str,
    kind: Literal["text", "json", "sarif", "github"],
    as_json: bool,
) -> None:
    """Hold a netlist, schematic or board that somebody drew against the plan, net by net.

    DRAWING ends in .net, .kicad_sch or .kicad_pcb. Names of nets do not matter, connections do; supplies come first.
    Of a board both the nets by name and the copper are judged. Exit status 1 where something is wrong.
    """
    from . import api

    if len(more) > 1:
        raise click.UsageError("--plan takes HOST and CARD, or one adapter file.")
    adapter = plan_of(host, more[0] if more else None, fitted)
    letters = [word.strip() for word in through.split(",") if word.strip()]
    try:
        made = api.audit_drawing(drawing, adapter, through=letters, host=host_ref, card=card_ref)
    except PinmapError as error:
        if kind in ("sarif", "github") and not as_json:  # these tell of what stopped the work too
            print_for_tools(kind, [], [error])
        raise
    _show(made, drawing, "json" if as_json else kind)
    if made.verdict != "as planned":
        sys.exit(EXIT_FOUND)


def _show(made: Any, drawing: Path, kind: Literal["text", "json", "sarif", "github"]) -> None:
    from .writers import audit_report

    if kind == "json":
        print_json(audit_report.as_json(made))
    elif kind in ("sarif", "github"):
        print_for_tools(kind, [(str(drawing), made.findings)], [])
    else:
        from .writers.screen import show

        show(audit_report.text(made))
