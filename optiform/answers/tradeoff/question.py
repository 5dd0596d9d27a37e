"""Answers how good one measure can be at each bound on another."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

from optiform.answers.describe.cautions import cautions_for
from optiform.answers.describe.formula import structure_of
from optiform.answers.describe.sensible_steps import worth_of
from optiform.answers.evaluate.judging import AGAIN, Recheck
from optiform.answers.model.answer import AnswerStatus, Conflict
from optiform.answers.tradeoff.axes import Axes, Sense, axes_of, measure_named, sense_of, side_of
from optiform.answers.tradeoff.envelope import WITHIN, Envelope, EnvelopeSearch
from optiform.answers.tradeoff.front import Change, Curve, Knot, Stretch, Third, TradeOff
from optiform.answers.tradeoff.knots import Knots
from optiform.answers.tradeoff.pieces import Piece
from optiform.answers.tradeoff.shape import afforded, free_parts, knees, standing
from optiform.brief.models import Brief, Target
from optiform.faults import BadInput, Fault, Faults
from optiform.measures import Measure, Side
from optiform.search.bases import on_best_base
from optiform.solver import Clock
from optiform.tolerances import EQUAL, ROUNDING

WITHOUT_AMOUNTS = (
    "The time ran out before every formula along the curve was solved at its own ionic strength: the amounts of those "
    "are left out."
)


def tradeoff(
    brief: Brief,
    of: str,
    against: str,
    *,
    third: tuple[str, Sequence[float]] | None = None,
    sense: Sense | None = None,
    side: Side | None = None,
    within: float = WITHIN,
    clock: Clock | None = None,
) -> TradeOff:
    """Return the best of one measure as a function of the bound on another, over all that can be reached.

    The brief's own limits on both measures, on the sides that would cut the curve off, are let go;
    everything else of the brief, the library and the law holds along the whole curve. Parameters and faults are
    those of `optiform.tradeoff`.

    Parameters
    ----------
    sense : str, optional
        minimise or maximise `of`; absent: as the brief's aim, else as the trade prefers it.
    side : str, optional
        at_least or at_most `against`; absent: as the trade prefers it, else as the brief bounds it.
    within : float
        For means and shares: how closely the optimum is bracketed, in the unit of `of`.
    """
    clock = clock or Clock.of(None)
    brief = on_best_base(brief, clock)
    measures = _measures(brief, of, against, None if third is None else third[0])
    variants = _variants(brief, measures, third)
    sense = sense or sense_of(brief, measures[0])
    side = side or side_of(brief, measures[1])
    certain: tuple[str, ...] = ()
    if brief.certainty is not None:
        brief, certain = _certain(brief, measures[1], clock)
        variants = _variants(brief, measures, third)
    curves, recheck = [], Recheck()
    for variant, limit in variants:
        axes = axes_of(variant, measures[0], measures[1], sense, side, clock)
        found = EnvelopeSearch(axes, within, clock).run()
        curves.append(_curve(brief, axes, found, limit, clock, recheck))
    if clock.over() and any(not knot.lines for curve in curves for knot in curve.knots):
        certain = (WITHOUT_AMOUNTS, *certain)
    alone = third is None and not found.pieces and not found.stopped
    problem = None
    if alone:
        from optiform.answers.conflict.report import conflict

        problem = conflict(brief, axes.program, clock=clock).conflict
    return _told(brief, axes, tuple(curves), problem, (*certain, *_without_formula(recheck.words)))


def _certain(brief: Brief, against: Measure, clock: Clock) -> tuple[Brief, tuple[str, ...]]:
    """Return the brief whose limits hold for the lots it asks for, and what must be said of them."""
    from optiform.answers.certainty.every_lot import along, settled

    found = settled(brief, clock)
    told = [along(brief, found)]
    if against.denominator is not None:
        told.append(
            f"Only {against.name} is bounded at the typical composition along the curve: the worst lot for a mean is "
            "another one at each bound. Held for every lot, a bound costs somewhat more than the curve says."
        )
    return found.brief, tuple(told)


def _measures(brief: Brief, of: str, against: str, third: str | None) -> list[Measure]:
    """Return the two or three measures, or refuse everything that is wrong with them at once."""
    asked = {"--of": of, "--against": against} | ({} if third is None else {"--third": third})
    found: list[Measure] = []
    faults = Faults(brief.file)
    for place, name in asked.items():
        with faults.gathering():
            found.append(measure_named(brief, name, place))
    names = [measure.name for measure in found]
    if len(set(names)) < len(names):
        message = f"the measures are {', '.join(names)}"
        faults.add(", ".join(asked), message, allowed="different measures")
    faults.raise_if_any()
    return found


def _variants(
    brief: Brief, measures: list[Measure], third: tuple[str, Sequence[float]] | None
) -> list[tuple[Brief, Third | None]]:
    """Return the brief itself, or one brief for each bound on the third measure."""
    if third is None:
        return [(brief, None)]
    bounds, measure, side = [float(bound) for bound in third[1]], measures[2], side_of(brief, measures[2])
    own = brief.targets.get(measure.name, Target())
    faults = [] if bounds else [Fault(brief.file, "--third", "no values are given", "MEASURE=v1,v2,...")]
    for place, bound in enumerate(bounds):
        fault = _third_fault(measure, own, side, bound, bounds[:place])
        if fault is not None:
            faults.append(Fault(brief.file, "--third", f"{measure.name} {bound:g} {fault[0]}", fault[1]))
    if faults:
        raise BadInput(faults)
    found: list[tuple[Brief, Third | None]] = []
    for bound in bounds:
        targets = {**brief.targets, measure.name: own.model_copy(update={side: bound})}
        limit = Third(measure.name, side, bound, measure.unit)
        found.append((brief.model_copy(update={"targets": targets}), limit))
    return found


def _third_fault(
    measure: Measure, own: Target, side: Side, bound: float, before: Sequence[float]
) -> tuple[str, str] | None:
    """Return what is wrong with a bound on the third measure, and what is allowed."""
    if not measure.lowest <= bound <= measure.highest:
        return "is out of range", f"{measure.lowest:g} to {measure.highest:g}"
    target = own.model_copy(update={side: bound})
    if target.at_least is not None and target.at_most is not None and target.at_least > target.at_most:
        return "crosses the brief's own limit", "bounds inside the brief's window"
    if bound in before:
        return "is given twice", "each bound once"
    return None


def _told(
    brief: Brief, axes: Axes, curves: tuple[Curve, ...], problem: Conflict | None, said: tuple[str, ...]
) -> TradeOff:
    status: AnswerStatus = "solved"
    if problem is not None or not any(curve.stretches for curve in curves):
        status = "conflict" if all(curve.proven for curve in curves) else "stopped"
    elif not all(curve.proven for curve in curves):
        status = "stopped"
    return TradeOff(
        status=status,
        proven=status == "solved",
        brief=brief,
        title=brief.title,
        library=brief.library.name,
        of=axes.of.measure.name,
        of_unit=axes.of.measure.unit,
        of_digits=axes.of.measure.digits,
        sense=axes.sense,
        against=axes.against.measure.name,
        against_unit=axes.against.measure.unit,
        against_digits=axes.against.measure.digits,
        side=axes.side,
        straight=axes.straight,
        curves=curves,
        conflict=problem,
        notes=(*said, *_notes(axes), *_unasked(brief), *axes.program.notes, *brief.notes),
        cautions=cautions_for(brief),
    )


def _notes(axes: Axes) -> tuple[str, ...]:
    """Return what must be said of the curve as a whole."""
    found = []
    if axes.program.acid_rows:
        strength = axes.program.catalogue.conditions.ionic_strength
        found.append(
            f"The whole curve is taken at one ionic strength, {strength:.2f} mol/kg; the formulas along it were then "
            "solved each at its own."
        )
    found += [
        f"{axis.measure.name}: {axis.measure.note}." for axis in (axes.of, axes.against) if axis.measure.note
    ]
    return tuple(found)


def _without_formula(broken: Sequence[str]) -> tuple[str, ...]:
    """Say at how many points no formula is told, and what theirs would break."""
    if not broken:
        return ()
    places = f"{len(broken)} points" if len(broken) > 1 else "1 point"
    return (
        f"Left out: the formula at {places} of the curve, because it {AGAIN}: {'; '.join(sorted(set(broken)))}.",
    )


def _unasked(brief: Brief) -> tuple[str, ...]:
    """Say that soft wishes play no part along a curve."""
    if not brief.prefer:
        return ()
    names = ", ".join(dict.fromkeys(wish.measure for wish in brief.prefer))
    return (
        f"Soft wishes play no part here ({names}): a curve tells what a bound costs, not what one would pay.",
    )


def _curve(
    brief: Brief, axes: Axes, found: Envelope, third: Third | None, clock: Clock, recheck: Recheck
) -> Curve:
    stretches = _stretches(brief, axes, found.pieces, clock, recheck)
    whole = not found.stopped and len(stretches) == len(found.pieces)
    scales = (axes.against.logarithmic, axes.of.logarithmic)
    proven = whole and all(s.bracket is not None for s in stretches)
    plain = Curve(stretches, proven=proven, logarithmic=scales)
    worse = 1.0 if axes.sense == "minimise" else -1.0
    own, limits = brief.targets.get(axes.against.measure.name), brief.targets.get(axes.of.measure.name)
    bound = None if own is None else getattr(own, axes.side)
    limit = None if limits is None else getattr(limits, "at_most" if worse > 0 else "at_least")
    return replace(
        plain,
        free=free_parts(stretches, whole=axes.against.whole),
        knees=knees(stretches, plain.at, whole=axes.against.whole),
        here=standing(stretches, plain.at, bound, axes.side),
        affords=afforded(stretches, limit, worse, scales),
        third=third,
        structures=found.structures,
    )


def _stretches(
    brief: Brief, axes: Axes, pieces: Sequence[Piece], clock: Clock, recheck: Recheck
) -> tuple[Stretch, ...]:
    """Return pieces of a search as stretches of a curve, every formula verified; after a signal no further ones."""
    found: list[Stretch] = []
    knots = Knots(axes, clock, recheck)
    for piece in pieces:
        if found and clock.interrupted():
            break
        start, end = (knots.of(point) for point in (piece.first, piece.last))
        plain = Stretch(
            start=start,
            end=end,
            jump=0.0,
            price=_price(start, end),
            bracket=_bracket(axes, piece.bracket, start, end),
            structure=structure_of(axes.program, piece.last.values),
        )
        found.append(plain)
    return _with_changes(brief, axes, found)


def _with_changes(brief: Brief, axes: Axes, stretches: Sequence[Stretch]) -> tuple[Stretch, ...]:
    """Return stretches with what changes where they take over; less than is worth telling on either axis is not told.

    A stretch is told of when the curve has gone far enough since what was told last, along the bound or in value.
    """
    if not stretches:
        return ()
    highest = max(abs(stretch.end.value) for stretch in stretches)
    furthest = max(abs(stretch.end.bound) for stretch in stretches)
    far = worth_of(brief, axes.against.measure.unit, None if axes.against.whole else furthest)
    high = worth_of(brief, axes.of.measure.unit, highest)
    told, since = stretches[0], stretches[0].end
    found = [stretches[0]]
    for before, stretch in itertools.pairwise(stretches):
        jump = _clean(abs(stretch.start.value - before.end.value), stretch.start.value)
        moved = abs(stretch.end.bound - since.bound) >= far or abs(stretch.end.value - since.value) >= high
        if moved or jump >= high > 0:
            found.append(replace(_following(told, stretch), jump=jump))
            told, since = stretch, stretch.end
        else:
            found.append(replace(stretch, jump=jump))
            if stretch.materials == told.materials:
                since = stretch.end
    return tuple(found)


def _bracket(axes: Axes, bracket: float | None, start: Knot, end: Knot) -> float | None:
    """Return a bracket in the unit of the value: of a logarithm at the larger end, where it is widest."""
    if bracket is None or not axes.of.logarithmic:
        return bracket
    return float(max(start.value, end.value) * (10.0**bracket - 1.0))


def _price(start: Knot, end: Knot) -> float:
    """Return what one unit of the bound costs on a stretch."""
    run, rise = abs(end.bound - start.bound), abs(end.value - start.value)
    return rise / run if run > 0 and rise > ROUNDING else 0.0


def _following(before: Stretch, stretch: Stretch) -> Stretch:
    """Return a stretch with what changes where it takes over."""
    earlier, now = before.materials, stretch.materials
    if not earlier or not now:
        return stretch
    entered = tuple(name for name in now if name not in earlier)
    left = tuple(name for name in earlier if name not in now)
    change: Change = "amounts" if entered or left else ""
    if stretch.structure != before.structure:
        change = "structure"
    return replace(stretch, change=change, entered=entered, left=left)


def _clean(difference: float, value: float) -> float:
    """Return a difference, or 0 where it is no more than dust."""
    return difference if difference > EQUAL * max(1.0, abs(value)) else 0.0
