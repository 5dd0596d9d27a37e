"""Orders the changes of a reformulation into steps, each of which ends in a formula that meets every limit."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np

from optiform.answers.describe.sensible_steps import aim_with_penalties
from optiform.answers.model.changes import Step
from optiform.answers.rework.differences import line_changes
from optiform.program import Program, complete
from optiform.program.rows.baseline_rows import NOT_COUNTED
from optiform.search.fixed_choices import Polished, Ties
from optiform.search.restricted import Held
from optiform.solver import Clock, OutOfTime
from optiform.tolerances import EQUAL, ROUNDING
from optiform.vectors import Floats

Percents = tuple[tuple[str, float], ...]


TOGETHER = 3
"""At most so many materials are tried as one change before all that is left goes in at once."""


@dataclass
class Staircase:
    """The single changes that lead from a baseline to a result, the most rewarding first.

    Attributes
    ----------
    program : Program
        What both are judged by.
    before : ndarray, shape (n,)  [% w/w]
        The baseline.
    result : Polished
        The best formula.
    then, tie
        Tie-breaks of the brief, as in `polish`: each step is what the brief prefers there.
    worth : float
        Changes that bring less than this by themselves are one step with what follows, or with what came before.
    holds : callable
        Whether a formula on the way holds, computed again from its amounts; one that does not is no step.
    clock : Clock
        Once its time is over all that is left is one step.

    Notes
    -----
    A single change sets as few materials free as bring anything: one, a pair that trades places, or
    three; water, acids and bases always follow. Whoever stops half-way has lost the least.
    """

    program: Program
    before: Floats
    result: Polished
    then: Ties
    tie: float
    worth: float
    holds: Callable[[Percents], bool]
    clock: Clock
    held: Held = field(init=False)
    followers: frozenset[int] = field(init=False)

    def __post_init__(self) -> None:
        self.held = Held(self.program, self.before, self.then, self.tie, self.clock)
        self.broken = False
        moved = set(np.flatnonzero(np.abs(self.result.amounts - self.before) > ROUNDING).tolist())
        materials = self.program.library.materials
        used = set(np.flatnonzero((self.before > 0) | (self.result.amounts > 0)).tolist())
        self.followers = frozenset(i for i in used if materials[i].function in NOT_COUNTED)
        self.left = sorted(moved - self.followers)

    def steps(self) -> Iterable[Step]:
        """Yield the steps that are worth telling, whose savings add up to the whole; the last one is the result."""
        last, aim = self.before, self._aim(self.before)
        for amounts, repairs in self._told(list(self._marks())):
            yield self._step(last, amounts, aim, repairs)
            last, aim = amounts, self._aim(amounts)

    def _marks(self) -> Iterable[tuple[Floats, bool]]:
        """Yield the formulas on the way, and whether each was needed before anything held."""
        last = self.before
        try:
            for last, repairs in self._single_changes():
                yield last, repairs
        except OutOfTime:
            pass
        if np.any(np.abs(self.result.amounts - last) > ROUNDING):
            yield self.result.amounts, self.broken

    def _single_changes(self) -> Iterable[tuple[Floats, bool]]:
        here = self.held.aim(self.followers)
        self.broken = here is None
        free: frozenset[int] = self.followers
        while self.left:
            chosen = self._next(free, None if here is None else here[0])
            free = free | chosen
            self.left = [index for index in self.left if index not in chosen]
            exact = self.result if not self.left else self.held.exact(free)
            if exact is None:
                continue
            repairs, here = self.broken, self.held.aim(free)
            self.broken = here is None
            if self.left and not self.holds(percents_of(self.program, exact.amounts)):
                continue
            yield exact.amounts, repairs

    def _told(self, marks: list[tuple[Floats, bool]]) -> list[tuple[Floats, bool]]:
        """Return the formulas whose step is worth telling; the last one always is among them."""
        told: list[tuple[Floats, bool]] = []
        for mark in marks:
            gain = self._gain(told[-1][0] if told else self.before, mark[0])
            if mark[1] or self.worth <= 0 or gain is None or gain >= self.worth:
                told.append(mark)
        if marks and (not told or told[-1] is not marks[-1]):
            if told and not told[-1][1]:
                told.pop()
            told.append(marks[-1])
        return told

    def _gain(self, old: Floats, new: Floats) -> float | None:
        before, after = self._aim(old), self._aim(new)
        return None if before is None or after is None else self.program.aim_sign * (before - after)

    def _next(self, free: frozenset[int], here: float | None) -> frozenset[int]:
        """Return the change that brings most per material; before anything holds, the smallest that makes it hold."""
        best: tuple[float, tuple[int, ...]] | None = None
        for size in range(1, TOGETHER + 1):
            if size == len(self.left):
                break
            for group in itertools.combinations(self.left, size):
                if size > 1 and not self._trade(group):
                    continue
                found = self.held.aim(free | set(group))
                if found is None:
                    continue
                gain = -found[0] if here is None else (here - found[0]) / size
                if best is None or gain > best[0] + ROUNDING:
                    best = (gain, group)
            if (
                best is not None
                and (here is None or best[0] > self._least())
                and size >= min(2, len(self.left) - 1)
            ):
                return frozenset(best[1])
        return frozenset(self.left)

    def _trade(self, group: tuple[int, ...]) -> bool:
        """Tell whether materials can trade places: some get more, some less."""
        signs = {bool(self.result.amounts[i] > self.before[i]) for i in group}
        return len(signs) == 2 or len(group) > 2

    def _least(self) -> float:
        whole = self._aim(self.before) or 0.0
        end = self._aim(self.result.amounts) or 0.0
        return EQUAL * max(abs(whole - end), ROUNDING)

    def _aim(self, amounts: Floats) -> float | None:
        return aim_with_penalties(self.program, complete(self.program, amounts))

    def _step(self, old: Floats, new: Floats, aim: float | None, repairs: bool) -> Step:
        after = self._aim(new)
        return Step(
            lines=line_changes(self.program.library, old, new),
            aim=float("nan") if after is None else after,
            saving=float("nan") if aim is None or after is None else self.program.aim_sign * (aim - after),
            repairs=repairs,
            percents=percents_of(self.program, new),
        )


def percents_of(program: Program, amounts: Floats) -> tuple[tuple[str, float], ...]:
    """Return a formula as (material id, % w/w) pairs, largest first."""
    order = sorted(np.flatnonzero(amounts > 0), key=lambda i: (-amounts[i], program.library.materials[i].id))
    return tuple((program.library.materials[i].id, float(amounts[i])) for i in order)
