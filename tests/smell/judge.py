"""What makes a formulator laugh: checks of a designed wash that know nothing of the program's rules.

Thresholds are common practice, no source, unless a line says otherwise. They are looser than the library's own
rules, so that each complaint is about something nobody would weigh.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from tests.smell import shelf as names
from tests.smell.shelf import FOLDER, Amounts, Shelf, shelf

NOTHING = 1e-6
TRACE = 0.01
Check = Callable[["Wash"], Iterator[str]]
CHECKS: list[Check] = []


@dataclass(frozen=True)
class Wash:
    """A designed formula and what it is for.

    Attributes
    ----------
    amounts : mapping of material id to % w/w
    pH : float, optional
        As the answer states it.
    area : str
    clear : bool
        Whether the brief means it to be seen through.
    users : tuple of str
    """

    amounts: Amounts
    pH: float | None
    area: str = "face"
    clear: bool = False
    users: tuple[str, ...] = ()
    on: Shelf = field(default_factory=shelf, repr=False)

    def has(self, inci: set[str]) -> float:
        """Return % w/w of these substances together."""
        return sum(part for name, part in self.on.substances(self.amounts).items() if name in inci)

    @property
    def active(self) -> float:
        """Return the active matter, % w/w."""
        return self.on.active(self.amounts)


def complaints(wash: Wash) -> list[str]:
    """Return everything that is wrong with a wash, in words."""
    return [f"{check.__name__}: {said}" for check in CHECKS for said in check(wash)]


def check(function: Check) -> Check:
    """Add a check to the list."""
    CHECKS.append(function)
    return function


@check
def adds_up(wash: Wash) -> Iterator[str]:
    total = sum(wash.amounts.values())
    if abs(total - 100.0) > 1e-6:
        yield f"the lines add up to {total:.8f}"


@check
def mostly_water(wash: Wash) -> Iterator[str]:
    water = wash.has({"Aqua"})
    if water < 50.0:
        yield f"{water:.1f} % water: a paste, not a wash"
    if wash.amounts.get("water", 0.0) < 20.0 and not wash.on.main(wash.amounts, "hydrosol"):
        yield f"{wash.amounts.get('water', 0.0):.1f} % of added water leaves nothing to dissolve powders in"


@check
def preserved(wash: Wash) -> Iterator[str]:
    """Water without a complete preservative system inside its pH range (the ranges that library.toml states)."""
    with (FOLDER / "library.toml").open("rb") as file:
        systems = tomllib.load(file)["system"]
    whole = [
        system
        for system in systems
        if all(
            wash.amounts.get(member, 0.0) >= low - NOTHING for member, (low, _) in system["members"].items()
        )
    ]
    if not whole:
        yield "no complete preservative system"
        return
    if wash.pH is None:
        yield "no pH can be told, so no preservative can be trusted"
        return
    pH = wash.pH
    working = [
        system
        for system in whole
        if "pH" not in system
        or (system["pH"][0] - 1e-3 <= pH <= system["pH"][1] - (0.2 if system["pH"][1] <= 6 else 0.0) + 1e-3)
    ]
    if not working:
        told = ", ".join(f"{system['name']} {system.get('pH')}" for system in whole)
        yield f"at pH {pH:.2f} beside {told}: no room for drift, or outside"


@check
def skin_pH(wash: Wash) -> Iterator[str]:
    soap = wash.has(names.SOAPS)
    if wash.pH is None:
        return
    if soap < 0.5 * wash.active and not 3.9 <= wash.pH <= 8.05:
        yield f"pH {wash.pH:.2f} on skin"
    if soap > 0.1 and wash.pH < 8.9:
        yield f"soap at pH {wash.pH:.2f} falls back to fatty acid"


@check
def splits(wash: Wash) -> Iterator[str]:
    if wash.pH is None:
        return
    if wash.has(names.ETHER_AND_ALKYL_SULFATES) > 0.5 and wash.pH < 4.49:
        yield f"alkyl or ether sulfate at pH {wash.pH:.2f} splits"
    if wash.has(names.ESTERS) > 0.3 and not 4.95 <= wash.pH <= 8.05:
        yield f"isethionate or sulfosuccinate ester at pH {wash.pH:.2f} splits"


@check
def curdles(wash: Wash) -> Iterator[str]:
    """Acid forms that fall out: cocoyl glycinate below 6, sarcosinate alone below 5, glutamate below 4.7."""
    if wash.pH is None:
        return
    if wash.has(names.GLYCINATES) > 0.3 and wash.pH < 5.99:
        yield f"cocoyl glycinate curdles at pH {wash.pH:.2f}"
    sarcosinate, betaine = wash.has({"Sodium Lauroyl Sarcosinate"}), wash.has(names.BETAINES)
    if sarcosinate > 0.3 and wash.pH < 4.95 and betaine < 0.5 * sarcosinate:
        yield f"lauroyl sarcosinate falls out at pH {wash.pH:.2f} without a betaine"
    if wash.clear and wash.has({"Sodium Cocoyl Glutamate"}) > 0.5 and wash.pH < 5.4:
        yield f"a clear wash with monosodium glutamate at pH {wash.pH:.2f} is hazy"
    if wash.clear and wash.has(names.GLYCINATES) > 0.3 and wash.pH < 6.9:
        yield f"a clear wash with glycinate at pH {wash.pH:.2f} is opaque"


@check
def opposite_charges(wash: Wash) -> Iterator[str]:
    quat = wash.has(names.CATIONIC_SURFACTANTS)
    if quat > 0.1 and wash.area != "hair":
        yield f"{quat:.2f} % cationic surfactant on skin"
    if quat > 0.01 and wash.on.active(wash.amounts, names.ANIONIC) > 0.5:
        yield "cationic beside anionic surfactant"
    polymer = wash.has(names.CATIONIC_POLYMERS)
    if polymer > 0.01 and wash.has(names.ANIONIC_GUMS | names.CARBOMERS) > 0.01:
        yield "a cationic polymer beside an anionic gum or acrylate"


@check
def salt(wash: Wash) -> Iterator[str]:
    chloride = wash.has({"Sodium Chloride", "Maris Sal"})
    if chloride > 3.01:
        yield f"{chloride:.2f} % sodium chloride"
    added = wash.on.main(wash.amounts, "salt")
    responsive = wash.on.active(wash.amounts, names.ETHER_AND_ALKYL_SULFATES | names.BETAINES)
    if added and responsive < 0.55 * wash.active:
        yield f"{', '.join(added)} thickens no blend of these surfactants"
    electrolyte = wash.has({"Sodium Chloride", "Maris Sal", "Sodium Sulfate", "Magnesium Sulfate"})
    if wash.has({"Carbomer"}) > 0.01 and electrolyte > 0.21:
        yield f"carbomer with {electrolyte:.2f} % salt collapses"
    if wash.amounts.get("emulsifying-crosspolymer", 0.0) > 0 and electrolyte > 0.55:
        yield f"the emulsifying crosspolymer with {electrolyte:.2f} % salt lets the oil go"
    if wash.has({"Magnesium Sulfate"}) > 0.05 and wash.has(names.SOAPS | names.ACYL_AMINO) > 0.5:
        yield "magnesium with soap or acyl amino acids makes scum"


@check
def clear_means_clear(wash: Wash) -> Iterator[str]:
    if not wash.clear:
        return
    oil = sum(wash.on.main(wash.amounts, "oil").values())
    if oil > 0.51:
        yield f"{oil:.2f} % oil in a clear wash"
    clouding = wash.has(names.CLOUDING)
    if clouding > 0.005:
        yield f"{clouding:.3f} % of what clouds in a clear wash"
    dull = [m for m in wash.amounts if wash.on.materials[m]["clarity"] in ("opaque", "pearl")]
    if dull:
        yield f"{', '.join(dull)} in a clear wash"


@check
def scent_is_dissolved(wash: Wash) -> Iterator[str]:
    scent = wash.has(names.ESSENTIAL_OILS)
    helper = sum(wash.on.of_function(wash.amounts, "solubiliser").values())
    if wash.clear and scent > 0.31 and helper < 3.9 * (scent - 0.3):
        yield f"{scent:.2f} % scent with {helper:.2f} % solubiliser clouds"
    if scent > (1.0 if wash.area in ("face", "hands") else 2.0) + NOTHING:
        yield f"{scent:.2f} % scent"


@check
def what_settles_is_held(wash: Wash) -> Iterator[str]:
    heavy = wash.has(names.SETTLING)
    fine_mica = wash.has({"Mica"}) >= heavy - 0.05
    xanthan = wash.has({"Xanthan Gum"})
    if heavy > 0.02 and wash.has(names.YIELD) < 0.05 and not (fine_mica and xanthan > 0.95):
        yield f"{heavy:.2f} % pearl, mica, pigment or scrub and nothing with a yield point"


@check
def oil_is_carried(wash: Wash) -> Iterator[str]:
    """Beyond a tenth of the surfactant, oil needs a carrying polymer or emulsifiers that suit it, and structure."""
    oil = sum(wash.on.main(wash.amounts, "oil").values())
    free = oil - 0.5 - 0.1 * wash.active
    if free <= 0.02:
        return
    polymer = wash.has(names.CARRYING_POLYMERS)
    emulsifier = sum(wash.on.of_function(wash.amounts, "emulsifier").values())
    if polymer < 0.15 and emulsifier < 0.2 * free:
        yield f"{oil:.2f} % oil and nothing that carries it"
    if oil > 25.0:
        yield f"{oil:.1f} % oil is no wash"
    structure = polymer + wash.has(
        {"Xanthan Gum", "Sclerotium Gum", "Gellan Gum", "Microcrystalline Cellulose", "Cetearyl Alcohol",
         "Hydroxyethylcellulose", "Hydroxypropyl Methylcellulose", "Acrylates Copolymer", "Carbomer",
         "Guar Hydroxypropyltrimonium Chloride", "Cellulose Gum", "Magnesium Aluminum Silicate"}
    )  # fmt: skip
    if structure < 0.14:
        yield f"{oil:.2f} % oil without anything that structures the water"


@check
def gum_has_its_liquid(wash: Wash) -> Iterator[str]:
    gum = sum(wash.amounts.get(name, 0.0) for name in ("xanthan-gum", "cationic-guar", "sclerotium-gum"))
    liquid = wash.has({"Glycerin", "Propanediol", "Butylene Glycol", "Pentylene Glycol", "Sorbitol"})
    if gum > 0 and liquid < 2.9 * gum:
        yield f"{gum:.2f} % gum and {liquid:.2f} % polyol to slurry it"


@check
def thickener_works_at_its_pH(wash: Wash) -> Iterator[str]:
    """Windows of handbooks, from memory: cationic guar 4 to 7, carbomer 5.5 to 9, swellable acrylate from 6.3."""
    if wash.pH is None:
        return
    for material, low, high in (
        ("cationic-guar", 4.0, 7.05), ("carbomer", 5.45, 9.0), ("acrylates-copolymer-30", 6.25, 10.0),
    ):  # fmt: skip
        if wash.amounts.get(material, 0.0) > 0 and not low - 0.01 <= wash.pH <= high:
            yield f"{material} at pH {wash.pH:.2f}"


@check
def never_together(wash: Wash) -> Iterator[str]:
    if wash.has({"Ascorbic Acid"}) > 0 and wash.has({"Sodium Benzoate", "Benzoic Acid"}) > 0:
        yield "ascorbic acid with benzoate can form benzene"
    if wash.has(names.IRON_OXIDES) > 0 and wash.has({"Caprylhydroxamic Acid"}) > 0:
        yield "caprylhydroxamic acid colours with iron oxides"
    if wash.amounts.get("sodium-bicarbonate", 0.0) > 0 and wash.pH is not None and wash.pH < 6.9:
        yield "bicarbonate in an acid wash froths for days"


@check
def hard_water(wash: Wash) -> Iterator[str]:
    scum = wash.has(names.SOAPS | names.ACYL_AMINO)
    if scum > 3.3 and wash.has(names.CHELATORS) < 0.03:
        yield f"{scum:.1f} % soap or acyl amino acids and no chelator"


@check
def washes(wash: Wash) -> Iterator[str]:
    if not 3.0 - NOTHING <= wash.active <= 20.0 + NOTHING:
        yield f"{wash.active:.1f} % active matter"
    by_name = wash.on.substances(wash.on.main(wash.amounts, "surfactant"))
    for inci in names.SURFACTANTS:
        if by_name.get(inci, 0.0) > 0.9 * wash.active and wash.active > 0 and inci not in names.SOAPS:
            yield f"{inci} alone"
    if by_name.get("Lauramine Oxide", 0.0) > 0.25 * wash.active:
        yield "more than a quarter of the active matter is amine oxide"


@check
def no_dust(wash: Wash) -> Iterator[str]:
    for material, percent in wash.amounts.items():
        if 0 < percent < TRACE - NOTHING and wash.on.materials[material]["function"] != "colourant":
            yield f"{percent:.5f} % of {material}"


@check
def no_odd_heap(wash: Wash) -> Iterator[str]:
    for function, most in (("acid", 2), ("base", 1), ("chelator", 2), ("fragrance", 2), ("opacifier", 1)):
        found = wash.on.main(wash.amounts, function)
        if len(found) > most:
            yield f"{len(found)} of function {function}: {', '.join(found)}"
    if wash.on.main(wash.amounts, "acid") and wash.on.main(wash.amounts, "base"):
        base = wash.on.main(wash.amounts, "base")
        if not set(base) <= {"trisodium-citrate"} and not wash.on.main(wash.amounts, "thickener"):
            yield f"acid and base against each other: {', '.join(base)}"
    if len(wash.amounts) > 18:
        yield f"{len(wash.amounts)} raw materials"
    stray = {"salicylic-acid", "niacinamide", "ascorbic-acid", "allantoin", "urea", "kaolin"} & set(
        wash.amounts
    )
    if stray:
        yield f"{', '.join(sorted(stray))}, which nobody asked for"
    for grades in (
        {"sodium-laureth-sulfate-28", "sodium-laureth-sulfate-70"},
        {"cocamidopropyl-betaine-30", "cocamidopropyl-betaine-38"},
        {"decyl-glucoside", "decyl-glucoside-neutral"},
        {"sodium-lauryl-sulfate-30", "sodium-lauryl-sulfate-powder"},
        {"glycerin", "glycerin-rapeseed"},
        {"citric-acid", "citric-acid-10", "citric-acid-20", "citric-acid-50"},
        {"lactic-acid-80", "lactic-acid-90"},
        {"sodium-hydroxide-10", "sodium-hydroxide-18", "sodium-hydroxide-25"},
    ):
        both = grades & {m for m, p in wash.amounts.items() if p > 0}
        if len(both) > 1:
            yield f"two grades of one thing: {', '.join(sorted(both))}"


@check
def dissolves(wash: Wash) -> Iterator[str]:
    """Undissociated acid above its solubility in water: benzoic 0.34, salicylic 0.22 g/100 g (handbooks, memory).

    Micelles dissolve more, so twice that is where one laughs.
    """
    if wash.pH is None:
        return
    for inci, pka, share, most in (
        ("Sodium Benzoate", 4.2, 0.847, 0.68), ("Benzoic Acid", 4.2, 1.0, 0.68), ("Salicylic Acid", 2.97, 1.0, 0.44),
        ("Potassium Sorbate", 4.76, 0.746, 0.32),
    ):  # fmt: skip
        free = wash.has({inci}) * share / (1.0 + 10.0 ** (wash.pH - pka))
        if free > most:
            yield f"{free:.2f} % of free acid from {inci}"


@check
def buffered_or_ready(wash: Wash) -> Iterator[str]:
    """An alkaline glucoside with nothing acid in the wash: its pH is anybody's guess.

    Carbomers are poly(acrylic acids), about 72 g per mole of acid: 0.3 % is 4 mmol per 100 g.
    """
    alkaline = {"coco-glucoside", "decyl-glucoside", "lauryl-glucoside"}
    glucoside = wash.on.active({m: p for m, p in wash.amounts.items() if m in alkaline})
    if glucoside > 0.3 * wash.active and glucoside > 0.5:
        acid = wash.has(names.ACIDS | names.CARBOMERS)
        if acid < 0.02:
            yield f"{glucoside:.1f} % of alkaline glucoside and no acid"


@check
def gentle_for_the_young(wash: Wash) -> Iterator[str]:
    if "under 3" not in wash.users:
        return
    if wash.has(names.ESSENTIAL_OILS) > 0 or wash.has({"Salicylic Acid"}) > 0:
        yield "scent or salicylic acid for children under 3"
    if wash.has(names.ETHER_AND_ALKYL_SULFATES) > 1.0:
        yield "sulfates in a wash for the very young"
