"""Quantiles and tails against scipy, and against the table in common use."""

import pytest
from scipy import special, stats

from optiform.learning.student import f_tail, incomplete_beta, student_t_quantile

# One-sided 95 % points, as printed in any table of Student's t (for example NIST/SEMATECH e-Handbook 1.3.6.7.2).
TABLE = {2: 2.9200, 3: 2.3534, 4: 2.1318, 5: 2.0150, 6: 1.9432, 8: 1.8595, 10: 1.8125, 12: 1.7823, 16: 1.7459,
         20: 1.7247, 40: 1.6839}  # fmt: skip


@pytest.mark.parametrize(("freedom", "printed"), TABLE.items())
def test_the_printed_table(freedom, printed):
    assert student_t_quantile(0.95, freedom) == pytest.approx(printed, abs=5e-5)


@pytest.mark.parametrize("freedom", [0.6, 1, 2.5, 7, 40, 1000])
@pytest.mark.parametrize("probability", [1e-6, 0.025, 0.4, 0.5, 0.9, 0.975, 0.999999])
def test_quantiles_are_those_of_scipy(probability, freedom):
    assert student_t_quantile(probability, freedom) == pytest.approx(
        stats.t.ppf(probability, freedom), rel=1e-8, abs=1e-12
    )


@pytest.mark.parametrize(("ratio", "above", "below"), [(32.31718, 3, 9), (2.774, 4, 2), (0.1, 5, 40)])
def test_tails_of_f_are_those_of_scipy(ratio, above, below):
    assert f_tail(ratio, above, below) == pytest.approx(stats.f.sf(ratio, above, below), rel=1e-9)


def test_the_incomplete_beta_function_is_that_of_scipy():
    for x in (0.0, 1e-9, 0.2, 0.5, 0.97, 1.0):
        for a, b in ((0.5, 0.5), (3, 0.5), (0.5, 200), (40, 60)):
            assert incomplete_beta(x, a, b) == pytest.approx(special.betainc(a, b, x), rel=1e-9, abs=1e-300)


@pytest.mark.parametrize(("probability", "freedom"), [(0, 3), (1, 3), (0.5, 0), (0.9, -1)])
def test_what_is_no_probability_is_refused(probability, freedom):
    with pytest.raises(ValueError, match="probability"):
        student_t_quantile(probability, freedom)
