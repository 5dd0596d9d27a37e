"""Words a conflict and its ways out."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.answers.describe.sensible_steps import step
from optiform.answers.model.answer import Change, Line
from optiform.program.requirement import Requirement
from optiform.views.words import sentences
from optiform.views.words.blocks import Way, joined
from optiform.views.words.names import Names
from optiform.views.words.numbers import fixed, percent, short

WHOLE = 100.0
LARGEST = 4
"""Materials that tell what a formula looks like at a glance."""


def way(found: Change, unit: str) -> Way:
    """Return one change that makes a brief possible, with what the best formula then costs and looks like."""
    if found.cost is None:
        return Way(change(found))
    return Way(change(found), f"{fixed(found.cost, 2)} {unit}".rstrip(), made_of(found.lines))


def change(found: Change) -> str:
    """Return one change that makes a brief possible."""
    requirement = found.requirement
    text = requirement.title
    if given_up(found):
        text = f"give up: {text}"
    elif found.readmit and requirement.key.section == "shelf":
        text = f"{text}, and {joined(found.readmit)} as well"
    elif found.readmit:
        text = f"{text}: admit {joined(found.readmit)} again"
    elif found.to is not None:
        text = sentences.relaxed(requirement, found.to)
    return text


def priced(cost: float | None, lines: Sequence[Line], unit: str) -> str:
    """Return what the best formula then costs and looks like."""
    told = (
        f"the best formula then costs {fixed(cost, 2)} {unit}".rstrip()
        if cost is not None
        else "the best formula then"
    )
    return f"{told}: {made_of(lines)}" if lines else told


def given_up(found: Change) -> bool:
    """Tell whether a change gives a requirement up: drops it, or moves it to where it limits nothing."""
    return found.drop or (found.to is not None and asks_nothing(found.requirement, found.to))


def made_of(lines: Sequence[Line]) -> str:
    """Return the largest materials of a formula without water, in % w/w."""
    dry = (line for line in lines if line.function != "water")
    largest = sorted(dry, key=lambda line: (-round(line.percent, 4), line.material))
    names = Names(((line.material, line.name) for line in largest), (line.material for line in largest))
    told = [f"{names.within(line.material)} {percent(line.percent)} %" for line in largest[:LARGEST]]
    left = len(largest) - len(told)
    return ", ".join(told) + (f" and {left} more" if left else "")


def asks_nothing(requirement: Requirement, to: float) -> bool:
    """Tell whether a limit at this bound limits nothing: at least 0, or at most 100 %."""
    if requirement.side == "at_least":
        return to <= 0 < (requirement.bound or 0.0)
    return requirement.side == "at_most" and requirement.unit.startswith("%") and to >= WHOLE


def weights(requirements: Sequence[Requirement]) -> str:
    """Return the size of one step of each wish in a compromise."""
    subjects = [item.label or item.measure or item.title for item in requirements]
    sizes = zip(subjects, requirements, strict=True)
    steps = joined([f"{subject} {short(step(item))} {item.unit}".rstrip() for subject, item in sizes])
    return (
        "Each gives way by the same number of its own steps, as few as possible; what turned out not to be needed was "
        f"taken back. One step is {steps}. All were solved again together, as they are printed."
    )
