"""A larger library is narrowed as soundly where limits have margins: the list equals that of the whole program."""

import numpy as np
import pytest

from optiform.brief.reading import brief_from
from optiform.measures.conditions import BenchKnowledge
from optiform.program import build
from optiform.search.narrow.screening import MANY, screen
from optiform.search.ranking import Candidate, rank
from tests.builders import tiny_library
from tests.taught import Lesson, lesson

EXTRA = 60


def large(seed):
    """Return a brief whose library has sixty more materials, half of them grades of what was tried at other prices."""
    rng = np.random.default_rng(seed)
    grades = [
        {"id": f"{name}-{number}", "function": function, "max_use": most, "min_if_used": least,
         "price": float(rng.uniform(0.6, 1.6) * price)}
        for name, function, price, least, most in (
            ("foamer", "surfactant", 4.0, 1.0, 20.0), ("betaine", "surfactant", 6.0, 1.0, 12.0),
            ("gum", "thickener", 22.0, 0.1, 2.0),
        )
        for number in range(EXTRA // 6)
    ]  # fmt: skip
    others = [
        {"id": f"extract-{number}", "price": float(rng.uniform(1.0, 30.0)), "max_use": 3.0}
        for number in range(EXTRA // 2)
    ]
    salt = {"id": "salt", "price": 0.5, "max_use": 3.0}
    first = lesson()
    terms = (*(one["id"] for one in grades), "salt")
    kinds = {"foamer": 0, "betaine": 1, "gum": 2, "salt": 3}
    place = [kinds[name.partition("-")[0]] for name in terms]
    mean = first.knowledge.mean[place] * rng.uniform(0.8, 1.2, len(place))
    loading = rng.normal(size=(len(place), len(place))) * 0.1 + np.eye(len(place))
    precision = 400.0 * loading @ loading.T
    knowledge = type(first.knowledge)(mean, precision, first.knowledge.shape, first.knowledge.rate)
    base = frozenset(one["id"] for one in grades)
    taught = Lesson("viscosity", "log10", knowledge, terms, base, np.zeros((0, len(place))))
    library = tiny_library([*grades, *others, salt])
    mapping = {
        "title": "many",
        "law": "none",
        "targets": {
            "function:surfactant": {"at_least": 10.0},
            "viscosity": {"at_least": 2500.0, "sure": 0.9},
        },
        "ranked": {"how_many": 3},
    }
    return brief_from(mapping, library, known=BenchKnowledge((taught,)))


@pytest.mark.parametrize(
    "seed", [1, pytest.param(2, marks=pytest.mark.slow), pytest.param(3, marks=pytest.mark.slow)]
)
def test_the_narrowed_list_is_that_of_the_whole_program(seed):
    program = build(large(seed))
    assert program.size >= MANY and program.form.norms
    screened = screen(program, 3)
    assert screened.left_out > 0
    narrow = [item.best for item in screened.ranking(3) if isinstance(item, Candidate)]
    whole = [item.best for item in rank(program, 3) if isinstance(item, Candidate)]
    assert narrow == pytest.approx(whole, abs=1e-6)
