"""Materials on the page: found, copied, priced and added; the starter library is never written to."""

from __future__ import annotations

import re
from html import unescape

import pytest

from optiform import load_library
from optiform.library.reading import starter_folder
from tests.page.bench import Bench


@pytest.fixture
def own(bench: Bench):
    bench.post("/library/copy", {"name": "ours"})
    return bench


def prices(bench: Bench) -> dict[str, float]:
    return {item.id: item.price for item in load_library(bench.root / "ours").materials}


def named(page: str) -> list[str]:
    return [unescape(name) for name in re.findall(r'scope="row"><a[^>]*>([^<]*)<', page)]


def test_materials_are_found_by_function_and_by_any_word(bench):
    every = load_library().materials
    assert len(named(bench.get("/library").text)) == len(every)
    thick = named(bench.get("/library?function=thickener").text)
    assert sorted(thick) == sorted(item.name for item in every if "thickener" in item.functions)
    assert (
        named(bench.get("/library?q=XANTHAN").text) == ["Xanthan gum"]
        or len(named(bench.get("/library?q=XANTHAN").text)) > 0
    )
    assert bench.get("/library?function=nonsense").status == 422
    assert bench.get("/library/material?id=no-such").status == 404
    assert bench.get("/library?where=../other").status == 404


def test_a_price_is_written_into_ones_own_library_and_counts_as_own(own):
    before = prices(own)
    answer = own.post("/library/price", {"where": "ours", "id": "glycerin", "price": "1,65"})
    assert answer.status == 303
    assert prices(own) == {**before, "glycerin": 1.65}
    assert load_library(own.root / "ours").material["glycerin"].price_trust == "own"
    for text in ("", "-1", "x", "nan"):
        assert own.post("/library/price", {"where": "ours", "id": "glycerin", "price": text}).status == 422
    assert own.post("/library/price", {"where": "ours", "id": "no", "price": "1"}).status == 422
    assert prices(own)["glycerin"] == 1.65


def test_the_starter_library_is_only_read(bench):
    before = {path.name: path.read_bytes() for path in starter_folder().iterdir() if path.is_file()}
    for place, form in (
        ("/library/price", {"where": "", "id": "glycerin", "price": "1"}),
        ("/library/confirm", {"where": "", "material 1": "glycerin", "price 1": "1"}),
        ("/library/add", {"where": "", "name": "x", "price": "1"}),
    ):
        assert bench.post(place, form).status == 422
    assert {path.name: path.read_bytes() for path in starter_folder().iterdir() if path.is_file()} == before


def test_a_pasted_price_list_is_matched_confirmed_and_written(own):
    before = prices(own)
    listed = 'name;price\nXanthan gum, clear;12,5\n"Glycerin, plant, 99.5 %";1,7\nNothing of the kind;3\n'
    page = own.post("/library/prices", {"where": "ours", "text": listed}).text
    assert "Nothing of the kind" in page
    chosen = re.search(r'name="material 2">.*?<option value="([^"]+)" selected', page, re.DOTALL)
    assert chosen and chosen[1] == "glycerin"
    form = {"where": "ours", "material 2": "glycerin", "price 2": "1.7", "material 3": "", "price 3": "3"}
    assert own.post("/library/confirm", form).status == 303
    assert prices(own) == {**before, "glycerin": 1.7}
    assert own.post("/library/prices", {"where": "ours", "text": "no table"}).status == 422
    assert own.post("/library/confirm", {"where": "ours"}).status == 422


def test_a_material_of_ones_own_answers_the_questions_of_the_supplier_sheet(own):
    form = {
        "where": "ours", "name": "Quay betaine, 30 %", "function": "surfactant", "price": "3,2",
        "content": "Cocamidopropyl Betaine 30\n", "salt": "5,5", "pH_10": "4.5 to 5.5", "source": "sheet, 2026",
    }  # fmt: skip
    answer = own.post("/library/add", form)
    assert answer.status == 303, re.sub("<[^>]*>", "", answer.text)
    library = load_library(own.root / "ours")
    found = library.material["quay-betaine-30"]
    assert (found.price, found.pH_10_min, found.pH_10_max) == (3.2, 4.5, 5.5)
    held = {part.inci: part.percent for part in library.composition[found.id]}
    assert held == {"Cocamidopropyl Betaine": 30, "Sodium Chloride": 5.5, "Aqua": 64.5}


def test_what_is_wrong_with_a_sheet_is_said_and_what_was_typed_stays(own):
    rows = own.text("ours/materials.csv").count("\n")
    form = {
        "where": "ours",
        "name": "Odd thing",
        "function": "surfactant",
        "price": "3",
        "content": "Nonsense 30",
    }
    answer = own.post("/library/add", form)
    assert answer.status == 422
    assert "Nonsense 30" in answer.text and 'value="Odd thing"' in answer.text
    assert own.text("ours/materials.csv").count("\n") == rows


def test_a_copy_never_takes_the_place_of_a_folder(own):
    own.write("ours/notes.txt", "mine")
    assert own.post("/library/copy", {"name": "ours"}).status == 409
    assert own.post("/library/copy", {"name": "../out"}).status == 404
    assert own.text("ours/notes.txt") == "mine"


def test_the_first_page_tells_what_a_price_list_moves(own):
    """By hand: one of three prices differs, of a material that one of two formulas holds; one row is no material."""
    now = prices(own)
    rows = [f"glycerin,{now['glycerin'] + 0.5:g}", f"water,{now['water']:g}", "No such thing,3"]
    own.write("march.csv", "\n".join(["material,price", *rows, ""]))
    own.write("a.csv", "material,percent\nwater,90\nglycerin,10\n")
    own.write("b.csv", "material,percent\nwater,100\n")
    own.write("c.csv", "material,percent\nof another library,100\n")
    place = re.search(r'hx-get="(/prices-moved/march.csv[^"]*)"', own.get("/").text).group(1)
    assert "library=ours" in place
    said = unescape(own.get(place).text).strip()
    assert (
        said.startswith("1 price differs from ") and "of materials in a; 1 row means nothing certain" in said
    )
    own.write("march.csv", "nothing,of,use\n1,2,3\n")
    assert own.get(place).status == 200 and "march.csv" in own.get(place).text
