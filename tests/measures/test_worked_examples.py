"""Measures against worked examples: published ones by source, the trade's arithmetic as common practice."""

import numpy as np
import pytest

from optiform.library.models import Base, Trust
from optiform.measures import Catalogue, Conditions
from tests.builders import tiny_library
from tests.measures.samples import TRIALS, full_library, with_water_demand
from tests.tried import tried

LIBRARY = full_library()
CATALOGUE = Catalogue(LIBRARY)


def oils(required):
    """Return a library of oils that each hold one substance with a required HLB."""
    return tiny_library(
        [{"id": name, "function": "oil"} for name in required],
        [
            {"inci": name.capitalize(), "required_hlb": hlb, "charge_acid_form": 0.0, "strong_charge": 0.0}
            for name, hlb in required.items()
        ],
        {name: {name.capitalize(): 100.0} for name in required},
    )


def measured(library, name, lines, **conditions):
    rest = 100.0 - sum(lines.values())
    return Catalogue(library, Conditions(**conditions)).find(name).value(
        library.arrays.amounts([*lines.items(), ("water", rest)])
    )  # fmt: skip


def test_required_hlb_of_an_oil_phase():
    """Teaching example after Griffin 1949: 33 paraffin (12), 2 mineral oil (12), 1 lanolin (10), 1 cetyl (15)."""
    library = oils({"paraffin": 12, "mineral-oil": 12, "lanolin": 10, "cetyl": 15})
    lines = {"paraffin": 33.0, "mineral-oil": 2.0, "lanolin": 1.0, "cetyl": 1.0}
    value = measured(library, "required HLB", lines)
    assert value == pytest.approx(12.03, abs=0.005)
    low, high = 4.3, 15.0  # sorbitan oleate, polysorbate 80
    assert 100 * (value - low) / (high - low) == pytest.approx(72.2, abs=0.05)


@pytest.mark.parametrize(
    ("amounts", "value"),
    [
        ((1.5, 7.5, 7.5, 12.5, 5), 10.33), ((1.5, 7.5, 7.5, 10.5, 5), 10.04), ((1.5, 7.5, 7.5, 8.5, 5), 9.71),
        ((1.5, 7.5, 7.5, 6.5, 5), 9.33), ((1.5, 10, 10, 10.5, 5), 9.72),
    ],
)  # fmt: skip
def test_required_hlb_of_five_published_phases(amounts, value):
    """OCL 29 (2022), article ocl210096, table 4: beeswax, myristate, glyceryl stearate, stearic acid, seed oil."""
    required = {"beeswax": 12, "myristate": 11.5, "stearate": 3.8, "stearic": 15, "seed-oil": 6.2}
    lines = dict(zip(required, amounts, strict=True))
    assert measured(oils(required), "required HLB", lines) == pytest.approx(value, abs=0.005)


def test_emulsifier_hlb_is_the_weighted_mean():
    """Griffin 1949: weight-additive. 72.2 % of 15.0 with 27.8 % of 4.3 gives 12.03 back."""
    library = tiny_library(
        [{"id": "high", "function": "emulsifier"}, {"id": "low", "function": "solubiliser"}],
        [
            {"inci": name, "hlb": hlb, "charge_acid_form": 0.0, "strong_charge": 0.0}
            for name, hlb in (("High", 15.0), ("Low", 4.3))
        ],
    )
    assert measured(library, "emulsifier HLB", {"high": 3.61, "low": 1.39}) == pytest.approx(
        12.025, abs=0.005
    )


def test_natural_origin_with_and_without_water():
    """ISO 16128-2:2017 arithmetic on our own figures: 95.46 % with water, 88.655 % without.

    Water 60, ether sulfate 28 % (dry index 0.766), betaine 30 % on 35 % solids (0.60), glycerin, sodium
    benzoate (0), citric acid, parfum (0). Water inside materials stays in both sums.
    """
    library = tiny_library(
        [
            {"id": "ether-sulfate", "function": "surfactant"},
            {"id": "betaine", "function": "surfactant"},
            {"id": "glycerin", "function": "humectant"},
            {"id": "benzoate", "function": "preservative"},
            {"id": "citric-acid", "function": "acid"},
            {"id": "parfum", "function": "fragrance"},
        ],
        [
            {"inci": inci, "natural_origin": index}
            for inci, index in (
                ("Sodium Laureth Sulfate", 0.766), ("Cocamidopropyl Betaine", 0.60), ("Glycerin", 1.0),
                ("Sodium Benzoate", 0.0), ("Citric Acid", 1.0), ("Parfum", 0.0),
            )
        ],
        {
            "ether-sulfate": {"Sodium Laureth Sulfate": 28.0},
            "betaine": {"Cocamidopropyl Betaine": 35.0},
            "glycerin": {"Glycerin": 100.0},
            "benzoate": {"Sodium Benzoate": 100.0},
            "citric-acid": {"Citric Acid": 100.0},
            "parfum": {"Parfum": 100.0},
        },
    )  # fmt: skip
    lines = {
        "ether-sulfate": 25.0,
        "betaine": 10.0,
        "glycerin": 3.0,
        "benzoate": 0.5,
        "citric-acid": 0.5,
        "parfum": 1.0,
    }
    assert measured(library, "natural origin", lines) == pytest.approx(95.462, abs=1e-9)
    assert measured(library, "natural origin without water", lines) == pytest.approx(88.655, abs=1e-9)


def test_a_declared_natural_index_overrides_the_substances():
    """The supplier decides: the olive oil's substance has no index, its material declares 1.0."""
    assert measured(LIBRARY, "natural origin", {"olive-oil": 10.0}) == pytest.approx(100.0)
    assert measured(
        LIBRARY, "natural origin without water", {"olive-oil": 10.0, "sodium-benzoate": 10.0}
    ) == pytest.approx(50.0)


@pytest.mark.parametrize(
    ("pH", "active"),
    [(4.5, 0.4237 * 0.3339), (5.0, 0.058), (5.5, 0.020), (6.0, 0.4237 * 0.0156)],
)
def test_undissociated_benzoic_acid(pH, active):
    """0.5 % sodium benzoate is 0.424 % as acid; 0.058 % is uncharged at pH 5.0, 0.020 % at 5.5 (pKa 4.20, ideal)."""
    measure = CATALOGUE.find("undissociated:Sodium Benzoate")
    amounts = LIBRARY.arrays.amounts([("sodium-benzoate", 0.5), ("water", 99.5)])
    assert measure.at(pH, 0.0).value(amounts) == pytest.approx(active, abs=6e-4)
    acidic = measure.at(0.0, 0.0).value(amounts)
    assert acidic == pytest.approx(0.424, abs=5e-4)


UNDISSOCIATED = {
    "Benzoic Acid": (4.20, (33.39, 13.68, 4.77, 1.56)),
    "Sorbic Acid": (4.76, (64.54, 36.53, 15.40, 5.44)),
    "Dehydroacetic Acid": (5.27, (85.48, 65.06, 37.06, 15.70)),
    "Salicylic Acid": (2.97, (2.87, 0.92, 0.29, 0.09)),
    "Levulinic Acid": (4.6, (55.73, 28.47, 11.18, 3.83)),
    "P-Anisic Acid": (4.47, (48.27, 22.79, 8.54, 2.87)),
}


@pytest.mark.parametrize("acid", UNDISSOCIATED)
def test_undissociated_fractions(acid):
    """100 / (1 + 10^(pH - pKa)), ideal, at pH 4.5, 5.0, 5.5 and 6.0."""
    pka, table = UNDISSOCIATED[acid]
    library = tiny_library(
        [{"id": "acid", "function": "preservative"}],
        [{"inci": acid, "molar_mass": 150.0, "pka": (pka,), "charge_acid_form": 0.0, "strong_charge": 0.0}],
        {"acid": {acid: 100.0}},
    )
    measure = Catalogue(library).find(f"undissociated:{acid}")
    for pH, percent in zip((4.5, 5.0, 5.5, 6.0), table, strict=True):
        value = measure.at(pH, 0.0).value(library.arrays.amounts([("acid", 1.0), ("water", 99.0)]))
        assert 100 * value == pytest.approx(percent, abs=0.006)


def test_mildness_is_a_mean_over_active_matter():
    """Scores 4, 1.5 and 2.5 at 3.400, 2.975 and 2.125 % active give 2.75, diluted or not (common practice)."""
    library = tiny_library(
        [{"id": name, "function": "surfactant"} for name in ("a", "b", "c")],
        [
            {"inci": name.upper(), "charge_class": kind, "mildness": score}
            for name, kind, score in (("a", "anionic", 4.0), ("b", "amphoteric", 1.5), ("c", "nonionic", 2.5))
        ],
        {"a": {"A": 30.0}, "b": {"B": 30.0}, "c": {"C": 50.0}},
    )
    lines = {"a": 3.4 / 0.30, "b": 2.975 / 0.30, "c": 2.125 / 0.50}
    assert sum(lines.values()) == pytest.approx(25.5)
    assert measured(library, "mildness", lines) == pytest.approx(2.75, abs=1e-9)
    assert measured(library, "active matter", lines) == pytest.approx(8.5)
    assert measured(library, "mildness", {k: v / 3 for k, v in lines.items()}) == pytest.approx(
        2.75, abs=1e-9
    )
    assert measured(library, "irritation load", lines) == pytest.approx(8.5 * (100 - 2.75))
    assert measured(library, "share:anionic", lines) == pytest.approx(40)


def test_what_counts_as_active_matter():
    """Substances with a charge class count, and only in surfactants: no solubiliser, emulsifier, thickener or quat."""
    lines = {"ether-sulfate": 10.0, "betaine": 10.0, "glucoside": 10.0}
    others = {"quat": 1.0, "polysorbate": 2.0, "glyceryl-oleate": 1.0, "thick-glucoside": 2.0}
    for name in (
        "active matter",
        "anionic",
        "amphoteric",
        "nonionic",
        "cationic",
        "mildness",
        "irritation load",
    ):
        assert measured(LIBRARY, name, lines) == measured(LIBRARY, name, {**lines, **others})
    assert measured(LIBRARY, "active matter", lines) == pytest.approx(2.8 + 3.0 + 5.0)
    assert measured(LIBRARY, "share:Decyl Glucoside", {**lines, **others}) == pytest.approx(100 * 5 / 10.8)
    assert measured(LIBRARY, "substance:Decyl Glucoside", {**lines, **others}) == pytest.approx(6.0)


def test_electrolyte_counts_salt_inside_materials():
    """0.5 % in the ether sulfate, 5 % in the betaine (stoichiometry gives 5.12 %), and what is added."""
    assert measured(
        LIBRARY, "electrolyte", {"ether-sulfate": 20.0, "betaine": 10.0, "salt": 0.4}
    ) == pytest.approx(1.0)


def test_a_tag_counts_a_material_whole_or_its_substances_in_part():
    assert measured(LIBRARY, "tag:mild", {"betaine": 10.0}) == pytest.approx(10.0)
    assert measured(LIBRARY, "tag:sulfate", {"ether-sulfate": 10.0}) == pytest.approx(2.8)
    assert measured(LIBRARY, "share:tag:mild", {"betaine": 10.0, "ether-sulfate": 10.0}) == pytest.approx(
        100 * 3 / 5.8
    )


def test_columns_of_the_user_on_every_basis():
    """A total adds, a mean divides by its basis: whole oils, active matter of the substances, what a tag marks."""
    assert measured(LIBRARY, "acid demand", {"glucoside": 10.0, "ether-sulfate": 5.0}) is None, (
        "water states none"
    )
    library = with_water_demand()
    assert measured(library, "acid demand", {"glucoside": 10.0, "ether-sulfate": 5.0}) == pytest.approx(3.1)
    assert measured(
        LIBRARY, "mean iodine value", {"sunflower-oil": 1.0, "olive-oil": 1.0, "salt": 2.0}
    ) == pytest.approx(106)
    assert measured(LIBRARY, "carbon of active", {"glucoside": 10.0}) == pytest.approx(60)
    assert measured(LIBRARY, "carbon of active", {"glucoside": 10.0, "betaine": 1.0}) is None
    assert measured(LIBRARY, "carbon of the mild", {"glucoside": 10.0}) is None, "nothing tagged mild"


def test_viscosity_is_read_in_logarithms_between_the_users_trials():
    """0.6 % gives 900 and 0.9 % 4000 mPa.s: 2500 needs 0.81 % (a straight line in mPa.s would say 0.75 %)."""
    library = tried(full_library(trials=TRIALS), "sulfate with betaine")
    catalogue = Catalogue(library, Conditions(base="sulfate with betaine"))
    measure = catalogue.find("viscosity")
    at = {ladder.material: ladder for ladder in measure.ladders}
    low, _ = at["salt"].window(2500.0, None)
    assert low == pytest.approx(0.81, abs=0.005)
    amounts = library.arrays.amounts([("salt", low), ("ether-sulfate", 20.0), ("water", 80 - low)])
    assert measure.value(amounts) == pytest.approx(2500, rel=1e-9)
    assert at["salt"].percents == (0.6, 0.9, 1.5), "the falling branch of salt is left out"
    for lines in ({"salt": 0.5}, {"salt": 1.6}, {"salt": 0.8, "thick-glucoside": 1.5}, {"glycerin": 3.0}):
        assert measure.value(library.arrays.amounts({**lines, "ether-sulfate": 20.0}.items())) is None
    assert at["salt"].window(10_000.0, None) is None
    assert Catalogue(library, Conditions(base="another")).find("viscosity").value(amounts) is None


def test_a_viscosity_is_told_only_inside_trials_of_ones_own_in_that_base():
    """The same kinds of surfactant, shares and strength within what was tried; else nobody knows."""
    trials = tuple(trial.model_copy(update={"trust": Trust.OWN}) for trial in TRIALS)
    shares = {"anionic": (60.0, 90.0), "amphoteric": (10.0, 40.0)}
    base = Base(name="sulfate with betaine", active=(4.0, 12.0), shares=shares)
    described = full_library(trials=trials, bases=(base,))

    def told(library, lines):
        measure = Catalogue(library, Conditions(base="sulfate with betaine")).find("viscosity")
        return measure.value(library.arrays.amounts({**lines, "salt": 0.9}.items()))

    inside = {"ether-sulfate": 20.0, "betaine": 5.0}  # 5.6 and 1.5 % active: 79 and 21 %
    assert told(described, inside) == pytest.approx(4000)
    assert told(described, {"ether-sulfate": 20.0, "betaine": 0.5}) is None, "too little betaine"
    assert told(described, {"ether-sulfate": 50.0, "betaine": 12.5}) is None, "stronger than tried"
    assert told(described, {**inside, "glucoside": 2.0}) is None, "another kind of surfactant"
    assert told(full_library(trials=trials), inside) is None, "a base that nobody described"
    invented = tuple(trial.model_copy(update={"trust": Trust.INVENTED}) for trial in TRIALS)
    assert told(described.model_copy(update={"trials": invented}), inside) is None, "trials that nobody made"


def test_cost_is_per_kg_of_formula():
    assert measured(LIBRARY, "cost", {"ether-sulfate": 20.0, "glycerin": 3.0}) == pytest.approx(0.33)
    parts = CATALOGUE.find("cost").contributions(
        LIBRARY.arrays.amounts([("ether-sulfate", 20.0), ("glycerin", 3.0)])
    )
    assert parts[LIBRARY.arrays.material_index["ether-sulfate"]] == pytest.approx(0.30)
    assert np.count_nonzero(parts) == 2
