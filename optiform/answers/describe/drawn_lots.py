"""Counts in how many lots, drawn at random within specifications, each limit holds for a formula."""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np

from optiform.answers.model.answer import Acidity
from optiform.brief.models import Brief
from optiform.measures.acidity import charge_curves
from optiform.program import Move, Program, Requirement, build, complete
from optiform.program.rows.certainty_rows import WorstCase
from optiform.program.rows.moves import MeasureMove, WhenMove
from optiform.program.windows import Windows, windows_of
from optiform.tolerances import NOISE, TOLERANCE
from optiform.vectors import Flags, Floats

DRAWN = 10_000
SETTERS = ("acid", "base")


@dataclass(frozen=True)
class LotsHeld:
    """One limit over the lots.

    Attributes
    ----------
    value : float, optional
        At the typical composition.
    low, high : float, optional
        The least and the largest value that any lots within the specifications give, exact.
    held : int
        In how many of the drawn lots the limit holds.
    """

    requirement: Requirement
    value: float | None
    low: float | None
    high: float | None
    held: int


@dataclass(frozen=True)
class DoseOverLots:
    """How much of the acid or base that sets the pH the drawn lots need, least and most  [% w/w]."""

    material: str
    low: float
    high: float
    within_use: bool


@dataclass(frozen=True)
class LotsDrawn:
    """A formula over the lots of its materials.

    Attributes
    ----------
    drawn, seed : int
        How many lots were drawn, and from which seed.
    materials : tuple of str
        The materials of the formula whose composition varies.
    limits : tuple of LotsHeld
        The limits that depend on the lot, the least often held first.
    all_held : int
        In how many lots all of them hold together.
    doses : tuple of DoseOverLots
        Where acid or base sets the pH: what keeps it where it is, whatever the lot.
    open_ended : tuple of str
        Materials of which a specification names one end of a window only.

    Notes
    -----
    Each part with a window is drawn from a triangular distribution between its ends with the typical
    percentage as its peak, the parts independent of each other and of other materials; the balance
    makes up the total, and a lot in which it could not is drawn back towards the typical composition
    until it can. Real lots are neither triangular nor independent: the counts compare formulas.
    """

    drawn: int
    seed: int
    materials: tuple[str, ...]
    limits: tuple[LotsHeld, ...]
    all_held: int
    doses: tuple[DoseOverLots, ...] = ()
    open_ended: tuple[str, ...] = ()

    @property
    def share(self) -> float:
        """Return the share of lots in which every limit holds, 0 to 1."""
        return self.all_held / self.drawn


def draw(windows: Windows, count: int, seed: int) -> Floats:
    """Draw lots of every material that varies.

    Parameters
    ----------
    count, seed : int
        A material's lots depend on the seed and on its id alone.

    Returns
    -------
    ndarray, shape (count, w, s)  [g per g of material]
    """
    lots = np.repeat(windows.typical[None], count, axis=0)
    for place, index in enumerate(windows.materials):
        name = windows.library.materials[index].id
        generator = np.random.default_rng([abs(seed), int(seed < 0), zlib.crc32(name.encode())])
        low, typical, high = windows.low[place], windows.typical[place], windows.high[place]
        balance = int(windows.balance[place])
        lot = lots[:, place, :]
        for part in np.flatnonzero(high > low):
            if part != balance:
                peak = min(max(typical[part], low[part]), high[part])
                lot[:, part] = generator.triangular(low[part], peak, high[part], count)
        lot[:, balance] = 1.0 - (lot.sum(axis=1) - lot[:, balance])
        lots[:, place, :] = _drawn_back(lot, typical, low[balance], high[balance], balance)
    return lots


def _drawn_back(lot: Floats, typical: Floats, low: float, high: float, balance: int) -> Floats:
    """Return lots moved towards the typical composition where the balance is outside its window."""
    away = lot[:, balance] - typical[balance]
    room = np.where(away > 0, high - typical[balance], typical[balance] - low)
    with np.errstate(divide="ignore", invalid="ignore"):
        kept = np.where(np.abs(away) > room, room / np.abs(away), 1.0)
    moved: Floats = typical + kept[:, None] * (lot - typical)
    return moved


def lots_drawn(
    brief: Brief,
    amounts: Floats,
    *,
    seed: int | None = None,
    acidity: Acidity | None = None,
) -> LotsDrawn | None:
    """Count in how many lots each limit of a brief holds for a formula.

    Parameters
    ----------
    amounts : ndarray, shape (n,)  [% w/w]
    seed : int, optional
        Absent: that of the brief's certainty, else 1.
    acidity : Acidity, optional
        The pH of the formula where acid or base sets it; gives the doses.

    Returns
    -------
    LotsDrawn or None
        None where no composition in the formula varies.
    """
    library = brief.library
    used = {library.materials[i].id for i in np.flatnonzero(amounts > 0)}
    windows = windows_of(library, used)
    if windows is None:
        return None
    if seed is None:
        seed = brief.certainty.seed if brief.certainty is not None else 1
    program = build(brief.model_copy(update={"certainty": None}), watched=windows)
    lots = draw(windows, DRAWN, seed)
    limits, together = _counted(program, amounts, lots)
    return LotsDrawn(
        drawn=DRAWN,
        seed=seed,
        materials=tuple(library.materials[i].id for i in windows.materials),
        limits=tuple(sorted(limits, key=lambda limit: limit.held)),
        all_held=int(together.sum()),
        doses=_doses(windows, amounts, lots, acidity),
        open_ended=windows.open_ended,
    )


def _counted(program: Program, amounts: Floats, lots: Floats) -> tuple[list[LotsHeld], Flags]:
    """Return every limit that depends on the lot, and in which lots all of them hold."""
    values = complete(program, amounts)
    together = np.ones(len(lots), dtype=bool)
    found = []
    for index, moves in program.moves.items():
        bounds = [(move, measure) for _, move in moves if (measure := _watched(move, values)) is not None]
        requirement = program.requirements[index]
        if not bounds or requirement.bound is None:
            continue
        holds = np.ones(len(lots), dtype=bool)
        for move, measure in bounds:
            holds &= _holds(measure, move.side, requirement.bound, amounts, lots)
        limit = _limit(requirement, [measure for _, measure in bounds], amounts, int(holds.sum()))
        if limit.low != limit.high:
            together &= holds
            found.append(limit)
    return found, together


def _watched(move: Move, values: Floats) -> WorstCase | None:
    """Return the measure behind a row, where it depends on the lot and the row asks for something."""
    if isinstance(move, WhenMove) and not move.taken(values):
        return None
    if not isinstance(move, (MeasureMove, WhenMove)) or not isinstance(move.measure, WorstCase):
        return None
    return move.measure


def _holds(measure: WorstCase, side: str, bound: float, amounts: Floats, lots: Floats) -> Flags:
    """Tell for each lot whether a bound holds; where a mean has nothing to be a mean of, it does."""
    top, bottom = measure.over(amounts, lots)
    defined = bottom > 0
    value = measure.offset + np.divide(top, bottom, out=np.zeros_like(top), where=defined)
    met = value >= bound - TOLERANCE if side == "at_least" else value <= bound + TOLERANCE
    return np.asarray(met | ~defined, dtype=bool)


def _limit(requirement: Requirement, measures: list[WorstCase], amounts: Floats, held: int) -> LotsHeld:
    """Return one limit; of several measures under one limit, that which comes nearest to breaking it."""
    bound = requirement.bound or 0.0
    sign = -1.0 if requirement.side == "at_most" else 1.0

    def room(measure: WorstCase) -> float:
        end = measure.furthest(amounts, least=sign > 0)
        return np.inf if end is None else sign * (end - bound)

    nearest = min(measures, key=room)
    value = nearest.value(amounts)
    low, high = (nearest.furthest(amounts, least=least) for least in (True, False))
    if value is None or low is None or high is None or high - low <= NOISE * max(1.0, abs(value)):
        low = high = value
    return LotsHeld(requirement, value, low, high, held)


def _doses(
    windows: Windows, amounts: Floats, lots: Floats, acidity: Acidity | None
) -> tuple[DoseOverLots, ...]:
    """Return what the drawn lots need of the one acid or base that sets the pH, water making room."""
    library = windows.library
    setters = [i for i in np.flatnonzero(amounts > 0) if library.materials[i].function in SETTERS]
    if acidity is None or not acidity.doses or len(setters) != 1:
        return ()
    setter, water = int(setters[0]), library.arrays.material_index[library.water.id]
    typical = charge_curves(library).at(acidity.pH, acidity.ionic_strength)
    parts = [charge_curves(pure).at(acidity.pH, acidity.ionic_strength) for pure in windows.pure]
    counts = np.array([part[windows.materials] for part in parts]).T
    rest = amounts.copy()
    rest[windows.materials] = 0.0
    charge = float(typical @ rest) + np.einsum("lws,ws,w->l", lots, counts, amounts[windows.materials])
    doses = amounts[setter] - charge / (typical[setter] - typical[water])
    low, high = float(doses.min()), float(doses.max())
    within = low >= 0 and high <= library.materials[setter].max_use
    return (DoseOverLots(library.materials[setter].id, max(low, 0.0), high, within),)
