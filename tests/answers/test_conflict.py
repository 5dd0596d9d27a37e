"""What collides is irreducible, and every suggestion works as printed."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import HealthCheck, assume, given, settings

from optiform.answers import design
from optiform.answers.filter import irreducible, pared
from optiform.answers.typed_back import typed_back, without
from tests.answers.random_briefs import briefs, possible

RANDOM = settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    print_blob=False,
)


@RANDOM
@given(briefs())
def test_a_conflict_is_irreducible_and_every_way_out_works(brief):
    assume(not possible(brief))
    answer = design(brief)
    assert answer.status == "conflict"
    found = answer.conflict
    members = found.requirements
    everything = tuple(dict.fromkeys((*members, *(item for more in found.more for item in more))))
    for member in members:
        rest = [item for item in _asked(brief, found) if item not in members or item == member]
        assert possible(_without(brief, rest)), f"still impossible without {member.title}"
    assert not possible(_without(brief, [item for item in _asked(brief, found) if item not in members]))
    assert everything
    for change in found.single_changes:
        assert possible(typed_back(brief, change)), change
        if change.to is not None:
            assert not possible(typed_back(brief, _one_place_less(change))), change
    if found.compromise:
        assert possible(typed_back(brief, *found.compromise))


def _asked(brief, found):
    """Return every requirement of the brief, from its program."""
    from optiform.program import build

    return [item for item in build(brief).requirements if item.origin == "brief"]


def _without(brief, requirements):
    """Return the brief without some requirements, the last entries first so that places stay true."""
    for requirement in sorted(requirements, key=lambda item: item.key, reverse=True):
        brief = without(brief, requirement)
    return brief


def _one_place_less(change):
    from dataclasses import replace

    requirement = change.requirement
    unit = 1 if requirement.choice else 0.01
    towards = requirement.bound - change.to
    return replace(change, to=round(change.to + (unit if towards > 0 else -unit), 2))
