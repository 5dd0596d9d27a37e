"""Finds amounts too small to be weighed in on purpose, and formulas that differ from another only by such."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from optiform.answers.model.answer import Formula, Line
from optiform.bounds import number
from optiform.brief.models import Brief
from optiform.program.structure import served
from optiform.tolerances import TOLERANCE

TRACE = 0.01
"""Below this amount [% w/w] a material is a trace: 0.1 g in a kilogram; our choice, no source. Dyes are so thin."""


def traces_of(lines: Sequence[Line]) -> tuple[Line, ...]:
    """Return the lines that are there in a trace only; water and colourants never count."""
    return tuple(
        line
        for line in lines
        if 0 < line.percent < TRACE - TOLERANCE and line.function not in ("water", "colourant")
    )


def trace_notes(lines: Sequence[Line]) -> tuple[str, ...]:
    """Return a sentence for each trace, with what the library would have to say to keep it out."""
    return tuple(
        f"{line.name}: {number(round(line.percent, 4))} % is a trace that no one weighs in on purpose; min_if_used in "
        f"materials.csv, {TRACE:g} or more, keeps it out."
        for line in traces_of(lines)
    )


def apart(brief: Brief, formulas: tuple[Formula, ...]) -> tuple[tuple[Formula, ...], tuple[str, ...]]:
    """Return the formulas that differ by more than a trace, best first, and a note for each other one."""
    kept: dict[frozenset[str], Formula] = {}
    notes = []
    for formula in formulas:
        thin = traces_of(formula.lines)
        body = frozenset(formula.structure) - _only_in(brief, formula, thin)
        if body in kept:
            twin = kept[body]
            names = " and ".join(dict.fromkeys((*(line.name for line in thin), *_thin_names(brief, twin))))
            notes.append(
                f"Left out: a formula that differs from formula {twin.rank} by a trace of {names} only."
            )
        else:
            kept[body] = replace(formula, rank=len(kept) + 1)
    return tuple(kept.values()), tuple(notes)


def _only_in(brief: Brief, formula: Formula, thin: Sequence[Line]) -> frozenset[str]:
    """Return the substances that a formula has its structure from by traces alone."""
    if not thin:
        return frozenset()
    words = brief.ranked.differ_in
    there = {line.material: served(brief.library, words, line.material) for line in formula.lines}
    traces = {line.material for line in thin}
    solid = [found for name, found in there.items() if name not in traces]
    return frozenset().union(*(there[name] for name in traces)) - frozenset().union(*solid)


def _thin_names(brief: Brief, formula: Formula) -> tuple[str, ...]:
    words = brief.ranked.differ_in
    return tuple(
        line.name for line in traces_of(formula.lines) if served(brief.library, words, line.material)
    )
