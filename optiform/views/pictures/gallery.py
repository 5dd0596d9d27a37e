"""The pictures of an answer for a page, by the names of its parts; tables alone where nothing draws."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.answers.describe.harshness import harshness_of
from optiform.answers.describe.ph_curve import curve_of
from optiform.answers.describe.slack import reachable_of
from optiform.views.pictures import composition, costs, drawing, limits, mildness, ph_curve, ranks
from optiform.views.results.comparison import SIDE_BY_SIDE, differing
from optiform.views.results.formula import contributions
from optiform.views.words.blocks import Block, Card, Cards, Fact, Facts
from optiform.views.words.numbers import figure_text, wanted

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from optiform.answers.model.answer import Answer, Formula

FACTS = ("cost", "active matter", "mildness", "pH")


def facts(_: Answer, formula: Formula) -> list[Block]:
    """Return the few figures that a reader looks for first."""
    shown = {figure.measure: figure for figure in formula.figures}
    found = tuple(
        Fact(
            name,
            figure_text(one.value, one.low, one.high, one.digits),
            one.unit,
            wanted(one.at_least, one.at_most),
        )
        for name in FACTS
        if (one := shown.get(name)) is not None and (one.value is not None or one.low is not None)
    )
    return [Facts(found)] if found else []


def formula_pictures(answer: Answer, formula: Formula) -> list[Block]:
    """Return the pictures of one formula."""
    cards = limits.cards(formula)
    if formula.lines:
        cards.append(composition.card(formula))
    harsh = harshness_of(formula)
    if harsh:
        cards.append(mildness.card(formula, harsh))
    if formula.lines:
        cards.append(costs.card(formula))
    curve = None if answer.brief is None else curve_of(answer.brief, formula)
    if curve is not None:
        cards.append(ph_curve.card(curve, formula.rank))
    alone = answer.question in ("evaluate", "check", "reformulate")
    return _hung("The formula in pictures" if alone else f"Formula {formula.rank} in pictures", cards)


def ranks_picture(answer: Answer) -> list[Block]:
    """Return the picture of what differs from rank to rank."""
    shown = answer.formulas[:SIDE_BY_SIDE]
    rows = differing(shown)
    if len(shown) < 2 or not rows or not drawing.available():
        return []
    return _hung("All ranks in one picture", [ranks.card(shown, rows)])


def conflict_picture(answer: Answer) -> list[Block]:
    """Return the picture of how far the colliding wishes can be met."""
    rows = () if answer.conflict is None else reachable_of(answer.conflict)
    return _hung("The collision in a picture", [limits.reachable(rows)] if rows else [])


def _hung(heading: str, cards: Sequence[Card]) -> list[Block]:
    if not cards:
        return []
    if drawing.available():
        return [Cards(heading, tuple(cards))]
    return [Cards(heading.replace("in pictures", "in numbers"), tuple(cards), drawing.MISSING)]


ANSWER_PARTS: dict[str, Callable[[Answer], list[Block]]] = {
    "conflict picture": conflict_picture,
    "ranks picture": ranks_picture,
}
FORMULA_PARTS: dict[str, Callable[[Answer, Formula], list[Block]]] = {
    "facts": facts,
    "pictures": formula_pictures,
    "who brings what": contributions,
}
