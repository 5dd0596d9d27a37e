"""A time limit gives the best so far, labelled unproven; with none so far, an empty list and no conflict."""

import time

import numpy as np
import pytest

from optiform.answers.check import check
from optiform.answers.conflict.report import Finder
from optiform.answers.conflict.ways_out import WaysOut
from optiform.answers.design import design
from optiform.program import build
from optiform.search import new_structures as search
from optiform.search.incumbent import in_time, witness
from optiform.search.ionic_strength import formulas
from optiform.search.narrow import candidates as few
from optiform.search.narrow import completion as complete
from optiform.search.narrow import screening
from optiform.search.ranking import Candidate, best, rank
from optiform.solver import Clock, Outcome, OutOfTime, Session
from optiform.solver import clock as clocks
from tests.program.samples import wash
from tests.search.narrow.screen_briefs import random_brief


@pytest.mark.parametrize("question", [design, check])
def test_no_time_at_all(question):
    """Stopped before anything was found is no conflict."""
    answer = question(wash(), seconds=0.0)
    assert (answer.status, answer.proven, answer.formulas, answer.conflict) == ("stopped", False, (), None)


def test_a_ranking_that_is_stopped_says_so_at_its_end(monkeypatch):
    """What was found before the deadline stays; the last item tells that the search went no further."""
    program = build(wash())
    found, now = [], [0.0]
    monkeypatch.setattr(time, "monotonic", lambda: now[0])
    for item in rank(program, 100, clock=Clock(1000.0)):
        found.append(item)
        now[0] += 600.0
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


@pytest.mark.parametrize(("late", "members"), [("conflicts", 0), ("changes_of", 2)])
def test_a_conflict_that_takes_too_long_says_what_is_known(monkeypatch, late, members):
    """The no is proven and stays one; what collides, or what would help, is left out and said to be."""
    brief = wash(targets={"mildness": {"at_least": 80}, "cost": {"at_most": 0.01}})
    assert len(design(brief).conflict.requirements) == 2

    def over(*arguments):
        raise OutOfTime

    monkeypatch.setattr(Finder if late == "conflicts" else WaysOut, late, over)
    answer = design(brief, seconds=60.0)
    assert answer.status == "conflict"
    assert answer.proven
    assert not answer.conflict.complete
    assert len(answer.conflict.requirements) == members
    assert any("time ran out" in line for line in answer.conflict.quick)
    assert not answer.conflict.single_changes


def test_a_search_past_its_deadline_is_no_answer():
    """A session whose time is over neither finds nor proves: asking it for a yes or no fails."""
    program = build(wash())
    session = Session(program.form, clock=Clock.of(-1.0))
    with pytest.raises(OutOfTime):
        in_time(witness(session, program))


def test_after_ctrl_c_no_further_question_of_a_conflict_is_asked(monkeypatch):
    """A conflict asks hundreds of questions, each of which may take a second in a large library."""
    program = build(wash())
    session = Session(program.form)
    monkeypatch.setattr(clocks, "interrupted", lambda: True)
    outcome = witness(session, program)
    assert (outcome.status, outcome.values, session.solves) == ("stopped", None, 0)
    with pytest.raises(OutOfTime):
        in_time(outcome)
    with pytest.raises(OutOfTime):
        any(formulas(program))


@pytest.mark.parametrize("part", ["search", "structure"])
def test_a_list_whose_proof_was_cut_short_is_not_called_proven(part, monkeypatch):
    """The few of a large library are ranked in time, and the time is over while they are held against all others."""

    class OutOfIt(Session):
        def below(self, cutoff):
            return Outcome("stopped", np.inf, -np.inf)

    monkeypatch.setattr(screening, "MANY", 0)
    monkeypatch.setattr(few, "SPARE", 1)
    monkeypatch.setattr(screening, "WIDE", 0)
    monkeypatch.setattr(search if part == "search" else complete, "Session", OutOfIt)
    cut_short = 0
    for seed in range(12):
        screened = screening.screen(build(random_brief(seed)), 4)
        if screened.listed and screened.first.status == "stopped":
            *found, end = screened.ranking(4)
            assert all(isinstance(item, Candidate) for item in found)
            assert isinstance(end, Outcome)
            assert end.status == "stopped"
            cut_short += 1
    assert cut_short >= 2
