"""Tells what a mixture contains, and its pH."""

import math
from dataclasses import dataclass

import numpy as np

from optiform.chemistry.curve import TitrationCurve
from optiform.vectors import Flags, Floats


class NoWaterError(ValueError):
    """A mixture without water has no pH."""


class OffScaleError(ValueError):
    """The charges balance at no pH that water can have."""


@dataclass(frozen=True, eq=False)
class Mixture:
    """What 100 g of a mixture contain, as far as its pH is concerned.

    Attributes
    ----------
    grams : ndarray, shape (n,)
        Mass of each substance, in the order of the charge table that it is used with [g per 100 g].
    water : float
        All water, also that inside raw materials [g per 100 g].
    free_alkali : float
        Strong base beyond the substances as written; negative for free acid [mmol per 100 g].
    surfactant : ndarray of bool, shape (n,), optional
        True for substances that sit in micelles. Absent: none.
    curves : tuple of (TitrationCurve, float)
        Materials whose charge comes from the bench, with their mass [g per 100 g].
    grams_under_curves : ndarray, shape (n,), optional
        Substances inside those materials: they count for the ionic strength, not again for the charge
        [g per 100 g].

    Raises
    ------
    ValueError
        If a mass is negative or not finite, or shapes differ.
    """

    grams: Floats
    water: float
    free_alkali: float = 0.0
    surfactant: Flags | None = None
    curves: tuple[tuple[TitrationCurve, float], ...] = ()
    grams_under_curves: Floats | None = None

    def __post_init__(self) -> None:
        """Keep read-only copies of the arrays and refuse what is no mixture."""
        _keep(self, "grams", np.float64)
        _keep(self, "grams_under_curves", np.float64)
        _keep(self, "surfactant", np.bool_)
        shape = self.grams.shape
        if len(shape) != 1:
            raise ValueError(f"grams have shape {shape}; allowed: one number per substance")
        for name in ("grams_under_curves", "surfactant"):
            array = getattr(self, name)
            if array is not None and array.shape != shape:
                raise ValueError(f"{name} has shape {array.shape}, grams {shape}; allowed: the same")
        others = [self.water, *(grams for _, grams in self.curves)]
        under = () if self.grams_under_curves is None else self.grams_under_curves
        masses = np.concatenate((self.grams, np.asarray(under, dtype=np.float64), others))
        if not np.all(np.isfinite(masses)) or np.any(masses < 0.0):
            raise ValueError("a mass is negative or not a number; allowed: 0 g or more")
        if not math.isfinite(self.free_alkali):
            raise ValueError(f"free alkali {self.free_alkali!r} mmol; allowed: a finite number")


@dataclass(frozen=True, slots=True)
class Acidity:
    """The pH of a mixture and what stands behind it.

    Attributes
    ----------
    pH : float
        pH as a meter would show it at 25 C [-].
    ionic_strength : float
        Ionic strength as it comes out, also above the limit of the activity model [mol/kg water].
    held : bool
        True if that is above `IONIC_STRENGTH_LIMIT`, so that activities were taken at the limit.
    buffer_capacity : float
        Strong acid or base that moves the pH by one unit, from the slope at this pH
        [mmol per 100 g per pH unit].
    """

    pH: float
    ionic_strength: float
    held: bool
    buffer_capacity: float


def _keep(mixture: Mixture, name: str, kind: type[np.float64] | type[np.bool_]) -> None:
    """Replace an array of a frozen mixture by a read-only copy of one type."""
    given = getattr(mixture, name)
    if given is None:
        return
    copy = np.array(given, dtype=kind)
    copy.setflags(write=False)
    object.__setattr__(mixture, name, copy)
