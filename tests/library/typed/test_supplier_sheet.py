"""What a supplier's sheet says, as it is typed; tags that an INCI name tells by itself."""

import pytest

from optiform.faults import BadInput, Faults
from optiform.library import load_library
from optiform.library.typed.inci_tags import tags_of
from optiform.library.typed.supplier_sheet import described_substance, read_titration, window

TOLD_BY_NAME = {
    "sulfate", "ethoxylated", "peg", "anionic-surfactant", "sulfosuccinate", "isethionate", "amino-acid", "soap",
    "betaine", "amphoacetate", "amine-oxide", "alkanolamide", "polysorbate", "polyglyceryl", "cationic-polymer",
    "cationic-surfactant", "anionic-gum", "anionic-polymer", "silicone", "amine-source", "protein", "animal",
    "gluten", "nut", "coconut", "botanical", "fragrance", "chelating", "colourant", "iron-oxide", "mica",
}  # fmt: skip


@pytest.mark.parametrize("substance", load_library().substances, ids=lambda substance: substance.inci)
def test_names_tell_what_was_tagged_by_hand_in_the_starter_library(substance):
    """No tag too many; of the tags that names can tell, none too few (two oils are known by more than their names)."""
    told, by_hand = set(tags_of(substance.inci)), set(substance.tags)
    assert told <= by_hand
    assert by_hand & TOLD_BY_NAME <= told


@pytest.mark.parametrize(
    ("inci", "tags"),
    [
        ("Sodium Myreth Sulfate", "sulfate ethoxylated peg anionic-surfactant"),
        ("Sodium C12-13 Pareth Sulfate", "sulfate ethoxylated peg anionic-surfactant"),
        ("Sodium Cetearyl Sulfate", "sulfate anionic-surfactant"),
        ("Potassium Sulfate", ""),
        ("Ceteareth-20", "ethoxylated peg"),
        ("Polyquaternium-39", "cationic-polymer"),
        ("Stearalkonium Chloride", "cationic-surfactant"),
        ("Lauryl Betaine", "betaine"),
        ("Sodium Olivate", "soap anionic-surfactant"),
        ("Amodimethicone", "silicone"),
        ("Methylisothiazolinone", "isothiazolinone"),
        ("DMDM Hydantoin", "formaldehyde-releaser"),
        ("Ascorbyl Glucoside", ""),
        ("Arginine", ""),
    ],
)
def test_names_that_the_starter_library_does_not_hold(inci, tags):
    """INCI nomenclature, from memory: no source."""
    assert tags_of(inci) == tuple(tags.split())


def test_a_substance_is_described_in_a_line():
    faults = Faults()
    found = described_substance("Sodium Quinceoyl Taurate: anionic, mildness=60", "sheet 7", faults)
    assert found is not None and not faults.found
    assert (found.charge_class, found.mildness, found.source) == ("anionic", 60.0, "sheet 7")
    assert found.tags == ("anionic-surfactant",) and not found.charge_known
    plain = described_substance("Quince Water", "", faults)
    assert plain is not None and plain.charge_class is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Quince: anionc", "did you mean 'anionic'"),
        (": anionic", "cannot be read"),
        ("Quince: anionic, mild=60", "allowed: mildness, natural_origin, molar_mass"),
        ("Quince: anionic, mildness=soft", "cannot be read"),
        ("Quince: anionic, mildness=160", "mildness of 'Quince': 160.0 is out of range"),
    ],
)
def test_a_description_that_cannot_be_read_is_named(text, said):
    faults = Faults()
    assert described_substance(text, "", faults) is None
    assert said in str(faults.found[0])


@pytest.mark.parametrize(("text", "ends"), [("5", (5, 5)), ("4.5:5.5", (4.5, 5.5)), (" 4 : 6 ", (4, 6))])
def test_windows(text, ends):
    assert window(text, "--ph-10", Faults()) == ends


@pytest.mark.parametrize("text", ["", "x", "5:4", "1:2:3", "4,5"])
def test_no_windows(text):
    faults = Faults()
    assert window(text, "--ph-10", faults) is None and faults.found


def test_a_titration_is_read_for_its_material(tmp_path):
    path = tmp_path / "curve.csv"
    path.write_text("pH,acid_mmol_per_kg\n8,0\n5,40\n")
    faults = Faults()
    points = read_titration(path, "foam", "own bench", faults)
    assert [(p.material, p.pH, p.acid_mmol_per_kg, p.source) for p in points] == [
        ("foam", 8.0, 0.0, "own bench"),
        ("foam", 5.0, 40.0, "own bench"),
    ]
    path.write_text("pH,acid_mmol_per_kg\n15,x\n")
    read_titration(path, "foam", "", faults)
    with pytest.raises(BadInput, match="15"):
        faults.raise_if_any()
