"""Corrects the amount of a material for a lot whose certificate differs, and says what that does to the formula."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from optiform.answers.evaluate.typed_formula import evaluate
from optiform.answers.model.answer import Broken, Formula
from optiform.brief.models import Brief
from optiform.faults import BadInput, Fault, nearest
from optiform.library.formulas import TypedFormula
from optiform.library.models import GRAMS, LEAST_GRAMS, MOST_GRAMS, Library, Part
from optiform.showing import Showing
from optiform.tolerances import ROUNDING


@dataclass(frozen=True, repr=False)
class LotCorrection(Showing):
    """The same formula with a lot of another strength.

    Attributes
    ----------
    what : str
        What the certificate states: "active matter", or an INCI name.
    nominal, measured : float  [% w/w]
        In the material: by its specification, and in this lot.
    before, after : float  [% w/w]
        Of the material in the formula.
    water_before, water_after : float  [% w/w]
    batch_g, grams_before, grams_after : float, optional  [g]
        For a batch, where its size is known.
    planned, uncorrected, corrected : Formula
        With the specification; as written but with this lot; corrected.
    broken : tuple of Broken
        What the corrected formula breaks and the planned one does not.
    """

    material: str
    name: str
    what: str
    nominal: float
    measured: float
    before: float
    after: float
    water_before: float
    water_after: float
    planned: Formula
    uncorrected: Formula
    corrected: Formula
    batch_g: float | None = None

    @property
    def broken(self) -> tuple[Broken, ...]:
        """Return what the corrected formula breaks that the planned one does not."""
        return self._newly(self.corrected)

    @property
    def broken_uncorrected(self) -> tuple[Broken, ...]:
        """Return what the lot breaks if nothing is corrected."""
        return self._newly(self.uncorrected)

    def _newly(self, formula: Formula) -> tuple[Broken, ...]:
        known = {item.requirement.key for item in self.planned.breaks}
        return tuple(item for item in formula.breaks if item.requirement.key not in known)

    @property
    def grams_before(self) -> float | None:
        """Return the grams by the specification."""
        return None if self.batch_g is None else self.before * self.batch_g / 100.0

    @property
    def grams_after(self) -> float | None:
        """Return the grams of this lot."""
        return None if self.batch_g is None else self.after * self.batch_g / 100.0


def correct_lot(
    formula: TypedFormula,
    library: Library,
    material: str,
    measured: float,
    *,
    substance: str | None = None,
    brief: Brief | None = None,
    batch_g: float | None = None,
) -> LotCorrection:
    """Return the amount of a lot that brings what its specification promised, water making room.

    Parameters and faults are those of `optiform.lot`.

    Notes
    -----
    m(lot) = m(nominal) * a(nominal) / a(lot). What else is in the lot is taken to be as specified, water the rest:
    a certificate that states more than one figure is corrected one by one.
    """
    if batch_g is not None and not LEAST_GRAMS <= batch_g <= MOST_GRAMS:
        raise BadInput([Fault("", "batch", f"a batch of {batch_g:g} g", allowed=GRAMS)])
    _present(material, formula.amounts, library)
    what, parts = _meant(library, material, substance)
    nominal = math.fsum(part.percent for part in parts)
    lot = lot_library(library, material, parts, measured)
    corrected = _corrected(formula, library, material, nominal / measured)
    asked = None if brief is None else brief.model_copy(update={"library": lot})
    better = replace(formula, lines=tuple(corrected.items()))
    return LotCorrection(
        material=material,
        name=library.material[material].name,
        what=what,
        nominal=nominal,
        measured=measured,
        before=formula.amounts[material],
        after=corrected[material],
        water_before=formula.amounts.get(library.water.id, 0.0),
        water_after=corrected[library.water.id],
        planned=evaluate(formula, library, brief).formulas[0],
        uncorrected=evaluate(formula, lot, asked).formulas[0],
        corrected=evaluate(better, lot, asked).formulas[0],
        batch_g=batch_g if batch_g is not None else formula.grams,
    )


def _corrected(formula: TypedFormula, library: Library, material: str, factor: float) -> dict[str, float]:
    """Return the amounts with a material's times a factor, water making room [% w/w].

    Raises
    ------
    BadInput
        If the water does not suffice.
    """
    amounts = formula.amounts
    water = amounts.get(library.water.id, 0.0)
    more = amounts[material] * (factor - 1.0)
    if water - more < -ROUNDING:
        message = f"{more:.4g} % more of {material} leaves no water: there is {water:.4g} %"
        allowed = "a formula with more water, or a stronger lot"
        raise BadInput([Fault(formula.file, library.water.id, message, allowed=allowed)])
    return {**amounts, material: amounts[material] * factor, library.water.id: max(water - more, 0.0)}


def lot_library(library: Library, material: str, parts: tuple[Part, ...], measured: float) -> Library:
    """Return the library with one lot in it: its stated substances scaled, water making up the rest.

    Raises
    ------
    BadInput
        If the lot would hold more than 100 %.
    """
    nominal = math.fsum(part.percent for part in parts)
    names = {part.inci for part in parts}
    if not 0 < measured <= 100:
        message = f"{measured:g} % is no strength"
        raise BadInput([Fault("", "the certificate", message, allowed="more than 0, at most 100 % w/w")])
    scaled = [
        part.model_copy(update={"percent": part.percent * measured / nominal}) if part.inci in names else part
        for part in library.composition[material]
        if part.inci != "Aqua"
    ]
    rest = 100.0 - math.fsum(part.percent for part in scaled)
    if rest < -ROUNDING:
        message = f"{measured:g} % leaves {rest + measured:.4g} % of room beside what else {material} holds"
        raise BadInput(
            [Fault("", "the certificate", message, allowed="a strength that fits the rest of the material")]
        )
    lot = (*scaled, Part(material=material, inci="Aqua", percent=max(rest, 0.0)))
    others = tuple(part for part in library.parts if part.material != material)
    known = {substance.inci for substance in library.substances}
    if "Aqua" not in known:
        raise BadInput([Fault("", "substances", "the library has no Aqua", allowed="a substance Aqua")])
    return library.model_copy(update={"parts": (*others, *lot)})


def _present(material: str, amounts: dict[str, float], library: Library) -> None:
    if amounts.get(material, 0.0) > 0:
        return
    if material in library.material:
        message = f"the formula holds no '{material}'"
    else:
        message = f"there is no material '{material}' in the library"
    raise BadInput(
        [Fault("", "material", message, allowed=", ".join(amounts), nearest=nearest(material, amounts))]
    )


def _meant(library: Library, material: str, substance: str | None) -> tuple[str, tuple[Part, ...]]:
    """Return what a certificate states, and the parts of the material that it is about."""
    composition = tuple(
        part for part in library.composition[material] if part.inci != "Aqua" and part.percent > 0
    )
    if substance is not None:
        found = tuple(part for part in composition if part.inci == substance)
        if found:
            return substance, found
        names = [part.inci for part in composition]
        message = f"{material} holds no '{substance}'"
        raise BadInput(
            [Fault("", "substance", message, allowed=", ".join(names), nearest=nearest(substance, names))]
        )
    if library.material[material].function == "surfactant":
        active = tuple(part for part in composition if library.substance[part.inci].charge_class is not None)
        if active:
            return "active matter", active
    if len(composition) == 1:
        return composition[0].inci, composition
    if not composition:
        allowed = "a material that holds something else"
        raise BadInput(
            [Fault("", "material", f"{material} is water alone, which has no strength", allowed=allowed)]
        )
    names = [part.inci for part in composition]
    message = f"{material} holds {len(names)} substances, and the certificate may mean any of them"
    raise BadInput([Fault("", "substance", message, allowed="one of " + ", ".join(names))])
