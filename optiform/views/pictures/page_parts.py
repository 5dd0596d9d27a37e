"""Makes the parts that only a page has: large figures, pictures, ways out as cards."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from optiform.answers.describe.harshness import harshness_of
from optiform.answers.describe.ph_curve import curve_of
from optiform.answers.describe.slack import reachable_of
from optiform.answers.model.answer import Answer, Formula
from optiform.views.first.formula import first_figures, value_of, wanted_of
from optiform.views.first.shared_parts import BELOW, care_of
from optiform.views.pictures import changes, composition, costs, limits, mildness, ph_curve
from optiform.views.results.formula import contributions
from optiform.views.words.blocks import Block, Card, Cards, Fact, Facts, Heading
from optiform.views.words.names import names_of


def facts(answer: Answer) -> list[Block]:
    """Return the four figures that are read first, each with the bounds asked for."""
    if not answer.formulas:
        return []
    first, names = answer.formulas[0], names_of(answer)
    found = tuple(
        Fact(names.measure(item.measure), value_of(item), wanted_of(item, first.acidity))
        for item in first_figures(first)
    )
    return [Facts(found)] if found else []


def formula_pictures(answer: Answer, formula: Formula) -> list[Block]:
    """Return the pictures of one formula."""
    cards = limits.cards(formula, names_of(answer))
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


def conflict_picture(answer: Answer) -> list[Block]:
    """Return the picture of how far the colliding wishes can be met."""
    rows = () if answer.conflict is None else reachable_of(answer.conflict)
    return _hung("The collision in a picture", [limits.reachable(rows, names_of(answer))] if rows else [])


def _hung(heading: str, cards: Sequence[Card]) -> list[Block]:
    return [Heading(heading, 3), Cards(tuple(cards))] if cards else []


ANSWER_PARTS: dict[str, Callable[[Answer], list[Block]]] = {
    "facts": facts,
    "take care": lambda answer: (
        care_of(answer, answer.formulas[0], names_of(answer), BELOW) if answer.formulas else []
    ),
    "change pictures": lambda answer: _hung(
        "The change in pictures", changes.cards(answer, names_of(answer))
    ),
    "conflict picture": conflict_picture,
}
FORMULA_PARTS: dict[str, Callable[[Answer, Formula], list[Block]]] = {
    "pictures": formula_pictures,
    "who brings what": contributions,
}
