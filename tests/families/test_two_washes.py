"""Two shipped washes on one shelf: held at their own ionic strength, and shown in every form."""

import io
import json
from dataclasses import replace
from html import unescape

import pytest
from openpyxl import load_workbook
from pydantic import TypeAdapter
from typer.testing import CliRunner

import optiform
from optiform import evaluate
from optiform.brief.models import Certainty
from optiform.cli import entry
from optiform.cli.families import shown
from optiform.families.plan import FamilyPlan, Planned, load_family
from optiform.measures.acidity import charge_curves
from optiform.sheets.purchase.shopping import Make, shopping
from optiform.views.data.family_xlsx import family_workbook
from optiform.views.data.json_document import document_of
from optiform.views.output import Output
from optiform.views.results.families.family import PARTS
from optiform.views.words.blocks import Paragraph, Table
from optiform.views.words.family_tables import names
from tests.asked import PROBLEMS, problem
from tests.families.plans import NETTLE, OAT, WITHIN, asked, briefs, library, plan, two_washes


def test_every_formula_breaks_nothing_and_confirms_its_own_ionic_strength():
    """By `evaluate`, which takes the formula as one that was typed in."""
    found = two_washes()
    for member, name in zip(found.products, (NETTLE, OAT), strict=True):
        lines = {line.material: line.percent for line in member.formula.lines}
        judged = evaluate(lines, brief=problem(name)).formulas[0]
        assert not judged.breaks
        settled = charge_curves(problem(name).library).settle(
            problem(name).library.arrays.amounts(tuple(lines.items()))
        )
        assert settled is not None
        assert member.formula.acidity.ionic_strength == pytest.approx(settled.ionic_strength, abs=1e-6)


def test_the_shelf_is_shorter_and_the_saving_is_told_against_both_separate_ways():
    """Alone is what the shipped problems record as the first answer of design."""
    found = two_washes()
    recorded = [json.loads((PROBLEMS / name / "expected.json").read_text()) for name in (NETTLE, OAT)]
    assert [member.alone for member in found.products] == pytest.approx(
        [one["aims"][0] for one in recorded], abs=5e-5
    )
    separate = {material for one in recorded for material in one["lines"]} - {"water"}
    assert found.together.materials == len(separate)
    assert found.materials < len(separate)
    assert found.materials == found.here.materials == len(found.shelf)
    assert found.together.cash <= found.apart.cash
    for member in found.products:
        assert member.aim_here <= member.aim_alone * (1 + WITHIN) + 1e-6
    assert found.one_less is None
    assert found.one_more.money <= found.money + 1e-6


def test_the_first_screen_is_one_look():
    text = two_washes().to_text()
    lines = text.rstrip("\n").split("\n")
    assert len(lines) <= 42
    assert max(map(len, lines)) <= 80
    for words in ("Two washes", "bought one by one", "designed together", "The shelf", "Take care", "Next:"):
        assert words in text


def test_every_form_tells_the_same_shelf():
    found = two_washes()
    document = json.loads(found.to_json())
    TypeAdapter(document_of("family")).validate_python(document)
    assert document["question"] == "family"
    assert document["materials"] == len(document["shelf"]) == len(found.matrix)
    for stand in document["shelf"]:
        assert [one["product"] for one in stand["percents"]] == stand["products"]
    table = found.frame()
    assert set(table["material"]) == {stand.material for stand in found.shelf}
    page = found.to_html()
    assert "The shelf in a picture" in page
    wide = unescape(page.partition('<div class="wide-picture">')[2].partition("</svg>")[0])
    assert all(names(found).short(stand.material) in wide for stand in found.shelf), "no name is cut"
    assert "What keeps each material" in page
    book = load_workbook(io.BytesIO(family_workbook(found)))
    assert book.sheetnames == ["Shelf", "Products", "Shopping"]
    assert family_workbook(found) == family_workbook(found)
    assert len(repr(found)) < 2000


def test_the_command_designs_one_product_to_buy_for(tmp_path):
    """What design --batch --aim says of one product is what a plan of one product says; per kg it costs no less."""
    brief = problem("first-bath-baby-mild").file
    run = CliRunner().invoke(
        entry.app, ["design", brief, "--batch", "2kg", "--aim", "consumed", "--format", "json"]
    )
    assert run.exit_code == 0, run.output
    told = json.loads(run.stdout)
    assert (told["question"], told["status"]) == ("family", "solved")
    assert told["products"][0]["here"] == pytest.approx(told["products"][0]["alone"], rel=0.01)
    assert told["here"]["consumed"] <= told["together"]["consumed"] + 1e-6
    refused = CliRunner().invoke(entry.app, ["design", brief, "--batch", "2kg"])
    assert isinstance(refused.exception, optiform.BadInput)


def test_the_function_takes_a_plan_as_a_value():
    held = library(2)
    read = plan(held, briefs(held, 2), minimise="materials")
    assert optiform.family(read).materials == asked(read).materials


@pytest.mark.slow
def test_the_shipped_plan_says_what_its_notes_say():
    """problems/spring-washes/notes.md; purchases apart and together are also those of the purchase program alone."""
    read = load_family(PROBLEMS / "spring-washes" / "plan.toml")
    found = asked(read)
    assert found.proven
    assert found.cash == pytest.approx(119.80, abs=0.13)
    assert found.together.cash == pytest.approx(154.55, abs=0.005)
    assert found.apart.cash == pytest.approx(197.80, abs=0.005)
    assert (found.apart.materials, found.materials) == (29, 23)
    assert found.fewest
    alone = [
        Make(
            title=member.title,
            lines=tuple((line.material, line.percent) for line in member.alone_formula.lines),
            batch_g=member.grams,
        )
        for member in found.products
    ]
    buys = [shopping(made, read.library, offers=read.offers).cash for made in ([one] for one in alone)]
    assert sum(buys) == pytest.approx(found.apart.cash)
    assert shopping(alone, read.library, offers=read.offers).cash == pytest.approx(found.together.cash)


@pytest.mark.slow
def test_a_product_with_a_certainty_is_counted_over_drawn_lots():
    """Limits that hold for every lot hold in every drawn one; the other product is judged at its typical lot."""
    sure = problem(NETTLE).model_copy(update={"certainty": Certainty(lots="all")})
    products = (Planned("Sure", sure, 1000.0), Planned("Typical", problem(OAT), 1000.0))
    found = asked(FamilyPlan("Two", sure.library, products, minimise="consumed"))
    assert found.status == "solved"
    assert found.products[0].formula.lots is not None
    assert found.products[0].formula.lots.share > 0.99
    assert found.products[1].formula.lots is None
    assert any(note.startswith("Sure: every limit holds in") for note in found.notes)


@pytest.mark.slow
def test_a_product_that_cannot_be_made_is_told_with_its_own_ways_out(tmp_path):
    """The shipped problem too-many-wishes cannot be met by itself."""
    path = tmp_path / "plan.toml"
    names = [problem(name).file for name in ("too-many-wishes", OAT)]
    products = "".join(f'[[product]]\nbrief = "{name}"\nbatch = "1kg"\n' for name in names)
    path.write_text(f'title = "Two"\n{products}')
    run = CliRunner().invoke(entry.app, ["family", str(path)])
    assert run.exit_code == 3
    assert "cannot be made by itself" in run.stdout


def test_a_family_that_cannot_be_made_says_why_in_every_form_and_has_its_exit_code(capsys):
    held = library(1)
    refused = asked(plan(held, briefs(held, 1), at_most=1))
    assert shown(Output(), Output(), refused, full=False) == 3
    said = capsys.readouterr().out
    assert "cannot be made" in said
    assert "materials_at_most = " in said
    assert json.loads(refused.to_json())["conflict"]["ways"]
    assert "Any one of these is enough" in refused.to_html()
    assert refused.frame().empty


def test_without_time_nothing_is_claimed():
    held = library(1)
    late = asked(plan(held, briefs(held, 1)), seconds=0.0)
    assert (late.status, late.proven, late.products) == ("stopped", False, ())
    assert "allow more seconds" in late.to_text()


def test_limits_without_a_price_are_counted_in_one_line():
    """A column that says of most limits that they have no price is a wall on a phone; what has one stands alone."""
    found = two_washes()
    priced = [replace(one, costs=0.25) for one in found.limits[:2]]
    unpriced = [replace(one, costs=None) for one in (*found.limits, *found.limits)[:3]]
    for limits, rows, told in (
        (priced, 2, ""),
        (
            (*unpriced, *priced),
            2,
            "3 further limits can be no tighter with these materials, and so have no price.",
        ),
        (unpriced[:1], 0, "1 limit can be no tighter with these materials, and so has no price."),
        ((), 0, ""),
    ):
        blocks = PARTS["limits"](replace(found, limits=tuple(limits)))
        tables = [block for block in blocks if isinstance(block, Table)]
        assert [len(table.rows) for table in tables] == ([rows] if rows else [])
        said = [block.text for block in blocks if isinstance(block, Paragraph) and block.tone != "quiet"]
        assert said == ([told] if told else [])
