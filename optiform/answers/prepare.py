"""From a brief to a program at an ionic strength that its own best formula confirms."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.answers.rank import Candidate, rank
from optiform.measures.acidity import charge_curves
from optiform.program import Program, at_strength, build

if TYPE_CHECKING:
    from optiform.brief.models import Brief

ROUNDS = 3
CLOSE = 0.01
"""Ionic strengths this near make the same ranking, mol per kg of water."""


def prepare(brief: Brief, deadline: float | None = None) -> Program:
    """State a brief as a program, with one ionic strength for all its formulas.

    A dosed pH needs the ionic strength, which needs a formula: the best formula at a first
    estimate gives the next one, at most a few rounds. The proof of a ranking is relative to it.

    Raises
    ------
    BadInput
        If a rule or the aim names a measure that cannot serve there.
    """
    program = build(brief)
    if not program.acid_rows:
        return program
    for _ in range(ROUNDS):
        first = next(iter(rank(program, 1, deadline=deadline)))
        if not isinstance(first, Candidate):
            break
        settled = charge_curves(program.library).settle(first.values[: program.size])
        if (
            settled is None
            or abs(settled.ionic_strength - program.catalogue.conditions.ionic_strength) < CLOSE
        ):
            break
        program = at_strength(program, settled.ionic_strength)
    return program
