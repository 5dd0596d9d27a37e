"""The cost of a unit against worked arithmetic, and every fault of a unit file."""

import pytest

from optiform.faults import BadInput
from optiform.sheets.unit import load_unit, unit_from
from optiform.sheets.unit_cost import unit_cost
from tests.builders import tiny_library

BOTTLE = {"contents_ml": 200, "density": 1.02, "overfill_percent": 1, "yield_percent": 96}


def at_price(per_kg):
    return tiny_library([{"id": "a", "price": per_kg}]), {"a": 100.0}


def test_the_ceiling_is_worked_back_from_the_shelf_price():
    """Shelf 14.00, VAT 20 %, shop 40 %, costs 30 % of revenue, packaging 0.98, labour 0.55, tests 0.12.

    11.667, 7.00, 2.10, 0.45 left; 200 ml * 1.02 * 1.01 / 0.96 = 214.6 g; 0.45 / 0.2146 = 2.10 per kg.
    """
    library, amounts = at_price(1.90)
    unit = unit_from({"unit": {
        **BOTTLE, "packaging": [{"name": "bottle", "price": 0.98}], "labour_per_unit": 0.55,
        "tests_per_unit": 0.12, "shelf_price": 14.00, "vat_percent": 20, "retailer_percent": 40,
        "cost_percent": 30,
    }})  # fmt: skip
    found = unit_cost(amounts, library, unit, 5151.0)
    assert found.unit_g == pytest.approx(200 * 1.02 * 1.01 / 0.96)
    assert round(found.unit_g, 1) == 214.6
    assert found.ceiling is not None
    assert round(found.ceiling.net, 3) == 11.667
    assert found.ceiling.revenue == pytest.approx(7.00)
    assert found.ceiling.allowed == pytest.approx(2.10)
    assert found.ceiling.left == pytest.approx(0.45)
    assert round(found.ceiling.per_kg, 2) == 2.10


def test_a_unit_of_a_small_batch_costs_mostly_hands_and_tests():
    """24 bottles at 1.90 per kg: 0.408 + 0.98 * 1.02 + 3 h * 18 / 24 + 550 / 500 = 4.76; contents 9 %."""
    library, amounts = at_price(1.90)
    unit = unit_from({"unit": {
        **BOTTLE, "packaging": [{"name": "bottle", "price": 0.98, "rejects_percent": 2}], "labour_h": 3,
        "labour_rate": 18, "tests_once": 550, "tests_over_units": 500,
    }})  # fmt: skip
    found = unit_cost(amounts, library, unit, 5151.0)
    costs = {part.part: part.per_unit for part in found.parts}
    assert found.units == 24
    assert round(costs["contents"], 3) == 0.408
    assert costs["packaging"] == pytest.approx(0.9996)
    assert costs["labour"] == pytest.approx(2.25)
    assert costs["tests"] == pytest.approx(1.10)
    assert round(found.total, 2) == 4.76
    assert round(found.parts[0].share_percent) == 9


def test_samples_are_weighed_in_paid_for_and_not_sold():
    """4944.96 g of bulk less 60 g fill 23 bottles of 206.04 g; (206.04 + 60 / 23) / 0.96 = 217.34 g each."""
    library, amounts = at_price(1.90)
    found = unit_cost(
        amounts, library, unit_from({"unit": {**BOTTLE, "retained_g": 40, "tested_g": 20}}), 5151.0
    )
    assert found.units == 23
    assert round(found.unit_g, 2) == 217.34
    assert found.parts[0].per_unit == pytest.approx(1.90 * (206.04 + 60 / 23) / 960)
    assert found.scenarios == () and found.samples_g == 60.0
    assert found.notes[-1] == "146 g of bulk fill no unit and are not charged."
    sold = found.units * 206.04
    assert found.units * found.unit_g * 0.96 == pytest.approx(sold + 60)


def test_a_batch_of_samples_alone_fills_no_unit():
    library, amounts = at_price(1.90)
    unit = unit_from({"unit": {"contents_g": 100, "tested_g": 950}})
    with pytest.raises(BadInput, match="1050 g"):
        unit_cost(amounts, library, unit, 1000.0)


def test_parts_shares_and_materials_add_up():
    library = tiny_library([{"id": "a", "price": 4.0}, {"id": "b", "price": 11.0}])
    unit = unit_from(
        {"unit": {"contents_g": 100, "overhead_per_batch": 12.0, "labour_min_per_unit": 2, "labour_rate": 15}}
    )
    found = unit_cost({"water": 60.0, "a": 30.0, "b": 10.0}, library, unit, 2000.0)
    assert found.cost_per_kg == pytest.approx(0.3 * 4 + 0.1 * 11)
    assert sum(part.per_unit for part in found.parts) == pytest.approx(found.total)
    assert sum(part.share_percent for part in found.parts) == pytest.approx(100.0)
    assert sum(line.per_unit for line in found.materials) == pytest.approx(found.parts[0].per_unit)
    assert sum(line.share_percent for line in found.materials) == pytest.approx(100.0)
    assert found.parts[2].per_unit == pytest.approx(0.5)
    assert found.parts[4].per_unit == pytest.approx(12 / 20)


def test_larger_batches_spread_what_a_batch_costs():
    library, amounts = at_price(2.0)
    unit = unit_from(
        {"unit": {"contents_g": 100, "labour_h": 2, "labour_rate": 10, "batches_g": [5000.0, 1050.0]}}
    )
    found = unit_cost(amounts, library, unit, 1000.0)
    assert [(s.batch_g, s.units) for s in found.scenarios] == [(1000.0, 10), (1050.0, 10), (5000.0, 50)]
    assert [s.labour for s in found.scenarios] == pytest.approx([2.0, 2.0, 0.4])
    assert [s.left_over_g for s in found.scenarios] == pytest.approx([0.0, 50.0, 0.0])


def test_no_room_for_the_contents_is_said_not_priced():
    library, amounts = at_price(2.0)
    unit = unit_from({"unit": {"contents_g": 100, "overhead_per_unit": 5.0, "shelf_price": 4.0}})
    found = unit_cost(amounts, library, unit, 1000.0)
    assert found.ceiling.left == pytest.approx(-1.0)
    assert found.ceiling.per_kg is None


def test_a_content_by_volume_needs_a_density():
    library, amounts = at_price(2.0)
    with pytest.raises(BadInput, match="density"):
        unit_cost(amounts, library, unit_from({"unit": {"contents_ml": 100}}), 1000.0)
    estimated = unit_cost(amounts, library, unit_from({"unit": {"contents_ml": 100}}), 1000.0, density=1.1)
    assert estimated.nominal_g == pytest.approx(110.0)
    assert any("estimated density" in note for note in estimated.notes)


def test_every_batch_that_fills_no_unit_is_named():
    library, amounts = at_price(2.0)
    unit = unit_from({"unit": {"contents_g": 100, "yield_percent": 50, "batches_g": [150.0, 5000.0]}})
    with pytest.raises(BadInput) as caught:
        unit_cost(amounts, library, unit, 199.0, file="bottle.toml")
    assert [fault.place for fault in caught.value.faults] == ["--batch", "[unit] batches_g"]
    assert unit_cost(amounts, library, unit.model_copy(update={"batches_g": ()}), 200.0).units == 1


def test_every_fault_of_a_unit_file_is_named_at_once(tmp_path):
    path = tmp_path / "bottle.toml"
    path.write_text(
        'colour = 1\n[unit]\ncontents_ml = "x"\noverfil_percent = 1\nyield_percent = 0\nvat_percent = -1\n'
        'packaging = [ { name = "", price = 1 }, { nme = "pump" } ]\n'
    )
    with pytest.raises(BadInput) as caught:
        load_unit(path)
    told = [str(fault) for fault in caught.value.faults]
    for words in ("colour: unknown key", "contents_ml: 'x' is not a number", "overfill_percent", "yield_percent: 0",
                  "vat_percent: -1", "packaging, entry 1, name", "packaging, entry 2, price"):  # fmt: skip
        assert any(words in text for text in told), (words, told)


@pytest.mark.parametrize(
    ("keys", "place"),
    [
        ({}, "[unit] contents_ml"),
        ({"contents_ml": 1, "contents_g": 1}, "[unit] contents_g"),
        ({"contents_g": 1, "tests_once": 5}, "[unit] tests_over_units"),
        ({"contents_g": 1, "labour_h": 5}, "[unit] labour_rate"),
    ],
)
def test_what_belongs_together_is_asked_for_together(keys, place):
    with pytest.raises(BadInput) as caught:
        unit_from({"unit": keys})
    assert [fault.place for fault in caught.value.faults] == [place]


def test_a_file_without_the_table_says_so(tmp_path):
    path = tmp_path / "bottle.toml"
    path.write_text("contents_ml = 200\n")
    with pytest.raises(BadInput) as caught:
        load_unit(path)
    assert [fault.place for fault in caught.value.faults] == ["contents_ml", "[unit]"]
    assert caught.value.faults[0].nearest == "[unit], contents_ml"
