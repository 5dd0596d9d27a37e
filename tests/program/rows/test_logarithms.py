"""A measure whose logarithm is linear as aim, in [[when]] and along a curve, against independent solvers."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from optiform.answers.tradeoff import tradeoff
from optiform.faults import BadInput
from optiform.search.first_formula import first_of
from tests.program.rows.test_learned_rows import HIGH, LOW, PRICES, parts
from tests.taught import TERMS, TRIALS, lesson, wash


def value(x):
    """Return the likeliest viscosity of amounts of the terms, by hand."""
    return float(10.0 ** (lesson().knowledge.mean @ x))


def by_slsqp(objective, *more):
    """Return the least of an objective near the trials, with 12 % of surfactants: scipy, all terms used."""
    taught = lesson()
    reach = max(taught.knowledge.leverage(row) for row in TRIALS)
    rows = [lambda x: reach - taught.knowledge.leverage(x), lambda x: x[0] + x[1] - 12.0, *more]
    found = np.inf
    for start in TRIALS:
        result = minimize(
            objective, start, bounds=list(zip(LOW, HIGH, strict=True)), method="SLSQP",
            constraints=[{"type": "ineq", "fun": row} for row in rows], options={"ftol": 1e-12, "maxiter": 400},
        )  # fmt: skip
        if min(row(result.x) for row in rows) > -1e-7:
            found = min(found, float(result.fun))
    return found


@pytest.mark.parametrize(("sense", "sign"), [("maximise", -1.0), ("minimise", 1.0)])
def test_the_best_viscosity_is_that_of_the_best_logarithm(sense, sign):
    """All terms but salt are bounded away from 0 once used, and the best uses foamer and gum: SLSQP over all."""
    include = [
        {"material": name, "at_least": float(low)} for name, low in zip(TERMS, LOW, strict=True) if low
    ]
    brief = wash({"cost": {"at_most": 1.1}}, aim={sense: "viscosity"}, include=include)
    found = first_of(brief)
    cost = np.array([PRICES[name] for name in TERMS]) / 100.0
    logarithm = by_slsqp(lambda x: sign * np.log10(value(x)), lambda x: 1.1 - cost @ x)
    assert sign * np.log10(value(parts(found))) == pytest.approx(logarithm, abs=1e-5)
    aim = found.program.aim
    assert aim.unit == "log10 mPa.s"
    assert aim.value(found.amounts) == pytest.approx(np.log10(value(parts(found))))


def asked(**keys):
    """Ask for a wash that the trials' base can make, one formula."""
    return wash({}, ranked={"how_many": 1}, **keys)


RULE = [{"material": "salt", "measure": "viscosity", "at_least": 2000.0}]


def test_a_rule_holds_while_its_material_is_used_and_sleeps_otherwise():
    """Without salt the cheapest wash may be thin; with it 2,000 mPa.s count, near the trials: SLSQP."""
    salted = [{"material": "nettle", "at_least": 1.0}, {"material": "salt", "at_least": 0.5}]
    base = [{"material": name, "at_least": float(low)} for name, low in zip(TERMS, LOW, strict=True) if low]
    with_salt = first_of(asked(when=RULE, include=[*salted[1:], *base]))
    assert value(parts(with_salt)) >= 2000.0 * (1 - 1e-5)
    cost = np.array([PRICES[name] for name in TERMS]) / 100.0
    least = by_slsqp(
        lambda x: cost @ x, lambda x: np.log10(value(x)) - np.log10(2000.0), lambda x: x[3] - 0.5
    )
    assert with_salt.objective == pytest.approx(least, abs=1e-6)
    plain, ruled = first_of(asked()), first_of(asked(when=RULE))
    assert ruled.objective == pytest.approx(plain.objective, abs=1e-9)
    assert parts(ruled)[TERMS.index("salt")] == 0


def test_a_rule_on_nothing_is_a_fault():
    with pytest.raises(BadInput, match="viscosity of 0 is not possible"):
        asked(when=[{**RULE[0], "at_least": 0.0}])


BEYOND = {"viscosity": {"at_least": 300.0, "tried": "beyond"}}


@pytest.mark.parametrize("targets", [BEYOND, pytest.param({}, marks=pytest.mark.slow)])
def test_a_curve_of_cost_against_viscosity_is_the_best_at_every_bound(targets):
    """Against fresh solves; without a limit on how far from the trials the curve has no cuts, and takes a moment."""
    more = {} if not targets else {"tried": "beyond"}
    found = tradeoff(wash(targets, ranked={"how_many": 1}), "cost", "viscosity")
    assert found.proven and found.curve.logarithmic == (True, False)
    loosest, tightest = found.curve.loosest, found.curve.tightest
    for share in (0.2, 0.5, 0.8, 0.95):
        bound = float(loosest * (tightest / loosest) ** share)
        fresh = first_of(wash({"viscosity": {"at_least": bound, **more}}, ranked={"how_many": 1})).objective
        widest = max(stretch.bracket for stretch in found.curve.stretches)
        assert fresh - 1e-6 <= found.curve.at(bound) <= fresh + widest + 1e-6
    text = found.to_text()
    assert "a tenth more costs" in text and "mPa.s" in text and "log10" not in text


@pytest.mark.slow
def test_a_curve_of_viscosity_against_cost_prints_the_viscosity():
    found = tradeoff(asked(), "viscosity", "cost", sense="maximise")
    assert found.of_unit == "mPa.s" and found.curve.logarithmic == (False, True)
    bound = (found.curve.loosest + found.curve.tightest) / 2
    brief = wash({"cost": {"at_most": bound}}, aim={"maximise": "viscosity"}, ranked={"how_many": 1})
    fresh = 10.0 ** -first_of(brief).objective
    widest = max(stretch.bracket for stretch in found.curve.stretches)
    assert fresh - widest - 1e-3 <= found.curve.at(bound) <= fresh * (1 + 1e-5)
