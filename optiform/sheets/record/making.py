"""How a wash is made: from the first water to the reading of the next day."""

from __future__ import annotations

from collections.abc import Sequence

from optiform.answers.model.answer import Acidity
from optiform.library.models import Library, Material, Needs
from optiform.sheets.record.batch import SHARED_BASE, Batch, on_grid
from optiform.sheets.record.finishing import cool_phase, last_steps, spoken_portions
from optiform.sheets.record.steps import (
    DISSOLVING,
    Bench,
    Procedure,
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
    bench = Bench(batch, library, tuple(needs), acidity, stage, tuple(inside))
    held, reserve = _held_back(bench)
    _water(bench, held, reserve)
    _gum(bench)
    _shared_base(bench)
    _suspended(bench)
    _oil(bench)
    _surfactants(bench)
    _neutralise(bench)
    cool_phase(bench)
    last_steps(bench, held, reserve)
    ready = bench.ready()
    if ready:
        beside = spoken_portions(bench, ready)
        bench.notes.append(f"Have ready beside the batch, weighed apart and no part of it: {beside}.")
    return Procedure(
        steps=tuple(bench.steps),
        held_back_g=held,
        reserve_g=reserve,
        ready=ready,
        notes=tuple(dict.fromkeys(bench.notes)),
    )


def _held_back(bench: Bench) -> tuple[float, float]:
    """Return the water to keep out of the vessel, and how much of that is the reserve of the dose [g]."""
    water = next((line for line in bench.batch.lines if line.material == bench.library.water.id), None)
    if water is None:
        none = (
            "No added water" if bench.stage != "finish" else "All water of this product is in its shared base"
        )
        bench.notes.append(f"{none}: nothing can be held back for the dose of acid or base.")
        return 0.0, 0.0
    reserve = 0.0 if bench.acidity is None else bench.share(bench.acidity.reserve)
    beside = [bench.library.material[portion.material] for portion in bench.ready()]
    powders = [m for m in (*bench.waiting("adjust"), *beside) if has(m, "dissolve")]
    dissolving = sum(DISSOLVING * bench.most(m) for m in powders)
    wanted = on_grid(reserve + dissolving, bench.batch.balance_g)
    most = water.grams if bench.stage == "finish" else water.grams / 2.0
    if wanted > most + LAST_STEPS * bench.batch.balance_g:
        bench.notes.append(
            "The water to hold back would be more than this product has beside its shared base; all of it is held back."
            if bench.stage == "finish"
            else "The water to hold back would be more than half of all water; half is held back."
        )
    return on_grid(min(wanted, most), bench.batch.balance_g), min(reserve, wanted, most)


def _water(bench: Bench, held: float, reserve: float) -> None:
    """Weigh the water into the vessel, and add what dissolves in it."""
    waters = [m for m in bench.waiting("water") if m.function == "water"]
    if bench.stage == "finish" and all(bench.batch.line(m.id).grams <= held for m in waters):
        bench.added.update(m.id for m in waters)
        _shared_base(bench, f" Hold back {bench.shown(held)} of water in a covered beaker." if held else "")
    elif waters:
        back = f" Hold back {bench.shown(held)} of the water in a covered beaker." if held else ""
        uses = []
        if reserve:
            uses.append(
                f"{bench.shown(reserve)} of it make room for the upper end of the dose that sets the pH"
            )
        if held > reserve:
            uses.append("the powders of the last steps dissolve in it")
        bench.step(
            "water",
            "water",
            f"Weigh the water into the clean vessel and stir.{back}",
            "; ".join(uses)[:1].upper() + "; ".join(uses)[1:] + "."
            if uses
            else "Everything else goes into it.",
            bench.portions(waters, less=held),
        )
    rest = [m for m in bench.waiting("water") if not has(m, "suspend")]
    early_acid = [m for m in rest if m.function == "acid"]
    shy = [m for m in bench.present if has(m, "before-acid")]
    if early_acid and shy:
        bench.notes.append(f"The acid waits for the last steps, after {spoken(shy)}.")
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
        bench.step(
            "water", "dissolve", what, why,
            bench.portions(solids), above=hottest(solids), below=coolest(solids),
        )  # fmt: skip
    if liquids:
        bench.step(
            "water", "stir in", f"Pour in while stirring, {in_turn(liquids)}.", "Liquids mix with water at once.",
            bench.portions(liquids), above=hottest(liquids), below=coolest(liquids),
        )  # fmt: skip


def _shared_base(bench: Bench, back: str = "") -> None:
    """The base that was made before: first into an empty vessel, else into what is dissolved and swollen in water."""
    if bench.stage != "finish" or SHARED_BASE in bench.added:
        return
    into = "run it into the vessel, stirring slowly" if bench.steps else "weigh it into the clean vessel"
    bench.step(
        "water",
        "base",
        f"Stir the shared base through without whipping air, and {into}. Write its batch number on this record.{back}",
        "What is not even in the base is not even in the product.",
        bench.portions([bench.library.material[SHARED_BASE]]),
    )


def _gum(bench: Bench) -> None:
    """Sprinkle or slurry the polymers, and let them swell before anything hinders it."""
    polymers, others = sorted_out(bench.waiting("gum"), "sprinkle", "slurry", "hydrate")
    sprinkled, rest = sorted_out(polymers, "sprinkle")
    slurried, swelling = sorted_out(rest, "slurry")
    reasons = [_before_acid(polymers)] if polymers else []
    if sprinkled:
        bench.step(
            "gum",
            "sprinkle",
            "Stop the stirrer. Sift on to the still water, a thin layer at a time, and let it sink in untouched; "
            f"then stir slowly{_swell(sprinkled)}.",
            " ".join(("Stirred in dry it makes lumps that never wet through.", *filter(None, reasons))),
            bench.portions(sprinkled),
            above=hottest(sprinkled),
            hours=longest(sprinkled),
        )
    if swelling:
        bench.step(
            "gum",
            "hydrate",
            f"Scatter into the stirred water{_swell(swelling)}.",
            " ".join(("It thickens only once it has swollen through.", *filter(None, reasons))),
            bench.portions(swelling),
            above=hottest(swelling),
            hours=longest(swelling),
        )
    _slurries(bench, slurried, reasons)
    left = [m for m in others if m.id not in bench.added]
    kept = [m for m in left if has(m, "neutralise")]
    plain = [m for m in left if m not in kept]
    if kept:
        why = "It is thin and milky until it is neutralised, after the surfactants."
        bench.step(
            "gum", "stir in", "Stir in slowly.", " ".join((why, *filter(None, reasons))), bench.portions(kept)
        )
    if plain:
        why = "Before the surfactants, while stirring brings no foam."
        bench.step("gum", "stir in", "Stir in.", why, bench.portions(plain), above=hottest(plain))


def _slurries(bench: Bench, slurried: list[Material], reasons: list[str]) -> None:
    """Make one slurry for each set of wetting liquids."""
    present = [line.material for line in bench.batch.lines]
    groups: dict[tuple[str, ...], list[Material]] = {}
    whys: dict[tuple[str, ...], str] = {}
    for gum in slurried:
        wetting, rule = wetting_of(gum, bench.library, bench.needs, present)
        free = tuple(name for name in wetting if name not in bench.added)
        groups.setdefault(free, []).append(gum)
        if rule is not None and rule.why:
            whys.setdefault(free, f"{rule.why[:1].upper()}{rule.why[1:]}.")
    for wetting, gums in groups.items():
        liquids = [bench.library.material[name] for name in wetting if name not in bench.added]
        if liquids:
            what = (
                f"In a dry beaker stir {spoken(gums)} into {spoken(liquids)} to a smooth slurry without lumps. "
                f"Pour it at once into the stirred water{_swell(gums)}."
            )
        else:
            bench.notes.append(f"{spoken(gums)}: nothing left in the formula to wet it out; expect lumps.")
            what = f"Scatter slowly into the eye of fast stirred water{_swell(gums)}."
        why = " ".join(filter(None, (whys.get(wetting, DRY_GUM), *reasons)))
        bench.step("gum", "slurry", what, why, bench.portions([*liquids, *gums]), hours=longest(gums))
        _acid_to_swell(bench, gums)


def _before_acid(polymers: list[Material]) -> str:
    """Return why polymers come before the acid, where any of them does."""
    early = [m for m in polymers if has(m, "before-acid")]
    return f"{spoken(early)}: swollen before any acid goes in." if early else ""


def _acid_to_swell(bench: Bench, gums: list[Material]) -> None:
    """Give gums that swell in slightly acid water the first little of the batch's own acid."""
    sour = [m for m in gums if has(m, "acid-slurry")]
    if not sour:
        return
    acids = [m for m in bench.waiting("adjust", "water") if m.function == "acid"]
    first = bench.begin(acids[:1], SOUR)
    if first:
        bench.step(
            "gum",
            "slurry",
            "Stir in this first little of the acid; note the pH, which should lie between 5 and 6.5, and go on when "
            "it has thickened.",
            f"{spoken(sour)} swells in slightly acid water and hardly in any other; the rest of the acid waits for "
            "the meter.",
            first,
        )
    else:
        bench.notes.append(
            f"{spoken(sour)} swells in slightly acid water, and this batch has no acid solution to spare for it: "
            "read the pH of the slurry, and have a few drops of acid ready."
        )


def _swell(polymers: list[Material]) -> str:
    hours = longest(polymers)
    if hours is None:
        return ""
    time = f"{hours * 60:.0f} minutes" if hours < 1 else f"{hours:g} hour{'s' if hours != 1 else ''}"
    return f", and let it swell for {time}"


def _suspended(bench: Bench) -> None:
    """Add the powders of the water phase, once there is something to hold them."""
    powders = [m for m in bench.waiting("water", "gum") if has(m, "suspend")]
    if powders:
        bench.step(
            "gum",
            "suspend",
            "Wet with a little of the vessel's own liquid to a paste without lumps, then stir in.",
            "Only a swollen polymer keeps it from settling.",
            bench.portions(powders),
        )


def _oil(bench: Bench) -> None:
    """Stir oils and emulsifiers into the swollen polymer."""
    oils = bench.waiting("oil")
    if not oils:
        return
    melting = hottest(oils)
    thick = any(m.function == "thickener" and m.phase in ("gum", None) for m in bench.present)
    if melting is not None:
        bench.warm("oil", melting)
        together = "melt together" if len(oils) > 1 else "melt"
        bench.apart(
            "oil", "melt", f"Meanwhile {together} in a beaker of its own at {melting:g} C, covered.",
            "Flakes that are added cold stay grains.", bench.portions(oils), above=melting,
        )  # fmt: skip
    else:
        bench.apart(
            "oil", "premix", "In a beaker of its own stir to one clear oil.",
            "Emulsifier and oil must meet before they meet water."
            if any("emulsifier" in m.functions for m in oils)
            else "Oils that are one before they meet water make droplets that are alike.",
            bench.portions(oils),
        )  # fmt: skip
    bench.step(
        "oil",
        "emulsify",
        "Pour the oil phase into the vessel in a thin stream, stirring until it is even.",
        "Oil goes into the swollen polymer, which holds the droplets."
        if thick
        else "Poured slowly it breaks into fine droplets.",
        above=melting,
    )


def _surfactants(bench: Bench) -> None:
    """Add surfactants: powders and pastes first while it is thin, then liquids without whipping."""
    found = bench.waiting("surfactant")
    powders, liquids = sorted_out(found, "dissolve", "melt")
    if powders:
        bench.step(
            "surfactant",
            "surfactant",
            "Add in portions, stirring slowly until each is dissolved; cover between portions.",
            "Powders, flakes and pastes need heat and time; foam and dust come from haste.",
            bench.portions(powders),
            above=hottest(powders),
            below=coolest(powders),
        )
    if liquids:
        bench.step(
            "surfactant",
            "surfactant",
            f"Run down the wall of the vessel, {in_turn(liquids)}; blade well under the surface, slowly, no vortex.",
            "Whipped-in air stays for days and spoils weight, fill and every viscosity reading.",
            bench.portions(liquids),
            above=hottest(liquids),
            below=coolest(liquids),
        )


def _neutralise(bench: Bench) -> None:
    """Give polymers that thicken on neutralising their base."""
    names = spoken(m for m in bench.present if has(m, "neutralise"))
    if not names:
        return
    bases = [m for m in bench.waiting("adjust") if m.function == "base"]
    others = [m for m in bench.waiting("adjust", "water") if m.function == "acid"]
    begun = bench.begin(bases) if bases and not others else ()
    if begun:
        bench.step(
            "adjust",
            "neutralise",
            "Add the alkali in portions, waiting each time until it is even; the rest of it waits for the meter at the "
            "end.",
            f"{names}: thin until neutralised, thick after. Drops of base in one spot make lumps. What goes in later "
            "moves the pH again, so this is nine tenths of the low end of the dose.",
            begun,
        )
    elif bases:
        bench.step(
            "adjust",
            "neutralise",
            "Add the alkali in portions, waiting each time until it is even, to the computed amount; note the pH.",
            f"{names}: thin until neutralised, thick after. Drops of base in one spot make lumps.",
            bench.portions(bases, dosed=True),
        )
    elif bench.stage == "base":
        bench.notes.append(f"{names} stays thin until it is neutralised, when each product is finished.")
    else:
        bench.notes.append(
            f"{names} thickens only when neutralised, and the formula holds no alkali for it: "
            "the surfactants must bring the alkali, which the bench has to show."
        )
