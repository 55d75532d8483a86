"""What the commands share: kinds of arguments, and how results and complaints are shown."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import click
from click.shell_completion import CompletionItem

from .errors import PinmapError

_Command = TypeVar("_Command", bound=Callable[..., Any])

#: The exit status where a danger or fault was found.
EXIT_FOUND = 1


class MapName(click.ParamType):  # type: ignore[type-arg]  # generic only in newer releases of click
    """A path, or the name of a connector in the library; completes both."""

    name = "map"

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:  # noqa: ARG002
        """Offer the library's names, then files."""
        from .library import entries

        names = [CompletionItem(e.name, help=e.collection) for e in entries() if e.name.startswith(incomplete)]
        return [*names, CompletionItem(incomplete, type="file")]


MAP = MapName()
JSON = click.option("--json", "as_json", is_flag=True, help="Write the result as JSON (format 1) instead of text.")
WITH = click.option(
    "--with",
    "fitted",
    multiple=True,
    metavar="OPTION",
    help="An option of the map that is fitted, by its name. May be repeated.",
)


def file_option(flag: str, name: str, about: str) -> Callable[[_Command], _Command]:
    """An option that names one file to write."""
    return click.option(flag, name, type=click.Path(dir_okay=False, path_type=Path), metavar="FILE", help=about)


def folder_option(of: str) -> Callable[[_Command], _Command]:
    """The option --out for the folder that takes all files of something."""
    return click.option(
        "--out",
        "folder",
        type=click.Path(file_okay=False, path_type=Path),
        metavar="DIR",
        help=f"Write the files of {of} into this folder. Without it nothing is written.",
    )


def example(text: str) -> str:
    """Lay out the example at the end of a help text."""
    return "\b\nExample:\n" + "\n".join(f"  {line}" for line in text.splitlines())


def load(api: Any, given: str) -> Any:
    """Load a map for a command that needs a whole one."""
    try:
        return api.load_map(given)
    except api.MapError as error:
        fail_with_findings(error)


def fail_with_findings(error: Any) -> NoReturn:
    """Show every complaint about a file from which no map or adapter can be made, and end."""
    from .writers import screen

    screen.show("\n".join((f"{error.file}: {error.leaves}", *screen.finding_lines(error.findings))), err=True)
    sys.exit(error.exit_code)


def one_of(option: str, given: str, known: tuple[str, ...]) -> None:
    """Refuse a value that is none of those known, offering the nearest."""
    from .text import listed, nearest

    if given not in known:
        near = nearest(given, known)
        raise click.UsageError(
            f"{option} must be {listed(known, 'or')}, not {given!r}." + (f" Did you mean {near[0]}?" if near else "")
        )


def print_text(text: str) -> None:
    """Write a result as it is."""
    click.echo(text, sys.stdout, nl=False)


def complain(text: str) -> None:
    """Write one line to stderr, under the program's name."""
    click.echo(f"pinmap: {text}", sys.stderr)


def print_json(value: object) -> None:
    """Write a result as JSON."""
    from .writers.json_output import dump

    print_text(dump(value, ascii_only=not _is_utf8(sys.stdout)))


def print_for_tools(kind: str, results: Any, errors: Any, library: Any = ()) -> None:
    """Write findings by file, and what stopped the work, as SARIF or as line annotations (`github`)."""
    if kind == "sarif":
        from .writers.sarif import sarif as write
    else:
        from .writers.annotations import annotated as write
    print_text(write(results, errors, root=Path.cwd(), library=library))


def _is_utf8(stream: Any) -> bool:
    return (stream.encoding or "").lower().replace("-", "") in ("utf8", "utf8sig")


def new_file(path: Path, what: str) -> None:
    """Refuse a path at which something stands already. Raises `PinmapError`."""
    if path.exists():
        raise PinmapError(f"{path} exists already; {what} must not overwrite it", advice="Name another file")
