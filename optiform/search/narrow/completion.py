"""Proves a list of formulas made of few materials against all others that a better one could use.

docs/explanation/screening.md has the proof.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.program import Program
from optiform.program.reduction.bounding import Bounds, bounds, with_structure
from optiform.program.reduction.offers import needless
from optiform.program.reduction.part import Part, part_of, thinned
from optiform.search.narrow.candidates import SPARE, Few, mixture, places
from optiform.search.new_structures import Search
from optiform.search.ranking import Candidate
from optiform.solver import NO_LIMIT, Clock, OutOfTime, Session
from optiform.tolerances import CLEAR
from optiform.vectors import Flags, Floats

PATIENCE = 1.5
"""So many structures for each formula listed, those listed among them, are looked at before the search is among
formulas in place of mixtures: few mixtures that look good are told off fast, many are not."""

BITES = 0.5
"""Where the bounds of a structure leave out less than this part of the materials, it is not solved by itself."""


@dataclass(frozen=True, eq=False)
class Complete:
    """A list that nothing can enter any more, and the part of the program in which that was shown.

    Attributes
    ----------
    part : Part
    listed : tuple of Candidate
        In the program's columns, best first.
    left_out : int
        Materials that were of no use.
    stopped : bool
        Whether the time was over before all was shown.
    """

    part: Part = field(repr=False)
    listed: tuple[Candidate, ...]
    left_out: int
    stopped: bool


def completed(
    few: Few, needed: Flags, ceiling: float, listed: tuple[Candidate, ...], clock: Clock
) -> Complete:
    """Hold a list of formulas against all materials that a formula under the ceiling could use.

    Each structure listed is solved again with all of them at hand. Beside that a relaxation, in which only
    the choices that make two formulas different are whole, looks for any other structure that could be better
    than the last one listed. What it finds is solved in full, and joins the list or not; it is not found
    again. Where the bounds of most structures leave out hardly any material, or too many mixtures look good,
    every choice is whole in that search. The list is proven when nothing more is found.
    """
    needed = _worth_trying(few, needed)
    part = part_under(few, needed, ceiling)
    left_out = int(few.program.size - needed.sum())
    try:
        return Complete(part, _held(few, part, needed, ceiling, listed, clock), left_out, stopped=False)
    except OutOfTime:
        return Complete(part, listed, left_out, stopped=True)


def _held(
    few: Few,
    part: Part,
    needed: Flags,
    ceiling: float,
    listed: tuple[Candidate, ...],
    clock: Clock,
) -> tuple[Candidate, ...]:
    """Return the best formulas of all; see `completed`.

    Raises
    ------
    OutOfTime
        If the time is over before all is shown.
    """
    tight = _narrowed(few.tight, needed)
    structures = [(item, Structure.of(few, tight, item.values, clock)) for item in listed]
    blunt = sum(
        one is not None and one.under(item.objective).sum() > BITES * needed.sum() for item, one in structures
    )
    search = Search.relaxed(tight, clock)
    if 2 * blunt > len(listed):
        search = search.in_full(part, clock)
    for item in listed:
        search.keep_out(item.values)
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as beside:
        solved = beside.map(lambda pair: _better(pair[0], pair[1], few.kept), structures)
        other = search.below(ceiling) if search.exact or len(tight.structure) else None
        found = _cheapest([one or item for item, one in zip(listed, solved, strict=True)], len(listed))
    while other is not None and other.objective < found[-1].objective:
        structure = None if search.exact else Structure.of(few, tight, other.values, clock)
        joins = other if search.exact else _better(found[-1], structure)
        if joins is not None:
            found = _cheapest([*found, joins], len(listed))
        search.keep_out(other.values)
        if len(search.out) > PATIENCE * len(listed) and not search.exact:
            search = search.in_full(part, clock)
        other = search.below(found[-1].objective)
    return tuple(found)


def _cheapest(found: Sequence[Candidate], how_many: int) -> list[Candidate]:
    return sorted(found, key=lambda item: item.objective)[:how_many]


def best_of(few: Few, needed: Flags, item: Candidate, clock: Clock) -> Candidate | None:
    """Return a better formula of the same structure out of all materials that are needed; None where there is none."""
    tight = _narrowed(few.tight, _worth_trying(few, needed))
    structure = Structure.of(few, tight, item.values, clock)
    return _better(item, structure, few.kept)


def _better(item: Candidate, structure: Structure | None, tried: Flags | None = None) -> Candidate | None:
    """Return the best formula of a structure, if there is any that is better than a given one."""
    return None if structure is None else structure.best_under(item.objective, tried)


def _worth_trying(few: Few, needed: Flags) -> Flags:
    """Flag the needed materials without those that another offer of the same thing always replaces."""
    return needed & ~(needless(few.tight, needed) & ~few.kept)


@dataclass(frozen=True, eq=False)
class Structure:
    """The program with the choices that make two formulas different held, and what its best mixture proves.

    Attributes
    ----------
    few : Few
    program : Program
    limits : Bounds
    mixture : ndarray, shape (columns,)
    """

    few: Few = field(repr=False)
    program: Program = field(repr=False)
    limits: Bounds = field(repr=False)
    mixture: Floats = field(repr=False)
    clock: Clock = NO_LIMIT

    @classmethod
    def of(cls, few: Few, program: Program, values: Floats, clock: Clock) -> Structure | None:
        """Hold the structure of a solution; None where it makes no formula.

        Raises
        ------
        OutOfTime
            If the time is over.
        """
        held = with_structure(program, values)
        mixed = mixture(held, clock)
        if mixed is None:
            if clock.over():
                raise OutOfTime
            return None
        return cls(few, held, bounds(held, held.form.objective, mixed[1]), mixed[0], clock)

    def under(self, ceiling: float) -> Flags:
        """Flag the materials that a formula under a ceiling could use."""
        return (self.limits.using <= ceiling - CLEAR * max(1.0, abs(ceiling))) | self.few.free

    def best_under(self, ceiling: float, tried: Flags | None = None) -> Candidate | None:
        """Return the best formula, if it is under a ceiling.

        `tried` are materials out of which it is known to be no better.

        Raises
        ------
        OutOfTime
            If the time is over before that is known.
        """
        found: Candidate | None = None
        if tried is None:
            form, own = self.program.form, self.program.own_choice
            taken = form.lower[own] * (own >= 0) > 0
            tried = self.few.free | taken | (places(self.program, self.limits, self.mixture, 0) < SPARE)
            found = self._out_of(tried, ceiling)
            ceiling = ceiling if found is None else found.objective
        wanted = self.under(ceiling)
        return (self._out_of(wanted, ceiling) or found) if np.any(wanted & ~tried) else found

    def _out_of(self, kept: Flags, ceiling: float) -> Candidate | None:
        """Return the best formula out of some materials, if it is under a ceiling."""
        part = part_of(self.program, kept)
        if not part.possible:
            return None
        session = Session(part.form, clock=self.clock, arrays=True)
        session.set_objective(part.form.objective)
        outcome = session.below(ceiling - CLEAR * max(1.0, abs(ceiling)))
        if outcome.status == "stopped":
            raise OutOfTime
        if outcome.values is None:
            return None
        return Candidate(_rounded(part, outcome.values), outcome.objective, True, outcome.objective)


def part_under(few: Few, needed: Flags, ceiling: float) -> Part:
    """Return the part of the flagged materials, without the preservative systems that lie above a ceiling."""
    return part_of(few.tight, needed, [name for name, bound in few.limits.systems.items() if bound > ceiling])


def _narrowed(program: Program, needed: Flags) -> Program:
    """Return a program in which materials that are not needed are held at 0; no column changes its place."""
    gone = np.zeros(program.form.columns, dtype=bool)
    gone[: program.size] = ~needed
    gone[program.own_choice[(program.own_choice >= 0) & ~needed]] = True
    held = replace(program.form, upper=np.where(gone, 0.0, program.form.upper))
    return replace(program, form=thinned(held, program.size))


def _rounded(part: Part, values: Floats) -> Floats:
    """Return all columns of the program, choices whole, from those of a part."""
    values = values.copy()
    whole = part.form.integer
    values[whole] = np.round(values[whole])
    return part.full(values)
