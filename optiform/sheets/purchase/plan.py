"""Reads a shopping plan: which products are made, from which stock, bought from which suppliers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any, TypeVar

from pydantic import Field

from optiform.brief.validation import read_list, read_one, refuse_unknown
from optiform.faults import Faults, nearest
from optiform.library import Library, load_library
from optiform.library.checking.names import Names
from optiform.library.files.toml_file import read_toml
from optiform.library.models import Frozen
from optiform.library.overrides import read_shelf
from optiform.library.typed.masses import mass_of
from optiform.sheets.purchase.offers import Aim, Offer, Supplier, Whole
from optiform.sheets.purchase.quotes import PackKeys, Quotes, SupplierKeys, quoted
from optiform.sheets.purchase.shopping import Make, Shopping, shopping
from optiform.sheets.weighable import read_weighable_formula
from optiform.solver import NO_LIMIT, Clock

Keys = TypeVar("Keys", bound=Frozen)


class MakeKeys(Frozen):
    """One `[[make]]`: a product and how much of it."""

    formula: str = Field(min_length=1, description="formula CSV, or JSON of a saved answer")
    batch: str = Field(min_length=1, description='size of one batch, e.g. "5kg"')
    times: Whole = Field(default=1, description="batches of that size")
    rank: Whole | None = Field(default=None, description="which formula of a saved answer; absent: the first")
    title: str = Field(default="", description="a name of your own; otherwise the formula's")


class PlanKeys(Frozen):
    """The keys of a plan file, lists apart."""

    title: str = Field(min_length=1, description="what the plan is for")
    library: str | None = Field(default=None, description="library folder; absent: the starter library")
    stock: str | None = Field(
        default=None, description="CSV material,stock_g; absent: the library's own stock"
    )
    aim: Aim = Field(
        default="cash", description="cash: least money out; consumed: least money for what is used"
    )
    spare_percent: Annotated[float, Field(strict=True, ge=0, le=100)] = Field(
        default=0.0, description="bought above the need"
    )


LISTS: dict[str, type[Frozen]] = {"make": MakeKeys, "pack": PackKeys, "supplier": SupplierKeys}


@dataclass(frozen=True)
class Plan:
    """A plan that was read and checked against its library."""

    title: str
    library: Library
    makes: tuple[Make, ...]
    stock: dict[str, float | None] | None
    offers: tuple[Offer, ...]
    suppliers: tuple[Supplier, ...]
    aim: Aim = "cash"
    spare_percent: float = 0.0
    quotes: Quotes | None = None
    file: str = ""

    def shopping(self, clock: Clock = NO_LIMIT) -> Shopping:
        """Return what to buy for the plan; see `optiform.sheets.purchase.shopping.shopping`."""
        found = shopping(
            self.makes,
            self.library,
            stock=self.stock,
            offers=self.offers,
            suppliers=self.suppliers,
            aim=self.aim,
            spare_percent=self.spare_percent,
            clock=clock,
        )
        paid = () if self.quotes is None else self.quotes.paid(found)
        return found.model_copy(update={"title": self.title, "notes": (*paid, *found.notes)})


def load_plan(path: str | Path, library: Library | None = None) -> Plan:
    """Read a plan file; paths in it are relative to its folder.

    Parameters
    ----------
    library : Library, optional
        Stands in for the library that the plan names.

    Raises
    ------
    BadInput
        With every fault of the plan, its library, stock and formulas.
    """
    path = Path(path)
    faults = Faults(str(path))
    mapping = read_toml(path, faults)
    faults.raise_if_any()
    return _plan(mapping or {}, path, library, faults)


def _plan(mapping: Mapping[str, Any], path: Path, library: Library | None, faults: Faults) -> Plan:
    refuse_unknown(mapping, (*PlanKeys.model_fields, "rates", *LISTS), faults)
    plain = {key: value for key, value in mapping.items() if key in PlanKeys.model_fields}
    keys = plain_keys(PlanKeys, plain, faults)
    lists = {name: read_list(model, mapping, name, faults) for name, model in LISTS.items()}
    _check_masses(mapping, {number for number, _ in lists["make"]}, faults)
    if not mapping.get("make"):
        faults.add("[[make]]", "missing", allowed="one [[make]] per product, with formula and batch")
    named = keys.library if keys is not None else mapping.get("library")
    held = library if library is not None else _library(named, path.parent, faults)
    makes: list[Make] = []
    stock: dict[str, float | None] | None = None
    offers, suppliers, quotes = tuple[Offer, ...](), tuple[Supplier, ...](), None
    if held is not None:
        makes = [
            make for number, entry in lists["make"] if (make := _make(entry, number, path, held, faults))
        ]
        stock = stock_named(None if keys is None else keys.stock, path.parent, held, faults)
        check_packs(mapping, held, faults)
        offers, suppliers, quotes = quoted(mapping, lists["pack"], lists["supplier"], held, faults)
        check_suppliers(lists["supplier"], offers, faults)
    faults.raise_if_any()
    assert keys is not None and held is not None
    return Plan(
        title=keys.title,
        library=held,
        makes=tuple(makes),
        stock=stock,
        offers=offers,
        suppliers=suppliers,
        aim=keys.aim,
        spare_percent=keys.spare_percent,
        quotes=quotes,
        file=str(path),
    )


def plain_keys(model: type[Keys], written: Mapping[str, Any], faults: Faults) -> Keys | None:
    """Return the keys outside tables; their faults name the key alone."""
    own = Faults(faults.file)
    keys = read_one(model, written, "the plan", own)
    faults.found += [replace(fault, place=fault.place.removeprefix("the plan, ")) for fault in own.found]
    return keys


def _library(name: object, folder: Path, faults: Faults) -> Library | None:
    if name is not None and not isinstance(name, str):
        return None
    with faults.gathering():
        return load_library(folder / name if name is not None else None)
    return None


def _make(keys: MakeKeys, number: int, path: Path, library: Library, faults: Faults) -> Make | None:
    batch = mass_of(keys.batch, f"[[make]] {number}, batch", faults)
    with faults.gathering():
        typed = read_weighable_formula(path.parent / keys.formula, library, keys.rank, batch)
        if batch is not None:
            return Make(title=keys.title or typed.name, lines=typed.lines, batch_g=batch, times=keys.times)
    return None


def _check_masses(mapping: Mapping[str, Any], read: set[int], faults: Faults) -> None:
    """Note batch sizes that are no mass, also in entries of which other keys are wrong."""
    written = mapping.get("make")
    for number, entry in enumerate(written if isinstance(written, list) else (), 1):
        batch = entry.get("batch") if isinstance(entry, dict) else None
        if number not in read and isinstance(batch, str):
            mass_of(batch, f"[[make]] {number}, batch", faults)


def stock_named(
    name: str | None, folder: Path, library: Library, faults: Faults
) -> dict[str, float | None] | None:
    """Return the stock in the file that a plan names [g], None without one, after noting what is wrong in it."""
    with faults.gathering():
        return None if name is None else read_shelf(folder / name, library)
    return None


def check_packs(mapping: Mapping[str, Any], library: Library, faults: Faults) -> None:
    """Note packs of materials that the library does not have, also where other keys are wrong."""
    known = Names(library.material)
    written = mapping.get("pack")
    for number, entry in enumerate(written if isinstance(written, list) else (), 1):
        name = entry.get("material") if isinstance(entry, dict) else None
        if isinstance(name, str) and name and name.strip() not in known:
            message = f"there is no material '{name}' in the library"
            faults.add(f"[[pack]] {number}, material", message, nearest=known.nearest(name))


def check_suppliers(entries: list[tuple[int, Any]], offers: tuple[Offer, ...], faults: Faults) -> None:
    """Note suppliers that are listed twice, or sell no pack of the plan or its library."""
    names = sorted({offer.supplier for offer in offers if offer.supplier})
    seen: dict[str, int] = {}
    for number, keys in entries:
        place = f"[[supplier]] {number}, name"
        if keys.name not in names:
            message = f"'{keys.name}' sells no pack known here"
            faults.add(place, message, allowed=", ".join(names), nearest=nearest(keys.name, names))
        if seen.setdefault(keys.name, number) != number:
            faults.add(place, f"'{keys.name}' stands already in [[supplier]] {seen[keys.name]}")
