"""Tells how the pH of a formula changes with added acid and base."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from optiform.answers.model.answer import Formula
from optiform.brief.models import Brief
from optiform.library.models import Library
from optiform.measures.acidity import charge_curves
from optiform.vectors import Floats

POINTS = 61
"""Points of a pH curve."""

AROUND = 1.5
"""How far a curve without a single acid or base reaches beyond what matters, pH units."""

LOWEST, HIGHEST = 2.0, 12.0


@dataclass(frozen=True)
class Curve:
    """The pH of a formula against what is added to it.

    Attributes
    ----------
    kind : str
        ``dose``: one acid or base of the formula is dosed from nothing, water making room [% w/w];
        every point is a full charge balance. ``strong``: a strong acid (positive) or base (negative)
        is added to the finished formula [meq per 100 g], at the formula's own ionic strength.
    added : str
        What is added.
    points : tuple of (amount, pH)
        In order of the amount.
    formula : (amount, pH)
        The formula itself.
    natural_pH : float, optional
        Without the acids and bases that only set the pH.
    window : (low, high)
        What the brief asks for; either end may be open.
    works : (low, high)
        Where the preservative system works; either end may be open.
    ready : (low, high), optional  [% w/w]
        The dose to have ready at the bench.
    """

    kind: Literal["dose", "strong"]
    added: str
    unit: str
    points: tuple[tuple[float, float], ...]
    formula: tuple[float, float]
    natural_pH: float | None
    window: tuple[float | None, float | None] = (None, None)
    works: tuple[float | None, float | None] = (None, None)
    system: str | None = None
    ready: tuple[float, float] | None = None


def curve_of(brief: Brief, formula: Formula) -> Curve | None:
    """Return the pH curve of a formula, or None where no pH can be told."""
    if formula.acidity is None:
        return None
    library = brief.library
    amounts = library.arrays.amounts((line.material, line.percent) for line in formula.lines)
    setters = [line for line in formula.lines if line.function in ("acid", "base")]
    found = _dosed(library, formula, amounts, setters[0].material) if len(setters) == 1 else None
    found = found or _strong(library, brief, formula, amounts)
    return None if found is None or len(found.points) < 3 else _framed(found, brief, formula)


def _dosed(library: Library, formula: Formula, amounts: Floats, material: str) -> Curve | None:
    """Return the pH while the one acid or base is dosed from nothing to twice its amount."""
    index, water = (library.arrays.material_index[m] for m in (material, library.water.id))
    dose, room = float(amounts[index]), float(amounts[index] + amounts[water])
    if dose <= 0 or formula.acidity is None:
        return None
    grid = np.union1d(np.linspace(0.0, min(2.0 * dose, room), POINTS), [dose])
    points = []
    for amount in grid:
        trial = amounts.copy()
        trial[index], trial[water] = amount, room - amount
        settled = charge_curves(library).settle(trial)
        if settled is not None:
            points.append((float(amount), float(settled.pH)))
    ready = next(((d.low, d.high) for d in formula.acidity.doses if d.material == material), None)
    return Curve(
        kind="dose",
        added=library.material[material].name,
        unit="% w/w",
        points=tuple(points),
        formula=(dose, formula.acidity.pH),
        natural_pH=formula.acidity.undosed_pH,
        ready=ready,
    )


def _strong(library: Library, brief: Brief, formula: Formula, amounts: Floats) -> Curve | None:
    """Return the pH while a strong acid or base is added to the finished formula."""
    if formula.acidity is None:
        return None
    target = brief.targets.get("pH")
    wanted = () if target is None else (target.at_least, target.at_most)
    marks = [pH for pH in (formula.acidity.pH, formula.acidity.undosed_pH, *wanted) if pH is not None]
    low, high = max(LOWEST, min(marks) - AROUND), min(HIGHEST, max(marks) + AROUND)
    curves, strength = charge_curves(library), formula.acidity.ionic_strength
    here = float(curves.at(formula.acidity.pH, strength) @ amounts)
    points = tuple(
        (float(curves.at(float(pH), strength) @ amounts) - here, float(pH))
        for pH in np.linspace(high, low, POINTS)
    )
    return Curve(
        kind="strong",
        added="strong acid (below 0: strong base)",
        unit="meq per 100 g",
        points=points,
        formula=(0.0, formula.acidity.pH),
        natural_pH=formula.acidity.undosed_pH,
    )


def _framed(curve: Curve, brief: Brief, formula: Formula) -> Curve:
    """Return a curve with the window of the brief and that of the preservative system."""
    target = brief.targets.get("pH")
    system = next((item for item in brief.library.systems if item.name == formula.system), None)
    return replace(
        curve,
        window=(None, None) if target is None else (target.at_least, target.at_most),
        works=(None, None) if system is None else system.working_pH,
        system=formula.system,
    )
