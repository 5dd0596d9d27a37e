"""One look is enough: few lines, 80 columns, names in place of ids and keys, numbers as a meter shows them."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from optiform.api import why
from optiform.views import screens as kinds
from tests.views.first.screens import (
    BRIEFS,
    EVERY_SKIN,
    POSSIBLE,
    PROBLEMS,
    SOLVED,
    STARTERS,
    checked,
    designed,
    evaluated,
    reworked,
    screen_of,
)

KEYS = ("function:", "undissociated:", "tag:", "material:", "share:", "substance:")
NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])")
WEIGHING = re.compile(r"^(What to weigh|Weigh for)")
REWORKED = ["first-bath-baby-mild-brief", "spruce-shampoo-brief"]
"""One that gets a cheaper formula and one that is left as it is."""
ASKED = [
    *((f"design {name}", lambda name=name: designed(name)) for name in [*BRIEFS, *EVERY_SKIN]),
    *((f"check {name}", lambda name=name: checked(name)) for name in BRIEFS),
    *((f"check {name}", lambda name=name: as_check(designed(name))) for name in EVERY_SKIN),
    *((f"evaluate {name}", lambda name=name: evaluated(name)) for name in [*SOLVED, *EVERY_SKIN]),
    *((f"reformulate {name}", lambda name=name: reworked(name)) for name in REWORKED),
]
WHY = (pytest.param("glycerin", marks=pytest.mark.slow), "carbomer")
"""One material that is in, one that is kept out."""
REST = [name for name in STARTERS if name not in EVERY_SKIN]


def as_check(answer):
    """Return a design as its check: the same formula, the first."""
    return replace(answer, question="check", formulas=answer.formulas[:1])


def outside_the_weighing(told: str) -> list[str]:
    """Return the lines of a screen without the table of what to weigh."""
    lines, inside = [], False
    for line in told.splitlines():
        inside = bool(WEIGHING.match(line)) or (inside and line.startswith("  ") and " pH " not in line)
        if not inside:
            lines.append(line)
    return lines


def significant(number: str) -> int:
    """Return how many significant figures a number shows; closing zeros of a whole number are none."""
    if "." in number:
        return len(number.replace(".", "").lstrip("0"))
    return len(number.strip("0"))


def holds(answer) -> None:
    """Hold one screen against every rule of first screens."""
    told = screen_of(answer)
    lines = told.splitlines()
    assert len(lines) <= kinds.LINES[answer.question], told
    assert max(map(len, lines)) <= 80, told
    coined = (material for material in answer.brief.library.materials if "-" in material.id)
    ids = [material.id for material in coined if material.id not in material.name.lower()]
    shown = [which for which in ids if re.search(rf"(?<![\w-]){re.escape(which)}(?![\w-])", told)]
    assert not shown, told
    assert not [key for key in KEYS if re.search(rf"{key}\w", told)], told
    numbers = (number for line in outside_the_weighing(told) for number in NUMBER.findall(line))
    long = [number for number in numbers if significant(number) > 4]
    assert not long, told
    assert lines[-1].startswith("Next: ") or any(line.startswith("Next: ") for line in lines[-2:]), told
    assert "--full" in told


@pytest.mark.parametrize("ask", [ask for _, ask in ASKED], ids=[name for name, _ in ASKED])
def test_a_first_screen_is_short_and_plain(ask):
    holds(ask())


@pytest.mark.parametrize("material", WHY)
def test_why_is_told_at_one_look(material):
    answer = why(BRIEFS["nettle-gel-oily-skin-brief"], material)
    holds(answer)
    told = screen_of(answer)
    assert told.splitlines()[0].endswith("not in the best formula") == (material == "carbomer")
    assert ("No formula" in told or "kept out by" in told) == (material == "carbomer")


@pytest.mark.slow
@pytest.mark.parametrize("name", POSSIBLE)
def test_the_first_screen_of_every_reformulation_is_short_and_plain(name):
    holds(reworked(name))


@pytest.mark.slow
@pytest.mark.parametrize("name", REST)
def test_the_first_screen_of_every_starter_is_short_and_plain(name):
    holds(designed(name))
    holds(as_check(designed(name)))
    holds(evaluated(name))


@pytest.mark.slow
@pytest.mark.parametrize("name", STARTERS)
def test_a_cheaper_starter_is_told_short_and_plain(name):
    holds(reworked(name))


@pytest.mark.parametrize("name", SOLVED)
def test_every_material_stands_on_one_line_and_the_grams_add_up_to_the_batch(name):
    """By hand: the sum of what is printed, in decimal arithmetic."""
    formula = designed(name).formulas[0]
    lines = screen_of(designed(name)).splitlines()
    start = next(place for place, line in enumerate(lines) if WEIGHING.match(line))
    rows = lines[start + 1 : start + 1 + len(formula.lines)]
    for row, line in zip(rows, formula.lines, strict=True):
        assert line.name[:40] in row
    if formula.weighable is not None:
        grams = [Decimal(row.split()[-2]) for row in rows]
        assert sum(grams) == Decimal(str(formula.weighable.batch_g))
        step = Decimal(str(formula.weighable.balance_g))
        assert all(-gram.as_tuple().exponent == -step.as_tuple().exponent for gram in grams)


@pytest.mark.parametrize("name", SOLVED)
def test_the_dearest_limit_comes_first(name):
    told = screen_of(designed(name)).split("What holds the ")[1].split("\n\n")[0].splitlines()[1:]
    rows = [row for row in told if not row.lstrip().startswith(("asked", "Being "))]
    costs = [float(re.search(r"(?:more|less|fewer) +<?([\d.]+)", row)[1]) for row in rows]
    assert costs == sorted(costs, reverse=True) and 1 <= len(costs) <= 5


def test_a_yes_and_a_no_stand_in_the_first_line():
    yes, no = (screen_of(checked(f"{name}-brief")) for name in ("nettle-gel-oily-skin", "too-many-wishes"))
    assert yes.splitlines()[0].endswith("yes, it can be met")
    assert no.splitlines()[0].endswith("no, it cannot be met")
    assert "Cheapest way out: " in no


def test_what_a_formula_is_filled_up_with_is_named():
    """By hand: 60 % of beef and 40 % of gel in the can, no water."""
    assert "Beef 60.00 %; the rest gel." in screen_of(checked("cat-food-blend-brief"))
    assert "; the rest water." in screen_of(checked("nettle-gel-oily-skin-brief"))


def test_the_cheapest_way_out_of_a_check_is_the_cheapest_that_design_finds():
    changes = designed("too-many-wishes-brief").conflict.single_changes
    best = min(changes, key=lambda change: change.cost)
    assert checked("too-many-wishes-brief").conflict.single_changes == changes
    assert f"{best.to:g} %" in screen_of(checked("too-many-wishes-brief")).split("Cheapest way out: ")[1]


def test_before_and_after_stand_side_by_side_with_what_differs_marked():
    answer = next(reworked(name) for name in REWORKED if reworked(name).formulas)
    told = screen_of(answer)
    for line in answer.changes.lines:
        (row,) = [row for row in told.splitlines() if line.name[:40] in row and row.startswith("  ")][:1]
        assert row.endswith({"new": "new", "dropped": "out"}.get(line.kind, line.kind))


def test_what_is_left_as_it_is_says_so_in_the_first_line():
    left = [reworked(name) for name in REWORKED if reworked(name).leave is not None]
    assert left
    for answer in left:
        assert screen_of(answer).splitlines()[0].endswith("leave it")


def test_the_readme_shows_the_first_screen_as_it_is():
    page = (PROBLEMS.parent / "README.md").read_text(encoding="utf-8")
    command = "$ optiform design problems/nettle-gel-oily-skin/brief.toml\n"
    shown = page.split(command)[1].split("```")[0]
    assert shown == screen_of(designed("nettle-gel-oily-skin-brief"))
