"""Tells a library: its list, one material, and the report on its faults."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.bounds import window_text
from optiform.faults import listed
from optiform.library.selection import named
from optiform.views.words.blocks import (
    Block,
    Bullets,
    Column,
    Field,
    Heading,
    Paragraph,
    Rows,
    Table,
    bullets,
    section,
    tabulated,
)
from optiform.views.words.numbers import NOTHING, fixed, percent, short, span

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.library.report import Gap, LibraryReport
    from optiform.library.about import About
    from optiform.library.models import Library, Material, Rule

SHOWN = 12
ACID_BASE = {"neutral": "declared neutral", "pH": "known from the pH of 10 % alone, with a wide spread"}


def list_blocks(library: Library, materials: Sequence[Material]) -> list[Block]:
    """Return materials as a table."""
    blocks: list[Block] = [Heading(library.name, 1)]
    if not materials:
        return [*blocks, Paragraph("No material of this library is of that kind.")]
    fields = (
        Field("id", lambda m: m.id, head=True),
        Field("function", lambda m: m.function),
        Field(f"{library.currency}/kg", lambda m: fixed(m.price, 2), "decimal"),
        Field("use, % w/w", _use, "right"),
        Field("name", lambda m: m.name, sheds=1),
    )
    noun = "material" if len(materials) == 1 else "materials"
    prices = f"Prices: {library.trust['price']}." if "price" in library.trust else ""
    return [
        *blocks,
        Paragraph(f"{len(materials)} {noun}. {prices}".strip(), "quiet"),
        tabulated("Materials of the library", fields, materials),
    ]


def _use(material: Material) -> str:
    if material.min_if_used == 0 and material.max_use == 100:
        return NOTHING
    return f"{short(material.min_if_used)} to {short(material.max_use)}"


def list_table(materials: Sequence[Material]) -> Rows:
    """Return materials as columns and rows of a CSV."""
    columns = ("id", "name", "function", "phase", "price", "min_if_used", "max_use")
    return (*columns, "tags"), [
        (*(getattr(material, name) for name in columns), " ".join(material.tags)) for material in materials
    ]


def material_blocks(library: Library, found: About) -> list[Block]:
    """Return everything that a library says of one material."""
    material = found.material
    blocks: list[Block] = [
        Heading(material.name, 1),
        Paragraph(f"{material.id}, in {library.name}", "quiet"),
        _fact_table(library, found),
        Heading("What it is made of"),
        tabulated("Composition, % w/w", COMPOSITION, found.parts),
        *bullets("Rules that touch it", _rules(found)),
        *bullets("Preservative systems that it is part of", _systems(found)),
    ]
    for table in (
        tabulated("Packs", _packs(library.currency), found.packs),
        tabulated("Viscosity trials", TRIALS, found.trials),
        tabulated("Titration", TITRATION, found.titrations),
    ):
        blocks += section(table.caption, table) if table.rows else []
    return [*blocks, *bullets("Caution", _handling(material), "caution")]


def _fact_table(library: Library, found: About) -> Table:
    rows = [
        (name, value, _trust(library, found.material, column))
        for name, value, column in _facts(library, found)
    ]
    columns = (Column("", head=True), Column("value"), Column("origin"))
    return Table("Facts", columns, tuple(row for row in rows if row[1]))


COMPOSITION = (
    Field("% w/w", lambda part: percent(part.percent), "decimal"),
    Field("substance (INCI)", lambda part: part.inci, head=True),
    Field("specified", lambda part: span(part.low, part.high), "right"),
    Field("counts as", lambda part: part.label),
)
TRIALS = (
    Field("% w/w", lambda trial: percent(trial.percent), "decimal"),
    Field("mPa.s", lambda trial: short(trial.mPa_s), "right"),
    Field("base", lambda trial: trial.base, head=True),
    Field("origin", lambda trial: str(trial.trust or "own")),
    Field("source", lambda trial: trial.source),
)
TITRATION = (
    Field("pH", lambda point: short(point.pH), "decimal", head=True),
    Field("acid, mmol per kg", lambda point: short(point.acid_mmol_per_kg), "decimal"),
)


def _packs(currency: str) -> tuple[Field, ...]:
    return (
        Field("pack, g", lambda pack: short(pack.size_g), "right"),
        Field(currency, lambda pack: fixed(pack.price, 2), "decimal"),
        Field("supplier", lambda pack: pack.supplier),
    )


def _trust(library: Library, material: Material, column: str) -> str:
    """Return the origin of a fact: that of the price, of its column in library.toml, or of its row."""
    trust = library.trust.get(column) if column else None
    if column == "price" and material.price_trust is not None:
        trust = material.price_trust
    return str(trust or material.trust or "not stated") if column else ""


def _facts(library: Library, found: About) -> list[tuple[str, str, str]]:
    """Return name, value and column of each fact about a material."""
    m = found.material
    at_10 = window_text(m.pH_10_min, m.pH_10_max)
    extra = [(name.replace("_", " "), short(value), name) for name, value in m.extra.items()]
    return [
        ("function", ", ".join(m.functions), ""),
        ("phase", m.phase or "", ""),
        ("price", f"{fixed(m.price, 2)} {library.currency}/kg", "price"),
        ("used at", f"{_use(m)} % w/w" if _use(m) != NOTHING else "", "max_use"),
        ("works at pH", window_text(m.pH_min, m.pH_max), "pH_min"),
        ("pH of 10 % in water", at_10, "pH_10_min"),
        ("acid and base", ACID_BASE.get(m.acid_base or "", ""), "acid_base"),
        ("free alkali", f"{short(m.free_alkali)} mmol per kg" if m.free_alkali else "", "free_alkali"),
        ("natural origin", short(m.natural_origin) if m.natural_origin is not None else "", "natural_origin"),
        ("clarity", m.clarity or "", "clarity"),
        ("in stock", f"{short(m.stock_g)} g" if m.stock_g is not None else "", "stock_g"),
        ("swells for", f"{short(m.hydration_h)} h" if m.hydration_h is not None else "", "hydration_h"),
        ("add above", f"{short(m.add_above_C)} C" if m.add_above_C is not None else "", "add_above_C"),
        ("add below", f"{short(m.add_below_C)} C" if m.add_below_C is not None else "", "add_below_C"),
        ("density", f"{short(m.density)} g/mL" if m.density is not None else "", "density"),
        ("handling", ", ".join(m.handling), ""),
        *extra,
        ("tags", ", ".join(m.tags), ""),
        ("source", m.source, ""),
    ]


def _rules(found: About) -> tuple[str, ...]:
    told: list[tuple[str, Rule]] = []
    for rule, needy in found.needs:
        ratio = f"at least {short(rule.ratio)} times as much " if rule.ratio is not None else ""
        verb = "needs" if needy else "serves here:"
        subject = f"{named(rule.material)} needs {ratio}{named(rule.other)}"
        told.append((subject if needy else f"{verb} {subject}", rule))
    told += [
        (f"{named(pair.one)} is never used with {named(pair.other)}", pair) for pair in found.incompatible
    ]
    for when in found.when:
        unless = f" without {named(when.unless)}" if when.unless else ""
        whom = when.name or f"with {named(when.material)}{unless}"
        told.append((f"{whom}: {named(when.measure)} {window_text(when.at_least, when.at_most)}", when))
    told += [
        (f"{rule.name} {window_text(rule.at_least, rule.at_most)} {rule.unit}".strip(), rule)
        for rule in found.linear
    ]
    for note in found.notes:
        beside = f" with {named(note.other)}" if note.other else ""
        told.append((f"{named(note.material)}{beside}: {note.say.rstrip('.')}", note))
    return tuple(_rule(text, rule) for text, rule in told)


def _rule(text: str, rule: Rule) -> str:
    because = f": {rule.why}" if rule.why else ""
    return f"{text}{because}{f' [{rule.trust}]' if rule.trust else ''}."


def _systems(found: About) -> tuple[str, ...]:
    told = []
    for system in found.systems:
        low, high = system.members[found.material.id]
        pH = f", at pH {window_text(*system.pH)}" if system.pH is not None else ""
        told.append(f"{system.name}: {short(low)} to {short(high)} % w/w{pH}.")
    return tuple(told)


def _handling(material: Material) -> tuple[str, ...]:
    words = set(material.handling)
    told = []
    if words & {"corrosive", "eye-damage"}:
        told.append(
            "Injures eyes and skin as it is supplied: goggles and gloves; read its safety data sheet."
        )
    if "dust" in words:
        told.append("A powder that must not be breathed: dust mask, and air.")
    return tuple(told)


def report_blocks(report: LibraryReport) -> list[Block]:
    """Return the report on a library: all faults, or its contents and what deserves a second look."""
    if report.faults:
        noun = "fault" if len(report.faults) == 1 else "faults"
        return [
            Heading(f"{report.folder or 'The library'} cannot be used: {len(report.faults)} {noun}", 1),
            Bullets(listed(report.faults), tone="bad"),
        ]
    counts = "; ".join(f"{count} {what}" for what, count in (report.counts or {}).items() if count)
    blocks: list[Block] = [
        Heading(report.name, 1),
        Paragraph("No faults.", "good"),
        Paragraph(f"It holds {counts}."),
    ]
    blocks += _acidity(report)
    for title, gaps in (
        ("Acid-base behaviour unknown: a dosed pH refuses what contains them", report.unknown_charge),
        ("Surfactants without a mildness index", report.missing_mildness),
        ("Natural origin not stated", report.missing_natural_origin),
    ):
        blocks += bullets(title, _shortened([_gap(gap) for gap in gaps]))
    for title, names in (
        ("Substances that no material contains", report.unused_substances),
        ("Less than 0.01 % may be used: a trace that no one weighs in (min_if_used)", report.allows_traces),
        ("Named by the library's own limits, and no material contains it", report.unheld),
        ("Rows with neither source nor trust", report.unsourced),
    ):
        blocks += bullets(title, _shortened(names))
    if not report.trust:
        return blocks
    origins = tabulated("Where the numbers of each column come from", ORIGINS, report.trust)
    return [*blocks, *section("Where its numbers come from", origins)]


def _acidity(report: LibraryReport) -> list[Block]:
    if not report.acidity:
        return []
    outside = report.outside
    if not outside:
        inside = "The computed pH of 10 % in water lies inside the supplier's window for every material that has one."
        return [Paragraph(inside)]
    return [
        Heading("pH of 10 % in water, computed, outside the supplier's window"),
        tabulated("pH of 10 % in water outside the supplier's window", OUTSIDE, outside),
        Paragraph(
            "A computed pH is that of a typical lot. Far outside, the composition or free_alkali does not describe the "
            "material as it is sold.",
            "quiet",
        ),
    ]


OUTSIDE = (
    Field("material", lambda check: check.material, head=True),
    Field("computed", lambda check: fixed(check.computed, 1), "decimal"),
    Field("supplier", lambda check: window_text(check.low, check.high), "right"),
    Field("off by", lambda check: fixed(check.distance, 1), "decimal"),
)
ORIGINS = (
    Field("file", lambda entry: entry.table, sheds=1),
    Field("column", lambda entry: entry.column, head=True),
    Field(
        "numbers and their origin",
        lambda entry: ", ".join(f"{count} {trust}" for trust, count in entry.numbers.items()),
    ),
)


def _gap(gap: Gap) -> str:
    shown = gap.materials[:3]
    more = f" and {len(gap.materials) - len(shown)} more" if len(gap.materials) > len(shown) else ""
    return f"{gap.name}, in {', '.join(shown)}{more}"


def _shortened(items: Sequence[str]) -> tuple[str, ...]:
    """Return the first items of a list, and how many more there are; `--format json` has all."""
    if len(items) <= SHOWN:
        return tuple(items)
    return (*items[:SHOWN], f"and {len(items) - SHOWN} more; --format json lists all")
