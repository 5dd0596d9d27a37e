"""Reads a family plan: the briefs, batches, shelf and suppliers of several products."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from optiform.brief import Brief, load_brief
from optiform.brief.validation import read_list, read_one, refuse_unknown
from optiform.faults import BadInput, Fault, Faults, nearest
from optiform.library import Library, load_library
from optiform.library.checking.names import Names
from optiform.library.files.toml_file import read_toml
from optiform.library.models import Frozen
from optiform.library.overrides import read_prices
from optiform.library.selection import FUNCTIONS, select
from optiform.library.typed.masses import mass_of
from optiform.sheets.purchase.offers import Offer, Supplier, Whole
from optiform.sheets.purchase.plan import check_packs, check_suppliers, plain_keys, stock_named
from optiform.sheets.purchase.quotes import PackKeys, Quotes, Rate, RatesKeys, SupplierKeys, quoted
from optiform.sheets.purchase.shopping import stock_of

Goal = Literal["cash", "consumed", "materials"]
Part = Annotated[float, Field(strict=True, ge=0, le=10)]
Percent = Annotated[float, Field(strict=True, ge=0, le=100)]
Factor = Annotated[float, Field(strict=True, gt=0, le=1000)]
MOST_PRODUCTS = 40


class FamilyKeys(Frozen):
    """The keys of a family plan, tables apart."""

    title: str = Field(min_length=1, description="what the family is called")
    library: str | None = Field(
        default=None, description="library folder of every brief; absent: the one that the briefs name"
    )
    stock: str | None = Field(
        default=None, description="CSV material,stock_g; absent: the library's own stock"
    )
    minimise: Goal = Field(
        default="cash",
        description="cash: least money out; consumed: least money for what is used; materials: fewest on the shelf",
    )
    then: tuple[Goal, ...] = Field(
        default=(), description="what breaks ties, in turn; what all batches cost per kg always comes last"
    )
    gap: Part = Field(
        default=0.001,
        description="cash is proven to be the least but for this part of it; 0 closes the proof",
    )
    spare_percent: Percent = Field(default=0.0, description="bought, and made of a base, above the need")


class ShelfKeys(Frozen):
    """The table `[shelf]`."""

    materials_at_most: Whole | None = Field(
        default=None, description="most materials over all products; water does not count"
    )
    keep: tuple[str, ...] = Field(default=(), description="materials that some product has to use, by id")


class BaseKeys(Frozen):
    """The table `[base]`."""

    same: tuple[str, ...] = Field(
        min_length=1,
        description="functions of which every product has the same materials at the same percent",
    )


class ProductKeys(Frozen):
    """One `[[product]]`."""

    brief: str = Field(min_length=1, description="its brief, a TOML file")
    batch: str = Field(min_length=1, description='size of one batch, e.g. "5kg"')
    times: Whole = Field(default=1, description="batches of that size")
    within: Part | None = Field(
        default=None,
        description="how far its aim may be behind its own best, as a part of that; absent: any way",
    )
    title: str = Field(default="", description="a name of your own; otherwise the brief's")


class ScenarioKeys(Frozen):
    """One `[[scenario]]`: the same family under other circumstances."""

    title: str = Field(min_length=1, description="what is different")
    times: Factor = Field(default=1.0, description="all batches so many times as large")
    prices: str | None = Field(
        default=None, description="CSV material,price: packs change in proportion to the price per kg"
    )
    without: tuple[str, ...] = Field(default=(), description="materials that cannot be had, by id")
    without_supplier: tuple[str, ...] = Field(default=(), description="suppliers that cannot deliver")
    supplier_times: dict[str, Factor] = Field(
        default_factory=dict, description="by supplier: its prices so many times as high"
    )
    rates: dict[str, Rate] = Field(
        default_factory=dict, description="by currency: another rate than that of [rates]"
    )
    materials_at_most: Whole | None = Field(default=None, description="in place of that of [shelf]")


LISTS: dict[str, type[Frozen]] = {
    "product": ProductKeys, "pack": PackKeys, "supplier": SupplierKeys, "scenario": ScenarioKeys,
}  # fmt: skip
TABLES: dict[str, type[Frozen]] = {"shelf": ShelfKeys, "base": BaseKeys, "rates": RatesKeys}


@dataclass(frozen=True)
class Planned:
    """One product of a family: its brief, and how much of it is made.

    Attributes
    ----------
    grams : float  [g]
        Of all its batches.
    within : float, optional
        How far its aim may be behind its own best, as a part of that.
    times : int
        Batches, all of one size.
    """

    title: str
    brief: Brief = field(repr=False)
    grams: float
    within: float | None = None
    times: int = 1


@dataclass(frozen=True)
class Scenario:
    """The same family under other circumstances, checked against its library."""

    title: str
    times: float = 1.0
    prices: Mapping[str, float] = field(default_factory=dict)
    without: tuple[str, ...] = ()
    without_supplier: tuple[str, ...] = ()
    supplier_times: Mapping[str, float] = field(default_factory=dict)
    rates: Mapping[str, float] = field(default_factory=dict)
    at_most: int | None = None


@dataclass(frozen=True)
class FamilyPlan:
    """A plan that was read and checked against its library.

    Attributes
    ----------
    at_most : int, optional
        Materials over all products; water does not count.
    keep : tuple of str
        Materials that some product has to use.
    same : tuple of str
        Functions of which all products have the same materials at the same percent.
    without : tuple of str
        Materials that no product may use.
    """

    title: str
    library: Library = field(repr=False)
    products: tuple[Planned, ...]
    minimise: Goal = "cash"
    then: tuple[Goal, ...] = ()
    at_most: int | None = None
    keep: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    stock: Mapping[str, float | None] = field(default_factory=dict, repr=False)
    offers: tuple[Offer, ...] = field(default=(), repr=False)
    suppliers: tuple[Supplier, ...] = ()
    spare_percent: float = 0.0
    gap: float = 0.001
    without: tuple[str, ...] = ()
    scenarios: tuple[Scenario, ...] = ()
    quotes: Quotes | None = None
    file: str = ""


def load_family(path: str | Path) -> FamilyPlan:
    """Read the plan of a family; paths in it are relative to its folder.

    Raises
    ------
    BadInput
        With every fault of the plan, its library, stock, price lists and briefs.
    """
    path = Path(path)
    faults = Faults(str(path))
    mapping = read_toml(path, faults)
    faults.raise_if_any()
    return _Reading(mapping or {}, path, faults).plan()


class _Reading:
    """A plan while it is read."""

    def __init__(self, mapping: Mapping[str, Any], path: Path, faults: Faults) -> None:
        self.mapping, self.path, self.faults = mapping, path, faults
        refuse_unknown(mapping, (*FamilyKeys.model_fields, *TABLES, *LISTS), faults)
        plain = {key: value for key, value in mapping.items() if key in FamilyKeys.model_fields}
        self.keys = plain_keys(FamilyKeys, plain, faults)
        self.shelf = self._table("shelf", ShelfKeys())
        self.base = self._table("base", None)
        self.lists = {name: read_list(model, mapping, name, faults) for name, model in LISTS.items()}
        self.held: Library | None = None

    def _table(self, name: str, absent: Any) -> Any:
        written = self.mapping.get(name)
        if written is None:
            return absent
        if not isinstance(written, dict):
            self.faults.add(f"[{name}]", "is not a table", allowed=f"a table [{name}]")
            return absent
        return read_one(TABLES[name], written, f"[{name}]", self.faults) or absent

    def plan(self) -> FamilyPlan:
        """Return the plan, or raise all that is wrong with it."""
        products = self._products()
        held, folder = self.held, self.path.parent
        if held is None:
            self.faults.raise_if_any()
        assert held is not None
        stock = stock_named(self.keys.stock if self.keys else None, folder, held, self.faults)
        check_packs(self.mapping, held, self.faults)
        lists = self.lists
        offers, suppliers, quotes = quoted(self.mapping, lists["pack"], lists["supplier"], held, self.faults)
        check_suppliers(self.lists["supplier"], offers, self.faults)
        self._check_names(self.shelf.keep, "[shelf] keep", held)
        self._check_base()
        scenarios = tuple(
            self._scenario(number, one, held, offers, quotes) for number, one in self.lists["scenario"]
        )
        self.faults.raise_if_any()
        assert self.keys is not None
        return FamilyPlan(
            title=self.keys.title,
            library=held,
            products=products,
            minimise=self.keys.minimise,
            then=self.keys.then,
            at_most=self.shelf.materials_at_most,
            keep=self.shelf.keep,
            same=self.base.same if self.base else (),
            stock=stock_of(held) if stock is None else stock,
            offers=offers,
            suppliers=suppliers,
            spare_percent=self.keys.spare_percent,
            gap=self.keys.gap,
            scenarios=scenarios,
            quotes=quotes,
            file=str(self.path),
        )

    def _products(self) -> tuple[Planned, ...]:
        written = self.mapping.get("product")
        if not written:
            bought = "; a plan of formulas is for optiform shop" if "make" in self.mapping else ""
            allowed = f"one [[product]] each, with brief and batch{bought}"
            self.faults.add("[[product]]", "missing", allowed=allowed)
        elif isinstance(written, list) and len(written) > MOST_PRODUCTS:
            message = f"{len(written)} products"
            self.faults.add("[[product]]", message, allowed=f"at most {MOST_PRODUCTS}")
            return ()
        one = _OneLibrary()
        name = self.keys.library if self.keys is not None else None
        try:
            if name is not None:
                one.load(self.path.parent / name)
            products = [self._product(number, keys, one) for number, keys in self.lists["product"]]
        except BadInput as bad:
            self.faults.found.extend(bad.faults)
            products = []
        self.held = one.library
        titles = [product.title for product in products if product is not None]
        for title in sorted({title for title in titles if titles.count(title) > 1}):
            self.faults.add(
                "[[product]] title", f"'{title}' stands twice", allowed="a title of its own for each"
            )
        return tuple(product for product in products if product is not None)

    def _product(self, number: int, keys: ProductKeys, one: _OneLibrary) -> Planned | None:
        grams = mass_of(keys.batch, f"[[product]] {number}, batch", self.faults)
        try:
            brief = load_brief(self.path.parent / keys.brief, one.load)
        except BadInput as bad:
            self.faults.found.extend(bad.faults)
            return None
        if grams is None:
            return None
        return Planned(keys.title or brief.title, brief, grams * keys.times, keys.within, keys.times)

    def _check_names(self, names: tuple[str, ...], place: str, held: Library) -> None:
        known = Names(held.material)
        for name in names:
            if name not in known:
                message = f"there is no material '{name}' in the library"
                self.faults.add(place, message, nearest=known.nearest(name))

    def _check_base(self) -> None:
        for word in self.base.same if self.base else ():
            if word not in FUNCTIONS:
                self.faults.add(
                    "[base] same",
                    f"'{word}' is no function",
                    allowed=", ".join(FUNCTIONS),
                    nearest=nearest(word, FUNCTIONS),
                )

    def _scenario(
        self,
        number: int,
        keys: ScenarioKeys,
        held: Library,
        offers: tuple[Offer, ...],
        quotes: Quotes | None,
    ) -> Scenario:
        place, prices = f"[[scenario]] {number}", dict[str, float]()
        self._check_names(keys.without, f"{place}, without", held)
        sellers = sorted({offer.supplier for offer in offers if offer.supplier})
        for key, names in (
            ("without_supplier", keys.without_supplier),
            ("supplier_times", tuple(keys.supplier_times)),
        ):
            for name in names:
                if name not in sellers:
                    self.faults.add(
                        f"{place}, {key}",
                        f"'{name}' sells no pack known here",
                        allowed=", ".join(sellers),
                        nearest=nearest(name, sellers),
                    )
        known = () if quotes is None else tuple(quotes.rates)
        for name in keys.rates:
            if name not in known:
                message = f"'{name}' has no rate in [rates] that could change"
                self.faults.add(
                    f"{place}, rates", message, allowed=", ".join(known), nearest=nearest(name, known)
                )
        if keys.prices is not None:
            try:
                prices = read_prices(self.path.parent / keys.prices, held)
            except BadInput as bad:
                self.faults.found.extend(bad.faults)
        return Scenario(
            title=keys.title,
            times=keys.times,
            prices=prices,
            without=keys.without,
            without_supplier=keys.without_supplier,
            supplier_times=keys.supplier_times,
            rates=keys.rates,
            at_most=keys.materials_at_most,
        )


class _OneLibrary:
    """Reads the library of a plan once, and refuses a brief that names another one."""

    def __init__(self) -> None:
        self.library: Library | None = None
        self.place: Path | None = None

    def load(self, path: Path | None) -> Library:
        """Return the library."""
        place = None if path is None else path.resolve()
        if self.library is None:
            self.library, self.place = load_library(path), place
        elif place != self.place:
            name = "the starter library" if self.place is None else str(self.place)
            fault = Fault("", "library", "a family has one shelf, and so one library", f"here: {name}")
            raise BadInput([fault])
        return self.library


def of_functions(library: Library, words: tuple[str, ...]) -> tuple[str, ...]:
    """Return the ids of materials that have any of some functions, water not counted, in library order."""
    found = {name for word in words for name in select(library, "function", word).sure}
    return tuple(m.id for m in library.materials if m.id in found and m.id != library.water.id)


def goals_of(plan: FamilyPlan) -> tuple[str, ...]:
    """Return the goals in their order; the cost of all batches comes last where no other money is counted."""
    goals = tuple(dict.fromkeys((plan.minimise, *plan.then)))
    return goals if {"cash", "consumed"} & set(goals) else (*goals, "cost")


def money_of(plan: FamilyPlan) -> str:
    """Return the money that a plan counts in."""
    return next(goal for goal in goals_of(plan) if goal != "materials")
