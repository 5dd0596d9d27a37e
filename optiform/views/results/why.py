"""Tells why a material is in the best formula or left out, and at which prices that changes."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.answers.model.answer import Answer, Line, Takeover, Why
from optiform.views.words import sentences
from optiform.views.words.blocks import Block, Bullets, Heading, Paragraph, bullets
from optiform.views.words.numbers import digits_of, fixed, floored, percent, raised


def why(answer: Answer, why: Why) -> list[Block]:
    """Return why a material is in or out, and at which prices that changes."""
    unit, money_unit = answer.aim_unit, f"{why.currency}/kg"
    held = answer.brief.library.material if answer.brief is not None else {}
    name = held[why.material].name if why.material in held else why.material
    here = why.percent > 0
    reached = f"{fixed(why.best, digits_of(unit, 2))} {unit}"
    best = answer.formulas[0].lines if answer.formulas else ()
    best_of, worse_of = ("cheapest", "dearer") if answer.aim == "cost" else ("best", "worse")
    told = [
        f"{name} costs {fixed(why.price, 2)} {money_unit}. "
        + (
            f"The {best_of} formula holds {percent(why.percent)} % w/w of it and comes to {reached}."
            if here
            else f"The {best_of} formula comes to {reached} and has none of it."
        )
    ]
    blocks: list[Block] = [Heading(f"Why {'' if here else 'not '}{name}")]
    if why.kept_out:
        words = "No formula can do without it, because of:" if here else "It is kept out by:"
        kept = tuple(sentences.asked(item) for item in why.kept_out)
        if not kept:
            kept = ("the rules of the library alone",)
        return [
            *blocks,
            Paragraph(told[0]),
            Paragraph(words),
            Bullets(kept),
            *_prices(why, best, name, money_unit),
        ]
    if why.forced is not None:
        words = "without it" if here else "with it"
        off = fixed(abs(why.forced - why.best), digits_of(unit))
        worse = f"{off if off.strip('0.') else 'less than 0.001' if '.' in off else 'less than 1'} {unit}"
        comes = f"{fixed(why.forced, digits_of(unit, 2))} {unit}: {worse} {worse_of}"
        told.append(f"The {best_of} formula {words} comes to {comes}.")
    return [*blocks, *(Paragraph(line) for line in told), *_prices(why, best, name, money_unit)]


def _prices(why: Why, best: Sequence[Line], name: str, unit: str) -> list[Block]:
    """Return at which prices the answer stays as it is, and what takes over outside.

    A price below which something holds is rounded down, one above which it holds up.
    """
    here = why.percent > 0
    told = []
    if why.finished and why.below is None and not here and not why.kept_out and why.forced is not None:
        told.append(f"No price brings {name} in, not even as a gift, as long as cost is all that counts.")
    if why.below is not None:
        words = "another formula takes over, with more of it" if here else "it enters"
        told.append(f"Below {floored(why.below.price, 2)} {unit} {words}: {_takeover(why.below, best)}.")
    if why.above is not None:
        price = raised(why.above.price, 2)
        told.append(f"Above {price} {unit} another formula takes over: {_takeover(why.above, best)}.")
    if why.finished and here and why.above is not None:
        low = "0" if why.below is None else raised(why.below.price, 2)
        told.append(f"From {low} to {floored(why.above.price, 2)} {unit} the best formula stays as it is.")
    elif why.finished and here:
        told.append(
            "However dear it gets, the best formula stays as it is, or none is possible with less of it."
        )
    return bullets("Its price", told, level=3)


def _takeover(found: Takeover, best: Sequence[Line]) -> str:
    """Return what a formula that takes over does differently, the largest changes first; water follows."""
    before = {line.material: line for line in best if line.function != "water"}
    after = {line.material: line for line in found.lines if line.function != "water"}
    told = []
    for material in before.keys() | after.keys():
        old, new = before.get(material), after.get(material)
        was, now = (0.0 if line is None else line.percent for line in (old, new))
        if percent(was) == percent(now):
            continue
        text = (
            f"{new.name} comes in with {percent(now)} %"
            if old is None and new is not None
            else f"without {old.name}"
            if new is None and old is not None
            else f"{before[material].name}: {percent(now)} % instead of {percent(was)}"
        )
        told.append((-round(abs(now - was), 4), old is not None, material, text))
    return "; ".join(text for *_, text in sorted(told)) or "the same but for the water"
