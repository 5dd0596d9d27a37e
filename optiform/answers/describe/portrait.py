"""What the pictures of a formula show, as plain numbers: what it is made of, what costs, what is harsh, its pH."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from optiform.answers.describe.slack import slack
from optiform.measures.acidity import charge_curves

if TYPE_CHECKING:
    from optiform.answers.model.answer import Answer, Conflict, Figure, Formula, Slack
    from optiform.brief.models import Brief
    from optiform.library.arrays import Floats
    from optiform.library.models import Library

POINTS = 61
"""Points of a pH curve."""

AROUND = 1.5
"""How far a curve without a single acid or base reaches beyond what matters, pH units."""

LOWEST, HIGHEST = 2.0, 12.0
NOT_SHARED = frozenset({"cost", "mildness", "irritation load", "pH", "ingredients", "viscosity"})
"""Measures whose parts have a picture of their own, or are no parts of a whole."""


@dataclass(frozen=True)
class Portion:
    """One part of a whole.

    Attributes
    ----------
    value : float
        In the unit of the whole.
    share : float  [%]
        Of the whole.
    """

    name: str
    value: float
    share: float


@dataclass(frozen=True)
class Function:
    """What the materials of one function amount to [% w/w], the largest first."""

    name: str
    percent: float
    materials: tuple[Portion, ...]


@dataclass(frozen=True)
class Harshness:
    """What one material takes from the mildness.

    Attributes
    ----------
    active : float  [% w/w]
        Active matter that it brings.
    share : float  [% of active matter]
    index : float
        Mildness of what it brings, 0 to 100.
    lost : float  [points]
        What it takes away: over all materials these add up to 100 - mildness.
    """

    name: str
    active: float
    share: float
    index: float
    lost: float


@dataclass(frozen=True)
class Brought:
    """Who brings how much of one measure, the largest part first."""

    measure: str
    unit: str
    digits: int
    total: float
    parts: tuple[Portion, ...]


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


@dataclass(frozen=True)
class Portrait:
    """One formula in the numbers that its pictures show."""

    functions: tuple[Function, ...]
    costs: tuple[Portion, ...]
    harshness: tuple[Harshness, ...]
    brought: tuple[Brought, ...]
    curve: Curve | None


def portrait(answer: Answer, formula: Formula) -> Portrait:
    """Return what the pictures of a formula show.

    Parameters
    ----------
    answer : Answer
        Whose brief, and with it the library, the pH curve needs; without a brief there is no curve.
    formula : Formula
        One of the answer's.
    """
    return Portrait(
        functions=functions_of(formula),
        costs=costs_of(formula),
        harshness=harshness_of(formula),
        brought=brought_of(formula),
        curve=None if answer.brief is None else curve_of(answer.brief, formula),
    )


def functions_of(formula: Formula) -> tuple[Function, ...]:
    """Return the amounts by function: water first, then the largest first."""
    groups: dict[str, list[Portion]] = {}
    for line in sorted(formula.lines, key=lambda line: (-line.percent, line.material)):
        groups.setdefault(line.function, []).append(Portion(line.name, line.percent, line.percent))
    found = [
        Function(name, float(sum(part.value for part in parts)), tuple(parts))
        for name, parts in groups.items()
    ]
    return tuple(sorted(found, key=lambda group: (group.name != "water", -group.percent, group.name)))


def costs_of(formula: Formula) -> tuple[Portion, ...]:
    """Return what each material costs [currency per kg of formula] and its share, the dearest first."""
    whole = sum(line.cost for line in formula.lines)
    lines = sorted(formula.lines, key=lambda line: (-line.cost, line.material))
    return tuple(Portion(line.name, line.cost, _share(line.cost, whole)) for line in lines)


def harshness_of(formula: Formula) -> tuple[Harshness, ...]:
    """Return what each material takes from the mildness, the harshest first; empty where none is known.

    A material of active matter a and index m loses a * (100 - m) / (all active matter) points.
    """
    load, active = _figure(formula, "irritation load"), _figure(formula, "active matter")
    if load is None or active is None or not load.value or not active.value:
        return ()
    names = _names(formula)
    burden = dict(load.parts)
    found = [
        Harshness(
            name=names[material],
            active=part,
            share=100.0 * part / active.value,
            index=100.0 - burden.get(material, 0.0) / part,
            lost=burden.get(material, 0.0) / active.value,
        )
        for material, part in active.parts
        if part > 0
    ]
    return tuple(sorted(found, key=lambda item: (-item.lost, item.name)))


def brought_of(formula: Formula) -> tuple[Brought, ...]:
    """Return who brings how much of every measure that is a sum over materials and that somebody limits."""
    names = _names(formula)
    found = []
    for figure in formula.figures:
        limited = figure.at_least is not None or figure.at_most is not None
        wanted = limited or figure.measure in ("active matter", "electrolyte")
        if figure.measure in NOT_SHARED or not wanted or not figure.value or not figure.parts:
            continue
        whole = sum(part for _, part in figure.parts)
        parts = tuple(Portion(names[material], part, _share(part, whole)) for material, part in figure.parts)
        found.append(Brought(figure.measure, figure.unit, figure.digits, figure.value, parts))
    return tuple(found)


def reachable_of(conflict: Conflict) -> tuple[Slack, ...]:
    """Return how far each colliding wish can be met while the others hold, as rows of slack."""
    return tuple(
        slack((requirement,), value)
        for requirement, value in conflict.best_reachable
        if requirement.bound is not None and requirement.side is not None and np.isfinite(value)
    )


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
    from dataclasses import replace

    target = brief.targets.get("pH")
    system = next((item for item in brief.library.systems if item.name == formula.system), None)
    return replace(
        curve,
        window=(None, None) if target is None else (target.at_least, target.at_most),
        works=(None, None) if system is None else system.working_pH,
        system=formula.system,
    )


def _figure(formula: Formula, measure: str) -> Figure | None:
    return next((figure for figure in formula.figures if figure.measure == measure), None)


def _names(formula: Formula) -> dict[str, str]:
    return {line.material: line.name for line in formula.lines}


def _share(part: float, whole: float) -> float:
    return 100.0 * part / whole if whole else 0.0
