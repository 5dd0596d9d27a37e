"""The corners of what may be made, against the printed vertices of published regions (sources: tests/learning)."""

import numpy as np
import pytest

from optiform.answers.trials.region import corners_of
from tests.learning.test_regions import PRINTED, in_order
from tests.oracles import INF, form_of


def as_form(region):
    """Return a region as a program over its parts, which add up to its total."""
    parts = range(region.rows.shape[1])
    rows = [(dict(zip(parts, row, strict=True)), -INF, limit)
            for row, limit in zip(region.rows.tolist(), region.limits.tolist(), strict=True)]  # fmt: skip
    return form_of([0.0] * len(parts), [(dict.fromkeys(parts, 1.0), region.total, region.total), *rows])


@pytest.mark.parametrize("name", PRINTED)
def test_corners_are_the_published_vertices(name):
    region, printed = PRINTED[name]
    found = corners_of(as_form(region), np.arange(region.rows.shape[1]), seed=1)
    assert np.allclose(in_order(found), in_order(printed), atol=1e-7)


def test_the_middle_of_the_corners_is_the_published_centre():
    """Flare: McLean and Anderson, Technometrics 8 (1966) 447-454, from memory. Polvoron: R package mixexp, Lawson."""
    for name, centre in (("flare", [0.5, 0.2225, 0.2225, 0.055]), ("polvoron", [0.4, 0.36, 0.24])):
        region, _ = PRINTED[name]
        found = corners_of(as_form(region), np.arange(len(centre)), seed=1)
        assert found.mean(axis=0) == pytest.approx(centre)
