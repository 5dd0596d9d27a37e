"""Holds the pH of a formula: of the typical lot, of likely lots, and the acid or base to keep ready."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Dose:
    """Acid or base that sets the pH: the computed amount, and the range that likely lots need [% w/w]."""

    material: str
    percent: float
    low: float
    high: float
    name: str = ""


@dataclass(frozen=True)
class Acidity:
    """The pH of a formula by the full balance, and what to keep ready for it.

    Attributes
    ----------
    pH, ionic_strength : float
        Of the typical lot, at the doses as computed.
    low, high : float
        The pH within which the middle 90 % of likely lots stand at those doses.
    undosed_pH : float, optional
        The pH without the acids and bases that only set it.
    doses : tuple of Dose
        Of each acid and base in the formula, by itself.
    have_ready : tuple of Dose
        An acid, a base, or both that stand beside the formula, because likely lots need them.
    reserve : float  [% w/w]
        Water to hold back for the upper end of the doses, or for what stands ready.
    buffer_capacity : float  [mmol per 100 g per pH unit]
    spread_from : tuple of (material id, part)
        Which materials bring the spread, largest part first; the parts of all add up to 1.
    """

    pH: float
    low: float
    high: float
    ionic_strength: float
    held: bool
    undosed_pH: float | None
    doses: tuple[Dose, ...]
    reserve: float
    buffer_capacity: float
    have_ready: tuple[Dose, ...] = ()
    spread_from: tuple[tuple[str, float], ...] = ()
