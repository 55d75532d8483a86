"""The command line: reads arguments, calls one function of the library, shows the result."""

from __future__ import annotations

import codecs
import contextlib
import os
import signal
import sys
from pathlib import Path
from typing import Any, NoReturn

import click
from click.shell_completion import CompletionItem

from . import __version__
from .errors import PinmapError

_EXIT_FOUND = 1


class _MapName(click.ParamType):  # type: ignore[type-arg]  # generic only in newer releases of click
    """A path, or the name of a connector in the library; completes both."""

    name = "map"

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:  # noqa: ARG002
        """Offer the library's names, then files."""
        from .library import entries

        names = [CompletionItem(e.name, help=e.collection) for e in entries() if e.name.startswith(incomplete)]
        return [*names, CompletionItem(incomplete, type="file")]


class _Commands(click.Group):
    """A group that lists its commands in the order in which they are used, and answers errors in one way."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """In the order of definition."""
        return list(self.commands)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command; for an unknown one, offer the nearest."""
        typed = args and not args[0].startswith("-") and not ctx.resilient_parsing  # not while a shell completes
        if typed and args[0] not in self.commands:
            from .text import listed, nearest, visible

            near = nearest(args[0], self.commands)
            hint = f"Did you mean {near[0]}?" if near else f"The commands are {listed(self.commands)}."
            raise click.UsageError(f"There is no command {visible(args[0])!r}. {hint}", ctx)
        return super().resolve_command(ctx, args)


_MAP = _MapName()
_JSON = click.option("--json", "as_json", is_flag=True, help="Write the result as JSON (format 1) instead of text.")
_WITH = click.option(
    "--with",
    "fitted",
    multiple=True,
    metavar="OPTION",
    help="An option of the map that is fitted, by its name. May be repeated.",
)


def _example(text: str) -> str:
    return "\b\nExample:\n" + "\n".join(f"  {line}" for line in text.splitlines())


@click.group(
    cls=_Commands,
    epilog=_example("pinmap adapt oakmere-88 isa-8bit --out build"),
    context_settings={"help_option_names": ["-h", "--help"]},
    invoke_without_command=True,
)
@click.version_option(__version__, prog_name="pinmap")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Turn the pin map of an old computer's slot into a checked adapter for ordinary ISA cards.

    A MAP is a YAML file, or the name of a connector in the library (`pinmap list`). Exit status: 0 neither danger nor
    fault was found, 1 at least one was, 2 the command could not run.

    Never plug or unplug anything with power on; check supplies and returns with a meter first.
    """
    if ctx.invoked_subcommand is None:  # releases of click differ in what they make of this
        click.echo(ctx.get_help(), sys.stderr)
        sys.exit(2)


@cli.command(
    epilog=_example(
        "pinmap new --like oakmere-88 --out my-machine.yaml\n"
        "pinmap check my-machine.yaml\n"
        'pinmap check oakmere-88 --with "video board" --json'
    )
)
@click.argument("maps", nargs=-1, required=True, type=_MAP, metavar="MAP...")
@_WITH
@_JSON
def check(maps: tuple[str, ...], fitted: tuple[str, ...], as_json: bool) -> None:
    """Check pin maps: contacts, names, supplies, returns, evidence, and which cards can work."""
    from . import api

    results, errors = api.check_all(maps, fitted)
    for error in errors:
        _complain(str(error))
    if errors and not results:
        sys.exit(2)
    if as_json:
        from .writers import json_output

        _print_json(json_output.checked((r.file, r.map, r.findings, r.coverage) for r in results))
    else:
        from .writers import screen

        screen.show("\n\n".join(screen.checked(r) for r in results))
    if errors:
        sys.exit(2)
    if any(r.verdict != "sound" for r in results):
        sys.exit(_EXIT_FOUND)


@cli.command(epilog=_example("pinmap show oakmere-88"))
@click.argument("map_", type=_MAP, metavar="MAP")
@_JSON
def show(map_: str, as_json: bool) -> None:
    """Show a map as a plan of the connector and as a table."""
    from . import api

    pin_map = _load(api, map_)
    if as_json:
        from .writers import json_output

        _print_json(json_output.shown(pin_map))
    else:
        from .writers import screen_tables

        screen_tables.shown(pin_map)


@cli.command(epilog=_example("pinmap compare oakmere-88 isa-8bit"))
@click.argument("first", type=_MAP, metavar="MAP")
@click.argument("second", type=_MAP, metavar="MAP")
@_JSON
def compare(first: str, second: str, as_json: bool) -> None:
    """Compare two maps signal by signal."""
    from . import api
    from .compare import compare as compare_maps

    result = compare_maps(_load(api, first), _load(api, second))
    if as_json:
        from .writers import json_output

        _print_json(json_output.compared(result))
    else:
        from .writers import screen_tables

        screen_tables.compared(result)


@cli.command(
    epilog=_example(
        'pinmap adapt oakmere-88 isa-8bit --out build\npinmap adapt oakmere-88 isa-8bit --with "video board"'
    )
)
@click.argument("host", type=_MAP, metavar="HOST")
@click.argument("card", type=_MAP, metavar="CARD")
@_WITH
@click.option(
    "--out",
    "folder",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="Write netlist, wiring table and report into this folder. Without it nothing is written.",
)
@_JSON
def adapt(host: str, card: str, fitted: tuple[str, ...], folder: Path | None, as_json: bool) -> None:
    """Plan the adapter from a machine's connector HOST to a CARD's, and write its files.

    Prints the wiring table, every signal that does not map with what that means, and the verdict.
    """
    from . import api

    try:
        adapter = api.adapt(host, card, fitted)
    except api.MapError as error:
        if as_json:
            from .writers import json_output

            _print_json(json_output.not_adapted(host, card, error.findings))
            sys.exit(_EXIT_FOUND)
        _fail_with_findings(error)
    files = [p.as_posix() for p in api.write(adapter, folder)] if folder else []
    if as_json:
        from .writers import json_output

        _print_json(json_output.adapted(adapter, files))
    else:
        from .writers import screen_tables

        screen_tables.adapted(adapter, files)
    if adapter.verdict == "do not build":
        sys.exit(_EXIT_FOUND)


@cli.command("list", epilog=_example("pinmap list"))
@_JSON
def list_(as_json: bool) -> None:
    """List the connectors of the library, shipped and your own."""
    from . import api
    from .library import entries

    rows: list[dict[str, object]] = []
    for entry in entries():
        try:
            m = api.load_map(entry.path)
        except PinmapError as error:
            _complain(str(error))
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
    if as_json:
        from .writers import json_output

        _print_json(json_output.listed(rows))
    else:
        from .writers import screen_tables

        screen_tables.listing(rows)


@cli.command(
    epilog=_example(
        'pinmap new --form "box header" --places 32 --labels zigzag --out mine.yaml\npinmap new --like oakmere-88'
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
@click.option("--title", default="My machine's expansion connector", help="The title.")
@click.option(
    "--out",
    "path",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write to this file (which must not exist) instead of the terminal.",
)
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
    title: str,
    path: Path | None,
) -> None:
    """Write a commented skeleton of a map, to fill in at the bench."""
    from . import api, library, quantity
    from .body import FORMS, SCHEMES
    from .skeleton import body_for, skeleton

    if like:
        source = _load(api, like)
        body, bus = source.body, bus or source.bus.name
    else:
        _one_of("--form", form, FORMS)
        _one_of("--labels", labels, SCHEMES)
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
    text = skeleton(body, bus or "isa-8bit", title)
    if path is None:
        _print(text)
        return
    if path.exists():
        raise PinmapError(f"{path} exists already; a skeleton must not overwrite it", advice="Name another file")
    from .store import write_file

    write_file(path, text)
    _print(f"written: {path.as_posix()}\n")


@cli.command(epilog=_example("pinmap schema map > pinmap-map.schema.json"))
@click.argument("kind", type=click.Choice(["map", "bus", "forms"]), default="map")
def schema(kind: str) -> None:
    """Print the JSON Schema of a file format, for editors that check while you type."""
    from .schema import text

    _print(text(kind))


def _load(api: Any, given: str) -> Any:
    """Load a map for a command that needs a whole one."""
    try:
        return api.load_map(given)
    except api.MapError as error:
        _fail_with_findings(error)


def _fail_with_findings(error: Any) -> NoReturn:
    """Show every complaint about a file that no map can be built from, and end."""
    from .writers import screen

    screen.show("\n".join((f"{error.file}: no map can be built", *screen.finding_lines(error.findings))), err=True)
    sys.exit(error.exit_code)


def _one_of(option: str, given: str, known: tuple[str, ...]) -> None:
    from .text import listed, nearest

    if given not in known:
        near = nearest(given, known)
        raise click.UsageError(
            f"{option} must be {listed(known, 'or')}, not {given!r}." + (f" Did you mean {near[0]}?" if near else "")
        )


def _print(text: str) -> None:
    click.echo(text, sys.stdout, nl=False)


def _complain(text: str) -> None:
    click.echo(f"pinmap: {text}", sys.stderr)


def _print_json(value: object) -> None:
    from .writers.json_output import dump

    _print(dump(value, ascii_only=not _is_utf8(sys.stdout)))


def _is_utf8(stream: Any) -> bool:
    return (stream.encoding or "").lower().replace("-", "") in ("utf8", "utf8sig")


#: What to write where the terminal lacks a character.
_STAND_INS = {
    "●": "*", "○": "o", "✕": "x", "×": "x", "→": ">", "–": "-", "−": "-", "·": "-", "›": ">", "…": "...",
    "Ω": "ohm", "µ": "u", "±": "+/-", "°": "deg",
}  # fmt: skip


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    """Give a stand-in for a character that cannot be encoded, or its escape."""
    assert isinstance(error, UnicodeEncodeError)  # noqa: S101 - streams only write with it
    char = error.object[error.start]
    return _STAND_INS.get(char) or char.encode("ascii", "backslashreplace").decode(), error.start + 1


def main() -> None:
    """Run the command line; every error a user can cause ends in one short message and an exit status.

    Where the reader of the output has gone (as `| head` does), click itself ends quietly with status 1.
    """
    codecs.register_error("pinmap", _stand_in)
    for stream in (sys.stdout, sys.stderr):
        # A terminal that lacks a character shows a stand-in for it instead of failing.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="pinmap")
    for name, status in (("SIGTERM", 143), ("SIGHUP", 129)):
        if hasattr(signal, name):  # an orderly end, so that unfinished files are cleared away
            signal.signal(getattr(signal, name), lambda *_, status=status: sys.exit(status))
    if sys.stdout is None:  # closed by the caller
        sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115 - as long as the program runs
    try:
        if status := cli.main(prog_name="pinmap", standalone_mode=False):  # what ctx.exit() was given
            sys.exit(status)
    except click.Abort:
        _complain("interrupted")
        sys.exit(130)
    except KeyboardInterrupt:
        _complain("interrupted")
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(2)
    except PinmapError as error:
        for line in str(error).splitlines():
            _complain(line)
        sys.exit(error.exit_code)
    except OSError as error:
        _complain(f"the output cannot be written ({(error.strerror or str(error)).lower()})")
        _give_up_stdout()
        sys.exit(2)


def _give_up_stdout() -> None:
    """Let Python end without trying again to write what could not be written."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
