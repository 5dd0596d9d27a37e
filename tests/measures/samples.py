"""One small invented library that carries every kind of data a measure may ask for."""

from __future__ import annotations

from optiform.library.models import ColumnMeasure, Library, TitrationPoint, Trial
from tests.builders import tiny_library

SUBSTANCES = (
    {"inci": "Sodium Laureth Sulfate", "charge_class": "anionic", "mildness": 40, "natural_origin": 0.5,
     "molar_mass": 382.0, "charge_acid_form": -1.0, "strong_charge": 1.0, "tags": ("sulfate", "ethoxylated")},
    {"inci": "Cocamidopropyl Betaine", "charge_class": "amphoteric", "mildness": 70, "natural_origin": 0.6,
     "molar_mass": 342.5, "pka": (1.9,), "pka_kind": "effective", "charge_acid_form": 1.0, "strong_charge": 0.0},
    {"inci": "Decyl Glucoside", "charge_class": "nonionic", "mildness": 85, "natural_origin": 1.0,
     "charge_acid_form": 0.0, "strong_charge": 0.0, "extra": {"carbon": 60.0}},
    {"inci": "Cetrimonium Chloride", "charge_class": "cationic", "mildness": 20, "natural_origin": 0.7,
     "molar_mass": 320.0, "charge_acid_form": 1.0, "strong_charge": -1.0},
    {"inci": "Polysorbate 20", "charge_class": "nonionic", "mildness": 80, "natural_origin": 0.5, "hlb": 16.7,
     "charge_acid_form": 0.0, "strong_charge": 0.0},
    {"inci": "Glyceryl Oleate", "charge_class": "nonionic", "natural_origin": 1.0, "hlb": 3.8,
     "charge_acid_form": 0.0, "strong_charge": 0.0},
    {"inci": "Lauryl Newcomer", "charge_class": "nonionic", "natural_origin": 0.8,
     "charge_acid_form": 0.0, "strong_charge": 0.0},
    {"inci": "Sodium Chloride", "natural_origin": 1.0, "molar_mass": 58.44, "charge_acid_form": -1.0,
     "strong_charge": 1.0, "tags": ("electrolyte", "salt")},
    {"inci": "Glycerin", "natural_origin": 1.0, "charge_acid_form": 0.0, "strong_charge": 0.0, "tags": ("humectant",)},
    {"inci": "Citric Acid", "natural_origin": 1.0, "molar_mass": 192.12, "pka": (3.128, 4.761, 6.396),
     "charge_acid_form": 0.0, "strong_charge": 0.0, "tags": ("acid",)},
    {"inci": "Sodium Hydroxide", "natural_origin": 0.0, "molar_mass": 40.0, "charge_acid_form": 0.0,
     "strong_charge": 1.0},
    {"inci": "Sodium Benzoate", "natural_origin": 0.0, "molar_mass": 144.10, "pka": (4.202,), "charge_acid_form": 0.0,
     "strong_charge": 1.0},
    {"inci": "Helianthus Annuus Seed Oil", "natural_origin": 1.0, "required_hlb": 7.0, "charge_acid_form": 0.0,
     "strong_charge": 0.0, "tags": ("plant-oil",)},
    {"inci": "Mystery Extract"},
)  # fmt: skip
MATERIALS = (
    {"id": "ether-sulfate", "function": "surfactant", "price": 1.5, "extra": {"acid_demand": 0.02}},
    {"id": "betaine", "function": "surfactant", "price": 1.8, "extra": {"acid_demand": 0.01}, "tags": ("mild",)},
    {"id": "glucoside", "function": "surfactant", "price": 2.4, "free_alkali": 90.0, "extra": {"acid_demand": 0.3}},
    {"id": "newcomer", "function": "surfactant", "price": 3.0},
    {"id": "quat", "function": "conditioner", "price": 2.5, "extra": {"acid_demand": 0.0}},
    {"id": "polysorbate", "function": "solubiliser", "price": 3.0, "extra": {"acid_demand": 0.0}},
    {"id": "glyceryl-oleate", "function": "emulsifier", "price": 4.0, "extra": {"acid_demand": 0.0}},
    {"id": "thick-glucoside", "function": "thickener", "price": 4.0, "extra": {"acid_demand": 0.0}},
    {"id": "salt", "function": "salt", "price": 0.2, "extra": {"acid_demand": 0.0}},
    {"id": "glycerin", "function": "humectant", "price": 1.0, "extra": {"acid_demand": 0.0}},
    {"id": "citric-acid", "function": "acid", "price": 1.0, "extra": {"acid_demand": 0.0}},
    {"id": "lye", "function": "base", "price": 1.0, "extra": {"acid_demand": 0.0}},
    {"id": "sodium-benzoate", "function": "preservative", "price": 2.5, "extra": {"acid_demand": 0.0}},
    {"id": "sunflower-oil", "function": "oil", "price": 3.0, "extra": {"acid_demand": 0.0, "iodine_value": 130.0}},
    {"id": "olive-oil", "function": "oil", "price": 6.0, "extra": {"acid_demand": 0.0, "iodine_value": 82.0},
     "natural_origin": 1.0},
    {"id": "mystery-extract", "function": "extract", "price": 9.0},
)  # fmt: skip
PARTS = {
    "ether-sulfate": {"Sodium Laureth Sulfate": 28.0, "Sodium Chloride": 0.5},
    "betaine": {"Cocamidopropyl Betaine": 30.0, "Sodium Chloride": 5.0},
    "glucoside": {"Decyl Glucoside": 50.0},
    "newcomer": {"Lauryl Newcomer": 40.0},
    "quat": {"Cetrimonium Chloride": 29.0},
    "polysorbate": {"Polysorbate 20": 100.0},
    "glyceryl-oleate": {"Glyceryl Oleate": 100.0},
    "thick-glucoside": {"Decyl Glucoside": 50.0},
    "salt": {"Sodium Chloride": 100.0},
    "glycerin": {"Glycerin": 100.0},
    "citric-acid": {"Citric Acid": 50.0},
    "lye": {"Sodium Hydroxide": 10.0},
    "sodium-benzoate": {"Sodium Benzoate": 100.0},
    "sunflower-oil": {"Helianthus Annuus Seed Oil": 100.0},
    "olive-oil": {"Olea Europaea Fruit Oil": 100.0},
    "mystery-extract": {"Mystery Extract": 5.0},
}
COLUMNS = (
    ColumnMeasure(name="acid demand", column="acid_demand", unit="% w/w", better="lower"),
    ColumnMeasure(name="mean iodine value", column="iodine_value", unit="g/100 g", basis="function:oil"),
    ColumnMeasure(name="carbon of active", column="carbon", unit="%", basis="active matter"),
    ColumnMeasure(name="carbon of the mild", column="carbon", unit="%", basis="tag:mild"),
)


def full_library(**fields: object) -> Library:
    """Return the invented library; fields of `Library` may be replaced."""
    return tiny_library(MATERIALS, SUBSTANCES, PARTS, **{"measures": COLUMNS, **fields})


def with_water_demand() -> Library:
    """Return the library with a stated acid demand of nothing for water, so that formulas have a total."""
    library = full_library()
    materials = tuple(
        m.model_copy(update={"extra": {"acid_demand": 0.0}}) if m.id == "water" else m
        for m in library.materials
    )
    return library.model_copy(update={"materials": materials})


TITRATED = tuple(
    TitrationPoint(material="glucoside", pH=pH, acid_mmol_per_kg=acid)
    for pH, acid in ((12.0, 0.0), (8.0, 60.0), (6.0, 80.0), (4.0, 95.0), (3.0, 140.0))
)
TRIALS = tuple(
    Trial(base="sulfate with betaine", material=material, percent=percent, mPa_s=mPa_s)
    for material, percent, mPa_s in (
        ("salt", 0.6, 900.0), ("salt", 0.9, 4000.0), ("salt", 1.5, 9000.0), ("salt", 2.0, 5000.0),
        ("thick-glucoside", 1.0, 500.0), ("thick-glucoside", 2.0, 2000.0),
    )
)  # fmt: skip
