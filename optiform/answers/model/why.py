"""Holds why a material is, or is not, in the best formula."""

from __future__ import annotations

from dataclasses import dataclass

from optiform.answers.model.formula import Line
from optiform.program import Requirement


@dataclass(frozen=True)
class Takeover:
    """The formula that takes over at a price, and what it does differently.

    Attributes
    ----------
    price : float  [currency/kg]
        Of the material in question.
    aim : float
        What both formulas come to at that price.
    """

    price: float
    aim: float
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Why:
    """Why a material is, or is not, in the best formula, and what its price has to do with it.

    Attributes
    ----------
    price : float  [currency/kg]
        What it costs now.
    percent : float  [% w/w]
        How much of it the best formula holds; 0 when it is left out.
    best : float  [aim]
        What the best formula comes to.
    forced : float, optional  [aim]
        What the best formula with it (or, for a material that is in, without it) comes to.
    lines : tuple of Line
        That formula.
    kept_out : tuple of Requirement
        What cannot hold together with its use (or, for a material that is in, with its absence).
    below, above : Takeover, optional
        The prices at which another formula takes over; absent where none does down to 0, or however dear.
    finished : bool
        Whether all of this was looked for to the end; if not, what is absent is not known.
    """

    material: str
    price: float
    currency: str
    percent: float
    best: float
    forced: float | None = None
    lines: tuple[Line, ...] = ()
    kept_out: tuple[Requirement, ...] = ()
    below: Takeover | None = None
    above: Takeover | None = None
    finished: bool = True
