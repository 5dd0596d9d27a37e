"""A starter brief loads as it is, carries every usual guard, and shows where sources disagree."""

from __future__ import annotations

import itertools
import tomllib
from functools import cache

import numpy as np
import pytest

from optiform.answers.design.formulas import design
from optiform.brief import Brief, brief_from, skins, starter_brief, textures
from optiform.faults import BadInput
from optiform.library import load_library
from optiform.program import build
from optiform.solver import Session
from tests.brief.samples import quay_library

EVERY = list(itertools.product(skins(), textures()))
SAMPLE = [pair if k % 6 == 0 else pytest.param(*pair, marks=pytest.mark.slow) for k, pair in enumerate(EVERY)]
"""Each feel and nearly each skin; all thirty-five when the slow ones are asked for."""


def slow(*skins: str) -> list[object]:
    return [pytest.param(skin, marks=pytest.mark.slow) for skin in skins]


@cache
def started(skin: str, texture: str) -> Brief:
    return brief_from(tomllib.loads(starter_brief(skin, texture)))


def test_seven_kinds_of_skin_and_five_feels() -> None:
    assert skins() == ("dry-sensitive", "normal", "oily", "mature", "scalp-hair", "baby-mild", "hands")
    assert textures() == ("gel", "cream", "lotion", "conditioning-slip", "emulsion")


@pytest.mark.parametrize(("skin", "texture"), EVERY)
def test_every_starter_brief_loads_and_lacks_no_guard(skin: str, texture: str) -> None:
    assert started(skin, texture).notes == ()


@pytest.mark.parametrize(("skin", "texture"), EVERY)
def test_every_starter_brief_is_commented_and_fits_a_screen(skin: str, texture: str) -> None:
    lines = starter_brief(skin, texture).splitlines()
    assert sum(line.startswith("#") for line in lines) > 25
    assert max(map(len, lines)) <= 110
    for caution in ("injure", "challenge test", "safety assessment", "not a finished formula"):
        assert caution in " ".join(line.removeprefix("# ") for line in lines)


@pytest.mark.parametrize(("skin", "texture"), SAMPLE)
def test_every_starter_brief_can_be_met_with_the_shipped_library(skin: str, texture: str) -> None:
    program = build(started(skin, texture))
    session = Session(program.form)
    session.set_objective(np.zeros(program.form.columns))
    assert session.solve().status == "solved"


@pytest.mark.slow
def test_a_starter_brief_is_answered_with_proven_formulas_that_differ() -> None:
    answer = design(started("normal", "lotion"))
    assert (answer.status, answer.proven, len(answer.formulas)) == ("solved", True, 3)
    costs = [formula.cost for formula in answer.formulas]
    assert answer.brief is not None
    tie = answer.brief.aim.tie  # a shorter formula may stand before one that is no more than this cheaper
    assert all(later >= max(costs[:place]) - tie for place, later in enumerate(costs) if place)


# Practice of the trade, no source: total active matter in % w/w for each use.
WINDOWS = {
    "dry-sensitive": (5, 10), "normal": (8, 12), "oily": (10, 15), "scalp-hair": (10, 18),
    "baby-mild": (5, 10), "hands": (8, 15), "mature": (5, 12),
}  # fmt: skip


@pytest.mark.parametrize("skin", skins())
def test_strength_stays_inside_the_practice_of_the_trade(skin: str) -> None:
    target = started(skin, "gel").targets["active matter"]
    assert target.at_least is not None and target.at_most is not None
    assert WINDOWS[skin][0] <= target.at_least < target.at_most <= WINDOWS[skin][1]


@pytest.mark.parametrize(("skin", "texture"), EVERY)
def test_some_preservative_system_works_in_every_window(skin: str, texture: str) -> None:
    brief = started(skin, texture)
    pH = brief.targets["pH"]
    assert pH.at_least is not None and pH.at_most is not None
    acid = [
        system for system in brief.library.systems
        if system.pH is not None and (system.pH[1] or 14) >= pH.at_least and (system.pH[0] or 0) <= pH.at_most
    ]  # fmt: skip
    assert len(acid) >= 3


@pytest.mark.parametrize("skin", skins())
def test_conflicting_sources_are_both_shown(skin: str) -> None:
    assert "others say:" in starter_brief(skin, "gel")


def test_baby_mild_shows_the_conflict_between_tears_and_acid_preservatives() -> None:
    text = " ".join(line.removeprefix("# ") for line in starter_brief("baby-mild", "lotion").splitlines())
    assert "6.5 to 7.5" in text and "shut out" in text and "no claim of tear-free" in text
    brief = started("baby-mild", "lotion")
    assert brief.users == ("under 3",)
    assert brief.targets["pH"].at_most is not None and brief.targets["pH"].at_most < 6.5
    # Undissociated share of benzoic acid, pKa 4.2 (CRC Handbook 4.20): the figures of the comment.
    for pH, percent in ((6.5, 0.5), (5.5, 5), (5.0, 14)):
        assert f"{percent:g} %" in text
        assert 100 / (1 + 10 ** (pH - 4.2)) == pytest.approx(percent, rel=0.06)


def lines_of(skin: str, texture: str) -> dict[str, float]:
    keys = tomllib.loads(starter_brief(skin, texture))
    (formula,) = design(brief_from({**keys, "ranked": {"how_many": 1}})).formulas
    return {line.material: line.percent for line in formula.lines}


def tagged(lines: dict[str, float], tag: str) -> float:
    return sum(percent for name, percent in lines.items() if tag in LIBRARY.material[name].tags)


LIBRARY = load_library()
# What each feel is by the words of the trade (common practice, no source), on a skin that usually wants it.


def test_a_clear_gel_holds_nothing_that_clouds_at_its_pH() -> None:
    lines = lines_of("dry-sensitive", "gel")
    assert all(LIBRARY.material[name].clarity == "clear" for name in lines)
    hazy = {"sodium-cocoyl-glycinate", "potassium-cocoyl-glycinate", "sodium-cocoyl-glutamate"}
    assert not hazy & set(lines)  # hazy or curdled at pH 5.1 to 5.6
    rules = {rule.material: rule.at_least for rule in started("oily", "gel").rules.when}
    assert (
        rules["substance:Sodium Cocoyl Glycinate"] == 7.0
        and rules["substance:Sodium Lauroyl Sarcosinate"] == 5.0
    )


@pytest.mark.parametrize("skin", ["dry-sensitive", *slow("normal", "baby-mild")])
def test_a_cream_has_its_body_from_a_gum_and_a_structure_for_its_oil(skin: str) -> None:
    lines = lines_of(skin, "cream")
    thickener = [name for name in lines if LIBRARY.material[name].function == "thickener"]
    assert len(thickener) == 1 and thickener[0] != "cocamide-mea"
    oil = sum(p for name, p in lines.items() if LIBRARY.material[name].function == "oil")
    assert oil >= 1.0 - 1e-9
    assert tagged(lines, "structure") > 0 or tagged(lines, "classical-emulsifier") == 0


def test_an_emulsion_wash_has_its_oil_carried_by_a_swollen_polymer() -> None:
    """0.5 % of the polymer carries up to 25 % of oil (common practice, no source)."""
    lines = lines_of("mature", "emulsion")
    assert not tagged(lines, "classical-emulsifier") and "polysorbate-80" not in lines
    oil = sum(p for name, p in lines.items() if LIBRARY.material[name].function == "oil")
    assert oil >= 5.0 - 1e-9
    carried = 50 * lines.get("emulsifying-crosspolymer", 0) + 10 * lines.get("polyacrylate-crosspolymer-6", 0)
    assert carried + 0.1 * 9.0 >= oil
    assert LIBRARY.material["emulsifying-crosspolymer"].hydration_h == 8
    assert lines["tocopherol"] <= 0.2


def test_a_conditioning_wash_has_its_body_from_the_cationic_gum() -> None:
    lines = lines_of("scalp-hair", "conditioning-slip")
    assert lines["cationic-guar"] >= 0.4 - 1e-9 and "xanthan-gum" not in lines


@pytest.mark.parametrize(("skin", "texture"), EVERY)
def test_every_starter_asks_for_a_buffer_and_for_water(skin: str, texture: str) -> None:
    targets = started(skin, texture).targets
    assert targets["substance:Aqua"].at_least == 65
    assert targets["buffer capacity"].at_least == (1.0 if texture == "emulsion" else 1.5)


# Ether sulfates hydrolyse below about pH 4.5 (common practice, no source).
@pytest.mark.parametrize("skin", ["oily", *slow("normal", "scalp-hair", "baby-mild")])
def test_likely_lots_of_a_starter_stay_near_their_pH_without_lye_against_acid(skin: str) -> None:
    keys = tomllib.loads(starter_brief(skin, "gel"))
    (formula,) = design(brief_from({**keys, "ranked": {"how_many": 1}})).formulas
    held = formula.acidity
    assert held is not None
    assert held.low > 4.5 and held.pH - 0.4 < held.low and held.high < held.pH + 0.7
    assert {dose.material for dose in held.doses} == {"citric-acid-50", "trisodium-citrate"}


def test_a_feel_that_a_skin_seldom_wants_says_so() -> None:
    assert "it is an experiment" in starter_brief("oily", "emulsion").replace("\n#", "")
    assert "an experiment" not in starter_brief("mature", "emulsion")


def test_another_library_is_named_and_only_what_it_holds_is_asked_for() -> None:
    library = quay_library(folder="/srv/quay").model_copy(update={"systems": ()})
    text = starter_brief("baby-mild", "gel", library, title='Wash "for" two')
    mapping = tomllib.loads(text)
    assert mapping["library"] == "/srv/quay"
    assert mapping["title"] == 'Wash "for" two'
    assert [entry["tag"] for entry in mapping["exclude"]] == ["sulfate"]
    assert "no material here carries the tag: essential-oil" in text
    assert "PRESERVATION IS MISSING" in text
    brief = brief_from(mapping, library)
    assert [include.word for include in brief.include] == ["thickener", "extract", "humectant"]


def test_unknown_words_are_faults_with_the_nearest() -> None:
    with pytest.raises(BadInput) as caught:
        starter_brief("babymild", "jel")
    skin, texture = caught.value.faults
    assert (skin.place, skin.nearest) == ("skin", "baby-mild")
    assert (texture.place, texture.nearest) == ("texture", "gel")
    assert "gel, cream, lotion, conditioning-slip, emulsion" in texture.allowed


def test_the_starter_library_passed_by_hand_gives_the_same_brief() -> None:
    assert starter_brief("oily", "gel", load_library()) == starter_brief("oily", "gel")
