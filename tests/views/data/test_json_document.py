"""JSON of schema 2: held against a strict description of its keys and types."""

import json
import math
from dataclasses import replace

import pytest

from optiform.views.data.json_document import plain
from tests.views import samples

NUMBER, TEXT, FLAG = (int, float), str, bool
OPTIONAL = object()


def optional(kind):
    return (OPTIONAL, kind)


KEY = {"section": TEXT, "place": [(str, int)], "side": TEXT}
REQUIREMENT = {
    "requirement": TEXT, "key": KEY, "measure": optional(TEXT), "side": optional({"at_least", "at_most", "equal"}),
    "bound": optional(NUMBER), "origin": {"brief", "library", "law", "balance"}, "movable": FLAG,
}  # fmt: skip
LINE = {
    "material": TEXT, "name": TEXT, "function": TEXT, "phase": optional(TEXT), "percent": NUMBER,
    "low": optional(NUMBER), "high": optional(NUMBER),
}  # fmt: skip
MEASURE = {
    "value": optional(NUMBER), "unit": TEXT,
    "trust": {"own", "published", "common practice", "memory", "estimate", "invented"},
}  # fmt: skip
BINDING = {
    **REQUIREMENT, "marginal_cost": optional(NUMBER), "marginal_cost_back": optional(NUMBER), "unit": TEXT,
    "holds_from": optional(NUMBER), "holds_to": optional(NUMBER), "degenerate": FLAG,
}  # fmt: skip
FORMULA = {
    "rank": int, "cost": NUMBER, "currency": TEXT, "lines": [LINE], "measures": {"*": MEASURE}, "binding": [BINDING],
    "breaks": [{**REQUIREMENT, "value": optional(NUMBER), "message": TEXT}],
    "ingredient_list": [{"inci": TEXT, "percent": NUMBER}], "notes": [TEXT],
    "weighable": optional({
        "batch_g": NUMBER, "cost": NUMBER, "lines": [{"material": TEXT, "grams": NUMBER, "percent": NUMBER}],
    }),
}  # fmt: skip
CHANGE = {**REQUIREMENT, "to": optional(NUMBER), "cost": optional(NUMBER)}
CONFLICT = {
    "requirements": [REQUIREMENT], "single_changes": [CHANGE],
    "compromise": [{**REQUIREMENT, "to": NUMBER, "by": NUMBER}], "more_conflicts": [[REQUIREMENT]],
}  # fmt: skip
ANSWER = {
    "optiform": TEXT, "schema": int, "question": TEXT, "status": {"solved", "conflict", "stopped"}, "proven": FLAG,
    "aim": {"measure": TEXT, "unit": TEXT}, "brief": {"title": TEXT, "library": TEXT}, "formulas": [FORMULA],
    "conflict": optional(CONFLICT), "notes": [TEXT], "cautions": [TEXT],
}  # fmt: skip


def conform(value, kind, path="$"):
    """Fail with the path of the first value that is not as described; further keys are allowed."""
    if isinstance(kind, tuple) and kind and kind[0] is OPTIONAL:
        if value is not None:
            conform(value, kind[1], path)
    elif isinstance(kind, dict):
        assert isinstance(value, dict), path
        for key, inner in kind.items():
            for name in value if key == "*" else [key]:
                assert name in value, f"{path}.{name} is missing"
                conform(value[name], inner, f"{path}.{name}")
    elif isinstance(kind, list):
        assert isinstance(value, list), path
        for place, item in enumerate(value):
            conform(item, kind[0], f"{path}[{place}]")
    elif isinstance(kind, set):
        assert value in kind, f"{path}: {value}"
    else:
        assert isinstance(value, kind), f"{path}: {value!r}"
        assert kind in (bool, (bool,)) or not isinstance(value, bool), f"{path}: {value!r}"


def refuse(word):
    raise AssertionError(f"{word} is no JSON")


def parsed(answer):
    return json.loads(answer.to_json(), parse_constant=refuse)


@pytest.mark.parametrize("name", samples.ALL)
def test_every_answer_conforms(name):
    conform(parsed(samples.ALL[name]), ANSWER)


def test_the_checker_itself_notices_what_is_wrong():
    good = parsed(samples.DESIGN)
    for spoil in (
        lambda d: d.pop("proven"),
        lambda d: d.update(status="fine"),
        lambda d: d["formulas"][0].update(rank="1"),
        lambda d: d["formulas"][0]["lines"][0].pop("percent"),
        lambda d: d["formulas"][0]["binding"][0].update(movable=1),
    ):
        spoilt = json.loads(json.dumps(good))
        spoil(spoilt)
        with pytest.raises(AssertionError):
            conform(spoilt, ANSWER)


def test_every_digit_is_there():
    first = parsed(samples.DESIGN)["formulas"][0]
    assert first["cost"] == samples.FIRST.cost
    assert [line["percent"] for line in first["lines"]] == [line.percent for line in samples.FIRST.lines]
    assert first["measures"]["pH"]["value"] == 5.0831
    assert first["measures"]["viscosity"]["value"] is None
    assert (first["acidity"]["low"], first["acidity"]["high"]) == (4.871, 5.394)
    assert first["acidity"]["spread_from"][0] == {"material": "decyl-glucoside", "part": 0.93}
    assert first["acidity"]["have_ready"] == []
    assert first["acidity"]["doses"] == [
        {"material": "citric-acid", "percent": 0.0874, "low": 0.061, "high": 0.124}
    ]


def test_what_is_not_finite_is_null():
    assert parsed(samples.EVALUATED)["formulas"][0]["aim"] is None
    assert parsed(samples.DESIGN)["formulas"][0]["binding"][3]["holds_to"] is None
    assert plain([math.nan, math.inf, -math.inf, -0.0]) == [None, None, None, 0.0]
    assert str(plain(-0.0)) == "0.0"


def test_the_same_answer_gives_the_same_bytes():
    assert samples.DESIGN.to_json() == replace(samples.DESIGN).to_json()


def test_a_choice_moves_to_a_whole_number_or_admits_again():
    cost, readmit, count, drop = parsed(samples.CONFLICT)["conflict"]["single_changes"]
    assert cost["to"] == 2.41
    assert readmit["readmit"] == ["sles-70", "als-27"]
    assert count["to"] == 3
    assert isinstance(count["to"], int)
    assert drop["drop"] is True
    assert "readmit" not in cost


def test_breaks_stand_beside_the_measures():
    breaks = parsed(samples.EVALUATED)["formulas"][0]["breaks"]
    assert [item["requirement"] for item in breaks] == [samples.COST.title, samples.DISPERSANT.title]
    assert breaks[0]["value"] == 2.407


def test_a_baseline_stands_beside_the_formulas():
    both = parsed(replace(samples.DESIGN, baseline=samples.SECOND))
    conform(both["baseline"], FORMULA)
    assert "baseline" not in parsed(samples.DESIGN)


def test_what_has_no_place_in_json_is_refused():
    with pytest.raises(TypeError, match="object has no place in JSON"):
        plain({"strange": object()})
