"""One key of a TOML file changes, and no other letter of it.

The oracle is `tomllib`: the file says what it said, but for the change; and the lines, held against those before.
"""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiform import brief_from, starter_brief
from optiform.answers.check import check
from optiform.answers.conflict.typed_back import typed_back
from optiform.brief import skins, textures
from optiform.page.brief_edits import differences
from optiform.page.edits import Edit, edited
from tests.asked import PROBLEMS
from tests.page.bench import BRIEF

STARTERS = [starter_brief(skin, texture) for skin, texture in zip(skins(), textures() * 2, strict=False)]


def changed_lines(before: str, after: str) -> list[str]:
    old = before.splitlines()
    return [line for line in after.splitlines() if line not in old]


def test_a_bound_moves_and_the_comment_beside_it_stays():
    text = edited(BRIEF, [Edit(("targets", "active matter", "at_least"), 7.5)])
    assert changed_lines(BRIEF, text) == [
        '"active matter" = { at_least = 7.5, at_most = 9 }  # a comment beside it'
    ]


def test_what_is_given_up_goes_and_its_neighbours_stay():
    text = edited(BRIEF, [Edit(("targets", "mildness"), None), Edit(("exclude", 0), None)])
    assert "mildness" not in text and "sulfate" not in text
    assert "# Strong enough to wash." in text


def test_an_entry_is_added_behind_its_kind_and_the_comments_keep_their_places():
    text = STARTERS[0]
    count = len(tomllib.loads(text)["include"])
    after = edited(text, [Edit(("include", count), {"material": "glycerin"})])
    assert changed_lines(text, after) == ['material = "glycerin"']
    assert [line for line in text.splitlines() if line.startswith("#")] == [
        line for line in after.splitlines() if line.startswith("#")
    ]


def test_a_file_without_an_end_of_line_and_with_the_same_said_otherwise():
    text = 'title = "x"\n[targets]\n[targets.mildness]\nat_least = 50\n[targets."active matter"]\nat_most = 9'
    after = edited(
        text, [Edit(("targets", "mildness", "at_least"), 55), Edit(("targets", "cost"), {"at_most": 2})]
    )
    assert tomllib.loads(after)["targets"] == {
        "mildness": {"at_least": 55}, "active matter": {"at_most": 9}, "cost": {"at_most": 2},
    }  # fmt: skip
    dotted = 'title = "x"\ntargets.mildness.at_least = 50\n'
    assert edited(dotted, [Edit(("targets", "mildness", "at_least"), 55)]) == dotted.replace("50", "55")


def test_a_header_inside_a_text_is_no_header():
    text = 'title = """\n[targets]\nno\n"""\nlist = [\n[1],\n]\n[targets]\nmildness = { at_least = 50 }\n'
    after = edited(text, [Edit(("targets", "mildness", "at_least"), 55)])
    assert after == text.replace("50", "55")


@given(st.data())
def test_any_change_of_any_starter_says_what_it_said_but_for_the_change(data):
    text = data.draw(st.sampled_from(STARTERS))
    keys = tomllib.loads(text)
    places = [("title",), ("law",), ("shelf",)]
    places += [("targets", name, side) for name in keys["targets"] for side in ("at_least", "at_most")]
    for section in ("include", "choose", "share", "ratio"):
        places += [(section, k, side) for k in range(len(keys[section])) for side in ("at_least", "at_most")]
    place = data.draw(st.sampled_from(places))
    value = data.draw(
        st.sampled_from(["x", 'a "quoted" one', "# none"]) if len(place) == 1 else st.integers(0, 99)
    )
    after = tomllib.loads(edited(text, [Edit(place, value)]))
    here = keys
    for part in place[:-1]:
        here = here[part]
    here[place[-1]] = value
    assert after == keys


LONG = ("several wishes", "an include and a count")
WAYS_OUT = {
    "several wishes": (PROBLEMS / "too-many-wishes" / "brief.toml").read_text(encoding="utf-8"),
    "an include and a count": """title = "x"
[targets]
cost = { at_most = 0.5 }   # too little
"active matter" = { at_least = 6 }
[[include]]
material = "nettle-extract"
at_least = 2
[[choose]]
function = "surfactant"
at_least = 2
""",
    "an exclusion": """title = "x"
[targets]
"active matter" = { at_least = 6 }
[[exclude]]
function = "surfactant"   # all of them
[[exclude]]
tag = "palm"
""",
}


@pytest.mark.parametrize(
    "name", [*(pytest.param(name, marks=pytest.mark.slow) for name in LONG), "an exclusion"]
)
def test_a_way_out_is_written_exactly_as_the_engine_types_it_back(name):
    """The oracle is `typed_back`, by which every way out was solved again as it is printed."""
    text = WAYS_OUT[name]
    brief = brief_from(tomllib.loads(text))
    found = check(brief).conflict
    assert found is not None
    sets = [(change,) for change in found.single_changes]
    sets += [tuple(found.compromise)] if found.compromise else []
    assert sets
    for changes in sets:
        wanted = typed_back(brief, *changes)
        written = brief_from(tomllib.loads(edited(text, list(differences(brief, wanted)))))
        for key in ("targets", "include", "choose", "share", "ratio", "rules", "prefer"):
            assert getattr(written, key) == getattr(wanted, key)
        assert set(written.exclude) == set(wanted.exclude)
