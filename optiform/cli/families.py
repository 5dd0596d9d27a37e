"""The command that designs several products together on one shelf."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optiform import stopping
from optiform.cli import completing
from optiform.cli.app import STOPPED, app
from optiform.cli.options import ForceOption, FormatOption, FullOption, OutOption, SecondsOption
from optiform.cli.sheets import WorkbookOption, write_book
from optiform.cli.solving import STOPPED_EARLY, solving
from optiform.faults import BadInput, Fault
from optiform.views.forms import result_of
from optiform.views.output import Format, Output, note, progress, show

if TYPE_CHECKING:
    from optiform.brief import Brief
    from optiform.families import Family

CANNOT = 3


class PartName(StrEnum):
    """The parts of a family: what was found, or the batch records to make it by."""

    ALL = "all"
    BATCH = "batch"


class Goal(StrEnum):
    """The money that one product is designed to buy for."""

    CASH = "cash"
    CONSUMED = "consumed"


@app.command()
def family(
    plan: Annotated[
        Path,
        typer.Argument(
            metavar="PLAN",
            help="A family plan, a TOML file.",
            show_default=False,
            autocompletion=completing.briefs,
        ),
    ],
    curve: Annotated[
        bool, typer.Option("--curve", help="Also the least money for each number of materials; takes longer.")
    ] = False,
    part: Annotated[
        PartName, typer.Option(help="batch: the batch records of the shared base and of each product.")
    ] = PartName.ALL,
    balance: Annotated[
        str | None,
        typer.Option(metavar="MASS", help="The step that the balance shows; absent: the briefs', or 0.01g."),
    ] = None,
    full: FullOption = False,
    xlsx: WorkbookOption = None,
    seconds: SecondsOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Design several products together on one short shelf.

    \b
    Example:
      optiform family washes.toml
      optiform family washes.toml --part batch --format html --out records.html

    A plan has a title and one [[product]] each, with its brief and batch; docs/how-to/share-one-shelf.md shows the
    rest. Ctrl-C ends the search with the best so far. Exit code 3: no family can be made. 4: stopped, with the best
    so far.
    """
    from optiform.families import load_family
    from optiform.families.plan_questions import ask_family
    from optiform.library.typed.masses import read_balance

    output, book = Output(form, out, force), Output(Format.TEXT, xlsx, force, "--xlsx")
    if balance is not None and part is not PartName.BATCH:
        raise BadInput([Fault("", "--balance", "only batch records are weighed", "with --part batch")])
    step = None if balance is None else read_balance(balance)
    read = load_family(plan)
    with solving():
        found = ask_family(read, seconds=seconds, whole_curve=curve, progress=progress())
    if part is PartName.BATCH and found.products:
        raise typer.Exit(_recorded(output, book, found, step))
    raise typer.Exit(shown(output, book, found, full=full or curve))


def to_buy_for(
    output: Output, brief: Brief, grams: float, goal: Goal, seconds: float | None, *, full: bool
) -> int:
    """Design one product as a family of its own, show it, and return the exit code that goes with it."""
    from optiform.families.plan_questions import ask_family, plan_of

    with solving():
        found = ask_family(plan_of(brief, grams, goal.value), seconds=seconds, progress=progress())
    return shown(output, Output(), found, full=full)


def _recorded(output: Output, book: Output, found: Family, balance_g: float | None) -> int:
    """Write the batch records of a family, and return the exit code that goes with it."""
    from optiform.families.plan_questions import making_of
    from optiform.views.words.sentences import SHORT_CAUTION

    made = making_of(found, balance_g)
    show(output, result_of(made))
    if output.format is Format.CSV:
        note(SHORT_CAUTION)
        for sheet in made.sheets:
            for told in sheet.breaks:
                note(f"Broken by {sheet.title}: {told}")
    if book.file is not None:
        from optiform.views.data.sheet_xlsx import records_workbook

        write_book(book, records_workbook(made.sheets))
    return STOPPED if found.status == "stopped" or stopping.interrupted() else 0


def shown(output: Output, book: Output, found: Family, *, full: bool) -> int:
    """Write a family in every form that was asked for, and return the exit code that goes with it."""
    from optiform.views.words.sentences import SHORT_CAUTION

    if stopping.interrupted():
        note(f"{stopping.so_far()} {STOPPED_EARLY}")
    show(output, result_of(found), full=full)
    if output.format is Format.CSV:
        note(SHORT_CAUTION)
    if book.file is not None:
        from optiform.views.data.family_xlsx import family_workbook

        write_book(book, family_workbook(found))
    if found.status == "conflict":
        return CANNOT
    return STOPPED if found.status == "stopped" or stopping.interrupted() else 0
