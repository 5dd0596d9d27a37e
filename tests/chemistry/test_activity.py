"""Activity coefficients against hand calculation and against measured salts."""

import math

import pytest

from optiform.chemistry.activity import (
    INTERACTION_SPREAD,
    IONIC_STRENGTH_LIMIT,
    conditional_pka,
    debye_hueckel_term,
    held,
    log_gamma,
)


def test_the_term_by_hand_at_one_tenth():
    # sqrt(0.1) = 0.316228; / (1 + 1.5 * 0.316228) = 1.474342 is 0.214487; * 0.509 = 0.109174
    assert debye_hueckel_term(0.1) == pytest.approx(0.214487, abs=1e-6)
    assert log_gamma(1.0, 0.1) == pytest.approx(-0.109174, abs=1e-6)
    assert log_gamma(-2.0, 0.1) == pytest.approx(-4.0 * 0.109174, abs=4e-6)


def test_the_term_by_hand_at_the_limit():
    # sqrt(2) = 1.414214; / (1 + 1.5 * 1.414214) = 3.121320 is 0.453082; * 0.509 = 0.230619
    assert log_gamma(1.0, 2.0) == pytest.approx(-0.230619, abs=1e-6)


def test_the_interaction_left_out_is_within_the_stated_spread():
    """With sodium (NEA, as in sit.dat of PHREEQC 3), step by step of citric and phosphoric acid [kg/mol]."""
    steps = (-0.04 - -0.05, -0.076 - -0.04, -0.15 - -0.08)
    assert max(abs(step) for step in steps) == pytest.approx(INTERACTION_SPREAD, abs=1e-9)


@pytest.mark.parametrize(
    ("molality", "mean_coefficient"),
    [(0.01, 0.904), (0.05, 0.830), (0.1, 0.796)],
)
def test_close_to_hydrochloric_acid(molality, mean_coefficient):
    # Mean activity coefficients of HCl at 25 C: Robinson & Stokes, Electrolyte Solutions (from memory).
    assert 10.0 ** log_gamma(1.0, molality) == pytest.approx(mean_coefficient, abs=0.02)


def test_neutral_species_and_infinite_dilution_are_ideal():
    assert log_gamma(0.0, 0.3) == 0.0
    assert log_gamma(3.0, 0.0) == 0.0


@pytest.mark.parametrize("strength", [2.0, 2.01, 5.0, math.inf])
def test_ionic_strength_is_held_at_the_limit(strength):
    assert held(strength) == IONIC_STRENGTH_LIMIT == 2.0
    assert log_gamma(1.0, strength) == log_gamma(1.0, 2.0)


@pytest.mark.parametrize("strength", [-1e-9, math.nan])
def test_impossible_ionic_strength_is_refused(strength):
    with pytest.raises(ValueError, match="ionic strength"):
        held(strength)


def test_conditional_pka_shifts_by_the_charges_of_the_step():
    # pKa' = pKa + A D (2z - 1), A D = 0.109174 at 0.1 mol/kg: one, three and five times for citric acid.
    shift = 0.109174
    assert conditional_pka(3.128, 0.0, 0.1) == pytest.approx(3.128 - shift, abs=1e-6)
    assert conditional_pka(4.761, -1.0, 0.1) == pytest.approx(4.761 - 3 * shift, abs=1e-5)
    assert conditional_pka(6.396, -2.0, 0.1) == pytest.approx(6.396 - 5 * shift, abs=1e-5)
    assert conditional_pka(9.244, 1.0, 0.1) == pytest.approx(9.244 + shift, abs=1e-6)


def test_conditional_pka_of_phosphate_is_the_handbook_one():
    # pKa2 of phosphoric acid at ionic strength 0.1 and 25 C: 6.7 to 6.8 in tables (from memory).
    assert conditional_pka(7.198, -1.0, 0.1) == pytest.approx(6.8, abs=0.1)


def test_effective_pka_is_taken_as_it_is():
    assert conditional_pka(5.9, 1.0, 0.4, effective=True) == 5.9
