"""Undissociated acid: how much of a weak acid is uncharged, at the pH that holds for a formula.

Which pH holds is defined once, here: the highest that the brief and the formula's preservative system allow,
or the formula's own where that is higher still. A formula whose brief states no upper end was promised no pH:
it has its own and no other, as one that is judged without any brief.
A pH that is left to the bench is not the formula's own, so there only the stated ends count.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from optiform.bounds import PH_DECIMALS
from optiform.chemistry import Titratable, populations
from optiform.library.models import Library, PreservativeSystem, Rules, Substance, Trust
from optiform.library.preserving import system_in
from optiform.library.working_range import Range, pH_range
from optiform.measures.acidity import HIGHEST_PH, LOWEST_PH, charge_curves
from optiform.measures.conditions import Conditions
from optiform.measures.measure import Measure, Row, Side
from optiform.tolerances import TOLERANCE
from optiform.vectors import Floats

NOTE = "at {pH}; efficacy is for the challenge test"
METER = 0.01
"""What a pH meter tells apart: the pH up to which an acid is enough is told in these steps."""
PROMISED = "the highest pH that brief and preservative system allow"


@dataclass(frozen=True, eq=False)
class Undissociated(Measure):
    """The uncharged part of one acid: no linear form, but one at each single pH.

    `numerator` counts all of the acid, charged or not: the most that can be uncharged.
    """

    library: Library = field(kw_only=True, repr=False)
    inci: str = field(kw_only=True)
    conditions: Conditions = field(kw_only=True, repr=False)

    def value(self, amounts: Floats) -> float | None:
        """Return the uncharged acid of a formula at the pH that holds for it, or None where no pH can be told."""
        here = self._here(amounts)
        return None if here is None else here.value(amounts)

    def contributions(self, amounts: Floats) -> Floats:
        """Return each material's part in the value, shape (n,)."""
        here = self._here(amounts)
        return np.zeros_like(amounts) if here is None else here.contributions(amounts)

    def row(self, side: Side, bound: float) -> Row:
        """Refuse: the row of a limit belongs to one pH, see `at`."""
        raise TypeError(f"'{self.name}' has no row of its own: it depends on the preservative system")

    def at(self, pH: float, ionic_strength: float) -> Measure:
        """Return the uncharged acid at one pH as a total over materials."""
        return Measure(
            name=self.name,
            unit=self.unit,
            numerator=self._part(pH, ionic_strength) * self.numerator,
            better=self.better,
            lowest=self.lowest,
            highest=self.highest,
            trust=self.trust,
            digits=self.digits,
            note=self.note,
            retaken=lambda strength: self.at(pH, strength),
        )

    def _part(self, pH: float, ionic_strength: float) -> float:
        """Return which part of the acid is uncharged, 0 to 1."""
        substance = self.library.substance[self.inci]
        acid = Titratable(
            molar_mass=substance.molar_mass or 1.0,
            pka=substance.pka,
            charge_acid_form=substance.charge_acid_form or 0.0,
            effective=substance.pka_kind == "effective",
        )
        return float(populations(acid, pH, ionic_strength)[0])

    def reaches(self, amounts: Floats, least: float, top: float) -> float:
        """Return the highest pH up to `top` at which a formula holds so much uncharged acid; `LOWEST_PH` if at none."""
        settled = charge_curves(self.library).settle(amounts)
        strength = self.conditions.ionic_strength if settled is None else settled.ionic_strength
        needed = (least - TOLERANCE) / max(float(self.numerator @ amounts), TOLERANCE)
        if self._part(top, strength) >= needed:
            return top
        low, high = LOWEST_PH, top
        while high - low > TOLERANCE:
            middle = (low + high) / 2.0
            low, high = (middle, high) if self._part(middle, strength) >= needed else (low, middle)
        return low

    def limited(self, system: PreservativeSystem | None, side: Side) -> float:
        """Return the pH at which a limit is counted for the formulas of one preservative system.

        Where the brief states no upper end a formula may have any pH, and the limit holds at the worst of them.
        """
        high = highest_pH(self.conditions, system)
        if side == "at_least":
            return HIGHEST_PH if high is None else high
        if high is not None and self.conditions.promised:
            return high
        lows = (self.conditions.pH_low, system.working_pH[0] if system is not None else None)
        return max((low for low in lows if low is not None), default=LOWEST_PH)

    def _here(self, amounts: Floats) -> Measure | None:
        settled = charge_curves(self.library).settle(amounts)
        high = highest_pH(self.conditions, system_in(self.library, amounts))
        if settled is None:
            return None if high is None else self.at(high, self.conditions.ionic_strength)
        if high is None or not self.conditions.promised:
            return self.at(settled.pH, settled.ionic_strength)
        return self.at(high if self.conditions.bench else max(high, settled.pH), settled.ionic_strength)


def highest_pH(conditions: Conditions, system: PreservativeSystem | None) -> float | None:
    """Return the highest pH that a brief and a preservative system allow; None where neither states an end."""
    ends = (conditions.pH_high, system.working_pH[1] if system is not None else None)
    return min((end for end in ends if end is not None), default=None)


def working_window(library: Library, amounts: Floats, rules: Iterable[Rules]) -> Range:
    """Return the lowest and highest pH at which all works that a formula holds, its preservatives as they are dosed.

    Parameters
    ----------
    amounts : ndarray, shape (n,)  [% w/w]
    rules : iterable of Rules
        Those of its library and of its brief.
    """
    used = [library.materials[index].id for index in np.flatnonzero(amounts > 0)]
    system = system_in(library, amounts)
    low, high = pH_range(library, used, used, () if system is None else (system,), rules)
    end = None if system is None else works_up_to(library, system, amounts)
    return low, high if end is None or high is None else min(high, end)


def works_up_to(library: Library, system: PreservativeSystem, amounts: Floats) -> float | None:
    """Return the highest pH at which a system works as it is dosed in a formula; None where it states no end.

    That is where its range ends, or where its least uncharged acid does, if it is enough anywhere in the range.

    Parameters
    ----------
    amounts : ndarray, shape (n,)  [% w/w]
    """
    low, top = system.working_pH
    if top is None:
        return None
    ends = (
        undissociated(library, inci, Conditions(), f"undissociated:{inci}").reaches(amounts, least, top)
        for inci, least in system.undissociated_at_least.items()
    )
    end = min((top, *ends))
    told = end if end == top else math.floor((end + 0.1 * METER) / METER) * METER
    return round(told, PH_DECIMALS) if told > (LOWEST_PH if low is None else low) else top


def undissociated(library: Library, inci: str, conditions: Conditions, name: str) -> Undissociated:
    """Return the % w/w of one acid in its uncharged form, counted as the acid.

    For comparing formulas only: efficacy is for the challenge test.
    """
    arrays = library.arrays
    counted = np.zeros(len(arrays.substances))
    counted[arrays.substance_index[inci]] = acid_share(library.substance[inci])
    return Undissociated(
        name=name,
        unit="% w/w as acid",
        numerator=arrays.per_material(counted),
        better="higher",
        lowest=0.0,
        highest=100.0,
        trust=Trust.ESTIMATE,
        digits=3,
        note=NOTE.format(pH=PROMISED if conditions.promised else "the formula's own pH"),
        library=library,
        inci=inci,
        conditions=conditions,
    )


def acid_share(substance: Substance) -> float:
    """Return grams of free acid per gram of the substance as written (1 for the acid itself)."""
    ions: dict[Literal["sodium", "potassium"], float] = {"sodium": 22.990, "potassium": 39.098}
    first = substance.inci.split()[0].casefold()
    if not substance.strong_charge or substance.molar_mass is None:
        return 1.0
    for ion, mass in ions.items():
        if first == ion:
            return (substance.molar_mass - substance.strong_charge * (mass - 1.008)) / substance.molar_mass
    return 1.0
