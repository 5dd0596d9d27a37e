"""Tells which trial is worth making next, in the unit of the aim, or that none is."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.describe.cautions import cautions_for
from optiform.answers.describe.sensible_steps import worth_of
from optiform.answers.trials.planned import Narrowed, NextTrial, PlannedLine, Settledness, WorthOfTrial
from optiform.answers.trials.planning import bench_of, weighing_of
from optiform.answers.trials.region import explore
from optiform.answers.trials.settled import settledness
from optiform.answers.weigh.weighable import weigh
from optiform.brief.models import Aim, Include, Weighing
from optiform.faults import BadInput, Fault
from optiform.learning.conjugate import student_t_quantile
from optiform.learning.worth import draws, knowledge_gradient, leverage_after
from optiform.library.overrides import only
from optiform.mappings import FrozenDict
from optiform.search.bases import on_best_base
from optiform.search.first_formula import first_listed
from optiform.solver import Clock
from optiform.tolerances import ROUNDING
from optiform.trials.learned import LearnedMeasure

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from optiform.brief.models import Brief
    from optiform.search.fixed_choices import Polished
    from optiform.solver import Progress

    Floats = NDArray[np.float64]
    Percents = Mapping[str, float]

CONFIRMED = 3
"""So many trials, those that narrow the most, are confirmed by designing again."""

TRIES = 5
"""So many draws are looked at for one under which something holds everything."""

SURE = 0.9


def next_trial(
    brief: Brief,
    *,
    batch_g: float | None = None,
    seed: int = 1,
    seconds: float | None = None,
    progress: Progress | None = None,
) -> NextTrial:
    """Return the trial that is worth most to a brief with a bench, or that no further one is.

    Parameters
    ----------
    batch_g : float, optional  [g]
        Mass of the trial; that of the brief, or 200 g.
    seed : int
        Of the directions that are looked into, and of the draws.

    Raises
    ------
    BadInput
        If the brief names no bench, asks for nothing that its trials taught, or cannot be met at all.

    Notes
    -----
    A trial narrows what is predicted of the best formula by an amount that its result does not change. What that is
    worth is found by designing again as if it had read what is expected of it.
    """
    clock = Clock.of(seconds, progress)
    question = _Question(on_best_base(brief, clock), batch_g, seed, clock)
    return question.for_limits() if question.limited else question.for_the_aim()


@dataclass(eq=False)
class _Question:
    """A brief with what its bench taught of its limits and of its aim."""

    brief: Brief
    batch_g: float | None
    seed: int
    clock: Clock
    limited: tuple[LearnedMeasure, ...] = field(init=False)
    aim: LearnedMeasure | None = field(init=False)

    def __post_init__(self) -> None:
        """Find what the brief asks of its bench."""
        brief = self.brief
        if not brief.bench:
            raise BadInput([Fault(brief.file, "bench", "the brief names no bench", 'bench = "bench"')])
        taught = {one.name: one for one in brief.known.taught if isinstance(one, LearnedMeasure)}
        sure = {name for name, target in brief.targets.items() if target.sure is not None}
        self.limited = tuple(one for name, one in taught.items() if name in sure)
        self.aim = taught.get(brief.aim.measure)
        if not self.limited and self.aim is None:
            message = f"nothing that the bench taught ({', '.join(taught) or 'nothing yet'}) is asked for with `sure`"
            allowed = "viscosity = { at_least = 3000, sure = 0.9 }, or such a measure as aim"
            raise BadInput([Fault(brief.file, "[targets]", message, allowed)])

    def for_limits(self) -> NextTrial:
        """Return the trial that saves most of what being sure costs."""
        self.clock.say("designing as sure as asked")
        now = first_listed(self.brief, self.clock).polished
        here = now or first_listed(self._likeliest(), self.clock).polished
        if here is None:
            raise self._impossible()
        middle, objective = _percents(here, here.amounts), None if now is None else now.objective
        worth: list[WorthOfTrial] = []
        candidates = self._candidates(middle)
        for place in np.argsort(-self._narrowing(middle, [held for held, _ in candidates]), kind="stable"):
            lines = candidates[place][1]()
            if lines is None or any(one.lines == lines for one in worth):
                continue
            self.clock.say("designing again as if a trial had been read")
            worth.append(self._worth(lines, middle, objective))
            if len(worth) == CONFIRMED:
                break
        lines = self._may_be_best()
        if lines is not None:
            worth = [one for one in worth if one.lines != lines]
            worth.append(replace(self._worth(lines, middle, objective), may_be_best=True))
        worth.sort(key=lambda one: -(one.gain or 0.0))
        settled = None
        if now is not None:
            self.clock.say("drawing what may be true")
            settled = settledness(
                self._likeliest(), self.limited, middle, now.objective, self.seed, self.clock
            )
        return self._answer(worth, here, objective, settled)

    def _may_be_best(self) -> tuple[PlannedLine, ...] | None:
        """Return the best formula if coefficients are as drawn once from what is known, or None where nothing holds.

        What narrows most says nothing of whether another structure is better; what may be best is tried as often as it
        is likely to be (Thompson, Biometrika 25 (1933) 285; from memory), beyond what was tried too. Each trial that is
        made draws anew.
        """
        likeliest, made = self._likeliest(tried="beyond"), len(bench_of(self.brief).trials)
        for tried in range(TRIES):
            drawn = {
                one.name: replace(one, knowledge=replace(one.knowledge, mean=mean))
                for place, one in enumerate(self.limited)
                for mean in draws(one.knowledge, 1, (self.seed, made, tried, place))
            }
            taught = tuple(drawn.get(one.name, one) for one in likeliest.known.taught)
            known = replace(likeliest.known, taught=taught)
            found = first_listed(likeliest.model_copy(update={"known": known}), self.clock).polished
            weighing = weighing_of(self.brief, self.batch_g)
            lines = (
                None if found is None else _Weighed(found, found.values, weighing, self.clock, near=False)()
            )
            if lines is not None:
                return lines
        return None

    def for_the_aim(self) -> NextTrial:
        """Return the trial that may raise a learned aim most: by its knowledge gradient over what may be made."""
        found = first_listed(self.brief, self.clock).polished
        if found is None or self.aim is None:
            raise self._impossible()
        middle = _percents(found, found.amounts)
        candidates = self._candidates(middle)
        rows = np.array([self.aim.design_row(held) for held, _ in candidates])
        choices = [middle, *(held for held, _ in candidates if self._holds(held))]
        among = np.array([self.aim.design_row(held) for held in choices])
        sign = 1.0 if self.brief.aim.sense == "maximise" else -1.0
        known = replace(self.aim.knowledge, mean=sign * self.aim.knowledge.mean)
        gains = np.array([knowledge_gradient(known, among, row) for row in rows])
        worth: list[WorthOfTrial] = []
        for place in np.argsort(-gains, kind="stable"):
            lines = candidates[place][1]()
            if lines is not None and all(one.lines != lines for one in worth):
                worth.append(WorthOfTrial(lines, float(gains[place]), None, ()))
            if len(worth) == CONFIRMED:
                break
        return self._answer(worth, found, found.objective, None)

    def _holds(self, held: Percents) -> bool:
        """Tell whether a formula holds the brief's limits on what was learned, at their likeliest values."""
        for one in self.brief.known.taught:
            target = self.brief.targets.get(one.name)
            if target is None or not isinstance(one, LearnedMeasure):
                continue
            value = one.read(float(one.design_row(held) @ one.knowledge.mean))
            below = target.at_least is not None and value < target.at_least
            if below or (target.at_most is not None and value > target.at_most):
                return False
        return True

    def _impossible(self) -> BadInput:
        return BadInput([Fault(self.brief.file, "", "the brief has no formula", "`optiform check` says why")])

    def _answer(
        self,
        worth: Sequence[WorthOfTrial],
        here: Polished,
        objective: float | None,
        settled: Settledness | None,
    ) -> NextTrial:
        allowance = worth_of(self.brief, here.program.aim.unit, objective)
        gain = worth[0].gain if worth else None
        return NextTrial(
            title=self.brief.title,
            library=self.brief.library.name,
            aim=self.brief.aim.measure,
            unit=here.program.aim.unit,
            met=objective is not None,
            value=here.program.aim.value(here.amounts),
            allowance=allowance,
            stop=objective is not None and (gain is None or gain < allowance),
            trials=tuple(worth),
            settled=settled,
            made=len(bench_of(self.brief).trials),
            cautions=cautions_for(self.brief),
        )

    def _likeliest(self, **fields: str) -> Brief:
        """Return the brief content with the likeliest value of what was learned; `fields` change the same targets."""
        targets = {
            name: target.model_copy(update={"sure": None, **fields}) if target.sure is not None else target
            for name, target in self.brief.targets.items()
        }
        return self.brief.model_copy(update={"targets": FrozenDict(targets)})

    def _bare(self, middle: Percents) -> Brief:
        """Return the brief with just the materials of one formula, all used, and no limit on what was learned."""
        taught = {one.name for one in self.brief.known.taught}
        targets = {
            name: target
            for name, target in self.brief.targets.items()
            if name not in taught and target.reading is None
        }
        library = only(self.brief.library, middle)
        stated = {wish.material for wish in self.brief.include}
        used = tuple(Include(material=name) for name in middle if name not in stated)
        return self.brief.model_copy(
            update={
                "targets": FrozenDict(targets),
                "aim": Aim(),
                "library": library,
                "include": (*self.brief.include, *used),
            }
        )

    def _candidates(self, middle: Percents) -> list[tuple[Percents, _Weighed]]:
        """Return what could be tried of the same materials, each with what weighs it."""
        self.clock.say("looking for what could be tried")
        polished = first_listed(self._bare(middle), self.clock).polished
        if polished is None:
            raise self._impossible()
        weighing = weighing_of(self.brief, self.batch_g)
        return [
            (
                _percents(polished, columns),
                _Weighed(polished, columns, weighing, self.clock),
            )
            for columns in explore(polished, self.seed, self.clock).candidates
        ]

    def _narrowing(self, middle: Percents, candidates: Sequence[Percents]) -> Floats:
        """Return by which part each candidate narrows what is predicted of a formula, over all limits, shape (c,)."""
        total = np.zeros(len(candidates))
        for measure in self.limited:
            here, known = measure.design_row(middle), measure.knowledge
            before = 1.0 + known.leverage(here)
            after = [1.0 + leverage_after(known, here, measure.design_row(held)) for held in candidates]
            total += 1.0 - np.sqrt(np.array(after) / before)
        return total

    def _worth(
        self, lines: tuple[PlannedLine, ...], middle: Percents, objective: float | None
    ) -> WorthOfTrial:
        """Return what a trial is worth, by designing again as if it had read what is expected of it."""
        held = {line.material: line.percent for line in lines}
        after = {measure.name: _read_as_expected(measure, held) for measure in self.limited}
        taught = tuple(after.get(one.name, one) for one in self.brief.known.taught)
        known = replace(self.brief.known, taught=taught)
        then = first_listed(self.brief.model_copy(update={"known": known}), self.clock).polished
        gain = None if then is None or objective is None else max(0.0, objective - then.objective)
        narrowed = tuple(
            Narrowed(
                measure.name, measure.unit, *_ends(measure, middle), *_ends(after[measure.name], middle)[1:]
            )
            for measure in self.limited
        )
        return WorthOfTrial(lines, gain, then is not None if objective is None else None, narrowed)


@dataclass(frozen=True, eq=False)
class _Weighed:
    """Weighs a candidate when it is asked for."""

    polished: Polished
    columns: Floats
    weighing: Weighing
    clock: Clock
    near: bool = True

    def __call__(self) -> tuple[PlannedLine, ...] | None:
        """Return its lines in whole steps of the balance, or None where there are none."""
        found = weigh(self.polished.program, self.columns, self.weighing, near=self.near, clock=self.clock)
        if found is None:
            return None
        return tuple(PlannedLine(line.material, line.name, line.grams, line.percent) for line in found.lines)


def _percents(polished: Polished, columns: Floats) -> dict[str, float]:
    """Return % w/w by material id of what a formula holds."""
    materials = polished.program.library.materials
    return {materials[i].id: float(columns[i]) for i in range(polished.program.size) if columns[i] > ROUNDING}


def _read_as_expected(measure: LearnedMeasure, percents: Percents) -> LearnedMeasure:
    """Return a measure after one more trial that read what was expected of it."""
    row = measure.design_row(percents)
    known = measure.knowledge.updated(row[None], np.array([float(row @ measure.knowledge.mean)]))
    return replace(measure, knowledge=known, rows=np.vstack([measure.rows, row]))


def _ends(measure: LearnedMeasure, percents: Percents) -> tuple[float, float, float]:
    """Return what is predicted of a formula, from and to nine times in ten, as a meter shows it."""
    row, known = measure.design_row(percents), measure.knowledge
    value, scale = known.predicted(row)
    half = student_t_quantile((1 + SURE) / 2, known.degrees_of_freedom) * scale
    return measure.read(value), measure.read(value - half), measure.read(value + half)
