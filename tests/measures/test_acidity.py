"""pH as two exact rows: the window holds if and only if the charges at its ends have opposite signs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optiform.measures.acidity import acidity, charge_curves
from tests.builders import tiny_library
from tests.measures.samples import TITRATED, full_library

LIBRARY = full_library()
TITRATED_LIBRARY = full_library(titrations=TITRATED)
DISSOLVED = (
    "ether-sulfate",
    "betaine",
    "glucoside",
    "quat",
    "salt",
    "citric-acid",
    "lye",
    "sodium-benzoate",
    "glycerin",
)


def mix(library, lines):
    return library.arrays.amounts([*lines.items(), ("water", 100.0 - sum(lines.values()))])


formulas = st.dictionaries(st.sampled_from(DISSOLVED), st.floats(0.01, 8.0), min_size=1)


@settings(max_examples=300, deadline=None)
@given(lines=formulas, low=st.floats(0.5, 13.0), width=st.floats(0.0, 3.0), titrated=st.booleans())
def test_the_window_holds_exactly_when_both_rows_do(lines, low, width, titrated):
    """pH(x) in [low, high] iff Q(low; x) >= 0 >= Q(high; x), at the formula's own ionic strength."""
    library = TITRATED_LIBRARY if titrated else LIBRARY
    amounts, high = mix(library, lines), min(low + width, 13.9)
    settled = charge_curves(library).settle(amounts)
    if settled is None:
        return
    measure = acidity(library, settled.ionic_strength)
    pH = measure.value(amounts)
    assert pH == pytest.approx(settled.pH, abs=1e-9)
    if min(abs(pH - low), abs(pH - high)) < 1e-6:
        return
    above = float(measure.row("at_least", low).coefficients @ amounts) >= 0
    below = float(measure.row("at_most", high).coefficients @ amounts) <= 0
    assert (low <= pH <= high) == (above and below)
    assert (pH >= low) == above
    assert (pH <= high) == below


@settings(max_examples=60, deadline=None)
@given(lines=formulas, titrated=st.booleans())
def test_charge_falls_as_pH_rises(lines, titrated):
    """So there is one root, and one row for each end of a window."""
    library = TITRATED_LIBRARY if titrated else LIBRARY
    curves, amounts = charge_curves(library), mix(library, lines)
    charges = [float(curves.at(pH, 0.1) @ amounts) for pH in np.linspace(0, 14, 141)]
    assert np.all(np.diff(charges) < 0)


@settings(max_examples=40, deadline=None)
@given(lines=formulas, pH=st.floats(1.0, 13.0))
def test_the_rows_of_a_formula_add_up_over_its_materials(lines, pH):
    """Charge is per gram of material: twice the material, twice its charge; nothing else changes."""
    curves = charge_curves(LIBRARY)
    per_gram = curves.at(pH, 0.2)
    parts = acidity(LIBRARY, 0.2).row("at_least", pH).coefficients
    np.testing.assert_array_equal(per_gram, parts)
    amounts = mix(LIBRARY, lines)
    assert float(per_gram @ (2 * amounts)) == pytest.approx(2 * float(per_gram @ amounts))


def test_a_hand_balance_of_benzoate_and_a_strong_acid():
    """Half of the benzoate protonated: 1 mmol of strong acid on 2 mmol of benzoate gives pH = pKa' (Henderson).

    In 100 g with 2 mmol sodium benzoate (0.2882 g) and 1 mmol hydrochloric acid; at the ionic strength of about
    0.02 the shift of the pKa is about -0.12 in pKa', and pH = -log a(H).
    """
    library = tiny_library(
        [{"id": "benzoate", "function": "preservative"}, {"id": "hydrochloric-acid", "function": "acid"}],
        [
            {
                "inci": "Sodium Benzoate",
                "molar_mass": 144.10,
                "pka": (4.202,),
                "charge_acid_form": 0.0,
                "strong_charge": 1.0,
            },
            {
                "inci": "Hydrochloric Acid",
                "molar_mass": 36.46,
                "charge_acid_form": 0.0,
                "strong_charge": -1.0,
            },
        ],
        {"benzoate": {"Sodium Benzoate": 100.0}, "hydrochloric-acid": {"Hydrochloric Acid": 3.646}},
    )
    settled = charge_curves(library).settle(mix(library, {"benzoate": 0.2882, "hydrochloric-acid": 1.0}))
    strength = settled.ionic_strength
    root = np.sqrt(strength)
    log_gamma = -0.509 * root / (1 + 1.5 * root)
    assert strength == pytest.approx(0.02, rel=0.05)
    assert settled.pH == pytest.approx(4.202 + log_gamma, abs=0.01)


def test_free_alkali_belongs_to_the_material():
    """90 mmol of base per kg of glucoside: 10 % of it in water brings 9 mmol/kg, pH about 11.9 (pKw 13.997)."""
    value = acidity(LIBRARY, 0.009).value(mix(LIBRARY, {"glucoside": 10.0}))
    per_kg_water = 0.009 / 0.95
    assert value == pytest.approx(13.997 + np.log10(per_kg_water), abs=0.06)


def test_a_titration_curve_takes_the_place_of_the_computed_charge():
    """On the curve's own points the charge is what was titrated; free alkali and substances no longer count."""
    curves = charge_curves(TITRATED_LIBRARY)
    index = TITRATED_LIBRARY.arrays.material_index["glucoside"]
    for point in TITRATED:
        acid, water = point.acid_mmol_per_kg / 1000.0, curves.aqua[index]
        bare = curves.at(point.pH, 0.1)[index]
        pure = curves.at(point.pH, 0.1)[TITRATED_LIBRARY.arrays.material_index["water"]]
        assert bare - water * pure == pytest.approx(acid, abs=1e-12)
    other = LIBRARY.arrays.material_index["betaine"]
    assert curves.at(5.0, 0.1)[other] == charge_curves(LIBRARY).at(5.0, 0.1)[other]


def test_a_titrated_formula_settles_where_its_acid_was_titrated_to():
    """80 mmol acid per kg brings the glucoside to pH 6: 10 % of it takes 8 mmol/kg of a strong acid.

    The water's own hydrogen ions, 0.001 mmol/kg, move it by a thousandth.
    """
    library = tiny_library(
        [{"id": "glucoside", "function": "surfactant"}, {"id": "hydrochloric-acid", "function": "acid"}],
        [
            {
                "inci": "Decyl Glucoside",
                "charge_class": "nonionic",
                "charge_acid_form": 0.0,
                "strong_charge": 0.0,
            },
            {
                "inci": "Hydrochloric Acid",
                "molar_mass": 36.46,
                "charge_acid_form": 0.0,
                "strong_charge": -1.0,
            },
        ],
        {"glucoside": {"Decyl Glucoside": 50.0}, "hydrochloric-acid": {"Hydrochloric Acid": 3.646}},
        titrations=TITRATED,
    )
    amounts = mix(library, {"glucoside": 10.0, "hydrochloric-acid": 0.8})
    assert acidity(library, 0.01).value(amounts) == pytest.approx(6.0, abs=2e-3)


def test_outside_its_titration_a_material_is_named_and_the_pH_is_not_told():
    curves = charge_curves(TITRATED_LIBRARY)
    index = TITRATED_LIBRARY.arrays.material_index["glucoside"]
    assert curves.outside(2.5, None)[index]
    assert not curves.outside(4.0, 9.0).any()
    assert (
        acidity(TITRATED_LIBRARY, 0.1).value(mix(TITRATED_LIBRARY, {"glucoside": 1.0, "citric-acid": 20.0}))
        is None
    )


def test_unknown_charge_is_its_own_state():
    """A substance with no charge data is flagged, counted as neutral, and known once the material was titrated."""
    index = LIBRARY.arrays.material_index["mystery-extract"]
    curves = charge_curves(LIBRARY)
    assert [LIBRARY.materials[i].id for i in np.flatnonzero(curves.unknown)] == ["mystery-extract"]
    with_it = acidity(LIBRARY, 0.1).value(mix(LIBRARY, {"citric-acid": 1.0, "mystery-extract": 2.0}))
    assert with_it == pytest.approx(
        acidity(LIBRARY, 0.1).value(mix(LIBRARY, {"citric-acid": 1.0, "glycerin": 2.0})), abs=0.02
    )
    points = tuple(point.model_copy(update={"material": "mystery-extract"}) for point in TITRATED)
    assert not charge_curves(full_library(titrations=points)).unknown[index]


def test_no_water_no_pH():
    library = tiny_library([{"id": "glycerin", "function": "humectant"}])
    assert acidity(library, 0.1).value(library.arrays.amounts([("glycerin", 100.0)])) is None
