"""Makes the first screen of a family."""

from __future__ import annotations

from optiform.families.model import Family
from optiform.views.first import answer as at_first
from optiform.views.first import shared_parts
from optiform.views.words import family_tables as tables
from optiform.views.words import family_words as words
from optiform.views.words.blocks import Block, Field, Paragraph, ask_next, light, reworded, tabulated
from optiform.views.words.names import names_in
from optiform.views.words.numbers import fixed

LINES = 42
"""How many lines the first screen has at most, 80 columns wide."""
PRODUCTS, SHELF, LIMITS, CASES = 3, 6, 0, 3
DEAREST = 3
SHELF_FOLDS, LIMITS_FOLD, PRODUCTS_FOLD = 1, 2, 3


def family_first(found: Family) -> list[Block]:
    """Return the parts of a family in short."""
    if not found.products:
        return [*tables.title(found), *_collision(found), *(Paragraph(note) for note in found.notes)]
    called, titles = tables.names(found), words.called(found)
    blocks = [*tables.title(found), light(tables.bills_table(found))]
    told = [
        words.saving(found),
        words.base(found),
        words.one_less(found, called),
        words.one_more(found, called),
    ]
    said = [text for text in told if text]
    blocks += [Paragraph(" ".join(said))] if said else []
    blocks.append(light(tables.products_table(found), PRODUCTS_FOLD, PRODUCTS))
    blocks.append(light(tables.matrix(found), SHELF_FOLDS, SHELF))
    if found.scenarios:
        blocks.append(light(tables.scenarios_table(found, short=True), LIMITS_FOLD, CASES))
    priced = [one for one in found.limits if one.costs is not None][:DEAREST]
    if priced:
        fields = (
            Field("", lambda one: words.limit(one, titles), head=True, cut=True),
            Field(found.currency, lambda one: fixed(one.costs, 2), "decimal"),
        )
        table = tabulated("One step of a limit costs all", fields, priced)
        blocks.append(light(table, LIMITS_FOLD, LIMITS))
    here = [found.plan.library.material[stand.material] for stand in found.shelf]
    return [
        *blocks,
        *shared_parts.care(here, called),
        *ask_next("optiform family PLAN --full", "--curve", "--part batch", "--format html"),
    ]


def _collision(found: Family) -> list[Block]:
    """Return why no family can be made, and what would let it be, in short."""
    why = found.conflict
    if why is None:
        return []
    if why.answer is not None:
        told = Paragraph(f"{why.product} cannot be made by itself, whatever stands on the shelf.", "bad")
        parts = ("collision", "ways out", "compromise")
        return [told, *(block for part in parts for block in at_first.PARTS[part](why.answer))]
    blocks: list[Block] = [Paragraph(words.EACH_ALONE, "bad"), *map(Paragraph, words.cannot(found))]
    if not why.ways:
        return [*blocks, Paragraph(words.NO_WAY, "bad")]
    say = names_in(found.plan.library).said
    ways = [words.way(way, found) for way in why.ways]
    inside = [say(text) for text in words.collisions(found)]
    return [
        *(reworded(block, say) for block in blocks),
        *shared_parts.listed("Any one of these is enough", ways, folds=1, keeps=5),
        *shared_parts.listed("What collides inside a product", inside, folds=2, keeps=1),
    ]
