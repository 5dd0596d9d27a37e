"""What is said of a formula does not depend on how many materials stand beside it."""

from __future__ import annotations

from dataclasses import asdict

import pytest
from pydantic import BaseModel

from optiform.answers.design import background as telling
from optiform.answers.design import design
from optiform.search.narrow import small_program as close_up
from tests.asked import PROBLEMS, designed, problem

NAMES = sorted(
    brief.parent.name for brief in PROBLEMS.glob("*/brief.toml") if brief.parent.name != "too-many-wishes"
)


def differences(one, other, path=""):
    """Yield where two nested values differ by more than a solver's rounding.

    Of weighable amounts several may be best within that; only what rounding costs is compared.
    """
    if path.endswith(".subject"):  # names what is in the library, used or not
        assert set(other) <= set(one)
    elif isinstance(one, float) and isinstance(other, float):
        # a cost measured along a stretch of 2e-5 is as exact as the solver's 1e-9 over that length
        close = 2e-4 if "marginal_cost" in path else 1e-5
        if one != pytest.approx(other, rel=close, abs=1e-5):
            yield f"{path}: {one} and {other}"
    elif isinstance(one, BaseModel) and isinstance(other, BaseModel):
        yield from differences(one.model_dump(), other.model_dump(), path)
    elif isinstance(one, dict) and isinstance(other, dict):
        for key in one.keys() | other.keys():
            yield from differences(one.get(key), other.get(key), f"{path}.{key}")
    elif isinstance(one, list | tuple) and isinstance(other, list | tuple) and len(one) == len(other):
        for place, (left, right) in enumerate(zip(one, other, strict=True)):
            yield from differences(left, right, f"{path}[{place}]")
    elif one != other:
        yield f"{path}: {one!r} and {other!r}"


def sampled(names):
    """Return every third name, and the others as slow."""
    return [
        name if k % 3 == 0 else pytest.param(name, marks=pytest.mark.slow) for k, name in enumerate(names)
    ]


@pytest.mark.parametrize("name", sampled(NAMES))
def test_a_close_up_says_the_same(name, monkeypatch):
    brief, plain = problem(name), [asdict(formula) for formula in designed(name).formulas]
    monkeypatch.setattr(close_up, "MANY", 0)
    near = [asdict(formula) for formula in design(brief).formulas]
    for one, other in zip(plain, near, strict=True):
        weighed = [formula.pop("weighable") or {"cost_of_rounding": 0.0} for formula in (one, other)]
        assert weighed[0]["cost_of_rounding"] == pytest.approx(weighed[1]["cost_of_rounding"], abs=5e-5)
    assert list(differences(plain, near)) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES[::3])
def test_what_is_said_before_the_proof_is_what_is_said_after_it(name, monkeypatch):
    """Formulas that are likely to be listed are described while they are proven; nothing else is different."""
    brief = problem(name)
    brief = brief.model_copy(update={"aim": brief.aim.model_copy(update={"then": ()})})
    monkeypatch.setattr(close_up, "MANY", 0)
    monkeypatch.setattr(telling, "MANY", 10**9)
    after = [asdict(formula) for formula in design(brief).formulas]
    monkeypatch.setattr(telling, "MANY", 0)
    foreseen = []
    begin = telling.BackgroundDescriptions.foresee
    monkeypatch.setattr(
        telling.BackgroundDescriptions,
        "foresee",
        lambda self, *words: (foreseen.append(words), begin(self, *words)),
    )
    before = [asdict(formula) for formula in design(brief).formulas]
    for one, other in zip(after, before, strict=True):
        weighed = [formula.pop("weighable") or {"cost_of_rounding": 0.0} for formula in (one, other)]
        assert weighed[0]["cost_of_rounding"] == pytest.approx(weighed[1]["cost_of_rounding"], abs=5e-5)
    assert list(differences(after, before)) == []
    assert foreseen or brief.aim.measure != "cost", "nothing was foreseen"
