"""Turns what was added to a trial into percent, and a measured pH into the free alkali of a material."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optiform.answers.evaluate.typed_formula import evaluate
from optiform.answers.model.answer import Formula
from optiform.brief.models import Brief
from optiform.faults import Faults, nearest
from optiform.library.formulas import TypedFormula
from optiform.library.likely import with_reading
from optiform.library.models import GRAMS, LEAST_GRAMS, MOST_GRAMS, Library
from optiform.library.typed.matching import told_matches
from optiform.measures.acidity import charge_curves
from optiform.showing import Showing
from optiform.tolerances import ROUNDING

LARGEST_FREE_ALKALI = 500.0
ROUNDS = 20


@dataclass(frozen=True)
class Addition:
    """Something added at the bench.

    Attributes
    ----------
    grams : float  [g]
        As weighed: of the material, or of its solution.
    strength : float  [% w/w]
        100 for the material itself; less for a solution of it in water.
    """

    material: str
    grams: float
    strength: float = 100.0


@dataclass(frozen=True)
class FreeAlkali:
    """The free alkali of one material before and after a measured pH [mmol per kg of material]."""

    material: str
    before: float
    after: float


@dataclass(frozen=True, repr=False)
class Bench(Showing):
    """What a trial taught.

    Attributes
    ----------
    formula : TypedFormula
        What is in the vessel now, in % w/w.
    batch_g : float, optional  [g]
        Its mass now.
    planned, now : Formula
        As written, and as it is now, by the library as it was.
    pH : float, optional
        Measured.
    free_alkali : tuple of FreeAlkali
        What the measured pH changes in the library.
    library : Library
        With those changes: whatever is designed from it doses by the bench.
    corrected : Formula, optional
        What is in the vessel now, by the library as it is now.
    """

    formula: TypedFormula
    batch_g: float | None
    planned: Formula
    now: Formula
    library: Library
    pH: float | None = None
    free_alkali: tuple[FreeAlkali, ...] = ()
    corrected: Formula | None = None


def bench(
    formula: TypedFormula,
    library: Library,
    *,
    batch_g: float | None = None,
    additions: Sequence[Addition] = (),
    pH: float | None = None,
    material: str | None = None,
    brief: Brief | None = None,
) -> Bench:
    """Return what a trial taught about a formula and its materials; parameters are those of `optiform.bench`.

    Raises
    ------
    BadInput
        If a material is unknown, an amount is not above 0, the batch size lacks, or no sensible amount
        of alkali explains the pH.
    """
    size = batch_g if batch_g is not None else formula.grams
    faults = Faults(formula.file)
    if size is not None:
        _check_batch(size, faults)
    faults.raise_if_any()
    now = add_back(formula, library, size, additions) if additions else formula
    total = None if size is None else size + math.fsum(item.grams for item in additions)
    judged = evaluate(now, library, brief).formulas[0]
    taught, changed = (library, ()) if pH is None else with_measured_pH(now, library, pH, material)
    asked = None if brief is None else brief.model_copy(update={"library": taught})
    return Bench(
        formula=now,
        batch_g=total,
        planned=evaluate(formula, library, brief).formulas[0],
        now=judged,
        library=taught,
        pH=pH,
        free_alkali=changed,
        corrected=None if pH is None else evaluate(now, taught, asked).formulas[0],
    )


def add_back(
    formula: TypedFormula, library: Library, batch_g: float | None, additions: Sequence[Addition]
) -> TypedFormula:
    """Return a formula in % w/w after something was added to a batch of it.

    Parameters
    ----------
    batch_g : float  [g]
        Mass before the additions.

    Raises
    ------
    BadInput
        With every fault of the additions.
    """
    faults = Faults(formula.file)
    if batch_g is None:
        faults.add("batch", "how much was made is not known", allowed=GRAMS)
    else:
        _check_batch(batch_g, faults)
    for item in additions:
        if item.material not in library.material:
            near = nearest(item.material, library.material)
            faults.add("added", f"there is no material '{item.material}' in the library", nearest=near)
        if not 0 < item.grams <= MOST_GRAMS:
            faults.add(f"added {item.material}", f"{item.grams:g} g were added", allowed=GRAMS)
        if not 0 < item.strength <= 100:
            message = f"{item.strength:g} % is no strength"
            faults.add(f"added {item.material}", message, allowed="above 0, at most 100 %")
    faults.raise_if_any()
    assert batch_g is not None
    grams = {name: percent * batch_g / 100.0 for name, percent in formula.lines}
    for item in additions:
        solute = item.grams * item.strength / 100.0
        grams[item.material] = grams.get(item.material, 0.0) + solute
        if item.strength < 100.0:
            water = library.water.id
            grams[water] = grams.get(water, 0.0) + item.grams - solute
    total = batch_g * formula.total / 100.0 + math.fsum(item.grams for item in additions)
    scale = formula.total / total
    lines = tuple((name, mass * scale) for name, mass in grams.items())
    return replace(
        formula, lines=lines, total=formula.total, grams=total, notes=told_matches(formula.matched)
    )


def _check_batch(batch_g: float, faults: Faults) -> None:
    if not LEAST_GRAMS <= batch_g <= MOST_GRAMS:
        faults.add("batch", f"{batch_g:g} g were made", allowed=GRAMS)


def with_measured_pH(
    formula: TypedFormula, library: Library, pH: float, material: str | None = None
) -> tuple[Library, tuple[FreeAlkali, ...]]:
    """Return the library in which a formula has the pH that was measured, and what changed.

    Parameters
    ----------
    formula : TypedFormula
        What is in the vessel.
    material : str, optional
        The one whose free alkali is at fault; by default every surfactant by the same amount, or, where
        there is none, everything but water, acids and bases.

    Raises
    ------
    BadInput
        If no pH can be computed, the material is not there or has a titration curve of its own, or more
        than `LARGEST_FREE_ALKALI` would be needed.

    Notes
    -----
    Free alkali closes the charge balance at the measured pH. It stands for everything that typical data
    miss; without a buffer near that pH it is a small number with a large effect.
    """
    amounts = library.arrays.amounts(formula.lines)
    carriers = _carriers(formula, library, amounts, pH, material)
    mass = float(sum(amounts[library.arrays.material_index[name]] for name in carriers))
    shift, taught = 0.0, library
    for _ in range(ROUNDS):
        curves = charge_curves(taught)
        settled = curves.settle(amounts)
        if settled is not None and abs(settled.pH - pH) < ROUNDING:
            break
        strength = 0.1 if settled is None else settled.ionic_strength
        shift -= 1000.0 * float(curves.at(pH, strength) @ amounts) / mass
        taught = _shifted(library, {name: library.material[name].free_alkali + shift for name in carriers})
    if abs(shift) > LARGEST_FREE_ALKALI:
        faults = Faults(formula.file)
        message = f"{pH:g} would need {shift:.0f} mmol/kg of free alkali beyond the composition"
        faults.add(
            "measured pH", message, allowed="a pH that the composition explains; look at the amounts first"
        )
        faults.raise_if_any()
    rounded = {name: round(library.material[name].free_alkali + shift, 6) for name in carriers}
    changed = tuple(
        FreeAlkali(name, library.material[name].free_alkali, value) for name, value in rounded.items()
    )
    return _shifted(library, rounded), changed


def _carriers(
    formula: TypedFormula, library: Library, amounts: np.ndarray, pH: float, material: str | None
) -> tuple[str, ...]:
    """Return the materials whose alkali a measured pH corrects, or everything wrong with the question."""
    faults = Faults(formula.file)
    curves = charge_curves(library)
    titrated = {library.materials[index].id for index, _ in curves.curves}
    used = [library.materials[i] for i in np.flatnonzero(amounts > 0)]
    if not 0.0 < pH < 14.0:
        faults.add("measured pH", f"{pH:g} is no pH", allowed="0 to 14")
    if float(curves.aqua @ amounts) <= 0:
        faults.add("measured pH", "a formula without water has no pH")
    free = [m.id for m in used if m.id not in titrated and m.function not in ("water", "acid", "base")]
    chosen = [m.id for m in used if m.function == "surfactant" and m.id in free] or free
    if material is not None:
        chosen = [material]
        if material not in {m.id for m in used}:
            names = [m.id for m in used]
            message = f"the formula holds no '{material}'"
            faults.add("material", message, allowed=", ".join(names), nearest=nearest(material, names))
        elif material in titrated:
            faults.add("material", f"'{material}' has a titration curve, which its free alkali cannot correct",
                       allowed="a new titration, or another material")  # fmt: skip
    if not chosen:
        message = "nothing in the formula can carry free alkali"
        faults.add("measured pH", message, allowed="a surfactant, or another material")
    faults.raise_if_any()
    return tuple(chosen)


def _shifted(library: Library, free_alkali: Mapping[str, float]) -> Library:
    """Return the library with the free alkali of some materials changed, and no range but that of a reading."""
    materials = tuple(
        with_reading(item, free_alkali[item.id]) if item.id in free_alkali else item
        for item in library.materials
    )
    return library.model_copy(update={"materials": materials})
