"""Print how many faults are found, by class: `python tests/faults/run.py [--times 100] [--seed 0]`.

A row is a class of faults. "found": something new is said about it. "placed": the mistake is named exactly, or every
wrong contact. "false": findings that accuse contacts which are right, or name another mistake.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from faults import adapters, drawings, maps


def row(title: str, results: Iterable[maps.Outcome]) -> str:
    """One line of the table."""
    tried = list(results)
    if not tried:
        return f"{title:<34} {'–':>7}"
    found, placed = sum(o.found for o in tried), sum(o.placed for o in tried)
    false = sum(o.false for o in tried)
    return (
        f"{title:<34} {len(tried):>7} {found:>7} {100 * found / len(tried):>7.1f} % "
        f"{placed:>7} {100 * placed / len(tried):>7.1f} % {false:>7}"
    )


HEAD = f"{'class of fault':<34} {'tried':>7} {'found':>7} {'':>9} {'placed':>7} {'':>9} {'false':>7}"


WHY_INVENTED = """\
  Why not more: these machines have an order of their own. A mirrored table of such a machine reads like the right table
  of another one, and by how many places a connector lies beside the published one nothing tells. Only where one row
  keeps the slot's order, as on one of the three, is there something to hold it against; an exchange shows where it
  breaks a run of data or address lines."""
WHY_FORM = """\
  An exchange and two open wires give the same readings here: an exchange counts as placed where both are named."""
WHY_MISSING = """\
  Why not more: what was not measured can't be told; the fault's own reading may be among those left out."""


def block(title: str, names: Sequence[str], *, noise: bool, itself: bool, times: int, seed: int) -> None:
    """One part of the table."""
    print(f"\n{title}\n{HEAD}")
    for kind in maps.CLASSES:
        print(
            row(
                kind,
                (
                    o
                    for name in names
                    for o in maps.outcomes(name, kind, noise=noise, itself=itself, times=times, seed=seed)
                ),
            ),
            flush=True,
        )


def readings(title: str, *, sweeps: bool, missing: float, times: int, seed: int) -> None:
    """One part of the table: built adapters and their readings."""
    print(f"\n{title}\n{HEAD}")
    for kind in adapters.CLASSES:
        tried = (
            o
            for names in adapters.PAIRS
            for o in adapters.outcomes(names, kind, sweeps=sweeps, missing=missing, times=times, seed=seed)
        )
        print(row(kind, tried), flush=True)


def drawn(title: str, *, file: str, times: int, seed: int) -> None:
    """One part of the table: drawings held against their plan."""
    print(f"\n{title}\n{HEAD}")
    for kind in drawings.CLASSES:
        tried = (
            o for names in drawings.PLANS for o in drawings.outcomes(names, kind, file=file, times=times, seed=seed)
        )
        print(row(kind, tried), flush=True)


def main() -> None:
    """Print the whole table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=100, help="how many faults of a class in each map")
    parser.add_argument("--seed", type=int, default=0)
    given = parser.parse_args()
    begun = time.perf_counter()
    for noise in (False, True):
        blurred = ", 10 % of the contacts unknown and 5 % wrong" if noise else ""
        common = {"noise": noise, "times": given.times, "seed": given.seed}
        block(f"Published maps against the published ones{blurred}", maps.PUBLISHED, itself=False, **common)
        block(f"Invented machines against another record of the same{blurred}", maps.INVENTED, itself=True, **common)
        block(f"Invented machines against the published ones{blurred}", maps.INVENTED, itself=False, **common)
        print(WHY_INVENTED)
    few = max(1, given.times // 4)
    readings("Readings: the form and a sweep from every contact", sweeps=True, missing=0, times=few, seed=given.seed)
    readings("Readings: the form alone", sweeps=False, missing=0, times=few, seed=given.seed)
    print(WHY_FORM)
    readings("Readings: both, 20 % of them missing", sweeps=True, missing=0.2, times=few, seed=given.seed)
    readings("Readings: the form alone, 20 % missing", sweeps=False, missing=0.2, times=few, seed=given.seed)
    print(WHY_MISSING)
    for file in drawings.KINDS:
        drawn(f"Audit: a {file} against its plan", file=file, times=few, seed=given.seed)
    fewer = max(1, given.times // 20)
    drawn("Audit: a board against its plan", file="board", times=fewer, seed=given.seed)
    drawn("Audit: a board with the right names and wrong copper", file="copper", times=fewer, seed=given.seed)
    print(f"\n{time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
