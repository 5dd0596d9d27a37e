"""What a library is made of: rows, rules, and the library itself."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property
from typing import TYPE_CHECKING, Any

from pydantic import Field

from optiform.library.rows import (
    GRAMS,
    LEAST_GRAMS,
    MOST,
    MOST_GRAMS,
    MOST_MONEY,
    ChargeClass,
    Frozen,
    Function,
    Material,
    Pack,
    Part,
    Phase,
    Substance,
    TitrationPoint,
    Trial,
    Trust,
)
from optiform.library.rules import (
    Base,
    ColumnMeasure,
    Incompatible,
    LinearRule,
    Needs,
    Note,
    PreservativeSystem,
    Rule,
    Rules,
    Term,
    When,
)
from optiform.mappings import FrozenDict, FrozenMap

if TYPE_CHECKING:
    from collections.abc import Mapping

    from optiform.library.arrays import Arrays
    from optiform.library.selection import SelectionIndex

__all__ = [
    "GRAMS",
    "LEAST_GRAMS",
    "MOST",
    "MOST_GRAMS",
    "MOST_MONEY",
    "Base",
    "ChargeClass",
    "ColumnMeasure",
    "Frozen",
    "Function",
    "Incompatible",
    "Library",
    "LinearRule",
    "Material",
    "Needs",
    "Note",
    "Pack",
    "Part",
    "Phase",
    "PreservativeSystem",
    "Rule",
    "Rules",
    "Substance",
    "Term",
    "TitrationPoint",
    "Trial",
    "Trust",
    "When",
]  # fmt: skip


class Library(Frozen):
    """Everything that can be bought, with the house rules that belong to it.

    The order of `materials` and `substances` is that of the files; code aligns by id through
    `arrays`, never by position in a file.
    """

    name: str
    folder: str = ""
    currency: str = "EUR"
    trust: FrozenMap[str, Trust] = Field(default_factory=FrozenDict)
    substances: tuple[Substance, ...]
    materials: tuple[Material, ...]
    parts: tuple[Part, ...]
    measures: tuple[ColumnMeasure, ...] = ()
    systems: tuple[PreservativeSystem, ...] = ()
    rules: Rules = Rules()
    titrations: tuple[TitrationPoint, ...] = ()
    trials: tuple[Trial, ...] = ()
    bases: tuple[Base, ...] = ()
    packs: tuple[Pack, ...] = ()
    limits_file: str = ""
    notes: tuple[str, ...] = ()

    @cached_property
    def material(self) -> dict[str, Material]:
        """Return the materials by id."""
        return {material.id: material for material in self.materials}

    @cached_property
    def substance(self) -> dict[str, Substance]:
        """Return the substances by INCI name."""
        return {substance.inci: substance for substance in self.substances}

    @cached_property
    def composition(self) -> dict[str, tuple[Part, ...]]:
        """Return the parts of each material, by material id."""
        parts: dict[str, list[Part]] = {material.id: [] for material in self.materials}
        for part in self.parts:
            parts.setdefault(part.material, []).append(part)
        return {material: tuple(found) for material, found in parts.items()}

    @cached_property
    def own_trials(self) -> tuple[Trial, ...]:
        """Return the trials that somebody really made here: those of no other trust than their own."""
        usual = self.trust.get("mPa_s", Trust.OWN)
        return tuple(trial for trial in self.trials if (trial.trust or usual) is Trust.OWN)

    @cached_property
    def water(self) -> Material:
        """Return the one material whose function is water: the q.s."""
        return next(material for material in self.materials if material.function == "water")

    @cached_property
    def selections(self) -> SelectionIndex:
        """Return the materials under each function, tag and substance; ask it through `select`."""
        from optiform.library.selection import SelectionIndex

        return SelectionIndex.of(self)

    @cached_property
    def arrays(self) -> Arrays:
        """Return the numeric core of this library."""
        from optiform.library.arrays import Arrays

        return Arrays.of(self)

    def __hash__(self) -> int:
        """Hash cheaply, so that what was built from a library can be kept beside it."""
        sizes = (len(self.materials), len(self.substances), len(self.parts))
        return hash((self.name, self.folder, self.currency, sizes))

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Library:
        """Return a library with some fields changed; nothing derived from the old fields is kept.

        The values are shared, not copied: they are frozen, so `deep` changes nothing.
        """
        fields = {name: getattr(self, name) for name in Library.model_fields}
        return Library(**{**fields, **(update or {})})

    def __getstate__(self) -> dict[Any, Any]:
        """Return what travels to another process: the fields, and nothing that was worked out of them."""
        fields = {name: getattr(self, name) for name in Library.model_fields}
        return {**super().__getstate__(), "__dict__": fields}

    def __eq__(self, other: object) -> bool:
        """Compare by identity first, then by content."""
        return self is other or (isinstance(other, Library) and super().__eq__(other))


def phases_of(materials: Iterable[Material]) -> dict[str, Phase | None]:
    """Return the phase of each material of a formula: its own, save where the others leave it nothing to do there.

    A liquid that wets gums goes into the water where the formula has no gum. A solubiliser goes with the oil that it
    helps to hold where there is no fragrance for it to carry.
    """
    found = list(materials)
    gums = any(material.phase == "gum" and material.function != "humectant" for material in found)
    oils = any(material.function == "oil" and material.phase == "oil" for material in found)
    scented = any(material.function == "fragrance" for material in found)

    def phase(material: Material) -> Phase | None:
        if material.phase == "gum" and not gums:
            return "water"
        if material.function == "solubiliser" and oils and not scented:
            return "oil"
        return material.phase

    return {material.id: phase(material) for material in found}
