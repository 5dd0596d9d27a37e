"""Limits at their edges, against Annex III and V of Regulation (EC) 1223/2009 (CosIng export, 2026)."""

from datetime import date

import pytest

from optiform.faults import BadInput
from optiform.law.limits import ApplicableLimit, applicable, concerns, conditions, listed
from optiform.law.models import Limit
from optiform.law.reading import load_law, shipped_molar_masses
from optiform.program.rows import law_rows
from tests.builders import tiny_library

DAY = date(2026, 11, 25)
MASSES = shipped_molar_masses()


def limits(jurisdiction="EU", product="rinse-off", area="face", users=(), on=DAY):
    law = load_law(jurisdiction, on=on)
    return {limit.key: limit for limit in applicable(law, product, area, users)}


def counted(limit: ApplicableLimit, **percent: float) -> float:
    amounts = {name.replace("_", " "): value for name, value in percent.items()}
    factors = limit.factors(MASSES, amounts)
    return sum(factors[name] * amounts[name] for name in factors)


@pytest.mark.parametrize(
    ("entry", "salt", "percent", "maximum"),
    [
        # Annex V/1, V/4, V/13, amounts of the salt that are the maximum as acid; molar masses
        # 122.12 / 144.10, 112.13 / 150.22, 168.15 / 190.13 (anhydrous).
        ("Annex V/1", "Sodium Benzoate", 2.950, 2.5),
        ("Annex V/4", "Potassium Sorbate", 0.804, 0.6),
        ("Annex V/13", "Sodium Dehydroacetate", 0.678, 0.6),
    ],
)
@pytest.mark.parametrize("jurisdiction", ["EU", "UK"])
def test_salt_counts_as_its_acid(jurisdiction, entry, salt, percent, maximum):
    limit = limits(jurisdiction)[f"{jurisdiction} {entry}"]
    assert limit.max_percent == maximum
    factor = limit.factors(MASSES, [salt])[salt]
    assert factor * percent == pytest.approx(maximum, abs=6e-4)
    assert factor * (percent - 0.001) < maximum < factor * (percent + 0.002)


def test_benzoic_acid_and_its_sodium_salt_share_one_limit():
    limit = limits()["EU Annex V/1"]
    assert counted(limit, Benzoic_Acid=1.0, Sodium_Benzoate=1.77) == pytest.approx(2.5, abs=1e-3)


def test_potassium_benzoate_stands_in_the_other_entry():
    """Annex V/1a: every benzoate but the sodium salt, 0.5 % as acid, also in rinse-off products."""
    found = limits()
    assert found["EU Annex V/1"].factors(MASSES, ["Potassium Benzoate"]) == {}
    other = found["EU Annex V/1a"]
    assert other.max_percent == 0.5
    # 0.5 * 160.21 / 122.12, hand calculation
    assert counted(other, Potassium_Benzoate=0.656) == pytest.approx(0.5, abs=1e-3)


def test_two_equivalents_count_twice():
    """Sodium metabisulfite sets two SO2 free: 2 * 64.06 / 190.10 = 0.674 (hand calculation)."""
    sulfites = limits()["EU Annex V/9"]
    assert sulfites.max_percent == 0.2
    assert counted(sulfites, Sodium_Metabisulfite=1.0) == pytest.approx(0.674, abs=1e-3)
    assert counted(sulfites, Sodium_Sulfite=1.0) == pytest.approx(64.06 / 126.04, abs=1e-3)


def test_a_rounded_molar_mass_of_the_acid_itself_counts_as_one():
    limit = limits()["EU Annex V/1"]
    assert limit.factors({"Benzoic Acid": 122.12}, ["Benzoic Acid"]) == {"Benzoic Acid": 1.0}
    assert limit.factors({"Benzoic Acid": 122.1}, ["Benzoic Acid"]) == {"Benzoic Acid": 1.0}


def test_a_missing_molar_mass_is_named_and_never_taken_as_one():
    limit = limits()["EU Annex V/1"]
    with pytest.raises(BadInput) as raised:
        limit.factors({}, ["Sodium Benzoate", "Benzoic Acid", "Glycerin"])
    places = [fault.place for fault in raised.value.faults]
    assert places == ["Benzoic Acid, column molar_mass", "Sodium Benzoate, column molar_mass"]
    assert "EU Annex V/1" in str(raised.value)


def test_no_molar_mass_is_needed_as_such():
    assert limits()["EU Annex V/29"].factors({}, ["phenoxyethanol"]) == {"phenoxyethanol": 1.0}


@pytest.mark.parametrize(("area", "maximum"), [("hair", 3.0), ("face", 2.0), ("body", 2.0), ("hands", 2.0)])
def test_salicylic_acid_by_area(area, maximum):
    """Annex III/98: 3.0 % in rinse-off hair products, 2.0 % in other products."""
    found = limits(area=area)
    assert found["EU Annex III/98"].max_percent == maximum
    assert found["EU Annex V/3"].max_percent == 0.5


def test_salicylic_acid_in_a_body_lotion():
    """Annex III/98 (c): 0.5 % in body lotion."""
    assert limits(product="leave-on", area="body")["EU Annex III/98"].max_percent == 0.5
    assert limits(product="leave-on", area="face")["EU Annex III/98"].max_percent == 2.0


def test_preservative_use_and_other_use_are_told_apart():
    """Salicylic acid as a preservative 0.5 %; for other uses 2 %; its salts have no other entry."""
    preservative = limits()["EU Annex V/3"]
    assert preservative.only_as_preservative == ("Salicylic Acid",)
    acid, salt = {"Salicylic Acid": 100.0}, {"Sodium Salicylate": 100.0}
    library = tiny_library(
        [{"id": "acid"}, {"id": "kept-acid", "function": "preservative"}, {"id": "salt"}],
        parts={"acid": acid, "kept-acid": acid, "salt": salt},
    )
    place = library.arrays.material_index
    rows = law_rows.counted(library, preservative, law_rows.molar_masses_of(library))
    assert rows[place["acid"]] == 0.0
    assert rows[place["kept-acid"]] == pytest.approx(1.0)
    assert rows[place["salt"]] == pytest.approx(0.8627, abs=1e-4)
    other = law_rows.counted(library, limits()["EU Annex III/98"], law_rows.molar_masses_of(library))
    assert other[place["kept-acid"]] == pytest.approx(1.0)


def test_a_quat_in_a_face_wash_has_only_the_preservative_entry():
    """Annex III/286 covers rinse-off hair only, so Annex V/44 (0.1 %) counts every source elsewhere."""
    face, hair = limits(area="face"), limits(area="hair")
    assert "EU Annex III/286" not in face
    assert face["EU Annex V/44"].only_as_preservative == ()
    quat = tiny_library([{"id": "quat"}], parts={"quat": {"Cetrimonium Chloride": 29.0}})
    rows = law_rows.counted(quat, face["EU Annex V/44"], {})
    assert rows[quat.arrays.material_index["quat"]] == pytest.approx(0.29)
    assert hair["EU Annex III/286"].max_percent == 2.5
    assert hair["EU Annex III/287"].max_percent == 5.0
    assert "Cetrimonium Chloride" in hair["EU Annex V/44"].only_as_preservative
    assert "Cetrimonium Bromide" not in hair["EU Annex V/44"].only_as_preservative


def test_benzyl_alcohol_counts_only_where_it_preserves():
    """Annex V/34: 1.0 %; Annex III/45 lets it be solvent and fragrance without a maximum."""
    limit = limits()["EU Annex V/34"]
    assert limit.max_percent == 1.0
    assert limit.only_as_preservative == ("Benzyl Alcohol",)


@pytest.mark.parametrize("entry", ["Annex V/39", "Annex V/57", "Annex V/20", "Annex V/43", "Annex V/55"])
@pytest.mark.parametrize("jurisdiction", ["EU", "UK"])
def test_rinse_off_only_preservatives_are_blocked_in_leave_on(jurisdiction, entry):
    key = f"{jurisdiction} {entry}"
    assert limits(jurisdiction, product="leave-on")[key].max_percent == 0.0
    assert limits(jurisdiction, product="rinse-off")[key].max_percent > 0.0


def test_isothiazolinones_add_up():
    """Annex V/39 and V/57: 15 ppm, the mixture as well as methylisothiazolinone by itself."""
    found = limits()
    assert found["EU Annex V/39"].max_percent == found["EU Annex V/57"].max_percent == 0.0015
    mixture = counted(
        found["EU Annex V/39"], Methylchloroisothiazolinone=0.0011, Methylisothiazolinone=0.0004
    )
    assert mixture == pytest.approx(0.0015)


def test_parabens_singly_and_together():
    """Annex V/12: 0.4 % for one ester, 0.8 % together; V/12a: 0.14 % propyl and butyl together."""
    found = limits()
    assert found["EU Annex V/12 (methylparaben and its salts)"].max_percent == 0.4
    together = found["EU Annex V/12 (all parabens together)"]
    assert together.max_percent == 0.8
    assert found["EU Annex V/12a"].max_percent == 0.14
    # 138.12 / 152.15 and 138.12 / 180.20 (hand calculation)
    assert counted(together, Methylparaben=0.4, Propylparaben=0.1) == pytest.approx(0.3631 + 0.0766, abs=2e-4)


@pytest.mark.parametrize("users", [("under 3",), ("Under 3",), ("under 10", "parents")])
def test_children_under_three(users):
    """Salicylic acid: not for children under 3 (Regulation (EU) 2019/1966, wording from memory)."""
    found = limits(users=users)
    assert found["EU Annex V/3"].max_percent == 0.0
    assert found["EU Annex III/98"].max_percent == 0.0
    assert found["EU Annex V/29"].max_percent == 1.0
    assert found["EU Annex III/380"].max_percent == 0.1
    assert "for users under 3" in found["EU Annex V/3"].title


def test_iodopropynyl_butylcarbamate_for_children():
    """Annex V/56: for children under 3 only in bath products, shower gels and shampoo."""
    assert limits(area="hair", users=("under 3",))["EU Annex V/56"].max_percent == 0.02
    assert limits(area="face", users=("under 3",))["EU Annex V/56"].max_percent == 0.0


@pytest.mark.parametrize(
    ("row", "given", "expected"),
    [("", (), True), ("", ("under 3",), True), ("under 3", (), False), ("under 3", ("under 6",), True),
     ("under 6", ("under 3",), True), ("under 3", ("adults",), False), ("adults", ("Adults ",), True)],
)  # fmt: skip
def test_age_bands_overlap_from_birth(row, given, expected):
    assert concerns(row, given) is expected


def test_validity_dates_include_both_ends():
    """D6 joins REACH Annex XVII entry 70 after 6 June 2026 (Regulation (EU) 2024/1328)."""
    key = "EU REACH Annex XVII/70 (cyclohexasiloxane (D6))"
    assert key not in limits(on=date(2026, 6, 5))
    assert key in limits(on=date(2026, 6, 6))
    # Regulation (EU) 2026/78 applies from 1 May 2026
    assert limits(on=date(2026, 4, 30))["EU Annex V/7"].substances == ("o-Phenylphenol",)
    assert len(limits(on=date(2026, 5, 1))["EU Annex V/7"].substances) == 2
    microparticles = "EU REACH Annex XVII/78"
    assert microparticles not in limits(on=date(2027, 10, 16))
    assert limits(on=date(2027, 10, 17))[microparticles].max_percent < 0.01


def test_the_day_given_wins_over_the_day_of_the_law():
    law = load_law("EU", on=date(2026, 1, 1))
    later = applicable(law, "rinse-off", "hands", (), date(2026, 5, 1))
    assert any(limit.key == "EU Annex III/380" for limit in later)
    assert not any(limit.key == "EU Annex III/380" for limit in applicable(law, "rinse-off", "hands"))


def test_titles_are_plain_words():
    found = limits()
    assert (
        found["EU Annex V/1"].title
        == "benzoic acid and sodium benzoate, as acid, at most 2.5 % w/w (EU Annex V/1)"
    )
    assert found["EU Annex II/1380"].title.endswith("carboxaldehyde not allowed (EU Annex II/1380)")
    assert found["EU Annex V/9"].title.startswith(
        "ammonium bisulfite, ammonium sulfite and 5 related substances, as "
    )
    assert "as sulfur dioxide" in found["EU Annex V/9"].title
    assert found["EU Annex V/57"].title == "methylisothiazolinone, at most 0.0015 % w/w (EU Annex V/57)"
    assert "ethyl lauroyl arginate HCl" in found["EU Annex V/58"].title


@pytest.mark.parametrize("jurisdiction", ["EU", "UK", "US"])
@pytest.mark.parametrize("product", ["rinse-off", "leave-on"])
@pytest.mark.parametrize("area", ["face", "hair", "body", "hands"])
@pytest.mark.parametrize("users", [(), ("under 3",)])
def test_every_limit_is_a_row_that_can_be_written(jurisdiction, product, area, users):
    law = load_law(jurisdiction, on=DAY)
    found = applicable(law, product, area, users)
    assert len({limit.key for limit in found}) == len(found)
    assert len({limit.title for limit in found}) == len(found)
    for limit in found:
        assert limit.source
        factors = limit.factors(MASSES, limit.substances)
        assert set(factors) == set(limit.substances)
        assert all(0.1 < factor < 2.0 for factor in factors.values()), limit.key


def test_the_uk_keeps_what_the_eu_changed():
    later = date(2027, 1, 1)
    eu, uk = limits("EU", on=later), limits("UK", on=later)
    assert "EU Annex III/70" in eu and "UK Annex III/70" not in uk
    # SI 2025/413: methyl salicylate 0.06 % in rinse-off products, 0.6 % in hand wash
    assert uk["UK Annex III/324"].max_percent == 0.06
    assert limits("UK", area="hands")["UK Annex III/324"].max_percent == 0.6
    assert "UK Annex III/324" not in limits("UK", on=date(2025, 9, 29))


def test_the_us_prohibits_little():
    """21 CFR 700.11 to 700.19 and 250.250 (FDA list of prohibited and restricted ingredients)."""
    found = limits("US")
    assert found["US 21 CFR 700.18"].max_percent == 0.0
    assert found["US 21 CFR 250.250"].max_percent == 0.1
    assert not any("Sodium Benzoate" in limit.substances for limit in found.values())


def test_conditions_come_with_what_is_present():
    law = load_law("EU", on=DAY)
    found = conditions(law, "rinse-off", "face", (), present=["sodium hydroxide", "DMDM Hydantoin", "Aqua"])
    by_entry = {condition.entry: condition for condition in found}
    assert set(by_entry) == {"Annex III/15a", "Annex V/33"}
    assert by_entry["Annex III/15a"].substances == ("sodium hydroxide",)
    assert "0.001 %" in by_entry["Annex V/33"].text
    uk = conditions(load_law("UK", on=DAY), "rinse-off", "face", (), present=["DMDM Hydantoin"])
    assert "0.05 %" in uk[0].text


def test_positive_lists():
    law = load_law("EU", on=DAY)
    preservatives = listed(law, "preservative", "rinse-off", "face")
    assert {"sodium benzoate", "phenoxyethanol"} <= preservatives and "caprylyl glycol" not in preservatives
    colourants = listed(law, "colourant", "rinse-off", "face")
    assert "ci 77891" in colourants and "ci 99999" not in colourants
    us = load_law("US", on=DAY)
    assert listed(us, "preservative", "rinse-off", "face") == frozenset()
    assert "disodium edta-copper" not in listed(us, "colourant", "rinse-off", "face")
    assert "disodium edta-copper" in listed(us, "colourant", "rinse-off", "hair")


def test_unknown_product_and_area_are_named_together():
    with pytest.raises(BadInput) as raised:
        applicable(load_law("EU", on=DAY), "rinse off", "feet")  # type: ignore[arg-type]
    assert [fault.place for fault in raised.value.faults] == ["product", "area"]


def test_joint_rows_with_different_bases_form_one_limit():
    """Rows that share a group are one limit: here 0.5 g as benzoic acid plus 0.25 g as sorbic acid."""
    shared = {"jurisdiction": "any", "group": "both acids", "max_percent": 0.8, "entry": "house 1"}
    law = load_law("EU", on=DAY).model_copy(
        update={
            "limits": (
                Limit(substances=("Sodium Benzoate",), basis_molar_mass=122.123, **shared),
                Limit(substances=("Potassium Sorbate",), basis_molar_mass=112.128, **shared),
            )
        }
    )
    (limit,) = applicable(law, "rinse-off", "face")
    assert counted(limit, Sodium_Benzoate=0.59, Potassium_Sorbate=0.335) == pytest.approx(0.75, abs=1e-3)


def test_known_users_are_those_of_the_rows():
    assert {row.users for row in load_law("EU", on=DAY).limits} == {"", "under 3", "under 6"}
    assert {row.users for row in load_law("US", on=DAY).limits} == {""}


@pytest.mark.parametrize(
    ("entry", "substance", "area", "maximum"),
    [
        # Annex III as exported from CosIng in 2026, entries of Regulation (EU) 2026/909: 1.2 % citral in what is
        # rinsed off; benzyl salicylate 0.5 %, but 1.3 % in shower gel; triphenyl phosphate in Annex II.
        ("Annex III/70", "Citral", "face", 1.2),
        ("Annex III/75", "Benzyl Salicylate", "hair", 0.5),
        ("Annex III/75", "Benzyl Salicylate", "body", 1.3),
        ("Annex II (Regulation (EU) 2026/909)", "Triphenyl Phosphate", "hands", 0.0),
    ],
)
def test_regulation_2026_909_begins_with_2027(entry, substance, area, maximum):
    key = f"EU {entry}"
    assert key not in limits(area=area, on=date(2026, 12, 31))
    found = limits(area=area, on=date(2027, 1, 1))[key]
    assert substance in found.substances
    assert found.max_percent == maximum
    assert "30 June 2028" in found.warning


@pytest.mark.parametrize("jurisdiction", ["EU", "UK"])
def test_zinc_quinine_and_resorcinol_in_a_shampoo(jurisdiction):
    """Annex III/24, 21 and 22: 1 % as zinc, 0.5 % as quinine, 0.5 % resorcinol.

    By hand: zinc sulfate 65.38 / 161.436 = 0.40499 zinc; zinc citrate 3 * 65.38 / 574.34 = 0.34151; quinine
    sulfate 2 * 324.42 / 746.92 = 0.86871 quinine.
    """
    found = limits(jurisdiction, area="hair")
    zinc = found[f"{jurisdiction} Annex III/24"]
    assert zinc.max_percent == 1.0 and "as zinc" in zinc.title
    assert counted(zinc, Zinc_Sulfate=1.0) == pytest.approx(0.40499, abs=1e-4)
    assert counted(zinc, Zinc_Citrate=1.0) == pytest.approx(0.34151, abs=1e-4)
    quinine = found[f"{jurisdiction} Annex III/21"]
    assert counted(quinine, Quinine_Sulfate=1.0) == pytest.approx(0.86871, abs=1e-4)
    assert quinine.max_percent == found[f"{jurisdiction} Annex III/22"].max_percent == 0.5
    assert limits(jurisdiction, area="face")[f"{jurisdiction} Annex III/22"].max_percent == 0.0


@pytest.mark.parametrize(
    ("substance", "entry", "told"),
    [
        ("Hydrolyzed Wheat Protein", "Annex III/307", "3.5 kDa"),
        ("Polyquaternium-7", "Annex III/66", "0.5 mg/kg"),
        ("Arachis Hypogaea Oil", "Annex III/306", "0.5 mg/kg"),
        ("Ethoxydiglycol", "Annex III/297", "0.1 %"),
    ],
)
@pytest.mark.parametrize("jurisdiction", ["EU", "UK"])
def test_purity_conditions_are_told(jurisdiction, substance, entry, told):
    """Annex III/66, 297, 306 and 307; Regulations (EU) 2016/314 and 2017/2228."""
    law = load_law(jurisdiction, on=DAY)
    by_entry = {c.entry: c for c in conditions(law, "rinse-off", "hair", (), present=[substance])}
    assert told in by_entry[entry].text


def test_an_amide_is_no_monoalkanolamine():
    """Annex III/61 is about monoalkylamines, monoalkanolamines and their salts; Cocamide MEA is an amide."""
    for jurisdiction in ("EU", "UK"):
        law = load_law(jurisdiction, on=DAY)
        assert conditions(law, "rinse-off", "hair", (), present=["Cocamide MEA"]) == ()
        assert conditions(law, "rinse-off", "hair", (), present=["Ethanolamine"])[0].entry == "Annex III/61"


def test_tea_tree_oil_is_told_apart_in_the_eu_and_in_britain():
    """Opinions of 2023 (EU) and August 2025 (Great Britain); neither is a limit of the law."""
    oil = ["Melaleuca Alternifolia Leaf Oil"]
    (eu,) = conditions(load_law("EU", on=DAY), "rinse-off", "hair", (), present=oil)
    (uk,) = conditions(load_law("UK", on=DAY), "rinse-off", "hair", (), present=oil)
    assert "1B" in eu.text and "2 % in shampoo" in eu.text
    assert "does not classify" in uk.text
    assert not any(oil[0] in limit.substances for limit in limits("EU").values())


def test_new_york_asks_about_dioxane_in_ethoxylates():
    """New York ECL article 37: 1 mg/kg in what cleanses the body from 31 December 2023."""
    law = load_law("US", on=DAY)
    (found,) = conditions(law, "rinse-off", "hair", (), present=["Sodium Laureth Sulfate", "Decyl Glucoside"])
    assert found.substances == ("Sodium Laureth Sulfate",)
    assert "1 mg/kg" in found.text
