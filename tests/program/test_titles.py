"""A requirement reads as a colleague would say it, whatever the reference that a file writes."""

from __future__ import annotations

import pytest

from optiform.brief import brief_from
from optiform.library import load_library
from optiform.library.selection import named
from optiform.program import build

NAMES = {
    "active matter": "active matter",
    "function:oil": "oil",
    "material:oat-extract": "oat-extract",
    "substance:Sodium Chloride": "Sodium Chloride",
    "tag:sulfate": "anything tagged sulfate",
    "share:anionic": "anionic share",
    "share:tag:sulfate": "share tagged sulfate",
    "share:Decyl Glucoside": "Decyl Glucoside share",
    "undissociated:Sodium Benzoate": "undissociated Sodium Benzoate",
    "acid: what it takes": "acid: what it takes",
}


@pytest.mark.parametrize("reference", NAMES)
def test_a_reference_is_named_without_its_kind(reference):
    assert named(reference) == NAMES[reference]


def test_no_title_shows_a_reference_as_files_write_it():
    """Every kind of wish and rule that can hold one, and the house rules of the starter library."""
    brief = brief_from(
        {
            "title": "wash",
            "targets": {
                "active matter": {"at_least": 5.0},
                "function:oil": {"at_most": 2.0},
                "substance:Sodium Chloride": {"at_most": 1.5},
                "share:tag:sulfate": {"at_most": 40.0},
                "pH": {"at_least": 5.0, "at_most": 5.5},
            },
            "choose": [{"function": "thickener", "at_least": 1, "at_most": 2}],
            "share": [
                {"of": "tag:betaine", "at_most": 50.0},
                {"of": "function:humectant", "base": "function:thickener", "at_least": 10.0},
            ],
            "ratio": [{"of": "function:humectant", "to": "xanthan-gum", "at_least": 4.0}],
            "needs": [{"material": "tag:gum", "other": "function:humectant"}],
            "incompatible": [{"one": "tag:gum", "other": "function:oil"}],
            "when": [
                {"material": "function:thickener", "measure": "substance:Sodium Chloride", "at_most": 0.5},
                {"name": "gum keeps", "material": "tag:gum", "measure": "function:chelator", "at_least": 0.1},
            ],
        },
        library=load_library(),
    )
    titles = {item.title for item in build(brief).requirements}
    assert {
        "oil at most 2 % w/w",
        "share tagged sulfate at most 40 % of active matter",
        "share tagged betaine at most 50 % of active matter",
        "humectant at least 10 % of thickener",
        "humectant per xanthan-gum at least 4 g per g",
        "at least 1 thickener",
        "at most 2 thickeners",
        "anything tagged gum needs humectant",
        "anything tagged gum never with oil",
        "with thickener: Sodium Chloride at most 0.5 % w/w",
        "gum keeps: chelator at least 0.1 % w/w",
    } <= titles
    assert not [
        title for title in titles if any(f"{kind}:" in title for kind in ("tag", "function", "substance"))
    ]
