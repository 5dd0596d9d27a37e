"""The arrays say what the definitions say, form by form."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiform.chemistry import ChargeTable
from optiform.chemistry.charge import populations
from tests.chemistry import substances
from tests.chemistry.test_charge import titratables

lists = st.lists(st.one_of(st.none(), titratables), max_size=6)


def by_form(one, pH, strength, sits=False):
    """Charge, slope [meq/g] and ionic term [mol/g] as sums over the forms of a substance and its counter-ions."""
    if one is None:
        return 0.0, 0.0, 0.0
    fractions = populations(one, pH, strength)
    mean = math.fsum(lost * fraction for lost, fraction in enumerate(fractions))
    variance = math.fsum((lost - mean) ** 2 * fraction for lost, fraction in enumerate(fractions))
    square = math.fsum((one.charge_acid_form - lost) ** 2 * part for lost, part in enumerate(fractions))
    counter = abs(one.strong_charge) * abs(one.strong_ion_charge)
    ions = 0.3 * counter if sits else square + counter
    charge = 1000.0 * (one.strong_charge + one.charge_acid_form - mean) / one.molar_mass
    return charge, -1000.0 * math.log(10.0) * variance / one.molar_mass, 0.5 * ions / one.molar_mass


@given(lists, st.floats(-1.0, 15.0), st.floats(0.0, 1.0))
def test_arrays_equal_the_sums_over_forms(several, pH, strength):
    table = ChargeTable(several)
    charges, slopes, terms = np.array([by_form(one, pH, strength) for one in several]).reshape(-1, 3).T
    np.testing.assert_allclose(table.at(pH, strength), charges, rtol=1e-10, atol=1e-10)
    np.testing.assert_allclose(table.slope(pH, strength), slopes, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(table.ionic_terms(pH, strength), terms, rtol=1e-10, atol=1e-13)


def test_surfactants_count_by_their_free_counter_ions():
    table = ChargeTable(substances.everything)
    mask = np.zeros(len(table), dtype=bool)
    mask[substances.everything.index(substances.sodium_lauryl_sulfate)] = True
    terms = table.ionic_terms(5.5, 0.1, mask)
    expected = [
        by_form(one, 5.5, 0.1, bool(sits))[2] for one, sits in zip(substances.everything, mask, strict=True)
    ]
    np.testing.assert_allclose(terms, expected, rtol=1e-12)


def test_unknown_substances_carry_nothing_and_are_told_apart():
    table = ChargeTable([None, substances.sodium_hydroxide, None])
    assert table.known.tolist() == [False, True, False]
    assert table.at(7.0, 0.0).tolist() == [0.0, 25.0, 0.0]
    assert table.ionic_terms(7.0, 0.0)[0] == 0.0


def test_empty_table():
    table = ChargeTable([])
    assert len(table) == 0
    assert (
        table.at(7.0, 0.1).shape == table.slope(7.0, 0.1).shape == table.ionic_terms(7.0, 0.1).shape == (0,)
    )


def test_rows_keep_the_order_asked_for():
    table = ChargeTable(substances.everything)
    wanted = np.array([4, 0, 2])
    np.testing.assert_array_equal(table.rows(wanted).at(5.0, 0.1), table.at(5.0, 0.1)[wanted])


@pytest.mark.parametrize("pH", [-100.0, -10.0, 0.0, 7.0, 14.0, 24.0, 100.0])
def test_extreme_pH_overflows_nowhere(pH):
    table = ChargeTable([*substances.everything, None])
    with np.errstate(over="raise", divide="raise", invalid="raise"):
        for array in (table.at(pH, 0.5), table.slope(pH, 0.5), table.ionic_terms(pH, 0.5)):
            assert np.all(np.isfinite(array))


def test_extreme_pH_gives_the_outermost_forms():
    table = ChargeTable([substances.citric_acid])
    assert table.at(-100.0, 0.0)[0] == pytest.approx(0.0, abs=1e-90)
    assert table.at(100.0, 0.0)[0] == pytest.approx(-3000.0 / 192.12, rel=1e-14)


def test_impossible_conditions_are_refused():
    table = ChargeTable(substances.everything)
    with pytest.raises(ValueError, match="pH"):
        table.at(float("nan"), 0.1)
    with pytest.raises(ValueError, match="ionic strength"):
        table.slope(7.0, -0.1)
