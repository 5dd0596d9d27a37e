"""Ranks the n best formulas that differ in structure, proven: no other structure beats the last one."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from optiform.program import USED, Program, SparseRow
from optiform.program.reduction.part import Part
from optiform.search.cardinality import ProvenCounts, counts, fewest
from optiform.solver import NO_LIMIT, Clock, Outcome, Session
from optiform.tolerances import EQUAL, ROUNDING
from optiform.vectors import Floats

ROUNDS = 50


@dataclass(frozen=True, eq=False)
class Candidate:
    """One structure with the best formula that has it.

    Attributes
    ----------
    values : ndarray, shape (columns,)
        Choices rounded, amounts as the solver left them.
    objective : float
        The aim at these values, signed so that less is better.
    proven : bool
        Whether no other structure that was not listed before is better.
    best : float
        The best aim of all structures that were not listed before; tie-breaks may go `tie` beyond it.
    """

    values: Floats = field(repr=False)
    objective: float
    proven: bool
    best: float


def best(
    session: Session, objective: Floats, denominator: Floats | None = None, begin: float = 0.0
) -> Outcome:
    """Solve for the least of an objective, or of its ratio to a denominator.

    Parameters
    ----------
    session : Session
    objective, denominator : ndarray, shape (columns,)
    begin : float
        A ratio near the least one; the nearer, the easier is the first solve.

    Notes
    -----
    For a ratio, minimise n . x - t d . x and set t to the ratio found, until the least is zero
    (Dinkelbach, Management Science 13 (1967) 492). A row d . x >= 0.001 keeps the ratio defined.
    """
    if denominator is None:
        session.set_objective(objective)
        return session.solve()
    present = np.flatnonzero(denominator)
    with session.trial():
        session.add_row(SparseRow(present, denominator[present], USED, np.inf))
        session.set_objective(objective - begin * denominator)
        outcome = session.solve()
        for _ in range(ROUNDS):
            if outcome.values is None:
                return outcome
            if outcome.status != "solved":
                so_far = float(objective @ outcome.values) / float(denominator @ outcome.values)
                return Outcome("stopped", so_far, -np.inf, outcome.values)
            values = outcome.values
            base = float(denominator @ values)
            ratio = float(objective @ values) / base
            session.set_objective(objective - ratio * denominator)
            outcome = session.solve()
            if outcome.status == "solved" and outcome.objective > -ROUNDING * max(1.0, abs(ratio)):
                prices = None if outcome.row_dual is None else outcome.row_dual[:-1] / base
                reduced = None if outcome.reduced_cost is None else outcome.reduced_cost / base
                return Outcome("solved", ratio, ratio, values, prices, reduced)
            if outcome.values is None:
                return Outcome("stopped", ratio, -np.inf, values)
        return Outcome("stopped", ratio, -np.inf, values)


def best_expected(
    session: Session, objective: Floats, denominator: Floats | None, expected: Outcome
) -> Outcome:
    """Solve for the least of an objective, or of its ratio to a denominator, where a solution is known.

    What is better is looked for, until nothing is.
    """
    if denominator is None:
        session.set_objective(objective)
        better = session.below(expected.objective - ROUNDING * max(1.0, abs(expected.objective)))
        return expected if better.status == "infeasible" else better
    present = np.flatnonzero(denominator)
    known = expected
    with session.trial():
        session.add_row(SparseRow(present, denominator[present], USED, np.inf))
        for _ in range(ROUNDS):
            session.set_objective(objective - known.objective * denominator)
            better = session.below(-ROUNDING * max(1.0, abs(known.objective)))
            if better.status == "infeasible":
                return known
            if better.values is not None:
                ratio = value_of(objective, denominator, better.values)
                known = Outcome("solved", ratio, ratio, better.values)
            if better.status != "solved":
                return Outcome("stopped", known.objective, -np.inf, known.values)
    return Outcome("stopped", known.objective, -np.inf, known.values)


def lexicographic(
    session: Session,
    objective: Floats,
    denominator: Floats | None,
    then: Sequence[tuple[Floats, Floats | None]],
    tie: float,
    known: Outcome | None = None,
    others: Sequence[Outcome] = (),
    proven: ProvenCounts | None = None,
) -> Outcome:
    """Solve for the aim, then break ties by further objectives, each within `tie` of the best before.

    `known` is what the aim came to, where that was solved before, `others` are further solutions that are known, and
    `proven` is what is known of the session of solutions with fewer ingredients. Among the solutions that are best by
    the last tie-break the one with the best aim is taken.

    The outcome's objective is the aim at the solution found last; its bound is that of the aim.
    """
    then = [tie_break for tie_break in then if tie_break[0].any()]
    if len(then) == 1 and denominator is None and counts(*then[0], session.form.integer):
        first = known or best(session, objective)
        if first.values is None or first.status != "solved" or tie <= 0:
            return first
        return fewest(session, objective, then[0][0], tie, [first, *others], proven)
    with session.trial():
        first = outcome = known or best(session, objective, denominator)
        for before, following in itertools.pairwise([(objective, denominator), *then]):
            if outcome.values is None or outcome.status != "solved":
                break
            session.add_row(within(*before, outcome.objective + tie))
            refined = best(session, *following)
            if refined.values is None:
                break
            outcome = refined
        if outcome is not first and outcome.status == "solved":
            outcome = _cheapest_of_equals(session, (objective, denominator), then, first, outcome)
    if outcome.values is None or outcome is first:
        return first
    return Outcome(
        outcome.status, value_of(objective, denominator, outcome.values), first.bound, outcome.values
    )


def _cheapest_of_equals(
    session: Session,
    aim: tuple[Floats, Floats | None],
    then: Sequence[tuple[Floats, Floats | None]],
    first: Outcome,
    last: Outcome,
) -> Outcome:
    """Return the best by the aim among solutions as good as the last by the tie-breaks."""
    if first.values is None or last.values is None:
        return last
    reached = [value_of(*tie_break, last.values) for tie_break in then]
    if all(
        value_of(*tie_break, first.values) <= value + EQUAL * max(1.0, abs(value))
        for tie_break, value in zip(then, reached, strict=True)
    ):
        return first
    session.add_row(within(*then[-1], reached[-1] + EQUAL * max(1.0, abs(reached[-1]))))
    cheapest = best(session, *aim)
    return cheapest if cheapest.status == "solved" else last


def value_of(objective: Floats, denominator: Floats | None, values: Floats) -> float:
    """Return an objective, or its ratio to a denominator, at a solution."""
    top = float(objective @ values)
    return top if denominator is None else top / float(denominator @ values)


def within(objective: Floats, denominator: Floats | None, ceiling: float) -> SparseRow:
    """Return the row objective <= ceiling, or objective / denominator <= ceiling."""
    values = objective if denominator is None else objective - ceiling * denominator
    present = np.flatnonzero(values)
    return SparseRow(present, values[present], -np.inf, ceiling if denominator is None else 0.0)


def another_structure(program: Program | Part, values: Floats) -> SparseRow:
    """Return the row that keeps out formulas whose structure is that of a solution."""
    taken = values[program.structure] > 0.5
    signs = np.where(taken, 1.0, -1.0)
    return SparseRow(program.structure, signs, -np.inf, float(taken.sum()) - 1.0)


@dataclass(frozen=True, eq=False)
class WarmStart:
    """What is known before a ranking begins.

    Attributes
    ----------
    session : Session, optional
        A live one that holds the program; rows are added to it.
    first : Outcome, optional
        What the aim came to, where that was solved before.
    expected : sequence of Outcome
        Solutions of different structures, best first: each needs only a proof that nothing is better.
    others : iterator of Outcome
        Solutions that a tie-break may prefer, one more for each place.
    proven : ProvenCounts
        What is known of the session, and up to which aim more is worth knowing.
    """

    session: Session | None = field(default=None, repr=False)
    first: Outcome | None = field(default=None, repr=False)
    expected: Sequence[Outcome] = field(default=(), repr=False)
    others: Iterable[Outcome] = field(default=(), repr=False)
    proven: ProvenCounts = field(default_factory=ProvenCounts, repr=False)


def no_edge() -> float:
    """Return the edge of a ranking that goes on as long as there is a structure."""
    return np.inf


def rank(
    program: Program | Part,
    how_many: int,
    then: Sequence[tuple[Floats, Floats | None]] = (),
    tie: float = 0.0,
    clock: Clock = NO_LIMIT,
    start: WarmStart | None = None,
    edge: Callable[[], float] = no_edge,
) -> Iterator[Candidate | Outcome]:
    """Yield candidates from the best on; at the end the outcome that says why there is no further one.

    Parameters
    ----------
    program : Program
    how_many : int
    then : sequence of (objective, denominator)
        Tie-breaks, each to be minimised.
    tie : float
        Allowance of the tie-breaks, in the aim's unit.
    clock : Clock
        Once its time is over the search stops.
    start : WarmStart, optional
    edge : callable
        Asked before each place for the aim from which on nothing is looked for: the ranking ends there.
    """
    start = start or WarmStart()
    session = start.session or Session(program.form, clock=clock)
    aim = (program.form.objective, program.ratio_aim)
    before, left, others = start.first, list(start.expected), list(start.expected)
    preferred, rows = iter(start.others), list[SparseRow]()
    for _ in range(how_many):
        least = edge()
        first = before or _best_left(session, program, left, least)
        if first.status != "stopped" and first.objective >= least < np.inf:
            return
        others += [
            item for item in itertools.islice(preferred, 1) if all(_still_there(item, row) for row in rows)
        ]
        outcome = lexicographic(session, *aim, then, tie, first, others, start.proven)
        if outcome.values is None:
            yield outcome
            return
        values = np.where(program.form.integer, np.round(outcome.values), outcome.values)
        yield Candidate(values, outcome.objective, outcome.status == "solved", outcome.bound)
        if outcome.status != "solved":
            yield Outcome("stopped", outcome.objective, outcome.bound)
            return
        if not len(program.structure):
            yield Outcome("infeasible", np.inf, np.inf)
            return
        other = another_structure(program, values)
        session.add_row(other)
        rows.append(other)
        before = first if _still_there(first, other) else None
        left = [item for item in left if _still_there(item, other)]
        others = [item for item in (*others, *start.proven.take()) if _still_there(item, other)]


def _best_left(
    session: Session, program: Program | Part, expected: Sequence[Outcome], edge: float
) -> Outcome:
    """Return the best solution under an edge that a session has left: the first one expected may turn out to be it."""
    aim = (program.form.objective, program.ratio_aim)
    if expected:
        return best_expected(session, *aim, expected[0])
    if edge < np.inf:
        return best_expected(session, *aim, Outcome("infeasible", edge, edge))
    return best(session, *aim)


def _still_there(first: Outcome, other: SparseRow) -> bool:
    """Tell whether a best solution is none of those that a row keeps out: a tie-break went past it."""
    if first.values is None or first.status != "solved":
        return False
    return float(other.values @ np.round(first.values[other.indices])) <= other.upper + 0.5
