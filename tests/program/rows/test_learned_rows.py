"""Limits on what a bench taught: the margin of the next reading, the base, the trials, and gates."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import linprog, minimize
from scipy.stats import t as student

from optiform.answers.design import design
from optiform.brief.models import Certainty
from optiform.faults import BadInput
from optiform.program import Key, breaks, build, complete
from optiform.program.hull import nonnegative
from optiform.search.first_formula import first_of
from tests.taught import TERMS, TRIALS, Gate, known, lesson, library, wash

SURE = {"viscosity": {"at_least": 3000.0, "at_most": 9000.0, "sure": 0.9}}
PRICES = {"foamer": 4.0, "betaine": 6.0, "gum": 22.0, "salt": 0.5, "nettle": 9.0}
LOW, HIGH = np.array([1.0, 1.0, 0.1, 0.0, 1.0]), np.array([20.0, 12.0, 2.0, 3.0, 5.0])


def parts(found):
    """Return the % w/w of the terms in a formula."""
    names = [material.id for material in library().materials]
    return np.array([found.amounts[names.index(name)] for name in TERMS])


def ends(taught, row, times=None):
    """Return between which values the next reading lies, one-sided: Student's t by scipy, on the linear scale."""
    centre, scale = taught.knowledge.predicted(row)
    half = (times or student.ppf(0.9, taught.knowledge.degrees_of_freedom)) * scale
    return centre - half, centre + half


def test_value_is_the_likeliest_reading_inside_the_base():
    measure = build(wash()).catalogue.find("viscosity")
    amounts = library().arrays.amounts({"water": 84.0, "foamer": 10.0, "betaine": 5.0, "gum": 1.0}.items())
    by_hand = 10.0 ** (lesson().knowledge.mean @ [10.0, 5.0, 1.0, 0.0, 0.0])
    assert measure.value(amounts) == pytest.approx(by_hand)
    other = library().arrays.amounts({"water": 84.0, "foamer": 10.0, "glucoside": 6.0}.items())
    assert measure.value(other) is None
    assert measure.unit == "mPa.s" and "9 trials" in measure.note


def test_the_formula_holds_its_window_with_the_margin_of_students_t():
    found = first_of(wash(SURE))
    low, high = ends(lesson(), parts(found))
    assert low == pytest.approx(np.log10(3000.0), abs=1e-6)
    assert high <= np.log10(9000.0) + 1e-6


def test_the_formula_is_the_least_cost_by_another_solver():
    """SLSQP over every choice of four terms, within leverage and window; nettle is at least 1 %, water the rest."""
    taught = lesson()
    reach = max(taught.knowledge.leverage(row) for row in TRIALS)
    times = student.ppf(0.9, taught.knowledge.degrees_of_freedom)
    cost = np.array([PRICES[name] for name in TERMS]) / 100.0
    best = np.inf
    for held in itertools.product((False, True), repeat=4):
        use = np.array([*held, True])
        bounds = [(low, high) if on else (0.0, 0.0) for low, high, on in zip(LOW, HIGH, use, strict=True)]
        rows = [
            lambda x: ends(taught, x, times)[0] - np.log10(3000.0),
            lambda x: np.log10(9000.0) - ends(taught, x, times)[1],
            lambda x: reach - taught.knowledge.leverage(x),
            lambda x: x[0] + x[1] - 12.0,
        ]
        result = minimize(
            lambda x: cost @ x,
            np.where(use, TRIALS[7], 0.0),
            bounds=bounds,
            constraints=[{"type": "ineq", "fun": row} for row in rows],
            method="SLSQP",
            options={"ftol": 1e-12, "maxiter": 300},
        )
        if min(row(result.x) for row in rows) > -1e-7:
            best = min(best, float(result.fun))
    assert first_of(wash(SURE)).objective == pytest.approx(best, abs=1e-6)


def test_more_certainty_never_costs_less():
    costs = [
        first_of(wash({"viscosity": {"at_least": 3000.0, "sure": sure}})).objective
        for sure in (0.6, 0.8, 0.95)
    ]
    plain = first_of(wash({"viscosity": {"at_least": 3000.0}})).objective
    assert [plain, *costs] == sorted([plain, *costs])
    assert costs[-1] > plain + 0.01


def test_only_the_base_that_was_tried():
    """The glucoside and the pectin are cheaper, and nobody knows what they do to the viscosity."""
    program = build(wash(SURE))
    requirement = program.requirements[program.index_of[Key("missing", ("viscosity",))]]
    assert requirement.subject == ("glucoside", "pectin")
    assert set(np.flatnonzero(first_of(wash(SURE)).amounts)) & {3, 5} == set()


def test_no_further_off_than_the_trials_unless_the_brief_says_so():
    thick = {"viscosity": {"at_least": 20000.0, "sure": 0.9}}
    beyond = {"viscosity": {**thick["viscosity"], "tried": "beyond"}}
    near, far = first_of(wash(thick)), first_of(wash(beyond))
    knowledge = lesson().knowledge
    reach = max(knowledge.leverage(row) for row in TRIALS)
    assert knowledge.leverage(parts(near)) == pytest.approx(reach, abs=1e-6)
    assert knowledge.leverage(parts(far)) > reach
    assert far.objective < near.objective


def test_a_formula_is_judged_by_its_own_norm():
    program = build(wash(SURE))
    amounts = first_of(wash(SURE)).amounts
    assert breaks(program, complete(program, amounts)) == ()
    thinner = amounts.copy()
    thinner[[library().arrays.material_index[name] for name in ("gum", "water")]] += [-0.01, 0.01]
    broken = [item.requirement.key for item in breaks(program, complete(program, thinner))]
    assert Key("targets", ("viscosity",), "at_least") in broken
    low, _ = ends(lesson(), thinner[[1, 2, 4, 6, 7]])
    found = next(
        item for item in breaks(program, complete(program, thinner)) if item.requirement.side == "at_least"
    )
    assert found.by == pytest.approx(np.log10(3000.0) - low, abs=2e-6)


def test_a_gate_asks_for_a_mixture_of_what_passed():
    passed = TRIALS[[0, 1, 2, 4, 6]]
    brief = wash(
        {"foam": {"at_least": 90.0}, "one phase": {"reading": "yes"}}, gates=[Gate("one phase", passed)]
    )
    found = first_of(brief)
    mixed = linprog(
        np.zeros(5),
        A_eq=np.vstack([passed.T, np.ones(5)]),
        b_eq=np.append(parts(found), 1.0),
        bounds=[(0, None)] * 5,
        options={"primal_feasibility_tolerance": 1e-7},
    )
    assert mixed.status == 0
    program = build(brief)
    assert breaks(program, complete(program, found.amounts)) == ()
    outside = found.amounts.copy()
    outside[[library().arrays.material_index[name] for name in ("gum", "water")]] += [0.5, -0.5]
    broken = [item.requirement.title for item in breaks(program, complete(program, outside))]
    assert "one phase: a mixture of trials that passed" in broken


def test_a_gate_that_nothing_passed_lets_nothing_through():
    brief = wash({"one phase": {"reading": "yes"}}, gates=[Gate("one phase", TRIALS[:0])])
    answer = design(brief)
    assert answer.status == "conflict"
    assert [item.key for item in answer.conflict.requirements] == [Key("targets", ("one phase",))]


@pytest.mark.parametrize("seed", range(20))
def test_nonnegative_least_squares_equals_scipy(seed):
    from scipy.optimize import nnls

    rng = np.random.default_rng(seed)
    matrix, wanted = rng.normal(size=(5, 4 + seed % 5)), rng.normal(size=5)
    found, (_, least) = nonnegative(matrix, wanted), nnls(matrix, wanted)
    assert (found >= 0).all()
    assert np.linalg.norm(matrix @ found - wanted) == pytest.approx(least, abs=1e-9)


@pytest.mark.parametrize(
    "targets, place",
    [
        ({"viscosity": {"at_least": 3000.0, "sure": 0.5}}, "sure"),
        ({"cost": {"at_most": 2.0, "sure": 0.9}}, "sure"),
        ({"cost": {"at_most": 2.0, "tried": "beyond"}}, "tried"),
        ({"clear": {"reading": "yes"}}, "reading"),
        ({"one phase": {"reading": "yes", "at_least": 1.0}}, "at_least"),
        ({"viscosity": {"at_least": -5.0, "sure": 0.9}}, "at_least"),
    ],
)
def test_faults_are_told_by_their_place(targets, place):
    with pytest.raises(BadInput) as bad:
        wash(targets, gates=[Gate("one phase", TRIALS)])
    assert any(place in fault.place for fault in bad.value.faults)


def test_what_is_linear_is_an_ordinary_aim():
    found = first_of(wash({"cost": {"at_most": 1.2}}, aim={"maximise": "foam"}))
    assert -found.objective == pytest.approx(lesson("foam").knowledge.mean @ parts(found))
    assert set(np.flatnonzero(found.amounts)) & {3, 5} == set()


def test_no_formula_surely_has_a_single_value():
    single = {"at_least": 3000.0, "at_most": 3000.0}
    assert first_of(wash({"viscosity": single})) is not None
    assert first_of(wash({"viscosity": {**single, "sure": 0.6}})) is None


def test_what_was_learned_is_not_taken_at_other_lots():
    """Trials were made of lots as they came: the foamer's window of 40 to 60 % moves no learned limit."""
    half = [
        part.model_copy(update={"percent": 50.0, "low": 40.0, "high": 60.0})
        for part in library().parts
        if part.material == "foamer"
    ]
    water = half[0].model_copy(update={"inci": "Aqua", "low": None, "high": None})
    others = tuple(part for part in library().parts if part.material != "foamer")
    varied = library().model_copy(update={"parts": (*others, *half, water)})
    typical = wash({"viscosity": {"at_least": 3000.0}}).model_copy(update={"library": varied})
    certain = typical.model_copy(update={"certainty": Certainty()})
    assert build(certain).form.norms and first_of(certain).objective == first_of(typical).objective


def test_without_a_bench_nothing_is_known():
    with pytest.raises(BadInput):
        wash({"foam": {"at_least": 100.0}}, measures=("viscosity",))


def test_knowledge_of_a_material_that_the_library_lacks_plays_no_part():
    taught = replace(lesson(), materials=("foamer", "betaine", "gum", "salt", "elsewhere"))
    brief = wash().model_copy(update={"known": replace(known(), taught=(taught,))})
    measure = build(brief).catalogue.find("viscosity")
    assert measure.spread.shape == (6, 8)
    assert np.count_nonzero(measure.numerator) == 4
