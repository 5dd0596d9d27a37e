"""The ingredient list: Article 19(1)(g) of Regulation (EC) 1223/2009 and 21 CFR 701.3."""

from datetime import date

import pytest

from optiform.faults import BadInput
from optiform.law.allergens import declarable, in_force
from optiform.law.label import LabelEntry, ingredient_list
from optiform.law.reading import load_law

DAY = date(2026, 11, 25)
BEFORE = date(2026, 7, 30)


def entry(inci, percent, **more):
    return LabelEntry(inci=inci, percent=percent, **more)


def listing(entries, jurisdiction="EU", product="rinse-off", on=DAY):
    return ingredient_list(entries, jurisdiction, load_law(jurisdiction, on=on).allergens, product, on)


def ordered(entries, jurisdiction="EU"):
    return ingredient_list(entries, jurisdiction, (), "rinse-off", DAY).entries


def names(entries, jurisdiction="EU"):
    return [item.name for item in ordered(entries, jurisdiction)]


WASH = (
    entry("Aqua", 60.0, us_name="Water"),
    entry("Coco-Glucoside", 1.5),
    entry("Urtica Dioica Leaf Extract", 1.0),
    entry("Xanthan Gum", 0.9),
    entry("Aqua", 22.0),
)


def test_water_of_several_materials_is_one_name_with_the_whole_amount():
    first = ordered(WASH)[0]
    assert (first.name, first.percent) == ("Aqua", 82.0)
    assert names(WASH).count("Aqua") == 1


def test_exactly_one_percent_stays_ordered_in_the_eu():
    """The text says "less than 1 %" and "more than 1 %"; ordering exactly 1 % is our cautious reading."""
    found = listing(WASH)
    assert found.one_percent_line == 3
    assert [item.part for item in found.entries] == ["ordered", "ordered", "ordered", "free"]


def test_exactly_one_percent_is_free_in_the_us():
    """21 CFR 701.3(f)(2): "at a concentration not exceeding 1 percent" may come in any order."""
    found = listing(WASH, "US")
    assert found.one_percent_line == 2
    assert found.entries[0].name == "Water"


def test_solver_noise_does_not_move_the_line():
    noisy = [entry("Aqua", 99.0), entry("Glycerin", 1.0 - 1e-12)]
    assert listing(noisy).one_percent_line == 2
    noisy = [entry("Aqua", 99.0), entry("Glycerin", 1.0 + 1e-12)]
    assert listing(noisy, "US").one_percent_line == 1


def test_colourants_follow_all_others():
    found = listing([entry("CI 77891", 2.0, is_colourant=True), entry("Aqua", 97.9), entry("Parfum", 0.1)])
    assert [item.name for item in found.entries] == ["Aqua", "Parfum", "CI 77891"]
    assert found.colourants_from == 2
    assert found.one_percent_line == 1


def test_a_colourant_with_another_use_is_ordered_with_the_rest():
    twice = [entry("CI 77019", 2.0, is_colourant=True), entry("CI 77019", 1.0), entry("Aqua", 97.0)]
    assert [item.part for item in ordered(twice)] == ["ordered", "ordered"]


def test_equal_amounts_stand_in_alphabetical_order_whatever_the_input_order():
    equal = [entry("Sodium Chloride", 2.0), entry("Betaine", 2.0), entry("Glycerin", 0.1 + 1.9)]
    assert names(equal) == names(equal[::-1]) == ["Betaine", "Glycerin", "Sodium Chloride"]


def test_nano_is_marked_and_kept_apart_in_the_eu_only():
    both = [entry("Silica", 0.2, is_nano=True), entry("Silica", 0.3)]
    assert names(both) == ["Silica", "Silica (nano)"]
    assert names([both[0]], "US") == ["Silica"]


def test_impurities_are_left_out_and_incidentals_by_jurisdiction():
    parts = [
        entry("Aqua", 99.0),
        entry("Sodium Sulfate", 0.5, kind="impurity"),
        entry("Sodium Benzoate", 0.02, kind="incidental", is_preservative=True),
        entry("Tocopherol", 0.01, kind="incidental"),
        entry("Linden Water", 0.3, kind="unknown"),
    ]
    eu, us = listing(parts), listing(parts, "US")
    assert [item.name for item in eu.entries] == ["Aqua", "Linden Water", "Sodium Benzoate"]
    assert [item.name for item in us.entries] == ["Water", "Linden Water"]
    assert any(note.startswith("Sodium Benzoate was carried in") for note in eu.notes)
    assert any(note.startswith("Tocopherol is left out") for note in eu.notes)
    assert any("unknown" in note for note in eu.notes)


PERFUME = (
    entry("Aqua", 99.0),
    entry("Parfum", 0.17, is_fragrance=True),
    entry("Linalool", 0.02, is_fragrance=True),
    entry("Limonene", 0.01, is_fragrance=True),
)


def test_perfume_is_one_name_and_its_allergens_stand_beside_it():
    found = listing(PERFUME)
    assert [item.name for item in found.entries] == ["Aqua", "Parfum", "Linalool"]
    assert found.entries[1].percent == pytest.approx(0.2)
    assert found.entries[2].is_allergen
    assert [allergen.name for allergen in found.declared] == ["Linalool"]
    assert found.text == "Ingredients: Aqua, Parfum, Linalool"


def test_perfume_is_called_fragrance_in_the_us():
    found = listing(PERFUME, "US")
    assert [item.name for item in found.entries] == ["Water", "Fragrance"]


def test_leave_on_has_the_lower_threshold():
    found = listing(PERFUME, product="leave-on")
    assert {allergen.name for allergen in found.declared} == {"Linalool", "Limonene"}


def test_a_perfume_without_known_allergens_asks_for_them():
    found = listing([entry("Aqua", 99.8), entry("Parfum", 0.2, is_fragrance=True)])
    assert any("ask its supplier" in note for note in found.notes)
    assert not any("ask its supplier" in note for note in listing(PERFUME).notes)


@pytest.mark.parametrize(
    ("percent", "product", "named"),
    [
        (0.01, "rinse-off", False),
        (0.0101, "rinse-off", True),
        (0.001, "leave-on", False),
        (0.00101, "leave-on", True),
    ],
)
def test_exactly_the_threshold_is_not_above_it(percent, product, named):
    """Annex III: named where the concentration exceeds 0.01 % (rinse-off) or 0.001 % (leave-on)."""
    found = declarable(load_law("EU", on=DAY).allergens, {"Limonene": percent}, product, DAY)
    assert bool(found) is named


def test_thirds_of_a_threshold_do_not_add_up_above_it():
    split = {"Alpha-Damascone": 0.007, "Delta-Damascone": 0.002, "Beta-Damascone": 0.001}
    assert declarable(load_law("EU", on=DAY).allergens, split, "rinse-off", DAY) == ()


def test_a_group_is_summed_and_named_once():
    allergens = load_law("EU", on=DAY).allergens
    oils = {"lavandula angustifolia oil": 0.006, "Lavandula Hybrida Oil": 0.006}
    (found,) = declarable(allergens, oils, "rinse-off", DAY)
    assert found.name == "Lavandula Oil/Extract"
    assert found.percent == pytest.approx(0.012)
    assert found.members == ("Lavandula Angustifolia Oil", "Lavandula Hybrida Oil")


def test_new_allergens_count_from_31_july_2026_and_not_in_the_uk():
    """Regulation (EU) 2023/1545: new products from 31 July 2026; Great Britain has not adopted it."""
    menthol = {"Menthol": 0.1}
    eu, uk = load_law("EU", on=DAY).allergens, load_law("UK", on=DAY).allergens
    assert declarable(eu, menthol, "rinse-off", BEFORE) == ()
    assert len(declarable(eu, menthol, "rinse-off", date(2026, 7, 31))) == 1
    assert declarable(uk, menthol, "rinse-off", DAY) == ()
    assert len(in_force(eu, BEFORE)) == 24
    assert len(in_force(eu, DAY)) == 80


def test_a_widened_entry_takes_the_place_of_the_older_one():
    eu = load_law("EU", on=DAY).allergens
    isomers = {"Geranial": 0.008, "Neral": 0.008}
    assert declarable(eu, isomers, "rinse-off", BEFORE) == ()
    (citral,) = declarable(eu, isomers, "rinse-off", DAY)
    assert citral.name == "Citral"


def test_an_oil_above_the_threshold_takes_its_group_name():
    oils = [entry("Aqua", 99.5), entry("Lavandula Angustifolia Oil", 0.05), entry("Glycerin", 0.2)]
    found = listing(oils)
    assert [item.name for item in found.entries] == ["Aqua", "Glycerin", "Lavandula Oil/Extract"]
    assert any("group name" in note for note in found.notes)
    assert [item.name for item in listing(oils, "UK").entries][-1] == "Lavandula Angustifolia Oil"


def test_benzyl_alcohol_as_preservative_is_one_ingredient_and_no_fragrance():
    found = listing([entry("Aqua", 99.0), entry("Benzyl Alcohol", 0.8, is_preservative=True)])
    assert found.declared == ()
    assert [item.name for item in found.entries] == ["Aqua", "Benzyl Alcohol"]


def test_no_law_gives_a_plain_descending_list():
    assert names(WASH, "none") == ["Aqua", "Coco-Glucoside", "Urtica Dioica Leaf Extract", "Xanthan Gum"]


def test_unknown_jurisdiction_is_bad_input():
    with pytest.raises(BadInput, match="'UE' is not known"):
        ordered(WASH, "UE")


def test_an_empty_formula_has_no_text():
    assert listing([]).text == ""


LAVENDER = (
    entry("Aqua", 99.0),
    entry("Lavandula Angustifolia Oil", 0.0066),
    entry("Linalool", 0.0042, part_of="Lavandula Angustifolia Oil"),
    entry("Geraniol", 0.0012, part_of="Lavandula Angustifolia Oil"),
)


def test_an_oil_counts_with_all_its_parts():
    """0.012 % of oil is above 0.01 %, though no part of it is."""
    found = listing(LAVENDER)
    assert [item.name for item in found.entries] == ["Aqua", "Lavandula Oil/Extract"]
    assert found.entries[1].percent == pytest.approx(0.012)
    assert found.declared[0].percent == pytest.approx(0.012)


def test_a_part_above_the_threshold_stands_beside_its_oil():
    more = [*LAVENDER, entry("Linalool", 0.02, part_of="Lavandula Angustifolia Oil")]
    found = {item.name: item.percent for item in listing(more, "UK").entries}
    assert found["Lavandula Angustifolia Oil"] == pytest.approx(0.032)
    assert found["Linalool"] == pytest.approx(0.0242)
    assert "Geraniol" not in found


def test_an_oil_inside_a_perfume_is_named_beside_it():
    perfume = [item.model_copy(update={"is_fragrance": True}) for item in LAVENDER[1:]]
    found = {item.name: item.percent for item in listing([LAVENDER[0], *perfume]).entries}
    assert set(found) == {"Aqua", "Parfum", "Lavandula Oil/Extract"}
    assert found["Parfum"] == found["Lavandula Oil/Extract"] == pytest.approx(0.012)


def test_a_name_that_is_flagged_but_in_no_list_of_the_law_is_not_declared():
    perfume = [entry("Aqua", 99.0), entry("Nonanal", 0.5, is_fragrance=True, is_fragrance_allergen=True)]
    found = listing(perfume)
    assert [item.name for item in found.entries] == ["Aqua", "Parfum"]
    assert not any("ask its supplier" in note for note in found.notes)
