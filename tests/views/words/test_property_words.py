"""What changed unasked is told in a few words; the sentences are written by hand."""

from optiform.answers.model.changes import PropertyChange
from optiform.views.words.property_words import changes_of


def test_tags_that_come_and_go_stand_together_and_doubt_is_told():
    told = changes_of(
        (
            PropertyChange("heat needed", "none", "70 C"),
            PropertyChange("powder that must not be breathed", "A", "B", ("A",), ("B",)),
            PropertyChange("has something tagged booster", "yes", "no"),
            PropertyChange("has something tagged palm", "may", "yes"),
            PropertyChange("has something tagged sulfate", "no", "yes"),
            PropertyChange("has something tagged betaine", "yes", "no"),
        )
    )
    assert told == [
        "heat needed: none, now 70 C",
        "powder that must not be breathed: no longer A, now B",
        "now something tagged palm, before perhaps something",
        "now something tagged sulfate",
        "nothing tagged booster or betaine any more",
    ]
