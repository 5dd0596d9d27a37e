"""Questions with some demands dropped: the same answer from a live session, a fresh one, and a known formula."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optiform.answers.conflict.demands import Demands, known
from optiform.program import build
from optiform.search import incumbent
from optiform.solver import Refuting, Session
from tests.answers.random_briefs import briefs
from tests.oracles import held_form

RANDOM = settings(max_examples=20, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


def demands_of(brief):
    program = build(brief)
    return Demands(program, brief, Refuting(program.form))


def drawn(data, demands):
    """Draw some of the demands, of the brief and of the library, to be dropped."""
    every = [*demands.brief, *(demand for family in demands.families for demand in family)]
    flags = data.draw(st.lists(st.booleans(), min_size=len(every), max_size=len(every)))
    return [demand for demand, gone in zip(every, flags, strict=True) if gone]


def plainly(form):
    """Solve a form afresh, as it stands."""
    return Session(form).solve()


@RANDOM
@given(brief=briefs(), data=st.data())
def test_dropped_demands_are_answered_as_the_plain_form_is(brief, data):
    """A live session, rounding and a bound on the objective change no answer, whatever is dropped."""
    demands = demands_of(brief)
    program = demands.program
    dropped = drawn(data, demands)
    with demands.without(dropped) as session:
        form = held_form(session)
        found = incumbent.witness(session, program)
        best = incumbent.optimum(session, program, form.objective)
    plain = plainly(form)
    assert found.status == best.status == plain.status
    if plain.found:
        assert best.objective == pytest.approx(plain.objective, abs=1e-6)
        missed = known(form, found.values)
        assert not missed.rows
        assert not missed.columns


@RANDOM
@given(brief=briefs(), data=st.data())
def test_a_known_formula_answers_only_what_it_meets(brief, data):
    """Asked in any order, the answer is that of a solver that knows nothing."""
    demands = demands_of(brief)
    for _ in range(4):
        dropped = drawn(data, demands)
        with demands.without(dropped) as session:
            plain = plainly(held_form(session))
        assert demands.possible(dropped) == plain.found


@RANDOM
@given(brief=briefs(), data=st.data())
def test_what_a_proof_needs_is_impossible_by_itself(brief, data):
    """Asked of a plain solver: all but the core may go, and nothing that was dropped is in it."""
    demands = demands_of(brief)
    every = [*demands.brief, *(demand for family in demands.families for demand in family)]
    for _ in range(3):
        dropped = drawn(data, demands)[: len(every) // 3]
        core = demands.core(every, dropped)
        with demands.without(dropped) as session:
            assert (core is None) == plainly(held_form(session)).found
        if core is not None:
            assert not set(core) & set(dropped)
            with demands.without([demand for demand in every if demand not in core]) as session:
                assert not plainly(held_form(session)).found
