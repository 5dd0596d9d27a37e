"""Ranks on the few materials that matter, with a proof that no other could enter the list.

One continuous program over all materials gives, for each of them, a cost below which no formula
that uses it can be. The cheapest few are ranked; whatever cannot be under the cost of the last
formula listed is out for good, and the rest is ranked again. docs/explanation/screening.md has the proof.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.program.reduction.part import Part, part_of
from optiform.search.cardinality import ProvenCounts
from optiform.search.ionic_strength import Ground, confirmed, ground
from optiform.search.narrow.candidates import LARGER, NOTHING, below, few_of, nearest, with_more
from optiform.search.narrow.completion import best_of, completed, part_under
from optiform.search.ranking import Candidate, WarmStart, best, best_expected, no_edge, rank
from optiform.search.ties import settled
from optiform.solver import NO_LIMIT, Clock, Outcome, OutOfTime, Session
from optiform.tolerances import CLEAR

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from optiform.program import Program
    from optiform.search.narrow.candidates import Few
    from optiform.vectors import Flags, Floats

    Foresee = Callable[[Program, Sequence[Candidate]], None]

MANY, ALONE = 60, 500
"""Materials from which on it pays to look for those that matter: for several formulas, and for one alone."""

LARGE = 500
"""Materials from which on, where ties are broken, what fewer of them make is worth knowing first."""

WIDE = 3
"""So many materials that make formulas different, for each formula listed, are ranked before anything is proven."""


@dataclass(frozen=True, eq=False)
class Wanted:
    """What is asked of a ranking: see `screen`."""

    how_many: int
    tie: float
    clock: Clock
    foresee: Foresee | None


@dataclass(frozen=True, eq=False)
class Screened:
    """A program at its ionic strength, and the part of it that holds every formula worth listing.

    Attributes
    ----------
    program : Program
    part : Part or Program
        What is ranked: all of the program where screening was of no use.
    session : Session, optional
        Holds the part, where one is open.
    first : Outcome
        The best formula, in the columns of the part.
    left_out : int
        Materials that were proven to be of no use.
    ceiling : float
        No formula that is worth listing has more of the aim.
    listed : tuple of Candidate
        The ranking, where it is known already; in the program's columns.
    expected : tuple of Candidate
        A ranking of fewer materials, which the part holds all of; in the program's columns.
    few : Part, optional
        The program of these fewer materials.
    proven : ProvenCounts
        What the session is known not to hold.
    """

    program: Program = field(repr=False)
    part: Part | Program = field(repr=False)
    session: Session | None = field(repr=False)
    first: Outcome = field(repr=False)
    left_out: int = 0
    ceiling: float = np.inf
    listed: tuple[Candidate, ...] = ()
    expected: tuple[Candidate, ...] = ()
    few: Part | None = field(default=None, repr=False)
    proven: ProvenCounts = field(default_factory=ProvenCounts, repr=False)

    @property
    def best_values(self) -> Floats:
        """Return the columns of the program at the best formula."""
        values = np.zeros(self.part.form.columns) if self.first.values is None else self.first.values
        return self.part.full(values) if isinstance(self.part, Part) else values

    def ranking(
        self,
        how_many: int,
        then: Sequence[tuple[Floats, Floats | None]] = (),
        tie: float = 0.0,
        edge: Callable[[], float] = no_edge,
        reach: float = np.inf,
    ) -> Iterator[Candidate | Outcome]:
        """Yield what `rank` would yield for the whole program, in the program's columns, ties settled.

        What is asked about fewer ingredients is asked up to `reach` of the aim, or to the ceiling where that is lower.
        """
        worth_knowing = min(reach, self.ceiling)
        self.proven.reach = worth_knowing if np.isfinite(worth_knowing) else -np.inf
        clock = NO_LIMIT if self.session is None else self.session.clock
        ranked = self._ranking(how_many, then, tie, edge)
        listed = () if then else self.listed
        return settled(self.program, self.part, ranked, then, clock, edge, listed)

    def fewer(self, count: Floats, most: int, ceiling: float) -> bool:
        """Tell whether a formula under a ceiling of the aim may have at most so many ingredients; "no" is proof."""
        part, session = self.part, self.session
        if session is None or part.ratio_aim is not None or ceiling > self.ceiling:
            return True
        if self.proven.floor(most) >= ceiling:
            return False
        here = count[part.columns] if isinstance(part, Part) else count
        found = self.proven.below(session, part.form.objective, here, most, ceiling)
        return found.status != "infeasible"

    def _ranking(
        self,
        how_many: int,
        then: Sequence[tuple[Floats, Floats | None]],
        tie: float,
        edge: Callable[[], float],
    ) -> Iterator[Candidate | Outcome]:
        part = self.part
        if self.listed and not then:
            yield from self.listed
            if self.first.status == "stopped":
                yield self.first
            return
        if not isinstance(part, Part):
            start = WarmStart(self.session, self.first, proven=self.proven)
            yield from rank(part, how_many, then, tie, start=start, edge=edge)
            return
        columns, session = part.columns, self.session or Session(part.form)
        here = [(top[columns], None if base is None else base[columns]) for top, base in then]
        expected = [_within(part, item) for item in self.expected]
        others = (_within(part, item) for item in self._likely(how_many, then, tie))
        start = WarmStart(session, self.first, expected, others, self.proven)
        for found in rank(part, how_many, here, tie, session.clock, start, edge):
            yield replace(found, values=part.full(found.values)) if isinstance(found, Candidate) else found

    def _likely(
        self, how_many: int, then: Sequence[tuple[Floats, Floats | None]], tie: float
    ) -> Iterator[Candidate]:
        """Yield what the ranking of the few materials lists, ties broken, in the program's columns."""
        few = self.few
        if few is None or not then or self.program.size < LARGE:
            return
        here = [(top[few.columns], None if base is None else base[few.columns]) for top, base in then]
        expected = [_within(few, item) for item in self.expected]
        clock = NO_LIMIT if self.session is None else self.session.clock
        session = Session(few.form, clock=clock, arrays=True)
        start = WarmStart(session, expected[0], expected)
        for found in rank(few, how_many, here, tie, start=start):
            if isinstance(found, Candidate) and found.proven:
                yield replace(found, values=few.full(found.values))


def screen(
    program: Program,
    how_many: int,
    tie: float = 0.0,
    clock: Clock = NO_LIMIT,
    foresee: Foresee | None = None,
    *,
    arrays: bool = False,
) -> Screened:
    """Find the part of a program that holds its best formulas, at an ionic strength that the best of them confirms.

    Parameters
    ----------
    program : Program
    how_many : int
    tie : float
        How far behind the best a formula may be that a tie-break prefers.
    clock : Clock
        Once its time is over solves stop.
    foresee : callable, optional
        Told the program and the formulas that are likely to be listed, before they are proven.
    arrays : bool
        Whether a small program goes to the solver as arrays: it is a what-if of something that was asked.

    Notes
    -----
    Programs of few materials are ranked as a whole, and so are those in which hardly any material can be left
    out.
    """
    if program.size < (MANY if how_many > 1 else ALONE):
        return _whole(ground(program, clock, arrays=arrays))
    wanted = Wanted(how_many, tie, clock, foresee)
    found = _screened(program, wanted)
    moved = (
        None
        if found is None or found.first.status != "solved"
        else confirmed(found.program, found.best_values)
    )
    if moved is not None:
        found = _screened(moved, wanted, settled=True)
    return found or _whole(ground(program, clock, arrays=arrays))


def _whole(grounded: Ground) -> Screened:
    return Screened(grounded.program, grounded.program, grounded.session, grounded.first)


def _screened(program: Program, wanted: Wanted, *, settled: bool = False) -> Screened | None:
    few = few_of(program, wanted.how_many, wanted.clock, settled=settled)
    if few is None:
        return None
    return (
        _ranked(few, wanted, settled=settled) if program.ratio_aim is None else _ranked_by_ratio(few, wanted)
    )


def _ranked_by_ratio(few: Few, wanted: Wanted) -> Screened | None:
    """Rank the few by a ratio; what could be under the ratio of the last one is linear again, and left in the part.

    None where that takes most materials.
    """
    how_many, clock, size = wanted.how_many, wanted.clock, few.program.size
    part, session, first, kept = few.part, few.session, few.first, few.kept
    while True:
        listed = _listed(part, session, first, how_many, [])
        if listed is None:
            return Screened(few.program, part, session, first, int(size - kept.sum()))
        if len(listed) == how_many:
            break
        many = LARGER * int((kept & ~few.free).sum())
        if 2 * many >= size:
            return None
        kept = kept | with_more(few.free, few.order[:many])
        part = part_of(few.tight, kept)
        session = Session(part.form, clock=clock, arrays=True)
        first = best(session, part.form.objective, part.ratio_aim) if part.possible else NOTHING
    last = listed[-1].objective
    ceiling = last + wanted.tie + CLEAR * max(1.0, abs(last))
    needed = below(few.tight, ceiling, clock)
    if needed is None:
        return Screened(few.program, part, session, first, int(size - kept.sum()))
    needed = needed | few.free | np.any([item.values[:size] > 0 for item in listed], axis=0)
    part = part_of(few.tight, needed)
    session = Session(part.form, clock=clock, arrays=True)
    first = best_expected(session, part.form.objective, part.ratio_aim, _within(part, listed[0]))
    return Screened(few.program, part, session, first, int(size - needed.sum()), ceiling, (), listed)


def _ranked(few: Few, wanted: Wanted, *, settled: bool) -> Screened | None:
    """Rank the few, then all that could be under the last one's aim; None if that needs most materials.

    Where a better formula uses a material that was not among the few, it joins them: the ceiling
    then falls, and fewer materials are under it. The best of all stays the best. Where the ionic strength is
    not settled yet, and the best of those ranked asks for another one, all is ranked again at that.
    """
    how_many, tie, clock = wanted.how_many, wanted.tie, wanted.clock
    limits, size, kept = few.limits, few.program.size, few.kept
    part, session, first = few.part, few.session, few.first
    known: Screened | None = None
    listed: tuple[Candidate, ...] = ()
    wide = tie > 0 and size < LARGE
    while True:
        expected = [_within(part, item) for item in listed] if wide else []
        found = _listed(part, session, first, how_many, expected)
        if found is None:
            return known or Screened(few.program, part, session, first, int(size - kept.sum()))
        listed = found
        if len(listed) < how_many:
            many = LARGER * int((kept & ~few.free).sum())
            if 2 * many >= size:
                return known
            kept = kept | with_more(few.free, few.order[:many])
        else:
            few = replace(few, kept=kept)
            last = listed[-1].objective
            ceiling = last + tie + CLEAR * max(1.0, abs(last))
            needed = (limits.using <= ceiling) | few.free
            if not np.any(needed & ~kept):
                known = Screened(few.program, part, session, first, int(size - kept.sum()), ceiling)
                return known if tie else replace(known, listed=listed)
            if not wide:
                better = _likelier(few, needed, listed[0], clock)
                kept = kept | (better.values[:size] > 0) | nearest(few, needed, WIDE * how_many)
                wide = True
            elif not settled and (moved := confirmed(few.program, listed[0].values)) is not None:
                return _screened(moved, wanted, settled=True)
            elif not tie:
                if wanted.foresee is not None:
                    wanted.foresee(few.program, listed)
                return _proven(few, needed, ceiling, listed, clock)
            else:
                known = _under(few, needed, ceiling, listed, known, clock)
                used = known.best_values[:size] > 0
                if known.first.status != "solved" or not np.any(used & ~kept):
                    return known
                kept = kept | used
        part = part_of(few.tight, kept)
        session = Session(part.form, clock=clock, arrays=True)
        first = _first(part, session, known, listed)


def _likelier(few: Few, needed: Flags, item: Candidate, clock: Clock) -> Candidate:
    """Return the best formula of a structure out of all materials that are needed; the given one if time is over."""
    try:
        return best_of(few, needed, item, clock) or item
    except OutOfTime:
        return item


def _proven(few: Few, needed: Flags, ceiling: float, listed: tuple[Candidate, ...], clock: Clock) -> Screened:
    """Return a list that was held against all materials that a formula under the ceiling could use."""
    proof = completed(few, needed, ceiling, listed, clock)
    best_one = proof.listed[0]
    first = Outcome(
        "stopped" if proof.stopped else "solved",
        best_one.objective,
        best_one.objective,
        best_one.values[proof.part.columns],
    )
    return Screened(few.program, proof.part, None, first, proof.left_out, ceiling, proof.listed)


def _under(
    few: Few,
    needed: Flags,
    ceiling: float,
    listed: tuple[Candidate, ...],
    known: Screened | None,
    clock: Clock,
) -> Screened:
    """Return the part in which every formula under a ceiling lies, with its best formula."""
    part = part_under(few, needed, ceiling)
    session = Session(part.form, clock=clock)
    if known is None:
        first = best_expected(session, part.form.objective, part.ratio_aim, _within(part, listed[0]))
    else:
        first = replace(known.first, values=known.best_values[part.columns])
    left_out = int(few.program.size - needed.sum())
    return Screened(
        few.program, part, session, first, left_out, ceiling, (), listed, part_of(few.tight, few.kept)
    )


def _within(part: Part, item: Candidate) -> Outcome:
    """Return a formula in the columns of a part that holds it."""
    return Outcome("solved", item.objective, item.objective, item.values[part.columns])


def _first(part: Part, session: Session, known: Screened | None, listed: tuple[Candidate, ...]) -> Outcome:
    """Return the best formula of a part, which is the best known one where that was found among more."""
    if known is not None:
        return replace(known.first, values=known.best_values[part.columns])
    if listed:
        return best_expected(session, part.form.objective, part.ratio_aim, _within(part, listed[0]))
    return best(session, part.form.objective, part.ratio_aim) if part.possible else NOTHING


def _listed(
    part: Part, session: Session, first: Outcome, how_many: int, expected: Sequence[Outcome]
) -> tuple[Candidate, ...] | None:
    """Return the formulas of a part, in the program's columns; None if the search was stopped on the way."""
    found: list[Candidate] = []
    with session.trial():
        for item in rank(part, how_many, start=WarmStart(session, first, expected=expected)):
            if isinstance(item, Candidate):
                found.append(replace(item, values=part.full(item.values)))
            elif item.status == "stopped":
                return None
    return tuple(found)
