"""Finds which material a typed name means: an id, a name or an INCI name, however it is spelt."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from optiform.faults import Faults
from optiform.library.cached_per_library import cached_per_library
from optiform.library.checking.names import Names
from optiform.library.files.columns import shortened
from optiform.library.models import Library, Part

By = Literal["id", "name", "INCI"]
OFFERED = 8
"""Materials that a question lists; of further ones only the number is told."""


@dataclass(frozen=True)
class Match:
    """What a typed name was taken for.

    Attributes
    ----------
    typed : str
        As it was typed.
    material, name : str
        Id and name of the material that it means.
    by : str
        Whether the text is its id, its name, or the INCI name of what it mainly holds.
    """

    typed: str
    material: str
    name: str
    by: By


def folded(text: str) -> str:
    """Return a name without what people write differently: case, hyphens, commas, repeated blanks, a per cent sign."""
    plain = unicodedata.normalize("NFKC", text).casefold()
    return re.sub(r"(?<!\d)\.|\.(?!\d)|[^\w.]+|_", " ", plain).strip().replace("  ", " ")


def told_matches(matched: Iterable[Match]) -> tuple[str, ...]:
    """Return what was taken for what, in a sentence; nothing where every name is an id."""
    words = [f"'{match.typed}' as {match.name} ({match.material})" for match in matched]
    return (f"Read {'; '.join(words)}.",) if words else ()


@dataclass(frozen=True)
class Matcher:
    """The names of a library, ready to be looked up.

    Attributes
    ----------
    ids, names, short, substances : mapping of str to tuple of str
        Folded ids; whole names; names up to their first comma; INCI and US names of what each material is; each with
        the ids of the materials that it may mean.
    """

    library: Library
    ids: Mapping[str, tuple[str, ...]]
    names: Mapping[str, tuple[str, ...]]
    short: Mapping[str, tuple[str, ...]]
    substances: Mapping[str, tuple[str, ...]]
    known: Names

    def candidates(self, text: str, *, inci: bool = False) -> tuple[tuple[str, ...], By]:
        """Return the ids of the materials that a text may mean, and as what it names them.

        An id as it is written means that material. Anything else means every material that has it as id, as name or
        as INCI name of what it is; where there is none, every material whose name begins with it up to a comma.

        Parameters
        ----------
        inci : bool
            The text is called an INCI name, so that it is looked for among substances first.
        """
        key = folded(text)
        if inci and key in self.substances:
            return self.substances[key], "INCI"
        if text in self.library.material:
            return (text,), "id"
        by_id, by_name = self.ids.get(key, ()), self.names.get(key, ())
        found = tuple(dict.fromkeys((*by_id, *by_name, *self.substances.get(key, ()))))
        if not found:
            return self.short.get(key, ()), "name"
        return found, "id" if by_id == found else "name" if by_name == found else "INCI"

    def match(self, typed: Sequence[tuple[str, bool]]) -> tuple[tuple[str, ...], By]:
        """Return what all texts of one line together may mean.

        An id as it is written decides. Else each further text narrows those before it; texts that contradict each
        other mean all of what each may mean.

        Parameters
        ----------
        typed : sequence of (str, bool)
            Texts, and whether each is called an INCI name.
        """
        found, by = self.candidates(typed[0][0], inci=typed[0][1])
        if found == (typed[0][0],):
            return found, by
        for text, inci in typed[1:]:
            here, as_what = self.candidates(text, inci=inci)
            both = tuple(material for material in found if material in here)
            found, by = (
                (both, by) if both else (tuple(dict.fromkeys((*found, *here))), by if found else as_what)
            )
        return found, by

    def one(
        self, text: str, place: str, faults: Faults, *beside: tuple[str, bool], inci: bool = False
    ) -> str:
        """Return the id of the one material that a text means, or an empty text after noting why there is none."""
        found, _ = self.match(((text, inci), *beside))
        if len(found) == 1:
            return found[0]
        self.ask(text, found, place, faults)
        return ""

    def ask(self, text: str, found: Sequence[str], place: str, faults: Faults) -> None:
        """Note that a text means no material, with the nearest name, or several, with the list to choose from."""
        if not found:
            message = f"there is no material '{shortened(text)}' in the library"
            faults.add(place, message, nearest=self.nearest(text))
            return
        offered = [f"{name} ({self.library.material[name].name})" for name in found[:OFFERED]]
        more = f", and {len(found) - OFFERED} more" if len(found) > OFFERED else ""
        message = f"'{shortened(text)}' could be {len(found)} materials"
        faults.add(place, message, allowed=f"one of {'; '.join(offered)}{more}")

    def nearest(self, text: str) -> str:
        """Return the id of the material whose id or name is most like a text, or an empty text."""
        near = self.known.nearest(folded(text))
        found = next(
            (way[near] for way in (self.ids, self.names, self.short, self.substances) if near in way), ()
        )
        return found[0] if found else ""

    def matched(self, text: str, material: str, by: By) -> Match:
        """Return what a text was taken for."""
        return Match(text, material, self.library.material[material].name, by)


@cached_per_library
def matcher(library: Library) -> Matcher:
    """Return the names of a library, sorted once."""
    ids = _by_key((material.id, material.id) for material in library.materials)
    names = _by_key((material.name, material.id) for material in library.materials)
    short = _by_key((material.name.partition(",")[0], material.id) for material in library.materials)
    substances = _by_key(_named_by_substance(library))
    return Matcher(library, ids, names, short, substances, Names((*ids, *names, *short, *substances)))


def _by_key(pairs: Iterable[tuple[str, str]]) -> dict[str, tuple[str, ...]]:
    """Sort (name, material id) pairs under the folded name."""
    found: dict[str, dict[str, None]] = {}
    for name, material in pairs:
        found.setdefault(folded(name), {})[material] = None
    return {key: tuple(materials) for key, materials in found.items()}


def _named_by_substance(library: Library) -> Iterable[tuple[str, str]]:
    """Yield INCI and US names with the materials that they mean.

    A surfactant, which is sold with salt and by-products, means the materials of which it is most. Any other
    substance means those in which it is alone but for water, lest glycerin mean an extract in it; where it never is
    alone, those of which it is most.
    """
    alone: dict[str, list[str]] = {}
    most: dict[str, list[str]] = {}
    for material in library.materials:
        held = dissolved(library, material.id)
        if held:
            most.setdefault(held[0].inci, []).append(material.id)
        if len(held) == 1:
            alone.setdefault(held[0].inci, []).append(material.id)
    for inci, found in most.items():
        substance = library.substance.get(inci)
        washes = substance is not None and substance.charge_class is not None
        us_name = substance.name_us if substance is not None else ""
        for material_id in found if washes else alone.get(inci, found):
            yield inci, material_id
            if us_name:
                yield us_name, material_id


def dissolved(library: Library, material: str) -> tuple[Part, ...]:
    """Return what a material holds besides water, the most of it first; of water alone, the water."""
    parts = [part for part in library.composition.get(material, ()) if part.percent > 0]
    held = [part for part in parts if part.inci != "Aqua"] or parts
    return tuple(sorted(held, key=lambda part: -part.percent))
