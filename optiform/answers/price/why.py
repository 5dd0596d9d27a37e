"""Tells why a material is, or is not, in the best formula, and at which price that changes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.answers.conflict.report import Finder, conflict, requirements
from optiform.answers.describe.cautions import cautions_for
from optiform.answers.describe.formula import describe, lines_of
from optiform.answers.evaluate.judging import judged
from optiform.answers.model.answer import Answer, Formula, Line, Takeover, Why
from optiform.brief.models import Brief
from optiform.faults import Faults
from optiform.library.typed.matching import matcher
from optiform.program import USED, Program, Requirement, SparseRow, build
from optiform.program.extended import released
from optiform.search.fixed_choices import cleaned, polish
from optiform.search.incumbent import optimum
from optiform.search.ionic_strength import Ground, ground
from optiform.solver import Clock, Outcome, OutOfTime, Session
from optiform.tolerances import CLEAR
from optiform.vectors import Floats, distinct

ROUNDS = 40
COST_LIMIT = (
    "The brief's own limit on cost was left aside while the price was moved: a dearer material may break it before "
    "another formula takes over."
)
LOST = "A formula that cannot hold its pH at its own ionic strength is not shown."
UNFINISHED = "The time ran out: what is missing here was not searched to the end."
NO_PRICE = "The aim is not the lowest cost, so no price brings a material in or out."


def why(brief: Brief, material: str, *, seconds: float | None = None) -> Answer:
    """Tell why a material is left out, or kept, and at which price another formula takes over.

    Parameters and faults are those of `optiform.why`.

    Notes
    -----
    A material that is left out is forced in, and its price lowered until the best formula with it
    costs no more than the best without: the cost of that formula is a concave function of the
    price, piecewise straight, so following its tangents ends at the price itself. A reduced cost is not that
    price once there are minimum doses and other choices.
    """
    faults = Faults(brief.file)
    material = matcher(brief.library).one(material, "MATERIAL", faults)
    faults.raise_if_any()
    clock = Clock.of(seconds)
    grounded = ground(build(brief), clock)
    program, first = grounded.program, grounded.first
    if first.status == "infeasible":
        return conflict(brief, program, question="why", clock=clock)
    exact = None if first.values is None else polish(program, first.values)
    if first.values is None or exact is None:
        return _answer(brief, program, (), None, ())
    found, notes = _why(brief, grounded, first.values, material, clock)
    formulas, wrong = judged(brief, (describe(exact.program, brief, exact.values),))
    return _answer(brief, program, formulas, found, (*wrong, *notes))


def _answer(
    brief: Brief, program: Program, formulas: tuple[Formula, ...], found: Why | None, notes: tuple[str, ...]
) -> Answer:
    proven = found is not None and found.finished
    penalties = ("Every figure here counts what falls short of a soft wish.",) if brief.prefer else ()
    return Answer(
        question="why",
        status="solved" if proven else "stopped",
        proven=proven,
        brief=brief,
        aim=brief.aim.measure,
        aim_unit=program.aim.unit,
        title=brief.title,
        library=brief.library.name,
        formulas=formulas,
        why=found,
        notes=(*notes, *penalties, *program.notes),
        cautions=cautions_for(brief),
    )


def _why(
    brief: Brief, grounded: Ground, values: Floats, material: str, clock: Clock
) -> tuple[Why, tuple[str, ...]]:
    """Return what keeps a material out or in, and its prices; what was known when the time was over."""
    library, program = brief.library, grounded.program
    curve = Curve(program, grounded.session, library.arrays.material_index[material], values)
    amount = float(cleaned(program, values)[curve.column])
    told = Why(
        material=material,
        price=library.material[material].price,
        currency=library.currency,
        percent=amount,
        best=program.aim_sign * curve.objective,
        finished=False,
    )
    with suppress(OutOfTime):
        for known in _steps(brief, curve, told, clock):
            told = known
        told = replace(told, finished=grounded.first.status == "solved")
    notes = [] if told.finished else [UNFINISHED]
    if not curve.priced:
        notes.append(NO_PRICE)
    elif curve.cost_rows:
        notes.append(COST_LIMIT)
    if curve.lost:
        notes.append(LOST)
    return told, tuple(notes)


def _steps(brief: Brief, curve: Curve, told: Why, clock: Clock) -> Iterator[Why]:
    """Yield what is known of a material, more each time: forced in or out, what keeps it, its two prices.

    Raises
    ------
    OutOfTime
        If the time is over before the next thing is known.
    """
    present = told.percent >= 0.5 * USED
    forced = curve.without() if present else curve.with_it()
    if forced.values is None:
        told = replace(
            told, kept_out=_kept_out(brief, curve.program, curve.column, clock, present=not present)
        )
    else:
        value = curve.program.aim_sign * forced.objective
        told = replace(told, forced=value, lines=curve.lines(forced.values))
    yield told
    if curve.priced:
        if present or forced.values is not None:
            told = replace(told, below=curve.below())
            yield told
        yield replace(told, above=curve.above())


def _kept_out(
    brief: Brief, program: Program, column: int, clock: Clock, *, present: bool
) -> tuple[Requirement, ...]:
    """Return what cannot hold together with the use of a material, or with its absence.

    Raises
    ------
    OutOfTime
        If the time is over before that is known.
    """
    finder = Finder(brief, program, clock)
    one = np.array([column], dtype=np.intp)
    low, high = (_least(program, column), np.inf) if present else (-np.inf, 0.0)
    finder.demands.session.add_row(SparseRow(one, np.ones(1), low, high))
    members = finder.conflicts()[0]
    return requirements((*members, *finder.taking_part(members)))


def _least(program: Program, column: int) -> float:
    return max(program.library.materials[column].min_if_used, USED)


@dataclass
class Curve:
    """The cost of the best formula as a function of the price of one material; in time, or `OutOfTime` is raised.

    Attributes
    ----------
    session : Session
        Holds the program.
    column : int
        The material.
    values : ndarray, shape (columns,)
        The best formula at today's price.
    lost : bool
        Whether a formula was left out that cannot hold its pH at its own ionic strength.
    """

    program: Program
    session: Session
    column: int
    values: Floats = field(repr=False)
    lost: bool = False

    def __post_init__(self) -> None:
        """Set limits on the cost aside: the price moves them along with the aim."""
        self.objective = float(self.program.form.objective @ self.values)
        if self.program.ratio_aim is not None:
            self.objective /= float(self.program.ratio_aim @ self.values)
        self.price = self.program.library.materials[self.column].price
        self.amount = float(self.values[self.column]) / 100.0
        self.priced = self.program.aim.name == "cost" and self.program.aim_sign > 0
        self.cost_rows = [
            int(row)
            for index, requirement in enumerate(self.program.requirements)
            if requirement.measure == "cost" and requirement.side == "at_most"
            for row in self.program.rows_of[index]
        ]

    def without(self) -> Outcome:
        """Return the best formula without the material."""
        with self.session.trial():
            self.session.set_column_bounds(self.column, 0.0, 0.0)
            return self._best(self.program.form.objective)

    def with_it(self) -> Outcome:
        """Return the best formula with at least the smallest dose of the material."""
        with self.session.trial():
            upper = float(self.program.form.upper[self.column])
            self.session.set_column_bounds(self.column, _least(self.program, self.column), upper)
            return self._best(self.program.form.objective)

    def lines(self, values: Floats, price: float | None = None) -> tuple[Line, ...]:
        """Return the lines of a formula, shape (columns,), at its own ionic strength.

        What is too little to count as used is dust. Its choices, and how much it holds of the material at least, are
        kept. With a price [currency/kg] of the material, limits on the cost are set aside.
        """
        program = self.program
        if program.acid_rows:
            lower, objective = program.form.lower.copy(), program.form.objective
            lower[self.column] = min(values[self.column], _least(program, self.column))
            if price is not None:
                keys = distinct(program.row_requirement[self.cost_rows]).tolist()
                program, objective = released(program, keys), self._at(price)
            program = replace(program, form=replace(program.form, lower=lower, objective=objective))
            exact = polish(program, values)
            if exact is None:
                self.lost = True
                return ()
            values = exact.values
        amounts = cleaned(program, values)[: program.size]
        return lines_of(program.library, np.where(amounts < 0.5 * USED, 0.0, amounts))

    def _best(self, objective: Floats) -> Outcome:
        found = optimum(self.session, self.program, objective, self.program.ratio_aim)
        if found.status == "stopped":
            raise OutOfTime
        return found

    def below(self) -> Takeover | None:
        """Return the price below which another formula is cheaper; None if none is, down to a price of 0."""
        with self.session.trial():
            self.session.release(self.cost_rows)
            return self._followed(0.0)

    def above(self) -> Takeover | None:
        """Return the price above which another formula is cheaper; None if none is, however dear."""
        if self.amount <= 0:
            return None
        with self.session.trial():
            self.session.release(self.cost_rows)
            rival = self._with_least()
            crossing = None if rival is None else self._crossing(rival)
            return None if crossing is None else self._followed(crossing, rival)

    def _with_least(self) -> Floats | None:
        """Return the cheapest formula with as little of the material as there can be; None if none has less."""
        least = np.zeros(self.program.form.columns)
        least[self.column] = 1.0
        smallest = self._best(least)
        if smallest.values is None or smallest.objective >= 100.0 * self.amount - CLEAR:
            return None
        with self.session.trial():
            self.session.set_column_bounds(self.column, 0.0, max(smallest.objective, 0.0) + CLEAR)
            return self._best(self.program.form.objective).values

    def _followed(self, price: float, rival: Floats | None = None) -> Takeover | None:
        """Follow the tangents of cheaper formulas from a price to where the best formula takes over."""
        for _ in range(ROUNDS):
            outcome = self._best(self._at(price))
            if outcome.values is None:
                return None
            own = self.objective + (price - self.price) * self.amount
            if outcome.objective >= own - CLEAR:
                break
            rival = outcome.values
            crossing = self._crossing(rival)
            if crossing is None:
                return None
            price = crossing
        if rival is None:
            return None
        own = self.objective + (price - self.price) * self.amount
        return Takeover(price, own, self.lines(rival, price))

    def _at(self, price: float) -> Floats:
        objective = self.program.form.objective.copy()
        objective[self.column] = price / 100.0
        return objective

    def _crossing(self, rival: Floats) -> float | None:
        """Return the price at which a rival costs what the best formula costs; None for parallel lines."""
        amount = float(rival[self.column]) / 100.0
        at_nothing = float(self._at(0.0) @ rival)
        own = self.objective - self.price * self.amount
        if abs(amount - self.amount) < CLEAR / 100.0:
            return None
        return (at_nothing - own) / (self.amount - amount)
