"""Where a formula stands within its limits, checked by hand and against what the program itself says."""

import pytest

from optiform.answers.describe.slack import label_of
from optiform.answers.design import design
from optiform.answers.evaluate import evaluate
from optiform.brief.models import Brief
from optiform.library import load_library
from optiform.library.formulas import TypedFormula
from optiform.program import Key, Requirement
from tests.builders import tiny_library

CLASSES = (
    {
        "inci": "Harsh",
        "charge_class": "anionic",
        "mildness": 40.0,
        "charge_acid_form": -1.0,
        "strong_charge": 1.0,
    },
    {
        "inci": "Kind",
        "charge_class": "nonionic",
        "mildness": 90.0,
        "charge_acid_form": 0.0,
        "strong_charge": 0.0,
    },
)


def library():
    return tiny_library(
        [
            {"id": "harsh", "function": "surfactant", "price": 1.0, "min_if_used": 1.0, "max_use": 30.0},
            {"id": "kind", "function": "surfactant", "price": 4.0, "min_if_used": 0.5, "max_use": 20.0},
            {"id": "absent", "function": "humectant", "price": 2.0, "min_if_used": 1.0, "max_use": 5.0},
        ],
        CLASSES,
        {"harsh": {"Harsh": 50.0}, "kind": {"Kind": 50.0}},
    )


def brief(**more):
    return Brief(title="t", library=library(), law="none", **more)


def rows(answer):
    return {row.limit: row for row in answer.formulas[0].slack}


def typed(**percents):
    lines = tuple(percents.items())
    return TypedFormula(name="typed", lines=lines, total=sum(percents.values()))


WISHES = brief(
    targets={
        "active matter": {"at_least": 4.0, "at_most": 8.0},
        "mildness": {"at_least": 70.0},
        "cost": {"at_most": 0.5},
    },
    share=[{"each": "surfactant", "at_most": 60.0}],
    ratio=[{"of": "material:absent", "to": "material:kind", "at_least": 0.0}],
)


def test_every_row_of_a_typed_formula_is_what_a_calculator_says():
    # active 3 + 2 = 5; mildness (3 * 40 + 2 * 90) / 5 = 60; cost 0.06 + 0.16 = 0.22; the larger share 3 / 5
    found = rows(evaluate(typed(water=90.0, harsh=6.0, kind=4.0), WISHES.library, WISHES))
    active, mild, cost = found["active matter"], found["mildness"], found["cost"]
    assert (active.value, active.at_least, active.at_most) == pytest.approx((5.0, 4.0, 8.0))
    assert (active.below, active.above, active.state) == (pytest.approx(1.0), pytest.approx(3.0), "inside")
    assert active.place == pytest.approx(0.25)
    assert (mild.below, mild.above, mild.state) == (pytest.approx(-10.0), None, "broken")
    assert mild.place == pytest.approx(-10.0 / 70.0)
    assert (cost.above, cost.state) == (pytest.approx(0.28), "inside")
    assert cost.place == pytest.approx(0.22 / 0.5)
    each = found["each single surfactant"]
    assert (each.which, each.value, each.state) == ("Harsh", pytest.approx(60.0), "at the limit")
    assert (found["harsh"].below, found["harsh"].above) == pytest.approx((5.0, 24.0))


def test_what_says_nothing_about_the_formula_has_no_row():
    found = rows(evaluate(typed(water=94.0, harsh=6.0), WISHES.library, WISHES))
    assert "absent" not in found
    assert not any("per" in limit for limit in found), "a ratio to a material that is not there"


def test_an_equality_stands_in_the_middle_of_its_own_point():
    wish = brief(targets={"active matter": {"at_least": 5.0, "at_most": 5.0}})
    row = rows(evaluate(typed(water=90.0, harsh=6.0, kind=4.0), wish.library, wish))["active matter"]
    assert (row.below, row.above, row.state, row.place) == (0.0, 0.0, "at the limit", 0.5)
    off = rows(evaluate(typed(water=89.0, harsh=7.0, kind=4.0), wish.library, wish))["active matter"]
    assert off.state == "broken"
    assert off.room == pytest.approx(-0.5)


def test_a_bound_of_zero_has_a_place():
    wish = brief(targets={"function:humectant": {"at_most": 0.0}})
    row = rows(evaluate(typed(water=88.0, harsh=6.0, kind=4.0, absent=2.0), wish.library, wish))["humectant"]
    assert row.state == "broken"
    assert row.place == pytest.approx(2.0)


def test_a_limit_is_named_without_its_number_and_without_what_leads_to_it():
    for title, begins, side, label in (
        ("leaf as today: exactly 5 % w/w", "leaf as today:", "equal", "leaf as today"),
        ("gum in stock: at most 5 % w/w", "gum in stock:", "at_most", "gum in stock"),
        ("oil at least 5 % w/w", "oil", "at_least", "oil"),
    ):
        limit = Requirement(
            key=Key("k"), title=title, origin="brief", side=side, bound=5.0, unit="% w/w", label=begins
        )
        assert label_of(limit) == label


@pytest.fixture(scope="module")
def starter():
    return load_library()


FORMULAS = (
    {"water": 79.0, "sodium-laureth-sulfate-70": 12.0, "cocamidopropyl-betaine-30": 8.0, "sodium-benzoate": 0.4,
     "potassium-sorbate": 0.2, "citric-acid": 0.4},
    {"water": 62.0, "coco-glucoside": 30.0, "xanthan-gum": 2.0, "glycerin": 5.0, "sodium-benzoate": 0.9,
     "potassium-sorbate": 0.1},
)  # fmt: skip


def whole(key):
    """The program judges both ends of a preservative system's windows as one requirement."""
    if key.section in ("pH", "system-pH"):
        return Key("system-pH")
    return Key("system", key.place[:1]) if key.section == "system" else key


@pytest.mark.parametrize("lines", FORMULAS)
def test_rows_are_broken_exactly_where_the_program_says_so(starter, lines):
    """Two ways to the same judgement: the rows of the program, and each limit's own measure."""
    wish = Brief(
        title="t",
        library=starter,
        targets={"active matter": {"at_least": 9.0, "at_most": 11.0}, "mildness": {"at_least": 60.0}},
        share=[{"each": "surfactant", "at_most": 70.0}, {"of": "amphoteric", "at_least": 20.0}],
        include=[{"function": "humectant", "at_least": 2.0, "at_most": 4.0}],
    )
    formula = evaluate(typed(**lines), starter, wish).formulas[0]
    judged = {whole(item.requirement.key) for item in formula.breaks}
    keys = {whole(requirement.key) for row in formula.slack for requirement in row.requirements}
    seen = {
        whole(requirement.key)
        for row in formula.slack
        if row.state == "broken"
        for requirement in row.requirements
        if len(row.requirements) == 1
        or (requirement.side == "at_least") == (row.below is not None and row.below < 0)
    }
    assert seen == judged & keys
    assert seen, "the formula was made to break something"


def test_what_binds_has_no_room_left(starter):
    wish = Brief(
        title="t",
        library=starter,
        targets={
            "active matter": {"at_least": 9.0, "at_most": 11.0},
            "mildness": {"at_least": 65.0},
            "pH": {"at_least": 4.8, "at_most": 5.2},
        },
        include=[{"function": "humectant", "at_least": 2.0}],
        ranked={"how_many": 1},
    )
    formula = design(wish).formulas[0]
    at_limit = {r.key for row in formula.slack if row.state == "at the limit" for r in row.requirements}
    binding = {item.requirement.key for item in formula.binding}
    assert binding, "something always binds the cheapest formula"
    assert binding <= at_limit
    assert all(row.state != "broken" for row in formula.slack)
