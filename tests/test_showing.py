"""A result shows itself as the command line does: short where it is printed, whole where it is asked for."""

from __future__ import annotations

import json
from dataclasses import replace
from html import unescape
from xml.etree import ElementTree

import pytest

from optiform.api import sheet
from optiform.api.given import at_home
from optiform.showing import Showing
from optiform.views.forms import result_of
from optiform.views.render import text
from tests.views import samples
from tests.views.first.screens import designed

NETTLE, WISHES = "nettle-gel-oily-skin-brief", "too-many-wishes-brief"


def results() -> list[Showing]:
    return [designed(NETTLE), designed(WISHES), sheet(designed(NETTLE).formulas[0], "1 kg")]


@pytest.mark.parametrize("place", range(3))
def test_a_repr_is_short_and_says_what_it_is(place):
    found = results()[place]
    assert len(repr(found)) < 2_000
    assert repr(found).startswith(f"{type(found).__name__}(") and found.title in repr(found)


def test_the_repr_of_a_formula_is_short():
    told = repr(designed(NETTLE).formulas[0])
    assert len(told) < 2_000 and told.startswith("Formula(rank=1, ")


def test_a_formula_alone_shows_itself_as_its_evaluation():
    found = at_home(designed(NETTLE)).formulas[1]
    assert ", formula 2" in found.to_text() and len(found.to_text().splitlines()) <= 42
    assert "breaks nothing" in found.to_text()
    assert found.lines[0].name in found.to_text(full=True) and "<h1" in found.to_html()
    document = json.loads(found.to_json())
    assert document["question"] == "evaluate" and document["formulas"][0]["rank"] == 2
    assert list(found.frame()["material"]) == [line.material for line in found.lines]
    with pytest.raises(TypeError, match="knows its brief"):
        replace(found, brief=None).to_text()


@pytest.mark.parametrize("name", samples.ALL)
def test_text_is_one_look_or_everything(name):
    answer = samples.ALL[name]
    assert answer.to_text() == result_of(answer).to_text(text.Screen())
    assert "Cautions" in answer.to_text(full=True)
    assert answer.to_text() != answer.to_text(full=True)


def test_a_notebook_shows_the_page_by_itself():
    """In a frame of its own: the page's looks touch no other cell, and no mark in it ends the frame."""
    shown = designed(WISHES)._repr_html_()
    assert shown.startswith('<iframe srcdoc="') and shown.count('"') == 6
    page = unescape(shown.split('"')[1])
    stays = (
        '\n<base href="about:srcdoc">'  # else a link to a part leads the frame to the notebook's own address
    )
    assert page.count(stays) == 1 and page.replace(stays, "") == designed(WISHES).to_html()
    assert "These cannot hold together" in page


def test_pictures_are_those_of_the_page_each_a_document_of_its_own():
    """Read by an XML parser that knows no HTML."""
    answer = designed(NETTLE)
    page, pictures = answer.to_html(), answer.plot()
    assert repr(pictures) == f"Pictures({', '.join(map(repr, pictures.svg))})" and len(pictures.svg) >= 5
    for title, parts in pictures.svg.items():
        assert f"<h4>{title}</h4>" in page and title in pictures._repr_html_()
        for part in parts:
            root = ElementTree.fromstring(part)
            assert root.tag == "{http://www.w3.org/2000/svg}svg" and root.findtext("./*[1]") in page
    assert list(designed(WISHES).plot().svg) == ["How far each wish can go while the others hold"]
    with pytest.raises(TypeError, match="no picture"):
        sheet(answer.formulas[0], "1 kg").plot()
    with pytest.raises(TypeError):
        pictures.svg["mine"] = ()


def test_documents_and_tables_are_those_of_the_question():
    answer = designed(NETTLE)
    assert json.loads(answer.to_json())["question"] == "design"
    table = answer.frame()
    assert answer.to_csv().splitlines()[0] == ",".join(table.columns)
    assert len(table) == sum(len(formula.lines) for formula in answer.formulas)


def test_what_is_no_result_says_so():
    with pytest.raises(TypeError, match="no result"):
        result_of(3)
