"""Checks the measures, preservative systems and house rules of library.toml."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import TypeVar, get_args

from optiform.faults import Faults, nearest
from optiform.library.checking.names import Names
from optiform.library.models import (
    ChargeClass,
    ColumnMeasure,
    Library,
    Material,
    Part,
    PreservativeSystem,
    Substance,
)
from optiform.library.selection import (
    ReferenceProblem,
    parse_reference,
    reference_problem,
    same_reference,
    select,
)

Entry = TypeVar("Entry")
CHARGE_CLASSES: tuple[str, ...] = get_args(ChargeClass)
BUILTIN_MEASURES = (
    "cost", "active matter", *CHARGE_CLASSES, "mildness", "irritation load", "pH", "natural origin",
    "natural origin without water", "electrolyte", "buffer capacity", "viscosity", "emulsifier HLB", "required HLB",
    "ingredients",
)  # fmt: skip
TRUSTED_COLUMNS = tuple(
    name
    for model in (Material, Substance, Part)
    for name in model.model_fields
    if name not in ("id", "inci", "material", "extra", "trust", "source")
)


def measure_problem(library: Library, name: str) -> ReferenceProblem | None:
    """Tell why no measure of that name exists, or None when one does.

    Parameters
    ----------
    library : Library
        Its own measures, materials, tags and substances count.
    name : str
        A built-in measure, a user's measure, or ``material:``, ``substance:``, ``tag:``,
        ``function:``, ``share:`` or ``undissociated:`` with a word.
    """
    names = [*BUILTIN_MEASURES, *(measure.name for measure in library.measures)]
    if name in names:
        return None
    kind, colon, word = name.partition(":")
    if not colon:
        near = nearest(name, names)
        return ReferenceProblem(f"there is no measure '{name}'", "" if near else ", ".join(names), near)
    if kind == "share":
        return _share_problem(library, word)
    return reference_problem(library, f"substance:{word}" if kind == "undissociated" else name)


def _share_problem(library: Library, word: str) -> ReferenceProblem | None:
    if ":" in word:
        return reference_problem(library, word)
    kinds = ("material", "tag", "substance")
    if word in CHARGE_CLASSES or any(word in library.selections.by_kind[kind] for kind in kinds):
        return None
    near = nearest(word, CHARGE_CLASSES)
    message = f"there is no charge class, material, tag or substance '{word}'"
    return ReferenceProblem(message, nearest=f"share:{near}" if near else "")


def missing_values(library: Library, measure: ColumnMeasure) -> tuple[str, ...]:
    """Return the materials, or substances, that count in a user's measure and lack its number.

    Absent is not zero: a formula with one of them has no value of this measure.
    """
    column, basis = measure.column, measure.basis
    if basis == "total":
        counted: Collection[str] = library.material
    elif basis == "active matter":
        counted = select(library, "function", "surfactant").sure
    else:
        kind, _, word = basis.partition(":")
        counted = select(library, kind, word).sure
    if any(column in material.extra for material in library.materials):
        return tuple(material for material in counted if column not in library.material[material].extra)
    parts = (part for material in counted for part in library.composition[material])
    held = dict.fromkeys(part.inci for part in parts if part.percent > 0)
    substances = (library.substance[inci] for inci in held if inci in library.substance)
    return tuple(
        substance.inci
        for substance in substances
        if column not in substance.extra and (basis != "active matter" or substance.charge_class)
    )


@dataclass(frozen=True)
class _Checker:
    library: Library
    file: str
    materials: Names
    faults: Faults

    def fault(self, place: str, message: str, allowed: str = "", near: str = "") -> None:
        self.faults.add(place, message, allowed=allowed, nearest=near, file=self.file)

    def reference(self, place: str, text: str) -> None:
        kind, word = parse_reference(text)
        problem = reference_problem(self.library, text)
        if problem is not None and not (kind == "material" and word in self.materials):
            near = self.materials.nearest(word) if kind == "material" else problem.nearest
            self.fault(place, problem.message, problem.allowed, near)

    def measure(self, place: str, name: str) -> None:
        problem = measure_problem(self.library, name)
        if problem is not None:
            self.fault(place, problem.message, problem.allowed, problem.nearest)
        own = next((measure for measure in self.library.measures if measure.name == name), None)
        lacking = missing_values(self.library, own) if own is not None else ()
        if own is not None and lacking:
            shown = ", ".join(lacking[:12]) + (f" and {len(lacking) - 12} more" if len(lacking) > 12 else "")
            message = f"the rule needs the measure '{name}', but column {own.column} is empty for {shown}"
            self.fault(place, message, "a number for each of them; 0 where it is nothing")

    def bounds(self, place: str, at_least: float | None, at_most: float | None) -> None:
        if at_least is None and at_most is None:
            self.fault(place, "no bound is given", "at_least, at_most or both")
        elif at_least is not None and at_most is not None and at_least > at_most:
            self.fault(place, f"at_least {at_least:g} is above at_most {at_most:g}", "at_least <= at_most")


def check_rules(library: Library, file: str, materials: Names, faults: Faults) -> None:
    """Gather what is wrong with the rules of a library; `materials` are all that it writes, also in faulty rows."""
    checker = _Checker(library, file, materials, faults)
    own_columns = [measure.column for measure in library.measures]
    columns = [*TRUSTED_COLUMNS, "acid_mmol_per_kg", "mPa_s", "viscosity", "size_g", *own_columns]
    for column in library.trust:
        if column not in columns:
            near = nearest(column, columns)
            checker.fault(f"[trust], key {column}", f"there is no column '{column}'", near=near)
    _check_measures(checker)
    for place, system in _numbered("system", library.systems):
        _check_system(checker, f"{place} ({system.name})", system)
    for name in _repeated([system.name for system in library.systems]):
        checker.fault("[[system]]", f"two systems are called '{name}'")
    _check_bases(checker)
    _check_house_rules(checker)


def _check_bases(checker: _Checker) -> None:
    bases = checker.library.bases
    tried = sorted({trial.base for trial in checker.library.trials})
    for place, base in _numbered("base", bases):
        here = f"{place} ({base.name})"
        if base.name not in tried:
            near = nearest(base.name, tried)
            checker.fault(f"{here}, key name", "no trial was made in this base", ", ".join(tried), near)
        for reference, (low, high) in base.shares.items():
            where = f"{here}, key shares, key {reference}"
            checker.measure(where, f"share:{reference}")
            if not 0 <= low <= high <= 100:
                checker.fault(where, f"[{low:g}, {high:g}] is no window", "[lowest, highest] within 0 to 100")
        low, high = base.active
        if not 0 <= low <= high <= 100:
            checker.fault(f"{here}, key active", f"[{low:g}, {high:g}] is no window", "0 to 100 % w/w")
    for name in _repeated([base.name for base in bases]):
        checker.fault("[[base]]", f"two bases are called '{name}'")


def _check_house_rules(checker: _Checker) -> None:
    rules = checker.library.rules
    for place, needs in _numbered("needs", rules.needs):
        checker.reference(f"{place}, key material", needs.material)
        checker.reference(f"{place}, key other", needs.other)
        if same_reference(needs.material, needs.other):
            checker.fault(place, f"'{needs.material}' cannot need itself", "two different things")
    for place, pair in _numbered("incompatible", rules.incompatible):
        checker.reference(f"{place}, key one", pair.one)
        checker.reference(f"{place}, key other", pair.other)
        if same_reference(pair.one, pair.other):
            checker.fault(place, f"'{pair.one}' cannot be incompatible with itself", "two different things")
    for place, when in _numbered("when", rules.when):
        checker.reference(f"{place}, key material", when.material)
        if when.unless is not None:
            checker.reference(f"{place}, key unless", when.unless)
        checker.measure(f"{place}, key measure", when.measure)
        checker.bounds(place, when.at_least, when.at_most)
    _check_linear(checker)
    _check_notes(checker)
    for name in _repeated([rule.name for rule in rules.every if rule.name]):
        checker.fault("house rules", f"two rules are called '{name}'", "names of their own")


def _check_linear(checker: _Checker) -> None:
    for place, linear in _numbered("linear", checker.library.rules.linear):
        named = f"{place} ({linear.name})"
        checker.bounds(named, linear.at_least, linear.at_most)
        for i, term in enumerate(linear.terms, start=1):
            here = f"{named}, term {i}"
            if (term.measure is None) == (term.material is None):
                checker.fault(here, "a term names a measure or a material", "exactly one of the two")
            if term.measure is not None:
                checker.measure(f"{here}, key measure", term.measure)
            if term.material is not None:
                checker.reference(f"{here}, key material", term.material)


def _check_notes(checker: _Checker) -> None:
    for place, note in _numbered("note", checker.library.rules.note):
        checker.reference(f"{place}, key material", note.material)
        if note.other:
            checker.reference(f"{place}, key other", note.other)


def _check_measures(checker: _Checker) -> None:
    library = checker.library
    for name in _repeated([measure.name for measure in library.measures]):
        checker.fault("[[measure]]", f"two measures are called '{name}'")
    in_materials = {column for material in library.materials for column in material.extra}
    in_substances = {column for substance in library.substances for column in substance.extra}
    for place, measure in _numbered("measure", library.measures):
        here = f"{place} ({measure.name})"
        if measure.name in BUILTIN_MEASURES or ":" in measure.name:
            message = f"'{measure.name}' is the name of a built-in measure"
            checker.fault(f"{here}, key name", message, "another name, without a colon")
        if measure.column in in_materials and measure.column in in_substances:
            message = f"column '{measure.column}' stands in both materials and substances"
            checker.fault(f"{here}, key column", message, "one of the two")
        elif measure.column not in in_materials and measure.column not in in_substances:
            message = f"column '{measure.column}' has no number in materials or substances"
            checker.fault(f"{here}, key column", message, "a column with numbers")
        if measure.basis not in ("total", "active matter"):
            kind, _, _ = measure.basis.partition(":")
            if kind not in ("tag", "function", "substance", "material"):
                near = nearest(measure.basis, ("total", "active matter"))
                allowed = "total, active matter, tag:WORD or function:WORD"
                checker.fault(f"{here}, key basis", f"'{measure.basis}' is no basis", allowed, near)
            else:
                checker.reference(f"{here}, key basis", measure.basis)


def _check_system(checker: _Checker, place: str, system: PreservativeSystem) -> None:
    for member, (low, high) in system.members.items():
        here = f"{place}, key members, key {member}"
        checker.reference(here, member)
        if ":" in member:
            checker.fault(here, f"'{member}' is no material id", "the id of one material")
        if low > high:
            checker.fault(here, f"the window [{low:g}, {high:g}] is crossed", "[low, high]")
        elif low < 0 or high > 100:
            checker.fault(here, f"the window [{low:g}, {high:g}] is out of range", "0 to 100 % w/w")
        material = checker.library.material.get(member)
        if material is not None and low <= high:
            floor, ceiling = max(low, material.min_if_used), min(high, material.max_use)
            if floor > ceiling:
                window = f"[{material.min_if_used:g}, {material.max_use:g}]"
                message = f"the window [{low:g}, {high:g}] misses the use level {window} of '{member}'"
                checker.fault(here, message, "windows that overlap")
    _check_system_pH(checker, place, system)


def _check_system_pH(checker: _Checker, place: str, system: PreservativeSystem) -> None:
    for inci in system.undissociated_at_least:
        checker.reference(f"{place}, key undissociated_at_least", f"substance:{inci}")
        substance = checker.library.substance.get(inci)
        if substance is not None and not (substance.pka and substance.charge_acid_form == 0):
            where = f"{place}, key undissociated_at_least, key {inci}"
            allowed = "a substance with pka and charge_acid_form 0"
            checker.fault(where, f"'{inci}' has no uncharged acid form", allowed)
    low_pH, high_pH = system.pH or (None, None)
    if system.undissociated_at_least and high_pH is None:
        message = "the least uncharged acid is counted at the highest pH, and none is stated"
        checker.fault(f"{place}, key undissociated_at_least", message, "pH with an upper end")
    if system.margin and low_pH is not None and high_pH is not None and high_pH - low_pH < 2 * system.margin:
        message = f"{system.margin:g} from both ends leaves nothing of [{low_pH:g}, {high_pH:g}]"
        checker.fault(f"{place}, key margin", message, "at most half of the range")
    for end in (low_pH, high_pH):
        if end is not None and not 0 <= end <= 14:
            checker.fault(f"{place}, key pH", f"{end:g} is no pH", "0 to 14")
    if low_pH is not None and high_pH is not None and low_pH > high_pH:
        checker.fault(f"{place}, key pH", f"the window [{low_pH:g}, {high_pH:g}] is crossed", "[low, high]")


def _numbered(key: str, entries: tuple[Entry, ...]) -> Iterator[tuple[str, Entry]]:
    for number, entry in enumerate(entries, start=1):
        yield f"[[{key}]] {number}", entry


def _repeated(names: list[str]) -> list[str]:
    return sorted({name for name in names if names.count(name) > 1})
