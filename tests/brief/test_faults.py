"""Every way in which a brief can be wrong is named by its place, with what would be right."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from optiform.brief import brief_from
from optiform.faults import BadInput, Fault
from tests.brief.fault_cases import CASES
from tests.brief.samples import quay_library, wanted

LIBRARY = quay_library()


def faults_of(mapping: dict[str, Any]) -> tuple[Fault, ...]:
    with pytest.raises(BadInput) as caught:
        brief_from(mapping, LIBRARY, file="wash.toml")
    return caught.value.faults


def the_fault(mapping: dict[str, Any]) -> Fault:
    faults = faults_of(mapping)
    assert len(faults) == 1, [str(fault) for fault in faults]
    assert faults[0].file == "wash.toml"
    return faults[0]


NAMES = [f"{case[1]} {case[2]}" for case in CASES]


@pytest.mark.parametrize(("changes", "place", "message", "allowed", "near"), CASES, ids=NAMES)
def test_a_fault_names_place_value_what_is_allowed_and_the_nearest_name(
    changes: dict[str, Any], place: str, message: str, allowed: str, near: str
) -> None:
    fault = the_fault(wanted(**changes))
    assert fault.place == place
    assert message in fault.message
    assert allowed in fault.allowed
    assert fault.nearest == near


def test_title_is_required() -> None:
    assert the_fault({"targets": {"mildness": {"at_least": 70}}}).place == "title"


@pytest.mark.parametrize(
    "mapping", [{"title": "x"}, {"title": "x", "targets": {}}, {"title": "x", "include": []}]
)
def test_a_target_or_an_include_is_required(mapping: dict[str, Any]) -> None:
    fault = the_fault(mapping)
    assert fault.place == "[targets]"
    assert "one target, one [[include]]" in fault.allowed


def test_a_faulty_target_is_not_called_missing_as_well() -> None:
    assert (
        the_fault({"title": "x", "targets": {"mildness": {"at_least": "much"}}}).place
        == '[targets] "mildness", at_least'
    )


def test_all_faults_come_at_once() -> None:
    mapping = wanted(
        law="XX",
        aim={"minimise": "costs"},
        targets={"active mater": {"at_least": 8}, "mildness": {"at_least": 80, "at_most": 70}},
        include=[{"material": "netle-extract"}, {"tag": "gum", "at_least": -1}],
        wieghing={"batch_g": 1},
    )
    assert {fault.place for fault in faults_of(mapping)} == {
        "law", "[aim] minimise", '[targets] "active mater"', '[targets] "mildness"',
        "[[include]] 1, material", "[[include]] 2, at_least", "wieghing",
    }  # fmt: skip


def test_a_viscosity_target_without_any_trials_says_so() -> None:
    library = quay_library().model_copy(update={"trials": ()})
    with pytest.raises(BadInput, match=r"no trials.*trials\.csv"):
        brief_from(wanted(targets={"viscosity": {"at_least": 500, "base": "glucoside base"}}), library)


def test_a_measure_of_the_user_has_no_range() -> None:
    brief = brief_from(wanted(targets={"acid demand": {"at_least": -500.0, "at_most": 1e6}}), LIBRARY)
    assert brief.targets["acid demand"].at_least == -500.0


def test_a_misspelt_measure_in_a_rule_of_the_library_is_a_fault_of_the_library() -> None:
    from optiform.library.models import Rules, When

    rules = Rules(when=(When(material="carbomer", measure="electrolite", at_most=0.2),))
    with pytest.raises(BadInput) as caught:
        brief_from(wanted(), quay_library(rules=rules))
    (fault,) = caught.value.faults
    assert (fault.place, fault.nearest) == ("[[when]] 1, measure", "electrolyte")
    assert "library" in fault.file


def test_what_is_kept_or_held_of_a_baseline_is_something_asked(tmp_path: Path) -> None:
    (tmp_path / "today.csv").write_text("material,percent\nwater,q.s.\nnettle-extract,3\n")
    held: dict[str, Any]
    for held in ({"keep": ["nettle-extract"]}, {"hold": {"cost": 0.1}}):
        brief = brief_from({"title": "x", "baseline": {"formula": "today.csv", **held}}, LIBRARY, tmp_path)
        assert brief.baseline is not None
    with pytest.raises(BadInput, match="nothing is asked for"):
        brief_from({"title": "x", "baseline": {"formula": "today.csv"}}, LIBRARY, tmp_path)


def test_a_faulty_key_of_a_baseline_hides_nothing_else_that_is_wrong_in_it(tmp_path: Path) -> None:
    baseline = {
        "formula": "todya.csv",
        "keep": ["netle-extract"],
        "hold": {"activ matter": 0.2, "cost": -2.0},
        "at_most_new": -1,
        "at_most_drop": 3,
    }
    with pytest.raises(BadInput) as caught:
        brief_from({"title": "x", "baseline": baseline}, LIBRARY, tmp_path)
    text = str(caught.value)
    for words in ("todya.csv", "netle-extract", "activ matter", "hold, cost", "at_most_new", "at_most_drop"):
        assert words in text
    assert "nothing is asked for" not in text
