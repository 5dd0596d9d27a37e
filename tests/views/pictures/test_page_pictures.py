"""The page of an answer: its numbers read back against the JSON, its pictures against what a reader needs."""

import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from importlib.resources import files
from itertools import combinations, pairwise

import html5lib
import pytest

from optiform.answers.describe.ph_curve import Curve
from optiform.views.pictures import composition, costs, drawing, limits, mildness, ph_curve
from optiform.views.render import markdown, text
from optiform.views.screens import answer_blocks
from optiform.views.words.blocks import OnPages
from optiform.views.words.names import names_of
from tests.views import pages, samples

NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@pytest.fixture(scope="module", params=pages.ALL)
def case(request):
    answer = pages.ALL[request.param]()
    return answer, pages.answer_page(answer)


@pytest.fixture(scope="module")
def ranked():
    answer = pages.ranked()
    return json.loads(answer.to_json()), pages.tables(pages.read(pages.answer_page(answer)))


def table(tables, start):
    (found,) = [rows for caption, rows in tables.items() if caption.startswith(start)]
    return found


def same(shown, exact):
    """Tell whether a figure on the page is the JSON's, rounded to the digits on the page."""
    if shown.startswith("<"):
        return 0 < exact < float(shown[1:])
    if shown == "-":
        return exact is None
    digits = len(shown.partition(".")[2])
    return abs(float(shown) - exact) <= 0.5000001 * 10.0**-digits


# what is written


def test_a_page_is_html_that_a_strict_parser_takes(case):
    html5lib.HTMLParser(strict=True).parse(case[1])


def test_a_page_needs_nothing_from_outside_and_runs_nothing(case):
    page = pages.read(case[1])
    assert not page.find("script", "link", "img", "iframe", "object", "embed", "image", "foreignobject")
    assert "http" not in case[1]
    assert "url(" not in re.sub(r"url\(#[^)]*\)", "", case[1])
    assert "@import" not in case[1]
    for element in page.find(*{e.tag for e in _every(page)}):
        assert not any(name.startswith("on") for name in element.attributes)
        for name in ("href", "src"):
            assert (element.attributes.get(name) or "#").startswith("#")


def _every(element):
    for child in element.children:
        if isinstance(child, pages.Element):
            yield child
            yield from _every(child)


def test_every_name_is_given_once_and_every_reference_finds_it(case):
    page = pages.read(case[1])
    names = [element.attributes["id"] for element in _every(page) if "id" in element.attributes]
    assert len(names) == len(set(names))
    used = set(re.findall(r'url\(#([^)]+)\)|href="#([^"]+)"', case[1]))
    referred = {one or other for one, other in used}
    for element in _every(page):
        for attribute in ("aria-labelledby", "aria-describedby"):
            referred |= set((element.attributes.get(attribute) or "").split())
    assert referred <= set(names)


def test_headings_are_in_order_and_columns_have_a_scope(case):
    page = pages.read(case[1])
    assert page.find("html")[0].attributes["lang"] == "en"
    levels = [int(heading.tag[1]) for heading in page.find("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert all(cell.attributes.get("scope") in ("col", "row") for cell in page.find("th"))


def test_every_picture_has_its_text_and_its_numbers_beside_it(case):
    _, content = case
    page = pages.read(content)
    pictures = page.find("svg")
    assert pictures, "a page without pictures"
    for figure in page.find("figure"):
        assert figure.find("table"), f"no table for {figure.text}"
        for strip, picture in enumerate(figure.find("svg")):
            assert picture.attributes["role"] == "img"
            (title,), (description,) = picture.find("title"), picture.find("desc")
            assert title.text and title.text.endswith("continued") == (strip > 0)
            assert NUMBER.search(description.text), "what it says has numbers"
    assert sum(len(figure.find("svg")) for figure in page.find("figure")) == len(pictures)


def test_no_picture_of_many_rows_is_taller_than_a_printed_side_can_spare(case):
    """An SVG is never parted in print: one as tall as it is wide leaves no more than a third of a side blank."""
    for picture in pages.read(case[1]).find("svg"):
        _, _, width, height = map(float, picture.attributes["viewbox"].split())
        assert height <= width


def test_what_follows_the_contents_is_in_parts_that_a_phone_opens_from_there(case):
    answer, content = case
    page = pages.read(content)
    parts = [one for one in page.find("section") if one.attributes.get("class") == "part"]
    assert parts and all(len(part.find("h2")) == 1 for part in parts)
    assert all(part.find("a")[-1].attributes["href"] == "#contents" for part in parts)
    (whole,) = [one for one in page.find("div") if one.attributes.get("id") == "everything"]
    assert [part for part in whole.children if isinstance(part, pages.Element)] == parts
    lists = [one for one in parts[-1].children if isinstance(one, pages.Element) and one.tag == "ul"]
    assert [one.attributes.get("class") for one in lists] == ["caution"], "cautions are never closed"
    assert len(lists[0].find("li")) == len(answer.cautions)


def test_cautions_are_on_every_page_and_not_as_small_print(case):
    answer, content = case
    for caution in answer.cautions:
        assert caution.replace("'", "&#39;") in content
    style = files("optiform.views.render").joinpath("templates/page.css").read_text(encoding="utf-8")
    assert not re.search(r"\.(caution|bad)[^{]*\{[^}]*font-size", style)


def test_the_same_answer_makes_the_same_bytes():
    """Also in another process, in which sets go round in another order."""
    shown = pages.answer_page(pages.broken())
    assert pages.answer_page(pages.broken()) == shown
    code = "from tests.views import pages;print(pages.answer_page(pages.broken()), end='')"
    other = "77" if os.environ.get("PYTHONHASHSEED") != "77" else "1"
    elsewhere = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONHASHSEED": other, "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        encoding="utf-8",
        check=True,
    ).stdout
    assert elsewhere == shown


# its numbers


def test_materials_and_costs_are_the_json_s(ranked):
    document, tables = ranked
    lines = document["formulas"][0]["lines"]
    shown = table(tables, "Materials of formula 1")
    assert [row["material"] for row in shown] == [line["name"] for line in lines]
    for row, line in zip(shown, lines, strict=True):
        assert float(row["% w/w"]) == line["printed"]
        assert abs(line["printed"] - line["percent"]) < 0.03
        assert same(row["EUR/kg"], line["cost"])
    dear = {row["material"]: row for row in table(tables, costs.TITLE)}
    whole = document["formulas"][0]["cost"]
    for line in lines:
        assert same(dear[line["name"]]["EUR/kg"], line["cost"])
        assert same(dear[line["name"]]["share, %"], 100.0 * line["cost"] / whole)


def test_every_limit_of_the_json_is_in_a_table_with_its_value_and_its_room(ranked):
    document, tables = ranked
    slack = document["formulas"][0]["slack"]
    shown = [*table(tables, f"{limits.TITLE}, "), *table(tables, f"{limits.OTHERS}, ")]
    assert len(shown) == len(slack)
    for row, item in zip(shown, slack, strict=True):
        assert row["limit"].startswith(names_of(pages.ranked()).said(item["limit"]))
        assert same(row["here"], item["value"])
        assert row["asked by"] == item["origin"]
        rooms = [side for side in (item["below"], item["above"]) if side is not None]
        if item["state"] == "at the limit":
            assert row["stands"] == "at the limit"
            assert min(rooms) == 0
        elif not row["stands"].startswith("room under"):
            assert same(row["stands"].split()[-1], abs(min(rooms)))
        bounds = [float(number) for number in NUMBER.findall(row["bounds"])]
        assert bounds == [b for b in dict.fromkeys((item["at_least"], item["at_most"])) if b is not None]


def test_what_takes_from_the_mildness_is_the_json_s_irritation(ranked):
    document, tables = ranked
    measures = document["formulas"][0]["measures"]
    names = {line["name"]: line["material"] for line in document["formulas"][0]["lines"]}
    active = measures["active matter"]["value"]
    shown = table(tables, mildness.TITLE)
    assert {names[row["material"]] for row in shown} == set(measures["active matter"]["parts"])
    for row in shown:
        taken = measures["irritation load"]["parts"].get(names[row["material"]], 0.0) / active
        assert same(row["points taken"], taken)
        assert same(row["active matter, % w/w"], measures["active matter"]["parts"][names[row["material"]]])


def test_the_curve_goes_through_the_json_s_pH(ranked):
    document, tables = ranked
    acidity = document["formulas"][0]["acidity"]
    shown = table(tables, ph_curve.TITLE)
    by_what = {row["what it is"]: row["pH"] for row in shown}
    assert same(by_what["the formula"], acidity["pH"])
    assert same(by_what["undosed"], acidity["undosed_pH"])


def test_the_words_drawn_are_the_json_s(ranked):
    """What stands in the pictures themselves, not in their tables."""
    document, _ = ranked
    page = pages.read(pages.answer_page(pages.ranked()))
    drawn = {picture.find("title")[0].text: picture for picture in page.find("svg")}
    made = [word.text for word in drawn[composition.TITLE].find("text")]
    by_function = {}
    for line in document["formulas"][0]["lines"]:
        by_function[line["function"]] = by_function.get(line["function"], 0.0) + line["percent"]
    for function, percent in by_function.items():
        if function != "water":
            figure = made[made.index(function) + 1].removesuffix(" %")
            assert same(figure, percent)
    mild = [word.text for word in drawn[mildness.TITLE].find("text")]
    assert f"mildness {document['formulas'][0]['measures']['mildness']['value']:.0f}" in mild


def test_a_broken_limit_is_told_by_word_and_shape():
    answer = pages.broken()
    page = pages.read(pages.answer_page(answer))
    (wanted,) = [p for p in page.find("svg") if p.find("title")[0].text == limits.TITLE]
    words = [word.text for word in wanted.find("text")]
    broken = [row for row in answer.formulas[0].slack if row.state == "broken" and row.origin == "brief"]
    assert broken
    assert sum(word.startswith("off by") for word in words) == len(broken)
    assert "Cross: not met" in page.text


@pytest.mark.parametrize(
    "window", [(4.5, 5.5), (4.8, 5.2), (4.0, 7.0), (None, 5.4), (4.6, None), (9.0, 10.5)]
)
@pytest.mark.parametrize("formula", [(0.35, 5.0), (0.15, 5.3), (0.6, 4.9), (0.1, 9.5), (0.5, 10.0)])
def test_the_words_on_the_curve_do_not_lie_on_each_other(window, formula, monkeypatch):
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.text import Text

    drawn = []
    monkeypatch.setattr(drawing.Sheet, "finish", lambda sheet, *_: drawn.append(sheet))
    (x, y), natural = formula, 11.7
    points = tuple((0.7 * k / 40, natural - (natural - 4.4) * (1 - 0.9**k)) for k in range(41))
    points = tuple(sorted((*points, (x, y))))
    with drawing.quiet():
        ph_curve.draw(
            Curve("dose", "Citric acid", "% w/w", points, formula, natural, window, ready=(0.25, 0.5)), "c"
        )
        (sheet,) = drawn
        renderer = FigureCanvasAgg(sheet.figure).get_renderer()
        sheet.figure.draw(renderer)
        boxes = [(word.get_text(), Text.get_window_extent(word, renderer)) for word in sheet.chart.texts]
    assert len(boxes) == 3
    for (one, first), (other, second) in combinations(boxes, 2):
        across = min(first.x1, second.x1) - max(first.x0, second.x0)
        down = min(first.y1, second.y1) - max(first.y0, second.y0)
        assert across <= 0 or down <= 0.5, f"{one} / {other}"


def test_a_reformulation_shows_its_new_formula_in_the_pictures_of_any_other():
    """What is told of the changes stands on the page, and the new formula is drawn as a designed one is."""
    answer = pages.reformed()
    page = pages.read(pages.answer_page(answer))
    drawn = {picture.find("title")[0].text for picture in page.find("svg")}
    assert {
        limits.TITLE,
        composition.TITLE,
        mildness.TITLE,
        ph_curve.TITLE,
    } <= drawn
    assert any(title.startswith(costs.TITLE) for title in drawn)
    headings = [heading.text for heading in page.find("h2", "h3")]
    assert "The formula in pictures" in headings
    assert "Step by step" in headings
    assert "EU, rinse-off, face. Quayside wash-house, starter library" in page.text
    assert {"Before and after"} <= drawn
    shown = table(pages.tables(page), costs.TITLE)
    assert {row["material"] for row in shown} == {line.name for line in answer.formulas[0].lines}


# hard cases


def test_names_cannot_break_a_page_or_a_picture():
    evil = "<script>alert(1)</script> $\\frac{x}{$ & \x00\ufffe " + "very long name " * 20
    answer = pages.broken()
    formula = answer.formulas[0]
    lines = tuple(replace(line, name=evil + str(k)) for k, line in enumerate(formula.lines))
    slack = tuple(replace(row, limit=evil + str(k)) for k, row in enumerate(formula.slack))
    content = pages.answer_page(
        replace(answer, title=evil, formulas=(replace(formula, lines=lines, slack=slack),))
    )
    page = pages.read(content)
    assert not page.find("script")
    assert page.find("svg")
    for picture in page.find("svg"):
        assert "\x00" not in picture.text


@pytest.mark.parametrize("name", samples.ALL)
def test_answers_made_by_hand_have_a_page_too(name):
    """Without slack, without figures, without a library: what is there is drawn, the rest left out."""
    html5lib.HTMLParser(strict=True).parse(pages.answer_page(samples.ALL[name]))


def test_a_long_ranking_in_full_names_everything_once():
    answer = pages.ranked()
    many = tuple(replace(answer.formulas[k % 3], rank=k + 1) for k in range(7))
    page = pages.read(pages.answer_page(replace(answer, formulas=many), everything=True))
    assert len(pages.tables(page)) > 7
    names = [element.attributes["id"] for element in _every(page) if "id" in element.attributes]
    assert len(names) == len(set(names))
    assert len(page.find("svg")) >= 6 * 7


def test_only_a_page_shows_pictures_and_contents():
    blocks = answer_blocks(pages.broken(), drawn=True)
    without = [block for block in blocks if not isinstance(block, OnPages)]
    assert len(without) < len(blocks)
    assert text.render(blocks) == text.render(without)
    assert markdown.render(blocks) == markdown.render(without)


def test_the_contents_of_a_page_lead_to_every_heading_but_its_title(case):
    page = pages.read(case[1])
    (contents,) = page.find("nav")
    led = [(link.attributes["href"], link.text) for link in contents.find("a")]
    headings = [(f"#{one.attributes['id']}", one.text) for one in page.find("h2", "h3")]
    assert led == headings and len(led) >= 4


def test_every_way_out_is_a_card_with_its_cost_and_what_it_looks_like():
    answer = pages.collided()
    (ways,) = [
        one
        for one in pages.read(pages.answer_page(answer)).find("ul")
        if one.attributes.get("class") == "ways"
    ]
    changes = answer.conflict.single_changes
    assert len(ways.find("li")) == len(changes) > 1
    for card, change in zip(ways.find("li"), changes, strict=True):
        cost, looks = (part.text for part in card.find("span"))
        assert cost == f"{change.cost:.2f} EUR/kg"
        assert "%" in looks and not re.search(r"[a-z]-[a-z0-9-]*-", looks), "names, not ids"


def test_the_range_of_a_price_is_drawn_to_scale_in_its_row():
    """Read back from the style of each bar against the JSON: the bound stands in the middle of the wider side."""
    document = json.loads(pages.ranked().to_json())
    page = pages.read(pages.answer_page(pages.ranked()))
    bars = [one.find("i", "b") for one in page.find("span") if one.attributes.get("class") == "range"]
    assert bars
    drawn = sorted(tuple(map(float, NUMBER.findall(bar.attributes["style"]))) for bar, _ in bars)
    wanted = []
    for item in document["formulas"][0]["binding"]:
        low, high, bound = item["holds_from"], item["holds_to"], item["bound"]
        if bound is None or low is None or high is None or high - low <= 0:
            continue
        widest = max(bound - low, high - bound)
        wanted.append((50 - 50 * (bound - low) / widest, 50 * (high - low) / widest))
    assert any(abs(one - two) < 0.1 for one, _ in drawn for two, _ in wanted)


def test_nothing_that_draws_or_fills_templates_is_loaded_before_it_does():
    code = (
        "import sys, optiform.cli, optiform.views.screens; print({'matplotlib', 'jinja2'} & {*sys.modules})"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


# colours


def luminance(colour):
    """WCAG 2.2, "relative luminance": https://www.w3.org/TR/WCAG22/#dfn-relative-luminance."""
    full = colour if len(colour) == 7 else "#" + "".join(2 * digit for digit in colour[1:])
    channels = [int(full[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_computed_as_the_guideline_does():
    assert contrast("#000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def test_words_can_be_read_against_their_ground():
    """WCAG 2.2, 1.4.3 (AA): 4.5 to 1."""
    style = files("optiform.views.render").joinpath("templates/page.css").read_text(encoding="utf-8")
    inks = dict(re.findall(r"--(\w+): (#[0-9a-f]+)", style))
    for ink in (inks["ink"], inks["quiet"], inks["sea"], drawing.INK, drawing.QUIET):
        assert contrast(ink, "#ffffff") >= 4.5
    for ground in ("#fdf6ea", "#fdf0ef"):
        assert ground in style
        assert contrast(inks["ink"], ground) >= 4.5


def test_marks_stand_out():
    """WCAG 2.2, 1.4.11 (AA): 3 to 1 for what must be seen; paler bars have an edge of ink or white."""
    for colour in (drawing.BLUE, drawing.VERMILION, drawing.INK, drawing.QUIET):
        assert contrast(colour, "#ffffff") >= 3.0
