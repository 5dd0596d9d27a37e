"""Makes the first screen of a conflict: what collides, ways out with their costs, the compromise."""

from __future__ import annotations

from collections.abc import Callable

from optiform.answers.model.answer import Answer, Broken, Change, Conflict
from optiform.program.requirement import Requirement
from optiform.views.words.blocks import Block, Column, Field, Paragraph, Table, joined, light, tabulated
from optiform.views.words.conflict_words import given_up
from optiform.views.words.names import Names, names_of
from optiform.views.words.numbers import NOTHING, bounded, fixed, short, unit_of
from optiform.views.words.sentences import cost_unit

NO_SINGLE_CHANGE = "No single change makes it possible."
NOT_ALL_KNOWN = "Stopped before every way out was known."


def count_of_breaks(breaks: tuple[Broken, ...]) -> str:
    """Return how many limits a formula breaks: "breaks nothing", "breaks 2 limits"."""
    if not breaks:
        return "breaks nothing"
    return "breaks one limit" if len(breaks) == 1 else f"breaks {len(breaks)} limits"


def _collision(answer: Answer, found: Conflict, names: Names) -> list[Block]:
    """Return what cannot hold together, one wish on a line; rules of law and library stand last."""
    groups = (found.requirements, *found.more, found.not_movable)
    rows = [
        (names.asked(item), "" if item.origin in ("brief", "balance") else item.origin)
        for group in groups
        for item in group
    ]
    if not rows:
        return [Paragraph(names.said(text)) for text in found.quick]
    columns = (Column("", head=True, cut=True), Column("", cut=False))
    return [Table("These cannot hold together", columns, tuple(rows), light=True, folds=2, keeps=4)]


def _ways_out(answer: Answer, found: Conflict, names: Names) -> list[Block]:
    """Return each single change that makes it possible, with what the best formula then costs."""
    changes = sorted(found.single_changes, key=lambda item: (item.cost is None, item.cost))
    if not found.complete:
        return [Paragraph(NOT_ALL_KNOWN, "caution")]
    if not changes:
        return [Paragraph(NO_SINGLE_CHANGE)]
    fields = (
        Field("", lambda item: names.limit(item.requirement), head=True, cut=True),
        Field("asked", lambda item: _bound(item.requirement)),
        Field("instead", lambda item: _instead(item, names), cut=True),
        Field(
            cost_unit(answer), lambda item: NOTHING if item.cost is None else fixed(item.cost, 2), "decimal"
        ),
    )
    return [light(tabulated("Any one of these makes it possible", fields, changes), folds=1, keeps=3)]


def _cheapest(answer: Answer, found: Conflict, names: Names) -> list[Block]:
    """Return the cheapest single change as a sentence."""
    changes = [item for item in found.single_changes if item.cost is not None] or found.single_changes
    if not changes:
        return [Paragraph(NO_SINGLE_CHANGE if found.complete else NOT_ALL_KNOWN)]
    best = min(changes, key=lambda item: item.cost or 0.0)
    cost = (
        ""
        if best.cost is None
        else f"; the best formula then costs {fixed(best.cost, 2)} {cost_unit(answer)}"
    )
    return [Paragraph(f"Cheapest way out: {_change(best, names)}{cost}.")]


def _change(item: Change, names: Names) -> str:
    requirement = item.requirement
    if given_up(item):
        return f"give up {names.asked(requirement)}"
    if item.readmit:
        return f"{names.asked(requirement)}, but admit {_readmitted(item, names)}"
    if item.to is None:
        return names.asked(requirement)
    instead = f", instead of {bounded(requirement.bound)}" if requirement.bound is not None else ""
    return names.moved(requirement, f"{short(item.to)}{unit_of(requirement.unit)}") + instead


def _bound(requirement: Requirement) -> str:
    if requirement.bound is None or requirement.side is None or requirement.choice:
        return ""
    words = {"at_least": "at least ", "at_most": "at most ", "equal": ""}[requirement.side]
    return f"{words}{bounded(requirement.bound)}{unit_of(requirement.unit)}"


def _instead(item: Change, names: Names) -> str:
    if given_up(item):
        return "give it up"
    if item.readmit:
        return f"admit {_readmitted(item, names)}"
    return NOTHING if item.to is None else f"{short(item.to)}{unit_of(item.requirement.unit)}"


def _readmitted(item: Change, names: Names) -> str:
    first, *others = [names.within(name) for name in item.readmit]
    return joined([first, f"{len(others)} more"] if len(others) > 1 else [first, *others])


def _compromise(answer: Answer, found: Conflict, names: Names) -> list[Block]:
    """Return the joint compromise, or what settles everything together, with its cost."""
    unit = cost_unit(answer)
    if found.compromise:
        given = "; ".join(
            names.moved(item.requirement, f"{short(item.to)}{unit_of(item.requirement.unit)}")
            for item in found.compromise
        )
        return [Paragraph(f"Or each a little{_at(found.compromise_cost, unit)}: {given}.")]
    if found.together is not None:
        given = "; ".join(_change(item, names) for item in found.together.changes)
        return [Paragraph(f"Together these make it possible{_at(found.together.cost, unit)}: {given}.")]
    return []


def _at(cost: float | None, unit: str) -> str:
    return "" if cost is None else f", at {fixed(cost, 2)} {unit}"


def _of(
    part: Callable[[Answer, Conflict, Names], list[Block]],
) -> Callable[[Answer], list[Block]]:
    return lambda answer: [] if answer.conflict is None else part(answer, answer.conflict, names_of(answer))


PARTS: dict[str, Callable[[Answer], list[Block]]] = {
    "collision": _of(_collision),
    "ways out": _of(_ways_out),
    "cheapest way out": _of(_cheapest),
    "compromise": _of(_compromise),
}
