"""Tells which usual limits a brief lacks; they are never added as rules."""

from __future__ import annotations

from optiform.brief.models import Brief, Target
from optiform.library.selection import parse_reference, resolve
from optiform.measures import Catalogue


def missing_guards(brief: Brief) -> tuple[str, ...]:
    """Return a sentence for each usual guard that the brief, and its library, leave out.

    Nothing is changed: the engine imposes only what some file states. The figures named as usual are common practice,
    no source.
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


def _floor(brief: Brief, measure: str) -> bool:
    """Tell whether a target, or what is held of a baseline, keeps a measure above nothing."""
    if _at_least(brief.targets.get(measure)):
        return True
    baseline = brief.baseline
    if baseline is None or measure not in baseline.hold:
        return False
    amounts = brief.library.arrays.amounts(baseline.lines)
    today = Catalogue(brief.library).find(measure).value(amounts)
    return today is not None and today > baseline.hold[measure]


def _held(brief: Brief, measure: str) -> bool:
    """Tell whether a measure is held within a window around that of a baseline."""
    return brief.baseline is not None and measure in brief.baseline.hold


def _kept(brief: Brief, function: str) -> bool:
    """Tell whether some material of a function stays as it is in a baseline."""
    if brief.baseline is None:
        return False
    used = {name for name, percent in brief.baseline.lines if percent > 0}
    references = [word for word in brief.baseline.keep if parse_reference(word)[0] != "substance"]
    kept = {name for word in references for name in resolve(word, brief.library)} & used
    return any(function in brief.library.material[name].functions for name in kept)


def _asks(brief: Brief, function: str) -> bool:
    """Tell whether includes, choices, targets or a baseline ask for some material of a function."""
    library = brief.library
    if _kept(brief, function):
        return True
    for include in brief.include:
        if include.kind == "function" and include.word == function:
            return True
        if include.kind == "material" and function in library.material[include.word].functions:
            return True
    chosen = any(choose.function == function and (choose.at_least or 0) > 0 for choose in brief.choose)
    return chosen or _floor(brief, f"function:{function}")


def _blend(brief: Brief) -> list[str]:
    notes: list[str] = []
    if not any(share.each is not None and share.at_most is not None for share in brief.share):
        notes.append(
            "No share caps a single surfactant, so the answer may rest on one alone; "
            "usual is at most 65 % of active matter."
        )
    if not any(choose.function == "surfactant" and (choose.at_least or 0) >= 2 for choose in brief.choose):
        notes.append("No choice asks for at least two surfactants; usual are two to four.")
    in_share = any(share.of == "anionic" and share.at_least for share in brief.share)
    if not (in_share or _floor(brief, "share:anionic") or _floor(brief, "anionic")):
        notes.append(
            "No anionic share is asked for; an all-nonionic blend lathers poorly and is hard to thicken. "
            "Usual are 30 to 65 % of active matter."
        )
    if not _floor(brief, "active matter"):
        notes.append("Active matter has no floor, so the cheapest wash may be little more than water.")
    gentle = _floor(brief, "mildness") or _at_most(brief.targets.get("irritation load"))
    gentle = gentle or _held(brief, "irritation load")
    if brief.aim.measure == "cost" and not gentle:
        notes.append("The aim is cost and gentleness has no floor, so mildness will be what is saved on.")
    return notes


def _support(brief: Brief) -> list[str]:
    library, notes = brief.library, []
    pH = brief.targets.get("pH")
    if pH is None and not _held(brief, "pH"):
        notes.append(
            "Nothing is asked of the pH: it may stand wherever the preservative system, the materials and the "
            "library's rules allow; washes are mostly set to pH 5 to 5.5."
        )
    elif not (_at_least(pH) and _at_most(pH)) and not _held(brief, "pH"):
        notes.append(
            "The pH has no window with two ends, and preservatives depend on it; "
            "washes are mostly set to pH 5 to 5.5."
        )
    if not library.systems:
        notes.append(
            "The library names no preservative system, so nothing guards a water-based wash "
            "against microbes: add a [[system]] to library.toml before weighing anything."
        )
    thick = _asks(brief, "thickener") or "viscosity" in brief.targets or _held(brief, "viscosity")
    if not thick:
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
    few = _held(brief, "ingredients") or (
        brief.baseline is not None and brief.baseline.at_most_new is not None
    )
    if not few and not _at_most(brief.targets.get("ingredients")):
        notes.append(
            "The number of ingredients has no ceiling; usual is a target such as ingredients at most 14."
        )
    if brief.weighing is None:
        notes.append("No [weighing] is given, so some amounts may be too small for your balance.")
    return notes
