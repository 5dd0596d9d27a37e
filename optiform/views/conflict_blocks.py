"""A conflict told in blocks: what collides, and every way out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.views import sentences
from optiform.views.blocks import Block, Bullets, Heading, Paragraph
from optiform.views.numbers import fixed

if TYPE_CHECKING:
    from optiform.answers.answer import Conflict


def conflict_blocks(conflict: Conflict, unit: str) -> list[Block]:
    """Return a conflict as blocks; `unit` is that of the aim, in which the ways out are priced."""
    blocks: list[Block] = []
    if conflict.quick:
        blocks.append(Bullets(conflict.quick))
    blocks += [
        Heading("These cannot hold together"),
        Bullets(tuple(sentences.asked(item) for item in conflict.requirements), numbered=True, tone="bad"),
    ]
    if conflict.not_movable:
        blocks += [
            Paragraph("They collide within these, which do not move:"),
            Bullets(tuple(sentences.asked(item) for item in conflict.not_movable)),
        ]
    blocks += _ways_out(conflict, unit)
    if conflict.best_reachable:
        blocks += [
            Heading("How far one of them can go while the others hold"),
            Bullets(tuple(sentences.reachable(item, value) for item, value in conflict.best_reachable)),
        ]
    for more in conflict.more:
        blocks += [
            Paragraph("Once that is settled, these collide as well:"),
            Bullets(tuple(sentences.asked(item) for item in more), numbered=True, tone="bad"),
        ]
    return blocks


def _ways_out(conflict: Conflict, unit: str) -> list[Block]:
    blocks: list[Block] = []
    if conflict.single_changes:
        blocks += [
            Heading("Any one of these changes makes it possible"),
            Bullets(tuple(sentences.change(item, unit) for item in conflict.single_changes), tone="good"),
            Paragraph("Each was solved again as it is printed.", "quiet"),
        ]
    elif conflict.compromise:
        blocks.append(Paragraph("No single change was found that makes it possible."))
    if conflict.compromise:
        cost = conflict.compromise_cost
        priced = f"; the best formula then costs {fixed(cost, 2)} {unit}" if cost is not None else ""
        blocks += [
            Heading(f"Or all of these a little{priced}"),
            Bullets(
                tuple(sentences.relaxed(item.requirement, item.to) for item in conflict.compromise),
                tone="good",
            ),
        ]
    return blocks
