"""Every way in which a brief can be wrong is named by its place, with what would be right."""

from __future__ import annotations

from typing import Any

import pytest

from optiform.brief import brief_from
from optiform.faults import BadInput, Fault
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


# changes, place, a part of the message, a part of what is allowed, nearest name
CASES: list[tuple[dict[str, Any], str, str, str, str]] = [
    ({"titel": "x"}, "titel", "unknown key", "title, library", "title"),
    ({"title": ""}, "title", "is empty", "a text", ""),
    ({"title": 3}, "title", "3 is not a text", "a text", ""),
    ({"law": "UE"}, "law", "'UE' is not known", "EU, UK, US, none", ""),
    ({"product": "rinse"}, "product", "'rinse'", "rinse-off, leave-on", "rinse-off"),
    ({"area": "feet"}, "area", "'feet'", "face, hair, body, hands", ""),
    ({"users": "under 3"}, "users", "is not a list", "a list", ""),
    ({"users": ["under 33"]}, "users, entry 1", "'under 33'", "under 3", "under 3"),
    ({"users": [3]}, "users, entry 1", "3 is not a text", "a text", ""),
    ({"aim": "cost"}, "[aim]", "is not a table", "minimise", ""),
    ({"aim": {"minimize": "cost"}}, "[aim] minimize", "unknown key", "minimise", "minimise"),
    ({"aim": {"minimise": "cost", "maximise": "mildness"}}, "[aim] minimise", "stands beside", "one of the two", ""),
    ({"aim": {"minimise": "costs"}}, "[aim] minimise", "no measure 'costs'", "cost, active matter", "cost"),
    ({"aim": {"minimise": "pH"}}, "[aim] minimise", "is a window", "a target on it", ""),
    ({"aim": {"maximise": "viscosity"}}, "[aim] maximise", "is a window", "a target on it", ""),
    ({"aim": {"then": ["ingredient"]}}, "[aim] then", "no measure 'ingredient'", "", "ingredients"),
    ({"aim": {"tie": -1.0}}, "[aim] tie", "-1.0 is out of range", "at least 0", ""),
    ({"targets": [1]}, "[targets]", "is not a table", "at_least", ""),
    ({"targets": {"active mater": {"at_least": 8}}}, '[targets] "active mater"', "no measure", "cost", "active matter"),
    ({"targets": {"tag:sulfat": {"at_most": 1}}}, '[targets] "tag:sulfat"', "no measure", "", "tag:sulfate"),
    (
        {"targets": {"substance:Sodium Cloride": {"at_most": 1}}},
        '[targets] "substance:Sodium Cloride"', "no measure", "", "substance:Sodium Chloride",
    ),
    ({"targets": {"mildness": 75}}, '[targets] "mildness"', "75 is not a table", "at_least", ""),
    ({"targets": {"mildness": {}}}, '[targets] "mildness"', "no bound", "at_least, at_most or both", ""),
    ({"targets": {"mildness": {"at_lest": 75}}}, '[targets] "mildness", at_lest', "unknown key", "at_least", "at_least"),
    ({"targets": {"mildness": {"at_least": "75"}}}, '[targets] "mildness", at_least', "'75' is not a number", "a number", ""),
    ({"targets": {"mildness": {"at_least": True}}}, '[targets] "mildness", at_least', "true is not a number", "", ""),
    ({"targets": {"mildness": {"at_least": float("nan")}}}, '[targets] "mildness", at_least', "nan is no bound", "finite", ""),
    ({"targets": {"cost": {"at_most": float("inf")}}}, '[targets] "cost", at_most', "inf is no bound", "finite", ""),
    ({"targets": {"mildness": {"at_least": 101}}}, '[targets] "mildness", at_least', "101 is out", "0 to 100 points", ""),
    ({"targets": {"pH": {"at_most": 15}}}, '[targets] "pH", at_most', "15 is out of range", "0 to 14", ""),
    ({"targets": {"cost": {"at_most": -1}}}, '[targets] "cost", at_most', "-1 is out of range", "at least 0 EUR/kg", ""),
    (
        {"targets": {"active matter": {"at_least": 9, "at_most": 8}}},
        '[targets] "active matter"', "at_least 9 is above at_most 8 % w/w", "no larger", "",
    ),
    ({"targets": {"cost": {"at_most": 2, "set": "bench"}}}, '[targets] "cost", set', "for pH alone", "no such key", ""),
    ({"targets": {"pH": {"at_most": 5, "set": "benchh"}}}, '[targets] "pH", set', "'benchh'", "dosed, bench", "bench"),
    ({"targets": {"cost": {"at_most": 2, "base": "x"}}}, '[targets] "cost", base', "for viscosity alone", "no such key", ""),
    ({"targets": {"viscosity": {"at_least": 500}}}, '[targets] "viscosity", base', "missing", "glucoside base", ""),
    (
        {"targets": {"viscosity": {"at_least": 500, "base": "glucosid base"}}},
        '[targets] "viscosity", base', "no trial has the base", "glucoside base", "glucoside base",
    ),
    ({"include": {"tag": "gum"}}, "[[include]]", "is not a list", "[[include]]", ""),
    ({"include": ["gum"]}, "[[include]] 1", "'gum' is not a table", "material", ""),
    ({"include": [{}]}, "[[include]] 1", "names nothing", "exactly one of", ""),
    ({"include": [{"tag": "gum", "material": "carbomer"}]}, "[[include]] 1", "material and tag", "exactly one of", ""),
    (
        {"include": [{"tag": "gum"}, {"material": "netle-extract"}]},
        "[[include]] 2, material", "no material 'netle-extract'", "", "nettle-extract",
    ),
    ({"include": [{"substance": "Decyl Glucosid"}]}, "[[include]] 1, substance", "Decyl Glucosid", "", "Decyl Glucoside"),
    ({"include": [{"function": "humectent"}]}, "[[include]] 1, function", "'humectent'", "humectant", "humectant"),
    ({"include": [{"tag": "gums"}]}, "[[include]] 1, tag", "'gums'", "", "gum"),
    ({"include": [{"tag": "gum", "at_least": 101}]}, "[[include]] 1, at_least", "101 is out of range", "at most 100", ""),
    ({"include": [{"tag": "gum", "at_least": 3, "at_most": 2}]}, "[[include]] 1", "above at_most", "no larger", ""),
    ({"include": [{"tag": "gum", "at_leats": 3}]}, "[[include]] 1, at_leats", "unknown key", "material", "at_least"),
    ({"exclude": [{"tag": "sulphate"}]}, "[[exclude]] 1, tag", "'sulphate'", "", "sulfate"),
    ({"exclude": [{"tag": "palm", "unknown": "keep"}]}, "[[exclude]] 1, unknown", "'keep'", "exclude, allow", ""),
    ({"choose": [{"at_least": 1}]}, "[[choose]] 1", "counts nothing", "exactly one of", ""),
    ({"choose": [{"function": "oil", "tag": "gum", "at_most": 1}]}, "[[choose]] 1", "function and tag", "exactly one", ""),
    ({"choose": [{"function": "surfactant"}]}, "[[choose]] 1", "no bound", "at_least", ""),
    ({"choose": [{"function": "surfactant", "at_least": 4}]}, "[[choose]] 1, at_least", "4 different", "at most 3", ""),
    ({"choose": [{"among": ["carbomer"], "at_least": 2}]}, "[[choose]] 1, at_least", "2 different", "at most 1", ""),
    ({"choose": [{"among": ["carbomr"], "at_most": 1}]}, "[[choose]] 1, among, entry 1", "'carbomr'", "", "carbomer"),
    ({"choose": [{"function": "surfactants", "at_most": 1}]}, "[[choose]] 1, function", "'surfactants'", "", "surfactant"),
    ({"choose": [{"tag": "gum", "at_most": 1.5}]}, "[[choose]] 1, at_most", "1.5 is not a whole number", "whole", ""),
    ({"choose": [{"tag": "gum", "at_most": -1}]}, "[[choose]] 1, at_most", "-1 is out of range", "at least 0", ""),
    ({"choose": [{"function": "surfactant", "at_least": 3, "at_most": 2}]}, "[[choose]] 1", "above at_most 2", "", ""),
    ({"share": [{"at_most": 65}]}, "[[share]] 1", "names nothing", "exactly one of of, each", ""),
    ({"share": [{"of": "anionic", "each": "surfactant", "at_most": 65}]}, "[[share]] 1", "of and each", "exactly one", ""),
    ({"share": [{"of": "anionic"}]}, "[[share]] 1", "no bound", "", ""),
    ({"share": [{"of": "anoinic", "at_least": 30}]}, "[[share]] 1, of", "'anoinic'", "anionic", "anionic"),
    ({"share": [{"of": "tag:sulfat", "at_most": 30}]}, "[[share]] 1, of", "'sulfat'", "", "tag:sulfate"),
    ({"share": [{"each": "surfactnt", "at_most": 65}]}, "[[share]] 1, each", "one by one", "surfactant", "surfactant"),
    ({"share": [{"each": "surfactant", "at_least": 5}]}, "[[share]] 1, at_least", "would force all", "at_most", ""),
    ({"share": [{"of": "anionic", "at_least": 130}]}, "[[share]] 1, at_least", "130 is out of range", "at most 100", ""),
    ({"share": [{"of": "anionic", "at_least": 65, "at_most": 30}]}, "[[share]] 1", "at_least 65 is above at_most 30 %", "", ""),
    ({"share": [{"of": "anionic", "at_least": 5, "base": "oils"}]}, "[[share]] 1, base", "no measure 'oils'", "", ""),
    ({"share": [{"of": "anionic", "at_least": 5, "base": "mildness"}]}, "[[share]] 1, base", "not a plain amount", "", ""),
    ({"ratio": [{"to": "carbomer", "at_least": 4}]}, "[[ratio]] 1, of", "missing", "required", ""),
    ({"ratio": [{"of": "function:oill", "to": "carbomer", "at_least": 4}]}, "[[ratio]] 1, of", "'oill'", "oil", "function:oil"),
    ({"ratio": [{"of": "glycerin", "to": "carbomr", "at_least": 4}]}, "[[ratio]] 1, to", "'carbomr'", "", "carbomer"),
    ({"ratio": [{"of": "glycerin", "to": "carbomer"}]}, "[[ratio]] 1", "no bound", "", ""),
    ({"needs": [{"material": "carbomr", "other": "glycerin"}]}, "[[needs]] 1, material", "'carbomr'", "", "carbomer"),
    ({"needs": [{"material": "carbomer", "other": "glycerine"}]}, "[[needs]] 1, other", "'glycerine'", "", "glycerin"),
    (
        {"needs": [{"material": "carbomer", "other": "glycerin", "ratio": "4"}]},
        "[[needs]] 1, ratio", "'4' is not a number", "a number", "",
    ),
    ({"incompatible": [{"one": "gum", "other": "tag:gum"}]}, "[[incompatible]] 1, one", "'gum'", "", ""),
    (
        {"when": [{"material": "carbomer", "measure": "electrolite", "at_most": 1}]},
        "[[when]] 1, measure", "no measure 'electrolite'", "", "electrolyte",
    ),
    ({"when": [{"material": "carbomer", "measure": "cost"}]}, "[[when]] 1", "no bound", "", ""),
    (
        {"when": [{"material": "carbomer", "measure": "viscosity", "at_least": 1}]},
        "[[when]] 1, measure", "no sum over materials", "a target", "",
    ),
    (
        {"when": [{"material": "carbomer", "measure": "cost", "at_most": float("inf")}]},
        "[[when]] 1, at_most", "inf is no bound", "finite", "",
    ),
    (
        {"linear": [{"name": "n", "terms": [{"measure": "mildness"}], "at_least": 0}]},
        "[[linear]] 1, terms, entry 1, measure", "not a plain total", "totals", "",
    ),
    (
        {"linear": [{"name": "n", "terms": [{"measure": "cost"}, {"material": "carbomr"}], "at_least": 0}]},
        "[[linear]] 1, terms, entry 2, material", "'carbomr'", "", "carbomer",
    ),
    ({"linear": [{"name": "n", "terms": [{"times": 2}], "at_least": 0}]}, "[[linear]] 1, terms, entry 1", "no single thing", "", ""),
    ({"linear": [{"name": "n", "terms": [], "at_least": 0}]}, "[[linear]] 1, terms", "is empty", "at least one", ""),
    (
        {"linear": [{"name": "n", "terms": [{"measure": "cost", "time": 2}], "at_least": 0}]},
        "[[linear]] 1, terms, entry 1, time", "unknown key", "measure, material, times", "times",
    ),
    (
        {"linear": [{"name": "n", "terms": [{"measure": "cost", "times": True}], "at_least": 0}]},
        "[[linear]] 1, terms, entry 1, times", "true is not a number", "", "",
    ),
    ({"linear": [{"name": "n", "terms": [{"measure": "cost"}]}]}, "[[linear]] 1", "no bound", "", ""),
    ({"weighing": {"batch_g": 0}}, "[weighing] batch_g", "0 is out of range", "more than 0", ""),
    ({"weighing": {"balance": 0.1}}, "[weighing] balance", "unknown key", "balance_g", "balance_g"),
    ({"certainty": {"lots": "al"}}, "[certainty] lots", "'al' is not known", "all, or a share", "all"),
    ({"certainty": {"lots": 1.5}}, "[certainty] lots", "1.5", "all, or a share", ""),
    ({"certainty": {"seed": 1.5}}, "[certainty] seed", "not a whole number", "", ""),
    ({"ranked": {"how_many": 0}}, "[ranked] how_many", "0 is out of range", "at least 1", ""),
    ({"ranked": {"differ_in": ["thickner"]}}, "[ranked] differ_in, entry 1", "'thickner'", "thickener", "thickener"),
    ({"baseline": {"keep": []}}, "[baseline] formula", "missing", "required", ""),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "place", "message", "allowed", "near"), CASES, ids=[case[1] + " " + case[2] for case in CASES])
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


@pytest.mark.parametrize("mapping", [{"title": "x"}, {"title": "x", "targets": {}}, {"title": "x", "include": []}])
def test_a_target_or_an_include_is_required(mapping: dict[str, Any]) -> None:
    fault = the_fault(mapping)
    assert fault.place == "[targets]"
    assert "one target or one [[include]]" in fault.allowed


def test_a_faulty_target_is_not_called_missing_as_well() -> None:
    assert the_fault({"title": "x", "targets": {"mildness": {"at_least": "much"}}}).place == '[targets] "mildness", at_least'


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
