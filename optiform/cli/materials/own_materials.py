"""Commands that bring one's own raw materials, prices and shelf to a library."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from optiform.cli import completing
from optiform.cli.app import library_app
from optiform.cli.materials.library import show_material
from optiform.cli.options import ForceOption, FormatOption, LibraryOption, OutOption
from optiform.faults import BadInput, Fault, nearest
from optiform.views.forms import Result
from optiform.views.output import Format, Output, note, show

if TYPE_CHECKING:
    from optiform.library import Library


@library_app.command("add")
def library_add(
    material: Annotated[
        str, typer.Argument(metavar="ID", help="Id of the new material: lower case, digits, dashes.")
    ],
    library: Annotated[
        Path,
        typer.Option(
            "--library",
            metavar="DIR",
            help="Your library's folder; a new one begins as a copy of the starter.",
        ),
    ],
    name: Annotated[str | None, typer.Option(metavar="TEXT", help="Its generic name.")] = None,
    function: Annotated[
        str | None,
        typer.Option(
            metavar="F", help="surfactant, thickener, acid ...", autocompletion=completing.functions
        ),
    ] = None,
    price: Annotated[float | None, typer.Option(metavar="P", help="Price per kg as supplied.")] = None,
    content: Annotated[
        list[str] | None,
        typer.Option(
            metavar="INCI=P", help="A substance: INCI=percent[:low:high]; repeatable; the rest is water."
        ),
    ] = None,
    new: Annotated[
        list[str] | None,
        typer.Option(
            metavar="INCI:CLASS", help="A substance new to the library: INCI: class[, mildness=60]."
        ),
    ] = None,
    salt: Annotated[
        float | None, typer.Option(metavar="P", help="Sodium chloride from its making, percent.")
    ] = None,
    neutral: Annotated[
        bool, typer.Option("--neutral", help="Declare that it takes up no acid and no base.")
    ] = False,
    pH_10: Annotated[
        str | None,
        typer.Option("--ph-10", metavar="PH", help="pH of 10 % in water: one reading, or LOW:HIGH as sold."),
    ] = None,
    titration: Annotated[
        Path | None, typer.Option(metavar="CSV", help="Its measured curve: pH,acid_mmol_per_kg.")
    ] = None,
    tag: Annotated[
        list[str] | None,
        typer.Option(metavar="T", help="A tag beside those its INCI names tell; repeatable."),
    ] = None,
    preserves: Annotated[
        str | None, typer.Option(metavar="LOW:HIGH", help="It preserves by itself at this dose, % w/w.")
    ] = None,
    preserves_pH: Annotated[
        str | None, typer.Option("--preserves-ph", metavar="LOW:HIGH", help="At this pH; or any.")
    ] = None,
    source: Annotated[str, typer.Option(metavar="TEXT", help="Who says so: sheet, supplier, date.")] = "",
    column: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="COLUMN=VALUE", help="Any further column; repeatable."),
    ] = None,
    specification: Annotated[
        Path | None,
        typer.Option("--from", metavar="FILE", help="A TOML file with these keys, and new_substances."),
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Check and show it; write nothing.")] = False,
) -> None:
    """Add a raw material of your own from its supplier's sheet.

    \b
    Example:
      optiform library add quay-betaine --library my-library \\
        --name "Quay betaine, 30 %" --function surfactant --price 3.2 \\
        --content "Cocamidopropyl Betaine=30" --salt 5.5 --ph-10 4.5:5.5

    On a terminal it asks for what no option says. Everything is checked against what is there before a row is
    written.
    """
    from optiform.cli.materials.asking import ask_for_sheet, on_terminal

    held, is_new = _own_library(library)
    given: dict[str, Any] = {
        "id": material, "name": name, "function": function, "price": price, "salt": salt, "content": content or [],
        "new": new or [], "neutral": neutral, "pH_10": pH_10, "titration": titration, "tag": tag or [],
        "preserves": preserves, "preserves_pH": preserves_pH, "source": source, "column": column or [],
        "specification": specification,
    }  # fmt: skip
    if specification is None and on_terminal():
        ask_for_sheet(given, held)
    _add(given, held, library, is_new=is_new, dry_run=dry_run)


def _add(given: dict[str, Any], held: Library, folder: Path, *, is_new: bool, dry_run: bool) -> None:
    """Write what a sheet says to a library's folder, which is made first where it is new, and show it."""
    from optiform.answers.library.own_material import own_material, typed_sheet
    from optiform.library.adding import copy_starter, joined, write_rows

    keys, stated = typed_sheet(given, held)
    found = own_material(held, keys, neutral=given["neutral"], pH_10=stated)
    if is_new and not dry_run:
        copy_starter(folder)
        note(f"{folder} is new: a copy of the starter library, whose other prices are invented.")
    files = () if is_new and dry_run else write_rows(folder, found.added, dry_run=dry_run)
    show_material(Output(), joined(held, found.added), given["id"])
    for line in found.notes:
        note(line)
    where = ", ".join(map(str, files)) or str(folder)
    note(f"Nothing was written; it would be added to {where}." if dry_run else f"Added to {where}.")


def _own_library(folder: Path) -> tuple[Library, bool]:
    """Return the library to add to, and whether its folder is still to be made as a copy of the starter library."""
    from optiform.library import load_library

    if folder.exists():
        return load_library(folder), False
    beside = (
        [path.name for path in folder.parent.iterdir() if path.is_dir()] if folder.parent.is_dir() else []
    )
    near = nearest(
        folder.name, [name for name in beside if (folder.parent / name / "library.toml").exists()], 0.8
    )
    if near:
        message = "there is no such library"
        raise BadInput([Fault(str(folder), "--library", message, "a library, or a name unlike others", near)])
    return load_library(), True


@library_app.command("match")
def library_match(
    prices: Annotated[
        Path,
        typer.Argument(metavar="LIST", help="A price list or a shelf: a name or INCI, a price or a stock."),
    ],
    library: LibraryOption = None,
    certain: Annotated[
        bool, typer.Option("--yes", help="Write ids and figures of what is certain, as --prices reads them.")
    ] = False,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Match a price list or a shelf by name or INCI.

    \b
    Examples:
      optiform library match new.csv --format csv --out matches.csv
      optiform library match matches.csv --yes --out by-id.csv

    A name that could be two materials, or none, is asked about: fill in the column material of matches.csv.
    """
    from optiform.library import load_library
    from optiform.library.typed.matched_list import match_list
    from optiform.views.results.materials import match

    output, held = Output(Format.CSV if certain else form, out, force), load_library(library)
    found = match_list(prices, held)
    rows = partial(match.certain_rows, found) if certain else partial(match.form_rows, found, held)
    blocks, value = partial(match.match_blocks, found, held), {"library": held.name, **vars(found)}
    show(output, Result("A list, matched", blocks, "library match", value, rows))
    for row in found.rows if certain else ():
        if not row.material:
            note(f"Left out, row {row.row}: '{row.typed}' {row.why}.")
