"""Gives each result in every form: text in short or in full, Markdown, a page, JSON, CSV, a table."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from optiform.showing import Pictures
from optiform.views.pictures import svg
from optiform.views.render import markdown, page, text
from optiform.views.words.blocks import Cards, Drawn, cells_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import pandas as pd

    from optiform.answers.bench.lot_correction import LotCorrection
    from optiform.answers.bench.readings import Bench
    from optiform.answers.bench.swapping import Swap
    from optiform.answers.model.answer import Answer, Formula
    from optiform.answers.tradeoff import TradeOff
    from optiform.families.model import Family
    from optiform.families.plan_questions import Making
    from optiform.library.formulas import TypedFormula
    from optiform.sheets import Sheet, Shopping
    from optiform.views.words.blocks import Block, Rows

    Blocks = Callable[[], Sequence[Block]]


LINES = 42
"""Lines that the first screen of an answer about trials has at most, 80 columns wide."""


@dataclass(frozen=True)
class Result:
    """One result that can be given in any form; only the form asked for is made.

    Attributes
    ----------
    title : str
        Of its page.
    blocks : callable
        Returns everything that a reader is told.
    question, value
        Of its JSON document: whose model it has, and what it is read from.
    rows : callable, optional
        Returns the columns and rows of its CSV; absent: every table that a reader is told, a cell a row.
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
        """Return its table as CSV."""
        from optiform.views.data import csv_table

        return csv_table.table(*self._rows())

    def frame(self) -> pd.DataFrame:
        """Return its table as a data frame."""
        import pandas as pd

        columns, rows = self._rows()
        return pd.DataFrame(rows, columns=list(columns))

    def plot(self) -> Pictures:
        """Return the pictures of its page.

        Raises
        ------
        TypeError
            For a result whose page has none.
        """
        found: dict[str, str] = {}
        for block in self.drawn() if self.drawn else ():
            if isinstance(block, Drawn):
                found[self.title] = block.drawing
            elif isinstance(block, Cards):
                found |= {card.title: card.drawing for card in block.cards if card.drawing}
        if not found:
            raise TypeError(f"the result of {self.question} has no picture")
        return Pictures(MappingProxyType({title: svg.documents(drawing) for title, drawing in found.items()}))

    def _rows(self) -> Rows:
        return cells_of(self.blocks()) if self.rows is None else self.rows()


def result_of(value: Any, *, everything: bool = False, typed: TypedFormula | None = None) -> Result:
    """Return what a question answered, ready for any form.

    Parameters
    ----------
    value : Answer, Formula, TradeOff, LotCorrection, Bench, Swap, Sheet, Shopping, Family, Making
        Or an answer about trials.
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
    if kind == "Formula":
        return _answer(_alone(value), everything)
    if kind == "TradeOff":
        return _tradeoff(value, everything)
    others: dict[str, Callable[[Any], Result]] = {
        "LotCorrection": partial(_lot, typed=typed),
        "Bench": _bench,
        "Swap": _swap,
        "Sheet": partial(_sheet, typed=typed),
        "Shopping": shopping_result,
        **dict.fromkeys(("TrialList", "TrialAdded", "Learned", "Planned", "NextTrial"), _of_trials),
        "Family": _family,
        "Making": _making,
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


def _alone(formula: Formula) -> Answer:
    """Return one formula of an answer as an answer of its own, which measures it."""
    from optiform.answers.describe.cautions import cautions_for
    from optiform.answers.model.answer import Answer

    brief = formula.brief
    if brief is None:
        raise TypeError("a formula shows itself where it knows its brief: ask as optiform.design does")
    aim = brief.aim.measure
    unit = next((figure.unit for figure in formula.figures if figure.measure == aim), "")
    return Answer(
        question="evaluate",
        status="solved",
        proven=True,
        brief=brief,
        aim=aim,
        aim_unit=unit,
        title=f"{brief.title}, formula {formula.rank}",
        library=brief.library.name,
        formulas=(formula,),
        cautions=cautions_for(brief),
    )


def _weighed(answer: Answer) -> Result:
    from optiform.views.results import weighing

    blocks = _named(partial(weighing.weigh_blocks, answer), _lines(*answer.formulas))
    rows = partial(weighing.weigh_rows, answer)
    return Result(answer.title, blocks, "weigh", answer, rows)


def _named(blocks: Blocks, names: Mapping[str, str]) -> Blocks:
    """Return blocks with the names of materials in place of their ids."""
    from optiform.views.words.blocks import reworded
    from optiform.views.words.names import Names

    say = Names(names.items(), names).said
    return lambda: [reworded(block, say) for block in blocks()]


def _lines(*formulas: Formula) -> dict[str, str]:
    """Return the names of the materials of some formulas."""
    return {line.material: line.name for formula in formulas for line in formula.lines}


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
    blocks = _named(partial(weighing.lot_blocks, found, notes), _lines(found.planned))
    rows = partial(weighing.formula_rows, lines)
    title = found.name if typed is None else f"{typed.name}, {found.name}"
    return Result(title, blocks, "lot", (found, matched), rows)


def _bench(found: Bench) -> Result:
    from optiform.views.results import weighing

    blocks = _named(partial(weighing.bench_blocks, found), _lines(found.now))
    rows = partial(weighing.formula_rows, found.formula.lines)
    return Result(found.formula.name or "A trial", blocks, "bench", found, rows)


def _swap(found: Swap) -> Result:
    from optiform.views.results.materials.swap import swap_blocks
    from optiform.views.results.weighing import formula_rows

    blocks = _named(partial(swap_blocks, found), _lines(found.planned, found.swapped))
    rows = partial(formula_rows, found.formula.lines)
    return Result(found.formula.name, blocks, "swap", found, rows)


def _sheet(sheet: Sheet, typed: TypedFormula | None) -> Result:
    """Return a sheet as a result: one part in full, or several, in short on the first screen."""
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
        _named(full, sheet.names),
        "sheet",
        (sheet, matched),
        partial(sheet_rows, sheet),
        first=_named(partial(sheet_first, sheet, matched), sheet.names) if several else None,
    )


def shopping_result(found: Shopping, cautions: tuple[str, ...] | None = None) -> Result:
    """Return a shopping list, ready for any form, with the cautions for what is bought."""
    from optiform.answers.describe.cautions import CAUTIONS
    from optiform.views.results.sheet import plan_blocks
    from optiform.views.results.sheet_rows import shopping_rows

    careful = CAUTIONS if cautions is None else cautions
    blocks, rows = partial(plan_blocks, found, careful), partial(shopping_rows, found)
    return Result(found.title, blocks, "shop", (found, careful), rows)


def _of_trials(found: Any) -> Result:
    """Return an answer about trials as a result; what trials taught has a picture of each fit on its page."""
    from optiform.views.pictures.trial_fits import card
    from optiform.views.results.trials import learning, listing, next_trial, planning

    parts: dict[str, tuple[str, Any, Any, Any]] = {
        "TrialList": ("trial list", listing.list_blocks, listing.list_rows, None),
        "TrialAdded": ("trial add", listing.added_blocks, None, None),
        "Learned": ("trial learn", learning.learn_blocks, learning.learn_rows, learning.learn_first),
        "Planned": ("trial plan", planning.plan_blocks, planning.plan_rows, planning.plan_first),
        "NextTrial": ("trial next", next_trial.next_blocks, next_trial.next_rows, None),
    }
    question, *told = parts[type(found).__name__]
    blocks, rows, first = (part and partial(part, found) for part in told)
    drawn = partial(blocks, card) if question == "trial learn" else None
    return Result(found.title, blocks, question, found, rows, drawn, first, LINES if first else None)


def _making(made: Making) -> Result:
    from optiform.views.results.families.making import making_blocks, making_rows

    told = partial(making_blocks, made)
    return Result(f"{made.title}: batch records", told, "family batch", made, partial(making_rows, made))


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
