"""States limits on uncharged acid: targets, and the least that a preservative system asks for."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optiform.bounds import bound_text
from optiform.library.models import PreservativeSystem
from optiform.library.selection import named
from optiform.library.waiving import acid_name
from optiform.measures import Measure, Side
from optiform.measures.uncharged import Undissociated
from optiform.program.program import AcidRow
from optiform.program.requirement import Key, Requirement, limit_title
from optiform.program.rows.draft import Draft
from optiform.program.rows.moves import EndMove, MeasureMove, WhenMove
from optiform.program.rows.upper_ends import counted_at
from optiform.vectors import Indices


def least_acid(draft: Draft, system: PreservativeSystem) -> None:
    """Ask for the least uncharged acid of a preservative system, at the highest pH that it may have."""
    for inci, least in system.undissociated_at_least.items():
        measure = draft.catalogue.find(f"undissociated:{inci}")
        if not isinstance(measure, Undissociated):
            raise TypeError(f"{inci} has no uncharged form")
        cases = counted_at(draft, measure, system, "at_least")
        for pH, choice in cases:
            end = (bound_text(pH),) if len(cases) > 1 else ()
            label, tail = named(measure.name), f"{measure.unit}, in {system.name} at pH {bound_text(pH)}"
            requirement = draft.require(
                Requirement(
                    key=Key("system-acid", (system.name, inci, *end)),
                    title=limit_title(label, "at_least", least, tail),
                    origin="library",
                    measure=measure.name,
                    side="at_least",
                    bound=least,
                    unit=measure.unit,
                    label=label,
                    tail=tail,
                    movable=False,
                    subject=(system.name,),
                    why="; ".join(part for part in (system.why, f"the {acid_name(system)}") if part),
                    source=system.source,
                )
            )
            _when_at(draft, requirement, choice, measure.at(pH, _strength(draft)), "at_least", least)
            _follow(draft, requirement, measure, system.working_pH[1], least)


def limit_undissociated(
    draft: Draft, key: Key, measure: Undissociated, low: float | None, high: float | None, **more: object
) -> None:
    """Add a window on uncharged acid: a row for each pH that preservative systems let a formula reach."""
    for requirement, side, bound in draft.ends(key, measure, low, high, **more):
        cases: dict[tuple[float, float | None], list[tuple[PreservativeSystem, Indices]]] = {}
        for system in draft.library.systems:
            own = system.working_pH[1] if draft.open_pH else None
            for pH, choice in counted_at(draft, measure, system, side):
                cases.setdefault((pH, own), []).append((system, choice))
        for (pH, _), chosen in cases.items() or [((measure.limited(None, side), None), [])]:
            fixed = measure.at(pH, _strength(draft))
            if len(cases) > 1:
                columns = np.concatenate([choice for _, choice in chosen])
                _when_at(draft, requirement, columns, fixed, side, bound)
            else:
                row = draft.move(requirement, MeasureMove(fixed, side), bound)
                draft.acid_rows.append(AcidRow(row, _last_move(draft, requirement), bound))
            ends = [system.working_pH[1] for system, _ in chosen]
            lowest = min((end for end in ends if end is not None), default=None)
            _follow(draft, requirement, measure, lowest, bound)


def _follow(draft: Draft, requirement: int, measure: Undissociated, own: float | None, bound: float) -> None:
    """Let the row on uncharged acid that was added last follow the upper end of a dosed pH, up to the system's own."""
    target = draft.brief.targets.get("pH")
    acid = draft.acid_rows[-1] if draft.acid_rows else None
    if target is None or target.set == "bench" or target.at_most is None:
        return
    if acid is None or draft.lots is not None:
        return
    row, move = draft.moves.get(requirement, [(-1, acid.move)])[-1]
    if row != acid.row or not isinstance(move, MeasureMove | WhenMove):
        return

    def at(pH: float) -> MeasureMove | WhenMove:
        end = pH if own is None else min(pH, own)
        return replace(move, measure=measure.at(end, _strength(draft)))

    end = "equal" if target.at_least == target.at_most else "at_most"
    draft.followers.append((Key("targets", ("pH",), end), row, EndMove(at, move.side, bound)))


def _when_at(
    draft: Draft, requirement: int, choices: Indices, fixed: Measure, side: Side, bound: float
) -> None:
    """Bound uncharged acid at one pH while one of some preservative systems is chosen."""
    row = draft.when(requirement, choices, fixed, side, bound)
    if row is not None:
        asked = ((requirement, choices),)
        draft.acid_rows.append(AcidRow(row, _last_move(draft, requirement), bound, asked))


def _last_move(draft: Draft, requirement: int) -> MeasureMove | WhenMove:
    move = draft.moves[requirement][-1][1]
    if not isinstance(move, MeasureMove | WhenMove):
        raise TypeError("a limit on uncharged acid without a measure")
    return move


def _strength(draft: Draft) -> float:
    return draft.catalogue.conditions.ionic_strength
