"""Each result in every form: text at one look or in full, Markdown, a page, JSON, CSV and a table."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from optiform.views.render import markdown, page, text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import pandas as pd

    from optiform.answers.bench.lot_correction import LotCorrection
    from optiform.answers.bench.readings import Bench
    from optiform.answers.bench.swapping import Swap
    from optiform.answers.model.answer import Answer
    from optiform.answers.tradeoff import TradeOff
    from optiform.families.model import Family
    from optiform.library.formulas import TypedFormula
    from optiform.sheets import Sheet, Shopping
    from optiform.views.words.blocks import Block, Rows

    Blocks = Callable[[], Sequence[Block]]


@dataclass(frozen=True)
class Result:
    """One result, ready for any form; only the one that is asked for is made.

    Attributes
    ----------
    title : str
        Of its page.
    blocks : callable
        Returns everything that a reader is told.
    question, value
        Of its JSON document: whose model it has, and what it is read from.
    rows : callable, optional
        Returns the columns and rows of its CSV.
    drawn : callable, optional
        Returns what a page is told, where it has pictures.
    first : callable, optional
        Returns what a reader needs at one look.
    lines : int, optional
        How many lines that takes at most, 80 columns wide.
    """

    title: str
    blocks: Blocks
    question: str
    value: Any
    rows: Callable[[], Rows] | None = None
    drawn: Blocks | None = None
    first: Blocks | None = None
    lines: int | None = None

    def to_text(self, screen: text.Screen | None = None, *, full: bool = False) -> str:
        """Return the result as text: at one look where it has a first screen, else in full."""
        if self.first is None or full:
            return text.render(self.blocks(), screen)
        return text.render(self.first(), screen, self.lines)

    def to_markdown(self) -> str:
        """Return everything as Markdown."""
        return markdown.render(self.blocks())

    def to_html(self) -> str:
        """Return everything as one page."""
        return page.render((self.drawn or self.blocks)(), self.title)

    def to_json(self) -> str:
        """Return the document of its question."""
        from optiform.views.data import json_document

        return json_document.document(self.question, self.value)

    def to_csv(self) -> str:
        """Return its table as CSV.

        Raises
        ------
        TypeError
            For a result that is no table.
        """
        from optiform.views.data import csv_table

        return csv_table.table(*self._rows())

    def frame(self) -> pd.DataFrame:
        """Return its table as a data frame.

        Raises
        ------
        TypeError
            For a result that is no table.
        """
        import pandas as pd

        columns, rows = self._rows()
        return pd.DataFrame(rows, columns=list(columns))

    def _rows(self) -> Rows:
        if self.rows is None:
            raise TypeError(f"the result of {self.question} is no table")
        return self.rows()


def result_of(value: Any, *, everything: bool = False, typed: TypedFormula | None = None) -> Result:
    """Return what a question answered, ready for any form.

    Parameters
    ----------
    value : Answer, TradeOff, LotCorrection, Bench, Swap, Sheet, Shopping or Family
    everything : bool
        Whether every formula of an answer, and every knot of a trade-off, is told in full.
    typed : TypedFormula, optional
        The formula that a lot was corrected in or a sheet was made of: how it was read is told as well.

    Raises
    ------
    TypeError
        For anything else.
    """
    kind = type(value).__name__
    if kind == "Answer":
        return _weighed(value) if value.question == "weigh" else _answer(value, everything)
    if kind == "TradeOff":
        return _tradeoff(value, everything)
    others: dict[str, Callable[[Any], Result]] = {
        "LotCorrection": partial(_lot, typed=typed),
        "Bench": _bench,
        "Swap": _swap,
        "Sheet": partial(_sheet, typed=typed),
        "Shopping": shopping_result,
        "Family": _family,
    }
    if kind not in others:
        raise TypeError(f"a {kind} is no result of a question")
    return others[kind](value)


def _answer(answer: Answer, everything: bool) -> Result:
    from optiform.views import screens
    from optiform.views.results.answer import rows

    short = answer.question in screens.FIRST
    return Result(
        answer.title or answer.question,
        partial(screens.answer_blocks, answer, everything=everything),
        answer.question,
        answer,
        partial(rows, answer),
        drawn=partial(screens.answer_blocks, answer, everything=everything, drawn=True),
        first=partial(screens.first_blocks, answer) if short else None,
        lines=screens.LINES.get(answer.question),
    )


def _weighed(answer: Answer) -> Result:
    from optiform.views.results import weighing

    blocks, rows = partial(weighing.weigh_blocks, answer), partial(weighing.weigh_rows, answer)
    return Result(answer.title, blocks, "weigh", answer, rows)


def _tradeoff(found: TradeOff, everything: bool) -> Result:
    from optiform.views.results.tradeoff import rows
    from optiform.views.screens import tradeoff_blocks
    from optiform.views.words.tradeoff_words import heading

    told = partial(tradeoff_blocks, found, everything=everything)
    return Result(
        heading(found), told, "tradeoff", found, partial(rows, found), drawn=partial(told, drawn=True)
    )


def _lot(found: LotCorrection, typed: TypedFormula | None) -> Result:
    from optiform.views.results import weighing

    lines = tuple((line.material, line.percent) for line in found.corrected.lines)
    notes, matched = ((), ()) if typed is None else (typed.notes, typed.matched)
    blocks, rows = partial(weighing.lot_blocks, found, notes), partial(weighing.formula_rows, lines)
    title = found.name if typed is None else f"{typed.name}, {found.name}"
    return Result(title, blocks, "lot", (found, matched), rows)


def _bench(found: Bench) -> Result:
    from optiform.views.results import weighing

    blocks, rows = partial(weighing.bench_blocks, found), partial(weighing.formula_rows, found.formula.lines)
    return Result(found.formula.name or "A trial", blocks, "bench", found, rows)


def _swap(found: Swap) -> Result:
    from optiform.views.results.materials.swap import swap_blocks
    from optiform.views.results.weighing import formula_rows

    blocks, rows = partial(swap_blocks, found), partial(formula_rows, found.formula.lines)
    return Result(found.formula.name, blocks, "swap", found, rows)


def _sheet(sheet: Sheet, typed: TypedFormula | None) -> Result:
    """Return a sheet: its one part in full, or several, each in a few lines at first."""
    from optiform.views.first.card import card_blocks
    from optiform.views.first.sheet import sheet_first
    from optiform.views.results.sheet import sheet_blocks
    from optiform.views.results.sheet_rows import sheet_rows

    matched = () if typed is None else typed.matched
    parts = (sheet.card, sheet.batch, sheet.label, sheet.cost, sheet.shopping)
    several = sum(part is not None for part in parts) > 1 and sheet.card is None
    full = partial(sheet_blocks, sheet) if sheet.card is None else partial(card_blocks, sheet.card)
    return Result(
        sheet.title,
        full,
        "sheet",
        (sheet, matched),
        partial(sheet_rows, sheet),
        first=partial(sheet_first, sheet, matched) if several else None,
    )


def shopping_result(found: Shopping, cautions: tuple[str, ...] | None = None) -> Result:
    """Return a shopping list, ready for any form, with the cautions for what is bought."""
    from optiform.answers.describe.cautions import CAUTIONS
    from optiform.views.results.sheet import plan_blocks
    from optiform.views.results.sheet_rows import shopping_rows

    careful = CAUTIONS if cautions is None else cautions
    blocks, rows = partial(plan_blocks, found, careful), partial(shopping_rows, found)
    return Result(found.title, blocks, "shop", (found, careful), rows)


def _family(found: Family) -> Result:
    from optiform.views import screens
    from optiform.views.first.family import LINES, family_first
    from optiform.views.results.families.shelf import rows

    return Result(
        found.title,
        partial(screens.family_blocks, found),
        "family",
        found,
        partial(rows, found),
        drawn=partial(screens.family_blocks, found, drawn=True),
        first=partial(family_first, found),
        lines=LINES,
    )
