"""Charges of single substances against explicit formulas, published fractions and finite differences."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiform.chemistry import (
    ChargeTable,
    Titratable,
    populations,
    water_charge_per_gram,
    water_charge_slope,
)
from optiform.chemistry.water import water_ions
from tests.chemistry import substances
from tests.chemistry.one_by_one import charge_slope, ionic_term, mean_charge

titratables = st.builds(
    Titratable,
    molar_mass=st.floats(20.0, 2000.0),
    pka=st.lists(st.floats(-2.0, 15.0), max_size=4).map(lambda values: tuple(sorted(values))),
    charge_acid_form=st.integers(-2, 3).map(float),
    strong_charge=st.integers(-2, 4).map(float),
    effective=st.booleans(),
)
strengths = st.floats(0.0, 1.0)


def test_populations_against_the_explicit_fractions_of_a_triprotic_acid():
    # The textbook form: alpha_j = [H]^(3-j) K1..Kj / (h^3 + h^2 K1 + h K1 K2 + K1 K2 K3), ideal.
    k1, k2, k3 = (10.0**-pka for pka in substances.CITRIC)
    h = 10.0**-5.0
    terms = (h**3, h**2 * k1, h * k1 * k2, k1 * k2 * k3)
    expected = [term / sum(terms) for term in terms]
    assert populations(substances.citric_acid, 5.0, 0.0) == pytest.approx(expected, rel=1e-12)
    mean = -(expected[1] + 2 * expected[2] + 3 * expected[3])
    assert mean_charge(substances.citric_acid, 5.0, 0.0) == pytest.approx(mean, rel=1e-12)
    square = expected[1] + 4 * expected[2] + 9 * expected[3]
    term = 0.5 * square / substances.citric_acid.molar_mass
    assert ionic_term(substances.citric_acid, 5.0, 0.0) == pytest.approx(term, rel=1e-12)


def test_half_is_lost_at_the_pka():
    assert mean_charge(substances.acetic_acid, 4.757, 0.0) == pytest.approx(-0.5)
    assert mean_charge(substances.sodium_benzoate, 4.202, 0.0) == pytest.approx(0.5)
    assert mean_charge(substances.ammonium_chloride, 9.244, 0.0) == pytest.approx(-0.5)


@pytest.mark.parametrize(
    ("substance", "pH", "charge"),
    [
        (substances.sodium_benzoate, 1.0, 1.0),  # benzoic acid and a sodium ion without partner
        (substances.sodium_benzoate, 9.0, 0.0),  # the salt as sold
        (substances.sodium_hydroxide, 7.0, 1.0),
        (substances.hydrogen_chloride, 7.0, -1.0),
        (substances.sodium_chloride, 7.0, 0.0),
        (substances.ammonium_chloride, 5.0, 0.0),
        (substances.betaine, 6.0, 0.0),  # inner salt
        (substances.amine_oxide, 10.0, 0.0),
        (substances.amine_oxide, 2.0, 1.0),
        (substances.sulfosuccinate, 7.0, 0.0),
        (substances.sulfosuccinate, 1.0, 1.0),
    ],
)
def test_charge_far_from_the_pka_is_that_of_one_form(substance, pH, charge):
    assert mean_charge(substance, pH, 0.05) == pytest.approx(charge, abs=4e-3)


def test_charge_per_gram_is_in_milliequivalents():
    table = ChargeTable([substances.sodium_hydroxide, substances.hydrogen_chloride])
    assert table.at(7.0, 0.1) == pytest.approx([25.0, -1000.0 / 36.46])


@given(titratables, st.floats(0.0, 14.0), st.floats(0.0, 14.0), strengths)
def test_charge_falls_as_pH_rises(substance, one, other, strength):
    low, high = sorted((one, other))
    fall = mean_charge(substance, low, strength) - mean_charge(substance, high, strength)
    assert fall >= -1e-12
    assert charge_slope(substance, low, strength) <= 0.0


@given(titratables, st.floats(0.5, 13.5), strengths)
def test_slope_is_the_finite_difference(substance, pH, strength):
    step = 1e-4
    above, below = (mean_charge(substance, pH + sign * step, strength) for sign in (1.0, -1.0))
    assert charge_slope(substance, pH, strength) == pytest.approx((above - below) / (2.0 * step), abs=1e-6)


@given(titratables, st.floats(-100.0, 100.0), strengths)
def test_populations_stay_fractions_at_any_pH(substance, pH, strength):
    fractions = populations(substance, pH, strength)
    assert math.fsum(fractions) == pytest.approx(1.0, abs=1e-14)
    assert min(fractions) >= 0.0


def undissociated_fraction(pka, pH, strength=0.0, *, effective=False):
    return populations(Titratable(molar_mass=1.0, pka=(pka,), effective=effective), pH, strength)[0]


@pytest.mark.parametrize(
    ("pka", "percents"),
    [
        (4.20, (33.39, 13.68, 4.77, 1.56)),  # benzoic
        (4.76, (64.54, 36.53, 15.40, 5.44)),  # sorbic
        (5.27, (85.48, 65.06, 37.06, 15.70)),  # dehydroacetic
        (2.97, (2.87, 0.92, 0.29, 0.09)),  # salicylic
        (4.60, (55.73, 28.47, 11.18, 3.83)),  # levulinic
        (4.47, (48.27, 22.79, 8.54, 2.87)),  # p-anisic
    ],
)
def test_undissociated_fraction_of_preservative_acids(pka, percents):
    # 100 / (1 + 10^(pH - pKa)), worked out apart from this program.
    for pH, percent in zip((4.5, 5.0, 5.5, 6.0), percents, strict=True):
        assert 100.0 * undissociated_fraction(pka, pH) == pytest.approx(percent, abs=0.006)


def test_undissociated_fraction_with_activity_is_smaller_for_a_neutral_acid():
    # pKa' = 4.202 - 0.109174 at 0.1 mol/kg; 1 / (1 + 10^(5 - 4.092826)) = 1 / (1 + 8.07559) = 0.110186
    assert undissociated_fraction(4.202, 5.0, 0.1) == pytest.approx(0.110186, abs=1e-6)
    assert undissociated_fraction(4.202, 5.0, 0.1, effective=True) == undissociated_fraction(4.202, 5.0)


def test_free_ions_of_water():
    assert water_charge_per_gram(13.997 / 2.0, 0.0) == pytest.approx(0.0, abs=1e-20)
    assert water_charge_per_gram(3.0, 0.0) == pytest.approx(1e-3, rel=1e-7)
    assert water_charge_per_gram(11.0, 0.0) == pytest.approx(-(10.0**-2.997), rel=1e-7)
    hydrogen, hydroxide = water_ions(5.0, 0.1)
    assert hydrogen == pytest.approx(1e-5 / 0.77773, rel=1e-4)  # gamma = 10^-0.109174
    assert hydrogen * hydroxide * 0.77773**2 == pytest.approx(10.0**-13.997, rel=2e-4)


@given(st.floats(0.0, 14.0), strengths)
def test_slope_of_water_is_the_finite_difference(pH, strength):
    step = 1e-5
    difference = water_charge_per_gram(pH + step, strength) - water_charge_per_gram(pH - step, strength)
    assert water_charge_slope(pH, strength) == pytest.approx(difference / (2.0 * step), rel=1e-5, abs=1e-12)
    assert water_charge_slope(pH, strength) < 0.0


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"molar_mass": 0.0}, "molar mass"),
        ({"molar_mass": -5.0}, "molar mass"),
        ({"molar_mass": math.nan}, "finite"),
        ({"molar_mass": 100.0, "pka": (4.0, math.inf)}, "finite"),
        ({"molar_mass": 100.0, "pka": (6.4, 4.8)}, "strongest"),
        ({"molar_mass": 100.0, "strong_ion_charge": 0.0}, "counter-ion"),
    ],
)
def test_values_without_meaning_are_refused(values, message):
    with pytest.raises(ValueError, match=message):
        Titratable(**values)


@pytest.mark.parametrize("pH", [math.nan, math.inf, -101.0])
def test_pH_without_meaning_is_refused(pH):
    with pytest.raises(ValueError, match="pH"):
        populations(substances.citric_acid, pH, 0.1)
    with pytest.raises(ValueError, match="pH"):
        water_charge_per_gram(pH, 0.1)
