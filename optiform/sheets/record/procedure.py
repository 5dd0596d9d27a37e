"""Writes the steps of making a batch, from the first water to the reading of the next day."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.answers.model.answer import Acidity
from optiform.library.models import Library, Material, Needs
from optiform.sheets.record.batch import SHARED_BASE, Batch, on_grid
from optiform.sheets.record.finishing import cool_phase, last_steps, spoken_portions
from optiform.sheets.record.steps import (
    DISSOLVING,
    Procedure,
    ProcedureDraft,
    Stage,
    coolest,
    has,
    hottest,
    in_turn,
    longest,
    sorted_out,
    spoken,
    wetting_of,
)

SOUR = 0.1
"""This part of the low end of the acid's dose goes into a gum that swells in slightly acid water; our choice."""
LAST_STEPS = 5
"""So many steps of the balance are no lack of water: what is dosed and dissolved is rounded one by one."""
DRY_GUM = "Gum that meets water dry and all at once makes lumps that never wet through."


def procedure_of(
    batch: Batch,
    library: Library,
    needs: Sequence[Needs] = (),
    acidity: Acidity | None = None,
    stage: Stage = "whole",
    inside: Sequence[Material] = (),
) -> Procedure:
    """Return the steps of making a batch.

    Parameters
    ----------
    needs : sequence of Needs
        House rules, and a brief's own, on what a material needs beside it.
    acidity : Acidity, optional
        The computed pH with the doses of acid and base and the water to hold back.
    stage : str
        Whether a whole product is made, a base that products share, or a product from such a base.
    inside : sequence of Material
        Of the base that it is finished from.

    Notes
    -----
    The portions of all steps add up to the batch, gram for gram. A procedure on paper is a start: the
    order that gives a clear, stable wash is found at the bench.
    """
    draft = ProcedureDraft(batch, library, tuple(needs), acidity, stage, tuple(inside))
    held, reserve = _held_back(draft)
    _water(draft, held, reserve)
    _gum(draft)
    _shared_base(draft)
    _suspended(draft)
    _oil(draft)
    _surfactants(draft)
    _neutralise(draft)
    cool_phase(draft)
    last_steps(draft, held, reserve)
    ready = draft.ready()
    if ready:
        beside = spoken_portions(draft, ready)
        draft.notes.append(f"Have ready beside the batch, weighed apart and no part of it: {beside}.")
    return Procedure(
        steps=tuple(draft.steps),
        held_back_g=held,
        reserve_g=reserve,
        ready=ready,
        notes=tuple(dict.fromkeys(draft.notes)),
    )


def _held_back(draft: ProcedureDraft) -> tuple[float, float]:
    """Return the water kept out of the vessel, and the part of it reserved for the dose of acid or base [g]."""
    water = next((line for line in draft.batch.lines if line.material == draft.library.water.id), None)
    if water is None:
        none = (
            "No added water" if draft.stage != "finish" else "All water of this product is in its shared base"
        )
        draft.notes.append(f"{none}: nothing can be held back for the dose of acid or base.")
        return 0.0, 0.0
    reserve = 0.0 if draft.acidity is None else draft.share(draft.acidity.reserve)
    beside = [draft.library.material[portion.material] for portion in draft.ready()]
    powders = [m for m in (*draft.waiting("adjust"), *beside) if has(m, "dissolve")]
    dissolving = sum(DISSOLVING * draft.most(m) for m in powders)
    wanted = on_grid(reserve + dissolving, draft.batch.balance_g)
    most = water.grams if draft.stage == "finish" else water.grams / 2.0
    if wanted > most + LAST_STEPS * draft.batch.balance_g:
        draft.notes.append(
            "The water to hold back would be more than this product has beside its shared base; all of it is held back."
            if draft.stage == "finish"
            else "The water to hold back would be more than half of all water; half is held back."
        )
    return on_grid(min(wanted, most), draft.batch.balance_g), min(reserve, wanted, most)


def _water(draft: ProcedureDraft, held: float, reserve: float) -> None:
    """Weigh the water into the vessel, and add what dissolves in it."""
    waters = [m for m in draft.waiting("water") if m.function == "water"]
    if draft.stage == "finish" and all(draft.batch.line(m.id).grams <= held for m in waters):
        draft.added.update(m.id for m in waters)
        _shared_base(draft, f" Hold back {draft.shown(held)} of water in a covered beaker." if held else "")
    elif waters:
        back = f" Hold back {draft.shown(held)} of the water in a covered beaker." if held else ""
        uses = []
        if reserve:
            uses.append(
                f"{draft.shown(reserve)} of it make room for the upper end of the dose that sets the pH"
            )
        if held > reserve:
            uses.append("the powders of the last steps dissolve in it")
        draft.step(
            "water",
            "water",
            f"Weigh the water into the clean vessel and stir.{back}",
            "; ".join(uses)[:1].upper() + "; ".join(uses)[1:] + "."
            if uses
            else "Everything else goes into it.",
            draft.portions(waters, less=held),
        )
    rest = [m for m in draft.waiting("water") if not has(m, "suspend")]
    early_acid = [m for m in rest if m.function == "acid"]
    shy = [m for m in draft.present if has(m, "before-acid")]
    if early_acid and shy:
        draft.notes.append(f"The acid waits for the last steps, after {spoken(shy)}.")
        rest = [m for m in rest if m not in early_acid]
    solids, liquids = sorted_out(rest, "dissolve")
    solids.sort(key=lambda m: (m.function != "chelator",))
    if solids:
        several = "one after the other, each to a clear liquid before the next"
        what = f"Dissolve {several if len(solids) > 1 else 'to a clear liquid'}."
        before = [m for m in solids if has(m, "before-acid")]
        why = "What is still a crystal now stays one in the gel."
        if before:
            them = "them" if len(before) > 1 else "it"
            why += f" {spoken(before)}: before any acid, which would make {them} fall out."
        draft.step(
            "water", "dissolve", what, why,
            draft.portions(solids), above_C=hottest(solids), below_C=coolest(solids),
        )  # fmt: skip
    if liquids:
        draft.step(
            "water", "stir in", f"Pour in while stirring, {in_turn(liquids)}.", "Liquids mix with water at once.",
            draft.portions(liquids), above_C=hottest(liquids), below_C=coolest(liquids),
        )  # fmt: skip


def _shared_base(draft: ProcedureDraft, back: str = "") -> None:
    """Add the shared base: into the empty vessel, or into what is dissolved and swollen in water."""
    if draft.stage != "finish" or SHARED_BASE in draft.added:
        return
    into = "run it into the vessel, stirring slowly" if draft.steps else "weigh it into the clean vessel"
    draft.step(
        "water",
        "base",
        f"Stir the shared base through without whipping air, and {into}. Write its batch number on this record.{back}",
        "What is not even in the base is not even in the product.",
        draft.portions([draft.library.material[SHARED_BASE]]),
    )


def _gum(draft: ProcedureDraft) -> None:
    """Sprinkle or slurry the polymers, and let them swell before salts and acids."""
    polymers, others = sorted_out(draft.waiting("gum"), "sprinkle", "slurry", "hydrate")
    sprinkled, rest = sorted_out(polymers, "sprinkle")
    slurried, swelling = sorted_out(rest, "slurry")
    reasons = [_before_acid(polymers)] if polymers else []
    if sprinkled:
        draft.step(
            "gum",
            "sprinkle",
            "Stop the stirrer. Sift on to the still water, a thin layer at a time, and let it sink in untouched; "
            f"then stir slowly{_swell(sprinkled)}.",
            " ".join(("Stirred in dry it makes lumps that never wet through.", *filter(None, reasons))),
            draft.portions(sprinkled),
            above_C=hottest(sprinkled),
            hours=longest(sprinkled),
        )
    if swelling:
        draft.step(
            "gum",
            "hydrate",
            f"Scatter into the stirred water{_swell(swelling)}.",
            " ".join(("It thickens only once it has swollen through.", *filter(None, reasons))),
            draft.portions(swelling),
            above_C=hottest(swelling),
            hours=longest(swelling),
        )
    _slurries(draft, slurried, reasons)
    left = [m for m in others if m.id not in draft.added]
    kept = [m for m in left if has(m, "neutralise")]
    plain = [m for m in left if m not in kept]
    if kept:
        why = "It is thin and milky until it is neutralised, after the surfactants."
        draft.step(
            "gum", "stir in", "Stir in slowly.", " ".join((why, *filter(None, reasons))), draft.portions(kept)
        )
    if plain:
        why = "Before the surfactants, while stirring brings no foam."
        draft.step("gum", "stir in", "Stir in.", why, draft.portions(plain), above_C=hottest(plain))


def _slurries(draft: ProcedureDraft, slurried: list[Material], reasons: list[str]) -> None:
    """Make one slurry for each set of wetting liquids."""
    present = [line.material for line in draft.batch.lines]
    groups: dict[tuple[str, ...], list[Material]] = {}
    whys: dict[tuple[str, ...], str] = {}
    for gum in slurried:
        wetting, rule = wetting_of(gum, draft.library, draft.needs, present)
        free = tuple(name for name in wetting if name not in draft.added)
        groups.setdefault(free, []).append(gum)
        if rule is not None and rule.why:
            whys.setdefault(free, f"{rule.why[:1].upper()}{rule.why[1:]}.")
    for wetting, gums in groups.items():
        liquids = [draft.library.material[name] for name in wetting if name not in draft.added]
        if liquids:
            what = (
                f"In a dry beaker stir {spoken(gums)} into {spoken(liquids)} to a smooth slurry without lumps. "
                f"Pour it at once into the stirred water{_swell(gums)}."
            )
        else:
            draft.notes.append(f"{spoken(gums)}: nothing left in the formula to wet it out; expect lumps.")
            what = f"Scatter slowly into the eye of fast stirred water{_swell(gums)}."
        why = " ".join(filter(None, (whys.get(wetting, DRY_GUM), *reasons)))
        draft.step("gum", "slurry", what, why, draft.portions([*liquids, *gums]), hours=longest(gums))
        _acid_to_swell(draft, gums)


def _before_acid(polymers: list[Material]) -> str:
    """Return why polymers come before the acid, where any of them does."""
    early = [m for m in polymers if has(m, "before-acid")]
    return f"{spoken(early)}: swollen before any acid goes in." if early else ""


def _acid_to_swell(draft: ProcedureDraft, gums: list[Material]) -> None:
    """Add a first part of the batch's acid to gums that swell in slightly acid water."""
    sour = [m for m in gums if has(m, "acid-slurry")]
    if not sour:
        return
    acids = [m for m in draft.waiting("adjust", "water") if m.function == "acid"]
    first = draft.begin(acids[:1], SOUR)
    if first:
        draft.step(
            "gum",
            "slurry",
            "Stir in this first little of the acid; note the pH, which should lie between 5 and 6.5, and go on when "
            "it has thickened.",
            f"{spoken(sour)} swells in slightly acid water and hardly in any other; the rest of the acid waits for "
            "the meter.",
            first,
        )
    else:
        draft.notes.append(
            f"{spoken(sour)} swells in slightly acid water, and this batch has no acid solution to spare for it: "
            "read the pH of the slurry, and have a few drops of acid ready."
        )


def _swell(polymers: list[Material]) -> str:
    hours = longest(polymers)
    if hours is None:
        return ""
    time = f"{hours * 60:.0f} minutes" if hours < 1 else f"{hours:g} hour{'s' if hours != 1 else ''}"
    return f", and let it swell for {time}"


def _suspended(draft: ProcedureDraft) -> None:
    """Add the powders of the water phase, once a swollen polymer holds them."""
    powders = [m for m in draft.waiting("water", "gum") if has(m, "suspend")]
    if powders:
        draft.step(
            "gum",
            "suspend",
            "Wet with a little of the vessel's own liquid to a paste without lumps, then stir in.",
            "Only a swollen polymer keeps it from settling.",
            draft.portions(powders),
        )


def _oil(draft: ProcedureDraft) -> None:
    """Stir oils and emulsifiers into the swollen polymer."""
    oils = draft.waiting("oil")
    if not oils:
        return
    melting = hottest(oils)
    thick = any(m.function == "thickener" and m.phase in ("gum", None) for m in draft.present)
    if melting is not None:
        draft.warm("oil", melting)
        together = "melt together" if len(oils) > 1 else "melt"
        draft.apart(
            "oil", "melt", f"Meanwhile {together} in a beaker of its own at {melting:g} C, covered.",
            "Flakes that are added cold stay grains.", draft.portions(oils), above_C=melting,
        )  # fmt: skip
    else:
        draft.apart(
            "oil", "premix", "In a beaker of its own stir to one clear oil.",
            "Emulsifier and oil must meet before they meet water."
            if any("emulsifier" in m.functions for m in oils)
            else "Oils that are one before they meet water make droplets that are alike.",
            draft.portions(oils),
        )  # fmt: skip
    draft.step(
        "oil",
        "emulsify",
        "Pour the oil phase into the vessel in a thin stream, stirring until it is even.",
        "Oil goes into the swollen polymer, which holds the droplets."
        if thick
        else "Poured slowly it breaks into fine droplets.",
        above_C=melting,
    )


def _surfactants(draft: ProcedureDraft) -> None:
    """Add surfactants: powders and pastes first while it is thin, then liquids without whipping."""
    found = draft.waiting("surfactant")
    powders, liquids = sorted_out(found, "dissolve", "melt")
    if powders:
        draft.step(
            "surfactant",
            "surfactant",
            "Add in portions, stirring slowly until each is dissolved; cover between portions.",
            "Powders, flakes and pastes need heat and time; foam and dust come from haste.",
            draft.portions(powders),
            above_C=hottest(powders),
            below_C=coolest(powders),
        )
    if liquids:
        draft.step(
            "surfactant",
            "surfactant",
            f"Run down the wall of the vessel, {in_turn(liquids)}; blade well under the surface, slowly, no vortex.",
            "Whipped-in air stays for days and spoils weight, fill and every viscosity reading.",
            draft.portions(liquids),
            above_C=hottest(liquids),
            below_C=coolest(liquids),
        )


def _neutralise(draft: ProcedureDraft) -> None:
    """Add the alkali to polymers that thicken when neutralised."""
    names = spoken(m for m in draft.present if has(m, "neutralise"))
    if not names:
        return
    bases = [m for m in draft.waiting("adjust") if m.function == "base"]
    others = [m for m in draft.waiting("adjust", "water") if m.function == "acid"]
    begun = draft.begin(bases) if bases and not others else ()
    if begun:
        draft.step(
            "adjust",
            "neutralise",
            "Add the alkali in portions, waiting each time until it is even; the rest of it waits for the meter at the "
            "end.",
            f"{names}: thin until neutralised, thick after. Drops of base in one spot make lumps. What goes in later "
            "moves the pH again, so this is nine tenths of the low end of the dose.",
            begun,
        )
    elif bases:
        draft.step(
            "adjust",
            "neutralise",
            "Add the alkali in portions, waiting each time until it is even, to the computed amount; note the pH.",
            f"{names}: thin until neutralised, thick after. Drops of base in one spot make lumps.",
            draft.portions(bases, dosed=True),
        )
    elif draft.stage == "base":
        draft.notes.append(f"{names} stays thin until it is neutralised, when each product is finished.")
    else:
        draft.notes.append(
            f"{names} thickens only when neutralised, and the formula holds no alkali for it: "
            "the surfactants must bring the alkali, which the bench has to show."
        )
