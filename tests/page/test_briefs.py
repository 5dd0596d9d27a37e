"""A brief as a form: what is moved is written, what is impossible shows its ways out, what was done is undone."""

from __future__ import annotations

import json
import re
import tomllib
from dataclasses import replace
from html import unescape

import pytest

from optiform import check, load_library
from optiform.page.asking import Ticket
from optiform.page.edits import Edit
from optiform.page.questions import WayOut
from optiform.page.wishes import edits_of, form_of
from tests.page.bench import BRIEF, Bench, Unasked, value_of

LEAST = '["targets", "mildness", "at_least"]'
PLACE = "/brief/quince.toml"
CONFLICT = """title = "Too cheap"   # on purpose
[targets]
cost = { at_most = 0.4 }
"active matter" = { at_least = 6 }
"""


def version(bench: Bench, name: str = "quince.toml") -> str:
    return bench.desk.folder.read(name).version


def moved(bench: Bench, **fields: str):
    return bench.post(PLACE, {"version": version(bench), **fields})


def test_the_form_shows_every_bound_as_the_file_has_it(briefed):
    page = briefed.get(PLACE).text
    assert value_of(page, LEAST) == "55"
    assert value_of(page, '["targets", "active matter", "at_most"]') == "9"
    assert 'title="0 to 100 is allowed"' in page


def test_a_moved_wish_is_written_and_nothing_else(briefed):
    answer = moved(briefed, **{LEAST: "57,5"})
    assert (answer.status, answer.place) == (303, PLACE)
    assert briefed.text("quince.toml") == BRIEF.replace("at_least = 55", "at_least = 57.5")


@pytest.mark.parametrize("text", ["abc", "1e999", "nan", "200", "-1", "<b>"])
def test_what_is_no_bound_is_said_and_not_written(briefed, text):
    answer = moved(briefed, **{LEAST: text})
    assert answer.status == 422
    assert "Nothing was written." in answer.text
    assert briefed.text("quince.toml") == BRIEF


def test_a_wish_is_given_up_and_another_is_added(briefed):
    moved(briefed, remove='["targets", "mildness"]')
    moved(briefed, remove='["exclude", 0]')
    moved(briefed, add="material", **{"add material": "nettle-extract"})
    moved(briefed, add="tag", **{"add tag": "palm"})
    keys = tomllib.loads(briefed.text("quince.toml"))
    assert keys["targets"] == {"active matter": {"at_least": 6, "at_most": 9}}
    assert keys["include"] == [{"material": "nettle-extract"}]
    assert keys["exclude"] == [{"tag": "palm"}]


@pytest.mark.parametrize("field", ['["title"]', '["targets", "no"]', "[]", "x", '["exclude", 7]'])
def test_only_a_wish_of_the_brief_can_be_given_up(briefed, field):
    assert moved(briefed, remove=field).status == 422
    assert briefed.text("quince.toml") == BRIEF


def test_undo_brings_back_every_letter(briefed):
    moved(briefed, **{LEAST: "60"})
    moved(briefed, **{LEAST: "65"})
    for _ in range(2):
        briefed.post("/undo/quince.toml", {"version": version(briefed)})
    assert briefed.text("quince.toml") == BRIEF


def test_what_a_slider_passes_is_one_change_to_undo(briefed):
    for drag, bound in (("a", "56"), ("a", "57"), ("a", "58"), ("b", "59"), ("b", "60")):
        moved(briefed, **{LEAST: bound, "drag": drag})
    for bound in (58, 55):
        briefed.post("/undo/quince.toml", {"version": version(briefed)})
        assert briefed.text("quince.toml") == BRIEF.replace("at_least = 55", f"at_least = {bound}")


def test_a_brief_for_every_lot_says_why_it_is_checked_afresh(briefed):
    briefed.write("quince.toml", BRIEF + "[certainty]\n")
    assert "holds with every lot" in briefed.get(PLACE).text
    sent = {"hx-request": "true"}
    answer = briefed.post(PLACE, {"version": version(briefed), LEAST: "56"}, **sent)
    assert "holds with every lot" in answer.text and "/room/" not in answer.text


def test_a_move_answers_with_what_it_changes_and_no_more(briefed):
    answer = briefed.post(PLACE, {"version": version(briefed), LEAST: "56"}, **{"hx-request": "true"})
    assert answer.text.count('id="panel"') == 1 and "<html" not in answer.text
    assert value_of(answer.text, "version") == version(briefed)
    assert "at_least = 56" in unescape(answer.text), "the text beside the form"


def test_a_brief_that_changed_meanwhile_is_shown_beside_ones_own(briefed):
    seen = version(briefed)
    theirs = BRIEF.replace("at_most = 9", "at_most = 8")
    briefed.write("quince.toml", theirs)
    answer = briefed.post("/text/quince.toml", {"version": seen, "text": BRIEF.replace("55", "60")})
    assert answer.status == 409
    assert "at_most = 8" in answer.text and "at_least = 60" in answer.text
    assert briefed.text("quince.toml") == theirs
    again = {"version": value_of(answer.text, "version"), "text": BRIEF.replace("55", "60")}
    assert briefed.post("/overwrite/quince.toml", again).status == 303
    assert briefed.text("quince.toml") == BRIEF.replace("55", "60")
    briefed.post("/undo/quince.toml", {"version": version(briefed)})
    assert briefed.text("quince.toml") == theirs


def test_a_text_with_a_fault_is_kept_on_the_page_and_not_in_the_folder(briefed):
    typed = BRIEF.replace("mildness", "mildnes")
    answer = briefed.post("/text/quince.toml", {"version": version(briefed), "text": typed})
    assert answer.status == 422
    assert "mildness" in answer.text and "mildnes = " in unescape(answer.text)
    assert briefed.text("quince.toml") == BRIEF


@pytest.mark.parametrize(
    "text",
    [
        "",
        "title = ",
        "[targets",
        'title = "x"\nlibrary = "../../etc"\n[targets]\nmildness = { at_least = 5 }',
    ],
)
def test_a_file_that_is_no_sound_brief_opens_as_text(briefed, text):
    briefed.write("quince.toml", text)
    answer = briefed.get(PLACE)
    assert answer.status == 422
    assert 'name="text"' in answer.text


class Refusing(Unasked):
    """Answers that a brief cannot be met, with one way out."""

    def ask(self, key, question, *arguments, again=False):
        ticket = super().ask(key, question, *arguments)
        way = WayOut(
            "mildness at least 50", "1.20 EUR/kg", edits=(Edit(("targets", "mildness", "at_least"), 50),)
        )
        ticket.answer = replace(ticket.answer, status="conflict", ways=(way,))
        return ticket


def test_a_way_out_is_a_button_that_writes_it(tmp_path):
    bench = Bench(tmp_path, Refusing())
    bench.write("quince.toml", BRIEF)
    page = bench.get(PLACE).text
    assert "mildness at least 50" in page
    answer = bench.post("/way/quince.toml", {"version": version(bench), "edits": value_of(page, "edits")})
    assert answer.place == PLACE
    assert bench.text("quince.toml") == BRIEF.replace("at_least = 55", "at_least = 50")


@pytest.mark.slow
def test_a_conflict_has_buttons_that_write_exactly_what_they_say(bench):
    bench.write("quince.toml", CONFLICT)
    page = bench.get(PLACE).text
    ways = re.findall(r'<strong>([^<]*)</strong>.*?name="edits" value="([^"]*)"', page, re.DOTALL)
    assert ways
    words, edits = unescape(ways[0][0]), unescape(ways[0][1])
    answer = bench.post("/way/quince.toml", {"version": version(bench), "edits": edits})
    assert answer.place == PLACE
    ((place, value),) = json.loads(edits)
    here = tomllib.loads(bench.text("quince.toml"))
    for part in place:
        here = here[part]
    assert here == value
    assert f"{value:g}" in words
    assert "# on purpose" in bench.text("quince.toml")
    assert check(bench.root / "quince.toml").status == "solved"


@pytest.mark.parametrize(
    "edits",
    [
        "",
        "x",
        "[]",
        "{}",
        "[1]",
        '[[["include", 5, "at_least"], 1]]',
        "[[[{}], 1]]",
        '[[["title"], 7]]',
        "[" * 5000,
    ],
)
def test_no_change_but_a_sound_one_is_taken(briefed, edits):
    assert briefed.post("/way/quince.toml", {"version": version(briefed), "edits": edits}).status == 422
    assert briefed.text("quince.toml") == BRIEF


def test_a_starter_brief_begins_an_empty_folder(tmp_path):
    bench = Bench(tmp_path, Unasked())
    assert "dry or sensitive skin" in bench.get("/").text
    answer = bench.post("/new", {"skin": "oily", "feel": "gel", "title": "../../Quay & <wash>"})
    assert answer.place == "/brief/quay-wash.toml"
    again = bench.post("/new", {"skin": "oily", "feel": "gel", "title": "quay wash"})
    assert again.place == "/brief/quay-wash-2.toml"
    assert {path.name for path in tmp_path.glob("*.toml")} == {"quay-wash.toml", "quay-wash-2.toml"}
    assert bench.post("/new", {"skin": "no", "feel": "gel"}).status == 422


def test_every_field_of_every_shape_of_wish_is_one_of_the_file():
    """What a form sends back unchanged changes nothing."""
    keys = tomllib.loads(
        BRIEF
        + '[[include]]\nmaterial = "glycerin"\nat_least = 1\n[[choose]]\nfunction = "surfactant"\nat_most = 3\n'
        '[[share]]\nof = "anionic"\nat_most = 60\n[[ratio]]\nof = "amphoteric"\nto = "anionic"\nat_least = 0.2\n'
        '[[when]]\nmaterial = "xanthan-gum"\nmeasure = "pH"\nat_least = 5\n[weighing]\nbatch_g = 500\n'
    )
    form = form_of(keys, load_library())
    ends = [end for _, wishes in form.groups for wish in wishes for end in wish.ends]
    sent = {end.field: end.value for end in ends} | {field: chosen for field, _, _, chosen in form.choices}
    assert edits_of(sent, keys) == []
    assert len([end for end in ends if end.value]) == 8
    assert form.rules == ("with xanthan-gum: pH at least 5",) or "xanthan" in form.rules[0].lower()


class Proving(Unasked):
    """Never has an answer yet."""

    def ask(self, key, question, *arguments, again=False):
        return Ticket(question, arguments)


def test_a_move_is_written_and_answered_while_the_solver_is_still_at_work(tmp_path, monkeypatch):
    monkeypatch.setattr("optiform.page.handlers.briefs.AT_ONCE", 0.0)
    bench = Bench(tmp_path, Proving())
    bench.write("quince.toml", BRIEF)
    sent = {"hx-request": "true"}
    for bound in ("56", "57"):
        answer = bench.post(PLACE, {"version": version(bench), LEAST: bound}, **sent)
        assert answer.status == 200 and "being proven" in answer.text
        assert f"at_least = {bound}" in bench.text("quince.toml")
