"""Make boards of random adapters and prove each from its own files: `python tests/prove_boards.py --times 200`.

Prints what is wrong, and the router's tracks against density. The suite tries the first few of these seeds.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections.abc import Sequence

import copper_proof as proof
from random_adapters import random_adapter

from pinmap.board.making import Board, board
from pinmap.writers import board_file
from pinmap.writers.fab import fab_files


def problems(made: Board) -> list[str]:
    """What is wrong with a board, from its Gerbers and drill, its board file and its test netlist, each by itself."""
    layout = made.layout
    rules = layout.rules
    return proof.problems(
        made.adapter,
        board_file.text(layout),
        fab_files(layout, "a"),
        [(x / 1000, y / 1000) for x, y in layout.outline],
        [(x / 1000, y / 1000) for x, y in layout.bevel] if layout.bevel else None,
        gap=rules.gap_um / 1000,
        width=rules.track_um / 1000,
        ring=0.1,
        edge=rules.edge_um / 1000,
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the counts; the exit status says whether a board was wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=200, help="how many adapters")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    given = parser.parse_args(arguments)
    wrong, ratios, seconds = 0, [], []
    for seed in range(given.first, given.first + given.times):
        adapter = random_adapter(seed)
        begun = time.process_time()
        made = board(adapter)
        seconds.append(time.process_time() - begun)
        ratios.append(made.tracks / made.density if made.density else 1.0)
        told = problems(made)
        for each in told:
            print(f"seed {seed}: {each}", flush=True)
        wrong += bool(told)
    print(
        f"{given.times} adapters of 10 to 104 contacts: {wrong} wrong; tracks to density: median "
        f"{statistics.median(ratios):.3f}, worst {max(ratios):.3f}; {statistics.median(seconds):.2f} s a board, "
        f"at most {max(seconds):.2f} s"
    )
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
