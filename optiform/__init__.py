"""Formula design for rinse-off cleansers: one mixed-integer linear program, explained.

    import optiform

    brief = optiform.load_brief("nettle.toml")
    answer = optiform.design(brief)
    answer.formulas[0].materials      # a table, indexed by material

Nothing heavy is imported before it is used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optiform.answers import Swap, check, design, diagnose, evaluate, swap, why
    from optiform.answers.model.answer import (
        Acidity,
        Answer,
        Binding,
        Broken,
        Change,
        Conflict,
        Dose,
        Figure,
        Formula,
        Ingredient,
        Line,
        Relaxation,
        Takeover,
        Why,
        Wish,
    )
    from optiform.brief import Brief, brief_from, load_brief, starter_brief
    from optiform.faults import BadInput, Fault, InternalError
    from optiform.library import Library, Material, Substance, Trust, load_library
    from optiform.library.formulas import TypedFormula, read_formula

    __version__: str

__all__ = [
    "Acidity",
    "Answer",
    "BadInput",
    "Binding",
    "Brief",
    "Broken",
    "Change",
    "Conflict",
    "Dose",
    "Fault",
    "Figure",
    "Formula",
    "Ingredient",
    "InternalError",
    "Library",
    "Line",
    "Material",
    "Relaxation",
    "Substance",
    "Swap",
    "Takeover",
    "Trust",
    "TypedFormula",
    "Why",
    "Wish",
    "__version__",
    "brief_from",
    "check",
    "design",
    "diagnose",
    "evaluate",
    "load_brief",
    "load_library",
    "read_formula",
    "starter_brief",
    "swap",
    "why",
]

_ROOMS = {
    "optiform.answers": ("Swap", "check", "design", "diagnose", "evaluate", "swap", "why"),
    "optiform.answers.model.answer": (
        "Acidity", "Answer", "Binding", "Broken", "Change", "Conflict", "Dose", "Figure", "Formula", "Ingredient",
        "Line", "Relaxation", "Takeover", "Why", "Wish",
    ),
    "optiform.brief": ("Brief", "brief_from", "load_brief", "starter_brief"),
    "optiform.faults": ("BadInput", "Fault", "InternalError"),
    "optiform.library": ("Library", "Material", "Substance", "Trust", "load_library"),
    "optiform.library.formulas": ("TypedFormula", "read_formula"),
}  # fmt: skip
_ROOM_OF = {name: room for room, names in _ROOMS.items() for name in names}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    if name == "__version__":
        value: Any = _version()
    elif name in _ROOM_OF:
        value = getattr(import_module(_ROOM_OF[name]), name)
    else:
        raise AttributeError(f"module 'optiform' has no attribute '{name}'")
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


def _version() -> str:
    """Return the installed version; a source tree that was never installed has none."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("optiform")
    except PackageNotFoundError:
        return "0+source"
