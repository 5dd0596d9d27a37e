"""One live solver per form: bounds, rows and objective change in place and are always put back."""

from __future__ import annotations

import contextlib
import math
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import highspy
import numpy as np

from optiform.faults import InternalError
from optiform.program.norm import lifted
from optiform.solver.branching import branched
from optiform.solver.clock import NO_LIMIT, Clock
from optiform.solver.direct import loaded
from optiform.solver.interrupt import StopCheck
from optiform.solver.options import AFRESH, BRANCHING, PRIMAL
from optiform.solver.outcome import Outcome, still_best
from optiform.solver.statement import stated
from optiform.solver.tangents import Tangents
from optiform.tolerances import CONE, NEARLY_HALF, ROUNDING
from optiform.vectors import distinct

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from optiform.program import Form, SparseRow
    from optiform.vectors import Flags, Floats, Indices

Status = highspy.HighsModelStatus
STOPS = (Status.kTimeLimit, Status.kIterationLimit, Status.kInterrupt, Status.kSolutionLimit)
MOST_CUTS = 100
"""With more tangent cuts than this, those that touch no solution are dropped; they come again when needed."""
TANGENT_ROUNDS = 1500
"""More rounds of tangent cuts than any solve takes: two to eight are usual."""
CIRCLING = 60
"""After so many rounds solutions circle round a single point: a limit is asked for just where it can no longer hold."""
STRANDED = (Status.kNotset, Status.kUnknown, Status.kSolveError)
REFUSALS = (Status.kInfeasible, Status.kUnboundedOrInfeasible)


class Session:
    """A form held by a solver, for one solve or thousands.

    Parameters
    ----------
    form : Form
    clock : Clock
        Once its time is over solves stop with the best so far.
    arrays : bool
        Whether the form is handed over as arrays, without a statement in PuLP: in a tenth of the time.

    Notes
    -----
    Every change is noted, and `trial` undoes what was changed inside it, so that a what-if never
    leaks into the next one.
    """

    def __init__(self, form: Form, *, clock: Clock = NO_LIMIT, arrays: bool = False) -> None:
        self.form, self.clock, self.solves = form, clock, 0
        self._highs: Any = loaded(form) if arrays else stated(form)
        self._undo: list[Callable[[], None]] = []
        self._objective = form.objective.copy()
        self._lower, self._upper = form.lower.copy(), form.upper.copy()
        self._whole = form.integer.copy()
        self._row_lower, self._row_upper = form.row_lower.copy(), form.row_upper.copy()
        self._changed: dict[int, dict[int, float]] = {}
        self.tangents = Tangents(form)
        self._stop_check = StopCheck(clock=clock)
        if bool(form.integer.any()):
            for name, value in BRANCHING.items():
                self._highs.setOptionValue(name, value)
            self._stop_check.attend(self._highs)
        if (self._highs.getNumCol(), self._highs.getNumRow()) != (form.columns, form.rows):
            raise InternalError("the solver holds another number of columns or rows than was stated")

    @property
    def stopped_by_user(self) -> bool:
        """Tell whether a solve was cut short by a signal."""
        return self._stop_check.stopped_by_user

    def accept_within(self, gap: float) -> None:
        """Be content with a solution proven to be within `gap` of the best, in the objective's unit."""
        self._highs.setOptionValue("mip_abs_gap", gap)

    def accept_within_part(self, gap: float) -> None:
        """Be content with a solution proven to be within this part of itself of the best."""
        self._highs.setOptionValue("mip_rel_gap", gap)

    def keep_feasible(self) -> None:
        """Go on from the last solution of a continuous program: that pays where only the objective changes."""
        self._highs.setOptionValue("simplex_strategy", PRIMAL)

    # solving

    def solve(self) -> Outcome:
        """Solve what the session holds now: an integer program with presolve, a continuous one from its last basis.

        Where the form has norms, tangent cuts are added until the solution holds them. A cut is valid whatever
        else the session holds, so it stays for every later solve. Each solve with cuts is a relaxation, so that its
        solution, once it holds its norms, is the proven optimum of the second-order cone program. Squares are held by
        branching on their ranges.
        """
        return branched(self) if self.tangents.squares else self.solve_convex()

    def solve_convex(self) -> Outcome:
        """Solve with norms held exactly, and squares from below."""
        outcome = self._outer_approximation()
        if outcome.values is not None and len(self.tangents.cuts) > MOST_CUTS:
            self._drop_rows(self.tangents.idle(outcome.values))
        return outcome

    def _outer_approximation(self) -> Outcome:
        """Add tangent cuts until a solution holds its norms; none is dropped meanwhile, or structures come back."""
        if self.form.norms and self._whole.any() and not self.tangents.cuts:
            self._continuous()
        outcome = self._solve_linear()
        known: Outcome | None = None
        between: Floats | None = None
        for tried in range(TANGENT_ROUNDS if self.form.norms else 0):
            if outcome.values is None:
                return outcome if known is None else still_best(known, outcome)
            within = CONE if tried < CIRCLING else NEARLY_HALF
            cuts = self.tangents.lacking(outcome.values, self._objective, self._counting(), between, within)
            between = outcome.values if between is None else (between + outcome.values) / 2.0
            if not cuts:
                values = outcome.values if self.tangents.squares else lifted(self.form.norms, outcome.values)
                return replace(outcome, values=values)
            if outcome.status == "stopped":
                nothing = Outcome("stopped", np.inf, outcome.bound)
                return nothing if known is None else still_best(known, outcome)
            for cut in cuts:
                self.tangents.cuts[self._append_row(cut)] = cut
            if not self._whole.any():
                outcome = self._solve_linear()
                continue
            fixed = self._continuous(outcome.values)
            if fixed.status == "solved" and (known is None or fixed.objective < known.objective):
                known = fixed
            outcome = self._solve_linear() if known is None else self._better_than(known.objective)
        if self.form.norms and outcome.values is not None:
            raise InternalError(f"the norms still do not hold after {TANGENT_ROUNDS} rounds of tangent cuts")
        return outcome

    def furthest_off(self, values: Floats) -> int | None:
        """Return which square a solution misses most, or None where it holds with all of them as they are."""
        return self.tangents.furthest_off(values, self._objective, self._counting())

    def _continuous(self, held: Floats | None = None) -> Outcome:
        """Solve with choices relaxed, or held as column values have them: this finds most of the cuts that are needed.

        Source: M. A. Duran and I. E. Grossmann, Mathematical Programming 36 (1986) 307 (outer approximation).
        """
        with self.trial(), self._options({"objective_bound": np.inf}):
            whole = np.flatnonzero(self._whole)
            self.relax()
            if held is not None:
                self.hold_columns(whole, np.round(held[whole]))
            return self._outer_approximation()

    def _better_than(self, objective: float) -> Outcome:
        """Solve for what is better than a solution that holds its norms; infeasible where nothing is."""
        cutoff = objective - ROUNDING * max(1.0, abs(objective))
        cutoff = min(cutoff, float(self._highs.getOptionValue("objective_bound")[1]))
        return self._below(cutoff, self._solve_linear)

    def _counting(self) -> Iterator[tuple[dict[int, float], float, float]]:
        """Yield the rows in which norms stand, as the solver holds them now."""
        held = {row: self._current(row) for row in self.tangents.counting}
        for row, added in self.tangents.counting_added():
            held[row] = dict(zip(added.indices.tolist(), added.values.tolist(), strict=True))
        for row, content in held.items():
            yield content, float(self._row_lower[row]), float(self._row_upper[row])

    def _solve_linear(self) -> Outcome:
        """Solve with the cuts that are known."""
        if self.clock.over():
            return Outcome("stopped", np.inf, -np.inf)
        self._run()
        if self._doubtful():
            self._run_afresh()
            if self.clock.over() and self._doubtful():
                return Outcome("stopped", np.inf, -np.inf)
        self.solves += 1
        return self._read()

    def below(self, cutoff: float, *, tries: int | None = None) -> Outcome:
        """Look only for what is better than a cutoff: the outcome is infeasible where nothing is.

        The solver drops every branch that cannot get under the cutoff, and then proves nothing about
        what lies above it. It tries a branching out so many times before it trusts what that brought.
        """
        return self._below(cutoff, self.solve, {} if tries is None else {"mip_pscost_minreliable": tries})

    def _below(
        self, cutoff: float, solve: Callable[[], Outcome], options: Mapping[str, Any] = MappingProxyType({})
    ) -> Outcome:
        with self._options({"objective_bound": cutoff, **options}):
            outcome = solve()
        if outcome.status == "solved" and outcome.objective >= cutoff:
            return Outcome("infeasible", np.inf, np.inf)
        return outcome

    @contextlib.contextmanager
    def _options(self, wanted: dict[str, Any]) -> Iterator[None]:
        """Set options of the solver, and put back what they were."""
        before = {name: self._highs.getOptionValue(name)[1] for name in wanted}
        for name, value in wanted.items():
            self._highs.setOptionValue(name, value)
        try:
            yield
        finally:
            for name, value in before.items():
                self._highs.setOptionValue(name, value)

    def _run(self) -> None:
        """Let the solver work; while it branches it asks Python things, and no signal may raise in between."""
        whole = bool(self._whole.any())
        self._limit_time(whole)
        if whole:
            with self._stop_check.listening():
                self._highs.run()
        else:
            self._highs.run()

    def _limit_time(self, whole: bool) -> None:
        """Give the solver the time left: counted from this run for an integer program, else from its first run.

        Measured on HiGHS 1.10 to 1.16. Heuristics at the root make no callback: only this limit ends them.
        """
        left = self.clock.left()
        if math.isfinite(left):
            since = 0.0 if whole else self._highs.getRunTime()
            self._highs.setOptionValue("time_limit", since + max(left, 0.0))

    def _run_afresh(self) -> None:
        """Solve again from nothing, in other ways until one of them ends: a kept basis can strand a solve."""
        for attempt in AFRESH:
            self._highs.clearSolver()
            with self._options(attempt):
                self._run()
            if self.clock.over() or not self._doubtful():
                return

    def _doubtful(self) -> bool:
        """Tell whether the solver gave up, or refused although it found what only just misses its tolerance."""
        status = self._highs.getModelStatus()
        found = np.isfinite(self._highs.getInfo().objective_function_value)
        return status in STRANDED or (status in REFUSALS and bool(self._whole.any()) and bool(found))

    def _read(self) -> Outcome:
        status = self._highs.getModelStatus()
        info = self._highs.getInfo()
        whole = bool(self._whole.any())
        if status in REFUSALS:
            return Outcome("infeasible", np.inf, np.inf)
        if status == Status.kOptimal:
            solution, objective = self._highs.getSolution(), float(info.objective_function_value)
            values = np.array(solution.col_value)
            if whole:
                return Outcome("solved", objective, float(info.mip_dual_bound), values)
            duals = np.delete(np.array(solution.row_dual), list(self.tangents.cuts))
            return Outcome("solved", objective, objective, values, duals, np.array(solution.col_dual))
        if status in STOPS:
            bound = float(info.mip_dual_bound) if whole else -np.inf
            objective = float(info.objective_function_value)
            if not np.isfinite(objective) or info.primal_solution_status != 2:
                return Outcome("stopped", np.inf, bound)
            return Outcome("stopped", objective, bound, np.array(self._highs.getSolution().col_value))
        raise InternalError(f"the solver came back with {status}")

    # changing

    @contextlib.contextmanager
    def trial(self) -> Iterator[Session]:
        """Undo on the way out everything that was changed inside."""
        mark = len(self._undo)
        try:
            yield self
        finally:
            while len(self._undo) > mark:
                self._undo.pop()()

    def set_objective(self, objective: Floats) -> None:
        """Minimise something else, shape (columns,)."""
        before = self._objective
        self._pass_objective(objective)
        self._undo.append(lambda: self._pass_objective(before))

    def set_row_bounds(self, row: int, lower: float, upper: float) -> None:
        """Change the bounds of one row."""
        before = (float(self._row_lower[row]), float(self._row_upper[row]))
        self._pass_row_bounds(row, lower, upper)
        self._undo.append(lambda: self._pass_row_bounds(row, *before))

    def set_row(self, row: int, content: SparseRow) -> None:
        """Change the coefficients and the bounds of one row."""
        held = self._current(row)
        wanted = dict(zip(content.indices.tolist(), content.values.tolist(), strict=True))
        there = {column: held.get(column, 0.0) for column in held.keys() | wanted.keys()}
        before = {column: value for column, value in there.items() if value != wanted.get(column, 0.0)}
        self._pass_values(row, {column: wanted.get(column, 0.0) for column in before})
        self._undo.append(lambda: self._pass_values(row, before))
        self.set_row_bounds(row, content.lower, content.upper)

    def release(self, rows: Iterable[int]) -> None:
        """Let rows go: any value is allowed."""
        places = distinct(np.fromiter(rows, dtype=np.intp))
        before, infinite = (self._row_lower[places], self._row_upper[places]), np.full(len(places), np.inf)
        self._pass_rows(places, -infinite, infinite)
        self._undo.append(lambda: self._pass_rows(places, *before))

    def set_column_bounds(self, column: int, lower: float, upper: float) -> None:
        """Change the bounds of one column."""
        before = self.bounds_of(column)
        self._pass_column_bounds(column, lower, upper)
        self._undo.append(lambda: self._pass_column_bounds(column, *before))

    def hold_columns(self, columns: Indices, values: Floats) -> None:
        """Hold some columns at values."""
        before = self._lower[columns], self._upper[columns]
        self._pass_bounds(columns, values, values)
        self._undo.append(lambda: self._pass_bounds(columns, *before))

    def bounds_of(self, column: int) -> tuple[float, float]:
        """Return the bounds of one column as they are now."""
        return float(self._lower[column]), float(self._upper[column])

    def relax(self, kept: Sequence[int] = ()) -> None:
        """Let every whole-number column be continuous, some apart."""
        whole, stays = self._whole, np.zeros(len(self._whole), dtype=bool)
        stays[list(kept)] = whole[list(kept)]
        self._pass_whole(stays)
        self._undo.append(lambda: self._pass_whole(whole))

    def add_row(self, content: SparseRow) -> None:
        """Add a row at the end; taken away again when the trial ends."""
        self.tangents.added.append((self._append_row(content), content))
        self._undo.append(lambda: self._drop_rows([self.tangents.added[-1][0]]))

    # handing on to the solver

    def _append_row(self, content: SparseRow) -> int:
        """Hand over one more row and return its place."""
        columns = content.indices.astype(np.int32)
        self._highs.addRow(content.lower, content.upper, len(columns), columns, content.values)
        self._row_lower = np.append(self._row_lower, content.lower)
        self._row_upper = np.append(self._row_upper, content.upper)
        return len(self._row_lower) - 1

    def _drop_rows(self, places: Sequence[int]) -> None:
        """Take away some rows that were added."""
        if not places:
            return
        self._highs.deleteRows(len(places), np.array(places, dtype=np.int32))
        lower, upper = self._row_lower, self._row_upper
        self._row_lower, self._row_upper = np.delete(lower, places), np.delete(upper, places)
        self.tangents.dropped(places)

    def _pass_objective(self, objective: Floats) -> None:
        self._objective, count = objective, len(objective)
        self._highs.changeColsCost(count, np.arange(count, dtype=np.int32), objective)

    def _pass_row_bounds(self, row: int, lower: float, upper: float) -> None:
        self._row_lower[row], self._row_upper[row] = lower, upper
        self._highs.changeRowBounds(row, lower, upper)

    def _pass_rows(self, rows: Indices, lower: Floats, upper: Floats) -> None:
        self._row_lower[rows], self._row_upper[rows] = lower, upper
        self._highs.changeRowsBounds(len(rows), rows.astype(np.int32), lower, upper)

    def _pass_column_bounds(self, column: int, lower: float, upper: float) -> None:
        self._lower[column], self._upper[column] = lower, upper
        self._highs.changeColBounds(column, lower, upper)

    def _pass_bounds(self, columns: Indices, lower: Floats, upper: Floats) -> None:
        self._lower[columns], self._upper[columns] = lower, upper
        self._highs.changeColsBounds(len(columns), columns.astype(np.int32), lower, upper)

    def _pass_whole(self, whole: Flags) -> None:
        """Let columns be whole numbers: to HiGHS a continuous one is 0, an integer one 1."""
        columns, self._whole = np.flatnonzero(whole != self._whole).astype(np.int32), whole
        if len(columns):
            self._highs.changeColsIntegrality(len(columns), columns, whole[columns].astype(np.uint8))

    def _current(self, row: int) -> dict[int, float]:
        """Return the values of a row of the form as the solver holds them now, by column."""
        content = self.form.row(row)
        held = dict(zip(content.indices.tolist(), content.values.tolist(), strict=True))
        return {**held, **self._changed.get(row, {})}

    def _pass_values(self, row: int, values: dict[int, float]) -> None:
        self._changed.setdefault(row, {}).update(values)
        for column, value in values.items():
            self._highs.changeCoeff(row, column, value)
