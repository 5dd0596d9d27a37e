"""A conflict told in blocks: what collides, and every way out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views.render.blocks import Block, Bullets, Heading, Paragraph
from optiform.views.render.numbers import fixed
from optiform.views.words import conflict_words, sentences

if TYPE_CHECKING:
    from optiform.answers.model.answer import Conflict

AS_PRINTED = "Each was solved again as it is printed."
SEPARATE = (
    "These collisions have nothing to do with each other, so no single change makes the brief possible."
)
PROTECTS = "What protects a wash is no way out, and stays as it is asked for:"
NONE_FOUND = "No single change was found that makes it possible."


def conflict_blocks(conflict: Conflict, unit: str, *, in_full: bool = True) -> list[Block]:
    """Return a conflict as blocks; `unit` is that of a cost, `in_full` whether ways out were looked for."""
    blocks: list[Block] = []
    if conflict.quick:
        blocks.append(Bullets(conflict.quick))
    if conflict.requirements or conflict.not_movable:
        blocks += [
            Heading("These cannot hold together"),
            Bullets(
                tuple(sentences.asked(item) for item in conflict.requirements), numbered=True, tone="bad"
            ),
        ]
    if conflict.not_movable:
        blocks += [
            Paragraph("They collide within these, which do not move:"),
            Bullets(tuple(sentences.asked(item) for item in conflict.not_movable)),
        ]
    for more in conflict.more:
        blocks += [
            Paragraph("Once that is settled, these collide as well:"),
            Bullets(tuple(sentences.asked(item) for item in more), numbered=True, tone="bad"),
        ]
    kept = [
        item.title for part in (conflict.requirements, *conflict.more) for item in part if not item.movable
    ]
    if in_full and conflict.complete and kept:
        blocks.append(Paragraph(f"{PROTECTS} {'; '.join(kept)}."))
    if in_full and conflict.complete:
        blocks += [*_single_changes(conflict, unit), *_compromise(conflict, unit), *_together(conflict, unit)]
    reachable = tuple(
        conflict_words.reachable(item, value)
        for item, value in conflict.best_reachable
        if not conflict_words.asks_nothing(item, value)
    )
    if reachable:
        blocks += [Heading("How far one of them can go while the others hold"), Bullets(reachable)]
    return blocks


def _single_changes(conflict: Conflict, unit: str) -> list[Block]:
    """Return the smallest single changes, and which wishes no single change of theirs can help."""
    changes = conflict.single_changes
    if not changes:
        return [Paragraph(SEPARATE if conflict.more else NONE_FOUND)]
    one = len(changes) == 1
    told: list[Block] = [
        Heading("This change makes it possible" if one else "Any one of these changes makes it possible"),
        Bullets(tuple(conflict_words.change(item, unit) for item in changes), tone="good"),
        Paragraph("It was solved again as it is printed." if one else AS_PRINTED, "quiet"),
    ]
    helping = {item.requirement for item in changes}
    idle = [item.title for item in conflict.requirements if item.movable and item not in helping]
    if idle:
        told.append(Paragraph(f"Giving way here alone is not enough, however far: {'; '.join(idle)}."))
    return told


def _compromise(conflict: Conflict, unit: str) -> list[Block]:
    """Return the joint compromise, its price, and what one step of each wish was counted as."""
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
        Bullets(tuple(conflict_words.change(item, unit) for item in changes), tone="good"),
        Paragraph(
            f"{made[:1].upper()}{made[1:]}. They were solved again, all at once, as they are printed.",
            "quiet",
        ),
    ]
