"""Takes, of several bases that a bench tried, the one whose best formula is best."""

from __future__ import annotations

from optiform.brief.bench import with_base
from optiform.brief.models import Brief
from optiform.search.first_formula import first_listed
from optiform.solver import Clock


def on_best_base(brief: Brief, clock: Clock) -> Brief:
    """Return a brief with what the trials of one base of its bench say: of the one whose best formula is best.

    A formula holds what was learned only in its own base, so that the best over all bases is the best of the best of
    each. Where the brief asks for nothing that was learned, or no base has a formula, it is returned as it is.
    """
    known = brief.known
    asked = _asked(brief)
    asked &= frozenset().union(known.names, *(one.names for one in known.others))
    if not asked or not known.others:
        return brief
    best, least = brief, None
    for one in (known, *known.others):
        if not asked <= one.names or clock.over():
            continue
        clock.say("trying what each set of surfactants and thickeners teaches")
        tried = with_base(brief, one)
        found = first_listed(tried, clock).polished
        if found is not None and (least is None or found.objective < least):
            best, least = tried, found.objective
    return best


def _asked(brief: Brief) -> frozenset[str]:
    """Return the names of everything that a brief bounds or aims at."""
    rules = (*brief.rules.when, *brief.library.rules.when)
    return frozenset((*brief.targets, brief.aim.measure, *brief.aim.then, *(rule.measure for rule in rules)))
