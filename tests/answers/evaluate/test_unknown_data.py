"""Unknown data never make a measure vanish: it is a range over what is unknown, and the material is named.

The oracle is the definition itself: whatever value the missing one takes, the measure lies in the range, and its ends
are reached.
"""

import json

import pytest

from optiform.answers.evaluate import evaluate
from optiform.brief.models import Brief
from optiform.library.formulas import TypedFormula
from optiform.library.models import ColumnMeasure
from optiform.views.render.text import render
from optiform.views.screens import answer_blocks
from tests.builders import tiny_library


def library(index=None, mildness=None, required=None):
    return tiny_library(
        [
            {"id": "scent", "function": "fragrance"},
            {"id": "soft", "function": "surfactant"},
            {"id": "odd", "function": "surfactant"},
            {"id": "oil", "function": "oil"},
            {"id": "silicone", "function": "oil"},
        ],
        [
            {"inci": "Scent", "natural_origin": index},
            {"inci": "Soft", "natural_origin": 1.0, "charge_class": "nonionic", "mildness": 90.0},
            {"inci": "Odd", "natural_origin": 1.0, "charge_class": "anionic", "mildness": mildness},
            {"inci": "Oil", "natural_origin": 1.0, "required_hlb": 7.0},
            {"inci": "Silicone", "natural_origin": 0.0, "required_hlb": required},
        ],
        {
            "scent": {"Scent": 100.0},
            "soft": {"Soft": 50.0},
            "odd": {"Odd": 30.0},
            "oil": {"Oil": 100.0},
            "silicone": {"Silicone": 100.0},
        },
    )


LINES = (("scent", 2.0), ("soft", 20.0), ("odd", 10.0), ("oil", 3.0), ("silicone", 1.0), ("water", 64.0))
TYPED = TypedFormula(name="typed", lines=LINES, total=100.0)


def answered(**known):
    held = library(**known)
    return evaluate(TYPED, held, Brief(title="typed", library=held, law="none"))


@pytest.mark.parametrize(
    ("measure", "field", "ends"),
    [
        ("natural origin", "index", (0.0, 1.0)),
        ("natural origin without water", "index", (0.0, 1.0)),
        ("mildness", "mildness", (0.0, 100.0)),
        ("irritation load", "mildness", (100.0, 0.0)),
        # Griffin's scale for nonionics ends at 20
        ("required HLB", "required", (0.0, 20.0)),
    ],
)
def test_the_range_is_what_the_missing_value_can_make_of_it(measure, field, ends):
    blank = answered().formulas[0].figure(measure)
    assert blank.value is None
    assert len(blank.lacking) == 1
    low, high = (answered(**{field: end}).formulas[0].figure(measure).value for end in ends)
    assert (blank.low, blank.high) == pytest.approx((low, high), abs=1e-9)
    middle = answered(**{field: sum(ends) / 2}).formulas[0].figure(measure).value
    assert blank.low < middle < blank.high


def test_natural_origin_by_hand():
    """2 % of a scent of unknown index among 100 %; 1 % of silicone at 0, the rest at 1: 97 to 99 %."""
    figure = answered().formulas[0].figure("natural origin")
    assert (figure.low, figure.high) == pytest.approx((97.0, 99.0))


def test_the_screen_and_the_json_tell_the_range_and_the_material():
    answer = answered()
    text = " ".join(render(answer_blocks(answer)).split())
    assert "natural origin 97 to 99 %" in text
    assert "natural origin and natural origin without water: without data for Scent." in text
    held = json.loads(answer.to_json())["formulas"][0]["measures"]["natural origin"]
    assert held["value"] is None
    assert (held["low"], held["high"], held["lacking"]) == (
        pytest.approx(97.0),
        pytest.approx(99.0),
        ["scent"],
    )
    known = json.loads(answered(index=1.0).to_json())["formulas"][0]["measures"]["natural origin"]
    assert known["value"] == pytest.approx(99.0)
    assert "low" not in known


MATERIALS = (("scent", 2.0), ("soft", 20.0), ("oil", 3.0), ("water", 75.0))


@pytest.mark.parametrize("basis", ["total", "function:oil", "tag:story"])
@pytest.mark.parametrize("of_substances", [False, True])
def test_a_column_of_ones_own_with_a_blank_cell_is_a_range_over_what_it_states(basis, of_substances):
    """Footprint of water 0.1, oil 2, soft 4, of the scent unknown: whatever of 0.1 to 4 it is, it lies inside."""

    def answered(scent):
        known = {"Water": 0.1, "Oil": 2.0, "Soft": 4.0} | ({} if scent is None else {"Scent": scent})
        extra = {name: {"extra": {"footprint": value}} for name, value in known.items()}
        row = {} if of_substances else extra
        made = (
            {"Aqua" if name == "Water" else name: value for name, value in extra.items()}
            if of_substances
            else {}
        )
        held = tiny_library(
            [
                {
                    "id": "water",
                    "function": "water",
                    "price": 0.0,
                    "tags": ("story",),
                    **row.get("Water", {}),
                },
                {"id": "scent", "function": "oil", "tags": ("story",), **row.get("Scent", {})},
                {"id": "soft", "function": "surfactant", **row.get("Soft", {})},
                {"id": "oil", "function": "oil", **row.get("Oil", {})},
            ],
            [{"inci": name, **made.get(name, {})} for name in ("Aqua", "Scent", "Soft", "Oil")],
            {"scent": {"Scent": 100.0}, "soft": {"Soft": 50.0}, "oil": {"Oil": 100.0}},
            measures=(ColumnMeasure(name="footprint", column="footprint", unit="kg", basis=basis),),
        )
        typed = TypedFormula(name="typed", lines=MATERIALS, total=100.0)
        formula = evaluate(typed, held, Brief(title="typed", library=held, law="none")).formulas[0]
        return formula.figure("footprint")

    blank = answered(None)
    assert blank.value is None and blank.lacking == ("scent",)
    assert "a blank counts as anything from 0.1 to 4" in blank.note
    assert (blank.low, blank.high) == pytest.approx((answered(0.1).value, answered(4.0).value), abs=1e-9)
    assert blank.low < answered(2.0).value < blank.high
