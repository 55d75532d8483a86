"""What a small regulator gives at the card, by its rating and by the heat that its case gets rid of."""

from __future__ import annotations

from .facts import Facts


def regulator_gives_a(facts: Facts, feed_v: float, feed_percent: float, out_v: float) -> float:
    """Return what a regulator gives at most, in A: no more than it is rated for, nor than its heat allows.

    `feed_v` may be larger by `feed_percent`, and all of its own current becomes heat: P = in · own + (in - out) · I.
    The heat that it stands is that of free air at `regulator heat holds up to`; in a warmer case it gives less.
    """
    most_in = abs(feed_v) * (1 + feed_percent / 100)
    across = most_in - abs(out_v)
    rated = facts.value("regulator gives")
    if across <= 0:
        return rated
    heat = facts.value("regulator heat at most") - most_in * facts.value("regulator draws itself")
    return min(rated, max(heat, 0.0) / across)
