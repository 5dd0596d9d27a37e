"""The weighable version of a formula beside its exact one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.render.numbers import fixed, short

if TYPE_CHECKING:
    from optiform.answers.model.answer import Formula
    from optiform.answers.model.weighing import Weighable, WeighedLine


def grams_of(formula: Formula) -> dict[str, str]:
    """Return the grams to weigh by material id, as written on a label; empty where there are none."""
    version: Weighable | None = formula.weighable
    return {} if version is None else {line.material: short(line.grams) for line in version.lines}


def weighable_heading(formula: Formula) -> str:
    """Return what the column of grams stands for, and what weighing in steps costs."""
    version: Weighable | None = formula.weighable
    if version is None:
        raise ValueError("the formula has no weighable version")
    return (
        f"Grams for a batch of {short(version.batch_g)} g, in steps of {short(version.balance_g)} g that add up to it. "
        f"{rounding(version)}{_apart(formula, version)}"
    )


def _apart(formula: Formula, version: Weighable) -> str:
    """Say why a percent and its grams may differ in the last figure, where they do."""
    grams = {line.material: line.grams for line in version.lines}
    differ = any(
        line.printed is not None
        and abs(line.printed - 100.0 * grams.get(line.material, 0.0) / version.batch_g)
        > 0.51 * 10.0**-line.places
        for line in formula.lines
    )
    return " Percents and grams are each rounded so that they hold by themselves." if differ else ""


def weighable_notes(formula: Formula) -> tuple[str, ...]:
    """Return what must be known of the grams: single values that no step meets, and acid and base in drops."""
    version: Weighable | None = formula.weighable
    if version is None:
        return ()
    dropped = tuple(
        f"{line.name} in drops, {short(version.drops_per_mL)} to the mL: {in_drops(line)}."
        for line in version.lines
        if line.drops is not None
    )
    return (*nearly_equal(version), *dropped)


def rounding(version: Weighable) -> str:
    """Return what weighing in steps costs."""
    cost = version.cost_of_rounding
    text = fixed(cost, 4)
    sign = "+" if cost > 0 and text != fixed(0.0, 4) else ""
    return f"Weighing in steps changes the cost by {sign}{text} {version.currency}/kg."


def nearly_equal(version: Weighable) -> tuple[str, ...]:
    """Return the single values that no step of the balance meets, and what they come to."""
    return tuple(
        f"{item.requirement.title}: weighed it is {_number(item.value)}, as near as a step allows."
        for item in version.off
    )


def in_drops(line: WeighedLine) -> str:
    """Return an acid or base of a small trial in drops; empty where it is not dropped."""
    if line.drops is None:
        return ""
    drops = line.drops
    guess = "" if drops.density is not None else ", density taken as 1"
    if drops.solution_percent is None:
        return f"about {drops.drops:.0f}{guess}"
    grams = f"({drops.solution_g:.2f} g, {drops.water_g:.2f} g of it water)"
    return f"about {drops.drops:.0f} of a {short(drops.solution_percent)} % solution {grams}{guess}"


def _number(value: float | None) -> str:
    return "unknown" if value is None else f"{value:.6g}"
