"""The arrays say what the single functions say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiform.chemistry import (
    ChargeTable,
    charge_per_gram,
    charge_slope,
    charges_per_gram,
    ionic_term,
)
from tests.chemistry import substances
from tests.chemistry.test_charge import titratables

lists = st.lists(st.one_of(st.none(), titratables), max_size=6)


@given(lists, st.floats(-1.0, 15.0), st.floats(0.0, 1.0))
def test_arrays_equal_single_functions(several, pH, strength):
    table = ChargeTable(several)
    charges = [0.0 if one is None else charge_per_gram(one, pH, strength) for one in several]
    slopes = [
        0.0 if one is None else 1000.0 * charge_slope(one, pH, strength) / one.molar_mass for one in several
    ]
    terms = [0.0 if one is None else ionic_term(one, pH, strength) for one in several]
    np.testing.assert_allclose(table.at(pH, strength), charges, rtol=1e-10, atol=1e-10)
    np.testing.assert_allclose(table.slope(pH, strength), slopes, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(table.ionic_terms(pH, strength), terms, rtol=1e-10, atol=1e-13)
    np.testing.assert_array_equal(charges_per_gram(several, pH, strength), table.at(pH, strength))


def test_surfactants_count_by_their_free_counter_ions():
    table = ChargeTable(substances.everything)
    mask = np.zeros(len(table), dtype=bool)
    mask[substances.everything.index(substances.sodium_lauryl_sulfate)] = True
    terms = table.ionic_terms(5.5, 0.1, mask)
    expected = [
        ionic_term(one, 5.5, 0.1, surfactant=bool(sits))
        for one, sits in zip(substances.everything, mask, strict=True)
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
