"""A whole sheet: its parts agree with each other, cautions are on it, the grid is checked again."""

import math

import pytest

from optiform.brief.models import Target, Weighing
from optiform.faults import BadInput
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from optiform.sheets import make_sheet, unit_from
from tests.builders import tiny_library
from tests.sheets.kit import bench_library, brief, formula

STARTER = load_library()
GEL = TypedFormula(
    "nettle gel",
    (
        ("water", 71.15), ("glycerin", 4.0), ("xanthan-gum", 0.8), ("sodium-benzoate", 0.5), ("potassium-sorbate", 0.3),
        ("decyl-glucoside", 8.2), ("cocamidopropyl-betaine-30", 12.0), ("nettle-extract", 2.6), ("citric-acid", 0.45),
    ),
    100.0,
)  # fmt: skip
UNIT = unit_from({"unit": {"contents_ml": 200, "density": 1.02, "labour_h": 3, "labour_rate": 18}})


@pytest.fixture(scope="module")
def sheet():
    return make_sheet(GEL, STARTER, 2500.0, unit=UNIT)


def test_grams_percents_and_needs_agree(sheet):
    batch = sheet.batch.batch
    assert math.fsum(line.grams for line in batch.lines) == pytest.approx(2500.0, abs=1e-9)
    assert math.fsum(line.weighed_percent for line in batch.lines) == pytest.approx(100.0, abs=1e-9)
    needed = {line.material: line.needed_g for line in sheet.shopping.lines}
    for line in batch.lines:
        assert line.grams == pytest.approx(line.percent * 25.0, abs=0.01)
        assert needed[line.material] == pytest.approx(line.percent * 25.0)


def test_money_agrees(sheet):
    cost = sheet.cost
    by_hand = sum(percent * STARTER.material[name].price for name, percent in GEL.lines) / 100
    assert sheet.cost_per_kg == pytest.approx(by_hand)
    assert cost.cost_per_kg == pytest.approx(by_hand)
    assert cost.parts[0].per_unit == pytest.approx(by_hand * 204.0 / 1000)
    assert sheet.shopping.cash == pytest.approx(sum(line.cash for line in sheet.shopping.lines))
    assert sheet.shopping.cash == pytest.approx(sheet.shopping.consumed + sheet.shopping.left_value)


def test_the_label_holds_what_the_batch_holds(sheet):
    """Glycerin comes with glycerin, nettle extract and betaine: all of it is one name."""
    held = {
        name: part.percent
        for name, _ in GEL.lines
        for part in STARTER.composition[name]
        if part.inci == "Glycerin"
    }
    assert set(held) == {"glycerin", "nettle-extract", "cocamidopropyl-betaine-30"}
    glycerin = (
        4.0 * held["glycerin"] + 2.6 * held["nettle-extract"] + 12.0 * held["cocamidopropyl-betaine-30"]
    ) / 100
    line = next(line for line in sheet.label.lines if line.inci == "Glycerin")
    assert line.percent == pytest.approx(glycerin)
    assert sheet.label.contents.nominal_g == pytest.approx(204.0)


def test_cautions_name_what_is_in_hand_and_what_always_holds(sheet):
    told = " ".join(sheet.cautions)
    for words in (
        "goggles",
        "eyes",
        "breathed",
        "acids and bases",
        "preservative",
        "safety assessment",
        "local law",
    ):
        assert words in told, words
    assert "Decyl glucoside" in told
    assert any(
        text.startswith("Powder that must not be breathed: ") and "Xanthan gum" in text
        for text in sheet.cautions
    )


def test_corrosive_and_sensitising_materials_have_their_own_caution():
    typed = formula(water=98.6, lye=1.0, scent=0.2, acid=0.2)
    found = make_sheet(typed, bench_library(), 1000.0, brief=brief(bench_library()), parts=("batch",))
    assert any(
        text.startswith("Corrosive: Lye.") and "never water into it" in text for text in found.cautions
    )
    assert any("skin allergic: Scent" in text for text in found.cautions)


def test_the_record_has_every_field_that_a_batch_record_is_expected_to_hold(sheet):
    """The list: ISO 22716:2007 and common practice, from memory."""
    record = sheet.batch
    keys = {blank.key for part in (*record.before, *record.after) for blank in part.blanks}
    assert {
        "product", "version", "batch number", "made on", "equipment", "cleaned on", "cleaned by", "cleared",
        "pH before", "pH after", "viscosity day 0", "viscosity day 1", "appearance", "deviation", "bulk container",
        "storage", "yield", "retained", "tested", "to fill", "sample place", "count", "micro verdict", "decision",
        "decided by",
    } <= keys  # fmt: skip
    assert {blank.key for blank in record.per_material} == {
        "lot",
        "expiry",
        "actual",
        "weighed by",
        "checked by",
    }
    assert {"start", "end", "temperature", "speed", "done by"} == {blank.key for blank in record.per_step}


def test_targets_of_a_brief_are_the_limits_of_the_record():
    asked = brief(STARTER, targets={"pH": Target(at_least=4.0, at_most=5.0)})
    record = make_sheet(GEL, STARTER, 1000.0, brief=asked, parts=("batch",)).batch
    wanted = {blank.key: blank.wanted for part in record.after for blank in part.blanks}
    # Benzoate with sorbate works from 4 to 5 and keeps a margin of 0.3 from both ends.
    assert wanted["pH after"] == "4.3 to 4.7"
    assert wanted["pH before"].startswith("computed ")


def test_the_grid_keeps_a_limit_that_plain_rounding_would_break():
    """A maximum of 1.234 % in 100 g on 0.1 g: 1.2 g holds it; 1.26 % would round up to 1.3 g."""
    library = tiny_library([{"id": "hot", "price": 1.0}])
    asked = brief(library, targets={"substance:Hot": Target(at_most=1.28)})
    typed = formula(water=98.74, hot=1.26)
    batch = make_sheet(
        typed, library, 1000.0, brief=asked, balance_g=1.0, parts=("batch",)
    ).batch.batch  # least amount 25 g is above 13 g: rounded plainly and said so
    assert batch.line("hot").grams == 13.0
    assert any("rounded" in note for note in batch.notes)
    loose = brief(library, targets=asked.targets, weighing=Weighing(balance_g=1.0, error_percent=50))
    batch = make_sheet(typed, library, 1000.0, brief=loose, parts=("batch",)).batch.batch
    assert batch.line("hot").grams == 12.0
    assert batch.total_g == 1000.0
    assert any("checked again" in note for note in batch.notes)


def test_breaks_are_on_the_sheet():
    found = make_sheet(formula(water=99.9, **{"xanthan-gum": 0.1}), STARTER, 1000.0, parts=("batch",))
    assert any("xanthan-gum" in text for text in found.breaks)


def test_only_the_parts_asked_for_are_made():
    found = make_sheet(GEL, STARTER, 1000.0, parts=("label",))
    assert (found.batch, found.cost, found.shopping) == (None, None, None)
    assert found.label is not None


def test_a_cost_sheet_needs_a_unit_and_all_parts_say_that_it_is_missing():
    with pytest.raises(BadInput, match="--unit"):
        make_sheet(GEL, STARTER, 1000.0, parts=("cost",))
    found = make_sheet(GEL, STARTER, 1000.0)
    assert found.cost is None
    assert any("--unit" in note for note in found.notes)


def test_a_total_off_a_hundred_is_refused():
    with pytest.raises(BadInput, match=r"100 within 0\.005"):
        make_sheet(formula(water=99.0), STARTER, 1000.0)


def test_the_shelf_of_a_brief_is_the_stock():
    asked = brief(STARTER, shelf={"xanthan-gum": 500.0, "glycerin": None})
    found = make_sheet(GEL, STARTER, 1000.0, brief=asked, parts=("shopping",)).shopping
    bought = {line.material for line in found.lines if line.packs}
    assert not {"xanthan-gum", "glycerin"} & bought
    assert "decyl-glucoside" in bought


def test_the_same_input_gives_the_same_sheet():
    assert make_sheet(GEL, STARTER, 1234.5, unit=UNIT) == make_sheet(GEL, STARTER, 1234.5, unit=UNIT)


READY = TypedFormula(
    "glucoside wash", (("water", 89.2), ("coco-glucoside", 10.0), ("phenoxyethanol", 0.8)), 100.0
)


def test_an_acid_that_likely_lots_need_is_on_every_sheet():
    """An alkaline wash, a pH wanted, no acid in it: weighed apart, its water held back, bought, and warned of."""
    asked = brief(STARTER, targets={"pH": Target(at_least=5.0, at_most=5.5, set="bench")})
    found = make_sheet(READY, STARTER, 1000.0, brief=asked)
    procedure = found.batch.procedure
    (portion,) = procedure.ready
    assert STARTER.material[portion.material].function == "acid"
    assert 0 < portion.low_g < portion.grams < portion.high_g
    assert portion.material not in {line.material for line in found.batch.batch.lines}
    assert procedure.reserve_g == pytest.approx(portion.high_g, abs=0.011)
    step = next(step for step in procedure.steps if step.kind == "pH")
    assert portion.name in step.what
    assert f"{portion.low_g:.2f} to {portion.high_g:.2f} g" in step.what
    assert not step.portions
    assert any(portion.name in note and "no part of it" in note for note in found.batch.notes)
    line = next(line for line in found.shopping.lines if line.material == portion.material)
    assert line.needed_g == pytest.approx(portion.high_g, abs=0.01)
    assert any(portion.name in note for note in found.shopping.notes)
    assert any(portion.name in caution for caution in found.cautions)
