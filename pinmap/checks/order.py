"""Do data and address lines run in order? On real slots they do; a break in a run is a question worth asking.

Common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, pairwise

from msgspec import Struct

from ..findings import Finding, found
from ..model import PinMap
from ..text import listed

_NUMBERED = re.compile(r"^([A-Z]+)(\d+)$")
_SHORTEST = 4  # fewer lines are no run
_LONGEST = 64  # no bus has as many; what is longer is no table of a connector
_IN_ORDER = 0.65  # the share of a run that must be in order before the rest looks like a mistake
_TIGHT, _CLOSE = 0.5, 2  # the share of steps to the next number that must lie at most so many contacts apart

Line = tuple[str, int]  # contact and number, SD3 at A6 is ("A6", 3)


class _Run(Struct, frozen=True):
    """The lines of one name (SD, SA …) along one path over the connector.

    `path` is every contact on the way, `numbers` where all lines of the name are, here or elsewhere.
    """

    name: str
    path: tuple[str, ...]
    numbers: Mapping[str, int]

    @property
    def lines(self) -> list[Line]:
        """The lines on the path, in its order."""
        return [(label, self.numbers[label]) for label in self.path if label in self.numbers]

    @property
    def orderly(self) -> bool:
        """Whether most of it is in order and close together, so that the rest looks like a mistake.

        Blocks that are each in order, as when a maker put the low byte before the high one, are no mistake.
        """
        lines = self.lines
        in_order = len(lines) - len(_offenders(lines))
        return in_order >= _IN_ORDER * len(lines) and self.tight and not _blocks(lines)

    @property
    def tight(self) -> bool:
        """Whether most of it goes from number to number between contacts that are close together."""
        lines, at = self.lines, {label: i for i, label in enumerate(self.path)}
        close = sum(abs(a[1] - b[1]) == 1 and abs(at[a[0]] - at[b[0]]) <= _CLOSE for a, b in pairwise(lines))
        return close >= _TIGHT * (len(lines) - 1)

    def exchanged(self, one: str, other: str) -> _Run:
        """The run as it is once the contacts `one` and `other` have changed places."""
        swapped = {one: other, other: one}
        return _Run(self.name, self.path, {swapped.get(label, label): n for label, n in self.numbers.items()})


def runs_in_order(pin_map: PinMap) -> Iterator[Finding]:
    """Name each run of data or address lines that is nearly in order, and the exchange that would mend it.

    A supply or return is never proposed for an exchange: where these are, a meter must say.
    """
    runs = _runs(pin_map)
    power = frozenset(c.label for c in pin_map.carrying() if c.signal and c.signal.is_power)
    told: set[str] = set()
    for run in runs:
        lines = run.lines
        out_of_order = [label for label, _ in _offenders(lines)]
        if not out_of_order or told & set(out_of_order):
            continue
        change, labels = _reversed(run) or ("", [])
        if not change:
            if not run.orderly:
                continue
            change, labels = _mend(run, runs, power) or _moved(run) or ("", out_of_order)
        if told & set(labels):
            continue
        told |= set(labels)
        names = [f"{label} = {pin_map.by_label[label].name}" for label in labels]
        yield _asked(
            pin_map,
            f"{run.name} lines should run in order, not have {listed(names)}" + (f"; {change} mends it" * bool(change)),
            labels,
        )
    for run in runs:
        yield from _holes(pin_map, run, told, power)


def _asked(pin_map: PinMap, message: str, labels: Sequence[str]) -> Finding:
    return found(
        "order-broken",
        message,
        f"Measure {listed(labels)}; leave it if the maker's order is so",
        pin_map.by_label[labels[0]].place,
        contacts=labels,
        signals=[pin_map.by_label[label].name for label in labels],
    )


# ---------------------------------------------------------------------- where the runs are


def _runs(pin_map: PinMap) -> list[_Run]:
    """Follow the lines of each name along the paths on which most of them are neighbours by number."""
    numbered: dict[str, dict[str, int]] = {}
    for contact in pin_map.carrying():
        if contact.signal and contact.signal.group in ("data", "address"):
            match = _NUMBERED.match(contact.signal.name)
            if match:
                numbered.setdefault(match[1], {}).setdefault(contact.label, int(match[2]))
    ways = _ways(pin_map)
    out = []
    for name, numbers in numbered.items():
        candidates = [[_Run(name, tuple(path), numbers) for path in paths] for paths in ways]
        best = max(candidates, key=lambda runs: sum(_steps(run.lines) for run in runs))
        out += [run for run in best if _SHORTEST <= len(run.lines) <= _LONGEST]
    return out


def _ways(pin_map: PinMap) -> list[list[list[str]]]:
    """The ways in which a run may go: along the rows, or to and fro across them from place to place."""
    cells = pin_map.body.cells
    along: dict[tuple[int, int], list[str]] = {}
    for label in sorted(cells, key=lambda label: cells[label]):
        along.setdefault(cells[label][:2], []).append(label)
    across: dict[int, list[str]] = {}
    for label in sorted(cells, key=lambda label: (cells[label][0], cells[label][2], cells[label][1])):
        across.setdefault(cells[label][0], []).append(label)
    back: dict[int, list[str]] = {}
    for label in sorted(cells, key=lambda label: (cells[label][0], cells[label][2], -cells[label][1])):
        back.setdefault(cells[label][0], []).append(label)
    return [list(along.values()), list(across.values()), list(back.values())]


def _steps(lines: Sequence[Line]) -> int:
    """How many neighbours on the path are neighbours by number."""
    return sum(abs(a[1] - b[1]) == 1 for a, b in pairwise(lines))


# ---------------------------------------------------------------------- what is wrong with one


def _monotone(lines: Sequence[Line]) -> bool:
    return len({(b[1] > a[1]) - (b[1] < a[1]) for a, b in pairwise(lines)}) <= 1


def _blocks(lines: Sequence[Line]) -> bool:
    """Whether lines consist of two or more blocks in the same order, none shorter than a nibble."""
    blocks: list[list[int]] = []
    for _, number in lines:
        last = blocks[-1] if blocks else []
        if last and abs(number - last[-1]) == 1 and (len(last) < 2 or number - last[-1] == last[-1] - last[-2]):
            last.append(number)
        else:
            blocks.append([number])
    return len(blocks) > 1 and all(len(b) >= _SHORTEST for b in blocks) and len({b[1] > b[0] for b in blocks}) == 1


def _offenders(lines: Sequence[Line]) -> list[Line]:
    """The lines that stand out of order: all but a longest rising or falling sequence."""
    best: list[int] = []
    for sign in (1, -1):
        chains: list[list[int]] = []
        for i, (_, number) in enumerate(lines):
            before = max((c for c in chains if sign * (number - lines[c[-1]][1]) > 0), key=len, default=[])
            chains.append([*before, i])
        best = max(best, max(chains, key=len, default=[]), key=len)
    return [line for i, line in enumerate(lines) if i not in best]


def _reversed(run: _Run) -> tuple[str, list[str]] | None:
    """The nibbles or the byte that would put a run in order if they were reversed, and their contacts."""
    lines = run.lines
    nibbles = [lines[i : i + 4] for i in range(0, len(lines), 4)]
    if not run.tight:
        return None
    counted_down = lines[0][1] > lines[1][1]  # counted up, they are halves that have changed places: a maker's order
    if counted_down and len(lines) % 4 == 0 and all(_whole(n) for n in nibbles):
        turned = lines
        for i in range(0, len(lines), 4):
            turned = _turned(turned, i, 4)
        if _monotone(turned) and len(nibbles) > 1:
            return f"to reverse each nibble of {run.name}", [label for label, _ in lines]
    for size, word in ((4, "nibble"), (8, "byte")):
        for i in range(len(lines) - size + 1):
            block = lines[i : i + size]
            if _whole(block) and len(lines) > size and _monotone(_turned(lines, i, size)) and not _monotone(lines):
                numbers = [number for _, number in block]
                first, last = f"{run.name}{min(numbers)}", f"{run.name}{max(numbers)}"
                return f"to reverse the {word} {first} to {last}", [label for label, _ in block]
    return None


def _whole(block: Sequence[Line]) -> bool:
    """Whether lines are all of a nibble or byte, in whatever order."""
    numbers = sorted(number for _, number in block)
    return numbers[0] % len(block) == 0 and numbers == list(range(numbers[0], numbers[0] + len(block)))


def _moved(run: _Run) -> tuple[str, list[str]] | None:
    """The one line that stands a few places too early or late, and the contacts that change when it is put right."""
    lines = run.lines
    out = _offenders(lines)
    if len(out) != 1:
        return None
    i = lines.index(out[0])
    for j in range(max(0, i - _SHORTEST), min(len(lines), i + _SHORTEST + 1)):
        numbers = [number for _, number in lines]
        numbers.insert(j, numbers.pop(i))
        if j != i and _monotone([(label, n) for (label, _), n in zip(lines, numbers, strict=True)]):
            labels = [label for label, _ in lines[min(i, j) : max(i, j) + 1]]
            at = [run.path.index(label) for label in labels]
            if at[-1] - at[0] != len(at) - 1:
                return None  # something else stands between
            way = "back" if j < i else "on"
            return f"to move {run.name}{out[0][1]} {way} to {lines[j][0]}, and the lines between by one,", labels
    return None


def _mend(run: _Run, runs: Sequence[_Run], power: frozenset[str]) -> tuple[str, list[str]] | None:
    """The one exchange that puts a run in order, in words, and its contacts; None where there is none."""
    lines = run.lines
    # The lines of the run with each other, and with what stands out of order elsewhere or in a gap.
    pairs = list(combinations([label for label, _ in lines], 2))
    strange = [label for other in runs if other is not run for label, _ in _offenders(other.lines)]
    span = [i for i, label in enumerate(run.path) if label in run.numbers]
    near = run.path[max(span[0] - 1, 0) : span[-1] + 2]
    strange += [label for label in near if label not in run.numbers and label not in power][:_LONGEST]
    pairs += [(label, there) for label, _ in lines for there in strange if there != label]
    best: tuple[int, tuple[str, str]] | None = None
    before = [(len(_offenders(other.lines)), _steps(other.lines)) for other in runs]
    for one, there in pairs:
        if not _monotone(run.exchanged(one, there).lines):
            continue
        after = [other.exchanged(one, there).lines for other in runs]
        if any(len(_offenders(now)) > was for now, (was, _) in zip(after, before, strict=True)):
            continue
        gain = sum(_steps(now) - was for now, (_, was) in zip(after, before, strict=True))
        if gain > 0 and (best is None or gain > best[0]):
            best = gain, (one, there)
    return best and (f"to exchange {best[1][0]} and {best[1][1]}", list(best[1]))


def _turned(lines: Sequence[Line], start: int, size: int) -> list[Line]:
    numbers = [number for _, number in lines]
    numbers[start : start + size] = reversed(numbers[start : start + size])
    return [(label, number) for (label, _), number in zip(lines, numbers, strict=True)]


def _holes(pin_map: PinMap, run: _Run, told: set[str], power: frozenset[str]) -> Iterator[Finding]:
    """Something else stands where a line of the run should be, and that line stands off the path."""
    if 2 * _steps(run.lines) < len(run.lines):
        return  # the run goes by twos, or has no order: what stands between is meant
    at = {label: i for i, label in enumerate(run.path)}
    elsewhere = {number: label for label, number in run.numbers.items() if label not in at}
    for (one, a), (other, b) in pairwise(run.lines):
        between = run.path[at[one] + 1 : at[other]]
        away = elsewhere.get((a + b) // 2)
        if abs(a - b) != 2 or len(between) != 1 or away is None or {between[0], away} & told:
            continue
        here = pin_map.by_label[between[0]]
        if here.role == "signal":
            told |= {here.label, away}
            yield _asked(
                pin_map,
                f"{run.name} lines should run in order, not have {here.label} = {here.name} between "
                f"{run.name}{a} and {run.name}{b}, and {run.name}{(a + b) // 2} at {away}"
                + f"; to exchange {here.label} and {away} mends it"
                * (here.label not in power),
                [here.label, away],
            )
