"""The batch records of a family in every form; what they hold is tested in tests/sheets/test_from_base.py."""

import io
import json
from dataclasses import replace

import pytest
from openpyxl import load_workbook
from pydantic import TypeAdapter
from typer.testing import CliRunner

from optiform import BadInput, batch_records
from optiform.answers.evaluate.typed_formula import evaluate
from optiform.brief.models import Aim, Brief, Exclude, Include, Target
from optiform.cli import entry
from optiform.families.plan import FamilyPlan, Planned
from optiform.families.plan_questions import making_of
from optiform.families.shared_base import base_parts
from optiform.views.data.json_document import document_of
from optiform.views.data.sheet_xlsx import records_workbook
from tests.families.plans import asked, briefs, library, plan
from tests.sheets.kit import bench_library, brief, formula

HELD = library(1)
READ = plan(HELD, briefs(HELD, 1), minimise="consumed", same=("surfactant",))


@pytest.fixture(scope="module")
def based():
    return asked(READ)


def test_base_and_finishes_say_what_the_family_says(based):
    made = making_of(based, 0.1)
    assert made.base
    base, *finishes = made.sheets
    assert {line.material for line in base.batch.batch.lines} == {line.material for line in based.base.lines}
    assert base.batch.batch.total_g == pytest.approx(based.base.grams, abs=0.3)
    for sheet, finish, member in zip(finishes, based.base.finishes, based.products, strict=True):
        assert sheet.batch.batch.total_g == pytest.approx(member.grams)
        shared, *own = sorted(sheet.batch.batch.lines, key=lambda line: line.material != "shared-base")
        assert shared.grams == pytest.approx(finish.base_g, abs=0.11)
        assert {line.material for line in own} == {material for material, _, _ in finish.lines}
        assert not sheet.breaks


def test_what_is_the_same_in_every_product_is_base_even_where_no_function_names_it():
    """Two products of one brief have the same humectant too: nothing but the last water is left to finish."""
    one = briefs(HELD, 1)[0]
    twins = plan(
        HELD, [one, one.model_copy(update={"title": "its twin"})], minimise="consumed", same=("surfactant",)
    )
    found = asked(twins)
    named = {line.material for line in found.base.lines}
    assert {stand.material for stand in found.shelf} <= named
    assert any(stand.function == "humectant" for stand in found.shelf)
    assert all(not finish.lines for finish in found.base.finishes)
    base, *finishes = batch_records(found).sheets
    assert [[line.material for line in sheet.batch.batch.lines] for sheet in finishes] == [
        ["shared-base"]
    ] * 2
    assert base.batch.batch.total_g == sum(sheet.batch.batch.total_g for sheet in finishes)


def wash(soap, polyol):
    """Return a brief that lets one soap in, and asks for so much polyol [% w/w]."""
    others = [material.id for material in HELD.materials if material.function == "surfactant"]
    return Brief(
        title=f"of {soap}",
        library=HELD,
        law="none",
        aim=Aim(),
        targets={"active matter": Target(at_least=5.0)},
        include=(Include(function="humectant", at_least=polyol),),
        exclude=tuple(Exclude(material=name) for name in others if name != soap),
    )


def test_a_base_of_nothing_is_no_base():
    """The library has no oil, and these two have nothing but water in common."""
    found = asked(plan(HELD, [wash("soap-0", 1.0), wash("soap-1", 2.0)], minimise="consumed", same=("oil",)))
    assert found.status == "solved"
    assert found.base is None
    assert any("there is no base to make" in note for note in found.notes)
    assert not batch_records(found).base


def test_what_wets_the_gum_of_a_product_stays_out_of_the_base():
    """Glycerin is the same in both, but the gum of one is slurried in it."""
    held = bench_library()
    typed = [
        formula(name, water=round(95.2 - gum, 6), cool_preservative=0.8, glycerin=4.0, gum=gum)
        for name, gum in (("nettle", 0.5), ("quince", 0.0))
    ]
    asked_for = [brief(held, title=one.name) for one in typed]
    made = [evaluate(one, held, own).formulas[0] for one, own in zip(typed, asked_for, strict=True)]
    products = tuple(Planned(own.title, own, 1000.0) for own in asked_for)
    parts = base_parts(FamilyPlan("two", held, products, same=("preservative", "humectant")), made)
    assert set(parts) == {"cool-preservative", "water"}
    without = FamilyPlan("one", held, products[1:], same=("preservative", "humectant"))
    assert "glycerin" in base_parts(without, made[1:])


def test_without_a_base_each_product_has_a_record_of_its_own():
    found = asked(replace(READ, same=()))
    made = batch_records(found)
    assert not made.base
    assert [sheet.title for sheet in made.sheets] == [product.title for product in READ.products]
    for sheet, member in zip(made.sheets, found.products, strict=True):
        assert {line.material for line in sheet.batch.batch.lines} == {
            line.material for line in member.formula.lines
        }


def test_every_form_has_every_record(based):
    made = batch_records(based)
    document = json.loads(made.to_json())
    TypeAdapter(document_of("family batch")).validate_python(document)
    assert [sheet["title"] for sheet in document["sheets"]] == [sheet.title for sheet in made.sheets]
    text, page = made.to_text(), made.to_html()
    for sheet in made.sheets:
        assert f"\n{sheet.title}\n" in text
        assert f">{sheet.title}</h1>" in page
        assert f">{sheet.title}</a>" in page, "the contents of the page are its records"
    table = made.frame()
    assert len(table) == sum(len(sheet.batch.batch.lines) for sheet in made.sheets)
    book = load_workbook(io.BytesIO(records_workbook(made.sheets)))
    assert book.sheetnames == ["Weigh 1", "Record 1", "Weigh 2", "Record 2", "Weigh 3", "Record 3"]
    assert "'Weigh 2'!$B$2" in book["Record 2"]["A2"].value


def test_the_command_writes_the_records(tmp_path, monkeypatch, based):
    monkeypatch.setattr("optiform.families.load_family", lambda path: READ)
    monkeypatch.setattr("optiform.families.plan_questions.ask_family", lambda read, **settings: based)
    out, book = tmp_path / "records.json", tmp_path / "records.xlsx"
    told = ["family", "p.toml", "--part", "batch", "--balance", "1g", "--format", "json"]
    run = CliRunner().invoke(entry.app, [*told, "--out", str(out), "--xlsx", str(book)])
    assert run.exit_code == 0, run.output
    document = json.loads(out.read_text())
    assert (document["question"], document["base"]) == ("family batch", True)
    assert {sheet["batch"]["batch"]["balance_g"] for sheet in document["sheets"]} == {1.0}
    assert book.exists()
    refused = CliRunner().invoke(entry.app, ["family", "p.toml", "--balance", "1g"])
    assert isinstance(refused.exception, BadInput)
