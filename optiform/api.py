"""The questions as functions: a file or a value goes in, a frozen answer comes out.

Wherever a brief, a library or a formula is meant, a path will do, and so will what another question returned.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from optiform.answers.model.answer import Answer
from optiform.answers.model.formula import Formula
from optiform.brief import Brief, load_brief
from optiform.faults import BadInput, Fault, Faults
from optiform.library import Library, load_library
from optiform.library.checking.names import Names
from optiform.library.files.columns import shortened
from optiform.library.formulas import TypedFormula, read_formula
from optiform.library.models import MOST

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from typing import Literal

    from optiform.answers.bench.lot_correction import LotCorrection
    from optiform.answers.bench.readings import Addition, Bench
    from optiform.answers.recost.one import Recosted
    from optiform.answers.tradeoff import TradeOff
    from optiform.sheets import Plan, Sheet, Shopping, Unit
    from optiform.solver import Progress

    File = str | Path
    AnyBrief = File | Brief
    AnyLibrary = File | Library
    AnyFormula = File | TypedFormula | Formula | Mapping[str, float]
    Mass = float | str


def design(
    brief: AnyBrief, *, seconds: float | None = None, in_full: bool = False, progress: Progress | None = None
) -> Answer:
    """Rank the best formulas of a brief, proven and explained; or say why there is none.

    Parameters
    ----------
    brief : path or Brief
    seconds : float, optional
        Time after which the best so far is returned, labelled unproven.
    in_full : bool
        Also tell what each wish costs when the whole formula may change, and which materials the
        first formula could do without.
    progress : callable, optional
        Told one short line at each step of long work.

    Raises
    ------
    BadInput
        With every fault of the brief and its library.
    """
    from optiform.answers.design.formulas import design as ask

    return _homed(ask(_brief(brief), seconds=seconds, in_full=in_full, progress=progress))


def check(brief: AnyBrief, *, seconds: float | None = None) -> Answer:
    """Tell whether a brief can be met: one formula that meets it, or the wishes that collide.

    Parameters
    ----------
    brief : path or Brief
    seconds : float, optional
        Time after which the best so far is returned, labelled unproven.

    Raises
    ------
    BadInput
        With every fault of the brief and its library.
    """
    from optiform.answers.check.feasibility import check as ask

    return _homed(ask(_brief(brief), seconds=seconds))


def why(brief: AnyBrief, material: str, *, seconds: float | None = None) -> Answer:
    """Tell why a material is in the best formula, or what keeps it out and what it would cost.

    Parameters
    ----------
    brief : path or Brief
    material : str
        Its id.
    seconds : float, optional
        Time after which what is known is returned, labelled unproven.

    Raises
    ------
    BadInput
        With every fault of the brief, or where no material has this id.
    """
    from optiform.answers.price.why import why as ask

    return _homed(ask(_brief(brief), material, seconds=seconds))


def evaluate(
    formula: AnyFormula, *, brief: AnyBrief | None = None, library: AnyLibrary | None = None
) -> Answer:
    """Measure a formula and list every rule, law and wish that it breaks.

    Parameters
    ----------
    formula : path, mapping, TypedFormula or Formula
        A mapping has % w/w by material id.
    brief : path or Brief, optional
        Held against the formula as well; it names its own library.
    library : path or Library, optional
        The starter library by default.

    Raises
    ------
    BadInput
        With every fault of the files.
    """
    from optiform.answers.evaluate.typed_formula import evaluate as ask

    held, asked = _ground(formula, brief, library)
    answer = ask(_formula(formula, held), held, asked)
    return _homed(answer, asked or Brief(title=answer.title, library=held))


def reformulate(
    start: AnyBrief | AnyFormula,
    *,
    aim: str | None = None,
    library: AnyLibrary | None = None,
    seconds: float | None = None,
    progress: Progress | None = None,
) -> Answer:
    """Make a formula cheaper, gentler or free of a thing, and tell every difference.

    Parameters
    ----------
    start : path, Brief, mapping, TypedFormula or Formula
        A brief with a `[baseline]`; or, with `aim`, a formula.
    aim : str, optional
        Only with a formula: ``cheaper``, ``gentler`` or ``without:`` a tag, a material or an INCI name.
    library : path or Library, optional
        Only with a formula: what it draws on, the starter library by default.
    seconds : float, optional
        Time after which the best so far is returned, labelled unproven.
    progress : callable, optional
        Told one short line at each step of long work.

    Raises
    ------
    BadInput
        With every fault of the files, or a brief without a baseline.
    """
    from optiform.answers.rework.reformulation import reformulate as ask

    asked = _brief(start) if aim is None else _rework(start, aim, library)
    return _homed(ask(asked, seconds=seconds, progress=progress))


def tradeoff(
    brief: AnyBrief,
    of: str = "cost",
    against: str = "mildness",
    *,
    third: tuple[str, Sequence[float]] | None = None,
    seconds: float | None = None,
    progress: Progress | None = None,
) -> TradeOff:
    """Return the whole curve of one measure against another, exact and proven.

    Parameters
    ----------
    brief : path or Brief
        Its own limits on the two measures are let go.
    of, against : str
        What is improved, and what is bounded.
    third : (str, sequence of float), optional
        A third measure and its values: a curve for each.
    seconds : float, optional
        Time after which the part of the curve that is proven is returned.
    progress : callable, optional
        Told one short line at each step of long work.

    Raises
    ------
    BadInput
        With every fault of the brief, or a measure that has no name here.
    """
    from optiform.answers.tradeoff import tradeoff as ask

    chosen = None if third is None else (third[0], list(third[1]))
    return ask(_brief(brief), of, against, third=chosen, seconds=seconds, progress=progress)


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

    held, asked = _ground(formula, brief, library)
    weighing = Weighing(batch_g=_grams(batch), balance_g=balance_g)
    answer = weigh_formula(_formula(formula, held), held, weighing, asked)
    return _homed(answer, asked or Brief(title=answer.title, library=held))


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
        Which substance it states; the active matter by default.
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

    held, asked = _ground(formula, brief, library)
    size = None if batch is None else _grams(batch)
    typed = _formula(formula, held)
    return correct_lot(typed, held, material, active, substance=substance, brief=asked, batch_g=size)


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
        Grams, or a mass such as ``"2 kg"``, before anything was added.
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

    held, asked = _ground(formula, brief, library)
    size = None if batch is None else _grams(batch)
    typed = _formula(formula, held)
    return ask(typed, held, batch_g=size, additions=additions, pH=pH, material=material, brief=asked)


def sheet(
    formula: AnyFormula,
    batch: Mass,
    *,
    unit: File | Unit | None = None,
    parts: Collection[Literal["batch", "label", "cost", "shopping"]] | None = None,
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

    held, asked = _ground(formula, brief, library)
    sold = sheets.load_unit(unit) if isinstance(unit, str | Path) else unit
    return sheets.make_sheet(
        _formula(formula, held),
        held,
        _grams(batch),
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
        plan = sheets.load_plan(plan, None if library is None else _library(library))
    return plan.shopping(Clock.of(seconds))


def recost(
    folder: File,
    prices: File,
    *,
    library: File | None = None,
    workers: int = 1,
    journal: File | None = None,
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

    Raises
    ------
    BadInput
        If the folder, the price list or the journal cannot be used; one bad product never stops the rest.
    """
    from optiform.answers.recost.run import recost as ask

    return ask(folder, prices, library=library, workers=workers, journal=journal)


def _brief(brief: AnyBrief | AnyFormula) -> Brief:
    if isinstance(brief, Brief):
        return brief
    if isinstance(brief, str | Path):
        return load_brief(brief)
    allowed = 'a brief, or a formula with an aim such as "cheaper"'
    raise BadInput([Fault("", "brief", f"a {type(brief).__name__} is no brief", allowed)])


def _library(library: AnyLibrary | None) -> Library:
    return library if isinstance(library, Library) else load_library(library)


def _ground(
    formula: AnyFormula, brief: AnyBrief | None, library: AnyLibrary | None
) -> tuple[Library, Brief | None]:
    """Return the library that a formula draws on, and the brief to hold it against.

    A formula of an answer brings both along, unless others are named.
    """
    if brief is not None and library is not None:
        raise BadInput([Fault("", "library", "a brief names its own library", "a brief or a library")])
    if brief is not None:
        asked = _brief(brief)
        return asked.library, asked
    if library is None and isinstance(formula, Formula) and formula.brief is not None:
        return formula.brief.library, formula.brief
    return _library(library), None


def _formula(formula: AnyFormula, library: Library) -> TypedFormula:
    """Return a formula in % w/w of a library's materials."""
    if isinstance(formula, TypedFormula):
        return formula
    if isinstance(formula, str | Path):
        return read_formula(formula, library)
    if isinstance(formula, Formula):
        name = formula.brief.title if formula.brief is not None else f"Formula {formula.rank}"
        lines = tuple((line.material, line.percent) for line in formula.lines)
        return TypedFormula(name, lines, math.fsum(percent for _, percent in lines))
    return _from_amounts(formula, library)


def _from_amounts(amounts: Mapping[str, float], library: Library) -> TypedFormula:
    """Return a formula given as % w/w by material id."""
    faults, known = Faults(), Names(library.material)
    for material, percent in amounts.items():
        if material not in known:
            message = f"there is no material '{shortened(material)}' in the library"
            faults.add("formula", message, nearest=known.nearest(material))
        if not 0 <= percent <= MOST:
            faults.add(
                f"formula, {shortened(material)}", f"{percent:g} %", allowed=f"a number from 0 to {MOST:g}"
            )
    faults.raise_if_any()
    return TypedFormula("", tuple(amounts.items()), math.fsum(amounts.values()))


def _rework(start: AnyBrief | AnyFormula, aim: str, library: AnyLibrary | None) -> Brief:
    """Return the brief for changing a formula towards an aim."""
    from optiform.brief import brief_from, reformulation_brief

    if isinstance(start, Brief):
        raise BadInput([Fault(start.file, "aim", "a brief states its own", "a formula, or no aim")])
    held, _ = _ground(start, None, library)
    typed = _formula(start, held)
    return brief_from(reformulation_brief(typed, held, aim, typed.name or "today"), held, baseline=typed)


def _grams(mass: Mass) -> float:
    """Return grams; a number is grams, a text says its unit."""
    from optiform.sheets import read_mass

    return read_mass(mass, "batch") if isinstance(mass, str) else float(mass)


def _homed(answer: Answer, brief: Brief | None = None) -> Answer:
    """Return an answer whose formulas know the brief that they were made for."""
    home = brief or answer.brief
    return replace(answer, formulas=tuple(replace(formula, brief=home) for formula in answer.formulas))
