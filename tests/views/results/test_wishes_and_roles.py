"""Wishes, room and reasons as text and as JSON."""

from __future__ import annotations

import json

import pytest

from optiform.answers.design import design
from optiform.answers.price import why
from optiform.brief.models import Brief, Exclude, Include, Target
from optiform.library.overrides import with_prices
from optiform.views.render.text import render
from optiform.views.screens import answer_blocks
from tests.answers.conflict.test_conflict import wash
from tests.builders import NEUTRAL, tiny_library

HALVES = {"active matter": Target(at_least=10.0), "mildness": Target(at_least=65.0)}


def told(answer) -> str:
    """Return an answer as it stands on a screen, its line breaks folded."""
    return " ".join(render(answer_blocks(answer)).split())


def test_the_full_answer_prices_wishes_and_says_what_it_can_do_without():
    text = told(design(wash(targets=HALVES), in_full=True))
    assert "What each wish costs" in text
    assert "active matter at least 11 % w/w would cost 0.06 EUR/kg more." in text
    assert "What it can do without" in text
    assert "Room to move material lowest % w/w highest" in text
    assert "Gentle 10.00 10.00 10.15" in text
    assert "These ranges do not hold all at once" in text
    assert "What each wish costs" not in told(design(wash(targets=HALVES)))


def test_the_full_answer_in_json():
    document = json.loads(design(wash(targets=HALVES), in_full=True).to_json())
    wish = next(item for item in document["wishes"] if item["measure"] == "mildness")
    assert (wish["tighter"], wish["looser"]) == (70.0, 60.0)
    assert wish["cost"] == pytest.approx(0.08, abs=1e-5)
    lines = {line["material"]: line for line in document["formulas"][0]["lines"]}
    assert lines["gentle"]["role"] == "essential"
    assert lines["gentle"]["low"] <= lines["gentle"]["percent"] <= lines["gentle"]["high"]
    assert document["formulas"][0]["allowance"] == pytest.approx(0.006, abs=1e-6)


def test_why_not_tells_the_entry_price():
    answer = why(wash(targets={"active matter": Target(at_least=10.0)}), "gentle")
    text = told(answer)
    assert "Why not Gentle" in text
    assert "Below 1.00 EUR/kg it enters" in text
    document = json.loads(answer.to_json())
    assert document["why"]["below"]["price"] == pytest.approx(1.0, abs=1e-6)
    assert document["why"]["above"] is None


def test_why_tells_what_keeps_a_material_out_or_in():
    out = why(wash(targets=HALVES, exclude=(Exclude(material="oat"),)), "oat")
    assert "It is kept out by: - no oat" in told(out)
    kept = why(wash(include=(Include(material="oat", at_least=2.0),)), "oat")
    assert "No formula can do without it, because of: - oat at least 2 % w/w" in told(kept)


def test_a_gift_that_is_not_taken():
    assert "not even as a gift" in told(why(wash(targets=HALVES), "gum"))


def test_what_takes_over_is_told_by_what_it_does_differently():
    """Twins at 2.004 and 3 per kg, 20 % of one: the price of the other is rounded to the side that works."""
    library = tiny_library(
        [
            {"id": "one", "name": "One", "function": "surfactant", "price": 2.004},
            {"id": "two", "name": "Two", "function": "surfactant", "price": 3.0},
            {"id": "oat", "name": "Oat", "function": "extract", "price": 9.0},
        ],
        [{"inci": "Wash", "charge_class": "anionic", "mildness": 50.0, **NEUTRAL}],
        {"one": {"Wash": 50.0}, "two": {"Wash": 50.0}},
    )
    brief = Brief(
        title="twins",
        library=library,
        law="none",
        targets={"active matter": Target(at_least=10.0)},
        include=(Include(material="oat", at_least=2.0),),
    )
    dear, cheap = told(why(brief, "two")), told(why(brief, "one"))
    assert "Below 2.00 EUR/kg it enters: Two comes in with 20.00 %; without One." in dear
    assert "Above 3.00 EUR/kg another formula takes over: Two comes in with 20.00 %; without One." in cheap
    assert "From 0 to 3.00 EUR/kg the best formula stays as it is." in cheap
    at = brief.model_copy(update={"library": with_prices(library, {"two": 2.0})})
    assert "two" in {line.material for line in design(at).formulas[0].lines}
