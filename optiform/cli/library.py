"""Commands about a library."""

# ruff: noqa: D301  (a lone \b keeps the lines of an example apart in a help text)

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from optiform.cli.app import BAD_INPUT, library_app
from optiform.cli.options import (
    ForceOption,
    FormatOption,
    LibraryArgument,
    LibraryOption,
    OutOption,
    ReadableOption,
)
from optiform.faults import BadInput, Fault, nearest, printable
from optiform.views.forms import Result
from optiform.views.output import Format, Output, Readable, deliver, note, show

if TYPE_CHECKING:
    from optiform.library import Library


@library_app.command("check")
def library_check(
    folder: LibraryArgument = None,
    form: ReadableOption = Readable.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """List everything that is wrong with a library at once.

    \b
    Example:
      optiform library check my-library

    Where nothing is wrong: what it holds, what deserves a second look, where its numbers come from.
    """
    from optiform.answers.library.report import report_on
    from optiform.views.results.library import report_blocks

    output, report = Output(Format(form), out, force), report_on(folder)
    show(output, Result("Library", lambda: report_blocks(report), "library check", report))
    raise typer.Exit(BAD_INPUT if report.faults else 0)


@library_app.command("list")
def library_list(
    folder: LibraryArgument = None,
    function: Annotated[
        str | None, typer.Option(metavar="F", help="Only materials of this function.")
    ] = None,
    tag: Annotated[
        str | None, typer.Option(metavar="T", help="Only materials that have or may have this tag.")
    ] = None,
    form: FormatOption = Format.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """List the materials of a library.

    \b
    Example:
      optiform library list --function surfactant
    """
    from optiform.library import load_library
    from optiform.library.about import chosen
    from optiform.views.results.library import list_blocks, list_table

    output, held = Output(form, out, force), load_library(folder)
    materials = chosen(held, function, tag)
    value = {"library": held.name, "materials": materials}
    blocks, table = partial(list_blocks, held, materials), partial(list_table, materials)
    show(output, Result(held.name, blocks, "library list", value, table))


@library_app.command("show")
def library_show(
    material: Annotated[str, typer.Argument(metavar="MATERIAL", help="The id of a material.")],
    library: LibraryOption = None,
    form: ReadableOption = Readable.TEXT,
    out: OutOption = None,
    force: ForceOption = False,
) -> None:
    """Show one material with all that is known of it.

    \b
    Example:
      optiform library show xanthan-gum

    Composition, use range, the rules that touch it, where its numbers come from, trials and packs.
    """
    from optiform.library import load_library

    output, held = Output(Format(form), out, force), load_library(library)
    if material not in held.material:
        known = {**{item.name: item.id for item in held.materials}, **{item: item for item in held.material}}
        near = known.get(nearest(material, known), "")
        raise BadInput([Fault(held.name, "MATERIAL", f"there is no material '{material}'", nearest=near)])
    _show_material(output, held, material)


def _show_material(output: Output, library: Library, material: str) -> None:
    from optiform.library.about import about
    from optiform.views.results.library import material_blocks

    found = about(library, material)
    value = {"library": library.name, **vars(found)}
    blocks = partial(material_blocks, library, found)
    show(output, Result(found.material.name, blocks, "library show", value))


@library_app.command("copy")
def library_copy(folder: Annotated[Path, typer.Argument(metavar="DIR", help="A new folder.")]) -> None:
    """Copy the starter library into a new folder, to edit it.

    \b
    Example:
      optiform library copy my-library
    """
    from optiform.library.adding import copy_starter

    deliver(Output(), "".join(f"{printable(str(path))}\n" for path in copy_starter(folder)))


@library_app.command("add")
def library_add(
    material: Annotated[
        str, typer.Argument(metavar="ID", help="Id of the new material: lower case, digits, dashes.")
    ],
    library: Annotated[
        Path, typer.Option("--library", metavar="DIR", help="The folder of the library to add to.")
    ],
    name: Annotated[str | None, typer.Option(metavar="TEXT", help="Its generic name.")] = None,
    function: Annotated[str | None, typer.Option(metavar="F", help="surfactant, thickener, acid ...")] = None,
    price: Annotated[float | None, typer.Option(metavar="P", help="Price per kg as supplied.")] = None,
    content: Annotated[
        list[str] | None,
        typer.Option(
            metavar="INCI=P", help="A substance: INCI=percent[:low:high]; repeatable; the rest is water."
        ),
    ] = None,
    salt: Annotated[
        float | None, typer.Option(metavar="P", help="Sodium chloride from its making, percent.")
    ] = None,
    pH_10: Annotated[
        float | None,
        typer.Option("--ph-10", metavar="PH", help="Measured pH of 10 % in water; sets free_alkali."),
    ] = None,
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
    """Add a material from its specification.

    \b
    Example:
      optiform library add soft-betaine --library my-library \\
        --name "Soft betaine, 30 %" --function surfactant --price 3.2 \\
        --content "Cocamidopropyl Betaine=30" --salt 5.5 --ph-10 5.0

    Everything is checked against what is there before a row is written.
    """
    from optiform.library import load_library
    from optiform.library.adding import joined, new_material, write_rows
    from optiform.library.files.typed import typed_specification

    held = load_library(library)
    given = {"id": material, "name": name, "function": function, "price": price, "salt": salt}
    own = [measure.column for measure in held.measures]
    added = new_material(held, typed_specification(given, content or (), column or (), specification, own))
    if pH_10 is not None:
        from optiform.answers.library.free_alkali import measured

        added = measured(held, added, pH_10)
    files = ", ".join(str(path) for path in write_rows(library, added, dry_run=dry_run))
    _show_material(Output(), joined(held, added), material)
    note(f"Nothing was written; it would be added to {files}." if dry_run else f"Added to {files}.")
