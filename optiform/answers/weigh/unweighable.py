"""Tells why a formula cannot be weighed for a batch on a balance, and what makes it possible."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from optiform.answers.model.answer import Formula
from optiform.answers.model.weighing import NotWeighable, Stock, TooLight, Way, Weighable
from optiform.answers.weigh.drops import MOSTLY_WATER
from optiform.answers.weigh.grid import grid_of
from optiform.answers.weigh.weighable import weigh
from optiform.bounds import number
from optiform.brief.models import Brief, Weighing
from optiform.library.models import Library, Material
from optiform.program import Key, Program
from optiform.solver import NO_LIMIT, Clock, OutOfTime
from optiform.tolerances import ROUNDING
from optiform.vectors import Floats

BALANCES = (10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001, 0.0001)
"""Readabilities of balances that are sold [g]; common practice, no source."""

STRENGTHS = (10.0, 5.0, 2.0, 1.0, 0.5, 0.1)
"""Strengths of stock solutions that are easy to make and to reckon with [% w/w]; our choice.

Not above 10 %, where more and more of the usual powders no longer dissolve."""

LARGEST_BATCH = 1_000_000.0
NO_SOLUTION = ("water", "oil", "fragrance", "emulsifier", "thickener", "powder", "opacifier")
"""Functions whose materials make no stock solution in water."""


def why_not(
    program: Program,
    values: Floats,
    weighing: Weighing,
    *,
    waived: Collection[Key] = (),
    near: bool = False,
    clock: Clock = NO_LIMIT,
) -> NotWeighable:
    """Say why a formula cannot be weighed, with every way out, until the time is over, solved again as printed."""
    grid = grid_of(weighing.batch_g, weighing.balance_g, weighing.error_percent)
    least = weighing.balance_g / 2.0 / (weighing.error_percent / 100.0)
    light = _too_light(program, values, weighing.batch_g, least)
    ask = _Ask(program, values, weighing, waived, near, clock)
    ways: tuple[Way | None, ...] = ()
    complete = False
    with suppress(OutOfTime):
        ways += (ask.finer_balance(),)
        ways += (ask.larger_batch(),)
        ways += (ask.stock_solution(light),)
        complete = True
    return NotWeighable(
        batch_g=weighing.batch_g,
        balance_g=weighing.balance_g,
        error_percent=weighing.error_percent,
        least_g=least,
        too_light=light,
        off_grid=grid is None,
        ways=tuple(way for way in ways if way is not None),
        complete=complete,
    )


def with_weights(
    formula: Formula,
    brief: Brief,
    program: Program,
    values: Floats,
    *,
    ways: bool = True,
    clock: Clock = NO_LIMIT,
) -> Formula:
    """Return a formula with its weighable version beside it, or with the reason and the ways out in its notes.

    Raises
    ------
    OutOfTime
        If the time is over before it is known whether it can be weighed.
    """
    if brief.weighing is None:
        return formula
    found = weigh(program, values, brief.weighing, clock=clock)
    if found is not None:
        return replace(formula, weighable=found)
    if not ways:
        return replace(
            formula, notes=(*formula.notes, _refusal(brief.weighing.batch_g, brief.weighing.balance_g))
        )
    refused = why_not(program, values, brief.weighing, clock=clock)
    return replace(formula, not_weighable=refused, notes=(*formula.notes, *sentences(refused)))


def _too_light(program: Program, values: Floats, batch_g: float, least: float) -> tuple[TooLight, ...]:
    grams = values[: program.size] * batch_g / 100.0
    found = np.flatnonzero((grams > 0) & (grams < least * (1.0 - ROUNDING)))
    return tuple(
        TooLight(program.library.materials[i].id, program.library.materials[i].name, float(grams[i]))
        for i in found
    )


@dataclass(frozen=True, eq=False)
class _Ask:
    """One formula that cannot be weighed, asked again under other conditions."""

    program: Program
    values: Floats
    weighing: Weighing
    waived: Collection[Key]
    near: bool
    clock: Clock

    def works(
        self, batch_g: float, balance_g: float, stocks: Mapping[str, float] | None = None
    ) -> Weighable | None:
        """Return the amounts under other conditions, or None."""
        other = self.weighing.model_copy(update={"batch_g": batch_g, "balance_g": balance_g})
        return weigh(
            self.program,
            self.values,
            other,
            stocks=stocks,
            waived=self.waived,
            near=self.near,
            clock=self.clock,
        )

    def finer_balance(self) -> Way | None:
        """Return the coarsest finer balance that works."""
        for balance in BALANCES:
            if balance < self.weighing.balance_g and self.works(self.weighing.batch_g, balance) is not None:
                return Way("finer balance", self.weighing.batch_g, balance)
        return None

    def larger_batch(self) -> Way | None:
        """Return the smallest larger batch, in two figures, that works: halving a rising list."""
        sizes = [size for size in _round_sizes(self.weighing) if size > self.weighing.batch_g]
        if not sizes or self.works(sizes[-1], self.weighing.balance_g) is None:
            return None
        low, high = -1, len(sizes) - 1
        while high - low > 1:
            middle = (low + high) // 2
            if self.works(sizes[middle], self.weighing.balance_g) is None:
                low = middle
            else:
                high = middle
        return Way("larger batch", sizes[high], self.weighing.balance_g)

    def stock_solution(self, light: tuple[TooLight, ...]) -> Way | None:
        """Return the strongest solutions of what is too light that make the batch weighable."""
        library = self.program.library
        if not light or not all(dissolves(library, library.material[item.material]) for item in light):
            return None
        for weaker in range(len(STRENGTHS)):
            stocks = {item.material: _strength(item.grams, self.weighing, weaker) for item in light}
            if any(strength is None for strength in stocks.values()):
                return None
            given = {name: strength for name, strength in stocks.items() if strength is not None}
            found = self.works(self.weighing.batch_g, self.weighing.balance_g, given)
            if found is not None:
                return Way("stock solution", self.weighing.batch_g, self.weighing.balance_g, found.stocks)
        return None


def dissolves(library: Library, material: Material) -> bool:
    """Tell whether a material makes a solution in water: a powder that is dissolved, or a solution already."""
    if set(material.functions) & set(NO_SOLUTION) or material.phase in ("oil", "gum"):
        return False
    water = sum(part.percent for part in library.composition[material.id] if part.inci == "Aqua")
    return "dissolve" in material.handling or water >= MOSTLY_WATER


def _strength(grams: float, weighing: Weighing, weaker: int) -> float | None:
    """Return the strongest handy solution of which `grams` of material weigh enough, or a weaker one."""
    least = weighing.balance_g / 2.0 / (weighing.error_percent / 100.0)
    strong_enough = [percent for percent in STRENGTHS if 100.0 * grams / percent >= least]
    return strong_enough[weaker] if weaker < len(strong_enough) else None


def _round_sizes(weighing: Weighing) -> list[float]:
    """Return batch sizes of two figures that are whole numbers of steps, rising [g]."""
    sizes = []
    for power in range(-1, 6):
        for figures in range(10, 100):
            size = float(Decimal(figures).scaleb(power))
            if (
                size <= LARGEST_BATCH
                and grid_of(size, weighing.balance_g, weighing.error_percent) is not None
            ):
                sizes.append(size)
    return sorted(set(sizes))


def sentences(refused: NotWeighable) -> tuple[str, ...]:
    """Return why a formula cannot be weighed and the ways out, in plain words."""
    batch, balance = number(refused.batch_g), number(refused.balance_g)
    if refused.off_grid:
        told = [f"A batch of {batch} g is no whole number of steps of {balance} g."]
    else:
        told = [_refusal(refused.batch_g, refused.balance_g)]
    if refused.too_light:
        names = ", ".join(f"{item.name} {item.grams:.3g} g" for item in refused.too_light)
        least = f"less than {refused.least_g:.4g} g"
        told.append(f"Too little to weigh within {number(refused.error_percent)} % ({least}): {names}.")
    told += [f"A way out: {_way(way)}." for way in refused.ways]
    if not refused.complete:
        told.append("The time ran out before every way out was tried.")
    elif not refused.ways:
        told.append("No finer balance, larger batch or stock solution that we know of helps.")
    return tuple(told)


def _refusal(batch_g: float, balance_g: float) -> str:
    return f"No amounts in steps of {number(balance_g)} g for a batch of {number(batch_g)} g hold everything."


def _way(way: Way) -> str:
    if way.kind == "finer balance":
        return f"a balance that reads {number(way.balance_g)} g"
    if way.kind == "larger batch":
        return f"a batch of {number(way.batch_g)} g"
    return f"the same batch and balance with {' and '.join(_made(stock) for stock in way.stocks)}"


def _made(stock: Stock) -> str:
    return (
        f"{number(stock.use_g)} g of a {number(stock.percent)} % solution of {stock.name} "
        f"(weigh {number(stock.material_g)} g of it, make it up with {number(stock.water_g)} g of water and stir "
        "until clear; if it does not clear, make it weaker)"
    )
