"""Each kind of contradiction that shows without solving, by hand; and none is claimed that solving does not confirm."""

from __future__ import annotations

import random

import pytest

from optiform.answers.check import check
from optiform.answers.conflict.contradictions import contradictions
from optiform.brief import brief_from
from optiform.faults import BadInput
from optiform.library import load_library
from optiform.program import build
from tests.answers.conflict.test_conflict import wash

CASES = {
    "a floor above what the best single material can give": (
        {"targets": {"active matter": {"at_least": 10.0}, "mildness": {"at_least": 95.0}}},
        "mildness at least 95 points: the highest that any single material left can give is 90.",
    ),
    "a floor above what all use ranges leave": (
        {"targets": {"active matter": {"at_least": 55.0}}},
        "active matter at least 55 % w/w: the most that any mixture of what is left and asked for can hold is 50.",
    ),
    "demanded amounts beyond 100": (
        {"include": [{"material": "oat", "at_least": 60.0}, {"material": "harsh", "at_least": 50.0}]},
        "The amounts asked for add up to 110 % w/w, more than 100.",
    ),
    "more than the use range": (
        {"include": [{"material": "gum", "at_least": 2.0}]},
        "gum at least 2 % w/w: its use range ends at 1 % w/w.",
    ),
    "nothing left for a demanded function": (
        {"include": [{"function": "extract"}], "exclude": [{"material": "oat"}]},
        "Nothing is left for function extract: every material that would serve is excluded.",
    ),
    "too few left for a count": (
        {
            "targets": {"active matter": {"at_least": 5.0}},
            "choose": [{"function": "surfactant", "at_least": 2}],
            "exclude": [{"tag": "strong"}],
        },
        "At least 2 surfactants are asked for, but only 1 is left.",
    ),
    "none left for a count of one": (
        {
            "targets": {"active matter": {"at_least": 5.0}},
            "choose": [{"function": "thickener", "at_least": 1}],
            "exclude": [{"function": "thickener"}],
        },
        "At least 1 thickener is asked for, but none is left.",
    ),
    "an amount of what is excluded": (
        {"include": [{"material": "oat", "at_least": 2.0}], "exclude": [{"function": "extract"}]},
        "oat is asked for, yet 'no extract' keeps it out.",
    ),
    "a floor that is missed by a hair": (
        {"targets": {"active matter": {"at_least": 5.0}, "mildness": {"at_least": 90.001}}},
        "mildness at least 90.001 points: the highest that any single material left can give is 90.",
    ),
    "a floor above a best that rounds up to it": (
        {
            "include": [{"material": "oat", "at_least": 90.004}],
            "targets": {"active matter": {"at_least": 5.0}},
        },
        "active matter at least 5 % w/w: the most that any mixture of what is left and asked for can hold is 4.998.",
    ),
    "demanded amounts a hair beyond 100": (
        {"include": [{"material": "oat", "at_least": 60.0}, {"material": "harsh", "at_least": 40.00001}]},
        "The amounts asked for add up to 100.00001 % w/w, more than 100.",
    ),
    "no room for everything": (
        {
            "targets": {"active matter": {"at_least": 30.0}},
            "include": [{"function": "extract", "at_least": 45.0}],
        },
        "There is no room for all of it, let alone for water: active matter at least 30 % w/w takes 60 %; extract at "
        "least 45 % w/w takes 45 %; together 105 %.",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_a_contradiction_is_told_in_the_words_of_the_brief(name):
    wanted, sentence = CASES[name]
    brief = brief_from({"title": "wash", "law": "none", **wanted}, library=wash().library)
    assert any(line.startswith(sentence) for line in contradictions(build(brief), brief))
    assert any(line.startswith(sentence) for line in check(brief).conflict.quick)


def test_two_preserved_extracts_over_a_cap():
    """Nettle and oat extract, 0.3 and 0.4 % sodium benzoate: 10 % of each bring 0.07 %, over a cap of 0.06."""
    brief = brief_from(
        {
            "title": "two extracts",
            "targets": {"active matter": {"at_least": 10.0}, "substance:Sodium Benzoate": {"at_most": 0.06}},
            "include": [
                {"material": "nettle-extract", "at_least": 10.0},
                {"material": "oat-extract", "at_least": 10.0},
            ],
        }
    )
    (told,) = contradictions(build(brief), brief)
    assert told == (
        "Sodium Benzoate at most 0.06 % w/w: the least that any mixture of what is left and asked for can "
        "hold is 0.07."
    )


@pytest.mark.parametrize(
    "wanted",
    [
        {"targets": {"active matter": {"at_least": 49.9}}},
        {"targets": {"active matter": {"at_least": 10.0}, "mildness": {"at_least": 90.0}}},
        {"include": [{"material": "oat", "at_least": 50.0}, {"material": "harsh", "at_least": 50.0}]},
        {"include": [{"material": "gum", "at_least": 1.0}]},
        {
            "targets": {"active matter": {"at_least": 5.0}},
            "choose": [{"function": "surfactant", "at_least": 2}],
        },
    ],
)
def test_what_can_just_be_met_is_no_contradiction(wanted):
    brief = brief_from({"title": "wash", "law": "none", **wanted}, library=wash().library)
    assert contradictions(build(brief), brief) == ()
    assert check(brief).status == "solved"


def drawn(chance: random.Random, extracts: list[str], tags: list[str]) -> dict[str, object]:
    """Return the keys of a brief drawn so that many collide at first sight and many do not."""
    targets = {"active matter": {"at_least": float(chance.randint(5, 70))}}
    if chance.random() < 0.5:
        targets["mildness"] = {"at_least": float(chance.randint(60, 95))}
    if chance.random() < 0.5:
        targets["cost"] = {"at_most": chance.choice([0.1, 0.5, 1.0, 2.0])}
    if chance.random() < 0.3:
        targets["substance:Sodium Benzoate"] = {"at_most": chance.choice([0.01, 0.03, 0.5])}
    include = [
        {"material": name, "at_least": chance.choice([1.0, 5.0, 9.0, 12.0])}
        for name in chance.sample(extracts, chance.randint(0, 3))
    ]
    return {
        "title": "drawn",
        "targets": targets,
        "include": include,
        "exclude": [{"tag": tag} for tag in chance.sample(tags, chance.randint(0, 2))],
        "choose": [{"function": "surfactant", "at_least": chance.randint(1, 4)}],
    }


def test_every_contradiction_claimed_on_the_starter_library_is_one():
    library, chance = load_library(), random.Random(3)
    extracts = [material.id for material in library.materials if material.function == "extract"]
    tags = sorted({tag for material in library.materials for tag in material.tags if not tag.endswith("?")})
    claimed = 0
    for _ in range(12):
        try:
            brief = brief_from(drawn(chance, extracts, tags), library=library)
        except BadInput:
            continue
        if contradictions(build(brief), brief):
            claimed += 1
            assert check(brief).status == "conflict"
    assert claimed >= 3
