"""One base for all products of a family, and the family under other circumstances."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.words import family_words as words
from optiform.views.words.blocks import Block, Column, Field, Heading, Paragraph, Table, section, tabulated
from optiform.views.words.family_tables import SIDE_BY_SIDE, cases_table
from optiform.views.words.numbers import fixed, percent

if TYPE_CHECKING:
    from optiform.families.model import Family, Finish


def base(found: Family) -> list[Block]:
    """Return the base with its grams, and how each product is finished from it."""
    made = found.base
    if made is None:
        return []
    lines = (
        Field("material", lambda line: line.name, head=True),
        Field("% w/w of each product", lambda line: percent(line.percent), "decimal"),
        Field("g", lambda line: fixed(line.grams, 1), "decimal"),
    )
    blocks: list[Block] = [
        Heading("One base for all"),
        Paragraph(words.base(found)),
        tabulated("The base", lines, made.lines),
    ]
    for finish in made.finishes:
        blocks += [Heading(finish.product, 3), *_finish(finish, found.currency)]
    steps = "Order of working, temperatures and dose of acid: optiform family PLAN --part batch."
    return [*blocks, Paragraph(steps, "quiet")]


def _finish(finish: Finish, currency: str) -> list[Block]:
    columns = (Column("", head=True), Column("g", "decimal"))
    rows = (("base", fixed(finish.base_g, 1)), *((name, fixed(grams, 2)) for _, name, grams in finish.lines))
    blocks: list[Block] = [Table(f"{finish.product}, finished from the base", columns, rows)]
    if finish.own_base is not None:
        blocks.append(
            Paragraph(
                f"{fixed(finish.here, 2)} {currency}/kg; {fixed(finish.own_base, 2)} with a base of its own."
            )
        )
    return blocks


def cases(found: Family) -> list[Block]:
    """Return the family under other circumstances, side by side."""
    return section(SIDE_BY_SIDE, cases_table(found)) if found.cases else []
