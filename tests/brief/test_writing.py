"""What is written reads back equal."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from optiform.brief import brief_from, write_brief
from tests.brief.samples import quay_library, wanted
from tests.brief.test_reading import EVERYTHING

LIBRARY = quay_library()

texts = some.text(some.characters(codec="utf-8"), max_size=12)
numbers = some.one_of(some.integers(-(10**9), 10**9), some.floats(allow_nan=False, allow_infinity=False))
scalars = some.one_of(texts, numbers, some.booleans(), some.dates())
values = some.recursive(
    scalars,
    lambda inner: some.one_of(some.lists(inner, max_size=3), some.dictionaries(texts, inner, max_size=3)),
    max_leaves=8,
)
briefs = some.dictionaries(
    some.one_of(texts, some.sampled_from(["title", "targets", "include", "aim", "linear", "users"])),
    values,
    max_size=6,
)


@given(briefs)
@settings(max_examples=120, deadline=None)
def test_any_mapping_of_texts_numbers_lists_and_tables_reads_back_equal(mapping: dict[str, Any]) -> None:
    assert tomllib.loads(write_brief(mapping)) == mapping


def test_a_full_brief_reads_back_equal() -> None:
    mapping = tomllib.loads(EVERYTHING)
    again = tomllib.loads(write_brief(mapping))
    assert again == mapping
    assert brief_from(again, LIBRARY) == brief_from(mapping, LIBRARY)


bounds = some.floats(0, 100).map(lambda bound: round(bound, 4))


@given(
    title=texts.filter(lambda text: bool(text.strip())),
    low=bounds,
    high=bounds,
    among=some.lists(some.sampled_from(["carbomer", "xanthan-gum", "glycerin"]), min_size=1, unique=True),
    aim=some.sampled_from(
        [{"minimise": "cost"}, {"maximise": "mildness", "then": ["ingredients"], "tie": 0.5}]
    ),
)
@settings(max_examples=40, deadline=None)
def test_a_brief_that_is_written_means_the_same(
    title: str, low: float, high: float, among: list[str], aim: dict[str, Any]
) -> None:
    low, high = sorted((low, high))
    mapping = wanted(
        title=title,
        aim=aim,
        targets={"active matter": {"at_least": low, "at_most": high}},
        include=[{"material": "nettle-extract", "at_least": low, "at_most": high}],
        choose=[{"among": among, "at_least": 1}],
    )
    assert brief_from(tomllib.loads(write_brief(mapping)), LIBRARY) == brief_from(mapping, LIBRARY)


def test_scalars_come_first_and_absent_keys_are_left_out() -> None:
    text = write_brief({"targets": {"cost": {"at_most": 2.0, "at_least": None}}, "title": "x", "shelf": None})
    assert text == 'title = "x"\n\n[targets]\ncost = { at_most = 2.0 }\n'


def test_what_has_no_place_in_a_brief_is_refused() -> None:
    with pytest.raises(TypeError, match="no place"):
        write_brief({"title": object()})
