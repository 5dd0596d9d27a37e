"""What takes from the mildness, and the pH curve: checked by hand and against textbook acid-base arithmetic."""

import numpy as np
import pytest

from optiform.answers.describe.harshness import harshness_of
from optiform.answers.describe.ph_curve import curve_of
from optiform.answers.describe.slack import reachable_of
from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief.models import Brief
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from tests.builders import tiny_library

BENZOATE = {"inci": "Sodium Benzoate", "molar_mass": 144.11, "pka": (4.2,), "pka_kind": "effective",
            "charge_acid_form": 0.0, "strong_charge": 1.0}  # fmt: skip
STRONG = {"inci": "Strong Acid", "molar_mass": 100.0, "charge_acid_form": 0.0, "strong_charge": -1.0}
CLASSES = (
    {"inci": "Harsh", "charge_class": "anionic", "mildness": 40.0, "charge_acid_form": -1.0, "strong_charge": 1.0,
     "molar_mass": 300.0},
    {"inci": "Kind", "charge_class": "nonionic", "mildness": 90.0, "charge_acid_form": 0.0, "strong_charge": 0.0},
)  # fmt: skip


def library():
    return tiny_library(
        [
            {"id": "harsh", "function": "surfactant", "price": 1.0, "max_use": 30.0},
            {"id": "kind", "function": "surfactant", "price": 4.0, "max_use": 20.0},
            {"id": "benzoate", "function": "preservative", "price": 4.0, "max_use": 5.0},
            {"id": "acid", "function": "acid", "price": 2.0, "max_use": 5.0},
        ],
        (BENZOATE, STRONG, *CLASSES),
        {"harsh": {"Harsh": 50.0}, "kind": {"Kind": 50.0}, "benzoate": {"Sodium Benzoate": 100.0},
         "acid": {"Strong Acid": 10.0}},
    )  # fmt: skip


def measured(brief=None, **percents):
    held = library()
    brief = brief or Brief(
        title="t", library=held, law="none", targets={"pH": {"at_least": 4.0, "at_most": 5.0}}
    )
    formula = TypedFormula(name="t", lines=tuple(percents.items()), total=sum(percents.values()))
    answer = evaluate(formula, brief.library, brief)
    return answer, answer.formulas[0]


def test_what_the_materials_take_is_what_is_missing_to_a_hundred():
    # 3 of 5 parts at 40, 2 of 5 at 90: 36 + 4 points taken, 60 left
    _, formula = measured(water=90.0, harsh=6.0, kind=4.0)
    harsh, kind = harshness_of(formula)
    assert (harsh.name, harsh.active, harsh.share, harsh.index) == (
        "Harsh",
        *map(pytest.approx, (3.0, 60.0, 40.0)),
    )
    assert (harsh.lost, kind.lost) == pytest.approx((36.0, 4.0))
    assert formula.figure("mildness").value == pytest.approx(100.0 - harsh.lost - kind.lost)


def test_without_a_surfactant_nobody_takes_anything():
    _, formula = measured(water=98.0, benzoate=2.0)
    assert harshness_of(formula) == ()


def test_half_of_a_weak_base_is_protonated_at_its_pka():
    """Henderson and Hasselbalch: 10 mmol of benzoate take 5 mmol of strong acid, and what stays free, to pH = pKa."""
    brief = Brief(title="t", library=library(), law="none", targets={"pH": {"at_least": 4.2, "at_most": 4.2}})
    _, formula = measured(brief, water=100.0 - 1.4411, benzoate=1.4411)
    curve = curve_of(brief, formula)
    assert (curve.kind, curve.unit) == ("strong", "meq per 100 g")
    assert curve.formula == (0.0, pytest.approx(formula.acidity.pH))
    amounts = [amount for amount, _ in curve.points]
    pHs = [pH for _, pH in curve.points]
    assert amounts == sorted(amounts)
    assert pHs == sorted(pHs, reverse=True)
    assert np.interp(-4.2, [-pH for pH in pHs], amounts) == pytest.approx(5.0, abs=0.02)


def test_a_dosed_acid_takes_its_own_curve_through_the_formula():
    # 1 % of the acid material holds 1 mmol of strong acid per 100 g; 10 mmol of benzoate at pH 4.2 need about 5 %
    answer, formula = measured(water=100.0 - 1.4411 - 5.0, benzoate=1.4411, acid=5.0)
    curve = curve_of(answer.brief, formula)
    assert (curve.kind, curve.added, curve.unit) == ("dose", "Acid", "% w/w")
    assert curve.formula == (5.0, formula.acidity.pH)
    assert formula.acidity.pH == pytest.approx(4.2, abs=0.1)
    assert curve.formula in [(x, pytest.approx(y, abs=1e-9)) for x, y in curve.points]
    assert curve.points[0] == (0.0, pytest.approx(formula.acidity.undosed_pH, abs=1e-9))
    assert curve.natural_pH == formula.acidity.undosed_pH
    assert [pH for _, pH in curve.points] == sorted((pH for _, pH in curve.points), reverse=True)
    assert curve.window == (4.0, 5.0)
    assert {round(sum(line.percent for line in formula.lines), 9)} == {100.0}


def test_the_curve_stops_where_the_water_ends():
    answer, formula = measured(water=1.0, harsh=95.0, acid=4.0)
    curve = curve_of(answer.brief, formula)
    assert max(amount for amount, _ in curve.points) <= 5.0


def test_a_design_has_its_dose_inside_what_to_have_ready():
    held = load_library()
    wish = Brief(
        title="t",
        library=held,
        targets={"active matter": {"at_least": 9.0}, "mildness": {"at_least": 65.0},
                 "pH": {"at_least": 4.4, "at_most": 4.7}},
        include=[{"material": "sodium-benzoate"}],
        ranked={"how_many": 1},
    )  # fmt: skip
    answer = design(wish)
    curve = curve_of(answer.brief, answer.formulas[0])
    assert curve.kind == "dose"
    assert curve.ready[0] < curve.formula[0] < curve.ready[1]
    assert curve.system == answer.formulas[0].system
    assert curve.works != (None, None)


def test_a_conflict_says_how_far_each_wish_can_go():
    held = library()
    wish = Brief(
        title="t", library=held, law="none",
        targets={"active matter": {"at_least": 5.0}, "mildness": {"at_least": 80.0}, "cost": {"at_most": 0.2}},
    )  # fmt: skip
    answer = design(wish)
    assert answer.status == "conflict"
    rows = reachable_of(answer.conflict)
    assert {row.limit for row in rows} == {"active matter", "mildness", "cost"}
    assert all(row.state == "broken" for row in rows)
    assert [row.value for row in rows] == [value for _, value in answer.conflict.best_reachable]
