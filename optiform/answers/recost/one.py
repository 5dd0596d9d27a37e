"""Solves one brief, or prices one formula, at the old and at the new prices."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from functools import cache
from typing import Literal

import numpy as np
from pydantic import TypeAdapter, ValidationError

from optiform.answers.describe.formula import structure_of
from optiform.answers.evaluate.judging import Judge
from optiform.answers.evaluate.typed_formula import evaluate
from optiform.brief.models import Brief
from optiform.faults import BadInput, listed
from optiform.library.formulas import TypedFormula
from optiform.library.models import Library
from optiform.library.overrides import with_prices
from optiform.library.typed.matching import told_matches
from optiform.program import Key
from optiform.search.first_formula import first_listed
from optiform.tolerances import MONEY
from optiform.vectors import Floats

Kind = Literal["brief", "formula"]
Outcome = Literal["kept", "adjusted", "changed", "broken", "freed", "impossible", "fault", "failed"]
SHOWN = 5e-4
"""A material's change of amount worth naming, % w/w."""


@dataclass(frozen=True)
class Task:
    """One file of a folder, without its library, ready to be sent to a worker.

    Attributes
    ----------
    key : str
        What the result depends on, hashed: the file, its library, the prices, the program's version.
    library : str
        Which of the shared libraries it draws on; prices still the old ones.
    brief, formula
        One of the two; the brief carries no library.
    """

    key: str
    name: str
    library: str
    brief: Brief | None = None
    formula: TypedFormula | None = None

    @property
    def kind(self) -> Kind:
        """Tell whether it is a brief or a formula."""
        return "brief" if self.formula is None else "formula"


@dataclass(frozen=True)
class UnitContents:
    """What the contents of one sold unit cost before, unchanged at the new prices, and at best [currency/unit]."""

    before: float | None
    same: float | None
    after: float | None


@dataclass(frozen=True)
class Recosted:
    """What a price list does to one product.

    Attributes
    ----------
    outcome : str
        kept (the same formula stays best), adjusted (the same choices, other amounts), changed (other
        choices), broken (possible at the old prices, not at the new), freed (the reverse), impossible (at
        both), fault (the file cannot be used), failed (the program could not cope with it).
    cost_before, cost_same, cost_after : float, optional  [currency/kg]
        The best formula at the old prices; that same formula at the new prices; the best at the new.
    saving : float, optional  [currency/kg]
        What solving again saves against keeping the old formula.
    structure_before, structure_after : tuple of str
        What makes the two formulas different, where they are.
    changes : tuple of (material id, % w/w before, % w/w after)
    breaks : tuple of str
        Of a brief: what its old formula no longer meets at the new prices. Of a formula: whatever it
        breaks, at any price.
    faults : tuple of str
        Why the file could not be read, or what went wrong with it.
    matched : tuple of str
        What the names of a typed formula were taken for.
    unit : UnitContents, optional
        The three costs in one sold unit, where its grams were given.
    """

    key: str
    name: str
    kind: Kind
    outcome: Outcome
    title: str = ""
    currency: str = ""
    cost_before: float | None = None
    cost_same: float | None = None
    cost_after: float | None = None
    saving: float | None = None
    structure_before: tuple[str, ...] = ()
    structure_after: tuple[str, ...] = ()
    changes: tuple[tuple[str, float, float], ...] = ()
    breaks: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    matched: tuple[str, ...] = ()
    unit: UnitContents | None = None


def to_text(result: Recosted) -> str:
    """Return a result as one line of ASCII, without its end."""
    return json.dumps(asdict(result), sort_keys=True)


def from_text(text: str | bytes) -> Recosted | None:
    """Return the result that a line states, every field of its own type, or None where it states none."""
    try:
        return _adapter().validate_json(text, strict=True)
    except ValidationError:
        return None


@cache
def _adapter() -> TypeAdapter[Recosted]:
    return TypeAdapter(Recosted)


def in_one_unit(result: Recosted, unit_g: float) -> Recosted:
    """Return a result with what its costs come to in one sold unit of so many grams."""
    costs = (result.cost_before, result.cost_same, result.cost_after)
    return replace(
        result, unit=UnitContents(*(None if cost is None else cost * unit_g / 1000.0 for cost in costs))
    )


def recost_one(task: Task, library: Library, prices: Mapping[str, float]) -> Recosted:
    """Solve one brief, or price one formula, at the old prices of the library and at the new ones [currency/kg].

    Materials that the library lacks are passed over. Whatever goes wrong with it becomes its result: one bad file never
    stops the rest.
    """
    try:
        dearer = with_prices(
            library, {name: price for name, price in prices.items() if name in library.material}
        )
        if task.formula is not None:
            return _formula(task, task.formula, library, dearer)
        assert task.brief is not None
        return _brief(task, task.brief, library, dearer)
    except BadInput as bad:
        return Recosted(task.key, task.name, task.kind, "fault", faults=listed(bad.faults))
    except Exception as error:  # whatever it is, the other products are still asked for
        return failed(task, f"{type(error).__name__}: {error}")


def failed(task: Task, reason: str) -> Recosted:
    """Return what is said of a product that the program could not cope with."""
    words = f"{task.name}: this program failed, and the file is not to blame ({reason})"
    return Recosted(task.key, task.name, task.kind, "failed", faults=(words,))


def _formula(task: Task, formula: TypedFormula, library: Library, dearer: Library) -> Recosted:
    amounts = library.arrays.amounts(formula.lines)
    before, same = (float(held.arrays.price @ amounts) / 100.0 for held in (library, dearer))
    about = Recosted(task.key, task.name, "formula", "kept", formula.name, library.currency)
    (judged,) = evaluate(formula, library).formulas
    return replace(
        about,
        cost_before=before,
        cost_same=same,
        cost_after=same,
        saving=0.0,
        breaks=tuple(f"{broken.requirement.title}: {broken.message}" for broken in judged.breaks),
        matched=told_matches(formula.matched),
    )


@dataclass(frozen=True, eq=False)
class _Best:
    """The formula that a design lists first."""

    amounts: Floats
    structure: tuple[str, ...]


def _brief(task: Task, brief: Brief, library: Library, dearer: Library) -> Recosted:
    old_brief, new_brief = (brief.model_copy(update={"library": held}) for held in (library, dearer))
    old, new = _best(old_brief), _best(new_brief)
    about = Recosted(task.key, task.name, "brief", "impossible", brief.title, library.currency)
    before = None if old is None else _cost(old, library)
    same = None if old is None else _cost(old, dearer)
    after = None if new is None else _cost(new, dearer)
    about = replace(about, cost_before=before, cost_same=same, cost_after=after)
    if old is None or new is None or same is None or after is None:
        outcome: Outcome = "impossible" if old is new else "freed" if old is None else "broken"
        return replace(about, outcome=outcome, breaks=_no_longer(old_brief, new_brief, old))
    if brief.aim.measure == "cost" and same <= after + MONEY:
        new, after = old, same
    changes = _changes(library, old, new)
    return replace(
        about,
        outcome="changed" if old.structure != new.structure else "adjusted" if changes else "kept",
        cost_after=after,
        saving=same - after,
        structure_before=old.structure,
        structure_after=new.structure,
        changes=changes,
        breaks=_no_longer(old_brief, new_brief, old),
    )


def _best(brief: Brief) -> _Best | None:
    """Return the formula that a design lists first, or None where there is none."""
    if brief.certainty is not None:
        from optiform.answers.design.formulas import design

        for formula in design(brief).formulas[:1]:
            amounts = brief.library.arrays.amounts((line.material, line.percent) for line in formula.lines)
            return _Best(amounts, formula.structure)
        return None
    first = first_listed(brief).polished
    if first is None:
        return None
    names = first.program.library.arrays.materials
    lines = zip(names, first.amounts.tolist(), strict=True)
    return _Best(brief.library.arrays.amounts(lines), structure_of(first.program, first.values))


def _cost(found: _Best, library: Library) -> float:
    return float(library.arrays.price @ found.amounts) / 100.0


def _no_longer(old_brief: Brief, new_brief: Brief, old: _Best | None) -> tuple[str, ...]:
    """Return what the old formula meets at the old prices and not at the new ones."""
    if old is None or not _limits_cost(new_brief):
        return ()
    now = _broken(new_brief, old)
    before = _broken(old_brief, old) if now else {}
    return tuple(title for key, title in now.items() if key not in before)


def _broken(brief: Brief, found: _Best) -> dict[Key, str]:
    """Return the titles of what amounts do not meet in a brief, by their keys."""
    judge = Judge.of(brief)
    broken = judge.breaks(judge.program(found.amounts), found.amounts)
    return {item.requirement.key: item.requirement.title for item in broken}


def _limits_cost(brief: Brief) -> bool:
    """Tell whether prices play any part beside the aim."""
    rules = brief.model_dump_json(include={"targets", "share", "ratio", "rules", "baseline"})
    own = any(measure.column == "price" for measure in brief.library.measures)
    return own or "cost" in rules or "cost" in brief.library.rules.model_dump_json()


def _changes(library: Library, old: _Best, new: _Best) -> tuple[tuple[str, float, float], ...]:
    """Return the materials whose amounts differ, the largest difference first."""
    difference = np.abs(new.amounts - old.amounts)
    order = [int(i) for i in np.argsort(-difference, kind="stable") if difference[i] > SHOWN]
    names = library.arrays.materials
    return tuple((names[i], float(old.amounts[i]), float(new.amounts[i])) for i in order)
