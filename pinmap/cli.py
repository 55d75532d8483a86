"""The command line: reads arguments, calls one function of the library, shows the result."""

from __future__ import annotations

import codecs
import contextlib
import os
import signal
import sys
from pathlib import Path

import click

from . import __version__, cli_adapters, cli_maps, cli_tables
from .cli_common import complain, example
from .errors import PinmapError


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


@click.group(
    cls=_Commands,
    epilog=example("pinmap adapt oakmere-88 isa-8bit --out build"),
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


for _command in (
    cli_maps.check,
    cli_maps.show,
    cli_maps.draw,
    cli_maps.compare,
    cli_tables.import_,
    cli_adapters.adapt,
    cli_adapters.budget,
    cli_adapters.board,
    cli_adapters.misfit,
    cli_adapters.bench,
    cli_tables.audit,
    cli_maps.list_,
    cli_maps.new,
    cli_maps.schema,
):
    cli.add_command(_command)


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
        complain("interrupted")
        sys.exit(130)
    except KeyboardInterrupt:
        complain("interrupted")
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(2)
    except PinmapError as error:
        for line in str(error).splitlines():
            complain(line)
        sys.exit(error.exit_code)
    except OSError as error:
        complain(f"the output cannot be written ({(error.strerror or str(error)).lower()})")
        _give_up_stdout()
        sys.exit(2)


def _give_up_stdout() -> None:
    """Let Python end without trying again to write what could not be written."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
