"""Makes the first screens of questions about formulas."""

from __future__ import annotations

from collections.abc import Callable

from optiform.answers.model.answer import Answer, Broken, Formula, Slack
from optiform.views.first import conflict, formula, reformulation, shared_parts
from optiform.views.first.masthead import aim_of, cost_of, masthead
from optiform.views.words.blocks import Block, Field, Paragraph, ask_next, light, tabulated
from optiform.views.words.limit_words import FIVE
from optiform.views.words.names import Names, names_of
from optiform.views.words.numbers import apart, bounded, figure, fixed, unit_of
from optiform.views.words.sentences import NONE_YET

CHECK_ROOM = 215
"""Letters for a formula in short: about three lines."""
NEAREST = 3


def verdict(answer: Answer) -> str:
    """Return the answer in a few words."""
    if answer.conflict is not None or answer.status == "conflict":
        return "no, it cannot be met" if answer.question == "check" else "cannot be met"
    if answer.question == "reformulate":
        return reformulation.verdict(answer)
    if not answer.formulas:
        return "stopped, nothing found yet"
    first = answer.formulas[0]
    if answer.question == "evaluate":
        return conflict.count_of_breaks(first.breaks)
    if answer.question in ("check", "why"):
        found = answer.why
        here = "in" if found is not None and found.percent > 0 else "not in"
        return "yes, it can be met" if found is None else f"{here} the best formula"
    sure = "proven the best" if answer.proven and answer.status == "solved" else "the best so far"
    return f"{aim_of(answer, first)}, {sure}"


def _empty(answer: Answer) -> list[Block]:
    none = not answer.formulas and answer.conflict is None and answer.status == "stopped"
    return [Paragraph(NONE_YET, "caution")] if none else []


def _of_first(part: Callable[[Answer, Formula, Names], list[Block]]) -> Callable[[Answer], list[Block]]:
    """Make a part of an answer out of one of its first formula; it is empty without a formula."""
    return lambda answer: part(answer, answer.formulas[0], names_of(answer)) if answer.formulas else []


def _next(answer: Answer) -> list[Block]:
    """Return the commands that may follow an answer."""
    if answer.question == "evaluate":
        return ask_next(
            "optiform reformulate --from FORMULA --aim cheaper",
            "optiform sheet FORMULA --batch 1kg",
            "optiform evaluate FORMULA --full",
        )
    if answer.question == "check":
        return ask_next("optiform design BRIEF", "optiform check BRIEF --full")
    if answer.question == "why":
        return ask_next("optiform design BRIEF", "optiform why BRIEF MATERIAL --full")
    if answer.question == "reformulate":
        return ask_next("optiform reformulate ... --full", "optiform sheet FORMULA --batch 1kg --part card")
    if answer.conflict is not None:
        return ask_next("change the brief and ask again", "optiform design BRIEF --full")
    return ask_next(
        "optiform why BRIEF MATERIAL",
        "optiform tradeoff BRIEF",
        "optiform sheet FORMULA --batch 1kg --part card",
        "optiform design BRIEF --full",
    )


def _in_short(answer: Answer, first: Formula, names: Names) -> list[Block]:
    """Return the formula that meets a brief, on few lines."""
    return [
        Paragraph(f"One formula that meets it, at {cost_of(first)}; a candidate to trial:"),
        Paragraph(formula.in_short(first, names, CHECK_ROOM), under=True),
    ]


def _nearest(answer: Answer, first: Formula, names: Names) -> list[Block]:
    """Return the limits that a formula would break first."""
    rows = sorted((row for row in first.slack if row.origin == "brief"), key=_room)
    told = [_stands(row, names) for row in rows[:NEAREST]]
    if not told:
        return []
    return [Paragraph(f"Closest to a limit: {'; '.join(told)}.", under=True)]


def _room(row: Slack) -> float:
    """Return the room of a limit as a part of its bound or window."""
    ends = [end for end in (row.at_least, row.at_most) if end is not None]
    width = ends[1] - ends[0] if len(ends) == 2 else abs(ends[0])
    return row.room / (width or 1.0)


def _stands(row: Slack, names: Names) -> str:
    """Return a limit and its value: "active matter at its least, 11.0 %", "oil 11.5 %, at most 12"."""
    low = row.below is not None and row.room == row.below
    end = row.at_least if low else row.at_most
    name, here = names.said(row.limit), f"{figure(row.value, row.digits)}{unit_of(row.unit)}"
    if row.room <= 0 or end is None:
        return f"{name} at its {'least' if low else 'most'}, {here}"
    return f"{name} {here}, {'at least' if low else 'at most'} {bounded(end)}"


def _broken(item: Broken, names: Names) -> str:
    """Return one broken requirement: "active matter at least 11 %: here 10.2 %"."""
    requirement = item.requirement
    if item.value is None or requirement.bound is None:
        return f"{names.asked(requirement)}: {names.said(item.message)}"
    return (
        f"{names.asked(requirement)}: here {apart(item.value, requirement.bound)}{unit_of(requirement.unit)}"
    )


def _costs(answer: Answer, first: Formula, names: Names) -> list[Block]:
    """Return the five materials that cost most."""
    lines = sorted(first.lines, key=lambda line: -line.cost)[:FIVE]
    if not first.cost:
        return []
    fields = (
        Field("", lambda line: line.name, head=True, cut=True),
        Field(f"{first.currency}/kg", lambda line: fixed(line.cost, 2), "decimal"),
        Field("of it", lambda line: f"{fixed(100.0 * line.cost / first.cost, 0)} %", "right"),
    )
    return [light(tabulated(f"It costs {cost_of(first)}", fields, lines), folds=2, keeps=3)]


PARTS: dict[str, Callable[[Answer], list[Block]]] = {
    "masthead": lambda answer: masthead(answer, verdict(answer)),
    "nothing yet": _empty,
    **conflict.PARTS,
    **reformulation.PARTS,
    "read as": lambda answer: shared_parts.read_as(answer.matched),
    "breaks": _of_first(
        lambda _, first, names: shared_parts.listed(
            "It breaks", [_broken(item, names) for item in first.breaks], folds=1, keeps=5
        )
    ),
    "weigh": _of_first(lambda _, first, names: formula.weigh(first, names)),
    "in short": _of_first(_in_short),
    "in a line": _of_first(
        lambda _, first, names: [Paragraph(formula.figures_in_a_line(first, names), under=True)]
    ),
    "figures": _of_first(lambda _, first, names: formula.figures(first, names)),
    "limits": _of_first(formula.limits),
    "costs": _of_first(_costs),
    "nearest": _of_first(_nearest),
    "next best": lambda answer: shared_parts.next_best(answer) if answer.formulas else [],
    "care": _of_first(shared_parts.care_of),
    "next": _next,
}
