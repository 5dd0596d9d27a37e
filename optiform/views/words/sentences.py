"""Words answers about formulas: one sentence for one idea."""

from __future__ import annotations

import math

from optiform.answers.model.answer import Acidity, Answer, Broken, Dose, Formula, Leave, Line, MarginCost
from optiform.bounds import bound_text
from optiform.program.requirement import Requirement
from optiform.tolerances import ROUNDING, TOLERANCE
from optiform.views.words.numbers import (
    digits_of,
    fixed,
    gained,
    give_or_take,
    money,
    percent,
    raised,
    short,
)

SHORT_CAUTION = (
    "Candidates to trial, not finished formulas: concentrates, acids and bases injure eyes and skin, powders must "
    "not be breathed; before sale come a challenge test, stability in the final pack, a safety assessment by a "
    "qualified person and the local law."
)
MAY_MOVE = (
    "May move: how far one amount can go, while the others follow and the cost stays within a small allowance of the "
    "best."
)
DEGENERATE = (
    "Where loosening saves less than tightening costs, several limits meet in one corner: loosen one of them alone, "
    "and the others still hold the formula there."
)
NONE_YET = "Stopped at the limit before any formula was found. A longer time limit may find one."
SPREAD_TOLD = 0.2
"""A range of pH narrower than this is told with two decimals, and nobody is named for it."""
NAMED_FROM = 0.05
"""From which part of the spread on a second material is named for it."""


def cautions(answer: Answer) -> tuple[str, ...]:
    """Return the cautions that belong to an answer; the usual ones where it carries none of its own."""
    if answer.cautions:
        return answer.cautions
    from optiform.answers.describe.cautions import CAUTIONS

    return CAUTIONS


def hazards(answer: Answer, formula: Formula) -> tuple[str, ...]:
    """Return the materials of a formula that injure or dust as they are weighed, by their handling words."""
    if answer.brief is None:
        return ()
    materials = answer.brief.library.material
    beside = () if formula.acidity is None else formula.acidity.have_ready
    named = [*((line.material, line.name) for line in formula.lines), *((d.material, d.name) for d in beside)]
    words = {name: set(materials[which].handling) for which, name in named if which in materials}
    eyes = [name for name, handling in words.items() if handling & {"corrosive", "eye-damage"}]
    dust = [name for name, handling in words.items() if "dust" in handling]
    found = []
    if eyes:
        found.append(f"Injures eyes and skin as it is weighed: {'; '.join(eyes)}.")
    if dust:
        found.append(f"Powder that must not be breathed: {'; '.join(dust)}.")
    return tuple(found)


def standing(answer: Answer) -> tuple[str, ...]:
    """Return the aim of an answer, and how far it is proven."""
    if answer.status == "conflict":
        return ("This brief cannot be met.",)
    if answer.leave is not None:
        return (leave(answer.leave, answer.aim_unit),)
    if not answer.formulas:
        return (NONE_YET,)
    if answer.question == "evaluate":
        return (verdict(answer.formulas[0].breaks),)
    if answer.question == "check":
        return ("Yes, this brief can be met. Here is one formula that meets it.",)
    margin = answer.margin
    return (
        *_proven(answer),
        *([certainty(margin, answer.aim, answer.aim_unit)] if margin is not None else []),
    )


def leave(found: Leave, unit: str) -> str:
    """Return the advice to keep today's formula: "... is within 0.01 EUR/kg of the best: leave it"."""
    digits = digits_of(unit, 2)
    near = max(float(raised(found.saving, digits)), 10.0**-digits)
    return f"Today's formula is within {fixed(near, digits)} {unit} of the best: leave it."


def certainty(found: MarginCost, aim: str, unit: str) -> str:
    """Return what margins cost: "Being 90 % sure costs 0.04 EUR/kg.", of another aim "costs 3 points of mildness"."""
    sure = " and ".join(f"{100 * one:g} %" for one in found.sure)
    cost = f"{money(found.cost, unit)} {unit}".rstrip()
    if found.cost < ROUNDING:
        return f"Being {sure} sure costs nothing here."
    return f"Being {sure} sure costs {cost}{'' if aim == 'cost' else f' of {aim}'}."


def _proven(answer: Answer) -> tuple[str, ...]:
    aim, count = f"Aim: {aimed(answer)}.", len(answer.formulas)
    if answer.status == "stopped" or not answer.proven:
        warning = (
            "Stopped at the limit. This is the best so far, not a proven ranking: a better formula may exist."
        )
        return (aim, warning)
    if count == 1:
        return (f"{aim} Proven: no formula that meets the brief does better.",)
    listed = f"The best {count} formulas that differ in structure, the best first."
    return (f"{aim} {listed} Proven: no other structure does better than the last one listed.",)


def aimed(answer: Answer) -> str:
    """Return the aim in words: "lowest cost" or "highest mildness"."""
    sense = answer.brief.aim.sense if answer.brief is not None else "minimise"
    return f"{'lowest' if sense == 'minimise' else 'highest'} {answer.aim}"


def verdict(breaks: tuple[Broken, ...]) -> str:
    """Return whether a typed formula meets what it was checked against."""
    if not breaks:
        return "It meets everything that it was checked against."
    return "It breaks one requirement." if len(breaks) == 1 else f"It breaks {len(breaks)} requirements."


def contents(formula: Formula) -> str:
    """Return what the contents of a formula cost: "2.41 EUR/kg at invented prices"."""
    cost = f"{fixed(formula.cost, 2)} {formula.currency}/kg"
    trust = {figure.measure: str(figure.trust) for figure in formula.figures}.get("cost", "")
    kinds = {
        "invented": " at invented prices",
        "estimate": " at estimated prices",
        "memory": " at prices from memory",
    }
    return cost + kinds.get(trust, "")


def structure(formula: Formula) -> str:
    """Return what a formula is built on: "Decyl glucoside, xanthan gum; preserved by ..."."""
    built = [name for name in formula.structure if name != formula.system]
    system = f"preserved by {formula.system}" if formula.system else ""
    text = "; ".join(part for part in (" + ".join(built), system) if part)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def preferences(formula: Formula, aim: str, unit: str) -> tuple[str, ...]:
    """Return the penalty of each soft wish, and the aim with all of them."""
    told = []
    for wish in formula.preferences:
        side = "at least" if wish.side == "at_least" else "at most"
        asked = f"Wished for: {wish.measure} {side} {short(wish.wanted)} {wish.unit}".rstrip()
        has = f"{asked}; here {fixed(wish.value, wish.digits)}"
        paid = f"{gained(wish.penalty, unit)}".rstrip()
        told.append(f"{has}, which counts as {paid}." if wish.penalty > ROUNDING else f"{has}.")
    if formula.aim_with_preferences is not None:
        alone, whole = money(formula.aim, unit), money(formula.aim_with_preferences, unit)
        told.append(
            f"{aim[:1].upper()}{aim[1:]} {alone} {unit}; {whole} {unit} with what falls short counted."
        )
    return tuple(told)


def other_grades(formula: Formula) -> str:
    """Return which other grades would do: "Another grade would do: NAME at 12 % (1.62 EUR/kg)"."""
    names = {line.material: line.name for line in formula.lines}
    told = [
        f"{grade.name} at {percent(grade.percent)} % instead of {names.get(grade.instead_of, grade.instead_of)} "
        f"({fixed(grade.cost, 2)} {formula.currency}/kg)"
        for grade in formula.also
    ]
    return f"{'Another grade' if len(told) == 1 else 'Other grades'} would do: {'; '.join(told)}."


def against(first: Formula, other: Formula) -> str:
    """Return how another formula is built differently: "with A instead of B"."""
    has, lacks = built_differently(first, other)
    if has and lacks:
        words = f"{' + '.join(has)} instead of {' + '.join(lacks)}"
    elif has:
        words = f"{' + '.join(has)} as well"
    else:
        words = f"without {' + '.join(lacks)}" if lacks else "the same structure, other amounts"
    return f"Formula {other.rank}, {fixed(other.cost, 2)} {other.currency}/kg: {words}."


def built_differently(first: Formula, other: Formula) -> tuple[list[str], list[str]]:
    """Return the names that another formula is built on and the first is not, and the other way round."""
    old, new = (dict.fromkeys([*item.structure, *filter(None, [item.system])]) for item in (first, other))
    return [name for name in new if name not in old], [name for name in old if name not in new]


def asked(requirement: Requirement) -> str:
    """Return a requirement with its origin, where that is not the brief."""
    if requirement.origin in ("brief", "balance"):
        return requirement.title
    why = f": {requirement.why}" if requirement.why and requirement.origin == "library" else ""
    return f"{requirement.title} [{requirement.origin}{why}]"


def acidity(found: Acidity, names: dict[str, str]) -> tuple[str, ...]:
    """Return what to expect of the pH and what to keep ready for it."""
    dosed = " at this dose" if found.doses else ""
    told = [
        f"Expected pH {fixed(found.pH, 1)}; nine likely lots in ten {likely_pH(found)}{dosed}: "
        "confirm it with a meter."
    ]
    if found.spread_from and found.high - found.low >= SPREAD_TOLD:
        first, *others = found.spread_from[:3]
        who = [first, *(item for item in others if item[1] >= NAMED_FROM)]
        shown = "; ".join(f"{names.get(which, which)} ({fixed(100.0 * part, 0)} %)" for which, part in who)
        told.append(f"What brings that spread: {shown}.")
    told += [_dose(dose, names) for dose in found.doses]
    told += [have_ready(dose) for dose in found.have_ready]
    if found.reserve > 0:
        held = f"Hold back {percent(found.reserve)} % w/w of the water"
        told.append(
            f"{held}, so that the upper end of {'the dose' if found.doses else 'it'} still fits into 100 %."
        )
    if found.undosed_pH is not None and found.doses:
        told.append(f"Without that the pH would be {fixed(found.undosed_pH, 1)}.")
    told.append(
        f"Buffer capacity {fixed(found.buffer_capacity, 2)} mmol per 100 g and pH unit; "
        f"ionic strength {fixed(found.ionic_strength, 2)} mol per kg of water"
        + (", beyond what the activity model covers, so held at its limit." if found.held else ".")
    )
    return tuple(told)


def likely_pH(found: Acidity) -> str:
    """Return the pH of the middle 90 % of likely lots: "4.8 to 5.5", "± 0.13"."""
    digits = 1 if found.high - found.low >= SPREAD_TOLD else 2
    return give_or_take(found.pH, found.low, found.high, digits, fixed)


def have_ready(dose: Dose) -> str:
    """Return the acid or base to keep ready beside a formula, and the range that likely lots need."""
    typical = f", {percent(dose.percent)} % for the typical one" if dose.percent > 0 else ""
    return (
        f"Have ready beside the formula: {dose.name}, {percent(dose.low)} to {percent(dose.high)} % w/w{typical}. "
        "Likely lots need it to reach their pH; add it in portions, by the meter."
    )


def _dose(dose: Dose, names: dict[str, str]) -> str:
    name = names.get(dose.material, dose.material)
    return (
        f"{name}: {percent(dose.percent)} % w/w computed; have {percent(dose.low)} to {percent(dose.high)} % ready "
        "and add it in portions, by the meter."
    )


def moved(requirement: Requirement, to: float, words: str = "") -> str:
    """Return the title of a requirement at another bound; `words` stand in place of "at least"."""
    from optiform.program.requirement import SIDE_WORDS, counted

    if requirement.side is None:
        return f"{requirement.title}: {short(to)}"
    written = bound_text(to, requirement.side, requirement.decimals)
    tail = requirement.tail or requirement.unit
    told = counted(to, tail) if requirement.choice else f"{written} {tail}".rstrip()
    return f"{requirement.label} {words or SIDE_WORDS[requirement.side]} {told}".lstrip()


def relaxed(requirement: Requirement, to: float) -> str:
    """Return a requirement at another bound, beside the one that it had."""
    instead = (
        f", instead of {bound_text(requirement.bound, requirement.side, requirement.decimals)}"
        if requirement.bound is not None
        else ""
    )
    return moved(requirement, to) + instead


def cost_unit(answer: Answer) -> str:
    """Return the unit of a cost, whatever the aim."""
    return answer.aim_unit if answer.brief is None else f"{answer.brief.library.currency}/kg"


def broken(found: Broken) -> str:
    """Return one broken requirement with the value that breaks it."""
    requirement = found.requirement
    title = asked(requirement)
    told = found.message in ("", requirement.why) and requirement.why in title
    return title if told or not found.message else f"{title}: {found.message}"


def amount(line: Line) -> str:
    """Return an amount in % w/w in digits that, typed back, meet the same limits."""
    if line.printed is None:
        return percent(line.percent)
    text = fixed(line.printed, line.places)
    whole, point, decimals = text.partition(".")
    return f"{whole}{point}{decimals[:2]}{decimals[2:].rstrip('0')}"


def total(formula: Formula) -> str:
    """Return the total of the amounts as it is printed."""
    whole = math.fsum(line.percent for line in formula.lines)
    return "100" if abs(whole - 100.0) <= TOLERANCE else fixed(whole, 3)


def listed(formula: Formula) -> str:
    """Return the INCI names of a formula, the most first."""
    return ", ".join(item.inci for item in formula.ingredients)
