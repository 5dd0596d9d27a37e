"""The starter library as a formulator reads it: straight from its CSV files, by INCI name."""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import optiform.library

FOLDER = Path(optiform.library.__file__).parent / "starter"
Amounts = Mapping[str, float]


@dataclass(frozen=True)
class Shelf:
    """What the tables say, row by row.

    Attributes
    ----------
    materials : mapping of id to row
    holds : mapping of id to {INCI name: % w/w}
    """

    materials: Mapping[str, Mapping[str, str]]
    holds: Mapping[str, Mapping[str, float]]

    def substances(self, amounts: Amounts) -> dict[str, float]:
        """Return % w/w of every substance in a formula."""
        found: dict[str, float] = defaultdict(float)
        for material, percent in amounts.items():
            for inci, share in self.holds[material].items():
                found[inci] += percent * share / 100.0
        return dict(found)

    def functions(self, material: str) -> set[str]:
        """Return the functions that a material's row states."""
        row = self.materials[material]
        return {row["function"], *row["also"].split()} - {""}

    def of_function(self, amounts: Amounts, *functions: str) -> dict[str, float]:
        """Return the materials of some functions, % w/w."""
        return {m: p for m, p in amounts.items() if p > 0 and self.functions(m) & set(functions)}

    def main(self, amounts: Amounts, *functions: str) -> dict[str, float]:
        """Return the materials whose main function is one of these, % w/w."""
        return {m: p for m, p in amounts.items() if p > 0 and self.materials[m]["function"] in functions}

    def active(self, amounts: Amounts, names: Iterable[str] | None = None) -> float:
        """Return % w/w of surfactant substance, of all or of some INCI names."""
        wanted = SURFACTANTS if names is None else set(names)
        washing = self.main(amounts, "surfactant")
        return sum(part for inci, part in self.substances(washing).items() if inci in wanted)


@cache
def shelf() -> Shelf:
    """Read the tables once."""
    with (FOLDER / "materials.csv").open(encoding="utf-8", newline="") as file:
        materials = {row["id"]: row for row in csv.DictReader(file)}
    holds: dict[str, dict[str, float]] = defaultdict(dict)
    with (FOLDER / "composition.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            holds[row["material"]][row["inci"]] = float(row["percent"])
    return Shelf(materials, holds)


def read(name: str) -> list[dict[str, str]]:
    """Return the rows of one table."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


SURFACTANTS = {row["inci"] for row in read("substances.csv") if row["charge_class"]}
MOLAR = {row["inci"]: float(row["molar_mass"]) for row in read("substances.csv") if row["molar_mass"]}
ANIONIC = {row["inci"] for row in read("substances.csv") if row["charge_class"] == "anionic"}
AMPHOTERIC = {row["inci"] for row in read("substances.csv") if row["charge_class"] == "amphoteric"}

ETHER_AND_ALKYL_SULFATES = {
    "Sodium Laureth Sulfate", "Ammonium Laureth Sulfate", "Sodium Lauryl Sulfate", "Sodium Coco-Sulfate",
}  # fmt: skip
SOAPS = {"Potassium Cocoate"}
ESTERS = {"Disodium Laureth Sulfosuccinate", "Sodium Cocoyl Isethionate"}
GLUCOSIDES = {"Coco-Glucoside", "Decyl Glucoside", "Lauryl Glucoside", "Caprylyl/Capryl Glucoside"}
GLYCINATES = {"Sodium Cocoyl Glycinate", "Potassium Cocoyl Glycinate"}
ACYL_AMINO = {
    *GLYCINATES, "Sodium Lauroyl Sarcosinate", "Sodium Cocoyl Glutamate", "Disodium Cocoyl Glutamate",
    "Sodium Cocoyl Apple Amino Acids", "Sodium Cocoyl Amino Acids",
}  # fmt: skip
BETAINES = {"Cocamidopropyl Betaine", "Coco-Betaine", "Cocamidopropyl Hydroxysultaine"}
CATIONIC_SURFACTANTS = {"Cetrimonium Chloride", "Behentrimonium Chloride", "Behentrimonium Methosulfate"}
CATIONIC_POLYMERS = {
    "Guar Hydroxypropyltrimonium Chloride", "Polyquaternium-7", "Polyquaternium-10", "Polyquaternium-22",
}  # fmt: skip
ANIONIC_GUMS = {"Xanthan Gum", "Cellulose Gum", "Gellan Gum"}
CARBOMERS = {
    "Carbomer", "Acrylates Copolymer", "Acrylates/C10-30 Alkyl Acrylate Crosspolymer", "Polyacrylate Crosspolymer-6",
}  # fmt: skip
YIELD = {
    *CARBOMERS, "Gellan Gum", "Microcrystalline Cellulose", "Magnesium Aluminum Silicate", "Sclerotium Gum",
}  # fmt: skip
CARRYING_POLYMERS = {"Acrylates/C10-30 Alkyl Acrylate Crosspolymer", "Polyacrylate Crosspolymer-6"}
SETTLING = {
    "Glycol Distearate", "Mica", "CI 77891", "CI 77491", "CI 77492", "CI 77499", "Kaolin",
    "Avena Sativa Kernel Flour", "Prunus Armeniaca Seed Powder",
}  # fmt: skip
IRON_OXIDES = {"CI 77491", "CI 77492", "CI 77499"}
CLOUDING = {*SETTLING, "Styrene/Acrylates Copolymer", "Lauryl Glucoside"}
AMINES = {"Triethanolamine", "Tromethamine", "Ethanolamine", "Cocamide MEA"}
ACIDS = {
    "Citric Acid", "Lactic Acid", "Gluconic Acid", "Malic Acid", "Sodium Citrate", "Gluconolactone", "Benzoic Acid",
    "Dehydroacetic Acid", "Sorbic Acid", "Salicylic Acid",
}  # fmt: skip
CHELATORS = {"Tetrasodium Glutamate Diacetate", "Disodium EDTA", "Sodium Phytate", "Sodium Gluconate"}
ESSENTIAL_OILS = {
    "Lavandula Angustifolia Oil", "Citrus Aurantium Dulcis Peel Oil", "Mentha Piperita Oil",
    "Melaleuca Alternifolia Leaf Oil", "Rosmarinus Officinalis Leaf Oil", "Picea Abies Leaf Oil",
    "Pelargonium Graveolens Flower Oil", "Parfum",
}  # fmt: skip
