"""The pictures of an answer for a page, each with the table of the same numbers; tables alone where nothing draws."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from optiform.answers.describe.portrait import portrait, reachable_of
from optiform.views.pictures import curve_picture
from optiform.views.pictures import formula_pictures as pictures
from optiform.views.pictures import picture_tables as tables
from optiform.views.render import drawing
from optiform.views.render.blocks import Drawn
from optiform.views.render.html import Markup, joined, tag
from optiform.views.render.numbers import figure_text, wanted
from optiform.views.render.page import table_of
from optiform.views.results.formula_blocks import differing
from optiform.views.words import picture_words as said

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from optiform.answers.describe.portrait import Portrait
    from optiform.answers.model.answer import Answer, Conflict, Formula, Slack
    from optiform.views.render.blocks import Table

FACTS = ("cost", "active matter", "mildness", "pH")
SIDE_BY_SIDE = 5
MOST = 16
"""Rows of a picture that still fit on one page of A4 together with its words."""


@dataclass(frozen=True)
class Gallery:
    """Draws what a page shows beside its words.

    Attributes
    ----------
    answer : Answer
    draws : bool
        Whether there is a library to draw with.
    """

    answer: Answer
    draws: bool

    @classmethod
    def of(cls, answer: Answer) -> Gallery:
        """Return the gallery of an answer, with pictures where the drawing library is installed."""
        return cls(answer, drawing.available())

    def facts(self, formula: Formula) -> tuple[Drawn, ...]:
        """Return the few figures that a reader looks for first."""
        shown = {figure.measure: figure for figure in formula.figures}
        tiles = [
            tag(
                "div",
                tag("dt", name),
                tag(
                    "dd",
                    tag("b", figure_text(figure.value, figure.low, figure.high, figure.digits)),
                    f" {figure.unit}".rstrip(),
                ),
                *([tag("dd", f"wanted {limits}", class_="quiet")] if limits else []),
            )
            for name in FACTS
            if (figure := shown.get(name)) is not None
            and (figure.value is not None or figure.low is not None)
            for limits in [wanted(figure.at_least, figure.at_most)]
            for told in [figure_text(figure.value, figure.low, figure.high, figure.digits)]
        ]
        return (Drawn(tag("dl", *tiles, class_="facts")),) if tiles else ()

    def formula(self, formula: Formula) -> tuple[Drawn, ...]:
        """Return the pictures of one formula."""
        found = portrait(self.answer, formula)
        cards = [
            *self._limits(formula),
            *self._parts(formula, found),
            *self._curve(formula, found),
            *self._brought(formula, found),
        ]
        alone = self.answer.question in ("evaluate", "check", "reformulate")
        return self._hung(
            "The formula in pictures" if alone else f"Formula {formula.rank} in pictures", cards
        )

    def ranks(self, formulas: Sequence[Formula]) -> tuple[Drawn, ...]:
        """Return the picture of what differs from rank to rank."""
        shown = formulas[:SIDE_BY_SIDE]
        rows = differing(shown)
        if len(shown) < 2 or not rows:
            return ()
        card = self._card(said.RANKS, lambda name: pictures.ranks(shown, rows, name), None, "ranks", "")
        return self._hung("All ranks in one picture", [card]) if self.draws else ()

    def conflict(self, conflict: Conflict) -> tuple[Drawn, ...]:
        """Return the picture of how far the colliding wishes can be met."""
        rows = reachable_of(conflict)
        if not rows:
            return ()
        card = self._whiskers(
            rows, said.REACHABLE, "reachable", said.READ_REACHABLE, tables.rows_of(said.REACHABLE, rows)
        )
        return self._hung("The collision in a picture", [card])

    def _hung(self, heading: str, cards: Sequence[Markup]) -> tuple[Drawn, ...]:
        if not cards:
            return ()
        missing = [] if self.draws else [tag("p", said.MISSING, class_="caution")]
        title = heading if self.draws else heading.replace("in pictures", "in numbers")
        return (Drawn(joined(tag("h3", title), *missing, tag("div", *cards, class_="gallery"))),)

    def _limits(self, formula: Formula) -> list[Markup]:
        """Return the brief's limits, then those of law and library that the formula could run into."""
        cards = []
        for title, theirs in ((said.LIMITS, ("brief",)), (said.OTHER_LIMITS, ("law", "library"))):
            every = [row for row in formula.slack if row.origin in theirs]
            shown = [row for row in every if row.origin != "library" or row.state != "inside"]
            shown.sort(key=lambda row: row.state != "broken")
            for start in range(0, len(shown), MOST):
                first = start == 0
                name = f"{'wishes' if title == said.LIMITS else 'rules'}-{formula.rank}-{start}"
                table = tables.limits(title, formula, every) if first else None
                note = said.READ_LIMITS if first and title == said.LIMITS else ""
                part = title if first else f"{title}, continued"
                cards.append(self._whiskers(shown[start : start + MOST], part, name, note, table))
            if every and not shown:
                cards.append(
                    tag(
                        "div", tag("h4", title), table_of(tables.limits(title, formula, every)), class_="card"
                    )
                )
        return cards

    def _whiskers(
        self, rows: Sequence[Slack], title: str, name: str, note: str, table: Table | None
    ) -> Markup:
        def draw(identity: str) -> Markup:
            return pictures.limits(rows, identity, title=title, description=said.limits(rows))

        return self._card(title, draw, table, name, note)

    def _parts(self, formula: Formula, found: Portrait) -> list[Markup]:
        cards = []
        rank, currency = formula.rank, formula.currency
        if found.functions:
            table = tables.composition(found.functions, rank)
            cards.append(
                self._card(
                    said.COMPOSITION,
                    lambda name: pictures.composition(found.functions, name),
                    table,
                    f"made-{rank}",
                    "",
                )
            )
        if found.harshness:
            figure = formula.figure("mildness")
            table = tables.mildness(found.harshness, figure.value or 0.0, rank)
            cards.append(
                self._card(
                    said.MILDNESS,
                    lambda name: pictures.mildness(
                        found.harshness, figure.value or 0.0, figure.at_least, name
                    ),
                    table,
                    f"mild-{rank}",
                    said.READ_MILDNESS,
                )
            )
        if found.costs:
            table = tables.costs(found.costs, currency, rank)
            cards.append(
                self._card(
                    f"{said.COST}, {currency} per kg of formula",
                    lambda name: pictures.costs(found.costs, currency, name),
                    table,
                    f"cost-{rank}",
                    "",
                )
            )
        return cards

    def _curve(self, formula: Formula, found: Portrait) -> list[Markup]:
        if found.curve is None:
            return []
        curve = found.curve
        note = f"{said.curve(curve)} {said.READ_CURVE}"
        table = tables.curve(curve, formula.rank)
        return [
            self._card(
                said.CURVE, lambda name: curve_picture.curve(curve, name), table, f"ph-{formula.rank}", note
            )
        ]

    def _brought(self, formula: Formula, found: Portrait) -> list[Markup]:
        """Return who brings what no picture shows, as a table."""
        if not found.brought:
            return []
        table = table_of(tables.brought(found.brought, formula.rank))
        inside = table if not self.draws else tag("details", tag("summary", "As a table"), table)
        return [tag("div", tag("h4", said.BROUGHT), inside, class_="card apart")]

    def _card(
        self, title: str, draw: Callable[[str], Markup], table: Table | None, name: str, note: str
    ) -> Markup:
        """Return one picture with its title, how to read it, and its table; the table alone where nothing draws."""
        told = [tag("p", note, class_="quiet")] if note else []
        same = [] if table is None else [table_of(table)]
        if not self.draws:
            return tag("section", tag("h4", title), *told, *same, class_="card")
        with drawing.quiet():
            picture = draw(name)
        folded = [tag("details", tag("summary", "The same numbers as a table"), *same)] if same else []
        return tag("figure", tag("figcaption", tag("h4", title)), picture, *told, *folded, class_="card")
