"""Keeps the proofs that a program holds no formula: each tells which rows it needs, so that others may go unasked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from optiform.program import Program
from optiform.search.incumbent import decided, in_time, relaxed, rounded_choices
from optiform.search.tree import searched
from optiform.solver import Cause, Outcome, Refuting

MOST = 8
"""So many of the last proofs are looked through for one that still stands."""


@dataclass(frozen=True, eq=False)
class Branch:
    """A box of choices without a formula, and what leaves it none.

    Attributes
    ----------
    ends : mapping of int to (float, float)
        The least and the most of the choices that were branched on.
    rows, columns : frozenset of int, optional
        The rows, and the columns by their upper bounds, that are enough for it; None where that is not known.
    """

    ends: Mapping[int, tuple[float, float]]
    cause: Cause | None

    def stands_without(self, rows: frozenset[int], columns: frozenset[int]) -> bool:
        """Tell whether it still has no formula when some rows and bounds are let go or loosened."""
        return self.cause is not None and self.cause[0].isdisjoint(rows) and self.cause[1].isdisjoint(columns)


@dataclass(eq=False)
class Refutations:
    """Looks for any formula in a live session of which some rows and bounds were let go, or proves that there is none.

    Attributes
    ----------
    session : Refuting
    proofs : list of sequence of Branch
        Each holds every choice there is.
    """

    session: Refuting
    proofs: list[Sequence[Branch]] = field(default_factory=list, repr=False)

    def witness(
        self, program: Program, rows: frozenset[int], columns: frozenset[int]
    ) -> tuple[Outcome, Sequence[Branch]]:
        """Find any formula, or the proof that there is none.

        Where the solver's own search found none, which gives no reasons, a branch of unknown cause stands among those
        that were seen.

        Parameters
        ----------
        program : Program
            As the session holds it, but for what was let go.
        rows, columns : frozenset of int
            What was let go or loosened.

        Raises
        ------
        OutOfTime
            If the time is over before that is known.
        """
        standing = [[one.stands_without(rows, columns) for one in proof] for proof in self.proofs]
        whole = next(
            (proof for proof, stands in zip(self.proofs, standing, strict=True) if all(stands)), None
        )
        if whole is not None:
            return NOTHING, whole
        return self._searched(program, rows, columns)

    def _searched(
        self, program: Program, rows: frozenset[int], columns: frozenset[int]
    ) -> tuple[Outcome, Sequence[Branch]]:
        session, refused = self.session, list[Branch]()

        def refuse(ends: Mapping[int, tuple[float, float]]) -> None:
            cause = session.cause()
            refused.append(Branch(ends, None if cause is None else (cause[0] - rows, cause[1] - columns)))

        with session.trial():
            session.set_objective(np.zeros(program.form.columns))
            mixture = in_time(relaxed(session, refuse))
            if mixture.values is None:
                return NOTHING, self._kept(refused)
            found = in_time(rounded_choices(session, program, mixture.values))
            if found.values is not None:
                return found, ()
            start = self._start(rows, columns)
            refused += [one for one in start if one.stands_without(rows, columns)]
            open_ones = [dict(one.ends) for one in start if not one.stands_without(rows, columns)]
            tried = searched(session, np.zeros(program.form.columns), None, open_ones, refuse)
            if tried is None:
                found = in_time(decided(session, program, [one.cause for one in refused]))
                return found, (*refused, EVERYTHING)
        return tried, self._kept(refused) if tried.values is None else ()

    def _start(self, rows: frozenset[int], columns: frozenset[int]) -> Sequence[Branch]:
        """Return the proof of which the fewest branches have to be looked at again."""
        again = [sum(not one.stands_without(rows, columns) for one in proof) for proof in self.proofs]
        if not again or min(again) > len(self.proofs[int(np.argmin(again))]) // 2:
            return (EVERYTHING,)
        return self.proofs[int(np.argmin(again))]

    def _kept(self, proof: Sequence[Branch]) -> Sequence[Branch]:
        if all(one.cause is not None for one in proof):
            self.proofs = [proof, *self.proofs[: MOST - 1]]
        return proof


NOTHING = Outcome("infeasible", np.inf, np.inf)
EVERYTHING = Branch({}, None)
