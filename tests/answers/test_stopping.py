"""A time limit gives the best so far, labelled unproven; with none so far, an empty list and no conflict."""

import time

import pytest

from optiform.answers import check, design
from optiform.answers.rank import Candidate, best, rank
from optiform.program import build
from optiform.solver import Outcome, Session
from tests.program.samples import wash


@pytest.mark.parametrize("question", [design, check])
def test_no_time_at_all(question):
    """Stopped before anything was found is no conflict."""
    answer = question(wash(), seconds=0.0)
    assert (answer.status, answer.proven, answer.formulas, answer.conflict) == ("stopped", False, (), None)


def test_a_ranking_that_is_stopped_says_so_at_its_end():
    """What was found before the deadline stays; the last item tells that the search went no further."""
    program = build(wash())
    found = []
    deadline = time.monotonic() + 0.2
    for item in rank(program, 100, deadline=deadline):
        found.append(item)
        time.sleep(0.11)
    assert isinstance(found[0], Candidate)
    assert isinstance(found[-1], Outcome)
    assert found[-1].status == "stopped"


def test_a_mean_stopped_half_way_is_the_mean_so_far(monkeypatch):
    """Dinkelbach's iteration minimises a difference in between; what is handed on is the ratio."""
    brief = wash(targets={"mildness": None, "cost": {"at_most": 0.5}})
    program = build(brief)
    mildness = program.catalogue.find("mildness")
    top, base = (
        [*vector, *([0.0] * (program.form.columns - program.size))]
        for vector in (-mildness.numerator, mildness.denominator)
    )
    import numpy as np

    top, base = np.array(top), np.array(base)
    session = Session(program.form)
    whole, calls = session.solve, []

    def stopping():
        outcome = whole()
        calls.append(outcome)
        return outcome if len(calls) == 1 else Outcome("stopped", outcome.objective, -np.inf, outcome.values)

    monkeypatch.setattr(session, "solve", stopping)
    outcome = best(session, top, base)
    assert outcome.status == "stopped"
    assert -outcome.objective == pytest.approx(mildness.value(outcome.values[: program.size]))
    assert 40 <= -outcome.objective <= 90
