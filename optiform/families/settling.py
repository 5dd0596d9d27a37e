"""Holds a family that was found at the ionic strengths of its own formulas, its choices kept."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from optiform.families.joint import joined
from optiform.families.products import HALF_A_MATERIAL, held
from optiform.measures.acidity import charge_curves
from optiform.program import SparseRow, at_strength
from optiform.search.fixed_choices import cleaned, polish, verify
from optiform.search.ionic_strength import confirmed
from optiform.solver import Session
from optiform.tolerances import HALF, NOISE, ROUNDING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.families.joint import Block, Joint, Market, Wanted
    from optiform.families.products import Product
    from optiform.program import Program
    from optiform.program.reduction.reduce import Reduced
    from optiform.vectors import Floats

ROUNDS = 12
"""So often ionic strengths are taken again, at most, until the formulas confirm them."""


@dataclass(frozen=True, eq=False)
class Held:
    """A family whose choices are fixed, each product at its own ionic strength.

    Attributes
    ----------
    programs : tuple of Program
        Each at its formula's own ionic strength.
    values : tuple of ndarray
        The columns of each program.
    joint : Joint
        With the choices fixed; only amounts and packs are free.
    reduced : tuple of Reduced
        What is left of each program in it.
    """

    programs: tuple[Program, ...] = field(repr=False)
    values: tuple[Floats, ...] = field(repr=False)
    joint: Joint = field(repr=False)
    joint_values: Floats = field(repr=False)
    reduced: tuple[Reduced, ...] = field(repr=False)

    @property
    def amounts(self) -> list[Floats]:
        """Return the % w/w of each product, by material."""
        return [values[: program.size] for values, program in zip(self.values, self.programs, strict=True)]

    def of(self, goal: str) -> float:
        """Return what a goal comes to."""
        return float(self.joint.objectives[goal] @ self.joint_values)


def settled_at_own(
    products: Sequence[Product],
    market: Market,
    values: Sequence[Floats],
    wanted: Wanted,
    goals: Sequence[str],
) -> Held | None:
    """Return a family at its own ionic strengths, its choices as in a solution; None where they cannot be held."""
    for slack in (0.0, HALF):
        found = _settled(products, market, values, wanted, [*goals, "cost"], slack)
        if found is not None:
            for program, own in zip(found.programs, found.values, strict=True):
                verify(program, own)
            return found
    return None


def _settled(
    products: Sequence[Product],
    market: Market,
    values: Sequence[Floats],
    wanted: Wanted,
    goals: Sequence[str],
    slack: float,
) -> Held | None:
    """Solve again at the ionic strengths of the formulas found, until they confirm them."""
    found: Held | None = None
    choices, at_own = values, list(products)
    made: dict[Product, tuple[Block, Reduced]] = {}
    for _ in range(ROUNDS):
        moved = [_at_own(product, own) for product, own in zip(at_own, values, strict=True)]
        if found is not None and all(new is old for new, old in zip(moved, at_own, strict=True)):
            return found
        at_own = moved
        made |= {
            product: held(product, own, slack)
            for product, own in zip(at_own, choices, strict=True)
            if product not in made
        }
        pairs = [made[product] for product in at_own]
        joint = joined([block for block, _ in pairs], market, wanted, goals)
        session = Session(joint.form, arrays=True)
        last = _exactly(session, joint, goals)
        if last is None:
            return None
        reduced = tuple(one for _, one in pairs)
        programs = tuple(product.program for product in at_own)
        values = tuple(
            cleaned(program, one.full(joint.own(place, last)))
            for place, (program, one) in enumerate(zip(programs, reduced, strict=True))
        )
        found = Held(programs, values, joint, last, reduced)
    return found


def _at_own(product: Product, values: Floats) -> Product:
    """Return a product at the ionic strength of a formula; the same one where it is there."""
    program = product.program
    found = charge_curves(program.library).settle(values[: program.size]) if program.acid_rows else None
    if found is None or abs(found.ionic_strength - program.catalogue.conditions.ionic_strength) < ROUNDING:
        return product
    return product.at(at_strength(program, found.ionic_strength))


def _exactly(session: Session, joint: Joint, goals: Sequence[str]) -> Floats | None:
    """Return the columns that are best by all goals in turn; None where nothing is possible."""
    values: Floats | None = None
    for goal in goals:
        objective = joint.objectives[goal]
        if values is not None and not objective.any():
            continue
        session.set_objective(objective)
        found = session.solve()
        if found.values is None:
            return values
        values = found.values
        session.add_row(no_worse(goal, objective, found.objective))
    return values


def no_worse(goal: str, objective: Floats, reached: float) -> SparseRow:
    """Return the row that holds a goal where it is."""
    present = np.flatnonzero(objective)
    room = HALF_A_MATERIAL if goal == "materials" else NOISE * max(1.0, abs(reached))
    return SparseRow(present, objective[present], -np.inf, reached + room)


def holds(product: Product, values: Floats) -> bool:
    """Tell whether a structure holds at its own ionic strength, near enough to the product's own best."""
    polished = polish(product.program, values)
    ceiling = np.inf if product.ceiling is None else product.ceiling
    return polished is not None and polished.objective <= ceiling + ROUNDING


def moved_to_own(products: Sequence[Product], values: Sequence[Floats]) -> tuple[Product, ...] | None:
    """Return products at the ionic strengths that their formulas ask for; None where they are there."""
    programs = [confirmed(product.program, own) for product, own in zip(products, values, strict=True)]
    if not any(program is not None for program in programs):
        return None
    return tuple(
        product if program is None else product.at(program)
        for product, program in zip(products, programs, strict=True)
    )
