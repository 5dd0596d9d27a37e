"""A screen is a selection of the parts that the results have; each part stands once, under its own name."""

from __future__ import annotations

import math

import pytest

from optiform.views import screens
from optiform.views.first import answer as at_first
from optiform.views.pictures import composition, costs, page_parts
from optiform.views.results import answer, formula
from optiform.views.words.blocks import Bullets, Heading, OnPages, Paragraph, bullets, section
from tests.views import samples

ALL = {"ranked": screens.RANKED, **screens.SCREENS}
KNOWN = {*answer.PARTS, *page_parts.ANSWER_PARTS, screens.FORMULAS}
KNOWN_OF_A_FORMULA = {*formula.PARTS, *page_parts.FORMULA_PARTS}


@pytest.mark.parametrize("name", ALL)
def test_a_screen_names_parts_that_there_are_each_once(name):
    screen = ALL[name]
    assert set(screen.answer) <= KNOWN and len(set(screen.answer)) == len(screen.answer)
    assert set(screen.formula) <= KNOWN_OF_A_FORMULA and len(set(screen.formula)) == len(screen.formula)


@pytest.mark.parametrize("question", screens.LEAD)
def test_the_head_of_a_page_names_parts_that_there_are_each_once(question):
    head = screens.LEAD[question]
    assert set(head) <= {*at_first.PARTS, *KNOWN} and len(set(head)) == len(head)


def test_no_part_is_left_out_of_every_screen():
    heads = {part for head in screens.LEAD.values() for part in head}
    assert {part for screen in ALL.values() for part in screen.answer} | (heads & KNOWN) == KNOWN
    assert {part for screen in ALL.values() for part in screen.formula} == KNOWN_OF_A_FORMULA


def test_what_only_a_page_has_is_what_the_page_parts_have():
    assert set(screens.ON_PAGES) == {*page_parts.ANSWER_PARTS, *page_parts.FORMULA_PARTS}


@pytest.mark.parametrize("name", samples.ALL)
def test_every_screen_begins_with_its_title_and_ends_with_cautions(name):
    blocks = screens.answer_blocks(samples.ALL[name])
    assert isinstance(blocks[0], Heading) and blocks[0].level == 1
    assert blocks[-2] == Heading("Cautions") and isinstance(blocks[-1], Bullets)
    assert not any(isinstance(block, OnPages) for block in blocks)


def test_a_heading_never_stands_over_nothing():
    assert bullets("Notes", ()) == [] == section("Notes", Bullets(()))
    assert section("Notes", Paragraph("a"), level=3) == [Heading("Notes", 3), Paragraph("a")]


def test_the_parts_of_a_picture_add_up_to_the_whole():
    """Sums by hand over the lines of the sample."""
    lines = samples.FIRST.lines
    groups = composition.by_function(samples.FIRST)
    assert next(iter(groups)) == "water"
    assert math.isclose(
        math.fsum(line.percent for group in groups.values() for line in group),
        math.fsum(line.percent for line in lines),
    )
    parts = costs.parts_of(samples.FIRST)
    assert [cost for _, cost, _ in parts] == sorted((line.cost for line in lines), reverse=True)
    assert math.isclose(math.fsum(share for _, _, share in parts), 100.0)
