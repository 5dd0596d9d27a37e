"""Tells which charge, and so which pH, a formula has over its likely lots.

What a lot may differ in: free alkali, pKa, composition within the supplier's specification, and, where a material was
titrated, that reading. The sources are taken as independent of each other; a pKa is one source for all materials
that hold the substance. At each pH the charge of the formula is a sum over the sources, so its quantiles are known
there (`optiform.chemistry.spread`), and because the charge of every lot falls as pH rises, the pH below which 5 % of
lots lie is the one at which the 5th percentile of the charge is zero. Nothing is made straight in pH: a poorly
buffered wash has a long tail, and gets one.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from optiform.chemistry import ChargeTable, TitrationCurve, held, water_charge_per_gram
from optiform.chemistry.activity import INTERACTION_SPREAD
from optiform.chemistry.roots import falling_root
from optiform.chemistry.spread import quantile, variances
from optiform.library.cached_per_library import cached_per_library
from optiform.library.likely import alkali_range, pka_spread
from optiform.library.models import Library
from optiform.measures.acidity import HIGHEST_PH, LOWEST_PH, charge_curves
from optiform.program.windows import Windows, windows_of
from optiform.tolerances import TOLERANCE
from optiform.vectors import Floats, Indices

TITRATED_PART, TITRATED_LEAST = 0.05, 2.0
"""A titration of one's own: 5 % of the acid read, at least 2 mmol/kg (middle 90 %, either way)."""


@dataclass(frozen=True, eq=False)
class LikelyLots:
    """One formula over its likely lots.

    Attributes
    ----------
    strength : float  [mol/kg water]
        At which charges are taken: that of the typical lot.
    grams : ndarray, shape (h,)  [g per 100 g]
        Of each substance held outside titrated materials.
    table : ChargeTable
        Those substances, then the `shifted` ones at their lowest likely pKa, then at their highest.
    shifted : ndarray of int, shape (k,)
        Positions among the h substances of those whose pKa may be off.
    alkali, alkali_below, alkali_above : ndarray, shape (u,)  [meq per 100 g]
        Of each material used, and how far its 5th and 95th percentile lie from that.
    parts : ndarray of int, shape (c,)
        Positions among the h substances of the parts that a specification lets vary.
    parts_below, parts_above : ndarray, shape (c,)  [g per 100 g]
    balances : ndarray of int, shape (c,)
        The part that makes up for each; -1 for water and for what carries no charge.
    curves : tuple of (TitrationCurve, float)
        Titrated materials with their grams per 100 g.
    owners : ndarray, shape (sources, u)
        Which part of each source each material brings.
    """

    materials: tuple[str, ...]
    strength: float
    water: float
    grams: Floats = field(repr=False)
    table: ChargeTable = field(repr=False)
    shifted: Indices = field(repr=False)
    alkali: Floats = field(repr=False)
    alkali_below: Floats = field(repr=False)
    alkali_above: Floats = field(repr=False)
    parts: Indices = field(repr=False)
    parts_below: Floats = field(repr=False)
    parts_above: Floats = field(repr=False)
    balances: Indices = field(repr=False)
    curves: tuple[tuple[TitrationCurve, float], ...] = field(repr=False)
    owners: Floats = field(repr=False)

    def charge(self, pH: float, z: float) -> float:
        """Return a quantile of the charge at a pH  [meq per 100 g]; `z` is a standard normal value."""
        typical, below, above = self._sources(pH)
        return typical + quantile(below, above, z)

    def typical(self, pH: float) -> float:
        """Return the charge of the typical lot at a pH  [meq per 100 g]."""
        return self._sources(pH)[0]

    def pH(self, z: float) -> float:
        """Return a quantile of the pH, within 0 to 14 and within what was titrated."""
        low, high = self.range
        return falling_root(lambda pH: self.charge(pH, z), low, high, TOLERANCE)

    @cached_property
    def range(self) -> tuple[float, float]:
        """Return the lowest and highest pH at which every part of the formula has a charge."""
        low = max((curve.pH[0] for curve, _ in self.curves), default=LOWEST_PH)
        return max(low, LOWEST_PH), min(
            min((curve.pH[-1] for curve, _ in self.curves), default=HIGHEST_PH), HIGHEST_PH
        )

    def brought(self, pH: float) -> tuple[tuple[str, float], ...]:
        """Return which part of the variance of the charge each material brings, largest first, adding to 1."""
        _, below, above = self._sources(pH)
        parts = variances(below, above) @ self.owners
        whole = float(parts.sum())
        if whole <= 0.0:
            return ()
        found = [(name, float(part) / whole) for name, part in zip(self.materials, parts, strict=True)]
        return tuple(sorted((item for item in found if item[1] > 0), key=lambda item: (-item[1], item[0])))

    def _sources(self, pH: float) -> tuple[float, Floats, Floats]:
        """Return the typical charge and the distances of each source  [meq per 100 g]."""
        charges = self.table.at(pH, self.strength)
        size, moved = len(self.grams), len(self.shifted)
        typical, lowest, highest = np.split(charges, [size, size + moved])
        water = water_charge_per_gram(pH, self.strength)
        read = np.array([curve.charge_at(pH) * grams / 1000.0 for curve, grams in self.curves])
        least = np.array([TITRATED_LEAST * grams / 1000.0 for _, grams in self.curves])
        off = np.maximum(TITRATED_PART * np.abs(read), least)
        grams = self.grams[self.shifted]
        counts = typical[self.parts] - np.where(self.balances < 0, water, typical[self.balances])
        ends = (counts * self.parts_below, counts * self.parts_above)
        below = (
            self.alkali_below,
            grams * (typical[self.shifted] - lowest),
            np.maximum(ends[0], -ends[1]),
            off,
        )
        above = (
            self.alkali_above,
            grams * (highest - typical[self.shifted]),
            np.maximum(ends[1], -ends[0]),
            off,
        )
        whole = (
            float(self.grams @ typical) + float(self.alkali.sum()) + float(read.sum()) + self.water * water
        )
        return whole, np.concatenate(below), np.concatenate(above)


def likely_lots(library: Library, amounts: Floats, strength: float) -> LikelyLots:
    """Return a formula over its likely lots.

    Parameters
    ----------
    amounts : ndarray, shape (n,)  [% w/w]
    strength : float  [mol/kg water]
        Ionic strength of the typical lot.
    """
    arrays, curves, data = library.arrays, charge_curves(library), spread_data(library)
    titrated = {index: curve for index, curve in curves.curves if amounts[index] > 0}
    used = np.flatnonzero(amounts > 0)
    plain = amounts.copy()
    plain[list(titrated)] = 0.0
    percent = arrays.substance_percent(plain)
    present = np.flatnonzero((percent > 0) & curves.table.known)
    shifted = np.flatnonzero(data.pka[present] > 0)
    windowed = _windowed(data.windows, plain, present)
    place = {int(index): here for here, index in enumerate(used)}
    count = len(shifted)
    owners = np.zeros((len(used) + count + len(windowed) + len(titrated), len(used)))
    owners[: len(used), : len(used)] = np.eye(len(used))
    held_in = _held_in(library, plain, present[shifted])
    owners[len(used) : len(used) + count] = held_in[:, used]
    for row, (index, *_) in enumerate(windowed, len(used) + count):
        owners[row, place[index]] = 1.0
    for row, index in enumerate(titrated, len(used) + count + len(windowed)):
        owners[row, place[index]] = 1.0
    return LikelyLots(
        materials=tuple(library.materials[index].id for index in used),
        strength=strength,
        water=float(curves.aqua @ amounts),
        grams=percent[present],
        table=_tables(curves.table, data, present, shifted, strength),
        shifted=shifted,
        alkali=(curves.free_alkali * plain)[used],
        alkali_below=(data.alkali_below * plain)[used],
        alkali_above=(data.alkali_above * plain)[used],
        parts=np.array([item[1] for item in windowed], dtype=np.intp),
        balances=np.array([item[2] for item in windowed], dtype=np.intp),
        parts_below=np.array([item[3] for item in windowed]),
        parts_above=np.array([item[4] for item in windowed]),
        curves=tuple((curve, float(amounts[index])) for index, curve in titrated.items()),
        owners=owners,
    )


@dataclass(frozen=True, eq=False)
class SpreadData:
    """How far the charge data of a library may be off, where stated or by trust.

    Attributes
    ----------
    alkali_below, alkali_above : ndarray, shape (n,)  [meq per g of material]
    pka : ndarray, shape (m,)
        Either way; 0 for what has no pKa.
    thermodynamic : ndarray of bool, shape (m,)
    windows : Windows, optional
        What the specifications let vary.
    """

    alkali_below: Floats = field(repr=False)
    alkali_above: Floats = field(repr=False)
    pka: Floats = field(repr=False)
    thermodynamic: Floats = field(repr=False)
    windows: Windows | None = field(repr=False)


@cached_per_library
def spread_data(library: Library) -> SpreadData:
    """Gather the spread of a library's charge data once."""
    arrays = library.arrays
    ends = [alkali_range(library, material) for material in library.materials]
    typical = [material.free_alkali for material in library.materials]
    return SpreadData(
        alkali_below=np.array([at - low for at, (low, _) in zip(typical, ends, strict=True)]) / 1000.0,
        alkali_above=np.array([high - at for at, (_, high) in zip(typical, ends, strict=True)]) / 1000.0,
        pka=arrays.over_substances(lambda substance: pka_spread(library, substance)),
        thermodynamic=arrays.over_substances(lambda substance: substance.pka_kind == "thermodynamic"),
        windows=windows_of(library),
    )


def _tables(
    table: ChargeTable, data: SpreadData, present: Indices, shifted: Indices, strength: float
) -> ChargeTable:
    """Return the charges of substances at their typical pKa, then at the lowest and the highest likely ones."""
    substances = [table.substances[index] for index in present]
    ends = []
    for sign in (-1.0, 1.0):
        for here in shifted:
            one = substances[here]
            assert one is not None
            model = INTERACTION_SPREAD * held(strength) * data.thermodynamic[present[here]]
            off = sign * float(np.hypot(data.pka[present[here]], model))
            ends.append(replace(one, pka=tuple(pka + off for pka in one.pka)))
    return ChargeTable([*substances, *ends])


def _held_in(library: Library, amounts: Floats, substances: Indices) -> Floats:
    """Return which part of each substance each material brings, shape (substances, n)."""
    arrays = library.arrays
    place = np.full(len(arrays.substances), -1, dtype=np.intp)
    place[substances] = np.arange(len(substances))
    weights = arrays.fraction * amounts[arrays.part_material]
    counted = (place[arrays.part_substance] >= 0) & (weights > 0)
    found = np.zeros((len(substances), len(arrays.materials)))
    np.add.at(found, (place[arrays.part_substance[counted]], arrays.part_material[counted]), weights[counted])
    shares: Floats = found / found.sum(axis=1, keepdims=True)
    return shares


def _windowed(
    windows: Windows | None, amounts: Floats, present: Indices
) -> list[tuple[int, int, int, float, float]]:
    """Return the charged parts that vary: material, part, balance (-1 for water) and grams to either percentile.

    A part is drawn from a triangular distribution between the ends of its window with the typical percentage as
    its peak, as lots are drawn elsewhere.
    """
    if windows is None:
        return []
    library = windows.library
    place = {library.substances[index].inci: here for here, index in enumerate(present)}
    found = []
    for row, index in enumerate(windows.materials):
        material, amount = library.materials[index], float(amounts[index])
        if amount <= 0:
            continue
        parts = library.composition[material.id]
        balance = parts[int(windows.balance[row])].inci
        for column, part in enumerate(parts):
            low, typical, high = (
                float(end[row, column]) for end in (windows.low, windows.typical, windows.high)
            )
            if column == windows.balance[row] or high <= low or part.inci not in place:
                continue
            peak = min(max(typical, low), high)
            fifth = low + np.sqrt(0.05 * (high - low) * (peak - low))
            last = high - np.sqrt(0.05 * (high - low) * (high - peak))
            below, above = amount * max(typical - fifth, 0.0), amount * max(last - typical, 0.0)
            found.append((int(index), place[part.inci], place.get(balance, -1), below, above))
    return found
