"""Ionic strength by its definition, I = 1/2 sum(m z^2)."""

import numpy as np
import pytest

from optiform.chemistry import ChargeTable, Mixture, pH_of
from optiform.chemistry.table import FREE_COUNTER_IONS
from tests.chemistry import substances
from tests.chemistry.one_by_one import ionic_term


def strength_of(substance, molality, *, surfactant=False):
    mixture = Mixture(
        grams=np.array([substance.molar_mass * molality / 10.0]),
        water=100.0,
        surfactant=np.array([surfactant]),
    )
    return pH_of(mixture, ChargeTable([substance])).ionic_strength


@pytest.mark.parametrize(
    ("substance", "strength"),
    [
        (substances.sodium_chloride, 0.1),  # 1:1, I = m
        (substances.sodium_sulfate, 0.3),  # 2:1, I = 3 m
        (substances.magnesium_sulfate, 0.4),  # 2:2, I = 4 m
    ],
)
def test_salts_at_one_tenth_molal(substance, strength):
    assert strength_of(substance, 0.1) == pytest.approx(strength, abs=1e-6)


def test_surfactant_counts_by_the_free_part_of_its_counter_ions():
    assert FREE_COUNTER_IONS == 0.3
    # 0.1 mol/kg of a monovalent surfactant: 1/2 * 0.3 * 0.1
    assert strength_of(substances.sodium_lauryl_sulfate, 0.1, surfactant=True) == pytest.approx(
        0.015, abs=1e-6
    )
    assert strength_of(substances.sodium_lauryl_sulfate, 0.1) == pytest.approx(0.1, abs=1e-6)


def test_inner_salt_counts_nothing():
    assert ionic_term(substances.betaine, 6.5, 0.1) == pytest.approx(0.0, abs=1e-7)


def test_strong_acid_counts_its_protons_too():
    assert strength_of(substances.hydrogen_chloride, 0.01) == pytest.approx(0.01, abs=1e-8)


def test_free_alkali_counts_as_a_monovalent_base():
    mixture = Mixture(grams=np.zeros(0), water=100.0, free_alkali=1.0)
    assert pH_of(mixture, ChargeTable([])).ionic_strength == pytest.approx(0.01, abs=1e-8)


@pytest.mark.parametrize(
    ("pH", "square"),
    [(-20.0, 0.0), (30.0, 9.0)],
)
def test_forms_of_a_buffer_count_with_the_square_of_their_charge(pH, square):
    assert ionic_term(substances.citric_acid, pH, 0.0) == pytest.approx(0.5 * square / 192.12, abs=1e-12)
