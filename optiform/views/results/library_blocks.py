"""A library told in blocks: its list, one material, and the report on what is wrong or worth a look."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optiform.faults import listed
from optiform.views.render.blocks import Block, Bullets, Column, Heading, Paragraph, Table
from optiform.views.render.numbers import NOTHING, fixed, percent, short, span, wanted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.library.report import AcidityCheck, Gap, LibraryReport
    from optiform.library.about import About
    from optiform.library.models import Library, Material, Rule

SHOWN = 12
ACID_BASE = {"neutral": "declared neutral", "pH": "known from the pH of 10 % alone, with a wide spread"}


def list_blocks(library: Library, materials: Sequence[Material]) -> list[Block]:
    """Return materials as a table."""
    blocks: list[Block] = [Heading(library.name, 1)]
    if not materials:
        return [*blocks, Paragraph("No material of this library is of that kind.")]
    columns = (
        Column("id", head=True),
        Column("function"),
        Column(f"{library.currency}/kg", "decimal"),
        Column("use, % w/w", "right"),
        Column("name", sheds=1),
    )
    rows = tuple((m.id, m.function, fixed(m.price, 2), _use(m), m.name) for m in materials)
    noun = "material" if len(materials) == 1 else "materials"
    prices = f"Prices: {library.trust['price']}." if "price" in library.trust else ""
    return [
        *blocks,
        Paragraph(f"{len(materials)} {noun}. {prices}".strip(), "quiet"),
        Table("Materials of the library", columns, rows),
    ]


def _use(material: Material) -> str:
    if material.min_if_used == 0 and material.max_use == 100:
        return NOTHING
    return f"{short(material.min_if_used)} to {short(material.max_use)}"


def list_table(materials: Sequence[Material]) -> tuple[tuple[str, ...], list[tuple[str | float, ...]]]:
    """Return materials as columns and rows of a CSV."""
    columns = ("id", "name", "function", "phase", "price", "min_if_used", "max_use", "tags")
    rows: list[tuple[str | float, ...]] = [
        (m.id, m.name, m.function, m.phase or "", m.price, m.min_if_used, m.max_use, " ".join(m.tags))
        for m in materials
    ]
    return columns, rows


def material_blocks(library: Library, found: About) -> list[Block]:
    """Return everything that a library says of one material."""
    material = found.material
    blocks: list[Block] = [
        Heading(material.name, 1),
        Paragraph(f"{material.id}, in {library.name}", "quiet"),
        _fact_table(library, found),
        Heading("What it is made of"),
        _composition(found),
    ]
    rules = _rules(found)
    if rules:
        blocks += [Heading("Rules that touch it"), Bullets(rules)]
    if found.systems:
        blocks += [Heading("Preservative systems that it is part of"), Bullets(_systems(found))]
    for table in (_packs(library, found), _trials(found), _titration(found)):
        if table.rows:
            blocks += [Heading(table.caption), table]
    handling = _handling(material)
    if handling:
        blocks += [Heading("Caution"), Bullets(handling, tone="caution")]
    return blocks


def _fact_table(library: Library, found: About) -> Table:
    rows = [
        (name, value, _trust(library, found.material, column))
        for name, value, column in _facts(library, found)
    ]
    columns = (Column("", head=True), Column("value"), Column("origin"))
    return Table("Facts", columns, tuple(row for row in rows if row[1]))


def _composition(found: About) -> Table:
    columns = (
        Column("% w/w", "decimal"),
        Column("substance (INCI)", head=True),
        Column("specified", "right"),
        Column("counts as"),
    )
    rows = tuple(
        (percent(part.percent), part.inci, span(part.low, part.high), part.label) for part in found.parts
    )
    return Table("Composition, % w/w", columns, rows)


def _packs(library: Library, found: About) -> Table:
    columns = (Column("pack, g", "right"), Column(library.currency, "decimal"), Column("supplier"))
    rows = tuple((short(pack.size_g), fixed(pack.price, 2), pack.supplier) for pack in found.packs)
    return Table("Packs", columns, rows)


def _trials(found: About) -> Table:
    columns = (
        Column("% w/w", "decimal"),
        Column("mPa.s", "right"),
        Column("base", head=True),
        Column("origin"),
        Column("source"),
    )
    rows = tuple(
        (percent(t.percent), short(t.mPa_s), t.base, str(t.trust or "own"), t.source) for t in found.trials
    )
    return Table("Viscosity trials", columns, rows)


def _titration(found: About) -> Table:
    columns = (Column("pH", "decimal", head=True), Column("acid, mmol per kg", "decimal"))
    rows = tuple((short(point.pH), short(point.acid_mmol_per_kg)) for point in found.titrations)
    return Table("Titration", columns, rows)


def _trust(library: Library, material: Material, column: str) -> str:
    """Return where a fact comes from: what library.toml says of its column wins."""
    trust = library.trust.get(column) if column else None
    if column == "price" and material.price_trust is not None:
        trust = material.price_trust
    return str(trust or material.trust or "not stated") if column else ""


def _facts(library: Library, found: About) -> list[tuple[str, str, str]]:
    """Return name, value and column of each fact about a material."""
    m = found.material
    at_10 = wanted(m.pH_10_min, m.pH_10_max)
    extra = [(name.replace("_", " "), short(value), name) for name, value in m.extra.items()]
    return [
        ("function", ", ".join(m.functions), ""),
        ("phase", m.phase or "", ""),
        ("price", f"{fixed(m.price, 2)} {library.currency}/kg", "price"),
        ("used at", f"{_use(m)} % w/w" if _use(m) != NOTHING else "", "max_use"),
        ("works at pH", wanted(m.pH_min, m.pH_max), "pH_min"),
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
        subject = f"{rule.material} needs {ratio}{rule.other}"
        told.append((subject if needy else f"{verb} {subject}", rule))
    told += [(f"{pair.one} is never used with {pair.other}", pair) for pair in found.incompatible]
    for when in found.when:
        told.append((f"with {when.material}: {when.measure} {wanted(when.at_least, when.at_most)}", when))
    told += [(f"{rule.name} {wanted(rule.at_least, rule.at_most)}".strip(), rule) for rule in found.linear]
    for note in found.notes:
        beside = f" with {note.other}" if note.other else ""
        told.append((f"{note.material}{beside}: {note.say.rstrip('.')}", note))
    return tuple(_rule(text, rule) for text, rule in told)


def _rule(text: str, rule: Rule) -> str:
    because = f": {rule.why}" if rule.why else ""
    return f"{text}{because}{f' [{rule.trust}]' if rule.trust else ''}."


def _systems(found: About) -> tuple[str, ...]:
    told = []
    for system in found.systems:
        low, high = system.members[found.material.id]
        pH = f", at pH {wanted(*system.pH)}" if system.pH is not None else ""
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
    """Return the report on a library: all faults, or what it holds and what is worth a look."""
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
        if gaps:
            blocks += [Heading(title), Bullets(_shortened([_gap(gap) for gap in gaps]))]
    for title, names in (
        ("Substances that no material contains", report.unused_substances),
        ("Less than 0.01 % may be used: a trace that no one weighs in (min_if_used)", report.allows_traces),
        ("Named by the library's own limits, and no material contains it", report.unheld),
        ("Rows with neither source nor trust", report.unsourced),
    ):
        if names:
            blocks += [Heading(title), Bullets(_shortened(names))]
    if report.trust:
        blocks += [Heading("Where its numbers come from"), _origins(report)]
    return blocks


def _acidity(report: LibraryReport) -> list[Block]:
    if not report.acidity:
        return []
    outside = report.outside
    if not outside:
        inside = "The computed pH of 10 % in water lies inside the supplier's window for every material that has one."
        return [Paragraph(inside)]
    columns = (
        Column("material", head=True),
        Column("computed", "decimal"),
        Column("supplier", "right"),
        Column("off by", "decimal"),
    )
    rows = tuple(
        (check.material, fixed(check.computed, 1), _window(check), fixed(check.distance, 1))
        for check in outside
    )
    return [
        Heading("pH of 10 % in water, computed, outside the supplier's window"),
        Table("pH of 10 % in water outside the supplier's window", columns, rows),
        Paragraph(
            "A computed pH is that of a typical lot. Far outside, the composition or free_alkali does not describe the "
            "material as it is sold.",
            "quiet",
        ),
    ]


def _window(check: AcidityCheck) -> str:
    return wanted(check.low, check.high)


def _gap(gap: Gap) -> str:
    shown = gap.materials[:3]
    more = f" and {len(gap.materials) - len(shown)} more" if len(gap.materials) > len(shown) else ""
    return f"{gap.name}, in {', '.join(shown)}{more}"


def _shortened(items: Sequence[str]) -> tuple[str, ...]:
    """Return so many items as a reader takes in; `--format json` has all of them."""
    if len(items) <= SHOWN:
        return tuple(items)
    return (*items[:SHOWN], f"and {len(items) - SHOWN} more; --format json lists all")


def _origins(report: LibraryReport) -> Table:
    columns = (Column("file", sheds=1), Column("column", head=True), Column("numbers and their origin"))
    rows = tuple(
        (entry.table, entry.column, ", ".join(f"{count} {trust}" for trust, count in entry.numbers.items()))
        for entry in report.trust
    )
    return Table("Where the numbers of each column come from", columns, rows)
