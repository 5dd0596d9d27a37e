"""What is asked is stated in PuLP, of a large library the part that matters; only what-ifs go as arrays."""

from pathlib import Path

import pytest

from optiform import check
from optiform.solver import session

PROBLEMS = Path(__file__).parents[2] / "problems"


@pytest.mark.parametrize("problem", ["oil-blend", "first-bath-baby-mild"])
def test_the_program_of_a_question_is_stated_in_pulp(problem, monkeypatch):
    stated, found = [], session.stated
    monkeypatch.setattr(session, "stated", lambda form: stated.append(form) or found(form))
    assert check(PROBLEMS / problem / "brief.toml").status == "solved"
    assert stated
