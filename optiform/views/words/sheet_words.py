"""Words the sheets: titles, sentences and notes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.words.blocks import TIED, joined
from optiform.views.words.numbers import figure_text, fixed, short

if TYPE_CHECKING:
    from optiform.law import IngredientList
    from optiform.law.models import Particular
    from optiform.sheets.label_sheet import Contents, LabelSheet
    from optiform.sheets.purchase.near_misses import NearMiss
    from optiform.sheets.purchase.offers import Bought
    from optiform.sheets.purchase.shopping import Make, Shopping
    from optiform.sheets.record.batch import Batch
    from optiform.sheets.record.steps import Step
    from optiform.sheets.unit_cost import UnitCost

STEP_TITLES = {
    "water": "Water", "dissolve": "Dissolve", "stir in": "Stir in", "sprinkle": "Sprinkle the polymer",
    "hydrate": "Let the polymer swell", "slurry": "Slurry the gum", "suspend": "Powders that settle",
    "heat": "Warm", "melt": "Melt the oil phase", "emulsify": "Oil into the vessel", "surfactant": "Surfactants",
    "neutralise": "Neutralise the polymer", "cool": "Cool", "premix": "Premix", "preserve": "Preservative",
    "finish": "Finish", "thicken": "Salt", "pH": "Set the pH", "make up": "Make up to weight",
    "rest": "Rest and read", "base": "Shared base",
}  # fmt: skip
HAZARDS = {"dust": "dust", "corrosive": "corrosive", "eye-damage": "eyes"}
PART_NAMES = {"ordered": "fixed", "free": "free", "colourant": "last"}
LINE = "________"
BOX = f"[{TIED}]"
CONDITIONS = "Conditions that come with what is inside"
SEVERAL_PLACES = (
    "An allergen inside a perfume or an oil counts in both, so this column adds to more than 100."
)


def named(name: str, hazards: tuple[str, ...]) -> str:
    """Return a material with its hazards: "Citric acid [dust, eyes]"."""
    words = [HAZARDS[word] for word in hazards]
    return f"{name} [{', '.join(words)}]" if words else name


def batch_line(batch: Batch) -> str:
    """Return a line on the batch, its balance and its least weighing."""
    return (
        f"Batch {short(batch.batch_g)} g on a balance of {short(batch.balance_g)} g; below {short(batch.least_g)} g a "
        f"weighing may be off by more than {short(batch.error_percent)} %. Tick, sign and write the lot as you weigh."
    )


def step_title(step: Step) -> str:
    """Return the title of a step with its temperatures and its waiting time: "Dissolve (below 40 C)"."""
    words = []
    if step.above_C is not None:
        words.append(f"at {short(step.above_C)} C or above")
    if step.below_C is not None:
        words.append(f"below {short(step.below_C)} C")
    if step.hours is not None:
        words.append(waiting(step.hours))
    return STEP_TITLES[step.kind] + (f" ({'; '.join(words)})" if words else "")


def waiting(hours: float) -> str:
    """Return a waiting time in words."""
    if hours < 1:
        return f"{hours * 60:.0f} minutes"
    return f"{short(hours)} hour" + ("s" if hours != 1 else "")


def one_percent_line(listed: IngredientList) -> str:
    """Return where the order of the list is free."""
    line, count = listed.one_percent_line, listed.colourants_from
    if not listed.entries:
        return ""
    if not line:
        return "Nothing is above 1 %: the order is free."
    last = listed.entries[line - 1].name
    if line >= count:
        return "Every name keeps its place; none is at 1 % or less, colourants apart."
    return (
        f"The order is fixed down to {last}; the names after it are free among themselves, but stay after it."
    )


def contents(found: Contents) -> str:
    """Return the nominal content by volume and weight."""
    words = []
    if found.nominal_ml is not None:
        words.append(f"{fixed(found.nominal_ml, 0)} ml")
    if found.nominal_g is not None:
        words.append(f"{fixed(found.nominal_g, 1)} g")
    text = " = ".join(words)
    if found.density is not None:
        how = "measured" if found.measured else "estimated"
        text += f"{', ' if text else ''}density {fixed(found.density, 3)} g/ml, {how}"
    return f"{text}." if text else ""


def natural(label: LabelSheet) -> str:
    """Return the natural origin with and without the added water; a range where an index is missing."""
    whole = _between(label.natural_origin, label.natural_origin_span)
    dry = _between(label.natural_origin_without_water, label.natural_origin_without_water_span)
    missing = "; ".join(label.natural_origin_lacking)
    return (
        f"Natural origin {whole} % with the added water, {dry} % without it "
        f"(arithmetic of ISO 16128-2){f'; no index is known for {missing}' if missing else ''}."
    )


def _between(value: float | None, span: tuple[float, float] | None) -> str:
    low, high = span or (None, None)
    return figure_text(value, low, high, 0)


def packs(bought: tuple[Bought, ...]) -> str:
    """Return "2 × 250 g + 1 × 1000 g"."""
    return " + ".join(f"{line.packs} × {short(line.offer.size_g)} g" for line in bought)


def made(make: Make) -> str:
    """Return a product and its batches: "Nettle gel, 2 × 5000 g"."""
    times = f"{make.times} × " if make.times != 1 else ""
    return f"{make.title or 'formula'}, {times}{short(make.batch_g)} g"


def near_miss(found: NearMiss, name: str, currency: str) -> str:
    """Return where a slightly smaller batch would save a pack."""
    shelf = f" and {fixed(found.stock_g, 1)} g on the shelf" if found.stock_g else ""
    fewer = found.packs_now - found.packs_then
    what = f"{fewer} pack{'s' if fewer > 1 else ''}" if fewer > 0 else "a larger pack"
    return (
        f"{name}: {fixed(found.needed_g, 1)} g needed, packs of {short(found.pack_g)} g{shelf}: a batch "
        f"{short(found.smaller_percent)} % smaller saves {what}, {fixed(found.saves, 2)} {currency}."
    )


def shopping_summary(found: Shopping) -> str:
    """Return the cost of the purchase, and what of it is used or left."""
    return (
        f"Money out {fixed(found.cash, 2)} {found.currency}, of which {fixed(found.consumed, 2)} goes into the batches "
        f"and {fixed(found.left_value, 2)} stays on the shelf."
        + (
            f" Stock worth {fixed(found.stock_value, 2)} is used up besides."
            if found.stock_value > 0.005
            else ""
        )
    )


def aim(found: Shopping) -> str:
    """Return the aim of a purchase, whether it is proven, and what it leaves out."""
    what = "least money out" if found.aim == "cash" else "least cost of what is used"
    if found.gap:
        proof = f"Stopped, not proven: another purchase may be better by up to {fixed(found.gap, 2)} {found.currency}."
    else:
        proof = "Proven: no other purchase of these packs does better."
    if any(line.by_weight for line in found.lines):
        proof += " What is bought by weight is no part of that."
    if found.aim == "consumed" and not found.gap and found.orders and found.ties_broken:
        proof += (
            " Of purchases that use as little, it is the one of least money out at the same suppliers; "
            "other suppliers were not looked at for that."
        )
    return f"Aim: {what}. {proof}"


def unit_line(cost: UnitCost) -> str:
    """Return how much of the batch a unit takes."""
    samples = f", its share of {short(cost.samples_g)} g of samples" if cost.samples_g else ""
    fills = f"{short(cost.batch_g)} g fill {cost.units} units."
    return (
        f"A unit holds {fixed(cost.nominal_g, 1)} g, is filled with {fixed(cost.fill_g, 1)} g and is charged "
        f"{fixed(cost.unit_g, 1)} g with what is lost on the way{samples}. {fills}"
    )


def ceiling(cost: UnitCost) -> tuple[str, ...]:
    """Return the way back from the shelf price to a price per kg, step by step."""
    found, money = cost.ceiling, cost.currency
    if found is None:
        return ()
    steps = [
        f"shelf price {fixed(found.shelf_price, 2)}, without tax {fixed(found.net, 2)}",
        f"the maker's part {fixed(found.revenue, 2)}, of which making may cost {fixed(found.allowed, 2)}",
        f"less packaging, labour, tests and overhead: {fixed(found.left, 2)} left for the contents",
    ]
    if found.per_kg is None:
        return (*steps, "nothing is left: no formula meets this price with these other costs")
    verdict = "within it" if cost.cost_per_kg <= found.per_kg else "above it"
    return (
        *steps,
        f"over {fixed(cost.unit_g, 1)} g: at most {fixed(found.per_kg, 2)} {money}/kg; this formula costs "
        f"{fixed(cost.cost_per_kg, 2)}, {verdict}",
    )


def breaks(found: tuple[str, ...]) -> str:
    """Return the heading of a list of broken requirements."""
    return "This formula breaks a requirement:" if len(found) == 1 else "This formula breaks requirements:"


def rule(label: LabelSheet) -> str:
    """Return under which rules the list was made."""
    where = "no law" if label.jurisdiction == "none" else label.jurisdiction
    return f"{where}, {label.product}, {label.area}, read for {label.on}; {label.rule}."


def conditions(label: LabelSheet) -> tuple[str, ...]:
    """Return the conditions of law that come with substances of the list."""
    return tuple(f"{joined(found.substances)}: {found.text} ({found.entry})" for found in label.conditions)


def where(blank: Particular) -> str:
    """Return the article of a duty, without the regulation that the heading names."""
    return blank.provision.partition(" of Regulation (EC) 1223/2009")[0]
