"""Maps as lines for version control, and what differs between two of them as a unified difference."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from ..described import body_facts, limits, map_facts, own_facts
from ..errors import Place
from ..model import Contact, PinMap
from ..text import natural, visible
from .comparison import use

#: How git calls a file that is not there, on every system.
ABSENT = "/dev/null"


def meaning(pin_map: PinMap) -> list[str]:
    """A map as lines that change only with what it says: a fact a line, then a contact a line in natural order.

    Order, runs, spaces and comments of the file don't matter. For version control: what a map is turned into before
    it is compared line by line.
    """
    facts = [
        *map_facts(pin_map).items(),
        *((f"body {what}", said) for what, said in body_facts(pin_map.body).items()),
        *((f"source of body {what}", said) for what, said in _sorted(dict(pin_map.body.sources))),
        *((f"option {name}", said) for name, said in _sorted(pin_map.options)),
        *((f"own line {name}", said) for name, said in _sorted(own_facts(pin_map))),
        *((f"limit of {rail}", said) for rail, said in _sorted(limits(pin_map))),
    ]
    lines = [f"{what}: {said}" for what, said in facts if said]
    contacts = sorted(pin_map.contacts, key=lambda c: (natural(c.label), c.name, c.option, c.written))
    return [visible(line) for line in (*lines, *(_contact(c) for c in contacts))]


def _sorted(facts: Mapping[str, str]) -> list[tuple[str, str]]:
    return sorted(facts.items(), key=lambda fact: natural(fact[0]))


def _contact(contact: Contact) -> str:
    said = [contact.name if contact.signal else use([contact])]
    if contact.signal and contact.written not in ("", contact.name):
        said.append(f"written {contact.written}")
    if contact.option:
        said.append(f"only with {contact.option}")
    if contact.seen != "manual":
        said.append(contact.seen)
    said += [f"{what} {text}" for what, text in (("note:", contact.note), ("source:", contact.source)) if text]
    return f"contact {contact.label}: {', '.join(said)}"


#: So many lines are held against each other line by line; of more, only what they begin and end with in common counts.
#: What takes longest, 5000 lines in opposite order, takes 1 s, and twice as many four times as long.
MOST_LINES = 5000
_AROUND = 3  # lines that stay the same, shown around each difference


def difference(before: Sequence[str], after: Sequence[str], before_name: str, after_name: str) -> str:
    """Two lists of lines as a unified difference under the two names; "" where they are the same.

    Either may be what `meaning` gives, the plain lines of a file that no map can be built from, or empty where the
    file is not there.
    """
    one, other = [visible(line) for line in before], [visible(line) for line in after]
    if one == other:
        return ""
    if max(len(one), len(other)) > MOST_LINES:
        made = _in_one_block(one, other)
    else:
        made = list(difflib.unified_diff(one, other, n=_AROUND, lineterm=""))[2:]
    head = [f"--- {visible(before_name)}", f"+++ {visible(after_name)}"]
    return "".join(f"{line}\n" for line in (*head, *made))


def _in_one_block(one: Sequence[str], other: Sequence[str]) -> list[str]:
    """All between what both begin with and what both end with, as one difference."""
    least = min(len(one), len(other))
    begin = next((i for i in range(least) if one[i] != other[i]), least)
    end = next((i for i in range(least - begin) if one[-1 - i] != other[-1 - i]), least - begin)
    lead, trail = one[max(begin - _AROUND, 0) : begin], one[len(one) - end :][:_AROUND]
    gone, come = one[begin : len(one) - end], other[begin : len(other) - end]
    sizes = [len(lead) + len(lines) + len(trail) for lines in (gone, come)]
    starts = [begin - len(lead) + bool(size) for size in sizes]
    return [
        f"@@ -{starts[0]},{sizes[0]} +{starts[1]},{sizes[1]} @@",
        *(f" {line}" for line in lead),
        *(f"-{line}" for line in gone),
        *(f"+{line}" for line in come),
        *(f" {line}" for line in trail),
    ]


def as_diff(first: PinMap, second: PinMap, before_name: str = "", after_name: str = "") -> str:
    """The meaning of two maps as a unified difference; under the files' names where no others are given."""
    return difference(
        meaning(first),
        meaning(second),
        before_name or first.file or first.name,
        after_name or second.file or second.name,
    )


class Version(Struct, frozen=True):
    """One side of what git compares: the map, None where none can be built, and the file's lines, None if not text.

    `wrong` has the places and reasons because of which the map, if any, does not say all that the file does.
    """

    map: PinMap | None
    lines: tuple[str, ...] | None
    wrong: tuple[tuple[Place, str], ...] = ()


#: So many reasons are given for one version of a file.
MOST_REASONS = 5


def driven(arguments: Sequence[str], read: Callable[[str], Version], *, by_git: bool = True) -> str | None:
    """What an external difference program of git prints for the arguments that git gives it, None where these are none.

    They are path old-file old-hex old-mode new-file new-hex new-mode, and for a renamed file the new path and a text;
    the path alone, which a person might give too, where a conflict is not settled (seen with git 2.39.5). Where both
    versions can be read in full, their meaning is compared; else the reasons are given, and the text is compared. git
    takes any exit status but 0 for a failure, and ends.
    """
    if by_git and len(arguments) == 1:
        return f"pinmap: {visible(arguments[0])}: a conflict in it is not settled yet\n"
    if len(arguments) not in (7, 9):
        return None
    path, old, _, old_mode, new, _, new_mode = arguments[:7]
    before = ABSENT if old == ABSENT else f"a/{path}"
    after = ABSENT if new == ABSENT else f"b/{arguments[7] if len(arguments) == 9 else path}"
    one, other = (Version(None, ()) if file == ABSENT else read(file) for file in (old, new))
    said = [*_reasons(one, before), *_reasons(other, after)]
    made = ""
    if one.lines is None or other.lines is None:
        said.append("neither the meaning nor the text can be compared")
    elif said:
        made = difference(one.lines, other.lines, before, after)
        said.append(
            "the text is compared, not the meaning"
            if made
            else _unchanged(one, other, before, after, old_mode, new_mode)
        )
    else:
        told = [meaning(version.map) if version.map else [] for version in (one, other)]
        made = difference(told[0], told[1], before, after)
        if not made:
            said.append(_unchanged(one, other, before, after, old_mode, new_mode))
    return "".join(f"pinmap: {visible(line)}\n" for line in said) + made


def _reasons(version: Version, name: str) -> list[str]:
    told = [f"{replace(place, file=name)}: {reason}" for place, reason in version.wrong[:MOST_REASONS]]
    more = len(version.wrong) - len(told)
    return [*told, f"{name}: and {more} more"] if more else told


def _unchanged(one: Version, other: Version, before: str, after: str, *modes: str) -> str:
    """Say what differs where neither the meaning nor, without one, the text does."""
    if one.lines != other.lines:
        return f"{after}: no contact differs; only comments, layout or spelling"
    if before[2:] != after[2:]:
        return f"{after} was {before}; nothing in it differs"
    if len(set(modes)) > 1:
        return f"{after}: only its mode differs, {modes[1]} after {modes[0]}"
    return f"{after}: no line differs; only line ends"
