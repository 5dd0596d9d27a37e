"""Defines the steps of making a batch, and collects them in working order.

What is done with a material follows from its handling words, its hydration time and temperatures,
and from the house rules on what it needs beside it. Common practice, no source, unless a material or
a rule states one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from optiform.answers.model.answer import Acidity
from optiform.library.models import Frozen, Library, Material, Needs, Phase
from optiform.library.selection import resolve
from optiform.sheets.record.batch import SHARED_BASE, Batch, hazards_of, on_grid

Kind = Literal[
    "water", "dissolve", "stir in", "sprinkle", "hydrate", "slurry", "suspend", "heat", "melt", "emulsify",
    "surfactant", "neutralise", "cool", "premix", "preserve", "finish", "thicken", "pH", "make up", "rest", "base",
]  # fmt: skip
Stage = Literal["whole", "base", "finish"]
"""A product made in one go, a base that products share, or a product that is finished from such a base."""
DISSOLVING = 4.0
"""So many times its weight of held-back water dissolves a powder of the last steps."""
BEGUN = 0.9
"""This part of the low end of a dose can go in before the meter decides."""


class Portion(Frozen):
    """An amount of one material added at a step; `low_g` and `high_g` span a dose set by the meter."""

    material: str
    name: str
    grams: float
    percent: float
    low_g: float | None = None
    high_g: float | None = None
    hazards: tuple[str, ...] = ()


class Step(Frozen):
    """One step: its portions, what is done, and the reason for its place.

    Attributes
    ----------
    above_C, below_C : float, optional
        Temperature window of what is stirred.
    hours : float, optional
        Time to wait before the next step.
    """

    number: int
    phase: Phase
    kind: Kind
    what: str
    why: str = ""
    portions: tuple[Portion, ...] = ()
    above_C: float | None = None
    below_C: float | None = None
    hours: float | None = None


class Procedure(Frozen):
    """All steps of a batch.

    Attributes
    ----------
    held_back_g : float  [g]
        Water kept out of the vessel at the start.
    reserve_g : float  [g]
        The part of it that makes room for the upper end of the acid or base dose.
    ready : tuple of Portion
        Acid and base that stand beside the batch, no part of it.
    """

    steps: tuple[Step, ...]
    held_back_g: float
    reserve_g: float
    ready: tuple[Portion, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass
class ProcedureDraft:
    """The steps of one batch while they are written; each material is added once.

    `inside` are the materials of the shared base that a product is finished from.
    """

    batch: Batch
    library: Library
    needs: Sequence[Needs]
    acidity: Acidity | None
    stage: Stage = "whole"
    inside: Sequence[Material] = ()
    steps: list[Step] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    added: set[str] = field(default_factory=set)
    begun_g: dict[str, float] = field(default_factory=dict)
    hot_C: float | None = None

    @property
    def present(self) -> list[Material]:
        """Return all materials of the batch, those inside a shared base among them."""
        own = (line.material for line in self.batch.lines if line.material != SHARED_BASE)
        return [*self.inside, *(self.library.material[name] for name in own)]

    def waiting(self, *phases: Phase) -> list[Material]:
        """Return the materials of some phases that are still to be added, in working order."""
        return [
            self.library.material[line.material]
            for line in self.batch.lines
            if line.phase in phases and line.material not in self.added and line.material != SHARED_BASE
        ]

    def portions(
        self, materials: Iterable[Material], *, less: float = 0.0, dosed: bool = False
    ) -> tuple[Portion, ...]:
        """Add materials to the batch, and return their portions.

        `less` is what of them stays behind [g]; `dosed` shows the range that the meter decides in.
        """
        found = []
        doses = {dose.material: dose for dose in self.acidity.doses} if self.acidity and dosed else {}
        for material in materials:
            dose, begun = doses.get(material.id), self.begun_g.get(material.id, 0.0)
            self.added.add(material.id)
            grams = self.batch.line(material.id).grams - less - begun
            span = None if dose is None else (self.share(dose.low) - begun, self.share(dose.high) - begun)
            found.append(self._portion(material, grams, span))
        return tuple(found)

    def begin(self, materials: Sequence[Material], part: float = BEGUN) -> tuple[Portion, ...]:
        """Add a part of the low end of the doses; the rest waits for the meter.

        Nothing is begun where a dose is not known, or is a powder that has to be dissolved first.
        """
        doses = {dose.material: dose for dose in self.acidity.doses} if self.acidity else {}
        if any(m.id not in doses or doses[m.id].low <= 0 or has(m, "dissolve") for m in materials):
            return ()
        for material in materials:
            first = on_grid(part * self.share(doses[material.id].low), self.batch.balance_g)
            self.begun_g[material.id] = min(first, self.batch.line(material.id).grams)
        return tuple(self._portion(material, self.begun_g[material.id], None) for material in materials)

    def ready(self) -> tuple[Portion, ...]:
        """Return the acid and base to keep ready, which are no part of the batch."""
        asked = self.acidity.have_ready if self.acidity else ()
        found = []
        for dose in asked:
            material = self.library.material[dose.material]
            span = (self.share(dose.low), self.share(dose.high))
            found.append(self._portion(material, self.share(dose.percent), span))
        return tuple(found)

    def most(self, material: Material) -> float:
        """Return the most of an acid or base that the batch may need  [g]."""
        known = (*self.acidity.doses, *self.acidity.have_ready) if self.acidity else ()
        highest = max((self.share(dose.high) for dose in known if dose.material == material.id), default=0.0)
        line = next((line for line in self.batch.lines if line.material == material.id), None)
        return highest if line is None else max(highest, line.grams)

    def _portion(self, material: Material, grams: float, span: tuple[float, float] | None) -> Portion:
        step = self.batch.balance_g
        grams = on_grid(grams, step)
        return Portion(
            material=material.id,
            name=material.name,
            grams=grams,
            percent=100.0 * grams / self.batch.batch_g,
            low_g=None if span is None else on_grid(span[0], step),
            high_g=None if span is None else on_grid(span[1], step),
            hazards=hazards_of(material),
        )

    def shown(self, grams: float) -> str:
        """Return grams as the balance shows them."""
        return f"{grams:.{self.batch.digits}f} g"

    def share(self, percent: float) -> float:
        """Return a percentage of the batch as grams on the balance."""
        return on_grid(percent * self.batch.batch_g / 100.0, self.batch.balance_g)

    def step(
        self,
        phase: Phase,
        kind: Kind,
        what: str,
        why: str = "",
        portions: tuple[Portion, ...] = (),
        **window: float | None,
    ) -> None:
        """Add a step; the vessel is warmed or cooled first where `above_C` or `below_C` asks for it."""
        above, below = window.get("above_C"), window.get("below_C")
        if above is not None:
            self.warm(phase, above)
        if below is not None:
            self.cool(phase, below)
        self.apart(phase, kind, what, why, portions, **window)

    def warm(self, phase: Phase, above: float) -> None:
        """Warm the vessel, where it is not as warm already [C]."""
        if (self.hot_C or 0.0) < above:
            what = f"Warm the vessel to {above:g} C, covered."
            self.apart(phase, "heat", what, "What follows dissolves or melts only when warm.", above_C=above)
            self.hot_C = above

    def cool(
        self, phase: Phase, below: float, why: str = "What follows suffers from heat or evaporates."
    ) -> None:
        """Let a warm vessel cool, where it is not below that temperature already [C]."""
        if self.hot_C is not None and self.hot_C >= below:
            what = f"Let the vessel cool to below {below:g} C, stirring slowly."
            self.apart(phase, "cool", what, why, below_C=below)
            self.hot_C = below - 1.0

    def apart(
        self,
        phase: Phase,
        kind: Kind,
        what: str,
        why: str = "",
        portions: tuple[Portion, ...] = (),
        **window: float | None,
    ) -> None:
        """Add a step in a beaker of its own, whose heat does not matter to the vessel; `window` as in `Step`."""
        self.steps.append(
            Step(
                number=len(self.steps) + 1,
                phase=phase,
                kind=kind,
                what=what,
                why=why,
                portions=portions,
                **window,
            )
        )


def spoken(materials: Iterable[Material]) -> str:
    """Return the names of materials in a sentence: "Xanthan gum and Glycerin", each up to its first comma."""
    names = list(dict.fromkeys(m.name.partition(",")[0] for m in materials))
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else ""


def in_turn(materials: Sequence[Material]) -> str:
    """Return how one or several materials are stirred in."""
    return "one after the other, each until it is even" if len(materials) > 1 else "until it is even"


def has(material: Material, *words: str) -> bool:
    """Tell whether the handling of a material has any of the words."""
    return any(word in material.handling for word in words)


def sorted_out(materials: Sequence[Material], *words: str) -> tuple[list[Material], list[Material]]:
    """Split materials into those with one of the handling words and the others."""
    return [m for m in materials if has(m, *words)], [m for m in materials if not has(m, *words)]


def hottest(materials: Iterable[Material]) -> float | None:
    """Return the highest temperature above which any of the materials must be added."""
    return max((m.add_above_C for m in materials if m.add_above_C is not None), default=None)


def coolest(materials: Iterable[Material]) -> float | None:
    """Return the lowest temperature below which any of the materials must be added."""
    return min((m.add_below_C for m in materials if m.add_below_C is not None), default=None)


def longest(materials: Iterable[Material]) -> float | None:
    """Return the longest hydration of the materials [h]."""
    return max((m.hydration_h for m in materials if m.hydration_h), default=None)


def wetting_of(
    gum: Material, library: Library, needs: Sequence[Needs], present: Iterable[str]
) -> tuple[tuple[str, ...], Needs | None]:
    """Return the ids of what a gum is slurried in, and the house rule that says so.

    The rule's materials as far as the formula has them; without a rule the humectants of the gum phase.
    """
    here = list(present)
    for rule in needs:
        if gum.id in resolve(rule.material, library):
            wet = set(resolve(rule.other, library))
            found = tuple(name for name in here if name in wet and name != gum.id)
            if found:
                return found, rule
    humectants = tuple(
        name for name in here if library.material[name].function == "humectant"
        and library.material[name].phase == "gum"
    )  # fmt: skip
    return humectants, None
