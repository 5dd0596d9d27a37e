"""Designs at scale: every starter brief under every law, with shuffled prices, and briefs spoilt until they collide."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from optiform import design, load_library
from optiform.answers.conflict.typed_back import typed_back
from optiform.brief import brief_from
from optiform.brief.starting import skins, starter_brief, textures
from tests.smell.judge import Wash, complaints

if TYPE_CHECKING:
    from optiform.answers.model.answer import Answer, Formula
    from optiform.brief.models import Brief

LAWS = ("EU", "UK", "US")
Case = tuple[str, str, str, int]


def cases(price_lists: int) -> Iterator[Case]:
    """Yield every skin x texture x law with so many price lists; list 0 is the library's own."""
    for seed in range(price_lists):
        for skin in skins():
            for texture in textures():
                for law in LAWS:
                    yield skin, texture, law, seed


@cache
def _library() -> Any:
    return load_library(None)


def shuffled(seed: int) -> Any:
    """Return the starter library at prices that are each multiplied by a factor between 1/4 and 4."""
    library = _library()
    if seed == 0:
        return library
    draw = np.random.default_rng(seed)
    factors = np.exp(draw.uniform(-np.log(4.0), np.log(4.0), len(library.materials)))
    priced = tuple(
        material.model_copy(update={"price": round(material.price * factor, 4)})
        for material, factor in zip(library.materials, factors, strict=True)
    )
    return library.model_copy(update={"materials": priced})


def keys_of(case: Case) -> dict[str, Any]:
    """Return the keys of the starter brief of a case."""
    skin, texture, law, _ = case
    keys = tomllib.loads(starter_brief(skin, texture))
    keys["law"] = law
    keys["ranked"] = {**keys.get("ranked", {}), "how_many": 3}
    return keys


def brief_of(case: Case) -> Brief:
    """Return the starter brief of a case, at its prices."""
    return brief_from(keys_of(case), shuffled(case[3]))


def spoilt(case: Case) -> Iterator[Brief]:
    """Yield the brief of a case with one more wish that most likely cannot be met."""
    for change in (
        {"cost": {"at_most": 0.55}},
        {"mildness": {"at_least": 93}},
        {"pH": {"at_least": 6.6, "at_most": 7.2}},
        {"natural origin": {"at_least": 99.5}, "cost": {"at_most": 0.9}},
    ):
        keys = keys_of(case)
        keys["targets"] = {**keys["targets"], **change}
        yield brief_from(keys, shuffled(case[3]))


def judged(brief: Brief, formula: Formula, clear: bool) -> list[str]:
    """Return what a formulator would say against a formula."""
    amounts = {line.material: line.percent for line in formula.lines}
    pH = None if formula.acidity is None else formula.acidity.pH
    return complaints(Wash(amounts, pH, brief.area, clear, brief.users))


def laughed_at(case: Case) -> list[str]:
    """Return every complaint about the formulas of a case."""
    brief = brief_of(case)
    answer = design(brief)
    clear = case[1] == "gel"
    if answer.status == "conflict":
        return [f"{case}: the starter brief cannot be met"] if case[3] == 0 else []
    return [
        f"{case} formula {formula.rank}: {said}"
        for formula in answer.formulas
        for said in judged(brief, formula, clear)
    ]


def laughed_at_ways_out(case: Case, spoilings: Collection[int] = range(4)) -> list[str]:
    """Return every complaint about what the ways out and the compromise of a case lead to, spoilt in these ways."""
    found = []
    for place, brief in enumerate(spoilt(case)):
        if place not in spoilings:
            continue
        answer = design(brief)
        for name, freed in _freed(brief, answer):
            after = design(
                freed.model_copy(update={"ranked": brief.ranked.model_copy(update={"how_many": 1})})
            )
            if not after.formulas:
                found.append(f"{case} {name}: does not free the brief")
                continue
            said = judged(freed, after.formulas[0], case[1] == "gel")
            found += [f"{case} {name}: {one}" for one in said]
    return found


def _freed(brief: Brief, answer: Answer) -> Iterator[tuple[str, Brief]]:
    conflict = answer.conflict
    if conflict is None:
        return
    for change in conflict.single_changes:
        yield f"way out ({change.requirement.title})", typed_back(brief, change)
    if conflict.compromise:
        yield "compromise", typed_back(brief, *conflict.compromise)
    if conflict.together is not None:
        yield "together", typed_back(brief, *conflict.together.changes)
