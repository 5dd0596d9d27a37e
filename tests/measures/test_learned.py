"""Where a learned measure puts the readings of a formula: against the example that the learning room is held to."""

import numpy as np
import pytest

from optiform.answers.evaluate import evaluate
from optiform.brief.reading import brief_from
from optiform.learning.conjugate import student_t_quantile
from optiform.library.formulas import TypedFormula
from optiform.measures.conditions import BenchKnowledge
from optiform.measures.learned import learned
from tests.builders import tiny_library
from tests.learning.test_conjugate import AFTER
from tests.taught import Lesson, bent_lesson
from tests.taught import library as kitchen

TERMS = ("foamer", "gum", "salt")
WASH = {"foamer": 7.0, "gum": 4.0, "salt": 1.2}
LIBRARY = tiny_library(
    [{"id": "foamer", "function": "surfactant"}, {"id": "gum", "function": "thickener"},
     {"id": "salt", "function": "salt"}],
)  # fmt: skip
LESSON = Lesson("viscosity", "log10", AFTER, TERMS, frozenset({"foamer", "gum"}), np.zeros((0, 3)))


def test_mean_and_next_reading_lie_where_the_published_numbers_put_them():
    """Centre, scale and leverage of the example in tests/learning/test_conjugate.py; t of 8 degrees of freedom."""
    measure = learned(LIBRARY, LESSON)
    mean, reading = measure.predicted(LIBRARY.arrays.amounts(WASH.items()), 0.95)
    half = 2.306004 * 0.10802169 * np.sqrt(0.37195027)
    assert np.log10(mean) == pytest.approx([3.20184568 - half, 3.20184568 + half], abs=2e-6)
    assert np.log10(reading) == pytest.approx([3.20184568 - 0.29176974, 3.20184568 + 0.29176974], abs=2e-6)


def test_nothing_is_predicted_in_another_base():
    library = tiny_library(
        [{"id": name, "function": "surfactant"} for name in ("foamer", "other")]
        + [{"id": "gum", "function": "thickener"}, {"id": "salt", "function": "salt"}]
    )
    amounts = library.arrays.amounts({**WASH, "other": 2.0}.items())
    assert learned(library, LESSON).predicted(amounts, 0.9) is None


def test_a_peak_of_salt_counts_in_both():
    """The square of 1.5 % salt is the last entry of the row; its interval is that of the posterior."""
    lesson, library = bent_lesson(), kitchen()
    held = {"foamer": 10.0, "betaine": 5.0, "gum": 1.0, "salt": 1.5, "nettle": 1.0}
    _, reading = learned(library, lesson).predicted(library.arrays.amounts(held.items()), 0.9)
    row = np.array([10.0, 5.0, 1.0, 1.5, 1.0, 2.25])
    assert np.log10(reading) == pytest.approx(lesson.knowledge.interval(row, 0.9))
    assert student_t_quantile(0.95, lesson.knowledge.degrees_of_freedom) > 1.645


def test_a_formula_shows_both():
    mapping = {"title": "Quay wash", "law": "none", "targets": {"viscosity": {"at_least": 1000}}}
    brief = brief_from(mapping, LIBRARY, known=BenchKnowledge((LESSON,)))
    lines = (("water", 100.0 - sum(WASH.values())), *WASH.items())
    answer = evaluate(TypedFormula("wash", lines, 100.0), LIBRARY, brief)
    figure = next(one for one in answer.formulas[0].figures if one.measure == "viscosity")
    assert figure.predicted.low < figure.predicted.mean_low < figure.value < figure.predicted.mean_high
    assert "wanted at least 1000; 9 in 10 read 930 to 2700" in answer.to_text()
    assert "fall at 930 to 2700 mPa.s; the mean of many lies" in " ".join(answer.to_text(full=True).split())
    assert '"mean_high"' in answer.to_json()
