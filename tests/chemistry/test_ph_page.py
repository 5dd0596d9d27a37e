"""The worked example of docs/explanation/ph.md, computed again without the package, and by running it."""

import contextlib
import io
import math
import re
from pathlib import Path

import numpy as np
import pytest

from optiform.chemistry import ChargeTable, Mixture, Titratable, pH_of, water_charge_per_gram
from tests.chemistry.one_by_one import charge_of

PAGE = (Path(__file__).parents[2] / "docs" / "explanation" / "ph.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```python\n(.*?)```\n\n```text\n(.*?)```", PAGE, flags=re.DOTALL)

BENZOATE = Titratable(molar_mass=144.11, pka=(4.202,), strong_charge=1.0)
CITRIC = Titratable(molar_mass=192.12, pka=(3.128, 4.761, 6.396))
TABLE = ChargeTable([BENZOATE, CITRIC])


def by_hand(pH):
    """Charges per gram at I = 0.05 from the formulas of the page alone [meq/g]."""
    shift = 0.509 * math.sqrt(0.05) / (1.0 + 1.5 * math.sqrt(0.05))
    benzoate = (1.0 - 1.0 / (1.0 + 10.0 ** (4.202 - shift - pH))) / 144.11
    first = 10.0 ** (pH - 3.128 + shift)
    second = first * 10.0 ** (pH - 4.761 + 3.0 * shift)
    third = second * 10.0 ** (pH - 6.396 + 5.0 * shift)
    citric = -(first + 2.0 * second + 3.0 * third) / (1.0 + first + second + third) / 192.12
    return 1000.0 * benzoate, 1000.0 * citric


def wash(dose, free_alkali=0.9):
    return Mixture(grams=np.array([0.5, dose]), water=89.0, free_alkali=free_alkali)


@pytest.mark.parametrize("pH", [4.8, 5.0, 5.2])
def test_table_of_the_page(pH):
    row = re.search(rf"^\| {pH} \| (\S+) \| (\S+) \| (\S+) \|$", PAGE, flags=re.MULTILINE)
    assert row is not None
    printed = [float(cell) for cell in row.groups()]
    benzoate, citric = by_hand(pH)
    assert printed[:2] == pytest.approx([benzoate, citric], abs=6e-4)
    assert printed[2] == pytest.approx(water_charge_per_gram(pH, 0.05), abs=6e-6)
    assert TABLE.at(pH, 0.05) == pytest.approx([benzoate, citric], rel=1e-12)


def test_rows_of_the_page():
    most = re.search(r"at most +(\d\.\d+) g", PAGE)
    least = re.search(r"at least +(\d\.\d+) g", PAGE)
    assert most is not None
    assert least is not None
    for pH, printed in ((4.8, float(most[1])), (5.2, float(least[1]))):
        benzoate, citric = by_hand(pH)
        assert printed == pytest.approx((0.5 * benzoate + 0.9) / -citric, abs=6e-4)
        assert charge_of(wash(printed), TABLE, pH, 0.05) == pytest.approx(0.0, abs=6e-3)
    benzoate, citric = by_hand(5.0)
    assert (0.5 * benzoate + 0.9 + 89.0 * 1.217e-5) / -citric == pytest.approx(0.1355, abs=5e-5)


@pytest.mark.parametrize(("free_alkali", "dose"), [(0.4, 0.084), (2.0, 0.245)])
def test_range_of_the_glucoside(free_alkali, dose):
    assert f"{dose:.3f} g" in PAGE
    assert pH_of(wash(dose, free_alkali), TABLE).pH == pytest.approx(5.0, abs=0.01)


@pytest.mark.parametrize(("free_alkali", "pH"), [(0.4, 4.7), (2.0, 6.6)])
def test_range_of_the_pH_at_one_dose(free_alkali, pH):
    assert "such lots stand at pH 4.7 and 6.6" in PAGE
    assert pH_of(wash(0.1355, free_alkali), TABLE).pH == pytest.approx(pH, abs=0.05)


def test_the_table_of_spreads_is_that_of_the_code():
    from optiform.answers.describe.likely_lots import TITRATED_LEAST, TITRATED_PART
    from optiform.chemistry.activity import INTERACTION_SPREAD
    from optiform.library.likely import (
        ALKALI_SPREAD,
        EFFECTIVE_PKA_SPREAD,
        PKA_SPREAD,
        READING_LEAST,
        READING_PART,
    )

    factors = dict(
        re.findall(r"^\| free alkali, (?:trust )?(.+?) \| a factor e\^(\S+) \|", PAGE, flags=re.MULTILINE)
    )
    told = {word: float(value) for words, value in factors.items() for word in re.findall("`(.+?)`", words)}
    assert told == {str(trust): value for trust, value in ALKALI_SPREAD.items()}
    rows = dict(re.findall(r"^\| pKa, (.+?) \| ±(\S+) \|", PAGE, flags=re.MULTILINE))
    told = {word: float(value) for words, value in rows.items() for word in re.findall("`(.+?)`", words)}
    assert told == {str(trust): value for trust, value in PKA_SPREAD.items()}
    assert EFFECTIVE_PKA_SPREAD == 0.3
    assert f"±{INTERACTION_SPREAD:g} for each mol/kg" in PAGE
    assert f"±{100 * TITRATED_PART:g} % of the acid read, at least {TITRATED_LEAST:g} mmol/kg" in PAGE
    assert (READING_PART, READING_LEAST) == (0.1, 1.0)
    assert "a tenth, at least 1 mmol/kg" in PAGE


@pytest.mark.parametrize(("code", "output"), BLOCKS, ids=["wash", "curve"])
def test_code_of_the_page_prints_what_the_page_says(code, output):
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(code, "ph.md", "exec"), {})
    assert printed.getvalue() == output
