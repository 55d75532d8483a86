"""The commands about adapters."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .cli_common import (
    EXIT_FOUND,
    JSON,
    MAP,
    WITH,
    complain,
    example,
    fail_with_findings,
    file_option,
    folder_option,
    new_file,
    print_json,
    print_text,
)
from .errors import PinmapError
from .text import listed
from .writers import FILES

if TYPE_CHECKING:
    from .adapter import Adapter
    from .bench.plan import Plan
    from .sheets import Paper


@click.command(
    epilog=example(
        "pinmap adapt oakmere-88 isa-8bit --out build\n"
        'pinmap adapt oakmere-88 isa-8bit --with "video board"\n'
        "pinmap adapt oakmere-riser --out build"
    )
)
@click.argument("host", type=MAP, metavar="HOST")
@click.argument("card", type=MAP, metavar="CARD", required=False)
@WITH
@folder_option("the adapter")
@click.option(
    "--only",
    type=click.Choice(FILES),
    multiple=True,
    metavar="FILE",
    help=f"Write only this file; may be given several times. Of {listed(FILES)}.",
)
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help="The paper of wiring.pdf."
)
@click.option("--date", default="", metavar="TEXT", help="A date to print; none is printed without it.")
@click.option(
    "--wire-length", default="", metavar="LENGTH", help='How long a wire is, such as "150 mm", for a cut list.'
)
@click.option("--bom", is_flag=True, help="Begin CSV files with a byte order mark, for a spreadsheet that needs one.")
@JSON
def adapt(
    host: str,
    card: str | None,
    fitted: tuple[str, ...],
    folder: Path | None,
    only: tuple[str, ...],
    paper: Paper,
    date: str,
    wire_length: str,
    bom: bool,
    as_json: bool,
) -> None:
    """Plan the adapter from a machine's connector HOST to a CARD's, and write its files.

    Prints the wiring table, every signal that does not map with what that means, and the verdict. In place of both an
    adapter file says the same with what the adapter is built of, which parts make up for what the slot lacks, and the
    cards that will sit in it (`pinmap new --adapter` writes one to fill in).
    """
    idle = [("--only", only), ("--date", date), ("--wire-length", wire_length), ("--bom", bom)]
    if folder is None and (without := [name for name, given in idle if given]):
        raise click.UsageError(f"{listed(without)}: only with --out, for without it no file is written.")
    from . import api

    printing = api.Printing(paper, date, _length_mm(wire_length), bom)
    adapter = plan_of(host, card, fitted, as_json=as_json)
    files = [p.as_posix() for p in api.write(adapter, folder, printing, only or FILES)] if folder else []
    if as_json:
        from .writers import json_output

        print_json(json_output.adapted(adapter, files))
    else:
        from .writers import screen_tables

        screen_tables.adapted(adapter, files)
    if adapter.verdict == "do not build":
        sys.exit(EXIT_FOUND)


def _length_mm(text: str) -> float | None:
    from . import quantity

    try:
        return quantity.parse(text, "mm") if text else None
    except ValueError as error:
        raise PinmapError(f"--wire-length: {error}") from None


@click.command(epilog=example("pinmap budget oakmere-riser"))
@click.argument("design", type=MAP, metavar="ADAPTER")
@WITH
@JSON
def budget(design: str, fitted: tuple[str, ...], as_json: bool) -> None:
    """Say whether an adapter works electrically: supplies, wire and lines, of an adapter file.

    What each rail gives and loses on the way, what wire and contacts carry, what each line's driver must hold, and how
    long the lines may be. Exit status 1 where something is over, or where the adapter must not be built.
    """
    adapter = plan_of(design, None, fitted, as_json=as_json)
    made = adapter.budget
    assert made is not None  # noqa: S101 - an adapter file gives one
    from .writers import budget as writer

    if as_json:
        print_json(writer.as_json(made, adapter))
    else:
        from .writers.screen import show

        show(writer.text(made, adapter))
    if adapter.verdict == "do not build":
        sys.exit(EXIT_FOUND)


@click.command(epilog=example("pinmap board oakmere-riser --out build"))
@click.argument("host", type=MAP, metavar="HOST")
@click.argument("card", type=MAP, metavar="CARD", required=False)
@WITH
@folder_option("the board")
@click.option("--date", default="", metavar="TEXT", help="A date for the schematic; none is printed without it.")
@JSON
def board(host: str, card: str | None, fitted: tuple[str, ...], folder: Path | None, date: str, as_json: bool) -> None:
    """Make a two-layer board of an adapter, routed and ready for a fab, and its schematic.

    HOST stands for an adapter file, or with CARD for two maps. The `board:` section of the adapter file says form,
    sides, limits and rules. The wiring is the plan's and nothing else; what cannot be made is refused with what would
    work.
    """
    from . import api

    if folder is None and date:
        raise click.UsageError("--date: only with --out, for without it no file is written.")
    made = api.make_board(plan_of(host, card, fitted, as_json=as_json))
    files = [p.as_posix() for p in api.write_board(made, folder, date=date)] if folder else []
    from .writers import board_report

    if as_json:
        print_json(board_report.as_json(made, files))
    else:
        from .writers.screen import show

        show(board_report.text(made, files))


@click.command(epilog=example("pinmap misfit oakmere-88 isa-8bit"))
@click.argument("host", type=MAP, metavar="HOST")
@click.argument("card", type=MAP, metavar="CARD", required=False)
@WITH
@JSON
def misfit(host: str, card: str | None, fitted: tuple[str, ...], as_json: bool) -> None:
    """Say what happens when a right adapter is plugged wrongly: off, turned, or only in part.

    Every seating that the connectors allow, at the machine's end and at the card's, the worst first, with the key that
    would keep the most dangerous ones out. An adapter file stands for HOST and CARD. Exit status 1 where one that is
    possible can damage something.
    """
    from .misfit import misfit as seat

    result = seat(plan_of(host, card, fitted, as_json=as_json))
    from .writers import misfits

    if as_json:
        print_json(misfits.as_json(result))
    else:
        from .writers.screen import show

        show(misfits.text(result))
    if any(end.grade in ("danger", "fault") for end in result.ends):
        sys.exit(EXIT_FOUND)


@click.command(
    epilog="\b\nRows of the form, filled in; in the sweep, 4 and 60 of J1 beep:\n"
    "  step,kind,from,to,expected,reading,note\n"
    "  1,resistance,J2 B3,J2 B1,OL,OL,net +5V and net GND\n"
    "  11,sweep,J2 B3,J1,J1 4 60,J1 4 60,net +5V\n\n"
    + example(
        "pinmap bench oakmere-88 isa-8bit --blank --out readings.csv\n"
        "pinmap bench oakmere-88 isa-8bit readings.csv\n"
        "pinmap bench oakmere-88 --blank --out slot-readings.csv"
    )
)
@click.argument("what", nargs=-1, required=True, type=MAP, metavar="HOST [CARD] [READINGS]")
@click.option("--blank", is_flag=True, help="Write the empty form instead: what to measure, in order, as CSV.")
@file_option("--out", "path", "With --blank: write the form to this new file instead of the terminal.")
@WITH
@JSON
def bench(what: tuple[str, ...], blank: bool, path: Path | None, fitted: tuple[str, ...], as_json: bool) -> None:
    """Hold meter readings of the built adapter, or of the machine's bare slot, against the plan.

    HOST and CARD are maps, as for adapt, or one adapter file; with a HOST alone the readings are those of its bare
    slot. READINGS is the form
    that --blank writes, filled in (CSV). Exit status 1 where something is wrong; readings still missing are not.

    The column reading takes what the meter shows: 0.3, 12.4k, 4k7, OL, beep, no beep; 4.98 V. In a sweep one probe
    stays and the other is drawn over a whole connector: write down the label of every contact that beeps, with spaces
    between them, or none.
    """
    host, card, readings = _sorted_out(what, blank)
    if path and not blank:
        raise click.UsageError("--out goes with --blank: it names the file for the empty form.")
    if path:
        new_file(path, "the form")
    from . import api

    try:
        if blank:
            _write_form(api.bench_plan(host, card, fitted), path)
            return
        judged = api.judge_readings(readings, host, card, fitted)
    except api.MapError as error:
        fail_with_findings(error)
    from .writers import bench_report

    if as_json:
        print_json(bench_report.as_json(judged))
    else:
        from .writers.screen import show

        show(bench_report.text(judged))
    if judged.wrong:
        sys.exit(EXIT_FOUND)


def _sorted_out(what: tuple[str, ...], blank: bool) -> tuple[str, str | None, str]:
    """Tell host, card and readings apart; the readings come last."""
    from .library import is_design
    from .text import count

    most = 1 if is_design(what[0]) else 2
    most += 0 if blank else 1
    if len(what) > most or (len(what) < 2 and not blank):
        wanted = "HOST or HOST CARD" if blank else "HOST READINGS or HOST CARD READINGS"
        wanted = ("ADAPTER" if blank else "ADAPTER READINGS") if is_design(what[0]) else wanted
        raise click.UsageError(
            f"bench takes {wanted}{' with --blank' if blank else ''}, not {count(len(what), 'name')}."
        )
    maps, readings = (what, "") if blank else (what[:-1], what[-1])
    if not blank and not Path(readings).suffix and not Path(readings).exists():
        raise click.UsageError(
            f"The last name must be the file of readings, not {readings!r}. `--blank` writes an empty one to fill in."
        )
    return maps[0], maps[1] if len(maps) > 1 else None, readings


def _write_form(plan: Plan, path: Path | None) -> None:
    """Write the empty form; what speaks against the plan or the map goes to stderr in one line."""
    from .bench.answer import said_of_plan
    from .bench.plan import form_rows
    from .readings import form_csv
    from .store import write_file
    from .text import visible

    text = form_csv(form_rows(plan))
    if path is None:
        print_text(text)
    else:
        write_file(path, text)
        print_text(f"written: {path.as_posix()}\n")
    if plan.refused:
        complain(visible(f"do not apply power. {said_of_plan(plan.refused)}"))
    elif plan.cautions:
        more = f" (and {len(plan.cautions) - 1} more: see check)" if len(plan.cautions) > 1 else ""
        complain(visible(f"{plan.cautions[0]}{more}"))


def plan_of(host: str, card: str | None, fitted: tuple[str, ...], *, as_json: bool = False) -> Adapter:
    """Plan the adapter; a map too broken for that ends the command with its complaints."""
    from . import api

    if card is None and not api.is_design(host) and _is_map(api, host):
        alone = click.get_current_context().command.name == "budget"
        wanted = "ADAPTER must be an adapter file, not a map" if alone else "Name the CARD too, or an adapter file"
        raise click.UsageError(f"{wanted}{'' if alone else ' in place of both'}. `pinmap new --adapter` writes one.")
    try:
        return api.adapt(host, card, fitted)
    except api.MapError as error:
        if as_json:
            from .writers import json_output

            print_json(json_output.not_adapted(host, card or "", error.findings))
            sys.exit(EXIT_FOUND)
        fail_with_findings(error)


def _is_map(api: Any, given: str) -> bool:
    """Whether a name or path leads to a map, and so to no adapter file."""
    try:
        api.load_map(given)
    except api.MapError:
        return True
    except PinmapError:
        return False
    return True
