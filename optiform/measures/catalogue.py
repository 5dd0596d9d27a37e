"""Every measure of a library, by the name a user writes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial

from optiform.faults import nearest
from optiform.library.models import Library
from optiform.library.selection import FUNCTIONS
from optiform.measures import amounts, emulsion, natural, surfactants
from optiform.measures.acidity import BUFFER_CAPACITY, acidity, buffer_capacity
from optiform.measures.columns import column_measure
from optiform.measures.conditions import Conditions
from optiform.measures.learned import learned
from optiform.measures.measure import Measure
from optiform.measures.parts import CHARGE_CLASSES, UnknownPart, known_tags
from optiform.measures.texture import viscosity
from optiform.measures.uncharged import undissociated

PREFIXES = ("substance", "tag", "function", "material", "share", "undissociated")
COUNT = "ingredients"
MEANT = {"price": "cost", "strength": "active matter", "gentleness": "mildness", "thickness": "viscosity"}
"""Other words for a measure, by which it is suggested."""


class UnknownMeasure(KeyError):
    """No measure of that name; `nearest` is the most similar one that exists."""

    def __init__(self, name: str, near: str) -> None:
        super().__init__(name)
        self.name, self.nearest = name, near


@dataclass(frozen=True, eq=False)
class Catalogue:
    """Finds measures of one library by name, under frozen conditions; each is built once.

    Names are "cost", "active matter", the charge classes, "mildness", "irritation load", "pH",
    "buffer capacity", "natural origin", "natural origin without water", "electrolyte", "viscosity", "emulsifier HLB",
    "required HLB", "ingredients", what a bench taught, the measures that the library adds as columns, and
    "substance:INCI", "tag:WORD", "function:WORD", "material:ID", "share:CLASS" (also a tag,
    substance or material) and "undissociated:INCI".
    """

    library: Library = field(repr=False)
    conditions: Conditions = field(default_factory=Conditions)
    _built: dict[str, Measure] = field(default_factory=dict, repr=False)

    def find(self, name: str) -> Measure:
        """Return the measure of that name.

        Raises
        ------
        UnknownMeasure
            With the nearest name.
        """
        if name not in self._built:
            try:
                self._built[name] = self._made(name)
            except UnknownPart:
                kind, colon, _ = name.partition(":")
                among = self._nameable(kind if colon and kind in PREFIXES else None)
                near = nearest(name, among) or MEANT.get(nearest(name, MEANT), "")
                raise UnknownMeasure(name, near) from None
        return self._built[name]

    def known(self, name: str) -> bool:
        """Tell whether a measure of that name exists."""
        if name not in self._built:
            try:
                self._built[name] = self._made(name)
            except UnknownPart:
                return False
        return True

    def names(self) -> tuple[str, ...]:
        """Return the names without a prefix: the built-in ones, then the library's own columns."""
        return (*self._plain, *(column.name for column in self.library.measures))

    @property
    def _plain(self) -> dict[str, Callable[[], Measure]]:
        library, strength = self.library, self.conditions.ionic_strength
        plain: dict[str, Callable[[], Measure]] = {
            "cost": partial(amounts.cost, library),
            "active matter": partial(surfactants.strength, library),
            "mildness": partial(surfactants.mildness, library),
            "irritation load": partial(surfactants.irritation_load, library),
            "pH": partial(acidity, library, strength),
            BUFFER_CAPACITY: partial(buffer_capacity, library, *self.conditions.window, strength),
            "natural origin": partial(natural.natural_origin, library),
            "natural origin without water": partial(natural.natural_origin, library, without_water=True),
            "electrolyte": partial(amounts.electrolyte, library),
            "viscosity": partial(viscosity, library, self.conditions.base),
            "emulsifier HLB": partial(emulsion.balance, library, "emulsifier HLB"),
            "required HLB": partial(emulsion.balance, library, "required HLB"),
            COUNT: partial(amounts.count, library),
        }
        for word in CHARGE_CLASSES:
            plain[word] = partial(surfactants.strength_of_class, library, word)
        for taught in self.conditions.known.taught:
            plain[taught.name] = partial(learned, library, taught)
        return plain

    def _made(self, name: str) -> Measure:
        """Make a measure; `UnknownPart` where there is none of that name."""
        plain = self._plain.get(name)
        if plain is not None:
            return plain()
        for column in self.library.measures:
            if column.name == name:
                return column_measure(self.library, column)
        kind, colon, word = name.partition(":")
        if not colon or kind not in PREFIXES:
            raise UnknownPart(name)
        return self._prefixed(kind, word, name)

    def _prefixed(self, kind: str, word: str, name: str) -> Measure:
        library, conditions = self.library, self.conditions
        if kind == "share":
            return surfactants.share(library, self.kind_of(word), word.rpartition(":")[2], name)
        if kind == "undissociated":
            if word not in library.substance or not library.substance[word].pka:
                raise UnknownPart(word)
            return undissociated(library, word, conditions, name)
        return amounts.amount(library, kind, word, name)

    def kind_of(self, word: str) -> str:
        """Tell what a bare word is: a charge class, material, substance or tag (or its own prefix)."""
        prefix, colon, _ = word.partition(":")
        if colon and prefix in PREFIXES[:4]:
            return prefix
        if word in CHARGE_CLASSES:
            return word
        if word in self.library.material:
            return "material"
        if word in self.library.substance:
            return "substance"
        if word in known_tags(self.library):
            return "tag"
        raise UnknownPart(word)

    def _nameable(self, kind: str | None = None) -> list[str]:
        """Return the names to compare a misspelt one with."""
        library = self.library
        words = {
            "substance": list(library.substance),
            "material": list(library.material),
            "tag": sorted(known_tags(library)),
            "function": FUNCTIONS,
            "share": [*CHARGE_CLASSES, *sorted(known_tags(library))],
            "undissociated": [substance.inci for substance in library.substances if substance.pka],
        }
        if kind is not None:
            return [f"{kind}:{word}" for word in words[kind]]
        return [*self.names(), *(f"{prefix}:{word}" for prefix in words for word in words[prefix])]
