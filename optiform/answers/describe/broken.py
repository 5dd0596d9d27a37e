"""Tells what a formula has where a requirement asks for something else."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from optiform.answers.model.answer import Broken
from optiform.bounds import number, window_text
from optiform.measures.acidity import charge_curves
from optiform.measures.amounts import Count
from optiform.program import USED, Break, Key, Program, Requirement, complete
from optiform.program.requirement import PH_WINDOWS, SIDE_WORDS
from optiform.program.rows.baseline_rows import DroppedMove
from optiform.program.rows.levels import use_level
from optiform.program.rows.moves import CountMove, MarginMove, MeasureMove
from optiform.tolerances import TOLERANCE
from optiform.vectors import Floats


def broken_of(
    program: Program, found: Iterable[Break], amounts: Floats, rounding: Floats | float = 0.0
) -> tuple[Broken, ...]:
    """Return every break with what the formula has there, materials above their range included.

    Parameters
    ----------
    amounts : ndarray, shape (n,)  [% w/w]
    rounding : ndarray, shape (n,), optional  [% w/w]
        How far each amount may be from the one that was meant.
    """
    told = [_told(program, item.requirement, amounts) for item in found]
    seen = {item.requirement.key for item in told}
    return (*told, *_above_range(program, amounts, seen, rounding))


def _told(program: Program, requirement: Requirement, amounts: Floats) -> Broken:
    if requirement.key.section == "balance":
        total = float(np.sum(amounts))
        return Broken(requirement, total, f"the lines add up to {number(round(total, 4))} % w/w")
    if requirement.origin == "balance" and requirement.key.section == "use":
        return Broken(requirement, None, f"an amount below {USED:g} % w/w does not count as used")
    if _about_pH(program, requirement):
        return _told_pH(program, requirement, amounts)
    margin = _margin(program, requirement)
    if margin is not None:
        return _told_margin(program, requirement, margin, amounts)
    value = _value(program, requirement, amounts)
    if value is not None:
        return Broken(
            requirement, value, f"here {_apart(value, requirement.bound)} {requirement.unit}".rstrip()
        )
    words = _present(program, requirement, amounts) or _bounded(program, requirement, amounts)
    return Broken(requirement, None, words or requirement.why or "not met")


def _about_pH(program: Program, requirement: Requirement) -> bool:
    """Tell whether a requirement is a window of pH for something that is used."""
    if requirement.key.section in PH_WINDOWS:
        return True
    key = program.index_of[requirement.key]
    return requirement.bound is None and any(
        key == owner for acid in program.acid_rows for owner, _ in acid.asked
    )


def _margin(program: Program, requirement: Requirement) -> MarginMove | None:
    """Return how a limit with a margin is bounded, or None where it is another limit."""
    moves = program.moves.get(program.index_of[requirement.key], ())
    found = (move for _, move in moves if isinstance(move, MarginMove) and move.column >= 0)
    return next(found, None)


def _told_margin(program: Program, requirement: Requirement, margin: MarginMove, amounts: Floats) -> Broken:
    sure, likeliest = margin.value(complete(program, amounts)), margin.measure.value(amounts)
    if sure is None or likeliest is None:
        return Broken(requirement, None, "not known: a surfactant or thickener is used that was not tried")
    near, bound = _apart(sure, requirement.bound), SIDE_WORDS[margin.side]
    words = f"here {bound} {near} {requirement.tail}, {likeliest:.4g} most likely"
    return Broken(requirement, sure, words)


def _told_pH(program: Program, requirement: Requirement, amounts: Floats) -> Broken:
    conditions = program.catalogue.conditions
    if conditions.bench:
        return Broken(
            requirement, None, f"the brief wants pH {window_text(*conditions.window)}, set at the bench"
        )
    settled = charge_curves(program.library).settle(amounts)
    if settled is None:
        return Broken(requirement, None, requirement.why or "not met")
    return Broken(requirement, settled.pH, f"here pH {settled.pH:.2f}")


def _value(program: Program, requirement: Requirement, amounts: Floats) -> float | None:
    catalogue = program.catalogue
    if requirement.measure is not None and catalogue.known(requirement.measure):
        measure = catalogue.find(requirement.measure)
        return float(np.count_nonzero(amounts > 0)) if isinstance(measure, Count) else measure.value(amounts)
    if requirement.origin == "law":
        return _counted(program, requirement.key, amounts)
    return None


def _bounded(program: Program, requirement: Requirement, amounts: Floats) -> str:
    """Say what the formula has under a bound of its own making: a count, a total, or the worst of several shares."""
    moves = [move for _, move in program.moves.get(program.index_of[requirement.key], ())]
    found: list[tuple[float, str]] = []
    for move in moves:
        if isinstance(move, MeasureMove):
            value = move.measure.value(amounts)
            found += [] if value is None else [(value, move.measure.name if len(moves) > 1 else "")]
        elif isinstance(move, CountMove | DroppedMove):
            return f"here {_how_many(move, complete(program, amounts))}"
    if not found:
        return ""
    value, name = max(found) if requirement.side == "at_most" else min(found)
    return " ".join(
        word for word in ("here", name, _apart(value, requirement.bound), requirement.unit) if word
    )


def _how_many(move: CountMove | DroppedMove, values: Floats) -> int:
    if isinstance(move, DroppedMove):
        return round(move.all - float(move.times @ values[move.indices]))
    return round(float(move.values @ values[move.indices]))


def _apart(value: float, bound: float | None) -> str:
    """Write a value with as few digits as tell it from the bound that it misses."""
    texts = (f"{value:.{digits}g}" for digits in range(4, 16))
    return next((text for text in texts if bound is None or float(text) != bound), f"{value:.15g}")


def _counted(program: Program, key: Key, amounts: Floats) -> float | None:
    """Return the amount that counts under a legal limit."""
    for row, _ in program.moves.get(program.index_of[key], ()):
        content = program.form.row(row)
        return float(content.values @ amounts[content.indices])
    return None


def _present(program: Program, requirement: Requirement, amounts: Floats) -> str:
    """Say which of the materials that a choice is about are there, and how much of each."""
    index = program.library.arrays.material_index
    held = [(name, float(amounts[index[name]])) for name in requirement.subject if name in index]
    there = ", ".join(f"{name} {percent:.4g} % w/w" for name, percent in held if percent > 0)
    return f"here {there}" if there else ""


def _above_range(program: Program, amounts: Floats, seen: set[Key], rounding: Floats | float) -> list[Broken]:
    """Return the materials above the most that they may be used at, where no row says so already."""
    found = []
    for index in np.flatnonzero(amounts > program.form.upper[: program.size] + TOLERANCE + rounding):
        material = program.library.materials[index]
        requirement = replace(use_level(material, "at_most"), origin="library", movable=True)
        if seen.isdisjoint((requirement.key, Key("system", (material.id,)))):
            found.append(Broken(requirement, float(amounts[index]), f"here {amounts[index]:.4g} % w/w"))
    return found
