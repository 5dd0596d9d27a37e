"""Tells which colourants and preservatives of a library stand on no list of the law."""

from __future__ import annotations

from collections.abc import Iterator

from optiform.law.limits import listed
from optiform.law.models import Area, Law, PositiveList, Product
from optiform.law.shipped import shipped_positive_lists
from optiform.library.models import Frozen, Library, Material

SOLVENTS = ("Aqua", "Glycerin")
"""What only carries a colourant or a preservative is not asked for on a list."""


class Unlisted(Frozen):
    """A material whose use asks for a list of the law on which what makes it work does not stand."""

    material: str
    name: str
    substances: tuple[str, ...]
    rule: PositiveList


def unlisted(library: Library, law: Law, product: Product, area: Area) -> tuple[Unlisted, ...]:
    """Return the colourants and preservatives of a library that no list of the law holds.

    Parameters
    ----------
    law : Law
        With a library's own rows: a row of use colourant or preservative puts a substance on its list.
    product, area : str
        Some colourants are listed for some products alone.

    Notes
    -----
    Of a colourant every substance tagged `colourant` must be listed, or without such a tag one of
    its substances; of a preservative blend one substance is enough.
    """
    return tuple(_found(library, law, product, area))


def _found(library: Library, law: Law, product: Product, area: Area) -> Iterator[Unlisted]:
    for rule in shipped_positive_lists():
        if rule.jurisdiction != law.jurisdiction:
            continue
        on_list = listed(law, rule.use, product, area)
        for material in library.materials:
            if material.function != rule.use:
                continue
            parts = _parts(library, material)
            colours = [inci for inci in parts if "colourant" in library.substance[inci].tags]
            asked = colours if rule.use == "colourant" and colours else parts
            missing = tuple(sorted(inci for inci in asked if inci.casefold() not in on_list))
            if missing and (asked is colours or len(missing) == len(asked)):
                yield Unlisted(material=material.id, name=material.name, substances=missing, rule=rule)


def _parts(library: Library, material: Material) -> list[str]:
    named = dict.fromkeys(part.inci for part in library.composition[material.id] if part.percent > 0)
    return [inci for inci in named if inci not in SOLVENTS] or list(named)
