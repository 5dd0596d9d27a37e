"""States what is kept and held of an existing formula, and how much of it may change."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from optiform.bounds import number
from optiform.brief.models import Baseline, Brief, Target
from optiform.faults import BadInput, Fault
from optiform.library.models import Library
from optiform.library.selection import named, parse_reference, resolve
from optiform.measures import Catalogue, Conditions, Measure, Side
from optiform.measures.acidity import Acidity
from optiform.measures.amounts import Count
from optiform.measures.texture import Viscosity
from optiform.program.program import SparseRow
from optiform.program.requirement import Key
from optiform.program.rows.acid_rows import window_rows
from optiform.program.rows.draft import Draft
from optiform.program.rows.wishes import described, limit_measure
from optiform.tolerances import HALF, ROUNDING
from optiform.vectors import Floats, Indices

KEPT = "kept as it is today"

NOT_COUNTED = ("water", "acid", "base")
"""Functions that follow the rest of a formula, so that they never count as new or dropped."""
NOT_COUNTED_WORDS = "water, acids and bases are not counted"


@dataclass(frozen=True, eq=False)
class DroppedMove:
    """A bound on how many of the baseline's materials may go: used >= all of them - bound."""

    indices: Indices = field(repr=False)
    times: Floats = field(repr=False)
    all: int
    side: Side = "at_most"

    def row(self, bound: float, slack: float = HALF) -> SparseRow:
        """Return the row at another bound."""
        return SparseRow(self.indices, self.times, self.all - bound, np.inf)

    def scale(self, amounts: Floats, bound: float) -> float:
        """Return 1: the bound stands in the right-hand side."""
        return 1.0


def held_brief(brief: Brief) -> Brief:
    """Return a brief whose pH target is what `hold` asks for, where it has no pH target of its own.

    The windows of preservative systems and thickeners depend on the pH target, so a pH that is held
    has to be one.
    """
    baseline = brief.baseline
    if baseline is None or "pH" not in baseline.hold or "pH" in brief.targets:
        return brief
    low, high = _window(brief, Catalogue(brief.library).find("pH"), "pH", baseline)
    return brief.model_copy(update={"targets": {**brief.targets, "pH": Target(at_least=low, at_most=high)}})


def add_baseline(draft: Draft) -> None:
    """Add what a brief keeps of its baseline, and how many materials may be new or dropped.

    Raises
    ------
    BadInput
        If a measure is held that the baseline has no value of.
    """
    baseline = draft.brief.baseline
    if baseline is None:
        return
    amounts = draft.library.arrays.amounts(baseline.lines)
    _keep(draft, baseline, amounts)
    _hold(draft, baseline)
    _count(draft, baseline, amounts)


def counted(library: Library, amounts: Floats, *, present: bool) -> list[int]:
    """Return the materials that are in the baseline (or are not) and count as dropped (or new)."""
    return [
        index
        for index, material in enumerate(library.materials)
        if material.function not in NOT_COUNTED and (amounts[index] > 0) == present
    ]


def _keep(draft: Draft, baseline: Baseline, amounts: Floats) -> None:
    """Fix amounts: of each material that a reference means, or of a substance as a whole."""
    kept: set[int] = set()
    for reference in baseline.keep:
        kind, word = parse_reference(reference)
        if kind == "substance":
            measure = draft.catalogue.find(f"substance:{word}")
            value = measure.value(amounts) or 0.0
            draft.limit(Key("keep", (reference,)), measure, value, value, label=f"{word} as today:", why=KEPT)
            continue
        absent = []
        for name in resolve(reference, draft.library):
            index = draft.position(name)
            if amounts[index] <= 0:
                absent.append(index)
            elif index not in kept:
                kept.add(index)
                measure = draft.catalogue.find(f"material:{name}")
                value = float(amounts[index])
                draft.limit(Key("keep", (name,)), measure, value, value, label=f"{name} as today:", why=KEPT)
        if absent:
            key = Key("keep", (reference,), "no-other")
            title = f"no other {described(kind, word, plural=True)} than today"
            draft.forbid(draft.require_choice(key, title, subject=draft.names(absent), why=KEPT), absent)


def _hold(draft: Draft, baseline: Baseline) -> None:
    """Keep measures within their allowance of the baseline's value."""
    for name, allowance in baseline.hold.items():
        measure = draft.catalogue.find(name)
        low, high = _window(draft.brief, measure, name, baseline, draft.catalogue.conditions)
        why = f"held within {number(allowance)} {measure.unit} of today's value".replace("  ", " ")
        if isinstance(measure, Acidity):
            target = draft.brief.targets["pH"]
            if target.set == "bench":
                draft.notes.append("The pH is left to the bench, so holding it is left to the bench as well.")
            elif (target.at_least, target.at_most) != (low, high):
                window_rows(draft, Key("hold", (name,)), low, high, label="pH as today:", why=why)
            continue
        base = measure.base if isinstance(measure, Viscosity) else None
        label = "as today:" if isinstance(measure, Count) else f"{named(name)} as today:"
        if isinstance(measure, Count):
            low, high = float(np.ceil(low - ROUNDING)), float(np.floor(high + ROUNDING))
        held = Target(at_least=low, at_most=high, base=base)
        limit_measure(draft, Key("hold", (name,)), measure, held, label=label, why=why)


def _count(draft: Draft, baseline: Baseline, amounts: Floats) -> None:
    """Limit how many materials may be new, and how many may go; what only follows is not counted."""
    if baseline.at_most_new is not None:
        strangers, bound = counted(draft.library, amounts, present=False), float(baseline.at_most_new)
        key, what = Key("baseline", ("at_most_new",)), "materials not in the baseline"
        requirement = draft.require_count(key, what, "at_most", bound, why=NOT_COUNTED_WORDS)
        columns = [column for index in strangers for column in draft.used(index)]
        draft.count(requirement, columns, "at_most", bound)
    if baseline.at_most_dropped is not None:
        members, bound = counted(draft.library, amounts, present=True), float(baseline.at_most_dropped)
        key, what = Key("baseline", ("at_most_dropped",)), "materials of the baseline dropped"
        requirement = draft.require_count(key, what, "at_most", bound, why=NOT_COUNTED_WORDS)
        columns = [column for index in members for column in draft.used(index)]
        indices, times = np.unique(np.array(columns, dtype=np.intp), return_counts=True)
        if len(indices):
            draft.move(requirement, DroppedMove(indices, times.astype(float), len(members)), bound)


def _window(
    brief: Brief, measure: Measure, name: str, baseline: Baseline, conditions: Conditions | None = None
) -> tuple[float, float]:
    """Return the window that `hold` puts around the baseline's value of a measure, inside its range."""
    value = measure.value(brief.library.arrays.amounts(baseline.lines))
    if value is None:
        allowed = "a measure that the baseline has a value of"
        if name == "viscosity":
            allowed = "a viscosity target that names its base, and one tried thickener in the baseline"
        message = f"'{name}' cannot be held: the baseline has no value of it"
        raise BadInput([Fault(brief.file, f'[baseline] hold, "{name}"', message, allowed=allowed)])
    allowance = baseline.hold[name]
    low, high = round(value - allowance, 10), round(value + allowance, 10)
    if allowance == 0:
        return value, value
    return max(low, measure.lowest), min(high, measure.highest)
