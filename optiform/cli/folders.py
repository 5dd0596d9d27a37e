"""Commands about a whole folder of work: new prices for all of it, and its pages."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

import os
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from optiform import stopping
from optiform.cli import completing
from optiform.cli.app import BAD_INPUT, OURS, app
from optiform.cli.options import ForceOption, FormatOption, LibraryOption, OutOption
from optiform.faults import BadInput, Fault
from optiform.views.forms import Result
from optiform.views.output import Format, Output, deliver, end_progress, note, progress, show


@app.command()
def recost(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Briefs (.toml), formulas (.csv, .xlsx).")],
    prices: Annotated[Path, typer.Option("--prices", metavar="CSV", help="New prices: material,price.")],
    library: LibraryOption = None,
    workers: Annotated[
        int, typer.Option("--workers", min=0, max=1024, help="Processes on this machine; 0: one per core.")
    ] = 0,
    scheduler: Annotated[
        str | None, typer.Option("--scheduler", metavar="ADDRESS", help="A Dask scheduler, instead.")
    ] = None,
    journal: Annotated[
        Path | None,
        typer.Option("--journal", metavar="FILE", help="Keep results as they come; go on from there."),
    ] = None,
    unit: Annotated[
        Path | None,
        typer.Option(
            metavar="TOML",
            help="What one sold unit holds: the change in each is told.",
            autocompletion=completing.briefs,
        ),
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
    One bad file never stops the rest. A run with a journal that was killed goes on where it was. Exit code 2: some
    files could not be used, the rest is answered.
    """
    from optiform import sheets
    from optiform.answers.recost import recosting
    from optiform.views.results.recost import recost_blocks, rows

    output, told = Output(form, out, force), progress()
    sold = None if unit is None else sheets.grams_for_one(sheets.load_unit(unit), str(unit))
    _apart(output, folder)
    stopping.afterwards(
        "With --journal FILE it could go on where it was."
        if journal is None
        else f"{journal} has what was finished: the same command goes on from there."
    )
    try:
        found = recosting(
            folder,
            prices,
            library=library,
            workers=workers or _cores(),
            scheduler=scheduler,
            journal=journal,
            progress=lambda done, total, name: told(f"{done} of {total}: {name}"),
            unit_g=sold,
        )
    finally:
        end_progress()
    blocks, table = partial(recost_blocks, found), partial(rows, found.products)
    show(output, Result("Products at the new prices", blocks, "recost", found, table))
    outcomes = {result.outcome for result in found.products}
    raise typer.Exit(OURS if "failed" in outcomes else BAD_INPUT if "fault" in outcomes else 0)


@app.command("open")
def open_folder(
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="FOLDER",
            help="The folder of your work; absent: washes. A new one is made once you say yes.",
        ),
    ] = None,
    port: Annotated[int, typer.Option(min=0, max=65535, help="A port of this machine; 0: any.")] = 0,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Whether a browser is opened.")
    ] = True,
) -> None:
    """Show a folder of work as pages in the browser.

    \b
    Example:
      optiform open my-washes

    Briefs as forms, answers, batch records, materials. It prints its address; only this machine can reach it, and only
    with the key in it. Nothing outside the folder is written. Ctrl-C ends it.
    """
    import webbrowser

    from optiform.page.serving import opened

    found = opened(_there(folder if folder is not None else Path("washes")), port)
    deliver(Output(), f"{found.address}\n")
    note("Open this address in a browser. Ctrl-C ends it.")
    if browser:
        webbrowser.open(found.address)
    found.serve()


def _there(folder: Path) -> Path:
    """Return a folder that exists: one that is missing is made where somebody on the terminal says yes."""
    from optiform.cli.materials.asking import STOP, on_terminal, yes
    from optiform.library.files.opening import is_folder

    if is_folder(folder):
        return folder
    if os.path.lexists(folder):
        raise BadInput([Fault(str(folder), "FOLDER", "this is no folder", "a folder, or a new name")])
    if not on_terminal():
        allowed = f"an existing folder; mkdir {folder} makes this one"
        raise BadInput([Fault(str(folder), "FOLDER", "there is no such folder", allowed)])
    if not yes(f"There is no folder {folder} yet. Make it?"):
        note(STOP)
        raise typer.Exit(BAD_INPUT)
    try:
        folder.mkdir(parents=True)
    except OSError as error:
        message = f"cannot be made ({error.strerror or error})"
        raise BadInput([Fault(str(folder), "FOLDER", message, "another place")]) from None
    return folder


def _apart(output: Output, folder: Path) -> None:
    """Refuse to write over a file of the folder: whatever is there may be a product."""
    if output.file is not None and output.file.exists() and folder.resolve() in output.file.resolve().parents:
        message, allowed = "this is among the products", "a new name, or a place outside the folder"
        raise BadInput([Fault(str(output.file), output.option, message, allowed)])


def _cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
