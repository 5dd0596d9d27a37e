"""Makes the batch record of a shared base, and of each product that is finished from it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from optiform.answers.evaluate.judging import Judge
from optiform.answers.evaluate.typed_formula import evaluate
from optiform.answers.model.answer import Acidity, Dose, Formula
from optiform.bounds import window_text
from optiform.brief.models import Brief, Weighing
from optiform.library.formulas import TypedFormula
from optiform.library.models import Library, Material
from optiform.library.preserving import system_in
from optiform.library.working_range import pH_range
from optiform.mappings import FrozenDict
from optiform.sheets.cautions import cautions_of
from optiform.sheets.record.batch import SHARED_BASE, Batch, on_grid, weigh
from optiform.sheets.record.batch_record import Blank, Part, in_process, record_of
from optiform.sheets.record.procedure import procedure_of
from optiform.sheets.record.steps import DISSOLVING, Procedure, coolest, wetting_of
from optiform.sheets.sheet import Sheet
from optiform.tolerances import TOLERANCE
from optiform.vectors import Floats

SWELLING = 50.0
"""So many times its weight of water lets a gum swell, a 2 % stock; common practice, no source."""
BALANCE_G = 0.01
NEAREST = "Each amount is rounded to the balance by itself; {} takes up the difference."
STOPS_SHORT = (
    "Nothing is made to spare: what sticks to the vessel is missing from the last product. spare_percent in the plan "
    "makes more."
)
FINISH_TODAY = "finish every product the day the base is made"
EXTREME_PH = (2.0, 11.5)
"""Beyond these a mixture is taken to injure skin and eyes: Regulation (EC) 1272/2008, Annex I, 3.2.3.1.2 (memory)."""
STANDS = "A base that stands longer than a day needs its preservative proven like a product."


@dataclass(frozen=True, eq=False)
class ProductFromBase:
    """One product that is finished from a shared base.

    Attributes
    ----------
    formula : Formula
        The whole of it, base and all.
    batch_g : float  [g]
    times : int
        Batches of that size.
    """

    title: str
    brief: Brief = field(repr=False)
    formula: Formula = field(repr=False)
    batch_g: float
    times: int = 1


def water_left(library: Library, formula: Formula, base: Collection[str]) -> float:
    """Return the water that a product needs outside its shared base  [% w/w].

    The dose of acid or base needs room, powders are dissolved and gums swell in it; never more than the product has.

    Parameters
    ----------
    base : collection of str
        Materials of the base.
    """
    amounts = {line.material: line.percent for line in formula.lines}
    acidity = formula.acidity
    ready = (
        {}
        if acidity is None
        else {dose.material: dose.high for dose in (*acidity.doses, *acidity.have_ready)}
    )
    most = {
        name: max(amounts.get(name, 0.0), ready.get(name, 0.0)) for name in {*amounts, *ready} - set(base)
    }
    wanted = 0.0 if acidity is None else acidity.reserve
    for name, percent in most.items():
        material = library.material[name]
        if material.phase == "gum" and {"sprinkle", "slurry", "hydrate"} & set(material.handling):
            wanted += SWELLING * percent
        elif "dissolve" in material.handling and material.phase in ("water", "adjust"):
            wanted += DISSOLVING * percent
    return min(wanted, amounts.get(library.water.id, 0.0))


def wets_gum(brief: Brief, formula: Formula, base: Collection[str]) -> set[str]:
    """Return the materials of a product outside its base in which a gum of its own is slurried."""
    present = [line.material for line in formula.lines]
    needs = (*brief.library.rules.needs, *brief.rules.needs)
    gums = (brief.library.material[name] for name in present if name not in base)
    return {
        name
        for gum in gums
        if "slurry" in gum.handling
        for name in wetting_of(gum, brief.library, needs, present)[0]
    }


def records_from_base(
    title: str,
    base: Mapping[str, float],
    products: Sequence[ProductFromBase],
    *,
    balance_g: float | None = None,
    spare_percent: float = 0.0,
) -> tuple[Sheet, ...]:
    """Return the batch record of a shared base, then that of each product finished from it.

    Parameters
    ----------
    title : str
        Of the family.
    base : mapping of str to float
        What of every product is base, by material  [% w/w of the product].
    balance_g : float, optional  [g]
        Readability of the balance; the finest that a brief names, or 0.01, by default.
    spare_percent : float
        So much more base is made than is weighed out.

    Notes
    -----
    Every mass is a whole number of steps of the balance. The grams of a product add up to its batch, and those that
    are weighed out of the base to the base, what is to spare apart. Each product is judged once more by its brief, made
    of the base as it is weighed.
    """
    library = products[0].brief.library
    weighing = _weighing(products, balance_g)
    percent = sum(base.values())
    stocked = library.model_copy(
        update={
            "materials": (
                *library.materials,
                Material(id=SHARED_BASE, name="Shared base", function="other", phase="water", price=0.0),
            )
        }
    )
    finishes = [_finish(product, base, stocked, weighing) for product in products]
    drawn = sum(
        made.line(SHARED_BASE).grams * product.times for made, product in zip(finishes, products, strict=True)
    )
    grams = on_grid(drawn * (1.0 + spare_percent / 100.0), weighing.balance_g)
    lines = tuple((name, 100.0 * share / percent) for name, share in base.items())
    made = _rounded(lines, library, grams, weighing)
    return (
        _base_sheet(title, made, lines, products, finishes, made.total_g - drawn),
        *(
            _finish_sheet(title, product, batch, made, stocked)
            for product, batch in zip(products, finishes, strict=True)
        ),
    )


def _weighing(products: Sequence[ProductFromBase], balance_g: float | None) -> Weighing:
    asked = [product.brief.weighing for product in products if product.brief.weighing is not None]
    finest = balance_g or min((one.balance_g for one in asked), default=BALANCE_G)
    return Weighing(
        balance_g=finest, **({"error_percent": min(one.error_percent for one in asked)} if asked else {})
    )


def _rounded(
    lines: Sequence[tuple[str, float]], library: Library, batch_g: float, weighing: Weighing
) -> Batch:
    """Return amounts rounded to the balance, and a note that names the one that takes up the difference."""
    plain = weigh(lines, library, batch_g, weighing.balance_g, error_percent=weighing.error_percent)
    grams = {line.material: line.grams for line in plain.lines}
    note = NEAREST.format(library.material[plain.by_difference].name)
    return weigh(
        lines, library, batch_g, weighing.balance_g,
        error_percent=weighing.error_percent, grams=grams, notes=(note,),
    )  # fmt: skip


def _finish(
    product: ProductFromBase, base: Mapping[str, float], stocked: Library, weighing: Weighing
) -> Batch:
    """Return the batch of one product: its base, and the materials that only it has."""
    own = {line.material: line.percent - base.get(line.material, 0.0) for line in product.formula.lines}
    lines = [(name, percent) for name, percent in own.items() if percent > TOLERANCE]
    return _rounded([(SHARED_BASE, sum(base.values())), *lines], stocked, product.batch_g, weighing)


def _base_sheet(
    title: str,
    batch: Batch,
    lines: tuple[tuple[str, float], ...],
    products: Sequence[ProductFromBase],
    finishes: Sequence[Batch],
    spare: float,
) -> Sheet:
    """Return the record of the base, with a line for the grams that each product takes of it."""
    asked, name = products[0].brief, f"{title}, shared base"
    library = asked.library
    (judged,) = evaluate(TypedFormula(name, lines, 100.0), library).formulas
    acidity = judged.acidity
    if acidity is not None:
        acidity = replace(acidity, doses=(), have_ready=(), reserve=0.0)
    amounts = library.arrays.amounts(lines)
    needs = (*library.rules.needs, *asked.rules.needs)
    procedure = procedure_of(batch, library, needs, acidity, "base")
    notes = (*_standing(library, amounts, acidity), *((STOPS_SHORT,) if spare < batch.balance_g / 2 else ()))
    computed = "" if acidity is None else f"computed {acidity.pH:.1f}"
    checks = Part(
        key="in process",
        title="Checks in process: limit and result",
        blanks=(
            Blank(key="pH", title="pH", wanted=computed),
            Blank(key="appearance", title="Look, against the last base"),
            Blank(key="checks by", title="Checked by, date"),
        ),
    )
    record = record_of(batch, procedure, checks, title=name, formula=title)
    kept = (part for part in record.after if part.key not in ("samples", "microbiology"))
    record = record.model_copy(
        update={
            "after": (_taken(products, finishes, spare, batch.digits), *kept),
            "notes": (*record.notes, *notes),
        }
    )
    return Sheet(
        title=name,
        library=library.name,
        currency=library.currency,
        batch_g=batch.batch_g,
        cost_per_kg=judged.cost,
        batch=record,
        cautions=cautions_of(dict(lines), library),
        names=FrozenDict({material: library.material[material].name for material, _ in lines}),
    )


def _taken(products: Sequence[ProductFromBase], finishes: Sequence[Batch], spare: float, digits: int) -> Part:
    """Return a blank for each product that is weighed out of the base, and for the rest."""
    blanks = []
    for place, (product, made) in enumerate(zip(products, finishes, strict=True), 1):
        grams = f"{made.line(SHARED_BASE).grams:.{digits}f}"
        wanted = grams if product.times == 1 else f"{product.times} times {grams}"
        blanks.append(Blank(key=f"taken {place}", title=product.title, unit="g", wanted=wanted))
    left = Blank(key="base left", title="Left of the base", unit="g", wanted=f"{abs(spare):.{digits}f}")
    return Part(key="taken", title="Weighed out of this base", blanks=(*blanks, left))


def _standing(library: Library, amounts: Floats, acidity: Acidity | None) -> Iterator[str]:
    """Yield warnings: the base may injure, separate, or spoil before it is finished."""
    if acidity is not None and not EXTREME_PH[0] < acidity.pH < EXTREME_PH[1]:
        yield f"At about pH {acidity.pH:.1f} the base injures skin and eyes: goggles and gloves until it is finished."
    held = [library.materials[place] for place in np.flatnonzero(amounts > 0)]
    shy = [m.name for m in held if m.function in ("preservative", "oil", "fragrance") and m.phase == "cool"]
    if shy and not any(m.function in ("surfactant", "solubiliser") for m in held):
        yield (
            f"The base holds {'; '.join(shy)} stronger than a product does, and no surfactant: whether that stays "
            "dissolved is for a small trial to show. The surfactants in [base] as well would carry it."
        )
    system = system_in(library, amounts)
    if system is None:
        yield f"The base holds no preservative system of the library whole: {FINISH_TODAY}."
        return
    used = [material.id for material in held]
    low, high = pH_range(library, used, used, [system], [library.rules])
    if acidity is not None and not (low or 0.0) - TOLERANCE <= acidity.pH <= (high or 14.0) + TOLERANCE:
        yield (
            f"At about pH {acidity.pH:.1f} the base is not preserved: {system.name} and what stands beside it need "
            f"{window_text(low, high)}, which each product reaches only when its own pH is set. So {FINISH_TODAY}, "
            "or put the acid that they share into [base] as well."
        )
    else:
        yield STANDS


def _finish_sheet(title: str, product: ProductFromBase, batch: Batch, base: Batch, stocked: Library) -> Sheet:
    """Return the record of one product: grams of base, its own materials, its own pH."""
    brief, library = product.brief, product.brief.library
    inside = [library.material[line.material] for line in base.lines]
    needs = (*library.rules.needs, *brief.rules.needs)
    acidity = _still_to_dose(product.formula.acidity, base, batch)
    procedure = procedure_of(batch, stocked, needs, acidity, "finish", inside)
    amounts, rounding = _made_of(batch, base, library)
    broken, held = _judged(brief, amounts, rounding)
    number = Blank(key="base number", title="Batch number of its shared base")
    record = record_of(
        batch, procedure, in_process(brief, product.formula.acidity, amounts),
        title=product.title, formula=title, known=(number,),
    )  # fmt: skip
    notes = (
        *record.notes,
        *((f"{product.times} batches of this size.",) if product.times > 1 else ()),
        *((f"Held within half a step of the balance: {'; '.join(held)}.",) if held else ()),
        *_too_hot(procedure, inside),
    )
    own = [line.material for line in batch.lines if line.material != SHARED_BASE]
    ready = [portion.material for portion in procedure.ready]
    return Sheet(
        title=product.title,
        library=library.name,
        currency=library.currency,
        batch_g=batch.batch_g,
        cost_per_kg=product.formula.cost,
        batch=record.model_copy(update={"notes": notes}),
        breaks=broken,
        cautions=cautions_of((*own, *ready), library),
        names=FrozenDict({line.material: line.name for line in product.formula.lines}),
    )


def _still_to_dose(acidity: Acidity | None, base: Batch, batch: Batch) -> Acidity | None:
    """Return the doses of a product less what its base already brings; none is below 0."""
    if acidity is None:
        return None
    share = batch.line(SHARED_BASE).grams / batch.batch_g
    brought = {line.material: share * line.weighed_percent for line in base.lines}
    more = tuple(
        Dose(dose.material, 0.0, max(0.0, dose.low - brought[dose.material]), dose.high - brought[dose.material],
             dose.name)
        for dose in acidity.doses
        if dose.material in brought and dose.high > brought[dose.material]
    )  # fmt: skip
    kept = tuple(dose for dose in acidity.doses if dose.material not in brought)
    return replace(acidity, doses=kept, have_ready=(*acidity.have_ready, *more))


def _made_of(batch: Batch, base: Batch, library: Library) -> tuple[Floats, Floats]:
    """Return the composition of a product as weighed, and its error by half a step of the balance  [% w/w]."""
    drawn = batch.line(SHARED_BASE).grams / base.total_g
    grams, half = dict[str, float](), dict[str, float]()
    for line, part in (
        *((line, drawn) for line in base.lines),
        *((line, 1.0) for line in batch.lines if line.material != SHARED_BASE),
    ):
        grams[line.material] = grams.get(line.material, 0.0) + part * line.grams
        half[line.material] = half.get(line.material, 0.0) + part * batch.balance_g / 2.0
    scale = 100.0 / batch.total_g
    return (
        library.arrays.amounts((name, scale * amount) for name, amount in grams.items()),
        library.arrays.amounts((name, scale * amount) for name, amount in half.items()),
    )


def _judged(brief: Brief, amounts: Floats, rounding: Floats) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the limits that a product breaks as weighed, and those it meets only within half a balance step."""
    judge = Judge.of(brief)
    program = judge.program(amounts)
    every, beyond = (
        tuple(dict.fromkeys(item.requirement.title for item in judge.breaks(program, amounts, allowed)))
        for allowed in (None, rounding)
    )
    return beyond, tuple(title for title in every if title not in beyond)


def _too_hot(procedure: Procedure, inside: Sequence[Material]) -> Iterator[str]:
    """Yield a note where a product is warmed above what its base tolerates."""
    heat = max((step.above_C or 0.0 for step in procedure.steps if step.kind == "heat"), default=0.0)
    limit = coolest(inside)
    if limit is not None and heat >= limit:
        hurt = ", ".join(m.name for m in inside if m.add_below_C is not None and m.add_below_C <= heat)
        yield (
            f"The vessel has to be at {heat:g} C with the base in it, and that holds what suffers above {limit:g} C: "
            f"{hurt}. Put into [base] what is melted, or take out of it what cannot bear the heat."
        )
