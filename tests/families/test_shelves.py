"""Shelves by brute force: every set of materials, each product solved on it by the single-product engine."""

import json
from dataclasses import replace
from functools import cache
from itertools import chain, combinations

import numpy as np
import pytest

from optiform.brief.models import Exclude
from optiform.families import solving
from optiform.families.plan import Scenario
from optiform.families.question import search_of
from optiform.search.first_formula import first_of
from optiform.solver import Clock, Outcome, OutOfTime
from tests.families.plans import asked, briefs, library, never_over, plan, renamed

SEEDS = (1, 2)
MORE = [*SEEDS, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(3, 20))]
"""Seeds of the normal run, and those that are asked for."""


@cache
def by_force(seed, count=2):
    """Return, for each set of materials on which every brief can be met, what all batches cost at best."""
    held = library(seed)
    wanted = briefs(held, seed, count)
    names = [material.id for material in held.materials if material.function != "water"]
    found = {}
    for shelf in map(frozenset, chain.from_iterable(combinations(names, n) for n in range(len(names) + 1))):
        costs = [_cost(brief, frozenset(names) - shelf) for brief in wanted]
        if None not in costs:
            found[shelf] = sum(cost * place for place, cost in enumerate(costs, 1))
    return found


def _cost(brief, without):
    """Return the least cost per kg without some materials; None where that makes nothing."""
    barred = tuple(Exclude(material=name) for name in sorted(without))
    best = first_of(brief.model_copy(update={"exclude": (*brief.exclude, *barred)}))
    return None if best is None else best.objective


def least(found, at_most):
    return min((cost for shelf, cost in found.items() if len(shelf) <= at_most), default=None)


@pytest.mark.parametrize("seed", MORE)
def test_the_fewest_materials_and_then_the_cheapest(seed):
    """Every subset of the library was a shelf."""
    held, shelves = library(seed), by_force(seed)
    fewest = min(map(len, shelves))
    found = asked(plan(held, briefs(held, seed), minimise="materials"))
    assert found.proven
    assert found.materials == fewest
    assert sum(member.here * member.grams / 1000 for member in found.products) == pytest.approx(
        least(shelves, fewest), abs=1e-6
    )


@pytest.mark.parametrize("seed", MORE)
def test_the_curve_is_the_least_cost_for_each_number_of_materials(seed):
    held, shelves = library(seed), by_force(seed)
    found = asked(plan(held, briefs(held, seed), minimise="consumed"), whole_curve=True)
    assert [point.at_most for point in found.curve] == list(
        range(min(map(len, shelves)), found.curve[-1].materials + 1)
    )
    for point in found.curve:
        assert point.money == pytest.approx(least(shelves, point.at_most), abs=1e-6)
        assert point.proven
        assert point.bound <= point.money + 1e-9
    money = [point.money for point in found.curve]
    assert money == sorted(money, reverse=True), "one material more never costs more"
    assert money[-1] == pytest.approx(min(shelves.values()), abs=1e-6)


@pytest.mark.parametrize("seed", MORE)
def test_a_ceiling_that_is_too_low_is_a_conflict_whose_ways_out_work(seed):
    held, shelves = library(seed), by_force(seed)
    fewest, read = min(map(len, shelves)), plan(held, briefs(held, seed), minimise="consumed")
    refused = asked(replace(read, at_most=fewest - 1))
    assert refused.status == "conflict"
    ways = {way.what: way for way in refused.conflict.ways}
    assert ways["materials"].to == fewest
    assert asked(replace(read, at_most=fewest)).status == "solved"
    alone = [replace(read, products=(product,), at_most=fewest - 1) for product in read.products]
    works = [asked(one).status == "solved" for one in alone]
    left_out = {way.product for way in refused.conflict.ways if way.what == "product"}
    assert left_out == {read.products[1 - place].title for place, enough in enumerate(works) if enough}


@pytest.mark.parametrize("seed", [1, pytest.param(2, marks=pytest.mark.slow)])
def test_a_short_shelf_tells_with_how_many_materials_each_product_can_be_made(seed):
    """Every subset of the library was tried for each brief by itself."""
    held, wanted = library(seed), briefs(library(seed), seed)
    names = [material.id for material in held.materials if material.function != "water"]
    every = [frozenset(some) for n in range(len(names) + 1) for some in combinations(names, n)]
    refused = asked(plan(held, wanted, minimise="consumed", at_most=1))
    told = dict(refused.conflict.fewest)
    for brief in wanted:
        least_of = min(len(shelf) for shelf in every if _cost(brief, frozenset(names) - shelf) is not None)
        assert told[brief.title] == least_of


@pytest.mark.parametrize("seed", [1, pytest.param(5, marks=pytest.mark.slow)])
def test_an_allowance_that_is_printed_is_enough_and_a_smaller_one_is_not(seed):
    """Solved again as printed, and with less than the last halving left open."""
    read = plan(library(seed), briefs(library(seed), seed), minimise="consumed")
    fewest = asked(replace(read, minimise="materials")).materials
    near = [replace(one, within=0.0) for one in read.products]
    tight = replace(read, at_most=fewest, products=tuple(near))
    refused = asked(tight)
    assert refused.status == "conflict"
    [way] = [way for way in refused.conflict.ways if way.what == "within"]
    assert f"within = {way.within:g} where it is less" in " ".join(refused.to_text().split())

    def allowed(within):
        products = tuple(replace(one, within=within) for one in near)
        return asked(replace(tight, products=products))

    enough = allowed(way.within)
    assert enough.status == "solved"
    assert sum(one.here * one.grams / 1000 for one in enough.products) == pytest.approx(
        way.contents, abs=1e-6
    )
    assert allowed(max(0.0, 0.96 * way.within - 0.002)).status == "conflict"


def test_a_material_that_no_brief_lets_in_is_named_with_what_keeps_it_out():
    """Both briefs exclude the tag of it; without keeping it the family is made, with the other kept still."""
    held = library(4)
    wanted = [brief.model_copy(update={"exclude": (Exclude(tag="fine"),)}) for brief in briefs(held, 4)]
    spare = next(m.id for m in held.materials if m.function == "surfactant")
    refused = asked(plan(held, wanted, minimise="consumed", keep=(spare, "polyol-1")))
    assert refused.status == "conflict"
    assert {(one.material, one.product) for one in refused.conflict.collisions} == {
        ("polyol-1", brief.title) for brief in wanted
    }
    assert all("tagged fine" in " ".join(one.collides) for one in refused.conflict.collisions)
    [way] = [way for way in refused.conflict.ways if way.what == "keep"]
    assert way.material == "polyol-1"
    assert asked(plan(held, wanted, minimise="consumed", keep=(spare,))).status == "solved"
    assert "Polyol 1 cannot stand in wash 0" in refused.to_text()
    assert json.loads(refused.to_json())["conflict"]["collisions"]


WISHES = {
    "include": "humectant at least",
    "choose": "at least 2 surfactants",
    "exclude": "no material tagged",
}
"""How each list of a brief's wishes is told in a conflict."""


@pytest.mark.parametrize("seed", [2, 6, 7, 9])  # here wishes of a product collide
def test_what_collides_inside_a_product_frees_the_family_where_any_one_of_it_goes(seed):
    """Each wish that is named was taken out of its brief, and the family asked for again on as few materials."""
    held, shelves = library(seed), by_force(seed)
    fewest, read = min(map(len, shelves)), plan(held, briefs(held, seed), minimise="consumed")
    short = replace(read, at_most=fewest - 1)
    ways = [way for way in asked(short).conflict.ways if way.what == "product"]
    assert ways
    for way in ways:
        assert way.others + way.more == fewest - 1
        [product] = [one for one in read.products if one.title == way.product]
        told = [key for key, words in WISHES.items() if any(one.startswith(words) for one in way.collides)]
        assert len(told) == len(way.collides), way.collides
        for key in told:
            freed = replace(product, brief=product.brief.model_copy(update={key: ()}))
            others = tuple(freed if one is product else one for one in read.products)
            assert asked(replace(short, products=others)).status == "solved", key


@pytest.mark.parametrize("seed", MORE)
def test_without_sharing_nothing_beats_the_products_alone(seed):
    """By weight and without a ceiling nothing is shared: the family is the sum of the single answers."""
    held = library(seed)
    found = asked(plan(held, briefs(held, seed, 3), minimise="consumed"))
    for member in found.products:
        assert member.here == pytest.approx(member.alone, abs=1e-6)
    assert found.cash == pytest.approx(sum(m.alone * m.grams / 1000 for m in found.products), abs=1e-5)


def test_the_order_of_the_products_changes_nothing():
    held = library(2)
    read = plan(held, briefs(held, 2, 3), minimise="materials")
    here, there = asked(read), asked(renamed(read, [2, 0, 1]))
    assert here.materials == there.materials
    assert here.cash == pytest.approx(there.cash, abs=1e-6)
    assert {m.title: round(m.here, 6) for m in here.products} == {
        m.title: round(m.here, 6) for m in there.products
    }


def test_no_product_is_further_from_its_own_best_than_its_plan_allows():
    for seed in SEEDS:
        held = library(seed)
        read = plan(held, briefs(held, seed), minimise="materials")
        near = replace(read, products=tuple(replace(one, within=0.02) for one in read.products))
        found = asked(near)
        for member in found.products:
            assert member.aim_here <= member.aim_alone * 1.02 + 1e-6


def test_a_material_that_is_kept_is_used_and_one_without_is_not():
    held = library(4, soaps=5)
    read = plan(held, briefs(held, 4), minimise="consumed")
    free = asked(read)
    used = {stand.material for stand in free.shelf}
    spare = next(m.id for m in held.materials if m.id not in used and m.function == "surfactant")
    kept = asked(replace(read, keep=(spare,)))
    assert spare in {stand.material for stand in kept.shelf}
    assert kept.consumed >= free.consumed - 1e-9
    gone = next(iter(sorted(used)))
    without = asked(replace(read, without=(gone,)))
    assert without.status == "solved" or without.conflict is not None
    if without.status == "solved":
        assert gone not in {stand.material for stand in without.shelf}
        assert without.consumed >= free.consumed - 1e-9


def test_what_keeps_a_material_is_what_the_rest_of_the_shelf_costs_more():
    """Solved again by the single-product engine with everything barred but the rest of the shelf."""
    held = library(3)
    wanted = briefs(held, 3)
    found = asked(plan(held, wanted, minimise="consumed"))
    shelf = {stand.material for stand in found.shelf}
    every = {material.id for material in held.materials if material.function != "water"}
    for stand in found.shelf:
        for without in stand.without:
            brief = next(one for one in wanted if one.title == without.product)
            rest = _cost(brief, (every - shelf) | {stand.material})
            if without.costs is None:
                assert rest is None
            else:
                assert without.costs == pytest.approx(rest - _cost(brief, every - shelf), abs=1e-6)


def test_one_base_for_all_stands_in_every_product_at_the_same_percent():
    held = library(1)
    read = plan(held, briefs(held, 1), minimise="consumed")
    own, one = asked(read), asked(replace(read, same=("surfactant",)))
    assert one.status == "solved"
    soaps = [stand for stand in one.shelf if stand.function == "surfactant"]
    assert soaps
    for stand in soaps:
        assert stand.percents[0] == pytest.approx(stand.percents[1], abs=1e-6)
    assert one.base.costs == pytest.approx(one.money - own.money, abs=1e-6)
    assert one.base.costs >= -1e-9
    for finish, product in zip(one.base.finishes, one.products, strict=True):
        grams = finish.base_g + sum(amount for _, _, amount in finish.lines)
        assert grams == pytest.approx(product.grams, abs=1e-3), "base and the rest make the whole batch"
    assert one.base.grams == pytest.approx(sum(finish.base_g for finish in one.base.finishes))
    assert sum(line.grams for line in one.base.lines) == pytest.approx(one.base.grams)


def test_the_choices_that_each_has_alone_are_a_family_where_nothing_is_asked_of_the_shelf():
    """What is left when the time is over: unproven, the sum of the single answers; none where a ceiling forbids."""
    held = library(2)
    read = plan(held, briefs(held, 2, 3), minimise="consumed")
    search, wanted = search_of(read, never_over())
    apart = search.apart(wanted, ("consumed",))
    assert not apart.proven
    assert apart.held.of("consumed") == pytest.approx(
        sum(product.alone.objective * product.planned.grams / 1000 for product in search.products), abs=1e-6
    )
    assert search.apart(replace(wanted, at_most=1), ("consumed",)) is None


def test_a_family_that_was_found_stays_where_the_time_ends_before_it_is_searched_again(monkeypatch):
    """The second search, at the ionic strengths of the first one's formulas, is where the time is over.

    The first one stopped as soon as it knew of them: its bound is that of the relaxation.
    """
    held = library(2)
    search, wanted = search_of(plan(held, briefs(held, 2, 2), minimise="consumed"), never_over())
    first = search.best(wanted, ("consumed",))
    searches, again = iter([search._searched]), lambda products, values: tuple(products)

    def once(*asked):
        for searched in searches:
            return searched(*asked)
        raise OutOfTime

    monkeypatch.setattr(search, "_searched", once)
    monkeypatch.setattr(search, "_reached", lambda *_: False)
    monkeypatch.setattr(solving, "moved_to_own", again)
    late = search.best(wanted, ("consumed",))
    assert (first.proven, late.proven) == (True, False)
    assert late.held.of("consumed") == pytest.approx(first.held.of("consumed"), abs=1e-9)
    assert 0 < late.bound <= first.bound + 1e-9


def test_a_family_is_found_one_product_at_a_time_where_the_time_is_short(monkeypatch):
    """The time is over before anything is found among few materials: no worse than apart, no better than the best."""
    held = library(2)
    search, wanted = search_of(plan(held, briefs(held, 2, 2), minimise="consumed"), Clock.of(3600.0))
    goals = ("consumed",)
    best, apart = search.best(wanted, goals), search.apart(wanted, goals)

    def too_late(*_):
        search.clock = Clock.of(0.0)
        return Outcome("stopped", np.inf, -np.inf)

    monkeypatch.setattr(search, "_among_known", too_late)
    late = search.best(wanted, goals)
    assert not late.proven
    assert best.held.of("consumed") - 1e-9 <= late.held.of("consumed") <= apart.held.of("consumed") + 1e-9
    assert late.bound <= best.held.of("consumed") + 1e-9


def test_what_is_found_among_few_materials_when_the_time_ends_is_the_answer(monkeypatch):
    """The time is over in the middle of the first search: its best so far is taken, and the bound stays below it."""
    held = library(2)
    search, wanted = search_of(plan(held, briefs(held, 2, 2), minimise="consumed"), never_over())
    proven, among = search.best(wanted, ("consumed",)), search._among_known

    def cut_short(session, *asked):
        found = among(session, *asked)
        session.clock = Clock.of(0.0)
        return replace(found, status="stopped", bound=-np.inf)

    monkeypatch.setattr(search, "_among_known", cut_short)
    late = search.best(wanted, ("consumed",))
    assert not late.proven
    assert late.bound <= proven.objective + 1e-9 <= late.objective + 2e-9
    assert np.isfinite(late.bound)


def test_scenarios_stand_beside_the_plan():
    """Twice as large batches use twice as much; without a material it is the plan that does without it."""
    held = library(1)
    read = plan(held, briefs(held, 1), minimise="consumed")
    here = asked(read)
    gone = here.shelf[0].material
    told = asked(replace(read, scenarios=(Scenario("double", times=2.0), Scenario("gone", without=(gone,)))))
    double, without = told.scenarios
    assert double.consumed == pytest.approx(2 * here.consumed, abs=1e-6)
    assert (double.enters, double.leaves, double.materials) == ((), (), here.materials)
    alone = asked(replace(read, without=(gone,)))
    assert without.status == alone.status
    if alone.status == "solved":
        assert without.consumed == pytest.approx(alone.consumed, abs=1e-6)
        assert gone in without.leaves
    assert "Under other circumstances" in told.to_text(full=True)


def test_curve_base_and_scenarios_have_every_form():
    held = library(1)
    told = asked(
        plan(held, briefs(held, 1), minimise="consumed", same=("surfactant",), scenarios=(Scenario("same"),)),
        whole_curve=True,
    )
    text, page = told.to_text(full=True), told.to_html()
    for words in ("One base for all", "The curve of the shelf", "Under other circumstances", "proven from"):
        assert words in text
        assert words in page
    assert len(told.to_text().splitlines()) <= 42
