"""Writes the last steps of a batch: the cool phase, the pH, the last water, the wait before the reading."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.library.models import Material
from optiform.sheets.record.batch import on_grid
from optiform.sheets.record.steps import (
    DISSOLVING,
    Portion,
    ProcedureDraft,
    coolest,
    has,
    hottest,
    in_turn,
    sorted_out,
    spoken,
)

COOL_C = 40.0
"""The cool phase begins below this, or below what its most delicate material asks for [C]."""
READ_AFTER_H = 24.0
WINDOW = 30.0
"""pH is read at room temperature; a warm vessel cools to below this first [C]."""


def cool_phase(draft: ProcedureDraft) -> None:
    """Add preservative, fragrance, extracts and pearl, each in its temperature window."""
    found = draft.waiting("cool")
    if found:
        draft.cool("cool", min(COOL_C, coolest(found) or COOL_C))
    pearls, rest = sorted_out(found, "suspend", "opacify")
    preservatives = [m for m in rest if m.function == "preservative"]
    oily = [
        m for m in rest
        if m not in preservatives and (has(m, "premix-oil") or m.function in ("fragrance", "solubiliser"))
    ]  # fmt: skip
    solids = [m for m in rest if m not in preservatives and m not in oily and has(m, "dissolve")]
    others = [m for m in rest if m not in preservatives and m not in oily and m not in solids]
    if others or solids:
        draft.step(
            "cool", "finish", f"Stir in {in_turn([*others, *solids])}.", _why_cool([*others, *solids]),
            draft.portions([*others, *solids]), below_C=coolest([*others, *solids]),
        )  # fmt: skip
    _premix(draft, oily)
    _preserve(draft, preservatives)
    if pearls:
        draft.step(
            "cool", "finish", "Fold in slowly, without breaking the pearl or whipping air.",
            "Pearl, pigment and scrub are held by the polymer and broken by shear.",
            draft.portions(pearls), below_C=coolest(pearls),
        )  # fmt: skip


def _why_cool(materials: list[Material]) -> str:
    limit = coolest(materials)
    if limit is not None:
        return f"Above {limit:g} C it loses colour, scent or effect."
    return "Small amounts spread best in the finished base, once nothing is heated any more."


def _premix(draft: ProcedureDraft, oily: list[Material]) -> None:
    """Mix fragrance and oil with their solubiliser to one clear liquid before they meet the wash."""
    if not oily:
        return
    solubilised = any("solubiliser" in m.functions for m in oily)
    melting = hottest(oily)
    warm = f" at {melting:g} C" if melting is not None else ""
    if len(oily) > 1:
        draft.apart(
            "cool",
            "premix",
            f"In a small beaker stir to one clear liquid{warm}.",
            "Solubiliser and fragrance must be one liquid first; apart they cloud the wash."
            if solubilised
            else "Together they spread evenly.",
            draft.portions(oily),
            above_C=melting,
        )
        draft.step(
            "cool", "finish", "Stir that premix in slowly.", "Scent and clarity suffer from heat.",
            below_C=coolest(oily),
        )  # fmt: skip
    else:
        what = (
            f"Melt apart{warm}, then stir in slowly."
            if melting is not None
            else "Stir in slowly until clear."
        )
        apart = melting is not None
        (draft.apart if apart else draft.step)(
            "cool",
            "finish",
            what,
            "Scent and clarity suffer from heat and from haste.",
            draft.portions(oily),
            above_C=melting,
            below_C=coolest(oily),
        )


def _preserve(draft: ProcedureDraft, preservatives: list[Material]) -> None:
    """Add the preservatives of the cool phase, each inside its window."""
    melting, rest = sorted_out(preservatives, "melt")
    if melting:
        above = hottest(melting)
        words = f" at {above:g} C" if above is not None else ""
        draft.apart(
            "cool", "preserve", f"Melt apart{words}, then stir in until even.",
            "Flakes do not spread in a cool wash; what is not spread does not preserve.",
            draft.portions(melting), above_C=above, below_C=coolest(melting),
        )  # fmt: skip
    if rest:
        below = coolest(rest)
        why = "A preservative protects only where it is spread evenly"
        why += f", and above {below:g} C it is lost or harmed." if below is not None else "."
        draft.step("cool", "preserve", f"Stir in {in_turn(rest)}.", why, draft.portions(rest), below_C=below)


def last_steps(draft: ProcedureDraft, held: float, reserve: float) -> None:
    """Add salt, set the pH, add the last of the water, and let it rest."""
    below = WINDOW if draft.hot_C is not None else None
    if below is not None:
        draft.cool("adjust", below, "pH and thickness are read at room temperature.")
    late = [m for m in draft.waiting("adjust", "water") if m.function not in ("acid", "base")]
    setters = [m for m in draft.waiting("adjust", "water") if m.function in ("acid", "base")]
    if late:
        dissolving = any(has(m, "dissolve") for m in late) and held > reserve
        where = "Dissolve in part of the held-back water and add" if dissolving else "Add"
        draft.step(
            "adjust", "thicken", f"{where} in portions, watching the thickness.",
            "Salt thickens only so far, then it thins: stop at the amount stated.", draft.portions(late), below_C=below,
        )  # fmt: skip
    _pH(draft, setters, held, reserve, below)
    _make_up(draft, held, dissolved=held > reserve)
    if draft.stage == "base":
        draft.step(
            "adjust",
            "rest",
            "Cover, let the foam settle, weigh what is there, and label it: shared base, batch number, day. Stir it "
            "through each time before it is weighed out.",
            "Every product is finished from it: one that cannot be told apart later cannot be traced.",
        )
    else:
        _read(draft)
    left = [line.name for line in draft.batch.lines if line.material not in draft.added]
    if left:
        draft.notes.append(f"Not placed in any step: {', '.join(left)}.")


def _read(draft: ProcedureDraft) -> None:
    """Let the batch stand before the reading that counts."""
    draft.step(
        "adjust",
        "rest",
        "Cover and let it stand until the foam has settled. Read pH, viscosity and look today, and again tomorrow "
        "at the same temperature.",
        "Air makes a wash look thick, and gums and surfactants go on building overnight: the reading of the next "
        "day counts.",
        hours=READ_AFTER_H,
    )


def _pH(
    draft: ProcedureDraft, setters: list[Material], held: float, reserve: float, below: float | None
) -> None:
    """Add acid or base by the meter, inside the computed range."""
    if draft.stage == "base":
        _pH_of_base(draft, setters, below)
        return
    found = draft.acidity
    expected = f"{found.pH:.1f}, likely lots between {found.low:.1f} and {found.high:.1f}" if found else ""
    ready = draft.ready()
    if not setters:
        hint = f" Computed: about {expected}." if expected else ""
        if ready:
            _from_ready(draft, ready, held, reserve, hint, below)
            return
        draft.step(
            "adjust", "pH", f"Read the pH with a calibrated meter.{hint}",
            "This batch holds no acid or base for the last step: what would be added changes the formula, "
            "and with it everything that was checked.", below_C=below,
        )  # fmt: skip
        return
    start = _solution(draft, [m for m in setters if has(m, "dissolve")], held, reserve)
    aim = f" The computed amount should give about pH {expected}." if expected else ""
    if ready:
        aim += f" Should the other be needed, it stands ready: {spoken_portions(draft, ready)}."
    draft.step(
        "adjust",
        "pH",
        f"{start}Note the pH, then add by calibrated meter: nine tenths of the lower figure first, then a little at "
        "a time, stirring and waiting for a steady reading. Weigh its beaker before and after, and write down what "
        f"went in.{aim}",
        "pH comes last, because everything before moves it; nine likely lots in ten need a dose in this range.",
        draft.portions(setters, dosed=True),
        below_C=below,
    )


def _pH_of_base(draft: ProcedureDraft, setters: list[Material], below: float | None) -> None:
    """Add to a shared base the acid or base that all products have in common, and read its pH."""
    hint = "" if draft.acidity is None else f" Computed: about {draft.acidity.pH:.1f}."
    adding = "Add in portions to the stated amount, stirring until it is even. " if setters else ""
    draft.step(
        "adjust",
        "pH",
        f"{adding}Read the pH with a calibrated meter and write it down.{hint}",
        "The pH of each product is set when it is finished; this reading tells whether the base came out as computed.",
        draft.portions(setters),
        below_C=below,
    )


def _from_ready(
    draft: ProcedureDraft,
    ready: tuple[Portion, ...],
    held: float,
    reserve: float,
    hint: str,
    below: float | None,
) -> None:
    """Read the pH, and correct it with the acid or base kept ready."""
    powders = [draft.library.material[portion.material] for portion in ready]
    start = _solution(draft, [m for m in powders if has(m, "dissolve")], held, reserve)
    draft.step(
        "adjust",
        "pH",
        f"Read the pH with a calibrated meter.{hint} Where it stands outside what is wanted, add from what stands "
        f"ready, in portions, stirring and waiting for a steady reading: {spoken_portions(draft, ready)}. {start}Weigh "
        "its beaker before and after, and write down what went in.",
        "Likely lots need it, though it is no line of the formula: hold the formula with what went in against law and "
        "brief before the batch is released.",
        below_C=below,
    )


def spoken_portions(draft: ProcedureDraft, portions: Sequence[Portion]) -> str:
    """Return the portions kept ready with their ranges: "Citric acid, anhydrous, 0.00 to 0.51 g"."""
    return "; ".join(
        f"{portion.name}, {draft.shown(portion.low_g or 0.0)[:-2]} to {draft.shown(portion.high_g or 0.0)}"
        for portion in portions
    )


def _solution(draft: ProcedureDraft, powders: list[Material], held: float, reserve: float) -> str:
    """Return how to dissolve the powders that set the pH; each becomes a solution of one in five."""
    if not powders or held <= reserve:
        return ""
    told = []
    for powder in powders:
        most = draft.most(powder)
        water = on_grid(DISSOLVING * most, draft.batch.balance_g)
        if water > held - reserve + draft.batch.balance_g / 2.0:
            return "Dissolve in part of the held-back water. "
        told.append(f"{draft.shown(most)} of {spoken([powder])} in {draft.shown(water)}")
    parts = 1.0 + DISSOLVING
    return (
        f"With held-back water make a solution of {100.0 / parts:g} %: {', '.join(told)}. Each gram of powder is "
        f"{parts:g} g of it. "
    )


def _make_up(draft: ProcedureDraft, held: float, *, dissolved: bool) -> None:
    """Bring the batch to its weight."""
    if not held:
        return
    counted = ", counting the water of the solution that went in" if dissolved else ""
    draft.step(
        "adjust",
        "make up",
        "Add what is left of the held-back water, then fresh water where that runs short, until the batch weighs "
        f"{draft.shown(draft.batch.total_g)}. With the dose as computed that is {draft.shown(held)} in all{counted}; "
        "every gram of acid or base above it takes a gram off, every gram below adds one.",
        "The reserve keeps the total at 100 % whatever the meter asked for.",
        (_water_portion(draft, held),),
    )


def _water_portion(draft: ProcedureDraft, grams: float) -> Portion:
    water = draft.library.water
    return Portion(
        material=water.id, name=water.name, grams=grams, percent=100.0 * grams / draft.batch.batch_g
    )
