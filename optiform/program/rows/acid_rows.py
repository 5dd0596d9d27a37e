"""States pH windows: the brief's own, and those of preservative systems and materials that depend on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optiform.bounds import PH_DECIMALS, number
from optiform.brief.models import Target
from optiform.library.cached_per_library import cached_per_library
from optiform.library.models import Library, PreservativeSystem
from optiform.library.waiving import margin_name
from optiform.measures import Measure
from optiform.measures.acidity import Acidity, charge_curves
from optiform.program.program import AcidRow, Helper, SleepingEnd
from optiform.program.requirement import Key, Requirement, limit_title
from optiform.program.rows.draft import NONE, Draft, sides
from optiform.program.rows.learned_rows import alkali_margin
from optiform.program.rows.moves import ChargeMove, WhenMove
from optiform.program.rows.uncharged_rows import least_acid
from optiform.tolerances import TOLERANCE
from optiform.vectors import Indices, distinct

Window = tuple[float | None, float | None]


def add_pH(draft: Draft) -> None:
    """Add the pH target, and every window and least acid of the library, each as long as something needs it.

    A dosed pH, and none at all, make rows of charge: what needs a pH can be used, and acid or base are
    dosed for it. A bench pH only gates what depends on it.
    """
    target = draft.brief.targets.get("pH")
    if target is not None and target.set == "dosed":
        _refuse_unknown(draft, target)
        if target.sure is None:
            window_rows(draft, Key("targets", ("pH",)), target.at_least, target.at_most)
        else:
            sure_rows(draft, Key("targets", ("pH",)), target, _measure(draft))
    for system in draft.library.systems:
        choice = np.array([draft.systems[system.name]], dtype=np.intp)
        if system.pH is not None:
            requirement = _windowed(
                draft,
                Key("system-pH", (system.name,)),
                system.name,
                system.working_pH,
                why_of_range(system),
                system.source,
            )
            gate(draft, requirement, choice, system.working_pH)
        least_acid(draft, system)
    gated = [
        (index, (draft.library.materials[index].pH_min, draft.library.materials[index].pH_max))
        for index in _windows(draft.library)
    ]
    for index, window in gated:
        if _needless(draft, window):
            _sleep(draft, np.array([index], dtype=np.intp), window)
    gated = [(index, window) for index, window in gated if not _needless(draft, window)]
    used = draft.all_used([index for index, _ in gated])
    for (index, window), choice in zip(gated, used, strict=True):
        material = draft.library.materials[index]
        requirement = _windowed(
            draft,
            Key("material-pH", (material.id,)),
            material.id,
            window,
            "where the material works",
            material.source,
        )
        gate(draft, requirement, choice, window)


def why_of_range(system: PreservativeSystem) -> str:
    """Return why a preservative system asks for its pH, its margin told with the name that waives it."""
    if not system.margin or system.pH is None:
        return system.why
    kept = f"the {margin_name(system)}, {number(system.margin)}, is kept for drift"
    margin = f"it works at a pH {_span(system.pH)}, and {kept}"
    return "; ".join(part for part in (system.why, margin) if part)


@cached_per_library
def _windows(library: Library) -> tuple[int, ...]:
    """Return the positions of the materials that work in a pH window only."""
    return tuple(
        index
        for index, material in enumerate(library.materials)
        if material.pH_min is not None or material.pH_max is not None
    )


def window_rows(draft: Draft, key: Key, low: float | None, high: float | None, **more: object) -> None:
    """Add the two rows of charge of a dosed pH window."""
    draft.limit(key, _measure(draft), low, high, **more)
    _at_strength(draft, key)


def sure_rows(draft: Draft, key: Key, target: Target, measure: Measure) -> None:
    """Add the two rows of charge of a dosed pH, each with a margin for what is not known of the free alkali."""
    column, times, tail = alkali_margin(draft, target)
    for requirement, side, bound in draft.ends(key, measure, target.at_least, target.at_most, tail=tail):
        draft.move(requirement, ChargeMove(measure, side, column, times), bound)
    _at_strength(draft, key)


def _at_strength(draft: Draft, key: Key) -> None:
    """Note the rows of charge of a window: they are taken at an ionic strength."""
    for requirement, moves in draft.moves.items():
        if draft.requirements[requirement].key.window == key:
            bound = _bound(draft, requirement)
            draft.acid_rows.extend(AcidRow(row, move, bound) for row, move in moves)  # type: ignore[arg-type]


def gate(draft: Draft, requirement: int, choice: Indices, window: Window) -> None:
    """Tie a choice to a pH window, under the pH that the brief asks for, if it does."""
    target = _target(draft)
    if _needless(draft, window):
        _sleep(draft, choice, window)
        return
    if target.set == "bench" or (not draft.open_pH and _apart(window, target)):
        draft.add_row(requirement, choice, [1.0] * len(choice), upper=0.0)
        return
    asked = dict(sides(target.at_least, target.at_most))
    for side, bound in sides(*window):
        met = side in asked and (asked[side] >= bound if side == "at_least" else asked[side] <= bound)
        if draft.open_pH or not met:
            draft.gates.setdefault((side, bound), []).append((requirement, choice))
        else:
            draft.asleep.append(SleepingEnd(side, bound, choice))


def _sleep(draft: Draft, columns: Indices, window: Window) -> None:
    """Note the ends of a window that the target makes needless."""
    draft.asleep.extend(SleepingEnd(side, end, columns) for side, end in sides(*window))


def _target(draft: Draft) -> Target:
    """Return the pH target of the brief; without one, a dosed pH anywhere on the scale."""
    return draft.brief.targets.get("pH") or Target()


def close_gates(draft: Draft) -> None:
    """Add the rows of charge that `gate` asked for: one for each end of a window, however many need it.

    Where several choices need the same end, a helper column is the largest of them; the row that
    ties a choice to it belongs to the requirement that asked, so that it can be let go by itself.
    """
    for key, row, end in draft.followers:
        draft.moves[draft.place_of(key)].append((row, end))
    measure = _measure(draft) if draft.gates else None
    for (side, bound), asked in draft.gates.items():
        move = WhenMove(measure, side, asked[0][1], draft.library.arrays.max_use)  # type: ignore[arg-type]
        if not move.bites(bound):
            continue
        requirement, choices = asked[0]
        if len(asked) > 1:
            helper = draft.column(integer=False)
            title = f"{limit_title('a pH', side, bound, '', PH_DECIMALS)} while something needs it"
            requirement = draft.require_own(Key("pH-end", (number(bound),), side), title)
            draft.link([key for key, _ in asked], helper, [choice for _, choice in asked])
            choices = np.array([helper], dtype=np.intp)
            members = distinct(np.concatenate([choice for _, choice in asked]))
            draft.helpers.append(Helper(helper, members, NONE))
        held = replace(move, choices=choices)
        row = draft.add(requirement, held.row(bound))
        draft.acid_rows.append(AcidRow(row, held, bound, tuple(asked)))


def _bound(draft: Draft, requirement: int) -> float:
    bound = draft.requirements[requirement].bound
    if bound is None:
        raise TypeError("a pH limit without a bound")
    return bound


def _measure(draft: Draft) -> Acidity:
    measure = draft.catalogue.find("pH")
    if not isinstance(measure, Acidity):
        raise TypeError("the catalogue's pH is not a charge balance")
    return measure


def _needless(draft: Draft, window: Window) -> bool:
    """Tell whether a window adds nothing to the target, and never will: a target that may move keeps its windows."""
    target = _target(draft)
    movable = draft.open_pH and target.set == "dosed"
    return not movable and _contains(window, target)


def _contains(window: Window, target: Target) -> bool:
    """Tell whether the target lies inside the window, so that the window adds nothing.

    A target left to the bench has no rows, whose slack would be the tolerance.
    """
    slack = TOLERANCE if target.set == "bench" else 0.0
    low = window[0] is None or (target.at_least is not None and target.at_least >= window[0] - slack)
    high = window[1] is None or (target.at_most is not None and target.at_most <= window[1] + slack)
    return low and high


def _apart(window: Window, target: Target) -> bool:
    """Tell whether the target and the window have nothing in common, each met within the tolerance."""
    low, high = target.at_least, target.at_most
    above = window[0] is not None and high is not None and high < window[0] - TOLERANCE
    below = window[1] is not None and low is not None and low > window[1] + TOLERANCE
    return above or below


def _windowed(draft: Draft, key: Key, name: str, window: Window, why: str, source: str) -> int:
    return draft.require(
        Requirement(
            key=key,
            title=f"{name} only at a pH {_span(window)}",
            origin="library",
            movable=False,
            choice=True,
            subject=(name,),
            why=why,
            source=source,
        )
    )


def _span(window: Window) -> str:
    """Return a window in words: "from 4.5 to 5.5", "of at most 5"."""
    low, high = (None if end is None else number(end) for end in window)
    return f"from {low} to {high}" if low and high else f"of at least {low}" if low else f"of at most {high}"


def _refuse_unknown(draft: Draft, target: Target) -> None:
    """Leave out, by name, the materials whose charge at the window's ends is not known."""
    curves = charge_curves(draft.library)
    unknown = np.flatnonzero(curves.unknown | curves.outside(target.at_least, target.at_most))
    if not len(unknown):
        return
    draft.leave_out(
        Key("unknown-charge"),
        unknown,
        "materials whose acid-base behaviour is unknown stay out of a dosed pH",
        "their charge at this pH is not in the library",
        "Left out, because the pH is dosed and the library has no acid-base data for them",
    )
