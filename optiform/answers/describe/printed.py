"""Rounds amounts for printing so that they add up to 100 and still hold every requirement."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from optiform.program import breaks
from optiform.tolerances import ROUNDING

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from optiform.program import Program
    from optiform.vectors import Floats

    Counts = NDArray[np.int64]

PLACES = 2
"""Decimals of an amount of 0.1 % and more; smaller ones have one more, and never fewer than two digits."""
SMALL = 0.0995
FURTHER = 2
"""So many decimals more are tried before the nearest figures are printed as they are."""
NEAR = 2.0
"""A figure is at most so many units of its last decimal from the exact amount."""
TURNS = 40


@dataclass(frozen=True)
class Printed:
    """Amounts as they stand on a screen, and with how many decimals, by the position of the material [% w/w]."""

    amounts: dict[int, float]
    places: dict[int, int]


def printed(program: Program, values: Floats) -> Printed:
    """Return the amounts of a formula with few decimals, which hold what the exact ones hold.

    Parameters
    ----------
    values : ndarray, shape (columns,)
        A formula that breaks nothing.

    Notes
    -----
    Every amount is rounded, water (or the largest amount) makes up 100; then figures move by one
    unit of their last decimal, one or two of them at a time, while that mends the rows that suffer.
    Where no such figures are found all get one decimal more. An equality that no decimals meet
    leaves the nearest.
    """
    rounding = _Rounding(program, values)
    for further in range(FURTHER + 1):
        found = rounding.tried(further)
        if found is not None:
            return found
    return rounding.nearest()


class _Rounding:
    """The rows that a formula's amounts touch, as one amount moves and the rest to 100 follows."""

    def __init__(self, program: Program, values: Floats) -> None:
        self.program, self.values = program, values
        amounts = values[: program.size]
        held = np.flatnonzero(amounts > 0)
        water = program.library.arrays.material_index[program.library.water.id]
        self.rest = water if water in held else int(held[np.argmax(amounts[held])])
        self.others = held[held != self.rest]
        self.exact = amounts[self.others]
        form = program.form
        place = np.full(form.columns, -1)
        place[self.others] = np.arange(len(self.others))
        place[self.rest] = len(self.others)
        inside = place[form.indices] >= 0
        rows = np.zeros((form.rows, len(self.others) + 1))
        np.add.at(rows, (form.owner[inside], place[form.indices[inside]]), form.values[inside])
        effect = rows[:, :-1] - rows[:, -1:]
        touched = np.flatnonzero(np.abs(effect).sum(axis=1) > ROUNDING)
        self.effect = effect[touched]
        activity = form.activity(values)[touched]
        self.below, self.above = activity - form.row_lower[touched], form.row_upper[touched] - activity

    def places(self) -> Counts:
        """Return the fewest decimals of each amount but the one that makes up 100."""
        digits = [
            PLACES if x >= SMALL else max(PLACES + 1, 1 - math.floor(math.log10(x))) for x in self.exact
        ]
        return np.array(digits, dtype=np.int64)

    def tried(self, further: int) -> Printed | None:
        """Return figures with so many decimals more that hold everything; None where none were found."""
        places = self.places() + further
        step = 10.0 ** -places.astype(float)
        moves = self._moves(step)
        bends = self.effect @ moves
        scale = np.maximum(np.abs(self.effect) @ step, ROUNDING)
        shift = np.round(self.exact / step) * step - self.exact
        off = self._off(self.effect @ shift[:, None], scale)[0]
        for _ in range(TURNS):
            if off == 0.0:
                return self._verified(self.exact + shift, places)
            further_off = self._off((self.effect @ shift)[:, None] + bends, scale)
            far = np.any(np.abs(shift[:, None] + moves) > NEAR * step[:, None], axis=0)
            further_off[far] = np.inf
            best = int(np.argmin(further_off)) if len(further_off) else 0
            if not len(further_off) or further_off[best] >= off - ROUNDING:
                return None
            off, shift = further_off[best], shift + moves[:, best]
        return None

    def _moves(self, step: Floats) -> Floats:
        """Return every move of one or two amounts by one unit each, shape (amounts, moves)."""
        count = len(step)
        singles = [((place, sign),) for place in range(count) for sign in (1.0, -1.0)]
        pairs = [(a, b) for (a,) in singles for (b,) in singles if a[0] < b[0]]
        moves = np.zeros((count, len(singles) + len(pairs)))
        for column, move in enumerate((*singles, *pairs)):
            for place, sign in move:
                moves[place, column] = sign * step[place]
        return moves

    def _off(self, bent: Floats, scale: Floats) -> Floats:
        """Return by how much rows are off after moves, in parts of what rounding can do to each, shape (moves,)."""
        over = np.maximum(-self.below[:, None] - bent, bent - self.above[:, None])
        return np.asarray(np.sum(np.where(over > ROUNDING, over / scale[:, None], 0.0), axis=0))

    def _verified(self, figures: Floats, places: Counts) -> Printed | None:
        found = self._told(figures, places)
        whole = self.values.copy()
        for position, amount in found.amounts.items():
            whole[position] = amount
        return None if min(found.amounts.values()) < 0 or breaks(self.program, whole) else found

    def nearest(self) -> Printed:
        """Return the nearest figures with few decimals, whatever they break by less than their rounding."""
        return self._told(self.exact, self.places())

    def _told(self, figures: Floats, places: Counts) -> Printed:
        last = int(max(places, default=PLACES))
        amounts = {
            int(i): round(float(x), int(n)) for i, x, n in zip(self.others, figures, places, strict=True)
        }
        total = sum(round(x * 10**last) for x in amounts.values())
        digits = {int(i): int(n) for i, n in zip(self.others, places, strict=True)}
        return Printed(
            {**amounts, self.rest: (100 * 10**last - total) / 10**last}, {**digits, self.rest: last}
        )
