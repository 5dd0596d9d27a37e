"""The charge of a material as titrated on the bench, in place of a computed one."""

import math
from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise


class OutsideCurveError(ValueError):
    """A pH lies outside what was titrated; a curve is never extrapolated."""


@dataclass(frozen=True, slots=True)
class TitrationCurve:
    """Strong acid that 1 kg of a material needs to reach a pH, by straight lines between the points measured.

    Attributes
    ----------
    pH : tuple of float
        pH of the points, rising [-].
    acid_mmol_per_kg : tuple of float
        Strong acid to add to 1 kg of the material to reach that pH, negative where base is needed; never
        rising with pH [mmol/kg].
    name : str
        What was titrated; appears in messages only.

    Raises
    ------
    ValueError
        If there are fewer than two points, the lengths differ, a value is not finite, the pH do not rise or
        the acid rises with pH.

    Notes
    -----
    The acid needed is the charge that the material brings at that pH, because the added anion balances it.
    Acid that only acidified the dilution water is part of a bench reading; between pH 4 and 10, with 90 g of
    water to 10 g of material, it is below 1 mmol/kg.
    """

    pH: tuple[float, ...]
    acid_mmol_per_kg: tuple[float, ...]
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse points that are no curve."""
        who = f"titration of {self.name}" if self.name else "titration"
        if len(self.pH) != len(self.acid_mmol_per_kg):
            raise ValueError(f"{who}: {len(self.pH)} pH and {len(self.acid_mmol_per_kg)} acid values")
        if len(self.pH) < 2:
            raise ValueError(f"{who}: {len(self.pH)} point; allowed: two or more")
        if not all(math.isfinite(value) for value in (*self.pH, *self.acid_mmol_per_kg)):
            raise ValueError(f"{who}: every value must be a finite number")
        for one, other in pairwise(self.pH):
            if not one < other:
                raise ValueError(f"{who}: pH {other:g} follows {one:g}; allowed: rising pH, none twice")
        for one, other in pairwise(self.acid_mmol_per_kg):
            if other > one:
                raise ValueError(
                    f"{who}: acid rises from {one:g} to {other:g} mmol/kg as pH rises; it can only fall"
                )

    def covers(self, pH: float) -> bool:
        """Tell whether a pH lies within the points measured, both ends included."""
        return self.pH[0] <= pH <= self.pH[-1]

    def charge_at(self, pH: float) -> float:
        """Tell the charge that a kilogram of the material brings  [mmol/kg]; that of a base is positive.

        Raises
        ------
        OutsideCurveError
            If the pH was not covered by the titration.
        """
        left = self._segment(pH)
        part = (pH - self.pH[left]) / (self.pH[left + 1] - self.pH[left])
        one, other = self.acid_mmol_per_kg[left], self.acid_mmol_per_kg[left + 1]
        return (1.0 - part) * one + part * other

    def slope_at(self, pH: float) -> float:
        """Tell how fast that charge changes with pH  [mmol/kg per pH unit]; refused where `charge_at` is.

        At a point measured it is the slope on its right, at the last one the slope on its left.
        """
        left = self._segment(pH)
        rise = self.acid_mmol_per_kg[left + 1] - self.acid_mmol_per_kg[left]
        return rise / (self.pH[left + 1] - self.pH[left])

    def _segment(self, pH: float) -> int:
        """Return the position of the point that starts the segment in which the pH lies."""
        if not self.covers(pH):
            who = f"titration of {self.name}" if self.name else "titration"
            raise OutsideCurveError(f"{who} covers pH {self.pH[0]:g} to {self.pH[-1]:g}, not pH {pH:g}")
        return min(bisect_right(self.pH, pH), len(self.pH) - 1) - 1
