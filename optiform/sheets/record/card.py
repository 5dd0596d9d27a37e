"""Makes the bench card: a batch on one page, with what to take where an amount is too light."""

from __future__ import annotations

from optiform.answers.model.answer import Acidity
from optiform.answers.weigh.drops import drops_of, runs
from optiform.answers.weigh.unweighable import STRENGTHS, dissolves
from optiform.brief.models import Brief
from optiform.library.models import Frozen, Library, Material
from optiform.sheets.record.batch import Batch, Weighing
from optiform.sheets.record.batch_record import BatchRecord, limit_of_pH

FEW_DROPS = 3.0
"""So many drops are the least that a dropper measures; common practice, no source."""
ALIKE = 0.02
"""Solutions hold the same where the strengths of all their substances stand in one ratio, within this part."""


class Instead(Frozen):
    """A replacement for an amount that is too light for the balance: a solution, or drops.

    Attributes
    ----------
    material : str
        Whose line it stands for.
    name : str
        What is weighed or dropped.
    grams : float  [g]
        How much of that.
    water_g : float  [g]
        Water that comes with it, held back from the batch.
    strength : float, optional  [% w/w]
        Of a solution that is made first; None where the library has what is taken.
    drops : float, optional
        Where it is dropped.
    """

    material: str
    name: str
    grams: float
    water_g: float = 0.0
    strength: float | None = None
    drops: float | None = None


class Card(Frozen):
    """A batch on one page.

    Attributes
    ----------
    pH_wanted : str
        The pH at which the batch passes; empty where nothing asks for one.
    pH, pH_low, pH_high : float, optional
        Computed, and where nine likely lots in ten stand.
    instead : tuple of Instead
    """

    record: BatchRecord
    pH_wanted: str = ""
    pH: float | None = None
    pH_low: float | None = None
    pH_high: float | None = None
    instead: tuple[Instead, ...] = ()


def card_of(record: BatchRecord, brief: Brief, acidity: Acidity | None) -> Card:
    """Return the bench card of a batch record."""
    batch, library = record.batch, brief.library
    amounts = library.arrays.amounts((line.material, line.percent) for line in batch.lines)
    light = (line for line in batch.lines if line.too_light)
    found = (instead_of(line, batch, library) for line in light)
    return Card(
        record=record,
        pH_wanted=limit_of_pH(brief, amounts),
        pH=None if acidity is None else acidity.pH,
        pH_low=None if acidity is None else acidity.low,
        pH_high=None if acidity is None else acidity.high,
        instead=tuple(item for item in found if item is not None),
    )


def instead_of(line: Weighing, batch: Batch, library: Library) -> Instead | None:
    """Return what to take in place of an amount that is too light: a weaker solution, drops, or a solution to make.

    None where nothing will do but a finer balance or a larger batch.
    """
    material = library.material[line.material]
    grams = line.percent * batch.batch_g / 100.0
    return (
        _weaker(material, grams, batch.least_g, library)
        or _drops(material, grams, library)
        or _solution(material, grams, batch.least_g, library)
    )


def _weaker(material: Material, grams: float, least_g: float, library: Library) -> Instead | None:
    """Return the strongest solution of the library that holds the same and is heavy enough."""
    found = []
    for other in library.materials:
        ratio = _ratio(material, other, library)
        if ratio is not None and ratio > 1.0 and grams * ratio >= least_g:
            found.append((grams * ratio, other.id, other.name))
    if not found:
        return None
    weight, _, name = min(found)
    return Instead(material=material.id, name=name, grams=weight, water_g=weight - grams)


def _ratio(material: Material, other: Material, library: Library) -> float | None:
    """Return how many times stronger a material is than another; None where their substances differ."""
    if other.id == material.id or other.function != material.function:
        return None
    here, there = (_dissolved(which.id, library) for which in (material, other))
    if not here or here.keys() != there.keys():
        return None
    ratios = [here[inci] / there[inci] for inci in here]
    return ratios[0] if max(ratios) - min(ratios) <= ALIKE * min(ratios) else None


def _dissolved(material: str, library: Library) -> dict[str, float]:
    """Return the substances of a material without water and impurities [% w/w]."""
    return {
        part.inci: part.percent
        for part in library.composition[material]
        if part.inci != "Aqua" and part.label != "impurity" and part.percent > 0
    }


def _drops(material: Material, grams: float, library: Library) -> Instead | None:
    """Return a liquid in drops, where there are enough of them to be counted."""
    drops = drops_of(grams, material.density)
    if not runs(library, material) or drops < FEW_DROPS:
        return None
    return Instead(material=material.id, name=material.name, grams=grams, drops=drops)


def _solution(material: Material, grams: float, least_g: float, library: Library) -> Instead | None:
    """Return the strongest solution in water, made at the bench, of which enough is weighed."""
    if not dissolves(library, material):
        return None
    for strength in STRENGTHS:
        weight = grams * 100.0 / strength
        if weight >= least_g:
            return Instead(
                material=material.id,
                name=material.name,
                grams=weight,
                water_g=weight - grams,
                strength=strength,
            )
    return None
