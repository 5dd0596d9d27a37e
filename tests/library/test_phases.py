"""When a material goes in: its own phase, beside what else a formula holds (common practice, no source)."""

from optiform import load_library
from optiform.library.models import phases_of


def phases(*names):
    material = load_library(None).material
    return phases_of(material[name] for name in names)


def test_a_liquid_that_wets_a_gum_goes_with_it():
    assert phases("water", "glycerin", "xanthan-gum")["glycerin"] == "gum"
    assert phases("water", "glycerin", "polyquaternium-10")["glycerin"] == "gum"


def test_without_a_gum_it_goes_into_the_water():
    assert phases("water", "glycerin", "propanediol", "cocamidopropyl-betaine-30") == {
        "water": "water", "glycerin": "water", "propanediol": "water", "cocamidopropyl-betaine-30": "surfactant",
    }  # fmt: skip


def test_a_solubiliser_goes_with_the_oil_where_there_is_no_fragrance_to_carry():
    assert phases("water", "coco-caprylate", "sorbitan-oleate", "polysorbate-20")["polysorbate-20"] == "oil"
    assert phases("water", "polysorbate-20")["polysorbate-20"] == "cool"
    scent = next(m.id for m in load_library(None).materials if m.function == "fragrance")
    assert phases("water", "coco-caprylate", scent, "polysorbate-20")["polysorbate-20"] == "cool"
