"""The tie-break that counts, against trying every choice."""

import itertools

import numpy as np
import pytest

from optiform.program import Form, SparseRow
from optiform.search.cardinality import ProvenCounts, fewest
from optiform.search.ranking import best
from optiform.solver import Outcome, Session

CHOICES, COVERS = 9, 4


def covering(seed):
    """Return a program that covers each of some needs with at least two of the choices that can."""
    draw = np.random.default_rng(seed)
    able = draw.random((COVERS, CHOICES)) < 0.6
    able[:, :3] = True
    rows = [np.flatnonzero(row) for row in able]
    cost = draw.uniform(1.0, 2.0, CHOICES).round(3)
    form = Form(
        lower=np.zeros(CHOICES),
        upper=np.ones(CHOICES),
        integer=np.ones(CHOICES, dtype=bool),
        objective=cost,
        starts=np.concatenate([[0], np.cumsum([len(row) for row in rows])]).astype(np.intp),
        indices=np.concatenate(rows).astype(np.intp),
        values=np.concatenate([draw.choice([1.0, 2.0], len(row)) for row in rows]),
        row_lower=np.full(COVERS, 2.0),
        row_upper=np.full(COVERS, np.inf),
    )
    allowed = [
        np.array(values, dtype=float)
        for values in itertools.product((0, 1), repeat=CHOICES)
        if np.all(form.activity(np.array(values, dtype=float)) >= 2.0 - 1e-9)
    ]
    return form, allowed


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("tie", [0.2, 0.8, 2.5])
def test_the_cheapest_of_the_fewest_as_every_choice_tried(seed, tie):
    """Whatever is known beforehand: nothing but the best, all there is, or the answer itself."""
    form, allowed = covering(seed)
    lightest = min(float(form.objective @ values) for values in allowed)
    near = [values for values in allowed if form.objective @ values <= lightest + tie]
    few = min(values.sum() for values in near)
    expected = min(float(form.objective @ values) for values in near if values.sum() == few)
    session = Session(form)
    first = best(session, form.objective)
    everything = [
        Outcome("solved", float(form.objective @ values), float(form.objective @ values), values)
        for values in allowed
    ]
    for known in (everything[:0], everything[::2], everything):
        found = fewest(session, form.objective, np.ones(CHOICES), tie, [first, *known])
        assert found.status == "solved"
        assert found.values.sum() == pytest.approx(few)
        assert found.objective == pytest.approx(expected, abs=1e-6)
    assert best(session, form.objective).objective == pytest.approx(lightest), "the session is as it was"


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("tie", [0.2, 0.8])
@pytest.mark.parametrize("reach", [-np.inf, 1.0, 4.0])
def test_what_was_proven_before_changes_no_later_answer(seed, tie, reach):
    """One solution after the other is kept out; each time every choice that is left is tried."""
    form, left = covering(seed)
    session, every = Session(form), np.arange(CHOICES, dtype=np.intp)
    proven = ProvenCounts(min(float(form.objective @ values) for values in left) + reach)
    known = []
    for _ in range(min(6, len(left))):
        lightest = min(float(form.objective @ values) for values in left)
        near = [values for values in left if form.objective @ values <= lightest + tie]
        few = min(values.sum() for values in near)
        expected = min(float(form.objective @ values) for values in near if values.sum() == few)
        first = best(session, form.objective)
        found = fewest(session, form.objective, np.ones(CHOICES), tie, [first, *known], proven)
        assert found.values.sum() == pytest.approx(few)
        assert found.objective == pytest.approx(expected, abs=1e-6)
        taken = np.round(found.values)
        left = [values for values in left if not np.array_equal(values, taken)]
        known = [
            item for item in (*known, *proven.take()) if not np.array_equal(np.round(item.values), taken)
        ]
        session.add_row(SparseRow(every, np.where(taken > 0.5, 1.0, -1.0), -np.inf, taken.sum() - 1.0))
