"""The order of making, from handling words; common practice, no source."""

import math

import numpy as np
import pytest

from optiform.answers.evaluate.typed_formula import evaluate
from optiform.library import load_library
from optiform.library.models import Needs, Rules
from optiform.sheets.record.batch import weigh
from optiform.sheets.record.procedure import procedure_of
from optiform.sheets.unit import Unit
from tests.answers.describe.lots_by_draws import DrawnLots
from tests.seeds import seeds
from tests.sheets.kit import bench_library, brief, formula


def dosing_of(library, typed):
    return evaluate(typed, library).formulas[0].acidity


def procedure(library=None, batch_g=1000.0, needs=(), **percents):
    library = library or bench_library()
    typed = formula(water=100.0 - sum(percents.values()), **percents)
    batch = weigh(typed.lines, library, batch_g)
    return batch, procedure_of(batch, library, needs, dosing_of(library, typed))


def position(found, kind, material=None):
    for step in found.steps:
        if step.kind == kind and (material is None or material in {p.material for p in step.portions}):
            return step.number
    raise AssertionError(f"no step {kind} with {material}")


def holding(found, material):
    return [step for step in found.steps if material in {p.material for p in step.portions}]


ALL = {
    "gum": 0.5, "glycerin": 3.0, "polymer": 0.2, "cationic_gum": 0.2, "benzoate": 0.5, "chelator": 0.1, "oil": 1.0,
    "wax": 1.0, "surfactant": 20.0, "needles": 5.0, "cool_preservative": 0.8, "scent": 0.2, "solubiliser": 0.6,
    "pearl": 1.0, "clay": 1.0, "salt": 0.5, "acid": 0.4, "lye": 0.2,
}  # fmt: skip


@pytest.mark.parametrize("batch_g", [100.0, 999.99, 5000.0])
def test_the_portions_of_all_steps_are_the_batch_gram_for_gram(batch_g):
    batch, found = procedure(batch_g=batch_g, **ALL)
    for line in batch.lines:
        taken = math.fsum(
            p.grams for step in found.steps for p in step.portions if p.material == line.material
        )
        assert taken == pytest.approx(line.grams, abs=1e-9), line.material
    assert [step.number for step in found.steps] == list(range(1, len(found.steps) + 1))
    assert not any("Not placed" in note for note in found.notes)


def test_gum_is_slurried_in_what_the_house_rule_names_before_it_meets_water():
    needs = Needs(material="gum", other="glycerin", ratio=4.0, why="gum clumps unless slurried first")
    _, found = procedure(needs=(needs,), gum=0.5, glycerin=3.0)
    (step,) = holding(found, "gum")
    assert step.kind == "slurry"
    assert [p.material for p in step.portions] == ["glycerin", "gum"]
    assert "Gum clumps unless slurried first." in step.why
    assert step.hours == 1.0


def test_without_a_rule_the_humectant_of_the_gum_phase_wets_it_and_without_any_a_note_warns():
    _, found = procedure(gum=0.5, glycerin=3.0)
    assert {p.material for p in holding(found, "gum")[0].portions} == {"gum", "glycerin"}
    _, bare = procedure(gum=0.5)
    assert any("expect lumps" in note for note in bare.notes)


def test_a_polymer_is_sprinkled_on_still_water_and_swells_for_its_hours():
    _, found = procedure(polymer=0.3, lye=0.2)
    (step,) = holding(found, "polymer")
    assert step.kind == "sprinkle"
    assert step.hours == 8.0
    assert "Stop the stirrer" in step.what
    assert "8 hours" in step.what


def test_what_must_swell_before_acid_comes_before_it():
    _, found = procedure(**ALL)
    acid = position(found, "pH", "acid")
    for material in ("polymer", "benzoate"):
        assert max(step.number for step in holding(found, material)) < acid
    assert "before any acid" in holding(found, "polymer")[0].why
    assert "before any acid" in holding(found, "benzoate")[0].why


def sour_library(*handling):
    """The bench library with an acid that is a solution, and a gum handled as these words say."""
    library = bench_library()
    words = {"acid": ("last",), "cationic-gum": handling}
    changed = [m.model_copy(update={"handling": words.get(m.id, m.handling)}) for m in library.materials]
    return library.model_copy(update={"materials": tuple(changed)})


def test_a_gum_that_swells_in_acid_water_gets_a_little_of_the_acid_before_the_surfactants():
    """Common practice, no source: cationic guar is slurried and soured to pH 5 to 6.5 before anything foams."""
    library = sour_library("slurry", "acid-slurry")
    batch, found = procedure(
        library, cationic_gum=0.4, glycerin=2.0, surfactant=20.0, benzoate=0.5, acid=0.4, lye=0.1
    )
    first, rest = holding(found, "acid")
    assert first.kind == "slurry" and "pH" in first.what
    assert (
        position(found, "slurry", "cationic-gum") < first.number < position(found, "surfactant", "surfactant")
    )
    assert 0 < first.portions[0].grams <= 0.1 * batch.line("acid").grams + 0.01
    assert first.portions[0].grams + rest.portions[0].grams == pytest.approx(
        batch.line("acid").grams, abs=1e-9
    )


def test_the_handling_words_alone_decide_that():
    """The same gum, with its tag and without the word: nothing is soured."""
    _, found = procedure(
        sour_library("slurry"), cationic_gum=0.4, glycerin=2.0, surfactant=20.0, acid=0.4, lye=0.1
    )
    assert len(holding(found, "acid")) == 1
    _, found = procedure(
        sour_library("slurry", "acid-slurry"), cationic_gum=0.4, glycerin=2.0, surfactant=20.0
    )
    assert any("have a few drops of acid ready" in note for note in found.notes)


def test_an_acid_of_the_water_phase_waits_where_something_must_come_before_acid():
    library = bench_library()
    changed = [m.model_copy(update={"phase": "water"}) if m.id == "acid" else m for m in library.materials]
    library = library.model_copy(update={"materials": tuple(changed)})
    _, found = procedure(library, benzoate=0.5, acid=0.3)
    assert position(found, "pH", "acid") > position(found, "dissolve", "benzoate")
    assert any("waits for the last steps" in note for note in found.notes)


def test_a_polymer_that_thickens_on_neutralising_gets_its_base_after_the_surfactants():
    _, found = procedure(polymer=0.3, surfactant=20.0, lye=0.5, acid=0.01)
    step = position(found, "neutralise", "lye")
    assert position(found, "surfactant", "surfactant") < step < position(found, "pH", "acid")
    _, without = procedure(polymer=0.3)
    assert any("only when neutralised" in note for note in without.notes)


def test_the_only_base_neutralises_in_part_and_the_meter_decides_the_rest_at_the_end():
    """Where the base is the dose too, its last grams wait: what goes in later moves the pH again."""
    batch, found = procedure(polymer=0.3, surfactant=20.0, benzoate=0.5, lye=0.5, cool_preservative=0.8)
    first, last = holding(found, "lye")
    assert (first.kind, last.kind) == ("neutralise", "pH")
    begun, rest = (next(p for p in step.portions if p.material == "lye") for step in (first, last))
    assert begun.low_g is None
    assert begun.grams + rest.grams == pytest.approx(batch.line("lye").grams, abs=1e-9)
    assert 0 < rest.low_g < rest.grams < rest.high_g
    assert begun.grams == pytest.approx(0.9 * (begun.grams + rest.low_g), abs=0.011)
    assert found.reserve_g >= rest.high_g - rest.grams - 0.011
    assert position(found, "preserve", "cool-preservative") < last.number
    assert "no acid or base" not in last.why


def test_the_words_of_a_step_fit_what_is_in_it():
    _, without = procedure(oil=5.0, lye=0.5, surfactant=20.0)
    premix = next(step for step in without.steps if step.kind == "premix")
    assert "mulsifier" not in premix.why
    make_up = next(step for step in without.steps if step.kind == "make up")
    assert "solution" not in make_up.what
    _, powdered = procedure(acid=0.4, lye=1.0)
    assert "solution" in next(step for step in powdered.steps if step.kind == "make up").what


def test_oil_goes_into_the_swollen_polymer_and_hot_oil_into_a_hot_vessel():
    _, found = procedure(**ALL)
    oil = position(found, "emulsify")
    assert (
        position(found, "sprinkle", "polymer")
        < position(found, "heat")
        < position(found, "melt", "wax")
        < oil
    )
    heated = [step for step in found.steps if step.kind == "heat" and step.number < oil]
    assert heated
    assert heated[-1].above_C == 70.0


def test_surfactants_are_added_without_whipping_powders_first():
    _, found = procedure(**ALL)
    assert position(found, "surfactant", "needles") < position(found, "surfactant", "surfactant")
    assert "no vortex" in holding(found, "surfactant")[0].what


def test_the_vessel_cools_before_what_heat_harms():
    _, found = procedure(**ALL)
    cooled = next(step for step in found.steps if step.kind == "cool")
    preservative = holding(found, "cool-preservative")[0]
    assert preservative.below_C == 45.0
    assert cooled.below_C == 40.0
    assert cooled.number < preservative.number
    cold_batch, cold = procedure(cool_preservative=0.8, surfactant=20.0)
    assert cold_batch.total_g == 1000.0
    assert not any(step.kind in ("cool", "heat") for step in cold.steps)


def test_a_later_cooler_step_cools_again_and_never_twice_to_the_same():
    _, found = procedure(**ALL)
    limits = [step.below_C for step in found.steps if step.kind == "cool"]
    assert limits == sorted(set(limits), reverse=True)
    assert limits[-1] == 30.0


def test_fragrance_meets_its_solubiliser_first():
    _, found = procedure(scent=0.2, solubiliser=0.6)
    (step,) = holding(found, "scent")
    assert step.kind == "premix"
    assert {p.material for p in step.portions} == {"scent", "solubiliser"}


def test_powders_that_settle_come_after_the_polymer_that_holds_them():
    _, found = procedure(**ALL)
    assert position(found, "sprinkle", "polymer") < position(found, "suspend", "clay")


def test_the_pH_comes_last_with_its_range_and_the_reserve_was_held_back():
    batch, found = procedure(acid=0.4, lye=1.0, surfactant=20.0)
    kinds = [step.kind for step in found.steps]
    assert kinds[-3:] == ["pH", "make up", "rest"]
    dose = next(p for p in holding(found, "acid")[0].portions if p.material == "acid")
    assert dose.low_g < dose.grams < dose.high_g
    assert found.steps[-1].hours == 24.0
    assert found.held_back_g >= found.reserve_g > 0
    first, last = holding(found, "water")
    assert first.portions[0].grams == pytest.approx(batch.line("water").grams - found.held_back_g)
    assert last.portions[0].grams == pytest.approx(found.held_back_g)
    assert found.reserve_g >= dose.high_g - dose.grams - 0.011
    assert f"{found.held_back_g:.2f} g" in first.what


def test_the_range_of_the_dose_is_that_of_likely_lots():
    """One lot in twenty still needs more than the high end for the computed pH, one in twenty less than the low end."""
    library = bench_library()
    typed = formula(water=80.0, surfactant=18.6, acid=0.4, lye=1.0)
    acidity = dosing_of(library, typed)
    dose = next(dose for dose in acidity.doses if dose.material == "acid")
    assert dose.low < dose.percent < dose.high
    for percent, above in ((dose.high, 0.05), (dose.low, 0.95)):
        amounts = {**typed.amounts, "acid": percent, "water": 80.0 + 0.4 - percent}
        lots = DrawnLots(library, amounts, acidity.ionic_strength, count=4000)
        assert np.mean(lots.charge(acidity.pH) > 0) == pytest.approx(above, abs=0.02)


def test_a_batch_without_acid_says_that_adding_some_is_another_formula():
    _, found = procedure(surfactant=20.0, benzoate=0.5)
    step = next(step for step in found.steps if step.kind == "pH")
    assert not step.portions
    assert "changes the formula" in step.why


def test_a_powdered_acid_is_dissolved_in_held_back_water_of_stated_strength():
    _batch, found = procedure(acid=0.4, lye=1.0)
    step = holding(found, "acid")[0]
    high = next(p.high_g for p in step.portions if p.material == "acid")
    assert f"{high:.2f} g of Acid in {4 * high:.2f} g" in step.what
    assert "20 %" in step.what
    assert found.held_back_g == pytest.approx(found.reserve_g + 4 * high, abs=0.02)


def test_water_that_stays_in_unused_solution_is_made_up_for():
    """Of a 20 % solution for the high end 5 (high - dose) g stay unused, more than the reserve of high - plan."""
    batch, found = procedure(acid=0.4, lye=1.0)
    dose = next(p for p in holding(found, "acid")[0].portions if p.material == "acid")
    vessel = 1000.0 - found.held_back_g - dose.grams + 5 * dose.grams
    left = found.held_back_g - 4 * dose.high_g
    assert 1000.0 - vessel > left + 1.0
    make_up = next(step for step in found.steps if step.kind == "make up")
    assert "then fresh water" in make_up.what
    assert f"until the batch weighs {batch.total_g:.2f} g" in make_up.what


@pytest.mark.parametrize("seed", seeds(10, 30))
def test_any_mixture_of_the_starter_library_is_placed_whole(seed):
    library = load_library()
    random = np.random.default_rng(seed)
    names = [m.id for m in library.materials if m.function != "water"]
    chosen = random.choice(names, size=14, replace=False)
    percents = random.uniform(0.05, 4.0, size=14).round(2)
    typed = formula(
        **{"water": float(100 - percents.sum()), **dict(zip(chosen, map(float, percents), strict=True))}
    )
    batch = weigh(typed.lines, library, 1500.0, 0.01)
    found = procedure_of(batch, library, library.rules.needs, dosing_of(library, typed))
    for line in batch.lines:
        taken = math.fsum(
            p.grams for step in found.steps for p in step.portions if p.material == line.material
        )
        assert taken == pytest.approx(line.grams, abs=1e-9), line.material
    for step in found.steps:
        assert step.what
        assert step.why, step.what


def test_the_record_counts_what_goes_into_samples():
    """1000 g at a yield of 96 % are 960 g of bulk; 40 g retained and 20 g tested leave 900 g to fill."""
    from optiform.sheets.record.batch_record import batch_record

    library = bench_library()
    batch = weigh(formula(water=79.5, gum=0.5, surfactant=20.0).lines, library, 1000.0)
    unit = Unit(contents_g=100.0, yield_percent=96.0, retained_g=40.0, tested_g=20.0)
    record = batch_record(batch, library, brief(library), None, title="t", formula="f", unit=unit)
    told = {blank.key: blank.wanted for part in record.after for blank in part.blanks}
    assert [told[key] for key in ("bulk", "retained", "tested", "to fill")] == ["960", "40", "20", "900"]
    plain = batch_record(batch, library, brief(library), None, title="t", formula="f")
    assert all(not blank.wanted for part in plain.after[1:] for blank in part.blanks)
    assert {"retained", "tested", "to fill"} <= {blank.key for part in plain.after for blank in part.blanks}


def test_rules_of_a_brief_count_as_those_of_the_library():
    from optiform.sheets.record.batch_record import batch_record

    library = bench_library()
    rule = Needs(material="gum", other="surfactant", why="this gum likes it")
    asked = brief(library, rules=Rules(needs=(rule,)))
    typed = formula(water=79.5, gum=0.5, surfactant=20.0)
    record = batch_record(weigh(typed.lines, library, 100.0), library, asked, None, title="t", formula="f")
    assert {p.material for p in holding(record.procedure, "gum")[0].portions} == {"gum", "surfactant"}
