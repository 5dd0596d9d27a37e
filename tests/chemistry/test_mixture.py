"""pH of mixtures: standstill, the two rows, titrations, curves and refusals."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiform.chemistry import (
    ChargeTable,
    Mixture,
    NoWaterError,
    OffScaleError,
    OutsideCurveError,
    TitrationCurve,
    held,
    pH_of,
    titration,
)
from optiform.chemistry.balance import Balance, set_strength
from tests.chemistry import substances
from tests.chemistry.one_by_one import charge_of

TABLE = ChargeTable(substances.everything)
SIZE = len(substances.everything)


def mixture_of(amounts, **rest):
    grams = np.zeros(SIZE)
    for substance, mass in amounts.items():
        grams[substances.everything.index(substance)] = mass
    return Mixture(grams=grams, **{"water": 90.0, **rest})


WASH = mixture_of(
    {
        substances.sodium_lauryl_sulfate: 6.0,
        substances.betaine: 3.0,
        substances.sodium_chloride: 1.0,
        substances.sodium_benzoate: 0.5,
        substances.citric_acid: 0.2,
    },
    water=85.0,
    free_alkali=0.3,
    surfactant=np.array(
        [one in (substances.sodium_lauryl_sulfate, substances.betaine) for one in substances.everything]
    ),
)

masses = st.one_of(st.just(0.0), st.floats(1e-4, 3.0))
mixtures = st.builds(
    Mixture,
    grams=st.lists(masses, min_size=SIZE, max_size=SIZE).map(np.array),
    water=st.floats(30.0, 100.0),
    free_alkali=st.floats(-2.0, 2.0),
)


@given(mixtures)
def test_charge_is_balanced_and_ionic_strength_stands_still(mixture):
    found = pH_of(mixture, TABLE)
    inside = held(found.ionic_strength)
    left = charge_of(mixture, TABLE, found.pH, inside)
    assert left == pytest.approx(0.0, abs=1e-9 * max(1.0, found.buffer_capacity))
    assert set_strength(Balance(mixture, TABLE), found.pH) == pytest.approx(found.ionic_strength, abs=1e-8)
    assert found.held == (found.ionic_strength > 2.0)
    assert found.buffer_capacity > 0.0


@given(mixtures, st.floats(2.0, 12.0), st.floats(0.0, 3.0))
def test_two_rows_hold_exactly_when_the_pH_lies_in_the_window(mixture, low, width):
    found = pH_of(mixture, TABLE)
    inside, high = held(found.ionic_strength), low + width
    if min(abs(found.pH - low), abs(found.pH - high)) < 1e-9:
        return
    rows = charge_of(mixture, TABLE, low, inside) >= 0.0 >= charge_of(mixture, TABLE, high, inside)
    assert rows == (low <= found.pH <= high)


@given(mixtures, st.floats(-2.0, 2.0), st.floats(-2.0, 2.0))
def test_total_charge_is_linear_in_the_amounts(mixture, times, other_times):
    other = WASH
    one, two = abs(times), abs(other_times)
    together = Mixture(
        grams=one * mixture.grams + two * other.grams,
        water=one * mixture.water + two * other.water + 1e-9,
        free_alkali=one * mixture.free_alkali + two * other.free_alkali,
    )
    expected = one * charge_of(mixture, TABLE, 5.2, 0.1) + two * charge_of(other, TABLE, 5.2, 0.1)
    assert charge_of(together, TABLE, 5.2, 0.1) == pytest.approx(expected, abs=1e-8)


@given(mixtures, st.floats(2.5, 11.5))
def test_acid_of_a_titration_brings_the_mixture_there(mixture, pH):
    (acid,) = titration(mixture, TABLE, [pH])
    strong = substances.hydrogen_chloride if acid > 0.0 else substances.sodium_hydroxide
    dose = strong.molar_mass * abs(acid) / 10.0 / 1000.0
    dosed = Mixture(
        grams=np.append(mixture.grams, dose), water=mixture.water, free_alkali=mixture.free_alkali
    )
    found = pH_of(dosed, ChargeTable([*substances.everything, strong]))
    assert found.pH == pytest.approx(pH, abs=1e-6)


def test_titration_falls_with_pH():
    acid = titration(WASH, TABLE, np.linspace(2.0, 12.0, 41))
    assert np.all(np.diff(acid) < 0.0)
    assert acid[0] > 0.0 > acid[-1]


def test_titration_of_a_strong_base_in_water():
    # 10 g of a material with 90 mmol/kg of free alkali in 90 g of water: 9 mmol/kg of mixture at pH 7.
    mixture = Mixture(grams=np.zeros(0), water=95.0, free_alkali=0.9)
    assert titration(mixture, ChargeTable([]), [7.0])[0] == pytest.approx(9.0, abs=1e-3)


def test_buffer_capacity_of_half_neutralised_acid():
    # At pH = pKa the capacity of a monoprotic buffer is ln 10 * c / 4; here c = 1 mmol per 100 g.
    mixture = mixture_of({substances.amine_oxide: 0.2294}, water=99.0, free_alkali=-0.5)
    found = pH_of(mixture, TABLE)
    assert found.pH == pytest.approx(5.9, abs=0.01)
    assert found.buffer_capacity == pytest.approx(math.log(10.0) / 4.0, rel=2e-3)


def test_buffer_capacity_is_what_a_little_base_does():
    step = 1e-4
    mixture = mixture_of({substances.amine_oxide: 0.5}, free_alkali=-0.9)
    more = mixture_of({substances.amine_oxide: 0.5}, free_alkali=-0.9 + step)
    one, other = pH_of(mixture, TABLE), pH_of(more, TABLE)
    # Constants are effective here, so nearly all of the slope is at fixed activity.
    assert step / (other.pH - one.pH) == pytest.approx(one.buffer_capacity, rel=1e-2)


def test_ionic_strength_above_the_limit_is_told_and_held():
    salty = mixture_of({substances.sodium_chloride: 12.0, substances.citric_acid: 0.2})
    found = pH_of(salty, TABLE)
    assert found.held
    assert found.ionic_strength == pytest.approx(1000.0 * 12.0 / 58.44 / 90.0, rel=0.02)
    assert charge_of(salty, TABLE, found.pH, 2.0) == pytest.approx(0.0, abs=1e-9)


def test_caustic_in_little_water_may_pass_pH_fourteen():
    # 10 g NaOH in 90 g water: 2.778 mol/kg, gamma held at 10^-0.230619
    found = pH_of(mixture_of({substances.sodium_hydroxide: 10.0}), TABLE)
    assert found.pH == pytest.approx(13.997 + math.log10(2.7778) - 0.230619, abs=1e-4)
    assert found.held


def test_substances_absent_change_nothing():
    small = ChargeTable([substances.citric_acid])
    one = pH_of(mixture_of({substances.citric_acid: 0.3}), TABLE)
    other = pH_of(Mixture(grams=np.array([0.3]), water=90.0), small)
    assert one == other


def test_neutral_substances_change_nothing():
    table = ChargeTable([substances.citric_acid, None])
    with_neutral = pH_of(Mixture(grams=np.array([0.3, 5.0]), water=90.0), table)
    assert with_neutral == pH_of(Mixture(grams=np.array([0.3, 0.0]), water=90.0), table)


def test_same_input_same_output_to_the_last_digit():
    assert pH_of(WASH, TABLE) == pH_of(WASH, TABLE)


def test_titration_curve_in_place_of_the_computed_one():
    # The bench curve of a benzoate solution, diluted again: the same pH as from its substances.
    stock = mixture_of({substances.sodium_benzoate: 0.5, substances.citric_acid: 0.1}, water=99.4)
    computed = pH_of(stock, TABLE)
    nearly_dry = Mixture(grams=stock.grams, water=1e-9)
    pHs = tuple(float(pH) for pH in np.linspace(3.0, 8.0, 2001))
    charges = tuple(10.0 * charge_of(nearly_dry, TABLE, pH, computed.ionic_strength) for pH in pHs)
    bench = Mixture(
        grams=np.zeros(SIZE),
        water=99.4,
        curves=((TitrationCurve(pHs, charges), 100.0),),
        grams_under_curves=stock.grams,
    )
    found = pH_of(bench, TABLE)
    assert found.pH == pytest.approx(computed.pH, abs=1e-4)
    assert found.ionic_strength == pytest.approx(computed.ionic_strength, rel=1e-4)
    assert found.buffer_capacity == pytest.approx(computed.buffer_capacity, rel=1e-2)


def test_pH_beyond_a_titration_curve_is_refused_and_named():
    curve = TitrationCurve((4.5, 8.0), (800.0, 10.0), name="amphoacetate")
    for free_alkali, where in ((-50.0, "below 4.5"), (50.0, "above 8")):
        mixture = Mixture(grams=np.zeros(SIZE), water=80.0, free_alkali=free_alkali, curves=((curve, 10.0),))
        with pytest.raises(OutsideCurveError, match=f"{where}.*amphoacetate"):
            pH_of(mixture, TABLE)
    mixture = Mixture(grams=np.zeros(SIZE), water=80.0, free_alkali=-4.0, curves=((curve, 10.0),))
    assert 4.5 < pH_of(mixture, TABLE).pH < 8.0
    with pytest.raises(OutsideCurveError, match="not pH 9"):
        titration(mixture, TABLE, [9.0])


def test_curves_without_common_range_are_refused():
    curves = ((TitrationCurve((3.0, 4.0), (9.0, 1.0)), 1.0), (TitrationCurve((5.0, 6.0), (9.0, 1.0)), 1.0))
    with pytest.raises(OutsideCurveError, match="share no pH range"):
        pH_of(Mixture(grams=np.zeros(SIZE), water=90.0, curves=curves), TABLE)


def test_mixture_without_water_has_no_pH():
    dry = mixture_of({substances.citric_acid: 1.0}, water=0.0)
    for question in (
        lambda: pH_of(dry, TABLE),
        lambda: titration(dry, TABLE, [5.0]),
        lambda: charge_of(dry, TABLE, 5.0, 0.1),
    ):
        with pytest.raises(NoWaterError, match="no water"):
            question()


def test_more_base_than_water_can_carry_is_refused():
    with pytest.raises(OffScaleError, match="above 16"):
        pH_of(mixture_of({substances.sodium_hydroxide: 50.0}, water=0.1), TABLE)
    with pytest.raises(OffScaleError, match="below -2"):
        pH_of(mixture_of({substances.hydrogen_chloride: 50.0}, water=0.1), TABLE)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"grams": np.array([-1.0]), "water": 90.0}, "mass"),
        ({"grams": np.array([np.nan]), "water": 90.0}, "mass"),
        ({"grams": np.array([1.0]), "water": -90.0}, "mass"),
        ({"grams": np.array([1.0]), "water": 90.0, "free_alkali": math.inf}, "free alkali"),
        ({"grams": np.zeros((2, 2)), "water": 90.0}, "shape"),
        ({"grams": np.zeros(2), "water": 90.0, "surfactant": np.array([True])}, "surfactant"),
        ({"grams": np.zeros(2), "water": 90.0, "grams_under_curves": np.zeros(3)}, "grams_under_curves"),
    ],
)
def test_what_is_no_mixture_is_refused(values, message):
    with pytest.raises(ValueError, match=message):
        Mixture(**values)


def test_mixture_and_table_of_different_lengths_are_refused():
    with pytest.raises(ValueError, match="2 masses for a table of 1"):
        pH_of(Mixture(grams=np.zeros(2), water=90.0), ChargeTable([substances.citric_acid]))


def test_mixture_keeps_its_own_read_only_arrays():
    grams = np.zeros(SIZE)
    mixture = Mixture(grams=grams, water=90.0)
    grams[0] = 5.0
    assert mixture.grams[0] == 0.0
    with pytest.raises(ValueError, match="read-only"):
        mixture.grams[0] = 1.0
