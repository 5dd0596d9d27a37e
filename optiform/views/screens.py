"""Lists the parts of each screen and page in their order, and assembles them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from optiform.views.first import answer as at_first
from optiform.views.results import answer as of_answer
from optiform.views.results import formula as of_formula
from optiform.views.words.blocks import Contents, reworded
from optiform.views.words.names import names_in, names_of

if TYPE_CHECKING:
    from optiform.answers.model.answer import Answer
    from optiform.answers.tradeoff import TradeOff
    from optiform.families.model import Family
    from optiform.views.words.blocks import Block

FORMULAS = "formulas"
"""Where the formulas that are told in full stand among the parts of an answer."""
ON_PAGES = (
    "facts",
    "take care",
    "conflict picture",
    "change pictures",
    "pictures",
    "who brings what",
)
"""Parts that only a page has; `pictures.page_parts` draws them."""


@dataclass(frozen=True)
class Screen:
    """A selection of parts: of the answer, and of each formula that is told in full."""

    answer: tuple[str, ...]
    formula: tuple[str, ...]


FORMULA = (
    "headline", "remarks", "weigh", "pictures", "figures", "limits", "acidity", "lots", "ingredients",
)  # fmt: skip
END = ("others", "side by side", "wishes", "notes", "cautions")
BEGIN = ("title", "setting", "standing")
COLLIDES = ("collision", "ways out", "reachable", "conflict picture")
RANKED = Screen((*BEGIN, *COLLIDES, "why", FORMULAS, *END), (*FORMULA, "roles", "who brings what"))
JUDGED = Screen((*BEGIN, "breaks", FORMULAS, *END), (*FORMULA, "roles", "contributions"))
REFORMULATED = Screen(
    (
        *BEGIN, "today", *COLLIDES, "saving", "change pictures", "steps", "changed lines", "changed properties",
        "levers", "ladder", "changed measures", "changed substances", FORMULAS, *END,
    ),
    (*FORMULA, "who brings what"),
)  # fmt: skip
PANEL = ("nothing yet", "collision", "facts", "weigh", "nearest")
"""What stands beside a brief while it is changed."""
FIRST = {
    "design": (
        "masthead", "nothing yet", "collision", "ways out", "compromise", "weigh", "figures", "limits", "next best",
        "care", "next",
    ),
    "check": (
        "masthead", "nothing yet", "collision", "cheapest way out", "in short", "in a line", "nearest", "next",
    ),
    "why": ("masthead", "nothing yet", "collision", "ways out", "why", "next"),
    "evaluate": ("masthead", "read as", "breaks", "figures", "costs", "care", "next"),
    "reformulate": (
        "masthead", "nothing yet", "collision", "ways out", "compromise", "read as", "better left", "differs",
        "before and after",
        "figures before and after", "steps", "watch", "care", "next",
    ),
}  # fmt: skip
"""The parts of each first screen, in their order."""
LEAD = {
    "design": (
        "masthead", "nothing yet", "cheapest way out", "facts", "weigh", "limits", "next best", "take care", "standing",
    ),
    "check": ("masthead", "nothing yet", "cheapest way out", "in short", "facts", "nearest", "take care"),
    "why": ("masthead", "nothing yet", "cheapest way out", "why", "take care"),
    "evaluate": ("masthead", "breaks", "facts", "costs", "take care"),
    "reformulate": (
        "masthead", "nothing yet", "cheapest way out", "better left", "differs", "before and after",
        "figures before and after", "watch", "take care", "standing",
    ),
}  # fmt: skip
"""What stands at the head of each page, before its contents and everything else."""
LED = ("title", "setting", "standing")
"""Parts that a head tells already, beside those that it has itself."""
LINES = {"design": 42, "check": 14, "why": 30, "evaluate": 42, "reformulate": 55}
"""How many lines a first screen has at most, 80 columns wide."""
SCREENS = {"evaluate": JUDGED, "reformulate": REFORMULATED}

FAMILY = (
    "title", "collision", "bills", "products", "shelf", "around", "limits", "differences", "base", "scenarios",
    "purchase", "end",
)  # fmt: skip
FAMILY_PAGE = (
    "title", "collision", "bills", "products", "shelf picture", "contents", "shelf", "around", "limits", "base",
    "scenarios", "purchase", "differences", "end",
)  # fmt: skip
"""The parts of a family as text and as a page."""


def answer_blocks(answer: Answer, *, everything: bool = False, drawn: bool = False) -> list[Block]:
    """Return an answer as blocks: the first formula in full and the others beside it, or all in full.

    `everything`: every formula is told in full; of a reformulation it is the first. `drawn`: a page is made, which has
    pictures; it begins with what a reader needs at one look, and lists what follows.
    """
    answer_parts, formula_parts = dict(of_answer.PARTS), dict(of_formula.PARTS)
    if drawn:
        from optiform.views.pictures import page_parts

        answer_parts |= page_parts.ANSWER_PARTS
        formula_parts |= page_parts.FORMULA_PARTS
    screen = SCREENS.get(answer.question, RANKED)
    full = answer.formulas if everything and answer.question != "reformulate" else answer.formulas[:1]
    lead = LEAD.get(answer.question, ()) if drawn else ()
    led = {*lead, *LED} if lead else ()
    blocks = [block for name in lead for block in {**at_first.PARTS, **answer_parts}[name](answer)]
    blocks += [Contents()] if lead else []
    for name in screen.answer:
        if name in led:
            continue
        if name == FORMULAS:
            told = [part for part in screen.formula if drawn or part not in ON_PAGES]
            blocks += [block for one in full for part in told for block in formula_parts[part](answer, one)]
        elif drawn or name not in ON_PAGES:
            blocks += answer_parts[name](answer)
    say = names_of(answer).said
    return [reworded(block, say) for block in blocks]


def first_blocks(answer: Answer) -> list[Block]:
    """Return the first screen of an answer."""
    parts = {**of_answer.PARTS, **at_first.PARTS}
    say = names_of(answer).said
    return [reworded(block, say) for part in FIRST[answer.question] for block in parts[part](answer)]


def panel_blocks(answer: Answer) -> list[Block]:
    """Return the panel beside a brief while it is changed: can it be met, four figures, the formula in short."""
    from optiform.views.pictures import page_parts

    parts = {**at_first.PARTS, **page_parts.ANSWER_PARTS}
    say = names_of(answer).said
    return [reworded(block, say) for part in PANEL for block in parts[part](answer)]


def tradeoff_blocks(found: TradeOff, *, everything: bool = False, drawn: bool = False) -> list[Block]:
    """Return a trade-off as blocks: `everything` is every knot, not only round bounds; `drawn` is for a page."""
    from optiform.views.results import tradeoff as of_tradeoff

    picture = None
    if drawn:
        from optiform.views.pictures.tradeoff_picture import tradeoff_drawn

        picture = partial(tradeoff_drawn, found)
    blocks = of_tradeoff.tradeoff_blocks(found, everything=everything, picture=picture)
    say = names_in(found.brief.library).said
    return [reworded(block, say) for block in blocks]


def family_blocks(found: Family, *, drawn: bool = False) -> list[Block]:
    """Return a family as blocks; `drawn`: a page is made, which has a picture and lists what follows."""
    from optiform.views.results.families import family as of_family

    parts = dict(of_family.PARTS)
    if drawn:
        from optiform.views.pictures.shelf import shelf_picture

        parts |= {"shelf picture": shelf_picture, "contents": lambda _: [Contents()]}
    blocks = [block for name in (FAMILY_PAGE if drawn else FAMILY) for block in parts[name](found)]
    say = names_in(found.plan.library).said
    return [reworded(block, say) for block in blocks]
