"""Prices and describes formulas on a second thread while the search for further ones goes on.

The solver lets go of the interpreter, so that describing one formula costs no time while others are looked for
or proven.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from types import TracebackType

from optiform.answers.describe.formula import describe
from optiform.answers.design.grades import grades_of
from optiform.answers.model.answer import Formula
from optiform.answers.price.allowances import with_ranges
from optiform.answers.price.binding_limits import explain
from optiform.answers.weigh.unweighable import with_weights
from optiform.brief.models import Brief
from optiform.program import Program
from optiform.search.fixed_choices import Polished, polish, ties_of
from optiform.search.narrow.small_program import MANY, SmallProgram
from optiform.search.ranking import Candidate
from optiform.solver import NO_LIMIT, Clock, OutOfTime


@dataclass(frozen=True, eq=False)
class Description:
    """A formula at its own ionic strength, described; and the same with the amounts that a balance can weigh.

    `expected` is the aim that the search took it for. It is not `in_full` where the time was over before its limits
    were priced and its amounts weighed.
    """

    brief: Brief
    polished: Polished
    expected: float
    formula: Formula
    weighed: Formula
    in_full: bool = True


@dataclass(frozen=True, eq=False)
class BackgroundDescriptions:
    """One thread that describes formulas of a brief, the likely ones of a large library before they are proven."""

    brief: Brief = field(repr=False)
    clock: Clock = NO_LIMIT
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

        def say(item: Candidate) -> Description | None:
            return _said(near.result(), item, self.clock)

        for item in likely:
            self.foreseen[id(program), item.values.tobytes()] = self.beside.submit(say, item)

    def foresaw(self, program: Program) -> Callable[[Candidate], bool]:
        """Return what tells whether a formula, in the columns of a program, was foreseen."""
        return lambda found: (id(program), found.values.tobytes()) in self.foreseen

    def of(self, near: SmallProgram, found: Candidate) -> Future[Description | None]:
        """Begin to describe a formula seen from near, unless that was done already."""
        already = self.foreseen.get((id(near.source), found.values.tobytes()))
        return already or self.beside.submit(_said, near, found, self.clock)


def _said(near: SmallProgram, found: Candidate, clock: Clock) -> Description | None:
    """Return all that is said of a formula but its place, or None where it cannot hold its pH window.

    Once the time is over a formula is held at its own ionic strength, verified and described, no more.
    """
    aim = near.brief.aim
    then = ties_of(near.program, aim.then)
    polished = polish(near.program, near.values(found.values), then, aim.tie, found.best)
    if polished is None:
        return None
    program, values = polished.program, polished.values
    plain = replace(
        describe(program, near.brief, values, binding=explain(polished, clock)),
        also=() if clock.over() else grades_of(polished, then, aim.tie),
    )
    formula = with_ranges(plain, polished, near.brief.ranked.allowance, clock)
    try:
        weighed = with_weights(formula, near.brief, program, values, ways=False, clock=clock)
    except OutOfTime:
        weighed = formula
    return Description(near.brief, polished, found.objective, formula, weighed, in_full=not clock.over())
