"""Returns a library at other prices, or with only what stands on the shelf."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pydantic import Field

from optiform.faults import BadInput, Fault, Faults
from optiform.library.checking.names import Names
from optiform.library.files.columns import Entries
from optiform.library.files.tables import no_collection, row_of
from optiform.library.files.typed_tables import Entry, columns_of, read_entries
from optiform.library.models import MOST_GRAMS, MOST_MONEY, Frozen, Library, Material, Trust


class PriceRow(Frozen):
    """The price of one material, per kg as supplied."""

    material: str
    price: float = Field(ge=0, le=MOST_MONEY)


class StockRow(Frozen):
    """One material on the shelf; without an amount there is enough of it."""

    material: str
    stock_g: float | None = Field(default=None, ge=0, le=MOST_GRAMS)


def read_prices(path: str | Path, library: Library | None) -> dict[str, float]:
    """Read prices.csv (``material,price``): currency per kg, by material id.

    Without a library it is a supplier's price list, which may name materials that a library lacks.

    Raises
    ------
    BadInput
        With every fault: unknown or repeated materials, prices that are no number or below 0; a price list without any.
    """
    found = {row.material: row.price for row in _rows(PriceRow, "prices", Path(path), library)}
    if library is None and not found:
        message = "there are no prices in this list"
        raise BadInput([Fault(str(path), "", message, "material,price in each row")])
    return found


def read_shelf(path: str | Path, library: Library) -> dict[str, float | None]:
    """Read shelf.csv (``material,stock_g``): grams in stock by material id, None for enough.

    A material whose stock is 0 is not on the shelf and is left out.

    Raises
    ------
    BadInput
        With every fault: unknown or repeated materials, amounts that are no number or below 0.
    """
    rows = _rows(StockRow, "shelf", Path(path), library)
    return {row.material: row.stock_g for row in rows if row.stock_g != 0}


def with_prices(library: Library, prices: Mapping[str, float]) -> Library:
    """Return the library at other prices  [currency/kg]; materials that are not named keep theirs.

    Where every price but that of water is replaced, the price column becomes the user's own in
    `Library.trust`; where some are, it keeps the trust that the library states for it.

    Raises
    ------
    KeyError
        For an id that the library does not have.
    pydantic.ValidationError
        For a number that a library could not hold.
    """
    for name in prices:
        library.material[name]
    materials = tuple(
        _changed(material, price=float(prices[material.id])) if material.id in prices else material
        for material in library.materials
    )
    trust = dict(library.trust)
    if all(material.id in prices for material in library.materials if material.function != "water"):
        trust["price"] = Trust.OWN
    return library.model_copy(update={"materials": materials, "trust": trust})


def only(library: Library, shelf: Mapping[str, float | None]) -> Library:
    """Return the library with the stock of a shelf  [g], None where it is not known; 0 g of what is not on it.

    The materials stay in the library, so that an answer can say which of them is missing. Water
    comes from the tap and keeps the stock that it has. Raises as `with_prices`.
    """
    for name in shelf:
        library.material[name]
    materials = tuple(
        material
        if material.function == "water" and material.id not in shelf
        else _changed(material, stock_g=shelf.get(material.id, 0.0))
        for material in library.materials
    )
    return library.model_copy(update={"materials": materials})


def _changed(material: Material, **fields: object) -> Material:
    """Return a material with other values in some fields, checked like those of a file."""
    return Material(**{**material.__dict__, **fields})


def _rows(model: type[Entry], table: str, path: Path, library: Library | None) -> tuple[Entry, ...]:
    """Read one of the two files and check its materials, against a library if there is one."""
    faults = Faults(str(path))
    columns = columns_of(table, model, required=tuple(model.model_fields))
    with no_collection():
        entries = read_entries(path, model, columns, faults)
        _check_materials(entries, library, faults)
    if faults.found:
        raise BadInput(sorted(faults.found, key=row_of))
    return entries.items


def _check_materials(entries: Entries[Entry], library: Library | None, faults: Faults) -> None:
    """Note materials that the library does not have, and those that stand twice."""
    known = None if library is None else Names(library.material)
    first: dict[str, int] = {}
    for entry, name in enumerate(entries.texts("material")):
        if name and known is not None and name not in known:
            message = f"there is no material '{name}' in the library"
            faults.add(entries.spot(entry, "material")[1], message, nearest=known.nearest(name))
        elif name and first.setdefault(name, entry) != entry:
            place, before = (entries.spot(i, "material")[1] for i in (entry, first[name]))
            faults.add(place, f"'{name}' stands already in {before}")
