"""Lists the best formulas for a brief, each described and priced."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass, replace

from optiform.answers.describe.cautions import cautions_for
from optiform.answers.describe.sensible_steps import INDEX
from optiform.answers.describe.traces import apart
from optiform.answers.design.background import BackgroundDescriptions, Description, at_own_choices, priced
from optiform.answers.evaluate.judging import judged
from optiform.answers.model.answer import Answer, Formula, MarginCost, Wish
from optiform.answers.price.allowances import with_roles
from optiform.answers.price.margin_cost import margin_cost
from optiform.answers.price.step_costs import StepCosts
from optiform.answers.weigh.unweighable import with_weights
from optiform.brief.models import Brief
from optiform.program import Program, build
from optiform.search.bases import on_best_base
from optiform.search.fixed_choices import ordered, rough, ties_of
from optiform.search.narrow.screening import screen
from optiform.search.narrow.small_program import SmallProgram, on_small_program
from optiform.search.ranking import Candidate
from optiform.search.ties import spread_of
from optiform.solver import Clock, Outcome, OutOfTime, Progress
from optiform.tolerances import ROUNDING

HURRIED = "The time ran out before every figure was worked out: some are left out."
NEAR = 0.02
"""A formula within this part of the best aim is a near-tie worth naming."""
WIDER_RANKINGS = 4
"""So often a ranking is asked for more structures in place of those that were left out."""


def design(
    brief: Brief,
    *,
    seconds: float | None = None,
    in_full: bool = False,
    first_alone: bool = False,
    progress: Progress | None = None,
) -> Answer:
    """Rank the best formulas of a brief, proven and explained; or say why there is none.

    Parameters and faults are those of `optiform.design`.

    Parameters
    ----------
    in_full : bool
        Also tell what each wish costs when the whole formula may change, and which materials the
        first formula could do without: two dozen further solves.
    first_alone : bool
        Price the limits of the first formula alone, and weigh it alone: what a reader sees at one look. How far its
        amounts may move, other grades, and ways out where no balance can weigh it, are left out as well.
    """
    return designed(brief, Clock.of(seconds, progress), in_full=in_full, first_alone=first_alone)


def designed(brief: Brief, clock: Clock, *, in_full: bool = False, first_alone: bool = False) -> Answer:
    """Answer `design` within the time of a clock that already runs."""
    brief = on_best_base(brief, clock)
    if brief.certainty is not None:
        from optiform.answers.certainty.every_lot import sure

        return sure(brief, lambda asked: _answered(asked, clock, in_full), clock)
    return _answered(brief, clock, in_full, first_alone)


def _answered(brief: Brief, clock: Clock, in_full: bool, first_alone: bool = False) -> Answer:
    """Rank and explain a brief whose limits hold at the typical composition, or for every lot.

    A structure that is left out after the ranking makes room for the next one: the ranking is then asked for more.
    """
    wanted = brief.ranked.how_many
    answer, left_out = _ranked(brief, clock, in_full, first_alone)
    for _ in range(WIDER_RANKINGS):
        if not left_out or len(answer.formulas) >= wanted or clock.over():
            break
        how_many = wanted + 2 * left_out
        asked = brief.model_copy(update={"ranked": brief.ranked.model_copy(update={"how_many": how_many})})
        answer, left_out = _ranked(asked, clock, in_full, first_alone)
    return replace(answer, brief=brief, formulas=answer.formulas[:wanted])


@dataclass(frozen=True, eq=False)
class _Ranking:
    """What a search found, described; `near` is the program in which the formulas were solved again."""

    program: Program
    near: Program
    exact: tuple[Description, ...]
    dropped: int
    end: Outcome | None
    proven: bool
    margin: MarginCost | None
    stated: Program

    @property
    def stopped(self) -> bool:
        """Tell whether the search ended before the list was whole, or before one formula held."""
        return (self.end is not None and self.end.status == "stopped") or (
            self.dropped > 0 and not self.exact
        )


def _search(brief: Brief, clock: Clock, in_full: bool, first_alone: bool) -> _Ranking:
    """Rank the structures of a brief, and describe each on a second thread meanwhile."""
    stated = build(brief)
    allowance = spread_of(brief, stated)
    said: list[Future[Description | None]] = []
    end: Outcome | None = None
    proven = True
    with BackgroundDescriptions(brief, clock, first_alone) as telling:
        foresee = None if in_full or allowance else telling.foresee
        screened = screen(stated, brief.ranked.how_many, allowance, clock, foresee)
        program = screened.program
        ranking = screened.ranking(brief.ranked.how_many, ties_of(program, brief.aim.then), brief.aim.tie)
        near = SmallProgram(brief, program, program)
        if not in_full:
            near, ranking = on_small_program(brief, program, ranking, telling.foresaw(program))
        for found in ranking:
            if not isinstance(found, Candidate):
                end = found
                continue
            clock.say(f"formula {len(said) + 1} of {brief.ranked.how_many} found")
            proven = proven and found.proven
            said.append(telling.of(near, found, len(said)))
        clock.say("pricing the limits of each formula")
        exact = tuple(one for one in (future.result() for future in said) if one is not None)
    margin = margin_cost(brief, screened, clock) if exact else None
    return _Ranking(program, near.program, exact, len(said) - len(exact), end, proven, margin, stated)


def _ranked(brief: Brief, clock: Clock, in_full: bool, first_alone: bool) -> tuple[Answer, int]:
    """Rank and explain as many structures as a brief asks for; also return how many of them were left out.

    Where the ranking has no further structure, nothing counts as left out.
    """
    found = _search(brief, clock, in_full, first_alone)
    program, exact, stopped = found.program, [*found.exact], found.stopped
    polished = [one.polished for one in exact]
    if not polished and not stopped:
        from optiform.answers.conflict.report import conflict

        return conflict(brief, program, clock=clock, stated=found.stated), 0
    order = ordered(polished, ties_of(found.near, brief.aim.then), brief.aim.tie)
    first = at_own_choices(exact[order[0]], brief, program, clock) if exact and not stopped else None
    if first is not None:
        exact[order[0]] = priced(first, clock, at_one_look=first_alone)
    formulas = tuple(
        _placed(exact[k], place + 1, clock, at_one_look=first_alone) for place, k in enumerate(order)
    )
    formulas, twins = apart(brief, formulas)
    formulas, wrong = judged(brief, _near_ties(formulas, program))
    if wrong and first_alone:  # another formula may be the first now
        return _ranked(brief, clock, in_full, first_alone=False)
    costs: tuple[Wish, ...] = ()
    if in_full and formulas and not stopped:
        clock.say("looking for what the first formula could do without")
        best = exact[order[0]].polished
        formulas = (with_roles(formulas[0], best, clock), *formulas[1:])
        costs = tuple(StepCosts(brief, program, best, clock).wishes())
    hurried = clock.over() or not all(one.in_full for one in exact)
    answer = Answer(
        question="design",
        status="stopped" if stopped else "solved",
        proven=found.proven and not stopped,
        brief=brief,
        aim=brief.aim.measure,
        aim_unit=program.aim.unit,
        title=brief.title,
        library=brief.library.name,
        formulas=formulas,
        wishes=costs,
        margin=None if stopped else found.margin,
        notes=(
            *((HURRIED,) if hurried else ()),
            *wrong,
            *_ranking_notes(brief, found, order, len(formulas), len(twins) + len(wrong)),
            *twins,
            *_within(program, found.exact),
            *program.notes,
            *brief.notes,
        ),
        cautions=cautions_for(brief),
    )
    return answer, found.dropped + len(wrong) if found.end is None else 0


def _placed(said: Description, place: int, clock: Clock, *, at_one_look: bool) -> Formula:
    """Return a formula at its place; the first one priced and, if no balance can weigh it, with the ways out."""
    if place == 1 and said.weighed is None:
        said = priced(said, clock, at_one_look=at_one_look)
    weighed, polished = said.weighed or said.formula, said.polished
    if place == 1 and weighed.weighable is None and said.in_full and not at_one_look:
        with suppress(OutOfTime):
            weighed = with_weights(said.formula, said.brief, polished.program, polished.values, clock=clock)
    return replace(weighed, rank=place)


def _within(program: Program, exact: Sequence[Description]) -> tuple[str, ...]:
    """Say how closely a ranking is proven in which the search bracketed a shortfall."""
    if not rough(program):
        return ()
    missed = max(
        (one.polished.objective - one.expected for one in exact if rough(one.polished.program)), default=0.0
    )
    names = ", ".join(wish.measure.name for wish in program.preferences if not wish.exact)
    figure = f"{max(missed, 0.0):.4f}" if missed >= 0.5 * 0.0001 else "0.0001"
    return (
        f"The price of falling short of {names} is no straight line, because its base may move: the ranking is proven "
        f"to within {figure} {program.aim.unit}; each formula shown pays exactly for what it is short of.",
    )


def _near_ties(formulas: tuple[Formula, ...], program: Program) -> tuple[Formula, ...]:
    """Say of formulas hardly worse than the first what they have going for them."""
    if not formulas:
        return formulas
    best = formulas[0]
    unit = program.aim.unit
    told = [best]
    for formula in formulas[1:]:
        gap = abs(formula.ranked_by - best.ranked_by)
        fewer = len(best.lines) - len(formula.lines)
        note = ""
        if gap <= NEAR * max(abs(best.ranked_by), ROUNDING):
            gain = f", {fewer} ingredient{'s' if fewer > 1 else ''} fewer" if fewer > 0 else ""
            digits = 0 if unit == INDEX else 2
            least = 10.0**-digits
            distance = f"{gap:.{digits}f}" if gap >= least / 2 else f"less than {least:g}"
            note = f"A near-tie: {distance} {unit} from the first{gain}."
        told.append(replace(formula, notes=(note, *formula.notes)) if note else formula)
    return tuple(told)


def _ranking_notes(brief: Brief, found: _Ranking, order: list[int], listed: int, told: int) -> list[str]:
    """Return what must be said of the ranking as a whole; `told` formulas were left out with a word of their own."""
    notes = []
    end, dropped = found.end, found.dropped
    if end is not None and end.status == "stopped":
        notes.append("Stopped before the search was finished: this is the best so far, not proven.")
    elif end is not None and listed + dropped + told < brief.ranked.how_many:
        count = "is only 1 structure" if listed == 1 else f"are only {listed} structures"
        differing = ", ".join(brief.ranked.differ_in)
        notes.append(f"There {count} that the brief allows; structures differ by their {differing}.")
    if dropped:
        notes.append(f"Left out: {dropped} that cannot hold the pH window at their own ionic strength.")
    if found.program.acid_rows:
        strength = found.program.catalogue.conditions.ionic_strength
        proof = f"The ranking is proven at one ionic strength, {strength:.2f} mol/kg"
        notes.append(f"{proof}; each formula was then solved at its own.")
        if order != sorted(order):
            notes.append("Solving each formula at its own ionic strength changed the order.")
    return notes
