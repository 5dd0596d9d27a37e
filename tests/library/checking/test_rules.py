"""Measures, preservative systems and house rules must mean something in their library."""

import pytest

from optiform.library import load_library
from optiform.library.checking.checks import faults_of
from optiform.library.checking.rule_checks import BUILTIN_MEASURES, measure_problem, missing_values
from optiform.library.models import (
    ColumnMeasure,
    Incompatible,
    LinearRule,
    Needs,
    PreservativeSystem,
    Rules,
    Term,
    When,
)
from optiform.measures import Catalogue
from tests.builders import tiny_library

MATERIALS = [
    {"id": "betaine", "function": "surfactant", "tags": ("coconut",), "extra": {"demand": 0.2}},
    {"id": "gum", "function": "thickener", "max_use": 2.0},
    {"id": "benzoate", "function": "preservative", "min_if_used": 0.2, "max_use": 0.6},
]
PARTS = {"betaine": {"Cocamidopropyl Betaine": 30.0}, "benzoate": {"Sodium Benzoate": 100.0}}
SUBSTANCES = [
    {"inci": "Cocamidopropyl Betaine", "charge_class": "amphoteric", "tags": ("palm?",)},
    {"inci": "Sodium Benzoate", "pka": (4.2,), "charge_acid_form": 0.0, "strong_charge": 1.0},
]


def library(**fields):
    return tiny_library(MATERIALS, SUBSTANCES, PARTS, **fields)


def only(found):
    (fault,) = found
    return fault


def rule_fault(**rules):
    return only(faults_of(library(rules=Rules(**rules))))


def system_fault(**fields):
    return only(faults_of(library(systems=(PreservativeSystem(**{"name": "one", **fields}),))))


@pytest.mark.parametrize(
    "text",
    ["gum", "material:gum", "function:oil", "tag:coconut", "tag:palm", "tag:sulfate", "substance:Aqua"],
)
def test_references_that_mean_something(text):
    rules = Rules(needs=(Needs(material=text, other="betaine"),))
    assert faults_of(library(rules=rules)) == ()


@pytest.mark.parametrize(
    ("text", "nearest"),
    [
        ("gumm", "gum"),
        ("function:thickner", "function:thickener"),
        ("tag:coconutt", "tag:coconut"),
        ("substance:Sodium Benzoat", "substance:Sodium Benzoate"),
        ("tags:coconut", "tag:coconut"),
    ],
)
def test_references_that_mean_nothing_name_the_nearest(text, nearest):
    fault = rule_fault(needs=(Needs(material="gum", other=text),))
    assert (fault.place, fault.nearest) == ("[[needs]] 1, key other", nearest)


def test_nothing_is_incompatible_with_itself():
    fault = rule_fault(incompatible=(Incompatible(one="gum", other="gum"),))
    assert fault.place == "[[incompatible]] 1"


@pytest.mark.parametrize(
    ("measure", "nearest"),
    [("electrolite", "electrolyte"), ("substance:Aqa", "substance:Aqua"), ("share:anionics", "share:anionic"),
     ("weight:gum", "")],
)  # fmt: skip
def test_unknown_measures_in_rules(measure, nearest):
    fault = rule_fault(when=(When(material="gum", measure=measure, at_most=0.2),))
    assert fault.place == "[[when]] 1, key measure"
    assert fault.nearest == nearest or not nearest


@pytest.mark.parametrize(
    "name",
    ["cost", "mildness", "natural origin without water", "share:anionic", "share:coconut", "share:gum",
     "share:substance:Sodium Benzoate", "undissociated:Sodium Benzoate", "tag:palm", "function:oil"],
)  # fmt: skip
def test_measure_names_that_exist(name):
    assert measure_problem(library(), name) is None


def test_rules_without_bounds_or_with_crossed_ones():
    none = rule_fault(when=(When(material="gum", measure="pH"),))
    assert none.allowed == "at_least, at_most or both"
    crossed = rule_fault(when=(When(material="gum", measure="pH", at_least=6.0, at_most=5.0),))
    assert crossed.message == "at_least 6 is above at_most 5"


def test_linear_terms_name_exactly_one_thing():
    both = Term(measure="cost", material="gum")
    neither = Term(times=2.0)
    rule = LinearRule(name="odd", terms=(both, neither), at_most=1.0)
    places = [fault.place for fault in faults_of(library(rules=Rules(linear=(rule,))))]
    assert places == ["[[linear]] 1 (odd), term 1", "[[linear]] 1 (odd), term 2"]


@pytest.mark.parametrize(
    ("fields", "place", "part"),
    [
        ({"members": {"benzoat": (0.4, 0.5)}}, "key benzoat", "no material 'benzoat'"),
        ({"members": {"benzoate": (0.5, 0.4)}}, "key benzoate", "crossed"),
        ({"members": {"benzoate": (-0.5, 0.4)}}, "key benzoate", "out of range"),
        ({"members": {"benzoate": (0.7, 0.9)}}, "key benzoate", "misses the use level [0.2, 0.6]"),
        ({"members": {"tag:coconut": (0.1, 0.2)}}, "key tag:coconut", "no material id"),
        ({"members": {"benzoate": (0.4, 0.5)}, "pH": (5.0, 4.0)}, "key pH", "crossed"),
        ({"members": {"benzoate": (0.4, 0.5)}, "pH": (4.0, 15.0)}, "key pH", "15 is no pH"),
    ],
)
def test_systems_that_cannot_work(fields, place, part):
    fault = system_fault(**fields)
    assert fault.place.startswith("[[system]] 1 (one)")
    assert fault.place.endswith(place)
    assert part in fault.message


def test_names_are_used_once():
    system = PreservativeSystem(name="one", members={"benzoate": (0.4, 0.5)})
    assert "two systems are called 'one'" in only(faults_of(library(systems=(system, system)))).message
    rule = LinearRule(name="r", terms=(Term(material="gum"),), at_most=1.0)
    assert "two rules" in rule_fault(linear=(rule, rule)).message


def test_measure_columns():
    def fault_of(**fields):
        measure = ColumnMeasure(**{"name": "demand", "column": "demand", **fields})
        return only(faults_of(library(measures=(measure,))))

    assert "has no number" in fault_of(column="demnd").message
    assert "built-in" in fault_of(name="cost").message
    assert fault_of(basis="totl").nearest == "total"
    assert fault_of(basis="tag:coconuts").nearest == "tag:coconut"


def test_values_that_a_needed_measure_lacks_are_listed():
    """Absent is not zero: a rule on a measure needs its number for every material that counts."""
    measure = ColumnMeasure(name="demand", column="demand")
    held = library(measures=(measure,))
    assert faults_of(held) == ()
    assert missing_values(held, measure) == ("water", "gum", "benzoate")
    rules = Rules(when=(When(material="gum", measure="demand", at_most=1.0),))
    fault = only(faults_of(library(measures=(measure,), rules=rules)))
    assert "water, gum, benzoate" in fault.message


def test_mean_needs_values_only_within_its_basis():
    assert missing_values(library(), ColumnMeasure(name="m", column="demand", basis="active matter")) == ()
    assert missing_values(
        library(), ColumnMeasure(name="m", column="demand", basis="function:thickener")
    ) == ("gum",)


def test_mean_over_a_column_of_substances():
    substances = [{**SUBSTANCES[0], "extra": {"foam": 3.0}}, SUBSTANCES[1]]
    held = tiny_library(MATERIALS, substances, PARTS)
    measure = ColumnMeasure(name="foam", column="foam", basis="active matter")
    assert missing_values(held, measure) == ()
    total = ColumnMeasure(name="foam", column="foam")
    assert missing_values(held, total) == ("Aqua", "Gum", "Sodium Benzoate")


def test_trust_of_unknown_columns():
    fault = only(faults_of(library(trust={"prise": "invented"})))
    assert (fault.place, fault.nearest) == ("[trust], key prise", "price")


def test_rules_know_every_measure_that_is_built_in():
    library = load_library(None)
    named = {
        name for name in Catalogue(library).names() if name not in {one.name for one in library.measures}
    }
    assert named == set(BUILTIN_MEASURES)
