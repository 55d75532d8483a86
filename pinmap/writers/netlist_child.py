"""The child's side of the netlist: it is made by skidl and read back by kicad-skip here.

The child process runs this very file, without the rest of the package, so that it starts fast:
nothing here may import from pinmap. The caller's side is `netlist_process`, which imports from
here what both sides know: what a part and a net are, and how a netlist is read.
"""

from __future__ import annotations

import codecs
import contextlib
import importlib
import io
import json
import locale
import logging
import os
import re
import sys
import threading
import uuid
import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO
from urllib.parse import quote, unquote

__all__ = ["NetPart", "NetWire", "NetlistError", "read_netlist"]


TIME_LIMIT_S = 120.0
"""How long the child may take; it takes well under a second."""

# A part's identity is this name space and its purpose, nothing else. With another value here
# every board laid out from an earlier netlist would lose its link to the parts.
_IDENTITY = uuid.UUID("8c0e2f3a-5d0b-5c53-9d8e-5b0f6c7a4e21")

# The netlist dialects asked of skidl, best first.
_DIALECTS = ("kicad9", "kicad8")

# skidl reads and writes its texts through an s-expression library that escapes the double
# quote only and drops newlines. Texts therefore travel through both percent-encoded; these
# characters are harmless there.
_HARMLESS = " !#$&*+,-./:;<=>?@[]^_{|}~"


class NetlistError(RuntimeError):
    """The netlist could not be made, or was not what was asked for; one short sentence."""


@dataclass(frozen=True, slots=True)
class NetPart:
    """One part of the netlist.

    `ref`: the part's designator, such as `J1`, unique.
    `value`: what it is, such as `4.7 kΩ`.
    `footprint`: `library:name`, or empty.
    `purpose`: what it is for, unique; the part keeps its place on a board that was laid out
    from an earlier netlist as long as this text stays the same.
    `pads`: pairs (pad number, pin name), the pad numbers unique within the part.
    """

    ref: str
    value: str
    footprint: str
    purpose: str
    pads: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class NetWire:
    """One net: its name, unique, and the pairs (ref, pad number) it joins, at least one.

    A net of one node is a contact left open on purpose.
    """

    name: str
    nodes: tuple[tuple[str, str], ...]


def read_netlist(
    path: str | os.PathLike[str],
) -> tuple[dict[str, NetPart], dict[str, frozenset[tuple[str, str]]]]:
    """Read a netlist file with kicad-skip, quietly and in this process.

    Returns the parts by ref and, by net name, the set of (ref, pad number). A part's `pads`
    are those that some net reaches, in natural order. A `purpose` that the file does not
    give is empty.

    Raises NetlistError when kicad-skip is missing, or the file is not a netlist or names a
    part or a net twice.
    """
    try:
        with _quiet():
            return _read(os.fspath(path))
    except ImportError as error:
        raise NetlistError(_missing(error)) from None
    except NetlistError:
        raise
    except Exception as error:
        raise NetlistError(f"{os.fspath(path)} is not a readable netlist: {_short(error)}") from None


# --- making it ------------------------------------------------------------------------------


def _child(work: Mapping[str, Any]) -> None:
    """Make the netlist `work` asks for and answer on stdout; everything else printed is lost."""
    with os.fdopen(os.dup(1), "wb") as answer:
        _limit(answer)
        null = os.open(os.devnull, os.O_WRONLY)
        os.dup2(null, 1)
        os.dup2(null, 2)
        reply: dict[str, str]
        try:
            parts = {
                part["ref"]: NetPart(**{**part, "pads": tuple(map(tuple, part["pads"]))}) for part in work["parts"]
            }
            nets = {net["name"]: NetWire(net["name"], tuple(map(tuple, net["nodes"]))) for net in work["nets"]}
            text = _finish(_skidl(parts, nets), work["title"], parts, nets)
            Path("readback.net").write_text(text, "utf-8", newline="\n")
            _compare(_read("readback.net"), parts, nets)
            reply = {"netlist": text}
        except ImportError as error:
            reply = {"error": _missing(error)}
        except NetlistError as error:
            reply = {"error": str(error)}
        except BaseException as error:  # skidl may also call sys.exit
            reply = {"error": f"the netlist could not be made: {_short(error)}"}
        answer.write(json.dumps(reply).encode("ascii"))
    # Nothing is left to tidy here: the folder goes with the caller.
    os._exit(0)


def _limit(answer: BinaryIO) -> None:
    def give_up() -> None:
        error = f"the netlist must be ready within {TIME_LIMIT_S:.0f} s; it is not"
        answer.write(json.dumps({"error": error}).encode("ascii"))
        answer.flush()
        os._exit(0)

    timer = threading.Timer(TIME_LIMIT_S, give_up)
    timer.daemon = True
    timer.start()


def _skidl(parts: Mapping[str, NetPart], nets: Mapping[str, NetWire]) -> str:
    """Build the circuit in skidl and return its netlist, texts still percent-encoded."""
    # skidl does without its simulator where that is not installed. Loading it takes three
    # times as long as all the rest, and longer still in an empty home folder, where its
    # plotting library first lists every font of the machine.
    for simulator in ("InSpice", "PySpice"):
        sys.modules.setdefault(simulator, None)  # type: ignore[arg-type]
    skidl = importlib.import_module("skidl")
    _untrace()
    circuit = skidl.Circuit()
    circuit.no_files = True
    circuit.track_src = False
    pins: dict[tuple[str, str], Any] = {}
    for part in parts.values():
        row = [
            skidl.Pin(num=_veil(number), name=_veil(name), func=skidl.Pin.types.PASSIVE) for number, name in part.pads
        ]
        skidl.Part(
            name=_veil(part.value or part.ref),
            tool=skidl.SKIDL,
            dest=skidl.NETLIST,
            circuit=circuit,
            ref=_veil(part.ref),
            tag=_identity(part.purpose),
            value=_veil(part.value),
            footprint=_veil(part.footprint),
            pins=row,
        )
        pins.update(zip(((part.ref, number) for number, _ in part.pads), row, strict=True))
    for net in nets.values():
        skidl.Net(_veil(net.name), circuit, *(pins[node] for node in net.nodes))
    tools = importlib.import_module("skidl.tools").tool_modules
    dialect = next((name for name in _DIALECTS if name in tools), None)
    if dialect is None:
        raise NetlistError(f"skidl must know one of {', '.join(_DIALECTS)}; this one knows neither")
    return str(circuit.generate_netlist(tool=dialect, do_backup=False, track_src=False))


def _untrace() -> None:
    """Keep skidl from walking the call stack at each part and net.

    It does so, reading source files on the way, to note which line of a script made the
    part; there is no script here and the note is not written. `track_src` only keeps the
    note out of the netlist.
    """
    for name in ("skidl.circuit", "skidl.node"):
        module = sys.modules.get(name)
        if module is not None and hasattr(module, "get_skidl_trace"):
            module.get_skidl_trace = list  # type: ignore[attr-defined]


def _finish(raw: str, title: str, parts: Mapping[str, NetPart], nets: Mapping[str, NetWire]) -> str:
    """Turn skidl's netlist into ours: no clock, no paths, no versions, order and identities fixed."""
    sexp = importlib.import_module("simp_sexp").Sexp
    tree = _unveil(sexp(raw))
    source = " ".join(title.split()) or "pinmap"
    design = _branch(tree, "design")
    for key, value in (("source", source), ("date", ""), ("tool", "pinmap, skidl")):
        _branch(design, key)[1:] = [value]
    for sheet in _branches(design, "sheet"):
        block = _branch(sheet, "title_block")
        _branch(block, "title")[1:] = [source]
        _branch(block, "source")[1:] = [source]

    components = _branch(tree, "components")
    components[1:] = sorted(components[1:], key=lambda comp: _natural(_branch(comp, "ref")[1]))
    for comp in components[1:]:
        part = parts[_branch(comp, "ref")[1]]
        # skidl's own identities hang on its version as well.
        _branch(comp, "tstamps")[1:] = [_identity(part.purpose)]
        _branch(_branch(comp, "libsource"), "lib")[1:] = ["pinmap"]
        fields = _branch(comp, "fields")
        fields[1:] = [field for field in fields[1:] if not _branch(field, "name")[1].startswith("SKiDL")] + [
            ["field", ["name", "Purpose"], part.purpose]
        ]

    places = {name: place for place, name in enumerate(nets)}
    pin_names = {(part.ref, number): name for part in parts.values() for number, name in part.pads}
    wires = _branch(tree, "nets")
    wires[1:] = sorted(wires[1:], key=lambda net: places[_branch(net, "name")[1]])
    for code, net in enumerate(wires[1:], 1):
        _branch(net, "code")[1:] = [str(code)]
        nodes = sorted(
            _branches(net, "node"),
            key=lambda node: (_natural(_branch(node, "ref")[1]), _natural(_branch(node, "pin")[1])),
        )
        for node in nodes:
            name = pin_names[_branch(node, "ref")[1], _branch(node, "pin")[1]]
            kind = ["pintype", "passive"]
            node[3:] = [["pinfunction", name], kind] if name else [kind]
        net[1:] = [item for item in net[1:] if item[0] != "node"] + nodes

    text: str = sexp(_quoted(tree)).to_str()
    # skidl does the same: one reader of the format wants a space here.
    return text.replace("(export\n", "(export \n", 1) + "\n"


def _compare(
    found: tuple[dict[str, NetPart], dict[str, frozenset[tuple[str, str]]]],
    parts: Mapping[str, NetPart],
    nets: Mapping[str, NetWire],
) -> None:
    """Raise NetlistError, naming the first difference, unless what was read is what was asked."""
    reached = {node for net in nets.values() for node in net.nodes}
    wanted = {
        ref: NetPart(
            ref,
            part.value,
            part.footprint,
            part.purpose,
            tuple(
                sorted(
                    (pad for pad in part.pads if (ref, pad[0]) in reached),
                    key=lambda pad: _natural(pad[0]),
                )
            ),
        )
        for ref, part in parts.items()
    }
    for what, read, asked in (
        ("part", found[0], wanted),
        ("net", found[1], {name: frozenset(net.nodes) for name, net in nets.items()}),
    ):
        for name in [*asked, *read]:
            if read.get(name) != asked.get(name):
                raise NetlistError(f"a netlist read back must say what was asked for; {what} {name} differs")


def _identity(purpose: str) -> str:
    return str(uuid.uuid5(_IDENTITY, purpose))


def _veil(text: str) -> str:
    # The mark in front keeps a text from being one that skidl treats in its own way: an
    # empty one, a number, a name that it also makes up itself.
    return "=" + quote(text, safe=_HARMLESS)


def _unveil(tree: list[Any]) -> list[Any]:
    """Make every value of the tree a plain text again; the first item of each list is its key."""
    return [
        _unveil(item) if isinstance(item, list) else unquote(item[1:]) if str(item)[:1] == "=" else str(item)
        for item in tree
    ]


def _quoted(tree: list[Any]) -> list[Any]:
    """Escape every text of the tree but the keys and put it in double quotes."""
    return tree[:1] + [
        _quoted(item) if isinstance(item, list) else f'"{item.translate(_ESCAPES)}"' for item in tree[1:]
    ]


_ESCAPES = str.maketrans({"\\": r"\\", '"': r"\"", "\n": r"\n", "\r": r"\r", "\t": r"\t"})


def _branches(tree: list[Any], key: str) -> list[list[Any]]:
    return [item for item in tree[1:] if isinstance(item, list) and item[0] == key]


def _branch(tree: list[Any], key: str) -> list[Any]:
    """Find the one list that starts with `key`; make it if skidl left it out."""
    found = _branches(tree, key)
    if not found:
        found = [[key]]
        tree.append(found[0])
    return found[0]


# --- reading it -----------------------------------------------------------------------------


def _read(path: str) -> tuple[dict[str, NetPart], dict[str, frozenset[tuple[str, str]]]]:
    """Do what `read_netlist` does; kicad-skip's chatter is the caller's business."""
    skip = importlib.import_module("skip.sexp.sourcefile")
    with _utf8(skip):
        file = skip.SourceFile(path)
    if str(file.tree[0].value()) != "export":
        raise NetlistError(f"a netlist must begin with export, not {file.tree[0].value()}")
    pads: dict[str, list[tuple[str, str]]] = {}
    nets: dict[str, frozenset[tuple[str, str]]] = {}
    for net in _children(file, "nets", "net"):
        name = _value(net, "name")
        if name in nets:
            raise NetlistError(f"a netlist must name each net once; {name} is there twice")
        nodes = []
        for node in _inside(net, "node"):
            ref, number = _value(node, "ref"), _value(node, "pin")
            nodes.append((ref, number))
            pads.setdefault(ref, []).append((number, _value(node, "pinfunction")))
        nets[name] = frozenset(nodes)
    parts: dict[str, NetPart] = {}
    for comp in _children(file, "components", "comp"):
        ref = _value(comp, "ref")
        if ref in parts:
            raise NetlistError(f"a netlist must name each part once; {ref} is there twice")
        purpose = ""
        for fields in _inside(comp, "fields"):
            for field in _inside(fields, "field"):
                if _value(field, "name") == "Purpose":
                    purpose = next((item for item in field.children if isinstance(item, str)), "")
        parts[ref] = NetPart(
            ref,
            _value(comp, "value"),
            _value(comp, "footprint"),
            purpose,
            tuple(sorted(pads.get(ref, ()), key=lambda pad: _natural(pad[0]))),
        )
    return parts, nets


def _children(file: Any, group: str, kind: str) -> list[Any]:
    found = getattr(file, group, None)
    return [] if found is None else _inside(found, kind)


def _inside(branch: Any, kind: str) -> list[Any]:
    return [child for child in branch.children if getattr(child, "entity_type", None) == kind]


def _value(branch: Any, kind: str) -> str:
    """Find the text of the first child of this kind; it is empty if there is none."""
    # A child called "value" collides with an attribute of kicad-skip's own: it then stands
    # in the list of children twice, in the place of the first child as well, which is left
    # as an attribute only. Any other child that is there once is an attribute.
    found = None if kind == "value" else vars(branch).get(kind)
    for child in _inside(branch, kind) if found is None or isinstance(found, list) else [found]:
        return child.value if isinstance(child.value, str) else ""
    return ""


@contextlib.contextmanager
def _utf8(skip: Any) -> Iterator[None]:
    """Have kicad-skip read UTF-8 also where the machine's own encoding is another."""
    if codecs.lookup(locale.getpreferredencoding(False)).name == "utf-8":
        yield
        return
    own = skip.loadTree
    loads = importlib.import_module("sexpdata").loads
    skip.loadTree = lambda path: loads(Path(path).read_text("utf-8"))
    try:
        yield
    finally:
        skip.loadTree = own


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Swallow what kicad-skip prints, logs and warns of."""
    log = logging.getLogger("skip")
    level = log.level
    log.setLevel(logging.CRITICAL + 1)
    try:
        with (
            contextlib.redirect_stdout(io.StringIO()),
            contextlib.redirect_stderr(io.StringIO()),
            warnings.catch_warnings(),
        ):
            warnings.simplefilter("ignore")
            yield
    finally:
        log.setLevel(level)


def _natural(text: str) -> list[tuple[int, int, str]]:
    """Make a sort key by which J2 comes before J10."""
    return [
        (0, int(run), run) if run.isascii() and run.isdigit() else (1, 0, run)
        for run in re.split(r"([0-9]+)", text)
        if run
    ]


def _missing(error: ImportError) -> str:
    package = {"skip": "kicad-skip"}.get((error.name or "").partition(".")[0], error.name)
    return f"a netlist needs skidl and kicad-skip; {package} is not installed"


def _short(error: BaseException) -> str:
    """Name the error's kind and the first line of its text."""
    lines = str(error).strip().splitlines()
    return f"{type(error).__name__}: {lines[0][:200]}" if lines else type(error).__name__
