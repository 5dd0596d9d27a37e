"""Buffer capacity as a measure: mean over a pH window, exact and linear; by hand, by finite steps, and in a program."""

import numpy as np
import pytest

from optiform import design
from optiform.brief import load_brief
from optiform.brief.models import Ranked
from optiform.faults import BadInput
from optiform.measures import Catalogue, Conditions
from optiform.measures.acidity import charge_curves
from tests.builders import tiny_library
from tests.measures.samples import full_library
from tests.program.samples import shelf, wash

LIBRARY = full_library()
LACTIC = {
    "inci": "Lactic Acid",
    "molar_mass": 90.0,
    "pka": (4.0,),
    "pka_kind": "effective",
    "charge_acid_form": 0.0,
}


def capacity(library, low, high, strength=0.1):
    conditions = Conditions(pH_low=low, pH_high=high, ionic_strength=strength)
    return Catalogue(library, conditions).find("buffer capacity")


def mix(library, **percents):
    lines = [(name.replace("_", "-"), percent) for name, percent in percents.items()]
    return library.arrays.amounts([*lines, ("water", 100.0 - sum(percents.values()))])


def test_a_weak_acid_around_its_pka_by_hand():
    """0.9 % of a 90 g/mol acid is 10 mmol in 100 g, from 1/11 dissociated at pKa - 1 to 10/11 at pKa + 1.

    So the mean is 10 x 9/11 / 2 = 4.0909 mmol per 100 g and pH; the water of 99.1 g adds the change of its H+.
    """
    library = tiny_library(
        [{"id": "lactic", "function": "acid"}], [LACTIC], {"lactic": {"Lactic Acid": 100.0}}
    )
    water = 99.1 * (10.0**-3 - 10.0**-5) / 2.0
    found = capacity(library, 3.0, 5.0, strength=0.0).value(mix(library, lactic=0.9))
    assert found == pytest.approx(4.0909 + water, abs=1e-4)
    # At the pKa itself the slope is ln 10 / 4 of the amount: 5.7565 (van Slyke).
    at = capacity(library, 4.0, 4.0, strength=0.0).value(mix(library, lactic=0.9))
    assert at == pytest.approx(5.7565 + 99.1 * np.log(10.0) * 1e-4, abs=1e-4)


def test_it_is_what_strong_acid_moves_the_formula_over_the_window():
    """Charge at the lower end less charge at the upper: mmol of strong acid between them, over the width."""
    amounts = mix(LIBRARY, glucoside=10.0, citric_acid=0.4, sodium_benzoate=0.5)
    curves = charge_curves(LIBRARY)
    between = float((curves.at(4.6, 0.1) - curves.at(5.2, 0.1)) @ amounts)
    assert capacity(LIBRARY, 4.6, 5.2).value(amounts) == pytest.approx(between / 0.6, rel=1e-12)


def test_without_a_window_it_is_the_slope_at_the_formulas_own_pH():
    amounts = mix(LIBRARY, glucoside=10.0, citric_acid=0.4, sodium_benzoate=0.5)
    measure, curves = capacity(LIBRARY, None, 5.0), charge_curves(LIBRARY)
    settled = curves.settle(amounts)
    step = 1e-5
    ends = [float(curves.at(settled.pH + s, settled.ionic_strength) @ amounts) for s in (-step, step)]
    assert measure.value(amounts) == pytest.approx((ends[0] - ends[1]) / (2 * step), rel=1e-6)
    assert measure.contributions(amounts).sum() == pytest.approx(measure.value(amounts), rel=1e-9)


def test_a_limit_holds_at_the_ionic_strength_of_the_formula_itself():
    """The cheapest wash with at least 1.2 mmol has just that, and the brief's limit is a row like any other."""
    library = shelf("anion", "zwitter", "glucoside", "acid", "preserver", "glycerin")
    window = {"at_least": 4.0, "at_most": 5.0}
    free = design(wash(library, targets={"pH": window}, ranked=Ranked(how_many=1))).formulas[0]
    asked = free.acidity.buffer_capacity + 1.0
    targets = {"pH": window, "buffer capacity": {"at_least": asked}}
    (formula,) = design(wash(library, targets=targets, ranked=Ranked(how_many=1))).formulas
    assert formula.aim > free.aim
    strength = formula.acidity.ionic_strength
    amounts = library.arrays.amounts((line.material, line.percent) for line in formula.lines)
    curves = charge_curves(library)
    found = float((curves.at(4.0, strength) - curves.at(5.0, strength)) @ amounts)
    assert found == pytest.approx(asked, abs=2e-6)
    assert formula.figure("buffer capacity").value == pytest.approx(found, abs=1e-6)
    assert formula.acidity.buffer_capacity == pytest.approx(found, abs=1e-6)
    assert any(item.requirement.measure == "buffer capacity" for item in formula.binding)


@pytest.mark.parametrize("pH", ["", "pH = { at_most = 5.2 }"])
def test_a_limit_without_a_window_is_a_fault(tmp_path, pH):
    brief = tmp_path / "brief.toml"
    targets = '"active matter" = { at_least = 8 }\n"buffer capacity" = { at_least = 1 }'
    brief.write_text(f'title = "t"\n[targets]\n{targets}\n{pH}\n')
    with pytest.raises(BadInput, match="over the pH window of the brief") as raised:
        load_brief(brief)
    assert "at_least and at_most" in raised.value.faults[0].allowed


def test_it_is_no_aim(tmp_path):
    brief = tmp_path / "brief.toml"
    window = "pH = { at_least = 4.8, at_most = 5.2 }"
    brief.write_text(f'title = "t"\n[aim]\nmaximise = "buffer capacity"\n[targets]\n{window}\n')
    with pytest.raises(BadInput, match="buffer capacity"):
        load_brief(brief)
