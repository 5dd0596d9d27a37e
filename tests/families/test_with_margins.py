"""A product whose brief asks to be sure of what a bench taught holds its margin on a shared shelf too."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from optiform import evaluate, family
from optiform.program.extended import side_by_side
from optiform.program.norm import Norm
from optiform.program.program import Form

PROBLEMS = Path(__file__).parents[2] / "problems"
PLAN = """
title = "Sure and sharing"
minimise = "cash"
[[product]]
brief = "{problems}/three-evenings/nettle.toml"
batch = "2kg"
within = 0.1
[[product]]
brief = "{problems}/nettle-gel-oily-skin/brief.toml"
batch = "5kg"
within = 0.1
"""


def form_with_norm():
    """Return three columns without rows, of which the last is at least the norm of the others."""
    nothing = np.zeros(0)
    return Form(
        lower=np.zeros(3), upper=np.full(3, 9.0), integer=np.zeros(3, dtype=bool), objective=np.zeros(3),
        starts=np.zeros(1, dtype=np.intp), indices=np.zeros(0, dtype=np.intp), values=nothing,
        row_lower=nothing, row_upper=nothing, norms=(Norm(2, np.array([0, 1]), np.eye(2)),),
    )  # fmt: skip


def test_each_product_keeps_its_norms():
    joint = side_by_side([form_with_norm(), form_with_norm()])
    values = np.array([3.0, 4.0, 0.0, 6.0, 8.0, 0.0])
    assert [(norm.column, norm.value(values)) for norm in joint.norms] == [(2, 5.0), (5, 10.0)]


@pytest.mark.slow
def test_the_margin_holds_on_a_shared_shelf(tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN.format(problems=PROBLEMS))
    found = family(plan)
    nettle = found.products[0].formula
    judged = evaluate(nettle, brief=PROBLEMS / "three-evenings" / "nettle.toml")
    assert not judged.formulas[0].breaks
    assert nettle.measures.loc["viscosity", "value"] > 2000.0
