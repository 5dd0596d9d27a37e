"""Tells how much of a saving comes only from moving to the edge of a window."""

from __future__ import annotations

from optiform.brief.models import Brief, Include, Ratio, Share, Target
from optiform.measures import Catalogue, Measure
from optiform.measures.amounts import Count, proportion
from optiform.measures.texture import Viscosity
from optiform.program.rows.wishes import amount_name, share_measure
from optiform.search.first_formula import first_of
from optiform.search.fixed_choices import Polished
from optiform.solver import Clock
from optiform.vectors import Floats


def best_without_sliding(brief: Brief, catalogue: Catalogue, before: Floats, clock: Clock) -> Polished | None:
    """Return the best formula when no bounded measure may come nearer to its bound than it is today; None without any.

    The baseline, `before`, has shape (n,) [% w/w].

    Raises
    ------
    OutOfTime
        If the time is over before that is known.

    Notes
    -----
    Where a measure is bounded on both sides, this holds it exactly where it is today. A bound that the
    baseline breaks stays as it is. What a tie-break gives away counts as slid.
    """
    drawn = without_sliding(brief, catalogue, before)
    return first_of(drawn.model_copy(update={"aim": drawn.aim.model_copy(update={"then": ()})}), clock)


def without_sliding(brief: Brief, catalogue: Catalogue, before: Floats) -> Brief:
    """Return the brief with each window drawn in to where the baseline is."""
    targets = {}
    for name, target in brief.targets.items():
        if target.reading is not None or target.sure is not None:
            targets[name] = target
            continue
        measure = catalogue.find(name)
        if name == brief.aim.measure or isinstance(measure, Count | Viscosity) or target.set == "bench":
            targets[name] = target
            continue
        targets[name] = target.model_copy(update=_ends(measure, before, target))
    include = []
    for wish in brief.include:
        measure = catalogue.find(f"{wish.kind}:{wish.word}")
        include.append(wish.model_copy(update=_ends(measure, before, wish)))
    share = []
    for part in brief.share:
        of = None if part.each else share_measure(catalogue, part.of or "", part.base)
        share.append(part if of is None else part.model_copy(update=_ends(of, before, part)))
    ratio = []
    for pair in brief.ratio:
        top, bottom = (catalogue.find(amount_name(catalogue, word)) for word in (pair.of, pair.to))
        ratio.append(pair.model_copy(update=_ends(proportion(top, bottom, "", ""), before, pair)))
    lists = {"include": tuple(include), "share": tuple(share), "ratio": tuple(ratio)}
    changes: dict[str, object] = {"targets": targets, **lists}
    if brief.baseline is not None:
        kept = ("ingredients", "viscosity")
        hold = {name: width if name in kept else 0.0 for name, width in brief.baseline.hold.items()}
        changes["baseline"] = brief.baseline.model_copy(update={"hold": hold})
    return brief.model_copy(update=changes)


def _ends(
    measure: Measure, before: Floats, wish: Target | Include | Share | Ratio
) -> dict[str, float | None]:
    """Return a window drawn in to today's value; untouched where the value is outside, or there is none."""
    low, high = wish.at_least, wish.at_most
    today = measure.value(before)
    if today is not None:
        if low is not None and today > low:
            low = today if high is None else min(today, high)
        if high is not None and today < high:
            high = today if low is None else max(today, low)
    return {"at_least": low, "at_most": high}
