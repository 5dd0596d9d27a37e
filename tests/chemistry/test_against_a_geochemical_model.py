"""The pH of mixtures against specific ion interaction theory with all its coefficients.

References: PHREEQC 3 with its data files sit.dat (ThermoChimie 12a, NEA coefficients; column `full`) and
minteq.v4.dat (column `same`: its own activity model with the pKa used here), molal, 25 C. Where one column is
None that data file lacks the ions.
"""

import numpy as np
import pytest

from optiform.chemistry import ChargeTable, Mixture, Titratable, pH_of
from tests.chemistry import substances

gluconic = Titratable(molar_mass=196.16, pka=(3.86,))
lactic = Titratable(molar_mass=90.08, pka=(3.86,))
phosphoric = Titratable(molar_mass=98.0, pka=substances.PHOSPHORIC)
sorbate = Titratable(molar_mass=150.22, pka=(4.76,), strong_charge=1.0)
betaine = Titratable(molar_mass=117.15, pka=(1.83,), charge_acid_form=1.0)
# NEA (W. Hummel and others, 2005), as in sit.dat: 2.23, 3.15, 6.80; the last step, 11.24, with the sodium that
# binds to it (log K 2.8) at 0.06 mol/kg, see SOURCES.md of the starter library.
edta = Titratable(molar_mass=336.2, pka=(2.23, 3.15, 6.80, 10.6), strong_charge=2.0)
glutamate_diacetate = Titratable(molar_mass=351.1, pka=(2.6, 3.5, 5.0, 9.4), strong_charge=4.0)
CITRIC, LYE, SALT = substances.citric_acid, substances.sodium_hydroxide, substances.sodium_chloride

MIXTURES = [
    ("citrate", {CITRIC: 0.05, LYE: 0.10}, 5.099, 5.065),
    ("citrate, more base", {CITRIC: 0.05, LYE: 0.12}, 5.653, 5.571),
    ("dilute citrate", {CITRIC: 0.01, LYE: 0.025}, 6.022, 5.992),
    ("citrate in 0.5 salt", {CITRIC: 0.02, LYE: 0.04, SALT: 0.5}, None, 4.849),
    ("citrate in 1 salt", {CITRIC: 0.02, LYE: 0.04, SALT: 1.0}, None, 4.738),
    ("citrate in 2 salt", {CITRIC: 0.02, LYE: 0.04, SALT: 2.0}, None, 4.622),
    ("phosphate in 0.5 salt", {phosphoric: 0.05, LYE: 0.075, SALT: 0.5}, None, 6.606),
    ("phosphate in 1 salt", {phosphoric: 0.05, LYE: 0.075, SALT: 1.0}, None, 6.529),
    ("gluconate in 1 salt", {gluconic: 0.05, LYE: 0.04, SALT: 1.0}, None, 4.228),
    ("acetate in 1 salt", {substances.acetic_acid: 0.05, LYE: 0.025, SALT: 1.0}, None, 4.556),
    ("benzoate with citric", {substances.sodium_benzoate: 0.035, CITRIC: 0.015}, 4.099, None),
    ("lactate", {lactic: 0.1, LYE: 0.095}, 5.025, None),
    (
        "sorbate, benzoate, citric",
        {sorbate: 0.02, substances.sodium_benzoate: 0.035, CITRIC: 0.012},
        4.605,
        None,
    ),
    ("betaine with citrate", {betaine: 0.3, CITRIC: 0.01, LYE: 0.02}, 5.312, None),
    ("EDTA, half way", {edta: 0.005, LYE: 0.002}, None, 6.324),
    ("EDTA, between two steps", {edta: 0.01, LYE: 0.01}, None, 8.150),
    ("glutamate diacetate", {glutamate_diacetate: 0.02, CITRIC: 0.02}, 4.447, None),
]


def settled(parts):
    table = ChargeTable(list(parts))
    grams = np.array([substance.molar_mass * molality / 10.0 for substance, molality in parts.items()])
    return pH_of(Mixture(grams=grams, water=100.0), table)


@pytest.mark.parametrize(
    ("parts", "same", "full"), [row[1:] for row in MIXTURES], ids=[r[0] for r in MIXTURES]
)
def test_a_mixture_within_a_tenth_of_the_full_theory(parts, same, full):
    """A tenth was asked up to 1 mol/kg; half of it is met up to 2, where buffers are salted."""
    found = settled(parts)
    if full is not None:
        assert found.pH == pytest.approx(full, abs=0.05)
    if same is not None:
        # Davies with the same pKa, below 0.2 mol/kg: the two terms differ by 0.01 per unit of squared charge.
        assert found.pH == pytest.approx(same, abs=0.05)


def test_glutamate_diacetate_values_at_a_tenth_are_no_values_at_zero():
    """Taken as thermodynamic, the pKa measured at 0.1 mol/kg (facts of the trade, memory) are moved a second time."""
    effective = Titratable(molar_mass=351.1, pka=glutamate_diacetate.pka, strong_charge=4.0, effective=True)
    parts = {CITRIC: 0.02}
    twice, once = settled({glutamate_diacetate: 0.02, **parts}).pH, settled({effective: 0.02, **parts}).pH
    # Moved back to zero strength by hand: A D(0.1) = 0.109174 times 1, 3, 5 and 7 upwards.
    by_hand = tuple(pka + 0.109174 * times for pka, times in zip(effective.pka, (1, 3, 5, 7), strict=True))
    back = Titratable(molar_mass=351.1, pka=by_hand, strong_charge=4.0)
    assert settled({back: 0.02, **parts}).pH == pytest.approx(once, abs=0.05)
    assert once - twice > 0.2
