"""What the slow judge knows of a library: vectors summed from its tables, in plain Python."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from optiform.brief.models import Brief

CLASSES = ("anionic", "amphoteric", "nonionic", "cationic")
Vector = np.ndarray


@dataclass
class Contents:
    """The materials of a brief's library, and what each is made of.

    `ionic_strength` is that at which the rows of a dosed pH are taken; `optional` are materials of a set
    that may come in any amount, none among them.
    """

    brief: Brief
    ionic_strength: float = 0.1
    optional: frozenset[str] = frozenset()
    fraction: dict[str, dict[str, float]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        library = self.brief.library
        self.ids = [m.id for m in library.materials]
        self.water = next(m.id for m in library.materials if m.function == "water")
        for part in library.parts:
            self.fraction.setdefault(part.material, {})[part.inci] = part.percent / 100

    # what things are made of

    def _vector(self, value) -> Vector:
        return np.array([float(value(m)) for m in self.brief.library.materials])

    def active(self, m, test=lambda substance: True) -> float:
        if m.function != "surfactant":
            return 0.0
        substances = self.brief.library.substance
        return sum(
            share
            for inci, share in self.fraction[m.id].items()
            if substances[inci].charge_class is not None and test(substances[inci])
        )

    def _charge_class(self, word: str) -> Vector:
        return self._vector(lambda m: self.active(m, lambda s: s.charge_class == word))

    def members(self, reference: str) -> set[str]:
        kind, colon, word = reference.partition(":")
        if not colon:
            kind, word = "material", reference
        return {m.id for m in self.brief.library.materials if self._part(m, kind, word) > 0}

    def may_be(self, kind: str, word: str) -> set[str]:
        """Return the materials that may have what an exclusion names."""
        found = set()
        for m in self.brief.library.materials:
            held = self.fraction[m.id]
            if kind == "tag" and (
                f"{word}?" in m.tags
                or any(
                    f"{word}?" in self.brief.library.substance[inci].tags
                    for inci, share in held.items()
                    if share > 0
                )
            ):
                found.add(m.id)
        for part in self.brief.library.parts:
            if kind == "substance" and part.inci == word and part.high:
                found.add(part.material)
            if kind == "tag" and part.high and word in self.brief.library.substance[part.inci].tags:
                found.add(part.material)
        return found

    def _part(self, m, kind: str, word: str) -> float:
        if kind == "material":
            return float(m.id == word)
        if kind == "function":
            return float(word == m.function or word in m.also)
        substances = self.brief.library.substance
        if kind == "substance":
            return self.fraction[m.id].get(word, 0.0)
        if word in m.tags:
            return 1.0
        return sum(share for inci, share in self.fraction[m.id].items() if word in substances[inci].tags)

    def amount(self, reference: str) -> Vector:
        """Return the vector of a total by its name: a measure, a reference or a bare word."""
        kind, colon, word = reference.partition(":")
        library = self.brief.library
        if colon:
            return self._vector(lambda m: self._part(m, kind, word))
        if reference == "cost":
            return self._vector(lambda m: m.price / 100)
        if reference == "active matter":
            return self._vector(self.active)
        if reference in CLASSES:
            return self._charge_class(reference)
        if reference == "electrolyte":
            return self._vector(
                lambda m: sum(
                    f for i, f in self.fraction[m.id].items() if "electrolyte" in library.substance[i].tags
                )
            )
        if reference == "irritation load":
            return 100 * self.amount("active matter") - self._mild()
        column = next((c for c in library.measures if c.name == reference), None)
        if column is not None:
            if column.basis != "total":
                raise ValueError(reference)
            return self._vector(lambda m: m.extra.get(column.column, math.nan))
        for kind in ("material", "substance", "tag"):
            vector = self._vector(lambda m, kind=kind: self._part(m, kind, reference))
            if vector.any():
                return vector
        raise ValueError(reference)

    def uncharged(self, inci: str, pH: float) -> Vector:
        """Return what each material brings of an acid with one effective pKa in its uncharged form, as written.

        Henderson and Hasselbalch: 1 / (1 + 10^(pH - pKa)).
        """
        (pka,) = self.brief.library.substance[inci].pka
        return self._vector(lambda m: self.fraction[m.id].get(inci, 0.0) / (1.0 + 10.0 ** (pH - pka)))

    def _mild(self) -> Vector:
        substances = self.brief.library.substance
        return self._vector(
            lambda m: sum(
                share * substances[inci].mildness
                for inci, share in self.fraction[m.id].items()
                if m.function == "surfactant"
                and substances[inci].charge_class
                and substances[inci].mildness is not None
            )
        )

    def ratio(self, name: str) -> tuple[Vector, Vector | None]:
        """Return numerator and denominator of a measure by name."""
        if name == "mildness":
            return self._mild(), self.amount("active matter")
        if name == "natural origin":
            return self._vector(self._natural), None
        if name == "natural origin without water":
            added = self._vector(lambda m: m.function != "water")
            return 100 * added * self._vector(self._natural), added
        if name.startswith("share:"):
            return 100 * self.share_of(name.removeprefix("share:")), self.amount("active matter")
        column = next((c for c in self.brief.library.measures if c.name == name and c.basis != "total"), None)
        if column is not None:
            base = self.amount(column.basis)
            return base * self._vector(lambda m: m.extra.get(column.column, 0.0)), base
        return self.amount(name), None

    def _natural(self, m) -> float:
        if m.natural_origin is not None:
            return m.natural_origin
        substances = self.brief.library.substance
        return sum(
            share * (1.0 if inci == "Aqua" else substances[inci].natural_origin or 0.0)
            for inci, share in self.fraction[m.id].items()
        )

    def share_of(self, word: str) -> Vector:
        """Return the active matter of a class, substance, material or tag."""
        if word in CLASSES:
            return self._charge_class(word)
        kind, colon, rest = word.partition(":")
        if colon and kind in ("material", "function"):
            return self._vector(lambda m: self.active(m) * self._part(m, kind, rest))
        name = rest if colon else word
        if word in self.brief.library.material:
            return self._vector(lambda m: self.active(m) * (m.id == word))
        if name in self.brief.library.substance:
            return self._vector(lambda m: self.active(m, lambda s: s.inci == name))
        return self._vector(
            lambda m: self.active(m) if name in m.tags else self.active(m, lambda s: name in s.tags)
        )

    def lacks(self, name: str) -> set[str]:
        """Return the materials without the data of a measure."""
        found = set()
        substances = self.brief.library.substance
        for m in self.brief.library.materials:
            held = [substances[inci] for inci, share in self.fraction[m.id].items() if share > 0]
            if name in ("mildness", "irritation load"):
                lacking = m.function == "surfactant" and any(
                    s.charge_class and s.mildness is None for s in held
                )
            elif name.startswith("natural origin"):
                lacking = m.natural_origin is None and any(
                    s.natural_origin is None and s.inci != "Aqua" for s in held
                )
            else:
                column = next((c for c in self.brief.library.measures if c.name == name), None)
                counted = column is not None and (
                    column.basis == "total"
                    or (
                        self.active(m) > 0
                        if column.basis == "active matter"
                        else m.id in self.members(column.basis)
                    )
                )
                lacking = counted and column.column not in m.extra
            if lacking:
                found.add(m.id)
        return found

    # pH

    def charge(self, pH: float) -> Vector:
        """Return meq per g of each material; one pKa per substance at most, effective."""
        strength = self.ionic_strength
        root = math.sqrt(strength)
        gamma = 10 ** (-0.509 * root / (1 + 1.5 * root))
        own = (10**-pH - 10 ** (pH - 13.997)) / gamma
        substances = self.brief.library.substance

        def of(m) -> float:
            total = m.free_alkali / 1000
            for inci, share in self.fraction[m.id].items():
                s = substances[inci]
                if inci == "Aqua":
                    total += share * own
                elif s.molar_mass and (s.pka or s.charge_acid_form or s.strong_charge):
                    assert len(s.pka) <= 1
                    assert not s.pka or s.pka_kind == "effective"
                    lost = sum(1 / (1 + 10 ** (pka - pH)) for pka in s.pka)
                    total += (
                        share
                        * 1000
                        / s.molar_mass
                        * ((s.charge_acid_form or 0) + (s.strong_charge or 0) - lost)
                    )
            return total

        return self._vector(of)

    def unknown_charge(self) -> set[str]:
        substances = self.brief.library.substance
        return {
            m.id
            for m in self.brief.library.materials
            if any(
                inci != "Aqua"
                and not substances[inci].pka
                and substances[inci].charge_acid_form is None
                and substances[inci].strong_charge is None
                for inci, share in self.fraction[m.id].items()
                if share > 0
            )
        }
