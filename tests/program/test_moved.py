"""A program with one bound moved in place is the program that is built from the moved brief, row by row."""

from __future__ import annotations

import random

import numpy as np

from optiform.answers.live import changed
from optiform.answers.live.changes import Bound
from optiform.program import build, in_place, with_bound
from tests.answers.live.moves import gentle
from tests.answers.live.test_live_brief import small
from tests.asked import problem


def dense(program):
    """Return the rows of a program as a full matrix."""
    form = program.form
    matrix = np.zeros((form.rows, form.columns))
    matrix[form.owner, form.indices] = form.values
    return matrix


def test_a_bound_moved_in_place_makes_the_program_of_the_moved_brief():
    draw, compared = random.Random(3), 0
    for first, times in ((small(), 15), (problem("nettle-gel-oily-skin"), 12)):
        brief, program = first, build(first)
        for _ in range(times):
            change = gentle(brief, draw)
            moved = changed(brief, change)
            if not isinstance(change, Bound):
                continue
            place = in_place(program, change.key, change.to, moved)
            if place is None:
                continue
            here, afresh = with_bound(program, *place), build(moved)
            np.testing.assert_allclose(dense(here), dense(afresh), rtol=0, atol=1e-12)
            for end in ("row_lower", "row_upper", "lower", "upper", "objective"):
                np.testing.assert_array_equal(getattr(here.form, end), getattr(afresh.form, end))
            assert list(here.requirements) == list(afresh.requirements)
            assert [acid.bound for acid in here.acid_rows] == [acid.bound for acid in afresh.acid_rows]
            compared += 1
            brief, program = moved, here
    assert compared > 20
