"""Tells a conflict: what collides, and every way out."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from optiform.answers.model.answer import Answer, Conflict
from optiform.program import Requirement
from optiform.views.words import conflict_words, sentences
from optiform.views.words.blocks import Block, Bullets, Cell, Heading, Paragraph, Rows, Ways, bullets
from optiform.views.words.numbers import fixed

AS_PRINTED = "Each was solved again as it is printed."
SEPARATE = (
    "These collisions have nothing to do with each other, so no single change makes the brief possible."
)
PROTECTS = "What protects a wash is never given up, and stays as asked:"
NONE_FOUND = "No single change was found that makes it possible."


def conflict_blocks(conflict: Conflict, unit: str) -> list[Block]:
    """Return a conflict with its ways out; `unit` is that of a cost."""
    return [*_collision(conflict), *_ways_out(conflict, unit), *_reachable(conflict)]


def _collision(conflict: Conflict) -> list[Block]:
    """Return the requirements that cannot hold together, and further collisions."""
    blocks: list[Block] = [Bullets(conflict.quick)] if conflict.quick else []
    if conflict.requirements or conflict.not_movable:
        blocks += [Heading("These cannot hold together"), _asked(conflict.requirements)]
    if conflict.not_movable:
        words = "These rules take part, and do not move:"
        blocks += [Paragraph(words), Bullets(tuple(map(sentences.asked, conflict.not_movable)))]
    for more in conflict.more:
        blocks += [Paragraph("Once that is settled, these collide as well:"), _asked(more)]
    return blocks


def _asked(requirements: Sequence[Requirement]) -> Bullets:
    return Bullets(tuple(map(sentences.asked, requirements)), numbered=True, tone="bad")


def _ways_out(conflict: Conflict, unit: str) -> list[Block]:
    """Return the ways out: one change, all wishes a little, or several changes together."""
    if not conflict.complete:
        return []
    kept = [
        item.title for part in (conflict.requirements, *conflict.more) for item in part if not item.movable
    ]
    blocks: list[Block] = [Paragraph(f"{PROTECTS} {'; '.join(kept)}.")] if kept else []
    return [
        *blocks, *_single_changes(conflict, unit), *_compromise(conflict, unit), *_together(conflict, unit),
    ]  # fmt: skip


def _reachable(conflict: Conflict) -> list[Block]:
    """Return how far each wish can be met while the others hold."""
    told = (
        sentences.moved(item, value, "at best")
        for item, value in conflict.best_reachable
        if not conflict_words.asks_nothing(item, value)
    )
    return bullets("How far one of them can go while the others hold", told)


def _single_changes(conflict: Conflict, unit: str) -> list[Block]:
    """Return the smallest single changes, and the wishes of which no single change is enough.

    A wish whose change did not hold when it was computed again proves nothing, and the notes tell of it.
    """
    changes = conflict.single_changes
    if not changes:
        return [Paragraph(SEPARATE if conflict.more else NONE_FOUND)]
    one = len(changes) == 1
    told: list[Block] = [
        Heading("This change makes it possible" if one else "Any one of these changes makes it possible"),
        Ways(tuple(conflict_words.way(item, unit) for item in changes)),
        Paragraph("It was solved again as it is printed." if one else AS_PRINTED, "quiet"),
    ]
    helping = {item.requirement for item in changes} | set(conflict.unconfirmed)
    idle = [item.title for item in conflict.requirements if item.movable and item not in helping]
    if idle:
        told.append(Paragraph(f"Changing only one of these is not enough, however far: {'; '.join(idle)}."))
    return told


def _compromise(conflict: Conflict, unit: str) -> list[Block]:
    """Return the joint compromise, its price, and the size of one step of each wish."""
    if not conflict.compromise:
        return []
    cost = conflict.compromise_cost
    priced = f"; the best formula then costs {fixed(cost, 2)} {unit}" if cost is not None else ""
    given = [item.requirement for item in conflict.compromise]
    return [
        Heading(f"Or all of these a little{priced}"),
        Bullets(
            tuple(sentences.relaxed(item.requirement, item.to) for item in conflict.compromise), tone="good"
        ),
        Paragraph(conflict_words.weights(given), "quiet"),
    ]


def _together(conflict: Conflict, unit: str) -> list[Block]:
    """Return the changes that settle everything together."""
    if conflict.together is None:
        return []
    changes = conflict.together.changes
    made = conflict_words.priced(conflict.together.cost, conflict.together.lines, unit)
    return [
        Heading("These changes together make it possible"),
        Bullets(tuple(map(conflict_words.change, changes)), tone="good"),
        Paragraph(
            f"{made[:1].upper()}{made[1:]}. They were solved again, all at once, as they are printed.",
            "quiet",
        ),
    ]


def rows(conflict: Conflict) -> Rows:
    """Return collisions and ways out as rows of a CSV."""
    asked = ("measure", "side", "bound", "unit", "origin")
    found: list[tuple[Cell, ...]] = []

    def add(part: str, item: Requirement, to: Cell = "", readmit: Cell = "", cost: Cell = "") -> None:
        movable = "yes" if item.movable else "no"
        found.append((part, item.title, *(getattr(item, name) for name in asked), movable, to, readmit, cost))

    collides = [("collides", conflict.requirements), ("does not move", conflict.not_movable)]
    for part, items in (*collides, *(("collides as well", more) for more in conflict.more)):
        for item in items:
            add(part, item)
    together = conflict.together
    ways = [("single change", change, change.cost) for change in conflict.single_changes]
    ways += [] if together is None else [("together", change, together.cost) for change in together.changes]
    for part, change, cost in ways:
        to = "dropped" if conflict_words.given_up(change) else change.to
        add(part, change.requirement, to, " ".join(change.readmit), cost)
    for one in conflict.compromise:
        add("compromise", one.requirement, one.to, "", conflict.compromise_cost)
    return ("part", "requirement", *asked, "movable", "to", "readmit", "cost"), found


PARTS: dict[str, Callable[[Answer], list[Block]]] = {
    "collision": lambda answer: [] if answer.conflict is None else _collision(answer.conflict),
    "ways out": lambda answer: (
        [] if answer.conflict is None else _ways_out(answer.conflict, sentences.cost_unit(answer))
    ),
    "reachable": lambda answer: [] if answer.conflict is None else _reachable(answer.conflict),
}
