"""How fast is it? Ratios, all measured in one run: `python tests/speed/bench.py`. Not part of the test suite.

Times of two programs are only comparable when both ran at the same time on the same machine, so the runs of a ratio
take turns, and the medians are compared. Compiled modules are used as an installed package has them.
"""

from __future__ import annotations

import argparse
import compileall
import importlib.util
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median

import yaml

from pinmap import checks, library
from pinmap.body import Body, Section
from pinmap.model import Contact, PinMap
from pinmap.reading import read_map

#: What is measured, against what, and the ratio aimed at.
CHECK_AIM = 2.0
ADAPT_AIM = 1.5
SIZES = (100, 1_000, 10_000)


def program(code: str, cwd: Path) -> Callable[[], float]:
    """A run of `python -c CODE` that returns its seconds."""
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}

    quiet = subprocess.DEVNULL  # importing skidl is talkative

    def run() -> float:
        begun = time.perf_counter()
        subprocess.run([sys.executable, "-c", code], cwd=cwd, env=env, check=True, stdout=quiet, stderr=quiet)
        return time.perf_counter() - begun

    return run


def in_turns(runs: Sequence[Callable[[], float]], times: int) -> list[list[float]]:
    """Run each once to warm up, then all in turns; return the seconds of each."""
    for run in runs:
        run()
    out: list[list[float]] = [[] for _ in runs]
    for turn in range(times):
        for index in range(len(runs)):
            which = (index + turn) % len(runs)  # none is always the first
            out[which].append(runs[which]())
    return out


def command(*args: str) -> str:
    """The code that runs `pinmap ARGS` as the installed command does."""
    return f"import sys; from pinmap.cli import main; sys.argv = {['pinmap', *args]!r}; main()"


def ratio(name: str, ours: str, yardstick: str, code: str, aim: float, times: int, cwd: Path) -> bool:
    """Print one row: our seconds, the yardstick's, and their ratio. Return whether the aim was met."""
    mine, theirs = in_turns([program(ours, cwd), program(code, cwd)], times)
    got = median(a / b for a, b in zip(mine, theirs, strict=True))
    met = got <= aim
    print(
        f"{name:<34} {median(mine) * 1000:8.1f} ms   {yardstick:<34} {median(theirs) * 1000:8.1f} ms"
        f"   ratio {got:5.2f}   aim ≤ {aim:.1f}   {'met' if met else 'MISSED'}"
    )
    return met


def strip(contacts: int) -> Body:
    """Two rows of pins, numbered 1, 2 across, then 3, 4."""
    return Body("pin header", (Section(2, contacts // 2),), "zigzag", "bottom left", rating_a=3.0)


def by_hand(contacts: int) -> PinMap:
    """A map in memory: every line of the bus once, then returns, open contacts, and a supply now and then."""
    bus = library.bus("isa-8bit")
    body = strip(contacts)
    gnd, rail = bus.signals["GND"], bus.signals["+5V"]
    lines = [s for s in bus.signals.values() if not s.is_power]
    out = []
    for index, label in enumerate(body.labels):
        if index >= _run_begins(contacts):
            out.append(Contact(label, "signal", gnd))
        elif index < len(lines):
            out.append(Contact(label, "signal", lines[index]))
        elif index % 10 == 0:
            out.append(Contact(label, "signal", rail))
        elif index % 3 == 0:
            out.append(Contact(label, "open"))
        else:
            out.append(Contact(label, "signal", gnd))
    return PinMap("bench", "Bench", bus, "host", body, tuple(out))


def _run_begins(contacts: int) -> int:
    """Where the last fiftieth begins: all returns, so that a file can give them as one run."""
    return contacts - contacts // 50


def as_text(pin_map: PinMap) -> str:
    """The same map as a file: a line for each contact, and one run at the end."""
    begins = _run_begins(len(pin_map.contacts))
    single, rest = pin_map.contacts[:begins], pin_map.contacts[begins:]  # the end of a row: every second number
    section = pin_map.body.sections[0]
    head = (
        "format: 1\ntitle: Bench\nbus: isa-8bit\nend: host\nbody:\n  form: pin header\n"
        f"  rows: {section.rows}\n  places: {section.places}\n"
        "  labels: zigzag\n  first: bottom left\n  pitch: 2.54 mm\ncontacts:\n"
    )
    lines = "".join(f"  {c.label}: {c.name}\n" for c in single)
    return f"{head}{lines}  {rest[0].label}..{rest[-1].label} by 2: GND\n"


def seconds(work: Callable[[], object]) -> float:
    """The time that one call takes."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def scaling(times: int, folder: Path) -> bool:
    """Print µs per contact for checking maps made in memory, and for reading and checking them from YAML."""
    print(
        f"\n{'in this process, µs per contact':<34}" + "".join(f"{n:>12,}" for n in SIZES) + "   growth   aim: linear"
    )

    def read(path: Path) -> PinMap:
        got = read_map(
            path,
            path.name,
            name="bench",
            bus_named=library.bus,
            bus_names=library.bus_names,
            customs=library.customs,
        ).map
        assert got is not None
        return got

    def fresh(pin_map: PinMap) -> PinMap:
        # Without what a map and its body remember from an earlier check.
        body = Body(pin_map.body.form, pin_map.body.sections, pin_map.body.scheme, pin_map.body.first, rating_a=3.0)
        return PinMap("bench", "Bench", pin_map.bus, "host", body, pin_map.contacts)

    maps = {n: by_hand(n) for n in SIZES}
    files = {}
    for n, pin_map in maps.items():
        files[n] = folder / f"{n}.yaml"
        files[n].write_text(as_text(pin_map), encoding="utf-8")
        back = read(files[n])
        assert [c.name for c in back.contacts] == [c.name for c in pin_map.contacts]
    works: dict[str, Callable[[int], Callable[[], object]]] = {
        "check a map made by hand": lambda n: lambda: checks.run(fresh(maps[n])),
        "read it from YAML": lambda n: lambda: read(files[n]),
        "read it from YAML and check": lambda n: lambda: checks.run(read(files[n])),
        "PyYAML alone (safe, C) for scale": lambda n: (
            lambda: yaml.load(
                files[n].read_text(encoding="utf-8"),
                Loader=yaml.CSafeLoader,
            )
        ),
    }
    linear = True
    for name, work in works.items():
        took = {n: [] for n in SIZES}  # type: dict[int, list[float]]
        for _ in range(times):
            for n in SIZES:
                took[n].append(seconds(work(n)))
        per = {n: median(took[n]) / n * 1e6 for n in SIZES}
        growth = per[SIZES[-1]] / per[SIZES[0]]
        ok = growth <= 1.5
        linear = linear and ok
        print(
            f"{name:<34}" + "".join(f"{per[n]:12.2f}" for n in SIZES) + f"   {growth:5.2f}×   {'' if ok else 'GROWS'}"
        )
    return linear


def main() -> int:
    """Measure everything; the status is 1 where an aim was missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=21, help="runs of each program (default 21; at least 15)")
    times = max(15, parser.parse_args().times)
    spec = importlib.util.find_spec("pinmap")
    assert spec
    assert spec.origin
    package = Path(spec.origin).parent
    compileall.compile_dir(package, quiet=1)
    isa = library.shipped() / "standard" / "isa-8bit.yaml"
    print(f"Python {sys.version.split()[0]} on {sys.platform}, {os.cpu_count()} processors, medians of {times} runs\n")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        met = [
            ratio(
                "pinmap check (62 contacts)",
                command("check", str(isa)),
                "import click, yaml; load the file",
                f"import click, yaml; yaml.safe_load(open({str(isa)!r}, encoding='utf-8'))",
                CHECK_AIM,
                times,
                folder,
            ),
            ratio(
                "pinmap adapt --out, all writers",
                command("adapt", "oakmere-88", "isa-8bit", "--out", "build"),
                "import skidl",
                "import skidl",
                ADAPT_AIM,
                times,
                folder,
            ),
        ]
        # skidl leaves files of its own in the folder, which is one reason for a folder that goes away.
        met.append(scaling(times, folder))
    return 0 if all(met) else 1


if __name__ == "__main__":
    sys.exit(main())
