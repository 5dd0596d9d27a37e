"""The options and arguments that commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optiform.cli import completing
from optiform.views.output import Format

FormatOption = Annotated[Format, typer.Option("--format", "-f", help="How the result is written.")]
OutOption = Annotated[
    Path | None, typer.Option("--out", "-o", metavar="FILE", help="Write the result to a file instead.")
]
FullOption = Annotated[bool, typer.Option("--full", help="Tell everything, not only what one look needs.")]
ForceOption = Annotated[bool, typer.Option("--force", help="Let --out replace a file that exists.")]
BriefArgument = Annotated[
    Path,
    typer.Argument(
        metavar="BRIEF",
        help="A brief, a TOML file.",
        show_default=False,
        autocompletion=completing.briefs,
    ),
]
LibraryOption = Annotated[
    Path | None,
    typer.Option(
        "--library", metavar="DIR", help="A library's folder or workbook; absent: the starter library."
    ),
]
SecondsOption = Annotated[
    float | None,
    typer.Option("--seconds", metavar="S", min=0.1, help="Stop after so many seconds with the best so far."),
]
LibraryArgument = Annotated[
    Path | None,
    typer.Argument(metavar="DIR", help="A library's folder or workbook; absent: the starter library."),
]
FormulaArgument = Annotated[
    Path,
    typer.Argument(
        metavar="FORMULA",
        help="A CSV or .xlsx: material,percent or material,grams; or an answer as CSV or JSON.",
        show_default=False,
        autocompletion=completing.formulas,
    ),
]
RankOption = Annotated[
    int | None,
    typer.Option(metavar="N", min=1, help="Which formula of an answer; absent: the first."),
]
BatchOption = Annotated[
    str | None, typer.Option(metavar="MASS", help="Size of the batch, such as 2kg or 500g.")
]
BriefOption = Annotated[
    Path | None,
    typer.Option(
        "--brief",
        metavar="BRIEF",
        help="Also hold it against a brief.",
        autocompletion=completing.briefs,
    ),
]
