"""A key is the address of a requirement: told apart, ordered and written, and never read back from words."""

from __future__ import annotations

import tomllib
from itertools import pairwise
from pathlib import Path

import pytest

from optiform.answers.conflict.typed_back import typed_back
from optiform.answers.model.answer import Change
from optiform.brief import load_brief
from optiform.program import Key, build
from tests.answers.rework.today import brief_of

PROBLEMS = Path(__file__).parents[2] / "problems"


@pytest.mark.parametrize("path", sorted(PROBLEMS.glob("*/brief.toml")), ids=lambda path: path.parent.name)
def test_keys_tell_the_requirements_of_a_program_apart_and_can_be_ordered(path):
    brief = load_brief(path)
    keys = [requirement.key for requirement in build(brief).requirements]
    assert len(set(keys)) == len(set(map(str, keys))) == len(keys)
    assert all(one < other for one, other in pairwise(sorted(keys)))
    written = tomllib.loads(path.read_text(encoding="utf-8"))
    for section in ("include", "exclude", "choose", "share", "ratio"):
        entries = {key.entry for key in keys if key.section == section}
        assert entries == set(range(1, len(written.get(section, ())) + 1)), section
    stated = {key.name for key in keys if key.section == "targets"}
    assert stated <= set(written.get("targets", ()))


def test_a_key_is_written_in_one_word_and_keeps_names_whole():
    key = Key("targets", ("oat/rye 2",), "at_least")
    assert str(key) == "targets/oat/rye 2/at_least"
    assert (key.name, key.entry) == ("oat/rye 2", 0)
    assert key.window == Key("targets", ("oat/rye 2",)) and key.window.end("at_least") == key
    assert str(Key("balance")) == "balance"
    rule = Key("library", ("needs", 12), "at_least")
    assert (rule.name, rule.entry) == ("needs", 12)


@pytest.mark.parametrize(("name", "bound"), [("at_most_new", 1), ("at_most_dropped", 2)])
def test_how_many_may_change_is_typed_back_where_the_brief_states_it(name, bound):
    brief = brief_of(at_most_new=1, at_most_dropped=2)
    program = build(brief)
    requirement = program.requirements[program.index_of[Key("baseline", (name,))]]
    assert requirement.bound == bound
    assert getattr(typed_back(brief, Change(requirement, to=bound + 1.0)).baseline, name) == bound + 1
    assert getattr(typed_back(brief, Change(requirement, drop=True)).baseline, name) is None
