"""Tells a trade-off: findings, a plot, a table, and where the materials change."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence

from optiform.answers.tradeoff import Curve, Knot, Stretch, TradeOff
from optiform.tolerances import ROUNDING
from optiform.views.results.conflict import conflict_blocks
from optiform.views.words import tradeoff_words as said
from optiform.views.words.blocks import (
    Block,
    Bullets,
    Column,
    Contents,
    Heading,
    Paragraph,
    Rows,
    Source,
    Table,
    bullets,
)
from optiform.views.words.numbers import NOTHING, digits_of, fixed, percent
from optiform.views.words.tradeoff_scale import drawn as drawn_part
from optiform.views.words.tradeoff_scale import round_bounds

STRUCTURE = "*"
PLOT_WIDTH, PLOT_HEIGHT = 60, 14
MARKS = "*o+x#@%&"
Row = tuple[str, ...]


def tradeoff_blocks(
    found: TradeOff, *, everything: bool = False, picture: Callable[[], Block] | None = None
) -> list[Block]:
    """Return a trade-off as blocks; `everything` is every knot, and without a `picture` characters draw the curves."""
    blocks: list[Block] = [Heading(said.heading(found), 1), Paragraph(f"Library: {found.library}.", "quiet")]
    if found.conflict is not None:
        blocks.append(Paragraph("This brief cannot be met, whatever the bound.", "bad"))
        blocks += conflict_blocks(found.conflict, f"{found.brief.library.currency}/kg")
        return blocks + _end(found)
    blocks.append(Paragraph(said.asked(found)))
    if found.status == "stopped" or any(curve.stretches for curve in found.curves):
        blocks.append(Paragraph(said.proof(found), "caution" if found.status == "stopped" else "plain"))
    if any(curve.stretches and curve.loosest != curve.tightest for curve in found.curves):
        blocks.append(Source(plot(found)) if picture is None else picture())
    for curve in found.curves:
        if curve.third is not None:
            blocks.append(Heading(said.limit(curve)))
        blocks.append(Bullets(said.findings(found, curve)))
        blocks += [Contents()] if curve.third is None else []
        if curve.stretches and curve.loosest == curve.tightest:
            blocks += _formulas(found, curve)
        elif curve.stretches:
            blocks += _tables(found, curve, everything=everything)
    return blocks + _end(found)


def _end(found: TradeOff) -> list[Block]:
    return [*bullets("Notes", found.notes), *bullets("Cautions", found.cautions, "caution")]


def _tables(found: TradeOff, curve: Curve, *, everything: bool) -> list[Block]:
    columns = (
        Column(said.SIDES[found.side], "decimal", head=True),
        Column(found.of, "decimal"),
        Column(said.price_title(found), "decimal"),
        Column(""),
    )
    rows = _apart(_every_row(found, curve)) if everything else _chosen_rows(found, curve)
    units = f"{said.named(found.against, found.against_unit)}, {said.named(found.of, found.of_unit)}"
    title = "The curve at every point" if everything else "The curve at chosen bounds"
    level = 2 if curve.third is None else 3
    blocks: list[Block] = [Heading(f"The curve: {units}", level), Table(title, columns, tuple(rows))]
    changes = [stretch for stretch in curve.stretches if stretch.change or stretch.jump > 0]
    if changes:
        blocks += [Heading("Where the materials change", 3), *_changes(found, changes)]
    return [*blocks, *_formulas(found, curve)]


def _chosen_rows(found: TradeOff, curve: Curve) -> Iterator[Row]:
    for bound in round_bounds(found, curve):
        shown = said.bound(found, bound, unit=False)
        after = _after(curve, bound)
        jump = after.jump if after is not None and after.start.bound == bound else 0.0
        yield (
            shown,
            said.value(found, curve.at(bound), unit=False),
            _step_price(found, after, jump),
            _remarks(after, jump, _marks(curve, _reading_as(found, shown))),
        )


def _reading_as(found: TradeOff, shown: str) -> Callable[[float], bool]:
    """Return a test of whether a bound reads the same on the screen."""
    return lambda bound: said.bound(found, bound, unit=False) == shown


def _every_row(found: TradeOff, curve: Curve) -> Iterator[Row]:
    """Yield every point in digits that tell neighbours apart; at a jump, both values."""
    digits = said.digits_apart(found, [knot.bound for knot in curve.knots])

    def row(knot: Knot, price: str, marks: str) -> Row:
        return (
            fixed(knot.bound, digits),
            fixed(knot.value, digits_of(found.of_unit, found.of_digits + 2)),
            price,
            marks,
        )

    def marked(knot: Knot, after: Stretch | None, jump: float) -> Row:
        marks = _marks(curve, lambda other: other == knot.bound)
        return row(knot, _step_price(found, after, jump), _remarks(after, jump, marks))

    first, last = curve.stretches[0], curve.stretches[-1]
    if first.width > 0:
        yield marked(first.start, first, 0.0)
    for before, after in itertools.pairwise(curve.stretches):
        yield marked(before.end, after, after.jump)
        if after.jump > 0:
            yield row(after.start, _step_price(found, after, 0.0), "")
    yield marked(last.end, None, 0.0)


def _apart(rows: Iterable[Row]) -> Iterator[Row]:
    """Yield the rows whose bound and value read differently from those before."""
    before: Row = ()
    for row in rows:
        if row[:2] != before[:2]:
            yield row
        before = row


def _step_price(found: TradeOff, after: Stretch | None, jump: float) -> str:
    """Return the price of a tighter bound: of a jump, or per unit; empty where there is no tighter one."""
    if after is None:
        return NOTHING
    return said.price(jump if jump > 0 else said.step_price(found, after))


def _remarks(after: Stretch | None, jump: float, marks: str) -> str:
    """Return the remarks at a bound, and whether its price is a jump."""
    return ", ".join(filter(None, (marks, "at once" if after is not None and jump > 0 else "")))


def _marks(curve: Curve, here: Callable[[float], bool]) -> str:
    """Return the remarks at a bound."""
    named = [("the knee" if knee.main else "a knee", knee.bound) for knee in curve.knees]
    if curve.here is not None:
        named.append(("the brief", curve.here.bound))
    named += [("the loosest", curve.loosest), ("the furthest", curve.tightest)]
    return ", ".join(name for name, place in named if here(place))


def _after(curve: Curve, bound: float) -> Stretch | None:
    """Return the stretch that a tighter bound leads into."""
    sign = 1.0 if curve.tightest >= curve.loosest else -1.0
    for stretch in curve.stretches:
        if sign * (stretch.end.bound - bound) > ROUNDING * max(1.0, abs(bound)):
            return stretch
    return None


def _changes(found: TradeOff, changes: Sequence[Stretch]) -> Iterator[Block]:
    columns = (
        Column("beyond", "decimal", head=True),
        Column(""),
        Column("comes in"),
        Column("goes out"),
        Column("at once", "decimal", sheds=1),
    )
    digits = said.digits_apart(found, [stretch.start.bound for stretch in changes])
    rows = tuple(
        (
            fixed(stretch.start.bound, digits),
            STRUCTURE if stretch.change == "structure" else "",
            ", ".join(stretch.entered) or "-",
            ", ".join(stretch.left) or "-",
            said.price(stretch.jump) if stretch.jump > 0 else "",
        )
        for stretch in changes
    )
    yield Table("Where the materials change", columns, rows)
    if any(stretch.change == "structure" for stretch in changes):
        yield Paragraph(f"{STRUCTURE} {said.structure(found)}", "quiet")


def _formulas(found: TradeOff, curve: Curve) -> list[Block]:
    """Return the formulas at the ends and at the knees, side by side."""
    wanted = {knee.bound for knee in curve.knees}
    knots = [curve.stretches[0].start, *(s.end for s in curve.stretches[:-1] if s.end.bound in wanted)]
    knots = list(dict.fromkeys([*knots, curve.stretches[-1].end]))
    held = [dict(knot.lines) for knot in knots]
    names = dict.fromkeys(name for lines in held for name in lines)
    columns = (
        Column("material", head=True),
        *(Column(said.bound(found, knot.bound, unit=False), "decimal") for knot in knots),
    )
    rows = [(name, *(percent(lines[name]) if name in lines else "" for lines in held)) for name in names]
    heading = f"Formulas [% w/w] at {found.against} {said.SIDES[found.side]}"
    return [Heading(heading, 3), Table("Formulas at the ends and the knees", columns, tuple(rows))]


def rows(found: TradeOff) -> Rows:
    """Return both ends of every stretch, with every digit."""
    columns = (
        "curve", "third", "third_bound", "stretch", "bound", "value", "reached", "price", "bracket", "jump",
        "change", "structure", "materials",
    )  # fmt: skip
    return columns, [
        (
            place,
            *(("", None) if curve.third is None else (curve.third.measure, curve.third.bound)),
            number,
            knot.bound,
            knot.value,
            knot.reached,
            stretch.price,
            stretch.bracket,
            stretch.jump if knot is stretch.start else 0.0,
            stretch.change,
            " | ".join(stretch.structure),
            " | ".join(f"{name} {amount!r}" for name, amount in knot.lines),
        )
        for place, curve in enumerate(found.curves, 1)
        for number, stretch in enumerate(curve.stretches, 1)
        for knot in (stretch.start, stretch.end)
    ]


def plot(found: TradeOff) -> str:
    """Return the curves drawn with characters, tightest bound to the right."""
    curves = [curve for curve in found.curves if curve.stretches]
    left, right = drawn_part(curves)
    columns = [_column(curve, left, right) for curve in curves]
    values = [value for column in columns for value in column if value is not None]
    low, high = min(values), max(values)
    labels = {0: said.value(found, high, unit=False), PLOT_HEIGHT - 1: said.value(found, low, unit=False)}
    margin = max(map(len, labels.values()))
    lines = [said.named(found.of, found.of_unit)]
    for row, cells in enumerate(_cells(columns, low, high)):
        lines.append(f"{labels.get(row, ''):>{margin}} |{cells}".rstrip())
    lines.append(f"{'':>{margin}} +{'-' * PLOT_WIDTH}")
    start, end = (said.bound(found, end, unit=False) for end in (left, right))
    middle = f"{found.against} {said.SIDES[found.side]}"
    gap = PLOT_WIDTH - len(start) - len(end)
    lines.append(f"{'':>{margin}}  {start}{middle[: max(gap - 2, 0)]:^{gap}}{end}")
    if len(curves) > 1:
        lines += [f"{MARKS[k % len(MARKS)]} {said.limit(curve)}" for k, curve in enumerate(curves)]
    return "\n".join(lines) + "\n"


def _column(curve: Curve, left: float, right: float) -> list[float | None]:
    """Return the value at each column of the plot; None beyond the reach of the curve."""
    inner = [left + (right - left) * place / (PLOT_WIDTH - 1) for place in range(PLOT_WIDTH - 1)]
    return [curve.at(bound) for bound in (*inner, right)]


def _cells(columns: Sequence[Sequence[float | None]], low: float, high: float) -> list[str]:
    """Return the rows of a plot; where curves lie on each other, their marks take turns."""
    rows = [[" "] * PLOT_WIDTH for _ in range(PLOT_HEIGHT)]
    for place in range(PLOT_WIDTH):
        at: dict[int, list[str]] = {}
        for number, column in enumerate(columns):
            value = column[place]
            if value is not None:
                share = 0.5 if high == low else (value - low) / (high - low)
                row = PLOT_HEIGHT - 1 - round(share * (PLOT_HEIGHT - 1))
                at.setdefault(row, []).append(MARKS[number % len(MARKS)])
        for row, marks in at.items():
            rows[row][place] = marks[place % len(marks)]
    return ["".join(row) for row in rows]
