"""Seeds of random instances: few in the normal run, the others when the slow tests are asked for."""

import pytest


def seeds(few, most):
    """Return seeds from 0 on; those from `few` on are slow."""
    return [*range(few), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(few, most))]
