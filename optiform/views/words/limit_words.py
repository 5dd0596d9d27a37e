"""Words a limit that holds a formula: its name, bound, step, and the range of its price."""

from __future__ import annotations

from optiform.answers.describe.sensible_steps import step
from optiform.answers.model.answer import Binding, Formula
from optiform.program.requirement import Requirement
from optiform.tolerances import EQUAL, ROUNDING
from optiform.views.words.blocks import TIED
from optiform.views.words.names import Names
from optiform.views.words.numbers import INDEX, NOTHING, bounded, inside, short, unit_of

FIVE = 5


def dearest(formula: Formula) -> list[Binding]:
    """Return the limits whose next step costs most; those of one bound and one price stand once.

    Of such the one stays that the brief states.
    """
    found: dict[tuple[float | None, str, float], Binding] = {}
    for item in sorted(formula.binding, key=lambda one: one.requirement.origin != "brief"):
        cost = cost_of_step(item)
        if cost is not None and cost > 0.0:
            corner = (
                item.requirement.bound,
                item.requirement.unit,
                float(f"{item.marginal_cost or 0.0:.4g}"),
            )
            found.setdefault(corner, item)
    return sorted(found.values(), key=lambda item: -(cost_of_step(item) or 0.0))[:FIVE]


def cost_of_step(item: Binding) -> float | None:
    """Return what one step of a limit costs; None where that is not known."""
    size, cost = step_of(item), item.marginal_cost
    return None if size is None or cost is None or cost <= ROUNDING else cost * size


def step_of(item: Binding) -> float | None:
    """Return one sensible step of a limit, small enough for its price to hold; None where none is."""
    requirement = item.requirement
    if requirement.bound is None or requirement.side is None:
        return None
    if requirement.choice:
        return 1.0
    size, bound = step(requirement), requirement.bound
    end = item.holds_from if requirement.side == "at_most" else item.holds_to
    smaller = (size, size / 5.0, 0.0) if size == 5.0 else (size, size / 10.0, size / 100.0)
    for one in smaller:
        if one and (end is None or abs(end - bound) >= one * (1.0 - EQUAL)):
            return float(f"{one:.3g}")
    return None


def step_text(size: float, requirement: Requirement) -> str:
    """Return one step of a limit with its unit: "1 %", "1 point", "5 points"; of a choice the bare number."""
    unit = "" if requirement.choice else unit_of(requirement.unit)
    return f"{short(size)}{unit.removesuffix('s') if size == 1 else unit}"


def name_of(requirement: Requirement, names: Names) -> str:
    """Return the name of a limit in a table that has its bound in another column."""
    return (
        names.limit(requirement)
        if not requirement.choice
        else names.said(requirement.tail or requirement.title)
    )


def asked_of(requirement: Requirement) -> str:
    """Return what a limit asks: "at least 11 %"."""
    if requirement.bound is None or requirement.side is None:
        return ""
    words = {"at_least": "at least", "at_most": "at most"}.get(requirement.side, "exactly")
    return f"{words} {bounded(requirement.bound)}{percent_sign(requirement)}".replace(" ", TIED)


def reach_of(item: Binding) -> str:
    """Return the bound up to which a price holds, rounded inwards; `NOTHING` where it is not known."""
    requirement = item.requirement
    upwards = requirement.side != "at_most"
    return end_of(item.holds_to if upwards else item.holds_from, requirement)


def end_of(end: float | None, requirement: Requirement) -> str:
    """Return an end of a range of bounds, rounded inwards; `NOTHING` where it is not known."""
    if end is None or requirement.bound is None or requirement.choice:
        return NOTHING
    shown = inside(end, requirement.bound)
    if shown is None:
        return NOTHING
    return (shown.partition(".")[0] if requirement.unit == INDEX else shown) + percent_sign(requirement)


def percent_sign(requirement: Requirement) -> str:
    """Return " %" where the unit is a percentage, else an empty text."""
    unit = "" if requirement.choice else unit_of(requirement.unit)
    return unit if unit == " %" else ""
