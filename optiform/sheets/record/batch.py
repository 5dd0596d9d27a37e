"""Rounds a formula to grams on the grid of one balance that add up to the batch exactly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_EVEN, Decimal

from optiform.library.models import Frozen, Function, Library, Material, Phase, phases_of
from optiform.tolerances import ROUNDING

ORDER: tuple[Phase, ...] = ("water", "gum", "oil", "surfactant", "cool", "adjust")
BY_FUNCTION: dict[str, Phase] = {
    "thickener": "gum", "oil": "oil", "emulsifier": "oil", "surfactant": "surfactant", "acid": "adjust",
    "base": "adjust", "salt": "adjust", "solubiliser": "cool", "conditioner": "cool", "extract": "cool",
    "hydrosol": "cool", "preservative": "cool", "opacifier": "cool", "colourant": "cool", "fragrance": "cool",
}  # fmt: skip
HAZARDS = ("dust", "corrosive", "eye-damage")
SHARED_BASE = "shared-base"
"""Under this id a base that was made before stands in the batch of a product that is finished from it."""


class Weighing(Frozen):
    """One material of a batch.

    Attributes
    ----------
    percent : float  [% w/w]
        What the formula states.
    grams : float  [g]
        What is weighed: a whole number of balance steps.
    weighed_percent : float  [% w/w]
        What that amounts to in this batch.
    too_light : bool
        Less than this balance can weigh within the error allowed.
    hazards : tuple of str
        dust, corrosive, eye-damage: from the material's handling words.
    """

    material: str
    name: str
    function: Function
    phase: Phase
    percent: float
    grams: float
    weighed_percent: float
    too_light: bool = False
    hazards: tuple[str, ...] = ()


class Batch(Frozen):
    """A batch on one balance.

    Attributes
    ----------
    batch_g, balance_g, error_percent : float
        Size, readability of the balance, weighing error allowed [%].
    least_g : float  [g]
        The lightest amount that keeps the error: half a balance step over the error.
    by_difference : str
        The material that takes up what rounding leaves: water where there is any.
    lines : tuple of Weighing
        In working order.
    total_g : float  [g]
        Sum of the grams.
    digits : int
        Decimals that this balance shows.
    """

    batch_g: float
    balance_g: float
    error_percent: float
    least_g: float
    by_difference: str
    lines: tuple[Weighing, ...]
    total_g: float
    digits: int
    notes: tuple[str, ...] = ()

    def line(self, material: str) -> Weighing:
        """Return the line of a material.

        Raises
        ------
        KeyError
            If the batch does not hold it.
        """
        return {line.material: line for line in self.lines}[material]


def weigh(
    lines: Sequence[tuple[str, float]],
    library: Library,
    batch_g: float,
    balance_g: float = 0.01,
    *,
    error_percent: float = 2.0,
    grams: Mapping[str, float] | None = None,
    notes: Sequence[str] = (),
) -> Batch:
    """Return the grams of a batch: each amount on the balance's grid, water by difference.

    Parameters
    ----------
    lines : sequence of (str, float)
        Material id and % w/w; together 100 within 0.005.
    batch_g, balance_g : float  [g]
        Size of the batch, readability of the balance.
    error_percent : float  [%]
        Error allowed in one weighing; lighter amounts are flagged.
    grams : mapping of str to float, optional  [g]
        Amounts already chosen for this batch and balance; taken as they are.

    Notes
    -----
    Each amount is rounded to the nearest step by itself; water takes what is left, without water the
    largest line does. Rounding by itself does not check the brief again.
    """
    step = Decimal(repr(balance_g))
    whole = _steps(Decimal(repr(batch_g)), step)
    amounts = {name: percent for name, percent in lines if percent > 0}
    largest = max(amounts, key=lambda name: amounts[name])
    by_difference = library.water.id if library.water.id in amounts else largest
    if grams is not None:
        counts = {name: _steps(Decimal(repr(grams.get(name, 0.0))), step) for name in amounts}
    else:
        counts = _rounded(amounts, batch_g, step)
        rest = whole - sum(counts.values())
        by_difference = by_difference if counts[by_difference] + rest >= 0 else largest
        counts[by_difference] += rest
    least = (balance_g / 2.0) / (error_percent / 100.0)
    phases = phases_of(library.material[name] for name in counts)
    weighings = (
        _weighing(library.material[name], phases[name], amounts[name], float(count * step), batch_g, least)
        for name, count in counts.items()
    )
    found = sorted(weighings, key=lambda line: (ORDER.index(line.phase), -line.grams, line.material))
    return Batch(
        batch_g=batch_g,
        balance_g=balance_g,
        error_percent=error_percent,
        least_g=least,
        by_difference=by_difference,
        lines=tuple(found),
        total_g=float(sum(counts.values()) * step),
        digits=max(0, -int(step.normalize().as_tuple().exponent)),
        notes=(*notes, *_notes(found, by_difference, least, float(whole * step), batch_g, grams is None)),
    )


def _rounded(amounts: Mapping[str, float], batch_g: float, step: Decimal) -> dict[str, int]:
    """Return each amount in whole steps of the balance, rounded by itself."""
    total = sum(amounts.values())
    return {
        name: _steps(Decimal(repr(batch_g)) * Decimal(repr(percent)) / Decimal(repr(total)), step)
        for name, percent in amounts.items()
    }


def on_grid(grams: float, balance_g: float) -> float:
    """Return an amount rounded to the steps of a balance."""
    step = Decimal(repr(balance_g))
    return float(_steps(Decimal(repr(grams)), step) * step)


def _steps(grams: Decimal, step: Decimal) -> int:
    return int((grams / step).quantize(Decimal(1), rounding=ROUND_HALF_EVEN))


def _weighing(
    material: Material, phase: Phase | None, percent: float, grams: float, batch_g: float, least: float
) -> Weighing:
    return Weighing(
        material=material.id,
        name=material.name,
        function=material.function,
        phase=phase or BY_FUNCTION.get(material.function, "water"),
        percent=percent,
        grams=grams,
        weighed_percent=100.0 * grams / batch_g,
        too_light=grams < least * (1.0 - ROUNDING),
        hazards=hazards_of(material),
    )


def hazards_of(material: Material) -> tuple[str, ...]:
    """Return the handling words of a material that warn of injury."""
    return tuple(word for word in HAZARDS if word in material.handling)


def _notes(
    lines: Sequence[Weighing],
    by_difference: str,
    least: float,
    reached: float,
    batch_g: float,
    rounded: bool,
) -> tuple[str, ...]:
    """Return the notes below the weighing table."""
    notes = []
    names = {line.material: line.name for line in lines}
    if rounded:
        notes.append(
            f"Each amount is rounded to the balance by itself; {names[by_difference]} takes up the difference. "
            "Rounding does not check the wishes of a brief again."
        )
    if abs(reached - batch_g) > ROUNDING * batch_g:
        notes.append(f"The balance cannot show {batch_g:g} g; the batch is {reached:.10g} g.")
    light = [line.name for line in lines if line.too_light]
    if light:
        notes.append(
            f"Too light for this balance ({least:.10g} g is the least that keeps the error): {', '.join(light)}. "
            "Use a finer balance, a larger batch, or a stock solution of it in water."
        )
    return tuple(notes)
