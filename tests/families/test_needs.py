"""How many materials of each function a product needs, and the families that this must not change: by brute force."""

from itertools import chain, combinations

import numpy as np
import pytest

from optiform.brief.models import Aim, Brief, Exclude, Target
from optiform.families.products import counts, searched
from optiform.families.question import search_of
from optiform.search.first_formula import first_of
from tests.builders import NEUTRAL, tiny_library
from tests.families.plans import asked, never_over, plan

HARSH, MILD, WEAK = "harsh", "mild", "weak"
SOAPS = {HARSH: (1.0, 30.0, 80.0, 20.0), MILD: (5.0, 10.0, 60.0, 90.0), WEAK: (3.0, 8.0, 50.0, 70.0)}
"""Invented: price per kg, most % w/w, % of surfactant in it, and how mild that is."""


def library():
    return tiny_library(
        [
            {"id": name, "function": "surfactant", "price": price, "max_use": most, "min_if_used": 0.5}
            for name, (price, most, _, _) in SOAPS.items()
        ],
        [
            {"inci": f"Soap {name}", "charge_class": "anionic", "mildness": mild, **NEUTRAL}
            for name, (*_, mild) in SOAPS.items()
        ],
        {name: {f"Soap {name}": strength} for name, (_, _, strength, _) in SOAPS.items()},
    )


HELD = library()


def wash(title, active, mildness):
    targets = {"active matter": Target(at_least=active), "mildness": Target(at_least=mildness)}
    return Brief(title=title, library=HELD, law="none", aim=Aim(), targets=targets)


def made_on(brief):
    """Return, for each set of soaps that makes a formula, its least cost."""
    found = {}
    for shelf in map(frozenset, chain.from_iterable(combinations(SOAPS, count) for count in range(4))):
        barred = tuple(Exclude(material=name) for name in sorted(SOAPS.keys() - shelf))
        best = first_of(brief.model_copy(update={"exclude": barred}))
        if best is not None:
            found[shelf] = best.objective
    return found


def _on(made, shelf):
    """Return the least cost of a product on a shelf, infinite where it cannot be made."""
    return min((cost for own, cost in made.items() if own <= shelf), default=np.inf)


def rows_of(brief):
    """Return the rows by which the family's search says how many surfactants are needed at the least."""
    search, _ = search_of(plan(HELD, [brief]), never_over())
    usable = np.ones(len(HELD.materials), dtype=bool)
    block, _ = searched(search.products[0], usable, search.clock)
    return counts(block, HELD, [block.alone], search.clock)


def test_two_soaps_are_needed_where_a_mixture_counts_as_one():
    """8 % active at a mildness of 60: the mild soap brings 6 at most, the harsh one is too harsh; halves count as one.

    By hand: 4.57 / 0.6 = 7.6 of 10 % and 3.43 / 0.8 = 4.3 of 30 % w/w add up to 0.9 of a material.
    """
    brief = wash("gentle", 8.0, 60.0)
    assert min(map(len, made_on(brief))) == 2
    [row] = rows_of(brief)
    assert (row.lower, len(row.indices)) == (2.0, 3)


@pytest.mark.parametrize("targets", [(8.0, 60.0), (7.0, 40.0), (9.0, 75.0), (5.0, 80.0), (12.0, 30.0)])
def test_no_product_is_said_to_need_more_than_the_fewest_that_make_a_formula(targets):
    fewest = min(map(len, made_on(wash("any", *targets))))
    assert all(row.lower <= fewest for row in rows_of(wash("any", *targets)))


def test_the_family_is_the_best_of_all_shelves():
    """Two products, 1 kg and 2 kg; each set of soaps was a shelf."""
    briefs = [wash("gentle", 8.0, 60.0), wash("plain", 7.0, 40.0)]
    one, two = map(made_on, briefs)
    shelves = {shelf: _on(one, shelf) + 2 * _on(two, shelf) for shelf in {*one, *two, frozenset(SOAPS)}}
    fewest = min(len(shelf) for shelf, cost in shelves.items() if cost < np.inf)
    found = asked(plan(HELD, briefs, minimise="materials"))
    assert (found.proven, found.materials, found.gap) == (True, fewest, 0.0)
    spent = sum(member.here * member.grams / 1000 for member in found.products)
    assert spent == pytest.approx(
        min(cost for shelf, cost in shelves.items() if len(shelf) == fewest), abs=1e-6
    )
