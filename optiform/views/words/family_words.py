"""Words the sentences about a family."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from optiform.families.model import (
    CurvePoint,
    Family,
    FamilyChange,
    PricedLimit,
    ScenarioResult,
    ShelfMaterial,
)
from optiform.views.words.blocks import joined
from optiform.views.words.names import Names, lowered, names_in
from optiform.views.words.numbers import fixed, percent, short

GOALS = {
    "cash": "the least money out",
    "consumed": "the least money for what is used",
    "materials": "the fewest materials",
}
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
ALONE = "Alone is the formula that design lists first; alone and here are priced per kg from the library."
EACH_ALONE = "Each product can be made by itself, but not all of them as this plan asks."
NO_WAY = "No single change of the plan was found that lets it be made."
NOTHING_YET = "stopped, nothing found yet"
ALIKE = 0.005
"""Money below which two sums are the same."""


def letter(place: int) -> str:
    """Return the letter that stands for a product in tables; its number where letters run out."""
    return LETTERS[place] if place < len(LETTERS) else str(place + 1)


def verdict(found: Family) -> str:
    """Return the answer in a few words: "23 materials, 119.80 EUR"."""
    if found.status == "conflict":
        return "cannot be made"
    if found.cash is None:
        return NOTHING_YET
    money = found.consumed if money_word(found) == "consumed" else found.cash
    return f"{found.materials} materials, {fixed(money, 2)} {found.currency}"


def proof(found: Family) -> str:
    """Return the goal of the family, and how far it is proven."""
    count = len(found.products)
    what = f"{count} products on one shelf" if count > 1 else "One product"
    goal = f"{what}: {GOALS[found.goal]}."
    unit = "" if found.goal == "materials" else f" {found.currency}"
    digits = 0 if found.goal == "materials" else 2
    behind = f"by up to {fixed(found.gap, digits)}{unit}"
    if not found.proven:
        return f"{goal} Stopped, not proven: another may be better" + (f" {behind}." if found.gap else ".")
    close = found.gap >= (1.0 if found.goal == "materials" else ALIKE)
    return f"{goal} Proven: none does better" + (
        f" {behind.replace('by up to', 'by more than')}." if close else "."
    )


def saving(found: Family) -> str:
    """Return what buying together and designing together save, each against the way before it."""
    if found.apart is None or found.together is None or found.here is None or len(found.products) < 2:
        return ""
    bills = (found.apart, found.together, found.here)
    counts = money_word(found)
    apart, together, here = (bill.consumed if counts == "consumed" else bill.cash for bill in bills)
    unit, bought = found.currency, apart - together
    told = f"Buying together saves {f'{fixed(bought, 2)} {unit}' if bought > ALIKE else 'nothing'}"
    if together - here > ALIKE:
        told += f", designing together {fixed(together - here, 2)} {unit} more"
    elif together - here < -ALIKE:
        told += f"; designing together costs {fixed(here - together, 2)} {unit}"
    fewer = found.together.materials - found.here.materials
    kinds = f"{fewer} material{'s' * (fewer != 1)} fewer" if fewer > 0 else ""
    besides = joined([part for part in (kinds, _dearer(found)) if part])
    return f"{told}; {besides}." if besides else f"{told}."


def money_word(found: Family) -> str:
    """Return the goal that says which money counts: "consumed" or "cash"."""
    return next((goal for goal in (found.goal, *found.plan.then) if goal != "materials"), "cash")


def _dearer(found: Family) -> str:
    """Return how much dearer or cheaper the contents are per kg than those of the products alone."""
    alone = sum(member.alone * member.grams for member in found.products)
    here = sum(member.here * member.grams for member in found.products)
    if alone <= 0:
        return ""
    part = 100.0 * (here / alone - 1.0)
    return (
        f"contents {fixed(abs(part), 1)} % {'dearer' if part > 0 else 'cheaper'} per kg"
        if abs(part) >= 0.05
        else ""
    )


def base(found: Family) -> str:
    """Return how much of every product is one base, and what that costs; empty without one."""
    made = found.base
    if made is None:
        return ""
    told = f"{percent(made.percent)} % of each is one base, {fixed(made.grams, 0)} g made once"
    if made.costs is None:
        return f"{told}."
    costs = f"{fixed(made.costs, 2)} {found.currency} in all" if made.costs > ALIKE else "nothing"
    return f"{told}; against a base of its own for each it costs {costs}."


def one_less(found: Family, names: Names) -> str:
    """Return what one material less costs, and what goes."""
    if found.one_less is None:
        return "No family of these briefs can be made with one material less." if found.fewest else ""
    costs = found.one_less.money - (found.money or 0.0)
    price = f"costs {fixed(costs, 2)} {found.currency} more" if costs > ALIKE else "costs nothing more"
    return f"One material less {price}{moved(found.one_less, names)}."


def one_more(found: Family, names: Names) -> str:
    """Return what one material more saves, and what comes."""
    if found.one_more is None:
        return ""
    saves = (found.money or 0.0) - found.one_more.money
    price = f"saves {fixed(saves, 2)} {found.currency}" if saves > ALIKE else "saves nothing"
    return f"One material more {price}{moved(found.one_more, names) if saves > ALIKE else ''}."


def moved(point: CurvePoint | ScenarioResult, names: Names) -> str:
    """Return what leaves the shelf and what comes: " (out: glycerin; in: betaine)"."""
    parts = [
        f"{word}: {', '.join(names.within(name) for name in which)}"
        for word, which in (("out", point.leaves), ("in", point.enters))
        if which
    ]
    return f" ({'; '.join(parts)})" if parts else ""


def called(found: Family) -> dict[str, str]:
    """Return what each product is called in a sentence: its title up to the first comma, where no other has that."""
    titles = [product.title for product in found.plan.products]
    heads = {title: title.partition(",")[0].strip() for title in titles}
    times = Counter(heads.values())
    return {title: lowered(head if times[head] == 1 and head else title) for title, head in heads.items()}


def needs(found: Family, names: Names) -> list[str]:
    """Return, for each product, the materials without which the rest of the shelf does not make it."""
    titles, told = called(found), []
    for title, product in titles.items():
        held = [
            names.within(stand.material)
            for stand in found.shelf
            if any(one.product == title and one.costs is None for one in stand.without)
        ]
        if held:
            told.append(f"{product}: cannot be made of the rest without {joined(held, 'or')}")
    return told


def keeps(stand: ShelfMaterial, currency: str, titles: Mapping[str, str]) -> str:
    """Return what the products would cost more without a material; empty where none could be made."""
    free = [titles[one.product] for one in stand.without if one.costs is not None and one.costs <= ALIKE]
    told = [
        f"{fixed(one.costs, 2)} {currency}/kg more for {titles[one.product]}"
        for one in stand.without
        if one.costs is not None and one.costs > ALIKE
    ]
    if free:
        told.append(f"{joined(free)} could do without at no more per kg")
    return "; ".join(told)


def limit(priced: PricedLimit, titles: Mapping[str, str]) -> str:
    """Return a limit and one step of it, as a line of its own."""
    unit = "" if priced.unit in ("-", "") else f" {priced.unit}"
    return f"{titles[priced.product]}: {priced.requirement}, one step of {short(priced.step)}{unit}"


def unpriced(count: int, *, alone: bool) -> str:
    """Return how many limits allow no step with the chosen materials, and so have no price; empty where all do."""
    if not count:
        return ""
    what = f"{count} {'' if alone else 'further '}limit{'' if count == 1 else 's'}"
    return (
        f"{what} can be no tighter with these materials, and so {'has' if count == 1 else 'have'} no price."
    )


def cannot(found: Family) -> list[str]:
    """Return why a plan cannot be met: too few materials allowed, or a material to keep that collides."""
    why, titles = found.conflict, called(found)
    if why is None:
        return []
    names, told = names_in(found.plan.library), []
    if why.fewest:
        each = joined([f"{titles[title]} {count}" for title, count in why.fewest])
        told.append(f"The plan allows {found.plan.at_most} materials. Each by itself needs at least: {each}.")
    for one in why.collisions:
        limits = joined(one.collides)
        told.append(
            f"{names.short(one.material)} cannot stand in {titles[one.product]}: it does not go together with {limits}."
        )
    return told


def way(change: FamilyChange, found: Family) -> str:
    """Return one change that lets a family be made, with what the contents of all batches then cost."""
    titles = called(found)
    within = 0.0 if change.within is None else change.within
    kept = f"keep without {change.material}" if change.material else "keep left out"
    told = {
        "materials": f"[shelf] materials_at_most = {change.to}: the fewest that are enough",
        "keep": f"[shelf] {kept}",
        "base": "[base] left out: each product with a base of its own",
        "within": f"within = {within:g} where it is less: up to {short(100 * within)} % behind its own best",
        "product": f"{titles.get(change.product, '')} left out",
    }[change.what]
    if change.contents is not None:
        told += f"; contents then {fixed(change.contents, 2)} {found.currency} in all"
    return told


def collisions(found: Family) -> list[str]:
    """Return, for each product that could be left out, its limits that collide on the others' shelf."""
    ways = () if found.conflict is None else found.conflict.ways
    titles, told = called(found), []
    for one in ways:
        if one.collides:
            free = f" and {one.more} more" if one.more else ""
            limits = "; ".join(one.collides)
            told.append(
                f"{titles[one.product]}: on the other products' {one.others} materials{free} "
                f"these do not go together: {limits}"
            )
    return told


def scenario_cash(found: ScenarioResult) -> str:
    """Return the money out of a scenario, or why it has none: it cannot be made, or the time ran out."""
    if found.cash is not None:
        return fixed(found.cash, 2)
    return {"conflict": "cannot be made", "stopped": "time ran out"}.get(found.status, "")


def costs(found: Sequence[float], titles: Mapping[str, str]) -> str:
    """Return each product's cost per kg in one line."""
    return ", ".join(f"{title} {fixed(cost, 2)}" for title, cost in zip(titles.values(), found, strict=True))
