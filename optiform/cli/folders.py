"""Commands that work on many products at once."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from optiform.cli.app import app
from optiform.cli.options import ForceOption, FormatOption, LibraryOption, OutOption
from optiform.views.output import Format, Output, emit, end_progress, progress, told


@app.command()
def recost(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Briefs (.toml) and formulas (.csv).")],
    prices: Annotated[Path, typer.Option("--prices", metavar="CSV", help="New prices: material,price.")],
    library: LibraryOption = None,
    workers: Annotated[
        int, typer.Option("--workers", min=0, help="Processes on this machine; 0: one per core.")
    ] = 0,
    scheduler: Annotated[
        str | None, typer.Option("--scheduler", metavar="ADDRESS", help="A Dask scheduler, instead.")
    ] = None,
    journal: Annotated[
        Path | None,
        typer.Option("--journal", metavar="FILE", help="Keep results as they come; go on from there."),
    ] = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Solve and price the products of a folder at new prices.

    \b
    Example:
      optiform recost products --prices new.csv

    For each product: its cost before, its cost unchanged at the new prices, the best formula now, and what breaks.
    One bad file never stops the rest. A run with a journal that was killed goes on where it was.
    """
    from optiform.answers.recost import recost as run
    from optiform.views import json_document
    from optiform.views.recost_blocks import recost_blocks, recost_table

    output, show = Output(form, out, force), progress()
    told_of = None if show is None else lambda done, total, name: show(f"{done} of {total}: {name}")
    try:
        results = run(
            folder,
            prices,
            library=library,
            workers=workers or os.cpu_count() or 1,
            scheduler=scheduler,
            journal=journal,
            progress=told_of,
        )
    finally:
        end_progress()
    emit(
        output,
        {
            **told(recost_blocks(results), "Products at the new prices", output),
            Format.JSON: lambda: json_document.document("recost", {"products": results}),
            Format.CSV: lambda: recost_table(results),
        },
    )
