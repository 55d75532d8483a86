"""The library's front door: what the command line can do, as functions. Nothing here prints."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from msgspec import Struct
from msgspec.structs import replace

from . import checks, library, yamltree
from .coverage import Coverage, coverage
from .errors import NOWHERE, PinmapError, raise_all
from .findings import Finding, Verdict, ordered, verdict
from .model import PinMap, no_option
from .text import count, listed
from .writers import FILES

if TYPE_CHECKING:
    from .adapter import Adapter
    from .audit.judging import Audit
    from .bench import Judged
    from .bench.plan import Plan
    from .board.making import Board
    from .drawing import View
    from .importing import Imported
    from .misfit import Misfit
    from .readings import Row
    from .resemblance import Explanation
    from .sheets import Paper, Sheet


class MapError(PinmapError):
    """A pin map has complaints so grave that no map can be built; `findings` has them all."""

    exit_code = 1
    leaves = "no map can be built"

    def __init__(self, file: str, findings: tuple[Finding, ...]):
        first = findings[0]
        more = f" (and {len(findings) - 1} more)" if len(findings) > 1 else ""
        super().__init__(f"{first.message}{more}", advice=first.advice, place=first.place)
        self.file = file
        self.findings = findings


class DesignError(MapError):
    """An adapter file has complaints so grave, or names maps so broken, that no adapter can be planned."""

    leaves = "no adapter can be planned"


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


def check(
    source: str | Path | PinMap, fitted: Iterable[str] = (), against: Iterable[str | Path | PinMap] = ()
) -> Checked:
    """Read a map (or take one) and run every check. `fitted` names the options taken as present in the coverage.

    The map is held against the maps in `against`, without any against the published connectors of its bus.
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
    _known(fitted, pin_map)
    return Checked(
        file,
        pin_map,
        ordered((*complaints, *checks.run(pin_map, lambda: published(pin_map), _references(against)))),
        coverage(pin_map, fitted),
    )


def _known(fitted: Iterable[str], pin_map: PinMap) -> None:
    """Raise `NotFoundError` for an option that a map does not have."""
    for option in fitted:
        if option not in pin_map.options:
            raise no_option(option, pin_map.options)


def _maps(against: Iterable[str | Path | PinMap]) -> tuple[PinMap, ...]:
    return tuple(m if isinstance(m, PinMap) else load_map(m) for m in against)


def _references(against: Iterable[str | Path | PinMap]) -> checks.Published | None:
    maps = _maps(against)
    return (lambda: maps) if maps else None


class Proposal(Struct, frozen=True):
    """A map file corrected: its `text`, the mistake that is undone, and the map that explains it.

    `others` names mistakes that would explain the map as well, `lost` the contacts that would lie off the connector,
    `open` those that nothing is known of then, with what the other map has there.
    """

    text: str
    explanation: Explanation
    others: tuple[Explanation, ...]
    lost: tuple[str, ...] = ()
    open: tuple[str, ...] = ()

    def sentence(self) -> str:
        """Say what was corrected, what fell off the connector, and what else would explain the map."""
        mistake = self.explanation.mistake
        assert mistake is not None  # noqa: S101 - propose() sees to it
        gone = f"; what has no place any more stands at its end as a comment: {listed(self.lost)}" if self.lost else ""
        gone += f"; not described now: {listed(self.open)}" if self.open else ""
        others = [e.mistake.name for e in self.others if e.mistake]
        as_well = f". As well possible: {listed(others, 'or')}" if others else ""
        return f"corrected as if it had been {mistake.name}{gone}{as_well}. Measure the supplies and returns first"


def propose(source: str | Path, against: Iterable[str | Path | PinMap] = ()) -> Proposal:
    """Correct the map file at `source` by the mistake that explains it best, as `check` names it.

    Raises what `load_map` raises, and `PinmapError` where no mistake explains the map better than it stands.
    """
    from .checks.handedness import described_mirrored
    from .proposal import proposed
    from .resemblance import explanations

    pin_map = load_map(source)
    named = explanations(pin_map, _maps(against) or published(pin_map))
    if not named or named[0].mistake is None:
        raise PinmapError(
            "there is nothing to propose: no mistake with the connector as a whole explains the map better than it "
            "stands",
            place=pin_map.place,
        )
    text = yamltree.read_text(library.find(str(source))[0], pin_map.file)
    body = None
    other = named[0].reference.body
    if named[0].labelled and described_mirrored(pin_map.body, other):
        # The labels are wrong and so is where they lie: put right alone, either would mirror the connector.
        sections = tuple(
            replace(mine, letters=theirs.letters)
            for mine, theirs in zip(pin_map.body.sections, other.sections, strict=False)
        )
        body = replace(pin_map.body, first=other.first, sections=sections)
        if len(sections) > 1 or pin_map.body.form != other.form or described_mirrored(body, other):
            raise PinmapError(
                "the body must be described the right way round before a proposal can be made",
                "See numbering-mirrored in `pinmap check`",
                pin_map.place,
            )
    lost = [c.label for c in pin_map.contacts if c.role != "undescribed" and c.label not in named[0].mistake.moves]
    filled = {there for here, there in named[0].mistake.moves.items() if pin_map.by_label[here].role != "undescribed"}
    unfilled = [
        f"{c.label} ({c.name} on {named[0].reference.name})"
        for c in named[0].reference.by_label.values()
        if named[0].labelled and c.signal and c.label not in filled
    ]
    return Proposal(
        proposed(text, pin_map, named[0].mistake, body), named[0], tuple(named[1:]), tuple(lost), tuple(unfilled)
    )


def check_all(
    sources: Iterable[str | Path], fitted: Iterable[str] = (), against: Iterable[str | Path | PinMap] = ()
) -> tuple[list[Checked], list[PinmapError]]:
    """Check several maps: what could be checked, and what stopped the others.

    An option in `fitted` counts for those maps that have it; one that no map has stops them all.
    """
    options = list(fitted)
    references = _maps(against)
    out: list[Checked] = []
    errors: list[PinmapError] = []
    known: set[str] = set()
    for source in sources:
        try:
            result = check(source, against=references)
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
    host: str | Path | PinMap | Checked, card: str | Path | PinMap | Checked | None = None, fitted: Iterable[str] = ()
) -> Adapter:
    """Plan the adapter from the machine's connector `host` to `card`, with the options in `fitted` present.

    Both maps are checked, and what is found counts for the verdict. Without a card, `host` is an adapter file, or the
    name of a design in the library: then remedies are carried out as parts, and the plan has a budget.
    Raises what `check` raises, `NotFoundError` for an option that neither map has, and `MapError` where a file is too
    broken to build a map or a design.
    """
    from .planner import plan

    if card is None:
        return _designed(host, fitted)
    both: list[Checked] = []
    errors: list[PinmapError] = []
    for end in (host, card):
        try:
            both.append(end if isinstance(end, Checked) else check(end))
        except PinmapError as error:
            errors.append(error)
    raise_all(errors)
    one, other = _whole(*both)
    return plan(one, other, fitted, (*both[0].findings, *both[1].findings))


def _whole(host: Checked, card: Checked) -> tuple[PinMap, PinMap]:
    """The maps of both ends. Raises `MapError` where a file is too broken to build one."""
    broken = [end for end in (host, card) if end.map is None]
    if broken or host.map is None or card.map is None:
        raise MapError(listed(end.file for end in broken), tuple(f for end in broken for f in end.findings))
    return host.map, card.map


def _designed(source: str | Path | PinMap | Checked, fitted: Iterable[str]) -> Adapter:
    """Plan the adapter of an adapter file: wires, then parts, then its budget."""
    from . import designs
    from .electrical.budget import budget
    from .electrical.facts import facts
    from .planner import plan
    from .remedies import carried_out

    if not isinstance(source, str | Path):
        raise PinmapError("a map alone is no adapter: name the card's map too, or an adapter file")
    path, shown, _ = library.find_design(str(source))
    read = designs.read(path, shown, check, gauges=facts().wires, fitted=tuple(fitted))
    if read.design is None or read.host is None or read.card is None:
        maps = [f for end in (read.host, read.card) if end and end.map is None for f in end.findings]
        raise DesignError(read.file, (*read.complaints, *maps))
    host, card = _whole(read.host, read.card)
    design = replace(read.design, fitted=tuple(sorted({*read.design.fitted, *fitted})))
    findings = (*read.complaints, *read.host.findings, *read.card.findings)
    adapter = carried_out(plan(host, card, design.fitted, findings), design)
    made = budget(adapter, design)
    return replace(adapter, budget=made, findings=ordered((*adapter.findings, *made.findings)))


def is_design(source: object) -> bool:
    """Whether a name or path is that of an adapter file, not of a map."""
    return isinstance(source, str | Path) and library.is_design(str(source))


def misfit(
    host: str | Path | PinMap | Checked, card: str | Path | PinMap | Checked | None = None, fitted: Iterable[str] = ()
) -> Misfit:
    """Work out every wrong seating at both ends of the adapter that `adapt` plans. Raises what `adapt` raises."""
    from .misfit import misfit as seat

    return seat(adapt(host, card, fitted))


def readings_form(
    host: str | Path | PinMap | Checked, card: str | Path | PinMap | Checked | None = None, fitted: Iterable[str] = ()
) -> tuple[Row, ...]:
    """Return the readings to take, in order: on the built adapter, or without a card on the machine's bare slot.

    Raises what `adapt` raises. `readings.form_csv` writes them as the form.
    """
    from .bench import plan

    return plan.form_rows(bench_plan(host, card, fitted))


def bench_plan(
    host: str | Path | PinMap | Checked, card: str | Path | PinMap | Checked | None = None, fitted: Iterable[str] = ()
) -> Plan:
    """Return what readings are held against, and in `refused` and `cautions` what the checks say of it beforehand.

    Raises what `adapt` raises.
    """
    from .bench import plan

    fitted = tuple(fitted)
    if card is not None or is_design(host):
        return plan.of_adapter(adapt(host, card, fitted))
    checked = host if isinstance(host, Checked) else check(host)
    if checked.map is None:
        raise MapError(checked.file, checked.findings)
    _known(fitted, checked.map)
    return plan.of_slot(checked.map, fitted, checked.findings)


def judge_readings(
    readings: str | Path,
    host: str | Path | PinMap | Checked,
    card: str | Path | PinMap | Checked | None = None,
    fitted: Iterable[str] = (),
) -> Judged:
    """Hold a file of readings against the plan of the adapter, or without a card against the map of the bare slot.

    Raises what `adapt` raises, `UnreadableError`, and `BadReadingsError` with every row that cannot be understood -
    behind the danger that the others show, where there is one.
    """
    from . import bench

    return bench.judge_file(Path(readings), bench_plan(host, card, fitted))


def imported(
    table: str | Path,
    *,
    bus: str | None = None,
    body: str = "",
    like: PinMap | None = None,
    contact_column: str = "",
    signal_column: str = "",
    table_named: str = "",
    title: str = "",
) -> Imported:
    """Make a map file of a table of pins: `.text` is the file; see `importing.imported` for the choices.

    Raises `UnreadableError` for a file that holds no table, and `PinmapError` where two readings are equally good.
    """
    from . import importing, tabular

    grids = tabular.read(Path(table), str(table))
    return importing.imported(
        grids,
        bus=bus,
        body=body,
        like=like,
        contact_column=contact_column,
        signal_column=signal_column,
        table=table_named,
        title=title,
    )


def audit_drawing(
    drawing: str | Path, adapter: Adapter, *, through: Iterable[str] = (), host: str = "", card: str = ""
) -> Audit:
    """Hold a netlist, schematic or board against the plan; see `audit.judging.audit` for the choices.

    Raises `UnreadableError` or `SeveralErrors` for a file that cannot be read, `PinmapError` where the connectors are
    not to be found in it.
    """
    from .audit import judging, reading

    return judging.audit(reading.read(drawing), adapter, through=through, host=host, card=card)


def draw_svg(
    source: str | Path | PinMap, card: str | Path | PinMap | None = None, *, view: Literal["both", View] = "both"
) -> str:
    """Draw the connector of a map at true scale as an SVG file; with a `card`, or for an adapter file, both ends.

    `view`: an adapter is drawn from one side only, the solder side unless `mating` is asked for. Raises what
    `load_map` raises.
    """
    from .writers.svg import svg

    title, sheets = _sheets(source, card, view, None)
    return svg(sheets[0], title)


def draw_pdf(
    source: str | Path | PinMap,
    card: str | Path | PinMap | None = None,
    *,
    view: Literal["both", View] = "both",
    paper: Paper = "A4",
) -> bytes:
    """Draw what `draw_svg` draws as pages to be printed at 100 %, a connector too long for the paper in strips."""
    from .writers.drawing_pdf import pdf

    title, sheets = _sheets(source, card, view, paper)
    return pdf(sheets, title)


def _sheets(
    source: str | Path | PinMap, card: str | Path | PinMap | None, view: Literal["both", View], paper: Paper | None
) -> tuple[str, list[Sheet]]:
    """The title and the sheets of a connector, or of an adapter; one sheet without a paper."""
    from .drawing import VIEWS
    from .sheets import adapter_pages, pages, picture
    from .writers.glyphs import printable

    def shown(pin_map: PinMap) -> PinMap:
        return printable(pin_map) if paper else pin_map  # a picture is shown with the fonts of who looks at it

    if card is None and not is_design(source):
        pin_map = source if isinstance(source, PinMap) else load_map(source)
        views = [v for v in VIEWS if view in ("both", v)]
        pictured = shown(pin_map)
        return pin_map.title, pages(pictured, views, paper) if paper else [picture(pictured, views)]
    adapter = adapt(source, card)
    pictured_adapter = replace(adapter, host=shown(adapter.host), card=shown(adapter.card))
    return adapter.title, adapter_pages(pictured_adapter, "mating" if view == "mating" else "solder", paper)


class Printing(Struct, frozen=True):
    """What only the person who prints knows: `paper`, a `date` to show, the length of a wire in mm for the cut list.

    `bom`: the CSV files begin with a byte order mark, for a spreadsheet that shows `Ω` as something else without.
    """

    paper: Paper = "A4"
    date: str = ""
    length_mm: float | None = None
    bom: bool = False


def render(adapter: Adapter, printing: Printing | None = None, only: Iterable[str] = FILES) -> dict[str, bytes]:
    """Return the bytes of the files named in `only`, by name, in the order of `FILES`; texts are in UTF-8.

    Raises `PinmapError` for a name that is not one of `FILES`, and where the netlist cannot be made.
    """
    from .writers import netlist

    printing = printing or Printing()
    asked = set(only)
    if unknown := sorted(asked - set(FILES)):
        raise PinmapError(f"there is no file {listed(unknown)} to write; there are {listed(FILES)}")

    def made(name: str) -> bytes:
        from .writers import page, paper, parts, tables

        match name:
            case "wiring.csv":
                text = tables.wiring_csv(adapter, bom=printing.bom)
            case "wiring.md":
                text = tables.wiring_markdown(adapter)
            case "report.md":
                text = tables.report(adapter)
            case "parts.csv":
                text = parts.parts_csv(adapter, bom=printing.bom)
            case "bench.html":
                text = page.html(adapter, date=printing.date)
            case _:
                return paper.pdf(adapter, paper=printing.paper, date=printing.date, length_mm=printing.length_mm)
        return text.encode()

    others = [name for name in FILES[1:] if name in asked]
    if FILES[0] not in asked:
        return {name: made(name) for name in others}
    try:
        # The netlist takes longest, in a process of its own: begun first, fetched last.
        with netlist.start(adapter) as job:
            out = {name: made(name) for name in others}
            return {FILES[0]: job.result().encode(), **out}
    except netlist.NetlistError as error:
        raise PinmapError(f"the netlist cannot be made: {error}") from error


def write(
    adapter: Adapter, folder: str | Path, printing: Printing | None = None, only: Iterable[str] = FILES
) -> list[Path]:
    """Write the files named in `only` into `folder`, or none of them. Return their paths.

    Raises what `render` raises, and `OutputError` where the folder cannot be written.
    """
    from .store import write_files

    return write_files(Path(folder), render(adapter, printing, only))


def make_board(adapter: Adapter) -> Board:
    """Make the board of an adapter: placed, routed, filled. The wiring is the plan's.

    Raises `PinmapError` where the plan must not be built, or the board cannot be made as its adapter file wishes: it
    says what would work.
    """
    from .board.making import board as make

    if adapter.verdict == "do not build":
        reasons = [f for f in adapter.findings if f.grade in ("danger", "fault")]
        first = f"{reasons[0].message}; " if reasons else ""
        more = f" (and {count(len(reasons) - 1, 'more reason')})" if len(reasons) > 1 else ""
        raise PinmapError(
            f"{first}a board can only be made of a plan that says build, this one says do not build{more}",
            (reasons[0].advice if reasons else "") or "`pinmap adapt` says why, and what helps",
            reasons[0].place if reasons else NOWHERE,
        )
    return make(adapter)


def render_board(made: Board, *, date: str = "") -> dict[str, bytes]:
    """Return the bytes of every file of a board, by name: schematic, board, what a fab needs, notes, pictures."""
    from .writers import board_file, board_report, fab, parts, schematic

    return {
        "adapter.kicad_sch": schematic.text(made.adapter, date).encode(),
        "adapter.kicad_pcb": board_file.text(made.layout).encode(),
        "board.md": board_report.markdown(made).encode(),
        "parts.csv": parts.parts_csv(made.adapter, wires=False).encode(),
        **fab.fab_files(made.layout, "adapter"),
    }


def write_board(made: Board, folder: str | Path, *, date: str = "") -> list[Path]:
    """Write every file of a board into `folder`, or none of them. Return their paths.

    Raises `OutputError` where the folder cannot be written.
    """
    from .store import write_files

    return write_files(Path(folder), render_board(made, date=date))
