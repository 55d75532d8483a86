"""From the pin map of an old computer's slot to a checked adapter for ordinary ISA cards.

    >>> import pinmap
    >>> checked = pinmap.check("oakmere-88")
    >>> checked.verdict
    'sound'
    >>> adapter = pinmap.adapt("oakmere-88", "isa-8bit", fitted=["video board"])
    >>> adapter.verdict
    'build with care'
    >>> adapter.net_of("card", "B30").host[0].label
    '58'
    >>> seated = pinmap.misfit("oakmere-88", "isa-8bit")
    >>> seated.ends[0].grade
    'fault'

Names are loaded when they are first used: `import pinmap` alone costs next to nothing.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .adapter import Adapter, Net, Unmapped
    from .api import (
        Checked,
        MapError,
        Printing,
        Proposal,
        adapt,
        audit_drawing,
        check,
        draw_pdf,
        draw_svg,
        imported,
        judge_readings,
        load_map,
        make_board,
        misfit,
        propose,
        published,
        readings_form,
        render,
        render_board,
        write,
        write_board,
    )
    from .bench import Judged
    from .body import Body, Numbering, Section
    from .compare import Comparison, compare
    from .coverage import Coverage, cover, coverage
    from .errors import NotFoundError, OutputError, PinmapError, Place, UnreadableError
    from .findings import Finding
    from .misfit import Misfit
    from .model import Bus, CardKind, Contact, PinMap, Remedy, Signal
    from .planner import plan
    from .wiring import Wire, unwired, wires

__version__ = "0.1.0"

_HOME = {
    "adapter": ("Adapter", "Net", "Unmapped"),
    "api": (
        "Checked",
        "MapError",
        "Printing",
        "Proposal",
        "adapt",
        "audit_drawing",
        "check",
        "draw_pdf",
        "draw_svg",
        "imported",
        "judge_readings",
        "load_map",
        "make_board",
        "misfit",
        "propose",
        "published",
        "readings_form",
        "render",
        "render_board",
        "write",
        "write_board",
    ),
    "bench": ("Judged",),
    "body": ("Body", "Numbering", "Section"),
    "compare": ("Comparison", "compare"),
    "coverage": ("Coverage", "cover", "coverage"),
    "errors": ("NotFoundError", "OutputError", "PinmapError", "Place", "UnreadableError"),
    "findings": ("Finding",),
    "misfit": ("Misfit",),
    "model": ("Bus", "CardKind", "Contact", "PinMap", "Remedy", "Signal"),
    "planner": ("plan",),
    "wiring": ("Wire", "unwired", "wires"),
}
_MODULE_OF = {name: module for module, names in _HOME.items() for name in names}

__all__ = [  # noqa: RUF022 - in the order in which a reader needs them
    "check",
    "propose",
    "adapt",
    "write",
    "make_board",
    "write_board",
    "draw_svg",
    "draw_pdf",
    "imported",
    "audit_drawing",
    "misfit",
    "readings_form",
    "judge_readings",
    "load_map",
    "render",
    "render_board",
    "published",
    "compare",
    "coverage",
    "cover",
    "plan",
    "wires",
    "unwired",
    "Adapter",
    "Body",
    "Bus",
    "CardKind",
    "Checked",
    "Comparison",
    "Contact",
    "Coverage",
    "Finding",
    "Judged",
    "MapError",
    "Misfit",
    "Net",
    "NotFoundError",
    "Numbering",
    "OutputError",
    "PinMap",
    "PinmapError",
    "Place",
    "Printing",
    "Proposal",
    "Remedy",
    "Section",
    "Signal",
    "UnreadableError",
    "Unmapped",
    "Wire",
]


def __getattr__(name: str) -> Any:
    module = _MODULE_OF.get(name)
    if module is None:
        raise AttributeError(f"module 'pinmap' has no attribute {name!r}")
    value = getattr(import_module(f".{module}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


class _Package(ModuleType):
    """Keeps the functions `compare`, `coverage` and `misfit` from being hidden by the modules of these names."""

    def __setattr__(self, name: str, value: Any) -> None:
        if not (name in _MODULE_OF and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package
