"""Ranking on the few materials that matter, with a proof that no other could enter the list.

One continuous program over all materials gives, for each of them, a cost below which no formula
that uses it can be. The cheapest few are ranked; whatever cannot be under the cost of the last
formula listed is out for good, and the rest is ranked again. docs/explanation/screening.md has the proof.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.answers.prepare import Ground, confirmed, ground
from optiform.answers.rank import Candidate, best, best_expected, counts, rank
from optiform.answers.search import MARGIN, Search
from optiform.program import SparseRow
from optiform.program.bounding import bounds, relaxation, with_structure
from optiform.program.offers import needless
from optiform.program.part import Part, part_of, thinned
from optiform.program.tighten import tightened
from optiform.solver import Outcome, Session, solve_arrays

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from optiform.library.arrays import Flags, Floats
    from optiform.program import Program
    from optiform.program.bounding import Bounds
    from optiform.program.program import Indices

SPARE = 3
"""Materials of each function that are ranked first; where they make formulas different, as many more as are listed."""

MANY, ALONE = 60, 500
"""Materials from which on it pays to look for those that matter: for several formulas, and for one alone."""

PATIENCE = 1.5
"""So many structures for each formula listed, those listed among them, are looked at before the search is among
formulas in place of mixtures: few mixtures that look good are told off fast, many are not."""

ROUNDS = 4
LARGER = 2
NOTHING = Outcome("infeasible", np.inf, np.inf)


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
    """

    program: Program = field(repr=False)
    part: Part | Program = field(repr=False)
    session: Session | None = field(repr=False)
    first: Outcome = field(repr=False)
    left_out: int = 0
    ceiling: float = np.inf
    listed: tuple[Candidate, ...] = ()
    expected: tuple[Candidate, ...] = ()

    @property
    def best_values(self) -> Floats:
        """Return the columns of the program at the best formula."""
        values = np.zeros(self.part.form.columns) if self.first.values is None else self.first.values
        return self.part.full(values) if isinstance(self.part, Part) else values

    def ranking(
        self, how_many: int, then: Sequence[tuple[Floats, Floats | None]] = (), tie: float = 0.0
    ) -> Iterator[Candidate | Outcome]:
        """Yield what `rank` would yield for the whole program, in the program's columns."""
        part = self.part
        if self.listed and not then:
            yield from self.listed
            return
        if not isinstance(part, Part):
            yield from rank(part, how_many, then, tie, session=self.session, known=self.first)
            return
        columns, session = part.columns, self.session or Session(part.form)
        here = [(top[columns], None if base is None else base[columns]) for top, base in then]
        floor = self._floor(session, here)
        expected = [_within(part, item) for item in self.expected]
        known = self.first
        for found in rank(
            part, how_many, here, tie, session=session, known=known, floor=floor, expected=expected
        ):
            yield replace(found, values=part.full(found.values)) if isinstance(found, Candidate) else found

    def _floor(self, session: Session, then: Sequence[tuple[Floats, Floats | None]]) -> float:
        """Return a value that no formula worth listing is under by the one tie-break, where that is a count."""
        if len(then) != 1 or not counts(*then[0], self.part.form.integer) or not np.isfinite(self.ceiling):
            return -np.inf
        objective = self.part.form.objective
        present = np.flatnonzero(objective)
        with session.trial():
            session.add_row(SparseRow(present, objective[present], -np.inf, self.ceiling))
            return float(np.ceil(best(session, then[0][0]).bound - MARGIN))


def screen(program: Program, how_many: int, tie: float = 0.0, deadline: float | None = None) -> Screened:
    """Find the part of a program that holds its best formulas, at an ionic strength that the best of them confirms.

    Parameters
    ----------
    program : Program
    how_many : int
    tie : float
        How far behind the best a formula may be that a tie-break prefers.
    deadline : float, optional
        Moment on `time.monotonic` after which solves stop.

    Notes
    -----
    A mean as the aim is not a linear one: its program is ranked as a whole. So are programs of few
    materials, and those in which hardly any material can be left out.
    """
    if program.size < (MANY if how_many > 1 else ALONE) or program.ratio_aim is not None:
        return _whole(ground(program, deadline))
    found = _screened(program, how_many, tie, deadline)
    moved = (
        None
        if found is None or found.first.status != "solved"
        else confirmed(found.program, found.best_values)
    )
    if moved is not None:
        found = _screened(moved, how_many, tie, deadline)
    return found or _whole(ground(program, deadline))


def _whole(grounded: Ground) -> Screened:
    return Screened(grounded.program, grounded.program, grounded.session, grounded.first)


def _screened(program: Program, how_many: int, tie: float, deadline: float | None) -> Screened | None:
    few = _few(program, how_many, deadline)
    return None if few is None else _ranked(few, how_many, tie, deadline)


@dataclass(frozen=True, eq=False)
class Few:
    """The materials with the lowest bounds, and the best formula that they make.

    `tight` is the program with tighter rows; `free` are the materials that have no choice of their
    own, and so are never left out.
    """

    program: Program = field(repr=False)
    tight: Program = field(repr=False)
    limits: Bounds = field(repr=False)
    free: Flags = field(repr=False)
    order: Indices = field(repr=False)
    kept: Flags = field(repr=False)
    part: Part = field(repr=False)
    session: Session = field(repr=False)
    first: Outcome = field(repr=False)


def _few(program: Program, how_many: int, deadline: float | None) -> Few | None:
    """Find few materials that make a formula, at the ionic strength of the best one; None if only most do, or all."""
    for place in range(ROUNDS):
        tight = tightened(program)
        mixture = _mixture(tight, deadline)
        if mixture is None:
            return None
        moved = confirmed(program, mixture[0]) if place == 0 else None
        if moved is not None:
            program = moved
            continue
        limits = bounds(tight, tight.form.objective, mixture[1])
        free = program.own_choice < 0
        places = _places(tight, limits, mixture[0], how_many)
        many = int(np.count_nonzero(places < how_many + SPARE))
        order = np.argsort(places, kind="stable").astype(np.intp)
        while True:
            kept = _with(free, order[:many])
            part = part_of(tight, kept)
            session = Session(part.form, deadline=deadline)
            first = best(session, part.form.objective) if part.possible else NOTHING
            if first.status != "infeasible":
                break
            many *= LARGER
            if 2 * many >= program.size:
                return None
        last = first.values is None or place + 1 == ROUNDS
        moved = None if last else confirmed(program, part.full(np.asarray(first.values)))
        if moved is None:
            break
        program = moved
    return Few(program, tight, limits, free, order, kept, part, session, first)


def _places(program: Program, limits: Bounds, mixture: Floats, how_many: int) -> Floats:
    """Return the place of each material among those of its function, cheapest bound first, shape (n,).

    What makes two formulas different is wanted most: such materials come first at equal places.
    Of a function that the best mixture does without, hardly any is wanted.
    """
    place = np.full(program.size, np.inf)
    different = np.isin(program.own_choice, program.structure)
    for word in {material.function for material in program.library.materials}:
        members = np.flatnonzero(program.library.arrays.is_function(word) & (program.own_choice >= 0))
        members = members[np.lexsort((-mixture[members], limits.using[members]))]
        wanted = 0 if np.any(mixture[members] > 0) else SPARE
        place[members] = np.arange(len(members)) + wanted + np.where(different[members], 0, how_many)
    return place


def _mixture(program: Program, deadline: float | None) -> tuple[Floats, Floats] | None:
    """Return the best mixture with all choices relaxed, in the columns of a program, and the price of each row."""
    relaxed = relaxation(program, program.form.objective)
    outcome = solve_arrays(relaxed.form, seconds=None if deadline is None else deadline - time.monotonic())
    if outcome.values is None or outcome.row_dual is None:
        return None
    values = np.zeros(program.form.columns)
    values[relaxed.columns] = outcome.values
    return values, relaxed.prices(outcome.row_dual, program.form.rows)


def _with(flags: Flags, places: Indices) -> Flags:
    """Flag some more."""
    more = flags.copy()
    more[places] = True
    return more


def _ranked(few: Few, how_many: int, tie: float, deadline: float | None) -> Screened | None:
    """Rank the few, then all that could be under the last one's aim; None if that needs most materials.

    Where a better formula uses a material that was not among the few, it joins them: the ceiling
    then falls, and fewer materials are under it. The best of all stays the best.
    """
    limits, size, kept = few.limits, few.program.size, few.kept
    part, session, first = few.part, few.session, few.first
    known: Screened | None = None
    while True:
        listed = _listed(part, session, first, how_many)
        if listed is None:
            return known or Screened(few.program, part, session, first, int(size - kept.sum()))
        if len(listed) == how_many:
            last = listed[-1].objective
            ceiling = last + tie + MARGIN * max(1.0, abs(last))
            needed = (limits.using <= ceiling) | few.free
            if not np.any(needed & ~kept):
                known = Screened(few.program, part, session, first, int(size - kept.sum()), ceiling)
                return known if tie else replace(known, listed=listed)
            if not tie:
                return _proven(few, needed, ceiling, listed, deadline)
            known = _under(few, needed, ceiling, listed, known, deadline)
            used = known.best_values[:size] > 0
            if known.first.status != "solved" or not np.any(used & ~kept):
                return known
            kept = kept | used
        else:
            many = LARGER * int((kept & ~few.free).sum())
            if 2 * many >= size:
                return known
            kept = kept | _with(few.free, few.order[:many])
        part = part_of(few.tight, kept)
        session = Session(part.form, deadline=deadline)
        first = _first(part, session, known)


def _proven(
    few: Few, needed: Flags, ceiling: float, listed: tuple[Candidate, ...], deadline: float | None
) -> Screened:
    """Hold a list of formulas against all materials that a formula under the ceiling could use.

    Each structure listed is solved again with all of them at hand. Then a relaxation, in which only
    the choices that make two formulas different are whole, looks for any other structure that could
    be better than the last one listed. What it finds is solved in full, and joins the list or not;
    it is not found again. The list is proven when nothing more is found.
    """
    size = few.program.size
    needed = needed & ~(needless(few.tight, needed) & ~few.kept)
    gone = _gone(few.tight, needed)
    held = replace(few.tight.form, upper=np.where(gone, 0.0, few.tight.form.upper))
    tight = replace(few.tight, form=thinned(held, size))
    search = Search.relaxed(tight, deadline)
    found = [_best_of(few, tight, item, item.objective, deadline, few.kept) or item for item in listed]
    for item in listed:
        search.keep_out(item.values)
    while True:
        found.sort(key=lambda item: item.objective)
        found = found[: len(listed)]
        last = found[-1].objective
        if len(search.out) > PATIENCE * len(listed) and not search.exact:
            search = search.in_full(_part(few, needed, ceiling), deadline)
        other = search.below(last)
        if other is None or not other.proven or not len(tight.structure):
            break
        better = other if search.exact else _best_of(few, tight, other, last, deadline)
        if better is not None:
            found.append(better)
        search.keep_out(other.values)
    stopped = other is not None and not other.proven
    part = _part(few, needed, ceiling)
    best_values = found[0].values[part.columns]
    first = Outcome("stopped" if stopped else "solved", found[0].objective, found[0].objective, best_values)
    return Screened(few.program, part, None, first, int(size - needed.sum()), ceiling, tuple(found))


def _best_of(
    few: Few,
    tight: Program,
    item: Candidate,
    ceiling: float,
    deadline: float | None,
    tried: Flags | None = None,
) -> Candidate | None:
    """Return the best formula with the structure of a solution, if it is under a ceiling.

    `tried` are materials out of which it is known to be no better.
    """
    held = with_structure(tight, item.values)
    mixture = _mixture(held, deadline)
    if mixture is None:
        return None
    limits = bounds(held, held.form.objective, mixture[1])
    found: Candidate | None = None
    if tried is None:
        taken = held.form.lower[held.own_choice] * (held.own_choice >= 0) > 0
        tried = few.free | taken | (_places(held, limits, mixture[0], 0) < SPARE)
        found = _below(held, tried, ceiling, deadline)
        ceiling = ceiling if found is None else found.objective
    wanted = (limits.using <= ceiling - MARGIN * max(1.0, abs(ceiling))) | few.free
    return (_below(held, wanted, ceiling, deadline) or found) if np.any(wanted & ~tried) else found


def _below(program: Program, kept: Flags, ceiling: float, deadline: float | None) -> Candidate | None:
    """Return the best formula out of some materials, if it is under a ceiling."""
    part = part_of(program, kept)
    if not part.possible:
        return None
    session = Session(part.form, deadline=deadline, small=0)
    session.set_objective(part.form.objective)
    outcome = session.below(ceiling - MARGIN * max(1.0, abs(ceiling)))
    if outcome.values is None:
        return None
    proven = outcome.status == "solved"
    return Candidate(rounded(part, outcome.values), outcome.objective, proven, outcome.objective)


def _gone(program: Program, needed: Flags) -> Flags:
    """Flag the columns of materials that are not needed: their amounts and their own choices."""
    gone = np.zeros(program.form.columns, dtype=bool)
    gone[: program.size] = ~needed
    gone[program.own_choice[(program.own_choice >= 0) & ~needed]] = True
    return gone


def _under(
    few: Few,
    needed: Flags,
    ceiling: float,
    listed: tuple[Candidate, ...],
    known: Screened | None,
    deadline: float | None,
) -> Screened:
    """Return the part in which every formula under a ceiling lies, with its best formula."""
    part = _part(few, needed, ceiling)
    session = Session(part.form, deadline=deadline)
    if known is None:
        first = best_expected(session, part.form.objective, _within(part, listed[0]))
    else:
        first = replace(known.first, values=known.best_values[part.columns])
    left_out = int(few.program.size - needed.sum())
    return Screened(few.program, part, session, first, left_out, ceiling, expected=listed)


def _within(part: Part, item: Candidate) -> Outcome:
    """Return a formula in the columns of a part that holds it."""
    return Outcome("solved", item.objective, item.objective, item.values[part.columns])


def _part(few: Few, needed: Flags, ceiling: float) -> Part:
    """Return the part of the flagged materials, without the preservative systems that lie above a ceiling."""
    return part_of(few.tight, needed, [name for name, bound in few.limits.systems.items() if bound > ceiling])


def _first(part: Part, session: Session, known: Screened | None) -> Outcome:
    """Return the best formula of a part, which is the best known one where that was found among more."""
    if known is None:
        return best(session, part.form.objective) if part.possible else NOTHING
    return replace(known.first, values=known.best_values[part.columns])


def _listed(part: Part, session: Session, first: Outcome, how_many: int) -> tuple[Candidate, ...] | None:
    """Return the formulas of a part, in the program's columns; None if the search was stopped on the way."""
    found: list[Candidate] = []
    with session.trial():
        for item in rank(part, how_many, session=session, known=first):
            if isinstance(item, Candidate):
                found.append(replace(item, values=part.full(item.values)))
            elif item.status == "stopped":
                return None
    return tuple(found)


def rounded(part: Part, values: Floats) -> Floats:
    """Return all columns of the program, choices whole, from those of a part."""
    values = values.copy()
    whole = part.form.integer
    values[whole] = np.round(values[whole])
    return part.full(values)
