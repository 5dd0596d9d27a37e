"""Makes the parts that first screens share: next best formula, worst hazard, typed names, next commands."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.answers.model.answer import Answer, Formula
from optiform.library.models import Material
from optiform.library.typed.matching import Match
from optiform.measures.learned import LOGARITHM
from optiform.views.first.masthead import aim_of, aim_text
from optiform.views.words.blocks import Block, Column, Paragraph, Table, joined
from optiform.views.words.names import Names, inci_lowered, measure_name
from optiform.views.words.numbers import short
from optiform.views.words.sentences import built_differently

STRONGLY_ALKALINE, STRONGLY_ACID = 11.0, 2.5
"""From which pH of a 10 % solution a material is told of as strong (common practice, no source)."""
INJURES = {
    "corrosive": "burns skin and eyes",
    "alkaline": "strongly alkaline",
    "acid": "a strong acid",
    "eye-damage": "can injure eyes for good",
}
"""Why goggles and gloves belong to a material, the worst first."""
CANDIDATE = "A candidate to trial, not a finished formula"
IN_FULL, BELOW = "--full has every caution", "every caution stands below"


def next_best(answer: Answer) -> list[Block]:
    """Return the difference and the aim of the second formula, and how many more there are."""
    first, *others = answer.formulas
    if not others:
        return []
    second, *more = others
    text = f"Next best: {aim_of(answer, second)} {_against(first, second)}"
    if more:
        ends = [aim_text(pick(item.ranked_by for item in more), answer.aim_unit) for pick in (min, max)]
        span = ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
        text += f"; {len(more)} more, {span} {answer.aim_unit.removeprefix(LOGARITHM)}".rstrip()
    return [Paragraph(f"{text}.{_tie(answer)}")]


def _tie(answer: Answer) -> str:
    """Return why a formula with a slightly better aim stands below the first; empty where none does."""
    if answer.brief is None or not answer.brief.aim.then:
        return ""
    aim, first = answer.brief.aim, answer.formulas[0].ranked_by
    sign = 1.0 if aim.sense == "minimise" else -1.0
    if all(sign * item.ranked_by >= sign * first for item in answer.formulas[1:]):
        return ""
    least = f"{short(aim.tie)} {answer.aim_unit}".rstrip()
    word = (
        "fewer ingredients come"
        if aim.then[0] == "ingredients"
        else f"better {measure_name(aim.then[0])} comes"
    )
    return f" Within {least} of each other, {word} first."


def _against(first: Formula, other: Formula) -> str:
    """Return how another formula is built differently: "with A instead of B"."""
    has, lacks = (list(map(inci_lowered, names)) for names in built_differently(first, other))
    if has and lacks:
        return f"with {joined(has)} instead of {joined(lacks)}"
    if has:
        return f"with {joined(has)} as well"
    return f"without {joined(lacks)}" if lacks else "with the same materials in other amounts"


def care_of(answer: Answer, formula: Formula, names: Names, others: str = IN_FULL) -> list[Block]:
    """Return the worst hazard of a formula and of the acid or base ready for it, if the library is known."""
    held = {} if answer.brief is None else answer.brief.library.material
    ready = () if formula.acidity is None else formula.acidity.have_ready
    ids = dict.fromkeys([*(line.material for line in formula.lines), *(dose.material for dose in ready)])
    return care([held[which] for which in ids if which in held], names, others)


def care(materials: Sequence[Material], names: Names, others: str = IN_FULL) -> list[Block]:
    """Return the worst hazard among materials, how many more there are, and that a formula is a candidate."""
    kinds = list(INJURES)
    injuring = sorted(
        (kinds.index(kind), place, item.id)
        for place, item in enumerate(materials)
        if (kind := _injury(item)) is not None
    )
    powders = [item.id for item in materials if "dust" in item.handling]
    told = []
    if injuring:
        worst, _, material = injuring[0]
        more = f" and {len(injuring) - 1} more" if len(injuring) > 1 else ""
        told.append(f"goggles and gloves on for {names.within(material)} ({INJURES[kinds[worst]]}){more}")
    if powders:
        told.append(
            f"a mask for {f'{len(powders)} powders' if len(powders) > 1 else names.within(powders[0])}"
        )
    candidate = f"{CANDIDATE}: {others}."
    text = f"Take care: {'; '.join(told)}. {candidate}" if told else candidate
    return [Paragraph(text, "caution")]


def _injury(material: Material) -> str | None:
    """Return how a material injures, by its handling words and the pH of its solution."""
    if "corrosive" in material.handling:
        return "corrosive"
    if material.pH_10_min is not None and material.pH_10_min >= STRONGLY_ALKALINE:
        return "alkaline"
    if "eye-damage" not in material.handling:
        return None
    strong = material.pH_10_max is not None and material.pH_10_max <= STRONGLY_ACID
    return "acid" if strong else "eye-damage"


def listed(caption: str, texts: Sequence[str], *, folds: int, keeps: int) -> list[Block]:
    """Return texts as a numbered list that a short screen may fold; empty without texts."""
    columns = (Column("", "right"), Column("", head=True))
    rows = tuple((str(place), text) for place, text in enumerate(texts, 1))
    return [Table(caption, columns, rows, light=True, folds=folds, keeps=keeps)] if rows else []


def read_as(matched: Sequence[Match]) -> list[Block]:
    """Return which material each typed name was taken for, where the two differ."""
    told = "; ".join(
        f"'{match.typed}' as {match.name}"
        for match in matched
        if match.typed.casefold() != match.name.casefold()
    )
    return [Paragraph(f"Read {told}.")] if told else []
