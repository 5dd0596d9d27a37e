"""What a conflict is told in: a way out with what it costs and looks like, and what counts as a step."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

from optiform.answers.check import check
from optiform.answers.design import design
from optiform.answers.model.answer import Change
from optiform.brief.models import Aim, Choose, Exclude, Include, Target
from optiform.views.data import csv_table
from optiform.views.render.text import render
from optiform.views.results.answer import rows as rows_of
from optiform.views.screens import answer_blocks
from optiform.views.words import conflict_words
from tests.answers.conflict.test_conflict import wash
from tests.views import samples

HALVES = {"active matter": Target(at_least=10.0), "mildness": Target(at_least=65.0)}


def told(answer) -> str:
    """Return an answer as it stands on a screen, its line breaks folded."""
    return " ".join(render(answer_blocks(answer)).split())


def test_changes_name_the_new_bound_and_the_old_one():
    cost, readmit, count, drop = samples.CONFLICT.conflict.single_changes
    assert conflict_words.way(cost, "EUR/kg").text == (
        "cost at most 2.41 EUR/kg, instead of 2.2; the best formula then costs 2.41 EUR/kg: "
        f"{conflict_words.made_of(samples.FIRST.lines)}"
    )
    assert conflict_words.way(readmit, "EUR/kg").text.startswith(
        "no material tagged sulfate: admit sles-70 and als-27 again;"
    )
    assert conflict_words.way(count, "EUR/kg").text.startswith("at most 3 surfactants, instead of 2;")
    assert conflict_words.way(drop, "EUR/kg").text == "give up: active matter at least 11 % w/w"


def test_a_limit_that_gave_way_altogether_is_given_up():
    for requirement, to in (
        (samples.ACTIVE, 0.0),
        (replace(samples.COST, unit="% of active matter", side="at_most"), 100.0),
    ):
        assert conflict_words.change(Change(requirement, to=to)) == f"give up: {requirement.title}"
    assert "give up" not in conflict_words.change(Change(samples.COST, to=100.0))


def test_data_say_the_same_of_what_is_given_up_as_the_screen():
    """A floor that falls to 0 asks for nothing: to a program as well it is dropped, not moved."""
    given_up = (Change(samples.ACTIVE, to=0.0), Change(samples.ACTIVE, drop=True))
    moved = Change(samples.ACTIVE, to=8.0)
    answer = replace(
        samples.CONFLICT, conflict=replace(samples.CONFLICT.conflict, single_changes=(*given_up, moved))
    )
    told_as = [conflict_words.change(item).startswith("give up") for item in (*given_up, moved)]
    assert told_as == [True, True, False]
    found = json.loads(answer.to_json())["conflict"]["single_changes"]
    assert [(item["drop"], item["to"]) for item in found] == [(True, None), (True, None), (False, 8.0)]
    rows = list(csv.DictReader(io.StringIO(csv_table.table(*rows_of(answer)))))
    assert [row["to"] for row in rows if row["part"] == "single change"] == ["dropped", "dropped", "8.0"]


def test_a_way_out_shows_what_the_formula_looks_like():
    """Half and half of two washes of half strength: 10 % of each, and water."""
    text = told(design(wash(targets={**HALVES, "cost": Target(at_most=0.5)})))
    assert (
        "cost at most 0.6 EUR/kg, instead of 0.5; the best formula then costs 0.60 EUR/kg: "
        "gentle 10.00 %, harsh 10.00 %" in text
    )


def test_a_compromise_states_what_counts_as_one_step():
    text = told(design(wash(targets={**HALVES, "cost": Target(at_most=0.5)})))
    assert "One step is active matter 1 % w/w, mildness 5 points and cost 0.01 EUR/kg." in text


def test_how_far_a_wish_can_go_is_told_in_its_own_words():
    text = told(design(wash(targets={**HALVES, "cost": Target(at_most=0.5)})))
    assert "active matter at best 8.33 % w/w" in text
    assert "mildness at best 58.75 points" in text
    assert "material:" not in told(
        design(wash(targets={"cost": Target(at_most=0.1)}, include=(Include(material="oat", at_least=2.0),)))
    )


def test_a_wish_whose_giving_way_alone_is_not_enough_is_named():
    """Gentle alone is refused twice: by the mildness that it exceeds, and by the one material that may be in."""
    brief = wash(
        targets={"active matter": Target(at_least=10.0), "mildness": Target(at_most=60.0)},
        exclude=(Exclude(material="harsh"),),
        choose=(Choose(among=("gentle",), at_most=0),),
    )
    answer = design(brief)
    helping = {change.requirement for change in answer.conflict.single_changes}
    idle = [item for item in answer.conflict.requirements if item not in helping]
    assert idle
    assert (
        f"Changing only one of these is not enough, however far: {'; '.join(i.title for i in idle)}."
        in told(answer)
    )


def test_separate_collisions_are_listed_before_it_is_said_that_no_single_change_helps():
    brief = wash(
        targets={"active matter": Target(at_least=10.0), "mildness": Target(at_least=95.0)},
        include=(Include(material="gum", at_least=2.0),),
    )
    text = told(design(brief))
    assert 0 < text.index("these collide as well") < text.index("no single change makes the brief possible")
    assert "no single change makes the brief possible" in told(check(brief))


def test_a_way_out_is_priced_in_money_whatever_the_aim():
    brief = wash(
        targets={**HALVES, "cost": Target(at_most=0.5)}, aim=Aim(measure="mildness", sense="maximise")
    )
    text = told(design(brief))
    assert "the best formula then costs 0.60 EUR/kg" in text
    assert "points:" not in text


def test_json_holds_the_weights_of_a_compromise():
    document = json.loads(design(wash(targets={**HALVES, "cost": Target(at_most=0.5)})).to_json())
    steps = {part["measure"]: part["step"] for part in document["conflict"]["compromise"]}
    assert steps == {"active matter": 1.0, "mildness": 5.0, "cost": 0.01}
