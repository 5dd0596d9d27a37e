"""Explains a family: each product against itself alone, what keeps each material, what each limit costs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from functools import cached_property

import numpy as np

from optiform.answers.certainty.every_lot import with_lots
from optiform.answers.describe.formula import describe
from optiform.answers.describe.limits import tight
from optiform.answers.describe.sensible_steps import step
from optiform.families.model import CostWithout, Difference, Member, PricedLimit, ShelfMaterial
from optiform.families.products import Product, used_by
from optiform.families.settling import Held
from optiform.program import Program, SparseRow
from optiform.program.reduction.part import part_of
from optiform.program.reduction.reduce import Reduced
from optiform.program.reduction.tighten import tightened
from optiform.search.fixed_choices import Polished, objective_of
from optiform.search.ties import cost_of
from optiform.solver import NO_LIMIT, Clock, OutOfTime, Session
from optiform.vectors import Flags, Floats

LEAST_TOLD = 0.005
"""Money below which a limit is not told of."""


def members(products: Sequence[Product], held: Held) -> tuple[Member, ...]:
    """Return each product against the same product alone."""
    return tuple(
        _member(product, program, values)
        for product, program, values in zip(products, held.programs, held.values, strict=True)
    )


def _member(product: Product, program: Program, values: Floats) -> Member:
    alone, brief = product.alone, product.planned.brief
    own, here = describe(alone.program, brief, alone.values), describe(program, brief, values)
    if brief.certainty is not None:
        (here,) = with_lots(brief, (here,), NO_LIMIT)
    amounts = values[: program.size]
    return Member(
        title=product.planned.title,
        grams=product.planned.grams,
        alone=own.cost,
        here=here.cost,
        within=product.planned.within,
        aim=brief.aim.measure,
        aim_unit=program.aim.unit,
        aim_alone=program.aim.value(alone.amounts),
        aim_here=program.aim.value(amounts),
        formula=here,
        alone_formula=own,
        differences=tuple(
            Difference(material.id, material.name, float(before), float(after))
            for material, before, after in zip(program.library.materials, alone.amounts, amounts, strict=True)
            if before > 0 or after > 0
        ),
    )


def shelf_of(products: Sequence[Product], held: Held) -> tuple[ShelfMaterial, ...]:
    """Return the materials on the shelf, those that most products use first."""
    users = used_by(products, held.amounts)
    library = products[0].program.library
    order = sorted(users, key=lambda material: (-len(users[material]), material))
    return tuple(
        ShelfMaterial(
            material=library.materials[material].id,
            name=library.materials[material].name,
            function=library.materials[material].function,
            percents=tuple(float(own[material]) for own in held.amounts),
            products=tuple(products[place].planned.title for place in users[material]),
        )
        for material in order
    )


class Keeping:
    """Tells what keeps each material on a shelf: what products would cost more, made of the rest.

    Parameters
    ----------
    products : sequence of Product
    held : Held
    shelf : ndarray of bool, shape (n,)
        Water is on it.
    clock : Clock
    """

    def __init__(self, products: Sequence[Product], held: Held, shelf: Flags, clock: Clock) -> None:
        self._made = [
            _Made(product.at(program), shelf, clock)
            for product, program in zip(products, held.programs, strict=True)
        ]

    def of(self, stand: ShelfMaterial) -> tuple[CostWithout, ...]:
        """Return what each product that uses a material would cost more without it.

        Raises
        ------
        OutOfTime
            If the time is over before that is known.
        """
        return tuple(
            CostWithout(made.title, made.dearer_without(stand.material))
            for made in self._made
            if made.title in stand.products
        )


class _Made:
    """One product, made of a shelf alone."""

    def __init__(self, product: Product, shelf: Flags, clock: Clock) -> None:
        self.title, program = product.planned.title, product.program
        part = part_of(tightened(program), shelf)
        self._columns, self._material = part.columns, program.library.arrays.material_index
        self._session = Session(part.form, clock=clock, arrays=True) if part.possible else None
        if self._session is None:
            return
        cost = cost_of(program)
        self._session.set_objective((program.form.objective if cost is None else cost)[part.columns])
        for row in product.ceiling_row():
            wide = np.zeros(program.form.columns)
            wide[row.indices] = row.values
            here = np.flatnonzero(wide[part.columns])
            self._session.add_row(SparseRow(here, wide[part.columns][here], row.lower, row.upper))

    def dearer_without(self, material: str) -> float | None:
        """Return what it costs more without a material [currency/kg]; None where it cannot be made without."""
        if self._session is None:
            return None
        with self._session.trial():
            column = int(np.searchsorted(self._columns, self._material[material]))
            self._session.set_column_bounds(column, 0.0, 0.0)
            without = self._cheapest(self._session)
        with_it = self._with_all
        return None if without is None else without - (without if with_it is None else with_it)

    @cached_property
    def _with_all(self) -> float | None:
        return None if self._session is None else self._cheapest(self._session)

    def _cheapest(self, session: Session) -> float | None:
        found = session.solve()
        if found.status == "stopped":
            raise OutOfTime
        return None if found.values is None else found.objective


def priced_limits(
    products: Sequence[Product], held: Held, money: str, clock: Clock
) -> tuple[PricedLimit, ...]:
    """Return what one sensible step of each limit that binds costs the whole family, dearest first.

    Notes
    -----
    The choices of every product are kept; amounts and packs follow. Once the time is over no further limit is priced.
    """
    session = Session(held.joint.form, clock=clock, arrays=True)
    session.set_objective(held.joint.objectives[money])
    start, found = held.of(money), list[PricedLimit]()
    with suppress(OutOfTime):
        for place, product in enumerate(products):
            program, reduced = held.programs[place], held.reduced[place]
            own = Polished(
                program, held.values[place], objective_of(program, held.values[place]), reduced.slack
            )
            for limit in tight(own):
                asked = limit.requirement
                if not limit.rows or asked.bound is None or asked.origin != "brief" or not asked.movable:
                    continue
                towards = -1.0 if asked.side == "at_most" else 1.0
                tighter = asked.bound + towards * step(asked)
                with session.trial():
                    for row, content in _moved(limit.rows, reduced, tighter):
                        session.set_row(*_placed(held, place, row, content))
                    there = session.solve()
                if there.status == "stopped":
                    raise OutOfTime
                costs = None if there.values is None else there.objective - start
                if costs is None or costs > LEAST_TOLD:
                    found.append(
                        PricedLimit(product.planned.title, asked.title, step(asked), asked.unit, costs)
                    )
    return tuple(sorted(found, key=lambda one: (one.costs is not None, -(one.costs or 0.0), one.product)))


def _moved(
    rows: Sequence[tuple[int, object]], reduced: Reduced, bound: float
) -> Iterator[tuple[int, SparseRow]]:
    """Yield the rows of a limit at another bound, in the columns of the reduced program."""
    for row, move in rows:
        yield row, reduced.row(move.row(bound, reduced.slack))  # type: ignore[attr-defined]


def _placed(held: Held, place: int, row: int, content: SparseRow) -> tuple[int, SparseRow]:
    """Return a row of one product in the columns of the joint form."""
    before = sum(block.form.rows for block in held.joint.blocks[:place])
    shifted = content.indices + held.joint.starts[place]
    return before + row, SparseRow(shifted, content.values, content.lower, content.upper)
