"""Reports on a library: its faults, and what in it deserves a second look."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from optiform.answers.describe.traces import TRACE
from optiform.faults import Fault, Faults
from optiform.law.reading import own_files, own_rows
from optiform.library import load_library, select
from optiform.library.checking.names import Names
from optiform.library.models import Frozen, Library, Material, PreservativeSystem, Substance, Trust
from optiform.measures.acidity import charge_curves

TEN_PERCENT = 10.0
KEYS = ("id", "inci", "material", "name", "name_us", "function", "also", "phase", "tags", "handling", "extra",
        "trust", "source", "charge_class", "pka_kind", "label", "clarity")  # fmt: skip


@dataclass(frozen=True)
class AcidityCheck:
    """The pH of 10 % of a material in water, computed, beside the supplier's window.

    Attributes
    ----------
    computed : float, optional
        None where no pH can be told.
    low, high : float, optional
        The supplier's window at 10 %.
    distance : float, optional
        How far outside the window the computed pH lies; 0 inside.
    unknown : tuple of str
        Substances in it whose acid-base behaviour is unknown; they were taken as neutral.
    """

    material: str
    name: str
    computed: float | None
    low: float | None
    high: float | None
    distance: float | None
    unknown: tuple[str, ...] = ()


@dataclass(frozen=True)
class ColumnTrust:
    """Where the numbers of one column come from: how many of each trust, "not stated" included."""

    table: str
    column: str
    numbers: Mapping[str, int]


@dataclass(frozen=True)
class Gap:
    """Something that the library does not state, and the materials that this concerns."""

    name: str
    materials: tuple[str, ...]


@dataclass(frozen=True)
class LibraryReport:
    """What a library holds, everything wrong with it, and what to look at.

    Attributes
    ----------
    faults : tuple of Fault
        Why the library cannot be used; everything else is empty then.
    counts : mapping of str to int
        How many materials, substances, systems, rules ... there are.
    acidity : tuple of AcidityCheck
        Every material with a supplier's window, the farthest outside first.
    unknown_charge, missing_mildness, missing_natural_origin : tuple of Gap
        Substances that materials contain and whose data lack: acid-base behaviour; the mildness
        index of a surfactant; the natural origin index.
    unused_substances : tuple of str
        Substances that no material contains.
    allows_traces : tuple of str
        Materials, dyes and water apart, of which less than 0.01 % may be used.
    unheld : tuple of str
        Substances that the library's own limits or allergens name and no material contains, with the
        nearest that one does.
    unsourced : tuple of str
        Rows with neither source nor trust, e.g. ``materials decyl-glucoside``.
    trust : tuple of ColumnTrust
        One entry per column that holds numbers.
    """

    name: str
    folder: str
    currency: str = ""
    faults: tuple[Fault, ...] = ()
    counts: Mapping[str, int] | None = None
    acidity: tuple[AcidityCheck, ...] = ()
    unknown_charge: tuple[Gap, ...] = ()
    missing_mildness: tuple[Gap, ...] = ()
    missing_natural_origin: tuple[Gap, ...] = ()
    unused_substances: tuple[str, ...] = ()
    allows_traces: tuple[str, ...] = ()
    unheld: tuple[str, ...] = ()
    unsourced: tuple[str, ...] = ()
    trust: tuple[ColumnTrust, ...] = ()

    @property
    def outside(self) -> tuple[AcidityCheck, ...]:
        """Return the materials whose computed pH lies outside the supplier's window, or nowhere."""
        return tuple(check for check in self.acidity if check.distance is None or check.distance > 0)


def report_on(path: str | Path | None = None) -> LibraryReport:
    """Read a library and report on it; its faults are part of the report, not an error.

    Parameters
    ----------
    path : str or Path, optional
        As for `load_library`; absent: the starter library.
    """
    faults = Faults()
    with faults.gathering():
        library = load_library(path)
    with faults.gathering():
        own_rows(*own_files(Path(path)) if path is not None else (None, None))
    if faults.found:
        return LibraryReport(name="", folder="" if path is None else str(path), faults=tuple(faults.found))
    return check_library(library)


def check_library(library: Library) -> LibraryReport:
    """Report on a library that could be loaded.

    Notes
    -----
    A computed pH is that of a typical lot. One far outside the supplier's window means
    that the composition or `free_alkali` does not describe the material as it is sold.
    """
    held = _held(library)
    surfactants = set(select(library, "function", "surfactant").sure)
    declared = {material.id for material in library.materials if material.natural_origin is not None}
    mildness, origin, charge = [], [], []
    for substance in library.substances:
        materials = held.get(substance.inci, ())
        washing = tuple(material for material in materials if material in surfactants)
        undeclared = tuple(material for material in materials if material not in declared)
        if substance.charge_class is not None and substance.mildness is None and washing:
            mildness.append(Gap(substance.inci, washing))
        if substance.natural_origin is None and substance.inci != "Aqua" and undeclared:
            origin.append(Gap(substance.inci, undeclared))
        lacking = tuple(name for name in materials if library.material[name].acid_base is None)
        if not substance.charge_known and lacking:
            charge.append(Gap(substance.inci, lacking))
    return LibraryReport(
        name=library.name,
        folder=library.folder,
        currency=library.currency,
        counts=_counts(library),
        acidity=_acidity(library),
        unknown_charge=tuple(charge),
        missing_mildness=tuple(mildness),
        missing_natural_origin=tuple(origin),
        unused_substances=tuple(inci for inci in library.substance if inci not in held),
        allows_traces=tuple(
            material.id
            for material in library.materials
            if material.min_if_used < TRACE and material.function not in ("water", "colourant")
        ),
        unheld=_unheld(library, held),
        unsourced=_unsourced(library),
        trust=_trust(library),
    )


def _unheld(library: Library, held: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """Return what the library's own law tables name in vain, each with its file and the nearest that is held."""
    if not library.folder:
        return ()
    limits, allergens = own_rows(*own_files(Path(library.folder)))
    named = [("limits.csv", name) for limit in limits for name in limit.substances]
    named += [("allergens.csv", name) for allergen in allergens for name in allergen.members]
    known, folded = Names(held), {name.casefold() for name in held}
    found = []
    for file, name in dict.fromkeys(named):
        if name.casefold() not in folded:
            near = known.nearest(name)
            found.append(f"{file}: {name}" + (f" (did you mean {near}?)" if near else ""))
    return tuple(found)


def _held(library: Library) -> dict[str, tuple[str, ...]]:
    """Return the materials that contain each substance."""
    held: dict[str, list[str]] = {}
    for part in library.parts:
        if part.percent > 0:
            held.setdefault(part.inci, []).append(part.material)
    return {inci: tuple(materials) for inci, materials in held.items()}


def _counts(library: Library) -> dict[str, int]:
    rules = library.rules
    return {
        "materials": len(library.materials),
        "substances": len(library.substances),
        "parts of compositions": len(library.parts),
        "preservative systems": len(library.systems),
        "rules": len(rules.every),
        "own measures": len(library.measures),
        "titrated materials": len({point.material for point in library.titrations}),
        "viscosity trials": len(library.trials),
        "packs": len(library.packs),
    }


def _acidity(library: Library) -> tuple[AcidityCheck, ...]:
    stated = [
        material
        for material in library.materials
        if material.pH_10_min is not None or material.pH_10_max is not None
    ]
    checks = [_check_acidity(library, material) for material in stated]
    far_first = sorted(checks, key=lambda check: (-(check.distance or 0.0), check.material))
    return tuple(sorted(far_first, key=lambda check: check.distance is not None))


def _check_acidity(library: Library, material: Material) -> AcidityCheck:
    """Compare 10 % of a material in water with the supplier's window."""
    amounts = library.arrays.amounts([(material.id, TEN_PERCENT), (library.water.id, 100.0 - TEN_PERCENT)])
    curves = charge_curves(library)
    settled = curves.settle(amounts)
    computed = settled.pH if settled is not None else None
    low, high = material.pH_10_min, material.pH_10_max
    distance = None
    if computed is not None:
        below = low - computed if low is not None else 0.0
        above = computed - high if high is not None else 0.0
        distance = max(0.0, below, above)
    unknown: tuple[str, ...] = ()
    if curves.unknown[library.arrays.material_index[material.id]]:
        parts = library.composition[material.id]
        unknown = tuple(part.inci for part in parts if not library.substance[part.inci].charge_known)
    return AcidityCheck(material.id, material.name, computed, low, high, distance, unknown)


def _unsourced(library: Library) -> tuple[str, ...]:
    rows: list[tuple[str, Material | Substance | PreservativeSystem]] = [
        *((f"materials {material.id}", material) for material in library.materials),
        *((f"substances {substance.inci}", substance) for substance in library.substances),
        *((f"system {system.name}", system) for system in library.systems),
    ]
    return tuple(name for name, row in rows if not row.source and row.trust is None)


def _trust(library: Library) -> tuple[ColumnTrust, ...]:
    """Return the trust of every column of numbers; what library.toml says of a column wins."""
    tables: tuple[tuple[str, tuple[Frozen, ...]], ...] = (
        ("materials", library.materials),
        ("substances", library.substances),
        ("composition", library.parts),
    )
    found = []
    for table, items in tables:
        columns = [name for name in type(items[0]).model_fields if name not in KEYS] if items else []
        own = sorted({name for item in items for name in getattr(item, "extra", ())})
        for column in [*columns, *(name for name in own if name not in columns)]:
            numbers = Counter(_origin(library, item, column) for item in items if _states(item, column))
            if numbers:
                order = [*Trust, "not stated"]
                counted = {str(trust): numbers[str(trust)] for trust in order if numbers[str(trust)]}
                found.append(ColumnTrust(table, column, counted))
    return tuple(found)


def _states(item: Frozen, column: str) -> bool:
    """Tell whether a row states a number of its own in a column."""
    if column in getattr(item, "extra", ()):
        return True
    info = type(item).model_fields.get(column)
    if info is None:
        return False
    value = getattr(item, column)
    return info.is_required() or value != info.get_default(call_default_factory=True, validated_data={})


def _origin(library: Library, item: Frozen, column: str) -> str:
    trust = library.trust.get(column) or getattr(item, "trust", None)
    return str(trust) if trust is not None else "not stated"
