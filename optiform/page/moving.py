"""Answers the questions of a moved wish; a live brief stays in the process between moves."""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from optiform.answers.live import Change, Found, LiveBrief, Provisional, Room
    from optiform.answers.model.answer import Answer, Formula
    from optiform.brief import Brief
    from optiform.page.questions import Told
    from optiform.program import Key

KEPT = 4
"""Briefs that are kept live; the one that was not moved for longest goes first."""
AT_THE_SAME = "with the same materials; whether others are better is being proven"
NOT_WITH_THESE = "not with the same materials; whether with others is being proven"


@dataclass
class _Held:
    """A live brief, the text and the other files that it was read from, and the formula that was described last."""

    live: LiveBrief
    text: str
    others: str
    last: Provisional | None = field(default=None)
    described: tuple[Found, tuple[Formula, ...]] | None = field(default=None)


_held: OrderedDict[str, _Held] = OrderedDict()


@dataclass(frozen=True)
class Reach:
    """How far one end of a wish can go with all else held.

    Attributes
    ----------
    field : str
        The field of the form.
    low, high : float, optional
        The bounds that can be met; None where this side is open.
    words : str
    """

    field: str
    low: float | None
    high: float | None
    words: str


def proven(
    path: str, text: str, others: str, *, progress: Callable[[Told | None], None] | None = None
) -> Told:
    """Return the proven best formula of a brief, or what collides in it and each way out.

    `text` is what the brief says now, which may still be on its way to the disk; `others` tells whether any other file
    of the folder changed. `progress` is told the best formula at the choices of the last one, before any better is
    looked for; None where no formula was known before.
    """
    from optiform.page.questions import Told, told
    from optiform.solver import Clock
    from optiform.stopping import interrupted

    held, clock = _at(path, text, others), Clock.of(None)
    if progress is not None:
        progress(_provisional(held))
    live, found = held.live, held.live.proven(clock)
    if found.status == "conflict":
        return told(live.conflict(clock))
    if interrupted() and not found.proven:  # the brief has moved on: nobody reads this any more
        return Told(live.brief.title, "", "stopped")
    return told(_answer(held, found, proven=found.proven))


def _provisional(held: _Held) -> Told | None:
    """Return the best formula of a moved brief at the choices of the last one; None where nothing was known before."""
    from optiform.page.questions import Told, told

    if held.last is None:
        return None
    if not held.last.possible:
        return Told(held.live.brief.title, "", "stopped", NOT_WITH_THESE)
    return told(_answer(held, held.last, proven=False), AT_THE_SAME)


def rooms(
    path: str, text: str, others: str, *, progress: Callable[[tuple[Reach, ...]], None] | None = None
) -> tuple[Reach, ...]:
    """Return how far each end of each wish can go with all else held; what is known by then is told at each step."""
    from optiform.solver import Clock

    live = _at(path, text, others).live
    found: list[Reach] = []
    for key, room in live.rooms(Clock.of(None)):
        found.append(_reach(live.brief, key, room))
        if progress is not None:
            progress(tuple(found))
    return tuple(found)


def _at(path: str, text: str, others: str) -> _Held:
    """Return the live brief of a file, moved to what it says now."""
    from optiform.answers.live import LiveBrief
    from optiform.page.listing import brief_in

    held = _held.get(path)
    if held is not None and held.others == others and held.text == text:
        return held
    brief = brief_in(text, Path(path).parent, path)
    if held is None or held.others != others:
        held = _held[path] = _Held(LiveBrief(brief), text, others)
    else:
        held.last = held.live.move(_change(held.live.brief, brief) or brief)
        held.text = text
    _held.move_to_end(path)
    while len(_held) > KEPT:
        _held.popitem(last=False)
    return held


def _change(old: Brief, new: Brief) -> Change | None:
    """Return the one bound in which two briefs differ; None where they differ in more than that."""
    from optiform.answers.live import Bound
    from optiform.page.brief_edits import differences
    from optiform.program import Key

    same = old.model_copy(update={"targets": new.targets, "include": new.include, "choose": new.choose,
                                  "share": new.share, "ratio": new.ratio, "notes": new.notes,
                                  "library": new.library})  # fmt: skip
    if same != new:
        return None
    edits = differences(old, new)
    if len(edits) != 1 or len(edits[0].place) != 3:
        return None
    section, place, side = edits[0].place
    if side not in ("at_least", "at_most"):
        return None
    where = place + 1 if isinstance(place, int) else place
    return Bound(Key(str(section), (where,), str(side)), edits[0].value)


def _answer(held: _Held, found: Found, *, proven: bool) -> Answer:
    """Return a formula of a live brief as the answer to `check`."""
    from optiform.answers.model.answer import Answer

    brief, formulas = held.live.brief, _formulas(held, found)
    return Answer(
        question="check",
        status="solved" if formulas else "stopped",
        proven=proven,
        brief=brief,
        aim=brief.aim.measure,
        aim_unit=found.stated.aim.unit,
        title=brief.title,
        library=brief.library.name,
        formulas=formulas,
    )


def _formulas(held: _Held, found: Found) -> tuple[Formula, ...]:
    """Return what was found with its description, judged once more from its amounts alone.

    What stands for a moment was judged when it was found. Where the proof leaves it as it is, so is its description.
    """
    from optiform.answers.evaluate.judging import judged

    if held.described is not None and found.same(held.described[0]):
        return held.described[1]
    formula = found.formula()
    formulas: tuple[Formula, ...] = () if formula is None else (formula,)
    if found is not held.last and not held.live.judged(found):
        formulas, _ = judged(found.brief, formulas)
    held.described = (found, formulas)
    return formulas


def _reach(brief: Brief, key: Key, room: Room | None) -> Reach:
    """Return the room of a wish as its form shows it: at least so much up to the most there can be, and so on."""
    from optiform.page.wishes import field_of
    from optiform.views.words.numbers import floored, raised

    place = key.entry - 1 if key.entry else key.name
    field = field_of((key.section, place, key.side))
    if room is None:  # the conflict beside the form says which wishes would have to move
        return Reach(field, None, None, "")
    rising = key.side == "at_least"
    end = room.high if rising else room.low
    if math.isinf(end):
        return Reach(field, None, None, "any value will do")
    words = f"can go to {_end(end, floored if rising else raised)}"
    return Reach(field, None, end, words) if rising else Reach(field, end, None, words)


def _end(value: float, cut: Callable[[float, int], str]) -> str:
    """Return an end as a meter shows it, rounded to the side that can be met."""
    from optiform.views.words.numbers import figure, short

    digits = len(figure(value, 2).partition(".")[2])
    return short(float(cut(value, digits)))
