"""Whenever the time is over, a question ends with what is known by then, and calls proven only what is.

The time is counted in looks at the clock: it is over after so many of them, on any machine. Oracle: the same question
without a limit. What a hurried answer calls proven is what that one says.
"""

import math

import pytest

from optiform.answers.check import check
from optiform.answers.design import design
from optiform.answers.price import why
from optiform.answers.rework import reformulate
from optiform.answers.tradeoff import tradeoff
from optiform.brief.models import Certainty, Choose, Include, Prefer, Ranked, Target
from optiform.sheets.purchase.offers import Offer, Supplier
from optiform.sheets.purchase.packs import best_basket
from optiform.solver import Clock, OutOfTime
from tests.answers.rework.today import brief_of as baseline_brief
from tests.program.rows import test_certainty_rows as windows
from tests.program.samples import shelf, wash

PARTS = 8
"""How many moments are tried between the first look at the clock and the last one."""

PLAIN = wash(shelf("anion", "zwitter", "glucoside", "xanthan", "salt"), ranked=Ranked(how_many=2))
WISHED = PLAIN.model_copy(update={"prefer": (Prefer(measure="mildness", at_least=75.0, worth=0.004),)})
IMPOSSIBLE = wash(
    targets={"mildness": {"at_least": 80.0}, "cost": {"at_most": 0.5}},
    choose=(Choose(function="surfactant", at_most=1),),
    include=(Include(material="xanthan", at_least=0.5),),
)
SURE = windows.wash()
SURE = PLAIN.model_copy(
    update={
        "library": SURE,
        "certainty": Certainty(lots=0.9),
        "targets": {"active matter": Target(at_least=8.0, at_most=10.0), "mildness": Target(at_least=62.0)},
    }
)
BASELINE = baseline_brief(at_most_new=2)
COMMANDS = {
    "design": lambda seconds: design(PLAIN, seconds=seconds, in_full=True),
    "design with a soft wish": lambda seconds: design(WISHED, seconds=seconds),
    "design for most lots": lambda seconds: design(SURE, seconds=seconds),
    "check": lambda seconds: check(PLAIN, seconds=seconds),
    "check for most lots": lambda seconds: check(SURE, seconds=seconds),
    "conflict": lambda seconds: design(IMPOSSIBLE, seconds=seconds),
    "why not": lambda seconds: why(PLAIN, "glucoside", seconds=seconds),
    "why": lambda seconds: why(WISHED, "anion", seconds=seconds),
    "why it cannot be": lambda seconds: why(IMPOSSIBLE, "anion", seconds=seconds),
    "why it is kept out": lambda seconds: why(
        wash(targets={"mildness": {"at_least": 89.0}}), "anion", seconds=seconds
    ),
    "reformulate": lambda seconds: reformulate(BASELINE, seconds=seconds),
    "tradeoff": lambda seconds: tradeoff(PLAIN, "cost", "active matter", clock=Clock.of(seconds)),
    "tradeoff against a mean": lambda seconds: tradeoff(
        PLAIN, "cost", "mildness", within=0.02, clock=Clock.of(seconds)
    ),
    "tradeoff for most lots": lambda seconds: tradeoff(
        SURE, "cost", "mildness", within=0.02, clock=Clock.of(seconds)
    ),
    "tradeoff that cannot be": lambda seconds: tradeoff(
        IMPOSSIBLE.model_copy(update={"include": (Include(material="xanthan", at_least=3.0),)}),
        "cost",
        "electrolyte",
        clock=Clock.of(seconds),
    ),
}


class Looks:
    """Counts looks at the clocks of questions, and says that the time is over after so many."""

    def __init__(self):
        self.count, self.most = 0, math.inf

    def allow(self, most):
        self.count, self.most = 0, most


@pytest.fixture
def looks(monkeypatch):
    counted = Looks()

    def left(clock):
        if clock.deadline is None:
            return math.inf
        counted.count += 1
        return math.inf if counted.count <= counted.most else 0.0

    monkeypatch.setattr(Clock, "left", left)
    return counted


def first_of(answer):
    """Return what is proven of an answer: the aim of its formulas, or the curve by its knots."""
    if hasattr(answer, "curves"):
        return [knot.value for curve in answer.curves for knot in curve.knots]
    return [formula.ranked_by for formula in answer.formulas]


def assert_known(hurried, whole):
    """A proven answer is that without a limit, a conflict is one, and whatever is missing is said to be."""
    if hurried.status == "conflict":
        assert whole.status == "conflict"
        told, known = hurried.conflict, whole.conflict
        if told.complete:
            assert {item.key for item in told.requirements} == {item.key for item in known.requirements}
        else:
            assert len(told.quick) > len(known.quick)
        return
    assert hurried.status == ("solved" if hurried.proven else "stopped")
    if hurried.proven:
        assert first_of(hurried) == pytest.approx(first_of(whole), abs=1e-6)
    if getattr(whole, "why", None) is not None and hurried.why is not None:
        assert_known_reason(hurried, whole)
    if getattr(whole, "changes", None) is not None and hurried.changes is not None:
        assert_known_changes(hurried, whole)


def assert_known_reason(hurried, whole):
    """What is told of a material is true; what is absent is absent for good only in a finished answer."""
    told, known = hurried.why, whole.why
    assert told.finished == hurried.proven
    for name in ("forced", "below", "above"):
        here, there = getattr(told, name), getattr(known, name)
        if told.finished:
            assert (here is None) == (there is None)
        if here is not None and not isinstance(here, float):
            here, there = here.price, there.price
        if here is not None:
            assert here == pytest.approx(there, abs=1e-6)
    assert told.finished or hurried.notes != whole.notes


def assert_known_changes(hurried, whole):
    """The steps lead to the result, and ways are those that were looked at to the end."""
    changes = hurried.changes
    assert math.fsum(step.saving for step in changes.steps) == pytest.approx(changes.saving, abs=1e-9)
    for name in ("sliding", "amounts", "choices"):
        if getattr(changes, name) is not None and hurried.proven:
            assert getattr(changes, name) == pytest.approx(getattr(whole.changes, name), abs=1e-6)
    if changes != whole.changes:
        assert hurried.notes != whole.notes


@pytest.mark.parametrize("name", COMMANDS)
def test_a_question_ends_whenever_the_time_is_over(name, looks):
    command = COMMANDS[name]
    whole = command(None)
    last = looks.count
    assert whole.status in ("solved", "conflict")
    for most in sorted({*range(4), *(last * part // PARTS for part in range(1, PARTS)), last}):
        looks.allow(most)
        assert_known(command(1e6), whole)
        assert looks.count >= min(most, 1)


def test_a_purchase_is_found_or_said_not_to_be(looks):
    sizes = {("a", 150.0): 3.0, ("a", 400.0): 6.0, ("b", 100.0): 2.0, ("b", 250.0): 4.5}
    offers = [
        Offer(material=name, supplier="n", size_g=size, price=price) for (name, size), price in sizes.items()
    ]
    question = ({"a": 700.0, "b": 330.0}, offers, (Supplier(name="n", minimum_order=15.0, delivery=1.0),))
    whole = best_basket(*question, "cash", Clock.of(None))
    stopped = 0
    for most in range(looks.count + 1):
        looks.allow(most)
        try:
            found = best_basket(*question, "cash", Clock.of(1e6))
        except OutOfTime:
            stopped += 1
            continue
        assert found.cash - found.gap <= whole.cash + 1e-9 <= found.cash + 2e-9
    assert stopped
