"""A brief that names a bench is held against what its trials taught."""

from __future__ import annotations

import numpy as np
import pytest

from optiform.answers.design import design
from optiform.brief import brief_from
from optiform.faults import BadInput
from tests.answers.trials.test_learning import bench
from tests.trials.benches import bench_at, wash_house

LIBRARY = wash_house()
WANTED = {
    "title": "Quay wash",
    "law": "none",
    "bench": "bench",
    "include": [
        {"material": "glucoside", "at_least": 12.0, "at_most": 12.0},
        {"material": "betaine", "at_least": 4.0},
    ],
    "ranked": {"how_many": 1},
}


def brief(folder, **targets):
    return brief_from({**WANTED, "targets": targets}, LIBRARY, folder)


def test_viscosity_is_designed_from_the_readings_and_surely_with_a_margin(tmp_path):
    """Invented as log10 = 1.7 + 1.5 gum: 2000 mPa.s wants (3.301 - 1.7) / 1.5 = 1.07 % of gum; being sure, more."""
    bench(tmp_path / "bench")
    likely = design(brief(tmp_path, viscosity={"at_least": 2000})).formulas[0]
    sure = design(brief(tmp_path, viscosity={"at_least": 2000, "sure": 0.9})).formulas[0]
    gum = [next(line.percent for line in one.lines if line.material == "gum") for one in (likely, sure)]
    assert gum[0] == pytest.approx(1.07, abs=0.04)
    assert gum[1] > gum[0] + 0.02
    taught = brief(tmp_path).known.taught[0]
    row = np.array(
        [
            next((line.percent for line in sure.lines if line.material == name), 0.0)
            for name in taught.materials
        ]
    )
    low, _ = taught.knowledge.interval(row, 0.8)  # one-sided 0.9
    assert 10**low == pytest.approx(2000, rel=1e-4)


def test_a_gate_keeps_inside_what_passed(tmp_path):
    """The seventh wash, with 1.4 % of gum, parted: no more than the 1.2 % of the sixth."""
    bench(tmp_path / "bench")
    asked = brief(tmp_path, viscosity={"at_least": 9000}, **{"one phase": {"reading": "yes"}})
    assert design(asked).status == "conflict"
    asked = brief(tmp_path, viscosity={"at_least": 2000}, **{"one phase": {"reading": "yes"}})
    assert design(asked).status == "solved"
    (gate,) = asked.known.passed
    assert len(gate.passed) == 6 and "water" not in gate.materials


def test_faults_of_the_bench_are_told_beside_those_of_the_brief(tmp_path):
    bench_at(tmp_path / "bench", "trial,material,grams\n1,gumm,3\n", None)
    with pytest.raises(BadInput) as bad:
        brief(tmp_path, mildnes={"at_least": 3})
    told = "\n".join(map(str, bad.value.faults))
    assert "weighed.csv, row 2, column material" in told and "mildnes" in told
    with pytest.raises(BadInput, match="there is no such bench folder"):
        brief_from({**WANTED, "bench": "nowhere"}, LIBRARY, tmp_path)
