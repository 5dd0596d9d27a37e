"""What a reader calls things: names in place of ids and keys."""

from __future__ import annotations

import pytest

from optiform.program.requirement import Key, Requirement
from optiform.views.words.names import Names, inci_lowered, lowered, measure_name

FULL = (
    ("xanthan-gum", "Xanthan gum, clear grade"),
    ("nettle-extract", "Nettle leaf extract in glycerin and water"),
    ("peg-120", "PEG-120 methyl glucose dioleate, flakes"),
    ("sles-28", "Sodium laureth sulfate (2 EO), 28 %"),
    ("sles-70", "Sodium laureth sulfate (2 EO) paste, 70 %"),
    ("glycerin", "Glycerin, plant, 99.5 %"),
)
NAMES = Names(FULL, ("xanthan-gum", "peg-120"))


def test_a_name_is_cut_where_its_grade_begins():
    shorts = [NAMES.short(which) for which, _ in FULL]
    assert shorts == [
        "Xanthan gum", "Nettle leaf extract", "PEG-120 methyl glucose dioleate", "Sodium laureth sulfate",
        "Sodium laureth sulfate", "Glycerin",
    ]  # fmt: skip


def test_two_grades_in_sight_keep_their_whole_names():
    both = Names(FULL, ("sles-28", "sles-70"))
    assert both.short("sles-28") == "Sodium laureth sulfate (2 EO), 28 %"
    assert both.short("sles-70") == "Sodium laureth sulfate (2 EO) paste, 70 %"


def test_ids_in_a_text_give_way_and_words_stay():
    """`glycerin` is a word by itself; an id inside a longer word is another id."""
    assert (
        NAMES.said("glycerin per xanthan-gum at least 4 g per g")
        == "glycerin per xanthan gum at least 4 g per g"
    )
    assert NAMES.said("xanthan-gum-2 and peg-120") == "xanthan-gum-2 and PEG-120 methyl glucose dioleate"
    assert Names(()).said("a-b") == "a-b"


@pytest.mark.parametrize(
    ("measure", "name"),
    [
        ("function:oil", "oil"),
        ("undissociated:Dehydroacetic Acid", "uncharged dehydroacetic acid"),
        ("active matter", "active matter"),
        ("share:anionic", "anionic share"),
    ],
)
def test_a_measure_is_named_as_a_reader_names_it(measure, name):
    assert measure_name(measure) == name == NAMES.measure(measure)


def test_a_material_as_a_measure_is_its_name():
    assert NAMES.measure("material:peg-120") == "PEG-120 methyl glucose dioleate"


def test_a_limit_is_named_up_to_its_bound():
    limit = Requirement(
        key=Key("include", (1,), "at_least"), title="nettle-extract at least 3 % w/w", origin="brief", side="at_least",
        bound=3.0, unit="% w/w", label="nettle-extract",
    )  # fmt: skip
    assert NAMES.limit(limit) == "nettle leaf extract"
    assert NAMES.asked(limit) == "nettle leaf extract at least 3 %"
    assert NAMES.moved(limit, "2 %") == "nettle leaf extract at least 2 %"


def test_abbreviations_keep_their_capitals():
    assert lowered("Xanthan gum") == "xanthan gum" and lowered("X") == "X"
    assert lowered("PEG-150 distearate") == "PEG-150 distearate"
    assert inci_lowered("Disodium EDTA") == "disodium EDTA"
    assert (
        inci_lowered("Coco-Glucoside") == "coco-glucoside"
        and inci_lowered("PEG-150 Distearate") == "PEG-150 distearate"
    )
    assert inci_lowered("Sodium Laureth Sulfate") == "sodium laureth sulfate"
