"""The questions as functions: paths, values and answers are taken alike, and nothing that comes back can be changed."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
from pathlib import Path

import pytest
from pydantic import BaseModel

import optiform
from optiform import api
from optiform.api.given import rework_of
from optiform.mappings import FrozenDict

PROBLEMS = Path(__file__).parents[1] / "problems"
NETTLE = PROBLEMS / "nettle-gel-oily-skin" / "brief.toml"
TODAY = {"water": 86.0, "decyl-glucoside": 14.0}


@pytest.fixture(scope="module")
def answer():
    return optiform.design(NETTLE)


@pytest.mark.core
def test_a_path_a_text_and_a_brief_ask_the_same(answer):
    by_text, by_brief = optiform.check(str(NETTLE)), optiform.check(optiform.load_brief(NETTLE))
    assert by_text.formulas[0].aim == pytest.approx(by_brief.formulas[0].aim, abs=1e-9)
    assert by_text.formulas[0].aim == pytest.approx(answer.formulas[0].aim, abs=1e-9)


@pytest.mark.core
def test_a_formula_of_an_answer_brings_its_brief_along(answer):
    first = answer.formulas[0]
    again = optiform.evaluate(first).formulas[0]
    assert again.cost == pytest.approx(first.cost, abs=1e-9)
    assert not again.breaks
    made = optiform.sheet(first, "2 kg")
    assert made.title == answer.title and made.batch_g == 2000.0
    assert made.cost_per_kg == pytest.approx(first.cost, abs=1e-9)


@pytest.mark.core
def test_a_formula_may_be_a_mapping_a_file_or_what_was_read(tmp_path):
    file = tmp_path / "today.csv"
    file.write_text("material,percent\n" + "".join(f"{name},{percent}\n" for name, percent in TODAY.items()))
    read = optiform.read_formula(file, optiform.load_library())
    costs = [optiform.evaluate(formula).formulas[0].cost for formula in (TODAY, file, str(file), read)]
    assert costs == pytest.approx([costs[0]] * 4, abs=1e-12)


def test_a_formula_in_memory_is_reformulated_as_its_file_is(tmp_path, answer):
    lines = {line.material: line.percent for line in answer.formulas[-1].lines}
    file = tmp_path / "today.csv"
    file.write_text(
        "material,percent\n" + "".join(f"{name},{percent!r}\n" for name, percent in lines.items())
    )
    one, other = (rework_of(start, "cheaper", None) for start in (lines, file))
    assert one.baseline.lines == other.baseline.lines
    assert one.targets == other.targets and one.baseline.hold == other.baseline.hold
    assert one.aim == other.aim and one.rules == other.rules


@pytest.mark.core
def test_every_fault_of_a_mapping_is_told_with_the_nearest_name():
    with pytest.raises(optiform.BadInput) as told:
        optiform.evaluate({"decyl-glucosid": 10.0, "water": -1.0})
    assert len(told.value.faults) == 2
    assert told.value.faults[0].nearest == "decyl-glucoside"


@pytest.mark.parametrize(
    "ask",
    [
        lambda: optiform.design(TODAY),
        lambda: optiform.reformulate(optiform.load_brief(NETTLE), aim="cheaper"),
        lambda: optiform.evaluate(TODAY, brief=NETTLE, library=optiform.load_library()),
        lambda: optiform.evaluate({}),
        lambda: optiform.evaluate(5),
        lambda: optiform.evaluate({"water": "all"}),
        lambda: optiform.evaluate({"water": float("nan")}),
        lambda: optiform.sheet(TODAY, "two buckets"),
        lambda: optiform.sheet(TODAY, -5),
        lambda: optiform.sheet(TODAY, float("nan")),
        lambda: optiform.sheet(TODAY, "1 kg", parts=("lable",)),
        lambda: optiform.weigh(TODAY, 0),
        lambda: optiform.weigh(TODAY, "1 kg", balance_g=-1),
    ],
)
def test_what_cannot_be_meant_is_refused(ask):
    with pytest.raises(optiform.BadInput):
        ask()


@pytest.mark.core
def test_nothing_that_comes_back_can_be_changed(answer):
    """Every field of every value inside: no list, no set, no plain dict, no array that can be written."""
    open_ends = []
    for result in (
        answer,
        optiform.check(PROBLEMS / "too-many-wishes" / "brief.toml"),
        optiform.evaluate(TODAY),
        optiform.sheet(answer.formulas[0], "1 kg"),
    ):
        open_ends += sorted(_open_ends(result, type(result).__name__, set()))
    assert not open_ends


def _open_ends(value, place, seen):
    if id(value) in seen:
        return
    seen.add(id(value))
    if isinstance(value, list | set) or type(value) is dict:
        yield f"{place}: {type(value).__name__}"
    names = ()
    if isinstance(value, BaseModel):
        names = type(value).model_fields
    elif dataclasses.is_dataclass(value):
        names = [field.name for field in dataclasses.fields(value)]
    for name in names:
        yield from _open_ends(getattr(value, name), f"{place}.{name}", seen)
    if isinstance(value, tuple):
        for item in value:
            yield from _open_ends(item, f"{place}[]", seen)
    if isinstance(value, dict):
        for item in value.values():
            yield from _open_ends(item, f"{place}{{}}", seen)


@pytest.mark.core
def test_a_frozen_mapping_refuses_change_and_travels():
    held = FrozenDict(pH=5.0)
    for change in (
        lambda: held.update(pH=6.0),
        lambda: held.__setitem__("pH", 6.0),
        lambda: held.pop("pH"),
        lambda: held.setdefault("cost", 1.0),
        held.clear,
    ):
        with pytest.raises(TypeError, match="cannot be changed"):
            change()
    assert held == {"pH": 5.0}
    for twin in (pickle.loads(pickle.dumps(held)), copy.deepcopy(held)):
        assert twin == held and type(twin) is FrozenDict


@pytest.mark.core
def test_every_question_is_documented_and_typed():
    for name in api.__all__:
        assert name in optiform.__all__
        function = getattr(api, name)
        documented = function.__doc__ or ""
        for parameter in inspect.signature(function).parameters.values():
            assert parameter.annotation is not parameter.empty, (name, parameter.name)
            assert parameter.name in documented, (name, parameter.name)


@pytest.mark.core
def test_every_public_name_is_there():
    for name in optiform.__all__:
        assert getattr(optiform, name) is not None
    with pytest.raises(AttributeError, match="desing"):
        optiform.desing  # noqa: B018
