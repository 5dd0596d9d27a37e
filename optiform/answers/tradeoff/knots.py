"""Solves the formulas where two straight pieces of a trade-off meet, each at its own ionic strength."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.answers.evaluate.judging import Recheck
from optiform.answers.tradeoff.axes import Axes
from optiform.answers.tradeoff.front import Knot
from optiform.answers.tradeoff.structure import Point, choices_of
from optiform.program import SparseRow
from optiform.search.fixed_choices import FixedChoices, cleaned, verify
from optiform.solver import Clock
from optiform.tolerances import HALF, ROUNDING
from optiform.vectors import Floats


@dataclass(eq=False)
class Knots:
    """Turns the points of a search into formulas; once the time is over they are told without their amounts.

    Attributes
    ----------
    recheck : Recheck
        Judges each formula once more, and hears of those that do not hold.
    held : dict
        One live session for each set of choices and slack.
    """

    axes: Axes
    clock: Clock
    recheck: Recheck
    known: dict[int, Knot] = field(default_factory=dict)
    held: dict[tuple[bytes, float], FixedChoices] = field(default_factory=dict)

    def of(self, point: Point) -> Knot:
        """Return the formula at a point; no amounts where it cannot hold its pH at its own ionic strength."""
        if id(point) not in self.known:
            self.known[id(point)] = self._knot(point)
        return self.known[id(point)]

    def _knot(self, point: Point) -> Knot:
        axes, program = self.axes, self.axes.program
        values = cleaned(program, point.values)
        verify(program, values)
        return Knot(
            bound=axes.against.shown(point.bound),
            value=axes.of.shown(point.value),
            reached=axes.against.shown(axes.against.at(values)),
            lines=() if self.clock.over() else self._lines(point, values),
        )

    def _lines(self, point: Point, values: Floats) -> tuple[tuple[str, float], ...]:
        """Return the formula of a point, judged once more; none, and a word of it, where it does not hold."""
        program = self.axes.program
        amounts = self._at_own_strength(point) if program.acid_rows else values[: program.size]
        order = sorted(
            np.flatnonzero(amounts > ROUNDING), key=lambda i: (-amounts[i], program.library.materials[i].id)
        )
        lines = tuple((program.library.materials[i].id, float(amounts[i])) for i in order)
        broken = "the pH at its own ionic strength"
        if lines:
            broken = self.recheck.broken(self.axes.brief, lines, self.axes.free)
        if broken:
            self.recheck.words.append(broken)
        return () if broken else lines

    def _at_own_strength(self, point: Point) -> Floats:
        """Return the amounts of a point solved again at its own ionic strength; all 0 where there are none."""
        against = self.axes.against
        values = against.top if against.base is None else against.top - point.bound * against.base
        present = np.flatnonzero(values)
        for slack in (0.0, HALF):
            fixed = self._fixed(point, slack)
            end = (point.bound if against.base is None else 0.0) - slack * max(1.0, abs(point.bound))
            with fixed.session.trial():
                fixed.session.add_row(fixed.reduced.row(SparseRow(present, values[present], end, np.inf)))
                found = fixed.best()
            if found is not None:
                verify(*found)
                return found[1][: self.axes.program.size]
        return np.zeros(self.axes.program.size)

    def _fixed(self, point: Point, slack: float) -> FixedChoices:
        """Return a live session of the choices of a point, which begins at its own ionic strength."""
        key = (choices_of(self.axes, point.values), slack)
        if key not in self.held:
            self.held[key] = FixedChoices(self.axes.program, point.values, (), slack)
        self.held[key].values = point.values
        return self.held[key]
