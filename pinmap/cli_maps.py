"""The commands about pin maps."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Literal

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
    load,
    new_file,
    one_of,
    print_for_tools,
    print_json,
    print_text,
)
from .errors import PinmapError, Place

if TYPE_CHECKING:
    from .sheets import Paper
    from .writers.difference import Version


@click.command(
    epilog=example(
        "pinmap new --like oakmere-88 --out my-machine.yaml\n"
        "pinmap check my-machine.yaml\n"
        'pinmap check oakmere-88 --with "video board" --json\n'
        "pinmap check my-machine.yaml --against oakmere-88"
    )
)
@click.argument("maps", nargs=-1, required=True, type=MAP, metavar="MAP...")
@WITH
@click.option(
    "--against",
    "references",
    multiple=True,
    type=MAP,
    metavar="MAP",
    help="Hold the maps against this one instead of the published connectors: another record of the same machine. "
    "May be repeated.",
)
@file_option(
    "--propose",
    "proposal",
    "Where a mistake explains the map far better than it stands, write the corrected map to this new file.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json", "sarif", "github"]),
    default="text",
    show_default=True,
    help="Write the result as text, as JSON (format 1), as SARIF 2.1.0, or as the line annotations of a hosted "
    "repository.",
)
@JSON
def check(
    maps: tuple[str, ...],
    fitted: tuple[str, ...],
    references: tuple[str, ...],
    proposal: Path | None,
    form: str,
    as_json: bool,
) -> None:
    """Check pin maps: contacts, names, supplies, returns, evidence, and which cards can work.

    A map is also held against the published connectors of its bus: would a typical mistake explain it better?
    """
    from . import api

    if proposal and len(maps) > 1:
        raise click.UsageError(f"--propose takes one MAP, not {len(maps)}.")
    if proposal:
        new_file(proposal, "a proposal")
    results, errors = api.check_all(maps, fitted, references)
    for error in errors:
        complain(str(error))
    if errors and not results and form not in ("sarif", "github"):  # these two tell of the errors themselves
        sys.exit(2)
    if form in ("sarif", "github"):
        print_for_tools(form, [(r.file, r.findings) for r in results], errors, _in_library(maps))
    elif as_json or form == "json":
        from .writers import json_output

        print_json(json_output.checked((r.file, r.map, r.findings, r.coverage) for r in results))
    else:
        from .writers import screen

        screen.show("\n\n".join(screen.checked(r) for r in results))
    if proposal:
        _propose(maps[0], references, proposal)
    if errors:
        sys.exit(2)
    if any(r.verdict != "sound" for r in results):
        sys.exit(EXIT_FOUND)


def _in_library(maps: tuple[str, ...]) -> set[str]:
    """What the files of connectors that were named, and not given as a path, are called."""
    from .library import find

    out = set()
    for given in maps:
        try:
            path, shown, _ = find(given)
        except PinmapError:
            continue
        if path != Path(given):
            out.add(shown)
    return out


def _propose(source: str, references: tuple[str, ...], path: Path) -> None:
    """Write the corrected map and say so; without a mistake to correct, say that nothing was written."""
    from . import api
    from .store import write_file

    try:
        proposal = api.propose(source, references)
    except api.MapError:
        complain("nothing is proposed: no map can be built from the file yet")
        return
    except PinmapError as error:
        complain(f"{error}; nothing was written")
        return
    write_file(path, proposal.text)
    complain(f"written: {path.as_posix()}: {proposal.sentence()}")


@click.command(epilog=example("pinmap show oakmere-88"))
@click.argument("map_", type=MAP, metavar="MAP")
@JSON
def show(map_: str, as_json: bool) -> None:
    """Show a map as a plan of the connector and as a table."""
    from . import api

    pin_map = load(api, map_)
    if as_json:
        from .writers import json_output

        print_json(json_output.shown(pin_map))
    else:
        from .writers import screen_tables

        screen_tables.shown(pin_map)


@click.command(
    epilog=example(
        "pinmap draw oakmere-88 --out oakmere-88.svg\n"
        "pinmap draw oakmere-88 --view solder --paper Letter --out oakmere-88.pdf\n"
        "pinmap draw oakmere-88 isa-8bit --out adapter.pdf"
    )
)
@click.argument("map_", type=MAP, metavar="MAP")
@click.argument("card", type=MAP, metavar="[CARD]", required=False)
@click.option(
    "--view",
    type=click.Choice(["both", "mating", "solder"]),
    default="both",
    show_default=True,
    help="The side from which the connector is seen; an adapter only from one, the solder side by default.",
)
@click.option("--svg", "kind", flag_value="svg", help="As a picture (SVG); the default, unless FILE ends in .pdf.")
@click.option("--pdf", "kind", flag_value="pdf", help="As pages to print at 100 %, at true scale.")
@click.option("--paper", type=click.Choice(["A4", "Letter"]), default="A4", show_default=True, help="For PDF.")
@file_option("--out", "path", "Write to this file instead of the terminal.")
def draw(
    map_: str,
    card: str | None,
    view: Literal["both", "mating", "solder"],
    kind: str | None,
    paper: Paper,
    path: Path | None,
) -> None:
    """Draw a connector at true scale, from the mating side and from the solder side.

    With a CARD, the adapter from MAP to it: both ends as they lie on the bench, with the wires that join supplies. The
    same for an adapter file in place of both.
    """
    from . import api
    from .store import write_file
    from .text import visible

    ending = path.suffix.lower().removeprefix(".") if path else ""
    if path and (ending not in ("svg", "pdf") or kind not in (None, ending)):
        raise click.UsageError(f"--out must end in .{kind or 'svg or .pdf'}, not in {visible(path.name)!r}.")
    kind = kind or ending or "svg"
    if kind == "pdf" and path is None and sys.stdout.isatty():
        raise click.UsageError("A PDF is not for the terminal: name a file with --out.")
    try:
        content: str | bytes = (
            api.draw_pdf(map_, card, view=view, paper=paper) if kind == "pdf" else api.draw_svg(map_, card, view=view)
        )
    except api.MapError as error:
        fail_with_findings(error)
    if path is None:
        click.echo(content, sys.stdout, nl=False)
        return
    write_file(path, content)
    print_text(f"written: {path.as_posix()}\n")


@click.command(epilog=example("pinmap compare oakmere-88 isa-8bit\npinmap compare --as-diff oakmere-88 isa-8bit"))
@click.argument("maps", nargs=-1, required=True, type=MAP, metavar="MAP MAP")
@click.option(
    "--as-diff",
    is_flag=True,
    help="Write what differs line by line, as version control does. Also takes what git gives to the command of a "
    "diff driver.",
)
@JSON
def compare(maps: tuple[str, ...], as_diff: bool, as_json: bool) -> None:
    """Compare two maps by signal and by contact. The exit status is 1 where they differ in what they carry.

    Names, evidence, notes, sources and limits are shown where they differ, and change no wire: they do not count.
    """
    from . import api
    from .compare import compare as compare_maps

    if as_diff and as_json:
        raise click.UsageError("--as-diff and --json are two forms of the result: take one.")
    if as_diff:
        from .writers import difference

        driven = difference.driven(maps, _version, by_git="GIT_DIFF_PATH_COUNTER" in os.environ)
        if driven is not None:  # git takes any exit status but 0 for a failure
            print_text(driven)
            return
    if len(maps) != 2:
        raise click.UsageError(f"compare takes two maps, not {len(maps)}.")
    result = compare_maps(load(api, maps[0]), load(api, maps[1]))
    if as_diff:
        print_text(difference.as_diff(result.first, result.second))
    elif as_json:
        from .writers import comparison

        print_json(comparison.as_json(result))
    else:
        from .writers import comparison

        comparison.show(result)
    if not result.same:
        sys.exit(EXIT_FOUND)


def _version(file: str) -> Version:
    """One version of a file that git names, and why it is not read in full."""
    from .library import read
    from .writers.difference import Version
    from .yamltree import read_text

    lines = None
    try:
        lines = tuple(read_text(Path(file), file).splitlines())
        got = read(file)
    except PinmapError as error:
        return Version(None, lines, ((error.place or Place(file), error.message),))
    # A name that nobody knows stands in the map as it is; whatever else is wrong does not.
    wrong = [f for f in got.complaints if f.grade in ("danger", "fault") and f.code != "name-unknown"]
    if got.map is None:
        wrong = list(got.complaints)
    return Version(got.map, lines, tuple((f.place, f.message) for f in wrong))


@click.command("list", epilog=example("pinmap list"))
@JSON
def list_(as_json: bool) -> None:
    """List the connectors and the adapter files of the library, shipped and your own."""
    from . import api
    from .library import designs, entries, heading

    rows: list[dict[str, object]] = []
    for entry in entries():
        try:
            m = api.load_map(entry.path)
        except PinmapError as error:
            complain(str(error))
            continue
        rows.append(
            {
                "name": entry.name,
                "collection": entry.collection,
                "bus": m.bus.name,
                "form": m.body.form,
                "contacts": len(m.body),
                "end": m.end,
                "title": m.title,
            }
        )
    adapters = []
    for entry in designs():
        try:
            adapters.append({"name": entry.name, "collection": entry.collection, **heading(entry.path)})
        except PinmapError as error:
            complain(str(error))
    if as_json:
        from .writers import json_output

        print_json(json_output.listed(rows, adapters))
    else:
        from .writers import screen_tables

        screen_tables.listing(rows, adapters)


@click.command(
    epilog=example(
        'pinmap new --form "box header" --places 32 --labels zigzag --out mine.yaml\npinmap new --like oakmere-88\n'
        "pinmap new --adapter oakmere-88 isa-8bit --out riser.yaml"
    )
)
@click.option("--form", default="edge slot", show_default=True, help="The body's form.")
@click.option("--rows", default=2, show_default=True, type=click.IntRange(1, 26), help="Rows of contacts.")
@click.option("--places", default=31, show_default=True, type=click.IntRange(1, 500), help="Contacts in a row.")
@click.option("--labels", default="rows", show_default=True, help="How the contacts are numbered.")
@click.option("--letters", default="", metavar='"A B"', help="Row letters from the top row down (labels: rows).")
@click.option("--pitch", default="2.54 mm", show_default=True, help="From contact to contact, with unit.")
@click.option("--row-pitch", default="", help="From row to row, with unit; as --pitch when not given.")
@click.option("--like", default="", metavar="MAP", help="Take the body of this map instead.")
@click.option("--bus", default="", help="The bus; as --like has it, else isa-8bit.")
@click.option("--adapter", nargs=2, metavar="HOST CARD", help="Write an adapter file for these two maps instead.")
@click.option("--title", default="", help="The title.")
@file_option("--out", "path", "Write to this file (which must not exist) instead of the terminal.")
def new(
    form: str,
    rows: int,
    places: int,
    labels: str,
    letters: str,
    pitch: str,
    row_pitch: str,
    like: str,
    bus: str,
    adapter: tuple[str, str] | None,
    title: str,
    path: Path | None,
) -> None:
    """Write a commented skeleton of a map, to fill in at the bench, or of an adapter file."""
    from . import api, library, quantity
    from .body import FORMS, SCHEMES
    from .skeleton import adapter_skeleton, body_for, skeleton

    if adapter:
        host, card = (load(api, given) for given in adapter)
        here = path.parent if path else Path()
        named = [_from(here, given) for given in adapter]
        text = adapter_skeleton(
            host, card, title or f"{host.title} to {card.title}", host_named=named[0], card_named=named[1]
        )
        _write_skeleton(text, path)
        return
    if like:
        source = load(api, like)
        body, bus = source.body, bus or source.bus.name
    else:
        one_of("--form", form, FORMS)
        one_of("--labels", labels, SCHEMES)
        try:
            body = body_for(
                form,
                rows,
                places,
                labels,
                letters=letters,
                pitch_mm=quantity.parse(pitch, "mm"),
                row_pitch_mm=quantity.parse(row_pitch, "mm") if row_pitch else None,
            )
        except ValueError as error:
            raise PinmapError(str(error)) from None
    library.bus(bus or "isa-8bit")
    _write_skeleton(skeleton(body, bus or "isa-8bit", title or "My machine's expansion connector"), path)


def _from(folder: Path, given: str) -> str:
    """Name a map as a file in `folder` must: a path leads from there, a name of the library stays as it is."""
    from . import library

    path = library.find(given)[0]
    if path != Path(given):
        return given
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:  # on another drive
        return str(path.resolve())


def _write_skeleton(text: str, path: Path | None) -> None:
    if path is None:
        print_text(text)
        return
    new_file(path, "a skeleton")
    from .store import write_file

    write_file(path, text)
    print_text(f"written: {path.as_posix()}\n")


@click.command(epilog=example("pinmap schema map > pinmap-map.schema.json"))
@click.argument("kind", type=click.Choice(["map", "bus", "forms", "adapter", "electrical"]), default="map")
def schema(kind: str) -> None:
    """Print the JSON Schema of a file format, for editors that check while you type."""
    from .schema import text

    print_text(text(kind))
