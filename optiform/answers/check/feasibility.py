"""Tells whether a brief can be met: yes with one formula that meets it, or no with the conflict."""

from __future__ import annotations

from optiform.answers.conflict.witness import witness
from optiform.answers.model.answer import Answer
from optiform.brief.models import Brief
from optiform.search.bases import on_best_base
from optiform.solver import Clock


def check(brief: Brief, *, seconds: float | None = None) -> Answer:
    """Tell whether a brief can be met, with the formula that `design` lists first as the witness.

    Parameters
    ----------
    seconds : float, optional
        Time limit.
    """
    clock = Clock.of(seconds)
    brief = on_best_base(brief, clock)
    if brief.certainty is not None:
        from optiform.answers.certainty.every_lot import sure

        return sure(brief, lambda asked: witness(asked, clock), clock)
    return witness(brief, clock)
