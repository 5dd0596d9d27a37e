"""Which usual guards against silly formulas a brief lacks: said as notes, never added as rules."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from optiform.brief.models import Brief, Target


def missing_guards(brief: Brief) -> tuple[str, ...]:
    """Return a sentence for each usual guard that the brief, and its library, leave out.

    Parameters
    ----------
    brief : Brief
        A brief that was read.

    Returns
    -------
    tuple of str
        Plain sentences. Nothing is changed: the engine imposes only what some file states.

    Notes
    -----
    The figures named as usual are common practice, no source.
    """
    notes: list[str] = []
    if any(material.function == "surfactant" for material in brief.library.materials):
        notes += _blend(brief)
        notes += _support(brief)
    notes += _shape(brief)
    return tuple(notes)


def _at_least(target: Target | None) -> bool:
    return target is not None and target.at_least is not None and target.at_least > 0


def _at_most(target: Target | None) -> bool:
    return target is not None and target.at_most is not None


def _asks(brief: Brief, function: str) -> bool:
    """Tell whether includes, choices or targets ask for some material of a function."""
    library = brief.library
    for include in brief.include:
        if include.kind == "function" and include.word == function:
            return True
        if include.kind == "material" and function in library.material[include.word].functions:
            return True
    chosen = any(choose.function == function and (choose.at_least or 0) > 0 for choose in brief.choose)
    return chosen or _at_least(brief.targets.get(f"function:{function}"))


def _blend(brief: Brief) -> list[str]:
    targets, notes = brief.targets, []
    if not any(share.each is not None and share.at_most is not None for share in brief.share):
        notes.append(
            "No share caps a single surfactant, so the answer may rest on one alone; "
            "usual is at most 65 % of active matter."
        )
    if not any(choose.function == "surfactant" and (choose.at_least or 0) >= 2 for choose in brief.choose):
        notes.append("No choice asks for at least two surfactants; usual are two to four.")
    in_share = any(share.of == "anionic" and share.at_least for share in brief.share)
    if not (in_share or _at_least(targets.get("share:anionic")) or _at_least(targets.get("anionic"))):
        notes.append(
            "No anionic share is asked for; an all-nonionic blend lathers poorly and is hard to thicken. "
            "Usual are 30 to 65 % of active matter."
        )
    if not _at_least(targets.get("active matter")):
        notes.append("Active matter has no floor, so the cheapest wash may be little more than water.")
    gentle = _at_least(targets.get("mildness")) or _at_most(targets.get("irritation load"))
    if brief.aim.measure == "cost" and not gentle:
        notes.append("The aim is cost and gentleness has no floor, so mildness will be what is saved on.")
    return notes


def _support(brief: Brief) -> list[str]:
    library, notes = brief.library, []
    pH = brief.targets.get("pH")
    if not (_at_least(pH) and _at_most(pH)):
        notes.append(
            "The pH has no window with two ends, and preservatives depend on it; "
            "washes are mostly set to pH 5 to 5.5."
        )
    if not library.systems:
        notes.append(
            "The library names no preservative system, so nothing guards a water-based wash "
            "against microbes: add a [[system]] to library.toml before weighing anything."
        )
    if not _asks(brief, "thickener") and "viscosity" not in brief.targets:
        notes.append("Nothing asks for a thickener or a viscosity, so the answer may be as thin as water.")
    if not _asks(brief, "chelator") and any(
        "chelator" in material.functions for material in library.materials
    ):
        notes.append("No chelator is asked for, and none is bought for its own sake; usual is about 0.1 %.")
    for include in brief.include:
        extract = include.kind == "material" and "extract" in library.material[include.word].functions
        if (extract or (include.kind, include.word) == ("function", "extract")) and include.at_least is None:
            notes.append(
                f"'{include.word}' is asked for without an amount, so it may come at its least dose."
            )
    return notes


def _shape(brief: Brief) -> list[str]:
    notes = []
    if not _at_most(brief.targets.get("ingredients")):
        notes.append(
            "The number of ingredients has no ceiling; usual is a target such as ingredients at most 14."
        )
    if brief.weighing is None:
        notes.append("No [weighing] is given, so some amounts may be too small for your balance.")
    return notes
