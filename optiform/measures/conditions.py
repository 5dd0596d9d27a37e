"""The frozen conditions under which measures are taken."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Conditions:
    """What a measure may depend on besides the formula.

    Attributes
    ----------
    pH_low, pH_high : float, optional
        The brief's pH window.
    dosed : bool
        Whether the program doses acid and base, so that charge data are needed.
    ionic_strength : float  [mol per kg of water]
        One value per brief, fixed before ranking.
    base : str, optional
        The surfactant base whose viscosity trials apply.
    """

    pH_low: float | None = None
    pH_high: float | None = None
    dosed: bool = False
    ionic_strength: float = 0.1
    base: str | None = None

    @property
    def window(self) -> tuple[float | None, float | None]:
        """Return the two ends of the brief's pH window."""
        return self.pH_low, self.pH_high
