"""Whatever stands in a brief, the reader answers with a brief or with faults, never with a traceback."""

from __future__ import annotations

import contextlib
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as some

from optiform.brief import brief_from
from optiform.brief.keys import LISTS, TABLES, BriefKeys
from optiform.faults import BadInput
from tests.brief.samples import quay_library

LIBRARY = quay_library()
WORDS = (
    "cost",
    "pH",
    "viscosity",
    "mildness",
    "active matter",
    "anionic",
    "surfactant",
    "carbomer",
    "tag:gum",
    "gum",
    "substance:",
    ":",
    "undissociated:Benzoic Acid",
    "share:x",
    "function:oil",
    "under 3",
    "all",
    "",
    "glucoside base",
)
KEYS = (
    "material",
    "substance",
    "function",
    "tag",
    "at_least",
    "at_most",
    "set",
    "base",
    "of",
    "to",
    "each",
    "among",
    "measure",
    "terms",
    "name",
    "ratio",
    "one",
    "other",
    "minimise",
    "maximise",
    "then",
    "tie",
    "how_many",
    "lots",
    "differ_in",
    "unknown",
    "times",
    "batch_g",
    "seed",
)
leaves = some.one_of(
    some.sampled_from(WORDS),
    some.none(),
    some.booleans(),
    some.integers(-5, 200),
    some.floats(),
    some.text(max_size=4),
)
values = some.recursive(
    leaves,
    lambda inner: some.one_of(
        some.lists(inner, max_size=3), some.dictionaries(some.sampled_from(KEYS), inner, max_size=4)
    ),
    max_leaves=6,
)
tables = some.dictionaries(some.sampled_from(KEYS), values, max_size=4)
plain = [
    key for key in BriefKeys.model_fields if key not in ("library", "prices", "shelf", "bench", "baseline")
]
briefs = some.fixed_dictionaries(
    {"title": some.just("x"), "targets": some.dictionaries(some.sampled_from(WORDS), tables, max_size=3)},
    optional={
        **{key: values for key in plain if key not in ("title", "targets", *LISTS, *TABLES)},
        **{key: some.lists(tables, max_size=3) for key in LISTS},
        **{key: tables for key in TABLES if key != "baseline"},
    },
)


@given(briefs)
@settings(max_examples=120, deadline=None)
def test_a_brief_or_faults(mapping: dict[str, Any]) -> None:
    with contextlib.suppress(BadInput):
        assert brief_from(mapping, LIBRARY).title == "x"


@given(some.dictionaries(some.sampled_from(plain), values, max_size=5))
@settings(max_examples=80, deadline=None)
def test_a_brief_or_faults_whatever_the_shape(mapping: dict[str, Any]) -> None:
    with contextlib.suppress(BadInput):
        brief_from(mapping, LIBRARY)
