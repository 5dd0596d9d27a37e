"""A short branch and bound, against trying every choice."""

import numpy as np
import pytest

from optiform.program import SparseRow
from optiform.search import tree
from optiform.search.tree import searched
from optiform.solver import Session
from tests.search.test_fewest import CHOICES, covering


@pytest.mark.parametrize("seed", range(12))
def test_the_lightest_cover_as_every_choice_tried(seed):
    """With nothing known, with any cover known, and where one more row shuts some covers out."""
    form, allowed = covering(seed)
    session = Session(form)
    most = SparseRow(np.arange(CHOICES), np.ones(CHOICES), -np.inf, 3.0)
    with session.trial():
        for few in (allowed, [values for values in allowed if values.sum() <= 3.0]):
            lightest = min((float(form.objective @ values) for values in few), default=np.inf)
            found, proven = searched(session, form.objective)
            assert found.objective >= lightest - 1e-9
            assert not proven or found.objective == pytest.approx(lightest)
            assert not proven or (found.status == "solved") == bool(few)
            session.add_row(most)


def test_what_is_known_to_be_best_comes_back():
    form, allowed = covering(3)
    session = Session(form)
    first = session.solve()
    assert first.objective == pytest.approx(min(float(form.objective @ values) for values in allowed))
    found, _ = searched(session, form.objective, first)
    assert found is first


def test_many_nodes_are_left_to_the_solver(monkeypatch):
    """A single node proves nothing where choices are taken in part."""
    form, _ = covering(0)
    monkeypatch.setattr(tree, "NODES", 1)
    session = Session(form)
    assert searched(session, form.objective)[1] is False
    assert session.solve().status == "solved"


@pytest.mark.parametrize("seed", range(12))
def test_whole_numbers_beyond_one_are_split_as_well(seed):
    """The least c.x with a.x >= b over x in 0..3, against all 64 of them."""
    from dataclasses import replace

    draw = np.random.default_rng(seed)
    form, _ = covering(seed)
    ratio, weights = draw.uniform(0.2, 1.0, 3), draw.uniform(1.0, 2.0, 3)
    form = replace(
        form,
        lower=np.zeros(3),
        upper=np.full(3, 3.0),
        integer=np.ones(3, dtype=bool),
        objective=weights,
        starts=np.array([0, 3]),
        indices=np.arange(3),
        values=ratio,
        row_lower=np.array([2.3]),
        row_upper=np.array([np.inf]),
    )
    every = np.stack(np.meshgrid(*[np.arange(4)] * 3), axis=-1).reshape(-1, 3)
    expected = min((float(weights @ x) for x in every if ratio @ x >= 2.3), default=np.inf)
    found, proven = searched(Session(form), weights)
    assert proven
    assert found.objective == pytest.approx(expected)
