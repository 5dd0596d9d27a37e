"""The questions about making a formula: weighing, lots, readings, sheets, buying, families, new prices."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from optiform.answers.bench.lot_correction import LotCorrection
from optiform.answers.bench.readings import Addition, Bench
from optiform.answers.bench.swapping import Swap
from optiform.answers.model.answer import Answer
from optiform.answers.recost.one import Recosted
from optiform.api.given import (
    AnyBrief,
    AnyFormula,
    AnyLibrary,
    File,
    Mass,
    at_home,
    formula_of,
    grams_of,
    ground_of,
    library_of,
)
from optiform.families import Family, FamilyPlan
from optiform.sheets import Plan, Sheet, Shopping, Unit
from optiform.solver import Progress

if TYPE_CHECKING:
    from optiform.families.plan_questions import Making


def weigh(
    formula: AnyFormula,
    batch: Mass,
    *,
    balance_g: float = 0.01,
    brief: AnyBrief | None = None,
    library: AnyLibrary | None = None,
) -> Answer:
    """Find the grams of a batch that a balance can weigh, everything held again on them.

    Parameters
    ----------
    formula : path, mapping, TypedFormula or Formula
    batch : float or str
        Grams, or a mass such as ``"2 kg"``.
    balance_g : float  [g]
        What the balance can show.
    brief : path or Brief, optional
        Held as well.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        With every fault of the files, or a total off 100.
    """
    from optiform.answers.weigh.typed_formula import weigh_formula
    from optiform.brief.models import Weighing

    held, asked = ground_of(formula, brief, library)
    weighing = Weighing(batch_g=grams_of(batch), balance_g=grams_of(balance_g, "balance_g"))
    return at_home(weigh_formula(formula_of(formula, held), held, weighing, asked), asked)


def lot(
    formula: AnyFormula,
    material: str,
    active: float,
    *,
    substance: str | None = None,
    batch: Mass | None = None,
    brief: AnyBrief | None = None,
    library: AnyLibrary | None = None,
) -> LotCorrection:
    """Correct a formula for a lot by its certificate, water making room.

    Parameters
    ----------
    formula : path, mapping, TypedFormula or Formula
    material : str
        Whose lot differs.
    active : float  [% w/w]
        What the certificate states.
    substance : str, optional
        Which substance it states; the active matter of a surfactant, or the only one besides water, by default.
    batch : float or str, optional
        Grams, or a mass such as ``"2 kg"``.
    brief : path or Brief, optional
        Held as well.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        With every fault of the files, an impossible strength, or too little water.
    """
    from optiform.answers.bench.lot_correction import correct_lot

    held, asked = ground_of(formula, brief, library)
    size = None if batch is None else grams_of(batch)
    typed = formula_of(formula, held)
    return correct_lot(typed, held, material, active, substance=substance, brief=asked, batch_g=size)


def swap(
    formula: AnyFormula,
    old: str,
    new: str,
    *,
    substance: str | None = None,
    brief: AnyBrief | None = None,
    library: AnyLibrary | None = None,
) -> Swap:
    """Put another grade of one substance into a formula: amount, pH dose and water follow, all else stays.

    Parameters
    ----------
    formula : path, mapping, TypedFormula or Formula
    old, new : str
        Ids, names or INCI names of the two materials.
    substance : str, optional
        INCI name of what stands in the same amount; what both are by default.
    brief : path or Brief, optional
        Held as well.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        With every fault of the files, names that mean no material or several, different substances, too little water.
    """
    from optiform.answers.bench.swapping import swap as ask

    held, asked = ground_of(formula, brief, library)
    return ask(formula_of(formula, held), held, old, new, substance=substance, brief=asked)


def bench(
    formula: AnyFormula,
    *,
    batch: Mass | None = None,
    additions: Sequence[Addition] = (),
    pH: float | None = None,
    material: str | None = None,
    brief: AnyBrief | None = None,
    library: AnyLibrary | None = None,
) -> Bench:
    """Learn from a trial: what was added, and the measured pH.

    Parameters
    ----------
    formula : path, mapping, TypedFormula or Formula
        As it was weighed.
    batch : float or str, optional
        Grams, or a mass such as ``"2 kg"``, before anything was added; the grams of the file by default.
    additions : sequence of Addition
    pH : float, optional
        Measured after the additions.
    material : str, optional
        Whose alkali the pH corrects; the surfactants' by default.
    brief : path or Brief, optional
        Held as well.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        With every fault of the files, or where no sensible amount of alkali explains the pH.
    """
    from optiform.answers.bench.readings import bench as ask

    held, asked = ground_of(formula, brief, library)
    size = None if batch is None else grams_of(batch)
    typed = formula_of(formula, held)
    return ask(typed, held, batch_g=size, additions=additions, pH=pH, material=material, brief=asked)


def sheet(
    formula: AnyFormula,
    batch: Mass,
    *,
    unit: File | Unit | None = None,
    parts: Collection[Literal["card", "batch", "label", "cost", "shopping"]] | None = None,
    brief: AnyBrief | None = None,
    library: AnyLibrary | None = None,
) -> Sheet:
    """Write batch record, label, unit cost and shopping list of a formula.

    Parameters
    ----------
    formula : path, mapping, TypedFormula or Formula
        A formula of an answer brings its brief along.
    batch : float or str
        Grams, or a mass such as ``"2 kg"``.
    unit : path or Unit, optional
        What one sold unit holds and costs besides; without it there is no cost sheet.
    parts : collection of str, optional
        All by default.
    brief : path or Brief, optional
        Its targets, law and balance count.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        With every fault of the files, or a total off 100.
    """
    from optiform import sheets

    held, asked = ground_of(formula, brief, library)
    sold = sheets.load_unit(unit) if isinstance(unit, str | Path) else unit
    return sheets.make_sheet(
        formula_of(formula, held),
        held,
        grams_of(batch),
        brief=asked,
        unit=sold,
        unit_file=str(unit) if isinstance(unit, str | Path) else "",
        parts=sheets.PARTS if parts is None else parts,
    )


def shop(plan: File | Plan, *, library: AnyLibrary | None = None, seconds: float | None = None) -> Shopping:
    """Find the packs to buy for one or several products that share materials and stock.

    Parameters
    ----------
    plan : path or Plan
    library : path or Library, optional
        Stands in for the library that a plan file names.
    seconds : float, optional
        Time after which the best so far is returned, with its gap.

    Raises
    ------
    BadInput
        With every fault of the plan, its library and its formulas.
    """
    from optiform import sheets
    from optiform.solver import Clock

    if isinstance(plan, str | Path):
        plan = sheets.load_plan(plan, None if library is None else library_of(library))
    return plan.shopping(Clock.of(seconds))


def family(
    plan: File | FamilyPlan,
    *,
    curve: bool = False,
    seconds: float | None = None,
    progress: Progress | None = None,
) -> Family:
    """Design several products together on one shelf: their formulas, what to buy, and what sharing saves.

    Parameters
    ----------
    plan : path or FamilyPlan
    curve : bool
        Also find the least money for every number of materials.
    seconds : float, optional
        Time after which the best so far is returned, labelled unproven.
    progress : callable, optional
        Told one short line at each step of long work.

    Raises
    ------
    BadInput
        With every fault of the plan, its library and its briefs.
    """
    from optiform.families import load_family
    from optiform.families.plan_questions import ask_family

    read = load_family(plan) if isinstance(plan, str | Path) else plan
    return ask_family(read, seconds=seconds, whole_curve=curve, progress=progress)


def batch_records(found: Family, *, balance_g: float | None = None) -> Making:
    """Write the batch record of a family's shared base, and of each product that is finished from it.

    Parameters
    ----------
    found : Family
        Without a base each product has a record by itself.
    balance_g : float, optional  [g]
        What the balance can show; what the briefs say, or 0.01, by default.
    """
    from optiform.families.plan_questions import making_of

    return making_of(found, None if balance_g is None else grams_of(balance_g, "balance_g"))


def recost(
    folder: File,
    prices: File,
    *,
    library: File | None = None,
    workers: int = 1,
    journal: File | None = None,
    unit: File | Unit | None = None,
) -> tuple[Recosted, ...]:
    """Solve every brief and price every formula of a folder at new prices.

    Parameters
    ----------
    folder : path
        Briefs (TOML) and formulas (CSV), also in folders below.
    prices : path
        ``material,price``.
    library : path, optional
        What formulas draw on; the starter library by default.
    workers : int
        Processes on this machine; 1 works in this one. More run under ``if __name__ == "__main__":``.
    journal : path, optional
        Results are kept here as they come, and a run that was killed goes on from it.
    unit : path or Unit, optional
        What one sold unit holds: the costs in one are told as well.

    Raises
    ------
    BadInput
        If the folder, the price list or the journal cannot be used; one bad product never stops the rest.
    """
    from optiform import sheets
    from optiform.answers.recost.run import recosting

    sold = sheets.load_unit(unit) if isinstance(unit, str | Path) else unit
    grams = None if sold is None else sheets.grams_for_one(sold, str(unit) if sold is not unit else "")
    return recosting(folder, prices, library=library, workers=workers, journal=journal, unit_g=grams).products
