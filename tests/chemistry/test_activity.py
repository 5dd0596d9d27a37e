"""Davies coefficients against hand calculation and against measured salts."""

import math

import pytest

from optiform.chemistry import IONIC_STRENGTH_LIMIT, conditional_pka, davies_term, held, log_gamma


def test_davies_by_hand_at_one_tenth():
    # sqrt(0.1) = 0.316228; / 1.316228 = 0.240253; - 0.3 * 0.1 = 0.210253; * 0.509 = 0.107019
    assert davies_term(0.1) == pytest.approx(0.210253, abs=1e-6)
    assert log_gamma(1.0, 0.1) == pytest.approx(-0.107019, abs=1e-6)
    assert log_gamma(-2.0, 0.1) == pytest.approx(-4.0 * 0.107019, abs=4e-6)


def test_davies_by_hand_at_the_limit():
    # sqrt(0.5) = 0.707107; / 1.707107 = 0.414214; - 0.15 = 0.264214; * 0.509 = 0.134485
    assert log_gamma(1.0, 0.5) == pytest.approx(-0.134485, abs=1e-6)


@pytest.mark.parametrize(
    ("molality", "mean_coefficient"),
    [(0.01, 0.904), (0.05, 0.830), (0.1, 0.796)],
)
def test_davies_close_to_hydrochloric_acid(molality, mean_coefficient):
    # Mean activity coefficients of HCl at 25 C: Robinson & Stokes, Electrolyte Solutions (from memory).
    assert 10.0 ** log_gamma(1.0, molality) == pytest.approx(mean_coefficient, abs=0.02)


def test_neutral_species_and_infinite_dilution_are_ideal():
    assert log_gamma(0.0, 0.3) == 0.0
    assert log_gamma(3.0, 0.0) == 0.0


@pytest.mark.parametrize("strength", [0.5, 0.51, 3.0, math.inf])
def test_ionic_strength_is_held_at_the_limit(strength):
    assert held(strength) == IONIC_STRENGTH_LIMIT == 0.5
    assert log_gamma(1.0, strength) == log_gamma(1.0, 0.5)


@pytest.mark.parametrize("strength", [-1e-9, math.nan])
def test_impossible_ionic_strength_is_refused(strength):
    with pytest.raises(ValueError, match="ionic strength"):
        held(strength)


def test_conditional_pka_shifts_by_the_charges_of_the_step():
    # pKa' = pKa + A D (2z - 1), A D = 0.107019 at 0.1 mol/kg: one, three and five times for citric acid.
    shift = 0.107019
    assert conditional_pka(3.128, 0.0, 0.1) == pytest.approx(3.128 - shift, abs=1e-6)
    assert conditional_pka(4.761, -1.0, 0.1) == pytest.approx(4.761 - 3 * shift, abs=1e-5)
    assert conditional_pka(6.396, -2.0, 0.1) == pytest.approx(6.396 - 5 * shift, abs=1e-5)
    assert conditional_pka(9.244, 1.0, 0.1) == pytest.approx(9.244 + shift, abs=1e-6)


def test_conditional_pka_of_phosphate_is_the_handbook_one():
    # pKa2 of phosphoric acid at ionic strength 0.1 and 25 C: 6.7 to 6.8 in tables (from memory).
    assert conditional_pka(7.198, -1.0, 0.1) == pytest.approx(6.8, abs=0.1)


def test_effective_pka_is_taken_as_it_is():
    assert conditional_pka(5.9, 1.0, 0.4, effective=True) == 5.9
