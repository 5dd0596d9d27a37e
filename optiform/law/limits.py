"""Tells which limits hold for a product, and states each as a linear row.

A limit is a sum over substances: factor times percent, at most `max_percent`. The factor of a salt
under a limit expressed as the acid is the acid that its mole brings, by mass:
``equivalents * basis_molar_mass / molar_mass(substance)``.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import date
from itertools import chain

from optiform.faults import BadInput, Fault
from optiform.law.models import AREAS, PRODUCTS, Area, Law, Limit, Product, Use
from optiform.law.wording import limit_label, limit_title
from optiform.library.models import Frozen, Trust

SAME_SUBSTANCE = 5e-4
"""A molar mass this near the basis (relative) is the basis itself, written with fewer digits."""


class ApplicableLimit(Frozen):
    """One limit that holds for a product: which substances count, how much of them, who says so.

    Attributes
    ----------
    key : str
        Unique within the law of a place, e.g. ``EU Annex V/1``.
    title : str
        The limit in plain words.
    label : str
        What it bounds; "" for what is not allowed at all.
    max_percent : float
        Largest amount in the finished product, on the limit's own basis [% w/w].
    entry, source, warning, trust
        Where it stands, who read it, what comes with it, how firm it is.
    use : str
        preservative, other or any.
    substances : tuple of str
        INCI names that count.
    only_as_preservative : tuple of str
        Those of them that count only as far as materials of function preservative bring them:
        the law has another entry for their other uses in this product.
    rows : tuple of Limit
        The rows of the table behind it.
    """

    key: str
    title: str
    label: str
    max_percent: float
    entry: str
    source: str
    warning: str
    trust: Trust
    use: Use
    substances: tuple[str, ...]
    only_as_preservative: tuple[str, ...] = ()
    rows: tuple[Limit, ...] = ()

    def factors(self, molar_masses: Mapping[str, float], present: Collection[str]) -> dict[str, float]:
        """Return what 1 % w/w of each present substance counts under this limit: sum(factor * percent) <= max_percent.

        Names are compared without case, and come back as they are spelt in `present`; substances outside the limit are
        left out. Molar masses [g/mol] are needed where the limit is expressed as another substance.

        Raises
        ------
        BadInput
            A molar mass is needed and missing; each such substance is named.
        """
        masses = {name.casefold(): mass for name, mass in molar_masses.items()}
        by_name = {name.casefold(): (name, row) for row in self.rows for name in row.substances}
        factors: dict[str, float] = {}
        faults: list[Fault] = []
        for inci in sorted(present):
            if inci.casefold() not in by_name:
                continue
            name, row = by_name[inci.casefold()]
            mass = masses.get(inci.casefold())
            if row.basis_molar_mass is None:
                factors[inci] = 1.0
            elif mass is None:
                place = f"{inci}, column molar_mass"
                message = f"the molar mass is missing; {self.key} is expressed as another substance"
                faults.append(Fault("substances.csv", place, message, "a number above 0, g/mol"))
            else:
                ratio = row.basis_molar_mass / mass
                same = abs(ratio - 1.0) < SAME_SUBSTANCE
                factors[inci] = row.equivalents.get(name, 1.0) * (1.0 if same else ratio)
        if faults:
            raise BadInput(faults)
        return factors


class Condition(Frozen):
    """A condition or a label phrase that comes with a substance that is present."""

    substances: tuple[str, ...]
    text: str
    entry: str
    trust: Trust
    source: str


def applicable(
    law: Law,
    product: Product,
    area: Area,
    users: Collection[str] = (),
    on: date | None = None,
) -> tuple[ApplicableLimit, ...]:
    """Return the limits that hold for a product, one per linear row, in the order of the tables.

    Parameters
    ----------
    on : date, optional
        The day; the law's own when absent.

    Notes
    -----
    Rows of one entry that govern the same thing (the same `group`, or without one the same
    substances) compete: those written for particular users win over those for everybody, then those
    for an area over those for all, then those for a kind of product over those for any. Among equally
    particular rows the lowest maximum wins. Rows of different entries never displace one another.

    A row for preservative use counts every material that brings the substance, whatever the material
    is for, unless another entry governs the substance's other uses in this product: then only
    materials of function preservative count. A row for other uses always counts every material.
    """
    rows = _in_force(law, product, area, users, on)
    elsewhere = {
        (row.jurisdiction, name.casefold()) for row in rows if row.use == "other" for name in row.substances
    }
    found: list[ApplicableLimit] = []
    taken: set[str] = set()
    for group in _winners(rows):
        most = min((row.max_percent for row in group if row.max_percent is not None), default=None)
        if most is None or (group[0].use == "colourant" and most > 0):
            continue
        found.append(_limit(group, most, _key(group[0], law, taken), law.jurisdiction, elsewhere))
    return tuple(found)


def _limit(
    group: tuple[Limit, ...], most: float, key: str, jurisdiction: str, elsewhere: Collection[tuple[str, str]]
) -> ApplicableLimit:
    """Return the limit that a group of rows states; `elsewhere` are substances whose other uses another row governs."""
    first = group[0]
    names = tuple(dict.fromkeys(name for row in group for name in row.substances))
    spared = tuple(
        name for name in names
        if first.use == "preservative" and (first.jurisdiction, name.casefold()) in elsewhere
    )  # fmt: skip
    return ApplicableLimit(
        key=key,
        title=limit_title(group, most, jurisdiction),
        label=limit_label(group) if most > 0 else "",
        max_percent=most,
        entry=first.entry,
        source=first.source,
        warning=" ".join(dict.fromkeys(row.warning for row in group if row.warning)),
        trust=max((row.trust for row in group), key=lambda trust: trust.rank),
        use=first.use,
        substances=names,
        only_as_preservative=spared,
        rows=group,
    )


def conditions(
    law: Law,
    product: Product,
    area: Area,
    users: Collection[str],
    *,
    present: Collection[str],
    on: date | None = None,
) -> tuple[Condition, ...]:
    """Return the conditions and label phrases that come with the substances present.

    Parameters are those of `applicable`; `present` holds the INCI names of the formula. Also rows
    without a maximum speak here (secondary amines, the pH of a lye, certified colours).
    """
    by_folded = {inci.casefold(): inci for inci in sorted(present)}
    found = []
    for row in chain.from_iterable(_winners(_in_force(law, product, area, users, on))):
        names = tuple(by_folded[name.casefold()] for name in row.substances if name.casefold() in by_folded)
        if row.warning and names:
            found.append(
                Condition(
                    substances=names,
                    text=row.warning,
                    entry=row.entry,
                    trust=row.trust,
                    source=row.source,
                )
            )
    return tuple(dict.fromkeys(found))


def listed(law: Law, use: Use, product: Product, area: Area, *, on: date | None = None) -> frozenset[str]:
    """Return what a positive list of the law holds, in lower case; empty where it has none for the use."""
    return frozenset(
        name.casefold()
        for row in _in_force(law, product, area, (), on)
        if row.use == use
        for name in row.substances
    )


def _in_force(
    law: Law, product: Product, area: Area, users: Collection[str], on: date | None
) -> tuple[Limit, ...]:
    faults = []
    if product not in PRODUCTS:
        faults.append(Fault("", "product", f"'{product}' is not known", ", ".join(PRODUCTS)))
    if area not in AREAS:
        faults.append(Fault("", "area", f"'{area}' is not known", ", ".join(AREAS)))
    if faults:
        raise BadInput(faults)
    day = on or law.on
    return tuple(
        row
        for row in law.limits
        if row.holds_on(day)
        and row.product in (product, "any")
        and (not row.area or area in row.area)
        and concerns(row.users, users)
    )


def concerns(written_for: str, users: Collection[str]) -> bool:
    """Tell whether a row written for some users concerns the users of a product.

    Two bands "under N" years always overlap, since both begin at birth: a row for children under 3
    concerns a product meant for children under 10. Anything else must match word for word.
    """
    wanted = written_for.casefold().strip()
    given = {word.casefold().strip() for word in users}
    if not wanted or wanted in given:
        return True
    return _from_birth(wanted) and any(_from_birth(word) for word in given)


def _from_birth(words: str) -> bool:
    return re.fullmatch(r"under \d+(\.\d+)?( years?)?", words) is not None


def _winners(rows: Collection[Limit]) -> tuple[tuple[Limit, ...], ...]:
    """Return, for each thing that an entry governs, its most particular rows."""
    rivals: dict[tuple[object, ...], list[Limit]] = defaultdict(list)
    for index, row in enumerate(rows):
        governed: object = row.group or frozenset(name.casefold() for name in row.substances)
        entry = row.entry or f"row {index}"
        rivals[row.jurisdiction, entry, row.use, governed].append(row)
    winners = []
    for group in rivals.values():
        best = max(_particular(row) for row in group)
        finalists = [row for row in group if _particular(row) == best]
        if not finalists[0].group:
            finalists = [
                min(finalists, key=lambda row: 101.0 if row.max_percent is None else row.max_percent)
            ]
        winners.append(tuple(finalists))
    return tuple(winners)


def _particular(row: Limit) -> tuple[bool, bool, bool]:
    return bool(row.users), bool(row.area), row.product != "any"


def _key(row: Limit, law: Law, taken: set[str]) -> str:
    base = f"{law.jurisdiction} {row.entry}".strip()
    wanted = f"{base} ({row.group})" if row.group else base
    if wanted in taken:
        wanted = f"{base} ({row.substances[0]})"
    number = 2
    key = wanted
    while key in taken:
        key, number = f"{wanted} {number}", number + 1
    taken.add(key)
    return key
