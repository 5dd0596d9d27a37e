"""Makes the label of a product: its ingredient list, how sure the order is, and the blanks to fill."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Literal

from optiform.brief.models import Brief
from optiform.law import Law, claim_cautions, conditions, ingredient_list, law_for, particulars, unlisted
from optiform.law.allergens import Declared
from optiform.law.label import US_COMMON, IngredientList, Part
from optiform.law.label_entries import label_entries
from optiform.law.limits import Condition
from optiform.law.models import Particular
from optiform.library.models import Frozen, Library
from optiform.measures import Catalogue
from optiform.sheets.unit import Unit
from optiform.tolerances import ROUNDING

KNOWN_DENSITY = 90.0
"""A density is estimated where materials of known density make up this much [% w/w]."""


class LabelLine(Frozen):
    """One name of the list, with its range over the suppliers' specifications [% w/w]."""

    name: str
    inci: str
    us_name: str
    percent: float
    low: float
    high: float
    part: Part
    is_allergen: bool = False


class Doubt(Frozen):
    """A place of the list that a lot within its specification would change.

    `kind` is swap (two neighbours may stand the other way round), equal (either order is right), line
    (a name may fall on the other side of 1 %) or allergen (a name may have to be added).
    """

    kind: Literal["swap", "equal", "line", "allergen"]
    names: tuple[str, ...]
    text: str


class Contents(Frozen):
    """The nominal content of a pack.

    Attributes
    ----------
    density : float, optional  [g/ml]
    measured : bool
        Whether the density was given; otherwise it is estimated from the materials.
    """

    nominal_ml: float | None = None
    nominal_g: float | None = None
    density: float | None = None
    measured: bool = False
    note: str = ""


class LabelSheet(Frozen):
    """The label of one product in one jurisdiction: its list, doubts, contents and blanks.

    Attributes
    ----------
    listed : IngredientList
        As the law's rules make it: the text to print stands in it.
    lines : tuple of LabelLine
        The same names with US names and ranges.
    natural_origin, natural_origin_without_water : float, optional  [%]
    natural_origin_span, natural_origin_without_water_span : tuple of float, optional  [%]
        Between which values it lies where an index is missing.
    natural_origin_lacking : tuple of str
        Names of the materials whose index is missing.
    blanks : tuple of Particular
        What else the label carries.
    conditions : tuple of Condition
        Conditions and label phrases that come with substances present.
    """

    jurisdiction: str
    product: str
    area: str
    on: str
    rule: str
    listed: IngredientList
    lines: tuple[LabelLine, ...]
    doubts: tuple[Doubt, ...] = ()
    natural_origin: float | None = None
    natural_origin_without_water: float | None = None
    natural_origin_span: tuple[float, float] | None = None
    natural_origin_without_water_span: tuple[float, float] | None = None
    natural_origin_lacking: tuple[str, ...] = ()
    natural_origin_note: str = ""
    contents: Contents = Contents()
    blanks: tuple[Particular, ...] = ()
    conditions: tuple[Condition, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def declared(self) -> tuple[Declared, ...]:
        """Return the fragrance allergens that are named."""
        return self.listed.declared


def label_sheet(
    amounts: Mapping[str, float], library: Library, brief: Brief, unit: Unit | None = None
) -> LabelSheet:
    """Return the label sheet of a formula.

    Parameters
    ----------
    amounts : mapping of str to float  [% w/w]
        Material id and amount.
    brief : Brief
        Says for which law, product, area, users and day.
    unit : Unit, optional
        Nominal content and measured density.
    """
    law = law_for(library, brief.law, brief.on)
    day = brief.on or law.on
    lists = {
        end: ingredient_list(
            label_entries(amounts, library, end), brief.law, law.allergens, brief.product, day
        )
        for end in ("percent", "low", "high")
    }
    listed = lists["percent"]
    lines = _lines(listed, lists["low"], lists["high"], library)
    present = [entry.inci for entry in label_entries(amounts, library) if entry.percent > 0]
    catalogue, vector = Catalogue(library), library.arrays.amounts(amounts.items())
    natural, dry = catalogue.find("natural origin"), catalogue.find("natural origin without water")
    lacking = tuple(library.materials[position].name for position in natural.lacking(vector))
    return LabelSheet(
        jurisdiction=brief.law,
        product=brief.product,
        area=brief.area,
        on=day.isoformat(),
        rule=law.label.source,
        listed=listed,
        lines=lines,
        doubts=tuple(_doubts(lines, lists["high"])),
        natural_origin=natural.value(vector),
        natural_origin_without_water=dry.value(vector),
        natural_origin_span=natural.span(vector) if lacking else None,
        natural_origin_without_water_span=dry.span(vector) if lacking else None,
        natural_origin_lacking=lacking,
        natural_origin_note=natural.note,
        contents=contents_of(amounts, library, unit),
        blanks=particulars(brief.law),
        conditions=conditions(law, brief.product, brief.area, brief.users, present=present, on=day),
        notes=(
            *claim_cautions(brief.law, [brief.title, *(unit.claims if unit is not None else ())]),
            *law.notes,
            *listed.notes,
            *_unlisted(amounts, library, brief, law),
        ),
    )


def _lines(
    listed: IngredientList, low: IngredientList, high: IngredientList, library: Library
) -> tuple[LabelLine, ...]:
    lows = {entry.name.casefold(): entry.percent for entry in low.entries}
    highs = {entry.name.casefold(): entry.percent for entry in high.entries}
    return tuple(
        LabelLine(
            name=entry.name,
            inci=entry.inci,
            us_name=_us_name(entry.inci, library),
            percent=entry.percent,
            low=min(entry.percent, lows.get(entry.name.casefold(), 0.0)),
            high=max(entry.percent, highs.get(entry.name.casefold(), entry.percent)),
            part=entry.part,
            is_allergen=entry.is_allergen,
        )
        for entry in listed.entries
    )


def _us_name(inci: str, library: Library) -> str:
    substance = library.substance.get(inci)
    return (substance.name_us if substance else "") or US_COMMON.get(inci.casefold(), inci)


def _doubts(lines: tuple[LabelLine, ...], high: IngredientList) -> Iterator[Doubt]:
    ordered = [line for line in lines if line.part == "ordered"]
    for first, second in pairwise(ordered):
        if abs(first.percent - second.percent) <= ROUNDING:
            words = f"{first.name} and {second.name} are equal: either may stand first."
            yield Doubt(kind="equal", names=(first.name, second.name), text=words)
        elif second.high > first.low + ROUNDING:
            words = (
                f"{first.name} ({_span(first)}) and {second.name} ({_span(second)}) may stand the other way "
                "round in some lots."
            )
            yield Doubt(kind="swap", names=(first.name, second.name), text=words)
    for line in lines:
        if line.part == "colourant" or line.high - line.low <= ROUNDING:
            continue
        if line.low < 1.0 - ROUNDING and line.high > 1.0 + ROUNDING:
            words = f"{line.name} ({_span(line)}) lies above 1 % in some lots and below it in others."
            yield Doubt(kind="line", names=(line.name,), text=words)
    named = {line.name for line in lines if line.is_allergen}
    for found in high.declared:
        if found.name not in named:
            words = f"{found.name} may reach {found.percent:.3g} %, above {found.threshold:g} %: it must then be named."
            yield Doubt(kind="allergen", names=(found.name,), text=words)


def _span(line: LabelLine) -> str:
    return (
        f"{line.low:.3g} to {line.high:.3g} %" if line.high - line.low > ROUNDING else f"{line.percent:.3g} %"
    )


def contents_of(amounts: Mapping[str, float], library: Library, unit: Unit | None) -> Contents:
    """Return the nominal content by volume and by weight, as far as the density is known."""
    measured = unit.density if unit is not None else None
    density = measured if measured is not None else estimated_density(amounts, library)
    volume = unit.contents_ml if unit is not None else None
    mass = unit.contents_g if unit is not None else None
    if density is not None and volume is not None and mass is None:
        mass = volume * density
    elif density is not None and mass is not None and volume is None:
        volume = mass / density
    if measured is not None:
        note = ""
    elif density is not None:
        note = (
            "The density is estimated from the materials without air; measure it before it goes on a label."
        )
    else:
        note = "The density is not known; measure it, free of air."
    return Contents(
        nominal_ml=volume, nominal_g=mass, density=density, measured=measured is not None, note=note
    )


def estimated_density(amounts: Mapping[str, float], library: Library) -> float | None:
    """Return the density of a formula from those of its materials [g/ml], None where too few are known.

    Volumes are added as if nothing shrank on mixing; materials of unknown density count as the rest.
    """
    known = {name: library.material[name].density for name in amounts}
    mass = sum(percent for name, percent in amounts.items() if known[name] is not None)
    if mass < KNOWN_DENSITY:
        return None
    volume = sum(
        percent / density for name, percent in amounts.items() if (density := known[name]) is not None
    )
    return mass / volume


def _unlisted(amounts: Mapping[str, float], library: Library, brief: Brief, law: Law) -> Iterator[str]:
    """Yield the preservatives and colourants that no positive list of the law names."""
    for found in unlisted(library, law, brief.product, brief.area):
        if amounts.get(found.material, 0.0) > 0:
            yield (
                f"{found.name}: {', '.join(found.substances)} is not in the list of {found.rule.use}s read here "
                f"({law.jurisdiction} {found.rule.provision}); look before it is called a {found.rule.use}."
            )
