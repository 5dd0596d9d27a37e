"""The least ratio of two sums over whole choices, against every choice tried."""

import numpy as np
import pytest

from optiform.search.ranking import best
from optiform.solver import Session
from tests.search.test_fewest import covering


@pytest.mark.parametrize("begin", [0.0, -3.0, 0.7, 50.0])
@pytest.mark.parametrize("seed", range(4))
def test_the_least_ratio_is_found_from_wherever_the_search_begins(seed, begin):
    form, allowed = covering(seed)
    base = np.random.default_rng(seed).uniform(0.5, 2.0, len(form.objective))
    least = min(float(form.objective @ values) / float(base @ values) for values in allowed)
    found = best(Session(form), form.objective, base, begin)
    assert found.status == "solved"
    assert found.objective == pytest.approx(least, abs=1e-8)
