"""Tells how firmly the best formula stands, by drawing from what is not known of the measures."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.trials.planned import Settledness
from optiform.learning.worth import draws
from optiform.program import Key, SparseRow, build
from optiform.program.rows.moves import MarginMove
from optiform.search.fixed_choices import polish
from optiform.search.narrow.screening import screen
from optiform.search.ranking import Candidate
from optiform.solver import Session
from optiform.tolerances import ROUNDING, TOLERANCE

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from optiform.brief.models import Brief
    from optiform.measures import Side
    from optiform.program import Program
    from optiform.search.fixed_choices import Polished
    from optiform.solver import Clock
    from optiform.trials.learned import LearnedMeasure

    Floats = NDArray[np.float64]

DRAWS = 200
STRUCTURES = 5
"""So many structures compete in every draw."""


def settledness(
    likeliest: Brief,
    limited: Sequence[LearnedMeasure],
    middle: Mapping[str, float],
    objective: float,
    seed: int,
    clock: Clock,
) -> Settledness | None:
    """Return how the best formula fares where coefficients are as they may truly be.

    Parameters
    ----------
    likeliest : Brief
        With limits on the likeliest values, without margins.
    limited : sequence of LearnedMeasure
        What the brief limits with a probability.
    middle : mapping of str to float
        The best formula now.
    objective : float
        Its aim, signed so that less is better, its margins held.

    Notes
    -----
    Each draw is a few linear programs: the best formula of each of the likeliest structures if these coefficients were
    known. A brief whose aim is no total over materials is not drawn.
    """
    structures = [_Structure(one, likeliest, limited) for one in _polished(likeliest, clock)]
    if not structures or any(one.polished.program.ratio_aim is not None for one in structures):
        return None
    drawn = [draws(measure.knowledge, DRAWS, seed + place) for place, measure in enumerate(limited)]
    ours = _telling(likeliest, middle)
    best: list[float] = []
    same = 0
    for k in range(DRAWS):
        aims = [one.aim_at([coefficients[k] for coefficients in drawn]) for one in structures]
        known = [(aim, place) for place, aim in enumerate(aims) if aim is not None]
        if not known:
            continue
        least, place = min(known)
        best.append(least)
        same += structures[place].telling == ours
    if not best:
        return Settledness(DRAWS, 0, 0, None, None, None)
    sign = structures[0].polished.program.aim_sign
    low, high = sorted(sign * float(end) for end in np.quantile(best, [0.05, 0.95]))
    return Settledness(DRAWS, len(best), same, low, high, max(0.0, objective - float(np.mean(best))))


def _polished(brief: Brief, clock: Clock) -> list[Polished]:
    """Return the best formulas of the likeliest structures."""
    program = build(brief)
    screened = screen(program, STRUCTURES, clock=clock)
    found = []
    for item in screened.ranking(STRUCTURES):
        if not isinstance(item, Candidate):
            break
        one = polish(screened.program, item.values)
        if one is not None:
            found.append(one)
    return found


def _telling(brief: Brief, percents: Mapping[str, float]) -> frozenset[str]:
    """Return the materials of a formula that make its structure."""
    words = frozenset(brief.ranked.differ_in)
    return frozenset(name for name in percents if words.intersection(brief.library.material[name].functions))


def _square(program: Program, name: str) -> int:
    """Return the column of the square that a limit on a learned measure counts."""
    moves = (move for row in program.moves.stated.values() for _, move in row)
    return next(one.square for one in moves if isinstance(one, MarginMove) and one.measure.name == name)


class _Structure:
    """One structure in a live session, whose rows of what was learned take other coefficients."""

    def __init__(self, polished: Polished, brief: Brief, limited: Sequence[LearnedMeasure]) -> None:
        self.polished = polished
        program, reduced = polished.program, polished.reduced
        self.session = Session(reduced.form)
        index = program.library.arrays.material_index
        self.rows: list[tuple[int, int, NDArray[np.intp], float, float]] = []
        for place, measure in enumerate(limited):
            places = np.array([index.get(name, -1) for name in measure.materials], dtype=np.intp)
            if measure.electrolyte:
                places = np.append(places, _square(program, measure.name))
            target = brief.targets[measure.name]
            sides: tuple[tuple[Side, float | None], ...] = (
                ("at_least", target.at_least),
                ("at_most", target.at_most),
            )
            for side, bound in sides:
                key = Key("targets", (measure.name,), side)
                for row in program.rows_of[program.index_of[key]] if key in program.index_of else ():
                    here = reduced.row_position.get(int(row))
                    if here is not None and bound is not None:
                        level = float(np.log10(bound)) if measure.scale == "log10" else bound
                        low, high = (
                            (level - TOLERANCE, np.inf)
                            if side == "at_least"
                            else (-np.inf, level + TOLERANCE)
                        )
                        self.rows.append((place, here, places, low, high))
        materials = program.library.materials
        held = {materials[i].id: 1.0 for i in range(program.size) if polished.values[i] > ROUNDING}
        self.telling = _telling(brief, held)
        at_best = float(reduced.form.objective @ polished.values[reduced.free])
        self.constant = polished.objective - at_best

    def aim_at(self, coefficients: Sequence[Floats]) -> float | None:
        """Return the best aim with these coefficients, less is better; None where no amounts hold everything."""
        with self.session.trial():
            for place, here, places, low, high in self.rows:
                known = places >= 0
                row = SparseRow(places[known], coefficients[place][known], low, high)
                self.session.set_row(here, self.polished.reduced.row(row))
            outcome = self.session.solve()
        if outcome.values is None:
            return None
        return float(self.polished.reduced.form.objective @ outcome.values) + self.constant
