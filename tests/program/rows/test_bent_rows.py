"""Limits on a viscosity that bends with salt: the true function in value, rows, verdict, weighing and optimum."""

import itertools

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import t as student

from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief.reading import brief_from
from optiform.library.formulas import TypedFormula
from optiform.measures.conditions import BenchKnowledge
from optiform.program import breaks, build, complete
from optiform.search.first_formula import first_of
from tests.taught import TERMS, TRIALS, bent_lesson, library

LESSON = bent_lesson()
PRICES = np.array([4.0, 6.0, 22.0, 0.5, 9.0]) / 100.0
LOW, HIGH = np.array([1.0, 1.0, 0.1, 0.0, 1.0]), np.array([20.0, 12.0, 2.0, 3.0, 5.0])
WINDOWS = {
    "sure, at least": {"at_least": 3000.0, "sure": 0.9},
    "sure, between": {"at_least": 1500.0, "at_most": 9000.0, "sure": 0.9},
    "at least": {"at_least": 3000.0},
    "between": {"at_least": 2500.0, "at_most": 3000.0},
    "beyond": {"at_least": 3000.0, "sure": 0.8, "tried": "beyond"},
}


def brief(window, **keys):
    """Return a wash whose viscosity the bent lesson tells."""
    mapping = {
        "title": "nettle wash",
        "law": "none",
        "targets": {"function:surfactant": {"at_least": 12.0}, "viscosity": window},
        "include": [{"material": "nettle", "at_least": 1.0}],
        **keys,
    }
    return brief_from(mapping, library(), known=BenchKnowledge((LESSON,)))


def row_of(x):
    return np.append(x, x[3] ** 2)


def ends(x, window):
    """Return what must hold of a formula, each not below 0, Student's t by scipy."""
    centre, scale = LESSON.knowledge.predicted(row_of(x))
    times = student.ppf(window["sure"], LESSON.knowledge.degrees_of_freedom) if "sure" in window else 0.0
    held = [x[0] + x[1] - 12.0]
    held.append(centre - times * scale - np.log10(window["at_least"]))
    if "at_most" in window:
        held.append(np.log10(window["at_most"]) - centre - times * scale)
    if window.get("tried") != "beyond":
        reach = max(LESSON.knowledge.leverage(row) for row in LESSON.rows)
        held.append(reach - LESSON.knowledge.leverage(row_of(x)))
    return np.array(held)


def parts(amounts):
    names = [material.id for material in library().materials]
    return np.array([amounts[names.index(name)] for name in TERMS])


def test_the_value_holds_the_square():
    measure = build(brief(WINDOWS["at least"])).catalogue.find("viscosity")
    amounts = library().arrays.amounts(
        {"water": 82.0, "foamer": 10.0, "betaine": 5.0, "gum": 1.0, "salt": 2.0}.items()
    )
    assert measure.value(amounts) == pytest.approx(10.0 ** (LESSON.knowledge.mean @ [10, 5, 1, 2, 0, 4]))


@pytest.mark.slow
@pytest.mark.parametrize("name", WINDOWS)
def test_the_formula_is_the_least_cost_by_another_solver(name):
    """SLSQP on every choice of four terms, from salt on either side of the peak."""
    window, best = WINDOWS[name], np.inf
    for held, salt in itertools.product(itertools.product((False, True), repeat=4), (0.3, 1.2, 2.2)):
        use = np.array([*held, True])
        start = np.where(use, TRIALS[7], 0.0)
        start[3] = salt if use[3] else 0.0
        result = minimize(
            lambda x: PRICES @ x,
            start,
            bounds=[(low, high) if on else (0.0, 0.0) for low, high, on in zip(LOW, HIGH, use, strict=True)],
            constraints=[{"type": "ineq", "fun": lambda x: ends(x, window)}],
            method="SLSQP",
            options={"ftol": 1e-13, "maxiter": 300},
        )
        if ends(result.x, window).min() > -1e-7:
            best = min(best, float(result.fun))
    found = first_of(brief(window))
    assert found.objective == pytest.approx(best, abs=2e-6)
    assert ends(parts(found.amounts), window).min() > -1e-6


@pytest.mark.parametrize("salt", (0.2, 1.3, 2.4, 3.0))
def test_the_verdict_is_that_of_the_true_function(salt):
    """Judged by hand: the likeliest log10 with its margin against both limits, on either side of the peak."""
    window = {"at_least": 1500.0, "at_most": 9000.0, "sure": 0.9, "tried": "beyond"}
    x = np.array([10.0, 5.0, 0.9, salt, 1.0])
    amounts = dict(zip(TERMS, x.tolist(), strict=True)) | {"water": 100.0 - float(x.sum())}
    program = build(brief(window))
    values = complete(program, program.library.arrays.amounts(amounts.items()))
    broken = {
        item.requirement.key.side
        for item in breaks(program, values)
        if "viscosity" in item.requirement.key.place
    }
    _, least, most = ends(x, window)
    assert broken == {side for side, held in (("at_least", least), ("at_most", most)) if held < 0}
    typed = TypedFormula("typed", tuple(amounts.items()), 100.0)
    told = evaluate(typed, library(), brief(window)).formulas[0]
    value = next(figure.value for figure in told.figures if figure.measure == "viscosity")
    assert value == pytest.approx(10.0 ** (LESSON.knowledge.mean @ row_of(x)))


def test_it_can_be_weighed():
    """On a balance of 0.1 g in 100 g: whole steps, both limits held as they are."""
    window = WINDOWS["sure, between"]
    answer = design(brief(window, weighing={"batch_g": 100.0, "balance_g": 0.1, "error_percent": 60.0}))
    lines = {line.material: line.grams for line in answer.formulas[0].weighable.lines}
    x = np.array([lines.get(name, 0.0) for name in TERMS])
    assert np.abs(x / 0.1 - np.round(x / 0.1)).max() < 1e-6
    assert ends(x, window).min() > -1e-6
