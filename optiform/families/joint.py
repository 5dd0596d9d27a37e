"""Several programs side by side as one form: their rows, one shelf of materials, and the packs to buy for it."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.families.pack_costs import bundles, underestimates
from optiform.library.models import Library
from optiform.program import USED, Form, SparseRow
from optiform.program.extended import extended, side_by_side
from optiform.sheets.purchase.offers import Offer, Supplier
from optiform.tolerances import CLEAR
from optiform.vectors import Flags, Floats, Indices


@dataclass(frozen=True, eq=False)
class Block:
    """One product's own form, and where its materials stand in it.

    Attributes
    ----------
    form : Form
        Its rows, with that on how far it may leave its own best.
    amounts : ndarray of int, shape (n,)
        The column of each material of the library  [% w/w]; -1 where it cannot be used.
    choices : tuple of ndarray of int
        For each material the columns that tell whether it is used, each of them 0 or 1.
    taken : ndarray of bool, shape (n,)
        Materials that every formula of it uses.
    grams : float  [g per % w/w]
        What 1 % w/w comes to in all batches, with what is bought above the need.
    alone : ndarray, shape (columns,)
        A formula of it to begin with: its own best one.
    """

    form: Form = field(repr=False)
    amounts: Indices = field(repr=False)
    choices: tuple[Indices, ...] = field(repr=False)
    taken: Flags = field(repr=False)
    grams: float
    alone: Floats = field(repr=False)

    def may_use(self, material: int) -> bool:
        """Tell whether the product can use a material at all."""
        return bool(self.amounts[material] >= 0)

    def least(self, material: int) -> float:
        """Return the least that the product needs of a material  [g]."""
        return self.grams * float(self.form.lower[self.amounts[material]])

    def most(self, material: int) -> float:
        """Return the most that the product can use of a material  [g]."""
        return self.grams * float(self.form.upper[self.amounts[material]])


@dataclass(frozen=True, eq=False)
class Market:
    """What can be bought for a family, and what it has.

    Attributes
    ----------
    stock : mapping of str to float or None  [g]
        On the shelf, by material id; None: enough.
    """

    library: Library = field(repr=False)
    offers: tuple[Offer, ...] = field(repr=False)
    suppliers: tuple[Supplier, ...] = field(repr=False)
    stock: Mapping[str, float | None] = field(repr=False)


@dataclass(frozen=True)
class Wanted:
    """What a family asks of its shelf besides the briefs of its products.

    Attributes
    ----------
    at_most : int, optional
        Materials over all products; water does not count.
    keep : tuple of int
        Materials that some product must use.
    same : tuple of int
        Materials of which every product has the same percent.
    without : tuple of int
        Materials that no product may use.
    """

    at_most: int | None = None
    keep: tuple[int, ...] = ()
    same: tuple[int, ...] = ()
    without: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class Joint:
    """All products as one form.

    Attributes
    ----------
    starts : tuple of int
        The first column of each block.
    shelf : mapping of int to int
        The column that tells whether a material is on the shelf.
    packs : mapping of Offer to int
        The column that counts the packs of an offer.
    objectives : mapping of str to ndarray, shape (columns,)
        ``cash`` and ``consumed`` in the currency of the library, ``materials`` in number, and ``cost``: what all
        batches cost at the library's prices per kg.
    """

    form: Form = field(repr=False)
    blocks: tuple[Block, ...] = field(repr=False)
    starts: tuple[int, ...]
    shelf: Mapping[int, int] = field(repr=False)
    packs: Mapping[Offer, int] = field(repr=False)
    objectives: Mapping[str, Floats] = field(repr=False)

    def own(self, place: int, values: Floats) -> Floats:
        """Return the columns of one block out of those of the joint form."""
        start = self.starts[place]
        return values[start : start + self.blocks[place].form.columns]


def joined(blocks: Sequence[Block], market: Market, wanted: Wanted, goals: Collection[str]) -> Joint:
    """Return the joint form of some products; its objective is nothing until one of `objectives` is taken.

    `goals` are those that will be taken: what only others need is left out.
    """
    draft = _Draft(blocks, market, goals)
    draft.add_shelf(wanted)
    buys = not {"cash", "consumed"}.isdisjoint(goals)
    for material in draft.shelf:
        draft.add_purchase(material, buys=buys)
    draft.add_orders()
    draft.add_base(wanted.same)
    return draft.frozen()


class _Draft:
    """A joint form while it is written: the blocks first, then columns and rows that bind them."""

    def __init__(self, blocks: Sequence[Block], market: Market, goals: Collection[str]) -> None:
        self.blocks, self.market = tuple(blocks), market
        self.in_packs = "cash" in goals
        self.only_cash = self.in_packs and "consumed" not in goals
        widths = [block.form.columns for block in blocks]
        self.starts = tuple(int(start) for start in np.concatenate([[0], np.cumsum(widths)[:-1]]))
        self.width = sum(widths)
        self.columns: list[tuple[float, float]] = []
        self.whole: list[bool] = []
        self.costs: dict[str, dict[int, float]] = {
            name: {} for name in ("cash", "consumed", "materials", "cost")
        }
        self.rows: list[SparseRow] = []
        self.shelf: dict[int, int] = {}
        self.packs: dict[Offer, int] = {}
        self.spending: dict[str, list[Offer]] = {}
        self.used: dict[str, list[tuple[int, float]]] = {}

    def column(self, upper: float, *, lower: float = 0.0, whole: bool = True, **costs: float) -> int:
        """Add a column and return its place."""
        self.columns.append((lower, upper))
        self.whole.append(whole)
        place = self.width + len(self.columns) - 1
        for name, cost in costs.items():
            if cost:
                self.costs[name][place] = cost
        return place

    def row(self, terms: Sequence[tuple[int, float]], lower: float = -np.inf, upper: float = np.inf) -> None:
        """Add a row over columns of the joint form; it has one end, or two equal ones."""
        columns = np.array([column for column, _ in terms], dtype=np.intp)
        values = np.array([value for _, value in terms], dtype=float)
        self.rows.append(SparseRow(columns, values, lower, upper))

    def add_shelf(self, wanted: Wanted) -> None:
        """Say which materials stand on the shelf, and how many may."""
        library = self.market.library
        water = library.arrays.material_index[library.water.id]
        for material in range(len(library.materials)):
            users = [place for place, block in enumerate(self.blocks) if block.may_use(material)]
            if not users and material in wanted.keep:
                self.row([(self.column(0.0), 1.0)], lower=1.0)
            if not users:
                continue
            fixed = any(self.blocks[place].taken[material] for place in users)
            open_to = 0.0 if material in wanted.without else 1.0
            counts = 0.0 if material == water else 1.0
            stands = self.column(open_to, lower=1.0 if fixed else 0.0, materials=counts)
            self.shelf[material] = stands
            for place in users:
                for choice in self.blocks[place].choices[material].tolist():
                    self.row([(stands, 1.0), (self.starts[place] + choice, -1.0)], lower=0.0)
                if not len(self.blocks[place].choices[material]) and not self.blocks[place].taken[material]:
                    amount = self.blocks[place].amounts[material]
                    most = float(self.blocks[place].form.upper[amount])
                    self.row([(stands, most), (self.starts[place] + amount, -1.0)], lower=0.0)
            if material in wanted.keep and not fixed:
                self._keep(material, users)
        for function in dict.fromkeys(material.function for material in library.materials):
            self._count(np.flatnonzero(library.arrays.is_function(function)).tolist())
        if wanted.at_most is not None:
            counted = [(column, 1.0) for column in self.costs["materials"]]
            self.row(counted, upper=float(wanted.at_most))

    def _count(self, materials: Sequence[int]) -> None:
        """Count the materials of a function on the shelf, so that the solver can branch on their number.

        No product has more of them than the shelf; without these rows presolve would drop the count.
        """
        counted = self.costs["materials"]
        stand = [self.shelf[one] for one in materials if self.shelf.get(one) in counted]
        used = [
            [start + column for column in _single(block, materials)]
            for start, block in zip(self.starts, self.blocks, strict=True)
        ]
        if not any(len(own) > 1 for own in used):
            return
        for column in stand:
            del counted[column]
        count = self.column(float(len(stand)), materials=1.0)
        self.row([*((column, 1.0) for column in stand), (count, -1.0)], lower=0.0, upper=0.0)
        for own in used:
            if len(own) > 1:
                self.row([(count, 1.0), *((column, -1.0) for column in own)], lower=0.0)

    def _keep(self, material: int, users: Sequence[int]) -> None:
        """Demand that some product uses a material."""
        terms: list[tuple[int, float]] = []
        for place in users:
            start, block = self.starts[place], self.blocks[place]
            terms += [(start + choice, 1.0) for choice in block.choices[material].tolist()]
            if not len(block.choices[material]):
                terms.append((start + int(block.amounts[material]), 1.0 / USED))
        self.row(terms, lower=1.0)

    def add_purchase(self, material: int, *, buys: bool) -> None:
        """Buy what the products use of a material: from the stock, in packs, or by weight where no pack is known."""
        market, named = self.market, self.market.library.materials[material]
        needs = self._needs(material)
        for column, grams in needs:
            self.costs["cost"][column] = grams * named.price / 1000.0
        stock = market.stock.get(named.id, 0.0)
        if not buys or stock is None or named.id == market.library.water.id:
            return
        users = [block for block in self.blocks if block.may_use(material)]
        least = sum(block.least(material) for block in users)
        most = sum(block.most(material) for block in users)
        held = self.column(stock, whole=False) if stock > 0 else None
        own = [offer for offer in market.offers if offer.material == named.id]
        steps = self._steps(own, least, most)
        if steps is not None:
            self._buy_in_steps(material, needs, steps, held)
            return
        sources = [] if held is None else [(held, 1.0)]
        sources += [(self._offer(offer, material, most), 1.0) for offer in own]
        if not own:
            price = named.price / 1000.0
            sources.append((self.column(most, whole=False, cash=price, consumed=price), 1.0))
        unit = min((offer.size_g for offer in own), default=1000.0)
        balance = [(column, grams / unit) for column, grams in needs]
        self.row([*balance, *((column, -value / unit) for column, value in sources)], upper=0.0)
        if own and held is None and self.in_packs:
            bought = [(self.packs[offer], offer.price) for offer in own]
            for slope, start in underestimates(own, most, least):
                rising = [(column, -slope * grams) for column, grams in needs]
                self.row([*bought, *rising, (self.shelf[material], -start)], lower=0.0)

    def _steps(self, own: Sequence[Offer], least: float, most: float) -> list[tuple[float, float]] | None:
        """Return the steps (grams, cash) of a material's least cash; None where packs count for more than that.

        They do where their cheapest gram is counted too, or their supplier asks for an order of some size.
        """
        asking = {s.name for s in self.market.suppliers if s.minimum_order > 0 or s.delivery > 0}
        if not self.only_cash or not own or any(offer.supplier in asking for offer in own):
            return None
        known = bundles(own, most) or []
        return [step for step in known if step[0] >= least] or None

    def _buy_in_steps(
        self,
        material: int,
        needs: Sequence[tuple[int, float]],
        steps: Sequence[tuple[float, float]],
        held: int | None,
    ) -> None:
        """Pay for the first step with the place on the shelf, or where the stock is used up, and for others in turn.

        Steps are taken one after the other (H. M. Markowitz and A. S. Manne, Econometrica 25 (1957) 84; from memory):
        the relaxation of that is the lower convex hull of the steps.
        """
        unit = steps[0][0]
        before, sources = self.shelf[material], [] if held is None else [(held, -1.0 / unit)]
        paid, reached = 0.0, 0.0
        for grams, cash in steps:
            step = before
            if held is None and not reached:
                self.costs["cash"][step] = cash
            else:
                step = self.column(1.0, cash=cash - paid)
                self.row([(before, 1.0), (step, -1.0)], lower=0.0)
            holds = grams if grams == steps[-1][0] else grams * (1.0 - CLEAR)
            sources.append((step, -(holds - reached) / unit))
            before, paid, reached = step, cash, holds
        if len(sources) > 1:
            self.row([*((column, grams / unit) for column, grams in needs), *sources], upper=0.0)

    def _needs(self, material: int) -> list[tuple[int, float]]:
        return [
            (start + int(block.amounts[material]), block.grams)
            for start, block in zip(self.starts, self.blocks, strict=True)
            if block.may_use(material)
        ]

    def _offer(self, offer: Offer, material: int, most_g: float) -> int:
        """Add the packs of an offer; return the column of what is used of them [g]."""
        used = self.column(most_g, whole=False, consumed=offer.price / offer.size_g)
        self.used.setdefault(offer.supplier, []).append((used, most_g))
        if not self.in_packs:
            return used
        least_order = next((s.minimum_order for s in self.market.suppliers if s.name == offer.supplier), 0.0)
        fills = math.ceil(least_order / offer.price) if least_order and offer.price > 0 else 0
        most = max(math.ceil(most_g / offer.size_g), fills, offer.at_least)
        packs = self.column(most, cash=offer.price)
        self.row([(packs, 1.0 - CLEAR), (used, -1.0 / offer.size_g)], lower=0.0)
        self.row([(packs, 1.0), (self.shelf[material], -float(most))], upper=0.0)
        if offer.at_least > 1:
            taken = self.column(1.0)
            self.row([(packs, 1.0), (taken, -float(offer.at_least))], lower=0.0)
            self.row([(packs, 1.0), (taken, -float(most))], upper=0.0)
        self.packs[offer] = packs
        self.spending.setdefault(offer.supplier, []).append(offer)
        return used

    def add_orders(self) -> None:
        """Hold each supplier's least order, and pay what it charges for bringing one."""
        for supplier in self.market.suppliers:
            offers, used = self.spending.get(supplier.name, []), self.used.get(supplier.name, [])
            if not used or not (supplier.minimum_order > 0 or supplier.delivery > 0):
                continue
            charge = supplier.delivery
            order = self.column(1.0, cash=charge, consumed=charge)
            for column, most in used:
                self.row([(column, 1.0), (order, -most)], upper=0.0)
            for offer in offers:
                most = self.columns[self.packs[offer] - self.width][1]
                self.row([(self.packs[offer], 1.0), (order, -most)], upper=0.0)
            if supplier.minimum_order > 0 and offers:
                spent = [(self.packs[offer], offer.price) for offer in offers]
                self.row([*spent, (order, -supplier.minimum_order)], lower=0.0)

    def add_base(self, same: Sequence[int]) -> None:
        """Give every product the same percent of the materials of a shared base."""
        for material in same:
            places = [place for place, block in enumerate(self.blocks) if block.may_use(material)]
            columns = [self.starts[place] + int(self.blocks[place].amounts[material]) for place in places]
            if len(columns) < len(self.blocks):
                for column in columns:
                    self.row([(column, 1.0)], lower=0.0, upper=0.0)
            else:
                for column in columns[1:]:
                    self.row([(columns[0], 1.0), (column, -1.0)], lower=0.0, upper=0.0)

    def frozen(self) -> Joint:
        """Return what was written."""
        apart = side_by_side([block.form for block in self.blocks])
        form = extended(apart, self.columns, self.rows)
        whole = np.concatenate([apart.integer, np.array(self.whole, dtype=bool)])
        objectives = {name: np.zeros(form.columns) for name in self.costs}
        for name, costs in self.costs.items():
            objectives[name][list(costs)] = list(costs.values())
        return Joint(
            form=replace(form, integer=whole),
            blocks=self.blocks,
            starts=self.starts,
            shelf=self.shelf,
            packs=self.packs,
            objectives=objectives,
        )


def _single(block: Block, materials: Sequence[int]) -> list[int]:
    """Return the choices of the materials that have one choice alone, each once."""
    choices = (block.choices[material] for material in materials)
    return sorted({int(own[0]) for own in choices if len(own) == 1})
