"""CSV, Markdown and the page."""

import csv
import io
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from optiform.views.data import csv_table
from optiform.views.render import markdown, page
from optiform.views.results.answer import rows
from optiform.views.screens import answer_blocks
from optiform.views.words.blocks import Bullets, Column, Heading, Source, Table
from tests.views import samples


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_the_table_of_formulas_has_every_line_of_every_rank_in_full():
    found = rows_of(csv_table.table(*rows(samples.DESIGN)))
    assert len(found) == len(samples.FIRST.lines) + len(samples.SECOND.lines)
    water = found[0]
    assert (water["rank"], water["material"], water["low"]) == ("1", "water", "")
    assert float(water["percent"]) == samples.WATER.percent
    assert {row["rank"] for row in found} == {"1", "2"}


def test_a_name_with_a_comma_stays_one_cell():
    names = [row["name"] for row in rows_of(csv_table.table(*rows(samples.DESIGN)))]
    assert samples.GLUCOSIDE.name in names


def test_the_table_of_a_conflict_has_what_collides_and_the_ways_out():
    found = rows_of(csv_table.table(*rows(samples.CONFLICT)))
    assert [row["part"] for row in found] == (
        ["collides"] * 3
        + ["does not move"]
        + ["collides as well"] * 2
        + ["single change"] * 4
        + ["compromise"] * 2
    )
    assert found[6]["to"] == "2.41"
    assert found[7]["readmit"] == "sles-70 als-27"
    assert found[9]["to"] == "dropped"


def test_what_is_not_finite_is_an_empty_cell():
    assert csv_table.table(("a", "b"), [(float("nan"), None)]) == "a,b\n,\n"


@pytest.mark.parametrize("name", samples.ALL)
def test_markdown_tables_are_whole(name):
    lines = markdown.render(answer_blocks(samples.ALL[name])).splitlines()
    for start, line in enumerate(lines):
        if line.startswith("|---") or line.startswith("|--:"):
            cells = line.count("|")
            assert lines[start - 1].count("|") == cells
            assert lines[start + 1].startswith("| ")


def test_markdown_marks_in_names_mean_nothing():
    table = Table("t", (Column("a"),), (("x | *y* _z_",),), ("<b>",))
    assert markdown.render([Heading("a_b"), table]) == (
        "## a\\_b\n\n| a |\n|---|\n| x \\| \\*y\\* \\_z\\_ |\n| **\\<b\\>** |\n"
    )
    assert markdown.render([Bullets(("one", "two"), numbered=True)]) == "1. one\n2. two\n"
    assert markdown.render([Source("a ``` b")]).startswith("````\n")


class Walker(HTMLParser):
    """Notes every tag, and fails on one that is not closed in order."""

    VOID = ("meta", "br", "link")

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.seen: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


@pytest.mark.parametrize("name", samples.ALL)
def test_a_page_can_be_walked_and_needs_nothing_from_outside(name):
    content = page.render(answer_blocks(samples.ALL[name]), "Title")
    walker = Walker()
    walker.feed(content)
    assert walker.open == []
    tags = [tag for tag, _ in walker.seen]
    assert ("html", {"lang": "en"}) in walker.seen
    assert tags.count("h1") == tags.count("main") == tags.count("title") == 1
    assert all("scope" in attributes for tag, attributes in walker.seen if tag == "th")
    assert tags.count("table") == tags.count("caption")
    assert not {"script", "link", "img"} & set(tags)
    assert "http" not in content


def test_a_table_too_wide_for_a_phone_is_stacked_each_cell_behind_its_title():
    """By hand: six words of twelve letters take 72, more than the 41 beside each other on 358 pixels; two do not."""
    titles = [f"column {place}" for place in range(6)]
    columns = tuple(Column(title, head=title == titles[0]) for title in titles)
    wide = page.render([Table("wide", columns, (("twelve-times",) * 6,))], "wide")
    slim = page.render([Table("slim", columns[:2], (("twelve-times",) * 2,))], "slim")
    assert 'class="stacks"' in wide and 'class="stacks"' not in slim
    assert "--breadth: 1.80" in wide, "78.5 characters are 1.91 phones, more than a laptop needs to give"
    assert "breadth" not in slim[slim.index("<body>") :]
    assert [title for title in titles if f'<td data-title="{title}">twelve-times' in wide] == titles[1:]


def test_a_page_takes_no_tags_from_names():
    evil = replace(samples.DESIGN, title="<script>alert(1)</script>")
    assert "<script>" not in page.render(answer_blocks(evil), evil.title)


@pytest.mark.parametrize("name", samples.ALL)
@pytest.mark.parametrize("form", ["md", "html"])
def test_cautions_stand_in_every_form(name, form):
    blocks = answer_blocks(samples.ALL[name])
    content = markdown.render(blocks) if form == "md" else page.render(blocks, "t")
    assert "These are candidates to trial." in content
