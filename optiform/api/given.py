"""What a question may be given: a path, a value, or what another question returned."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from optiform.answers.model.answer import Answer
from optiform.answers.model.formula import Formula
from optiform.brief import Brief, load_brief
from optiform.faults import BadInput, Fault, Faults
from optiform.library import Library, load_library
from optiform.library.files.columns import shortened
from optiform.library.formulas import TypedFormula, read_formula
from optiform.library.models import GRAMS, LEAST_GRAMS, MOST, MOST_GRAMS
from optiform.library.typed.masses import read_mass
from optiform.library.typed.matching import matcher, told_matches

File = str | Path
AnyBrief = File | Brief
AnyLibrary = File | Library
AnyFormula = File | TypedFormula | Formula | Mapping[str, float]
Mass = float | str


def brief_of(brief: AnyBrief | AnyFormula) -> Brief:
    """Return a brief, read from its file where it is a path."""
    if isinstance(brief, Brief):
        return brief
    if isinstance(brief, str | Path):
        return load_brief(brief)
    allowed = 'a brief, or a formula with an aim such as "cheaper"'
    raise BadInput([Fault("", "brief", f"a {type(brief).__name__} is no brief", allowed)])


def library_of(library: AnyLibrary | None) -> Library:
    """Return a library, read from its folder where it is a path; the starter library where it is absent."""
    return library if isinstance(library, Library) else load_library(library)


def ground_of(
    formula: AnyFormula, brief: AnyBrief | None, library: AnyLibrary | None
) -> tuple[Library, Brief | None]:
    """Return the library that a formula draws on, and the brief to hold it against.

    A formula of an answer brings both along, unless others are named.
    """
    if brief is not None and library is not None:
        raise BadInput([Fault("", "library", "a brief names its own library", "a brief or a library")])
    if brief is not None:
        asked = brief_of(brief)
        return asked.library, asked
    if library is None and isinstance(formula, Formula) and formula.brief is not None:
        return formula.brief.library, formula.brief
    return library_of(library), None


def formula_of(formula: AnyFormula, library: Library) -> TypedFormula:
    """Return a formula in % w/w of a library's materials."""
    if isinstance(formula, TypedFormula):
        return formula
    if isinstance(formula, str | Path):
        return read_formula(formula, library)
    if isinstance(formula, Formula):
        name = formula.brief.title if formula.brief is not None else f"Formula {formula.rank}"
        lines = tuple((line.material, line.percent) for line in formula.lines)
        return TypedFormula(name, lines, math.fsum(percent for _, percent in lines))
    if isinstance(formula, Mapping):
        return _from_amounts(formula, library)
    allowed = "a path, a mapping of % w/w by material, or a formula"
    raise BadInput([Fault("", "formula", f"a {type(formula).__name__} is no formula", allowed)])


def _from_amounts(amounts: Mapping[str, float], library: Library) -> TypedFormula:
    """Return a formula given as % w/w by material: an id, a name or an INCI name."""
    faults, known = Faults(), matcher(library)
    lines: dict[str, float] = {}
    matched = []
    if not amounts:
        faults.add("formula", "it holds nothing", allowed="% w/w by material")
    for text, percent in amounts.items():
        found, by = known.candidates(text)
        if len(found) != 1:
            known.ask(text, found, "formula", faults)
        if not _is_number(percent, 0.0, MOST):
            place = f"formula, {shortened(text)}"
            faults.add(place, f"{shortened(str(percent))} %", allowed=f"a number from 0 to {MOST:g}")
        elif len(found) == 1:
            lines[found[0]] = lines.get(found[0], 0.0) + percent
            matched += [known.matched(text, found[0], by)] if text != found[0] else []
    faults.raise_if_any()
    total, told = math.fsum(lines.values()), told_matches(matched)
    return TypedFormula("", tuple(lines.items()), total, notes=told, matched=tuple(matched))


def rework_of(start: AnyBrief | AnyFormula, aim: str, library: AnyLibrary | None) -> Brief:
    """Return the brief for changing a formula towards an aim."""
    from optiform.brief import brief_from, reformulation_brief

    if isinstance(start, Brief):
        raise BadInput([Fault(start.file, "aim", "a brief states its own", "a formula, or no aim")])
    held, _ = ground_of(start, None, library)
    typed = formula_of(start, held)
    return brief_from(reformulation_brief(typed, held, aim, typed.name or "today"), held, baseline=typed)


def grams_of(mass: Mass, place: str = "batch") -> float:
    """Return grams; a number is grams, a text says its unit."""
    if isinstance(mass, str):
        return read_mass(mass, place)
    if not _is_number(mass, LEAST_GRAMS, MOST_GRAMS):
        raise BadInput([Fault("", place, f"{shortened(str(mass))} g", GRAMS)])
    return float(mass)


def _is_number(value: object, least: float, most: float) -> bool:
    return isinstance(value, int | float) and least <= value <= most


def at_home(answer: Answer, brief: Brief | None = None) -> Answer:
    """Return an answer whose formulas know the brief that they were made for."""
    home = brief or answer.brief
    return replace(answer, formulas=tuple(replace(formula, brief=home) for formula in answer.formulas))
