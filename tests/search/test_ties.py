"""Ties are broken as the brief says: within an allowance of the best, in the order of the tie-breaks."""

import pytest

from optiform.answers.check import check
from optiform.answers.design import design
from optiform.brief.models import Aim, Choose, Ranked, Share, Target
from optiform.library.models import Needs, Rules
from tests.naive import Naive
from tests.program.samples import WASH, shelf, wash


def lexicographic(brief):
    """Return (aim, tie-break values) of the best formula by the slow judge, one linear program per set and step."""
    best = Naive(brief).ranking()[0].objective
    aim, found = brief.aim, [best]
    sign = 1.0 if aim.sense == "minimise" else -1.0
    for name in aim.then:
        ceiling = best + aim.tie
        ends = {"at_most": ceiling} if sign > 0 else {"at_least": -ceiling}
        higher = name in ("mildness", "natural origin")
        brief = brief.model_copy(
            update={
                "targets": {**brief.targets, aim.measure: Target(**ends)},
                "aim": Aim(measure=name, sense="maximise" if higher else "minimise", tie=aim.tie),
            }
        )
        aim, sign = brief.aim, -1.0 if higher else 1.0
        best = Naive(brief).ranking()[0].objective
        found.append(sign * best)
    return found


NEEDY = Rules(
    needs=(
        Needs(material="glucoside", other="glycerin", ratio=0.02),
        Needs(material="glucoside", other="salt"),
    )
)


def test_the_shorter_list_comes_first_among_equals():
    """The glucoside wash is 0.02 cheaper but drags two helpers in; within 0.05 the shorter list wins."""
    library = shelf(*WASH, rules=NEEDY, change={"zwitter": {"price": 1.62}})
    choose = (Choose(function="surfactant", at_most=1),)
    plain = wash(library, choose=choose)
    first = design(plain).formulas[0]
    assert {line.material for line in first.lines} >= {"glucoside", "glycerin", "salt"}
    tied = plain.model_copy(update={"aim": Aim(then=("ingredients",), tie=0.05)})
    answer = design(tied)
    assert [line.material for line in answer.formulas[0].lines if line.function == "surfactant"] == [
        "zwitter"
    ]
    assert answer.formulas[0].cost == pytest.approx(first.cost + 0.016, abs=0.01)
    assert [formula.rank for formula in answer.formulas] == list(range(1, len(answer.formulas) + 1))


@pytest.mark.parametrize(
    ("aim", "then", "tie"),
    [
        ("cost", ("mildness",), 0.01),
        ("cost", ("ingredients",), 0.01),
        ("cost", ("ingredients", "mildness"), 0.02),
        ("cost", ("natural origin",), 0.005),
        ("mildness", ("ingredients",), 0.5),
        ("mildness", ("natural origin",), 0.5),
    ],
)
def test_tie_breaks_against_the_judge(aim, then, tie):
    """The first formula is within the allowance of the best of all, and as good as can be by the tie-break."""
    sense = "maximise" if aim == "mildness" else "minimise"
    targets = (
        {"mildness": {"at_least": 50.0}, "cost": {"at_most": 0.5}}
        if aim == "cost"
        else {"cost": {"at_most": 0.5}, "mildness": None}
    )
    targets = {name: ends for name, ends in targets.items() if name != aim}
    brief = wash(
        targets=targets,
        aim=Aim(measure=aim, sense=sense, then=then, tie=tie),
        share=(Share(each="surfactant", at_most=70.0),),
        ranked=Ranked(how_many=2),
    )
    expected = lexicographic(brief)
    first = design(brief).formulas[0]
    sign = 1.0 if sense == "minimise" else -1.0
    assert sign * first.aim <= expected[0] + tie + 1e-6, "outside the allowance of the best"
    reached = [first.figure(name).value for name in then]
    assert reached[0] == pytest.approx(expected[1], abs=1e-4)


def test_a_tie_break_never_moves_a_formula_beyond_the_allowance_of_the_best():
    """The allowance counts from the best of all formulas, not from the best of the structure that wins the tie."""
    brief = wash(
        targets={"mildness": {"at_least": 50.0}},
        aim=Aim(then=("ingredients", "mildness"), tie=0.02),
        share=(Share(each="surfactant", at_most=70.0),),
    )
    best = Naive(brief).ranking()[0].objective
    assert design(brief).formulas[0].cost <= best + 0.02 + 1e-6


def test_prices_are_those_of_the_aim_whatever_broke_the_tie():
    """The cost of a limit is a difference of two best costs; the allowance spent on a tie-break is no part of it."""
    brief = wash(share=(Share(each="surfactant", at_most=70.0),), ranked=Ranked(how_many=1))
    tied = brief.model_copy(update={"aim": Aim(then=("mildness",), tie=0.01)})
    plain = {b.requirement.key: b for b in design(brief).formulas[0].binding}
    for binding in design(tied).formulas[0].binding:
        assert binding.marginal_cost is not None
        assert binding.marginal_cost >= -1e-9
        assert binding.marginal_cost == pytest.approx(
            plain[binding.requirement.key].marginal_cost, rel=0.03, abs=1e-6
        )


def judged(brief):
    """Return (aim, cost) of the best formula and of the cheapest as good as it, by the slow judge."""
    best = Naive(brief).ranking()[0].objective
    sign = 1.0 if brief.aim.sense == "minimise" else -1.0
    near = 1e-7 * max(1.0, abs(best))
    held = {"at_most": best + near} if sign > 0 else {"at_least": -best - near}
    targets = {**brief.targets, brief.aim.measure: Target(**held)}
    cheapest = Naive(brief.model_copy(update={"targets": targets, "aim": Aim()})).ranking()[0].objective
    return sign * best, cheapest


@pytest.mark.parametrize(
    "aim",
    [
        Aim(measure="substance:Glycerin", sense="maximise"),
        Aim(measure="substance:Salt"),
        Aim(measure="mildness", sense="maximise"),
        Aim(measure="ingredients"),
        Aim(measure="function:humectant"),
    ],
    ids=lambda aim: f"{aim.sense} {aim.measure}",
)
def test_equals_go_to_the_cheaper_under_any_aim(aim):
    """No formula as good by the aim costs less than the first, and none costs the same with fewer materials."""
    brief = wash(shelf(*WASH, "nettle"), aim=aim, ranked=Ranked(how_many=3))
    best, cheapest = judged(brief)
    first = design(brief).formulas[0]
    assert first.aim == pytest.approx(best, abs=1e-5)
    assert first.cost == pytest.approx(cheapest, abs=1e-5)


def test_nothing_stands_in_a_formula_for_nothing():
    """A free extract serves no wish: under every aim that it does not touch it stays out."""
    library = shelf(*WASH, "nettle", change={"nettle": {"price": 0.0}})
    for aim in (Aim(), Aim(measure="mildness", sense="maximise"), Aim(measure="substance:Salt")):
        answer = design(wash(library, aim=aim, ranked=Ranked(how_many=3)))
        for formula in answer.formulas:
            assert "nettle" not in {line.material for line in formula.lines}, aim


def test_equal_costs_go_to_the_shorter():
    """Active matter costs 5 EUR/kg in each surfactant (price over strength), so one does what three do."""
    prices = {"anion": {"price": 1.4}, "zwitter": {"price": 1.5}, "glucoside": {"price": 2.5}}
    brief = wash(shelf(*WASH, change=prices), targets={"mildness": None}, ranked=Ranked(how_many=3))
    formulas = design(brief).formulas
    assert [formula.cost for formula in formulas] == pytest.approx([0.4, 0.4, 0.4], abs=1e-6)
    assert [len(formula.lines) for formula in formulas] == [2, 2, 2]


@pytest.mark.parametrize(
    "aim", [Aim(), Aim(measure="mildness", sense="maximise"), Aim(measure="substance:Salt")]
)
@pytest.mark.parametrize("low", [40.0, 62.0, 80.0])
def test_check_shows_the_first_formula_of_design(aim, low):
    brief = wash(targets={"mildness": {"at_least": low}}, aim=aim)
    shown = [(line.material, round(line.percent, 6)) for line in check(brief).formulas[0].lines]
    assert shown == [(line.material, round(line.percent, 6)) for line in design(brief).formulas[0].lines]
