"""Finds the best formula of a program that holds its pH at its own ionic strength."""

from __future__ import annotations

from dataclasses import dataclass, field

from optiform.program import Program
from optiform.search.fixed_choices import Polished, polish
from optiform.search.narrow.screening import screen
from optiform.search.ranking import Candidate
from optiform.solver import NO_LIMIT, Clock

TRIES = 5
"""Structures that are tried where the best one cannot hold its pH at its own ionic strength."""


@dataclass(frozen=True, eq=False)
class Exact:
    """What was found.

    Attributes
    ----------
    program : Program
        At the ionic strength of the search.
    polished : Polished, optional
        None where no formula was found that holds everything.
    proven : bool
        Whether no other structure is better.
    stopped : bool
        Whether the time was over before that was known.
    """

    program: Program = field(repr=False)
    polished: Polished | None = field(repr=False)
    proven: bool
    stopped: bool


def exact(stated: Program, clock: Clock = NO_LIMIT) -> Exact:
    """Find the best formula of a program that what-ifs are made of, solved at its own ionic strength.

    Parameters
    ----------
    stated : Program
    clock : Clock
        Once its time is over the search stops.
    """
    program, found, proven, stopped = stated, None, False, False
    for tries in (1, TRIES):
        screened = screen(stated, tries, clock=clock, arrays=True)
        program = screened.program
        for item in screened.ranking(tries):
            if not isinstance(item, Candidate):
                stopped = item.status == "stopped"
                break
            found, proven = polish(program, item.values), item.proven
            if found is not None:
                break
        if found is not None or stopped or not screened.first.found:
            break
    return Exact(program, found, proven, stopped)
