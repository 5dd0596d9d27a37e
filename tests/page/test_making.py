"""From a formula to a batch record that is filled in: nothing typed is lost, and two windows do no harm."""

from __future__ import annotations

import json
import re
from html import unescape

import pytest

from optiform import sheet
from optiform.page.records import begun, entered, opened
from tests.page.bench import Bench, value_of

FORMULA = (
    "material,percent\npurified-water,q.s.\ndecyl-glucoside,12\ncocamidopropyl-betaine-30,8\nglycerin,3\n"
)
LOT = "weigh/glycerin/lot"
BEGUN = {"identity/product": "f", "identity/version": "f", "identity/made on": "2026-11-28"}


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    path = tmp_path_factory.mktemp("f") / "f.csv"
    path.write_text(FORMULA, encoding="utf-8")
    made = sheet(str(path), "500 g", parts=["batch"])
    return begun(made.batch.model_dump_json(), "f.csv", "2026-11-28")


@pytest.fixture
def kept(bench: Bench, record):
    bench.write("batches/one.batch.json", record)
    return bench


def fill(bench: Bench, value: str, seen: str = "", field: str = LOT, **headers: str):
    return bench.post("/batch/batches/one.batch.json", {field: value, f"was {field}": seen}, **headers)


def stands(bench: Bench) -> str:
    return json.loads(bench.text("batches/one.batch.json"))["filled"].get(LOT, "")


def test_a_formula_is_shown_made_and_recorded(bench):
    bench.write("f.csv", FORMULA)
    page = bench.get("/formula/f.csv").text
    assert "Begin a batch record" in page and "Decyl glucoside" in page
    answer = bench.post("/begin/f.csv", {"batch": "500g"})
    assert answer.status == 303
    shown = bench.get(answer.place).text
    assert "15.00 g" in shown, "3 % of 500 g"
    assert bench.get("/sheet/f.csv?batch=500g&part=card").status == 200
    assert bench.get("/sheet/f.csv?batch=nothing&part=card").status == 422
    assert bench.get("/sheet/f.csv?part=cost").status == 422
    assert bench.get("/sheet/f.csv?part=x").status == 422


def test_an_entry_is_in_the_file_as_soon_as_it_is_sent(kept):
    fill(kept, "L-77 <b>")
    assert stands(kept) == "L-77 <b>"
    page = kept.get("/batch/batches/one.batch.json").text
    assert value_of(page, LOT) == "L-77 <b>"
    assert "<b>L" not in page and "L-77 <b>" not in page


def test_two_windows_that_fill_in_different_blanks_both_count(kept):
    fill(kept, "L1")
    fill(kept, "2.9", field="weigh/glycerin/actual")
    filled = json.loads(kept.text("batches/one.batch.json"))["filled"]
    assert filled == {**BEGUN, LOT: "L1", "weigh/glycerin/actual": "2.9"}


def test_the_same_blank_from_two_windows_shows_both_and_keeps_the_first(kept):
    fill(kept, "L1")
    answer = fill(kept, "L2", seen="")
    assert answer.status == 409
    told = unescape(answer.text)
    assert "there stands “L1”" in told and "yours was “L2”" in told
    assert stands(kept) == "L1"
    fill(kept, "L2", seen="L1")
    assert stands(kept) == "L2"


def test_an_entry_by_script_tells_what_is_saved_and_what_the_window_now_knows(kept):
    answer = fill(kept, "L1", **{"hx-request": "true"})
    assert "Saved." in answer.text
    assert value_of(answer.text, f"was {LOT}") == "L1"


def test_an_entry_that_is_wiped_is_gone_and_no_other_field_is_taken(record):
    text, _ = entered(record, "x", {LOT: "a", "no/such": "b"}, {})
    text, _ = entered(text, "x", {LOT: " "}, {LOT: "a"})
    assert json.loads(text)["filled"] == BEGUN


def test_the_record_has_every_line_of_the_sheet_with_its_grams(record, tmp_path):
    path = tmp_path / "f.csv"
    path.write_text(FORMULA, encoding="utf-8")
    wanted = sheet(str(path), "500 g", parts=["batch"]).batch
    weigh = next(block for block in opened(record, "x").blocks if block.title == "Weigh")
    assert [line.target for line in weigh.lines] == [f"{line.grams:.2f} g" for line in wanted.batch.lines]


@pytest.mark.parametrize("text", ["", "{}", "[]", "null", '{"record": {}, "filled": {}}', "[" * 100_000])
def test_a_file_that_is_no_record_says_so(bench, text):
    bench.write("x.batch.json", text)
    assert bench.get("/batch/x.batch.json").status == 422
    assert bench.post("/batch/x.batch.json", {}).status == 422
    assert bench.get("/").status == 200


def test_a_record_leads_straight_to_what_is_weighed_and_made(bench):
    """Above them stand some thirty blanks of cleaning and clearance, which nobody scrolls past with wet hands."""
    bench.write("f.csv", "material,percent\nwater,90\nglycerin,10\n")
    page = bench.get(bench.post("/begin/f.csv", {"batch": "1kg"}).place).text
    led = dict(re.findall(r'<a href="#([\w-]+)">(\w+)</a>', page))
    assert sorted(led.values()) == ["Make", "Weigh"]
    assert all(f'<h2 id="{place}">{word}</h2>' in page for place, word in led.items())
