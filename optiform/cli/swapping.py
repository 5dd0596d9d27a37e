"""The command that puts one material in the place of another."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from typing import Annotated

import typer

from optiform.cli import completing
from optiform.cli.app import app
from optiform.cli.changing import library_and_brief
from optiform.cli.options import (
    BriefOption,
    ForceOption,
    FormatOption,
    FormulaArgument,
    LibraryOption,
    OutOption,
    RankOption,
)
from optiform.views.forms import result_of
from optiform.views.output import Format, Output, note, show


@app.command()
def swap(
    formula: FormulaArgument,
    old: Annotated[
        str,
        typer.Argument(metavar="OLD", help="The material that goes.", autocompletion=completing.materials),
    ],
    new: Annotated[
        str,
        typer.Argument(
            metavar="NEW",
            help="The material that takes its place.",
            autocompletion=completing.materials,
        ),
    ],
    substance: Annotated[
        str | None,
        typer.Option(metavar="INCI", help="What stands in the same amount; absent: what both are."),
    ] = None,
    brief: BriefOption = None,
    rank: RankOption = None,
    library: LibraryOption = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Put another grade of one substance into a formula.

    \b
    Example:
      optiform swap today.csv cocamidopropyl-betaine-38 cocamidopropyl-betaine-30

    Its amount follows from the two strengths, the acid or base keeps the pH, water takes the difference, and all
    else stays. Told is only what changes. --format csv writes the new formula.
    """
    from optiform import answers
    from optiform.library.formulas import read_formula
    from optiform.views.words import sentences

    output = Output(form, out, force)
    held, asked = library_and_brief(brief, library)
    typed = read_formula(formula, held, rank)
    found = answers.swap(typed, held, old, new, substance=substance, brief=asked)
    show(output, result_of(found))
    if output.format is Format.CSV:
        note(sentences.SHORT_CAUTION)
