"""Tells the shared base of a family, and its scenarios."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.words import family_words as words
from optiform.views.words.blocks import Block, Field, Heading, Paragraph, section, tabulated
from optiform.views.words.family_tables import SIDE_BY_SIDE, scenarios_table
from optiform.views.words.numbers import fixed, percent

if TYPE_CHECKING:
    from optiform.families.model import Family


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
    finishes = (
        Field("product", lambda finish: finish.product, head=True),
        Field("base, g", lambda finish: fixed(finish.base_g, 1), "decimal"),
        Field("more to weigh", lambda finish: str(len(finish.lines)), "right"),
        Field(f"{found.currency}/kg", lambda finish: fixed(finish.here, 2), "decimal"),
        Field("with its own base", lambda finish: fixed(finish.own_base, 2), "decimal"),
    )
    blocks.append(tabulated("Finished from the base", finishes, made.finishes))
    steps = (
        "What to weigh, order of working, temperatures and dose of acid: optiform family PLAN --part batch."
    )
    return [*blocks, Paragraph(steps, "quiet")]


def scenarios(found: Family) -> list[Block]:
    """Return the scenarios of a family side by side."""
    return section(SIDE_BY_SIDE, scenarios_table(found)) if found.scenarios else []
