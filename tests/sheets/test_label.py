"""Label rules at their edges, from materials to the printed list.

EU: Article 19(1)(g) of Regulation (EC) No 1223/2009: descending order of weight; "ingredients in
concentrations of less than 1 % may be listed in any order after those in concentrations of more than 1 %";
colorants in any order after the others; "(nano)"; impurities are no ingredients; perfume as "parfum", its
listed allergens named. Annex III, entries 67 to 92: above 0.01 % in rinse-off products.
US: 21 CFR 701.3(f): "at a concentration not exceeding 1 percent" without respect to order; (l) incidental
ingredients need no declaration.
"""

from datetime import date

import pytest

from optiform.library import load_library
from optiform.library.models import Part
from optiform.sheets.label_sheet import estimated_density, label_sheet
from optiform.sheets.unit import unit_from
from tests.builders import tiny_library
from tests.sheets.kit import brief

DAY = date(2026, 11, 1)


def library_of(parts, materials=(), substances=(), extra_parts=()):
    specs = {name: {"id": name} for name in parts if name != "water"}
    for spec in materials:
        specs[spec["id"]] = spec
    built = tiny_library(list(specs.values()), substances, parts)
    return built.model_copy(update={"parts": (*built.parts, *extra_parts)}) if extra_parts else built


def label(library, amounts, law="EU", unit=None, **fields):
    rest = 100.0 - sum(amounts.values())
    whole = {"water": rest, **amounts} if rest > 1e-12 else amounts
    return label_sheet(whole, library, brief(library, law=law, on=DAY, **fields), unit)


def order(found):
    return [line.name for line in found.lines]


@pytest.mark.parametrize(("law", "fixed"), [("EU", True), ("UK", True), ("US", False)])
def test_exactly_one_percent_is_kept_in_order_in_the_EU_and_free_in_the_US(law, fixed):
    """The EU text is silent on exactly 1 %: in order is the cautious reading. The US text frees it."""
    library = library_of({"a": {"Alpha": 100.0}, "b": {"Beta": 100.0}})
    found = label(library, {"a": 1.0, "b": 1.00001}, law)
    alpha = next(line for line in found.lines if line.inci == "Alpha")
    beta = next(line for line in found.lines if line.inci == "Beta")
    assert (alpha.part == "ordered") is fixed
    assert beta.part == "ordered"


def test_just_below_one_percent_is_free():
    library = library_of({"a": {"Alpha": 100.0}})
    assert label(library, {"a": 0.99999}).lines[1].part == "free"


def test_one_percent_that_comes_from_several_materials_is_one_percent():
    """0.4 % + 0.6 %: the sum counts, also where the binary numbers do not add up exactly."""
    library = library_of({"a": {"Alpha": 40.0}, "b": {"Alpha": 60.0}, "c": {"Gamma": 100.0}})
    found = label(library, {"a": 1.0, "b": 1.0, "c": 1.1})
    alpha = next(line for line in found.lines if line.inci == "Alpha")
    assert alpha.percent == pytest.approx(1.0, abs=1e-12)
    assert alpha.part == "ordered"
    assert order(found) == ["Aqua", "Gamma", "Alpha"]


def test_water_of_every_material_is_one_aqua():
    library = library_of({"a": {"Alpha": 30.0, "Aqua": 70.0}, "b": {"Beta": 50.0, "Aqua": 50.0}})
    found = label(library, {"a": 60.0, "b": 30.0})
    assert order(found).count("Aqua") == 1
    assert next(line for line in found.lines if line.inci == "Aqua").percent == pytest.approx(10 + 42 + 15)


def test_equal_amounts_stand_in_alphabetical_order_and_are_named_as_equal():
    library = library_of({"z": {"Zeta": 100.0}, "a": {"Alpha": 100.0}})
    found = label(library, {"z": 5.0, "a": 5.0})
    assert order(found) == ["Aqua", "Alpha", "Zeta"]
    assert [(doubt.kind, doubt.names) for doubt in found.doubts] == [("equal", ("Alpha", "Zeta"))]


@pytest.mark.parametrize(("oil", "named"), [(0.1, False), (0.1001, True)])
def test_an_allergen_at_exactly_a_hundredth_of_a_percent_is_not_named_and_above_it_is(oil, named):
    """10 % linalool in a perfume: at 0.1 % perfume exactly 0.01 %. Annex III: "exceeds 0.01 %"."""
    library = library_of(
        {"perfume": {"Parfum": 90.0, "Linalool": 10.0}}, [{"id": "perfume", "function": "fragrance"}]
    )
    found = label(library, {"perfume": oil})
    assert ("Linalool" in order(found)) is named
    assert bool(found.declared) is named
    assert "Parfum" in order(found)


def test_linalool_of_an_essential_oil_counts_although_the_table_calls_it_incidental():
    """0.15 % oil with 38 % linalool: 0.057 %, above 0.01 %, so it is named (arithmetic)."""
    substances = [{"inci": "Lavandula Angustifolia Oil", "tags": ("essential-oil",)}]
    library = library_of({"oil": {"Lavandula Angustifolia Oil": 62.0, "Linalool": 38.0}},
                         [{"id": "oil", "function": "fragrance"}], substances)  # fmt: skip
    relabelled = [
        p.model_copy(update={"label": "incidental"}) if p.inci == "Linalool" else p for p in library.parts
    ]
    library = library.model_copy(update={"parts": tuple(relabelled)})
    found = label(library, {"oil": 0.15})
    (declared,) = [item for item in found.declared if item.name == "Linalool"]
    assert declared.percent == pytest.approx(0.057)
    assert "Linalool" in order(found)


def test_colourants_come_last_whatever_their_amount():
    library = library_of(
        {"red": {"CI 77491": 100.0}, "a": {"Alpha": 100.0}}, [{"id": "red", "function": "colourant"}]
    )
    found = label(library, {"red": 3.0, "a": 0.1})
    assert order(found) == ["Aqua", "Alpha", "CI 77491"]
    assert found.lines[-1].part == "colourant"


def test_nanomaterials_carry_the_word_in_the_EU():
    library = library_of(
        {"t": {"Titanium Thing": 100.0}}, substances=[{"inci": "Titanium Thing", "tags": ("nano",)}]
    )
    assert "Titanium Thing (nano)" in order(label(library, {"t": 2.0}))
    assert "Titanium Thing" in order(label(library, {"t": 2.0}, "US"))


def carried(kind, inci="Sodium Benzoate"):
    base = library_of({"a": {"Alpha": 99.0, "Filler": 1.0}})
    parts = [
        p.model_copy(update={"inci": inci, "label": kind}) if p.inci == "Filler" else p for p in base.parts
    ]
    substances = [s.model_copy(update={"inci": inci}) if s.inci == "Filler" else s for s in base.substances]
    return base.model_copy(update={"parts": tuple(parts), "substances": tuple(substances)})


def test_impurities_are_left_out():
    assert "Sodium Chloride" not in order(label(carried("impurity", "Sodium Chloride"), {"a": 10.0}))


def test_a_preservative_carried_over_is_listed_in_the_EU_and_not_in_the_US():
    assert "Sodium Benzoate" in order(label(carried("incidental"), {"a": 10.0}))
    assert "Sodium Benzoate" not in order(label(carried("incidental"), {"a": 10.0}, "US"))


def test_other_incidental_ingredients_are_left_out_with_a_note():
    found = label(carried("incidental", "Some Buffer"), {"a": 10.0})
    assert "Some Buffer" not in order(found)
    assert any(note.startswith("Some Buffer is left out as incidental") for note in found.notes)


def test_US_names_stand_beside_INCI_names_and_replace_them_in_the_US():
    library = library_of(
        {"a": {"Aqua": 50.0, "Urtica": 50.0}}, substances=[{"inci": "Urtica", "name_us": "Nettle"}]
    )
    here = label(library, {"a": 10.0})
    assert [(line.name, line.us_name) for line in here.lines] == [("Aqua", "Water"), ("Urtica", "Nettle")]
    assert order(label(library, {"a": 10.0}, "US")) == ["Water", "Nettle"]


def ranged(**spans):
    """A library whose materials have specification ranges: name=(percent, low, high)."""
    built = library_of({name: {name.capitalize(): span[0]} for name, span in spans.items()})
    parts = [
        Part(
            material=p.material,
            inci=p.inci,
            percent=p.percent,
            low=spans[p.material][1],
            high=spans[p.material][2],
        )
        if p.material in spans and p.inci != "Aqua"
        else p
        for p in built.parts
    ]
    return built.model_copy(update={"parts": tuple(parts)})


def test_neighbours_whose_ranges_overlap_may_swap_and_others_may_not():
    library = ranged(alpha=(50.0, 45.0, 55.0), beta=(48.0, 46.0, 50.0), gamma=(20.0, 19.0, 21.0))
    found = label(library, {"alpha": 10.0, "beta": 10.0, "gamma": 10.0})
    assert [(doubt.kind, doubt.names) for doubt in found.doubts] == [("swap", ("Alpha", "Beta"))]
    assert "4.5 to 5.5 %" in found.doubts[0].text


def test_touching_ranges_do_not_swap():
    library = ranged(alpha=(50.0, 48.0, 52.0), beta=(46.0, 44.0, 48.0))
    assert not label(library, {"alpha": 10.0, "beta": 10.0}).doubts


def test_a_range_across_one_percent_is_named():
    found = label(ranged(alpha=(10.5, 9.5, 11.0)), {"alpha": 10.0})
    assert [doubt.kind for doubt in found.doubts] == ["line"]


def test_an_allergen_that_a_rich_lot_lifts_above_the_threshold_is_named():
    library = ranged(perfume=(90.0, 90.0, 90.0))
    materials = [
        m.model_copy(update={"function": "fragrance"}) if m.id == "perfume" else m for m in library.materials
    ]
    parts = [p for p in library.parts if p.material != "perfume"]
    parts += [
        Part(material="perfume", inci="Perfume", percent=91.0),
        Part(material="perfume", inci="Aqua", percent=9.0, low=5.0, high=12.0),
    ]
    substances = tuple(
        s.model_copy(update={"inci": "Linalool"}) if s.inci == "Aqua" else s for s in library.substances
    )
    renamed = [p.model_copy(update={"inci": "Linalool"}) if p.inci == "Aqua" else p for p in parts]
    library = library.model_copy(
        update={"materials": tuple(materials), "parts": tuple(renamed), "substances": substances}
    )
    found = label_sheet({"perfume": 0.1}, library, brief(library, law="EU", on=DAY))
    assert not found.declared
    assert [doubt.names for doubt in found.doubts if doubt.kind == "allergen"] == [("Linalool",)]


def test_a_preservative_of_no_positive_list_is_named_and_a_blend_with_a_listed_one_is_not():
    library = library_of(
        {"odd": {"Oddity": 100.0}, "blend": {"Sodium Benzoate": 30.0, "Some Helper": 70.0}},
        [{"id": "odd", "function": "preservative"}, {"id": "blend", "function": "preservative"}],
    )
    notes = label(library, {"odd": 1.0, "blend": 1.0}).notes
    assert [note for note in notes if "list of preservatives" in note] == [
        "Odd: Oddity is not in the list of preservatives read here (EU Annex V); look before it is called a "
        "preservative."
    ]


def test_natural_origin_with_and_without_the_added_water():
    """ISO 16128-2: 90 % water (1), 6 % at 1, 4 % at 0.5: 98 %; without the water 8 / 10 = 80 %."""
    library = library_of({"a": {"Alpha": 100.0}, "b": {"Beta": 100.0}}, substances=[
        {"inci": "Alpha", "natural_origin": 1.0}, {"inci": "Beta", "natural_origin": 0.5}])  # fmt: skip
    found = label(library, {"a": 6.0, "b": 4.0})
    assert found.natural_origin == pytest.approx(98.0)
    assert found.natural_origin_without_water == pytest.approx(80.0)


def test_nominal_content_by_density():
    unit = unit_from({"unit": {"contents_ml": 200, "density": 1.02}})
    library = library_of({"a": {"Alpha": 100.0}})
    found = label(library, {"a": 5.0}, unit=unit).contents
    assert (found.nominal_ml, found.nominal_g, found.measured) == (200, pytest.approx(204.0), True)
    by_weight = label(
        library, {"a": 5.0}, unit=unit_from({"unit": {"contents_g": 51, "density": 1.02}})
    ).contents
    assert by_weight.nominal_ml == pytest.approx(50.0)


def test_a_density_is_estimated_only_where_most_materials_have_one():
    """90 % at 1.0 and 10 % at 1.25: 100 / (90 + 8) = 1.0204 g/ml."""
    library = tiny_library(
        [{"id": "water", "function": "water", "density": 1.0}, {"id": "a", "density": 1.25}, {"id": "b"}]
    )
    assert estimated_density({"water": 90.0, "a": 10.0}, library) == pytest.approx(100 / 98)
    assert estimated_density({"water": 80.0, "b": 20.0}, library) is None


def test_the_blanks_of_article_19_are_there():
    keys = {blank.key for blank in label(library_of({"a": {"Alpha": 100.0}}), {"a": 5.0}).blanks}
    assert {
        "responsible person",
        "content",
        "durability",
        "precautions",
        "batch",
        "function",
        "ingredients",
    } <= keys


def test_a_librarys_own_allergens_count(tmp_path):
    (tmp_path / "allergens.csv").write_text(
        "jurisdiction,group_name,members,rinse_off_percent,leave_on_percent,valid_from,source\n"
        "EU,Quay Balm,Quay Balm,0.01,0.001,,own\n"
    )
    library = library_of({"p": {"Parfum": 50.0, "Quay Balm": 50.0}}, [{"id": "p", "function": "fragrance"}])
    library = library.model_copy(update={"folder": str(tmp_path)})
    assert "Quay Balm" in order(label(library, {"p": 0.1}))


def test_names_and_amounts_of_a_starter_formula_add_up():
    library = load_library()
    amounts = {"water": 70.0, "decyl-glucoside": 10.0, "cocamidopropyl-betaine-30": 15.0, "glycerin": 5.0}
    found = label_sheet(amounts, library, brief(library, law="EU", on=DAY))
    left_out = sum(
        amounts[part.material] * part.percent / 100
        for part in library.parts
        if part.material in amounts
        and part.label in ("impurity", "incidental")
        and part.inci != "Sodium Benzoate"
    )
    assert sum(line.percent for line in found.lines) == pytest.approx(100.0 - left_out)
    assert found.listed.text.startswith("Ingredients: Aqua, ")


def test_claims_of_a_unit_and_the_title_get_their_cautions():
    """Article 1(2) of Directive 2001/83/EC and Regulation (EU) 655/2013."""
    library = library_of({"soft": {"Soft": 30.0}})
    unit = unit_from({"unit": {"contents_ml": 200.0, "claims": ["soothes eczema"]}})
    notes = label(library, {"soft": 10.0}, unit=unit, title="Tear-free wash").notes
    assert any(note.startswith('"tear-free"') and "655/2013" in note for note in notes)
    assert any(note.startswith('"eczema"') and "2001/83/EC" in note for note in notes)
