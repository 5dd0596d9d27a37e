"""Lot correction, add-backs and a measured pH, against worked examples and the full charge balance."""

import pytest

from optiform.answers.bench.lot_correction import correct_lot
from optiform.answers.bench.readings import Addition, add_back, bench, with_measured_pH
from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief.models import Brief, Target
from optiform.faults import BadInput
from optiform.library.formulas import TypedFormula
from optiform.library.models import TitrationPoint
from tests.answers.rework.today import STARTER_TODAY, starter
from tests.builders import NEUTRAL, tiny_library

TODAY = TypedFormula("today", STARTER_TODAY, 100.0)


def base():
    """8.000 % of a 30 % betaine (2.4 % active) beside 5.6 % active from elsewhere."""
    library = tiny_library(
        [
            {"id": "betaine", "function": "surfactant", "price": 3.0},
            {"id": "glucoside", "function": "surfactant", "price": 5.0},
            {"id": "extract", "function": "extract"},
            {"id": "gum", "function": "thickener"},
        ],
        [
            {"inci": "Betaine", "charge_class": "amphoteric", "mildness": 75.0, **NEUTRAL},
            {"inci": "Glucoside", "charge_class": "nonionic", "mildness": 80.0, **NEUTRAL},
            {"inci": "Sodium Chloride", "tags": ("electrolyte",), **NEUTRAL},
        ],
        {
            "betaine": {"Betaine": 30.0, "Sodium Chloride": 5.0},
            "glucoside": {"Glucoside": 56.0},
            "extract": {"Leaf": 5.0, "Glycerin": 70.0},
        },
    )
    lines = (("water", 80.0), ("betaine", 8.0), ("glucoside", 10.0), ("extract", 2.0))
    return library, TypedFormula("wash", lines, 100.0)


def value(formula, measure):
    return next(figure.value for figure in formula.figures if figure.measure == measure)


def test_a_lot_of_27_5_percent_needs_8_727_percent_of_a_30_percent_material():
    """8.000 * 30 / 27.5 = 8.727 %, water -0.727 %; uncorrected the active matter is 7.80 instead of 8.00 %."""
    library, wash = base()
    found = correct_lot(wash, library, "betaine", 27.5, batch_g=5000)
    assert found.after == pytest.approx(8.727, abs=5e-4)
    assert found.water_after - found.water_before == pytest.approx(-0.727, abs=5e-4)
    assert value(found.planned, "active matter") == pytest.approx(8.0)
    assert value(found.uncorrected, "active matter") == pytest.approx(7.80, abs=1e-9)
    assert value(found.corrected, "active matter") == pytest.approx(8.0)
    assert value(found.corrected, "electrolyte") == pytest.approx(0.05 * found.after)
    assert found.grams_after == pytest.approx(436.36, abs=5e-3)
    assert found.broken == ()


def test_a_correction_says_what_breaks_with_and_without_it():
    library, wash = base()
    brief = Brief(title="b", library=library, law="none", targets={
        "active matter": Target(at_least=7.9), "electrolyte": Target(at_most=0.41)})  # fmt: skip
    found = correct_lot(wash, library, "betaine", 27.5, brief=brief)
    assert [item.requirement.measure for item in found.broken_uncorrected] == ["active matter"]
    assert [item.requirement.measure for item in found.broken] == ["electrolyte"]


@pytest.mark.parametrize(
    ("material", "measured", "substance", "words"),
    [
        ("betain", 27.5, None, "betain"),
        ("gum", 27.5, None, "holds no 'gum'"),
        ("betaine", 0.0, None, "no strength"),
        ("betaine", 99.0, None, "leaves"),
        ("betaine", 27.5, "Betane", "did you mean 'Betaine'"),
        ("extract", 6.0, None, "may mean any"),
        ("betaine", 2.0, None, "leaves no water"),
    ],
)
def test_an_impossible_correction_is_refused_by_name(material, measured, substance, words):
    library, wash = base()
    with pytest.raises(BadInput, match=words):
        correct_lot(wash, library, material, measured, substance=substance)


def test_the_certificate_of_an_extract_names_its_substance():
    library, wash = base()
    found = correct_lot(wash, library, "extract", 4.0, substance="Leaf")
    assert found.after == pytest.approx(2.5) and found.what == "Leaf"


def test_an_add_back_renormalises_everything():
    """500 g with 20 % surfactant and 12 g more: (100 + 12) / 512 = 21.875 %, 0.5 becomes 0.488, 2 becomes 1.95."""
    library, _ = base()
    lines = (("water", 77.5), ("betaine", 20.0), ("gum", 0.5), ("extract", 2.0))
    now = add_back(TypedFormula("trial", lines, 100.0), library, 500.0, [Addition("betaine", 12.0)])
    assert now.amounts["betaine"] == pytest.approx(21.875)
    assert now.amounts["gum"] == pytest.approx(0.488, abs=5e-4)
    assert now.amounts["extract"] == pytest.approx(1.953, abs=5e-4)
    assert sum(now.amounts.values()) == pytest.approx(100.0) and now.grams == 512.0


def test_a_solution_brings_its_water():
    """3.6 g of a 10 % solution in 100 g: 0.36 g of acid and 3.24 g of water in 103.6 g."""
    trial = TypedFormula("trial", (("water", 80.0), ("decyl-glucoside", 20.0)), 100.0)
    now = add_back(trial, starter(), 100.0, [Addition("citric-acid", 3.6, 10.0)])
    assert now.amounts["citric-acid"] == pytest.approx(100 * 0.36 / 103.6)
    assert now.amounts["water"] == pytest.approx(100 * 83.24 / 103.6)


def test_every_fault_of_an_addition_at_once():
    with pytest.raises(BadInput) as caught:
        add_back(TODAY, starter(), None, [Addition("citric-acd", -1.0, 300.0)])
    text = str(caught.value)
    for words in ("how much was made", "did you mean 'citric-acid'", "-1 g", "300 %"):
        assert words in text


@pytest.mark.parametrize("size", [-1.0, 0.0, float("inf"), float("nan")])
@pytest.mark.parametrize("additions", [(), (Addition("citric-acid", 1.0),)])
def test_a_batch_of_no_size_is_refused_by_its_size(size, additions):
    with pytest.raises(BadInput, match=f"{size:g} g were made"):
        bench(TODAY, starter(), batch_g=size, additions=additions, pH=5.0)


@pytest.mark.parametrize("size", [-1.0, 0.0, float("inf"), float("nan")])
def test_a_lot_for_a_batch_of_no_size_is_refused_by_its_size(size):
    library, wash = base()
    with pytest.raises(BadInput, match=f"batch of {size:g} g"):
        correct_lot(wash, library, "betaine", 27.5, batch_g=size)


def test_water_has_no_certificate_to_correct():
    library, wash = base()
    with pytest.raises(BadInput, match="water alone"):
        correct_lot(wash, library, "water", 99.0)


@pytest.mark.parametrize("pH", [3.9, 4.6, 5.3, 5.8])
@pytest.mark.parametrize("material", [None, "decyl-glucoside", "cocamidopropyl-betaine-38"])
def test_after_a_measured_ph_the_formula_is_computed_at_it(pH, material):
    library, changed = with_measured_pH(TODAY, starter(), pH, material)
    assert evaluate(TODAY, library).formulas[0].acidity.pH == pytest.approx(pH, abs=1e-6)
    ids = {item.material for item in changed}
    surfactants = {"decyl-glucoside", "sodium-laureth-sulfate-70", "cocamidopropyl-betaine-38"}
    assert ids == ({material} if material else surfactants)
    shifts = [item.after - item.before for item in changed]
    assert shifts == pytest.approx([shifts[0]] * len(shifts), abs=1e-5)


def test_the_next_answer_doses_as_the_bench_did():
    """What took 0.40 % of acid to reach pH 5 at the bench is dosed with 0.40 % by the next design."""
    library = starter()
    lines = (
        *((n, v) for n, v in STARTER_TODAY if n not in ("water", "citric-acid")),
        ("citric-acid", 0.40),
        ("water", 71.20),
    )
    trial = TypedFormula("trial", lines, 100.0)
    found = bench(trial, library, batch_g=500, pH=5.0)
    assert found.now.acidity.pH != pytest.approx(5.0, abs=0.05)
    fixed = {name: amount for name, amount in lines if name not in ("water", "citric-acid")}
    from optiform.brief.models import Exclude, Include
    from optiform.library.waiving import guard_names, waive

    others = [m.id for m in library.materials if m.id not in {"water", "citric-acid", *fixed}]
    brief = Brief(
        title="again",
        library=waive(found.library, guard_names(found.library)),
        targets={"pH": Target(at_least=5.0, at_most=5.0)},
        include=tuple(
            Include(material=name, at_least=amount, at_most=amount) for name, amount in fixed.items()
        ),
        exclude=tuple(Exclude(material=name) for name in others),
    )
    again = {line.material: line.percent for line in design(brief).formulas[0].lines}
    assert again["citric-acid"] == pytest.approx(0.40, abs=1e-4)


def test_the_charge_that_is_added_closes_the_balance_by_hand():
    """Water with 1 % of a neutral surfactant at pH 9: free alkali of 1.0e-5 mol/kg in 1 kg, so 1 mmol/kg of it.

    pKw 13.997 and activity coefficients near 1 in so dilute a solution.
    """
    library = tiny_library(
        [{"id": "soapwort", "function": "surfactant"}],
        [{"inci": "Soapwort", "charge_class": "nonionic", **NEUTRAL}],
    )
    trial = TypedFormula("trial", (("water", 99.0), ("soapwort", 1.0)), 100.0)
    _, (changed,) = with_measured_pH(trial, library, 9.0)
    assert changed.after == pytest.approx(1.0, rel=0.03)


def test_a_measured_ph_that_nothing_explains_is_refused():
    with pytest.raises(BadInput, match="mmol/kg"):
        with_measured_pH(TODAY, starter(), 12.9, "nettle-extract")
    with pytest.raises(BadInput, match="no pH"):
        with_measured_pH(TODAY, starter(), 15.0)
    with pytest.raises(BadInput, match="did you mean 'nettle-extract'"):
        with_measured_pH(TODAY, starter(), 5.0, "nettle-extrakt")


def test_a_titrated_material_keeps_its_curve():
    points = tuple(
        TitrationPoint(material="decyl-glucoside", pH=pH, acid_mmol_per_kg=acid)
        for pH, acid in ((4.0, 120.0), (9.0, 20.0))
    )
    library = starter().model_copy(update={"titrations": points})
    with pytest.raises(BadInput, match="titration curve"):
        with_measured_pH(TODAY, library, 5.0, "decyl-glucoside")
    taught, changed = with_measured_pH(TODAY, library, 5.0)
    assert "decyl-glucoside" not in {item.material for item in changed}
    assert evaluate(TODAY, taught).formulas[0].acidity.pH == pytest.approx(5.0, abs=1e-6)
