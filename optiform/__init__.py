"""Formula design for rinse-off cleansers: one mixed-integer linear program, explained.

    from optiform import design, sheet

    answer = design("nettle.toml")
    answer.formulas[0].materials                 # a table, indexed by material
    sheet(answer.formulas[0], batch="2 kg")      # its batch record, label and shopping list

Nothing heavy is imported before it is used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optiform.answers.bench.lot_correction import LotCorrection
    from optiform.answers.bench.readings import Addition, Bench
    from optiform.answers.bench.swapping import Swap
    from optiform.answers.doctor import diagnose
    from optiform.answers.model.acidity import Acidity, Dose
    from optiform.answers.model.answer import Answer, Leave, Wish
    from optiform.answers.model.changes import Changes
    from optiform.answers.model.conflict import Change, Conflict, Relaxation
    from optiform.answers.model.formula import (
        Binding,
        Broken,
        Figure,
        Formula,
        Ingredient,
        Line,
    )
    from optiform.answers.model.why import Takeover, Why
    from optiform.answers.recost.one import Recosted
    from optiform.answers.tradeoff import TradeOff
    from optiform.answers.trials.model import Learned, TrialAdded, TrialList
    from optiform.answers.trials.planned import NextTrial, Planned
    from optiform.api import (
        add_record,
        add_trial,
        batch_records,
        bench,
        check,
        design,
        evaluate,
        family,
        learn,
        list_trials,
        lot,
        next_trial,
        plan_trials,
        recost,
        reformulate,
        sheet,
        shop,
        tradeoff,
        weigh,
        why,
    )
    from optiform.brief import Brief, brief_from, load_brief, starter_brief
    from optiform.families import Family, FamilyPlan, load_family
    from optiform.families.plan_questions import Making
    from optiform.faults import BadInput, Fault, InternalError
    from optiform.library import Library, Material, Substance, Trust, load_library
    from optiform.library.formulas import TypedFormula, read_formula
    from optiform.sheets import Plan, Sheet, Shopping, Unit, load_plan, load_unit
    from optiform.version import __version__

__all__ = [
    "Acidity",
    "Addition",
    "Answer",
    "BadInput",
    "Bench",
    "Binding",
    "Brief",
    "Broken",
    "Change",
    "Changes",
    "Conflict",
    "Dose",
    "Family",
    "FamilyPlan",
    "Fault",
    "Figure",
    "Formula",
    "Ingredient",
    "InternalError",
    "Learned",
    "Leave",
    "Library",
    "Line",
    "LotCorrection",
    "Making",
    "Material",
    "NextTrial",
    "Plan",
    "Planned",
    "Recosted",
    "Relaxation",
    "Sheet",
    "Shopping",
    "Substance",
    "Swap",
    "Takeover",
    "TradeOff",
    "TrialAdded",
    "TrialList",
    "Trust",
    "TypedFormula",
    "Unit",
    "Why",
    "Wish",
    "__version__",
    "add_record",
    "add_trial",
    "batch_records",
    "bench",
    "brief_from",
    "check",
    "design",
    "diagnose",
    "evaluate",
    "family",
    "learn",
    "list_trials",
    "load_brief",
    "load_family",
    "load_library",
    "load_plan",
    "load_unit",
    "lot",
    "next_trial",
    "plan_trials",
    "read_formula",
    "recost",
    "reformulate",
    "sheet",
    "shop",
    "starter_brief",
    "swap",
    "tradeoff",
    "weigh",
    "why",
]

_ROOMS = {
    "optiform.answers.bench.lot_correction": ("LotCorrection",),
    "optiform.answers.bench.readings": ("Addition", "Bench"),
    "optiform.answers.bench.swapping": ("Swap",),
    "optiform.answers.doctor": ("diagnose",),
    "optiform.answers.model.answer": ("Answer", "Leave", "Wish"),
    "optiform.answers.model.changes": ("Changes",),
    "optiform.answers.model.conflict": ("Change", "Conflict", "Relaxation"),
    "optiform.answers.model.acidity": ("Acidity", "Dose"),
    "optiform.answers.model.formula": (
        "Binding", "Broken", "Figure", "Formula", "Ingredient", "Line",
    ),
    "optiform.answers.model.why": ("Takeover", "Why"),
    "optiform.answers.recost.one": ("Recosted",),
    "optiform.answers.tradeoff": ("TradeOff",),
    "optiform.answers.trials.model": ("Learned", "TrialAdded", "TrialList"),
    "optiform.answers.trials.planned": ("NextTrial", "Planned"),
    "optiform.api": (
        "add_record", "add_trial", "batch_records", "bench", "check", "design", "evaluate", "family", "learn",
        "list_trials", "lot", "next_trial", "plan_trials", "recost", "reformulate", "sheet", "shop", "swap", "tradeoff",
        "weigh", "why",
    ),
    "optiform.brief": ("Brief", "brief_from", "load_brief", "starter_brief"),
    "optiform.families": ("Family", "FamilyPlan", "load_family"),
    "optiform.families.plan_questions": ("Making",),
    "optiform.faults": ("BadInput", "Fault", "InternalError"),
    "optiform.library": ("Library", "Material", "Substance", "Trust", "load_library"),
    "optiform.library.formulas": ("TypedFormula", "read_formula"),
    "optiform.version": ("__version__",),
    "optiform.sheets": ("Plan", "Sheet", "Shopping", "Unit", "load_plan", "load_unit"),
}  # fmt: skip
_ROOM_OF = {name: room for room, names in _ROOMS.items() for name in names}


if not TYPE_CHECKING:  # a type checker sees the names above, and no others

    def __getattr__(name: str) -> object:
        """Import a public name when it is first asked for."""
        if name in _ROOM_OF:
            value = getattr(import_module(_ROOM_OF[name]), name)
        else:
            raise AttributeError(f"module 'optiform' has no attribute '{name}'")
        globals()[name] = value
        return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
