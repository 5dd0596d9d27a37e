"""States the two measures of a trade-off as linear forms, both turned so that less is better.

The measure to be improved is signed so that less is better; the measure that is bounded is signed so
that its bound is a lower one. The brief's own limits on both, on the sides that would cut the curve
off, are released.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

import numpy as np

from optiform.brief.checking import conditions_of
from optiform.brief.models import Aim, Brief, Target
from optiform.faults import BadInput, Fault
from optiform.measures import Catalogue, Measure, Side, UnknownMeasure
from optiform.measures.acidity import Acidity, BufferCapacity
from optiform.measures.amounts import Count
from optiform.measures.learned import Learned, bent, curved
from optiform.measures.texture import Viscosity
from optiform.measures.uncharged import Undissociated
from optiform.program import Key, Program, SparseRow, build
from optiform.program.extended import dense, released
from optiform.program.rows.certainty_rows import WorstCase
from optiform.program.rows.moves import MeasureMove
from optiform.search.ionic_strength import ground
from optiform.solver import Clock
from optiform.vectors import Floats, Indices

ANY = 1e9
"""Larger than any value of a measure that has no range."""

Sense = Literal["minimise", "maximise"]


@dataclass(frozen=True, eq=False)
class Axis:
    """One measure as top . columns / base . columns, times a sign.

    Attributes
    ----------
    top : ndarray, shape (columns,)
        Signed numerator.
    base : ndarray, shape (columns,), optional
        Denominator; absent for a total.
    """

    measure: Measure
    sign: float
    top: Floats = field(repr=False)
    base: Floats | None = field(repr=False)

    @property
    def whole(self) -> bool:
        """Tell whether the measure takes whole numbers only."""
        return isinstance(self.measure, Count)

    @property
    def logarithmic(self) -> bool:
        """Tell whether the search sees the logarithm of the measure."""
        return curved(self.measure)

    def shown(self, signed: float) -> float:
        """Return a value of the search as the reader sees it."""
        if isinstance(self.measure, Learned):
            return self.measure.unscaled(self.sign * signed)
        return self.sign * signed + self.measure.offset + 0.0

    def at(self, values: Floats) -> float:
        """Return the signed value at column values."""
        top = float(self.top @ values)
        return top if self.base is None else top / float(self.base @ values)


@dataclass(frozen=True, eq=False)
class AxisOver:
    """One axis over some columns of a program and added ones, with what its fixed columns add to the numerator."""

    top: Floats = field(repr=False)
    base: Floats | None = field(repr=False)
    constant: float

    @classmethod
    def of(cls, axis: Axis, added: int, free: Indices | None = None, fixed: Floats | None = None) -> AxisOver:
        """Take an axis to its free columns, or all; columns added at the end play no part in it."""
        kept = slice(None) if free is None else free
        none = np.zeros(added)
        base = None if axis.base is None else np.concatenate([axis.base[kept], none])
        constant = 0.0 if fixed is None else float(axis.top @ fixed)
        return cls(np.concatenate([axis.top[kept], none]), base, constant)

    @cached_property
    def columns(self) -> Indices:
        """Return the columns that take part."""
        return np.flatnonzero(self.top if self.base is None else (self.top != 0) | (self.base != 0))

    def at(self, values: Floats) -> float:
        """Return the value at the free columns."""
        top = float(self.top @ values) + self.constant
        return top if self.base is None else top / float(self.base @ values)

    def row(self, ceiling: float) -> SparseRow:
        """Return the row that says value <= ceiling."""
        values = self.top if self.base is None else self.top - ceiling * self.base
        present = np.flatnonzero(values)
        end = ceiling - self.constant if self.base is None else 0.0
        return SparseRow(present, values[present], -np.inf, end)

    def floor(self, bound: float) -> SparseRow:
        """Return the row that says value >= bound, over every column that may take part."""
        values = self.top if self.base is None else self.top - bound * self.base
        end = bound - self.constant if self.base is None else 0.0
        return SparseRow(self.columns, values[self.columns], end, np.inf)


@dataclass(frozen=True, eq=False)
class Axes:
    """What is improved, what is bounded, and the program that holds everything else.

    Attributes
    ----------
    program : Program
        Its objective is the signed numerator of `of`.
    side : str
        From which side `against` is bounded.
    brief : Brief
        What every formula along the curve holds, but for `free`.
    free : frozenset of Key
        The brief's own limits on both measures that would cut the curve off.
    """

    program: Program = field(repr=False)
    of: Axis
    against: Axis
    sense: Sense
    side: Side
    brief: Brief = field(repr=False)
    free: frozenset[Key] = field(repr=False)

    @property
    def straight(self) -> bool:
        """Tell whether the best is piecewise straight within one structure: both are totals, and no margin bends it."""
        return self.of.base is None and self.against.base is None and not self.program.form.norms

    @cached_property
    def alike(self) -> bool:
        """Tell whether both are means over the same base, as a share and the mildness of active matter."""
        one, other = self.of.base, self.against.base
        return one is not None and other is not None and bool(np.array_equal(one, other))


def sense_of(brief: Brief, measure: Measure) -> Sense:
    """Return whether a measure is to be made small or large: as the brief's aim says, else as the trade does."""
    if brief.aim.measure == measure.name:
        return brief.aim.sense
    return "maximise" if measure.better == "higher" else "minimise"


def side_of(brief: Brief, measure: Measure) -> Side:
    """Return the side from which a measure is bounded: what the trade prefers, else what the brief limits."""
    if measure.better is not None:
        return "at_least" if measure.better == "higher" else "at_most"
    target = brief.targets.get(measure.name)
    only_above = target is not None and target.at_least is None and target.at_most is not None
    return "at_most" if only_above else "at_least"


def measure_named(brief: Brief, name: str, place: str) -> Measure:
    """Return a measure that can be traded.

    Raises
    ------
    BadInput
        If there is none of that name, or it is no sum or mean over materials.
    """
    catalogue = Catalogue(brief.library, conditions_of(brief.targets, brief.known))
    try:
        measure = catalogue.find(name)
    except UnknownMeasure as unknown:
        allowed = ", ".join(catalogue.names())
        fault = Fault(brief.file, place, f"there is no measure '{name}'", allowed, unknown.nearest)
        raise BadInput([fault]) from None
    if bent(measure) or isinstance(measure, (Acidity, BufferCapacity, Viscosity, Undissociated)):
        message = f"'{name}' is a window, not a number to trade"
        raise BadInput([Fault(brief.file, place, message, "any total, mean or share, or ingredients")])
    return measure


def axes_of(brief: Brief, of: Measure, against: Measure, sense: Sense, side: Side, clock: Clock) -> Axes:
    """State a brief as the program of a trade-off, which has the two measures at its own ionic strength."""
    asked = _asked(brief, of, against, sense, side)
    grounded = ground(build(asked), clock)
    program = grounded.program
    against = _for_every_lot(program, against, side)
    worse: Side = "at_most" if sense == "minimise" else "at_least"
    free = [*_limits(program, of.name, worse), *_limits(program, against.name, side)]
    keys = frozenset(program.requirements[index].key for index in free)
    counting = _counting(program) if isinstance(against, Count) else None
    program = _without_missing(released(program, free), against)
    if grounded.first.values is None:
        program = ground(program, clock).program
    bounded = _axis(program, against, 1.0 if side == "at_least" else -1.0, counting)
    aim = program.catalogue.find(of.name)
    improved = Axis(
        aim if curved(aim) else program.aim, program.aim_sign, program.form.objective, program.ratio_aim
    )
    return Axes(program, improved, bounded, sense, side, asked, keys)


def _asked(brief: Brief, of: Measure, against: Measure, sense: Sense, side: Side) -> Brief:
    """Return the brief with `of` as its aim, and with a row of the bounded measure where that is needed."""
    asked = brief.model_copy(update={"aim": Aim(measure=of.name, sense=sense), "prefer": ()})
    own = brief.targets.get(against.name, Target())
    if isinstance(against, Count) and against.name not in brief.targets:
        own = Target(at_most=float(len(brief.library.materials)))
    elif isinstance(against, Learned) and against.name not in brief.targets:
        own = Target()
    elif brief.certainty is not None and against.denominator is None and getattr(own, side) is None:
        end = against.lowest if side == "at_least" else against.highest
        any_value = end if np.isfinite(end) else float(np.copysign(ANY, end))
        own = own.model_copy(update={side: any_value})
    else:
        return asked
    return asked.model_copy(update={"targets": {**brief.targets, against.name: own}})


def _for_every_lot(program: Program, measure: Measure, side: Side) -> Measure:
    """Return a total as it is bounded for every lot, where the brief asks for that; a mean as it is.

    The worst lot for a mean is another one at each bound, so no one numerator and denominator would do.
    """
    if measure.denominator is not None:
        return measure
    place = program.index_of.get(Key("targets", (measure.name,), side), -1)
    for _, move in program.moves.get(place, ()):
        if isinstance(move, MeasureMove) and isinstance(move.measure, WorstCase):
            return replace(measure, numerator=move.measure.row(side, 0.0).coefficients)
    return measure


def _limits(program: Program, measure: str, side: Side) -> list[int]:
    """Return the brief's own limits on a measure from one side, exact demands among them."""
    return [
        key
        for key, item in enumerate(program.requirements)
        if item.origin == "brief" and item.measure == measure and item.side in (side, "equal")
    ]


def _counting(program: Program) -> Floats:
    """Return how often each choice column counts as an ingredient, shape (columns,)."""
    keys = (Key("targets", ("ingredients",), side) for side in ("at_most", "at_least", "equal"))
    place = next(program.index_of[key] for key in keys if key in program.index_of)
    return dense(program.form.row(int(program.rows_of[place][0])), program.form.columns)


def _without_missing(program: Program, measure: Measure) -> Program:
    """Keep out, by name, the materials that have no data for the bounded measure."""
    if (
        measure.missing is None
        or not measure.missing.any()
        or Key("missing", (measure.name,)) in program.index_of
    ):
        return program
    out = np.flatnonzero(measure.missing)
    upper = program.form.upper.copy()
    upper[out] = 0.0
    names = ", ".join(program.library.materials[index].id for index in out)
    note = f"Left out, because the library has no {measure.name} data for them: {names}."
    return replace(program, form=replace(program.form, upper=upper), notes=(*program.notes, note))


def _axis(program: Program, measure: Measure, sign: float, counting: Floats | None) -> Axis:
    width = program.form.columns
    if counting is not None:
        return Axis(measure, sign, sign * counting, None)
    top = np.zeros(width)
    top[: program.size] = sign * measure.numerator
    base = None
    if measure.denominator is not None:
        base = np.zeros(width)
        base[: program.size] = measure.denominator
    return Axis(measure, sign, top, base)
