"""Commands from a formula to the bench, the label, the price and the purchase."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import Annotated, TypeVar, get_args

import typer

from optiform.cli import completing
from optiform.cli.app import STOPPED, app
from optiform.cli.options import (
    ForceOption,
    FormatOption,
    FormulaArgument,
    FullOption,
    LibraryOption,
    OutOption,
    RankOption,
    SecondsOption,
)
from optiform.faults import BadInput, Fault, Faults
from optiform.views.forms import result_of, shopping_result
from optiform.views.output import Format, Output, deliver, note, show

Read = TypeVar("Read")


class PartName(StrEnum):
    """The parts of a sheet."""

    ALL = "all"
    CARD = "card"
    BATCH = "batch"
    LABEL = "label"
    COST = "cost"
    SHOPPING = "shopping"


WorkbookOption = Annotated[
    Path | None,
    typer.Option("--xlsx", metavar="FILE", help="Also write a workbook, its grams live with the batch size."),
]


@app.command()
def sheet(
    formula: FormulaArgument,
    batch: Annotated[str, typer.Option(metavar="MASS", help="Size of the batch, such as 2kg or 500g.")],
    brief: Annotated[
        Path | None,
        typer.Option(
            "--brief",
            metavar="BRIEF",
            help="Its targets, law and balance count.",
            autocompletion=completing.briefs,
        ),
    ] = None,
    balance: Annotated[
        str | None,
        typer.Option(metavar="MASS", help="The step that the balance shows; absent: the brief's, or 0.01g."),
    ] = None,
    unit: Annotated[
        Path | None, typer.Option(metavar="TOML", help="What one sold unit holds and costs besides.")
    ] = None,
    part: Annotated[
        PartName, typer.Option(help="One part only; card is the batch on one page for the bench.")
    ] = PartName.ALL,
    full: FullOption = False,
    rank: RankOption = None,
    xlsx: WorkbookOption = None,
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Write batch record, label, unit cost and shopping list.

    \b
    Example:
      optiform sheet today.csv --batch 2kg

    The formula must add up to 100 %. A unit file has one table, [unit]; docs/how-to/make-label-cost-buy.md shows it.
    """
    from optiform import sheets
    from optiform.brief import load_brief
    from optiform.library import load_library
    from optiform.library.typed.masses import read_balance, read_mass
    from optiform.sheets.sheet import SheetPart

    output, book = Output(form, out, force), Output(Format.TEXT, xlsx, force, "--xlsx")
    if brief is not None and library is not None:
        allowed = "--brief or --library, not both"
        raise BadInput([Fault("", "--library", "a brief names its own library", allowed)])
    faults = Faults()
    grams = _read(lambda: read_mass(batch, "--batch"), faults)
    step = _read(lambda: read_balance(balance), faults) if balance is not None else None
    sold = _read(lambda: sheets.load_unit(unit), faults) if unit is not None else None
    asked = _read(lambda: load_brief(brief), faults) if brief is not None else None
    held = asked.library if asked is not None else None
    if brief is None:
        held = _read(lambda: load_library(library), faults)
    typed = (
        _read(lambda: sheets.read_weighable_formula(formula, held, rank, grams), faults)
        if held is not None
        else None
    )
    faults.raise_if_any()
    assert held is not None and typed is not None and grams is not None
    made = sheets.make_sheet(
        typed,
        held,
        grams,
        brief=asked,
        balance_g=step,
        unit=sold,
        unit_file=str(unit or ""),
        parts=sheets.PARTS
        if part is PartName.ALL
        else [name for name in get_args(SheetPart) if name == part],
    )
    show(output, result_of(made, typed=typed), full=full)
    _beside(form, (*(f"Broken by this formula: {told}" for told in made.breaks), *made.cautions))
    if xlsx is not None:
        from optiform.views.data.sheet_xlsx import workbook

        write_book(book, workbook(made))


@app.command()
def shop(
    plan: Annotated[
        Path,
        typer.Argument(
            metavar="PLAN",
            help="A plan, a TOML file.",
            show_default=False,
            autocompletion=completing.briefs,
        ),
    ],
    xlsx: WorkbookOption = None,
    library: LibraryOption = None,
    seconds: SecondsOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Find the packs to buy for one or several products.

    \b
    Example:
      optiform shop spring.toml

    Products share materials and stock. A plan has a title and one [[make]] per product, with its formula and batch;
    docs/how-to/make-label-cost-buy.md shows the rest.
    """
    from optiform import sheets
    from optiform.library import load_library
    from optiform.sheets.cautions import cautions_of
    from optiform.solver import Clock, OutOfTime

    output, book = Output(form, out, force), Output(Format.TEXT, xlsx, force, "--xlsx")
    read = sheets.load_plan(plan, load_library(library) if library is not None else None)
    try:
        found = read.shopping(Clock.of(seconds))
    except OutOfTime:
        note(
            "The time ran out before any purchase was found that fills the least orders: allow more seconds."
        )
        raise typer.Exit(STOPPED) from None
    cautions = cautions_of((line.material for line in found.lines), read.library)
    show(output, shopping_result(found, cautions))
    _beside(form, cautions)
    if xlsx is not None:
        from optiform.views.data.sheet_xlsx import shopping_workbook

        write_book(book, shopping_workbook(found, cautions))
    if found.gap:
        raise typer.Exit(STOPPED)


def _read(reader: Callable[[], Read], faults: Faults) -> Read | None:
    """Return what a reader reads, or None after noting its faults beside those of the others."""
    with faults.gathering():
        return reader()
    return None


def _beside(form: Format, warnings: tuple[str, ...]) -> None:
    """Say the warnings beside a table, which has no place for them."""
    if form is Format.CSV:
        for warning in warnings:
            note(warning)


def write_book(book: Output, content: bytes) -> None:
    """Write a workbook, and say so."""
    deliver(book, content)
    note(f"Wrote {book.file}.")
