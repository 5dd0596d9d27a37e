"""Puts a material of another supplier or strength in the place of one, and tells only what changes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from optiform.answers.evaluate.typed_formula import evaluate
from optiform.answers.model.answer import Broken, Formula
from optiform.brief.models import Brief
from optiform.faults import BadInput, Fault, Faults
from optiform.library.formulas import TypedFormula
from optiform.library.models import Library
from optiform.library.typed.matching import dissolved, folded, matcher, told_matches
from optiform.measures.acidity import charge_curves
from optiform.showing import Showing
from optiform.tolerances import STANDSTILL, TOLERANCE
from optiform.vectors import Floats

ROUNDS = 30


@dataclass(frozen=True)
class Redosed:
    """The acid or base whose amount keeps the pH [% w/w]."""

    material: str
    name: str
    before: float
    after: float


@dataclass(frozen=True, repr=False)
class Swap(Showing):
    """A formula with one material in place of another.

    Attributes
    ----------
    formula : TypedFormula
        With the new material; every other command reads it.
    old, new, old_name, new_name : str
        Ids and names.
    what : str
        Of what the same amount stands: "active matter", or an INCI name.
    strength_before, strength_after : float  [% w/w]
        Of that in the old and in the new material.
    before, after : float  [% w/w]
        Of the old and of the new material in the formula; `after` counts what was there of it already.
    water_before, water_after : float  [% w/w]
    dose : Redosed, optional
        The acid or base of the formula that keeps today's pH; None where there is none or none is needed.
    planned, swapped : Formula
        The formula before and after.
    """

    formula: TypedFormula
    old: str
    new: str
    old_name: str
    new_name: str
    what: str
    strength_before: float
    strength_after: float
    before: float
    after: float
    water_before: float
    water_after: float
    planned: Formula
    swapped: Formula
    dose: Redosed | None = None

    @property
    def broken(self) -> tuple[Broken, ...]:
        """Return what only the new formula breaks."""
        return _only(self.swapped, self.planned)

    @property
    def mended(self) -> tuple[Broken, ...]:
        """Return what only the old formula broke."""
        return _only(self.planned, self.swapped)


def _only(formula: Formula, other: Formula) -> tuple[Broken, ...]:
    """Return what a formula breaks that another does not."""
    known = {item.requirement.key for item in other.breaks}
    return tuple(item for item in formula.breaks if item.requirement.key not in known)


def swap(
    formula: TypedFormula,
    library: Library,
    old: str,
    new: str,
    *,
    substance: str | None = None,
    brief: Brief | None = None,
) -> Swap:
    """Return a formula with another grade of one substance: its amount, the pH dose and the water follow.

    Parameters and faults are those of `optiform.swap`.

    Notes
    -----
    m(new) = m(old) * strength(old) / strength(new), as on every batch sheet. The first acid of the formula, or its
    first base, is dosed again so that the computed pH stays; its likely range may not.
    """
    old, new = _meant(formula, library, old, new)
    what, strength_before, strength_after = _shared(library, old, new, substance)
    before, water = formula.amounts, library.water.id
    lines = _replaced(before, old, new, before[old] * strength_before / strength_after, water)
    dose = _redosed(library, before, lines)
    changed = _changed(formula, lines, new, water)
    return Swap(
        formula=changed,
        old=old,
        new=new,
        old_name=library.material[old].name,
        new_name=library.material[new].name,
        what=what,
        strength_before=strength_before,
        strength_after=strength_after,
        before=before[old],
        after=lines[new],
        water_before=before.get(water, 0.0),
        water_after=lines[water],
        planned=evaluate(formula, library, brief).formulas[0],
        swapped=evaluate(changed, library, brief).formulas[0],
        dose=dose,
    )


def _changed(formula: TypedFormula, lines: dict[str, float], new: str, water: str) -> TypedFormula:
    """Return the formula with other lines.

    Raises
    ------
    BadInput
        Too little water to make room.
    """
    if lines[water] < 0:
        message = f"there is no water left to make room for {lines[new]:.4g} % of {new}"
        raise BadInput(
            [Fault(formula.file, water, message, "a formula with more water, or a stronger grade")]
        )
    return replace(
        formula,
        name=f"{formula.name}, with {new}",
        lines=tuple(lines.items()),
        total=math.fsum(lines.values()),
        grams=None,
        notes=told_matches(formula.matched),
    )


def _meant(formula: TypedFormula, library: Library, old: str, new: str) -> tuple[str, str]:
    """Return the ids of the material that the formula holds and of the one that takes its place."""
    faults, known = Faults(), matcher(library)
    old, new = known.one(old, "OLD", faults), known.one(new, "NEW", faults)
    faults.raise_if_any()
    if old == new:
        faults.add("NEW", f"OLD and NEW are both '{old}'", allowed="another grade of it")
    elif formula.amounts.get(old, 0.0) <= 0:
        message = f"the formula holds no '{old}'"
        faults.add("OLD", message, allowed=", ".join(formula.amounts), file=formula.file)
    faults.raise_if_any()
    return old, new


def _replaced(before: dict[str, float], old: str, new: str, added: float, water: str) -> dict[str, float]:
    """Return the lines with the new material where the old one stood; water takes the difference."""
    after = added + before.get(new, 0.0)
    rest = {name: percent for name, percent in before.items() if name != new}
    lines = {
        new if name == old else name: after if name == old else percent for name, percent in rest.items()
    }
    lines[water] = lines.get(water, 0.0) - (added - before[old])
    return lines


def _shared(library: Library, old: str, new: str, substance: str | None) -> tuple[str, float, float]:
    """Return of what the same amount is to stand, and its % w/w in the old and in the new material."""
    held = [{part.inci: part.percent for part in dissolved(library, name)} for name in (old, new)]
    if substance is not None:
        inci = next((name for name in held[0] if folded(name) == folded(substance)), "")
        if not inci or inci not in held[1]:
            both = [name for name in held[0] if name in held[1]]
            message = f"'{substance}' is not in both materials"
            allowed = ", ".join(both) or "two materials that share a substance"
            raise BadInput([Fault("", "--substance", message, allowed)])
        return inci, held[0][inci], held[1][inci]
    active = [
        {inci: percent for inci, percent in each.items() if library.substance[inci].charge_class is not None}
        for each in held
    ]
    washes = all(library.material[name].function == "surfactant" for name in (old, new))
    if washes and active[0] and active[0].keys() == active[1].keys():
        return "active matter", math.fsum(active[0].values()), math.fsum(active[1].values())
    first = [next(iter(each), "") for each in held]
    if first[0] != first[1]:
        message = f"{old} is mainly {first[0]}, {new} mainly {first[1]}: not the same substance"
        allowed = "two grades of one substance; --substance INCI for one that both hold"
        raise BadInput([Fault("", "NEW", message, allowed)])
    return first[0], held[0][first[0]], held[1][first[0]]


def _redosed(library: Library, before: dict[str, float], lines: dict[str, float]) -> Redosed | None:
    """Dose the first acid or base of a formula so that the pH from before stays; water makes room for it."""
    curves, place = charge_curves(library), library.arrays.material_index
    settled = curves.settle(library.arrays.amounts(before.items()))
    if settled is None:
        return None
    setters = sorted(
        (name for name in lines if library.material[name].function in ("acid", "base") and lines[name] > 0),
        key=lambda name: library.material[name].function,
    )
    for name in setters:
        amounts = _dosed(library, library.arrays.amounts(lines.items()), place[name], settled.pH)
        if amounts is None or math.isclose(amounts[place[name]], lines[name], abs_tol=TOLERANCE):
            continue
        dose = Redosed(name, library.material[name].name, lines[name], float(amounts[place[name]]))
        lines[name], lines[library.water.id] = dose.after, float(amounts[place[library.water.id]])
        return dose
    return None


def _dosed(library: Library, amounts: Floats, index: int, pH: float) -> Floats | None:
    """Return amounts with so much of one material that they have a pH, or None where no amount does."""
    curves, water = charge_curves(library), library.arrays.material_index[library.water.id]
    for _ in range(ROUNDS):
        settled = curves.settle(amounts)
        if settled is None:
            return None
        charge = curves.at(pH, settled.ionic_strength)
        step = -float(charge @ amounts) / float(charge[index] - charge[water])
        amounts = amounts.copy()
        amounts[index] += step
        amounts[water] -= step
        if amounts[index] < 0 or amounts[water] < 0:
            return None
        if abs(step) < STANDSTILL:
            return amounts
    return None
