"""The channel router on published channels, judged by a referee that shares no code with it.

Sources: `data/channels.csv` (T. Yoshimura and E. S. Kuh, IEEE Transactions on CAD, 1982; D. N. Deutsch, DAC 1976) and
`data/channels_meta.csv` (counts, density, tracks). The fewest published tracks with doglegs are from memory.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from channel_checker import faults, loose_ends

from pinmap.board.channel import Channel, route

DATA = Path(__file__).parent / "data"


def table(name: str) -> list[dict[str, str]]:
    lines = (DATA / name).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def published(name: str) -> Channel:
    columns = [row for row in table("channels.csv") if row["channel"] == name]
    assert [int(row["column"]) for row in columns] == list(range(1, len(columns) + 1))
    facts = next(row for row in table("channels_meta.csv") if row["channel"] == name)
    left, right = (frozenset(map(int, facts[f"{end}_end_nets"].split())) for end in ("left", "right"))
    return Channel(tuple(int(row["top"]) for row in columns), tuple(int(row["bottom"]) for row in columns), left, right)


@pytest.mark.parametrize("facts", table("channels_meta.csv"), ids=lambda facts: str(facts["channel"]))
def test_columns_nets_and_density_are_as_published(facts: dict[str, str]) -> None:
    channel = published(facts["channel"])
    nets = {*channel.top, *channel.bottom} - {0}
    assert (len(channel.top), len(nets), channel.density) == tuple(
        int(facts[key]) for key in ("columns", "nets", "density")
    )


@pytest.mark.parametrize(("name", "tracks"), [("ex1", 12), ("ex3a", 15), ("deutsch", 19)])
def test_published_channels_take_no_more_tracks_than_the_best_published(name: str, tracks: int) -> None:
    channel = published(name)
    routed = route(channel)
    assert faults(channel, routed) == []
    assert loose_ends(channel, routed) == []
    assert (routed.tracks, routed.added_left, routed.added_right) == (tracks, 0, 0)
