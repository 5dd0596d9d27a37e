"""Prices and describes formulas on a second thread while the search for further ones goes on.

The solver lets go of the interpreter, so that describing one formula costs no time while others are looked for
or proven.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from types import TracebackType

from optiform.answers.describe.formula import describe, outlined
from optiform.answers.design.grades import grades_of
from optiform.answers.model.answer import Formula
from optiform.answers.price.allowances import with_ranges
from optiform.answers.price.binding_limits import explain
from optiform.answers.weigh.unweighable import with_weights
from optiform.brief.models import Brief
from optiform.program import Program
from optiform.search.fixed_choices import Polished, polish, ties_of
from optiform.search.narrow.small_program import MANY, SmallProgram
from optiform.search.own_strength import at_own_strength
from optiform.search.ranking import Candidate
from optiform.solver import NO_LIMIT, Clock, OutOfTime


@dataclass(frozen=True, eq=False)
class Description:
    """A formula at its own ionic strength, described.

    Attributes
    ----------
    expected : float
        The aim that the search took it for.
    formula : Formula
        No more than outlined until its limits are priced.
    weighed : Formula, optional
        The same with the amounts that a balance can weigh; None until then.
    in_full : bool
        False where the time was over before its limits were priced and its amounts weighed.
    """

    brief: Brief
    polished: Polished
    expected: float
    formula: Formula
    weighed: Formula | None = None
    in_full: bool = True


@dataclass(frozen=True, eq=False)
class BackgroundDescriptions:
    """One thread that describes formulas of a brief, the likely ones of a large library before they are proven.

    Where `first_alone` is set, the limits of the formula found first are priced, as one look needs it; no other's are.
    """

    brief: Brief = field(repr=False)
    clock: Clock = NO_LIMIT
    first_alone: bool = False
    beside: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(max_workers=1), repr=False)
    foreseen: dict[tuple[int, bytes], Future[Description | None]] = field(default_factory=dict, repr=False)

    def __enter__(self) -> BackgroundDescriptions:
        """Begin."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Wait for what is being described, and drop what nobody waits for."""
        self.beside.shutdown(cancel_futures=True)

    def foresee(self, program: Program, likely: Sequence[Candidate]) -> None:
        """Begin to describe formulas of a large library that are listed but not proven yet."""
        if program.size < MANY:
            return
        near = self.beside.submit(SmallProgram.of, self.brief, program, [item.values for item in likely])

        def say(place: int, item: Candidate) -> Description | None:
            return self._said(near.result(), item, place)

        for place, item in enumerate(likely):
            self.foreseen[id(program), item.values.tobytes()] = self.beside.submit(say, place, item)

    def foresaw(self, program: Program) -> Callable[[Candidate], bool]:
        """Return what tells whether a formula, in the columns of a program, was foreseen."""
        return lambda found: (id(program), found.values.tobytes()) in self.foreseen

    def of(self, near: SmallProgram, found: Candidate, place: int) -> Future[Description | None]:
        """Begin to describe the formula found at a place, seen from near, unless that was done already."""
        already = self.foreseen.get((id(near.source), found.values.tobytes()))
        return already or self.beside.submit(self._said, near, found, place)

    def _said(self, near: SmallProgram, found: Candidate, place: int) -> Description | None:
        held = _held(near, found)
        if held is None or (self.first_alone and place > 0):
            return held
        return priced(held, self.clock, at_one_look=self.first_alone)


def _held(near: SmallProgram, found: Candidate) -> Description | None:
    """Return a formula held at its own ionic strength, verified and outlined; None where it cannot hold its pH."""
    aim = near.brief.aim
    then = ties_of(near.program, aim.then)
    polished = polish(near.program, near.values(found.values), then, aim.tie, found.best)
    if polished is None:
        return None
    formula = outlined(polished.program, polished.values)
    return Description(near.brief, polished, found.objective, formula)


def at_own_choices(one: Description, brief: Brief, ranked: Program, clock: Clock) -> Description | None:
    """Return a formula with choices that are better at its own ionic strength, outlined; None where there are none."""
    found = at_own_strength(one.polished, ranked, ties_of(ranked, brief.aim.then), clock)
    if found is one.polished:
        return None
    program, values = found.program, found.values
    near = SmallProgram(brief, program, program)
    if program.size >= MANY:
        near = SmallProgram.of(brief, program, [values])
    return _held(near, Candidate(values, found.objective, True, found.objective))


def priced(one: Description, clock: Clock, *, at_one_look: bool = False) -> Description:
    """Return a formula in full: what its limits cost, how far its amounts may move, what a balance can weigh of it.

    Once the time is over no more is said. What a reader sees `at_one_look` has no ranges, and no other grades.
    """
    brief, polished = one.brief, one.polished
    program, values, aim = polished.program, polished.values, brief.aim
    formula = describe(program, brief, values, binding=explain(polished, clock))
    if not at_one_look:
        grades = () if clock.over() else grades_of(polished, ties_of(program, aim.then), aim.tie)
        formula = with_ranges(replace(formula, also=grades), polished, brief.ranked.allowance, clock)
    try:
        weighed = with_weights(formula, brief, program, values, ways=False, clock=clock)
    except OutOfTime:
        weighed = formula
    return replace(one, formula=formula, weighed=weighed, in_full=not clock.over())
