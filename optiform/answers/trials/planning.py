"""Plans the fewest trials that teach most: weighable formulas, spread by D-optimal exchange."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.describe.cautions import cautions_for
from optiform.answers.trials.planned import Planned, PlannedLine, PlannedTrial, Prediction, Varied
from optiform.answers.trials.region import explore
from optiform.answers.weigh.weighable import weigh
from optiform.brief.models import Weighing
from optiform.faults import BadInput, Fault
from optiform.learning.conjugate import student_t_quantile
from optiform.learning.designs import d_optimal
from optiform.learning.worth import leverage_after
from optiform.library import load_library
from optiform.search.bases import on_best_base
from optiform.search.first_formula import first_listed
from optiform.solver import Clock
from optiform.tolerances import ROUNDING
from optiform.trials.learned import knowledge_for, with_square
from optiform.trials.models import STRUCTURAL, Bench
from optiform.trials.reading import load_bench

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from optiform.answers.trials.region import Explored
    from optiform.brief.models import Brief
    from optiform.learning.conjugate import NormalInverseGamma
    from optiform.program import Program
    from optiform.solver import Progress
    from optiform.trials.learned import Beforehand

    Floats = NDArray[np.float64]

SMALL_BATCH = Weighing(batch_g=200.0, balance_g=0.01)
"""A trial on the bench, where a brief names no batch."""

SPARE, LEAST = 3, 8
"""Trials beyond one for each material that matters, and how many at least."""

PER_EVENING, EVENINGS = 4, 3
"""Trials that one person makes in an evening; a full plan takes three at least, so that the middle is made thrice."""

NEAR_AN_END = 0.8
"""A material stands near an end of its range in the outer tenth of it (1 is the end, 0 the middle)."""

NOT_THE_MIDDLE = (
    "The balance cannot weigh a wash in the middle: the trial nearest to it is made every evening instead."
)

TOLD_ENDS = 2
SURE = 0.9


def plan_trials(
    brief: Brief,
    *,
    trials: int | None = None,
    bench: str | Path | None = None,
    measure: str = "viscosity",
    batch_g: float | None = None,
    seed: int = 1,
    seconds: float | None = None,
    progress: Progress | None = None,
) -> Planned:
    """Return the trials that teach most of one measure, inside a brief and at the structure of its best formula.

    Parameters
    ----------
    trials : int, optional
        How many; by default three more than materials whose range is expected to move the measure by more than one
        trial differs from the next, at least eight. The middle is made once in every block.
    bench : path, optional
        A folder with earlier trials: what they taught counts. By default that of the brief, if it names one.
    batch_g : float, optional  [g]
        Mass of each trial; that of the brief, or 200 g.
    seed : int
        Of the directions that are looked into, and of the order of the trials.

    Raises
    ------
    BadInput
        If the brief cannot be met, nothing in it can vary, or the bench cannot be used.
    """
    clock = Clock.of(seconds, progress)
    held = bench_of(brief, bench)
    brief = on_best_base(brief, clock)
    clock.say("looking for the best formula")
    polished = first_listed(brief, clock).polished
    if polished is None:
        raise BadInput(
            [Fault(brief.file, "", "the brief has no formula to vary", "`optiform check` says why")]
        )
    clock.say("looking for what can vary")
    explored = explore(polished, seed, clock)
    weighing = weighing_of(brief, batch_g)
    plan = _Plan(brief, polished.program, explored, weighing, held, measure)
    if not plan.moving.any():
        raise BadInput(
            [
                Fault(
                    brief.file,
                    "",
                    "nothing in the brief can vary by two steps of the balance",
                    "wider limits",
                )
            ]
        )
    count = trials if trials is not None else max(LEAST, int(plan.moving.sum()) + SPARE)
    return plan.told(count, seed, clock)


def bench_of(brief: Brief, folder: str | Path | None = None) -> Bench:
    """Return the bench in a folder, or that of a brief; an empty one where neither is named.

    Its trials may hold materials that are not on the brief's shelf.
    """
    where = folder or brief.bench
    if not where:
        return Bench("")
    library = brief.library if brief.shelf is None else load_library(brief.library.folder)
    return load_bench(where, library)


def weighing_of(brief: Brief, batch_g: float | None) -> Weighing:
    """Return the batch and the balance of a trial: as the brief says, or 200 g on a balance of 0.01 g."""
    stated = brief.weighing or SMALL_BATCH
    return stated if batch_g is None else stated.model_copy(update={"batch_g": batch_g})


@dataclass(eq=False)
class _Plan:
    """Candidates of one structure, and what is known before any of them is made."""

    brief: Brief
    program: Program
    explored: Explored
    weighing: Weighing
    bench: Bench
    measure: str
    materials: tuple[str, ...] = field(init=False)
    before: Beforehand = field(init=False)
    moving: NDArray[np.bool_] = field(init=False)

    def __post_init__(self) -> None:
        """Find what varies, and what the library and earlier trials say of the measure."""
        library = self.program.library
        step = 100.0 * self.weighing.balance_g / self.weighing.batch_g
        water = library.arrays.material_index[library.water.id]
        self.moving = (self.explored.upper - self.explored.lower) > 2.0 * step
        self.moving[water] = False
        used = np.flatnonzero(self.explored.upper > 0)
        self.materials = tuple(library.materials[i].id for i in used)
        base = frozenset(
            name for name in self.materials if STRUCTURAL.intersection(library.material[name].functions)
        )
        self.before = knowledge_for(
            self.bench, library, self.measure, base, self.materials, self._amounts(self.explored.candidates)
        )

    @property
    def known(self) -> NormalInverseGamma:
        """Return what is known of the coefficients before any of the trials is made."""
        return self.before.knowledge

    def _amounts(self, columns: Floats) -> Floats:
        """Return the amounts of the materials that are used, shape (c, p)  [% w/w]."""
        index = self.program.library.arrays.material_index
        found: Floats = columns[:, [index[name] for name in self.materials]]
        return found

    def _rows(self, columns: Floats) -> Floats:
        """Return the rows of a design, shape (c, coefficients)."""
        return with_square(self._amounts(columns), self.before.electrolyte)

    def told(self, count: int, seed: int, clock: Clock) -> Planned:
        """Choose the trials, weigh them, and put them in an order."""
        clock.say("choosing the trials that teach most")
        blocks = max(-(-count // PER_EVENING), EVENINGS if count >= LEAST else 1)
        repeats = blocks if count > blocks + 1 else 0
        chosen = self._chosen(count - repeats, seed, clock)
        middle = self._weighed(self.explored.centre, clock) if repeats else None
        again = middle or (self._nearest_the_middle(chosen) if repeats else None)
        centre = self._rows(self.explored.centre[None])[0]
        random = np.random.default_rng(seed)
        order = random.permutation(len(chosen))
        planned: list[PlannedTrial] = []
        for block, places in enumerate(np.array_split(order, blocks), start=1):
            made = [(chosen[place], False) for place in places]
            if again is not None:
                made.insert(int(random.integers(0, len(made) + 1)), (again, True))
            for lines, repeat in made:
                planned.append(self._trial(str(self._first + len(planned)), block, lines, repeat, centre))
        answer = self._answer(tuple(planned), centre)
        if again is middle:
            return answer
        return replace(answer, middle=False, notes=(NOT_THE_MIDDLE,))

    def _nearest_the_middle(self, chosen: list[tuple[PlannedLine, ...]]) -> tuple[PlannedLine, ...]:
        """Return the trial whose expected reading tells most of that of the middle."""
        centre = self._rows(self.explored.centre[None])[0]
        return min(chosen, key=lambda lines: self.known.leverage(self._row(lines) - centre))

    @property
    def _first(self) -> int:
        numbers = [int(name) for name in self.bench.trial if name.isdecimal()]
        return max(numbers, default=len(self.bench.trials)) + 1

    def _chosen(self, count: int, seed: int, clock: Clock) -> list[tuple[PlannedLine, ...]]:
        """Return the lines of the candidates that teach most; what the balance cannot weigh gives way to the next."""
        left = self.explored.candidates
        weighed: dict[bytes, tuple[PlannedLine, ...] | None] = {}
        while len(left):
            design = d_optimal(self._rows(left), count, self.known.precision, seed=seed)
            for place in dict.fromkeys(design.chosen):
                key = left[place].tobytes()
                if key not in weighed:
                    weighed[key] = self._weighed(left[place], clock)
            found = [weighed[left[place].tobytes()] for place in design.chosen]
            if all(lines is not None for lines in found):
                return [lines for lines in found if lines is not None]
            left = np.array([row for row in left if weighed.get(row.tobytes(), ()) is not None])
        raise BadInput([self._unweighable()])

    def _unweighable(self) -> Fault:
        """Return why no trial can be weighed: by the material of which it takes least."""
        weighing, most = self.weighing, self.explored.upper
        lightest = min(np.flatnonzero(most > 0), key=lambda place: most[place])
        least_g = weighing.balance_g / 2.0 / (weighing.error_percent / 100.0)
        name, enough = self.program.library.materials[lightest].name, 100.0 * least_g / float(most[lightest])
        message = f"no trial can be weighed in {weighing.batch_g:g} g on this balance; {name} takes the least"
        allowed = f"{np.ceil(enough / 10.0) * 10.0:g} g or more (--batch), or a finer balance"
        return Fault(self.brief.file, "[weighing]", message, allowed)

    def _weighed(self, columns: Floats, clock: Clock) -> tuple[PlannedLine, ...] | None:
        found = weigh(self.program, columns, self.weighing, near=True, clock=clock)
        if found is None:
            return None
        return tuple(PlannedLine(line.material, line.name, line.grams, line.percent) for line in found.lines)

    def _row(self, lines: tuple[PlannedLine, ...]) -> Floats:
        held = {line.material: line.percent for line in lines}
        amounts = np.array([[held.get(name, 0.0) for name in self.materials]])
        found: Floats = with_square(amounts, self.before.electrolyte)[0]
        return found

    def _trial(
        self, name: str, block: int, lines: tuple[PlannedLine, ...], repeat: bool, centre: Floats
    ) -> PlannedTrial:
        index = self.program.library.arrays.material_index
        low, high = (
            np.array([ends[index[name]] for name in self.materials])
            for ends in (self.explored.lower, self.explored.upper)
        )
        row = self._row(lines)
        amounts = row[: len(low)]
        off = np.where(high > low, (2.0 * amounts - low - high) / np.maximum(high - low, ROUNDING), 0.0)
        weight = np.abs(amounts - centre[: len(low)]) * self._deviations
        order = [
            k for k in np.argsort(-weight, kind="stable") if abs(off[k]) >= NEAR_AN_END and self._moves(k)
        ]
        names = [self.materials[k] for k in order[: 0 if repeat else TOLD_ENDS]]
        ends = tuple(
            (name, self._name(name), "most" if off[self.materials.index(name)] > 0 else "least")
            for name in names
        )
        before, after = self.known.leverage(centre), leverage_after(self.known, centre, row)
        return PlannedTrial(
            name, block, repeat, ends, lines, 1.0 - float(np.sqrt((1 + after) / (1 + before)))
        )

    @property
    def _deviations(self) -> Floats:
        """Return by how much 1 % of each material may move the measure, one standard deviation, shape (p,)."""
        found: Floats = np.sqrt(self.known.residual_variance * np.diag(self.known.inverse))
        return found[: len(self.materials)]

    @property
    def matter(self) -> int:
        """Return how many materials may move the measure by more than one trial differs from the next."""
        amounts = self._amounts(self.explored.candidates)
        effect = np.ptp(amounts, axis=0) * self._deviations
        moves = np.array([self._moves(k) for k in range(len(self.materials))])
        return int(np.sum(moves & (effect > np.sqrt(self.known.residual_variance))))

    def _moves(self, term: int) -> bool:
        return bool(self.moving[self.program.library.arrays.material_index[self.materials[term]]])

    def _name(self, material: str) -> str:
        return self.program.library.material[material].name

    def _answer(self, trials: tuple[PlannedTrial, ...], centre: Floats) -> Planned:
        library, index = self.program.library, self.program.library.arrays.material_index
        ranges = [
            (self.moving[index[name]], Varied(name, self._name(name), *map(float, (
                self.explored.lower[index[name]], self.explored.upper[index[name]]
            ))))
            for name in self.materials
            if name != library.water.id
        ]  # fmt: skip
        functions = {name: library.material[name].functions for name in self.materials}
        return Planned(
            title=self.brief.title,
            library=library.name,
            brief=Path(self.brief.file).name,
            measure=self.measure,
            unit="mPa.s" if self.measure == "viscosity" else "",
            batch_g=self.weighing.batch_g,
            base=tuple(self._name(name) for name, has in functions.items() if STRUCTURAL.intersection(has)),
            varied=tuple(one for moves, one in ranges if moves),
            kept=tuple(one for moves, one in ranges if not moves),
            trials=trials,
            predicted=self._predicted(trials, centre) if self.before.anything else None,
            earlier=self.before.trials,
            cautions=cautions_for(self.brief),
        )

    def _predicted(self, trials: tuple[PlannedTrial, ...], centre: Floats) -> Prediction:
        """Return what is predicted of the middle now, and how narrow it will be: that depends on no reading."""
        rows = np.array([self._row(trial.lines) for trial in trials])
        value, _ = self.known.predicted(centre)
        low, high = self.known.interval(centre, SURE)
        precision = self.known.precision + rows.T @ rows
        leverage = float(centre @ np.linalg.solve(precision, centre))
        freedom = self.known.degrees_of_freedom + len(rows)
        half = student_t_quantile((1 + SURE) / 2, freedom)
        half *= float(np.sqrt(self.known.residual_variance * (1.0 + leverage)))
        ends = (value, low, high, value - half, value + half)
        return Prediction(*(10.0**end if self.measure == "viscosity" else end for end in ends))
