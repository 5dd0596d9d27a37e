"""Makes an existing formula cheaper, gentler or free of something, and tells every difference."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import replace
from pathlib import PurePath

from optiform.answers.describe.sensible_steps import aim_with_penalties, worth_of
from optiform.answers.design.formulas import HURRIED, designed
from optiform.answers.evaluate.judging import Recheck
from optiform.answers.evaluate.typed_formula import evaluate
from optiform.answers.model.answer import Answer, Formula, Leave
from optiform.answers.model.changes import Changes
from optiform.answers.rework.differences import (
    line_changes,
    measure_changes,
    property_changes,
    substance_changes,
)
from optiform.answers.rework.ladder import ladder
from optiform.answers.rework.levers import levers
from optiform.answers.rework.sliding import best_without_sliding
from optiform.answers.rework.staircase import Staircase, percents_of
from optiform.brief.models import Brief
from optiform.faults import BadInput, Fault, InternalError
from optiform.library.formulas import TypedFormula
from optiform.measures.acidity import charge_curves
from optiform.program import at_strength, build, complete, held_brief
from optiform.search.first_formula import first_of
from optiform.search.fixed_choices import Polished, objective_of, polish, ties_of
from optiform.solver import NO_LIMIT, Clock, OutOfTime, Progress
from optiform.vectors import Floats

REOPENS = (
    "This changes a formula: stability, the challenge test and the safety assessment of the old one do not cover "
    "the new one. Each has to be opened again, however small the change."
)


def reformulate(brief: Brief, *, seconds: float | None = None, progress: Progress | None = None) -> Answer:
    """Return the best version of a brief's baseline, and how it differs from it.

    Parameters and faults are those of `optiform.reformulate`.

    Returns
    -------
    Answer
        The best formula first, the baseline beside it in full, also where it breaks requirements; with
        `changes`: every difference, the staircase, the levers and the ladder. Where the baseline holds everything
        and the gain is below the brief's `worth` no formula is proposed, and `leave` says so.
    """
    if brief.baseline is None:
        allowed = 'a table [baseline] with formula = "today.csv"'
        raise BadInput(
            [Fault(brief.file, "[baseline]", "there is no formula to start from", allowed=allowed)]
        )
    clock, matched = Clock.of(seconds, progress), brief.baseline.matched
    brief = held_brief(brief)
    baseline = baseline_of(brief)
    answer = replace(designed(brief, clock), question="reformulate", baseline=baseline)
    notes = (*_judged(baseline), *_unknown_pH(brief, baseline), *answer.notes)
    cautions = (REOPENS, *answer.cautions)
    answer = replace(answer, notes=notes, cautions=cautions, matched=matched)
    if not answer.formulas:
        return answer
    leave = _leave(brief, baseline, answer)
    if leave is not None:
        return replace(answer, formulas=(), leave=leave)
    clock.say("comparing with the baseline")
    recheck = Recheck()
    changes = changes_of(brief, baseline, answer.formulas[0], recheck, clock)
    hurried = (HURRIED,) if clock.over() and HURRIED not in answer.notes else ()
    return replace(answer, changes=changes, notes=(*hurried, *answer.notes, *recheck.told))


def baseline_of(brief: Brief) -> Formula:
    """Return the baseline of a brief in full: measured as typed, with everything it breaks."""
    if brief.baseline is None:
        raise ValueError("the brief has no baseline")
    lines = brief.baseline.lines
    typed = TypedFormula(
        PurePath(brief.baseline.formula).stem, lines, math.fsum(percent for _, percent in lines)
    )
    return replace(evaluate(typed, brief.library, brief).formulas[0], rank=0)


def changes_of(
    brief: Brief, baseline: Formula, formula: Formula, recheck: Recheck, clock: Clock = NO_LIMIT
) -> Changes:
    """Return everything that differs between a baseline and the best formula, and where the saving comes from.

    A formula on the way that does not hold when it is judged once more is left out, and `recheck` hears of it.
    """
    library = brief.library
    before = library.arrays.amounts((line.material, line.percent) for line in baseline.lines)
    result = polished_of(brief, formula)
    program, after = result.program, result.amounts
    today = aim_with_penalties(program, complete(program, before))
    reached = aim_with_penalties(program, result.values)
    worth = worth_of(brief, program.aim.unit, today)
    saving = None if today is None or reached is None else program.aim_sign * (today - reached)
    kept = amounts = None
    with suppress(OutOfTime):
        unslid = best_without_sliding(brief, program.catalogue, before, clock)
        kept = _held(recheck, "what nothing nearer to its limit brings, a formula", brief, unslid)
        amounts = None if today is None else _by_amounts(brief, today, recheck, clock)
    staircase = Staircase(
        program,
        before,
        result,
        ties_of(program, brief.aim.then),
        brief.aim.tie,
        worth,
        lambda lines: recheck.holds("a step on the way with a formula", brief, lines),
        clock,
    )
    sliding = None if saving is None or kept is None else max(kept.objective - result.objective, 0.0)
    return Changes(
        lines=line_changes(library, before, after),
        measures=measure_changes(program.catalogue, before, after),
        substances=substance_changes(library, before, after),
        properties=property_changes(
            brief, program.catalogue, before, after, (baseline.system, formula.system)
        ),
        saving=saving,
        sliding=sliding,
        choices=None if saving is None or sliding is None else saving - sliding,
        amounts=amounts,
        steps=tuple(staircase.steps()),
        levers=levers(result, brief, recheck, worth, clock),
        ladder=ladder(brief, before, today, recheck, worth=worth, clock=clock),
    )


def _leave(brief: Brief, baseline: Formula, answer: Answer) -> Leave | None:
    """Return that today's formula had better stay, where it holds everything and the best one gains too little."""
    today = baseline.ranked_by
    if baseline.breaks or not answer.proven or not math.isfinite(today):
        return None
    sign = 1.0 if brief.aim.sense == "minimise" else -1.0
    saving = sign * (today - answer.formulas[0].ranked_by)
    worth = worth_of(brief, answer.aim_unit, today)
    return Leave(max(saving, 0.0), worth) if saving < worth else None


def _held(recheck: Recheck, what: str, brief: Brief, found: Polished | None) -> Polished | None:
    """Return a formula that holds when it is judged once more; of another one `recheck` hears."""
    holds = found is not None and recheck.holds(what, brief, percents_of(found.program, found.amounts))
    return found if holds else None


def _by_amounts(brief: Brief, today: float, recheck: Recheck, clock: Clock) -> float | None:
    """Return what today's materials alone would save in other amounts [aim]."""
    assert brief.baseline is not None
    same = brief.baseline.model_copy(update={"at_most_new": 0, "at_most_dropped": 0})
    restricted = brief.model_copy(update={"baseline": same})
    best = first_of(restricted, clock)
    found = _held(recheck, "today's materials in other amounts, a formula", restricted, best)
    sign = 1.0 if brief.aim.sense == "minimise" else -1.0
    return None if found is None else sign * today - found.objective


def polished_of(brief: Brief, formula: Formula) -> Polished:
    """Return the ground for what-ifs on a formula that an answer holds: its program at its own ionic strength."""
    program = build(brief)
    amounts: Floats = brief.library.arrays.amounts((line.material, line.percent) for line in formula.lines)
    if formula.acidity is not None:
        program = at_strength(program, formula.acidity.ionic_strength)
    then = ties_of(program, brief.aim.then)
    values = complete(program, amounts)
    for name, column in program.systems.items():
        values[column] = float(name == formula.system)
    found = polish(program, values, then, brief.aim.tie)
    if found is None:
        raise InternalError("the best formula does not hold what its brief asks")
    return replace(found, values=values, objective=objective_of(found.program, values))


def _unknown_pH(brief: Brief, baseline: Formula) -> tuple[str, ...]:
    """Say that a pH is left to the bench because today's cannot be told."""
    curves, target = charge_curves(brief.library), brief.targets.get("pH")
    index = brief.library.arrays.material_index
    unknown = [line.material for line in baseline.lines if curves.unknown[index[line.material]]]
    if target is None or target.set != "bench" or not unknown:
        return ()
    return (
        f"Today's pH cannot be told, because acid-base data lack for {', '.join(unknown)}: no pH of today is held, "
        "and the one that the brief names is set at the bench.",
    )


def _judged(baseline: Formula) -> tuple[str, ...]:
    """Say what the baseline breaks today."""
    if not baseline.breaks:
        return ("The baseline holds everything that the brief, the library and the law ask.",)
    broken = "; ".join(f"{item.requirement.title} ({item.message})" for item in baseline.breaks)
    count = len(baseline.breaks)
    return (f"The baseline breaks {count} requirement{'s' if count > 1 else ''} today: {broken}.",)
