"""Each printed marginal cost is the measured change of an independent re-solve, on its own side, within 3 %."""

import numpy as np
import pytest

from optiform.answers.price.binding_limits import explain
from optiform.brief.models import Aim, Include, Ratio, Share
from optiform.library.models import LinearRule, Needs, Rules, Term, When
from optiform.measures.acidity import charge_curves
from tests.answers.moving import moved
from tests.naive import Naive
from tests.program.comparing import polished
from tests.program.samples import SYSTEMS, WASH, shelf, wash

WITHIN = 0.03
STEPS = (2e-4, 1e-5)
BEYOND = 1e-3
"""How far past the end of an interval the cost is measured again, of its bound."""

CAPPED = (Share(each="surfactant", at_most=45.0),)
PRESERVED = ("anion", "zwitter", "glucoside", "acid", "preserver", "alcohol", "glycerin", "nettle")
THICK = (Include(function="thickener", at_least=0.5),)
HOUSE = Rules(
    needs=(Needs(material="xanthan", other="glycerin", ratio=4.0),),
    when=(When(material="function:thickener", measure="mildness", at_least=72.0),),
    linear=(
        LinearRule(
            name="helpers", terms=(Term(material="glycerin"), Term(material="salt", times=2.0)), at_least=2.5
        ),
    ),
)
BRIEFS = {
    "plain": wash(share=CAPPED),
    "shares and ratios": wash(
        share=(Share(of="anionic", at_least=30.0), Share(of="zwitter", at_least=12.0)),
        ratio=(Ratio(of="amphoteric", to="anionic", at_least=0.5),),
    ),
    "house rules": wash(shelf(*WASH, rules=HOUSE), include=THICK, share=CAPPED),
    "fixed amounts": wash(
        targets={"active matter": {"at_least": 9.0, "at_most": 9.0}},
        include=(Include(material="glycerin", at_least=3.0, at_most=3.0),),
    ),
    "use ranges": wash(
        shelf(*WASH, change={"glucoside": {"max_use": 9.0}, "xanthan": {"min_if_used": 0.7}}),
        include=(Include(material="xanthan"),),
    ),
    "dosed pH": wash(
        shelf(*PRESERVED, systems=SYSTEMS),
        targets={"pH": {"at_least": 4.3, "at_most": 4.8}},
        include=(Include(material="nettle", at_least=2.0),),
        share=CAPPED,
    ),
    "mildest": wash(
        aim=Aim(measure="mildness", sense="maximise"),
        targets={"mildness": None, "cost": {"at_most": 0.47}},
        share=CAPPED,
    ),
    "least harsh load": wash(
        aim=Aim(measure="irritation load"), targets={"mildness": None, "cost": {"at_most": 0.47}}, share=CAPPED
    ),
    "most natural without water": wash(
        aim=Aim(measure="natural origin without water", sense="maximise"),
        targets={"cost": {"at_most": 0.5}},
        share=CAPPED,
    ),
    "bare use ranges": wash(
        shelf(*WASH, change={"glycerin": {"max_use": 1.5}, "salt": {"max_use": 0.4}}),
        targets={"natural origin without water": {"at_least": 92.0}},
        share=CAPPED,
    ),
}  # fmt: skip


def resolve(brief, exact, requirement, bound):
    """Return the slow judge's best aim with the choices kept and one bound moved; None if impossible."""
    program = exact.program
    ids = program.library.arrays.materials
    counted = [len(choices) > 0 for choices in program.uses]
    used = {ids[i] for i in np.flatnonzero(exact.amounts > 0)}
    free = {name for name, choice in zip(ids, counted, strict=True) if not choice}
    judge = Naive(
        moved(brief, requirement, bound), program.catalogue.conditions.ionic_strength, frozenset(free)
    )
    system = next((name for name, column in program.systems.items() if exact.values[column] > 0.5), None)
    best = judge.solve(frozenset(used | free | {judge.water}), system)
    return None if best is None else best.objective


def assert_prices(brief, exact, expect=1):
    bindings = explain(exact)
    assert len(bindings) >= expect
    for binding in bindings:
        requirement = binding.requirement
        here = requirement.bound
        away = -1.0 if requirement.side == "at_most" else 1.0
        base = resolve(brief, exact, requirement, here)
        assert base == pytest.approx(exact.objective, abs=1e-6)
        for cost, way in ((binding.marginal_cost, away), (binding.marginal_cost_back, -away)):
            sign = 1.0 if way == away else -1.0
            measured = [sign * change(brief, exact, requirement, way * step, base) for step in STEPS]
            if cost is None:
                assert not np.isfinite(measured).any(), requirement.title
                continue
            assert any(cost == pytest.approx(slope, rel=WITHIN, abs=2e-5) for slope in measured), (
                f"{requirement.title}: {cost} told, {measured} measured"
            )
        assert_interval(brief, exact, binding, base, away)
    return bindings


def change(brief, exact, requirement, step, base):
    """Return what moving a bound by a step costs per unit, infinite where nothing is possible."""
    there = resolve(brief, exact, requirement, requirement.bound + step)
    return np.inf if there is None else (there - base) / abs(step)


def assert_interval(brief, exact, binding, base, away):
    """On the interval the cost holds within 3 %; well beyond its far end it does not, or nothing is possible there."""
    requirement, cost = binding.requirement, binding.marginal_cost
    low, high, here = binding.holds_from, binding.holds_to, binding.requirement.bound
    assert low - 1e-6 <= here <= high + 1e-6
    if cost is None:
        return
    for end in (low, high):
        for part in (0.5, 1.0):
            bound = here + part * (end - here) * (1 - 1e-6)
            if abs(bound - here) < 1e-3:
                continue
            there = resolve(brief, exact, requirement, bound)
            assert there is not None, f"{requirement.title}: nothing at {bound}"
            slope = away * (there - base) / (bound - here)
            assert slope == pytest.approx(cost, rel=1.5 * WITHIN, abs=2e-5), f"{requirement.title} at {bound}"
    for end, outwards in ((low, -1.0), (high, 1.0)):
        if end in edges_of(exact, requirement):
            continue
        past = [end + outwards * part * BEYOND * max(1.0, abs(end)) for part in (1.0, 2.0)]
        one, two = (resolve(brief, exact, requirement, bound) for bound in past)
        if one is None or two is None:
            continue
        own = cost if outwards == away or binding.degenerate else binding.marginal_cost_back
        slope = away * (two - one) / (past[1] - past[0])
        assert slope != pytest.approx(own, rel=0.5 * WITHIN, abs=1e-7), (
            f"{requirement.title} holds past {end}"
        )


def edges_of(exact, requirement):
    """Return the ends of what a limit can ask for at all; an end of nothing but the scale is no change of cost."""
    catalogue = exact.program.catalogue
    name = requirement.measure
    measure = catalogue.find(name) if name is not None and catalogue.known(name) else None
    scale = () if measure is None else (measure.lowest, measure.highest)
    return {*scale, 0.0, float("inf"), float("-inf")}


@pytest.mark.parametrize("name", BRIEFS)
def test_marginal_costs_are_what_re_solving_costs(name):
    brief = BRIEFS[name]
    formulas = polished(brief, 3)
    assert formulas
    for exact in formulas:
        assert_prices(brief, exact)


PINNED = (
    "anionic",
    "nonionic",
    "mildness",
    "electrolyte",
    "material:glucoside",
    "irritation load",
    "natural origin",
)


@pytest.mark.parametrize("measure", PINNED)
@pytest.mark.parametrize("side", ["at_least", "at_most"])
def test_marginal_costs_at_a_degenerate_optimum(measure, side):
    """A further limit laid exactly through the optimum: one dual of several means nothing, one-sided costs do."""
    brief = BRIEFS["shares and ratios"]
    (first,) = polished(brief, 1)
    value = first.program.catalogue.find(measure).value(first.amounts)
    target = brief.targets.get(measure)
    ends = {} if target is None else target.model_dump(exclude_none=True)
    pinned = wash(targets={measure: {**ends, side: float(value)}}, share=brief.share, ratio=brief.ratio)
    (exact,) = polished(pinned, 1)
    assert_prices(pinned, exact)


def test_what_holds_only_while_something_is_used_is_priced_too():
    """A when that binds is told like any other limit."""
    brief = BRIEFS["house rules"]
    (exact,) = polished(brief, 1)
    keys = {str(binding.requirement.key) for binding in explain(exact)}
    assert {"library/when/1/at_least", "library/needs/1/at_least", "include/1/at_least"} <= keys


def test_the_doses_and_the_pH_of_a_preservative_system_are_told():
    """The end of the pH window that costs acid, and the dose that costs preservative: the library's, not movable."""
    brief = wash(
        shelf(*PRESERVED, systems=SYSTEMS[:1]),
        targets={"pH": {"at_least": 4.3, "at_most": 6.0}},
        share=CAPPED,
    )
    (exact,) = polished(brief, 1)
    found = {binding.requirement.title: binding for binding in assert_prices(brief, exact)}
    pH, dose = (
        found["pH at most 5, for preserver alone"],
        found["preserver at least 0.4 % w/w, in preserver alone"],
    )
    assert pH.requirement.origin == dose.requirement.origin == "library"
    assert not pH.requirement.movable
    assert pH.marginal_cost > 0
    assert dose.marginal_cost == pytest.approx(0.03, abs=0.02)
    settled = charge_curves(exact.program.library).settle(exact.amounts)
    assert settled.pH == pytest.approx(5.0, abs=1e-7), "an exact formula sits on the bound, not beside it"


def test_loosening_saves_and_tightening_costs_never_the_other_way_round():
    for brief in BRIEFS.values():
        for exact in polished(brief, 2):
            for binding in explain(exact):
                if binding.requirement.side == "equal":
                    continue
                assert binding.marginal_cost is None or binding.marginal_cost >= 0
                assert binding.marginal_cost_back is None or binding.marginal_cost_back >= -1e-9
                if binding.marginal_cost is not None and binding.marginal_cost_back is not None:
                    assert binding.marginal_cost_back <= binding.marginal_cost * (1 + WITHIN) + 1e-6, (
                        "costs are convex"
                    )


def test_the_upper_end_of_a_use_range_is_priced_with_or_without_a_choice():
    """A material at its supplier's maximum is held by the library; what a little more of it saves is told."""
    (bare,) = polished(BRIEFS["bare use ranges"], 1)
    (chosen,) = polished(BRIEFS["use ranges"], 1)
    for exact, key in ((bare, "use/glycerin/at_most"), (chosen, "use/glucoside/at_most")):
        binding = next(b for b in explain(exact) if str(b.requirement.key) == key)
        assert binding.requirement.origin == "library"
        assert binding.marginal_cost_back > 0
        assert binding.marginal_cost >= binding.marginal_cost_back * 0.97
