"""Offers of the same thing: without those that are needless the ranking stays what it was."""

from __future__ import annotations

import random

import numpy as np
import pytest

from optiform.brief.models import Aim, Choose, Include
from optiform.program import build
from optiform.program.reduction.offers import needless
from optiform.program.reduction.part import part_of
from optiform.program.reduction.tighten import tightened
from optiform.search.ranking import Candidate, rank
from tests.search.narrow.screen_briefs import random_brief
from tests.seeds import seeds

COPIES = 3


def with_offers(seed):
    """Return a random brief whose every material can be had from others as well, at other prices and use levels."""
    brief, draw = random_brief(seed), random.Random(seed)
    library = brief.library
    members = {member for system in library.systems for member in system.members}
    materials, parts = [*library.materials], [*library.parts]
    for kind in library.materials:
        if kind.function == "water" or kind.id in members:
            continue
        for number in range(COPIES):
            name = f"{kind.id}-{number}"
            least = min(kind.max_use, kind.min_if_used * draw.choice((0.5, 1.0, 2.0)))
            most = max(least, kind.max_use * draw.choice((0.5, 1.0, 1.0)))
            price = round(kind.price * draw.uniform(0.8, 1.2), 2)
            changed = {"id": name, "price": price, "min_if_used": least, "max_use": most}
            materials.append(kind.model_copy(update=changed))
            parts += [part.model_copy(update={"material": name}) for part in library.composition[kind.id]]
    wider = library.model_copy(update={"materials": tuple(materials), "parts": tuple(parts)})
    return brief.model_copy(update={"library": wider})


def aims(ranking):
    return [item.objective for item in ranking if isinstance(item, Candidate)]


@pytest.mark.parametrize("seed", seeds(8, 16))
def test_needless_offers_change_no_ranking(seed):
    program = build(with_offers(seed))
    if program.ratio_aim is not None:
        pytest.skip("a mean as the aim is ranked as a whole")
    flags = needless(tightened(program), np.ones(program.size, dtype=bool))
    fewer = part_of(program, ~flags)
    assert aims(rank(fewer, 4)) == pytest.approx(aims(rank(program, 4)), abs=2e-6)


@pytest.mark.parametrize("seed", range(12))
def test_where_two_must_be_used_the_second_offer_is_not_needless(seed):
    """Two offers of the cheapest thing count as two; without one of them the second would be a dearer thing."""
    drawn = with_offers(seed)
    asked = {
        "choose": (Choose(function="humectant", at_least=2),),
        "include": (Include(function="humectant", at_least=1.0, at_most=4.0),),
        "aim": Aim(measure="cost", sense="minimise"),
    }
    program = build(drawn.model_copy(update=asked))
    flags = needless(tightened(program), np.ones(program.size, dtype=bool))
    fewer = part_of(program, ~flags)
    assert aims(rank(fewer, 2)) == pytest.approx(aims(rank(program, 2)), abs=2e-6)


def test_some_offers_are_needless_and_none_that_makes_formulas_different():
    found = 0
    for seed in range(16):
        program = build(with_offers(seed))
        flags = needless(tightened(program), np.ones(program.size, dtype=bool))
        found += int(flags.sum())
        assert not np.any(flags & np.isin(program.own_choice, program.structure))
    assert found > 20


def test_an_offer_that_must_be_dosed_higher_stands_in_for_none():
    """With the lowest dose of every copy raised, the first offers are as needless as they were among themselves."""
    alone, brief = random_brief(3), with_offers(3)
    first = len(alone.library.materials)
    raised = [
        material.model_copy(update={"min_if_used": least, "max_use": max(material.max_use, least)})
        for material in brief.library.materials[first:]
        for least in (2.0 * material.min_if_used + 0.1,)
    ]
    library = brief.library.model_copy(update={"materials": (*brief.library.materials[:first], *raised)})
    flags = [
        needless(program, np.ones(program.size, dtype=bool))
        for program in (build(alone), build(brief.model_copy(update={"library": library})))
    ]
    assert np.array_equal(flags[0], flags[1][:first])
