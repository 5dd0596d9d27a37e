"""What an answer is told in; each expectation says what the sentence must mean."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from optiform.answers.model.answer import Dose
from optiform.brief import load_brief
from optiform.brief.models import Aim, Brief
from optiform.program import build
from optiform.views.words import sentences
from tests.answers.rework.today import brief_of
from tests.builders import tiny_library
from tests.views import samples

PROBLEMS = Path(__file__).parents[3] / "problems"


def test_a_requirement_of_others_names_who_asks():
    assert sentences.asked(samples.ACTIVE) == "active matter at least 11 % w/w"
    assert sentences.asked(samples.DISPERSANT).endswith(
        "[library: xanthan clumps unless it is slurried first]"
    )
    assert sentences.asked(samples.BENZOATE).endswith("(EU Annex V/1) [law]")


def test_a_title_is_changed_at_its_bound_only():
    named = replace(samples.ACTIVE, label="2-octyl ester", bound=2.0)
    assert sentences.moved(named, 3.0) == "2-octyl ester at least 3 % w/w"


@pytest.mark.parametrize("path", sorted(PROBLEMS.glob("*/brief.toml")), ids=lambda path: path.parent.name)
def test_a_limit_moved_to_where_it_stands_reads_as_its_own_title(path):
    assert_titles_stand(load_brief(path))


def test_what_is_kept_and_held_of_today_reads_as_its_own_title_too():
    held = {"mildness": 1.0, "ingredients": 2.0, "function:extract": 0.5}
    assert_titles_stand(brief_of(keep=("leaf",), hold=held, at_most_new=1, at_most_dropped=2))


def assert_titles_stand(brief):
    stated = [item for item in build(brief).requirements if item.side is not None and item.origin == "brief"]
    assert stated
    for requirement in stated:
        assert sentences.moved(requirement, requirement.bound) == requirement.title


def test_a_count_agrees_with_its_number():
    few = replace(samples.FEW, tail="thickeners", side="at_least", bound=1.0)
    assert sentences.moved(few, 2.0) == "at least 2 thickeners"
    many = replace(few, tail="materials tagged gum", side="at_most", bound=3.0)
    assert sentences.moved(many, 1.0) == "at most 1 material tagged gum"
    named = replace(few, tail="of oat, linden", bound=2.0)
    assert sentences.moved(named, 1.0) == "at least 1 of oat, linden"


def test_differences_in_structure_are_told_by_name():
    assert sentences.against(samples.FIRST, samples.SECOND) == (
        "Formula 2, 2.41 EUR/kg: Coco-Glucoside instead of Decyl Glucoside."
    )


def test_invented_prices_stand_beside_the_cost():
    assert sentences.contents(samples.FIRST) == "2.41 EUR/kg at invented prices"


def test_the_standing_of_every_answer():
    told = {name: " ".join(sentences.standing(answer)) for name, answer in samples.ALL.items()}
    assert "Proven: no other structure does better than the last one listed." in told["design"]
    assert told["conflict"] == "This brief cannot be met."
    assert "not a proven ranking" in told["stopped"]
    assert "before any formula was found" in told["empty"]
    assert told["evaluated"] == "It breaks 2 requirements."
    assert "Proven" not in told["stopped"] + told["empty"] + told["conflict"]


def test_an_unproven_answer_is_never_called_proven():
    assert "Proven:" not in " ".join(sentences.standing(replace(samples.DESIGN, proven=False)))


def test_the_usual_cautions_stand_where_an_answer_brings_none():
    text = " ".join(sentences.cautions(replace(samples.DESIGN, cautions=()))).casefold()
    for word in (
        "candidates to trial", "eyes and skin", "must not be breathed", "challenge test", "stability",
        "final pack", "safety assessment", "qualified person", "local law", "any change", "never a promise", "children",
    ):  # fmt: skip
        assert word in text, word


def test_materials_that_injure_are_named_from_the_library():
    library = tiny_library(
        [
            {"id": "xanthan-gum", "handling": ("slurry", "dust")},
            {"id": "citric-acid", "handling": ("corrosive", "dust")},
        ]
    )
    brief = Brief(title="t", library=library, aim=Aim(measure="mildness", sense="maximise"))
    answer = replace(samples.DESIGN, brief=brief)
    assert sentences.hazards(answer, samples.FIRST) == (
        "Injures eyes and skin as it is weighed: Citric acid, anhydrous.",
        "Powder that must not be breathed: Xanthan gum, clear grade; Citric acid, anhydrous.",
    )
    assert sentences.aimed(replace(answer, aim="mildness")) == "highest mildness"


def test_what_stands_ready_is_named_with_its_range_and_its_water():
    ready = Dose("citric-acid", 0.0, 0.0, 0.0513, "Citric acid, anhydrous")
    bare = replace(samples.FIRST.acidity, doses=(), have_ready=(ready,), reserve=0.0513, low=5.04, high=5.13)
    text = " ".join(sentences.acidity(bare, {}))
    assert "Have ready beside the formula: Citric acid, anhydrous, 0 to 0.051 % w/w." in text
    assert "Hold back 0.051 % w/w of the water" in text
    assert "nine likely lots in ten 5.04 to 5.13" in text
    assert "brings that spread" not in text
    typical = replace(ready, percent=0.31, low=0.2, high=0.52)
    assert "0.20 to 0.52 % w/w, 0.31 % for the typical one" in sentences.have_ready(typical)


def test_acidity_keeps_the_dose_range_the_reserve_and_the_meter():
    text = " ".join(sentences.acidity(samples.FIRST.acidity, {"citric-acid": "Citric acid, anhydrous"}))
    assert "pH 5.1" in text
    assert "by the meter" in text
    assert "Citric acid, anhydrous: 0.087 % w/w computed; have 0.061 to 0.12 % ready" in text
    assert "Hold back 0.037 % w/w of the water" in text
    assert "nine likely lots in ten 4.9 to 5.4 at this dose" in text
    assert "What brings that spread: decyl-glucoside (93 %); betaine-30 (7 %)." in text
    held = replace(samples.FIRST.acidity, held=True, doses=(), undosed_pH=math.nan)
    assert "held at its limit" in " ".join(sentences.acidity(held, {}))
