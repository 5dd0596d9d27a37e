"""Natural origin of the starter library by one method: ISO 16128-2:2017 by molar mass, recomputed by hand.

Molar masses in g/mol from atomic weights C 12.011, H 1.008, N 14.007, O 15.999, Na 22.990, S 32.06 (IUPAC, abridged).
What comes from petrochemistry counts out, what is inorganic counts as mineral; the plant keeps the oxygen of its
alcohol or acyl group. The homologue is C12.
"""

import pytest

from optiform.library.reading import load_library
from optiform.measures import Catalogue

LIBRARY = load_library()
LAUROYL = 183.315  # C12H23O
LAURYL = 169.332  # C12H25
ETHYLENE_OXIDE = 44.053  # C2H4O
SODIUM = 22.990


@pytest.mark.parametrize(
    ("inci", "index"),
    [
        # two units of ethylene oxide in C16H33O6SNa
        ("Sodium Laureth Sulfate", 1 - 2 * ETHYLENE_OXIDE / 376.484),
        # one unit of ethylene oxide in C14H27O5SNa; with a methyl group, C3H6O 58.080, in C15H29O5SNa
        ("Sodium Cocoyl Isethionate", 1 - ETHYLENE_OXIDE / 330.415),
        ("Sodium Lauroyl Methyl Isethionate", 1 - 58.080 / 344.442),
        # the acyl group alone is natural in C19H38N2O3; acyl and sodium in the amphoteric acetates
        ("Cocamidopropyl Betaine", LAUROYL / 342.524),
        ("Sodium Cocoamphoacetate", (LAUROYL + SODIUM) / 366.478),
        ("Disodium Cocoamphodiacetate", (LAUROYL + 2 * SODIUM) / 446.496),
        # dodecyl and the oxygen of peroxide in C14H31NO
        ("Lauramine Oxide", (LAURYL + 15.999) / 229.408),
        # sarcosine C3H5NO2 87.078 in C15H28NO3Na; methyltaurine C3H7N 57.096 in C15H30NO4SNa
        ("Sodium Lauroyl Sarcosinate", 1 - 87.078 / 293.383),
        ("Sodium Methyl Cocoyl Taurate", 1 - 57.096 / 343.458),
        # two acetates C2H2O2 58.036 on fermented glutamic acid, C9H9NO8Na4
        ("Tetrasodium Glutamate Diacetate", 1 - 2 * 58.036 / 351.130),
        # fermented glutamic acid and a plant's acyl group; minerals; no natural carbon at all
        ("Sodium Cocoyl Glutamate", 1.0),
        ("Sodium Hydroxide", 1.0),
        ("Sodium Benzoate", 0.0),
        ("Disodium EDTA", 0.0),
        ("Dimethicone", 0.0),
    ],
)
def test_the_index_is_the_part_of_the_molar_mass_that_is_not_petrochemical(inci, index):
    assert LIBRARY.substance[inci].natural_origin == pytest.approx(index, abs=0.0006)


@pytest.mark.parametrize(
    ("inci", "part"),
    [
        # lauryl alcohol C12H25O 185.331 and sodium in C24H47O8Na; glyceryl laurate 274.40 with 7 EO
        ("Sodium Laureth-5 Carboxylate", (185.331 + SODIUM) / 486.622),
        ("PEG-7 Glyceryl Cocoate", 274.40 / (274.40 + 7 * ETHYLENE_OXIDE)),
    ],
)
def test_half_or_less_is_not_derived_natural(inci, part):
    assert part <= 0.5
    assert LIBRARY.substance[inci].natural_origin == 0.0


def test_every_index_names_one_method():
    for substance in LIBRARY.substances:
        if substance.natural_origin is not None:
            assert sum(key.startswith("noi-") for key in substance.source.split()) == 1, substance.inci


def test_the_measure_names_the_method():
    note = Catalogue(LIBRARY).find("natural origin").note
    assert "molar mass" in note and "ISO 16128-2" in note
