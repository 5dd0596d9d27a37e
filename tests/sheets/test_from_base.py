"""The record of a shared base and of the products finished from it: sums, order and what stands in which vessel.

Grams are checked by decimal arithmetic of our own; the order of working is common practice, no source.
"""

import math
from decimal import Decimal

import pytest

from optiform.answers.evaluate.typed_formula import evaluate
from optiform.brief.models import Target
from optiform.brief.models import Weighing as Balance
from optiform.library.models import PreservativeSystem
from optiform.sheets.from_base import ProductFromBase, records_from_base, water_left
from optiform.sheets.record.batch import SHARED_BASE
from tests.sheets.kit import bench_library, brief, formula

LIBRARY = bench_library()
COMMON = {"surfactant": 30.0, "cool_preservative": 0.8, "chelator": 0.1}


def product(name, batch_g=1000.0, times=1, library=LIBRARY, fields=(), **percents):
    """Return one product of the common part and its own, with water to 100 %."""
    own = {**COMMON, **percents}
    typed = formula(name, water=round(100.0 - sum(own.values()), 6), **own)
    asked = brief(library, title=name, **dict(fields))
    (judged,) = evaluate(typed, library, asked).formulas
    return ProductFromBase(name, asked, judged, batch_g, times)


def records(products, base=None, **settings):
    """Return the sheets for a base of what is common and the water that all can spare."""
    named = base or {name.replace("_", "-"): share for name, share in COMMON.items()}
    waters = [
        next((line.percent for line in one.formula.lines if line.material == "water"), 0.0)
        - water_left(one.brief.library, one.formula, named)
        for one in products
    ]
    return records_from_base("Quay washes", {**named, "water": min(waters)}, products, **settings)


def grams(sheet):
    return {line.material: Decimal(repr(line.grams)) for line in sheet.batch.batch.lines}


PLAIN = (
    product("nettle", batch_g=1234.5, glycerin=3.0, acid=0.3),
    product("quince", batch_g=777.7, times=3, glycerin=1.0, scent=0.2, acid=0.2),
)


@pytest.mark.parametrize("step", ["0.01", "0.1", "1"])
def test_masses_close_to_the_last_decimal_of_the_balance(step):
    base, *finishes = records(PLAIN, balance_g=float(step))
    for sheet in (base, *finishes):
        weighed = grams(sheet)
        assert all(amount % Decimal(step) == 0 for amount in weighed.values())
        assert sum(weighed.values()) == Decimal(repr(sheet.batch.batch.total_g))
    drawn = [grams(sheet)[SHARED_BASE] for sheet in finishes]
    assert drawn[0] + 3 * drawn[1] == Decimal(repr(base.batch.batch.total_g))


def test_what_is_weighed_is_the_formula_within_half_a_step_of_each_weighing():
    base, *finishes = records(PLAIN)
    total = Decimal(repr(base.batch.batch.total_g))
    for sheet, one in zip(finishes, PLAIN, strict=True):
        own, share = grams(sheet), grams(sheet)[SHARED_BASE] / total
        for line in one.formula.lines:
            held = own.get(line.material, Decimal(0)) + share * grams(base).get(line.material, Decimal(0))
            if line.material != "water":
                assert float(held) == pytest.approx(line.percent * one.batch_g / 100, abs=0.0101), (
                    line.material
                )


def test_more_base_is_made_where_some_is_to_spare():
    (tight, *_), (spared, *finishes) = records(PLAIN), records(PLAIN, spare_percent=2.0)
    assert spared.batch.batch.total_g == pytest.approx(1.02 * tight.batch.batch.total_g, abs=0.01)
    assert any("Nothing is made to spare" in note for note in tight.batch.notes)
    assert not any("Nothing is made to spare" in note for note in spared.batch.notes)
    taken = next(part for part in spared.batch.after if part.key == "taken")
    left = Decimal(taken.blanks[-1].wanted)
    drawn = grams(finishes[0])[SHARED_BASE] + 3 * grams(finishes[1])[SHARED_BASE]
    assert drawn + left == Decimal(repr(spared.batch.batch.total_g))
    assert taken.blanks[1].wanted == f"3 times {grams(finishes[1])[SHARED_BASE]:.2f}"


@pytest.mark.parametrize("place", range(3))
def test_the_portions_of_all_steps_are_the_batch(place):
    sheet = records(PLAIN)[place]
    for line in sheet.batch.batch.lines:
        taken = [p.grams for step in sheet.batch.procedure.steps for p in step.portions
                 if p.material == line.material]  # fmt: skip
        assert math.fsum(taken) == pytest.approx(line.grams, abs=1e-9), line.material
    assert not any("Not placed" in note for note in sheet.batch.notes)


def kinds(sheet):
    return [step.kind for step in sheet.batch.procedure.steps]


def test_acid_waits_for_each_product_and_the_base_is_only_read():
    base, nettle, _ = records(PLAIN)
    assert "acid" not in grams(base)
    (read,) = (step for step in base.batch.procedure.steps if step.kind == "pH")
    assert "Computed: about" in read.what
    assert not read.portions
    (dosed,) = (step for step in nettle.batch.procedure.steps if step.kind == "pH")
    assert {p.material for p in dosed.portions} == {"acid"}
    dose = PLAIN[0].formula.acidity.doses[0]
    assert dosed.portions[0].high_g == pytest.approx(dose.high * 12.345, abs=0.005)


def test_the_product_with_the_least_water_keeps_what_its_dose_and_its_powders_need():
    """Four times its weight dissolves a powder, the reserve makes room for the upper end of the dose: by hand."""
    _, nettle, _ = records(PLAIN)
    acidity = PLAIN[0].formula.acidity
    kept = acidity.reserve + 4.0 * acidity.doses[0].high
    assert water_left(LIBRARY, PLAIN[0].formula, COMMON) == pytest.approx(kept)
    assert nettle.batch.procedure.held_back_g == pytest.approx(kept * 12.345, abs=0.02)
    assert float(grams(nettle)["water"]) == pytest.approx(kept * 12.345, abs=0.02)
    assert not any("to hold back would be more" in note for note in nettle.batch.notes)
    first = nettle.batch.procedure.steps[0]
    assert first.kind == "base"
    assert "clean vessel" in first.what
    assert "Hold back" in first.what


def test_a_product_without_water_of_its_own_is_told_so():
    bare = product("oil wash", glycerin=69.1)
    assert all(line.material != "water" for line in bare.formula.lines)
    sheet = records_from_base(
        "Quay washes", {"surfactant": 30.0, "cool-preservative": 0.8, "chelator": 0.1}, [bare]
    )[1]
    assert kinds(sheet)[0] == "base"
    assert any("All water of this product is in its shared base" in note for note in sheet.batch.notes)


def test_a_gum_of_one_product_swells_in_water_of_its_own_before_the_base_runs_in():
    """50 times its weight: a 2 % stock (common practice, no source)."""
    thick = product("thick", gum=0.5, glycerin=3.0)
    assert water_left(LIBRARY, thick.formula, COMMON) == pytest.approx(25.0, abs=0.5)
    _, sheet, _ = records((thick, product("thin", glycerin=1.0)))
    order = kinds(sheet)
    assert order.index("water") < order.index("slurry") < order.index("base")


def test_acid_that_all_share_goes_into_the_base_and_each_product_adds_what_it_still_lacks():
    pair = (product("nettle", glycerin=3.0, acid=0.2), product("quince", glycerin=1.0, acid=0.2))
    shared = {"surfactant": 30.0, "cool-preservative": 0.8, "chelator": 0.1, "acid": 0.2}
    base, nettle, _ = records(pair, shared)
    (step,) = (step for step in base.batch.procedure.steps if step.kind == "pH")
    assert {p.material for p in step.portions} == {"acid"}
    assert "to the stated amount" in step.what
    (ready,) = (p for p in nettle.batch.procedure.ready if p.material == "acid")
    dose = pair[0].formula.acidity.doses[0]
    assert ready.high_g == pytest.approx((dose.high - 0.2) * 10.0, abs=0.02)


def test_a_polymer_in_the_base_is_neutralised_in_the_product():
    pair = tuple(
        product(name, polymer=0.2, lye=0.3, glycerin=polyol)
        for name, polyol in (("nettle", 3.0), ("quince", 1.0))
    )
    shared = {"surfactant": 30.0, "cool-preservative": 0.8, "chelator": 0.1, "polymer": 0.2}
    base, nettle, _ = records(pair, shared)
    assert any("until it is neutralised, when each product is finished" in note for note in base.batch.notes)
    order = kinds(nettle)
    assert order.index("base") < order.index("neutralise")


def test_heat_that_the_base_cannot_bear_is_told():
    """The wax melts at 70 C, the preservative of the base suffers above 45 C."""
    _, nettle, quince = records((product("nettle", wax=1.0), product("quince", glycerin=1.0)))
    assert any("70 C" in note and "Cool preservative" in note for note in nettle.batch.notes)
    assert not any("70 C" in note for note in quince.batch.notes)


def test_a_base_outside_the_window_of_its_preservative_is_not_to_stand():
    """Benzoate works below pH 5.2 here; with lye beside it the base is far above that."""
    system = PreservativeSystem(name="benzoate", members={"benzoate": (0.3, 1.0)}, pH=(None, 5.2))
    held = bench_library(systems=(system,))
    pair = tuple(
        product(name, library=held, benzoate=0.5, acid=a) for name, a in (("nettle", 0.3), ("quince", 0.4))
    )
    shared = {"surfactant": 30.0, "cool-preservative": 0.8, "chelator": 0.1, "benzoate": 0.5}
    base, *_ = records(pair, shared)
    assert any("is not preserved" in note and "the day the base is made" in note for note in base.batch.notes)
    without, *_ = records(PLAIN)
    assert not any("no surfactant" in note for note in without.batch.notes)
    bare, *_ = records(PLAIN, {"cool-preservative": 0.8, "chelator": 0.1})
    assert any("Cool preservative stronger than a product does" in note for note in bare.batch.notes)
    assert any("holds no preservative system" in note for note in without.batch.notes)


def test_the_balance_of_the_briefs_is_taken_and_what_it_cannot_weigh_is_told():
    """Acid of 0.3 % in 100 g is 0.3 g, less than a balance of 1 g shows."""
    coarse = {"weighing": Balance(balance_g=1.0), "targets": {"pH": Target(at_least=3.0, at_most=9.0)}}
    pair = tuple(
        product(name, batch_g=100.0, glycerin=polyol, acid=0.3, fields=coarse)
        for name, polyol in (("nettle", 3.0), ("quince", 1.0))
    )
    base, *finishes = records(pair)
    assert base.batch.batch.balance_g == 1.0
    for sheet in finishes:
        assert any(line.too_light for line in sheet.batch.batch.lines)
        assert any("Too light for this balance" in note for note in sheet.batch.notes)
