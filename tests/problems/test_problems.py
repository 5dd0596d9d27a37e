"""Every shipped problem is answered as its expected.json says, and the answer survives a calculator."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest

from optiform.answers.model import Answer
from optiform.law.frames import exceeded
from tests.asked import designed
from tests.problems import by_hand

FOLDERS = sorted(path.parent for path in (Path(__file__).parents[2] / "problems").glob("*/brief.toml"))
WASHES = [folder for folder in FOLDERS if not (folder / "library").exists()]


def name(folder: Path) -> str:
    return folder.name


def answered(folder: Path) -> Answer:
    return designed(folder.name)


def expected(folder: Path) -> dict[str, Any]:
    return json.loads((folder / "expected.json").read_text(encoding="utf-8"))


def brief(folder: Path) -> dict[str, Any]:
    return tomllib.loads((folder / "brief.toml").read_text(encoding="utf-8"))


def formulas(folder: Path) -> list[dict[str, float]]:
    return [{line.material: line.percent for line in formula.lines} for formula in answered(folder).formulas]


@pytest.mark.parametrize("folder", FOLDERS, ids=name)
def test_a_problem_has_a_brief_notes_and_an_expected_answer(folder: Path) -> None:
    for needed in ("brief.toml", "notes.md", "expected.json"):
        assert (folder / needed).exists()


@pytest.mark.parametrize("folder", FOLDERS, ids=name)
def test_the_answer_is_the_expected_one(folder: Path) -> None:
    answer, wanted = answered(folder), expected(folder)
    assert answer.status == wanted["status"]
    assert answer.proven
    if wanted["status"] == "conflict":
        assert answer.conflict is not None
        assert sorted(r.title for r in answer.conflict.requirements) == sorted(wanted["conflict"])
        return
    assert [formula.aim for formula in answer.formulas] == pytest.approx(wanted["aims"], abs=wanted["within"])
    best = answer.formulas[0]
    for material, percent in wanted["lines"].items():
        assert dict(formulas(folder)[0])[material] == pytest.approx(
            percent, abs=wanted.get("percent_within", 0.01)
        )
    assert set(wanted["lines"]) == {line.material for line in best.lines}


@pytest.mark.parametrize("folder", WASHES, ids=name)
def test_the_calculator_agrees(folder: Path) -> None:
    shelf = by_hand.shelf()
    for formula, lines in zip(answered(folder).formulas, formulas(folder), strict=True):
        assert sum(lines.values()) == pytest.approx(100, abs=1e-9)
        assert formula.cost == pytest.approx(by_hand.cost(shelf, lines), abs=1e-9)
        assert formula.figure("active matter").value == pytest.approx(
            by_hand.active_matter(shelf, lines), abs=1e-9
        )
        assert formula.figure("mildness").value == pytest.approx(by_hand.mildness(shelf, lines), abs=1e-9)


@pytest.mark.parametrize("folder", WASHES, ids=name)
def test_the_brief_holds_by_calculator(folder: Path) -> None:
    shelf, wishes = by_hand.shelf(), brief(folder)
    targets = wishes["targets"]
    for formula, lines in zip(answered(folder).formulas, formulas(folder), strict=True):
        for measure, value in (
            ("active matter", by_hand.active_matter(shelf, lines)),
            ("mildness", by_hand.mildness(shelf, lines)),
            ("cost", by_hand.cost(shelf, lines)),
            ("ingredients", float(len(lines))),
            ("function:oil", by_hand.of_function(shelf, lines, "oil")),
            ("pH", formula.figure("pH").value or 0.0),
        ):
            bounds = targets.get(measure, {})
            assert bounds.get("at_least", 0.0) - 1e-6 <= value <= bounds.get("at_most", 1e9) + 1e-6, measure
        for wish in wishes.get("exclude", []):
            if "tag" in wish:
                assert not [m for m in lines if by_hand.has_tag(shelf, m, wish["tag"])]
        for wish in wishes.get("include", []):
            amount = (
                lines.get(wish["material"], 0.0)
                if "material" in wish
                else by_hand.of_function(shelf, lines, wish["function"])
            )
            assert wish.get("at_least", 0.001) - 1e-6 <= amount <= wish.get("at_most", 100.0) + 1e-6
        cap = next(share["at_most"] for share in wishes["share"] if share.get("each") == "surfactant")
        assert by_hand.largest_share(shelf, lines) <= cap + 1e-6


@pytest.mark.parametrize("folder", WASHES, ids=name)
def test_no_formula_makes_a_formulator_laugh(folder: Path) -> None:
    """Guards of common practice, and the EU's maxima for benzoic and sorbic acid (Annex V, 1 and 4)."""
    shelf = by_hand.shelf()
    for lines in formulas(folder):
        assert by_hand.benzoic_as_acid(shelf, lines) <= 2.5 + 1e-6
        assert by_hand.sorbic_as_acid(shelf, lines) <= 0.6 + 1e-6
        assert by_hand.of_function(shelf, lines, "preservative") >= 0.5
        assert sum(1 for m in lines if shelf.materials[m]["function"] == "surfactant") >= 2
        assert len(lines) <= 15
        polyols = sum(p for m, p in lines.items() if "dispersing" in shelf.materials[m]["tags"].split())
        gums = sum(p for m, p in lines.items() if m in ("xanthan-gum", "sclerotium-gum", "cationic-guar"))
        assert polyols >= 4 * gums - 1e-6
        for material, percent in lines.items():
            if material != "water":
                assert percent >= float(shelf.materials[material]["min_if_used"] or 0.001) - 1e-6


@pytest.mark.parametrize("folder", WASHES, ids=name)
def test_every_formula_is_inside_its_frame(folder: Path) -> None:
    """The frame formulations 10.1-2013 and 2.2-2013 for notification, as the British service prints them."""
    area = brief(folder).get("area", "face")
    for lines in formulas(folder):
        assert exceeded(area, by_hand.totals(by_hand.shelf(), lines)) == ()
