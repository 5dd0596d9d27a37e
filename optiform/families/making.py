"""What a family is made by: the batch record of its shared base and of each product."""

from __future__ import annotations

from optiform.families.model import Family
from optiform.families.shared_base import base_parts
from optiform.library.formulas import TypedFormula
from optiform.library.models import Frozen
from optiform.sheets.from_base import ToFinish, records_from_base
from optiform.sheets.sheet import Sheet, SheetPart, make_sheet
from optiform.showing import Showing


class Making(Showing, Frozen):
    """The batch records of a family, that of a shared base first.

    Attributes
    ----------
    base : bool
        Whether the first is that of a shared base.
    """

    title: str
    base: bool
    sheets: tuple[Sheet, ...]


def making_of(found: Family, balance_g: float | None = None) -> Making:
    """Return the batch records of a family.

    Parameters
    ----------
    found : Family
        One that was found; else there is nothing to make.
    balance_g : float, optional  [g]
        Readability of the balance; what the briefs say, or 0.01, by default.
    """
    products = [
        ToFinish(member.title, planned.brief, member.formula, planned.grams / planned.times, planned.times)
        for planned, member in zip(found.plan.products, found.products, strict=False)
    ]
    if found.base is not None:
        parts = base_parts(found.plan, [product.formula for product in products])
        spare = found.plan.spare_percent
        sheets = records_from_base(found.title, parts, products, balance_g=balance_g, spare_percent=spare)
        return Making(title=found.title, base=True, sheets=sheets)
    return Making(
        title=found.title, base=False, sheets=tuple(_whole(product, balance_g) for product in products)
    )


def _whole(product: ToFinish, balance_g: float | None) -> Sheet:
    """Return the record of a product that is made in one go."""
    lines = tuple((line.material, line.percent) for line in product.formula.lines)
    parts: tuple[SheetPart, ...] = ("batch",)
    typed = TypedFormula(product.title, lines, sum(percent for _, percent in lines))
    return make_sheet(
        typed,
        product.brief.library,
        product.batch_g,
        brief=product.brief,
        balance_g=balance_g,
        parts=parts,
    )
