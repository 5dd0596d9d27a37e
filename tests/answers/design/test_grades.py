"""Other grades beside a formula: each is the best that the other grade can do there, by the slow judge."""

import pytest

from optiform.answers.design import design
from optiform.brief.models import Choose, Exclude, Ranked
from tests.naive import Naive
from tests.program.samples import wash
from tests.program.test_structure import graded

NAMES = ("anion", "anion-strong", "zwitter", "zwitter-strong", "glucoside")


def best_with(brief, formula, grade):
    """Return the least cost of the formula's materials with the other grade, which must be used."""
    materials = ({line.material for line in formula.lines} - {grade.instead_of}) | {grade.material}
    solved = [Naive(brief).solve(frozenset(materials), None)]
    return min(best.objective for best in solved if best is not None)


def test_each_grade_is_solved_and_comes_to_what_is_said():
    brief = wash(graded(*NAMES, prices={"anion-strong": 3.4}), ranked=Ranked(how_many=4))
    answer = design(brief)
    told = [(formula, grade) for formula in answer.formulas for grade in formula.also]
    assert {grade.material for _, grade in told} == {"anion", "zwitter"}
    for formula, grade in told:
        assert grade.aim == pytest.approx(best_with(brief, formula, grade), abs=1e-6)
        assert grade.aim >= formula.aim - 1e-9
        assert grade.cost == grade.aim
    assert '"also": [' in answer.to_json()


def test_a_grade_that_the_brief_keeps_out_is_not_offered():
    brief = wash(
        graded(*NAMES), exclude=(Exclude(material="zwitter-strong"), Exclude(material="anion-strong"))
    )
    assert all(formula.also == () for formula in design(brief).formulas)


def test_grades_that_may_stand_together_are_one_structure():
    """With both grades of the anion in the library, a list of single surfactants has three places, not five."""
    brief = wash(
        graded(*NAMES), choose=(Choose(function="surfactant", at_most=1),), targets={"mildness": None}
    )
    structures = [formula.structure for formula in design(brief).formulas]
    assert sorted(structures) == [("Anion",), ("Glucoside",), ("Zwitterion",)]
