"""Computes what one sold unit costs to make, and what its contents may cost at a shelf price."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from optiform.faults import BadInput, Fault
from optiform.library.models import Frozen, Library
from optiform.sheets.unit import Unit
from optiform.tolerances import ROUNDING

PARTS = ("contents", "packaging", "labour", "tests", "overhead")


class CostPart(Frozen):
    """One part of the cost of a unit: contents, packaging, labour, tests or overhead.

    `share_percent` is of the whole unit [%].
    """

    part: str
    per_unit: float
    share_percent: float
    how: str = ""


class MaterialCost(Frozen):
    """What one material costs in a unit, loss and overfill included; share of the contents [%]."""

    material: str
    name: str
    per_kg: float
    per_unit: float
    share_percent: float


class Ceiling(Frozen):
    """The highest cost of the contents, worked back from a shelf price.

    Attributes
    ----------
    net, revenue, allowed : float
        Shelf price without tax; the maker's part of it; what making may cost.
    left : float
        What remains for the contents of a unit; below 0: nothing does.
    per_kg : float, optional
        The same per kg of formula; None where nothing remains.
    """

    shelf_price: float
    net: float
    revenue: float
    allowed: float
    left: float
    per_kg: float | None


class Scenario(Frozen):
    """The cost of a unit at one batch size; `left_over_g` is bulk that fills no unit."""

    batch_g: float
    units: int
    contents: float
    packaging: float
    labour: float
    tests: float
    overhead: float
    total: float
    left_over_g: float


class UnitCost(Frozen):
    """The cost of one unit.

    Attributes
    ----------
    nominal_g, fill_g, unit_g : float  [g]
        Content as labelled, as filled, and as charged with its share of samples and what is lost on the way.
    units : int
        Units that the batch fills.
    cost_per_kg : float
        Of the formula.
    samples_g : float  [g]
        Retained and test samples of the batch.
    """

    currency: str
    batch_g: float
    nominal_g: float
    fill_g: float
    unit_g: float
    units: int
    cost_per_kg: float
    parts: tuple[CostPart, ...]
    total: float
    materials: tuple[MaterialCost, ...]
    ceiling: Ceiling | None
    scenarios: tuple[Scenario, ...]
    notes: tuple[str, ...] = ()
    samples_g: float = 0.0


def grams_for_one(unit: Unit, file: str = "") -> float:
    """Return the grams weighed in for one unit of any product, without samples [g].

    Raises
    ------
    BadInput
        For a content by volume without a density: products differ in it.
    """
    if unit.contents_g is None and unit.density is None:
        message = "missing beside contents_ml: it stands for every product"
        raise BadInput([Fault(file, "[unit] density", message, "g/ml, or contents_g")])
    fill = _nominal(unit, None, file) * (1.0 + unit.overfill_percent / 100.0)
    return fill / (unit.yield_percent / 100.0)


def unit_cost(
    amounts: Mapping[str, float],
    library: Library,
    unit: Unit,
    batch_g: float,
    density: float | None = None,
    file: str = "",
) -> UnitCost:
    """Return what a unit costs, part by part, and the same at other batch sizes.

    Parameters
    ----------
    amounts : mapping of str to float  [% w/w]
        Material id and amount.
    batch_g : float  [g]
    density : float, optional  [g/ml]
        Stands in where the unit gives a volume without a measured density.

    Raises
    ------
    BadInput
        No density for a content by volume; a batch that does not fill one unit.

    Notes
    -----
    Charged per unit: (nominal content * (1 + overfill) + samples of the batch / its units) / yield. Bulk that is
    left because it does not fill a whole unit is shown, not charged.
    """
    nominal = _nominal(unit, density, file)
    fill = nominal * (1.0 + unit.overfill_percent / 100.0)
    per_kg = math.fsum(percent * library.material[name].price for name, percent in amounts.items()) / 100.0
    sizes = (batch_g, *(size for size in dict.fromkeys(unit.batches_g) if size != batch_g))
    _refuse_small(
        [size for size in sizes if _units(size, fill, unit) < 1], batch_g, _charged(unit, fill, 1), file
    )
    scenarios = tuple(_scenario(size, fill, per_kg, unit) for size in sizes)
    here = scenarios[0]
    charged = _charged(unit, fill, here.units)
    return UnitCost(
        currency=library.currency,
        batch_g=batch_g,
        nominal_g=nominal,
        fill_g=fill,
        unit_g=charged,
        units=here.units,
        cost_per_kg=per_kg,
        parts=_parts(here, _how(unit, here, per_kg, charged)),
        total=here.total,
        materials=_materials(amounts, library, charged, per_kg),
        ceiling=_ceiling(unit, here, charged),
        scenarios=tuple(sorted(scenarios, key=lambda scenario: scenario.batch_g))
        if len(scenarios) > 1
        else (),
        notes=tuple(_notes(unit, library, density, here)),
        samples_g=unit.samples_g,
    )


def _refuse_small(sizes: Sequence[float], batch_g: float, least_g: float, file: str) -> None:
    """Refuse batch sizes [g] that fill no unit."""
    if sizes:
        raise BadInput(
            Fault(
                "" if size == batch_g else file,
                "--batch" if size == batch_g else "[unit] batches_g",
                f"{size:g} g do not fill one unit",
                f"at least {least_g:.4g} g",
            )
            for size in sizes
        )


def _parts(here: Scenario, how: Iterable[str]) -> tuple[CostPart, ...]:
    """Return each part of the cost with how it was worked out."""
    return tuple(
        CostPart(
            part=part,
            per_unit=getattr(here, part),
            share_percent=100.0 * getattr(here, part) / here.total if here.total else 0.0,
            how=told,
        )
        for part, told in zip(PARTS, how, strict=True)
    )


def _nominal(unit: Unit, density: float | None, file: str) -> float:
    if unit.contents_g is not None:
        return unit.contents_g
    used = unit.density if unit.density is not None else density
    if used is None or unit.contents_ml is None:
        message = "missing beside contents_ml, and too few materials have one to estimate it"
        raise BadInput([Fault(file, "[unit] density", message, "g/ml, or contents_g")])
    return unit.contents_ml * used


def _units(batch_g: float, fill: float, unit: Unit) -> int:
    return math.floor((batch_g * unit.yield_percent / 100.0 - unit.samples_g) / fill * (1.0 + ROUNDING))


def _charged(unit: Unit, fill: float, units: int) -> float:
    """Return the grams weighed in for one of some units: its filling and its share of the samples."""
    return (fill + unit.samples_g / units) / (unit.yield_percent / 100.0)


def _scenario(batch_g: float, fill: float, per_kg: float, unit: Unit) -> Scenario:
    units = _units(batch_g, fill, unit)
    hours = unit.labour_h / units + unit.labour_min_per_unit / 60.0
    once = unit.tests_once / unit.tests_over_units if unit.tests_over_units else 0.0
    costs = {
        "contents": per_kg * _charged(unit, fill, units) / 1000.0,
        "packaging": math.fsum(
            piece.price * piece.pieces * (1.0 + piece.rejects_percent / 100.0) for piece in unit.packaging
        ),
        "labour": hours * unit.labour_rate + unit.labour_per_unit,
        "tests": unit.tests_per_unit + unit.tests_per_batch / units + once,
        "overhead": unit.overhead_per_unit + unit.overhead_per_batch / units,
    }
    left = max(0.0, batch_g * unit.yield_percent / 100.0 - unit.samples_g - units * fill)
    return Scenario(
        batch_g=batch_g,
        units=units,
        **costs,
        total=math.fsum(costs.values()),
        left_over_g=left if left > ROUNDING * batch_g else 0.0,
    )


def _how(unit: Unit, here: Scenario, per_kg: float, charged: float) -> tuple[str, ...]:
    """Return in a few words how each part was worked out."""
    contents = f"{charged:.1f} g at {per_kg:.2f} per kg"
    packaging = ", ".join(
        f"{piece.name} {piece.price:g}"
        + (f" × {piece.pieces:g}" if piece.pieces != 1 else "")
        + (f" + {piece.rejects_percent:g} % rejects" if piece.rejects_percent else "")
        for piece in unit.packaging
    )
    labour = []
    if unit.labour_h:
        labour.append(f"{unit.labour_h:g} h a batch over {here.units} units at {unit.labour_rate:g} per h")
    if unit.labour_min_per_unit:
        labour.append(f"{unit.labour_min_per_unit:g} min a unit at {unit.labour_rate:g} per h")
    if unit.labour_per_unit:
        labour.append(f"{unit.labour_per_unit:g} a unit")
    tests = _sums(unit.tests_per_unit, unit.tests_per_batch, here.units)
    if unit.tests_once:
        tests.append(f"{unit.tests_once:g} once over {unit.tests_over_units} units")
    overhead = _sums(unit.overhead_per_unit, unit.overhead_per_batch, here.units)
    return contents, packaging, "; ".join(labour), "; ".join(tests), "; ".join(overhead)


def _sums(per_unit: float, per_batch: float, units: int) -> list[str]:
    found = [f"{per_unit:g} a unit"] if per_unit else []
    return [*found, f"{per_batch:g} a batch over {units} units"] if per_batch else found


def _materials(
    amounts: Mapping[str, float], library: Library, charged: float, per_kg: float
) -> tuple[MaterialCost, ...]:
    found = []
    for name, percent in amounts.items():
        material = library.material[name]
        part = percent * material.price / 100.0
        found.append(
            MaterialCost(
                material=name,
                name=material.name,
                per_kg=part,
                per_unit=part * charged / 1000.0,
                share_percent=100.0 * part / per_kg if per_kg else 0.0,
            )
        )
    return tuple(sorted(found, key=lambda line: (-line.per_unit, line.material)))


def _ceiling(unit: Unit, here: Scenario, charged: float) -> Ceiling | None:
    """Return the ceiling worked back from the shelf price; None without one."""
    if unit.shelf_price is None:
        return None
    net = unit.shelf_price / (1.0 + unit.vat_percent / 100.0)
    revenue = net * (1.0 - unit.retailer_percent / 100.0)
    allowed = revenue * unit.cost_percent / 100.0
    left = allowed - (here.packaging + here.labour + here.tests + here.overhead)
    return Ceiling(
        shelf_price=unit.shelf_price,
        net=net,
        revenue=revenue,
        allowed=allowed,
        left=left,
        per_kg=1000.0 * left / charged if left > 0 else None,
    )


def _notes(unit: Unit, library: Library, density: float | None, here: Scenario) -> list[str]:
    notes = []
    trust = library.trust.get("price")
    if trust is not None:
        notes.append(f"Prices of materials: {trust}.")
    missing = [part for part in PARTS[1:] if getattr(here, part) == 0]
    if missing:
        notes.append(f"Nothing is charged for: {', '.join(missing)}.")
    if unit.contents_g is None and unit.density is None and density is not None:
        notes.append(f"The content in grams rests on an estimated density of {density:.3f} g/ml; measure it.")
    if unit.samples_g:
        notes.append(f"{unit.samples_g:.4g} g of every batch are samples: its units pay for them.")
    if here.left_over_g:
        notes.append(f"{here.left_over_g:.4g} g of bulk fill no unit and are not charged.")
    return notes
