"""Soft wishes: what falls short costs its worth, no more and no less, and nothing else does."""

import json

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optiform.answers.check import check
from optiform.answers.design import design
from optiform.answers.evaluate.typed_formula import evaluate
from optiform.brief import brief_from, load_brief
from optiform.brief.models import Aim, Prefer, Ranked, Share, Target, Weighing
from optiform.brief.writing import write_brief
from optiform.faults import BadInput
from optiform.library.formulas import TypedFormula
from tests.program.samples import shelf, wash

NAMES = ("anion", "zwitter", "glucoside", "xanthan", "salt")
PLAIN = wash(shelf(*NAMES), share=(Share(each="surfactant", at_most=70.0),), ranked=Ranked(how_many=2))
WISHES = (
    Prefer(measure="mildness", at_least=75.0, worth=0.004),
    Prefer(measure="active matter", at_least=11.0, worth=0.03),
    Prefer(measure="substance:Salt", at_most=0.4, worth=0.2),
    Prefer(measure="natural origin", at_least=99.0, worth=0.01),
    Prefer(measure="ingredients", at_most=2.0, worth=0.01),
)


def with_wish(wish, brief=PLAIN, **fields):
    return brief.model_copy(update={"prefer": (wish,), **fields})


def hard(brief, wish, bound):
    """Return the least cost with the wish as a wall at a bound; nothing of the soft machinery is used."""
    before = brief.targets.get(wish.measure, Target())
    side = "at_least" if wish.at_least is not None else "at_most"
    ends = {"at_least": before.at_least, "at_most": before.at_most, side: bound}
    if ends["at_least"] is not None and ends["at_most"] is not None and ends["at_least"] > ends["at_most"]:
        return np.inf
    found = check(brief.model_copy(update={"targets": {**brief.targets, wish.measure: Target(**ends)}}))
    return found.formulas[0].aim if found.formulas else np.inf


def paid(formula):
    """Return the aim and worth times shortfall, from the printed measures alone."""
    total = formula.aim
    for wish in formula.preferences:
        sign = 1.0 if wish.side == "at_least" else -1.0
        total += wish.worth * max(0.0, sign * (wish.wanted - wish.value))
    return total


@pytest.mark.parametrize("wish", WISHES, ids=lambda wish: wish.measure)
def test_the_printed_penalty_is_worth_times_shortfall(wish):
    for formula in design(with_wish(wish)).formulas:
        assert formula.aim_with_preferences == pytest.approx(paid(formula), abs=1e-12)
        assert formula.preferences[0].value == pytest.approx(formula.figure(wish.measure).value, abs=1e-9)


@pytest.mark.parametrize("wish", WISHES, ids=lambda wish: wish.measure)
def test_no_wall_at_any_bound_does_better(wish):
    """The least of (cost with a wall at b) + worth x |bound - b| over forty b, each a brief without soft wishes."""
    bound = wish.at_least if wish.at_least is not None else wish.at_most
    lows = {"mildness": 40.0, "active matter": 8.0, "natural origin": 80.0}
    far = lows.get(wish.measure, 6.0 if wish.measure == "ingredients" else 3.0)
    steps = np.arange(bound, far + 1) if wish.measure == "ingredients" else np.linspace(bound, far, 40)
    tried = [hard(PLAIN, wish, float(b)) + wish.worth * abs(bound - b) for b in steps]
    found = design(with_wish(wish)).formulas[0].aim_with_preferences
    step = wish.worth * abs(bound - far) / 39
    assert found <= min(tried) + 1e-5, "a wall does better"
    assert found >= min(tried) - step - 1e-5, "better than anything that can be"


@pytest.mark.parametrize("wish", WISHES, ids=lambda wish: wish.measure)
def test_worth_nothing_is_no_wish(wish):
    without, free = design(PLAIN), design(with_wish(wish.model_copy(update={"worth": 0.0})))
    assert [f.aim for f in free.formulas] == pytest.approx([f.aim for f in without.formulas], abs=1e-7)
    assert all(item.penalty == 0 for formula in free.formulas for item in formula.preferences)


@pytest.mark.parametrize("wish", WISHES[:4], ids=lambda wish: wish.measure)
def test_worth_a_fortune_is_a_wall(wish):
    bound = wish.at_least if wish.at_least is not None else wish.at_most
    dear = design(with_wish(wish.model_copy(update={"worth": 1000.0}))).formulas[0]
    assert dear.aim == pytest.approx(hard(PLAIN, wish, bound), abs=1e-4)
    assert dear.preferences[0].penalty == pytest.approx(0.0, abs=2e-3)


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    measure=st.sampled_from(
        [("mildness", 70.0, 0.01), ("active matter", 11.5, 0.2), ("natural origin", 98.0, 0.1)]
    ),
    parts=st.lists(st.floats(0.0, 1.0), min_size=2, max_size=2, unique=True),
)
def test_the_dearer_a_wish_the_less_it_is_short_and_the_more_all_costs(measure, parts):
    name, bound, most = measure
    less, more = (
        design(with_wish(Prefer(measure=name, at_least=bound, worth=most * part))).formulas[0]
        for part in sorted(parts)
    )
    assert more.aim_with_preferences >= less.aim_with_preferences - 1e-6
    assert more.preferences[0].value >= min(less.preferences[0].value, bound) - 0.05
    assert more.aim >= less.aim - 1e-4


def test_a_wish_that_is_short_is_priced_at_its_worth():
    wish = Prefer(measure="active matter", at_least=11.0, worth=0.01)
    first = design(with_wish(wish)).formulas[0]
    (binding,) = [b for b in first.binding if b.requirement.key.section == "prefer"]
    assert binding.requirement.title == "active matter preferably at least 11 % w/w"
    assert binding.marginal_cost == pytest.approx(0.01, rel=1e-6)
    assert binding.marginal_cost_back == pytest.approx(0.01, rel=1e-6)


@pytest.mark.parametrize("wish", WISHES, ids=lambda wish: wish.measure)
def test_what_falls_short_of_a_wish_can_be_weighed_as_well_as_anything(wish):
    """The balance moves a wished-for measure by its steps, which is no break: what is short is short by that."""
    brief = with_wish(wish, weighing=Weighing(batch_g=500.0, balance_g=0.1))
    for formula in design(brief).formulas:
        weighed = formula.weighable
        assert weighed is not None
        assert all(round(10 * line.grams, 6) == round(10 * line.grams) for line in weighed.lines)
        judged = evaluate(TypedFormula("weighed", weighed.percents, 100.0), brief.library, brief).formulas[0]
        assert not [item for item in judged.breaks if item.requirement.key.section != "prefer"]
        assert judged.preferences[0].value == pytest.approx(formula.preferences[0].value, abs=0.5)


def test_what_is_aimed_high_pays_downwards():
    brief = PLAIN.model_copy(update={"aim": Aim(measure="active matter", sense="maximise")})
    wish = Prefer(measure="cost", at_most=0.45, worth=50.0)
    first = design(with_wish(wish, brief)).formulas[0]
    assert first.aim_with_preferences == pytest.approx(first.aim - first.preferences[0].penalty, abs=1e-12)
    assert first.cost == pytest.approx(0.45, abs=1e-5)


def test_check_evaluate_and_json_say_the_same():
    brief = with_wish(WISHES[0])
    first = design(brief).formulas[0]
    assert check(brief).formulas[0].aim_with_preferences == pytest.approx(
        first.aim_with_preferences, abs=1e-9
    )
    typed = TypedFormula("first", tuple((line.material, line.percent) for line in first.lines), 100.0)
    judged = evaluate(typed, brief.library, brief).formulas[0]
    assert not [item for item in judged.breaks if item.requirement.key.section == "prefer"]
    assert judged.preferences[0].penalty == pytest.approx(first.preferences[0].penalty, abs=1e-9)
    told = json.loads(design(brief).to_json())["formulas"][0]
    assert told["preferences"][0]["measure"] == "mildness"
    assert told["aim_with_preferences"] == pytest.approx(first.aim_with_preferences)


KEYS = {
    "title": "Quay wash",
    "law": "none",
    "targets": {"active matter": {"at_least": 8.0, "at_most": 12.0}},
    "prefer": [{"measure": "mildness", "at_least": 70.0, "worth": 0.03}],
}


def test_a_brief_with_wishes_is_read_and_written(tmp_path):
    brief = brief_from(KEYS, shelf(*NAMES))
    assert brief.prefer == (Prefer(measure="mildness", at_least=70.0, worth=0.03),)
    (tmp_path / "quay.toml").write_text(write_brief(KEYS), encoding="utf-8")
    assert load_brief(tmp_path / "quay.toml", lambda path: shelf(*NAMES)).prefer == brief.prefer


@pytest.mark.parametrize(
    ("wish", "more", "said"),
    [
        ({"measure": "mildnes", "at_least": 70.0, "worth": 1.0}, {}, "there is no measure 'mildnes'"),
        ({"measure": "mildness", "worth": 1.0}, {}, "no bound is given"),
        ({"measure": "mildness", "at_least": 70.0}, {}, "missing"),
        ({"measure": "mildness", "at_least": 70.0, "worth": -1.0}, {}, "out of range"),
        ({"measure": "mildness", "at_least": 170.0, "worth": 1.0}, {}, "out of range"),
        ({"measure": "mildness", "at_least": 70.0, "at_most": 60.0, "worth": 1.0}, {}, "is above at_most"),
        ({"measure": "pH", "at_least": 5.0, "worth": 1.0}, {}, "is a window"),
        ({"measure": "mildness", "at_least": 70.0, "worth": 1.0}, {"targets": {"cost": {"at_most": 2.0}}}, "is a mean"),
        ({"measure": "cost", "at_most": 1.0, "worth": 1.0}, {"aim": {"maximise": "mildness"}}, "is a mean"),
    ],
)  # fmt: skip
def test_what_cannot_be_wished_for_is_told(wish, more, said):
    with pytest.raises(BadInput, match=said) as bad:
        brief_from({**KEYS, **more, "prefer": [wish]}, shelf(*NAMES))
    assert all("prefer" in fault.place for fault in bad.value.faults)
