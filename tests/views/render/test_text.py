"""Text for a terminal and for a pipe: width, colour, and whole answers held against golden copies."""

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiform.views.render import text
from optiform.views.render.text import Screen, render
from optiform.views.screens import answer_blocks
from optiform.views.words.blocks import Bullets, Column, Heading, Paragraph, Source, Table
from tests.views import samples

GOLDEN = Path(__file__).parent / "golden"
ANSI = re.compile(r"\x1b")


@pytest.mark.parametrize("name", samples.ALL)
def test_an_answer_reads_as_its_golden_copy(name):
    assert render(answer_blocks(samples.ALL[name])) == (GOLDEN / f"{name}.txt").read_text(encoding="utf-8")


def test_all_formulas_in_full_say_more_than_the_first():
    short, long = (render(answer_blocks(samples.DESIGN, everything=every)) for every in (False, True))
    assert "Formula 2: 2.41 EUR/kg" in long
    assert "Formula 2: 2.41 EUR/kg" not in short


@pytest.mark.parametrize("name", samples.ALL)
@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_no_line_is_wider_than_the_screen(name, width):
    lines = render(answer_blocks(samples.ALL[name], everything=True), Screen(width)).splitlines()
    assert max(map(len, lines)) <= width


@pytest.mark.parametrize("name", samples.ALL)
def test_colour_changes_no_letter(name):
    blocks = answer_blocks(samples.ALL[name])
    plain, coloured = render(blocks), render(blocks, Screen(colour=True))
    assert not ANSI.search(plain)
    assert ANSI.search(coloured)
    assert _stripped(re.sub(r"\x1b\[\d*m", "", coloured)) == _stripped(plain)


def _stripped(text: str) -> list[str]:
    return [line.rstrip() for line in text.splitlines()]


class Terminal:
    def __init__(self, tty: bool) -> None:
        self.tty = tty

    def isatty(self) -> bool:
        return self.tty


def test_a_pipe_has_80_columns_and_no_colour(monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert text.screen_of(Terminal(False)) == Screen(80, False)


@pytest.mark.parametrize(
    ("variables", "screen"),
    [
        ({}, Screen(100, True)),
        ({"NO_COLOR": "1"}, Screen(100, False)),
        ({"TERM": "dumb"}, Screen(100, False)),
        ({"COLUMNS": "20"}, Screen(40, True)),
        ({"COLUMNS": "300"}, Screen(120, True)),
    ],
)
def test_a_terminal_is_coloured_unless_it_or_the_user_says_no(monkeypatch, variables, screen):
    for name in ("NO_COLOR", "TERM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("COLUMNS", "100")
    for name, value in variables.items():
        monkeypatch.setenv(name, value)
    assert text.screen_of(Terminal(True)) == screen


def test_points_stand_under_each_other():
    table = Table("t", (Column("a", "decimal"), Column("b")), (("81.40", "x"), ("0.087", "y"), ("5", "z")))
    rows = render([table]).splitlines()[2:]
    assert [row.find(".") for row in rows[:2]] == [rows[0].find(".")] * 2
    assert rows[2].index("5") == rows[0].index("1")


def test_a_total_stands_under_a_rule():
    table = Table("t", (Column("a", "decimal"),), (("1.5",), ("2.5",)), ("4",))
    assert render([table]) == "    a\n  ---\n  1.5\n  2.5\n  ---\n  4\n"


def test_a_narrow_screen_leaves_out_what_can_be_spared():
    table = Table("t", (Column("name", head=True), Column("more", sheds=1)), (("n" * 20, "m" * 30),))
    assert "more" in render([table], Screen(60))
    assert "more" not in render([table], Screen(40))


def test_a_table_too_wide_for_any_screen_is_told_row_by_row():
    columns = tuple(Column(f"c{i}", "right") for i in range(6))
    lines = render([Table("t", columns, (("1234567890",) * 6,))], Screen(40)).splitlines()
    assert max(map(len, lines)) <= 40
    assert "c5: 1234567890" in " ".join(lines)


def test_wide_letters_count_double():
    assert text.width("茶") == 2
    assert text.width("é") == 1
    assert all(text.width(line) <= 10 for line in text.wrap("茶" * 20, 10))


@given(st.text(st.characters(codec="utf-8", exclude_categories=("C",)), max_size=200), st.integers(4, 60))
def test_wrapping_never_goes_over(words, columns):
    assert all(text.width(line) <= max(columns, 2) for line in text.wrap(words, columns))


def test_blocks_without_content_leave_no_trace():
    assert (
        render([Heading("t", 1), Bullets(()), Table("t", (Column("a"),), ()), Paragraph("p")])
        == "t\n=\n\np\n"
    )
    assert render([Source("a  b\n c\n")]) == "a  b\n c\n"


def folding(rows, folds, keeps, caption):
    body = tuple((f"{caption} {place}", str(place)) for place in range(rows))
    return Table(
        caption, (Column("", head=True), Column("", "right")), body, light=True, folds=folds, keeps=keeps
    )


def test_a_long_screen_loses_the_last_rows_of_the_tables_that_fold_first():
    """By hand: 3 + 1 and 5 + 1 and 4 + 1 lines and two blanks are 17; nothing is lost that stays."""
    blocks = [folding(3, 0, 0, "whole"), folding(5, 2, 2, "second"), folding(4, 1, 1, "first")]
    assert len(render(blocks).splitlines()) == 17
    shorter = render(blocks, most=15).splitlines()
    assert len(shorter) == 15
    assert [sum(name in line for line in shorter) for name in ("whole", "second", "first")] == [4, 6, 3]
    assert shorter[-1].startswith("  first 1")
    least = render(blocks, most=1)
    assert [least.count(f"  {name} ") for name in ("whole", "second", "first")] == [3, 2, 1]


def test_what_is_too_long_for_its_column_is_cut_on_one_line():
    """By hand: 30 columns less 2 before, 2 between and 5 of the figures leave 21."""
    columns = (Column("", head=True, cut=True), Column("g", "decimal"))
    table = Table("Weigh", columns, (("A name that goes on and on", "1.00"), ("Short", "10.00")), light=True)
    assert render([table], Screen(30)).splitlines() == [
        "Weigh                        g",
        "  A name that goes on…    1.00",
        "  Short                  10.00",
    ]


def test_a_title_and_what_stands_aside_share_a_line_where_there_is_room():
    wide, narrow = (
        render([Heading("Nettle gel", 1, aside="1.69 EUR/kg")], Screen(width)) for width in (40, 20)
    )
    assert wide == f"Nettle gel{' ' * 19}1.69 EUR/kg\n"
    assert narrow == "Nettle gel\n1.69 EUR/kg\n"


def test_a_terminal_without_other_marks_gets_plain_ones():
    """A stream that writes ASCII alone, as under LC_ALL=C."""

    class Plain(Terminal):
        encoding = "ascii"

    screen = text.screen_of(Plain(False))
    assert not screen.marks
    told = render([Paragraph("pH 4.8 · 2 × 500 g – now")], screen)
    assert told == "pH 4.8 | 2 x 500 g - now\n"
    columns = (Column("pH", head=True), Column("likely", "right"))
    told = render([Table("", columns, (("4.8", "± 0.2"), ("5.1", "4.9 to 5.6")))], screen)
    assert told.splitlines()[2:] == ["  4.8     +/- 0.2", "  5.1  4.9 to 5.6"]
