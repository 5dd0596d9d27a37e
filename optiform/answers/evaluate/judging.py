"""Judges whether a formula holds what is asked of it, from its amounts alone, at its own ionic strength.

`evaluate` judges typed formulas this way. Whatever any other answer lists is judged once more before it is
shown, apart from the rows and choices that found it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from optiform.faults import InternalError
from optiform.library.narrowed import narrowed
from optiform.measures.acidity import charge_curves
from optiform.measures.uncharged import Undissociated
from optiform.program import Break, at_strength, breaks, build, complete
from optiform.program.rows.moves import WhenMove
from optiform.tolerances import TOLERANCE

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence

    from optiform.answers.model.answer import Formula, Line
    from optiform.brief.models import Brief
    from optiform.program import Key, Program
    from optiform.vectors import Floats

    Keys = Collection[Key]

AGAIN = "does not hold when it is computed again from its amounts"

MANY = 1000
"""Materials from which on formulas are judged in a library of little more than what they hold."""


@dataclass(frozen=True, eq=False)
class Judge:
    """Judges formulas of one brief.

    Attributes
    ----------
    brief : Brief
        Limits are judged at the typical composition.
    stated : Program
        With every pH window of the library, at no formula's ionic strength yet.
    """

    brief: Brief = field(repr=False)
    stated: Program = field(repr=False)

    @classmethod
    def of(cls, brief: Brief) -> Judge:
        """Return the judge of a brief."""
        typical = brief.model_copy(update={"certainty": None})
        return cls(typical, build(typical, open_pH=True))

    def program(self, amounts: Floats) -> Program:
        """Return the program that a formula is judged by: at its own ionic strength.

        Parameters
        ----------
        amounts : ndarray, shape (n,)  [% w/w]
        """
        settled = charge_curves(self.brief.library).settle(amounts)
        return self.stated if settled is None else at_strength(self.stated, settled.ionic_strength)

    def breaks(self, program: Program, amounts: Floats, rounding: Floats | None = None) -> tuple[Break, ...]:
        """Return every requirement that a formula does not meet; `program` is that of `program(amounts)`.

        `rounding` is how far each amount may be from the one that was meant, shape (n,) [% w/w].
        """
        values = complete(program, amounts)
        measured = {program.requirements[key].key for key, _ in _limits_on_uncharged(program)}
        found = [item for item in breaks(program, values, rounding) if item.requirement.key not in measured]
        return (
            *(each for item in found for each in _by_owner(program, item, values)),
            *_uncharged(program, values, rounding),
        )


def _by_owner(program: Program, item: Break, values: Floats) -> Iterator[Break]:
    """Yield a break as those of the requirements that need the row: one end of pH may serve several."""
    acid = next((acid for acid in program.acid_rows if acid.row == item.row), None)
    if acid is None or not acid.asked:
        yield item
        return
    for key in acid.owners(values):
        yield replace(item, requirement=program.requirements[key])


def _limits_on_uncharged(program: Program) -> Iterator[tuple[int, Undissociated]]:
    """Yield the requirements that bound uncharged acid, each with its measure."""
    for key in program.moves.stated:
        name = program.requirements[key].measure
        measure = program.catalogue.find(name) if name and name.startswith("undissociated:") else None
        if isinstance(measure, Undissociated):
            yield key, measure


def _uncharged(program: Program, values: Floats, rounding: Floats | None) -> Iterator[Break]:
    """Yield the limits on uncharged acid that a formula does not meet at the pH that holds for it."""
    amounts = values[: program.size]
    for key, measure in _limits_on_uncharged(program):
        moves = [move for _, move in program.moves[key]]
        requirement, value = program.requirements[key], measure.value(amounts)
        asked = any(not isinstance(move, WhenMove) or move.taken(values) for move in moves)
        if not asked or value is None or requirement.bound is None:
            continue
        short = 0.0 if requirement.side == "at_most" else requirement.bound - value
        over = 0.0 if requirement.side == "at_least" else value - requirement.bound
        if max(short, over) > TOLERANCE + _explained(measure, amounts, value, rounding, max(short, over)):
            yield Break(requirement, max(short, over))


def _explained(
    measure: Undissociated, amounts: Floats, value: float, rounding: Floats | None, off: float
) -> float:
    """Return by how much the rounding of the amounts may have moved a measure that is off; 0 where it is not."""
    if rounding is None or off <= TOLERANCE:
        return 0.0
    moved = 0.0
    for place in np.flatnonzero(rounding):
        there = amounts.copy()
        there[place] += rounding[place]
        found = measure.value(there)
        moved += 0.0 if found is None else abs(found - value)
    return moved


@dataclass
class Recheck:
    """Judges formulas once more from their amounts, and keeps a sentence for each that does not hold.

    Attributes
    ----------
    words : list of str
        What was left out so far, in no order.
    """

    words: list[str] = field(default_factory=list)
    _judges: dict[int, tuple[Brief, Judge]] = field(default_factory=dict, repr=False)

    @property
    def told(self) -> tuple[str, ...]:
        """Return the sentences in an order that does not depend on who found what first."""
        return tuple(sorted(dict.fromkeys(self.words)))

    def holds(
        self,
        what: str,
        brief: Brief,
        lines: Iterable[tuple[str, float]],
        but: Keys = (),
        judge: Judge | None = None,
    ) -> bool:
        """Tell whether a formula holds what a brief asks; if not, say that it is left out.

        Parameters
        ----------
        what : str
            What the formula stands for, as the sentence names it.
        lines : iterable of (str, float)
            Material ids and % w/w.
        but : collection of Key
            Requirements that it need not meet.
        judge : Judge, optional
            That of the brief, where it was made before.
        """
        names = self.broken(brief, lines, but, judge)
        if names:
            self.words.append(f"Left out: {what} that {AGAIN}: {names}.")
        return not names

    def broken(
        self, brief: Brief, lines: Iterable[tuple[str, float]], but: Keys = (), judge: Judge | None = None
    ) -> str:
        """Return the titles of what a formula breaks; empty where it holds."""
        lines = tuple(lines)
        judge = judge or self._judge(brief, lines)
        amounts = judge.brief.library.arrays.amounts(lines)
        found = (item.requirement for item in judge.breaks(judge.program(amounts), amounts))
        return "; ".join(dict.fromkeys(asked.title for asked in found if asked.key not in but))

    def _judge(self, brief: Brief, lines: Sequence[tuple[str, float]]) -> Judge:
        """Return the judge of a brief, made once where its library is small enough to be judged in whole."""
        if len(brief.library.materials) > MANY:
            return Judge.of(held_to(brief, {name for name, _ in lines}))
        if id(brief) not in self._judges:
            self._judges[id(brief)] = (brief, Judge.of(brief))
        return self._judges[id(brief)][1]


def held_to(brief: Brief, used: set[str]) -> Brief:
    """Return a brief whose library holds these materials and little more."""
    library = narrowed(brief.library, used, brief.model_dump(exclude={"library"}))
    return brief.model_copy(update={"library": library})


def pairs_of(lines: Iterable[Line]) -> list[tuple[str, float]]:
    """Return the materials of a listed formula with their % w/w."""
    return [(line.material, line.percent) for line in lines]


def judged(brief: Brief, formulas: Sequence[Formula]) -> tuple[tuple[Formula, ...], tuple[str, ...]]:
    """Return the formulas that hold what their brief asks, and a sentence for each that does not.

    Raises
    ------
    InternalError
        If none of them holds.
    """
    recheck = Recheck()
    kept = [item for item in formulas if recheck.holds("a formula", brief, pairs_of(item.lines))]
    if formulas and not kept:
        raise InternalError(" ".join(recheck.words))
    return tuple(replace(item, rank=place + 1) for place, item in enumerate(kept)), tuple(recheck.words)
