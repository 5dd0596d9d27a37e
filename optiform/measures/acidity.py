"""pH of a formula, as a measure whose window is two exact linear rows.

At a fixed pH every material carries a constant charge per gram, and the total falls strictly as pH
rises. So pH(x) is inside [low, high] if and only if Q(low; x) >= 0 >= Q(high; x).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from optiform.bounds import PH_DECIMALS
from optiform.chemistry import Acidity as Settled
from optiform.chemistry import (
    ChargeTable,
    Mixture,
    NoWaterError,
    OffScaleError,
    OutsideCurveError,
    Titratable,
    TitrationCurve,
    pH_of,
    titration,
    water_charge_per_gram,
    water_charge_slope,
)
from optiform.library.cached_per_library import cached_per_library
from optiform.library.models import Library, Substance, Trust
from optiform.measures.measure import Measure, Row, Side
from optiform.measures.parts import substance_flags
from optiform.vectors import Flags, Floats

LOWEST_PH, HIGHEST_PH = 0.0, 14.0
BUFFER_CAPACITY = "buffer capacity"
BESIDE = 0.02
"""How far to each side of a measured pH its buffer capacity is taken."""
REMEMBERED = 256
"""Formulas whose pH is kept at hand."""


@dataclass(frozen=True, eq=False)
class ChargeCurves:
    """The charge that each material of a library brings, as a function of pH.

    Attributes
    ----------
    unknown : ndarray of bool, shape (n,)
        Materials with a substance of unknown acid-base behaviour, no titration curve and nothing declared in its
        place; they count as neutral here and are named wherever that matters.
    """

    library: Library = field(repr=False)
    table: ChargeTable = field(repr=False)
    aqua: Floats = field(repr=False)
    free_alkali: Floats = field(repr=False)
    surfactant: Flags = field(repr=False)
    curves: tuple[tuple[int, TitrationCurve], ...] = field(repr=False)
    unknown: Flags = field(repr=False)
    _settled: dict[bytes, Settled | None] = field(default_factory=dict, repr=False)

    def at(self, pH: float, ionic_strength: float) -> Floats:
        """Return the charge of each material, shape (n,)  [meq per g of material].

        A titration curve takes the place of the computed charge; outside what was titrated its
        end value stands, and `outside` names the material.
        """
        charge = self.library.arrays.per_material(self.table.at(pH, ionic_strength)) + self.free_alkali
        for index, curve in self.curves:
            charge[index] = curve.charge_at(min(max(pH, curve.pH[0]), curve.pH[-1])) / 1000.0
        return charge + self.aqua * water_charge_per_gram(pH, ionic_strength)

    def slope(self, pH: float, ionic_strength: float) -> Floats:
        """Return d(charge)/d(pH) of each material, shape (n,)  [meq/g per pH unit]."""
        slope = self.library.arrays.per_material(self.table.slope(pH, ionic_strength))
        for index, curve in self.curves:
            slope[index] = curve.slope_at(pH) / 1000.0 if curve.covers(pH) else 0.0
        return slope + self.aqua * water_charge_slope(pH, ionic_strength)

    def settle(self, amounts: Floats) -> Settled | None:
        """Return the pH of a formula by the full non-linear balance, with its ionic strength.

        None where no pH can be told: no water, off the scale, or outside a titration curve. `amounts` has shape (n,)
        [% w/w].
        """
        key = amounts.tobytes()
        if key not in self._settled:
            if len(self._settled) >= REMEMBERED:
                self._settled.clear()
            mixture, table = self._mixture(amounts)
            try:
                self._settled[key] = pH_of(mixture, table)
            except (NoWaterError, OffScaleError, OutsideCurveError):
                self._settled[key] = None
        return self._settled[key]

    def strength_gradient(self, amounts: Floats) -> Floats:
        """Return how fast the ionic strength of a formula changes with each amount, shape (n,)  [mol/kg per % w/w].

        Its pH is held, and so is what a gram of each substance adds; free H+ and OH- are left out. All zero where no pH
        can be told.

        `amounts` has shape (n,)  [% w/w].
        """
        settled = self.settle(amounts)
        if settled is None:
            return np.zeros(len(amounts))
        pH, strength, arrays = settled.pH, settled.ionic_strength, self.library.arrays
        free = arrays.per_material(self.table.ionic_terms(pH, strength))
        micellar = arrays.per_material(self.table.ionic_terms(pH, strength, self.has_class))
        alkali = 0.5 * np.sign(float(self.free_alkali @ amounts)) * self.free_alkali / 1000.0
        ions = 1000.0 * (np.where(self.surfactant, micellar, free) + alkali)
        return np.asarray((ions - strength * self.aqua) / float(self.aqua @ amounts))

    def unexplained(self, amounts: Floats, pH: float) -> tuple[float, float] | None:
        """Return the charge that a measured pH leaves unexplained, and the buffer capacity there.

        In meq per 100 g, and mmol per 100 g and pH; None without water, or where a titration curve does not reach.
        `amounts` has shape (n,)  [% w/w].
        """
        mixture, table = self._mixture(amounts)
        try:
            here, above, below = titration(mixture, table, (pH, pH + BESIDE, pH - BESIDE)) / 10.0
        except (NoWaterError, OutsideCurveError):
            return None
        return -float(here), float(below - above) / (2.0 * BESIDE)

    def outside(self, *pHs: float | None) -> Flags:
        """Flag materials whose titration curve does not reach one of the pH values, shape (n,)."""
        flags = np.zeros(len(self.unknown), dtype=bool)
        for index, curve in self.curves:
            flags[index] = any(pH is not None and not curve.covers(pH) for pH in pHs)
        return flags

    def _mixture(self, amounts: Floats) -> tuple[Mixture, ChargeTable]:
        """Return what is dissolved, over the substances that the formula holds."""
        arrays = self.library.arrays
        titrated = np.zeros(len(amounts), dtype=bool)
        titrated[[index for index, _ in self.curves]] = True
        inside = amounts * self.surfactant
        groups = [
            (
                arrays.substance_percent(np.where(titrated, 0.0, part)),
                arrays.substance_percent(np.where(titrated, part, 0.0)),
            )
            for part in (inside, amounts - inside)
        ]
        grams = np.concatenate([plain for plain, _ in groups])
        under = np.concatenate([beneath for _, beneath in groups])
        held = np.flatnonzero(grams + under > 0)
        micellar = np.concatenate([self.has_class, np.zeros(len(arrays.substances), dtype=bool)])
        mixture = Mixture(
            grams=grams[held],
            water=float(self.aqua @ amounts),
            free_alkali=float(self.free_alkali @ np.where(titrated, 0.0, amounts)),
            surfactant=micellar[held],
            curves=tuple(
                (curve, float(amounts[index])) for index, curve in self.curves if amounts[index] > 0
            ),
            grams_under_curves=under[held],
        )
        return mixture, self.table.rows(held % len(arrays.substances))

    @property
    def has_class(self) -> Flags:
        """Flag the substances with a charge class, shape (m,)."""
        return self.library.arrays.substance_has_class()


@cached_per_library
def charge_curves(library: Library) -> ChargeCurves:
    """Build the charge curves of a library once."""
    arrays = library.arrays
    table = ChargeTable([_titratable(substance) for substance in library.substances])
    points: dict[str, list[tuple[float, float]]] = {}
    for point in library.titrations:
        points.setdefault(point.material, []).append((point.pH, point.acid_mmol_per_kg))
    curves = []
    for material, measured in points.items():
        measured.sort()
        curve = TitrationCurve(tuple(pH for pH, _ in measured), tuple(acid for _, acid in measured), material)
        curves.append((arrays.material_index[material], curve))
    unknown = arrays.has_substance(arrays.where_substances(lambda substance: not substance.charge_known))
    for index, _ in curves:
        unknown[index] = False
    unknown &= arrays.where(lambda material: material.acid_base is None)
    return ChargeCurves(
        library=library,
        table=table,
        aqua=arrays.per_material(substance_flags(library, "substance", "Aqua").astype(float)),
        free_alkali=arrays.over_materials(lambda material: material.free_alkali) / 1000.0,
        surfactant=arrays.is_function("surfactant"),
        curves=tuple(curves),
        unknown=unknown,
    )


def charge_stated(library: Library, material: str) -> bool:
    """Tell whether the acid-base behaviour of everything in a material is stated."""
    return all(
        library.substance[part.inci].charge_known
        for part in library.composition[material]
        if part.percent > 0
    )


def _titratable(substance: Substance) -> Titratable | None:
    """Return the acid-base data of a substance, or None where it is neutral or unknown."""
    if substance.inci == "Aqua" or not substance.charge_known:
        return None
    charged = bool(substance.pka) or bool(substance.charge_acid_form) or bool(substance.strong_charge)
    if not charged or substance.molar_mass is None:
        return None
    return Titratable(
        molar_mass=substance.molar_mass,
        pka=substance.pka,
        charge_acid_form=substance.charge_acid_form or 0.0,
        strong_charge=substance.strong_charge or 0.0,
        strong_ion_charge=substance.strong_ion_charge,
        effective=substance.pka_kind == "effective",
    )


@dataclass(frozen=True, eq=False)
class Acidity(Measure):
    """pH as a measure: its rows are charges, its value is the root of the full charge balance."""

    curves: ChargeCurves = field(kw_only=True, repr=False)
    ionic_strength: float = 0.1

    @property
    def bound_decimals(self) -> int:
        """Return how many decimals a computed bound on it deserves: what a meter shows."""
        return PH_DECIMALS

    def row(self, side: Side, bound: float) -> Row:
        """Return Q(bound) . x >= 0 for at_least, <= 0 for at_most  [meq per 100 g]."""
        return Row(self.curves.at(bound, self.ionic_strength), side, 0.0)

    def scale(self, amounts: Floats, bound: float | None = None) -> float:
        """Return the buffer capacity at the bound: what moves the row when the bound moves.

        In meq per 100 g per pH unit.
        """
        pH = bound if bound is not None else self.value(amounts)
        if pH is None:
            return 0.0
        return -float(self.curves.slope(pH, self.ionic_strength) @ amounts)

    def at_strength(self, ionic_strength: float) -> Acidity:
        """Return the measure with its charges at another ionic strength  [mol per kg of water]."""
        return replace(self, ionic_strength=ionic_strength)

    def value(self, amounts: Floats) -> float | None:
        """Return the pH of a formula by the full balance, or None where none can be told."""
        settled = self.curves.settle(amounts)
        return settled.pH if settled is not None else None

    def contributions(self, amounts: Floats) -> Floats:
        """Return each material's charge at the formula's pH, shape (n,)  [meq per 100 g]."""
        pH = self.value(amounts)
        return np.zeros_like(amounts) if pH is None else self.curves.at(pH, self.ionic_strength) * amounts


def acidity(library: Library, ionic_strength: float) -> Acidity:
    """Return the pH measure of a library at an ionic strength."""
    curves = charge_curves(library)
    return Acidity(
        name="pH",
        unit="",
        numerator=np.zeros(len(library.materials)),
        lowest=LOWEST_PH,
        highest=HIGHEST_PH,
        trust=Trust.ESTIMATE,
        digits=1,
        note="of a typical lot; its likely range stands beside it; confirm with a meter",
        curves=curves,
        ionic_strength=ionic_strength,
    )


@dataclass(frozen=True, eq=False)
class BufferCapacity(Measure):
    """How firmly a formula holds its pH: strong acid or base per unit of pH.

    In a pH window it is the mean over the window, (Q(low) - Q(high)) / (high - low): a sum over materials, exact for
    the charge curves given; in a window without width it is the slope there. Without a window it is the slope at the
    formula's own pH, which is no sum, so that it cannot be limited.
    """

    curves: ChargeCurves = field(kw_only=True, repr=False)
    windowed: bool = True

    def value(self, amounts: Floats) -> float | None:
        """Return the buffer capacity of a formula, or None where no pH can be told."""
        if self.windowed:
            return super().value(amounts)
        settled = self.curves.settle(amounts)
        return None if settled is None else settled.buffer_capacity

    def contributions(self, amounts: Floats) -> Floats:
        """Return each material's part, shape (n,)."""
        settled = None if self.windowed else self.curves.settle(amounts)
        if settled is None:
            return super().contributions(amounts)
        return -self.curves.slope(settled.pH, settled.ionic_strength) * amounts


def buffer_capacity(
    library: Library, low: float | None, high: float | None, ionic_strength: float
) -> BufferCapacity:
    """Return the buffer capacity of a library's materials in a pH window; a missing end is no window."""
    curves = charge_curves(library)
    if low is None or high is None:
        numerator = np.zeros(len(library.materials))
    elif low < high:
        numerator = (curves.at(low, ionic_strength) - curves.at(high, ionic_strength)) / (high - low)
    else:
        numerator = -curves.slope(low, ionic_strength)
    return BufferCapacity(
        name=BUFFER_CAPACITY,
        unit="mmol per 100 g and pH",
        numerator=numerator,
        better="higher",
        lowest=0.0,
        trust=Trust.ESTIMATE,
        digits=2,
        note="mean over the brief's pH window; without one, the slope at the formula's own pH, which no limit takes",
        curves=curves,
        windowed=low is not None and high is not None,
        retaken=lambda strength: buffer_capacity(library, low, high, strength),
    )
