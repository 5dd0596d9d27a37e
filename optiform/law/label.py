"""The ingredient list of a label: what is named, how, and in which order.

Three rules meet here. EU and UK: Article 19(1)(g) of Regulation (EC) 1223/2009, "ingredients in
concentrations of less than 1 % may be listed in any order after those in concentrations of more than
1 %"; exactly 1 % is not addressed, and is kept in the ordered part here, the cautious reading. US: 21
CFR 701.3(f), ingredients "at a concentration not exceeding 1 percent" are free, so exactly 1 % is. In
both, colourants may follow the rest in any order. A free part is still printed in descending order,
so that the same formula always gives the same label.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import date
from typing import Literal

from optiform.law.allergens import Declared, declarable, in_force
from optiform.law.models import LABEL_RULES, Allergen, LabelRules, Product, place_of
from optiform.library.models import Frozen
from optiform.tolerances import ROUNDING

Part = Literal["ordered", "free", "colourant"]
US_COMMON = {"aqua": "Water", "parfum": "Fragrance", "aroma": "Flavor"}


class LabelEntry(Frozen):
    """One substance of the finished product, as far as the label cares.

    Attributes
    ----------
    inci : str
        Its INCI name.
    percent : float
        Its amount in the finished product [% w/w].
    kind : str
        ingredient, impurity, incidental or unknown, as in the composition of the material.
    is_colourant, is_nano : bool
        Whether it colours the product; whether it is a nanomaterial.
    is_fragrance : bool
        Whether it came in as a perfume composition or as part of one.
    is_fragrance_allergen : bool
        Whether the supplier declares it as an allergen; what the law makes of it is in its own list.
    part_of : str
        INCI name of the plant oil or extract of which it is a natural part: its amount counts under
        that name, and its own name appears only as an allergen above the threshold.
    is_preservative : bool
        Whether it serves as a preservative, also in the raw material that brought it.
    us_name : str
        Its name on a US label.
    """

    inci: str
    percent: float
    kind: Literal["ingredient", "impurity", "incidental", "unknown"] = "ingredient"
    is_colourant: bool = False
    is_nano: bool = False
    is_fragrance: bool = False
    is_fragrance_allergen: bool = False
    part_of: str = ""
    is_preservative: bool = False
    us_name: str = ""


class ListedIngredient(Frozen):
    """One name on the label: how it is printed, its amount, in which part of the list it stands."""

    name: str
    inci: str
    percent: float
    part: Part
    is_allergen: bool = False


class IngredientList(Frozen):
    """The ingredient list of a finished product.

    Attributes
    ----------
    heading : str
        The word before it.
    entries : tuple of ListedIngredient
        The names in the order of the label.
    one_percent_line : int
        How many names must keep their order; those after it may be moved among themselves.
    colourants_from : int
        Index of the first colourant; the number of names when there is none.
    text : str
        The list as printed.
    declared : tuple of Declared
        The fragrance allergens that are named.
    notes : tuple of str
        What was left out, merged or read cautiously.
    """

    heading: str
    entries: tuple[ListedIngredient, ...]
    one_percent_line: int
    colourants_from: int
    text: str
    declared: tuple[Declared, ...] = ()
    notes: tuple[str, ...] = ()


def ingredient_list(
    entries: Collection[LabelEntry],
    jurisdiction: str,
    allergens: Collection[Allergen],
    product: Product,
    on: date,
) -> IngredientList:
    """Return the whole ingredient list: merged, ordered, fragrance allergens named.

    Parameters
    ----------
    allergens : collection of Allergen
        The declarable ones of that jurisdiction.

    Notes
    -----
    A declarable allergen that stands in the list as an ordinary ingredient (benzyl alcohol as a
    preservative) is printed once. A plant oil added as an ingredient takes the grouped name of the
    law where it is a member of a group above the threshold.
    """
    rules = LABEL_RULES[place_of(jurisdiction)]
    notes: list[str] = []
    kept = _kept(entries, rules, notes)
    known = frozenset(
        name.casefold() for entry in in_force(allergens, on) for name in (entry.group_name, *entry.members)
    )
    declared = declarable(allergens, _allergenic_totals(kept), product, on)
    renamed = {member.casefold(): found.name for found in declared for member in found.members}
    renamed |= {found.name.casefold(): found.name for found in declared}
    notes += _renaming_notes(kept, renamed)
    listed = _ordered(_folded(kept, renamed), rules, renamed)
    notes += _general_notes(kept, known, rules)
    colourants = sum(item.part == "colourant" for item in listed)
    return IngredientList(
        heading=rules.heading,
        entries=listed,
        one_percent_line=sum(item.part == "ordered" for item in listed),
        colourants_from=len(listed) - colourants,
        text=f"{rules.heading}: {', '.join(item.name for item in listed)}" if listed else "",
        declared=declared,
        notes=tuple(dict.fromkeys(notes)),
    )


def _general_notes(kept: Iterable[LabelEntry], known: Collection[str], rules: LabelRules) -> list[str]:
    notes = []
    perfume = [entry for entry in kept if entry.is_fragrance]
    if perfume and not any(
        entry.is_fragrance_allergen or entry.inci.casefold() in known for entry in perfume
    ):
        notes.append("No allergens are known inside the perfume: ask its supplier for the declaration.")
    if rules.us_names:
        notes.append("Names are those of the library; where it has no US name the INCI name is printed.")
        notes.append("Fragrance allergens: the rule that MoCRA (2022) announces may be in force; check.")
    return notes


def _kept(entries: Iterable[LabelEntry], rules: LabelRules, notes: list[str]) -> list[LabelEntry]:
    """Leave out what is no ingredient in the sense of the law, and say so."""
    kept = []
    for entry in entries:
        if entry.percent <= 0 or entry.kind == "impurity":
            continue
        if entry.kind == "incidental":
            if not (rules.lists_carried_preservatives and entry.is_preservative):
                notes.append(
                    f"{entry.inci} is left out as incidental: right only if it has no effect in the product."
                )
                continue
            notes.append(f"{entry.inci} was carried in by a raw material; as a preservative it is listed.")
        if entry.kind == "unknown":
            notes.append(f"{entry.inci}: whether it is an ingredient is unknown; it is listed.")
        kept.append(entry)
    return kept


def _allergenic_totals(kept: Iterable[LabelEntry]) -> dict[str, float]:
    """Return % w/w by name of what counts towards the allergens: a plant oil with all its parts."""
    totals: dict[str, float] = {}
    for entry in kept:
        if not entry.is_preservative:
            for name in filter(None, dict.fromkeys((entry.inci, entry.part_of))):
                totals[name] = totals.get(name, 0.0) + entry.percent
    return totals


def _renaming_notes(kept: Iterable[LabelEntry], renamed: Mapping[str, str]) -> list[str]:
    changed = {
        entry.inci: renamed[entry.inci.casefold()]
        for entry in kept
        if entry.inci.casefold() in renamed and not entry.is_preservative
    }
    return [
        f"{inci} is printed under its group name, {name}."
        for inci, name in sorted(changed.items())
        if inci.casefold() != name.casefold()
    ]


def _folded(entries: Iterable[LabelEntry], renamed: Mapping[str, str]) -> list[LabelEntry]:
    """Add up equal names; parts of a perfume or of a plant oil stand under its name.

    `renamed` holds, by folded name, the label names of the allergens that must be named: these stand
    beside the perfume or the oil that holds them.
    """
    merged: dict[tuple[str, bool], LabelEntry] = {}

    def put(entry: LabelEntry, name: str) -> None:
        if name.casefold() != entry.inci.casefold():
            entry = LabelEntry(inci=name, percent=entry.percent)
        key = (entry.inci.casefold(), entry.is_nano)
        old = merged.get(key)
        merged[key] = entry if old is None else _joined(old, entry)

    for entry in entries:
        own = entry.inci if entry.is_preservative else renamed.get(entry.inci.casefold(), entry.inci)
        whole = renamed.get(entry.part_of.casefold(), entry.part_of)
        if entry.is_fragrance:
            put(LabelEntry(inci="Parfum", percent=entry.percent, is_fragrance=True), "Parfum")
            plain = entry.model_copy(update={"is_fragrance": False})
            for name in dict.fromkeys((own, whole)):
                if name.casefold() in renamed:
                    put(plain, name)
        elif entry.part_of:
            put(entry, whole)
            if own.casefold() in renamed and own.casefold() != whole.casefold():
                put(entry, own)
        else:
            put(entry, own)
    return list(merged.values())


def _joined(old: LabelEntry, new: LabelEntry) -> LabelEntry:
    return old.model_copy(
        update={
            "percent": old.percent + new.percent,
            "is_colourant": old.is_colourant and new.is_colourant,
            "is_fragrance": old.is_fragrance and new.is_fragrance,
            "us_name": old.us_name or new.us_name,
        }
    )


def _ordered(
    entries: Iterable[LabelEntry], rules: LabelRules, declared: Mapping[str, str]
) -> tuple[ListedIngredient, ...]:
    items = [
        ListedIngredient(
            name=_printed(entry, rules),
            inci=entry.inci,
            percent=entry.percent,
            part=_part(entry, rules),
            is_allergen=entry.inci.casefold() in declared,
        )
        for entry in entries
    ]
    rank = {"ordered": 0, "free": 1, "colourant": 2}
    return tuple(
        sorted(items, key=lambda item: (rank[item.part], -round(item.percent, 9), item.name.casefold()))
    )


def _part(entry: LabelEntry, rules: LabelRules) -> Part:
    if entry.is_colourant and rules.colourants_last:
        return "colourant"
    if rules.orders_exactly_one_percent:
        return "ordered" if entry.percent >= 1.0 - ROUNDING else "free"
    return "ordered" if entry.percent > 1.0 + ROUNDING else "free"


def _printed(entry: LabelEntry, rules: LabelRules) -> str:
    if entry.is_fragrance:
        return rules.fragrance
    name = entry.inci
    if rules.us_names:
        name = entry.us_name or US_COMMON.get(entry.inci.casefold(), entry.inci)
    return f"{name} {rules.nano_suffix}" if entry.is_nano and rules.nano_suffix else name
