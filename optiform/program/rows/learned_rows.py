"""States limits on what a bench taught: with a margin for what is not known, and near its trials."""

from __future__ import annotations

import numpy as np

from optiform.brief.models import Target
from optiform.measures.conditions import Gate
from optiform.measures.learned import Learned, curved, factor_of, outside
from optiform.program.hull import Hull
from optiform.program.norm import Norm, Square
from optiform.program.program import SparseRow
from optiform.program.requirement import Key
from optiform.program.rows.draft import Draft
from optiform.program.rows.moves import FULL, MarginMove, extreme
from optiform.tolerances import ROUNDING
from optiform.vectors import Floats, Indices

TRIED = "tried"
"""Section of what keeps a formula near the trials of a measure."""


def limit_learned(draft: Draft, measure: Learned, target: Target, key: Key, **more: object) -> None:
    """Bound a learned measure: what is likeliest, or what the next reading holds with the probability asked for."""
    stay_where_tried(draft, measure)
    if target.sure is None and not curved(measure):
        draft.limit(key, measure, target.at_least, target.at_most, **more)
        return
    square, column, times = square_of(draft, measure), -1, 0.0
    if target.sure is not None:
        column, times = _norm(draft, measure.spread, square), measure.times(target.sure)
        more["tail"] = ", ".join(word for word in (measure.unit, f"{100 * target.sure:g} % sure") if word)
    for requirement, side, bound in draft.ends(key, measure, target.at_least, target.at_most, **more):
        draft.move(requirement, MarginMove(measure, side, column, times, square), bound)


def stay_where_tried(draft: Draft, measure: Learned) -> None:
    """Keep formulas in the base of a measure, and near its trials unless the brief lets them go beyond."""
    _stay_in_base(draft, measure.name, measure.taught.base)
    target = draft.brief.targets.get(measure.name)
    if len(measure.taught.rows) and (target is None or target.tried == "inside"):
        _stay_near(draft, measure)


def _stay_in_base(draft: Draft, name: str, base: frozenset[str]) -> None:
    """Keep out the surfactants and thickeners with which nothing was tried."""
    places = np.flatnonzero(outside(draft.library, base)).tolist()
    if not places:
        return
    requirement = draft.require_choice(
        Key("missing", (name,)),
        f"{name}: only surfactants and thickeners of its trials",
        "library",
        movable=False,
        subject=draft.names(places),
        why="what was learned in one base tells nothing of another",
    )
    draft.forbid(requirement, places)


def _stay_near(draft: Draft, measure: Learned) -> None:
    """Keep to the materials of the trials, and the leverage within the largest of a trial: the fit tells no more."""
    if any(item.key == Key(TRIED, (measure.name,)) for item in draft.requirements):
        return
    requirement = draft.require_choice(
        Key(TRIED, (measure.name,)),
        f"{measure.name}: only near its trials",
        why="a fit tells little of other materials, and of formulas further off than any of its trials",
    )
    draft.forbid(requirement, _never_tried(draft, measure))
    column = _norm(draft, measure.distance, square_of(draft, measure))
    draft.add(requirement, SparseRow(np.array([column]), np.ones(1), -np.inf, measure.furthest))


def stay_near_when(draft: Draft, requirement: int, choices: Indices, measure: Learned) -> list[int]:
    """Keep within the largest leverage of a trial of a measure while a choice is taken; return what was in no trial."""
    target = draft.brief.targets.get(measure.name)
    if not len(measure.taught.rows) or (target is not None and target.tried == "beyond"):
        return []
    column = _norm(draft, measure.distance)
    room = draft.upper[column] - measure.furthest
    if room > 0:
        values = [1.0, *([room] * len(choices))]
        draft.add_row(requirement, [column, *choices], values, upper=draft.upper[column])
    return _never_tried(draft, measure)


def _never_tried(draft: Draft, measure: Learned) -> list[int]:
    """Return the materials, water apart, that were in no trial of a measure."""
    held = {draft.position(draft.library.water.id), *measure.places.tolist()}
    return [index for index in range(len(draft.library.materials)) if index not in held]


def alkali_margin(draft: Draft, target: Target) -> tuple[int, float, str]:
    """Return the column of the scale of the charge, how many of it make a margin, and how the title of a limit ends.

    A sum of learned free alkali is Student's t as its parts are; the reading itself is the meter's, and not in it.
    """
    from optiform.learning.conjugate import student_t_quantile

    alkali = draft.catalogue.conditions.known.alkali
    if alkali is None or target.sure is None:
        raise TypeError("no reading of pH taught any free alkali")
    index, root = draft.library.arrays.material_index, factor_of(alkali.knowledge.covariance)
    factor = np.zeros((len(root), len(draft.library.materials)))
    for term, name in enumerate(alkali.materials):
        if name in index:
            factor[:, index[name]] = root[:, term]
    times = student_t_quantile(target.sure, alkali.knowledge.degrees_of_freedom)
    return _norm(draft, factor), times, f"{100 * target.sure:g} % sure"


def square_of(draft: Draft, measure: Learned) -> int:
    """Return the column of the square that a measure holds, and add it where it is not there; -1 for a linear one."""
    if measure.electrolyte is None:
        return -1
    places = np.flatnonzero(measure.electrolyte)
    factor = measure.electrolyte[None, places]
    for norm in draft.norms:
        same = np.array_equal(norm.indices, places) and np.array_equal(norm.factor, factor)
        if isinstance(norm, Square) and same:
            return norm.column
    most = extreme(measure.electrolyte, np.array(draft.upper[: len(measure.electrolyte)]), least=False)
    column = draft.column(0.0, most**2, integer=False)
    draft.norms.append(Square(column, places, factor))
    return column


def _norm(draft: Draft, factor: Floats, square: int = -1) -> int:
    """Add the column of |F x| over the amounts, and over a square behind them, and return its position.

    It is convex and amounts add up to 100, so that it is nowhere more than at a material alone.
    """
    lengths, count = np.linalg.norm(factor, axis=0), len(draft.library.materials)
    columns = np.append(np.arange(count), square)[: factor.shape[1]]
    most = FULL * float(lengths[:count].max())
    if square >= 0:
        most += draft.upper[square] * float(lengths[-1])
    used = np.flatnonzero(lengths)
    column = draft.column(0.0, most, integer=False)
    draft.norms.append(Norm(column, columns[used].astype(np.intp), factor[:, used]))
    return column


def pass_gate(draft: Draft, name: str) -> None:
    """Ask for a formula that is a mixture of trials that passed a gate, in the materials that varied among them."""
    gate = next(one for one in draft.catalogue.conditions.known.passed if one.name == name)
    _stay_in_base(draft, name, gate.base)
    requirement = draft.require_choice(
        Key("targets", (name,)),
        f"{name}: a mixture of trials that passed",
        why="what holds in every corner that was tried is taken to hold between them, and nowhere else",
    )
    if not len(gate.passed):
        every = range(len(draft.library.materials))
        draft.add_row(requirement, every, np.ones(len(every)), upper=0.0)
        return
    _mix(draft, requirement, gate)


def _mix(draft: Draft, requirement: int, gate: Gate) -> None:
    """Add a share for each trial, and say that the formula is what they mix to."""
    index = draft.library.arrays.material_index
    varied = np.flatnonzero(np.ptp(gate.passed, axis=0) > ROUNDING)
    materials = np.array([index.get(gate.materials[place], -1) for place in varied], dtype=np.intp)
    points = gate.passed[:, varied]
    columns = np.array([draft.column(integer=False) for _ in points], dtype=np.intp)
    draft.add_row(requirement, columns, np.ones(len(columns)), lower=1.0, upper=1.0)
    for place, material in enumerate(materials.tolist()):
        there = [material] if material >= 0 else []
        values = [*points[:, place], *(-1.0 for _ in there)]
        draft.add_row(requirement, [*columns, *there], values, lower=0.0, upper=0.0)
    draft.hulls.append(Hull(columns, materials, points))
