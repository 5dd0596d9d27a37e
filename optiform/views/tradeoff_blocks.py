"""A trade-off told in blocks: what stands out, a small plot, a table, and where the materials change."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from optiform.views import drawing
from optiform.views import tradeoff_words as said
from optiform.views.blocks import Block, Bullets, Column, Drawn, Heading, Paragraph, Source, Table
from optiform.views.conflict_blocks import conflict_blocks
from optiform.views.numbers import percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optiform.answers.tradeoff import Curve, Stretch, TradeOff

ROWS = 12
PLOT_WIDTH, PLOT_HEIGHT = 60, 14
MARKS = "*o+x#@%&"


def tradeoff_blocks(found: TradeOff, *, everything: bool = False, drawn: bool = False) -> list[Block]:
    """Return a trade-off as blocks.

    Parameters
    ----------
    found : TradeOff
    everything : bool
        Every knot of the curve, not only round bounds.
    drawn : bool
        With the picture, where the library that draws is installed; else with a plot of characters.
    """
    blocks: list[Block] = [Heading(said.heading(found), 1), Paragraph(f"Library: {found.library}.", "quiet")]
    if found.conflict is not None:
        blocks.append(Paragraph("This brief cannot be met, whatever the bound.", "bad"))
        blocks += conflict_blocks(found.conflict, f"{found.brief.library.currency}/kg")
        return blocks + _end(found)
    blocks += [
        Paragraph(said.asked(found)),
        Paragraph(said.proof(found), "caution" if found.status == "stopped" else "plain"),
    ]
    if any(curve.stretches for curve in found.curves):
        blocks.append(_picture(found) if drawn and drawing.available() else Source(plot(found)))
    for curve in found.curves:
        if curve.third is not None:
            blocks.append(Heading(said.limit(curve)))
        blocks.append(Bullets(said.findings(found, curve)))
        if curve.stretches:
            blocks += _tables(found, curve, everything=everything)
    return blocks + _end(found)


def _picture(found: TradeOff) -> Drawn:
    from optiform.views.tradeoff_picture import tradeoff_drawing

    return Drawn(tradeoff_drawing(found))


def _end(found: TradeOff) -> list[Block]:
    notes: list[Block] = [Heading("Notes"), Bullets(found.notes)] if found.notes else []
    return [*notes, Heading("Cautions"), Bullets(found.cautions, tone="caution")]


def _tables(found: TradeOff, curve: Curve, *, everything: bool) -> list[Block]:
    bounds = [knot.bound for knot in curve.knots] if everything else round_bounds(found, curve)
    columns = (
        Column(said.SIDES[found.side], "decimal", head=True),
        Column(found.of, "decimal"),
        Column(f"price per {said.one(found)}", "decimal"),
        Column(""),
    )
    rows = tuple(_row(found, curve, bound) for bound in bounds)
    units = f"{said.named(found.against, found.against_unit)}, {said.named(found.of, found.of_unit)}"
    blocks: list[Block] = [
        Heading(f"The curve: {units}", 3),
        Table("The curve at chosen bounds", columns, rows),
    ]
    changes = [stretch for stretch in curve.stretches if stretch.change or stretch.jump > 0]
    if changes:
        blocks += [Heading("Where the materials change", 3), _changes(found, changes)]
    return [*blocks, *_formulas(found, curve)]


def round_bounds(found: TradeOff, curve: Curve) -> list[float]:
    """Return round bounds over the reach, with its ends, the knees and the brief's own bound among them."""
    first, last = curve.stretches[0].start.bound, curve.stretches[-1].end.bound
    low, high = sorted((first, last))
    if found.against == "ingredients":
        chosen = {
            float(n)
            for n in range(math.ceil(low - 1e-9), min(math.floor(high + 1e-9), math.ceil(low) + 15) + 1)
        }
    else:
        step = _step((high - low) / (ROWS - 2)) if high > low else 1.0
        chosen = {round(k * step, 9) for k in range(math.ceil(low / step), math.floor(high / step) + 1)}
        chosen |= {first, last}
    chosen |= {knee.bound for knee in curve.knees}
    if curve.here is not None and low <= curve.here.bound <= high:
        chosen.add(curve.here.bound)
    ordered: list[float] = []
    for bound in sorted(chosen, reverse=first > last):
        if not ordered or said.bound(found, bound) != said.bound(found, ordered[-1]):
            ordered.append(bound)
    return ordered


def _step(least: float) -> float:
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * times for times in (1.0, 2.0, 5.0, 10.0) if power * times >= least - 1e-12)


def _row(found: TradeOff, curve: Curve, bound: float) -> tuple[str, ...]:
    words = [("the knee" if knee.main else "a knee") for knee in curve.knees if knee.bound == bound]
    if curve.here is not None and curve.here.bound == bound:
        words.append("the brief")
    if bound == curve.stretches[0].start.bound:
        words.append("the loosest")
    if bound == curve.stretches[-1].end.bound:
        words.append("the furthest")
    after = _after(curve, bound)
    cost = said.price(after.price) if after is not None else "not possible"
    if after is not None and after.jump > 0 and after.start.bound == bound:
        cost = f"{said.value(found, after.jump, unit=False)} at once"
    return (
        said.bound(found, bound, unit=False),
        said.value(found, curve.at(bound), unit=False),
        cost,
        ", ".join(words),
    )


def _after(curve: Curve, bound: float) -> Stretch | None:
    """Return the stretch that a tighter bound leads into."""
    sign = 1.0 if curve.stretches[-1].end.bound >= curve.stretches[0].start.bound else -1.0
    for stretch in curve.stretches:
        if sign * (stretch.end.bound - bound) > 1e-9 * max(1.0, abs(bound)):
            return stretch
    return None


def _changes(found: TradeOff, changes: Sequence[Stretch]) -> Table:
    columns = (
        Column("beyond", "decimal", head=True),
        Column("comes in"),
        Column("goes out"),
        Column("at once", "decimal", sheds=1),
    )
    rows = tuple(
        (
            said.bound(found, stretch.start.bound, unit=False),
            ", ".join(stretch.entered) or "-",
            ", ".join(stretch.left) or "-",
            said.price(stretch.jump) if stretch.jump > 0 else "",
        )
        for stretch in changes
    )
    return Table("Where the materials change", columns, rows)


def _formulas(found: TradeOff, curve: Curve) -> list[Block]:
    """Return the formulas at the ends and at the knees, side by side."""
    wanted = {knee.bound for knee in curve.knees}
    knots = [curve.stretches[0].start, *(s.end for s in curve.stretches[:-1] if s.end.bound in wanted)]
    knots.append(curve.stretches[-1].end)
    held = [dict(knot.lines) for knot in knots]
    names = dict.fromkeys(name for lines in held for name in lines)
    columns = (
        Column("material", head=True),
        *(Column(said.bound(found, knot.bound, unit=False), "decimal") for knot in knots),
    )
    rows = [(name, *(percent(lines[name]) if name in lines else "" for lines in held)) for name in names]
    heading = f"Formulas [% w/w] at {found.against} {said.SIDES[found.side]}"
    return [Heading(heading, 3), Table("Formulas at the ends and the knees", columns, tuple(rows))]


def plot(found: TradeOff) -> str:
    """Return the curves drawn with characters, tightest bound to the right."""
    curves = [curve for curve in found.curves if curve.stretches]
    ends = [(c.stretches[0].start.bound, c.stretches[-1].end.bound) for c in curves]
    left = (min if ends[0][1] >= ends[0][0] else max)(a for a, _ in ends)
    right = (max if ends[0][1] >= ends[0][0] else min)(b for _, b in ends)
    values = [knot.value for curve in curves for knot in curve.knots]
    low, high = min(values), max(values)
    grid = [[" "] * PLOT_WIDTH for _ in range(PLOT_HEIGHT)]
    for place, curve in enumerate(curves):
        mark = MARKS[place % len(MARKS)]
        furthest = curve.stretches[-1].end.bound
        for column in range(PLOT_WIDTH):
            bound = left + (right - left) * column / (PLOT_WIDTH - 1)
            beyond = (bound - furthest) * (1 if right >= left else -1) > 1e-9 * max(1.0, abs(furthest))
            value = (
                None if beyond else curve.at(furthest if column == PLOT_WIDTH - 1 and not beyond else bound)
            )
            if value is not None:
                share = 0.5 if high == low else (value - low) / (high - low)
                grid[PLOT_HEIGHT - 1 - round(share * (PLOT_HEIGHT - 1))][column] = mark
    labels = {0: said.value(found, high, unit=False), PLOT_HEIGHT - 1: said.value(found, low, unit=False)}
    margin = max(map(len, labels.values()))
    lines = [said.named(found.of, found.of_unit)]
    lines += [f"{labels.get(row, ''):>{margin}} |{''.join(cells)}".rstrip() for row, cells in enumerate(grid)]
    lines.append(f"{'':>{margin}} +{'-' * PLOT_WIDTH}")
    start, end = (said.bound(found, end, unit=False) for end in (left, right))
    middle = f"{found.against} {said.SIDES[found.side]}"
    gap = PLOT_WIDTH - len(start) - len(end)
    lines.append(f"{'':>{margin}}  {start}{middle[: max(gap - 2, 0)]:^{gap}}{end}")
    if len(curves) > 1:
        lines += [f"{MARKS[k % len(MARKS)]} {said.limit(curve)}" for k, curve in enumerate(curves)]
    return "\n".join(lines) + "\n"
