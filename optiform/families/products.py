"""Each product of a family by itself: its own best formula, and what of its program a joint one needs."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.certainty.every_lot import settled
from optiform.families.joint import Block
from optiform.program import SparseRow
from optiform.program.extended import extended
from optiform.program.reduction.bounding import bounds
from optiform.program.reduction.part import part_of
from optiform.program.reduction.reduce import reduce
from optiform.program.reduction.tighten import capped, tightened
from optiform.search.bases import on_best_base
from optiform.search.first_formula import first_listed
from optiform.search.incumbent import relaxed
from optiform.search.narrow.candidates import below, mixture
from optiform.search.ranking import within
from optiform.solver import Clock, OutOfTime, Session
from optiform.tolerances import CLEAR, ROUNDING, TOLERANCE
from optiform.vectors import distinct

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.brief.models import Brief
    from optiform.families.plan import Planned
    from optiform.library.models import Library
    from optiform.program import Program
    from optiform.program.reduction.part import Part
    from optiform.program.reduction.reduce import Reduced
    from optiform.search.fixed_choices import Polished
    from optiform.vectors import Flags, Floats, Indices


HALF_A_MATERIAL = 0.5


class NoFormula(Exception):
    """A product of a family cannot be made, whatever stands on the shelf."""

    def __init__(self, planned: Planned, program: Program) -> None:
        self.planned, self.program = planned, program
        super().__init__(planned.title)


@dataclass(frozen=True, eq=False)
class Product:
    """One product with its own best formula.

    Attributes
    ----------
    planned : Planned
        Its brief with what the trials of one base of its bench say: of the one that is best by itself.
    brief : Brief
        The same; where a share of lots is asked for, with windows drawn in so far that its own best holds it.
    alone : Polished
        Its own best formula.
    proven : bool
        Whether it is proven to be the best.
    program : Program
        At the ionic strength at which the family is searched.
    ceiling : float, optional
        The worst aim that it may have in the family, signed so that less is better.
    grams : float  [g per % w/w]
        With what is bought above the need.
    kept_out : tuple of SparseRow
        Structures that were found not to hold at their own ionic strength, over the columns of the program.
    """

    planned: Planned
    brief: Brief = field(repr=False)
    alone: Polished = field(repr=False)
    proven: bool
    program: Program = field(repr=False)
    ceiling: float | None
    grams: float
    kept_out: tuple[SparseRow, ...] = field(default=(), repr=False)

    def at(self, program: Program) -> Product:
        """Return the product with its program at another ionic strength."""
        return replace(self, program=program)

    def without(self, row: SparseRow) -> Product:
        """Return the product without one structure."""
        return replace(self, kept_out=(*self.kept_out, row))

    def ceiling_row(self) -> list[SparseRow]:
        """Return the row that holds it near its own best, over the columns of the program."""
        if self.ceiling is None:
            return []
        return [within(self.program.form.objective, self.program.ratio_aim, self.ceiling)]


def product_of(planned: Planned, spare_percent: float, clock: Clock) -> Product:
    """Find the own best formula of a product.

    Raises
    ------
    NoFormula
        If its brief cannot be met.
    OutOfTime
        If the time is over before any formula is found.
    """
    planned = replace(planned, brief=on_best_base(planned.brief, clock))
    brief = planned.brief
    asked = brief if brief.certainty is None else settled(brief, clock).brief
    found = first_listed(asked, clock)
    if found.polished is None:
        if found.stopped:
            raise OutOfTime
        raise NoFormula(planned, found.program)
    best = found.polished.objective
    room = None if planned.within is None else best + planned.within * abs(best)
    return Product(
        planned=planned,
        brief=asked,
        alone=found.polished,
        proven=found.proven,
        program=found.polished.program,
        ceiling=room,
        grams=planned.grams * (1.0 + spare_percent / 100.0) / 100.0,
    )


def searched(product: Product, usable: Flags, clock: Clock) -> tuple[Block, Part]:
    """Return a product as a block of whole choices, without the materials that no formula under its ceiling can use.

    `usable` flags the materials that may be used at all, shape (n,).

    Raises
    ------
    OutOfTime
        If the time is over before the bounds are known.
    """
    program = product.program
    tight = tightened(program)
    usable = usable & _under(tight, product.ceiling, clock)
    least, most = _reach(product, part_of(tight, usable), clock)
    tight = capped(tight, most)
    part = part_of(tight, usable & ((tight.form.upper[: tight.size] > 0) | (tight.own_choice < 0)))
    place = _places(part)
    rows = [_here(row, place) for row in (*product.ceiling_row(), *product.kept_out)]
    form = extended(part.form, [], rows)
    if not part.possible:
        nothing = np.zeros(0, dtype=np.intp)
        form = extended(form, [], [SparseRow(nothing, np.zeros(0), 1.0, np.inf)])
    taken = (least > 0) & (place[: program.size] >= 0)
    lower = form.lower.copy()
    lower[place[np.flatnonzero(taken)]] = least[taken]
    lower[place[program.own_choice[taken]]] = 1.0
    choices = tuple(place[uses][place[uses] >= 0] for uses in program.uses)
    own = product.alone.values[part.columns]
    return Block(replace(form, lower=lower), place[: program.size], choices, taken, product.grams, own), part


def _reach(product: Product, part: Part, clock: Clock) -> tuple[Floats, Floats]:
    """Return the least and the most of each material in a mixture under the product's ceiling, shape (n,)  [% w/w].

    A mixture may take choices in part, so no formula holds less or more. This is bound tightening by optimisation;
    what the product alone does without is needed by no mixture.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.
    """
    program, place = part.program, _places(part)
    least, most = np.zeros(program.size), program.form.upper[: program.size].copy()
    if not part.possible:
        return least, most
    form = extended(part.form, [], [_here(row, place) for row in product.ceiling_row()])
    session = Session(
        replace(form, integer=np.zeros_like(form.integer), norms=(), objective=np.zeros(form.columns)),
        clock=clock,
        arrays=True,
    )
    session.keep_feasible()
    for material in np.flatnonzero((program.own_choice >= 0) & (place[: program.size] >= 0)).tolist():
        reached = -_lowest(session, place[material], -1.0)
        most[material] = min(most[material], reached + TOLERANCE * max(1.0, reached))
        if product.alone.amounts[material] > 0:
            needed = _lowest(session, place[material], 1.0)
            least[material] = max(0.0, needed - TOLERANCE * max(1.0, needed))
    return least, np.maximum(least, most)


def _lowest(session: Session, column: int, sign: float) -> float:
    """Return the lowest value of a column times a sign; 0 where nothing is possible.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.
    """
    objective = np.zeros(session.form.columns)
    objective[column] = sign
    with session.trial():
        session.set_objective(objective)
        found = session.solve()
    if found.status == "stopped":
        raise OutOfTime
    return 0.0 if found.values is None else found.objective


def _places(part: Part) -> Indices:
    """Return the place of each column of the whole program in what is left of it; -1 where it is gone."""
    place = np.full(part.program.form.columns, -1, dtype=np.intp)
    place[part.columns] = np.arange(len(part.columns))
    return place


def _under(tight: Program, ceiling: float | None, clock: Clock) -> Flags:
    """Flag the materials that a formula under a ceiling could use, shape (n,)."""
    free = tight.own_choice < 0
    if ceiling is None:
        return np.ones(tight.size, dtype=bool)
    limit = ceiling + CLEAR * max(1.0, abs(ceiling))
    if tight.ratio_aim is not None:
        found = below(tight, limit, clock)
        if found is None:
            raise OutOfTime
        return found | free
    mixed = mixture(tight, clock)
    if mixed is None:
        if clock.over():
            raise OutOfTime
        return np.ones(tight.size, dtype=bool)
    return np.asarray((bounds(tight, mixed[2], mixed[1]).using <= limit) | free, dtype=bool)


def _here(row: SparseRow, place: Indices) -> SparseRow:
    """Return a row over the columns that are left; the others are 0."""
    columns = place[row.indices]
    return SparseRow(columns[columns >= 0], row.values[columns >= 0], row.lower, row.upper)


def counts(block: Block, library: Library, formulas: Sequence[Floats], clock: Clock) -> list[SparseRow]:
    """Return rows that say how many materials of each function a product needs, over the columns of its block.

    Parameters
    ----------
    formulas : sequence of ndarray, shape (columns,)
        Formulas of the product, as columns of its block: of what one of them does without none is needed.

    Notes
    -----
    A relaxation takes a hundredth of an acid where a formula takes one or none. Each row is the optimum of a small
    integer program of the product alone, so no family is lost by it.
    """
    session = Session(replace(block.form, norms=()), clock=clock, arrays=True)
    found = []
    for function in dict.fromkeys(material.function for material in library.materials):
        members = np.flatnonzero(library.arrays.is_function(function))
        columns = distinct(np.concatenate([block.choices[one] for one in members]))
        used = min(float(np.round(values[columns]).sum()) for values in formulas)
        if not used:
            continue
        row = SparseRow(columns, np.ones(len(columns)), used, np.inf)
        mixed, needed = _fewest(session, row)
        if needed > mixed + CLEAR:
            found.append(replace(row, lower=needed))
    return found


def _fewest(session: Session, row: SparseRow) -> tuple[float, float]:
    """Return the least sum of a row's choices in a mixture, and a whole number that no formula is below."""
    objective = np.zeros(session.form.columns)
    objective[row.indices] = row.values
    with session.trial():
        session.set_objective(objective)
        mixed = relaxed(session)
        if mixed.values is None:
            return 0.0, 0.0
        whole = float(np.ceil(mixed.objective - CLEAR))
        if whole >= row.lower:
            return mixed.objective, whole
        fewer = session.below(row.lower - 1.0 + TOLERANCE, tries=0)
    bound = row.lower if fewer.status == "infeasible" else fewer.bound
    return mixed.objective, max(whole, float(np.ceil(bound - CLEAR)) if np.isfinite(bound) else whole)


def held(product: Product, values: Floats, slack: float) -> tuple[Block, Reduced]:
    """Return a product as a block whose choices are fixed as in a solution, with bounds held to `slack`."""
    program = product.program
    reduced = reduce(program, values, slack)
    rows = [reduced.row(row) for row in product.ceiling_row()]
    rows = [replace(row, upper=row.upper + max(slack, ROUNDING)) for row in rows]
    form = extended(reduced.form, [], rows)
    position = reduced.position[: program.size]
    needed = (position >= 0) & (form.lower[position] > 0)
    taken = needed & np.array([bool(reduced.fixed[uses].sum() > 0) for uses in program.uses], dtype=bool)
    none = np.zeros(0, dtype=np.intp)
    own = values[reduced.free]
    return Block(form, position, tuple(none for _ in program.uses), taken, product.grams, own), reduced


def used_by(products: Sequence[Product], amounts: Sequence[Floats]) -> dict[int, tuple[int, ...]]:
    """Return the products, by their place, that use each material of a shelf; water is not on it."""
    library = products[0].program.library
    water = library.arrays.material_index[library.water.id]
    found: dict[int, tuple[int, ...]] = {}
    for material in range(len(library.materials)):
        users = tuple(place for place, own in enumerate(amounts) if own[material] > 0)
        if users and material != water:
            found[material] = users
    return found
