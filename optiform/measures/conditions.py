"""The frozen conditions under which measures are taken."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optiform.measures.learned import Passed, Taught
    from optiform.measures.learned_alkali import LearnedAlkali


@dataclass(frozen=True)
class BenchKnowledge:
    """What trials say that the library does not know.

    Attributes
    ----------
    taught : tuple of Taught
        Measures that were learned.
    passed : tuple of Passed
        Which trials passed a gate.
    alkali : LearnedAlkali, optional
        The free alkali of materials, learned from readings of pH; the brief's library holds it already.
    base : frozenset of str
        Ids of the surfactants and thickeners in which measures were learned and gates passed.
    others : tuple of BenchKnowledge
        What the trials of other bases say.
    told : str
        Which base it is, where the bench has several.
    """

    taught: tuple[Taught, ...] = ()
    passed: tuple[Passed, ...] = ()
    alkali: LearnedAlkali | None = None
    base: frozenset[str] = frozenset()
    others: tuple[BenchKnowledge, ...] = ()
    told: str = ""

    @property
    def names(self) -> frozenset[str]:
        """Return the names of the measures that were learned and of the gates that were looked at."""
        return frozenset((*(one.name for one in self.taught), *(one.name for one in self.passed)))

    def in_base(self, chosen: BenchKnowledge) -> BenchKnowledge:
        """Return what another base says, this one among its others."""
        if chosen is self:
            return self
        rest = tuple(one for one in self.others if one is not chosen)
        return replace(chosen, others=(replace(self, others=()), *rest))


NO_TRIALS = BenchKnowledge()


@dataclass(frozen=True)
class Conditions:
    """What a measure may depend on besides the formula.

    Attributes
    ----------
    pH_low, pH_high : float, optional
        The brief's pH window.
    bench : bool
        Whether that pH is set at the bench, so that a formula's own pH is not the one that it will have.
    ionic_strength : float  [mol per kg of water]
        One value per brief, fixed before ranking.
    base : str, optional
        The surfactant base whose viscosity trials apply.
    known : BenchKnowledge
        What the trials of the brief's bench say.
    """

    pH_low: float | None = None
    pH_high: float | None = None
    bench: bool = False
    ionic_strength: float = 0.1
    base: str | None = None
    known: BenchKnowledge = NO_TRIALS

    @property
    def window(self) -> tuple[float | None, float | None]:
        """Return the two ends of the brief's pH window."""
        return self.pH_low, self.pH_high

    @property
    def promised(self) -> bool:
        """Tell whether a brief promises its formulas a pH up to some end, or one that is set at the bench."""
        return self.bench or self.pH_high is not None
