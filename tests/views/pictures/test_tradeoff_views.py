"""A trade-off and counted lots on screen, as data and as a picture; the command and its exit codes."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from typer.testing import CliRunner

from optiform.answers.evaluate import evaluate
from optiform.answers.tradeoff import Here, TradeOff, tradeoff
from optiform.brief.models import Brief, Choose, Target
from optiform.cli.entry import app, main
from optiform.library.formulas import TypedFormula
from optiform.views.data import csv_table
from optiform.views.data.json_document import document as written
from optiform.views.data.json_document import plain
from optiform.views.data.shapes import Lots
from optiform.views.pictures.tradeoff_picture import description, tradeoff_png, tradeoff_svg
from optiform.views.render import markdown, page, text
from optiform.views.results.formula import lots_blocks
from optiform.views.results.tradeoff import plot
from optiform.views.results.tradeoff import rows as rows_of
from optiform.views.screens import tradeoff_blocks
from optiform.views.words import tradeoff_words
from optiform.views.words.blocks import Block, Table
from optiform.views.words.tradeoff_scale import drawn, round_bounds
from tests.answers.tradeoff.test_tradeoff import SURFACTANTS, brief_of, library_of
from tests.program.rows.test_certainty_rows import wash

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def brief() -> Brief:
    targets = {"active matter": Target(at_least=8.0, at_most=12.0), "mildness": Target(at_least=70.0)}
    targets["cost"] = Target(at_most=1.0)
    return brief_of(
        library_of(SURFACTANTS),
        targets=targets,
        choose=(Choose(function="surfactant", at_least=1, at_most=2),),
    )


@pytest.fixture(scope="module")
def found(brief: Brief) -> TradeOff:
    return tradeoff(brief, "cost", "mildness", within=0.01)


@pytest.fixture(scope="module")
def family(brief: Brief) -> TradeOff:
    return tradeoff(brief, "cost", "mildness", third=("active matter", [8.0, 11.0]), within=0.02)


def test_no_line_is_wider_than_the_screen(found: TradeOff, family: TradeOff) -> None:
    for told in (found, family):
        for everything in (False, True):
            shown = text.render(tradeoff_blocks(told, everything=everything), text.Screen(80))
            assert max(map(len, shown.splitlines())) <= 80


def test_the_screen_tells_what_stands_out(found: TradeOff) -> None:
    shown = " ".join(text.render(tradeoff_blocks(found)).split())
    assert "The least cost for each bound on mildness, at least." in shown
    assert "Proven: nowhere does any formula beat the curve by more than" in shown
    assert "The brief asks for at least 70 points:" in shown
    assert "The brief's own limit of 1.00 EUR/kg allows" in shown
    assert "Where the materials change" in shown
    assert "goggles" in shown  # the cautions


def test_other_forms(found: TradeOff, family: TradeOff) -> None:
    assert "| 70 |" in markdown.render(tradeoff_blocks(found))
    drawn = page.render(tradeoff_blocks(family, drawn=True), "t")
    assert "<svg" in drawn
    assert "<script" not in drawn


def test_the_plot_has_its_ends(found: TradeOff, family: TradeOff) -> None:
    lines = plot(found).splitlines()
    assert lines[0] == "cost [EUR/kg]"
    assert any(line.rstrip().endswith("*") for line in lines[1:])
    assert "mildness at least" in lines[-1]
    assert {"*", "o"} <= set(plot(family))


def test_round_bounds_have_the_brief_and_the_ends(found: TradeOff) -> None:
    bounds = round_bounds(found, found.curve)
    assert 70.0 in bounds
    assert bounds == sorted(bounds)
    assert bounds[0] == found.curve.stretches[0].start.bound
    assert bounds[-1] == found.curve.stretches[-1].end.bound


def test_json_has_every_knot_and_digit(family: TradeOff) -> None:
    document = json.loads(written("tradeoff", family))
    assert (document["question"], document["schema"], document["status"]) == ("tradeoff", 2, "solved")
    assert [curve["third"]["bound"] for curve in document["curves"]] == [8.0, 11.0]
    for curve, told in zip(family.curves, document["curves"], strict=True):
        assert len(told["stretches"]) == len(curve.stretches)
        assert told["stretches"][-1]["end"]["value"] == curve.stretches[-1].end.value
        lines = told["stretches"][0]["end"]["lines"]
        assert sum(line["percent"] for line in lines) == pytest.approx(100.0)


def test_csv_has_both_ends_of_every_stretch(found: TradeOff) -> None:
    rows = list(csv.DictReader(io.StringIO(csv_table.table(*rows_of(found)))))
    assert len(rows) == 2 * len(found.curve.stretches)
    assert float(rows[-1]["value"]) == found.curve.stretches[-1].end.value


def test_the_picture_stands_alone_and_speaks(family: TradeOff) -> None:
    drawn = tradeoff_svg(family)
    root = ElementTree.fromstring(drawn)
    assert root.tag == f"{SVG}svg"
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert title.text == "t: cost against mildness"
    assert desc is not None
    assert desc.text == description(family)
    assert "active matter at least 8 % w/w" in (desc.text or "")
    assert root.get("role") == "img"
    assert not re.search(r"(href|src)=\"(?!#)", drawn)
    assert drawn == tradeoff_svg(family)


def test_the_picture_as_png(found: TradeOff) -> None:
    assert tradeoff_png(found).startswith(b"\x89PNG\r\n\x1a\n")


def test_a_count_is_bounded_in_whole_numbers(brief: Brief) -> None:
    counted = tradeoff(brief, "cost", "ingredients")
    assert all(bound == int(bound) for bound in round_bounds(counted, counted.curve))
    assert tradeoff_words.price_unit(counted) == "EUR/kg per material"
    steps = [counted.curve.at(bound) for bound in (counted.curve.tightest + 1, counted.curve.tightest)]
    knee = counted.curve.knees[-1]
    assert None not in steps
    assert "at any number of ingredients" in tradeoff_words.proof(counted)
    assert tradeoff_words.findings(counted, counted.curve)[0].startswith("It reaches from ")
    assert knee.after == pytest.approx((steps[1] or 0.0) - (steps[0] or 0.0))


def table_of(blocks: list[Block], title: str) -> Table:
    return next(block for block in blocks if isinstance(block, Table) and block.caption == title)


@pytest.fixture(scope="module")
def stairs(brief: Brief) -> TradeOff:
    # one surfactant at a time: mildness is its index, so the curve jumps at 30, 55 and 75 points
    one = brief.model_copy(update={"choose": (Choose(function="surfactant", at_least=1, at_most=1),)})
    return tradeoff(one, "cost", "mildness")


class TestEveryPoint:
    def test_a_jump_has_both_values(self, stairs: TradeOff) -> None:
        rows = table_of(tradeoff_blocks(stairs, everything=True), "The curve at every point").rows
        assert [row[0] for row in rows] == ["30", "30", "55", "55", "75", "75", "92"]
        values = [float(row[1]) for row in rows]
        # 8 % active matter at 1.2 EUR per 70 %, 2.4 and 3.6 per 30 % and 7.5 per 50 %
        prices = [100 * 1.2 / 70, 100 * 2.4 / 30, 100 * 3.6 / 30, 100 * 7.5 / 50]
        assert sorted(set(values)) == pytest.approx([0.08 * price for price in prices], abs=1e-4)
        assert [row[3].endswith("at once") for row in rows] == [True, False, True, False, True, False, False]

    def test_each_row_is_a_point_of_its_own(self, found: TradeOff) -> None:
        rows = table_of(tradeoff_blocks(found, everything=True), "The curve at every point").rows
        assert len({row[:2] for row in rows}) == len(rows)
        assert sum("the knee" in row[3] for row in rows) == sum(knee.main for knee in found.curve.knees)


def test_where_every_formula_has_the_same_nothing_is_drawn(brief: Brief) -> None:
    shown = " ".join(text.render(tradeoff_blocks(tradeoff(brief, "cost", "cationic"))).split())
    assert "Nothing to trade: every formula has cationic 0.000 % w/w, the best of them 0." in shown
    assert "The curve:" not in shown
    assert shown.count("harsh one") == 1


def test_a_family_without_any_formula_proves_no_curve(brief: Brief) -> None:
    found = tradeoff(brief, "cost", "mildness", third=("substance:Active harsh-one", [12.5, 13.0]))
    shown = text.render(tradeoff_blocks(found))
    assert found.status == "conflict"
    assert shown.count("Nothing is possible here") == 2
    assert "Proven" not in shown


def test_another_structure_is_marked_and_explained(stairs: TradeOff) -> None:
    blocks = tradeoff_blocks(stairs)
    assert [row[1] for row in table_of(blocks, "Where the materials change").rows] == ["*"] * 3
    assert "* another structure: another choice of surfactant" in text.render(blocks)


class TestPlot:
    def test_curves_that_lie_on_each_other_take_turns(self, found: TradeOff) -> None:
        doubled = replace(found, curves=(found.curve, found.curve))
        cells = "".join(line.partition("|")[2] for line in plot(doubled).splitlines())
        assert cells.count("*") == cells.count("o") == 30

    def test_of_a_long_flat_beginning_only_the_end_is_drawn(self) -> None:
        rows = {name: row for name, row in SURFACTANTS.items() if name != "dear-soft-one"}
        dear = {**rows, "dear": (90.0, 50.0, 10.0, "nonionic", 0.0)}
        targets = {"active matter": Target(at_least=8.0, at_most=12.0)}
        found = tradeoff(brief_of(library_of(dear), targets=targets), "mildness", "cost", within=0.05)
        curve = found.curve
        left, right = drawn([curve])
        assert (curve.loosest, right) == (pytest.approx(21.6), curve.tightest)
        flat, rest = left - curve.costs_from, curve.costs_from - right
        assert flat == pytest.approx(0.5 * rest)
        assert curve.loosest in round_bounds(found, curve)

    def test_the_brief_is_always_drawn(self, found: TradeOff) -> None:
        here = Here(bound=found.curve.loosest, value=found.curve.stretches[0].start.value, free_to=None)
        assert drawn([replace(found.curve, here=here)])[0] == found.curve.loosest


def test_a_name_too_long_for_its_column_breaks_after_a_hyphen() -> None:
    assert text.wrap("disodium-laureth-sulfosuccinate", 28) == ["disodium-laureth-", "sulfosuccinate"]


class TestLots:
    def test_blocks_and_fields(self) -> None:
        library = wash()
        brief = Brief(title="t", library=library, law="none", targets={"active matter": Target(at_least=8.0)})
        typed = TypedFormula(name="typed", lines=(("glucoside", 16.0), ("water", 84.0)), total=100.0)
        lots = evaluate(typed, library, brief).formulas[0].lots
        assert lots is not None
        shown = text.render(lots_blocks(lots), text.Screen(80))
        assert max(map(len, shown.splitlines())) <= 80
        told = " ".join(shown.split())
        assert "All limits that depend on the lot hold together in" in told
        assert "of 10,000 drawn lots (seed 1) of glucoside." in told
        assert "7.68" in shown
        assert "8.32" in shown
        fields = plain(Lots.model_validate(lots))
        assert fields["limits"][0]["held"] == lots.limits[0].held
        assert fields["distribution"] == "triangular"

    def test_nothing_is_said_where_nothing_varies(self) -> None:
        assert lots_blocks(None) == []


class TestCommand:
    @pytest.fixture
    def small(self, tmp_path: Path) -> Path:
        path = tmp_path / "small.toml"
        path.write_text(
            'title = "Small"\nlaw = "none"\n[targets]\n"active matter" = { at_least = 6.0, at_most = 6.0 }\n'
            '[[choose]]\nfunction = "surfactant"\nat_most = 1\n'
            '[[exclude]]\nfunction = "thickener"\n[[exclude]]\nfunction = "oil"\n[[exclude]]\nfunction = "extract"\n',
            encoding="utf-8",
        )
        return path

    def test_text_json_and_picture(self, small: Path, tmp_path: Path) -> None:
        drawn = tmp_path / "curve.svg"
        words = [
            "tradeoff",
            str(small),
            "--of",
            "cost",
            "--against",
            "active matter",
            "--picture",
            str(drawn),
        ]
        result = CliRunner().invoke(app, [*words, "--format", "json"])
        assert result.exit_code == 0, result.output
        assert json.loads(result.stdout)["against"]["measure"] == "active matter"
        ElementTree.fromstring(drawn.read_text(encoding="utf-8"))
        assert main([*words]) == 2  # the picture is there already

    def test_stopped(self, small: Path, capsys: pytest.CaptureFixture[str]) -> None:
        wide = small.read_text(encoding="utf-8").replace(
            '[[choose]]\nfunction = "surfactant"\nat_most = 1\n', ""
        )
        small.write_text(wide, encoding="utf-8")
        assert main(["tradeoff", str(small), "--seconds", "0.1"]) == 4
        assert "Stopped at the limit" in " ".join(capsys.readouterr().out.split())

    def test_conflict(self, small: Path, capsys: pytest.CaptureFixture[str]) -> None:
        impossible = small.read_text(encoding="utf-8").replace("6.0, at_most = 6.0", "99.0, at_most = 99.5")
        small.write_text(impossible, encoding="utf-8")
        assert main(["tradeoff", str(small)]) == 3
        assert "cannot be met" in capsys.readouterr().out

    @pytest.mark.parametrize(
        ("more", "words"),
        [
            (["--picture", "curve.gif"], "is no kind of picture"),
            (["--picture", "no-such-folder/curve.svg"], "--picture: there is no such folder"),
            (["--third", "active matter"], "cannot be read"),
            (["--against", "mild"], "there is no measure 'mild'"),
            (["--against", "viscosity"], "is a window"),
        ],
    )
    def test_bad_input(
        self, small: Path, capsys: pytest.CaptureFixture[str], more: list[str], words: str
    ) -> None:
        assert main(["tradeoff", str(small), *more]) == 2
        assert words in capsys.readouterr().err
