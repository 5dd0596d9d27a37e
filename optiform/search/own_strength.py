"""Compares the choices of a structure each at its own ionic strength: a ranking takes one for all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optiform.measures.acidity import charge_curves
from optiform.program import Program, SparseRow, at_strength
from optiform.program.extended import rewritten
from optiform.program.reduction.part import part_of
from optiform.search.cardinality import counts
from optiform.search.fixed_choices import Polished, Ties, polish, rough
from optiform.search.narrow.candidates import worth_searching
from optiform.search.narrow.small_program import carried
from optiform.search.ranking import another_structure, within
from optiform.solver import Clock, Session
from optiform.tolerances import HALF, ROUNDING
from optiform.vectors import Floats, distinct

TRIES = 5
"""Other choices that are held at their own ionic strength at most: mostly none looks better."""
STEP = 1e-3
"""Step of ionic strength by which a row's slope is taken [mol per kg of water]."""


def at_own_strength(found: Polished, ranked: Program, then: Ties, clock: Clock) -> Polished:
    """Return the best formula of a structure, its choices compared each at its own ionic strength.

    Parameters
    ----------
    found : Polished
        The best formula with the choices of a ranking, which makes them all at one ionic strength.
    ranked : Program
        What was ranked.
    then : sequence of (objective, denominator)
        Tie-breaks over its columns: other choices must be no worse by them. Where one is no count, all stays.
    clock : Clock
        Once its time is over the last formula stays.

    Notes
    -----
    Choices that make no structure of their own are meant: which chelator, which acid. What ionic strength they bring
    moves the pH, and so the dose of acid: of two chelators at about the same price the one that is dearer at either
    ionic strength may be the cheaper one when each is taken at its own.
    """
    counted = all(counts(top, base, ranked.form.integer) for top, base in then)
    if not ranked.acid_rows or rough(ranked) or not counted:
        return found
    program = at_strength(ranked, found.program.catalogue.conditions.ionic_strength)
    near, values = found.program, found.values
    best = found if near.library is ranked.library else replace(found, values=carried(near, values, ranked))
    best = replace(best, program=program)
    tried, better = [best.values], False
    for _ in range(TRIES):
        choices = _other_choices(best, tried, then, clock)
        if choices is None:
            break
        tried.append(choices)
        other = polish(best.program, choices, then)
        if other is not None and other.objective < best.objective - ROUNDING * max(1.0, abs(best.objective)):
            best, better = other, True
    return best if better else found


def _other_choices(best: Polished, tried: Sequence[Floats], then: Ties, clock: Clock) -> Floats | None:
    """Return a solution of the same structure that looks better than a formula, by choices that were not tried."""
    program, values, ceiling = _near(best), best.values, best.objective
    wanted = worth_searching(program, values, ceiling, clock)
    part = None if wanted is None else part_of(*wanted)
    if part is None or not part.possible or not len(part.structure):
        return None
    session = Session(part.form, clock=clock, arrays=True)
    for one in tried:
        session.add_row(another_structure(part, one[part.columns]))
    for top, _ in then:
        session.add_row(within(top[part.columns], None, float(top @ values) + HALF))
    aim, edge = part.form.objective, ceiling
    if part.ratio_aim is not None:
        aim, edge = aim - ceiling * part.ratio_aim, 0.0
    session.set_objective(aim)
    outcome = session.below(edge)
    if outcome.values is None:
        return None
    return part.full(np.where(part.form.integer, np.round(outcome.values), outcome.values))


def _near(best: Polished) -> Program:
    """Return a program of one structure, whose rows follow each formula's own ionic strength, to first order.

    What makes two formulas different there is every choice of a material.
    """
    program, values = best.program, best.values
    form, amounts, structure = program.form, best.amounts, program.structure
    strength = program.catalogue.conditions.ionic_strength
    gradient = charge_curves(program.library).strength_gradient(amounts)
    lower, upper = form.lower.copy(), form.upper.copy()
    lower[structure] = upper[structure] = np.round(values[structure])
    row_lower, row_upper = form.row_lower.copy(), form.row_upper.copy()
    rows: dict[int, dict[int, float]] = {}
    for acid in program.acid_rows:
        if not acid.holds(values):
            continue
        here, there = acid.move.row(acid.bound), acid.move.at_strength(strength + STEP).row(acid.bound)
        slope = (_left(there, values) - _left(here, values)) / STEP
        dense = np.zeros(form.columns)
        dense[here.indices] = here.values
        dense[: program.size] += slope * gradient
        row_lower[acid.row] += slope * float(gradient @ amounts)
        row_upper[acid.row] += slope * float(gradient @ amounts)
        held = np.flatnonzero(dense)
        rows[acid.row] = dict(zip(held.tolist(), dense[held].tolist(), strict=True))
    form = replace(form, lower=lower, upper=upper, row_lower=row_lower, row_upper=row_upper)
    own = distinct(program.own_choice[program.own_choice >= 0])
    return replace(program, form=rewritten(form, rows), structure=own)


def _left(row: SparseRow, values: Floats) -> float:
    """Return by how much the values of a row go beyond its finite bound."""
    bound = row.lower if np.isfinite(row.lower) else row.upper
    return float(row.values @ values[row.indices]) - bound
