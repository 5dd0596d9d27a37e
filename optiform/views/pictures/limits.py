"""Draws where a formula stands within its limits, and how far colliding wishes can be met."""

from __future__ import annotations

from collections.abc import Container, Sequence
from functools import partial

from optiform.answers.model.answer import Formula, Slack
from optiform.bounds import bound_text, window_text
from optiform.program import Key
from optiform.views.pictures.drawing import (
    BLUE,
    FAINT,
    QUIET,
    SMALL,
    VERMILION,
    WIDTH,
    Anchor,
    Sheet,
    in_strips,
    width_of,
)
from optiform.views.words.blocks import Card, Column, Table, joined
from optiform.views.words.limit_words import dearest
from optiform.views.words.names import Names
from optiform.views.words.numbers import fixed, percent

TITLE = "Where it stands within what was wanted"
OTHERS = "Where it stands within law and library"
REACHABLE = "How far each wish can go while the others hold"
READ = (
    "Each row has its own scale: from bound to bound, or, where one side is open (arrow), as long as the bound is "
    "high. Diamond: at the limit. Ring: inside. Cross: not met."
)
LEFT, RIGHT = 92.0, 268.0
"""Where the two ends of a window stand."""
OPEN = 32.0
"""How far an open side reaches beyond."""
TALL, EDGE = 48.0, 12.0


def cards(formula: Formula, names: Names) -> list[Card]:
    """Return the pictures of the limits of the brief, then of those of law and library near the formula.

    Of those at their limit only the dearest are drawn; the table holds every one.
    """
    dear = {item.requirement.key for item in dearest(formula)}
    found = []
    for title, theirs, name in ((TITLE, ("brief",), "wishes"), (OTHERS, ("law", "library"), "rules")):
        every = [row for row in formula.slack if row.origin in theirs]
        beside = table_of(f"{title}, formula {formula.rank}", every, names)
        shown = [row for row in every if _drawn_of(row, dear)]
        shown.sort(key=lambda row: row.state != "broken")
        if not every:
            continue
        picture = in_strips(shown, partial(_draw, names=names), f"{name}-{formula.rank}", title)
        note = f"{READ if title == TITLE else ''} {_left_out(len(every) - len(shown))}".strip()
        found.append(Card(title, picture, note if shown else "", beside))
    return found


def _drawn_of(row: Slack, dear: Container[Key]) -> bool:
    """Tell whether a limit is drawn: broken, among the dearest, or one of the brief or the law that has room."""
    if row.state == "at the limit" and dear:
        return any(part.key in dear for part in row.requirements)
    return row.origin != "library" or row.state != "inside"


def _left_out(count: int) -> str:
    """Return how many limits only the table holds."""
    if not count:
        return ""
    verb = "stands" if count == 1 else "stand"
    return f"{count} more, at the limit at little cost or well inside, {verb} in the table."


def reachable(rows: Sequence[Slack], names: Names) -> Card:
    """Return how far the colliding wishes can be met."""
    note = f"The best value of each wish while the others are met. {READ}"
    picture = in_strips(rows, partial(_draw, names=names), "reachable", REACHABLE)
    return Card(REACHABLE, picture, note, table_of(REACHABLE, rows, names))


def table_of(caption: str, rows: Sequence[Slack], names: Names) -> Table:
    """Return all limits as a table, with those that the picture leaves out."""
    titles = ("unit", "bounds", "stands", "asked by")
    columns = (Column("limit", head=True), Column("here", "decimal"), *map(Column, titles))
    body = []
    for row in rows:
        limit = names.said(row.limit) + (f" ({names.said(row.which)})" if row.which else "")
        bounds = window_text(row.at_least, row.at_most, row.requirements[0].decimals)
        body.append((limit, _amount(row, row.value), row.unit, bounds, _standing(row), row.origin))
    return Table(caption, columns, tuple(body))


def _draw(rows: Sequence[Slack], name: str, title: str, names: Names) -> str:
    """Draw one whisker per limit, from bound to bound, with the value of the formula in it."""
    sheet = Sheet(TALL * len(rows))
    for place, row in enumerate(rows):
        top, told = TALL * place, _standing(row)
        limit = names.said(f"{row.limit}: {row.which}" if row.which else row.limit)
        sheet.words(WIDTH, top + 13, told, anchor="right", bold=row.state != "inside", size=SMALL)
        sheet.words(0, top + 13, limit, room=WIDTH - width_of(told, SMALL, bold=True) - 10)
        _whisker(sheet, row, top + 26.5)
        _stand(sheet, row, top + 26.5)
        sheet.line((0, WIDTH), (top, top), colour=FAINT, width=0.6)
    return sheet.finish(name, title, _summary(rows, names))


def _summary(rows: Sequence[Slack], names: Names) -> str:
    """Return the text alternative of the picture."""
    clauses = []
    for state in ("broken", "at the limit", "inside"):
        told = [names.said(row.limit) for row in rows if row.state == state]
        if told:
            clauses.append(f"{len(told)} {state}{': ' + joined(told) if state != 'inside' else ''}")
    return f"{len(rows)} limits. {'; '.join(clauses)}."


def _whisker(sheet: Sheet, row: Slack, middle: float) -> None:
    """Draw a window: a cap and its number at each bound, an arrow where a side is open."""
    ends: tuple[tuple[float | None, float, float, str, Anchor], ...] = (
        (row.at_least, LEFT, -1, "<", "right"),
        (row.at_most, RIGHT, 1, ">", "left"),
    )
    places = [x if bound is not None else x + outwards * OPEN for bound, x, outwards, _, _ in ends]
    sheet.line((places[0], places[1]), (middle, middle), colour=QUIET, width=2.2)
    for (bound, x, outwards, arrow, anchor), place in zip(ends, places, strict=True):
        if bound is None:
            sheet.mark(place, middle, arrow, colour=QUIET)
            continue
        sheet.mark(x, middle, "|", size=11)
        if bound != _missed(row):
            sheet.words(x + 11 * outwards, middle + 3.5, _bound(row, bound), size=SMALL, anchor=anchor)


def _stand(sheet: Sheet, row: Slack, middle: float) -> None:
    """Draw the value of the formula: a diamond at a limit, a ring inside, a cross beyond."""
    x = LEFT + (RIGHT - LEFT) * row.place
    if row.state == "broken":
        x = min(max(x, EDGE), WIDTH - EDGE)
        bound = LEFT if row.place < 0 else RIGHT
        sheet.line((bound, x), (middle, middle), colour=VERMILION, width=1.4, dashes=":")
        sheet.mark(x, middle, "X", size=10, colour=VERMILION)
    else:
        x = min(max(x, LEFT - OPEN / 2), RIGHT + OPEN / 2)
        if row.state == "at the limit":
            sheet.mark(x, middle, "D", size=8, colour=VERMILION)
        else:
            sheet.mark(x, middle, "o", size=8.5, colour=BLUE, filled=False)
    third = WIDTH / 3
    anchor: Anchor = "left" if x < third else "right" if x > 2 * third else "center"
    shift = -7 if anchor == "left" else 7 if anchor == "right" else 0
    sheet.words(x + shift, middle + 17, _value(row), size=SMALL, anchor=anchor)


def _amount(row: Slack, value: float) -> str:
    """Return a number in the digits of its limit or of its bounds."""
    return percent(value) if row.unit == "% w/w" and value > 0 else fixed(value, _digits(row))


def _bound(row: Slack, bound: float) -> str:
    """Return one end of a limit as it is written in its title."""
    side = "at_least" if bound == row.at_least else "at_most"
    return bound_text(bound, None if row.at_least == row.at_most else side, row.requirements[0].decimals)


def _digits(row: Slack) -> int:
    written = [
        _bound(row, bound).partition(".")[2] for bound in (row.at_least, row.at_most) if bound is not None
    ]
    return max(row.digits, *map(len, written))


def _value(row: Slack) -> str:
    """Return the value of the formula with its unit, and the bound that it misses."""
    number, bound = _amount(row, row.value), _missed(row)
    one = number == "1" and row.unit.isalpha()
    text = f"{number} {row.unit.removesuffix('s') if one else row.unit}".rstrip()
    return text if bound is None else f"{text} instead of {_bound(row, bound)}"


def _missed(row: Slack) -> float | None:
    """Return the bound that is not met; None where none is missed."""
    if row.state != "broken":
        return None
    return row.at_least if row.below is not None and row.below < 0 else row.at_most


def _standing(row: Slack) -> str:
    """Return whether the formula is at a limit, inside with room, or off it."""
    if row.state == "at the limit":
        return "at the limit"
    return f"off by {_room(row, -row.room)}" if row.state == "broken" else f"room {_room(row, row.room)}"


def _room(row: Slack, value: float) -> str:
    """Return a distance to a bound; one that is not zero never shows as zero."""
    text = _amount(row, value)
    return text if text.strip("0.") else f"under {fixed(10.0 ** -_digits(row), _digits(row))}"
