"""Reads a unit file: the contents, packaging, labour and losses of one sold unit."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from optiform.brief.validation import read_one
from optiform.faults import Faults, nearest
from optiform.library.files.toml_file import read_toml
from optiform.library.models import Frozen

Money = Annotated[float, Field(strict=True, ge=0, le=1e9)]
Above = Annotated[float, Field(strict=True, gt=0, le=1e9)]
Percent = Annotated[float, Field(strict=True, ge=0, le=100)]
Yield = Annotated[float, Field(strict=True, gt=0, le=100)]
Margin = Annotated[float, Field(strict=True, ge=0, lt=100)]
Vat = Annotated[float, Field(strict=True, ge=0, le=1000)]
Whole = Annotated[int, Field(strict=True, ge=1, le=10**9)]


class Packaging(Frozen):
    """One piece of packaging of a unit."""

    name: str = Field(min_length=1, description="e.g. bottle, pump, label, carton")
    price: Money = Field(description="per piece")
    pieces: Above = Field(default=1.0, description="pieces per unit; 0.0833 for a carton of twelve")
    rejects_percent: Percent = Field(default=0.0, description="spoilt pieces per 100 that are used")


class Unit(Frozen):
    """One sold unit; every key but the contents is optional, and costs nothing where it is absent.

    Money is in the library's currency, percent in percent, everything per unit unless its name says so.
    """

    contents_ml: Above | None = Field(default=None, description="nominal content by volume; or contents_g")
    contents_g: Above | None = Field(default=None, description="nominal content by weight; or contents_ml")
    density: Above | None = Field(default=None, description="measured, g/ml, free of air")
    overfill_percent: Percent = Field(default=0.0, description="filled above the nominal content")
    yield_percent: Yield = Field(default=100.0, description="bulk that reaches a bottle, of all weighed in")
    retained_g: Money = Field(default=0.0, description="retained samples of every batch, together, g")
    tested_g: Money = Field(
        default=0.0, description="samples for tests of every batch (microbiology, stability), together, g"
    )
    claims: tuple[str, ...] = Field(
        default=(),
        description="what the label says of the wash: words that need proof or a licence are named",
    )
    packaging: tuple[Packaging, ...] = Field(
        default=(), description="list of name, price, pieces, rejects_percent"
    )
    labour_h: Money = Field(default=0.0, description="hours per batch, whatever its size")
    labour_min_per_unit: Money = Field(default=0.0, description="minutes of filling and labelling")
    labour_rate: Money = Field(default=0.0, description="per hour")
    labour_per_unit: Money = Field(default=0.0, description="instead of hours: a sum per unit")
    tests_per_unit: Money = Field(default=0.0, description="a sum per unit")
    tests_per_batch: Money = Field(default=0.0, description="fees for every batch")
    tests_once: Money = Field(default=0.0, description="fees paid once: challenge test, safety assessment")
    tests_over_units: Whole | None = Field(default=None, description="units that carry tests_once")
    overhead_per_unit: Money = Field(default=0.0, description="a sum per unit")
    overhead_per_batch: Money = Field(default=0.0, description="a sum per batch")
    shelf_price: Above | None = Field(default=None, description="what the buyer pays, tax included")
    vat_percent: Vat = Field(default=0.0, description="tax inside the shelf price, on the net price")
    retailer_percent: Margin = Field(default=0.0, description="the shop's part of the net price")
    cost_percent: Percent = Field(
        default=100.0, description="of the maker's revenue, the most that making may cost"
    )
    batches_g: tuple[Above, ...] = Field(default=(), description="other batch sizes to compare, in grams")

    @property
    def samples_g(self) -> float:
        """Return the grams of every batch that go into samples and no unit [g]."""
        return self.retained_g + self.tested_g


def load_unit(path: str | Path) -> Unit:
    """Read a unit file: a TOML file with one table, `[unit]`.

    Raises
    ------
    BadInput
        With every fault: unknown keys, values out of range, contents missing or given twice.
    """
    faults = Faults(str(path))
    mapping = read_toml(Path(path), faults)
    faults.raise_if_any()
    return unit_from(mapping or {}, str(path))


def unit_from(mapping: Mapping[str, Any], file: str = "") -> Unit:
    """Return a unit from the keys of a unit file, or raise `BadInput` with every fault."""
    faults = Faults(file)
    for key in mapping:
        if key != "unit":
            near = nearest(str(key), ("unit", *Unit.model_fields))
            hint = f"[unit], {near}" if near in Unit.model_fields else near
            faults.add(str(key), "unknown key", allowed="one table, [unit]", nearest=hint)
    if "unit" not in mapping:
        faults.add("[unit]", "missing", allowed="a table with contents_ml or contents_g")
        faults.raise_if_any()
    unit = read_one(Unit, mapping.get("unit"), "[unit]", faults)
    if unit is not None:
        _check(unit, faults)
    faults.raise_if_any()
    assert unit is not None
    return unit


def _check(unit: Unit, faults: Faults) -> None:
    """Note faults of keys that do not fit each other."""
    if unit.contents_ml is None and unit.contents_g is None:
        faults.add("[unit] contents_ml", "missing", allowed="contents_ml, or contents_g")
    if unit.contents_ml is not None and unit.contents_g is not None:
        faults.add("[unit] contents_g", "the content is given twice", allowed="contents_ml, or contents_g")
    if unit.tests_once and unit.tests_over_units is None:
        faults.add("[unit] tests_over_units", "missing", allowed="how many units carry tests_once")
    if (unit.labour_h or unit.labour_min_per_unit) and not unit.labour_rate:
        faults.add("[unit] labour_rate", "missing beside hours", allowed="money per hour, above 0")
