"""The library's front door: what the command line can do, as functions. Nothing here prints."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from . import checks, library
from .coverage import Coverage, coverage
from .errors import PinmapError, raise_all
from .findings import Finding, Verdict, ordered, verdict
from .model import PinMap, no_option
from .text import listed

if TYPE_CHECKING:
    from .adapter import Adapter


class MapError(PinmapError):
    """A pin map has complaints so grave that no map can be built; `findings` has them all."""

    exit_code = 1

    def __init__(self, file: str, findings: tuple[Finding, ...]):
        first = findings[0]
        more = f" (and {len(findings) - 1} more)" if len(findings) > 1 else ""
        super().__init__(f"{first.message}{more}", advice=first.advice, place=first.place)
        self.file = file
        self.findings = findings


class Checked(Struct, frozen=True):
    """A pin map with all that was found: `map` is None where the file is too broken to build one."""

    file: str
    map: PinMap | None
    findings: tuple[Finding, ...]
    coverage: Coverage | None

    @property
    def verdict(self) -> Verdict:
        """`sound`, `fault` or `danger`."""
        return verdict(self.findings)


def load_map(source: str | Path) -> PinMap:
    """Read the pin map at a path, or the connector of that name in the library.

    Raises `NotFoundError`, `UnreadableError`, or `MapError` where complaints leave no map to be built. Other
    complaints are passed over here: `check` has them.
    """
    read = library.read(str(source))
    if read.map is None:
        raise MapError(read.file, read.complaints)
    return read.map


def check(source: str | Path | PinMap, fitted: Iterable[str] = ()) -> Checked:
    """Read a map (or take one) and run every check. `fitted` names the options taken as present in the coverage.

    Raises `NotFoundError` or `UnreadableError`; what is wrong inside a readable file is in `findings`.
    """
    if isinstance(source, PinMap):
        pin_map, file = source, source.file
        complaints: tuple[Finding, ...] = ()
    else:
        read = library.read(str(source))
        if read.map is None:
            return Checked(read.file, None, read.complaints, None)
        pin_map, complaints, file = read.map, read.complaints, read.file
    fitted = list(fitted)
    for option in fitted:
        if option not in pin_map.options:
            raise no_option(option, pin_map.options)
    return Checked(
        file,
        pin_map,
        ordered((*complaints, *checks.run(pin_map, lambda: published(pin_map)))),
        coverage(pin_map, fitted),
    )


def check_all(sources: Iterable[str | Path], fitted: Iterable[str] = ()) -> tuple[list[Checked], list[PinmapError]]:
    """Check several maps: what could be checked, and what stopped the others.

    An option in `fitted` counts for those maps that have it; one that no map has stops them all.
    """
    options = list(fitted)
    out: list[Checked] = []
    errors: list[PinmapError] = []
    known: set[str] = set()
    for source in sources:
        try:
            result = check(source)
        except PinmapError as error:
            errors.append(error)
            continue
        if result.map and options:
            here = [o for o in options if o in result.map.options]
            known.update(result.map.options)
            result = replace(result, coverage=coverage(result.map, here))
        out.append(result)
    unknown = [no_option(option, known) for option in options if option not in known]
    return ([], list(unknown)) if unknown and not errors else (out, errors)


def published(pin_map: PinMap) -> tuple[PinMap, ...]:
    """The published connectors that carry the bus of `pin_map`."""
    return tuple(load_map(name) for name in pin_map.bus.connectors)


def adapt(
    host: str | Path | PinMap | Checked, card: str | Path | PinMap | Checked, fitted: Iterable[str] = ()
) -> Adapter:
    """Plan the adapter from the machine's connector `host` to `card`, with the options in `fitted` present.

    Both maps are checked, and what is found counts for the verdict. Raises what `check` raises, `NotFoundError` for an
    option that neither map has, and `MapError` where a file is too broken to build a map.
    """
    from .planner import plan

    both: list[Checked] = []
    errors: list[PinmapError] = []
    for end in (host, card):
        try:
            both.append(end if isinstance(end, Checked) else check(end))
        except PinmapError as error:
            errors.append(error)
    raise_all(errors)
    broken = [end for end in both if end.map is None]
    if broken:
        raise MapError(listed(end.file for end in broken), tuple(f for end in broken for f in end.findings))
    one, other = both
    assert one.map is not None and other.map is not None  # noqa: S101, PT018 - just seen to
    return plan(one.map, other.map, fitted, (*one.findings, *other.findings))


#: The files that `write` makes.
FILES = ("adapter.net", "wiring.csv", "wiring.md", "report.md")


def render(adapter: Adapter) -> dict[str, str]:
    """Return the text of every file of `FILES`, by name. Raises `PinmapError` where the netlist cannot be made."""
    from .writers import netlist, tables

    try:
        # The netlist takes longest, in a process of its own: begun first, fetched last.
        with netlist.start(adapter) as job:
            out = {
                "wiring.csv": tables.wiring_csv(adapter),
                "wiring.md": tables.wiring_markdown(adapter),
                "report.md": tables.report(adapter),
            }
            out["adapter.net"] = job.result()
    except netlist.NetlistError as error:
        raise PinmapError(f"the netlist cannot be made: {error}") from error
    return {name: out[name] for name in FILES}


def write(adapter: Adapter, folder: str | Path) -> list[Path]:
    """Write netlist, wiring table and report into `folder`: all of them or none. Return their paths.

    Raises `OutputError` where the folder cannot be written, `PinmapError` where the netlist cannot be made.
    """
    from .store import write_files

    return write_files(Path(folder), render(adapter))
