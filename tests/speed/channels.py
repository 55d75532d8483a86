"""How the router's time grows with the contacts: `python tests/speed/channels.py`. Not part of the test suite.

Both rows have as many contacts, the lower one in a random order. Times are given as parts of that of 62 contacts in the
same run, for those of different machines can't be compared; seconds of the processor stand beside them.
"""

from __future__ import annotations

import random
import time

from pinmap.board.channel import Channel, route

SIZES = (20, 40, 62, 104, 200, 300, 400)


def routed(contacts: int) -> tuple[int, int, float]:
    """Density, tracks and seconds of a random order, the middle of three."""
    tried = []
    for seed in range(3):
        order = list(range(1, contacts + 1))
        random.Random(f"{contacts} {seed}").shuffle(order)
        channel = Channel(tuple(range(1, contacts + 1)), tuple(order))
        begun = time.process_time()
        tracks = route(channel).tracks
        tried.append((time.process_time() - begun, channel.density, tracks))
    seconds, density, tracks = sorted(tried)[1]
    return density, tracks, seconds


def main() -> None:
    """Print the table."""
    found = {contacts: routed(contacts) for contacts in SIZES}
    base = found[62][2]
    print(f"{'contacts':>8} {'density':>8} {'tracks':>7} {'time':>7} {'s':>7}")
    for contacts, (density, tracks, seconds) in found.items():
        print(f"{contacts:>8} {density:>8} {tracks:>7} {seconds / base:>6.2f}× {seconds:>7.2f}")


if __name__ == "__main__":
    main()
