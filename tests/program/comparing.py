"""Holds the ranking of a brief against the slow judge that tries every set of materials."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from optiform.answers.describe.formula import structure_of, system_of
from optiform.brief.models import Brief
from optiform.program import Program, breaks
from optiform.search.fixed_choices import Polished, polish, ties_of
from optiform.search.ionic_strength import prepare
from optiform.search.ranking import Candidate, rank
from tests.naive import Best, Naive

ALL = 10_000


def candidates(brief: Brief, how_many: int = ALL) -> tuple[Program, list[Candidate]]:
    """Return the program of a brief and everything that the ranking finds."""
    program = prepare(brief)
    found = rank(program, how_many, ties_of(program, brief.aim.then), brief.aim.tie)
    return program, [item for item in found if isinstance(item, Candidate)]


def polished(brief: Brief, how_many: int = ALL) -> list[Polished]:
    """Return the exact formulas of the ranking."""
    program, found = candidates(brief, how_many)
    exact = [polish(program, item.values, ties_of(program, brief.aim.then), brief.aim.tie) for item in found]
    assert None not in exact
    return [item for item in exact if item is not None]


def shape(program: Program, values: np.ndarray) -> tuple[frozenset[str], str | None]:
    """Return the structure of a solution as the judge writes it."""
    names, system = set(structure_of(program, values)), system_of(program, values)
    named = system in names
    return frozenset(names - {system}), system if named else None


def assert_same_ranking(brief: Brief) -> list[Best]:
    """The ranking lists every structure that exists, at its best, in order, to 1e-6; every formula holds all rows.

    With a dosed pH the exact formulas live at their own ionic strengths, so there the ranking itself is
    compared, at the one strength it is proven at; its rows are relaxed by half of 1e-6 pH.
    """
    program, found = candidates(brief)
    judge = Naive(brief, program.catalogue.conditions.ionic_strength)
    expected = judge.ranking()
    assert len(found) == len(expected), brief
    assert all(item.proven for item in found)
    exact = [polish(program, item.values) for item in found]
    reached = [item.objective for item in (found if program.acid_rows else exact)]
    within = 1e-5 if program.acid_rows else 1e-6
    assert reached == pytest.approx([best.objective for best in expected], abs=within), brief
    assert_same_shapes(program, found, expected)
    for item in exact:
        assert abs(item.amounts.sum() - 100.0) <= 1e-9
        assert (item.amounts >= 0).all()
        assert breaks(item.program, item.values) == ()
    return expected


def assert_same_shapes(program: Program, found: list[Candidate], expected: list[Best]) -> None:
    """Structures come in the same order, up to ties."""
    values = [best.objective for best in expected]
    groups = itertools.groupby(range(len(values)), key=lambda k: round(values[k], 5))
    for _, members in groups:
        tied = list(members)
        assert {shape(program, found[k].values) for k in tied} == {expected[k].structure for k in tied} or (
            _borders(values, tied)
        )


def _borders(values: list[float], tied: list[int]) -> bool:
    """Tell whether a group of ties touches its neighbours, so that rounding split it at random."""
    first, last = tied[0], tied[-1]
    near = first > 0 and values[first] - values[first - 1] < 3e-6
    return near or (last + 1 < len(values) and values[last + 1] - values[last] < 3e-6)
