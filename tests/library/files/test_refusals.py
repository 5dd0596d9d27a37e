"""What a model refuses, in words; and what of some keys is sound all the same."""

from __future__ import annotations

from typing import Literal

import pytest
from pydantic import Field, ValidationError

from optiform.library.files.refusals import refusals, sound_part
from optiform.library.models import Frozen


class Leaf(Frozen):
    kind: Literal["linden", "nettle"]
    grams: float = Field(default=1.0, gt=0, le=100)


class Box(Frozen):
    title: str = Field(min_length=1)
    leaves: tuple[Leaf, ...] = ()
    shares: dict[str, float] = Field(default_factory=dict)


def refused(keys):
    with pytest.raises(ValidationError) as error:
        Box.model_validate(keys)
    return [(*one.location, one.message, one.allowed, one.nearest) for one in refusals(Box, error.value)]


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({}, ("title", "this is missing", "", "")),
        ({"title": ""}, ("title", "'' is empty", "a text that is not empty", "")),
        ({"title": "a", "leafs": 1}, ("leafs", "unknown key", "title, leaves, shares", "leaves")),
        ({"title": "a", "leaves": 3}, ("leaves", "3 is not a list", "a list in brackets", "")),
        ({"title": "a", "leaves": [{"kind": "netle"}]},
         ("leaves", 0, "kind", "'netle' is not known", "linden, nettle", "nettle")),
        ({"title": "a", "leaves": [{"kind": "nettle", "gram": 1}]},
         ("leaves", 0, "gram", "unknown key", "kind, grams", "grams")),
        ({"title": "a", "leaves": [{"kind": "nettle", "grams": 0}]},
         ("leaves", 0, "grams", "0 is out of range", "a number above 0", "")),
        ({"title": "a", "shares": {"b": "c"}}, ("shares", "b", "'c' is not a number", "a number", "")),
    ],
)  # fmt: skip
def test_each_error_is_told_with_its_place_and_what_is_right(keys, said):
    assert refused(keys) == [said]


def test_what_is_sound_stays_and_nothing_else():
    nettle = {"kind": "nettle", "grams": 2.0}
    keys = {"leaves": [nettle, {"kind": "oak"}, {**nettle, "gram": 1}], "shares": {"a": 1.0, "b": "c"}}
    found = sound_part(Box, keys, {"title": "unnamed"})
    assert found == Box(title="unnamed", leaves=(Leaf(**nettle), Leaf(**nettle)), shares={"a": 1.0})
    assert keys["shares"] == {"a": 1.0, "b": "c"}
    assert sound_part(Box, keys) is None
