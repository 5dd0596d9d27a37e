"""Amounts in steps of a balance: exact totals, every requirement held, and never worse than trying everything."""

import itertools
import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from optiform.answers.design import design
from optiform.answers.weigh import weigh_formula
from optiform.answers.weigh.drops import drops_of
from optiform.answers.weigh.grid import grid_of
from optiform.answers.weigh.on_grid import on_grid
from optiform.answers.weigh.unweighable import sentences, why_not
from optiform.answers.weigh.weighable import weigh
from optiform.brief.models import Aim, Brief, Exclude, Include, Target, Weighing
from optiform.faults import BadInput
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from optiform.program import breaks
from optiform.search.fixed_choices import polish
from optiform.search.ionic_strength import prepare
from optiform.search.ranking import Candidate, rank
from tests.answers.random_briefs import briefs
from tests.builders import NEUTRAL, tiny_library

BALANCES = (0.001, 0.01, 0.1, 1.0, 10.0)


def exact_of(brief):
    """Return the exact best formula of a brief, or None."""
    program = prepare(brief)
    found = next(iter(rank(program, 1)))
    return polish(program, found.values) if isinstance(found, Candidate) else None


def wash(**prices):
    """A base of two surfactants and an extract with hand-friendly figures."""
    return tiny_library(
        [
            {"id": "mild", "function": "surfactant", "price": prices.get("mild", 6.0)},
            {"id": "strong", "function": "surfactant", "price": prices.get("strong", 2.0)},
            {"id": "leaf", "function": "extract", "price": prices.get("leaf", 20.0)},
        ],
        [
            {"inci": "Mild", "charge_class": "nonionic", "mildness": 90.0, **NEUTRAL},
            {"inci": "Strong", "charge_class": "anionic", "mildness": 40.0, **NEUTRAL},
        ],
        {"mild": {"Mild": 50.0}, "strong": {"Strong": 30.0}},
    )


def wanted(library, active=10.0, mildness=60.0, leaf=2.0, aim=None):
    return Brief(
        title="wash",
        library=library,
        law="none",
        aim=aim or Aim(),
        targets={"active matter": Target(at_least=active), "mildness": Target(at_least=mildness)},
        include=(Include(material="leaf", at_least=leaf),),
    )


@pytest.mark.parametrize(("batch", "balance"), [(10, 0.1), (5, 0.05), (12, 0.3), (8, 0.25), (30, 1)])
@pytest.mark.parametrize(("active", "mildness", "leaf"), [(10, 60, 2), (13.3, 71.7, 1.1), (7.9, 45, 3.7)])
@pytest.mark.parametrize("sense", ["minimise", "maximise"])
def test_no_grid_solution_of_a_small_batch_is_better(batch, balance, active, mildness, leaf, sense):
    """Every way to fill the steps is tried with plain arithmetic, sharing no code with the program."""
    aim = Aim() if sense == "minimise" else Aim(measure="mildness", sense="maximise")
    brief = wanted(wash(), active, mildness, leaf, aim)
    if sense == "maximise":
        brief = brief.model_copy(update={"targets": {**brief.targets, "cost": Target(at_most=1.9)}})
    exact = exact_of(brief)
    steps = round(batch / balance)
    assert exact is not None
    found = weigh(exact.program, exact.values, Weighing(batch_g=batch, balance_g=balance, error_percent=50))
    mild, strong, extract = np.meshgrid(*[np.arange(steps + 1)] * 3, indexing="ij")
    counts = np.stack([steps - mild - strong - extract, mild, strong, extract])
    used = (exact.amounts > 0).reshape(4, 1, 1, 1)
    a, b, c = (100.0 * n / steps for n in (mild, strong, extract))
    matter = 0.5 * a + 0.3 * b
    with np.errstate(invalid="ignore", divide="ignore"):
        index = (90 * 0.5 * a + 40 * 0.3 * b) / matter
    cost = 0.06 * a + 0.02 * b + 0.20 * c
    holds = np.where(used, counts >= 1, counts == 0).all(axis=0) & (matter >= active - 1e-6)
    holds &= (c >= leaf - 1e-6) & (index >= mildness - 1e-6)
    if sense == "maximise":
        holds &= cost <= 1.9 + 1e-6
    aims = np.where(holds, cost if sense == "minimise" else -index, math.inf)
    best = float(aims.min())
    if math.isinf(best):
        assert found is None
    else:
        assert found is not None
        assert (found.aim if sense == "minimise" else -found.aim) <= best + 1e-9
        assert (found.aim if sense == "minimise" else -found.aim) >= best - 1e-9


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(
    brief=briefs(),
    balance=st.sampled_from(BALANCES),
    batch=st.floats(math.log10(50), math.log10(200_000)),
    error=st.sampled_from([0.5, 2.0, 10.0]),
)
def test_whatever_is_weighed_adds_up_stands_on_the_grid_and_holds_everything(brief, balance, batch, error):
    steps = max(2, round(10**batch / balance))
    size = float(Decimal(str(balance)) * steps)
    exact = exact_of(brief)
    assume(exact is not None)
    found = weigh(exact.program, exact.values, Weighing(batch_g=size, balance_g=balance, error_percent=error))
    assume(found is not None)
    grams = [Decimal(str(line.grams)) for line in found.lines]
    assert sum(grams) == Decimal(str(size))
    assert all(mass % Decimal(str(balance)) == 0 for mass in grams)
    assert min(line.grams for line in found.lines) >= balance / 2 / (error / 100) - 1e-12
    assert sum(line.percent for line in found.lines) == pytest.approx(100.0, abs=1e-9)
    amounts = brief.library.arrays.amounts(found.percents)
    values = exact.values.copy()
    values[: exact.program.size] = amounts
    missed = breaks(exact.program, values)
    assert {item.requirement.key for item in missed} == {item.requirement.key for item in found.off}
    for item in found.off:
        assert item.requirement.side == "equal"
        assert abs(item.value - item.bound) <= 50.0 / steps + 1e-9
    if not found.off:
        assert found.rounding >= -1e-6
    assert found.cost_of_rounding == pytest.approx(
        found.cost - exact.program.catalogue.find("cost").value(exact.amounts)
    )


@pytest.mark.parametrize("balance", BALANCES)
@pytest.mark.parametrize("batch", [50.0, 250.0, 1000.0, 20_000.0, 200_000.0])
def test_a_batch_fine_enough_is_always_weighed(batch, balance):
    exact = exact_of(wanted(wash()))
    lightest = min(amount for amount in exact.amounts if amount > 0) * batch / 100
    found = weigh(exact.program, exact.values, Weighing(batch_g=batch, balance_g=balance))
    if lightest >= 50 * balance:
        assert found is not None and found.rounding < 0.1 * 100 * balance / batch + 1e-9
    elif found is None:
        refused = why_not(exact.program, exact.values, Weighing(batch_g=batch, balance_g=balance))
        assert refused.too_light or refused.off_grid


def test_a_dosed_ph_still_holds_at_its_own_ionic_strength():
    library = load_library()
    brief = Brief(
        title="dosed",
        library=library,
        targets={
            "active matter": Target(at_least=8.0),
            "mildness": Target(at_least=60.0),
            "pH": Target(at_least=4.6, at_most=4.7),
        },
        weighing=Weighing(batch_g=500, balance_g=0.05),
    )
    formula = design(brief).formulas[0]
    found = formula.weighable
    assert found is not None and sum(Decimal(str(line.grams)) for line in found.lines) == 500
    from optiform.answers.evaluate import evaluate

    typed = TypedFormula("weighed", found.percents, math.fsum(p for _, p in found.percents))
    measured = evaluate(typed, library, brief).formulas[0]
    assert 4.6 - 1e-6 <= measured.acidity.pH <= 4.7 + 1e-6
    assert measured.breaks == ()


def test_an_equality_that_no_step_meets_is_held_within_half_a_step_and_shown():
    library = wash()
    brief = wanted(library).model_copy(
        update={"include": (Include(material="leaf", at_least=2.03, at_most=2.03),)}
    )
    exact = exact_of(brief)
    found = weigh(exact.program, exact.values, Weighing(batch_g=100, balance_g=0.1, error_percent=50))
    (near,) = found.off
    assert near.bound == 2.03 and near.value == pytest.approx(2.0)
    finer = weigh(exact.program, exact.values, Weighing(batch_g=100, balance_g=0.01, error_percent=50))
    assert finer.off == ()


def test_a_dear_equality_is_not_chosen_where_an_exact_one_exists():
    brief = wanted(wash(), leaf=2.0).model_copy(
        update={"include": (Include(material="leaf", at_least=2, at_most=2),)}
    )
    exact = exact_of(brief)
    found = weigh(exact.program, exact.values, Weighing(batch_g=50, balance_g=0.5, error_percent=50))
    assert found.off == () and dict(found.percents)["leaf"] == 2.0


def light(batch=100.0, balance=0.1, handling=("dissolve",)):
    library = tiny_library(
        [{"id": "leaf", "function": "extract"}, {"id": "salt", "function": "salt", "handling": handling}]
    )
    brief = Brief(
        title="light",
        library=library,
        law="none",
        include=(
            Include(material="leaf", at_least=5.0),
            Include(material="salt", at_least=0.2, at_most=0.3),
        ),
        weighing=Weighing(batch_g=batch, balance_g=balance),
    )
    return brief, exact_of(brief)


def test_what_is_too_light_is_refused_with_ways_out_that_work():
    brief, exact = light()
    assert weigh(exact.program, exact.values, brief.weighing) is None
    refused = why_not(exact.program, exact.values, brief.weighing)
    assert refused.least_g == pytest.approx(2.5)
    assert [(item.material, round(item.grams, 6)) for item in refused.too_light] == [("salt", 0.2)]
    ways = {way.kind: way for way in refused.ways}
    assert ways["finer balance"].balance_g == 0.01
    assert ways["larger batch"].batch_g == 840.0  # 2.5 g of at most 0.3 %: 833.3 g, in two figures
    (stock,) = ways["stock solution"].stocks
    assert stock.percent == 5.0 and stock.use_g * 0.05 == pytest.approx(0.2)
    assert stock.material_g / (stock.material_g + stock.water_g) == pytest.approx(0.05)
    for way in (ways["finer balance"], ways["larger batch"]):
        other = Weighing(batch_g=way.batch_g, balance_g=way.balance_g)
        assert weigh(exact.program, exact.values, other) is not None
    again = weigh(exact.program, exact.values, brief.weighing, stocks={"salt": 5.0})
    assert again is not None and dict(again.percents)["salt"] == pytest.approx(0.2)
    assert sum(Decimal(str(line.grams)) for line in again.lines) == 100
    words = " ".join(sentences(refused))
    assert "finer" not in words and "reads 0.01 g" in words and "840 g" in words and "5 % solution" in words


def test_what_hardly_dissolves_is_offered_no_stock_solution():
    """Common practice: a powder that is sprinkled in swells or clumps and makes no clear solution to weigh from."""
    for handling in ((), ("sprinkle",), ("melt",)):
        brief, exact = light(handling=handling)
        ways = {way.kind for way in why_not(exact.program, exact.values, brief.weighing).ways}
        assert ways == {"finer balance", "larger batch"}


def test_the_smallest_larger_batch_is_the_smallest():
    _brief, exact = light()
    for size in range(110, 840, 10):
        assert weigh(exact.program, exact.values, Weighing(batch_g=float(size), balance_g=0.1)) is None


def test_an_amount_is_raised_to_what_can_be_weighed_where_that_is_allowed():
    brief, exact = light(batch=1000.0)
    found = weigh(exact.program, exact.values, brief.weighing)
    assert dict(found.percents)["salt"] == pytest.approx(0.25) and found.rounding > 0


def test_design_carries_the_weighable_version_or_the_reason():
    brief, _ = light(batch=1000.0)
    formula = design(brief).formulas[0]
    assert formula.weighable.batch_g == 1000 and formula.not_weighable is None
    refused = design(light()[0]).formulas[0]
    assert refused.weighable is None and refused.not_weighable.ways
    assert any("A way out" in note for note in refused.notes)


def test_a_batch_that_is_no_whole_number_of_steps_is_refused_by_name():
    assert grid_of(100.05, 0.1, 2) is None
    brief, exact = light(batch=100.05)
    assert why_not(exact.program, exact.values, brief.weighing).off_grid


def test_a_typed_formula_is_weighed_as_near_as_steps_allow_and_its_own_breaks_are_let_pass():
    library = wash()
    typed = TypedFormula(
        "today", (("water", 71.23), ("mild", 15.55), ("strong", 10.11), ("leaf", 3.11)), 100.0
    )
    answer = weigh_formula(
        typed, library, Weighing(batch_g=100, balance_g=0.1, error_percent=10), wanted(library, active=50)
    )
    assert [str(item.requirement.key) for item in answer.formulas[0].breaks] == [
        "targets/active matter/at_least"
    ]
    grams = {line.material: line.grams for line in answer.formulas[0].weighable.lines}
    assert grams == {"water": 71.2, "mild": 15.6, "strong": 10.1, "leaf": 3.1} or grams == {
        "water": 71.3, "mild": 15.5, "strong": 10.1, "leaf": 3.1}  # fmt: skip


SOUND = {
    "water": 72.5, "decyl-glucoside": 20.0, "glycerin": 6.0, "sodium-benzoate": 0.5, "potassium-sorbate": 0.3,
    "citric-acid": 0.7,
}  # fmt: skip


@pytest.mark.parametrize(
    "change",
    [
        {},
        {"glycerin": 40.0},
        {"citric-acid": 2.8},
        {"xanthan-gum": 0.1},
        {"sodium-benzoate": 1.7},
        {"phenoxyethanol": 2.0},
        {"decyl-glucoside": 60.0, "glycerin": 33.0},
        {"water": 0.0, "glycerin": 78.5},
    ],
    ids=str,
)
@pytest.mark.parametrize("excluded", [None, "decyl-glucoside"])
def test_whatever_is_typed_is_what_is_weighed(change, excluded):
    """Above or below its use range, against the law, excluded by the brief: it is told, and weighed as typed."""
    library = load_library()
    mixed = {**SOUND, **change}
    if "water" not in change:
        mixed["water"] = 100.0 - sum(value for name, value in mixed.items() if name != "water")
    typed = TypedFormula("typed", tuple((n, v) for n, v in mixed.items() if v), 100.0)
    brief = None
    if excluded:
        brief = Brief(
            title="b",
            library=library,
            targets={"active matter": Target(at_least=1.0)},
            exclude=(Exclude(material=excluded),),
        )
    answer = weigh_formula(typed, library, Weighing(batch_g=1000, balance_g=0.01), brief)
    found = answer.formulas[0].weighable
    assert found is not None
    grams = {line.material: line.grams for line in found.lines}
    assert grams == pytest.approx({name: 10.0 * value for name, value in mixed.items() if value}, abs=0.05)


def test_nothing_typed_is_raised_to_what_can_be_weighed():
    """0.6 % of 250 g is 1.5 g; a balance of 0.1 g weighs 2.5 g within 2 %, and 2.5 g would be 1 %: another formula."""
    lines = (("water", 74.4), ("decyl-glucoside", 20.0), ("glycerin", 5.0), ("xanthan-gum", 0.6))
    typed = TypedFormula("thin", lines, 100.0)
    formula = weigh_formula(typed, load_library(), Weighing(batch_g=250, balance_g=0.1)).formulas[0]
    assert formula.weighable is None
    refused = formula.not_weighable
    assert [(item.material, item.grams) for item in refused.too_light] == [
        ("xanthan-gum", pytest.approx(1.5))
    ]
    ways = {way.kind: way for way in refused.ways}
    assert ways["larger batch"].batch_g == 410.0  # 2.46 g, to the nearest step 2.5 g
    assert ways["finer balance"].balance_g == 0.05  # 1.25 g within 2 %


@pytest.mark.parametrize(("batch", "balance"), [(10, 0.1), (5, 0.1), (12, 0.3), (30, 1)])
@pytest.mark.parametrize("floor", [0.0, 9.95, 10.05])
@pytest.mark.parametrize("typed", [(71.23, 13.17, 11.49, 4.11), (68.4, 16.15, 7.35, 8.1)])
def test_no_grid_solution_is_nearer_to_a_typed_formula(batch, balance, floor, typed):
    """Every way to fill the steps is tried with plain arithmetic; nearness is the sum of the parts each is off by."""
    lines = dict(zip(("water", "mild", "strong", "leaf"), typed, strict=True))
    library, steps = wash(), round(batch / balance)
    brief = wanted(library, active=floor, mildness=1.0, leaf=1.0)
    formula = TypedFormula("typed", tuple(lines.items()), 100.0)
    weighing = Weighing(batch_g=batch, balance_g=balance, error_percent=50)
    found = weigh_formula(formula, library, weighing, brief).formulas[0].weighable
    held = 0.5 * lines["mild"] + 0.3 * lines["strong"] >= floor
    best = math.inf
    for mild, strong, leaf in itertools.product(range(1, steps), repeat=3):
        counts = (steps - mild - strong - leaf, mild, strong, leaf)
        if counts[0] < 1 or (held and (50 * mild + 30 * strong) / steps < floor - 1e-6):
            continue
        if 100 * leaf / steps < 1.0:
            continue
        best = min(best, sum(abs(100 * n / steps - p) / p for n, p in zip(counts, typed, strict=True)))
    assert found is not None
    off = sum(abs(line.percent - lines[line.material]) / lines[line.material] for line in found.lines)
    assert off == pytest.approx(best, abs=1e-9)


def test_a_typed_formula_of_113_percent_is_refused():
    typed = TypedFormula("list", (("water", 100.0), ("leaf", 13.0)), 113.0)
    with pytest.raises(BadInput, match="113"):
        weigh_formula(typed, wash(), Weighing())


def test_numbers_of_drops_by_hand():
    """3.6 g of 10 % citric acid at 1.04 g/mL: 3.46 mL, 69 drops; 20 drops in a mL: common practice, no source."""
    assert drops_of(3.6, density=1.04) == pytest.approx(69.2, abs=0.05)
    assert drops_of(1.0) == 20.0
    assert drops_of(1.0, per_mL=25) == 25.0


def test_drops_stand_beside_a_dosed_acid_of_a_small_trial_only():
    library = load_library()
    lines = (("water", 79.0), ("decyl-glucoside", 20.0), ("citric-acid", 0.4), ("sodium-hydroxide-10", 0.6))
    typed = TypedFormula("trial", lines, 100.0)
    small = weigh_formula(typed, library, Weighing(batch_g=100, balance_g=0.01)).formulas[0].weighable
    drops = {line.material: line.drops for line in small.lines if line.drops is not None}
    assert set(drops) == {"citric-acid", "sodium-hydroxide-10"}
    acid, base = drops["citric-acid"], drops["sodium-hydroxide-10"]
    assert (acid.solution_percent, acid.solution_g, acid.water_g, acid.drops) == (
        10.0,
        pytest.approx(4.0),
        pytest.approx(3.6),
        pytest.approx(80),
    )
    assert base.solution_percent is None and base.drops == pytest.approx(0.6 / 1.11 * 20)
    mine = Weighing(batch_g=100, balance_g=0.01, drops_per_mL=25)
    counted = weigh_formula(typed, library, mine).formulas[0].weighable
    assert {line.material: line.drops.drops for line in counted.lines if line.drops is not None} == {
        "citric-acid": pytest.approx(100),
        "sodium-hydroxide-10": pytest.approx(0.6 / 1.11 * 25),
    }
    large = weigh_formula(typed, library, Weighing(batch_g=5000, balance_g=0.1)).formulas[0].weighable
    assert all(line.drops is None for line in large.lines)


def test_the_salt_of_a_buffer_is_weighed_and_no_crystal_is_dropped():
    """Trisodium citrate is sold with two waters in its crystals, which make it no liquid (294.1 g/mol, 12 % water)."""
    lines = (("water", 79.0), ("decyl-glucoside", 20.0), ("trisodium-citrate", 0.4), ("citric-acid-50", 0.6))
    typed = TypedFormula("trial", lines, 100.0)
    small = weigh_formula(typed, load_library(), Weighing(batch_g=100, balance_g=0.01)).formulas[0].weighable
    assert {line.material for line in small.lines if line.drops is not None} == {"citric-acid-50"}


def test_the_same_question_has_the_same_answer_to_the_last_digit():
    exact = exact_of(wanted(wash()))
    grid = grid_of(777.7, 0.1, 2)
    first, second = (on_grid(exact.program, exact.values, grid) for _ in range(2))
    assert np.array_equal(first.steps, second.steps)
